//! Whether a stated value can stand: its quantity is known, its text reads, its dimension fits.

use std::ops::Range;
use tare_calc::{Calculation, Declared};
use tare_diag::Diag;
use tare_library::{Library, QuantityDef};
use tare_model::Kind;
use tare_units::{Quantity, QuantityError, Spread, Unit, show};

/// What a value is stated of.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Subject<'a> {
    /// The kind of the subject's record.
    pub(crate) kind: Kind,
    /// The calculation it is bound to, whose inputs it may state.
    pub(crate) calculation: Option<&'a str>,
}

/// Errors of an instrument that are in what it reads, whatever that is. Its gain is a share, declared as a quantity.
pub(crate) const READ_ERRORS: [&str; 3] = ["zero", "repeat", "resolution"];

/// Deepest chain of used calculations that is looked through for inputs.
const USES: usize = 8;

/// A value this many times beyond the plausible band is a slip of the pen, not a surprise.
const BEYOND: f64 = 1e6;

/// How a text must read.
enum Due<'a> {
    Number(&'a Unit),
    List(&'a Unit),
    Word(Vec<&'a str>),
    Anything,
}

/// The problems of a stated value, each with the bytes of `text` it concerns, where it concerns the text.
pub(crate) fn check_value(
    library: &Library,
    subject: &Subject<'_>,
    quantity: &str,
    text: &str,
) -> Vec<(Diag, Option<Range<usize>>)> {
    let calculation = subject.calculation.and_then(|key| library.find(key));
    let due = match calculation.and_then(|c| input_due(library, c, quantity, 0)) {
        Some(due) => due,
        None => match library.quantity_on(subject.kind.word(), quantity) {
            Some(known) => match (&known.unit, known.choices.is_empty()) {
                // The volume of a ramp is a list of years.
                (Some(unit), _) if quantity == "volume" && matches!(subject.kind, Kind::Scenario | Kind::Organisation) => {
                    Due::List(unit)
                }
                (Some(unit), _) => Due::Number(unit),
                (None, false) => Due::Word(known.choices.iter().map(String::as_str).collect()),
                (None, true) => Due::Anything,
            },
            None if subject.kind == Kind::Instrument && READ_ERRORS.contains(&quantity) => Due::Anything,
            None if subject.kind == Kind::Tool && quantity == "cost" => Due::Anything,
            // A calculation that is not known is a problem of its own.
            None if subject.calculation.is_some() && calculation.is_none() => Due::Anything,
            None => return vec![(unknown(library, calculation, quantity), None)],
        },
    };
    let mut problems = Vec::new();
    if let Some(known) = library.quantity_on(subject.kind.word(), quantity) {
        problems.extend(beyond(known, quantity, text));
    }
    match due {
        Due::Number(unit) => number(text, 0, unit, quantity, &mut problems),
        Due::List(unit) => {
            let mut start = 0;
            for entry in text.split(';') {
                let lead = entry.len() - entry.trim_start().len();
                number(entry.trim(), start + lead, unit, quantity, &mut problems);
                start += entry.len() + 1;
            }
        }
        Due::Word(words) if !words.contains(&text) => {
            let says = format!("`{quantity}` is one of {}, found `{text}`", words.join(", "));
            problems.push((Diag::error("choice-unknown", says).did_you_mean(text, words), None));
        }
        Due::Word(_) => {}
        Due::Anything => problems.extend(
            Quantity::parse(text)
                .err()
                .filter(|_| subject.kind == Kind::Instrument)
                .map(|e| (e.unplaced(), Some(e.span.clone()))),
        ),
    }
    problems
}

fn number(text: &str, start: usize, unit: &Unit, quantity: &str, problems: &mut Vec<(Diag, Option<Range<usize>>)>) {
    match Quantity::parse_as(text, unit) {
        Err(error) => {
            let span = error.span.start + start..error.span.end + start;
            let mut diag = error.unplaced();
            diag.message = format!("{quantity}: {}", diag.message);
            problems.push((diag, Some(span)));
        }
        Ok(stated) if stated.value < 0.0 && unit.dim == tare_units::Dim::MASS => {
            let diag = Diag::error("negative-mass", format!("{quantity}: a mass cannot be negative, found `{text}`"));
            problems.push((
                diag.hint("state the mass without the sign; a difference is stated with `method = \"difference\"`"),
                Some(start..start + text.len()),
            ));
        }
        Ok(stated) if stated.value.is_infinite() => {
            problems.push((
                Diag::error("too-large", format!("{quantity}: `{text}` is too large to compute with")),
                Some(start..start + text.len()),
            ));
        }
        Ok(_) => {}
    }
}

/// A number that no thing of this world has; the band itself only warns.
fn beyond(known: &QuantityDef, quantity: &str, text: &str) -> Option<(Diag, Option<Range<usize>>)> {
    let (unit, stated) = (known.unit.as_ref()?, Quantity::parse(text).ok()?);
    let Some(Spread::Rectangular { low, high }) = known.band.as_ref()?.spread else { return None };
    if stated.unit.dim != unit.dim || stated.value.abs() <= BEYOND * high.abs().max(low.abs()) {
        return None;
    }
    let says = format!("{quantity}: found `{text}`, expected something like {} to {}", show(low, unit, 3), show(high, unit, 3));
    Some((Diag::error("too-large", says).hint("look at the unit and the decimal mark"), Some(0..text.len())))
}

fn input_due<'a>(library: &'a Library, calculation: &'a Calculation, name: &str, depth: usize) -> Option<Due<'a>> {
    if let Some((_, input)) = calculation.input(name) {
        return Some(match &input.declared {
            Declared::Number(unit) if input.list.is_some() => Due::List(unit),
            Declared::Number(unit) => Due::Number(unit),
            Declared::Bool => Due::Word(vec!["no", "yes"]),
            Declared::Choice => Due::Word(input.choices.iter().map(String::as_str).collect()),
            Declared::Row(_) | Declared::Bad => Due::Anything,
        });
    }
    let used = calculation.uses.iter().filter(|_| depth < USES);
    used.filter_map(|u| library.find(&u.calculation.value)).find_map(|c| input_due(library, c, name, depth + 1))
}

fn unknown(library: &Library, calculation: Option<&Calculation>, quantity: &str) -> Diag {
    let diag = match calculation {
        Some(c) => Diag::error(
            "quantity-unknown",
            format!("`{quantity}` is neither a quantity of the library nor an input of `{}`", c.key),
        ),
        None => Diag::error("quantity-unknown", format!("the library has no quantity `{quantity}`")),
    };
    let inputs = calculation.into_iter().flat_map(|c| c.inputs.iter().map(|i| i.name.value.as_str()));
    diag.did_you_mean(quantity, inputs.chain(library.quantities().map(|q| q.name.as_str())))
}

/// What is wrong with the text of a rate: it does not read, or is of another dimension than its key is declared in.
pub(crate) fn check_rate(library: &Library, key: &str, text: &str) -> Option<QuantityError> {
    library.read_rate(key, text).err()
}

/// The message for a calculation the library does not have, with the nearest names.
pub(crate) fn calculation_problem(library: &Library, key: &str) -> Option<Diag> {
    if library.find(key).is_some() {
        return None;
    }
    let diag = Diag::error("calculation-unknown", format!("the library has no calculation `{key}`"));
    let known: Vec<&str> = library.calculations().map(|c| c.key.as_str()).collect();
    let last = key.rsplit('/').next().unwrap_or(key);
    let elsewhere: Vec<String> = known.iter().filter(|k| k.rsplit('/').next() == Some(last)).map(|k| format!("`{k}`")).collect();
    let diag = diag.did_you_mean(key, known.iter().copied());
    let diag = if elsewhere.is_empty() { diag } else { diag.hint(format!("there is {}", elsewhere.join(", "))) };
    Some(diag.hint("`tare calc` lists them all"))
}

/// The message for a material the library does not have, with the nearest names.
pub(crate) fn material_problem(library: &Library, key: &str) -> Option<Diag> {
    if library.material(key).is_some() {
        return None;
    }
    let diag = Diag::error("material-unknown", format!("the library has no material `{key}`"));
    Some(diag.did_you_mean(key, library.materials().map(|m| m.key.as_str())).hint("`tare calc materials` lists them all"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_volume_of_a_scenario_may_be_a_list_of_years() {
        let (library, _) = Library::embedded();
        let found = |kind, text| check_value(&library, &Subject { kind, calculation: None }, "volume", text).len();
        assert_eq!(found(Kind::Scenario, "10000 1/a; 20000 1/a"), 0);
        assert_eq!(found(Kind::Organisation, "10000 1/a"), 0);
        assert_eq!(found(Kind::Scenario, "10000 1/a; 20 kg"), 1);
        assert_eq!(found(Kind::Yardstick, "1 m^3; 2 m^3"), 1);
    }
}
