//! From one release to the next.

use crate::bench::{Bench, asked, slower, study};
use tare_app::Kind;
use tare_app::release::{Asked, Between, Program, To};

fn walk(bench: &Bench, from: u64, to: To) -> Between {
    let session = bench.session();
    session.walk_releases(&study(&session), from, to, &Program::this()).expect("a walk")
}

fn names(between: &Between) -> Vec<&str> {
    between.stages.iter().map(|stage| stage.name.as_str()).collect()
}

/// Start, steps, interaction and end, in the study's currency; what is left over.
fn numbers(between: &Between) -> (f64, Vec<f64>, f64, f64, f64) {
    let lines = between.walk.lines.as_ref().expect("both ends are known");
    let value = |line| between.walk.study.value(line);
    let steps = lines.steps.iter().map(|(_, line)| value(*line)).collect();
    (value(lines.start), steps, value(lines.interaction), value(lines.end), value(lines.rest))
}

#[test]
fn a_walk_between_releases_closes_to_nothing() {
    let bench = Bench::new();
    let first = bench.make("first");
    bench.edit("set P2/mass \"2.5 kg\" --evidence measured");
    bench.edit("add part --under P1 name=Lid label=P9 count=1 make=buy price=\"3 EUR\"");
    bench.edit("set P9/price \"3.5 EUR\" --evidence quoted");
    bench.edit("set rate/wage.skilled \"44 EUR/h\"");
    bench.edit("set scenario/volume \"40000 1/a\"");
    bench.edit_in("Own rates", "set rate/wage.operator \"60 EUR/h\"");
    bench.own("processes/deburr.toml", &slower());
    bench.renew();
    let second = bench.make("second");
    let found = walk(&bench, 1, To::Release(2));
    let shown = names(&found);
    assert_eq!(shown.len(), 5, "{shown:#?}");
    assert!(shown[0].starts_with("entry 2: ") && shown[0].contains("2.5 kg"), "{shown:?}");
    // the price was stated by the entry that made the part, and again by the next: neither stands alone
    assert!(shown[1] == "entries 3, 4", "{shown:?}");
    assert_eq!(shown[2..], ["texts of calculations", "rates", "scenario"]);
    assert_eq!(found.stages[2].texts, ["processes/deburr"]);
    assert_eq!(found.stages[3].texts, ["books/Own rates"]);
    // what an entry behind both changes once more is none of its business
    bench.edit("set P2/mass \"2.75 kg\" --evidence measured");
    assert_eq!(walk(&bench, 1, To::Release(2)).stages, found.stages);
    let (start, steps, interaction, end, rest) = numbers(&found);
    assert_eq!(start.to_bits(), first.frozen.headlines[0].value.0.to_bits());
    assert_eq!(end.to_bits(), second.frozen.headlines[0].value.0.to_bits());
    assert!(rest.abs() < 1e-12, "{rest}");
    assert!((start + steps.iter().sum::<f64>() + interaction - end).abs() < 1e-9);
    // the lid costs 3.5 EUR whatever else, up to what is taken on it; the slower deburring is dearer, and dearer still at the higher wage
    assert!(
        steps[0] > 0.0 && steps[1] >= 3.5 && steps[2] > 0.0 && steps[3] > 0.0 && interaction != 0.0,
        "{steps:?} {interaction}"
    );
    // back again
    let back = numbers(&walk(&bench, 2, To::Release(1)));
    assert_eq!((back.0, back.3), (end, start));
    assert!(back.4.abs() < 1e-12);
}

#[test]
fn a_walk_leads_to_the_study_as_it_is() {
    let bench = Bench::new();
    bench.make("first");
    assert_eq!(names(&walk(&bench, 1, To::Now)), Vec::<&str>::new());
    bench.edit("set P2/mass \"2.5 kg\" --evidence measured");
    let found = walk(&bench, 1, To::Now);
    let (start, steps, interaction, end, rest) = numbers(&found);
    assert_eq!((steps.len(), interaction, end.to_bits()), (1, 0.0, bench.cost().to_bits()));
    assert!(steps[0] == end - start && rest == 0.0);
    bench.undo();
    assert_eq!(names(&walk(&bench, 1, To::Now)), Vec::<&str>::new(), "what was taken back is no difference");
}

/// A calculation that was named before anybody knew it: no record changes, and yet the cost does.
#[test]
fn a_text_that_came_to_be_known_is_a_step() {
    let bench = Bench::new();
    bench.calculation("processes/our-own");
    let made = bench.try_make(&Asked { with_errors: true, ..asked("not known yet") }).expect("a release");
    bench.own("processes/our-own.toml", &slower());
    let found = walk(&bench, 1, To::Now);
    assert_eq!(names(&found), ["texts of calculations"]);
    // with it the sum that its setting-up brings in
    assert_eq!(found.stages[0].texts, ["processes/our-own", "roll-ups/setup-cost"]);
    let (start, steps, interaction, end, rest) = numbers(&found);
    assert_eq!((start.to_bits(), end.to_bits()), (made.frozen.headlines[0].value.0.to_bits(), bench.cost().to_bits()));
    assert!(steps == [end - start] && end > start && interaction == 0.0 && rest == 0.0, "{steps:?} {interaction} {rest}");
    // and the other way round, where it is not known any more
    bench.renew();
    bench.make("known");
    let back = walk(&bench, 2, To::Release(1));
    assert_eq!(names(&back), ["texts of calculations"]);
    let (from, steps, _, to, _) = numbers(&back);
    assert_eq!((from, to), (end, start));
    assert_eq!(steps, [start - end]);
}

#[test]
fn there_is_no_walk_between_two_currencies() {
    let bench = Bench::new();
    bench.make("first");
    bench.edit("set study/currency USD");
    let session = bench.session();
    let refused = session.walk_releases(&study(&session), 1, To::Now, &Program::this()).expect_err("refused");
    assert_eq!(refused[0].code, "walk-currency", "{refused:?}");
    assert!(refused[0].message.contains("EUR") && refused[0].message.contains("USD"), "{refused:?}");
}

/// Parts that go, with what stood on them and what referred to them.
#[test]
fn what_goes_together_is_one_step() {
    let bench = Bench::new();
    bench.edit(
        "add joint name=Screwed label=J1 calculation=joints/screw-tapped-hole parts=P2,P3 fastener=P3 count=4 diameter=\"6 mm\"",
    );
    bench.make("first");
    bench.edit("remove P3/price");
    bench.edit("set J1/count 3");
    let session = bench.session();
    let id = crate::bench::load(&session).document.of_kind(None, Kind::Joint).next().expect("a joint").id;
    drop(session);
    bench.edit("remove J1");
    bench.edit("remove P3");
    bench.edit("set P2/mass \"2.25 kg\" --evidence measured");
    bench.make("second");
    let found = walk(&bench, 1, To::Release(2));
    assert!(crate::bench::load(&bench.session()).document.get(id).is_none());
    let (_, _, _, _, rest) = numbers(&found);
    assert!(rest.abs() < 1e-12, "{rest}");
    // the price stands on the item, which stays
    let shown = names(&found);
    assert!(shown.len() == 3 && shown[0].starts_with("entry 3: ") && shown[1] == "entries 5, 6", "{shown:?}");
    assert!(shown[2].starts_with("entry 7: "), "{shown:?}");
}
