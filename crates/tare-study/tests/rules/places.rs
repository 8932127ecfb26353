//! Where items sit: one description, every place counted, nothing paid twice.

use super::bench::{Bench, YEAR, at, cost, error, item, kind, near, same, text, volume};
use tare_model::{Field, FieldValue, Id};
use tare_study::{CostKind, Study};

/// Kinds, items and processes each add up to the total.
#[track_caller]
pub(super) fn closes(study: &Study) {
    let total = cost(study);
    let kinds: f64 = study.totals.by_kind.iter().map(|(_, l)| study.value(*l)).sum();
    let items: f64 = study.items.iter().filter_map(|i| i.contribution).map(|l| study.value(l)).sum();
    let processes: f64 = study.totals.by_process.iter().map(|(_, l)| study.value(*l)).sum();
    for sum in [kinds, items, processes] {
        same(sum, total);
    }
}

/// A screw of 5 EUR: four inside a bought module that is listed first, ten directly in the pack.
fn screws_in_a_bought_module() -> (Bench, Id, Id) {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let module = bench.bought("Module", "100 EUR");
    let inner = bench.bulk(module, top, 1.0);
    let screw = bench.bought("Screw", "5 EUR");
    bench.bulk(screw, inner, 4.0);
    bench.bulk(screw, top, 10.0);
    (bench, module, screw)
}

/// An item whose first place lies inside a bought assembly is costed at its other places.
#[test]
fn an_item_is_paid_outside_the_bought_assembly_it_is_first_listed_in() {
    let (bench, module, screw) = screws_in_a_bought_module();
    let study = bench.clean();
    same(cost(&study), 150.0);
    // The four inside are the supplier's volume.
    same(volume(&study, screw), 10_000.0);
    same(volume(&study, module), 1000.0);
    near(study.value(item(&study, screw).contribution.expect("ten screws")), 50.0, 1e-9);
    closes(&study);
}

/// A module of a frame and four cells, described at its first place, twice at the top and once in a box.
fn listed_once() -> (Bench, [Id; 5]) {
    let mut bench = Bench::new();
    let (pack, case, module) = (bench.item("Pack"), bench.item("Box"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    let first = bench.part(module, Some(top), 2.0);
    let boxed = bench.part(case, Some(top), 3.0);
    bench.part(module, Some(boxed), 1.0);
    let cell = bench.bought("Cell", "10 EUR");
    let cells = bench.bulk(cell, first, 4.0);
    let frame = bench.item("Frame");
    let frames = bench.bulk(frame, first, 1.0);
    bench.value(cell, "mass", "1 kg");
    bench.value(frame, "mass", "2 kg");
    bench.operation(frame, "processes/test-step", &[("spent", "3 EUR")]);
    bench.operation(module, "processes/test-step", &[("spent", "7 EUR")]);
    (bench, [module, cell, frame, cells, frames])
}

/// A second place of a sub-assembly that lists no children is the same thing: mass, cost and volumes.
#[test]
fn a_second_place_without_children_is_the_same_thing() {
    let (mut bench, [module, cell, frame, cells, _]) = listed_once();
    // Handling of modules and boxes is work of the assemblies above; it is not what is looked at.
    bench.rate(bench.study, "wage.operator", "0 EUR/h");
    let study = bench.clean();
    // Two at the top and one in each of three boxes.
    near(kind(&study, CostKind::Bought), 5.0 * 40.0, 1e-9);
    near(kind(&study, CostKind::Consumable), 5.0 * (3.0 + 7.0), 1e-9);
    near(study.value(study.totals.mass.expect("a mass")), 5.0 * 6.0, 1e-9);
    let sets = |address: &str| at(&study, address) * YEAR;
    assert!(volume(&study, cell) >= 20_000.0, "{}", volume(&study, cell));
    near(volume(&study, cell), 4.0 * volume(&study, frame), 1e-6);
    assert!(sets(&format!("{}/demand/volume", item(&study, module).address)) >= 5000.0);
    let row = study.parts.iter().find(|p| p.id == cells).expect("the cells");
    same(row.pieces, 20.0);
    let by_material: f64 = study.totals.mass_by_material.iter().map(|(_, l)| study.value(*l)).sum();
    near(by_material, 30.0, 1e-9);
    closes(&study);
}

/// Joints and fasteners of a description hold for all its places.
#[test]
fn joints_of_a_description_hold_for_all_its_places() {
    let (mut bench, [.., cells, frames]) = listed_once();
    let module = bench.clean().parts[1].id;
    let screw = bench.bought("Screw", "0.1 EUR");
    bench.set(screw, Field::Form, text("fastener"));
    let screws = bench.part(screw, Some(module), 6.0);
    let joint = bench.joint("joints/screw-tapped-hole", &[cells, frames], &[("diameter", "6 mm"), ("count", "6")]);
    bench.set(joint, Field::Fastener, FieldValue::Ref(screws));
    let study = bench.clean();
    same(study.joints[0].assemblies, 5.0);
    assert_eq!((study.fasteners[0].listed, study.fasteners[0].used), (30.0, 30.0));
    assert!(study.problems.iter().all(|d| d.code != "fasteners-differ"), "{:?}", study.problems);
    closes(&study);
}

/// A second place that is bought with what it is in pays nothing for the description outside it.
#[test]
fn a_description_inside_a_bought_assembly_serves_the_place_outside() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let bought = bench.bought("Bought box", "100 EUR");
    let inner = bench.bulk(bought, top, 1.0);
    let valve = bench.item("Valve");
    let described = bench.bulk(valve, inner, 2.0);
    let spring = bench.bought("Spring", "3 EUR");
    bench.bulk(spring, described, 5.0);
    bench.bulk(valve, top, 1.0);
    let study = bench.clean();
    same(cost(&study), 100.0 + 15.0);
    same(volume(&study, spring), 5000.0);
    closes(&study);
}

/// What stands inside itself through a description is said, and ends.
#[test]
fn a_description_inside_itself_is_said() {
    let mut bench = Bench::new();
    let (pack, a, b) = (bench.item("Pack"), bench.item("A"), bench.item("B"));
    let top = bench.part(pack, None, 1.0);
    let first = bench.bulk(a, top, 1.0);
    bench.bulk(b, first, 1.0);
    let second = bench.bulk(b, top, 1.0);
    bench.bulk(a, second, 1.0);
    assert!(error(&bench.compile(), "part-in-itself").is_some());
}

/// Work recorded under a place that does not describe its item is said, not dropped in silence.
#[test]
fn an_operation_under_a_second_place_is_a_located_error() {
    let (mut bench, _) = listed_once();
    let second = bench.clean().parts.iter().filter(|p| p.name == "Module").nth(1).expect("a second place").id;
    bench.operation(second, "processes/test-step", &[("spent", "1 EUR")]);
    let said = error(&bench.compile(), "operation-place").expect("an error");
    assert!(said.contains("Module is described at P2") && said.contains("op1"), "{said}");
}

/// A pack of a base and a bought module whose cover is glued inside.
fn glued_inside() -> (Bench, [Id; 3]) {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let base = bench.bought("Base", "0 EUR");
    let bases = bench.bulk(base, top, 1.0);
    let module = bench.bought("Module", "50 EUR");
    let modules = bench.bulk(module, top, 1.0);
    let cover = bench.bought("Cover", "9 EUR");
    let covers = bench.bulk(cover, modules, 1.0);
    (bench, [bases, modules, covers])
}

/// Joints inside a bought assembly are in its price: counted, neither timed nor paid.
#[test]
fn joints_inside_a_bought_assembly_are_counted_not_paid() {
    let (mut bench, [bases, modules, covers]) = glued_inside();
    bench.joint("joints/test-glue", &[covers], &[("laid", "100 s"), ("cure_held", "0 s")]);
    bench.joint("joints/test-stake", &[covers], &[("count", "4"), ("spent", "2 EUR")]);
    let study = bench.clean();
    same(cost(&study), 50.0);
    assert!(study.totals.manual.is_none());
    assert_eq!(study.joints.len(), 2);
    closes(&study);
    // The same glue between the module and the base is the pack's.
    bench.joint("joints/test-glue", &[bases, modules], &[("laid", "100 s"), ("cure_held", "0 s")]);
    let study = bench.clean();
    near(study.value(study.totals.manual.expect("a time")), 100.0, 1e-9);
    assert!(cost(&study) > 51.0);
}

/// A joint that names a station of another assembly keeps its labour, and is said.
#[test]
fn a_joint_at_the_station_of_another_assembly_keeps_its_labour() {
    let mut bench = Bench::new();
    let (pack, module) = (bench.item("Pack"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    let plate = bench.bought("Plate", "0 EUR");
    let plates = bench.bulk(plate, top, 2.0);
    let inner = bench.bulk(module, top, 1.0);
    let cell = bench.bought("Cell", "0 EUR");
    bench.bulk(cell, inner, 1.0);
    let plain = [
        ("yield", "1"),
        ("allowance", "0"),
        ("performance", "1"),
        ("line_loss", "0"),
        ("price", "0 EUR"),
        ("power", "0 kW"),
        ("floor", "0 m^2"),
    ];
    let here = bench.operation(pack, "processes/station-manual", &plain);
    let other = bench.operation(module, "processes/station-manual", &plain);
    let joint = bench.joint("joints/test-glue", &[plates], &[("laid", "100 s"), ("cure_held", "0 s")]);
    bench.set(joint, Field::Operation, FieldValue::Ref(here));
    same(bench.cost(), 1.0);
    bench.set(joint, Field::Operation, FieldValue::Ref(other));
    let study = bench.compile();
    same(cost(&study), 1.0);
    let said = error(&study, "joint-operation").expect("an error");
    assert!(said.contains("joined/operation") && said.contains("Pack"), "{said}");
}

/// A module of two springs, one of them also made for service.
fn serviced() -> (Bench, Id, Id) {
    let mut bench = Bench::new();
    let (pack, module, spring) = (bench.item("Pack"), bench.item("Module"), bench.item("Spring"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.bulk(module, top, 4.0);
    bench.bulk(spring, inner, 2.0);
    bench.bulk(spring, top, 1.0);
    (bench, module, spring)
}

/// Service modules need their springs: 4000 modules and 5 % take 8400, and the pack 1000 more.
#[test]
fn the_service_share_reaches_the_children() {
    let (mut bench, module, spring) = serviced();
    same(volume(&bench.clean(), spring), 9000.0);
    bench.value(module, "service_share", "5 %");
    let study = bench.clean();
    same(volume(&study, module), 4200.0);
    same(volume(&study, spring), 9400.0);
    bench.value(spring, "service_share", "10 %");
    near(volume(&bench.clean(), spring), 9400.0 * 1.1, 1e-6);
}

/// The count of the part at the top counts: two in each product.
#[test]
fn the_count_of_the_top_part_is_in_the_volumes() {
    let mut bench = Bench::new();
    let (pack, cell) = (bench.item("Pack"), bench.bought("Cell", "3 EUR"));
    let top = bench.part(pack, None, 2.0);
    bench.bulk(cell, top, 5.0);
    let study = bench.clean();
    same(volume(&study, pack), 2000.0);
    same(volume(&study, cell), 10_000.0);
    same(cost(&study), 30.0);
}

/// "Without" takes away everything that is in the dominant item, bought or made; what is in another dominant one is taken once.
#[test]
fn without_the_dominant_item_takes_its_whole_subtree() {
    let mut bench = Bench::new();
    let (pack, module) = (bench.item("Pack"), bench.item("Module"));
    let top = bench.part(pack, None, 1.0);
    let inner = bench.bulk(module, top, 2.0);
    let cell = bench.bought("Cell", "10 EUR");
    bench.bulk(cell, inner, 6.0);
    bench.bulk(cell, top, 1.0);
    bench.operation(module, "processes/test-step", &[("spent", "5 EUR")]);
    bench.operation(pack, "processes/test-step", &[("spent", "80 EUR")]);
    bench.set(module, Field::Dominant, FieldValue::Flag(true));
    let study = bench.clean();
    same(cost(&study), 220.0);
    same(study.value(study.totals.without_dominant.expect("a second headline")), 90.0);
    bench.set(cell, Field::Dominant, FieldValue::Flag(true));
    let study = bench.clean();
    same(study.value(study.totals.without_dominant.expect("a second headline")), 80.0);
}

/// The register stands in the order of the parts list, whatever the ids.
#[test]
fn the_tool_register_stands_in_the_order_of_the_parts_list() {
    let mut bench = Bench::new();
    let items: Vec<Id> = ["Early", "Late"].iter().map(|name| bench.item(name)).collect();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    for item in items.iter().rev() {
        bench.bulk(*item, top, 1.0);
        bench.operation(*item, "processes/test-tool", &[("cost", "1000 EUR"), ("life", "100000")]);
    }
    let study = bench.clean();
    let titles: Vec<&str> = study.tools.iter().map(|t| t.title.as_str()).collect();
    assert_eq!(titles, ["die for Late", "die for Early"]);
}
