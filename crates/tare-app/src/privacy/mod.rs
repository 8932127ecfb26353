//! For whom something is written: what leaves the workspace is masked for its class before anything is computed from it.
//!
//! A [`Masker`] turns a document and the texts it is computed with into masked ones (docs/privacy.md says what of them, from the table in `rules`).
//! Whoever writes or computes afterwards has seen nothing else, so that nothing can leak through a formula, a total or a message.

mod library;
mod marks;
mod mask;
mod names;
mod photos;
mod price;
mod rules;

#[cfg(test)]
mod tests;

use crate::held::Texts;
use names::Names;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use tare_model::Document;

/// For whom an export or a release is meant, from the closest to the widest circle.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Class {
    /// The people of the workspace: nothing is masked.
    #[default]
    Own,
    /// The client who asked for the study.
    Client,
    /// Anybody.
    Open,
}

impl Class {
    /// All classes, from the closest circle to the widest.
    pub const ALL: [Self; 3] = [Self::Own, Self::Client, Self::Open];

    /// The word used in files and on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Own => "own",
            Self::Client => "client",
            Self::Open => "open",
        }
    }

    /// The class with this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|class| class.word() == word)
    }
}

/// Who reads, and whether licensed prices are left out for them or given as bands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Readers {
    /// The class.
    pub class: Class,
    /// Licensed prices are left out: what depends on them is not costed, and says so.
    pub withhold: bool,
}

impl Readers {
    /// Whether anything is masked for them.
    pub fn are_others(self) -> bool {
        self.class != Class::Own
    }
}

/// Something that was masked, and how often.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MaskedRow {
    /// What it is.
    pub what: String,
    /// How many places.
    pub count: usize,
}

/// What was done to a document before it is given away.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Told {
    /// For whom.
    pub class: Class,
    /// What was masked.
    pub masked: Vec<MaskedRow>,
    /// How many prices under licence were given as bands or left out; totals then differ from the study's own.
    pub prices: usize,
    /// Whether they were left out.
    pub withheld: bool,
    /// What a person should look at before giving it away.
    pub look: Vec<String>,
}

impl Told {
    /// What was masked, in one line.
    pub fn line(&self) -> String {
        let rows: Vec<String> = self.masked.iter().map(|row| format!("{} {}", row.count, row.what)).collect();
        let said = if rows.is_empty() { "nothing to mask".to_owned() } else { format!("masked: {}", rows.join(", ")) };
        let prices = match self.prices {
            0 => String::new(),
            n if self.withheld => format!("; {n} licensed prices left out, so that totals differ from the study's own"),
            n => format!("; {n} licensed prices given as bands, so that totals differ from the study's own"),
        };
        format!("for {}: {said}{prices}", self.class.word())
    }
}

/// A document and its texts as others may see them.
#[derive(Clone, Debug)]
pub struct Masked {
    /// The document.
    pub document: Document,
    /// Library and rate books to compute it with.
    pub texts: Texts,
    /// What was done.
    pub told: Told,
}

/// Masks the documents of one export, in which one name has one pseudonym.
#[derive(Clone, Debug, Default)]
pub struct Masker {
    readers: Readers,
    names: Names,
    counts: BTreeMap<&'static str, usize>,
    prices: usize,
    look: Vec<String>,
}

impl Masker {
    /// For readers.
    pub fn new(readers: Readers) -> Self {
        Self { readers, ..Self::default() }
    }

    /// For whom.
    pub fn readers(&self) -> Readers {
        self.readers
    }

    fn count(&mut self, what: &'static str, times: usize) {
        if times > 0 {
            *self.counts.entry(what).or_default() += times;
        }
    }
}

/// The table of what is masked for whom, as docs/privacy.md holds it.
pub fn reference() -> String {
    rules::reference()
}
