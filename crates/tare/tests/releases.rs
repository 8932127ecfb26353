//! Releases at the command line: made, shown, computed again, walked between; what renewing would change.

mod common;

use common::{Bench, SMALL};
use serde_json::Value;

fn slower() -> String {
    let path = format!("{}/../../library/processes/deburr.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("a library file");
    text.replace("20 .. 40 .. 80 mm/s", "10 .. 20 .. 40 mm/s")
}

fn cost(bench: &Bench, more: &[&str]) -> f64 {
    let value = bench.run(&[&["cost", "--json"], more].concat()).json();
    value["cost"]["total"]["value"].as_f64().expect("a cost")
}

/// The texts a study holds change; the preview says what that comes to before anything is recorded, and is right.
#[test]
fn renewing_is_shown_before_it_is_done() {
    let bench = Bench::with_study(SMALL);
    let before = cost(&bench, &[]);
    bench.write("tare-work/library/processes/deburr.toml", slower());
    let shown = bench.run(&["edit", "renew", "--dry-run", "--json"]).json();
    assert_eq!((bench.entries(), cost(&bench, &[])), (1, before), "nothing was recorded");
    let first = &shown["headlines"][0];
    assert_eq!(first["name"], "should-cost");
    assert_eq!(first["before"]["value"].as_f64(), Some(before));
    let mass = shown["headlines"].as_array().expect("rows").iter().find(|row| row["name"] == "mass").expect("a mass");
    assert_eq!(mass["differs"], false);
    let text = &shown["texts"][0];
    assert_eq!(text["key"], "processes/deburr");
    assert_eq!(text["places"][0]["at"], "input.speed.default");
    assert_eq!(
        (&text["places"][0]["before"], &text["places"][0]["after"]),
        (&"20 .. 40 .. 80 mm/s".into(), &"10 .. 20 .. 40 mm/s".into())
    );
    let lines: Vec<&str> = text["lines"].as_array().expect("lines").iter().filter_map(|l| l["name"].as_str()).collect();
    assert!(lines.contains(&"processes/deburr/speed") && lines.iter().any(|l| l.ends_with("/cycle")), "{lines:?}");
    let out = bench.run(&["edit", "renew", "--dry-run"]).well();
    for part in ["input.speed.default: 20 .. 40 .. 80 mm/s -> 10 .. 20 .. 40 mm/s", "nothing was recorded", "mass"] {
        assert!(out.contains(part), "`{part}` is missing in\n{out}");
    }
    assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");
    bench.run(&["edit", "renew"]).well();
    assert_eq!(shown["headlines"][0]["after"]["value"].as_f64(), Some(cost(&bench, &[])), "as it was shown");
    assert!(bench.run(&["edit", "renew", "--dry-run"]).well().contains("nothing was changed"));
    let nothing = bench.run(&["edit", "renew", "--dry-run", "--json"]).json();
    assert_eq!(nothing, serde_json::json!({ "differences": [], "headlines": [], "texts": [] }));
    // a held text that is gone: there is no number to compare with, and the way out is named
    bench.write("tare-work/library/processes/deburr.toml", slower().replace("10 .. 20", "9 .. 20"));
    let raw = rusqlite::Connection::open(bench.path("tare-work/workspace.sqlite")).expect("a database");
    assert_eq!(raw.execute("DELETE FROM text WHERE text LIKE '%10 .. 20 .. 40 mm/s%'", []), Ok(1));
    drop(raw);
    let run = bench.run(&["edit", "renew", "--dry-run"]);
    assert!(run.code == 0 && run.out == "changed  processes/deburr\n", "{}", run.out);
    assert!(run.err.contains("warning[lock-missing]") && run.err.contains("tare edit renew"), "{}", run.err);
}

#[test]
fn a_release_from_the_command_line() {
    let bench = Bench::with_study(SMALL);
    assert!(bench.run(&["release", "list"]).well().contains("no release yet"));
    bench.run(&["release", "show", "1"]).refused(&["release-unknown", "has no release 1", "tare release make"]);
    bench.run(&["release", "make", "--says", ""]).refused(&["release-says"]);
    bench.run(&["release", "make", "--says", "x", "--points", "sobol"]).refused(&["--draws"]);
    let out =
        bench.run(&["release", "make", "--says", "for the client", "--class", "client", "--draws", "1000", "--seed", "7"]).well();
    assert!(out.starts_with("release 1  for the client\n") && out.contains("should-cost") && out.contains("1024 draws"), "{out}");
    let before = cost(&bench, &[]);
    bench.run(&["edit", "set", "P2/mass", "2.5 kg"]).well();
    bench.write("tare-work/library/processes/deburr.toml", slower());
    bench.run(&["edit", "renew"]).well();
    let out = bench.run(&["release", "check", "1"]).well();
    assert!(out.starts_with("release 1 reproduced bit for bit: ") && out.ends_with("3 headlines, 1024 draws\n"), "{out}");
    assert_eq!(bench.run(&["release", "check", "1", "--threads", "1"]).well(), out);
    // tables as of the release, named so
    assert_eq!(cost(&bench, &["--release", "1"]), before);
    assert_ne!(cost(&bench, &[]), before);
    assert!(bench.run(&["mass", "--release", "1"]).well().starts_with("Bracket, release 1\nMass: 4.04 kg"));
    assert!(bench.run(&["explain", "P2/cost", "--release", "1"]).well().contains("EUR"));
    bench.run(&["report", "--release", "1", "--out", "one.html"]).well();
    let report = std::fs::read_to_string(bench.path("one.html")).expect("a report");
    for part in ["release 1, entry 1 of the journal", "of 1024 draws, seed 7"] {
        assert!(report.contains(part), "`{part}` is missing");
    }
    bench.run(&["export", "workbook", "one.xlsx", "--release", "1"]).well();
    assert!(bench.run(&["export", "parts", "--release", "1"]).well().contains("P2"));
    bench.run(&["export", "text", "--release", "1"]).refused(&["release-reads"]);
    // a release is never changed
    for refused in
        [&["edit", "set", "P2/mass", "3 kg"][..], &["undo"], &["import", "x.csv"], &["history"], &["compare", "Bracket"]]
    {
        bench.run(&[refused, &["--release", "1"]].concat()).refused(&["release-reads", "never changed"]);
    }
    bench.run(&["cost", "--release", "2"]).refused(&["has no release 2", "it has release 1"]);
    // nor is more asked of it than it froze
    for beyond in [&["walk", "--step", "life: set scenario/life \"8 a\""][..], &["explain", "idea P2:x"]] {
        bench.run(&[beyond, &["--release", "1"]].concat()).refused(&["release-reads", "more than a release froze"]);
    }
    bench.run(&["report", "--release", "1", "--against", "Bracket"]).refused(&["release-against"]);
    let history = bench.run(&["history", "--json"]).json();
    assert_eq!((history["releases"][0]["number"].as_u64(), history["releases"][0]["entry"].as_u64()), (Some(1), Some(1)));
    assert!(bench.run(&["history"]).well().contains("release 1"));
    let walk = bench.run(&["walk", "--release", "1", "--to", "now", "--json"]).json();
    assert_eq!(walk["walk"]["rest"], "0");
    assert_eq!(walk["walk"]["start"]["value"].as_f64(), Some(before));
    assert_eq!(walk["walk"]["end"]["value"].as_f64(), Some(cost(&bench, &[])));
    let names: Vec<&str> = walk["stages"].as_array().expect("stages").iter().filter_map(|s| s["name"].as_str()).collect();
    assert!(names.len() == 2 && names[0].starts_with("entry 2: ") && names[1] == "texts of calculations", "{names:?}");
    bench.run(&["walk", "--to", "1"]).refused(&["--release"]);
    let shown = bench.run(&["release", "show", "1", "--json"]).json();
    assert_eq!((&shown["release"]["class"], &shown["release"]["author"]), (&Value::from("client"), &Value::from("tester")));
    assert!(bench.run(&["doctor"]).well().contains("tare"));
}

/// What a release cannot do without is gone: exit code 1 and one plain reason; `tare doctor` finds it too.
#[test]
fn a_release_that_is_not_reproduced_says_why() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["release", "make", "--says", "first", "--draws", "128"]).well();
    let raw = rusqlite::Connection::open(bench.path("tare-work/workspace.sqlite")).expect("a database");
    assert_eq!(raw.execute("DELETE FROM text WHERE text LIKE 'title = \"Deburring by hand%'", []), Ok(1));
    drop(raw);
    let err = bench.run(&["release", "check", "1"]).refused(&["release-text-missing", "`processes/deburr`", "from a backup"]);
    assert_eq!(err.matches("error[").count(), 1, "{err}");
    let run = bench.run(&["release", "check", "1", "--json"]);
    let value: Value = serde_json::from_str(&run.out).expect("json");
    assert_eq!(
        (run.code, &value["ok"], &value["problems"][0]["code"]),
        (1, &Value::from(false), &Value::from("release-text-missing"))
    );
    bench.run(&["cost", "--release", "1"]).refused(&["release-text-missing"]);
    bench.run(&["doctor"]).refused(&["release 1", "`processes/deburr`"]);
}

/// A later program that computes otherwise shows a release only with a word that these are not its numbers.
#[test]
fn a_release_of_another_arithmetic_is_shown_with_a_warning() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["release", "make", "--says", "first", "--draws", "128"]).well();
    let run = bench.run(&["cost", "--release", "1"]);
    assert!(run.code == 0 && !run.err.contains("release"), "{}", run.err);
    let raw = rusqlite::Connection::open(bench.path("tare-work/workspace.sqlite")).expect("a database");
    let later = "UPDATE entry SET edits = replace(edits, '\"numerics\":1,', '\"numerics\":99,') WHERE says = 'first'";
    raw.execute_batch(&format!("DROP TRIGGER entry_stays; {later}")).expect("changed");
    drop(raw);
    for shown in [&["cost", "--release", "1"][..], &["walk", "--release", "1", "--to", "now"]] {
        let run = bench.run(shown);
        assert_eq!(run.code, 0, "{}", run.err);
        for part in ["warning[release-numerics]", "version 99 of the arithmetic", "tare release show 1"] {
            assert!(run.err.contains(part), "`{part}` is missing in {}", run.err);
        }
    }
    bench.run(&["release", "check", "1"]).refused(&["error[release-numerics]", "version 99 of the arithmetic"]);
    // one that does not read at all hides neither the journal nor the others
    bench.run(&["release", "make", "--says", "second", "--draws", "128"]).well();
    let raw = rusqlite::Connection::open(bench.path("tare-work/workspace.sqlite")).expect("a database");
    raw.execute("UPDATE entry SET edits = '[]' WHERE says = 'first'", []).expect("changed");
    drop(raw);
    let run = bench.run(&["history"]);
    assert!(
        run.code == 0 && run.out.contains("Bracket") && run.err.contains("warning[release-damaged]"),
        "{}{}",
        run.out,
        run.err
    );
    bench.run(&["release", "show", "1"]).refused(&["release-damaged", "release 1 does not read"]);
    bench.run(&["release", "check", "2"]).well();
}

/// The example's pack: every headline with its range, the same again on one thread, and a walk over it, all readable at 80 columns.
#[test]
fn the_example_is_released_and_reproduced() {
    let bench = Bench::new();
    let pack = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/pack");
    bench.run(&["new", "--from", pack]).well();
    let says = "a state of the study that is described at some length, so that it has to give way";
    let made = bench.run(&["release", "make", "--says", says, "--draws", "2560", "--json"]).json();
    let headlines = made["release"]["headlines"].as_array().expect("headlines");
    assert!(headlines.len() >= 8 && headlines.iter().all(|h| h["drawn"]["shown"].as_str().is_some_and(|s| s.contains(" to "))));
    bench.run(&["edit", "set", "P12/mass", "7.5 kg"]).well();
    let checked = bench.run(&["release", "check", "1", "--threads", "1", "--json"]).json();
    assert_eq!((&checked["ok"], &checked["same"]["draws"]), (&Value::from(true), &Value::from(2560)));
    assert_eq!(checked["same"]["lines"], made["release"]["lines"]["count"]);
    assert!(checked["same"]["lines"].as_u64() > Some(50_000), "{checked}");
    for command in [
        &["release", "make", "--says", says, "--draws", "128"][..],
        &["release", "list"],
        &["release", "show", "1"],
        &["release", "check", "2"],
        &["walk", "--release", "1", "--to", "2"],
        &["history"],
    ] {
        let out = bench.run(command).well();
        let long: Vec<&str> = out.lines().filter(|l| l.chars().count() > 80).collect();
        assert!(long.is_empty() && !out.is_empty(), "{command:?}: {long:#?}");
    }
}
