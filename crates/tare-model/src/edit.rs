//! Intent and sealed edits.

use crate::{Field, FieldValue, Id, Record};
use serde::{Deserialize, Serialize};

/// What somebody wants changed, without the old content.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Set or clear a field.
    Set {
        /// The record.
        id: Id,
        /// The field.
        field: Field,
        /// The new content; `None` clears it.
        to: Option<FieldValue>,
    },
    /// Add a record.
    Add {
        /// The record.
        record: Record,
    },
    /// Remove a record, all that stands under it, and all references to them.
    Remove {
        /// The record.
        id: Id,
    },
    /// Put a record elsewhere.
    Move {
        /// The record.
        id: Id,
        /// Its new parent.
        parent: Option<Id>,
        /// Its new place among its siblings.
        order: String,
    },
}

/// One field's old and new content.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetField {
    /// The record.
    pub id: Id,
    /// The field.
    pub field: Field,
    /// What it held.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub from: Option<FieldValue>,
    /// What it holds afterwards.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub to: Option<FieldValue>,
}

/// A sealed change: carries old and new, so that it can be inverted and so that conflicts are seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Edit {
    /// A field was set or cleared.
    Set(SetField),
    /// Records were added, then fields that refer to them were set.
    Add {
        /// The records, parents before children.
        records: Vec<Record>,
        /// References to them from elsewhere.
        #[serde(skip_serializing_if = "Vec::is_empty", default)]
        references: Vec<SetField>,
    },
    /// Fields that refer to them were cleared, then records were removed.
    Remove {
        /// The records, parents before children.
        records: Vec<Record>,
        /// References to them from elsewhere.
        #[serde(skip_serializing_if = "Vec::is_empty", default)]
        references: Vec<SetField>,
    },
    /// A record was put elsewhere.
    Move {
        /// The record.
        id: Id,
        /// Old parent and place.
        from: (Option<Id>, String),
        /// New parent and place.
        to: (Option<Id>, String),
    },
}

/// An edit that does not fit the document any more; it carries both values and nothing was changed.
#[derive(Clone, Debug, PartialEq)]
pub enum Conflict {
    /// The field holds something else than the edit expects.
    Field {
        /// The record.
        id: Id,
        /// The field.
        field: Field,
        /// What the edit expects to replace.
        expected: Option<FieldValue>,
        /// What stands there now.
        found: Option<FieldValue>,
        /// What the edit would write.
        wanted: Option<FieldValue>,
    },
    /// The record is not there.
    Gone(Id),
    /// A record with this identifier is there already.
    Exists(Id),
    /// The record to remove has changed since.
    Changed(Id),
    /// The parent is not there, the record would stand inside itself, or the tree would be too deep.
    Parent(Id),
    /// A field would refer to a record that is gone.
    Target {
        /// The record.
        id: Id,
        /// The field.
        field: Field,
        /// What it would refer to.
        target: Id,
    },
    /// The record to remove is referred to by a field that the edit does not know of.
    Referred {
        /// The record to remove.
        id: Id,
        /// The record that refers to it.
        by: Id,
        /// The field that does.
        field: Field,
    },
    /// A field the record cannot stand without would be empty.
    Required {
        /// The record.
        id: Id,
        /// The field.
        field: Field,
    },
}

impl SetField {
    fn invert(&self) -> Self {
        Self { id: self.id, field: self.field, from: self.to.clone(), to: self.from.clone() }
    }
}

impl Edit {
    /// The edit that takes this one back.
    #[must_use]
    pub fn invert(&self) -> Self {
        let inverted = |references: &[SetField]| references.iter().rev().map(SetField::invert).collect();
        match self {
            Self::Set(set) => Self::Set(set.invert()),
            Self::Add { records, references } => Self::Remove { records: records.clone(), references: inverted(references) },
            Self::Remove { records, references } => Self::Add { records: records.clone(), references: inverted(references) },
            Self::Move { id, from, to } => Self::Move { id: *id, from: to.clone(), to: from.clone() },
        }
    }
}

impl std::fmt::Display for Conflict {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let show = |v: &Option<FieldValue>| match v {
            None => "nothing".to_owned(),
            Some(FieldValue::Text(t)) => format!("`{t}`"),
            Some(FieldValue::Number(n)) => n.to_string(),
            Some(FieldValue::Flag(b)) => if *b { "yes" } else { "no" }.to_owned(),
            Some(FieldValue::Ref(id)) => format!("record {id}"),
            Some(FieldValue::Refs(ids)) => format!("{} records", ids.len()),
        };
        match self {
            Self::Field { field, expected, found, wanted, .. } => {
                write!(
                    f,
                    "the {field} is {} now, the edit expects {} and would write {}",
                    show(found),
                    show(expected),
                    show(wanted)
                )
            }
            Self::Gone(id) => write!(f, "record {id} is not there any more"),
            Self::Exists(id) => write!(f, "record {id} is there already"),
            Self::Changed(id) => write!(f, "record {id} has changed since"),
            Self::Parent(id) => write!(f, "record {id} cannot stand there (parent missing, inside itself, or too deep)"),
            Self::Target { id, field, target } => {
                write!(f, "the {field} of record {id} would refer to record {target}, which is not there any more")
            }
            Self::Referred { id, by, field } => write!(f, "record {id} cannot go: the {field} of record {by} refers to it"),
            Self::Required { id, field } => write!(f, "record {id} cannot stand without its {field}"),
        }
    }
}
