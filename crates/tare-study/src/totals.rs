//! Totals of the product, and how they split: by kind of cost, by process, by material, by function.

use crate::builder::{Builder, Given};
use crate::cost::ItemCost;
use crate::kinds::CostKind;
use crate::lines::LineRef;
use crate::mass::constituents;
use crate::part_cost::PartCost;
use crate::tables::{ToolRow, Totals};
use std::collections::BTreeMap;
use tare_model::{Field, Id};

/// What the whole product costs beyond its parts, where cost is told by function.
const WHOLE: &str = "assembly of the whole";
/// The group of parts whose function nobody stated.
pub const NO_FUNCTION: &str = "no function stated";

impl Builder<'_> {
    pub(crate) fn totals(&mut self, part_costs: &[PartCost], costs: &BTreeMap<Id, ItemCost>, tools: &[ToolRow]) -> Totals {
        let maker = self.index.parts.first().and_then(|top| self.organisation(top.item.id));
        let mut totals = Totals { volume: self.scenario_line(maker, "volume"), ..Totals::default() };
        let roots: Vec<usize> = (0..self.index.parts.len()).filter(|p| self.index.parts[*p].parent.is_none()).collect();
        let subject = self.subject("product", "product", None);
        let (root_counts, root_lines): (Vec<LineRef>, Vec<LineRef>) =
            roots.iter().filter_map(|r| Some((*r, part_costs[*r].total?))).map(|(r, l)| (self.count_line(r), l)).unzip();
        if !root_lines.is_empty() {
            let given =
                [("own", Given::Many(&[])), ("counts", Given::Many(&root_counts)), ("children", Given::Many(&root_lines))];
            totals.cost = self.roll(subject, "cost", "roll-ups/part-kind", &given, "cost");
        }
        for kind in CostKind::ALL {
            let line = self.gather(subject, kind.key(), None, &roots, |p| part_costs[p].kinds.get(&kind).copied());
            totals.by_kind.extend(line.map(|l| (kind, l)));
        }
        let mut counts = Vec::new();
        let mut masses = Vec::new();
        for root in &roots {
            if let Some(mass) = self.adopted(*root) {
                counts.push(self.count_line(*root));
                masses.push(mass);
            }
        }
        totals.mass = self.roll(
            subject,
            "mass",
            "roll-ups/sum-mass",
            &[("counts", Given::Many(&counts)), ("masses", Given::Many(&masses))],
            "mass",
        );
        totals.mass_by_material = self.mass_by("material", |b, part| b.materials_of(part));
        totals.mass_by_function = self.mass_by("function", |b, part| vec![(b.function_of(part), 1.0)]);
        // putting the product together, and what its maker adds, is the work of no single function
        let function = |b: &Self, part: usize| {
            let whole = b.index.parts[part].parent.is_none() && !b.index.is_leaf(part);
            if whole { WHOLE.to_owned() } else { b.function_of(part) }
        };
        totals.cost_by_function = self.added_by("function", part_costs, function);
        totals.cost_by_material = self.added_by("material", part_costs, |b, part| {
            let named = b.index.parts[part].item.text(Field::Material);
            let mixed = || b.index.parts[part].item.text(Field::Constituents).map(|_| "several constituents");
            named.or_else(mixed).unwrap_or("material not named").to_owned()
        });
        totals.mass_by_process = self.mass_by("process", |b, part| {
            let item = b.index.parts[part].item;
            let first = b.index.operations(item.id).iter().find_map(|o| o.text(Field::Calculation)).map(|k| b.title_of(k));
            let bought = if b.costed_here(item.id) || b.inside_costed(part) { "bought" } else { "no process stated" };
            vec![(first.unwrap_or_else(|| bought.to_owned()), 1.0)]
        });
        self.by_process(&mut totals, part_costs, costs);
        let invested: Vec<LineRef> = tools.iter().filter_map(|t| t.investment).collect();
        if !invested.is_empty() {
            totals.investment = self.roll(subject, "investment", "roll-ups/sum", &[("terms", Given::Many(&invested))], "total");
        }
        totals
    }

    /// The function of a part: its own, its item's, or that of what it sits in.
    fn function_of(&self, part: usize) -> String {
        let named = std::iter::successors(Some(part), |p| self.index.parts[*p].parent).find_map(|p| {
            let node = &self.index.parts[p];
            node.record.text(Field::Function).or(node.item.text(Field::Function)).map(str::to_owned)
        });
        named.unwrap_or_else(|| NO_FUNCTION.to_owned())
    }

    /// What parts add to the cost of the product (own work, purchase, rejects, mark-ups; children not included), by group: the groups add up to it.
    fn added_by(
        &mut self,
        what: &str,
        part_costs: &[PartCost],
        group: impl Fn(&Self, usize) -> String,
    ) -> Vec<(String, LineRef)> {
        let mut groups: BTreeMap<String, (Vec<LineRef>, Vec<LineRef>)> = BTreeMap::new();
        for (part, cost) in part_costs.iter().enumerate() {
            let Some(added) = cost.added.filter(|_| !self.inside_costed(part)) else { continue };
            let pieces = self.pieces_line(part);
            let entry = groups.entry(group(self, part)).or_default();
            entry.0.push(pieces);
            entry.1.push(added);
        }
        let mut found = Vec::new();
        for (name, (counts, lines)) in groups {
            let subject = self.subject(&format!("{what} {name}"), &name, None);
            let given = [("own", Given::Many(&[])), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
            let line = self.roll(subject, "cost", "roll-ups/part-kind", &given, "cost");
            found.extend(line.map(|l| (name, l)));
        }
        found
    }

    pub(crate) fn title_of(&self, key: &str) -> String {
        self.sources.library.find(key).map_or_else(|| key.to_owned(), |c| c.title.clone())
    }

    pub(crate) fn materials_of(&self, part: usize) -> Vec<(String, f64)> {
        let item = self.index.parts[part].item;
        let mixed = item.text(Field::Constituents).map(constituents).unwrap_or_default();
        if !mixed.is_empty() {
            let rest = 1.0 - mixed.iter().map(|(_, s)| s).sum::<f64>();
            return mixed.into_iter().chain((rest > 1e-9).then(|| ("other constituents".to_owned(), rest))).collect();
        }
        vec![(item.text(Field::Material).unwrap_or("material not named").to_owned(), 1.0)]
    }

    /// Contributions by calculation; rejects and mark-ups have rows of their own, so that the table closes.
    pub(crate) fn by_process(&mut self, totals: &mut Totals, part_costs: &[PartCost], costs: &BTreeMap<Id, ItemCost>) {
        let mut groups: BTreeMap<String, (Vec<LineRef>, Vec<LineRef>)> = BTreeMap::new();
        for (part, cost) in part_costs.iter().enumerate() {
            if self.inside_costed(part) {
                continue;
            }
            let item = self.index.parts[part].item.id;
            let steps: Vec<(String, LineRef)> = costs.get(&item).map(|c| c.steps.clone()).unwrap_or_default();
            let more = [("assembly rejects", cost.scrap_of_children), ("mark-ups and freight", cost.markups)];
            let all = steps.into_iter().chain(more.into_iter().filter_map(|(n, l)| Some((n.to_owned(), l?))));
            for (key, line) in all {
                let pieces = self.pieces_line(part);
                let name = self.title_of(&key);
                let entry = groups.entry(name).or_default();
                entry.0.push(pieces);
                entry.1.push(line);
            }
        }
        for (name, (counts, lines)) in groups {
            let subject = self.subject(&format!("process {name}"), &name, None);
            let given = [("own", Given::Many(&[])), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
            let line = self.roll(subject, "cost", "roll-ups/part-kind", &given, "cost");
            totals.by_process.extend(line.map(|l| (name, l)));
        }
    }

    /// How many of a part are paid in one product, as a line: those inside items that are costed as a whole are in their price.
    pub(crate) fn pieces_line(&mut self, part: usize) -> LineRef {
        if let Some(known) = self.piece_lines.get(&part) {
            return *known;
        }
        let pieces = self.index.places.paid[part];
        let subject = self.record_subject(self.index.parts[part].record.id);
        let line = self.count(subject, "pieces in product", pieces, "counts up the parts tree");
        self.piece_lines.insert(part, line);
        line
    }
}
