//! Numbers that are laid out: strata, correlated leaves, and how much sooner a mean settles.

use tare_engine::math::exp;
use tare_engine::sample::{Correlation, Distribution, Points, Sampler, Source, Stream};
use tare_engine::{Draws as _, Graph, How, LANES, NodeId, Op, Tape, Width};

/// A sampler of leaves of one distribution.
fn sampler(leaves: u32, seed: u64, distribution: &Distribution) -> Sampler {
    let source = |leaf| Some(Source { stream: Stream::new(&format!("leaf {leaf}"), seed), distribution: distribution.clone() });
    Sampler { sources: (0..leaves).map(source).collect(), correlation: None }
}

/// The shares of one leaf.
fn shares(leaf: u32, points: Points, draws: std::ops::Range<u64>) -> Vec<f64> {
    let sampler = sampler(leaf + 1, 1, &Distribution::Rectangular { low: 0.0, high: 1.0 }).with_points(|_| points);
    let mut all = Vec::new();
    let mut lane = [0.0; LANES];
    for chunk in draws.start / LANES as u64..draws.end.div_ceil(LANES as u64) {
        sampler.fill(leaf, chunk, &mut lane, &mut Default::default());
        all.extend(lane.iter().zip(chunk * LANES as u64..).filter(|(_, draw)| draws.contains(draw)).map(|(x, _)| *x));
    }
    all
}

/// Tells whether each of as many equal strata as there are shares holds one.
fn each_stratum_once(shares: &[f64]) -> bool {
    let mut held = vec![false; shares.len()];
    shares.iter().all(|x| !std::mem::replace(&mut held[(x * shares.len() as f64) as usize], true))
}

#[test]
fn hypercube_draws_fall_into_each_stratum_once() {
    for draws in [1, 2, 3, 100, 127, 128, 129, 1000, 4096, 10_007] {
        for leaf in 0..4 {
            for round in 0..3 {
                let n = u64::from(draws);
                let found = shares(leaf, Points::Hypercube { draws }, round * n..(round + 1) * n);
                assert!(found.len() == draws as usize && each_stratum_once(&found), "{draws} draws, leaf {leaf}, round {round}");
            }
        }
    }
    let random = shares(0, Points::Random, 0..1000);
    assert!(!each_stratum_once(&random), "random draws do not, so the test can tell");
    // rounds and leaves have orders of their own
    let order = |leaf, round: u64| -> Vec<u64> {
        let found = shares(leaf, Points::Hypercube { draws: 100 }, round * 100..(round + 1) * 100);
        found.iter().map(|x| (x * 100.0) as u64).collect()
    };
    assert!(order(0, 0) != order(0, 1) && order(0, 0) != order(1, 0) && order(0, 0) == order(0, 0));
}

#[test]
fn hypercube_draws_lie_anywhere_inside_their_stratum() {
    let draws = 10_000;
    let found = shares(0, Points::Hypercube { draws }, 0..u64::from(draws));
    let mut cells = [0_u32; 20];
    for x in &found {
        let place = x * f64::from(draws);
        cells[((place - place.floor()) * 20.0) as usize] += 1;
    }
    let due = f64::from(draws) / 20.0;
    let chi: f64 = cells.iter().map(|c| (f64::from(*c) - due).powi(2) / due).sum();
    // 19 degrees of freedom: 0.1 % lie above 43.8 (tables of chi square; from memory)
    assert!(chi < 43.8, "{chi}");
}

#[test]
fn sobol_draws_of_every_dimension_fall_into_each_stratum_once() {
    for dimension in 0..1024 {
        // any stretch of a power of two that starts at a multiple of it, for every smaller power
        let found = shares(0, Points::Sobol { dimension }, 3 * 1024..4 * 1024);
        for length in [2, 16, 128, 1024] {
            assert!(found.chunks(length).all(each_stratum_once), "dimension {dimension}, {length} draws");
        }
    }
}

/// Where scrambling is as A. B. Owen described it, the draws of 2^m points are independent and even inside their strata: the mean of x has
/// variance 1 / (12 n^3) (A. B. Owen, Scrambled net variance for integrals of smooth functions, Annals of Statistics 25, 1997; from memory).
#[test]
fn scrambled_draws_are_even_and_independent_inside_their_strata() {
    for (dimension, n) in [(0, 16_u64), (5, 256), (700, 256)] {
        let seeds = 4000;
        let sum: f64 = (0..seeds)
            .map(|seed| {
                let stream = Stream::new("leaf", seed).with(Points::Sobol { dimension });
                let mean = (0..n).map(|draw| stream.at(draw)).sum::<f64>() / n as f64;
                (mean - 0.5) * (mean - 0.5)
            })
            .sum();
        let ratio = sum / seeds as f64 * 12.0 * (n as f64).powi(3);
        // the deviation of a mean of squares of normal numbers; five of them
        assert!((ratio - 1.0).abs() < 5.0 * (2.0 / seeds as f64).sqrt(), "dimension {dimension}, {n} draws: {ratio}");
    }
}

#[test]
fn numbers_do_not_depend_on_the_way_asked() {
    let all = [
        Points::Random,
        Points::Hypercube { draws: 1 },
        Points::Hypercube { draws: 100 },
        Points::Hypercube { draws: 1_000_003 },
        Points::Hypercube { draws: u32::MAX },
        Points::Sobol { dimension: 0 },
        Points::Sobol { dimension: 1023 },
    ];
    for points in all {
        for start in [0, 7 * LANES as u64, (1 << 32) - 256, 1 << 45] {
            let found = shares(2, points, start..start + 2 * LANES as u64);
            let stream = Stream::new("leaf 2", 1).with(points);
            for (found, draw) in found.iter().zip(start..) {
                assert_eq!(found.to_bits(), stream.at(draw).to_bits(), "{points:?}, draw {draw}");
                assert!(*found > 0.0 && *found < 1.0);
            }
        }
    }
}

#[test]
fn what_cannot_be_laid_out_is_random() {
    let random = shares(0, Points::default(), 0..256);
    assert_eq!(shares(0, Points::Random, 0..256), random);
    assert_eq!(shares(0, Points::Hypercube { draws: 0 }, 0..256), random);
    assert_eq!(shares(0, Points::Sobol { dimension: 1024 }, 0..256), random);
    assert_ne!(shares(0, Points::Sobol { dimension: 1023 }, 0..256), random);
    // a sequence that starts again is scrambled anew
    let again = 1_u64 << 32;
    let sobol = Points::Sobol { dimension: 3 };
    assert_ne!(shares(0, sobol, 0..256), shares(0, sobol, again..again + 256));
}

/// exp(a sum of normal leaves), which has an exact mean.
fn growth(leaves: u32, deviation: f64) -> (Graph, NodeId, f64) {
    let mut graph = Graph::default();
    let all: Vec<NodeId> = (0..leaves).map(|_| graph.leaf()).collect();
    let sum = all[1..].iter().fold(all[0], |sum, leaf| graph.push(Op::Add, &[sum, *leaf]));
    let result = graph.push(Op::Exp, &[sum]);
    (graph, result, exp(f64::from(leaves) * deviation * deviation / 2.0))
}

fn kinds(draws: u32) -> [Box<dyn Fn(u32) -> Points>; 3] {
    [
        Box::new(|_| Points::Random),
        Box::new(move |_| Points::Hypercube { draws }),
        Box::new(|leaf| Points::Sobol { dimension: leaf }),
    ]
}

#[test]
fn means_settle_sooner() {
    let (draws, seeds) = (4096_u32, 200);
    let normal = Distribution::Normal { mean: 0.0, deviation: 0.2 };
    let (graph, result, mean) = growth(5, 0.2);
    let tape = Tape::new(&graph, &vec![0.0; graph.nodes.len()], &[true; 5], &[result]);
    // root of the mean square error over seeds
    let error = kinds(draws).map(|points| {
        let square = |seed| {
            let sampler = sampler(5, seed, &normal).with_points(&points);
            let found = tape.sample(&sampler, 0..u64::from(draws) / LANES as u64, How::default()).expect("not stopped").remove(0);
            let found = tare_engine::stats::sum(&found) / f64::from(draws);
            (found - mean) * (found - mean)
        };
        ((0..seeds).map(square).sum::<f64>() / seeds as f64).sqrt()
    });
    println!("root mean square errors: random {}, hypercube {}, sobol {}", error[0], error[1], error[2]);
    // at random it is the deviation of the result, exp(s^2 / 2) sqrt(exp(s^2) - 1) with s^2 = 0.2, over the root of the draws
    let exact = mean * (exp(0.2) - 1.0).sqrt() / f64::from(draws).sqrt();
    assert!((error[0] / exact - 1.0).abs() < 4.0 / (2.0 * seeds as f64).sqrt(), "{} against {exact}", error[0]);
    assert!(error[0] > 3.0 * error[1] && error[0] > 40.0 * error[2], "{error:?}");
}

#[test]
fn threads_and_instructions_do_not_change_a_bit() {
    let (graph, result, _) = growth(4, 0.5);
    let tape = Tape::new(&graph, &vec![0.0; graph.nodes.len()], &[true; 4], &[result]);
    let matrix = [vec![1.0, 0.5], vec![0.5, 1.0]];
    for points in kinds(1000) {
        let mut sampler = sampler(4, 1, &Distribution::Normal { mean: 0.0, deviation: 0.5 }).with_points(&points);
        sampler.correlation = Some(Correlation::new(&[1, 2], &matrix).expect("a matrix"));
        let bits = |threads, width| -> Vec<u64> {
            let how = How { threads, width, ..How::default() };
            let found = tape.sample(&sampler, 3..40, how).expect("not stopped").remove(0);
            found.iter().map(|x| x.to_bits()).collect()
        };
        let first = bits(1, Width::Least);
        for threads in [1, 2, 5] {
            for width in [Width::Least, Width::Middle, Width::Most] {
                assert!(bits(threads, width) == first, "{:?}, {threads} threads, {width:?}", points(1));
            }
        }
    }
}

#[test]
fn correlated_leaves_move_together_with_all_kinds_of_points() {
    let draws = 1 << 14;
    for points in kinds(draws) {
        let mut sampler = sampler(3, 1, &Distribution::Normal { mean: 2.0, deviation: 3.0 }).with_points(&points);
        let matrix = [vec![1.0, 0.6, -0.3], vec![0.6, 1.0, 0.2], vec![-0.3, 0.2, 1.0]];
        sampler.correlation = Some(Correlation::new(&[0, 1, 2], &matrix).expect("a matrix"));
        let columns: Vec<Vec<f64>> = (0..3)
            .map(|leaf| {
                let chunk = |chunk| {
                    let mut lane = [0.0; LANES];
                    sampler.fill(leaf, chunk, &mut lane, &mut Default::default());
                    lane
                };
                (0..u64::from(draws) / LANES as u64).flat_map(chunk).map(|x| (x - 2.0) / 3.0).collect()
            })
            .collect();
        for (i, row) in matrix.iter().enumerate() {
            for (j, asked) in row.iter().enumerate() {
                let found = columns[i].iter().zip(&columns[j]).map(|(a, b)| a * b).sum::<f64>() / f64::from(draws);
                // the deviation of the product of two normal scores is sqrt(1 + r^2); laid out they come closer
                let bound = 4.0 * (1.0 + asked * asked).sqrt() / f64::from(draws).sqrt();
                assert!((found - asked).abs() < bound, "{:?}: {found} against {asked}", points(1));
            }
        }
    }
}
