//! The commands at the level of wiring: what is printed, where, and with which exit code.

mod common;

use common::{Bench, SMALL};
use std::time::{Duration, Instant};

#[test]
fn the_demo_ends_with_its_summary_and_a_report() {
    let bench = Bench::new();
    let run = bench.run(&["demo"]);
    let out = run.well();
    for word in [
        "Should-cost",
        "without",
        "Mass:",
        "assembly time",
        "Parts:",
        "base year",
        "EUR",
        "volume",
        "Boundary:",
        "report.html",
        "dangerous",
    ] {
        assert!(out.contains(word), "`{word}` is missing in\n{out}");
    }
    assert!(!out.to_lowercase().contains(" safe "), "nothing may be called safe");
    let page = std::fs::read_to_string(bench.path("tare-demo/report.html")).expect("a report");
    assert!(page.starts_with("<!DOCTYPE html>") && page.len() > 100_000);
    assert!(!page.contains("src=\"http") && !page.contains("href=\"http"), "the report loads nothing");
    assert!(page.contains("95 % of draws: "), "headlines have their ranges");
    // A second run finds the workspace and records nothing again.
    bench.run(&["demo"]).well();
    assert_eq!(bench.entries(), 1);
}

#[test]
fn a_report_may_do_without_ranges() {
    let bench = Bench::with_demo();
    let of = |draws: &str| {
        bench.run(&["report", "--out", "page.html", "--no-set", "--draws", draws]).well();
        std::fs::read_to_string(bench.path("page.html")).expect("a report")
    };
    let (without, with) = (of("0"), of("256"));
    assert!(
        without.contains("No ranges were drawn") && without.contains("(k = 2, first order)") && !without.contains("of draws: ")
    );
    assert!(with.contains("95 % of draws: ") && with.contains("They have not settled to 1 digit"), "256 draws cannot settle");
}

#[test]
fn ranges_are_drawn_for_headlines_and_for_any_line() {
    let bench = Bench::with_demo();
    let all = bench.run(&["spread", "--json"]).json();
    let rows = all["spread"]["rows"].as_array().expect("rows").clone();
    assert!(
        rows.len() > 6 && all["spread"]["settled"] == true && all["spread"]["failures"].as_array().is_some_and(Vec::is_empty)
    );
    // where everything adds up, the range brackets the stated number
    let mass = rows.iter().find(|r| r["name"] == "mass").expect("a mass");
    let percentiles: Vec<f64> =
        mass["percentiles"].as_array().expect("five").iter().filter_map(serde_json::Value::as_f64).collect();
    let stated = mass["stated"]["value"].as_f64().expect("a number");
    assert!(percentiles[0] < stated && stated < percentiles[4] && percentiles.is_sorted(), "{percentiles:?} {stated}");
    let causes = all["spread"]["causes"].as_array().expect("causes");
    assert!(causes.iter().any(|c| c["cause"] == "method errors" && c["with_others"].as_f64().is_some_and(|s| s > 0.01)));
    // the same seed gives the same numbers; another gives others
    let one = |seed: &str| bench.run(&["spread", "P1.1/cost", "--seed", seed, "--draws", "1280"]).well();
    assert_eq!(one("3"), one("3"));
    assert_ne!(one("3"), one("4"));
    bench.run(&["spread", "P1.1/cots", "--draws", "1280"]).refused(&["P1.1/cots"]);
    bench.run(&["spread", "--coverage", "100"]).refused(&["between 0 and 100"]);
}

#[test]
fn a_range_tells_its_limit_its_budget_and_its_layout() {
    let bench = Bench::with_demo();
    let out = bench.run(&["spread", "cost", "--limit", "5500 EUR", "--budget", "--draws", "2560"]).well();
    for part in ["chance of more than 5500.00 EUR: ", "First-order budget of the cost", "degrees of freedom", "by value", "###"] {
        assert!(out.contains(part), "`{part}` is missing in\n{out}");
    }
    bench.run(&["spread", "cost", "--limit", "5 kg"]).refused(&["--limit", "EUR"]);
    bench.run(&["spread", "cost", "--limit", "5500 USD"]).refused(&["in USD", "in EUR"]);
    bench.run(&["spread", "--draws", "20000000"]).refused(&["more than can be kept"]);
    let out = bench.run(&["spread", "mass", "--coverage", "99.5", "--draws", "2560"]).well();
    assert!(out.contains("99.5 % from"), "{out}");
    bench.run(&["spread", "cost", "--limit", "much"]).refused(&["--limit"]);
    let laid =
        |points: &str| bench.run(&["spread", "cost", "--json", "--draws", "3000", "--points", points]).json()["spread"].clone();
    assert_eq!((laid("sobol")["draws"].as_u64(), laid("hypercube")["draws"].as_u64()), (Some(4096), Some(3072)));
}

#[test]
fn drivers_and_the_work_list_name_the_cells_first() {
    let bench = Bench::with_demo();
    let drivers = bench.run(&["drivers", "--json", "--draws", "1024", "--most", "3"]).json();
    let rows = drivers["drivers"]["rows"].as_array().expect("rows").clone();
    assert!(rows.len() == 3 && rows[0]["address"].as_str().is_some_and(|a| a.contains("cell")), "{rows:?}");
    assert!(rows[0]["alone"].as_f64().is_some_and(|s| s > 0.5));
    let out = bench.run(&["drivers", "mass", "--draws", "512"]).well();
    assert!(out.contains("alone") && out.contains(" .. "), "{out}");
    let next = bench.run(&["next", "--json", "--draws", "512", "--most", "2"]).json();
    let first = &next["next"]["steps"][0];
    assert!(first["edit"].as_str().is_some_and(|e| e.starts_with("tare edit set")), "{first}");
    let out = bench.run(&["next", "mass", "--draws", "512", "--most", "3"]).well();
    assert!(out.contains("standard uncertainty"), "{out}");
    for command in ["drivers", "next"] {
        bench.run(&[command, "P1.1/cots"]).refused(&["P1.1/cots"]);
    }
    let out = bench.run(&["next", "mass", "--who", "bench", "--draws", "512"]).well();
    assert!(out.contains("calibrate it") && !out.contains("buyer,"), "{out}");
}

/// A correlation that cannot be used makes every range another one: it is said wherever ranges are shown.
#[test]
fn ranges_say_which_errors_of_the_study_they_hang_on() {
    let bench = Bench::with_demo();
    bench.run(&["edit", "add", "correlation", "leaves=*/price", "text=0.3", "source=x"]).well();
    for command in ["spread", "drivers", "next"] {
        let run = bench.run(&[command, "cost", "--draws", "256"]);
        assert!(run.code == 1 && run.err.contains("at most 64"), "{command}: {} {}", run.code, run.err);
        let run = bench.run(&[command, "cost", "--draws", "256", "--json"]);
        assert!(run.code == 1 && run.out.contains("at most 64"), "{command} --json: {}", run.code);
    }
}

#[test]
fn a_method_error_is_set_by_the_name_of_its_calculation() {
    let bench = Bench::with_demo();
    let cost = |bench: &Bench| bench.run(&["cost", "--json"]).json()["cost"]["total"]["value"].as_f64().expect("a cost");
    let before = cost(&bench);
    bench.run(&["edit", "set", "build-up/study-teardown/method", "110 +- 8 %"]).well();
    assert!(cost(&bench) > before * 1.005, "the mark-ups went up by a tenth");
    bench.run(&["edit", "set", "rate/method.build-up/study-teardown", "100 +- 8 %"]).well();
    assert!((cost(&bench) - before).abs() < 1e-6);
    bench.run(&["edit", "set", "rate/method.joints/spotweld", "100 %"]).refused(&["joints/spotweld", "spot-weld"]);
    bench.run(&["edit", "set", "rate/", "100 %"]).refused(&["a rate has a key"]);
    bench.run(&["edit", "set", "build-up/study-teardown/method", "-50 +- 8 %"]);
    let run = bench.run(&["cost"]);
    assert!(run.code == 1 && run.err.contains("above zero"), "{}", run.err);
}

/// A sketch of a die casting's area reaches so far that no machine of the table could make it.
#[test]
fn draws_that_fail_are_counted_and_the_first_is_shown_with_its_inputs() {
    let bench = Bench::with_demo();
    bench.run(&["edit", "set", "P1.8/projected_area", "50 .. 60 .. 90000 cm^2"]).well();
    let run = bench.run(&["spread", "P1.8/cost", "--draws", "1280"]);
    assert_eq!(run.code, 1, "{}", run.err);
    let out = run.out;
    let lines: Vec<&str> = out.lines().skip_while(|l| !l.starts_with("P1.8/cost: no number in ")).collect();
    assert!(lines.len() > 3, "{out}");
    let said = lines.join(" ");
    for part in ["draws, first in draw ", "largest force", "estimates/die-casting-machine", "class = "] {
        assert!(said.contains(part), "`{part}` is missing in\n{said}");
    }
    for command in ["drivers", "next"] {
        let run = bench.run(&[command, "P1.8/cost", "--draws", "512"]);
        assert!(run.code == 1 && run.out.contains("no number in "), "{command}: {}", run.out);
    }
}

#[test]
fn tables_keep_to_eighty_columns() {
    let bench = Bench::with_demo();
    for command in [
        &["parts"][..],
        &["mass"],
        &["joints", "--each"],
        &["time"],
        &["cost"],
        &["history"],
        &["calc"],
        &["verify"],
        &["spread", "--budget"],
        &["drivers", "--draws", "1024"],
        &["next", "--draws", "512"],
    ] {
        let out = bench.run(command).well();
        let long: Vec<&str> = out.lines().filter(|l| l.chars().count() > 80).collect();
        assert!(long.is_empty(), "{command:?}: {long:#?}");
    }
}

#[test]
fn every_command_speaks_json() {
    let bench = Bench::with_demo();
    let has = |args: &[&str], field: &str| {
        let value = bench.run(args).json();
        assert!(!value[field].is_null(), "{args:?} has no `{field}`: {value}");
    };
    has(&["parts", "--json"], "parts");
    has(&["mass", "--json"], "mass");
    has(&["joints", "--json"], "joints");
    has(&["time", "--json"], "time");
    has(&["cost", "--json"], "cost");
    has(&["explain", "cost", "--json"], "steps");
    has(&["history", "--json"], "entries");
    has(&["calc", "--json"], "calculations");
    has(&["drivers", "--json", "--draws", "128"], "drivers");
    has(&["next", "--json", "--draws", "128"], "next");
    has(&["calc", "processes/hpdc", "--json"], "equations");
    has(&["calc", "materials", "--json"], "materials");
    has(&["doctor", "--json"], "checkup");
    has(&["report", "--no-set", "--json"], "report");
    has(&["demo", "--json"], "cost");
    let refused = bench.run(&["explain", "P999/mass", "--json"]);
    assert_eq!(refused.code, 1);
    let value: serde_json::Value = serde_json::from_str(&refused.out).expect("json");
    assert_eq!(value["problems"][0]["code"], "address-unknown");
}

#[test]
fn verify_gives_exactly_the_agreed_fields() {
    let bench = Bench::new();
    let value = bench.run(&["verify", "--json"]).json();
    let checks = value["checks"].as_array().expect("checks");
    let passed = value["passed"].as_u64().expect("passed");
    assert!(passed >= 60, "{passed} published checks");
    assert_eq!(value["failed"], 0);
    for check in checks {
        for field in ["id", "source", "kind", "expected", "got"] {
            assert!(check[field].is_string(), "{field} of {check}");
        }
        assert!(check["seen"].is_boolean() && check["ok"].is_boolean());
    }
    let published = checks.iter().filter(|c| c["kind"] != "derived").count() as u64;
    assert_eq!(published, passed, "derived checks are counted apart");
}

#[test]
fn an_edit_moves_the_total_and_undo_brings_it_back() {
    let bench = Bench::with_study(SMALL);
    let cost = || bench.run(&["cost", "--json"]).json()["cost"]["total"]["value"].as_f64().expect("a cost");
    let mass = || bench.run(&["mass", "--json"]).json()["mass"]["total"]["value"].as_f64().expect("a mass");
    let (first, before) = (cost(), mass());
    assert!((before - 4.04).abs() < 1e-12, "2 x 2 kg + 4 x 10 g = 4.04 kg, found {before}");
    let out = bench.run(&["edit", "set", "P3/price", "0.18 EUR"]).well();
    assert!(out.starts_with("2  ") && out.contains("0.08 EUR -> 0.18 EUR"), "{out}");
    assert!(cost() > first + 0.39, "four screws at 0.10 EUR more, mark-ups on top");
    bench.run(&["edit", "set", "P2", "count", "3"]).well();
    assert!((mass() - 6.04).abs() < 1e-12);
    bench.run(&["undo"]).well();
    bench.run(&["undo"]).well();
    assert_eq!((cost(), mass()), (first, before), "the same bits");
    bench.run(&["redo"]).well();
    assert!(cost() > first);
    let history = bench.run(&["history", "--json"]).json();
    let entries = history["entries"].as_array().expect("entries");
    assert_eq!(entries.len(), 6);
    assert!(entries.iter().all(|e| e["author"] == "tester" && e["time"].as_str().is_some_and(|t| t.ends_with('Z'))));
    assert_eq!(entries[3]["undoes"], 3);
    assert_eq!(entries[2]["undone"], true);
}

#[test]
fn undoing_under_a_later_change_is_a_conflict_with_both_values() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["edit", "set", "P2/mass", "2.1 kg"]).well();
    bench.run(&["edit", "set", "P2/mass", "2.2 kg"]).well();
    let entries = bench.entries();
    bench.run(&["undo", "2"]).refused(&["conflict", "`2.2 kg`", "`2.1 kg`", "`2 kg`", "nothing was changed"]);
    assert_eq!(bench.entries(), entries);
    // What touches something else is taken back from the middle without trouble.
    bench.run(&["edit", "set", "P3/mass", "11 g"]).well();
    bench.run(&["undo", "3"]).well();
    bench.run(&["undo", "3"]).refused(&["taken back already"]);
}

#[test]
fn a_study_as_text_reads_back_to_the_same_numbers() {
    let bench = Bench::with_demo();
    let number = |bench: &Bench, command: &str, field: &str| {
        bench.run(&[command, "--json"]).json()[command][field]["value"].as_f64().expect("a number")
    };
    let cost = number(&bench, "cost", "total");
    let mass = number(&bench, "mass", "total");
    bench.run(&["export", "text", "pack.toml"]).well();
    let other = Bench::new();
    let text = std::fs::read_to_string(bench.path("pack.toml")).expect("text");
    other.write("pack.toml", &text);
    other.run(&["new", "--from", "pack.toml"]).well();
    assert_eq!(number(&other, "cost", "total").to_bits(), cost.to_bits());
    assert_eq!(number(&other, "mass", "total").to_bits(), mass.to_bits());
    other.run(&["export", "text", "again.toml"]).well();
    let again = std::fs::read_to_string(other.path("again.toml")).expect("text");
    let differs = text.lines().zip(again.lines()).find(|(a, b)| a != b);
    assert_eq!(differs, None, "writing what was read gives the same text");
    assert_eq!(text.len(), again.len());
}

#[test]
fn records_are_added_chosen_moved_and_removed() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["edit", "add", "part", "--under", "P1", "name=Lid", "count=2", "label=P9", "mass=0.5 kg"]).well();
    let mass = |bench: &Bench| bench.run(&["mass", "--json"]).json()["mass"]["total"]["value"].as_f64().expect("a mass");
    assert!((mass(&bench) - 5.04).abs() < 1e-12);
    bench.run(&["edit", "set", "P9/mass", "0.7 kg", "--beside", "--evidence", "measured", "--source", "scale 2"]).well();
    bench.run(&["edit", "set", "P9/mass", "0.6 kg"]).refused(&["2 values stand", "#1 0.5 kg", "#2 0.7 kg"]);
    bench.run(&["edit", "choose", "P9/mass", "1", "--says", "the scale was off"]).well();
    assert!((mass(&bench) - 5.04).abs() < 1e-12);
    bench.run(&["edit", "choose", "P9/mass", "mean"]).well();
    assert!((mass(&bench) - 5.24).abs() < 1e-9);
    bench.run(&["edit", "move", "P3", "--under", "P2"]).well();
    assert!((mass(&bench) - 5.2).abs() < 0.1, "a weighed plate holds its screws");
    bench.run(&["edit", "remove", "P9"]).well();
    bench.run(&["explain", "P9/mass"]).refused(&["address-unknown"]);
}

#[test]
fn an_explanation_goes_down_to_readings_and_sources() {
    let bench = Bench::with_study(SMALL);
    let out = bench.run(&["explain", "P2/op1/cycle", "--all"]).well();
    for word in ["method * (handling + edges / speed + holes * per_hole)", "common practice", "(measured: 2 kg", "P2/mass"] {
        assert!(out.contains(word), "`{word}` is missing in\n{out}");
    }
    let steps = bench.run(&["explain", "cost", "--json"]).json();
    let steps = steps["steps"].as_array().expect("steps");
    assert!(steps.iter().any(|s| s["evidence"] == "quoted" && s["source"].as_str().is_some_and(|t| t.contains("offer 1"))));
}

#[test]
fn a_locked_study_does_not_follow_a_changed_library() {
    let bench = Bench::with_study(SMALL);
    let cost = || bench.run(&["cost", "--json"]).json()["cost"]["total"]["value"].as_f64().expect("a cost");
    let before = cost();
    // What the study uses is held from its first entry on.
    assert!(bench.run(&["edit", "lock"]).well().contains("nothing was changed"));
    assert_eq!(bench.entries(), 1);
    let own = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../library/processes/deburr.toml"))
        .expect("the calculation");
    bench.write("tare-work/library/processes/deburr.toml", own.replace("20 .. 40 .. 80 mm/s", "10 .. 20 .. 40 mm/s"));
    assert_eq!(cost(), before, "the locked text computes");
    let renewed = bench.run(&["edit", "renew", "--dry-run"]).well();
    assert!(renewed.starts_with("changed  processes/deburr\n"), "{renewed}");
    bench.run(&["edit", "renew"]).well();
    assert!(cost() > before, "half the speed costs more");
    bench.run(&["undo"]).well();
    assert_eq!(cost(), before);
}

#[test]
fn exported_text_is_no_formula() {
    let bench = Bench::with_study(SMALL);
    bench.run(&["edit", "set", "P3", "name", "=1+2"]).well();
    let out = bench.run(&["export", "parts"]).well();
    assert!(out.contains(",'=1+2,"), "{out}");
}

#[test]
fn a_workbook_is_written() {
    let bench = Bench::with_study(SMALL);
    let hostile = ["=cmd()", "+1", "@now", "\u{202e}=1", "=HYPERLINK(\"x\")"];
    for (part, name) in ["P1", "P2", "P3"].iter().zip(hostile) {
        bench.run(&["edit", "set", part, "name", name]).well();
    }
    let out = bench.run(&["export", "workbook", "pack.xlsx", "--json"]).well();
    assert!(out.contains("\"formulas\": ") && out.contains("\"values\": []"), "{out}");
    let bytes = bench.run(&["export", "--xlsx", "again.xlsx"]).well();
    assert!(bytes.contains("formulas"), "{bytes}");
    let file = std::fs::File::open(bench.path("pack.xlsx")).expect("the workbook");
    let mut packed = zip::ZipArchive::new(file).expect("a zip file");
    let mut all = String::new();
    for at in 0..packed.len() {
        let mut file = packed.by_index(at).expect("a file");
        std::io::Read::read_to_string(&mut file, &mut all).expect("text");
    }
    for name in hostile.iter().take(3) {
        assert!(all.contains(&format!("{name}</t>")), "{name} is text");
        assert!(!all.contains(&format!("<f>{}", name.trim_start_matches('='))), "{name} is no formula");
    }
    bench.run(&["export", "workbook", "nowhere/pack.xlsx"]).refused(&["nowhere"]);
    assert_eq!(bench.run(&["export"]).code, 2);
}

#[test]
fn a_file_of_ones_own_is_checked() {
    let bench = Bench::new();
    let good = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../../library/processes/deburr.toml"))
        .expect("the calculation");
    bench.write("processes/mine.toml", &good);
    assert!(bench.run(&["calc", "check", "processes/mine.toml"]).well().contains("0 fail"));
    bench.write("processes/mine.toml", good.replace("edges / speed", "edges / sped"));
    let err = bench.run(&["calc", "check", "processes/mine.toml"]).refused(&["mine.toml:", "`sped`", "did you mean `speed`?"]);
    assert!(err.contains("^^^^"), "{err}");
    bench.write("processes/mine.toml", good.replace("\"2000 mm\"", "\"2001 mm\""));
    let run = bench.run(&["calc", "check", "processes/mine.toml"]);
    assert_eq!(run.code, 1);
    assert!(run.out.contains("FAILS"), "{}", run.out);
}

#[test]
fn the_command_line_itself() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["no-such-command"]).code, 2);
    assert_eq!(bench.run(&["edit", "set"]).code, 2);
    let help = bench.run(&["edit", "--help"]).well();
    assert!(help.contains("Examples:") && help.contains("tare edit set P12/mass"));
    // Help needs no library: it must answer at once, in this unoptimised build too.
    let shortest = (0..5)
        .map(|_| {
            let start = Instant::now();
            bench.run(&["--help"]).well();
            start.elapsed()
        })
        .min();
    assert!(shortest < Some(Duration::from_millis(50)), "{shortest:?}");
}
