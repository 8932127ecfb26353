//! Which file system a folder is on.

use serde::{Deserialize, Serialize};
use std::path::Path;

/// The file system that holds a folder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileSystem {
    /// Its type in the system's own word, such as `ext4`.
    pub kind: String,
    /// Where it is mounted.
    pub mount: String,
    /// Whether other computers share it, so that a write-ahead log cannot work.
    pub network: bool,
}

/// Types whose files are held by another computer or shared with one.
const NETWORK: &[&str] = &[
    "9p",
    "afs",
    "beegfs",
    "ceph",
    "cifs",
    "coda",
    "davfs",
    "gfs2",
    "glusterfs",
    "lustre",
    "ncpfs",
    "nfs",
    "nfs4",
    "ocfs2",
    "smb3",
    "smbfs",
    "vboxsf",
];

/// Finds the mount that holds `folder` (an absolute path without links) in the text of `/proc/mounts`.
pub(crate) fn file_system(mounts: &str, folder: &Path) -> Option<FileSystem> {
    let mut best: Option<FileSystem> = None;
    for line in mounts.lines() {
        let mut fields = line.split(' ');
        let (Some(_), Some(mount), Some(kind)) = (fields.next(), fields.next(), fields.next()) else { continue };
        let mount = unescape(mount);
        // A later mount on the same place hides the earlier one.
        let nearer = best.as_ref().is_none_or(|best| mount.len() >= best.mount.len());
        if nearer && folder.starts_with(&mount) {
            best = Some(FileSystem { kind: kind.to_string(), network: is_network(kind), mount });
        }
    }
    best
}

fn is_network(kind: &str) -> bool {
    // Drives that ordinary programs provide are nearly always somebody else's storage; `fuseblk` is a local disk.
    NETWORK.contains(&kind) || kind.starts_with("fuse.")
}

/// Turns `\040` and its like back into characters.
fn unescape(field: &str) -> String {
    let mut bytes = Vec::with_capacity(field.len());
    let mut rest = field.as_bytes();
    while let Some((&first, after)) = rest.split_first() {
        let octal = match (first, after) {
            (b'\\', [a @ b'0'..=b'3', b @ b'0'..=b'7', c @ b'0'..=b'7', ..]) => {
                Some((a - b'0') * 64 + (b - b'0') * 8 + (c - b'0'))
            }
            _ => None,
        };
        bytes.push(octal.unwrap_or(first));
        rest = if octal.is_some() { &after[3..] } else { after };
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOUNTS: &str = "/dev/sda1 / ext4 rw 0 0\n\
        proc /proc proc rw 0 0\n\
        server:/team /srv/team nfs4 rw 0 0\n\
        /dev/sdb1 /srv/team/local\\040disk xfs rw 0 0\n\
        broken\n\
        someone@host: /home/a/far fuse.sshfs rw 0 0\n";

    #[track_caller]
    fn found(folder: &str) -> (String, bool) {
        let found = file_system(MOUNTS, Path::new(folder)).unwrap();
        (found.kind, found.network)
    }

    #[test]
    fn the_nearest_mount_decides() {
        assert_eq!(found("/home/a/packs"), ("ext4".into(), false));
        assert_eq!(found("/srv/team/packs"), ("nfs4".into(), true));
        assert_eq!(found("/srv/team"), ("nfs4".into(), true));
        assert_eq!(found("/srv/teams"), ("ext4".into(), false));
        assert_eq!(found("/srv/team/local disk/packs"), ("xfs".into(), false));
        assert_eq!(found("/home/a/far/packs"), ("fuse.sshfs".into(), true));
    }

    #[test]
    fn nothing_is_guessed_from_nothing() {
        assert_eq!(file_system("", Path::new("/x")), None);
        assert_eq!(unescape("a\\04"), "a\\04");
        assert_eq!(unescape("a\\134b"), "a\\b");
        assert_eq!(unescape("\\777"), "\\777");
    }
}
