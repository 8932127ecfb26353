//! Slopes of one result by every leaf: one sweep backwards through the graph.

use crate::graph::{Graph, NodeId};
use crate::math;
use crate::op::Op;

/// Computes d `result` / d leaf for every leaf, from the values of an evaluation.
///
/// - `Floor`, `Ceil`, `Round`, `Find`, comparisons and logic have slope 0, also at their steps.
/// - `If` and `Pick` pass the slope to the chosen operand only; the condition and the index get none.
/// - `Min` and `Max` pass it to the chosen operand; where both are equal each gets half, which is what central differences give and does
///   not depend on the order of the operands. `Abs` has slope 0 at 0 for the same reason.
/// - A slope that does not exist is NaN or infinite (`sqrt` at 0, the exponent of a negative base) and says so in the leaf's slope.
/// - A condition, index or choice that is NaN has no chosen operand: every operand gets NaN.
///
/// # Panics
/// When `values` does not hold a value for `result` and all nodes before it (a bug of the caller).
pub fn sensitivities(graph: &Graph, values: &[f64], result: NodeId) -> Vec<f64> {
    let mut slopes = vec![0.0; graph.leaves as usize];
    // d result / d node
    let mut to = vec![0.0; result as usize + 1];
    to[result as usize] = 1.0;
    for id in (0..=result as usize).rev() {
        let slope = to[id];
        if slope == 0.0 {
            // a node that does not matter must not bring its own infinities in
            continue;
        }
        let node = graph.nodes[id];
        let (a, b, c) = (node.a as usize, node.b as usize, node.c as usize);
        let (x, y) = match node.op.arity() {
            Some(1) => (values[a], 0.0),
            Some(2 | 3) => (values[a], values[b]),
            _ => (0.0, 0.0),
        };
        let value = values[id];
        match node.op {
            Op::Leaf => slopes[a] += slope,
            Op::Neg => to[a] -= slope,
            Op::Abs => to[a] += slope * sign(x),
            Op::Sqrt => to[a] += slope * 0.5 / value,
            Op::Exp => to[a] += slope * value,
            Op::Ln => to[a] += slope / x,
            Op::Log10 => to[a] += slope * std::f64::consts::LOG10_E / x,
            Op::Sin => to[a] += slope * math::cos(x),
            Op::Cos => to[a] -= slope * math::sin(x),
            Op::Tan => to[a] += slope * (1.0 + value * value),
            Op::Asin => to[a] += slope / ((1.0 - x) * (1.0 + x)).sqrt(),
            Op::Acos => to[a] -= slope / ((1.0 - x) * (1.0 + x)).sqrt(),
            Op::Atan => to[a] += slope / (1.0 + x * x),
            Op::NormalInv => to[a] += slope / math::normal_pdf(value),
            Op::Add => {
                to[a] += slope;
                to[b] += slope;
            }
            Op::Sub => {
                to[a] += slope;
                to[b] -= slope;
            }
            Op::Mul => {
                to[a] += slope * y;
                to[b] += slope * x;
            }
            Op::Div => {
                to[a] += slope / y;
                to[b] -= slope * value / y;
            }
            Op::Pow => {
                to[a] += slope * power_by_base(x, y);
                to[b] += slope * power_by_exponent(x, value);
            }
            Op::Min | Op::Max => {
                let first = if value.is_nan() {
                    f64::NAN
                } else if x == y {
                    0.5
                } else if value == x {
                    1.0
                } else {
                    0.0
                };
                to[a] += slope * first;
                to[b] += slope * (1.0 - first);
            }
            Op::If => match x {
                _ if x.is_nan() => {
                    to[b] = f64::NAN;
                    to[c] = f64::NAN;
                }
                0.0 => to[c] += slope,
                _ => to[b] += slope,
            },
            Op::Pick => {
                let list = &graph.args[b..b + c];
                match math::whole_index(values[a], list.len()) {
                    Some(k) => to[list[k] as usize] += slope,
                    None => list.iter().for_each(|operand| to[*operand as usize] = f64::NAN),
                }
            }
            Op::BetaInv => {
                let z = values[c];
                let density = math::beta_pdf(value, y, z);
                to[a] += slope / density;
                let by_shape = |at: &dyn Fn(f64) -> f64, shape: f64| {
                    let h = shape * 1e-5;
                    -(at(shape + h) - at(shape - h)) / (2.0 * h) / density
                };
                to[b] += slope * by_shape(&|s| math::beta_cdf(value, s, z), y);
                to[c] += slope * by_shape(&|s| math::beta_cdf(value, y, s), z);
            }
            Op::Const | Op::Floor | Op::Ceil | Op::Round | Op::Not | Op::Find => {}
            Op::Lt | Op::Le | Op::Gt | Op::Ge | Op::Eq | Op::Ne | Op::And | Op::Or => {}
        }
    }
    slopes
}

fn sign(x: f64) -> f64 {
    if x > 0.0 {
        1.0
    } else if x < 0.0 {
        -1.0
    } else {
        x * 0.0
    }
}

fn power_by_base(x: f64, y: f64) -> f64 {
    if y == 0.0 { 0.0 } else { y * math::pow(x, y - 1.0) }
}

fn power_by_exponent(x: f64, value: f64) -> f64 {
    // 0^y stays 0 for exponents around a positive y
    if x == 0.0 && value == 0.0 { 0.0 } else { value * math::ln(x) }
}
