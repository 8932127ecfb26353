//! `tare drivers`: which inputs a range comes from.

use super::{Context, Outcome, percent};
use crate::output::Output;
use crate::progress::Drawing;
use tare_app::Search;
use tare_app::ranges::{driving, threads};
use tare_app::view::{self, DriverRow, DriversView};
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
    let search = Search { draws: args.draws, most: args.most as usize, threads: threads(), ..Search::default() };
    let drawing = Drawing::begin();
    let found = driving(&open.study, line, search, args.seed, drawing.watch());
    drop(drawing);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the drivers were found")]) };
    let view = view::driver_rows(&open.study, &args.line, &found, search.coverage, args.seed);
    open.show("drivers", &view, view.failed == 0, output, print)
}

fn print(view: &DriversView, output: &Output) {
    output.line(format!("{}: {}, standard uncertainty u = {}", view.name, view.stated.text, view.uncertainty));
    // rows that chance may have brought here say nothing
    let told = |row: &&DriverRow| row.with_others > 0.0005;
    let numbers = view.rows.iter().filter(told).flat_map(|row| row.numbers).filter(|n| n.is_finite());
    let (low, high) = numbers.fold((view.stated.value, view.stated.value), |(low, high), n| (low.min(n), high.max(n)));
    for (number, row) in view.rows.iter().filter(told).enumerate() {
        let with = match row.with.len() {
            0 => String::new(),
            n => format!(" and {n} that move with it"),
        };
        output.line("");
        output.wrapped(&format!("{:>2}. ", number + 1), &format!("{}{with}", row.address));
        output.wrapped("    ", &format!("{} ({}): {}", row.stated, row.evidence, row.cause));
        let [from, to] = &row.results;
        let shares = format!("alone {}, with others {}", percent(row.alone.max(0.0)), percent(row.with_others));
        output.line(format!("    {}  {from} .. {to}", bar(row.numbers, view.stated.value, low, high)));
        let how = if row.with.is_empty() { "" } else { "; bar: all together, first order" };
        output.line(format!("    {shares}{how}"));
    }
    output.line("");
    super::failed(view.failed, view.draws, &view.name, output);
    if view.rows.is_empty() {
        output.line("Nothing drives it: it is no number, or no draw changes it.");
        return;
    }
    let coverage = view.coverage * 100.0;
    output.wrapped(
        "",
        &format!(
            "Bars: the result with the input at the ends of its own {coverage:.0} % interval, all others as stated (+). Alone: share of \
             the variance that would go if the input were known; with others: that would stay if all others were. {} of the variance \
             goes with other inputs or with what inputs do together.",
            percent(view.rest)
        ),
    );
    output.wrapped("", &format!("{} inputs screened with {} draws, seed {}", view.screened, view.draws, view.seed));
}

/// The reach of one input on a common scale of 40 columns; the stated value is marked.
fn bar(ends: [f64; 2], stated: f64, low: f64, high: f64) -> String {
    const COLUMNS: f64 = 39.0;
    let place = |x: f64| if high > low { ((x - low) / (high - low) * COLUMNS).round() as usize } else { 0 };
    if ends.iter().any(|end| !end.is_finite()) {
        return " ".repeat(COLUMNS as usize + 1);
    }
    let (from, to) = (place(ends[0].min(ends[1])), place(ends[0].max(ends[1])));
    let mark = |column: usize| match column {
        c if c == place(stated) => '+',
        c if (from..=to).contains(&c) => '=',
        _ => ' ',
    };
    (0..=COLUMNS as usize).map(mark).collect()
}
