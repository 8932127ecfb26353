//! How many fields refer to each record, so that removing one need not look through all others.

use crate::{FieldValue, Id, Record};
use std::collections::BTreeMap;

/// Counts of references by the record they refer to.
#[derive(Clone, Debug, Default)]
pub(crate) struct References(BTreeMap<Id, usize>);

impl References {
    /// Counts what a record refers to.
    pub(crate) fn add(&mut self, record: &Record) {
        record.fields.iter().for_each(|(_, value)| self.change(None, Some(value)));
    }

    /// Takes back what a record referred to.
    pub(crate) fn remove(&mut self, record: &Record) {
        record.fields.iter().for_each(|(_, value)| self.change(Some(value), None));
    }

    /// One field's content was replaced.
    pub(crate) fn change(&mut self, was: Option<&FieldValue>, is: Option<&FieldValue>) {
        for id in targets(is) {
            *self.0.entry(*id).or_default() += 1;
        }
        for id in targets(was) {
            if let Some(count) = self.0.get_mut(id) {
                *count -= 1;
                if *count == 0 {
                    self.0.remove(id);
                }
            }
        }
    }

    /// Whether anything refers to a record.
    pub(crate) fn any_to(&self, id: Id) -> bool {
        self.0.contains_key(&id)
    }

    /// How many references there are to a record.
    pub(crate) fn count_to(&self, id: Id) -> usize {
        self.0.get(&id).copied().unwrap_or(0)
    }
}

/// The records a field's content refers to.
pub(crate) fn targets(value: Option<&FieldValue>) -> &[Id] {
    match value {
        Some(FieldValue::Ref(id)) => std::slice::from_ref(id),
        Some(FieldValue::Refs(ids)) => ids,
        _ => &[],
    }
}
