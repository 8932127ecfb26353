//! Ideal-time share and needed parts.

use super::bench::{Bench, at, near, same, text};
use tare_model::{Field, FieldValue, Id};
use tare_study::Study;

/// An assembly of a base, a cover and a label, needed as stated, under eight screws.
fn judged(needed: &[Option<f64>; 3]) -> (Bench, Vec<Id>) {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let mut parts = Vec::new();
    for (name, needed) in ["Base", "Cover", "Label"].iter().zip(needed) {
        let item = bench.bought(name, "1 EUR");
        let part = bench.part(item, Some(top), 1.0);
        if let Some(needed) = needed {
            bench.set(part, Field::Needed, FieldValue::Number(*needed));
        }
        parts.push(part);
    }
    let screw = bench.bought("Screw", "0.05 EUR");
    bench.set(screw, Field::Form, text("fastener"));
    let screws = bench.part(screw, Some(top), 8.0);
    let joint = bench.joint("joints/screw-tapped-hole", &parts[..2], &[("diameter", "6 mm"), ("count", "8")]);
    bench.set(joint, Field::Fastener, FieldValue::Ref(screws));
    parts.push(screws);
    (bench, parts)
}

fn share(study: &Study) -> f64 {
    study.value(study.assemblies[0].ideal_share.expect("a share"))
}

fn manual(study: &Study) -> f64 {
    study.value(study.assemblies[0].manual.expect("a time"))
}

/// Ideal-time share = 3 s x needed parts / basic manual time.
#[test]
fn three_seconds_per_needed_part_over_manual_time() {
    let study = judged(&[Some(1.0), Some(1.0), Some(0.0)]).0.clean();
    near(share(&study), 6.0 / manual(&study), 1e-12);
    assert_eq!(study.assemblies[0].needed, Some(2.0));
    // Parts put in, fasteners included.
    same(study.assemblies[0].parts, 11.0);
    // One assembly is the whole product: both say the same.
    near(study.value(study.totals.ideal_share.expect("a share")), share(&study), 1e-12);
    near(study.value(study.totals.manual.expect("a time")), manual(&study), 1e-9);
}

/// No allowance, cure, robot or test in it.
#[test]
fn no_allowance_in_the_share() {
    let (mut bench, _) = judged(&[Some(1.0), Some(1.0), Some(0.0)]);
    let before = share(&bench.clean());
    for (key, rate) in [("allowance", "30 %"), ("performance", "0.8"), ("line_loss", "20 %")] {
        bench.rate(bench.study, key, rate);
    }
    near(share(&bench.clean()), before, 1e-12);
}

/// No cure, robot or test in it: none of them is hands at work.
#[test]
fn no_cure_robot_or_test_in_the_share() {
    let (mut bench, parts) = judged(&[Some(1.0), Some(1.0), Some(0.0)]);
    bench.set(bench.study, Field::Book, text("region-a"));
    let before = share(&bench.clean());
    let held = |study: &Study, quantity: &str| at(study, &format!("{}/assembly {quantity} time/time", study.items[0].address));
    let mut cured = bench.clone();
    cured.joint("joints/test-glue", &parts[..2], &[("laid", "0 s"), ("cure_held", "600 s")]);
    let cured = cured.clean();
    near(held(&cured, "cure"), 600.0, 1e-9);
    near(share(&cured), before, 1e-12);
    let mut welded = bench.clone();
    welded.joint("joints/arc-seam", &parts[..2], &[("by", "robot"), ("length", "1 m"), ("leg", "4 mm"), ("yield", "1")]);
    let welded = welded.clean();
    assert!(held(&welded, "process") > 60.0);
    near(share(&welded), before, 1e-12);
    let pack = bench.clean().items[0].id;
    bench.operation(pack, "processes/station-manual", &[("process_time", "300 s")]);
    near(share(&bench.clean()), before, 1e-12);
}

/// The shares of currencies do not matter to it: a study needs no exchange rate for a time.
#[test]
fn the_share_needs_no_money() {
    let study = judged(&[Some(1.0), Some(1.0), Some(0.0)]).0.compile();
    assert!(study.problems.iter().all(|d| d.code != "exchange-missing"), "{:?}", study.problems);
}

/// Fasteners are never needed, whatever was judged.
#[test]
fn fasteners_are_never_needed() {
    let (mut bench, parts) = judged(&[Some(1.0), Some(1.0), Some(0.0)]);
    let before = bench.clean();
    bench.set(parts[3], Field::Needed, FieldValue::Number(8.0));
    let after = bench.clean();
    assert_eq!(after.assemblies[0].needed, Some(2.0));
    near(share(&after), share(&before), 1e-12);
}

/// Needed parts are a number from 0 to the quantity of each use.
#[test]
fn needed_is_at_most_the_quantity() {
    let study = judged(&[Some(1.0), Some(5.0), Some(0.5)]).0.clean();
    assert_eq!(study.assemblies[0].needed, Some(2.5));
}

/// A part that was not judged leaves the share out and is counted.
#[test]
fn an_unjudged_part_leaves_the_share_out() {
    let study = judged(&[Some(1.0), None, Some(0.0)]).0.clean();
    let row = &study.assemblies[0];
    assert!(row.ideal_share.is_none() && row.needed.is_none());
    assert_eq!(row.unjudged, 1);
    assert!(study.totals.ideal_share.is_none());
}

/// A bought assembly counts as one at its level: what is in it is its maker's.
#[test]
fn a_bought_assembly_counts_as_one() {
    let (mut bench, parts) = judged(&[Some(1.0), Some(1.0), Some(0.0)]);
    let before = bench.clean();
    // The cover turns out to be a bought assembly of five pieces.
    let inside = bench.bought("Inside", "0 EUR");
    bench.part(inside, Some(parts[1]), 5.0);
    let after = bench.clean();
    assert_eq!(after.assemblies.len(), 1);
    assert_eq!(after.assemblies[0].needed, Some(2.0));
    near(share(&after), share(&before), 1e-12);
    near(after.value(after.totals.ideal_share.expect("a share")), share(&before), 1e-12);
}

/// In the product a made sub-assembly is its parts: it is not counted beside them.
#[test]
fn a_made_sub_assembly_is_its_parts() {
    let mut bench = Bench::new();
    let (pack, module) = (bench.item("Pack"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.part(module, Some(top), 2.0);
    bench.set(inner, Field::Needed, FieldValue::Number(2.0));
    for (name, parent, count) in [("Tray", top, 1.0), ("Cell", inner, 3.0), ("Frame", inner, 1.0)] {
        let item = bench.bought(name, "1 EUR");
        let part = bench.part(item, Some(parent), count);
        bench.set(part, Field::Needed, FieldValue::Number(count));
    }
    let study = bench.clean();
    // Tray 1, and in each of two modules 3 cells and a frame: nine.
    let manual = study.value(study.totals.manual.expect("a time"));
    near(study.value(study.totals.ideal_share.expect("a share")), 27.0 / manual, 1e-12);
    // Where the modules are put in, they count as what is put in: two and the tray.
    assert_eq!(study.assemblies[0].needed, Some(3.0));
}
