//! Which of several stated values stands for a quantity: the chosen one, a mean, or the best of those stated.
//!
//! Values of one set (and one specimen) are repeats of one another and count as one. Without a choice the strongest evidence counts,
//! then the state the mass is asked in, then the last.

use crate::builder::Builder;
use crate::lines::{Evidence, SubjectId};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};

/// What a mass is asked for; other quantities have no state, and it makes no difference to them.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Asked {
    /// As the part was made, clean: what cost needs.
    #[default]
    Made,
    /// In the state of the weighed whole it is balanced against, where that states one.
    Received(Option<String>),
}

/// States from the one wanted first to the one wanted last; what states none stands between.
const AS_MADE: [Option<&str>; 7] =
    [Some("cleaned"), Some("dry"), None, Some("as removed"), Some("after cutting"), Some("with residue"), Some("wet")];
const AS_RECEIVED: [Option<&str>; 7] =
    [Some("as removed"), Some("wet"), Some("with residue"), None, Some("dry"), Some("cleaned"), Some("after cutting")];

impl Asked {
    /// How far down the order a state stands.
    fn rank(&self, state: Option<&str>) -> usize {
        let order = match self {
            Self::Made => &AS_MADE,
            Self::Received(asked) if asked.is_some() && asked.as_deref() == state => return 0,
            Self::Received(Some(asked)) if is_clean(asked) => &AS_MADE,
            Self::Received(_) => &AS_RECEIVED,
        };
        1 + order.iter().position(|s| *s == state).unwrap_or(order.len())
    }
}

/// Whether a state is that of the part as it was made, as far as a scale can tell.
pub(crate) fn is_clean(state: &str) -> bool {
    matches!(state, "cleaned" | "dry")
}

/// Readings taken together, or one value.
pub(crate) type Set<'r> = Vec<&'r Record>;

/// What stands for a quantity.
#[derive(Clone, Debug)]
pub(crate) enum Picked<'r> {
    /// Nothing is stated.
    Nothing,
    /// One value or one set of readings.
    One(Set<'r>),
    /// The mean of several.
    Mean { sets: Vec<Set<'r>>, weighted: bool },
}

impl<'r> Picked<'r> {
    /// Every value that it rests on.
    pub(crate) fn values(&self) -> impl Iterator<Item = &'r Record> {
        let sets: &[Set<'r>] = match self {
            Self::Nothing => &[],
            Self::One(set) => std::slice::from_ref(set),
            Self::Mean { sets, .. } => sets,
        };
        sets.iter().flatten().copied()
    }

    /// States of the masses it rests on; a container has none.
    pub(crate) fn states(&self) -> Vec<String> {
        let mut states: Vec<String> =
            self.values().filter(|v| !is_tare(v)).filter_map(|v| v.text(Field::MassState).map(str::to_owned)).collect();
        states.sort();
        states.dedup();
        states
    }
}

/// Whether a value is the reading of a container.
pub(crate) fn is_tare(value: &Record) -> bool {
    value.text(Field::Method) == Some("tare")
}

/// The evidence of a set: that of what was weighed, not of the container.
fn evidence(set: &Set<'_>) -> Evidence {
    set.iter().filter(|v| !is_tare(v)).map(|v| crate::stated::evidence(v)).min().unwrap_or(Evidence::Assumed)
}

fn state<'r>(set: &Set<'r>) -> Option<&'r str> {
    set.iter().filter(|v| !is_tare(v)).find_map(|v| v.text(Field::MassState))
}

/// Values by set and specimen, in the order of each one's first; a value without a set stands alone. A specimen is another thing, so that
/// what was read of two specimens is never a repeat.
fn sets<'r>(values: &[&'r Record]) -> Vec<Set<'r>> {
    let mut found: Vec<Set<'r>> = Vec::new();
    for value in values {
        let together = |other: &&&Record| {
            other.text(Field::Set) == value.text(Field::Set) && other.refers(Field::Specimen) == value.refers(Field::Specimen)
        };
        let known = value.text(Field::Set).and_then(|_| found.iter_mut().find(|set| set.first().filter(together).is_some()));
        match known {
            Some(set) => set.push(value),
            None => found.push(vec![value]),
        }
    }
    found
}

impl<'a> Builder<'a> {
    /// What stands for a quantity of a record.
    pub(crate) fn pick(&mut self, subject: SubjectId, record: Id, quantity: &str, asked: &Asked) -> Picked<'a> {
        // What is asked by difference is worked out from the whole, whatever number was written beside it.
        let by_difference = |v: &&Record| quantity == "mass" && v.text(Field::Method) == Some("difference");
        let values: Vec<&'a Record> = self.index.of(record, quantity).filter(|v| !by_difference(v)).collect();
        let sets = sets(&values);
        if sets.is_empty() {
            return Picked::Nothing;
        }
        let choice: Option<&'a Record> =
            self.index.chosen.get(&record).and_then(|c| c.iter().find(|c| c.text(Field::Quantity) == Some(quantity)).copied());
        if let Some(choice) = choice {
            match choice.text(Field::Method) {
                Some(method @ ("mean" | "weighted mean")) if sets.len() > 1 => {
                    return Picked::Mean { sets, weighted: method == "weighted mean" };
                }
                Some("mean" | "weighted mean") => {}
                _ => {
                    let named = choice.refers(Field::Value);
                    let found = sets.iter().find(|set| set.iter().any(|v| Some(v.id) == named));
                    if let Some(set) = found {
                        return Picked::One(set.clone());
                    }
                    self.warn_lost_choice(subject, quantity, named.is_some());
                }
            }
        }
        let strongest = sets.iter().map(evidence).min();
        let strong: Vec<&Set<'_>> = sets.iter().filter(|s| Some(evidence(s)) == strongest).collect();
        let nearest = strong.iter().map(|s| asked.rank(state(s))).min();
        let best = strong.iter().rfind(|s| Some(asked.rank(state(s))) == nearest);
        let Some(best) = best.map(|s| (*s).clone()) else { return Picked::Nothing };
        // Masses taken in different states do not contradict each other; what states none may.
        let rivals: Vec<&Set<'_>> =
            sets.iter().filter(|s| state(s).is_none() || state(&best).is_none() || state(s) == state(&best)).collect();
        let said = |s: &&Set<'_>| s.iter().map(|v| v.text(Field::Text).unwrap_or("").to_owned()).collect::<Vec<_>>();
        if rivals.iter().any(|s| said(s) != said(&rivals[0])) {
            self.warn_conflict(subject, quantity, &rivals);
        }
        Picked::One(best)
    }

    fn warn_conflict(&mut self, subject: SubjectId, quantity: &str, sets: &[&Set<'_>]) {
        let subject = self.lines.subjects[subject.0 as usize].clone();
        let said: Vec<String> = sets
            .iter()
            .flat_map(|s| s.iter())
            .map(|v| {
                let specimen = v.refers(Field::Specimen).and_then(|s| self.sources.study.get(s)?.text(Field::Name));
                let source = v.text(Field::Source).or(v.text(Field::Evidence)).unwrap_or("no source");
                let of = specimen.map_or_else(String::new, |s| format!(", of {s}"));
                format!("{} ({source}{of})", v.text(Field::Text).unwrap_or("?"))
            })
            .collect();
        let diag = Diag::warning(
            "values-differ",
            format!("several values stand for the {quantity} of {}: {}", subject.title, said.join("; ")),
        )
        .at(Place::address(format!("{}/{quantity}", subject.address)))
        .hint("choose one (with a reason), or their mean; until then the strongest evidence counts, the last among equals");
        self.problem(diag);
    }

    fn warn_lost_choice(&mut self, subject: SubjectId, quantity: &str, named: bool) {
        let subject = self.lines.subjects[subject.0 as usize].clone();
        let why = if named { "a value that is no longer there" } else { "no value" };
        let diag =
            Diag::warning("choice-lost", format!("the choice among values of the {quantity} of {} names {why}", subject.title))
                .at(Place::address(format!("{}/{quantity}", subject.address)))
                .hint("choose again, or remove the choice; until then it counts as not made");
        self.problem(diag);
    }
}
