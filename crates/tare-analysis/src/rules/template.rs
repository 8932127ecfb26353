//! Texts with formulas in braces, read and checked.

use super::file::Text;
use crate::facts::{Facts, RowKind};
use crate::question::{Checked, Located, Scope, Ty, check_for, dimension, parse, plain, unit_of};
use tare_calc::Span;
use tare_diag::Diag;
use tare_units::Unit;

/// What a text is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// To be read by people: records by their addresses.
    Words,
    /// To be carried out: records by their identifiers.
    Command,
}

/// A text with formulas in it.
#[derive(Clone, Debug)]
pub(super) struct Template {
    pub(super) purpose: Purpose,
    pub(super) pieces: Vec<Piece>,
}

#[derive(Clone, Debug)]
pub(super) enum Piece {
    Words(String),
    /// The row in hand, or (`outer`) the row of the rule.
    Row {
        outer: bool,
        kind: RowKind,
    },
    /// The item of a part.
    Item {
        outer: bool,
    },
    Value(Box<Value>),
}

/// A formula, with the unit to show its number in and its text.
#[derive(Clone, Debug)]
pub(super) struct Value {
    pub(super) checked: Checked,
    pub(super) unit: Option<Unit>,
    pub(super) text: String,
}

/// Reads a template. Spans of problems count in the decoded text.
pub(super) fn read(text: &Text, purpose: Purpose, scope: Scope<'_>) -> Result<Template, Vec<Located>> {
    let (mut pieces, mut problems) = (Vec::new(), Vec::new());
    let mut at = 0;
    let whole = text.value.as_str();
    while let Some(open) = whole[at..].find(['{', '}']).map(|found| at + found) {
        if open > at {
            pieces.push(Piece::Words(whole[at..open].to_owned()));
        }
        let (Some(end), true) = (close(whole, open), whole[open..].starts_with('{')) else {
            let diag = Diag::error("brace", "a brace without its partner").hint("write a formula in braces, such as `{count}`");
            problems.push((Span::new(open, open + 1), diag));
            at = open + 1;
            continue;
        };
        match piece(whole, open + 1..end, purpose, scope) {
            Ok(piece) => pieces.push(piece),
            Err(found) => problems.extend(found),
        }
        at = end + 1;
    }
    pieces.push(Piece::Words(whole[at..].to_owned()));
    if problems.is_empty() { Ok(Template { purpose, pieces }) } else { Err(problems) }
}

/// Where the brace that opens at `open` closes; braces in quotes do not count.
fn close(text: &str, open: usize) -> Option<usize> {
    outside_quotes(text, open + 1, |c| c == '}' || c == '{').filter(|at| text[*at..].starts_with('}'))
}

fn outside_quotes(text: &str, from: usize, wanted: impl Fn(char) -> bool) -> Option<usize> {
    let mut quoted = false;
    text[from..].char_indices().find_map(|(at, c)| {
        quoted ^= c == '\'';
        (!quoted && wanted(c)).then_some(from + at)
    })
}

fn piece(whole: &str, inside: std::ops::Range<usize>, purpose: Purpose, scope: Scope<'_>) -> Result<Piece, Vec<Located>> {
    let text = &whole[inside.clone()];
    let word = text.trim();
    let (word_kind, of_item) = match word.strip_suffix(".item") {
        Some("part") => (Some(RowKind::Part), true),
        _ => (RowKind::from_word(word), false),
    };
    // The row in hand comes first where both are of one kind.
    let outer = word_kind.and_then(|kind| match scope.outer {
        _ if scope.rows == kind => Some(false),
        Some(outer) if outer == kind => Some(true),
        _ => None,
    });
    if let (Some(kind), Some(outer)) = (word_kind, outer) {
        return Ok(if of_item { Piece::Item { outer } } else { Piece::Row { outer, kind } });
    }
    let colon = outside_quotes(whole, inside.start, |c| c == ':').filter(|at| *at < inside.end);
    let formula = inside.start..colon.unwrap_or(inside.end);
    let moved = |problems: Vec<Located>| -> Vec<Located> {
        let by = formula.start;
        problems.into_iter().map(|(s, d)| (Span::new(s.start as usize + by, s.end as usize + by), d)).collect()
    };
    let span = Span::new(formula.start, formula.end);
    let written = whole[formula.clone()].trim().to_owned();
    let unit = colon.map(|colon| unit(whole, colon + 1..inside.end)).transpose()?;
    // A name of several meanings means what can be shown so.
    let fits = |checked: &Checked| unit.as_ref().is_none_or(|u| matches!(checked.node.ty, Ty::Number(dim) if dim == u.dim));
    let checked = parse(&whole[formula.clone()]).and_then(|expr| check_for(scope, &expr, fits)).map_err(moved)?;
    is_showable(&checked, unit.as_ref(), purpose, scope, &written).map_err(|diag| vec![(span, diag)])?;
    Ok(Piece::Value(Box::new(Value { checked, unit, text: written })))
}

/// The unit behind a colon.
fn unit(whole: &str, at: std::ops::Range<usize>) -> Result<Unit, Vec<Located>> {
    let span = Span::new(at.start, at.end);
    let unit = Unit::parse(&whole[at]).map_err(|error| vec![(span, Diag::error("unit", error.to_string()))])?;
    if unit.currency.is_some() {
        let diag = Diag::error("currency-in-unit", format!("the unit `{}` names a currency", unit.text));
        return Err(vec![(span, diag.hint("write `money`: each study's amounts are in its own currency"))]);
    }
    Ok(unit)
}

/// A problem where a formula cannot be shown: a number without its unit or with another, many records in one command.
fn is_showable(checked: &Checked, unit: Option<&Unit>, purpose: Purpose, scope: Scope<'_>, text: &str) -> Result<(), Diag> {
    let node = &checked.node;
    match (unit, node.ty) {
        (Some(unit), Ty::Number(dim)) if dim != unit.dim => {
            let says = format!("found {} where `{}` is due", dimension(dim), unit.text);
            return Err(Diag::error("dimension-mismatch", says));
        }
        (Some(_), Ty::Truth | Ty::Text | Ty::Rows) => {
            return Err(Diag::error("unit-of-no-number", format!("`{text}` is no number, and has no unit")));
        }
        _ => {}
    }
    if unit.is_none() && !plain(node.ty).is_one() {
        let due = unit_of(scope.schema, checked).text;
        let says = format!("`{text}` is {}, and no unit is named to show it in", dimension(plain(node.ty)));
        return Err(Diag::error("unit-missing", says).hint(format!("write `{{{text}:{due}}}`")));
    }
    if purpose == Purpose::Command && node.shape.is_some() {
        let says = format!("`{text}` is a list, and a command takes one value");
        return Err(Diag::error("list", says).hint("make one edit for each: `for = \"RELATION\"`"));
    }
    Ok(())
}

/// What a row is called.
pub(super) fn address(facts: &Facts, kind: RowKind, row: u32) -> String {
    let code = facts.table(kind).codes("address").and_then(|codes| codes.get(row as usize));
    code.and_then(|code| facts.texts.get(*code)).unwrap_or("?").to_owned()
}
