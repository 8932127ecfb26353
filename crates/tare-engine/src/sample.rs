//! Random leaf values: one stream of numbers per leaf, turned into values by inverse distributions.
//!
//! A stream is named by an address and a seed, and gives its numbers by counting: draw 731 of a leaf is the same whatever else is drawn,
//! in whatever order and on however many threads. A leaf that keeps its address keeps its numbers when its distribution changes, so two
//! variants of a study are compared draw by draw. Numbers may be laid out more evenly than chance does ([`Points`]); they are still counted.

mod correlation;
mod distribution;
mod hypercube;
mod sobol;
mod stream;

pub use correlation::{Correlation, CorrelationError};
pub use distribution::{Distribution, t_inv};
pub use stream::{Points, Stream};

use crate::eval::batch::{Draws, How, LANES, Lane};
use crate::math;
use crate::tape::Tape;
use std::ops::Range;

/// A leaf that is drawn.
#[derive(Clone, Debug)]
pub struct Source {
    /// Its stream.
    pub stream: Stream,
    /// What its numbers become.
    pub distribution: Distribution,
}

/// Draws leaves of a graph.
#[derive(Clone, Debug, Default)]
pub struct Sampler {
    /// Per leaf; leaves that are known have none.
    pub sources: Vec<Option<Source>>,
    /// Leaves that move together.
    pub correlation: Option<Correlation>,
}

impl Sampler {
    /// The same sampler with the numbers of each leaf laid out as `points` says of the leaf's number.
    ///
    /// Correlated leaves are made of the laid-out numbers of the leaves they are correlated with.
    #[must_use]
    pub fn with_points(mut self, points: impl Fn(u32) -> Points) -> Self {
        for (leaf, source) in self.sources.iter_mut().enumerate() {
            if let Some(source) = source {
                source.stream = source.stream.with(points(leaf as u32));
            }
        }
        self
    }

    /// The values of a leaf in whole chunks of draws; empty for a leaf that is not drawn.
    pub fn values(&self, leaf: u32, chunks: Range<u64>) -> Vec<f64> {
        let mut found = Vec::new();
        let mut scores = Scores::default();
        if let Some(Some(_)) = self.sources.get(leaf as usize) {
            for chunk in chunks {
                let mut lane = [0.0; LANES];
                self.fill(leaf, chunk, &mut lane, &mut scores);
                found.extend_from_slice(&lane);
            }
        }
        found
    }

    /// The value of a leaf in one draw; `None` for a leaf that is not drawn.
    pub fn value(&self, leaf: u32, draw: u64) -> Option<f64> {
        let mut lane = [0.0; LANES];
        self.sources.get(leaf as usize)?.as_ref()?;
        self.fill(leaf, draw / LANES as u64, &mut lane, &mut Scores::default());
        Some(lane[(draw % LANES as u64) as usize])
    }
}

impl Tape {
    /// As [`Tape::run`], for draws by a sampler.
    pub fn sample(&self, sampler: &Sampler, chunks: Range<u64>, how: How<'_>) -> Option<Vec<Vec<f64>>> {
        self.run(sampler, chunks, how)
    }
}

/// Normal scores of the leaves that are correlated, each worked out once for a chunk.
#[derive(Clone, Debug, Default)]
pub struct Scores {
    /// The chunk they are of.
    chunk: Option<u64>,
    lanes: Vec<Lane>,
}

impl Draws for Sampler {
    type Scratch = Scores;

    #[inline(always)]
    fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane, scratch: &mut Scores) {
        let Some(Some(source)) = self.sources.get(leaf as usize) else {
            *lane = [f64::NAN; LANES];
            return;
        };
        if let Some(correlation) = &self.correlation
            && let Some(place) = correlation.place(leaf)
        {
            if scratch.chunk != Some(chunk) {
                self.scores(correlation.leaves(), chunk, scratch);
            }
            *lane = [0.0; LANES];
            for (other, weight) in correlation.row(place) {
                let (weight, scores) = (*weight, &scratch.lanes[*other]);
                for i in 0..LANES {
                    lane[i] += weight * scores[i];
                }
            }
            source.distribution.of_scores(lane);
            return;
        }
        source.stream.fill(chunk, lane);
        source.distribution.of_shares(lane);
    }
}

impl Sampler {
    /// The scores of each correlated leaf's own numbers.
    #[inline(always)]
    fn scores(&self, leaves: &[u32], chunk: u64, scratch: &mut Scores) {
        scratch.chunk = Some(chunk);
        scratch.lanes.resize(leaves.len(), [0.0; LANES]);
        for (leaf, lane) in leaves.iter().zip(&mut scratch.lanes) {
            match self.sources.get(*leaf as usize) {
                Some(Some(source)) => {
                    source.stream.fill(chunk, lane);
                    math::normal_inv_all(lane);
                }
                // a leaf that is known has no part in the others
                _ => *lane = [0.0; LANES],
            }
        }
    }
}
