//! Assembly time, line balance, and strip-down times beside them.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// The time part of the report; the numbers of its time figures are in seconds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct AssemblyTime {
    /// The scale the motion times are on, with its allowance: `elementary motions (MTM-1), no allowance`.
    pub scale: String,
    /// Manual and process time of the whole product.
    pub total: Option<Figure>,
    /// Needed parts of the whole product.
    pub needed: Option<Figure>,
    /// Ideal-time share of the whole product.
    pub ideal_share: Option<Figure>,
    /// One row per operation, and one per assembly as its total.
    pub rows: Vec<TimeRow>,
    /// Lines with their stations.
    pub lines: Vec<LineBalance>,
    /// Times recorded while stripping.
    pub strip_down: Vec<StripRow>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// Time of an operation or of an assembly.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct TimeRow {
    /// The assembly.
    pub assembly: String,
    /// The operation; empty for the row that totals an assembly.
    pub operation: String,
    /// How often, as text.
    pub count: String,
    /// Seconds of hand motions.
    pub motions: Option<Figure>,
    /// Seconds of process (run-down, weld, cure).
    pub process: Option<Figure>,
    /// Both together as the line pays them.
    pub total: Option<Figure>,
    /// Needed parts.
    pub needed: Option<Figure>,
    /// Ideal-time share.
    pub ideal_share: Option<Figure>,
    /// Recorded strip-down time of the same joints or parts.
    pub recorded: Option<Figure>,
    /// A remark.
    pub note: String,
}

/// A line: its stations against the takt.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LineBalance {
    /// The line.
    pub title: String,
    /// Takt; the number is in seconds.
    pub takt: Figure,
    /// Stations in order.
    pub stations: Vec<Station>,
    /// Share of the paid time that is work, as text.
    pub used: String,
    /// A remark.
    pub note: String,
}

/// One station of a line.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Station {
    /// Name.
    pub name: String,
    /// What is done there.
    pub does: String,
    /// Work per product at this station; the number is in seconds per operator (or per parallel place), to stand against the takt.
    pub work: Figure,
    /// Operators or parallel places, as text.
    pub operators: String,
    /// Paid line time.
    pub paid: Option<Figure>,
}

/// A time recorded while stripping.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct StripRow {
    /// Order in the strip-down, as text.
    pub order: String,
    /// What was removed.
    pub what: String,
    /// Who and which trial.
    pub who: String,
    /// Tool used.
    pub tool: String,
    /// Recorded time, interruptions taken off.
    pub recorded: Option<Figure>,
    /// Computed time of putting the same together, if any.
    pub computed: Option<Figure>,
    /// Whether something was destroyed.
    pub destructive: bool,
    /// Interruptions and remarks.
    pub note: String,
}
