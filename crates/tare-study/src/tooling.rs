//! Tools: sets, charge per piece, the register.

use crate::builder::{Builder, Given};
use crate::demand::{Demand, Use};
use crate::kinds::CostKind;
use crate::lines::{LineRef, SubjectId};
use crate::tables::ToolRow;
use crate::tool_plan::{Slot, ToolPlan};
use std::collections::BTreeMap;
use tare_calc::{Group, GroupKind};
use tare_diag::{Diag, Place};
use tare_model::{Field, Id};

/// The tools of a study while they are found.
#[derive(Clone, Debug, Default)]
pub(crate) struct Tools {
    pub(crate) plan: ToolPlan,
    pub(crate) rows: Vec<ToolRow>,
}

/// What a tool is held by: pieces a year, starts per good piece, seconds and pieces of one cycle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Load {
    pub(crate) volume: LineRef,
    pub(crate) starts: LineRef,
    pub(crate) cycle: LineRef,
    pub(crate) pieces: LineRef,
}

impl Builder<'_> {
    /// Tools of a step: sets, charge per piece, and a row of the register each.
    pub(crate) fn tool_costs(
        &mut self,
        item: Id,
        step: &Use,
        demand: &Demand,
        pieces: Option<LineRef>,
        tools: &mut Tools,
        gathered: &mut BTreeMap<CostKind, Vec<LineRef>>,
    ) -> Vec<LineRef> {
        let subject = self.record_subject(item);
        let mut lines = Vec::new();
        for group in self.tool_groups(&step.key) {
            let slot = Slot { item, step: step.name.clone(), group: group.name.value.clone() };
            let record = tools.plan.record(&slot);
            let serves = record.map_or_else(|| vec![item], |r| tools.plan.items(r).to_vec());
            let Some(volume) = self.tool_volume(record, &serves, demand) else { continue };
            let cycle = self.line_or_input(step.block, &step.key, "cycle").unwrap_or_else(|| self.no_time());
            let pieces = pieces.unwrap_or_else(|| self.one("pieces", "one piece a cycle"));
            let load = Load { volume, starts: step.starts, cycle, pieces };
            let per_piece = self.tool_charge(subject, step, &group, record, serves, load, tools);
            gathered.entry(CostKind::Tooling).or_default().extend(per_piece);
            lines.extend(per_piece);
        }
        lines
    }

    /// The tools a calculation owes.
    pub(crate) fn tool_groups(&self, key: &str) -> Vec<Group> {
        self.groups(key).into_iter().filter(|g| g.kind == GroupKind::Tool).collect()
    }

    /// What one tool adds to a piece, with its row in the register.
    #[expect(clippy::too_many_arguments, reason = "what is asked, of which step, by whom, under which load")]
    pub(crate) fn tool_charge(
        &mut self,
        subject: SubjectId,
        step: &Use,
        group: &Group,
        record: Option<Id>,
        serves: Vec<Id>,
        load: Load,
        tools: &mut Tools,
    ) -> Option<LineRef> {
        let organisation = step.context.organisation;
        let mut own = |quantity: &str| {
            let subject = self.record_subject(record?);
            self.chosen(subject, record?, quantity)
        };
        let (own_cost, own_life) = (own("cost"), own("tool_life"));
        let cost = own_cost.or_else(|| self.field(step, group, "cost"))?;
        let life = own_life.or_else(|| self.field(step, group, "life"))?;
        let years = self.scenario_line(organisation, "life");
        let (hours, interest) = (self.rate(organisation, "machine.hours"), self.rate(organisation, "interest"));
        let (Some(years), Some(hours), Some(interest)) = (years, hours, interest) else {
            self.tool_terms(years, hours, interest);
            return None;
        };
        let lump = record.and_then(|r| self.sources.study.get(r)).and_then(|r| r.text(Field::Owner)) == Some("client");
        let mut given = vec![
            ("cost", Given::One(cost)),
            ("tool_life", Given::One(life)),
            ("cycle", Given::One(load.cycle)),
            ("pieces", Given::One(load.pieces)),
            ("volume", Given::One(load.volume)),
            ("starts", Given::One(load.starts)),
            ("years", Given::One(years)),
            ("hours", Given::One(hours)),
            ("interest", Given::One(interest)),
        ];
        given.extend(self.field(step, group, "upkeep").map(|u| ("upkeep", Given::One(u))));
        let ramp = self.ramp(organisation);
        if let Some(ramp) = &ramp {
            given.extend([("year_number", Given::Many(&ramp.numbers)), ("year_volume", Given::Many(&ramp.volumes))]);
        }
        if lump {
            let one = self.one("lump", "the client owns the tool and pays it as a lump");
            given.push(("lump", Given::One(one)));
        }
        let name = format!("{} {}", step.name, group.name.value);
        let block = self.place(subject, &name, "roll-ups/tool-cost", &given)?;
        let per_piece = self.line(block, "per_piece");
        // A record is one tool, however many items it serves.
        if record.is_none() || !tools.rows.iter().any(|t| t.record == record) {
            let title = record.and_then(|r| self.sources.study.get(r)).and_then(|r| r.text(Field::Name)).map_or_else(
                || format!("{} for {}", group.name.value.replace('_', " "), self.lines.subjects[subject.0 as usize].title),
                str::to_owned,
            );
            let (investment, sets) = (self.line(block, "investment"), self.line(block, "set_count"));
            tools.rows.push(ToolRow {
                title,
                record,
                group: group.name.value.clone(),
                key: step.key.clone(),
                serves,
                cost,
                life,
                pieces: load.pieces,
                sets,
                investment,
                per_piece,
                lump,
            });
        }
        per_piece
    }

    fn tool_terms(&mut self, years: Option<LineRef>, hours: Option<LineRef>, interest: Option<LineRef>) {
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
}
