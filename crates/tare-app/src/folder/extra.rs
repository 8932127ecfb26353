//! What another or newer program says in a folder and this one does not know: it is kept in the field `extra` of a record, so that it comes
//! and goes by edits as everything else, and is written again where it was found.

use super::layout::is_own;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use tare_model::{Field, Kind, Record};

/// What is kept of a record.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Extra {
    /// Cells of columns that are not known: text in a table, a TOML value in `study.toml`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub(super) cells: BTreeMap<String, String>,
    /// Of the study or book: files that are not known, by path, with their digests.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub(super) files: BTreeMap<String, String>,
    /// Of the study or book: tables of `study.toml` that are not known, as TOML values.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub(super) tables: BTreeMap<String, String>,
}

impl Extra {
    /// What a record keeps; `None` where it keeps nothing, a text that was not written by [`Extra::text`], or files that lead out of the folder
    /// or stand where the form has its own: the text may have come by any way, not only out of a folder.
    pub(super) fn of(record: &Record) -> Option<Self> {
        let text = record.text(Field::Extra)?;
        let extra: Self = serde_json::from_str(text).ok()?;
        let foreign = |path: &String| tare_exchange::plain_path(path).is_ok() && !is_own(path);
        (extra.text().as_deref() == Some(text) && extra.files.keys().all(foreign)).then_some(extra)
    }

    /// The text that keeps it; `None` where there is nothing to keep.
    pub(super) fn text(&self) -> Option<String> {
        (*self != Self::default()).then(|| serde_json::to_string(self).ok()).flatten()
    }
}

/// Whether a record may keep tables and files: the study, or the book, a document is about.
pub(super) fn is_head(kind: Kind) -> bool {
    matches!(kind, Kind::Study | Kind::Book)
}
