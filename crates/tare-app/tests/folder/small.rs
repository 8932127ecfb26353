//! A small study in a workspace, and its folder.

use tare_app::create::from_text;
use tare_app::folder::{Files, export};
use tare_app::text_form::TextFile;
use tare_app::{Loaded, Session, Workspace};
use tempfile::TempDir;

/// The small study with texts that are not easily carried.
fn study() -> String {
    let text = include_str!("../small/bracket.toml").replace("\"region A\"", "\"موقع ١ (region A)\"");
    let own = text.replace("name = \"Maker\"\ntier = \"t1.integrator\"\n", "name = \"=cmd()\"\n");
    assert_ne!(own, text);
    own
}

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
        let files = [TextFile { name: "study.toml", text: &study() }];
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
