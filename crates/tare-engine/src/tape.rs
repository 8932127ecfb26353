//! The tape: the part of a graph that draws reach, in an order in which few values are alive at a time.

mod far;
mod step;

use crate::graph::{Graph, Node, NodeId};
use crate::math;
use crate::op::Op;
pub(crate) use far::Far;
pub(crate) use step::{OUT, Rows, SCALAR, Step, Then};

/// A graph prepared for evaluation over many draws.
///
/// Only what the watched results rest on is kept. What no random leaf reaches was worked out once and is a number; conditions and
/// indices that no draw changes have been followed. The rest is ordered so that sums are added up as their terms arise.
#[derive(Clone, Debug)]
pub struct Tape {
    pub(crate) steps: Vec<Step>,
    pub(crate) scalars: Vec<f64>,
    pub(crate) lists: Vec<u32>,
    pub(crate) searches: Vec<Rows>,
    pub(crate) registers: usize,
    /// Registers to be fetched from far caches, in the order of steps.
    pub(crate) far: Vec<Far>,
    /// Per result: its number if no draw changes it.
    pub(crate) fixed: Vec<Option<f64>>,
    drawn: Vec<u32>,
}

impl Tape {
    /// Prepares a graph for draws of the leaves that `random` marks.
    ///
    /// `values` are those of a point evaluation; leaves that are not random keep theirs.
    ///
    /// # Panics
    /// When `random` or `values` do not fit the graph (a bug of the caller).
    pub fn new(graph: &Graph, values: &[f64], random: &[bool], results: &[NodeId]) -> Self {
        assert!(values.len() == graph.nodes.len() && random.len() == graph.leaves as usize, "bug: values of another graph");
        let reach = Reach::new(graph, values, random);
        let order = reach.order(graph, results);
        Recorder::new(graph, values, &reach, &order).record(&order, results)
    }

    /// The number of steps for each draw, drawing of leaves included; two operations on the way to one value may be one step.
    pub fn len(&self) -> usize {
        self.steps.len()
    }

    /// Tells whether no draw changes any result.
    pub fn is_empty(&self) -> bool {
        self.steps.is_empty()
    }

    /// How many values are alive at the same time, at most.
    pub fn registers(&self) -> usize {
        self.registers
    }

    /// The leaves that are drawn, in the order in which they are first needed.
    pub fn drawn(&self) -> &[u32] {
        &self.drawn
    }

    /// The number of results.
    pub fn results(&self) -> usize {
        self.fixed.len()
    }
}

/// What the random leaves reach.
struct Reach {
    /// Per node: whether draws change it.
    varies: Vec<bool>,
    /// Per node: the node that has its value, where a choice is known beforehand.
    stands_for: Vec<NodeId>,
}

impl Reach {
    fn new(graph: &Graph, values: &[f64], random: &[bool]) -> Self {
        let mut reach = Reach { varies: vec![false; graph.nodes.len()], stands_for: (0..graph.nodes.len() as NodeId).collect() };
        for (id, node) in graph.nodes.iter().enumerate() {
            let chosen = reach.chosen(graph, values, node);
            if let Some(chosen) = chosen {
                reach.stands_for[id] = reach.stands_for[chosen as usize];
                reach.varies[id] = reach.varies[chosen as usize];
                continue;
            }
            reach.varies[id] = match node.op {
                Op::Leaf => random[node.a as usize],
                // a side that is known to decide leaves nothing to the other
                Op::And | Op::Or => {
                    let decides = |side: u32| {
                        let (known, value) = (!reach.varies[side as usize], values[side as usize]);
                        known && if node.op == Op::And { value == 0.0 } else { value != 0.0 && !value.is_nan() }
                    };
                    !(decides(node.a) || decides(node.b)) && (reach.varies[node.a as usize] || reach.varies[node.b as usize])
                }
                // a condition or index that is known to be no number leaves no number
                Op::If | Op::Pick if !reach.varies[node.a as usize] => false,
                _ => graph.operands(id as NodeId).any(|operand| reach.varies[operand as usize]),
            };
        }
        reach
    }

    /// The operand that a choice known beforehand takes.
    fn chosen(&self, graph: &Graph, values: &[f64], node: &Node) -> Option<NodeId> {
        let known = matches!(node.op, Op::If | Op::Pick) && !self.varies[node.a as usize];
        let by = values[node.a as usize];
        match node.op {
            Op::If if known && !by.is_nan() => Some(if by != 0.0 { node.b } else { node.c }),
            Op::Pick if known => {
                let list = &graph.args[node.b as usize..(node.b + node.c) as usize];
                math::whole_index(by, list.len()).map(|k| list[k])
            }
            _ => None,
        }
    }

    /// The operands of a node that draws change.
    fn operands<'g>(&'g self, graph: &'g Graph, id: NodeId) -> impl Iterator<Item = NodeId> + 'g {
        graph.operands(id).map(|operand| self.stands_for[operand as usize]).filter(|operand| self.varies[*operand as usize])
    }

    /// The nodes that results rest on and draws change, operands first and in their order: the terms of a running sum come one by one.
    fn order(&self, graph: &Graph, results: &[NodeId]) -> Vec<NodeId> {
        let mut order = Vec::new();
        let mut seen = vec![false; graph.nodes.len()];
        // a node is met twice: first to ask for its operands, then to be done
        let mut open: Vec<(NodeId, bool)> = Vec::new();
        for result in results {
            let result = self.stands_for[*result as usize];
            if self.varies[result as usize] {
                open.push((result, false));
            }
            while let Some((id, asked)) = open.pop() {
                if asked {
                    order.push(id);
                    continue;
                }
                if std::mem::replace(&mut seen[id as usize], true) {
                    continue;
                }
                open.push((id, true));
                let from = open.len();
                open.extend(self.operands(graph, id).filter(|operand| !seen[*operand as usize]).map(|operand| (operand, false)));
                open[from..].reverse();
            }
        }
        order
    }
}

/// Gives registers to values and writes steps.
struct Recorder<'g> {
    graph: &'g Graph,
    values: &'g [f64],
    reach: &'g Reach,
    /// Per node: the place in the order of its last reader; its own where nobody reads it.
    last: Vec<u32>,
    register: Vec<u32>,
    free: Vec<u32>,
    /// Per node: its position among the scalars, once asked for.
    scalar: Vec<u32>,
    searches: Vec<Option<u32>>,
    tape: Tape,
}

const NONE: u32 = u32::MAX;

impl<'g> Recorder<'g> {
    fn new(graph: &'g Graph, values: &'g [f64], reach: &'g Reach, order: &[NodeId]) -> Self {
        let mut last = vec![NONE; graph.nodes.len()];
        for (place, id) in order.iter().enumerate() {
            last[*id as usize] = place as u32;
            for operand in reach.operands(graph, *id) {
                last[operand as usize] = place as u32;
            }
        }
        let tape = Tape {
            steps: Vec::with_capacity(order.len()),
            scalars: Vec::new(),
            lists: Vec::new(),
            searches: Vec::new(),
            registers: 0,
            far: Vec::new(),
            fixed: Vec::new(),
            drawn: Vec::new(),
        };
        Recorder {
            graph,
            values,
            reach,
            last,
            register: vec![NONE; graph.nodes.len()],
            free: Vec::new(),
            scalar: vec![NONE; graph.nodes.len()],
            searches: vec![None; graph.searches.len()],
            tape,
        }
    }

    fn record(mut self, order: &[NodeId], results: &[NodeId]) -> Tape {
        let mut wanted: std::collections::BTreeMap<NodeId, Vec<u32>> = std::collections::BTreeMap::new();
        for (number, result) in results.iter().enumerate() {
            let node = self.reach.stands_for[*result as usize];
            if self.reach.varies[node as usize] {
                self.tape.fixed.push(None);
                wanted.entry(node).or_default().push(number as u32);
            } else {
                self.tape.fixed.push(Some(self.values[node as usize]));
            }
        }
        for (place, id) in order.iter().enumerate() {
            self.step(place as u32, *id);
            let read_on = self.last[*id as usize] != place as u32;
            let numbers = wanted.get(id).map_or(&[][..], Vec::as_slice);
            match (numbers, self.tape.steps.last_mut()) {
                // what nobody else reads is written where it is wanted
                (&[number], Some(step)) if !read_on && step.op != Op::Leaf => step.to = number | OUT,
                _ => {
                    let a = self.register[*id as usize];
                    let hand_out = |b: &u32| Step { op: Op::Const, then: None, to: 0, a, b: *b, c: 0 };
                    self.tape.steps.extend(numbers.iter().map(hand_out));
                }
            }
            if !read_on {
                self.free.push(self.register[*id as usize]);
            }
        }
        self.tape.far = far::far(&self.tape);
        self.tape
    }

    fn step(&mut self, place: u32, id: NodeId) {
        let graph = self.graph;
        let node = graph.nodes[id as usize];
        let (a, b, c) = match node.op {
            Op::Leaf => {
                self.tape.drawn.push(node.a);
                (node.a, 0, 0)
            }
            Op::Pick => {
                let a = self.operand(node.a);
                (a, self.list(node), node.c)
            }
            Op::Find => (self.search(node.a), self.list(node), node.c),
            op => {
                let arity = op.arity().unwrap_or(0);
                let mut at = |k: usize, operand: NodeId| if k < arity { self.operand(operand) } else { 0 };
                (at(0, node.a), at(1, node.b), at(2, node.c))
            }
        };
        let joined = self.joined(place, node, a, b);
        // a result may take the place of an operand that is read for the last time: evaluators write aside and swap
        for operand in self.reach.operands(graph, id) {
            let register = self.register[operand as usize];
            if self.last[operand as usize] == place && register != NONE {
                self.free.push(register);
                self.register[operand as usize] = NONE;
            }
        }
        let to = self.free.pop().unwrap_or_else(|| {
            self.tape.registers += 1;
            self.tape.registers as u32 - 1
        });
        self.register[id as usize] = to;
        match joined {
            Some((at, before)) => {
                self.tape.steps.remove(at);
                self.tape.steps.push(Step { to, ..before });
            }
            None => self.tape.steps.push(Step { op: node.op, then: None, to, a, b, c }),
        }
    }

    /// The step before, going on as this node does, where this node alone reads its value; and its place.
    ///
    /// Its operands are where they were: nothing was written in between but leaves, to other registers, and the value that is left out.
    fn joined(&self, place: u32, node: Node, a: u32, b: u32) -> Option<(usize, Step)> {
        let at = self.tape.steps.iter().rposition(|step| step.op != Op::Leaf)?;
        let before = self.tape.steps[at];
        if self.tape.steps[at + 1..].iter().any(|leaf| [before.a, before.b].contains(&leaf.to)) {
            return None;
        }
        let plain = |op: Op| Then::new(op, true).is_some();
        if !plain(node.op) || !plain(before.op) || before.then.is_some() || before.to & OUT != 0 || a == b {
            return None;
        }
        let first = a == before.to;
        let (operand, other) = if first { (node.a, b) } else { (node.b, a) };
        let last = self.last[self.reach.stands_for[operand as usize] as usize] == place;
        if !(first || b == before.to) || !last {
            return None;
        }
        Some((at, Step { then: Then::new(node.op, first), c: other, ..before }))
    }

    fn operand(&mut self, id: NodeId) -> u32 {
        let id = self.reach.stands_for[id as usize] as usize;
        if self.reach.varies[id] {
            return self.register[id];
        }
        if self.scalar[id] == NONE {
            self.scalar[id] = self.tape.scalars.len() as u32;
            self.tape.scalars.push(self.values[id]);
        }
        self.scalar[id] | SCALAR
    }

    fn list(&mut self, node: Node) -> u32 {
        let graph = self.graph;
        let start = self.tape.lists.len() as u32;
        for operand in &graph.args[node.b as usize..(node.b + node.c) as usize] {
            let packed = self.operand(*operand);
            self.tape.lists.push(packed);
        }
        start
    }

    /// Cells that draws change sit in registers that differ from place to place, so such rows are listed anew for each find.
    fn search(&mut self, at: u32) -> u32 {
        if let Some(known) = self.searches[at as usize] {
            return known;
        }
        let graph = self.graph;
        let search = &graph.searches[at as usize];
        let cells: Vec<u32> = graph.args[search.range()].iter().map(|cell| self.operand(*cell)).collect();
        let number = self.tape.searches.len() as u32;
        if cells.iter().all(|cell| cell & SCALAR != 0) {
            self.searches[at as usize] = Some(number);
        }
        self.tape.searches.push(Rows { keys: search.keys.clone(), cells });
        number
    }
}
