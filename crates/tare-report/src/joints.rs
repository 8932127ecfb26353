//! The joint census.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// All joints counted, and fasteners listed against fasteners used.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Joints {
    /// One row per method, type, size and drive.
    pub rows: Vec<JointRow>,
    /// Totals as label and text: (`threaded joints`, `212`).
    pub totals: Vec<(String, String)>,
    /// Fasteners of the parts list against those the joints use.
    pub fasteners: Vec<FastenerRow>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// One row of the census.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct JointRow {
    /// Method: `screw`, `spot weld`, `adhesive bead`.
    pub method: String,
    /// Type: `hexagon socket head`.
    pub kind: String,
    /// Size: `M6 x 20`.
    pub size: String,
    /// Drive: `hexagon socket 5`.
    pub drive: String,
    /// How many; the number feeds the chart.
    pub count: Option<Figure>,
    /// Total length for seams and beads.
    pub length: Option<Figure>,
    /// Total time for these joints.
    pub seconds: Option<Figure>,
    /// A remark such as `one-way` or `torque not readable`.
    pub note: String,
}

/// One fastener, listed against used.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct FastenerRow {
    /// The fastener item.
    pub item: String,
    /// Count in the parts list.
    pub listed: String,
    /// Count used by the joints.
    pub used: String,
    /// Difference, signed: `+2`; empty for none.
    pub difference: String,
    /// What it means: `agrees`, `two left over`.
    pub words: String,
}
