//! Three published lists, looked for outside the repository; the numbers were counted by hand from the files.
#![allow(clippy::print_stdout, reason = "a test that finds no lists must say so")]

use std::path::PathBuf;
use tare_exchange::{Hints, Proposal, QuantityKind, Source, Verdict, propose, read};

fn list(name: &str) -> Option<Proposal> {
    let folder = std::env::var_os("TARE_LISTS")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/inputs"), PathBuf::from);
    let Ok(bytes) = std::fs::read(folder.join(name)) else {
        println!("note: `{name}` was not found; set TARE_LISTS to the folder that holds it");
        return None;
    };
    let book = read(&Source { name, bytes: &bytes }).expect("the list is readable");
    let p = propose(&book, &Hints::default()).expect("the list is a parts list");
    println!(
        "{name}: {} tables, {} parts, total quantity {}, by table {:?}, by kind {:?}\n  {:?}",
        p.tables.len(),
        p.parts,
        p.total_quantity,
        p.by_table,
        p.by_kind,
        p.counts
    );
    for t in &p.tables {
        println!("  table {} {:?} {} rows {} sections {}", t.range, t.title, t.sheet, t.part_rows, t.section_rows);
    }
    for t in &p.totals {
        println!("  total {}: {}", t.origin.cell, t.says);
    }
    for w in &p.warnings {
        println!("  {w}");
    }
    for q in &p.questions {
        println!("  question {}: {}", q.id, q.text);
    }
    for s in &p.skipped {
        println!("  skipped {} `{}`: {}", s.cell.cell, s.cell.raw, s.why);
    }
    Some(p)
}

#[test]
fn a_robot_with_sections_and_metres() {
    let Some(p) = list("opendog.ods") else { return };
    assert_eq!((p.parts, p.counts.sections, p.tables.len()), (41, 7, 1));
    assert_eq!((p.tables[0].sheet.as_str(), p.tables[0].header_row), ("Sheet1", 2));
    assert_eq!(p.total_quantity, 1791.0);
    assert_eq!(p.by_kind.get(&QuantityKind::Pieces), Some(&1785.0));
    assert_eq!(p.by_kind.get(&QuantityKind::Length), Some(&6.0));
    assert!(p.rows.iter().all(|r| r.mass.is_none() && r.price.is_none() && r.material.is_none()));
    let contradicted: Vec<String> =
        p.warnings.iter().filter(|w| w.code == "note-contradicts").map(|w| w.message.clone()).collect();
    assert_eq!(contradicted.len(), 2, "{contradicted:?}");
    assert!(
        contradicted.iter().any(|m| m.contains("Leg screws"))
            && contradicted.iter().any(|m| m.contains("Drive case screws") && m.contains("264"))
    );
}

#[test]
fn an_arm_with_four_tables_and_a_wrong_total() {
    let Some(p) = list("faze4.xlsx") else { return };
    assert_eq!(p.tables.iter().map(|t| t.part_rows).collect::<Vec<_>>(), [16, 9, 20, 60]);
    assert_eq!(p.by_table, [387.0, 313.0, 66.0, 197.0]);
    assert_eq!((p.parts, p.total_quantity), (105, 963.0));
    let totals: Vec<(Option<f64>, Option<f64>, Verdict)> = p.totals.iter().map(|t| (t.stated, t.recomputed, t.verdict)).collect();
    assert_eq!(
        totals,
        [
            (Some(764.0), Some(766.0), Verdict::Differs),
            (Some(197.0), Some(197.0), Verdict::Agrees),
            (Some(961.0), Some(963.0), Verdict::Differs)
        ]
    );
    assert!(p.warnings.iter().any(|w| w.message.contains("is 2 below the sum of the rows") && w.message.contains("row 36")));
    assert!(p.rows.iter().any(|r| r.link.as_ref().is_some_and(|l| l.value.starts_with("http"))));
    assert!(p.rows.iter().all(|r| r.mass.is_none() && r.price.is_none()));
}

#[test]
fn a_board_with_one_row_per_place() {
    let Some(p) = list("ezogateway-semicolon.csv") else { return };
    assert_eq!((p.counts.rows, p.counts.not_components, p.counts.not_fitted, p.parts), (57, 5, 1, 51));
    assert_eq!(p.distinct.len(), 32);
    assert_eq!(p.tables[0].header_row, 1);
    assert!(p.rows.iter().all(|r| r.quantity.value == Some(1.0) && r.mass.is_none()));
    assert!(p.warnings.iter().any(|w| w.code == "column-titles-alike"));
    assert_eq!(p.rows[0].quantity.origin.rule, "no quantity column: one per row");
}
