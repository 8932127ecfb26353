//! `tare explain`: the reason behind a number.

use super::{Context, Open, Outcome};
use crate::output::Output;
use std::collections::BTreeMap;
use tare_app::Stop;
use tare_app::idea::{self, Idea};
use tare_app::view::{self, ExplainRow, ExplainView};
use tare_diag::Diag;

/// The reason behind a number: formula, names and sources, down to readings and assumptions
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare explain cost\n  tare explain P12/mass\n  tare explain P12/op1/cycle --all\n  tare explain \"idea I1\"\n\nEvery name shown has an address that can be explained in turn."
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
    let explained = match args.address.strip_prefix("idea ") {
        Some(rest) => {
            context.not_of_a_release("an idea", "ideas are of the study as it is: leave `--release` out")?;
            of_idea(&open, rest, &args.address, limit)?
        }
        None => view::explain(&open.study, &args.address, limit).map_err(|d| vec![d])?,
    };
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

/// The reason behind a number of an idea: `idea J9.../change/net_saving`; without a line what is left of its saving.
fn of_idea(open: &Open, rest: &str, address: &str, limit: usize) -> Result<ExplainView, Vec<Diag>> {
    let findings = idea::found(&open.loaded.document, &open.study, &open.session.library);
    // labels may hold strokes: the longest that fits is meant
    let fits = |idea: &&Idea| rest == idea.label || rest.strip_prefix(idea.label.as_str()).is_some_and(|r| r.starts_with('/'));
    let Some(meant) = findings.ideas.iter().filter(fits).max_by_key(|idea| idea.label.len()).cloned() else {
        let label = rest.split('/').next().unwrap_or(rest).to_owned();
        let dropped =
            || vec![Diag::error("idea-dropped", format!("the idea {label} was dropped; `tare ideas` gives the reason"))];
        return Err(findings.named(std::slice::from_ref(&label)).err().unwrap_or_else(dropped));
    };
    let line = rest[meant.label.len()..].trim_start_matches('/');
    let address = if line.is_empty() { format!("{address}/change/net_saving") } else { address.to_owned() };
    let texts = open.session.texts(&open.loaded.document)?;
    let options = super::ideas::options(128, 1);
    let found = idea::evaluate(&texts, &open.loaded.document, &open.study, vec![meant], None, options, Stop::default());
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the idea was computed")]) };
    view::explain(&found.changes.study, &address, limit).map_err(|d| vec![d])
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
