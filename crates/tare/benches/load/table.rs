//! The table of a run, within 80 columns.

use crate::client::{Deed, Kind};
use std::time::Duration;

const KINDS: [(Kind, &str); 6] = [
    (Kind::Overview, "overview"),
    (Kind::Parts, "parts page"),
    (Kind::Part, "part page"),
    (Kind::Reason, "reason"),
    (Kind::List, "parts JSON"),
    (Kind::Edit, "edit"),
];

/// Prints counts, errors and percentiles of each kind, all pages together, and the whole.
pub(crate) fn print<'a>(deeds: impl Iterator<Item = &'a Deed>, took: Duration) {
    let deeds: Vec<&Deed> = deeds.collect();
    println!("{:11}{:>6}{:>5}{:^28}{:^28}", "", "", "", "server ms", "wall ms");
    let heads = ["50 %", "95 %", "99 %", "max"].map(|head| format!("{head:>7}")).concat();
    println!("{:11}{:>6}{:>5}{heads}{heads}", "", "asked", "err");
    for (kind, name) in KINDS {
        row(name, &deeds, |of| of == kind);
    }
    row("all pages", &deeds, |of| of < Kind::List);
    row("all", &deeds, |_| true);
    let silent = deeds.iter().filter(|deed| deed.well() && deed.server.is_none()).count();
    let seconds = took.as_secs_f64();
    println!("{:.1} requests a second over {seconds:.1} s; {silent} answers name no server time", deeds.len() as f64 / seconds);
    let mut wrong: Vec<String> = deeds.iter().filter(|deed| !deed.well()).map(|deed| said(deed)).collect();
    wrong.sort();
    for same in wrong.chunk_by(|a, b| a == b) {
        println!("{} x {}", same.len(), same[0]);
    }
}

fn said(deed: &Deed) -> String {
    let name = KINDS.iter().find(|(kind, _)| *kind == deed.kind).map_or("", |(_, name)| name);
    deed.status.map_or_else(|| format!("{name}: the connection broke"), |status| format!("{name}: status {status}"))
}

fn row(name: &str, deeds: &[&Deed], wanted: impl Fn(Kind) -> bool) {
    let of: Vec<&&Deed> = deeds.iter().filter(|deed| wanted(deed.kind)).collect();
    let wrong = of.iter().filter(|deed| !deed.well()).count();
    // an error is fast or slow for reasons of its own and tells nothing of the work
    let well = || of.iter().filter(|deed| deed.well());
    let server = shares(well().filter_map(|deed| deed.server).collect());
    let wall = shares(well().map(|deed| deed.wall).collect());
    println!("{name:11}{:>6}{wrong:>5}{server}{wall}", of.len());
}

/// The smallest time that so many per cent of the times do not exceed, and the longest.
fn shares(mut times: Vec<f64>) -> String {
    times.sort_by(f64::total_cmp);
    let at = |share: usize| times.get((times.len() * share).div_ceil(100).saturating_sub(1));
    [50, 95, 99, 100].map(|share| at(share).map_or_else(|| format!("{:>7}", "-"), |time| format!("{time:>7.1}"))).concat()
}
