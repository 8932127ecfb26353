//! `tare ideas`: what to change, with what gain, at what investment, how sure.

use super::{Context, Open, Outcome, count, percent};
use crate::output::Output;
use crate::progress::Drawing;
use crate::table::Table;
use tare_app::Options;
use tare_app::idea::{self, Idea, SetAsked};
use tare_app::ranges::threads;
use tare_app::view::{self, IdeaRow, IdeasView, RangeRow, WorthRow};
use tare_diag::Diag;

/// What to change: recorded ideas and those that rules find, with gain, investment and certainty
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  tare ideas\n  tare ideas --set --most-money 200000\n  tare ideas --kind fastening\n  tare idea show I3\n\n\
                        Each idea is carried out on a copy of the study, computed anew and drawn with the same numbers. Gains of two ideas are \
                        not added up: `--set` and `tare idea try I1 I2` compute them together. Rules stand in the library \
                        (`opportunities/`); a workspace's own come first. Safety findings stand first and are never traded against cost."
)]
pub(crate) struct Args {
    /// Look for the best set as well
    #[arg(long)]
    set: bool,
    /// The most money to be laid out for the set, in the study's currency
    #[arg(long, value_name = "AMOUNT", requires = "set")]
    most_money: Option<f64>,
    /// Only ideas of this kind
    #[arg(long, value_name = "KIND")]
    kind: Option<String>,
    /// Draws behind every range
    #[arg(long, value_name = "N", default_value_t = 10_240, value_parser = clap::value_parser!(u64).range(128..=2_000_000))]
    draws: u64,
    /// Names the random numbers
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

pub(crate) fn run(args: &Args, context: &Context, output: &mut Output) -> Outcome {
    let open = context.open(output)?;
    let mut findings = idea::found(&open.loaded.document, &open.study, &open.session.library);
    output.messages(&findings.problems);
    if let Some(kind) = &args.kind {
        findings.ideas.retain(|idea| idea.record.text(tare_app::Field::Group) == Some(kind));
    }
    let set = args.set.then_some(SetAsked { stake: args.most_money });
    let view = evaluated(&open, findings, set, options(args.draws, args.seed))?;
    if output.json {
        output.json(&serde_json::json!({ "study": open.info.name, "ideas": view }));
        return Ok(true);
    }
    output.line(&open.info.name);
    safety(&view, output);
    table(&view, output);
    if let Some(set) = &view.set {
        output.heading("Best set");
        print_set(set, output);
    }
    for [label, name, says] in &view.dropped {
        output.wrapped("dropped: ", &format!("{label} {name}: {says}"));
    }
    output.line("");
    output.wrapped("", &format!("saves: middle of {} draws, the one-off cost paid back over the life of the product; range: 95 % of them; gain: share of draws in which something is saved; gains do not add up (`tare ideas --set`, `tare idea try`); `tare idea show LABEL` says why and how", view.draws));
    Ok(true)
}

pub(crate) fn options(draws: u64, seed: u64) -> Options {
    Options { most: draws, least: draws, seed, threads: threads(), ..Options::default() }
}

/// Evaluates what was found.
pub(crate) fn evaluated(
    open: &Open,
    findings: idea::Findings,
    set: Option<SetAsked>,
    options: Options,
) -> Result<IdeasView, Vec<Diag>> {
    let texts = open.session.texts(&open.loaded.document)?;
    let ideas: Vec<Idea> = findings.ideas.clone();
    let drawing = Drawing::begin();
    let found = idea::evaluate(&texts, &open.loaded.document, &open.study, ideas, set, options, drawing.watch());
    drop(drawing);
    let Some(found) = found else { return Err(vec![Diag::error("stopped", "stopped before the ideas were computed")]) };
    Ok(view::ideas(&open.loaded.document, &open.study, &found, &findings))
}

fn safety(view: &IdeasView, output: &Output) {
    if view.safety.is_empty() {
        return;
    }
    output.heading("Safety findings (for qualified people; never traded against cost)");
    for row in &view.safety {
        output.wrapped("! ", &format!("{}: {}", row.place, row.says));
        output.wrapped("  ", &row.advice);
    }
}

fn table(view: &IdeasView, output: &Output) {
    let (open, stuck): (Vec<&IdeaRow>, Vec<&IdeaRow>) = view.ideas.iter().partition(|row| row.worth.is_some());
    output.heading(&format!("Ideas, the most gain first ({} for each product)", view.currency));
    if open.is_empty() {
        output.line("none: `tare idea add` records one, rules of the library find others");
    }
    let mut table = Table::new(&["~idea", ">saves", ">range", ">gain", ">stake", ">pays in"]);
    for row in open {
        let Some(worth) = &row.worth else { continue };
        table.row([
            row.label.clone(),
            format!("{:.2}", worth.net_saving.middle),
            format!("{:.2}..{:.2}", worth.net_saving.ends.0, worth.net_saving.ends.1),
            format!("{:.0} %", worth.chance * 100.0),
            whole(worth.stake.value),
            worth.payback.as_ref().map_or_else(|| "never".to_owned(), |p| years(p.value)),
        ]);
    }
    table.print(output);
    for row in stuck {
        output.wrapped("cannot be carried out: ", &format!("{} {}: {}", row.label, row.name, row.problems.join("; ")));
    }
}

/// Years to a tenth; what is less than that is told in words, and beyond a hundred nobody waits.
fn years(years: f64) -> String {
    match years {
        y if y < 0.05 => "< 0.1 a".to_owned(),
        y if y > 100.0 => "> 100 a".to_owned(),
        y => format!("{y:.1} a"),
    }
}

/// A whole number, signed where it is less than nothing.
fn whole(value: f64) -> String {
    format!("{:.0}", if value.abs() < 0.5 { 0.0 } else { value })
}

/// A change with its sign.
pub(crate) fn signed(value: f64) -> String {
    if value.abs() < 0.05 {
        "0".to_owned()
    } else {
        format!("{}{}", if value > 0.0 { "+" } else { "" }, count((value * 10.0).round() / 10.0))
    }
}

/// What one idea, or a set, comes to.
pub(crate) fn print_worth(worth: &WorthRow, output: &Output) {
    let range = |row: &RangeRow| format!("{} ({} to {})", row.stated.text, row.low, row.high);
    let mut table = Table::new(&["", "~"]);
    let mut put = |what: &str, text: String| table.row([what.to_owned(), text]);
    put("saves each product", range(&worth.saving));
    put("  one-off cost paid", range(&worth.net_saving));
    put("  chance of a gain", percent(worth.chance));
    put("saves each year", worth.yearly.text.clone());
    put("one-off cost", worth.one_off.as_ref().map_or_else(|| "none stated".to_owned(), |f| f.text.clone()));
    put("investment in tools", worth.investment.text.clone());
    put("laid out together", worth.stake.text.clone());
    match (&worth.payback, &worth.turning_volume) {
        (Some(years), Some(volume)) => put("pays back in", format!("{}; from {} on within the life", years.text, volume.text)),
        _ => put("pays back in", "never: a product without its tools costs no less".to_owned()),
    }
    put("mass", worth.mass.as_ref().map_or_else(|| "-".to_owned(), range));
    put("manual time", worth.seconds.as_ref().map_or_else(|| "-".to_owned(), range));
    put("operators on the lines", worth.operators.map_or_else(|| "-".to_owned(), signed));
    put("pieces, joints", format!("{}, {}", signed(worth.parts), signed(worth.joints)));
    if let Some((old, new)) = worth.ideal_share {
        put("ideal-time share", format!("{} -> {}", percent(old), percent(new)));
    }
    table.print(output);
}

/// Sets of the frontier that are printed.
const FRONTIER: usize = 12;

fn print_set(set: &view::SetView, output: &Output) {
    if set.ideas.is_empty() {
        output.line("no idea saves anything within the limits");
    } else {
        output.wrapped("Ideas: ", &set.ideas.join(", "));
    }
    if let Some(worth) = &set.worth {
        print_worth(worth, output);
    }
    let said = if set.exhaustive {
        format!("every set within its group was computed ({} sets): no other saves more", set.computed)
    } else {
        format!(
            "{} sets were computed; no idea added, left out or exchanged saves more. The best gains that ideas had in any of them add up to {} a year ({} more): a guide to how far other sets might go, not a proof",
            set.computed,
            set.bound,
            percent(set.gap)
        )
    };
    output.wrapped("", &said);
    if set.frontier.len() > 1 {
        output.heading("Saving against money laid out");
        let mut table = Table::new(&[">laid out", ">saves each year", "~ideas"]);
        let step = set.frontier.len().div_ceil(FRONTIER).max(1);
        let last = set.frontier.len() - 1;
        for row in set.frontier.iter().enumerate().filter(|(at, _)| at % step == 0 || *at == last).map(|(_, row)| row) {
            table.row([row.stake_text.clone(), row.saving_text.clone(), row.ideas.join(", ")]);
        }
        table.print(output);
    }
}
