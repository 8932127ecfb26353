//! Questions: wrong ones, saved ones, those that look into studies.

use super::shelf::{Shelf, codes, question};
use tare_app::collection::{Asked, Collection, Wanted, ask, save, saved};
use tare_diag::{Diag, Place};

#[test]
fn all_that_is_wrong_with_a_question_is_told_with_its_place() {
    let shelf = Shelf::of(&[("One", None)]);
    let collection = shelf.load(None, None).expect("loads");
    let schema = collection.schema(&shelf.session);
    let asked = |rows: &str, when: &str, show: &[&str]| ask(&collection, &schema, &question(rows, when, show));

    let when = "masss > 1 [kg] and cost > 2 [s]";
    let problems = asked("part", when, &["cots * 2", "mass in s", "mass in blorb", "mass + cost", "mass"]).expect_err("wrong");
    assert!(problems.iter().all(Diag::is_error));
    assert!(problems.iter().all(|p| p.place.is_some()), "{problems:#?}");
    let told =
        |wanted: &str| problems.iter().any(|p| p.to_string().contains(wanted) || p.hints.iter().any(|h| h.contains(wanted)));
    for wanted in ["masss", "`mass`", "cots", "`s`", "blorb"] {
        assert!(told(wanted), "nothing on {wanted}: {problems:#?}");
    }
    assert!(problems.len() >= 6, "two in the condition, four in what is shown: {problems:#?}");
    // the place is in the text: it underlines the word that is wrong
    let span = problems.iter().find_map(|p| match (&p.place, p.message.contains("masss")) {
        (Some(Place::Span { span, .. }), true) => Some(span.clone()),
        _ => None,
    });
    assert_eq!(&when[span.expect("a span")], "masss");

    let problems = asked("prat", "true", &[]).expect_err("no such rows");
    assert!(problems[0].place.is_some() && problems[0].hints.iter().any(|h| h.contains("part")), "{problems:#?}");
    assert_eq!(asked("part", "true", &["mass in g"]).expect("right").rows.len(), 3);
}

#[test]
fn a_question_is_saved_and_comes_back_as_it_was() {
    let shelf = Shelf::of(&[("One", None), ("Two", None)]);
    let asked = Asked {
        key: "heavy-covers-2".into(),
        title: "Deckel \"schwer\" über 1 kg\n\\ two lines".into(),
        rows: "part".into(),
        when: "has(name, 'cover') and mass > 1 [kg]".into(),
        show: vec!["mass in g".into(), "cost / mass in EUR/kg".into()],
    };
    let before = shelf.load(None, None).expect("loads");
    let answer = ask(&before, &before.schema(&shelf.session), &asked).expect("an answer");
    assert_eq!(answer.rows.len(), 2);
    assert_eq!(answer.rows[0].values[0], Some(2_000.0));
    save(&shelf.session, &asked).expect("saved");
    let shelf = shelf.reopened();
    let (all, problems) = saved(&shelf.session);
    assert!(problems.is_empty(), "{problems:?}");
    let back = all.iter().find(|q| q.key == asked.key).expect("it is there");
    assert_eq!(back, &asked);
    assert!(all.len() > 1, "those of the library are there too");
    let again = shelf.load(None, None).expect("loads");
    assert_eq!(ask(&again, &again.schema(&shelf.session), back).expect("an answer"), answer);

    for key in ["", "Heavy", "../q", "a b", "q.toml"] {
        let refused = save(&shelf.session, &Asked { key: key.into(), ..asked.clone() }).expect_err(key);
        assert_eq!(refused.code, "question-key");
    }
    let files = std::fs::read_dir(shelf.folder.join("library/questions")).expect("the folder").count();
    assert_eq!(files, 1, "nothing was written under a wrong name");
    // a file that is broken is told with its place, and hides no other
    std::fs::write(shelf.folder.join("library/questions/broken.toml"), "title = \"x\"\nrows = 3\n").expect("written");
    let shelf = shelf.reopened();
    let (all, problems) = saved(&shelf.session);
    assert!(all.iter().any(|q| q.key == asked.key));
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert!(matches!(&problems[0].place, Some(Place::File(file)) if file.ends_with("questions/broken.toml")), "{problems:?}");
}

#[test]
fn a_question_about_whole_studies_may_look_into_them() {
    let shelf = Shelf::of(&[("One", None), ("Two", None)]);
    let inside = question("study", "count(parts.mass) > 1", &["sum(parts.mass) in kg", "cost / space in EUR/l"]);
    let whole = question("study", "true", &["cost / space in EUR/l"]);
    assert!(!inside.of_totals_alone() && whole.of_totals_alone());
    let answered = |asked: &Asked| {
        let wanted = Wanted { totals_only: asked.of_totals_alone(), ..Wanted::default() };
        let collection = Collection::load(&shelf.session, &wanted).expect("loads");
        ask(&collection, &collection.schema(&shelf.session), asked).expect("an answer")
    };
    let rows = answered(&inside).rows;
    assert_eq!(rows.len(), 2, "{rows:?}");
    assert_eq!(rows[0].values[1], answered(&whole).rows[0].values[0]);
    assert!(rows[0].values.iter().all(Option::is_some), "{rows:?}");
    // asked of totals alone it is refused, and not answered with nothing
    let wanted = Wanted { totals_only: true, ..Wanted::default() };
    let totals = Collection::load(&shelf.session, &wanted).expect("loads");
    let refused = ask(&totals, &totals.schema(&shelf.session), &inside).expect_err("more than was read");
    assert!(codes(&refused).contains(&"totals-only"), "{refused:?}");
}

/// Nothing is converted: the number of one currency does not come to stand under the name of another.
#[test]
fn amounts_are_shown_in_the_currency_of_the_studies_alone() {
    let shelf = Shelf::of(&[("One", None), ("Two", None)]);
    let asked = |when: &str, show: &[&str]| {
        let collection = shelf.load(None, None).expect("loads");
        ask(&collection, &collection.schema(&shelf.session), &question("part", when, show))
    };
    let refused = asked("true", &["mass", "cost in JPY", "cost / mass in JPY/kg"]).expect_err("another currency");
    assert_eq!(codes(&refused), ["currency-of-unit", "currency-of-unit"]);
    for (problem, unit) in refused.iter().zip(["`in EUR`", "`in EUR/kg`"]) {
        assert!(problem.message.contains("EUR") && problem.message.contains("JPY") && problem.place.is_some(), "{problem:?}");
        assert!(problem.hints.iter().any(|h| h.contains(unit)), "{problem:?}");
    }
    let plain = asked("address == 'P2'", &["cost", "cost in EUR", "cost / mass in EUR/kg"]).expect("their own");
    assert_eq!(plain.columns.iter().map(|(_, unit)| unit.as_str()).collect::<Vec<_>>(), ["EUR", "EUR", "EUR/kg"]);
    assert_eq!(plain.rows[0].values[..2], [Some(10.0), Some(10.0)]);

    shelf.edit("Two", "set study/currency USD");
    let refused = asked("true", &["cost in EUR"]).expect_err("two currencies");
    assert_eq!(codes(&refused), ["currencies"], "a unit that names one does not bring them together");
}

#[test]
fn more_is_not_shown_than_letters_name() {
    let shelf = Shelf::of(&[("One", None)]);
    let collection = shelf.load(None, None).expect("loads");
    let schema = collection.schema(&shelf.session);
    let most = vec!["mass"; tare_app::collection::MOST_SHOWN];
    let answer = ask(&collection, &schema, &question("part", "true", &most)).expect("an answer");
    assert_eq!((answer.columns.len(), answer.rows[0].values.len()), (26, 26));
    let more = [most, vec!["mass"]].concat();
    assert_eq!(codes(&ask(&collection, &schema, &question("part", "true", &more)).expect_err("too many")), ["show-many"]);
}
