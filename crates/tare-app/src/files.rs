//! Files of the user, with messages for people.

use std::path::Path;
use tare_diag::{Diag, Place};

/// The largest file read whole.
const MAX_FILE: u64 = 64 << 20;

/// What the system's answer means for a file.
pub fn file_diag(error: &std::io::Error, file: &Path) -> Diag {
    use std::io::ErrorKind;
    let shown = file.display();
    let (code, says, hint) = match error.kind() {
        ErrorKind::NotFound => ("file-missing", format!("there is no file {shown}"), "check the spelling and the folder"),
        ErrorKind::PermissionDenied => (
            "file-permission",
            format!("the system does not let this user open {shown}"),
            "ask for permission, or copy it to a folder of your own",
        ),
        ErrorKind::ReadOnlyFilesystem => {
            ("file-read-only", format!("{shown} is on a disk that may not be written"), "choose a folder on a writable disk")
        }
        ErrorKind::StorageFull => ("file-full", format!("the disk that holds {shown} is full"), "make room and try again"),
        ErrorKind::IsADirectory => ("file-folder", format!("{shown} is a folder, expected a file"), "name a file in it"),
        ErrorKind::AlreadyExists => ("file-exists", format!("{shown} exists already"), "choose another name"),
        _ => ("file", format!("{shown} could not be read or written ({error})"), "check the file and its disk"),
    };
    Diag::error(code, says).at(Place::File(shown.to_string())).hint(hint)
}

/// Reads a file whole, within a bound.
///
/// # Errors
/// One message: missing, a folder, not permitted, too large.
pub fn read_bytes(file: &Path) -> Result<Vec<u8>, Diag> {
    let found = std::fs::metadata(file).map_err(|e| file_diag(&e, file))?;
    if found.is_dir() {
        return Err(file_diag(&std::io::ErrorKind::IsADirectory.into(), file));
    }
    if found.len() > MAX_FILE {
        let says = format!("{} holds {} bytes, expected at most {MAX_FILE}", file.display(), found.len());
        return Err(Diag::error("file-too-large", says)
            .at(Place::File(file.display().to_string()))
            .hint("cut it to the sheet or rows that matter"));
    }
    std::fs::read(file).map_err(|e| file_diag(&e, file))
}

/// Reads a text file in UTF-8.
///
/// # Errors
/// As [`read_bytes`], or it is no text.
pub fn read_text(file: &Path) -> Result<String, Diag> {
    let bytes = read_bytes(file)?;
    String::from_utf8(bytes).map_err(|e| {
        let says = format!("{} is no text in UTF-8 (byte {} breaks it)", file.display(), e.utf8_error().valid_up_to());
        Diag::error("file-no-text", says).at(Place::File(file.display().to_string())).hint("save it as UTF-8 text")
    })
}

/// Writes a file: whole, or not at all.
///
/// # Errors
/// One message: not permitted, read-only or full disk.
pub fn write(file: &Path, bytes: &[u8]) -> Result<(), Diag> {
    let mut partial = file.as_os_str().to_owned();
    partial.push(".partial");
    let partial = std::path::PathBuf::from(partial);
    let done = std::fs::write(&partial, bytes).and_then(|()| std::fs::rename(&partial, file));
    done.map_err(|e| {
        let _ = std::fs::remove_file(&partial);
        file_diag(&e, file)
    })
}
