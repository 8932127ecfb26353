//! Fifty people at one study of 10,000 parts for a minute: pages, lists and durable edits; then every acknowledged edit is looked up.
//!
//! `cargo bench -p tare --bench load -- --clients 50 --seconds 60` makes the workspace itself; `--workspace FOLDER` takes one that is
//! there, whose study has the name the tests use. Server time is what the server says of itself in `server-timing`; wall time also
//! holds the wait for its turn and the reading of the answer by this program, which shares the machine with the server.
#![expect(clippy::print_stdout, reason = "the table is what this program is for")]

#[path = "../../tests/web/server.rs"]
#[expect(dead_code, reason = "the tests use the rest")]
mod server;
#[path = "../../tests/web/wire.rs"]
mod wire;

mod client;
mod table;

use client::{Client, Deed, Slice};
use serde_json::Value;
use server::{Api, Server};
use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Barrier;
use std::time::{Duration, Instant};

/// What is asked of the server.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) clients: usize,
    pub(crate) time: Duration,
    /// Mean of the pauses between an answer and the next request of the same client.
    pub(crate) think: Duration,
    pub(crate) parts: usize,
    pub(crate) seed: u64,
}

fn main() -> ExitCode {
    let mut plan = Plan { clients: 50, time: Duration::from_secs(60), think: Duration::from_secs(2), parts: 10_000, seed: 1 };
    let (mut program, mut workspace) = (option_env!("CARGO_BIN_EXE_tare").map(PathBuf::from), None);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut number = || words.next().and_then(|n| n.parse().ok()).unwrap_or_else(|| panic!("{word} wants a number"));
        match word.as_str() {
            "--clients" => plan.clients = number() as usize,
            "--seconds" => plan.time = Duration::from_secs(number()),
            "--think" => plan.think = Duration::from_millis(number()),
            "--parts" => plan.parts = number() as usize,
            "--seed" => plan.seed = number(),
            "--program" => program = words.next().map(PathBuf::from),
            "--workspace" => workspace = words.next().map(PathBuf::from),
            // handed over by `cargo bench`
            "--bench" => {}
            other => panic!("`{other}` is not known: --clients --seconds --think --parts --seed --program --workspace"),
        }
    }
    let program = program.expect("--program, or a run by `cargo bench` of the crate that holds the program");
    let folder = tempfile::tempdir().expect("a folder");
    let workspace = workspace.unwrap_or_else(|| {
        let made = folder.path().join("work");
        server::large(&program, &made, plan.parts);
        made
    });
    let faults = run(&program, &workspace, &plan);
    for fault in faults.iter().take(20) {
        println!("FAULT {fault}");
    }
    if faults.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Runs the load on a workspace and prints the table; gives what was not as acknowledged.
fn run(program: &Path, workspace: &Path, plan: &Plan) -> Vec<String> {
    let mut server = Server::start(program, workspace);
    let mut api = server.api();
    let rows = api.parts();
    let mut clients: Vec<Client> =
        slices(&rows, plan.clients).into_iter().enumerate().map(|(n, slice)| Client::new(n, slice, plan)).collect();
    // nobody asks before all are there
    let (gate, start) = (Barrier::new(plan.clients + 1), Instant::now());
    let took = std::thread::scope(|scope| {
        let crowd: Vec<_> = clients
            .iter_mut()
            .map(|client| {
                let (gate, url) = (&gate, &server.url);
                scope.spawn(move || {
                    gate.wait();
                    client.work(url, plan);
                })
            })
            .collect();
        gate.wait();
        let began = start.elapsed();
        for client in crowd {
            client.join().expect("no client panics");
        }
        start.elapsed() - began
    });
    println!("{} parts, {} clients, think time {} ms, seed {}", rows.len(), plan.clients, plan.think.as_millis(), plan.seed);
    table::print(clients.iter().flat_map(|client| &client.deeds), took);
    let mut faults = compare(&mut api, &clients);
    // and once more by a server that has only the disk to go by
    server.kill();
    let again = Server::start(program, workspace);
    faults.extend(compare(&mut again.api(), &clients).into_iter().map(|fault| format!("after a kill: {fault}")));
    let acknowledged: usize = clients.iter().map(|client| client.acknowledged.len()).sum();
    println!("{acknowledged} edits acknowledged; looked up in the running server and after a kill: {} faults", faults.len());
    faults
}

/// Parts shared out so that no two clients write the same value: parts of one item go together, since the item holds the mass.
fn slices(rows: &[Value], clients: usize) -> Vec<Slice> {
    let mut of_items: BTreeMap<String, &Value> = BTreeMap::new();
    for row in rows {
        let key = row["item"].as_str().or(row["id"].as_str()).expect("a part has an id");
        of_items.entry(key.to_owned()).or_insert(row);
    }
    assert!(of_items.len() >= clients, "{} items are too few for {clients} clients", of_items.len());
    let mut slices = vec![Slice::default(); clients];
    for (at, row) in of_items.into_values().enumerate() {
        slices[at % clients].take(row);
    }
    slices
}

/// Reads journal and values through the interface and tells what differs from what was acknowledged.
fn compare(api: &mut Api, clients: &[Client]) -> Vec<String> {
    let mut faults = Vec::new();
    let mut journal: HashMap<String, Vec<u64>> = HashMap::new();
    for row in api.rows("history") {
        let says = row["says"].as_str().unwrap_or_default().to_owned();
        journal.entry(says).or_default().push(row["number"].as_u64().unwrap_or_default());
    }
    let stated: HashMap<String, String> = api
        .parts()
        .iter()
        .map(|row| {
            let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
            (text(&row["id"]), text(&row["stated_mass"]["text"]))
        })
        .collect();
    for client in clients {
        for (says, number) in &client.acknowledged {
            let found = journal.get(says).map(Vec::as_slice).unwrap_or_default();
            if found != [*number] {
                faults.push(format!("`{says}` was acknowledged as entry {number}; the journal has it at {found:?}"));
            }
        }
        let refused = client.refused.iter().filter(|says| journal.contains_key(*says));
        faults.extend(refused.map(|says| format!("`{says}` was refused and stands in the journal")));
        for (part, texts) in &client.last {
            let stands = stated.get(part).map(String::as_str).unwrap_or_default();
            if !texts.iter().any(|text| text == stands) {
                faults.push(format!("part {part} has the mass `{stands}`; last acknowledged: {texts:?}"));
            }
        }
    }
    faults
}

impl Deed {
    /// Whether it came to what was asked.
    pub(crate) fn well(&self) -> bool {
        self.status == Some(200)
    }
}
