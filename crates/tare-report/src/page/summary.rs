//! The top of the report: title, scenario, hazards, headlines, boundary.

use super::setting::{Setting, Size};
use super::table::{Kind, Table, text};
use crate::chart::Waterfall;
use crate::{Figure, Headline, Idea, IdeaWorth, Level};
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
        ("Date", &r.cover.date),
        ("For", &r.cover.reader),
        ("Release", &r.cover.release),
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

/// The hazards on a page that has room for numbers only.
pub(crate) fn hazards_in_short(s: &Setting<'_>) -> Markup {
    let open = s.report.holds.iter().filter(|h| !h.recorded).count();
    html! {
        aside.hazards aria-label="Hazards" {
            p {
                b { "Hazards. " } (HAZARDS[0]) " Local codes and qualified persons decide; this page is not a permission to work and not a \
                judgement of any hazard."
                @if open > 0 { " " strong { (count(open, "hold is", "holds are")) " open." } }
            }
            @for words in &s.report.cautions { p { (words) } }
        }
    }
}

/// The summary: one page on paper.
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
            @let failed = super::ranges::watch(s);
            @if errors + warnings + unexplained + r.differs.len() > 0 || failed.is_some() {
                ul.watch {
                    @if errors > 0 { li { a.ref href="#messages" { (count(errors, "error", "errors")) } " in the computation; results that hang on them are missing." } }
                    @if warnings > 0 { li { a.ref href="#messages" { (count(warnings, "warning", "warnings")) } "." } }
                    @if unexplained > 0 { li { a.ref href="#mass" { (count(unexplained, "mass gap", "mass gaps")) } " larger than uncertainty explains." } }
                    @if let Some(words) = failed { li { (words) } }
                    @if !r.differs.is_empty() { li { a.ref href="#differs" { (count(r.differs.len(), "quantity", "quantities")) } " with values that differ." } }
                }
            }
            (at_a_glance(s))
            @for remark in &r.remarks { p.note { (remark) } }
        }
    }
}

/// Ideas and inputs named in the summary.
const NAMED: usize = 3;

/// Beside the headlines: whether the mass closes, the best ideas, and what to find out next.
fn at_a_glance(s: &Setting<'_>) -> Markup {
    let r = s.report;
    let computing = |id: &str| r.printing.computing.contains(id);
    let mut ideas: Vec<&Idea> = r.ideas.iter().flat_map(|i| &i.rows).filter(|i| gain(i) > 0.0).collect();
    ideas.sort_by(|a, b| gain(b).total_cmp(&gain(a)));
    let whole = r.mass.balance.iter().find(|b| b.level == 0 && b.gap.is_some());
    let steps = &r.ranges.work.rows;
    html! {
        div.glance {
            @if let Some(b) = whole {
                div {
                    h3 { "Mass against the scale" }
                    p {
                        @if let Some(weighed) = &b.weighed { "Weighed " (s.number_of(weighed)) ", " }
                        @if let Some(parts) = &b.parts { "sum of parts " (s.number_of(parts)) ", " }
                        @if let Some(gap) = &b.gap { "gap " b { (s.number_of(gap)) } }
                        @if let Some(of) = &b.gap_uncertainty { " \u{b1} " (s.number_of(of)) " (k\u{a0}=\u{a0}2)" }
                        ": " (b.verdict.words()) ". " a.ref.go href="#mass" { "Mass" }
                    }
                }
            }
            @if computing("ideas") {
                div { h3 { "Ideas" } p.none { "Being computed." } }
            } @else if !ideas.is_empty() {
                div {
                    h3 { "Best ideas, each alone" }
                    ol {
                        @for idea in ideas.iter().take(NAMED) {
                            li {
                                bdi { (idea.name) } @if !idea.place.is_empty() { " (" bdi { (idea.place) } ")" } ": "
                                @if let Some(worth) = &idea.worth { (worth_in_short(s, worth)) }
                            }
                        }
                    }
                    p.note { "Net saving of a product. Gains do not add up; safety findings stand before them. " a.ref.go href="#ideas" { "Ideas" } }
                }
            }
            @if computing("ranges") {
                div { h3 { "Ranges, and what to find out next" } p.none { "Being computed; spreads are first order until then." } }
            } @else if !steps.is_empty() {
                div {
                    h3 { "Find out next about the " (r.ranges.work.of) }
                    ol { @for step in steps.iter().take(NAMED) { li { bdi { (step.input) } ": " bdi { (step.recipe) } " (" (step.gain) " less uncertainty)" } } }
                    p.note { a.ref.go href="#ranges" { "Ranges" } }
                }
            }
        }
    }
}

fn gain(idea: &Idea) -> f64 {
    idea.worth.as_ref().map_or(f64::NEG_INFINITY, |w| w.net_saving.number)
}

fn worth_in_short(s: &Setting<'_>, worth: &IdeaWorth) -> Markup {
    let range = worth.net_saving.range.as_ref().filter(|r| r.low != r.high);
    html! {
        b { (s.number_of(&worth.net_saving)) }
        @if let Some(range) = range { " (" (range.words()) ")" }
        @if let Some(chance) = &worth.chance { ", chance of gain " (chance.text) }
    }
}

/// Rows of the short tables of what drives the cost.
const MOST: usize = 6;

/// What drives the cost: its kinds, its largest items, and the inputs behind its spread.
pub(crate) fn drivers(s: &Setting<'_>) -> Markup {
    let r = s.report;
    let chart = waterfall(s);
    let mut items =
        Table::new("Largest items", &[("Item", Kind::Name), ("Cost per product", Kind::Number), ("Share", Kind::Number)]);
    for i in r.cost.items.iter().take(MOST) {
        items.row(vec![s.item(&i.item, i.part.as_deref()), s.figure(&i.cost), text(&i.share)]);
    }
    let columns = [("Input", Kind::Name), ("Value", Kind::Number), ("Evidence", Kind::Word), ("Share", Kind::Number)];
    let mut inputs = Table::new("Inputs behind the spread", &columns);
    for w in r.evidence.strongest.iter().take(MOST) {
        inputs.row(vec![text(&w.input), s.figure(&w.value), text(&w.class), text(&w.share)]);
    }
    html! {
        section id="drivers" {
            h2 { "What drives the cost" }
            @if chart.steps.is_empty() && r.cost.items.is_empty() {
                p.none { "No cost is computed, so nothing can be said about what drives it." }
            }
            (s.chart(&chart, Size::Full))
            div.beside {
                @if !r.cost.items.is_empty() {
                    div { h3 { "Largest items" } (items.html()) p.note { a.ref.go href="#cost-items" { "All items" } } }
                }
                @if !r.evidence.strongest.is_empty() {
                    div {
                        h3 { "Inputs behind its spread" }
                        (inputs.html())
                        p.note {
                            "First order, share of the variance; inputs with less than 1 % are left out. "
                            a.ref.go href="#evidence" { "Evidence" }
                        }
                    }
                }
            }
        }
    }
}

/// The cost waterfall of the report.
pub(crate) fn waterfall(s: &Setting<'_>) -> Waterfall {
    let cost = &s.report.cost;
    Waterfall { title: "Cost by kind".to_owned(), unit: cost.unit.clone(), steps: cost.steps.clone(), near: false }
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
            (spread(value))
            @if let Some(evidence) = &value.evidence { p.rests { (evidence) } }
            @if let Some((words, figure)) = &headline.without {
                p.without {
                    span { (words) } " " b { (s.because(&figure.text, figure.link.as_deref(), "")) } " "
                    @if figure.range.is_some() || figure.spread.is_some() || !figure.remarks.is_empty() { (spread(figure)) }
                }
            }
            @if !headline.note.is_empty() { p.rests { (headline.note) } }
        }
    }
}

/// The sampled range where there is one, else the first-order spread, else why there is none; then what else is to be said of it.
fn spread(figure: &Figure) -> Markup {
    let words = match (&figure.range, &figure.spread) {
        (Some(range), _) if range.draws > 0 => range.words(),
        (Some(range), _) => format!("range: {}", range.text),
        (None, Some(spread)) => spread.text.clone(),
        (None, None) if figure.remarks.is_empty() => "spread: not computed".to_owned(),
        (None, None) => String::new(),
    };
    html! {
        @if !words.is_empty() { span.range { (words) } }
        @for remark in &figure.remarks { span.range { (remark) } }
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
