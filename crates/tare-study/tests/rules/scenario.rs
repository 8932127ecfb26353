//! What an organisation states of the scenario holds for what it does.

use super::bench::{Bench, cost, item, kind, near, same, text, volume};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::CostKind;

/// A pack with four brackets that another makes, without mark-ups or freight.
fn two_makers() -> (Bench, [Id; 4]) {
    let mut bench = Bench::new();
    for share in ["sga", "profit", "engineering", "handling"] {
        bench.rate(bench.study, &format!("markup.{share}"), "0");
    }
    let (pack, bracket) = (bench.item("Pack"), bench.item("Bracket"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(bracket, top, 4.0);
    let (integrator, supplier) = (bench.organisation("Integrator"), bench.organisation("Supplier"));
    bench.set(pack, Field::Organisation, FieldValue::Ref(integrator));
    bench.set(bracket, Field::Organisation, FieldValue::Ref(supplier));
    (bench, [pack, bracket, integrator, supplier])
}

/// A tool is paid back over the years of who owns the step.
#[test]
fn a_tool_is_paid_back_over_its_makers_years() {
    let (mut bench, [_, bracket, integrator, supplier]) = two_makers();
    bench.rate(bench.study, "interest", "0 1/a");
    bench.operation(bracket, "processes/test-tool", &[("cost", "40000 EUR"), ("life", "1000000")]);
    near(kind(&bench.clean(), CostKind::Tooling), 4.0 * 40_000.0 / 20_000.0, 1e-9);
    bench.value(integrator, "life", "2 a");
    near(kind(&bench.clean(), CostKind::Tooling), 4.0 * 40_000.0 / 20_000.0, 1e-9);
    bench.value(supplier, "life", "10 a");
    near(kind(&bench.clean(), CostKind::Tooling), 4.0 * 40_000.0 / 40_000.0, 1e-9);
}

/// A maker who serves another number of products makes as many pieces more; the product costs no more pieces for it.
#[test]
fn a_maker_may_serve_another_number_of_products() {
    let (mut bench, [pack, bracket, integrator, supplier]) = two_makers();
    bench.operation(bracket, "processes/test-step", &[("spent", "1 EUR")]);
    bench.value(supplier, "volume", "50000 1/a");
    let study = bench.clean();
    same(volume(&study, pack), 1000.0);
    same(volume(&study, bracket), 200_000.0);
    near(cost(&study), 4.0, 1e-9);
    assert_eq!(item(&study, bracket).name, "Bracket");
    // Where the maker of the product states its own, that is the product's.
    bench.value(integrator, "volume", "2000 1/a");
    let study = bench.clean();
    same(volume(&study, pack), 2000.0);
    same(volume(&study, bracket), 200_000.0);
    same(study.value(study.totals.volume.expect("a volume")) * super::bench::YEAR, 2000.0);
}

/// A line runs at the takt of who runs it.
#[test]
fn a_line_runs_at_its_makers_takt() {
    let (mut bench, [pack, _, integrator, _]) = two_makers();
    let line = bench.add(Kind::Line, None, &[(Field::Name, text("Line"))]);
    let station = bench.operation(pack, "processes/station-manual", &[("manual_time", "100 s")]);
    bench.set(station, Field::Line, FieldValue::Ref(line));
    bench.value(bench.scenario, "takt", "150 s");
    let takt = |bench: &Bench| {
        let study = bench.clean();
        study.value(study.line_balances[0].takt.expect("a takt"))
    };
    same(takt(&bench), 150.0);
    bench.value(integrator, "takt", "60 s");
    same(takt(&bench), 60.0);
    bench.forget(integrator, "takt");
    bench.forget(bench.scenario, "takt");
    // 4000 h over 1000 products, then over the maker's own 8000.
    near(takt(&bench), 14_400.0, 1e-6);
    bench.value(integrator, "volume", "8000 1/a");
    near(takt(&bench), 1800.0, 1e-6);
}
