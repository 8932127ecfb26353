//! The reference: journals in memory, written for plainness.

use crate::entry::{Document, Entry, check_text};
use crate::error::{AppendError, Error};
use crate::journals::{Found, Hit, Journals, Lease, SEARCH_LIMIT, Snapshot};
use crate::search::words;
use crate::sha256::Sha256;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Journals that are gone when the last handle is; clones are handles to the same ones.
#[derive(Clone, Debug, Default)]
pub struct Memory(Arc<Mutex<State>>);

#[derive(Debug, Default)]
struct State {
    documents: Vec<Kept>,
    texts: BTreeMap<Sha256, String>,
    blobs: BTreeMap<Sha256, Vec<u8>>,
    memory: BTreeMap<String, String>,
    searched: Vec<Hit>,
}

#[derive(Debug)]
struct Kept {
    id: u128,
    kind: String,
    name: String,
    entries: Vec<Entry>,
    snapshot: Option<Snapshot>,
    leases: Vec<Lease>,
}

impl State {
    fn find(&mut self, id: u128) -> Result<&mut Kept, Error> {
        self.documents.iter_mut().find(|kept| kept.id == id).ok_or_else(|| Error::unknown_document(id))
    }

    fn entry(&self, id: u128) -> Option<&Entry> {
        self.documents.iter().flat_map(|kept| &kept.entries).find(|entry| entry.id == id)
    }
}

impl Memory {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Journals for Memory {
    fn documents(&self) -> Result<Vec<Document>, Error> {
        let list = |kept: &Kept| Document {
            id: kept.id,
            kind: kept.kind.clone(),
            name: kept.name.clone(),
            head: kept.entries.len() as u64,
        };
        Ok(self.state().documents.iter().map(list).collect())
    }

    fn create_document(&self, id: u128, kind: &str, name: &str) -> Result<(), Error> {
        check_text("kind", kind)?;
        check_text("name", name)?;
        let mut state = self.state();
        if let Ok(there) = state.find(id) {
            return if there.kind == kind && there.name == name { Ok(()) } else { Err(Error::taken_document(id)) };
        }
        let (kind, name) = (kind.to_string(), name.to_string());
        state.documents.push(Kept { id, kind, name, entries: Vec::new(), snapshot: None, leases: Vec::new() });
        Ok(())
    }

    fn append(&self, document: u128, expected_sequence: u64, entry: &Entry) -> Result<u64, AppendError> {
        entry.check(document)?;
        let mut state = self.state();
        let current = state.find(document)?.entries.len() as u64;
        if let Some(there) = state.entry(entry.id) {
            let (document, sequence) = (there.document, there.sequence);
            let same = there.same_substance(entry);
            return Err(if same { AppendError::Duplicate { sequence } } else { AppendError::Reused { document, sequence } });
        }
        if current != expected_sequence {
            return Err(AppendError::Stale { current });
        }
        if let Some(undone) = entry.undoes
            && state.entry(undone).is_none_or(|undone| undone.document != document)
        {
            return Err(Error::nothing_to_undo(undone).into());
        }
        let sequence = current + 1;
        state.find(document)?.entries.push(Entry { sequence, ..entry.clone() });
        if !entry.says.is_empty() {
            state.searched.push(Hit { document, found: Found::Entry(sequence), text: entry.says.clone() });
        }
        Ok(sequence)
    }

    fn since(&self, document: u128, sequence: u64) -> Result<Vec<Entry>, Error> {
        Ok(self.state().find(document)?.entries.iter().filter(|entry| entry.sequence > sequence).cloned().collect())
    }

    fn head(&self, document: u128) -> Result<u64, Error> {
        Ok(self.state().find(document)?.entries.len() as u64)
    }

    fn put_snapshot(&self, document: u128, sequence: u64, form: u32, bytes: &[u8]) -> Result<(), Error> {
        let mut state = self.state();
        let kept = state.find(document)?;
        let head = kept.entries.len() as u64;
        if sequence > head {
            return Err(Error::snapshot_ahead(sequence, head));
        }
        if kept.snapshot.as_ref().is_none_or(|there| sequence >= there.sequence || form != there.form) {
            kept.snapshot = Some(Snapshot { sequence, form, bytes: bytes.to_vec() });
        }
        Ok(())
    }

    fn snapshot(&self, document: u128) -> Result<Option<Snapshot>, Error> {
        Ok(self.state().find(document)?.snapshot.clone())
    }

    fn put_texts(&self, texts: &[&str]) -> Result<Vec<Sha256>, Error> {
        texts.iter().try_for_each(|text| check_text("text", text))?;
        let keep = |text: &&str| {
            let sha256 = Sha256::of(text.as_bytes());
            self.state().texts.insert(sha256, (*text).to_string());
            sha256
        };
        Ok(texts.iter().map(keep).collect())
    }

    fn text(&self, sha256: Sha256) -> Result<Option<String>, Error> {
        Ok(self.state().texts.get(&sha256).cloned())
    }

    fn remember(&self, key: &str, value: &str) -> Result<(), Error> {
        check_text("key", key)?;
        check_text("value", value)?;
        self.state().memory.insert(key.to_string(), value.to_string());
        Ok(())
    }

    fn recall(&self, key: &str) -> Result<Option<String>, Error> {
        Ok(self.state().memory.get(key).cloned())
    }

    fn put_blob(&self, bytes: &[u8]) -> Result<Sha256, Error> {
        let sha256 = Sha256::of(bytes);
        self.state().blobs.insert(sha256, bytes.to_vec());
        Ok(sha256)
    }

    fn blob(&self, sha256: Sha256) -> Result<Option<Vec<u8>>, Error> {
        Ok(self.state().blobs.get(&sha256).cloned())
    }

    fn index(&self, document: u128, subject: &str, text: &str) -> Result<(), Error> {
        check_text("subject", subject)?;
        check_text("text", text)?;
        let mut state = self.state();
        state.find(document)?;
        let found = Found::Subject(subject.to_string());
        let at = state.searched.iter().position(|hit| hit.document == document && hit.found == found);
        match at {
            Some(at) if text.is_empty() => drop(state.searched.remove(at)),
            Some(at) => state.searched[at].text = text.to_string(),
            None if text.is_empty() => {}
            None => state.searched.push(Hit { document, found, text: text.to_string() }),
        }
        Ok(())
    }

    fn search(&self, text: &str) -> Result<Vec<Hit>, Error> {
        let sought = words(text);
        let holds = |hit: &&Hit| {
            let held: Vec<String> = hit.text.split(|c: char| !c.is_alphanumeric()).map(str::to_lowercase).collect();
            !sought.is_empty() && sought.iter().all(|word| held.iter().any(|held| held.starts_with(word)))
        };
        Ok(self.state().searched.iter().rev().filter(holds).take(SEARCH_LIMIT).cloned().collect())
    }

    fn lease_labels(&self, document: u128, device: &str, count: u32) -> Result<Range<u32>, Error> {
        check_text("device", device)?;
        let mut state = self.state();
        let leases = &mut state.find(document)?.leases;
        let first = leases.last().map_or(1, |lease| lease.labels.end);
        let past = first.checked_add(count).filter(|_| count > 0).ok_or_else(|| Error::no_labels(first, count))?;
        leases.push(Lease { device: device.to_string(), labels: first..past });
        Ok(first..past)
    }

    fn leases(&self, document: u128) -> Result<Vec<Lease>, Error> {
        Ok(self.state().find(document)?.leases.clone())
    }
}
