//! Machine and labour.

use super::bench::{Bench, at, cost, error, item, kind, kinds, near, same};
use tare_study::CostKind;

/// Smallest class whose force suffices; never interpolated.
#[test]
fn smallest_machine_class_that_suffices() {
    let mut bench = Bench::new();
    let (_, operation) = bench.product("processes/test-class", &[("force", "500 kN")]);
    // 100 s at 36 EUR/h.
    near(bench.cost(), 1.0, 1e-9);
    for force in ["501 kN", "1000 kN", "1500 kN"] {
        bench.value(operation, "force", force);
        near(bench.cost(), 2.0, 1e-9);
    }
}

/// A press takes force and bed: the tool of a long part needs a larger press than its force alone.
#[test]
fn a_press_suffices_in_force_and_bed() {
    let press = |stations: &str| {
        let mut bench = Bench::new();
        bench.set(bench.study, tare_model::Field::Book, super::bench::text("region-a"));
        let (made, _) = bench.product("processes/stamping-progressive", &[("stations", stations)]);
        bench.set(made, tare_model::Field::Material, super::bench::text("steel-DC04"));
        bench.values(
            made,
            &[("mass", "0.05 kg"), ("length", "100 mm"), ("width", "50 mm"), ("height", "5 mm"), ("wall_thickness", "1 mm")],
        );
        let study = bench.clean();
        ["force", "pitch", "press.needed"].map(|name| at(&study, &format!("{}/op1/{name}", study.items[0].address)))
    };
    let [force, pitch, needed] = press("5");
    assert!(force < 630e3 && (0.06..0.07).contains(&pitch), "{force} {pitch}");
    // 5 stations and 250 mm stand on 850 mm, the bed of the 630 kN class; 25 of them need the bed of 2500 kN, whatever the force.
    near(needed, 630e3, 1e-6);
    near(press("25")[2], 2500e3, 1e-6);
}

/// A moulding machine takes force, shot and stroke; and the item's volume, not the use's, decides how many cavities it shuts.
#[test]
fn a_moulding_machine_suffices_in_stroke_and_is_chosen_by_the_items_volume() {
    let class = |height: &str, uses: &[f64]| {
        let mut bench = Bench::new();
        bench.set(bench.study, tare_model::Field::Book, super::bench::text("region-a"));
        bench.value(bench.scenario, "volume", "60000 1/a");
        let (pack, made) = (bench.item("Pack"), bench.item("Cup"));
        let top = bench.part(pack, None, 1.0);
        for count in uses {
            bench.bulk(made, top, *count);
        }
        bench.set(made, tare_model::Field::Material, super::bench::text("PA66-GF30"));
        bench.values(
            made,
            &[("mass", "60 g"), ("length", "100 mm"), ("width", "80 mm"), ("height", height), ("wall_thickness", "2.5 mm")],
        );
        bench.operation(made, "processes/injection-moulding", &[]);
        let study = bench.clean();
        let read = |name: &str| at(&study, &format!("{}/op1/{name}", item(&study, made).address));
        (read("cavities"), read("clamp"), read("press.needed"))
    };
    let (cavities, clamp, needed) = class("20 mm", &[1.0]);
    same(cavities, 1.0);
    assert!(needed >= clamp && needed < 2500e3);
    // 2 * 300 + 50 mm of stroke: the 4000 kN class opens 650 mm.
    near(class("300 mm", &[1.0]).2, 4000e3, 1e-6);
    // 60 000 a year in each of two places are 120 000 of the item: two cavities, which take twice the force.
    let (cavities, twice, larger) = class("20 mm", &[1.0, 1.0]);
    same(cavities, 2.0);
    near(twice, 2.0 * clamp, 1e-6 * clamp);
    assert!(larger > needed);
}

/// None fits: say so, at the operation, with the largest there is.
#[test]
fn no_machine_class_fits_is_a_located_error() {
    let mut bench = Bench::new();
    let (made, _) = bench.product("processes/test-class", &[("force", "1501 kN")]);
    let study = bench.compile();
    let said = error(&study, "outside-table").expect("an error");
    assert!(said.contains("op1") && said.contains("machine") && said.contains("1500 kN"), "{said}");
    let at =
        study.problems.iter().find(|d| d.code == "outside-table").and_then(|d| d.place.clone()).expect("a place").to_string();
    assert_eq!(at, format!("{}/op1", item(&study, made).address));
}

/// The library's own machines refuse as well: a blank that no press can take.
#[test]
fn no_press_of_the_library_fits_is_a_located_error() {
    let mut bench = Bench::new();
    bench.set(bench.study, tare_model::Field::Book, super::bench::text("region-a"));
    let (made, _) = bench.product("processes/injection-moulding", &[]);
    bench.set(made, tare_model::Field::Material, super::bench::text("PA66-GF30"));
    bench.values(
        made,
        &[("mass", "30 kg"), ("length", "4 m"), ("width", "3 m"), ("height", "300 mm"), ("wall_thickness", "3 mm")],
    );
    let study = bench.compile();
    let said = error(&study, "outside-table").expect("an error");
    assert!(said.contains("/op1"), "{said}");
}

/// One operator on several machines: cycle 60 s, wage 36/h, machine 54/h, 3 machines: 0.20 + 0.90 = 1.10 (not 1.50).
#[test]
fn one_operator_on_three_machines() {
    let mut bench = Bench::new();
    let (_, operation) =
        bench.product("processes/test-press", &[("cycle", "60 s"), ("rate", "54 EUR/h"), ("people", "0.3333333333333333")]);
    let study = bench.clean();
    near(kind(&study, CostKind::Labour), 0.20, 1e-9);
    near(kind(&study, CostKind::Machine), 0.90, 1e-9);
    near(cost(&study), 1.10, 1e-9);
    bench.value(operation, "people", "1");
    near(bench.cost(), 1.50, 1e-9);
}

/// Manual work inside the machine cycle is free.
#[test]
fn manual_work_inside_the_machine_cycle_is_free() {
    let mut bench = Bench::new();
    let station = [
        ("manual_time", "20 s"),
        ("process_time", "60 s"),
        ("overlap", "1"),
        ("transfer", "0 s"),
        ("allowance", "0"),
        ("performance", "1"),
        ("line_loss", "0"),
        ("yield", "1"),
        ("price", "0 EUR"),
        ("power", "0 kW"),
        ("floor", "0 m^2"),
    ];
    let (_, operation) = bench.product("processes/station-semi-automatic", &station);
    near(kind(&bench.clean(), CostKind::Labour), 0.60, 1e-9);
    bench.value(operation, "manual_time", "50 s");
    near(kind(&bench.clean(), CostKind::Labour), 0.60, 1e-9);
    // Beyond the machine's time the hands decide.
    bench.value(operation, "manual_time", "80 s");
    near(kind(&bench.clean(), CostKind::Labour), 0.80, 1e-9);
}

/// Cell cycle = longest of the parallel stations + index, divided by good pieces.
#[test]
fn cell_cycle_is_the_longest_station_plus_index_over_good_pieces() {
    let mut bench = Bench::new();
    let cell = [("station", "20 s; 35 s; 28 s"), ("index", "5 s"), ("nests", "4"), ("yield", "0.8"), ("rate", "36 EUR/h")];
    bench.product("processes/test-cell", &cell);
    // 40 s at 0.01 EUR/s over 4 pieces of which 3.2 are good.
    near(bench.cost(), 0.40 / 3.2, 1e-9);
}

/// Pieces per cycle may be fractional: a piece in two halves, five pieces in two cycles.
#[test]
fn pieces_per_cycle_may_be_fractional() {
    let mut bench = Bench::new();
    let (_, operation) = bench.product(
        "processes/test-press",
        &[("cycle", "60 s"), ("rate", "54 EUR/h"), ("people", "0.3333333333333333"), ("pieces", "0.5")],
    );
    near(bench.cost(), 2.20, 1e-9);
    bench.value(operation, "pieces", "2.5");
    near(bench.cost(), 0.44, 1e-9);
}

/// Cure and cooling hold stations, not people.
#[test]
fn cure_holds_stations_not_people() {
    let labour_and_machine = |cure: &str| {
        let mut bench = Bench::new();
        let (pack, plate) = (bench.item("Pack"), bench.bought("Plate", "0 EUR"));
        let top = bench.part(pack, None, 1.0);
        let plates = bench.bulk(plate, top, 1.0);
        let plain = [
            ("yield", "1"),
            ("allowance", "0"),
            ("performance", "1"),
            ("line_loss", "0"),
            ("price", "100000 EUR"),
            ("power", "0 kW"),
            ("floor", "0 m^2"),
        ];
        bench.operation(pack, "processes/station-manual", &plain);
        bench.joint("joints/test-glue", &[plates], &[("laid", "100 s"), ("cure_held", cure)]);
        let study = bench.clean();
        (kind(&study, CostKind::Labour), kind(&study, CostKind::Machine))
    };
    let (quick, cured) = (labour_and_machine("0 s"), labour_and_machine("600 s"));
    same(quick.0, 1.0);
    same(cured.0, 1.0);
    near(cured.1, 7.0 * quick.1, 1e-9);
}

/// A cost already in the rate is not charged again: the machine hour holds no energy, which stands apart, once.
#[test]
fn energy_is_not_counted_twice() {
    let mut bench = Bench::new();
    let (_, operation) = bench.product("processes/test-priced", &[("cycle", "1 h"), ("price", "400000 EUR"), ("power", "30 kW")]);
    bench.rate(bench.study, "electricity", "0.17 EUR/kWh");
    let study = bench.clean();
    near(kind(&study, CostKind::Energy), 5.1, 1e-9);
    let without = {
        let mut bench = bench.clone();
        bench.value(operation, "power", "0 kW");
        bench.clean()
    };
    // The machine hour is the same with and without the power it draws.
    same(kind(&study, CostKind::Machine), kind(&without, CostKind::Machine));
    same(cost(&study) - cost(&without), 5.1);
    bench.rate(bench.study, "electricity", "0.34 EUR/kWh");
    let dearer = bench.clean();
    for (kind, amount) in kinds(&dearer) {
        let before = super::bench::kind(&study, kind);
        same(amount, if kind == CostKind::Energy { 2.0 * before } else { before });
    }
}

/// A rate that is stated as a whole is taken as it stands: nothing is added to it.
#[test]
fn a_stated_machine_rate_is_taken_whole() {
    let mut bench = Bench::new();
    bench.product("processes/test-press", &[("cycle", "60 s"), ("rate", "54 EUR/h"), ("people", "0")]);
    for (key, rate) in [("electricity", "9 EUR/kWh"), ("floor", "9999 EUR/(m^2*a)"), ("machine.overhead", "5")] {
        bench.rate(bench.study, key, rate);
    }
    near(bench.cost(), 0.90, 1e-9);
}

/// A rate lists what it contains: every rate book that ships says what its wages, hours, metals and mark-ups hold.
#[test]
fn every_rate_book_says_what_it_contains() {
    let books: Vec<_> = super::bench::library().books().collect();
    assert!(books.len() >= 3);
    for book in books {
        assert!(!book.contains.is_empty(), "{}", book.key);
        if book.illustrative {
            for word in ["wages", "machine", "energy", "mark-ups"] {
                assert!(book.contains.iter().any(|c| c.contains(word)), "{} does not say what its {word} hold", book.key);
            }
        }
    }
}

/// Productive hours in the rate and efficiency on the cycle: one loss is carried once.
#[test]
fn productive_hours_are_in_the_rate_alone() {
    let mut bench = Bench::new();
    bench.product("processes/test-priced", &[("cycle", "1 h"), ("price", "400000 EUR")]);
    let full = bench.cost();
    bench.rate(bench.study, "machine.hours", "2000 h/a");
    near(bench.cost(), 2.0 * full, 1e-9);
}

/// Learning acts on labour, not on metal: three doublings at 80 % leave 51.2 % of the first time.
#[test]
fn learning_acts_on_labour_not_on_metal() {
    let mut bench = Bench::new();
    let (made, operation) = bench.product("processes/test-learned", &[("rate", "0.8"), ("made", "2")]);
    bench.set(made, tare_model::Field::Material, super::bench::text("steel-DC04"));
    bench.value(made, "mass", "2 kg");
    bench.rate(bench.study, "price.steel-DC04", "3 EUR/kg");
    let second = bench.clean();
    near(kind(&second, CostKind::Labour), 0.8 * 36.0, 1e-9);
    bench.value(operation, "made", "8");
    let eighth = bench.clean();
    near(kind(&eighth, CostKind::Labour), 0.512 * 36.0, 1e-9);
    same(kind(&eighth, CostKind::Material), 6.0);
    same(kind(&second, CostKind::Material), 6.0);
}

/// Learning and the rates of a mature plant exclude each other: the books are those of a mature plant, so nothing that ships learns.
#[test]
fn nothing_that_ships_learns_at_the_rates_of_a_mature_plant() {
    let library = super::bench::library();
    let learning = library.find("build-up/learning").expect("learning ships");
    assert!(learning.says.contains("excludes rates of a mature plant"));
    let users: Vec<&str> = library
        .calculations()
        .filter(|c| !c.key.contains("test-") && c.uses.iter().any(|u| u.calculation.value == "build-up/learning"))
        .map(|c| c.key.as_str())
        .collect();
    assert!(users.is_empty(), "{users:?}");
}
