//! Readings and the mass balance: one scale's errors, tare, bunches, the gap.

use super::bench::{Bench, near, same, text};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::{LineRef, MassHow, Study};

/// A scale with the errors stated, k = 2; it repeats exactly unless said otherwise, since an unknown repeatability would bring the default
/// spread of the quantity in (`rules/readings.rs`).
fn scale(bench: &mut Bench, errors: &[(&str, &str)]) -> Id {
    let scale = bench.add(Kind::Instrument, None, &[(Field::Name, text("Scale"))]);
    if errors.iter().all(|(error, _)| *error != "repeat") {
        bench.another(scale, "repeat", "0 g", "measured");
    }
    for (error, said) in errors {
        bench.another(scale, error, said, "measured");
    }
    scale
}

/// A reading on it.
fn read(bench: &mut Bench, subject: Id, shown: &str, on: Id) -> Id {
    let value = bench.another(subject, "mass", shown, "measured");
    bench.set(value, Field::Instrument, FieldValue::Ref(on));
    value
}

fn product(study: &Study) -> LineRef {
    study.totals.mass.expect("a mass")
}

/// A screw weighed once and multiplied by 64 has 64 times its error; it is not 64 screws weighed.
#[test]
fn a_screw_weighed_once_has_64_times_its_error() {
    let mut bench = Bench::new();
    let (pack, screw) = (bench.item("Pack"), bench.bought("Screw", "0.05 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(screw, top, 64.0);
    bench.value(screw, "mass", "10 +- 0.4 g");
    let study = bench.clean();
    near(study.value(product(&study)), 0.640, 1e-12);
    near(study.standard_uncertainty(product(&study)), 64.0 * 0.0002, 1e-12);
}

/// A bunch is one reading divided by its count: 64 weighed together have the error of that one reading.
#[test]
fn a_bunch_keeps_the_error_of_the_whole() {
    let mut bench = Bench::new();
    let (pack, screw) = (bench.item("Pack"), bench.bought("Screw", "0.05 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(screw, top, 64.0);
    let bunch = bench.value(screw, "mass", "640 +- 0.4 g");
    bench.set(bunch, Field::Number, FieldValue::Number(64.0));
    let study = bench.clean();
    near(study.value(product(&study)), 0.640, 1e-12);
    near(study.standard_uncertainty(product(&study)), 0.0002, 1e-12);
}

/// Two parts on one scale: its bias is shared, so that it adds up instead of cancelling.
#[test]
fn one_scales_bias_is_shared_by_two_readings() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let scale = scale(&mut bench, &[("zero", "0 +- 60 g"), ("gain", "0 +- 0.2 %")]);
    for name in ["Left", "Right"] {
        let part = bench.bought(name, "1 EUR");
        bench.bulk(part, top, 1.0);
        read(&mut bench, part, "10 kg", scale);
    }
    let study = bench.clean();
    near(study.value(product(&study)), 20.0, 1e-12);
    let named = |n: &str| study.lines.leaves.iter().filter(|l| l.name.starts_with(n)).count();
    assert_eq!((named("zero"), named("gain")), (1, 1));
    // 2 * 30 g of zero and 20 kg * 0.1 % of gain; apart it would be 42 g and 14 g.
    near(study.standard_uncertainty(product(&study)), 0.060f64.hypot(0.020), 1e-12);
}

/// Two scales do not share their bias.
#[test]
fn two_scales_have_a_bias_each() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for name in ["Left", "Right"] {
        let scale = scale(&mut bench, &[("zero", "0 +- 60 g")]);
        bench.set(scale, Field::Name, text(&format!("Scale {name}")));
        let part = bench.bought(name, "1 EUR");
        bench.bulk(part, top, 1.0);
        read(&mut bench, part, "10 kg", scale);
    }
    let study = bench.clean();
    near(study.standard_uncertainty(product(&study)), 0.030f64.hypot(0.030), 1e-12);
}

/// Scales of one name are still two scales.
#[test]
fn two_scales_of_one_name_have_a_bias_each() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for (name, zero) in [("Left", "10 +- 60 g"), ("Right", "50 +- 60 g")] {
        let scale = scale(&mut bench, &[("zero", zero)]);
        let part = bench.bought(name, "1 EUR");
        bench.bulk(part, top, 1.0);
        read(&mut bench, part, "10 kg", scale);
    }
    let study = bench.clean();
    near(study.value(product(&study)), 19.940, 1e-12);
    near(study.standard_uncertainty(product(&study)), 0.030f64.hypot(0.030), 1e-12);
}

/// Gross minus tare cancels the zero and keeps the gain.
#[test]
fn a_tare_cancels_the_zero_and_keeps_the_gain() {
    let mut bench = Bench::new();
    let (pack, nuts) = (bench.item("Pack"), bench.bought("Nuts", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(nuts, top, 1.0);
    let scale = scale(&mut bench, &[("zero", "5 +- 60 g"), ("gain", "0.1 +- 0.2 %")]);
    for (shown, method) in [("12.5 kg", None), ("2.5 kg", Some("tare"))] {
        let value = read(&mut bench, nuts, shown, scale);
        bench.set(value, Field::Set, text("first"));
        if let Some(method) = method {
            bench.set(value, Field::Method, text(method));
        }
    }
    let study = bench.clean();
    // 10 kg net, less 0.1 % of gain; no zero in the number nor in its error.
    near(study.value(product(&study)), 9.990, 1e-12);
    near(study.standard_uncertainty(product(&study)), 0.010, 1e-12);
}

/// Repeated readings are one set: their mean, with the scatter over the root of their number.
#[test]
fn repeats_scatter_over_the_root_of_their_number() {
    let mut bench = Bench::new();
    let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(plate, top, 1.0);
    let scale = scale(&mut bench, &[("repeat", "0 +- 40 g")]);
    for shown in ["10.00 kg", "10.02 kg", "9.98 kg", "10.00 kg", "10.00 kg"] {
        let value = read(&mut bench, plate, shown, scale);
        bench.set(value, Field::Set, text("first"));
    }
    let study = bench.clean();
    near(study.value(product(&study)), 10.0, 1e-12);
    // s = 14.14 g of five: s / sqrt(5) * sqrt(4 / 2), the spread of a t distribution (JCGM 101, 6.4.9).
    near(study.standard_uncertainty(product(&study)), 0.0002f64.sqrt() / 5f64.sqrt() * 2f64.sqrt(), 1e-9);
}

/// A whole of two parts, weighed on the scales named.
fn balance(parts_on_floor_scale: bool) -> (Study, LineRef) {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let floor = scale(&mut bench, &[("zero", "0 +- 60 g"), ("gain", "0 +- 0.02 %")]);
    let bench_scale = scale(&mut bench, &[("zero", "0 +- 2 g")]);
    bench.set(floor, Field::Name, text("Floor scale"));
    bench.set(bench_scale, Field::Name, text("Bench scale"));
    read(&mut bench, pack, "400 kg", floor);
    for (name, shown) in [("Tray", "250.0 kg"), ("Modules", "149.7 kg")] {
        let item = bench.bought(name, "1 EUR");
        bench.bulk(item, top, 1.0);
        read(&mut bench, item, shown, if parts_on_floor_scale { floor } else { bench_scale });
    }
    let study = bench.clean();
    let gap = study.mass[0].gap.expect("a gap");
    assert_eq!(study.mass[0].how, MassHow::Weighed);
    (study, gap)
}

/// A mass gap is judged by its uncertainty: 0.3 kg of 400 kg at 0.05 kg is six times what the scales explain.
#[test]
fn a_mass_gap_is_judged_by_its_uncertainty() {
    let (study, gap) = balance(false);
    near(study.value(gap), 0.300, 1e-9);
    // Floor scale 30 g and 400 kg * 0.01 %; bench scale 1 g twice, together.
    let u = study.standard_uncertainty(gap);
    near(u, (0.030f64.powi(2) + 0.040f64.powi(2) + 0.002f64.powi(2)).sqrt(), 1e-9);
    assert!((study.value(gap) / u - 6.0).abs() < 0.1);
}

/// On one scale the gain of the whole and of the parts cancel in the gap, and the zeros do not: one whole, two parts.
#[test]
fn the_gap_knows_what_its_readings_share() {
    let (study, gap) = balance(true);
    // -1 zero of the whole, +2 of the parts; gain on 400 less 399.7 kg.
    near(study.standard_uncertainty(gap), 0.030f64.hypot(0.3 * 0.0001), 1e-9);
}

/// What was not weighed is said: a gap of nothing is no proof.
#[test]
fn parts_without_a_mass_are_counted() {
    let mut bench = Bench::new();
    let (pack, tray, cable) = (bench.item("Pack"), bench.bought("Tray", "1 EUR"), bench.bought("Cable", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(tray, top, 1.0);
    bench.bulk(cable, top, 3.0);
    bench.value(pack, "mass", "10 kg");
    bench.value(tray, "mass", "10 kg");
    let study = bench.clean();
    same(study.value(study.mass[0].gap.expect("a gap")), 0.0);
    assert_eq!(study.mass[0].unknown, 1);
    // A gap of exactly nothing is distrusted at sight.
    let said = study.problems.iter().find(|d| d.code == "mass-gap-zero").expect("a warning");
    assert_eq!(said.place.as_ref().expect("a place").to_string(), study.lines.address(study.mass[0].gap.expect("a gap")));
    bench.value(tray, "mass", "9.99 kg");
    assert!(bench.clean().problems.iter().all(|d| d.code != "mass-gap-zero"));
}

/// Mass by difference inherits both errors.
#[test]
fn mass_by_difference_inherits_both_errors() {
    let mut bench = Bench::new();
    let (pack, tray, foam) = (bench.item("Pack"), bench.bought("Tray", "1 EUR"), bench.bought("Foam", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(tray, top, 1.0);
    bench.bulk(foam, top, 2.0);
    bench.value(pack, "mass", "10 +- 0.06 kg");
    bench.value(tray, "mass", "9 +- 0.08 kg");
    let asked = bench.value(foam, "mass", "1 kg");
    bench.set(asked, Field::Method, text("difference"));
    let study = bench.clean();
    let row = study.mass.iter().find(|r| r.how == MassHow::Difference).expect("by difference");
    let mass = row.mass.expect("a mass");
    near(study.value(mass), 0.5, 1e-12);
    near(study.standard_uncertainty(mass), 0.03f64.hypot(0.04) / 2.0, 1e-12);
}

/// An instrument of which nothing is stated does not make a reading exact: it takes the spread of a measured value, and that is said.
#[test]
fn a_reading_on_an_unknown_scale_is_not_exact() {
    let mut bench = Bench::new();
    let (pack, lid) = (bench.item("Pack"), bench.bought("Lid", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(lid, top, 1.0);
    let unknown = bench.add(Kind::Instrument, None, &[(Field::Name, text("Scale"))]);
    read(&mut bench, lid, "1 kg", unknown);
    let study = bench.clean();
    // quantities.toml: a measured mass has +- 0.2 %, k = 2.
    near(study.standard_uncertainty(product(&study)), 0.001, 1e-12);
    let said = study.problems.iter().find(|d| d.code == "instrument-errors").expect("a warning");
    assert!(said.message.contains("Scale"), "{said}");
}

/// By difference on one scale: the zero is in both readings and cancels, the gain acts on what is left, scatter is in both.
#[test]
fn a_difference_on_one_scale_cancels_what_the_readings_share() {
    let weighed = |errors: &[(&str, &str)]| {
        let mut bench = Bench::new();
        let (pack, tray, foam) = (bench.item("Pack"), bench.bought("Tray", "1 EUR"), bench.bought("Foam", "1 EUR"));
        let top = bench.part(pack, None, 1.0);
        bench.bulk(tray, top, 1.0);
        bench.bulk(foam, top, 1.0);
        let scale = scale(&mut bench, errors);
        read(&mut bench, pack, "10 kg", scale);
        read(&mut bench, tray, "9 kg", scale);
        let asked = bench.value(foam, "mass", "1 kg");
        bench.set(asked, Field::Method, text("difference"));
        let study = bench.clean();
        let mass = study.mass[2].mass.expect("a mass");
        (study.value(mass), study.standard_uncertainty(mass))
    };
    let (value, u) = weighed(&[("zero", "50 +- 60 g")]);
    near(value, 1.0, 1e-12);
    near(u, 0.0, 1e-12);
    let (value, u) = weighed(&[("gain", "1 +- 0.2 %")]);
    near(value, 0.99, 1e-12);
    near(u, 0.001, 1e-12);
    near(weighed(&[("repeat", "0 +- 40 g")]).1, 0.020f64.hypot(0.020), 1e-12);
}

/// Two of one part and one of another that cannot be parted, 12 kg together: the estimates are scaled and add up to the whole exactly,
/// with the error of the whole alone; between them stays the error of the estimates.
#[test]
fn an_inseparable_group_adds_up_to_its_whole() {
    let mut bench = Bench::new();
    let (group, sheet, foam) = (bench.item("Group"), bench.bought("Sheet", "1 EUR"), bench.bought("Foam", "1 EUR"));
    let top = bench.part(group, None, 1.0);
    bench.set(top, Field::Set, text("inseparable"));
    bench.bulk(sheet, top, 2.0);
    bench.bulk(foam, top, 1.0);
    bench.value(group, "mass", "12 +- 0.12 kg");
    bench.value(sheet, "mass", "2 +- 0.4 kg");
    bench.value(foam, "mass", "4 +- 0.8 kg");
    let study = bench.clean();
    let [whole, sheet, foam] = [0, 1, 2].map(|row| study.mass[row].mass.expect("a mass"));
    assert!(study.mass[1..].iter().all(|row| row.how == MassHow::Share));
    near(study.value(sheet), 3.0, 1e-12);
    near(study.value(foam), 6.0, 1e-12);
    let sum = study.mass[0].sum.expect("a sum");
    near(study.value(sum), study.value(whole), 1e-12);
    near(study.standard_uncertainty(sum), 0.06, 1e-12);
    near(study.value(study.mass[0].gap.expect("a gap")), 0.0, 1e-12);
    near(study.standard_uncertainty(study.mass[0].gap.expect("a gap")), 0.0, 1e-12);
    // One sheet is 12 s / (2 s + f): slopes 1/4 by the whole, 12 f / (2 s + f)^2 = 3/4 and -12 s / (2 s + f)^2 = -3/8 by the estimates.
    near(study.standard_uncertainty(sheet), (0.25f64 * 0.06).hypot((0.75f64 * 0.2).hypot(0.375 * 0.4)), 1e-12);
}

/// A group that cannot be shared out says which part lacks an estimate.
#[test]
fn an_inseparable_group_needs_an_estimate_of_each_part() {
    let mut bench = Bench::new();
    let (group, sheet, foam) = (bench.item("Group"), bench.bought("Sheet", "1 EUR"), bench.bought("Foam", "1 EUR"));
    let top = bench.part(group, None, 1.0);
    bench.set(top, Field::Set, text("inseparable"));
    bench.bulk(sheet, top, 2.0);
    bench.bulk(foam, top, 1.0);
    bench.value(group, "mass", "12 kg");
    bench.value(sheet, "mass", "2 kg");
    let study = bench.clean();
    let said = study.problems.iter().find(|d| d.code == "share").expect("a warning").to_string();
    assert!(said.contains("P1 cannot be shared out") && said.contains("P3 has no estimate"), "{said}");
}

/// Zero, repeat and resolution are in what the instrument reads, a gain is a share; anything else is said at its place, and no reading goes
/// uncorrected.
#[test]
fn an_error_of_another_dimension_is_a_problem_at_the_instrument() {
    for (error, said) in [("zero", "5 mm"), ("repeat", "0.2 +- 0.1 s"), ("resolution", "1 mm"), ("gain", "0.1 kg")] {
        let mut bench = Bench::new();
        let part = bench.bought("Part", "1 EUR");
        bench.part(part, None, 1.0);
        let scale = scale(&mut bench, &[(error, said)]);
        read(&mut bench, part, "10 kg", scale);
        let study = bench.compile();
        let problems: Vec<String> =
            study.problems.iter().filter(|d| d.is_error()).map(|d| format!("{d} at {:?}", d.place)).collect();
        assert_eq!(problems.len(), 1, "{problems:?}");
        assert!(problems[0].contains(error) && problems[0].contains(&format!("Scale/{error}")), "{problems:?}");
        assert!(study.totals.mass.is_none_or(|mass| study.value(mass) == 0.0), "{error}");
    }
}
