//! A study of 10,000 parts of 2,500 items: its list imported, its workspace opened, one value edited to a new total.
//!
//! The figures of one run belong together; `docs/performance.md` holds one such run with the machine it was made on.

use divan::{Bencher, black_box};
use std::fmt::Write;
use std::path::Path;
use tare_app::create::{NewStudy, new_study};
use tare_app::edit_command::{EditCommand, intent};
use tare_app::import::{self, Request};
use tare_app::{Session, Stamp, Workspace};
use tare_model::Record;
use tare_study::generate::{Size, study};

const SIZE: Size = Size { parts: 10_000, items: 2_500, joints: 2_000 };

fn main() {
    divan::main();
}

fn stamp() -> Stamp {
    Stamp { author: "bench".to_owned(), says: "generated".to_owned() }
}

fn empty(folder: &Path) -> Session {
    let workspace = Workspace::open_or_create(folder).expect("a workspace");
    let session = Session::with(workspace).expect("a session");
    let new = NewStudy { name: "Generated".into(), currency: "EUR".into(), book: Some("region-a".into()), ..NewStudy::default() };
    new_study(&session.workspace, &session.library, &new, "bench").expect("a study");
    session
}

/// A workspace that holds the generated study.
fn filled(folder: &Path) {
    tare_app::generated::workspace(folder, SIZE, 7).expect("a workspace");
}

/// The parts list of the generated study as a person would keep it: level, number, name, quantity, mass, material.
fn list() -> String {
    let document = study(SIZE, 7);
    let mut text = String::from("Level;Part number;Name;Qty;Mass g;Material\n");
    let mut number = 0;
    let mut open: Vec<(u32, &Record)> = Vec::new();
    let parts = |under| document.of_kind(under, tare_model::Kind::Part);
    open.extend(parts(None).rev().map(|part| (1, part)));
    while let Some((level, part)) = open.pop() {
        number += 1;
        let item = part.refers(tare_model::Field::Item).expect("an item");
        let count = part.number(tare_model::Field::Count).unwrap_or(1.0);
        // an assembly weighs what its parts weigh
        let own = if parts(Some(part.id)).next().is_some() { ";" } else { &format!("{},5;PA66-GF30", 3 + number % 900) };
        writeln!(text, "{level};A-{:05};Part {number};{count};{own}", item.0).expect("text");
        open.extend(parts(Some(part.id)).rev().map(|part| (level + 1, part)));
    }
    text
}

#[divan::bench(sample_count = 5)]
fn import_list(bencher: Bencher) {
    let text = list();
    bencher.with_inputs(|| tempfile::tempdir().expect("a folder")).bench_local_values(|folder| {
        let session = empty(&folder.path().join("w"));
        let mut loaded = session.workspace.load(&session.workspace.study(None).expect("one study")).expect("loads");
        let book = import::read("list.csv", text.as_bytes()).expect("a table");
        let answers = [("quantity-basis".to_owned(), "assembly".to_owned())].into();
        let request = Request { answers, ..Request::default() };
        let plan = import::plan(&session, &loaded, &book, &request).expect("a parts list");
        assert_eq!(plan.proposal.counts.rows, SIZE.parts);
        import::accept(&session.workspace, &mut loaded, &plan, "bench").expect("taken");
        folder
    });
}

#[divan::bench(sample_count = 10)]
fn open_to_total(bencher: Bencher) {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("w");
    filled(&place);
    bencher.bench_local(|| {
        let mut session = Session::open(&place, true).expect("opens");
        let info = session.workspace.study(None).expect("one study");
        let loaded = session.workspace.load(&info).expect("loads");
        let study = session.compiled(&info, &loaded).expect("compiles");
        black_box(study.value(study.totals.cost.expect("a total")))
    });
}

#[divan::bench(sample_count = 10)]
fn open_document(bencher: Bencher) {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("w");
    filled(&place);
    bencher.bench_local(|| {
        let session = Session::open(&place, true).expect("opens");
        let info = session.workspace.study(None).expect("one study");
        session.workspace.load(&info).expect("loads").head
    });
}

/// One value set, recorded durably, and the new total read.
#[divan::bench(sample_count = 50)]
fn edit_to_total(bencher: Bencher) {
    edits(bencher, |label, number| (format!("{label}/mass"), format!("{} g", 100 + number % 50)));
}

/// A count changed: the graph is built anew.
#[divan::bench(sample_count = 10)]
fn edit_of_structure_to_total(bencher: Bencher) {
    edits(bencher, |label, number| (format!("{label}/count"), (2 + number % 7).to_string()));
}

/// The label of a part whose item was weighed.
fn weighed(study: &tare_app::Study, document: &tare_model::Document) -> String {
    let mass = |part: &&tare_study::PartRow| {
        let mut values = document.of_kind(Some(part.item), tare_model::Kind::Value);
        values.any(|value| value.text(tare_model::Field::Quantity) == Some("mass"))
    };
    study.parts.iter().find(mass).expect("a weighed part").label.clone()
}

fn edits(bencher: Bencher, target: impl Fn(&str, usize) -> (String, String)) {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("w");
    filled(&place);
    let mut session = Session::open(&place, true).expect("opens");
    let info = session.workspace.study(None).expect("one study");
    let mut loaded = session.workspace.load(&info).expect("loads");
    let label = weighed(&session.compiled(&info, &loaded).expect("compiles"), &loaded.document);
    let mut number = 0;
    bencher.bench_local(|| {
        number += 1;
        let (target, to) = target(&label, number);
        let command = EditCommand::Set { target, to, about: Box::default(), beside: false };
        let library = session.library.clone();
        let meant = intent(&loaded.document, &library, &command).expect("an edit");
        session.record(&info, &mut loaded, &meant.changes, &stamp()).expect("recorded");
        let study = session.compiled(&info, &loaded).expect("compiles");
        black_box(study.value(study.totals.cost.expect("a total")))
    });
}
