//! `tare spread`: how far the numbers may be off, and where that comes from.

use super::{Context, Outcome};
use crate::output::Output;
use crate::progress::Drawing;
use crate::table::Table;
use tare_app::Layout;
use tare_app::ranges::{CAUSE_DRAWS, headlines, ranges, threads};
use tare_app::view::{self, SpreadRow, SpreadView};
use tare_diag::{Diag, Place};

/// The most numbers that are kept: 16 bytes each while they are set in order.
const MOST_KEPT: u64 = 40_000_000;

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
    /// Say how likely the first line is above this, such as `5200 EUR`
    #[arg(long, value_name = "VALUE")]
    limit: Option<String>,
    /// How the random numbers are laid out: even ones settle sooner, but only over all draws, so `--draws` of them are made
    #[arg(long, value_enum, default_value_t = PointsArg::Random)]
    points: PointsArg,
    /// Show the first-order budget of the first line (JCGM 100)
    #[arg(long)]
    budget: bool,
}

/// How random numbers are laid out.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum PointsArg {
    /// Each draw on its own
    Random,
    /// A Latin hypercube
    Hypercube,
    /// Sobol' points, scrambled; draws are rounded up to a power of two
    Sobol,
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
        layout: match args.points {
            PointsArg::Random => Layout::Random,
            PointsArg::Hypercube => Layout::Hypercube,
            PointsArg::Sobol => Layout::Sobol,
        },
        ..tare_app::Options::default()
    };
    let limit = match (&args.limit, watched.first()) {
        (Some(text), Some((_, line))) => Some(view::read_limit(&open.study, *line, text).map_err(|d| vec![d])?),
        _ => None,
    };
    // each draw of each line is kept to be set in order
    if args.draws.saturating_mul(watched.len() as u64) > MOST_KEPT {
        let says = format!("{} draws of {} lines are more than can be kept", args.draws, watched.len());
        let hint = format!("ask for fewer draws (`--draws {}`), or for fewer lines", MOST_KEPT / watched.len().max(1) as u64);
        return Err(vec![Diag::error("draws", says).at(Place::address("--draws")).hint(hint)]);
    }
    let drawing = Drawing::begin();
    let found = ranges(&open.study, watched, options, CAUSE_DRAWS, drawing.watch());
    drop(drawing);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the ranges were ready")]) };
    let view = view::spread_rows(&open.study, &found, limit);
    let well = view.failures.is_empty() && !view.rows.is_empty() && !view.stopped;
    open.show("spread", &view, well, output, |view, output| {
        print(view, output);
        if args.budget {
            view.rows.first().iter().for_each(|row| budget(row, view, output));
        }
    })
}

fn print(view: &SpreadView, output: &Output) {
    let range = format!(">{} from", coverage(view.coverage));
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
    let digits = format!("to {} digit{} of u", view.digits, if view.digits == 1 { "" } else { "s" });
    let settled = match (view.stopped, view.laid_out, view.settled) {
        (true, ..) => format!("stopped, not settled {digits}"),
        (_, true, _) => "laid out evenly, settling not judged".to_owned(),
        (.., true) => format!("settled {digits}"),
        _ => format!("not settled {digits}"),
    };
    output.wrapped("", &format!("{} draws of {} inputs, seed {}; {settled}", view.draws, view.leaves, view.seed));
    for row in view.rows.iter().filter(|r| !r.first_order.why.is_empty()) {
        output.wrapped("", &format!("{}: {}", row.name, row.first_order.why));
    }
    if let Some(row) = view.rows.first() {
        histogram(row, output);
        if let Some((limit, share)) = &row.above {
            output.line(format!("chance of more than {limit}: {}", super::percent(*share)));
        }
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
        output.line("of the variance (u squared). Alone: the share that would go if the cause were");
        output.line("known. With others: the share that would stay if all other causes were known.");
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

/// A coverage as a percentage.
fn coverage(share: f64) -> String {
    format!("{} %", tare_app::show_number(share * 100.0, 5))
}

/// Draws by value, the highest bin as wide as there is room.
fn histogram(row: &SpreadRow, output: &Output) {
    let (start, width, counts) = &row.histogram;
    let most = counts.iter().copied().max().unwrap_or(0);
    let all: usize = counts.iter().sum();
    if most == 0 || *width <= 0.0 {
        return;
    }
    output.heading(&format!("Draws of the {}, by value", row.name));
    let mut table = Table::new(&[&format!(">from {}", row.stated.unit), ">share", ""]);
    for (number, count) in counts.iter().enumerate() {
        // bins with next to nothing would only push the rest off the screen
        if *count * 2_000 < all {
            continue;
        }
        let bar = "#".repeat((*count * 40).div_ceil(most));
        let from = tare_app::show_number(start + width * number as f64, 4);
        table.row([from, super::percent(*count as f64 / all as f64), bar]);
    }
    table.print(output);
}

/// The first-order budget of a line.
fn budget(row: &SpreadRow, view: &SpreadView, output: &Output) {
    output.heading(&format!("First-order budget of the {}", row.name));
    let mut table = Table::new(&["~input", "~stated", ">moves it by", ">share", ">freedom", ""]);
    for part in &row.first_order.parts {
        let freedom = part.freedom.map_or_else(String::new, |f| format!("{f:.0}"));
        let crosses = if part.crosses { "steps" } else { "" };
        let share = super::percent(part.share);
        table.row([part.address.clone(), part.stated.clone(), part.moves.clone(), share, freedom, crosses.to_owned()]);
    }
    table.print(output);
    let first = &row.first_order;
    let freedom = first.freedom.filter(|f| *f < 1e5).map_or_else(|| "practically unlimited".to_owned(), |f| format!("{f:.0}"));
    output.wrapped(
        "",
        &format!(
            "other inputs, and what inputs do together: {}; combined standard uncertainty {}; effective degrees of freedom: {freedom}; \
             {}: +- {}",
            super::percent(first.rest),
            first.uncertainty,
            coverage(view.coverage),
            first.expanded
        ),
    );
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
