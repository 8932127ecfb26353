//! Columns of values while a question is answered.

use std::borrow::Cow;

/// One entry per element, or the same for all.
#[derive(Clone, Debug)]
pub(crate) enum Col<'a, T: Copy> {
    Same(T),
    Each(Cow<'a, [T]>),
}

/// The values of a node.
#[derive(Clone, Debug)]
pub(crate) enum Values<'a> {
    Numbers(Col<'a, f64>),
    Truths(Col<'a, u8>),
    Texts(Col<'a, u32>),
}

impl<'a, T: Copy> Col<'a, T> {
    pub(crate) fn of(values: Vec<T>) -> Self {
        Self::Each(Cow::Owned(values))
    }

    pub(crate) fn at(&self, at: usize) -> T {
        match self {
            Self::Same(value) => *value,
            Self::Each(values) => values[at],
        }
    }

    pub(crate) fn map<R: Copy>(self, f: impl Fn(T) -> R) -> Col<'a, R> {
        match self {
            Self::Same(value) => Col::Same(f(value)),
            Self::Each(values) => Col::of(values.iter().map(|v| f(*v)).collect()),
        }
    }

    /// Entry by entry; both have entries of one list.
    pub(crate) fn with<U: Copy, R: Copy>(self, other: Col<'_, U>, f: impl Fn(T, U) -> R) -> Col<'a, R> {
        match (self, other) {
            (Self::Same(a), Col::Same(b)) => Col::Same(f(a, b)),
            (Self::Same(a), Col::Each(b)) => Col::of(b.iter().map(|b| f(a, *b)).collect()),
            (Self::Each(a), Col::Same(b)) => Col::of(a.iter().map(|a| f(*a, b)).collect()),
            (Self::Each(a), Col::Each(b)) => Col::of(a.iter().zip(b.iter()).map(|(a, b)| f(*a, *b)).collect()),
        }
    }
}
