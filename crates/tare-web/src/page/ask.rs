//! Questions to all studies at once.

use super::layout::Frame;
use super::small::ticks;
use super::{Page, of_study};
use crate::answer::Wrong;
use crate::api::across::{self, Pairs, Question};
use crate::api::encoded;
use crate::state::State;
use maud::{Markup, html};
use tare_app::collection::{self, Answer, AnswerRow, Asked, PartOf};
use tare_app::show_number;
use tare_diag::{Diag, Place};

/// Kinds of rows, with the words of a person.
const ROWS: [(&str, &str); 8] = [
    ("part", "parts"),
    ("joint", "joints"),
    ("feature", "features"),
    ("operation", "operations"),
    ("finding", "findings"),
    ("hold", "holds"),
    ("removal", "removals"),
    ("study", "studies as a whole"),
];
/// Rows of an answer that are shown.
const SHOWN: usize = 500;
/// Points that bear their study's letter; more would cover one another.
const LETTERED: usize = 60;
/// Points drawn.
const POINTS: usize = 2_000;
/// The drawing: width, height, and what is left free left, right, above, below.
const PLOT: [f64; 6] = [640.0, 320.0, 74.0, 16.0, 14.0, 44.0];

pub(super) fn of_a_study(p: &Page<'_>) -> Result<Frame, Wrong> {
    let mut frame = Frame::new("ask", "Ask", body(p.state, p.pairs, &p.at("ask"))?);
    (frame.styles, frame.modules) = (&["ideas.css", "across.css"], &["waits.js", "ask.js"]);
    Ok(frame)
}

pub(super) fn of_all(state: &State, pairs: &Pairs) -> Result<Markup, Wrong> {
    body(state, pairs, "/ask")
}

fn body(state: &State, pairs: &Pairs, action: &str) -> Result<Markup, Wrong> {
    let one =
        |name: &str| pairs.iter().find(|(known, text)| known == name && !text.trim().is_empty()).map(|(_, text)| text.clone());
    let (saved, wrong) = state.live.questions(state.only.is_none());
    let chosen = one("q").and_then(|key| saved.iter().find(|question| question.key == key));
    let asked = one("rows").is_some() || chosen.is_some();
    let lines = |text: String| text.lines().map(str::to_owned).collect::<Vec<String>>();
    let question = match chosen {
        Some(known) if one("rows").is_none() => Question {
            rows: known.rows.clone(),
            when: if known.when == "true" { String::new() } else { known.when.clone() },
            show: known.show.clone(),
            title: known.title.clone(),
            client: one("client"),
            under: one("under"),
            ..Question::default()
        },
        _ => Question {
            rows: one("rows").unwrap_or_else(|| "part".to_owned()),
            when: one("when").unwrap_or_default(),
            show: one("show").map(lines).unwrap_or_default(),
            client: one("client"),
            under: one("under"),
            ..Question::default()
        },
    };
    let outcome = if asked { Some(outcome(state, &question)?) } else { None };
    let wrongs: &[(PartOf, Diag)] = match &outcome {
        Some(Outcome::Wrong(wrong)) => wrong,
        _ => &[],
    };
    Ok(html! {
        h1 { "Ask" }
        p.lead { "Questions to all studies at once: which parts, joints, operations are like this, and what of them." }
        @if state.only.is_some() { p.note { "These pages show one study: questions are put to it alone." } }
        @if !saved.is_empty() { section.saved { h2 { "Saved questions" } ul.plain { @for known in &saved {
            li { a href={ (action) "?q=" (encoded(&known.key)) } aria-current=[chosen.is_some_and(|c| c.key == known.key).then_some("true")] dir="auto" { (known.title) } " " small { (known.key) } }
        } } } }
        @for problem in &wrong { p.note { (problem.message) } }
        (form(state, &question, action, wrongs)?)
        @match &outcome {
            None => {},
            Some(Outcome::Waits) => { p.note.waits data-waits="ask" role="status" { "The studies are being read; the answer appears by itself." } },
            Some(Outcome::Wrong(wrong)) => { @for (_, problem) in wrong.iter().filter(|(part, _)| *part == PartOf::Whole) { div.wrong role="alert" { (problem_of(problem, "")) } } },
            Some(Outcome::Answer(answer)) => { (answer_of(state, &question, answer)) (save(state, &question)) },
        }
    })
}

enum Outcome {
    Waits,
    Wrong(Vec<(PartOf, Diag)>),
    Answer(Answer),
}

fn outcome(state: &State, question: &Question) -> Result<Outcome, Wrong> {
    let known = match across::gathered(state, question) {
        Ok(known) => known,
        Err(wrong) => return Ok(Outcome::Wrong(wrong.problems().iter().map(|d| (PartOf::Whole, d.clone())).collect())),
    };
    if known.computing {
        return Ok(Outcome::Waits);
    }
    let asked: Asked = question.asked();
    Ok(match known.last {
        None => Outcome::Waits,
        Some((_, Ok(found))) => match collection::ask_at(&found.collection, &found.schema, &asked) {
            Ok(answer) => Outcome::Answer(answer),
            Err(wrong) => Outcome::Wrong(wrong),
        },
        Some((_, Err(problems))) => Outcome::Wrong(problems.into_iter().map(|problem| (PartOf::Whole, problem)).collect()),
    })
}

fn form(state: &State, question: &Question, action: &str, wrongs: &[(PartOf, Diag)]) -> Result<Markup, Wrong> {
    let (clients, names) = if state.only.is_some() {
        (Vec::new(), Vec::new())
    } else {
        let studies = state.live.studies_for()?;
        let mut clients: Vec<String> = Vec::new();
        for client in studies.iter().filter_map(|study| study.client.as_ref()) {
            if clients.iter().all(|known| known.to_lowercase() != client.to_lowercase()) {
                clients.push(client.clone());
            }
        }
        (clients, studies.into_iter().map(|study| study.info.name).collect())
    };
    let of = |wanted: PartOf| wrongs.iter().filter(move |(part, _)| *part == wanted).map(|(_, problem)| problem);
    let shown: Vec<(usize, &String)> = question.show.iter().filter(|text| !text.trim().is_empty()).enumerate().collect();
    let bad = |part: PartOf| of(part).next().is_some();
    let show_bad = wrongs.iter().any(|(part, _)| matches!(part, PartOf::Show(_)));
    Ok(html! {
        form.ask id="ask" method="get" action=(action) {
            h2 { "Question" }
            div.row { label for="q-rows" { "Which" } div { select id="q-rows" name="rows" { @for (word, says) in ROWS { option value=(word) selected[question.rows == word] { (says) } } } @for problem in of(PartOf::Rows) { (problem_of(problem, &question.rows)) } } }
            div.row { label for="q-when" { "Condition" } div {
                textarea id="q-when" name="when" rows="2" spellcheck="false" autocomplete="off" aria-invalid=[bad(PartOf::When).then_some("true")] placeholder="has(name, 'cover') and length * width > 1 [m^2]" { (question.when) }
                @for problem in of(PartOf::When) { (problem_of(problem, &question.asked().when)) }
            } }
            div.row { label for="q-show" { "Show, one formula on each line" } div {
                textarea id="q-show" name="show" rows=((question.show.len() + 1).clamp(3, 9)) spellcheck="false" autocomplete="off" aria-invalid=[show_bad.then_some("true")] placeholder="cost / (length * width) in EUR/m^2" { (question.show.join("\n")) }
                @for (at, text) in shown { @for problem in of(PartOf::Show(at)) { (problem_of(problem, text)) } }
            } }
            @if clients.len() > 1 || question.client.is_some() { div.row { label for="q-client" { "Client" } select id="q-client" name="client" { option value="" { "choose one" } @for client in &clients { option value=(client) selected[question.client.as_deref() == Some(client)] { (client) } } } } }
            @if names.len() > 1 { div.row { label for="q-under" { "Computed under the scenario of" } select id="q-under" name="under" { option value="" { "each its own" } @for name in &names { option value=(name) selected[question.under.as_deref() == Some(name)] { (name) } } } } }
            p.note { "Conditions and formulas are written as in calculations: texts in single quotes, numbers with their unit in brackets, " code { "and" } ", " code { "or" } ", " code { "not" } ", " code { "any" } ", " code { "all" } ", " code { "count" } ", " code { "sum" } " over relations such as " code { "joints.method" } ", and " code { "has(text, 'piece')" } ". A unit to show a formula in stands behind " code { "in" } ". What is not known is no hit." }
            p.actions { button.main type="submit" data-test="ask-go" { "Ask" } }
        }
    })
}

/// A problem with the piece of the text it is about.
fn problem_of(problem: &Diag, text: &str) -> Markup {
    let span = problem.place.as_ref().and_then(|place| match place {
        Place::Span { span, .. } => Some(span.clone()),
        _ => None,
    });
    // spans point into the formula, which begins the line
    let pieces = span.and_then(|span| Some((text.get(..span.start)?, text.get(span.start..span.end)?, text.get(span.end..)?)));
    html! { div.said data-test="ask-said" {
        (problem.message)
        @if let Some((before, at, after)) = pieces.filter(|(_, at, _)| !at.is_empty()) { code.at { (before) mark { (at) } (after) } }
        @for hint in &problem.hints { small { (hint) } }
    } }
}

/// Where a row leads: a part to its page, what stands at an item to that item's, all else to the list it stands in.
fn link(question: &Question, row: &AnswerRow) -> Option<String> {
    let base = of_study(&row.study);
    match question.rows.as_str() {
        "study" => Some(base),
        "part" => Some(format!("{base}/part?of={}", encoded(&row.address))),
        "feature" | "operation" => {
            let item = row.address.strip_prefix("item ")?.split('/').next()?;
            Some(format!("{base}/part?of={}", encoded(item)))
        }
        "joint" => Some(format!("{base}/joints")),
        "finding" => Some(format!("{base}/findings")),
        "hold" => Some(format!("{base}/holds")),
        _ => None,
    }
}

fn answer_of(state: &State, question: &Question, answer: &Answer) -> Markup {
    let mut studies: Vec<&str> = Vec::new();
    for row in &answer.rows {
        if !studies.contains(&row.study.as_str()) {
            studies.push(&row.study);
        }
    }
    let many = studies.len() > 1;
    let letter =
        |study: &str| studies.iter().position(|known| *known == study).map(tare_app::compare::letter).unwrap_or_default();
    let number =
        |value: &Option<f64>| value.map_or_else(|| "\u{2013}".to_owned(), |value| show_number(value, 4).replace('-', "\u{2212}"));
    let unit = |unit: &str| if unit == "1" { String::new() } else { unit.to_owned() };
    html! { section.answer data-test="answer" {
        h2 { @if question.title.is_empty() { "Answer" } @else { (question.title) } small { " " (answer.rows.len()) @if answer.rows.len() == 1 { " hit" } @else { " hits" } " in " (answer.studies) @if answer.studies == 1 { " study" } @else { " studies" } } }
        @if answer.apart > 0 && state.only.is_none() { p.note { (answer.apart) " of other clients left out." } }
        @if answer.rows.is_empty() { p.none { "Nothing is like that, or what would tell is not known." } }
        @if answer.columns.len() >= 2 && question.rows != "study" || answer.columns.len() >= 2 && answer.rows.len() > 2 { (scatter(answer, &studies)) }
        @if !answer.rows.is_empty() {
            div.scroll tabindex="0" role="region" aria-label="Answer" { table.grid.cards {
                thead { tr {
                    th scope="col" { @if question.rows == "study" { "Study" } @else { "What" } }
                    @if many && question.rows != "study" { th scope="col" { "Study" } }
                    @for (text, of) in &answer.columns { th.k-num scope="col" { (text) @if of != "1" { br; small { (of) } } } }
                } }
                tbody { @for row in answer.rows.iter().take(SHOWN) { tr {
                    th scope="row" dir="auto" {
                        @let shown = if row.name.is_empty() || question.rows == "study" { row.study.clone() } else { row.name.clone() };
                        @match link(question, row) { Some(href) => { a href=(href) { (shown) } }, None => { (shown) } }
                        @if question.rows != "study" { small { (row.address) } }
                    }
                    @if many && question.rows != "study" { td.k-text dir="auto" { b { (letter(&row.study)) } " " (row.study) } }
                    @for (at, (text, of)) in answer.columns.iter().enumerate() { td.k-num data-h=(text) { (number(row.values.get(at).unwrap_or(&None))) span.narrow-unit { " " (unit(of)) } } }
                } } }
            } }
            @if answer.rows.len() > SHOWN { p.note { "and " (answer.rows.len() - SHOWN) " more: ask more closely to see them." } }
        }
    } }
}

/// The first two numbers of each row against one another.
fn scatter(answer: &Answer, studies: &[&str]) -> Markup {
    let points: Vec<(&AnswerRow, f64, f64)> = answer
        .rows
        .iter()
        .filter_map(|row| Some((row, row.values.first().copied().flatten()?, row.values.get(1).copied().flatten()?)))
        .take(POINTS)
        .collect();
    if points.len() < 2 {
        return html! {};
    }
    let [width, height, left, right, above, below] = PLOT;
    let scale = |numbers: &mut dyn Iterator<Item = f64>| {
        let (low, high) = numbers.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), n| (low.min(n), high.max(n)));
        // from nothing, unless that would press all points into a corner
        let low = if low > 0.0 && low > (high - low) * 3.0 { low - (high - low) * 0.15 } else { low.min(0.0) };
        let room = ((high - low) * 0.06).max(high.abs() * 1e-6).max(f64::MIN_POSITIVE);
        (low, high + room)
    };
    let (x_low, x_high) = scale(&mut points.iter().map(|(_, x, _)| *x));
    let (y_low, y_high) = scale(&mut points.iter().map(|(_, _, y)| *y));
    let x = |value: f64| left + (value - x_low) / (x_high - x_low) * (width - left - right);
    let y = |value: f64| height - below - (value - y_low) / (y_high - y_low) * (height - above - below);
    let tenth = |number: f64| format!("{number:.1}");
    let axis = |at: usize| {
        let (text, unit) = &answer.columns[at];
        if unit == "1" { text.clone() } else { format!("{text}, {unit}") }
    };
    let said = format!("{} over {}, {} points; the table below has the numbers", axis(1), axis(0), points.len());
    let lettered = studies.len() > 1 && points.len() <= LETTERED;
    html! { figure.chart-box.full.scatter {
        figcaption { (axis(1)) " over " (axis(0)) }
        @if studies.len() > 1 { p.legend { @for (at, study) in studies.iter().enumerate() { span dir="auto" { svg.chart.spot-key viewBox="0 0 12 12" aria-hidden="true" { circle class={ "c" (at.min(7) + 1) " spot" } cx="6" cy="6" r="5" {} } " " b { (tare_app::compare::letter(at)) } " " (study) } " " } } }
        svg.chart viewBox={ "0 0 " (width) " " (height) } role="img" aria-label=(said) {
            @for tick in ticks(y_low, y_high, 5) {
                line.grid x1=(left) x2=(width - right) y1=(tenth(y(tick))) y2=(tenth(y(tick))) {}
                text.tick x=(left - 6.0) y=(tenth(y(tick) + 4.0)) text-anchor="end" { (show_number(tick, 4)) }
            }
            @for tick in ticks(x_low, x_high, 6) {
                line.grid x1=(tenth(x(tick))) x2=(tenth(x(tick))) y1=(above) y2=(height - below) {}
                text.tick x=(tenth(x(tick))) y=(height - below + 16.0) text-anchor="middle" { (show_number(tick, 4)) }
            }
            text.soft x=(width - right) y=(height - below + 34.0) text-anchor="end" { (axis(0)) }
            @for (row, at_x, at_y) in &points {
                @let study = studies.iter().position(|known| *known == row.study).unwrap_or(0);
                circle class={ "c" (study.min(7) + 1) " spot" } cx=(tenth(x(*at_x))) cy=(tenth(y(*at_y))) r="4.5" { title { (row.name) " " (row.address) ": " (show_number(*at_x, 4)) ", " (show_number(*at_y, 4)) } }
                @if lettered { text.halo x=(tenth(x(*at_x) + 7.0)) y=(tenth(y(*at_y) + 4.0)) { (tare_app::compare::letter(study)) } }
            }
        }
    } }
}

fn save(state: &State, question: &Question) -> Markup {
    if state.only.is_some() {
        return html! {};
    }
    html! {
        form.save-question id="save-question" data-rows=(question.rows) data-when=(question.when) data-show=(question.show.join("\n")) data-client=[question.client.as_deref()] data-under=[question.under.as_deref()] {
            h2 { "Save this question" }
            div.row { label for="s-key" { "Name" } input id="s-key" name="key" required pattern="[a-z0-9\\-]+" title="small letters, digits and -" autocomplete="off" placeholder="sealed-covers"; }
            div.row { label for="s-title" { "What it asks" } input id="s-title" name="title" autocomplete="off" value=(question.title); }
            button type="submit" data-test="ask-save" { "Save" }
            p.note role="status" data-test="save-said" {}
        }
    }
}
