//! What draws of a result say: moments, coverage intervals, a histogram, and when there are enough of them.

/// The draws of one result, set in order.
#[derive(Clone, Debug)]
pub struct Sample {
    sorted: Vec<f64>,
    mean: f64,
    deviation: f64,
    failed: usize,
}

/// A coverage interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Sample {
    /// Sums up draws in their order; draws that are infinite or no number are counted as failed and left out.
    pub fn new(draws: &[f64]) -> Self {
        let mut sorted: Vec<f64> = draws.iter().copied().filter(|x| x.is_finite()).collect();
        let n = sorted.len() as f64;
        let mean = sum(&sorted) / n;
        let squares: Vec<f64> = sorted.iter().map(|x| (x - mean) * (x - mean)).collect();
        let deviation = if sorted.len() > 1 { (sum(&squares) / (n - 1.0)).sqrt() } else { f64::NAN };
        let failed = draws.len() - sorted.len();
        sorted.sort_unstable_by(f64::total_cmp);
        Sample { sorted, mean, deviation, failed }
    }

    /// How many draws gave a number.
    pub fn count(&self) -> usize {
        self.sorted.len()
    }

    /// How many gave none.
    pub fn failed(&self) -> usize {
        self.failed
    }

    /// The mean: the estimate (JCGM 101, 7.6); NaN without draws.
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// The standard deviation: the standard uncertainty (JCGM 101, 7.6); NaN with fewer than two draws.
    pub fn deviation(&self) -> f64 {
        self.deviation
    }

    /// The value that a share of the draws does not exceed, with straight lines between draws (JCGM 101, 7.5 and D.3: value `r` of `M` stands at
    /// (r - 1/2) / M); NaN without draws.
    pub fn quantile(&self, share: f64) -> f64 {
        let place = share * self.sorted.len() as f64 - 0.5;
        let low = place.max(0.0).floor() as usize;
        match (self.sorted.get(low), self.sorted.get(low + 1)) {
            (Some(a), Some(b)) => a + (b - a) * (place - low as f64).clamp(0.0, 1.0),
            (Some(a), None) => *a,
            _ => self.sorted.last().copied().unwrap_or(f64::NAN),
        }
    }

    /// The interval with as many draws below as above it (JCGM 101, 7.7).
    pub fn symmetric(&self, coverage: f64) -> Interval {
        Interval { low: self.quantile((1.0 - coverage) / 2.0), high: self.quantile((1.0 + coverage) / 2.0) }
    }

    /// The shortest interval that holds a share of the draws (JCGM 101, 5.3.4 and 7.7.4).
    pub fn shortest(&self, coverage: f64) -> Interval {
        let held = ((coverage * self.sorted.len() as f64).round() as usize).max(1);
        let widths = self.sorted.windows((held + 1).min(self.sorted.len().max(1)));
        let shortest = widths.min_by(|a, b| (a[a.len() - 1] - a[0]).total_cmp(&(b[b.len() - 1] - b[0])));
        match shortest {
            Some(window) => Interval { low: window[0], high: window[window.len() - 1] },
            None => Interval { low: f64::NAN, high: f64::NAN },
        }
    }

    /// The share of draws above a limit.
    pub fn share_above(&self, limit: f64) -> f64 {
        let above = self.sorted.len() - self.sorted.partition_point(|x| *x <= limit);
        above as f64 / self.sorted.len() as f64
    }

    /// Even bins from the smallest to the largest draw: left edge of the first, width, counts.
    pub fn histogram(&self, bins: usize) -> (f64, f64, Vec<usize>) {
        let (Some(first), Some(last)) = (self.sorted.first(), self.sorted.last()) else {
            return (f64::NAN, f64::NAN, Vec::new());
        };
        let width = (last - first) / bins.max(1) as f64;
        let mut counts = vec![0; bins.max(1)];
        for x in &self.sorted {
            let bin = if width > 0.0 { ((x - first) / width) as usize } else { 0 };
            counts[bin.min(bins.max(1) - 1)] += 1;
        }
        (*first, width, counts)
    }
}

/// The correlation of two results over the same draws (Pearson's); draws in which either is no number are left out.
pub fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (a, b): (Vec<f64>, Vec<f64>) = a.iter().zip(b).filter(|(a, b)| a.is_finite() && b.is_finite()).unzip();
    let n = a.len() as f64;
    let (mean_a, mean_b) = (sum(&a) / n, sum(&b) / n);
    let products = |x: &[f64], y: &[f64], mx: f64, my: f64| -> f64 {
        sum(&x.iter().zip(y).map(|(x, y)| (x - mx) * (y - my)).collect::<Vec<_>>())
    };
    let both = products(&a, &b, mean_a, mean_b);
    both / (products(&a, &a, mean_a, mean_a) * products(&b, &b, mean_b, mean_b)).sqrt()
}

/// A sum by halves: little is lost to rounding, and the order is fixed.
pub fn sum(terms: &[f64]) -> f64 {
    if terms.len() <= 64 {
        return terms.iter().sum();
    }
    let (a, b) = terms.split_at(terms.len() / 2);
    sum(a) + sum(b)
}

/// The numerical tolerance that goes with a number of significant digits of a standard uncertainty (JCGM 101, 7.9.2): half a unit of its last
/// digit.
pub fn tolerance(uncertainty: f64, digits: i32) -> f64 {
    if uncertainty <= 0.0 || !uncertainty.is_finite() {
        return 0.0;
    }
    let exponent = crate::math::floor(crate::math::log10(uncertainty)) - f64::from(digits - 1);
    0.5 * crate::math::pow(10.0, exponent)
}

/// Watches whether results have settled, block by block (JCGM 101, 7.9.4).
#[derive(Clone, Debug)]
pub struct Settling {
    digits: i32,
    coverage: f64,
    /// Per block: mean, deviation and both ends.
    blocks: Vec<[f64; 4]>,
}

impl Settling {
    /// Starts without blocks; `digits` of the standard uncertainty are to be sure.
    pub fn new(digits: i32, coverage: f64) -> Self {
        Settling { digits, coverage, blocks: Vec::new() }
    }

    /// Takes a block of draws; says whether mean, standard deviation and both ends of the symmetric interval have settled: twice the standard
    /// deviation of their averages is within the tolerance.
    pub fn take(&mut self, draws: &Sample) -> bool {
        let ends = draws.symmetric(self.coverage);
        self.blocks.push([draws.mean(), draws.deviation(), ends.low, ends.high]);
        let h = self.blocks.len() as f64;
        if h < 2.0 {
            return false;
        }
        let average = |k: usize| self.blocks.iter().map(|b| b[k]).sum::<f64>() / h;
        let tolerance = tolerance(average(1), self.digits);
        (0..4).all(|k| {
            let mean = average(k);
            let scatter: f64 = self.blocks.iter().map(|b| (b[k] - mean) * (b[k] - mean)).sum();
            2.0 * (scatter / (h * (h - 1.0))).sqrt() <= tolerance
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_and_ends_of_known_draws() {
        let draws: Vec<f64> = (1..=100).map(f64::from).chain([f64::NAN, f64::INFINITY]).collect();
        let found = Sample::new(&draws);
        assert_eq!((found.count(), found.failed(), found.mean()), (100, 2, 50.5));
        // n (n + 1) / 12 is the sample variance of 1 .. n
        assert!((found.deviation() - (100.0 * 101.0 / 12.0_f64).sqrt()).abs() < 1e-12);
        assert_eq!((found.quantile(0.5), found.quantile(0.0), found.quantile(1.0)), (50.5, 1.0, 100.0));
        let symmetric = found.symmetric(0.9);
        assert!((symmetric.low - 5.5).abs() < 1e-9 && (symmetric.high - 95.5).abs() < 1e-9, "{symmetric:?}");
        assert_eq!((found.share_above(90.0), found.share_above(0.0), found.share_above(100.0)), (0.1, 1.0, 0.0));
        assert_eq!(found.histogram(4), (1.0, 24.75, vec![25, 25, 25, 25]));
    }

    #[test]
    fn the_shortest_interval_leans_to_where_draws_are_dense() {
        let draws: Vec<f64> = (0..1000).map(|k| (f64::from(k) / 1000.0).powi(2)).collect();
        let (shortest, symmetric) = (Sample::new(&draws).shortest(0.9), Sample::new(&draws).symmetric(0.9));
        assert_eq!(shortest.low, 0.0);
        assert!(shortest.high - shortest.low < symmetric.high - symmetric.low);
    }

    #[test]
    fn nothing_drawn_gives_no_number() {
        let none = Sample::new(&[f64::NAN]);
        assert!(
            none.mean().is_nan()
                && none.quantile(0.5).is_nan()
                && none.shortest(0.9).low.is_nan()
                && none.histogram(3).2.is_empty()
        );
        let one = Sample::new(&[3.0]);
        assert_eq!((one.mean(), one.quantile(0.3), one.shortest(0.95).high), (3.0, 3.0, 3.0));
    }

    #[test]
    fn tolerances_follow_the_guide() {
        // JCGM 101, 7.9.2, examples 1 and 2 (from memory): u = 0.00035 with two digits, 0.000 005; u = 2 with one digit, 0.5
        assert!((tolerance(0.00035, 2) - 0.000_005).abs() < 1e-18);
        assert_eq!(tolerance(2.0, 1), 0.5);
    }

    #[test]
    fn settling_needs_blocks_that_agree() {
        let block = |shift: f64| Sample::new(&(0..1000).map(|k| shift + f64::from(k) / 1000.0).collect::<Vec<_>>());
        let mut same = Settling::new(2, 0.95);
        assert!(!same.take(&block(0.0)));
        assert!(same.take(&block(0.0)));
        let mut apart = Settling::new(2, 0.95);
        apart.take(&block(0.0));
        assert!(!apart.take(&block(0.1)));
    }
}
