//! The interface every database must fulfil.

use crate::entry::{Document, Entry};
use crate::error::{AppendError, Error};
use crate::sha256::Sha256;
use serde::{Deserialize, Serialize};
use std::ops::Range;

/// The most hits that [`Journals::search`] returns.
pub const SEARCH_LIMIT: usize = 200;

/// A stored state of a document; a cache that may be lost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Snapshot {
    /// The last entry that is part of it.
    pub sequence: u64,
    /// The form version of the bytes.
    pub form: u32,
    /// The state, in the caller's own form.
    pub bytes: Vec<u8>,
}

/// A block of bag labels that one device may give out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lease {
    /// The device that holds the block.
    pub device: String,
    /// The labels.
    pub labels: Range<u32>,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hit {
    /// The document it is in.
    #[serde(with = "crate::entry::id")]
    pub document: u128,
    /// The entry or the subject.
    pub found: Found,
    /// The text that was matched.
    pub text: String,
}

/// Where a searched text stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Found {
    /// In the summary of the entry with this sequence number.
    Entry(u64),
    /// In the text indexed for this subject.
    Subject(String),
}

/// Journals of documents, with what stands beside them.
///
/// Every method is one step: it happens whole or not at all, and is on the disk when it returns. Handles are shared between
/// threads; several handles and several programs may work on one workspace.
pub trait Journals: Send + Sync {
    /// Lists the documents in the order of their creation.
    fn documents(&self) -> Result<Vec<Document>, Error>;

    /// Creates a document with an id made by the caller.
    ///
    /// The same id with the same kind and name again is accepted and changes nothing; with another kind or name it is
    /// refused ([`Kind::Taken`](crate::Kind::Taken)).
    fn create_document(&self, id: u128, kind: &str, name: &str) -> Result<(), Error>;

    /// Adds an entry after the entry `expected_sequence` (0 for the first) and returns its sequence number.
    ///
    /// An id that is known already comes first ([`AppendError::Duplicate`], [`AppendError::Reused`]), then a document that has moved on
    /// ([`AppendError::Stale`]). Photos and texts that the edits name must have been put before.
    fn append(&self, document: u128, expected_sequence: u64, entry: &Entry) -> Result<u64, AppendError>;

    /// Reads the entries after `sequence`, in order.
    fn since(&self, document: u128, sequence: u64) -> Result<Vec<Entry>, Error>;

    /// The sequence number of the last entry; 0 when there is none.
    fn head(&self, document: u128) -> Result<u64, Error>;

    /// Keeps the state of a document as of `sequence`.
    ///
    /// One snapshot is kept for each document: a later one replaces an earlier one, any replaces one of another form
    /// version. A sequence beyond the head is refused.
    fn put_snapshot(&self, document: u128, sequence: u64, form: u32, bytes: &[u8]) -> Result<(), Error>;

    /// The snapshot of a document, if there is one.
    fn snapshot(&self, document: u128) -> Result<Option<Snapshot>, Error>;

    /// Keeps texts (locked calculations, tables, rate books), all or none, and returns their addresses in order.
    fn put_texts(&self, texts: &[&str]) -> Result<Vec<Sha256>, Error>;

    /// The text with this address, checked against it.
    fn text(&self, sha256: Sha256) -> Result<Option<String>, Error>;

    /// Keeps `value` under `key` in place of what was there.
    fn remember(&self, key: &str, value: &str) -> Result<(), Error>;

    /// What is kept under `key`.
    fn recall(&self, key: &str) -> Result<Option<String>, Error>;

    /// Keeps bytes (a photo) and returns their address; they are on the disk when it returns.
    fn put_blob(&self, bytes: &[u8]) -> Result<Sha256, Error>;

    /// The bytes with this address, checked against it.
    fn blob(&self, sha256: Sha256) -> Result<Option<Vec<u8>>, Error>;

    /// Makes `text` findable for a subject of a document, in place of its earlier text; an empty text takes it out.
    fn index(&self, document: u128, subject: &str, text: &str) -> Result<(), Error>;

    /// Finds entry summaries and indexed texts that hold every word of `text`, or words that begin with them.
    ///
    /// Letter case does not matter, accents do. A word is a run of letters and digits; a text without one finds nothing. At most
    /// [`SEARCH_LIMIT`] hits, those first that were added last; a subject keeps its place when its text is replaced.
    fn search(&self, text: &str) -> Result<Vec<Hit>, Error>;

    /// Gives a device the next `count` bag labels of a document, from 1; no label is ever given out twice.
    fn lease_labels(&self, document: u128, device: &str, count: u32) -> Result<Range<u32>, Error>;

    /// Lists the blocks of labels given out in a document, in order.
    fn leases(&self, document: u128) -> Result<Vec<Lease>, Error>;
}
