//! Journals, snapshots and blobs in a workspace folder.
//!
//! A workspace is a folder with one database file (`workspace.sqlite`) and a store of photos (`photos/ab/cdef...`, named by
//! SHA-256). A *document* has a journal: numbered [`Entry`]s that are added at the end and never changed. Everything else is
//! beside that: snapshots and the search index are caches, texts and photos are found by their content.
//!
//! ```
//! use tare_store::{AppendError, Entry, Journals, OpenMode, Store};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # let place = tempfile::tempdir()?;
//! let store = Store::open(&place.path().join("packs"), OpenMode::Create)?;
//! store.create_document(7, "study", "utility vehicle pack")?;
//! let photo = store.put_blob(b"image bytes")?; // on the disk before the entry that names it
//! let entry = Entry {
//!     id: 1,
//!     document: 7,
//!     sequence: 0, // given by the store
//!     author: "bench two".into(),
//!     time: "2026-03-02T09:30:00Z".into(),
//!     says: "lid taken off".into(),
//!     undoes: None,
//!     idea: None,
//!     edits: format!(r#"[{{"photo":"{photo}"}}]"#),
//!     form: 1,
//! };
//! assert_eq!(store.append(7, 0, &entry)?, 1);
//! // The entry's id is its idempotency key: a tablet that never heard the answer may send it again.
//! assert!(matches!(store.append(7, 0, &entry), Err(AppendError::Duplicate { sequence: 1 })));
//! // A stale tab is told where the document is by now.
//! let late = Entry { id: 2, ..entry };
//! assert!(matches!(store.append(7, 0, &late), Err(AppendError::Stale { current: 1 })));
//! assert_eq!(store.since(7, 0)?.len(), 1);
//! # Ok(())
//! # }
//! ```
//!
//! Main types: [`Store`] is the folder; [`Journals`] is the narrow interface that any database must fulfil, and the `contract`
//! feature holds the suite for it; [`Error`] is a sentence for people with a kind for callers; [`Doctor`] is the state for a
//! report of trouble.
//!
//! It does not know what an edit means: edits are JSON text, snapshots are bytes. It reads no clock for the record (times come
//! with the entry) and makes no ids.

#[cfg(any(test, feature = "contract"))]
pub mod contract;
mod doctor;
mod entry;
mod error;
mod form;
mod journals;
mod mounts;
mod open;
mod photos;
mod rows;
mod search;
mod sha256;
mod store;

pub use doctor::{Counts, Doctor};
pub use entry::{Document, Entry, id_from_text, id_text};
pub use error::{AppendError, Error, Kind};
pub use journals::{Found, Hit, Journals, Lease, SEARCH_LIMIT, Snapshot};
pub use mounts::FileSystem;
pub use open::OpenMode;
pub use sha256::Sha256;
pub use store::Store;
