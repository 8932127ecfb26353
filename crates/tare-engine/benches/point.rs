//! Copies templates into a graph of about a million nodes, evaluates it, and takes the slopes of one result.

use divan::{Bencher, black_box};
use tare_engine::{Graph, NodeId, Op, Template, TemplateBuilder, eval_point, sensitivities};

const NODES: usize = 1_000_000;

fn main() {
    divan::main();
}

/// A calculation of 43 nodes with 12 parameters (the first is a running sum): mostly plain arithmetic, some choices, one
/// exponential and one logarithm.
fn template() -> Template {
    let mut build = TemplateBuilder::new(12);
    let mut last = build.param(1);
    for step in 0..38 {
        let param = build.param(1 + step % 11);
        last = match step % 19 {
            4 => build.push(Op::Max, &[last, param]),
            7 => build.push(Op::Div, &[param, last]),
            9 | 17 if (step < 19) == (step % 19 == 9) => {
                let curved = build.push(if step < 19 { Op::Ln } else { Op::Exp }, &[param]);
                build.push(Op::Add, &[last, curved])
            }
            9 => build.push(Op::Neg, &[last]),
            11 => build.push(Op::If, &[param, last, param]),
            15 => build.push(Op::Abs, &[last]),
            step if step % 2 == 0 => build.push(Op::Mul, &[last, param]),
            _ => build.push(Op::Add, &[last, param]),
        };
    }
    let two = build.constant(2.0);
    let share = build.push(Op::Div, &[last, two]);
    let sum = build.param(0);
    build.push(Op::Add, &[sum, share]);
    build.finish()
}

/// Copies the template until the graph is full; each copy adds to the sum of the one before.
fn fill(template: &Template) -> Graph {
    let mut graph = Graph::default();
    let leaves: Vec<NodeId> = (0..1000).map(|_| graph.leaf()).collect();
    let mut params = leaves[..12].to_vec();
    for copy in 0..NODES / template.len() {
        let base = graph.instantiate(template, &params);
        for (k, param) in params.iter_mut().enumerate() {
            *param = leaves[(copy * 7 + k * 13) % leaves.len()];
        }
        params[0] = base + template.len() as u32 - 1;
    }
    graph
}

#[divan::bench]
fn copy(bencher: Bencher) {
    let template = template();
    bencher.bench(|| fill(black_box(&template)));
}

#[divan::bench]
fn evaluate(bencher: Bencher) {
    let graph = fill(&template());
    let leaves = vec![1.25; graph.leaves as usize];
    let mut values = Vec::new();
    bencher.bench_local(move || {
        eval_point(black_box(&graph), &leaves, &mut values);
        values.last().copied()
    });
}

#[divan::bench]
fn slopes(bencher: Bencher) {
    let graph = fill(&template());
    let leaves = vec![1.25; graph.leaves as usize];
    let mut values = Vec::new();
    eval_point(&graph, &leaves, &mut values);
    let result = graph.nodes.len() as u32 - 1;
    // the sweep leaves out nodes with slope 0, so the result must hang on the first copy
    assert!(sensitivities(&graph, &values, result).iter().all(|slope| slope.is_finite()), "the chain overflowed");
    assert!(graph.needed(&[result]).iter().filter(|needed| **needed).count() > NODES * 9 / 10, "the chain is broken");
    bencher.bench(|| sensitivities(black_box(&graph), &values, result));
}
