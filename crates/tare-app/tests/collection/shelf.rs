//! Small studies of several clients in one workspace.

use std::path::PathBuf;
use tare_app::collection::{Asked, Collection, Wanted};
use tare_app::create::from_text;
use tare_app::edit_command::{intent, parse_line};
use tare_app::text_form::TextFile;
use tare_app::{DocumentInfo, Session, Stamp, Workspace};
use tare_diag::Diag;

/// A box of a cover and screws, bought; all but the client is the same in each study.
fn text(name: &str, client: Option<&str>, price: &str) -> String {
    let client = client.map_or_else(String::new, |client| format!("client = \"{client}\"\n"));
    format!(
        r#"
[study.main]
name = "{name}"
currency = "EUR"
book = "region-a"
{client}
[scenario.base]
name = "Base"
value.volume = {{ text = "1000 1/a", evidence = "assumed" }}
value.life = {{ text = "5 a", evidence = "assumed" }}
[item.box]
name = "Box"
make = "make"
form = "assembly"
[item.cover]
name = "Cover"
make = "buy"
value.price = {{ text = "{price}", evidence = "quoted", source = "offer" }}
value.mass = {{ text = "2 kg", evidence = "measured" }}
[item.screw]
name = "Screw"
make = "buy"
form = "fastener"
value.price = {{ text = "0.05 EUR", evidence = "quoted", source = "offer" }}
value.mass = {{ text = "4 g", evidence = "measured" }}
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
[yardstick.space]
name = "Space"
value.volume = {{ text = "10 l", evidence = "measured" }}
"#
    )
}

pub(super) struct Shelf {
    _place: tempfile::TempDir,
    pub(super) folder: PathBuf,
    pub(super) session: Session,
}

impl Shelf {
    pub(super) fn of(studies: &[(&str, Option<&str>)]) -> Self {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("w");
        let session = Session::with(Workspace::open_or_create(&folder).expect("a workspace")).expect("a session");
        for (at, (name, client)) in studies.iter().enumerate() {
            let text = text(name, *client, &format!("{} EUR", 10 + at));
            let files = [TextFile { name: "study.toml", text: &text }];
            from_text(&session.workspace, &session.library, name, None, &files, "test").expect("the text holds");
        }
        Self { _place: place, folder, session }
    }

    /// The workspace as another program, later, opens it.
    pub(super) fn reopened(self) -> Self {
        let Self { _place, folder, session } = self;
        drop(session);
        let session = Session::open(&folder, true).expect("opens");
        Self { _place, folder, session }
    }

    pub(super) fn load(&self, client: Option<&str>, under: Option<&str>) -> Result<Collection, Vec<Diag>> {
        let wanted =
            Wanted { client: client.map(str::to_owned), under: under.map(str::to_owned), totals_only: false, only: None };
        Collection::load(&self.session, &wanted)
    }

    pub(super) fn info(&self, name: &str) -> DocumentInfo {
        self.session.workspace.study(Some(name)).expect("the study")
    }

    pub(super) fn edit(&self, study: &str, line: &str) {
        let mut loaded = self.session.workspace.load(&self.info(study)).expect("loads");
        let meant = intent(&loaded.document, &self.session.library, &parse_line(line).expect("a line")).expect("an edit");
        let stamp = Stamp { author: "test".into(), says: meant.says };
        self.session.workspace.record(&mut loaded, &meant.changes, &stamp).expect("recorded");
    }
}

pub(super) fn names(collection: &Collection) -> Vec<&str> {
    collection.studies.iter().map(|(info, _)| info.name.as_str()).collect()
}

pub(super) fn codes(problems: &[Diag]) -> Vec<&str> {
    problems.iter().map(|p| p.code).collect()
}

pub(super) fn question(rows: &str, when: &str, show: &[&str]) -> Asked {
    let show = show.iter().map(|text| (*text).to_owned()).collect();
    Asked { key: "q".into(), title: "Q".into(), rows: rows.into(), when: when.into(), show }
}
