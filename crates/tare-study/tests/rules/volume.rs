//! Volume and demand: down the tree, before any cost.

use super::bench::{Bench, at, cost, error, item, kind, near, same, text, volume};
use tare_model::{Field, FieldValue};
use tare_study::CostKind;

/// Volume = product volume x uses over all paths + service share.
#[test]
fn item_volume_is_product_volume_times_uses_over_all_paths_plus_service() {
    let mut bench = Bench::new();
    let (pack, module, bracket) = (bench.item("Pack"), bench.item("Module"), bench.item("Bracket"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.bulk(module, top, 8.0);
    // The bracket sits in the pack, in each module, and in the pack again: 3 + 8 * 2 + 1.
    bench.bulk(bracket, top, 3.0);
    bench.bulk(bracket, inner, 2.0);
    bench.bulk(bracket, top, 1.0);
    bench.operation(bracket, "processes/test-step", &[("spent", "1 EUR")]);
    same(volume(&bench.clean(), bracket), 20_000.0);
    bench.value(bracket, "service_share", "5 %");
    let study = bench.clean();
    same(volume(&study, bracket), 21_000.0);
    // Service parts are made, but are not in the product.
    same(cost(&study), 20.0);
}

/// Set-up, tool life, price breaks and machine choice use the item's volume, not the use's.
#[test]
fn set_up_and_tool_life_use_the_items_volume() {
    let mut bench = Bench::new();
    let (pack, bracket) = (bench.item("Pack"), bench.item("Bracket"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(bracket, top, 1.0);
    bench.bulk(bracket, top, 9.0);
    bench.value(bench.scenario, "volume", "1200 1/a");
    bench.operation(bracket, "processes/test-tool", &[("cost", "1000 EUR"), ("life", "20000")]);
    let study = bench.clean();
    // 12 000 a year over 5 years and 20 000 per set: three sets; one run a month: lots of 1000.
    same(volume(&study, bracket), 12_000.0);
    assert_eq!(study.tools.len(), 1);
    same(study.value(study.tools[0].sets.expect("sets")), 3.0);
    same(at(&study, &format!("{}/lot/lot", item(&study, bracket).address)), 1000.0);
}

/// Price breaks use the item's volume: bought in lots of its own demand.
#[test]
fn price_breaks_use_the_items_volume() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let screw = bench.add(
        tare_model::Kind::Item,
        None,
        &[(Field::Name, text("Screw")), (Field::Make, text("buy")), (Field::Calculation, text("purchases/bought-part"))],
    );
    let top = bench.part(pack, None, 1.0);
    bench.bulk(screw, top, 4.0);
    bench.bulk(screw, top, 8.0);
    bench.values(
        screw,
        &[
            ("break_from", "1; 500; 1000"),
            ("break_price", "5 EUR; 4 EUR; 3 EUR"),
            ("minimum", "0 EUR"),
            ("handling", "0"),
            ("slope", "0"),
        ],
    );
    bench.value(bench.scenario, "volume", "1100 1/a");
    // 13 200 a year in twelve runs: orders of 1100 reach the last break; neither use alone would.
    let study = bench.clean();
    same(cost(&study), 36.0);
    bench.value(bench.scenario, "volume", "900 1/a");
    same(bench.cost(), 48.0);
}

/// Starts run down, costs run up: what is scrapped late needs all its children again.
#[test]
fn starts_run_down_and_costs_run_up() {
    let mut bench = Bench::new();
    let (pack, cell) = (bench.item("Pack"), bench.bought("Cell", "10 EUR"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(cell, top, 4.0);
    let station = [
        ("manual_time", "100 s"),
        ("yield", "0.98"),
        ("allowance", "0"),
        ("performance", "1"),
        ("line_loss", "0"),
        ("price", "0 EUR"),
        ("power", "0 kW"),
        ("floor", "0 m^2"),
    ];
    bench.operation(pack, "processes/station-manual", &station);
    let study = bench.clean();
    // 4 cells in each of 1000 / 0.98 packs started.
    near(volume(&study, cell), 4_081.632_653, 1e-5);
    // 40 EUR of cells and 1 EUR of work in each start, 1 / 0.98 starts.
    near(cost(&study), 41.0 / 0.98, 1e-9);
    same(kind(&study, CostKind::Bought), 40.0);
    near(kind(&study, CostKind::Scrap), 41.0 / 0.98 - 41.0, 1e-9);
}

/// Late assembly rejects lose the children; rework is a branch, not scrap.
#[test]
fn late_rejects_lose_the_children_and_rework_does_not() {
    let mut bench = Bench::new();
    let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "50 EUR"));
    let top = bench.part(pack, None, 1.0);
    let plates = bench.bulk(plate, top, 2.0);
    let plain = [
        ("yield", "1"),
        ("allowance", "0"),
        ("performance", "1"),
        ("line_loss", "0"),
        ("price", "0 EUR"),
        ("power", "0 kW"),
        ("floor", "0 m^2"),
    ];
    let station = bench.operation(pack, "processes/station-manual", &plain);
    let glue = bench.joint("joints/test-glue", &[plates], &[("laid", "100 s"), ("cure_held", "0 s")]);
    same(bench.cost(), 101.0);
    let mut rejected = bench.clone();
    rejected.value(station, "yield", "0.8");
    near(rejected.cost(), 101.0 / 0.8, 1e-9);
    near(volume(&rejected.clean(), plate), 2500.0, 1e-6);
    bench.value(glue, "again", "0.8");
    let reworked = bench.clean();
    near(cost(&reworked), 100.0 + 1.0 / 0.8, 1e-9);
    near(volume(&reworked, plate), 2000.0, 1e-6);
    same(kind(&reworked, CostKind::Scrap), 0.0);
}

/// Costs 2, 3, 5 with yields .95, .98, .90: 11.344 (not 11.93, not 10.72).
#[test]
fn yield_cascade_of_a_three_step_route() {
    let mut bench = Bench::new();
    let (item, _) = bench.product("processes/test-step", &[("spent", "2 EUR"), ("yield", "0.95")]);
    bench.operation(item, "processes/test-step", &[("spent", "3 EUR"), ("yield", "0.98")]);
    bench.operation(item, "processes/test-step", &[("spent", "5 EUR"), ("yield", "0.90")]);
    let study = bench.clean();
    near(cost(&study), 11.344, 0.0005);
    near(cost(&study), 2.0 / (0.95 * 0.98 * 0.90) + 3.0 / (0.98 * 0.90) + 5.0 / 0.90, 1e-9);
    same(kind(&study, CostKind::Consumable), 10.0);
}

/// Then credit scrap: the material of every start is bought and its offcut sold.
#[test]
fn yield_cascade_credits_scrap_of_every_start() {
    let mut bench = Bench::new();
    let (item, _) = bench.product("processes/test-blank", &[("material_use", "0.5"), ("recovery", "1")]);
    bench.set(item, Field::Material, text("steel-DC04"));
    bench.value(item, "mass", "1 kg");
    bench.rate(bench.study, "index.steel", "1 EUR/kg");
    bench.rate(bench.study, "scrap_share.steel", "0.5");
    bench.operation(item, "processes/test-step", &[("spent", "0 EUR"), ("yield", "0.8")]);
    near(bench.cost(), (2.0 * 1.0 - 1.0 * 0.5) / 0.8, 1e-9);
}

/// A percentage for end-item scrap in a published cost structure and yields in the operations exclude each other.
#[test]
fn published_scrap_share_and_yields_exclude_each_other() {
    let mut bench = Bench::new();
    let maker = bench.organisation("Maker");
    bench.set(maker, Field::Tier, text("t23.large"));
    bench.set(bench.study, Field::Book, text("region-a"));
    let (item, _) = bench.product("processes/test-step", &[("spent", "100 EUR"), ("yield", "0.9")]);
    bench.set(item, Field::Organisation, FieldValue::Ref(maker));
    // The tier's 0.7 % is in the book; the yield already carries the loss.
    let study = bench.clean();
    assert!(study.lines.leaves.iter().all(|l| l.name != "markup.t23.large.scrap"));
    // What the book leaves out of its hourly rates, 10 % of conversion, and no scrap share on top.
    let conversion = 100.0 / 0.9;
    near(kind(&study, CostKind::Overhead), 0.10 * conversion, 1e-9);
    near(kind(&study, CostKind::Sga), 0.07 * 1.10 * conversion, 1e-9);
}

/// Without a volume nothing can be costed, and that is said once, where it is missing.
#[test]
fn a_missing_volume_is_said_where_it_is_missing() {
    let mut without = Bench::new();
    without.value(without.scenario, "volume", "many");
    without.product("processes/test-step", &[("spent", "2 EUR")]);
    let study = without.compile();
    assert!(error(&study, "volume-missing").is_some_and(|e| e.contains("scenario/volume")));
    assert!(study.totals.cost.is_none());
}
