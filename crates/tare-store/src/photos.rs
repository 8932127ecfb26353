//! Photos as files named by their content.

use crate::error::Error;
use crate::sha256::Sha256;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Where files stand while they are being written.
const PARTIAL: &str = ".partial";

/// A file that is still partial after this long was left behind by a program that ended in the middle.
const ABANDONED: Duration = Duration::from_secs(24 * 60 * 60);

/// A folder of files, `ab/cdef...`, each named by its SHA-256.
#[derive(Clone, Debug)]
pub(crate) struct Photos {
    folder: PathBuf,
}

impl Photos {
    pub(crate) fn new(folder: PathBuf) -> Self {
        Self { folder }
    }

    /// Where a file with this content stands.
    pub(crate) fn place(&self, sha256: Sha256) -> PathBuf {
        let name = sha256.to_string();
        self.folder.join(&name[..2]).join(&name[2..])
    }

    /// Writes the bytes so that a file of that name is complete and on the disk, now and after any crash.
    pub(crate) fn put(&self, bytes: &[u8]) -> Result<Sha256, Error> {
        let sha256 = Sha256::of(bytes);
        let place = self.place(sha256);
        self.write(&place, bytes).map_err(|e| Error::file(&e, &place))?;
        Ok(sha256)
    }

    fn write(&self, place: &Path, bytes: &[u8]) -> io::Result<()> {
        let shelf = place.parent().unwrap_or(&self.folder);
        let partial = self.folder.join(PARTIAL);
        fs::create_dir_all(shelf)?;
        // A file that is there may have lost bytes since, so its content is compared, not its name.
        let there = matches!(fs::read(place), Ok(found) if found == bytes);
        if !there {
            fs::create_dir_all(&partial)?;
            let (mut file, temporary) = create_new(&partial)?;
            let written = file.write_all(bytes).and_then(|()| file.sync_all()).and_then(|()| fs::rename(&temporary, place));
            if let Err(error) = written {
                // The first failure is the one to report; a file left behind is cleared away at a later start.
                let _ = fs::remove_file(&temporary);
                return Err(error);
            }
        }
        // Also for a file that was there: whoever renamed it may have died before this.
        sync_folder(shelf)?;
        sync_folder(&self.folder)
    }

    /// Reads the file with this content and checks it.
    pub(crate) fn get(&self, sha256: Sha256) -> Result<Option<Vec<u8>>, Error> {
        let place = self.place(sha256);
        match fs::read(&place) {
            Ok(bytes) if Sha256::of(&bytes) == sha256 => Ok(Some(bytes)),
            Ok(_) => Err(Error::damaged_photo(&place)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(Error::file(&error, &place)),
        }
    }

    /// Makes the folder and clears away what was left half written long ago.
    pub(crate) fn prepare(&self) -> Result<(), Error> {
        fs::create_dir_all(&self.folder).map_err(|e| Error::file(&e, &self.folder))?;
        let Ok(left) = fs::read_dir(self.folder.join(PARTIAL)) else { return Ok(()) };
        for file in left.flatten() {
            let age = file.metadata().and_then(|m| m.modified()).ok().and_then(|at| at.elapsed().ok());
            if age.is_some_and(|age| age > ABANDONED) {
                // Only tidiness: a file that cannot be removed does no harm.
                let _ = fs::remove_file(file.path());
            }
        }
        Ok(())
    }

    /// Counts the files and their bytes.
    pub(crate) fn count(&self) -> Result<(u64, u64), Error> {
        let fail = |e: io::Error| Error::file(&e, &self.folder);
        let mut total = (0, 0);
        let shelves = match fs::read_dir(&self.folder) {
            Ok(shelves) => shelves,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(total),
            Err(error) => return Err(fail(error)),
        };
        for shelf in shelves {
            let shelf = shelf.map_err(fail)?;
            if shelf.file_name().len() != 2 || !shelf.file_type().map_err(fail)?.is_dir() {
                continue;
            }
            for file in fs::read_dir(shelf.path()).map_err(fail)? {
                total = (total.0 + 1, total.1 + file.and_then(|f| f.metadata()).map_err(fail)?.len());
            }
        }
        Ok(total)
    }
}

/// Creates a file that nobody else has.
fn create_new(folder: &Path) -> io::Result<(File, PathBuf)> {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    loop {
        let place = folder.join(format!("{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed)));
        match File::create_new(&place) {
            Ok(file) => return Ok((file, place)),
            // An earlier process with the same number left it behind.
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
}

/// Waits until the file is on the disk.
pub(crate) fn sync_file(file: &Path) -> io::Result<()> {
    File::options().write(true).open(file)?.sync_all()
}

/// Waits until the names in the folder are on the disk (where the system offers that).
pub(crate) fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) { File::open(folder)?.sync_all() } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_damaged_file_is_noticed_and_mended_by_putting_it_again() {
        let place = tempfile::tempdir().unwrap();
        let photos = Photos::new(place.path().join("photos"));
        let sha256 = photos.put(b"lid from above").unwrap();
        fs::write(photos.place(sha256), b"lid from ab").unwrap();
        let error = photos.get(sha256).unwrap_err();
        assert_eq!(error.kind, crate::Kind::Damaged);
        assert_eq!(photos.put(b"lid from above").unwrap(), sha256);
        assert_eq!(photos.get(sha256).unwrap().as_deref(), Some(&b"lid from above"[..]));
        assert_eq!(photos.count().unwrap(), (1, 14));
    }

    #[test]
    fn what_was_left_half_written_long_ago_is_cleared_away_and_the_rest_stays() {
        let place = tempfile::tempdir().unwrap();
        let photos = Photos::new(place.path().join("photos"));
        photos.put(b"x").unwrap();
        let partial = place.path().join("photos").join(PARTIAL);
        let (old, fresh) = (partial.join("1-1"), partial.join("1-2"));
        for file in [&old, &fresh] {
            fs::write(file, b"half").unwrap();
        }
        let long_ago = std::time::SystemTime::now() - 2 * ABANDONED;
        File::options().write(true).open(&old).unwrap().set_modified(long_ago).unwrap();
        photos.prepare().unwrap();
        assert!(!old.exists());
        assert!(fresh.exists());
        assert_eq!(photos.count().unwrap(), (1, 1));
    }
}
