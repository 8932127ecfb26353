//! Rows taken a few at a time where lists of lists would be too long to hold at once.

use super::node::{Hop, Node, Path, What};
use crate::facts::{Facts, NONE, RowKind};
use std::ops::Range;

/// Most entries of a list held at once.
const MOST: u64 = 1 << 22;

/// What rows there are: of the table, or some of it, with the row of the rule beside each.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked<'a> {
    pub(crate) kind: RowKind,
    pub(crate) rows: Option<&'a [u32]>,
    pub(crate) outer: Option<&'a [u32]>,
}

impl Asked<'_> {
    pub(crate) fn count(&self, facts: &Facts) -> usize {
        self.rows.map_or_else(|| facts.table(self.kind).rows(), <[u32]>::len)
    }

    fn row(&self, outer: bool, at: usize) -> u32 {
        let rows = if outer { self.outer } else { self.rows };
        rows.map_or_else(|| u32::try_from(at).unwrap_or(NONE), |rows| rows[at])
    }
}

/// The places of rows in runs that can be held; `None` where all can be held together, which is nearly always. A row whose lists
/// alone are too long is in none: nothing is known of it.
pub(crate) fn chunks(facts: &Facts, asked: Asked<'_>, node: &Node) -> Option<Vec<Range<usize>>> {
    // A list over all rows of a table holds what the study holds; over rows that may come again, and of lists, it may be longer.
    let least = if asked.rows.is_some() { 1 } else { 2 };
    let mut paths = Vec::new();
    lists(node, least, &mut paths);
    if paths.is_empty() {
        return None;
    }
    let weights: Vec<(bool, Vec<u64>)> = paths.iter().map(|path| (path.outer, weights(facts, path))).collect();
    let of = |at: usize| weights.iter().map(|(outer, w)| w.get(asked.row(*outer, at) as usize).copied().unwrap_or(0)).max();
    let count = asked.count(facts);
    let all: u64 = (0..count).filter_map(of).fold(0, u64::saturating_add);
    if all <= MOST {
        return None;
    }
    let mut found = Vec::new();
    let (mut start, mut held) = (0, 0_u64);
    for at in 0..count {
        let weight = of(at).unwrap_or(0);
        if held.saturating_add(weight) > MOST {
            found.push(start..at);
            (start, held) = (at, 0);
        }
        if weight > MOST {
            start = at + 1;
        } else {
            held += weight;
        }
    }
    found.push(start..count);
    found.retain(|range| !range.is_empty());
    Some(found)
}

/// The lists of a question that go through at least so many relations to several rows.
fn lists(node: &Node, least: usize, found: &mut Vec<Path>) {
    let mut add = |path: &Path| {
        if let Some(shape) = path.shape().filter(|shape| shape.hops.iter().filter(|hop| hop.many).count() >= least)
            && !found.contains(&shape)
        {
            found.push(shape);
        }
    };
    match &node.what {
        What::Column { path, .. } | What::Exists(path) => add(path),
        What::Fold(_, a, _) | What::Neg(a) | What::Not(a) | What::One(_, a) | What::Given(a) | What::Has(a, _) => {
            lists(a, least, found)
        }
        What::Math(_, a, b) | What::Compare(_, a, b) | What::Same(_, a, b) | What::And(a, b) | What::Or(a, b) => {
            lists(a, least, found);
            lists(b, least, found);
        }
        What::If(parts) => parts.iter().for_each(|part| lists(part, least, found)),
        What::Extreme(_, parts) => parts.iter().for_each(|part| lists(part, least, found)),
        What::Number(..) | What::Truth(_) | What::Text(_) | What::Bad => {}
    }
}

/// How many entries a list has for each row of the table it starts at.
fn weights(facts: &Facts, path: &Path) -> Vec<u64> {
    let kinds: Vec<RowKind> = std::iter::once(path.start).chain(path.hops.iter().map(|hop| hop.to)).collect();
    let mut weights = vec![1_u64; facts.table(path.end()).rows()];
    for (Hop { name, .. }, from) in path.hops.iter().zip(&kinds).rev() {
        let table = facts.table(*from);
        let sum = |row: usize| {
            let targets = table.relation(name).map_or(&[][..], |relation| relation.of(row));
            targets.iter().map(|to| weights[*to as usize]).fold(0, u64::saturating_add)
        };
        weights = (0..table.rows()).map(sum).collect();
    }
    weights
}
