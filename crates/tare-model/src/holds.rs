//! What must still hold after an edit: references lead somewhere, required fields are filled, the tree is not too deep.
//!
//! An edit may be older than the document it is carried out on: an undo, an entry recorded behind somebody else's, an idea.

use crate::document::{DEPTH, place, title};
use crate::references::targets;
use crate::{Conflict, Document, Edit, Field, Id, Record, SetField};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::Diag;

/// How many records a message names.
const NAMED: usize = 8;

impl Document {
    /// The records that could not stand without a record and what is under it: a required field of theirs refers to it.
    pub fn needed_by(&self, id: Id) -> Vec<Id> {
        let going: BTreeSet<Id> = self.subtree(id).into_iter().collect();
        self.references_to(&going).into_iter().filter(|set| self.empties(set)).map(|set| set.id).collect()
    }

    /// Whether a reference that is cut leaves a required field with nothing.
    pub(crate) fn empties(&self, set: &SetField) -> bool {
        let nothing = targets(set.to.as_ref()).is_empty() && !targets(set.from.as_ref()).is_empty();
        nothing && self.get(set.id).is_some_and(|r| r.kind.schema().requires(set.field))
    }

    pub(crate) fn needed_problem(&self, going: &Record, needed: &[&Record]) -> Diag {
        let named: Vec<String> = needed.iter().take(NAMED).map(|r| title(r)).collect();
        let more = if needed.len() > NAMED { format!(" and {} more", needed.len() - NAMED) } else { String::new() };
        let says = format!("{} cannot go: {}{more} could not stand without it", title(going), named.join(", "));
        Diag::error("reference-needed", says).at(place(going)).hint("remove those first, or let them refer to another")
    }

    /// Whether a record stands in the tree under another, or is it.
    pub(crate) fn inside(&self, id: Id, above: Id) -> bool {
        self.ancestors(id).any(|a| a == above)
    }

    /// Levels of a record and all that stands under it; one for a record that is alone or not there yet.
    pub(crate) fn height(&self, id: Id) -> usize {
        let (mut level, mut height) = (vec![id], 0);
        // A tree deeper than this is refused anyway; the bound keeps a damaged one from going round for ever.
        while !level.is_empty() && height <= DEPTH {
            height += 1;
            level = level.iter().flat_map(|id| self.children(Some(*id))).map(|r| r.id).collect();
        }
        height
    }

    /// What would no longer hold after an edit.
    pub(crate) fn holds(&self, edit: &Edit) -> Result<(), Conflict> {
        match edit {
            Edit::Set(set) => self.set_holds(set, &BTreeSet::new()),
            Edit::Add { records, references } => {
                let coming: BTreeSet<Id> = records.iter().map(|r| r.id).collect();
                for record in records {
                    for (field, value) in record.fields.iter() {
                        self.targets_there(record.id, field, targets(Some(value)), &coming)?;
                    }
                    let missing =
                        record.kind.schema().fields.iter().find(|(f, _, needed)| *needed && record.fields.get(*f).is_none());
                    if let Some((field, _, _)) = missing {
                        return Err(Conflict::Required { id: record.id, field: *field });
                    }
                }
                references.iter().try_for_each(|set| self.set_holds(set, &coming))?;
                self.added_depth(records)
            }
            Edit::Remove { records, references } => {
                let going: BTreeSet<Id> = records.iter().map(|r| r.id).collect();
                for set in references {
                    self.set_holds(set, &BTreeSet::new())?;
                }
                self.nothing_left_behind(records, references, &going)
            }
            Edit::Move { id, to: (Some(parent), _), .. } => {
                let deep = self.ancestors(*parent).count() + self.height(*id) > DEPTH;
                if deep { Err(Conflict::Parent(*id)) } else { Ok(()) }
            }
            Edit::Move { .. } => Ok(()),
        }
    }

    fn set_holds(&self, set: &SetField, coming: &BTreeSet<Id>) -> Result<(), Conflict> {
        let required = || self.get(set.id).is_some_and(|r| r.kind.schema().requires(set.field));
        if (set.to.is_none() && required()) || self.empties(set) {
            return Err(Conflict::Required { id: set.id, field: set.field });
        }
        self.targets_there(set.id, set.field, targets(set.to.as_ref()), coming)
    }

    fn targets_there(&self, id: Id, field: Field, targets: &[Id], coming: &BTreeSet<Id>) -> Result<(), Conflict> {
        let gone = targets.iter().find(|t| self.get(**t).is_none() && !coming.contains(t));
        gone.map_or(Ok(()), |target| Err(Conflict::Target { id, field, target: *target }))
    }

    /// References that came after the removal was sealed are not in it, so what they refer to cannot go.
    fn nothing_left_behind(&self, records: &[Record], cut: &[SetField], going: &BTreeSet<Id>) -> Result<(), Conflict> {
        let inner = records.iter().flat_map(|r| r.fields.iter()).flat_map(|(_, value)| targets(Some(value)));
        let cut_away = cut.iter().flat_map(|set| {
            let stays = targets(set.to.as_ref());
            targets(set.from.as_ref()).iter().filter(move |id| !stays.contains(id))
        });
        let mut known: BTreeMap<Id, usize> = BTreeMap::new();
        inner.chain(cut_away).for_each(|id| *known.entry(*id).or_default() += 1);
        if going.iter().all(|id| self.references.count_to(*id) <= known.get(id).copied().unwrap_or(0)) {
            return Ok(());
        }
        let cut: BTreeSet<(Id, Field)> = cut.iter().map(|set| (set.id, set.field)).collect();
        let late = self.references_to(going).into_iter().find(|set| !cut.contains(&(set.id, set.field)));
        late.map_or(Ok(()), |set| Err(Conflict::Referred { id: records[0].id, by: set.id, field: set.field }))
    }

    /// A subtree that comes back may find its old place moved down.
    fn added_depth(&self, records: &[Record]) -> Result<(), Conflict> {
        let mut levels: BTreeMap<Id, usize> = BTreeMap::new();
        for record in records {
            let above = match record.parent {
                None => 0,
                Some(parent) => levels.get(&parent).copied().unwrap_or_else(|| self.ancestors(parent).count()),
            };
            if above >= DEPTH {
                return Err(Conflict::Parent(record.id));
            }
            levels.insert(record.id, above + 1);
        }
        Ok(())
    }
}
