//! Edits as a person makes them: what is refused, what is kept, what is taken back.

mod common;

use common::{Bench, SMALL};

/// The small study with a scale, a calliper, readings, and a value by difference.
fn bench() -> Bench {
    let more = r#"
[instrument.scale]
name = "Scale"
value.zero = "0 +- 5 g"
value.resolution = "1 g"
value.gain = "0 +- 0.1 %"

[specimen.one]
name = "One"
"#;
    let text = SMALL.replace(
        "value.mass = \"2 kg\"",
        "value.mass = { text = \"2 kg\", evidence = \"measured\", instrument = \"scale\", set = \"a\", number = 2, period = \"May\", who = \"A\", when = \"2025-05-01\", mass_state = \"wet\", specimen = \"one\", source = \"sheet 1\", says = \"with oil\" }",
    );
    Bench::with_study(&format!("{text}{more}"))
}

fn text_of(bench: &Bench) -> String {
    bench.run(&["export", "text", "now.toml"]).well();
    std::fs::read_to_string(bench.path("now.toml")).expect("text")
}

#[test]
fn a_rate_of_another_dimension_is_not_set() {
    let bench = bench();
    for (target, wrong, due) in [
        ("rate/wage.operator", "24 EUR", "24 money/h"),
        ("rate/wage.operator", "24 kg", "24 money/h"),
        ("rate/electricity", "0.2 EUR", "money/kWh"),
        ("rate/interest", "10 %", "1/a"),
        ("rate/machine.hours", "4000 h", "4000 h/a"),
        ("organisation maker/rate.wage.operator", "24 EUR", "24 money/h"),
    ] {
        bench.run(&["edit", "set", target, wrong]).refused(&["rate `", "where", due]);
    }
    assert_eq!(bench.entries(), 1);
    for (key, right) in
        [("wage.operator", "24 EUR/h"), ("interest", "10 %/a"), ("machine.hours", "4000 h/a"), ("own.fee", "3 EUR")]
    {
        bench.run(&["edit", "set", &format!("rate/{key}"), right]).well();
    }
    // In a study text, at its place.
    let text = SMALL.replace("year = \"2024\"", "year = \"2024\"\nrate.\"wage.operator\" = \"24 EUR\"");
    let at = 1 + text.lines().position(|l| l.contains("\"24 EUR\"")).expect("the wrong line");
    bench.write("wrong.toml", text);
    bench.run(&["new", "Wrong", "--from", "wrong.toml"]).refused(&[&format!("wrong.toml:{at}:"), "per time"]);
}

#[test]
fn a_rate_table_with_another_dimension_is_not_taken() {
    let bench = bench();
    bench.write("rates.csv", "key,value,unit,currency,source\nwage.operator,24,kg,,offer\nelectricity,0.2,/kWh,EUR,offer\n");
    bench.run(&["import", "rates.csv", "--rates", "--yes"]).refused(&["wage.operator", "rates.csv"]);
    assert_eq!(bench.entries(), 1);
}

#[test]
fn a_new_text_takes_the_context_of_the_old_reading_away() {
    let bench = bench();
    let out = bench.run(&["edit", "set", "P2/mass", "2.1 kg"]).well();
    let gone = "(no longer said: says, source, instrument, set, number, mass_state, when, who, period, specimen)";
    assert!(out.contains(gone), "{out}");
    let text = text_of(&bench);
    let line = text.lines().find(|l| l.contains("2.1 kg")).expect("the value");
    for word in ["scale", "wet", "May", "2025-05-01", "number", "sheet 1", "oil", "specimen"] {
        assert!(!line.contains(word), "{line}");
    }
    let mass = || bench.run(&["mass", "--json"]).json()["mass"]["total"]["value"].as_f64().expect("a mass");
    assert!((mass() - 4.24).abs() < 1e-12, "2 x 2.1 kg + 4 x 10 g, not half a bunch of two");
    bench.run(&["undo"]).well();
    assert!((mass() - 2.04).abs() < 1e-12, "a bunch of two weighs 2 kg");
    // What is said again stays.
    bench
        .run(&["edit", "set", "P2/mass", "2.1 kg", "--instrument", "Scale", "--set", "a", "--period", "May", "--specimen", "One"])
        .well();
    let text = text_of(&bench);
    let line = text.lines().find(|l| l.contains("2.1 kg")).expect("the value");
    assert!(line.contains("scale") && line.contains("May") && line.contains("specimen") && !line.contains("wet"), "{line}");
}

#[test]
fn a_value_by_difference_or_calculation_gives_way_to_what_is_set() {
    let text = SMALL.replace(
        "value.mass = \"2 kg\"",
        "value.mass = { text = \"1 kg\", evidence = \"derived\", method = \"difference\", source = \"the rest\" }",
    );
    let text =
        text.replace("make = \"make\"\nform = \"assembly\"", "make = \"make\"\nform = \"assembly\"\nvalue.mass = \"6 kg\"");
    let bench = Bench::with_study(&text);
    let plate = || {
        let mass = bench.run(&["explain", "P2/mass", "--json"]).json();
        mass.to_string()
    };
    assert!(plate().contains("difference"), "{}", plate());
    bench.run(&["edit", "set", "P2/mass", "2.5 kg"]).well();
    assert!(plate().contains("2.5 kg") && !plate().contains("difference"), "{}", plate());
}

#[test]
fn an_item_in_use_is_not_removed() {
    let bench = bench();
    bench.run(&["edit", "remove", "item P2"]).refused(&["item P2", "still used by P2"]);
    assert_eq!(bench.entries(), 1);
    bench.run(&["edit", "remove", "P2"]).well();
    bench.run(&["edit", "remove", "Plate"]).well();
    assert!(bench.run(&["parts"]).well().contains("Screw"));
}

#[test]
fn undo_does_not_bring_back_references_to_what_is_gone() {
    let bench = bench();
    bench.run(&["edit", "add", "joint", "name=Held", "label=J1", "calculation=joints/clip", "parts=P2,P3"]).well();
    bench.run(&["edit", "set", "J1", "parts", "P2"]).well();
    bench.run(&["edit", "remove", "P3"]).well();
    let entries = bench.entries();
    bench.run(&["undo", "3"]).refused(&["conflict", "J1", "parts", "removed meanwhile", "nothing was changed"]);
    assert_eq!(bench.entries(), entries);
    bench.run(&["undo"]).well();
    bench.run(&["undo", "3"]).well();
    // Adding an item and giving it a part: the item cannot be taken back alone.
    bench.run(&["edit", "add", "item", "name=Spare", "label=S1"]).well();
    let number = bench.entries().to_string();
    bench.run(&["edit", "add", "part", "--under", "P1", "item=S1", "label=P9"]).well();
    bench.run(&["undo", &number]).refused(&["conflict", "refers to it meanwhile"]);
    bench.run(&["undo"]).well();
    bench.run(&["undo", &number]).well();
}

#[test]
fn a_choice_that_is_not_there_is_not_taken_back() {
    let bench = bench();
    bench.run(&["edit", "choose", "P2/mass", "none"]).refused(&["no choice to take back", "nothing was changed"]);
    assert_eq!(bench.entries(), 1);
    bench.run(&["edit", "set", "P2/mass", "2.2 kg", "--beside"]).well();
    bench.run(&["edit", "choose", "P2/mass", "2"]).well();
    bench.run(&["edit", "choose", "P2/mass", "none"]).well();
    bench.run(&["edit", "choose", "P2/mass", "none"]).refused(&["no choice"]);
}

#[test]
fn errors_of_an_instrument_are_in_what_it_reads() {
    let bench = bench();
    for (error, wrong) in [("zero", "5 mm"), ("repeat", "1 mm"), ("resolution", "0.1 s")] {
        bench.run(&["edit", "set", &format!("instrument Scale/{error}"), wrong]).refused(&["reads in", wrong]);
    }
    bench.run(&["edit", "set", "instrument Scale/gain", "0.1 kg"]).refused(&["gain", "mass"]);
    bench.run(&["edit", "set", "P2/length", "300 mm", "--instrument", "Scale"]).refused(&["reads in", "Scale"]);
    assert_eq!(bench.entries(), 1);
    bench.run(&["edit", "set", "instrument Scale/zero", "0 +- 6 g"]).well();
    bench.run(&["edit", "set", "instrument Scale/gain", "0.03 +- 0.02 %"]).well();
    // An instrument that nothing is known of reads whatever it is first used for.
    bench.run(&["edit", "add", "instrument", "name=Calliper"]).well();
    bench.run(&["edit", "set", "instrument Calliper/resolution", "0.01 mm"]).well();
    bench.run(&["edit", "set", "instrument Calliper/zero", "1 g"]).refused(&["reads in mm"]);
    // Through a text it is a message of computing.
    let slip = SMALL
        .replace("value.mass = \"2 kg\"", "value.mass = { text = \"2 kg\", instrument = \"scale\" }")
        .replace("[part.bracket]", "[instrument.scale]\nname = \"Scale\"\nvalue.zero = \"5 mm\"\n\n[part.bracket]");
    let other = Bench::with_study(&slip);
    other.run(&["mass"]).refused(&["zero of the instrument Scale", "found a length where it reads a mass"]);
}

#[test]
fn slips_are_refused_once_and_change_nothing() {
    let bench = bench();
    let err = bench.run(&["edit", "set", "P2/mass", "2 kg", "--evidence", "nonsense"]).refused(&["word-unknown"]);
    assert_eq!(err.matches("word-unknown").count(), 1, "{err}");
    bench.run(&["edit", "set", "P2/mass", "2 kg", "--number", "0"]).refused(&["1 or more"]);
    bench.run(&["edit", "set", "P2/name", " "]).refused(&["needs its name"]);
    assert_eq!(bench.entries(), 1);
}
