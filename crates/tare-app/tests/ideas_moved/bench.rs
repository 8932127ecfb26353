//! A small study with ideas, and what is done with it.

use std::path::{Path, PathBuf};
use tare_app::create::from_text;
use tare_app::edit_command::{intent, parse_line};
use tare_app::idea::{self, EditState, Findings, Idea, NewIdea, standing};
use tare_app::text_form::TextFile;
use tare_app::{Document, DocumentInfo, Field, Kind, Loaded, Options, Session, Stamp, Stop, Study, Workspace, view};
use tare_diag::Diag;
use tare_model::Edit;
use tare_store::{Entry, Journals, OpenMode, Store};

/// A box of a cover, a label and screws; all bought.
const BOX: &str = r#"
[study.main]
name = "Box"
currency = "EUR"
book = "region-a"
[scenario.base]
name = "Base"
value.volume = { text = "1000 1/a", evidence = "assumed" }
value.life = { text = "5 a", evidence = "assumed" }
[item.box]
name = "Box"
make = "make"
form = "assembly"
[item.cover]
name = "Cover"
make = "buy"
value.price = { text = "10 .. 12 .. 14 EUR", evidence = "quoted", source = "offer" }
value.mass = { text = "2 kg", evidence = "measured" }
[item.label]
name = "Label"
make = "buy"
value.price = { text = "0.50 EUR", evidence = "quoted", source = "offer" }
value.mass = { text = "3 g", evidence = "measured" }
[item.screw]
name = "Screw"
make = "buy"
form = "fastener"
value.price = { text = "0.05 EUR", evidence = "quoted", source = "offer" }
value.mass = { text = "4 g", evidence = "measured" }
[part.box]
item = "box"
count = 1
label = "P1"
[part.cover]
item = "cover"
parent = "box"
count = 1
label = "P2"
[part.screw]
item = "screw"
parent = "box"
count = 6
label = "P3"
[part.label]
item = "label"
parent = "cover"
count = 2
label = "P4"
"#;

/// A rule of the workspace's own, so that its hits are known here.
const RULE: &str = r#"
title = "Cheaper cover"
kind = "material"
about = "part"
when = "has(name, 'cover') and mass > 1 [kg]"
says = "the cover weighs {mass:kg}"
source = "invented for this test"
risk = "low"
advice = "Look at it."
one_off = "100 .. 200 .. 400 EUR"
one_off_source = "invented for this test"
[[edit]]
do = "set {part.item}/price \"8 EUR\""
"#;
pub(super) const HIT: &str = "cheaper-cover:P2";

pub(super) struct Bench {
    place: tempfile::TempDir,
    pub(super) session: Session,
    pub(super) info: DocumentInfo,
    pub(super) loaded: Loaded,
}

pub(super) fn bench() -> Bench {
    let place = tempfile::tempdir().expect("a folder");
    let folder = folder(place.path());
    let workspace = Workspace::open_or_create(&folder).expect("a workspace");
    let rules = folder.join("library/opportunities");
    std::fs::create_dir_all(&rules).expect("a folder");
    std::fs::write(rules.join("cheaper-cover.toml"), RULE).expect("written");
    let session = Session::with(workspace).expect("a session");
    let files = [TextFile { name: "study.toml", text: BOX }];
    let made = from_text(&session.workspace, &session.library, "box", None, &files, "test").expect("the text holds");
    let made = made.into_iter().next().expect("one study");
    Bench { place, session, info: made.info, loaded: made.loaded }
}

fn folder(place: &Path) -> PathBuf {
    place.join("w")
}

impl Bench {
    pub(super) fn seal(&self, lines: &[&str]) -> Vec<Edit> {
        let lines: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
        idea::seal(&self.loaded.document, &self.session.library, &lines).expect("every command fits")
    }

    /// How an idea's edits fit once other edits were made.
    pub(super) fn after(&self, lines: &[&str], edits: &[Edit]) -> Vec<(EditState, Option<Diag>)> {
        let mut moved = self.loaded.document.clone();
        for line in lines {
            let meant = intent(&moved, &self.session.library, &parse_line(line).expect("a line")).expect("an edit");
            moved.change_all(&meant.changes).expect("it holds");
        }
        let before = moved.clone();
        let found = standing(&moved, edits).into_iter().map(|s| (s.state, s.problem)).collect();
        assert_eq!(moved, before, "asking changes nothing");
        found
    }

    pub(super) fn edit(&mut self, line: &str) {
        edit(&self.session, &mut self.loaded, line);
        self.info.head = self.loaded.head;
    }

    pub(super) fn add(&mut self, name: &str, lines: &[&str], one_off: Option<&str>) {
        let edits = lines.iter().map(|line| (*line).to_owned()).collect();
        let new = NewIdea { name: name.into(), edits, one_off: one_off.map(str::to_owned), ..NewIdea::default() };
        let made = idea::new_idea(&self.loaded.document, &self.session.library, self.loaded.head, &new);
        let (changes, says) = made.expect("an idea");
        let stamp = Stamp { author: "test".into(), says };
        self.session.workspace.record(&mut self.loaded, &changes, &stamp).expect("recorded");
        self.info.head = self.loaded.head;
    }

    pub(super) fn study(&self) -> Study {
        self.session.compile_document(&self.loaded.document).expect("it compiles")
    }

    pub(super) fn found(&self) -> Findings {
        idea::found(&self.loaded.document, &self.study(), &self.session.library)
    }

    pub(super) fn named(&self, labels: &[&str]) -> Vec<Idea> {
        let labels: Vec<String> = labels.iter().map(|l| (*l).to_owned()).collect();
        self.found().named(&labels).expect("the ideas")
    }

    pub(super) fn view(&self) -> view::IdeasView {
        let findings = self.found();
        let (study, document) = (self.study(), &self.loaded.document);
        let texts = self.session.texts(document).expect("texts");
        let options = Options { most: 256, least: 256, ..Options::default() };
        let found = idea::evaluate(&texts, document, &study, findings.ideas.clone(), None, options, Stop::default());
        view::ideas(document, &study, &found.expect("not stopped"), &findings)
    }

    pub(super) fn take(&mut self, labels: &[&str], name: &str) -> Result<idea::Taken, Vec<Diag>> {
        let ideas = self.named(labels);
        let taken = idea::take(&self.session.workspace, (&self.info, &mut self.loaded), &ideas, name, "test");
        self.info.head = self.loaded.head;
        taken
    }

    pub(super) fn load(&self, info: &DocumentInfo) -> Loaded {
        self.session.workspace.load(info).expect("it loads")
    }

    /// The journal of a document, as it stands on the disk.
    pub(super) fn entries(&self, info: &DocumentInfo) -> Vec<Entry> {
        let store = Store::open(&folder(self.place.path()), OpenMode::ReadOnly).expect("opens");
        store.since(info.id.0, 0).expect("entries")
    }

    /// As another program, later, finds it.
    pub(super) fn reopened(self) -> Self {
        let Self { place, session, info, .. } = self;
        drop(session);
        let session = Session::open(&folder(place.path()), true).expect("opens");
        let loaded = session.workspace.load(&info).expect("it loads");
        Self { place, session, info, loaded }
    }
}

fn edit(session: &Session, loaded: &mut Loaded, line: &str) {
    let meant = intent(&loaded.document, &session.library, &parse_line(line).expect("a line")).expect("an edit");
    let stamp = Stamp { author: "test".into(), says: meant.says };
    session.workspace.record(loaded, &meant.changes, &stamp).expect("recorded");
}

pub(super) fn states(found: &[(EditState, Option<Diag>)]) -> Vec<EditState> {
    found.iter().map(|(state, _)| *state).collect()
}

/// What stands of a quantity of an item.
pub(super) fn stated(document: &Document, item: &str, quantity: &str) -> Option<String> {
    let item = document.of_kind(None, Kind::Item).find(|r| r.text(Field::Name) == Some(item))?;
    let value = document.of_kind(Some(item.id), Kind::Value).find(|v| v.text(Field::Quantity) == Some(quantity))?;
    value.text(Field::Text).map(str::to_owned)
}

pub(super) fn state_of(document: &Document, idea: &str) -> Option<String> {
    let record = document.of_kind(None, Kind::Idea).find(|r| r.text(Field::Label) == Some(idea))?;
    record.text(Field::State).map(str::to_owned)
}
