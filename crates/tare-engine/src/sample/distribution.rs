//! Distributions, drawn by inversion.

use crate::math::{self, beta_inv, normal_cdf, normal_inv_all};
use std::sync::Arc;

/// How a leaf's values lie.
#[derive(Clone, Debug)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        deviation: f64,
    },
    /// Equally likely between two ends.
    Rectangular {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Rising to the mode and falling from it in straight lines.
    Triangular {
        /// Lower end.
        low: f64,
        /// Most likely value.
        mode: f64,
        /// Upper end.
        high: f64,
    },
    /// The logarithm is normal.
    LogNormal {
        /// Mean of the logarithm.
        mean: f64,
        /// Standard deviation of the logarithm.
        deviation: f64,
    },
    /// Any other, by a table of its values at normal scores.
    Tabulated(Arc<Table>),
    /// The values that were seen, with straight lines between them.
    Empirical(Arc<[f64]>),
}

/// Values at evenly spaced normal scores, joined by monotone cubics.
#[derive(Clone, Debug)]
pub struct Table {
    values: Vec<f64>,
    /// Slopes at the knots, per step.
    slopes: Vec<f64>,
}

/// The scores of a table run from minus this to this; draws lie within 8.2.
const REACH: f64 = 8.25;
/// Steps between the knots of a table.
const STEPS: usize = 1056;

impl Distribution {
    /// The distribution that project planning takes from a low, a likely and a high value: a beta distribution with mean
    /// (low + 4 mode + high) / 6 (D. G. Malcolm and others, Application of a technique for research and development program evaluation, Operations
    /// Research 7, 1959).
    pub fn pert(low: f64, mode: f64, high: f64) -> Self {
        let width = high - low;
        if width <= 0.0 {
            return Distribution::Rectangular { low, high: low };
        }
        let (a, b) = (1.0 + 4.0 * (mode - low) / width, 1.0 + 4.0 * (high - mode) / width);
        Distribution::Tabulated(Arc::new(Table::new(|share| low + width * beta_inv(share, a, b))))
    }

    /// Student's t, moved and stretched: what repeated readings say of their mean (JCGM 101, 6.4.9).
    pub fn t(mean: f64, scale: f64, freedom: f64) -> Self {
        Distribution::Tabulated(Arc::new(Table::new(|share| mean + scale * t_inv(share, freedom))))
    }

    /// The values that were seen, each as likely as the other; `None` where there are none or one is no number.
    pub fn empirical(seen: &[f64]) -> Option<Self> {
        let mut sorted = seen.to_vec();
        sorted.sort_by(f64::total_cmp);
        (!sorted.is_empty() && sorted.iter().all(|x| x.is_finite())).then(|| Distribution::Empirical(sorted.into()))
    }

    /// What is left of a distribution between two bounds, and which share of it lies outside.
    ///
    /// Nothing is changed where less than one in 10^9 lies outside; that share is given as 0.
    pub fn within(self, low: f64, high: f64) -> (Self, f64) {
        let (below, above) = (self.share_below(low), self.share_below(high));
        let outside = below + (1.0 - above);
        if outside < 1e-9 || above <= below {
            return (self, outside.clamp(0.0, 1.0) * f64::from(u8::from(outside >= 1e-9)));
        }
        // a share that is rounded up to 1 would stand for infinity
        let last = 1.0 - f64::EPSILON / 2.0;
        let cut = Table::new(|share| self.quantile((below + share * (above - below)).min(last)).clamp(low, high));
        (Distribution::Tabulated(Arc::new(cut)), outside)
    }

    /// The value below which a share of the distribution lies.
    pub fn quantile(&self, share: f64) -> f64 {
        let mut one = [share];
        self.of_shares(&mut one);
        one[0]
    }

    /// The share of the distribution below a value, by bisection of the quantile: for setting up, not for draws.
    fn share_below(&self, value: f64) -> f64 {
        let (mut low, mut high) = (-REACH, REACH);
        let at = |score: f64| self.quantile(normal_cdf(score));
        if value <= at(low) {
            return 0.0;
        }
        if value >= at(high) {
            return 1.0;
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if at(middle) < value { low = middle } else { high = middle }
        }
        normal_cdf(0.5 * (low + high))
    }

    /// Turns shares (even numbers between 0 and 1) into values.
    #[inline(always)]
    pub(crate) fn of_shares(&self, lane: &mut [f64]) {
        if self.by_score() {
            normal_inv_all(lane);
            self.values_of_scores(lane);
        } else {
            self.values_of_shares(lane);
        }
    }

    /// Turns normal scores into values.
    #[inline(always)]
    pub(crate) fn of_scores(&self, lane: &mut [f64]) {
        if self.by_score() {
            self.values_of_scores(lane);
        } else {
            lane.iter_mut().for_each(|x| *x = normal_cdf(*x));
            self.values_of_shares(lane);
        }
    }

    /// Whether values are worked out from normal scores; else from shares.
    fn by_score(&self) -> bool {
        matches!(self, Distribution::Normal { .. } | Distribution::LogNormal { .. } | Distribution::Tabulated(_))
    }

    #[inline(always)]
    fn values_of_shares(&self, lane: &mut [f64]) {
        match self {
            Distribution::Rectangular { low, high } => {
                let (low, width) = (*low, high - low);
                for x in lane.iter_mut() {
                    *x = low + width * *x;
                }
            }
            Distribution::Triangular { low, mode, high } => {
                let (low, mode, high) = (*low, *mode, *high);
                let width = high - low;
                let turn = if width > 0.0 { (mode - low) / width } else { 0.5 };
                let (rise, fall) = (width * (mode - low), width * (high - mode));
                for x in lane.iter_mut() {
                    let up = low + (*x * rise).sqrt();
                    let down = high - ((1.0 - *x) * fall).sqrt();
                    *x = if *x < turn { up } else { down };
                }
            }
            Distribution::Empirical(seen) => lane.iter_mut().for_each(|x| *x = between(seen, *x)),
            _ => {}
        }
    }

    #[inline(always)]
    fn values_of_scores(&self, lane: &mut [f64]) {
        match self {
            Distribution::Normal { mean, deviation } => {
                let (mean, deviation) = (*mean, *deviation);
                for x in lane.iter_mut() {
                    *x = mean + deviation * *x;
                }
            }
            Distribution::LogNormal { mean, deviation } => {
                let (mean, deviation) = (*mean, *deviation);
                for x in lane.iter_mut() {
                    *x = math::exp(mean + deviation * *x);
                }
            }
            Distribution::Tabulated(table) => {
                for x in lane.iter_mut() {
                    *x = table.at(*x);
                }
            }
            _ => {}
        }
    }
}

/// The quantile among values seen: the first at share 0, the last at 1.
fn between(seen: &[f64], share: f64) -> f64 {
    let place = share * (seen.len() - 1) as f64;
    let low = place as usize;
    match (seen.get(low), seen.get(low + 1)) {
        (Some(a), Some(b)) => a + (b - a) * (place - low as f64),
        (Some(a), None) => *a,
        _ => f64::NAN,
    }
}

/// The quantile of Student's t: with x = beta_inv(2 p, n/2, 1/2), t^2 = n (1 - x) / x.
pub fn t_inv(share: f64, freedom: f64) -> f64 {
    let tail = share.min(1.0 - share);
    let x = beta_inv(2.0 * tail, freedom / 2.0, 0.5);
    let t = (freedom * (1.0 - x) / x).sqrt();
    if share < 0.5 { -t } else { t }
}

impl Table {
    fn new(quantile: impl Fn(f64) -> f64) -> Self {
        let step = 2.0 * REACH / STEPS as f64;
        let values: Vec<f64> = (0..=STEPS)
            .map(|k| {
                let score = -REACH + step * k as f64;
                quantile(normal_cdf(score).min(1.0 - f64::EPSILON / 2.0))
            })
            .collect();
        let slopes = monotone_slopes(&values);
        Table { values, slopes }
    }

    #[inline(always)]
    fn at(&self, score: f64) -> f64 {
        let place = (score + REACH) * (STEPS as f64 / (2.0 * REACH));
        let place = if place > 0.0 { place } else { 0.0 };
        let low = (place as usize).min(STEPS - 1);
        let t = place - low as f64;
        let (a, b) = (self.values[low], self.values[low + 1]);
        let (da, db) = (self.slopes[low], self.slopes[low + 1]);
        // cubic through both ends with both slopes
        let rest = 1.0 - t;
        a * ((1.0 + 2.0 * t) * rest * rest) + da * (t * rest * rest) + b * (t * t * (3.0 - 2.0 * t)) - db * (t * t * rest)
    }
}

/// Slopes that keep the cubics between even knots monotone: the harmonic mean of the neighbouring differences (F. N. Fritsch, J. Butland, A
/// method for constructing local monotone piecewise cubic interpolants, SIAM J. Sci. Stat. Comput. 5, 1984).
fn monotone_slopes(values: &[f64]) -> Vec<f64> {
    let rise: Vec<f64> = values.windows(2).map(|w| w[1] - w[0]).collect();
    let inner = rise.windows(2).map(|w| if w[0] * w[1] > 0.0 { 2.0 * w[0] * w[1] / (w[0] + w[1]) } else { 0.0 });
    let first = rise.first().copied();
    let last = rise.last().copied();
    first.into_iter().chain(inner).chain(last).collect()
}
