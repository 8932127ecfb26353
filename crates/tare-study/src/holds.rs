//! Holds and readings that had to come before a removal: what is recorded out of order is said.
//!
//! Nothing here judges whether work may go on: local codes and qualified people decide.

use std::collections::BTreeSet;
use tare_diag::{Diag, Place};
use tare_library::Library;
use tare_model::{Document, Field, Id, Kind, Record};

/// Removals that are recorded behind an open hold, before the hold was recorded, or without a reading that was due before them.
///
/// A removal is recorded once it states when it was done or how long it took; before that it is planned.
pub fn out_of_order(study: &Document, library: &Library) -> Vec<Diag> {
    let mut found = Vec::new();
    let holds: Vec<&Record> = study.of_kind(None, Kind::Hold).collect();
    for removal in study.of_kind(None, Kind::Removal).filter(|r| recorded(study, r)) {
        found.extend(
            holds.iter().filter(|h| h.all_refers(Field::Removals).contains(&removal.id)).filter_map(|h| behind(removal, h)),
        );
        found.extend(missing_readings(study, library, removal));
    }
    found
}

fn recorded(study: &Document, removal: &Record) -> bool {
    let timed = || study.of_kind(Some(removal.id), Kind::Value).any(|v| v.text(Field::Quantity) == Some("duration"));
    removal.text(Field::When).is_some() || timed()
}

fn name(record: &Record) -> &str {
    record.text(Field::Name).unwrap_or("?")
}

fn at(removal: &Record, field: &str) -> Place {
    Place::address(format!("removal {}/{field}", name(removal)))
}

/// What is wrong between a removal and a hold that it waits behind.
fn behind(removal: &Record, hold: &Record) -> Option<Diag> {
    let who = hold.text(Field::Who);
    let hint = "stop and ask who is responsible; a named, qualified person records the hold, local codes and those people decide";
    if hold.text(Field::State) != Some("recorded") || who.is_none() {
        let state = if hold.text(Field::State) == Some("recorded") { "names nobody who recorded it" } else { "is open" };
        let says = format!("this removal is recorded, and the hold {} before it {state}", name(hold));
        return Some(Diag::error("removal-before-hold", says).at(at(removal, "when")).hint(hint));
    }
    let (held, removed) = (hold.text(Field::When)?, removal.text(Field::When)?);
    is_after(held, removed).then(|| {
        let says = format!("this removal was done {removed}, before the hold {} was recorded {held}", name(hold));
        Diag::error("removal-before-hold", says).at(at(removal, "when")).hint(hint)
    })
}

/// Whether one date (and time, `2025-03-04 10:20`) is later than another, as far as both are written.
fn is_after(one: &str, other: &str) -> bool {
    let dated = |text: &str| {
        let bytes = text.as_bytes();
        bytes.len() >= 10
            && bytes.is_ascii()
            && bytes[..10].iter().enumerate().all(|(i, b)| if matches!(i, 4 | 7) { *b == b'-' } else { b.is_ascii_digit() })
    };
    if !dated(one) || !dated(other) {
        return false;
    }
    let length = one.len().min(other.len());
    one[..length].replace('T', " ") > other[..length].replace('T', " ")
}

/// Entries of `due` that name a quantity and nothing else are readings of what is removed: of its parts, their items or its joints, or
/// on the removal itself. Other entries are words for people. That a reading is there is checked, not when it was taken: a part is
/// weighed once it is off.
fn missing_readings(study: &Document, library: &Library, removal: &Record) -> Vec<Diag> {
    let mut subjects: BTreeSet<Id> = [removal.id].into();
    for part in removal.all_refers(Field::Parts) {
        subjects.insert(*part);
        subjects.extend(study.get(*part).and_then(|p| p.refers(Field::Item)));
    }
    subjects.extend(removal.all_refers(Field::Joints));
    let mut found = Vec::new();
    for due in removal.text(Field::Due).unwrap_or_default().split([';', ',']).map(str::trim) {
        let quantity = due.to_lowercase().replace(' ', "_");
        if library.quantities().all(|q| q.name != quantity) {
            continue;
        }
        let read = subjects
            .iter()
            .flat_map(|s| study.of_kind(Some(*s), Kind::Value))
            .any(|v| v.text(Field::Quantity) == Some(&quantity) && v.text(Field::Evidence) == Some("measured"));
        if !read {
            let says = format!("this removal is recorded without the reading that was due before it: {due}");
            let hint =
                format!("record the {due} of what was removed, or say in `says` why it was not read and take it out of `due`");
            found.push(Diag::error("reading-due", says).at(at(removal, "due")).hint(hint));
        }
    }
    found
}
