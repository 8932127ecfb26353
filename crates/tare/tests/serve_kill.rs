//! The server killed a hundred times in a stream of edits: what it acknowledged is there, once and whole.

#[path = "web/mod.rs"]
mod common;

use common::server::{Api, STUDY, Server, fresh_id, run};
use serde_json::{Value, json};
use std::collections::HashMap;
use std::path::Path;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

const KILLS: u32 = 100;
const CLIENTS: usize = 2;
/// Count of a part before any edit, and its mass in grams.
const AS_ADDED: u32 = 1;

/// One edit of a client: both mass and count of its part become `to`.
#[derive(Clone, Debug)]
struct Edit {
    id: String,
    says: String,
    to: u32,
}

/// A client with a part of its own.
struct Client {
    name: usize,
    part: String,
    sent: u32,
    /// Entry number and edit of all that was acknowledged.
    acknowledged: Vec<(u64, Edit)>,
    /// Sent, and no answer heard.
    open: Option<Edit>,
}

impl Client {
    /// Sends edits until the server is gone; first again the one whose answer never came.
    fn stream(&mut self, url: &str, heard: &AtomicU32) {
        let mut api = Api::to(url);
        loop {
            let edit = self.open.take().unwrap_or_else(|| {
                self.sent += 1;
                Edit { id: fresh_id(), says: format!("kill test {} {}", self.name, self.sent), to: 100 + self.sent }
            });
            let set = |field: &str, to: String| json!({"set": {"target": format!("@{}/{field}", self.part), "to": to}});
            let commands = json!([set("mass", format!("{} g", edit.to)), set("count", edit.to.to_string())]);
            let Ok(answer) = api.entry(&edit.id, &edit.says, &commands) else {
                self.open = Some(edit);
                return;
            };
            assert_eq!(answer.status, 200, "{edit:?}: {}", answer.text());
            let said: Value = serde_json::from_slice(&answer.body).expect("JSON");
            self.acknowledged.push((said["number"].as_u64().expect("an entry number"), edit));
            heard.fetch_add(1, Ordering::SeqCst);
        }
    }

    /// The journal and the part as the server that came back knows them.
    #[track_caller]
    fn check(&self, journal: &HashMap<String, Vec<u64>>, parts: &[Value]) {
        for (number, edit) in &self.acknowledged {
            let found = journal.get(&edit.says).map(Vec::as_slice).unwrap_or_default();
            assert_eq!(found, [*number], "entries of the acknowledged {edit:?}");
        }
        if let Some(edit) = &self.open {
            assert!(journal.get(&edit.says).is_none_or(|found| found.len() == 1), "{edit:?} is there more than once");
        }
        let part = parts.iter().find(|part| part["id"] == *self.part).expect("the part is there");
        let mass = part["stated_mass"]["text"].as_str().unwrap_or_default().to_owned();
        let count = number(&part["count"]);
        assert_eq!(mass, format!("{count} g"), "half of an entry: {part}");
        // an edit whose answer was lost may be there or not; the journal says which
        let open = self.open.as_ref().filter(|edit| journal.contains_key(&edit.says));
        // where the first kill came before the first edit, the part is as it was added
        let last = open.or(self.acknowledged.last().map(|(_, edit)| edit)).map_or(AS_ADDED, |edit| edit.to);
        assert_eq!(count, last, "the last entry stands: {part}");
    }
}

/// A count, given as a number or as its text.
#[track_caller]
fn number(value: &Value) -> u32 {
    let text = value.as_str().and_then(|text| text.parse().ok());
    let number = value.as_f64().map(|number| number as u32).or(text);
    number.unwrap_or_else(|| panic!("{value} is no count"))
}

/// Entry numbers by what the entries say, and that the numbers have no gap.
fn journal(api: &mut Api) -> HashMap<String, Vec<u64>> {
    let mut rows = api.rows("history");
    rows.sort_by_key(|row| row["number"].as_u64());
    let mut found: HashMap<String, Vec<u64>> = HashMap::new();
    for (at, row) in rows.iter().enumerate() {
        assert_eq!(row["number"], at as u64 + 1, "the journal has no gap");
        found.entry(row["says"].as_str().unwrap_or_default().to_owned()).or_default().push(at as u64 + 1);
    }
    found
}

#[test]
fn what_the_server_acknowledged_survives_a_hundred_kills() {
    let binary = Path::new(env!("CARGO_BIN_EXE_tare"));
    let folder = tempfile::tempdir().expect("a folder");
    let workspace = folder.path().join("work");
    run(binary, &workspace, &["new", STUDY]);
    let mut server = Server::start(binary, &workspace);
    let mut clients: Vec<Client> = {
        let part = |name| server.api().add_part(&format!("Part of client {name}"), &format!("{AS_ADDED} g"));
        let client = |name| Client { name, part: part(name), sent: 0, acknowledged: Vec::new(), open: None };
        (0..CLIENTS).map(client).collect()
    };
    let (mut unanswered, mut arrived) = (0, 0);
    for round in 0..KILLS {
        let (url, heard) = (server.url.clone(), AtomicU32::new(0));
        std::thread::scope(|scope| {
            for client in &mut clients {
                let (url, heard) = (&url, &heard);
                scope.spawn(move || client.stream(url, heard));
            }
            // after a few answers, and then somewhere within the work on the next: kills are spread over the whole of an edit
            let start = Instant::now();
            while heard.load(Ordering::SeqCst) < 2 + round % 7 && start.elapsed() < Duration::from_secs(30) {
                std::thread::sleep(Duration::from_micros(200));
            }
            std::thread::sleep(Duration::from_micros(u64::from(round * 137 % 4000)));
            server.kill();
        });
        assert!(heard.load(Ordering::SeqCst) > 0, "round {round}: no edit was acknowledged: {}", server.said());
        server = Server::start(binary, &workspace);
        let mut api = server.api();
        let (journal, parts) = (journal(&mut api), api.parts());
        for client in &clients {
            client.check(&journal, &parts);
            unanswered += u32::from(client.open.is_some());
            arrived += u32::from(client.open.as_ref().is_some_and(|edit| journal.contains_key(&edit.says)));
        }
    }
    println!("{unanswered} edits were under way at a kill; {arrived} of them had been recorded");
    assert!(unanswered >= KILLS / 2, "most kills should meet an edit under way, only {unanswered} did");
    assert!(clients.iter().all(|client| client.acknowledged.len() >= KILLS as usize / 2), "both clients got through");
    assert!(run(binary, &workspace, &["doctor"]).contains("nothing wrong"));
}
