//! What the results rest on.

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
