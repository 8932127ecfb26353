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
    // words that are a source of this report are printed once, in the appendix
    let known = |words: &String| s.report.sources.iter().find(|o| o.key == *words || o.text == *words);
    html! {
        @for (n, words) in keys.iter().enumerate() {
            @if n > 0 { "; " }
            @match known(words).filter(|_| s.report.printing.has("sources")) {
                Some(source) => { a.ref href={ "#" (anchor::id("source", &source.key)) } title=(source.text) { (source.key) } },
                None => { (words) },
            }
        }
    }
}

/// Classes of evidence in the order of the appendix, with its heading: what others published first, then prices, readings, judgement.
const GROUPS: [(&str, &str); 5] = [
    ("handbook", "Published: standards, handbooks, papers"),
    ("quoted", "Quoted: offers and price lists"),
    ("measured", "Measured: readings, counts, instruments"),
    ("derived", "Derived: definitions and what follows from other values"),
    ("assumed", "Assumptions and common practice"),
];

/// Sources by their class; the order within a class stays. A class of another name comes last, under its own.
fn by_class(sources: &[Source]) -> Vec<(&str, Vec<&Source>)> {
    let mut classes = GROUPS.to_vec();
    for source in sources {
        if !classes.iter().any(|(class, _)| *class == source.kind) {
            classes.push((&source.kind, if source.kind.is_empty() { "Other" } else { &source.kind }));
        }
    }
    let of = |class: &str| sources.iter().filter(|o| o.kind == class).collect::<Vec<_>>();
    classes.into_iter().map(|(class, title)| (title, of(class))).filter(|(_, found)| !found.is_empty()).collect()
}

pub(crate) fn sources(s: &Setting<'_>) -> Markup {
    html! {
        section id="sources" {
            h2 { "Sources" @if !s.report.sources.is_empty() { " " small { (s.report.sources.len()) " sources, each once" } } }
            @if s.report.sources.is_empty() { p.none { "No sources are listed." } } @else {
                p.note { "Behind each source: how many inputs were taken from it, and how many lines are computed by a formula of it." }
            }
            @for (n, (title, found)) in by_class(&s.report.sources).into_iter().enumerate() {
                details.group open[n == 0] {
                    summary { (super::setting::capital(title)) " " small { (count(found.len(), "source", "sources")) } }
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
            dd {
                (source.text)
                @for words in [&source.seen, &source.uses] { @if !words.is_empty() { " " small { (words) } } }
            }
        }
    }
}
