//! A program that is killed at any instant leaves a whole workspace behind.
//!
//! This holds for the end of a program. What a failing power supply leaves behind depends on the disk as well; the order of
//! writes that protects against it (photo synced, named, its folder synced, then the entry with a full sync) cannot be
//! seen from here.

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;
use tare_store::{AppendError, Entry, Journals, Kind, OpenMode, Sha256, Store};

const FOLDER: &str = "TARE_STORE_KILL_FOLDER";
const DOCUMENT: u128 = 77;
const ROUNDS: usize = 100;

/// A fixed sequence of numbers that looks random (a linear congruential generator modulo 2^64, the high bits used).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// The photo that entry `n` names: mostly small, sometimes large enough to be killed within.
fn photo(n: u64) -> Vec<u8> {
    let mut numbers = Numbers(n);
    let length = if numbers.below(4) == 0 { 150_000 } else { 500 } + numbers.below(1000);
    (0..length).map(|i| (i.wrapping_mul(n + 7) >> 3) as u8).collect()
}

/// Entry `n`, always the same one; some are long enough to span many pages.
fn entry(n: u64) -> Entry {
    let pad = "x".repeat(Numbers(n + 1).below(3).pow(3) as usize * 2000);
    Entry {
        id: 1000 + u128::from(n),
        document: DOCUMENT,
        sequence: n,
        author: "bench".into(),
        time: "2026-03-02T09:30:00Z".into(),
        says: format!("removal {n}"),
        undoes: None,
        idea: None,
        edits: format!(r#"{{"n":{n},"photo":"{}","pad":"{pad}"}}"#, Sha256::of(&photo(n))),
        form: 1,
    }
}

fn open_or_create(folder: &Path) -> Store {
    match Store::open(folder, OpenMode::ReadWrite) {
        Err(error) if matches!(error.kind, Kind::NoWorkspace | Kind::MissingFolder) => {
            Store::open(folder, OpenMode::Create).expect("a workspace can be created")
        }
        opened => opened.expect("the workspace opens"),
    }
}

/// Not a test of its own: the part that is killed. Does nothing unless the test below calls it.
#[test]
fn child() {
    let Some(folder) = std::env::var_os(FOLDER) else { return };
    let store = open_or_create(Path::new(&folder));
    let mut out = std::io::stdout();
    store.create_document(DOCUMENT, "study", "pack").expect("the document is there");
    let mut head = store.head(DOCUMENT).expect("the head is known");
    if head > 0 {
        // The answer may never have arrived, so it is sent again.
        let again = store.append(DOCUMENT, head - 1, &entry(head));
        assert_eq!(again, Err(AppendError::Duplicate { sequence: head }));
    }
    loop {
        let n = head + 1;
        store.put_blob(&photo(n)).expect("the photo is put");
        head = store.append(DOCUMENT, head, &entry(n)).expect("the entry is added");
        writeln!(out, "acknowledged {head}").expect("the parent listens");
        out.flush().expect("the parent listens");
        if head.is_multiple_of(5) {
            store.put_snapshot(DOCUMENT, head, 1, &photo(head)).expect("the snapshot is put");
        }
    }
}

/// Runs the child, kills it (SIGKILL where there are signals) and returns the last sequence it acknowledged.
fn run_and_kill(folder: &Path, wait_for_first: bool, then: Duration) -> Option<u64> {
    let mut child = Command::new(std::env::current_exe().expect("this test has a file"))
        .args(["child", "--exact", "--nocapture", "--test-threads=1"])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the child starts");
    let mut heard = Vec::new();
    let mut pipe = child.stdout.take().expect("the child has a pipe");
    if wait_for_first {
        let mut some = [0; 4096];
        while !heard.windows(12).any(|w| w == b"acknowledged") {
            let n = pipe.read(&mut some).expect("the pipe is read");
            assert!(n > 0, "the child ended on its own: {}", String::from_utf8_lossy(&heard));
            heard.extend_from_slice(&some[..n]);
        }
    }
    sleep(then);
    child.kill().expect("the child is killed");
    let rest = child.wait_with_output().expect("the child is gone");
    // Where there are no signals, a killed program has a code like any other.
    assert!(!cfg!(unix) || rest.status.code().is_none(), "the child ended on its own: {}", String::from_utf8_lossy(&rest.stderr));
    pipe.read_to_end(&mut heard).expect("the pipe is read");
    let heard = String::from_utf8_lossy(&heard);
    let whole = heard.rsplit_once('\n').map_or("", |(whole, _)| whole);
    whole.lines().filter_map(|line| line.rsplit_once("acknowledged ")?.1.parse().ok()).next_back()
}

/// Holds everything from entry `from` on to what it must be, and returns the head.
fn check(folder: &Path, from: u64, acknowledged: u64) -> u64 {
    let store = Store::open(folder, OpenMode::ReadWrite).expect("the workspace opens");
    let doctor = store.doctor().expect("the workspace is looked over");
    assert_eq!(doctor.integrity, Vec::<String>::new());
    assert_eq!(doctor.gaps, Vec::<String>::new());
    let head = store.head(DOCUMENT).expect("the head is known");
    assert!(head >= acknowledged, "acknowledged {acknowledged}, but the journal ends at {head}");
    assert!(head <= acknowledged + 1, "the journal ends at {head}, but only {acknowledged} was acknowledged");
    let entries = store.since(DOCUMENT, from).expect("the journal is read");
    assert_eq!(entries.len() as u64, head - from);
    for (n, found) in (from + 1..).zip(&entries) {
        assert!(*found == entry(n), "entry {n} is not as it was sent");
        let photo = store.blob(Sha256::of(&photo(n))).expect("the photo is read");
        assert!(photo.is_some(), "the photo that entry {n} names is missing");
    }
    // The next one may have been on its way: it is there whole, or not at all.
    store.blob(Sha256::of(&photo(head + 1))).expect("no photo is half written under its proper name");
    if let Some(snapshot) = store.snapshot(DOCUMENT).expect("the snapshot is read") {
        assert!(snapshot.sequence <= head);
        assert!(snapshot.bytes == photo(snapshot.sequence), "the snapshot is not as it was put");
    }
    head
}

#[test]
fn what_was_acknowledged_survives_a_hundred_kills() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let folder = place.path().join("workspace");
    let store = Store::open(&folder, OpenMode::Create).expect("a workspace is created");
    store.create_document(DOCUMENT, "study", "pack").expect("a document is created");
    drop(store);
    let mut numbers = Numbers(2026);
    let (mut head, mut acknowledged, mut unheard) = (0, 0, 0);
    for round in 0..ROUNDS {
        let then = Duration::from_micros(numbers.below(45_000));
        // Some rounds are killed while starting, the rest while appending.
        let last = run_and_kill(&folder, round % 4 != 0, then);
        acknowledged = last.unwrap_or(0).max(head).max(acknowledged);
        head = check(&folder, head, acknowledged);
        unheard += u64::from(head > acknowledged);
    }
    assert_eq!(check(&folder, 0, head), head);
    // The test must have hit something: entries were made, and some kills fell between commit and answer or before it.
    assert!(head > ROUNDS as u64, "only {head} entries in {ROUNDS} rounds");
    writeln!(std::io::stdout(), "{head} entries, {unheard} committed without an answer").expect("standard output");
}

#[test]
fn a_workspace_killed_while_it_is_created_can_be_created_again() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let mut numbers = Numbers(7);
    for round in 0..30 {
        let folder = place.path().join(round.to_string());
        run_and_kill(&folder, false, Duration::from_micros(numbers.below(20_000)));
        let store = open_or_create(&folder);
        assert_eq!(store.doctor().expect("the workspace is looked over").integrity, Vec::<String>::new());
        store.create_document(DOCUMENT, "study", "pack").expect("the document is there");
        let head = store.head(DOCUMENT).expect("the head is known");
        assert_eq!(store.since(DOCUMENT, 0).expect("the journal is read"), (1..=head).map(entry).collect::<Vec<_>>());
    }
}
