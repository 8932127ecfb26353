//! The workbook's formulas, computed by LibreOffice, give what we computed; and a number changed there moves what it moves here.

#![expect(clippy::print_stdout, reason = "figures of a comparison are told")]

mod cells;
mod office;
mod soffice;

use calamine::Data;
use cells::{Book, compare, read, relative};
use std::collections::BTreeSet;
use std::sync::Arc;
use tare_app::generated::Size;
use tare_app::{LineRef, Session, Study, demo, generated, workbook};

struct Made {
    study: Arc<Study>,
    written: workbook::Written,
}

fn made(session: &mut Session, info: &tare_app::DocumentInfo, loaded: &tare_app::Loaded) -> Made {
    let study = session.compiled(info, loaded).expect("it compiles");
    let texts = session.texts(&loaded.document).expect("texts");
    let written = workbook::write(&texts, &loaded.document, &study, None, &[]).expect("a workbook");
    Made { study, written }
}

/// Every formula's value agrees with ours after the other program computed it from nothing.
fn agrees(what: &str, made: &Made, least: usize) -> Book {
    let (bare, taken) = office::without_results(&made.written.bytes);
    let ours = read(&made.written.bytes);
    let found = compare(&ours, &read(&office::computed(&bare)));
    println!(
        "{what}: {} formulas, {} numbers, {} without a number; largest relative difference {:.1e}; {} bytes",
        found.cells,
        found.numbers,
        found.errors,
        found.largest,
        made.written.bytes.len()
    );
    let first: Vec<_> = found.differ.iter().take(20).collect();
    assert!(found.differ.is_empty(), "{} of {} cells differ:\n{first:#?}", found.differ.len(), found.cells);
    assert_eq!(made.written.values, Vec::<String>::new(), "every column has its formula");
    assert!(taken >= least && found.cells >= least, "{taken} results taken, {} formulas compared", found.cells);
    ours
}

/// The row of an input on its sheet, and its number there.
fn input(book: &Book, address: &str, name: &str) -> (u32, f64) {
    let rows = book.values["Inputs"].rows().count() as u32;
    let text = |row, column| if let Data::String(s) = book.at("Inputs", row, column) { s } else { String::new() };
    let row = (0..=rows).find(|row| text(*row, 0) == address && text(*row, 2) == name).expect("the input is listed");
    (row, book.number("Inputs", row, 3))
}

#[test]
fn the_demo_agrees_with_another_program_and_follows_a_change_made_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut session, info, loaded, _) = demo::open(folder.path()).expect("the demo");
    let made = made(&mut session, &info, &loaded);
    let ours = agrees("demo", &made, 50_000);

    // the operator's wage a tenth up, in the file alone
    let leaf = made.study.lines.leaves.iter().position(|l| l.name == "wage.operator").expect("a wage");
    let subject = made.study.lines.subject_of(&made.study.lines.leaves[leaf]);
    let (row, stated) = input(&ours, &subject.address, "wage.operator");
    let inputs = ours.order.iter().position(|s| s == "Inputs").expect("a sheet of inputs") + 1;
    let moved = office::with_number(&made.written.bytes, inputs, &format!("D{}", row + 1), stated * 1.1);
    let theirs = read(&office::computed(&office::without_results(&moved).0));
    let mut leaves = made.study.lines.leaf_values();
    leaves[leaf] *= 1.1;
    let after = made.study.at(&leaves);
    let cost = made.study.totals.cost.expect("a cost");
    let (before, expected) = (made.study.value(cost), after.value(cost));
    assert!((expected - before) / before > 1e-4, "a wage moves the total: {before} to {expected}");
    // the first headline is the cost
    let found = theirs.number("Summary", 4, 1);
    println!("wage a tenth up: {before:.4} to {expected:.4}, there {found:.4}");
    assert!((found / expected - 1.0).abs() < 1e-9, "ours {expected}, theirs {found}");
    assert!((ours.number("Summary", 4, 1) / before - 1.0).abs() < 1e-12);
    // and everything else with it: each part's cost
    let moved: Vec<(u32, LineRef)> =
        made.study.parts.iter().enumerate().filter_map(|(at, p)| Some((4 + at as u32, p.cost?))).collect();
    assert!(moved.len() > 50);
    for (row, line) in moved {
        let (mine, other) = (after.lines.unit(line).from_si(after.value(line)), theirs.number("Parts", row, 9));
        assert!((mine - other).abs() <= 1e-9 * mine.abs().max(1e-9), "Parts row {}: {mine} and {other}", row + 1);
    }
}

#[test]
fn an_equation_is_the_same_formula_in_every_row_of_a_shape() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut session, info, loaded, _) = demo::open(folder.path()).expect("the demo");
    let made = made(&mut session, &info, &loaded);
    let book = read(&made.written.bytes);
    let (mut columns, mut cells) = (0, 0);
    for sheet in
        book.order.iter().filter(|s| !["Read me", "Summary", "Parts", "Items", "Inputs", "Look-up"].contains(&s.as_str()))
    {
        let Data::String(says) = book.at(sheet, 1, 0) else { panic!("{sheet} names its calculation") };
        let key = says.split_whitespace().next().unwrap_or_default().to_owned();
        let shapes = made.study.lines.templates.iter().filter(|t| t.key == key).count();
        assert!(shapes > 0, "{sheet}: {key}");
        let uses =
            made.study.lines.blocks.iter().filter(|b| made.study.lines.templates[b.template as usize].key == key).count() as u32;
        let (top, left) = book.formulas[sheet].start().unwrap_or_default();
        for column in 3..left + book.formulas[sheet].width() as u32 {
            let heading = book.at(sheet, 4, column);
            if !matches!(&heading, Data::String(s) if s != "input") {
                continue;
            }
            // a column shown in the unit of each use only restates the helper behind it
            let name = book.at(sheet, 2, column + 1);
            let helper =
                matches!(book.at(sheet, 3, column + 1), Data::String(_)) && !matches!(name, Data::String(s) if !s.is_empty());
            let column = column + u32::from(helper);
            let formula = |row: u32| book.formulas[sheet].get_value((row.max(top), column)).filter(|f| !f.is_empty());
            // where a use states a value itself, its cell stands in place of the equation
            let stated = |f: &String| f.contains("!$") && !f.contains(['*', '/', '+', '(']);
            let forms = (6..6 + uses).filter_map(|row| Some(relative(formula(row)?, row + 1))).filter(|f| !stated(f));
            let forms: BTreeSet<String> = forms.collect();
            assert!(forms.len() <= shapes, "{sheet} column {}, {heading:?}, {shapes} shapes: {forms:#?}", column + 1);
            columns += 1;
            cells += (6..6 + uses).filter(|row| formula(*row).is_some()).count();
        }
    }
    println!("{cells} cells of {columns} columns");
    assert!(columns > 300 && cells > 10 * columns, "{columns} columns, {cells} cells");
}

#[test]
fn a_thousand_parts_agree_with_another_program() {
    let folder = tempfile::tempdir().expect("a folder");
    let size = Size { parts: 1_000, items: 400, joints: 300 };
    let info = generated::workspace(folder.path(), size, 7).expect("a study");
    let mut session = Session::open(folder.path(), false).expect("a session");
    let loaded = session.workspace.load(&info).expect("it loads");
    let made = made(&mut session, &info, &loaded);
    agrees("1,000 parts", &made, 150_000);
}
