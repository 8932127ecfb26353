//! Ranges of watched lines.

use crate::sampling::Sampling;
use std::sync::atomic::{AtomicBool, AtomicU64};
use tare_engine::sample::Points;
use tare_engine::stats::{Sample, Settling};
use tare_engine::{How, LANES, NodeId, Tape, Width};
use tare_study::{LineRef, Study};

/// Chunks between two looks at whether ranges have settled: ten thousand draws, or a hundred outside the interval (JCGM 101, 7.9.4).
fn block(coverage: f64) -> u64 {
    let draws = (100.0 / (1.0 - coverage)).ceil().clamp(10_240.0, 1e8);
    (draws as u64).div_ceil(LANES as u64)
}

/// How ranges are worked out.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Names the random numbers; the same seed gives the same range.
    pub seed: u64,
    /// The share of draws a coverage interval holds.
    pub coverage: f64,
    /// Digits of the standard uncertainty that are to be sure.
    pub digits: i32,
    /// The most draws, settled or not.
    pub most: u64,
    /// Draws to be made whether or not ranges have settled before; 0 leaves it to them.
    pub least: u64,
    /// Threads.
    pub threads: usize,
    /// How wide vector instructions are taken; nothing of the result depends on it.
    pub width: Width,
    /// How the random numbers are laid out.
    pub layout: Layout,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            seed: 1,
            coverage: 0.95,
            digits: 1,
            most: 200_000,
            least: 0,
            threads: 1,
            width: Width::found(),
            layout: Layout::Random,
        }
    }
}

/// Sobol' points are not rounded up beyond this.
const MOST_LAID_OUT: u64 = 1 << 24;

/// How the random numbers of all leaves are laid out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Layout {
    /// Each draw on its own; ranges are drawn until they have settled.
    #[default]
    Random,
    /// A Latin hypercube over all draws.
    Hypercube,
    /// Sobol' points, the first dimensions for the leaves of most effect to the first order; the number of draws is rounded up to a power of
    /// two.
    Sobol,
}

/// Watches and stops a run from outside.
#[derive(Clone, Copy, Debug, Default)]
pub struct Stop<'a> {
    /// Set to stop.
    pub stop: Option<&'a AtomicBool>,
    /// Counts chunks of draws as they are done.
    pub done: Option<&'a AtomicU64>,
}

/// The range of one line.
#[derive(Clone, Debug)]
pub struct Ranged {
    /// The line.
    pub line: LineRef,
    /// Its draws.
    pub draws: Sample,
}

/// A draw in which a watched line came out as no number.
#[derive(Clone, Debug)]
pub struct Failure {
    /// The first such draw.
    pub draw: u64,
    /// In how many draws it did.
    pub times: usize,
    /// The watched line.
    pub line: LineRef,
    /// The line in which it went wrong first, by the order of need.
    pub from: Option<LineRef>,
    /// The values of all leaves in that draw.
    pub leaves: Vec<f64>,
}

/// Ranges of watched lines, from one set of draws.
#[derive(Clone, Debug)]
pub struct Spread {
    /// Ranges in the order asked for.
    pub ranged: Vec<Ranged>,
    /// How many draws were made.
    pub draws: u64,
    /// Whether it was stopped before the ranges had settled; what was drawn until then counts.
    pub stopped: bool,
    /// Whether all ranges settled within the digits asked for.
    pub settled: bool,
    /// Lines that failed in some draws.
    pub failures: Vec<Failure>,
    /// How many operations each draw took.
    pub operations: usize,
    /// How many leaves were drawn.
    pub leaves: usize,
}

/// Draws all leaves at once, again and again, until the ranges of the watched lines have settled or the most draws are made. `None` when it was
/// stopped before the first block of draws was there.
pub fn spread(study: &Study, sampling: &Sampling, watched: &[LineRef], options: Options, stop: Stop<'_>) -> Option<Spread> {
    let nodes: Vec<NodeId> = watched.iter().map(|line| study.lines.node(*line)).collect();
    let tape = Tape::new(&study.lines.graph, &study.values, &sampling.random, &nodes);
    let how = How { threads: options.threads, width: options.width, stop: stop.stop, done: stop.done };
    let mut most = options.most.div_ceil(LANES as u64).max(1);
    let laid_out;
    let sampling = match options.layout {
        Layout::Random => sampling,
        Layout::Hypercube => {
            let draws = u32::try_from(most * LANES as u64).unwrap_or(u32::MAX);
            laid_out = with_points(sampling, |_| Points::Hypercube { draws });
            &laid_out
        }
        Layout::Sobol => {
            let up = most.next_power_of_two();
            most = if up * LANES as u64 > MOST_LAID_OUT { up / 2 } else { up };
            let dimensions = dimensions(study, watched, &tape);
            laid_out = with_points(sampling, |leaf| Points::Sobol { dimension: dimensions[leaf as usize] });
            &laid_out
        }
    };
    // numbers that are laid out over a run are only even over the whole of it
    let whole = options.layout != Layout::Random;
    let least = if whole { most } else { options.least.div_ceil(LANES as u64) };
    let mut all: Vec<Vec<f64>> = vec![Vec::new(); watched.len()];
    let mut settling: Vec<Settling> = watched.iter().map(|_| Settling::new(options.digits, options.coverage)).collect();
    let (mut chunks, mut settled, mut stopped) = (0, tape.is_empty(), false);
    while chunks < most && (!settled || chunks < least) {
        let block = chunks..(chunks + block(options.coverage)).min(most);
        let Some(found) = tape.sample(&sampling.sampler, block.clone(), how) else {
            if chunks == 0 {
                return None;
            }
            stopped = true;
            settled = false;
            break;
        };
        chunks = block.end;
        settled = true;
        for ((all, settling), found) in all.iter_mut().zip(&mut settling).zip(&found) {
            settled &= settling.take(&Sample::new(found));
            all.extend_from_slice(found);
        }
    }
    // blocks of one layout are not independent of one another, so that their scatter says nothing
    settled &= !whole || tape.is_empty();
    if tape.is_empty() {
        // no draw changes anything: one value says it all
        all = nodes.iter().map(|node| vec![study.values[*node as usize]]).collect();
    }
    let failures = watched.iter().zip(&all).filter_map(|(line, draws)| failure(study, sampling, *line, draws)).collect();
    let ranged = watched.iter().zip(&all).map(|(line, draws)| Ranged { line: *line, draws: Sample::new(draws) }).collect();
    Some(Spread {
        ranged,
        draws: chunks * LANES as u64,
        stopped,
        settled,
        failures,
        operations: tape.len(),
        leaves: tape.drawn().len(),
    })
}

fn with_points(sampling: &Sampling, points: impl Fn(u32) -> Points) -> Sampling {
    let mut laid_out = sampling.clone();
    laid_out.sampler = laid_out.sampler.with_points(points);
    laid_out
}

/// The dimension of each leaf: the weightiest for the first watched line come first.
fn dimensions(study: &Study, watched: &[LineRef], tape: &Tape) -> Vec<u32> {
    let mut found = vec![u32::MAX; study.lines.leaves.len()];
    let weighty = watched.first().map_or_else(Vec::new, |line| study.grounds(*line).drivers);
    let weighty = weighty.iter().map(|driver| crate::drivers::number(driver.leaf));
    let mut next = 0;
    for leaf in weighty.chain(tape.drawn().iter().copied()) {
        if found[leaf as usize] == u32::MAX {
            found[leaf as usize] = next;
            next += 1;
        }
    }
    found
}

/// Replays the first draw in which a line failed, to say where.
fn failure(study: &Study, sampling: &Sampling, line: LineRef, draws: &[f64]) -> Option<Failure> {
    let draw = draws.iter().position(|x| !x.is_finite())? as u64;
    let leaves = sampling.leaf_values(&study.lines, draw);
    let mut values = Vec::new();
    tare_engine::eval_point(&study.lines.graph, &leaves, &mut values);
    let from = study.lines.first_failure(line, &values);
    Some(Failure { draw, times: draws.iter().filter(|x| !x.is_finite()).count(), line, from, leaves })
}
