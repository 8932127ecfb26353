//! The fuzz targets' corpora, replayed as ordinary tests.

use std::path::Path;

fn corpus(name: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fuzz/corpus").join(name);
    let files: Vec<Vec<u8>> = std::fs::read_dir(&folder).unwrap().map(|e| std::fs::read(e.unwrap().path()).unwrap()).collect();
    assert!(!files.is_empty(), "{} is empty", folder.display());
    files
}

fn texts(name: &str) -> impl Iterator<Item = String> {
    corpus(name).into_iter().filter_map(|bytes| String::from_utf8(bytes).ok())
}

#[test]
fn formulas() {
    texts("formula").for_each(|t| tare_calc::fuzz_formula(&t));
}

#[test]
fn questions() {
    texts("question").for_each(|t| tare_analysis::fuzz_question(&t));
}

#[test]
fn rules() {
    texts("rule").for_each(|t| tare_analysis::fuzz_rule(&t));
}

#[test]
fn calculations() {
    texts("calculation").for_each(|t| tare_calc::fuzz_file(&t));
}

#[test]
fn quantities_print_and_read_back() {
    for text in texts("quantity") {
        if let Ok(quantity) = tare_units::Quantity::parse(&text) {
            assert_eq!(tare_units::Quantity::parse(&quantity.print()).as_ref(), Ok(&quantity), "{text}");
        }
    }
}

#[test]
fn folders() {
    let read = corpus("folder").iter().filter(|bytes| tare_app::folder::fuzz_folder(bytes)).count();
    assert_eq!(read, 3, "the whole one, the packed one and the one with foreign columns and files");
}

#[test]
fn lists() {
    for bytes in corpus("list") {
        for name in ["list.csv", "list.xlsx", "list.ods", "list.xls"] {
            if let Ok(book) = tare_exchange::read(&tare_exchange::Source { name, bytes: &bytes }) {
                let _ = tare_exchange::propose(&book, &tare_exchange::Hints::default());
            }
        }
    }
}
