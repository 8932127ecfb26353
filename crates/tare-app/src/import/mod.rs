//! Import of foreign parts lists and rate tables: a proposal is shown first, then taken as one entry that can be undone.
//!
//! Every value keeps the file, sheet, cell and raw text it came from. How a list's columns were read is remembered by the fingerprint
//! of its titles; the next revision of a list that is in the study changes only what differs.

mod parts;
mod rates;
mod revision;

use crate::clock;
use crate::session::Session;
use crate::workspace::{Loaded, Recorded, Stamp, Workspace};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};
use tare_exchange::{Book, Hints, Mapping, Proposal, RowKey, Source};
use tare_model::{Change, Id};

pub use revision::{FieldChange, RevisionPlan};

/// What an import would do.
#[derive(Debug)]
pub struct Plan {
    /// What was found in the file.
    pub proposal: Proposal,
    /// The changes, if it were taken now.
    pub changes: Vec<Change>,
    /// For the next revision of a list that is in the study already: what differs.
    pub revision: Option<RevisionPlan>,
    /// Where the parts would stand: label of the part above them, or nothing for a new product.
    pub under: Option<String>,
    memory: Memory,
}

/// What an import of a rate table would do.
#[derive(Debug)]
pub struct RatePlan {
    /// What was found in the file.
    pub proposal: tare_exchange::RateProposal,
    /// The changes, if it were taken now.
    pub changes: Vec<Change>,
    /// Keys that are new, and keys whose value changes with the old text.
    pub new: Vec<String>,
    /// Keys whose value changes: key, old and new text.
    pub changed: Vec<(String, String, String)>,
}

/// What is remembered of an import, to know its next revision.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Memory {
    /// The entry that took the list; once it is taken back, so is this memory.
    #[serde(default)]
    entry: u64,
    file: String,
    sha256: String,
    keys: Vec<RowKey>,
    parts: Vec<Option<Id>>,
}

/// How an import is asked for.
#[derive(Clone, Debug, Default)]
pub struct Request {
    /// A mapping stated by the user; else a remembered one, else the columns are read afresh.
    pub mapping: Option<Mapping>,
    /// Answers to questions of the proposal, by their ids.
    pub answers: BTreeMap<String, String>,
    /// Label of the part the rows go under.
    pub under: Option<String>,
    /// Whether rows that a next revision no longer has are removed.
    pub remove_gone: bool,
}

/// Reads a foreign file; nothing is decided yet.
///
/// # Errors
/// Located messages: unreadable, empty, too large, no table.
pub fn read(name: &str, bytes: &[u8]) -> Result<Book, Vec<Diag>> {
    tare_exchange::read(&Source { name, bytes })
}

/// What taking a parts list would do to a study. Nothing is changed.
///
/// # Errors
/// Messages of the proposal (what is no parts list is refused in one sentence), or that the part to put it under is not there.
pub fn plan(session: &Session, loaded: &Loaded, book: &Book, request: &Request) -> Result<Plan, Vec<Diag>> {
    let mut hints = Hints { mapping: request.mapping.clone(), answers: request.answers.clone() };
    let mut proposal = tare_exchange::propose(book, &hints)?;
    if request.mapping.is_none()
        && let Some(known) = remembered_mapping(&session.workspace, &proposal)?
    {
        hints.mapping = Some(known);
        proposal = tare_exchange::propose(book, &hints)?;
    }
    let earlier = memory(&session.workspace, loaded, &proposal)?;
    if let Some(earlier) = earlier {
        return revision::plan(&session.library, loaded, proposal, earlier, request);
    }
    let built = parts::build(&session.library, &loaded.document, &proposal, request.under.as_deref())?;
    let memory = Memory {
        entry: 0,
        file: proposal.file.clone(),
        sha256: proposal.sha256.clone(),
        keys: proposal.row_keys(),
        parts: built.parts,
    };
    Ok(Plan { changes: built.changes, revision: None, under: built.under, memory, proposal })
}

/// What a parts list holds, where there is no study yet to take it. Nothing can be changed by this plan.
///
/// # Errors
/// Messages of the proposal.
pub fn look(book: &Book, request: &Request) -> Result<Plan, Vec<Diag>> {
    let hints = Hints { mapping: request.mapping.clone(), answers: request.answers.clone() };
    let proposal = tare_exchange::propose(book, &hints)?;
    let memory =
        Memory { entry: 0, file: proposal.file.clone(), sha256: proposal.sha256.clone(), keys: Vec::new(), parts: Vec::new() };
    Ok(Plan { changes: Vec::new(), revision: None, under: None, memory, proposal })
}

/// Takes a planned import as one entry and remembers how the list was read.
///
/// # Errors
/// Unanswered questions, problems of the changes, the store. Nothing is changed then.
pub fn accept(workspace: &Workspace, loaded: &mut Loaded, plan: &Plan, author: &str) -> Result<Option<Recorded>, Vec<Diag>> {
    if !plan.proposal.questions.is_empty() {
        return Err(questions(&plan.proposal));
    }
    if plan.changes.is_empty() {
        return Ok(None);
    }
    let says = match &plan.revision {
        None => format!("import {}: {} rows", plan.proposal.file, plan.proposal.parts),
        Some(r) => format!(
            "import {} again: {} new, {} changed, {} gone",
            plan.proposal.file,
            r.new.len(),
            r.changed.len(),
            r.gone.len()
        ),
    };
    let recorded = workspace.record(loaded, &plan.changes, &Stamp { author: author.to_owned(), says })?;
    let mapping = serde_json::to_string(&plan.proposal.mapping).map_err(unwritable)?;
    let mut memories = memories(workspace, loaded, &plan.proposal)?;
    memories.push(Memory { entry: recorded.number, ..plan.memory.clone() });
    let latest = memories.len().saturating_sub(MEMORIES);
    let memory = serde_json::to_string(&memories[latest..]).map_err(unwritable)?;
    workspace.remember(&mapping_key(&plan.proposal), &mapping)?;
    workspace.remember(&memory_key(loaded, &plan.proposal), &memory)?;
    Ok(Some(recorded))
}

/// What taking a table of rates would do to a rate book of the workspace.
///
/// # Errors
/// That no rate could be read.
pub fn plan_rates(session: &Session, loaded: &Loaded, book: &Book) -> Result<RatePlan, Vec<Diag>> {
    rates::plan(&session.library, loaded, tare_exchange::propose_rates(book))
}

/// Takes rates as one entry.
///
/// # Errors
/// Problems of the changes, the store.
pub fn accept_rates(
    workspace: &Workspace,
    loaded: &mut Loaded,
    plan: &RatePlan,
    file: &str,
    author: &str,
) -> Result<Option<Recorded>, Vec<Diag>> {
    if plan.changes.is_empty() {
        return Ok(None);
    }
    let says = format!("import {file}: {} new rates, {} changed", plan.new.len(), plan.changed.len());
    workspace.record(loaded, &plan.changes, &Stamp { author: author.to_owned(), says }).map(Some)
}

/// The questions of a proposal as messages with the way to answer each.
pub fn questions(proposal: &Proposal) -> Vec<Diag> {
    proposal
        .questions
        .iter()
        .map(|q| {
            let answers: Vec<String> =
                q.choices.iter().map(|(key, means)| format!("`--answer {}={key}` ({means})", q.id)).collect();
            let mut diag = Diag::error("import-question", q.text.clone()).hint(format!("answer with {}", answers.join(" or ")));
            if let Some(cell) = &q.cell {
                diag = diag.at(place(cell));
            }
            diag
        })
        .collect()
}

fn place(origin: &tare_exchange::Origin) -> Place {
    let sheet = (!origin.sheet.is_empty()).then(|| origin.sheet.clone());
    Place::Cell { file: origin.file.clone(), sheet, cell: origin.cell.clone() }
}

fn unwritable(error: serde_json::Error) -> Vec<Diag> {
    vec![Diag::error("import-memory", format!("how the list was read cannot be written ({error})"))]
}

fn mapping_key(proposal: &Proposal) -> String {
    format!("mapping {}", proposal.mapping.fingerprint())
}

fn memory_key(loaded: &Loaded, proposal: &Proposal) -> String {
    format!("import {} {}", loaded.document.id, proposal.mapping.fingerprint())
}

fn remembered_mapping(workspace: &Workspace, proposal: &Proposal) -> Result<Option<Mapping>, Vec<Diag>> {
    // A memory that does not read any more is no reason to refuse a list: it is read afresh.
    Ok(workspace.recall(&mapping_key(proposal))?.and_then(|text| serde_json::from_str(&text).ok()))
}

/// How many imports with the same titles are remembered.
const MEMORIES: usize = 16;

/// What is remembered of all imports with these titles.
fn memories(workspace: &Workspace, loaded: &Loaded, proposal: &Proposal) -> Result<Vec<Memory>, Vec<Diag>> {
    let text = workspace.recall(&memory_key(loaded, proposal))?.unwrap_or_default();
    let one = || serde_json::from_str::<Memory>(&text).map(|m| vec![m]);
    Ok(serde_json::from_str(&text).or_else(|_| one()).unwrap_or_default())
}

/// What is remembered of the last import that holds, whose parts still stand and which shares rows with this list.
///
/// Many lists have the same titles; one that shares next to no row with an earlier one is a list of its own, not its next revision.
fn memory(workspace: &Workspace, loaded: &Loaded, proposal: &Proposal) -> Result<Option<Memory>, Vec<Diag>> {
    let all = memories(workspace, loaded, proposal)?;
    if all.is_empty() {
        return Ok(None);
    }
    let history = workspace.history(loaded.document.id).map_err(|d| vec![d])?;
    let undone: BTreeSet<u64> = history.iter().filter(|h| h.undone).map(|h| h.number).collect();
    let these: BTreeSet<String> = proposal.row_keys().into_iter().map(|k| k.identity).collect();
    let fits = |m: &Memory| {
        let shared = m.keys.iter().filter(|k| these.contains(&k.identity)).count();
        let stands = m.parts.iter().flatten().any(|id| loaded.document.get(*id).is_some());
        stands && !undone.contains(&m.entry) && shared > 0 && shared * 5 >= m.keys.len().min(these.len())
    };
    Ok(all.into_iter().rev().find(fits))
}

impl Workspace {
    fn remember(&self, key: &str, value: &str) -> Result<(), Vec<Diag>> {
        use tare_store::Journals;
        self.store.remember(key, value).map_err(|e| vec![e.diag()])
    }

    fn recall(&self, key: &str) -> Result<Option<String>, Vec<Diag>> {
        use tare_store::Journals;
        self.store.recall(key).map_err(|e| vec![e.diag()])
    }
}

/// A value record stated by a cell.
fn value_record(subject: Id, quantity: &str, text: String, evidence: &str, origin: &tare_exchange::Origin) -> tare_model::Record {
    use tare_model::{Field, Kind, Record};
    Record::new(clock::new_id(), Kind::Value)
        .under(subject)
        .with_text(Field::Quantity, quantity)
        .with_text(Field::Text, text)
        .with_text(Field::Evidence, evidence)
        .with_text(Field::File, origin.file.clone())
        .with_text(Field::Cell, cell_of(origin))
        .with_text(Field::Raw, origin.raw.clone())
        .with_text(Field::When, clock::today())
}

fn cell_of(origin: &tare_exchange::Origin) -> String {
    if origin.sheet.is_empty() { origin.cell.clone() } else { format!("{}!{}", origin.sheet, origin.cell) }
}
