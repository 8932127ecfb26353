//! What a person is told when a workspace does not open, and what is changed when it does.

use super::*;
use crate::form::{APPLICATION, STEPS};
use crate::{Doctor, Entry, FileSystem, Journals, Sha256, Store};
use tempfile::TempDir;

const SOON: Duration = Duration::from_millis(20);

/// The next form, invented for these tests.
const NEXT: &[&str] = &[STEPS[0], "CREATE TABLE shelf (name TEXT NOT NULL) STRICT; INSERT INTO shelf VALUES ('left');"];

fn workspace() -> (TempDir, PathBuf) {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("packs");
    let store = Store::open(&folder, OpenMode::Create).unwrap();
    store.create_document(1, "study", "pack").unwrap();
    store.append(1, 0, &entry(1)).unwrap();
    (place, folder)
}

fn entry(id: u128) -> Entry {
    Entry {
        id,
        document: 1,
        sequence: 1,
        author: "bench".into(),
        time: "2026-03-02T09:30:00Z".into(),
        says: "lid off".into(),
        undoes: None,
        idea: None,
        edits: "[]".into(),
        form: 1,
    }
}

fn raw(folder: &Path) -> Connection {
    Connection::open(folder.join(DATABASE)).unwrap()
}

/// Opens, expects a refusal, and holds its words to the house rules.
#[track_caller]
fn refusal(folder: &Path, mode: OpenMode) -> (Kind, String) {
    let error = Store::open_as(folder, mode, STEPS, SOON).expect_err("the workspace must not open");
    let text = error.to_string();
    assert!(!text.contains('\n') && !text.ends_with('.') && !error.hint.is_empty(), "{text}");
    assert!(text.contains(folder.to_str().unwrap()), "the folder is not named: {text}");
    let diag = error.diag();
    assert_eq!((diag.code, diag.message.as_str(), diag.hints.len()), (error.kind.code(), error.message.as_str(), 1));
    (error.kind, text.replace(folder.to_str().unwrap(), "FOLDER"))
}

#[test]
fn a_missing_folder_or_workspace_is_named() {
    let place = tempfile::tempdir().unwrap();
    let gone = place.path().join("gone");
    for mode in [OpenMode::ReadWrite, OpenMode::ReadOnly] {
        let (kind, text) = refusal(&gone, mode);
        assert_eq!(kind, Kind::MissingFolder);
        assert_eq!(text, "there is no folder FOLDER: check the spelling, and that its disk is connected");
        let (kind, text) = refusal(place.path(), mode);
        assert_eq!(kind, Kind::NoWorkspace);
        assert_eq!(text, "there is no FOLDER/workspace.sqlite: name the folder of a workspace, or create one there");
    }
    assert_eq!(refusal(&gone.join("further"), OpenMode::Create).0, Kind::MissingFolder);
    assert!(!gone.exists(), "a refusal changes nothing");
    let file = place.path().join("list.csv");
    fs::write(&file, "a,b").unwrap();
    assert_eq!(refusal(&file, OpenMode::Create).1, "FOLDER is a file, not a folder: name the folder that holds the workspace");
}

#[test]
fn a_workspace_is_not_created_over_another() {
    let (_place, folder) = workspace();
    assert_eq!(refusal(&folder, OpenMode::Create).0, Kind::AlreadyThere);
    assert_eq!(Store::open(&folder, OpenMode::ReadWrite).unwrap().head(1), Ok(1));
}

#[test]
fn a_file_that_is_no_database_is_left_alone() {
    let place = tempfile::tempdir().unwrap();
    let file = place.path().join(DATABASE);
    let content = "quantity;name\n".repeat(200);
    fs::write(&file, &content).unwrap();
    for mode in [OpenMode::Create, OpenMode::ReadWrite, OpenMode::ReadOnly] {
        let (kind, text) = refusal(place.path(), mode);
        assert_eq!(kind, Kind::NotADatabase);
        assert!(text.starts_with("FOLDER/workspace.sqlite is not a database: move it away"), "{text}");
    }
    assert_eq!(fs::read_to_string(&file).unwrap(), content);
    fs::remove_file(&file).unwrap();
    fs::create_dir(&file).unwrap();
    assert_eq!(refusal(place.path(), OpenMode::ReadWrite).0, Kind::NotADatabase);
}

#[test]
fn the_database_of_another_program_is_left_alone() {
    let place = tempfile::tempdir().unwrap();
    raw(place.path()).execute_batch("CREATE TABLE addresses (name TEXT); PRAGMA user_version = 1;").unwrap();
    let before = fs::read(place.path().join(DATABASE)).unwrap();
    for mode in [OpenMode::Create, OpenMode::ReadWrite, OpenMode::ReadOnly] {
        let (kind, text) = refusal(place.path(), mode);
        assert_eq!(kind, Kind::Foreign);
        assert!(text.starts_with("FOLDER/workspace.sqlite is the database of another program: choose another folder"), "{text}");
    }
    assert_eq!(fs::read(place.path().join(DATABASE)).unwrap(), before);
}

#[test]
fn a_newer_form_is_refused_in_one_sentence() {
    let (_place, folder) = workspace();
    raw(&folder).pragma_update(None, "user_version", 7).unwrap();
    for mode in [OpenMode::ReadWrite, OpenMode::ReadOnly, OpenMode::Create] {
        let (kind, text) = refusal(&folder, mode);
        assert_eq!(kind, Kind::Newer);
        let due = format!(
            "tare {} knows workspace form 1, but FOLDER/workspace.sqlite has form 7: open it with the newer tare that wrote it, \
             or update this one; nothing was changed",
            env!("CARGO_PKG_VERSION")
        );
        assert_eq!(text, due);
    }
}

#[test]
fn a_form_made_by_another_recipe_is_refused() {
    let (_place, folder) = workspace();
    raw(&folder).execute("UPDATE step SET sha256 = zeroblob(32)", []).unwrap();
    let (kind, text) = refusal(&folder, OpenMode::ReadWrite);
    assert_eq!(kind, Kind::Form);
    assert!(text.starts_with("form 1 of FOLDER/workspace.sqlite was not made by the recipe that tare "), "{text}");
}

#[test]
fn an_empty_file_is_not_taken_for_an_empty_workspace() {
    let place = tempfile::tempdir().unwrap();
    fs::write(place.path().join(DATABASE), "").unwrap();
    let (kind, text) = refusal(place.path(), OpenMode::ReadWrite);
    assert_eq!(kind, Kind::NoWorkspace);
    assert!(text.starts_with("FOLDER/workspace.sqlite is empty: restore it from a backup"), "{text}");
    assert_eq!(refusal(place.path(), OpenMode::ReadOnly).0, Kind::NoWorkspace);
    let store = Store::open(place.path(), OpenMode::Create).unwrap();
    store.put_blob(b"image").unwrap();
    drop(store);
    fs::write(place.path().join(DATABASE), "").unwrap();
    let (kind, text) = refusal(place.path(), OpenMode::Create);
    assert_eq!(kind, Kind::Damaged, "{text}");
}

#[test]
fn another_program_that_does_not_let_go_is_waited_for_and_then_named() {
    let (_place, folder) = workspace();
    let store = Store::open_as(&folder, OpenMode::ReadWrite, STEPS, SOON).unwrap();
    let other = raw(&folder);
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let error = store.create_document(2, "study", "other").unwrap_err();
    assert_eq!(error.kind, Kind::Locked);
    assert!(error.message.starts_with("another program is using "), "{error}");
    assert_eq!(store.head(1), Ok(1), "reading goes on");
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(store.create_document(2, "study", "other"), Ok(()));
    drop((store, other));
    let other = raw(&folder);
    other.execute_batch("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE; UPDATE document SET name = name; COMMIT").unwrap();
    assert_eq!(refusal(&folder, OpenMode::ReadWrite).0, Kind::Locked);
    assert_eq!(refusal(&folder, OpenMode::ReadOnly).0, Kind::Locked);
}

#[test]
fn a_workspace_opened_for_reading_takes_nothing() {
    let (_place, folder) = workspace();
    let photo = Store::open(&folder, OpenMode::ReadWrite).unwrap().put_blob(b"image").unwrap();
    let store = Store::open(&folder, OpenMode::ReadOnly).unwrap();
    assert_eq!(store.folder(), folder);
    assert_eq!(store.since(1, 0).unwrap(), [entry(1)]);
    assert_eq!(store.blob(photo).unwrap().as_deref(), Some(&b"image"[..]));
    assert_eq!(store.doctor().unwrap().journal_mode, "wal");
    let refused = [
        store.create_document(2, "study", "x").unwrap_err(),
        store.put_snapshot(1, 1, 1, b"").unwrap_err(),
        store.put_texts(&["x"]).unwrap_err(),
        store.put_blob(b"x").unwrap_err(),
        store.remember("a", "b").unwrap_err(),
        store.index(1, "P1", "x").unwrap_err(),
        store.lease_labels(1, "tablet", 1).unwrap_err(),
        match store.append(1, 1, &entry(2)) {
            Err(crate::AppendError::Store(error)) => error,
            other => panic!("{other:?}"),
        },
    ];
    assert!(refused.iter().all(|error| error.kind == Kind::ReadOnly), "{refused:?}");
    assert_eq!(store.blob(Sha256::of(b"x")), Ok(None));
}

#[test]
fn a_file_alone_can_be_read_where_nothing_may_be_made_beside_it() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("über 100 % #1?");
    Store::open(&folder, OpenMode::Create).unwrap().create_document(1, "study", "pack").unwrap();
    assert!(!beside(&folder.join(DATABASE), "-wal").exists(), "the last to close clears the log away");
    // The fallback itself, since a test cannot make a disk read-only for every user.
    let address = immutable_address(&folder.join(DATABASE)).unwrap();
    let connection = connect(&address, OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI, SOON).unwrap();
    assert_eq!(form::read_head(&connection, &folder, STEPS), Ok(Head::Workspace(1)));
    assert!(!beside(&folder.join(DATABASE), "-shm").exists(), "nothing was made beside it");
}

#[test]
fn an_older_form_is_copied_and_then_brought_up() {
    let (_place, folder) = workspace();
    let error = Store::open_as(&folder, OpenMode::ReadOnly, NEXT, SOON).unwrap_err();
    assert_eq!(error.kind, Kind::Older);
    let store = Store::open_as(&folder, OpenMode::ReadWrite, NEXT, SOON).unwrap();
    assert_eq!(store.since(1, 0).unwrap(), [entry(1)]);
    let copy = store.backup().unwrap().to_path_buf();
    assert_eq!(copy, folder.join("workspace.before-form-2.sqlite"));
    assert_eq!(raw(&folder).query_row("SELECT count(*) FROM step", [], |row| row.get(0)), Ok(2));
    drop(store);
    assert_eq!(Store::open_as(&folder, OpenMode::ReadWrite, NEXT, SOON).unwrap().backup(), None, "one copy is enough");
    assert_eq!(refusal(&folder, OpenMode::ReadWrite).0, Kind::Newer);
    // The way back: the copy put in the place of the file.
    let restored = folder.join("restored");
    fs::create_dir(&restored).unwrap();
    fs::copy(&copy, restored.join(DATABASE)).unwrap();
    let store = Store::open(&restored, OpenMode::ReadWrite).unwrap();
    assert_eq!((store.since(1, 0).unwrap(), store.doctor().unwrap().form), (vec![entry(1)], 1));
}

#[test]
fn a_step_that_fails_leaves_the_older_form_whole() {
    let (_place, folder) = workspace();
    let broken =
        &[STEPS[0], "CREATE TABLE shelf (name TEXT) STRICT; INSERT INTO shelf VALUES ('a'); INSERT INTO nowhere VALUES (1);"];
    for copy in ["workspace.before-form-2.sqlite", "workspace.before-form-2-2.sqlite"] {
        assert_eq!(Store::open_as(&folder, OpenMode::ReadWrite, broken, SOON).unwrap_err().kind, Kind::Other);
        assert!(folder.join(copy).exists());
    }
    let store = Store::open(&folder, OpenMode::ReadWrite).unwrap();
    assert_eq!(store.since(1, 0).unwrap(), [entry(1)]);
    assert_eq!(raw(&folder).query_row("SELECT count(*) FROM sqlite_schema WHERE name = 'shelf'", [], |row| row.get(0)), Ok(0));
}

#[test]
fn the_file_itself_refuses_to_change_a_journal() {
    let (_place, folder) = workspace();
    let raw = raw(&folder);
    for change in [
        "UPDATE entry SET says = 'other'",
        "DELETE FROM entry",
        "INSERT INTO entry SELECT document, 3, zeroblob(16), author, time, says, undoes, idea, edits, form FROM entry",
        "INSERT INTO entry SELECT document, 2, zeroblob(9), author, time, says, undoes, idea, edits, form FROM entry",
        "INSERT INTO entry SELECT 9, 1, zeroblob(16), author, time, says, undoes, idea, edits, form FROM entry",
        "INSERT INTO lease VALUES (1, 5, 6, 'tablet')",
    ] {
        assert!(raw.execute(change, []).is_err(), "{change}");
    }
}

#[test]
fn the_doctor_tells_settings_and_counts() {
    let (_place, folder) = workspace();
    let store = Store::open(&folder, OpenMode::ReadWrite).unwrap();
    store.create_document(2, "rate book", "2026").unwrap();
    store.put_blob(b"image").unwrap();
    store.put_texts(&["title"]).unwrap();
    store.put_snapshot(1, 1, 1, b"state").unwrap();
    let doctor = store.doctor().unwrap();
    assert_eq!((doctor.journal_mode.as_str(), doctor.synchronous, doctor.foreign_keys), ("wal", 2, true));
    assert_eq!((doctor.form, doctor.known_form), (1, 1));
    assert_eq!(doctor.database, folder.join(DATABASE));
    assert_eq!((doctor.integrity.len(), doctor.gaps.len()), (0, 0));
    assert_eq!(doctor.counts.documents, [("rate book".to_string(), 1), ("study".to_string(), 1)].into());
    let counts = &doctor.counts;
    assert_eq!((counts.entries, counts.snapshots, counts.texts, counts.photos, counts.photo_bytes), (1, 1, 1, 1, 5));
    assert_eq!(doctor.file_system.is_some(), cfg!(target_os = "linux"));
    assert_eq!(raw(&folder).query_row("PRAGMA application_id", [], |row| row.get(0)), Ok(APPLICATION));
    let network = FileSystem { kind: "nfs4".into(), mount: "/srv".into(), network: true };
    let ill = Doctor { journal_mode: "delete".into(), file_system: Some(network), ..doctor.clone() };
    let codes: Vec<&str> = ill.advice().iter().map(|diag| diag.code).collect();
    assert_eq!(codes, ["store-network-drive", "store-journal-mode"]);
    let text = serde_json::to_string(&doctor).unwrap();
    assert_eq!(serde_json::from_str::<Doctor>(&text).unwrap(), doctor);
}

#[test]
fn the_doctor_finds_a_gap_and_a_reference_to_nothing() {
    let (_place, folder) = workspace();
    let store = Store::open(&folder, OpenMode::ReadWrite).unwrap();
    store.append(1, 1, &entry(2)).unwrap();
    store.put_snapshot(1, 1, 1, b"state").unwrap();
    assert_eq!(store.doctor().unwrap().advice(), []);
    let raw = raw(&folder);
    raw.execute_batch("PRAGMA foreign_keys = OFF; DROP TRIGGER entry_remains; DELETE FROM entry WHERE sequence = 1").unwrap();
    raw.execute_batch("INSERT INTO snapshot VALUES (99, 0, 1, zeroblob(1))").unwrap();
    let doctor = store.doctor().unwrap();
    assert_eq!(doctor.gaps, [crate::id_text(1)]);
    assert_eq!(doctor.integrity, ["row 99 of snapshot refers to nothing in document"]);
    let codes: Vec<&str> = doctor.advice().iter().map(|diag| diag.code).collect();
    assert_eq!(codes, ["store-damaged", "store-gap"]);
}

#[test]
fn a_damaged_file_is_called_damaged() {
    let (_place, folder) = workspace();
    let file = folder.join(DATABASE);
    let mut bytes = fs::read(&file).unwrap();
    let length = bytes.len();
    bytes[4096..length].fill(0x5a);
    fs::write(&file, bytes).unwrap();
    assert_eq!(refusal(&folder, OpenMode::ReadWrite).0, Kind::Damaged);
}
