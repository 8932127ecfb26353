//! A study as an open folder: written, edited as a spreadsheet would, taken back as one entry, packed, made elsewhere.

mod common;

use common::{Bench, SMALL};
use std::collections::BTreeMap;

fn with_folder() -> Bench {
    let bench = Bench::with_study(SMALL);
    bench.run(&["export", "folder", "pack"]).well();
    bench
}

#[track_caller]
fn exchange(bench: &Bench, file: &str, from: &str, to: &str) {
    let text = std::fs::read_to_string(bench.path(file)).expect("there");
    assert!(text.contains(from), "`{from}` is not in\n{text}");
    bench.write(file, text.replace(from, to));
}

/// What a workspace computes, as text: equal texts are equal bits, since numbers are printed in full.
fn computed(bench: &Bench, workspace: &str) -> Vec<String> {
    ["parts", "mass", "cost", "time"].map(|what| bench.run(&[what, "--json", "--workspace", workspace]).well()).to_vec()
}

#[test]
fn an_edited_folder_is_shown_and_taken_as_one_entry() {
    let bench = with_folder();
    assert!(bench.run(&["import", "pack", "--yes"]).well().contains("Nothing differs"));
    let before = computed(&bench, "tare-work");
    // as a spreadsheet hands it back: another end of lines, quotation marks everywhere, a mark in front
    exchange(&bench, "pack/parts.csv", "P3,P1,screw,4,P3", "P3,P1,screw,6,P3");
    let text = std::fs::read_to_string(bench.path("pack/parts.csv")).expect("there");
    let quoted: Vec<String> = text.lines().map(|l| format!("\"{}\"", l.replace(',', "\",\""))).collect();
    bench.write("pack/parts.csv", format!("\u{feff}{}\r\n", quoted.join("\r\n")));
    let shown = bench.run(&["import", "pack"]).well();
    assert!(shown.contains("P3 count: 4 -> 6") && shown.contains("add --yes to take it"), "{shown}");
    assert!(shown.lines().all(|line| line.chars().count() <= 80), "{shown}");
    assert_eq!(bench.entries(), 1, "a look writes nothing");
    let taken = bench.run(&["import", "pack", "--yes", "--json"]).json();
    assert_eq!((&taken["entry"], &taken["plan"]["fits"]), (&2.into(), &1.into()), "{taken}");
    assert_ne!(computed(&bench, "tare-work"), before);
    bench.run(&["undo"]).well();
    assert_eq!(computed(&bench, "tare-work"), before);
    assert_eq!(bench.entries(), 3);
}

#[test]
fn one_file_makes_the_same_study_elsewhere() {
    let bench =
        Bench::with_study(&SMALL.replace("name = \"Screw\"", "name = \"=cmd()|' /C calc'!A0\"").replace("\"Maker\"", "\"صانع\""));
    let written = bench.run(&["export", "folder", "pack.zip", "--json"]).json();
    assert_eq!((&written["ok"], &written["entry"]), (&true.into(), &1.into()));
    let once = std::fs::read(bench.path("pack.zip")).expect("written");
    bench.run(&["export", "folder", "pack.zip"]).well();
    assert_eq!(std::fs::read(bench.path("pack.zip")).expect("written"), once, "the same study is the same file");
    let made = bench.run(&["new", "--from", "pack.zip", "--workspace", "there"]).well();
    assert!(made.contains("Bracket in there"), "{made}");
    assert_eq!(computed(&bench, "tare-work"), computed(&bench, "there"));
    let parts = bench.run(&["parts", "--workspace", "there", "--json"]).well();
    assert!(parts.contains("=cmd()|' /C calc'!A0"), "{parts}");
    bench.run(&["new", "--from", "pack.zip", "--workspace", "there"]).refused(&["document-taken", "tare import"]);
    // the history stays behind, and is said to
    let history = bench.run(&["history", "--workspace", "there", "--json"]).json();
    assert_eq!(history["entries"].as_array().map(Vec::len), Some(1));
    // under a name of its own it is the same study still
    bench.run(&["new", "Copy", "--from", "pack.zip", "--workspace", "third"]).well();
    assert!(bench.run(&["import", "pack.zip", "--workspace", "third"]).well().contains("`Copy` -> `Bracket`"));
}

#[test]
fn damage_is_shown_in_its_cell_and_nothing_is_taken_or_made() {
    let bench = with_folder();
    exchange(&bench, "pack/parts.csv", "P3,P1,screw,4,P3", "P3,P1,screws,four,P3");
    exchange(&bench, "pack/study.toml", "name = \"Base\"", "name = [1]");
    let words = ["parts.csv, cell C4", "did you mean `screw`?", "parts.csv, cell D4", "study.toml:", "field-type"];
    bench.run(&["import", "pack", "--yes"]).refused(&words);
    assert_eq!(bench.entries(), 1);
    bench.run(&["new", "--from", "pack", "--workspace", "there"]).refused(&words);
    assert!(!bench.path("there").exists());
    let json = bench.run(&["import", "pack", "--yes", "--json"]);
    assert_eq!(json.code, 1);
    let said: serde_json::Value = serde_json::from_str(&json.out).expect("JSON");
    assert_eq!((&said["ok"], said["problems"].as_array().map(Vec::len)), (&false.into(), Some(3)), "{said}");
    // a value that does not read is told with the edits that are there
    exchange(&bench, "pack/parts.csv", "P3,P1,screws,four,P3", "P3,P1,screw,4,P3");
    exchange(&bench, "pack/study.toml", "name = [1]", "name = \"Base\"");
    exchange(&bench, "pack/values.csv", "10 g", "10 gg");
    bench.run(&["import", "pack", "--yes"]).refused(&["values.csv, cell C7", "gg"]);
    bench.run(&["import", "pack", "--rates", "--under", "P1"]).refused(&["folder-option", "--rates", "--under"]);
    assert_eq!(bench.entries(), 1);
}

#[test]
fn edits_that_were_not_taken_are_not_written_over() {
    let bench = with_folder();
    bench.write("pack/.note", "mine");
    bench.run(&["export", "folder", "pack"]).well();
    exchange(&bench, "pack/parts.csv", "P3,P1,screw,4,P3", "P3,P1,screw,6,P3");
    bench.run(&["export", "folder", "pack"]).refused(&["folder-edited", "(1)", "tare import"]);
    bench.run(&["export", "folder", "pack", "--replace"]).well();
    assert!(bench.run(&["import", "pack"]).well().contains("Nothing differs"));
    assert!(bench.path("pack/.note").exists(), "what begins with a full stop stays");
    bench.write("letters/a.txt", "x");
    bench.run(&["export", "folder", "letters", "--replace"]).refused(&["folder-taken"]);
    bench.write("letter.zip", "x");
    bench.run(&["export", "folder", "letter.zip", "--replace"]).refused(&["folder-taken"]);
    assert!(bench.path("letters/a.txt").exists());
}

#[test]
fn hostile_archives_are_refused() {
    let bench = with_folder();
    let mut files: BTreeMap<String, Vec<u8>> = BTreeMap::new();
    for file in ["study.toml", "items.csv", "parts.csv"] {
        files.insert(file.to_owned(), std::fs::read(bench.path("pack").join(file)).expect("there"));
    }
    let hostile: [(&str, Vec<u8>, &str); 4] = [
        ("../outside.txt", b"x".to_vec(), "leads out of the folder"),
        ("/tmp/outside.txt", b"x".to_vec(), "leads out of the folder"),
        ("C:/outside.txt", b"x".to_vec(), "leads out of the folder"),
        ("photos/bomb.jpg", vec![0; 64 << 20], "unpacks to more than"),
    ];
    for (name, content, says) in hostile {
        let mut with = files.clone();
        with.insert(name.to_owned(), content);
        bench.write("evil.zip", tare_exchange::pack(&with).expect("packed"));
        bench.run(&["new", "--from", "evil.zip", "--workspace", "there"]).refused(&[says]);
        bench.run(&["import", "evil.zip", "--yes"]).refused(&[says]);
        assert!(!bench.path("there").exists() && !bench.path("outside.txt").exists());
    }
    let whole = tare_exchange::pack(&files).expect("packed");
    bench.write("cut.zip", &whole[..whole.len() / 2]);
    bench.run(&["import", "cut.zip"]).refused(&["archive-damaged", "cut.zip"]);
    bench.write("no.zip", "text");
    bench.run(&["import", "no.zip"]).refused(&["archive-damaged", "no.zip"]);
    assert_eq!(bench.entries(), 1);
}
