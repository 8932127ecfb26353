//! The program killed in the middle of a stream of edits: what it acknowledged is there.

mod common;

use common::{Bench, SMALL};
use std::io::Read;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// How often the program is killed.
const KILLS: u32 = 20;

/// One `tare edit`, killed after a while if it still runs; gives the number of the entry it acknowledged, if it came to that.
fn edit(bench: &Bench, to: u32, kill_after: Option<Duration>) -> (Option<u64>, bool) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_tare"))
        .args(["edit", "set", "P2/count", &to.to_string()])
        .current_dir(bench.path("."))
        .env_clear()
        .env("TARE_AUTHOR", "tester")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program runs");
    if let Some(after) = kill_after {
        let start = Instant::now();
        while start.elapsed() < after && child.try_wait().expect("asked").is_none() {
            std::thread::sleep(Duration::from_millis(1));
        }
        let _ = child.kill();
    }
    let mut said = String::new();
    child.stdout.take().expect("piped").read_to_string(&mut said).expect("text");
    let killed = !child.wait().expect("ended").success();
    // A line that is not whole acknowledges nothing.
    let number = said.split_once('\n').and_then(|(line, _)| line.split_once(' ')?.0.parse().ok());
    (number, killed)
}

#[test]
fn every_acknowledged_edit_survives_kills() {
    let bench = Bench::with_study(SMALL);
    let start = Instant::now();
    let mut acknowledged: Vec<(u64, u32)> = Vec::new();
    let mut to = 10;
    let (number, _) = edit(&bench, to, None);
    acknowledged.push((number.expect("acknowledged"), to));
    let whole = start.elapsed();
    let mut killed = 0;
    // Kills are spread over the run, most of them late, where the entry is written.
    for round in 1.. {
        if killed == KILLS {
            break;
        }
        assert!(round < 10 * KILLS, "only {killed} kills came in time");
        to += 1;
        let share = 0.3 + 0.7 * f64::from(round % 11) / 10.0;
        let (number, died) = edit(&bench, to, Some(whole.mul_f64(share)));
        killed += u32::from(died);
        acknowledged.extend(number.map(|n| (n, to)));
        if round % 5 == 0 {
            to += 1;
            let (number, died) = edit(&bench, to, None);
            assert!(!died, "the workspace takes edits after a kill");
            acknowledged.push((number.expect("acknowledged"), to));
        }
    }
    let history = bench.run(&["history", "--json"]).json();
    let entries = history["entries"].as_array().expect("entries");
    for (at, entry) in entries.iter().enumerate() {
        assert_eq!(entry["number"], at as u64 + 1, "no gap");
    }
    for (number, to) in &acknowledged {
        let says = entries[*number as usize - 1]["says"].as_str().unwrap_or_default();
        assert!(says.ends_with(&format!("-> {to}")), "entry {number} should set {to}: {says}");
    }
    // The state is that of the last entry, acknowledged or not.
    let last = entries.last().and_then(|e| e["says"].as_str()).and_then(|s| s.rsplit_once("-> ")).expect("an edit").1;
    let parts = bench.run(&["parts", "--json"]).json();
    let plate = parts["parts"].as_array().and_then(|p| p.iter().find(|p| p["label"] == "P2")).expect("the plate").clone();
    assert_eq!(plate["count"].as_f64().map(|c| c.to_string()).as_deref(), Some(last), "{plate}");
    assert!(bench.run(&["doctor"]).well().contains("nothing wrong"));
}
