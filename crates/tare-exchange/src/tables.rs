//! Where on a sheet the tables are: rows of titles, several side by side or stacked, each with its extent and title.

use crate::book::{Book, Cell, Sheet};
use crate::number;
use crate::titles::{self, Title};

/// A table found by its row of titles.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) sheet: usize,
    pub(crate) header: u32,
    pub(crate) left: u32,
    pub(crate) right: u32,
    pub(crate) last: u32,
    pub(crate) title: Option<Cell>,
    pub(crate) titles: Vec<(u32, String, Option<Title>)>,
    /// A row of nothing but units below the titles.
    pub(crate) units: Option<u32>,
}

/// Column, text, meaning, whether it is a number.
type TitleCell = (u32, String, Option<Title>, bool);

struct Segment {
    row: u32,
    /// Whether the row above gives part of the titles.
    double: bool,
    cells: Vec<(u32, String, Option<Title>)>,
}

/// Whether a text is nothing but a number.
pub(crate) fn is_number(text: &str) -> bool {
    number::leading(text).is_some_and(|(_, rest)| rest.trim().is_empty())
}

/// Finds the tables of a book in reading order.
pub(crate) fn find(book: &Book) -> Vec<Found> {
    let mut out = Vec::new();
    for (index, sheet) in book.sheets.iter().enumerate() {
        let mut segments: Vec<Segment> = Vec::new();
        for row in sheet.rows() {
            for segment in header_segments(sheet, row) {
                let (left, right) = ends(&segment);
                let above = segments.iter().rev().find(|s| ends(s).0 <= right && ends(s).1 >= left);
                let exact = segment.cells.iter().filter(|c| c.2.as_ref().is_some_and(|t| t.exact)).count();
                // Below a table, a row of words must be a clear row of titles to begin another one; the same titles again are a page break.
                match above {
                    Some(a) if segment.double && a.row + 1 == segment.row => {
                        let above = a.row;
                        segments.retain(|s| s.row != above);
                        segments.push(segment);
                    }
                    Some(a) if same_titles(a, &segment) => {}
                    Some(_) if exact < 2 => {}
                    _ => segments.push(segment),
                }
                if segments.len() > 500 {
                    break;
                }
            }
        }
        let mut found: Vec<Found> = segments.iter().map(|s| extent(sheet, index, s, &segments)).collect();
        found.sort_by_key(|f| (f.left, f.header));
        let order: Vec<(u32, u32)> = found.iter().map(|f| (f.left, f.header)).collect();
        debug_assert!(order.is_sorted());
        out.extend(found);
    }
    out
}

fn same_titles(a: &Segment, b: &Segment) -> bool {
    a.cells.len() == b.cells.len()
        && a.cells.iter().zip(&b.cells).all(|(x, y)| x.0 == y.0 && titles::plain(&x.1) == titles::plain(&y.1))
}

fn ends(s: &Segment) -> (u32, u32) {
    (s.cells.first().map_or(0, |c| c.0), s.cells.last().map_or(0, |c| c.0))
}

fn header_segments(sheet: &Sheet, row: u32) -> Vec<Segment> {
    let cells: Vec<&Cell> = sheet.seen_in_row(row, 0, u32::MAX).take(512).collect();
    if cells.len() < 2 || !cells.iter().any(|c| c.is_text()) {
        return Vec::new();
    }
    let (mut understood, double) = title_cells(sheet, row, &cells);
    depth_numbers(&mut understood);
    if !understood.iter().any(|u| u.2.as_ref().is_some_and(|t| t.exact)) {
        return Vec::new();
    }
    let mut parts: Vec<Vec<TitleCell>> = Vec::new();
    for cell in understood {
        let start_new = match parts.last() {
            None => true,
            Some(part) => {
                let last = part.last().map_or(0, |c| c.0);
                let gap = cell.0 > last + 1 && (last + 1..cell.0).any(|c| blank_below(sheet, row, c));
                let repeat =
                    part.len() > 1 && titles::plain(&part[0].1) == titles::plain(&cell.1) && part[0].1.trim() == cell.1.trim();
                gap || repeat
            }
        };
        if start_new {
            parts.push(vec![cell])
        } else if let Some(p) = parts.last_mut() {
            p.push(cell)
        }
    }
    parts
        .into_iter()
        .filter(|part| {
            let known: std::collections::BTreeSet<_> = part.iter().filter_map(|c| c.2.as_ref().map(|t| t.meaning)).collect();
            let exact = part.iter().filter(|c| c.2.as_ref().is_some_and(|t| t.exact)).count();
            let numbers = part.iter().filter(|c| c.3).count();
            let quantity = known.contains(&crate::mapping::Meaning::Quantity);
            let enough = known.len() >= 2 || (quantity && part.len() >= 2);
            enough && exact >= 1 && numbers == 0 && known.len() * 4 >= part.len()
        })
        .map(|part| Segment { row, double, cells: part.into_iter().map(|(c, t, u, _)| (c, t, u)).collect() })
        .collect()
}

/// The titles a row gives: its own cells; cells merged down into it; and over several of them a wider merged
/// title, whose text goes before theirs (a heading over a table is no title).
fn title_cells(sheet: &Sheet, row: u32, cells: &[&Cell]) -> (Vec<TitleCell>, bool) {
    let mut double = false;
    let mut out: Vec<TitleCell> = cells
        .iter()
        .map(|c| {
            let own = if c.is_text() { titles::understand(&c.text) } else { None };
            let over =
                row.checked_sub(1).and_then(|r| sheet.merge_at(r, c.column)).filter(|m| m.right > m.left && m.bottom + 1 == row);
            let above = over
                .and_then(|m| sheet.seen(m.top, m.left))
                .filter(|a| c.is_text() && a.is_text() && titles::understand(&a.text).is_some());
            let joint = above.map(|a| format!("{} {}", a.text.trim(), c.text.trim()));
            if let Some((text, title)) = joint.and_then(|j| titles::understand(&j).map(|t| (j, t))) {
                double = true;
                return (c.column, text, Some(title), false);
            }
            (c.column, c.text.clone(), own, !c.is_text() || is_number(&c.text))
        })
        .collect();
    if double {
        let last = out.last().map_or(0, |c| c.0).saturating_add(1).min(512);
        let down = |c: u32| sheet.merge_at(row, c).filter(|m| m.bottom == row && m.top < row && m.left == m.right);
        for cell in (0..=last).filter_map(down).filter_map(|m| sheet.seen(m.top, m.left)).filter(|c| c.is_text()) {
            out.push((cell.column, cell.text.clone(), titles::understand(&cell.text), false));
        }
        out.sort_by_key(|c| c.0);
    }
    (out, double)
}

/// Titles 1, 2, 3 ... side by side are depths: a mark or name in one of them says how deep a row stands.
fn depth_numbers(cells: &mut [TitleCell]) {
    let number = |c: &TitleCell| c.1.trim().parse::<u32>().ok();
    let Some(start) = cells.iter().position(|c| matches!(number(c), Some(0 | 1))) else { return };
    let run =
        cells[start..].windows(2).take_while(|w| w[1].0 == w[0].0 + 1 && number(&w[1]) == number(&w[0]).map(|n| n + 1)).count()
            + 1;
    if run >= 2 {
        for c in &mut cells[start..start + run] {
            (c.2, c.3) = (titles::understand("level 1"), false);
        }
    }
}

/// Whether a column has next to nothing in the rows below.
fn blank_below(sheet: &Sheet, row: u32, column: u32) -> bool {
    let (mut rows, mut filled) = (0, 0);
    let from = row + 1;
    for r in from..from.saturating_add(30) {
        if sheet.all_in_row(r).is_empty() {
            continue;
        }
        rows += 1;
        filled += usize::from(sheet.seen(r, column).is_some());
    }
    filled * 10 <= rows
}

fn extent(sheet: &Sheet, index: usize, segment: &Segment, all: &[Segment]) -> Found {
    let (mut left, mut right) = ends(segment);
    let overlaps = |s: &Segment| ends(s).0 <= right && ends(s).1 >= left;
    let end = sheet.last_row().unwrap_or(segment.row);
    let next = all.iter().filter(|s| s.row > segment.row && overlaps(s)).min_by_key(|s| s.row);
    let title = title_above(sheet, segment);
    let last = match next {
        Some(n) => title_above(sheet, n).map_or(n.row, |t| t.row).saturating_sub(1).max(segment.row),
        None => end,
    };
    // Columns without a title beside the titled ones belong to the table when they are filled.
    let taken = |column: u32| {
        all.iter().any(|s| {
            s.row != segment.row && s.row <= last && ends(s).0 <= column && ends(s).1 >= column && s.row + 200 > segment.row
        }) || all.iter().any(|s| s.row == segment.row && !std::ptr::eq(s, segment) && ends(s).0 <= column && ends(s).1 >= column)
    };
    let filled = |column: u32| {
        let rows: Vec<u32> = (segment.row + 1..=last.min(segment.row + 60))
            .filter(|r| sheet.seen_in_row(*r, left, right).next().is_some())
            .collect();
        !rows.is_empty() && rows.iter().filter(|r| sheet.seen(**r, column).is_some()).count() * 10 >= rows.len() * 3
    };
    let (mut new_left, mut new_right) = (left, right);
    while new_left > 0 && !taken(new_left - 1) && filled(new_left - 1) {
        new_left -= 1;
    }
    while new_right < right + 8 && !taken(new_right + 1) && filled(new_right + 1) {
        new_right += 1;
    }
    (left, right) = (new_left, new_right);
    let titles =
        (left..=right).map(|c| segment.cells.iter().find(|t| t.0 == c).cloned().unwrap_or((c, String::new(), None))).collect();
    let units = sheet.rows().find(|r| *r > segment.row && *r <= last).filter(|r| is_units_row(sheet, *r, left, right));
    Found { sheet: index, header: segment.row, left, right, last, title, titles, units }
}

/// A unit as it stands below a title: `[mm]`, `kg`, `EUR/pc`, `-`.
pub(crate) fn unit_cell(text: &str) -> Option<&str> {
    let t = text.trim().trim_start_matches(['[', '(']).trim_end_matches([']', ')']).trim();
    let money = t.chars().count() <= 8 && !t.contains(|c: char| c.is_ascii_digit()) && crate::price::currency(t).1.is_some();
    (crate::quantity::unit_kind(t).is_some() || money || matches!(t, "-" | "–" | "")).then_some(t)
}

fn is_units_row(sheet: &Sheet, row: u32, left: u32, right: u32) -> bool {
    let mut telling = 0;
    for c in sheet.seen_in_row(row, left, right) {
        match unit_cell(&c.text).filter(|_| c.is_text()) {
            Some(unit) => telling += usize::from(!matches!(unit, "" | "-" | "–")),
            None => return false,
        }
    }
    telling > 0
}

/// `Drawn by: somebody` says something about the list; it is no title.
fn is_statement(text: &str) -> bool {
    text.trim_start().starts_with('#') || text.split_once(':').is_some_and(|(_, after)| !after.trim().is_empty())
}

/// A single text directly above the titles, or with one blank row between.
fn title_above(sheet: &Sheet, segment: &Segment) -> Option<Cell> {
    let (left, right) = ends(segment);
    for up in 1..=2 {
        let row = segment.row.checked_sub(up)?;
        let mut cells = sheet.seen_in_row(row, left, right);
        match (cells.next(), cells.next()) {
            (None, _) => continue,
            (Some(c), None) if c.is_text() && c.text.chars().count() <= 60 && !is_number(&c.text) && !is_statement(&c.text) => {
                return Some(c.clone());
            }
            _ => return None,
        }
    }
    None
}
