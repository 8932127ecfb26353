//! Rows of the journal tables, inside one step.

use crate::entry::Entry;
use crate::error::{AppendError, Error};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};

/// A failure inside one step, before the file is named.
pub(crate) enum Fault {
    Database(rusqlite::Error),
    Refused(Error),
}

impl From<rusqlite::Error> for Fault {
    fn from(error: rusqlite::Error) -> Self {
        Self::Database(error)
    }
}

impl From<Error> for Fault {
    fn from(error: Error) -> Self {
        Self::Refused(error)
    }
}

pub(crate) type Step<T> = Result<T, Fault>;

/// Adds one entry; the inner result is the answer, the outer one the fate of the step.
pub(crate) fn append(whole: &Transaction<'_>, document: u128, expected: u64, entry: &Entry) -> Step<Result<u64, AppendError>> {
    let number = number_of(whole, document)?;
    if let Some(there) = entry_with_id(whole, entry.id)? {
        let (document, sequence) = (there.document, there.sequence);
        let same = there.same_substance(entry);
        return Ok(Err(if same { AppendError::Duplicate { sequence } } else { AppendError::Reused { document, sequence } }));
    }
    let current = head_of(whole, number)?;
    if current != expected {
        return Ok(Err(AppendError::Stale { current }));
    }
    if let Some(undone) = entry.undoes
        && entry_with_id(whole, undone)?.is_none_or(|undone| undone.document != document)
    {
        return Err(Error::nothing_to_undo(undone).into());
    }
    let sequence = current + 1;
    whole
        .prepare_cached(
            "INSERT INTO entry (document, sequence, id, author, time, says, undoes, idea, edits, form)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            number,
            sequence as i64,
            entry.id.to_be_bytes(),
            entry.author,
            entry.time,
            entry.says,
            entry.undoes.map(u128::to_be_bytes),
            entry.idea.map(u128::to_be_bytes),
            entry.edits,
            entry.form,
        ])?;
    if !entry.says.is_empty() {
        let sql = "INSERT INTO searched (document, entry, text) VALUES (?1, ?2, ?3)";
        whole.execute(sql, params![number, sequence as i64, entry.says])?;
    }
    Ok(Ok(sequence))
}

fn entry_with_id(view: &Connection, id: u128) -> Step<Option<Entry>> {
    let mut query = view.prepare_cached(
        "SELECT entry.id, sequence, author, time, says, undoes, idea, edits, form, document.id
         FROM entry JOIN document ON document.number = entry.document WHERE entry.id = ?1",
    )?;
    Ok(query.query_row([id.to_be_bytes()], |row| read_entry(row, id_at(row, 9)?)).optional()?)
}

pub(crate) fn read_entry(row: &Row<'_>, document: u128) -> rusqlite::Result<Entry> {
    let optional = |at: usize| row.get::<_, Option<[u8; 16]>>(at).map(|id| id.map(u128::from_be_bytes));
    Ok(Entry {
        id: id_at(row, 0)?,
        document,
        sequence: number_at(row, 1)?,
        author: row.get(2)?,
        time: row.get(3)?,
        says: row.get(4)?,
        undoes: optional(5)?,
        idea: optional(6)?,
        edits: row.get(7)?,
        form: row.get(8)?,
    })
}

/// The number a document has inside the database.
pub(crate) fn number_of(view: &Connection, document: u128) -> Step<i64> {
    let mut query = view.prepare_cached("SELECT number FROM document WHERE id = ?1")?;
    let found = query.query_row([document.to_be_bytes()], |row| row.get(0)).optional()?;
    found.ok_or_else(|| Error::unknown_document(document).into())
}

pub(crate) fn head_of(view: &Connection, number: i64) -> Step<u64> {
    let mut query = view.prepare_cached("SELECT coalesce(max(sequence), 0) FROM entry WHERE document = ?1")?;
    Ok(query.query_row([number], |row| number_at(row, 0))?)
}

pub(crate) fn id_at(row: &Row<'_>, at: usize) -> rusqlite::Result<u128> {
    Ok(u128::from_be_bytes(row.get(at)?))
}

pub(crate) fn number_at(row: &Row<'_>, at: usize) -> rusqlite::Result<u64> {
    let number: i64 = row.get(at)?;
    u64::try_from(number).map_err(|_| rusqlite::Error::IntegralValueOutOfRange(at, number))
}
