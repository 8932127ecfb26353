//! Why a number is what it is: formula, values, spread, source, and what would narrow it.

use super::Page;
use super::desk::percent;
use super::layout::{Frame, changeable};
use crate::answer::Wrong;
use maud::{Markup, html};
use std::sync::Arc;
use tare_app::live::Now;
use tare_app::view::{self, ExplainRow, NameRow};
use tare_app::{Field, Figure, Kind, LineRef};

/// Lines of the way down that are shown at once, and at most.
const LINES: (usize, usize) = (60, 5_000);
/// Operands of a name that are shown one by one.
const OPERANDS: usize = 40;
/// Inputs behind the spread that are shown.
const INPUTS: usize = 10;

pub(super) fn reason(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let asked = p.asked("line").unwrap_or("cost");
    let lines = p.asked("lines").and_then(|n| n.parse().ok()).unwrap_or(LINES.0).min(LINES.1);
    let view = view::explain(&now.study, asked, lines)?;
    let line = view::find_line(&now.study, asked)?;
    let unknown = || Wrong::from(tare_diag::Diag::error("address-unknown", format!("nothing explains `{asked}`")));
    let (first, rest) = view.steps.split_first().ok_or_else(unknown)?;
    let body = html! {
        p.above dir="auto" { (first.subject) }
        h1 { (first.name.replace('_', " ")) }
        p.big { (first.text) }
        p.note { code { (first.address) } }
        (whole(p, &now, first))
        (stated(p, &now, line))
        (spread(p, &now, line))
        @if !rest.is_empty() { details.group open[rest.len() <= 12] {
            summary { "The whole way down" small { " " (rest.len()) " lines" @if view.left_out > 0 { " of " (rest.len() + view.left_out) } } }
            div.way { @for step in rest { (short(p, step)) } }
            @if view.left_out > 0 { p { a href={ (p.reason(asked)) "&lines=" (LINES.1) } { "Show up to " (LINES.1) " lines" } } }
        } }
    };
    Ok(Frame::new("", first.name.replace('_', " "), body))
}

/// The line itself: its formula, and each thing it reads with its own value.
fn whole(p: &Page<'_>, now: &Now, step: &ExplainRow) -> Markup {
    html! {
        @if !step.formula.is_empty() { section {
            h2 { "How it comes about" }
            p.formula { code { (step.formula) } }
            @for name in &step.names { (operands(p, now, name)) }
            (source(p, step))
        } }
    }
}

fn operands(p: &Page<'_>, now: &Now, name: &NameRow) -> Markup {
    if name.lines.len() < 2 {
        return html! { ul.names { li { code { (name.name) } " = " (value(p, name)) } } };
    }
    html! {
        h3 { code { (name.name) } small { " " (name.lines.len()) " values" } }
        ul.operands { @for line in name.lines.iter().take(OPERANDS) {
            li { a href=(p.reason(line)) { (subject(now, line)) } " " @if let Some(text) = shown(now, line) { b { (text) } } }
        } }
        @if name.lines.len() > OPERANDS { p.note { "and " (name.lines.len() - OPERANDS) " more" } }
    }
}

fn value(p: &Page<'_>, name: &NameRow) -> Markup {
    html! { @match name.lines.first() { Some(line) => { a href=(p.reason(line)) { (name.text) } }, None => { (name.text) } } }
}

/// What a line is about, in words.
fn subject(now: &Now, address: &str) -> String {
    let lines = &now.study.lines;
    lines.find(address).map_or_else(|| address.to_owned(), |line| lines.subject(line).title.clone())
}

fn shown(now: &Now, address: &str) -> Option<String> {
    now.study.lines.find(address).map(|line| Figure::new(&now.study, line, 4).text)
}

fn source(p: &Page<'_>, step: &ExplainRow) -> Markup {
    html! {
        @if !step.source.is_empty() || !step.calculation.is_empty() { p.note {
            (step.source) " "
            @if !step.calculation.is_empty() { a href={ (p.at("calculation")) "?key=" (crate::api::encoded(&step.calculation)) } { (step.calculation) } }
        } }
    }
}

/// Who stated a leaf, when, in which entry; and a way to change it.
fn stated(p: &Page<'_>, now: &Now, line: LineRef) -> Markup {
    let LineRef::Leaf(leaf) = line else { return html! {} };
    let leaf = &now.study.lines.leaves[leaf as usize];
    let record = leaf.record.and_then(|id| now.document.get(id)).filter(|r| matches!(r.kind, Kind::Value | Kind::Rate));
    let Some(record) = record else {
        return html! { section { h2 { "Stated" } p { (leaf.quantity.print()) " " span.tag { (leaf.evidence.word()) } } p.note { (leaf.source) } } };
    };
    let text = |field| record.text(field).unwrap_or_default();
    let entries = p.study.entries_about(record.id);
    let beside = [
        (Field::Who, "who"),
        (Field::When, "when"),
        (Field::File, "file"),
        (Field::Cell, "cell"),
        (Field::Raw, "as the cell had it"),
    ];
    html! { section {
        h2 { "Stated" }
        dl.fields {
            div { dt { "as written" } dd { (changeable(&format!("@{}/text", record.id), text(Field::Text), "value")) } }
            div { dt { "taken as" } dd { (leaf.quantity.print()) " " span.tag { (leaf.evidence.word()) } } }
            div { dt { "source" } dd { (changeable(&format!("@{}/source", record.id), text(Field::Source), "source")) } }
            @for (field, word) in beside { @if !text(field).is_empty() { div { dt { (word) } dd dir="auto" { (text(field)) } } } }
        }
        @if !entries.is_empty() { h3 { "Entries about it" } ul.due { @for entry in &entries {
            li { a href={ (p.at("history")) "?before=" (entry.number + 1) } { (entry.number) } " " span dir="auto" { (entry.says) } " " small { (entry.author) ", " (entry.time.get(..10).unwrap_or_default()) } }
        } } }
    } }
}

/// Its uncertainty to the first order, and the inputs that make most of it.
fn spread(p: &Page<'_>, now: &Now, line: LineRef) -> Markup {
    let grounds = now.study.grounds(line);
    let unit = now.study.lines.unit(line);
    let variance: f64 = grounds.drivers.iter().map(|d| d.contribution * d.contribution).sum();
    let u = grounds.standard_uncertainty;
    let inputs = grounds.drivers.iter().take(INPUTS).filter(|_| variance > 0.0);
    html! { section {
        h2 { "How sure it is" }
        @if u > 0.0 { p { "Standard uncertainty u " b { (tare_app::shown_si(u, unit, &now.study.currency, 2)) } " to the first order about the stated values." } }
        @else if u == 0.0 { p.none { "It rests on exact numbers only." } }
        @else { p.none { (now.study.why_unknown(line).unwrap_or_else(|| "Its uncertainty is not known.".to_owned())) } }
        @if variance > 0.0 {
            h3 { "Knowing these better narrows it most" }
            div.scroll tabindex="0" role="region" aria-label="Inputs behind the spread" { table.grid.slim {
                thead { tr { th scope="col" { "Input" } th scope="col" { "Stated" } th scope="col" { "Evidence" } th.k-num scope="col" { "Share of the variance" } } }
                tbody { @for driver in inputs { (input(p, now, driver.leaf, driver.contribution * driver.contribution / variance)) } }
            } }
            p.note { a href=(p.at("todo")) { "What to find out" } " gives steps for the cost; " code { "tare next " (now.study.lines.address(line)) } " gives them for this number." }
        }
    } }
}

fn input(p: &Page<'_>, now: &Now, line: LineRef, share: f64) -> Markup {
    let LineRef::Leaf(leaf) = line else { return html! {} };
    let lines = &now.study.lines;
    let known = &lines.leaves[leaf as usize];
    html! { tr {
        th scope="row" { a href=(p.reason(&lines.address(line))) { (lines.subject(line).title) ": " (known.name.replace('_', " ")) } }
        td { (known.quantity.print()) }
        td { (known.evidence.word()) }
        td.k-num { (percent(share)) }
    } }
}

/// A line further down, in short.
fn short(p: &Page<'_>, step: &ExplainRow) -> Markup {
    html! {
        article.step id=(step.address) {
            p { a href=(p.reason(&step.address)) { (step.name.replace('_', " ")) } " " b { (step.text) } " " small dir="auto" { (step.subject) } }
            @if !step.formula.is_empty() { p.formula { code { (step.formula) } } }
            @if !step.stated.is_empty() { p.note { "stated " (step.stated) " " span.tag { (step.evidence) } " " (step.source) } }
            @else { (source(p, step)) }
        }
    }
}
