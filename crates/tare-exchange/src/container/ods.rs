//! OpenDocument spreadsheets, read straight from their content part.
//!
//! Repeated rows and cells cost nothing while they are empty: a small file may claim billions of them.

use super::package::Package;
use super::xlsx::{date_text, too_many_cells};
use super::xml::{Event, Reader, attribute, decode};
use crate::book::{Cell, CellKind, Merge, Sheet, cell_name};
use crate::limits;
use tare_diag::{Diag, Place};

const ROWS: u32 = 1_048_576;
const COLUMNS: u32 = 16_384;

#[derive(Default)]
struct Pending {
    kind: String,
    value: Option<f64>,
    date: Option<String>,
    formula: Option<String>,
    repeat: u32,
    span: (u32, u32),
    covered: bool,
    text: String,
    paragraphs: usize,
    link: Option<String>,
    note_depth: u32,
}

/// Reads all sheets of a spreadsheet.
pub(crate) fn read(file: &str, package: &mut Package, remarks: &mut Vec<Diag>) -> Result<Vec<Sheet>, Vec<Diag>> {
    if let Some(manifest) = package.text("META-INF/manifest.xml")?
        && manifest.contains("encryption-data")
    {
        return Err(vec![locked(file)]);
    }
    let text = package.text("content.xml")?.unwrap_or_default();
    let mut sheets = Vec::new();
    let mut cells_left = limits::CELLS;
    let mut reader = Reader::new(&text);
    while let Some(event) = reader.next() {
        let Event::Open("table", a, false) = event else { continue };
        if sheets.len() >= limits::SHEETS {
            remarks.push(
                Diag::warning("sheets-left-out", format!("only the first {} sheets were read", limits::SHEETS))
                    .at(Place::File(file.to_owned())),
            );
            break;
        }
        let name = attribute(a, "name").unwrap_or_default();
        let sheet = table(file, name, &mut reader, &mut cells_left, remarks)?;
        sheets.push(sheet);
    }
    if reader.cut_off {
        remarks.push(
            Diag::warning("sheet-cut-off", "the content of the file ends in the middle; what came before was read")
                .at(Place::File(file.to_owned())),
        );
    }
    if sheets.is_empty() {
        return Err(vec![Diag::error("workbook-empty", "the workbook holds no sheet of cells").at(Place::File(file.to_owned()))]);
    }
    Ok(sheets)
}

/// The message for a file under a password.
pub(crate) fn locked(file: &str) -> Diag {
    Diag::error("file-locked", "the file is protected by a password and cannot be read")
        .at(Place::File(file.to_owned()))
        .hint("open it in the program it came from and save it without a password")
}

fn number(attributes: &str, name: &str) -> u32 {
    attribute(attributes, name).and_then(|v| v.parse::<u32>().ok()).unwrap_or(1).max(1)
}

fn table(
    file: &str,
    name: String,
    reader: &mut Reader,
    cells_left: &mut usize,
    remarks: &mut Vec<Diag>,
) -> Result<Sheet, Vec<Diag>> {
    let mut cells: Vec<Cell> = Vec::new();
    let mut merges: Vec<Merge> = Vec::new();
    let (mut row, mut column, mut row_repeat, mut row_start) = (0u32, 0u32, 1u32, 0usize);
    let mut cell: Option<Pending> = None;
    let mut nested = 0u32;
    let mut paragraph = 0u32;
    for event in reader.by_ref() {
        match event {
            Event::Open("table", _, false) => nested += 1,
            Event::Close("table") if nested == 0 => break,
            Event::Close("table") => nested -= 1,
            _ if nested > 0 => {}
            Event::Open("table-row", a, empty) => {
                (column, row_repeat, row_start) = (0, number(a, "number-rows-repeated"), cells.len());
                if empty {
                    row = row.saturating_add(row_repeat);
                }
            }
            Event::Close("table-row") => {
                repeat_row(file, &name, &mut cells, row_start, row, row_repeat, cells_left, remarks)?;
                row = row.saturating_add(row_repeat);
            }
            Event::Open(tag @ ("table-cell" | "covered-table-cell"), a, empty) => {
                let repeat = number(a, "number-columns-repeated");
                let pending = Pending {
                    kind: attribute(a, "value-type").unwrap_or_default(),
                    value: attribute(a, "value").and_then(|v| v.parse().ok()).filter(|v: &f64| v.is_finite()),
                    date: attribute(a, "date-value").or_else(|| attribute(a, "boolean-value")),
                    formula: attribute(a, "formula").map(|f| plain_formula(&f)),
                    repeat,
                    span: (number(a, "number-rows-spanned"), number(a, "number-columns-spanned")),
                    covered: tag == "covered-table-cell",
                    ..Pending::default()
                };
                if empty {
                    put(pending, row, column, &mut cells, &mut merges);
                    column = column.saturating_add(repeat);
                } else {
                    cell = Some(pending);
                }
            }
            Event::Close("table-cell" | "covered-table-cell") => {
                if let Some(p) = cell.take() {
                    let repeat = p.repeat;
                    put(p, row, column, &mut cells, &mut merges);
                    column = column.saturating_add(repeat);
                }
            }
            other => {
                if let Some(p) = &mut cell {
                    inside(p, other, &mut paragraph);
                }
            }
        }
        if cells.len() > limits::CELLS {
            return Err(vec![too_many_cells(Place::cell(file, Some(&name), row as usize, column as usize))]);
        }
    }
    Ok(Sheet::new(name, false, cells, merges))
}

fn inside(p: &mut Pending, event: Event, paragraph: &mut u32) {
    match event {
        Event::Open("annotation", _, false) => p.note_depth += 1,
        Event::Close("annotation") => p.note_depth = p.note_depth.saturating_sub(1),
        _ if p.note_depth > 0 => {}
        Event::Open("p", _, empty) => {
            if p.paragraphs > 0 {
                p.text.push('\n');
            }
            p.paragraphs += 1;
            *paragraph = u32::from(!empty);
        }
        Event::Close("p") => *paragraph = 0,
        Event::Open("s", a, _) => p.text.push_str(&" ".repeat(number(a, "c").min(256) as usize)),
        Event::Open("tab", ..) => p.text.push('\t'),
        Event::Open("line-break", ..) => p.text.push('\n'),
        Event::Open("a", a, _) => p.link = p.link.take().or_else(|| attribute(a, "href")),
        Event::Text(t, raw) if *paragraph > 0 => p.text.push_str(&if raw { t.to_owned() } else { decode(t) }),
        _ => {}
    }
}

/// Writes `of:=SUM([.D40:.D59])` as `SUM(D40:D59)`.
fn plain_formula(text: &str) -> String {
    let text = text.strip_prefix("of:").or_else(|| text.strip_prefix("oooc:")).unwrap_or(text);
    let text = text.strip_prefix('=').unwrap_or(text);
    let mut out = String::with_capacity(text.len());
    let mut inside = false;
    let mut start = false;
    for c in text.chars() {
        match c {
            '[' => (inside, start) = (true, true),
            ']' => inside = false,
            '.' if inside && (start || out.ends_with(':')) => start = false,
            '.' if inside => out.push('!'),
            c => {
                start = false;
                out.push(c);
            }
        }
    }
    out
}

fn put(p: Pending, row: u32, column: u32, cells: &mut Vec<Cell>, merges: &mut Vec<Merge>) {
    if row >= ROWS || column >= COLUMNS {
        return;
    }
    if p.span != (1, 1) && !p.covered {
        let bottom = row.saturating_add(p.span.0 - 1).min(ROWS - 1);
        merges.push(Merge { top: row, left: column, bottom, right: column.saturating_add(p.span.1 - 1).min(COLUMNS - 1) });
    }
    let mut cell = Cell::text(row, column, p.text);
    cell.formula = p.formula;
    cell.link = p.link;
    cell.hidden = p.covered;
    limits::cut_text(&mut cell.text);
    match p.kind.as_str() {
        "float" | "percentage" | "currency" => {
            cell.kind = CellKind::Number;
            cell.number = p.value;
            if cell.text.is_empty() {
                cell.text = p.value.map(super::format::general).unwrap_or_default();
            }
        }
        "boolean" => {
            cell.kind = CellKind::Bool;
            cell.number = Some(f64::from(u8::from(p.date.as_deref() == Some("true"))));
        }
        "date" => {
            let shown = std::mem::take(&mut cell.text);
            date_text(&mut cell, p.date.as_deref().unwrap_or(&shown));
        }
        _ => {}
    }
    if cell.text.is_empty() {
        let Some(formula) = &cell.formula else { return };
        if p.kind == "string" {
            return;
        }
        cell.text = format!("={formula}");
        cell.kind = CellKind::Unknown;
    }
    for i in 0..p.repeat.min(limits::REPEATS) {
        if column + i >= COLUMNS {
            break;
        }
        let mut copy = cell.clone();
        copy.column = column + i;
        cells.push(copy);
    }
}

#[expect(clippy::too_many_arguments, reason = "one step of one pass; the pieces have no life together")]
fn repeat_row(
    file: &str,
    name: &str,
    cells: &mut Vec<Cell>,
    start: usize,
    row: u32,
    repeat: u32,
    cells_left: &mut usize,
    remarks: &mut Vec<Diag>,
) -> Result<(), Vec<Diag>> {
    let filled = cells.len() - start;
    if filled == 0 {
        return Ok(());
    }
    let shown = if repeat > limits::REPEATS { 1 } else { repeat };
    if shown != repeat {
        let message = format!("row {} is said to repeat {repeat} times; it was read once", u64::from(row) + 1);
        let place = Place::cell(file, Some(name), row as usize, cells[start].column as usize);
        remarks.push(Diag::warning("rows-claimed", message).at(place));
    }
    let needed = filled.saturating_mul(shown as usize);
    if needed > *cells_left {
        return Err(vec![too_many_cells(Place::File(format!("{file}, sheet {name}, near {}", cell_name(row, 0))))]);
    }
    *cells_left -= needed;
    for i in 1..shown {
        for k in 0..filled {
            let mut copy = cells[start + k].clone();
            copy.row = row.saturating_add(i).min(ROWS - 1);
            cells.push(copy);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::plain_formula;

    #[test]
    fn formulas_lose_their_brackets() {
        assert_eq!(plain_formula("of:=SUM([.D40:.D59];[.A1])*1.5"), "SUM(D40:D59;A1)*1.5");
        assert_eq!(plain_formula("of:=[Other.B2]+1"), "Other!B2+1");
        assert_eq!(plain_formula("of:=[$'My list'.B2]"), "$'My list'!B2");
    }
}
