//! Study folders on the disk, as a folder or packed as one file.

use super::layout::{STUDY, kind_of_table};
use crate::files::file_diag;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use tare_diag::{Diag, Place};
use tare_exchange::{Files, MAX_BYTES, MAX_FILES, archive_names, is_archive, pack, plain_path, unpack};

/// Folders inside a study folder are followed this deep.
const DEPTH: usize = 8;

/// Whether a path is meant as a study folder: one on the disk, or an archive.
pub fn is_study_folder(path: &Path) -> bool {
    if path.is_dir() {
        let has_table = || {
            fs::read_dir(path)
                .into_iter()
                .flatten()
                .flatten()
                .any(|e| e.file_name().to_str().is_some_and(|n| kind_of_table(n).is_some()))
        };
        return fs::read_to_string(path.join(STUDY)).is_ok_and(|text| says_form(&text)) || has_table();
    }
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("zip")) {
        return true;
    }
    let mut start = [0; 4];
    let begins = fs::File::open(path).and_then(|mut file| std::io::Read::read_exact(&mut file, &mut start)).is_ok();
    begins
        && is_archive(&start)
        && fs::read(path).is_ok_and(|bytes| archive_names(&bytes).iter().any(|name| name.ends_with(STUDY)))
}

/// Whether a text begins like the `study.toml` of a folder: other study texts state no form.
fn says_form(text: &str) -> bool {
    let head = text.trim_start_matches('\u{feff}').lines().take_while(|line| !line.trim_start().starts_with('['));
    head.into_iter().any(|line| line.trim_start().starts_with("form") && line.contains('='))
}

/// Reads the files of a study folder or archive. What begins with a full stop (of version controls, of systems) is no part of it.
///
/// # Errors
/// Missing, not permitted, too large, links, damaged archive, paths that lead out of it.
pub fn load(path: &Path) -> Result<Files, Vec<Diag>> {
    if path.is_dir() {
        return load_folder(path);
    }
    let found = fs::metadata(path).map_err(|e| vec![file_diag(&e, path)])?;
    let name = path.display().to_string();
    if found.len() > MAX_BYTES {
        let says = format!("{name} holds {} bytes, expected at most {MAX_BYTES}", found.len());
        return Err(vec![Diag::error("folder-large", says).at(Place::File(name))]);
    }
    let bytes = fs::read(path).map_err(|e| vec![file_diag(&e, path)])?;
    if !is_archive(&bytes) {
        let diag = Diag::error("archive-damaged", format!("{name} is no zip archive, expected a study folder packed as one"));
        return Err(vec![diag.at(Place::File(name))]);
    }
    Ok(unwrapped(unpack(&name, &bytes)?))
}

/// Without the folder that was packed around it by hand, and what systems put beside it.
fn unwrapped(files: Files) -> Files {
    let hidden = |path: &str| path.split('/').any(|part| part.starts_with('.') || part == "__MACOSX");
    let files: Files = files.into_iter().filter(|(path, _)| !hidden(path)).collect();
    if files.contains_key(STUDY) {
        return files;
    }
    let Some(top) = files.keys().next().and_then(|path| path.split_once('/')).map(|(top, _)| format!("{top}/")) else {
        return files;
    };
    if !files.contains_key(&format!("{top}{STUDY}")) || !files.keys().all(|path| path.starts_with(&top)) {
        return files;
    }
    files.into_iter().map(|(path, bytes)| (path[top.len()..].to_owned(), bytes)).collect()
}

fn load_folder(root: &Path) -> Result<Files, Vec<Diag>> {
    let (mut files, mut problems) = (Files::new(), Vec::new());
    let mut open: Vec<(PathBuf, String, usize)> = vec![(root.to_path_buf(), String::new(), 0)];
    let mut left = MAX_BYTES;
    while let Some((folder, prefix, depth)) = open.pop() {
        let entries = match fs::read_dir(&folder) {
            Ok(entries) => entries,
            Err(error) => {
                problems.push(file_diag(&error, &folder));
                continue;
            }
        };
        for entry in entries.flatten() {
            let place = || Place::File(entry.path().display().to_string());
            let Ok(name) = entry.file_name().into_string() else {
                problems.push(Diag::error("folder-name", "the name of a file is no text in UTF-8").at(place()));
                continue;
            };
            if name.starts_with('.') {
                continue;
            }
            let path = format!("{prefix}{name}");
            let Ok(kind) = entry.file_type() else { continue };
            if kind.is_symlink() {
                problems.push(
                    Diag::error("folder-link", format!("`{path}` is a link, expected a file"))
                        .at(place())
                        .hint("put the file itself there"),
                );
            } else if kind.is_dir() {
                if depth + 1 >= DEPTH {
                    problems.push(Diag::error("folder-deep", format!("`{path}` is more than {DEPTH} folders deep")).at(place()));
                } else {
                    open.push((entry.path(), format!("{path}/"), depth + 1));
                }
            } else if let Err(why) = plain_path(&path) {
                problems.push(Diag::error("folder-path", format!("`{path}` {why}")).at(place()));
            } else {
                let size = entry.metadata().map_or(0, |found| found.len());
                if size > left || files.len() >= MAX_FILES {
                    let says = format!("the folder holds more than {MAX_FILES} files or {MAX_BYTES} bytes");
                    problems.push(Diag::error("folder-large", says).at(Place::File(root.display().to_string())));
                    return Err(problems);
                }
                left -= size;
                match fs::read(entry.path()) {
                    Ok(bytes) => drop(files.insert(path, bytes)),
                    Err(error) => problems.push(file_diag(&error, &entry.path())),
                }
            }
        }
    }
    if problems.is_empty() { Ok(files) } else { Err(problems) }
}

/// Whether something stands at a path that a study folder must not be written over: files of something else.
///
/// # Errors
/// The message that says so.
pub fn may_write(path: &Path) -> Result<(), Diag> {
    let taken = |says: String| {
        Err(Diag::error("folder-taken", says).at(Place::File(path.display().to_string())).hint("name an empty or a new folder"))
    };
    if path.is_dir() {
        let empty = fs::read_dir(path).map_err(|e| file_diag(&e, path))?.next().is_none();
        return if empty || is_study_folder(path) {
            Ok(())
        } else {
            taken(format!("{} holds files and is no study folder", path.display()))
        };
    }
    if path.exists() && !is_zip_of_study(path) {
        return taken(format!("{} is there and holds no study folder", path.display()));
    }
    Ok(())
}

fn is_zip_of_study(path: &Path) -> bool {
    fs::read(path).is_ok_and(|bytes| archive_names(&bytes).iter().any(|name| name.ends_with(STUDY)))
}

/// Writes a study folder, or an archive where the path ends in `.zip`. It is written beside and put in place whole; what begins with a full stop stays.
///
/// # Errors
/// One message: something else stands there, not permitted, full disk. What was there is then as before.
pub fn save(path: &Path, files: &Files) -> Result<(), Diag> {
    may_write(path)?;
    if let Some((wrong, why)) = files.keys().find_map(|path| Some((path, plain_path(path).err()?))) {
        return Err(Diag::error("folder-path", format!("`{wrong}` {why}")).at(Place::File(path.display().to_string())));
    }
    if is_zip(path) {
        return crate::files::write(path, &pack(files)?);
    }
    let whole = std::path::absolute(path).map_err(|e| file_diag(&e, path))?;
    let Some(name) = whole.file_name().map(|name| name.to_string_lossy().into_owned()) else {
        return Err(Diag::error("folder-name", format!("{} has no name to write it under", path.display())));
    };
    let beside = |what: &str| whole.with_file_name(format!(".{name}.{what}-{}", std::process::id()));
    let (new, old) = (beside("partial"), beside("before"));
    if let Some(around) = whole.parent() {
        fs::create_dir_all(around).map_err(|e| file_diag(&e, around))?;
    }
    let written = write_all(&new, files).and_then(|()| put_in_place(&whole, &new, &old));
    if written.is_err() {
        // the first failure is the one to report
        let _ = fs::remove_dir_all(&new);
    }
    written.map_err(|e| file_diag(&e, path))?;
    let _ = fs::remove_dir_all(&old);
    Ok(())
}

/// Whether a path asks for an archive.
pub fn is_zip(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("zip"))
}

fn write_all(folder: &Path, files: &Files) -> std::io::Result<()> {
    fs::create_dir(folder)?;
    for (path, bytes) in files {
        let place = folder.join(path);
        if let Some(around) = place.parent() {
            fs::create_dir_all(around)?;
        }
        let mut file = fs::File::create_new(&place)?;
        file.write_all(bytes)?;
        file.sync_all()?;
    }
    Ok(())
}

/// Exchanges the folder for the new one; where that fails, everything is put back.
fn put_in_place(whole: &Path, new: &Path, old: &Path) -> std::io::Result<()> {
    if !whole.exists() {
        return fs::rename(new, whole);
    }
    let mut carried = Vec::new();
    let mut carry = || -> std::io::Result<()> {
        for entry in fs::read_dir(whole)? {
            let name = entry?.file_name();
            if name.to_string_lossy().starts_with('.') {
                fs::rename(whole.join(&name), new.join(&name))?;
                carried.push(name);
            }
        }
        fs::rename(whole, old)?;
        fs::rename(new, whole).inspect_err(|_| drop(fs::rename(old, whole)))
    };
    carry().inspect_err(|_| {
        for name in &carried {
            let _ = fs::rename(new.join(name), whole.join(name));
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(of: &[(&str, &str)]) -> Files {
        of.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect()
    }

    #[test]
    fn a_folder_is_exchanged_whole_and_hidden_files_stay() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("pack");
        let first = files(&[(STUDY, "form = 1\n"), ("photos/a.jpg", "1"), ("parts.csv", "id\n")]);
        save(&folder, &first).expect("written");
        fs::create_dir(folder.join(".git")).expect("made");
        fs::write(folder.join(".git/HEAD"), "x").expect("written");
        let second = files(&[(STUDY, "form = 1\n"), ("items.csv", "id\n")]);
        save(&folder, &second).expect("written again");
        assert_eq!(load(&folder).expect("read"), second);
        assert!(folder.join(".git/HEAD").exists() && !folder.join("parts.csv").exists());
        assert_eq!(fs::read_dir(place.path()).expect("read").count(), 1, "nothing is left beside it");
        let other = place.path().join("other");
        fs::create_dir(&other).expect("made");
        fs::write(other.join("letter.txt"), "x").expect("written");
        assert!(save(&other, &first).expect_err("refused").to_string().contains("folder-taken"));
        assert!(other.join("letter.txt").exists());
    }

    #[test]
    fn nothing_is_written_outside() {
        let place = tempfile::tempdir().expect("a folder");
        for wrong in ["../x", "/x", "photos/../../x", "c:x"] {
            let evil = files(&[(STUDY, "form = 1\n"), (wrong, "x")]);
            for name in ["pack", "pack.zip"] {
                assert!(save(&place.path().join(name), &evil).expect_err("refused").to_string().contains("folder-path"));
            }
        }
        assert_eq!(fs::read_dir(place.path()).expect("read").count(), 0);
    }

    #[cfg(unix)]
    #[test]
    fn a_failure_leaves_the_old_one_and_links_are_refused() {
        let place = tempfile::tempdir().expect("a folder");
        let folder = place.path().join("pack");
        let first = files(&[(STUDY, "form = 1\n"), ("parts.csv", "id\n")]);
        save(&folder, &first).expect("written");
        // a file where a folder is due cannot be written
        let broken = files(&[(STUDY, "form = 1\n"), ("photos", "x"), ("photos/a.jpg", "1")]);
        assert!(save(&folder, &broken).is_err());
        assert_eq!(load(&folder).expect("read"), first);
        assert_eq!(fs::read_dir(place.path()).expect("read").count(), 1);
        std::os::unix::fs::symlink("/etc/hosts", folder.join("notes.txt")).expect("linked");
        assert!(load(&folder).expect_err("refused")[0].to_string().contains("is a link"));
    }

    #[test]
    fn an_archive_packed_by_hand_is_taken_out_of_its_folder() {
        let packed = files(&[
            ("pack/study.toml", "form = 1\n"),
            ("pack/parts.csv", "id\n"),
            ("pack/.DS_Store", "x"),
            ("__MACOSX/pack/a", "x"),
        ]);
        assert_eq!(unwrapped(packed).into_keys().collect::<Vec<_>>(), ["parts.csv", "study.toml"]);
    }
}
