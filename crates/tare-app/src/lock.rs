//! Texts a study holds on to: calculations, materials and rate books by content hash, kept in the workspace.
//!
//! A study that is locked computes with those texts whatever a newer library says, until `renew` records newer ones.

use crate::clock;
use crate::session::Session;
use crate::workspace::{Loaded, Recorded, Stamp};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use tare_diag::Diag;
use tare_library::{Book, Library, Material};
use tare_model::{Change, Document, Field, FieldValue, Kind, Record, order_between};
use tare_store::{Journals, Sha256};

/// How one key differs between the texts a study holds and the library.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// The calculation, material or book.
    pub key: String,
    /// `new`, `changed`, `gone` or `unused`.
    pub what: String,
}

impl Session {
    /// Locks every text a study computes with, as the library has it now. One entry; the difference to what was locked is returned.
    ///
    /// # Errors
    /// Messages of compiling, of the store, or that nothing differs.
    pub fn renew_locks(&mut self, loaded: &mut Loaded, author: &str) -> Result<(Recorded, Vec<Difference>), Vec<Diag>> {
        let used = self.used_texts(&loaded.document)?;
        let differences = self.lock_differences(&loaded.document)?;
        if differences.is_empty() {
            return Err(vec![Diag::error("lock-same", "the study already holds the library's texts; nothing was changed")]);
        }
        let (mut changes, mut order) = (Vec::new(), loaded.document.last_order(None));
        let standing: BTreeMap<&str, &Record> =
            loaded.document.of_kind(None, Kind::Lock).filter_map(|l| Some((l.text(Field::Key)?, l))).collect();
        for (key, text) in &used {
            let digest = self.workspace.store.put_text(text).map_err(|e| vec![e.diag()])?.to_string();
            match standing.get(key.as_str()) {
                Some(lock) if lock.text(Field::Digest) == Some(digest.as_str()) => {}
                Some(lock) => {
                    let set = |field, text: String| Change::Set { id: lock.id, field, to: Some(FieldValue::Text(text)) };
                    changes.extend([set(Field::Digest, digest), set(Field::Date, clock::today())]);
                }
                None => {
                    let lock = Record::new(clock::new_id(), Kind::Lock).ordered(order.clone()).with_text(Field::Key, key.clone());
                    changes.push(Change::Add {
                        record: lock.with_text(Field::Digest, digest).with_text(Field::Date, clock::today()),
                    });
                    order = order_between(Some(&order), None);
                }
            }
        }
        changes
            .extend(standing.iter().filter(|(key, _)| !used.contains_key(**key)).map(|(_, lock)| Change::Remove { id: lock.id }));
        let verb = if standing.is_empty() { "lock" } else { "renew" };
        let stamp = Stamp { author: author.to_owned(), says: format!("{verb} {} texts of the library", differences.len()) };
        Ok((self.workspace.record(loaded, &changes, &stamp)?, differences))
    }

    /// How the texts a study holds differ from the library's.
    ///
    /// # Errors
    /// Messages of compiling.
    pub fn lock_differences(&self, document: &Document) -> Result<Vec<Difference>, Vec<Diag>> {
        let used = self.used_texts(document)?;
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
            let what = if current(&self.library, key).is_some() { "unused" } else { "gone" };
            differences.push(Difference { key: (*key).to_owned(), what: what.to_owned() });
        }
        Ok(differences)
    }

    /// The texts the library has now for everything a study uses, by key.
    fn used_texts(&self, document: &Document) -> Result<BTreeMap<String, String>, Vec<Diag>> {
        let study = self.compile_document(document)?;
        let mut keys: BTreeSet<String> = BTreeSet::new();
        let mut open: Vec<String> = study.lines.templates.iter().map(|t| t.key.clone()).collect();
        while let Some(key) = open.pop() {
            if keys.insert(key.clone())
                && let Some(calculation) = self.library.find(&key)
            {
                open.extend(calculation.uses.iter().map(|u| u.calculation.value.clone()));
            }
        }
        keys.extend(
            document
                .records()
                .filter_map(|r| r.text(Field::Material))
                .filter(|m| self.library.material(m).is_some())
                .map(|m| format!("materials/{m}")),
        );
        keys.extend(
            document
                .records()
                .filter_map(|r| r.text(Field::Book))
                .filter(|b| self.library.book(b).is_some())
                .map(|b| format!("rates/{b}")),
        );
        Ok(keys.into_iter().filter_map(|key| current(&self.library, &key).map(|text| (key, text))).collect())
    }

    /// The library with the texts a study holds laid over it.
    pub(crate) fn held_library(&self, document: &Document) -> Result<Library, Vec<Diag>> {
        let (mut files, mut problems) = (Vec::new(), Vec::new());
        for lock in document.of_kind(None, Kind::Lock) {
            let (Some(key), Some(digest)) = (lock.text(Field::Key), lock.text(Field::Digest)) else { continue };
            if current(&self.library, key).is_some_and(|text| Sha256::of(text.as_bytes()).to_string() == digest) {
                continue;
            }
            let text =
                digest.parse().ok().map(|d| self.workspace.store.text(d)).transpose().map_err(|e| vec![e.diag()])?.flatten();
            match text {
                Some(text) => files.push((file_of(key), text)),
                None => {
                    let says = format!("the text of `{key}` that the study holds on to is not in the workspace");
                    problems.push(
                        Diag::error("lock-missing", says).hint("restore the workspace from a backup, or run `tare edit renew`"),
                    );
                }
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let (library, _) = (*self.library).clone().with_own(files.iter().map(|(name, text)| (name.as_str(), text.as_str())));
        Ok(library)
    }
}

/// The name under which a locked text is laid over the library.
fn file_of(key: &str) -> String {
    match key.strip_prefix("materials/") {
        Some(material) => format!("material-{}.toml", material.replace('/', "-")),
        None => format!("{key}.toml"),
    }
}

/// The library's text for a key.
fn current(library: &Library, key: &str) -> Option<String> {
    if let Some(material) = key.strip_prefix("materials/") {
        return library.material(material).map(material_text);
    }
    if let Some(book) = key.strip_prefix("rates/") {
        return library.book(book).map(book_text);
    }
    library.find(key).map(|c| c.text.clone())
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// A material in the form of a library file.
fn material_text(material: &Material) -> String {
    let mut out = format!(
        "[material.{}]\nname = {}\nfamily = {}\n",
        quoted(&material.key),
        quoted(&material.name),
        quoted(&material.family)
    );
    for (name, property) in &material.properties {
        let (value, source) = (quoted(&property.value.text), quoted(&property.source));
        let _ = writeln!(out, "{} = {{ value = {value}, source = {source}, seen = {} }}", quoted(name), property.seen);
    }
    out
}

/// A rate book in the form of a library file.
fn book_text(book: &Book) -> String {
    let contains: Vec<String> = book.contains.iter().map(|c| quoted(c)).collect();
    let mut out = format!(
        "[book]\nname = {}\ncurrency = {}\ndate = {}\nplace = {}\nillustrative = {}\ncontains = [{}]\n",
        quoted(&book.name),
        quoted(&book.currency),
        quoted(&book.date),
        quoted(&book.place),
        book.illustrative,
        contains.join(", ")
    );
    for (key, rate) in &book.rates {
        let _ =
            writeln!(out, "\n[rate.{}]\nvalue = {}\nsource = {}", quoted(key), quoted(&rate.value.text), quoted(&rate.source));
        if let Some(says) = &rate.says {
            let _ = writeln!(out, "says = {}", quoted(says));
        }
    }
    out
}
