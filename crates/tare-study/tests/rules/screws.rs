//! Screws: tool pick-up, runs, layers, feeds.

use super::bench::{Bench, at, near, same, text};
use tare_model::{Field, FieldValue, Id};
use tare_study::{MotionKind, Study};

/// Two or three plates under M6 screws.
fn screwed(plates: usize, stated: &[(&str, &str)]) -> (Study, Id) {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let mut parts = Vec::new();
    for number in 0..plates {
        let plate = bench.bought(&format!("Plate {number}"), "0 EUR");
        parts.push(bench.bulk(plate, top, 1.0));
    }
    let screw = bench.bought("Screw M6", "0.05 EUR");
    bench.set(screw, Field::Form, text("fastener"));
    let count = stated.iter().find(|(q, _)| *q == "count").map_or(1.0, |(_, c)| c.parse().expect("a count"));
    let screws = bench.part(screw, Some(top), count);
    let joint = bench.joint("joints/screw-tapped-hole", &parts, &[("diameter", "6 mm"), ("engagement", "12 mm")]);
    bench.set(joint, Field::Fastener, FieldValue::Ref(screws));
    bench.values(joint, &[("yield", "1")]);
    bench.values(joint, stated);
    (bench.clean(), joint)
}

/// Manual seconds of the joint, all its screws.
fn manual(study: &Study) -> f64 {
    study.value(study.joints[0].manual.expect("a time"))
}

fn once(study: &Study, line: &str) -> f64 {
    at(study, &format!("joint joined/joint/{line}"))
}

/// Screws: tool picked up and put aside once per run of one bit in one place, then time per screw.
#[test]
fn the_tool_is_picked_up_once_per_run() {
    let (one, _) = screwed(2, &[("count", "1")]);
    let (many, _) = screwed(2, &[("count", "64")]);
    let (runs, _) = screwed(2, &[("count", "64"), ("runs", "4")]);
    // 2.075 s to take up the driver and put it aside (motion tables, check own-tool).
    let pick_up = once(&one, "pick_up.time");
    near(pick_up, 2.075, 0.001);
    let per_screw = manual(&one) - pick_up;
    near(manual(&many), 64.0 * per_screw + pick_up, 1e-6);
    near(manual(&runs), 64.0 * per_screw + 4.0 * pick_up, 1e-6);
    // 7.1953 s each as one of 64 in four runs (check own-screw-64).
    near(manual(&runs) / 64.0, 7.1953, 0.002);
}

/// A screw through three layers is one joint.
#[test]
fn three_layers_are_one_joint() {
    let (two, _) = screwed(2, &[("count", "8")]);
    let (three, joint) = screwed(3, &[("count", "8")]);
    assert_eq!(three.joints.len(), 1);
    assert_eq!((three.joints[0].id, three.joints[0].parts.len()), (joint, 3));
    same(manual(&three), manual(&two));
    // Eight screws listed, eight used.
    assert_eq!((three.fasteners[0].listed, three.fasteners[0].used), (8.0, 8.0));
    assert!(three.problems.iter().all(|d| d.code != "fasteners-differ"));
}

/// A captive screw needs no pick-up.
#[test]
fn a_captive_screw_needs_no_pick_up() {
    let (loose, _) = screwed(2, &[("count", "4"), ("feed", "hand")]);
    let (captive, _) = screwed(2, &[("count", "4"), ("feed", "captive")]);
    same(once(&captive, "get.time"), 0.0);
    assert!(once(&loose, "get.time") > 1.0);
    // It is still driven, and the tool still taken up.
    assert!(manual(&captive) > 4.0 * once(&captive, "run_down") + once(&captive, "pick_up.time"));
    assert!(manual(&captive) < manual(&loose));
}

/// Run-down is held by the operator: it is manual time and holds no station.
#[test]
fn run_down_is_the_operators_time() {
    let (short, _) = screwed(2, &[("engagement", "6 mm")]);
    let (long, _) = screwed(2, &[("engagement", "30 mm")]);
    near(manual(&long) - manual(&short), once(&long, "run_down") - once(&short, "run_down"), 1e-6);
    assert!(once(&long, "run_down") > 4.0 * once(&short, "run_down"));
    same(once(&long, "process"), 0.0);
}

/// Automatic feed, several spindles and two-pass tightening are variants.
#[test]
fn feeds_spindles_and_passes_are_variants() {
    let time = |stated: &[(&str, &str)]| manual(&screwed(2, &[&[("count", "16")], stated].concat()).0);
    let plain = time(&[]);
    assert!(time(&[("feed", "automatic")]) < time(&[("feed", "bit")]));
    assert!(time(&[("spindles", "2")]) < plain);
    assert!(time(&[("passes", "2")]) > plain);
}

/// Fasteners are handled by their joint, once: their part adds no handling.
#[test]
fn fasteners_are_handled_by_their_joint() {
    let (study, _) = screwed(2, &[("count", "8")]);
    let row = &study.assemblies[0];
    assert!(!row.by_kind.contains_key(&MotionKind::Handling));
    near(study.value(row.by_kind[&MotionKind::Joining]), manual(&study), 1e-9);
}

/// Fasteners listed against used: a difference is said with both numbers.
#[test]
fn fasteners_listed_but_not_used_are_said() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let screw = bench.bought("Screw", "0.05 EUR");
    bench.set(screw, Field::Form, text("fastener"));
    bench.part(screw, Some(top), 64.0);
    let study = bench.compile();
    let said = study.problems.iter().find(|d| d.code == "fasteners-differ").expect("a warning").to_string();
    assert!(said.contains("64") && said.contains("0 used"), "{said}");
}
