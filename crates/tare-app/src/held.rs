//! What a study computes with: a library and rate books, as they are now or as the study holds on to them.

use crate::held_text::{book_document, current, file_of};
use crate::workspace::{Workspace, name_of};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use tare_calc::GroupKind;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Document, Field, Kind, Record};
use tare_store::{Journals, Sha256};
use tare_study::{Sources, Study, compile, constituents};

/// The texts a study computes with.
#[derive(Clone, Debug)]
pub struct Texts {
    pub(crate) library: Arc<Library>,
    /// Rate books of the workspace.
    pub(crate) books: Vec<Document>,
}

impl Workspace {
    /// The texts as they are now.
    pub(crate) fn present(&self, library: &Arc<Library>) -> Result<Texts, Vec<Diag>> {
        Ok(Texts { library: Arc::clone(library), books: self.books().map_err(|d| vec![d])? })
    }

    /// The texts a study holds on to, laid over those as they are now.
    ///
    /// # Errors
    /// A held text that is not in the workspace any more, or does not read.
    pub(crate) fn held(&self, library: &Arc<Library>, document: &Document) -> Result<Texts, Vec<Diag>> {
        let mut texts = self.present(library)?;
        let (mut files, mut problems) = (Vec::new(), Vec::new());
        for lock in document.of_kind(None, Kind::Lock) {
            let (Some(key), Some(digest)) = (lock.text(Field::Key), lock.text(Field::Digest)) else { continue };
            // A book of the workspace that came later must not stand in front of one of the library that is held.
            if let Some(name) = key.strip_prefix("rates/").filter(|name| !holds(document, &format!("books/{name}"))) {
                texts.books.retain(|book| name_of(book) != Some(name));
            }
            if texts.current(key).is_some_and(|text| Sha256::of(text.as_bytes()).to_string() == digest) {
                continue;
            }
            let text = digest.parse().ok().map(|d| self.store.text(d)).transpose().map_err(|e| vec![e.diag()])?.flatten();
            match (text, key.strip_prefix("books/")) {
                (Some(text), Some(name)) => match book_document(&text) {
                    Some(book) => {
                        texts.books.retain(|book| name_of(book) != Some(name));
                        texts.books.push(book);
                    }
                    None => problems.push(unreadable(key, "does not read")),
                },
                (Some(text), None) => files.push((file_of(key), text)),
                (None, _) => problems.push(unreadable(key, "is not in the workspace")),
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        if !files.is_empty() {
            let over = files.iter().map(|(name, text)| (name.as_str(), text.as_str()));
            texts.library = Arc::new((*texts.library).clone().with_own(over).0);
        }
        Ok(texts)
    }
}

fn holds(document: &Document, key: &str) -> bool {
    document.of_kind(None, Kind::Lock).any(|lock| lock.text(Field::Key) == Some(key))
}

fn unreadable(key: &str, what: &str) -> Diag {
    Diag::error("lock-missing", format!("the text of `{key}` that the study holds on to {what}"))
        .hint("restore the workspace from a backup, or take the present texts with `tare edit renew`")
}

impl Texts {
    /// A document compiled with them.
    pub(crate) fn compile(&self, document: &Document) -> Study {
        let books: Vec<&Document> = self.books.iter().collect();
        compile(Sources { study: document, books: &books, library: &self.library })
    }

    /// The text of a key.
    pub(crate) fn current(&self, key: &str) -> Option<String> {
        current(&self.library, &self.books, key)
    }

    /// The texts of everything a study uses, by key; and the study, which was compiled to find out.
    pub(crate) fn used(&self, document: &Document) -> (BTreeMap<String, String>, Study) {
        let study = self.compile(document);
        let mut keys = self.calculations(document, &study);
        keys.extend(self.materials(document, &keys));
        for record in document.records() {
            keys.extend(record.text(Field::Key).filter(|k| self.library.fastener(k).is_some()).map(|k| format!("fasteners/{k}")));
            keys.extend(record.text(Field::Book).map(|name| self.book_key(name)));
            keys.extend(self.quantity(document, record).map(|name| format!("quantities/{name}")));
        }
        let texts = keys.into_iter().filter_map(|key| self.current(&key).map(|text| (key, text))).collect();
        (texts, study)
    }

    /// Calculations that were placed, and those they use.
    fn calculations(&self, document: &Document, study: &Study) -> BTreeSet<String> {
        let mut open: Vec<String> = study.lines.templates.iter().map(|t| t.key.clone()).collect();
        // Named, though nothing could be computed with it yet.
        let named = document.records().flat_map(|r| [r.text(Field::Calculation), r.text(Field::BuildUp)]);
        open.extend(named.flatten().map(str::to_owned));
        let mut keys = BTreeSet::new();
        while let Some(key) = open.pop() {
            let Some(calculation) = self.library.find(&key) else { continue };
            if keys.insert(key) {
                open.extend(calculation.uses.iter().map(|u| u.calculation.value.clone()));
            }
        }
        keys
    }

    /// Materials of items, of constituents, and of what calculations take beside.
    fn materials(&self, document: &Document, calculations: &BTreeSet<String>) -> BTreeSet<String> {
        let mut found: BTreeSet<String> = BTreeSet::new();
        for record in document.records() {
            found.extend(record.text(Field::Material).map(str::to_owned));
            found.extend(record.text(Field::Constituents).map(constituents).into_iter().flatten().map(|(name, _)| name));
        }
        let groups = calculations.iter().filter_map(|key| self.library.find(key)).flat_map(|c| &c.owes.groups);
        let about = groups.filter(|g| matches!(g.kind, GroupKind::Material | GroupKind::Consumable));
        found.extend(about.filter_map(|g| g.about.as_ref()).map(|about| about.value.clone()));
        found.into_iter().filter(|key| self.library.material(key).is_some()).map(|key| format!("materials/{key}")).collect()
    }

    fn book_key(&self, name: &str) -> String {
        let own = self.books.iter().any(|book| name_of(book) == Some(name));
        format!("{}/{name}", if own { "books" } else { "rates" })
    }

    /// The declared quantity a value states: it carries the band and the spread taken where none is stated.
    fn quantity(&self, document: &Document, value: &Record) -> Option<String> {
        let name = value.text(Field::Quantity).filter(|_| value.kind == Kind::Value)?;
        let subject = document.get(value.parent?)?;
        self.library.quantity_on(subject.kind.word(), name).map(|known| known.name.clone())
    }
}
