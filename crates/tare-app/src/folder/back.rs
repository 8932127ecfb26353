//! A folder back into a workspace: as a new study, or as edits of the study it was written from.

use super::contents::{checked, keep, missing, pictures};
use super::read::read;
use super::{Folder, Header, difference, header};
use crate::address::Addresses;
use crate::clock;
use crate::conflict::shown;
use crate::create::Created;
use crate::idea::sealed::{EditState, carried_out, standing as edit_standing};
use crate::session::Session;
use crate::workspace::{DocumentInfo, Loaded, Recorded, Stamp, Workspace, read_edits};
use serde::Serialize;
use tare_diag::{Diag, any_error};
use tare_exchange::Files;
use tare_model::{Change, Document, Edit, Field, FieldValue, Id, Kind, Record};

/// Makes the study (or rate book) of a folder, under the identifiers it has there.
///
/// # Errors
/// Every problem of the folder at its place, or that the workspace has the study already; nothing is created then.
pub fn create(session: &Session, files: &Files, name: Option<&str>, author: &str) -> Result<Created, Vec<Diag>> {
    let workspace = &session.workspace;
    let head = header(files)?;
    let standing = workspace.documents().map_err(|d| vec![d])?;
    if let Some(taken) = standing.iter().find(|known| known.id == head.id) {
        let says = format!("the workspace already has the study of this folder, `{}`", taken.name);
        return Err(vec![Diag::error("document-taken", says).hint("`tare import FOLDER` shows what differs")]);
    }
    let reading = read(files, None)?;
    let mut problems = missing(workspace, &session.library, &reading);
    problems.extend(pictures(workspace, &reading));
    let mut document = reading.folder.document.clone();
    if let Some(name) = name {
        document = renamed(document, name);
    }
    let own = crate::workspace::name_of(&document).unwrap_or("unnamed").to_owned();
    if let Some(taken) = standing.iter().find(|known| known.kind == document.kind && known.name == own) {
        let says = format!("the workspace already has `{}`", taken.name);
        problems.push(Diag::error("document-taken", says).hint("give the new one another name"));
    }
    let changes = difference(&Document::new(document.id, document.kind), &document);
    let mut trial = Document::new(document.id, document.kind);
    match trial.change_all(&changes) {
        Ok(edits) => problems.extend(crate::standing::after(&trial, &edits)),
        Err(found) => problems.extend(found),
    }
    if any_error(&problems) {
        return Err(problems);
    }
    keep(workspace, &reading.folder)?;
    let says = format!("{own} read from a folder written at entry {}", reading.folder.entry);
    let stamp = Stamp { author: author.to_owned(), says };
    let mut created = crate::create::create(workspace, document.id, document.kind, &own, &changes, &stamp)?;
    created.warnings = reading.notes.clone();
    created.warnings.extend(problems);
    created.warnings.extend(
        document
            .records()
            .flat_map(|record| checked(&session.library, &document, record, &reading, tare_diag::Severity::Warning)),
    );
    Ok(created)
}

/// Reads a folder and says everything that is wrong, without a workspace.
///
/// # Errors
/// Every problem at its place.
pub fn check(files: &Files) -> Result<(), Vec<Diag>> {
    read(files, None).map(|_| ())
}

/// One edit that a folder holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FolderEdit {
    /// `added`, `changed`, `moved` or `removed`.
    pub what: &'static str,
    /// The record, or the field of it.
    pub address: String,
    /// Old and new content, or what comes with it.
    pub says: String,
    /// How it fits the study as it is now.
    pub state: EditState,
}

/// What taking a folder back would do.
#[derive(Debug)]
pub struct FolderPlan {
    /// The study it was written from.
    pub info: DocumentInfo,
    /// The entry it was written at.
    pub entry: u64,
    /// Whether that entry is one of the study's; else the folder is compared with the study as it is now.
    pub known: bool,
    /// The edits, in the order in which they are made.
    pub edits: Vec<FolderEdit>,
    /// Records of the study that the folder does not have, where they are left because it is not known whether they were removed.
    pub left: usize,
    /// Edits that meet something else than they were made for, each with both values.
    pub conflicts: Vec<Diag>,
    /// What is wrong with the edits themselves.
    pub problems: Vec<Diag>,
    /// What is doubtful, or kept without being known.
    pub notes: Vec<Diag>,
    made: Vec<Edit>,
    after: Loaded,
    folder: Folder,
}

impl FolderPlan {
    /// How many edits there are of a state.
    pub fn count(&self, state: EditState) -> usize {
        self.edits.iter().filter(|edit| edit.state == state).count()
    }

    /// Whether taking it would change nothing.
    pub fn is_empty(&self) -> bool {
        self.made.is_empty() && self.conflicts.is_empty()
    }
}

/// What taking a folder back into the study it was written from would do. Nothing is changed.
///
/// # Errors
/// Every problem of the folder at its place, or that the workspace has no such study.
pub fn plan(session: &Session, files: &Files, remove_gone: bool) -> Result<FolderPlan, Vec<Diag>> {
    let workspace = &session.workspace;
    let head = header(files)?;
    let standing = workspace.documents().map_err(|d| vec![d])?;
    let Some(info) = standing.into_iter().find(|known| known.id == head.id) else {
        let diag = Diag::error("folder-stranger", "the workspace has no study that this folder was written from");
        return Err(vec![diag.hint("`tare new --from FOLDER` makes it")]);
    };
    let loaded = workspace.load(&info).map_err(|d| vec![d])?;
    let base = base(workspace, &info, &head)?;
    let known = base.is_some();
    let base = base.unwrap_or_else(|| loaded.document.clone());
    let reading = read(files, Some(&base))?;
    let mut notes = reading.notes.clone();
    if !known {
        let says = format!(
            "the folder was written at entry {} of another history; it is compared with the study as it is now",
            head.entry
        );
        notes.push(
            Diag::warning("folder-other-history", says).hint("look at each edit: what was changed here since is among them"),
        );
    }
    let mut problems = missing(workspace, &session.library, &reading);
    problems.extend(pictures(workspace, &reading));
    let mut changes = difference(&base, &reading.folder.document);
    let all = changes.len();
    if !known && !remove_gone {
        changes.retain(|change| !matches!(change, Change::Remove { .. }));
    }
    let left = all - changes.len();
    let edits = base.clone().change_all(&changes)?;
    let states = edit_standing(&loaded.document, &edits);
    let conflicts: Vec<Diag> = states.iter().filter_map(|standing| standing.problem.clone()).collect();
    let (before, after) = (Addresses::new(&base), Addresses::new(&reading.folder.document));
    let told =
        edits.iter().zip(&states).map(|(edit, standing)| told(edit, standing.state, &before, &after, &reading.folder.document));
    let told = told.collect();
    for record in edits.iter().filter_map(|edit| stated(edit, &reading.folder.document)) {
        problems.extend(checked(&session.library, &reading.folder.document, record, &reading, tare_diag::Severity::Error));
    }
    let mut trial = Loaded { document: loaded.document, head: loaded.head };
    let made = if conflicts.is_empty() { carried_out(&mut trial.document, &edits).map_err(|d| vec![d])? } else { Vec::new() };
    problems.extend(crate::standing::after(&trial.document, &made));
    let (warnings, problems) = problems.into_iter().partition(|diag| !diag.is_error());
    notes.extend::<Vec<Diag>>(warnings);
    let entry = head.entry;
    Ok(FolderPlan {
        info,
        entry,
        known,
        edits: told,
        left,
        conflicts,
        problems,
        notes,
        made,
        after: trial,
        folder: reading.folder,
    })
}

/// Takes a planned folder back as one entry; `None` where nothing differs.
///
/// # Errors
/// Conflicts and problems of the plan, the store. Nothing is changed then.
pub fn accept(workspace: &Workspace, plan: FolderPlan, name: &str, author: &str) -> Result<Option<Recorded>, Vec<Diag>> {
    let wrong: Vec<Diag> = plan.conflicts.iter().chain(&plan.problems).cloned().collect();
    if !wrong.is_empty() {
        return Err(wrong);
    }
    if plan.made.is_empty() {
        return Ok(None);
    }
    keep(workspace, &plan.folder)?;
    let of = |what: &str| plan.edits.iter().filter(|edit| edit.what == what && edit.state == EditState::Fits).count();
    let says = format!(
        "import folder {name}: {} added, {} changed, {} moved, {} removed",
        of("added"),
        of("changed"),
        of("moved"),
        of("removed")
    );
    let mut loaded = plan.after;
    workspace.commit(&mut loaded, plan.made, &Stamp { author: author.to_owned(), says }, None, clock::new_id()).map(Some)
}

/// The document as it was when the folder was written, if that entry is one of its own.
fn base(workspace: &Workspace, info: &DocumentInfo, head: &Header) -> Result<Option<Document>, Vec<Diag>> {
    let entries = workspace.entries(info.id).map_err(|d| vec![d])?;
    let entries: Vec<_> = entries.into_iter().take_while(|entry| entry.sequence <= head.entry).collect();
    let last = entries.last().filter(|entry| entry.sequence == head.entry && Some(Id(entry.id)) == head.entry_id);
    if last.is_none() {
        return Ok(None);
    }
    let mut document = Document::new(info.id, info.kind);
    for entry in &entries {
        for edit in read_edits(entry).map_err(|d| vec![d])? {
            document.replay(&edit).map_err(|conflict| vec![crate::conflict_diag(&document, &conflict)])?;
        }
    }
    Ok(Some(document))
}

fn renamed(document: Document, name: &str) -> Document {
    let mut records: Vec<Record> = document.records().cloned().collect();
    for record in records.iter_mut().filter(|record| super::extra::is_head(record.kind)) {
        record.fields.set(Field::Name, Some(FieldValue::Text(name.to_owned())));
    }
    Document::from_records(document.id, document.kind, records)
}

/// The value or rate that an edit states anew.
fn stated<'d>(edit: &Edit, document: &'d Document) -> Option<&'d Record> {
    let id = match edit {
        Edit::Set(set) if matches!(set.field, Field::Text | Field::Quantity | Field::Key) => set.id,
        Edit::Add { records, .. } => records.first()?.id,
        _ => return None,
    };
    document.get(id).filter(|record| matches!(record.kind, Kind::Value | Kind::Rate))
}

fn told(edit: &Edit, state: EditState, before: &Addresses<'_>, after: &Addresses<'_>, folder: &Document) -> FolderEdit {
    let (what, address, says) = match edit {
        Edit::Set(set) => {
            let says = format!("{} -> {}", shown(set.from.as_ref(), before), shown(set.to.as_ref(), after));
            ("changed", format!("{} {}", after.of(set.id), set.field), says)
        }
        Edit::Add { records, .. } => {
            let id = records.first().map_or(Id(0), |record| record.id);
            let says = folder.get(id).map_or_else(String::new, |record| describe(record, folder));
            ("added", after.of(id), says)
        }
        Edit::Remove { records, references } => {
            let id = records.first().map_or(Id(0), |record| record.id);
            let mut says = records.first().map_or_else(String::new, |record| record.kind.word().to_owned());
            if records.len() > 1 {
                says += &format!(", with {} under it", records.len() - 1);
            }
            if !references.is_empty() {
                says += &format!(", and from {} fields that name it", references.len());
            }
            ("removed", before.of(id), says)
        }
        Edit::Move { id, from, to } => {
            let says = if from.0 == to.0 {
                "to another place in its row".to_owned()
            } else {
                format!("under {}", to.0.map_or_else(|| "nothing".to_owned(), |parent| after.of(parent)))
            };
            ("moved", after.of(*id), says)
        }
    };
    FolderEdit { what, address, says, state }
}

fn describe(record: &Record, document: &Document) -> String {
    let item = || record.refers(Field::Item).and_then(|id| document.get(id)).and_then(|item| item.text(Field::Name));
    let name = record.text(Field::Name).or(record.text(Field::Text)).or_else(item);
    name.map_or_else(|| record.kind.word().to_owned(), |name| format!("{} {name}", record.kind))
}
