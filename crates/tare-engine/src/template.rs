//! Templates: a calculation's nodes, compiled once and copied for each use.

use std::collections::BTreeMap;

use crate::graph::{Graph, Node, NodeId, check_arity, number};
use crate::op::Op;

/// The bit that tells a parameter from an inner node in a template's packed operands.
const PARAM: u32 = 1 << 31;

/// Names an operand inside a template.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Operand {
    /// A parameter, bound to a node of the graph when the template is copied.
    Param(u32),
    /// A node of the template.
    Inner(u32),
}

impl Operand {
    fn pack(self) -> u32 {
        match self {
            Operand::Param(param) => param | PARAM,
            Operand::Inner(inner) => inner,
        }
    }
}

/// Holds nodes to be copied into graphs, with parameters left open.
#[derive(Clone, Debug, Default)]
pub struct Template {
    /// The number of parameters.
    pub params: u32,
    /// As in a graph, but numbered from 0 and with the top bit of an operand marking a parameter.
    nodes: Vec<Node>,
    consts: Vec<f64>,
    args: Vec<u32>,
}

impl Template {
    /// Finds the graph node of an operand in the copy that starts at `base` and was made with `params`.
    ///
    /// # Panics
    /// When the operand is a parameter beyond `params`.
    pub fn node(&self, operand: Operand, base: u32, params: &[NodeId]) -> NodeId {
        match operand {
            Operand::Param(param) => params[param as usize],
            Operand::Inner(inner) => base + inner,
        }
    }

    /// Counts the nodes that each copy adds.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Tells whether a copy adds no nodes: the template only passes parameters through.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Appends a copy to `graph`; see [`Graph::instantiate`].
    pub(crate) fn copy_into(&self, graph: &mut Graph, params: &[NodeId]) -> u32 {
        assert!(params.len() == self.params as usize, "bug: {} parameters given, the template has {}", params.len(), self.params);
        let base = number(graph.nodes.len());
        let consts = number(graph.consts.len());
        let args = number(graph.args.len());
        number(graph.nodes.len() + self.nodes.len());
        number(graph.args.len() + self.args.len());

        let renumber = |packed: u32| if packed & PARAM == 0 { base + packed } else { params[(packed & !PARAM) as usize] };
        graph.nodes.extend(self.nodes.iter().map(|node| match node.op {
            Op::Const => Node { a: consts + node.a, ..*node },
            Op::Pick => Node { a: renumber(node.a), b: args + node.b, ..*node },
            Op::If | Op::BetaInv => Node { op: node.op, a: renumber(node.a), b: renumber(node.b), c: renumber(node.c) },
            op if op < Op::Add => Node { a: renumber(node.a), ..*node },
            op => Node { op, a: renumber(node.a), b: renumber(node.b), c: 0 },
        }));
        graph.consts.extend_from_slice(&self.consts);
        graph.args.extend(self.args.iter().map(|packed| renumber(*packed)));
        base
    }
}

/// Builds a template: the same operations as on a graph, over [`Operand`]s.
#[derive(Clone, Debug, Default)]
pub struct TemplateBuilder {
    template: Template,
    constants: BTreeMap<u64, Operand>,
}

impl TemplateBuilder {
    /// Starts a template with `params` parameters.
    pub fn new(params: u32) -> Self {
        number(params as usize);
        TemplateBuilder { template: Template { params, ..Template::default() }, constants: BTreeMap::new() }
    }

    /// Names a parameter, counted from 0.
    ///
    /// # Panics
    /// When there is no such parameter (a bug of the caller).
    pub fn param(&self, param: u32) -> Operand {
        self.check_exists(Operand::Param(param));
        Operand::Param(param)
    }

    /// Adds one more parameter and names it.
    pub fn add_param(&mut self) -> Operand {
        let param = number(self.template.params as usize);
        self.template.params += 1;
        Operand::Param(param)
    }

    /// Adds a constant, or names the one with the same bits that is already there.
    pub fn constant(&mut self, value: f64) -> Operand {
        if let Some(known) = self.constants.get(&value.to_bits()) {
            return *known;
        }
        let index = number(self.template.consts.len());
        self.template.consts.push(value);
        let operand = self.add(Node { op: Op::Const, a: index, b: 0, c: 0 });
        self.constants.insert(value.to_bits(), operand);
        operand
    }

    /// Adds an operation on parameters and earlier nodes.
    ///
    /// # Panics
    /// As [`Graph::push`].
    pub fn push(&mut self, op: Op, operands: &[Operand]) -> Operand {
        check_arity(op, operands.len());
        for operand in operands {
            self.check_exists(*operand);
        }
        let at = |k: usize| operands.get(k).map_or(0, |operand| operand.pack());
        self.add(Node { op, a: at(0), b: at(1), c: at(2) })
    }

    /// Adds a choice among `list` by the value of `index`, which counts from 0.
    ///
    /// # Panics
    /// As [`Graph::pick`].
    pub fn pick(&mut self, index: Operand, list: &[Operand]) -> Operand {
        self.check_exists(index);
        for operand in list {
            self.check_exists(*operand);
        }
        let start = number(self.template.args.len());
        self.template.args.extend(list.iter().map(|operand| operand.pack()));
        self.add(Node { op: Op::Pick, a: index.pack(), b: start, c: number(list.len()) })
    }

    /// Counts the nodes so far.
    pub fn len(&self) -> usize {
        self.template.len()
    }

    /// Tells whether there are no nodes so far.
    pub fn is_empty(&self) -> bool {
        self.template.is_empty()
    }

    /// Ends the building.
    pub fn finish(self) -> Template {
        self.template
    }

    fn add(&mut self, node: Node) -> Operand {
        let inner = number(self.template.nodes.len());
        self.template.nodes.push(node);
        Operand::Inner(inner)
    }

    fn check_exists(&self, operand: Operand) {
        let exists = match operand {
            Operand::Param(param) => param < self.template.params,
            Operand::Inner(inner) => (inner as usize) < self.template.nodes.len(),
        };
        assert!(exists, "bug: {operand:?} does not exist in this template yet");
    }
}
