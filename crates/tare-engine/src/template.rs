//! Templates: a calculation's nodes, compiled once and copied for each use.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::graph::{Graph, Node, NodeId, Search, check_arity, check_search, number};
use crate::math::Match;
use crate::op::Op;

/// The bit that tells a parameter from an inner node in a template's packed operands.
const PARAM: u32 = 1 << 31;
/// The bit that tells what already stands in the graph (a node, the start of a list, a search), shared by all copies.
const SHARED: u32 = 1 << 30;

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

/// Tells where a template's node went when the template was settled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Placed {
    /// A node of the graph that all copies share.
    Shared(NodeId),
    /// A node of each copy, counted from the copy's first.
    Own(u32),
}

/// Holds a template of which the part that is the same in every copy already stands in a graph.
///
/// It belongs to the graph it was settled in.
#[derive(Clone, Debug)]
pub struct Settled {
    /// What each copy still adds; its parameters are those left open.
    pub template: Template,
    /// Where each node of the original template went.
    pub inner: Vec<Placed>,
}

/// Holds nodes to be copied into graphs, with parameters left open.
#[derive(Clone, Debug, Default)]
pub struct Template {
    /// The number of parameters.
    pub params: u32,
    /// As in a graph, but numbered from 0 and with the top bits of an operand marking a parameter or what stands in the graph.
    nodes: Vec<Node>,
    consts: Vec<f64>,
    args: Vec<u32>,
    searches: Vec<Search>,
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
        let searches = number(graph.searches.len());
        number(graph.nodes.len() + self.nodes.len());
        number(graph.args.len() + self.args.len());

        let renumber = |packed: u32| match packed & (PARAM | SHARED) {
            0 => base + packed,
            SHARED => packed & !SHARED,
            _ => params[(packed & !PARAM) as usize],
        };
        let moved = |packed: u32, by: u32| if packed & SHARED == 0 { by + packed } else { packed & !SHARED };
        graph.nodes.extend(self.nodes.iter().map(|node| match node.op {
            Op::Const => Node { a: consts + node.a, ..*node },
            Op::Pick => Node { a: renumber(node.a), b: moved(node.b, args), ..*node },
            Op::Find => Node { a: moved(node.a, searches), b: moved(node.b, args), ..*node },
            Op::If | Op::BetaInv => Node { op: node.op, a: renumber(node.a), b: renumber(node.b), c: renumber(node.c) },
            op if op < Op::Add => Node { a: renumber(node.a), ..*node },
            op => Node { op, a: renumber(node.a), b: renumber(node.b), c: 0 },
        }));
        graph.consts.extend_from_slice(&self.consts);
        graph.args.extend(self.args.iter().map(|packed| renumber(*packed)));
        graph.searches.extend(self.searches.iter().map(|search| Search { cells: args + search.cells, ..search.clone() }));
        base
    }

    /// Puts into `graph` what is the same in every copy; see [`Graph::settle`].
    pub(crate) fn settle(&self, graph: &mut Graph, params: &[Option<NodeId>]) -> Settled {
        assert!(params.len() == self.params as usize, "bug: {} parameters given, the template has {}", params.len(), self.params);
        let mut open = 0;
        let bound: Vec<u32> = params
            .iter()
            .map(|param| match param {
                Some(node) => node | SHARED,
                None => {
                    open += 1;
                    (open - 1) | PARAM
                }
            })
            .collect();
        let mut settling = Settling { graph, bound, inner: Vec::new(), rest: Template { params: open, ..Template::default() } };
        let mut searches: Vec<Option<u32>> = vec![None; self.searches.len()];
        for node in &self.nodes {
            let placed = settling.node(self, *node, &mut searches);
            settling.inner.push(placed);
        }
        Settled { template: settling.rest, inner: settling.inner }
    }
}

/// A template on its way into two parts.
struct Settling<'g> {
    graph: &'g mut Graph,
    /// What each parameter has become, packed.
    bound: Vec<u32>,
    inner: Vec<Placed>,
    rest: Template,
}

impl Settling<'_> {
    /// An operand in the numbers of the rest.
    fn operand(&self, packed: u32) -> u32 {
        if packed & PARAM != 0 {
            return self.bound[(packed & !PARAM) as usize];
        }
        match self.inner[packed as usize] {
            Placed::Shared(node) => node | SHARED,
            Placed::Own(own) => own,
        }
    }

    /// A list, put into the graph where all of it stands there, else into the rest; gives its start, packed.
    fn list(&mut self, packed: &[u32]) -> u32 {
        let list: Vec<u32> = packed.iter().map(|p| self.operand(*p)).collect();
        if list.iter().all(|p| p & SHARED != 0) {
            let start = number(self.graph.args.len());
            self.graph.args.extend(list.iter().map(|p| p & !SHARED));
            return start | SHARED;
        }
        let start = number(self.rest.args.len());
        self.rest.args.extend(list);
        start
    }

    /// A search, put where its cells are; gives its number, packed.
    fn search(&mut self, from: &Template, at: u32, known: &mut [Option<u32>]) -> u32 {
        if let Some(known) = known[at as usize] {
            return known;
        }
        let search = &from.searches[at as usize];
        let cells = self.list(&from.args[search.range()]);
        let searches = if cells & SHARED == 0 { &mut self.rest.searches } else { &mut self.graph.searches };
        let number = number(searches.len()) | (cells & SHARED);
        searches.push(Search { cells: cells & !SHARED, ..search.clone() });
        known[at as usize] = Some(number);
        number
    }

    fn node(&mut self, from: &Template, node: Node, searches: &mut [Option<u32>]) -> Placed {
        let list = node.b as usize..node.b as usize + node.c as usize;
        let (node, shared) = match node.op {
            Op::Const => {
                self.graph.consts.push(from.consts[node.a as usize]);
                (Node { a: number(self.graph.consts.len() - 1), ..node }, true)
            }
            Op::Pick | Op::Find => {
                let a = if node.op == Op::Pick { self.operand(node.a) } else { self.search(from, node.a, searches) };
                let b = self.list(&from.args[list]);
                (Node { a, b, ..node }, a & b & SHARED != 0)
            }
            op => {
                // operands that the operator does not have count as shared, so that they do not decide
                let at = |k: usize, packed: u32| if op.arity().is_some_and(|n| k < n) { self.operand(packed) } else { SHARED };
                let (a, b, c) = (at(0, node.a), at(1, node.b), at(2, node.c));
                (Node { op, a, b, c }, a & b & c & SHARED != 0)
            }
        };
        if shared {
            let Node { op, a, b, c } = node;
            return Placed::Shared(self.graph.add(Node { op, a: a & !SHARED, b: b & !SHARED, c: c & !SHARED }));
        }
        self.rest.nodes.push(node);
        Placed::Own(number(self.rest.nodes.len() - 1))
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
        let start = self.list(list);
        self.add(Node { op: Op::Pick, a: index.pack(), b: start, c: number(list.len()) })
    }

    /// Adds the search for the first row of `cells` (row by row, one per key) that suits `needs` (one per key).
    ///
    /// # Panics
    /// As [`Graph::find`].
    pub fn find(&mut self, keys: &Arc<[Match]>, needs: &[Operand], cells: &[Operand]) -> Operand {
        check_search(keys.len(), needs.len(), cells.len());
        let rows = number(cells.len() / keys.len());
        let cells = self.list(cells);
        let search = number(self.template.searches.len());
        self.template.searches.push(Search { keys: keys.clone(), cells, rows });
        let start = self.list(needs);
        self.add(Node { op: Op::Find, a: search, b: start, c: number(needs.len()) })
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

    fn list(&mut self, operands: &[Operand]) -> u32 {
        for operand in operands {
            self.check_exists(*operand);
        }
        let start = number(self.template.args.len());
        self.template.args.extend(operands.iter().map(|operand| operand.pack()));
        start
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
