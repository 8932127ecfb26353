//! The kinds of cost.

use crate::lines::LineRef;
use std::collections::BTreeMap;

/// The kinds of cost, in the order in which they are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CostKind {
    /// Bought items.
    Bought,
    /// Material, less sold scrap.
    Material,
    /// Labour.
    Labour,
    /// Machine time without running energy.
    Machine,
    /// Running energy.
    Energy,
    /// Set-up.
    Setup,
    /// Tools in the piece price.
    Tooling,
    /// Consumables.
    Consumable,
    /// Pieces started beyond the good ones.
    Scrap,
    /// Overhead and handling of directed items.
    Overhead,
    /// Engineering.
    Engineering,
    /// Selling and administration.
    Sga,
    /// Profit.
    Profit,
    /// Freight and packaging between organisations.
    Freight,
    /// Duty on price and freight, where the rate book states one.
    Duty,
}

impl CostKind {
    /// All kinds, in order.
    pub const ALL: [Self; 15] = [
        Self::Bought,
        Self::Material,
        Self::Labour,
        Self::Machine,
        Self::Energy,
        Self::Setup,
        Self::Tooling,
        Self::Consumable,
        Self::Scrap,
        Self::Overhead,
        Self::Engineering,
        Self::Sga,
        Self::Profit,
        Self::Freight,
        Self::Duty,
    ];

    /// The words shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Bought => "bought items",
            Self::Material => "material",
            Self::Labour => "labour",
            Self::Machine => "machines",
            Self::Energy => "energy",
            Self::Setup => "set-up",
            Self::Tooling => "tools",
            Self::Consumable => "consumables",
            Self::Scrap => "scrap",
            Self::Overhead => "overhead",
            Self::Engineering => "engineering",
            Self::Sga => "selling and administration",
            Self::Profit => "profit",
            Self::Freight => "freight and packaging",
            Self::Duty => "duty",
        }
    }

    /// The short name used in addresses.
    pub fn key(self) -> &'static str {
        match self {
            Self::Bought => "bought",
            Self::Machine => "machine",
            Self::Setup => "setup",
            Self::Tooling => "tooling",
            Self::Consumable => "consumables",
            Self::Sga => "sga",
            Self::Freight => "freight",
            other => other.word(),
        }
    }
}

/// One line per kind of cost, for those that occur.
pub(crate) type Costs = BTreeMap<CostKind, LineRef>;
