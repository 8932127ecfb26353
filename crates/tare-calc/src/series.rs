//! What can be known of a table before any need: the order in which rows are tried, groups, ends.

use crate::table::{Rule, Table};
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Rows that share every key but the interpolated one; a single row where no key is interpolated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Series {
    pub(crate) rows: Vec<usize>,
}

/// The series of a table in the order in which they are tried: the first whose keys all suit the need is taken.
///
/// Keys with `up_to` are tried from small to large, then keys with `from` from large to small; the need decides which suit.
pub(crate) fn series(table: &Table) -> Vec<Series> {
    let compare = |a: usize, b: usize, rule: Rule| -> Ordering {
        let keys = table.keys.iter().enumerate().filter(|(_, k)| k.rule == rule);
        keys.map(|(k, _)| key_number(table, a, k).total_cmp(&key_number(table, b, k)))
            .find(|o| o.is_ne())
            .unwrap_or(Ordering::Equal)
    };
    let order = |a: usize, b: usize| {
        compare(a, b, Rule::Equals).then_with(|| compare(a, b, Rule::UpTo)).then_with(|| compare(b, a, Rule::From))
    };
    let mut rows: Vec<usize> = (0..table.rows.len()).collect();
    rows.sort_by(|a, b| order(*a, *b).then_with(|| compare(*a, *b, Rule::Interpolate)));
    let mut found: Vec<Series> = Vec::new();
    for row in rows {
        match found.last_mut() {
            Some(last) if table.interpolates() && order(last.rows[0], row).is_eq() => last.rows.push(row),
            _ => found.push(Series { rows: vec![row] }),
        }
    }
    found
}

/// What the picks from a table need to know of its rows.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    /// Rows in the order in which they are tried.
    pub(crate) series: Vec<Series>,
    /// Per row: the next row of its series; the last is its own next.
    pub(crate) next: Vec<usize>,
    /// One row of each group of rows with the same choices.
    pub(crate) groups: Vec<usize>,
    /// Per key and row: whether it has the last key on the way out (largest for `up_to`, smallest for `from`) of its group.
    end: Vec<Vec<bool>>,
    /// Whether every combination of choices has a row.
    pub(crate) full: bool,
    /// Whether each group has one row that stands at the end of every stepped key: then keys that fit alone fit together.
    pub(crate) corner: bool,
}

impl Plan {
    pub(crate) fn new(table: &Table) -> Self {
        let series = series(table);
        let mut next: Vec<usize> = (0..table.rows.len()).collect();
        for pair in series.iter().flat_map(|s| s.rows.windows(2)) {
            next[pair[0]] = pair[1];
        }
        let choices: Vec<usize> = keys_with(table, |rule| rule == Rule::Equals);
        let steps: Vec<usize> = keys_with(table, |rule| matches!(rule, Rule::UpTo | Rule::From));
        let mut members: BTreeMap<Vec<u64>, Vec<usize>> = BTreeMap::new();
        for row in 0..table.rows.len() {
            members.entry(choices.iter().map(|k| key_number(table, row, *k).to_bits()).collect()).or_default().push(row);
        }
        let mut end = vec![vec![false; table.rows.len()]; table.keys.len()];
        for group in members.values() {
            for key in &steps {
                let numbers = group.iter().map(|row| key_number(table, *row, *key));
                let last = match table.keys[*key].rule {
                    Rule::UpTo => numbers.fold(f64::NEG_INFINITY, f64::max),
                    _ => numbers.fold(f64::INFINITY, f64::min),
                };
                for row in group {
                    end[*key][*row] = key_number(table, *row, *key) == last;
                }
            }
        }
        let all = choices.iter().map(|k| table.keys[*k].choices.len()).fold(1_usize, usize::saturating_mul);
        let corner = members.values().all(|group| group.iter().any(|row| steps.iter().all(|k| end[*k][*row])));
        Self { series, next, groups: members.values().map(|g| g[0]).collect(), end, full: members.len() == all, corner }
    }

    /// One row of each group that stands at the end of a key.
    pub(crate) fn ends(&self, table: &Table, key: usize) -> Vec<usize> {
        let choices = keys_with(table, |rule| rule == Rule::Equals);
        let mut ends: BTreeMap<Vec<u64>, usize> = BTreeMap::new();
        for row in (0..table.rows.len()).filter(|row| self.end[key][*row]) {
            ends.entry(choices.iter().map(|k| key_number(table, row, *k).to_bits()).collect()).or_insert(row);
        }
        ends.into_values().collect()
    }

    pub(crate) fn is_end(&self, key: usize, row: usize) -> bool {
        self.end[key][row]
    }
}

/// The order in which a table's rows are tried, for whoever searches it by other means than a template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableOrder {
    /// Per row: its turn, from 0; none where it is never tried (the upper end of an interpolated series).
    pub turn: Vec<Option<usize>>,
    /// Per row: the next row of its series; the last is its own next.
    pub next: Vec<usize>,
    /// Per row: the first row of its series, with whose keys the others are held against a need.
    pub first: Vec<usize>,
    /// Per key and row: whether the row holds beyond its key.
    pub holds: Vec<Vec<bool>>,
}

impl TableOrder {
    /// Works it out.
    pub fn of(table: &Table) -> Self {
        let plan = Plan::new(table);
        let rows = table.rows.len();
        let (mut turn, mut first) = (vec![None; rows], (0..rows).collect::<Vec<_>>());
        let mut tried = 0;
        for series in &plan.series {
            let lower = if table.interpolates() { series.rows.len().saturating_sub(1).max(1) } else { 1 };
            for row in series.rows[..lower].iter().rev() {
                turn[*row] = Some(tried);
                tried += 1;
            }
            for row in &series.rows {
                first[*row] = series.rows[0];
            }
        }
        let holds =
            table.keys.iter().enumerate().map(|(key, of)| {
                (0..rows).map(|row| of.outside == crate::table::Outside::Hold && plan.is_end(key, row)).collect()
            });
        Self { turn, next: plan.next.clone(), first, holds: holds.collect() }
    }
}

fn keys_with(table: &Table, wanted: impl Fn(Rule) -> bool) -> Vec<usize> {
    (0..table.keys.len()).filter(|k| wanted(table.keys[*k].rule)).collect()
}

/// The number or level of a key cell; NaN when it could not be read.
pub(crate) fn key_number(table: &Table, row: usize, key: usize) -> f64 {
    table.rows[row].keys.get(key).and_then(|c| c.value.number()).unwrap_or(f64::NAN)
}
