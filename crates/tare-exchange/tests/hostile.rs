//! Bad input: a located message or a bounded result, never a panic, never unbounded time or memory.

#![allow(clippy::print_stdout, reason = "the measured time is worth seeing")]

use proptest::prelude::*;
use std::time::{Duration, Instant};
use tare_exchange::*;

mod common;
use common::*;

fn noise(length: usize) -> Vec<u8> {
    // A linear congruential generator (constants of Knuth's MMIX, TAOCP vol. 2) is random enough for noise.
    let mut state = 7u64;
    (0..length)
        .map(|_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 56) as u8
        })
        .collect()
}

#[track_caller]
fn refused(name: &str, bytes: &[u8], code: &str) {
    let start = Instant::now();
    let result = read(&Source { name, bytes }).and_then(|b| propose(&b, &Hints::default()));
    let diags = result.err().unwrap_or_else(|| panic!("{name} was taken"));
    assert_eq!(diags[0].code, code, "{}", diags[0]);
    assert!(diags[0].place.is_some() && !diags[0].hints.is_empty(), "{}", diags[0]);
    assert!(start.elapsed() < Duration::from_secs(20), "{name} took {:?}", start.elapsed());
}

#[test]
fn files_that_are_no_lists_are_refused_with_a_reason() {
    refused("empty.csv", b"", "file-empty");
    refused("blank.csv", b" \n\r\n", "file-empty");
    refused("noise.csv", &noise(10 << 20), "file-not-a-table");
    refused("page.xls", b"<html><table></table></html>", "file-not-a-table");
    refused("paper.csv", b"%PDF-1.7 ...", "file-not-a-table");
    let mut broken = b"PK\x03\x04".to_vec();
    broken.extend(noise(1000));
    refused("broken.xlsx", &broken, "file-damaged");
    let mut broken = b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1".to_vec();
    broken.extend(noise(100_000));
    refused("broken.xls", &broken, "file-damaged");
    refused("archive.zip", &packed(&[("a.txt", b"x")]), "file-not-a-table");
    refused("separators.csv", b";;;;\n;;;;\n", "file-empty");
    let sheet = br#"<worksheet><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>only a word</t></is></c></row></sheetData></worksheet>"#;
    refused("wordy.xlsx", &workbook(sheet), "no-parts-list");
}

#[test]
fn a_zip_bomb_is_refused() {
    let bomb = vec![b' '; 300 << 20];
    refused("bomb.xlsx", &workbook(&bomb), "file-unpacks-too-large");
}

#[test]
fn a_far_corner_cell_costs_nothing() {
    let sheet = br#"<worksheet><dimension ref="A1:XFD1048576"/><sheetData><row r="1"><c r="A1" t="inlineStr"><is><t>Name</t></is></c><c r="B1" t="inlineStr"><is><t>Qty</t></is></c></row>
        <row r="2"><c r="A2" t="inlineStr"><is><t>Arm</t></is></c><c r="B2"><v>2</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData></worksheet>"#;
    let bytes = workbook(sheet);
    let p = propose(&read(&Source { name: "far.xlsx", bytes: &bytes }).expect("readable"), &Hints::default()).expect("a list");
    assert_eq!((p.parts, p.total_quantity), (1, 2.0));
    let cut = workbook(&sheet[..sheet.len() / 2]);
    let _ = read(&Source { name: "cut.xlsx", bytes: &cut });
}

#[test]
fn truncated_and_flipped_workbooks_never_panic() {
    for (name, bytes) in [
        ("merged.xlsx", &include_bytes!("fixtures/merged.xlsx")[..]),
        ("old.xls", &include_bytes!("fixtures/old.xls")[..]),
        ("claims.ods", &include_bytes!("fixtures/claims.ods")[..]),
    ] {
        for i in (0..bytes.len()).step_by(37) {
            let _ = read(&Source { name, bytes: &bytes[..i] }).map(|b| propose(&b, &Hints::default()).is_ok());
            let mut flipped = bytes.to_vec();
            flipped[i] ^= 0xFF;
            let _ = read(&Source { name, bytes: &flipped }).map(|b| propose(&b, &Hints::default()).is_ok());
        }
    }
}

#[test]
fn huge_numbers_and_deep_trees_are_bounded_and_told() {
    let take = |t: &str| {
        propose(&read(&Source { name: "l.csv", bytes: t.as_bytes() }).expect("readable"), &Hints::default()).expect("a list")
    };
    let p = take("Name,Qty,Mass (kg)\nA,1000000000000000,1e300\nB,2,3\n");
    assert_eq!(p.total_quantity, 2.0);
    assert_eq!(p.warnings.iter().filter(|w| w.code == "number-too-large" && w.place.is_some()).count(), 2);
    let mut text = "Level,Name,Qty\n".to_owned();
    for i in 1..=100 {
        text.push_str(&format!("{i},Part {i},1\n"));
    }
    let p = take(&text);
    assert_eq!(p.rows.len(), 100);
    assert!(p.rows.iter().all(|r| r.level < 64) && p.warnings.iter().any(|w| w.code == "levels-too-deep" && w.place.is_some()));
}

#[test]
fn ten_thousand_rows_are_quick() {
    let mut text = "Part number,Name,Description,Qty,Unit price,Total price,Material,Mass (g),Note\n".to_owned();
    for i in 0..10_000 {
        text.push_str(&format!(
            "{i:06},Part {i},made up,{},1.50,{:.2},steel,12.5,2 per unit\n",
            i % 9 + 1,
            f64::from(i % 9 + 1) * 1.5
        ));
    }
    let start = Instant::now();
    let p = propose(&read(&Source { name: "big.csv", bytes: text.as_bytes() }).expect("readable"), &Hints::default())
        .expect("a list");
    let took = start.elapsed();
    assert_eq!(p.parts, 10_000);
    println!("10,000 rows: {took:?}");
    // Unoptimised on a busy machine; a release build has one second.
    assert!(took < Duration::from_secs(if cfg!(debug_assertions) { 10 } else { 1 }), "{took:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        if let Ok(book) = read(&Source { name: "x", bytes: &bytes }) {
            let _ = propose(&book, &Hints::default());
            let _ = propose_rates(&book);
        }
    }

    #[test]
    fn words_of_lists_in_any_order_never_panic(rows in proptest::collection::vec(proptest::collection::vec("(Name|Qty|Price|Total|Level|Pos|Path|Ref|Mass \\(g\\)|1\\.1|1,234|05\\. Jun|4x 10pcs|€ 5,-|R1|n/a|  Arm|a/b|=A1|-3|\"|é|TBD|12 kg \\(3 lb\\)|x)?", 1..7), 1..14)) {
        let text: String = rows.iter().map(|r| r.join(";") + "\n").collect();
        if let Ok(book) = read(&Source { name: "x.csv", bytes: text.as_bytes() }) {
            if let Ok(p) = propose(&book, &Hints::default()) {
                for r in &p.rows {
                    let o = &r.quantity.origin;
                    let (row, column) = parse_cell_name(&o.cell).expect("a cell name");
                    let raw = book.sheets[0].get(row, column).map_or("", |c| c.text.as_str());
                    prop_assert_eq!(raw, o.raw.as_str());
                    prop_assert_eq!(row + 1, r.row);
                }
                prop_assert!(p.total_quantity.is_finite());
            }
            let _ = propose_rates(&book);
        }
    }

    #[test]
    fn cells_keep_their_place(rows in proptest::collection::vec(proptest::collection::vec("[a-z;\"\n ]{0,6}[a-z]", 3), 2..12)) {
        let mut out = csv::WriterBuilder::new().delimiter(b';').quote_style(csv::QuoteStyle::Always).from_writer(Vec::new());
        for r in &rows {
            out.write_record(r).expect("writes");
        }
        let bytes = out.into_inner().expect("flushes");
        let mut named = b"sep=;\n".to_vec();
        named.extend(bytes);
        let book = read(&Source { name: "x.csv", bytes: &named }).expect("readable");
        for (i, r) in rows.iter().enumerate() {
            for (k, text) in r.iter().enumerate() {
                let cell = book.sheets[0].get(i as u32 + 1, k as u32);
                prop_assert_eq!(cell.map(|c| c.text.as_str()), Some(text.as_str()));
            }
        }
    }

    #[test]
    fn exported_text_is_one_field_and_no_formula(text in "[-=+@a-z;,\"\n\t ]{1,12}") {
        let field = write_csv_text(&text);
        prop_assert!(!field.starts_with(['=', '+', '-', '@']));
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(field.as_bytes());
        if let Some(Ok(record)) = reader.records().next() {
            prop_assert_eq!(record.len(), 1);
            prop_assert!(record[0].ends_with(&text));
        }
    }
}
