//! The state of program, library and workspace, for a report of trouble.

use crate::session::own_files;
use crate::workspace::Workspace;
use serde::Serialize;
use std::path::Path;
use tare_diag::{Diag, any_error};

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
                        for document in &documents {
                            match open.load(document) {
                                Ok(loaded) => advice.extend(tare_study::out_of_order(&loaded.document, &library)),
                                Err(error) => advice.push(error),
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
