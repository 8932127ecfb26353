//! Rows of a table in the order in which they are tried.

use crate::table::{Rule, Table};
use std::cmp::Ordering;

/// Rows that share every key but the interpolated one; a single row where no key is interpolated.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Series {
    pub(crate) rows: Vec<usize>,
}

/// The series of a table in the order in which they are tried: the first whose keys all suit the need is taken.
///
/// Keys with `up_to` are tried from small to large, then keys with `from` from large to small; the need decides which suit.
pub(crate) fn series(table: &Table) -> Vec<Series> {
    let level = |row: usize, key: usize| table.rows[row].keys.get(key).and_then(|c| c.value.number()).unwrap_or(f64::NAN);
    let compare = |a: usize, b: usize, rule: Rule| -> Ordering {
        let keys = table.keys.iter().enumerate().filter(|(_, k)| k.rule == rule);
        keys.map(|(k, _)| level(a, k).total_cmp(&level(b, k))).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
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
