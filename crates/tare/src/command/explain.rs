//! `tare explain`: the reason behind a number.

use super::{Context, Outcome};
use crate::output::Output;
use std::collections::BTreeMap;
use tare_app::view::{self, ExplainRow};

/// The reason behind a number: formula, names and sources, down to readings and assumptions
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare explain cost\n  tare explain P12/mass\n  tare explain P12/op1/cycle --all\n\nEvery name shown has an address that can be explained in turn."
)]
pub(crate) struct Args {
    /// Address of a number: cost, mass, time, investment, P12, P12/mass, P12/op1/cycle
    #[arg(default_value = "cost")]
    address: String,
    /// Show at most so many lines
    #[arg(long, value_name = "N", default_value_t = 25)]
    limit: usize,
    /// Show everything, down to the leaves
    #[arg(long)]
    all: bool,
}

/// The most lines that are followed.
const ALL: usize = 100_000;

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let limit = if args.all || output.json { ALL } else { args.limit.max(1) };
    let explained = view::explain(&open.study, &args.address, limit).map_err(|d| vec![d])?;
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "address": args.address, "steps": explained.steps, "left_out": explained.left_out }));
        return Ok(true);
    }
    let numbers: BTreeMap<&str, usize> = explained.steps.iter().enumerate().map(|(i, s)| (s.address.as_str(), i + 1)).collect();
    for (at, step) in explained.steps.iter().enumerate() {
        print(at + 1, step, &numbers, output);
    }
    if explained.left_out > 0 {
        output.line(format!("... and {} more lines; `--all` shows them, `--limit N` so many", explained.left_out));
    }
    Ok(true)
}

fn print(number: usize, step: &ExplainRow, numbers: &BTreeMap<&str, usize>, output: &Output) {
    output.line(format!("[{number}] {} = {}", step.address, step.text));
    if !step.subject.is_empty() && !step.address.contains(&step.subject) {
        output.wrapped("     of ", &step.subject);
    }
    if !step.formula.is_empty() {
        output.wrapped("     = ", &step.formula);
    }
    for name in &step.names {
        let refers = name.lines.iter().filter_map(|l| numbers.get(l.as_str())).map(|n| format!("[{n}]")).collect::<Vec<_>>();
        let refers = if refers.len() > 6 { format!("{} .. {}", refers[0], refers[refers.len() - 1]) } else { refers.join(" ") };
        output.wrapped(&format!("       {} = ", name.name), format!("{} {refers}", name.text).trim_end());
    }
    let stands = match (step.evidence.as_str(), step.calculation.as_str()) {
        ("", "") => String::new(),
        ("", calculation) => format!("({calculation})"),
        (evidence, _) if step.stated.is_empty() => format!("({evidence})"),
        (evidence, _) => format!("({evidence}: {})", step.stated),
    };
    let said = [stands, step.source.clone()].into_iter().filter(|t| !t.is_empty()).collect::<Vec<_>>().join(" ");
    if !said.is_empty() {
        output.wrapped("     ", &said);
    }
}
