//! Freight between organisations.

use super::bench::{Bench, cost, kind, near, text};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::CostKind;

/// A box of 600 x 400 x 300 mm that leaves its maker, by 0.12 EUR/kg, 38 EUR/m^3 and 14 EUR/m^3 of packaging.
fn sent(mass: &str, with_envelope: bool) -> (Bench, Id) {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-step", &[("spent", "100 EUR")]);
    bench.value(made, "mass", mass);
    if with_envelope {
        bench.values(made, &[("length", "600 mm"), ("width", "400 mm"), ("height", "300 mm")]);
    }
    let maker = bench.organisation("Maker");
    for (key, rate) in [("freight.per_kg", "0.12 EUR/kg"), ("freight.per_m3", "38 EUR/m^3"), ("packaging.per_m3", "14 EUR/m^3")] {
        bench.rate(maker, key, rate);
    }
    bench.set(made, Field::Organisation, FieldValue::Ref(maker));
    (bench, made)
}

fn freight(bench: &Bench) -> f64 {
    kind(&bench.clean(), CostKind::Freight)
}

/// Freight by the larger of mass and cube: at 60 % fill the box takes 0.12 m^3.
#[test]
fn freight_by_the_larger_of_mass_and_cube() {
    let packaging = 0.12 * 14.0;
    near(freight(&sent("2 kg", true).0), 0.12 * 38.0 + packaging, 1e-9);
    near(freight(&sent("100 kg", true).0), 100.0 * 0.12 + packaging, 1e-9);
    // Where they are equal: 38 kg.
    near(freight(&sent("38 kg", true).0), 4.56 + packaging, 1e-9);
    // Without an envelope mass alone decides.
    near(freight(&sent("2 kg", false).0), 0.24, 1e-9);
}

/// What stays in its organisation is not sent.
#[test]
fn no_freight_within_an_organisation() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-step", &[("spent", "100 EUR")]);
    bench.value(made, "mass", "50 kg");
    near(freight(&bench), 0.0, 1e-12);
}

/// Dangerous-goods surcharge for cells: in their delivered price, per kilogram.
#[test]
fn dangerous_goods_surcharge_for_cells() {
    let mut bench = Bench::new();
    bench.rate(bench.study, "exchange.USD", "0.92 EUR");
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let cell = bench.add(
        Kind::Item,
        None,
        &[(Field::Name, text("Cell")), (Field::Make, text("buy")), (Field::Calculation, text("purchases/cell-purchase"))],
    );
    bench.bulk(cell, top, 96.0);
    bench.values(
        cell,
        &[
            ("chemistry", "LFP"),
            ("capacity", "100 A*h"),
            ("voltage", "3.2 V"),
            ("mass", "2 kg"),
            ("quoted", "80 EUR/kWh"),
            ("dangerous", "0 EUR/kg"),
        ],
    );
    near(bench.cost(), 96.0 * 0.32 * 80.0, 1e-9);
    bench.value(cell, "dangerous", "0.4 EUR/kg");
    near(bench.cost(), 96.0 * (0.32 * 80.0 + 2.0 * 0.4), 1e-9);
}

/// Dangerous-goods surcharge for a pack that leaves its maker: 30 % on freight.
#[test]
fn dangerous_goods_surcharge_for_packs() {
    let (mut bench, made) = sent("100 kg", false);
    let study = bench.study;
    bench.rate(study, "freight.dangerous", "30 %");
    bench.value(made, "dangerous_goods", "yes");
    near(freight(&bench), 12.0 * 1.3, 1e-9);
}

/// Duty after freight where the rule says so: 5 % of 100 and 12.
#[test]
fn duty_after_freight() {
    let (mut bench, _) = sent("100 kg", false);
    let study = bench.study;
    for share in ["sga", "profit", "engineering", "handling"] {
        bench.rate(study, &format!("markup.{share}"), "0");
    }
    near(bench.cost(), 112.0, 1e-9);
    bench.rate(study, "duty.share", "5 %");
    let study = bench.clean();
    near(cost(&study), 112.0 * 1.05, 1e-9);
    near(kind(&study, CostKind::Duty), 5.6, 1e-9);
}
