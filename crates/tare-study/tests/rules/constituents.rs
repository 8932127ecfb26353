//! Constituents are checked where they stand.

use super::bench::{Bench, same, text};
use tare_model::Field;
use tare_study::Study;

fn mixed(constituents: &str) -> Study {
    let mut bench = Bench::new();
    let seal = bench.bought("Seal", "1 EUR");
    bench.part(seal, None, 1.0);
    bench.value(seal, "mass", "10 kg");
    bench.set(seal, Field::Constituents, text(constituents));
    bench.compile()
}

fn share(study: &Study, material: &str) -> Option<f64> {
    study.totals.mass_by_material.iter().find(|(name, _)| name == material).map(|(_, line)| study.value(*line))
}

/// Shares of the mass, and what is left.
#[test]
fn constituents_share_out_the_mass() {
    let study = mixed("PA66-GF30 70 %; EPDM 20%");
    assert!(study.problems.iter().all(|d| !d.is_error() && d.code != "material-unknown"), "{:?}", study.problems);
    same(share(&study, "PA66-GF30").expect("a share"), 7.0);
    same(share(&study, "EPDM").expect("a share"), 2.0);
    same(share(&study, "other constituents").expect("a share"), 1.0);
    // A family is as good as a grade.
    assert!(mixed("copper 60 %; steel 40 %").problems.iter().all(|d| d.code != "material-unknown"));
}

/// What cannot be read is an error at the item, and no mass is shared out by it.
#[test]
fn broken_constituents_are_located_errors() {
    for (written, expected) in [
        ("EPDM -50 %", "`EPDM -50 %` is -50 %"),
        ("EPDM 0 %", "is 0 %"),
        ("EPDM 120 %", "is 120 %"),
        ("EPDM NaN %", "is NaN %"),
        ("abc", "`abc` is no constituent"),
        ("EPDM 50", "`EPDM 50` is no constituent"),
        ("EPDM 50 %; abc", "`abc` is no constituent"),
        ("EPDM 60 %; PP 50 %", "add up to 110 %"),
        (" ; ", "no constituent is named"),
    ] {
        let study = mixed(written);
        let found = study.problems.iter().find(|d| d.is_error() && d.code == "constituents");
        let said = found.unwrap_or_else(|| panic!("no error for `{written}`")).to_string();
        assert!(said.contains(expected) && said.contains("item P1/constituents"), "{said}");
        same(share(&study, "material not named").expect("the whole mass"), 10.0);
    }
}

/// A name the library does not know stands under itself, and is said with what may be meant.
#[test]
fn an_unknown_constituent_is_said() {
    let study = mixed("PA66-GF3O 100 %");
    let said = study.problems.iter().find(|d| d.code == "material-unknown").expect("a warning").to_string();
    assert!(said.contains("`PA66-GF3O`") && said.contains("item P1/constituents") && said.contains("PA66-GF30"), "{said}");
    same(share(&study, "PA66-GF3O").expect("a share"), 10.0);
}
