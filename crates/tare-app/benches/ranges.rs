//! Ranges of generated studies: time, memory and cost of a draw by parts and draws, and an edit to its new range.
//!
//! `cargo bench -p tare-app --bench ranges` prints one table; `-- quick` leaves out the largest. Figures of one run belong together;
//! `docs/performance.md` holds one such run with the machine it was made on.

#![expect(clippy::print_stdout, reason = "a bench prints its figures")]

use std::time::Instant;
use tare_app::Options;
use tare_app::ranges::threads;
use tare_engine::math::ln;
use tare_engine::{NodeId, Tape};
use tare_library::Library;
use tare_model::{Document, Field, FieldValue, Id, Kind, Record};
use tare_study::generate::{Size, study};
use tare_study::{LineRef, Sources, Study, compile};

fn main() {
    let quick = std::env::args().any(|argument| argument == "quick");
    println!("{} threads, {:?} vector instructions", threads(), tare_engine::Width::found());
    println!(
        "{:>6} {:>9} {:>8} {:>8} {:>7} {:>8} {:>7} {:>9} {:>9} {:>8}",
        "parts", "nodes", "leaves", "steps", "live", "draws", "s", "ns/step", "ns/leaf", "MiB"
    );
    let (library, _) = Library::embedded();
    let mut times: Vec<(f64, f64, f64)> = Vec::new();
    for parts in [100, 1_000, 10_000] {
        let document = generated(parts);
        let compiled = compile(Sources { study: &document, books: &[], library: &library });
        for draws in [1_000_u64, 10_000, 100_000] {
            if quick && parts as u64 * draws > 100_000_000 {
                continue;
            }
            let seconds = range(parts, &compiled, draws);
            times.push((f64::from(u32::try_from(parts).unwrap_or(u32::MAX)), draws as f64, seconds));
        }
    }
    slopes(&times);
    println!("10,000 parts of 5,000 items, each part with its own distance and depth of insertion:");
    let document = with_own_values(&study(Size { parts: 10_000, items: 5_000, joints: 2_000 }, 7));
    let compiled = compile(Sources { study: &document, books: &[], library: &library });
    range(10_000, &compiled, 10_000);
    println!("10,000 parts of 2,500 items, everything about an item measured six times and the mean taken:");
    let document = measured_often(&generated(10_000), 6);
    let compiled = compile(Sources { study: &document, books: &[], library: &library });
    range(10_000, &compiled, 10_000);
    edit(&library);
}

/// The study with every value of an item and of what is done to it measured several times, and the mean of them taken.
fn measured_often(document: &Document, times: u32) -> Document {
    let mut records: Vec<Record> = document.records().cloned().collect();
    let mut next = records.iter().map(|r| r.id.0).max().unwrap_or(0);
    let of_items =
        |r: &&Record| r.parent.and_then(|p| document.get(p)).is_some_and(|p| matches!(p.kind, Kind::Item | Kind::Feature));
    let values: Vec<Record> = records.iter().filter(|r| r.kind == Kind::Value).filter(of_items).cloned().collect();
    for value in values {
        let mut more = |kind: Kind, record: &Record| {
            next += 1;
            let mut made = Record::new(Id(next), kind).ordered(record.order.clone());
            made.parent = record.parent;
            made
        };
        for _ in 1..times {
            let mut again = more(Kind::Value, &value);
            again.fields = value.fields.clone();
            records.push(again);
        }
        let quantity = value.text(Field::Quantity).unwrap_or_default();
        records.push(more(Kind::Choose, &value).with_text(Field::Quantity, quantity).with_text(Field::Method, "mean"));
    }
    Document::from_records(document.id, document.kind, records)
}

fn generated(parts: usize) -> Document {
    study(Size { parts, items: (parts / 4).max(10), joints: parts / 5 }, 7)
}

/// The study with two more values for each part, as where a person has looked at each place.
fn with_own_values(document: &Document) -> Document {
    let mut records: Vec<Record> = document.records().cloned().collect();
    let mut next = records.iter().map(|r| r.id.0).max().unwrap_or(0);
    let parts: Vec<Record> = records.iter().filter(|r| r.kind == Kind::Part).cloned().collect();
    for part in parts {
        for (quantity, text) in [("distance", "40 +- 8 cm"), ("insertion_depth", "20 +- 4 mm")] {
            next += 1;
            let mut value = Record::new(Id(next), Kind::Value).ordered(part.order.clone());
            value.parent = Some(part.id);
            for (field, text) in [(Field::Quantity, quantity), (Field::Text, text), (Field::Evidence, "measured")] {
                value = value.with_text(field, text);
            }
            records.push(value);
        }
    }
    Document::from_records(document.id, document.kind, records)
}

/// Draws the total; a range is what a person waits for: preparing the tape counts, compiling the study does not.
fn range(parts: usize, study: &Study, draws: u64) -> f64 {
    let line = study.totals.cost.expect("a total");
    let sampling = tare_analysis::Sampling::new(study, 1);
    let options = Options { most: draws, least: draws, threads: threads(), ..Options::default() };
    let started = Instant::now();
    let found = tare_analysis::spread(study, &sampling, &[line], options, tare_analysis::Stop::default()).expect("not stopped");
    let seconds = started.elapsed().as_secs_f64();
    let tape = Tape::new(&study.lines.graph, &study.values, &sampling.random, &[node(study, line)]);
    let (steps, leaves) = (found.operations as f64, found.leaves as f64);
    let per = |what: f64| seconds * 1e9 * threads() as f64 / (what * found.draws as f64);
    println!(
        "{parts:>6} {:>9} {:>8} {:>8} {:>7} {:>8} {seconds:>7.3} {:>9.3} {:>9.2} {:>8.0}",
        study.lines.graph.nodes.len(),
        found.leaves,
        found.operations,
        tape.registers(),
        found.draws,
        per(steps),
        per(leaves),
        peak_mebibytes()
    );
    seconds
}

fn node(study: &Study, line: LineRef) -> NodeId {
    study.lines.node(line)
}

/// Exponents of time over parts and over draws by least squares on logarithms: 1 is linear.
fn slopes(times: &[(f64, f64, f64)]) {
    // only where the work outweighs what is done once
    let slope = |points: &[(f64, f64)]| {
        let logs: Vec<(f64, f64)> = points.iter().map(|(x, y)| (ln(*x), ln(*y))).collect();
        let n = logs.len() as f64;
        let (mx, my) = (logs.iter().map(|p| p.0).sum::<f64>() / n, logs.iter().map(|p| p.1).sum::<f64>() / n);
        let top: f64 = logs.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
        top / logs.iter().map(|p| (p.0 - mx) * (p.0 - mx)).sum::<f64>()
    };
    let at = |parts: f64| times.iter().filter(|t| t.0 == parts).map(|t| (t.1, t.2)).collect::<Vec<_>>();
    let with = |draws: f64| times.iter().filter(|t| t.1 == draws).map(|t| (t.0, t.2)).collect::<Vec<_>>();
    println!("time goes with draws to the power {:.2} at 1,000 parts, {:.2} at 10,000", slope(&at(1e3)), slope(&at(1e4)));
    println!("time goes with parts to the power {:.2} at 1,000 draws, {:.2} at 10,000", slope(&with(1e3)), slope(&with(1e4)));
}

/// A mass changed in the compiled study, and the total's range from a thousand draws.
fn edit(library: &Library) {
    for parts in [1_000, 10_000] {
        let mut document = generated(parts);
        let mut compiled = compile(Sources { study: &document, books: &[], library });
        let value =
            document.records().find(|r| r.kind == Kind::Value && r.text(Field::Quantity) == Some("mass")).expect("a mass").id;
        let mut seconds: Vec<f64> = Vec::new();
        for times in 0..7 {
            let records = document.records().map(|r| {
                let mut record = r.clone();
                if record.id == value {
                    record.fields.set(Field::Text, Some(FieldValue::Text(format!("{} g", 100 + times))));
                }
                record
            });
            document = Document::from_records(document.id, document.kind, records.collect());
            let started = Instant::now();
            assert!(compiled.take_value(&document, library, value), "a mass keeps the graph");
            let sampling = tare_analysis::Sampling::new(&compiled, 1);
            let options = Options { most: 1_000, least: 1_000, threads: threads(), ..Options::default() };
            let line = compiled.totals.cost.expect("a total");
            tare_analysis::spread(&compiled, &sampling, &[line], options, tare_analysis::Stop::default()).expect("not stopped");
            seconds.push(started.elapsed().as_secs_f64());
        }
        seconds.sort_by(f64::total_cmp);
        println!(
            "{parts} parts: a changed mass to the new range of the total at 1,000 draws: {:.0} ms (median of 7)",
            seconds[3] * 1e3
        );
    }
}

/// The most memory this process has held so far; NaN where the system does not tell.
fn peak_mebibytes() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|rest| rest.trim().trim_end_matches("kB").trim().parse::<f64>().ok()).map_or(f64::NAN, |kib| kib / 1024.0)
}
