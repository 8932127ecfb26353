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
