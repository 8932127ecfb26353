//! From bytes to a book: the kind of file is told from its first bytes, never from its name.

use crate::book::{Book, Container, Source};
use crate::container::{encoding, ods, package::Package, text, xls, xlsx};
use crate::limits;
use sha2::{Digest, Sha256};
use tare_diag::{Diag, Place};

/// Reads a file into sheets of raw cells.
///
/// Fails with a located message if the file is empty, too large, locked, damaged or no table; what is odd but readable ends up in
/// [`Book::remarks`].
pub fn read(source: &Source) -> Result<Book, Vec<Diag>> {
    let refuse = |code, message: String, hint: &str| {
        Err(vec![Diag::error(code, message).at(Place::File(source.name.to_owned())).hint(hint)])
    };
    let bytes = source.bytes;
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return refuse("file-empty", "the file is empty".to_owned(), "check that the right file was chosen and fetched whole");
    }
    if bytes.len() > limits::FILE_BYTES {
        let message =
            format!("the file has {} MB, more than the {} MB that are read", bytes.len() >> 20, limits::FILE_BYTES >> 20);
        return refuse("file-too-large", message, "save only the sheet with the parts list");
    }
    let sha256 = Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect();
    let mut remarks = Vec::new();
    let mut decoded = None;
    let (container, sheets) = if bytes.starts_with(b"PK\x03\x04") {
        let mut package = Package::open(source.name, bytes)?;
        if package.has("xl/workbook.xml") {
            (Container::Xlsx, xlsx::read(source.name, &mut package, &mut remarks)?)
        } else if package.has("content.xml") {
            (Container::Ods, ods::read(source.name, &mut package, &mut remarks)?)
        } else if package.has("xl/workbook.bin") {
            return refuse(
                "file-kind-unknown",
                "the file is a workbook in a packed binary form".to_owned(),
                "save it as XLSX, ODS or CSV",
            );
        } else {
            return refuse(
                "file-not-a-table",
                "the file is a zip archive and no workbook".to_owned(),
                "unpack it and choose the list inside",
            );
        }
    } else if bytes.starts_with(b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1") {
        (Container::Xls, xls::read(source.name, bytes, &mut remarks)?)
    } else {
        if let Some(kind) = other_kind(bytes) {
            let message = format!("the file is {kind} and no table of cells");
            return refuse("file-not-a-table", message, "save the list as XLSX, ODS, XLS or CSV");
        }
        let (text, encoding) = encoding::decode(source.name, bytes, &mut remarks);
        if !looks_like_text(&text) {
            return refuse(
                "file-not-a-table",
                "the file holds binary data and no text or workbook".to_owned(),
                "save the list as XLSX, ODS, XLS or CSV",
            );
        }
        decoded = Some(encoding);
        let (sheet, separator) = text::read(source.name, &text, &mut remarks)?;
        (Container::Text { separator }, vec![sheet])
    };
    let book = Book { file: source.name.to_owned(), sha256, container, encoding: decoded, sheets, remarks };
    if book.cell_count() == 0 {
        return refuse(
            "file-empty",
            "the file holds no filled cell".to_owned(),
            "check that the right file was chosen and fetched whole",
        );
    }
    Ok(book)
}

fn other_kind(bytes: &[u8]) -> Option<&'static str> {
    let head =
        String::from_utf8_lossy(&bytes[..bytes.len().min(512)]).trim_start_matches('\u{feff}').trim_start().to_ascii_lowercase();
    if head.starts_with("%pdf") {
        return Some("a PDF document");
    }
    if head.starts_with("<!doctype html") || head.starts_with("<html") {
        return Some("a web page");
    }
    if head.starts_with("<?xml") {
        return Some("an XML document");
    }
    if bytes.starts_with(b"\x89PNG") || bytes.starts_with(b"\xFF\xD8\xFF") {
        return Some("a picture");
    }
    (head.starts_with("{\\rtf")).then_some("a text document")
}

fn looks_like_text(text: &str) -> bool {
    let sample: Vec<char> = text.chars().take(20_000).collect();
    let odd =
        sample.iter().filter(|c| (c.is_control() && !matches!(c, '\n' | '\r' | '\t' | '\u{c}')) || **c == '\u{fffd}').count();
    // A stray byte in a small list is no reason to refuse it.
    odd * 50 <= sample.len().max(150)
}
