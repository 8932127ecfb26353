//! Types: what a formula gives.

use crate::calculation::{Declared, Length};
use std::fmt;
use tare_units::{Dim, name_of};

/// What a formula gives.
#[derive(Clone, Debug, PartialEq)]
pub enum Ty {
    /// A number with a dimension.
    Num(Dim),
    /// A bare `0`, which fits any dimension.
    Zero,
    /// A temperature point.
    Point,
    /// A condition.
    Bool,
    /// One of several texts.
    Choice(Vec<String>),
    /// A row of a table; `blank.sheet` is table `sheet` of the used calculation `blank`.
    Row(String),
    /// A list of entries that are no lists.
    List(Length, Box<Ty>),
    /// Unknown because of an error that has its message already.
    Bad,
}

impl Ty {
    /// The type of one entry of a declared unit; choices are not known from the unit.
    pub(crate) fn declared(declared: &Declared, choices: &[String]) -> Self {
        match declared {
            Declared::Number(unit) if unit.is_point() => Self::Point,
            Declared::Number(unit) => Self::Num(unit.dim),
            Declared::Bool => Self::Bool,
            Declared::Choice if choices.is_empty() => Self::Bad,
            Declared::Choice => Self::Choice(choices.to_vec()),
            Declared::Row(table) => Self::Row(table.clone()),
            Declared::Bad => Self::Bad,
        }
    }

    /// The type of an entry, and how many there are if it is a list.
    pub fn entry(&self) -> (&Self, Option<Length>) {
        match self {
            Self::List(length, entry) => (entry, Some(*length)),
            other => (other, None),
        }
    }

    /// A list of this when there is a length.
    pub(crate) fn in_list(self, length: Option<Length>) -> Self {
        match (self, length) {
            (Self::Bad, _) => Self::Bad,
            (ty, Some(length)) => Self::List(length, Box::new(ty)),
            (ty, None) => ty,
        }
    }

    /// A bare `0` taken as a plain number.
    pub(crate) fn settled(self) -> Self {
        match self {
            Self::Zero => Self::Num(Dim::ONE),
            Self::List(length, entry) => Self::List(length, Box::new(entry.settled())),
            other => other,
        }
    }

    /// Whether it or its entries are unknown.
    pub fn is_bad(&self) -> bool {
        matches!(self.entry().0, Self::Bad)
    }
}

impl fmt::Display for Ty {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Num(dim) => f.write_str(&dimension(*dim)),
            Self::Zero => f.write_str("a plain number"),
            Self::Point => f.write_str("a temperature point"),
            Self::Bool => f.write_str("a condition"),
            Self::Choice(set) if set.len() == 1 => write!(f, "the text '{}'", set[0]),
            Self::Choice(_) => f.write_str("a choice"),
            Self::Row(table) => write!(f, "a row of `{table}`"),
            Self::List(length, entry) => write!(f, "a list ({length}) of which each is {entry}"),
            Self::Bad => f.write_str("something unknown"),
        }
    }
}

/// A dimension in words with its base units: `pressure (kg/(m*s^2))`.
pub(crate) fn dimension(dim: Dim) -> String {
    match name_of(dim) {
        _ if dim.is_one() => "a plain number".to_owned(),
        Some(name) => format!("{name} ({dim})"),
        None => dim.to_string(),
    }
}
