//! Rows of joints, features, operations, findings, holds, removals and of the study itself.

use super::make::Making;
use super::{RowKind, is_fixed, places};
use std::collections::BTreeMap;
use tare_model::{Field, Id, Kind, Record};
use tare_study::{JointRow, LineRef};
use tare_units::{Dim, Unit};

impl<'a> Making<'a> {
    /// The records of a kind, with their rows.
    fn records(&self, kind: RowKind) -> Vec<(u32, &'a Record)> {
        let document = self.document;
        (0_u32..).zip(self.rows.of(kind)).filter_map(|(row, id)| Some((row, document.get(*id)?))).collect()
    }

    fn called(&mut self, kind: RowKind, row: u32, record: &Record, address: &str) {
        self.text(kind, "address", row, address);
        self.text(kind, "name", row, record.text(Field::Name).unwrap_or(""));
    }

    pub(super) fn joints(&mut self) {
        const J: RowKind = RowKind::Joint;
        let census: BTreeMap<Id, &JointRow> = self.study.joints.iter().map(|j| (j.id, j)).collect();
        let mut removals: BTreeMap<Id, f64> = BTreeMap::new();
        for (_, removal) in self.records(RowKind::Removal) {
            removal.all_refers(Field::Joints).iter().for_each(|joint| *removals.entry(*joint).or_default() += 1.0);
        }
        let (one, second) = (Unit::plain(), Unit::of(Dim::TIME));
        for (row, record) in self.records(J) {
            let address = record.text(Field::Label).or(record.text(Field::Name)).unwrap_or("joint").to_owned();
            self.called(J, row, record, &address);
            self.text(J, "method", row, record.text(Field::Calculation).unwrap_or(""));
            self.text(J, "function", row, record.text(Field::Function).unwrap_or(""));
            self.number(J, "removals", row, &one, removals.get(&record.id).copied().unwrap_or(0.0));
            if let Some(found) = census.get(&record.id) {
                self.number(J, "count", row, &one, self.study.value(found.count));
                self.number(J, "assemblies", row, &one, found.assemblies);
                self.number(J, "manual", row, &second, self.at(found.manual));
                if let Some(assembly) = found.assembly.and_then(|a| u32::try_from(a).ok()) {
                    self.link(J, "assembly", row, assembly);
                }
            }
            let parts = self.rows_of(RowKind::Part, record.all_refers(Field::Parts));
            self.links(J, "parts", row, &parts);
            parts.iter().for_each(|part| self.link(RowKind::Part, "joints", *part, row));
            if let Some(fastener) = record.refers(Field::Fastener).and_then(|f| self.row(RowKind::Part, f)) {
                self.link(J, "fastener", row, fastener);
                self.link(RowKind::Part, "fastens", fastener, row);
            }
        }
    }

    /// Features and operations, and the parts whose items carry them.
    pub(super) fn work(&mut self) {
        for (kind, relation) in [(RowKind::Feature, "features"), (RowKind::Operation, "operations")] {
            for (row, record) in self.records(kind) {
                let address = places::under(self.document, self.study, &self.rows, record);
                self.called(kind, row, record, &address);
                self.text(kind, "calculation", row, record.text(Field::Calculation).unwrap_or(""));
                let Some(owner) = record.parent else { continue };
                // Work may stand at the place itself; else it is of the item, wherever that sits.
                let owners = match self.row(RowKind::Part, owner) {
                    Some(part) => vec![part],
                    None => self.rows.places(owner).to_vec(),
                };
                if let Some(first) = owners.first() {
                    self.link(kind, "part", row, *first);
                }
                owners.iter().for_each(|part| self.link(RowKind::Part, relation, *part, row));
                if let Some(joint) = record.refers(Field::Joint).and_then(|j| self.row(RowKind::Joint, j)) {
                    self.link(kind, "joint", row, joint);
                    self.link(RowKind::Joint, "features", joint, row);
                }
            }
        }
    }

    /// Findings, removals and holds, and what they are about.
    pub(super) fn seen(&mut self) {
        for kind in [RowKind::Finding, RowKind::Removal, RowKind::Hold] {
            for (row, record) in self.records(kind) {
                let address = format!("{} {}", record.kind, record.text(Field::Name).unwrap_or(""));
                self.called(kind, row, record, &address);
                for (name, field) in [("group", Field::Group), ("severity", Field::Severity), ("says", Field::Says)] {
                    if kind == RowKind::Finding {
                        self.text(kind, name, row, record.text(field).unwrap_or(""));
                    }
                }
                match kind {
                    RowKind::Removal => self.flag(kind, "destructive", row, record.flag(Field::Destructive)),
                    RowKind::Hold => self.text(kind, "state", row, record.text(Field::State).unwrap_or("")),
                    _ => {}
                }
                self.about(kind, row, record);
            }
        }
    }

    /// What a finding, removal or hold is about; a hold is about what its removals take off.
    fn about(&mut self, kind: RowKind, row: u32, record: &Record) {
        let document = self.document;
        let removals: Vec<&Record> = record.all_refers(Field::Removals).iter().filter_map(|id| document.get(*id)).collect();
        for removal in &removals {
            if let Some(at) = self.row(RowKind::Removal, removal.id) {
                self.link(RowKind::Hold, "removals", row, at);
            }
        }
        for source in std::iter::once(record).chain(removals) {
            let parts = self.rows_of(RowKind::Part, source.all_refers(Field::Parts));
            let joints = self.rows_of(RowKind::Joint, source.all_refers(Field::Joints));
            self.links(kind, "parts", row, &parts);
            self.links(kind, "joints", row, &joints);
            if kind == RowKind::Finding {
                parts.iter().for_each(|part| self.link(RowKind::Part, "findings", *part, row));
                joints.iter().for_each(|joint| self.link(RowKind::Joint, "findings", *joint, row));
            }
        }
    }

    /// The row of the study, its totals and yardsticks.
    pub(super) fn whole(&mut self) {
        const S: RowKind = RowKind::Study;
        self.text(S, "address", 0, "product");
        if let Some(record) = self.document.of_kind(None, Kind::Study).next() {
            self.text(S, "name", 0, record.text(Field::Name).unwrap_or(""));
            let client = Field::from_word("client").and_then(|field| record.text(field));
            self.text(S, "client", 0, client.unwrap_or(""));
        }
        let totals = &self.study.totals;
        let fixed = [
            ("cost", "money", totals.cost),
            ("without_dominant", "money", totals.without_dominant),
            ("mass", "kg", totals.mass),
            ("manual", "s", totals.manual),
            ("ideal_share", "1", totals.ideal_share),
            ("investment", "money", totals.investment),
            ("volume", "1/a", totals.volume),
        ];
        for (name, unit, line) in fixed {
            self.total(name, unit, line);
        }
        for (id, line, _) in &totals.yardsticks {
            let named = self.document.get(*id).and_then(|r| r.text(Field::Name)).map(column_name);
            if let Some(name) = named.filter(|n| !n.is_empty() && !is_fixed(S, n)) {
                let unit = self.study.lines.unit(*line).clone();
                self.number(S, &name, 0, &unit, self.study.value(*line));
            }
        }
        for (relation, kind) in [("parts", RowKind::Part), ("joints", RowKind::Joint), ("findings", RowKind::Finding)] {
            let all: Vec<u32> = (0_u32..).take(self.rows.of(kind).len()).collect();
            all.iter().for_each(|row| self.link(S, relation, 0, *row));
        }
    }

    fn total(&mut self, name: &str, unit: &str, line: Option<LineRef>) {
        if let Ok(unit) = Unit::parse(unit) {
            self.number(RowKind::Study, name, 0, &unit, self.at(line));
        }
    }
}

/// A name as a column is called: small letters, digits and `_`.
pub(super) fn column_name(name: &str) -> String {
    let mut out = String::new();
    for c in name.to_lowercase().chars() {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    out.trim_end_matches('_').to_owned()
}
