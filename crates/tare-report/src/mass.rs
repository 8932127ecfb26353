//! Weighing: the balance of each assembly, and where the mass is.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// The mass part of the report; the numbers of its figures are in kilograms.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Mass {
    /// Mass of the product, if known.
    pub total: Option<Figure>,
    /// Mass state of the readings the total rests on: `dry`, `without brackets`.
    pub state: String,
    /// Weighed against sum of parts, one row per assembly.
    pub balance: Vec<MassBalance>,
    /// Mass by material, by function, by process; each a table and a bar chart.
    pub groups: Vec<Grouping>,
    /// Maps of mass (or anything else) by area, two levels.
    pub maps: Vec<AreaMap>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// The mass balance of one assembly.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct MassBalance {
    /// The assembly.
    pub label: String,
    /// Depth in the tree, 0 for the product.
    pub level: u32,
    /// Weighed as a whole.
    pub weighed: Option<Figure>,
    /// Sum over the parts whose mass is known.
    pub parts: Option<Figure>,
    /// Weighed minus sum.
    pub gap: Option<Figure>,
    /// Expanded uncertainty of the gap, k = 2.
    pub gap_uncertainty: Option<Figure>,
    /// What the gap means.
    pub verdict: GapVerdict,
    /// How it was weighed: instrument, repeats.
    pub how: String,
    /// Mass state: wet, as removed, cleaned.
    pub state: String,
    /// Children without a mass, by name.
    pub unknown: Vec<String>,
}

/// What a gap means against its uncertainty.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GapVerdict {
    /// The gap can be explained by the uncertainty of the readings.
    Within,
    /// A part has its mass as the difference to this weighing, or as a share of it, so that nothing is left over.
    Defined,
    /// The gap is larger than the uncertainty explains.
    Larger,
    /// The uncertainty is not known, so that nothing can be said of the gap.
    NotKnown,
    /// The whole was not weighed, or no part was.
    #[default]
    NotWeighed,
    /// Some children have no mass, so the gap says nothing yet.
    Incomplete,
}

impl GapVerdict {
    /// The words shown.
    pub fn words(self) -> &'static str {
        match self {
            Self::Within => "within uncertainty",
            Self::Defined => "closes by definition: a part is the difference or a share",
            Self::Larger => "larger than uncertainty explains",
            Self::NotKnown => "uncertainty not known",
            Self::NotWeighed => "not weighed",
            Self::Incomplete => "parts without mass",
        }
    }
}

/// A quantity shared out over groups.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Grouping {
    /// Heading: `Mass by material`.
    pub title: String,
    /// Unit of the figures' numbers, for the chart's axis: `kg`.
    pub unit: String,
    /// The groups, largest first.
    pub rows: Vec<GroupRow>,
    /// The whole that the shares refer to.
    pub total: Option<Figure>,
    /// What the whole is, where the rows do not add up to it: `product as weighed`; empty where they do.
    pub whole: String,
    /// A remark.
    pub note: String,
}

/// One group.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GroupRow {
    /// The group.
    pub label: String,
    /// Its value.
    pub value: Figure,
    /// Share of the total as text: `34 %`.
    pub share: String,
    /// How many parts or operations, as text.
    pub count: String,
    /// A remark.
    pub note: String,
}

/// A map of areas, two levels deep: groups and what is in them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct AreaMap {
    /// Heading: `Where the mass is`.
    pub title: String,
    /// What an area stands for: `kg`.
    pub unit: String,
    /// First-level cells.
    pub cells: Vec<AreaCell>,
}

/// A cell of an area map.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct AreaCell {
    /// Name.
    pub label: String,
    /// Value of the cell. Of a cell with children only its text and link are used: its area is the sum of the children.
    pub value: Figure,
    /// Second-level cells; anything deeper is not drawn.
    pub cells: Vec<AreaCell>,
}
