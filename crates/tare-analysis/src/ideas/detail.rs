//! One change line by line: by kind of cost, by process, by item.

use std::collections::BTreeSet;
use tare_model::Id;
use tare_study::{Joined, LineRef, Over, Sources, Study};

/// One line of two studies, and what it changed by.
#[derive(Clone, Debug)]
pub struct ChangeRow {
    /// What it is.
    pub name: String,
    /// The line before, in the first study.
    pub before: Option<LineRef>,
    /// The line after, in the second.
    pub after: Option<LineRef>,
    /// Their difference, in the joined study.
    pub change: LineRef,
}

/// The difference of two studies, line by line.
#[derive(Debug)]
pub struct Detail {
    /// The two studies joined, with the differences as lines.
    pub study: Study,
    /// Kinds of cost.
    pub kinds: Vec<ChangeRow>,
    /// Processes, rejects and mark-ups.
    pub processes: Vec<ChangeRow>,
    /// Items with what they add to the product.
    pub items: Vec<(Id, ChangeRow)>,
}

/// Explains what differs between two states of a study whose records are the same: every table adds up to the change of the total.
pub fn detail(sources: Sources<'_>, before: &Study, after: &Study) -> Detail {
    let mut joined = Joined::new(sources, &[("before", before), ("after", after)]);
    let kinds = paired(
        before.totals.by_kind.iter().map(|(k, l)| (k.word().to_owned(), *l)),
        after.totals.by_kind.iter().map(|(k, l)| (k.word().to_owned(), *l)),
    );
    let kinds = rows(&mut joined, "kind", kinds);
    let processes = paired(before.totals.by_process.iter().cloned(), after.totals.by_process.iter().cloned());
    let processes = rows(&mut joined, "process", processes);
    let named = |study: &Study| -> Vec<(Id, String, LineRef)> {
        study.items.iter().filter_map(|i| Some((i.id, i.name.clone(), i.contribution?))).collect()
    };
    let (old, new) = (named(before), named(after));
    let mut met = BTreeSet::new();
    let mut items = Vec::new();
    for (id, name, _) in old.iter().chain(&new).filter(|(id, _, _)| met.insert(*id)) {
        let of = |side: &[(Id, String, LineRef)]| side.iter().find(|(other, _, _)| other == id).map(|(_, _, line)| *line);
        if let Some(row) = row(&mut joined, "item", name.clone(), of(&old), of(&new)) {
            items.push((*id, row));
        }
    }
    Detail { study: joined.finish(), kinds, processes, items }
}

type Pair = (String, Option<LineRef>, Option<LineRef>);

fn paired(before: impl Iterator<Item = (String, LineRef)>, after: impl Iterator<Item = (String, LineRef)>) -> Vec<Pair> {
    let mut pairs: Vec<Pair> = before.map(|(name, line)| (name, Some(line), None)).collect();
    for (name, line) in after {
        match pairs.iter_mut().find(|(known, _, _)| *known == name) {
            Some(pair) => pair.2 = Some(line),
            None => pairs.push((name, None, Some(line))),
        }
    }
    pairs
}

fn rows(joined: &mut Joined<'_>, what: &str, pairs: Vec<Pair>) -> Vec<ChangeRow> {
    pairs.into_iter().filter_map(|(name, before, after)| row(joined, what, name, before, after)).collect()
}

fn row(joined: &mut Joined<'_>, what: &str, name: String, before: Option<LineRef>, after: Option<LineRef>) -> Option<ChangeRow> {
    let subject = joined.subject(&format!("{what} {name}"), &name, None);
    let side = |joined: &Joined<'_>, study: usize, line: Option<LineRef>| -> Vec<LineRef> {
        line.map(|line| joined.line(study, line)).into_iter().collect()
    };
    let (old, new) = (side(joined, 0, before), side(joined, 1, after));
    let given = [("before", Over::Many(&old)), ("after", Over::Many(&new))];
    let change = joined.roll(subject, "change", "roll-ups/change-cost", &given, "change")?;
    Some(ChangeRow { name, before, after, change })
}
