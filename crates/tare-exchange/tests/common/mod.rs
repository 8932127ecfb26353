//! What several tests of reading lists need.

#![allow(dead_code, reason = "each test uses its share")]

use std::io::Write;
use tare_exchange::*;

/// A text as a book.
pub(crate) fn book(text: &str) -> Book {
    read(&Source { name: "list.csv", bytes: text.as_bytes() }).expect("the text is readable")
}

/// What is proposed for a text.
#[track_caller]
pub(crate) fn take(text: &str) -> Proposal {
    propose(&book(text), &Hints::default()).expect("the text is a parts list")
}

/// A container of named parts.
pub(crate) fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, data) in parts {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).expect("starts");
        zip.write_all(data).expect("writes");
    }
    zip.finish().expect("finishes").into_inner()
}

/// A workbook of one sheet.
pub(crate) fn workbook(sheet: &[u8]) -> Vec<u8> {
    packed(&[
        ("xl/workbook.xml", br#"<workbook><sheets><sheet name="S" sheetId="1" r:id="r1"/></sheets></workbook>"#),
        ("xl/_rels/workbook.xml.rels", br#"<Relationships><Relationship Id="r1" Target="worksheets/s.xml"/></Relationships>"#),
        ("xl/worksheets/s.xml", sheet),
    ])
}
