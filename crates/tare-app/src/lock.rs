//! Texts a study holds on to: calculations, materials, quantities, fasteners and rate books by content hash, kept in the workspace.
//!
//! What an entry makes a study use for the first time is held by that entry. A newer library or book changes nothing until `renew`.

use crate::clock;
use crate::session::Session;
use crate::workspace::{Fresh, Loaded, Recorded, Stamp, Workspace};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Change, Document, DocumentKind, Edit, Field, FieldValue, Kind, Record, order_between};
use tare_store::{Journals, Sha256};

/// How one key differs between the texts a study holds and those there are now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// The calculation, material or book.
    pub key: String,
    /// `new`, `changed`, `gone` or `unused`.
    pub what: String,
}

/// Whether an edit does nothing but hold a text or let it go.
pub(crate) fn is_lock(edit: &Edit, document: &Document) -> bool {
    match edit {
        Edit::Set(set) => document.get(set.id).is_some_and(|r| r.kind == Kind::Lock),
        Edit::Add { records, .. } | Edit::Remove { records, .. } => records.iter().all(|r| r.kind == Kind::Lock),
        Edit::Move { .. } => false,
    }
}

impl Session {
    /// Takes the texts as they are now for everything a study uses. One entry, or none where nothing differs.
    ///
    /// # Errors
    /// Messages of the workspace or the store.
    pub fn renew_locks(&mut self, loaded: &mut Loaded, author: &str) -> Result<(Option<Recorded>, Vec<Difference>), Vec<Diag>> {
        let differences = self.lock_differences(&loaded.document)?;
        if differences.is_empty() {
            return Ok((None, differences));
        }
        let used = self.workspace.present(&self.library)?.used(&loaded.document).0;
        let standing: BTreeMap<&str, &Record> =
            loaded.document.of_kind(None, Kind::Lock).filter_map(|l| Some((l.text(Field::Key)?, l))).collect();
        let mut changes = self.workspace.keep(&loaded.document, &used, |key, digest| {
            let lock = standing.get(key)?;
            if lock.text(Field::Digest) == Some(digest) {
                return Some(Vec::new());
            }
            let set = |field, text: String| Change::Set { id: lock.id, field, to: Some(FieldValue::Text(text)) };
            Some(vec![set(Field::Digest, digest.to_owned()), set(Field::Date, clock::today())])
        })?;
        changes
            .extend(standing.iter().filter(|(key, _)| !used.contains_key(**key)).map(|(_, lock)| Change::Remove { id: lock.id }));
        let stamp = Stamp { author: author.to_owned(), says: format!("renew {} texts held", differences.len()) };
        Ok((Some(self.workspace.record(loaded, &changes, &stamp)?), differences))
    }

    /// How the texts a study holds differ from those there are now.
    ///
    /// # Errors
    /// Messages of the workspace.
    pub fn lock_differences(&self, document: &Document) -> Result<Vec<Difference>, Vec<Diag>> {
        let present = self.workspace.present(&self.library)?;
        let used = present.used(document).0;
        let held: BTreeMap<&str, &str> =
            document.of_kind(None, Kind::Lock).filter_map(|l| Some((l.text(Field::Key)?, l.text(Field::Digest)?))).collect();
        let mut differences = Vec::new();
        for (key, text) in &used {
            let digest = Sha256::of(text.as_bytes()).to_string();
            match held.get(key.as_str()) {
                None => differences.push(Difference { key: key.clone(), what: "new".to_owned() }),
                Some(known) if *known != digest => differences.push(Difference { key: key.clone(), what: "changed".to_owned() }),
                Some(_) => {}
            }
        }
        for key in held.keys().filter(|k| !used.contains_key(**k)) {
            let what = if present.current(key).is_some() { "unused" } else { "gone" };
            differences.push(Difference { key: (*key).to_owned(), what: what.to_owned() });
        }
        Ok(differences)
    }

    /// Keys of held texts that are different now: `renew` would take them.
    ///
    /// # Errors
    /// Messages of the workspace.
    pub fn newer_texts(&self, document: &Document) -> Result<Vec<String>, Vec<Diag>> {
        let present = self.workspace.present(&self.library)?;
        let locks = document.of_kind(None, Kind::Lock).filter_map(|l| Some((l.text(Field::Key)?, l.text(Field::Digest)?)));
        let differs =
            |key: &str, digest: &str| present.current(key).is_some_and(|text| Sha256::of(text.as_bytes()).to_string() != digest);
        Ok(locks.filter(|(key, digest)| differs(key, digest)).map(|(key, _)| key.to_owned()).collect())
    }
}

impl Workspace {
    /// Makes a study hold what it has come to use; gives the edits, which are carried out on the document.
    ///
    /// A study whose held texts cannot be read is left as it is: that is said wherever it is computed.
    pub(crate) fn hold_new(&self, library: &Arc<Library>, document: &mut Document) -> Result<Vec<Edit>, Vec<Diag>> {
        if document.kind != DocumentKind::Study {
            return Ok(Vec::new());
        }
        let Ok(texts) = self.held(library, document) else { return Ok(Vec::new()) };
        let (mut used, study) = texts.used(document);
        self.fresh.replace(Some(Fresh { document: document.id, head: None, study, library: texts.library }));
        for lock in document.of_kind(None, Kind::Lock) {
            if let Some(key) = lock.text(Field::Key) {
                used.remove(key);
            }
        }
        let changes = self.keep(document, &used, |_, _| None)?;
        document.change_all(&changes)
    }

    /// Keeps texts and gives the changes that hold them: those `standing` gives for a key and digest, else a new lock.
    pub(crate) fn keep(
        &self,
        document: &Document,
        texts: &BTreeMap<String, String>,
        standing: impl Fn(&str, &str) -> Option<Vec<Change>>,
    ) -> Result<Vec<Change>, Vec<Diag>> {
        if texts.is_empty() {
            return Ok(Vec::new());
        }
        let content: Vec<&str> = texts.values().map(String::as_str).collect();
        let digests = self.store.put_texts(&content).map_err(|e| vec![e.diag()])?;
        let (mut changes, mut order) = (Vec::new(), document.last_order(None));
        for (key, digest) in texts.keys().zip(digests) {
            let digest = digest.to_string();
            changes.extend(standing(key, &digest).unwrap_or_else(|| {
                let lock = Record::new(clock::new_id(), Kind::Lock).ordered(order.clone()).with_text(Field::Key, key.clone());
                order = order_between(Some(&order), None);
                vec![Change::Add { record: lock.with_text(Field::Digest, digest).with_text(Field::Date, clock::today()) }]
            }));
        }
        Ok(changes)
    }
}
