//! What a release holds, when none is made, and its number.

use crate::bench::{Bench, asked, embedded, load, reproduced, study};
use tare_app::privacy::Class;
use tare_app::release::Asked;
use tare_app::{Options, Session, Stop, Workspace};

#[test]
fn a_release_says_what_it_froze() {
    let bench = Bench::new();
    let made = bench.make(" for the client ");
    let frozen = &made.frozen;
    assert_eq!((made.number, made.author.as_str(), made.says.as_str()), (1, "a", "for the client"));
    assert_eq!((frozen.class, frozen.entry, frozen.numerics), (Class::Client, 1, tare_engine::NUMERICS));
    assert!(frozen.basis.contains("EUR") && frozen.basis.contains("Own rates"), "{}", frozen.basis);
    assert_eq!(frozen.holds, ["Edges are sharp: recorded by J. Doe"]);
    assert_eq!(frozen.errors, Vec::<String>::new());
    let cost = frozen.headlines.iter().find(|h| h.name == "should-cost").expect("a cost");
    assert_eq!(cost.value.0, bench.cost());
    assert!(cost.drawn.low.0 < cost.drawn.mean.0 && cost.drawn.mean.0 < cost.drawn.high.0);
    assert!(frozen.draws.words().contains("2560 draws") && frozen.draws.ended == "asked", "{:?}", frozen.draws);
}

/// A number is given once: taking entries back, even all of them, takes no release away.
#[test]
fn numbers_are_never_given_again() {
    let bench = Bench::new();
    bench.edit("set P2/mass \"2.5 kg\" --evidence measured");
    bench.make("first");
    bench.undo();
    assert_eq!(bench.make("second").number, 2);
    let session = bench.session();
    let info = study(&session);
    // no document shows, so no command undoes in it
    let names: Vec<String> = session.workspace.documents().expect("documents").into_iter().map(|d| d.name).collect();
    assert_eq!(names, ["Own rates", "Bracket"]);
    let numbers = |session: &Session| -> Vec<u64> {
        session.workspace.releases(info.id).expect("releases").iter().map(|r| r.number).collect()
    };
    assert_eq!(numbers(&session), [1, 2]);
    // the file itself keeps them, whatever program writes to it
    let raw = rusqlite::Connection::open(bench.path().join("workspace.sqlite")).expect("a database");
    assert!(raw.execute("DELETE FROM entry WHERE says = 'second'", []).is_err());
    assert!(raw.execute("UPDATE entry SET says = 'x' WHERE says = 'second'", []).is_err());
    assert_eq!(numbers(&session), [1, 2]);
    assert_eq!(bench.make("third").number, 3);
    for number in 1..=3 {
        reproduced(&bench.check(number));
    }
}

#[test]
fn two_studies_count_for_themselves() {
    let bench = Bench::new();
    bench.add("other.toml", &crate::bench::bracket().replace("\"Bracket\"\ncurrency", "\"Lid\"\ncurrency"));
    assert_eq!(bench.make("first").number, 1);
    let session = bench.session();
    let lid = session.workspace.study(Some("Lid")).expect("the other");
    let made = session.make_release(&lid, &asked("first of the lid"), "a", Stop::default()).expect("a release");
    assert_eq!(made.number, 1);
    assert_eq!(bench.make("second").number, 2);
    let of = |id| session.workspace.releases(id).expect("releases").into_iter().map(|r| r.says).collect::<Vec<_>>();
    assert_eq!(
        (of(lid.id), of(study(&session).id)),
        (vec!["first of the lid".to_owned()], vec!["first".to_owned(), "second".into()])
    );
    assert!(session.workspace.release(&lid, 2).expect_err("there is none").hints[0].contains("it has release 1"));
}

/// Two programs that make a release at once get two numbers.
#[test]
fn two_programs_make_two_releases() {
    let bench = Bench::new();
    let mut numbers: Vec<u64> = std::thread::scope(|scope| {
        let all: Vec<_> = (0..2).map(|_| scope.spawn(|| bench.make("at once").number)).collect();
        all.into_iter().map(|one| one.join().expect("made")).collect()
    });
    numbers.sort_unstable();
    assert_eq!(numbers, [1, 2]);
}

/// All reasons at once; what stood is recorded where that is wished.
#[test]
fn a_study_with_errors_is_released_only_with_them() {
    let bench = Bench::new();
    bench.calculation("processes/unobtainable");
    let nothing_said = Asked { says: "  ".into(), ..asked("") };
    let refused = bench.try_make(&nothing_said).expect_err("refused");
    let codes: Vec<&str> = refused.iter().map(|d| d.code).collect();
    assert!(codes.first() == Some(&"release-says") && codes.last() == Some(&"release-errors") && codes.len() >= 3, "{refused:?}");
    assert!(bench.session().workspace.releases(study(&bench.session()).id).expect("none").is_empty());
    let made = bench.try_make(&Asked { with_errors: true, ..asked("as it stands") }).expect("a release");
    assert!(made.frozen.errors.iter().any(|e| e.contains("unobtainable")), "{:?}", made.frozen.errors);
    reproduced(&bench.check(1));
}

#[test]
fn a_study_whose_held_texts_are_gone_is_not_released() {
    let bench = Bench::new();
    bench.own("processes/deburr.toml", &crate::bench::slower());
    bench.raw("DELETE FROM text");
    let refused = bench.try_make(&asked("")).expect_err("refused");
    let codes: Vec<&str> = refused.iter().map(|d| d.code).collect();
    assert_eq!(codes, ["release-says", "lock-missing"], "{refused:?}");
}

#[test]
fn a_stopped_release_records_nothing() {
    let bench = Bench::new();
    let session = bench.session();
    let stop = std::sync::atomic::AtomicBool::new(true);
    let stop = Stop { stop: Some(&stop), ..Stop::default() };
    let refused = session.make_release(&study(&session), &asked("never"), "a", stop).expect_err("stopped");
    assert_eq!(refused[0].code, "release-stopped");
    assert!(session.workspace.releases(study(&session).id).expect("none").is_empty());
}

/// A study from before texts were held, in a workspace from before releases: it opens, and can be released.
#[test]
fn a_study_that_holds_no_texts_can_be_released() {
    let bench = Bench::bare();
    let workspace = Workspace::open_or_create(&bench.path()).expect("a workspace");
    let text = crate::bench::bracket().replace("Own rates", "region-a");
    let files = [tare_app::text_form::TextFile { name: "study.toml", text: &text }];
    tare_app::create::from_text(&workspace, &embedded(), "study", None, &files, "a").expect("a study");
    drop(workspace);
    let session = bench.session();
    assert_eq!(load(&session).document.of_kind(None, tare_app::Kind::Lock).count(), 0);
    assert!(session.workspace.releases(study(&session).id).expect("none").is_empty());
    let made = bench.try_make(&Asked { options: Options { most: 128, least: 128, ..Options::default() }, ..asked("old") });
    assert_eq!(made.expect("a release").number, 1);
    bench.own("processes/deburr.toml", &crate::bench::slower());
    assert_ne!(bench.cost(), bench.session().workspace.release(&study(&session), 1).expect("it").frozen.headlines[0].value.0);
    reproduced(&bench.check(1));
}
