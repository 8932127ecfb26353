//! Which tool record serves which step: a record serves one tool of one step of each item.

use crate::builder::Builder;
use crate::demand::Demand;
use std::collections::BTreeMap;
use tare_calc::GroupKind;
use tare_diag::{Diag, Place};
use tare_model::{Field, Id, Record};

/// The step by which a bought item is priced.
pub(crate) const PURCHASE: &str = "purchase";

/// One tool that a step owes.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Slot {
    pub(crate) item: Id,
    pub(crate) step: String,
    pub(crate) group: String,
}

/// A slot with what may name it.
struct Candidate {
    slot: Slot,
    operation: Option<Id>,
    /// The tool its operation names.
    tool: Option<Id>,
}

/// Which record serves which slot, and the items each serves.
#[derive(Clone, Debug, Default)]
pub(crate) struct ToolPlan {
    serving: BTreeMap<Slot, Id>,
    items: BTreeMap<Id, Vec<Id>>,
}

impl ToolPlan {
    /// The record that serves a slot.
    pub(crate) fn record(&self, slot: &Slot) -> Option<Id> {
        self.serving.get(slot).copied()
    }

    /// The items a record serves.
    pub(crate) fn items(&self, record: Id) -> &[Id] {
        self.items.get(&record).map_or(&[], Vec::as_slice)
    }

    fn take(&mut self, slot: Slot, record: Id) -> Result<(), Id> {
        if let Some(other) = self.serving.get(&slot) {
            return Err(*other);
        }
        self.items.entry(record).or_default().push(slot.item);
        self.serving.insert(slot, record);
        Ok(())
    }
}

impl Builder<'_> {
    /// Decides for every record which steps it serves; where several could be meant, that is asked and none is taken.
    pub(crate) fn tool_plan(&mut self, demands: &BTreeMap<Id, Demand>) -> ToolPlan {
        let mut plan = ToolPlan::default();
        let tools: Vec<&Record> = self.index.tools.clone();
        if tools.is_empty() {
            return plan;
        }
        let slots: Vec<Vec<Candidate>> = self.items_in_order().into_iter().map(|item| self.tool_slots(item, demands)).collect();
        // What operations name comes before what only names the item.
        let named = |c: &Candidate, t: &Record| {
            c.tool == Some(t.id) || c.operation.is_some_and(|o| t.all_refers(Field::Operations).contains(&o))
        };
        for by_operation in [true, false] {
            for of_item in &slots {
                for tool in &tools {
                    let any_named = of_item.iter().any(|c| named(c, tool));
                    let fits: Vec<&Candidate> = of_item
                        .iter()
                        .filter(|c| tool.text(Field::Group).is_none_or(|g| g == c.slot.group))
                        .filter(|c| match by_operation {
                            true => named(c, tool),
                            false => {
                                !any_named
                                    && tool.all_refers(Field::Operations).is_empty()
                                    && tool.all_refers(Field::Items).contains(&c.slot.item)
                                    && plan.record(&c.slot).is_none_or(|r| tools.iter().any(|t| t.id == r && !named(c, t)))
                            }
                        })
                        .collect();
                    match fits.as_slice() {
                        [] => {}
                        [one] => {
                            if let Err(other) = plan.take(one.slot.clone(), tool.id) {
                                self.two_tools(&one.slot, other, tool);
                            }
                        }
                        many => self.which_step(tool, many),
                    }
                }
            }
        }
        plan
    }

    fn tool_slots(&self, item: Id, demands: &BTreeMap<Id, Demand>) -> Vec<Candidate> {
        let mut slots = Vec::new();
        let mut add = |step: &str, key: &str, operation: Option<Id>, tool: Option<Id>| {
            for group in self.groups(key).into_iter().filter(|g| g.kind == GroupKind::Tool) {
                let slot = Slot { item, step: step.to_owned(), group: group.name.value };
                slots.push(Candidate { slot, operation, tool });
            }
        };
        for step in demands.get(&item).map(|d| d.uses.as_slice()).unwrap_or_default() {
            add(&step.name, &step.key, step.operation, step.context.tool);
        }
        if self.costed_here(item)
            && let Some(key) = self.sources.study.get(item).and_then(|r| r.text(Field::Calculation))
        {
            add(PURCHASE, key, None, None);
        }
        slots
    }

    /// Asks which of several steps a record serves.
    fn which_step(&mut self, tool: &Record, many: &[&Candidate]) {
        let name = tool.text(Field::Name).unwrap_or("?").to_owned();
        let item = self.item_address(many[0].slot.item);
        let steps: Vec<String> = many.iter().map(|c| format!("{item}/{} ({})", c.slot.step, c.slot.group)).collect();
        let one_step = many.iter().all(|c| c.slot.step == many[0].slot.step);
        let field = if one_step { "group" } else { "operations" };
        let says = format!("the tool {name} could serve {}; a record serves one tool of one step", steps.join(" and "));
        let diag = Diag::error("tool-step", says).at(Place::address(format!("tool {name}/{field}")));
        let hint = if one_step {
            "set `group` of the tool to the one it is; until then it serves none of them"
        } else {
            "name the one operation in `operations` of the tool; until then it serves none of them"
        };
        self.problem(diag.hint(hint));
    }

    fn two_tools(&mut self, slot: &Slot, other: Id, tool: &Record) {
        let name = |r: Option<&Record>| r.and_then(|r| r.text(Field::Name)).unwrap_or("?").to_owned();
        let (first, second) = (name(self.sources.study.get(other)), name(Some(tool)));
        let step = format!("{}/{}", self.item_address(slot.item), slot.step);
        let says = format!("the tools {first} and {second} both serve {step} ({}); {first} is taken", slot.group);
        let diag = Diag::error("tool-step", says).at(Place::address(format!("tool {second}/operations")));
        self.problem(diag.hint("name another operation in `operations` of one of them, or remove it"));
    }
}
