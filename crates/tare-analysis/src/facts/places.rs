//! Which records are rows, and where.

use super::RowKind;
use rustc_hash::FxHashMap as HashMap;
use tare_model::{Document, Field, Id, Kind, Record};
use tare_study::Study;

/// The records of each kind in the order of their rows.
pub(super) struct Rows {
    ids: Vec<Vec<Id>>,
    at: HashMap<(RowKind, Id), u32>,
    /// The first place of each item.
    first: HashMap<Id, u32>,
    /// Every place of each item.
    places: HashMap<Id, Vec<u32>>,
}

impl Rows {
    pub(super) fn new(document: &Document, study: &Study) -> Self {
        let mut rows = Self {
            ids: vec![Vec::new(); RowKind::ALL.len()],
            at: HashMap::default(),
            first: HashMap::default(),
            places: HashMap::default(),
        };
        for part in &study.parts {
            let row = rows.add(RowKind::Part, part.id);
            rows.first.entry(part.item).or_insert(row);
            rows.places.entry(part.item).or_default().push(row);
        }
        let mut items: Vec<Id> = Vec::new();
        for part in study.parts.iter().enumerate().filter(|(at, p)| rows.is_first(p.item, *at)) {
            items.push(part.1.item);
        }
        items.extend(document.of_kind(None, Kind::Item).map(|i| i.id).filter(|i| !rows.first.contains_key(i)));
        for item in &items {
            for feature in document.of_kind(Some(*item), Kind::Feature) {
                rows.add(RowKind::Feature, feature.id);
            }
            let places: Vec<Id> = rows.places.get(item).into_iter().flatten().map(|row| rows.ids[0][*row as usize]).collect();
            for owner in std::iter::once(*item).chain(places) {
                for operation in document.of_kind(Some(owner), Kind::Operation) {
                    rows.add(RowKind::Operation, operation.id);
                }
            }
        }
        for kind in [RowKind::Joint, RowKind::Finding, RowKind::Hold, RowKind::Removal] {
            for record in document.of_kind(None, kind.record_kind()) {
                rows.add(kind, record.id);
            }
        }
        // A study is one row, whether or not a record says so.
        rows.add(RowKind::Study, document.of_kind(None, Kind::Study).next().map_or(document.id, |r| r.id));
        rows
    }

    fn add(&mut self, kind: RowKind, id: Id) -> u32 {
        let row = u32::try_from(self.ids[kind as usize].len()).unwrap_or(super::NONE);
        self.ids[kind as usize].push(id);
        self.at.insert((kind, id), row);
        row
    }

    fn is_first(&self, item: Id, part: usize) -> bool {
        self.first.get(&item).is_some_and(|row| *row as usize == part)
    }

    /// The records of a kind.
    pub(super) fn of(&self, kind: RowKind) -> &[Id] {
        &self.ids[kind as usize]
    }

    /// The row of a record.
    pub(super) fn row(&self, kind: RowKind, id: Id) -> Option<u32> {
        self.at.get(&(kind, id)).copied()
    }

    /// The first place of an item.
    pub(super) fn first(&self, item: Id) -> Option<u32> {
        self.first.get(&item).copied()
    }

    /// Every place of an item.
    pub(super) fn places(&self, item: Id) -> &[u32] {
        self.places.get(&item).map_or(&[], Vec::as_slice)
    }
}

/// The address of a record that stands under an item or a part: `item P1/op2`.
pub(super) fn under(document: &Document, study: &Study, rows: &Rows, record: &Record) -> String {
    let short = if record.kind == Kind::Operation { "op" } else { "feature" };
    let number = document.of_kind(record.parent, record.kind).position(|r| r.id == record.id).map_or(0, |at| at + 1);
    let above = record.parent.map_or_else(String::new, |parent| match rows.row(RowKind::Part, parent) {
        Some(row) => study.parts[row as usize].label.clone(),
        None => item(document, study, rows, parent),
    });
    format!("{above}/{short}{number}")
}

/// The address of an item: by its label, or that of its first place.
pub(super) fn item(document: &Document, study: &Study, rows: &Rows, id: Id) -> String {
    let label = document.get(id).and_then(|r| r.text(Field::Label));
    let place = rows.first(id).map(|row| study.parts[row as usize].label.as_str());
    label.or(place).map_or_else(|| format!("item {id}"), |label| format!("item {label}"))
}
