//! Evaluators: at one set of leaf values, and over many draws at once.

mod ahead;
pub mod batch;
mod lanes;
pub mod point;
mod rows;
