//! Texts by code, and the same texts in small letters to search in.

use rustc_hash::FxHashMap;
use serde::{Deserialize, Serialize};

/// Every text of one study's facts, sorted; the code of a text is its place.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "Vec<String>", into = "Vec<String>")]
pub struct Texts {
    sorted: Vec<String>,
    /// In small letters, in the same order; made again when read, as it says nothing new.
    small: Vec<String>,
}

impl From<Vec<String>> for Texts {
    fn from(sorted: Vec<String>) -> Self {
        let small = sorted.iter().map(|t| t.to_lowercase()).collect();
        Self { sorted, small }
    }
}

impl From<Texts> for Vec<String> {
    fn from(texts: Texts) -> Self {
        texts.sorted
    }
}

impl Texts {
    /// How many there are.
    pub fn count(&self) -> usize {
        self.sorted.len()
    }

    /// The text of a code.
    pub fn get(&self, code: u32) -> Option<&str> {
        self.sorted.get(code as usize).map(String::as_str)
    }

    /// The code of a text.
    pub fn code(&self, text: &str) -> Option<u32> {
        self.sorted.binary_search_by(|t| t.as_str().cmp(text)).ok().and_then(|at| u32::try_from(at).ok())
    }

    /// The text of a code in small letters.
    pub(crate) fn small(&self, code: u32) -> Option<&str> {
        self.small.get(code as usize).map(String::as_str)
    }

    pub(crate) fn bytes(&self) -> usize {
        self.sorted.iter().map(|t| 2 * (t.len() + size_of::<String>())).sum()
    }
}

/// Texts being gathered: codes in the order of first use until [`Gathered::sort`].
#[derive(Debug, Default)]
pub(crate) struct Gathered(FxHashMap<String, u32>);

impl Gathered {
    /// The code of a text.
    pub(crate) fn code(&mut self, text: &str) -> u32 {
        if let Some(known) = self.0.get(text) {
            return *known;
        }
        let code = u32::try_from(self.0.len()).unwrap_or(super::NONE);
        self.0.insert(text.to_owned(), code);
        code
    }

    /// The sorted texts, and for each code so far its final one.
    pub(crate) fn sort(self) -> (Texts, Vec<u32>) {
        let mut finals = vec![super::NONE; self.0.len()];
        let mut sorted = Vec::with_capacity(self.0.len());
        let mut all: Vec<(String, u32)> = self.0.into_iter().collect();
        all.sort_unstable();
        for (text, code) in all {
            finals[code as usize] = u32::try_from(sorted.len()).unwrap_or(super::NONE);
            sorted.push(text);
        }
        (Texts::from(sorted), finals)
    }
}
