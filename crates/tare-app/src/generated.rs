//! Workspaces with a generated study of any size: for benches, load and browser tests. Their figures mean nothing.

use crate::workspace::{DocumentInfo, Loaded, Stamp, Workspace};
use std::path::Path;
use tare_diag::Diag;
use tare_model::{Change, Document, Kind, Record};
pub use tare_study::generate::Size;
use tare_study::generate::study;

/// What the study is called.
pub const NAME: &str = "Generated";

/// Makes a workspace that holds a generated study in one entry, opened once so that its snapshot is there.
///
/// # Errors
/// Messages of the workspace: it cannot be made, or holds a study already.
pub fn workspace(folder: &Path, size: Size, seed: u64) -> Result<DocumentInfo, Vec<Diag>> {
    let one = |diag| vec![diag];
    put(&Workspace::open_or_create(folder).map_err(one)?, &study(size, seed), NAME)
}

/// Puts a generated study into a workspace in one entry, and loads it once so that its snapshot is there.
///
/// # Errors
/// Messages of the workspace: the name is taken, or nothing may be written.
pub fn put(workspace: &Workspace, document: &Document, name: &str) -> Result<DocumentInfo, Vec<Diag>> {
    let one = |diag| vec![diag];
    workspace.create_document(document.id, document.kind, name).map_err(one)?;
    let mut loaded = Loaded { document: Document::new(document.id, document.kind), head: 0 };
    let stamp = Stamp { author: "generator".to_owned(), says: format!("{} records generated", document.records().len()) };
    workspace.record(&mut loaded, &depth_first(document), &stamp)?;
    let info = workspace.study(Some(name)).map_err(one)?;
    workspace.load(&info).map_err(one)?;
    Ok(info)
}

/// Records so that what is referred to comes first: items and other tops, then parts from the top down, then the rest.
fn depth_first(document: &Document) -> Vec<Change> {
    let rank = |record: &&Record| match record.kind {
        Kind::Study | Kind::Scenario | Kind::Organisation => 0,
        Kind::Item => 1,
        Kind::Part => 2,
        Kind::Joint | Kind::Operation => 3,
        _ => 4,
    };
    let mut records: Vec<&Record> = document.records().collect();
    // ids count up in the order of making, so a parent comes before its children
    records.sort_by_key(|record| (rank(record), record.id));
    records.into_iter().map(|record| Change::Add { record: record.clone() }).collect()
}
