//! The next revision of a list that is in the study: only what differs is changed.

use super::parts::{Maker, count_in_parent, mass_text, price_text, standing, takes};
use super::{Memory, Plan, Request, value_record};
use crate::workspace::Loaded;
use std::collections::BTreeSet;
use tare_diag::Diag;
use tare_exchange::{PartRow, Proposal, compare_revision};
use tare_library::Library;
use tare_model::{Change, Document, Field, FieldValue, Id, Kind};

/// One field of a row: its name, old and new text.
pub type FieldChange = (String, String, String);

/// What a next revision would change.
#[derive(Clone, Debug, Default)]
pub struct RevisionPlan {
    /// The file the earlier import came from.
    pub earlier: String,
    /// Whether it is the same file, byte for byte.
    pub same_file: bool,
    /// Rows that are new, by what identifies them.
    pub new: Vec<String>,
    /// Rows that are gone.
    pub gone: Vec<String>,
    /// Rows that changed: what identifies them, and field, old and new text.
    pub changed: Vec<(String, Vec<FieldChange>)>,
    /// Rows that stayed as they were.
    pub same: usize,
}

pub(super) fn plan(
    library: &Library,
    loaded: &Loaded,
    proposal: Proposal,
    earlier: Memory,
    request: &Request,
) -> Result<Plan, Vec<Diag>> {
    let study = &loaded.document;
    let revision = compare_revision(&earlier.keys, &proposal);
    let keys = proposal.row_keys();
    let mut shown = RevisionPlan {
        earlier: earlier.file.clone(),
        same_file: earlier.sha256 == proposal.sha256,
        same: revision.same,
        ..RevisionPlan::default()
    };
    let standing = standing(&proposal);
    let mut changes = Vec::new();
    let mut parts: Vec<Option<Id>> = vec![None; proposal.rows.len()];
    // A row keeps the part of the old row with the same identity.
    let mut taken = BTreeSet::new();
    for (at, key) in keys.iter().enumerate() {
        let old = earlier.keys.iter().enumerate().position(|(o, k)| k.identity == key.identity && !taken.contains(&o));
        if let Some(old) = old {
            taken.insert(old);
            parts[at] = earlier.parts.get(old).copied().flatten().filter(|id| study.get(*id).is_some());
        }
    }
    for change in &revision.changed {
        shown.changed.push((change.identity.clone(), change.fields.clone()));
        if let Some(part) = parts[change.row] {
            let count = count_in_parent(&proposal, &standing, change.row);
            update(study, &proposal.rows[change.row], count, part, &change.fields, &mut changes);
        }
    }
    let mut maker = Maker::new(library, study);
    let (top, under) = maker.top(&proposal, request.under.as_deref())?;
    for row in &revision.new {
        shown.new.push(keys[*row].identity.clone());
        let of = &proposal.rows[*row];
        if standing[*row] {
            // A new row of a section goes where the other rows of the section stand.
            let beside = || {
                let same =
                    |r: &usize| of.group.is_some() && proposal.rows[*r].group == of.group && proposal.rows[*r].parent.is_none();
                (0..parts.len()).filter(same).find_map(|r| study.get(parts[r]?)?.parent)
            };
            let parent = of.parent.and_then(|p| parts[p]).or_else(beside).unwrap_or(top);
            parts[*row] = Some(maker.row(of, parent, count_in_parent(&proposal, &standing, *row), !takes(of)));
        }
    }
    changes.extend(maker.changes);
    for old in &revision.gone {
        shown.gone.push(earlier.keys[*old].identity.clone());
        if let Some(part) =
            earlier.parts.get(*old).copied().flatten().filter(|id| request.remove_gone && study.get(*id).is_some())
        {
            changes.push(Change::Remove { id: part });
        }
    }
    let memory = Memory { entry: 0, file: proposal.file.clone(), sha256: proposal.sha256.clone(), keys, parts };
    Ok(Plan { changes, revision: Some(shown), under, memory, proposal })
}

/// Changes of one row: count on the part, name on the item, mass and price as values.
fn update(study: &Document, of: &PartRow, count: Option<f64>, part: Id, fields: &[FieldChange], changes: &mut Vec<Change>) {
    let Some(item) = study.get(part).and_then(|p| p.refers(Field::Item)) else { return };
    for (field, _, new) in fields {
        match field.as_str() {
            "quantity" => {
                if let Some(count) = count {
                    changes.push(Change::Set { id: part, field: Field::Count, to: Some(FieldValue::Number(count)) });
                }
            }
            "name" if !new.is_empty() => {
                changes.push(Change::Set { id: item, field: Field::Name, to: Some(FieldValue::Text(new.clone())) })
            }
            "note" => {
                let to = (!new.is_empty()).then(|| FieldValue::Text(new.clone()));
                changes.push(Change::Set { id: part, field: Field::Says, to });
            }
            "supplier" => {
                let to = (!new.is_empty()).then(|| FieldValue::Text(new.clone()));
                changes.push(Change::Set { id: item, field: Field::Supplier, to });
            }
            "mass" => restate(study, item, "mass", mass_text(of), changes),
            "price" | "line price" => restate(study, item, "price", price_text(of), changes),
            // Description, material and the like stand in what the item says; they are shown, not rewritten over a person's words.
            _ => {}
        }
    }
}

/// Replaces the value an earlier import stated; values a person stated stay beside it.
fn restate(study: &Document, item: Id, quantity: &str, new: Option<(String, &tare_exchange::Origin)>, changes: &mut Vec<Change>) {
    let imported = study
        .of_kind(Some(item), Kind::Value)
        .find(|v| v.text(Field::Quantity) == Some(quantity) && v.text(Field::File).is_some());
    match (imported, new) {
        (Some(old), Some((text, origin))) => {
            for (field, to) in [
                (Field::Text, text),
                (Field::File, origin.file.clone()),
                (Field::Cell, super::cell_of(origin)),
                (Field::Raw, origin.raw.clone()),
            ] {
                changes.push(Change::Set { id: old.id, field, to: Some(FieldValue::Text(to)) });
            }
        }
        (None, Some((text, origin))) => {
            changes.push(Change::Add { record: value_record(item, quantity, text, "quoted", origin) })
        }
        (Some(old), None) => changes.push(Change::Remove { id: old.id }),
        (None, None) => {}
    }
}
