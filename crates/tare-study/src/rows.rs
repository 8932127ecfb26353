//! Rows of items and parts.

use crate::builder::{Builder, Given};
use crate::cost::ItemCost;
use crate::demand::Demand;
use crate::lines::LineRef;
use crate::part_cost::PartCost;
use crate::tables::{ItemRow, PartRow, Totals};
use std::collections::{BTreeMap, BTreeSet};
use tare_model::{Field, Id};

impl Builder<'_> {
    pub(crate) fn item_rows(
        &mut self,
        part_costs: &[PartCost],
        costs: &BTreeMap<Id, ItemCost>,
        demands: &BTreeMap<Id, Demand>,
        totals: &mut Totals,
    ) -> Vec<ItemRow> {
        let mut rows = Vec::new();
        let mut seen = BTreeSet::new();
        let mut dominant = Vec::new();
        for part in 0..self.index.parts.len() {
            let record = self.index.parts[part].item;
            let item = record.id;
            if !seen.insert(item) || self.inside_costed(part) {
                continue;
            }
            let subject = self.record_subject(item);
            let places = self.index.parts_of_item.get(&item).cloned().unwrap_or_default();
            let (counts, lines): (Vec<LineRef>, Vec<LineRef>) =
                places.iter().filter_map(|p| Some((*p, part_costs[*p].added?))).map(|(p, l)| (self.pieces_line(p), l)).unzip();
            let given = [("own", Given::Many(&[])), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
            let contribution =
                if lines.is_empty() { None } else { self.roll(subject, "contribution", "roll-ups/part-kind", &given, "cost") };
            let is_dominant = record.flag(Field::Dominant);
            if is_dominant {
                dominant.extend(contribution);
            }
            let own = costs.get(&item).map(|c| c.own.values().copied().collect::<Vec<_>>()).unwrap_or_default();
            let own = if own.is_empty() {
                None
            } else {
                self.roll(subject, "own cost", "roll-ups/sum", &[("terms", Given::Many(&own))], "total")
            };
            let quotes: Vec<(Id, LineRef)> = self
                .quotes(item)
                .into_iter()
                .filter_map(|q| {
                    let subject = self.record_subject(q);
                    Some((q, self.chosen(subject, q, "price")?))
                })
                .collect();
            let mass = self.item_mass(item);
            let rough =
                if self.costed_here(item) || !self.index.parts[part].children.is_empty() { None } else { self.rough(item, mass) };
            let (address, name) = (self.item_address(item), record.text(Field::Name).unwrap_or("").to_owned());
            let uncosted = self.uncosted.contains(&item);
            rows.push(ItemRow {
                id: item,
                address,
                name,
                volume: demands.get(&item).and_then(|d| d.volume),
                contribution,
                own,
                mass,
                quotes,
                rough,
                dominant: is_dominant,
                uncosted,
            });
        }
        if let Some(total) = totals.cost {
            let subject = self.subject("product", "product", None);
            totals.without_dominant = self.roll(
                subject,
                "without dominant",
                "roll-ups/without",
                &[("total", Given::One(total)), ("dominant", Given::Many(&dominant))],
                "rest",
            );
        }
        rows
    }

    pub(crate) fn rough(&mut self, item: Id, mass: Option<LineRef>) -> Option<LineRef> {
        let material = self.sources.study.get(item)?.text(Field::Material)?.to_owned();
        self.sources.library.material(&material)?;
        let organisation = self.organisation(item);
        let (price, _) = self.material_price(organisation, &material)?;
        let subject = self.record_subject(item);
        self.roll(subject, "rough", "roll-ups/rough-cost", &[("mass", Given::One(mass?)), ("price", Given::One(price))], "cost")
    }

    pub(crate) fn part_rows(&mut self, part_costs: &[PartCost], demands: &BTreeMap<Id, Demand>) -> Vec<PartRow> {
        (0..self.index.parts.len())
            .map(|part| {
                let node = self.index.parts[part].clone();
                let text = |field| node.item.text(field).unwrap_or("").to_owned();
                PartRow {
                    id: node.record.id,
                    item: node.item.id,
                    label: node.label.clone(),
                    name: text(Field::Name),
                    level: node.level,
                    parent: node.parent,
                    count: node.count,
                    pieces: self.pieces(part),
                    material: node
                        .item
                        .text(Field::Constituents)
                        .unwrap_or(node.item.text(Field::Material).unwrap_or(""))
                        .to_owned(),
                    make: text(Field::Make),
                    processes: demands
                        .get(&node.item.id)
                        .map(|d| d.uses.iter().map(|u| u.title.clone()).collect())
                        .unwrap_or_default(),
                    mass: self.adopted(part),
                    cost: part_costs[part].total,
                    inside_costed: self.inside_costed(part),
                }
            })
            .collect()
    }
}
