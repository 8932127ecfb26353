//! Sealed edits in words.

use crate::address::Addresses;
use crate::conflict::shown;
use tare_model::{Document, Edit, Field, Kind, Record};

/// What an edit does, in one line: `P12 wall_thickness: 2.0 mm -> 1.6 mm`.
pub(crate) fn described(document: &Document, addresses: &Addresses<'_>, edit: &Edit) -> String {
    match edit {
        Edit::Set(set) => {
            let to = shown(set.to.as_ref(), addresses);
            let from = shown(set.from.as_ref(), addresses);
            match document.get(set.id) {
                Some(value) if value.kind == Kind::Value && set.field == Field::Text => {
                    format!("{}: {} -> {}", addresses.of(set.id), from.trim_matches('`'), to.trim_matches('`'))
                }
                _ => format!("{} {}: {from} -> {to}", addresses.of(set.id), set.field),
            }
        }
        Edit::Add { records, .. } => match records.first() {
            Some(first) => format!("{} added{}", named(first, addresses), with_more(records.len())),
            None => "nothing".to_owned(),
        },
        Edit::Remove { records, .. } => match records.first() {
            Some(first) => format!("{} removed{}", named(first, addresses), with_more(records.len())),
            None => "nothing".to_owned(),
        },
        Edit::Move { id, to, .. } => match to.0 {
            Some(above) => format!("{} moved under {}", addresses.of(*id), addresses.of(above)),
            None => format!("{} moved to the top", addresses.of(*id)),
        },
    }
}

fn with_more(records: usize) -> String {
    match records {
        0 | 1 => String::new(),
        2 => " with what stands under it".to_owned(),
        many => format!(" with {} records under it", many - 1),
    }
}

/// A record as it is called, or by what it says where the document does not hold it (yet, or any more).
fn named(record: &Record, addresses: &Addresses<'_>) -> String {
    let address = addresses.of(record.id);
    let title = record.text(Field::Name).unwrap_or_default();
    if address.starts_with("record ") {
        // what stands under a record that is itself added has no address yet
        let above = record.parent.map(|p| format!("{}/", addresses.of(p))).unwrap_or_default();
        let above = if above.starts_with("record ") { "its ".to_owned() } else { above };
        return match (record.kind, record.text(Field::Quantity), record.text(Field::Text)) {
            (Kind::Value, Some(quantity), Some(text)) => format!("{above}{quantity} {text}"),
            _ => format!("{} {}", record.kind, if title.is_empty() { &above } else { title }),
        };
    }
    match (record.kind, record.text(Field::Text)) {
        (Kind::Value, Some(text)) => format!("{address} {text}"),
        _ if title.is_empty() || address.contains(title) => address,
        _ => format!("{address} ({title})"),
    }
}

/// Whether an edit only changes what is said beside a value (its source, its evidence): part of stating it anew.
pub(crate) fn is_beside(document: &Document, edit: &Edit) -> bool {
    match edit {
        Edit::Set(set) => set.field != Field::Text && document.get(set.id).is_some_and(|record| record.kind == Kind::Value),
        _ => false,
    }
}
