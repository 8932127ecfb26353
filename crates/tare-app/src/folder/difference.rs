//! The difference of two documents as the changes that make one of the other.

use std::collections::{BTreeSet, HashMap, HashSet};
use tare_model::{Change, Document, Field, FieldValue, Id, Record};

/// What turns `from` into `to`, in an order that can be applied: records that come, what moves, fields that differ, records that go.
pub fn difference(from: &Document, to: &Document) -> Vec<Change> {
    let mut coming = Coming { from, to, met: HashSet::new(), added: HashSet::new(), changes: Vec::new(), later: HashMap::new() };
    let order = super::layout::sequence(to);
    for record in &order {
        coming.place(record.id);
    }
    let Coming { mut changes, later, .. } = coming;
    // from the top down: a record then never goes under one that still stands under it
    for record in &order {
        let Some(was) = from.get(record.id) else { continue };
        if (was.parent, &was.order) != (record.parent, &record.order) {
            changes.push(Change::Move { id: record.id, parent: record.parent, order: record.order.clone() });
        }
    }
    for record in &order {
        match from.get(record.id) {
            Some(was) => changes.extend(fields(was, record)),
            None => changes.extend(later.get(&record.id).into_iter().flatten().cloned()),
        }
    }
    let gone = |id: Id| to.get(id).is_none();
    for record in from.records().filter(|record| gone(record.id)) {
        // what stands under a record that goes, goes with it
        if !record.parent.is_some_and(gone) {
            changes.push(Change::Remove { id: record.id });
        }
    }
    changes
}

fn fields(was: &Record, is: &Record) -> Vec<Change> {
    let all: BTreeSet<Field> = was.fields.iter().chain(is.fields.iter()).map(|(field, _)| field).collect();
    let differ = all.into_iter().filter(|field| was.fields.get(*field) != is.fields.get(*field));
    differ.map(|field| Change::Set { id: is.id, field, to: is.fields.get(field).cloned() }).collect()
}

struct Coming<'a> {
    from: &'a Document,
    to: &'a Document,
    /// New records that were met.
    met: HashSet<Id>,
    /// New records that stand among the changes.
    added: HashSet<Id>,
    changes: Vec<Change>,
    /// References that close a circle, set once everything is there.
    later: HashMap<Id, Vec<Change>>,
}

impl Coming<'_> {
    /// Adds a new record behind what it stands under and refers to.
    fn place(&mut self, id: Id) {
        if !self.is_new(id) || !self.met.insert(id) {
            return;
        }
        // each with what it still waits for: long chains need no deep stack
        let mut open: Vec<(Id, Vec<Id>)> = vec![(id, self.needs(id))];
        while let Some((id, needs)) = open.last_mut() {
            let id = *id;
            match needs.pop() {
                Some(next) => {
                    if self.is_new(next) && self.met.insert(next) {
                        open.push((next, self.needs(next)));
                    }
                }
                None => {
                    self.add(id);
                    open.pop();
                }
            }
        }
    }

    fn is_new(&self, id: Id) -> bool {
        self.from.get(id).is_none() && self.to.get(id).is_some()
    }

    /// What a record stands under (looked at first, so last in the list) and what it refers to, required references before others.
    fn needs(&self, id: Id) -> Vec<Id> {
        let Some(record) = self.to.get(id) else { return Vec::new() };
        let schema = record.kind.schema();
        let of = |required: bool| record.fields.iter().filter(move |(field, _)| schema.requires(*field) == required);
        let mut needs: Vec<Id> = of(false).chain(of(true)).flat_map(|(_, value)| targets(value)).copied().collect();
        needs.extend(record.parent);
        needs
    }

    fn add(&mut self, id: Id) {
        let Some(record) = self.to.get(id) else { return };
        let mut record = record.clone();
        let waits = |target: &Id| *target != id && self.is_new(*target) && !self.added.contains(target);
        let circular = record.fields.iter().filter(|(_, value)| targets(value).iter().any(waits)).map(|(field, _)| field);
        for field in circular.collect::<Vec<Field>>() {
            if let Some(value) = record.fields.set(field, None) {
                self.later.entry(id).or_default().push(Change::Set { id, field, to: Some(value) });
            }
        }
        self.added.insert(id);
        self.changes.push(Change::Add { record });
    }
}

fn targets(value: &FieldValue) -> &[Id] {
    match value {
        FieldValue::Ref(id) => std::slice::from_ref(id),
        FieldValue::Refs(ids) => ids,
        _ => &[],
    }
}
