//! What of a report is printed, and on which paper.

use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A size of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Paper {
    /// 210 mm x 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 in x 11 in.
    Letter,
}

impl Paper {
    /// The word on the command line and in style sheets.
    pub fn word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "letter",
        }
    }
}

/// What of a report is printed, and how.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Printing {
    /// The paper.
    pub paper: Paper,
    /// Ids of the sections to print, of those that [`section_names`](crate::section_names) lists; all where none are chosen. What is left out
    /// is named on the cover.
    pub chosen: Option<BTreeSet<String>>,
    /// Whether only the summary is printed, under a head of a few lines instead of a cover.
    pub summary_alone: bool,
    /// Ids of sections whose numbers are on their way, which the page says in their place.
    pub computing: BTreeSet<String>,
    /// On which page of paper sections begin, by their id; the contents and links on paper say it. Only who has printed it once can know.
    pub pages: BTreeMap<String, usize>,
    /// By how many steps of a twentieth text on paper is smaller than usual.
    pub smaller: u8,
}

/// The most steps by which text may be smaller: below it nobody reads it.
pub const SMALLEST: u8 = 6;

impl Printing {
    /// Whether a section is printed.
    pub(crate) fn has(&self, id: &str) -> bool {
        if self.summary_alone { id == "summary" } else { self.chosen.as_ref().is_none_or(|chosen| chosen.contains(id)) }
    }
}

/// What stands on the cover beside title, product and scenario.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Cover {
    /// The day it was written: `2025-03-14`.
    pub date: String,
    /// For whom it is: `the people of the workspace`.
    pub reader: String,
    /// The release it shows, if it shows one.
    pub release: String,
}
