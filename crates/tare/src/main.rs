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
use std::ffi::OsString;
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse_from(std::env::args_os().map(value));
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

/// A value such as `-2 kg` is no option: a blank before it tells so.
fn value(argument: OsString) -> OsString {
    let negative =
        argument.to_str().is_some_and(|a| a.strip_prefix('-').is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit())));
    if !negative {
        return argument;
    }
    let mut marked = OsString::from(" ");
    marked.push(argument);
    marked
}
