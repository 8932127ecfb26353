//! A study of a workspace as a folder.

use super::extra::{Extra, is_head};
use super::layout::sequence;
use super::{Folder, write};
use crate::photo::{Limits, inspect};
use crate::workspace::{Loaded, Workspace};
use std::collections::BTreeMap;
use tare_diag::{Diag, Place};
use tare_exchange::Files;
use tare_model::{Field, Id, Kind};
use tare_store::{Journals, Sha256};

/// The files of a study's folder, and what is doubtful: photos and texts that are not in the workspace, photos that say where they were taken.
///
/// # Errors
/// One message of the store.
pub fn export(workspace: &Workspace, loaded: &Loaded) -> Result<(Files, Vec<Diag>), Vec<Diag>> {
    let document = &loaded.document;
    let (mut photos, mut texts, mut files, mut notes) = (BTreeMap::new(), BTreeMap::new(), Files::new(), Vec::new());
    let mut located = 0;
    for record in document.records().filter(|record| matches!(record.kind, Kind::Photo | Kind::Lock)) {
        let Some(digest) = record.text(Field::Digest) else { continue };
        let found = match (record.kind, digest.parse::<Sha256>()) {
            (Kind::Photo, Ok(_)) => match workspace.photo(digest) {
                Ok(Some(bytes)) => {
                    located += usize::from(inspect(&bytes, &Limits::default()).is_ok_and(|picture| picture.location));
                    photos.insert(digest.to_owned(), bytes);
                    true
                }
                Ok(None) => false,
                Err(diag) => {
                    notes.push(Diag { severity: tare_diag::Severity::Warning, ..diag });
                    continue;
                }
            },
            (_, Ok(sha256)) => {
                let text = workspace.store.text(sha256).map_err(|e| vec![e.diag()])?;
                text.map(|text| texts.insert(digest.to_owned(), text)).is_some()
            }
            _ => false,
        };
        if !found {
            let name = tare_diag::Place::address(format!(
                "{} {}",
                record.kind,
                record.text(Field::Name).or(record.text(Field::Key)).unwrap_or("?")
            ));
            let what = if record.kind == Kind::Photo { "the picture" } else { "the text" };
            notes
                .push(Diag::warning("folder-lacks", format!("{what} is not in the workspace and so not in the folder")).at(name));
        }
    }
    if located > 0 {
        let says =
            format!("{located} of the photos say where they were taken; the folder holds them as they came from the camera");
        notes.push(Diag::note("photo-location", says).hint("do not hand it on where that must not be known"));
    }
    let head = sequence(document).into_iter().find(|record| is_head(record.kind));
    for (path, digest) in head.and_then(Extra::of).into_iter().flat_map(|extra| extra.files) {
        let bytes =
            digest.parse().ok().map(|digest| workspace.store.blob(digest)).transpose().map_err(|e| vec![e.diag()])?.flatten();
        match bytes {
            Some(bytes) => drop(files.insert(path, bytes)),
            None => {
                notes.push(Diag::warning("folder-lacks", "a file that was kept is not in the workspace").at(Place::File(path)))
            }
        }
    }
    let before = loaded.head.saturating_sub(1);
    let last = workspace.store.since(document.id.0, before).map_err(|e| vec![e.diag()])?;
    let entry_id = last.iter().find(|entry| entry.sequence == loaded.head).map(|entry| Id(entry.id));
    let folder = Folder { document: document.clone(), entry: loaded.head, entry_id, photos, texts, files };
    Ok((write(&folder), notes))
}
