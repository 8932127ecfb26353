//! Sheets of raw cells as a file gave them, before anyone decides what they mean.

use serde::{Deserialize, Serialize};
use tare_diag::{Diag, Place};

/// A file to read: its name as the user knows it, and its bytes.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// The file's name, used in messages only; the kind of file is told from the bytes.
    pub name: &'a str,
    /// The whole file.
    pub bytes: &'a [u8],
}

/// The kind of file the bytes turned out to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Container {
    /// Text with a separator between fields.
    Text {
        /// The separator.
        separator: char,
    },
    /// Office Open XML workbook.
    Xlsx,
    /// Binary workbook (BIFF).
    Xls,
    /// OpenDocument spreadsheet.
    Ods,
}

/// How the bytes of a text file were turned into letters, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Encoding {
    /// The encoding's name.
    pub name: String,
    /// Why it was taken.
    pub reason: String,
    /// Whether it is known (a mark, strict UTF-8) and not a fallback.
    pub certain: bool,
}

/// What a cell holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CellKind {
    /// Text as written; in a text file every cell is text.
    Text,
    /// A stored number.
    Number,
    /// A stored truth value.
    Bool,
    /// A stored date; `number` holds year * 10000 + month * 100 + day.
    Date,
    /// A stored error such as a division by zero.
    Error,
    /// A formula without a stored value.
    Unknown,
}

/// One non-empty cell.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    /// Zero-based row.
    pub row: u32,
    /// Zero-based column.
    pub column: u32,
    /// The text as written or as the file's own number format shows it.
    pub text: String,
    /// What the cell holds.
    pub kind: CellKind,
    /// The stored number, if any.
    pub number: Option<f64>,
    /// The formula without its equals sign, in A1 form.
    pub formula: Option<String>,
    /// The number format, if it is not the general one.
    pub format: Option<String>,
    /// The address behind the cell.
    pub link: Option<String>,
    /// Indentation set by the cell's style.
    pub indent: u8,
    /// Stale content hidden under a merged range (only the top left cell of a merge is shown).
    pub hidden: bool,
}

impl Cell {
    /// Makes a text cell.
    pub fn text(row: u32, column: u32, text: impl Into<String>) -> Self {
        Self {
            row,
            column,
            text: text.into(),
            kind: CellKind::Text,
            number: None,
            formula: None,
            format: None,
            link: None,
            indent: 0,
            hidden: false,
        }
    }

    /// Year, month and day of a date cell.
    pub fn date(&self) -> Option<(i32, u32, u32)> {
        if self.kind != CellKind::Date {
            return None;
        }
        let n = self.number? as i64;
        Some(((n / 10_000) as i32, ((n / 100) % 100) as u32, (n % 100) as u32))
    }

    /// Whether the cell is text.
    pub fn is_text(&self) -> bool {
        self.kind == CellKind::Text
    }
}

/// A merged range, zero-based and inclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Merge {
    /// First row.
    pub top: u32,
    /// First column.
    pub left: u32,
    /// Last row.
    pub bottom: u32,
    /// Last column.
    pub right: u32,
}

/// One sheet: only real cells, in reading order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sheet {
    /// The sheet's name; empty for a text file.
    pub name: String,
    /// Whether the workbook hides it.
    pub hidden: bool,
    /// Cells by row, then column.
    pub cells: Vec<Cell>,
    /// Merged ranges.
    pub merges: Vec<Merge>,
    /// Where each row that has cells begins: (row, first index, end index).
    rows: Vec<(u32, u32, u32)>,
    /// Merged ranges by column and first row: (column, first row, index).
    merged: Vec<(u32, u32, u32)>,
}

/// Columns of one merged range that are indexed; wider ones are headings whose far end nobody asks for.
const MERGED_COLUMNS: u32 = 256;

impl Sheet {
    /// Orders cells, indexes rows and marks what lies hidden under merged ranges.
    pub fn new(name: impl Into<String>, hidden: bool, mut cells: Vec<Cell>, mut merges: Vec<Merge>) -> Self {
        merges.truncate(crate::limits::MERGES);
        cells.sort_by_key(|c| (c.row, c.column));
        cells.dedup_by_key(|c| (c.row, c.column));
        let mut rows: Vec<(u32, u32, u32)> = Vec::new();
        for (i, c) in cells.iter().enumerate() {
            let i = i as u32;
            match rows.last_mut() {
                Some(last) if last.0 == c.row => last.2 = i + 1,
                _ => rows.push((c.row, i, i + 1)),
            }
        }
        let columns = |m: &Merge| m.left..=m.right.min(m.left.saturating_add(MERGED_COLUMNS));
        let mut merged: Vec<(u32, u32, u32)> =
            merges.iter().enumerate().flat_map(|(i, m)| columns(m).map(move |c| (c, m.top, i as u32))).collect();
        merged.sort_unstable();
        let mut sheet = Self { name: name.into(), hidden, cells, merges, rows, merged };
        sheet.hide_under_merges();
        sheet
    }

    fn hide_under_merges(&mut self) {
        let mut work = 0usize;
        for m in &self.merges {
            let from = self.rows.partition_point(|r| r.0 < m.top);
            for &(row, start, end) in self.rows[from..].iter().take_while(|r| r.0 <= m.bottom) {
                for cell in &mut self.cells[start as usize..end as usize] {
                    work += 1;
                    if cell.column >= m.left && cell.column <= m.right && (row, cell.column) != (m.top, m.left) {
                        cell.hidden = true;
                    }
                }
                if work > 20_000_000 {
                    return;
                }
            }
        }
    }

    /// The cell at a zero-based position, hidden ones included.
    pub fn get(&self, row: u32, column: u32) -> Option<&Cell> {
        let cells = self.all_in_row(row);
        cells.binary_search_by_key(&column, |c| c.column).ok().map(|i| &cells[i])
    }

    /// The visible cell at a zero-based position.
    pub fn seen(&self, row: u32, column: u32) -> Option<&Cell> {
        self.get(row, column).filter(|c| !c.hidden && !c.text.trim().is_empty())
    }

    /// All cells of a row, hidden ones included.
    pub fn all_in_row(&self, row: u32) -> &[Cell] {
        match self.rows.binary_search_by_key(&row, |r| r.0) {
            Ok(i) => &self.cells[self.rows[i].1 as usize..self.rows[i].2 as usize],
            Err(_) => &[],
        }
    }

    /// The visible, non-blank cells of a row within a range of columns.
    pub fn seen_in_row(&self, row: u32, left: u32, right: u32) -> impl Iterator<Item = &Cell> {
        self.all_in_row(row)
            .iter()
            .filter(move |c| c.column >= left && c.column <= right && !c.hidden && !c.text.trim().is_empty())
    }

    /// The rows that have cells, in order.
    pub fn rows(&self) -> impl Iterator<Item = u32> + '_ {
        self.rows.iter().map(|r| r.0)
    }

    /// The last row that has cells.
    pub fn last_row(&self) -> Option<u32> {
        self.rows.last().map(|r| r.0)
    }

    /// The merged range that covers a position.
    pub fn merge_at(&self, row: u32, column: u32) -> Option<Merge> {
        // Ranges of one file do not overlap, so the nearest one above decides; a few more are tried for files where they do.
        let end = self.merged.partition_point(|m| (m.0, m.1) <= (column, row));
        let above = self.merged[..end].iter().rev().take_while(|m| m.0 == column).take(16);
        above.map(|m| self.merges[m.2 as usize]).find(|m| row <= m.bottom)
    }
}

/// A file read into raw cells.
#[derive(Clone, Debug)]
pub struct Book {
    /// The file's name as given.
    pub file: String,
    /// SHA-256 of the bytes, in hexadecimal.
    pub sha256: String,
    /// What kind of file it is.
    pub container: Container,
    /// How letters were decoded; only for text files.
    pub encoding: Option<Encoding>,
    /// The sheets, in the file's order.
    pub sheets: Vec<Sheet>,
    /// What was noticed while reading.
    pub remarks: Vec<Diag>,
}

impl Book {
    /// The place of a cell, for messages.
    pub fn place(&self, sheet: usize, row: u32, column: u32) -> Place {
        let name = self.sheets.get(sheet).map(|s| s.name.as_str()).filter(|n| !n.is_empty());
        Place::cell(self.file.as_str(), name, row as usize, column as usize)
    }

    /// How many non-empty cells there are.
    pub fn cell_count(&self) -> usize {
        self.sheets.iter().map(|s| s.cells.len()).sum()
    }
}

/// Names a cell from zero-based row and column, as a spreadsheet does: `(11, 2)` is `C12`.
pub fn cell_name(row: u32, column: u32) -> String {
    format!("{}{}", column_name(column), u64::from(row) + 1)
}

/// Names a zero-based column: `2` is `C`.
pub fn column_name(column: u32) -> String {
    let mut letters = Vec::new();
    let mut rest = u64::from(column) + 1;
    while rest > 0 {
        letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
        rest = (rest - 1) / 26;
    }
    letters.iter().rev().collect()
}

/// Reads a cell name such as `$C$12`; `None` if it is none or lies outside the largest sheet.
pub fn parse_cell_name(text: &str) -> Option<(u32, u32)> {
    let text = text.strip_prefix('$').unwrap_or(text);
    let letters = text.bytes().take_while(u8::is_ascii_alphabetic).count();
    if letters == 0 || letters > 3 {
        return None;
    }
    let column = text.bytes().take(letters).fold(0u32, |n, b| n * 26 + u32::from(b.to_ascii_uppercase() - b'A') + 1) - 1;
    let digits = text[letters..].strip_prefix('$').unwrap_or(&text[letters..]);
    if digits.is_empty() || digits.len() > 7 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let row = digits.parse::<u32>().ok()?.checked_sub(1)?;
    (row < 1_048_576 && column < 16_384).then_some((row, column))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cell_names_go_both_ways() {
        for (row, column, name) in
            [(0, 0, "A1"), (11, 2, "C12"), (0, 26, "AA1"), (9, 701, "ZZ10"), (0, 702, "AAA1"), (1_048_575, 16_383, "XFD1048576")]
        {
            assert_eq!(cell_name(row, column), name);
            assert_eq!(parse_cell_name(name), Some((row, column)));
        }
        assert_eq!(parse_cell_name("$C$12"), Some((11, 2)));
        for bad in ["", "12", "A0", "XFE1", "A1048577", "C12x", "ABCD1"] {
            assert_eq!(parse_cell_name(bad), None, "{bad}");
        }
    }

    #[test]
    fn only_the_top_left_of_a_merge_is_seen() {
        let cells = vec![Cell::text(0, 0, "shown"), Cell::text(1, 0, "stale"), Cell::text(2, 0, "free")];
        let sheet = Sheet::new("s", false, cells, vec![Merge { top: 0, left: 0, bottom: 1, right: 0 }]);
        assert!(sheet.seen(1, 0).is_none());
        assert_eq!(sheet.get(1, 0).map(|c| c.text.as_str()), Some("stale"));
        assert!(sheet.seen(2, 0).is_some());
    }
}
