//! For whom something is written: what leaves the workspace is masked for its class before anything is computed from it.

use serde::{Deserialize, Serialize};

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
