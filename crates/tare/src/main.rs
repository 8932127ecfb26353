//! The program: what a competitor's product weighs, takes and should cost, with the reason behind every number.
//!
//! One file per command under `command`; `output` is the only place that prints.

mod command;
mod output;
mod progress;
mod table;
mod width;

use clap::Parser;
use command::{Cli, Context};
use output::Output;
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse();
    let mut output = Output::new(cli.global.json);
    let context = Context::new(&cli.global);
    match command::run(cli.command, &context, &mut output) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(problems) => {
            output.fail(&problems);
            ExitCode::FAILURE
        }
    }
}
