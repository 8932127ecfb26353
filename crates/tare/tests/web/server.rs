//! The program started as a server on a workspace of its own, and a client of its interface.

use super::wire::{Answer, Wire};
use serde_json::{Value, json};
use std::fmt::Write;
use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// The name of the study in the workspaces made here.
pub(crate) const STUDY: &str = "Pack";

/// How long the numbers of the last entry are waited for: so long that a busy machine is no fault.
const PATIENCE: Duration = Duration::from_secs(40);

/// A running server; killed when it goes.
pub(crate) struct Server {
    pub(crate) child: Child,
    /// Its address, with `http://` and a last stroke.
    pub(crate) url: String,
    said: Arc<Mutex<String>>,
}

/// Runs the program as a person would, with a cleared environment.
pub(crate) fn program(binary: &Path, workspace: &Path) -> Command {
    let mut command = Command::new(binary);
    command.env_clear().env("TARE_AUTHOR", "tester").env("COLUMNS", "80");
    command.env("TARE_WORKSPACE", workspace);
    command
}

#[track_caller]
fn well(done: io::Result<Output>) -> String {
    let done = done.expect("the program runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    assert!(done.status.success(), "out:\n{}\nerr:\n{}", text(&done.stdout), text(&done.stderr));
    text(&done.stdout)
}

/// Runs one command on a workspace, which must go well; gives what it printed.
#[track_caller]
pub(crate) fn run(binary: &Path, workspace: &Path, args: &[&str]) -> String {
    well(program(binary, workspace).args(args).output())
}

/// A workspace with a list of `parts` parts imported, as a person begins a large study: groups of about fifty, each part named and weighed.
pub(crate) fn large(binary: &Path, workspace: &Path, parts: usize) {
    run(binary, workspace, &["new", STUDY]);
    let mut list = String::from("Level;Part number;Name;Qty;Mass g;Material\n");
    for number in 0..parts {
        let (level, mass) = if number % 50 == 0 { (1, String::new()) } else { (2, format!("{}.5", 3 + number % 900)) };
        writeln!(list, "{level};A-{number:05};Part {number};{};{mass};PA66-GF30", 1 + number % 4).expect("text");
    }
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("list.csv");
    std::fs::write(&file, list).expect("written");
    let file = file.display().to_string();
    run(binary, workspace, &["import", &file, "--answer", "quantity-basis=assembly", "--yes"]);
}

impl Server {
    /// Starts `tare serve` and waits for the line with its address.
    #[track_caller]
    pub(crate) fn start(binary: &Path, workspace: &Path) -> Self {
        Self::start_with(binary, workspace, &[])
    }

    /// As [`Server::start`], with more words behind.
    #[track_caller]
    pub(crate) fn start_with(binary: &Path, workspace: &Path, more: &[&str]) -> Self {
        let mut command = program(binary, workspace);
        command.args(["serve", "--workspace"]).arg(workspace).args(["--port", "0", "--no-open"]).args(more);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("the program runs");
        let said = Arc::new(Mutex::new(String::new()));
        let (mut errors, notes) = (child.stderr.take().expect("piped"), Arc::clone(&said));
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(length @ 1..) = errors.read(&mut bytes) {
                *notes.lock().expect("no panic here") += &String::from_utf8_lossy(&bytes[..length]);
            }
        });
        let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines().map_while(Result::ok);
        let url = lines.by_ref().find_map(|line| line.strip_prefix("Tare is at ").map(|url| url.trim().to_owned()));
        // read on, so that a server that prints never waits
        std::thread::spawn(move || lines.count());
        let server = Self { child, url: url.unwrap_or_default(), said };
        assert!(server.url.starts_with("http://127.0.0.1:"), "the server names no address: {}", server.said());
        server
    }

    /// Ends it at once, as a power cut would.
    pub(crate) fn kill(&mut self) {
        self.child.kill().expect("killed");
        self.child.wait().expect("ended");
    }

    /// What it wrote to its error output so far.
    pub(crate) fn said(&self) -> String {
        self.said.lock().expect("no panic here").clone()
    }

    /// The address of a page; `path` begins with a stroke.
    pub(crate) fn page(&self, path: &str) -> String {
        format!("{}{path}", self.url.trim_end_matches('/'))
    }

    pub(crate) fn api(&self) -> Api {
        Api::to(&self.url)
    }
}

impl Drop for Server {
    #[expect(clippy::print_stdout, reason = "what the server said belongs to the message of a failed test")]
    fn drop(&mut self) {
        let ended = self.child.try_wait();
        let _ = self.child.kill();
        let _ = self.child.wait();
        if std::thread::panicking() {
            println!("the server ({ended:?}) said: {}", self.said());
        }
    }
}

/// A client of the interface of one study.
pub(crate) struct Api {
    pub(crate) wire: Wire,
    study: String,
}

impl Api {
    pub(crate) fn to(url: &str) -> Self {
        Self::of(url, STUDY)
    }

    /// A client of a study by its name.
    pub(crate) fn of(url: &str, study: &str) -> Self {
        Self { wire: Wire::to(url, Duration::from_secs(60)), study: escaped(study) }
    }

    /// What stands at an address below the study's, which must be there.
    #[track_caller]
    pub(crate) fn get(&mut self, path: &str) -> Value {
        let answer = self.wire.get(&format!("/api/studies/{}/{path}", self.study)).unwrap_or_else(|e| panic!("{path}: {e}"));
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
        serde_json::from_slice(&answer.body).unwrap_or_else(|e| panic!("{path}: {e} in {}", answer.text()))
    }

    #[track_caller]
    pub(crate) fn rows(&mut self, path: &str) -> Vec<Value> {
        let mut found = self.get(path);
        let Value::Array(rows) = found["rows"].take() else { panic!("no rows in {path}: {found}") };
        rows
    }

    /// The parts, once their numbers are those of the last entry.
    #[track_caller]
    pub(crate) fn parts(&mut self) -> Vec<Value> {
        let start = Instant::now();
        loop {
            let mut table = self.get("parts");
            if table["computed"] == table["head"] {
                let Value::Array(rows) = table["rows"].take() else { panic!("no rows in {table}") };
                return rows;
            }
            assert!(start.elapsed() < PATIENCE, "computed is entry {}, the last is {}", table["computed"], table["head"]);
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Sends one entry; a broken connection is for the asker to judge.
    pub(crate) fn entry(&mut self, id: &str, says: &str, commands: &Value) -> io::Result<Answer> {
        let body = json!({"id": id, "says": says, "commands": commands});
        self.wire.post(&format!("/api/studies/{}/entries", self.study), &body)
    }

    /// Sends one entry that must be taken; gives the answer.
    #[track_caller]
    pub(crate) fn record(&mut self, says: &str, commands: &Value) -> Value {
        let answer = self.entry(&fresh_id(), says, commands).expect("an answer");
        assert_eq!(answer.status, 200, "{says}: {}", answer.text());
        serde_json::from_slice(&answer.body).expect("JSON")
    }

    /// Adds a part with a name and a mass at the top; gives its id.
    #[track_caller]
    pub(crate) fn add_part(&mut self, name: &str, mass: &str) -> String {
        let fields = json!({"name": name, "count": "1", "mass": mass});
        let made = self.record("a part", &json!([{"add": {"kind": "part", "under": null, "fields": fields}}]));
        let part = made["records"].as_array().into_iter().flatten().find(|record| record["kind"] == "part");
        part.and_then(|part| part["id"].as_str()).unwrap_or_else(|| panic!("no part in {made}")).to_owned()
    }
}

/// An id nobody used yet: the process, the clock and a counter.
pub(crate) fn fresh_id() -> String {
    use std::sync::atomic::{AtomicU32, Ordering};
    static NEXT: AtomicU32 = AtomicU32::new(0);
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).expect("a clock");
    let next = NEXT.fetch_add(1, Ordering::Relaxed);
    format!("{:016x}{:08x}{next:08x}", now.as_nanos() as u64, std::process::id())
}

/// A text as it stands within an address.
pub(crate) fn escaped(text: &str) -> String {
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._~".contains(&byte);
    text.bytes().map(|byte| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") }).collect()
}
