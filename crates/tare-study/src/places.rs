//! Where items sit. An item has one description: the place whose children, joints and work are listed. Its other places may list
//! nothing, and stand for the same thing.

use crate::index::{Index, PartNode};
use rustc_hash::FxHashMap as HashMap;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use tare_model::{Field, Id, Record};

/// What the parts tree says of places as a whole; worked out once.
#[derive(Clone, Debug, Default)]
pub(crate) struct Places {
    /// Items in an order in which every item comes after all items it sits in.
    pub(crate) top_down: Vec<Id>,
    /// Items that would stand inside themselves, and what sits in them.
    pub(crate) looped: Vec<Id>,
    /// The place that stands for an item: outside everything that is costed as a whole if one is, with listed children if one has.
    pub(crate) home: HashMap<Id, usize>,
    /// For a place without listed children: the place of its item that lists them.
    described: HashMap<usize, usize>,
    /// The places that a describing place stands for as well.
    referring: HashMap<usize, Vec<usize>>,
    /// How many of each place are in the product.
    pub(crate) pieces: Vec<f64>,
    /// As `pieces`, without those inside items that are costed as a whole.
    pub(crate) paid: Vec<f64>,
    /// Whether a place lies outside every item that is costed as a whole, seen from at least one of its uses.
    pub(crate) open: Vec<bool>,
}

/// Whether an item is costed as a whole: bought, or said to be.
pub(crate) fn costed_here(item: &Record) -> bool {
    item.text(Field::Make).is_some_and(|m| m != "make") || item.text(Field::Costed) == Some("here")
}

/// Orders items so that each comes after all it sits in; twins share their lots, so that the volumes of both come before either's route.
pub(crate) fn top_down(parts: &[PartNode<'_>], twins: &BTreeMap<Id, BTreeSet<Id>>) -> (Vec<Id>, Vec<Id>) {
    let mut needs: BTreeMap<Id, BTreeSet<Id>> = BTreeMap::new();
    let mut feeds: BTreeMap<Id, BTreeSet<Id>> = BTreeMap::new();
    let mut first: Vec<Id> = Vec::new();
    for node in parts {
        if !needs.contains_key(&node.item.id) {
            first.push(node.item.id);
        }
        let above = needs.entry(node.item.id).or_default();
        if let Some(parent) = node.parent {
            let parent = parts[parent].item.id;
            above.insert(parent);
            feeds.entry(parent).or_default().insert(node.item.id);
        }
    }
    let alone = if twins.is_empty() { BTreeMap::new() } else { needs.clone() };
    for (item, others) in twins {
        let above: Vec<Id> = others.iter().filter_map(|o| alone.get(o)).flatten().copied().filter(|a| a != item).collect();
        let Some(needed) = needs.get_mut(item) else { continue };
        for parent in above {
            needed.insert(parent);
            feeds.entry(parent).or_default().insert(*item);
        }
    }
    let mut ready: VecDeque<Id> = first.iter().copied().filter(|i| needs[i].is_empty()).collect();
    let mut order = Vec::with_capacity(first.len());
    while let Some(item) = ready.pop_front() {
        order.push(item);
        for below in feeds.remove(&item).unwrap_or_default() {
            if let Some(above) = needs.get_mut(&below) {
                above.remove(&item);
                if above.is_empty() {
                    ready.push_back(below);
                }
            }
        }
    }
    let done: BTreeSet<Id> = order.iter().copied().collect();
    let looped = first.into_iter().filter(|i| !done.contains(i)).collect();
    (order, looped)
}

impl Index<'_> {
    /// Works out the places once all parts are known.
    pub(crate) fn arrange_places(&mut self) {
        let (order, looped) = top_down(&self.parts, &BTreeMap::new());
        let mut places = Places { top_down: order, looped, ..Places::default() };
        self.describe(&mut places);
        let n = self.parts.len();
        (places.pieces, places.paid, places.open) = (vec![0.0; n], vec![0.0; n], vec![false; n]);
        // What stands inside itself is counted as it is listed: parents come before children there.
        let of = |item: &Id| self.parts_of_item[item].clone();
        let mut listed: Vec<usize> = places.looped.iter().flat_map(of).collect();
        listed.sort_unstable();
        let order: Vec<usize> = places.top_down.iter().flat_map(of).chain(listed).collect();
        for place in order {
            self.count_place(place, &mut places);
        }
        for (item, of_item) in &self.parts_of_item {
            let listed = |p: &&usize| !self.parts[**p].children.is_empty();
            let open = || of_item.iter().filter(|p| places.open[**p]);
            let home = open().find(listed).or_else(|| open().next()).or_else(|| of_item.iter().find(listed)).or(of_item.first());
            places.home.extend(home.map(|home| (*item, *home)));
        }
        self.places = places;
    }

    /// Finds the describing place of every place that lists nothing. What stands inside itself is left as it is listed.
    fn describe(&self, places: &mut Places) {
        let mut inside = vec![false; self.parts.len()];
        for (at, node) in self.parts.iter().enumerate() {
            inside[at] = node.parent.is_some_and(|p| inside[p] || costed_here(self.parts[p].item));
        }
        for item in &places.top_down {
            let of_item = &self.parts_of_item[item];
            let listed = || of_item.iter().copied().filter(|p| !self.parts[*p].children.is_empty());
            let Some(body) = listed().find(|p| !inside[*p]).or_else(|| listed().next()) else { continue };
            for place in of_item.iter().copied().filter(|p| self.parts[*p].children.is_empty()) {
                places.described.insert(place, body);
                places.referring.entry(body).or_default().push(place);
            }
        }
    }

    fn count_place(&self, place: usize, places: &mut Places) {
        let node = &self.parts[place];
        let Some(parent) = node.parent else {
            (places.pieces[place], places.paid[place], places.open[place]) = (node.count, node.count, true);
            return;
        };
        let above: Vec<usize> =
            std::iter::once(parent).chain(places.referring.get(&parent).into_iter().flatten().copied()).collect();
        places.pieces[place] = node.count * above.iter().map(|p| places.pieces[*p]).sum::<f64>();
        if !costed_here(self.parts[parent].item) {
            places.paid[place] = node.count * above.iter().map(|p| places.paid[*p]).sum::<f64>();
            places.open[place] = above.iter().any(|p| places.open[*p]);
        }
    }

    /// The place that stands for an item.
    pub(crate) fn home(&self, item: Id) -> Option<usize> {
        self.places.home.get(&item).copied()
    }

    /// The place that describes a part's inside: itself, or that of its item which lists children.
    pub(crate) fn body(&self, part: usize) -> usize {
        self.places.described.get(&part).copied().unwrap_or(part)
    }

    /// Whether nothing is listed inside a part, wherever its item is described.
    pub(crate) fn is_leaf(&self, part: usize) -> bool {
        self.parts[self.body(part)].children.is_empty()
    }

    /// The uses of what is listed under a place: itself and the places it describes.
    pub(crate) fn uses(&self, place: usize) -> impl Iterator<Item = usize> {
        std::iter::once(place).chain(self.places.referring.get(&place).into_iter().flatten().copied())
    }

    /// The operations of an item in order: its own, and those recorded at the place that describes it.
    pub(crate) fn work_of(&self, item: Id) -> Vec<Id> {
        let home = self.home(item);
        let places = home.into_iter().chain(home.map(|h| self.body(h)).filter(|b| Some(*b) != home));
        let there = places.flat_map(|p| self.operations(self.parts[p].record.id));
        self.operations(item).iter().chain(there).map(|o| o.id).collect()
    }

    /// Whether what is recorded at a place is work that the study pays: it describes an item that is made, outside bought ones.
    pub(crate) fn pays(&self, place: usize) -> bool {
        let item = self.parts[place].item;
        let home = self.home(item.id);
        !costed_here(item) && home.is_some_and(|home| self.places.open[home] && self.body(home) == place)
    }
}
