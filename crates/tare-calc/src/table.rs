//! Tables of a calculation: keys, columns, rows.

use crate::calculation::Declared;
use crate::span::{Located, Span};
use tare_units::Quantity;

/// A table.
#[derive(Clone, Debug)]
pub struct Table {
    /// Its name.
    pub name: Located<String>,
    /// Where its cells come from.
    pub source: Option<String>,
    /// What it is, in words.
    pub says: String,
    /// The keys, in the order of the arguments of `pick`.
    pub keys: Vec<Key>,
    /// The columns, in the order of the file.
    pub columns: Vec<Column>,
    /// The rows, in the order of the file.
    pub rows: Vec<Row>,
}

impl Table {
    /// The column of a name, with its position.
    pub fn column(&self, name: &str) -> Option<(usize, &Column)> {
        self.columns.iter().enumerate().find(|(_, c)| c.name.value == name)
    }

    /// Whether a picked row lies between two rows.
    pub fn interpolates(&self) -> bool {
        self.keys.iter().any(|k| k.rule == Rule::Interpolate)
    }

    /// The text of a key cell as written.
    pub fn key_text(&self, row: usize, key: usize) -> &str {
        self.rows.get(row).and_then(|r| r.keys.get(key)).map_or("", |c| c.text.value.as_str())
    }
}

/// How a key selects a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// The first row whose key is not below the need.
    UpTo,
    /// The last row whose key is not above the need.
    From,
    /// Linear between the rows beside the need.
    Interpolate,
    /// The row with this choice.
    Equals,
}

impl Rule {
    /// Every rule.
    pub const ALL: [Self; 4] = [Self::UpTo, Self::From, Self::Interpolate, Self::Equals];

    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::UpTo => "up_to",
            Self::From => "from",
            Self::Interpolate => "interpolate",
            Self::Equals => "equals",
        }
    }
}

/// What happens when the need lies outside the rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outside {
    /// No result: an error that names the largest.
    Refuse,
    /// The end row.
    Hold,
    /// Linear beyond the end rows (only with [`Rule::Interpolate`]).
    Extend,
}

impl Outside {
    /// Every rule.
    pub const ALL: [Self; 3] = [Self::Refuse, Self::Hold, Self::Extend];

    /// The word in the file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Refuse => "refuse",
            Self::Hold => "hold",
            Self::Extend => "extend",
        }
    }
}

/// A key of a table.
#[derive(Clone, Debug)]
pub struct Key {
    /// Its name.
    pub name: Located<String>,
    /// What it is: a number, or a choice for [`Rule::Equals`].
    pub declared: Declared,
    /// The unit's text and place.
    pub unit: Located<String>,
    /// How it selects.
    pub rule: Rule,
    /// What happens outside.
    pub outside: Outside,
    /// For [`Rule::Equals`]: the different texts of the cells, in order of first appearance.
    pub choices: Vec<String>,
    /// What it is, in words.
    pub says: String,
}

/// A column of a table.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its name.
    pub name: Located<String>,
    /// What it is.
    pub declared: Declared,
    /// The unit's text and place.
    pub unit: Located<String>,
    /// For a choice: the different texts of the cells, in order of first appearance.
    pub choices: Vec<String>,
    /// What it is, in words.
    pub says: String,
}

/// A row of a table.
#[derive(Clone, Debug)]
pub struct Row {
    /// Its name; the first key's text or the row's number when the file gives none.
    pub name: String,
    /// The row's own source.
    pub source: Option<String>,
    /// One cell per key.
    pub keys: Vec<Cell>,
    /// One cell per column.
    pub cells: Vec<Cell>,
    /// Where the row stands.
    pub span: Span,
}

/// A cell.
#[derive(Clone, Debug)]
pub struct Cell {
    /// As written.
    pub text: Located<String>,
    /// What it says.
    pub value: CellValue,
}

/// What a cell says.
#[derive(Clone, Debug)]
pub enum CellValue {
    /// A number.
    Number(Quantity),
    /// A choice (its position in the column's or key's `choices`) or a condition (0 or 1).
    Level(usize),
    /// It is missing or could not be read; a message says why.
    Bad,
}

impl CellValue {
    /// The number in SI units, or the level; none when it could not be read.
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Number(q) => Some(q.value),
            Self::Level(level) => Some(*level as f64),
            Self::Bad => None,
        }
    }
}
