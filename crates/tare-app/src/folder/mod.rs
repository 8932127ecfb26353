//! A study as a folder of tables (docs/study-folder.md), both ways: the form that keeps everything, compares line by line and opens in a
//! spreadsheet.
//!
//! [`write()`] turns a study with its photos and held texts into files, [`read()`] turns files into a study, each problem at its cell. A folder
//! is a document: [`difference()`] to another is a list of changes, by which a study is made from a folder and an edited folder is taken back into
//! the study it came from ([`plan`]). Files stand on the disk or in one archive ([`disk`]).

mod back;
mod contents;
mod difference;
pub mod disk;
mod extra;
mod layout;
mod order;
mod out;
mod raw;
mod read;
mod refs;
mod write;

use std::collections::BTreeMap;
use tare_diag::Diag;
pub use tare_exchange::Files;
use tare_model::{Document, Id};

pub use back::{FolderEdit, FolderPlan, accept, check, create, plan};
pub use difference::difference;
pub use order::same_order;
pub use out::export;
use raw::{Header, header};
use read::Reading;
pub use write::write;

/// What a folder holds.
#[derive(Clone, Debug)]
pub struct Folder {
    /// The study (or rate book).
    pub document: Document,
    /// The number of the last entry in it.
    pub entry: u64,
    /// That entry.
    pub entry_id: Option<Id>,
    /// Photos by their digest.
    pub photos: BTreeMap<String, Vec<u8>>,
    /// Held texts by their digest.
    pub texts: BTreeMap<String, String>,
    /// Files of other programs, by path.
    pub files: Files,
}

impl PartialEq for Folder {
    fn eq(&self, other: &Self) -> bool {
        let rest = |f: &Self| (f.document.id, f.document.kind, f.entry, f.entry_id);
        same_order(&self.document, &other.document)
            && rest(self) == rest(other)
            && (&self.photos, &self.texts, &self.files) == (&other.photos, &other.texts, &other.files)
    }
}

/// Reads the files of a folder, with what is doubtful. `base` is the document as it was when the folder was written, where that is known: what
/// stands in the same order as there keeps its order keys.
///
/// # Errors
/// Every problem at its place.
pub fn read(files: &Files, base: Option<&Document>) -> Result<(Folder, Vec<Diag>), Vec<Diag>> {
    read::read(files, base).map(|reading| (reading.folder, reading.notes))
}

/// Takes any bytes as a study folder: an archive, else a text with the files of a folder, each behind a line `=== path`. Reading must not panic,
/// and what reads must be the same when it is written and read again. Says whether it read.
///
/// # Panics
/// Where it is not: a bug.
pub fn fuzz_folder(bytes: &[u8]) -> bool {
    let files = tare_exchange::unpack("folder.zip", bytes).unwrap_or_else(|_| {
        let text = String::from_utf8_lossy(bytes);
        let parts = text.split("=== ").skip(1).map(|part| part.split_once('\n').unwrap_or((part, "")));
        parts.map(|(path, content)| (path.to_owned(), content.as_bytes().to_vec())).collect()
    });
    let found = read(&files, None).map_err(|problems| assert!(problems.iter().all(|diag| diag.place.is_some()), "{problems:#?}"));
    let Ok((folder, _)) = found else { return false };
    let written = write(&folder);
    let (again, _) = read(&written, None).expect("what was written reads");
    assert_eq!(folder, again);
    assert_eq!(written, write(&again));
    true
}
