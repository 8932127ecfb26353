//! Ranges of generated studies: settled, the same whatever the threads, and explained by their causes.

use tare_analysis::{Cause, Options, Sampling, Stop, causes, spread};
use tare_engine::Width;
use tare_library::Library;
use tare_study::generate::{Size, study};
use tare_study::{LineRef, Sources, Study, compile};

fn generated() -> Study {
    let (library, _) = Library::embedded();
    let document = study(Size { parts: 60, items: 25, joints: 12 }, 3);
    compile(Sources { study: &document, books: &[], library: &library })
}

fn total(study: &Study) -> LineRef {
    study.totals.cost.expect("a total")
}

#[test]
fn a_total_settles_and_agrees_with_the_first_order_where_steps_are_few() {
    let study = generated();
    let sampling = Sampling::new(&study, 1);
    let watched = [total(&study), study.totals.mass.expect("a mass")];
    let found = spread(&study, &sampling, &watched, Options::default(), Stop::default()).expect("not stopped");
    assert!(found.settled && found.draws >= 20_000 && found.failures.is_empty(), "{} draws, {:?}", found.draws, found.failures);
    // a mass is a sum of products: the first order is right to a few per cent
    let mass = &found.ranged[1];
    let first = study.standard_uncertainty(mass.line);
    assert!((mass.draws.deviation() / first - 1.0).abs() < 0.05, "{} against {first}", mass.draws.deviation());
    let stated = study.value(mass.line);
    assert!((mass.draws.mean() - stated).abs() < 0.05 * mass.draws.deviation(), "{} against {stated}", mass.draws.mean());
    // a total may not look surer than its methods: skewed spreads and shared factors keep it above two per cent
    let cost = &found.ranged[0].draws;
    assert!(cost.deviation() / cost.mean() > 0.02, "{}", cost.deviation() / cost.mean());
}

#[test]
fn the_same_bits_for_any_threads_and_instructions() {
    let study = generated();
    let sampling = Sampling::new(&study, 5);
    let of = |threads, width| {
        let options = Options { threads, width, most: 3_000, ..Options::default() };
        let found = spread(&study, &sampling, &[total(&study)], options, Stop::default()).expect("not stopped");
        (found.ranged[0].draws.mean().to_bits(), found.ranged[0].draws.quantile(0.9).to_bits())
    };
    let first = of(1, Width::Least);
    for (threads, width) in [(2, Width::Least), (7, Width::Most), (1, Width::Middle), (1, Width::Most)] {
        assert_eq!(of(threads, width), first, "{threads} {width:?}");
    }
}

#[test]
fn each_draw_is_the_whole_study_computed_again() {
    let study = generated();
    let sampling = Sampling::new(&study, 2);
    let options = Options { most: 128, ..Options::default() };
    let found = spread(&study, &sampling, &[total(&study)], options, Stop::default()).expect("not stopped");
    let mut sum = Vec::new();
    for draw in 0..128 {
        let mut values = Vec::new();
        tare_engine::eval_point(&study.lines.graph, &sampling.leaf_values(&study.lines, draw), &mut values);
        sum.push(study.lines.value(total(&study), &values));
    }
    assert_eq!(tare_engine::stats::Sample::new(&sum).mean().to_bits(), found.ranged[0].draws.mean().to_bits());
}

#[test]
fn shares_of_causes_add_up_to_about_one() {
    let study = generated();
    let sampling = Sampling::new(&study, 1);
    let shares = causes(&study, &sampling, total(&study), 8_192, 2, Stop::default()).expect("not stopped");
    let alone: f64 = shares.iter().map(|s| s.alone).sum();
    let together: f64 = shares.iter().map(|s| s.with_others).sum();
    assert!(alone > 0.7 && alone < 1.1 && together > 0.9 && together < 1.4, "{alone} {together} {shares:?}");
    assert!(shares.iter().any(|s| s.cause == Cause::Method && s.leaves > 3), "{shares:?}");
    for share in &shares {
        assert!(share.with_others > share.alone - 0.08, "{share:?}");
    }
}

/// Streams are named by what leaves are: a changed value keeps its numbers.
#[test]
fn variants_are_compared_draw_by_draw() {
    let study = generated();
    let mut other = study.clone();
    let changed = other.lines.leaves.iter().position(|l| l.name == "mass" && l.quantity.spread.is_some()).expect("a mass");
    other.lines.leaves[changed].quantity.value *= 1.01;
    other.values = other.lines.evaluate();
    let (one, two) = (Sampling::new(&study, 1), Sampling::new(&other, 1));
    let (a, b) = (one.leaf_values(&study.lines, 17), two.leaf_values(&other.lines, 17));
    let differ: Vec<usize> = (0..a.len()).filter(|k| a[*k].to_bits() != b[*k].to_bits()).collect();
    assert_eq!(differ, [changed]);
}
