//! `tare next`: what to find out next.

use super::{Context, Outcome, percent};
use crate::output::Output;
use crate::progress::Drawing;
use tare_app::Plan;
use tare_app::ranges::{threads, work_list};
use tare_app::view::{self, WorkView};
use tare_diag::Diag;

/// What to find out next: which reading, offer or test narrows a range most for the effort
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare next\n  tare next mass --who bench\n  tare next P12/cost --most 20\n\n\
                        Gains are worked out by drawing the study again with the input known as well as the recipe reaches. Recipes \
                        stand in the library (`recipes.toml`); a workspace's own come first.")]
pub(crate) struct Args {
    /// The line, as for `tare explain`
    #[arg(default_value = "cost")]
    line: String,
    /// Only what this one does
    #[arg(long, value_name = "WHO", value_parser = ["bench", "buyer", "laboratory", "office"])]
    who: Option<String>,
    /// Steps listed
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u64).range(1..=100))]
    most: u64,
    /// Draws behind every figure
    #[arg(long, value_name = "N", default_value_t = 4_096, value_parser = clap::value_parser!(u64).range(128..=2_000_000))]
    draws: u64,
    /// Names the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let line = view::find_line(&open.study, &args.line).map_err(|d| vec![d])?;
    let plan = Plan { draws: args.draws, most: args.most as usize, threads: threads(), who: args.who.clone() };
    let library = open.session.library.clone();
    let drawing = Drawing::begin();
    let found = work_list(&open.study, &library, line, &plan, args.seed, drawing.watch());
    drop(drawing);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the list was ready")]) };
    let view = view::work_rows(&open.loaded.document, &open.study, &library, &args.line, &found, args.seed);
    open.show("next", &view, view.failed == 0, output, print)
}

fn print(view: &WorkView, output: &Output) {
    output.line(format!("{}: {}, standard uncertainty u = {}", view.name, view.stated.text, view.now));
    super::failed(view.failed, view.draws, &view.name, output);
    if view.steps.is_empty() {
        output.line("No recipe of the library would narrow it by as much as a thousandth.");
    }
    for (number, step) in view.steps.iter().enumerate() {
        output.line("");
        output.wrapped(&format!("{:>2}. ", number + 1), &format!("{}: {}", step.address, step.recipe));
        output.wrapped("    ", &format!("now {} ({}); then {}", step.stated, step.evidence, step.reaches));
        output.wrapped(
            "    ",
            &format!(
                "{}, {:.0} min: u {} less by this alone; u = {} ({} less) with all before it",
                step.who,
                step.minutes,
                percent(step.gain),
                step.together,
                percent(step.gain_together)
            ),
        );
        if !step.edit.is_empty() {
            // a shell reads on behind a backslash
            match step.edit.split_once(" --evidence") {
                Some((set, rest)) if step.edit.len() > 76 => {
                    output.line(format!("    {set} \\"));
                    output.line(format!("      --evidence{rest}"));
                }
                _ => output.line(format!("    {}", step.edit)),
            }
        }
    }
    output.line("");
    for stuck in &view.stuck {
        output
            .wrapped("", &format!("no recipe for {} ({}), which carries {}", stuck.address, stuck.stated, percent(stuck.share)));
    }
    output.wrapped(
        "",
        &format!("by gain per minute of work, gains below a thousandth left out; {} draws, seed {}", view.draws, view.seed),
    );
}
