//! What was done to a document, and taking it back.

use crate::clock;
use crate::lock::is_lock;
use crate::workspace::{Loaded, Recorded, Stamp, Workspace, apply_all, read_edits};
use serde::Serialize;
use std::collections::BTreeMap;
use tare_diag::Diag;
use tare_model::{Edit, Id, Kind};
use tare_store::Entry;

/// One line of a document's history.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct HistoryRow {
    /// The entry's number.
    pub number: u64,
    /// When, in universal time.
    pub time: String,
    /// Who.
    pub author: String,
    /// What it says.
    pub says: String,
    /// How many edits it holds.
    pub edits: usize,
    /// The number of the entry it takes back.
    pub undoes: Option<u64>,
    /// Whether it has been taken back.
    pub undone: bool,
}

/// The standing of entries: those that hold, and those that can be brought back, in order.
#[derive(Debug, Default)]
struct Standing {
    /// Original entries that hold.
    done: Vec<u64>,
    /// Undo entries that could themselves be taken back, with the original.
    taken_back: Vec<(u64, u64)>,
}

impl Workspace {
    /// The history of a document, oldest first.
    ///
    /// # Errors
    /// One message of the store.
    pub fn history(&self, document: Id) -> Result<Vec<HistoryRow>, Diag> {
        let entries = self.entries(document)?;
        let numbers: BTreeMap<u128, u64> = entries.iter().map(|e| (e.id, e.sequence)).collect();
        let standing = standing(&entries);
        let rows = entries.iter().map(|entry| {
            let undoes = entry.undoes.and_then(|id| numbers.get(&id).copied());
            let undone = undoes.is_none() && !standing.done.contains(&entry.sequence);
            let edits = read_edits(entry).map_or(0, |e| stated(&e));
            HistoryRow {
                number: entry.sequence,
                time: entry.time.clone(),
                author: entry.author.clone(),
                says: entry.says.clone(),
                edits,
                undoes,
                undone,
            }
        });
        Ok(rows.collect())
    }

    /// The entries whose edits name a record, newest first, at most a dozen.
    pub(crate) fn history_of(&self, document: Id, record: Id) -> Result<Vec<HistoryRow>, Diag> {
        const MOST: usize = 12;
        // the identifier stands in an edit's text wherever the edit is about it
        let name = record.to_string();
        let entries = self.entries(document)?;
        let named = entries.iter().rev().filter(|entry| entry.edits.contains(&name)).take(MOST);
        let rows = named.map(|entry| HistoryRow {
            number: entry.sequence,
            time: entry.time.clone(),
            author: entry.author.clone(),
            says: entry.says.clone(),
            edits: 0,
            undoes: None,
            undone: false,
        });
        Ok(rows.collect())
    }

    /// Takes an entry back (the last one that holds, if none is named) by a new entry with its edits turned round.
    ///
    /// # Errors
    /// Nothing to take back, or a conflict with what came since, with both values; nothing is changed then.
    pub fn undo(&self, loaded: &mut Loaded, number: Option<u64>, author: &str) -> Result<Recorded, Vec<Diag>> {
        let entries = self.entries(loaded.document.id).map_err(|d| vec![d])?;
        let standing = standing(&entries);
        let number = match number {
            Some(number) => number,
            None => {
                *standing.done.last().ok_or_else(|| vec![Diag::error("undo-nothing", "there is no entry left to take back")])?
            }
        };
        let entry = find(&entries, number)?;
        if entry.undoes.is_some() {
            return Err(vec![
                Diag::error("undo-undo", format!("entry {number} itself takes an entry back"))
                    .hint("use `tare redo` to bring that entry back"),
            ]);
        }
        if !standing.done.contains(&number) {
            return Err(vec![
                Diag::error("undo-done", format!("entry {number} has been taken back already"))
                    .hint("`tare redo` brings it back"),
            ]);
        }
        self.turn_round(loaded, entry, author, format!("undo {number}: {}", entry.says))
    }

    /// Brings the entry back that was taken back last (or the one of a number).
    ///
    /// # Errors
    /// As [`Workspace::undo`].
    pub fn redo(&self, loaded: &mut Loaded, number: Option<u64>, author: &str) -> Result<Recorded, Vec<Diag>> {
        let entries = self.entries(loaded.document.id).map_err(|d| vec![d])?;
        let standing = standing(&entries);
        let found = match number {
            Some(number) => standing.taken_back.iter().find(|(_, original)| *original == number),
            None => standing.taken_back.last(),
        };
        let Some((undo, original)) = found else {
            return Err(vec![
                Diag::error("redo-nothing", "there is no undone entry to bring back").hint("`tare history` shows what was done"),
            ]);
        };
        let says = find(&entries, *original)?.says.clone();
        self.turn_round(loaded, find(&entries, *undo)?, author, format!("redo {original}: {says}"))
    }

    fn turn_round(&self, loaded: &mut Loaded, entry: &Entry, author: &str, says: String) -> Result<Recorded, Vec<Diag>> {
        let edits = read_edits(entry).map_err(|d| vec![d])?;
        // What the study came to use by the entry may be in use by others since; holding on to it does no harm. Only an entry about
        // nothing but texts lets them go.
        let texts_only = edits.iter().all(|e| is_lock(e, &loaded.document));
        let turned = edits.iter().rev().filter(|e| texts_only || !is_lock(e, &loaded.document));
        let inverse: Vec<Edit> = turned.map(Edit::invert).collect();
        apply_all(&mut loaded.document, &inverse).map_err(|d| vec![d])?;
        let stamp = Stamp { author: author.to_owned(), says };
        self.commit(loaded, inverse, &stamp, Some(entry.id), clock::new_id())
    }
}

/// How many edits a person made: the texts held beside them are not counted, unless there is nothing else.
fn stated(edits: &[Edit]) -> usize {
    let held = |e: &&Edit| matches!(e, Edit::Add { records, .. } if records.iter().all(|r| r.kind == Kind::Lock));
    let held = edits.iter().filter(held).count();
    if held == edits.len() { held } else { edits.len() - held }
}

fn find(entries: &[Entry], number: u64) -> Result<&Entry, Vec<Diag>> {
    entries.iter().find(|e| e.sequence == number).ok_or_else(|| {
        let last = entries.last().map_or(0, |e| e.sequence);
        vec![
            Diag::error("entry-unknown", format!("there is no entry {number}, the last one is {last}"))
                .hint("`tare history` lists them"),
        ]
    })
}

/// Follows undo and redo through the journal.
fn standing(entries: &[Entry]) -> Standing {
    let numbers: BTreeMap<u128, u64> = entries.iter().map(|e| (e.id, e.sequence)).collect();
    let mut standing = Standing::default();
    for entry in entries {
        let target = entry.undoes.and_then(|id| numbers.get(&id).copied());
        match target {
            None => {
                standing.done.push(entry.sequence);
            }
            Some(target) => match standing.taken_back.iter().position(|(undo, _)| *undo == target) {
                Some(at) => {
                    let (_, original) = standing.taken_back.remove(at);
                    standing.done.push(original);
                }
                None => {
                    standing.done.retain(|n| *n != target);
                    standing.taken_back.push((entry.sequence, target));
                }
            },
        }
    }
    standing
}
