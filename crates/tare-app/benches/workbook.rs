//! Workbooks of generated studies: time to write, size, and what LibreOffice needs to open, compute and write one again.
//!
//! `cargo bench -p tare-app --bench workbook` prints one table; `-- quick` leaves out the largest. Without `soffice` the other
//! program's columns stay empty.

#![expect(clippy::print_stdout, reason = "a bench prints its figures")]

use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};
use tare_app::generated::{Size, workspace};
use tare_app::{Session, workbook};

#[path = "../tests/workbook/soffice.rs"]
mod soffice;

fn main() {
    let quick = std::env::args().any(|argument| argument == "quick");
    println!(
        "{:>6} {:>9} {:>8} {:>8} {:>10} {:>13} {:>14}",
        "parts", "formulas", "s", "MiB", "own MiB", "other's s", "other's MiB"
    );
    for parts in [100, 1_000, 10_000] {
        if quick && parts > 1_000 {
            continue;
        }
        one(parts);
    }
}

fn one(parts: usize) {
    let folder = tempfile::tempdir().expect("a folder");
    let size = Size { parts, items: (parts / 4).max(10), joints: parts / 5 };
    let info = workspace(folder.path(), size, 7).expect("a study");
    let mut session = Session::open(folder.path(), false).expect("a session");
    let loaded = session.workspace.load(&info).expect("it loads");
    let study = session.compiled(&info, &loaded).expect("it compiles");
    let texts = session.texts(&loaded.document).expect("texts");
    let begun = Instant::now();
    let written = workbook::write(&texts, &loaded.document, &study, None, &[]).expect("a workbook");
    let took = begun.elapsed().as_secs_f64();
    let file = folder.path().join("study.xlsx");
    std::fs::write(&file, &written.bytes).expect("it is written");
    let own = memory("self").unwrap_or(0.0);
    let other = office(folder.path(), &file);
    let (seconds, most) = other.map_or_else(Default::default, |(s, m)| (format!("{s:.1}"), format!("{m:.0}")));
    let mebibytes = written.bytes.len() as f64 / 1_048_576.0;
    println!("{parts:>6} {:>9} {took:>8.2} {mebibytes:>8.1} {own:>10.0} {seconds:>13} {most:>14}", written.formulas);
}

/// The most memory a process has had, MiB.
fn memory(process: &str) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kib| kib / 1024.0)
}

/// Opens, computes and writes the file anew: seconds and MiB.
fn office(folder: &Path, file: &Path) -> Option<(f64, f64)> {
    let out = folder.join("out");
    let begun = Instant::now();
    let started = soffice::converting(folder, file, &out).ok()?.stdout(Stdio::null()).stderr(Stdio::null()).spawn();
    let mut ran = started.ok()?;
    let mut most = 0.0_f64;
    while ran.try_wait().ok()?.is_none() {
        std::thread::sleep(Duration::from_millis(100));
        let processes = std::fs::read_dir("/proc").ok()?.flatten();
        let names = processes.filter_map(|p| p.file_name().into_string().ok()).filter(|n| n.bytes().all(|b| b.is_ascii_digit()));
        for process in names {
            let name = std::fs::read_to_string(format!("/proc/{process}/comm")).unwrap_or_default();
            if name.trim() == "soffice.bin" {
                most = most.max(memory(&process).unwrap_or(0.0));
            }
        }
    }
    let written = out.join("study.xlsx").exists();
    written.then(|| (begun.elapsed().as_secs_f64(), most))
}
