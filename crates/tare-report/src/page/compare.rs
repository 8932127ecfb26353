//! Products side by side: what their totals contain first, then numbers.

use super::setting::{Setting, Size, capital, notes};
use super::table::{Kind, Table, text};
use crate::chart::{Group, Grouped, Waterfall, group};
use crate::{Compared, ComparedRow, Comparison, Cut, Figure, Walk, Yardstick};
use maud::{Markup, html};
use std::borrow::Cow;
use std::collections::BTreeSet;

/// Parts of the section: id, title in the contents of a page of its own.
pub(crate) const PARTS: [(&str, &str); 7] = [
    ("compare-boundary", "What totals contain"),
    ("compare-products", "Products"),
    ("compare-headlines", "Headlines"),
    ("compare-yardsticks", "Yardsticks"),
    ("compare-cuts", "Breakdown"),
    ("compare-walks", "Walks"),
    ("compare-best", "Best of each"),
];
/// Groups that are drawn before the rest is summed.
const DRAWN: usize = 10;
/// Rows of a cut before the rest is folded.
const FIRST: usize = 10;

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let Some(c) = &s.report.comparison else {
        return html! { section id="compare" { h2 { "Comparison" } p.none { "The product is compared with no other." } } };
    };
    html! {
        section id="compare" {
            h2 { "Comparison" @if !c.products.is_empty() { " " small { (c.products.len()) " products under one scenario" } } }
            (boundary(c))
            (products(s, c))
            (headlines(s, c))
            (rank(c))
            @if !c.yardsticks.is_empty() {
                h3 id="compare-yardsticks" { "By yardstick" }
                @for yard in &c.yardsticks { (yardstick(s, c, yard)) }
            }
            @if !c.cuts.is_empty() {
                div id="compare-cuts" {
                    (unknown_words(c))
                    @for cut in &c.cuts { (one_cut(s, c, cut)) }
                }
            }
            @if !c.walks.is_empty() {
                h3 id="compare-walks" { "From one to another" }
                @for walk in &c.walks { (one_walk(s, walk)) }
            }
            (best(s, c))
            (notes(&c.notes))
        }
    }
}

/// The parts that a comparison has.
pub(crate) fn parts(c: &Comparison) -> impl Iterator<Item = (&'static str, &'static str)> {
    let empty = |id: &str| match id {
        "compare-headlines" => c.headlines.is_empty(),
        "compare-yardsticks" => c.yardsticks.is_empty(),
        "compare-cuts" => c.cuts.is_empty(),
        "compare-walks" => c.walks.is_empty(),
        "compare-best" => c.best.is_none(),
        _ => false,
    };
    PARTS.into_iter().filter(move |(id, _)| !empty(id))
}

fn boundary(c: &Comparison) -> Markup {
    let mut columns: Vec<(Cow<'static, str>, Kind)> = vec![("Topic".into(), Kind::Name)];
    columns.extend(c.products.iter().map(|p| (p.letter.clone().into(), Kind::Word)));
    columns.push(("Remark".into(), Kind::Text));
    let mut table = Table::of("What totals hold in one product and not in another", columns);
    for row in &c.boundary {
        let mut cells = vec![text(&row.topic)];
        let state = |n: usize| row.states.get(n).map_or("", |s| s.word());
        cells.extend((0..c.products.len()).map(|n| html! { span.state { (state(n)) } }));
        cells.push(text(&row.note));
        table.row(cells);
    }
    html! {
        h3 id="compare-boundary" { "What the totals contain, where they differ" }
        @if c.boundary.is_empty() {
            p.none { "The studies say the same of every topic. What no study names was not compared." }
        } @else {
            p.warn {
                b { "Read this before any number. " }
                "A total that leaves something out is not cheaper by it. Where one study says \u{201c}in\u{201d} and another \
                 \u{201c}out\u{201d} or \u{201c}unknown\u{201d}, their difference holds that topic as well."
            }
            (table.html())
        }
    }
}

fn products(s: &Setting<'_>, c: &Comparison) -> Markup {
    let columns = [("Product", Kind::Name), ("What it is", Kind::Text), ("Cost under its own scenario", Kind::Number)];
    let mut table = Table::new("Products compared", &columns).class("products");
    for p in &c.products {
        let problems = html! { @for problem in &p.problems { small.problem { (capital(problem)) } } };
        let name = html! { b.letter { (p.letter) } " " (p.name) @if p.invented { small { "invented or illustrative data" } } (problems) };
        table.row(vec![name, text(&p.product), s.maybe(p.own.as_ref())]);
    }
    html! {
        h3 id="compare-products" { "Products" }
        (table.or_words("No products are compared."))
        @if !c.scenario.is_empty() { p.note { b { "Common scenario: " } (c.scenario) ". All numbers below hold under it." } }
    }
}

/// Columns of a row: each product, then each difference to the first.
fn columns(c: &Comparison, first: &'static str) -> Vec<(Cow<'static, str>, Kind)> {
    let mut columns: Vec<(Cow<'static, str>, Kind)> = vec![(first.into(), Kind::Name)];
    columns.extend(c.products.iter().map(|p| (p.letter.clone().into(), Kind::Number)));
    let Some(base) = c.products.first() else { return columns };
    columns.extend(c.products.iter().skip(1).map(|p| (format!("{} less {}", p.letter, base.letter).into(), Kind::Number)));
    columns
}

/// A number with the ends of its range beneath; what share of the draws they hold is said once.
fn number(s: &Setting<'_>, figure: Option<&Figure>) -> Markup {
    // a number that every draw gives needs no range
    let range = figure.and_then(|f| f.range.as_ref()).filter(|r| r.low != r.high);
    html! { @if let Some(f) = figure { (s.number_of(f)) @if let Some(range) = range { small.range { (range.text) } } } }
}

/// A difference, which says so where its range does not settle its sign.
fn difference(s: &Setting<'_>, figure: Option<&Figure>) -> Markup {
    let open = figure.and_then(|f| f.range.as_ref()).is_some_and(|r| r.low < 0.0 && r.high > 0.0);
    html! { (number(s, figure)) @if open { small { "either way" } } }
}

fn cells(s: &Setting<'_>, c: &Comparison, name: Markup, row: &ComparedRow) -> Vec<Markup> {
    let at = |list: &[Option<Figure>], n: usize| list.get(n).cloned().flatten();
    let nothing = || html! { "\u{2013}" };
    let mut cells = vec![name];
    cells.extend((0..c.products.len()).map(|n| at(&row.values, n).map_or_else(nothing, |f| number(s, Some(&f)))));
    cells.extend((1..c.products.len()).map(|n| difference(s, at(&row.changes, n).as_ref())));
    cells
}

fn ranged<'a>(mut rows: impl Iterator<Item = &'a ComparedRow>) -> bool {
    rows.any(|r| r.values.iter().chain(&r.changes).flatten().any(|f| f.range.is_some()))
}

fn headlines(s: &Setting<'_>, c: &Comparison) -> Markup {
    if c.headlines.is_empty() {
        return html! {};
    }
    let mut table = Table::of("Headlines side by side", columns(c, "")).class("compared");
    for row in &c.headlines {
        table.row(cells(s, c, text(capital(&row.name)), row));
    }
    html! {
        h3 id="compare-headlines" { "Headlines" }
        (table.html())
        @if ranged(c.headlines.iter()) {
            p.note {
                "Beneath each number the range of its draws" @if !c.how.is_empty() { ": " (c.how) } ". "
                b { "Either way: " } "the range of the difference holds zero, so that the draws do not settle which is more."
            }
        } @else if !c.how.is_empty() { p.note { (c.how) } }
    }
}

fn share(share: f64) -> String {
    match share {
        s if !s.is_finite() => String::new(),
        s if s <= 0.0 => "0".to_owned(),
        s if s < 0.001 => "<0.1 %".to_owned(),
        s if s > 0.999 && s < 1.0 => ">99.9 %".to_owned(),
        s => format!("{:.1} %", s * 100.0),
    }
}

/// `least`, `2nd`, `3rd` and so on.
fn place(n: usize, of: usize) -> String {
    match n {
        0 => "Least".to_owned(),
        n if n + 1 == of => "Most".to_owned(),
        1 => "2nd".to_owned(),
        2 => "3rd".to_owned(),
        n => format!("{}th", n + 1),
    }
}

fn rank(c: &Comparison) -> Markup {
    let Some(rank) = &c.rank else { return html! {} };
    let n = c.products.len();
    let mut columns: Vec<(Cow<'static, str>, Kind)> = vec![("Share of draws".into(), Kind::Name)];
    columns.extend((0..n).map(|k| (place(k, n).into(), Kind::Number)));
    let mut table = Table::of(format!("Share of draws in which each product has each place, by {}", rank.by), columns);
    for (product, places) in c.products.iter().zip(&rank.places) {
        let most = places.iter().copied().fold(0.0, f64::max);
        let cell = |k: usize| {
            let of = places.get(k).copied().unwrap_or(f64::NAN);
            html! { @if of == most && of > 0.0 { b { (share(of)) } } @else { (share(of)) } }
        };
        let mut row = vec![named(product)];
        row.extend((0..n).map(cell));
        table.row(row);
    }
    html! {
        h3 { "How sure the order is, by " (rank.by) }
        (table.html())
        p.note {
            "Share of " (group(&rank.draws.to_string())) " draws" " in which each product \
             has each place. It says how the stated spreads rank them, not how well the studies were made."
        }
    }
}

fn named(p: &Compared) -> Markup {
    html! { b.letter { (p.letter) } " " (p.name) }
}

fn yardstick(s: &Setting<'_>, c: &Comparison, yard: &Yardstick) -> Markup {
    let chart = Grouped {
        title: format!("Cost per unit of {}", yard.name),
        unit: yard.unit.clone(),
        products: c.products.iter().map(|p| (p.letter.clone(), String::new())).collect(),
        groups: vec![Group { label: String::new(), values: yard.costs.values.clone() }],
        most: 0,
    };
    let base = c.products.first().map_or("", |p| p.letter.as_str());
    let columns = vec![
        ("".into(), Kind::Name),
        (capital(&yard.name).into(), Kind::Number),
        ("Cost per unit".into(), Kind::Number),
        (format!("Less {base}").into(), Kind::Number),
        ("Per mass".into(), Kind::Number),
    ];
    let mut table = Table::of(format!("Yardstick: {}", yard.name), columns).class("compared yard");
    for (n, p) in c.products.iter().enumerate() {
        let at = |list: &[Option<Figure>]| list.get(n).cloned().flatten();
        table.row(vec![
            html! { b.letter { (p.letter) } },
            number(s, at(&yard.values).as_ref()),
            number(s, at(&yard.costs.values).as_ref()),
            difference(s, at(&yard.costs.changes).as_ref()),
            number(s, at(&yard.per_mass).as_ref()),
        ]);
    }
    html! {
        div.unsplit {
            h4.yard { (capital(&yard.name)) }
            @if yard.is_said_alike() {
                @if let Some(says) = yard.qualifiers.first().filter(|q| !q.is_empty()) { p.note { "All studies say: " (says) "." } }
            } @else {
                p.warn {
                    b { "Not said alike. " }
                    "What is divided by is not the same thing in every study, so that the costs below are not like for like. "
                    @for (n, (p, says)) in c.products.iter().zip(&yard.qualifiers).enumerate() {
                        @if n > 0 { "; " }
                        b { (p.letter) ": " } @if says.is_empty() { "says nothing" } @else { (says) }
                    }
                    "."
                }
            }
            div.beside.yards { (s.chart_untitled(&chart, Size::Half)) (table.html()) }
        }
    }
}

fn unknown_words(c: &Comparison) -> Markup {
    let rows = c.cuts.iter().flat_map(|cut| &cut.rows);
    let words: BTreeSet<&str> = rows.filter(|r| r.unmapped).map(|r| r.name.as_str()).collect();
    html! {
        @if !words.is_empty() {
            p.note.spaced {
                b { "Words not on the list of functions: " }
                (words.into_iter().collect::<Vec<_>>().join(", "))
                ". They stand in rows of their own; another study may say the same thing in another word, and a difference is then one of \
                 words."
            }
        }
    }
}

fn one_cut(s: &Setting<'_>, c: &Comparison, cut: &Cut) -> Markup {
    let mut table = Table::of(cut.title.clone(), columns(c, "")).class("compared").first(FIRST);
    for row in &cut.rows {
        let name = html! { (row.name) @if row.unmapped { small { "not on the list of functions" } } };
        table.row(cells(s, c, name, row));
    }
    let bars = |r: &ComparedRow| Group { label: r.name.clone(), values: r.values.clone() };
    let chart = |title: String, rows: &[ComparedRow], key: bool| Grouped {
        title,
        unit: cut.unit.clone(),
        products: c.products.iter().map(|p| (p.letter.clone(), if key { p.name.clone() } else { String::new() })).collect(),
        groups: rows.iter().map(bars).collect(),
        most: DRAWN,
    };
    let (head, rest) = apart(&cut.rows);
    html! {
        h3 { (cut.title) }
        @if !cut.note.is_empty() { p.note { (cut.note) } }
        @if cut.drawn {
            @match head {
                Some(head) => {
                    (s.chart(&chart(format!("{}: {}", cut.title, head.name), std::slice::from_ref(head), true), Size::Full))
                    (s.chart(&chart(format!("{}: all else, on a scale of its own", cut.title), rest, false), Size::Full))
                },
                None => { (s.chart_untitled(&chart(cut.title.clone(), rest, true), Size::Full)) },
            }
        }
        (table.or_words("No product has anything of this."))
    }
}

/// How many times the second row the first has to be, so that it is drawn apart.
const DWARFS: f64 = 4.0;

/// A first row beside which the others would hardly be seen, and the others.
fn apart(rows: &[ComparedRow]) -> (Option<&ComparedRow>, &[ComparedRow]) {
    let size = |r: &ComparedRow| r.values.iter().flatten().map(|f| f.number.abs()).filter(|n| n.is_finite()).fold(0.0, f64::max);
    match rows {
        [first, rest @ ..] if rest.len() > 1 && size(first) > DWARFS * rest.iter().map(size).fold(0.0, f64::max) => {
            (Some(first), rest)
        }
        rows => (None, rows),
    }
}

fn one_walk(s: &Setting<'_>, walk: &Walk) -> Markup {
    let full = Waterfall { title: walk.title.clone(), unit: walk.unit.clone(), steps: walk.steps.clone(), near: true };
    html! {
        (s.chart(&full.clone().shortened(DRAWN), Size::Full))
        @for (label, sum, stated) in full.open_totals() {
            p.note { "The steps before \u{201c}" (label) "\u{201d} add up to " (format!("{sum:.4}")) ", the total states " (format!("{stated:.4}")) "." }
        }
        @if !walk.note.is_empty() { p.note { (walk.note) } }
    }
}

fn best(s: &Setting<'_>, c: &Comparison) -> Markup {
    let Some(best) = &c.best else { return html! {} };
    let mut columns: Vec<(Cow<'static, str>, Kind)> = vec![("Functions".into(), Kind::Name)];
    columns.extend(c.products.iter().map(|p| (p.letter.clone().into(), Kind::Number)));
    columns.push(("Cheapest".into(), Kind::Word));
    let mut table = Table::of("The cheapest of each group of functions", columns);
    for group in &best.picked {
        let mut cells =
            vec![html! { (group.functions.join(", ")) @if !group.says.is_empty() { small { "together: " (group.says) } } }];
        for (n, p) in c.products.iter().enumerate() {
            let Some(cost) = group.costs.get(n).and_then(Option::as_ref) else {
                cells.push(html! { "\u{2013}" });
                continue;
            };
            cells.push(html! { @if p.letter == group.from { b { (s.number_of(cost)) } } @else { (s.number_of(cost)) } });
        }
        cells.push(html! { b { (group.from) } });
        table.row(cells);
    }
    html! {
        h3 id="compare-best" { "Best of each" }
        dl.totals {
            div { dt { "Sum of the cheapest of each group" } dd { (s.figure(&best.total)) } }
        }
        p.note {
            "A number to think with, not a design: it says how far the products lie apart function by function. Nobody has shown that \
             these parts fit one another, and what protects people has to be judged as a whole, by qualified people. A function that a \
             product does not have costs nothing in it."
        }
        (table.html())
    }
}
