//! Copies calculations into the graph and keeps track of what each parameter is bound to.

use crate::index::{Index, Sources};
use crate::lines::{Argument, Block, CompiledTemplate, Evidence, Leaf, LineRef, Lines, Subject, SubjectId};
use rustc_hash::FxHashMap as HashMap;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use tare_calc::{FlatInput, ParamKind, Shape};
use tare_diag::{Diag, Place};
use tare_model::Id;
use tare_units::{Currency, Quantity};

/// Seconds of a year as the units know it.
pub(crate) const YEAR: f64 = 365.25 * 86_400.0;

/// What an input of a calculation is bound to: nothing, or one line per element.
pub(crate) type Bound = Vec<Option<Vec<LineRef>>>;

/// An argument given by name.
#[derive(Clone, Copy)]
pub(crate) enum Given<'x> {
    One(LineRef),
    Many(&'x [LineRef]),
}

/// A study while it is being compiled.
pub(crate) struct Builder<'a> {
    pub(crate) lines: Lines,
    pub(crate) sources: Sources<'a>,
    pub(crate) index: Index<'a>,
    pub(crate) problems: Vec<Diag>,
    /// The study's currency.
    pub(crate) currency: Option<Currency>,
    pub(crate) chosen: HashMap<(Id, String, crate::pick::Asked), Option<LineRef>>,
    /// Lines of what was picked among values, by its first value and whether it is a mean of several.
    pub(crate) picked_lines: HashMap<(Id, bool), Option<LineRef>>,
    /// Questions that are being answered, each for the one before it.
    pub(crate) waiting: Vec<crate::circle::Question>,
    /// Whether a number of the graph has become a leaf (a weight), so that a changed leaf asks for compiling again.
    pub(crate) read_values: bool,
    pub(crate) rates: HashMap<(Option<Id>, String), Option<LineRef>>,
    /// Keys of rates that are stated but cannot stand; that they are missing too is not said.
    pub(crate) refused_rates: BTreeSet<String>,
    pub(crate) material_prices: HashMap<String, (LineRef, LineRef)>,
    pub(crate) part_masses: crate::mass::Masses,
    pub(crate) counts: HashMap<usize, LineRef>,
    pub(crate) piece_lines: HashMap<usize, LineRef>,
    pub(crate) wages: HashMap<String, Option<LineRef>>,
    pub(crate) joints: Vec<crate::joint_time::JointUse>,
    /// The first station that joins a part, by its place among the work of the assembly: there it is put in.
    pub(crate) put_in: HashMap<usize, (usize, Id)>,
    pub(crate) times: BTreeMap<usize, crate::time::AssemblyTimes>,
    pub(crate) volumes: BTreeMap<Id, LineRef>,
    /// Paid over worked time, by operation on a line.
    pub(crate) line_losses: BTreeMap<Id, LineRef>,
    /// Items whose cost is not known.
    pub(crate) uncosted: BTreeSet<Id>,
    /// The years of a volume, by who states it.
    pub(crate) ramps: HashMap<Id, Option<crate::scenario::Ramp>>,
    inputs: HashMap<String, Arc<Vec<FlatInput<'a>>>>,
    /// By calculation, then by shape: asked once per copy, so without an owned key.
    templates: HashMap<String, HashMap<Shape, Option<u32>>>,
    copies: HashMap<String, HashMap<Bound, Option<u32>>>,
    shared: HashMap<String, LineRef>,
    subjects: HashMap<String, SubjectId>,
    pub(crate) record_subjects: HashMap<Id, SubjectId>,
}

impl<'a> Builder<'a> {
    pub(crate) fn new(sources: Sources<'a>) -> Self {
        Self {
            lines: Lines::default(),
            index: Index::new(sources.study),
            sources,
            problems: Vec::new(),
            currency: None,
            chosen: HashMap::default(),
            picked_lines: HashMap::default(),
            waiting: Vec::new(),
            read_values: false,
            rates: HashMap::default(),
            refused_rates: BTreeSet::new(),
            material_prices: HashMap::default(),
            part_masses: crate::mass::Masses::default(),
            counts: HashMap::default(),
            piece_lines: HashMap::default(),
            wages: HashMap::default(),
            joints: Vec::new(),
            put_in: HashMap::default(),
            times: BTreeMap::new(),
            volumes: BTreeMap::new(),
            line_losses: BTreeMap::new(),
            uncosted: BTreeSet::new(),
            ramps: HashMap::default(),
            inputs: HashMap::default(),
            templates: HashMap::default(),
            copies: HashMap::default(),
            shared: HashMap::default(),
            subjects: HashMap::default(),
            record_subjects: HashMap::default(),
        }
    }

    /// The subject with an address; made on first use.
    pub(crate) fn subject(&mut self, address: &str, title: &str, record: Option<Id>) -> SubjectId {
        if let Some(known) = self.subjects.get(address) {
            return *known;
        }
        let id = SubjectId(self.lines.subjects.len() as u32);
        self.lines.subjects.push(Subject { address: address.to_owned(), title: title.to_owned(), record });
        self.subjects.insert(address.to_owned(), id);
        id
    }

    pub(crate) fn problem(&mut self, diag: Diag) {
        if !self.problems.contains(&diag) {
            self.problems.push(diag);
        }
    }

    /// Adds a leaf.
    pub(crate) fn leaf(&mut self, leaf: LeafSpec) -> LineRef {
        let node = self.lines.graph.leaf();
        let number = self.lines.leaves.len() as u32;
        let LeafSpec { subject, name, quantity, word, evidence, source, record, shared } = leaf;
        self.lines.leaves.push(Leaf { subject, name, quantity, word, evidence, source, record, node, shared, freedom: None });
        LineRef::Leaf(number)
    }

    /// A leaf that one address names for all its uses.
    pub(crate) fn shared_leaf(&mut self, subject: &str, name: &str, make: impl FnOnce(SubjectId) -> LeafSpec) -> LineRef {
        let address = format!("{subject}/{name}");
        if let Some(known) = self.shared.get(&address) {
            return *known;
        }
        let id = self.subject(subject, subject, None);
        let line = self.leaf(make(id));
        self.shared.insert(address, line);
        line
    }

    /// An exact plain number that was counted or defined.
    pub(crate) fn count(&mut self, subject: SubjectId, name: &str, value: f64, source: &str) -> LineRef {
        let quantity = plain(value);
        let spec = LeafSpec {
            subject,
            name: name.to_owned(),
            quantity,
            word: None,
            evidence: Evidence::Measured,
            source: source.to_owned(),
            record: None,
            shared: false,
        };
        self.leaf(spec)
    }

    /// The inputs of a calculation, those of the calculations it uses included.
    pub(crate) fn inputs(&mut self, key: &str) -> Option<Arc<Vec<FlatInput<'a>>>> {
        if let Some(known) = self.inputs.get(key) {
            return Some(known.clone());
        }
        let calculation = self.sources.library.find(key)?;
        let flat = Arc::new(tare_calc::flat_inputs(calculation, self.sources.library));
        self.inputs.insert(key.to_owned(), flat.clone());
        Some(flat)
    }

    /// Copies a calculation with arguments given by name; inputs not given take their defaults.
    ///
    /// For the study's own roll-ups: a missing argument there is a bug and is reported as one.
    pub(crate) fn place(&mut self, subject: SubjectId, name: &str, key: &str, given: &[(&str, Given<'_>)]) -> Option<u32> {
        let Some(inputs) = self.inputs(key) else {
            self.problem(Diag::error("calculation-unknown", format!("the library has no calculation `{key}`")));
            return None;
        };
        let mut bound: Bound = vec![None; inputs.len()];
        for (input, lines) in given {
            match inputs.iter().position(|i| i.name == *input) {
                Some(at) => {
                    bound[at] = Some(match lines {
                        Given::One(line) => vec![*line],
                        Given::Many(lines) => lines.to_vec(),
                    });
                }
                None => self.problem(Diag::error("roll-up", format!("bug: `{key}` has no input `{input}`"))),
            }
        }
        for (input, lines) in inputs.iter().zip(&bound) {
            if lines.is_none() && input.input.default.is_none() && !input.input.optional {
                self.problem(Diag::error("roll-up", format!("bug: `{key}` is not given `{}`", input.name)));
                return None;
            }
        }
        self.copy(subject, name, key, &bound)
    }

    /// As [`Builder::copy`], but two uses of one calculation with the same arguments are one.
    pub(crate) fn copy_once(&mut self, subject: SubjectId, name: &str, key: &str, bound: Bound) -> Option<u32> {
        if let Some(known) = self.copies.get(key).and_then(|copies| copies.get(&bound)) {
            return *known;
        }
        let made = self.copy(subject, name, key, &bound);
        self.copies.entry(key.to_owned()).or_default().insert(bound, made);
        made
    }

    /// Copies a calculation whose inputs are bound in order.
    pub(crate) fn copy(&mut self, subject: SubjectId, name: &str, key: &str, bound: &Bound) -> Option<u32> {
        let shape = Shape { given: bound.iter().map(|b| b.as_ref().map(Vec::len)).collect() };
        let template = self.template(key, shape)?;
        let compiled = &self.lines.templates[template as usize];
        let start = self.lines.args.len();
        let mut nodes = Vec::with_capacity(compiled.settled.template.params as usize);
        for (param, argument) in compiled.lowered.params.iter().zip(&compiled.arguments) {
            let (Argument::Own(_), ParamKind::Input(at)) = (argument, &param.what) else { continue };
            let line = bound[*at].as_ref().and_then(|lines| lines.get(param.element.unwrap_or(0)).copied())?;
            nodes.push(self.lines.node(line));
            self.lines.args.push(line);
        }
        let base = self.lines.graph.instantiate(&compiled.settled.template, &nodes);
        let number = self.lines.blocks.len() as u32;
        self.lines.blocks.push(Block { subject, name: name.to_owned(), template, base, args: start as u32, unit: None });
        Some(number)
    }

    /// A line of a block by name.
    pub(crate) fn line(&self, block: u32, name: &str) -> Option<LineRef> {
        let lowered = &self.lines.templates[self.lines.blocks[block as usize].template as usize].lowered;
        let line = lowered.lines.iter().position(|l| l.name == name)?;
        Some(LineRef::Line { block, line: line as u32, element: 0 })
    }

    /// Places a roll-up and gives one of its lines.
    pub(crate) fn roll(
        &mut self,
        subject: SubjectId,
        name: &str,
        key: &str,
        given: &[(&str, Given<'_>)],
        line: &str,
    ) -> Option<LineRef> {
        let block = self.place(subject, name, key, given)?;
        self.line(block, line)
    }

    fn template(&mut self, key: &str, shape: Shape) -> Option<u32> {
        if let Some(known) = self.templates.get(key).and_then(|shapes| shapes.get(&shape)) {
            return *known;
        }
        let library = self.sources.library;
        let calculation = library.find(key)?;
        let lowering = || {
            let mut lowered = tare_calc::lower(calculation, library, &shape)?;
            self.in_own_money(&mut lowered);
            Ok::<_, Vec<Diag>>(lowered)
        };
        let made = match library.lowered(self.currency, key, &shape, lowering) {
            Ok(lowered) => {
                let fixed: Vec<Option<LineRef>> = lowered.params.iter().map(|param| self.fixed(key, param, &shape)).collect();
                let mut own = 0;
                let arguments = fixed.iter().map(|line| match line {
                    Some(line) => Argument::Shared(*line),
                    None => {
                        own += 1;
                        Argument::Own(own - 1)
                    }
                });
                let arguments = arguments.collect();
                let nodes: Vec<_> = fixed.iter().map(|line| line.map(|line| self.lines.node(line))).collect();
                let settled = self.lines.graph.settle(&lowered.template, &nodes);
                let number = self.lines.templates.len() as u32;
                self.lines.templates.push(CompiledTemplate { key: key.to_owned(), lowered, settled, arguments });
                Some(number)
            }
            Err(problems) => {
                problems.into_iter().for_each(|p| self.problem(p));
                None
            }
        };
        self.templates.entry(key.to_owned()).or_default().insert(shape, made);
        made
    }

    /// Lines in `money` are shown in the study's currency.
    fn in_own_money(&self, lowered: &mut tare_calc::Lowered) {
        let Some(currency) = self.currency.map(|c| c.to_string()) else { return };
        for line in lowered.lines.iter_mut().filter(|l| l.unit.text.contains("money")) {
            if let Ok(unit) = tare_units::Unit::parse(&line.unit.text.replace("money", &currency)) {
                line.unit = unit;
            }
        }
    }

    /// The shared leaf behind a parameter, or nothing for an input that each copy binds.
    fn fixed(&mut self, key: &str, param: &tare_calc::Param, shape: &Shape) -> Option<LineRef> {
        if let ParamKind::Exchange(currency) = &param.what {
            return Some(self.exchange(*currency));
        }
        if let ParamKind::Input(at) = &param.what
            && shape.given[*at].is_some()
        {
            return None;
        }
        let owner = if param.calculation.is_empty() { key.to_owned() } else { param.calculation.to_string() };
        let quantity = param.default.clone().or_else(|| param.level.map(plain))?;
        let (name, source) = (param.name.clone(), param.source.clone().unwrap_or_default());
        if param.what == ParamKind::Method
            && let Some(leaf) = self.own_method(&owner, &name)
        {
            return Some(leaf);
        }
        Some(self.shared_leaf(&owner, &name.clone(), |subject| LeafSpec {
            subject,
            name,
            quantity,
            word: None,
            evidence: class_of(&source),
            source,
            record: None,
            shared: true,
        }))
    }

    /// The dated rate that turns an amount in a currency into the study's.
    pub(crate) fn exchange(&mut self, currency: Currency) -> LineRef {
        if Some(currency) == self.currency {
            return self.shared_leaf("exchange", &currency.to_string(), |subject| LeafSpec {
                subject,
                name: currency.to_string(),
                quantity: plain(1.0),
                word: None,
                evidence: Evidence::Derived,
                source: "the study's own currency".to_owned(),
                record: None,
                shared: true,
            });
        }
        let found = self.exchange_rate(currency);
        if found.is_none() {
            let into = self.currency.map_or_else(|| "the study's currency".to_owned(), |c| c.to_string());
            let diag = Diag::error("exchange-missing", format!("no rate turns {currency} into {into}"))
                .at(Place::address(format!("exchange/{currency}")))
                .hint(format!("add `exchange.{currency}` to the rate book: {into} for one {currency}, with its date"));
            self.problem(diag);
        }
        let (quantity, source) = found.unwrap_or_else(|| (plain(f64::NAN), "missing".to_owned()));
        self.shared_leaf("exchange", &currency.to_string(), |subject| LeafSpec {
            subject,
            name: currency.to_string(),
            quantity,
            word: None,
            evidence: Evidence::Handbook,
            source,
            record: None,
            shared: true,
        })
    }

    /// A line in the study's currency: unchanged, or times the exchange rate of its own currency.
    pub(crate) fn in_study_currency(&mut self, line: LineRef) -> LineRef {
        let LineRef::Leaf(at) = line else { return line };
        let (unit, subject, name) = {
            let leaf = &self.lines.leaves[at as usize];
            (leaf.quantity.unit.clone(), leaf.subject, leaf.name.clone())
        };
        let Some(currency) = unit.currency.filter(|c| Some(*c) != self.currency) else { return line };
        let rate = self.exchange(currency);
        let block = self.place(subject, &name, "roll-ups/exchange", &[("amount", Given::One(line)), ("rate", Given::One(rate))]);
        let Some(block) = block else { return line };
        self.lines.blocks[block as usize].unit = self.study_unit(&unit);
        self.line(block, "here").unwrap_or(line)
    }

    /// A unit with its currency replaced by the study's.
    fn study_unit(&self, unit: &tare_units::Unit) -> Option<tare_units::Unit> {
        let (from, to) = (unit.currency?.to_string(), self.currency?.to_string());
        tare_units::Unit::parse(&unit.text.replace(&from, &to)).ok()
    }
}

/// Everything a leaf needs.
pub(crate) struct LeafSpec {
    pub(crate) subject: SubjectId,
    pub(crate) name: String,
    pub(crate) quantity: Quantity,
    pub(crate) word: Option<String>,
    pub(crate) evidence: Evidence,
    pub(crate) source: String,
    pub(crate) record: Option<Id>,
    pub(crate) shared: bool,
}

/// A plain exact number as a quantity.
pub(crate) fn plain(value: f64) -> Quantity {
    let unit = tare_units::Unit::parse("1").unwrap_or_else(|_| unreachable!("bug: the plain unit does not parse"));
    Quantity { text: value.to_string(), value, spread: None, unit }
}

/// The class of evidence a source in the library speaks of itself.
fn class_of(source: &str) -> Evidence {
    let source = source.to_lowercase();
    if source.starts_with("definition") {
        Evidence::Derived
    } else if source.is_empty() || ["assumption", "assumed", "illustrative", "common practice"].iter().any(|w| source.contains(w))
    {
        Evidence::Assumed
    } else {
        Evidence::Handbook
    }
}
