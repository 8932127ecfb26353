//! What the results rest on, their ranges, and what drives them.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// Evidence behind the results.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Evidence {
    /// One bar per result: shares by elasticity.
    pub bars: Vec<EvidenceBar>,
    /// Inputs that carry most of the spread of the first result, strongest first, whatever they rest on.
    pub strongest: Vec<WeakLink>,
    /// Inputs that carry much and rest on little, worst first.
    pub weakest: Vec<WeakLink>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// Evidence shares of one result.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct EvidenceBar {
    /// The result: `cost per pack`.
    pub label: String,
    /// Class (`measured`, `derived`, `handbook`, `quoted`, `assumed`) and share from 0 to 1.
    pub shares: Vec<(String, f64)>,
}

/// A weak link.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct WeakLink {
    /// The input.
    pub input: String,
    /// Its value with its reason.
    pub value: Figure,
    /// Its evidence class.
    pub class: String,
    /// The result it acts on.
    pub result: String,
    /// Its share of that result's relative change, as text.
    pub share: String,
    /// What reading or question would help.
    pub next: String,
}

/// Ranges of results; empty until computed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Ranges {
    /// Draws and seed in words.
    pub how: String,
    /// How often each value came out.
    pub distributions: Vec<Distribution>,
    /// What moves each result most.
    pub drivers: Vec<Drivers>,
}

/// How often each value of one result came out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Distribution {
    /// The result.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// Bins from left to right, touching.
    pub bins: Vec<Bin>,
    /// The point value.
    pub point: Option<Figure>,
    /// Marked values such as quantiles.
    pub marks: Vec<Mark>,
}

/// A bin of a distribution.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Bin {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// How many draws fell in.
    pub count: f64,
}

/// A marked value of a distribution.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Mark {
    /// `5 %`, `median`.
    pub label: String,
    /// Where.
    pub value: Figure,
}

/// What moves one result most.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Drivers {
    /// The result.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// The result with every input at its stated value.
    pub base: Figure,
    /// Inputs, strongest first.
    pub rows: Vec<Driver>,
}

/// One input that moves a result.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Driver {
    /// The input.
    pub input: String,
    /// The result with this input at its low end.
    pub at_low: Figure,
    /// The result with this input at its high end.
    pub at_high: Figure,
    /// The input's interval in words.
    pub interval: String,
    /// Anchor of the input's reason.
    pub link: Option<String>,
}
