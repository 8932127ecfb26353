//! Ranges of results, and where they come from.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// Ranges of results; empty until computed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Ranges {
    /// Draws and seed in words.
    pub how: String,
    /// How often each value came out.
    pub distributions: Vec<Distribution>,
    /// The share of draws inside the intervals: `95 %`.
    pub coverage: String,
    /// All results that were watched.
    pub rows: Vec<RangeRow>,
    /// Which result the causes are those of: `should-cost`.
    pub causes_of: String,
    /// Where the range of that result comes from, strongest first.
    pub causes: Vec<CauseRow>,
    /// How the shares were made and how sure they are.
    pub causes_how: String,
    /// What moves each result most.
    pub drivers: Vec<Drivers>,
    /// How the drivers were found, in words.
    pub drivers_how: String,
    /// What to find out next, the most gain for the effort first.
    pub work: WorkList,
    /// Spreads of which much was cut off, because no such value can be.
    pub cuts: Vec<CutRow>,
    /// Results that came out as no number in some draws.
    pub failed: Vec<FailedRow>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// The range of one result; all texts but the stated one without unit, which is that of the stated one.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RangeRow {
    /// The result.
    pub result: String,
    /// It at the stated values.
    pub stated: Figure,
    /// It with every input at the mean of its own spread.
    pub at_means: String,
    /// Mean of the draws.
    pub mean: String,
    /// Standard uncertainty.
    pub uncertainty: String,
    /// The interval with as many draws below as above.
    pub symmetric: String,
    /// The shortest interval with as many draws.
    pub shortest: String,
    /// What is to be said beside its name.
    pub note: String,
}

/// How much of a range goes with what inputs have in common.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CauseRow {
    /// The cause: `prices`.
    pub cause: String,
    /// Share of the variance that would go if it were known, in per cent.
    pub alone: Figure,
    /// Share that would stay if all else were known, in per cent.
    pub with_others: Figure,
    /// How many inputs, as text.
    pub inputs: String,
}

/// A spread that was cut.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CutRow {
    /// The input.
    pub input: String,
    /// The share that was cut off, as text.
    pub share: String,
    /// Its value as stated.
    pub value: Figure,
}

/// Results without a number in some draws, all for one reason.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct FailedRow {
    /// The results.
    pub results: Vec<String>,
    /// In how many draws, and which was the first, in words.
    pub draws: String,
    /// What is said of the place.
    pub says: Vec<String>,
    /// Address and formula in which it went wrong first.
    pub formula: String,
    /// What the names of the formula were in the first such draw.
    pub inputs: Vec<String>,
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
    /// The stated value.
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
    /// Share of the variance that would go if it were known, as text.
    pub alone: String,
    /// Share that would stay if all else were known, as text.
    pub with_others: String,
    /// Anchor of the input's reason.
    pub link: Option<String>,
}

/// What to find out next about one result.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct WorkList {
    /// The result.
    pub of: String,
    /// Its standard uncertainty now, as text.
    pub now: String,
    /// How the gains were worked out, in words.
    pub how: String,
    /// What to do, first things first.
    pub rows: Vec<WorkRow>,
    /// Inputs that matter and that no recipe goes for, in words.
    pub stuck: Vec<String>,
}

/// One thing to find out.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct WorkRow {
    /// The input.
    pub input: String,
    /// Its value as stated.
    pub value: Figure,
    /// What to do.
    pub recipe: String,
    /// Who does it.
    pub who: String,
    /// Working time, as text.
    pub effort: String,
    /// How well it is known afterwards.
    pub reaches: String,
    /// By how much the result's standard uncertainty shrinks, alone, as text.
    pub gain: String,
    /// The result's standard uncertainty once this and all before it are done, as text.
    pub then: String,
    /// Where reach and effort come from.
    pub source: String,
}
