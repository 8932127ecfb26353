//! Edits of a rule: words of `tare edit`, filled for each hit.

use super::template::Template;
use crate::facts::{Facts, RowKind};
use crate::question::{Asked, Checked, true_rows};
use std::collections::BTreeSet;

/// One `[[edit]]` of a rule.
#[derive(Clone, Debug)]
pub(super) struct EditRule {
    /// The way to the rows it is for, each by itself and once; `None` for the row of the rule.
    pub(super) each: Option<Each>,
    pub(super) when: Option<Checked>,
    pub(super) words: Template,
}

/// Relations one after the other.
#[derive(Clone, Debug)]
pub(super) struct Each {
    /// Where each starts, and its name.
    pub(super) steps: Vec<(RowKind, &'static str)>,
    /// The kind of rows they end at.
    pub(super) to: RowKind,
}

impl Each {
    /// The rows a row leads to, each once, in the order they are met.
    fn of(&self, facts: &Facts, row: u32) -> Vec<u32> {
        let mut rows = vec![row];
        for (kind, name) in &self.steps {
            let relation = facts.table(*kind).relation(name);
            let mut seen = BTreeSet::new();
            let next = rows.iter().flat_map(|row| relation.map_or(&[][..], |r| r.of(*row as usize)));
            rows = next.copied().filter(|row| seen.insert(*row)).collect();
        }
        rows
    }
}

impl EditRule {
    fn asked<'r>(&self, about: RowKind, inner: &'r [u32], outer: &'r [u32]) -> Asked<'r> {
        let kind = self.each.as_ref().map_or(about, |each| each.to);
        Asked { kind, rows: Some(inner), outer: self.each.as_ref().map(|_| outer) }
    }

    /// Adds the commands of some pairs of a hit and a row.
    fn fill(&self, facts: &Facts, about: RowKind, rows: &[u32], mut pairs: Vec<(usize, u32)>, found: &mut [Commands]) {
        if let Some(when) = &self.when {
            let (inner, outer) = sides(&pairs, rows);
            let holds = true_rows(facts, self.asked(about, &inner, &outer), when);
            pairs = holds.into_iter().map(|at| pairs[at as usize]).collect();
        }
        let (inner, outer) = sides(&pairs, rows);
        let filled = self.words.fill(facts, self.asked(about, &inner, &outer));
        for ((hit, _), filled) in pairs.into_iter().zip(filled) {
            let (commands, lacking) = &mut found[hit];
            if commands.len() == MOST {
                lacking.push(format!("more than {MOST} edits"));
                continue;
            }
            commands.push(filled.text);
            lacking.extend(filled.lacking);
        }
    }
}

/// Most commands of one hit; an idea that takes more is none that a person could look over.
const MOST: usize = 500;
/// Most commands worked out together.
const TOGETHER: usize = 1 << 18;

/// What to do of one hit, and what it lacks.
pub(super) type Commands = (Vec<String>, Vec<String>);

/// For each hit the commands, and what they lack; with something lacking there are no commands, for half an idea is another one.
pub(super) fn commands(edits: &[EditRule], facts: &Facts, about: RowKind, rows: &[u32]) -> Vec<Commands> {
    let mut found: Vec<Commands> = vec![Default::default(); rows.len()];
    for edit in edits {
        // the hit and the row of each command
        let mut pairs: Vec<(usize, u32)> = Vec::new();
        for (hit, row) in rows.iter().enumerate() {
            match &edit.each {
                None => pairs.push((hit, *row)),
                Some(each) => pairs.extend(each.of(facts, *row).into_iter().map(|to| (hit, to))),
            }
            if pairs.len() > TOGETHER {
                edit.fill(facts, about, rows, std::mem::take(&mut pairs), &mut found);
            }
        }
        edit.fill(facts, about, rows, pairs, &mut found);
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
