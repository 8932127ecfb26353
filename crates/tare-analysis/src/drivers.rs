//! Which leaves a result's range comes from.

use crate::causes::mixed;
use crate::sampling::Sampling;
use crate::spread::Stop;
use std::collections::HashMap;
use tare_engine::budget::{Budget, Input, Move, Part, coverage_factor, one_at_a_time};
use tare_engine::indices::{Indices, indices};
use tare_engine::sample::Correlation;
use tare_engine::stats::Sample;
use tare_engine::{How, LANES, Tape};
use tare_study::{LineRef, Study};

/// Groups into which a leaf's draws are sorted while screening.
const GROUPS: usize = 16;

/// Deviations by which a share has to stand clear of chance; the tail of chi square is longer than that of the normal distribution.
const CLEAR: f64 = 5.0;

/// How drivers are looked for.
#[derive(Clone, Copy, Debug)]
pub struct Search {
    /// Draws in each set of numbers.
    pub draws: u64,
    /// The most leaves that are looked at closely.
    pub most: usize,
    /// The share of a leaf's values between which it is moved to see what it does alone.
    pub coverage: f64,
    /// Threads.
    pub threads: usize,
}

impl Default for Search {
    fn default() -> Self {
        Search { draws: 8_192, most: 12, coverage: 0.95, threads: 1 }
    }
}

/// One leaf and what it does to a result.
#[derive(Clone, Debug)]
pub struct Driver {
    /// The leaf.
    pub leaf: LineRef,
    /// Leaves that move with it and are drawn anew with it.
    pub with: Vec<LineRef>,
    /// Shares of the result's variance.
    pub indices: Indices,
    /// The leaf's own values between which it was moved, low and high.
    pub between: [f64; 2],
    /// The result at those two, all other leaves as stated. For leaves that move together: as far as the first order goes with all of them, an
    /// interval of the same coverage.
    pub results: [f64; 2],
}

/// What a result's range comes from.
#[derive(Clone, Debug)]
pub struct Drivers {
    /// The result.
    pub line: LineRef,
    /// Its mean over the draws.
    pub mean: f64,
    /// Its standard uncertainty.
    pub deviation: f64,
    /// Those looked at closely, by total index, largest first.
    pub rows: Vec<Driver>,
    /// Leaves that were screened.
    pub screened: usize,
    /// Draws in each set.
    pub draws: u64,
    /// Draws of the first set in which the result was no number; they are left out of everything.
    pub failed: usize,
}

impl Drivers {
    /// The share of the variance that no driver in the list carries alone: other leaves, and what leaves do together.
    pub fn rest(&self) -> f64 {
        (1.0 - self.rows.iter().map(|row| row.indices.first).sum::<f64>()).clamp(0.0, 1.0)
    }
}

/// Looks for the leaves that drive a line. `None` when it was stopped.
///
/// All drawn leaves are screened with one set of draws ([`screen`]); those that stand out get first-order and total indices, each by one
/// more run in which it alone is drawn anew. Leaves that only work together with others, without any effect of their own, do not stand
/// out.
pub fn drivers(study: &Study, sampling: &Sampling, line: LineRef, search: Search, stop: Stop<'_>) -> Option<Drivers> {
    let lines = &study.lines;
    let node = lines.node(line);
    let tape = Tape::new(&lines.graph, &study.values, &sampling.random, &[node]);
    let chunks = search.draws.div_ceil(LANES as u64).max(1);
    let how = How { threads: search.threads, stop: stop.stop, done: stop.done, ..How::default() };
    let run = |sampling: &Sampling| tape.sample(&sampling.sampler, 0..chunks, how).map(|mut found| found.remove(0));
    let a = run(sampling)?;
    let sample = Sample::new(&a);
    let mut found = Drivers {
        line,
        mean: sample.mean(),
        deviation: sample.deviation(),
        rows: Vec::new(),
        screened: tape.drawn().len(),
        draws: chunks * LANES as u64,
        failed: sample.failed(),
    };
    // what does not vary, or is never a number, is driven by nothing
    if !(found.deviation.is_finite() && found.deviation > 0.0) {
        return Some(found);
    }
    let other = sampling.another();
    let b = run(&other)?;
    let chosen = candidates(study, sampling, line, &tape, &a, search);
    let mut rows = Vec::new();
    for leaf in chosen {
        let with = sampling.moving_with(leaf);
        let m = run(&mixed(sampling, &other, |leaf| with.contains(&(leaf as u32))))?;
        let Some(found) = indices(&a, &b, &m) else { continue };
        let between = between(sampling, leaf, search.coverage);
        rows.push(Driver {
            leaf: LineRef::Leaf(leaf),
            with: with[1..].iter().map(|leaf| LineRef::Leaf(*leaf)).collect(),
            indices: found,
            between,
            results: [f64::NAN; 2],
        });
    }
    rows.sort_by(|x, y| y.indices.total.total_cmp(&x.indices.total).then(x.leaf.cmp(&y.leaf)));
    let moves = rows.iter().map(|row| Move { leaf: number(row.leaf), low: row.between[0], high: row.between[1] });
    let (_, moved) = one_at_a_time(&lines.graph, &lines.leaf_values(), &moves.collect::<Vec<_>>(), node, how)?;
    for (row, results) in rows.iter_mut().zip(moved) {
        row.results = if row.with.is_empty() { results } else { together(study, row, line, search.coverage) };
    }
    found.rows = rows;
    Some(found)
}

/// The number of a leaf.
pub(crate) fn number(line: LineRef) -> u32 {
    match line {
        LineRef::Leaf(leaf) => leaf,
        LineRef::Line { .. } => unreachable!("bug: a line was taken for a leaf"),
    }
}

/// The ends of a leaf's own interval.
fn between(sampling: &Sampling, leaf: u32, coverage: f64) -> [f64; 2] {
    let source = sampling.sampler.sources[leaf as usize].as_ref();
    [0.5 - 0.5 * coverage, 0.5 + 0.5 * coverage].map(|share| source.map_or(f64::NAN, |s| s.distribution.quantile(share)))
}

/// The ends of a result's interval when the leaves of a group move as they do, to the first order.
fn together(study: &Study, row: &Driver, line: LineRef, coverage: f64) -> [f64; 2] {
    let drivers = study.grounds(line).drivers;
    let group: Vec<LineRef> = std::iter::once(row.leaf).chain(row.with.iter().copied()).collect();
    let parts: Vec<Part> = drivers
        .iter()
        .filter(|driver| group.contains(&driver.leaf))
        .map(|driver| Part {
            input: Input { leaf: number(driver.leaf), uncertainty: f64::NAN, freedom: f64::INFINITY },
            moves: driver.contribution,
            bend: 0.0,
        })
        .collect();
    let pairs: Vec<(u32, u32, f64)> = study.correlated.iter().flat_map(tare_study::Correlated::pairs).collect();
    let correlation = Correlation::of_pairs(&pairs).ok().flatten();
    let of = |a: u32, b: u32| correlation.as_ref().map_or(0.0, |c| c.of(a, b));
    let half = coverage_factor(f64::INFINITY, coverage) * Budget { centre: 0.0, parts }.combined(of);
    let stated = study.value(line);
    [stated - half, stated + half]
}

/// The leaves that stand out, by screening and by the first order; of leaves that move together the first.
fn candidates(study: &Study, sampling: &Sampling, line: LineRef, tape: &Tape, results: &[f64], search: Search) -> Vec<u32> {
    let drawn = tape.drawn();
    let screened = screen(sampling, drawn, results, search.threads);
    let grounds = study.grounds(line);
    let variance = Sample::new(results).deviation().powi(2);
    let mut weight: Vec<(f64, u32)> = drawn.iter().copied().zip(screened).map(|(leaf, share)| (share, leaf)).collect();
    weight.sort_by_key(|(_, leaf)| *leaf);
    for driver in &grounds.drivers {
        let leaf = number(driver.leaf);
        if let Ok(at) = weight.binary_search_by_key(&leaf, |(_, leaf)| *leaf) {
            let first = driver.contribution * driver.contribution / variance;
            weight[at].0 = weight[at].0.max(if first.is_finite() { first } else { 0.0 });
        }
    }
    weight.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(&y.1)));
    let mut chosen: Vec<u32> = Vec::new();
    let contribution: HashMap<u32, f64> = grounds.drivers.iter().map(|d| (number(d.leaf), d.contribution.abs())).collect();
    for (_, leaf) in weight {
        if chosen.len() == search.most {
            break;
        }
        let group = sampling.moving_with(leaf);
        if group.iter().any(|with| chosen.contains(with)) {
            continue;
        }
        // the group goes by the name of the one that does most by itself
        let of = |leaf: &u32| contribution.get(leaf).copied().unwrap_or(0.0);
        chosen.push(group.into_iter().max_by(|a, b| of(a).total_cmp(&of(b)).then(b.cmp(a))).unwrap_or(leaf));
    }
    chosen
}

/// For each leaf the share of a result's variance that its draws explain: they are sorted into groups by the leaf's own numbers, and the
/// variance of the groups' means is set against the whole (the correlation ratio, E. Plischke, An effective algorithm for computing global
/// sensitivity indices (EASI), Reliability Engineering and System Safety 95, 2010, is of this kind; from memory). Steps and turns are seen, and no
/// run beyond the one that gave `results` is needed. What chance alone gives, (groups - 1) / draws, is taken off, and what does not stand
/// clear of its scatter among many leaves is 0.
pub fn screen(sampling: &Sampling, leaves: &[u32], results: &[f64], threads: usize) -> Vec<f64> {
    let each = leaves.len().div_ceil(threads.max(1)).max(1);
    std::thread::scope(|scope| {
        let part = |leaves: &[u32]| -> Vec<f64> { leaves.iter().map(|leaf| explained(sampling, *leaf, results)).collect() };
        let threads: Vec<_> = leaves.chunks(each).map(|leaves| scope.spawn(move || part(leaves))).collect();
        threads.into_iter().flat_map(|t| t.join().unwrap_or_else(|bug| std::panic::resume_unwind(bug))).collect()
    })
}

fn explained(sampling: &Sampling, leaf: u32, results: &[f64]) -> f64 {
    let Some(stream) = sampling.sampler.sources[leaf as usize].as_ref().map(|s| s.stream) else { return 0.0 };
    let (mut sums, mut counts) = ([0.0; GROUPS], [0.0; GROUPS]);
    let (mut all, mut squares) = (0.0, 0.0);
    // taking something near the mean away first keeps squares from drowning in it
    let near = results.iter().copied().find(|r| r.is_finite()).unwrap_or(0.0);
    for (draw, result) in results.iter().enumerate().filter(|(_, r)| r.is_finite()) {
        let group = (stream.at(draw as u64) * GROUPS as f64) as usize;
        let result = result - near;
        sums[group] += result;
        counts[group] += 1.0;
        all += result;
        squares += result * result;
    }
    let n: f64 = counts.iter().sum();
    let whole = squares - all * all / n;
    let between: f64 =
        sums.iter().zip(counts).filter(|(_, n)| *n > 0.0).map(|(sum, n)| sum * sum / n).sum::<f64>() - all * all / n;
    // by chance the share is chi square over n: mean and deviation of that, so many deviations up that about one leaf in five thousand passes
    let freedom = (GROUPS - 1) as f64;
    let found = between / whole - freedom / n;
    if found > CLEAR * (2.0 * freedom).sqrt() / n { found } else { 0.0 }
}
