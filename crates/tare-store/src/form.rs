//! The form of the database file, and the steps from one form to the next.

use crate::error::{Error, Kind};
use crate::photos::{sync_file, sync_folder};
use crate::sha256::Sha256;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use std::fs;
use std::path::{Path, PathBuf};

/// This program's name in messages.
pub(crate) const PROGRAM: &str = "tare";

/// This program's version in messages.
pub(crate) const VERSION: &str = env!("CARGO_PKG_VERSION");

/// Marks a database file as a workspace: the letters `Tare`.
pub(crate) const APPLICATION: i64 = 0x5461_7265;

/// The recipes, one for each form from 1.
pub(crate) const STEPS: &[&str] = &[include_str!("form/1.sql")];

/// What the head of a database file says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Head {
    /// Nothing is in it.
    Empty,
    /// A workspace of this form.
    Workspace(i64),
}

/// Reads the head of the file and refuses what this program must not touch.
pub(crate) fn read_head(connection: &Connection, file: &Path, steps: &[&str]) -> Result<Head, Error> {
    let fail = |e: rusqlite::Error| Error::database(&e, file);
    let number = |sql: &str| connection.query_row(sql, [], |row| row.get::<_, i64>(0)).map_err(fail);
    let application = number("PRAGMA application_id")?;
    let form = number("PRAGMA user_version")?;
    if application == 0 && form == 0 && number("SELECT count(*) FROM sqlite_schema")? == 0 {
        return Ok(Head::Empty);
    }
    let shown = file.display();
    if application != APPLICATION || form < 1 {
        let message = format!("{shown} is the database of another program");
        return Err(Error::new(Kind::Foreign, message, "choose another folder for the workspace; nothing was changed"));
    }
    let known = steps.len() as i64;
    if form > known {
        let message = format!("{PROGRAM} {VERSION} knows workspace form {known}, but {shown} has form {form}");
        let hint = format!("open it with the newer {PROGRAM} that wrote it, or update this one; nothing was changed");
        return Err(Error::new(Kind::Newer, message, hint));
    }
    for (form, step) in (1..=form).zip(steps) {
        let stored: Option<Vec<u8>> =
            connection.query_row("SELECT sha256 FROM step WHERE form = ?1", [form], |row| row.get(0)).optional().map_err(fail)?;
        if stored.as_deref() != Some(&recipe(step).0[..]) {
            let message = format!("form {form} of {shown} was not made by the recipe that {PROGRAM} {VERSION} knows");
            let hint = format!("open it with the {PROGRAM} that wrote it, or restore it from a backup; nothing was changed");
            return Err(Error::new(Kind::Form, message, hint));
        }
    }
    Ok(Head::Workspace(form))
}

/// The fingerprint of a step; line ends do not count, since a checkout may change them.
fn recipe(step: &str) -> Sha256 {
    Sha256::of(step.replace('\r', "").as_bytes())
}

/// Brings the file to the newest form, one transaction for each step.
///
/// A file that holds something is first copied whole to a file beside it.
pub(crate) fn migrate(connection: &mut Connection, file: &Path, head: Head, steps: &[&str]) -> Result<Option<PathBuf>, Error> {
    let known = steps.len() as i64;
    let backup = match head {
        Head::Workspace(form) if form < known => Some(back_up(connection, file, known)?),
        Head::Workspace(_) => return Ok(None),
        Head::Empty => None,
    };
    for (form, step) in (1..).zip(steps) {
        take(connection, form, step).map_err(|e| Error::database(&e, file))?;
    }
    Ok(backup)
}

/// Takes one step, unless it has been taken (perhaps by another program a moment ago).
fn take(connection: &mut Connection, form: i64, step: &str) -> rusqlite::Result<()> {
    let change = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let now: i64 = change.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if now >= form {
        return Ok(());
    }
    change.execute_batch(step)?;
    let program = format!("{PROGRAM} {VERSION}");
    change.execute("INSERT INTO step (form, sha256, program) VALUES (?1, ?2, ?3)", params![form, recipe(step).0, program])?;
    change.pragma_update(None, "application_id", APPLICATION)?;
    change.pragma_update(None, "user_version", form)?;
    change.commit()
}

/// Copies the database to a file of its own, complete and on the disk when it returns.
fn back_up(connection: &Connection, file: &Path, known: i64) -> Result<PathBuf, Error> {
    let place = |n: u32| match n {
        1 => file.with_extension(format!("before-form-{known}.sqlite")),
        n => file.with_extension(format!("before-form-{known}-{n}.sqlite")),
    };
    let copy = (1..).map(place).find(|copy| !copy.exists()).unwrap_or_else(|| place(1));
    // Written under another name first: a file with the proper name is always a whole one.
    let partial = file.with_extension(format!("before-form-{known}-{}.partial", std::process::id()));
    let fail = |e: std::io::Error| Error::file(&e, &copy);
    if partial.exists() {
        fs::remove_file(&partial).map_err(fail)?;
    }
    let name = partial
        .to_str()
        .ok_or_else(|| Error::invalid(format!("the name of {} is not readable text", file.display()), "rename the folder"))?;
    connection.execute("VACUUM INTO ?1", [name]).map_err(|e| Error::database(&e, file))?;
    sync_file(&partial).map_err(fail)?;
    fs::rename(&partial, &copy).map_err(fail)?;
    if let Some(folder) = file.parent() {
        sync_folder(folder).map_err(fail)?;
    }
    Ok(copy)
}
