//! Building graphs and templates, and slopes against central differences.

use proptest::prelude::*;
use std::sync::Arc;
use tare_engine::{Graph, Match, NodeId, Op, Operand, Placed, TemplateBuilder, conformance, eval_point, sensitivities};

fn values(graph: &Graph, leaves: &[f64]) -> Vec<f64> {
    let mut out = Vec::new();
    eval_point(graph, leaves, &mut out);
    out
}

/// One key that serves needs up to its cell.
fn keys() -> Arc<[Match]> {
    Arc::from([Match::UpTo])
}

/// One operation on fresh leaves.
fn single(op: Op) -> Graph {
    let mut graph = Graph::default();
    let leaves: Vec<NodeId> = (0..op.arity().unwrap_or(4)).map(|_| graph.leaf()).collect();
    match op {
        Op::Pick => graph.pick(leaves[0], &leaves[1..]),
        Op::Find => graph.find(&keys(), &leaves[..1], &leaves[1..]),
        _ => graph.push(op, &leaves),
    };
    graph
}

/// The slopes of the last node of `graph` at `at`.
fn slopes(graph: &Graph, at: &[f64]) -> Vec<f64> {
    sensitivities(graph, &values(graph, at), graph.nodes.len() as NodeId - 1)
}

#[track_caller]
fn agrees_with_differences(op: Op, at: &[f64]) {
    let graph = single(op);
    let found = slopes(&graph, at);
    for leaf in 0..at.len() {
        let h = 1e-4 * at[leaf].abs().max(0.1);
        let moved = |by: f64| {
            let mut leaves = at.to_vec();
            leaves[leaf] += by;
            *values(&graph, &leaves).last().unwrap()
        };
        // five points: wrong by the fourth power of the step only
        let difference = (8.0 * (moved(h) - moved(-h)) - (moved(2.0 * h) - moved(-2.0 * h))) / (12.0 * h);
        let allowed = 1e-7 * difference.abs().max(1.0);
        assert!(
            (found[leaf] - difference).abs() <= allowed,
            "{} by leaf {leaf} at {at:?}: {} against {difference}",
            op.name(),
            found[leaf]
        );
    }
}

#[test]
fn slopes_agree_with_central_differences() {
    let at: &[(Op, &[&[f64]])] = &[
        (Op::Neg, &[&[1.3]]),
        (Op::Abs, &[&[1.3], &[-1.3], &[0.0]]),
        (Op::Sqrt, &[&[2.0], &[0.3]]),
        (Op::Exp, &[&[1.3], &[-2.0]]),
        (Op::Ln, &[&[1.3], &[40.0]]),
        (Op::Log10, &[&[1.3], &[40.0]]),
        (Op::Floor, &[&[1.3]]),
        (Op::Ceil, &[&[1.3]]),
        (Op::Round, &[&[1.3]]),
        (Op::Sin, &[&[1.3], &[-4.0]]),
        (Op::Cos, &[&[1.3], &[-4.0]]),
        (Op::Tan, &[&[1.3], &[-4.0]]),
        (Op::Asin, &[&[0.3], &[-0.9]]),
        (Op::Acos, &[&[0.3], &[-0.9]]),
        (Op::Atan, &[&[0.3], &[-9.0]]),
        (Op::Not, &[&[1.0]]),
        (Op::NormalInv, &[&[0.3], &[0.99]]),
        (Op::Add, &[&[1.3, 2.0]]),
        (Op::Sub, &[&[1.3, 2.0]]),
        (Op::Mul, &[&[1.3, 2.0], &[0.0, 2.0]]),
        (Op::Div, &[&[1.3, 2.0], &[0.0, -2.0]]),
        (Op::Pow, &[&[1.3, 2.0], &[0.4, -1.7], &[3.0, 0.5]]),
        (Op::Min, &[&[1.3, 2.0], &[2.0, 1.3], &[2.0, 2.0]]),
        (Op::Max, &[&[1.3, 2.0], &[2.0, 1.3], &[2.0, 2.0]]),
        (Op::Lt, &[&[1.3, 2.0]]),
        (Op::Le, &[&[1.3, 2.0]]),
        (Op::Gt, &[&[1.3, 2.0]]),
        (Op::Ge, &[&[1.3, 2.0]]),
        (Op::Eq, &[&[1.3, 2.0]]),
        (Op::Ne, &[&[1.3, 2.0]]),
        (Op::And, &[&[1.0, 2.0]]),
        (Op::Or, &[&[1.0, 2.0]]),
        (Op::If, &[&[1.0, 5.0, 6.0]]),
        (Op::BetaInv, &[&[0.3, 2.0, 3.5], &[0.9, 4.0, 1.5]]),
        (Op::Find, &[&[1.5, 1.0, 2.0, 3.0]]),
    ];
    for (op, points) in at {
        points.iter().for_each(|point| agrees_with_differences(*op, point));
    }
    // every operator stands here; a pick's index and an if's false side cannot be moved by a little
    let covered: Vec<Op> = at.iter().map(|(op, _)| *op).collect();
    let wanted: Vec<Op> = conformance::MEANINGS.iter().map(|(op, _)| *op).filter(|op| *op != Op::Pick).collect();
    assert_eq!(covered, wanted);
}

#[test]
fn choices_pass_slopes_to_the_chosen_only() {
    assert_eq!(slopes(&single(Op::If), &[0.0, 5.0, 6.0]), [0.0, 0.0, 1.0]);
    assert_eq!(slopes(&single(Op::Pick), &[2.0, 5.0, 6.0, 7.0]), [0.0, 0.0, 0.0, 1.0]);
    assert!(slopes(&single(Op::Pick), &[3.0, 5.0, 6.0, 7.0])[1..].iter().all(|slope| slope.is_nan()));
    assert!(slopes(&single(Op::If), &[f64::NAN, 5.0, 6.0])[1..].iter().all(|slope| slope.is_nan()));
    // the logarithm not taken is infinite and does not matter: if(x > 0, ln(x), x) at 0
    let mut graph = Graph::default();
    let x = graph.leaf();
    let zero = graph.constant(0.0);
    let positive = graph.push(Op::Gt, &[x, zero]);
    let logarithm = graph.push(Op::Ln, &[x]);
    graph.push(Op::If, &[positive, logarithm, x]);
    assert_eq!(slopes(&graph, &[0.0]), [1.0]);
    assert_eq!(slopes(&graph, &[4.0]), [0.25]);
}

#[test]
fn whole_powers_of_negative_numbers_have_slopes() {
    let mut graph = Graph::default();
    let x = graph.leaf();
    let three = graph.constant(3.0);
    graph.push(Op::Pow, &[x, three]);
    assert_eq!(slopes(&graph, &[-2.0]), [12.0]);
    assert_eq!(slopes(&graph, &[0.0]), [0.0]);
    // the exponent of a negative base has no slope, and says so
    assert!(slopes(&single(Op::Pow), &[-2.0, 3.0])[1].is_nan());
}

#[test]
fn shared_leaves_add_their_slopes() {
    let mut graph = Graph::default();
    let x = graph.leaf();
    let square = graph.push(Op::Mul, &[x, x]);
    graph.push(Op::Add, &[square, x]);
    assert_eq!(slopes(&graph, &[3.0]), [7.0]);
}

#[test]
fn needed_follows_operands_and_lists() {
    let mut graph = Graph::default();
    let (a, b, c) = (graph.leaf(), graph.leaf(), graph.leaf());
    let spare = graph.push(Op::Neg, &[b]);
    let picked = graph.pick(a, &[a, c]);
    assert_eq!(graph.operands(picked).collect::<Vec<_>>(), [a, a, c]);
    assert_eq!(graph.operands(a).count(), 0);
    let needed = graph.needed(&[picked]);
    assert_eq!(needed, [true, false, true, false, true]);
    assert_eq!(graph.needed(&[picked, spare]), [true; 5]);
    assert_eq!(graph.needed(&[]), [false; 5]);
}

#[test]
fn what_every_copy_shares_is_worked_out_once() {
    let mut build = TemplateBuilder::new(3);
    let (need, step, price) = (build.param(0), build.param(1), build.param(2));
    let two = build.constant(2.0);
    let larger = build.push(Op::Mul, &[step, two]);
    let row = build.find(&keys(), &[need], &[step, larger]);
    let dearer = build.push(Op::Mul, &[price, two]);
    let picked = build.pick(row, &[price, dearer]);
    let template = build.finish();
    let mut graph = Graph::default();
    let (a, b, step, price) = (graph.leaf(), graph.leaf(), graph.leaf(), graph.leaf());
    let settled = graph.settle(&template, &[None, Some(step), Some(price)]);
    assert_eq!((settled.template.len(), settled.template.params), (2, 1));
    let args = graph.args.len();
    let first = graph.instantiate(&settled.template, &[a]);
    let second = graph.instantiate(&settled.template, &[b]);
    assert_eq!((graph.args.len(), graph.searches.len()), (args + 2, 1), "a copy adds its need, not the table");
    let Operand::Inner(picked) = picked else { panic!("a node") };
    let Placed::Own(picked) = settled.inner[picked as usize] else { panic!("each copy's own") };
    let found = values(&graph, &[0.5, 1.5, 1.0, 7.0]);
    assert_eq!([found[(first + picked) as usize], found[(second + picked) as usize]], [7.0, 14.0]);
}

#[test]
#[should_panic(expected = "bug: add pushed with 1 operands")]
fn a_wrong_number_of_operands_is_a_bug() {
    let mut graph = Graph::default();
    let a = graph.leaf();
    graph.push(Op::Add, &[a]);
}

#[test]
#[should_panic(expected = "bug: operand 1 is not among the 1 nodes so far")]
fn an_operand_must_come_first() {
    let mut graph = Graph::default();
    let a = graph.leaf();
    graph.push(Op::Add, &[a, 1]);
}

#[test]
fn constants_of_a_template_are_shared_by_bits() {
    let mut build = TemplateBuilder::new(0);
    assert_eq!(build.constant(2.0), build.constant(2.0));
    assert_ne!(build.constant(0.0), build.constant(-0.0));
    assert_eq!(build.len(), 3);
}

#[test]
fn a_template_may_only_pass_parameters_through() {
    let mut build = TemplateBuilder::new(0);
    let param = build.add_param();
    let template = build.finish();
    let mut graph = Graph::default();
    let leaf = graph.leaf();
    let base = graph.instantiate(&template, &[leaf]);
    assert!(template.is_empty());
    assert_eq!(template.node(param, base, &[leaf]), leaf);
}

/// One step of a random building plan: operator and where its operands are taken from.
type Step = (usize, [usize; 5]);

fn plan() -> impl Strategy<Value = Vec<Step>> {
    proptest::collection::vec((0..conformance::MEANINGS.len() + 1, any::<[usize; 5]>()), 1..60)
}

proptest! {
    /// A template copied twice computes, in each copy, what the same steps give when put into a graph directly; so does a copy of what
    /// is left of it when the last parameter is bound for good.
    #[test]
    fn a_copy_is_the_same_as_building_directly(steps in plan(), leaves in proptest::collection::vec(-3.0..3.0_f64, 6)) {
        let mut build = TemplateBuilder::new(3);
        let mut operands: Vec<Operand> = (0..3).map(|param| build.param(param)).collect();
        for (number, from) in &steps {
            let at = from.map(|k| operands[k % operands.len()]);
            let added = match conformance::MEANINGS.get(*number) {
                None => build.constant((from[0] % 7) as f64),
                Some((Op::Pick, _)) => build.pick(at[0], &at[1..]),
                Some((Op::Find, _)) => build.find(&keys(), &at[..1], &at[1..]),
                Some((op, _)) => build.push(*op, &at[..op.arity().unwrap()]),
            };
            operands.push(added);
        }
        let template = build.finish();

        let mut copied = Graph::default();
        let params: Vec<NodeId> = (0..6).map(|_| copied.leaf()).collect();
        let bases = [copied.instantiate(&template, &params[..3]), copied.instantiate(&template, &params[3..])];
        let settled = copied.settle(&template, &[None, None, Some(params[5])]);
        let rest = copied.instantiate(&settled.template, &params[3..5]);
        let found = values(&copied, &leaves);
        prop_assert!(settled.template.len() <= template.len());
        for (inner, placed) in settled.inner.iter().enumerate() {
            let node = match placed {
                Placed::Shared(node) => *node,
                Placed::Own(own) => rest + own,
            };
            prop_assert!(conformance::same(found[node as usize], found[bases[1] as usize + inner]), "{inner} {placed:?}");
        }

        for (base, params, leaves) in [(bases[0], &params[..3], &leaves[..3]), (bases[1], &params[3..], &leaves[3..])] {
            let mut direct = Graph::default();
            let mut nodes: Vec<NodeId> = (0..3).map(|_| direct.leaf()).collect();
            for (number, from) in &steps {
                let at = from.map(|k| nodes[k % nodes.len()]);
                let added = match conformance::MEANINGS.get(*number) {
                    None => direct.constant((from[0] % 7) as f64),
                    Some((Op::Pick, _)) => direct.pick(at[0], &at[1..]),
                    Some((Op::Find, _)) => direct.find(&keys(), &at[..1], &at[1..]),
                    Some((op, _)) => direct.push(*op, &at[..op.arity().unwrap()]),
                };
                nodes.push(added);
            }
            let expected = conformance::reference(&direct, leaves);
            for (operand, node) in operands.iter().zip(&nodes) {
                let value = found[template.node(*operand, base, params) as usize];
                prop_assert!(conformance::same(value, expected[*node as usize]), "{operand:?}: {value} {}", expected[*node as usize]);
            }
        }
    }
}
