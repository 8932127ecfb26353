//! Edits of a rule: words of `tare edit`, filled for each hit.

use super::template::Template;
use crate::facts::{Facts, RowKind};
use crate::question::{Asked, Checked, true_rows};

/// One `[[edit]]` of a rule.
#[derive(Clone, Debug)]
pub(super) struct EditRule {
    /// The relation whose rows it is for, each by itself; `None` for the row of the rule.
    pub(super) each: Option<(&'static str, RowKind)>,
    pub(super) when: Option<Checked>,
    pub(super) words: Template,
}

impl EditRule {
    fn asked<'r>(&self, about: RowKind, inner: &'r [u32], outer: &'r [u32]) -> Asked<'r> {
        let kind = self.each.map_or(about, |(_, to)| to);
        Asked { kind, rows: Some(inner), outer: self.each.map(|_| outer) }
    }
}

/// For each hit the commands, and what they lack; with something lacking there are no commands, for half an idea is another one.
pub(super) fn commands(edits: &[EditRule], facts: &Facts, about: RowKind, rows: &[u32]) -> Vec<(Vec<String>, Vec<String>)> {
    let mut found: Vec<(Vec<String>, Vec<String>)> = vec![Default::default(); rows.len()];
    for edit in edits {
        // the hit and the row of each command
        let mut pairs: Vec<(usize, u32)> = match edit.each {
            None => rows.iter().copied().enumerate().collect(),
            Some((relation, _)) => {
                let relation = facts.table(about).relation(relation);
                let of = |row: u32| relation.map_or(&[][..], |r| r.of(row as usize));
                rows.iter().enumerate().flat_map(|(hit, row)| of(*row).iter().map(move |to| (hit, *to))).collect()
            }
        };
        if let Some(when) = &edit.when {
            let (inner, outer) = sides(&pairs, rows);
            let holds = true_rows(facts, edit.asked(about, &inner, &outer), when);
            pairs = holds.into_iter().map(|at| pairs[at as usize]).collect();
        }
        let (inner, outer) = sides(&pairs, rows);
        let filled = edit.words.fill(facts, edit.asked(about, &inner, &outer));
        for ((hit, _), filled) in pairs.into_iter().zip(filled) {
            let (commands, lacking) = &mut found[hit];
            commands.push(filled.text);
            lacking.extend(filled.lacking);
        }
    }
    for (commands, lacking) in &mut found {
        lacking.sort();
        lacking.dedup();
        if !lacking.is_empty() {
            commands.clear();
        }
    }
    found
}

/// The rows of commands, and beside each the row of its hit.
fn sides(pairs: &[(usize, u32)], rows: &[u32]) -> (Vec<u32>, Vec<u32>) {
    pairs.iter().map(|(hit, row)| (*row, rows[*hit])).unzip()
}
