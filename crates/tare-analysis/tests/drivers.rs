//! What drives a range, what to find out next, and what leaves do together: against closed forms on studies that are sums.

use std::sync::atomic::AtomicBool;
use tare_analysis::{
    Layout, Options, Plan, Sampling, Search, Stop, about, causes, drivers, first_order, next_steps, screen, spread,
};
use tare_engine::stats::Sample;
use tare_engine::{How, Tape};
use tare_library::Library;
use tare_model::{Document, DocumentKind, Field, FieldValue, Id, Kind, Record};
use tare_study::{LineRef, Sources, Study, compile};

/// A product of parts that are weighed, each with a text for its mass; `together` are correlation records: leaves and coefficient.
fn weighed(masses: &[&str], together: &[(&str, &str)]) -> Study {
    let mut next = 0;
    let mut records = Vec::new();
    let mut record = |kind, parent: Option<Id>, texts: &[(Field, &str)]| {
        next += 1;
        let mut record = Record::new(Id(next), kind).ordered(format!("a{next:03}"));
        record.parent = parent;
        for (field, text) in texts {
            record = record.with_text(*field, *text);
        }
        records.push(record);
        Id(next)
    };
    record(Kind::Study, None, &[(Field::Name, "Sum"), (Field::Currency, "EUR"), (Field::Book, "region-a")]);
    let top = record(Kind::Item, None, &[(Field::Name, "Product"), (Field::Form, "assembly")]);
    let root = record(Kind::Part, None, &[]);
    let mut parts = vec![(root, top)];
    for (number, mass) in masses.iter().enumerate() {
        let item = record(Kind::Item, None, &[(Field::Name, &format!("Piece {number}")), (Field::Make, "buy")]);
        let values = [(Field::Quantity, "mass"), (Field::Text, *mass), (Field::Evidence, "assumed")];
        record(Kind::Value, Some(item), &values);
        parts.push((record(Kind::Part, Some(root), &[]), item));
    }
    for (leaves, coefficient) in together {
        record(Kind::Correlation, None, &[(Field::Leaves, leaves), (Field::Text, coefficient), (Field::Source, "own")]);
    }
    for (part, item) in parts {
        let fields = &mut records.iter_mut().find(|r| r.id == part).expect("it was made").fields;
        fields.set(Field::Item, Some(FieldValue::Ref(item)));
        fields.set(Field::Count, Some(FieldValue::Number(1.0)));
    }
    let document = Document::from_records(Id(0xface), DocumentKind::Study, records);
    let (library, _) = Library::embedded();
    compile(Sources { study: &document, books: &[], library: &library })
}

fn mass(study: &Study) -> LineRef {
    study.totals.mass.expect("a mass")
}

/// The addresses of the masses, in their order.
fn leaves(study: &Study) -> Vec<String> {
    let leaves = (0..study.lines.leaves.len() as u32).map(LineRef::Leaf);
    leaves.filter(|leaf| study.lines.name(*leaf) == "mass").map(|leaf| study.lines.address(leaf)).collect()
}

fn drawn(study: &Study, draws: u64, layout: Layout) -> Sample {
    let options = Options { most: draws, least: draws, layout, ..Options::default() };
    let found = spread(study, &Sampling::new(study, 1), &[mass(study)], options, Stop::default()).expect("not stopped");
    found.ranged[0].draws.clone()
}

/// Standard uncertainties 3, 2 and 1 g: shares 9, 4 and 1 of 14 of the variance, alone and with others the same.
#[test]
fn the_indices_of_a_sum_are_the_shares_of_its_variance() {
    let study = weighed(&["100 +- 4 g", "100 +- 6 g", "100 +- 2 g"], &[]);
    let sampling = Sampling::new(&study, 1);
    let found = drivers(&study, &sampling, mass(&study), Search { draws: 65_536, ..Search::default() }, Stop::default());
    let found = found.expect("not stopped");
    let names = leaves(&study);
    let order: Vec<usize> =
        found.rows.iter().map(|row| names.iter().position(|n| *n == study.lines.address(row.leaf)).expect("a mass")).collect();
    assert_eq!(order, [1, 0, 2]);
    assert!((found.deviation - 14.0_f64.sqrt() * 1e-3).abs() < 0.01 * found.deviation, "{}", found.deviation);
    let whole: f64 = found.rows.iter().map(|row| row.indices.first).sum();
    assert!((whole - 1.0).abs() < 0.05, "{whole}");
    for (row, u) in found.rows.iter().zip([3.0, 2.0, 1.0]) {
        let share = u * u * 1e-6 / (found.deviation * found.deviation);
        assert!((row.indices.first - share).abs() < 4.0 * row.indices.first_error, "{row:?} against {share}");
        assert!((row.indices.total - share).abs() < 4.0 * row.indices.total_error, "{row:?} against {share}");
        // 95 % of a normal leaf is 1.96 u to each side, and the sum goes with it
        let reach = 0.5 * (row.results[1] - row.results[0]);
        assert!((reach - 1.959_964 * u * 1e-3).abs() < 1e-6, "{reach}");
    }
}

/// u^2 = u1^2 + u2^2 + 2 r u1 u2, by the draws, the slopes and the budget.
#[test]
fn masses_that_move_together_add_up_as_they_should() {
    for r in [0.8_f64, 0.0, -0.5, 1.0, -1.0] {
        let alone = weighed(&["100 +- 6 g", "100 +- 4 g"], &[]);
        let names = leaves(&alone).join(", ");
        let study = weighed(&["100 +- 6 g", "100 +- 4 g"], &[(&names, &r.to_string())]);
        assert!(study.problems.iter().all(|p| p.code != "correlation"), "{:?}", study.problems);
        let due = (9.0 + 4.0 + 12.0 * r).sqrt() * 1e-3;
        let by_draws = drawn(&study, 200_000, Layout::Random).deviation();
        assert!((by_draws - due).abs() < 0.01 * due, "{by_draws} against {due}");
        let by_slopes = study.standard_uncertainty(mass(&study));
        let by_budget = first_order(&study, &Sampling::new(&study, 1), mass(&study), 1).uncertainty;
        assert!((by_slopes - due).abs() < 1e-9 && (by_budget - due).abs() < 1e-9, "{by_slopes} {by_budget} against {due}");
    }
}

#[test]
fn a_group_that_moves_together_is_one_driver() {
    let masses = ["100 +- 6 g", "100 +- 4 g", "100 +- 2 g"];
    let names = leaves(&weighed(&masses, &[]));
    let pattern = format!("item *{}", names[0].rsplit_once('/').map_or("", |_| "/mass"));
    let study = weighed(&masses, &[(&pattern, "0.5")]);
    assert_eq!(study.correlated.len(), 1, "{:?}", study.problems);
    let sampling = Sampling::new(&study, 1);
    let found = drivers(&study, &sampling, mass(&study), Search::default(), Stop::default()).expect("not stopped");
    assert_eq!((found.rows.len(), found.rows[0].with.len()), (1, 2));
    assert!((found.rows[0].indices.first - 1.0).abs() < 0.05 && found.rest() < 0.05, "{:?}", found.rows);
    // 9 + 4 + 1 + 2 * 0.5 * (6 + 3 + 2) = 25: five grams, 1.96 times to each side
    let reach = 0.5 * (found.rows[0].results[1] - found.rows[0].results[0]);
    assert!((reach - 1.959_964 * 5e-3).abs() < 1e-6, "{reach}");
}

#[test]
fn correlations_that_cannot_be_are_said_and_not_used() {
    let masses = ["100 +- 6 g", "100 +- 4 g", "100 +- 2 g"];
    let names = leaves(&weighed(&masses, &[]));
    let pair = |a: usize, b: usize| format!("{}, {}", names[a], names[b]);
    let said = |together: &[(&str, &str)]| {
        let study = weighed(&masses, together);
        let problems: Vec<String> =
            study.problems.iter().filter(|p| p.code == "correlation").map(|p| p.message.clone()).collect();
        (problems, study.correlated.len())
    };
    let (ab, bc, ac) = (pair(0, 1), pair(1, 2), pair(0, 2));
    for (together, part) in [
        (vec![(ab.as_str(), "1.1")], "between -1 and 1"),
        (vec![(ab.as_str(), "strong")], "`strong`"),
        (vec![(names[0].as_str(), "0.5")], "two inputs or more"),
        (vec![("item 77/mass, item 78/mass", "0.5")], "no input at"),
        (vec![("no*where", "0.5")], "is like"),
        (vec![("P0/mass/total, P0/cost", "0.5")], "`P0/"),
    ] {
        let (problems, used) = said(&together);
        assert!(problems.len() == 1 && problems[0].contains(part) && used == 0, "{part}: {problems:?}");
    }
    let (problems, used) = said(&[(ab.as_str(), "0.5"), (ab.as_str(), "0.6")]);
    assert!(problems.len() == 1 && problems[0].contains("stated already") && used == 1, "{problems:?}");
    let (problems, used) = said(&[(ab.as_str(), "0.9"), (bc.as_str(), "0.9"), (ac.as_str(), "-0.9")]);
    assert!(problems.len() == 1 && problems[0].contains("contradict") && used == 0, "{problems:?}");
}

#[test]
fn screening_passes_over_what_chance_brings() {
    let masses: Vec<String> = (0..300).map(|n| format!("100 +- {} g", if n == 7 { 40.0 } else { 0.01 })).collect();
    let masses: Vec<&str> = masses.iter().map(String::as_str).collect();
    let study = weighed(&masses, &[]);
    let sampling = Sampling::new(&study, 4);
    let node = study.lines.node(mass(&study));
    let tape = Tape::new(&study.lines.graph, &study.values, &sampling.random, &[node]);
    let results = tape.sample(&sampling.sampler, 0..8, How::default()).expect("not stopped").remove(0);
    let shares = screen(&sampling, tape.drawn(), &results, 2);
    assert_eq!(shares, screen(&sampling, tape.drawn(), &results, 1), "threads change nothing");
    let standing: Vec<&f64> = shares.iter().filter(|s| **s > 0.0).collect();
    assert!(standing.len() == 1 && *standing[0] > 0.9, "{standing:?}");
}

/// Weighing a mass known to 15 g (k = 1) to 0.4 per cent (k = 2) leaves the others: the promise is exact for a sum.
#[test]
fn the_first_step_is_the_reading_that_narrows_most_per_minute() {
    let (library, _) = Library::embedded();
    let study = weighed(&["100 +- 30 g", "100 +- 8 g", "100 +- 6 g"], &[]);
    let sampling = Sampling::new(&study, 1);
    let plan = Plan { draws: 65_536, ..Plan::default() };
    let list = next_steps(&study, &library, &sampling, mass(&study), &plan, Stop::default()).expect("not stopped");
    let names = leaves(&study);
    let order: Vec<String> = list.steps.iter().map(|step| study.lines.address(step.leaf)).collect();
    assert_eq!(order, names, "all three are worth it, the widest first");
    assert_eq!((list.steps[0].recipe.key.as_str(), list.stuck.len()), ("weigh", 0));
    // to 0.2 g each
    let left = |known: &[f64], open: &[f64]| {
        let squares = known.iter().map(|_| 0.04).sum::<f64>() + open.iter().map(|u| u * u).sum::<f64>();
        squares.sqrt() * 1e-3
    };
    let due = [left(&[1.0], &[4.0, 3.0]), left(&[1.0, 1.0], &[3.0]), left(&[1.0, 1.0, 1.0], &[])];
    for (step, due) in list.steps.iter().zip(due) {
        assert!((step.together - due).abs() < 0.02 * due, "{} against {due}", step.together);
    }
    assert!((list.steps[0].alone - due[0]).abs() < 0.02 * due[0]);
    assert!(list.steps[1].alone > 0.9 * list.deviation, "the second alone does little");
    let kinds: Vec<&str> = study.lines.leaves.iter().map(|leaf| about(&study.lines, &library, leaf)).collect();
    assert!(kinds.contains(&"item"), "{kinds:?}");
}

#[test]
fn numbers_laid_out_settle_sooner_and_say_the_same() {
    let study = weighed(&["100 +- 6 g", "100 .. 110 g", "100 .. 104 .. 120 g"], &[]);
    // means 100, 105 and 108 g
    let (mean, draws) = (0.313, 4_096);
    let error = |layout| (drawn(&study, draws, layout).mean() - mean).abs();
    let standard = drawn(&study, draws, Layout::Random).deviation() / (draws as f64).sqrt();
    assert!(error(Layout::Random) < 4.0 * standard);
    assert!(error(Layout::Hypercube) < 0.2 * standard && error(Layout::Sobol) < 0.2 * standard);
    let (one, other) = (drawn(&study, draws, Layout::Sobol), drawn(&study, draws, Layout::Sobol));
    assert_eq!(one.mean().to_bits(), other.mean().to_bits());
    let sure = drawn(&study, 65_536, Layout::Random).deviation();
    assert!((drawn(&study, draws, Layout::Sobol).deviation() / sure - 1.0).abs() < 0.02);
}

#[test]
fn a_stop_from_outside_ends_everything() {
    let study = weighed(&["100 +- 6 g", "100 +- 4 g"], &[]);
    let (library, _) = Library::embedded();
    let sampling = Sampling::new(&study, 1);
    let stop = AtomicBool::new(true);
    let stop = Stop { stop: Some(&stop), done: None };
    let line = mass(&study);
    assert!(spread(&study, &sampling, &[line], Options::default(), stop).is_none());
    assert!(drivers(&study, &sampling, line, Search::default(), stop).is_none());
    assert!(next_steps(&study, &library, &sampling, line, &Plan::default(), stop).is_none());
}

/// A spread of which much was cut is as wide as what is left, and stays above zero when it is known better.
#[test]
fn a_cut_spread_is_taken_as_it_is_drawn() {
    let (library, _) = Library::embedded();
    let study = weighed(&["10 +- 30 g"], &[]);
    let sampling = Sampling::new(&study, 1);
    let leaf = (0..study.lines.leaves.len() as u32).find(|l| study.lines.leaves[*l as usize].name == "mass").expect("a mass");
    // a quarter of a normal spread lies more than two thirds of its deviation below the mean
    let cut = sampling.cuts.iter().find(|cut| cut.leaf == LineRef::Leaf(leaf)).expect("it is cut");
    assert!((cut.share - 0.2525).abs() < 0.001, "{cut:?}");
    let (mean, deviation) = sampling.moments(&study.lines, leaf);
    let draws = drawn(&study, 65_536, Layout::Random);
    assert!((mean - draws.mean()).abs() < 0.02 * draws.mean() && (deviation - draws.deviation()).abs() < 0.03 * deviation);
    assert!(deviation < 0.9 * study.lines.leaves[leaf as usize].quantity.standard_uncertainty());
    let list = next_steps(&study, &library, &sampling, mass(&study), &Plan::default(), Stop::default()).expect("not stopped");
    assert!((list.steps[0].now - deviation).abs() < 1e-12 && list.steps[0].alone < 0.01 * deviation);
}

/// What moves together is drawn anew together, with the cause that most of it has, whatever the order of the leaves.
#[test]
fn causes_do_not_depend_on_the_order_of_leaves_that_move_together() {
    let masses = ["100 +- 8 g", "100 +- 6 g", "100 +- 2 g"];
    let names = leaves(&weighed(&masses, &[]));
    let share = |together: &[(&str, &str)]| {
        let study = weighed(&masses, together);
        let found = causes(&study, &Sampling::new(&study, 1), mass(&study), 8_192, 2, Stop::default()).expect("not stopped");
        assert_eq!(found.len(), 1, "all are assumed masses: {found:?}");
        found[0].alone
    };
    let forth = format!("{}, {}", names[0], names[1]);
    assert!((share(&[]) - 1.0).abs() < 0.06 && (share(&[(&forth, "0.9")]) - 1.0).abs() < 0.06);
}

#[test]
fn nothing_drives_what_does_not_vary() {
    let study = weighed(&["100 +- 0 g"], &[]);
    let sampling = Sampling::new(&study, 1);
    let found = drivers(&study, &sampling, mass(&study), Search::default(), Stop::default()).expect("not stopped");
    assert!(found.rows.is_empty() && found.failed == 0, "{found:?}");
    let (library, _) = Library::embedded();
    let list = next_steps(&study, &library, &sampling, mass(&study), &Plan::default(), Stop::default()).expect("not stopped");
    assert!(list.steps.is_empty() && list.stuck.is_empty());
}
