//! What came since does not matter; what is lost or was computed otherwise is said.

use crate::bench::{Bench, asked, load, refused, reproduced, slower, study};
use tare_app::release::{Asked, Program};
use tare_app::{Layout, Options};

/// Readings, the scenario, rates, a calculation and the texts held all change; entries are taken back; snapshots are deleted.
#[test]
fn a_release_is_reproduced_whatever_changed_since() {
    let bench = Bench::new();
    let made = bench.make("first");
    let before = bench.cost();
    reproduced(&bench.check(1));
    bench.edit("set P2/mass \"2.5 kg\" --evidence measured");
    bench.edit("set scenario/volume \"40000 1/a\"");
    bench.edit("set rate/wage.skilled \"44 EUR/h\"");
    bench.edit_in("Own rates", "set rate/wage.operator \"60 EUR/h\"");
    bench.own("processes/deburr.toml", &slower());
    bench.renew();
    bench.edit("remove P3");
    assert_ne!(bench.cost(), before);
    for threads in [1, 2] {
        reproduced(&bench.check_as(1, threads, &Program::this()));
    }
    let second = bench.make("second");
    assert_eq!(second.number, 2);
    assert_ne!(second.frozen.lines.values, made.frozen.lines.values);
    bench.undo();
    for count in (1..=9).chain([2]) {
        bench.edit(&format!("set P2/count {count}"));
    }
    assert!(bench.raw("DELETE FROM snapshot") > 0, "there were snapshots");
    for number in [1, 2] {
        reproduced(&bench.check(number));
    }
    let session = bench.session();
    assert_eq!(session.workspace.release(&study(&session), 1), Ok(made), "the record itself is as it was");
}

/// A library that grows brings nothing in by the back door: a release computes with its own texts and no others.
#[test]
fn a_text_that_comes_later_does_not_reach_a_release() {
    let bench = Bench::new();
    bench.calculation("processes/our-own");
    // nobody knows that calculation: the release records that it stood so
    let with_errors = Asked { with_errors: true, ..asked("before the calculation was known") };
    let made = bench.try_make(&with_errors).expect("a release");
    let without = bench.cost();
    bench.own("processes/our-own.toml", &slower());
    assert!(bench.cost() > without, "the study as it is takes it up");
    reproduced(&bench.check(1));
    let mut session = bench.session();
    let info = study(&session);
    let (_, loaded) = session.turn_to_release(&info, 1).expect("the release");
    let at = session.compiled(&info, &loaded).expect("compiled");
    assert_eq!(at.totals.cost.map(|line| at.value(line)), Some(without), "a table as of the release does not");
    assert!(made.frozen.texts_held > 50);
}

/// The same bits for every layout of random numbers, fixed count or settled, on one thread and on two.
#[test]
fn draws_are_the_same_however_they_were_ended_and_laid_out() {
    let bench = Bench::new();
    let layouts = [
        (Layout::Random, 0, 20_480, "settled"),
        (Layout::Random, 1_000, 1_000, "asked"),
        (Layout::Hypercube, 1_000, 1_000, "asked"),
        (Layout::Sobol, 1_000, 1_000, "asked"),
        (Layout::Random, 0, 1_280, "most"),
    ];
    for (at, (layout, least, most, ended)) in layouts.into_iter().enumerate() {
        let options = Options { layout, least, most, seed: 40 + at as u64, threads: 1 + at % 2, ..Options::default() };
        let made = bench.try_make(&Asked { options, ..asked("drawn") }).expect("a release");
        assert_eq!(made.frozen.draws.ended, ended, "{:?}", made.frozen.draws);
        assert_eq!(made.frozen.draws.made % 128, 0);
        for threads in [1, 2] {
            reproduced(&bench.check_as(made.number, threads, &Program::this()));
        }
    }
}

#[test]
fn a_text_that_is_gone_is_named() {
    let bench = Bench::new();
    bench.make("first");
    let digest = {
        let session = bench.session();
        let loaded = load(&session);
        let mut locks = loaded.document.of_kind(None, tare_app::Kind::Lock);
        let lock = locks.rfind(|l| l.text(tare_app::Field::Key) == Some("processes/deburr")).expect("held");
        lock.text(tare_app::Field::Digest).expect("a digest").to_owned()
    };
    assert_eq!(bench.raw(&format!("DELETE FROM text WHERE sha256 = x'{digest}'")), 1);
    let checked = bench.check(1);
    refused(&checked, "release-text-missing", &["`processes/deburr`", "release 1", "not in the workspace"]);
    assert_eq!(checked.same, tare_app::release::Same::default());
    bench.raw("DELETE FROM text WHERE text LIKE '%[equation%'");
    refused(&bench.check(1), "release-text-missing", &["nor are", "more"]);
}

#[test]
fn another_version_of_the_arithmetic_is_named() {
    let bench = Bench::new();
    bench.make("first");
    let later = Program { numerics: Program::this().numerics + 1, version: "tare 9.9.9".into() };
    let checked = bench.check_as(1, 1, &later);
    let version = format!("with version {} of the arithmetic", Program::this().numerics);
    refused(&checked, "release-numerics", &[&version, "tare 9.9.9", &format!("version {}", later.numerics)]);
}

/// Whoever writes to the file behind the program's back is found out, and the first line that differs is named with both values.
#[test]
fn a_changed_journal_and_a_changed_value_are_named() {
    let bench = Bench::new();
    let made = bench.make("first");
    // another release with other line values, put in the place of the first's: as a program would find that compiles otherwise
    bench.edit("set P2/mass \"2.5 kg\" --evidence measured");
    let other = bench.make("other");
    assert_eq!(other.frozen.lines.names, made.frozen.lines.names, "the same lines, so their text is kept once");
    bench.raw("DROP TRIGGER entry_stays");
    let (from, to) = (other.frozen.lines.values, made.frozen.lines.values);
    bench.raw(&format!("UPDATE entry SET edits = replace(edits, '{from}', '{to}') WHERE says = 'other'"));
    let checked = bench.check(2);
    refused(&checked, "release-line", &["2 kg in release 2", "2.5 kg computed again", "first line that differs", "mass"]);
    // the lines are the same, what the draws said is not
    let third = bench.make("third");
    let mean = serde_json::to_string(&third.frozen.headlines[0].drawn.mean).expect("written");
    bench.raw(&format!("UPDATE entry SET edits = replace(edits, '{mean}', '\"3ff0000000000000\"') WHERE says = 'third'"));
    let checked = bench.check(3);
    refused(&checked, "release-headline", &["should-cost has the mean 1 in the release", "computed again"]);
    assert_eq!((checked.same.lines, checked.same.draws), (third.frozen.lines.count, 0));
    bench.raw("UPDATE entry SET edits = replace(edits, '\"random\"', '\"spiral\"') WHERE says = 'third'");
    refused(&bench.check(3), "release-layout", &["`spiral`", "not known"]);
    bench.raw("UPDATE entry SET author = 'somebody else' WHERE sequence = 1");
    refused(&bench.check(1), "release-journal", &["not the one that was released"]);
}
