//! Office Open XML workbooks, read straight from their parts.
//!
//! Only values, formulas, number formats, indents, merges and addresses are looked at: a wrong colour or chart cannot refuse the file, and
//! only cells that exist cost memory, whatever range the sheet claims.

use super::format;
use super::package::Package;
use super::xml::{Event, Reader, attribute, decode};
use crate::book::{Cell, CellKind, Merge, Sheet, cell_name, parse_cell_name};
use crate::formula;
use crate::limits;
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};

struct Style {
    format: Option<String>,
    date: bool,
    indent: u8,
}

struct Shared {
    strings: Vec<String>,
    styles: Vec<Style>,
    since_1904: bool,
}

/// Reads all sheets of a workbook.
pub(crate) fn read(file: &str, package: &mut Package, remarks: &mut Vec<Diag>) -> Result<Vec<Sheet>, Vec<Diag>> {
    let whole = || Place::File(file.to_owned());
    let book = package.text("xl/workbook.xml")?.unwrap_or_default();
    let rels = relations(&package.text("xl/_rels/workbook.xml.rels")?.unwrap_or_default());
    let strings = shared_strings(&package.text("xl/sharedStrings.xml")?.unwrap_or_default());
    let styles = styles(&package.text("xl/styles.xml")?.unwrap_or_default());
    let since_1904 = Reader::new(&book).any(
        |e| matches!(e, Event::Open("workbookPr", a, _) if matches!(attribute(a, "date1904").as_deref(), Some("1" | "true"))),
    );
    let shared = Shared { strings, styles, since_1904 };
    let mut sheets = Vec::new();
    let mut cells_left = limits::CELLS;
    for event in Reader::new(&book) {
        let Event::Open("sheet", attributes, _) = event else { continue };
        if sheets.len() >= limits::SHEETS {
            remarks.push(
                Diag::warning("sheets-left-out", format!("only the first {} sheets were read", limits::SHEETS)).at(whole()),
            );
            break;
        }
        let name = attribute(attributes, "name").unwrap_or_default();
        let hidden = attribute(attributes, "state").is_some_and(|s| s != "visible");
        let target = attribute(attributes, "id").and_then(|id| rels.get(&id).cloned());
        let Some(target) = target else {
            remarks.push(
                Diag::warning("sheet-missing", format!("the workbook names a sheet `{name}` but holds no part for it"))
                    .at(whole()),
            );
            continue;
        };
        let path = resolve("xl", &target);
        let Some(text) = package.text(&path)? else {
            if !path.contains("chartsheet") {
                remarks.push(
                    Diag::warning("sheet-missing", format!("the workbook names a sheet `{name}` but holds no part for it"))
                        .at(whole()),
                );
            }
            continue;
        };
        let links = match path.rsplit_once('/') {
            Some((dir, base)) => relations(&package.text(&format!("{dir}/_rels/{base}.rels"))?.unwrap_or_default()),
            None => BTreeMap::new(),
        };
        let sheet = sheet(file, &name, hidden, &text, &shared, &links, &mut cells_left, remarks)?;
        sheets.push(sheet);
    }
    if sheets.is_empty() {
        return Err(vec![Diag::error("workbook-empty", "the workbook holds no sheet of cells").at(whole())]);
    }
    Ok(sheets)
}

fn relations(text: &str) -> BTreeMap<String, String> {
    Reader::new(text)
        .filter_map(|e| match e {
            Event::Open("Relationship", a, _) => Some((attribute(a, "Id")?, attribute(a, "Target")?)),
            _ => None,
        })
        .collect()
}

fn resolve(base: &str, target: &str) -> String {
    if let Some(absolute) = target.strip_prefix('/') {
        return absolute.to_owned();
    }
    let mut parts: Vec<&str> = base.split('/').collect();
    for part in target.split('/') {
        match part {
            ".." => {
                parts.pop();
            }
            "." => {}
            p => parts.push(p),
        }
    }
    parts.join("/")
}

fn shared_strings(text: &str) -> Vec<String> {
    let mut out = Vec::new();
    let (mut current, mut inside, mut phonetic) = (String::new(), false, 0u32);
    for event in Reader::new(text) {
        match event {
            Event::Open("si", _, true) => out.push(String::new()),
            Event::Open("si", _, false) => current.clear(),
            Event::Open("rPh", _, false) => phonetic += 1,
            Event::Close("rPh") => phonetic = phonetic.saturating_sub(1),
            Event::Open("t", _, empty) => inside = !empty && phonetic == 0,
            Event::Close("t") => inside = false,
            Event::Close("si") => out.push(unescape(std::mem::take(&mut current))),
            Event::Text(t, raw) if inside => current.push_str(&if raw { t.to_owned() } else { decode(t) }),
            _ => {}
        }
    }
    out
}

/// Control characters are written as `_x000D_` in this format.
fn unescape(text: String) -> String {
    let mut text = if text.contains("_x") {
        text.replace("_x000D_\n", "\n").replace("_x000D_", "\n").replace("_x000A_", "\n").replace("_x0009_", "\t")
    } else {
        text
    };
    limits::cut_text(&mut text);
    text
}

fn styles(text: &str) -> Vec<Style> {
    let mut formats: BTreeMap<u32, String> = BTreeMap::new();
    let mut out = Vec::new();
    let mut inside = false;
    for event in Reader::new(text) {
        match event {
            Event::Open("numFmt", a, _) => {
                if let (Some(id), Some(code)) =
                    (attribute(a, "numFmtId").and_then(|i| i.parse().ok()), attribute(a, "formatCode"))
                {
                    formats.insert(id, code);
                }
            }
            Event::Open("cellXfs", ..) => inside = true,
            Event::Close("cellXfs") => inside = false,
            Event::Open("xf", a, _) if inside => {
                let id = attribute(a, "numFmtId").and_then(|i| i.parse::<u32>().ok()).unwrap_or(0);
                let format = formats.get(&id).cloned().or_else(|| format::builtin(id).map(str::to_owned));
                let date = format.as_deref().is_some_and(format::is_date);
                out.push(Style { format, date, indent: 0 });
            }
            Event::Open("alignment", a, _) if inside => {
                if let Some(last) = out.last_mut() {
                    last.indent = attribute(a, "indent").and_then(|i| i.parse().ok()).unwrap_or(0);
                }
            }
            _ => {}
        }
    }
    out
}

#[derive(Default)]
struct Pending {
    row: u32,
    column: u32,
    kind: String,
    style: Option<usize>,
    value: Option<String>,
    inline: String,
    formula: Option<String>,
    shared: Option<String>,
}

#[expect(clippy::too_many_arguments, reason = "one pass over one part; the pieces have no life together")]
fn sheet(
    file: &str,
    name: &str,
    hidden: bool,
    text: &str,
    shared: &Shared,
    links: &BTreeMap<String, String>,
    cells_left: &mut usize,
    remarks: &mut Vec<Diag>,
) -> Result<Sheet, Vec<Diag>> {
    let mut cells: Vec<Cell> = Vec::new();
    let mut merges = Vec::new();
    let mut addresses: Vec<(Merge, String)> = Vec::new();
    let mut masters: BTreeMap<String, (u32, u32, String)> = BTreeMap::new();
    let (mut row, mut column) = (0u32, 0u32);
    let mut cell: Option<Pending> = None;
    let mut into = "";
    let mut reader = Reader::new(text);
    for event in reader.by_ref() {
        match event {
            Event::Open("row", a, _) => {
                row = attribute(a, "r").and_then(|r| r.parse::<u32>().ok()).map_or(row, |r| r.saturating_sub(1)).min(1_048_575);
                column = 0;
            }
            Event::Close("row") => row = row.saturating_add(1),
            Event::Open("c", a, empty) => {
                if let Some((_, c)) = attribute(a, "r").and_then(|r| parse_cell_name(&r)) {
                    column = c;
                }
                let style = attribute(a, "s").and_then(|s| s.parse().ok());
                let kind = attribute(a, "t").unwrap_or_default();
                if !empty {
                    cell = Some(Pending { row, column, kind, style, ..Pending::default() });
                }
                column = column.saturating_add(1);
            }
            Event::Open("v", _, false) => into = "v",
            Event::Open("t", _, false) => into = "t",
            Event::Open("f", a, empty) => {
                into = if empty { "" } else { "f" };
                if let Some(c) = &mut cell {
                    if attribute(a, "t").as_deref() == Some("shared") {
                        c.shared = attribute(a, "si");
                    }
                    c.formula = Some(String::new());
                }
            }
            Event::Close("v" | "t" | "f") => into = "",
            Event::Text(t, raw) if !into.is_empty() => {
                if let Some(c) = &mut cell {
                    let t = if raw { t.to_owned() } else { decode(t) };
                    match into {
                        "v" => c.value.get_or_insert_default().push_str(&t),
                        "t" => c.inline.push_str(&t),
                        _ => c.formula.get_or_insert_default().push_str(&t),
                    }
                }
            }
            Event::Close("c") => {
                if let Some(found) = cell.take().and_then(|c| finish(c, shared, &mut masters)) {
                    if *cells_left == 0 {
                        let place = Place::cell(file, Some(name), found.row as usize, found.column as usize);
                        return Err(vec![too_many_cells(place)]);
                    }
                    *cells_left -= 1;
                    cells.push(found);
                }
            }
            Event::Open("mergeCell", a, _) => {
                if let Some(m) = attribute(a, "ref").and_then(|r| range(&r)) {
                    merges.push(m);
                }
            }
            Event::Open("hyperlink", a, _) => {
                let target = attribute(a, "id").and_then(|id| links.get(&id).cloned());
                if let (Some(r), Some(target)) = (attribute(a, "ref").and_then(|r| range(&r)), target) {
                    addresses.push((r, target));
                }
            }
            _ => {}
        }
    }
    if reader.cut_off {
        let last = cells.last().map_or_else(String::new, |c| format!(" after cell {}", cell_name(c.row, c.column)));
        remarks.push(
            Diag::warning("sheet-cut-off", format!("the sheet `{name}` ends in the middle{last}; what came before was read"))
                .at(Place::File(file.to_owned())),
        );
    }
    let mut sheet = Sheet::new(name, hidden, cells, merges);
    attach(&mut sheet, &addresses);
    Ok(sheet)
}

pub(crate) fn too_many_cells(place: Place) -> Diag {
    Diag::error("too-many-cells", format!("the file holds more than {} filled cells", limits::CELLS))
        .at(place)
        .hint("save only the sheet with the parts list")
}

fn attach(sheet: &mut Sheet, addresses: &[(Merge, String)]) {
    let mut by_cell: BTreeMap<(u32, u32), &str> = BTreeMap::new();
    for (m, target) in addresses {
        by_cell.insert((m.top, m.left), target);
    }
    for cell in &mut sheet.cells {
        if let Some(target) = by_cell.get(&(cell.row, cell.column)) {
            cell.link = Some((*target).to_owned());
        }
    }
}

fn range(text: &str) -> Option<Merge> {
    let (a, b) = text.split_once(':').unwrap_or((text, text));
    let ((top, left), (bottom, right)) = (parse_cell_name(a)?, parse_cell_name(b)?);
    (top <= bottom && left <= right).then_some(Merge { top, left, bottom, right })
}

fn finish(p: Pending, shared: &Shared, masters: &mut BTreeMap<String, (u32, u32, String)>) -> Option<Cell> {
    let formula = match (p.formula, p.shared) {
        (Some(f), Some(key)) if f.is_empty() => masters.get(&key).map(|(row, column, master)| {
            formula::shift(master, i64::from(p.row) - i64::from(*row), i64::from(p.column) - i64::from(*column))
        }),
        (Some(f), Some(key)) => {
            masters.insert(key, (p.row, p.column, f.clone()));
            Some(f)
        }
        (f, _) => f.filter(|f| !f.is_empty()),
    };
    let style = p.style.and_then(|s| shared.styles.get(s));
    let mut cell = Cell::text(p.row, p.column, "");
    cell.indent = style.map_or(0, |s| s.indent);
    cell.format = style.and_then(|s| s.format.clone()).filter(|f| f != "General" && f != "@");
    cell.formula = formula;
    match p.kind.as_str() {
        "s" => {
            let index: usize = p.value.as_deref().and_then(|v| v.trim().parse().ok())?;
            cell.text = shared.strings.get(index)?.clone();
        }
        "inlineStr" => cell.text = unescape(p.inline),
        "str" => cell.text = unescape(p.value.unwrap_or_default()),
        "b" => {
            let yes = p.value.as_deref() == Some("1");
            cell.kind = CellKind::Bool;
            cell.number = Some(f64::from(u8::from(yes)));
            cell.text = if yes { "TRUE" } else { "FALSE" }.to_owned();
        }
        "e" => {
            cell.kind = CellKind::Error;
            cell.text = p.value.unwrap_or_default();
        }
        "d" => date_text(&mut cell, &p.value.unwrap_or_default()),
        _ => match p.value.as_deref().map(|v| v.trim().parse::<f64>()) {
            Some(Ok(number)) if number.is_finite() => {
                number_cell(&mut cell, number, style.is_some_and(|s| s.date), shared.since_1904)
            }
            Some(_) => cell.text = p.value.unwrap_or_default(),
            None => cell.kind = CellKind::Unknown,
        },
    }
    if cell.kind == CellKind::Unknown || cell.text.is_empty() {
        cell.formula.as_ref()?;
        cell.kind = CellKind::Unknown;
        cell.text = format!("={}", cell.formula.as_deref().unwrap_or(""));
    }
    Some(cell)
}

/// Fills a cell from a stored number under its format.
pub(crate) fn number_cell(cell: &mut Cell, number: f64, date: bool, since_1904: bool) {
    if let Some((y, m, d)) = date.then(|| format::day(number, since_1904)).flatten() {
        cell.kind = CellKind::Date;
        cell.number = Some(f64::from(y) * 10_000.0 + f64::from(m * 100 + d));
        cell.text = format!("{y:04}-{m:02}-{d:02}");
        return;
    }
    cell.kind = CellKind::Number;
    cell.number = Some(number);
    cell.text = cell.format.as_deref().and_then(|f| format::show(number, f)).unwrap_or_else(|| format::general(number));
}

/// Fills a cell from a date written as `2023-06-05` or with a time behind.
pub(crate) fn date_text(cell: &mut Cell, text: &str) {
    let mut parts = text.split(['-', 'T', ' ']);
    let mut next = || parts.next().and_then(|p| p.parse::<u32>().ok());
    cell.text = text.to_owned();
    if let (Some(y), Some(m), Some(d)) = (next(), next(), next())
        && y < 10_000
        && m < 13
        && d < 32
    {
        cell.kind = CellKind::Date;
        cell.number = Some(f64::from(y) * 10_000.0 + f64::from(m * 100 + d));
        cell.text = format!("{y:04}-{m:02}-{d:02}");
    }
}
