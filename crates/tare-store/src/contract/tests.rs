//! The contract, held against SQLite and against the reference.

use super::*;
use crate::{OpenMode, Store};
use proptest::prelude::*;
use std::collections::BTreeSet;
use tempfile::TempDir;

/// A workspace folder that is removed in the end.
struct Folder(TempDir);

impl Folder {
    fn new() -> Self {
        let place = tempfile::tempdir().unwrap();
        Store::open(place.path(), OpenMode::Create).unwrap();
        Self(place)
    }
}

impl Bench for Folder {
    fn open(&self) -> Box<dyn Journals> {
        Box::new(Store::open(self.0.path(), OpenMode::ReadWrite).unwrap())
    }
}

struct Reference(Memory, Uses);

impl Bench for Reference {
    fn open(&self) -> Box<dyn Journals> {
        Box::new(Observed::new(self.0.clone(), self.1.clone()))
    }
}

#[test]
fn sqlite_keeps_the_contract() {
    hold(&|| Box::new(Folder::new()));
}

/// The methods that the text of the trait declares.
fn declared() -> BTreeSet<&'static str> {
    let text = include_str!("../journals.rs");
    let (_, body) = text.split_once("pub trait Journals").unwrap();
    body.split("\n    fn ").skip(1).map(|rest| rest.split('(').next().unwrap()).collect()
}

#[test]
fn the_reference_keeps_the_contract_and_the_suite_uses_every_method() {
    let uses = Uses::default();
    hold(&|| Box::new(Reference(Memory::default(), uses.clone())));
    let uses = uses.lock().unwrap();
    let answered: BTreeSet<&str> = uses.iter().filter(|(_, n)| n.answered > 0).map(|(method, _)| *method).collect();
    assert_eq!(answered, declared());
    // A reading of content, memory or a list of all cannot be refused in memory; everything else must be seen refusing.
    let never: BTreeSet<&str> = ["documents", "text", "recall", "put_blob", "blob", "search"].into();
    let refused: BTreeSet<&str> = uses.iter().filter(|(_, n)| n.refused > 0).map(|(method, _)| *method).collect();
    assert_eq!(refused, &declared() - &never);
}

#[test]
fn the_methods_of_a_store_itself_are_used_in_its_tests() {
    let tests = include_str!("../open_tests.rs");
    let methods = include_str!("../store.rs").split("\n    pub fn ").skip(1).map(|rest| rest.split('(').next().unwrap());
    let mut found = 0;
    for method in methods {
        let used = [format!(".{method}("), format!("::{method}(")].iter().any(|call| tests.contains(call));
        assert!(used, "no test uses `Store::{method}`");
        found += 1;
    }
    assert!(found >= 4, "only {found} methods were read from the text");
}

/// A database with one fault, to see that the suite notices.
#[test]
#[should_panic(expected = "the contract is broken in case `entries are numbered from 1 and read back as they were sent`")]
fn a_database_that_forgets_between_handles_is_found_out() {
    struct Forgetful;
    impl Bench for Forgetful {
        fn open(&self) -> Box<dyn Journals> {
            Box::new(Memory::default())
        }
    }
    // The first case would notice too; the name expected is that of the second, so only that one is run.
    let (name, case) = CASES[1];
    let outcome = std::panic::catch_unwind(|| case(&Forgetful));
    assert!(outcome.is_ok(), "the contract is broken in case `{name}`");
}

fn text() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(vec!["lid", "li", "Plate", "12", "\"", "-", "a*", ""]), 0..4)
        .prop_map(|v| v.join(" "))
}

fn operation() -> impl Strategy<Value = Operation> {
    let document = || 0..3_u8;
    prop_oneof![
        2 => (document(), 0..2_u8).prop_map(|(document, name)| Operation::Create { document, name }),
        8 => (document(), 0..12_u8, prop_oneof![6 => Just(0_i8), 1 => -2..3_i8], text(), prop::option::weighted(0.2, 0..12_u8), 0..2_u8)
            .prop_map(|(document, id, off, says, undoes, edits)| Operation::Append { document, id, off, says, undoes, edits }),
        4 => (document(), 0..6_u8).prop_map(|(document, after)| Operation::Look { document, after }),
        2 => (document(), 0..6_u8, 1..3_u8).prop_map(|(document, sequence, form)| Operation::Snapshot { document, sequence, form }),
        1 => (prop::option::of(0..3_u8), 0..3_u8).prop_map(|(put, get)| Operation::Content { put, get }),
        1 => (0..3_u8, prop::option::of(0..3_u8)).prop_map(|(key, value)| Operation::Memory { key, value }),
        3 => (document(), 0..3_u8, text()).prop_map(|(document, subject, text)| Operation::Index { document, subject, text }),
        3 => text().prop_map(|text| Operation::Search { text }),
        1 => (document(), 0..2_u8, prop_oneof![3 => 0..60_u32, 1 => Just(u32::MAX - 20)])
            .prop_map(|(document, device, count)| Operation::Lease { document, device, count }),
    ]
}

proptest! {
    // Each step waits for the disk, so the sequences are long and few.
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_operations_leave_sqlite_and_the_reference_alike(operations in prop::collection::vec(operation(), 1..60), reopen in 1..20_usize) {
        let (folder, reference) = (Folder::new(), Memory::default());
        let mut store = folder.open();
        for (n, operation) in operations.iter().enumerate() {
            if n % reopen == reopen - 1 {
                drop(store);
                store = folder.open();
            }
            prop_assert_eq!(perform(&*store, operation), perform(&reference, operation), "operation {}: {:?}", n, operation);
        }
        for document in 0..3 {
            let look = Operation::Look { document, after: 0 };
            prop_assert_eq!(perform(&*store, &look), perform(&reference, &look));
        }
    }
}
