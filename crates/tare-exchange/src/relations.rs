//! What columns mean by arithmetic: a column that is quantity times price in every row is the line price, whatever its title.

use crate::book::{Book, Cell, CellKind, Sheet};
use crate::formula;
use crate::mapping::{ColumnMapping, Meaning};
use crate::number::{self, NumberStyle};
use crate::price;
use crate::proposal::Per;
use crate::tables::Found;

/// How many rows are looked at.
const ROWS: usize = 200;

fn numbers(sheet: &Sheet, rows: &[u32], column: u32, memo: &mut formula::Memo) -> Vec<Option<f64>> {
    let cells: Vec<Option<&Cell>> = rows.iter().map(|r| sheet.seen(*r, column)).collect();
    let texts = cells.iter().flatten().filter(|c| c.is_text()).filter_map(|c| price::number_text(&c.text));
    let style = number::style(texts).0.unwrap_or(NumberStyle::Point);
    let mut value = |c: &Cell| match c.kind {
        CellKind::Number => c.number,
        CellKind::Text => price::number_text(&c.text).and_then(|n| number::parse(n, style)),
        CellKind::Unknown => c.formula.as_deref().and_then(|f| formula::evaluate_within(sheet, f, memo)),
        _ => None,
    };
    cells.into_iter().map(|c| c.and_then(&mut value)).collect()
}

/// Finds the line price among columns that say nothing else, if the unit price times some count gives it in every row.
pub(crate) fn line_price(book: &Book, found: &Found, columns: &mut [ColumnMapping]) {
    use Meaning as M;
    let sheet = &book.sheets[found.sheet];
    let Some(unit) = columns.iter().find(|c| c.meaning == M::Price).map(|c| c.column) else { return };
    if columns.iter().any(|c| c.meaning == M::PriceLine) {
        return;
    }
    let rows: Vec<u32> = sheet.rows().skip_while(|r| *r <= found.header).take_while(|r| *r <= found.last).take(ROWS).collect();
    let mut memo = formula::Memo::default();
    let unit = numbers(sheet, &rows, unit, &mut memo);
    let counts: Vec<(u32, Vec<Option<f64>>)> = columns
        .iter()
        .filter(|c| matches!(c.meaning, M::Quantity | M::QuantityBought | M::QuantityTotal | M::Other | M::PackSize))
        .map(|c| (c.column, numbers(sheet, &rows, c.column, &mut memo)))
        .collect();
    for column in columns.iter_mut().filter(|c| c.meaning == M::Other) {
        let line = numbers(sheet, &rows, column.column, &mut memo);
        let proved = counts.iter().filter(|(c, _)| *c != column.column).any(|(_, count)| is_product(&unit, count, &line));
        if proved {
            (column.meaning, column.per) = (M::PriceLine, Per::Line);
            "arithmetic: a count times the price".clone_into(&mut column.decided_by);
            return;
        }
    }
}

/// Whether the line is price times count in four of five rows, at least two, and not only because the count is one.
fn is_product(unit: &[Option<f64>], count: &[Option<f64>], line: &[Option<f64>]) -> bool {
    let (mut fit, mut miss, mut telling) = (0, 0, false);
    for ((u, l), n) in unit.iter().zip(line).zip(count) {
        let (Some(u), Some(l), Some(n)) = (u, l, n) else { continue };
        let near = (u * n - l).abs() <= 0.005 * n.abs().max(1.0) + 1e-9;
        telling |= near && *n != 1.0 && *u != 0.0;
        *(if near { &mut fit } else { &mut miss }) += 1;
    }
    telling && fit >= 2 && fit >= 4 * miss
}
