//! How an idea's edits fit a study that has moved on.

use super::bench::{bench, states};
use tare_app::idea::EditState::{AlreadySo, Conflicts, Fits, Gone};
use tare_app::idea::{self, standing};
use tare_app::view;

#[test]
fn edits_fit_what_they_were_written_for_and_beside_other_changes() {
    let bench = bench();
    for lines in [
        vec!["set P2/mass \"1.5 kg\""],
        vec!["remove P3"],
        vec!["add part --under P2 name=Clip count=2"],
        vec!["move P4 --under P1"],
    ] {
        let edits = bench.seal(&lines);
        for moved in [vec![], vec!["set P1/name \"Case\"", "set scenario/volume \"900 1/a\"", "set P2/price \"11 EUR\""]] {
            let found = bench.after(&moved, &edits);
            assert!(!found.is_empty() && found.iter().all(|(s, p)| *s == Fits && p.is_none()), "{lines:?}: {found:?}");
        }
    }
}

#[test]
fn what_somebody_has_done_already_is_already_so() {
    let bench = bench();
    for line in ["set P2/mass \"1.5 kg\"", "remove P3", "move P4 --under P1"] {
        let found = bench.after(&[line], &bench.seal(&[line]));
        assert!(!found.is_empty() && found.iter().all(|(s, p)| *s == AlreadySo && p.is_none()), "{line}: {found:?}");
    }
    // the very records are there already, not others like them
    let edits = bench.seal(&["add part --under P2 name=Clip count=2"]);
    let mut moved = bench.loaded.document.clone();
    edits.iter().for_each(|edit| moved.apply(edit).expect("it fits"));
    assert!(standing(&moved, &edits).iter().all(|s| s.state == AlreadySo));
    assert_eq!(idea::applied(&moved, &edits).expect("nothing stands against it"), moved);
}

#[test]
fn another_content_than_it_was_written_for_conflicts_and_says_all_three() {
    let bench = bench();
    let edits = bench.seal(&["set P2/mass \"1.5 kg\""]);
    let found = bench.after(&["set P2/mass \"1.8 kg\""], &edits);
    let (state, problem) = found.iter().find(|(s, _)| *s != AlreadySo).expect("one does not fit");
    assert_eq!(*state, Conflicts);
    let says = problem.as_ref().expect("a message").to_string();
    assert!(says.contains("1.8 kg") && says.contains("2 kg") && says.contains("1.5 kg"), "{says}");
    assert!(problem.as_ref().is_some_and(|p| p.place.is_some()));

    // something was put under what is to go, elsewhere is where it stands, and another record bears the name
    assert_eq!(states(&bench.after(&["set P3/says \"seen\""], &bench.seal(&["remove P3"]))), [Conflicts]);
    assert_eq!(states(&bench.after(&["add part --under P2 name=Clip"], &bench.seal(&["remove P2"]))), [Conflicts]);
    assert_eq!(states(&bench.after(&["move P4 --under P1"], &bench.seal(&["move P4 --under P1 --after P2"]))), [Conflicts]);
}

#[test]
fn what_it_is_about_is_gone() {
    let bench = bench();
    let gone = ["remove P4", "remove \"item Label\""];
    for lines in [
        vec!["set P4/mass \"2 g\""],
        vec!["set P4/count 1"],
        vec!["move P4 --under P1"],
        vec!["set \"item Label\"/name \"Mark\""],
    ] {
        let found = bench.after(&gone, &bench.seal(&lines));
        assert!(!found.is_empty() && found.iter().all(|(s, p)| *s == Gone && p.is_some()), "{lines:?}: {found:?}");
    }
    // where it was to stand, and what it was to refer to
    assert_eq!(states(&bench.after(&["remove P2"], &bench.seal(&["add part --under P2 item=Screw count=2"])))[0], Gone);
    assert_eq!(states(&bench.after(&gone, &bench.seal(&["add part --under P1 item=Label count=2"])))[0], Gone);
}

/// What is to go has lost a part of itself meanwhile: it is still there, and is another than was meant.
#[test]
fn what_is_to_go_and_has_lost_something_conflicts() {
    let bench = bench();
    let edits = bench.seal(&["remove P2"]);
    assert_eq!(states(&bench.after(&["remove P4"], &edits)), [Conflicts]);
}

#[test]
fn edits_build_on_those_before_them() {
    let bench = bench();
    let edits = bench.seal(&["set P3/count 5", "set P3/count 4"]);
    assert_eq!(states(&bench.after(&[], &edits)), [Fits, Fits]);
    let added = bench.seal(&["add part --under P2 name=Clip label=P9 count=2", "set P9/count 3"]);
    assert!(bench.after(&[], &added).iter().all(|(s, _)| *s == Fits));
}

#[test]
fn an_idea_in_conflict_is_shown_and_not_evaluated() {
    let mut bench = bench();
    bench.add("Lighter cover", &["set P2/mass \"1.5 kg\"", "set P2/price \"9 EUR\""], None);
    bench.add("Fewer screws", &["set P3/count 4"], Some("50 EUR"));
    let before = bench.view();
    assert!(before.ideas.iter().filter(|row| row.recorded).all(|row| row.worth.is_some()), "{before:?}");
    bench.edit("set P2/mass \"1.8 kg\"");
    let view = bench.view();
    let row = view.ideas.iter().find(|row| row.label == "I1").expect("it is shown");
    assert!(row.worth.is_none() && row.recorded && row.state == "open");
    assert!(
        row.edits.iter().any(|e| e.state == "conflicts" && e.problem.as_ref().is_some_and(|p| p.contains("1.8 kg"))),
        "{row:?}"
    );
    assert!(row.edits.iter().any(|e| e.state == "fits"), "what fits is still said to fit: {row:?}");
    assert!(!row.problems.is_empty(), "and it is said why there is no figure");
    let other = view.ideas.iter().find(|row| row.label == "I2").expect("the other");
    let figure = |row: &view::IdeaRow| row.worth.as_ref().expect("evaluated").saving.stated.value;
    let was = before.ideas.iter().find(|row| row.label == "I2").expect("the other");
    assert!((figure(other) - figure(was)).abs() < 1e-9, "the other is evaluated as before");
    assert!(bench.take(&["I1"], "V").is_err(), "and it cannot be taken");
}
