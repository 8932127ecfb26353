//! The lines of a compiled study: leaves with evidence, and copies of calculations whose equations are named numbers.

use std::sync::Arc;
use tare_calc::Lowered;
use tare_engine::{Graph, NodeId, Operand, Placed, Settled};
use tare_model::Id;
use tare_units::{Quantity, Unit};

/// A subject: what a line is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SubjectId(pub(crate) u32);

/// What a line is about: an item, a part, a joint, the product, a rate book ...
#[derive(Clone, Debug)]
pub struct Subject {
    /// First part of the address of its lines: `P12`, `item 4`, `product`.
    pub address: String,
    /// Its name.
    pub title: String,
    /// The record behind it, if there is one.
    pub record: Option<Id>,
}

/// Strength of the evidence behind a leaf, strongest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Evidence {
    /// Read from an instrument or counted.
    Measured,
    /// Computed from other values outside the graph.
    Derived,
    /// Published.
    Handbook,
    /// Offered by a supplier.
    Quoted,
    /// Judged.
    Assumed,
}

impl Evidence {
    /// All classes, strongest first.
    pub const ALL: [Self; 5] = [Self::Measured, Self::Derived, Self::Handbook, Self::Quoted, Self::Assumed];

    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Derived => "derived",
            Self::Handbook => "handbook",
            Self::Quoted => "quoted",
            Self::Assumed => "assumed",
        }
    }

    /// The class with this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|e| e.word() == word)
    }
}

/// A number that comes from outside: a reading, a price, a table cell, a method error.
#[derive(Clone, Debug)]
pub struct Leaf {
    /// What it is about.
    pub subject: SubjectId,
    /// Its name.
    pub name: String,
    /// Value, spread and unit.
    pub quantity: Quantity,
    /// The word shown instead of the number, for choices.
    pub word: Option<String>,
    /// How well it is known.
    pub evidence: Evidence,
    /// Where it comes from, in words.
    pub source: String,
    /// The value record behind it, if there is one.
    pub record: Option<Id>,
    /// Its node.
    pub node: NodeId,
    /// Whether one variable serves many uses (a wage, a method error) rather than one subject.
    pub shared: bool,
    /// Degrees of freedom of its spread, where that comes from few readings: it is then Student's t, and the spread stated with the leaf
    /// is the standard deviation of that.
    pub freedom: Option<f64>,
}

impl Leaf {
    /// The standard uncertainty that goes with the degrees of freedom (JCGM 100, 4.2): by how much Student's t is stretched. Without degrees of
    /// freedom the standard deviation.
    pub fn scale(&self) -> f64 {
        let deviation = self.quantity.standard_uncertainty();
        self.freedom.map_or(deviation, |freedom| deviation * ((freedom - 2.0) / freedom).sqrt())
    }
}

/// Names one number of a compiled study.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LineRef {
    /// A leaf by number.
    Leaf(u32),
    /// A line of a block, and the element of it if it is a list.
    Line {
        /// The block.
        block: u32,
        /// The line within the block.
        line: u32,
        /// The element, 0 for a single number.
        element: u32,
    },
}

/// One copy of a calculation.
#[derive(Clone, Debug)]
pub struct Block {
    /// What it is about.
    pub subject: SubjectId,
    /// Its name under the subject, such as `op2` or `mass`.
    pub name: String,
    /// The compiled calculation, by number.
    pub template: u32,
    /// The first node of the copy.
    pub base: u32,
    /// Where its own arguments start in [`Lines::args`].
    pub args: u32,
    /// The unit its lines are shown in where it is not the calculation's own.
    pub unit: Option<Unit>,
}

/// What a parameter of a compiled calculation is bound to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Argument {
    /// The same line in every copy: a table cell, a method error, a default, an exchange rate.
    Shared(LineRef),
    /// The copy's own argument of this number.
    Own(u32),
}

/// A compiled calculation for one shape of its inputs.
#[derive(Clone, Debug)]
pub struct CompiledTemplate {
    /// The calculation's key.
    pub key: String,
    /// Parameters and lines.
    pub lowered: Arc<Lowered>,
    /// The nodes of each copy, and where the nodes went that all copies share.
    pub settled: Settled,
    /// What each parameter is bound to.
    pub arguments: Vec<Argument>,
}

/// Every line of a study.
#[derive(Clone, Debug, Default)]
pub struct Lines {
    /// The graph of bare operations.
    pub graph: Graph,
    /// Leaves, by leaf number of the graph.
    pub leaves: Vec<Leaf>,
    /// Copies of calculations.
    pub blocks: Vec<Block>,
    /// The blocks' own arguments: which line each parameter is bound to that is not the same in every copy.
    pub args: Vec<LineRef>,
    /// Compiled calculations.
    pub templates: Vec<CompiledTemplate>,
    /// Subjects.
    pub subjects: Vec<Subject>,
    /// The studies these lines were joined from; none for one study alone.
    pub(crate) origins: Vec<crate::joined::Origin>,
    /// What each leaf is called by its random numbers, where lines were joined.
    pub(crate) streams: Vec<String>,
}

impl Lines {
    /// The node of a line.
    pub fn node(&self, line: LineRef) -> NodeId {
        let mut at = line;
        loop {
            match at {
                LineRef::Leaf(leaf) => return self.leaves[leaf as usize].node,
                LineRef::Line { block, line, element } => {
                    let template = &self.templates[self.blocks[block as usize].template as usize];
                    match template.lowered.lines[line as usize].values[element as usize] {
                        Operand::Inner(inner) => return self.inner(block, inner),
                        // A line may pass a parameter through; the argument is an earlier line.
                        Operand::Param(param) => at = self.argument(block, param),
                    }
                }
            }
        }
    }

    /// The node of an operand of a block's calculation.
    pub fn operand(&self, block: u32, operand: Operand) -> NodeId {
        match operand {
            Operand::Inner(inner) => self.inner(block, inner),
            Operand::Param(param) => self.node(self.argument(block, param)),
        }
    }

    /// The line that a parameter of a block's calculation is bound to.
    pub fn argument(&self, block: u32, param: u32) -> LineRef {
        let block = &self.blocks[block as usize];
        match self.templates[block.template as usize].arguments[param as usize] {
            Argument::Shared(line) => line,
            Argument::Own(own) => self.args[(block.args + own) as usize],
        }
    }

    fn inner(&self, block: u32, inner: u32) -> NodeId {
        let (number, block) = (block, &self.blocks[block as usize]);
        let node = match self.templates[block.template as usize].settled.inner[inner as usize] {
            Placed::Shared(node) => node,
            Placed::Own(own) => block.base + own,
        };
        match self.origins.is_empty() {
            true => node,
            false => self.joined_node(number, node),
        }
    }

    /// The value of a line, in SI, from the values of all nodes.
    pub fn value(&self, line: LineRef, values: &[f64]) -> f64 {
        values[self.node(line) as usize]
    }

    /// The unit a line is shown in.
    pub fn unit(&self, line: LineRef) -> &Unit {
        match line {
            LineRef::Leaf(leaf) => &self.leaves[leaf as usize].quantity.unit,
            LineRef::Line { block, line, .. } => {
                let block = &self.blocks[block as usize];
                block.unit.as_ref().unwrap_or(&self.templates[block.template as usize].lowered.lines[line as usize].unit)
            }
        }
    }

    /// What a line is about.
    pub fn subject(&self, line: LineRef) -> &Subject {
        let id = match line {
            LineRef::Leaf(leaf) => self.leaves[leaf as usize].subject,
            LineRef::Line { block, .. } => self.blocks[block as usize].subject,
        };
        &self.subjects[id.0 as usize]
    }

    /// What a leaf is about.
    pub fn subject_of(&self, leaf: &Leaf) -> &Subject {
        &self.subjects[leaf.subject.0 as usize]
    }

    /// The line in which a result went wrong, from the values of all nodes: the first on the way back from the result that is no number
    /// while what it reads is one; sides not taken do not matter. `None` where the result is a number, or a leaf is to blame.
    pub fn first_failure(&self, result: LineRef, values: &[f64]) -> Option<LineRef> {
        let broken = |node: NodeId| !values[node as usize].is_finite();
        let mut way = vec![self.node(result)];
        let mut at = Some(way[0]).filter(|node| broken(*node));
        while let Some(node) = at {
            at = self.graph.taken(node, values).into_iter().find(|operand| broken(*operand));
            way.extend(at);
        }
        if !broken(way[0]) {
            return None;
        }
        let lines = (0..self.blocks.len() as u32).flat_map(|block| self.lines_of(block));
        let on_the_way = lines.filter(|line| !self.name(*line).contains('#')).filter_map(|line| {
            let node = self.node(line);
            Some((way.iter().position(|on| *on == node)?, line))
        });
        // the furthest from the result; of several names for one node the first
        on_the_way.max_by_key(|(place, line)| (*place, std::cmp::Reverse(*line))).map(|(_, line)| line)
    }

    /// The last part of a line's address: its name.
    pub fn name(&self, line: LineRef) -> &str {
        match line {
            LineRef::Leaf(leaf) => &self.leaves[leaf as usize].name,
            LineRef::Line { block, line, .. } => {
                &self.templates[self.blocks[block as usize].template as usize].lowered.lines[line as usize].name
            }
        }
    }

    /// The address of a line: `P12/op2/cycle`, with `[3]` behind the third element of a list.
    pub fn address(&self, line: LineRef) -> String {
        let study = self.study_of(line).map_or_else(String::new, |name| format!("{name}/"));
        let subject = format!("{study}{}", self.subject(line).address);
        match line {
            LineRef::Leaf(_) => format!("{subject}/{}", self.name(line)),
            LineRef::Line { block, line: at, element } => {
                let block = &self.blocks[block as usize];
                let many = self.templates[block.template as usize].lowered.lines[at as usize].values.len() > 1;
                let index = if many { format!("[{}]", element + 1) } else { String::new() };
                format!("{subject}/{}/{}{index}", block.name, self.name(line))
            }
        }
    }

    /// Every line of a block, lists element by element.
    pub fn lines_of(&self, block: u32) -> impl Iterator<Item = LineRef> {
        let lowered = &self.templates[self.blocks[block as usize].template as usize].lowered;
        lowered.lines.iter().enumerate().flat_map(move |(line, def)| {
            (0..def.values.len()).map(move |element| LineRef::Line { block, line: line as u32, element: element as u32 })
        })
    }

    /// The line with an address. A leading `study/` is accepted.
    pub fn find(&self, address: &str) -> Option<LineRef> {
        let address = address.strip_prefix("study/").unwrap_or(address);
        let blocks = (0..self.blocks.len() as u32).filter(|b| {
            let block = &self.blocks[*b as usize];
            let subject = &self.subjects[block.subject.0 as usize].address;
            let study = self.study_of(LineRef::Line { block: *b, line: 0, element: 0 });
            let address = study.map_or(Some(address), |name| address.strip_prefix(name)?.strip_prefix('/'));
            address
                .and_then(|rest| rest.strip_prefix(subject.as_str()))
                .and_then(|rest| rest.strip_prefix('/'))
                .and_then(|rest| rest.strip_prefix(block.name.as_str()))
                .is_some_and(|rest| rest.starts_with('/'))
        });
        let in_blocks = blocks.flat_map(|b| self.lines_of(b)).find(|line| self.address(*line) == address);
        let leaf = || (0..self.leaves.len() as u32).map(LineRef::Leaf).find(|leaf| self.address(*leaf) == address);
        in_blocks.or_else(leaf).or_else(|| self.result_of(address))
    }

    /// The last line of the block with an address such as `product/cost`: its result.
    fn result_of(&self, address: &str) -> Option<LineRef> {
        let named = |block: &Block| {
            address.strip_prefix(self.subjects[block.subject.0 as usize].address.as_str()).and_then(|rest| rest.strip_prefix('/'))
                == Some(block.name.as_str())
        };
        let block = self.blocks.iter().position(named)? as u32;
        self.lines_of(block).filter(|line| !self.name(*line).contains('#')).last()
    }

    /// The stated values of all leaves, by leaf number.
    pub fn leaf_values(&self) -> Vec<f64> {
        self.leaves.iter().map(|l| l.quantity.value).collect()
    }

    /// Evaluates every node at the stated values.
    pub fn evaluate(&self) -> Vec<f64> {
        let mut values = Vec::with_capacity(self.graph.nodes.len());
        tare_engine::eval_point(&self.graph, &self.leaf_values(), &mut values);
        values
    }
}
