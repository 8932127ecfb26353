//! Evaluators of a graph.

pub mod point;
