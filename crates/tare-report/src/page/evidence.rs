//! What the results rest on, ranges, methods, sources.

use super::setting::{Setting, Size, notes};
use super::table::{Kind, Table, text};
use crate::anchor;
use crate::chart::Shares;
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

pub(crate) fn ranges(s: &Setting<'_>) -> Markup {
    let ranges = &s.report.ranges;
    html! {
        section id="ranges" {
            h2 { "Ranges" }
            @if !ranges.how.is_empty() { p.note { (ranges.how) } }
            @if ranges.distributions.is_empty() && ranges.drivers.is_empty() {
                p.none { "No ranges were drawn. The spreads in this report are first order (k = 2), taken at the stated values; no number is exact." }
            }
            div.charts {
                @for d in &ranges.distributions { (s.chart(d, Size::Half)) }
                @for d in &ranges.drivers { (s.chart(d, Size::Half)) }
            }
        }
    }
}

pub(crate) fn methods(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Calculation", Kind::Name),
        ("Kind", Kind::Word),
        ("Uses", Kind::Number),
        ("Spread of the method", Kind::Text),
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

pub(crate) fn sources(s: &Setting<'_>) -> Markup {
    html! {
        section id="sources" {
            h2 { "Sources" }
            @if s.report.sources.is_empty() { p.none { "No sources are listed." } }
            @let (first, rest) = s.report.sources.split_at(if s.report.sources.len() > 23 { 20 } else { s.report.sources.len() });
            dl.sources { @for o in first { (source(s, o)) } }
            @if !rest.is_empty() {
                details.group {
                    summary { "The other " (rest.len()) " sources" }
                    dl.sources { @for o in rest { (source(s, o)) } }
                }
            }
        }
    }
}

fn source(s: &Setting<'_>, source: &crate::Source) -> Markup {
    let words: Vec<&str> = [source.kind.as_str(), source.seen.as_str()].into_iter().filter(|w| !w.is_empty()).collect();
    html! {
        div id=[s.own_id("source", &source.key)] {
            dt { (source.key) }
            dd { (source.text) @if !words.is_empty() { small { (words.join(", ")) } } }
        }
    }
}
