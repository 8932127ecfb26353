//! Five hundred studies in one workspace: read cold, read from the cache, compared on a yardstick, asked; and ideas evaluated.
//!
//! `cargo bench -p tare-app --bench collection` prints one run; `-- 50` takes another number of studies. Figures of one run belong
//! together; `docs/performance.md` holds one such run with the machine it was made on.

#![expect(clippy::print_stdout, reason = "a bench prints its figures")]

use std::path::Path;
use std::time::Instant;
use tare_app::collection::{Answer, Asked, Collection, Wanted, ask};
use tare_app::idea::{self, Idea};
use tare_app::ranges::threads;
use tare_app::{Document, Field, Id, Kind, Options, Record, Session, Stop, Workspace, generated};
use tare_study::generate::{Size, study};

const SIZE: Size = Size { parts: 1_000, items: 250, joints: 200 };
const STUDIES: u64 = 500;
const IDEAS: usize = 20;
const DRAWS: u64 = 1_024;

fn main() {
    let number = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(STUDIES);
    println!("{} threads; {number} studies of {} parts, {} items, {} joints", threads(), SIZE.parts, SIZE.items, SIZE.joints);
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("w");
    filled(&folder, number);
    let cold = seconds(|| drop(collection(&open(&folder), false)));
    println!(
        "{cold:>9.2} s   cold: every study loaded, compiled, its facts made and kept ({:.0} ms each)",
        cold * 1e3 / number as f64
    );
    let totals = least(5, || drop(collection(&open(&folder), true)));
    println!("{:>9.1} ms  warm: totals of all, opening the workspace included", totals * 1e3);
    println!("{:>9.0}     times faster than cold", cold / totals);
    compared(&folder, number);
    asked(&folder);
    ideas();
}

/// One study of a seed, with the yardstick that studies are compared on.
fn with_yardstick(seed: u64) -> Document {
    let made = study(SIZE, seed);
    let mut records: Vec<Record> = made.records().cloned().collect();
    let next = records.iter().map(|r| r.id.0).max().unwrap_or(0) + 1;
    let yardstick = Record::new(Id(next), Kind::Yardstick).with_text(Field::Name, "Space");
    let value = Record::new(Id(next + 1), Kind::Value).under(yardstick.id).with_text(Field::Quantity, "volume");
    let value = value.with_text(Field::Text, format!("{} l", 80 + seed % 60)).with_text(Field::Evidence, "measured");
    records.extend([yardstick, value]);
    Document::from_records(Id(0xface_0000 + u128::from(seed)), made.kind, records)
}

/// A workspace that holds the studies, nothing of them kept yet.
fn filled(folder: &Path, number: u64) {
    let workspace = Workspace::open_or_create(folder).expect("a workspace");
    let started = Instant::now();
    for seed in 1..=number {
        generated::put(&workspace, &with_yardstick(seed), &format!("Generated {seed}")).expect("a study");
        if seed % 100 == 0 {
            println!("{:>9.1} s   {seed} studies written", started.elapsed().as_secs_f64());
        }
    }
}

fn open(folder: &Path) -> Session {
    Session::open(folder, false).expect("opens")
}

fn collection(session: &Session, totals_only: bool) -> Collection {
    Collection::load(session, &Wanted { totals_only, ..Wanted::default() }).expect("loads")
}

fn answer(session: &Session, collection: &Collection, asked: &Asked) -> Answer {
    ask(collection, &collection.schema(session), asked).expect("an answer")
}

fn question(rows: &str, when: &str, show: &[&str]) -> Asked {
    let show = show.iter().map(|text| (*text).to_owned()).collect();
    Asked { key: String::new(), title: String::new(), rows: rows.into(), when: when.into(), show }
}

/// Cost per unit of the yardstick over all studies, from the totals.
fn compared(folder: &Path, number: u64) {
    let per_space = question("study", "true", &["cost / space in EUR/l", "mass / space in kg/l"]);
    let end_to_end = least(5, || {
        let session = open(folder);
        let answer = answer(&session, &collection(&session, true), &per_space);
        assert_eq!(answer.rows.len() as u64, number);
        assert!(answer.rows.iter().all(|row| row.values.iter().all(Option::is_some)));
    });
    let session = open(folder);
    let totals = collection(&session, true);
    let in_memory = least(9, || drop(answer(&session, &totals, &per_space)));
    println!("{:>9.1} ms  cost and mass per litre of all, warm, from opening the workspace (goal 1 s)", end_to_end * 1e3);
    println!("{:>9.1} ms  the same in memory", in_memory * 1e3);
}

/// Questions over all parts of all studies.
fn asked(folder: &Path) {
    let session = open(folder);
    let mut loaded = None;
    let warm = seconds(|| loaded = Some(collection(&session, false)));
    let all = loaded.expect("it was loaded");
    let bytes: usize = all.studies.iter().map(|(_, facts)| facts.bytes()).sum();
    println!("{warm:>9.2} s   warm: all facts of all ({} MiB)", bytes >> 20);
    let questions = [
        question("part", "make == 'make' and mass > 1.9 [kg] and length > 400 [mm]", &["cost / mass in EUR/kg"]),
        question("part", "any(joints.method == 'joints/screw-tapped-hole' and joints.count > 6)", &["cost"]),
        question("part", "family == 'polymer'", &["cost / (length * width) in EUR/m^2"]),
    ];
    for one in &questions {
        let mut rows = 0;
        let in_memory = least(5, || rows = answer(&session, &all, one).rows.len());
        println!("{:>9.1} ms  in memory (goal 100 ms), {rows} rows: {} | {}", in_memory * 1e3, one.when, one.show[0]);
    }
    drop(all);
    let end_to_end = least(3, || {
        let session = open(folder);
        drop(answer(&session, &collection(&session, false), &questions[0]));
    });
    println!("{:>9.2} s   the first of them from opening the workspace, facts out of the cache", end_to_end);
}

/// Simple ideas on one study, each carried out, compiled and drawn.
fn ideas() {
    let place = tempfile::tempdir().expect("a folder");
    let session = Session::with(Workspace::open_or_create(place.path()).expect("a workspace")).expect("a session");
    let document = study(SIZE, 7);
    let texts = session.texts(&document).expect("texts");
    let mut base = None;
    let compiling = least(3, || base = Some(session.compile_document(&document).expect("it compiles")));
    let base = base.expect("it was compiled");
    let walls = document
        .records()
        .filter(|r| r.kind == Kind::Value && r.text(Field::Quantity) == Some("wall_thickness"))
        .filter_map(|r| r.parent);
    let ideas: Vec<Idea> = walls.take(IDEAS).enumerate().map(|(at, item)| thinner(&session, &document, at, item)).collect();
    assert_eq!(ideas.len(), IDEAS);
    let options = Options { most: DRAWS, least: DRAWS, threads: threads(), ..Options::default() };
    let evaluating = least(3, || {
        let found = idea::evaluate(&texts, &document, &base, ideas.clone(), None, options, Stop::default());
        let found = found.expect("not stopped");
        assert!(found.ideas.iter().all(|one| one.worth.is_some()));
    });
    println!("{:>9.1} ms  compiling one study of {} parts", compiling * 1e3, SIZE.parts);
    println!(
        "{:>9.1} ms  {IDEAS} ideas evaluated at {DRAWS} draws: {:.1} compilations' time for each",
        evaluating * 1e3,
        evaluating / compiling / IDEAS as f64
    );
}

fn thinner(session: &Session, document: &Document, number: usize, item: Id) -> Idea {
    let lines = [format!("set @{item}/wall_thickness \"2 mm\"")];
    let edits = idea::seal(document, &session.library, &lines).expect("it fits");
    let record = Record::new(Id(0x1dea_0000 + number as u128), Kind::Idea).with_text(Field::Name, "Thinner");
    Idea {
        id_of_costs: vec![record.id],
        record,
        values: Vec::new(),
        label: format!("I{number}"),
        edits,
        recorded: false,
        advice: String::new(),
        place: String::new(),
        problems: Vec::new(),
    }
}

fn seconds(work: impl FnOnce()) -> f64 {
    let started = Instant::now();
    work();
    started.elapsed().as_secs_f64()
}

/// The least of several runs: what the machine does beside is left out.
fn least(times: usize, mut work: impl FnMut()) -> f64 {
    (0..times).map(|_| seconds(&mut work)).fold(f64::INFINITY, f64::min)
}
