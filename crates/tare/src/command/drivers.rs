//! `tare drivers`: which inputs a range comes from.

use super::{Context, Outcome, percent};
use crate::output::Output;
use crate::progress::Drawing;
use crate::table::Table;
use tare_app::ranges::{driving, threads};
use tare_app::view::{self, DriversView};
use tare_app::Search;
use tare_diag::Diag;

/// Which inputs a range comes from
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  tare drivers\n  tare drivers mass\n  tare drivers P12/cost --most 30\n\n\
                        Every input with a spread is screened; those that stand out are drawn anew one by one.")]
pub(crate) struct Args {
    /// The line, as for `tare explain`
    #[arg(default_value = "cost")]
    line: String,
    /// Inputs looked at closely
    #[arg(long, value_name = "N", default_value_t = 12, value_parser = clap::value_parser!(u64).range(1..=200))]
    most: u64,
    /// Draws in each set of numbers
    #[arg(long, value_name = "N", default_value_t = 8_192, value_parser = clap::value_parser!(u64).range(128..=2_000_000))]
    draws: u64,
    /// Names the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let line = view::find_line(&open.study, &args.line).map_err(|d| vec![d])?;
    let search = Search { draws: args.draws, most: args.most as usize, seed: args.seed, threads: threads(), ..Search::default() };
    let drawing = Drawing::begin();
    let found = driving(&open.study, line, search, drawing.watch());
    drop(drawing);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the drivers were found")]) };
    let view = view::driver_rows(&open.study, &args.line, &found, search.coverage, args.seed);
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "drivers": view }));
        return Ok(true);
    }
    output.line(&open.info.name);
    output.line("");
    print(&view, output);
    Ok(true)
}

fn print(view: &DriversView, output: &Output) {
    output.line(format!("{}: {}, standard uncertainty {}", view.name, view.stated.text, view.uncertainty));
    output.line("");
    let mut table = Table::new(&["~input", "~stated", "evidence", ">alone", ">with others", ">low", ">high"]);
    for row in &view.rows {
        let [low, high] = &row.results;
        let (alone, with) = (percent(row.alone.max(0.0)), percent(row.with_others));
        table.row([row.address.clone(), row.stated.clone(), row.evidence.clone(), alone, with, low.clone(), high.clone()]);
    }
    table.print(output);
    let coverage = view.coverage * 100.0;
    output.wrapped(
        "",
        &format!(
            "alone: share of the variance that would go if the input were known; with others: that would stay if all others were. \
             Low and high: the result with the input at the ends of its own {coverage:.0} % interval, all others as stated. {} of the \
             variance goes with other inputs or with what inputs do together.",
            percent(view.rest)
        ),
    );
    output.wrapped("", &format!("{} inputs screened with {} draws, seed {}", view.screened, view.draws, view.seed));
}
