//! What the results rest on, methods, sources.

use super::setting::{Setting, Size, notes};
use super::summary::count;
use super::table::{Kind, Table, text};
use crate::chart::Shares;
use crate::{Source, anchor};
use maud::{Markup, html};

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let evidence = &s.report.evidence;
    let columns = [
        ("Input", Kind::Name),
        ("Value", Kind::Number),
        ("Evidence", Kind::Word),
        ("Acts on", Kind::Text),
        ("Share", Kind::Number),
        ("What would help", Kind::Text),
    ];
    let mut table = Table::new("Weakest links", &columns);
    for w in &evidence.weakest {
        table.row(vec![text(&w.input), s.figure(&w.value), text(&w.class), text(&w.result), text(&w.share), text(&w.next)]);
    }
    let shares = Shares { title: "Evidence behind the results, shares by elasticity".to_owned(), rows: evidence.bars.clone() };
    html! {
        section id="evidence" {
            h2 { "Evidence" }
            @if evidence.bars.is_empty() { p.none { "Shares of evidence are not computed." } }
            (s.chart(&shares, Size::Full))
            h3 { "Weakest links" }
            (table.or_words("No weak links are listed."))
            (notes(&evidence.notes))
        }
    }
}

pub(crate) fn methods(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Calculation", Kind::Name),
        ("Kind", Kind::Word),
        ("Uses", Kind::Number),
        ("Method spread", Kind::Word),
        ("Why that spread", Kind::Text),
        ("Sources", Kind::Text),
    ];
    let mut table = Table::new("Calculations used", &columns).first(12);
    for m in &s.report.methods {
        let name = html! { (m.title) small { code { (m.key) } } };
        table.row(vec![name, text(&m.kind), text(&m.uses), text(&m.spread), text(&m.reason), sources_of(s, &m.sources)]);
    }
    html! { section id="methods" { h2 { "Methods" } (table.or_words("No calculations are listed.")) } }
}

fn sources_of(s: &Setting<'_>, keys: &[String]) -> Markup {
    html! {
        @for (n, key) in keys.iter().enumerate() {
            @if n > 0 { "; " }
            @if s.report.sources.iter().any(|o| o.key == *key) { a.ref href={ "#" (anchor::id("source", key)) } { (key) } } @else { (key) }
        }
    }
}

/// The kind of source that is listed first, and open: what others have published.
const FIRST: &str = "handbook";

/// Kinds of source that are printed even where the reasons are not.
const PRINTED: [&str; 2] = [FIRST, "quoted"];

/// Sources by their kind, what others published first, then prices, then judgement; the order within a kind stays.
fn by_kind(sources: &[Source]) -> Vec<(&str, Vec<&Source>)> {
    let mut kinds: Vec<&str> = [FIRST, "quoted", "assumed", "derived", "measured"].to_vec();
    for source in sources {
        if !kinds.contains(&source.kind.as_str()) {
            kinds.push(&source.kind);
        }
    }
    let of = |kind: &str| sources.iter().filter(|o| o.kind == kind).collect::<Vec<_>>();
    let named = kinds.into_iter().map(|kind| (if kind.is_empty() { "other" } else { kind }, of(kind)));
    named.filter(|(_, found)| !found.is_empty()).collect()
}

pub(crate) fn sources(s: &Setting<'_>) -> Markup {
    html! {
        section id="sources" {
            h2 { "Sources" }
            @if s.report.sources.is_empty() { p.none { "No sources are listed." } }
            @if s.report.reasons_off_paper {
                p.note.paper {
                    "Published sources and quotes. Words on assumptions and readings stand in the file on screen, with the reason of \
                     each number."
                }
            }
            @for (kind, found) in by_kind(&s.report.sources) {
                // paper that leaves the reasons off leaves off what only they point to
                details.group.off-paper[s.report.reasons_off_paper && !PRINTED.contains(&kind)] open[kind == FIRST] {
                    summary { (super::setting::capital(kind)) " " small { (count(found.len(), "source", "sources")) } }
                    dl.sources { @for o in found { (source(s, o)) } }
                }
            }
        }
    }
}

fn source(s: &Setting<'_>, source: &Source) -> Markup {
    html! {
        div id=[s.own_id("source", &source.key)] {
            dt { (source.key) }
            dd { (source.text) @if !source.seen.is_empty() { " " small { (source.seen) } } }
        }
    }
}
