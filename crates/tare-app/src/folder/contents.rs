//! What a folder brings beside its rows: whether it is there and right, and into the workspace with it.

use super::{Folder, Reading};
use crate::check_value::{Subject, check_rate, check_value};
use crate::photo::{Limits, inspect};
use crate::workspace::Workspace;
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Document, Field, Kind, Record};
use tare_store::{Journals, Sha256};

/// Texts the study holds on to and photos that are neither in the folder nor here.
pub(super) fn missing(workspace: &Workspace, library: &Library, reading: &Reading) -> Vec<Diag> {
    let mut found = Vec::new();
    for (id, place) in &reading.lacking {
        let Some(record) = reading.folder.document.get(*id) else { continue };
        let digest = record.text(Field::Digest).unwrap_or_default();
        let sha256 = digest.parse::<Sha256>().ok();
        if record.kind == Kind::Photo {
            let here = sha256.is_some() && workspace.photo(digest).is_ok_and(|bytes| bytes.is_some());
            if !here {
                let diag = Diag::warning("photo-missing", "the picture is neither in the folder nor in the workspace");
                found.push(diag.at(place.clone()).hint("put it into `photos/` and name it in `file`"));
            }
            continue;
        }
        let key = record.text(Field::Key).unwrap_or_default();
        let stored = sha256.is_some_and(|digest| workspace.store.text(digest).is_ok_and(|text| text.is_some()));
        let present =
            || crate::held_text::current(library, &[], key).is_some_and(|text| Sha256::of(text.as_bytes()).to_string() == digest);
        if !stored && !present() {
            let says = format!("the text of `{key}` that the study holds on to is neither in the folder nor in the workspace");
            let hint = "put it into `texts/` and name it in `file`, or delete the row to compute with the present text";
            found.push(Diag::error("text-missing", says).at(place.clone()).hint(hint));
        }
    }
    found
}

/// Pictures that come in and that would be refused at the bench too.
pub(super) fn pictures(workspace: &Workspace, reading: &Reading) -> Vec<Diag> {
    let mut found = Vec::new();
    for record in reading.folder.document.records().filter(|record| record.kind == Kind::Photo) {
        let digest = record.text(Field::Digest).unwrap_or_default();
        let Some(bytes) = reading.folder.photos.get(digest) else { continue };
        if workspace.photo(digest).is_ok_and(|known| known.is_some()) {
            continue;
        }
        let refused = inspect(bytes, &Limits::default()).err();
        let place = reading.place(record.id, Some(Field::File));
        found.extend(refused.map(|diag| match place {
            Some(place) => diag.at(place),
            None => diag,
        }));
    }
    found
}

/// Puts photos, held texts and unknown files into the workspace: they are on the disk before the entry that names them.
pub(super) fn keep(workspace: &Workspace, folder: &Folder) -> Result<(), Vec<Diag>> {
    for bytes in folder.photos.values().chain(folder.files.values()) {
        workspace.store.put_blob(bytes).map_err(|e| vec![e.diag()])?;
    }
    let texts: Vec<&str> = folder.texts.values().map(String::as_str).collect();
    workspace.store.put_texts(&texts).map(|_| ()).map_err(|e| vec![e.diag()])
}

/// What is wrong with a stated value or rate, at its cell.
pub(super) fn checked(
    library: &Library,
    document: &Document,
    record: &Record,
    reading: &Reading,
    at_most: tare_diag::Severity,
) -> Vec<Diag> {
    let Some(text) = record.text(Field::Text) else { return Vec::new() };
    let found: Vec<Diag> = match record.kind {
        Kind::Value if record.text(Field::Calculation).is_none() && record.text(Field::Method) != Some("difference") => {
            let Some(subject) = record.parent.and_then(|parent| document.get(parent)) else { return Vec::new() };
            let of = Subject { kind: subject.kind, calculation: subject.text(Field::Calculation) };
            check_value(library, &of, record.text(Field::Quantity).unwrap_or_default(), text)
                .into_iter()
                .map(|(diag, _)| diag)
                .collect()
        }
        Kind::Rate => check_rate(library, record.text(Field::Key).unwrap_or_default(), text)
            .map(|error| error.unplaced())
            .into_iter()
            .collect(),
        _ => Vec::new(),
    };
    let place = reading.place(record.id, Some(Field::Text));
    let placed = |mut diag: Diag| {
        diag.severity = diag.severity.min(at_most);
        match &place {
            Some(place) => diag.at(place.clone()),
            None => diag,
        }
    };
    found.into_iter().map(placed).collect()
}
