//! Ideas, comparisons and questions of a workspace that several people work in.

use std::sync::Arc;
use std::time::{Duration, Instant};
use tare_app::collection::{self, Asked, PartOf, Wanted};
use tare_app::edit_command::EditCommand;
use tare_app::idea::NewIdea;
use tare_app::live::{Command, IdeasFound, Known, Live, LiveStudy, Refused, Request};
use tare_app::{clock, demo};

struct Shop {
    place: tempfile::TempDir,
    live: Arc<Live>,
    study: Arc<LiveStudy>,
}

fn shop() -> Shop {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("work");
    let (_, info, _, _) = demo::open(&folder).expect("the demo");
    let live = Live::open(&folder, |_, _| {}).expect("opened");
    let study = live.study(&info.name).expect("the study");
    Shop { place, live, study }
}

/// Asks until a result of the state asked for is there.
#[track_caller]
fn come<S, X>(mut ask: impl FnMut() -> Known<S, X>) -> (S, Arc<X>) {
    let till = Instant::now() + Duration::from_secs(400);
    while Instant::now() < till {
        let known = ask();
        if let (Some((of, came)), false) = (known.last, known.computing) {
            return (of, came.unwrap_or_else(|problems| panic!("{problems:?}")));
        }
    }
    panic!("it did not come");
}

impl Shop {
    fn ideas(&self) -> (u64, Arc<IdeasFound>) {
        come(|| self.study.ideas(&self.study.now()))
    }

    fn labels(&self) -> Vec<String> {
        self.ideas().1.view.ideas.iter().map(|row| row.label.clone()).collect()
    }

    fn set(&self, target: &str, to: &str) -> u64 {
        let edit = EditCommand::Set { target: target.to_owned(), to: to.to_owned(), about: Box::default(), beside: false };
        let commands = vec![Command { edit, from: None }];
        let request = Request { id: clock::new_id(), author: "one".into(), device: String::new(), says: None, commands };
        self.study.edit(&request).expect("recorded").number
    }
}

#[test]
fn ideas_are_of_an_entry_and_what_is_done_with_them_is_an_entry() {
    let shop = shop();
    let study = &shop.study;
    let first = study.ideas(&study.now());
    assert!(first.computing || first.last.is_some());
    let (of, found) = shop.ideas();
    assert_eq!(of, study.now().head);
    assert!(found.view.safety.len() >= 4 && found.view.ideas.len() >= 12);

    // as one: the one-off costs of both are laid out
    let pair = ["screw-forms-thread:J75".to_owned(), "rivet-nuts:J9".to_owned()];
    let together = study.together(&pair).expect("computed");
    let worth = together.whole.worth.as_ref().expect("they fit together");
    let alone: f64 = together.each.iter().map(|row| row.worth.as_ref().expect("fits").stake.value).sum();
    assert!(alone > 0.0 && (worth.stake.value - alone).abs() < 1e-9 * alone, "{} and {alone}", worth.stake.value);
    assert_eq!(together.each.len(), 2);
    assert_eq!(study.now().head, of, "nothing is recorded");

    // line by line
    let (_, changes) = come(|| study.idea_changes(&study.now(), "rivet-nuts:J9"));
    let sum: f64 = changes.kinds.iter().map(|line| line.change.value).sum();
    let saving =
        found.view.ideas.iter().find(|row| row.label == "rivet-nuts:J9").and_then(|row| row.worth.as_ref()).expect("fits");
    assert!((sum + saving.saving.stated.value).abs() < 1e-6, "the table adds up to the change of the total: {sum}");
    let line = changes.kinds.iter().find_map(|line| line.line.clone()).expect("a line of the study as it is");
    assert!(study.now().study.lines.find(&line).is_some(), "{line} has a reason");

    // dropped with a reason, and brought back
    assert!(matches!(study.drop_ideas(&pair[1..], " ", "one", ""), Err(Refused::Wrong(_))), "a reason is due");
    let dropped = study.drop_ideas(&pair[1..], "the wall is too thin", "one", "").expect("recorded");
    let listed = |rows: &[tare_app::view::IdeaRow]| rows.iter().any(|row| row.label == pair[1]);
    let meanwhile = found.at(&study.now().document);
    assert!(listed(&found.view.ideas) && !listed(&meanwhile.ideas), "it is gone before anything is computed anew");
    assert_eq!(meanwhile.dropped[0][2], "the wall is too thin");
    assert!(!shop.labels().contains(&pair[1]));
    assert_eq!(shop.ideas().1.view.dropped[0][2], "the wall is too thin");
    study.undo(Some(dropped.number), "one", "").expect("taken back");
    assert!(shop.labels().contains(&pair[1]));

    // kept: the rule's hit is the study's own
    let (_, before) = shop.ideas();
    study.keep_ideas(&pair[..1], "one", "").expect("recorded");
    let kept = before.at(&study.now().document).ideas.into_iter().find(|row| row.label == "I2").expect("by its new name");
    assert!(kept.recorded && kept.worth.is_some(), "with the numbers it had");
    let labels = shop.labels();
    assert!(labels.contains(&"I2".to_owned()) && !labels.contains(&pair[0]), "{labels:?}");

    // taken: a study of its own, and this one says so at once
    let taken = study.take_ideas(&["I2".to_owned()], "Second design", "one", "").expect("made");
    assert!(taken.edits > 0);
    let (of, found) = shop.ideas();
    assert_eq!(of, study.now().head);
    assert_eq!(found.view.ideas.iter().find(|row| row.label == "I2").expect("it stands").state, "taken");
    assert!(study.history().last().expect("an entry").says.contains("Second design"));
    let variant = shop.live.study("Second design").expect("it opens");
    let cost = |study: &LiveStudy| study.now().study.value(study.now().study.totals.cost.expect("a total"));
    assert!(cost(&variant) < cost(study));
    assert!(
        matches!(study.take_ideas(&["I2".to_owned()], "Second design", "one", ""), Err(Refused::Wrong(_))),
        "the name is taken"
    );

    // while the next are computed those of the entry before stand
    let number = shop.set("P1/name", "Frame");
    let meanwhile = study.ideas(&study.now());
    if meanwhile.computing {
        assert_eq!(meanwhile.last.expect("the last ones").0, of);
    }
    assert_eq!(shop.ideas().0, number);
}

#[test]
fn an_idea_being_written_tells_all_its_problems_at_once() {
    let shop = shop();
    let new = NewIdea {
        name: "New".to_owned(),
        edits: ["sett P1/name Frame", "", "set P1/name Frame", "set P999/mass \"2 kg\""].map(str::to_owned).to_vec(),
        one_off: Some("12 kg".to_owned()),
        ..NewIdea::default()
    };
    let wrong = shop.study.read_idea(&new).expect_err("three things are wrong");
    let lines: Vec<Option<usize>> = wrong.iter().map(|(line, _)| *line).collect();
    assert_eq!(lines, [Some(1), Some(4), None], "{wrong:?}");
    assert_eq!(shop.study.now().head, shop.study.history().last().expect("an entry").number, "nothing is recorded");

    let new = NewIdea { edits: new.edits[1..3].to_vec(), one_off: Some("2000 EUR".to_owned()), ..new };
    let read = shop.study.read_idea(&new).expect("it reads");
    assert!(read.edits.len() == 1 && read.edits[0].contains("Frame"), "{:?}", read.edits);
    let done = shop.study.add_idea(&new, "one", "").expect("recorded");
    assert!(done.says.contains("I2"), "{}", done.says);
}

#[test]
fn studies_are_compared_and_asked_beside() {
    let shop = shop();
    let names: Vec<String> = shop.live.studies().expect("studies").into_iter().map(|study| study.name).collect();
    let (_, found) = come(|| shop.live.compare(&names[..2], None).expect("asked"));
    assert!(!found.view.boundary.is_empty() && found.view.products.len() == 2);
    let total = found.view.headlines[0].figures[0].as_ref().expect("a total of A");
    assert_eq!(found.reasons.get(&total.address), Some(&(names[0].clone(), "product/cost/cost".to_owned())));
    assert_eq!(total.value, shop.study.now().study.value(shop.study.now().study.totals.cost.expect("a total")));

    let wanted = Wanted::default();
    let (_, all) = come(|| shop.live.gathered(&wanted).expect("asked"));
    let question = |when: &str, show: &[&str]| Asked {
        key: "heavy-parts".into(),
        title: "Heavy parts".into(),
        rows: "part".into(),
        when: when.into(),
        show: show.iter().map(|text| (*text).to_owned()).collect(),
    };
    let answer =
        collection::ask_at(&all.collection, &all.schema, &question("mass > 1 [kg]", &["mass", "cost"])).expect("an answer");
    assert!(answer.studies == 3 && answer.rows.iter().any(|row| row.study != names[0]));
    let wrong = collection::ask_at(&all.collection, &all.schema, &question("mas > 1 [kg]", &["mass", "mass in m", "nix"]));
    let parts: Vec<PartOf> = wrong.expect_err("three problems").into_iter().map(|(part, _)| part).collect();
    assert_eq!(parts, [PartOf::When, PartOf::Show(1), PartOf::Show(2)]);

    // one study alone
    let only = Wanted { only: Some(shop.study.id), ..Wanted::default() };
    let (_, one) = come(|| shop.live.gathered(&only).expect("asked"));
    assert_eq!((one.collection.studies.len(), one.collection.apart), (1, 0));
    let answer = collection::ask_at(&one.collection, &one.schema, &question("mass > 1 [kg]", &["mass"])).expect("an answer");
    assert!(answer.rows.iter().all(|row| row.study == names[0]));

    // saved, it is there at once, and what was read stands
    shop.live.save_question(&question("mass > 1 [kg]", &["mass"])).expect("saved");
    assert!(shop.live.questions(true).0.iter().any(|known| known.key == "heavy-parts"));
    assert!(shop.live.questions(false).0.iter().all(|known| known.key != "heavy-parts"), "it belongs to the workspace");
    assert!(!shop.live.gathered(&wanted).expect("asked").computing, "no study is read again for it");
    assert!(shop.place.path().join("work/library/questions/heavy-parts.toml").is_file());
}

#[test]
fn studies_of_several_clients_are_not_brought_together() {
    let shop = shop();
    let names: Vec<String> = shop.live.studies().expect("studies").into_iter().map(|study| study.name).collect();
    for (name, client) in names.iter().zip(["First works", "Second works"]) {
        let study = shop.live.study(name).expect("opens");
        let edit =
            EditCommand::Set { target: "study/client".into(), to: client.to_owned(), about: Box::default(), beside: false };
        let commands = vec![Command { edit, from: None }];
        let request = Request { id: clock::new_id(), author: "one".into(), device: String::new(), says: None, commands };
        study.edit(&request).expect("recorded");
    }
    let clients: Vec<Option<String>> = shop.live.studies_for().expect("studies").into_iter().map(|study| study.client).collect();
    assert_eq!(clients, [Some("First works".to_owned()), Some("Second works".to_owned()), None]);
    let refused = |known: Known<String, tare_app::live::Comparison>| match known.last {
        Some((_, Err(problems))) => problems[0].code,
        other => panic!("{other:?}"),
    };
    assert_eq!(refused(shop.live.compare(&names[..2], None).expect("asked")), "clients-apart");
    let gathered = |client: Option<&str>| Wanted { client: client.map(str::to_owned), totals_only: true, ..Wanted::default() };
    match shop.live.gathered(&gathered(None)).expect("asked") {
        Known { last: Some((_, Err(problems))), .. } => assert_eq!(problems[0].code, "clients-apart"),
        Known { computing: true, .. } => {
            let till = Instant::now() + Duration::from_secs(120);
            let code = loop {
                if let Some((_, Err(problems))) = shop.live.gathered(&gathered(None)).expect("asked").last {
                    break problems[0].code;
                }
                assert!(Instant::now() < till);
            };
            assert_eq!(code, "clients-apart");
        }
        other => panic!("{other:?}"),
    }
    let (_, first) = come(|| shop.live.gathered(&gathered(Some("First works"))).expect("asked"));
    assert_eq!((first.collection.studies.len(), first.collection.apart), (2, 1));
}
