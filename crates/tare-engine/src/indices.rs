//! How much of a result's variance comes from a group of leaves: first-order and total index, by draws.
//!
//! Three runs of one tape give them: `a` and `b` with two independent sets of numbers, and `mixed` with the numbers of `a` for all leaves
//! but those of the group, which take theirs from `b`. One more mixed run gives the indices of another group.
//!
//! ```
//! use tare_engine::indices::indices;
//! use tare_engine::sample::{Distribution, Sampler, Source, Stream};
//! use tare_engine::{Graph, How, Op, Tape};
//!
//! // sum = wide + narrow, with variances 4 / 12 and 1 / 12
//! let mut graph = Graph::default();
//! let (wide, narrow) = (graph.leaf(), graph.leaf());
//! let sum = graph.push(Op::Add, &[wide, narrow]);
//! let tape = Tape::new(&graph, &[0.0, 0.0, 0.0], &[true, true], &[sum]);
//!
//! let sampler = |seeds: [u64; 2]| {
//!     let source = |name: &str, seed, high| {
//!         Some(Source { stream: Stream::new(name, seed), distribution: Distribution::Rectangular { low: 0.0, high } })
//!     };
//!     Sampler { sources: vec![source("wide", seeds[0], 2.0), source("narrow", seeds[1], 1.0)], correlation: None }
//! };
//! let run = |seeds| tape.sample(&sampler(seeds), 0..200, How::default()).expect("not stopped").remove(0);
//!
//! let found = indices(&run([1, 1]), &run([2, 2]), &run([2, 1])).expect("it varies");
//! assert!((found.first - 0.8).abs() < 4.0 * found.first_error);
//! assert!((found.total - 0.8).abs() < 4.0 * found.total_error);
//! ```

use crate::stats::sum;

/// The part of a result's variance that goes with a group of leaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indices {
    /// First-order index: how much of the variance would go if all leaves of the group were known.
    pub first: f64,
    /// Total index: how much would stay if all other leaves were known; more than the first-order index where the group works together
    /// with others.
    pub total: f64,
    /// The standard error of the first-order index.
    pub first_error: f64,
    /// The standard error of the total index.
    pub total_error: f64,
    /// Draws that were used.
    pub used: usize,
    /// Draws that were left out because the result was infinite or no number in one of the three runs.
    pub left_out: usize,
}

/// What the three runs gave in one draw.
#[derive(Clone, Copy)]
struct Triple {
    a: f64,
    b: f64,
    mixed: f64,
}

/// Estimates first-order and total index of a group of leaves from three runs; `None` where fewer than two draws can be used or the result
/// does not vary.
///
/// `a` and `b` are results under two sets of numbers that are independent of one another, `mixed` those under the first set with the
/// group's numbers from the second. Draw `n` must stand at the same place in all three; if one is longer, its rest is not looked at.
///
/// First order: A. Saltelli and others, Variance based sensitivity analysis of model output (Computer Physics Communications 181, 2010), table 2
/// (b). Total: M. J. W. Jansen, Analysis of variance designs for model output (Computer Physics Communications 117, 1999), table 2 (f) of the former. Both
/// are divided by the variance over `a` and `b` together. Neither is held between 0 and 1: an index near 0 is as often estimated a little
/// below it as above.
///
/// Draws in which one of the three is infinite or no number are left out of everything. The indices are then those of the result where it
/// exists; if whether it exists hangs on the leaves, the leaves of the draws that remain are no longer independent, and the indices say
/// less the more was left out.
///
/// The standard errors take each estimate as a ratio of two means over independent draws (the first term of its Taylor series, W. G. Cochran,
/// Sampling techniques, 1977, section 2.11; from memory). Numbers that are spread more evenly than at random ([`crate::sample::Points`])
/// come closer than they say.
pub fn indices(a: &[f64], b: &[f64], mixed: &[f64]) -> Option<Indices> {
    let all = a.iter().zip(b).zip(mixed).map(|((a, b), mixed)| Triple { a: *a, b: *b, mixed: *mixed });
    let given = all.len();
    let good: Vec<Triple> = all.filter(|t| t.a.is_finite() && t.b.is_finite() && t.mixed.is_finite()).collect();
    let n = good.len() as f64;
    let mean_of = |f: &dyn Fn(&Triple) -> f64| sum(&good.iter().map(f).collect::<Vec<_>>()) / n;
    // both sets together give the variance; taking the mean away first keeps the products from drowning in it
    let mean = mean_of(&|t| 0.5 * (t.a + t.b));
    let spread = |t: &Triple| 0.5 * ((t.a - mean) * (t.a - mean) + (t.b - mean) * (t.b - mean));
    let variance = mean_of(&spread);
    if good.len() < 2 || variance <= 0.0 || !variance.is_finite() {
        return None;
    }
    let with_error = |part: &dyn Fn(&Triple) -> f64| {
        let index = mean_of(part) / variance;
        let rest = |t: &Triple| (part(t) - index * spread(t)) / variance;
        (index, (mean_of(&|t| rest(t) * rest(t)) / (n - 1.0)).sqrt())
    };
    let (first, first_error) = with_error(&|t| (t.b - mean) * (t.mixed - t.a));
    let (total, total_error) = with_error(&|t| 0.5 * (t.a - t.mixed) * (t.a - t.mixed));
    Some(Indices { first, total, first_error, total_error, used: good.len(), left_out: given - good.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn draws_without_a_number_are_left_out_and_counted() {
        let (a, b, mixed) = ([1.0, 2.0, 4.0, 0.5], [3.0, 1.0, 2.0, 0.0], [1.5, 2.5, 3.0, 1.0]);
        let whole = indices(&a, &b, &mixed).expect("it varies");
        let with = |x: &[f64; 4], at: usize, bad: f64| {
            let mut x = x.to_vec();
            x.insert(at, bad);
            x
        };
        let found = indices(&with(&a, 1, f64::NAN), &with(&b, 1, 1.0), &with(&mixed, 1, 1.0));
        assert_eq!(found, Some(Indices { left_out: 1, ..whole }));
        assert_eq!(indices(&with(&a, 4, 1.0), &with(&b, 4, 1.0), &with(&mixed, 4, f64::INFINITY)), found);
        assert_eq!(indices(&a, &b, &with(&mixed, 4, 1.0)), Some(whole));
    }

    #[test]
    fn hand_worked_draws() {
        // mean 2, variance 1; first: (1 * 2 + -1 * -1) / 2; total: (4 + 1) / 4
        let found = indices(&[1.0, 3.0], &[3.0, 1.0], &[3.0, 2.0]).expect("it varies");
        assert_eq!((found.first, found.total, found.used), (1.5, 1.25, 2));
        // the terms are 2 and 1 around 1.5, 2 and 0.5 around 1.25, each divided by a variance that is 1 in both draws
        assert_eq!((found.first_error, found.total_error), (0.5, 0.75));
    }

    #[test]
    fn what_does_not_vary_has_no_indices() {
        assert_eq!(indices(&[2.0; 5], &[2.0; 5], &[2.0; 5]), None);
        assert_eq!(indices(&[1.0], &[2.0], &[1.0]), None);
        assert_eq!(indices(&[], &[], &[]), None);
        assert_eq!(indices(&[1e300, -1e300], &[1e300, -1e300], &[1e300, 1.0]), None);
    }
}
