//! A set of records with its tree, and the three functions that change it.

use crate::references::References;
use crate::schema::FieldType;
use crate::{Change, Conflict, Edit, Field, FieldValue, Id, Kind, Record, SetField};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};

/// What a document is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DocumentKind {
    /// The strip-down of one product.
    Study,
    /// A book of rates.
    Book,
    /// A scenario of its own, shared by studies.
    Scenario,
    /// Calculations and materials of one's own.
    Library,
    /// Instruments with their errors.
    Shelf,
}

/// Deepest tree accepted, counted from the top.
pub(crate) const DEPTH: usize = 64;

/// Anything with its own journal of edits.
#[derive(Clone, Debug)]
pub struct Document {
    /// Its identifier.
    pub id: Id,
    /// What it is.
    pub kind: DocumentKind,
    records: BTreeMap<Id, Record>,
    children: BTreeMap<Option<Id>, Vec<Id>>,
    pub(crate) references: References,
}

impl PartialEq for Document {
    fn eq(&self, other: &Self) -> bool {
        self.id == other.id && self.kind == other.kind && self.records == other.records
    }
}

impl Document {
    /// An empty document.
    pub fn new(id: Id, kind: DocumentKind) -> Self {
        Self { id, kind, records: BTreeMap::new(), children: BTreeMap::new(), references: References::default() }
    }

    /// A document from its records, as a snapshot holds them.
    pub fn from_records(id: Id, kind: DocumentKind, records: Vec<Record>) -> Self {
        let mut children: BTreeMap<Option<Id>, Vec<Id>> = BTreeMap::new();
        let mut references = References::default();
        for record in &records {
            children.entry(record.parent).or_default().push(record.id);
            references.add(record);
        }
        let records: BTreeMap<Id, Record> = records.into_iter().map(|r| (r.id, r)).collect();
        for siblings in children.values_mut() {
            siblings.sort_by(|a, b| records[a].order.cmp(&records[b].order).then(a.cmp(b)));
        }
        Self { id, kind, records, children, references }
    }

    /// A record.
    pub fn get(&self, id: Id) -> Option<&Record> {
        self.records.get(&id)
    }

    /// All records by identifier.
    pub fn records(&self) -> impl ExactSizeIterator<Item = &Record> {
        self.records.values()
    }

    /// The records under a parent (or at the top), in order.
    pub fn children(&self, parent: Option<Id>) -> impl DoubleEndedIterator<Item = &Record> {
        self.children.get(&parent).into_iter().flatten().map(|id| &self.records[id])
    }

    /// The records of a kind under a parent, in order.
    pub fn of_kind(&self, parent: Option<Id>, kind: Kind) -> impl DoubleEndedIterator<Item = &Record> {
        self.children(parent).filter(move |r| r.kind == kind)
    }

    /// An order key behind the last sibling.
    pub fn last_order(&self, parent: Option<Id>) -> String {
        match self.children.get(&parent).and_then(|c| c.last()) {
            Some(last) => crate::order_between(Some(&self.records[last].order), None),
            None => crate::first_order(),
        }
    }

    /// Turns intent into an edit that fits the document as it is now; all problems at once.
    pub fn seal(&self, change: &Change) -> Result<Edit, Vec<Diag>> {
        match change {
            Change::Set { id, field, to } => {
                let Some(record) = self.get(*id) else { return Err(vec![gone(*id)]) };
                let problems = self.field_problems(record, *field, to.as_ref(), &BTreeSet::new());
                if !problems.is_empty() {
                    return Err(problems);
                }
                Ok(Edit::Set(SetField { id: *id, field: *field, from: record.fields.get(*field).cloned(), to: to.clone() }))
            }
            Change::Add { record } => {
                let problems = self.add_problems(record);
                if problems.is_empty() {
                    Ok(Edit::Add { records: vec![record.clone()], references: Vec::new() })
                } else {
                    Err(problems)
                }
            }
            Change::Remove { id } => {
                if self.get(*id).is_none() {
                    return Err(vec![gone(*id)]);
                }
                let records: Vec<Record> = self.subtree(*id).into_iter().map(|id| self.records[&id].clone()).collect();
                let going: BTreeSet<Id> = records.iter().map(|r| r.id).collect();
                let references = self.references_to(&going);
                let needed: Vec<&Record> =
                    references.iter().filter(|set| self.empties(set)).filter_map(|set| self.get(set.id)).collect();
                match needed.as_slice() {
                    [] => Ok(Edit::Remove { references, records }),
                    _ => Err(vec![self.needed_problem(&records[0], &needed)]),
                }
            }
            Change::Move { id, parent, order } => {
                let Some(record) = self.get(*id) else { return Err(vec![gone(*id)]) };
                let problems = self.place_problems(record, *parent);
                if !problems.is_empty() {
                    return Err(problems);
                }
                Ok(Edit::Move { id: *id, from: (record.parent, record.order.clone()), to: (*parent, order.clone()) })
            }
        }
    }

    /// Seals and applies changes one after the other; on any problem the document is as before and all problems are given.
    pub fn change_all(&mut self, changes: &[Change]) -> Result<Vec<Edit>, Vec<Diag>> {
        let mut edits = Vec::with_capacity(changes.len());
        let mut problems = Vec::new();
        for change in changes {
            match self.seal(change) {
                Ok(edit) => match self.apply(&edit) {
                    Ok(()) => edits.push(edit),
                    Err(conflict) => problems.push(Diag::error("conflict", conflict.to_string())),
                },
                Err(found) => problems.extend(found),
            }
        }
        if problems.is_empty() {
            return Ok(edits);
        }
        for edit in edits.iter().rev() {
            // An edit that was just applied fits backwards; if not, this is a bug of `apply`.
            let undone = self.replay(&edit.invert());
            debug_assert!(undone.is_ok(), "bug: an applied edit does not invert");
        }
        Err(problems)
    }

    /// Carries an edit out, or leaves everything as it is and says what stands against it: content that has changed since, and
    /// what would no longer hold afterwards (a reference to nothing, a required field left empty, a tree too deep).
    pub fn apply(&mut self, edit: &Edit) -> Result<(), Conflict> {
        self.holds(edit)?;
        self.replay(edit)
    }

    /// Carries out an edit that was accepted earlier, as a journal holds it. What was accepted is a fact: it must fit, but is not
    /// judged again by rules that may be younger than it.
    pub fn replay(&mut self, edit: &Edit) -> Result<(), Conflict> {
        match edit {
            Edit::Set(set) => {
                self.fits(set)?;
                self.write(set);
            }
            Edit::Add { records, references } => {
                let coming: BTreeSet<Id> = records.iter().map(|r| r.id).collect();
                for record in records {
                    if self.records.contains_key(&record.id) {
                        return Err(Conflict::Exists(record.id));
                    }
                    if record.parent.is_some_and(|p| !self.records.contains_key(&p) && !coming.contains(&p)) {
                        return Err(Conflict::Parent(record.id));
                    }
                }
                for set in references {
                    self.fits(set)?;
                }
                for record in records {
                    self.references.add(record);
                    self.records.insert(record.id, record.clone());
                    self.attach(record.id);
                }
                references.iter().for_each(|set| self.write(set));
            }
            Edit::Remove { records, references } => {
                for set in references {
                    self.fits(set)?;
                }
                let going: BTreeSet<Id> = records.iter().map(|r| r.id).collect();
                for record in records {
                    match self.records.get(&record.id) {
                        None => return Err(Conflict::Gone(record.id)),
                        Some(now) if now != record => return Err(Conflict::Changed(record.id)),
                        Some(_) => {}
                    }
                    if let Some(new) = self.children(Some(record.id)).find(|c| !going.contains(&c.id)) {
                        return Err(Conflict::Changed(new.id));
                    }
                }
                references.iter().for_each(|set| self.write(set));
                for record in records.iter().rev() {
                    self.detach(record.id);
                    self.references.remove(record);
                    self.records.remove(&record.id);
                }
            }
            Edit::Move { id, from, to } => {
                let Some(record) = self.records.get(id) else { return Err(Conflict::Gone(*id)) };
                if record.parent != from.0 || record.order != from.1 {
                    return Err(Conflict::Changed(*id));
                }
                if to.0.is_some_and(|p| !self.records.contains_key(&p) || self.inside(p, *id)) {
                    return Err(Conflict::Parent(*id));
                }
                self.detach(*id);
                if let Some(record) = self.records.get_mut(id) {
                    (record.parent, record.order) = to.clone();
                }
                self.attach(*id);
            }
        }
        Ok(())
    }

    /// A record and all that stands under it, parents first.
    pub fn subtree(&self, id: Id) -> Vec<Id> {
        let mut found = vec![id];
        let mut at = 0;
        while at < found.len() {
            found.extend(self.children.get(&Some(found[at])).into_iter().flatten());
            at += 1;
        }
        found
    }

    /// A record and all it stands under, itself first.
    pub fn ancestors(&self, id: Id) -> impl Iterator<Item = Id> {
        std::iter::successors(Some(id), |id| self.get(*id).and_then(|r| r.parent)).take(DEPTH * 2)
    }

    fn fits(&self, set: &SetField) -> Result<(), Conflict> {
        let Some(record) = self.records.get(&set.id) else { return Err(Conflict::Gone(set.id)) };
        let found = record.fields.get(set.field);
        if found == set.from.as_ref() {
            return Ok(());
        }
        Err(Conflict::Field {
            id: set.id,
            field: set.field,
            expected: set.from.clone(),
            found: found.cloned(),
            wanted: set.to.clone(),
        })
    }

    fn write(&mut self, set: &SetField) {
        if let Some(record) = self.records.get_mut(&set.id) {
            let was = record.fields.set(set.field, set.to.clone());
            self.references.change(was.as_ref(), set.to.as_ref());
        }
    }

    fn attach(&mut self, id: Id) {
        let record = &self.records[&id];
        let (parent, key) = (record.parent, (record.order.clone(), id));
        let siblings = self.children.entry(parent).or_default();
        let at = siblings.partition_point(|s| (self.records[s].order.as_str(), *s) < (key.0.as_str(), key.1));
        siblings.insert(at, id);
    }

    fn detach(&mut self, id: Id) {
        let parent = self.records[&id].parent;
        if let Some(siblings) = self.children.get_mut(&parent) {
            siblings.retain(|s| *s != id);
            if siblings.is_empty() {
                self.children.remove(&parent);
            }
        }
    }

    pub(crate) fn references_to(&self, going: &BTreeSet<Id>) -> Vec<SetField> {
        let mut found = Vec::new();
        if !going.iter().any(|id| self.references.any_to(*id)) {
            return found;
        }
        for record in self.records.values().filter(|r| !going.contains(&r.id)) {
            for (field, value) in record.fields.iter() {
                let to = match value {
                    FieldValue::Ref(id) if going.contains(id) => None,
                    FieldValue::Refs(ids) if ids.iter().any(|id| going.contains(id)) => {
                        Some(FieldValue::Refs(ids.iter().copied().filter(|id| !going.contains(id)).collect()))
                    }
                    _ => continue,
                };
                found.push(SetField { id: record.id, field, from: Some(value.clone()), to });
            }
        }
        found
    }

    fn add_problems(&self, record: &Record) -> Vec<Diag> {
        if self.records.contains_key(&record.id) {
            return vec![Diag::error("exists", format!("a record with the identifier {} is there already", record.id))];
        }
        let mut problems = self.place_problems(record, record.parent);
        let own = BTreeSet::from([record.id]);
        for (field, value) in record.fields.iter() {
            problems.extend(self.field_problems(record, field, Some(value), &own));
        }
        for (field, _, required) in record.kind.schema().fields {
            if *required && record.fields.get(*field).is_none() {
                problems.push(Diag::error("field-missing", format!("a {} needs its {field}", record.kind)).at(place(record)));
            }
        }
        problems
    }

    fn place_problems(&self, record: &Record, parent: Option<Id>) -> Vec<Diag> {
        let allowed = record.kind.schema().parents;
        let Some(parent) = parent else {
            let top = allowed.is_empty() || record.kind == Kind::Part;
            let says = || format!("a {} stands under a {}, found none", record.kind, words(allowed));
            return if top { Vec::new() } else { vec![Diag::error("parent-missing", says()).at(place(record))] };
        };
        let Some(above) = self.get(parent) else { return vec![gone(parent)] };
        let mut problems = Vec::new();
        if !allowed.contains(&above.kind) {
            let expected = if allowed.is_empty() { "at the top".to_owned() } else { format!("under a {}", words(allowed)) };
            problems.push(
                Diag::error("parent-kind", format!("a {} stands {expected}, found a {}", record.kind, above.kind))
                    .at(place(record)),
            );
        }
        if self.inside(parent, record.id) {
            problems.push(
                Diag::error("part-in-itself", format!("{} would stand inside itself", title(record)))
                    .at(place(record))
                    .hint("choose a parent outside it"),
            );
        } else if self.ancestors(parent).count() + self.height(record.id) > DEPTH {
            problems.push(
                Diag::error("too-deep", format!("the tree would be deeper than {DEPTH} levels"))
                    .at(place(record))
                    .hint("join levels that hold a single part"),
            );
        }
        problems
    }

    fn field_problems(&self, record: &Record, field: Field, value: Option<&FieldValue>, coming: &BTreeSet<Id>) -> Vec<Diag> {
        let schema = record.kind.schema();
        let problem = |code, says: String| vec![Diag::error(code, says).at(place(record))];
        let Some(kind) = schema.field(field) else {
            let known: Vec<&str> = schema.fields.iter().map(|(f, _, _)| f.word()).collect();
            let diag = Diag::error("field-unknown", format!("a {} has no {field}", record.kind)).at(place(record));
            return vec![diag.did_you_mean(field.word(), known.iter().copied())];
        };
        let Some(value) = value else {
            return if schema.requires(field) {
                problem("field-missing", format!("a {} needs its {field}", record.kind))
            } else {
                Vec::new()
            };
        };
        match (kind, value) {
            (FieldType::Text, FieldValue::Text(_)) | (FieldType::Flag, FieldValue::Flag(_)) => Vec::new(),
            (FieldType::Word(words), FieldValue::Text(text)) if words.contains(&text.as_str()) => Vec::new(),
            (FieldType::Word(words), FieldValue::Text(text)) => {
                let diag = Diag::error(
                    "word-unknown",
                    format!("the {field} of a {} is one of {}, found `{text}`", record.kind, words.join(", ")),
                );
                vec![diag.at(place(record)).did_you_mean(text, words.iter().copied())]
            }
            (FieldType::Count, FieldValue::Number(n)) if n.is_finite() && *n >= 0.0 && *n <= 1e12 => Vec::new(),
            (FieldType::Count, FieldValue::Number(n)) => {
                problem("count-range", format!("the {field} of {} is {n}, expected 0 to 1e12", title(record)))
            }
            (FieldType::Ref(kinds), FieldValue::Ref(id)) => self.ref_problems(record, field, kinds, &[*id], coming),
            (FieldType::Refs(kinds), FieldValue::Refs(ids)) => self.ref_problems(record, field, kinds, ids, coming),
            (expected, _) => {
                let expected = match expected {
                    FieldType::Text => "text",
                    FieldType::Word(_) => "a word",
                    FieldType::Count => "a number",
                    FieldType::Flag => "yes or no",
                    FieldType::Ref(_) => "one record",
                    FieldType::Refs(_) => "a list of records",
                };
                problem("field-type", format!("the {field} of a {} is {expected}", record.kind))
            }
        }
    }

    fn ref_problems(&self, record: &Record, field: Field, kinds: &[Kind], ids: &[Id], coming: &BTreeSet<Id>) -> Vec<Diag> {
        let mut problems = Vec::new();
        for id in ids.iter().filter(|id| !coming.contains(id)) {
            match self.get(*id) {
                None => problems.push(
                    Diag::error(
                        "reference-gone",
                        format!("the {field} of {} refers to record {id}, which is not there", title(record)),
                    )
                    .at(place(record)),
                ),
                Some(target) if !kinds.contains(&target.kind) => {
                    let says =
                        format!("the {field} of {} refers to a {}, expected a {}", title(record), target.kind, words(kinds));
                    problems.push(Diag::error("reference-kind", says).at(place(record)));
                }
                Some(_) => {}
            }
        }
        problems
    }
}

fn gone(id: Id) -> Diag {
    Diag::error("gone", format!("there is no record {id}"))
}

fn words(kinds: &[Kind]) -> String {
    kinds.iter().map(|k| k.word()).collect::<Vec<_>>().join(" or a ")
}

pub(crate) fn title(record: &Record) -> String {
    let name =
        record.text(Field::Label).or(record.text(Field::Name)).or(record.text(Field::Quantity)).or(record.text(Field::Key));
    name.map_or_else(|| format!("a {}", record.kind), |n| format!("{} {n}", record.kind))
}

pub(crate) fn place(record: &Record) -> Place {
    Place::address(title(record))
}
