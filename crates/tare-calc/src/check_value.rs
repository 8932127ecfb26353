//! The given and expected values of a calculation's checks.

use crate::calculation::{Calculation, CheckValue, Declared};
use crate::lowered::{FlatInput, Line};
use crate::span::{Located, Span};
use crate::table::Table;
use crate::ty::Ty;
use tare_diag::{Diag, Place};
use tare_units::{Dim, Quantity, TextError, Unit, show};

/// A value that a check gives to a flat input: SI numbers, or positions of texts.
#[derive(Clone, Debug)]
pub(crate) struct GivenValue {
    pub(crate) flat: usize,
    pub(crate) values: Vec<f64>,
    /// The same with spread and unit, where they are numbers.
    pub(crate) quantities: Vec<Quantity>,
}

/// What a check expects of one entry of a line.
#[derive(Clone, Debug)]
pub(crate) enum Expected {
    /// A number in SI units, its tolerance in SI units, and the unit it was written in.
    Number { value: f64, tolerance: f64, unit: Unit },
    /// The position of a text, row or condition, and the texts.
    Level { level: usize, texts: Vec<String> },
}

fn located(calc: &Calculation, diag: Diag, span: Span) -> Diag {
    diag.at(Place::span(&calc.file, span.range()))
}

/// The message of a unit or quantity that starts at a byte of the file.
fn located_text(calc: &Calculation, error: &TextError, start: usize) -> Box<Diag> {
    Box::new(error.diag(&calc.file, start))
}

/// The name of an input or line with the hint of the nearest.
fn unknown<'n>(calc: &Calculation, what: &str, value: &CheckValue, known: impl Iterator<Item = &'n str>) -> Diag {
    let diag =
        Diag::error("unknown-name", format!("no {what} named `{}`", value.name.value)).did_you_mean(&value.name.value, known);
    located(calc, diag, value.name.span)
}

/// Reads one given value of a check.
pub(crate) fn given(
    calc: &Calculation,
    flat: &[FlatInput<'_>],
    tables: &[&Table],
    value: &CheckValue,
) -> Result<GivenValue, Vec<Diag>> {
    let Some((position, input)) = flat.iter().enumerate().find(|(_, f)| f.name == value.name.value) else {
        return Err(vec![unknown(calc, "input", value, flat.iter().map(|f| f.name.as_str()))]);
    };
    let input = input.input;
    let count = value.texts.len();
    let wrong = match input.list {
        None => (value.list || count != 1).then(|| "one value".to_owned()),
        Some(list) => (!value.list || !list.allows(count)).then(|| format!("a list of {list}")),
    };
    if let Some(expected) = wrong {
        let message = format!("`{}` takes {expected}, found {count}", value.name.value);
        return Err(vec![located(calc, Diag::error("list-length", message), value.name.span)]);
    }
    let (mut values, mut quantities, mut diags) = (Vec::new(), Vec::new(), Vec::new());
    for text in &value.texts {
        let read = match &input.declared {
            Declared::Number(unit) => number(calc, text, unit).map(|q| {
                let value = q.value;
                quantities.push(q);
                value
            }),
            Declared::Bool => level(calc, text, &["false".to_owned(), "true".to_owned()], "condition").map(|l| l as f64),
            Declared::Choice => level(calc, text, &input.choices, "choice").map(|l| l as f64),
            Declared::Row(_) => match tables.get(position) {
                Some(table) => {
                    let rows: Vec<String> = table.rows.iter().map(|r| r.name.clone()).collect();
                    level(calc, text, &rows, "row").map(|l| l as f64)
                }
                None => continue,
            },
            Declared::Bad => continue,
        };
        match read {
            Ok(read) => values.push(read),
            Err(diag) => diags.push(*diag),
        }
    }
    if diags.is_empty() { Ok(GivenValue { flat: position, values, quantities }) } else { Err(diags) }
}

fn number(calc: &Calculation, text: &Located<String>, unit: &Unit) -> Result<Quantity, Box<Diag>> {
    Quantity::parse_as(&text.value, unit).map_err(|error| located_text(calc, &error, text.span.start as usize))
}

fn level(calc: &Calculation, text: &Located<String>, known: &[String], what: &str) -> Result<usize, Box<Diag>> {
    known.iter().position(|k| *k == text.value).ok_or_else(|| {
        let diag = Diag::error("unknown-choice", format!("no {what} named `{}`", text.value));
        let diag = diag.did_you_mean(&text.value, known.iter().map(String::as_str));
        Box::new(located(calc, diag.hint(format!("{what}s are: {}", known.join(", "))), text.span))
    })
}

/// Reads what a check expects of a line: one per entry. `rows` gives the row names of a table by the name its row type carries.
pub(crate) fn expected(
    calc: &Calculation,
    line: &Line,
    rows: &dyn Fn(&Line) -> Vec<String>,
    value: &CheckValue,
) -> Result<Vec<Expected>, Vec<Diag>> {
    let (entry, length) = line.ty.entry();
    if value.list != length.is_some() || (value.list && value.texts.len() != line.values.len()) {
        let expected = if length.is_some() { format!("a list of {}", line.values.len()) } else { "one value".to_owned() };
        let message = format!("`{}` gives {expected}, found {}", line.name, value.texts.len());
        return Err(vec![located(calc, Diag::error("list-length", message), value.name.span)]);
    }
    let (mut read, mut diags) = (Vec::new(), Vec::new());
    for text in &value.texts {
        let found = match entry {
            Ty::Num(_) | Ty::Point => tolerated(calc, text, &line.unit),
            Ty::Bool => named(calc, text, vec!["false".to_owned(), "true".to_owned()], "condition"),
            Ty::Choice(set) => named(calc, text, set.clone(), "choice"),
            Ty::Row(_) => named(calc, text, rows(line), "row"),
            _ => continue,
        };
        match found {
            Ok(found) => read.push(found),
            Err(diag) => diags.push(*diag),
        }
    }
    if diags.is_empty() { Ok(read) } else { Err(diags) }
}

fn named(calc: &Calculation, text: &Located<String>, texts: Vec<String>, what: &str) -> Result<Expected, Box<Diag>> {
    level(calc, text, &texts, what).map(|level| Expected::Level { level, texts })
}

/// Reads `16.0 s within 1 %`, `16.0 s within 0.05 s` or `16.0 s`.
pub(crate) fn tolerated(calc: &Calculation, text: &Located<String>, unit: &Unit) -> Result<Expected, Box<Diag>> {
    let (value_text, tolerance_text) = match text.value.split_once(" within ") {
        Some((value, tolerance)) => (value.trim_end(), Some(tolerance)),
        None => (text.value.as_str(), None),
    };
    let start = text.span.start as usize;
    let value = Quantity::parse_as(value_text, unit).map_err(|error| located_text(calc, &error, start))?;
    if value.spread.is_some() {
        let diag = Diag::error("expected-spread", format!("an expected value has no spread, found `{value_text}`"));
        return Err(Box::new(located(calc, diag.hint("write the tolerance: `16.0 s within 1 %`"), text.span)));
    }
    let tolerance = match tolerance_text {
        None => half_last_digit(value_text) * value.unit.factor,
        Some(tolerance) => {
            let at = start + text.value.len() - tolerance.len();
            let trimmed = tolerance.trim();
            if let (Some(percent), false) = (trimmed.strip_suffix('%'), value.unit.text == "%") {
                let plain = Unit::plain();
                let share = Quantity::parse_as(percent.trim(), &plain).map_err(|error| located_text(calc, &error, at))?;
                value.value.abs() * share.value / 100.0
            } else {
                let of = if unit.is_point() { Unit::of(Dim::TEMPERATURE) } else { unit.clone() };
                Quantity::parse_as(trimmed, &of).map_err(|error| located_text(calc, &error, at))?.value
            }
        }
    };
    if tolerance.is_nan() || tolerance < 0.0 {
        let diag = Diag::error("tolerance", format!("`{}` leaves no room for a result", text.value));
        return Err(Box::new(located(calc, diag.hint("write a tolerance above zero"), text.span)));
    }
    Ok(Expected::Number { value: value.value, tolerance, unit: value.unit })
}

/// Half a unit of the last digit of a number as printed: 0.05 for `16.0`, 0.5 for `16`, 50 for `1.6e3`.
fn half_last_digit(text: &str) -> f64 {
    let number: &str = text.trim().split(|c: char| !(c.is_ascii_digit() || ".+-eE".contains(c))).next().unwrap_or("");
    let (mantissa, exponent) = match number.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, exponent.parse::<i32>().unwrap_or(0)),
        None => (number, 0),
    };
    let decimals = mantissa.split_once('.').map_or(0, |(_, d)| i32::try_from(d.len()).unwrap_or(0));
    // decimal text is rounded once, a product of powers would not be
    format!("0.5e{}", (exponent - decimals).clamp(-300, 300)).parse().unwrap_or(0.0)
}

impl Expected {
    /// Whether a result is as expected.
    pub(crate) fn holds(&self, got: f64) -> bool {
        match self {
            // a result on the edge of the tolerance must not fail by rounding
            Self::Number { value, tolerance, .. } => (got - value).abs() <= tolerance * (1.0 + 1e-9) + value.abs() * 1e-14,
            Self::Level { level, .. } => got == *level as f64,
        }
    }

    /// A result in the words of the expectation.
    pub(crate) fn shown(&self, got: f64) -> String {
        match self {
            Self::Number { unit, .. } => show(got, unit, 6),
            Self::Level { texts, .. } if got >= 0.0 => texts.get(got as usize).cloned().unwrap_or_else(|| format!("{got}")),
            Self::Level { .. } => "nothing".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_unit_of_the_last_digit() {
        for (text, half) in
            [("16.0 s", 0.05), ("16 s", 0.5), ("1.60e3 m", 5.0), ("-0.125", 0.0005), ("3", 0.5), ("2e-3 m", 0.0005)]
        {
            assert_eq!(half_last_digit(text), half, "{text}");
        }
    }
}
