//! The next revision of a list: only what is new, gone or changed.

use super::build::{self, Building, Built};
use super::remember::Remembered;
use tare_diag::Diag;
use tare_exchange::{PartRow, Proposal, Revision};
use tare_model::{Change, Document, Field, FieldValue, Id, Kind, Record};

/// The changes that bring the study from the last import to this one. What somebody changed by hand meanwhile stays where the list did not change.
pub(super) fn changes(document: &Document, proposal: &Proposal, before: &Remembered, difference: &Revision) -> Result<Built, Vec<Diag>> {
    let mut building = Building::new(document, proposal);
    let new: Vec<usize> = difference.new.clone();
    // Rows that stayed keep their parts; they are matched in the same order as the comparison did.
    matched(&mut building, proposal, before, difference);
    let top = building.top(None).map_err(|d| vec![d])?;
    for change in &difference.changed {
        let part = before.rows[change.old].part;
        let fields: Vec<&str> = change.fields.iter().map(|(f, _, _)| f.as_str()).collect();
        for change in row_changes(document, part, &proposal.rows[change.row], &fields) {
            building.push(change);
        }
    }
    building.rows(&new, top);
    let mut going: Vec<Id> = difference.gone.iter().map(|r| before.rows[*r].part).collect();
    // A part that goes with the one above it is not removed twice.
    going.retain({
        let all = going.clone();
        move |id| !document.ancestors(*id).skip(1).any(|a| all.contains(&a))
    });
    let kept: Vec<Id> = building.parts.iter().flatten().copied().collect();
    for id in going {
        let holds_kept = document.subtree(id).iter().skip(1).any(|below| kept.contains(below));
        if holds_kept {
            // The list dropped the assembly but kept what is in it: its parts move up.
            let parent = document.get(id).and_then(|r| r.parent);
            let inside: Vec<Id> = document.of_kind(Some(id), Kind::Part).map(|r| r.id).collect();
            let mut order = document.last_order(parent);
            for inner in inside {
                building.push(Change::Move { id: inner, parent, order: order.clone() });
                order = tare_model::order_between(Some(&order), None);
            }
        }
        building.push(Change::Remove { id });
    }
    building.finish()
}

/// Gives every row that was there before its part.
fn matched(building: &mut Building<'_>, proposal: &Proposal, before: &Remembered, difference: &Revision) {
    let mut free: Vec<bool> = vec![true; before.rows.len()];
    for change in &difference.changed {
        building.parts[change.row] = Some(before.rows[change.old].part);
        free[change.old] = false;
    }
    for gone in &difference.gone {
        free[*gone] = false;
    }
    let keys = proposal.row_keys();
    for (row, key) in keys.iter().enumerate() {
        if building.parts[row].is_some() || difference.new.contains(&row) {
            continue;
        }
        if let Some(old) = (0..before.rows.len()).find(|o| free[*o] && before.rows[*o].key == *key) {
            building.parts[row] = Some(before.rows[old].part);
            free[old] = false;
        }
    }
}

/// The changes of one row whose fields differ.
fn row_changes(document: &Document, part: Id, row: &PartRow, fields: &[&str]) -> Vec<Change> {
    let mut changes = Vec::new();
    let Some(item) = document.get(part).and_then(|p| p.refers(Field::Item)) else { return changes };
    let mut set = |id: Id, field: Field, to: Option<FieldValue>| {
        let now = document.get(id).and_then(|r| r.fields.get(field));
        if now != to.as_ref() {
            changes.push(Change::Set { id, field, to });
        }
    };
    let text = |t: &str| Some(FieldValue::Text(t.trim().to_owned()));
    let count = row.quantity.value.filter(|v| (0.0..=1e12).contains(v));
    if fields.contains(&"quantity")
        && let Some(count) = count
    {
        set(part, Field::Count, Some(FieldValue::Number(count)));
        set(part, Field::Cell, text(&build::cell_of(&row.quantity.origin)));
        set(part, Field::File, text(&row.quantity.origin.file));
        set(part, Field::Raw, Some(FieldValue::Text(row.quantity.origin.raw.clone())));
    }
    if fields.contains(&"name") {
        set(item, Field::Name, text(&build::row_name(row)));
    }
    if fields.contains(&"material") {
        set(item, Field::Material, row.material.as_ref().and_then(|m| text(&m.value)));
    }
    if fields.contains(&"supplier") {
        set(item, Field::Supplier, row.supplier.as_ref().and_then(|s| text(&s.value)));
    }
    let values = build::values(row, item, count.unwrap_or(1.0), None);
    for (field, quantity) in [("mass", "mass"), ("price", "price"), ("line price", "price")] {
        if !fields.contains(&field) {
            continue;
        }
        let Some(new) = values.iter().find(|v| v.text(Field::Quantity) == Some(quantity)) else { continue };
        let imported = |v: &&Record| v.text(Field::Quantity) == Some(quantity) && v.text(Field::File).is_some();
        match document.of_kind(Some(item), Kind::Value).find(imported) {
            Some(old) => {
                for field in [Field::Text, Field::File, Field::Cell, Field::Raw, Field::Number, Field::Says] {
                    let to = new.fields.get(field).cloned();
                    if old.fields.get(field) != to.as_ref() {
                        changes.push(Change::Set { id: old.id, field, to });
                    }
                }
            }
            None => changes.push(Change::Add { record: new.clone().ordered(document.last_order(Some(item))) }),
        }
    }
    changes
}
