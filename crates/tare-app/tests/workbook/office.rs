//! A workbook computed by a program that is not ours: LibreOffice, without a window, in a profile of its own.

use crate::soffice;
use std::io::{Cursor, Read, Write};
use zip::write::SimpleFileOptions;

/// Every file in a workbook, changed.
fn rewritten(bytes: &[u8], change: impl Fn(&str, String) -> String) -> Vec<u8> {
    let mut from = zip::ZipArchive::new(Cursor::new(bytes)).expect("a zip file");
    let mut to = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for at in 0..from.len() {
        let mut file = from.by_index(at).expect("a file");
        let (name, mut held) = (file.name().expect("a name").into_owned(), Vec::new());
        file.read_to_end(&mut held).expect("it unpacks");
        if name.ends_with(".xml") {
            held = change(&name, String::from_utf8(held).expect("UTF-8")).into_bytes();
        }
        to.start_file(name, SimpleFileOptions::default()).expect("a name");
        to.write_all(&held).expect("it packs");
    }
    to.finish().expect("a file").into_inner()
}

/// Without the values of formulas: what comes back afterwards was computed by the other program.
pub(crate) fn without_results(bytes: &[u8]) -> (Vec<u8>, usize) {
    let taken = std::cell::Cell::new(0);
    let bytes = rewritten(bytes, |name, text| {
        if !name.starts_with("xl/worksheets/") {
            return text;
        }
        let mut parts = text.split("</f><v>");
        let mut kept = parts.next().unwrap_or_default().to_owned();
        for part in parts {
            let (_, rest) = part.split_once("</v>").expect("a value ends");
            kept.push_str("</f>");
            kept.push_str(rest);
            taken.set(taken.get() + 1);
        }
        kept
    });
    (bytes, taken.get())
}

/// With another number in one cell of a sheet, counted from 1 in the order of the file.
pub(crate) fn with_number(bytes: &[u8], sheet: usize, cell: &str, number: f64) -> Vec<u8> {
    let file = format!("xl/worksheets/sheet{sheet}.xml");
    rewritten(bytes, |name, text| {
        if name != file {
            return text;
        }
        let start = text.find(&format!("<c r=\"{cell}\"")).expect("the cell");
        let value = start + text[start..].find("<v>").expect("its value") + 3;
        let end = value + text[value..].find("</v>").expect("the end");
        format!("{}{number}{}", &text[..value], &text[end..])
    })
}

/// The workbook as LibreOffice computes it.
pub(crate) fn computed(bytes: &[u8]) -> Vec<u8> {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("study.xlsx");
    std::fs::write(&file, bytes).expect("the workbook");
    let out = folder.path().join("out");
    let started = soffice::converting(folder.path(), &file, &out);
    let ran = started.expect("a profile").output().expect("LibreOffice starts (Debian package libreoffice-calc)");
    std::fs::read(out.join("study.xlsx"))
        .unwrap_or_else(|_| panic!("LibreOffice wrote nothing: {}", String::from_utf8_lossy(&ran.stderr)))
}
