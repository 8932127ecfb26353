//! A study compiled: every number as a line, every table as rows of lines.

use crate::builder::Builder;
use crate::cost::ItemCost;
use crate::index::Sources;
use crate::lines::{LineRef, Lines};
use crate::tables::{ItemRow, MassRow, PartRow, ToolRow, Totals};
use crate::tooling::Tools;
use std::collections::BTreeMap;
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
    /// Inputs that move together.
    pub correlated: Vec<crate::correlated::Correlated>,
    /// Everything that was found wrong or doubtful.
    pub problems: Vec<Diag>,
    /// Whether a weight was read off the graph, so that no leaf may change alone.
    weighted: bool,
    /// How many of the problems do not depend on the values of nodes; they stand first.
    lasting: usize,
}

impl Study {
    /// The value of a line in SI.
    pub fn value(&self, line: LineRef) -> f64 {
        self.lines.value(line, &self.values)
    }

    /// Lines alone, evaluated at their stated values: what was joined from several studies has no tables of its own.
    pub(crate) fn of_lines(
        lines: Lines,
        currency: String,
        correlated: Vec<crate::correlated::Correlated>,
        problems: Vec<Diag>,
    ) -> Self {
        let values = lines.evaluate();
        let lasting = problems.len();
        Self {
            lines,
            values,
            currency,
            correlated,
            problems,
            lasting,
            weighted: false,
            parts: Vec::new(),
            items: Vec::new(),
            mass: Vec::new(),
            tools: Vec::new(),
            joints: Vec::new(),
            fasteners: Vec::new(),
            assemblies: Vec::new(),
            line_balances: Vec::new(),
            totals: Totals::default(),
        }
    }

    /// The study at other values of its leaves, as one draw has them: tables and rows stay, messages are those of
    /// these values.
    pub fn at(&self, leaves: &[f64]) -> Self {
        let mut study = self.clone();
        study.values.clear();
        tare_engine::eval_point(&study.lines.graph, leaves, &mut study.values);
        study.problems = crate::refusal::refusals(&study.lines, &study.values);
        study
    }

    /// Takes over a value record whose text has changed, without compiling again; gives whether that was possible.
    ///
    /// It is where the graph stays as it is: the record feeds exactly one plain leaf, alone for its quantity, and both the old and the
    /// new number are plausible. `study` is the document after the edit. Where it says no, nothing has changed and the study must be
    /// compiled again; the result is the same either way (a test holds it to that).
    pub fn take_value(&mut self, study: &tare_model::Document, library: &tare_library::Library, id: Id) -> bool {
        self.take_values(study, library, &[id])
    }

    /// As [`Study::take_value`] for several records at once; where one of them cannot be taken over, the study must be compiled again.
    pub fn take_values(&mut self, study: &tare_model::Document, library: &tare_library::Library, ids: &[Id]) -> bool {
        let found: Option<Vec<_>> = ids.iter().map(|id| self.changed_leaf(study, library, *id)).collect();
        let Some(found) = found else { return false };
        for (leaf, taken) in found {
            let leaf = &mut self.lines.leaves[leaf];
            (leaf.quantity, leaf.evidence, leaf.source) = (taken.quantity, taken.evidence, taken.source);
        }
        let leaves = self.lines.leaf_values();
        self.values.clear();
        tare_engine::eval_point(&self.lines.graph, &leaves, &mut self.values);
        self.problems.truncate(self.lasting);
        self.problems.extend(crate::refusal::refusals(&self.lines, &self.values));
        true
    }

    fn changed_leaf(&self, study: &tare_model::Document, library: &tare_library::Library, id: Id) -> Option<(usize, Taken)> {
        let value = study.get(id).filter(|v| v.kind == tare_model::Kind::Value)?;
        let name = value.text(Field::Quantity)?;
        let alone =
            study.of_kind(value.parent, tare_model::Kind::Value).filter(|v| v.text(Field::Quantity) == Some(name)).count() == 1;
        // The years of a ramp and the fasteners used are judged with these numbers while compiling.
        let judged =
            name == "life" || (name == "count" && study.get(value.parent?).is_some_and(|p| p.kind == tare_model::Kind::Joint));
        let errors_apart = judged || value.refers(Field::Instrument).is_some() || value.text(Field::Calculation).is_some();
        if !alone || errors_apart || self.weighted {
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
        let taken = Taken { evidence: class, source, quantity: stated };
        (!implausible && leaf.quantity.unit == taken.quantity.unit).then_some((at, taken))
    }
}

/// What a value record says now of the leaf it feeds.
struct Taken {
    quantity: tare_units::Quantity,
    evidence: crate::lines::Evidence,
    source: String,
}

/// Compiles a study. Problems do not stop it: what depends on a missing input is left out and said so.
pub fn compile(sources: Sources<'_>) -> Study {
    // Questions wait for each other up to a fixed depth (see `circle`); whoever calls, there is room for them.
    std::thread::scope(|scope| {
        let roomy = std::thread::Builder::new().name("compile".to_owned()).stack_size(STACK);
        match roomy.spawn_scoped(scope, || compile_here(sources)) {
            Ok(thread) => thread.join().unwrap_or_else(|bug| std::panic::resume_unwind(bug)),
            // without another thread the caller's own room has to do
            Err(_) => compile_here(sources),
        }
    })
}

/// Bytes of stack for compiling: the deepest chain of questions takes about a sixth of it, without optimisation.
const STACK: usize = 16 << 20;

fn compile_here(sources: Sources<'_>) -> Study {
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
    let mut tools = Tools { plan: builder.tool_plan(&demands), ..Tools::default() };
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
    let mut totals = builder.totals(&part_costs, &costs, &tools.rows);
    let items = builder.item_rows(&part_costs, &costs, &demands, &mut totals);
    let parts = builder.part_rows(&part_costs, &demands);
    let (joints, fasteners) = builder.census();
    let assemblies = builder.assembly_rows(&mut totals);
    builder.yardsticks(&mut totals);
    let currency = builder.currency.map(|c| c.to_string()).unwrap_or_default();
    let mut problems = std::mem::take(&mut builder.problems);
    let weighted = builder.read_values;
    problems.extend(crate::holds::out_of_order(sources.study, sources.library));
    let lines = builder.lines;
    let correlated = crate::correlated::correlated(sources.study, &lines, &mut problems);
    let values = lines.evaluate();
    let lasting = problems.len();
    problems.extend(crate::refusal::refusals(&lines, &values));
    problems.extend(crate::mass::gaps_of_nothing(&lines, &values, &mass, &parts));
    Study {
        lasting,
        weighted,
        lines,
        values,
        currency,
        parts,
        items,
        mass,
        tools: tools.rows,
        joints,
        fasteners,
        assemblies,
        line_balances,
        totals,
        correlated,
        problems,
    }
}
