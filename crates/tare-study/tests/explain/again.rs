//! Works a step out again from nothing but its printed text.

use std::collections::BTreeMap;
use tare_calc::{Known, evaluate, parse_formula};
use tare_study::Step;
use tare_units::Quantity;

/// What came of working a step out again.
#[derive(Debug, PartialEq)]
pub(super) enum Again {
    /// The text gave what the graph gave.
    Same,
    /// It is a leaf, or a row of a table: there is no formula to work out, or its table is not in the text.
    Nothing,
    /// What differs, in words.
    Differs(String),
}

/// Reads a step's text back and works its formula out.
pub(super) fn again(step: &Step) -> Again {
    if step.formula.is_empty() {
        return Again::Nothing;
    }
    let text = step.text();
    let mut lines = text.lines();
    let first = lines.next().unwrap_or_default();
    let Some((_, formula)) = first.split_once(" = ") else { return Again::Differs(format!("no formula in `{first}`")) };
    let (mut names, mut result) = (BTreeMap::new(), None);
    for line in lines {
        match line.trim_start().split_once("= ") {
            Some(("", shown)) => result = Some(shown.to_owned()),
            Some((name, shown)) => drop(names.insert(name.trim().to_owned(), read_name(name.trim(), shown, formula))),
            None => return Again::Differs(format!("`{line}` is no value\n{text}")),
        }
    }
    let formula = &at_their_rates(formula, &names);
    let Some(result) = result else { return Again::Differs("no result".to_owned()) };
    let differs = |said: String| Again::Differs(format!("{}: {said}\n{text}", step.address));
    let env = |name: &str| names.get(name).cloned();
    let value = |formula: &str| {
        let (tree, problems) = parse_formula(formula);
        if problems.is_empty() { evaluate(&tree, &env) } else { Err(format!("`{formula}` does not read back: {problems:?}")) }
    };
    // `none` is a word of some choices too.
    let result = if result == "none" && !step.values.is_empty() { Known::Text(result) } else { read(&result) };
    match result {
        Known::Text(word) => {
            if formula.starts_with("pick(") {
                return Again::Nothing;
            }
            match value(&format!("if(({formula}) == '{word}', 1, 0)")) {
                Ok(1.0) => Again::Same,
                other => differs(format!("{other:?} where '{word}' was shown")),
            }
        }
        Known::Number(shown) => match value(formula) {
            Ok(found) if close(found, shown) => Again::Same,
            // A row's name may read as a number: `150 t`.
            Err(_) if formula.starts_with("pick(") && !formula.contains(").") => Again::Nothing,
            // A list of one entry is shown as that entry.
            Err(_) if value(&format!("at({formula}, 1)")).is_ok_and(|found| close(found, shown)) => Again::Same,
            other => differs(format!("{other:?} where {shown} was shown")),
        },
        Known::List(shown) | Known::Conditions(shown) => {
            for (place, shown) in shown.iter().enumerate() {
                match value(&format!("at({formula}, {})", place + 1)) {
                    Ok(found) if close(found, *shown) => {}
                    other => return differs(format!("entry {}: {other:?} where {shown} was shown", place + 1)),
                }
            }
            Again::Same
        }
    }
}

/// The value of a name. A choice may be called yes or no as a condition is: what the formula compares with a text is a choice.
fn read_name(name: &str, shown: &str, formula: &str) -> Known {
    let compared = ["==", "!="].iter().any(|op| formula.contains(&format!("{name} {op} '")));
    if compared { Known::Text(shown.to_owned()) } else { read(shown) }
}

/// Amounts in a currency whose rate stands among the names are taken at it: `3 [USD/kg]` becomes `(3 [EUR/kg] * USD)`.
fn at_their_rates(formula: &str, names: &BTreeMap<String, Known>) -> String {
    let mut out = String::new();
    let mut rest = formula;
    while let Some((before, after)) = rest.split_once(" [") {
        let Some((unit, behind)) = after.split_once(']') else { break };
        let digits = before.rfind(|c: char| !c.is_ascii_digit() && c != '.').map_or(0, |at| at + 1);
        let code = unit.get(..3).filter(|c| names.contains_key(*c));
        out.push_str(&before[..digits]);
        match code {
            Some(code) => out.push_str(&format!("({} [EUR{}] * {code})", &before[digits..], &unit[3..])),
            None => out.push_str(&format!("{} [{unit}]", &before[digits..])),
        }
        rest = behind;
    }
    out + rest
}

/// A value as it is printed: numbers with units, yes or no, or a word.
fn read(shown: &str) -> Known {
    match shown {
        "yes" => return Known::Number(1.0),
        "no" => return Known::Number(0.0),
        "none" => return Known::List(Vec::new()),
        _ => {}
    }
    let numbers: Option<Vec<f64>> = shown.split("; ").map(number).collect();
    match numbers.as_deref() {
        Some([one]) => Known::Number(*one),
        Some(many) => Known::List(many.to_vec()),
        None => Known::Text(shown.to_owned()),
    }
}

fn number(shown: &str) -> Option<f64> {
    match shown.split(' ').next() {
        Some("NaN") => Some(f64::NAN),
        Some("inf") => Some(f64::INFINITY),
        Some("-inf") => Some(f64::NEG_INFINITY),
        _ => Quantity::parse(shown).ok().map(|q| q.value),
    }
}

/// Equal but for what is lost between a unit and SI on the way through the text.
fn close(found: f64, shown: f64) -> bool {
    found == shown || (found.is_nan() && shown.is_nan()) || (found - shown).abs() <= 1e-9 * found.abs().max(shown.abs()).max(1e-9)
}
