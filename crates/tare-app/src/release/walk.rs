//! From one release to another: what was recorded between them entry by entry, then texts, rates and scenario, as a walk that closes.

use super::frozen::ByKey;
use super::{Program, Release};
use crate::held::Texts;
use crate::session::Session;
use crate::workspace::{DocumentInfo, read_edits};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use tare_analysis::compare::{Factor, Walk, walk as walk_lines};
use tare_diag::Diag;
use tare_model::{Document, Edit, Field, FieldValue, Id, Kind, Record};
use tare_study::{Sources, Study};

/// The most steps that entries are shown as; of more, neighbours are taken together.
const MOST_STEPS: usize = 12;
/// What of a study's head belongs to the scenario.
const MONEY: [Field; 4] = [Field::Currency, Field::Book, Field::BuildUp, Field::Year];

/// Where a walk ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum To {
    /// At a release.
    Release(u64),
    /// At the study as it is.
    Now,
}

/// One step of a walk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stage {
    /// What it is called.
    pub name: String,
    /// The entries behind it.
    pub entries: Vec<u64>,
    /// The texts behind it.
    pub texts: Vec<String>,
}

/// A walk from one release to another, or to the study as it is.
#[derive(Debug)]
pub struct Between {
    /// The steps, in the order of the walk.
    pub stages: Vec<Stage>,
    /// The walk.
    pub walk: Walk,
    /// Warnings: releases at its ends that this program does not compute to the numbers they came to when they were made.
    pub doubts: Vec<Diag>,
}

/// What a difference is filed under, in the order of the walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Entry(u64),
    Calculations,
    Values,
    Rates,
    Scenario,
}

impl Key {
    fn of_text(key: &str) -> Self {
        match key.split_once('/') {
            Some(("rates" | "books", _)) => Self::Rates,
            Some(("materials" | "fasteners" | "quantities", _)) => Self::Values,
            _ => Self::Calculations,
        }
    }

    fn words(self) -> String {
        match self {
            Self::Entry(number) => format!("entry {number}"),
            Self::Calculations => "texts of calculations".to_owned(),
            Self::Values => "texts of materials, fasteners and quantities".to_owned(),
            Self::Rates => "rates".to_owned(),
            Self::Scenario => "scenario".to_owned(),
        }
    }
}

/// A study with the texts it is computed with.
struct State {
    /// The release it is; none for the study as it is.
    release: Option<Release>,
    document: Document,
    texts: ByKey,
}

/// Differences that only go together.
#[derive(Clone, Debug, Default)]
struct Group {
    keys: BTreeSet<Key>,
    records: BTreeSet<Id>,
    texts: BTreeSet<String>,
}

impl Session {
    /// Walks from a release to another one or to the study as it is: each step alone from the first, and behind those before it.
    ///
    /// # Errors
    /// A release that is not there or whose texts are gone; two currencies, between which no difference can be taken.
    pub fn walk_releases(&self, info: &DocumentInfo, from: u64, to: To, program: &Program) -> Result<Between, Vec<Diag>> {
        let start = self.state(info, from)?;
        let end = match to {
            To::Release(number) => self.state(info, number)?,
            To::Now => {
                let document = self.workspace.load(info).map_err(|d| vec![d])?.document;
                let texts = self.texts(&document)?.all_used(&document).0;
                State { release: None, document, texts }
            }
        };
        let one = |diag| vec![diag];
        let (differing, base) = self.differing_texts(&start, &end).map_err(one)?;
        let groups = self.groups(info, (&start, &end), &differing)?;
        let first = Texts::only(&self.library, &start.texts).map_err(one)?.compile(&start.document);
        let last = Texts::only(&self.library, &end.texts).map_err(one)?.compile(&end.document);
        let ends =
            [(&start, &first), (&end, &last)].into_iter().filter_map(|(state, study)| Some((state.release.as_ref()?, study)));
        let doubts = ends.filter_map(|(release, study)| self.not_as_released(release, study, program)).collect();
        if first.currency != last.currency {
            let says = format!("one end is in {}, the other in {}: no difference can be taken", first.currency, last.currency);
            return Err(vec![Diag::error("walk-currency", says)]);
        }
        let mut known = Known { session: self, base, start: &start, end: &end, texts: BTreeMap::new() };
        let mut alone = Vec::new();
        let mut so_far = Vec::new();
        for (at, group) in groups.iter().enumerate() {
            alone.push(known.with(std::slice::from_ref(group)).map_err(one)?);
            if at + 1 < groups.len() {
                so_far.push(known.with(&groups[..=at]).map_err(one)?);
            }
        }
        // behind the last step stands the end itself
        so_far.push(last);
        let stages = self.stages(info, &groups)?;
        let factors: Vec<Factor<'_>> = stages
            .iter()
            .zip(alone.iter().zip(&so_far))
            .map(|(stage, (alone, so_far))| Factor { name: &stage.name, alone, so_far })
            .collect();
        let sources = Sources { study: &start.document, books: &[], library: &self.library };
        let walk = walk_lines(sources, &first, &factors);
        Ok(Between { stages, walk, doubts })
    }

    fn state(&self, info: &DocumentInfo, number: u64) -> Result<State, Vec<Diag>> {
        let release = self.workspace.release(info, number).map_err(|d| vec![d])?;
        let document = self.workspace.load_at(info, release.frozen.entry).map_err(|d| vec![d])?.document;
        let texts = self.workspace.texts_of(&release).map_err(|d| vec![d])?;
        Ok(State { release: Some(release), document, texts })
    }

    /// The texts that are a difference of their own, and those every step begins with. What only one end uses is there in every step, so that an
    /// entry that brings a calculation can be computed alone; it is a difference of its own where the other end would use it too, had it
    /// known it.
    fn differing_texts(&self, start: &State, end: &State) -> Result<(BTreeSet<String>, ByKey), Diag> {
        let mut all = end.texts.clone();
        all.extend(start.texts.clone());
        let changed = |(key, text): (&String, &String)| end.texts.get(key).is_some_and(|now| now != text).then(|| key.clone());
        let mut differing: BTreeSet<String> = start.texts.iter().filter_map(changed).collect();
        for (one, other) in [(start, end), (end, start)] {
            let mut missing = other.texts.keys().filter(|key| !one.texts.contains_key(*key)).peekable();
            if missing.peek().is_some() {
                let wanted = Texts::only(&self.library, &all)?.all_used(&one.document).0;
                differing.extend(missing.filter(|key| wanted.contains_key(*key)).cloned());
            }
        }
        all.retain(|key, _| start.texts.contains_key(key) || !differing.contains(key));
        Ok((differing, all))
    }

    /// All differences, filed and put together where one cannot stand without the other.
    fn groups(
        &self,
        info: &DocumentInfo,
        (start, end): (&State, &State),
        texts: &BTreeSet<String>,
    ) -> Result<Vec<Group>, Vec<Diag>> {
        let (a, b) = (&start.document, &end.document);
        let touched = self.last_entries(info).map_err(|d| vec![d])?;
        let ids: BTreeSet<Id> = a.records().chain(b.records()).filter(|r| r.kind != Kind::Lock).map(|r| r.id).collect();
        let differing: BTreeSet<Id> = ids.into_iter().filter(|id| a.get(*id) != b.get(*id)).collect();
        let mut groups: Vec<Group> = Vec::new();
        let mut file = |key: Key, record: Option<Id>, text: Option<&str>| {
            let at = groups.iter().position(|group| group.keys.contains(&key)).unwrap_or_else(|| {
                groups.push(Group { keys: [key].into(), ..Group::default() });
                groups.len() - 1
            });
            groups[at].records.extend(record);
            groups[at].texts.extend(text.map(str::to_owned));
        };
        for id in &differing {
            file(key_of(a, b, *id, touched.get(id).copied().unwrap_or(0)), Some(*id), None);
        }
        for key in texts {
            file(Key::of_text(key), None, Some(key));
        }
        for (id, needed) in differing.iter().flat_map(|id| needs(a, b, *id).into_iter().map(move |needed| (*id, needed))) {
            let place = |id: Id| groups.iter().position(|group| group.records.contains(&id));
            if let (Some(one), Some(other)) = (place(id), place(needed))
                && one != other
            {
                let taken = groups.swap_remove(one.max(other));
                let kept = &mut groups[one.min(other)];
                kept.keys.extend(taken.keys);
                kept.records.extend(taken.records);
                kept.texts.extend(taken.texts);
            }
        }
        groups.sort_by(|x, y| x.keys.cmp(&y.keys));
        Ok(fewer(groups))
    }

    /// The last entry that names each record.
    fn last_entries(&self, info: &DocumentInfo) -> Result<BTreeMap<Id, u64>, Diag> {
        let mut found = BTreeMap::new();
        for entry in self.workspace.entries(info.id)? {
            for edit in read_edits(&entry)? {
                let (ids, references): (Vec<Id>, &[_]) = match &edit {
                    Edit::Set(set) => (vec![set.id], &[]),
                    Edit::Move { id, .. } => (vec![*id], &[]),
                    Edit::Add { records, references } | Edit::Remove { records, references } => {
                        (records.iter().map(|r| r.id).collect(), references)
                    }
                };
                found.extend(ids.into_iter().chain(references.iter().map(|set| set.id)).map(|id| (id, entry.sequence)));
            }
        }
        Ok(found)
    }

    fn stages(&self, info: &DocumentInfo, groups: &[Group]) -> Result<Vec<Stage>, Vec<Diag>> {
        let entries = self.workspace.entries(info.id).map_err(|d| vec![d])?;
        let says = |number: u64| entries.iter().find(|e| e.sequence == number).map(|e| e.says.clone()).unwrap_or_default();
        let stage = |group: &Group| {
            let number = |key: &Key| if let Key::Entry(number) = key { Some(*number) } else { None };
            let numbers: Vec<u64> = group.keys.iter().filter_map(number).collect();
            let mut words = match numbers.as_slice() {
                [] => Vec::new(),
                [one] => vec![format!("{}: {}", Key::Entry(*one).words(), says(*one))],
                several => vec![format!("entries {}", several.iter().map(u64::to_string).collect::<Vec<_>>().join(", "))],
            };
            words.extend(group.keys.iter().filter(|key| number(key).is_none()).map(|key| key.words()));
            Stage { name: words.join("; "), entries: numbers, texts: group.texts.iter().cloned().collect() }
        };
        Ok(groups.iter().map(stage).collect())
    }
}

/// What a difference of a record is filed under.
fn key_of(a: &Document, b: &Document, id: Id, entry: u64) -> Key {
    let document = if b.get(id).is_some() { b } else { a };
    let Some(record) = document.get(id) else { return Key::Entry(entry) };
    let under = |kind: Kind| document.ancestors(id).any(|up| document.get(up).is_some_and(|r| r.kind == kind));
    let own = matches!(record.text(Field::Quantity), Some("volume" | "life")) && under(Kind::Organisation);
    let head = record.kind == Kind::Study && a.get(id).zip(b.get(id)).is_some_and(|(a, b)| only_money(a, b));
    match record.kind {
        Kind::Rate => Key::Rates,
        Kind::Scenario => Key::Scenario,
        _ if own || head || under(Kind::Scenario) => Key::Scenario,
        _ => Key::Entry(entry),
    }
}

fn only_money(a: &Record, b: &Record) -> bool {
    Field::ALL.iter().all(|field| MONEY.contains(field) || a.fields.get(*field) == b.fields.get(*field))
}

/// The records without which a difference cannot be made: what its record points at or stands under, where that is new or goes.
fn needs(a: &Document, b: &Document, id: Id) -> Vec<Id> {
    let points = |record: Option<&Record>, gone_in: &Document| -> Vec<Id> {
        let Some(record) = record else { return Vec::new() };
        let fields = record.fields.iter().flat_map(|(_, value)| match value {
            FieldValue::Ref(id) => vec![*id],
            FieldValue::Refs(ids) => ids.clone(),
            _ => Vec::new(),
        });
        record.parent.into_iter().chain(fields).filter(|id| gone_in.get(*id).is_none()).collect()
    };
    let mut all = points(b.get(id), a);
    all.extend(points(a.get(id), b));
    all
}

/// Steps of entries taken together with their neighbours until there are few enough.
fn fewer(groups: Vec<Group>) -> Vec<Group> {
    let (entries, rest): (Vec<Group>, Vec<Group>) =
        groups.into_iter().partition(|group| matches!(group.keys.first(), Some(Key::Entry(_))));
    let size = entries.len().div_ceil(MOST_STEPS).max(1);
    let together = |some: &[Group]| {
        some.iter().fold(Group::default(), |mut all, group| {
            all.keys.extend(&group.keys);
            all.records.extend(&group.records);
            all.texts.extend(group.texts.iter().cloned());
            all
        })
    };
    entries.chunks(size).map(together).chain(rest).collect()
}

/// States between start and end, with texts that were read before.
struct Known<'a> {
    session: &'a Session,
    base: ByKey,
    start: &'a State,
    end: &'a State,
    texts: BTreeMap<Vec<String>, Texts>,
}

impl Known<'_> {
    /// The start with some groups as they are at the end.
    fn with(&mut self, groups: &[Group]) -> Result<Study, Diag> {
        let changed: Vec<String> = groups.iter().flat_map(|group| group.texts.iter().cloned()).collect();
        if !self.texts.contains_key(&changed) {
            let mut texts = self.base.clone();
            for key in &changed {
                match self.end.texts.get(key) {
                    Some(text) => drop(texts.insert(key.clone(), text.clone())),
                    None => drop(texts.remove(key)),
                }
            }
            self.texts.insert(changed.clone(), Texts::only(&self.session.library, &texts)?);
        }
        let (a, b) = (&self.start.document, &self.end.document);
        let taken = |id: Id| groups.iter().any(|group| group.records.contains(&id));
        let kept = a.records().filter(|record| !taken(record.id));
        let new = b.records().filter(|record| taken(record.id));
        let document = Document::from_records(a.id, a.kind, kept.chain(new).cloned().collect());
        Ok(self.texts[&changed].compile(&document))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_entries_are_taken_together_in_their_order() {
        let group = |key: Key| Group { keys: [key].into(), ..Group::default() };
        let all: Vec<Group> = (1..=30).map(Key::Entry).chain([Key::Rates]).map(group).collect();
        let found = fewer(all);
        assert_eq!(found.len(), 11);
        assert_eq!(found[0].keys, [Key::Entry(1), Key::Entry(2), Key::Entry(3)].into());
        assert_eq!(found[10].keys, [Key::Rates].into());
    }
}
