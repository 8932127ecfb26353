//! The first page, the parts grid, what to find out, what if, and the shell of the bench.

use super::Page;
use super::layout::Frame;
use super::sections::printed;
use crate::answer::Wrong;
use maud::{Markup, html};
use std::sync::Arc;
use tare_app::view::{self, StepRow};
use tare_app::{Basis, Field, Kind};

pub(super) fn overview(p: &Page<'_>) -> Result<Frame, Wrong> {
    let (lead, open_holds, outstanding) = {
        let now = Arc::clone(&p.now);
        let basis = Basis::new(&now.document, &now.study);
        let open = now.document.records().filter(|r| r.kind == Kind::Hold && r.text(Field::State) != Some("recorded")).count();
        (basis, open, view::outstanding(&now.document))
    };
    let body = html! {
        h1 dir="auto" { (p.study.name) }
        p.lead { (lead.line()) }
        @if lead.illustrative { p.invented role="note" { strong { "Invented or illustrative data." } " Rates or records of this study are made up for illustration." } }
        div.report.same { (printed(p, &["summary"])) }
        ul.watch {
            @if open_holds > 0 { li { a href=(p.at("holds")) { (open_holds) @if open_holds == 1 { " hold is open" } @else { " holds are open" } } ": removals behind it wait until a named person records it." } }
            @if outstanding.0 > 0 { li { (outstanding.0) " of " (outstanding.1) " parts have a mass or a photo outstanding: " a href=(p.at("bench")) { "bench" } ", " a href=(p.at("parts")) { "parts" } "." } }
            li { a href=(p.at("todo")) { "What to find out next" } " to narrow the range of the cost." }
        }
        div.report { (printed(p, &["hazards", "drivers"])) }
    };
    Ok(Frame::new("overview", "Overview", body))
}

pub(super) fn parts(p: &Page<'_>) -> Frame {
    let currency = p.now.study.currency.clone();
    let body = html! {
        h1 { "Parts" }
        noscript { p.note { "The table needs scripts to be allowed for this address." } }
        div id="grid" data-currency=(currency) {}
    };
    let mut frame = Frame::new("parts", "Parts", body);
    (frame.styles, frame.modules, frame.follows, frame.wide) = (&["grid.css"], &["grid.js"], false, true);
    frame
}

pub(super) fn todo(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let ranges = now.ranges.as_ref().filter(|(head, _)| *head == now.computed).map(|(_, ranges)| ranges);
    let work = ranges.and_then(|r| r.work.as_ref().map(|work| (r, work)));
    let view =
        work.map(|(r, work)| view::work_rows(&now.document, &now.study, &now.library, "should-cost", work, r.options.seed));
    let table = view::parts_table(&now, &p.study.addresses(&now));
    let due: Vec<_> = table.rows.iter().filter(|row| !row.outstanding.is_empty()).collect();
    let body = html! {
        h1 { "What to find out" }
        section {
            h2 { "Steps that narrow the range of the cost" }
            @match &view {
                Some(view) => {
                    p.note {
                        "u, the standard uncertainty of " a.n href=(p.reason(&view.stated.address)) { (view.stated.text) } ", is " (view.now)
                        " now. Each step says what u would be once it alone is done, and together with those above it."
                    }
                    div.scroll tabindex="0" role="region" aria-label="Steps" { table.grid {
                        thead { tr { th scope="col" { "What to do" } th scope="col" { "About" } th scope="col" { "Stated now" } th.k-num scope="col" { "Minutes" } th.k-num scope="col" { "u, this alone" } th.k-num scope="col" { "u, with those above" } th scope="col" { "Who" } } }
                        tbody { @for step in &view.steps { (step_row(p, step)) } }
                    } }
                    @if !view.stuck.is_empty() {
                        p.note { "No recipe goes for: " @for (n, row) in view.stuck.iter().enumerate() { @if n > 0 { ", " } a href=(p.reason(&row.address)) { (row.address) } } "." }
                    }
                },
                None => { p.none { "The draws behind this list are being made; it appears by itself." } },
            }
        }
        section {
            h2 { "Readings outstanding" }
            @if due.is_empty() { p.none { "Every part has a mass and a photo." } }
            @else {
                p.note { (due.len()) " of " (table.rows.len()) " parts." }
                ul.due { @for row in due.iter().take(200) { li { a href={ (p.at("part")) "?of=@" (row.id) } dir="auto" { (row.label) " " (row.name) } " " small { (row.outstanding.join(", ")) } } } }
                @if due.len() > 200 { p.note { "and " (due.len() - 200) " more: filter the parts by " code { "no mass" } " or " code { "no photo" } "." } }
            }
        }
    };
    Ok(Frame::new("todo", "What to find out", body))
}

fn step_row(p: &Page<'_>, step: &StepRow) -> Markup {
    html! {
        tr {
            th scope="row" { (step.recipe) small { (step.reaches) "; " (step.source) } }
            td { a href=(p.reason(&step.address)) { (step.subject) } small { (step.address) } }
            td { (step.stated) small { (step.evidence) } }
            td.k-num { (tare_app::show_number(step.minutes, 3)) }
            td.k-num { (step.alone) small { (percent(step.gain)) " less" } }
            td.k-num { (step.together) small { (percent(step.gain_together)) " less" } }
            td { (step.who) }
        }
    }
}

pub(super) fn percent(share: f64) -> String {
    format!("{:.1} %", share * 100.0)
}

pub(super) fn what_if(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let scenario = now.document.of_kind(None, Kind::Scenario).next();
    let volume = scenario.and_then(|s| {
        now.document
            .of_kind(Some(s.id), Kind::Value)
            .find(|v| v.text(Field::Quantity) == Some("volume"))
            .and_then(|v| v.text(Field::Text))
    });
    let book = now.document.of_kind(None, Kind::Study).next().and_then(|s| s.text(Field::Book)).unwrap_or_default();
    let books: Vec<String> = tare_app::calculations::books(&now.library).into_iter().map(|b| b.key).collect();
    let body = html! {
        h1 { "What if" }
        p.note { "Computed on a copy that is thrown away. Nothing here is recorded." }
        form id="whatif" {
            div.row { label for="volume" { "Volume" } input id="volume" name="volume" placeholder=(volume.unwrap_or("20000 1/a")) autocomplete="off"; }
            div.row { label for="book" { "Rate book" } select id="book" name="book" { option value="" { "as it is (" (book) ")" } @for key in &books { @if key != book { option value=(key) { (key) } } } } }
            div id="whatif-rows" {}
        }
        div id="whatif-result" role="status" aria-live="polite" {}
    };
    let mut frame = Frame::new("whatif", "What if", body);
    (frame.styles, frame.modules, frame.follows) = (&["whatif.css"], &["whatif.js"], false);
    Ok(frame)
}

pub(super) fn bench(p: &Page<'_>) -> Frame {
    let _ = p;
    let body = html! { noscript { p.note { "The bench needs scripts to be allowed for this address." } }
    div id="bench" {} };
    let mut frame = Frame::new("bench", "Bench", body);
    (frame.styles, frame.modules, frame.follows, frame.wide) = (&["bench.css"], &["bench.js"], false, true);
    frame.slim = true;
    frame
}
