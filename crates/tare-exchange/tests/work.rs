//! Layouts that could make the work grow with the square of the file; apart from the other tests, for it measures time.

#![allow(clippy::print_stdout, reason = "the measured time is worth seeing")]

use std::time::{Duration, Instant};
use tare_exchange::*;

mod common;
use common::*;

/// Each of these once took, or would take, work that grows with the square of the file.
#[test]
fn no_layout_makes_the_work_explode() {
    let quick = |name: &str, bytes: &[u8]| {
        let start = Instant::now();
        let book = read(&Source { name, bytes }).unwrap_or_else(|d| panic!("{name}: {d:?}"));
        let _ = propose(&book, &Hints::default());
        let took = start.elapsed();
        println!("{name}: {took:?}");
        assert!(took < Duration::from_secs(15), "{name}: {took:?}");
    };
    let mut sheet = "<worksheet><sheetData><row r=\"1\">".to_owned();
    for (c, t) in ["Group", "Name", "Qty", "Supplier", "Material", "Note"].iter().enumerate() {
        sheet.push_str(&format!("<c r=\"{}1\" t=\"inlineStr\"><is><t>{t}</t></is></c>", column_name(c as u32)));
    }
    sheet.push_str("</row>");
    for i in 2..=20_000 {
        sheet.push_str(&format!("<row r=\"{i}\"><c r=\"B{i}\" t=\"inlineStr\"><is><t>P {i}</t></is></c></row>"));
    }
    sheet.push_str("</sheetData><mergeCells><mergeCell ref=\"A2:A20000\"/>");
    for i in (2..20_000).step_by(2) {
        sheet.push_str(&format!("<mergeCell ref=\"J{i}:J{}\"/>", i + 1));
    }
    sheet.push_str("</mergeCells></worksheet>");
    quick("merges.xlsx", &workbook(sheet.as_bytes()));
    let rows = |title: &str, row: &dyn Fn(usize) -> String| {
        let body: String = (0..8_000).map(row).collect();
        format!("{title}\n{body}")
    };
    quick("totals.csv", rows("Name,Qty", &|i| format!("Total part {i},{}\n", i % 7 + 1)).as_bytes());
    quick("instead.csv", rows("Name,Qty,Note", &|i| format!("P {i},1,alternative to Q {i}\n")).as_bytes());
    quick("runs.csv", rows("Ref,Value,Footprint", &|i| format!("\"{}\",1k,{i}\n", "R1-R999 ".repeat(5))).as_bytes());
    let mut many = Vec::new();
    for i in 0..200 {
        let row = "<row r=\"2\"><c r=\"A2\" t=\"inlineStr\"><is><t>Arm</t></is></c></row><row r=\"3\"><c r=\"A3\" t=\"inlineStr\"><is><t>Leg</t></is></c></row>";
        many.push((format!("xl/worksheets/s{i}.xml"), format!("<worksheet><sheetData><row r=\"1\"><c r=\"A1\" t=\"inlineStr\"><is><t>Name</t></is></c><c r=\"B1\" t=\"inlineStr\"><is><t>Qty</t></is></c></row>{row}</sheetData></worksheet>")));
    }
    let sheets: String = (0..200).map(|i| format!("<sheet name=\"S{i}\" sheetId=\"{i}\" r:id=\"r{i}\"/>")).collect();
    let links: String = (0..200).map(|i| format!("<Relationship Id=\"r{i}\" Target=\"worksheets/s{i}.xml\"/>")).collect();
    many.push(("xl/workbook.xml".to_owned(), format!("<workbook><sheets>{sheets}</sheets></workbook>")));
    many.push(("xl/_rels/workbook.xml.rels".to_owned(), format!("<Relationships>{links}</Relationships>")));
    let parts: Vec<(&str, &[u8])> = many.iter().map(|(n, d)| (n.as_str(), d.as_bytes())).collect();
    quick("copies.xlsx", &packed(&parts));
}
