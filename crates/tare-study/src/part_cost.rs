//! Cost up the tree: own work, children times their counts, rejects, and what is added where a part leaves its maker.

use crate::builder::{Builder, Given};
use crate::cost::ItemCost;
use crate::demand::Demand;
use crate::kinds::{CostKind, Costs};
use crate::lines::LineRef;
use crate::markup::Base;
use std::collections::BTreeMap;
use tare_model::{Field, Id};

/// What one part hands to its parent.
#[derive(Clone, Debug, Default)]
pub(crate) struct PartCost {
    pub(crate) kinds: Costs,
    pub(crate) bases: BTreeMap<Base, LineRef>,
    pub(crate) total: Option<LineRef>,
    /// Added at this part: own cost, scrap of children, mark-ups.
    pub(crate) added: Option<LineRef>,
    pub(crate) scrap_of_children: Option<LineRef>,
    pub(crate) markups: Option<LineRef>,
}

impl Builder<'_> {
    /// Costs of all parts, children before parents.
    pub(crate) fn part_costs(&mut self, costs: &BTreeMap<Id, ItemCost>, demands: &BTreeMap<Id, Demand>) -> Vec<PartCost> {
        let mut found: Vec<PartCost> = vec![PartCost::default(); self.index.parts.len()];
        let order: Vec<Id> = self.index.places.top_down.iter().rev().copied().collect();
        for item in order {
            let places = self.index.parts_of_item[&item].clone();
            // A place that lists nothing takes what is made at the place that does; each leaves its maker for itself.
            let listing: Vec<usize> = places.iter().copied().filter(|p| self.index.body(*p) == *p).collect();
            let mut made: BTreeMap<usize, (PartCost, Costs)> = BTreeMap::new();
            for body in listing {
                if self.index.uses(body).any(|p| !self.inside_costed(p)) {
                    made.insert(body, self.made(body, &found, costs, demands));
                }
            }
            for place in places {
                if !self.inside_costed(place)
                    && let Some((cost, own)) = made.get(&self.index.body(place))
                {
                    found[place] = self.leaving(place, cost.clone(), own);
                }
            }
        }
        found
    }

    /// What an item costs its maker at one place, children included.
    fn made(
        &mut self,
        part: usize,
        found: &[PartCost],
        costs: &BTreeMap<Id, ItemCost>,
        demands: &BTreeMap<Id, Demand>,
    ) -> (PartCost, Costs) {
        let node = self.index.parts[part].clone();
        let item = node.item.id;
        let own = costs.get(&item).map(|c| c.own.clone()).unwrap_or_default();
        let children: Vec<usize> = if self.costed_here(item) { Vec::new() } else { node.children.clone() };
        let mut cost = PartCost::default();
        if children.is_empty() {
            cost.kinds = own.clone();
        } else {
            let subject = self.record_subject(node.record.id);
            for kind in CostKind::ALL {
                let line =
                    self.gather(subject, kind.key(), own.get(&kind).copied(), &children, |c| found[c].kinds.get(&kind).copied());
                if let Some(line) = line {
                    cost.kinds.insert(kind, line);
                }
            }
            if let Some(sets) = demands.get(&item).and_then(|d| d.sets) {
                let (counts, lines): (Vec<LineRef>, Vec<LineRef>) =
                    children.iter().filter_map(|c| Some((*c, found[*c].total?))).map(|(c, l)| (self.count_line(c), l)).unzip();
                if !lines.is_empty() {
                    let given = [("sets", Given::One(sets)), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
                    cost.scrap_of_children = self.roll(subject, "rejects", "roll-ups/part-scrap", &given, "cost");
                }
                if let Some(rejects) = cost.scrap_of_children {
                    let terms: Vec<LineRef> = cost.kinds.get(&CostKind::Scrap).copied().into_iter().chain([rejects]).collect();
                    if let Some(line) =
                        self.roll(subject, "scrap with rejects", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total")
                    {
                        cost.kinds.insert(CostKind::Scrap, line);
                    }
                }
            }
        }
        if !cost.kinds.is_empty() {
            cost.bases = self.bases(part, &own, cost.scrap_of_children, &children, found);
        }
        (cost, own)
    }

    /// What a part hands to its parent: with mark-ups and freight where it leaves its maker.
    fn leaving(&mut self, part: usize, mut cost: PartCost, own: &Costs) -> PartCost {
        if cost.kinds.is_empty() {
            return cost;
        }
        let node = self.index.parts[part].clone();
        let markups = if self.crosses(part) { self.mark_up(part, &cost) } else { Costs::new() };
        let subject = self.record_subject(node.record.id);
        for (kind, line) in &markups {
            let terms: Vec<LineRef> = cost.kinds.get(kind).copied().into_iter().chain([*line]).collect();
            let sum = if terms.len() == 1 {
                Some(terms[0])
            } else {
                self.roll(
                    subject,
                    &format!("{} with own", kind.key()),
                    "roll-ups/sum",
                    &[("terms", Given::Many(&terms))],
                    "total",
                )
            };
            if let Some(sum) = sum {
                cost.kinds.insert(*kind, sum);
            }
        }
        let terms: Vec<LineRef> = cost.kinds.values().copied().collect();
        cost.total = self.roll(subject, "cost", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total");
        let added: Vec<LineRef> = own.values().copied().chain(cost.scrap_of_children).chain(markups.values().copied()).collect();
        cost.added = self.roll(subject, "added", "roll-ups/sum", &[("terms", Given::Many(&added))], "total");
        let markups: Vec<LineRef> = markups.into_values().collect();
        if !markups.is_empty() {
            cost.markups = self.roll(subject, "mark-ups", "roll-ups/sum", &[("terms", Given::Many(&markups))], "total");
        }
        if self.crosses(part) {
            self.transfer(subject, &mut cost);
        } else if node.item.text(Field::Make) == Some("consigned") {
            let total = cost.total;
            cost.bases = total.map(|t| (Base::Directed, t)).into_iter().collect();
        }
        cost
    }

    /// Own lines plus children times their counts; an only line stands for itself.
    pub(crate) fn gather(
        &mut self,
        subject: crate::lines::SubjectId,
        name: &str,
        own: Option<LineRef>,
        children: &[usize],
        of: impl Fn(usize) -> Option<LineRef>,
    ) -> Option<LineRef> {
        let below: Vec<(usize, LineRef)> = children.iter().filter_map(|c| Some((*c, of(*c)?))).collect();
        if below.is_empty() {
            return own;
        }
        let counts: Vec<LineRef> = below.iter().map(|(c, _)| self.count_line(*c)).collect();
        let lines: Vec<LineRef> = below.iter().map(|(_, l)| *l).collect();
        let own: Vec<LineRef> = own.into_iter().collect();
        let given = [("own", Given::Many(&own)), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
        self.roll(subject, name, "roll-ups/part-kind", &given, "cost")
    }
}
