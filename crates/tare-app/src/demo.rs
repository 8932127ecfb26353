//! The example that ships with the program: one invented product, ready to look at.

use crate::create::{self, from_text};
use crate::session::{OwnFile, Session};
use crate::text_form::TextFile;
use crate::workspace::{DocumentInfo, Loaded, Workspace};
use include_dir::{Dir, include_dir};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use tare_diag::Diag;
use tare_model::DocumentKind;
use tare_store::Journals;

static DEMO: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../../demo");

/// The set the demo's texts belong to.
const SET: &str = "demo";
/// The folder of the study that is shown; the others hold its rivals.
const FIRST: &str = "pack";
/// Who recorded the demo.
const AUTHOR: &str = "demo";

/// The texts of the study that is shown first, in order of name.
pub fn files() -> Vec<OwnFile> {
    let first = format!("{FIRST}/");
    all_files().into_iter().filter(|(name, _)| name.starts_with(&first)).collect()
}

/// The demo's texts, those of the rivals included, in order of name.
pub fn all_files() -> Vec<OwnFile> {
    let mut found = Vec::new();
    let mut open = vec![&DEMO];
    while let Some(folder) = open.pop() {
        open.extend(folder.dirs());
        let texts = folder.files().filter(|f| f.path().extension().is_some_and(|e| e == "toml"));
        found.extend(texts.filter_map(|f| Some((f.path().to_str()?.to_owned(), f.contents_utf8()?.to_owned()))));
    }
    found.sort();
    found
}

/// The demo's pictures by file name: drawings that stand in for photos.
pub fn pictures() -> Vec<(String, &'static [u8])> {
    let folder = DEMO.get_dir("pack/pictures");
    let files =
        folder.into_iter().flat_map(Dir::files).filter(|f| f.path().extension().is_some_and(|e| e == "jpg" || e == "png"));
    files.filter_map(|f| Some((f.path().file_name()?.to_str()?.to_owned(), f.contents()))).collect()
}

/// Opens the demo in a folder, creating it there if it is not there yet.
///
/// # Errors
/// Messages of the workspace, or of the demo's texts.
pub fn open(folder: &Path) -> Result<(Session, DocumentInfo, Loaded, Vec<Diag>), Vec<Diag>> {
    let session = Session::with(Workspace::open_or_create(folder).map_err(|d| vec![d])?)?;
    let known = session.workspace.documents().map_err(|d| vec![d])?;
    if let Some(info) = known.into_iter().find(|d| d.id == create::study_id(SET) && d.kind == DocumentKind::Study) {
        let loaded = session.workspace.load(&info).map_err(|d| vec![d])?;
        return Ok((session, info, loaded, Vec::new()));
    }
    // pictures are on the disk before the entry that names them
    for (_, bytes) in pictures() {
        session.workspace.store.put_blob(bytes).map_err(|e| vec![e.diag()])?;
    }
    let texts = all_files();
    let named: Vec<(String, &str)> = texts.iter().map(|(name, text)| (format!("demo/{name}"), text.as_str())).collect();
    let mut folders: BTreeMap<&str, Vec<TextFile<'_>>> = BTreeMap::new();
    for (name, text) in &named {
        let folder = name.split('/').nth(1).unwrap_or_default();
        folders.entry(folder).or_default().push(TextFile { name, text });
    }
    let mut created = Vec::new();
    for (folder, files) in folders {
        let set = if folder == FIRST { SET.to_owned() } else { format!("{SET}/{folder}") };
        created.extend(from_text(&session.workspace, &session.library, &set, None, &files, AUTHOR)?);
    }
    let warnings: Vec<Diag> = created.iter().flat_map(|c| c.warnings.clone()).collect();
    let study = created.into_iter().find(|c| c.info.id == create::study_id(SET));
    let study = study.ok_or_else(|| vec![Diag::error("demo-empty", "this program was built without the demo's texts")])?;
    Ok((session, study.info, study.loaded, warnings))
}

/// The demo's rivals as a workspace holds them.
///
/// # Errors
/// One message of the store.
pub fn rivals(workspace: &Workspace) -> Result<Vec<DocumentInfo>, Diag> {
    let folders: BTreeSet<String> =
        all_files().iter().filter_map(|(name, _)| name.split('/').next().map(str::to_owned)).collect();
    let ids: Vec<tare_model::Id> =
        folders.iter().filter(|folder| *folder != FIRST).map(|folder| create::study_id(&format!("{SET}/{folder}"))).collect();
    Ok(workspace.documents()?.into_iter().filter(|d| ids.contains(&d.id)).collect())
}
