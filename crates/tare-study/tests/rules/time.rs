//! Time: the chain from basic motions to paid time, two hands, heavy and long parts.

use super::bench::{Bench, at, kind, near, same};
use tare_model::Id;
use tare_study::{CostKind, MotionKind, Study};

/// A product of 100 s of basic manual work at one station; wage 36 EUR/h, so that a paid second costs a cent.
fn station(stated: &[(&str, &str)]) -> f64 {
    let mut bench = Bench::new();
    let plain = [
        ("manual_time", "100 s"),
        ("yield", "1"),
        ("allowance", "0"),
        ("performance", "1"),
        ("line_loss", "0"),
        ("setup", "0 s"),
        ("price", "0 EUR"),
        ("power", "0 kW"),
        ("floor", "0 m^2"),
    ];
    let (_, operation) = bench.product("processes/station-manual", &plain);
    bench.values(operation, stated);
    kind(&bench.clean(), CostKind::Labour) / 0.01
}

/// Allowance as x (1 + a) or / (1 - share of shift): 15 % is 1.150 or 1.176.
#[test]
fn allowance_on_top_or_as_a_share_of_the_shift() {
    near(station(&[]), 100.0, 1e-9);
    near(station(&[("allowance", "15 %"), ("allowance_form", "added")]), 115.0, 1e-9);
    near(station(&[("allowance", "15 %"), ("allowance_form", "share")]), 117.6, 0.05);
}

/// Chain, each once and named: basic motions, allowance, performance, line loss, paid time.
#[test]
fn each_step_of_the_chain_is_taken_once() {
    let all = [
        ("allowance", "15 %"),
        ("allowance_form", "share"),
        ("performance", "1.05"),
        ("process_time", "20 s"),
        ("line_loss", "8 %"),
    ];
    near(station(&all), (100.0 / 0.85 / 1.05 + 20.0) / 0.92, 1e-9);
    near(station(&all), 143.53, 0.005);
}

/// The wait for paced work takes no allowance and no performance.
#[test]
fn allowance_is_on_hands_not_on_machines() {
    near(station(&[("allowance", "15 %"), ("process_time", "60 s")]), 175.0, 1e-9);
}

/// An assembly of a base and a part with the values stated on part and item.
fn assembly(of_item: &[(&str, &str)], of_part: &[(&str, &str)]) -> (Study, Id) {
    let mut bench = Bench::new();
    let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "0 EUR"));
    let top = bench.part(pack, None, 1.0);
    let part = bench.part(plate, Some(top), 1.0);
    bench.values(plate, of_item);
    bench.values(part, of_part);
    (bench.clean(), part)
}

fn handling(study: &Study) -> f64 {
    study.value(study.assemblies[0].by_kind[&MotionKind::Handling])
}

/// Work without a part: two hands at once on an assembly.
fn both_hands(control: &str, left: &str, right: &str) -> f64 {
    let mut bench = Bench::new();
    let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "0 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(plate, top, 1.0);
    bench.operation(pack, "estimates/simultaneous-motions", &[("left", left), ("right", right), ("control", control)]);
    let study = bench.clean();
    study.value(study.assemblies[0].by_kind[&MotionKind::Other])
}

/// Simultaneous motions: the longer of the two if compatible, added when both need close positioning.
#[test]
fn simultaneous_motions_take_the_longer_or_the_sum() {
    near(both_hands("easy", "0.55 s", "0.67 s"), 0.67, 1e-9);
    near(both_hands("close", "0.71 s", "0.76 s"), 1.47, 1e-9);
}

/// Weight per hand = mass / hands: the second hand halves what each carries.
#[test]
fn weight_is_per_hand() {
    let mass = [("mass", "4 kg"), ("size", "200 mm")];
    let (one, part) = assembly(&mass, &[("two_hands", "no")]);
    let (two, _) = assembly(&mass, &[("two_hands", "yes")]);
    assert!(handling(&two) < handling(&one), "{} with two hands, {} with one", handling(&two), handling(&one));
    let label = &one.parts.iter().find(|p| p.id == part).expect("the part").label;
    same(at(&one, &format!("{label}/handling/hands")), 1.0);
    same(at(&two, &format!("{label}/handling/hands")), 2.0);
    // Two hands with twice the mass take as long as one with the single mass, up to what a second hand adds to the walk: none here.
    let (light, _) = assembly(&[("mass", "2 kg"), ("size", "200 mm")], &[("two_hands", "no")]);
    near(handling(&two), handling(&light), 1e-9);
}

/// Beyond the table a hoist, as process time.
#[test]
fn beyond_the_table_a_hoist_as_process_time() {
    let (by_hand, part) = assembly(&[("mass", "19 kg"), ("size", "500 mm")], &[]);
    let (by_hoist, _) = assembly(&[("mass", "60 kg"), ("size", "500 mm")], &[]);
    let label = &by_hand.parts.iter().find(|p| p.id == part).expect("the part").label;
    same(at(&by_hand, &format!("{label}/handling/process")), 0.0);
    let process = at(&by_hoist, &format!("{label}/handling/process"));
    assert!(process > 10.0, "{process}");
    // It is station time, not manual time.
    near(study_station(&by_hoist), process, 1e-9);
    near(study_station(&by_hand), 0.0, 1e-12);
}

/// Station time of the assembly from its parts and joints.
fn study_station(study: &Study) -> f64 {
    at(study, &format!("{}/assembly process time/time", study.items[0].address))
}

/// A two-metre part needs walking, by two.
#[test]
fn a_two_metre_part_needs_walking() {
    let (long, part) = assembly(&[("mass", "9 kg"), ("size", "2 m")], &[]);
    let (short, _) = assembly(&[("mass", "9 kg"), ("size", "1 m")], &[]);
    let label = &long.parts.iter().find(|p| p.id == part).expect("the part").label;
    same(at(&long, &format!("{label}/handling/walking")), 1.0);
    same(at(&short, &format!("{label}/handling/walking")), 0.0);
    // Carried by two from 2 m away: 11.46 s (library check own-handle-cover).
    near(handling(&long), 11.4554, 0.002);
    assert!(handling(&short) < 3.0);
}

/// A joint takes its time once per point: four cavities that are potted take four times as long as one.
#[test]
fn a_joint_takes_its_time_once_per_point() {
    let potted = |count: &str| {
        let mut bench = Bench::new();
        bench.set(bench.study, tare_model::Field::Book, super::bench::text("region-a"));
        let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "0 EUR"));
        let top = bench.part(pack, None, 1.0);
        let plates = bench.bulk(plate, top, 1.0);
        bench.joint("joints/potting", &[plates], &[("volume", "100 cm^3"), ("count", count), ("yield", "1")]);
        at(&bench.clean(), "joint joined/time/process_time")
    };
    // 100 cm^3 at 5 cm^3/s, 2 s on the way, 20 s of levelling.
    near(potted("1"), 42.0, 1e-6);
    near(potted("4"), 168.0, 1e-6);
}
