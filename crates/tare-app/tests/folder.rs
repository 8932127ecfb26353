//! The study folder, both ways: nothing is lost, damage is told at its place, an edited folder is a list of edits.

#[path = "folder/damage.rs"]
mod damage;
#[path = "folder/odd.rs"]
mod odd;
#[path = "folder/small.rs"]
mod small;
#[path = "folder/taken.rs"]
mod taken;

use std::collections::BTreeSet;
use tare_app::folder::{Files, Folder, difference, read, write};
use tare_exchange::{pack, unpack};
use tare_model::{Document, Kind};
use tare_study::generate::{Size, study};

/// The folder that comes back, with the first difference if it is not the one that went.
#[track_caller]
fn back(folder: &Folder, files: &Files, what: &str) -> Folder {
    let (again, _) = read(files, None).unwrap_or_else(|problems| panic!("{what}: {problems:#?}"));
    for record in folder.document.records() {
        let other = again.document.get(record.id);
        assert_eq!(Some((&record.fields, record.parent)), other.map(|r| (&r.fields, r.parent)), "{what}: a {}", record.kind);
    }
    assert_eq!(folder.document.records().len(), again.document.records().len(), "{what}");
    assert!(tare_app::folder::same_order(&folder.document, &again.document), "{what}: another order");
    assert_eq!((&folder.photos, &folder.texts, &folder.files), (&again.photos, &again.texts, &again.files), "{what}");
    assert!(*folder == again, "{what}");
    again
}

#[test]
fn two_hundred_generated_studies_come_back_equal() {
    let (mut kinds, mut records) = (BTreeSet::new(), 0);
    for seed in 0..200 {
        let made = odd::folder(seed);
        kinds.extend(made.document.records().map(|r| r.kind));
        records += made.document.records().len();
        let files = write(&made);
        let again = back(&made, &files, &format!("seed {seed}"));
        assert_eq!(files, write(&again), "seed {seed}: the same study gives the same files");
        assert!(files.iter().all(|(path, _)| tare_exchange::plain_path(path).is_ok()), "seed {seed}: {:?}", files.keys());
        // packed as one file
        let packed = pack(&files).expect("packed");
        assert_eq!(unpack("x.zip", &packed).expect("unpacked"), files, "seed {seed}");
        assert_eq!(packed, pack(&write(&again)).expect("packed"), "seed {seed}: the same study gives the same archive");
        // beside the study it came from, its order keys too are those of the study
        let (beside, _) = read(&files, Some(&made.document)).expect("reads");
        assert!(beside.document == made.document, "seed {seed}: record by record, order keys included");
        assert_eq!(difference(&made.document, &beside.document), [], "seed {seed}");
        // and from nothing, the difference makes it
        let mut fresh = Document::new(made.document.id, made.document.kind);
        fresh.change_all(&difference(&fresh, &again.document)).unwrap_or_else(|p| panic!("seed {seed}: {p:#?}"));
        assert!(fresh == again.document, "seed {seed}");
    }
    assert_eq!(kinds.len(), Kind::ALL.len(), "every kind is among them");
    assert!(records > 8_000, "{records}");
}

/// From any study to any other with the same identifiers here and there: the difference makes one of the other, and its edits take it back.
#[test]
fn a_difference_makes_one_study_of_another() {
    for seed in 0..100 {
        let (from, to) = (odd::folder(seed).document, odd::folder(seed + 1000).document);
        // half of the second study's records stand in the first one too, in another order and with other fields
        let mut records: Vec<_> = to.records().cloned().collect();
        let known: Vec<_> = from.records().collect();
        let same: std::collections::HashMap<_, _> = records
            .iter()
            .enumerate()
            .filter(|(n, _)| n % 2 == 0)
            .filter_map(|(n, r)| Some((r.id, known.iter().filter(|k| k.kind == r.kind).nth(n / 20)?.id)))
            .collect();
        let taken: BTreeSet<_> = same.values().collect();
        if taken.len() < same.len() {
            continue;
        }
        let named = |id: &tare_model::Id| same.get(id).copied().unwrap_or(*id);
        for record in &mut records {
            record.id = named(&record.id);
            record.parent = record.parent.as_ref().map(named);
            let fields: Vec<_> = record.fields.iter().map(|(f, v)| (f, v.clone())).collect();
            for (field, value) in fields {
                let value = match value {
                    tare_model::FieldValue::Ref(id) => tare_model::FieldValue::Ref(named(&id)),
                    tare_model::FieldValue::Refs(ids) => tare_model::FieldValue::Refs(ids.iter().map(named).collect()),
                    other => other,
                };
                record.fields.set(field, Some(value));
            }
        }
        let to = Document::from_records(from.id, from.kind, records);
        let mut one = from.clone();
        let edits = one.change_all(&difference(&from, &to)).unwrap_or_else(|p| panic!("seed {seed}: {p:#?}"));
        assert!(one == to, "seed {seed}");
        for edit in edits.iter().rev() {
            one.apply(&edit.invert()).expect("an edit can be taken back");
        }
        assert!(one == from, "seed {seed}");
    }
}

/// As large as a study becomes. Measured once in a release build; the sizes here keep a debug build fast.
#[test]
fn fifty_thousand_joints_come_back() {
    let made = study(Size { parts: 56_000, items: 300, joints: 50_000 }, 7);
    assert_eq!(made.of_kind(None, Kind::Joint).count(), 50_000);
    let folder = Folder {
        document: made,
        entry: 1,
        entry_id: None,
        photos: Default::default(),
        texts: Default::default(),
        files: Files::new(),
    };
    let files = write(&folder);
    let (again, _) = read(&files, None).expect("reads");
    assert!(folder == again);
    let longest = again.document.records().max_by_key(|r| r.order.len()).map(|r| (r.order.len(), r.kind, r.parent));
    assert!(longest.is_some_and(|l| l.0 < 12), "{longest:?}");
    assert!(std::str::from_utf8(&files["joints.csv"]).expect("text").lines().count() == 50_001);
}

fn as_one_text(files: &Files) -> Vec<u8> {
    files.iter().flat_map(|(path, bytes)| [format!("=== {path}\n").as_bytes(), bytes].concat()).collect()
}

/// Whole folders with something put in, cut out or copied anywhere: told, or read, and then the same when written and read again.
#[test]
fn any_damage_is_told_or_comes_back() {
    // more of them by hand: TARE_FOLDER_ROUNDS=100000
    let rounds = std::env::var("TARE_FOLDER_ROUNDS").ok().and_then(|n| n.parse().ok()).unwrap_or(400);
    let mut dice = odd::Dice(99);
    let made: Vec<Vec<u8>> = (0..8).map(|seed| as_one_text(&write(&odd::folder(seed)))).collect();
    let mut read_back = 0;
    for _ in 0..rounds {
        let mut bytes = made[dice.below(made.len())].clone();
        for _ in 0..=dice.below(3) {
            let (from, to) = (dice.below(bytes.len()), dice.below(bytes.len()));
            let word = odd::TEXTS[dice.below(odd::TEXTS.len())].as_bytes().to_vec();
            let short = from..(from + dice.below(40)).min(bytes.len());
            match dice.below(5) {
                0 => drop(bytes.splice(from..from, word)),
                1 => drop(bytes.splice(short, word)),
                2 => drop(bytes.drain(short)),
                3 => {
                    let copied = bytes[short].to_vec();
                    drop(bytes.splice(to..to, copied));
                }
                _ => bytes[from] = b"\"',\n=#[]{}0"[dice.below(11)],
            }
        }
        read_back += usize::from(tare_app::folder::fuzz_folder(&bytes));
    }
    assert!((rounds / 10..rounds * 9 / 10).contains(&read_back), "{read_back} of {rounds} read");
}
