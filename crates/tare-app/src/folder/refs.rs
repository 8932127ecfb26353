//! The words by which rows refer to one another: a label where there is one, else a name.

use super::layout::has_ref;
use std::collections::{HashMap, HashSet};
use tare_model::{Document, Field, Id, Kind, Record};

/// A word for each record that rows may refer to, unique within its kind; in the order of the rows, so that numbers behind equal names do not
/// hang on identifiers.
pub(super) fn refs(document: &Document, sequence: &[&Record]) -> HashMap<Id, String> {
    let mut refs = HashMap::with_capacity(sequence.len());
    let mut taken: HashSet<(Kind, String)> = HashSet::new();
    let mut numbers: HashMap<(Kind, String), usize> = HashMap::new();
    for record in sequence.iter().filter(|record| has_ref(record.kind)) {
        let wish = wish(document, record);
        let mut word = wish.clone();
        let number = numbers.entry((record.kind, wish.clone())).or_insert(1);
        while !taken.insert((record.kind, word.clone())) {
            *number += 1;
            word = format!("{wish}_{number}");
        }
        refs.insert(record.id, word);
    }
    refs
}

fn wish(document: &Document, record: &Record) -> String {
    let label = record.text(Field::Label).map(plain).filter(|word| !word.is_empty());
    let item = || record.refers(Field::Item).and_then(|id| document.get(id)).and_then(|item| item.text(Field::Name));
    let name = || record.text(Field::Name).or(record.text(Field::Group)).or_else(item).map(|name| plain(&name.to_lowercase()));
    let word = label.or_else(|| name().filter(|word| !word.is_empty())).unwrap_or_else(|| record.kind.word().to_owned());
    // a word that reads as an identifier would mean that
    if crate::id_of_text(&word).is_some() { format!("{}_{word}", record.kind) } else { word }
}

/// Letters and digits of any script, full stops and dashes; everything else is an underline.
fn plain(text: &str) -> String {
    let mut word = String::new();
    for letter in text.chars().take(40) {
        if letter.is_alphanumeric() || (matches!(letter, '.' | '-') && !word.is_empty()) {
            word.push(letter);
        } else if !word.is_empty() && !word.ends_with('_') {
            word.push('_');
        }
    }
    word.truncate(word.trim_end_matches(['_', '.', '-']).len());
    word
}
