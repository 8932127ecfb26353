//! What an import proposes: rows, totals as checks, what was skipped or changed and why, questions; every value with its cell.

use crate::codes;
use crate::mapping::{Mapping, Meaning};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use tare_diag::Diag;

/// Where a value came from and which rule made it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Origin {
    /// The file's name.
    pub file: String,
    /// The sheet; empty for a text file.
    pub sheet: String,
    /// The cell, such as `C12`.
    pub cell: String,
    /// The cell's text as written.
    pub raw: String,
    /// The rule that turned the text into the value.
    pub rule: String,
}

/// A value with its origin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Told<T> {
    /// The value.
    pub value: T,
    /// Where it came from.
    pub origin: Origin,
}

/// What a quantity counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum QuantityKind {
    /// Pieces.
    Pieces,
    /// A length, such as metres of cable.
    Length,
    /// A mass, such as grams of paste.
    Mass,
    /// A volume, such as millilitres of adhesive.
    Volume,
    /// Sets, kits, packs, pairs.
    Set,
    /// Not said.
    #[default]
    Unknown,
}

/// A quantity as written and as understood.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Amount {
    /// The number; `None` if unknown.
    pub value: Option<f64>,
    /// What it counts.
    pub kind: QuantityKind,
    /// The unit as written, if any.
    pub unit: Option<String>,
    /// Whether it is marked as a rough number.
    pub about: bool,
    /// Where it came from.
    pub origin: Origin,
}

/// What a price or mass is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Per {
    /// One piece.
    Piece,
    /// A pack of so many pieces.
    Pack(f64),
    /// The whole row.
    Line,
    /// A group of rows that share one merged cell.
    Group,
    /// Not said.
    #[default]
    Unknown,
}

/// Whether tax is inside a price.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tax {
    /// With tax.
    Included,
    /// Without tax.
    Excluded,
    /// Not said.
    #[default]
    Unknown,
}

/// A price as written and as understood; what is not said stays unknown.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Price {
    /// The amount; `None` if unknown. For a range the lower end.
    pub value: Option<f64>,
    /// The upper end of a range.
    pub upper: Option<f64>,
    /// The currency code, only where it is certain.
    pub currency: Option<String>,
    /// The currency sign as written.
    pub sign: Option<String>,
    /// What it is for.
    pub per: Per,
    /// Whether tax is inside.
    pub tax: Tax,
    /// The date it held, as written.
    pub date: Option<String>,
    /// Where it came from.
    pub origin: Origin,
}

/// A mass as printed, with kilograms beside it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mass {
    /// The printed number.
    pub value: Option<f64>,
    /// The printed or column unit; empty if none is known.
    pub unit: String,
    /// In kilograms, where the unit is known.
    pub kg: Option<f64>,
    /// What it is for.
    pub per: Per,
    /// Where it came from.
    pub origin: Origin,
}

/// A group title: a section row, a table title, a merged or once-written group name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Group {
    /// The title.
    pub name: String,
    /// The group around it.
    pub parent: Option<usize>,
    /// Whether it is a section title row of its own.
    pub section_row: bool,
    /// Where it came from.
    pub origin: Origin,
}

/// One row that names a part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PartRow {
    /// Index of its table.
    pub table: usize,
    /// The row as the sheet numbers it, from 1.
    pub row: u32,
    /// Position text or dotted number, untouched.
    pub label: Option<Told<String>>,
    /// Part number, untouched.
    pub part_number: Option<Told<String>>,
    /// Name.
    pub name: Option<Told<String>>,
    /// Description beside the name.
    pub description: Option<Told<String>>,
    /// Depth in the tree of rows, 0 at the top.
    pub level: usize,
    /// The row it belongs to, as an index into the rows.
    pub parent: Option<usize>,
    /// The group it belongs to, as an index into the groups.
    pub group: Option<usize>,
    /// How many.
    pub quantity: Amount,
    /// How many are bought, where the list says so apart.
    pub bought: Option<Amount>,
    /// Material text.
    pub material: Option<Told<String>>,
    /// Mass.
    pub mass: Option<Mass>,
    /// Price for a piece or pack, or of unknown meaning.
    pub price: Option<Price>,
    /// Price of the whole row.
    pub line_price: Option<Price>,
    /// Note.
    pub note: Option<Told<String>>,
    /// `make` or `buy`, where the list says so.
    pub make_or_buy: Option<Told<String>>,
    /// Supplier.
    pub supplier: Option<Told<String>>,
    /// Address.
    pub link: Option<Told<String>>,
    /// Places on a circuit board.
    pub designators: Vec<String>,
    /// Electrical or other value text.
    pub value: Option<Told<String>>,
    /// Device text.
    pub device: Option<Told<String>>,
    /// Package text.
    pub package: Option<Told<String>>,
    /// Whether it is fitted.
    pub fitted: bool,
    /// Whether it is a component at all (not an alignment mark, solder bridge or the like).
    pub component: bool,
    /// The group of alternatives it belongs to.
    pub alternative: Option<String>,
    /// Whether it is optional or a spare.
    pub optional: bool,
    /// Whether it is counted in the sums.
    pub counted: bool,
    /// Why it is not counted.
    pub why_not: Option<String>,
    /// Other columns by title.
    pub other: Vec<(String, Told<String>)>,
}

/// What a total adds up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TotalOf {
    /// Quantities.
    Quantity,
    /// Masses.
    Mass,
    /// Prices.
    Price,
}

/// How a stated total compares with its rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It agrees.
    Agrees,
    /// It was only rounded.
    Rounded,
    /// It is wrong.
    Differs,
    /// Nothing could be compared.
    Unchecked,
}

/// A stated total as a check of the rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TotalCheck {
    /// The label beside it.
    pub label: String,
    /// What it adds up.
    pub of: TotalOf,
    /// The stated number.
    pub stated: Option<f64>,
    /// The number from the rows.
    pub recomputed: Option<f64>,
    /// The number its own formula gives.
    pub by_formula: Option<f64>,
    /// How it compares.
    pub verdict: Verdict,
    /// Cells of rows its formula leaves out.
    pub left_out: Vec<String>,
    /// The finding in one sentence.
    pub says: String,
    /// Where it stands.
    pub origin: Origin,
}

/// A row or cell that was not taken, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Skipped {
    /// The cell (with sheet).
    pub cell: Origin,
    /// Why.
    pub why: String,
}

/// A value that is not what the cell says literally.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Changed {
    /// The cell, raw text and rule.
    pub cell: Origin,
    /// What it became.
    pub became: String,
}

/// Something only a person can decide.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Question {
    /// Stable key for the answer.
    pub id: String,
    /// The question.
    pub text: String,
    /// Possible answers: key and meaning.
    pub choices: Vec<(String, String)>,
    /// The cell that raised it.
    pub cell: Option<Origin>,
}

/// A table found on a sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TableFound {
    /// The sheet.
    pub sheet: String,
    /// Index of the sheet in the book.
    pub sheet_index: usize,
    /// The title above it or beside it.
    pub title: Option<String>,
    /// The range it covers, such as `C6:E22`.
    pub range: String,
    /// Its row of titles, from 1.
    pub header_row: u32,
    /// Rows that name parts.
    pub part_rows: usize,
    /// Section title rows.
    pub section_rows: usize,
    /// Sum of the quantity column over counted rows.
    pub quantity: f64,
}

/// A distinct combination of value, device and package in a list of places.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Distinct {
    /// Value text.
    pub value: String,
    /// Device text.
    pub device: String,
    /// Package text.
    pub package: String,
    /// Indices of its rows.
    pub rows: Vec<usize>,
    /// How many of them are counted.
    pub counted: usize,
}

/// Rows by what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// All rows that name something.
    pub rows: usize,
    /// Section title rows.
    pub sections: usize,
    /// Rows that are no components.
    pub not_components: usize,
    /// Rows marked as not fitted.
    pub not_fitted: usize,
    /// Alternatives beyond the first.
    pub alternatives: usize,
    /// Optional and spare rows.
    pub optional: usize,
    /// Rows that have parts of their own in the list.
    pub assemblies: usize,
}

/// A proposal: nothing is imported until someone accepts it.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Proposal {
    /// The file's name.
    pub file: String,
    /// The file's fingerprint.
    pub sha256: String,
    /// Tables found.
    pub tables: Vec<TableFound>,
    /// How the columns were read; can be changed and handed back.
    pub mapping: Mapping,
    /// Group titles.
    pub groups: Vec<Group>,
    /// Rows.
    pub rows: Vec<PartRow>,
    /// Stated totals as checks.
    pub totals: Vec<TotalCheck>,
    /// What was not taken.
    pub skipped: Vec<Skipped>,
    /// What was changed.
    pub changed: Vec<Changed>,
    /// Warnings.
    #[serde(with = "codes")]
    pub warnings: Vec<Diag>,
    /// Questions.
    pub questions: Vec<Question>,
    /// Distinct combinations, in a list of places without a quantity column.
    pub distinct: Vec<Distinct>,
    /// Rows by what became of them.
    pub counts: Counts,
    /// Counted rows.
    pub parts: usize,
    /// Sum of the quantity column over counted rows, whatever it counts.
    pub total_quantity: f64,
    /// The same apart for pieces, lengths, masses, volumes, sets.
    pub by_kind: BTreeMap<QuantityKind, f64>,
    /// The same by table, in the order of the tables.
    pub by_table: Vec<f64>,
}

impl Proposal {
    /// A meaning's column letters per table, for display.
    pub fn column_of(&self, table: usize, meaning: Meaning) -> Option<u32> {
        self.mapping.tables.get(table)?.column(meaning).map(|c| c.column)
    }
}
