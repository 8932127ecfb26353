//! Samplers: moments, quantiles, the share of draws below values that are known exactly.

use tare_engine::math::{exp, normal_cdf, normal_inv};
use tare_engine::sample::{Correlation, CorrelationError, Distribution, Sampler, Source, Stream};
use tare_engine::stats::Sample;
use tare_engine::{Draws as _, LANES};

fn draws(distribution: &Distribution, chunks: u64) -> Vec<f64> {
    let sampler = Sampler {
        sources: vec![Some(Source { stream: Stream::new("leaf", 3), distribution: distribution.clone() })],
        correlation: None,
    };
    let mut all = Vec::new();
    let mut lane = [0.0; LANES];
    for chunk in 0..chunks {
        sampler.fill(0, chunk, &mut lane, &mut Default::default());
        all.extend_from_slice(&lane);
    }
    all
}

/// Mean and standard deviation within five of their standard errors (kurtosis below 9 assumed), and quantiles that invert.
#[track_caller]
fn moments(distribution: Distribution, mean: f64, deviation: f64) {
    let found = Sample::new(&draws(&distribution, 1600));
    let n = found.count() as f64;
    assert!((found.mean() - mean).abs() < 5.0 * deviation / n.sqrt(), "{distribution:?}: mean {} against {mean}", found.mean());
    let error = deviation * (2.0 / n).sqrt();
    assert!((found.deviation() - deviation).abs() < 5.0 * error, "{distribution:?}: {} against {deviation}", found.deviation());
    for share in [0.01, 0.2, 0.5, 0.9, 0.999] {
        let below = 1.0 - found.share_above(distribution.quantile(share));
        assert!((below - share).abs() < 5.0 * (share * (1.0 - share) / n).sqrt(), "{distribution:?}: {below} below {share}");
    }
}

#[test]
fn distributions_have_their_published_moments() {
    moments(Distribution::Normal { mean: 10.0, deviation: 2.0 }, 10.0, 2.0);
    moments(Distribution::Rectangular { low: -1.0, high: 5.0 }, 2.0, 6.0 / 12_f64.sqrt());
    // (a + b + c) / 3 and (a^2 + b^2 + c^2 - ab - ac - bc) / 18
    moments(Distribution::Triangular { low: 2.0, mode: 3.0, high: 7.0 }, 4.0, (21.0_f64 / 18.0).sqrt());
    moments(Distribution::LogNormal { mean: 0.1, deviation: 0.3 }, exp(0.145), ((exp(0.09) - 1.0) * exp(0.29)).sqrt());
    // beta with shapes 1 + 4 (m - a) / (b - a) and 1 + 4 (b - m) / (b - a): mean (a + 4 m + b) / 6, variance (mean - a)(b - mean) / 7
    moments(Distribution::pert(2.0, 3.0, 7.0), 3.5, (1.5_f64 * 3.5 / 7.0).sqrt());
    // variance of t is n / (n - 2)
    moments(Distribution::t(1.0, 0.5, 9.0), 1.0, 0.5 * (9.0_f64 / 7.0).sqrt());
    moments(Distribution::empirical(&[4.0, 1.0]).expect("numbers"), 2.5, 3.0 / 12_f64.sqrt());
}

#[test]
fn quantiles_of_t_are_those_of_printed_tables() {
    // two-sided 95 % and 99 % factors (JCGM 100, table G.2): 2.26 and 3.25 at 9 degrees of freedom, 2.78 and 4.60 at 4
    for (freedom, share, printed) in [(9.0, 0.975, 2.26), (9.0, 0.995, 3.25), (4.0, 0.975, 2.78), (4.0, 0.995, 4.60)] {
        assert!((Distribution::t(0.0, 1.0, freedom).quantile(share) - printed).abs() < 0.005, "{freedom} {share}");
    }
}

#[test]
fn the_normal_share_inverts_the_normal_quantile() {
    for score in [-38.0, -8.2, -5.0, -3.0000001, -3.0, -1.0, -1e-9, 0.0, 0.3, 2.9999, 3.1, 5.5] {
        let share = normal_cdf(score);
        assert!((normal_inv(share) - score).abs() < 1e-9 * f64::abs(score).max(1.0), "{score}: {share}");
    }
    // Abramowitz and Stegun, table 26.1 (from memory): P(1) = 0.84134 47460 68543, P(3) = 0.99865 01019 68370
    assert!((normal_cdf(1.0) - 0.841_344_746_068_543).abs() < 1e-15);
    assert!((normal_cdf(3.0) - 0.998_650_101_968_370).abs() < 1e-15);
}

#[test]
fn what_physics_forbids_is_cut_and_said() {
    let (cut, outside) = Distribution::Normal { mean: 1.0, deviation: 1.0 }.within(0.0, f64::INFINITY);
    assert!((outside - normal_cdf(-1.0)).abs() < 1e-9, "{outside}");
    // mean of a normal cut at a: mu + sigma pdf(a) / (1 - cdf(a)) = 1 + 0.24197 / 0.84134
    let found = Sample::new(&draws(&cut, 1600));
    assert!(found.quantile(0.0) >= 0.0 && (found.mean() - 1.287_599_97).abs() < 0.01, "{}", found.mean());
    // what is left of a far tail has a value at the last share, too
    let (tail, _) = Distribution::Normal { mean: 1.0, deviation: 1.0 }.within(2.0, f64::INFINITY);
    assert!(tail.quantile(1.0 - f64::EPSILON / 2.0).is_finite());
    let (kept, outside) = Distribution::Normal { mean: 10.0, deviation: 1.0 }.within(0.0, f64::INFINITY);
    assert!(outside == 0.0 && matches!(kept, Distribution::Normal { .. }));
}

#[test]
fn correlated_leaves_move_together_as_stated() {
    let source = |name: &str, distribution| Some(Source { stream: Stream::new(name, 1), distribution });
    let sampler = Sampler {
        sources: vec![
            source("a", Distribution::Normal { mean: 0.0, deviation: 1.0 }),
            source("b", Distribution::Normal { mean: 5.0, deviation: 2.0 }),
            source("c", Distribution::Rectangular { low: 0.0, high: 1.0 }),
        ],
        correlation: Some(
            Correlation::new(&[0, 1, 2], &[vec![1.0, 0.6, -0.3], vec![0.6, 1.0, 0.2], vec![-0.3, 0.2, 1.0]]).expect("a matrix"),
        ),
    };
    let column =
        |leaf| -> Vec<f64> { (0..100_000).step_by(LANES).flat_map(|n| lane(&sampler, leaf, n / LANES as u64)).collect() };
    let (a, b, c) = (column(0), column(1), column(2));
    assert!((correlation(&a, &b) - 0.6).abs() < 0.01);
    // a normal score and a rectangular one: r of the scores times sqrt(3 / pi)
    assert!((correlation(&b, &c) - 0.2 * (3.0 / std::f64::consts::PI).sqrt()).abs() < 0.015);
    assert_eq!(sampler.value(1, 77), Some(b[77]));
    assert_eq!(sampler.value(9, 77), None);
}

fn lane(sampler: &Sampler, leaf: u32, chunk: u64) -> [f64; LANES] {
    let mut lane = [0.0; LANES];
    sampler.fill(leaf, chunk, &mut lane, &mut Default::default());
    lane
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let (x, y) = (Sample::new(a), Sample::new(b));
    let both: f64 = a.iter().zip(b).map(|(p, q)| (p - x.mean()) * (q - y.mean())).sum();
    both / (a.len() as f64 - 1.0) / (x.deviation() * y.deviation())
}

#[test]
fn matrices_that_cannot_be_are_refused_with_the_place() {
    let of = |matrix: &[Vec<f64>]| Correlation::new(&[4, 7, 9][..matrix.len()], matrix).map(|_| ());
    assert_eq!(of(&[vec![1.0, 0.5], vec![0.4, 1.0]]), Err(CorrelationError::Entry(0, 1)));
    assert_eq!(of(&[vec![1.0, 0.5]]), Err(CorrelationError::Size));
    let apart = of(&[vec![1.0, 0.9, 0.9], vec![0.9, 1.0, -0.9], vec![0.9, -0.9, 1.0]]);
    assert_eq!(apart, Err(CorrelationError::Contradiction(2)));
    // one leaf that follows another exactly is allowed
    assert_eq!(of(&[vec![1.0, 1.0], vec![1.0, 1.0]]), Ok(()));
    let many: Vec<u32> = (0..257).collect();
    assert!(matches!(Correlation::new(&many, &[]), Err(CorrelationError::TooMany { found: 257, .. })));
}
