//! Edits of a rule: words of `tare edit`, filled for each hit.

use super::template::Template;
use crate::facts::{Facts, RowKind};
use crate::question::{Checked, Run, true_rows};

/// One `[[edit]]` of a rule.
#[derive(Clone, Debug)]
pub(super) struct EditRule {
    /// The relation whose rows it is for, each by itself; `None` for the row of the rule.
    pub(super) each: Option<(&'static str, RowKind)>,
    pub(super) when: Option<Checked>,
    pub(super) words: Template,
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
            let outer = edit.each.map(|_| outer.as_slice());
            let holds = true_rows(&Run::some(facts, &inner, outer, &when.texts), when);
            pairs = holds.into_iter().map(|at| pairs[at as usize]).collect();
        }
        let (inner, outer) = sides(&pairs, rows);
        let filled = edit.words.fill(facts, &inner, edit.each.map(|_| outer.as_slice()));
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
