//! Gathers rows, columns and relations, and closes them into [`Facts`].

use super::places::Rows;
use super::texts::Gathered;
use super::{Column, Data, Facts, NONE, RELATIONS, Relation, RowKind, Table, Truth};
use rustc_hash::{FxHashMap as HashMap, FxHashSet as HashSet};
use std::collections::BTreeMap;
use tare_library::Library;
use tare_model::{Document, Id};
use tare_study::{LineRef, Study};
use tare_units::{Dim, Unit};

/// What is read, the rows there are, and what has been found of them so far.
pub(super) struct Making<'a> {
    pub(super) document: &'a Document,
    pub(super) study: &'a Study,
    pub(super) library: &'a Library,
    pub(super) rows: Rows,
    /// The study's currency, as the units write it.
    pub(super) currency: Option<tare_units::Currency>,
    texts: Gathered,
    /// By kind of row.
    columns: Vec<Columns>,
    links: BTreeMap<(RowKind, &'static str), Vec<(u32, u32)>>,
}

/// Columns of one kind of rows, by name: a study has tens of thousands of cells, and each is looked up here.
#[derive(Clone, Debug, Default)]
struct Columns {
    names: HashMap<String, usize>,
    of_name: Vec<Vec<(Key, Data)>>,
}

/// What tells columns of one name apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Number(Dim),
    Text,
    Flag,
}

pub(super) fn facts(document: &Document, study: &Study, library: &Library) -> Facts {
    let mut making = Making {
        document,
        study,
        library,
        rows: Rows::new(document, study),
        currency: tare_units::Currency::parse(&study.currency),
        texts: Gathered::default(),
        columns: vec![Columns::default(); RowKind::ALL.len()],
        links: BTreeMap::new(),
    };
    making.parts();
    making.joints();
    making.work();
    making.seen();
    making.whole();
    making.stated();
    making.close()
}

impl Making<'_> {
    /// The value of a line, NaN where there is none.
    pub(super) fn at(&self, line: Option<LineRef>) -> f64 {
        line.map_or(f64::NAN, |line| self.study.value(line))
    }

    /// The row of a record among its kind.
    pub(super) fn row(&self, kind: RowKind, id: Id) -> Option<u32> {
        self.rows.row(kind, id)
    }

    /// The rows of records that are there, in the order named.
    pub(super) fn rows_of(&self, kind: RowKind, ids: &[Id]) -> Vec<u32> {
        ids.iter().filter_map(|id| self.row(kind, *id)).collect()
    }

    fn entry(&mut self, kind: RowKind, name: &str, key: Key, empty: impl FnOnce(usize) -> Data) -> &mut Data {
        let rows = self.rows.of(kind).len();
        let columns = &mut self.columns[kind as usize];
        let at = match columns.names.get(name) {
            Some(at) => *at,
            None => {
                columns.of_name.push(Vec::new());
                *columns.names.entry(name.to_owned()).or_insert(columns.of_name.len() - 1)
            }
        };
        let of_name = &mut columns.of_name[at];
        let at = of_name.iter().position(|(k, _)| *k == key).unwrap_or_else(|| {
            of_name.push((key, empty(rows)));
            of_name.len() - 1
        });
        &mut of_name[at].1
    }

    /// Writes a number; what is not finite is not known.
    pub(super) fn number(&mut self, kind: RowKind, name: &str, row: u32, unit: &Unit, value: f64) {
        if !value.is_finite() {
            return;
        }
        let empty = |rows| Data::Numbers { dim: unit.dim.to_string(), unit: shown_unit(unit), values: vec![f64::NAN; rows] };
        if let Data::Numbers { values, .. } = self.entry(kind, name, Key::Number(unit.dim), empty) {
            values[row as usize] = value;
        }
    }

    /// Writes a text; an empty one is none.
    pub(super) fn text(&mut self, kind: RowKind, name: &str, row: u32, text: &str) {
        if text.is_empty() {
            return;
        }
        let code = self.texts.code(text);
        if let Data::Texts(codes) = self.entry(kind, name, Key::Text, |rows| Data::Texts(vec![NONE; rows])) {
            codes[row as usize] = code;
        }
    }

    /// Writes a truth.
    pub(super) fn flag(&mut self, kind: RowKind, name: &str, row: u32, holds: bool) {
        let empty = |rows| Data::Flags(vec![Truth::UNKNOWN; rows]);
        if let Data::Flags(flags) = self.entry(kind, name, Key::Flag, empty) {
            flags[row as usize] = Truth::of(holds);
        }
    }

    /// Relates a row to another.
    pub(super) fn link(&mut self, kind: RowKind, name: &'static str, from: u32, to: u32) {
        self.links.entry((kind, name)).or_default().push((from, to));
    }

    /// Relates a row to others, in the order given.
    pub(super) fn links(&mut self, kind: RowKind, name: &'static str, from: u32, to: &[u32]) {
        to.iter().for_each(|to| self.link(kind, name, from, *to));
    }

    fn close(self) -> Facts {
        let (texts, finals) = self.texts.sort();
        let mut tables: Vec<Table> =
            RowKind::ALL.iter().map(|kind| Table { ids: self.rows.of(*kind).to_vec(), ..Table::default() }).collect();
        tables[RowKind::Part as usize].items = self.study.parts.iter().map(|p| p.item).collect();
        for (table, mut columns) in tables.iter_mut().zip(self.columns) {
            // sorted, so that a column is found by halving and one study always gives one form
            let names: BTreeMap<String, usize> = columns.names.into_iter().collect();
            for (name, at) in names {
                let mut of_name = std::mem::take(&mut columns.of_name[at]);
                of_name.sort_by_key(|(key, _)| *key);
                for (_, mut data) in of_name {
                    if let Data::Texts(codes) = &mut data {
                        codes.iter_mut().filter(|c| **c != NONE).for_each(|c| *c = finals[*c as usize]);
                    }
                    table.columns.push(Column { name: name.clone(), data });
                }
            }
        }
        let mut links = self.links;
        for (kind, name, _, many) in RELATIONS {
            let pairs = links.remove(&(*kind, *name)).unwrap_or_default();
            let rows = tables[*kind as usize].ids.len();
            tables[*kind as usize].relations.push(((*name).to_owned(), relation(rows, pairs, *many)));
        }
        Facts { currency: self.study.currency.clone(), texts, tables }
    }
}

/// A relation from pairs: each pair once, in the order they came for each row.
fn relation(rows: usize, pairs: Vec<(u32, u32)>, many: bool) -> Relation {
    if !many {
        let mut to = vec![NONE; rows];
        for (from, target) in pairs {
            to[from as usize] = target;
        }
        return Relation::One(to);
    }
    let mut by_row: Vec<Vec<u32>> = vec![Vec::new(); rows];
    let mut seen: HashSet<(u32, u32)> = HashSet::default();
    for (from, target) in pairs {
        if seen.insert((from, target)) {
            by_row[from as usize].push(target);
        }
    }
    let mut starts = Vec::with_capacity(rows + 1);
    starts.push(0);
    let mut targets = Vec::new();
    for row in by_row {
        targets.extend(row);
        starts.push(u32::try_from(targets.len()).unwrap_or(NONE));
    }
    Relation::Many { starts, targets }
}

/// The text of a unit to show; a currency becomes `money`, for amounts are the study's.
fn shown_unit(unit: &Unit) -> String {
    match unit.currency {
        Some(currency) => unit.text.replace(currency.code(), "money"),
        None => unit.text.clone(),
    }
}
