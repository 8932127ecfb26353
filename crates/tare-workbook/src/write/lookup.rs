//! The sheet of look-up tables.

use super::{Digits, Out, Shows, Style, printed};
use crate::bit::Part;
use crate::grids::Grid;
use crate::place::Place;
use rust_xlsxwriter::{Worksheet, XlsxError};
use tare_calc::{CellValue, Declared, Rule};

/// What no need goes beyond.
const NO_BOUND: f64 = 9.99e307;
/// The turn of a row that is never tried: beyond those that do not suit.
const NEVER: f64 = 2e9;

pub(crate) fn write(place: &Place<'_>, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    out.words(sheet, (0, 0), "Look-up tables", Style::Title)?;
    let says = "Rows are tried in the order of their turn; the first whose bounds suit the need is taken. Values in SI units. `holds` bounds stand for no bound.";
    out.words(sheet, (1, 0), says, Style::Says)?;
    sheet.set_column_width(0, 30)?;
    for grid in &place.grids {
        one(place, grid, sheet, out)?;
    }
    printed(sheet, "Look-up tables", None, 12)
}

fn one(place: &Place<'_>, grid: &Grid<'_>, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    let (table, head) = (grid.table, grid.row - 1);
    out.words(sheet, (head - 1, 0), &format!("{} : {}   {}", grid.key.0, table.name.value, table.says), Style::Strong)?;
    out.words(sheet, (head, 0), "row", Style::Head)?;
    let column = |part: Part| Place::grid_column(grid, part);
    out.words(sheet, (head, column(Part::Turn)), "turn", Style::Head)?;
    out.words(sheet, (head, column(Part::Next)), "next", Style::Head)?;
    for (at, key) in table.keys.iter().enumerate() {
        out.words(sheet, (head, column(Part::Key(at))), &format!("{} ({})", key.name.value, key.rule.word()), Style::Head)?;
        out.words(sheet, (head, column(Part::Bound(at))), &format!("{} bound", key.name.value), Style::Head)?;
    }
    for (at, of) in table.columns.iter().enumerate() {
        out.words(sheet, (head, column(Part::Column(at))), &of.name.value, Style::Head)?;
    }
    for (row, of) in table.rows.iter().enumerate() {
        let line = grid.row + row as u32;
        out.words(sheet, (line, 0), &of.name, Style::Word)?;
        let turn = grid.order.turn[row].map_or(NEVER, |turn| turn as f64);
        out.value(sheet, (line, column(Part::Turn)), &Shows::Number(turn), Style::Number(Digits::General))?;
        out.value(
            sheet,
            (line, column(Part::Next)),
            &Shows::Number(grid.order.next[row] as f64),
            Style::Number(Digits::General),
        )?;
        for (at, key) in table.keys.iter().enumerate() {
            let place_of = column(Part::Key(at));
            cell(place, grid, row, at, true, (line, place_of), sheet, out)?;
            if key.rule != Rule::Equals {
                bound(grid, row, at, (line, column(Part::Bound(at))), place_of, place, sheet, out)?;
            }
        }
        for at in 0..table.columns.len() {
            cell(place, grid, row, at, false, (line, column(Part::Column(at))), sheet, out)?;
        }
    }
    Ok(())
}

/// A key or a column: the input behind it, or what the text of the calculation says.
#[expect(clippy::too_many_arguments, reason = "one cell of one table, with where it goes")]
fn cell(
    place: &Place<'_>,
    grid: &Grid<'_>,
    row: usize,
    at: usize,
    key: bool,
    to: (u32, u16),
    sheet: &mut Worksheet,
    out: &mut Out,
) -> Result<(), XlsxError> {
    let (declared, choices, cell) = match key {
        true => (&grid.table.keys[at].declared, &grid.table.keys[at].choices, grid.table.rows[row].keys.get(at)),
        false => (&grid.table.columns[at].declared, &grid.table.columns[at].choices, grid.table.rows[row].cells.get(at)),
    };
    let stated = match cell.map(|c| &c.value) {
        Some(CellValue::Number(q)) => Shows::Number(q.value),
        Some(CellValue::Level(level)) => match declared {
            Declared::Bool => Shows::Condition(*level == 1),
            _ => Shows::Words(choices.get(*level).cloned().unwrap_or_default()),
        },
        _ => return Ok(()),
    };
    let found = place.cells.get(&(grid.key.clone(), row, at, key)).filter(|_| matches!(stated, Shows::Number(_)));
    let live = found.and_then(|(line, rate)| {
        let mut formula = place.reference(*line)?;
        let mut value = place.study.value(*line);
        if let Some((rate, divides)) = rate {
            let factor = place.study.value(*rate);
            formula = format!("{formula}{}{}", if *divides { '/' } else { '*' }, place.reference(*rate)?);
            value = if *divides { value / factor } else { value * factor };
        }
        Some((formula, value))
    });
    match live {
        Some((formula, value)) => out.formula(sheet, to, &formula, &Shows::Number(value), Style::Number(Digits::of(value))),
        None => out.value(sheet, to, &stated, Style::Number(super::Digits::General)),
    }
}

/// What a need is held against.
#[expect(clippy::too_many_arguments, reason = "one cell of one table, with where it goes")]
fn bound(
    grid: &Grid<'_>,
    row: usize,
    key: usize,
    to: (u32, u16),
    column: u16,
    place: &Place<'_>,
    sheet: &mut Worksheet,
    out: &mut Out,
) -> Result<(), XlsxError> {
    let rule = grid.table.keys[key].rule;
    let first = grid.order.first[row];
    let style = Style::Number(Digits::General);
    let open = match rule {
        Rule::Interpolate => row == first,
        _ => grid.order.holds[key][first],
    };
    if open {
        let bound = if rule == Rule::UpTo { NO_BOUND } else { -NO_BOUND };
        return out.value(sheet, to, &Shows::Number(bound), style);
    }
    let of = if rule == Rule::Interpolate { row } else { first };
    let value = match place.cells.get(&(grid.key.clone(), of, key, true)) {
        Some((line, _)) => place.study.value(*line),
        None => grid.table.rows[of].keys.get(key).and_then(|c| c.value.number()).unwrap_or(f64::NAN),
    };
    let formula = format!("{}{}", crate::place::letters(column), grid.row + of as u32 + 1);
    out.formula(sheet, to, &formula, &Shows::Number(value), style)
}
