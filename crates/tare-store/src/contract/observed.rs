//! Journals that note which of their methods were used.

use crate::entry::{Document, Entry};
use crate::error::{AppendError, Error};
use crate::journals::{Hit, Journals, Lease, Snapshot};
use crate::sha256::Sha256;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

/// How often each method answered and refused, shared between handles.
pub type Uses = Arc<Mutex<BTreeMap<&'static str, Use>>>;

/// How often one method answered and refused.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Use {
    /// Times it succeeded.
    pub answered: u64,
    /// Times it failed.
    pub refused: u64,
}

/// Passes everything on and keeps count.
pub struct Observed<J> {
    inner: J,
    uses: Uses,
}

impl<J> Observed<J> {
    /// Observes `inner`, counting into `uses`.
    pub fn new(inner: J, uses: Uses) -> Self {
        Self { inner, uses }
    }

    fn note<T, E>(&self, method: &'static str, answer: Result<T, E>) -> Result<T, E> {
        let mut uses = self.uses.lock().unwrap_or_else(PoisonError::into_inner);
        let count = uses.entry(method).or_default();
        match answer {
            Ok(_) => count.answered += 1,
            Err(_) => count.refused += 1,
        }
        answer
    }
}

/// Writes the passing on of each method, so that none can note another's name.
macro_rules! observe {
    ($(fn $method:ident(&self $(, $name:ident: $ty:ty)*) -> Result<$ok:ty, $err:ty>;)*) => {
        impl<J: Journals> Journals for Observed<J> {
            $(fn $method(&self $(, $name: $ty)*) -> Result<$ok, $err> {
                self.note(stringify!($method), self.inner.$method($($name),*))
            })*
        }
    };
}

observe! {
    fn documents(&self) -> Result<Vec<Document>, Error>;
    fn create_document(&self, id: u128, kind: &str, name: &str) -> Result<(), Error>;
    fn append(&self, document: u128, expected_sequence: u64, entry: &Entry) -> Result<u64, AppendError>;
    fn since(&self, document: u128, sequence: u64) -> Result<Vec<Entry>, Error>;
    fn head(&self, document: u128) -> Result<u64, Error>;
    fn put_snapshot(&self, document: u128, sequence: u64, form: u32, bytes: &[u8]) -> Result<(), Error>;
    fn snapshot(&self, document: u128) -> Result<Option<Snapshot>, Error>;
    fn put_texts(&self, texts: &[&str]) -> Result<Vec<Sha256>, Error>;
    fn text(&self, sha256: Sha256) -> Result<Option<String>, Error>;
    fn remember(&self, key: &str, value: &str) -> Result<(), Error>;
    fn recall(&self, key: &str) -> Result<Option<String>, Error>;
    fn put_blob(&self, bytes: &[u8]) -> Result<Sha256, Error>;
    fn blob(&self, sha256: Sha256) -> Result<Option<Vec<u8>>, Error>;
    fn index(&self, document: u128, subject: &str, text: &str) -> Result<(), Error>;
    fn search(&self, text: &str) -> Result<Vec<Hit>, Error>;
    fn lease_labels(&self, document: u128, device: &str, count: u32) -> Result<Range<u32>, Error>;
    fn leases(&self, document: u128) -> Result<Vec<Lease>, Error>;
}
