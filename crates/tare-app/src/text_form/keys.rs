//! Local keys for records, made from what they are called.

use std::collections::{BTreeMap, BTreeSet};
use tare_model::{Document, Field, Id, Kind, Record};

/// A key for each record that has a table of its own; unique within its kind.
pub(super) fn keys(document: &Document) -> BTreeMap<Id, String> {
    let mut keys = BTreeMap::new();
    let mut taken: BTreeSet<(Kind, String)> = BTreeSet::new();
    // Numbers below the last one given are taken: thousands of equal names are not tried from the beginning each time.
    let mut numbers: BTreeMap<(Kind, String), usize> = BTreeMap::new();
    // In the order of the tree, so that numbers behind equal names do not hang on identifiers.
    let mut open: Vec<&Record> = document.children(None).rev().collect();
    while let Some(record) = open.pop() {
        open.extend(document.children(Some(record.id)).rev());
        if matches!(record.kind, Kind::Value | Kind::Choose | Kind::Rate) {
            continue;
        }
        let wish = slug(&called(document, record));
        let wish = if wish.is_empty() { record.kind.word().to_owned() } else { wish };
        let mut key = wish.clone();
        let number = numbers.entry((record.kind, wish.clone())).or_insert(1);
        while !taken.insert((record.kind, key.clone())) {
            *number += 1;
            key = format!("{wish}_{number}");
        }
        keys.insert(record.id, key);
    }
    keys
}

fn called(document: &Document, record: &Record) -> String {
    if matches!(record.kind, Kind::Study | Kind::Scenario) {
        return if record.kind == Kind::Study { "main".into() } else { "base".into() };
    }
    let item = || record.refers(Field::Item).and_then(|i| document.get(i)).and_then(|i| i.text(Field::Name));
    let text = match record.kind {
        Kind::Part => record.text(Field::Label).or_else(item),
        _ => record.text(Field::Name).or(record.text(Field::Key)).or(record.text(Field::Group)).or_else(item),
    };
    text.unwrap_or_default().to_owned()
}

fn slug(text: &str) -> String {
    let mut slug = String::new();
    for letter in text.chars().take(48) {
        if letter.is_ascii_alphanumeric() {
            slug.push(letter.to_ascii_lowercase());
        } else if !slug.is_empty() && !slug.ends_with('_') {
            slug.push('_');
        }
    }
    slug.trim_end_matches('_').to_owned()
}
