//! Graph of bare operations on numbers, templates, point evaluation, sensitivities, one maths module.
//!
//! A whole study compiles into one [`Graph`]: a flat list of nodes in an order in which operands come before their users. A
//! calculation compiles once to a [`Template`]; each of its uses is a copy of the template's nodes with the operands renumbered.
//! The graph knows no names, units or strings: who builds it keeps the way back from node to line.
//!
//! ```
//! use tare_engine::{Graph, Op, TemplateBuilder, eval_point, sensitivities};
//!
//! // area = pi / 4 * diameter^2, compiled once
//! let mut build = TemplateBuilder::new(1);
//! let diameter = build.param(0);
//! let two = build.constant(2.0);
//! let square = build.push(Op::Pow, &[diameter, two]);
//! let quarter_pi = build.constant(std::f64::consts::FRAC_PI_4);
//! let area = build.push(Op::Mul, &[quarter_pi, square]);
//! let disc = build.finish();
//!
//! // a ring = outer disc - inner disc: two copies in one graph
//! let mut graph = Graph::default();
//! let (outer, inner) = (graph.leaf(), graph.leaf());
//! let base = graph.instantiate(&disc, &[outer]);
//! let outer_area = disc.node(area, base, &[outer]);
//! let base = graph.instantiate(&disc, &[inner]);
//! let inner_area = disc.node(area, base, &[inner]);
//! let ring = graph.push(Op::Sub, &[outer_area, inner_area]);
//!
//! let mut values = Vec::new();
//! eval_point(&graph, &[4.0, 2.0], &mut values);
//! assert!((values[ring as usize] - 3.0 * std::f64::consts::PI).abs() < 1e-12);
//!
//! let slopes = sensitivities(&graph, &values, ring);
//! assert!((slopes[0] - 2.0 * std::f64::consts::PI).abs() < 1e-12); // d area / d diameter = pi / 2 * diameter
//! assert!((slopes[1] + std::f64::consts::PI).abs() < 1e-12);
//! ```
//!
//! # Rules every evaluator keeps
//!
//! - Same bits on every machine: IEEE double operations, the functions of [`math`], no fused multiply-add, one fixed order.
//! - Truth is "not zero"; comparisons and logic give 1.0 or 0.0.
//! - NaN means "there is no number here" and is never turned back into one by accident: arithmetic, `Min`, `Max` and comparisons
//!   of NaN are NaN, and so are `If` and `Pick` on a NaN condition or index. Only a choice may leave it behind: the branch not
//!   taken does not matter, `And` with a false side is false, `Or` with a true side is true.
//! - `Pick` counts from 0; an index that is not within 1e-9 (relative above 1) of a whole number in range gives NaN.
//! - `Find` goes through rows of cells and gives the position of the first that suits the needs, -1 where none does; a table is one
//!   `Find` for the row and one `Pick` per column that is read.
//! - `Floor`, `Ceil` snap to a whole number within 1e-9 (relative above 1); `Round` goes half away from zero.
//!
//! [`conformance`] holds these meanings as one table; any evaluator can be run against it.
//!
//! What is not here: any knowledge of units, lines or files.

pub mod budget;
pub mod conformance;
pub mod eval;
mod graph;
pub mod indices;
pub mod math;
mod merge;
mod op;
pub mod sample;
mod sensitivity;
pub mod stats;
mod tape;
mod template;

pub use eval::batch::{Draws, How, LANES, Lane, Width};
pub use eval::point::eval_point;
pub use graph::{Graph, Node, NodeId, Search};
pub use math::Match;
pub use merge::Merger;
pub use op::Op;
pub use sensitivity::sensitivities;
pub use tape::Tape;
pub use template::{Operand, Placed, Settled, Template, TemplateBuilder};

/// The version of the arithmetic: it goes up by one with every change by which the same records, texts and seed come to other bits, in
/// evaluation, in draws, or in how a study becomes lines; and with nothing else.
///
/// A release of a study names it, so that a later program can tell why it does not come to the same bits. The test `numerics` holds the
/// bits of operators and draws of each version; `tare-app` keeps a release of each.
pub const NUMERICS: u32 = 1;
