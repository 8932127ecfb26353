//! The batch evaluator against the point evaluator: the same bits in every draw, whatever the threads and instructions.

use proptest::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64};
use tare_engine::{Draws, Graph, How, LANES, Lane, Match, NodeId, Op, Tape, Width, conformance, eval_point, math};

/// Leaf values that a function of leaf and draw gives.
struct Given<F>(F);

impl<F: Fn(u32, u64) -> f64 + Sync> Draws for Given<F> {
    type Scratch = ();

    fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane, (): &mut ()) {
        for (place, value) in lane.iter_mut().enumerate() {
            *value = (self.0)(leaf, chunk * LANES as u64 + place as u64);
        }
    }
}

fn values(graph: &Graph, leaves: &[f64]) -> Vec<f64> {
    let mut out = Vec::new();
    eval_point(graph, leaves, &mut out);
    out
}

fn how(threads: usize, width: Width) -> How<'static> {
    How { threads, width, ..How::default() }
}

/// Every node as a result, every leaf drawn.
fn all_nodes(graph: &Graph, draws: &impl Draws, stated: &[f64], chunks: u64, how: How<'_>) -> Vec<Vec<f64>> {
    let results: Vec<NodeId> = (0..graph.nodes.len() as NodeId).collect();
    let tape = Tape::new(graph, &values(graph, stated), &vec![true; stated.len()], &results);
    tape.run(draws, 0..chunks, how).expect("not stopped")
}

#[test]
fn it_conforms_in_every_draw_and_at_every_width() {
    for width in [Width::Least, Width::Middle, Width::Most] {
        for place in [0, LANES - 1] {
            let checked = conformance::check(|graph, leaves| {
                let draws = Given(|leaf: u32, _| leaves[leaf as usize]);
                all_nodes(graph, &draws, leaves, 1, how(1, width)).iter().map(|lane| lane[place]).collect()
            });
            match checked {
                Ok(compared) => assert!(compared > 60_000),
                Err(wrong) => panic!("{width:?}: {} differ, first {:?}", wrong.len(), &wrong[..wrong.len().min(4)]),
            }
        }
    }
}

/// A random graph over a few leaves; some operands are constants, so that both kinds of operand meet in every operator.
fn graph(steps: &[(usize, [usize; 7])]) -> Graph {
    let mut graph = Graph::default();
    for _ in 0..5 {
        graph.leaf();
    }
    for value in [0.0, 1.0, 2.0, 0.5, -1.5] {
        graph.constant(value);
    }
    for (number, from) in steps {
        let at = from.map(|k| (k % graph.nodes.len()) as NodeId);
        match conformance::MEANINGS[number % conformance::MEANINGS.len()].0 {
            Op::Pick => graph.pick(at[0], &at[1..]),
            Op::Find => {
                let way = |k: usize| Match::ALL[from[k] % 3];
                graph.find(&Arc::from([way(5), way(6)]), &at[..2], &at[1..7])
            }
            op => graph.push(op, &at[..op.arity().expect("fixed")]),
        };
    }
    graph
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn every_draw_is_what_the_point_evaluator_gives(
        steps in proptest::collection::vec((any::<usize>(), any::<[usize; 7]>()), 1..60),
        random in any::<[bool; 5]>(),
        seed in any::<u64>(),
    ) {
        let graph = graph(&steps);
        let stated = [1.0, 2.0, 0.0, -1.0, 3.0];
        // whole numbers and halves, so that conditions, indices and equalities are met
        let draw = |leaf: u32, draw: u64| {
            let z = (seed ^ (draw * 5 + u64::from(leaf))).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 60;
            if random[leaf as usize] { z as f64 / 2.0 - 2.0 } else { stated[leaf as usize] }
        };
        let results: Vec<NodeId> = (0..graph.nodes.len() as NodeId).rev().collect();
        let tape = Tape::new(&graph, &values(&graph, &stated), &random, &results);
        let found = tape.run(&Given(draw), 0..2, how(1, Width::Most)).expect("not stopped");
        for place in [0, 1, 77, LANES, 2 * LANES - 1] {
            let leaves: Vec<f64> = (0..5).map(|leaf| draw(leaf, place as u64)).collect();
            let expected = values(&graph, &leaves);
            for (result, node) in found.iter().zip(&results) {
                let (value, expected) = (result[place], expected[*node as usize]);
                prop_assert!(conformance::same(value, expected), "node {node} draw {place}: {value} against {expected}");
            }
        }
        // one result alone keeps fewer values alive, and is the same
        let alone = Tape::new(&graph, &values(&graph, &stated), &random, &results[..1]);
        prop_assert!(alone.registers() <= tape.registers() && alone.len() <= tape.len());
        let alone = alone.run(&Given(draw), 0..2, how(1, Width::Least)).expect("not stopped");
        prop_assert!(alone[0].iter().zip(&found[0]).all(|(a, b)| conformance::same(*a, *b)));
    }
}

#[test]
fn threads_and_instructions_do_not_change_a_bit() {
    let mut graph = Graph::default();
    let (a, b) = (graph.leaf(), graph.leaf());
    let ratio = graph.push(Op::Div, &[a, b]);
    let curved = graph.push(Op::Exp, &[ratio]);
    let logarithm = graph.push(Op::Ln, &[curved]);
    let power = graph.push(Op::Pow, &[curved, a]);
    let sum = graph.push(Op::Add, &[power, logarithm]);
    let draws = Given(|leaf: u32, draw: u64| 0.3 + f64::from(leaf) + (draw % 977) as f64 / 701.0);
    let bits = |how: How<'_>| -> Vec<Vec<u64>> {
        let tape = Tape::new(&graph, &values(&graph, &[1.0, 1.0]), &[true, true], &[sum, power]);
        let found = tape.run(&draws, 3..40, how).expect("not stopped");
        found.iter().map(|result| result.iter().map(|x| x.to_bits()).collect()).collect()
    };
    let first = bits(how(1, Width::Least));
    for threads in [1, 2, 7] {
        for width in [Width::Least, Width::Middle, Width::Most] {
            assert_eq!(bits(how(threads, width)), first, "{threads} threads, {width:?}");
        }
    }
}

/// Ordinary draws, and now and then one that is not: each chunk of powers, exponentials and logarithms takes the way that suits it.
#[test]
fn ordinary_and_other_draws_of_a_chunk_have_the_bits_of_the_point() {
    const OTHERS: [f64; 16] = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        -2.5,
        f64::INFINITY,
        f64::NEG_INFINITY,
        f64::NAN,
        3e-310,
        f64::MIN_POSITIVE,
        f64::MAX,
        700.0,
        -745.0,
        1023.5,
        0.5,
        4.0,
    ];
    // one draw in `rare` is another; `rare` of 0 gives ordinary ones alone
    let draw = |leaf: u32, draw: u64, rare: u64| {
        let z = ((draw * 2 + u64::from(leaf)).wrapping_add(rare << 40) ^ 0x5bd1_e995).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let z = (z ^ z >> 29).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        if rare > 0 && (z >> 8).is_multiple_of(rare) {
            return OTHERS[(z >> 60) as usize];
        }
        let share = (z >> 12) as f64 / 4_503_599_627_370_496.0;
        // bases of all sizes; exponents around 0
        if leaf == 0 { math::exp(60.0 * (share - 0.5)) } else { 16.0 * (share - 0.5) }
    };
    for fixed in [-1.0, 0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 1.7, -0.31, 60.0, f64::NAN, f64::INFINITY] {
        let mut graph = Graph::default();
        let (base, exponent) = (graph.leaf(), graph.leaf());
        let fixed = graph.constant(fixed);
        let pairs = [(base, exponent), (base, fixed), (fixed, exponent), (exponent, base)];
        let mut results: Vec<NodeId> = pairs.iter().map(|(a, b)| graph.push(Op::Pow, &[*a, *b])).collect();
        for leaf in [base, exponent] {
            results.extend([Op::Exp, Op::Ln].map(|op| graph.push(op, &[leaf])));
        }
        let tape = Tape::new(&graph, &values(&graph, &[1.0, 1.0]), &[true; 2], &results);
        for (rare, width) in
            [0, 2, 150].into_iter().flat_map(|rare| [Width::Least, Width::Middle, Width::Most].map(|w| (rare, w)))
        {
            let found = tape.run(&Given(|leaf, at| draw(leaf, at, rare)), 0..40, how(1, width)).expect("not stopped");
            for place in 0..40 * LANES {
                let expected = values(&graph, &[0, 1].map(|leaf| draw(leaf, place as u64, rare)));
                for (found, node) in found.iter().zip(&results) {
                    let (found, expected) = (found[place], expected[*node as usize]);
                    assert!(
                        conformance::same(found, expected),
                        "{width:?}, draw {place}, node {node}: {found} against {expected}"
                    );
                }
            }
        }
    }
}

#[test]
fn two_operations_in_one_step_have_the_bits_of_the_point() {
    let plain = [Op::Add, Op::Sub, Op::Mul, Op::Div];
    let draw = |leaf: u32, draw: u64| match (draw * 7 + u64::from(leaf)) % 97 {
        3 => f64::NAN,
        4 => f64::INFINITY,
        5 => 0.0,
        k => (k as f64 - 40.0) / 7.0 + f64::from(leaf),
    };
    for (inner, outer) in plain.into_iter().flat_map(|inner| plain.map(|outer| (inner, outer))) {
        for case in 0..12 {
            let (first, known) = (case % 2 == 0, case % 4 > 1);
            let mut graph = Graph::default();
            let leaves = [graph.leaf(), graph.leaf()];
            let number = graph.constant(-1.5);
            let (a, b) = [(leaves[0], leaves[1]), (number, leaves[1]), (leaves[0], number)][case / 4];
            let third = if known { graph.constant(0.3) } else { leaves[0] };
            let value = graph.push(inner, &[a, b]);
            let both = graph.push(outer, &if first { [value, third] } else { [third, value] });
            // the same where the value is asked for itself, and where it is read once more
            let again = graph.push(Op::Add, &[both, value]);
            let stated = values(&graph, &[1.0; 2]);
            let alone = Tape::new(&graph, &stated, &[true; 2], &[both]);
            assert_eq!(alone.len(), alone.drawn().len() + 1, "leaves, one step");
            for width in [Width::Least, Width::Middle, Width::Most] {
                let one = alone.run(&Given(draw), 0..3, how(1, width)).expect("not stopped");
                let all = Tape::new(&graph, &stated, &[true; 2], &[both, value, again]);
                let all = all.run(&Given(draw), 0..3, how(1, width)).expect("not stopped");
                for place in 0..3 * LANES {
                    let expected = values(&graph, &[0, 1].map(|leaf| draw(leaf, place as u64)));
                    let found = [one[0][place], all[0][place], all[1][place], all[2][place]];
                    for (found, node) in found.iter().zip([both, both, value, again]) {
                        let expected = expected[node as usize];
                        assert!(conformance::same(*found, expected), "{inner:?} {outer:?} {case}: {found} against {expected}");
                    }
                }
            }
        }
    }
}

#[test]
fn leaves_that_lie_ready_are_read_where_they_are() {
    struct Ready(Vec<f64>);
    impl Draws for Ready {
        type Scratch = ();
        fn ready(&self, leaf: u32, chunk: u64) -> Option<&Lane> {
            assert!(chunk < 8, "also ahead, only what is in the run is asked for");
            // every other chunk of the first leaf is filled in, over a lane that was lent
            let asked = leaf == 1 || chunk.is_multiple_of(2);
            asked.then(|| self.0[(chunk as usize + leaf as usize) * LANES..].first_chunk()).flatten()
        }
        fn fill(&self, leaf: u32, chunk: u64, lane: &mut Lane, (): &mut ()) {
            lane.copy_from_slice(&self.0[(chunk as usize + leaf as usize) * LANES..][..LANES]);
        }
    }
    let mut graph = Graph::default();
    let (a, b) = (graph.leaf(), graph.leaf());
    let root = graph.push(Op::Sqrt, &[b]);
    let product = graph.push(Op::Mul, &[a, root]);
    let sum = graph.push(Op::Add, &[product, a]);
    let numbers: Vec<f64> = (0..9 * LANES).map(|k| (k % 41) as f64 / 3.0).collect();
    let tape = Tape::new(&graph, &values(&graph, &[1.0; 2]), &[true; 2], &[sum, a]);
    for threads in [1, 2] {
        let found = tape.run(&Ready(numbers.clone()), 0..8, how(threads, Width::Most)).expect("not stopped");
        for place in 0..8 * LANES {
            let (a, b) = (numbers[place], numbers[place + LANES]);
            assert_eq!((found[0][place].to_bits(), found[1][place]), ((a * b.sqrt() + a).to_bits(), a));
        }
    }
}

#[test]
fn arrays_are_used_again() {
    let mut graph = Graph::default();
    let leaf = graph.leaf();
    let double = graph.push(Op::Add, &[leaf, leaf]);
    let steady = graph.constant(7.0);
    let tape = Tape::new(&graph, &values(&graph, &[1.0]), &[true], &[double, steady]);
    let draws = Given(|_, draw| draw as f64);
    // arrays of other sizes and number, with other numbers in them
    let mut results = vec![vec![3.0; 10], vec![4.0; 100 * LANES], vec![5.0]];
    for chunks in [0..9, 4..6, 5..5, 2..30] {
        for threads in [1, 3] {
            assert!(tape.run_into(&draws, chunks.clone(), how(threads, Width::Most), &mut results));
            assert_eq!(Some(&results), tape.run(&draws, chunks.clone(), how(1, Width::Least)).as_ref());
            let first = chunks.start as usize * LANES;
            assert!(results[0].iter().enumerate().all(|(place, x)| *x == 2.0 * (first + place) as f64));
            assert!(results[1].iter().all(|x| *x == 7.0));
            assert_eq!((results.len(), results[0].len()), (2, chunks.clone().count() * LANES));
        }
    }
    let held = results[1].as_ptr();
    assert!(tape.run_into(&draws, 0..3, how(2, Width::Most), &mut results));
    assert_eq!(results[1].as_ptr(), held, "memory that is large enough is kept");
}

#[test]
fn what_no_draw_changes_is_not_worked_out_again() {
    let mut graph = Graph::default();
    let (drawn, known, kind) = (graph.leaf(), graph.leaf(), graph.leaf());
    let steady = graph.push(Op::Mul, &[known, known]);
    let dear = graph.push(Op::Exp, &[drawn]);
    // the condition is known, so the other side is never worked out
    let chosen = graph.push(Op::If, &[kind, dear, drawn]);
    let picked = graph.pick(kind, &[chosen, dear]);
    let product = graph.push(Op::Mul, &[picked, steady]);
    let tape = Tape::new(&graph, &values(&graph, &[1.0, 3.0, 0.0]), &[true, false, false], &[product, steady]);
    assert_eq!((tape.len(), tape.registers(), tape.drawn()), (2, 1, &[0][..]), "draw, multiply into the result");
    let found = tape.run(&Given(|_, draw| draw as f64), 0..1, How::default()).expect("not stopped");
    assert_eq!((found[0][5], found[1][5]), (45.0, 9.0));
}

#[test]
fn sums_are_added_up_as_their_terms_arise() {
    let mut graph = Graph::default();
    let leaves: Vec<NodeId> = (0..500).map(|_| graph.leaf()).collect();
    let terms: Vec<NodeId> = leaves.iter().map(|leaf| graph.push(Op::Exp, &[*leaf])).collect();
    let mut sum = terms[0];
    for term in &terms[1..] {
        sum = graph.push(Op::Add, &[sum, *term]);
    }
    let stated = vec![0.5; 500];
    let tape = Tape::new(&graph, &values(&graph, &stated), &vec![true; 500], &[sum]);
    assert_eq!(tape.registers(), 2);
}

#[test]
fn a_run_can_be_stopped_and_watched() {
    let mut graph = Graph::default();
    let leaf = graph.leaf();
    let tape = Tape::new(&graph, &[1.0], &[true], &[leaf]);
    let (stop, done) = (AtomicBool::new(true), AtomicU64::new(0));
    let how = How { stop: Some(&stop), done: Some(&done), ..How::default() };
    assert!(tape.run(&Given(|_, _| 1.0), 0..10, how).is_none());
    stop.store(false, std::sync::atomic::Ordering::Relaxed);
    assert_eq!(tape.run(&Given(|_, _| 1.0), 0..10, how).expect("not stopped")[0].len(), 10 * LANES);
    assert_eq!(done.into_inner(), 10);
}
