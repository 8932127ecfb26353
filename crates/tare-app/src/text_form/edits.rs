//! Edits of ideas in a study text: as lines in the words of `tare edit`, or sealed, with the paths of records in place of identifiers.

use super::identity::id_of;
use super::read::Entry;
use crate::idea::{seal, sealed as sealed_text};
use serde_json::Value;
use std::collections::BTreeMap;
use std::ops::Range;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Change, Document, DocumentKind, Edit, Field, FieldValue, Id, Kind};
use toml::de::DeValue;

/// Letters of a message about a text that does not read: it may hold any part of the text.
const SAID: usize = 160;

/// A text of sealed edits with identifiers of records replaced by their paths: `"id":"0123..."` becomes `"id":"<item.cover>"`. What people wrote
/// stays as it is, whatever it looks like.
pub(super) fn with_paths(text: &str, paths: &BTreeMap<Id, String>) -> String {
    with_each(text, &|id| crate::id_of_text(id).and_then(|id| paths.get(&id)).map(|path| format!("<{path}>")))
}

/// The way back: paths in angles become the identifiers that records of the set have.
pub(super) fn with_ids(text: &str, set: &str) -> String {
    with_each(text, &|path| Some(id_of(set, path.strip_prefix('<')?.strip_suffix('>')?).to_string()))
}

/// What an identifier, or a path in its place, is replaced by.
type Other<'o> = &'o dyn Fn(&str) -> Option<String>;

/// A text of sealed edits with its identifiers replaced; one that does not read stays as it is, and is told where it is read.
fn with_each(text: &str, other: Other<'_>) -> String {
    let Ok(mut edits) = serde_json::from_str::<Value>(text) else { return text.to_owned() };
    members(&mut edits).for_each(|edit| in_edit(edit, other));
    edits.to_string()
}

fn members(list: &mut Value) -> impl Iterator<Item = &mut Value> {
    list.as_array_mut().into_iter().flatten()
}

fn in_edit(edit: &mut Value, other: Other<'_>) {
    for (word, edit) in edit.as_object_mut().into_iter().flatten() {
        match word.as_str() {
            "set" => in_set(edit, other),
            "add" | "remove" => {
                edit.get_mut("records").into_iter().flat_map(members).for_each(|record| in_record(record, other));
                let Some(references) = edit.get_mut("references").and_then(Value::as_array_mut) else { continue };
                references.iter_mut().for_each(|set| in_set(set, other));
                // they are gathered by identifier, which another set of files makes otherwise
                references.sort_by_key(Value::to_string);
            }
            "move" => {
                in_id(edit.get_mut("id"), other);
                // each is the parent and the place under it
                in_id(edit.pointer_mut("/from/0"), other);
                in_id(edit.pointer_mut("/to/0"), other);
            }
            _ => {}
        }
    }
}

fn in_set(set: &mut Value, other: Other<'_>) {
    in_id(set.get_mut("id"), other);
    let subject = set.get("field").and_then(Value::as_str) == Some(Field::Subject.word());
    for side in ["from", "to"] {
        set.get_mut(side).into_iter().for_each(|value| in_value(value, subject, other));
    }
}

fn in_record(record: &mut Value, other: Other<'_>) {
    in_id(record.get_mut("id"), other);
    in_id(record.get_mut("parent"), other);
    for (field, value) in record.get_mut("fields").and_then(Value::as_object_mut).into_iter().flatten() {
        in_value(value, field == Field::Subject.word(), other);
    }
}

/// What a field holds. The subject of an idea is an identifier though it is a text.
fn in_value(value: &mut Value, subject: bool, other: Other<'_>) {
    in_id(value.get_mut("ref"), other);
    value.get_mut("refs").into_iter().flat_map(members).for_each(|id| in_id(Some(id), other));
    if subject {
        in_id(value.get_mut("text"), other);
    }
}

fn in_id(id: Option<&mut Value>, other: Other<'_>) {
    if let Some(Value::String(id)) = id
        && let Some(instead) = other(id)
    {
        *id = instead;
    }
}

/// One edit line of an idea and where it stands.
struct Line {
    text: String,
    at: Range<usize>,
}

/// The changes that give ideas their edits, once all other records are there. Problems of lines stand at their place.
pub(super) fn read(
    set: &str,
    kind: DocumentKind,
    entries: &[Entry<'_>],
    changes: &[Change],
    library: &Library,
    problems: &mut Vec<Diag>,
) -> Vec<Change> {
    let ideas: Vec<&Entry<'_>> = entries.iter().filter(|e| e.kind == Kind::Idea && e.table.contains_key("edits")).collect();
    if ideas.is_empty() || tare_diag::any_error(problems) {
        return Vec::new();
    }
    let mut document = Document::new(id_of(set, "document"), kind);
    // what does not hold together is told where the document is made
    if document.change_all(changes).is_err() {
        return Vec::new();
    }
    let mut found = Vec::new();
    for entry in ideas {
        let Some(stated) = entry.table.get("edits") else { continue };
        let text = match stated.get_ref() {
            DeValue::String(text) => match sealed_text::from_text(&with_ids(text, set)) {
                Ok(edits) => sealed_text::to_text(&again(&document, edits)),
                Err(mut problem) => {
                    if let Some((end, _)) = problem.message.char_indices().nth(SAID) {
                        problem.message.truncate(end);
                        problem.message.push_str(" ...)");
                    }
                    problems.push(problem.at(entry.place(stated.span())));
                    continue;
                }
            },
            DeValue::Array(list) => {
                let mut lines = Vec::new();
                for line in list {
                    match line.get_ref() {
                        DeValue::String(text) => lines.push(Line { text: text.to_string(), at: line.span() }),
                        _ => {
                            let diag = Diag::error("field-type", "`edits` lists edits in quotes, such as \"remove J7\"");
                            problems.push(diag.at(entry.place(line.span())));
                        }
                    }
                }
                let edits = sealed(&document, library, &lines, entry, problems);
                with_own_ids(&edits, set, &entry.path())
            }
            _ => {
                let diag = Diag::error("field-type", "`edits` is a list of edits in quotes, such as [\"remove J7\"]");
                problems.push(diag.at(entry.place(stated.span())));
                continue;
            }
        };
        let to = Some(FieldValue::Text(text));
        found.push(Change::Set { id: id_of(set, &entry.path()), field: Field::Edits, to });
    }
    found
}

/// Lines sealed one after the other; the first that does not fit is told at its place.
fn sealed(document: &Document, library: &Library, lines: &[Line], entry: &Entry<'_>, problems: &mut Vec<Diag>) -> Vec<Edit> {
    let mut trial = document.clone();
    let mut edits = Vec::new();
    for line in lines {
        match seal(&trial, library, std::slice::from_ref(&line.text)) {
            Ok(made) => {
                for edit in made {
                    // what was just sealed against it applies
                    let _ = trial.apply(&edit);
                    edits.push(edit);
                }
            }
            Err(found) => {
                problems.extend(found.into_iter().map(|diag| diag.at(entry.place(line.at.clone()))));
                break;
            }
        }
    }
    edits
}

/// Edits as text, in which records they add have identifiers made from the place of the idea: the same text gives the same document.
fn with_own_ids(edits: &[Edit], set: &str, idea: &str) -> String {
    let added = edits.iter().flat_map(|edit| match edit {
        Edit::Add { records, .. } => records.as_slice(),
        _ => &[],
    });
    let own: BTreeMap<Id, Id> =
        added.enumerate().map(|(at, record)| (record.id, id_of(set, &format!("{idea}/added/{}", at + 1)))).collect();
    with_each(&sealed_text::to_text(edits), &|id| Some(own.get(&crate::id_of_text(id)?)?.to_string()))
}

/// Edits that hold whole records are sealed anew: a text does not keep the order keys of records, which such edits are compared by. Fields keep
/// what they were written for, so that an idea whose base has moved stays one.
fn again(document: &Document, edits: Vec<Edit>) -> Vec<Edit> {
    let mut trial = document.clone();
    let mut found = Vec::new();
    for edit in edits {
        let change = match &edit {
            Edit::Remove { records, .. } => records.first().map(|first| Change::Remove { id: first.id }),
            Edit::Move { id, to, .. } => Some(Change::Move { id: *id, parent: to.0, order: to.1.clone() }),
            Edit::Set(_) | Edit::Add { .. } => None,
        };
        let edit = change.and_then(|change| trial.seal(&change).ok()).unwrap_or(edit);
        let _ = trial.apply(&edit);
        found.push(edit);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use tare_model::{Record, SetField};

    /// Each kind of edit, about a cover and its mass, with texts that look like identifiers and paths.
    fn hostile(cover: Id, mass: Id) -> Vec<Edit> {
        let texts = [
            "<item.cover>".to_owned(),
            "<5 mm gap".to_owned(),
            "a \"<item.cover>\" b".to_owned(),
            cover.to_string(),
            "\"<".to_owned(),
        ];
        let text = |at: usize| Some(FieldValue::Text(texts[at].clone()));
        let set = |id, field, from, to| SetField { id, field, from, to };
        let record = Record::new(mass, Kind::Value).under(cover);
        let record = record.with_text(Field::Says, texts[1].as_str()).with_text(Field::Source, texts[3].as_str());
        let lone =
            Record::new(Id(7), Kind::Part).with(Field::Item, FieldValue::Ref(cover)).with_text(Field::Name, texts[0].as_str());
        let refers = set(cover, Field::Parts, Some(FieldValue::Refs(vec![mass, Id(8), cover])), None);
        vec![
            Edit::Set(set(cover, Field::Says, text(0), text(3))),
            Edit::Set(set(mass, Field::Says, text(2), text(4))),
            Edit::Add { records: vec![record.clone(), lone], references: vec![refers.clone()] },
            Edit::Remove { records: vec![record], references: vec![refers] },
            Edit::Move { id: mass, from: (Some(cover), "<item.cover>".to_owned()), to: (None, cover.to_string()) },
        ]
    }

    #[test]
    fn paths_and_identifiers_change_places_and_texts_stay() {
        let (cover, mass) = (id_of("set", "item.cover"), id_of("set", "item.cover/value.mass/1"));
        let paths = BTreeMap::from([(cover, "item.cover".to_owned()), (mass, "item.cover/value.mass/1".to_owned())]);
        let text = sealed_text::to_text(&hostile(cover, mass));
        let shown = with_paths(&text, &paths);
        assert!(!shown.contains(&mass.to_string()) && shown.contains("\"<item.cover/value.mass/1>\""), "{shown}");
        // in texts the identifier stays: two fields said so, twice the record, and the place moved to
        assert_eq!(shown.matches(&cover.to_string()).count(), 4, "{shown}");
        let back = sealed_text::from_text(&with_ids(&shown, "set")).expect("it reads");
        assert_eq!(back, hostile(cover, mass));
        // in another set the records have other identifiers, and the texts are the same
        let (there, its) = (id_of("other", "item.cover"), id_of("other", "item.cover/value.mass/1"));
        let other = sealed_text::from_text(&with_ids(&shown, "other")).expect("it reads");
        let Edit::Set(set) = &other[0] else { panic!("not a set") };
        assert_eq!((set.id, &set.to), (there, &Some(FieldValue::Text(cover.to_string()))));
        let Edit::Move { id, from, to } = &other[4] else { panic!("not a move") };
        assert_eq!((*id, from, to), (its, &(Some(there), "<item.cover>".to_owned()), &(None, cover.to_string())));
    }

    #[test]
    fn what_does_not_read_stays_as_it_is() {
        for text in ["", "[{\"set\"", "3", "[3, null, {\"set\": 4}, {\"move\": {\"from\": \"<x>\"}}]"] {
            let shown = with_ids(&with_paths(text, &BTreeMap::new()), "set");
            assert_eq!(shown.replace(' ', ""), text.replace(' ', ""));
        }
    }
}
