//! Evaluators: at one set of leaf values, and over many draws at once.
pub mod batch;
mod lanes;
pub mod point;
mod rows;
