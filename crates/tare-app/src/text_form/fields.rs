//! The plain fields of one table of a study text.

use super::read::{Entry, field_of, parent_word};
use crate::check_value::calculation_problem;
use std::collections::BTreeMap;
use std::ops::Range;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Field, FieldType, FieldValue, Id, Kind};
use toml::de::DeValue;

/// Identifiers by kind and local key.
pub(super) type Keys = BTreeMap<Kind, BTreeMap<String, Id>>;

/// Reads the fields of an entry in the order of the file; values, choices and rates are read elsewhere.
pub(super) fn read(entry: &Entry<'_>, keys: &Keys, library: &Library, problems: &mut Vec<Diag>) -> Vec<(Field, FieldValue)> {
    let mut found = Vec::new();
    let parents: Vec<&str> = entry.kind.schema().parents.iter().map(|p| parent_word(entry.kind, *p)).collect();
    for (word, value) in entry.table {
        let word_at = word.span();
        let word = word.get_ref().as_ref();
        // edits are read once everything they may speak of is there
        if matches!(word, "value" | "choose" | "rate") || (entry.kind == Kind::Idea && word == "edits") {
            continue;
        }
        let Some((field, kind)) = field_of(entry.kind, word) else {
            if !parents.contains(&word) {
                let known = entry
                    .kind
                    .schema()
                    .fields
                    .iter()
                    .map(|(f, _, _)| f.word())
                    .chain(parents.iter().copied())
                    .chain(["value", "choose"]);
                let diag = Diag::error("field-unknown", format!("{} {} has no field `{word}`", article(entry.kind), entry.kind))
                    .at(entry.place(word_at));
                let diag = diag.did_you_mean(word, known);
                let quantity = library.quantity(word).is_some();
                problems.push(if quantity { diag.hint(format!("a quantity is written `value.{word} = ...`")) } else { diag });
            }
            continue;
        };
        let at = value.span();
        if let Some(value) = one(entry, field, kind, value.get_ref(), at.clone(), keys, problems) {
            if let (Field::Calculation | Field::BuildUp, FieldValue::Text(key)) = (field, &value)
                && let Some(diag) = calculation_problem(library, key)
            {
                problems.push(diag.at(entry.place(inner(at.clone()))));
            }
            if let (Field::Material, FieldValue::Text(key)) = (field, &value)
                && library.material(key).is_none()
            {
                let diag = tare_diag::Diag::warning("material-unknown", format!("the library has no material `{key}`"))
                    .at(entry.place(inner(at)));
                problems.push(diag.did_you_mean(key, library.materials().map(|m| m.key.as_str())));
            }
            found.push((field, value));
        }
    }
    found
}

/// The article before a kind's word.
pub(crate) fn article(kind: Kind) -> &'static str {
    if kind.word().starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" }
}

/// The bytes between the quotes.
pub(super) fn inner(at: Range<usize>) -> Range<usize> {
    if at.len() >= 2 { at.start + 1..at.end - 1 } else { at }
}

/// Reads one field as its type demands.
pub(super) fn one(
    entry: &Entry<'_>,
    field: Field,
    kind: FieldType,
    value: &DeValue<'_>,
    at: Range<usize>,
    keys: &Keys,
    problems: &mut Vec<Diag>,
) -> Option<FieldValue> {
    let mut wrong = |expected: &str| {
        let says = format!("`{field}` is {expected}, found {}", described(value));
        problems.push(Diag::error("field-type", says).at(entry.place(at.clone())));
        None
    };
    match kind {
        FieldType::Text => match value {
            DeValue::String(text) => Some(FieldValue::Text(text.to_string())),
            DeValue::Datetime(time) => Some(FieldValue::Text(time.to_string())),
            DeValue::Integer(number) => Some(FieldValue::Text(number.to_string())),
            _ => wrong("text in quotes"),
        },
        FieldType::Word(words) => match value {
            DeValue::String(text) if words.contains(&text.as_ref()) => Some(FieldValue::Text(text.to_string())),
            DeValue::String(text) => {
                let says = format!("`{field}` is one of {}, found `{text}`", words.join(", "));
                problems.push(Diag::error("word-unknown", says).at(entry.place(at)).did_you_mean(text, words.iter().copied()));
                None
            }
            _ => wrong(&format!("one of {}", words.join(", "))),
        },
        FieldType::Count => match number(value) {
            Some(n) if n.is_finite() && (0.0..=1e12).contains(&n) => Some(FieldValue::Number(n)),
            Some(n) => {
                let says = format!("`{field}` is a number from 0 to 1e12, found {n}");
                problems.push(Diag::error("count-range", says).at(entry.place(at)));
                None
            }
            None => wrong("a number without quotes"),
        },
        FieldType::Flag => match value {
            DeValue::Boolean(flag) => Some(FieldValue::Flag(*flag)),
            _ => wrong("true or false"),
        },
        FieldType::Ref(kinds) => match value {
            DeValue::String(key) => resolve(entry, field.word(), key, at, kinds, keys, problems).map(FieldValue::Ref),
            _ => wrong("the key of a record, in quotes"),
        },
        FieldType::Refs(kinds) => match value {
            DeValue::Array(list) => {
                let mut ids = Vec::new();
                for key in list {
                    match key.get_ref() {
                        DeValue::String(text) => {
                            ids.extend(resolve(entry, field.word(), text, key.span(), kinds, keys, problems))
                        }
                        other => {
                            let says = format!("`{field}` lists keys of records, found {}", described(other));
                            problems.push(Diag::error("field-type", says).at(entry.place(key.span())));
                        }
                    }
                }
                Some(FieldValue::Refs(ids))
            }
            DeValue::String(key) => {
                resolve(entry, field.word(), key, at, kinds, keys, problems).map(|id| FieldValue::Refs(vec![id]))
            }
            _ => wrong("a list of keys such as [\"cover\", \"tray\"]"),
        },
    }
}

/// The number a TOML value holds.
pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok().map(|n| n as f64),
        DeValue::Float(n) => n.as_str().parse().ok(),
        _ => None,
    }
}

/// Finds the record a key names; a problem with the nearest key otherwise.
pub(super) fn resolve(
    entry: &Entry<'_>,
    word: &str,
    key: &str,
    at: Range<usize>,
    kinds: &[Kind],
    keys: &Keys,
    problems: &mut Vec<Diag>,
) -> Option<Id> {
    let found = kinds.iter().find_map(|k| keys.get(k)?.get(key)).copied();
    if found.is_none() {
        let words: Vec<&str> = kinds.iter().map(|k| k.word()).collect();
        let says = format!("`{word}` names the {} `{key}`, which is not there", words.join(" or "));
        let known = kinds.iter().filter_map(|k| keys.get(k)).flat_map(BTreeMap::keys).map(String::as_str);
        problems.push(Diag::error("reference-unknown", says).at(entry.place(inner(at))).did_you_mean(key, known));
    }
    found
}

fn described(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("the text `{text}`"),
        DeValue::Integer(n) => format!("the number {n}"),
        DeValue::Float(n) => format!("the number {n}"),
        DeValue::Boolean(flag) => format!("`{flag}`"),
        DeValue::Datetime(time) => format!("the date {time}"),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}
