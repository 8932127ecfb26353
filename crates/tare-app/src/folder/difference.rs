//! The difference of two documents as the changes that make one of the other.

use std::collections::{BTreeSet, HashMap, HashSet};
use tare_model::{Change, Document, Field, FieldValue, Id, Record};

/// What turns `from` into `to`, in an order that can be applied: records that come, what moves, fields that differ, records that go.
pub fn difference(from: &Document, to: &Document) -> Vec<Change> {
    let mut coming = Coming::new(from, to);
    let order = super::layout::sequence(to);
    for record in &order {
        coming.place(record.id);
    }
    let (mut changes, later) = coming.changes();
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
    changes.extend(going(from, to));
    changes
}

fn fields(was: &Record, is: &Record) -> Vec<Change> {
    let all: BTreeSet<Field> = was.fields.iter().chain(is.fields.iter()).map(|(field, _)| field).collect();
    let differ = all.into_iter().filter(|field| was.fields.get(*field) != is.fields.get(*field));
    differ.map(|field| Change::Set { id: is.id, field, to: is.fields.get(field).cloned() }).collect()
}

/// The records that go, from the top down as far as that works: what stands under a record goes with it. Where something that goes could not
/// stand without what would go before it, it goes first and alone.
fn going(from: &Document, to: &Document) -> Vec<Change> {
    let gone = |id: Id| to.get(id).is_none();
    // the order in which they could come, backwards: each behind what stands under it or cannot stand without it
    let mut coming = Coming::new(to, from);
    for record in super::layout::sequence(from).into_iter().filter(|record| gone(record.id)) {
        coming.place(record.id);
    }
    let order: Vec<Id> = coming.order.into_iter().rev().collect();
    let at: HashMap<Id, usize> = order.iter().enumerate().map(|(at, id)| (*id, at)).collect();
    let above = |id: Id| from.get(id).and_then(|record| record.parent).filter(|parent| gone(*parent));
    let mut alone: HashSet<Id> = order.iter().copied().filter(|id| above(*id).is_none()).collect();
    loop {
        // when each record goes: with the nearest above it that goes by itself; those above come later in the order
        let mut when: HashMap<Id, usize> = HashMap::with_capacity(order.len());
        for id in order.iter().rev() {
            let with = above(*id).filter(|_| !alone.contains(id)).and_then(|parent| when.get(&parent).copied());
            when.insert(*id, with.unwrap_or(at[id]));
        }
        let too_late = |id: &&Id| {
            let required = from.get(**id).map(|record| required(record).collect::<Vec<Id>>()).unwrap_or_default();
            required.iter().any(|target| when.get(target).is_some_and(|target| *target < when[*id]))
        };
        let first: Vec<Id> = order.iter().filter(|id| !alone.contains(id)).filter(too_late).copied().collect();
        if first.is_empty() {
            break;
        }
        alone.extend(first);
    }
    order.into_iter().filter(|id| alone.contains(id)).map(|id| Change::Remove { id }).collect()
}

/// What a record cannot stand without, beside what it stands under.
fn required(record: &Record) -> impl Iterator<Item = Id> + '_ {
    let schema = record.kind.schema();
    record.fields.iter().filter(move |(field, _)| schema.requires(*field)).flat_map(|(_, value)| targets(value)).copied()
}

/// The order in which new records come: each behind what it stands under and cannot stand without, and where that goes behind everything else
/// it refers to.
struct Coming<'a> {
    from: &'a Document,
    to: &'a Document,
    met: HashSet<Id>,
    placed: HashSet<Id>,
    order: Vec<Id>,
}

impl<'a> Coming<'a> {
    fn new(from: &'a Document, to: &'a Document) -> Self {
        Self { from, to, met: HashSet::new(), placed: HashSet::new(), order: Vec::new() }
    }

    /// Puts a new record into the order.
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
                    if self.is_new(next) && self.is_free(next) {
                        self.met.insert(next);
                        open.push((next, self.needs(next)));
                    }
                }
                None => {
                    self.placed.insert(id);
                    self.order.push(id);
                    open.pop();
                }
            }
        }
    }

    fn is_new(&self, id: Id) -> bool {
        self.from.get(id).is_none() && self.to.get(id).is_some()
    }

    /// Whether a record is not met yet and needs nothing that still waits: else it would come before what it cannot stand without.
    fn is_free(&self, id: Id) -> bool {
        let (mut open, mut seen) = (vec![id], HashSet::new());
        while let Some(id) = open.pop() {
            if !self.is_new(id) || self.placed.contains(&id) || !seen.insert(id) {
                continue;
            }
            if self.met.contains(&id) {
                return false;
            }
            let Some(record) = self.to.get(id) else { continue };
            open.extend(record.parent.into_iter().chain(required(record)));
        }
        !self.met.contains(&id)
    }

    /// What a record stands under (looked at first, so last in the list), what it cannot stand without, what else it refers to.
    fn needs(&self, id: Id) -> Vec<Id> {
        let Some(record) = self.to.get(id) else { return Vec::new() };
        let mut needs: Vec<Id> = record.fields.iter().flat_map(|(_, value)| targets(value)).copied().collect();
        needs.extend(required(record).chain(record.parent));
        needs
    }

    /// The records as changes, and by record the references that close a circle, which are set once everything is there.
    fn changes(self) -> (Vec<Change>, HashMap<Id, Vec<Change>>) {
        let (mut changes, mut later, mut added) = (Vec::new(), HashMap::<Id, Vec<Change>>::new(), HashSet::new());
        for id in &self.order {
            let Some(mut record) = self.to.get(*id).cloned() else { continue };
            let waits = |target: &Id| target != id && self.is_new(*target) && !added.contains(target);
            let circular = record.fields.iter().filter(|(_, value)| targets(value).iter().any(waits)).map(|(field, _)| field);
            for field in circular.collect::<Vec<Field>>() {
                if let Some(value) = record.fields.set(field, None) {
                    later.entry(*id).or_default().push(Change::Set { id: *id, field, to: Some(value) });
                }
            }
            added.insert(*id);
            changes.push(Change::Add { record });
        }
        (changes, later)
    }
}

fn targets(value: &FieldValue) -> &[Id] {
    match value {
        FieldValue::Ref(id) => std::slice::from_ref(id),
        FieldValue::Refs(ids) => ids,
        _ => &[],
    }
}
