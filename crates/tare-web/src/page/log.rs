//! What was done, with undo of any entry.

use super::Page;
use super::layout::Frame;
use crate::answer::Wrong;
use maud::html;

/// Entries on one page.
const ROWS: usize = 200;

pub(super) fn history(p: &Page<'_>) -> Result<Frame, Wrong> {
    let rows = p.study.history();
    let from = p.asked("before").and_then(|n| n.parse::<u64>().ok()).unwrap_or(u64::MAX);
    let shown: Vec<_> = rows.iter().rev().filter(|row| row.number < from).take(ROWS).collect();
    let body = html! {
        h1 { "History" }
        p.note { "Every change is an entry. Taking one back adds an entry; nothing is lost. Where something came since that it concerns, both values are shown and nothing changes." }
        p.actions { button type="button" data-post="undo" { "Take back the last entry" } " " button type="button" data-post="redo" { "Bring it back" } }
        div.scroll tabindex="0" role="region" aria-label="Entries" { table.grid.history {
            thead { tr { th.k-num scope="col" { "No." } th scope="col" { "What" } th scope="col" { "Who" } th scope="col" { "When (universal time)" } th.k-num scope="col" { "Edits" } th scope="col" { span.hidden { "Undo" } } } }
            tbody { @for row in &shown { tr.undone[row.undone] {
                td.k-num { (row.number) }
                th scope="row" dir="auto" { (row.says) @if row.undone { " " span.tag { "taken back" } } }
                td dir="auto" { (row.author) }
                td.k-word { (row.time.replace('T', " ").trim_end_matches('Z').split('.').next().unwrap_or_default()) }
                td.k-num { (row.edits) }
                td { @if row.undoes.is_none() && row.number > 1 { @if row.undone { button type="button" data-post="redo" data-number=(row.number) { "Bring back" } } @else { button type="button" data-post="undo" data-number=(row.number) { "Take back" } } } }
            } } }
        } }
        @if let Some(last) = shown.last().filter(|last| last.number > 1) { p { a href={ (p.at("history")) "?before=" (last.number) } { "Earlier entries" } } }
    };
    Ok(Frame::new("history", "History", body))
}
