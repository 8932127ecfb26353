//! A small study in a workspace, and its folder.

use tare_app::create::from_text;
use tare_app::folder::{Files, export};
use tare_app::text_form::TextFile;
use tare_app::{Loaded, Session, Workspace};
use tempfile::TempDir;

const STUDY: &str = r#"
[study.main]
name = "Bracket"
currency = "EUR"
book = "region-a"
build_up = "build-up/study-teardown"
year = "2024"

[scenario.base]
name = "Base"
place = "موقع ١ (region A)"
value.volume = { text = "20000 1/a", evidence = "assumed", source = "asked" }
value.life = { text = "6 a", evidence = "assumed", source = "asked" }

[organisation.maker]
name = "=cmd()"

[item.bracket]
name = "Bracket"
make = "make"
form = "assembly"
organisation = "maker"

[item.plate]
name = "Plate"
make = "make"
material = "steel-DC04"
organisation = "maker"
value.mass = "2 kg"
value.length = "300 mm"
value.width = "200 mm"

[item.screw]
name = "Screw"
make = "buy"
form = "fastener"
value.mass = "10 g"
value.price = { text = "0.08 EUR", evidence = "quoted", source = "offer 1" }

[part.bracket]
item = "bracket"
count = 1
label = "P1"

[part.plate]
item = "plate"
parent = "bracket"
count = 2
label = "P2"

[part.screw]
item = "screw"
parent = "bracket"
count = 4
label = "P3"

[operation.deburr]
item = "plate"
name = "Deburr"
calculation = "processes/deburr"
"#;

/// A workspace in a folder of its own.
pub(crate) struct Place {
    _folder: TempDir,
    pub(crate) session: Session,
}

impl Place {
    pub(crate) fn empty() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let session = Session::with(Workspace::open_or_create(folder.path()).expect("a workspace")).expect("a session");
        Self { _folder: folder, session }
    }

    pub(crate) fn with_study() -> Self {
        let place = Self::empty();
        let files = [TextFile { name: "study.toml", text: STUDY }];
        from_text(&place.session.workspace, &place.session.library, "study", None, &files, "a").expect("a study");
        place
    }

    pub(crate) fn load(&self) -> Loaded {
        self.session.workspace.load(&self.session.workspace.study(None).expect("one study")).expect("it loads")
    }

    pub(crate) fn export(&self) -> Files {
        let (files, notes) = export(&self.session.workspace, &self.load()).expect("exported");
        assert_eq!(notes, []);
        files
    }
}

/// A text of the folder, one thing in it exchanged for another wherever it stands.
#[track_caller]
pub(crate) fn exchange(files: &mut Files, file: &str, from: &str, to: &str) {
    let text = String::from_utf8(files[file].clone()).expect("text");
    assert!(text.contains(from), "`{from}` is not in {file}:\n{text}");
    files.insert(file.to_owned(), text.replace(from, to).into_bytes());
}

/// A line of a table taken out.
#[track_caller]
pub(crate) fn without_line(files: &mut Files, file: &str, begins: &str) {
    let text = String::from_utf8(files[file].clone()).expect("text");
    let kept: Vec<&str> = text.lines().filter(|line| !line.starts_with(begins)).collect();
    assert!(kept.len() < text.lines().count(), "no line of {file} begins with {begins}");
    files.insert(file.to_owned(), (kept.join("\n") + "\n").into_bytes());
}
