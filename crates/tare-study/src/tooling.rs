//! Tools: which record serves which step, sets, charge per piece, the register.

use crate::builder::{Builder, Given};
use crate::demand::{Demand, Use};
use crate::kinds::CostKind;
use crate::lines::LineRef;
use crate::tables::ToolRow;
use std::collections::BTreeMap;
use tare_calc::GroupKind;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

impl Builder<'_> {
    /// Tools of a step: sets, charge per piece, and a row of the register each.
    pub(crate) fn tool_costs(
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
    pub(crate) fn tool_record(&self, item: Id, step: &Use) -> Option<Id> {
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
    pub(crate) fn tool_items(&self, tool: Id) -> Vec<Id> {
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
    pub(crate) fn tool_volume(&mut self, tool: Option<Id>, serves: &[Id], demand: &Demand) -> Option<LineRef> {
        let volumes: Vec<LineRef> = serves.iter().filter_map(|i| self.volumes.get(i).copied()).collect();
        match (tool, volumes.as_slice()) {
            (Some(tool), [_, _, ..]) => {
                let subject = self.record_subject(tool);
                self.roll(subject, "served", "roll-ups/item-volume", &[("parts", Given::Many(&volumes))], "volume")
            }
            _ => demand.volume,
        }
    }

    pub(crate) fn no_time(&mut self) -> LineRef {
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
}
