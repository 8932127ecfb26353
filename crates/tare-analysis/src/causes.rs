//! How much of a range comes from what leaves have in common.

use crate::sampling::Sampling;
use crate::spread::Stop;
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
        // `zero (March)`, `mass repeat`, `mass tare resolution`
        let error = |word: &str| {
            let rest = name.strip_prefix(word);
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(" ("))
                || name.strip_suffix(word).is_some_and(|before| before.ends_with(' '))
        };
        if name == "method" || name.ends_with(".method") {
            Self::Method
        } else if ["zero", "gain", "repeat", "resolution"].into_iter().any(error) {
            Self::Instruments
        } else if subject == "scenario" {
            Self::Scenario
        } else if leaf.evidence == Evidence::Quoted || name == "price" || name.ends_with("_price") || name.starts_with("index.") {
            Self::Prices
        } else if subject.starts_with("rate") || subject == "exchange" {
            if ["material.", "price.", "premium."].iter().any(|start| name.starts_with(start)) {
                Self::Prices
            } else {
                Self::Rates
            }
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

/// Splits the variance of a line by cause: for each cause its leaves are drawn anew while all others keep their numbers. `None` when it was
/// stopped.
///
/// Leaves that move together by a stated correlation are drawn anew together, with the cause that most of them have. Draws in which the line
/// is no number are left out.
pub fn causes(
    study: &Study,
    sampling: &Sampling,
    line: LineRef,
    draws: u64,
    threads: usize,
    stop: Stop<'_>,
) -> Option<Vec<CauseShare>> {
    let lines = &study.lines;
    let tape = Tape::new(&lines.graph, &study.values, &sampling.random, &[lines.node(line)]);
    let chunks = draws.div_ceil(LANES as u64).max(1);
    let how = How { threads, stop: stop.stop, done: stop.done, ..How::default() };
    let run = |sampling: &Sampling| tape.sample(&sampling.sampler, 0..chunks, how).map(|mut found| found.remove(0));
    let other = sampling.another();
    let (a, b) = (run(sampling)?, run(&other)?);
    let mut of: Vec<Cause> = lines.leaves.iter().map(|leaf| Cause::of(lines, leaf)).collect();
    for group in sampling.groups() {
        let count = |cause: Cause| group.iter().filter(|leaf| of[**leaf as usize] == cause).count();
        // of equally many the one that is shown first
        let common = Cause::ALL.into_iter().rev().max_by_key(|cause| count(*cause)).unwrap_or(Cause::Assumptions);
        group.iter().for_each(|leaf| of[*leaf as usize] = common);
    }
    let mut shares: Vec<CauseShare> = Vec::new();
    for cause in Cause::ALL {
        let leaves = tape.drawn().iter().filter(|leaf| of[**leaf as usize] == cause).count();
        if leaves == 0 {
            continue;
        }
        let mixed = run(&mixed(sampling, &other, |leaf| of[leaf] == cause))?;
        if let Some(found) = indices(&a, &b, &mixed) {
            shares.push(CauseShare { cause, alone: found.first, with_others: found.total, leaves });
        }
    }
    shares.sort_by(|x, y| y.with_others.total_cmp(&x.with_others).then(x.cause.cmp(&y.cause)));
    Some(shares)
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
