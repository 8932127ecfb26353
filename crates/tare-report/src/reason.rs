//! How each number came about, by which method, from which source.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// How one number came about; figures link to it by anchor.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Reason {
    /// Unique address, such as `study/P12/op2/cooling_time`; any text is allowed.
    pub anchor: String,
    /// Heading under which it is listed: `Headlines`, `Cost`, `B17 lower tray`. Reasons of one group should follow one another.
    pub group: String,
    /// What it is: `Cooling time of the lower tray`.
    pub title: String,
    /// The formula as authored; empty for a reading or an assumption.
    pub formula: String,
    /// What went in.
    pub rows: Vec<ReasonRow>,
    /// What came out.
    pub result: Figure,
    /// Original source, or the words of the assumption.
    pub source: String,
    /// Spread of the value itself, or of the method.
    pub spread: String,
    /// Evidence class in words.
    pub evidence: String,
    /// Further words: who, when, instrument, file and cell.
    pub note: String,
}

/// One name of a formula with its value.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ReasonRow {
    /// Name in the formula.
    pub name: String,
    /// What the name means.
    pub says: String,
    /// Its value, linked to its own reason.
    pub value: Figure,
}

/// A calculation that was used.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Method {
    /// Key of the calculation.
    pub key: String,
    /// Its title.
    pub title: String,
    /// Kind: `process`, `joint`, `estimate`.
    pub kind: String,
    /// How often it is used, as text.
    pub uses: String,
    /// Shared method error.
    pub spread: String,
    /// Why that spread.
    pub reason: String,
    /// Keys of [`Source`]s, or sources in words.
    pub sources: Vec<String>,
}

/// A published source, a quote, or an assumption.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Source {
    /// Short key.
    pub key: String,
    /// Author, title, year, place.
    pub text: String,
    /// Class of evidence it gives: `handbook`, `quoted`, `measured`, `derived`, `assumed`.
    pub kind: String,
    /// How it was seen: `read`, `second-hand copy`, `from memory`.
    pub seen: String,
    /// What rests on it: `12 inputs, 340 lines`.
    pub uses: String,
}
