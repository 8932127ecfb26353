//! The differences between two states of a study, filed under what they came from, as the steps of a walk.

use super::frozen::ByKey;
use super::walk::State;
use crate::held::Texts;
use crate::session::Session;
use crate::workspace::{DocumentInfo, read_edits};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::Diag;
use tare_model::{Document, Edit, Field, FieldValue, Id, Kind, Record};

/// The most steps that entries are shown as; of more, neighbours are taken together.
const MOST_STEPS: usize = 12;
/// What of a study's head belongs to the scenario.
const MONEY: [Field; 4] = [Field::Currency, Field::Book, Field::BuildUp, Field::Year];

/// What a difference is filed under, in the order of the walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
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

    pub(super) fn words(self) -> String {
        match self {
            Self::Entry(number) => format!("entry {number}"),
            Self::Calculations => "texts of calculations".to_owned(),
            Self::Values => "texts of materials, fasteners and quantities".to_owned(),
            Self::Rates => "rates".to_owned(),
            Self::Scenario => "scenario".to_owned(),
        }
    }
}

/// Differences that only go together.
#[derive(Clone, Debug, Default)]
pub(super) struct Group {
    pub(super) keys: BTreeSet<Key>,
    pub(super) records: BTreeSet<Id>,
    pub(super) texts: BTreeSet<String>,
}

impl Session {
    /// The texts that are a difference of their own, and those every step begins with. What only one end uses is there in every step, so that an
    /// entry that brings a calculation can be computed alone; it is a difference of its own where the other end would use it too, had it
    /// known it.
    pub(super) fn differing_texts(&self, start: &State, end: &State) -> Result<(BTreeSet<String>, ByKey), Diag> {
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
    pub(super) fn groups(
        &self,
        info: &DocumentInfo,
        (start, end): (&State, &State),
        texts: &BTreeSet<String>,
    ) -> Result<Vec<Group>, Vec<Diag>> {
        let (a, b) = (&start.document, &end.document);
        let touched = self.last_entries(info, start.entry.max(end.entry)).map_err(|d| vec![d])?;
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

    /// The last entry up to a number that names each record.
    fn last_entries(&self, info: &DocumentInfo, last: u64) -> Result<BTreeMap<Id, u64>, Diag> {
        let mut found = BTreeMap::new();
        for entry in self.workspace.entries(info.id)?.into_iter().filter(|entry| entry.sequence <= last) {
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
