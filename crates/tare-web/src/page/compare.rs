//! Products side by side: what totals do not hold alike first, then numbers.

use super::layout::Frame;
use super::small::{Span, between, minus, signed};
use super::{Page, of_study};
use crate::answer::Wrong;
use crate::api::across::{self, Pairs};
use crate::api::encoded;
use crate::state::State;
use maud::{Markup, html};
use std::sync::Arc;
use tare_app::Figure;
use tare_app::compare::{MOST, go_together};
use tare_app::live::{Comparison, StudyFor};
use tare_app::view::{CompareRow, CompareView, CutRows, ProductWalk, RangeRow, YardRow};

/// Studies compared where nobody has chosen: so many fit on a page.
const UNASKED: usize = 4;
/// Rows of a cut that are shown before the rest is folded away.
const ROWS: usize = 12;

/// What is asked for.
struct Asked<'a> {
    pairs: &'a Pairs,
    /// Where the form leads.
    action: String,
    /// The study it is asked from, which comes first.
    first: Option<&'a str>,
}

impl Asked<'_> {
    fn all(&self, name: &str) -> impl Iterator<Item = &str> {
        self.pairs.iter().filter(move |(known, text)| known == name && !text.is_empty()).map(|(_, text)| text.as_str())
    }

    fn one(&self, name: &str) -> Option<&str> {
        self.all(name).next()
    }

    /// The same page with another value of a name.
    fn with(&self, names: &[String], name: &str, value: &str) -> String {
        let studies = names.iter().map(|study| format!("with={}", encoded(study)));
        let rest = ["on", "by"]
            .into_iter()
            .filter(|known| *known != name)
            .filter_map(|known| Some(format!("{known}={}", encoded(self.one(known)?))));
        let own = std::iter::once(format!("{name}={}", encoded(value)));
        format!("{}?{}", self.action, studies.chain(rest).chain(own).collect::<Vec<_>>().join("&"))
    }
}

pub(super) fn of_a_study(p: &Page<'_>) -> Result<Frame, Wrong> {
    let asked = Asked { pairs: p.pairs, action: p.at("compare"), first: Some(&p.study.name) };
    let mut frame = Frame::new("compare", "Compare", body(p.state, &asked)?);
    (frame.styles, frame.modules) = (&["ideas.css", "across.css"], &["waits.js"]);
    Ok(frame)
}

pub(super) fn of_all(state: &State, pairs: &Pairs) -> Result<Markup, Wrong> {
    body(state, &Asked { pairs, action: "/compare".to_owned(), first: None })
}

fn body(state: &State, asked: &Asked<'_>) -> Result<Markup, Wrong> {
    if state.only.is_some() {
        return Ok(html! {
            h1 { "Compare" }
            p.none { "These pages show one study. Studies are compared where all of them are shown." }
        });
    }
    let studies = state.live.studies_for()?;
    let names = chosen(&studies, asked);
    Ok(html! {
        h1 { "Compare" }
        p.lead { "Products side by side under one scenario: same volume, life, money and rates, same draws. The first one gives the scenario." }
        (choose(&studies, &names, asked))
        @if names.len() >= 2 { (found(state, &names, asked)?) }
        @else if studies.len() < 2 { p.none { "The workspace holds one study so far; a comparison takes two." } }
        @else { p.none { "Choose two studies or more." } }
    })
}

/// The studies meant, the one that gives the scenario first. Where none is chosen and there are few, all that go with the first.
fn chosen(studies: &[StudyFor], asked: &Asked<'_>) -> Vec<String> {
    let known = |name: &str| studies.iter().any(|study| study.info.name == name);
    let mut names: Vec<String> = asked.all("with").filter(|name| known(name)).map(str::to_owned).collect();
    if names.is_empty() {
        let first = asked.first.and_then(|name| studies.iter().find(|s| s.info.name == name)).or(studies.first());
        let Some(first) = first else { return names };
        let beside =
            studies.iter().filter(|s| s.info.id != first.info.id && go_together(first.client.as_deref(), s.client.as_deref()));
        let beside: Vec<String> = beside.map(|s| s.info.name.clone()).collect();
        let clients =
            studies.iter().filter_map(|s| s.client.as_deref()).map(str::to_lowercase).collect::<std::collections::BTreeSet<_>>();
        // which client is meant is not guessed
        if beside.len() < UNASKED && (first.client.is_some() || clients.len() < 2) {
            names.push(first.info.name.clone());
            names.extend(beside);
        }
    }
    if let Some(first) = asked.one("a").or(asked.first.filter(|_| asked.one("a").is_none() && asked.one("with").is_none()))
        && known(first)
    {
        names.retain(|name| name != first);
        names.insert(0, first.to_owned());
    }
    let mut once: Vec<String> = Vec::new();
    for name in names {
        if !once.contains(&name) {
            once.push(name);
        }
    }
    once
}

fn choose(studies: &[StudyFor], names: &[String], asked: &Asked<'_>) -> Markup {
    let first = names.first().map(String::as_str).or(asked.first);
    let many_clients = studies.iter().any(|study| study.client.is_some());
    html! {
        details.group.choose open[names.len() < 2] {
            summary { "Studies compared" small { " " (names.len()) " of " (studies.len()) } }
            form method="get" action=(asked.action) {
                p.note { "Studies of one client go with each other and with the house\u{2019}s own; those of different clients are not brought together. At most " (MOST) " at once." }
                div.scroll tabindex="0" role="region" aria-label="Studies" { table.grid.slim {
                    thead { tr { th scope="col" { "Study" } @if many_clients { th scope="col" { "Client" } } th scope="col" { "Compared" } th scope="col" { "Gives the scenario" } } }
                    tbody { @for study in studies { @let name = study.info.name.as_str(); tr {
                        th scope="row" dir="auto" { (name) }
                        @if many_clients { td dir="auto" { @match &study.client { Some(client) => { (client) }, None => "the house\u{2019}s own" } } }
                        td { input type="checkbox" name="with" value=(name) checked[names.iter().any(|n| n == name)] aria-label={ "compare " (name) }; }
                        td { input type="radio" name="a" value=(name) checked[first == Some(name)] aria-label={ (name) " gives the scenario" }; }
                    } } }
                } }
                p.actions { button.main type="submit" data-test="compare-go" { "Compare" } }
            }
        }
    }
}

fn found(state: &State, names: &[String], asked: &Asked<'_>) -> Result<Markup, Wrong> {
    let known = across::compare(state, names, asked.one("on"))?;
    Ok(html! {
        @if known.computing {
            p.note.waits data-waits="compare" role="status" {
                @if known.last.is_some() { "Numbers below are of earlier entries; the last ones are being computed and appear by themselves." }
                @else { "The products are being computed under one scenario; they appear by themselves." }
            }
        }
        @match &known.last {
            Some((_, Ok(found))) => { (comparison(found, names, asked)) },
            Some((_, Err(problems))) if !known.computing => {
                div.wrong role="alert" { @for problem in problems { p { (problem.message) } @for hint in &problem.hints { p { small { (hint) } } } } }
            },
            _ => {},
        }
    })
}

fn comparison(found: &Arc<Comparison>, names: &[String], asked: &Asked<'_>) -> Markup {
    let view = &found.view;
    html! {
        @if view.products.iter().any(|product| product.illustrative) { p.invented role="note" { strong { "Invented or illustrative data." } " Rates or records of a study here are made up for illustration." } }
        (products(view))
        (boundary(view))
        section { h2 { "Totals" }
            (rows(found, &view.headlines, "Totals", false))
            p.note { "Under each number of B and those after it: its difference to A, with the range that holds 95 % of " (super::small::whole(view.draws as f64)) " draws. What products share (rates, prices, methods) moves together, so that a difference is surer than its ends." }
        }
        (yards(found, names, asked))
        (rank(view))
        (cuts(found, names, asked))
        @for walk in &view.walks { (walk_of(view, walk)) }
        (best(found))
    }
}

fn products(view: &CompareView) -> Markup {
    html! { section.products {
        ol.plain.letters { @for product in &view.products { li {
            b.letter { (product.letter) } " "
            a href=(of_study(&product.study)) dir="auto" { (product.study) }
            small dir="auto" { (product.product) @if let Some(own) = &product.own { "; under its own scenario " (own.text) } }
            @for problem in &product.problems { p.wrong { (problem) } }
        } } }
        p.note { "Scenario of A: " (view.scenario) }
    } }
}

fn boundary(view: &CompareView) -> Markup {
    html! { section.hazards.limits aria-labelledby="limits" {
        h2 id="limits" { "Before any number: what the totals do not hold alike" }
        @if view.boundary.is_empty() { p { "The registers say the same of every topic." } }
        @else {
            div.scroll tabindex="0" role="region" aria-label="What the totals do not hold alike" { table.grid.slim {
                thead { tr { th scope="col" { "Topic" } @for product in &view.products { th scope="col" { (product.letter) } } } }
                tbody { @for row in &view.boundary { tr {
                    th scope="row" dir="auto" { (row.topic) }
                    @for state in &row.states { td.k-word { @if state.is_empty() { "not named" } @else { (state) } } }
                } } }
            } }
        }
    } }
}

/// A number, with a way to its reason where the study itself says so.
fn figure(found: &Comparison, figure: &Figure) -> Markup {
    match found.reasons.get(&figure.address) {
        Some((study, line)) => html! { a.n href={ (of_study(study)) "/reason?line=" (encoded(line)) } { (minus(&figure.text)) } },
        None => html! { (minus(&figure.text)) },
    }
}

fn signed_figure(figure: &Figure) -> String {
    format!("{}{}", if figure.value > 0.0 { "+" } else { "" }, minus(&figure.text))
}

fn ends(row: Option<&RangeRow>) -> Markup {
    html! { @if let Some(text) = row.and_then(|row| between(&row.low, &row.high)) { small { (text) } } }
}

/// Rows with the products in columns; under each but the first its difference.
fn rows(found: &Comparison, rows: &[CompareRow], title: &str, drawn: bool) -> Markup {
    let view = &found.view;
    let span = Span::of(rows.iter().flat_map(|row| row.figures.iter().flatten().map(|f| f.value)));
    let line = |row: &CompareRow| {
        html! { tr {
            th scope="row" dir="auto" { (row.name) @if row.unmapped { small { "not on the list of functions" } } }
            @for (at, product) in view.products.iter().enumerate() {
                td.k-num data-h=(product.letter) {
                    @match &row.figures[at] { Some(f) => {
                        @if drawn { span.drawn { (span.bar(f.value, row.ranges[at].as_ref().map(|r| r.ends))) (figure(found, f)) } }
                        @else { (figure(found, f)) }
                    }, None => "\u{2013}" }
                    @if at == 0 { @if !drawn { (ends(row.ranges[0].as_ref())) } }
                    @else if let Some(change) = &row.changes[at] {
                        small.change { (signed_figure(change)) @if let Some(text) = row.change_ranges[at].as_ref().and_then(|r| between(&r.low, &r.high)) { " (" (text) ")" } }
                    }
                }
            }
        } }
    };
    html! {
        div.scroll tabindex="0" role="region" aria-label=(title) { table.grid.cards.products-table {
            thead { tr { th scope="col" { span.hidden { "What" } } @for product in &view.products { th.k-num scope="col" { (product.letter) } } } }
            tbody { @for row in rows.iter().take(ROWS) { (line(row)) } }
        } }
        @if rows.len() > ROWS {
            details.behind { summary { (rows.len() - ROWS) " more rows" }
                div.scroll tabindex="0" role="region" aria-label={ (title) ", more" } { table.grid.cards.products-table {
                    thead { tr { th scope="col" { span.hidden { "What" } } @for product in &view.products { th.k-num scope="col" { (product.letter) } } } }
                    tbody { @for row in &rows[ROWS..] { (line(row)) } }
                } }
            }
        }
    }
}

fn yards(found: &Comparison, names: &[String], asked: &Asked<'_>) -> Markup {
    let view = &found.view;
    html! {
        @if !view.yards.is_empty() { section { h2 { "Per yardstick" }
            @for yard in &view.yards { (yard_of(found, yard, names, asked)) }
        } }
    }
}

fn yard_of(found: &Comparison, yard: &YardRow, names: &[String], asked: &Asked<'_>) -> Markup {
    let view = &found.view;
    let span = Span::of(
        yard.costs.ranges.iter().flatten().map(|r| r.ends.1).chain(yard.costs.figures.iter().flatten().map(|f| f.value)),
    );
    html! {
        div.yard {
            h3 dir="auto" { (yard.name) " " small { a href=(asked.with(names, "on", &yard.name)) { "rank by it" } } }
            @if yard.alike { p.note dir="auto" { "What it means in each: " (yard.qualifiers.first().map_or("", String::as_str)) } }
            @else {
                div.wrong role="note" { strong { "Not said alike: the numbers may not be of the same thing." }
                    ul.plain { @for (product, says) in view.products.iter().zip(&yard.qualifiers) { li dir="auto" { b { (product.letter) } " " @if says.is_empty() { "says nothing" } @else { (says) } } } }
                }
            }
            div.scroll tabindex="0" role="region" aria-label={ "Cost per unit of " (yard.name) } { table.grid.slim {
                thead { tr { th scope="col" { "Product" } th.k-num scope="col" { "Amount" } th.k-num scope="col" { "Cost per unit" } th.k-bar scope="col" { "With its range" } @if !yard.per_mass.is_empty() { th.k-num scope="col" { "Per mass" } } } }
                tbody { @for (at, product) in view.products.iter().enumerate() { tr {
                    th scope="row" { b { (product.letter) } }
                    td.k-num { @match yard.values.get(at).and_then(Option::as_ref) { Some(f) => { (figure(found, f)) }, None => "\u{2013}" } }
                    td.k-num { @match yard.costs.figures.get(at).and_then(Option::as_ref) { Some(f) => { (minus(&f.text)) }, None => "\u{2013}" } (ends(yard.costs.ranges.get(at).and_then(Option::as_ref))) }
                    td.k-bar { @if let Some(f) = yard.costs.figures.get(at).and_then(Option::as_ref) { (span.bar(f.value, yard.costs.ranges[at].as_ref().map(|r| r.ends))) } }
                    @if !yard.per_mass.is_empty() { td.k-num { @match yard.per_mass.get(at).and_then(Option::as_ref) { Some(f) => { (minus(&f.text)) }, None => "\u{2013}" } } }
                } } }
            } }
        }
    }
}

fn rank(view: &CompareView) -> Markup {
    let Some(rank) = &view.rank else { return html! {} };
    const PLACES: [&str; 4] = ["least", "second", "third", "fourth"];
    let place = |at: usize| PLACES.get(at).map_or_else(|| format!("{}th", at + 1), |word| (*word).to_owned());
    html! { section { h2 { "How sure the order is" }
        p.note { "By " (rank.by) ": share of " (super::small::whole(rank.draws as f64)) " draws in which each product has each place." }
        div.scroll tabindex="0" role="region" aria-label="Order" { table.grid.slim {
            thead { tr { th scope="col" { "Product" } @for at in 0..view.products.len() { th.k-num scope="col" { (place(at)) } } } }
            tbody { @for (product, places) in view.products.iter().zip(&rank.places) { tr {
                th scope="row" { b { (product.letter) } " " span dir="auto" { (product.study) } }
                @for share in places { td.k-num.share { (super::desk::percent(*share)) (Span::of([0.0, 1.0]).bar(*share, None)) } }
            } } }
        } }
    } }
}

fn cuts(found: &Comparison, names: &[String], asked: &Asked<'_>) -> Markup {
    let view = &found.view;
    let by = asked.one("by").unwrap_or("cost by function");
    let Some(cut) = view.cuts.iter().find(|cut| cut.cut == by).or(view.cuts.first()) else { return html! {} };
    html! { section id="by" { h2 { (capital(&cut.cut)) }
        nav.kinds aria-label="Cuts" { @for other in &view.cuts {
            a href={ (asked.with(names, "by", &other.cut)) "#by" } aria-current=[(other.cut == cut.cut).then_some("true")] { (other.cut) }
        } }
        (rows(found, &cut.rows, &capital(&cut.cut), true))
        (unmapped(cut))
    } }
}

fn unmapped(cut: &CutRows) -> Markup {
    let words: Vec<&str> = cut.rows.iter().filter(|row| row.unmapped).map(|row| row.name.as_str()).collect();
    html! { @if !words.is_empty() {
        p.caution dir="auto" { strong { "Not on the list of functions: " } (words.join(", ")) ". They stand in rows of their own and may hide in another product under another word; say them in a common word at the part." }
    } }
}

fn walk_of(view: &CompareView, walk: &ProductWalk) -> Markup {
    let (shown, rest) = walk.steps.split_at(walk.steps.len().min(ROWS));
    let sum: f64 = rest.iter().map(|(_, f)| f.value).sum();
    let span = Span::of(shown.iter().map(|(_, f)| f.value).chain([sum]));
    let title = format!("From {} to {} by function", walk.between[0], walk.between[1]);
    html! { section { h2 { (title) }
        div.scroll tabindex="0" role="region" aria-label=(title) { table.grid.slim.lines {
            thead { tr { th scope="col" { "Step" } th.k-num scope="col" { "Change" } th.k-bar scope="col" { span.hidden { "Drawn" } } } }
            tbody {
                tr.total { th scope="row" { "should-cost of " (walk.between[0]) } td.k-num { (minus(&walk.start.text)) } td {} }
                @for (name, figure) in shown { tr { th scope="row" dir="auto" { (name) } td.k-num { (signed_figure(figure)) } td.k-bar { (span.bar(figure.value, None)) } } }
                @if !rest.is_empty() { tr { th scope="row" { (rest.len()) " smaller steps" } td.k-num { (signed(sum, 2)) " " (view.currency) } td.k-bar { (span.bar(sum, None)) } } }
                tr.total { th scope="row" { "should-cost of " (walk.between[1]) } td.k-num { (minus(&walk.end.text)) } td {} }
            }
        } }
    } }
}

fn best(found: &Comparison) -> Markup {
    let Some(best) = &found.view.best else { return html! {} };
    html! { section { h2 { "Best of each" }
        p { "Together " b { (best.total.stated.text) } " (" (range_of(&best.total)) "): what the best of each would come to if every interface could be met. " strong { "Not a design." } }
        div.scroll tabindex="0" role="region" aria-label="Best of each" { table.grid.cards {
            thead { tr { th scope="col" { "Functions that come from one product" } th scope="col" { "From" } @for product in &found.view.products { th.k-num scope="col" { (product.letter) } } } }
            tbody { @for row in &best.picked { tr {
                th scope="row" dir="auto" { (row.functions.join(", ")) @if !row.says.is_empty() { small { (row.says) } } }
                td.k-word data-h="From" { b { (row.from) } }
                @for (product, cost) in found.view.products.iter().zip(&row.costs) { td.k-num data-h=(product.letter) { @match cost { Some(f) => { (minus(&f.text)) }, None => "\u{2013}" } } }
            } } }
        } }
    } }
}

fn range_of(row: &RangeRow) -> String {
    between(&row.low, &row.high).unwrap_or_else(|| minus(&row.low))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
