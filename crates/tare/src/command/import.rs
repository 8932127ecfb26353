//! `tare import` (being written).
use super::{Context, Outcome};
use crate::output::Output;
/// Import
#[derive(Debug, clap::Args)]
pub(crate) struct Args {}
pub(crate) fn run(_: &Args, _: &Context, _: &mut Output) -> Outcome {
    Err(vec![])
}
