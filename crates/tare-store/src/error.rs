//! What can go wrong, in words for the person at the bench.

use crate::entry::id_text;
use rusqlite::ErrorCode;
use std::path::Path;
use std::{fmt, io};
use tare_diag::{Diag, Place};

/// What sort of failure it was, for callers that act on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Kind {
    /// The folder is missing or is no folder.
    MissingFolder,
    /// The folder holds no workspace.
    NoWorkspace,
    /// A workspace is already there.
    AlreadyThere,
    /// The file is no database.
    NotADatabase,
    /// The database belongs to another program.
    Foreign,
    /// A newer program made the database.
    Newer,
    /// An older program made the database, and it may not be changed.
    Older,
    /// The database has a form that this program does not recognise.
    Form,
    /// Nothing may be written here.
    ReadOnly,
    /// The system does not permit it.
    Permission,
    /// Another program holds the database.
    Locked,
    /// The disk is full.
    Full,
    /// Stored content is damaged.
    Damaged,
    /// No such document.
    UnknownDocument,
    /// The id is taken by something else.
    Taken,
    /// The caller gave something that cannot be kept.
    Invalid,
    /// The disk failed.
    Disk,
    /// Anything unforeseen.
    Other,
}

impl Kind {
    /// The stable code used in messages.
    pub fn code(self) -> &'static str {
        match self {
            Self::MissingFolder => "store-missing-folder",
            Self::NoWorkspace => "store-no-workspace",
            Self::AlreadyThere => "store-already-there",
            Self::NotADatabase => "store-not-a-database",
            Self::Foreign => "store-foreign",
            Self::Newer => "store-newer",
            Self::Older => "store-older",
            Self::Form => "store-form",
            Self::ReadOnly => "store-read-only",
            Self::Permission => "store-permission",
            Self::Locked => "store-locked",
            Self::Full => "store-full",
            Self::Damaged => "store-damaged",
            Self::UnknownDocument => "store-unknown-document",
            Self::Taken => "store-taken",
            Self::Invalid => "store-invalid",
            Self::Disk => "store-disk",
            Self::Other => "store-other",
        }
    }
}

/// A failure of the store: one plain sentence, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Error {
    /// What sort it is.
    pub kind: Kind,
    /// What was found; lower case, no final stop.
    pub message: String,
    /// What to do next.
    pub hint: String,
}

impl Error {
    pub(crate) fn new(kind: Kind, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { kind, message: message.into(), hint: hint.into() }
    }

    pub(crate) fn invalid(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::new(Kind::Invalid, message, hint)
    }

    pub(crate) fn unknown_document(id: u128) -> Self {
        let message = format!("this workspace has no document {}", id_text(id));
        Self::new(Kind::UnknownDocument, message, "list the documents, or create this one first")
    }

    pub(crate) fn taken_document(id: u128) -> Self {
        let message = format!("document {} exists with another kind or name", id_text(id));
        Self::new(Kind::Taken, message, "give the new document an id of its own")
    }

    pub(crate) fn snapshot_ahead(sequence: u64, head: u64) -> Self {
        let message = format!("the snapshot is of entry {sequence}, but the journal ends at entry {head}");
        Self::invalid(message, "add the entries first")
    }

    pub(crate) fn no_labels(first: u32, count: u32) -> Self {
        let message = format!("cannot give out {count} labels from number {first} on");
        Self::invalid(message, "ask for at least one label, and for no more than are left below 4294967295")
    }

    pub(crate) fn nothing_to_undo(undone: u128) -> Self {
        let message = format!("the entry undoes entry {}, which is not in this document's journal", id_text(undone));
        Self::invalid(message, "read the journal again and name an entry of this document")
    }

    pub(crate) fn locked(file: &Path) -> Self {
        let message = format!("another program is using {} and did not let go in time", file.display());
        Self::new(Kind::Locked, message, "close the other program, or wait until it is done, and try again")
    }

    pub(crate) fn read_only(file: &Path) -> Self {
        let message = format!("{} may be read but not changed", file.display());
        let hint =
            "make the file, its folder and its disk writable, copy the workspace to a writable place, or open it for reading";
        Self::new(Kind::ReadOnly, message, hint)
    }

    pub(crate) fn opened_for_reading(file: &Path) -> Self {
        let message = format!("{} was opened for reading only", file.display());
        Self::new(Kind::ReadOnly, message, "open the workspace for writing to record something")
    }

    pub(crate) fn damaged_photo(file: &Path) -> Self {
        let message = format!("{} does not hold the content it is named after", file.display());
        Self::new(Kind::Damaged, message, "take the same photo again from the camera or from a backup of the workspace")
    }

    fn full(file: &Path) -> Self {
        let message = format!("the disk that holds {} is full; nothing was recorded", file.display());
        Self::new(Kind::Full, message, "make room on the disk and try again")
    }

    fn permission(file: &Path) -> Self {
        let message = format!("the system does not let this user open {}", file.display());
        Self::new(
            Kind::Permission,
            message,
            "ask the owner of the folder for permission, or copy the workspace to a folder of your own",
        )
    }

    /// Says what SQLite's answer means for `file`.
    pub(crate) fn database(error: &rusqlite::Error, file: &Path) -> Self {
        let shown = file.display();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked | ErrorCode::FileLockingProtocolFailed) => {
                Self::locked(file)
            }
            Some(ErrorCode::ReadOnly) => Self::read_only(file),
            Some(ErrorCode::DiskFull) => Self::full(file),
            Some(ErrorCode::PermissionDenied) => Self::permission(file),
            Some(ErrorCode::NotADatabase) => Self::not_a_database(file),
            Some(ErrorCode::DatabaseCorrupt) => Self::new(
                Kind::Damaged,
                format!("{shown} is damaged ({error})"),
                "stop writing to it, keep a copy of the whole folder, and go back to the last backup",
            ),
            Some(ErrorCode::CannotOpen) => Self::new(
                Kind::Permission,
                format!("{shown} cannot be opened ({error})"),
                "check that the file and its folder may be read and written by this user",
            ),
            Some(ErrorCode::SystemIoFailure) => Self::new(
                Kind::Disk,
                format!("the disk failed while working on {shown} ({error})"),
                "check the disk and its connection, then try again; what was recorded before is kept",
            ),
            Some(ErrorCode::TooBig) => {
                Self::invalid(format!("this is too large for one record of {shown}"), "split the entry into several smaller ones")
            }
            _ => Self::new(Kind::Other, format!("{shown} refused the request ({error})"), "run `doctor` and report what it says"),
        }
    }

    pub(crate) fn not_a_database(file: &Path) -> Self {
        let message = format!("{} is not a database", file.display());
        Self::new(Kind::NotADatabase, message, "move it away if it came here by mistake, or restore the workspace from a backup")
    }

    /// Says what the system's answer means for `file`.
    pub(crate) fn file(error: &io::Error, file: &Path) -> Self {
        match error.kind() {
            io::ErrorKind::PermissionDenied => Self::permission(file),
            io::ErrorKind::ReadOnlyFilesystem => Self::read_only(file),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::full(file),
            _ => Self::new(
                Kind::Disk,
                format!("{} could not be read or written ({error})", file.display()),
                "check the disk and its connection, then try again; what was recorded before is kept",
            ),
        }
    }

    /// The same failure as a message for the faces.
    pub fn diag(&self) -> Diag {
        Diag::error(self.kind.code(), self.message.clone()).hint(self.hint.clone())
    }

    /// The same failure as a message that points at `place`.
    pub fn diag_at(&self, place: Place) -> Diag {
        self.diag().at(place)
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.message, self.hint)
    }
}

impl std::error::Error for Error {}

/// Why an entry was not added.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum AppendError {
    /// The document has moved on; `current` is its last sequence number.
    Stale {
        /// The sequence number of the last entry.
        current: u64,
    },
    /// This very entry is in the journal already, at `sequence`: a request sent again, and all is well.
    Duplicate {
        /// The sequence number it has.
        sequence: u64,
    },
    /// The id is in use by a different entry, so nothing was recorded.
    Reused {
        /// The document that holds the other entry.
        document: u128,
        /// The sequence number of the other entry.
        sequence: u64,
    },
    /// The store failed or refused the entry.
    Store(Error),
}

impl fmt::Display for AppendError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stale { current } => {
                write!(f, "the document has meanwhile reached entry {current}: read what came since and make the change again")
            }
            Self::Duplicate { sequence } => write!(f, "this entry is already recorded as number {sequence}"),
            Self::Reused { document, sequence } => {
                let document = id_text(*document);
                write!(
                    f,
                    "the entry's id belongs to entry {sequence} of document {document}: give the new entry an id of its own"
                )
            }
            Self::Store(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for AppendError {}

impl From<Error> for AppendError {
    fn from(error: Error) -> Self {
        Self::Store(error)
    }
}
