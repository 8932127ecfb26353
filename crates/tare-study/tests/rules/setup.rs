//! Set-up, lots, minimum charge.

use super::bench::{Bench, at, cost, item, kind, near, same, text};
use tare_model::{Field, FieldValue, Id};
use tare_study::CostKind;

/// A piece of 4 EUR on a machine of 80 EUR/h and a setter of 40 EUR/h, set up in 1.5 h with three pieces scrapped.
const PRESS: [(&str, &str); 6] =
    [("cycle", "0 s"), ("rate", "80 EUR/h"), ("spent", "4 EUR"), ("setup", "1.5 h"), ("first_off", "3"), ("people", "0")];

fn set_up(bench: &Bench) -> f64 {
    kind(&bench.clean(), CostKind::Setup)
}

/// Set-up = (time x (machine + setters) + first-off scrap) / lot: (1.5 * 120 + 12) / 500.
#[test]
fn set_up_is_time_and_first_off_scrap_over_the_lot() {
    let mut bench = Bench::new();
    let (_, operation) = bench.product("processes/test-press", &PRESS);
    bench.value(bench.scenario, "volume", "6000 1/a");
    near(set_up(&bench), 0.384, 1e-9);
    // Two setters: (1.5 * 160 + 12) / 500.
    bench.value(operation, "setters", "2");
    near(set_up(&bench), 0.504, 1e-9);
    // Set-up is per lot: half the volume in the same twelve runs costs each piece twice as much.
    bench.value(bench.scenario, "volume", "3000 1/a");
    near(set_up(&bench), 1.008, 1e-9);
}

/// What is never set up scraps no first piece.
#[test]
fn no_set_up_no_first_off_scrap() {
    let mut bench = Bench::new();
    bench.product("processes/test-step", &[("spent", "10 EUR")]);
    let study = bench.clean();
    same(cost(&study), 10.0);
    same(kind(&study, CostKind::Setup), 0.0);
}

/// Whole runs per year: 1000 a year in lots of 300 are four runs, not three and a third.
#[test]
fn whole_runs_per_year() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-press", &PRESS);
    bench.value(made, "lot", "300");
    near(set_up(&bench), 192.0 * 4.0 / 1000.0, 1e-9);
    // A lot larger than a year's need is still set up once a year.
    bench.value(made, "lot", "5000");
    near(set_up(&bench), 0.192, 1e-9);
}

/// A left and a right bracket, each with its own set-up.
fn twins(bench: &mut Bench) -> (Id, Id) {
    let pack = bench.item("Pack");
    let (left, right) = (bench.item("Left"), bench.item("Right"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(left, top, 1.0);
    bench.bulk(right, top, 1.0);
    bench.operation(left, "processes/test-press", &PRESS);
    bench.operation(right, "processes/test-press", &PRESS);
    (left, right)
}

/// Twins run together share the set-up.
#[test]
fn twins_share_the_set_up() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "6000 1/a");
    let (left, right) = twins(&mut bench);
    // Apart: 0.384 each.
    near(set_up(&bench), 0.768, 1e-9);
    // Named on one side only, it holds for both: one run of 1000 in place of two of 500.
    bench.set(left, Field::Twin, FieldValue::Ref(right));
    let study = bench.clean();
    near(kind(&study, CostKind::Setup), 0.384, 1e-9);
    for id in [left, right] {
        near(at(&study, &format!("{}/lot/lot", item(&study, id).address)), 1000.0, 1e-9);
    }
}

/// Twins in different assemblies share the set-up too, however late the other's volume is known.
#[test]
fn twins_share_the_set_up_across_assemblies() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "6000 1/a");
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let left = bench.item("Left");
    bench.bulk(left, top, 1.0);
    let module = bench.item("Module");
    let inner = bench.bulk(module, top, 2.0);
    let right = bench.item("Right");
    bench.bulk(right, inner, 1.0);
    bench.operation(left, "processes/test-press", &PRESS);
    bench.operation(right, "processes/test-press", &PRESS);
    bench.set(right, Field::Twin, FieldValue::Ref(left));
    // 6000 left and 12 000 right: lots of 1500, three pieces in each product.
    near(set_up(&bench), 192.0 / 1500.0 * 3.0, 1e-9);
}

/// Minimum charge is per lot: max(minimum, rate x quantity) / lot; never per piece.
#[test]
fn minimum_charge_is_per_lot() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-plating", &[("each", "0.40 EUR")]);
    bench.rate(bench.study, "minimum.order", "150 EUR");
    bench.value(bench.scenario, "volume", "1200 1/a");
    // Lots of 100: 40 EUR of work, 150 EUR charged.
    near(bench.cost(), 1.5, 1e-9);
    bench.value(bench.scenario, "volume", "12000 1/a");
    near(bench.cost(), 0.40, 1e-9);
    // Fewer, larger lots pay it less often.
    bench.value(bench.scenario, "volume", "1200 1/a");
    bench.value(made, "lot", "300");
    near(bench.cost(), 0.5, 1e-9);
}

/// A bought item's minimum charge is per order.
#[test]
fn minimum_charge_of_a_bought_item_is_per_order() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let label = bench.add(
        tare_model::Kind::Item,
        None,
        &[(Field::Name, text("Label")), (Field::Make, text("buy")), (Field::Calculation, text("purchases/bought-part"))],
    );
    let top = bench.part(pack, None, 1.0);
    bench.bulk(label, top, 1.0);
    bench.rate(bench.study, "minimum.order", "120 EUR");
    bench.value(bench.scenario, "volume", "1200 1/a");
    bench.values(label, &[("break_from", "1"), ("break_price", "0.10 EUR"), ("handling", "0"), ("slope", "0")]);
    near(bench.cost(), 1.2, 1e-9);
}
