//! The state of a workspace, for a report of trouble.

use crate::error::Error;
use crate::form::{PROGRAM, STEPS, VERSION};
use crate::mounts::{FileSystem, file_system};
use crate::open::beside;
use crate::photos::Photos;
use rusqlite::Connection;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use tare_diag::Diag;

/// The most problems that are listed of each sort.
const PROBLEMS: usize = 20;

/// What was found when a workspace was looked over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Doctor {
    /// This program and its version.
    pub program: String,
    /// The version of the database engine inside this program.
    pub sqlite: String,
    /// The folder, as it was opened.
    pub folder: PathBuf,
    /// The database file.
    pub database: PathBuf,
    /// The form of the file.
    pub form: i64,
    /// The newest form this program knows.
    pub known_form: i64,
    /// How changes are kept whole: `wal` is due.
    pub journal_mode: String,
    /// How hard writes are pushed to the disk: 2 (full) is due.
    pub synchronous: i64,
    /// Whether references between tables are enforced.
    pub foreign_keys: bool,
    /// What the integrity check of the database says; empty when it found nothing.
    pub integrity: Vec<String>,
    /// Documents whose entries are not numbered 1, 2, 3 ...; none is due.
    pub gaps: Vec<String>,
    /// Bytes of the database file.
    pub database_bytes: u64,
    /// Bytes in the write-ahead log beside it.
    pub log_bytes: u64,
    /// The file system that holds the folder, where the system tells.
    pub file_system: Option<FileSystem>,
    /// How many of each thing it holds.
    pub counts: Counts,
}

/// How many of each thing a workspace holds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Documents of each kind.
    pub documents: BTreeMap<String, u64>,
    /// Entries of all journals.
    pub entries: u64,
    /// Snapshots.
    pub snapshots: u64,
    /// Locked texts.
    pub texts: u64,
    /// Photos.
    pub photos: u64,
    /// Bytes of all photos.
    pub photo_bytes: u64,
}

impl Doctor {
    pub(crate) fn examine(connection: &Connection, folder: &Path, database: &Path, photos: &Photos) -> Result<Self, Error> {
        let fail = |e: rusqlite::Error| Error::database(&e, database);
        let number = |sql: &str| connection.query_row(sql, [], |row| row.get::<_, i64>(0)).map_err(fail);
        let lines = |sql: &str| -> Result<Vec<String>, Error> {
            let mut query = connection.prepare(sql).map_err(fail)?;
            let rows = query.query_map([], |row| row.get(0)).map_err(fail)?;
            rows.collect::<Result<_, _>>().map_err(fail)
        };
        let mut integrity = lines(&format!("PRAGMA integrity_check({PROBLEMS})"))?;
        integrity.retain(|line| line != "ok");
        // A reference that leads nowhere is no damage to SQLite, but it is to a record.
        integrity.extend(lines(&format!(
            "SELECT 'row ' || coalesce(rowid, '?') || ' of ' || \"table\" || ' refers to nothing in ' || \"parent\"
             FROM pragma_foreign_key_check LIMIT {PROBLEMS}"
        ))?);
        let gaps = lines(&format!(
            "SELECT lower(hex(document.id)) FROM document JOIN entry ON entry.document = document.number GROUP BY number
             HAVING min(sequence) <> 1 OR max(sequence) <> count(*) ORDER BY number LIMIT {PROBLEMS}"
        ))?;
        let (photo_count, photo_bytes) = photos.count()?;
        let size = |file: &Path| fs::metadata(file).map_or(0, |found| found.len());
        let whole = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_path_buf());
        Ok(Self {
            program: format!("{PROGRAM} {VERSION}"),
            sqlite: rusqlite::version().to_string(),
            folder: folder.to_path_buf(),
            database: database.to_path_buf(),
            form: number("PRAGMA user_version")?,
            known_form: STEPS.len() as i64,
            journal_mode: connection.query_row("PRAGMA journal_mode", [], |row| row.get(0)).map_err(fail)?,
            synchronous: number("PRAGMA synchronous")?,
            foreign_keys: number("PRAGMA foreign_keys")? == 1,
            integrity,
            gaps,
            database_bytes: size(database),
            log_bytes: size(&beside(database, "-wal")),
            file_system: fs::read_to_string("/proc/mounts").ok().and_then(|mounts| file_system(&mounts, &whole)),
            counts: Counts {
                documents: kinds(connection).map_err(fail)?,
                entries: number("SELECT count(*) FROM entry")?.unsigned_abs(),
                snapshots: number("SELECT count(*) FROM snapshot")?.unsigned_abs(),
                texts: number("SELECT count(*) FROM text")?.unsigned_abs(),
                photos: photo_count,
                photo_bytes,
            },
        })
    }

    /// What should be looked into; empty when nothing was found.
    pub fn advice(&self) -> Vec<Diag> {
        let mut advice = Vec::new();
        let backup = "stop writing, keep a copy of the whole folder, and go back to the last backup";
        if let Some(first) = self.integrity.first() {
            let message = format!("{} is damaged in {} or more places ({first})", self.database.display(), self.integrity.len());
            advice.push(Diag::error("store-damaged", message).hint(backup));
        }
        if !self.gaps.is_empty() {
            let message = format!("entries are missing in the journal of document {}", self.gaps.join(", "));
            advice.push(Diag::error("store-gap", message).hint(backup));
        }
        if let Some(place) = self.file_system.as_ref().filter(|place| place.network) {
            let message = format!("the workspace is on a network drive ({} at {})", place.kind, place.mount);
            let hint = "move the folder to a disk of this computer: a write-ahead log cannot be shared over a network";
            advice.push(Diag::warning("store-network-drive", message).hint(hint));
        }
        if self.journal_mode != "wal" {
            let message = format!("{} keeps its changes in mode `{}`, not `wal`", self.database.display(), self.journal_mode);
            advice.push(Diag::warning("store-journal-mode", message).hint("open it once for writing with this program"));
        }
        advice
    }
}

fn kinds(connection: &Connection) -> rusqlite::Result<BTreeMap<String, u64>> {
    let mut query = connection.prepare("SELECT kind, count(*) FROM document GROUP BY kind")?;
    let rows = query.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs())))?;
    rows.collect()
}
