//! A workspace with a small study, its own rate book and its own library.

use std::path::PathBuf;
use tare_app::create::from_text;
use tare_app::edit_command::{intent, parse_line};
use tare_app::privacy::Class;
use tare_app::release::{Asked, Checked, Program, Release};
use tare_app::text_form::TextFile;
use tare_app::{DocumentInfo, Library, Loaded, Options, Session, Stamp, Stop, Workspace};
use tare_diag::Diag;
use tare_model::{Change, Field, FieldValue, Kind};
use tempfile::TempDir;

/// The small study with rates of its own and a hold.
pub(crate) fn bracket() -> String {
    let text = include_str!("../small/bracket.toml");
    let own = text.replace("book = \"region-a\"\nbuild_up = \"build-up/study-teardown\"\n", "book = \"Own rates\"\n");
    assert_ne!(own, text);
    own + "\n[hold.gloves]\nname = \"Edges are sharp\"\nstate = \"recorded\"\nwho = \"J. Doe\"\n"
}

/// Its rates, two of them with a spread.
fn rates() -> String {
    let text = include_str!("../small/own-rates.toml");
    let spread = text.replace("\"30 EUR/h\"", "\"30 +- 3 EUR/h\"").replace("\"1.1 EUR/kg\"", "\"1.1 +- 0.1 EUR/kg\"");
    assert_eq!(spread.matches("+-").count(), 2);
    spread
}

/// The library's own deburring with another speed.
pub(crate) fn slower() -> String {
    let path = format!("{}/../../library/processes/deburr.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("a library file");
    let other = text.replace("20 .. 40 .. 80 mm/s", "10 .. 20 .. 40 mm/s");
    assert_ne!(text, other);
    other
}

pub(crate) struct Bench {
    pub(crate) folder: TempDir,
}

impl Bench {
    pub(crate) fn new() -> Self {
        let bench = Self::bare();
        Workspace::open_or_create(&bench.path()).expect("a workspace");
        bench.add("book.toml", &rates());
        bench.add("study.toml", &bracket());
        bench
    }

    /// A folder in which nothing stands.
    pub(crate) fn bare() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    pub(crate) fn path(&self) -> PathBuf {
        self.folder.path().join("packs")
    }

    pub(crate) fn add(&self, name: &str, text: &str) {
        let session = self.session();
        let files = [TextFile { name, text }];
        from_text(&session.workspace, &session.library, name, None, &files, "a").expect("made");
    }

    /// Writes a file of the own library.
    pub(crate) fn own(&self, name: &str, text: &str) {
        let file = self.path().join("library").join(name);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("made");
        std::fs::write(file, text).expect("written");
    }

    pub(crate) fn session(&self) -> Session {
        Session::open(&self.path(), true).expect("a session")
    }

    pub(crate) fn raw(&self, sql: &str) -> usize {
        let connection = rusqlite::Connection::open(self.path().join("workspace.sqlite")).expect("a database");
        connection.execute(sql, []).expect("done")
    }

    /// Records an edit in the words of the command line.
    pub(crate) fn edit(&self, line: &str) {
        self.edit_in("Bracket", line);
    }

    pub(crate) fn edit_in(&self, document: &str, line: &str) {
        let session = self.session();
        let all = session.workspace.documents().expect("documents");
        let info = all.into_iter().find(|d| d.name == document).expect("the document");
        let mut loaded = session.workspace.load(&info).expect("it loads");
        let meant = intent(&loaded.document, &session.library, &parse_line(line).expect("a command")).expect("an edit");
        let stamp = Stamp { author: "b".into(), says: meant.says.clone() };
        session.workspace.record(&mut loaded, &meant.changes, &stamp).expect("recorded");
    }

    /// Names the calculation of the deburring, known or not, as an import may.
    pub(crate) fn calculation(&self, key: &str) {
        let session = self.session();
        let mut loaded = load(&session);
        let id = loaded.document.records().find(|r| r.kind == Kind::Operation).expect("an operation").id;
        let change = Change::Set { id, field: Field::Calculation, to: Some(FieldValue::Text(key.into())) };
        let stamp = Stamp { author: "b".into(), says: "calculation".into() };
        session.workspace.record(&mut loaded, &[change], &stamp).expect("recorded");
    }

    pub(crate) fn renew(&self) {
        let mut session = self.session();
        let mut loaded = load(&session);
        assert!(session.renew_locks(&mut loaded, "b").expect("renewed").0.is_some(), "there was nothing to renew");
    }

    pub(crate) fn undo(&self) {
        let session = self.session();
        session.workspace.undo(&mut load(&session), None, "b").expect("undone");
    }

    pub(crate) fn make(&self, says: &str) -> Release {
        self.try_make(&asked(says)).expect("a release")
    }

    pub(crate) fn try_make(&self, asked: &Asked) -> Result<Release, Vec<Diag>> {
        let session = self.session();
        session.make_release(&study(&session), asked, "a", Stop::default())
    }

    pub(crate) fn check(&self, number: u64) -> Checked {
        self.check_as(number, 2, &Program::this())
    }

    pub(crate) fn check_as(&self, number: u64, threads: usize, program: &Program) -> Checked {
        let session = self.session();
        session.check_release(&study(&session), number, threads, program, Stop::default()).expect("an answer")
    }

    /// The should-cost of the study as it is.
    pub(crate) fn cost(&self) -> f64 {
        let session = self.session();
        let study = session.compile_document(&load(&session).document).expect("compiled");
        study.value(study.totals.cost.expect("a cost"))
    }
}

/// The bracket.
pub(crate) fn study(session: &Session) -> DocumentInfo {
    session.workspace.study(Some("Bracket")).expect("the study")
}

pub(crate) fn load(session: &Session) -> Loaded {
    session.workspace.load(&study(session)).expect("it loads")
}

pub(crate) fn asked(says: &str) -> Asked {
    let options = Options { most: 2_560, least: 2_560, threads: 1, ..Options::default() };
    Asked { says: says.into(), class: Class::Client, options, with_errors: false }
}

#[track_caller]
pub(crate) fn reproduced(checked: &Checked) {
    assert_eq!(checked.why_not, None);
    let frozen = &checked.release.frozen;
    let same = checked.same;
    assert_eq!((same.lines, same.headlines, same.draws), (frozen.lines.count, frozen.headlines.len(), frozen.draws.made));
    assert!(same.lines > 100 && same.headlines >= 2 && same.draws >= 128, "{same:?}");
}

#[track_caller]
pub(crate) fn refused(checked: &Checked, code: &str, words: &[&str]) {
    let why = checked.why_not.as_ref().expect("it is not reproduced");
    assert_eq!(why.code, code, "{why:?}");
    for word in words {
        assert!(why.to_string().contains(word), "`{word}` in {why}");
    }
}

/// The library alone, to see that no embedded text is looked at.
pub(crate) fn embedded() -> Library {
    Library::embedded().0
}
