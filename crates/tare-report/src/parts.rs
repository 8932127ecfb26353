//! The indented parts list, photos, and what is in and out.

use crate::Figure;
use serde::{Deserialize, Serialize};

/// One row of the indented parts list.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PartRow {
    /// Unique key of the part in this report; other rows refer to it.
    pub id: String,
    /// Depth: 0 for the product, children one more than their parent. Rows come parents first.
    pub level: u32,
    /// Bag label or position number: `B17`.
    pub label: String,
    /// Name as recorded.
    pub name: String,
    /// Count in one parent, as text: `64`, `12 m`; empty when unknown.
    pub count: String,
    /// The item (what is made) that sits here; empty when it has the part's name.
    pub item: String,
    /// Material in words.
    pub material: String,
    /// `make`, `buy` or empty.
    pub source: String,
    /// Process words in route order: `sheet stamping, powder coating`.
    pub process: String,
    /// Mass of this row: per parent, all pieces.
    pub mass: Option<Figure>,
    /// Cost of this row: per parent, all pieces.
    pub cost: Option<Figure>,
    /// Ids of photos.
    pub photos: Vec<String>,
    /// Review state in words: `recorded`, `checked`, `question`.
    pub review: String,
    /// A remark such as `mass by difference`.
    pub note: String,
}

/// A photo with its call-outs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Photo {
    /// Unique key in this report.
    pub id: String,
    /// What it shows.
    pub caption: String,
    /// When and by whom, as text.
    pub taken: String,
    /// The picture as `data:image/...;base64,...`; anything else is not embedded and only the caption is shown.
    pub data: Option<String>,
    /// Numbered marks on the picture.
    pub callouts: Vec<Callout>,
}

/// A numbered mark on a photo.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Callout {
    /// Number shown.
    pub number: u32,
    /// Place from the left edge, 0 to 1.
    pub x: f64,
    /// Place from the upper edge, 0 to 1.
    pub y: f64,
    /// What it points at.
    pub text: String,
    /// Id of the part it points at.
    pub part: Option<String>,
}

/// Whether something is contained in the totals.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Contained {
    /// Contained.
    In,
    /// Left out on purpose.
    Out,
    /// Nobody has said.
    #[default]
    Unknown,
}

impl Contained {
    /// The word shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::In => "in",
            Self::Out => "out",
            Self::Unknown => "unknown",
        }
    }
}

/// One row of the boundary register.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Boundary {
    /// What it is about: `coolant`, `software licences`.
    pub topic: String,
    /// In, out or unknown.
    pub state: Contained,
    /// Why, or what remains to be asked.
    pub note: String,
}
