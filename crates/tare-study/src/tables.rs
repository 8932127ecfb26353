//! What a compiled study says, as rows that point at lines.

use crate::kinds::CostKind;
use crate::lines::LineRef;
use crate::time::MotionKind;
use std::collections::BTreeMap;
use tare_model::Id;

/// How a mass is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MassHow {
    /// Read from a scale.
    Weighed,
    /// Stated by another source.
    Stated,
    /// Added up from its parts.
    Sum,
    /// Whole less everything else.
    Difference,
    /// Share of a group that was weighed as a whole.
    Share,
    /// Not known.
    Unknown,
}

impl MassHow {
    /// The words shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Weighed => "weighed",
            Self::Stated => "stated",
            Self::Sum => "sum of parts",
            Self::Difference => "by difference",
            Self::Share => "share of group",
            Self::Unknown => "unknown",
        }
    }
}

/// One row of the mass balance.
#[derive(Clone, Debug)]
pub struct MassRow {
    /// The part, by position in [`crate::Study::parts`].
    pub part: usize,
    /// The mass adopted for one piece.
    pub mass: Option<LineRef>,
    /// How it is known.
    pub how: MassHow,
    /// Sum of its children, where it has any.
    pub sum: Option<LineRef>,
    /// Weighed whole less the sum of its parts.
    pub gap: Option<LineRef>,
    /// Children without a mass.
    pub unknown: usize,
    /// States in which the adopted mass was taken; none for a sum, a difference or a share.
    pub states: Vec<String>,
    /// States of the masses in the sum of its children.
    pub part_states: Vec<String>,
}

/// One part of the tree, in depth-first order.
#[derive(Clone, Debug)]
pub struct PartRow {
    /// The part.
    pub id: Id,
    /// Its item.
    pub item: Id,
    /// Label: the key between bag and record.
    pub label: String,
    /// Name of the item.
    pub name: String,
    /// Depth, 0 for the product.
    pub level: usize,
    /// The part it sits in.
    pub parent: Option<usize>,
    /// How many sit in the parent.
    pub count: f64,
    /// How many sit in the product.
    pub pieces: f64,
    /// Material key or constituents.
    pub material: String,
    /// make, buy or consigned.
    pub make: String,
    /// Titles of its making steps.
    pub processes: Vec<String>,
    /// Mass of one piece.
    pub mass: Option<LineRef>,
    /// Price of one piece as it reaches its parent, children included.
    pub cost: Option<LineRef>,
    /// The same by kind of cost.
    pub kinds: Vec<(CostKind, LineRef)>,
    /// Whether it lies inside an item that is costed as a whole.
    pub inside_costed: bool,
    /// The place that lists what is in it, where this one lists nothing.
    pub described_at: Option<usize>,
}

/// One item with what it costs.
#[derive(Clone, Debug)]
pub struct ItemRow {
    /// The item.
    pub id: Id,
    /// Its address.
    pub address: String,
    /// Its name.
    pub name: String,
    /// Pieces a year, demand included.
    pub volume: Option<LineRef>,
    /// What its own work, purchase, scrap and mark-ups add to the product.
    pub contribution: Option<LineRef>,
    /// Own cost per piece, children not included.
    pub own: Option<LineRef>,
    /// Mass of one piece.
    pub mass: Option<LineRef>,
    /// Quotes: the record and the price.
    pub quotes: Vec<(Id, LineRef)>,
    /// A rough estimate from mass, as a second route.
    pub rough: Option<LineRef>,
    /// Whether it is the dominant bought item.
    pub dominant: bool,
    /// Whether nothing could be said about its cost.
    pub uncosted: bool,
}

/// One tool of the register.
#[derive(Clone, Debug)]
pub struct ToolRow {
    /// Its name.
    pub title: String,
    /// Its record, if it has one of its own.
    pub record: Option<Id>,
    /// Which tool of the calculation.
    pub group: String,
    /// The calculation that owes it.
    pub key: String,
    /// Items it serves.
    pub serves: Vec<Id>,
    /// Cost of one set.
    pub cost: LineRef,
    /// Cycles of one set.
    pub life: LineRef,
    /// Pieces per cycle (cavities).
    pub pieces: LineRef,
    /// Sets needed.
    pub sets: Option<LineRef>,
    /// Investment in all sets.
    pub investment: Option<LineRef>,
    /// In the piece price.
    pub per_piece: Option<LineRef>,
    /// Paid as a lump by the client.
    pub lump: bool,
}

/// One joint of the census.
#[derive(Clone, Debug)]
pub struct JointRow {
    /// The joint.
    pub id: Id,
    /// Label or name.
    pub name: String,
    /// The calculation: its method.
    pub method: String,
    /// Points or seams per assembly.
    pub count: LineRef,
    /// How many of its assembly sit in the product.
    pub assemblies: f64,
    /// Nominal size, length, drive and so on, as stated.
    pub stated: Vec<(String, String)>,
    /// Manual time per assembly.
    pub manual: Option<LineRef>,
    /// Assembly it belongs to.
    pub assembly: Option<usize>,
    /// Parts it holds.
    pub parts: Vec<Id>,
}

/// Fasteners of the parts list against those the joints use.
#[derive(Clone, Debug)]
pub struct FastenerRow {
    /// The fastener's part.
    pub part: usize,
    /// Listed in the product.
    pub listed: f64,
    /// Used by joints in the product.
    pub used: f64,
}

/// Time of one assembly.
#[derive(Clone, Debug)]
pub struct AssemblyRow {
    /// The part.
    pub part: usize,
    /// How many are put together for one product, over all places of its item.
    pub pieces: f64,
    /// Manual time by kind of work.
    pub by_kind: BTreeMap<MotionKind, LineRef>,
    /// Manual time.
    pub manual: Option<LineRef>,
    /// Recorded strip-down times.
    pub recorded: Vec<LineRef>,
    /// Parts put in, fasteners included.
    pub parts: f64,
    /// Needed parts, where judged for all parts.
    pub needed: Option<f64>,
    /// Parts not judged yet.
    pub unjudged: usize,
    /// Ideal-time share.
    pub ideal_share: Option<LineRef>,
}

/// Balance of one line of stations.
#[derive(Clone, Debug)]
pub struct LineRow {
    /// The line.
    pub id: Id,
    /// Its name.
    pub name: String,
    /// Stations: name and cycle.
    pub stations: Vec<(String, LineRef)>,
    /// Work per product.
    pub work: Option<LineRef>,
    /// Takt.
    pub takt: Option<LineRef>,
    /// Operators.
    pub operators: Option<LineRef>,
    /// Paid time per product.
    pub paid: Option<LineRef>,
}

/// Totals of the product.
#[derive(Clone, Debug, Default)]
pub struct Totals {
    /// Cost of one product.
    pub cost: Option<LineRef>,
    /// The same without the dominant bought item.
    pub without_dominant: Option<LineRef>,
    /// Cost by kind.
    pub by_kind: Vec<(CostKind, LineRef)>,
    /// Cost by calculation: making, joining, purchase, assembly rejects, mark-ups.
    pub by_process: Vec<(String, LineRef)>,
    /// What parts of a function add to the cost, by function.
    pub cost_by_function: Vec<(String, LineRef)>,
    /// What items of a material add to the cost, by material.
    pub cost_by_material: Vec<(String, LineRef)>,
    /// Mass of one product.
    pub mass: Option<LineRef>,
    /// Mass by material.
    pub mass_by_material: Vec<(String, LineRef)>,
    /// Mass by function.
    pub mass_by_function: Vec<(String, LineRef)>,
    /// Mass by making process.
    pub mass_by_process: Vec<(String, LineRef)>,
    /// Investment in tools, all sets.
    pub investment: Option<LineRef>,
    /// Manual assembly time of one product.
    pub manual: Option<LineRef>,
    /// Ideal-time share of the product.
    pub ideal_share: Option<LineRef>,
    /// Product volume.
    pub volume: Option<LineRef>,
    /// Yardsticks: record, value, cost per unit of it.
    pub yardsticks: Vec<(Id, LineRef, Option<LineRef>)>,
}
