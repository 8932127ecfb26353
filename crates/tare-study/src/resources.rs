//! What one step takes per piece: material, labour, machines, consumables, at the rates of who does it.

use crate::builder::{Builder, Given};
use crate::contains::{Held, is_perishable};
use crate::demand::Use;
use crate::kinds::CostKind;
use crate::lines::{LineRef, SubjectId};
use std::collections::BTreeMap;
use tare_calc::{Group, GroupKind};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// What a group says it is about: a role, a material.
fn about(group: &Group) -> Option<&str> {
    group.about.as_ref().map(|a| a.value.as_str())
}

/// What one step costs per piece, resource by resource.
#[derive(Clone, Debug, Default)]
pub(crate) struct Resources {
    pub(crate) by_kind: BTreeMap<CostKind, Vec<LineRef>>,
    pub(crate) machine_rates: Vec<LineRef>,
    /// What the machine rates contain already.
    pub(crate) held: Held,
}

impl Resources {
    fn add(&mut self, kind: CostKind, line: Option<LineRef>) {
        self.by_kind.entry(kind).or_default().extend(line);
    }
    pub(crate) fn of(&self, kind: CostKind) -> &[LineRef] {
        self.by_kind.get(&kind).map_or(&[], Vec::as_slice)
    }
}

impl Builder<'_> {
    pub(crate) fn groups(&self, key: &str) -> Vec<Group> {
        self.sources.library.find(key).map(|c| c.owes.groups.clone()).unwrap_or_default()
    }

    /// A field of an owed group as a line.
    pub(crate) fn field(&self, step: &Use, group: &Group, field: &str) -> Option<LineRef> {
        self.line(step.block, &format!("{}.{}.{field}", group.kind.word(), group.name.value))
    }

    /// Material, labour, machine and consumable groups of a step, each as a line per piece started.
    pub(crate) fn resources(
        &mut self,
        subject: SubjectId,
        item: Id,
        step: &Use,
        pieces: Option<LineRef>,
        line_loss: Option<LineRef>,
    ) -> Resources {
        let mut found = Resources::default();
        let organisation = step.context.organisation;
        let groups = self.groups(&step.key);
        for group in groups.iter().filter(|g| g.kind == GroupKind::Machine) {
            found.held.extend(self.machine_contains(step, group));
        }
        for group in groups {
            let name = format!("{} {}", step.name, group.name.value);
            match group.kind {
                GroupKind::Material => {
                    let cost = self.material_group(subject, item, step, &group, &name);
                    found.add(CostKind::Material, cost);
                }
                GroupKind::Labour => {
                    let Some(wage) = self.wage(organisation, about(&group).unwrap_or("operator")) else { continue };
                    let (Some(people), Some(time)) = (self.field(step, &group, "people"), self.field(step, &group, "time"))
                    else {
                        continue;
                    };
                    let mut given = vec![("wage", Given::One(wage)), ("people", Given::One(people)), ("time", Given::One(time))];
                    given.extend(pieces.map(|p| ("pieces", Given::One(p))));
                    given.extend(line_loss.map(|l| ("line_loss", Given::One(l))));
                    let cost = self.roll(subject, &name, "roll-ups/labour-cost", &given, "cost");
                    found.add(CostKind::Labour, cost);
                }
                GroupKind::Machine => {
                    let Some(time) = self.field(step, &group, "time") else { continue };
                    let Some(rate) = self.machine_rate(subject, step, &group, &name) else { continue };
                    found.machine_rates.push(rate);
                    let mut given = vec![("rate", Given::One(rate)), ("time", Given::One(time))];
                    let power = self.field(step, &group, "power");
                    if power.is_some() && self.machine_contains(step, &group).contains("energy") {
                        self.dropped(subject, &name, "running energy", "the overhead on the machine hour");
                    } else {
                        given.extend(power.map(|p| ("power", Given::One(p))));
                    }
                    given.extend(self.rate(organisation, "electricity").map(|e| ("electricity", Given::One(e))));
                    given.extend(pieces.map(|p| ("pieces", Given::One(p))));
                    if let Some(block) = self.place(subject, &name, "roll-ups/machine-cost", &given) {
                        let (cost, energy) = (self.line(block, "cost"), self.line(block, "energy"));
                        found.add(CostKind::Machine, cost);
                        found.add(CostKind::Energy, energy);
                    }
                }
                GroupKind::Consumable if found.held.contains("perishables") && is_perishable(&group.name.value) => {
                    self.dropped(subject, &name, &format!("the {}", group.name.value), "the machine rate");
                }
                GroupKind::Consumable => {
                    let cost = match (self.field(step, &group, "cost"), about(&group)) {
                        (Some(cost), _) => Some(cost),
                        (None, Some(material)) => {
                            let material = material.to_owned();
                            self.field(step, &group, "mass").and_then(|mass| {
                                let (price, _) = self.material_price(organisation, &material)?;
                                self.roll(
                                    subject,
                                    &name,
                                    "roll-ups/material-cost",
                                    &[("gross", Given::One(mass)), ("price", Given::One(price))],
                                    "cost",
                                )
                            })
                        }
                        (None, None) => None,
                    };
                    found.add(CostKind::Consumable, cost);
                }
                GroupKind::Tool => {}
            }
        }
        found
    }

    pub(crate) fn material_group(
        &mut self,
        subject: SubjectId,
        item: Id,
        step: &Use,
        group: &Group,
        name: &str,
    ) -> Option<LineRef> {
        let record = self.sources.study.get(item)?;
        let of = about(group).unwrap_or("item");
        let key = match of.strip_prefix("item") {
            Some("") => record.text(Field::Material).map(str::to_owned),
            Some(number) => {
                let at = number.trim_start_matches('.').parse::<usize>().ok()?;
                crate::mass::constituents(record.text(Field::Constituents)?).get(at - 1).map(|c| c.0.clone())
            }
            None => Some(of.to_owned()),
        };
        let Some(key) = key else {
            let address = self.item_address(item);
            let diag = Diag::error(
                "material-missing",
                format!(
                    "`{}` needs the material of {}, and none is stated",
                    step.key,
                    record.text(Field::Name).unwrap_or("the item")
                ),
            );
            self.problem(
                diag.at(Place::address(format!("{address}/material")))
                    .hint("set the item's material to a key of the library (`tare calc materials` lists them)"),
            );
            return None;
        };
        let (price, scrap) = self.material_price(step.context.organisation, &key)?;
        let mut given = vec![
            ("gross", Given::One(self.field(step, group, "gross")?)),
            ("price", Given::One(price)),
            ("scrap_price", Given::One(scrap)),
        ];
        given.extend(self.field(step, group, "recovered").map(|r| ("recovered", Given::One(r))));
        self.roll(subject, name, "roll-ups/material-cost", &given, "cost")
    }

    /// The loaded wage of a role in an organisation's book.
    pub(crate) fn wage(&mut self, organisation: Option<Id>, role: &str) -> Option<LineRef> {
        let address = format!("wage {role}{}", self.place_name(organisation));
        if let Some(known) = self.wages.get(&address) {
            return *known;
        }
        let wage = self.rate(organisation, &format!("wage.{role}"));
        if wage.is_none() {
            let diag = Diag::error("rate-missing", format!("the rate book has no `wage.{role}`"))
                .at(Place::address(format!("rate/wage.{role}")));
            let diag = diag.hint(format!("add `wage.{role}` in money per hour, direct wage without burden"));
            self.rate_missing(&format!("wage.{role}"), diag);
        }
        let line = wage.and_then(|wage| {
            let subject = self.subject(&address, &format!("wage of an {role}"), None);
            let mut context =
                crate::bind::Context { organisation, extra: vec![("operation.wage".to_owned(), wage)], ..Default::default() };
            if self.contained(wage).contains("indirect staff") && self.rate(organisation, "indirect.staff").is_some() {
                self.dropped(subject, "loaded", "indirect staff", "the wage");
                let none = self.held_nothing("indirect staff", "1");
                context.given.push(("indirect_share".to_owned(), none));
            }
            let block = self.bind(subject, "loaded", "build-up/labour-rate", &context)?;
            self.line(block, "rate")
        });
        self.wages.insert(address, line);
        line
    }

    /// What the hour of a machine contains: the rate that is stated for it, or the overhead on a rate that is built from its price.
    fn machine_contains(&mut self, step: &Use, group: &Group) -> Held {
        let rate = match self.field(step, group, "rate") {
            Some(rate) => Some(rate),
            None => self.rate(step.context.organisation, "machine.overhead"),
        };
        rate.map(|r| self.contained(r)).unwrap_or_default()
    }

    /// The hourly rate of a machine without running energy: stated, or from its price, floor and the organisation's rates.
    pub(crate) fn machine_rate(&mut self, subject: SubjectId, step: &Use, group: &Group, name: &str) -> Option<LineRef> {
        if let Some(rate) = self.field(step, group, "rate") {
            return Some(rate);
        }
        let price = self.field(step, group, "price")?;
        let mut context = crate::bind::Context {
            organisation: step.context.organisation,
            extra: vec![("operation.price".to_owned(), price)],
            ..Default::default()
        };
        let floor = self.field(step, group, "floor");
        let held = self.machine_contains(step, group);
        for (word, input, unit) in
            [("floor", "floor_space", "m^2"), ("upkeep", "upkeep", "1/a"), ("depreciation", "capital_share", "1")]
        {
            if held.contains(word) && (word != "floor" || floor.is_some()) {
                self.dropped(subject, name, word, "the overhead on the machine hour");
                let none = self.held_nothing(word, unit);
                context.given.push((input.to_owned(), none));
            }
        }
        context.extra.extend(floor.map(|f| ("operation.floor".to_owned(), f)));
        let block = self.bind(subject, &format!("{name} rate"), "build-up/machine-rate", &context)?;
        self.line(block, "rate")
    }
}
