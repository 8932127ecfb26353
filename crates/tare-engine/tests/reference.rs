//! Draws and quantiles against an independent library (statrs 0.19).

use statrs::distribution::{Beta, ContinuousCDF, LogNormal, Normal, StudentsT, Triangular, Uniform};
use tare_engine::LANES;
use tare_engine::sample::{Correlation, Distribution, Sampler, Source, Stream};
use tare_engine::stats::{Sample, sum};

const CHUNKS: usize = 7_813;
const DRAWS: f64 = (CHUNKS * LANES) as f64;

/// What quantiles of a tabulated distribution may be off, of the larger of value and deviation: cubics over a 64th of a deviation. The largest seen
/// here are 5e-9 for PERT, 6e-9 for Student's t, 2e-8 for a cut normal.
const TABLE: f64 = 1e-7;

fn draws(sampler: &Sampler, leaf: u32) -> Vec<f64> {
    let mut all = Vec::with_capacity(CHUNKS * LANES);
    let mut lane = [0.0; LANES];
    for chunk in 0..CHUNKS as u64 {
        tare_engine::Draws::fill(sampler, leaf, chunk, &mut lane, &mut Default::default());
        all.extend_from_slice(&lane);
    }
    all
}

/// A million draws and quantiles of a distribution against its share below a value, its quantile, mean and variance.
///
/// Mean and variance are within 4.5 standard errors, the latter with the fourth moment of the draws; the largest distance of the shares
/// keeps below the limit that one in a thousand samples exceeds (A. N. Kolmogorov; 1.949 / sqrt(n) for many draws; from memory).
#[track_caller]
fn agrees(
    name: &str,
    ours: &Distribution,
    below: impl Fn(f64) -> f64,
    quantile: impl Fn(f64) -> f64,
    moments: [f64; 2],
    tolerance: f64,
) {
    let source = Source { stream: Stream::new(name, 1), distribution: ours.clone() };
    let mut found = draws(&Sampler { sources: vec![Some(source)], correlation: None }, 0);

    let sample = Sample::new(&found);
    let [mean, variance] = moments;
    let off = (sample.mean() - mean) / (variance / DRAWS).sqrt();
    assert!(off.abs() < 4.5, "{name}: mean {} against {mean}, {off} standard errors", sample.mean());
    let spread = sample.deviation() * sample.deviation();
    let fourth = sum(&found.iter().map(|x| (x - sample.mean()).powi(4)).collect::<Vec<_>>()) / DRAWS;
    let off = (spread - variance) / ((fourth - spread * spread) / DRAWS).sqrt();
    assert!(off.abs() < 4.5, "{name}: variance {spread} against {variance}, {off} standard errors");

    found.sort_unstable_by(f64::total_cmp);
    let distance = found.iter().enumerate().fold(0.0_f64, |most, (place, x)| {
        let below = below(*x);
        most.max((below - place as f64 / DRAWS).abs()).max(((place + 1) as f64 / DRAWS - below).abs())
    });
    assert!(distance * DRAWS.sqrt() < 1.949, "{name}: distance {}", distance * DRAWS.sqrt());

    for share in [1e-6, 1e-4, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 1.0 - 1e-4, 1.0 - 1e-6] {
        let (found, expected) = (ours.quantile(share), quantile(share));
        let off = (found - expected).abs() / expected.abs().max(variance.sqrt());
        assert!(off < tolerance, "{name}: quantile {share} is {found}, against {expected}: {off:e}");
    }
}

fn library<D: ContinuousCDF<f64, f64>>(theirs: D) -> (impl Fn(f64) -> f64, impl Fn(f64) -> f64) {
    let theirs = std::rc::Rc::new(theirs);
    let other = theirs.clone();
    (move |x| theirs.cdf(x), move |share| other.inverse_cdf(share))
}

#[test]
fn normal() {
    let (below, quantile) = library(Normal::new(10.0, 2.0).expect("fit"));
    agrees("normal", &Distribution::Normal { mean: 10.0, deviation: 2.0 }, below, quantile, [10.0, 4.0], 1e-14);
}

#[test]
fn rectangular() {
    let (below, quantile) = library(Uniform::new(-1.0, 5.0).expect("fit"));
    agrees("rectangular", &Distribution::Rectangular { low: -1.0, high: 5.0 }, below, quantile, [2.0, 3.0], 1e-14);
}

#[test]
fn triangular() {
    let (below, quantile) = library(Triangular::new(2.0, 7.0, 3.0).expect("fit"));
    agrees(
        "triangular",
        &Distribution::Triangular { low: 2.0, mode: 3.0, high: 7.0 },
        below,
        quantile,
        [4.0, 21.0 / 18.0],
        1e-14,
    );
}

#[test]
fn log_normal() {
    use tare_engine::math::exp;
    let (below, quantile) = library(LogNormal::new(0.1, 0.3).expect("fit"));
    let moments = [exp(0.1 + 0.045), (exp(0.09) - 1.0) * exp(0.2 + 0.09)];
    agrees("lognormal", &Distribution::LogNormal { mean: 0.1, deviation: 0.3 }, below, quantile, moments, 1e-14);
}

#[test]
fn students_t() {
    let (below, quantile) = library(StudentsT::new(1.0, 0.5, 9.0).expect("fit"));
    agrees("Student's t", &Distribution::t(1.0, 0.5, 9.0), below, quantile, [1.0, 0.25 * 9.0 / 7.0], TABLE);
}

#[test]
fn pert_is_the_beta_it_stands_for() {
    // 1 + 4 (3 - 2) / 5 and 1 + 4 (7 - 3) / 5
    let (below, quantile) = library(Beta::new(1.8, 4.2).expect("fit"));
    agrees(
        "PERT",
        &Distribution::pert(2.0, 3.0, 7.0),
        |x| below((x - 2.0) / 5.0),
        |share| 2.0 + 5.0 * quantile(share),
        [3.5, 1.5 * 3.5 / 7.0],
        TABLE,
    );
}

#[test]
fn cut_normal() {
    // N(1, 1) above 0
    let (all, inverse) = library(Normal::new(1.0, 1.0).expect("fit"));
    let outside = all(0.0);
    let (ours, share) = Distribution::Normal { mean: 1.0, deviation: 1.0 }.within(0.0, f64::INFINITY);
    // the library's share below a score is off by 1.4e-11 here: it is 0.15865 52539 31457 (Abramowitz and Stegun, table 26.1; from memory)
    assert!((share - outside).abs() < 1e-10, "{share} against {outside}");
    assert!((share - 0.158_655_253_931_457).abs() < 1e-14, "{share}");
    // with h the density over the share above the cut at -1: mean 1 + h, variance 1 - h (h + 1) (from memory)
    let hazard = tare_engine::math::normal_pdf(-1.0) / (1.0 - outside);
    agrees(
        "cut normal",
        &ours,
        |x| (all(x) - outside) / (1.0 - outside),
        |share| inverse(outside + share * (1.0 - outside)),
        [1.0 + hazard, 1.0 - hazard * (hazard + 1.0)],
        TABLE,
    );
}

#[test]
fn correlated_pairs_have_the_correlation_asked_for() {
    for asked in [-0.8, 0.0, 0.3, 0.95] {
        let source = |name: &str, distribution| Some(Source { stream: Stream::new(name, 1), distribution });
        let matrix = [vec![1.0, asked], vec![asked, 1.0]];
        let sampler = Sampler {
            sources: vec![
                source("a", Distribution::Normal { mean: 3.0, deviation: 0.5 }),
                source("b", Distribution::Normal { mean: -1.0, deviation: 2.0 }),
            ],
            correlation: Some(Correlation::new(&[0, 1], &matrix).expect("a matrix")),
        };
        let (a, b) = (draws(&sampler, 0), draws(&sampler, 1));
        let (x, y) = (Sample::new(&a), Sample::new(&b));
        let both: Vec<f64> = a.iter().zip(&b).map(|(a, b)| (a - x.mean()) * (b - y.mean())).collect();
        let found = sum(&both) / (DRAWS - 1.0) / (x.deviation() * y.deviation());
        // the standard error of Pearson's r for normal pairs is (1 - r^2) / sqrt(n)
        let off = (found - asked) / ((1.0 - asked * asked) / DRAWS.sqrt());
        assert!(off.abs() < 4.5, "{found} against {asked}: {off} standard errors");
        // the correlated leaf keeps its own distribution
        let error = 2.0 / DRAWS.sqrt();
        assert!((y.mean() + 1.0).abs() < 4.5 * error && (y.deviation() - 2.0).abs() < 4.5 * error / f64::sqrt(2.0));
    }
}
