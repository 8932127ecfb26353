//! A study holds the texts it computes with, from the entry on that makes it use them.

mod common;

use common::{Bench, SMALL};

const BOOK: &str = include_str!("../../tare-app/tests/small/own-rates.toml");

fn cost(bench: &Bench) -> f64 {
    bench.run(&["cost", "--json"]).json()["cost"]["total"]["value"].as_f64().expect("a cost")
}

fn library_file(name: &str) -> String {
    std::fs::read_to_string(format!("{}/../../library/{name}", env!("CARGO_MANIFEST_DIR"))).expect("a library file")
}

fn renewable(bench: &Bench) -> Vec<String> {
    let differences = bench.run(&["edit", "renew", "--dry-run", "--json"]).json();
    let all = differences["differences"].as_array().expect("a list").clone();
    all.iter().map(|d| format!("{} {}", d["what"].as_str().unwrap_or("?"), d["key"].as_str().unwrap_or("?"))).collect()
}

/// The table of a key cut out of a library file.
fn table(text: &str, head: &str) -> String {
    let start = text.find(head).unwrap_or_else(|| panic!("{head}"));
    let rest = &text[start + head.len()..];
    // Sub-tables of the same key belong to it; here they are all inline.
    format!("{head}{}", &rest[..rest.find("\n[").map_or(rest.len(), |i| i + 1)])
}

#[test]
fn the_demo_and_a_new_study_are_locked_at_once() {
    let bench = Bench::with_demo();
    assert!(renewable(&bench).is_empty());
    assert_eq!(bench.run(&["history", "--json"]).json()["entries"].as_array().map(Vec::len), Some(1));
    assert!(!bench.run(&["cost"]).well().contains("not locked"));
    assert!(!bench.run(&["doctor"]).well().contains("not locked"));
    let other = Bench::new();
    other.run(&["new", "Arm", "--book", "region-a"]).well();
    assert!(renewable(&other).is_empty());
    other.write("list.csv", "Pos;Name;Qty;Mass (g)\n1;Frame;1;812\n2;Bolt;4;3\n");
    other.run(&["import", "list.csv", "--yes"]).well();
    assert_eq!((other.entries(), renewable(&other)), (2, Vec::new()));
    other.run(&["edit", "add", "operation", "--under", "P1", "name=Deburr", "calculation=processes/deburr"]).well();
    assert_eq!((other.entries(), renewable(&other)), (3, Vec::new()));
}

/// A quantity's default spread, a fastener, a constituent's material and a group's material do not follow a newer library.
#[test]
fn quantities_fasteners_and_materials_named_anywhere_are_held() {
    let text = SMALL
        .replace("[item.screw]\nname = \"Screw\"", "[item.screw]\nname = \"Screw\"\nkey = \"screw-hexagon-M6\"")
        .replace("value.mass = \"10 g\"\n", "value.length = \"16 mm\"\nvalue.mass = \"10 g\"\n")
        .replace("make = \"make\"\nmaterial = \"steel-DC04\"", "make = \"make\"\nconstituents = \"PP 70 %; EPDM 30 %\"");
    let text = text
        + "\n[joint.glue]\nname = \"Glued\"\nlabel = \"J1\"\ncalculation = \"joints/adhesive-bead\"\nparts = [\"plate\", \"screw\"]\nvalue.length = \"100 mm\"\n";
    let bench = Bench::with_study(&text);
    assert!(renewable(&bench).is_empty());
    let mass = || bench.run(&["mass", "--json"]).json()["mass"].to_string();
    let before = (mass(), cost(&bench));
    let quantities = table(&library_file("quantities.toml"), "[quantity.mass]");
    bench.write("tare-work/library/quantities.toml", quantities.replace("+- 0.2 %", "+- 9 %"));
    let fastener = table(&library_file("fasteners.toml"), "[fastener.\"screw-hexagon-M6\"]");
    bench.write("tare-work/library/fasteners.toml", fastener.replacen("name = \"", "name = \"other ", 1));
    for key in ["PP", "adhesive-epoxy-2K"] {
        let material = table(&library_file("materials.toml"), &format!("[material.\"{key}\"]"));
        bench.write(&format!("tare-work/library/own-{key}.toml"), material.replacen("name = \"", "name = \"other ", 1));
    }
    assert_eq!((mass(), cost(&bench)), before);
    let held = renewable(&bench);
    for key in ["quantities/mass", "fasteners/screw-hexagon-M6", "materials/PP", "materials/adhesive-epoxy-2K"] {
        assert!(held.contains(&format!("changed {key}")), "{key} in {held:?}");
    }
    let err = bench.run(&["mass"]).err;
    assert!(err.contains("texts-newer") && err.contains("tare edit renew"), "{err}");
    bench.run(&["edit", "renew"]).well();
    assert_ne!(mass(), before.0, "another default spread");
    assert!(renewable(&bench).is_empty());
    bench.run(&["undo"]).well();
    assert_eq!((mass(), cost(&bench)), before);
}

/// A rate book of the workspace is held too; the study takes a changed one when it renews.
#[test]
fn a_rate_book_of_the_workspace_is_held() {
    let bench = Bench::new();
    bench.write("book.toml", BOOK);
    bench.run(&["new", "--from", "book.toml"]).well();
    bench.write("study.toml", SMALL.replace("book = \"region-a\"", "book = \"Own rates\""));
    bench.run(&["new", "--from", "study.toml"]).well();
    assert!(renewable(&bench).is_empty());
    let before = cost(&bench);
    let said = bench.run(&["edit", "set", "rate/wage.operator", "60 EUR/h", "--study", "Own rates"]);
    assert!(said.err.contains("tare edit renew"), "{}", said.err);
    assert_eq!(cost(&bench), before);
    assert_eq!(renewable(&bench), ["changed books/Own rates"]);
    bench.run(&["edit", "renew"]).well();
    assert!(cost(&bench) > before, "{} where {before} was", cost(&bench));
    bench.run(&["undo"]).well();
    assert_eq!(cost(&bench), before);
}

/// What an edit brings into use stays held when that edit is taken back, since others may use it by then.
#[test]
fn undo_keeps_texts_that_others_use() {
    let text = SMALL.replace("calculation = \"processes/deburr\"", "calculation = \"processes/washing\"");
    let bench = Bench::with_study(&text.replace("value.width = \"200 mm\"", "value.width = \"200 mm\"\nvalue.height = \"2 mm\""));
    bench.run(&["edit", "add", "operation", "--under", "P2", "name=A", "calculation=processes/deburr"]).well();
    bench.run(&["edit", "add", "operation", "--under", "P2", "name=B", "calculation=processes/deburr"]).well();
    bench.run(&["undo", "2"]).well();
    let before = cost(&bench);
    bench.write(
        "tare-work/library/processes/deburr.toml",
        library_file("processes/deburr.toml").replace("20 .. 40 .. 80 mm/s", "10 .. 20 .. 40 mm/s"),
    );
    assert_eq!(cost(&bench), before);
    bench.run(&["redo"]).well();
    assert_eq!(renewable(&bench), ["changed processes/deburr"]);
    let history = bench.run(&["history", "--json"]).json();
    let edits: Vec<u64> = history["entries"].as_array().expect("entries").iter().filter_map(|e| e["edits"].as_u64()).collect();
    assert_eq!(edits[1..], [1, 1, 1, 1], "texts held are not counted as edits");
}
