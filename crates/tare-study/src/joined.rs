//! Several studies as one graph: what they share stands once, and lines may be written over all of them.

use crate::builder::{Builder, LeafSpec, plain};
use crate::index::Sources;
use crate::lines::{Argument, Evidence, Leaf, LineRef, Lines, SubjectId};
use crate::study::Study;
use std::collections::HashMap;
use tare_engine::{Merger, NodeId};
use tare_model::Id;

/// Where the lines of one study went when it was joined with others.
#[derive(Clone, Debug)]
pub(crate) struct Origin {
    /// What the study is called in addresses; empty where addresses are to stand without it.
    name: String,
    /// Its blocks: the first, and the first of the next study.
    blocks: (u32, u32),
    /// Its subjects, likewise.
    subjects: (u32, u32),
    /// The number of each of its leaves.
    leaves: Vec<u32>,
    /// The node of each of its nodes.
    nodes: Vec<NodeId>,
}

/// An argument of a calculation that is placed over several studies.
#[derive(Clone, Copy, Debug)]
pub enum Over<'x> {
    /// A single line.
    One(LineRef),
    /// A list of lines.
    Many(&'x [LineRef]),
}

/// Studies joined into one graph, to which lines about all of them are added.
///
/// Leaves that are the same variable in several studies and are stated alike are one leaf; those that are stated otherwise keep the
/// random numbers of their name. Operations on the same operands stand once, so that a study that differs little from another adds little.
pub struct Joined<'a> {
    builder: Builder<'a>,
    correlated: Vec<crate::correlated::Correlated>,
}

impl<'a> Joined<'a> {
    /// Joins studies, each under the name its addresses get in front. `sources` is what the first was compiled from: texts of the
    /// calculations that are added come from its library, stated values from its records.
    pub fn new(sources: Sources<'a>, studies: &[(&str, &Study)]) -> Self {
        let mut builder = Builder::new(sources);
        let mut correlated = Vec::new();
        let mut joining = Joining::default();
        for (name, study) in studies {
            joining.take(name, study, &mut correlated);
        }
        crate::correlated::agree(&mut correlated, &mut builder.problems);
        builder.lines = joining.lines;
        builder.lines.graph = joining.merger.graph;
        builder.currency = studies.first().and_then(|(_, study)| tare_units::Currency::parse(&study.currency));
        Self { builder, correlated }
    }

    /// A line of one of the studies, as it is called here.
    pub fn line(&self, study: usize, line: LineRef) -> LineRef {
        let origin = &self.builder.lines.origins[study];
        match line {
            LineRef::Leaf(leaf) => LineRef::Leaf(origin.leaves[leaf as usize]),
            LineRef::Line { block, line, element } => LineRef::Line { block: block + origin.blocks.0, line, element },
        }
    }

    /// Whether two lines are one number, whatever the leaves.
    pub fn same(&self, a: LineRef, b: LineRef) -> bool {
        self.builder.lines.node(a) == self.builder.lines.node(b)
    }

    /// The subject of lines that are added, by its address.
    pub fn subject(&mut self, address: &str, title: &str, record: Option<Id>) -> SubjectId {
        self.builder.subject(address, title, record)
    }

    /// An exact plain number that was counted over a study.
    pub fn count(&mut self, subject: SubjectId, name: &str, value: f64, source: &str) -> LineRef {
        self.builder.count(subject, name, value, source)
    }

    /// An exact amount of nothing, in the unit of a text such as `0 EUR`.
    pub fn nothing(&mut self, subject: SubjectId, name: &str, text: &str) -> LineRef {
        let quantity = tare_units::Quantity::parse(text).unwrap_or_else(|_| plain(0.0));
        let (name, source) = (name.to_owned(), "nothing is stated".to_owned());
        let evidence = Evidence::Assumed;
        self.builder.leaf(LeafSpec { subject, name, quantity, word: None, evidence, source, record: None, shared: false })
    }

    /// What a record states of a quantity, in the first study's currency.
    pub fn stated(&mut self, record: Id, quantity: &str) -> Option<LineRef> {
        let subject = self.builder.record_subject(record);
        let line = self.builder.chosen(subject, record, quantity)?;
        Some(self.builder.in_study_currency(line))
    }

    /// A number of the scenario, as the maker of the product has it.
    pub fn scenario(&mut self, quantity: &str) -> Option<LineRef> {
        let maker = self.builder.index.parts.first().and_then(|top| self.builder.organisation(top.item.id));
        self.builder.scenario_line(maker, quantity)
    }

    /// The years of a ramp of the product's volume: their numbers, and the volume of each.
    pub fn ramp(&mut self) -> Option<(Vec<LineRef>, Vec<LineRef>)> {
        let maker = self.builder.index.parts.first().and_then(|top| self.builder.organisation(top.item.id));
        self.builder.ramp(maker).map(|ramp| (ramp.numbers, ramp.volumes))
    }

    /// Whether a record states a quantity, known or not.
    pub fn states(&self, record: Id, quantity: &str) -> bool {
        self.builder.index.of(record, quantity).next().is_some()
    }

    /// A rate of the product's maker.
    pub fn rate(&mut self, key: &str) -> Option<LineRef> {
        let maker = self.builder.index.parts.first().and_then(|top| self.builder.organisation(top.item.id));
        self.builder.rate(maker, key)
    }

    /// Places a calculation over lines of the studies, and gives one of its lines.
    pub fn roll(&mut self, subject: SubjectId, name: &str, key: &str, given: &[(&str, Over<'_>)], line: &str) -> Option<LineRef> {
        let block = self.place(subject, name, key, given)?;
        self.builder.line(block, line)
    }

    /// Places a calculation over lines of the studies.
    pub fn place(&mut self, subject: SubjectId, name: &str, key: &str, given: &[(&str, Over<'_>)]) -> Option<u32> {
        let given: Vec<(&str, crate::builder::Given<'_>)> = given.iter().map(|(input, over)| (*input, (*over).into())).collect();
        self.builder.place(subject, name, key, &given)
    }

    /// Shows the lines of the calculation behind a line in the unit of another line: an amount per kilowatt-hour stays one.
    pub fn show_as(&mut self, line: LineRef, other: LineRef) {
        let unit = self.builder.lines.unit(other).clone();
        if let LineRef::Line { block, .. } = line {
            self.builder.lines.blocks[block as usize].unit = Some(unit);
        }
    }

    /// A line of a calculation that was placed, by name.
    pub fn line_of(&self, block: u32, name: &str) -> Option<LineRef> {
        self.builder.line(block, name)
    }

    /// All of it evaluated: lines and values, without tables.
    pub fn finish(mut self) -> Study {
        let problems = std::mem::take(&mut self.builder.problems);
        let currency = self.builder.currency.map(|c| c.to_string()).unwrap_or_default();
        Study::of_lines(self.builder.lines, currency, self.correlated, problems)
    }
}

impl<'x> From<Over<'x>> for crate::builder::Given<'x> {
    fn from(over: Over<'x>) -> Self {
        match over {
            Over::One(line) => Self::One(line),
            Over::Many(lines) => Self::Many(lines),
        }
    }
}

/// What makes two leaves one: the name of their random numbers, value, spread and unit as stated, and degrees of freedom.
type Alike = (String, u64, String, String, Option<u64>);

#[derive(Default)]
struct Joining {
    lines: Lines,
    merger: Merger,
    leaves: HashMap<Alike, u32>,
    /// The first leaf with a spread of each name of random numbers.
    called: HashMap<String, u32>,
}

impl Joining {
    fn take(&mut self, name: &str, study: &Study, correlated: &mut Vec<crate::correlated::Correlated>) {
        let (names, from) = (study.lines.stream_names(), &study.lines);
        let first_subject = self.lines.subjects.len() as u32;
        let subject = |id: SubjectId| SubjectId(id.0 + first_subject);
        self.lines.subjects.extend(from.subjects.iter().cloned());
        let mut leaves = Vec::with_capacity(from.leaves.len());
        for (at, leaf) in from.leaves.iter().enumerate() {
            let alike = alike(&names[at], leaf);
            let known = self.leaves.get(&alike).copied();
            leaves.push(known.unwrap_or_else(|| {
                let made = self.lines.leaves.len() as u32;
                let node = self.merger.graph.leaf();
                self.lines.leaves.push(Leaf { subject: subject(leaf.subject), node, ..leaf.clone() });
                self.lines.streams.push(names[at].clone());
                if leaf.quantity.spread.is_some() {
                    self.called.entry(names[at].clone()).or_insert(made);
                }
                self.leaves.entry(alike).or_insert(made);
                made
            }));
        }
        let stands: Vec<NodeId> = leaves.iter().map(|leaf| self.lines.leaves[*leaf as usize].node).collect();
        let nodes = self.merger.take(&from.graph, &stands);
        let (first_block, first_template) = (self.lines.blocks.len() as u32, self.lines.templates.len() as u32);
        let first_arg = self.lines.args.len() as u32;
        let line = |at: LineRef| match at {
            LineRef::Leaf(leaf) => LineRef::Leaf(leaves[leaf as usize]),
            LineRef::Line { block, line, element } => LineRef::Line { block: block + first_block, line, element },
        };
        self.lines.args.extend(from.args.iter().map(|at| line(*at)));
        self.lines.templates.extend(from.templates.iter().cloned().map(|mut template| {
            for argument in &mut template.arguments {
                if let Argument::Shared(at) = argument {
                    *at = line(*at);
                }
            }
            template
        }));
        self.lines.blocks.extend(from.blocks.iter().cloned().map(|mut block| {
            block.subject = subject(block.subject);
            block.template += first_template;
            block.args += first_arg;
            block
        }));
        for stated in &study.correlated {
            // what is one variable has one place among those that move together, whatever is stated of it
            let place = |leaf: &u32| self.called.get(&names[*leaf as usize]).copied().unwrap_or(leaves[*leaf as usize]);
            let named: Vec<u32> = stated.leaves.iter().map(place).collect();
            crate::correlated::join(correlated, stated, &named, |leaf| self.lines.leaves[leaf as usize].shared);
        }
        let (blocks, subjects) = (self.lines.blocks.len() as u32, self.lines.subjects.len() as u32);
        let origin =
            Origin { name: name.to_owned(), blocks: (first_block, blocks), subjects: (first_subject, subjects), leaves, nodes };
        self.lines.origins.push(origin);
    }
}

fn alike(name: &str, leaf: &Leaf) -> Alike {
    let quantity = &leaf.quantity;
    let spread = format!("{:?}", quantity.spread);
    (name.to_owned(), quantity.value.to_bits(), spread, quantity.unit.text.clone(), leaf.freedom.map(f64::to_bits))
}

impl Lines {
    fn origin_of(&self, block: u32) -> Option<&Origin> {
        let at = self.origins.partition_point(|origin| origin.blocks.1 <= block);
        self.origins.get(at).filter(|origin| origin.blocks.0 <= block)
    }

    /// The node that stands for one of a block's study.
    pub(crate) fn joined_node(&self, block: u32, node: NodeId) -> NodeId {
        self.origin_of(block).map_or(node, |origin| origin.nodes[node as usize])
    }

    /// The name of the study a line belongs to, where several were joined and it belongs to one.
    pub fn study_of(&self, line: LineRef) -> Option<&str> {
        let origin = match line {
            LineRef::Line { block, .. } => self.origin_of(block),
            LineRef::Leaf(leaf) => {
                let subject = self.leaves.get(leaf as usize)?.subject.0;
                let at = self.origins.partition_point(|origin| origin.subjects.1 <= subject);
                let shared = self.origins.iter().filter(|o| o.leaves.contains(&leaf)).take(2).count() > 1;
                self.origins.get(at).filter(|origin| !shared && origin.subjects.0 <= subject)
            }
        };
        origin.map(|origin| origin.name.as_str()).filter(|name| !name.is_empty())
    }

    /// What each leaf is called by its random numbers, whatever its value and wherever it is listed: for what is shared its address,
    /// else subject, record and name. Two leaves of one study are never one variable unless they are one leaf: a name met again is numbered.
    pub fn stream_names(&self) -> Vec<String> {
        let mut met: HashMap<String, u32> = HashMap::new();
        let own = |leaf: &Leaf| {
            let subject = self.subject_of(leaf);
            match (leaf.shared, subject.record) {
                (false, Some(record)) => format!("{record}/{}", leaf.name),
                _ => format!("{}/{}", subject.address, leaf.name),
            }
        };
        let known = self.streams.iter().cloned();
        let more = self.leaves[self.streams.len()..].iter().map(|leaf| {
            let name = own(leaf);
            let times = met.entry(name.clone()).or_insert(0);
            *times += 1;
            if *times == 1 { name } else { format!("{name}#{times}") }
        });
        known.chain(more).collect()
    }
}
