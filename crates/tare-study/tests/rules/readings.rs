//! Readings: scatter, tare, periods, and which of several values stands.

use super::bench::{Bench, at, error, item, near, same, text};
use tare_diag::Severity;
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::{LineRef, Study};

/// A product that weighs what one plate in it weighs.
fn plate() -> (Bench, Id) {
    let mut bench = Bench::new();
    let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(plate, top, 1.0);
    (bench, plate)
}

fn instrument(bench: &mut Bench, errors: &[(&str, &str)]) -> Id {
    let instrument = bench.add(Kind::Instrument, None, &[(Field::Name, text("Scale"))]);
    for (error, said) in errors {
        bench.another(instrument, error, said, "measured");
    }
    instrument
}

/// Readings of one set, on an instrument or none; `tare` before a text makes it one of the container.
fn set(bench: &mut Bench, subject: Id, name: &str, on: Option<Id>, shown: &[&str]) -> Vec<Id> {
    let readings = shown.iter().map(|said| {
        let value = bench.another(subject, "mass", said.trim_start_matches("tare "), "measured");
        bench.set(value, Field::Set, text(name));
        if said.starts_with("tare ") {
            bench.set(value, Field::Method, text("tare"));
        }
        if let Some(on) = on {
            bench.set(value, Field::Instrument, FieldValue::Ref(on));
        }
        value
    });
    readings.collect()
}

fn choose(bench: &mut Bench, subject: Id, quantity: &str, method: &str, value: Option<Id>) {
    let mut fields = vec![(Field::Quantity, text(quantity)), (Field::Method, text(method))];
    fields.extend(value.map(|v| (Field::Value, FieldValue::Ref(v))));
    bench.add(Kind::Choose, Some(subject), &fields);
}

fn mass(study: &Study) -> LineRef {
    study.totals.mass.expect("a mass")
}

fn u(study: &Study) -> f64 {
    study.standard_uncertainty(mass(study))
}

fn says<'s>(study: &'s Study, code: &str) -> Vec<&'s tare_diag::Diag> {
    study.problems.iter().filter(|d| d.code == code).collect()
}

/// Deviations 0, 20, -20, 0, 0 g: s = 14.142 g, s / sqrt 5 = 6.325 g, times sqrt(4 / 2) of Student's distribution (JCGM 101, 6.4.9).
const FIVE: [&str; 5] = ["10.00 kg", "10.02 kg", "9.98 kg", "10.00 kg", "10.00 kg"];
const FIVE_U: f64 = 0.008_944_271_909_999_16;

/// From four readings on their own scatter counts, whether or not there is an instrument, and whether or not it states a repeat.
#[test]
fn four_readings_carry_their_own_scatter() {
    for errors in [None, Some(&[] as &[(&str, &str)]), Some(&[("repeat", "0 +- 500 g")])] {
        let (mut bench, plate) = plate();
        let on = errors.map(|e| instrument(&mut bench, e));
        set(&mut bench, plate, "first", on, &FIVE);
        let study = bench.clean();
        same(study.value(mass(&study)), 10.0);
        near(u(&study), FIVE_U, 1e-12);
    }
}

/// They scatter as Student's t with one degree of freedom less than readings; its scale is what goes with these (JCGM 100, 4.2.3).
#[test]
fn repeated_readings_have_degrees_of_freedom() {
    let (mut bench, plate) = plate();
    set(&mut bench, plate, "first", None, &FIVE[1..]);
    let study = bench.clean();
    let leaf = study.lines.leaves.iter().find(|leaf| leaf.freedom.is_some()).expect("a leaf with few readings behind it");
    assert_eq!(leaf.freedom, Some(3.0));
    near(leaf.quantity.standard_uncertainty(), 3.0_f64.sqrt(), 1e-12);
    near(leaf.scale(), 1.0, 1e-12);
    assert_eq!(study.lines.leaves.iter().filter(|leaf| leaf.freedom.is_some()).count(), 1);
}

/// Fewer than four: the instrument's repeat over the root of their number.
#[test]
fn three_readings_carry_the_instruments_repeat() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 +- 40 g")]);
    set(&mut bench, plate, "first", Some(scale), &["10.00 kg", "10.02 kg", "9.98 kg"]);
    near(u(&bench.clean()), 0.020 / 3f64.sqrt(), 1e-12);
}

/// Without both: the default spread of a measured mass, +- 0.2 % (k = 2), which does not shrink with the number of readings.
#[test]
fn without_either_the_default_spread_counts() {
    for errors in [None, Some(&[] as &[(&str, &str)])] {
        for shown in [&["10.00 kg", "10.00 kg", "10.00 kg"][..], &["10.00 kg", "10.00 kg", "10.00 kg", "10.00 kg"]] {
            let (mut bench, plate) = plate();
            let on = errors.map(|e| instrument(&mut bench, e));
            set(&mut bench, plate, "first", on, shown);
            near(u(&bench.clean()), 0.010, 1e-12);
        }
    }
}

/// A single reading on a scale of unknown repeatability is not exact.
#[test]
fn one_reading_on_a_scale_without_a_repeat_takes_the_default_spread() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("zero", "0 +- 10 g")]);
    set(&mut bench, plate, "first", Some(scale), &["10.00 kg"]);
    near(u(&bench.clean()), 0.010f64.hypot(0.005), 1e-12);
}

/// Readings that are all alike on a scale that rounds to 50 g: the rounding is left, 50 g / sqrt 12.
#[test]
fn equal_readings_leave_the_rounding() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("resolution", "50 g")]);
    set(&mut bench, plate, "first", Some(scale), &["10 kg"; 4]);
    near(u(&bench.clean()), 0.050 / 12f64.sqrt(), 1e-12);
}

/// A spread stated with a reading is kept on an instrument too.
#[test]
fn a_spread_stated_with_a_reading_is_kept() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 +- 2 g")]);
    set(&mut bench, plate, "first", Some(scale), &["10 +- 0.1 kg"]);
    near(u(&bench.clean()), 0.050, 1e-12);
}

/// Gross and tare are two readings: +- 40 g each gives +- 57 g, and each is rounded. The zero cancels, the gain stays on the difference.
#[test]
fn gross_minus_tare_has_two_repeats_and_two_roundings() {
    let weighed = |errors: &[(&str, &str)]| {
        let (mut bench, plate) = plate();
        let scale = instrument(&mut bench, errors);
        set(&mut bench, plate, "first", Some(scale), &["12.5 kg", "tare 2.5 kg"]);
        let study = bench.clean();
        (study.value(mass(&study)), u(&study))
    };
    let (net, spread) = weighed(&[("repeat", "0 +- 40 g")]);
    same(net, 10.0);
    near(2.0 * spread, 0.056_568_542_494_923_8, 1e-12);
    near(weighed(&[("repeat", "0 g"), ("resolution", "50 g")]).1, 0.050 / 12f64.sqrt() * 2f64.sqrt(), 1e-12);
    let (net, spread) = weighed(&[("repeat", "0 g"), ("zero", "5 +- 60 g"), ("gain", "0.1 +- 0.2 %")]);
    same(net, 9.990);
    near(spread, 0.010, 1e-12);
}

/// A container read several times is a mean of its own, with its own scatter.
#[test]
fn a_container_read_several_times_has_its_own_mean() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 +- 40 g")]);
    let shown = ["12.50 kg", "tare 2.50 kg", "tare 2.52 kg", "tare 2.48 kg", "tare 2.50 kg", "tare 2.50 kg"];
    set(&mut bench, plate, "first", Some(scale), &shown);
    let study = bench.clean();
    same(study.value(mass(&study)), 10.0);
    near(u(&study), 0.020f64.hypot(FIVE_U), 1e-12);
}

/// Each reading's own error is a variable of its own, with an address of its own: of each set, of what was shown and of the container.
#[test]
fn own_errors_have_addresses_of_their_own() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 +- 40 g"), ("resolution", "50 g")]);
    set(&mut bench, plate, "first", Some(scale), &["12.5 kg", "tare 2.5 kg"]);
    set(&mut bench, plate, "second", Some(scale), &["10 kg"]);
    choose(&mut bench, plate, "mass", "mean", None);
    let study = bench.clean();
    let names = study.lines.leaves.iter().filter(|l| l.name.ends_with("repeat") || l.name.ends_with("resolution"));
    let mut names: Vec<&str> = names.filter(|l| l.name.starts_with("mass")).map(|l| l.name.as_str()).collect();
    names.sort_unstable();
    let due = [
        "mass 1 repeat",
        "mass 1 resolution",
        "mass 1 tare repeat",
        "mass 1 tare resolution",
        "mass 2 repeat",
        "mass 2 resolution",
    ];
    assert_eq!(names, due);
    // The same variables for cost and balance.
    assert_eq!(study.mass[1].mass, item(&study, plate).mass);
}

/// The number of a bunch is that of the gross reading, whichever was written first.
#[test]
fn the_bunch_is_counted_by_the_gross_reading() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 g")]);
    let read = set(&mut bench, plate, "first", Some(scale), &["tare 2.5 kg", "12.5 kg"]);
    bench.set(read[1], Field::Number, FieldValue::Number(4.0));
    let study = bench.clean();
    same(study.value(mass(&study)), 2.5);
}

#[test]
fn a_container_alone_and_a_mixed_set_are_errors() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[]);
    let read = set(&mut bench, plate, "first", Some(scale), &["tare 2.5 kg"]);
    assert!(error(&bench.compile(), "tare-alone").expect("an error").contains("Plate/mass"));
    let gross = set(&mut bench, plate, "first", None, &["12.5 kg"]);
    let said = error(&bench.compile(), "set-mixed").expect("an error");
    assert!(said.contains("`first`") && said.contains("different instruments") && said.contains("Plate/mass"), "{said}");
    bench.set(gross[0], Field::Instrument, FieldValue::Ref(scale));
    bench.set(read[0], Field::Period, text("march"));
    assert!(error(&bench.compile(), "set-mixed").expect("an error").contains("different periods"));
}

/// The error of an instrument is the one stated for the reading's period, else the one for none in particular.
#[test]
fn the_period_of_a_reading_picks_the_instruments_error() {
    let weighed = |periods: [Option<&str>; 2], of_reading: Option<&str>| {
        let (mut bench, plate) = plate();
        let scale = instrument(&mut bench, &[("repeat", "0 g")]);
        for (zero, period) in ["100 g", "200 g"].into_iter().zip(periods) {
            let value = bench.another(scale, "zero", zero, "measured");
            if let Some(period) = period {
                bench.set(value, Field::Period, text(period));
            }
        }
        let read = set(&mut bench, plate, "first", Some(scale), &["10 kg"]);
        if let Some(period) = of_reading {
            bench.set(read[0], Field::Period, text(period));
        }
        bench.compile()
    };
    let net = |periods, of_reading| {
        let study = weighed(periods, of_reading);
        assert!(study.problems.iter().all(|d| !d.is_error()), "{:?}", study.problems);
        study.value(mass(&study))
    };
    let two = [Some("march"), Some("april")];
    same(net(two, Some("march")), 9.9);
    same(net(two, Some("april")), 9.8);
    same(net([Some("march"), None], Some("april")), 9.8);
    same(net([Some("march"), None], None), 9.8);
    // None fits, or several do.
    for (periods, of_reading) in [(two, Some("may")), (two, None), ([None, None], Some("may")), ([None, None], None)] {
        let study = weighed(periods, of_reading);
        let said = error(&study, "period").expect("an error");
        assert!(said.contains("`Scale`") && said.contains("zero") && said.contains("Plate/mass"), "{said}");
        assert!(study.totals.mass.is_none_or(|m| study.value(m) == 0.0), "no number without its correction");
    }
}

/// The mean of values is one of sets: repeats of one set count once, and a container is taken off first.
#[test]
fn a_mean_is_taken_over_sets() {
    let (mut bench, plate) = plate();
    set(&mut bench, plate, "tared", None, &["12 kg", "tare 2 kg"]);
    set(&mut bench, plate, "repeats", None, &["13 kg", "13 kg", "13 kg"]);
    choose(&mut bench, plate, "mass", "mean", None);
    let study = bench.clean();
    // (10 + 13) / 2, not (12 + 2 + 13 + 13 + 13) / 5 = 10.6.
    same(study.value(mass(&study)), 11.5);
    assert!(says(&study, "values-differ").is_empty());
}

fn weighted(values: &[&str]) -> Study {
    let (mut bench, plate) = plate();
    for said in values {
        bench.another(plate, "mass", said, "measured");
    }
    choose(&mut bench, plate, "mass", "weighted mean", None);
    bench.compile()
}

/// Weights 1 / u^2: 10 +- 0.2 kg (u = 0.1) and 10.5 +- 0.4 kg (u = 0.2) give 10.1 kg with u = 1 / sqrt(100 + 25).
#[test]
fn a_weighted_mean_weighs_by_uncertainty() {
    let study = weighted(&["10 +- 0.2 kg", "10.5 +- 0.4 kg"]);
    same(study.value(mass(&study)), 10.1);
    near(u(&study), 1.0 / 125f64.sqrt(), 1e-12);
    // Birge ratio sqrt((0.1 / 0.1)^2 + (0.4 / 0.2)^2) = 2.24: said, not hidden.
    let notes = says(&study, "scatter");
    assert_eq!(notes.len(), 1);
    assert_eq!(notes[0].severity, Severity::Note);
    assert!(notes[0].message.contains("2.24 times") && notes[0].message.contains("mass of Plate"), "{}", notes[0]);
    same(at(&study, "item P2/mass scatter/ratio"), 5f64.sqrt());
}

/// Values that agree within their uncertainties need no note; what has no uncertainty cannot be weighed by it.
#[test]
fn a_weighted_mean_needs_uncertainties_and_is_quiet_where_they_explain_the_scatter() {
    let study = weighted(&["10 +- 0.2 kg", "10.1 +- 0.4 kg"]);
    same(study.value(mass(&study)), 10.02);
    assert!(says(&study, "scatter").is_empty());
    let said = error(&weighted(&["10 +- 0 kg", "10.1 +- 0.4 kg"]), "weight").expect("an error");
    assert!(said.contains("value 1") && said.contains("item P2/mass"), "{said}");
}

/// What two readings of one scale share does not average out in their weighted mean.
#[test]
fn a_weighted_mean_keeps_what_its_values_share() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 +- 40 g"), ("zero", "0 +- 60 g")]);
    set(&mut bench, plate, "first", Some(scale), &["10 kg"]);
    set(&mut bench, plate, "second", Some(scale), &["10 kg"]);
    choose(&mut bench, plate, "mass", "weighted mean", None);
    near(u(&bench.clean()), 0.030f64.hypot(0.020 / 2f64.sqrt()), 1e-12);
}

/// A weight was read off the graph: a value it hangs on is not changed alone.
#[test]
fn a_study_with_weights_is_compiled_again() {
    let (mut bench, plate) = plate();
    let scale = instrument(&mut bench, &[("repeat", "0 +- 40 g")]);
    let zero = bench.another(scale, "zero", "0 +- 60 g", "measured");
    set(&mut bench, plate, "first", Some(scale), &["10 kg"]);
    bench.another(plate, "mass", "10.4 +- 0.2 kg", "measured");
    for (method, alone) in [("mean", true), ("weighted mean", false)] {
        let mut bench = bench.clone();
        choose(&mut bench, plate, "mass", method, None);
        assert_eq!(bench.clean().take_value(&bench.document(), super::bench::library(), zero), alone, "{method}");
    }
}

/// A choice whose value was removed counts as none made, and is said.
#[test]
fn a_choice_of_a_removed_value_is_no_choice() {
    let (mut bench, plate) = plate();
    bench.another(plate, "mass", "11 kg", "assumed");
    bench.another(plate, "mass", "10 kg", "measured");
    choose(&mut bench, plate, "mass", "one", Some(Id(0xdead)));
    let study = bench.clean();
    same(study.value(mass(&study)), 10.0);
    let lost = says(&study, "choice-lost");
    assert_eq!(lost.len(), 1);
    assert!(!lost[0].is_error() && lost[0].to_string().contains("item P2/mass"), "{}", lost[0]);
}

/// Values of two specimens are not repeats of one another, though their set is called alike.
#[test]
fn two_specimens_are_not_repeats() {
    let (mut bench, plate) = plate();
    let specimens = ["A", "B"].map(|n| bench.add(Kind::Specimen, None, &[(Field::Name, text(&format!("Specimen {n}")))]));
    for (specimen, shown) in specimens.into_iter().zip(["10 kg", "12 kg"]) {
        for read in set(&mut bench, plate, "weighing", None, &[shown; 2]) {
            bench.set(read, Field::Specimen, FieldValue::Ref(specimen));
        }
    }
    let study = bench.clean();
    // Two values side by side: the last of equals, and a warning that names both specimens.
    same(study.value(mass(&study)), 12.0);
    let said = says(&study, "values-differ")[0].to_string();
    assert!(said.contains("of Specimen A") && said.contains("of Specimen B"), "{said}");
    choose(&mut bench, plate, "mass", "mean", None);
    same(bench.clean().value(mass(&bench.clean())), 11.0);
}
