//! One table of operators and reference meanings that any evaluator is run against.
//!
//! [`MEANINGS`] says what each operator gives, written on the functions of [`crate::math`] and plain numbers, apart from every
//! evaluator's own dispatch. [`check`] builds graphs over ordinary and nasty arguments and compares every node, bit by bit; one NaN
//! is as good as another.
//!
//! ```
//! use tare_engine::{conformance, eval_point};
//!
//! let cases = conformance::check(|graph, leaves| {
//!     let mut values = Vec::new();
//!     eval_point(graph, leaves, &mut values);
//!     values
//! });
//! assert!(cases.unwrap() > 10_000);
//! ```

use crate::graph::{Graph, Node, NodeId};
use crate::math::{self, Match};
use crate::op::Op;
use std::sync::Arc;

/// Gives the result of an operator from its operands; for a pick the index comes first and the list after it; for a find the number of
/// keys, each key's way of matching as its position in [`Match::ALL`], the needs, and the cells row by row.
pub type Meaning = fn(&[f64]) -> f64;

/// Says what each operator with operands gives.
pub const MEANINGS: [(Op, Meaning); 36] = [
    (Op::Neg, |x| -x[0]),
    (Op::Abs, |x| x[0].abs()),
    (Op::Sqrt, |x| x[0].sqrt()),
    (Op::Exp, |x| math::exp(x[0])),
    (Op::Ln, |x| math::ln(x[0])),
    (Op::Log10, |x| math::log10(x[0])),
    (Op::Floor, |x| snapped(x[0]).unwrap_or(x[0].floor())),
    (Op::Ceil, |x| snapped(x[0]).unwrap_or(x[0].ceil())),
    (Op::Round, |x| if x[0].fract().abs() >= 0.5 { x[0].trunc() + 1f64.copysign(x[0]) } else { x[0].trunc() }),
    (Op::Sin, |x| math::sin(x[0])),
    (Op::Cos, |x| math::cos(x[0])),
    (Op::Tan, |x| math::tan(x[0])),
    (Op::Asin, |x| math::asin(x[0])),
    (Op::Acos, |x| math::acos(x[0])),
    (Op::Atan, |x| math::atan(x[0])),
    (Op::Not, |x| truth(x[0]).map_or(f64::NAN, |holds| number(!holds))),
    (Op::NormalInv, |x| math::normal_inv(x[0])),
    (Op::Add, |x| x[0] + x[1]),
    (Op::Sub, |x| x[0] - x[1]),
    (Op::Mul, |x| x[0] * x[1]),
    (Op::Div, |x| x[0] / x[1]),
    (Op::Pow, |x| math::pow(x[0], x[1])),
    (Op::Min, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| if order.is_gt() { x[1] } else { x[0] })),
    (Op::Max, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| if order.is_lt() { x[1] } else { x[0] })),
    (Op::Lt, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| number(order.is_lt()))),
    (Op::Le, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| number(order.is_le()))),
    (Op::Gt, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| number(order.is_gt()))),
    (Op::Ge, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| number(order.is_ge()))),
    (Op::Eq, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| number(order.is_eq()))),
    (Op::Ne, |x| x[0].partial_cmp(&x[1]).map_or(f64::NAN, |order| number(order.is_ne()))),
    (Op::And, |x| match (truth(x[0]), truth(x[1])) {
        (Some(false), _) | (_, Some(false)) => 0.0,
        (Some(true), Some(true)) => 1.0,
        _ => f64::NAN,
    }),
    (Op::Or, |x| match (truth(x[0]), truth(x[1])) {
        (Some(true), _) | (_, Some(true)) => 1.0,
        (Some(false), Some(false)) => 0.0,
        _ => f64::NAN,
    }),
    (Op::If, |x| truth(x[0]).map_or(f64::NAN, |holds| if holds { x[1] } else { x[2] })),
    (Op::BetaInv, |x| math::beta_inv(x[0], x[1], x[2])),
    (Op::Pick, |x| {
        let whole = snapped(x[0]).filter(|k| *k >= 0.0 && *k < 1e9);
        whole.and_then(|k| x[1..].get(k as usize)).copied().unwrap_or(f64::NAN)
    }),
    (Op::Find, |x| {
        let (keys, rest) = x[1..].split_at(x[0] as usize);
        let (needs, cells) = rest.split_at(keys.len());
        if needs.iter().any(|need| need.is_nan()) {
            return f64::NAN;
        }
        let suits = |row: &[f64]| {
            row.iter().zip(needs).zip(keys).all(|((cell, need), way)| match Match::ALL[*way as usize] {
                Match::UpTo => *cell >= need - slack(*need),
                Match::From => *cell <= need + slack(*need),
                Match::Equal => cell == need,
            })
        };
        let met = cells.chunks(keys.len()).position(|row| row.iter().any(|cell| cell.is_nan()) || suits(row));
        match met {
            Some(row) if cells[row * keys.len()..][..keys.len()].iter().any(|cell| cell.is_nan()) => f64::NAN,
            Some(row) => row as f64,
            None => -1.0,
        }
    }),
];

/// By how much a cell may miss a need and still suit.
fn slack(need: f64) -> f64 {
    if need.is_finite() { need.abs() * 1e-9 } else { 0.0 }
}

/// Reads a number as true or false; `None` for NaN.
fn truth(x: f64) -> Option<bool> {
    if x.is_nan() { None } else { Some(x != 0.0) }
}

fn number(holds: bool) -> f64 {
    f64::from(u8::from(holds))
}

/// The whole number that `x` counts as: within 1e-9, relative where x is above 1 in size.
fn snapped(x: f64) -> Option<f64> {
    let nearest = x.round();
    let allowed = if x.abs() > 1.0 { 1e-9 * x.abs() } else { 1e-9 };
    ((x - nearest).abs() <= allowed).then_some(nearest)
}

/// Tells of one node where an evaluator and the reference differ.
#[derive(Clone, Debug)]
pub struct Mismatch {
    /// The operator.
    pub op: Op,
    /// The values of the operands; empty for a leaf or a constant.
    pub operands: Vec<f64>,
    /// What the table gives.
    pub expected: f64,
    /// What the evaluator gave; `None` when it gave no value for the node.
    pub found: Option<f64>,
}

/// Arguments that are easy, at an edge, or outside what is meant.
pub const ARGUMENTS: [f64; 48] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    2.0,
    3.0,
    -3.0,
    4.0,
    0.5,
    -0.5,
    0.25,
    0.1,
    -0.75,
    1.5,
    2.5,
    -2.5,
    10.0,
    1000.0,
    // next to a whole number, inside and outside the snap
    2.9999999999,
    3.0000000001,
    2.99999999,
    3.00000001,
    -4.9999999999999,
    1e-10,
    -1e-10,
    1e-8,
    0.499_999_999_999_999_94,
    // where functions turn, end or overflow
    std::f64::consts::FRAC_PI_2,
    std::f64::consts::PI,
    709.7,
    709.8,
    -744.5,
    -745.2,
    0.9999999999999999,
    1.0000000000000002,
    // large, beyond whole numbers, subnormal, infinite, none
    4_503_599_627_370_497.5,
    9_007_199_254_740_993.0,
    1e22,
    -1e300,
    f64::MAX,
    f64::MIN,
    f64::MIN_POSITIVE,
    2.2e-310,
    5e-324,
    -5e-324,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
];

/// Positions in [`ARGUMENTS`] that stand for the rest where all triples would be too many.
const FEW: [usize; 14] = [0, 1, 2, 3, 4, 8, 11, 18, 34, 36, 43, 45, 46, 47];

/// Positions of probabilities and shapes for the beta quantile.
const SHAPES: [usize; 11] = [0, 2, 4, 5, 7, 8, 10, 13, 16, 23, 47];

/// Runs an evaluator over all operators and arguments, alone and in a mixed graph, with leaves and with constants.
///
/// The evaluator gets a graph and one value per leaf, and gives one value per node.
///
/// # Errors
/// All nodes where it differs from [`MEANINGS`]; otherwise the number of nodes compared.
pub fn check(mut evaluate: impl FnMut(&Graph, &[f64]) -> Vec<f64>) -> Result<usize, Vec<Mismatch>> {
    let mut compared = 0;
    let mut mismatches = Vec::new();
    for graph in [single_operations(true), single_operations(false), mixed()] {
        let leaves = &ARGUMENTS[..graph.leaves as usize];
        let expected = reference(&graph, leaves);
        let found = evaluate(&graph, leaves);
        compared += expected.len();
        for (id, expected) in expected.iter().enumerate() {
            let value = found.get(id).copied();
            if !value.is_some_and(|value| same(value, *expected)) {
                let operands =
                    graph.operands(id as NodeId).map(|operand| found.get(operand as usize).copied().unwrap_or(f64::NAN));
                let operands = operands.collect();
                mismatches.push(Mismatch { op: graph.nodes[id].op, operands, expected: *expected, found: value });
            }
        }
    }
    if mismatches.is_empty() { Ok(compared) } else { Err(mismatches) }
}

/// Tells whether two values agree: the same bits, or both NaN.
pub fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan())
}

/// Evaluates a graph by the table alone: slow, plain, and the judge of all evaluators.
///
/// # Panics
/// When there are fewer values than leaves (a bug of the caller).
pub fn reference(graph: &Graph, leaves: &[f64]) -> Vec<f64> {
    let mut values: Vec<f64> = Vec::with_capacity(graph.nodes.len());
    for (id, Node { op, a, .. }) in graph.nodes.iter().enumerate() {
        let operands = operands(graph, id as NodeId, &values);
        values.push(match op {
            Op::Leaf => leaves[*a as usize],
            Op::Const => graph.consts[*a as usize],
            _ => meaning(*op)(&operands),
        });
    }
    values
}

/// What a node's [`Meaning`] reads.
fn operands(graph: &Graph, id: NodeId, values: &[f64]) -> Vec<f64> {
    let node = graph.nodes[id as usize];
    let keys = if node.op == Op::Find { &graph.searches[node.a as usize].keys[..] } else { &[] };
    let count = (node.op == Op::Find).then_some(keys.len() as f64);
    let ways = keys.iter().map(|key| Match::ALL.iter().position(|way| way == key).unwrap_or(0) as f64);
    count.into_iter().chain(ways).chain(graph.operands(id).map(|operand| values[operand as usize])).collect()
}

fn meaning(op: Op) -> Meaning {
    let entry = MEANINGS.iter().find(|(known, _)| *known == op);
    entry.expect("bug: every operator with operands stands in the table").1
}

/// Every operator over every argument, pair, or chosen triple.
fn single_operations(leaves: bool) -> Graph {
    let mut graph = Graph::default();
    let arguments = ARGUMENTS.map(|value| if leaves { graph.leaf() } else { graph.constant(value) });
    for (op, _) in MEANINGS {
        match op.arity() {
            Some(1) => arguments.iter().for_each(|a| _ = graph.push(op, &[*a])),
            Some(2) => {
                for a in arguments {
                    arguments.iter().for_each(|b| _ = graph.push(op, &[a, *b]));
                }
            }
            Some(_) => {
                let few = if op == Op::BetaInv { &SHAPES[..] } else { &FEW[..] };
                for (a, b) in few.iter().flat_map(|a| few.iter().map(move |b| (a, b))) {
                    few.iter().for_each(|c| _ = graph.push(op, &[arguments[*a], arguments[*b], arguments[*c]]));
                }
            }
            None if op == Op::Find => finds(&mut graph, &arguments),
            None => {
                for length in [0, 1, 2, 5, ARGUMENTS.len()] {
                    arguments.iter().for_each(|index| _ = graph.pick(*index, &arguments[..length]));
                }
            }
        }
    }
    graph
}

/// Every argument as a need against every argument as a cell; tables of one and two keys, also without rows and with NaN inside.
fn finds(graph: &mut Graph, arguments: &[NodeId]) {
    let numbers = &arguments[..ARGUMENTS.len() - 1];
    for way in Match::ALL {
        let one: Arc<[Match]> = Arc::from([way]);
        for need in arguments {
            arguments.iter().for_each(|cell| _ = graph.find(&one, &[*need], &[*cell]));
            graph.find(&one, &[*need], &[]);
            graph.find(&one, &[*need], numbers);
            graph.find(&one, &[*need], arguments);
        }
        for other in Match::ALL {
            let two: Arc<[Match]> = Arc::from([way, other]);
            for (a, b) in FEW.iter().flat_map(|a| FEW.iter().map(move |b| (*a, *b))) {
                graph.find(&two, &[arguments[a], arguments[b]], &numbers[..46]);
                graph.find(&two, &[arguments[a], arguments[b]], arguments);
            }
        }
    }
}

/// A graph in which results feed further operations, drawn by a fixed generator.
fn mixed() -> Graph {
    let mut graph = Graph::default();
    for value in ARGUMENTS {
        // no leaf is infinite or NaN here, so that numbers live long enough to be compared
        if value.abs() > 1e-5 && value.abs() < 1e4 {
            graph.constant(value);
        }
        if graph.leaves < 35 {
            graph.leaf();
        }
    }
    let mut state: u64 = 1;
    for _ in 0..4000 {
        // a linear congruential step (D. E. Knuth's MMIX constants); the high bits are used
        let mut draw = |below: usize| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            ((state >> 33) as usize % below) as NodeId
        };
        let op = MEANINGS[draw(MEANINGS.len()) as usize].0;
        let operands: Vec<NodeId> = (0..op.arity().unwrap_or(4)).map(|_| draw(graph.nodes.len())).collect();
        match op {
            Op::Pick => graph.pick(operands[0], &operands[1..]),
            Op::Find => graph.find(&Arc::from([Match::ALL[draw(3) as usize]]), &operands[..1], &operands[1..]),
            _ => graph.push(op, &operands),
        };
    }
    graph
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::eval_point;

    fn point(graph: &Graph, leaves: &[f64]) -> Vec<f64> {
        let mut values = Vec::new();
        eval_point(graph, leaves, &mut values);
        values
    }

    #[test]
    fn point_evaluator_conforms() {
        match check(point) {
            Ok(compared) => assert!(compared > 60_000, "only {compared} nodes compared"),
            Err(mismatches) => panic!("{} mismatches, first {:?}", mismatches.len(), &mismatches[..mismatches.len().min(5)]),
        }
    }

    #[test]
    fn table_names_every_operator_with_operands_once() {
        let listed: Vec<Op> = MEANINGS.iter().map(|(op, _)| *op).collect();
        let wanted: Vec<Op> = Op::ALL.into_iter().filter(|op| op.arity() != Some(0)).collect();
        assert_eq!(listed, wanted);
    }

    #[test]
    fn a_fault_in_any_operator_is_found() {
        for wrong in Op::ALL {
            let found = check(|graph, leaves| {
                let mut values = point(graph, leaves);
                for (value, node) in values.iter_mut().zip(&graph.nodes) {
                    // one unit in the last place, or something in place of NaN
                    if node.op == wrong {
                        *value = if value.is_nan() { 7.0 } else { f64::from_bits(value.to_bits() ^ 1) };
                    }
                }
                values
            });
            assert!(found.is_err_and(|all| all.iter().any(|one| one.op == wrong)), "a wrong {} went unseen", wrong.name());
        }
    }

    #[test]
    fn usual_slips_are_found() {
        let slip = |op: Op, meaning: Meaning| {
            let all = check(|graph, leaves| {
                let mut values: Vec<f64> = Vec::new();
                for (id, node) in graph.nodes.iter().enumerate() {
                    let operands = operands(graph, id as NodeId, &values);
                    values.push(match node.op {
                        Op::Leaf => leaves[node.a as usize],
                        Op::Const => graph.consts[node.a as usize],
                        other if other == op => meaning(&operands),
                        other => super::meaning(other)(&operands),
                    });
                }
                values
            });
            assert!(all.is_err(), "{} with a usual slip went unseen", op.name());
        };
        slip(Op::Min, |x| x[0].min(x[1]));
        slip(Op::Max, |x| if x[0] > x[1] { x[0] } else { x[1] });
        slip(Op::Lt, |x| number(x[0] < x[1]));
        slip(Op::Le, |x| number(x[0] < x[1]));
        slip(Op::Ne, |x| number(x[0] != x[1]));
        slip(Op::Floor, |x| x[0].floor());
        slip(Op::Ceil, |x| (x[0] - 1e-9).ceil());
        slip(Op::Round, |x| x[0].round_ties_even());
        slip(Op::Round, |x| (x[0] + 0.5).floor());
        slip(Op::And, |x| x[0] * x[1]);
        slip(Op::Or, |x| number(x[0] != 0.0 || x[1] != 0.0));
        slip(Op::If, |x| if x[0] > 0.0 { x[1] } else { x[2] });
        slip(Op::If, |x| x[0] * x[1] + (1.0 - x[0]) * x[2]);
        slip(Op::Pick, |x| x[1..].get(x[0] as usize).copied().unwrap_or(f64::NAN));
        slip(Op::Find, |x| if x[x.len() - 1].is_nan() { f64::NAN } else { super::meaning(Op::Find)(x) });
        slip(Op::Find, |x| super::meaning(Op::Find)(x).max(0.0));
        slip(Op::Ln, |x| if x[0] < f64::MIN_POSITIVE { f64::NAN } else { math::ln(x[0]) });
        slip(Op::Exp, |x| if x[0] < -708.4 { 0.0 } else { math::exp(x[0]) });
        slip(Op::Sub, |x| -(x[1] - x[0]));
    }

    #[test]
    fn missing_values_are_mismatches() {
        let found = check(|graph, leaves| point(graph, leaves)[..100].to_vec());
        assert!(found.is_err_and(|all| all.iter().all(|one| one.found.is_none())));
    }
}
