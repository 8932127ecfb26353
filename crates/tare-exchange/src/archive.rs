//! Files packed as one, and unpacked with bounds: the same files always give the same bytes, and nothing hostile comes out.

use crate::limits;
use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};
use tare_diag::{Diag, Place};
use zip::write::SimpleFileOptions;

/// Files by their path, parted by `/`.
pub type Files = BTreeMap<String, Vec<u8>>;

/// The most files of an archive.
pub const MAX_FILES: usize = 50_000;
/// The most an archive may unpack to, in bytes.
pub const MAX_BYTES: u64 = 1 << 30;

/// Packs files as a zip archive: sorted, with one fixed time, so that equal files give equal bytes.
///
/// # Errors
/// The packer's own failure: more than a zip archive holds.
pub fn pack(files: &Files) -> Result<Vec<u8>, Diag> {
    let failed = |e: &dyn std::fmt::Display| Diag::error("archive", format!("the files cannot be packed ({e})"));
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default()
        .compression_method(zip::CompressionMethod::Deflated)
        .last_modified_time(zip::DateTime::default())
        .unix_permissions(0o644);
    for (path, bytes) in files {
        zip.start_file(path, options).map_err(|e| failed(&e))?;
        zip.write_all(bytes).map_err(|e| failed(&e))?;
    }
    zip.finish().map(Cursor::into_inner).map_err(|e| failed(&e))
}

/// Whether bytes begin like a zip archive.
pub fn is_archive(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"PK\x05\x06")
}

/// The names of the files of a zip archive; none where it is damaged.
pub fn archive_names(bytes: &[u8]) -> Vec<String> {
    zip::ZipArchive::new(Cursor::new(bytes)).map(|zip| names(bytes, zip.central_directory_start())).unwrap_or_default()
}

/// Unpacks a zip archive in memory.
///
/// # Errors
/// All entries that may not be taken (outside the folder, twice, links, locked), or one message: damaged, too many, too large.
pub fn unpack(file: &str, bytes: &[u8]) -> Result<Files, Vec<Diag>> {
    let place = || Place::File(file.to_owned());
    let damaged = |what: &str, e: &dyn std::fmt::Display| {
        Diag::error("archive-damaged", format!("{what} cannot be unpacked ({e})")).at(place()).hint("fetch the file again")
    };
    let mut zip = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| vec![damaged("the archive", &e)])?;
    let names = names(bytes, zip.central_directory_start());
    if names.len().max(zip.len()) > MAX_FILES {
        let says = format!("the archive holds {} files, expected at most {MAX_FILES}", names.len().max(zip.len()));
        return Err(vec![Diag::error("archive-large", says).at(place())]);
    }
    let (mut files, mut problems) = (Files::new(), Vec::new());
    let mut seen = BTreeMap::new();
    for name in &names {
        *seen.entry(name.to_lowercase()).or_insert(0usize) += 1;
    }
    for (name, count) in seen.iter().filter(|(_, count)| **count > 1) {
        problems.push(Diag::error("archive-twice", format!("the archive holds `{name}` {count} times")).at(place()));
    }
    let mut left = MAX_BYTES;
    for at in 0..zip.len() {
        let entry = match zip.by_index(at) {
            Ok(entry) => entry,
            Err(error) => {
                problems.push(damaged(&format!("file {} of the archive", at + 1), &error));
                continue;
            }
        };
        let Ok(name) = std::str::from_utf8(entry.name_raw()).map(str::to_owned) else {
            let says = format!("the name of file {} of the archive is no text in UTF-8", at + 1);
            problems.push(Diag::error("archive-name", says).at(place()));
            continue;
        };
        if entry.is_symlink() {
            problems.push(Diag::error("archive-link", format!("`{name}` of the archive is a link, expected a file")).at(place()));
            continue;
        }
        if let Err(why) = plain_path(name.strip_suffix('/').unwrap_or(&name)) {
            problems.push(Diag::error("archive-path", format!("`{name}` of the archive {why}")).at(place()));
            continue;
        }
        if entry.is_dir() {
            continue;
        }
        let packed = entry.compressed_size().max(1);
        let allowed = left.min(packed.saturating_mul(limits::RATIO).max(limits::RATIO_FREE_BYTES));
        let mut content = Vec::new();
        if let Err(error) = entry.take(allowed + 1).read_to_end(&mut content) {
            problems.push(damaged(&format!("`{name}` of the archive"), &error));
            continue;
        }
        if content.len() as u64 > allowed {
            let says = format!("`{name}` of the archive ({packed} bytes packed) unpacks to more than {} MB", allowed >> 20);
            problems.push(Diag::error("archive-large", says).at(place()));
            return Err(problems);
        }
        left -= content.len() as u64;
        files.insert(name, content);
    }
    if problems.is_empty() { Ok(files) } else { Err(problems) }
}

/// Says what is wrong with a path that is to stay inside its folder, on any system.
///
/// # Errors
/// Why not, as the end of a sentence.
pub fn plain_path(path: &str) -> Result<(), &'static str> {
    let parts = || path.split('/');
    if path.starts_with('/') || path.contains('\\') || path.contains(':') || parts().any(|part| part == "..") {
        return Err("leads out of the folder");
    }
    if parts().any(|part| part.is_empty() || part == ".") || path.chars().any(char::is_control) || path.len() > 1_000 {
        return Err("is no plain path");
    }
    Ok(())
}

/// The names of the central directory, each as often as it stands there: the reader keeps one of equal names.
fn names(bytes: &[u8], start: u64) -> Vec<String> {
    let mut found = Vec::new();
    let mut at = usize::try_from(start).unwrap_or(bytes.len());
    while let Some(head) = bytes.get(at..at.saturating_add(46)).filter(|head| head.starts_with(b"PK\x01\x02")) {
        let length = |at: usize| usize::from(u16::from_le_bytes([head[at], head[at + 1]]));
        let (name, more) = (length(28), length(30) + length(32));
        let Some(name_bytes) = bytes.get(at + 46..at + 46 + name) else { break };
        found.push(String::from_utf8_lossy(name_bytes).into_owned());
        at += 46 + name + more;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn some() -> Files {
        [("a.txt", "one"), ("photos/電.jpg", "two")].iter().map(|(n, t)| ((*n).to_owned(), t.as_bytes().to_vec())).collect()
    }

    fn told(bytes: &[u8]) -> String {
        unpack("x.zip", bytes).expect_err("refused").iter().map(|d| format!("{d}\n")).collect()
    }

    #[test]
    fn what_is_packed_comes_back_and_is_packed_the_same() {
        let packed = pack(&some()).expect("packed");
        assert_eq!(unpack("x.zip", &packed).expect("unpacked"), some());
        assert_eq!(packed, pack(&some()).expect("packed"));
    }

    #[test]
    fn nothing_comes_from_outside_or_twice_or_swollen() {
        let with = |name: &str| {
            let mut files = some();
            files.insert(name.to_owned(), b"x".to_vec());
            pack(&files).expect("packed")
        };
        for name in ["../x", "a/../../x", "/x", "c:/x", "a\\..\\x"] {
            assert!(told(&with(name)).contains("leads out of the folder"), "{name}");
        }
        // a writer refuses to write a name twice, so one of two equally long names is changed afterwards, in both of its places
        let mut twice = with("a.txu");
        while let Some(at) = twice.windows(5).position(|w| w == b"a.txu") {
            twice[at + 4] = b't';
        }
        assert!(told(&twice).contains("2 times"), "{}", told(&twice));
        let zeros = [("z.csv".to_owned(), vec![0; 32 << 20])].into_iter().collect();
        assert!(told(&pack(&zeros).expect("packed")).contains("unpacks to more than"));
        let whole = pack(&some()).expect("packed");
        assert!(told(&whole[..whole.len() - 30]).contains("archive-damaged"));
        assert!(told(b"PK\x03\x04 nothing").contains("archive-damaged"));
        let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
        zip.add_symlink("l", "/etc/hosts", SimpleFileOptions::default()).expect("a link");
        assert!(told(&zip.finish().expect("packed").into_inner()).contains("is a link"));
    }
}
