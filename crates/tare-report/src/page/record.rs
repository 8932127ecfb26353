//! Findings, holds, differing values, messages.

use super::setting::Setting;
use super::table::{Kind, Table, text};
use maud::{Markup, html};

pub(crate) fn findings(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Finding", Kind::Name),
        ("Kind", Kind::Text),
        ("Severity", Kind::Word),
        ("Parts", Kind::Text),
        ("Photos", Kind::Text),
        ("Who, when", Kind::Text),
    ];
    let mut table = Table::new("Findings", &columns).class("prose");
    for f in &s.report.findings {
        let parts = html! { @for (n, p) in f.parts.iter().enumerate() { @if n > 0 { ", " } (s.part(p)) } };
        let words = html! { @if !f.title.is_empty() { strong { (f.title) } @if !f.text.is_empty() { br; } } (f.text) };
        table.row(vec![words, text(&f.kind), text(&f.severity), parts, s.photo_list(&f.photos), text(&f.who)]);
    }
    html! { section id="findings" { h2 { "Findings" } (table.or_words("No findings are recorded.")) } }
}

pub(crate) fn holds(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Hold", Kind::Name),
        ("State", Kind::Word),
        ("Recorded by", Kind::Text),
        ("When", Kind::Text),
        ("What was recorded", Kind::Text),
        ("Waits behind it", Kind::Text),
    ];
    let mut table = Table::new("Holds", &columns);
    for h in &s.report.holds {
        let state = if h.recorded {
            html! { "recorded" }
        } else {
            html! { strong { "open" } }
        };
        let class = if h.recorded { "" } else { "flag" };
        table.row_as(class, vec![text(&h.name), state, text(&h.who), text(&h.when), text(&h.words), text(&h.waits)]);
    }
    html! {
        section id="holds" {
            h2 { "Holds" }
            p.note {
                "A recorded hold says that a named person wrote down what is shown, no more. Local codes and qualified persons decide on work \
                 near high voltage and heat."
            }
            (table.or_words("No holds are recorded. That does not mean that none are due."))
        }
    }
}

pub(crate) fn differs(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Quantity", Kind::Name),
        ("Value", Kind::Text),
        ("Used", Kind::Word),
        ("Evidence and source", Kind::Text),
        ("Who, when", Kind::Text),
        ("Remark", Kind::Text),
    ];
    let mut table = Table::new("Values that differ", &columns);
    for d in &s.report.differs {
        for (n, v) in d.values.iter().enumerate() {
            let name = if n == 0 {
                html! { (d.subject) ", " (d.quantity) }
            } else {
                html! { span.same { (d.subject) ", " (d.quantity) } }
            };
            let used = if v.chosen {
                html! { strong { "used" } }
            } else {
                html! { "not used" }
            };
            let note = if n == 0 {
                text(&d.note)
            } else {
                html! {}
            };
            table.row_as(
                if n == 0 { "first" } else { "next" },
                vec![name, text(&v.text), used, text(&v.evidence), text(&v.who), note],
            );
        }
    }
    html! { section id="differs" { h2 { "Values that differ" } (table.or_words("No quantity has values that differ.")) } }
}

pub(crate) fn messages(s: &Setting<'_>) -> Markup {
    let mut rows: Vec<_> = s.report.problems.iter().collect();
    rows.sort_by_key(|p| p.level);
    let columns =
        [("Message", Kind::Name), ("Level", Kind::Word), ("Where", Kind::Text), ("What to do", Kind::Text), ("Code", Kind::Text)];
    let mut table = Table::new("Messages of the computation", &columns).class("prose");
    for p in rows {
        let class = if p.level == crate::Level::Error { "flag" } else { "" };
        let place = if p.place.is_empty() {
            html! {}
        } else {
            html! { code { (p.place) } }
        };
        let code = if p.code.is_empty() {
            html! {}
        } else {
            html! { code { (p.code) } }
        };
        table.row_as(class, vec![text(&p.message), text(p.level.word()), place, text(p.hints.join("; ")), code]);
    }
    html! { section id="messages" { h2 { "Messages" } (table.or_words("The computation had nothing to say.")) } }
}
