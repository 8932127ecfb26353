//! Lists behind relations: for each row asked about, the rows its paths lead to.

use super::node::{Hop, Node, Path, Ty, What};
use super::run::Run;
use super::values::{Col, Values};
use crate::facts::{NONE, Relation, RowKind};
use std::borrow::Cow;
use std::rc::Rc;

/// The entries of one list: the row behind each, and where the entries of each entry of the list above start.
#[derive(Debug)]
pub(super) struct Level {
    rows: Vec<u32>,
    starts: Vec<u32>,
}

/// The values of a node as lists: of each row asked about, its entries.
pub(crate) struct Listed<'a> {
    pub(crate) values: Values<'a>,
    /// Where the entries of each row start; `None` where each row has one.
    starts: Option<Vec<u32>>,
    /// For rows: their kind, and the row of each entry.
    rows: Option<(RowKind, Vec<u32>)>,
}

impl Listed<'_> {
    /// The entries of a row.
    pub(crate) fn entries(&self, row: usize) -> std::ops::Range<usize> {
        self.starts.as_ref().map_or(row..row + 1, |starts| starts[row] as usize..starts[row + 1] as usize)
    }

    /// The row that an entry is.
    pub(crate) fn row(&self, at: usize) -> Option<(RowKind, u32)> {
        self.rows.as_ref().and_then(|(kind, rows)| Some((*kind, *rows.get(at)?)))
    }
}

impl<'a> Run<'a> {
    /// The values of a node, entry by entry.
    pub(crate) fn listed(&self, node: &Node) -> Listed<'a> {
        let rows = match &node.what {
            What::Exists(path) if node.ty == Ty::Rows => {
                Some((path.end(), self.ends(path).unwrap_or_else(|| (0_u32..).take(self.count()).collect())))
            }
            _ => None,
        };
        Listed { values: self.node(node), starts: node.shape.as_ref().map(|shape| self.starts(None, shape)), rows }
    }

    fn level(&self, shape: &Path) -> Rc<Level> {
        if let Some((_, known)) = self.levels.borrow().iter().find(|(path, _)| path == shape) {
            return Rc::clone(known);
        }
        let above = shape.above();
        let done = above.as_ref().map_or(0, |above| above.hops.len());
        let (steps, last) = shape.hops[done..].split_at(shape.hops.len() - done - 1);
        let from = self.step(shape, above.as_ref(), steps);
        let kind = steps.last().map_or_else(|| above.as_ref().map_or(shape.start, Path::end), |hop| hop.to);
        let relation = last.first().and_then(|hop| self.facts.table(kind).relation(hop.name));
        let mut level = Level { rows: Vec::new(), starts: Vec::with_capacity(from.len() + 1) };
        level.starts.push(0);
        for row in from.iter() {
            if let Some(relation) = relation.filter(|_| *row != NONE) {
                level.rows.extend_from_slice(relation.of(*row as usize));
            }
            level.starts.push(u32::try_from(level.rows.len()).unwrap_or(NONE));
        }
        let level = Rc::new(level);
        self.levels.borrow_mut().push((shape.clone(), Rc::clone(&level)));
        level
    }

    /// The rows at the end of steps that each lead to at most one row, from the entries of a list.
    fn step(&self, path: &Path, above: Option<&Path>, steps: &[Hop]) -> Vec<u32> {
        let mut rows = match above {
            Some(above) => self.level(above).rows.clone(),
            None => self.start(path.outer).map_or_else(|| (0_u32..).take(self.count()).collect(), <[u32]>::to_vec),
        };
        let mut kind = above.map_or(path.start, Path::end);
        for hop in steps {
            let relation = self.facts.table(kind).relation(hop.name);
            for row in &mut rows {
                *row = match relation {
                    Some(Relation::One(to)) if *row != NONE => to[*row as usize],
                    _ => NONE,
                };
            }
            kind = hop.to;
        }
        rows
    }

    /// The row at the end of a path for each entry of its list; `None` where that is each row of the table in turn.
    pub(super) fn ends(&self, path: &Path) -> Option<Vec<u32>> {
        let shape = path.shape();
        let done = shape.as_ref().map_or(0, |shape| shape.hops.len());
        if path.hops.is_empty() && self.start(path.outer).is_none() {
            return None;
        }
        Some(self.step(path, shape.as_ref(), &path.hops[done..]))
    }

    /// What stands at the end of a path, from a column of the table there.
    pub(super) fn gather<T: Copy>(&self, path: &Path, column: Option<&'a [T]>, empty: T) -> Col<'a, T> {
        let Some(column) = column else { return Col::Same(empty) };
        match self.ends(path) {
            None => Col::Each(Cow::Borrowed(column)),
            Some(rows) => Col::of(rows.iter().map(|row| column.get(*row as usize).copied().unwrap_or(empty)).collect()),
        }
    }

    /// Where the entries of a list start for each entry of a list it is made of (`None`: for each row).
    pub(super) fn starts(&self, upper: Option<&Path>, shape: &Path) -> Vec<u32> {
        let mut chain = vec![self.level(shape)];
        let mut above = shape.above();
        while above.as_ref() != upper {
            let Some(next) = above else { break };
            chain.push(self.level(&next));
            above = next.above();
        }
        let mut starts = chain.pop().map_or_else(Vec::new, |level| level.starts.clone());
        while let Some(level) = chain.pop() {
            starts.iter_mut().for_each(|s| *s = level.starts[*s as usize]);
        }
        starts
    }

    /// Entries of a list repeated for each entry of a list that is made of it.
    pub(super) fn lift<T: Copy>(&self, col: Col<'a, T>, from: Option<&Path>, to: Option<&Path>) -> Col<'a, T> {
        let (Col::Each(values), Some(shape)) = (&col, to.filter(|to| Some(*to) != from)) else { return col };
        let starts = self.starts(from, shape);
        let mut lifted = Vec::with_capacity(starts.last().map_or(0, |n| *n as usize));
        for (value, span) in values.iter().zip(starts.windows(2)) {
            lifted.extend(std::iter::repeat_n(*value, (span[1] - span[0]) as usize));
        }
        Col::of(lifted)
    }

    /// The kind of rows at the start of a path.
    pub(super) fn start(&self, outer: bool) -> Option<&'a [u32]> {
        if outer { self.outer } else { self.rows }
    }
}
