//! From the leaves of a study to streams of draws.

use crate::causes::Cause;
use std::collections::HashMap;
use tare_engine::sample::Distribution;
use tare_engine::sample::{Correlation, Sampler, Source, Stream};
use tare_study::{Leaf, LineRef, Lines, Study};

/// Chunks of draws behind the moments of a spread that was cut.
const CUT_CHUNKS: u64 = 32;

/// The leaves of a study as streams.
#[derive(Clone, Debug)]
pub struct Sampling {
    /// Draws each leaf that has a spread.
    pub sampler: Sampler,
    /// Per leaf: whether it is drawn.
    pub random: Vec<bool>,
    /// Leaves whose spread was cut because part of it lay where no such value can be.
    pub cuts: Vec<Cut>,
}

/// A spread that reached where no value can be.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// The leaf.
    pub leaf: LineRef,
    /// The share of its distribution that was cut off.
    pub share: f64,
}

impl Sampling {
    /// Streams for all leaves with a spread, under a seed.
    ///
    /// A stream is named by what the leaf is, never by its value: changing a reading keeps its random numbers, and so do two studies that
    /// share a rate or a method.
    pub fn new(study: &Study, seed: u64) -> Self {
        let lines = &study.lines;
        let names = lines.stream_names();
        let mut sampling = Self {
            sampler: Sampler { sources: Vec::with_capacity(lines.leaves.len()), correlation: None },
            random: Vec::new(),
            cuts: Vec::new(),
        };
        for (number, leaf) in lines.leaves.iter().enumerate() {
            let source = distribution(leaf).map(|distribution| {
                let distribution = if may_not_fall_below_zero(lines, leaf) {
                    let (kept, share) = distribution.within(0.0, f64::INFINITY);
                    if share > 0.0 {
                        sampling.cuts.push(Cut { leaf: LineRef::Leaf(number as u32), share });
                    }
                    kept
                } else {
                    distribution
                };
                Source { stream: Stream::new(&names[number], seed), distribution }
            });
            sampling.random.push(source.is_some());
            sampling.sampler.sources.push(source);
        }
        // of two that are stated twice the first statement holds: what comes later in the list takes its place
        let pairs: Vec<(u32, u32, f64)> = study.correlated.iter().rev().flat_map(tare_study::Correlated::pairs).collect();
        // compiling the study has refused what contradicts itself
        sampling.sampler.correlation = Correlation::of_pairs(&pairs).ok().flatten();
        if let Some(correlation) = &mut sampling.sampler.correlation {
            let first: HashMap<&str, u32> =
                correlation.leaves().iter().map(|leaf| (names[*leaf as usize].as_str(), *leaf)).collect();
            let others = names.iter().enumerate().filter_map(|(at, name)| {
                let leaf = *first.get(name.as_str())?;
                (leaf as usize != at).then_some((at as u32, leaf))
            });
            correlation.stands_for(others.collect());
        }
        sampling
    }

    /// A second set of numbers for the same leaves, independent of the first.
    #[must_use]
    pub fn another(&self) -> Self {
        let mut another = self.clone();
        for source in another.sampler.sources.iter_mut().flatten() {
            source.stream = source.stream.another();
        }
        another
    }

    /// The leaves that move with a leaf, itself first: they are known together or not at all.
    pub fn moving_with(&self, leaf: u32) -> Vec<u32> {
        let mut found = vec![leaf];
        if let Some(correlation) = &self.sampler.correlation {
            let mut next = 0;
            while let Some(at) = found.get(next).copied() {
                let others = correlation.leaves().iter().filter(|other| correlation.of(at, **other) != 0.0);
                let new: Vec<u32> = others.copied().filter(|other| !found.contains(other)).collect();
                found.extend(new);
                next += 1;
            }
        }
        found
    }

    /// The groups of leaves that move together.
    pub fn groups(&self) -> Vec<Vec<u32>> {
        let mut found: Vec<Vec<u32>> = Vec::new();
        for leaf in self.sampler.correlation.as_ref().map_or(&[][..], |c| c.leaves()) {
            if !found.iter().any(|group| group.contains(leaf)) {
                found.push(self.moving_with(*leaf));
            }
        }
        found
    }

    /// Mean and standard deviation of a leaf as it is drawn: where its spread was cut, by draws of it.
    pub fn moments(&self, lines: &Lines, leaf: u32) -> (f64, f64) {
        let quantity = &lines.leaves[leaf as usize].quantity;
        if !self.cuts.iter().any(|cut| cut.leaf == LineRef::Leaf(leaf)) {
            return (quantity.mean(), quantity.standard_uncertainty());
        }
        let sample = tare_engine::stats::Sample::new(&self.sampler.values(leaf, 0..CUT_CHUNKS));
        (sample.mean(), sample.deviation())
    }

    /// The values of all leaves in one draw.
    pub fn leaf_values(&self, lines: &Lines, draw: u64) -> Vec<f64> {
        let stated = lines.leaf_values();
        let drawn = |(number, stated): (usize, f64)| self.sampler.value(number as u32, draw).unwrap_or(stated);
        stated.into_iter().enumerate().map(drawn).collect()
    }
}

/// How a leaf's values lie; none for what is known exactly.
fn distribution(leaf: &Leaf) -> Option<Distribution> {
    match leaf.freedom {
        Some(freedom) => Some(Distribution::t(leaf.quantity.value, leaf.scale(), freedom)),
        None => tare_calc::distribution(&leaf.quantity, None),
    }
}

/// Masses, lengths, times, prices and factors that are stated above zero cannot fall below it; errors and temperatures can.
pub(crate) fn may_not_fall_below_zero(lines: &Lines, leaf: &Leaf) -> bool {
    leaf.quantity.value > 0.0 && !leaf.quantity.unit.is_point() && Cause::of(lines, leaf) != Cause::Instruments
}
