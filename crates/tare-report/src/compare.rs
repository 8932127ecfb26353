//! Products side by side under one scenario.

use crate::{Contained, CostStep, Figure};
use serde::{Deserialize, Serialize};

/// A comparison of products; lists of values by product are in the order of the products.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Comparison {
    /// The products; differences are to the first.
    pub products: Vec<Compared>,
    /// The scenario they share, in one line.
    pub scenario: String,
    /// How the ranges were found, in words: `95 % of 10 240 draws, shared inputs drawn once for all products`.
    pub how: String,
    /// What totals hold in one product and not in another.
    pub boundary: Vec<BoundaryDifference>,
    /// The numbers a reader wants first.
    pub headlines: Vec<ComparedRow>,
    /// Cost by yardstick.
    pub yardsticks: Vec<Yardstick>,
    /// The same thing cut in several ways: by function, by kind, joints by method.
    pub cuts: Vec<Cut>,
    /// How sure the order is.
    pub rank: Option<Rank>,
    /// Walks from the first product to each other.
    pub walks: Vec<Walk>,
    /// The best of each group of functions.
    pub best: Option<BestOfEach>,
    /// Remarks.
    pub notes: Vec<String>,
}

/// One product.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Compared {
    /// Its letter.
    pub letter: String,
    /// Its name.
    pub name: String,
    /// What it is, in one sentence.
    pub product: String,
    /// Its total under its own scenario.
    pub own: Option<Figure>,
    /// What is wrong under the common scenario.
    pub problems: Vec<String>,
    /// Whether its data are invented or only illustrative.
    pub invented: bool,
}

/// A topic that totals do not treat alike.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct BoundaryDifference {
    /// What it is about.
    pub topic: String,
    /// In, out or unknown, by product.
    pub states: Vec<Contained>,
    /// A remark.
    pub note: String,
}

/// The same thing in each product. Ranges stand under their numbers and read best without the unit.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ComparedRow {
    /// What it is.
    pub name: String,
    /// In each product; none where it has nothing of it.
    pub values: Vec<Option<Figure>>,
    /// Difference to the first product; none for the first itself.
    pub changes: Vec<Option<Figure>>,
    /// Whether no list of functions knows the word.
    pub unmapped: bool,
}

/// A yardstick: what a product does, has or weighs, and what a unit of it costs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Yardstick {
    /// Its name: `nominal energy`.
    pub name: String,
    /// Unit of the chart of costs: `EUR/kWh`.
    pub unit: String,
    /// What each study says it means.
    pub qualifiers: Vec<String>,
    /// Its value in each product.
    pub values: Vec<Option<Figure>>,
    /// Cost per unit of it.
    pub costs: ComparedRow,
    /// Per mass, where it is an energy.
    pub per_mass: Vec<Option<Figure>>,
}

impl Yardstick {
    /// Whether all studies say the same of what it means.
    pub fn is_said_alike(&self) -> bool {
        self.qualifiers.windows(2).all(|pair| pair[0] == pair[1])
    }
}

/// Rows of one cut.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Cut {
    /// What it is by: `Cost by function`.
    pub title: String,
    /// Unit of the chart: `EUR per product`.
    pub unit: String,
    /// Whether it is drawn as well; its rows then add up to a whole.
    pub drawn: bool,
    /// The rows, the largest first.
    pub rows: Vec<ComparedRow>,
    /// A remark.
    pub note: String,
}

/// How sure an order is.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Rank {
    /// What is ranked by: `cost per unit of nominal energy`.
    pub by: String,
    /// For each product the share of draws, from 0 to 1, in which it has each place, the least first.
    pub places: Vec<Vec<f64>>,
    /// How many draws were counted.
    pub draws: u64,
}

/// A walk from one product to another.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Walk {
    /// From which to which: `A to B, by function`.
    pub title: String,
    /// Unit of the axis.
    pub unit: String,
    /// A total, steps, a total.
    pub steps: Vec<CostStep>,
    /// A remark.
    pub note: String,
}

/// The cheapest of each group of functions.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct BestOfEach {
    /// The sum of the cheapest, with its range.
    pub total: Figure,
    /// The groups.
    pub picked: Vec<Picked>,
}

/// Functions that have to come from one product.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Picked {
    /// The functions.
    pub functions: Vec<String>,
    /// Why they go together.
    pub says: String,
    /// Their cost in each product.
    pub costs: Vec<Option<Figure>>,
    /// Letter of the cheapest.
    pub from: String,
}
