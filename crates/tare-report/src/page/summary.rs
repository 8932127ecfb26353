//! The top of the report: title, scenario, hazards, headlines, boundary.

use super::setting::{Setting, Size};
use super::table::{Kind, Table, text};
use crate::chart::Waterfall;
use crate::{Headline, Level};
use maud::{Markup, html};

/// Cautions that are printed in every report.
const HAZARDS: [&str; 3] = [
    "High-voltage and thermal hazards are part of this work. Stored electrical energy, damaged or heated cells, toxic and flammable gas, \
     re-ignition hours or days later, pressure, springs and heavy parts can injure or kill.",
    "Local codes and qualified persons decide whether, where and how such work is done. This report records what was done and computes \
     from it; it is not a permission to work and not a judgement of any hazard.",
    "Measured, quoted and assumed values are marked as such. A hold that nobody has recorded is open, whatever else the report shows.",
];

pub(crate) fn masthead(s: &Setting<'_>) -> Markup {
    let r = s.report;
    let c = &r.scenario;
    let fixed = [
        ("Scenario", &c.name),
        ("Place", &c.place),
        ("Volume", &c.volume),
        ("Base year", &c.base_year),
        ("Currency", &c.currency),
        ("Arithmetic", &c.numerics),
        ("State", &c.state),
        ("Build", &c.build),
    ];
    let entries = fixed.into_iter().filter(|(_, v)| !v.is_empty());
    html! {
        header.masthead id="top" {
            @if let Some(words) = &r.invented { p.invented role="note" { strong { "Invented or illustrative data. " } (words) } }
            h1 { (r.title) }
            @if !r.product.is_empty() { p.lead { (r.product) } }
            dl.scenario {
                @for (label, value) in entries { div { dt { (label) } dd { (value) } } }
                @for (label, value) in &c.more { div { dt { (label) } dd { (value) } } }
            }
        }
    }
}

pub(crate) fn hazards(s: &Setting<'_>) -> Markup {
    let open = s.report.holds.iter().filter(|h| !h.recorded).count();
    html! {
        aside.hazards aria-labelledby="hazards-title" {
            h2 id="hazards-title" { "Hazards" }
            @for words in HAZARDS { p { (words) } }
            @for words in &s.report.cautions { p { (words) } }
            @if open > 0 { p { strong { (count(open, "hold is", "holds are")) " open" } ", see " a.ref href="#holds" { "Holds" } "." } }
        }
    }
}

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let r = s.report;
    let many = |level: Level| r.problems.iter().filter(|p| p.level == level).count();
    let (errors, warnings) = (many(Level::Error), many(Level::Warning));
    let unexplained = r.mass.balance.iter().filter(|b| b.verdict == crate::GapVerdict::Larger).count();
    html! {
        section id="summary" {
            h2 { "Summary" }
            div.headlines.(columns(r.headlines.len())) { @for headline in &r.headlines { (card(s, headline)) } }
            @if r.headlines.is_empty() { p.none { "No headline numbers are given." } }
            @if r.headlines.iter().any(|h| h.total) { (s.boundary()) }
            @if errors + warnings + unexplained + r.differs.len() > 0 {
                ul.watch {
                    @if errors > 0 { li { a.ref href="#messages" { (count(errors, "error", "errors")) } " in the computation; results that hang on them are missing." } }
                    @if warnings > 0 { li { a.ref href="#messages" { (count(warnings, "warning", "warnings")) } "." } }
                    @if unexplained > 0 { li { a.ref href="#mass" { (count(unexplained, "mass gap", "mass gaps")) } " larger than uncertainty explains." } }
                    @if !r.differs.is_empty() { li { a.ref href="#differs" { (count(r.differs.len(), "quantity", "quantities")) } " with values that differ." } }
                }
            }
            @for remark in &r.remarks { p.note { (remark) } }
            (s.chart(&waterfall(s), Size::Full))
        }
    }
}

/// The cost waterfall of the report.
pub(crate) fn waterfall(s: &Setting<'_>) -> Waterfall {
    let cost = &s.report.cost;
    Waterfall { title: "Cost by kind".to_owned(), unit: cost.unit.clone(), steps: cost.steps.clone() }
}

/// The class that fills the grid of headlines without a ragged last row where it can.
fn columns(n: usize) -> &'static str {
    match n {
        3 | 5 | 6 | 9 => "by-3",
        _ => "by-4",
    }
}

fn card(s: &Setting<'_>, headline: &Headline) -> Markup {
    let value = &headline.value;
    html! {
        div.card {
            h3 { (headline.label) }
            p.big { (s.because(&value.text, value.link.as_deref(), "")) }
            p.range {
                @match &value.range {
                    Some(range) => { "range: " (range.text) },
                    None => { "range: computed later" },
                }
            }
            @if let Some((words, figure)) = &headline.without {
                p.without { span { (words) } " " b { (s.because(&figure.text, figure.link.as_deref(), "")) } @if let Some(range) = &figure.range { span.range { " (" (range.text) ")" } } }
            }
            @if let Some(evidence) = &value.evidence { p.rests { (evidence) } }
            @if !headline.note.is_empty() { p.rests { (headline.note) } }
        }
    }
}

pub(crate) fn boundary(s: &Setting<'_>) -> Markup {
    let mut table = Table::new(
        "What the totals contain",
        &[("Topic", Kind::Name), ("State", Kind::Word), ("Why, or what to ask", Kind::Text)],
    );
    let mut rows: Vec<_> = s.report.boundary.iter().collect();
    rows.sort_by_key(|b| b.state);
    for row in rows {
        table.row(vec![text(&row.topic), html! { span.state { (row.state.word()) } }, text(&row.note)]);
    }
    html! {
        section id="boundary" { h2 { "Boundary" } (table.or_words("Nobody has recorded what is in and what is out.")) }
    }
}

/// A count with its noun.
pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    if n == 1 { format!("1 {one}") } else { format!("{n} {many}") }
}
