//! Whole generated studies: every line that a total rests on, and every line there is.

use super::again::{Again, again};
use std::collections::BTreeSet;
use tare_library::Library;
use tare_study::generate::{Size, study};
use tare_study::{LineRef, Sources, Study, compile};

fn generated(seed: u64) -> Study {
    let (library, _) = Library::embedded();
    let document = study(Size { parts: 60, items: 25, joints: 12 }, seed);
    compile(Sources { study: &document, books: &[], library: &library })
}

/// Works out again whatever has a formula; says how many lines that were.
fn check(steps: impl Iterator<Item = tare_study::Step>) -> usize {
    let (mut same, mut wrong) = (0, Vec::new());
    for step in steps {
        match again(&step) {
            Again::Same => same += 1,
            Again::Nothing => {}
            Again::Differs(said) => wrong.push(said),
        }
    }
    let kinds: BTreeSet<&str> =
        wrong.iter().filter_map(|w| w.split_once('\n').map(|(_, rest)| rest.lines().next().unwrap_or(""))).collect();
    assert!(
        wrong.is_empty(),
        "{} of {} differ, {} formulas; first:\n{}\n{kinds:#?}",
        wrong.len(),
        wrong.len() + same,
        kinds.len(),
        wrong[0]
    );
    same
}

/// Everything the product's cost rests on.
#[test]
fn the_explanation_of_a_cost_gives_its_number_again() {
    for seed in [1, 2, 3] {
        let study = generated(seed);
        let explanation = study.explain(study.totals.cost.expect("a cost"), usize::MAX);
        assert_eq!(explanation.left_out, 0);
        let same = check(explanation.steps.into_iter());
        assert!(same > 500, "{same}");
    }
}

/// Every line of every block, whatever rests on it.
#[test]
fn every_line_gives_its_number_again() {
    let study = generated(7);
    let first = |line: &LineRef| matches!(line, LineRef::Line { element: 0, .. });
    let lines = (0..study.lines.blocks.len() as u32).flat_map(|b| study.lines.lines_of(b)).filter(first);
    let shown = lines.filter(|line| !study.lines.name(*line).contains('#'));
    let same = check(shown.map(|line| study.step(line)));
    assert!(same > 2000, "{same}");
}

/// What an explanation names is explained too, down to leaves with evidence and a source.
#[test]
fn an_explanation_goes_down_to_leaves() {
    let study = generated(4);
    let explanation = study.explain(study.totals.cost.expect("a cost"), usize::MAX);
    let explained: BTreeSet<String> = explanation.steps.iter().map(|s| s.address.clone()).collect();
    let lines: BTreeSet<LineRef> = explanation.steps.iter().map(|s| s.line).collect();
    assert_eq!(lines.len(), explanation.steps.len(), "each line is explained once, whoever passes it on");
    for step in &explanation.steps {
        assert_eq!(step.formula.is_empty(), step.evidence.is_some(), "{}", step.address);
        assert!(!step.formula.is_empty() || !step.source.is_empty(), "{} has no source", step.address);
        for line in step.names.iter().flat_map(|n| &n.lines) {
            let address = study.step(*line).address;
            let whole = address.split_once('[').map_or(address.as_str(), |(a, _)| a);
            assert!(
                explained.iter().any(|e| e == &address || e.split_once('[').is_some_and(|(a, _)| a == whole)),
                "{address} is named and not explained"
            );
        }
    }
}

/// A column read straight off a pick stands in the text as well.
#[test]
fn direct_picks_are_in_the_text() {
    let study = generated(7);
    let lines = (0..study.lines.blocks.len() as u32).flat_map(|b| study.lines.lines_of(b));
    let direct: Vec<_> = lines
        .filter(|l| !study.lines.name(*l).contains('#'))
        .map(|l| study.step(l))
        .filter(|s| s.formula.contains("pick(") && s.formula.contains(")."))
        .collect();
    assert!(!direct.is_empty());
    for step in &direct {
        assert_eq!(again(step), Again::Same, "{}", step.address);
    }
}
