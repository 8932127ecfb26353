//! A study as a workbook: every calculation as a table of live formulas, so that a changed wage moves the total.
//!
//! One sheet per calculation: a row for each use, a column for each input and equation, the same formula down a column. Formulas are the
//! authored ones with cells for names; they work in SI units, and a column in another unit shows what its neighbour holds in SI. Inputs
//! stand on one sheet with unit, spread, evidence and source, look-up tables on another. Every cell carries the value that Tare has for
//! it, so that a reader who computes nothing sees the same numbers, and one who does can be held against ours.
//!
//! [`write()`] makes the file. What cannot be written as a formula is a value, and [`Written`] counts it.
//!
//! What is not here: files, and what the study is called and stands for ([`About`] brings it).

mod bit;
mod columns;
mod grids;
mod lists;
mod operations;
mod place;
mod translate;
mod value;
mod write;

use tare_calc::Resolve;
use tare_study::{LineRef, Study};

/// What the pages in front say.
#[derive(Clone, Debug, Default)]
pub struct About {
    /// The study's name.
    pub title: String,
    /// Facts under the title: volume, place, year, money, rates, release.
    pub facts: Vec<(String, String)>,
    /// What the totals contain: topic, `in`, `out` or `unknown`, why.
    pub boundary: Vec<[String; 3]>,
    /// Headline numbers.
    pub headlines: Vec<Headline>,
    /// What a reader has to be told: invented data, hazards, what was masked.
    pub notes: Vec<String>,
    /// Leaves that get a name in the workbook: rates and the scenario.
    pub named: Vec<(String, LineRef)>,
    /// The day of writing: year, month, day.
    pub day: (u16, u8, u8),
}

/// A headline number.
#[derive(Clone, Debug)]
pub struct Headline {
    /// What it is.
    pub says: String,
    /// The name its cell gets.
    pub name: String,
    /// The line.
    pub line: LineRef,
    /// 95 % of the draws lie between these, in SI.
    pub range: Option<(f64, f64)>,
}

/// What was written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Written {
    /// The file.
    pub bytes: Vec<u8>,
    /// Cells with a formula.
    pub formulas: usize,
    /// Cells with a number or a text that a person or the library stated.
    pub inputs: usize,
    /// Cells that hold a value where a formula should stand, and why: one entry for each column.
    pub values: Vec<String>,
}

/// Writes the workbook.
///
/// # Errors
/// What the file format refuses, such as more rows than a sheet has.
pub fn write(study: &Study, library: &dyn Resolve, about: &About) -> Result<Written, String> {
    write::workbook(study, library, about).map_err(|e| e.to_string())
}
