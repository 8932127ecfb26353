//! The graph: nodes in an order in which operands come before their users.

use crate::math::Match;
use crate::op::Op;
use crate::template::{Settled, Template};
use std::sync::Arc;

/// Numbers a node of a graph; the position in [`Graph::nodes`] and in the values of an evaluation.
pub type NodeId = u32;

/// Holds one operation and where its operands are.
///
/// What `a`, `b`, `c` mean depends on the operator: operands in order for most; for a leaf `a` is the leaf's number; for a constant
/// `a` is its index in [`Graph::consts`]; for a pick `a` is the index node and `b .. b + c` the range in [`Graph::args`]; for a find `a` is
/// its search in [`Graph::searches`] and `b .. b + c` the range of its needs in [`Graph::args`]. Unused ones are 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Node {
    /// The operation.
    pub op: Op,
    /// First operand, leaf number or constant index.
    pub a: u32,
    /// Second operand, or start of a list.
    pub b: u32,
    /// Third operand, or length of a list.
    pub c: u32,
}

/// Holds the rows that a find goes through.
#[derive(Clone, Debug)]
pub struct Search {
    /// How each key's need is held against a row's cell.
    pub keys: Arc<[Match]>,
    /// Where the cells start in [`Graph::args`]: row by row, one per key.
    pub cells: u32,
    /// The number of rows.
    pub rows: u32,
}

impl Search {
    /// The range of the cells in [`Graph::args`].
    pub fn range(&self) -> std::ops::Range<usize> {
        let start = self.cells as usize;
        start..start + self.rows as usize * self.keys.len()
    }
}

/// Holds a list of operations, each on earlier ones.
///
/// Built through its methods it is topological by construction: an operand's number is always below its user's. The fields are open
/// for reading by evaluators; whoever writes them directly must keep that order.
#[derive(Clone, Debug, Default)]
pub struct Graph {
    /// The operations.
    pub nodes: Vec<Node>,
    /// The constants that `Const` nodes refer to.
    pub consts: Vec<f64>,
    /// The lists that `Pick` nodes choose from, the needs of `Find` nodes and the cells of searches.
    pub args: Vec<NodeId>,
    /// What `Find` nodes go through; one may serve many nodes.
    pub searches: Vec<Search>,
    /// The number of leaves.
    pub leaves: u32,
}

impl Graph {
    /// The most nodes (and list entries, and constants) a graph may hold: 2^30 - 1, so that a number fits 30 bits.
    ///
    /// Builders that compile unbounded input check against this (or a lower limit) before adding.
    pub const MOST: usize = (u32::MAX >> 2) as usize;

    /// Adds a leaf, numbered in the order of these calls from 0.
    pub fn leaf(&mut self) -> NodeId {
        let number = self.leaves;
        self.leaves += 1;
        self.add(Node { op: Op::Leaf, a: number, b: 0, c: 0 })
    }

    /// Adds a constant.
    pub fn constant(&mut self, value: f64) -> NodeId {
        let index = number(self.consts.len());
        self.consts.push(value);
        self.add(Node { op: Op::Const, a: index, b: 0, c: 0 })
    }

    /// Adds an operation on earlier nodes.
    ///
    /// # Panics
    /// When the number of operands is not the operator's arity, the operator is `Leaf`, `Const`, `Pick` or `Find` (which have their own
    /// methods), or an operand does not exist yet: these are bugs of the caller, never a matter of input.
    pub fn push(&mut self, op: Op, operands: &[NodeId]) -> NodeId {
        check_arity(op, operands.len());
        for operand in operands {
            self.check_exists(*operand);
        }
        let at = |k: usize| operands.get(k).copied().unwrap_or(0);
        self.add(Node { op, a: at(0), b: at(1), c: at(2) })
    }

    /// Adds a choice among `list` by the value of `index`, which counts from 0.
    ///
    /// # Panics
    /// When an operand does not exist yet (a bug of the caller).
    pub fn pick(&mut self, index: NodeId, list: &[NodeId]) -> NodeId {
        self.check_exists(index);
        for operand in list {
            self.check_exists(*operand);
        }
        let start = number(self.args.len());
        self.args.extend_from_slice(list);
        self.add(Node { op: Op::Pick, a: index, b: start, c: number(list.len()) })
    }

    /// Adds the search for the first row of `cells` (row by row, one per key) that suits `needs` (one per key).
    ///
    /// # Panics
    /// When the numbers of keys, needs and cells do not go together or an operand does not exist yet (a bug of the caller).
    pub fn find(&mut self, keys: &Arc<[Match]>, needs: &[NodeId], cells: &[NodeId]) -> NodeId {
        check_search(keys.len(), needs.len(), cells.len());
        for operand in needs.iter().chain(cells) {
            self.check_exists(*operand);
        }
        let search = number(self.searches.len());
        let rows = number(cells.len() / keys.len());
        self.searches.push(Search { keys: keys.clone(), cells: number(self.args.len()), rows });
        self.args.extend_from_slice(cells);
        let start = number(self.args.len());
        self.args.extend_from_slice(needs);
        self.add(Node { op: Op::Find, a: search, b: start, c: number(needs.len()) })
    }

    /// Works out once what is the same in every copy of a template.
    ///
    /// `params` names the node of each parameter that every copy binds alike, and `None` for the others. Nodes that hang on such
    /// parameters and constants alone are added to the graph now and shared by all copies; the returned template holds the rest, its
    /// parameters being those that are `None`, in order.
    ///
    /// # Panics
    /// As [`Graph::instantiate`].
    pub fn settle(&mut self, template: &Template, params: &[Option<NodeId>]) -> Settled {
        for param in params.iter().flatten() {
            self.check_exists(*param);
        }
        template.settle(self, params)
    }

    /// Copies a template into the graph and returns the number of its first node.
    ///
    /// `params` are the nodes that stand for the template's parameters. [`Template::node`] turns an operand of the template into a
    /// node of the graph.
    ///
    /// # Panics
    /// When the number of parameters differs from the template's or one does not exist yet (a bug of the caller).
    pub fn instantiate(&mut self, template: &Template, params: &[NodeId]) -> u32 {
        for param in params {
            self.check_exists(*param);
        }
        template.copy_into(self, params)
    }

    /// Lists the operands of a node in order: none for leaves and constants, the index and then the list for a pick, the needs and
    /// then the cells for a find.
    pub fn operands(&self, id: NodeId) -> impl Iterator<Item = NodeId> + '_ {
        let node = self.nodes[id as usize];
        let list = || &self.args[node.b as usize..(node.b + node.c) as usize];
        let (fixed, list, cells) = match node.op {
            Op::Pick => (1, list(), &[][..]),
            Op::Find => (0, list(), &self.args[self.searches[node.a as usize].range()]),
            op => (op.arity().unwrap_or(0), &[][..], &[][..]),
        };
        [node.a, node.b, node.c].into_iter().take(fixed).chain(list.iter().chain(cells).copied())
    }

    /// Lists the operands that the value of a node really hangs on: of a choice the condition (or index) and the side that was taken.
    pub fn taken(&self, id: NodeId, values: &[f64]) -> Vec<NodeId> {
        let node = self.nodes[id as usize];
        let by = values[node.a as usize % values.len()];
        match node.op {
            Op::If if !by.is_nan() => vec![node.a, if by != 0.0 { node.b } else { node.c }],
            Op::Pick => {
                let list = &self.args[node.b as usize..(node.b + node.c) as usize];
                let chosen = crate::math::whole_index(by, list.len()).map(|k| list[k]);
                std::iter::once(node.a).chain(chosen).collect()
            }
            _ => self.operands(id).collect(),
        }
    }

    /// Marks the nodes that any of `results` depends on, themselves included.
    pub fn needed(&self, results: &[NodeId]) -> Vec<bool> {
        let mut needed = vec![false; self.nodes.len()];
        for result in results {
            needed[*result as usize] = true;
        }
        for id in (0..number(self.nodes.len())).rev() {
            if needed[id as usize] {
                for operand in self.operands(id) {
                    needed[operand as usize] = true;
                }
            }
        }
        needed
    }

    pub(crate) fn add(&mut self, node: Node) -> NodeId {
        let id = number(self.nodes.len());
        self.nodes.push(node);
        id
    }

    fn check_exists(&self, id: NodeId) {
        assert!((id as usize) < self.nodes.len(), "bug: operand {id} is not among the {} nodes so far", self.nodes.len());
    }
}

/// Turns a position into a number that leaves the two top bits free for templates.
pub(crate) fn number(position: usize) -> u32 {
    assert!(position < Graph::MOST, "bug: more than 2^30 nodes were let through");
    position as u32
}

/// Checks the number of operands of `push`.
pub(crate) fn check_arity(op: Op, found: usize) {
    let expected = op.arity().filter(|arity| *arity > 0);
    assert!(expected == Some(found), "bug: {} pushed with {found} operands, expected {expected:?}", op.name());
}

/// Checks the sizes of a search.
pub(crate) fn check_search(keys: usize, needs: usize, cells: usize) {
    let fits = keys > 0 && needs == keys && cells.is_multiple_of(keys);
    assert!(fits, "bug: a search with {keys} keys, {needs} needs and {cells} cells");
}
