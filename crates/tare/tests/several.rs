//! Several studies in one workspace: which one is meant, and which one an entry went to.

mod common;

use common::{Bench, SMALL};

fn bench() -> Bench {
    let bench = Bench::new();
    bench.write("study.toml", SMALL);
    for name in ["Bracket one", "Bracket two"] {
        bench.run(&["new", name, "--from", "study.toml"]).well();
    }
    bench
}

fn entries(bench: &Bench) -> [usize; 2] {
    ["Bracket one", "Bracket two"].map(|name| {
        let history = bench.run(&["history", "--study", name, "--json"]).json();
        history["entries"].as_array().map_or(0, Vec::len)
    })
}

#[test]
fn a_part_of_a_name_that_means_several_says_which() {
    let bench = bench();
    bench.run(&["parts", "--study", "brack"]).refused(&["means several: Bracket one; Bracket two"]);
    bench.run(&["parts", "--study", "three"]).refused(&["has no study `three`"]);
    bench.run(&["parts", "--study", " "]).refused(&["has no study"]);
    assert!(bench.run(&["cost", "--study", "two"]).well().contains("Bracket two"));
    assert!(bench.run(&["cost", "--study", "BRACKET TWO"]).well().contains("Bracket two"));
    bench.run(&["ask", "study", "true", "--under", "brack"]).refused(&["means several"]);
}

#[test]
fn an_entry_says_which_study_it_went_to_where_nobody_named_one() {
    let bench = bench();
    bench.write("more.csv", "level,name,quantity\n1,Washer,4\n");
    let steps: [(&[&str], bool); 8] = [
        (&["edit", "set", "P2/mass", "3 kg"], true),
        (&["undo"], true),
        (&["redo"], true),
        (&["edit", "set", "P2/mass", "3 kg", "--study", "Bracket two"], false),
        (&["idea", "add", "Thinner", "--edit", "set P2/mass \"1 kg\""], true),
        (&["idea", "drop", "I1", "--says", "too thin"], true),
        (&["import", "more.csv", "--yes"], true),
        (&["undo", "--study", "Bracket two"], false),
    ];
    for (step, unsaid) in steps {
        let out = bench.run(step).well();
        assert_eq!(out.contains("(in Bracket one)"), unsaid, "{step:?}\n{out}");
        assert!(!out.contains("(in Bracket two)"), "{step:?}\n{out}");
    }
    let entry = bench.run(&["edit", "set", "P2/mass", "4 kg", "--json"]).json();
    assert_eq!(entry["study"], "Bracket one");
    assert_eq!(entries(&bench), [8, 3]);

    let alone = Bench::with_study(SMALL);
    assert!(!alone.run(&["edit", "set", "P2/mass", "3 kg"]).well().contains("(in "), "there is only one");
}

#[test]
fn what_is_recorded_takes_a_whole_name() {
    let bench = bench();
    bench.write("more.csv", "level,name,quantity\n1,Washer,4\n");
    bench.run(&["idea", "add", "Thinner", "--edit", "set P2/mass \"1 kg\"", "--study", "Bracket two"]).well();
    let steps: [&[&str]; 9] = [
        &["edit", "set", "P2/mass", "3 kg"],
        &["edit", "lock"],
        &["undo"],
        &["redo"],
        &["import", "more.csv", "--yes"],
        &["idea", "add", "Thick", "--edit", "set P2/mass \"3 kg\""],
        &["idea", "take", "I1", "--name", "Bracket three"],
        &["idea", "drop", "I1", "--says", "too thin"],
        &["idea", "rebase"],
    ];
    for step in steps {
        let refused = bench.run(&[step, &["--study", "two"]].concat()).refused(&["Bracket two", "in full"]);
        assert!(refused.contains("only a part"), "{refused}");
    }
    assert_eq!(entries(&bench), [1, 2]);
    bench.run(&["import", "more.csv", "--study", "two"]).well();
    bench.run(&["edit", "set", "P2/mass", "3 kg", "--study", "bracket TWO"]).well();
    assert_eq!(entries(&bench), [1, 3]);
}

#[test]
fn all_that_is_asked_for_is_shown() {
    let bench = bench();
    let show = ["mass", "cost", "count", "mass in g", "cost / mass", "count * 7"];
    let shown = show.iter().flat_map(|text| ["--show", text]);
    let args: Vec<&str> = ["ask", "part", "address == 'P2'"].into_iter().chain(shown).collect();
    let out = bench.run(&args).well();
    assert!(
        out.contains("f: count * 7") && out.lines().any(|line| line.starts_with("Bracket") && line.ends_with(" 14")),
        "{out}"
    );
}

#[test]
fn a_step_of_a_walk_keeps_its_quotes_together() {
    let bench = bench();
    let step = "heavier: set P2/mass \"2.5 kg\" --source \"scale; by hand\"; set P3/count 5";
    let out = bench.run(&["walk", "--step", step]).well();
    assert!(out.contains("heavier"), "{out}");
}
