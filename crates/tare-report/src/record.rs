//! What people recorded and what the computation has to say: findings, holds, differing values, problems.

use serde::{Deserialize, Serialize};
use tare_diag::{Diag, Severity};

/// Something seen on the product.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Finding {
    /// Kind: `corrosion`, `design feature`.
    pub kind: String,
    /// Severity in words.
    pub severity: String,
    /// What it is about, in a few words.
    pub title: String,
    /// What was seen.
    pub text: String,
    /// Ids of parts.
    pub parts: Vec<String>,
    /// Ids of photos.
    pub photos: Vec<String>,
    /// Who and when.
    pub who: String,
}

/// A safety or hand-over point.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Hold {
    /// The hold: `absence of voltage proved`.
    pub name: String,
    /// Whether a named person has recorded it.
    pub recorded: bool,
    /// Who recorded it.
    pub who: String,
    /// When.
    pub when: String,
    /// What was recorded: reading, instrument, words.
    pub words: String,
    /// What waits behind it.
    pub waits: String,
}

/// A quantity for which several values stand side by side.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DiffersRow {
    /// Whose: `module 3, housing`.
    pub subject: String,
    /// Which: `mass`.
    pub quantity: String,
    /// The values.
    pub values: Vec<DiffersValue>,
    /// Remark on the difference.
    pub note: String,
}

/// One of several values.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct DiffersValue {
    /// As written.
    pub text: String,
    /// Evidence class and source in words.
    pub evidence: String,
    /// Who and when.
    pub who: String,
    /// Whether the results use this one.
    pub chosen: bool,
}

/// How bad a problem is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// No result, or nothing was changed.
    Error,
    /// The result stands, but look at it.
    #[default]
    Warning,
    /// For information.
    Note,
}

impl Level {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Note => "note",
        }
    }
}

/// A message of the computation.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Problem {
    /// How bad.
    pub level: Level,
    /// Stable code.
    pub code: String,
    /// What was found and expected.
    pub message: String,
    /// Where; empty if nowhere.
    pub place: String,
    /// What to do.
    pub hints: Vec<String>,
}

impl From<&Diag> for Problem {
    fn from(diag: &Diag) -> Self {
        let level = match diag.severity {
            Severity::Error => Level::Error,
            Severity::Warning => Level::Warning,
            Severity::Note => Level::Note,
        };
        let mut hints = diag.hints.clone();
        hints.extend(diag.related.iter().map(|(place, why)| format!("{why}: {place}")));
        let place = diag.place.as_ref().map(ToString::to_string).unwrap_or_default();
        Self { level, code: diag.code.to_owned(), message: diag.message.clone(), place, hints }
    }
}
