//! Ranges of watched lines.

use crate::sampling::Sampling;
use std::sync::atomic::{AtomicBool, AtomicU64};
use tare_engine::stats::{Sample, Settling};
use tare_engine::{How, LANES, NodeId, Tape, Width};
use tare_study::{LineRef, Study};

/// Chunks between two looks at whether ranges have settled: about ten thousand draws (JCGM 101, 7.9.4).
const BLOCK: u64 = 80;

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
}

impl Default for Options {
    fn default() -> Self {
        Options { seed: 1, coverage: 0.95, digits: 1, most: 200_000, least: 0, threads: 1, width: Width::found() }
    }
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
/// stopped.
pub fn spread(study: &Study, sampling: &Sampling, watched: &[LineRef], options: Options, stop: Stop<'_>) -> Option<Spread> {
    let nodes: Vec<NodeId> = watched.iter().map(|line| study.lines.node(*line)).collect();
    let tape = Tape::new(&study.lines.graph, &study.values, &sampling.random, &nodes);
    let how = How { threads: options.threads, width: options.width, stop: stop.stop, done: stop.done };
    let most = options.most.div_ceil(LANES as u64).max(1);
    let least = options.least.div_ceil(LANES as u64);
    let mut all: Vec<Vec<f64>> = vec![Vec::new(); watched.len()];
    let mut settling: Vec<Settling> = watched.iter().map(|_| Settling::new(options.digits, options.coverage)).collect();
    let (mut chunks, mut settled) = (0, tape.is_empty());
    while chunks < most && (!settled || chunks < least) {
        let block = chunks..(chunks + BLOCK).min(most);
        let found = tape.sample(&sampling.sampler, block.clone(), how)?;
        chunks = block.end;
        settled = true;
        for ((all, settling), found) in all.iter_mut().zip(&mut settling).zip(&found) {
            settled &= settling.take(&Sample::new(found));
            all.extend_from_slice(found);
        }
    }
    if tape.is_empty() {
        // no draw changes anything: one value says it all
        all = nodes.iter().map(|node| vec![study.values[*node as usize]]).collect();
    }
    let failures = watched.iter().zip(&all).filter_map(|(line, draws)| failure(study, sampling, *line, draws)).collect();
    let ranged = watched.iter().zip(&all).map(|(line, draws)| Ranged { line: *line, draws: Sample::new(draws) }).collect();
    Some(Spread { ranged, draws: chunks * LANES as u64, settled, failures, operations: tape.len(), leaves: tape.drawn().len() })
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
