//! Two workbooks held against each other, cell by cell.

use calamine::{Data, Range, Reader, Xlsx};
use std::collections::BTreeMap;
use std::io::Cursor;

/// The largest difference that counts as none, as a share of the largest operand.
const NEAR: f64 = 1e-9;

/// A workbook's values and formulas, by sheet.
pub(crate) struct Book {
    pub(crate) values: BTreeMap<String, Range<Data>>,
    pub(crate) formulas: BTreeMap<String, Range<String>>,
    pub(crate) order: Vec<String>,
}

pub(crate) fn read(bytes: &[u8]) -> Book {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes.to_vec())).expect("a workbook");
    let order = book.sheet_names();
    let values = order.iter().map(|s| (s.clone(), book.worksheet_range(s).expect("values"))).collect();
    let formulas = order.iter().map(|s| (s.clone(), book.worksheet_formula(s).expect("formulas"))).collect();
    Book { values, formulas, order }
}

impl Book {
    pub(crate) fn at(&self, sheet: &str, row: u32, column: u32) -> Data {
        self.values.get(sheet).and_then(|s| s.get_value((row, column))).cloned().unwrap_or(Data::Empty)
    }

    pub(crate) fn number(&self, sheet: &str, row: u32, column: u32) -> f64 {
        match self.at(sheet, row, column) {
            Data::Float(x) => x,
            Data::Int(x) => x as f64,
            other => panic!("{sheet} row {} column {}: {other:?} is no number", row + 1, column + 1),
        }
    }

    /// Cells with a formula: sheet, row, column, text.
    pub(crate) fn all_formulas(&self) -> impl Iterator<Item = (&str, u32, u32, &str)> {
        self.formulas.iter().flat_map(|(sheet, range)| {
            let (top, left) = range.start().unwrap_or_default();
            range.used_cells().map(move |(r, c, text)| (sheet.as_str(), r as u32 + top, c as u32 + left, text.as_str()))
        })
    }

    /// The largest number among the cells that a formula names one by one.
    fn largest_operand(&self, sheet: &str, formula: &str) -> f64 {
        let mut largest = 0.0_f64;
        let mut rest = formula;
        while let Some(found) = next_reference(rest) {
            let (of, column, row, after) = found;
            rest = after;
            if let Data::Float(x) = self.at(of.as_deref().unwrap_or(sheet), row, column) {
                largest = largest.max(x.abs());
            }
        }
        largest
    }
}

/// The next reference in a formula: its sheet, its column and row from 0, and what follows.
fn next_reference(text: &str) -> Option<(Option<String>, u32, u32, &str)> {
    let bytes = text.as_bytes();
    let mut at = 0;
    let mut sheet: Option<String> = None;
    while at < bytes.len() {
        match bytes[at] {
            b'\'' => {
                let end = at + 1 + text[at + 1..].find('\'')?;
                sheet = Some(text[at + 1..end].to_owned());
                at = end + 1;
            }
            b'!' => at += 1,
            b'"' => at += 2 + text[at + 1..].find('"')?,
            c if c.is_ascii_alphabetic() || c == b'$' || c == b'_' => {
                let word = text[at..]
                    .find(|c: char| !(c.is_ascii_alphanumeric() || c == '$' || c == '_' || c == '.'))
                    .map_or(text.len(), |n| at + n);
                let plain = text[at..word].replace('$', "");
                if bytes.get(word) == Some(&b'!') {
                    sheet = Some(plain);
                } else {
                    let letters = plain.len() - plain.trim_start_matches(|c: char| c.is_ascii_uppercase()).len();
                    if let (1..=3, Ok(row)) = (letters, plain[letters..].parse::<u32>()) {
                        let column = plain[..letters].bytes().fold(0, |sum, c| sum * 26 + u32::from(c - b'A') + 1);
                        return Some((sheet, column - 1, row - 1, &text[word..]));
                    }
                }
                at = word;
            }
            _ => {
                sheet = None;
                at += 1;
            }
        }
    }
    None
}

/// A formula as it would stand in any row: rows as distances, a use's own stretch of a list as `list`.
pub(crate) fn relative(formula: &str, row: u32) -> String {
    let (mut text, mut rest) = (String::new(), formula);
    while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
        let (before, after) = rest.split_at(at);
        let digits = after.len() - after.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let stem = before.trim_end_matches(|c: char| c.is_ascii_uppercase());
        let cell = stem.len() < before.len() && !(stem.is_empty() && text.ends_with(|c: char| c.is_ascii_digit()));
        text.push_str(before);
        match after[..digits].parse::<i64>() {
            Ok(number) if cell => text.push_str(&format!("[{}]", number - i64::from(row))),
            _ => text.push_str(&after[..digits]),
        }
        rest = &after[digits..];
    }
    text.push_str(rest);
    without_stretches(&text)
}

/// `$E$346:$E$348` of the sheet itself becomes `list`.
fn without_stretches(text: &str) -> String {
    let mut out = String::new();
    let mut words = text.split_inclusive(|c: char| !(c.is_ascii_alphanumeric() || matches!(c, '$' | ':' | '\'' | '!' | '-')));
    words.try_for_each(|word| {
        let stretch = word.starts_with('$') && word.contains(":$");
        let kept =
            if stretch { word.trim_start_matches(|c: char| c.is_ascii_alphanumeric() || matches!(c, '$' | ':')) } else { word };
        out.push_str(if stretch { "list" } else { "" });
        out.push_str(kept);
        Some(())
    });
    out
}

/// What a comparison found.
#[derive(Debug, Default)]
pub(crate) struct Compared {
    pub(crate) cells: usize,
    pub(crate) numbers: usize,
    /// Cells without a number in both.
    pub(crate) errors: usize,
    /// The largest relative difference.
    pub(crate) largest: f64,
    pub(crate) differ: Vec<String>,
}

/// Holds every formula's cell of ours against the other's.
pub(crate) fn compare(ours: &Book, other: &Book) -> Compared {
    let mut found = Compared::default();
    for (sheet, row, column, formula) in ours.all_formulas() {
        let (a, b) = (ours.at(sheet, row, column), other.at(sheet, row, column));
        found.cells += 1;
        let difference = match (&a, &b) {
            (Data::Float(x), Data::Float(y)) => {
                found.numbers += 1;
                let own = (x - y).abs() / x.abs().max(y.abs());
                // what is left of larger numbers is held against those
                let against_operands = || (x - y).abs() / x.abs().max(y.abs()).max(ours.largest_operand(sheet, formula));
                if x == y {
                    0.0
                } else if own <= NEAR {
                    own
                } else {
                    against_operands()
                }
            }
            (Data::Error(_), Data::Error(_)) => {
                found.errors += 1;
                0.0
            }
            (a, b) if a == b => 0.0,
            _ => f64::INFINITY,
        };
        if difference.is_finite() {
            found.largest = found.largest.max(difference);
        }
        if difference.is_nan() || difference > NEAR {
            found.differ.push(format!("{sheet} row {} column {}: ours {a:?}, theirs {b:?} of ={formula}", row + 1, column + 1));
        }
    }
    found
}
