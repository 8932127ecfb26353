//! Rows of items and parts.

use crate::builder::{Builder, Given};
use crate::cost::ItemCost;
use crate::demand::Demand;
use crate::lines::{LineRef, SubjectId};
use crate::part_cost::PartCost;
use crate::tables::{ItemRow, PartRow, Totals};
use std::collections::BTreeMap;
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
        let mut dominant = Vec::new();
        for item in self.items_in_order() {
            let Some(part) = self.index.home(item).filter(|p| !self.inside_costed(*p)) else { continue };
            let record = self.index.parts[part].item;
            let subject = self.record_subject(item);
            let places = self.index.parts_of_item.get(&item).cloned().unwrap_or_default();
            let (counts, lines): (Vec<LineRef>, Vec<LineRef>) =
                places.iter().filter_map(|p| Some((*p, part_costs[*p].added?))).map(|(p, l)| (self.pieces_line(p), l)).unzip();
            let given = [("own", Given::Many(&[])), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
            let contribution =
                if lines.is_empty() { None } else { self.roll(subject, "contribution", "roll-ups/part-kind", &given, "cost") };
            let is_dominant = record.flag(Field::Dominant);
            if is_dominant {
                dominant.extend(self.brought(subject, &places, part_costs));
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
            let rough = if self.costed_here(item) || !self.index.is_leaf(part) { None } else { self.rough(item, mass) };
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

    /// What an item brings to the product with everything that is in it: its places that lie in no other dominant item, each at the
    /// price at which it reaches its parent.
    fn brought(&mut self, subject: SubjectId, places: &[usize], part_costs: &[PartCost]) -> Option<LineRef> {
        let within = |part: usize| {
            std::iter::successors(self.index.parts[part].parent, |p| self.index.parts[*p].parent)
                .any(|p| self.index.parts[p].item.flag(Field::Dominant))
        };
        let own: Vec<usize> = places.iter().copied().filter(|p| !within(*p)).collect();
        let (counts, lines): (Vec<LineRef>, Vec<LineRef>) =
            own.into_iter().filter_map(|p| Some((p, part_costs[p].total?))).map(|(p, l)| (self.pieces_line(p), l)).unzip();
        if lines.is_empty() {
            return None;
        }
        let given = [("own", Given::Many(&[])), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
        self.roll(subject, "brought", "roll-ups/part-kind", &given, "cost")
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
                    kinds: part_costs[part].kinds.iter().map(|(kind, line)| (*kind, *line)).collect(),
                    inside_costed: self.inside_costed(part),
                    described_at: Some(self.index.body(part)).filter(|body| *body != part),
                }
            })
            .collect()
    }
}
