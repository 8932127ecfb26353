//! Studies from before texts were held, and texts that are lost.

use std::path::Path;
use tare_app::create::from_text;
use tare_app::text_form::TextFile;
use tare_app::{Basis, Library, Loaded, Session, Stamp, Workspace, doctor};
use tare_model::{Change, Field, FieldValue, Kind};

const STUDY: &str = r#"
[study.main]
name = "Arm"
currency = "EUR"
book = "region-a"

[scenario.base]
name = "Base"
value.volume = "20000 1/a"

[item.arm]
name = "Arm"
make = "make"
material = "steel-DC04"
value.mass = "2 kg"

[part.arm]
item = "arm"
count = 1
label = "P1"

[operation.deburr]
item = "arm"
name = "Deburr"
calculation = "processes/deburr"
"#;

/// A workspace that knows no library holds no texts, as it was once.
fn unlocked(folder: &Path) {
    let workspace = Workspace::open_or_create(folder).expect("a workspace");
    let files = [TextFile { name: "study.toml", text: STUDY }];
    from_text(&workspace, &Library::embedded().0, "study", None, &files, "a").expect("a study");
}

fn load(session: &Session) -> Loaded {
    session.workspace.load(&session.workspace.study(None).expect("one study")).expect("it loads")
}

fn rename(loaded: &Loaded, to: &str) -> Vec<Change> {
    let item = loaded.document.of_kind(None, Kind::Item).next().expect("an item").id;
    vec![Change::Set { id: item, field: Field::Name, to: Some(FieldValue::Text(to.into())) }]
}

fn basis(session: &Session, loaded: &Loaded) -> String {
    Basis::new(&loaded.document, &session.compile_document(&loaded.document).expect("compiled")).line()
}

#[test]
fn a_study_without_locks_says_so_and_its_next_entry_makes_them() {
    let folder = tempfile::tempdir().expect("a folder");
    unlocked(folder.path());
    let session = Session::open(folder.path(), true).expect("a session");
    let mut loaded = load(&session);
    assert!(basis(&session, &loaded).contains("not locked"));
    let advice = doctor::doctor(folder.path()).1;
    assert!(advice.iter().any(|d| d.code == "not-locked" && d.hints[0].contains("tare edit lock")), "{advice:?}");
    let stamp = Stamp { author: "a".into(), says: "renamed".into() };
    let changes = rename(&loaded, "Lever");
    let recorded = session.workspace.record(&mut loaded, &changes, &stamp).expect("recorded");
    assert_eq!(recorded.edits.len(), 1, "what a person did");
    let locks = load(&session).document.of_kind(None, Kind::Lock).count();
    assert!(locks >= 8, "{locks}");
    assert!(session.lock_differences(&load(&session).document).expect("differences").is_empty());
    assert!(!basis(&session, &loaded).contains("not locked"));
    assert!(doctor::doctor(folder.path()).1.iter().all(|d| d.code != "not-locked"));
    // Taking the entry back keeps them.
    session.workspace.undo(&mut loaded, None, "a").expect("undone");
    assert_eq!(load(&session).document.of_kind(None, Kind::Lock).count(), locks);
}

/// Two programs that bring the same text into use at once hold it once.
#[test]
fn a_text_is_held_once_though_two_programs_bring_it() {
    let folder = tempfile::tempdir().expect("a folder");
    unlocked(folder.path());
    let session = Session::open(folder.path(), true).expect("a session");
    let (mut one, mut two) = (load(&session), load(&session));
    let stamp = Stamp { author: "a".into(), says: "changed".into() };
    let label = |loaded: &Loaded| {
        let part = loaded.document.of_kind(None, Kind::Part).next().expect("a part").id;
        vec![Change::Set { id: part, field: Field::Label, to: Some(FieldValue::Text("X".into())) }]
    };
    let (first, second) = (rename(&one, "Lever"), label(&two));
    session.workspace.record(&mut one, &first, &stamp).expect("recorded");
    session.workspace.record(&mut two, &second, &stamp).expect("recorded behind it");
    let document = load(&session).document;
    let mut keys: Vec<&str> = document.of_kind(None, Kind::Lock).filter_map(|l| l.text(Field::Key)).collect();
    let all = keys.len();
    keys.sort_unstable();
    keys.dedup();
    assert_eq!(keys.len(), all);
}

/// Renewing is the way out that the message names.
#[test]
fn a_lost_text_is_said_and_renewing_helps() {
    let folder = tempfile::tempdir().expect("a folder");
    unlocked(folder.path());
    let mut session = Session::open(folder.path(), true).expect("a session");
    let mut loaded = load(&session);
    let stamp = Stamp { author: "a".into(), says: "changed".into() };
    let changes = rename(&loaded, "Lever");
    session.workspace.record(&mut loaded, &changes, &stamp).expect("recorded");
    let lock = loaded.document.of_kind(None, Kind::Lock).find(|l| l.text(Field::Key) == Some("processes/deburr"));
    let lost = Some(FieldValue::Text("0".repeat(64)));
    let change = Change::Set { id: lock.expect("held").id, field: Field::Digest, to: lost };
    session.workspace.record(&mut loaded, &[change], &stamp).expect("recorded");
    let refused = session.compile_document(&loaded.document).expect_err("lost");
    assert!(refused[0].code == "lock-missing" && refused[0].to_string().contains("processes/deburr"), "{refused:?}");
    assert!(doctor::doctor(folder.path()).1.iter().any(|d| d.code == "lock-missing"));
    // A person can still edit, and renew.
    let changes = rename(&loaded, "Arm");
    session.workspace.record(&mut loaded, &changes, &stamp).expect("recorded");
    session.renew_locks(&mut loaded, "a").expect("renewed");
    assert!(session.compile_document(&loaded.document).is_ok());
}
