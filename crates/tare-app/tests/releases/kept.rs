//! A release as an earlier program made it, kept for later ones: they reproduce it, or say plainly why not.
//!
//! `kept/NAME.json` holds the journals and texts of a workspace as they stood in the store. A file is never made anew: a program that brings a
//! new form of releases or a new version of the arithmetic adds one (`cargo test -p tare-app --test releases write_kept -- --ignored`).

use crate::bench::{Bench, refused, reproduced, slower, study};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use tare_app::release::{Program, To};
use tare_store::{Entry, Journals, OpenMode, Store};

/// What stands in a workspace, as readable text.
#[derive(Serialize, Deserialize)]
struct Kept {
    says: String,
    documents: Vec<Journal>,
    texts: Vec<String>,
}

#[derive(Serialize, Deserialize)]
struct Journal {
    id: String,
    kind: String,
    name: String,
    entries: Vec<Entry>,
}

fn kept() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/releases/kept")
}

/// The workspace of a file, made again.
fn restored(file: &Path) -> Bench {
    let text = std::fs::read_to_string(file).expect("a file");
    let kept: Kept = serde_json::from_str(&text).expect("it reads");
    let bench = Bench::bare();
    let store = Store::open(&bench.path(), OpenMode::Create).expect("a store");
    let texts: Vec<&str> = kept.texts.iter().map(String::as_str).collect();
    store.put_texts(&texts).expect("kept");
    for journal in &kept.documents {
        let id = tare_store::id_from_text(&journal.id).expect("an identifier");
        store.create_document(id, &journal.kind, &journal.name).expect("a document");
        for entry in &journal.entries {
            let number = store.append(id, entry.sequence - 1, entry).expect("appended");
            assert_eq!(number, entry.sequence);
        }
    }
    drop(store);
    bench
}

#[test]
fn kept_releases_are_reproduced_or_say_why_not() {
    let mut met = 0;
    for entry in std::fs::read_dir(kept()).expect("the folder") {
        let file = entry.expect("a file").path();
        let bench = restored(&file);
        let session = bench.session();
        let releases = session.workspace.releases(study(&session).id).expect("they read");
        assert_eq!(releases.len(), 2, "{}", file.display());
        for release in releases {
            let checked = bench.check(release.number);
            if release.frozen.numerics == tare_engine::NUMERICS {
                reproduced(&checked);
            } else {
                refused(&checked, "release-numerics", &[&format!("version {}", release.frozen.numerics)]);
            }
        }
        // whatever the arithmetic, the study opens and can be walked
        let walk = session.walk_releases(&study(&session), 1, To::Release(2), &Program::this()).expect("a walk");
        assert!(walk.walk.lines.is_some());
        met += 1;
    }
    assert!(met >= 1);
}

/// The newest file is of the arithmetic there is now: a new version adds a file.
#[test]
fn the_present_arithmetic_has_a_kept_release() {
    assert!(kept().join(format!("numerics-{}.json", tare_engine::NUMERICS)).exists());
}

#[test]
#[ignore = "writes the file of this version of the arithmetic, once"]
fn write_kept() {
    let file = kept().join(format!("numerics-{}.json", tare_engine::NUMERICS));
    assert!(!file.exists(), "a file is never made anew");
    let bench = Bench::new();
    bench.make("first");
    bench.edit("set P2/mass \"2.5 kg\" --evidence measured");
    bench.edit_in("Own rates", "set rate/wage.operator \"60 EUR/h\"");
    bench.own("processes/deburr.toml", &slower());
    bench.renew();
    bench.make("second");
    let store = Store::open(&bench.path(), OpenMode::ReadOnly).expect("a store");
    let documents = store.documents().expect("documents").into_iter().map(|d| Journal {
        id: tare_store::id_text(d.id),
        kind: d.kind,
        name: d.name,
        entries: store.since(d.id, 0).expect("entries"),
    });
    let documents = documents.collect();
    let raw = rusqlite::Connection::open(bench.path().join("workspace.sqlite")).expect("a database");
    let mut query = raw.prepare("SELECT text FROM text ORDER BY sha256").expect("a query");
    let texts = query.query_map([], |row| row.get(0)).expect("texts").collect::<Result<_, _>>().expect("texts");
    let says = format!("an invented study with two releases, made by tare {}", env!("CARGO_PKG_VERSION"));
    std::fs::create_dir_all(kept()).expect("made");
    let text = serde_json::to_string_pretty(&Kept { says, documents, texts }).expect("written");
    std::fs::write(file, text + "\n").expect("written");
}
