//! Clients stay apart.

use super::shelf::{Shelf, codes, names, question};
use tare_app::collection::ask;
use tare_app::compare;

const TWO_CLIENTS: [(&str, Option<&str>); 4] =
    [("North one", Some("North")), ("House", None), ("South one", Some("South")), ("North two", Some("north"))];

#[test]
fn studies_of_two_clients_are_not_read_together() {
    let shelf = Shelf::of(&TWO_CLIENTS);
    let refused = shelf.load(None, None).expect_err("two clients");
    assert_eq!(codes(&refused), ["clients-apart"]);
    assert!(refused[0].hints.iter().any(|h| h.contains("North") && h.contains("South")), "{:?}", refused[0]);

    let north = shelf.load(Some("NORTH"), None).expect("one client");
    assert_eq!((names(&north), north.apart), (vec!["North one", "House", "North two"], 1));
    let south = shelf.load(Some("South"), None).expect("one client");
    assert_eq!((names(&south), south.apart), (vec!["House", "South one"], 2));
    // the answer is of these studies alone, and says that others were left out
    let answer = ask(&south, &south.schema(&shelf.session), &question("part", "true", &["mass"])).expect("an answer");
    assert_eq!((answer.studies, answer.apart), (2, 2));
    assert!(answer.rows.iter().all(|row| !row.study.starts_with("North")) && answer.rows.len() == 6, "{answer:?}");

    let unknown = shelf.load(Some("Sout"), None).expect_err("no such client");
    assert_eq!(codes(&unknown), ["client-unknown"]);
    assert!(unknown[0].place.is_some() && unknown[0].hints.iter().any(|h| h.contains("South")), "{:?}", unknown[0]);
}

#[test]
fn one_client_and_the_house_need_no_name() {
    let shelf = Shelf::of(&[("House", None), ("North one", Some("North")), ("Blank", Some("  "))]);
    let all = shelf.load(None, None).expect("one client");
    assert_eq!((names(&all), all.apart), (vec!["House", "North one", "Blank"], 0));
    let house = Shelf::of(&[("House", None)]);
    assert_eq!(names(&house.load(None, None).expect("the house alone")), ["House"]);
}

/// Volume, life, rates and build-up of one client's study are that client's: no other client's figures are computed under them.
#[test]
fn the_scenario_of_one_client_is_not_laid_over_studies_of_another() {
    let shelf = Shelf::of(&TWO_CLIENTS);
    let refused = shelf.load(Some("North"), Some("South one")).map(|found| found.studies.len()).expect_err("another client's");
    assert_eq!(codes(&refused), ["clients-apart"]);
    for under in ["North two", "House"] {
        let found = shelf.load(Some("North"), Some(under)).expect("its own or the house's");
        assert_eq!((names(&found), found.apart), (vec!["North one", "House", "North two"], 1));
    }
}

/// Not even on the way to leaving it out: it would be kept beside the workspace.
#[test]
fn a_study_of_another_client_is_not_computed_under_a_scenario_of_this_one() {
    let shelf = Shelf::of(&TWO_CLIENTS);
    let kept = |name: &str| shelf.folder.join("cache").join(format!("{}.facts", shelf.info(name).id)).exists();
    let refused = shelf.load(None, Some("North two")).map(|found| found.studies.len()).expect_err("two clients");
    assert_eq!(codes(&refused), ["clients-apart"]);
    let found = shelf.load(Some("North"), Some("North two")).expect("its own");
    assert_eq!((found.studies.len(), found.apart), (3, 1));
    assert!(kept("North one") && kept("House") && !kept("South one"));
    // the house's scenario goes with any
    shelf.load(Some("South"), Some("House")).expect("the house's");
    assert!(kept("South one"));
}

#[test]
fn a_comparison_brings_no_two_clients_together() {
    let shelf = Shelf::of(&TWO_CLIENTS);
    let load = |names: &[&str]| {
        let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
        compare::load(&shelf.session.workspace, &names)
    };
    let refused = load(&["North one", "House", "South one"]).expect_err("two clients");
    assert_eq!(codes(&refused), ["clients-apart"]);
    let says = refused[0].to_string();
    assert!(says.contains("North one for North") && says.contains("South one for South"), "{says}");
    assert_eq!(load(&["North one", "House", "North two"]).expect("one client").len(), 3);

    let beside = |name: &str| {
        let loaded = shelf.session.workspace.load(&shelf.info(name)).expect("loads");
        let found = compare::companions(&shelf.session.workspace, &loaded.document).expect("companions");
        found.into_iter().map(|info| info.name).collect::<Vec<_>>()
    };
    assert_eq!(beside("North one"), ["House", "North two"]);
    assert_eq!(beside("South one"), ["House"]);
}
