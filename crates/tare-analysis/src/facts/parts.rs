//! Rows of parts: what the tree, the library and the roll-ups say of each place.

use super::RowKind;
use super::make::Making;
use std::collections::BTreeMap;
use tare_model::{Field, Id, Record};
use tare_study::{ItemRow, PartRow};
use tare_units::{Dim, Unit};

const P: RowKind = RowKind::Part;

impl Making<'_> {
    pub(super) fn parts(&mut self) {
        let study = self.study;
        let items: BTreeMap<Id, &ItemRow> = study.items.iter().map(|i| (i.id, i)).collect();
        let mut has_children = vec![false; study.parts.len()];
        study.parts.iter().filter_map(|p| p.parent).for_each(|p| has_children[p] = true);
        for (row, part) in (0_u32..).zip(&study.parts) {
            let (Some(record), Some(item)) = (self.document.get(part.id), self.document.get(part.item)) else { continue };
            self.part_texts(row, part, record, item);
            self.part_numbers(row, part, record, items.get(&part.item).copied());
            self.flag(P, "first", row, self.rows.first(part.item) == Some(row));
            self.flag(P, "inside_costed", row, part.inside_costed);
            self.flag(P, "dominant", row, item.flag(Field::Dominant));
            self.flag(P, "leaf", row, !has_children[part.described_at.unwrap_or(row as usize)]);
            if let Some(parent) = part.parent.and_then(|p| u32::try_from(p).ok()) {
                self.link(P, "parent", row, parent);
                self.link(P, "children", parent, row);
            }
            for twin in item.refers(Field::Twin).map_or_else(Vec::new, |twin| self.rows.places(twin).to_vec()) {
                self.link(P, "twin", row, twin);
                self.link(P, "twin", twin, row);
            }
        }
    }

    fn part_texts(&mut self, row: u32, part: &PartRow, record: &Record, item: &Record) {
        self.text(P, "address", row, &part.label);
        self.text(P, "name", row, &part.name);
        self.text(P, "make", row, &part.make);
        self.text(P, "form", row, item.text(Field::Form).unwrap_or(""));
        if let Some(material) = item.text(Field::Material) {
            self.text(P, "material", row, material);
            let family = self.library.material(material).map(|m| m.family.clone());
            self.text(P, "family", row, &family.unwrap_or_default());
        }
        let own = record.text(Field::Function).or(item.text(Field::Function));
        self.text(P, "own_function", row, own.unwrap_or(""));
        // What is in an assembly serves what the assembly is for, unless it says otherwise.
        let above = std::iter::successors(part.parent, |p| self.study.parts[*p].parent).find_map(|p| {
            let above = &self.study.parts[p];
            let said = |id| self.document.get(id).and_then(|r| r.text(Field::Function));
            said(above.id).or_else(|| said(above.item))
        });
        self.text(P, "function", row, own.or(above).unwrap_or(""));
    }

    fn part_numbers(&mut self, row: u32, part: &PartRow, record: &Record, item: Option<&ItemRow>) {
        let one = Unit::plain();
        let money = Unit { text: "money".to_owned(), ..Unit::of(Dim::MONEY) };
        let per_year = Unit::parse("1/a").unwrap_or_else(|_| Unit::of(Dim::ONE.div(Dim::TIME)));
        let kilogram = Unit::of(Dim::MASS);
        self.number(P, "level", row, &one, part.level as f64);
        self.number(P, "count", row, &one, part.count);
        self.number(P, "pieces", row, &one, part.pieces);
        self.number(P, "needed", row, &one, record.number(Field::Needed).unwrap_or(f64::NAN));
        self.number(P, "mass", row, &kilogram, self.at(part.mass));
        self.number(P, "cost", row, &money, self.at(part.cost));
        if let Some(item) = item {
            self.number(P, "contribution", row, &money, self.at(item.contribution));
            self.number(P, "own", row, &money, self.at(item.own));
            self.number(P, "volume", row, &per_year, self.at(item.volume));
        }
    }
}
