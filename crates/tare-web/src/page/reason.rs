//! Why a number is what it is: formula, values, spread, source, and what would narrow it.

use super::Page;
use super::layout::Frame;
use crate::answer::Wrong;
use maud::{Markup, html};
use tare_app::view::{self, ExplainRow};
use tare_app::{Field, Kind};

/// Lines that are shown at once.
const LINES: usize = 60;

pub(super) fn reason(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = p.study.now();
    let asked = p.asked("line").unwrap_or("cost");
    let view = view::explain(&now.study, asked, p.asked("lines").and_then(|n| n.parse().ok()).unwrap_or(LINES).min(5_000))?;
    let line = view::find_line(&now.study, asked)?;
    let Some(first) = view.steps.first() else {
        return Err(Wrong::from(tare_diag::Diag::error("address-unknown", "nothing to explain")));
    };
    let u = now.study.standard_uncertainty(line);
    let unit = now.study.lines.unit(line);
    let said = said(p, &now, line);
    let body = html! {
        p.above { (first.subject) }
        h1 { (first.name) }
        p.big { (first.text) @if u > 0.0 { " " small { "u " (tare_app::shown_si(u, unit, &now.study.currency, 2)) " (first order)" } } }
        p.note { code { (first.address) } }
        (said)
        section.reasons {
            h2 { "How it comes about" }
            @for step in &view.steps { (shown(p, step)) }
            @if view.left_out > 0 { p.note { (view.left_out) " more lines: " a href={ (p.reason(asked)) "&lines=5000" } { "show them" } } }
        }
        section { h2 { "What would narrow it" } p { a href=(p.at("todo")) { "What to find out" } " lists steps for the cost; " code { "tare next " (first.address) } " lists them for this number." } }
    };
    Ok(Frame::new("", first.name.clone(), body))
}

/// Who stated a leaf, when, in which entry; and a way to change it.
fn said(p: &Page<'_>, now: &tare_app::live::Now, line: tare_app::LineRef) -> Markup {
    let tare_app::LineRef::Leaf(leaf) = line else { return html! {} };
    let leaf = &now.study.lines.leaves[leaf as usize];
    let record = leaf.record.and_then(|id| now.document.get(id));
    let Some(record) = record.filter(|r| matches!(r.kind, Kind::Value | Kind::Rate)) else { return html! {} };
    let text = |field| record.text(field).unwrap_or_default();
    let entries = p.study.entries_about(record.id).unwrap_or_default();
    html! {
        section {
            h2 { "Stated" }
            dl.fields {
                div { dt { "as written" } dd { (super::layout::changeable(&format!("@{}/text", record.id), text(Field::Text), "value")) } }
                div { dt { "evidence" } dd { (text(Field::Evidence)) } }
                div { dt { "source" } dd { (super::layout::changeable(&format!("@{}/source", record.id), text(Field::Source), "source")) } }
                @for (field, word) in [(Field::Who, "who"), (Field::When, "when"), (Field::File, "file"), (Field::Cell, "cell"), (Field::Raw, "as the cell had it")] {
                    @if !text(field).is_empty() { div { dt { (word) } dd dir="auto" { (text(field)) } } }
                }
            }
            @if !entries.is_empty() { ul.due { @for entry in &entries { li { small { (entry.time) } " " (entry.author) ": " (entry.says) } } } }
        }
    }
}

fn shown(p: &Page<'_>, step: &ExplainRow) -> Markup {
    html! {
        article.reason id=(step.address) {
            h3 { a href=(p.reason(&step.address)) { (step.name) } " " span.value { (step.text) } " " small { (step.subject) } }
            @if !step.formula.is_empty() { p.formula { code { (step.formula) } } }
            @if !step.stated.is_empty() { p { "stated " strong { (step.stated) } " " span.tag { (step.evidence) } } }
            @if !step.names.is_empty() { ul.names { @for name in &step.names { li {
                code { (name.name) } " = "
                @match name.lines.first() { Some(line) => { a href=(p.reason(line)) { (name.text) } }, None => { (name.text) } }
            } } } }
            @if !step.source.is_empty() { p.note { (step.source) @if !step.calculation.is_empty() { " " a href={ (p.at("calculation")) "?key=" (crate::api::encoded(&step.calculation)) } { (step.calculation) } } } }
        }
    }
}
