//! Opening a workspace folder.

use crate::error::{Error, Kind};
use crate::form::{self, Head, PROGRAM};
use crate::photos::{Photos, sync_folder};
use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a request waits for another program to let go of the database.
pub(crate) const PATIENCE: Duration = Duration::from_millis(5000);

/// The name of the database file in the folder.
pub(crate) const DATABASE: &str = "workspace.sqlite";

/// What a workspace is opened for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpenMode {
    /// Make a new workspace; the folder itself may be new too, its parent must exist.
    Create,
    /// Work on an existing one.
    ReadWrite,
    /// Only read an existing one.
    ReadOnly,
}

/// An opened workspace, before it is put behind a lock.
pub(crate) struct Opened {
    pub(crate) connection: Connection,
    pub(crate) database: PathBuf,
    pub(crate) photos: Photos,
    pub(crate) backup: Option<PathBuf>,
}

/// Opens the workspace in `folder` and brings it to the last of `steps`.
pub(crate) fn open(folder: &Path, mode: OpenMode, steps: &[&str], patience: Duration) -> Result<Opened, Error> {
    find_folder(folder, mode)?;
    let database = folder.join(DATABASE);
    let photos = Photos::new(folder.join("photos"));
    find_database(&database, mode)?;
    let mut connection = match mode {
        OpenMode::ReadOnly => connect_to_read(&database, patience)?,
        OpenMode::Create => connect(&database, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE, patience)?,
        OpenMode::ReadWrite => connect(&database, OpenFlags::SQLITE_OPEN_READ_WRITE, patience)?,
    };
    let head = form::read_head(&connection, &database, steps)?;
    check_use(head, mode, &database, &photos, steps)?;
    let mut backup = None;
    if mode != OpenMode::ReadOnly {
        set_for_writing(&connection, &database)?;
        backup = form::migrate(&mut connection, &database, head, steps)?;
        photos.prepare()?;
        sync_folder(folder).map_err(|e| Error::file(&e, folder))?;
    }
    Ok(Opened { connection, database, photos, backup })
}

fn find_folder(folder: &Path, mode: OpenMode) -> Result<(), Error> {
    let shown = folder.display();
    match fs::metadata(folder) {
        Ok(found) if found.is_dir() => Ok(()),
        Ok(_) => {
            let message = format!("{shown} is a file, not a folder");
            Err(Error::new(Kind::MissingFolder, message, "name the folder that holds the workspace"))
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound && mode == OpenMode::Create => make_folder(folder),
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let message = format!("there is no folder {shown}");
            Err(Error::new(Kind::MissingFolder, message, "check the spelling, and that its disk is connected"))
        }
        Err(error) => Err(Error::file(&error, folder)),
    }
}

fn make_folder(folder: &Path) -> Result<(), Error> {
    match fs::create_dir(folder) {
        Ok(()) => {}
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let message = format!("the folder around {} does not exist", folder.display());
            return Err(Error::new(Kind::MissingFolder, message, "create that folder first, or check the spelling"));
        }
        Err(error) => return Err(Error::file(&error, folder)),
    }
    match folder.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => sync_folder(parent).map_err(|e| Error::file(&e, parent)),
        _ => Ok(()),
    }
}

fn find_database(database: &Path, mode: OpenMode) -> Result<(), Error> {
    match fs::metadata(database) {
        Ok(found) if found.is_file() => Ok(()),
        Ok(_) => Err(Error::not_a_database(database)),
        Err(error) if error.kind() == io::ErrorKind::NotFound && mode == OpenMode::Create => Ok(()),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Err(no_workspace(database, "there is no")),
        Err(error) => Err(Error::file(&error, database)),
    }
}

fn no_workspace(database: &Path, found: &str) -> Error {
    let message = format!("{found} {}", database.display());
    Error::new(Kind::NoWorkspace, message, "name the folder of a workspace, or create one there")
}

/// Whether a file with this head may be used in this mode.
fn check_use(head: Head, mode: OpenMode, database: &Path, photos: &Photos, steps: &[&str]) -> Result<(), Error> {
    let shown = database.display();
    match (head, mode) {
        (Head::Workspace(_), OpenMode::Create) => {
            let message = format!("{shown} exists already");
            Err(Error::new(Kind::AlreadyThere, message, "open it, or choose another folder for the new workspace"))
        }
        // An empty file is what a program leaves that ended while creating a workspace, or what a failed copy leaves.
        (Head::Empty, OpenMode::Create) if photos.count()?.0 > 0 => {
            let message = format!("{shown} is empty or missing, though photos stand beside it");
            Err(Error::new(Kind::Damaged, message, "restore it from a backup, or create the new workspace in another folder"))
        }
        (Head::Empty, OpenMode::ReadWrite | OpenMode::ReadOnly) => Err(Error::new(
            Kind::NoWorkspace,
            format!("{shown} is empty"),
            "restore it from a backup if it held something, or create the workspace again",
        )),
        (Head::Workspace(form), OpenMode::ReadOnly) if form < steps.len() as i64 => {
            let message = format!("{shown} has the older form {form}; {PROGRAM} {} reads form {}", form::VERSION, steps.len());
            Err(Error::new(Kind::Older, message, "open it once for writing, which brings it up to date and keeps a backup"))
        }
        _ => Ok(()),
    }
}

fn connect(database: &Path, flags: OpenFlags, patience: Duration) -> Result<Connection, Error> {
    let fail = |e: rusqlite::Error| Error::database(&e, database);
    let connection = Connection::open_with_flags(database, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX).map_err(fail)?;
    // SQLite falls back to reading without a word.
    if flags.contains(OpenFlags::SQLITE_OPEN_READ_WRITE) && connection.is_readonly("main").map_err(fail)? {
        return Err(Error::read_only(database));
    }
    let settle = || {
        connection.busy_timeout(patience)?;
        // The file may come from someone else: nothing in it may run functions or rewrite the tables of the database itself.
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
        connection.pragma_update(None, "foreign_keys", true)?;
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))
    };
    settle().map_err(fail)?;
    Ok(connection)
}

/// Opens for reading, also where not even the small file that readers share can be made.
fn connect_to_read(database: &Path, patience: Duration) -> Result<Connection, Error> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY;
    let first = connect(database, flags, patience);
    let Err(error) = first else { return first };
    let cannot_share = matches!(error.kind, Kind::Permission | Kind::ReadOnly);
    let rest = fs::metadata(beside(database, "-wal")).map_or(0, |found| found.len());
    match immutable_address(database) {
        // With nothing waiting in the log, the file alone is the whole truth, and nobody can be writing here.
        Some(address) if cannot_share && rest == 0 => {
            connect(&address, flags | OpenFlags::SQLITE_OPEN_URI, patience).map_err(|_| error)
        }
        _ => Err(error),
    }
}

/// The address by which the file is read without the files beside it.
fn immutable_address(database: &Path) -> Option<PathBuf> {
    let whole = fs::canonicalize(database).ok()?;
    let mut address = "file://".to_string();
    for byte in whole.to_str()?.bytes() {
        match byte {
            b'/' | b'-' | b'_' | b'.' => address.push(char::from(byte)),
            letter if letter.is_ascii_alphanumeric() => address.push(char::from(letter)),
            other => address.push_str(&format!("%{other:02x}")),
        }
    }
    Some(PathBuf::from(address + "?immutable=1"))
}

/// The file that SQLite keeps beside the database.
pub(crate) fn beside(database: &Path, ending: &str) -> PathBuf {
    let mut name = database.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

fn set_for_writing(connection: &Connection, database: &Path) -> Result<(), Error> {
    let settle = || {
        let mode: String = connection.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0))?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        // On some systems an ordinary sync stops at the drive's own memory.
        connection.pragma_update(None, "fullfsync", true)?;
        connection.pragma_update(None, "checkpoint_fullfsync", true)?;
        Ok(mode)
    };
    let mode = settle().map_err(|e: rusqlite::Error| match e.sqlite_error_code() {
        Some(ErrorCode::CannotOpen) => Error::read_only(database),
        _ => Error::database(&e, database),
    })?;
    if mode == "wal" {
        return Ok(());
    }
    let message = format!("the disk that holds {} cannot keep a write-ahead log (it offers `{mode}`)", database.display());
    Err(Error::new(Kind::Disk, message, "keep the workspace on a disk of this computer, not on a network drive"))
}

#[cfg(test)]
#[path = "open_tests.rs"]
mod tests;
