//! A workspace in a folder of its own, and the program run in it with a cleared environment.
#![allow(dead_code)]

pub(crate) mod hostile;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;
use tempfile::TempDir;

/// What a run printed and how it ended.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Run {
    /// Asserts that all went well and gives what was printed.
    #[track_caller]
    pub(crate) fn well(self) -> String {
        assert_eq!(self.code, 0, "out:\n{}\nerr:\n{}", self.out, self.err);
        self.out
    }

    /// The printed JSON.
    #[track_caller]
    pub(crate) fn json(self) -> serde_json::Value {
        let out = self.well();
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e} in\n{out}"))
    }

    /// Asserts that it was refused and that the message holds every one of these words.
    #[track_caller]
    pub(crate) fn refused(self, words: &[&str]) -> String {
        assert_eq!(self.code, 1, "out:\n{}\nerr:\n{}", self.out, self.err);
        for word in words {
            assert!(self.err.contains(word), "`{word}` is missing in\n{}", self.err);
        }
        self.err
    }
}

/// A folder to work in.
pub(crate) struct Bench {
    folder: TempDir,
}

impl Bench {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    /// A folder with the demo in `tare-demo`, which is made once and copied.
    #[track_caller]
    pub(crate) fn with_demo() -> Self {
        static MADE: LazyLock<PathBuf> = LazyLock::new(|| {
            let folder = kept();
            Bench::new().run_in(&folder, &["demo"]).well();
            folder
        });
        let bench = Self::new();
        copy(&MADE, bench.folder.path());
        bench
    }

    /// A folder with a small study in `tare-work`, made from `text`.
    #[track_caller]
    pub(crate) fn with_study(text: &str) -> Self {
        let bench = Self::new();
        bench.write("study.toml", text);
        bench.run(&["new", "--from", "study.toml"]).well();
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        std::fs::write(&path, content).expect("written");
        path
    }

    pub(crate) fn run(&self, args: &[&str]) -> Run {
        self.run_in(self.folder.path(), args)
    }

    pub(crate) fn run_in(&self, folder: &Path, args: &[&str]) -> Run {
        self.run_with(folder, args, &[])
    }

    /// As [`Bench::run_in`], with more of an environment: without any the program finds nothing on PATH.
    pub(crate) fn run_with(&self, folder: &Path, args: &[&str], environment: &[(&str, &std::ffi::OsStr)]) -> Run {
        let done = Command::new(env!("CARGO_BIN_EXE_tare"))
            .args(args)
            .current_dir(folder)
            .env_clear()
            .env("TARE_AUTHOR", "tester")
            .env("COLUMNS", "80")
            .envs(environment.iter().copied())
            .output()
            .expect("the program runs");
        let text = |bytes| String::from_utf8(bytes).expect("text in UTF-8");
        Run { code: done.status.code().unwrap_or(-1), out: text(done.stdout), err: text(done.stderr) }
    }

    /// Everything the history holds, to see that nothing was changed.
    pub(crate) fn entries(&self) -> usize {
        let history = self.run(&["history", "--json"]).json();
        history["entries"].as_array().map_or(0, Vec::len)
    }
}

/// An empty folder of this program of tests, under the folder of builds: what is shared by all its tests is dropped by none.
fn kept() -> PathBuf {
    let program = std::env::current_exe().expect("a program");
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(program.file_name().expect("a name"));
    if folder.exists() {
        std::fs::remove_dir_all(&folder).expect("the folder of the run before");
    }
    std::fs::create_dir_all(&folder).expect("a folder");
    folder
}

/// Copies what is in a folder.
#[track_caller]
fn copy(from: &Path, to: &Path) {
    for entry in std::fs::read_dir(from).expect("a folder") {
        let entry = entry.expect("an entry");
        let to = to.join(entry.file_name());
        if entry.file_type().expect("a type").is_dir() {
            std::fs::create_dir_all(&to).expect("a folder");
            copy(&entry.path(), &to);
        } else {
            std::fs::copy(entry.path(), &to).expect("copied");
        }
    }
}

/// A small study: a plate that is deburred, a bought screw.
pub(crate) const SMALL: &str = include_str!("../../../tare-app/tests/small/bracket.toml");
