//! Drawn ranges: on the figures they belong to, and in a section of their own.

use super::amount::{grouped, placed};
use super::filling::{Filling, axis, joined, number};
use crate::ranges::Ranges;
use crate::view;
use tare_analysis::Ranged;
use tare_report::{Bin, CauseRow, CutRow, Distribution, FailedRow, Figure, Mark, RangeRow};
use tare_study::LineRef;
use tare_units::show_number;

/// Bins of a histogram.
const BINS: usize = 40;
/// A mean is said where it differs from the stated value by more than this share of the standard uncertainty.
const APART: f64 = 0.1;
/// Cut spreads are listed from this share on.
const CUT: f64 = 0.01;
/// Smallest share of the variance that is listed as a cause.
pub(super) const LEAST: f64 = 0.0005;

/// The texts of one range, all to one place, without the unit but for the ends.
struct Texts {
    at_means: String,
    mean: String,
    uncertainty: String,
    symmetric: String,
    shortest: String,
    ends: [String; 2],
    word: String,
}

impl Texts {
    fn with_unit(&self, text: &str) -> String {
        joined([Some(text), Some(self.word.as_str())], " ")
    }
}

/// The range of a line, where one was drawn and it has a width.
fn range_of(ranges: Option<&Ranges>, line: LineRef) -> Option<&Ranged> {
    ranges?.spread.ranged.iter().find(|r| r.line == line && r.draws.deviation() > 0.0)
}

fn texts(f: &Filling<'_>, ranges: &Ranges, ranged: &Ranged, at_means: f64) -> Texts {
    let draws = &ranged.draws;
    let (symmetric, shortest) = (draws.symmetric(ranges.options.coverage), draws.shortest(ranges.options.coverage));
    let all = [draws.mean(), symmetric.low, symmetric.high, shortest.low, shortest.high, at_means];
    let per_cent = f.is_share(ranged.line);
    let (text, word) = placed(&all, draws.deviation(), f.study.lines.unit(ranged.line), &f.study.currency, per_cent);
    let with = |text: &str| joined([Some(text), Some(word.as_str())], " ");
    Texts {
        at_means: text[5].clone(),
        mean: text[0].clone(),
        symmetric: format!("{} to {}", text[1], text[2]),
        shortest: format!("{} to {}", text[3], text[4]),
        uncertainty: text[6].clone(),
        ends: [with(&text[1]), with(&text[2])],
        word,
    }
}

/// Whether the mean of the draws lies apart from the stated value.
fn apart(f: &Filling<'_>, ranged: &Ranged) -> bool {
    (ranged.draws.mean() - f.study.value(ranged.line)).abs() > APART * ranged.draws.deviation()
}

/// Where the stated value lies outside the symmetric interval, on which side of it.
fn outside(f: &Filling<'_>, ranges: &Ranges, ranged: &Ranged) -> Option<&'static str> {
    let (stated, interval) = (f.study.value(ranged.line), ranged.draws.symmetric(ranges.options.coverage));
    if stated < interval.low {
        Some("the stated value lies below the range")
    } else if stated > interval.high {
        Some("the stated value lies above the range")
    } else {
        None
    }
}

/// Sets the range of a figure made from a line, where one was drawn; the stated value stays, a mean that lies apart is said.
pub(super) fn drawn(f: &Filling<'_>, line: LineRef, figure: Figure) -> Figure {
    let Some((ranges, ranged)) = f.ranges.and_then(|r| Some((r, range_of(Some(r), line)?))) else { return figure };
    let texts = texts(f, ranges, ranged, f64::NAN);
    let symmetric = texts.with_unit(&texts.symmetric);
    let unit = f.study.lines.unit(line);
    let interval = ranged.draws.symmetric(ranges.options.coverage);
    let (count, coverage) = (ranged.draws.count() as u64, ranges.options.coverage);
    let figure = figure.sampled((number(interval.low, unit), number(interval.high, unit)), symmetric, coverage, count);
    let mean = apart(f, ranged).then(|| format!("mean of draws {}", texts.with_unit(&texts.mean)));
    let said = joined([mean.as_deref(), outside(f, ranges, ranged)], "; ");
    if said.is_empty() { figure } else { figure.saying(said) }
}

/// What the masthead says of the arithmetic.
pub(super) fn arithmetic(ranges: Option<&Ranges>) -> String {
    let Some(ranges) = ranges else { return "point values at the stated numbers; spreads first order (k = 2)".to_owned() };
    format!(
        "point values at the stated numbers; ranges of the headlines {} of {} draws, seed {}; other spreads first order (k = 2)",
        share(ranges.options.coverage),
        grouped(&ranges.spread.draws.to_string()),
        ranges.options.seed
    )
}

pub(super) fn share(x: f64) -> String {
    format!("{} %", show_number(x * 100.0, 3))
}

/// The section of ranges.
pub(super) fn ranges(f: &mut Filling<'_>, ranges: &Ranges) -> tare_report::Ranges {
    f.group = "Ranges".to_owned();
    let means: Vec<f64> = f.study.lines.leaves.iter().map(|leaf| leaf.quantity.mean()).collect();
    let at_means = f.study.at(&means);
    let (mut rows, mut skewed, mut stepped) = (Vec::new(), Vec::new(), Vec::new());
    for ((name, line), ranged) in ranges.watched.iter().zip(&ranges.spread.ranged) {
        let stated = stated(f, *line);
        let row = RangeRow { result: super::reasons::capital(name), stated, ..RangeRow::default() };
        if ranged.draws.deviation() > 0.0 {
            let at_means = at_means.value(*line);
            let texts = texts(f, ranges, ranged, at_means);
            if apart(f, ranged) {
                let near = (at_means - ranged.draws.mean()).abs() <= 0.5 * (f.study.value(*line) - ranged.draws.mean()).abs();
                if near { skewed.push(name.as_str()) } else { stepped.push(name.as_str()) }
            }
            rows.push(RangeRow {
                at_means: texts.at_means,
                mean: texts.mean,
                uncertainty: texts.uncertainty,
                symmetric: texts.symmetric,
                shortest: texts.shortest,
                note: outside(f, ranges, ranged).unwrap_or_default().to_owned(),
                ..row
            });
        } else {
            rows.push(RangeRow { note: "no draw changes it".to_owned(), ..row });
        }
    }
    let shown = [f.study.totals.cost, f.study.totals.without_dominant];
    let distributions = shown.into_iter().flatten().filter_map(|line| distribution(f, ranges, line)).collect();
    let causes: Vec<CauseRow> = ranges.causes.iter().filter(|c| c.with_others > LEAST).map(cause).collect();
    tare_report::Ranges {
        how: how(ranges),
        distributions,
        coverage: share(ranges.options.coverage),
        rows,
        causes_of: ranges.watched.first().map(|(name, _)| name.clone()).unwrap_or_default(),
        causes_how: format!(
            "Shares from sets of {} draws (A. Saltelli and others, Computer Physics Communications 181, 2010, table 2: (b) for alone, (f), \
             after Jansen, for with others). Those near the whole scatter by about {:.0} hundredths, small ones by less; alone larger than with others is \
             such scatter.",
            grouped(&ranges.cause_draws.to_string()),
            200.0 * scatter(ranges.cause_draws)
        ),
        causes,
        drivers: ranges.drivers.iter().map(|d| super::drivers::drivers(f, ranges, d)).collect(),
        drivers_how: super::drivers::how(ranges),
        work: ranges.work.as_ref().map(|list| super::drivers::work(f, ranges, list)).unwrap_or_default(),
        cuts: cuts(f, ranges),
        failed: failed(f, ranges),
        notes: why_apart(&skewed, &stepped).into_iter().chain(notes(f, ranges)).collect(),
    }
}

/// The standard deviation of a share near one, from so many draws: that of half the mean of squares of differences of normal numbers.
fn scatter(draws: u64) -> f64 {
    (2.0 / draws as f64).sqrt()
}

fn how(ranges: &Ranges) -> String {
    let digits = ranges.options.digits;
    let settled = if ranges.spread.settled { "settled" } else { "have not settled" };
    format!(
        "{} draws of {} inputs at once; every draw computes the whole study again, and inputs that are shared (a wage, a method error, one \
         scale) move together. Seed {}: the same seed gives the same ranges. They {settled} to {digits} digit{} of u, the standard \
         uncertainty (JCGM 101, 7.9). Intervals hold {} of the draws.",
        grouped(&ranges.spread.draws.to_string()),
        grouped(&ranges.spread.leaves.to_string()),
        ranges.options.seed,
        if digits == 1 { "" } else { "s" },
        share(ranges.options.coverage)
    )
}

/// The stated value, with as many digits as its headline has.
pub(super) fn stated(f: &mut Filling<'_>, line: LineRef) -> Figure {
    let totals = &f.study.totals;
    let finely = [totals.cost, totals.without_dominant, totals.mass, totals.investment].contains(&Some(line));
    if f.is_share(line) { f.percent(line) } else { f.figure(line, if finely { 5 } else { 4 }) }
}

/// Why means of draws lie elsewhere than the stated values: inputs whose mean is not what is stated, or what a straight line cannot follow.
fn why_apart(skewed: &[&str], stepped: &[&str]) -> Vec<String> {
    let mut notes = Vec::new();
    if !skewed.is_empty() {
        notes.push(format!(
            "Skewed inputs: where an input is stated with one side longer than the other, its mean lies to that side of the stated value, and so \
             does the mean of the draws. That is most of the difference for: {}.",
            skewed.join("; ")
        ));
    }
    if !stepped.is_empty() {
        notes.push(format!(
            "Steps (whole tool sets, machine classes) and products of wide spreads: with each input at its own mean the result is still \
             nearer the stated value than the mean of the draws. That is so for: {}.",
            stepped.join("; ")
        ));
    }
    notes
}

fn distribution(f: &mut Filling<'_>, ranges: &Ranges, line: LineRef) -> Option<Distribution> {
    let ranged = range_of(Some(ranges), line)?;
    let name = ranges.watched.iter().find(|(_, watched)| *watched == line).map(|(name, _)| name.clone())?;
    let unit = f.study.lines.unit(line).clone();
    let (first, width, counts) = ranged.draws.histogram(BINS);
    let at = |k: usize| number(first + width * k as f64, &unit);
    let bins = counts.iter().enumerate().map(|(k, count)| Bin { low: at(k), high: at(k + 1), count: *count as f64 }).collect();
    let texts = texts(f, ranges, ranged, f64::NAN);
    let coverage = ranges.options.coverage;
    let interval = ranged.draws.symmetric(coverage);
    let mark = |label: String, si: f64, text: &str| Mark { label, value: Figure::new(number(si, &unit), text) };
    let marks = vec![
        mark(share((1.0 - coverage) / 2.0), interval.low, &texts.ends[0]),
        mark("mean".to_owned(), ranged.draws.mean(), &texts.with_unit(&texts.mean)),
        mark(share((1.0 + coverage) / 2.0), interval.high, &texts.ends[1]),
    ];
    Some(Distribution {
        title: format!("{}: all draws", super::reasons::capital(&name)),
        unit: axis(&unit, &f.study.currency),
        bins,
        point: Some(stated(f, line)),
        marks,
    })
}

fn cause(cause: &tare_analysis::CauseShare) -> CauseRow {
    // small shares scatter about zero
    let figure = |share: f64| {
        let per_cent = share.max(0.0) * 100.0;
        Figure::new(per_cent, if per_cent < 0.5 { "<1 %".to_owned() } else { format!("{per_cent:.0} %") })
    };
    CauseRow {
        cause: cause.cause.words().to_owned(),
        alone: figure(cause.alone),
        with_others: figure(cause.with_others),
        inputs: grouped(&cause.leaves.to_string()),
    }
}

fn cuts(f: &mut Filling<'_>, ranges: &Ranges) -> Vec<CutRow> {
    let mut rows = Vec::new();
    for cut in ranges.sampling.cuts.iter().filter(|cut| cut.share >= CUT) {
        let (input, value) = super::evidence::input(f, cut.leaf);
        rows.push(CutRow { input, value, share: format!("{:.1} %", cut.share * 100.0) });
    }
    rows
}

/// Failed draws; results that failed in one place stand together.
fn failed(f: &Filling<'_>, ranges: &Ranges) -> Vec<FailedRow> {
    let mut rows: Vec<FailedRow> = Vec::new();
    for failure in view::failures(f.study, ranges) {
        let draws = format!(
            "no number in {} of {} draws, first in draw {}",
            grouped(&failure.times.to_string()),
            grouped(&ranges.spread.draws.to_string()),
            grouped(&failure.draw.to_string())
        );
        let name = super::reasons::capital(&failure.name);
        match rows.iter_mut().find(|row| row.formula == failure.from && row.draws == draws) {
            Some(row) => row.results.push(name),
            None => rows.push(FailedRow {
                results: vec![name],
                draws,
                says: failure.says,
                formula: failure.from,
                inputs: failure.inputs,
            }),
        }
    }
    rows
}

fn notes(f: &Filling<'_>, ranges: &Ranges) -> Vec<String> {
    let mut notes = Vec::new();
    let mut unknown = Vec::new();
    for (((name, line), ranged), first) in ranges.watched.iter().zip(&ranges.spread.ranged).zip(&ranges.first_order) {
        if f.study.standard_uncertainty(*line).is_nan() {
            unknown.extend(f.study.why_unknown(*line).map(|why| format!("{name} ({why})")));
        }
        let why = view::why(f.study, ranges, first, ranged);
        if !why.is_empty() {
            notes.push(format!("{}: {why}.", super::reasons::capital(name)));
        }
    }
    if !unknown.is_empty() {
        notes.push(format!("First order gives no uncertainty for: {}.", unknown.join("; ")));
    }
    let (all, much) = (ranges.sampling.cuts.len(), ranges.sampling.cuts.iter().filter(|c| c.share >= CUT).count());
    if all > 0 {
        let what = if all == 1 { "1 spread reaches".to_owned() } else { format!("{all} spreads reach") };
        let how_much = match much {
            0 => format!("less than {} of each was cut off", share(CUT)),
            n => format!("{} or more was cut off {n} of them, listed below", share(CUT)),
        };
        notes.push(format!("{what} below zero, where no such value can be, and what lay there was cut off: {how_much}."));
    }
    notes
}
