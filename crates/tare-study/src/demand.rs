//! Demand down the tree, before any cost: volumes of all items.

use crate::bind::Context;
use crate::builder::{Builder, Given};
use crate::lines::LineRef;
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// One use of a process calculation on an item.
#[derive(Clone, Debug)]
pub(crate) struct Use {
    pub(crate) name: String,
    pub(crate) title: String,
    pub(crate) key: String,
    pub(crate) block: u32,
    pub(crate) operation: Option<Id>,
    pub(crate) context: Context,
    /// Started pieces per good piece of the item.
    pub(crate) starts: LineRef,
    /// Whether it assembles children.
    pub(crate) assembles: bool,
}

/// What the demand pass found for one item.
#[derive(Clone, Debug, Default)]
pub(crate) struct Demand {
    pub(crate) volume: Option<LineRef>,
    pub(crate) lot: Option<LineRef>,
    pub(crate) uses: Vec<Use>,
    /// Sets of children started per good piece.
    pub(crate) sets: Option<LineRef>,
}

impl Builder<'_> {
    /// Items in the order of the parts list.
    pub(crate) fn items_in_order(&self) -> Vec<Id> {
        let mut seen = BTreeSet::new();
        self.index.parts.iter().map(|node| node.item.id).filter(|item| seen.insert(*item)).collect()
    }

    /// Items in an order in which every item comes after all items it sits in.
    fn items_top_down(&mut self, twins: &BTreeMap<Id, BTreeSet<Id>>) -> Vec<Id> {
        let (order, looped) = crate::places::top_down(&self.index.parts, twins);
        for item in looped {
            let name = self.sources.study.get(item).and_then(|r| r.text(Field::Name)).unwrap_or("?").to_owned();
            let diag = Diag::error("part-in-itself", format!("the item {name} would stand inside itself"))
                .at(Place::address(self.item_address(item)));
            self.problem(diag.hint("one of its parts holds it again; remove that part or use another item"));
        }
        order
    }

    /// Volumes and routes of all items. Needs masses (for times) and gives what cost needs.
    pub(crate) fn demand(&mut self) -> BTreeMap<Id, Demand> {
        let mut part_volumes: BTreeMap<usize, LineRef> = BTreeMap::new();
        let mut demands: BTreeMap<Id, Demand> = BTreeMap::new();
        let tops: Vec<Id> = self.index.parts.iter().filter(|p| p.parent.is_none()).map(|p| p.item.id).collect();
        let stated = tops.iter().any(|item| {
            let maker = self.organisation(*item);
            self.scenario_line(maker, "volume").is_some()
        });
        if !stated && self.scenario_line(None, "volume").is_none() {
            let diag = Diag::error("volume-missing", "the scenario states no volume, so nothing can be costed")
                .at(Place::address("scenario/volume"));
            self.problem(diag.hint("add a value: quantity `volume` on the scenario, such as `20000 1/a`"));
        }
        let twins = self.twins();
        let mut volumes: BTreeMap<Id, Option<LineRef>> = BTreeMap::new();
        for item in self.items_top_down(&twins) {
            let together: Vec<Id> = std::iter::once(item).chain(twins.get(&item).into_iter().flatten().copied()).collect();
            for one in &together {
                if !volumes.contains_key(one) {
                    let volume = self.item_volume(*one, &mut part_volumes, &demands);
                    volumes.insert(*one, volume);
                }
            }
            let mut demand = Demand { volume: volumes[&item], ..Demand::default() };
            let lots_of: Vec<LineRef> = together.iter().filter_map(|one| volumes[one]).collect();
            self.route(item, &mut demand, &lots_of);
            demands.insert(item, demand);
        }
        demands
    }

    /// Items that are made in one run with others: each with those it names as its twin and those that name it.
    fn twins(&self) -> BTreeMap<Id, BTreeSet<Id>> {
        let mut twins: BTreeMap<Id, BTreeSet<Id>> = BTreeMap::new();
        for item in &self.index.items {
            let Some(other) = item.refers(Field::Twin).filter(|o| *o != item.id) else { continue };
            twins.entry(item.id).or_default().insert(other);
            twins.entry(other).or_default().insert(item.id);
        }
        twins
    }

    /// Pieces of an item a year over all its uses, with its service share. What lies inside an item that is costed as a whole is its
    /// supplier's volume, not the item's own here.
    fn item_volume(
        &mut self,
        item: Id,
        part_volumes: &mut BTreeMap<usize, LineRef>,
        demands: &BTreeMap<Id, Demand>,
    ) -> Option<LineRef> {
        let mut volumes = Vec::new();
        for part in self.index.parts_of_item.get(&item).cloned().unwrap_or_default() {
            if let Some(volume) = self.part_volume(part, part_volumes, demands) {
                part_volumes.insert(part, volume);
                volumes.push(volume);
            }
        }
        if volumes.is_empty() {
            return None;
        }
        let subject = self.record_subject(item);
        let service = self.chosen(subject, item, "service_share");
        let mut given = vec![("parts", Given::Many(&volumes))];
        given.extend(service.map(|s| ("service", Given::One(s))));
        self.roll(subject, "demand", "roll-ups/item-volume", &given, "volume")
    }

    /// Pieces a year of one place: over all uses of the place it sits in, with that item's service share and rejects.
    fn part_volume(&mut self, part: usize, known: &BTreeMap<usize, LineRef>, demands: &BTreeMap<Id, Demand>) -> Option<LineRef> {
        if !self.index.places.open[part] {
            return None;
        }
        let node = self.index.parts[part].clone();
        let subject = self.record_subject(node.record.id);
        let count = self.count_line(part);
        let maker = self.organisation(node.item.id);
        let Some(parent) = node.parent else {
            let product = self.scenario_line(maker, "volume")?;
            let sets = self.one("sets", "no assembly step with a yield above it");
            let given = [("parents", Given::One(product)), ("sets", Given::One(sets)), ("count", Given::One(count))];
            return self.roll(subject, "demand", "roll-ups/part-volume", &given, "volume");
        };
        let above = self.index.parts[parent].item.id;
        let uses: Vec<LineRef> = self.index.uses(parent).filter_map(|p| known.get(&p).copied()).collect();
        if uses.is_empty() {
            return None;
        }
        let sets = match demands.get(&above).and_then(|d| d.sets) {
            Some(line) => line,
            None => self.one("sets", "no assembly step with a yield above it"),
        };
        let mut given = vec![("parents", Given::Many(&uses)), ("sets", Given::One(sets)), ("count", Given::One(count))];
        let above_subject = self.record_subject(above);
        given.extend(self.chosen(above_subject, above, "service_share").map(|s| ("service", Given::One(s))));
        // Makers may serve different numbers of products: each counts its own.
        let buyer = self.organisation(above);
        let (own, buyers) = (self.scenario_line(maker, "volume"), self.scenario_line(buyer, "volume"));
        if let (Some(own), Some(buyers)) = (own, buyers)
            && own != buyers
        {
            given.extend([("own_products", Given::One(own)), ("buyers_products", Given::One(buyers))]);
        }
        self.roll(subject, "demand", "roll-ups/part-volume", &given, "volume")
    }

    /// The exact number one, shared.
    pub(crate) fn one(&mut self, name: &str, why: &str) -> LineRef {
        self.shared_leaf("definition", name, |subject| crate::builder::LeafSpec {
            subject,
            name: name.to_owned(),
            quantity: crate::builder::plain(1.0),
            word: None,
            evidence: crate::lines::Evidence::Derived,
            source: format!("definition: {why}"),
            record: None,
            shared: true,
        })
    }

    /// The item's organisation: its own, or the one of the item it sits in.
    pub(crate) fn organisation(&self, item: Id) -> Option<Id> {
        let mut at = Some(item);
        for _ in 0..=crate::circle::LEVELS {
            let id = at?;
            if let Some(own) = self.sources.study.get(id).and_then(|r| r.refers(Field::Organisation)) {
                return Some(own);
            }
            at = self.index.home(id).and_then(|p| self.index.parts[p].parent).map(|p| self.index.parts[p].item.id);
        }
        None
    }

    /// Whether an item is costed as a whole: bought, or said to be.
    pub(crate) fn costed_here(&self, item: Id) -> bool {
        self.sources.study.get(item).is_some_and(crate::places::costed_here)
    }

    /// Whether every use of this part lies inside an item that is costed as a whole.
    pub(crate) fn inside_costed(&self, part: usize) -> bool {
        !self.index.places.open[part]
    }
}
