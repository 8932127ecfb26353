//! Ranges as rows.

use crate::figure::{Figure, shown};
use crate::ranges::Ranges;
use serde::Serialize;
use tare_study::Study;

/// Ranges and where the first comes from.
#[derive(Clone, Debug, Serialize)]
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
#[derive(Clone, Debug, Serialize)]
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
    /// First-order standard uncertainty over the drawn one: far from 1 where steps, products or skewed spreads matter.
    pub first_order_ratio: f64,
}

/// The part of a range that goes with one cause.
#[derive(Clone, Debug, Serialize)]
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
#[derive(Clone, Debug, Serialize)]
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
pub fn spread_rows(study: &Study, ranges: &Ranges) -> SpreadView {
    let coverage = ranges.options.coverage;
    let rows = ranges.watched.iter().zip(&ranges.spread.ranged).map(|((name, line), ranged)| {
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
            first_order_ratio: study.standard_uncertainty(*line) / ranged.draws.deviation(),
        }
    });
    let causes = ranges.causes.iter().map(|c| CauseRow {
        cause: c.cause.words().to_owned(),
        alone: c.alone,
        with_others: c.with_others,
        leaves: c.leaves,
    });
    let cuts = ranges.sampling.cuts.iter().map(|cut| (study.lines.address(cut.leaf), cut.share));
    SpreadView {
        rows: rows.collect(),
        causes: causes.collect(),
        draws: ranges.spread.draws,
        seed: ranges.options.seed,
        coverage,
        settled: ranges.spread.settled,
        digits: ranges.options.digits,
        leaves: ranges.spread.leaves,
        operations: ranges.spread.operations,
        cuts: cuts.collect(),
        failures: failures(study, ranges),
    }
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
