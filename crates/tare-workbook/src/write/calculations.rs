//! The sheets of calculations: a row for each use, a column for each input and equation.

use super::inputs::chosen;
use super::{Digits, Out, Shows, Style, printed};
use crate::columns::{Column, Fill, Holds};
use crate::place::{FIRST_ROW, LEADING, Place, Wide};
use rust_xlsxwriter::{Worksheet, XlsxError};
use std::collections::BTreeSet;
use tare_calc::{Resolve, TableOrder};
use tare_study::LineRef;
use tare_units::Unit;

pub(crate) fn write(
    place: &Place<'_>,
    lib: &dyn Resolve,
    at: usize,
    sheet: &mut Worksheet,
    out: &mut Out,
) -> Result<(), XlsxError> {
    let of = &place.sheets[at];
    let calculation = lib.calculation(&of.key);
    let title = calculation.map_or(of.key.as_str(), |c| c.title.as_str());
    out.words(sheet, (0, 0), title, Style::Title)?;
    let says = calculation.map_or("", |c| c.says.as_str());
    out.words(sheet, (1, 0), &format!("{}   {says}", of.key), Style::Says)?;
    let names: [&str; 3] = ["Use", "About", "Unit of the use"];
    let head = |out: &mut Out, sheet: &mut Worksheet, row: u32, list: bool| -> Result<(), XlsxError> {
        for (column, name) in names.iter().enumerate() {
            out.words(sheet, (row, column as u16), name, Style::Head)?;
            for below in 1..=3 {
                out.words(sheet, (row + below, column as u16), "", Style::HeadSmall)?;
            }
        }
        for column in of.columns.iter().filter(|c| c.list == list) {
            heading(out, sheet, row, column)?;
        }
        Ok(())
    };
    head(out, sheet, FIRST_ROW - 4, false)?;
    if let Some(row) = of.entries {
        out.words(sheet, (row - 1, 0), "Entries of lists", Style::Strong)?;
        // one row of headings less than above: names, units
        for (column, name) in names.iter().enumerate() {
            out.words(sheet, (row, column as u16), name, Style::Head)?;
        }
        for column in of.columns.iter().filter(|c| c.list) {
            short_heading(out, sheet, row, column)?;
        }
    }
    sheet.set_column_width(0, 24)?;
    sheet.set_column_width(1, 30)?;
    sheet.set_column_width(2, 9)?;
    for column in &of.columns {
        if let Some(shown) = column.shown {
            sheet.set_column_width(shown, 13)?;
            sheet.set_column_width(column.si, 9)?;
        } else {
            sheet.set_column_width(column.si, 13)?;
        }
    }
    let mut reasons = BTreeSet::new();
    let mut text = String::new();
    for block in &of.blocks {
        rows(place, *block, sheet, out, &mut text, &mut reasons)?;
    }
    out.values.extend(reasons.into_iter().map(|reason| format!("{}: {reason}", of.key)));
    if of.left_out > 0 {
        out.values.push(format!("{}: {} columns found no room", of.key, of.left_out));
    }
    sheet.set_freeze_panes(FIRST_ROW, LEADING)?;
    let columns = of.columns.iter().map(|c| c.si + 1).max().unwrap_or(LEADING);
    printed(sheet, title, Some((FIRST_ROW - 4, FIRST_ROW - 1)), columns)
}

fn unit_text(unit: &Unit) -> String {
    if unit.is_plain() { String::new() } else { unit.text.clone() }
}

fn si_text(column: &Wide) -> String {
    match column.unit.currency {
        Some(_) => "SI".to_owned(),
        None => Unit::of(column.unit.dim).text,
    }
}

fn heading(out: &mut Out, sheet: &mut Worksheet, row: u32, column: &Wide) -> Result<(), XlsxError> {
    let says = if column.bound { "input" } else { column.authored.as_str() };
    for (at, unit, helper) in
        [(column.shown, unit_text(&column.unit), false), (Some(column.si), si_text(column), column.shown.is_some())]
    {
        let Some(at) = at else { continue };
        let unit = if column.shown.is_none() { unit_text(&column.unit) } else { unit };
        let name = if helper { String::new() } else { column.name.clone() };
        out.words(sheet, (row, at), &name, Style::Head)?;
        out.words(sheet, (row + 1, at), &unit, Style::HeadSmall)?;
        out.words(sheet, (row + 2, at), if helper { "" } else { says }, Style::HeadSmall)?;
        out.words(sheet, (row + 3, at), if helper { "" } else { &column.source }, Style::HeadSmall)?;
    }
    Ok(())
}

fn short_heading(out: &mut Out, sheet: &mut Worksheet, row: u32, column: &Wide) -> Result<(), XlsxError> {
    let says = if column.bound { "input" } else { column.authored.as_str() };
    if let Some(shown) = column.shown {
        out.words(sheet, (row, shown), &column.name, Style::Head)?;
        out.words(sheet, (row + 1, shown), &unit_text(&column.unit), Style::HeadSmall)?;
        out.words(sheet, (row, column.si), "", Style::Head)?;
        out.words(sheet, (row + 1, column.si), &si_text(column), Style::HeadSmall)?;
    } else {
        out.words(sheet, (row, column.si), &column.name, Style::Head)?;
        out.words(sheet, (row + 1, column.si), &format!("{} {says}", unit_text(&column.unit)), Style::HeadSmall)?;
    }
    Ok(())
}

/// The row of one use, and the rows of its entries.
fn rows(
    place: &Place<'_>,
    block: u32,
    sheet: &mut Worksheet,
    out: &mut Out,
    text: &mut String,
    reasons: &mut BTreeSet<String>,
) -> Result<(), XlsxError> {
    let lines = &place.study.lines;
    let of = &lines.blocks[block as usize];
    let Some(found) = &place.translated[of.template as usize] else { return Ok(()) };
    let subject = lines.subject(LineRef::Line { block, line: 0, element: 0 });
    let at = place.blocks[block as usize];
    let address = format!("{}/{}", subject.address, of.name);
    out.words(sheet, (at.row, 0), &address, Style::Word)?;
    out.words(sheet, (at.row, 1), &subject.title, Style::Word)?;
    if let Some(unit) = &of.unit {
        out.words(sheet, (at.row, 2), &unit_text(unit), Style::Word)?;
    }
    for entry in 0..found.entries as u32 {
        out.words(sheet, (at.entries + entry, 0), &format!("{address}[{}]", entry + 1), Style::Word)?;
    }
    for (slot, column) in found.columns.iter().enumerate() {
        let Some(wide) = place.column(block, slot) else { continue };
        for element in 0..column.values.len() as u32 {
            let row = if column.list { at.entries + element } else { at.row };
            let value = place.study.values[lines.operand(block, column.values[element as usize]) as usize];
            let shows = shows(column, value);
            let style = if wide.shown.is_some() { Style::Helper } else { Style::Number(digits(&shows)) };
            match formula(place, block, column, element, text).and_then(|()| short_enough(text)) {
                Ok(()) => out.formula(sheet, (row, wide.si), text, &shows, style)?,
                Err(reason) => {
                    out.value(sheet, (row, wide.si), &shows, style)?;
                    out.inputs -= 1;
                    reasons.insert(format!("{} ({reason})", column.name));
                }
            }
            if let (Some(shown), Shows::Number(si)) = (wide.shown, &shows) {
                let unit = of.unit.as_ref().unwrap_or(&column.unit);
                let own = unit.from_si(*si);
                let formula = in_unit(&format!("{}{}", crate::place::letters(wide.si), row + 1), unit);
                out.formula(sheet, (row, shown), &formula, &Shows::Number(own), Style::Number(Digits::of(own)))?;
            }
            if !column.list {
                break;
            }
        }
    }
    Ok(())
}

/// The formula of a cell.
fn formula(place: &Place<'_>, block: u32, column: &Column, element: u32, text: &mut String) -> Result<(), String> {
    let entry = column.list.then_some(element);
    match &column.fill {
        Fill::Formula(pieces) => place.formula(block, entry, pieces, text).ok_or_else(|| "it reads what has no cell".to_owned()),
        Fill::Bound { params, exchange } => {
            let param = params.get(if column.list { element as usize } else { 0 }).ok_or("nothing is bound")?;
            let line = place.study.lines.argument(block, *param);
            let mut reference = place.reference(line).ok_or("what is bound has no cell")?;
            if let Some((rate, divides)) = exchange {
                place.formula(block, None, rate, text).ok_or("no exchange rate")?;
                reference = format!("{reference}{}{text}", if *divides { '/' } else { '*' });
            }
            text.clear();
            text.push_str(&reference);
            Ok(())
        }
        Fill::Value(reason) => Err(reason.clone()),
    }
}

/// Spreadsheets take no longer formula.
const LONGEST: usize = 8_192;

fn short_enough(formula: &str) -> Result<(), String> {
    if formula.chars().count() < LONGEST { Ok(()) } else { Err("longer than a spreadsheet takes".to_owned()) }
}

/// What a cell of ours shows.
fn shows(column: &Column, value: f64) -> Shows {
    match &column.holds {
        Holds::Condition if value.is_finite() => Shows::Condition(value != 0.0),
        Holds::Choice(set) => chosen(set, value).map_or(Shows::Number(f64::NAN), Shows::Words),
        // a row that no need suits is no place
        Holds::Place if value < 0.0 && value.fract() == 0.0 => Shows::Number(f64::NAN),
        Holds::LowerRow(order) => Shows::Number(lower_row(order, value)),
        _ => Shows::Number(value),
    }
}

/// The lower one of the two rows that a place lies between.
fn lower_row(order: &TableOrder, place: f64) -> f64 {
    if !place.is_finite() || order.next.is_empty() {
        return f64::NAN;
    }
    let low = (place.max(0.0) as usize).min(order.next.len() - 1);
    // the upper end of a series is reached from the row before it
    let before =
        (order.next[low] == low).then(|| (0..order.next.len()).find(|row| *row != low && order.next[*row] == low)).flatten();
    before.unwrap_or(low) as f64
}

fn digits(shows: &Shows) -> Digits {
    match shows {
        Shows::Number(x) => Digits::of(*x),
        _ => Digits::General,
    }
}

/// An SI cell in a unit.
pub(crate) fn in_unit(cell: &str, unit: &Unit) -> String {
    let moved = if unit.offset == 0.0 { cell.to_owned() } else { format!("({cell}-{})", crate::bit::number(unit.offset)) };
    let divisor = (1.0 / unit.factor).round();
    if unit.factor == 1.0 {
        moved
    } else if unit.factor < 1.0 && 1.0 / divisor == unit.factor {
        format!("{moved}*{}", crate::bit::number(divisor))
    } else {
        format!("{moved}/{}", crate::bit::number(unit.factor))
    }
}
