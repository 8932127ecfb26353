//! Cost up the tree: resources of each step, kinds of cost of each item, mark-up where items cross organisations.

use crate::builder::{Builder, Given};
use crate::demand::{Demand, Use};
use crate::lines::{LineRef, SubjectId};
use crate::tables::ToolRow;
use std::collections::BTreeMap;
use tare_calc::{Group, GroupKind};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// The kinds of cost, in the order in which they are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CostKind {
    /// Bought items.
    Bought,
    /// Material, less sold scrap.
    Material,
    /// Labour.
    Labour,
    /// Machine time without running energy.
    Machine,
    /// Running energy.
    Energy,
    /// Set-up.
    Setup,
    /// Tools in the piece price.
    Tooling,
    /// Consumables.
    Consumable,
    /// Pieces started beyond the good ones.
    Scrap,
    /// Overhead and handling of directed items.
    Overhead,
    /// Engineering.
    Engineering,
    /// Selling and administration.
    Sga,
    /// Profit.
    Profit,
    /// Freight and packaging between organisations.
    Freight,
    /// Duty on price and freight, where the rate book states one.
    Duty,
}

impl CostKind {
    /// All kinds, in order.
    pub const ALL: [Self; 15] = [
        Self::Bought,
        Self::Material,
        Self::Labour,
        Self::Machine,
        Self::Energy,
        Self::Setup,
        Self::Tooling,
        Self::Consumable,
        Self::Scrap,
        Self::Overhead,
        Self::Engineering,
        Self::Sga,
        Self::Profit,
        Self::Freight,
        Self::Duty,
    ];

    /// The words shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Bought => "bought items",
            Self::Material => "material",
            Self::Labour => "labour",
            Self::Machine => "machines",
            Self::Energy => "energy",
            Self::Setup => "set-up",
            Self::Tooling => "tools",
            Self::Consumable => "consumables",
            Self::Scrap => "scrap",
            Self::Overhead => "overhead",
            Self::Engineering => "engineering",
            Self::Sga => "selling and administration",
            Self::Profit => "profit",
            Self::Freight => "freight and packaging",
            Self::Duty => "duty",
        }
    }

    /// The short name used in addresses.
    pub fn key(self) -> &'static str {
        match self {
            Self::Bought => "bought",
            Self::Machine => "machine",
            Self::Setup => "setup",
            Self::Tooling => "tooling",
            Self::Consumable => "consumables",
            Self::Sga => "sga",
            Self::Freight => "freight",
            other => other.word(),
        }
    }
}

/// What a group says it is about: a role, a material.
fn about(group: &Group) -> Option<&str> {
    group.about.as_ref().map(|a| a.value.as_str())
}

/// One line per kind of cost, for those that occur.
pub(crate) type Costs = BTreeMap<CostKind, LineRef>;

/// What one step costs per piece, resource by resource.
#[derive(Clone, Debug, Default)]
struct Resources {
    by_kind: BTreeMap<CostKind, Vec<LineRef>>,
    machine_rates: Vec<LineRef>,
}

impl Resources {
    fn add(&mut self, kind: CostKind, line: Option<LineRef>) {
        self.by_kind.entry(kind).or_default().extend(line);
    }
    fn of(&self, kind: CostKind) -> &[LineRef] {
        self.by_kind.get(&kind).map_or(&[], Vec::as_slice)
    }
}

/// What an item's own work or purchase costs.
#[derive(Clone, Debug, Default)]
pub(crate) struct ItemCost {
    pub(crate) own: Costs,
    /// Total of each step, for the table by process.
    pub(crate) steps: Vec<(String, LineRef)>,
}

impl Builder<'_> {
    /// Own cost of an item per good piece, children not included.
    pub(crate) fn item_cost(&mut self, item: Id, demand: &Demand, tools: &mut Vec<ToolRow>) -> ItemCost {
        let mut cost = ItemCost::default();
        let part = self.index.parts_of_item.get(&item).and_then(|p| p.first().copied());
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
            .filter(|j| self.joints[*j].assembly.is_some_and(|a| self.index.parts[a].item.id == item && Some(a) == part))
            .collect();
        for joint in assembly_joints {
            let total = self.joint_cost(joint, demand, &mut gathered);
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
        let leaf = part.is_some_and(|p| self.index.parts[p].children.is_empty());
        if cost.own.is_empty() && leaf && !self.is_consumed_by_joint(item) {
            self.uncosted.insert(item);
        }
        cost
    }

    /// Poured and sprayed items are paid as consumables of their joint or process.
    fn is_consumed_by_joint(&self, item: Id) -> bool {
        self.sources.study.get(item).and_then(|r| r.text(Field::Form)) == Some("bulk")
    }

    /// Price of a bought item: its used quote, its stated price, or the calculation it names.
    fn purchase(
        &mut self,
        item: Id,
        demand: &Demand,
        tools: &mut Vec<ToolRow>,
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
        if price.is_none()
            && let Some(key) = self.sources.study.get(item).and_then(|r| r.text(Field::Calculation)).map(str::to_owned)
        {
            let part = self.index.parts_of_item.get(&item).and_then(|p| p.first().copied());
            let mut context = crate::bind::Context {
                item: Some(item),
                part,
                purchase: Some(item),
                organisation: self.organisation(item),
                ..Default::default()
            };
            context.extra.extend(demand.volume.map(|v| ("item.volume_per_year".to_owned(), v)));
            context.extra.extend(demand.lot.map(|l| ("route.lot".to_owned(), l)));
            let block = self.bind(subject, "purchase", &key, &context)?;
            price = self.line_or_input(block, &key, "price");
            let step = Use {
                name: "purchase".into(),
                title: "purchase".into(),
                key,
                block,
                operation: None,
                starts: self.one("starts", "nothing is scrapped"),
                context,
                assembles: false,
            };
            self.tool_costs(item, &step, demand, None, tools, gathered);
        }
        let price = price.or_else(|| self.standard(item, "price"))?;
        gathered.entry(CostKind::Bought).or_default().push(price);
        Some(price)
    }

    /// The quotes for an item.
    pub(crate) fn quotes(&self, item: Id) -> Vec<Id> {
        self.index.quotes.get(&item).cloned().unwrap_or_default()
    }

    fn groups(&self, key: &str) -> Vec<Group> {
        self.sources.library.find(key).map(|c| c.owes.groups.clone()).unwrap_or_default()
    }

    /// A field of an owed group as a line.
    fn field(&self, step: &Use, group: &Group, field: &str) -> Option<LineRef> {
        self.line(step.block, &format!("{}.{}.{field}", group.kind.word(), group.name.value))
    }

    /// Material, labour, machine and consumable groups of a step, each as a line per piece started.
    fn resources(
        &mut self,
        subject: SubjectId,
        item: Id,
        step: &Use,
        pieces: Option<LineRef>,
        line_loss: Option<LineRef>,
    ) -> Resources {
        let mut found = Resources::default();
        let organisation = step.context.organisation;
        for group in self.groups(&step.key) {
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
                    given.extend(self.field(step, &group, "power").map(|p| ("power", Given::One(p))));
                    given.extend(self.rate(organisation, "electricity").map(|e| ("electricity", Given::One(e))));
                    given.extend(pieces.map(|p| ("pieces", Given::One(p))));
                    if let Some(block) = self.place(subject, &name, "roll-ups/machine-cost", &given) {
                        let (cost, energy) = (self.line(block, "cost"), self.line(block, "energy"));
                        found.add(CostKind::Machine, cost);
                        found.add(CostKind::Energy, energy);
                    }
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

    fn material_group(&mut self, subject: SubjectId, item: Id, step: &Use, group: &Group, name: &str) -> Option<LineRef> {
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
    fn wage(&mut self, organisation: Option<Id>, role: &str) -> Option<LineRef> {
        let address = format!("wage {role}{}", self.place_name(organisation));
        if let Some(known) = self.wages.get(&address) {
            return *known;
        }
        let wage = self.rate(organisation, &format!("wage.{role}"));
        if wage.is_none() {
            let diag = Diag::error("rate-missing", format!("the rate book has no `wage.{role}`"))
                .at(Place::address(format!("rate/wage.{role}")));
            self.problem(diag.hint(format!("add `wage.{role}` in money per hour, direct wage without burden")));
        }
        let line = wage.and_then(|wage| {
            let subject = self.subject(&address, &format!("wage of an {role}"), None);
            let context =
                crate::bind::Context { organisation, extra: vec![("operation.wage".to_owned(), wage)], ..Default::default() };
            let block = self.bind(subject, "loaded", "build-up/labour-rate", &context)?;
            self.line(block, "rate")
        });
        self.wages.insert(address, line);
        line
    }

    /// The hourly rate of a machine without running energy: stated, or from its price, floor and the organisation's rates.
    fn machine_rate(&mut self, subject: SubjectId, step: &Use, group: &Group, name: &str) -> Option<LineRef> {
        if let Some(rate) = self.field(step, group, "rate") {
            return Some(rate);
        }
        let price = self.field(step, group, "price")?;
        let mut context = crate::bind::Context {
            organisation: step.context.organisation,
            extra: vec![("operation.price".to_owned(), price)],
            ..Default::default()
        };
        context.extra.extend(self.field(step, group, "floor").map(|f| ("operation.floor".to_owned(), f)));
        let block = self.bind(subject, &format!("{name} rate"), "build-up/machine-rate", &context)?;
        self.line(block, "rate")
    }

    fn step_cost(
        &mut self,
        item: Id,
        step: &Use,
        demand: &Demand,
        tools: &mut Vec<ToolRow>,
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
            for quantity in ["setters", "first_off"] {
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

    /// Tools of a step: sets, charge per piece, and a row of the register each.
    fn tool_costs(
        &mut self,
        item: Id,
        step: &Use,
        demand: &Demand,
        pieces: Option<LineRef>,
        tools: &mut Vec<ToolRow>,
        gathered: &mut BTreeMap<CostKind, Vec<LineRef>>,
    ) -> Vec<LineRef> {
        let subject = self.record_subject(item);
        let organisation = step.context.organisation;
        let mut lines = Vec::new();
        for group in self.groups(&step.key).into_iter().filter(|g| g.kind == GroupKind::Tool) {
            let record = self.tool_record(item, step);
            let own = |b: &mut Self, quantity: &str| {
                let record = record?;
                let subject = b.record_subject(record);
                b.chosen(subject, record, quantity)
            };
            let cost = own(self, "cost").or_else(|| self.field(step, &group, "cost"));
            let life = own(self, "tool_life").or_else(|| self.field(step, &group, "life"));
            let (Some(cost), Some(life)) = (cost, life) else { continue };
            let serves = record.map(|r| self.tool_items(r)).filter(|s| !s.is_empty()).unwrap_or_else(|| vec![item]);
            let Some(volume) = self.tool_volume(record, &serves, demand) else { continue };
            let cycle = self.line_or_input(step.block, &step.key, "cycle").or_else(|| Some(self.no_time()));
            let pieces = pieces.unwrap_or_else(|| self.one("pieces", "one piece a cycle"));
            let years = self.scenario_line("life");
            let (hours, interest) = (self.rate(organisation, "machine.hours"), self.rate(organisation, "interest"));
            let (Some(cycle), Some(years), Some(hours), Some(interest)) = (cycle, years, hours, interest) else {
                let terms = [
                    (years.is_none(), "scenario/life", "5 a", "the scenario states no `life`"),
                    (hours.is_none(), "rate/machine.hours", "4000 h/a", "no book states `machine.hours`"),
                    (interest.is_none(), "rate/interest", "0.08 1/a", "no book states `interest`"),
                ];
                for (_, address, such, says) in terms.into_iter().filter(|t| t.0) {
                    let diag = Diag::error("tool-terms", format!("{says}, so tools are not in the piece price"));
                    self.problem(
                        diag.at(Place::address(address)).hint(format!("state it, such as `tare edit set {address} \"{such}\"`")),
                    );
                }
                continue;
            };
            let lump = record.and_then(|r| self.sources.study.get(r)).and_then(|r| r.text(Field::Owner)) == Some("client");
            let mut given = vec![
                ("cost", Given::One(cost)),
                ("tool_life", Given::One(life)),
                ("cycle", Given::One(cycle)),
                ("pieces", Given::One(pieces)),
                ("volume", Given::One(volume)),
                ("starts", Given::One(step.starts)),
                ("years", Given::One(years)),
                ("hours", Given::One(hours)),
                ("interest", Given::One(interest)),
            ];
            given.extend(self.field(step, &group, "upkeep").map(|u| ("upkeep", Given::One(u))));
            if lump {
                let one = self.one("lump", "the client owns the tool and pays it as a lump");
                given.push(("lump", Given::One(one)));
            }
            let name = format!("{} {}", step.name, group.name.value);
            let Some(block) = self.place(subject, &name, "roll-ups/tool-cost", &given) else { continue };
            let per_piece = self.line(block, "per_piece");
            let already =
                record.is_some() && tools.iter().any(|t| t.record == record && t.group == group.name.value && t.key == step.key);
            if !already {
                let title = record.and_then(|r| self.sources.study.get(r)).and_then(|r| r.text(Field::Name)).map_or_else(
                    || format!("{} for {}", group.name.value.replace('_', " "), self.lines.subjects[subject.0 as usize].title),
                    str::to_owned,
                );
                let (investment, sets) = (self.line(block, "investment"), self.line(block, "set_count"));
                tools.push(ToolRow {
                    title,
                    record,
                    group: group.name.value.clone(),
                    key: step.key.clone(),
                    serves: serves.clone(),
                    cost,
                    life,
                    pieces,
                    sets,
                    investment,
                    per_piece,
                    lump,
                });
            }
            gathered.entry(CostKind::Tooling).or_default().extend(per_piece);
            lines.extend(per_piece);
        }
        lines
    }

    /// The tool record that serves a step: named by the operation, or naming it or the item.
    fn tool_record(&self, item: Id, step: &Use) -> Option<Id> {
        if let Some(tool) = step.context.tool {
            return Some(tool);
        }
        let operation = step.operation;
        let by_operation =
            self.index.tools.iter().find(|t| operation.is_some_and(|o| t.all_refers(Field::Operations).contains(&o)));
        let by_item = || {
            self.index
                .tools
                .iter()
                .find(|t| t.all_refers(Field::Operations).is_empty() && t.all_refers(Field::Items).contains(&item))
        };
        by_operation.or_else(by_item).map(|t| t.id)
    }

    /// The items a tool serves: those it names, and those whose operations it names or that name it.
    fn tool_items(&self, tool: Id) -> Vec<Id> {
        let record = self.sources.study.get(tool);
        let mut items: Vec<Id> = record.map(|t| t.all_refers(Field::Items).to_vec()).unwrap_or_default();
        let named = record.map(|t| t.all_refers(Field::Operations)).unwrap_or_default();
        for item in &self.index.items {
            let uses_it = |o: &&tare_model::Record| named.contains(&o.id) || o.refers(Field::Tool) == Some(tool);
            if !items.contains(&item.id) && self.index.operations(item.id).iter().any(uses_it) {
                items.push(item.id);
            }
        }
        items
    }

    /// Pieces a year over everything a tool serves.
    fn tool_volume(&mut self, tool: Option<Id>, serves: &[Id], demand: &Demand) -> Option<LineRef> {
        let volumes: Vec<LineRef> = serves.iter().filter_map(|i| self.volumes.get(i).copied()).collect();
        match (tool, volumes.as_slice()) {
            (Some(tool), [_, _, ..]) => {
                let subject = self.record_subject(tool);
                self.roll(subject, "served", "roll-ups/item-volume", &[("parts", Given::Many(&volumes))], "volume")
            }
            _ => demand.volume,
        }
    }

    fn no_time(&mut self) -> LineRef {
        self.shared_leaf("definition", "no cycle", |subject| crate::builder::LeafSpec {
            subject,
            name: "no cycle".to_owned(),
            quantity: tare_units::Quantity::parse("0 s").unwrap_or_else(|_| crate::builder::plain(0.0)),
            word: None,
            evidence: crate::lines::Evidence::Derived,
            source: "definition: the need by rate is the supplier's".to_owned(),
            record: None,
            shared: true,
        })
    }

    /// Machines, materials and consumables of one joint, times its count; its labour is in the station's time.
    fn joint_cost(&mut self, joint: usize, _demand: &Demand, gathered: &mut BTreeMap<CostKind, Vec<LineRef>>) -> Option<LineRef> {
        let used = self.joints[joint].clone();
        let block = used.block?;
        let item = used.assembly.map(|a| self.index.parts[a].item.id)?;
        let subject = self.record_subject(used.joint);
        let starts = self.one("starts", "nothing is scrapped");
        let step = Use {
            name: "joint".into(),
            title: String::new(),
            key: used.key.clone(),
            block,
            operation: None,
            starts,
            context: used.context.clone(),
            assembles: false,
        };
        let resources = self.resources(subject, item, &step, None, None);
        let yielded = self.line_or_input(block, &used.key, "yield");
        let mut terms = Vec::new();
        for (kind, lines) in resources.by_kind {
            for (number, line) in lines.into_iter().enumerate() {
                let mut given = vec![("count", Given::One(used.count)), ("piece", Given::One(line))];
                given.extend(yielded.map(|y| ("yield", Given::One(y))));
                let total = self.roll(subject, &format!("{} {}", kind.key(), number + 1), "roll-ups/joint-cost", &given, "cost");
                gathered.entry(kind).or_default().extend(total);
                terms.extend(total);
            }
        }
        if terms.is_empty() {
            None
        } else {
            self.roll(subject, "cost", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total")
        }
    }
}
