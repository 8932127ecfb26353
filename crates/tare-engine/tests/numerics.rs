//! The bits that go with each version of the arithmetic.

use tare_engine::sample::{Correlation, Distribution, Points, Sampler, Source, Stream};
use tare_engine::stats::{Sample, correlation};
use tare_engine::{Graph, How, NUMERICS, Op, Tape, conformance, eval_point};

/// Version, and what the bits of all values below come to under it. A change of any bit needs a new version ([`NUMERICS`]) and a new line
/// here; a line that stands is never changed: releases of studies name it.
const KNOWN: &[(u32, u64, u64)] = &[(1, 0x92f4_a0c7_3dcb_4901, 0x48e0_c818_3144_3771)];

/// Mixes values into one number (FNV-1a over their bits); what is no number has many bit patterns and counts as one.
fn mixed(values: impl IntoIterator<Item = f64>) -> u64 {
    let bits = values.into_iter().map(|x| if x.is_nan() { f64::NAN.to_bits() & !(1 << 63) } else { x.to_bits() });
    bits.flat_map(u64::to_be_bytes)
        .fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

/// Every operator over ordinary and nasty arguments.
fn evaluated() -> u64 {
    let mut all = Vec::new();
    let compared = conformance::check(|graph, leaves| {
        let mut values = Vec::new();
        eval_point(graph, leaves, &mut values);
        all.extend_from_slice(&values);
        values
    });
    assert!(compared.is_ok_and(|nodes| nodes > 60_000));
    mixed(all)
}

/// A small graph over leaves of every distribution, two of them correlated, under every layout of the random numbers.
fn drawn(threads: usize) -> u64 {
    let distributions = [
        Distribution::Normal { mean: 5.0, deviation: 0.25 },
        Distribution::Rectangular { low: 1.0, high: 2.0 },
        Distribution::Triangular { low: 2.0, mode: 2.25, high: 3.0 },
        Distribution::LogNormal { mean: 0.1, deviation: 0.3 },
        Distribution::pert(1.0, 2.0, 6.0),
        Distribution::t(4.0, 0.5, 5.0),
        Distribution::empirical(&[1.0, 1.5, 4.0, 2.5]).expect("numbers"),
        Distribution::Normal { mean: 0.5, deviation: 0.5 }.within(0.0, f64::INFINITY).0,
    ];
    let mut graph = Graph::default();
    let leaves: Vec<_> = distributions.iter().map(|_| graph.leaf()).collect();
    let sum = leaves[1..].iter().fold(leaves[0], |sum, leaf| graph.push(Op::Add, &[sum, *leaf]));
    let product = leaves[1..].iter().fold(leaves[0], |product, leaf| graph.push(Op::Mul, &[product, *leaf]));
    let (root, log) = (graph.push(Op::Sqrt, &[product]), graph.push(Op::Ln, &[sum]));
    let shared = graph.push(Op::Div, &[root, log]);
    let whole = graph.push(Op::Ceil, &[shared]);
    let chosen = graph.pick(whole, &leaves);
    let results = [sum, product, shared, whole, chosen];
    let stated = [5.0, 1.5, 2.25, 1.0, 2.0, 4.0, 2.0, 0.5];
    let mut values = Vec::new();
    eval_point(&graph, &stated, &mut values);
    let source = |(at, distribution): (usize, &Distribution)| Source {
        stream: Stream::new(&format!("leaf {at}"), 7),
        distribution: distribution.clone(),
    };
    let sampler = Sampler {
        sources: distributions.iter().enumerate().map(|one| Some(source(one))).collect(),
        correlation: Correlation::of_pairs(&[(0, 3, 0.6)]).expect("no contradiction"),
    };
    let tape = Tape::new(&graph, &values, &[true; 8], &results);
    let layouts: [fn(u32) -> Points; 3] =
        [|_| Points::Random, |_| Points::Hypercube { draws: 512 }, |leaf| Points::Sobol { dimension: leaf }];
    let mut all = Vec::new();
    for layout in layouts {
        let sampler = sampler.clone().with_points(layout);
        let draws = tape.sample(&sampler, 0..4, How { threads, ..How::default() }).expect("not stopped");
        for draws in &draws {
            let sample = Sample::new(draws);
            let (ends, shortest) = (sample.symmetric(0.95), sample.shortest(0.95));
            all.extend_from_slice(draws);
            all.extend([
                sample.mean(),
                sample.deviation(),
                ends.low,
                ends.high,
                shortest.low,
                shortest.high,
                sample.share_above(2.0),
            ]);
        }
        all.push(correlation(&draws[0], &draws[1]));
    }
    mixed(all)
}

/// A change of the arithmetic without a new version fails here.
#[test]
fn a_version_of_the_arithmetic_has_its_bits() {
    assert!(KNOWN.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0] != pair[1]), "versions go up");
    let found = (NUMERICS, evaluated(), drawn(1));
    assert_eq!(KNOWN.last(), Some(&found), "a bit changed: raise NUMERICS and add a line; found {found:#x?}");
    assert_eq!(drawn(2), drawn(1), "two threads");
}
