//! Two programs at one workspace; snapshots are only a cache; undo and redo through a long history.

use tare_app::create::{NewStudy, new_study};
use tare_app::edit_command::{EditCommand, intent};
use tare_app::{Loaded, Session, Stamp, Workspace};
use tare_diag::Diag;
use tare_model::{Document, Kind};

fn session() -> (tempfile::TempDir, Session) {
    let folder = tempfile::tempdir().expect("a folder");
    let workspace = Workspace::open_or_create(&folder.path().join("deep/er")).expect("a workspace");
    let session = Session::with(workspace).expect("a session");
    let new = NewStudy { name: "S".into(), currency: "EUR".into(), ..NewStudy::default() };
    new_study(&session.workspace, &session.library, &new, "a").expect("a study");
    (folder, session)
}

fn load(session: &Session) -> Loaded {
    session.workspace.load(&session.workspace.study(None).expect("one study")).expect("it loads")
}

fn set(session: &Session, loaded: &mut Loaded, target: &str, to: &str) -> Result<u64, Vec<Diag>> {
    let command = EditCommand::Set { target: target.into(), to: to.into(), about: Box::default(), beside: false };
    let meant = intent(&loaded.document, &session.library, &command)?;
    session.workspace.record(loaded, &meant.changes, &Stamp { author: "b".into(), says: meant.says }).map(|r| r.number)
}

#[test]
fn edits_of_different_fields_merge_and_of_one_field_conflict() {
    let (_folder, session) = session();
    let (mut one, mut two) = (load(&session), load(&session));
    assert_eq!(set(&session, &mut one, "P1/name", "Pack A"), Ok(2));
    // The other has not seen entry 2; it touches something else, so it is recorded behind it.
    assert_eq!(set(&session, &mut two, "P1/count", "2"), Ok(3));
    assert_eq!(load(&session).document, two.document, "and has the first one's change too");
    let refused = set(&session, &mut one, "P1/count", "5").expect_err("stale");
    assert_eq!(refused.len(), 1);
    let says = refused[0].to_string();
    assert!(says.contains("is 2 now") && says.contains("expects 1") && says.contains("would write 5"), "{says}");
    assert_eq!(load(&session).head, 3, "nothing was recorded");
}

#[test]
fn a_long_history_loads_the_same_with_and_without_its_snapshot() {
    let (folder, session) = session();
    let mut loaded = load(&session);
    for count in 2..60 {
        set(&session, &mut loaded, "P1/count", &count.to_string()).expect("recorded");
    }
    let first = load(&session);
    let second = load(&session);
    assert_eq!(first.document, loaded.document);
    assert_eq!((second.document, second.head), (first.document, 59));
    drop(session);
    let again = Session::open(&folder.path().join("deep/er"), false).expect("opens for reading");
    assert_eq!(load(&again).document, loaded.document);
}

#[test]
fn undo_all_the_way_and_redo_all_the_way() {
    let (_folder, session) = session();
    let mut loaded = load(&session);
    let begun = loaded.document.clone();
    for (target, to) in
        [("P1/name", "A"), ("P1/count", "3"), ("P1/mass", "2 kg"), ("P1/mass", "3 kg"), ("scenario/volume", "100 1/a")]
    {
        set(&session, &mut loaded, target, to).expect("recorded");
    }
    let done = loaded.document.clone();
    for _ in 0..5 {
        session.workspace.undo(&mut loaded, None, "c").expect("undone");
    }
    // The texts that the study came to use stay held; everything else is as it was.
    let said = |document: &Document| document.records().filter(|r| r.kind != Kind::Lock).cloned().collect::<Vec<_>>();
    assert_eq!(said(&loaded.document), said(&begun));
    for _ in 0..5 {
        session.workspace.redo(&mut loaded, None, "c").expect("redone");
    }
    assert_eq!(loaded.document, done);
    assert!(session.workspace.redo(&mut loaded, None, "c").is_err());
    let history = session.workspace.history(loaded.document.id).expect("history");
    assert_eq!(history.len(), 16);
    assert!(history.iter().all(|h| !h.undone));
    // Undo after redo, and again.
    session.workspace.undo(&mut loaded, None, "c").expect("undone");
    session.workspace.redo(&mut loaded, None, "c").expect("redone");
    assert_eq!(loaded.document, done);
}

/// What is carried along from recording is what compiling again gives, for small edits and for those that change the graph.
#[test]
fn a_recorded_edit_leaves_the_study_as_compiling_again_would() {
    let (_folder, mut session) = session();
    let info = session.workspace.study(None).expect("one study");
    let mut loaded = load(&session);
    session.compiled(&info, &loaded).expect("compiles");
    let edits =
        [("P1/mass", "2 kg"), ("P1/mass", "3 kg"), ("P1/mass", "4 lb"), ("P1/count", "3"), ("scenario/volume", "100 1/a")];
    for (target, to) in edits {
        let command = EditCommand::Set { target: target.into(), to: to.into(), about: Box::default(), beside: false };
        let meant = intent(&loaded.document, &session.library, &command).expect("an edit");
        let stamp = Stamp { author: "b".into(), says: meant.says };
        session.record(&info, &mut loaded, &meant.changes, &stamp).expect("recorded");
        let kept = session.compiled(&info, &loaded).expect("compiles");
        let again = session.compile_document(&loaded.document).expect("compiles");
        let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&kept.values), bits(&again.values), "{target} {to}");
        assert_eq!(kept.problems, again.problems, "{target} {to}");
    }
}
