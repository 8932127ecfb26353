//! Ranges as rows.

use crate::figure::{Figure, shown};
use crate::ranges::Ranges;
use serde::Serialize;
use tare_analysis::{FirstOrder, Ranged};
use tare_engine::budget::Part;
use tare_study::{LineRef, Study};

/// Ranges and where the first comes from.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct SpreadView {
    /// One row per line.
    pub rows: Vec<SpreadRow>,
    /// Where the range of the first row comes from.
    pub causes: Vec<CauseRow>,
    /// Draws made.
    pub draws: u64,
    /// The seed; the same seed gives the same ranges.
    pub seed: u64,
    /// The share of draws inside the intervals.
    pub coverage: f64,
    /// Whether the ranges settled to the digits asked for.
    pub settled: bool,
    /// Whether the draws were stopped before.
    pub stopped: bool,
    /// Whether the random numbers were laid out; settling is then not judged.
    pub laid_out: bool,
    /// Digits of the standard uncertainty asked for.
    pub digits: i32,
    /// Leaves that were drawn.
    pub leaves: usize,
    /// Operations for each draw.
    pub operations: usize,
    /// Spreads that were cut at zero: leaf and share cut off.
    pub cuts: Vec<(String, f64)>,
    /// Draws that failed, in words.
    pub failures: Vec<FailureRow>,
}

/// The range of one line.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct SpreadRow {
    /// What it is.
    pub name: String,
    /// The number at the stated values.
    pub stated: Figure,
    /// Mean of the draws, shown.
    pub mean: String,
    /// Standard uncertainty, shown.
    pub uncertainty: String,
    /// Lower end of the symmetric interval, shown.
    pub low: String,
    /// Upper end, shown.
    pub high: String,
    /// Both ends of the shortest interval, shown.
    pub shortest: [String; 2],
    /// The 5, 25, 50, 75 and 95 % points, in the unit of `stated`.
    pub percentiles: [f64; 5],
    /// The same to the first order.
    pub first_order: FirstOrderRow,
    /// Even bins over the draws, in the unit of `stated`: left edge, width, counts.
    pub histogram: (f64, f64, Vec<usize>),
    /// The chance of exceeding the limit asked for: the limit as shown, and the share of draws above it.
    pub above: Option<(String, f64)>,
}

/// A line's range to the first order (JCGM 100), beside its draws.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct FirstOrderRow {
    /// Combined standard uncertainty, shown.
    pub uncertainty: String,
    /// That over the drawn one: far from 1 where steps, products or skewed spreads matter.
    pub ratio: f64,
    /// Effective degrees of freedom; nothing where every input is taken as known.
    pub freedom: Option<f64>,
    /// Half the width of the interval: Student's t times the standard uncertainty, shown.
    pub expanded: String,
    /// Why it differs from the draws; empty where it does not by much.
    pub why: String,
    /// Share of the first-order variance that the parts below do not carry each by itself: other inputs, and what inputs do together.
    pub rest: f64,
    /// The inputs that move the line most: address, as stated, how far the line goes with one standard uncertainty (shown), share of the
    /// variance.
    pub parts: Vec<BudgetRow>,
}

/// One input of a budget.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct BudgetRow {
    /// Its address.
    pub address: String,
    /// As stated.
    pub stated: String,
    /// How far the line goes with one standard uncertainty, shown.
    pub moves: String,
    /// Share of the first-order variance.
    pub share: f64,
    /// Degrees of freedom; nothing where it is taken as known.
    pub freedom: Option<f64>,
    /// Whether the line steps or turns within that.
    pub crosses: bool,
}

/// From here on the first order is said to differ from the draws.
const DIFFERS: f64 = 0.1;
/// Inputs listed in a budget.
const BUDGET_ROWS: usize = 12;
/// Bins of a histogram.
const BINS: usize = 24;

/// The part of a range that goes with one cause.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct CauseRow {
    /// The cause.
    pub cause: String,
    /// Share of the variance that would go if all its leaves were known.
    pub alone: f64,
    /// Share that would stay if all others were known.
    pub with_others: f64,
    /// Leaves.
    pub leaves: usize,
}

/// Draws in which a line came out as no number.
#[derive(Clone, Debug, Serialize, schemars::JsonSchema)]
pub struct FailureRow {
    /// The watched line.
    pub name: String,
    /// In how many draws.
    pub times: usize,
    /// The first of them.
    pub draw: u64,
    /// Where it went wrong first: address and formula.
    pub from: String,
    /// What the formula's names were in that draw.
    pub inputs: Vec<String>,
    /// What is said of that place in that draw: which table had no row, which division failed.
    pub says: Vec<String>,
}

/// Ranges as rows.
pub fn spread_rows(study: &Study, ranges: &Ranges, limit: Option<f64>) -> SpreadView {
    let coverage = ranges.options.coverage;
    let all = ranges.watched.iter().zip(&ranges.spread.ranged).zip(&ranges.first_order);
    let rows = all.enumerate().map(|(number, (((name, line), ranged), first))| {
        let histogram = ranged.draws.histogram(BINS);
        // the limit is one of the first line
        let limit = limit.filter(|_| number == 0);
        let unit = study.lines.unit(*line);
        let text = |si: f64| shown(si, unit, &study.currency, 4);
        let (symmetric, shortest) = (ranged.draws.symmetric(coverage), ranged.draws.shortest(coverage));
        SpreadRow {
            name: name.clone(),
            stated: Figure::new(study, *line, 5),
            mean: text(ranged.draws.mean()),
            uncertainty: shown(ranged.draws.deviation(), unit, &study.currency, 2),
            low: text(symmetric.low),
            high: text(symmetric.high),
            shortest: [text(shortest.low), text(shortest.high)],
            percentiles: [0.05, 0.25, 0.5, 0.75, 0.95].map(|p| unit.from_si(ranged.draws.quantile(p))),
            first_order: first_order(study, ranges, first, ranged),
            histogram: (unit.from_si(histogram.0), histogram.1 / unit.factor, histogram.2),
            above: limit.map(|limit| (text(limit), ranged.draws.share_above(limit))),
        }
    });
    let causes = ranges.causes.iter().map(|c| CauseRow {
        cause: c.cause.words().to_owned(),
        alone: c.alone,
        with_others: c.with_others,
        leaves: c.leaves,
    });
    // only those that the watched lines rest on
    let reached = |leaf: LineRef| ranges.first_order.iter().any(|f| f.parts.iter().any(|p| LineRef::Leaf(p.input.leaf) == leaf));
    let cuts = ranges.sampling.cuts.iter().filter(|cut| reached(cut.leaf));
    let cuts = cuts.map(|cut| (study.lines.address(cut.leaf), cut.share));
    SpreadView {
        rows: rows.collect(),
        causes: causes.collect(),
        draws: ranges.spread.draws,
        seed: ranges.options.seed,
        coverage,
        settled: ranges.spread.settled,
        stopped: ranges.spread.stopped,
        laid_out: ranges.options.layout != tare_analysis::Layout::Random,
        digits: ranges.options.digits,
        leaves: ranges.spread.leaves,
        operations: ranges.spread.operations,
        cuts: cuts.collect(),
        failures: failures(study, ranges),
    }
}

fn first_order(study: &Study, ranges: &Ranges, first: &FirstOrder, ranged: &Ranged) -> FirstOrderRow {
    let coverage = ranges.options.coverage;
    let lines = &study.lines;
    let unit = lines.unit(first.line);
    let text = |si: f64| shown(si, unit, &study.currency, 2);
    let variance = first.uncertainty * first.uncertainty;
    let finite = |freedom: f64| Some(freedom).filter(|f| f.is_finite());
    let row = |part: &Part| {
        let leaf = LineRef::Leaf(part.input.leaf);
        BudgetRow {
            address: lines.address(leaf),
            stated: lines.leaves[part.input.leaf as usize].quantity.text.clone(),
            moves: text(part.moves),
            share: part.moves * part.moves / variance,
            freedom: finite(part.input.freedom),
            crosses: part.crosses(),
        }
    };
    FirstOrderRow {
        uncertainty: text(first.uncertainty),
        ratio: first.uncertainty / ranged.draws.deviation(),
        freedom: finite(first.freedom),
        expanded: text(first.expanded(coverage)),
        why: why(study, ranges, first, ranged),
        rest: 1.0 - first.parts.iter().take(BUDGET_ROWS).map(|part| part.moves * part.moves / variance).sum::<f64>(),
        parts: first.parts.iter().take(BUDGET_ROWS).filter(|part| part.moves != 0.0).map(row).collect(),
    }
}

/// Why the first order says another range than the draws.
pub(crate) fn why(study: &Study, ranges: &Ranges, first: &FirstOrder, ranged: &Ranged) -> String {
    let drawn = ranged.draws.deviation();
    let off = first.uncertainty / drawn - 1.0;
    // a range that is nothing has no first order to differ from
    if off.abs() <= DIFFERS || off.is_nan() {
        return String::new();
    }
    let than = if off < 0.0 { "less" } else { "more" };
    // what one bend alone could do to the range
    let matter = |part: &&&Part| part.bend.abs() > 0.1 * drawn;
    let bends = first.bends();
    let steps: Vec<String> =
        bends.iter().filter(matter).take(3).map(|part| study.lines.address(LineRef::Leaf(part.input.leaf))).collect();
    let mut reasons = Vec::new();
    if !steps.is_empty() {
        reasons.push(format!("it steps or turns along {}", steps.join(", ")));
    }
    // a spread that was cut has another mean and another width than it was stated with
    let cut = |part: &&Part| {
        let cut = ranges.sampling.cuts.iter().find(|cut| cut.leaf == LineRef::Leaf(part.input.leaf));
        cut.is_some_and(|cut| cut.share > 0.01) && part.moves.abs() > 0.1 * drawn
    };
    let cuts: Vec<String> =
        first.parts.iter().filter(cut).take(3).map(|p| study.lines.address(LineRef::Leaf(p.input.leaf))).collect();
    if !cuts.is_empty() {
        reasons.push(format!("what lay below zero was cut off {}", cuts.join(", ")));
    }
    let shift = (ranged.draws.mean() - first.centre) / drawn;
    if shift.abs() > 0.2 && cuts.is_empty() {
        let side = if shift > 0.0 { "above" } else { "below" };
        reasons.push(format!(
            "the mean of the draws lies {:.1} u {side} the value at mean inputs, so that the line is bent",
            shift.abs()
        ));
    }
    if reasons.is_empty() {
        reasons.push(
            "no single input bends it: products of wide spreads, and steps that only several inputs together reach".to_owned(),
        );
    }
    format!("first order says {:.0} % {than}: {}", off.abs() * 100.0, reasons.join("; "))
}

/// Failed draws, the first of each replayed to show its inputs.
pub(crate) fn failures(study: &Study, ranges: &Ranges) -> Vec<FailureRow> {
    let found = ranges.spread.failures.iter().map(|failure| {
        let name = ranges.watched.iter().find(|(_, line)| *line == failure.line).map_or("", |(name, _)| name).to_owned();
        let replayed = study.at(&failure.leaves);
        let step = failure.from.map(|line| replayed.step(line));
        let inputs = step.iter().flat_map(|step| &step.names).map(|n| {
            let values: Vec<String> = n.values.iter().map(|v| shown(*v, &n.unit, &study.currency, 6)).collect();
            format!("{} = {}", n.name, n.word.clone().unwrap_or_else(|| values.join("; ")))
        });
        // the message of the calculation in which it happened
        let block = step.as_ref().map_or("", |s| s.address.rsplit_once('/').map_or("", |(block, _)| block));
        let here = |d: &&tare_diag::Diag| matches!(&d.place, Some(tare_diag::Place::Address(at)) if !block.is_empty() && at.starts_with(block));
        let says = replayed.problems.iter().filter(here).map(|d| d.message.clone());
        FailureRow {
            says: says.collect(),
            name,
            times: failure.times,
            draw: failure.draw,
            inputs: inputs.collect(),
            from: step.as_ref().map_or_else(String::new, |s| format!("{} = {} ({})", s.address, s.formula, s.calculation)),
        }
    });
    found.collect()
}
