//! The state of program, library and workspace, for a report of trouble.

use crate::session::own_files;
use crate::workspace::{DocumentInfo, Workspace};
use serde::Serialize;
use std::path::Path;
use tare_diag::{Diag, any_error};
use tare_library::Library;
use tare_model::{DocumentKind, Kind};

/// What was found.
#[derive(Clone, Debug, Serialize)]
pub struct Checkup {
    /// Program and version.
    pub program: String,
    /// Calculations, materials, quantities and rate books of the library.
    pub library: [usize; 4],
    /// Files of the workspace's own library.
    pub own_files: usize,
    /// The workspace, where there is one.
    pub workspace: Option<tare_store::Doctor>,
    /// Whether nothing was found wrong.
    pub well: bool,
}

/// Looks over the library, and the workspace in a folder if there is one. Messages say what should be looked into.
pub fn doctor(folder: &Path) -> (Checkup, Vec<Diag>) {
    let mut advice = Vec::new();
    let own = own_files(folder).unwrap_or_else(|found| {
        advice.extend(found);
        Vec::new()
    });
    let (library, problems) = crate::session::library_with(&own);
    advice.extend(problems);
    for diag in library.check() {
        if !advice.contains(&diag) {
            advice.push(diag);
        }
    }
    let mut workspace = None;
    if folder.exists() {
        match Workspace::open(folder, false) {
            Ok(open) => {
                match open.store.doctor() {
                    Ok(found) => {
                        advice.extend(found.advice());
                        workspace = Some(found);
                    }
                    Err(error) => advice.push(error.diag()),
                }
                match open.documents() {
                    Ok(documents) => {
                        let library = std::sync::Arc::new(library.clone());
                        for document in &documents {
                            advice.extend(look_over(&open, &library, document));
                            advice.extend(lost_releases(&open, document));
                            if let Ok(loaded) = open.load(document) {
                                advice.extend(tare_study::out_of_order(&loaded.document, &library));
                            }
                        }
                    }
                    Err(error) => advice.push(error),
                }
            }
            Err(diag) => advice.push(diag),
        }
    }
    let library =
        [library.calculations().count(), library.materials().count(), library.quantities().count(), library.books().count()];
    let program = format!("tare {}", env!("CARGO_PKG_VERSION"));
    (Checkup { program, library, own_files: own.len(), workspace, well: !any_error(&advice) }, advice)
}

/// What is wrong with a document: its journal, and the texts it holds on to.
fn look_over(workspace: &Workspace, library: &std::sync::Arc<Library>, info: &DocumentInfo) -> Vec<Diag> {
    let document = match workspace.load(info) {
        Ok(loaded) => loaded.document,
        Err(diag) => return vec![diag],
    };
    if document.kind != DocumentKind::Study {
        return Vec::new();
    }
    if document.of_kind(None, Kind::Lock).next().is_none() {
        let says = format!("the study `{}` is not locked: its totals follow a newer library", info.name);
        return vec![Diag::warning("not-locked", says).hint(format!("lock it with `tare edit lock --study \"{}\"`", info.name))];
    }
    workspace.held(library, &document).err().unwrap_or_default()
}

/// Releases of a study that do not read, or whose texts or line values are gone: they cannot be computed again.
fn lost_releases(workspace: &Workspace, info: &DocumentInfo) -> Vec<Diag> {
    match workspace.releases(info.id) {
        Ok(releases) => {
            let lost = |release| [workspace.texts_of(release).err(), workspace.lines_of(release).err()];
            releases.iter().flat_map(lost).flatten().collect()
        }
        Err(diag) => vec![diag],
    }
}
