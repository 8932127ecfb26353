//! The should-cost: by kind, by item, by process, tools, quotes.

use crate::{Figure, Grouping};
use serde::{Deserialize, Serialize};

/// The cost part of the report.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Cost {
    /// Unit of the charts: `EUR per pack`.
    pub unit: String,
    /// Cost per product.
    pub total: Option<Figure>,
    /// Investment in all sets of all tools over the life of the product.
    pub investment: Option<Figure>,
    /// How the investment is paid, so that nobody counts it twice: `carried in the piece price`.
    pub investment_note: String,
    /// What the tools add to the cost of one product.
    pub tools_in_price: Option<Figure>,
    /// The same product with and without the dominant bought item.
    pub split: Option<CostSplit>,
    /// From material to price, by kind of cost, in order.
    pub steps: Vec<CostStep>,
    /// Cost by item, largest first.
    pub items: Vec<ItemCost>,
    /// Cost by process, one row per process.
    pub processes: Vec<ProcessCost>,
    /// Further groupings: by function, by organisation.
    pub groups: Vec<Grouping>,
    /// The register of tools.
    pub tools: Vec<ToolRow>,
    /// Every price that stands for an item, the one taken first, by item.
    pub routes: Vec<RouteRow>,
    /// Rough estimates from mass beside the build-up, largest items first.
    pub rough: Vec<RoughRow>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// With and without the dominant bought item.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CostSplit {
    /// The item: `cells`.
    pub item: String,
    /// Words on why it stands apart and where its price comes from.
    pub note: String,
    /// Rows such as cost, mass, cost per kilogram.
    pub rows: Vec<SplitRow>,
}

/// One row of [`CostSplit`].
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SplitRow {
    /// What: `should-cost per pack`.
    pub label: String,
    /// Everything.
    pub with: Option<Figure>,
    /// The item alone.
    pub item: Option<Figure>,
    /// Everything else.
    pub without: Option<Figure>,
}

/// Whether a step of a waterfall adds or stands as a total.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepKind {
    /// Adds to (or, when negative, takes from) what stands before it.
    #[default]
    Add,
    /// States the total reached; drawn from zero.
    Total,
}

/// A step of the cost waterfall.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CostStep {
    /// Kind of cost: `material`, `machine`, `recovered scrap`.
    pub label: String,
    /// Amount, signed.
    pub value: Figure,
    /// Step or total.
    pub kind: StepKind,
    /// Share of the total as text.
    pub share: String,
}

/// Cost of one item in the product.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ItemCost {
    /// The item.
    pub item: String,
    /// Id of a part where it sits.
    pub part: Option<String>,
    /// Uses in one product, as text.
    pub uses: String,
    /// `make` or `buy`.
    pub source: String,
    /// Cost per product, all uses.
    pub cost: Figure,
    /// Of that, the item's own work and purchase; the rest is rejects, mark-ups and freight at the place where it is used.
    pub own: Option<Figure>,
    /// Cost per piece.
    pub each: Option<Figure>,
    /// Share of the product as text.
    pub share: String,
    /// A remark.
    pub note: String,
}

/// Cost of one process over all its uses.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ProcessCost {
    /// The process.
    pub process: String,
    /// How many operations, as text.
    pub operations: String,
    /// Material.
    pub material: Option<Figure>,
    /// Labour and set-up.
    pub labour: Option<Figure>,
    /// Machine.
    pub machine: Option<Figure>,
    /// Tools, consumables and the rest.
    pub other: Option<Figure>,
    /// Together.
    pub total: Option<Figure>,
    /// Share as text.
    pub share: String,
}

/// A tool of the register.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ToolRow {
    /// The tool.
    pub tool: String,
    /// Items it serves.
    pub serves: String,
    /// Cavities or pieces per stroke, as text.
    pub cavities: String,
    /// Life in cycles, as text.
    pub life: String,
    /// Sets needed by life.
    pub sets_by_life: String,
    /// Sets needed by rate.
    pub sets_by_rate: String,
    /// Cost of one set.
    pub cost: Option<Figure>,
    /// Cost of all sets over the life of the product.
    pub investment: Option<Figure>,
    /// Cost per piece.
    pub each: Option<Figure>,
    /// Who owns and pays it.
    pub owner: String,
    /// A remark.
    pub note: String,
}

/// One price that stands for an item.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RouteRow {
    /// The item.
    pub item: String,
    /// How the price was found: `quote`, `build-up from operations`, `rough, from mass`.
    pub route: String,
    /// Whether the total rests on this price.
    pub taken: bool,
    /// Price of one piece.
    pub price: Option<Figure>,
    /// Against the price taken, signed: `+9 %`; empty for the price taken.
    pub apart: String,
    /// Place, date and volume of the quote, and what it contains.
    pub terms: String,
    /// Why they differ, or that nobody has explained it.
    pub note: String,
}

/// A rough estimate from mass beside the price taken.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RoughRow {
    /// The item.
    pub item: String,
    /// The price of one piece the total rests on.
    pub taken: Option<Figure>,
    /// Price of one piece from mass and the price of its material.
    pub rough: Option<Figure>,
    /// The rough estimate against the price taken, signed: `+26 %`.
    pub apart: String,
}
