//! First-order and total indices of functions whose indices are known exactly.

use std::f64::consts::PI;
use tare_engine::indices::{Indices, indices};
use tare_engine::sample::{Distribution, Sampler, Source, Stream};
use tare_engine::{Graph, How, LANES, NodeId, Op, Tape, eval_point};

const CHUNKS: u64 = 512;
const DRAWS: f64 = (CHUNKS * LANES as u64) as f64;

/// A function of independent leaves.
struct Model {
    graph: Graph,
    result: NodeId,
    leaves: Vec<Distribution>,
}

impl Model {
    /// Draws, with the leaves that `second` names from a second set of numbers.
    fn run(&self, seed: u64, second: impl Fn(usize) -> bool) -> Vec<f64> {
        let source = |(leaf, distribution): (usize, &Distribution)| {
            let stream = Stream::new(&format!("leaf {leaf}"), if second(leaf) { seed + 1 } else { seed });
            Some(Source { stream, distribution: distribution.clone() })
        };
        let sampler = Sampler { sources: self.leaves.iter().enumerate().map(source).collect(), correlation: None };
        let mut stated = Vec::new();
        eval_point(&self.graph, &vec![0.5; self.leaves.len()], &mut stated);
        let tape = Tape::new(&self.graph, &stated, &vec![true; self.leaves.len()], &[self.result]);
        tape.sample(&sampler, 0..CHUNKS, How::default()).expect("not stopped").remove(0)
    }

    /// The indices of each leaf.
    fn indices(&self, seed: u64) -> Vec<Indices> {
        let (a, b) = (self.run(seed, |_| false), self.run(seed, |_| true));
        let of = |leaf| indices(&a, &b, &self.run(seed, |other| other == leaf)).expect("it varies");
        (0..self.leaves.len()).map(of).collect()
    }
}

/// Each index is within four of its standard errors of the exact one and those errors are no larger than 3 / sqrt(N), which is what the
/// literature expects of N draws.
#[track_caller]
fn close(found: &[Indices], first: &[f64], total: &[f64]) {
    assert_eq!((found.len(), found.len()), (first.len(), total.len()));
    let most = 3.0 / DRAWS.sqrt();
    for (leaf, (found, (first, total))) in found.iter().zip(first.iter().zip(total)).enumerate() {
        assert!(found.first_error < most && found.total_error < most, "leaf {leaf}: {found:?}");
        assert!((found.first - first).abs() < 4.0 * found.first_error, "leaf {leaf}: {found:?} against {first}");
        // the total index of what does nothing is 0 without any error
        assert!((found.total - total).abs() <= 4.0 * found.total_error, "leaf {leaf}: {found:?} against {total}");
        assert_eq!((found.used, found.left_out), (DRAWS as usize, 0));
    }
}

fn rectangular(low: f64, high: f64) -> Distribution {
    Distribution::Rectangular { low, high }
}

/// sin x1 + a sin^2 x2 + b x3^4 sin x1 on -pi .. pi, a = 7, b = 0.1.
fn ishigami() -> Model {
    let mut graph = Graph::default();
    let x: Vec<NodeId> = (0..3).map(|_| graph.leaf()).collect();
    let (a, b, two, four) = (graph.constant(7.0), graph.constant(0.1), graph.constant(2.0), graph.constant(4.0));
    let (sine, other) = (graph.push(Op::Sin, &[x[0]]), graph.push(Op::Sin, &[x[1]]));
    let square = graph.push(Op::Pow, &[other, two]);
    let second = graph.push(Op::Mul, &[a, square]);
    let power = graph.push(Op::Pow, &[x[2], four]);
    let third = graph.push(Op::Mul, &[b, power]);
    let third = graph.push(Op::Mul, &[third, sine]);
    let sum = graph.push(Op::Add, &[sine, second]);
    let result = graph.push(Op::Add, &[sum, third]);
    Model { graph, result, leaves: vec![rectangular(-PI, PI); 3] }
}

#[test]
fn ishigami_function() {
    // T. Ishigami, T. Homma, An importance quantification technique (ISUMA 1990); exact values as OpenTURNS 1.27 gives them (use case
    // ishigami_function): V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V13 = b^2 pi^8 (1/18 - 1/50)
    let first = [0.31390519114781146, 0.4424111447900409, 0.0];
    let total = [0.5575888552099592, 0.4424111447900409, 0.2436836640621477];
    close(&ishigami().indices(1), &first, &total);
}

#[test]
fn g_function_of_eight_leaves() {
    // product of (|4 x - 2| + a) / (1 + a) on 0 .. 1, SALib 1.6.0 test_functions/Sobol_G.py: V_i = 1 / (3 (1 + a_i)^2), V = prod(1 + V_i) - 1,
    // S_i = V_i / V, ST_i = V_i prod over the others of (1 + V_j) / V
    let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let parts = a.map(|a: f64| 1.0 / (3.0 * (1.0 + a) * (1.0 + a)));
    let product: f64 = parts.iter().map(|v| 1.0 + v).product();
    let first = parts.map(|v| v / (product - 1.0));
    let total = parts.map(|v| v * product / (1.0 + v) / (product - 1.0));
    // the values printed there
    for (found, printed) in first.iter().zip([0.7165, 0.1791, 0.0237, 0.0072, 0.0001]) {
        assert!((found - printed).abs() < 0.0004, "{found} against {printed}");
    }
    for (found, printed) in total.iter().zip([0.787144127, 0.242198193, 0.0343169102, 0.0104603871, 0.000104949052]) {
        assert!((found - printed).abs() < 1e-8, "{found} against {printed}");
    }

    let mut graph = Graph::default();
    let x: Vec<NodeId> = (0..8).map(|_| graph.leaf()).collect();
    let (four, two) = (graph.constant(4.0), graph.constant(2.0));
    let mut result = graph.constant(1.0);
    for (x, a) in x.iter().zip(a) {
        let (a, below) = (graph.constant(a), graph.constant(1.0 + a));
        let stretched = graph.push(Op::Mul, &[four, *x]);
        let moved = graph.push(Op::Sub, &[stretched, two]);
        let folded = graph.push(Op::Abs, &[moved]);
        let above = graph.push(Op::Add, &[folded, a]);
        let factor = graph.push(Op::Div, &[above, below]);
        result = graph.push(Op::Mul, &[result, factor]);
    }
    let model = Model { graph, result, leaves: vec![rectangular(0.0, 1.0); 8] };
    close(&model.indices(1), &first, &total);
}

#[test]
fn product_of_two_centred_leaves_is_interaction_alone() {
    // E[x1 x2 | x1] = 0, so that nothing goes away while only one is known, and nothing stays once both are
    let mut graph = Graph::default();
    let x = [graph.leaf(), graph.leaf()];
    let result = graph.push(Op::Mul, &x);
    let model = Model { graph, result, leaves: vec![rectangular(-1.0, 1.0); 2] };
    close(&model.indices(1), &[0.0, 0.0], &[1.0, 1.0]);
}

#[test]
fn linear_model_splits_its_variance() {
    // S_i = ST_i = (c_i u_i)^2 / sum (c_j u_j)^2 for c = 1, 2, 3 and u = 1, 1, 2: 1, 4 and 36 of 41
    let mut graph = Graph::default();
    let x: Vec<NodeId> = (0..4).map(|_| graph.leaf()).collect();
    let mut result = x[0];
    for (x, factor) in x[1..].iter().zip([2.0, 3.0, 0.0]) {
        let factor = graph.constant(factor);
        let term = graph.push(Op::Mul, &[factor, *x]);
        result = graph.push(Op::Add, &[result, term]);
    }
    // the mean is large against the deviation, which must not cost digits; the last leaf does nothing
    let normal = |deviation| Distribution::Normal { mean: 1e6, deviation };
    let model = Model { graph, result, leaves: vec![normal(1.0), normal(1.0), normal(2.0), normal(1.0)] };
    let exact = [1.0 / 41.0, 4.0 / 41.0, 36.0 / 41.0, 0.0];
    let found = model.indices(1);
    close(&found[..3], &exact[..3], &exact[..3]);
    assert_eq!((found[3].first, found[3].total, found[3].total_error), (0.0, 0.0, 0.0));
}

#[test]
fn standard_errors_are_the_scatter_between_seeds() {
    let model = ishigami();
    let seeds = 100;
    let found: Vec<Vec<Indices>> = (0..seeds).map(|k| model.indices(2 * k)).collect();
    for leaf in 0..3 {
        for name in ["first", "total"] {
            let of = |i: &Indices| if name == "first" { (i.first, i.first_error) } else { (i.total, i.total_error) };
            let found: Vec<(f64, f64)> = found.iter().map(|all| of(&all[leaf])).collect();
            let n = seeds as f64;
            let mean = found.iter().map(|(index, _)| index).sum::<f64>() / n;
            let scatter = found.iter().map(|(index, _)| (index - mean) * (index - mean)).sum::<f64>() / (n - 1.0);
            let stated = found.iter().map(|(_, error)| error * error).sum::<f64>() / n;
            // the relative deviation of a sample variance is sqrt(2 / (n - 1)) for normal draws; four of them
            assert!((scatter / stated - 1.0).abs() < 4.0 * (2.0 / (n - 1.0)).sqrt(), "leaf {leaf} {name}: {scatter} {stated}");
        }
    }
}
