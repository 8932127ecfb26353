//! Cost of an item's own work or purchase, step by step.

use crate::builder::{Builder, Given};
use crate::demand::{Demand, Use};
use crate::kinds::{CostKind, Costs};
use crate::lines::LineRef;
use crate::tool_plan::PURCHASE;
use crate::tooling::Tools;
use std::collections::BTreeMap;
use tare_model::{Field, Id};

/// What an item's own work or purchase costs.
#[derive(Clone, Debug, Default)]
pub(crate) struct ItemCost {
    pub(crate) own: Costs,
    /// Total of each step, for the table by process.
    pub(crate) steps: Vec<(String, LineRef)>,
}

impl Builder<'_> {
    /// Own cost of an item per good piece, children not included.
    pub(crate) fn item_cost(&mut self, item: Id, demand: &Demand, tools: &mut Tools) -> ItemCost {
        let mut cost = ItemCost::default();
        let part = self.index.home(item);
        if part.is_none_or(|p| self.inside_costed(p)) {
            return cost;
        }
        let subject = self.record_subject(item);
        let mut gathered: BTreeMap<CostKind, Vec<LineRef>> = BTreeMap::new();
        if self.costed_here(item) {
            match self.purchase(item, demand, tools, &mut gathered) {
                Some(price) => cost.steps.push(("bought".to_owned(), price)),
                None => {
                    self.uncosted.insert(item);
                }
            }
        }
        for step in &demand.uses {
            let total = self.step_cost(item, step, demand, tools, &mut gathered);
            if let Some(total) = total {
                cost.steps.push((step.key.clone(), total));
            }
        }
        let assembly_joints: Vec<usize> = (0..self.joints.len())
            .filter(|j| self.joints[*j].paid.is_some_and(|a| self.index.parts[a].item.id == item))
            .collect();
        for joint in assembly_joints {
            let total = self.joint_cost(joint, demand, tools, &mut gathered);
            cost.steps.extend(total.map(|t| (self.joints[joint].key.clone(), t)));
        }
        for (kind, lines) in gathered {
            let line = match lines.as_slice() {
                [] => continue,
                [one] => Some(*one),
                many => {
                    self.roll(subject, &format!("own {}", kind.key()), "roll-ups/sum", &[("terms", Given::Many(many))], "total")
                }
            };
            if let Some(line) = line {
                cost.own.insert(kind, line);
            }
        }
        let leaf = part.is_some_and(|p| self.index.is_leaf(p));
        if cost.own.is_empty() && leaf && !self.is_consumed_by_joint(item) {
            self.uncosted.insert(item);
        }
        cost
    }

    /// Poured and sprayed items are paid as consumables of their joint or process.
    fn is_consumed_by_joint(&self, item: Id) -> bool {
        self.sources.study.get(item).and_then(|r| r.text(Field::Form)) == Some("bulk")
    }

    /// Price of a bought item: its used quote, its stated price, or the calculation it names; with the tools that calculation owes.
    fn purchase(
        &mut self,
        item: Id,
        demand: &Demand,
        tools: &mut Tools,
        gathered: &mut BTreeMap<CostKind, Vec<LineRef>>,
    ) -> Option<LineRef> {
        let subject = self.record_subject(item);
        let quote =
            self.quotes(item).into_iter().find(|q| self.sources.study.get(*q).and_then(|r| r.text(Field::State)) == Some("used"));
        let mut price = quote.and_then(|q| {
            let subject = self.record_subject(q);
            self.chosen(subject, q, "price")
        });
        if price.is_none() {
            price = self.chosen(subject, item, "price");
        }
        let mut terms = Vec::new();
        if price.is_none()
            && let Some(key) = self.sources.study.get(item).and_then(|r| r.text(Field::Calculation)).map(str::to_owned)
        {
            let part = self.index.home(item);
            let mut context = crate::bind::Context {
                item: Some(item),
                part,
                purchase: Some(item),
                organisation: self.organisation(item),
                ..Default::default()
            };
            context.extra.extend(demand.volume.map(|v| ("item.volume_per_year".to_owned(), v)));
            context.extra.extend(demand.lot.map(|l| ("route.lot".to_owned(), l)));
            let block = self.bind(subject, PURCHASE, &key, &context)?;
            price = self.line_or_input(block, &key, "price");
            let step = Use {
                name: PURCHASE.into(),
                title: PURCHASE.into(),
                key,
                block,
                operation: None,
                starts: self.one("starts", "nothing is scrapped"),
                context,
                assembles: false,
            };
            terms = self.tool_costs(item, &step, demand, None, tools, gathered);
        }
        let price = price.or_else(|| self.standard(item, "price"))?;
        gathered.entry(CostKind::Bought).or_default().push(price);
        if terms.is_empty() {
            return Some(price);
        }
        terms.insert(0, price);
        self.roll(subject, "purchase total", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total")
    }

    /// The quotes for an item.
    pub(crate) fn quotes(&self, item: Id) -> Vec<Id> {
        self.index.quotes.get(&item).cloned().unwrap_or_default()
    }

    fn step_cost(
        &mut self,
        item: Id,
        step: &Use,
        demand: &Demand,
        tools: &mut Tools,
        gathered: &mut BTreeMap<CostKind, Vec<LineRef>>,
    ) -> Option<LineRef> {
        let subject = self.record_subject(item);
        let pieces = self.line_or_input(step.block, &step.key, "pieces");
        let line_loss = step.operation.and_then(|o| self.line_losses.get(&o).copied());
        let resources = self.resources(subject, item, step, pieces, line_loss);
        let given = [
            ("material", Given::Many(resources.of(CostKind::Material))),
            ("labour", Given::Many(resources.of(CostKind::Labour))),
            ("machine", Given::Many(resources.of(CostKind::Machine))),
            ("energy", Given::Many(resources.of(CostKind::Energy))),
            ("consumable", Given::Many(resources.of(CostKind::Consumable))),
            ("starts", Given::One(step.starts)),
        ];
        let block = self.place(subject, &format!("{} cost", step.name), "roll-ups/operation-cost", &given)?;
        let (started, scrap, total) = (self.line(block, "started")?, self.line(block, "scrap")?, self.line(block, "total")?);
        let mut terms = vec![total];
        if let (Some(setup), Some(lot)) = (self.line_or_input(step.block, &step.key, "setup"), demand.lot)
            && !step.assembles
            && let Some(wage) = self.wage(step.context.organisation, "setter")
        {
            let mut given = vec![
                ("setup", Given::One(setup)),
                ("machines", Given::Many(&resources.machine_rates)),
                ("wage", Given::One(wage)),
                ("piece", Given::One(started)),
                ("lot", Given::One(lot)),
            ];
            let crew_held = resources.held.contains("set-up crew");
            if crew_held {
                self.dropped(subject, &format!("{} set-up", step.name), "the set-up crew", "the machine rate");
                let none = self.held_nothing("set-up crew", "1");
                given.push(("setters", Given::One(none)));
            }
            for quantity in ["setters", "first_off"].into_iter().filter(|q| !(crew_held && *q == "setters")) {
                let own = step.operation.and_then(|operation| {
                    let subject = self.record_subject(operation);
                    self.chosen(subject, operation, quantity)
                });
                given.extend(own.map(|line| (quantity, Given::One(line))));
            }
            let line = self.roll(subject, &format!("{} set-up", step.name), "roll-ups/setup-cost", &given, "cost");
            gathered.entry(CostKind::Setup).or_default().extend(line);
            terms.extend(line);
        }
        for (kind, lines) in &resources.by_kind {
            gathered.entry(*kind).or_default().extend(lines.iter().copied());
        }
        gathered.entry(CostKind::Scrap).or_default().push(scrap);
        let tooling = self.tool_costs(item, step, demand, pieces, tools, gathered);
        terms.extend(tooling);
        self.roll(subject, &format!("{} total", step.name), "roll-ups/sum", &[("terms", Given::Many(&terms))], "total")
    }
}
