//! `tare spread`: how far the numbers may be off, and where that comes from.

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Progress;
use crate::table::Table;
use tare_app::ranges::{CAUSE_DRAWS, headlines, ranges, threads};
use tare_app::view::{self, SpreadView};
use tare_diag::{Diag, Place};

/// Ranges by drawing all inputs at once, and where they come from
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare spread\n  tare spread P12/cost P12/mass\n  tare spread --digits 2 --draws 1000000\n\n\
                        Every draw computes the whole study again; inputs that are shared (a wage, a method error, one scale) move together.")]
pub(crate) struct Args {
    /// Lines to watch, as for `tare explain`; the headlines where none are named
    line: Vec<String>,
    /// Digits of the standard uncertainty that are to be sure
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(i32).range(1..=3))]
    digits: i32,
    /// The most draws
    #[arg(long, value_name = "N", default_value_t = 200_000, value_parser = clap::value_parser!(u64).range(128..=20_000_000))]
    draws: u64,
    /// Names the random numbers: the same seed gives the same ranges
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Share of draws inside the intervals, in per cent
    #[arg(long, value_name = "PERCENT", default_value_t = 95.0)]
    coverage: f64,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    if !(args.coverage > 0.0 && args.coverage < 100.0) {
        let says = format!("a coverage lies between 0 and 100 per cent, found {}", args.coverage);
        return Err(vec![Diag::error("coverage", says).at(Place::address("--coverage")).hint("write it like `--coverage 90`")]);
    }
    let open = context.open(output)?;
    let watched = if args.line.is_empty() {
        headlines(&open.loaded.document, &open.study)
    } else {
        let (mut found, mut problems) = (Vec::new(), Vec::new());
        for name in &args.line {
            match view::find_line(&open.study, name) {
                Ok(line) => found.push((name.clone(), line)),
                Err(diag) => problems.push(diag),
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        found
    };
    let options = tare_app::Options {
        seed: args.seed,
        coverage: args.coverage / 100.0,
        digits: args.digits,
        most: args.draws,
        threads: threads(),
        ..tare_app::Options::default()
    };
    let progress = Progress::of("drawing");
    let found = ranges(&open.study, watched, options, CAUSE_DRAWS, None);
    drop(progress);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the ranges were ready")]) };
    let view = view::spread_rows(&open.study, &found);
    let well = view.failures.is_empty() && !view.rows.is_empty();
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "spread": view }));
        return Ok(well);
    }
    output.line(&open.info.name);
    output.line("");
    print(&view, output);
    Ok(well)
}

fn print(view: &SpreadView, output: &Output) {
    let share = view.coverage * 100.0;
    let range = format!(">{share:.0} % from");
    let mut table = Table::new(&["~line", ">stated", ">mean", ">+- u", &range, ">to", "unit"]);
    for row in &view.rows {
        // the unit is said once
        let unit = &row.stated.unit;
        let bare = |text: &str| text.strip_suffix(unit.as_str()).unwrap_or(text).trim_end().to_owned();
        let unit = if unit == "1" { String::new() } else { unit.clone() };
        let texts = [&row.stated.text, &row.mean, &row.uncertainty, &row.low, &row.high];
        let [stated, mean, uncertainty, low, high] = texts.map(|text| bare(text));
        table.row([row.name.clone(), stated, mean, uncertainty, low, high, unit]);
    }
    table.print(output);
    let settled = if view.settled { "settled" } else { "not settled" };
    output.wrapped(
        "",
        &format!(
            "{} draws of {} inputs, seed {}; {settled} to {} digit{} of u",
            view.draws,
            view.leaves,
            view.seed,
            view.digits,
            if view.digits == 1 { "" } else { "s" }
        ),
    );
    for row in view.rows.iter().filter(|r| (r.first_order_ratio - 1.0).abs() > 0.1) {
        let than = if row.first_order_ratio < 1.0 { "less" } else { "more" };
        let says = format!(
            "{}: first order says {:.0} % {than}; steps (whole tool sets, machine classes), products of wide spreads and skewed ones are \
             what it cannot see",
            row.name,
            (row.first_order_ratio - 1.0).abs() * 100.0
        );
        output.wrapped("", &says);
    }
    if let Some(first) = view.rows.first().filter(|_| !view.causes.is_empty()) {
        output.heading(&format!("Where the range of the {} comes from", first.name));
        let mut table = Table::new(&["cause", ">alone", ">with others", ">inputs"]);
        for cause in view.causes.iter().filter(|c| c.with_others > 0.0005) {
            table.row([
                cause.cause.clone(),
                format!("{:.1} %", cause.alone.max(0.0) * 100.0),
                format!("{:.1} %", cause.with_others * 100.0),
                cause.leaves.to_string(),
            ]);
        }
        table.print(output);
        output.line("share of the variance: alone, what would go if the cause were known; with");
        output.line("others, what would stay if all others were");
    }
    let bites: Vec<_> = view.cuts.iter().filter(|(_, share)| *share >= 0.01).collect();
    if !view.cuts.is_empty() {
        let says = format!("{} spreads reached below zero, where no such value can be, and were cut there", view.cuts.len());
        let most =
            if bites.is_empty() { "; less than 1 % of each".to_owned() } else { format!("; more than 1 % of {}", bites.len()) };
        output.wrapped("", &format!("{says}{most}"));
    }
    for (leaf, share) in bites {
        output.wrapped("  ", &format!("{leaf}: {:.1} %", share * 100.0));
    }
    failures(view, output);
}

/// Failed draws; lines that failed in one place are listed together.
fn failures(view: &SpreadView, output: &Output) {
    let mut said: Vec<&str> = Vec::new();
    for failure in &view.failures {
        output.wrapped("", &format!("{}: no number in {} draws, first in draw {}", failure.name, failure.times, failure.draw));
        if said.contains(&failure.from.as_str()) {
            continue;
        }
        said.push(&failure.from);
        failure.says.iter().for_each(|says| output.wrapped("  ", says));
        output.wrapped("  ", &failure.from);
        failure.inputs.iter().for_each(|input| output.wrapped("    ", input));
    }
}
