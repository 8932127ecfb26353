//! What was done to a document, and taking it back.

use crate::clock;
use crate::lock::is_lock;
use crate::workspace::{Loaded, Recorded, Stamp, Workspace, apply_all, read_edits};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap, HashSet};
use tare_diag::Diag;
use tare_model::{Edit, Id, Kind};
use tare_store::Entry;

/// The author of what the program records by itself.
pub(crate) const PROGRAM: &str = "tare";

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
        let mut log = Log::default();
        for entry in self.entries(document)? {
            let edits = read_edits(&entry).unwrap_or_default();
            log.take(&entry, &edits);
        }
        Ok(log.rows())
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
            // texts that the program came to hold were nobody's wish: that is taken back where it is asked for by its number
            None => {
                let wished = |number: &&u64| {
                    let Some(entry) = entries.iter().find(|entry| entry.sequence == **number && entry.author == PROGRAM) else {
                        return true;
                    };
                    let edits = read_edits(entry).unwrap_or_default();
                    !edits.iter().all(|edit| is_lock(edit, &loaded.document))
                };
                let last = standing.done.iter().rev().find(wished);
                *last.ok_or_else(|| vec![Diag::error("undo-nothing", "there is no entry left to take back")])?
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
pub(crate) fn stated(edits: &[Edit]) -> usize {
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

/// Entries as rows, and which of them name a record: what pages ask about a journal again and again.
#[derive(Clone, Debug, Default)]
pub(crate) struct Log {
    rows: Vec<HistoryRow>,
    numbers: HashMap<u128, u64>,
    about: HashMap<Id, Vec<u64>>,
}

impl Log {
    /// Takes the next entry in.
    pub(crate) fn take(&mut self, entry: &Entry, edits: &[Edit]) {
        let row = HistoryRow {
            number: entry.sequence,
            time: entry.time.clone(),
            author: entry.author.clone(),
            says: entry.says.clone(),
            edits: stated(edits),
            undoes: entry.undoes.and_then(|id| self.numbers.get(&id).copied()),
            undone: false,
        };
        self.add(entry.id, row, edits);
    }

    /// Adds the row of an entry that was just recorded.
    pub(crate) fn add(&mut self, id: u128, row: HistoryRow, edits: &[Edit]) {
        let number = row.number;
        self.numbers.insert(id, number);
        self.rows.push(row);
        for edit in edits {
            let ids: Vec<Id> = match edit {
                Edit::Set(set) => vec![set.id],
                Edit::Move { id, .. } => vec![*id],
                Edit::Add { records, .. } | Edit::Remove { records, .. } => records.iter().map(|r| r.id).collect(),
            };
            for id in ids {
                let about = self.about.entry(id).or_default();
                if about.last() != Some(&number) {
                    about.push(number);
                }
            }
        }
    }

    /// The number of the entry with an identifier.
    pub(crate) fn number(&self, id: u128) -> Option<u64> {
        self.numbers.get(&id).copied()
    }

    /// All rows, oldest first.
    pub(crate) fn rows(&self) -> Vec<HistoryRow> {
        let mut rows = self.rows.clone();
        let standing = standing_of(rows.iter().map(|row| (row.number, row.undoes)));
        let done: HashSet<u64> = standing.done.into_iter().collect();
        for row in &mut rows {
            row.undone = row.undoes.is_none() && !done.contains(&row.number);
        }
        rows
    }

    /// The entries that name a record, newest first, at most a dozen.
    pub(crate) fn about(&self, id: Id) -> Vec<HistoryRow> {
        const MOST: usize = 12;
        let numbers = self.about.get(&id).into_iter().flatten().rev().take(MOST);
        numbers.filter_map(|number| self.rows.iter().rfind(|row| row.number == *number).cloned()).collect()
    }
}

/// Follows undo and redo through the journal.
fn standing(entries: &[Entry]) -> Standing {
    let numbers: BTreeMap<u128, u64> = entries.iter().map(|e| (e.id, e.sequence)).collect();
    standing_of(entries.iter().map(|e| (e.sequence, e.undoes.and_then(|id| numbers.get(&id).copied()))))
}

/// The same for entries with the numbers of those they take back.
fn standing_of(entries: impl Iterator<Item = (u64, Option<u64>)>) -> Standing {
    let mut standing = Standing::default();
    for (number, target) in entries {
        match target {
            None => {
                standing.done.push(number);
            }
            Some(target) => match standing.taken_back.iter().position(|(undo, _)| *undo == target) {
                Some(at) => {
                    let (_, original) = standing.taken_back.remove(at);
                    standing.done.push(original);
                }
                None => {
                    standing.done.retain(|n| *n != target);
                    standing.taken_back.push((number, target));
                }
            },
        }
    }
    standing
}
