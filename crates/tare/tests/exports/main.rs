//! What leaves a workspace: the same numbers in every form, hostile texts that stay text, and nothing that a reader may not see.

#[path = "../common/mod.rs"]
mod common;

mod forms;
#[cfg(feature = "parquet")]
mod parquet;
mod secrets;
mod written;
