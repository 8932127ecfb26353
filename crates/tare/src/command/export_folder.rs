//! `tare export folder`: the study folder, never over what was not taken from there.

use super::{Context, Outcome};
use crate::output::Output;
use std::path::Path;
use tare_app::Loaded;
use tare_app::folder::{self, disk};
use tare_app::idea::EditState;
use tare_diag::{Diag, Place};

pub(crate) fn run(path: &Path, replace: bool, context: &Context, output: &mut Output) -> Outcome {
    disk::may_write(path).map_err(|d| vec![d])?;
    let session = context.session(false, output)?;
    let (info, loaded) = context.document(&session.workspace)?;
    if !replace && path.exists() && disk::is_study_folder(path) {
        not_yet_taken(&session, path, &loaded)?;
    }
    let (files, notes) = folder::export(&session.workspace, &loaded)?;
    disk::save(path, &files).map_err(|d| vec![d])?;
    output.messages(&notes);
    let bytes: usize = files.values().map(Vec::len).sum();
    if output.json {
        output.json(&serde_json::json!({
            "ok": true, "study": info.name, "entry": loaded.head, "path": path.display().to_string(), "files": files.len(), "bytes": bytes
        }));
    } else {
        output.wrapped("", &format!("{} as of entry {} in {}: {} files", info.name, loaded.head, path.display(), files.len()));
    }
    Ok(true)
}

/// Refuses to write over a folder that holds what the study does not have.
fn not_yet_taken(session: &tare_app::Session, path: &Path, loaded: &Loaded) -> Result<(), Vec<Diag>> {
    let refused = |says: String| {
        let diag = Diag::error("folder-edited", says).at(Place::File(path.display().to_string()));
        vec![diag.hint("`tare import` shows and takes what it holds; `--replace` writes over it")]
    };
    let there = disk::load(path).and_then(|files| folder::plan(session, &files, false)).map_err(|problems| {
        refused(format!(
            "the folder that is there cannot be compared with the study ({})",
            problems.first().map_or("", |problem| &problem.message)
        ))
    })?;
    if there.info.id != loaded.document.id {
        return Err(refused(format!("the folder that is there is of another study, `{}`", there.info.name)));
    }
    let edits = there.edits.iter().filter(|edit| edit.state != EditState::AlreadySo).count();
    if edits > 0 || !there.problems.is_empty() {
        return Err(refused(format!("the folder that is there holds edits that the study does not have ({edits})")));
    }
    Ok(())
}
