//! Masses in several states: the clean one for cost, the one of the whole for the balance.

use super::bench::{Bench, item, same, text};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::Study;

fn state(bench: &mut Bench, subject: Id, mass: &str, state: &str) -> Id {
    let value = bench.another(subject, "mass", mass, "measured");
    if !state.is_empty() {
        bench.set(value, Field::MassState, text(state));
    }
    value
}

/// A pack with one tray, each weighed as said.
fn weighed(pack_states: &[(&str, &str)], tray_states: &[(&str, &str)]) -> (Bench, [Id; 2]) {
    let mut bench = Bench::new();
    let (pack, tray) = (bench.item("Pack"), bench.bought("Tray", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(tray, top, 1.0);
    for (subject, states) in [(pack, pack_states), (tray, tray_states)] {
        for (mass, said) in states {
            state(&mut bench, subject, mass, said);
        }
    }
    (bench, [pack, tray])
}

fn gap(study: &Study) -> f64 {
    study.value(study.mass[0].gap.expect("a gap"))
}

fn says(study: &Study, code: &str) -> Vec<String> {
    study.problems.iter().filter(|d| d.code == code).map(ToString::to_string).collect()
}

/// Cost takes the part as made; the balance takes it in the state of the whole. Neither depends on what was written last.
#[test]
fn cost_takes_the_clean_mass_and_the_balance_that_of_the_whole() {
    let mut tray = [("9.0 kg", "cleaned"), ("9.6 kg", "with residue"), ("10.0 kg", "as removed")];
    for _ in 0..3 {
        tray.rotate_left(1);
        let (bench, [_, made]) = weighed(&[("10.2 kg", "as removed")], &tray);
        let study = bench.clean();
        same(study.value(item(&study, made).mass.expect("a mass")), 9.0);
        same(gap(&study), 0.2);
        assert_eq!(
            (study.mass[0].states.as_slice(), study.mass[1].states.as_slice()),
            (&["as removed".to_owned()][..], &["as removed".to_owned()][..])
        );
        assert_eq!(study.mass[0].part_states, ["as removed"]);
        assert!(says(&study, "states-mix").is_empty() && says(&study, "values-differ").is_empty());
        let (bench, [_, made]) = weighed(&[("9.1 kg", "cleaned")], &tray);
        let study = bench.clean();
        same(study.value(item(&study, made).mass.expect("a mass")), 9.0);
        same(gap(&study), 0.1);
    }
}

/// A whole weighed in two states is balanced as received; its own cost and freight take the clean mass.
#[test]
fn a_whole_in_two_states_is_balanced_as_received() {
    let (bench, [pack, tray]) = weighed(&[("9.3 kg", "dry"), ("10.4 kg", "wet")], &[("10.3 kg", "wet"), ("9.2 kg", "dry")]);
    let study = bench.clean();
    same(study.value(study.totals.mass.expect("a mass")), 10.4);
    same(gap(&study), 0.1);
    same(study.value(item(&study, pack).mass.expect("a mass")), 9.3);
    same(study.value(item(&study, tray).mass.expect("a mass")), 9.2);
}

/// An assembly that was not weighed adds up its parts as made for cost, and as received for the balance.
#[test]
fn a_sum_of_parts_follows_what_it_is_asked_for() {
    let mut bench = Bench::new();
    let (pack, module, tray) = (bench.item("Pack"), bench.item("Module"), bench.bought("Tray", "1 EUR"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.part(module, Some(top), 1.0);
    bench.bulk(tray, inner, 2.0);
    state(&mut bench, pack, "20.5 kg", "wet");
    state(&mut bench, tray, "10 kg", "wet");
    state(&mut bench, tray, "9 kg", "cleaned");
    let study = bench.clean();
    same(study.value(study.mass[1].mass.expect("a mass")), 20.0);
    same(gap(&study), 0.5);
    same(study.value(item(&study, module).mass.expect("a mass")), 18.0);
    assert_eq!(study.mass[0].part_states, ["wet"]);
}

/// States that mix in one gap are named.
#[test]
fn mixed_states_in_a_gap_are_warned() {
    let (bench, _) = weighed(&[("10.4 kg", "wet")], &[("9.0 kg", "cleaned")]);
    let study = bench.clean();
    let said = says(&study, "states-mix");
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("P1 (wet)") && said[0].contains("cleaned") && said[0].contains("P1/balance"), "{}", said[0]);
    // Dried and cleaned are both the part as made; a whole without a state says nothing against one.
    for whole in ["cleaned", ""] {
        let (bench, _) = weighed(&[("10 kg", whole)], &[("9 kg", "dry")]);
        assert!(says(&bench.clean(), "states-mix").is_empty());
    }
}

/// Two values of one state still contradict each other, and so does one of no stated state.
#[test]
fn values_of_one_state_still_differ() {
    for other in ["cleaned", ""] {
        let (bench, _) = weighed(&[], &[("9.0 kg", "cleaned"), ("9.4 kg", other)]);
        let said = says(&bench.clean(), "values-differ");
        assert!(said.len() == 1 && said[0].contains("9.0 kg") && said[0].contains("9.4 kg"), "{said:?}");
    }
}

/// A choice stands for every purpose.
#[test]
fn a_choice_stands_for_cost_and_balance() {
    let (mut bench, [_, tray]) = weighed(&[("10.4 kg", "wet")], &[]);
    state(&mut bench, tray, "10.3 kg", "wet");
    let dry = state(&mut bench, tray, "9.2 kg", "dry");
    let fields = [(Field::Quantity, text("mass")), (Field::Method, text("one")), (Field::Value, FieldValue::Ref(dry))];
    bench.add(Kind::Choose, Some(tray), &fields);
    let study = bench.clean();
    same(gap(&study), 1.2);
    same(study.value(item(&study, tray).mass.expect("a mass")), 9.2);
}
