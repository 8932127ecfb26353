//! The sheet of inputs: every number that comes from outside, to be changed there.

use super::{Digits, Out, Shows, Style, printed};
use crate::About;
use crate::columns::Holds;
use crate::place::{FIRST_INPUT, INPUT_SI, Place};
use rust_xlsxwriter::{Worksheet, XlsxError};
use std::collections::BTreeSet;
use std::sync::Arc;
use tare_calc::Ty;
use tare_study::{Argument, LineRef};

/// Gives rates and the scenario their names.
pub(crate) fn name_leaves(place: &mut Place<'_>, about: &About) {
    let mut taken: BTreeSet<String> = about.headlines.iter().map(|h| h.name.to_lowercase()).collect();
    for (name, line) in &about.named {
        let LineRef::Leaf(leaf) = line else { continue };
        if place.names.contains_key(leaf) {
            continue;
        }
        let name = (1..)
            .map(|n| if n == 1 { safe(name) } else { format!("{}_{n}", safe(name)) })
            .find(|n| taken.insert(n.to_lowercase()));
        place.names.extend(name.map(|name| (*leaf, name)));
    }
}

/// A name that no spreadsheet takes for a cell, a row or a column: letters, digits and underscores, never `R1C1` or `AB12`.
pub(crate) fn safe(name: &str) -> String {
    let mut text: String = name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).take(200).collect();
    while text.contains("__") {
        text = text.replace("__", "_");
    }
    let text = text.trim_matches('_').to_lowercase();
    // one underscore in it at least, and a letter in front
    if text.starts_with(|c: char| c.is_ascii_alphabetic()) && text.contains('_') { text } else { format!("in_{text}") }
}

/// What each leaf's cell holds, from the calculations that read it.
fn kinds(place: &Place<'_>) -> Vec<Holds> {
    let lines = &place.study.lines;
    let mut kinds = vec![Holds::Number; lines.leaves.len()];
    let mut set = |line: LineRef, ty: &Ty, choices: &[String]| {
        if let LineRef::Leaf(leaf) = line {
            match crate::columns::holds(ty, choices) {
                Holds::Number => {}
                found => kinds[leaf as usize] = found,
            }
        }
    };
    for template in &lines.templates {
        for (argument, param) in template.arguments.iter().zip(&template.lowered.params) {
            if let Argument::Shared(line) = argument {
                set(*line, &param.ty, &[]);
            }
        }
    }
    for block in &lines.blocks {
        let template = &lines.templates[block.template as usize];
        for (argument, param) in template.arguments.iter().zip(&template.lowered.params) {
            if let (Argument::Own(own), Ty::Bool | Ty::Choice(_) | Ty::Row(_) | Ty::List(..)) = (argument, &param.ty) {
                set(lines.args[(block.args + own) as usize], &param.ty, &[]);
            }
        }
    }
    kinds
}

/// A leaf as its cell shows it.
fn shows(holds: &Holds, value: f64, word: Option<&str>) -> Shows {
    match holds {
        Holds::Condition => Shows::Condition(value != 0.0),
        Holds::Choice(set) => Shows::Words(chosen(set, value).or(word.map(str::to_owned)).unwrap_or_default()),
        _ => Shows::Number(value),
    }
}

pub(crate) fn chosen(set: &Arc<[String]>, value: f64) -> Option<String> {
    (value >= 0.0 && value.fract() == 0.0).then(|| set.get(value as usize).cloned()).flatten()
}

pub(crate) fn write(place: &Place<'_>, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    let lines = &place.study.lines;
    out.words(sheet, (0, 0), "Inputs", Style::Title)?;
    let says = "Every number that comes from outside: readings, prices, rates, published values, assumptions. Change a value in the shaded column and everything that rests on it follows.";
    out.words(sheet, (1, 0), says, Style::Says)?;
    let heads = [
        "Address",
        "About",
        "Name",
        "Value",
        "Unit",
        "In SI",
        "As stated",
        "Standard uncertainty",
        "Evidence",
        "Source",
        "Name in formulas",
    ];
    for (column, head) in heads.iter().enumerate() {
        out.words(sheet, (FIRST_INPUT - 1, column as u16), head, Style::Head)?;
    }
    for (column, width) in [22.0, 30.0, 24.0, 13.0, 10.0, 11.0, 24.0, 12.0, 10.0, 60.0, 26.0].into_iter().enumerate() {
        sheet.set_column_width(column as u16, width)?;
    }
    let kinds = kinds(place);
    for (number, leaf) in lines.leaves.iter().enumerate() {
        let row = FIRST_INPUT + number as u32;
        let subject = lines.subject_of(leaf);
        out.words(sheet, (row, 0), &subject.address, Style::Word)?;
        out.words(sheet, (row, 1), &subject.title, Style::Word)?;
        out.words(sheet, (row, 2), &leaf.name, Style::Word)?;
        let (si, unit) = (leaf.quantity.value, &leaf.quantity.unit);
        let shown = shows(&kinds[number], si, leaf.word.as_deref());
        let letter = crate::place::letters(3);
        match &shown {
            Shows::Number(_) => {
                let own = unit.from_si(si);
                out.value(sheet, (row, 3), &Shows::Number(own), Style::Input(Digits::of(own)))?;
                let formula = in_si(&format!("{letter}{}", row + 1), unit);
                out.formula(sheet, (row, INPUT_SI), &formula, &Shows::Number(si), Style::Helper)?;
            }
            other => {
                out.value(sheet, (row, 3), other, Style::Input(Digits::General))?;
                out.formula(sheet, (row, INPUT_SI), &format!("{letter}{}", row + 1), other, Style::Helper)?;
            }
        }
        out.words(sheet, (row, 4), if unit.is_plain() { "" } else { &unit.text }, Style::AfterNumber)?;
        out.words(sheet, (row, 6), leaf.word.as_deref().unwrap_or(&leaf.quantity.text), Style::Word)?;
        let u = leaf.scale() / unit.factor;
        if u > 0.0 && u.is_finite() {
            out.value(sheet, (row, 7), &Shows::Number(u), Style::Number(Digits::of(u)))?;
        }
        out.words(sheet, (row, 8), leaf.evidence.word(), Style::Word)?;
        out.words(sheet, (row, 9), &leaf.source, Style::Word)?;
        if let Some(name) = place.names.get(&(number as u32)) {
            out.words(sheet, (row, 10), name, Style::Word)?;
        }
    }
    if !lines.leaves.is_empty() {
        sheet.autofilter(FIRST_INPUT - 1, 0, FIRST_INPUT + lines.leaves.len() as u32 - 1, heads.len() as u16 - 1)?;
    }
    sheet.set_freeze_panes(FIRST_INPUT, 3)?;
    printed(sheet, "Inputs", Some((FIRST_INPUT - 1, FIRST_INPUT - 1)), 11)
}

/// A cell's value in SI units.
fn in_si(cell: &str, unit: &tare_units::Unit) -> String {
    let divisor = (1.0 / unit.factor).round();
    let mut formula = cell.to_owned();
    if unit.factor < 1.0 && 1.0 / divisor == unit.factor {
        formula = format!("{cell}/{}", crate::bit::number(divisor));
    } else if unit.factor != 1.0 {
        formula = format!("{cell}*{}", crate::bit::number(unit.factor));
    }
    if unit.offset != 0.0 {
        formula = format!("{formula}+{}", crate::bit::number(unit.offset));
    }
    formula
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_no_cells() {
        for name in ["M12", "R1C1", "r", "DN50", "wage operator", "wage.operator", "3x", "a1_b2", "ä"] {
            let safe = safe(name);
            assert!(safe.contains('_') && safe.starts_with(|c: char| c.is_ascii_alphabetic()), "{name}: {safe}");
        }
    }
}
