//! The tree of a question after checking: every name resolved, every dimension settled.

use crate::facts::RowKind;
use tare_calc::{Binary, Function};
use tare_units::Dim;

/// One step from rows to rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Hop {
    pub(crate) name: &'static str,
    pub(crate) to: RowKind,
    pub(crate) many: bool,
}

/// A way from the rows asked about (or, in an edit of a rule, from the row of the rule) to others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Path {
    /// Whether it starts at the row of the rule instead of the row in hand.
    pub(crate) outer: bool,
    pub(crate) start: RowKind,
    pub(crate) hops: Vec<Hop>,
}

impl Path {
    pub(crate) fn end(&self) -> RowKind {
        self.hops.last().map_or(self.start, |hop| hop.to)
    }

    /// The list its entries stand in: the path up to its last step to several rows. `None` where each row has one entry.
    pub(crate) fn shape(&self) -> Option<Self> {
        let last = self.hops.iter().rposition(|hop| hop.many)?;
        Some(Self { hops: self.hops[..=last].to_vec(), ..self.clone() })
    }

    /// The list that this list is made of lists of.
    pub(crate) fn above(&self) -> Option<Self> {
        let end = self.hops.len().saturating_sub(1);
        Self { hops: self.hops[..end].to_vec(), ..self.clone() }.shape()
    }

    /// Whether this list is the other, or made of lists that the other holds.
    pub(crate) fn starts_with(&self, other: &Self) -> bool {
        self.outer == other.outer && self.start == other.start && self.hops.starts_with(&other.hops)
    }

    pub(crate) fn text(&self) -> String {
        let hops: Vec<&str> = self.hops.iter().map(|hop| hop.name).collect();
        hops.join(".")
    }
}

/// What a node gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ty {
    Number(Dim),
    /// A bare `0`, which fits any dimension.
    Zero,
    Truth,
    Text,
    /// Rows themselves, which only `count` and `given` take.
    Rows,
    /// It could not be made out; a message says why.
    Bad,
}

/// A node with its type and the list it gives entries of.
#[derive(Clone, Debug)]
pub(crate) struct Node {
    pub(crate) what: What,
    pub(crate) ty: Ty,
    pub(crate) shape: Option<Path>,
}

#[derive(Clone, Debug)]
pub(crate) enum What {
    /// A number in SI; an amount in a currency is known only where that is the study's.
    Number(f64, Option<tare_units::Currency>),
    Truth(bool),
    /// A text of the question, by number.
    Text(usize),
    /// A column at the end of a path; `dim` tells numbers of one name apart.
    Column {
        path: Path,
        name: String,
        dim: String,
    },
    /// Whether there is a row at the end of a path.
    Exists(Path),
    Neg(Box<Node>),
    Not(Box<Node>),
    Math(Binary, Box<Node>, Box<Node>),
    Compare(Binary, Box<Node>, Box<Node>),
    /// Equality of texts or of truths; `true` asks for sameness.
    Same(bool, Box<Node>, Box<Node>),
    And(Box<Node>, Box<Node>),
    Or(Box<Node>, Box<Node>),
    If(Box<[Node; 3]>),
    /// A function of one number.
    One(Function, Box<Node>),
    /// The least or greatest of several numbers of one row.
    Extreme(Function, Vec<Node>),
    /// One entry per row from a list; entries without a row at the end of the path do not count.
    Fold(Function, Box<Node>, Option<Path>),
    Given(Box<Node>),
    /// Whether a text contains one of the question's, by number; letter case is ignored.
    Has(Box<Node>, usize),
    Bad,
}

impl Node {
    pub(crate) fn bad() -> Self {
        Self { what: What::Bad, ty: Ty::Bad, shape: None }
    }

    pub(crate) fn is_bad(&self) -> bool {
        self.ty == Ty::Bad
    }

    /// Every path below this node, but those inside of functions that have made one entry of them.
    pub(crate) fn paths<'n>(&'n self, found: &mut Vec<&'n Path>) {
        match &self.what {
            What::Column { path, .. } | What::Exists(path) => found.push(path),
            What::Neg(a) | What::Not(a) | What::One(_, a) | What::Given(a) | What::Has(a, _) => a.paths(found),
            What::Math(_, a, b) | What::Compare(_, a, b) | What::Same(_, a, b) | What::And(a, b) | What::Or(a, b) => {
                a.paths(found);
                b.paths(found);
            }
            What::If(parts) => parts.iter().for_each(|part| part.paths(found)),
            What::Extreme(_, parts) => parts.iter().for_each(|part| part.paths(found)),
            What::Number(..) | What::Truth(_) | What::Text(_) | What::Fold(..) | What::Bad => {}
        }
    }
}
