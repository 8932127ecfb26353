//! Circles and depth: what would be worked out from itself is said, and a deep tree is followed or refused.

use super::bench::{Bench, error, library, near, same, text};
use tare_library::Library;
use tare_model::{Field, FieldValue, Id};
use tare_study::{MassHow, Sources, compile};

/// A value that a calculation estimates.
fn estimate(bench: &mut Bench, subject: Id, quantity: &str, key: &str) -> Id {
    let value = bench.another(subject, quantity, "estimated", "derived");
    bench.set(value, Field::Calculation, text(key));
    value
}

fn difference(bench: &mut Bench, item: Id) {
    let asked = bench.another(item, "mass", "1 kg", "derived");
    bench.set(asked, Field::Method, text("difference"));
}

fn pack() -> (Bench, Id, Id) {
    let mut bench = Bench::new();
    let item = bench.item("Pack");
    let top = bench.part(item, None, 1.0);
    bench.value(item, "mass", "10 kg");
    (bench, item, top)
}

/// One equation does not give two masses.
#[test]
fn two_parts_by_difference_of_one_whole_are_an_error() {
    let (mut bench, _, top) = pack();
    for name in ["Foam", "Glue"] {
        let item = bench.bought(name, "1 EUR");
        bench.bulk(item, top, 1.0);
        difference(&mut bench, item);
    }
    let study = bench.compile();
    let said = error(&study, "difference").expect("an error");
    assert!(said.contains("two parts by difference of one whole: P2 and P3 of P1") && said.contains("P2/mass"), "{said}");
    assert_eq!(study.problems.iter().filter(|d| d.code == "difference").count(), 1, "one cause, one message");
    assert!(study.mass[1..].iter().all(|row| row.mass.is_none() && row.how == MassHow::Unknown));
}

/// By difference needs a whole, and everything else.
#[test]
fn by_difference_needs_the_whole_and_the_others() {
    let (mut bench, item, top) = pack();
    let (foam, tray) = (bench.bought("Foam", "1 EUR"), bench.bought("Tray", "1 EUR"));
    bench.bulk(foam, top, 1.0);
    bench.bulk(tray, top, 1.0);
    difference(&mut bench, foam);
    let said = error(&bench.compile(), "difference").expect("an error");
    assert!(said.contains("that of P3 is not known") && said.contains("P2/mass"), "{said}");
    bench.value(tray, "mass", "4 kg");
    same(bench.clean().value(bench.clean().mass[1].mass.expect("a mass")), 6.0);
    bench.forget(item, "mass");
    assert!(error(&bench.compile(), "difference").expect("an error").contains("the whole was not weighed"));
}

/// Parts that weigh more than their whole leave a negative mass by difference: shown as it is, and warned.
#[test]
fn a_negative_mass_by_difference_is_shown_and_warned() {
    let (mut bench, _, top) = pack();
    let (foam, tray) = (bench.bought("Foam", "1 EUR"), bench.bought("Tray", "1 EUR"));
    bench.bulk(foam, top, 1.0);
    bench.bulk(tray, top, 2.0);
    difference(&mut bench, foam);
    bench.value(tray, "mass", "5.1 +- 0.02 kg");
    let study = bench.clean();
    let mass = study.mass[1].mass.expect("a mass");
    same(study.value(mass), -0.2);
    near(study.standard_uncertainty(mass), 0.02, 1e-12);
    let warned = study.problems.iter().find(|d| d.code == "negative-difference").expect("a warning").to_string();
    assert!(warned.contains("Foam") && warned.contains("-0.2 kg") && warned.contains("P2/by difference/mass"), "{warned}");
}

/// An estimate that reads what it estimates.
#[test]
fn an_estimate_of_itself_names_the_circle() {
    let (mut bench, item, _) = pack();
    bench.forget(item, "mass");
    estimate(&mut bench, item, "mass", "estimates/test-mass-by-mass");
    let study = bench.compile();
    let said = error(&study, "circle").expect("an error");
    assert!(said.contains("`P1/mass` is worked out from itself") && said.contains("needs item P1/mass needs P1/mass"), "{said}");
    assert!(error(&study, "input-missing").is_none(), "one cause, one message");
    assert!(study.mass[0].mass.is_none());
}

/// So does one of a quantity that is nothing but stated.
#[test]
fn an_estimate_of_its_own_quantity_names_the_circle() {
    let (mut bench, item, _) = pack();
    bench.forget(item, "mass");
    estimate(&mut bench, item, "mass", "estimates/test-mass-by-wall");
    estimate(&mut bench, item, "wall_thickness", "estimates/test-wall-by-wall");
    let study = bench.compile();
    let said = error(&study, "circle").expect("an error");
    assert!(said.contains("`item P1/wall_thickness` is worked out from itself"), "{said}");
    assert_eq!(study.problems.iter().filter(|d| d.is_error() && d.code != "circle").count(), 0, "{:?}", study.problems);
}

/// The same through a second estimate.
#[test]
fn two_estimates_of_each_other_name_the_circle() {
    let (mut bench, item, _) = pack();
    bench.forget(item, "mass");
    estimate(&mut bench, item, "mass", "estimates/test-mass-by-wall");
    estimate(&mut bench, item, "wall_thickness", "estimates/test-wall-by-mass");
    let said = error(&bench.compile(), "circle").expect("an error");
    assert!(said.contains("item P1/mass needs item P1/wall_thickness needs P1/mass"), "{said}");
    // Opened at one place it is no circle.
    bench.value(item, "mass", "3 kg");
    let study = bench.clean();
    same(study.value(study.totals.mass.expect("a mass")), 3.0);
}

/// A chain of estimates a study never needs is refused, a long one is followed.
#[test]
fn a_long_chain_of_estimates_is_followed_and_an_endless_one_refused() {
    let links = |count: usize| {
        let files: Vec<(String, String)> = (0..count)
            .map(|n| {
                let gives = if n == 0 { "mass".to_owned() } else { format!("q{n}") };
                let text = format!(
                    "title = \"Link\"\nkind = \"estimate\"\ngives = {{ {gives} = \"next\" }}\n[input]\nbefore = {{ unit = \"kg\", \
                     from = [\"item.q{}\"] }}\n[equation]\nnext = {{ unit = \"kg\", is = \"before + 1 [kg]\" }}\n",
                    n + 1
                );
                (format!("estimates/test-link-{n}.toml"), text)
            })
            .collect();
        let own = files.iter().map(|(name, text)| (name.as_str(), text.as_str()));
        let (library, problems) = Library::embedded().0.with_own(own);
        assert!(problems.is_empty(), "{problems:?}");
        let (mut bench, item, _) = pack();
        bench.forget(item, "mass");
        estimate(&mut bench, item, "mass", "estimates/test-link-0");
        for n in 1..count {
            estimate(&mut bench, item, &format!("q{n}"), &format!("estimates/test-link-{n}"));
        }
        bench.value(item, &format!("q{count}"), "0 kg");
        let document = bench.document();
        compile(Sources { study: &document, books: &[], library: &library })
    };
    let study = links(100);
    assert!(study.problems.iter().all(|d| d.code != "too-deep"));
    same(study.value(study.totals.mass.expect("a mass")), 100.0);
    let said = error(&links(400), "too-deep").expect("an error");
    assert!(said.contains("`P1/mass` needs more than") && said.contains("one after the other"), "{said}");
}

/// A tree of so many levels with a leaf of 1 kg at the bottom; every second level holds two of the next.
fn tree(levels: usize) -> Bench {
    let mut bench = Bench::new();
    let maker = bench.organisation("Maker");
    let mut above = None;
    for level in 0..levels {
        let item = bench.item(&format!("Level {level}"));
        above = Some(bench.part(item, above, if level % 40 == 39 { 2.0 } else { 1.0 }));
        if level == 0 {
            bench.set(item, Field::Organisation, FieldValue::Ref(maker));
        }
        if level + 1 == levels {
            bench.value(item, "mass", "1 kg");
            bench.operation(item, "processes/test-step", &[("spent", "3 EUR")]);
        }
    }
    bench
}

/// A tree of 100 levels works, mass and cost; a deeper one is refused where it becomes too deep.
#[test]
fn a_tree_of_a_hundred_levels_works_and_a_deeper_one_is_refused() {
    let study = tree(100).compile();
    let errors: Vec<String> = study.problems.iter().filter(|d| d.is_error()).map(ToString::to_string).collect();
    assert!(study.problems.iter().all(|d| d.code != "too-deep"), "{errors:?}");
    same(study.value(study.totals.mass.expect("a mass")), 4.0);
    assert!(study.value(study.totals.cost.expect("a cost")) >= 12.0);
    let study = tree(2000).compile();
    let said = error(&study, "too-deep").expect("an error");
    assert!(said.contains("P101") && said.contains("100 levels"), "{said}");
    assert_eq!(study.parts.len(), 100);
}

/// An item inside itself, directly or through another, is said and nothing overflows.
#[test]
fn an_item_inside_itself_is_said() {
    let mut bench = Bench::new();
    let (pack, module) = (bench.item("Pack"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.part(module, Some(top), 2.0);
    bench.part(pack, Some(inner), 1.0);
    assert!(error(&bench.compile(), "part-in-itself").is_some());
    // Weighed at the part that holds itself.
    bench.value(pack, "mass", "3 kg");
    assert!(error(&bench.compile(), "part-in-itself").is_some());
    assert!(library().find("estimates/test-mass-by-mass").is_some());
}
