//! A foreign list: looked at, taken as one entry, taken back, taken again in its next revision.

mod common;

use common::{Bench, SMALL};

const LIST: &str = "Pos;Part number;Name;Qty;Mass (g);Price EUR/pc\n1;A-100;Frame;1;812,5;12,40\n2;A-200;Bolt M5;4;3,2;0,08\n3;A-300;=SUM(A1);2;10;0,10\n;;Total;7;845,3;\n";

fn mass(bench: &Bench) -> f64 {
    bench.run(&["mass", "--json"]).json()["mass"]["total"]["value"].as_f64().expect("a mass")
}

#[test]
fn looking_needs_no_study_and_writes_nothing() {
    let bench = Bench::new();
    bench.write("list.csv", LIST);
    let plan = bench.run(&["import", "list.csv", "--dry-run", "--json"]).json();
    assert_eq!((plan["parts"].as_u64(), plan["total_quantity"].as_f64()), (Some(3), Some(7.0)));
    assert!(plan["tables"][0]["header_row"] == 1 && plan["mapping"]["tables"].is_array() && plan["warnings"].is_array());
    assert!(!bench.path("tare-work").exists());
    let out = bench.run(&["import", "list.csv"]).well();
    assert!(out.contains("Frame") && out.contains("tare new"), "{out}");
}

#[test]
fn one_import_is_one_entry_and_every_value_knows_its_cell() {
    let bench = Bench::new();
    bench.run(&["new", "Arm"]).well();
    bench.write("list.csv", LIST);
    assert!(bench.run(&["import", "list.csv"]).well().contains("--yes"));
    assert_eq!(bench.entries(), 1, "a look writes nothing");
    bench.run(&["import", "list.csv", "--yes"]).well();
    assert_eq!(bench.entries(), 2);
    // 812.5 g + 4 x 3.2 g + 2 x 10 g
    assert!((mass(&bench) - 0.8453).abs() < 1e-12);
    let explained = bench.run(&["explain", "mass", "--json"]).json();
    let steps = explained["steps"].as_array().expect("steps").clone();
    let frame = steps.iter().find(|s| s["stated"].as_str().is_some_and(|t| t.contains("0.8125"))).expect("the frame's mass");
    assert!(frame["source"].as_str().is_some_and(|t| t.contains("list.csv") && t.contains("E2")), "{frame}");
    bench.run(&["undo"]).well();
    assert_eq!(bench.run(&["parts", "--json"]).json()["lines"], 1, "only the product is left");
    bench.run(&["redo"]).well();
    assert!((mass(&bench) - 0.8453).abs() < 1e-12);
    // Text that looks like a formula goes out as text.
    assert!(bench.run(&["export", "parts"]).well().contains("'=SUM(A1)"));
}

#[test]
fn the_next_revision_changes_only_what_differs() {
    let bench = Bench::new();
    bench.run(&["new", "Arm"]).well();
    bench.write("list.csv", LIST);
    bench.run(&["import", "list.csv", "--yes"]).well();
    let again = bench.run(&["import", "list.csv", "--yes"]).well();
    assert!(again.contains("nothing was changed"), "{again}");
    assert_eq!(bench.entries(), 2);
    let next = LIST
        .replace("Bolt M5;4;3,2", "Bolt M5;6;3,2")
        .replace("3;A-300;=SUM(A1);2;10;0,10\n", "3;A-400;Cover;1;50;1,10\n")
        .replace("Total;7;845,3", "Total;8;881,7");
    bench.write("list-b.csv", &next);
    let plan = bench.run(&["import", "list-b.csv", "--dry-run", "--json"]).json();
    let of = |field: &str| plan["revision"][field].as_array().map_or(0, Vec::len);
    assert_eq!((of("new"), of("gone"), of("changed"), plan["revision"]["same"].as_u64()), (1, 1, 1, Some(1)), "{plan}");
    bench.run(&["import", "list-b.csv", "--yes", "--remove-gone"]).well();
    assert_eq!(bench.entries(), 3);
    // 812.5 g + 6 x 3.2 g + 50 g
    assert!((mass(&bench) - 0.8817).abs() < 1e-12, "{}", mass(&bench));
}

#[test]
fn rows_go_under_a_named_part_and_a_wrong_total_is_reported() {
    let bench = Bench::with_study(SMALL);
    bench.write("list.csv", LIST.replace("Total;7;", "Total;9;"));
    let run = bench.run(&["import", "list.csv", "--under", "P2", "--yes"]);
    assert!(run.err.contains("9") && run.err.contains("list.csv"), "{}", run.err);
    run.well();
    let parts = bench.run(&["parts", "--json"]).json();
    let level =
        |name: &str| parts["parts"].as_array().and_then(|p| p.iter().find(|p| p["name"] == name)).map(|p| p["level"].clone());
    assert_eq!(level("Frame"), Some(2.into()));
    bench.run(&["import", "list.csv", "--under", "P99", "--yes"]).refused(&["P99"]);
}

const TREE: &str = "Pos;Sachnr;Benennung;Menge;Gewicht [kg];Preis [EUR]\n1;T1;Arm;2;1,5;30,00\n1.1;T2;Rohr;2;1,0;10,00\n1.2;T3;Deckel;4;0,25;5,00\n2;T4;Fuß;4;0,2;1,20\n";

fn standing(bench: &Bench) -> Vec<(String, u64, f64)> {
    let parts = bench.run(&["parts", "--json"]).json();
    let rows = parts["parts"].as_array().expect("parts").clone();
    let row = |p: &serde_json::Value| {
        let text = |k: &str| p[k].as_str().unwrap_or_default().to_owned();
        (text("name"), p["level"].as_u64().unwrap_or_default(), p["count"].as_f64().unwrap_or_default())
    };
    rows.iter().map(row).collect()
}

#[test]
fn assemblies_stand_above_their_parts_and_count_once() {
    for (basis, rohr) in [("product", 1.0), ("assembly", 2.0)] {
        let bench = Bench::new();
        bench.run(&["new", "Robot"]).well();
        bench.write("tree.csv", TREE);
        bench.run(&["import", "tree.csv", "--yes"]).refused(&["quantity-basis", "assemblies"]);
        let answer = format!("quantity-basis={basis}");
        bench.run(&["import", "tree.csv", "--yes", "--answer", &answer, "--answer", "assemblies=parts"]).well();
        let of = |name: &str, level, count| (name.to_owned(), level, count);
        let deckel = 2.0 * rohr;
        assert_eq!(
            standing(&bench),
            [of("Robot", 0, 1.0), of("Arm", 1, 2.0), of("Rohr", 2, rohr), of("Deckel", 2, deckel), of("Fuß", 1, 4.0)]
        );
        // An arm's own 1.5 kg is what counts, held against the sum of its parts; they do not count a second time.
        assert!((mass(&bench) - (2.0 * 1.5 + 4.0 * 0.2)).abs() < 1e-9, "{}", mass(&bench));
        // Nobody stated a volume, so making costs nothing here and only what is bought is left.
        let out = bench.run(&["cost", "--json"]).out;
        let cost: serde_json::Value = serde_json::from_str(&out).expect("JSON");
        let euros = cost["cost"]["total"]["value"].as_f64();
        // The parts' prices, not the arm's own 30 EUR as well.
        let expected = 2.0 * (rohr * 10.0 + deckel * 5.0) + 4.0 * 1.2;
        assert!(euros.is_some_and(|e| (e - expected).abs() < 1e-9), "{euros:?} {expected}: {cost}");
    }
}

#[test]
fn an_undone_revision_is_forgotten_and_another_list_is_no_revision() {
    let bench = Bench::new();
    bench.run(&["new", "Arm"]).well();
    bench.write("a.csv", LIST);
    bench.run(&["import", "a.csv", "--yes"]).well();
    bench.write("b.csv", LIST.replace("Bolt M5;4;3,2", "Bolt M5;6;3,2").replace(";;Total;7;845,3;\n", ""));
    bench.run(&["import", "b.csv", "--yes"]).well();
    bench.run(&["undo"]).well();
    let plan = bench.run(&["import", "b.csv", "--dry-run", "--json"]).json();
    assert_eq!(plan["revision"]["changed"].as_array().map(Vec::len), Some(1), "{}", plan["revision"]);
    bench.write("c.csv", "Pos;Part number;Name;Qty;Mass (g);Price EUR/pc\n1;Z-1;Lamp;1;20;1,00\n2;Z-2;Lens;2;5;2,00\n");
    let plan = bench.run(&["import", "c.csv", "--dry-run", "--json"]).json();
    assert!(plan["revision"].is_null() && plan["changes"].as_u64() > Some(0), "{}", plan["revision"]);
}

#[test]
fn a_rate_keeps_its_kind() {
    let bench = Bench::new();
    bench.run(&["new", "Arm"]).well();
    bench.write("rates.csv", "What;Value;Unit\nfitter;48,50 EUR;h\nplate;1.234,00 EUR;t\n");
    bench.run(&["import", "rates.csv", "--rates", "--yes"]).well();
    bench.write("next.csv", "What;Value;Unit\nfitter;50,00 EUR;h\nplate;1.250,00;t\n");
    bench.run(&["import", "next.csv", "--rates", "--yes"]).refused(&["plate", "1234 EUR/t", "next.csv", "currency"]);
}
