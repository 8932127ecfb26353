//! How much of a range comes from what leaves have in common.

use crate::sampling::Sampling;
use tare_engine::indices::indices;
use tare_engine::sample::{Source, Stream};
use tare_engine::{How, LANES, Tape};
use tare_study::{Evidence, Leaf, LineRef, Lines, Study};

/// What leaves have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// The factor by which a calculation or a system of times may be wrong.
    Method,
    /// Wages, machine rates, mark-ups, exchange rates.
    Rates,
    /// What material and bought items cost.
    Prices,
    /// Zero, gain, scatter and rounding of instruments.
    Instruments,
    /// Measured and counted sizes, masses, numbers.
    Geometry,
    /// Volume, life and what else the question sets.
    Scenario,
    /// What was taken from tables, handbooks and judgement.
    Assumptions,
}

impl Cause {
    /// All, in the order in which they are shown where shares are equal.
    pub const ALL: [Self; 7] =
        [Self::Method, Self::Rates, Self::Prices, Self::Instruments, Self::Geometry, Self::Scenario, Self::Assumptions];

    /// The words shown to people.
    pub fn words(self) -> &'static str {
        match self {
            Self::Method => "method errors",
            Self::Rates => "rates and mark-ups",
            Self::Prices => "prices",
            Self::Instruments => "instruments",
            Self::Geometry => "sizes and counts",
            Self::Scenario => "volume and scenario",
            Self::Assumptions => "assumptions and handbook values",
        }
    }

    /// The cause a leaf belongs to.
    pub fn of(lines: &Lines, leaf: &Leaf) -> Self {
        let subject = lines.subject_of(leaf).address.as_str();
        let (name, priced) = (leaf.name.as_str(), leaf.quantity.unit.currency.is_some());
        let error = |word: &str| name == word || name.strip_prefix(word).is_some_and(|rest| rest.starts_with(" ("));
        if name == "method" || name.ends_with(".method") {
            Self::Method
        } else if ["zero", "gain", "repeat", "resolution"].into_iter().any(error) {
            Self::Instruments
        } else if subject == "scenario" {
            Self::Scenario
        } else if leaf.evidence == Evidence::Quoted || name == "price" || name.ends_with("_price") || name.starts_with("index.") {
            Self::Prices
        } else if subject.starts_with("rate") || subject == "exchange" {
            if name.starts_with("material.") { Self::Prices } else { Self::Rates }
        } else if leaf.evidence == Evidence::Measured {
            Self::Geometry
        } else if priced && leaf.record.is_some() {
            Self::Prices
        } else {
            Self::Assumptions
        }
    }
}

/// The part of a result's variance that goes with one cause.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CauseShare {
    /// The cause.
    pub cause: Cause,
    /// How much of the variance would go if all its leaves were known (first-order index of the group).
    pub alone: f64,
    /// How much would stay if all other leaves were known (total index of the group): more than alone where causes work together.
    pub with_others: f64,
    /// How many of its leaves the result rests on.
    pub leaves: usize,
}

/// Splits the variance of a line by cause: for each cause its leaves are drawn anew while all others keep their numbers.
///
/// Leaves that move together by a stated correlation count with the cause of the first of them.
pub fn causes(study: &Study, sampling: &Sampling, line: LineRef, draws: u64, threads: usize) -> Vec<CauseShare> {
    let lines = &study.lines;
    let tape = Tape::new(&lines.graph, &study.values, &sampling.random, &[lines.node(line)]);
    let chunks = draws.div_ceil(LANES as u64).max(1);
    let how = How { threads, ..How::default() };
    let run =
        |sampling: &Sampling| tape.sample(&sampling.sampler, 0..chunks, how).map(|mut found| found.remove(0)).unwrap_or_default();
    let other = sampling.another();
    let (a, b) = (run(sampling), run(&other));
    let of: Vec<Cause> = lines.leaves.iter().map(|leaf| Cause::of(lines, leaf)).collect();
    let mut shares: Vec<CauseShare> = Cause::ALL
        .into_iter()
        .filter_map(|cause| {
            let leaves = tape.drawn().iter().filter(|leaf| of[**leaf as usize] == cause).count();
            if leaves == 0 {
                return None;
            }
            let mixed = run(&mixed(sampling, &other, |leaf| of[leaf] == cause));
            let found = indices(&a, &b, &mixed)?;
            Some(CauseShare { cause, alone: found.first, with_others: found.total, leaves })
        })
        .collect();
    shares.sort_by(|x, y| y.with_others.total_cmp(&x.with_others).then(x.cause.cmp(&y.cause)));
    shares
}

/// The first sampling with some leaves' numbers from the second.
pub(crate) fn mixed(first: &Sampling, second: &Sampling, from_second: impl Fn(usize) -> bool) -> Sampling {
    let mut mixed = first.clone();
    for (leaf, source) in mixed.sampler.sources.iter_mut().enumerate() {
        if let (Some(Source { stream, .. }), Some(Some(other)), true) =
            (source, second.sampler.sources.get(leaf), from_second(leaf))
        {
            *stream = Stream::clone(&other.stream);
        }
    }
    mixed
}
