//! Parts of a zip package, unpacked with bounds on size and growth.

use crate::limits;
use std::io::{Cursor, Read};
use tare_diag::{Diag, Place};

/// A zip package of which parts are read by name.
pub(crate) struct Package<'a> {
    file: &'a str,
    zip: zip::ZipArchive<Cursor<&'a [u8]>>,
    unpacked: u64,
}

impl<'a> Package<'a> {
    pub(crate) fn open(file: &'a str, bytes: &'a [u8]) -> Result<Self, Vec<Diag>> {
        let zip = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| {
            vec![
                Diag::error(
                    "file-damaged",
                    format!("the file begins like a packed workbook but its directory cannot be read ({e})"),
                )
                .at(Place::File(file.to_owned()))
                .hint("fetch the file again, or save it anew in the program it came from"),
            ]
        })?;
        Ok(Self { file, zip, unpacked: 0 })
    }

    pub(crate) fn has(&self, name: &str) -> bool {
        self.zip.index_for_name(name).is_some()
    }

    /// Reads a part as text; `Ok(None)` if there is no such part.
    pub(crate) fn text(&mut self, name: &str) -> Result<Option<String>, Vec<Diag>> {
        let file = self.file;
        let Some(index) = self.zip.index_for_name(name) else { return Ok(None) };
        let damaged = |e: &dyn std::fmt::Display| {
            Diag::error("file-damaged", format!("the part `{name}` of the packed file cannot be unpacked ({e})"))
                .at(Place::File(file.to_owned()))
                .hint("fetch the file again, or save it anew in the program it came from")
        };
        let part = self.zip.by_index(index).map_err(|e| vec![damaged(&e)])?;
        let packed = part.compressed_size().max(1);
        let allowed =
            (limits::UNPACKED_BYTES - self.unpacked).min((packed.saturating_mul(limits::RATIO)).max(limits::RATIO_FREE_BYTES));
        let mut bytes = Vec::new();
        part.take(allowed + 1).read_to_end(&mut bytes).map_err(|e| vec![damaged(&e)])?;
        if bytes.len() as u64 > allowed {
            let message = format!("the part `{name}` ({packed} bytes packed) unpacks to more than {} MB", allowed >> 20);
            return Err(vec![
                Diag::error("file-unpacks-too-large", message)
                    .at(Place::File(file.to_owned()))
                    .hint("save only the sheet with the parts list, or save it as CSV"),
            ]);
        }
        self.unpacked += bytes.len() as u64;
        let (text, _, _) = encoding_rs::UTF_8.decode(&bytes);
        Ok(Some(text.into_owned()))
    }
}
