//! What is kept of each study is only a cache.

use super::shelf::{Shelf, question};
use std::path::PathBuf;
use tare_analysis::{Facts, RowKind};
use tare_app::collection::{Collection, Wanted, save, saved};
use tare_app::create::from_text;
use tare_app::text_form::TextFile;
use tare_store::Sha256;

/// Facts hold what is not known as no number, which equals nothing; their bytes are compared instead.
fn bytes(facts: &Facts) -> Vec<u8> {
    postcard::to_stdvec(facts).expect("bytes")
}

/// The files of a study in the cache: all facts, and the row of the whole.
fn kept(shelf: &Shelf, name: &str) -> [PathBuf; 2] {
    let id = shelf.info(name).id;
    ["facts", "totals"].map(|end| shelf.folder.join("cache").join(format!("{id}.{end}")))
}

/// Writes a mark into what is kept of a study, whole and in its state, so that it shows whether it was read.
fn mark(shelf: &Shelf, name: &str) {
    mark_as(shelf, name, |state| state);
}

/// As [`mark`], in another state.
fn mark_as(shelf: &Shelf, name: &str, state_of: impl Fn(String) -> String) {
    let [path, _] = kept(shelf, name);
    let bytes = std::fs::read(&path).expect("it is kept");
    let (state, mut facts): (String, Facts) = postcard::from_bytes(&bytes[64..]).expect("it reads");
    facts.currency = MARK.to_owned();
    let rest = postcard::to_stdvec(&(state_of(state), facts)).expect("bytes");
    std::fs::write(&path, [Sha256::of(&rest).to_string().as_bytes(), &rest].concat()).expect("written");
}

const MARK: &str = "read from the cache";

fn currency(shelf: &Shelf, under: Option<&str>) -> String {
    let collection = shelf.load(None, under).expect("loads");
    collection.studies.into_iter().find(|(info, _)| info.name == "One").expect("the study").1.currency
}

#[test]
fn a_second_load_reads_what_was_kept_and_compiles_nothing() {
    let shelf = Shelf::of(&[("One", None), ("Two", None)]);
    let first = shelf.load(None, None).expect("loads");
    let compiled: Vec<Vec<u8>> = first
        .studies
        .iter()
        .map(|(info, _)| {
            let document = shelf.session.workspace.load(info).expect("loads").document;
            let study = shelf.session.compile_document(&document).expect("compiles");
            bytes(&Facts::of(&document, &study, &shelf.session.library))
        })
        .collect();
    let of = |collection: &Collection| collection.studies.iter().map(|(_, facts)| bytes(facts)).collect::<Vec<_>>();
    assert_eq!(of(&first), compiled);
    let shelf = shelf.reopened();
    assert_eq!(of(&shelf.load(None, None).expect("loads")), compiled, "another program reads the same");
    mark(&shelf, "One");
    assert_eq!(currency(&shelf, None), MARK, "it is read, not made");
    // the row of the whole is the same whether it is read alone or with all others
    let totals = Wanted { totals_only: true, ..Wanted::default() };
    let totals = Collection::load(&shelf.session, &totals).expect("loads");
    for ((_, all), (_, whole)) in first.studies.iter().zip(&totals.studies) {
        assert_eq!(bytes(&all.only(RowKind::Study)), bytes(whole));
        assert!(whole.table(RowKind::Part).rows() == 0 && whole.table(RowKind::Study).rows() == 1);
    }
}

#[test]
fn what_was_kept_is_made_again_when_anything_it_rests_on_changes() {
    let shelf = Shelf::of(&[("One", None), ("Two", None)]);
    assert_eq!(currency(&shelf, None), "EUR");
    mark(&shelf, "One");
    shelf.edit("Two", "set P3/count 8");
    assert_eq!(currency(&shelf, None), MARK, "an entry of another study is none of its business");
    shelf.edit("One", "set P3/count 7");
    let collection = shelf.load(None, None).expect("loads");
    let one = &collection.studies[0].1;
    assert_eq!(one.currency, "EUR");
    assert_eq!(one.table(RowKind::Part).numbers("count", "1").expect("counts"), [1.0, 1.0, 7.0]);

    mark(&shelf, "One");
    assert_eq!(currency(&shelf, Some("Two")), "EUR", "another scenario");
    assert_eq!(currency(&shelf, None), "EUR");
    mark(&shelf, "One");
    shelf.edit("Two", "set scenario/volume \"2000 1/a\"");
    assert_eq!(currency(&shelf, None), MARK);
    currency(&shelf, Some("Two"));
    mark(&shelf, "One");
    shelf.edit("Two", "set scenario/volume \"3000 1/a\"");
    assert_eq!(currency(&shelf, Some("Two")), "EUR", "the scenario has changed");

    currency(&shelf, None);
    mark(&shelf, "One");
    let book = "[book.main]\nname = \"own\"\ncurrency = \"EUR\"\n";
    let files = [TextFile { name: "own.toml", text: book }];
    from_text(&shelf.session.workspace, &shelf.session.library, "own", None, &files, "test").expect("a rate book");
    assert_eq!(currency(&shelf, None), "EUR", "a rate book came");

    mark(&shelf, "One");
    let shelf = shelf.reopened();
    assert_eq!(currency(&shelf, None), MARK);
    std::fs::create_dir_all(shelf.folder.join("library")).expect("a folder");
    std::fs::write(shelf.folder.join("library/functions.toml"), "[function.lid]\ntitle = \"lid\"\nwords = []\n")
        .expect("written");
    let shelf = shelf.reopened();
    assert_eq!(currency(&shelf, None), "EUR", "the library has changed");
}

/// Another version may compute otherwise from the same study, books and library.
#[test]
fn what_another_version_of_the_program_kept_is_made_again() {
    let shelf = Shelf::of(&[("One", None)]);
    currency(&shelf, None);
    mark_as(&shelf, "One", |state| state.replacen(env!("CARGO_PKG_VERSION"), "0.0.0", 1));
    assert_eq!(currency(&shelf, None), "EUR");
}

#[test]
fn damage_to_what_was_kept_costs_only_time() {
    let shelf = Shelf::of(&[("One", None)]);
    let first = bytes(&shelf.load(None, None).expect("loads").studies[0].1);
    let [path, _] = kept(&shelf, "One");
    let whole = std::fs::read(&path).expect("it is kept");
    let mut damaged: Vec<Vec<u8>> =
        [0, 10, 63, 64, 65, whole.len() / 2, whole.len() - 1].map(|len| whole[..len].to_vec()).to_vec();
    for at in [0, 63, 64, 70, whole.len() / 2, whole.len() - 1] {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x10;
        damaged.push(bytes);
    }
    damaged.push(vec![0xff; 4096]);
    for bad in damaged {
        std::fs::write(&path, &bad).expect("written");
        assert_eq!(bytes(&shelf.load(None, None).expect("loads").studies[0].1), first, "{} bytes", bad.len());
        assert!(std::fs::read(&path).expect("it is kept") == whole, "{} bytes: not made again", bad.len());
    }
    // nothing can be kept where a file stands in the way of the folder
    std::fs::remove_dir_all(shelf.folder.join("cache")).expect("removed");
    std::fs::write(shelf.folder.join("cache"), "in the way").expect("written");
    assert_eq!(bytes(&shelf.load(None, None).expect("loads").studies[0].1), first);
}

/// Keeping a question changes nothing that was computed: five hundred studies are not compiled again for it.
#[test]
fn a_saved_question_leaves_what_was_kept() {
    let shelf = Shelf::of(&[("One", None)]);
    currency(&shelf, None);
    mark(&shelf, "One");
    save(&shelf.session, &question("part", "true", &[])).expect("saved");
    let shelf = shelf.reopened();
    assert_eq!(saved(&shelf.session).0.iter().filter(|q| q.key == "q").count(), 1);
    assert_eq!(currency(&shelf, None), MARK);
}
