//! Places a message can point at.

use std::fmt;
use std::ops::Range;

/// Where something was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// A byte range in a text file.
    Span {
        /// The file's name as the user knows it.
        file: String,
        /// Byte offsets, end exclusive.
        span: Range<usize>,
    },
    /// A cell of a table file.
    Cell {
        /// The file's name.
        file: String,
        /// The sheet, if the file has several.
        sheet: Option<String>,
        /// The cell as a spreadsheet names it, such as `C12`.
        cell: String,
    },
    /// A line of a text file, counted from 1.
    Line {
        /// The file's name.
        file: String,
        /// The line.
        line: usize,
    },
    /// A whole file.
    File(String),
    /// An address inside a study, such as `study/P12/op2/cycle`.
    Address(String),
}

impl Place {
    /// A byte range in a file.
    pub fn span(file: impl Into<String>, span: Range<usize>) -> Self {
        Self::Span { file: file.into(), span }
    }

    /// A cell, from zero-based row and column.
    pub fn cell(file: impl Into<String>, sheet: Option<&str>, row: usize, column: usize) -> Self {
        Self::Cell { file: file.into(), sheet: sheet.map(str::to_owned), cell: cell_name(row, column) }
    }

    /// An address inside a study.
    pub fn address(address: impl Into<String>) -> Self {
        Self::Address(address.into())
    }
}

/// Names a cell from zero-based row and column: `(11, 2)` is `C12`.
fn cell_name(row: usize, column: usize) -> String {
    let mut letters = Vec::new();
    let mut rest = column + 1;
    while rest > 0 {
        letters.push(b'A' + u8::try_from((rest - 1) % 26).unwrap_or(0));
        rest = (rest - 1) / 26;
    }
    letters.reverse();
    let mut name = String::from_utf8_lossy(&letters).into_owned();
    name.push_str(&(row + 1).to_string());
    name
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Span { file, span } => write!(f, "{file}, byte {}", span.start),
            Self::Cell { file, sheet: Some(sheet), cell } => write!(f, "{file}, sheet {sheet}, cell {cell}"),
            Self::Cell { file, sheet: None, cell } => write!(f, "{file}, cell {cell}"),
            Self::Line { file, line } => write!(f, "{file}, line {line}"),
            Self::File(file) => f.write_str(file),
            Self::Address(address) => f.write_str(address),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_named_as_spreadsheets_do() {
        for (row, column, name) in
            [(0, 0, "A1"), (11, 2, "C12"), (0, 25, "Z1"), (0, 26, "AA1"), (9, 701, "ZZ10"), (0, 702, "AAA1")]
        {
            assert_eq!(cell_name(row, column), name);
        }
    }
}
