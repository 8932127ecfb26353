//! The checks of a calculation file.

use crate::calculation::{Check, CheckValue, RangeCheck};
use crate::file::entries;
use crate::reader::Reader;
use crate::span::{Located, Span};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

type Value<'a> = Spanned<DeValue<'a>>;

/// Draws of a check that states none: enough for three digits of a standard uncertainty (JCGM 101, 7.2.2).
const DRAWS: u64 = 1_000_000;
/// The most draws a check may ask for.
const MOST_DRAWS: u64 = 20_000_000;

pub(crate) fn checks(reader: &mut Reader<'_>, root: &DeTable<'_>) -> Vec<Check> {
    let Some(value) = root.get("check") else { return Vec::new() };
    let DeValue::Array(array) = value.get_ref() else {
        reader.error("wrong-kind", "`check` must be a list of tables", value.span()).hints.push("write `[[check]]`".to_owned());
        return Vec::new();
    };
    let mut found = Vec::new();
    for value in array.iter() {
        let DeValue::Table(table) = value.get_ref() else {
            reader.error("wrong-kind", "a check must be a table", value.span()).hints.push("write `[[check]]`".to_owned());
            continue;
        };
        let span = Span::from(value.span());
        reader.only(table, &["id", "source", "seen", "kind", "given", "expect", "ranges", "says"], "a check");
        let id = reader.required(
            table,
            "id",
            "the check",
            span,
            "add `id = \"...\"`: the reference id, or `own-...` for one of yours",
        );
        let source = reader.required(table, "source", "the check", span, "add `source = \"...\"`: the original work");
        if !table.contains_key("seen") {
            reader
                .error("missing-field", "the check has no `seen`", span)
                .hints
                .push("write `seen = true` if the figures were read in the source, `false` if they are from memory".to_owned());
        }
        let check = Check {
            id: id.map(|t| t.value).unwrap_or_default(),
            source: source.map(|t| t.value).unwrap_or_default(),
            seen: reader.flag(table, "seen").unwrap_or(false),
            kind: reader.words(table, "kind"),
            says: reader.words(table, "says"),
            given: check_values(reader, table, "given"),
            expect: check_values(reader, table, "expect"),
            ranges: ranges(reader, table),
            span,
        };
        if check.expect.is_empty() && check.ranges.is_none() && !table.contains_key("expect") {
            reader
                .error("missing-field", "the check expects nothing", span)
                .hints
                .push("add `expect = { name = \"value\" }`".to_owned());
        }
        found.push(check);
    }
    found
}

/// Named values of a check; a table inside stands for a used calculation.
fn check_values(reader: &mut Reader<'_>, table: &DeTable<'_>, key: &str) -> Vec<CheckValue> {
    let mut found = Vec::new();
    for (name, value) in entries(reader, table, key) {
        flatten(reader, name, value, &mut found, 0);
    }
    found
}

fn flatten(reader: &mut Reader<'_>, name: Located<String>, value: &Value<'_>, found: &mut Vec<CheckValue>, depth: usize) {
    match value.get_ref() {
        DeValue::Table(inner) if depth < 8 => {
            let mut inner: Vec<_> = inner.iter().collect();
            inner.sort_by_key(|(n, _)| n.span().start);
            for (n, v) in inner {
                let path = format!("{}.{}", name.value, n.get_ref());
                flatten(reader, Located::new(path, n.span().into()), v, found, depth + 1);
            }
        }
        DeValue::Array(array) => {
            let texts = array.iter().filter_map(|v| reader.scalar(v, "each entry of a list")).map(|t| t.located()).collect();
            found.push(CheckValue { name, texts, list: true });
        }
        _ => {
            if let Some(text) = reader.scalar(value, &format!("`{}`", name.value)) {
                found.push(CheckValue { name, texts: vec![text.located()], list: false });
            }
        }
    }
}

/// What a check expects once what it gives is drawn.
fn ranges(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Option<RangeCheck> {
    let value = table.get("ranges")?;
    let DeValue::Table(inner) = value.get_ref() else {
        reader.error("wrong-kind", "`ranges` must be a table", value.span()).hints.push("write `[check.ranges]`".to_owned());
        return None;
    };
    reader.only(inner, &["draws", "coverage", "interval", "freedom", "correlated", "expect"], "`ranges`");
    let draws = number(reader, inner, "draws", 1.0..=MOST_DRAWS as f64).map_or(DRAWS, |n| n as u64);
    let coverage = number(reader, inner, "coverage", 0.01..=0.9999).unwrap_or(0.95);
    let shortest = match reader.text(inner, "interval") {
        None => false,
        Some(text) if text.value == "symmetric" => false,
        Some(text) if text.value == "shortest" => true,
        Some(text) => {
            let says = format!("`{}` is no kind of interval", text.value);
            reader.error("unknown-choice", says, text.span()).hints.push("write `symmetric` or `shortest`".to_owned());
            false
        }
    };
    let freedom = numbers(reader, inner, "freedom", 1.0..=f64::MAX);
    let correlated = numbers(reader, inner, "correlated", -1.0..=1.0);
    let expect = check_values(reader, inner, "expect");
    if expect.is_empty() {
        reader
            .error("missing-field", "the ranges expect nothing", value.span())
            .hints
            .push("add `expect = { name = { u = \"value\" } }`".to_owned());
    }
    Some(RangeCheck { draws, coverage, shortest, freedom, correlated, expect })
}

/// A plain number between two bounds.
fn number(reader: &mut Reader<'_>, table: &DeTable<'_>, key: &str, bounds: std::ops::RangeInclusive<f64>) -> Option<f64> {
    let text = reader.scalar(table.get(key)?, &format!("`{key}`"))?.located();
    bounded(reader, &text, key, &bounds)
}

/// Plain numbers by name.
fn numbers(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    key: &str,
    bounds: std::ops::RangeInclusive<f64>,
) -> Vec<(Located<String>, f64)> {
    let mut found = Vec::new();
    for (name, value) in entries(reader, table, key) {
        let Some(text) = reader.scalar(value, &format!("`{}`", name.value)) else { continue };
        let number = bounded(reader, &text.located(), key, &bounds);
        found.extend(number.map(|number| (name, number)));
    }
    found
}

fn bounded(reader: &mut Reader<'_>, text: &Located<String>, key: &str, bounds: &std::ops::RangeInclusive<f64>) -> Option<f64> {
    let number = text.value.replace('_', "").parse::<f64>().ok().filter(|n| bounds.contains(n));
    if number.is_none() {
        let says = format!("`{key}` takes a number from {} to {}, found `{}`", bounds.start(), bounds.end(), text.value);
        reader.error("not-a-number", says, text.span);
    }
    number
}
