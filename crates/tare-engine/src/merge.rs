//! Several graphs as one, in which what is the same stands once.

use crate::graph::{Graph, Node, NodeId};
use crate::math::Match;
use crate::op::Op;
use rustc_hash::FxHashMap as HashMap;
use std::collections::hash_map::Entry;

/// Takes graphs over into one, node by node: an operation on the same operands is there once, so that what a second graph adds is what it
/// does not share with those before.
#[derive(Debug, Default)]
pub struct Merger {
    /// The graph so far; more may be added to it behind.
    pub graph: Graph,
    plain: HashMap<(Op, NodeId, NodeId, NodeId), NodeId>,
    consts: HashMap<u64, NodeId>,
    picks: HashMap<Vec<NodeId>, NodeId>,
    finds: HashMap<Found, NodeId>,
}

/// What makes two finds the same: how rows are held against needs, the needs, and the cells.
type Found = (Vec<Match>, Vec<NodeId>, Vec<NodeId>);

impl Merger {
    /// Takes a graph over. `leaves` says which node stands for each of its leaves; the result says which node stands for each of its
    /// nodes.
    ///
    /// # Panics
    /// When `leaves` does not name a node for each leaf (a bug of the caller).
    pub fn take(&mut self, other: &Graph, leaves: &[NodeId]) -> Vec<NodeId> {
        assert!(leaves.len() == other.leaves as usize, "bug: {} nodes for {} leaves", leaves.len(), other.leaves);
        let mut map: Vec<NodeId> = Vec::with_capacity(other.nodes.len());
        for node in &other.nodes {
            let place = |id: NodeId| map[id as usize];
            let list = || other.args[node.b as usize..(node.b + node.c) as usize].iter().map(|id| place(*id));
            let at = match node.op {
                Op::Leaf => leaves[node.a as usize],
                Op::Const => {
                    let value = other.consts[node.a as usize];
                    let graph = &mut self.graph;
                    *self.consts.entry(value.to_bits()).or_insert_with(|| graph.constant(value))
                }
                Op::Pick => {
                    let key: Vec<NodeId> = std::iter::once(place(node.a)).chain(list()).collect();
                    match self.picks.entry(key) {
                        Entry::Occupied(known) => *known.get(),
                        Entry::Vacant(new) => {
                            let made = self.graph.pick(new.key()[0], &new.key()[1..]);
                            *new.insert(made)
                        }
                    }
                }
                Op::Find => {
                    let search = &other.searches[node.a as usize];
                    let cells: Vec<NodeId> = other.args[search.range()].iter().map(|id| place(*id)).collect();
                    match self.finds.entry((search.keys.to_vec(), list().collect(), cells)) {
                        Entry::Occupied(known) => *known.get(),
                        Entry::Vacant(new) => {
                            let made = self.graph.find(&search.keys, &new.key().1, &new.key().2);
                            *new.insert(made)
                        }
                    }
                }
                op => self.plain(op, node, &map),
            };
            map.push(at);
        }
        map
    }

    fn plain(&mut self, op: Op, node: &Node, map: &[NodeId]) -> NodeId {
        let many = op.arity().unwrap_or(0);
        let operands = [node.a, node.b, node.c];
        let at = |k: usize| if k < many { map[operands[k] as usize] } else { 0 };
        let placed = [at(0), at(1), at(2)];
        let graph = &mut self.graph;
        *self.plain.entry((op, placed[0], placed[1], placed[2])).or_insert_with(|| graph.push(op, &placed[..many]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::eval::point::eval_point;

    fn graph(factor: f64) -> (Graph, NodeId) {
        let mut graph = Graph::default();
        let (a, b) = (graph.leaf(), graph.leaf());
        let two = graph.constant(factor);
        let sum = graph.push(Op::Add, &[a, b]);
        let result = graph.push(Op::Mul, &[sum, two]);
        let picked = graph.pick(a, &[result, sum]);
        (graph, picked)
    }

    #[test]
    fn the_same_graph_adds_nothing_and_another_only_what_differs() {
        let mut merger = Merger::default();
        let leaves = [merger.graph.leaf(), merger.graph.leaf()];
        let (first, result) = graph(2.0);
        let map = merger.take(&first, &leaves);
        let size = merger.graph.nodes.len();
        assert_eq!(merger.take(&first, &leaves), map);
        assert_eq!(merger.graph.nodes.len(), size);
        let (second, other) = graph(3.0);
        let moved = merger.take(&second, &leaves);
        // the constant, the product and the choice between it and the sum
        assert_eq!(merger.graph.nodes.len(), size + 3);
        let mut values = Vec::new();
        eval_point(&merger.graph, &[0.0, 5.0], &mut values);
        assert_eq!([values[map[result as usize] as usize], values[moved[other as usize] as usize]], [10.0, 15.0]);
    }
}
