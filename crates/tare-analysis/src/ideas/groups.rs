//! Which ideas may be added up, and which have to be computed together: told from the segments of the graph that they touch.

use super::lines::Changes;
use tare_engine::{Graph, NodeId, Op};

/// The part of the graph that one idea touches.
struct Touched {
    /// Nodes of the study as it is that the idea displaces.
    gone: Vec<bool>,
    /// Nodes that only the study with the idea has.
    new: Vec<NodeId>,
    /// All nodes behind the cost with the idea.
    cone: Vec<bool>,
}

/// Groups of variants, by their place in [`Changes::ideas`], in order. The cost of any set of ideas is that of the study plus what each group's
/// ideas change together: between groups the graph only adds, or multiplies by what no idea touches. `ties` are put into one group
/// whatever the graph says (one needs or excludes the other). Variants without a cost are left out.
pub fn groups(changes: &Changes, ties: &[(usize, usize)]) -> Vec<Vec<usize>> {
    let graph = &changes.study.lines.graph;
    let Some(base) = changes.costs.0 else { return Vec::new() };
    let now = cone(graph, base);
    let touched: Vec<Option<Touched>> =
        changes.costs.1.iter().map(|after| after.map(|after| touch(graph, &now, after))).collect();
    let mut group: Vec<usize> = (0..touched.len()).collect();
    for (a, first) in touched.iter().enumerate() {
        for (b, second) in touched.iter().enumerate().skip(a + 1) {
            let (Some(first), Some(second)) = (first, second) else { continue };
            let tied = ties.contains(&(a, b)) || ties.contains(&(b, a));
            if group[a] != group[b] && (tied || !add_up(graph, first, second)) {
                let (from, to) = (group[b].max(group[a]), group[b].min(group[a]));
                group.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
            }
        }
    }
    let mut found: Vec<Vec<usize>> = vec![Vec::new(); touched.len()];
    for (at, group) in group.iter().enumerate().filter(|(at, _)| touched[*at].is_some()) {
        found[*group].push(at);
    }
    found.retain(|group| !group.is_empty());
    found
}

/// Everything a node rests on, itself included.
fn cone(graph: &Graph, top: NodeId) -> Vec<bool> {
    let mut reached = vec![false; graph.nodes.len()];
    reached[top as usize] = true;
    // operands stand before their users
    for id in (0..=top).rev() {
        if reached[id as usize] {
            graph.operands(id).for_each(|operand| reached[operand as usize] = true);
        }
    }
    reached
}

fn touch(graph: &Graph, now: &[bool], after: NodeId) -> Touched {
    let cone = cone(graph, after);
    let gone = now.iter().zip(&cone).map(|(now, after)| *now && !after).collect();
    let new = (0..cone.len() as NodeId).filter(|id| cone[*id as usize] && !now[*id as usize]).collect();
    Touched { gone, new, cone }
}

/// Whether what two ideas change together is the sum of what each changes.
fn add_up(graph: &Graph, a: &Touched, b: &Touched) -> bool {
    let either = |id: NodeId| a.gone[id as usize] || b.gone[id as usize];
    let both = (0..graph.nodes.len() as NodeId).filter(|id| a.gone[*id as usize] && b.gone[*id as usize]);
    both.into_iter().all(|id| sums(graph, id, either, |_| false)) && carries(graph, a, b) && carries(graph, b, a)
}

/// Whether what is new with the first idea takes what the second displaces only as terms of sums, with factors that were there before.
fn carries(graph: &Graph, first: &Touched, second: &Touched) -> bool {
    let mut moved: Vec<bool> = second.gone.iter().zip(&first.cone).map(|(gone, there)| *gone && *there).collect();
    let mut new = vec![false; graph.nodes.len()];
    first.new.iter().for_each(|id| new[*id as usize] = true);
    for id in &first.new {
        if graph.operands(*id).any(|operand| moved[operand as usize]) {
            if !sums(graph, *id, |operand| moved[operand as usize], |operand| new[operand as usize]) {
                return false;
            }
            moved[*id as usize] = true;
        }
    }
    true
}

/// Whether a node only adds what moves, or multiplies it by something that neither moves nor is new.
fn sums(graph: &Graph, id: NodeId, moves: impl Fn(NodeId) -> bool, new: impl Fn(NodeId) -> bool) -> bool {
    let node = graph.nodes[id as usize];
    let still = |operand: NodeId| !moves(operand) && !new(operand);
    match node.op {
        Op::Add | Op::Sub | Op::Neg => true,
        Op::Mul => still(node.a) || still(node.b),
        Op::Div => still(node.b),
        _ => false,
    }
}
