//! What must hold of records once an entry stands, whatever way it came.

use crate::address::Addresses;
use tare_diag::{Diag, Place};
use tare_model::{Document, Edit, Field, Id, Kind, Record};

/// What does not hold of the records that edits touched.
pub(crate) fn after(document: &Document, edits: &[Edit]) -> Vec<Diag> {
    let touched = edits.iter().flat_map(edited).filter_map(|id| document.get(id));
    touched.flat_map(|record| unnamed_hold(record).into_iter().chain(needed(document, record))).fold(
        Vec::new(),
        |mut found, diag| {
            if !found.contains(&diag) {
                found.push(diag);
            }
            found
        },
    )
}

fn edited(edit: &Edit) -> Vec<Id> {
    match edit {
        Edit::Set(set) => vec![set.id],
        Edit::Move { id, .. } => vec![*id],
        Edit::Add { records, .. } => records.iter().map(|r| r.id).collect(),
        Edit::Remove { .. } => Vec::new(),
    }
}

/// A hold is recorded by a named person, or not at all.
fn unnamed_hold(record: &Record) -> Option<Diag> {
    let recorded = record.kind == Kind::Hold && record.text(Field::State) == Some("recorded");
    let named = record.text(Field::Who).is_some_and(|who| !who.trim().is_empty());
    (recorded && !named).then(|| {
        let name = record.text(Field::Name).unwrap_or("?");
        Diag::error("hold-unnamed", format!("the hold {name} is recorded by nobody; a named person records it"))
            .at(Place::address(format!("hold {name}")))
            .hint(format!("say who: `tare edit set \"{name}\" state recorded --who \"J. Doe\" --when 2025-03-06`"))
    })
}

/// Needed parts are a number from 0 to the quantity.
fn needed(document: &Document, record: &Record) -> Option<Diag> {
    let (needed, count) = (record.number(Field::Needed)?, record.number(Field::Count)?);
    (record.kind == Kind::Part && needed > count).then(|| {
        let label = Addresses::new(document).of(record.id);
        Diag::error("needed-many", format!("{needed} of {count} pieces are needed, expected a number from 0 to {count}"))
            .at(Place::address(format!("{label}/needed")))
    })
}
