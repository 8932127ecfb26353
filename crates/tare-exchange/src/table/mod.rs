//! Tables for other programs: described once, written as CSV, JSON lines or Parquet, and as the data dictionary beside them.
//!
//! ```
//! use tare_exchange::table::{Cell, Column, Description, Facts, Format, Table, Type, write};
//! const SCREWS: Description = Description {
//!     name: "screws",
//!     says: "One row for each screw.",
//!     columns: &[
//!         Column { name: "name", unit: "", kind: Type::Text, says: "What it is called." },
//!         Column { name: "mass", unit: "kg", kind: Type::Number, says: "Mass of one." },
//!     ],
//! };
//! let rows = vec![vec![Cell::from("=M5"), Cell::Number(0.0032)], vec![Cell::from("M6"), Cell::None]];
//! let table = |rows: &Vec<Vec<Cell<'static>>>| Table { of: &SCREWS, rows: Box::new(rows.clone().into_iter()) };
//! let mut csv = Vec::new();
//! assert_eq!(write(table(&rows), Format::Csv, &Facts::default(), &mut csv)?, 2);
//! assert_eq!(csv, b"name,mass (kg)\r\n'=M5,0.0032\r\nM6,\r\n");
//! let mut json = Vec::new();
//! write(table(&rows), Format::JsonLines, &Facts::default(), &mut json)?;
//! assert_eq!(json, b"{\"name\":\"=M5\",\"mass\":0.0032}\n{\"name\":\"M6\",\"mass\":null}\n");
//! # Ok::<(), std::io::Error>(())
//! ```
//!
//! Rows are taken one by one, so that a table may be longer than memory. It knows nothing of what the columns mean.

mod csv;
mod dictionary;
mod json_lines;
#[cfg(feature = "parquet")]
mod parquet;

pub use dictionary::{dictionary, schema};
use std::borrow::Cow;
use std::io::{self, Write};

/// What a column holds. Any cell may be empty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Type {
    /// Text in UTF-8.
    Text,
    /// A number in double precision.
    Number,
    /// A whole number.
    Whole,
    /// Yes or no.
    Flag,
}

impl Type {
    /// The word in the data dictionary.
    pub fn word(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Number => "number",
            Self::Whole => "whole number",
            Self::Flag => "true or false",
        }
    }
}

/// One column.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// Its name: lower case, words joined by `_`.
    pub name: &'static str,
    /// Its unit; empty without one. `money` stands for the currency of the study.
    pub unit: &'static str,
    /// What it holds.
    pub kind: Type,
    /// What it means, in one sentence.
    pub says: &'static str,
}

/// What a table holds: the one place from which every form and the data dictionary are written.
#[derive(Clone, Copy, Debug)]
pub struct Description {
    /// Its name, and that of its file.
    pub name: &'static str,
    /// What a row is.
    pub says: &'static str,
    /// Its columns, in order.
    pub columns: &'static [Column],
}

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell<'a> {
    /// Nothing is known.
    None,
    /// A text.
    Text(Cow<'a, str>),
    /// A number; one that is not finite is written as nothing.
    Number(f64),
    /// A whole number.
    Whole(i64),
    /// Yes or no.
    Flag(bool),
}

impl<'a> From<&'a str> for Cell<'a> {
    fn from(text: &'a str) -> Self {
        Self::Text(Cow::Borrowed(text))
    }
}

impl From<String> for Cell<'_> {
    fn from(text: String) -> Self {
        Self::Text(Cow::Owned(text))
    }
}

impl<'a> From<Option<&'a str>> for Cell<'a> {
    fn from(text: Option<&'a str>) -> Self {
        text.map_or(Self::None, Self::from)
    }
}

impl From<f64> for Cell<'_> {
    fn from(number: f64) -> Self {
        if number.is_finite() { Self::Number(number) } else { Self::None }
    }
}

impl From<Option<f64>> for Cell<'_> {
    fn from(number: Option<f64>) -> Self {
        number.map_or(Self::None, Self::from)
    }
}

impl From<bool> for Cell<'_> {
    fn from(flag: bool) -> Self {
        Self::Flag(flag)
    }
}

impl From<usize> for Cell<'_> {
    fn from(number: usize) -> Self {
        i64::try_from(number).map_or(Self::None, Self::Whole)
    }
}

/// The cells of one row, in the order of the columns.
pub type Row<'a> = Vec<Cell<'a>>;

/// A table: what it is, and its rows.
pub struct Table<'a> {
    /// What it holds.
    pub of: &'a Description,
    /// Its rows.
    pub rows: Box<dyn Iterator<Item = Row<'a>> + 'a>,
}

/// What is said of all tables of one export.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// The currency that `money` stands for; empty leaves the word.
    pub currency: String,
    /// What else is said of the export, such as the study, for whom it is, what was masked: a word and what is said.
    pub said: Vec<(String, String)>,
}

impl Facts {
    /// A column's unit as shown: `EUR/kg` for `money/kg`.
    pub fn unit(&self, column: &Column) -> String {
        if self.currency.is_empty() { column.unit.to_owned() } else { column.unit.replace("money", &self.currency) }
    }
}

/// In which form tables are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values, RFC 4180, UTF-8.
    Csv,
    /// One JSON object a line, UTF-8.
    JsonLines,
    /// Apache Parquet; only in a program built with it.
    Parquet,
}

impl Format {
    /// All forms.
    pub const ALL: [Self; 3] = [Self::Csv, Self::JsonLines, Self::Parquet];

    /// The word on the command line, which is also how its files end.
    pub fn word(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::JsonLines => "jsonl",
            Self::Parquet => "parquet",
        }
    }

    /// Whether this program can write it.
    pub fn is_built(self) -> bool {
        self != Self::Parquet || cfg!(feature = "parquet")
    }
}

/// Writes a table, and gives how many rows it had.
///
/// # Errors
/// What the writer says; a form that was not built; a row that does not fit its description, which is a bug of who made it.
pub fn write(table: Table<'_>, format: Format, facts: &Facts, out: &mut (dyn Write + Send)) -> io::Result<u64> {
    match format {
        Format::Csv => csv::write(table, facts, out),
        Format::JsonLines => json_lines::write(table, out),
        #[cfg(feature = "parquet")]
        Format::Parquet => parquet::write(table, facts, out),
        #[cfg(not(feature = "parquet"))]
        Format::Parquet => Err(io::Error::new(io::ErrorKind::Unsupported, "this program was built without Parquet")),
    }
}

/// Whether each cell is of its column's type.
fn fits(of: &Description, row: &Row<'_>) -> io::Result<()> {
    let kinds = row.len() == of.columns.len()
        && row.iter().zip(of.columns).all(|(cell, column)| {
            matches!(
                (cell, column.kind),
                (Cell::None, _)
                    | (Cell::Text(_), Type::Text)
                    | (Cell::Number(_), Type::Number)
                    | (Cell::Whole(_), Type::Whole)
                    | (Cell::Flag(_), Type::Flag)
            )
        });
    if kinds { Ok(()) } else { Err(io::Error::other(format!("bug: a row of `{}` does not fit its columns", of.name))) }
}
