//! Edits of ideas in a study text: as lines in the words of `tare edit`, or sealed, with the paths of records in place of identifiers.

use super::identity::id_of;
use super::read::Entry;
use crate::idea::{seal, sealed as sealed_text};
use std::collections::BTreeMap;
use std::ops::Range;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Change, Document, DocumentKind, Edit, Field, FieldValue, Id, Kind};
use toml::de::DeValue;

/// Letters of an identifier.
const ID: usize = 32;

/// A text with identifiers of records replaced by their paths: `"0123..."` becomes `"<item.cover>"`.
pub(super) fn with_paths(text: &str, paths: &BTreeMap<Id, String>) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find('"') {
        let (before, behind) = rest.split_at(at + 1);
        out.push_str(before);
        rest = behind;
        let path = behind.get(..ID).and_then(crate::id_of_text).and_then(|id| paths.get(&id));
        if let Some(path) = path.filter(|_| behind[ID..].starts_with('"')) {
            out.push('<');
            out.push_str(path);
            out.push('>');
            rest = &behind[ID..];
        }
    }
    out.push_str(rest);
    out
}

/// The way back: paths in angles become the identifiers that records of the set have.
pub(super) fn with_ids(text: &str, set: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find("\"<") {
        let (before, behind) = rest.split_at(at + 1);
        out.push_str(before);
        let Some(end) = behind.find(">\"") else {
            rest = behind;
            break;
        };
        out.push_str(&id_of(set, &behind[1..end]).to_string());
        rest = &behind[end + 1..];
    }
    out.push_str(rest);
    out
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
        let edits = match stated.get_ref() {
            DeValue::String(text) => match sealed_text::from_text(&with_ids(text, set)) {
                Ok(edits) => again(&document, edits),
                Err(problem) => {
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
                sealed(&document, library, &lines, entry, problems)
            }
            _ => {
                let diag = Diag::error("field-type", "`edits` is a list of edits in quotes, such as [\"remove J7\"]");
                problems.push(diag.at(entry.place(stated.span())));
                continue;
            }
        };
        let to = Some(FieldValue::Text(sealed_text::to_text(&edits)));
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

    #[test]
    fn paths_and_identifiers_change_places() {
        let (a, b) = (id_of("set", "item.cover"), id_of("set", "item.cover/value.mass/1"));
        let paths = BTreeMap::from([(a, "item.cover".to_owned()), (b, "item.cover/value.mass/1".to_owned())]);
        let text = format!("[{{\"set\":{{\"id\":\"{b}\",\"parent\":\"{a}\",\"to\":\"<x\"}}}}, \"{}\"]", "0".repeat(32));
        let shown = with_paths(&text, &paths);
        assert!(shown.contains("\"<item.cover/value.mass/1>\"") && !shown.contains(&a.to_string()), "{shown}");
        assert_eq!(with_ids(&shown, "set"), text);
        assert_ne!(with_ids(&shown, "other"), text);
    }
}
