//! What somebody meets who has never seen the program: the first study, made with the help and the messages alone.

mod common;

use common::{Bench, SMALL};

/// A begun study of a pump in US units, with a housing and a lid.
fn pump() -> Bench {
    let bench = Bench::new();
    let new = ["new", "Pump", "--currency", "USD", "--book", "region-b", "--volume", "20000 1/a", "--life", "5 a"];
    bench.run(&new).well();
    let housing = ["name=Housing", "label=H1", "material=EN-AC-46400", "make=make", "mass=2.2 +- 0.1 lb"];
    let sizes = ["length=5 in", "width=4 in", "height=2 in", "wall_thickness=2.5 .. 3 mm"];
    add(&bench, "part", "P1", &[&housing[..], &sizes[..]].concat());
    add(&bench, "part", "P1", &["name=Lid", "label=L1", "count=2", "material=PA66-GF30", "mass=120 +- 5 g"]);
    bench
}

#[track_caller]
fn add(bench: &Bench, kind: &str, under: &str, fields: &[&str]) -> String {
    bench.run(&[&["edit", "add", kind, "--under", under], fields].concat()).well()
}

/// The commands that a help lists.
fn commands(help: &str) -> Vec<String> {
    let list = help.lines().skip_while(|l| *l != "Commands:").skip(1).take_while(|l| !l.is_empty());
    let named = list.filter(|l| l.starts_with("  ") && !l.starts_with("   "));
    named.filter_map(|l| l.split_whitespace().next().map(str::to_owned)).collect()
}

#[test]
fn every_help_has_an_example() {
    let bench = Bench::new();
    let (mut open, mut seen) = (vec![Vec::<String>::new()], 0);
    while let Some(path) = open.pop() {
        let words: Vec<&str> = path.iter().map(String::as_str).chain(["--help"]).collect();
        let help = bench.run(&words).well();
        assert!(help.contains("Examples:\n"), "`tare {}` shows no example", words.join(" "));
        open.extend(commands(&help).into_iter().map(|c| [path.clone(), vec![c]].concat()));
        seen += 1;
    }
    assert!(seen > 25, "{seen}");
}

#[test]
fn a_part_is_made_in_one_line_with_what_its_item_takes() {
    let bench = pump();
    let parts = bench.run(&["parts", "--json"]).json();
    let housing = &parts["parts"][1];
    assert_eq!((housing["material"].as_str(), housing["label"].as_str()), (Some("EN-AC-46400"), Some("H1")));
    // One without a label is told the address it has from now on.
    assert!(add(&bench, "part", "P1", &["name=Seal"]).contains("part Seal (P4) added under P1"));
    assert!(add(&bench, "operation", "H1", &["name=Cast", "calculation=processes/hpdc"]).contains("Cast (H1/op1) added"));
    let refused = bench.run(&["edit", "add", "part", "item=H1", "material=PA66"]);
    refused.refused(&["`material` is the item's", "tare edit set \"item H1/material\""]);
}

#[test]
fn evidence_is_said_where_a_record_is_added() {
    let bench = pump();
    let quote = ["edit", "add", "quote", "item=H1", "name=Quote 7", "price=24.50 USD", "volume=20000 1/a"];
    bench.run(&[&quote[..], &["--evidence", "quoted", "--source", "letter of May"]].concat()).well();
    // A record that is called by kind and name is one record.
    bench.run(&["edit", "set", "quote Quote 7", "state", "used"]).well();
    let text = bench.run(&["export", "text"]).well();
    assert!(text.contains("evidence = \"quoted\"") && text.contains("letter of May"), "{text}");
    bench.run(&["edit", "set", "H1/name", "Body", "--source", "x"]).refused(&["an item has no field `source`"]);
}

#[test]
fn what_a_kind_takes_is_said() {
    let bench = pump();
    bench.run(&["edit", "add", "part"]).refused(&[
        "nothing is said of the part",
        "item, count, needed",
        "material",
        "quantities",
    ]);
    bench.run(&["edit", "add", "bogus", "name=x"]).refused(&["no kind of record", "organisation, item, part"]);
    bench.run(&["edit", "add", "part", "nmae=x"]).refused(&["did you mean `name`?"]);
    bench.run(&["edit", "add", "part", "name=x", "under=P1"]).refused(&["write `--under P1`"]);
    let entries = bench.entries();
    assert_eq!(entries, 3, "nothing was recorded");
}

#[test]
fn names_that_were_begun_or_mistyped_are_found() {
    let bench = pump();
    bench.run(&["edit", "set", "H1/material", "EN-AW-6082"]).refused(&["did you mean `EN-AW-6082-T6`?"]);
    bench.run(&["edit", "set", "H2/material", "PA66"]).refused(&["did you mean `H1`?"]);
    bench.run(&["explain", "H1/masss"]).refused(&["did you mean `H1/mass`?"]);
    bench.run(&["edit", "add", "instrument", "name=Bench scale"]).well();
    let reading = ["edit", "set", "L1/mass", "4.1 oz", "--instrument"];
    bench.run(&[&reading[..], &["bnch scale"]].concat()).refused(&["no instrument", "did you mean `Bench scale`?"]);
    bench.run(&[&reading[..], &["bench scale"]].concat()).well();
    // Its errors are not known: that is said, and the reading is not exact.
    let mass = bench.run(&["mass"]);
    assert!(mass.err.contains("nothing is stated of the errors of Bench scale"), "{}", mass.err);
    let text = bench.run(&["export", "text"]).well();
    // Measured is what a text with an instrument means when it says nothing else.
    assert!(text.contains("{ text = \"4.1 oz\", instrument = \"bench_scale\" }"), "{text}");
}

#[test]
fn a_hold_is_recorded_by_a_named_person_or_not_at_all() {
    let bench = pump();
    bench.run(&["edit", "add", "hold", "name=Lift", "state=recorded"]).refused(&["hold-unnamed", "recorded by nobody"]);
    bench.run(&["edit", "add", "hold", "name=Voltage absent", "state=open"]).well();
    bench.run(&["edit", "set", "Voltage absent", "state", "recorded"]).refused(&["recorded by nobody", "--who"]);
    let who = ["--who", "J. Doe", "--when", "2025-03-06"];
    bench.run(&[&["edit", "set", "Voltage absent", "state", "recorded"], &who[..]].concat()).well();
    bench.run(&["edit", "clear", "Voltage absent", "who"]).refused(&["hold-unnamed"]);
    // From text as well.
    let text = format!("{SMALL}\n[hold.lift]\nname = \"Lift\"\nstate = \"recorded\"\n");
    bench.write("held.toml", text);
    bench.run(&["new", "--from", "held.toml", "--workspace", "other"]).refused(&["hold-unnamed", "Lift"]);
    bench.run(&["parts", "--workspace", "other"]).refused(&["no"]);
}

#[test]
fn needed_parts_are_at_most_the_count() {
    let bench = pump();
    bench.run(&["edit", "set", "L1/needed", "3"]).refused(&["3 of 2 pieces", "from 0 to 2", "L1/needed"]);
    bench.run(&["edit", "set", "L1/needed", "2"]).well();
}

#[test]
fn tools_without_a_life_name_just_that_and_the_fix() {
    let bench = pump();
    add(&bench, "operation", "H1", &["name=Cast", "calculation=processes/hpdc"]);
    let with = bench.run(&["cost", "--json"]).json();
    assert!(with["cost"]["by_kind"].to_string().contains("tools"), "{}", with["cost"]["by_kind"]);
    bench.run(&["edit", "clear", "scenario/life"]).well();
    let said = bench.run(&["cost"]).refused(&["states no `life`", "tare edit set scenario/life \"5 a\""]);
    assert!(!said.contains("interest"), "{said}");
    bench.run(&["new", "X", "--life", "5 m", "--workspace", "other"]).refused(&["--life \"5 a\""]);
}

#[test]
fn a_folder_that_is_a_workspace_means_itself() {
    let bench = pump();
    let folder = bench.path("tare-work");
    assert!(bench.run_in(&folder, &["parts"]).well().contains("Housing"));
}

#[test]
fn calculations_are_listed_by_folder_and_their_inputs_are_whole() {
    let bench = pump();
    let list = bench.run(&["calc", "joints"]).well();
    assert!(list.contains("joints/clip") && !list.contains("processes/"), "{list}");
    let shown = bench.run(&["calc", "processes/injection-moulding"]).well();
    assert!(shown.contains("[mm] from item.wall_thickness") && !shown.contains('…'), "{shown}");
    assert!(shown.lines().all(|l| l.chars().count() <= 80));
}

#[test]
fn a_broken_own_calculation_is_told_once_and_in_full_where_asked() {
    let bench = pump();
    let text = "title = \"Press\"\nkind = \"process\"\n[input]\nmass = { unit = \"kg\", from = [\"item.mass\"] }\n\
                [equation]\ncycle = { unit = \"s\", is = \"masss * 2\" }\nsetup = { unit = \"s\", is = \"10 min\" }\n";
    bench.write("tare-work/library/processes/my-press.toml", text);
    let errors = |run: &common::Run| run.err.matches("error[").count();
    let parts = bench.run(&["parts"]);
    assert_eq!(errors(&parts), 1, "{}", parts.err);
    assert!(parts.err.contains("more in this library; `tare doctor` shows them all"), "{}", parts.err);
    let (doctor, check) = (bench.run(&["doctor"]), bench.run(&["calc", "check", "tare-work/library/processes/my-press.toml"]));
    assert!(errors(&doctor) >= 4 && errors(&check) >= 4, "{}", check.err);
    for word in ["my-press.toml:6:", "did you mean `mass`?", "my-press.toml:7:", "`[min]`", "[equation.yield]"] {
        assert!(check.err.contains(word), "`{word}` is missing in\n{}", check.err);
    }
}

#[test]
fn an_export_to_standard_output_speaks_json_when_asked() {
    let bench = pump();
    for what in ["text", "parts"] {
        let plain = bench.run(&["export", what]).well();
        let json = bench.run(&["export", what, "--json"]).json();
        assert_eq!(json["text"].as_str().map(str::trim_end), Some(plain.trim_end()));
    }
}

#[test]
fn a_study_read_back_from_its_text_gives_the_same_tables() {
    let bench = pump();
    add(&bench, "part", "P1", &["name=Clip", "label=C1", "material=POM", "mass=0.2 oz"]);
    let size = ["length=2 in", "width=1 in", "height=1 in", "wall_thickness=2 mm"];
    for (label, entry) in ["C1", "L1"].into_iter().flat_map(|l| size.map(|s| (l, s))) {
        let (quantity, said) = entry.split_once('=').expect("a value");
        bench.run(&["edit", "set", &format!("{label}/{quantity}"), said]).well();
    }
    for label in ["C1", "L1"] {
        add(&bench, "operation", label, &["name=Mould", "calculation=processes/injection-moulding", "melt=540 degF"]);
    }
    add(&bench, "operation", "H1", &["name=Cast", "calculation=processes/hpdc"]);
    bench.run(&["export", "text", "pump.toml"]).well();
    bench.run(&["new", "--from", "pump.toml", "--workspace", "again"]).well();
    for table in ["cost", "parts", "mass", "time"] {
        let (first, again) = (bench.run(&[table]), bench.run(&[table, "--workspace", "again"]));
        assert_eq!(first.out, again.out, "{table}");
    }
    bench.run(&["export", "text", "again.toml", "--workspace", "again"]).well();
    let read = |name: &str| std::fs::read_to_string(bench.path(name)).expect("written");
    assert_eq!(read("pump.toml"), read("again.toml"));
}

#[test]
fn there_is_something_to_choose_or_it_is_said() {
    let bench = pump();
    bench.run(&["edit", "choose", "H1/masss", "1"]).refused(&["nothing is stated", "did you mean `mass`?"]);
    bench.run(&["edit", "set", "H1/mass", "36 oz", "--beside", "--evidence", "measured"]).well();
    let mass = bench.run(&["mass"]);
    assert!(mass.err.contains("values-differ") && mass.err.contains("choose one"), "{}", mass.err);
    bench.run(&["edit", "choose", "H1/mass", "median"]).refused(&["1 2.2 +- 0.1 lb, 2 36 oz"]);
    bench.run(&["edit", "choose", "H1/mass", "2", "--says", "weighed again"]).well();
    assert!(!bench.run(&["mass"]).err.contains("values-differ"));
    assert!(bench.run(&["explain", "H1/mass"]).well().contains("36 oz"));
    assert!(bench.run(&["undo"]).well().contains("chosen 36 oz: weighed again"));
    assert!(bench.run(&["mass"]).err.contains("values-differ"));
    bench.run(&["redo"]).well();
    let history = bench.run(&["history"]).well();
    assert!(history.contains("undone") || history.contains("redo"), "{history}");
    bench.run(&["edit", "choose", "H1/mass", "weighted mean"]).well();
    assert!(bench.run(&["explain", "H1/mass"]).well().contains("weighted"));
}
