//! Edits of an idea: kept sealed, so that each says what it was written for; and how they fit a study that has moved on.

use crate::edit_command::{EditCommand, intent, parse_line};
use tare_diag::Diag;
use tare_library::Library;
use tare_model::{Change, Conflict, Document, Edit, Id, Kind};

/// How an edit fits the study as it is now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EditState {
    /// It can be made.
    Fits,
    /// What it would write stands there already.
    AlreadySo,
    /// Something else stands there now than it was written for.
    Conflicts,
    /// What it is about is not there any more.
    Gone,
}

impl EditState {
    /// The words shown.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fits => "fits",
            Self::AlreadySo => "already so",
            Self::Conflicts => "conflicts",
            Self::Gone => "gone",
        }
    }
}

/// How one edit fits, with the message where it does not.
#[derive(Clone, Debug)]
pub struct Standing {
    /// How it fits.
    pub state: EditState,
    /// What stands against it.
    pub problem: Option<Diag>,
}

/// Seals commands, one after the other, against a copy of the document.
///
/// # Errors
/// Every problem of the first command that does not fit.
pub fn seal(document: &Document, library: &Library, lines: &[String]) -> Result<Vec<Edit>, Vec<Diag>> {
    let commands = lines.iter().map(|line| parse_line(line));
    let (mut read, mut problems) = (Vec::new(), Vec::new());
    for command in commands {
        match command {
            Ok(command) => read.push(command),
            Err(problem) => problems.push(problem),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    seal_commands(document, library, &read)
}

/// Reads and seals lines of a person who is still writing: a line that does not fit is passed over, so that all problems are told at once.
/// Empty lines are none.
///
/// # Errors
/// Every problem, with the number of its line, counted from 1.
pub fn read(document: &Document, library: &Library, lines: &[String]) -> Result<Vec<Edit>, Vec<(usize, Diag)>> {
    let (mut trial, mut edits, mut problems) = (document.clone(), Vec::new(), Vec::new());
    for (at, line) in lines.iter().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
        let sealed = parse_line(line).map_err(|d| vec![d]).and_then(|command| {
            let meant = intent(&trial, library, &command)?;
            trial.change_all(&meant.changes)
        });
        match sealed {
            Ok(sealed) => edits.extend(sealed),
            Err(found) => problems.extend(found.into_iter().map(|problem| (at + 1, problem))),
        }
    }
    if problems.is_empty() { Ok(edits) } else { Err(problems) }
}

pub(crate) fn seal_commands(document: &Document, library: &Library, commands: &[EditCommand]) -> Result<Vec<Edit>, Vec<Diag>> {
    let mut trial = document.clone();
    let mut edits = Vec::new();
    for command in commands {
        let meant = intent(&trial, library, command)?;
        edits.extend(trial.change_all(&meant.changes)?);
    }
    Ok(edits)
}

/// How each edit fits, those before it carried out.
pub fn standing(document: &Document, edits: &[Edit]) -> Vec<Standing> {
    let mut trial = document.clone();
    edits.iter().enumerate().map(|(at, edit)| fit(&mut trial, edit, &edits[at + 1..])).collect()
}

/// The document with an idea's edits carried out; what stands there already is left. `None` where one conflicts or its subject is gone.
pub fn applied(document: &Document, edits: &[Edit]) -> Option<Document> {
    let mut trial = document.clone();
    let mut each = edits.iter().enumerate();
    let fits =
        each.all(|(at, edit)| matches!(fit(&mut trial, edit, &edits[at + 1..]).state, EditState::Fits | EditState::AlreadySo));
    fits.then_some(trial)
}

/// Carries edits out, and gives those that were made, as they were made: what stands there already is left.
pub(crate) fn carried_out(document: &mut Document, edits: &[Edit]) -> Result<Vec<Edit>, Diag> {
    let mut made = Vec::new();
    for (at, edit) in edits.iter().enumerate() {
        let now = beside_ideas(document, edit, |_| false);
        let standing = fit(document, edit, &edits[at + 1..]);
        if let Some(problem) = standing.problem {
            return Err(problem);
        }
        made.extend((standing.state == EditState::Fits).then_some(now));
    }
    Ok(made)
}

/// The edit with what ideas refer to as it is now. An idea names the parts it is about, and may be recorded or dropped at any time: that is no
/// reason why a part cannot go. `elsewhere` says which records are ideas of another document and are left out.
pub(crate) fn beside_ideas(document: &Document, edit: &Edit, elsewhere: impl Fn(Id) -> bool) -> Edit {
    let Edit::Remove { records, references } = edit else { return edit.clone() };
    let of_idea = |id: Id| document.get(id).map_or_else(|| elsewhere(id), |record| record.kind == Kind::Idea);
    let now = records.first().and_then(|first| document.seal(&Change::Remove { id: first.id }).ok());
    let now = match now {
        Some(Edit::Remove { references, .. }) => references,
        _ => Vec::new(),
    };
    let kept = references.iter().filter(|set| !of_idea(set.id)).cloned();
    let references = kept.chain(now.into_iter().filter(|set| of_idea(set.id))).collect();
    Edit::Remove { records: records.clone(), references }
}

fn fit(document: &mut Document, edit: &Edit, later: &[Edit]) -> Standing {
    if so_already(document, edit, later) {
        return Standing { state: EditState::AlreadySo, problem: None };
    }
    let edit = &beside_ideas(document, edit, |_| false);
    match document.apply(edit) {
        Ok(()) => Standing { state: EditState::Fits, problem: None },
        Err(conflict) => {
            let gone = match &conflict {
                // what is to go has lost a part of itself, or something that referred to it, and is still there
                Conflict::Gone(_) if subject(edit).is_some_and(|id| document.get(id).is_some()) => false,
                Conflict::Gone(_) | Conflict::Parent(_) | Conflict::Target { .. } => true,
                Conflict::Field { id, .. } => document.get(*id).is_none(),
                _ => false,
            };
            let state = if gone { EditState::Gone } else { EditState::Conflicts };
            Standing { state, problem: Some(crate::conflict_diag(document, &conflict)) }
        }
    }
}

/// The record that an edit removes.
fn subject(edit: &Edit) -> Option<Id> {
    match edit {
        Edit::Remove { records, .. } => records.first().map(|record| record.id),
        _ => None,
    }
}

/// Whether a document already says what an edit would make it say.
///
/// A record that is added and then changed by a later edit of the same idea stands as it is afterwards.
fn so_already(document: &Document, edit: &Edit, later: &[Edit]) -> bool {
    let gone = |id: Id| document.get(id).is_none();
    match edit {
        Edit::Set(set) => {
            document.get(set.id).is_some_and(|record| record.fields.get(set.field) == set.to.as_ref() && set.from != set.to)
        }
        Edit::Add { records, .. } => records.iter().all(|record| {
            let Some(known) = document.get(record.id) else { return false };
            if known == record {
                return true;
            }
            let mut made = record.clone();
            for edit in later {
                match edit {
                    Edit::Set(set) if set.id == made.id => {
                        made.fields.set(set.field, set.to.clone());
                    }
                    _ => {}
                }
            }
            *known == made
        }),
        Edit::Remove { records, .. } => records.iter().all(|record| gone(record.id)),
        Edit::Move { id, to, .. } => document.get(*id).is_some_and(|r| r.parent == to.0 && r.order == to.1),
    }
}

/// Edits as the record of an idea keeps them.
pub(crate) fn to_text(edits: &[Edit]) -> String {
    serde_json::to_string(edits).unwrap_or_else(|_| "[]".to_owned())
}

/// Edits out of the record of an idea.
pub(crate) fn from_text(text: &str) -> Result<Vec<Edit>, Diag> {
    serde_json::from_str(text).map_err(|error| Diag::error("idea-edits", format!("the edits of the idea do not read ({error})")))
}
