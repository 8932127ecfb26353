//! The work list of the demo: its first step is what a cost engineer would do first, and doing it narrows the range as promised.

use tare_app::edit_command::{About, EditCommand, intent};
use tare_app::ranges::{driving, threads, work_list};
use tare_app::{Options, Plan, Search, Session, Stamp, Stop, Study, demo, ranges, view};

const PLAN: Plan = Plan { draws: 4_096, most: 4, threads: 1, who: None };

fn uncertainty(study: &Study) -> f64 {
    let line = study.totals.cost.expect("a cost");
    let options = Options { most: 20_480, least: 20_480, threads: threads(), ..Options::default() };
    let found = ranges::ranges(study, vec![("cost".to_owned(), line)], options, 128, Stop::default()).expect("not stopped");
    found.spread.ranged[0].draws.deviation()
}

/// The command of a row, as a person fills it in: the reading comes out where the value is now.
fn done(session: &mut Session, info: &tare_app::DocumentInfo, loaded: &mut tare_app::Loaded, edit: &str, reading: &str) {
    let words: Vec<&str> = edit.split('"').collect();
    assert_eq!(words[0], "tare edit set ", "{edit}");
    let (target, text) = (words[1].to_owned(), words[3].replace("...", reading));
    let evidence = words[4].trim().strip_prefix("--evidence ").and_then(|w| w.split(' ').next()).map(str::to_owned);
    let about = Box::new(About { evidence, source: Some("test".into()), ..About::default() });
    let command = EditCommand::Set { target, to: text, about, beside: false };
    let meant = intent(&loaded.document, &session.library.clone(), &command).expect("an edit");
    let stamp = Stamp { author: "test".into(), says: meant.says };
    session.record(info, loaded, &meant.changes, &stamp).expect("recorded");
}

#[test]
fn the_first_step_of_the_demo_keeps_its_promise() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut session, info, mut loaded, _) = demo::open(folder.path()).expect("the demo");
    let study = session.compiled(&info, &loaded).expect("it compiles");
    let line = study.totals.cost.expect("a cost");
    let library = session.library.clone();
    let list = work_list(&study, &library, line, &PLAN, 1, Stop::default()).expect("not stopped");
    let rows = view::work_rows(&loaded.document, &study, &library, "cost", &list, 1);
    // the cells are two thirds of the cost, and rest on one offer
    let first = &rows.steps[0];
    assert!(first.address.contains("cell") && first.recipe.contains("offer") && first.who == "buyer", "{first:?}");
    assert!(first.gain > 0.2 && rows.steps.windows(2).all(|w| w[0].per_hour >= w[1].per_hour));
    assert!(rows.steps.windows(2).all(|w| w[0].gain_together <= w[1].gain_together + 1e-9), "each step adds something");

    let before = uncertainty(&study);
    done(&mut session, &info, &mut loaded, &first.edit, "30.85");
    let after = uncertainty(&session.compiled(&info, &loaded).expect("it compiles"));
    let kept = 1.0 - after / before;
    assert!((kept - first.gain).abs() < 0.03, "promised {:.3}, kept {kept:.3}", first.gain);

    // the second step is a method's: set as a rate of the study's own, under the address it had
    let second = rows.steps.iter().find(|step| step.address.ends_with("/method")).expect("a method");
    done(&mut session, &info, &mut loaded, &second.edit, "100");
    let study = session.compiled(&info, &loaded).expect("it compiles");
    let leaf = study.lines.find(&second.address).expect("it keeps its address");
    assert!((study.standard_uncertainty(leaf) - 0.04).abs() < 1e-12 && study.value(leaf) == 1.0);
    assert!(uncertainty(&study) < after, "and narrows the range further");
}

#[test]
fn the_demos_range_is_wide_enough_to_be_believed() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut session, info, loaded, _) = demo::open(folder.path()).expect("the demo");
    let study = session.compiled(&info, &loaded).expect("it compiles");
    let line = study.totals.without_dominant.expect("a cost without cells");
    let search = Search { draws: 4_096, most: 6, threads: threads(), ..Search::default() };
    let found = driving(&study, line, search, 1, Stop::default()).expect("not stopped");
    let relative = found.deviation / found.mean;
    // without the cells' one offer, methods of +- 15 to 60 % must not average out to a few per cent
    assert!(relative > 0.04, "{relative}");
    let methods = &found.rows[0];
    assert!(methods.with.len() > 40 && methods.indices.first > 0.5, "methods lead, and lean together: {methods:?}");
    assert!(study.correlated.iter().any(|c| c.leaves.len() > 40));
}

/// Whatever the list prints can be filled in and is taken, and none of it touches a rate of another place.
#[test]
fn every_printed_edit_is_one_that_is_taken() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut session, info, loaded, _) = demo::open(folder.path()).expect("the demo");
    let study = session.compiled(&info, &loaded).expect("it compiles");
    let library = session.library.clone();
    let lines = [study.totals.cost, study.totals.mass, study.totals.manual, study.totals.investment];
    let (mut printed, mut none) = (0, 0);
    for line in lines.into_iter().flatten() {
        let list = work_list(
            &study,
            &library,
            line,
            &Plan { draws: 1_024, most: 12, threads: threads(), who: None },
            1,
            Stop::default(),
        );
        for row in view::work_rows(&loaded.document, &study, &library, "x", &list.expect("not stopped"), 1).steps {
            assert!(!row.address.starts_with("rate (region-b)") || row.edit.is_empty(), "{row:?}");
            if row.edit.is_empty() {
                none += 1;
                continue;
            }
            let leaf = study.lines.find(&row.address).expect("an input");
            let now = study.lines.unit(leaf).from_si(study.value(leaf)).to_string();
            let words: Vec<&str> = row.edit.split('"').collect();
            let about = Box::new(About { source: Some("test".into()), ..About::default() });
            let command =
                EditCommand::Set { target: words[1].to_owned(), to: words[3].replace("...", &now), about, beside: false };
            let meant = intent(&loaded.document, &library, &command);
            assert!(meant.is_ok(), "{}: {meant:?}", row.edit);
            printed += 1;
        }
    }
    assert!(printed > 10 && none > 2, "{printed} edits, {none} without");
}

#[test]
fn the_benchs_list_holds_what_the_bench_does() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut session, info, loaded, _) = demo::open(folder.path()).expect("the demo");
    let study = session.compiled(&info, &loaded).expect("it compiles");
    let library = session.library.clone();
    let plan = Plan { draws: 1_024, most: 6, threads: threads(), who: Some("bench".to_owned()) };
    let mass = study.totals.mass.expect("a mass");
    let list = work_list(&study, &library, mass, &plan, 1, Stop::default()).expect("not stopped");
    assert!(list.steps.iter().all(|step| step.recipe.who == "bench"));
    // the pack was weighed on one scale, whose errors are most of what is not known of its mass
    assert_eq!(list.steps[0].recipe.key, "calibrate", "{:?}", list.steps[0]);
}
