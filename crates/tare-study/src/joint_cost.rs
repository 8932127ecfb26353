//! Cost of joints: machines, materials, consumables and tools; their labour is in the station's time.

use crate::builder::{Builder, Given};
use crate::demand::{Demand, Use};
use crate::kinds::CostKind;
use crate::lines::LineRef;
use crate::tooling::{Load, Tools};
use std::collections::BTreeMap;
use tare_model::Id;

impl Builder<'_> {
    /// One joint of an assembly, all its points or seams.
    pub(crate) fn joint_cost(
        &mut self,
        joint: usize,
        demand: &Demand,
        tools: &mut Tools,
        gathered: &mut BTreeMap<CostKind, Vec<LineRef>>,
    ) -> Option<LineRef> {
        let used = self.joints[joint].clone();
        let block = used.block?;
        let item = used.paid.map(|a| self.index.parts[a].item.id)?;
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
        // A rejected assembly loses its joints with it.
        if let (Some(sets), false) = (demand.sets, terms.is_empty()) {
            let ones = vec![self.one("once", "one per assembly"); terms.len()];
            let given = [("sets", Given::One(sets)), ("counts", Given::Many(&ones)), ("children", Given::Many(&terms))];
            let lost = self.roll(subject, "rejects", "roll-ups/part-scrap", &given, "cost");
            gathered.entry(CostKind::Scrap).or_default().extend(lost);
            terms.extend(lost);
        }
        let tooling = self.joint_tools(item, &step, used.count, yielded, demand, tools);
        gathered.entry(CostKind::Tooling).or_default().extend(tooling.iter().copied());
        terms.extend(tooling);
        if terms.is_empty() {
            None
        } else {
            self.roll(subject, "cost", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total")
        }
    }

    /// Tools of a joint, per assembly: they wear with every joint made, count times the assembly's volume, rework and rejects included.
    fn joint_tools(
        &mut self,
        item: Id,
        step: &Use,
        count: LineRef,
        yielded: Option<LineRef>,
        demand: &Demand,
        tools: &mut Tools,
    ) -> Vec<LineRef> {
        let groups = self.tool_groups(&step.key);
        let (false, Some(volume), Some(yielded)) = (groups.is_empty(), demand.volume, yielded) else { return Vec::new() };
        let Some(joint) = step.context.joint else { return Vec::new() };
        let subject = self.record_subject(joint);
        let one = self.one("once", "one per assembly");
        let given = [("parents", Given::One(volume)), ("sets", Given::One(one)), ("count", Given::One(count))];
        let made = self.roll(subject, "made", "roll-ups/part-volume", &given, "volume");
        let mut given = vec![("yield", Given::One(yielded))];
        given.extend(demand.sets.map(|sets| ("later", Given::One(sets))));
        let starts = self.roll(subject, "starts", "roll-ups/starts", &given, "starts");
        let held: Vec<LineRef> =
            ["manual", "process"].iter().filter_map(|name| self.line_or_input(step.block, &step.key, name)).collect();
        let ones = vec![one; held.len()];
        let given = [("counts", Given::Many(&ones)), ("times", Given::Many(&held))];
        let cycle = self.roll(subject, "held", "roll-ups/seconds", &given, "time");
        let (Some(volume), Some(starts), Some(cycle)) = (made, starts, cycle) else { return Vec::new() };
        let load = Load { volume, starts, cycle, pieces: self.one("pieces", "one piece a cycle") };
        let mut lines = Vec::new();
        for group in groups {
            let Some(each) = self.tool_charge(subject, step, &group, None, vec![item], load, tools) else { continue };
            let given = [("count", Given::One(count)), ("piece", Given::One(each))];
            let name = format!("tools {}", group.name.value);
            lines.extend(self.roll(subject, &name, "roll-ups/joint-cost", &given, "cost"));
        }
        lines
    }
}
