//! Evaluation of every node at one set of leaf values.

use crate::graph::Graph;
use crate::math;
use crate::op::Op;

/// Computes the value of every node, in the order of [`Graph::nodes`], into `out`.
///
/// `leaves` holds one value per leaf. `out` is cleared first and keeps its memory, so that one buffer serves many evaluations.
///
/// # Panics
/// When there are fewer values than leaves (a bug of the caller).
pub fn eval_point(graph: &Graph, leaves: &[f64], out: &mut Vec<f64>) {
    assert!(leaves.len() >= graph.leaves as usize, "bug: {} leaf values for {} leaves", leaves.len(), graph.leaves);
    out.clear();
    out.reserve(graph.nodes.len());
    for node in &graph.nodes {
        let a = || out[node.a as usize];
        let b = || out[node.b as usize];
        let value = match node.op {
            Op::Leaf => leaves[node.a as usize],
            Op::Const => graph.consts[node.a as usize],
            Op::Neg => -a(),
            Op::Abs => a().abs(),
            Op::Sqrt => a().sqrt(),
            Op::Exp => math::exp(a()),
            Op::Ln => math::ln(a()),
            Op::Log10 => math::log10(a()),
            Op::Floor => math::floor(a()),
            Op::Ceil => math::ceil(a()),
            Op::Round => math::round(a()),
            Op::Sin => math::sin(a()),
            Op::Cos => math::cos(a()),
            Op::Tan => math::tan(a()),
            Op::Asin => math::asin(a()),
            Op::Acos => math::acos(a()),
            Op::Atan => math::atan(a()),
            Op::Not => math::not(a()),
            Op::NormalInv => math::normal_inv(a()),
            Op::Add => a() + b(),
            Op::Sub => a() - b(),
            Op::Mul => a() * b(),
            Op::Div => a() / b(),
            Op::Pow => math::pow(a(), b()),
            Op::Min => math::min(a(), b()),
            Op::Max => math::max(a(), b()),
            Op::Lt => math::truth(a() < b(), a(), b()),
            Op::Le => math::truth(a() <= b(), a(), b()),
            Op::Gt => math::truth(a() > b(), a(), b()),
            Op::Ge => math::truth(a() >= b(), a(), b()),
            Op::Eq => math::truth(a() == b(), a(), b()),
            Op::Ne => math::truth(a() != b(), a(), b()),
            Op::And => math::and(a(), b()),
            Op::Or => math::or(a(), b()),
            Op::If => math::choose(a(), b(), out[node.c as usize]),
            Op::BetaInv => math::beta_inv(a(), b(), out[node.c as usize]),
            Op::Pick => {
                let list = &graph.args[node.b as usize..(node.b + node.c) as usize];
                math::whole_index(a(), list.len()).map_or(f64::NAN, |k| out[list[k] as usize])
            }
            Op::Find => {
                let search = &graph.searches[node.a as usize];
                let needs = &graph.args[node.b as usize..(node.b + node.c) as usize];
                let cells = &graph.args[search.range()];
                math::find(&search.keys, |key| out[needs[key] as usize], cells.iter().map(|cell| out[*cell as usize]))
            }
        };
        out.push(value);
    }
}
