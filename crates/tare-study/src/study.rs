//! A study compiled: every number as a line, every table as rows of lines.

use crate::builder::{Builder, Given};
use crate::cost::{CostKind, Costs, ItemCost};
use crate::demand::Demand;
use crate::index::Sources;
use crate::lines::{LineRef, Lines};
use crate::mass::constituents;
use crate::tables::{ItemRow, MassRow, PartRow, ToolRow, Totals};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::Diag;
use tare_model::{Field, Id};

/// A compiled study.
#[derive(Clone, Debug)]
pub struct Study {
    /// Every line.
    pub lines: Lines,
    /// The value of every node at the stated values.
    pub values: Vec<f64>,
    /// The study's currency.
    pub currency: String,
    /// Parts, depth-first.
    pub parts: Vec<PartRow>,
    /// Items, in the order of the parts tree.
    pub items: Vec<ItemRow>,
    /// The mass balance.
    pub mass: Vec<MassRow>,
    /// The tool register.
    pub tools: Vec<ToolRow>,
    /// The joint census.
    pub joints: Vec<crate::tables::JointRow>,
    /// Fasteners listed and used.
    pub fasteners: Vec<crate::tables::FastenerRow>,
    /// Assembly times.
    pub assemblies: Vec<crate::tables::AssemblyRow>,
    /// Line balances.
    pub line_balances: Vec<crate::tables::LineRow>,
    /// Totals.
    pub totals: Totals,
    /// Everything that was found wrong or doubtful.
    pub problems: Vec<Diag>,
    /// How many of the problems do not depend on the values of nodes; they stand first.
    lasting: usize,
}

impl Study {
    /// The value of a line in SI.
    pub fn value(&self, line: LineRef) -> f64 {
        self.lines.value(line, &self.values)
    }

    /// Takes over a value record whose text has changed, without compiling again; gives whether that was possible.
    ///
    /// It is where the graph stays as it is: the record feeds exactly one plain leaf, alone for its quantity, and both the old and the
    /// new number are plausible. `study` is the document after the edit. Where it says no, nothing has changed and the study must be
    /// compiled again; the result is the same either way (a test holds it to that).
    pub fn take_value(&mut self, study: &tare_model::Document, library: &tare_library::Library, id: Id) -> bool {
        let Some((leaf, quantity)) = self.changed_leaf(study, library, id) else { return false };
        self.lines.leaves[leaf].quantity = quantity;
        let leaves = self.lines.leaf_values();
        self.values.clear();
        tare_engine::eval_point(&self.lines.graph, &leaves, &mut self.values);
        self.problems.truncate(self.lasting);
        self.problems.extend(crate::refusal::refusals(&self.lines, &self.values));
        true
    }

    fn changed_leaf(
        &self,
        study: &tare_model::Document,
        library: &tare_library::Library,
        id: Id,
    ) -> Option<(usize, tare_units::Quantity)> {
        let value = study.get(id).filter(|v| v.kind == tare_model::Kind::Value)?;
        let name = value.text(Field::Quantity)?;
        let alone =
            study.of_kind(value.parent, tare_model::Kind::Value).filter(|v| v.text(Field::Quantity) == Some(name)).count() == 1;
        let errors_apart = value.refers(Field::Instrument).is_some() || value.text(Field::Calculation).is_some();
        if !alone || errors_apart {
            return None;
        }
        let mut leaves = self.lines.leaves.iter().enumerate().filter(|(_, l)| l.record == Some(id));
        let (at, leaf) = leaves.next().filter(|(_, l)| l.word.is_none())?;
        if leaves.next().is_some() {
            return None;
        }
        let definition = crate::stated::definition(library, study, value, name);
        let class = crate::stated::evidence(value);
        let mut stated = crate::stated::parse(definition, value.text(Field::Text)?).ok()?;
        let implausible =
            definition.is_some_and(|d| crate::stated::outside_band(d, &stated) || crate::stated::outside_band(d, &leaf.quantity));
        let source = crate::value::source_of(value)
            + &crate::stated::add_default_spread(definition, class, name, &mut stated).unwrap_or_default();
        let same_kind = leaf.evidence == class && leaf.source == source && leaf.quantity.unit == stated.unit;
        (!implausible && same_kind).then_some((at, stated))
    }
}

/// Bases a mark-up is taken on, as one organisation sees them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Base {
    Bought,
    Conversion,
    Tooling,
    Directed,
}

impl Base {
    const ALL: [Self; 4] = [Self::Bought, Self::Conversion, Self::Tooling, Self::Directed];
    fn name(self) -> &'static str {
        ["bought", "conversion", "tooling", "directed"][self as usize]
    }
    fn of(kind: CostKind) -> Self {
        match kind {
            CostKind::Bought | CostKind::Material => Self::Bought,
            CostKind::Tooling => Self::Tooling,
            _ => Self::Conversion,
        }
    }
}

/// What one part hands to its parent.
#[derive(Clone, Debug, Default)]
struct PartCost {
    kinds: Costs,
    bases: BTreeMap<Base, LineRef>,
    total: Option<LineRef>,
    /// Added at this part: own cost, scrap of children, mark-ups.
    added: Option<LineRef>,
    scrap_of_children: Option<LineRef>,
    markups: Option<LineRef>,
}

/// Compiles a study. Problems do not stop it: what depends on a missing input is left out and said so.
pub fn compile(sources: Sources<'_>) -> Study {
    let mut builder = Builder::new(sources);
    builder.currency = builder.index.study.and_then(|s| s.text(Field::Currency)).and_then(tare_units::Currency::parse);
    if builder.currency.is_none() {
        let diag = Diag::error("currency-missing", "the study names no currency, so no amount can be added up");
        builder.problem(diag.hint("set the study's currency, such as `EUR`"));
    }
    let mass = builder.mass_rows();
    builder.joint_uses();
    builder.part_times();
    let mut demands = builder.demand();
    builder.volumes = demands.iter().filter_map(|(item, d)| Some((*item, d.volume?))).collect();
    let line_balances = builder.line_balances(&demands);
    let mut tools = Vec::new();
    let mut costs: BTreeMap<Id, ItemCost> = BTreeMap::new();
    // In the order of the parts list, so that tables do not depend on ids.
    let order = builder.items_in_order();
    for item in order {
        let demand = demands.remove(&item).unwrap_or_default();
        let cost = builder.item_cost(item, &demand, &mut tools);
        costs.insert(item, cost);
        demands.insert(item, demand);
    }
    builder.costed_twice();
    let part_costs = builder.part_costs(&costs, &demands);
    let mut totals = builder.totals(&part_costs, &costs, &tools);
    let items = builder.item_rows(&part_costs, &costs, &demands, &mut totals);
    let parts = builder.part_rows(&part_costs, &demands);
    let (joints, fasteners) = builder.census();
    let assemblies = builder.assembly_rows(&mut totals);
    builder.yardsticks(&mut totals);
    let currency = builder.currency.map(|c| c.to_string()).unwrap_or_default();
    let mut problems = std::mem::take(&mut builder.problems);
    let lines = builder.lines;
    let values = lines.evaluate();
    let lasting = problems.len();
    problems.extend(crate::refusal::refusals(&lines, &values));
    problems.extend(crate::mass::gaps_of_nothing(&lines, &values, &mass, &parts));
    Study {
        lasting,
        lines,
        values,
        currency,
        parts,
        items,
        mass,
        tools,
        joints,
        fasteners,
        assemblies,
        line_balances,
        totals,
        problems,
    }
}

impl Builder<'_> {
    /// Costs of all parts, children before parents.
    fn part_costs(&mut self, costs: &BTreeMap<Id, ItemCost>, demands: &BTreeMap<Id, Demand>) -> Vec<PartCost> {
        let mut found: Vec<PartCost> = vec![PartCost::default(); self.index.parts.len()];
        for part in (0..self.index.parts.len()).rev() {
            if !self.inside_costed(part) {
                found[part] = self.part_cost(part, &found, costs, demands);
            }
        }
        found
    }

    fn part_cost(
        &mut self,
        part: usize,
        found: &[PartCost],
        costs: &BTreeMap<Id, ItemCost>,
        demands: &BTreeMap<Id, Demand>,
    ) -> PartCost {
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
        if cost.kinds.is_empty() {
            return cost;
        }
        cost.bases = self.bases(part, &own, cost.scrap_of_children, &children, found);
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
    fn gather(
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

    /// The bases of a mark-up as the organisation that makes the part sees them.
    fn bases(
        &mut self,
        part: usize,
        own: &Costs,
        rejects: Option<LineRef>,
        children: &[usize],
        found: &[PartCost],
    ) -> BTreeMap<Base, LineRef> {
        let subject = self.record_subject(self.index.parts[part].record.id);
        let mut bases = BTreeMap::new();
        for base in Base::ALL {
            let mut terms: Vec<LineRef> = own.iter().filter(|(k, _)| Base::of(**k) == base).map(|(_, l)| *l).collect();
            if base == Base::Conversion {
                terms.extend(rejects);
            }
            let mine = match terms.as_slice() {
                [] => None,
                [one] => Some(*one),
                many => {
                    self.roll(subject, &format!("own {}", base.name()), "roll-ups/sum", &[("terms", Given::Many(many))], "total")
                }
            };
            if let Some(line) =
                self.gather(subject, &format!("{} base", base.name()), mine, children, |c| found[c].bases.get(&base).copied())
            {
                bases.insert(base, line);
            }
        }
        bases
    }

    /// Whether a part leaves the organisation that makes it. Bought items carry their supplier's mark-ups in their price.
    fn crosses(&self, part: usize) -> bool {
        let node = &self.index.parts[part];
        if self.costed_here(node.item.id) {
            return false;
        }
        let here = self.organisation(node.item.id);
        match node.parent {
            Some(parent) => here != self.organisation(self.index.parts[parent].item.id),
            None => here.is_some(),
        }
    }

    /// What the organisation adds where the part leaves it.
    fn mark_up(&mut self, part: usize, cost: &PartCost) -> Costs {
        let item = self.index.parts[part].item.id;
        let subject = self.record_subject(self.index.parts[part].record.id);
        let organisation = self.organisation(item);
        let record = organisation.and_then(|o| self.sources.study.get(o));
        let key = record
            .and_then(|r| r.text(Field::BuildUp))
            .or_else(|| self.index.study.and_then(|s| s.text(Field::BuildUp)))
            .unwrap_or("build-up/study-teardown")
            .to_owned();
        let tier = record.and_then(|r| r.text(Field::Tier)).map(str::to_owned);
        let mut context = crate::bind::Context { item: Some(item), part: Some(part), organisation, ..Default::default() };
        if let Some(tier) = tier {
            for share in ["scrap", "sga", "profit", "engineering"] {
                if share != "scrap"
                    && let Some(line) = self.rate(organisation, &format!("markup.{tier}.{share}"))
                {
                    context.extra.push((format!("rate.tier.{share}"), line));
                }
            }
        }
        let nothing = self.no_money();
        let bases: Vec<(String, LineRef)> =
            Base::ALL.iter().map(|b| (b.name().to_owned(), cost.bases.get(b).copied().unwrap_or(nothing))).collect();
        let mut added = Costs::new();
        if let Some(block) = self.bind_given(subject, "mark-up", &key, &context, &bases) {
            for (name, kind) in [
                ("overhead", CostKind::Overhead),
                ("engineering", CostKind::Engineering),
                ("sga", CostKind::Sga),
                ("profit", CostKind::Profit),
            ] {
                added.extend(self.line(block, name).map(|line| (kind, line)));
            }
        }
        if self.item_mass(item).is_some() {
            self.freight(subject, &context, cost, &mut added);
        }
        added
    }

    /// Freight of the piece, and duty on its price and freight where the rate book states a share.
    fn freight(&mut self, subject: crate::lines::SubjectId, context: &crate::bind::Context, cost: &PartCost, added: &mut Costs) {
        let dutiable = self.rate(context.organisation, "duty.share").is_some();
        let mut given = Vec::new();
        if dutiable {
            let terms: Vec<LineRef> = cost.kinds.values().chain(added.values()).copied().collect();
            let price = self.roll(subject, "price before freight", "roll-ups/sum", &[("terms", Given::Many(&terms))], "total");
            given.extend(price.map(|line| ("price".to_owned(), line)));
        }
        let Some(block) = self.bind_given(subject, "freight out", "build-up/study-freight", context, &given) else { return };
        added.extend(self.line(block, "freight").map(|line| (CostKind::Freight, line)));
        if dutiable {
            added.extend(self.line(block, "duty").map(|line| (CostKind::Duty, line)));
        }
    }

    fn no_money(&mut self) -> LineRef {
        self.shared_leaf("definition", "nothing", |subject| crate::builder::LeafSpec {
            subject,
            name: "nothing".to_owned(),
            quantity: tare_units::Quantity::parse("0 money").unwrap_or_else(|_| crate::builder::plain(0.0)),
            word: None,
            evidence: crate::lines::Evidence::Derived,
            source: "definition: none of this kind occurs".to_owned(),
            record: None,
            shared: true,
        })
    }

    /// To the next organisation everything is bought, except tools that are paid with the piece.
    fn transfer(&mut self, subject: crate::lines::SubjectId, cost: &mut PartCost) {
        let Some(total) = cost.total else { return };
        let tooling: Vec<LineRef> = cost.kinds.get(&CostKind::Tooling).copied().into_iter().collect();
        let rest = self.roll(
            subject,
            "price without tools",
            "roll-ups/without",
            &[("total", Given::One(total)), ("dominant", Given::Many(&tooling))],
            "rest",
        );
        cost.bases =
            [rest.map(|r| (Base::Bought, r)), tooling.first().map(|t| (Base::Tooling, *t))].into_iter().flatten().collect();
    }

    fn totals(&mut self, part_costs: &[PartCost], costs: &BTreeMap<Id, ItemCost>, tools: &[ToolRow]) -> Totals {
        let mut totals = Totals { volume: self.scenario_line("volume"), ..Totals::default() };
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
        totals.mass_by_function = self.mass_by("function", |b, part| {
            let named = std::iter::successors(Some(part), |p| b.index.parts[*p].parent).find_map(|p| {
                b.index.parts[p].record.text(Field::Function).or(b.index.parts[p].item.text(Field::Function)).map(str::to_owned)
            });
            vec![(named.unwrap_or_else(|| "no function stated".to_owned()), 1.0)]
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

    pub(crate) fn title_of(&self, key: &str) -> String {
        self.sources.library.find(key).map_or_else(|| key.to_owned(), |c| c.title.clone())
    }

    fn materials_of(&self, part: usize) -> Vec<(String, f64)> {
        let item = self.index.parts[part].item;
        let mixed = item.text(Field::Constituents).map(constituents).unwrap_or_default();
        if !mixed.is_empty() {
            let rest = 1.0 - mixed.iter().map(|(_, s)| s).sum::<f64>();
            return mixed.into_iter().chain((rest > 1e-9).then(|| ("other constituents".to_owned(), rest))).collect();
        }
        vec![(item.text(Field::Material).unwrap_or("material not named").to_owned(), 1.0)]
    }

    /// Contributions by calculation; rejects and mark-ups have rows of their own, so that the table closes.
    fn by_process(&mut self, totals: &mut Totals, part_costs: &[PartCost], costs: &BTreeMap<Id, ItemCost>) {
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

    /// How many of a part are in one product, as a line.
    pub(crate) fn pieces_line(&mut self, part: usize) -> LineRef {
        if let Some(known) = self.piece_lines.get(&part) {
            return *known;
        }
        let pieces = self.pieces(part);
        let subject = self.record_subject(self.index.parts[part].record.id);
        let line = self.count(subject, "pieces in product", pieces, "counts up the parts tree");
        self.piece_lines.insert(part, line);
        line
    }

    fn item_rows(
        &mut self,
        part_costs: &[PartCost],
        costs: &BTreeMap<Id, ItemCost>,
        demands: &BTreeMap<Id, Demand>,
        totals: &mut Totals,
    ) -> Vec<ItemRow> {
        let mut rows = Vec::new();
        let mut seen = BTreeSet::new();
        let mut dominant = Vec::new();
        for part in 0..self.index.parts.len() {
            let record = self.index.parts[part].item;
            let item = record.id;
            if !seen.insert(item) || self.inside_costed(part) {
                continue;
            }
            let subject = self.record_subject(item);
            let places = self.index.parts_of_item.get(&item).cloned().unwrap_or_default();
            let (counts, lines): (Vec<LineRef>, Vec<LineRef>) =
                places.iter().filter_map(|p| Some((*p, part_costs[*p].added?))).map(|(p, l)| (self.pieces_line(p), l)).unzip();
            let given = [("own", Given::Many(&[])), ("counts", Given::Many(&counts)), ("children", Given::Many(&lines))];
            let contribution =
                if lines.is_empty() { None } else { self.roll(subject, "contribution", "roll-ups/part-kind", &given, "cost") };
            let is_dominant = record.flag(Field::Dominant);
            if is_dominant {
                dominant.extend(contribution);
            }
            let own = costs.get(&item).map(|c| c.own.values().copied().collect::<Vec<_>>()).unwrap_or_default();
            let own = if own.is_empty() {
                None
            } else {
                self.roll(subject, "own cost", "roll-ups/sum", &[("terms", Given::Many(&own))], "total")
            };
            let quotes: Vec<(Id, LineRef)> = self
                .quotes(item)
                .into_iter()
                .filter_map(|q| {
                    let subject = self.record_subject(q);
                    Some((q, self.chosen(subject, q, "price")?))
                })
                .collect();
            let mass = self.item_mass(item);
            let rough =
                if self.costed_here(item) || !self.index.parts[part].children.is_empty() { None } else { self.rough(item, mass) };
            let (address, name) = (self.item_address(item), record.text(Field::Name).unwrap_or("").to_owned());
            let uncosted = self.uncosted.contains(&item);
            rows.push(ItemRow {
                id: item,
                address,
                name,
                volume: demands.get(&item).and_then(|d| d.volume),
                contribution,
                own,
                mass,
                quotes,
                rough,
                dominant: is_dominant,
                uncosted,
            });
        }
        if let Some(total) = totals.cost {
            let subject = self.subject("product", "product", None);
            totals.without_dominant = self.roll(
                subject,
                "without dominant",
                "roll-ups/without",
                &[("total", Given::One(total)), ("dominant", Given::Many(&dominant))],
                "rest",
            );
        }
        rows
    }

    fn rough(&mut self, item: Id, mass: Option<LineRef>) -> Option<LineRef> {
        let material = self.sources.study.get(item)?.text(Field::Material)?.to_owned();
        self.sources.library.material(&material)?;
        let organisation = self.organisation(item);
        let (price, _) = self.material_price(organisation, &material)?;
        let subject = self.record_subject(item);
        self.roll(subject, "rough", "roll-ups/rough-cost", &[("mass", Given::One(mass?)), ("price", Given::One(price))], "cost")
    }

    fn part_rows(&mut self, part_costs: &[PartCost], demands: &BTreeMap<Id, Demand>) -> Vec<PartRow> {
        (0..self.index.parts.len())
            .map(|part| {
                let node = self.index.parts[part].clone();
                let text = |field| node.item.text(field).unwrap_or("").to_owned();
                PartRow {
                    id: node.record.id,
                    item: node.item.id,
                    label: node.label.clone(),
                    name: text(Field::Name),
                    level: node.level,
                    parent: node.parent,
                    count: node.count,
                    pieces: self.pieces(part),
                    material: node
                        .item
                        .text(Field::Constituents)
                        .unwrap_or(node.item.text(Field::Material).unwrap_or(""))
                        .to_owned(),
                    make: text(Field::Make),
                    processes: demands
                        .get(&node.item.id)
                        .map(|d| d.uses.iter().map(|u| u.title.clone()).collect())
                        .unwrap_or_default(),
                    mass: self.adopted(part),
                    cost: part_costs[part].total,
                    inside_costed: self.inside_costed(part),
                }
            })
            .collect()
    }
}
