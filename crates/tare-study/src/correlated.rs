//! Inputs of a study that move together, as its correlation records state.

use crate::lines::{LineRef, Lines};
use std::collections::BTreeSet;
use tare_diag::{Diag, Place};
use tare_engine::Op;
use tare_engine::sample::{Correlation, CorrelationError};
use tare_model::{Document, Field, Id, Kind, Record};

/// Leaves that move together.
#[derive(Clone, Debug, PartialEq)]
pub struct Correlated {
    /// The leaves, by number: two or more.
    pub leaves: Vec<u32>,
    /// The correlation of the normal scores of each two of them, from -1 to 1.
    pub coefficient: f64,
    /// Where it comes from.
    pub source: String,
    /// Its record.
    pub record: Id,
}

impl Correlated {
    /// Each two of the leaves with the coefficient.
    pub fn pairs(&self) -> impl Iterator<Item = (u32, u32, f64)> + '_ {
        let second = move |at: usize| self.leaves[at + 1..].iter().map(move |b| (self.leaves[at], *b, self.coefficient));
        (0..self.leaves.len()).flat_map(second)
    }
}

/// Reads the correlations of a study; those that cannot be used are left out and said.
///
/// If together they contradict one another none is used: leaving out one of them would be a choice nobody made.
pub(crate) fn correlated(study: &Document, lines: &Lines, problems: &mut Vec<Diag>) -> Vec<Correlated> {
    let mut found: Vec<Correlated> = Vec::new();
    let mut stated: BTreeSet<(u32, u32)> = BTreeSet::new();
    for record in study.of_kind(None, Kind::Correlation) {
        match read(record, lines) {
            Ok(new) => {
                let pairs: Vec<_> = new.pairs().map(|(a, b, _)| (a.min(b), a.max(b))).collect();
                if let Some((a, b)) = pairs.iter().find(|pair| stated.contains(pair)) {
                    let [a, b] = [a, b].map(|leaf| lines.address(LineRef::Leaf(*leaf)));
                    let says = format!("the correlation of {a} and {b} is stated already");
                    problems.push(problem(record, &says).hint("leave one of the two in one of the statements"));
                } else {
                    stated.extend(pairs);
                    found.push(new);
                }
            }
            Err(diag) => problems.push(*diag),
        }
    }
    if let Some(error) = refused(&found, MOST) {
        let diag = Diag::error("correlation", format!("{error}; no correlation is used"));
        problems
            .push(diag.at(Place::address("correlation")).hint("look for two that are strong and a third that says otherwise"));
        found.clear();
    }
    found
}

/// Most leaves that a document may say of that they move together.
const MOST: usize = 64;

/// Why statements cannot be used together.
fn refused(stated: &[Correlated], most: usize) -> Option<String> {
    let leaves: BTreeSet<u32> = stated.iter().flat_map(|c| c.leaves.iter().copied()).collect();
    if leaves.len() > most {
        return Some(CorrelationError::TooMany { found: leaves.len(), most }.to_string());
    }
    // of two that are stated twice the first statement holds: what comes later in the list takes its place
    let pairs: Vec<(u32, u32, f64)> = stated.iter().rev().flat_map(Correlated::pairs).collect();
    Correlation::of_pairs(&pairs).err().map(|error| error.to_string())
}

/// Takes over what another study states, in the numbers of joined leaves. The same statement about what studies share (methods, rates) speaks of
/// the leaves of both: a method that only one of them uses leans as all do. Statements about a study's own readings stay apart.
pub(crate) fn join(stated: &mut Vec<Correlated>, other: &Correlated, leaves: &[u32], shared: impl Fn(u32) -> bool) {
    let alike = |c: &&mut Correlated| {
        c.coefficient == other.coefficient && c.source == other.source && c.leaves.iter().all(|leaf| shared(*leaf))
    };
    if leaves.iter().all(|leaf| shared(*leaf))
        && let Some(same) = stated.iter_mut().find(alike)
    {
        let new: Vec<u32> = leaves.iter().copied().filter(|leaf| !same.leaves.contains(leaf)).collect();
        same.leaves.extend(new);
        return;
    }
    stated.push(Correlated { leaves: leaves.to_vec(), ..other.clone() });
}

/// Drops statements of joined studies that contradict one another, and says so.
pub(crate) fn agree(stated: &mut Vec<Correlated>, problems: &mut Vec<Diag>) {
    if let Some(error) = refused(stated, usize::MAX) {
        problems.push(Diag::error("correlation", format!("taken together, {error}; no correlation is used")));
        stated.clear();
    }
}

fn read(record: &Record, lines: &Lines) -> Result<Correlated, Box<Diag>> {
    let text = record.text(Field::Text).unwrap_or_default();
    let coefficient = text.trim().parse::<f64>().ok().filter(|c| c.abs() <= 1.0);
    let Some(coefficient) = coefficient else {
        return Err(Box::new(problem(record, &format!("a correlation lies between -1 and 1, found `{text}`"))));
    };
    let mut leaves = Vec::new();
    for name in record.text(Field::Leaves).unwrap_or_default().split(',').map(str::trim) {
        match name.split_once('*') {
            Some(ends) => leaves.extend(matching(record, lines, name, ends)?),
            None => leaves.push(leaf(record, lines, name)?),
        }
    }
    leaves.sort_unstable();
    leaves.dedup();
    if leaves.len() < 2 {
        let diag = problem(record, &format!("a correlation is of two inputs or more, found {}", leaves.len()));
        return Err(Box::new(diag.hint("name them like `P3/mass, P4/mass` or `processes/*/method`")));
    }
    let source = record.text(Field::Source).unwrap_or_default().to_owned();
    Ok(Correlated { leaves, coefficient, source, record: record.id })
}

/// Every input with a spread whose address has both ends.
fn matching(record: &Record, lines: &Lines, name: &str, (start, end): (&str, &str)) -> Result<Vec<u32>, Box<Diag>> {
    let fits = |number: &u32| {
        let address = lines.address(LineRef::Leaf(*number));
        let spread = lines.leaves[*number as usize].quantity.spread.is_some();
        spread && address.len() >= start.len() + end.len() && address.starts_with(start) && address.ends_with(end)
    };
    let found: Vec<u32> = (0..lines.leaves.len() as u32).filter(fits).collect();
    if found.is_empty() {
        return Err(Box::new(problem(record, &format!("no input with a spread is like `{name}`"))));
    }
    Ok(found)
}

fn leaf(record: &Record, lines: &Lines, name: &str) -> Result<u32, Box<Diag>> {
    let leaves = || (0..lines.leaves.len() as u32).map(LineRef::Leaf);
    let named = leaves().find(|leaf| lines.address(*leaf) == name).or_else(|| lines.find(name));
    let Some(line) = named else {
        let known: Vec<String> = leaves().map(|leaf| lines.address(leaf)).collect();
        return Err(Box::new(
            problem(record, &format!("no input at `{name}`")).did_you_mean(name, known.iter().map(String::as_str)),
        ));
    };
    // a line may pass an input on
    let node = lines.graph.nodes[lines.node(line) as usize];
    if node.op != Op::Leaf {
        let diag = problem(record, &format!("`{name}` is worked out, not put in"));
        return Err(Box::new(diag.hint(format!("`tare explain {name} --all` shows the inputs it comes from"))));
    }
    if lines.leaves[node.a as usize].quantity.spread.is_none() {
        return Err(Box::new(problem(record, &format!("`{name}` is known exactly, so it moves with nothing"))));
    }
    Ok(node.a)
}

fn problem(record: &Record, says: &str) -> Diag {
    let name = record.text(Field::Leaves).unwrap_or("?");
    Diag::error("correlation", says).at(Place::address(format!("correlation/{name}")))
}
