//! The workspace folder as a [`Journals`] on SQLite.

use crate::doctor::Doctor;
use crate::entry::{Document, Entry, check_text};
use crate::error::{AppendError, Error, Kind};
use crate::form::STEPS;
use crate::journals::{Found, Hit, Journals, Lease, SEARCH_LIMIT, Snapshot};
use crate::open::{self, OpenMode, Opened, PATIENCE};
use crate::photos::Photos;
use crate::rows::{Fault, Step, append, head_of, id_at, number_at, number_of, read_entry};
use crate::search::matching;
use crate::sha256::Sha256;
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// An open workspace folder.
///
/// It holds one connection behind a lock, so it can be shared between threads as it is. Other stores and other programs
/// may have the same folder open; a request that must wait for them gives up after five seconds with
/// [`Kind::Locked`].
#[derive(Debug)]
pub struct Store {
    connection: Mutex<Connection>,
    folder: PathBuf,
    database: PathBuf,
    photos: Photos,
    mode: OpenMode,
    backup: Option<PathBuf>,
}

impl Store {
    /// Opens the workspace in a folder.
    ///
    /// A file of an older form is copied whole beside itself and then brought to the newest form, unless it is opened for
    /// reading only. Errors say what was found and what to do; nothing is changed then.
    pub fn open(folder: &Path, mode: OpenMode) -> Result<Self, Error> {
        Self::open_as(folder, mode, STEPS, PATIENCE)
    }

    /// Opens with other steps or patience than usual, so that tests can see older and newer forms.
    pub(crate) fn open_as(folder: &Path, mode: OpenMode, steps: &[&str], patience: Duration) -> Result<Self, Error> {
        let Opened { connection, database, photos, backup } = open::open(folder, mode, steps, patience)?;
        Ok(Self { connection: Mutex::new(connection), folder: folder.to_path_buf(), database, photos, mode, backup })
    }

    /// The folder it was opened from.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The copy that was made before this opening brought the database to a newer form, if it did.
    pub fn backup(&self) -> Option<&Path> {
        self.backup.as_deref()
    }

    /// Looks the whole workspace over, for a report of trouble.
    ///
    /// Reads every page of the database, so it takes a while on a large one.
    pub fn doctor(&self) -> Result<Doctor, Error> {
        Doctor::examine(&self.connection(), &self.folder, &self.database, &self.photos)
    }

    fn connection(&self) -> MutexGuard<'_, Connection> {
        // A thread that panicked in the middle has had its transaction rolled back when it let go.
        self.connection.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn fail(&self, error: &rusqlite::Error) -> Error {
        Error::database(error, &self.database)
    }

    /// Reads in one step.
    fn read<T>(&self, look: impl FnOnce(&Connection) -> Step<T>) -> Result<T, Error> {
        let mut connection = self.connection();
        let view = connection.transaction().map_err(|e| self.fail(&e))?;
        look(&view).map_err(|fault| self.explain(fault))
    }

    /// Writes in one step: all of it, or nothing when `change` fails.
    fn write<T>(&self, change: impl FnOnce(&Transaction<'_>) -> Step<T>) -> Result<T, Error> {
        if self.mode == OpenMode::ReadOnly {
            return Err(Error::opened_for_reading(&self.database));
        }
        let mut connection = self.connection();
        let whole = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(|e| self.fail(&e))?;
        let done = change(&whole).map_err(|fault| self.explain(fault))?;
        whole.commit().map_err(|e| self.fail(&e))?;
        Ok(done)
    }

    fn explain(&self, fault: Fault) -> Error {
        match fault {
            Fault::Database(error) => self.fail(&error),
            Fault::Refused(error) => error,
        }
    }
}

impl Journals for Store {
    fn documents(&self) -> Result<Vec<Document>, Error> {
        self.read(|view| {
            let mut query = view.prepare_cached(
                "SELECT id, kind, name, (SELECT coalesce(max(sequence), 0) FROM entry WHERE document = number)
                 FROM document ORDER BY number",
            )?;
            let rows = query.query_map([], |row| {
                Ok(Document { id: id_at(row, 0)?, kind: row.get(1)?, name: row.get(2)?, head: number_at(row, 3)? })
            })?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    fn create_document(&self, id: u128, kind: &str, name: &str) -> Result<(), Error> {
        check_text("kind", kind)?;
        check_text("name", name)?;
        self.write(|whole| {
            let there: Option<(String, String)> = whole
                .query_row("SELECT kind, name FROM document WHERE id = ?1", [id.to_be_bytes()], |row| {
                    Ok((row.get(0)?, row.get(1)?))
                })
                .optional()?;
            match there {
                None => {
                    let sql = "INSERT INTO document (id, kind, name) VALUES (?1, ?2, ?3)";
                    whole.execute(sql, params![id.to_be_bytes(), kind, name])?;
                    Ok(())
                }
                Some((k, n)) if k == kind && n == name => Ok(()),
                Some(_) => Err(Error::taken_document(id).into()),
            }
        })
    }

    fn append(&self, document: u128, expected_sequence: u64, entry: &Entry) -> Result<u64, AppendError> {
        entry.check(document)?;
        self.write(|whole| append(whole, document, expected_sequence, entry))?
    }

    fn since(&self, document: u128, sequence: u64) -> Result<Vec<Entry>, Error> {
        self.read(|view| {
            let number = number_of(view, document)?;
            let mut query = view.prepare_cached(
                "SELECT id, sequence, author, time, says, undoes, idea, edits, form
                 FROM entry WHERE document = ?1 AND sequence > ?2 ORDER BY sequence",
            )?;
            // A number beyond any that fits is beyond any entry.
            let after = i64::try_from(sequence).unwrap_or(i64::MAX);
            let rows = query.query_map(params![number, after], |row| read_entry(row, document))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    fn head(&self, document: u128) -> Result<u64, Error> {
        self.read(|view| head_of(view, number_of(view, document)?))
    }

    fn put_snapshot(&self, document: u128, sequence: u64, form: u32, bytes: &[u8]) -> Result<(), Error> {
        self.write(|whole| {
            let number = number_of(whole, document)?;
            let head = head_of(whole, number)?;
            if sequence > head {
                return Err(Error::snapshot_ahead(sequence, head).into());
            }
            whole.execute(
                "INSERT INTO snapshot (document, sequence, form, bytes) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (document) DO UPDATE SET sequence = excluded.sequence, form = excluded.form, bytes = excluded.bytes
                 WHERE excluded.sequence >= snapshot.sequence OR excluded.form <> snapshot.form",
                params![number, sequence as i64, form, bytes],
            )?;
            Ok(())
        })
    }

    fn snapshot(&self, document: u128) -> Result<Option<Snapshot>, Error> {
        self.read(|view| {
            let number = number_of(view, document)?;
            let sql = "SELECT sequence, form, bytes FROM snapshot WHERE document = ?1";
            let read = |row: &Row<'_>| Ok(Snapshot { sequence: number_at(row, 0)?, form: row.get(1)?, bytes: row.get(2)? });
            Ok(view.query_row(sql, [number], read).optional()?)
        })
    }

    fn put_texts(&self, texts: &[&str]) -> Result<Vec<Sha256>, Error> {
        texts.iter().try_for_each(|text| check_text("text", text))?;
        // One transaction: each would wait for the disk.
        self.write(|whole| {
            let sql = "INSERT INTO text (sha256, text) VALUES (?1, ?2) ON CONFLICT (sha256) DO NOTHING";
            let mut kept = Vec::with_capacity(texts.len());
            for text in texts {
                let sha256 = Sha256::of(text.as_bytes());
                whole.execute(sql, params![sha256.0, text])?;
                kept.push(sha256);
            }
            Ok(kept)
        })
    }

    fn text(&self, sha256: Sha256) -> Result<Option<String>, Error> {
        self.read(|view| {
            let found: Option<String> =
                view.query_row("SELECT text FROM text WHERE sha256 = ?1", [sha256.0], |row| row.get(0)).optional()?;
            match found {
                Some(text) if Sha256::of(text.as_bytes()) != sha256 => {
                    let message = format!("the text {sha256} in {} is not the one that was put there", self.database.display());
                    Err(Error::new(Kind::Damaged, message, "restore the workspace from a backup").into())
                }
                found => Ok(found),
            }
        })
    }

    fn remember(&self, key: &str, value: &str) -> Result<(), Error> {
        check_text("key", key)?;
        check_text("value", value)?;
        self.write(|whole| {
            let sql = "INSERT INTO memory (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = excluded.value";
            whole.execute(sql, [key, value])?;
            Ok(())
        })
    }

    fn recall(&self, key: &str) -> Result<Option<String>, Error> {
        self.read(|view| Ok(view.query_row("SELECT value FROM memory WHERE key = ?1", [key], |row| row.get(0)).optional()?))
    }

    fn put_blob(&self, bytes: &[u8]) -> Result<Sha256, Error> {
        if self.mode == OpenMode::ReadOnly {
            return Err(Error::opened_for_reading(&self.database));
        }
        self.photos.put(bytes)
    }

    fn blob(&self, sha256: Sha256) -> Result<Option<Vec<u8>>, Error> {
        self.photos.get(sha256)
    }

    fn index(&self, document: u128, subject: &str, text: &str) -> Result<(), Error> {
        check_text("subject", subject)?;
        check_text("text", text)?;
        self.write(|whole| {
            let number = number_of(whole, document)?;
            if text.is_empty() {
                whole.execute("DELETE FROM searched WHERE document = ?1 AND subject = ?2", params![number, subject])?;
            } else {
                whole.execute(
                    "INSERT INTO searched (document, subject, text) VALUES (?1, ?2, ?3)
                     ON CONFLICT (document, subject) DO UPDATE SET text = excluded.text",
                    params![number, subject, text],
                )?;
            }
            Ok(())
        })
    }

    fn search(&self, text: &str) -> Result<Vec<Hit>, Error> {
        let Some(matching) = matching(text) else { return Ok(Vec::new()) };
        self.read(|view| {
            let mut query = view.prepare_cached(
                "SELECT document.id, searched.entry, searched.subject, searched.text
                 FROM word JOIN searched ON searched.number = word.rowid JOIN document ON document.number = searched.document
                 WHERE word MATCH ?1 ORDER BY word.rowid DESC LIMIT ?2",
            )?;
            let rows = query.query_map(params![matching, SEARCH_LIMIT as i64], |row| {
                let found = match row.get::<_, Option<String>>(2)? {
                    Some(subject) => Found::Subject(subject),
                    None => Found::Entry(number_at(row, 1)?),
                };
                Ok(Hit { document: id_at(row, 0)?, found, text: row.get(3)? })
            })?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    fn lease_labels(&self, document: u128, device: &str, count: u32) -> Result<Range<u32>, Error> {
        check_text("device", device)?;
        self.write(|whole| {
            let number = number_of(whole, document)?;
            let first: u32 =
                whole.query_row("SELECT coalesce(max(past), 1) FROM lease WHERE document = ?1", [number], |row| row.get(0))?;
            let past = first.checked_add(count).filter(|_| count > 0).ok_or_else(|| Error::no_labels(first, count))?;
            let sql = "INSERT INTO lease (document, first, past, device) VALUES (?1, ?2, ?3, ?4)";
            whole.execute(sql, params![number, first, past, device])?;
            Ok(first..past)
        })
    }

    fn leases(&self, document: u128) -> Result<Vec<Lease>, Error> {
        self.read(|view| {
            let number = number_of(view, document)?;
            let mut query = view.prepare_cached("SELECT device, first, past FROM lease WHERE document = ?1 ORDER BY first")?;
            let rows = query.query_map([number], |row| Ok(Lease { device: row.get(0)?, labels: row.get(1)?..row.get(2)? }))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }
}
