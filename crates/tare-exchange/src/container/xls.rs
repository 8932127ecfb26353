//! Binary workbooks: sizes and formats are walked first, then the values are read.

use super::compound::{Compound, Walk, walk};
use super::format;
use super::ods::locked;
use super::xlsx::{number_cell, too_many_cells};
use crate::book::{Cell, CellKind, Merge, Sheet};
use crate::limits;
use calamine::{Data, Reader, Xls};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use tare_diag::{Diag, Place};

fn damaged(file: &str, why: &str) -> Vec<Diag> {
    vec![
        Diag::error("file-damaged", format!("the file begins like a binary workbook but cannot be read ({why})"))
            .at(Place::File(file.to_owned()))
            .hint("fetch the file again, or save it as XLSX or CSV in the program it came from"),
    ]
}

/// Reads all sheets of a binary workbook.
pub(crate) fn read(file: &str, bytes: &[u8], remarks: &mut Vec<Diag>) -> Result<Vec<Sheet>, Vec<Diag>> {
    let Some(compound) = Compound::open(bytes) else { return Err(damaged(file, "its sector table does not hold together")) };
    if compound.has("EncryptedPackage") {
        return Err(vec![locked(file)]);
    }
    let Some(stream) = compound.stream("Workbook").or_else(|| compound.stream("Book")) else {
        return Err(vec![
            Diag::error(
                "file-not-a-table",
                "the file is a compound document without a workbook inside (perhaps a text document or a message)",
            )
            .at(Place::File(file.to_owned())),
        ]);
    };
    let told = walk(&stream);
    if told.locked {
        return Err(vec![locked(file)]);
    }
    if told.spanned > limits::BOX_CELLS {
        return Err(vec![
            Diag::error(
                "sheet-spans-too-much",
                format!("the sheets span {} cells, more than the {} that are read", told.spanned, limits::BOX_CELLS),
            )
            .at(Place::File(file.to_owned()))
            .hint("delete the stray cells far from the table, or save the sheet as XLSX or CSV"),
        ]);
    }
    // The reader behind this call is not ours; whatever it stumbles over must not take the program down.
    match catch_unwind(AssertUnwindSafe(|| values(file, bytes, &told, remarks))) {
        Ok(result) => result,
        Err(_) => Err(damaged(file, "its records contradict each other")),
    }
}

fn values(file: &str, bytes: &[u8], told: &Walk, remarks: &mut Vec<Diag>) -> Result<Vec<Sheet>, Vec<Diag>> {
    let mut book: Xls<_> = Xls::new(Cursor::new(bytes)).map_err(|e| damaged(file, &e.to_string()))?;
    let mut sheets = Vec::new();
    let mut left = limits::CELLS;
    let infos = book.sheets_metadata().to_vec();
    if infos.len() > limits::SHEETS {
        remarks.push(
            Diag::warning("sheets-left-out", format!("only the first {} sheets were read", limits::SHEETS))
                .at(Place::File(file.to_owned())),
        );
    }
    for (index, info) in infos.iter().take(limits::SHEETS).enumerate() {
        let Ok(range) = book.worksheet_range(&info.name) else { continue };
        let styles: BTreeMap<(u32, u32), u16> =
            told.cells.get(index).map(|l| l.iter().map(|(r, c, s)| ((*r, *c), *s)).collect()).unwrap_or_default();
        let formulas: BTreeMap<(u32, u32), String> = match book.worksheet_formula(&info.name) {
            Ok(f) => {
                let (top, column) = f.start().unwrap_or_default();
                f.used_cells().map(|(r, c, text)| ((r as u32 + top, c as u32 + column), text.clone())).collect()
            }
            Err(_) => BTreeMap::new(),
        };
        let merges = book.merge_cells_by_sheet_name(&info.name).unwrap_or_default();
        let merges: Vec<Merge> = merges
            .iter()
            .filter(|d| d.start.0 <= d.end.0 && d.start.1 <= d.end.1)
            .map(|d| Merge { top: d.start.0, left: d.start.1, bottom: d.end.0, right: d.end.1 })
            .collect();
        let (top, first) = range.start().unwrap_or_default();
        let mut cells = Vec::new();
        for (r, c, data) in range.used_cells() {
            let (row, column) = (r as u32 + top, c as u32 + first);
            let format = styles.get(&(row, column)).and_then(|s| told.styles.get(usize::from(*s)).cloned().flatten());
            let formula = formulas.get(&(row, column)).cloned().filter(|f| !f.is_empty());
            if let Some(cell) = cell(row, column, data, format, formula) {
                if left == 0 {
                    return Err(vec![too_many_cells(Place::cell(file, Some(&info.name), row as usize, column as usize))]);
                }
                left -= 1;
                cells.push(cell);
            }
        }
        let hidden = info.visible != calamine::SheetVisible::Visible;
        sheets.push(Sheet::new(info.name.clone(), hidden, cells, merges));
    }
    if sheets.is_empty() {
        return Err(vec![Diag::error("workbook-empty", "the workbook holds no sheet of cells").at(Place::File(file.to_owned()))]);
    }
    Ok(sheets)
}

fn cell(row: u32, column: u32, data: &Data, format: Option<String>, formula: Option<String>) -> Option<Cell> {
    let mut cell = Cell::text(row, column, "");
    cell.format = format.filter(|f| !f.eq_ignore_ascii_case("general") && f != "@");
    cell.formula = formula;
    let date = cell.format.as_deref().is_some_and(format::is_date);
    match data {
        Data::Empty => return None,
        Data::String(s) | Data::DurationIso(s) => cell.text = s.clone(),
        Data::DateTimeIso(s) => super::xlsx::date_text(&mut cell, s),
        #[expect(clippy::cast_precision_loss, reason = "a binary workbook stores no integer beyond 30 bits")]
        Data::Int(i) => number_cell(&mut cell, *i as f64, date, false),
        Data::Float(f) if f.is_finite() => number_cell(&mut cell, *f, date, false),
        Data::Float(_) => cell.kind = CellKind::Error,
        Data::DateTime(d) => {
            let (y, m, d, ..) = d.to_ymd_hms_milli();
            super::xlsx::date_text(&mut cell, &format!("{y:04}-{m:02}-{d:02}"));
        }
        Data::Bool(b) => {
            cell.kind = CellKind::Bool;
            cell.number = Some(f64::from(u8::from(*b)));
            cell.text = if *b { "TRUE" } else { "FALSE" }.to_owned();
        }
        Data::Error(e) => {
            cell.kind = CellKind::Error;
            cell.text = e.to_string();
        }
        #[expect(unreachable_patterns, reason = "the list of kinds may grow")]
        _ => return None,
    }
    limits::cut_text(&mut cell.text);
    if cell.text.is_empty() {
        let formula = cell.formula.as_deref()?;
        cell.text = format!("={formula}");
        cell.kind = CellKind::Unknown;
    }
    Some(cell)
}
