//! How the columns of a table are read: shown to the user, changed by them, remembered by the header's fingerprint.

use crate::number::NumberStyle;
use crate::proposal::{Per, Tax};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// What a column means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Meaning {
    /// Running number, item number or dotted number.
    Position,
    /// Depth in the tree.
    Level,
    /// Part number.
    PartNumber,
    /// Name.
    Name,
    /// Description.
    Description,
    /// Group or assembly name.
    Group,
    /// Path of groups, in one cell or one step per column.
    Path,
    /// How many are needed.
    Quantity,
    /// How many are bought.
    QuantityBought,
    /// How often the assembly itself is needed.
    Multiplier,
    /// Quantity times multiplier as the list has it.
    QuantityTotal,
    /// Unit of the quantity.
    Unit,
    /// Material.
    Material,
    /// Mass.
    Mass,
    /// Mass of the whole row.
    MassLine,
    /// Price of a piece, a pack, or unknown.
    Price,
    /// Price of the whole row.
    PriceLine,
    /// Pieces in a pack.
    PackSize,
    /// Currency.
    Currency,
    /// Date.
    Date,
    /// Make or buy.
    MakeOrBuy,
    /// Supplier.
    Supplier,
    /// Note.
    Note,
    /// Address.
    Link,
    /// Places on a circuit board.
    Designator,
    /// Electrical or other value.
    Value,
    /// Device.
    Device,
    /// Package.
    Package,
    /// Fitted or not.
    Fitted,
    /// Optional, spare or alternative mark.
    Option,
    /// Kept as text under its title.
    Other,
}

/// How one column is read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ColumnMapping {
    /// Zero-based column.
    pub column: u32,
    /// The title as written.
    pub title: String,
    /// What it means.
    pub meaning: Meaning,
    /// How numbers are written in it.
    pub number: Option<NumberStyle>,
    /// Why that number style was taken.
    pub number_why: String,
    /// Unit from the title.
    pub unit: Option<String>,
    /// Currency code from the title or nearby.
    pub currency: Option<String>,
    /// What prices or masses in it are for.
    pub per: Per,
    /// Whether its prices contain tax.
    pub tax: Tax,
    /// Whether the meaning comes from the title, the content or a remembered mapping.
    pub decided_by: String,
}

/// How a list says which row belongs to which.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hierarchy {
    /// It does not.
    #[default]
    Flat,
    /// Dotted numbers.
    Dotted,
    /// A column of depths.
    LevelColumn,
    /// Blanks or indents before the name.
    Indent,
    /// One path in a cell.
    PathCell,
    /// A path over several columns.
    PathColumns,
    /// A group name merged over its rows, or only in its first row.
    GroupColumn,
    /// Section title rows.
    Sections,
}

/// How one table is read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TableMapping {
    /// The sheet's name.
    pub sheet: String,
    /// Row of titles, from 1.
    pub header_row: u32,
    /// Whether to leave the table out.
    pub skip: bool,
    /// Its columns.
    pub columns: Vec<ColumnMapping>,
    /// How it says which row belongs to which.
    pub hierarchy: Hierarchy,
    /// Whether single-cell rows are section titles.
    pub sections: bool,
    /// What tells one row from another in the next revision.
    pub identity: Vec<Meaning>,
}

impl TableMapping {
    /// The first column of a meaning.
    pub fn column(&self, meaning: Meaning) -> Option<&ColumnMapping> {
        self.columns.iter().find(|c| c.meaning == meaning)
    }

    /// The header's fingerprint: titles and their order, not letter case, blanks or place.
    pub fn fingerprint(&self) -> String {
        fingerprint(self.columns.iter().map(|c| c.title.as_str()))
    }
}

/// How a file is read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mapping {
    /// One entry per table.
    pub tables: Vec<TableMapping>,
}

impl Mapping {
    /// The fingerprint of all headers, by which a mapping is remembered.
    pub fn fingerprint(&self) -> String {
        let each: Vec<String> = self.tables.iter().map(TableMapping::fingerprint).collect();
        fingerprint(each.iter().map(String::as_str))
    }
}

/// What the user already decided.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Hints {
    /// A mapping to use where the headers fit.
    pub mapping: Option<Mapping>,
    /// Answers by question id.
    pub answers: BTreeMap<String, String>,
}

pub(crate) fn fingerprint<'a>(titles: impl Iterator<Item = &'a str>) -> String {
    let mut hash = Sha256::new();
    for title in titles {
        hash.update(title.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase().as_bytes());
        hash.update([0]);
    }
    hash.finalize().iter().take(12).map(|b| format!("{b:02x}")).collect()
}
