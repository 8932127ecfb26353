//! Evaluators: at one set of leaf values, and over many draws at once.
pub mod batch;
pub mod point;
mod rows;
