//! The texts of a release: exactly those its numbers rest on, and nothing of today's beside them.

use super::Release;
use crate::held::Texts;
use crate::held_text::{book_document, file_of};
use crate::session::Session;
use crate::workspace::Workspace;
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Document, Field};
use tare_store::{Journals, Sha256};
use tare_study::{Study, constituents};

/// Texts by key.
pub(crate) type ByKey = BTreeMap<String, String>;

impl Texts {
    /// All texts that the numbers of a document rest on, and the study compiled with them. Quantities are taken as a whole: they declare the units
    /// of rates as well. Of a family that constituents name one material is enough.
    pub(crate) fn all_used(&self, document: &Document) -> (ByKey, Study) {
        let (mut texts, study) = self.used(document);
        let quantities = self.library.quantities().map(|quantity| format!("quantities/{}", quantity.name));
        let named = document.records().filter_map(|record| record.text(Field::Constituents)).flat_map(constituents);
        let families = named.filter_map(|(family, _)| self.library.materials().find(|material| material.family == family));
        let families = families.map(|material| format!("materials/{}", material.key));
        texts.extend(quantities.chain(families).filter_map(|key| self.current(&key).map(|text| (key, text))));
        (texts, study)
    }

    /// Nothing but texts by key, over what no number rests on.
    ///
    /// # Errors
    /// A text that does not read.
    pub(crate) fn only(base: &Library, texts: &ByKey) -> Result<Self, Diag> {
        let (mut books, mut files) = (Vec::new(), Vec::new());
        for (key, text) in texts {
            if key.starts_with("books/") {
                books.push(book_document(text).ok_or_else(|| does_not_read(key, "no records"))?);
            } else {
                files.push((file_of(key), text.as_str()));
            }
        }
        let (library, problems) = base.without_numbers().with_own(files.iter().map(|(name, text)| (name.as_str(), *text)));
        if let Some(wrong) = problems.iter().find(|problem| problem.is_error()) {
            let place = wrong.place.as_ref().map(ToString::to_string).unwrap_or_default();
            return Err(does_not_read(&place, &wrong.message));
        }
        Ok(Self { library: Arc::new(library), books })
    }
}

fn does_not_read(key: &str, why: &str) -> Diag {
    Diag::error("release-text", format!("a text of the release does not read any more ({why})")).at(Place::address(key))
}

impl Workspace {
    /// The texts of a release, by key.
    ///
    /// # Errors
    /// One message: the first that is not in the workspace, with how many more are missing.
    pub(crate) fn texts_of(&self, release: &Release) -> Result<ByKey, Diag> {
        let gone = |what: String, place: Place| {
            let says = format!("{what} that release {} froze is not in the workspace", release.number);
            Diag::error("release-text-missing", says).at(place).hint("restore the workspace from a backup")
        };
        let text = |digest: Sha256| self.store.text(digest).map_err(|e| e.diag());
        let list = text(release.frozen.texts)?.ok_or_else(|| gone("the list of texts".to_owned(), Place::address("texts")))?;
        let list: BTreeMap<String, Sha256> =
            serde_json::from_str(&list).map_err(|e| does_not_read("list of texts", &e.to_string()))?;
        let (mut found, mut missing) = (ByKey::new(), Vec::new());
        for (key, digest) in list {
            match text(digest)? {
                Some(text) => drop(found.insert(key, text)),
                None => missing.push(key),
            }
        }
        match missing.as_slice() {
            [] => Ok(found),
            [one] => Err(gone(format!("the text of `{one}`"), Place::address(one))),
            [first, rest @ ..] => {
                let diag = gone(format!("the text of `{first}`"), Place::address(first));
                Err(Diag { message: format!("{}, nor are {} more", diag.message, rest.len()), ..diag })
            }
        }
    }
}

impl Session {
    /// Keeps texts and the list of them; gives the address of the list.
    pub(crate) fn freeze(&self, texts: &ByKey) -> Result<Sha256, Vec<Diag>> {
        let digests: BTreeMap<&str, String> =
            texts.iter().map(|(key, text)| (key.as_str(), Sha256::of(text.as_bytes()).to_string())).collect();
        let list = serde_json::to_string_pretty(&digests).map_err(|e| vec![Diag::error("release-form", e.to_string())])?;
        let all: Vec<&str> = texts.values().map(String::as_str).chain([list.as_str()]).collect();
        let kept = self.workspace.store.put_texts(&all).map_err(|e| vec![e.diag()])?;
        kept.last().copied().ok_or_else(|| vec![Diag::error("release-form", "nothing was kept")])
    }

    /// The texts of a release, to compute with.
    pub(crate) fn thawed(&self, release: &Release) -> Result<Texts, Diag> {
        Texts::only(&self.library, &self.workspace.texts_of(release)?)
    }
}
