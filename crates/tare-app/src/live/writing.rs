//! Entries of a live study: sealed against the writer's copy, recorded, then shown to readers.

use super::computing::Work;
use super::{Event, LiveStudy, Writing, held};
use crate::address::Addresses;
use crate::edit_command::{EditCommand, intent_with, standing};
use crate::workspace::{DocumentInfo, Recorded, Stamp, read_edits, take_out};
use std::sync::{Arc, MutexGuard};
use tare_diag::Diag;
use tare_model::{DocumentKind, Edit, Field, FieldValue, Id, Kind, Record};
use tare_store::Journals;

/// One command with what its author saw there.
#[derive(Clone, Debug)]
pub struct Command {
    /// The command.
    pub edit: EditCommand,
    /// The text that stood there when it was written; another one now is a conflict.
    pub from: Option<String>,
}

/// What somebody wants recorded as one entry.
#[derive(Clone, Debug)]
pub struct Request {
    /// The entry's identifier, made by the caller: sent again it is recorded once.
    pub id: Id,
    /// Who.
    pub author: String,
    /// From which device; empty where that is not known.
    pub device: String,
    /// What it says; from the commands where nothing is given.
    pub says: Option<String>,
    /// The commands, in order; each sees those before it.
    pub commands: Vec<Command>,
}

/// A record that an entry added.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
pub struct NewRecord {
    /// Its identifier, 32 hexadecimal digits.
    pub id: String,
    /// What it is.
    pub kind: String,
    /// What it is called.
    pub address: String,
}

/// An entry that was recorded.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
pub struct Done {
    /// Its number.
    pub number: u64,
    /// What it says.
    pub says: String,
    /// Records it added, values left out.
    pub records: Vec<NewRecord>,
}

/// Both values of a conflict.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
pub struct Conflicting {
    /// What was to be changed.
    pub target: String,
    /// What its author saw.
    pub expected: String,
    /// What stands there.
    pub found: String,
    /// What was to stand there.
    pub wanted: String,
}

/// Why an entry was not recorded; nothing of it was.
#[derive(Clone, Debug, PartialEq)]
pub enum Refused {
    /// Somebody changed it meanwhile.
    Conflict(Vec<Diag>, Option<Conflicting>),
    /// It does not read or does not fit.
    Wrong(Vec<Diag>),
    /// It could not be written.
    Failed(Vec<Diag>),
}

/// Whether a message is about what could not be written or read just now; asked again later it may go well.
pub fn of_the_store(problem: &Diag) -> bool {
    problem.code == "busy" || (problem.code.starts_with("store-") && problem.code != "store-invalid")
}

impl Refused {
    /// Messages of the model and the store, told apart by their codes.
    pub(super) fn from(problems: Vec<Diag>) -> Self {
        if problems.iter().any(|d| d.code == "conflict") {
            Self::Conflict(problems, None)
        } else if problems.iter().any(of_the_store) {
            Self::Failed(problems)
        } else {
            Self::Wrong(problems)
        }
    }

    /// Its messages.
    pub fn problems(&self) -> &[Diag] {
        match self {
            Self::Conflict(problems, _) | Self::Wrong(problems) | Self::Failed(problems) => problems,
        }
    }
}

impl LiveStudy {
    /// Records commands as one entry, all or none.
    ///
    /// # Errors
    /// Every problem of the first command that does not fit; a conflict with both values; nothing is changed then.
    pub fn edit(&self, request: &Request) -> Result<Done, Refused> {
        let mut guard = self.writing()?;
        let writing = &mut *guard;
        // what others recorded comes first, so that addresses and identifiers of entries are known
        self.catch_up_with(writing).map_err(|d| Refused::from(vec![d]))?;
        let known = held(&self.log).number(request.id.0);
        if let Some(number) = known {
            return self.again(number);
        }
        let (mut edits, mut says): (Vec<Edit>, Vec<String>) = (Vec::new(), Vec::new());
        let (shape, mut wrong) = (writing.shape, Vec::new());
        let mut conflict = None;
        for command in &request.commands {
            match self.seal(writing, command) {
                Ok((sealed, said)) => {
                    writing.shape += u64::from(sealed.iter().any(|edit| bears_address(&writing.loaded.document, edit)));
                    edits.extend(sealed);
                    says.push(said);
                }
                // what else is wrong is said with it: whoever pastes a block mends it at once
                Err(Refused::Wrong(problems)) => wrong.extend(problems),
                Err(refused) => {
                    conflict = Some(refused);
                    break;
                }
            }
        }
        let refused = if wrong.is_empty() { conflict } else { Some(Refused::Wrong(wrong)) };
        if let Some(refused) = refused {
            take_out(&mut writing.loaded.document, &edits);
            writing.shape += u64::from(writing.shape != shape);
            return Err(refused);
        }
        if edits.is_empty() {
            let says = "nothing changes: what is asked for stands already";
            return Err(Refused::Wrong(vec![Diag::error("edit-nothing", says)]));
        }
        let says = said(request.says.as_deref(), &says);
        let stamp = Stamp { author: request.author.clone(), says };
        let before = writing.loaded.head;
        let recorded = held(&self.live.session).workspace.commit(&mut writing.loaded, edits, &stamp, None, request.id);
        let recorded = recorded.map_err(|problems| {
            writing.shape += 1;
            Refused::from(problems)
        })?;
        self.log_since(before).map_err(|d| Refused::from(vec![d]))?;
        // where others came in between, what is called how may have changed
        writing.shape += u64::from(recorded.number != before + 1);
        Ok(self.show(writing, before, recorded, &request.author, &request.device))
    }

    /// Takes an entry back, or the last one that holds.
    ///
    /// # Errors
    /// Nothing to take back, or a conflict with what came since.
    pub fn undo(&self, number: Option<u64>, author: &str, device: &str) -> Result<Done, Refused> {
        self.turn(author, device, |session, writing| session.workspace.undo(&mut writing.loaded, number, author))
    }

    /// Brings an entry back that was taken back.
    ///
    /// # Errors
    /// As [`LiveStudy::undo`].
    pub fn redo(&self, number: Option<u64>, author: &str, device: &str) -> Result<Done, Refused> {
        self.turn(author, device, |session, writing| session.workspace.redo(&mut writing.loaded, number, author))
    }

    fn turn(
        &self,
        author: &str,
        device: &str,
        turn: impl FnOnce(&crate::Session, &mut Writing) -> Result<Recorded, Vec<Diag>>,
    ) -> Result<Done, Refused> {
        let mut guard = self.writing()?;
        let writing = &mut *guard;
        // what others recorded comes first: only then is the last entry the last one
        self.catch_up_with(writing).map_err(|d| Refused::from(vec![d]))?;
        let before = writing.loaded.head;
        writing.shape += 1;
        let recorded = turn(&held(&self.live.session), writing).map_err(Refused::from)?;
        self.log_since(before).map_err(|d| Refused::Failed(vec![d]))?;
        Ok(self.show(writing, before, recorded, author, device))
    }

    /// The writer's copy. After a panic in the middle of an edit it is read from the journal again: nothing half done goes on.
    pub(super) fn writing(&self) -> Result<MutexGuard<'_, Writing>, Refused> {
        match self.writing.lock() {
            Ok(writing) => Ok(writing),
            Err(broken) => {
                let mut writing = broken.into_inner();
                let info =
                    DocumentInfo { id: self.id, kind: DocumentKind::Study, name: self.name.clone(), head: writing.loaded.head };
                let loaded = held(&self.live.session).workspace.load(&info).map_err(|d| Refused::from(vec![d]))?;
                let number = loaded.head;
                writing.loaded = loaded;
                writing.shape += 1;
                writing.shown.clear();
                self.writing.clear_poison();
                let _ = held(&self.work).send(Work::Whole { number, document: Box::new(writing.loaded.document.clone()) });
                Ok(writing)
            }
        }
    }

    /// Takes the rows of entries behind a number from the journal.
    pub(super) fn log_since(&self, number: u64) -> Result<(), Diag> {
        let entries = held(&self.live.session).workspace.store.since(self.id.0, number).map_err(|e| e.diag())?;
        for entry in entries {
            held(&self.log).take(&entry, &read_edits(&entry)?);
        }
        Ok(())
    }

    /// Stores a photo's bytes; gives their digest. They are on the disk before the entry that names them.
    ///
    /// # Errors
    /// One message of the store.
    pub fn put_photo(&self, bytes: &[u8]) -> Result<String, Diag> {
        held(&self.live.session).workspace.store.put_blob(bytes).map(|digest| digest.to_string()).map_err(|e| e.diag())
    }

    /// Numbers for new labels that nobody else gets.
    ///
    /// # Errors
    /// One message of the store.
    pub fn lease_labels(&self, device: &str, count: u32) -> Result<std::ops::Range<u32>, Diag> {
        /// Numbers beyond this are no running numbers of bags.
        const HIGHEST: u32 = 1_000_000;
        let document = Arc::clone(&self.now().document);
        // behind what is labelled already, by whomever
        let numbers = document.records().filter_map(|r| r.text(Field::Label)?.strip_prefix('P')?.parse::<u32>().ok());
        let highest = numbers.filter(|number| *number < HIGHEST).max();
        let session = held(&self.live.session);
        let lease = |count| session.workspace.store.lease_labels(self.id.0, device, count).map_err(|e| e.diag());
        let given = lease(count)?;
        match highest.filter(|highest| given.start <= *highest) {
            None => Ok(given),
            Some(highest) => {
                lease((highest + 1).saturating_sub(given.end).max(1))?;
                lease(count)
            }
        }
    }

    /// Takes over what other programs recorded; tells whether there was anything.
    pub(super) fn catch_up(&self) -> Result<bool, Diag> {
        match self.writing() {
            Ok(mut writing) => self.catch_up_with(&mut writing),
            // the next one who asks hears why
            Err(_) => Ok(false),
        }
    }

    pub(super) fn catch_up_with(&self, writing: &mut Writing) -> Result<bool, Diag> {
        let entries = {
            let session = held(&self.live.session);
            if session.workspace.store.head(self.id.0).map_err(|e| e.diag())? == writing.loaded.head {
                return Ok(false);
            }
            session.workspace.store.since(self.id.0, writing.loaded.head).map_err(|e| e.diag())?
        };
        for entry in entries {
            let edits = read_edits(&entry)?;
            crate::workspace::apply_all(&mut writing.loaded.document, &edits)?;
            let before = writing.loaded.head;
            writing.loaded.head = entry.sequence;
            writing.shape += 1;
            held(&self.log).take(&entry, &edits);
            let recorded = Recorded { number: entry.sequence, says: entry.says, edits };
            self.show(writing, before, recorded, &entry.author, "");
        }
        Ok(true)
    }

    /// Makes a command fit and carries it out on the writer's copy.
    fn seal(&self, writing: &mut Writing, command: &Command) -> Result<(Vec<Edit>, String), Refused> {
        let document = &writing.loaded.document;
        let addresses = Addresses::with(document, self.index_of(document, writing.shape));
        let at = match &command.edit {
            EditCommand::Set { target, to, .. } => Some((target, to.as_str())),
            EditCommand::Clear { target } => Some((target, "")),
            _ => None,
        };
        if let (Some(from), Some((target, to))) = (&command.from, at) {
            let found =
                standing(addresses.clone(), document, &self.live.library(), target).map_err(|d| Refused::Wrong(vec![d]))?;
            if found != *from && found != to {
                let says = format!("{target} is `{found}` now; it was `{from}` when `{to}` was written");
                let diag = Diag::error("conflict", says).at(tare_diag::Place::address(target));
                let conflict = Conflicting { target: target.clone(), expected: from.clone(), found, wanted: to.to_owned() };
                return Err(Refused::Conflict(vec![diag.hint("keep one of the two")], Some(conflict)));
            }
        }
        let meant = intent_with(addresses, document, &self.live.library(), &command.edit).map_err(Refused::Wrong)?;
        let sealed = writing.loaded.document.change_all(&meant.changes).map_err(Refused::from)?;
        Ok((sealed, meant.says))
    }

    /// What an entry that is recorded already gave.
    fn again(&self, number: u64) -> Result<Done, Refused> {
        let entries = self.live.reading().entries(self.id).map_err(|d| Refused::Failed(vec![d]))?;
        let entry = entries.iter().find(|e| e.sequence == number);
        let edits = entry.map(read_edits).transpose().map_err(|d| Refused::Failed(vec![d]))?.unwrap_or_default();
        let now = self.now();
        let addresses = self.addresses(&now);
        Ok(Done { number, says: entry.map(|e| e.says.clone()).unwrap_or_default(), records: added(&edits, &addresses) })
    }

    /// Shows an entry to readers, and hands it to the computer.
    pub(super) fn show(&self, writing: &mut Writing, before: u64, recorded: Recorded, author: &str, device: &str) -> Done {
        let document = &writing.loaded.document;
        let addresses = Addresses::with(document, self.index_of(document, writing.shape));
        let records = added(&recorded.edits, &addresses);
        let concerned = concerned(document, &recorded.edits);
        let follows = self.now().head == before && recorded.number == before + 1;
        let spare = writing.shown.take().filter(|_| follows);
        // a copy that was shown before takes over what it lacks; one that cannot is made anew
        let next = spare.and_then(|(mut copy, lacks)| {
            let mut edits = lacks.iter().chain(&recorded.edits);
            edits.all(|edit| copy.replay(edit).is_ok()).then_some(copy)
        });
        let next = Arc::new(next.unwrap_or_else(|| document.clone()));
        let shown = self.show_now(|now| (now.document, now.head, now.shape) = (next, recorded.number, writing.shape));
        let work = if follows {
            writing.shown.retire(Arc::clone(&shown.document), &recorded.edits);
            Work::Entry { number: recorded.number, edits: recorded.edits }
        } else {
            writing.shown.clear();
            Work::Whole { number: recorded.number, document: Box::new(document.clone()) }
        };
        drop(shown);
        // the computer ends with the program only
        let _ = held(&self.work).send(work);
        let (number, says) = (recorded.number, recorded.says);
        let event =
            Event::Entry { number, author: author.to_owned(), says: says.clone(), device: device.to_owned(), records: concerned };
        (self.live.tell)(self.id, event);
        Done { number, says, records }
    }
}

/// What an entry says: its author's words, or what its commands say; one line of a length that a table shows.
fn said(given: Option<&str>, commands: &[String]) -> String {
    const LONGEST: usize = 400;
    const NAMED: usize = 5;
    let given = given.map(str::trim).filter(|text| !text.is_empty());
    let text = given.map_or_else(
        || {
            let more = commands.len().saturating_sub(NAMED);
            let named = commands.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
            if more > 0 { format!("{named}; and {more} more") } else { named }
        },
        str::to_owned,
    );
    let mut line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).take(LONGEST).collect();
    if text.chars().nth(LONGEST).is_some() {
        line.push_str(" ...");
    }
    line
}

/// Records that edits added, values and other statements left out.
fn added(edits: &[Edit], addresses: &Addresses<'_>) -> Vec<NewRecord> {
    let records = edits.iter().flat_map(|edit| match edit {
        Edit::Add { records, .. } => records.as_slice(),
        _ => &[],
    });
    let named = records.filter(|r| !matches!(r.kind, Kind::Value | Kind::Choose | Kind::Rate | Kind::Lock));
    named.map(|r| NewRecord { id: r.id.to_string(), kind: r.kind.word().to_owned(), address: addresses.of(r.id) }).collect()
}

/// The records that edits are about: of a statement the subject, of an item its parts too.
fn concerned(document: &tare_model::Document, edits: &[Edit]) -> Vec<Id> {
    let subject = |record: &Record| match record.kind {
        Kind::Value | Kind::Choose | Kind::Rate => record.parent.unwrap_or(record.id),
        _ => record.id,
    };
    let mut ids: Vec<Id> = edits
        .iter()
        .flat_map(|edit| match edit {
            Edit::Set(set) => document.get(set.id).map(subject).into_iter().collect::<Vec<_>>(),
            Edit::Add { records, .. } | Edit::Remove { records, .. } => records.iter().map(subject).collect(),
            Edit::Move { id, .. } => vec![*id],
        })
        .collect();
    ids.sort_unstable();
    ids.dedup();
    ids.truncate(500);
    ids
}

/// Whether an edit changes what anything is called.
pub(super) fn bears_address(document: &tare_model::Document, edit: &Edit) -> bool {
    let said = |record: &Record| matches!(record.kind, Kind::Value | Kind::Choose | Kind::Rate | Kind::Lock);
    match edit {
        Edit::Set(set) => {
            matches!(set.field, Field::Label | Field::Name | Field::Item | Field::Key | Field::Group)
                && document.get(set.id).is_none_or(|record| !said(record))
        }
        Edit::Add { records, .. } | Edit::Remove { records, .. } => !records.iter().all(said),
        Edit::Move { .. } => true,
    }
}

/// A field's content as plain text, as a page shows it and sends it back.
pub(crate) fn plain(value: Option<&FieldValue>, addresses: &Addresses<'_>) -> String {
    match value {
        None => String::new(),
        Some(FieldValue::Text(text)) => text.clone(),
        Some(FieldValue::Number(number)) => number.to_string(),
        Some(FieldValue::Flag(flag)) => if *flag { "yes" } else { "no" }.to_owned(),
        Some(FieldValue::Ref(id)) => addresses.of(*id),
        Some(FieldValue::Refs(ids)) => ids.iter().map(|id| addresses.of(*id)).collect::<Vec<_>>().join(", "),
    }
}
