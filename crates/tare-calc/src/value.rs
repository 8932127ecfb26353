//! What a formula becomes while it is lowered.

use std::sync::Arc;
use tare_engine::Operand;

/// One thing or a list of things.
#[derive(Clone, Debug)]
pub(crate) enum Items<T> {
    One(T),
    Many(Vec<T>),
}

impl<T: Clone> Items<T> {
    /// The number of entries of a list; none for a single thing.
    pub(crate) fn length(&self) -> Option<usize> {
        match self {
            Self::One(_) => None,
            Self::Many(list) => Some(list.len()),
        }
    }

    /// The entry at a place; a single thing stands at every place.
    pub(crate) fn at(&self, place: usize) -> Option<&T> {
        match self {
            Self::One(one) => Some(one),
            Self::Many(list) => list.get(place),
        }
    }

    pub(crate) fn as_slice(&self) -> &[T] {
        match self {
            Self::One(one) => std::slice::from_ref(one),
            Self::Many(list) => list,
        }
    }

    pub(crate) fn map<U>(&self, f: impl FnMut(&T) -> U) -> Items<U> {
        let mut f = f;
        match self {
            Self::One(one) => Items::One(f(one)),
            Self::Many(list) => Items::Many(list.iter().map(f).collect()),
        }
    }
}

/// The row that a pick found.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PickedRow {
    /// The row, or the lower one of two.
    pub(crate) index: Index,
    /// Between two rows: how far the need lies towards the next row, 0 to 1.
    pub(crate) weight: Option<Operand>,
}

/// A position that is known while lowering, or found while evaluating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Index {
    Known(usize),
    Found(Operand),
}

/// A choice: positions in a set of texts.
#[derive(Clone, Debug)]
pub(crate) struct Chosen {
    pub(crate) set: Arc<[String]>,
    pub(crate) items: Items<Index>,
}

/// A table of one of the files being lowered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct TableAt {
    /// The file, by position in the lowerer's list.
    pub(crate) file: usize,
    /// The table, by position in the file.
    pub(crate) table: usize,
}

/// What a formula becomes.
#[derive(Clone, Debug)]
pub(crate) enum Value {
    /// Numbers and temperature points.
    Number(Items<Operand>),
    /// Conditions: 1 where they hold, else 0.
    Condition(Items<Operand>),
    /// A condition that is known while lowering.
    Known(bool),
    /// Choices.
    Choice(Chosen),
    /// Rows of a table.
    Row(TableAt, Items<PickedRow>),
    /// An optional input without a value.
    Absent,
}
