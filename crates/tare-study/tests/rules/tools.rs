//! Tools and investment.

use super::bench::{Bench, cost, error, kind, near, same, text};
use tare_model::{Field, FieldValue, Id, Kind};
use tare_study::{CostKind, Study};

/// 1,000,000 over 5 years at 10 % and 30,000 a year, in one set.
fn million(bench: &mut Bench) -> (Id, Id) {
    bench.value(bench.scenario, "volume", "30000 1/a");
    bench.product("processes/test-tool", &[("cost", "1000000 EUR"), ("life", "150000"), ("upkeep", "0.1")])
}

fn tooling(study: &Study) -> f64 {
    kind(study, CostKind::Tooling)
}

/// 1,000,000 over 5 years at 10 % and 30,000 a year: 8.793 each (straight line 6.667).
#[test]
fn tool_charge_recovers_capital() {
    let mut bench = Bench::new();
    let (_, operation) = million(&mut bench);
    bench.value(operation, "upkeep", "0");
    near(tooling(&bench.clean()), 8.793, 0.0005);
    bench.rate(bench.study, "interest", "0 1/a");
    near(tooling(&bench.clean()), 6.667, 0.0005);
}

/// A tool paid as a lump leaves the piece price, its upkeep stays.
#[test]
fn a_lump_leaves_the_piece_price_and_its_upkeep_stays() {
    let mut bench = Bench::new();
    let (made, _) = million(&mut bench);
    // A tenth of the cost over 150 000 cycles: 0.667 a piece.
    near(tooling(&bench.clean()), 8.793 + 0.667, 0.001);
    bench.add(
        Kind::Tool,
        None,
        &[(Field::Name, text("Die")), (Field::Items, FieldValue::Refs(vec![made])), (Field::Owner, text("client"))],
    );
    let study = bench.clean();
    near(tooling(&study), 0.667, 0.0005);
    assert!(study.tools[0].lump);
    // It is still an investment.
    near(study.value(study.totals.investment.expect("an investment")), 1e6, 1e-6);
}

/// Sets = the larger of the need by life and the need by rate.
#[test]
fn sets_are_the_larger_of_life_and_rate() {
    let sets = |volume: &str, life: &str, cycle: &str, pieces: &str| {
        let mut bench = Bench::new();
        bench.value(bench.scenario, "volume", volume);
        bench.product("processes/test-tool", &[("cost", "1000 EUR"), ("life", life), ("cycle", cycle), ("pieces", pieces)]);
        let study = bench.clean();
        study.value(study.tools[0].sets.expect("sets"))
    };
    // 60 000 cycles a year over 5 years at 100 000 a set; 1500 of 4000 hours.
    same(sets("120000 1/a", "100000", "90 s", "2"), 3.0);
    // 200 000 cycles of 180 s need 10 000 of 4000 hours; life would do with one.
    same(sets("200000 1/a", "1000000", "180 s", "1"), 3.0);
    // Exactly full is one set, a piece more a year is two.
    same(sets("20000 1/a", "100000", "1 s", "1"), 1.0);
    same(sets("20001 1/a", "100000", "1 s", "1"), 2.0);
}

/// Sets by life use starts, not good pieces.
#[test]
fn sets_count_starts() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "20000 1/a");
    let (made, _) = bench.product("processes/test-tool", &[("cost", "1000 EUR"), ("life", "100000")]);
    bench.operation(made, "processes/test-step", &[("spent", "0 EUR"), ("yield", "0.95")]);
    let study = bench.clean();
    same(study.value(study.tools[0].sets.expect("sets")), 2.0);
}

/// Later sets are discounted to their year: 1 + 1/1.1^(100000/60000) + its square, of 200 000 each.
#[test]
fn later_sets_are_discounted_to_their_year() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "60000 1/a");
    bench.product("processes/test-tool", &[("cost", "200000 EUR"), ("life", "100000")]);
    let study = bench.clean();
    let step = tare_engine::math::pow(1.1, -100_000.0 / 60_000.0);
    let recovery = 0.1 * 1.61051 / 0.61051;
    near(tooling(&study), 200_000.0 * (1.0 + step + step * step) * recovery / 60_000.0, 1e-6);
    near(study.value(study.totals.investment.expect("an investment")), 600_000.0, 1e-6);
}

/// More volume lowers piece cost only within a constant number of tool sets: saw teeth are right.
#[test]
fn saw_teeth_of_piece_cost_over_volume() {
    let mut bench = Bench::new();
    bench.product("processes/test-tool", &[("cost", "100000 EUR"), ("life", "100000"), ("cycle", "1 s")]);
    let mut before: Option<(f64, f64)> = None;
    let (mut falls, mut jumps) = (0, 0);
    for volume in (10_000..70_000).step_by(2_500) {
        bench.value(bench.scenario, "volume", &format!("{volume} 1/a"));
        let study = bench.clean();
        let now = (study.value(study.tools[0].sets.expect("sets")), cost(&study));
        if let Some((sets, price)) = before {
            if now.0 == sets {
                assert!(now.1 < price, "{volume}: {price} then {} with {sets} sets", now.1);
                falls += 1;
            } else {
                assert!(now.1 > price, "{volume}: {price} then {} with one set more", now.1);
                jumps += 1;
            }
        }
        before = Some(now);
    }
    assert!(falls > 15 && jumps == 3, "{falls} falls, {jumps} jumps");
}

/// A handed pair from one tool: its items, and how the tool knows them.
fn pair(named: &str, pieces: &str) -> Study {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "15000 1/a");
    let pack = bench.item("Pack");
    let (left, right) = (bench.item("Left"), bench.item("Right"));
    let top = bench.part(pack, None, 1.0);
    bench.bulk(left, top, 1.0);
    bench.bulk(right, top, 1.0);
    let stated = [("cost", "1000000 EUR"), ("life", "150000"), ("pieces", pieces)];
    let (a, b) = (bench.operation(left, "processes/test-tool", &stated), bench.operation(right, "processes/test-tool", &stated));
    let tool = bench.add(Kind::Tool, None, &[(Field::Name, text("Pair tool"))]);
    match named {
        "items" => bench.set(tool, Field::Items, FieldValue::Refs(vec![left, right])),
        "operations" => bench.set(tool, Field::Operations, FieldValue::Refs(vec![a, b])),
        _ => [a, b].iter().for_each(|o| bench.set(*o, Field::Tool, FieldValue::Ref(tool))),
    }
    bench.clean()
}

/// A tool is a thing of its own: one serving a handed pair is charged over both volumes and stands in the register once.
#[test]
fn one_tool_serves_a_handed_pair() {
    for named in ["items", "operations", "by the operations"] {
        let study = pair(named, "1");
        assert_eq!(study.tools.len(), 1, "{named}");
        assert_eq!(study.tools[0].serves.len(), 2, "{named}");
        // 30 000 a year between them: 8.793 on each of the two, not 17.586.
        near(tooling(&study), 2.0 * 8.793, 0.001);
        near(study.value(study.totals.investment.expect("an investment")), 1e6, 1e-6);
    }
}

/// Family cavities: one shot gives a left and a right, so that the pair needs half the cycles.
#[test]
fn family_cavities_share_the_shot() {
    let apart = pair("items", "1");
    let family = pair("items", "2");
    // 150 000 pieces are 150 000 cycles of single cavities and 75 000 shots of the pair.
    let cycles = |study: &Study| {
        super::bench::at(study, &format!("{}/op1 die/sets.cycles_per_year", study.items[1].address)) * super::bench::YEAR
    };
    near(cycles(&apart), 30_000.0, 1e-6);
    near(cycles(&family), 15_000.0, 1e-6);
    same(study_sets(&family), 1.0);
}

fn study_sets(study: &Study) -> f64 {
    study.value(study.tools[0].sets.expect("sets"))
}

/// Two items with a tool each pay for two.
#[test]
fn tools_that_are_not_shared_are_two() {
    let study = {
        let mut bench = Bench::new();
        bench.value(bench.scenario, "volume", "30000 1/a");
        let pack = bench.item("Pack");
        let top = bench.part(pack, None, 1.0);
        for name in ["Left", "Right"] {
            let made = bench.item(name);
            bench.bulk(made, top, 1.0);
            bench.operation(made, "processes/test-tool", &[("cost", "1000000 EUR"), ("life", "150000")]);
        }
        bench.clean()
    };
    assert_eq!(study.tools.len(), 2);
    near(tooling(&study), 2.0 * 8.793, 0.001);
    near(study.value(study.totals.investment.expect("an investment")), 2e6, 1e-6);
}

/// In a ramp divide by discounted volume.
#[test]
fn a_ramp_divides_by_discounted_volume() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "10000 1/a; 20000 1/a; 30000 1/a");
    bench.value(bench.scenario, "life", "3 a");
    bench.product("processes/test-tool", &[("cost", "100000 EUR"), ("life", "150000")]);
    near(tooling(&bench.clean()), 2.0764, 0.0001);
}

/// Depreciation in a rate and the same press as investment exclude each other: a machine is paid by its hours alone.
#[test]
fn a_machine_in_the_rate_is_no_investment() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "30000 1/a");
    let (made, _) = bench.product("processes/test-priced", &[("cycle", "60 s"), ("price", "400000 EUR")]);
    let study = bench.clean();
    assert!(kind(&study, CostKind::Machine) > 0.0);
    assert!(study.totals.investment.is_none_or(|line| study.value(line) == 0.0));
    // With a die beside it the die alone is invested.
    bench.operation(made, "processes/test-tool", &[("cost", "10000 EUR"), ("life", "1000000")]);
    let study = bench.clean();
    near(study.value(study.totals.investment.expect("an investment")), 10_000.0, 1e-9);
}

/// Saw teeth also where the machine class changes: within one mould and machine more volume is cheaper, a second cavity takes more.
#[test]
fn saw_teeth_where_the_machine_class_changes() {
    let at_volume = |volume: u32| {
        let mut bench = Bench::new();
        bench.set(bench.study, Field::Book, text("region-a"));
        bench.value(bench.scenario, "volume", &format!("{volume} 1/a"));
        let (made, _) = bench.product("processes/injection-moulding", &[("life", "10000000")]);
        bench.set(made, Field::Material, text("PA66-GF30"));
        bench.values(
            made,
            &[("mass", "60 g"), ("length", "100 mm"), ("width", "80 mm"), ("height", "20 mm"), ("wall_thickness", "2.5 mm")],
        );
        let study = bench.clean();
        let machine = super::bench::at(&study, &format!("{}/op1/press.needed", study.items[0].address));
        let sets = study.value(study.tools[0].sets.expect("sets"));
        ((machine, sets), cost(&study), kind(&study, CostKind::Tooling))
    };
    let points: Vec<_> = [60_000, 80_000, 100_000, 101_000, 120_000].map(at_volume).to_vec();
    for pair in points.windows(2) {
        if pair[0].0 == pair[1].0 {
            assert!(pair[1].1 < pair[0].1, "{pair:?}");
        } else {
            // The larger machine takes a mould of two cavities: its tool cost jumps.
            assert!(pair[1].0 != pair[0].0 && pair[1].2 > pair[0].2, "{pair:?}");
        }
    }
    assert!(points[3].0.0 > points[2].0.0);
}

/// No round tool cost without cavities and life: each row of the register shows both beside the cost.
#[test]
fn the_register_shows_cavities_and_life_beside_the_cost() {
    let study = pair("items", "2");
    let row = &study.tools[0];
    same(study.value(row.cost), 1e6);
    same(study.value(row.pieces), 2.0);
    same(study.value(row.life), 150_000.0);
}

/// A tool that names an item whose two steps both need one: that is asked, and until then each step has its own.
#[test]
fn a_tool_serves_one_step_of_an_item() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "30000 1/a");
    let stated = [("cost", "1000000 EUR"), ("life", "150000")];
    let (made, first) = bench.product("processes/test-tool", &stated);
    let second = bench.operation(made, "processes/test-tool", &[("cost", "500000 EUR"), ("life", "150000")]);
    let tool = bench.add(Kind::Tool, None, &[(Field::Name, text("Die")), (Field::Items, FieldValue::Refs(vec![made]))]);
    bench.value(tool, "cost", "2000000 EUR");
    let study = bench.compile();
    let said = error(&study, "tool-step").expect("an error");
    assert!(said.contains("op1 (die)") && said.contains("op2 (die)") && said.contains("tool Die/operations"), "{said}");
    near(tooling(&study), 1.5 * 8.793, 0.001);
    // Named, it serves that one: 2 000 000 in place of the 500 000 of the second step.
    bench.set(tool, Field::Operations, FieldValue::Refs(vec![second]));
    let study = bench.clean();
    near(tooling(&study), 3.0 * 8.793, 0.001);
    assert_eq!(study.tools.iter().map(|t| t.record == Some(tool)).collect::<Vec<_>>(), [false, true]);
    near(study.value(study.totals.investment.expect("an investment")), 3e6, 1e-6);
    // Two steps of one calculation do not pay for one record twice.
    bench.set(tool, Field::Operations, FieldValue::Refs(vec![first, second]));
    assert!(error(&bench.compile(), "tool-step").is_some());
}

/// A tool that names operations serves those alone, whatever else its items need.
#[test]
fn a_named_operation_leaves_the_other_steps_their_own_tools() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "30000 1/a");
    let (made, _) = bench.product("processes/test-tool", &[("cost", "1000000 EUR"), ("life", "150000")]);
    let second = bench.operation(made, "processes/test-tool", &[("cost", "500000 EUR"), ("life", "150000")]);
    for (name, operations) in [("Named", vec![second]), ("Whole", vec![])] {
        bench.add(
            Kind::Tool,
            None,
            &[
                (Field::Name, text(name)),
                (Field::Items, FieldValue::Refs(vec![made])),
                (Field::Operations, FieldValue::Refs(operations)),
            ],
        );
    }
    let titles: Vec<String> = bench.clean().tools.iter().map(|t| t.title.clone()).collect();
    assert_eq!(titles, ["Whole", "Named"]);
}

/// Tools of joints are paid with count times volume: 4 strokes in 1000 products over 5 years, 10 000 a die.
#[test]
fn joints_pay_for_their_tools() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let plate = bench.bought("Plate", "0 EUR");
    let plates = bench.bulk(plate, top, 2.0);
    bench.rate(bench.study, "interest", "0 1/a");
    let free = [("yield", "1"), ("price", "0 EUR"), ("power", "0 kW"), ("floor", "0 m^2")];
    let station = bench.operation(pack, "processes/station-manual", &free);
    let joint = bench.joint("joints/test-stake", &[plates], &[("count", "4"), ("die_life", "10000")]);
    let study = bench.clean();
    same(study.value(study.tools[0].sets.expect("sets")), 2.0);
    near(tooling(&study), 2000.0 / 5000.0, 1e-9);
    super::places::closes(&study);
    // Strokes made again wear the die as well.
    bench.value(joint, "again", "0.5");
    let study = bench.clean();
    same(study.value(study.tools[0].sets.expect("sets")), 4.0);
    near(tooling(&study), 4000.0 / 5000.0, 1e-9);
    super::places::closes(&study);
    // So do those in rejected assemblies, and what the joint takes is lost with them.
    bench.value(joint, "again", "1");
    bench.value(joint, "spent", "0.5 EUR");
    let before = kind(&bench.clean(), CostKind::Scrap);
    bench.value(station, "yield", "0.8");
    let study = bench.clean();
    same(study.value(study.tools[0].sets.expect("sets")), 3.0);
    assert!(before.abs() < 1e-12);
    let labour = kind(&study, CostKind::Labour);
    near(kind(&study, CostKind::Scrap), 0.25 * (4.0 * 0.5 + labour), 1e-9);
    super::places::closes(&study);
}

/// The tool of a purchase is in the same step as its price, so that the table by process closes.
#[test]
fn the_tool_of_a_purchase_is_in_its_step() {
    let mut bench = Bench::new();
    let pack = bench.item("Pack");
    let top = bench.part(pack, None, 1.0);
    let fields = [(Field::Name, text("Cap")), (Field::Make, text("buy")), (Field::Calculation, text("purchases/test-tooled"))];
    let cap = bench.add(Kind::Item, None, &fields);
    bench.bulk(cap, top, 2.0);
    bench.values(cap, &[("each", "3 EUR"), ("mould", "10000 EUR"), ("shots", "1000000")]);
    bench.rate(bench.study, "interest", "0 1/a");
    let study = bench.clean();
    near(cost(&study), 2.0 * (3.0 + 10_000.0 / 10_000.0), 1e-9);
    super::places::closes(&study);
}

/// Years that do not fit the life are said.
#[test]
fn a_ramp_states_a_volume_for_each_year() {
    let mut bench = Bench::new();
    bench.value(bench.scenario, "volume", "10000 1/a; 20000 1/a");
    bench.product("processes/test-tool", &[("cost", "100000 EUR"), ("life", "150000")]);
    let study = bench.compile();
    assert!(error(&study, "ramp-years").is_some_and(|e| e.contains("2 years")));
    // Lots and demand are of the mean year.
    same(super::bench::volume(&study, study.items[0].id), 15_000.0);
    // A maker with a life of its own states its own years.
    bench.value(bench.scenario, "life", "2 a");
    let maker = bench.organisation("Maker");
    bench.set(study.items[0].id, Field::Organisation, FieldValue::Ref(maker));
    assert!(error(&bench.compile(), "ramp-years").is_none());
    bench.value(maker, "life", "3 a");
    assert!(error(&bench.compile(), "ramp-years").is_some_and(|e| e.contains("Maker")));
}
