//! A rate lists what it contains; a cost already in the rate is dropped, with a note.

use super::bench::{Bench, kind, near, same, text};
use tare_diag::Severity;
use tare_model::{Field, Id, Kind};
use tare_study::{CostKind, Study};

/// An hour at 100 EUR, 3 EUR of cutters, 4 EUR of coolant, an hour of set-up for 1000.
fn hourly(contains: &str) -> (Bench, Study) {
    let mut bench = Bench::new();
    bench.product(
        "processes/test-hourly",
        &[("cycle", "1 h"), ("worn", "3 EUR"), ("used", "4 EUR"), ("setup", "1 h"), ("first_off", "0")],
    );
    rate(&mut bench, "machine.hourly", "100 EUR/h", contains);
    let study = bench.clean();
    (bench, study)
}

/// A rate of the study with what it contains.
fn rate(bench: &mut Bench, key: &str, said: &str, contains: &str) -> Id {
    let fields = [
        (Field::Key, text(key)),
        (Field::Text, text(said)),
        (Field::Evidence, text("assumed")),
        (Field::Contains, text(contains)),
    ];
    bench.add(Kind::Rate, Some(bench.study), &fields)
}

fn notes(study: &Study) -> Vec<String> {
    let of = study.problems.iter().filter(|d| d.code == "in-the-rate" && d.severity == Severity::Note);
    of.map(|d| format!("{} at {:?}", d.message, d.place)).collect()
}

/// Nothing is dropped that the rate does not name: prose is for people.
#[test]
fn prose_drops_nothing() {
    let study = hourly("energy and floor are stated apart").1;
    same(kind(&study, CostKind::Consumable), 7.0);
    // (100 + 40) EUR over lots of 1000 / 12.
    near(kind(&study, CostKind::Setup), 140.0 * 12.0 / 1000.0, 1e-9);
    assert!(notes(&study).is_empty());
}

/// Set-up crew and perishables that are in the machine rate are not added, each with a note at its step.
#[test]
fn what_the_machine_rate_contains_is_dropped_with_a_note() {
    let study = hourly("energy; floor; upkeep; set-up crew; perishables; depreciation").1;
    same(kind(&study, CostKind::Consumable), 4.0);
    same(kind(&study, CostKind::Machine), 100.0);
    near(kind(&study, CostKind::Setup), 100.0 * 12.0 / 1000.0, 1e-9);
    let said = notes(&study);
    assert_eq!(said.len(), 2, "{said:?}");
    assert!(said.iter().any(|n| n.contains("the cutter") && n.contains("op1 cutter")), "{said:?}");
    super::places::closes(&study);
}

/// Indirect staff that is in the wage is not added to it.
#[test]
fn indirect_staff_in_the_wage_is_dropped_with_a_note() {
    let labour = |contains: &str| {
        let mut bench = Bench::new();
        bench.product("processes/test-press", &[("cycle", "1 h"), ("rate", "0 EUR/h")]);
        bench.rate(bench.study, "indirect.staff", "25 %");
        bench.rate(bench.study, "wage.operator", "36 EUR/h");
        if !contains.is_empty() {
            bench.forget_rate("wage.operator");
            rate(&mut bench, "wage.operator", "36 EUR/h", contains);
        }
        let study = bench.clean();
        (kind(&study, CostKind::Labour), notes(&study).len())
    };
    assert_eq!(labour(""), (45.0, 0));
    let (cost, said) = labour("indirect staff");
    near(cost, 36.0, 1e-9);
    assert_eq!(said, 1);
}

/// An overhead on the machine hour that contains floor, upkeep or depreciation takes their place in a rate built from a price.
#[test]
fn what_the_overhead_contains_is_not_in_the_built_rate_again() {
    let both = |contains: &str| {
        let mut bench = Bench::new();
        bench.product("processes/test-priced", &[("cycle", "1 h"), ("price", "400000 EUR"), ("power", "10 kW")]);
        bench.rate(bench.study, "electricity", "0.20 EUR/kWh");
        for (key, said) in [("machine.upkeep", "0.04 1/a"), ("machine.installation", "0"), ("machine.life", "10 a")] {
            bench.rate(bench.study, key, said);
        }
        rate(&mut bench, "machine.overhead", "0.5", contains);
        let study = bench.clean();
        (kind(&study, CostKind::Machine), kind(&study, CostKind::Energy), notes(&study).len())
    };
    let machine = |contains: &str| both(contains).0;
    assert_eq!((both("").1, both("").2), (2.0, 0));
    assert_eq!((both("energy").1, both("energy").2), (0.0, 1));
    // Upkeep is 16 000 a year over 4000 h; capital recovery 65 098 a year.
    near(machine("") - machine("upkeep"), 4.0 * 1.5, 1e-9);
    near(machine("depreciation"), 4.0 * 1.5, 1e-9);
}
