//! What to change: safety findings, then ideas with what they come to, the best set, and a form for a new one.

use super::Page;
use super::layout::Frame;
use super::small::{Span, between, fixed, minus, signed, whole};
use crate::answer::Wrong;
use crate::api::encoded;
use maud::{Markup, html};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_app::live::{IdeasFound, Known};
use tare_app::view::{ChangeLine, ChangeRows, IdeaRow, IdeasView, RangeRow, SafetyRow, SetView, WorthRow};
use tare_app::{Document, Figure};

/// Points of the drawing of saving against money.
const FRONTIER: (f64, f64) = (640.0, 240.0);
/// Lines that change by less than this share of the largest are counted only.
const LEAST: f64 = 1e-3;
/// Lines of a table of changes that are shown before the rest is folded away.
const LINES: usize = 14;

pub(super) fn ideas(p: &Page<'_>) -> Result<Frame, Wrong> {
    let known = p.study.ideas(&p.now);
    let body = html! {
        h1 { "Ideas" }
        p.lead { "What to change, with what gain, at what money laid out, how sure. Each idea is carried out on a copy of the study, computed anew and drawn with the same numbers." }
        (standing(p, &known))
        @match last(&known)? {
            Some(found) => {
                @let view = at(p, &known, found);
                (safety(&view.safety))
                (table(p, &view))
                (set(p, &view)?)
                (dropped(&view))
                @if !found.problems.is_empty() { section { h2 { "Rules that do not read" } ul.plain { @for problem in &found.problems { li { (problem) } } } } }
            },
            None => { p.none { "The ideas are being looked for and computed; they appear by themselves." } },
        }
        (new_idea())
    };
    let mut frame = Frame::new("ideas", "Ideas", body);
    (frame.styles, frame.modules) = (&["ideas.css"], &["waits.js", "ideas.js"]);
    Ok(frame)
}

/// What was found last; a failure where nothing newer is on its way.
fn last(known: &Known<u64, IdeasFound>) -> Result<Option<&Arc<IdeasFound>>, Wrong> {
    match &known.last {
        Some((_, Ok(found))) => Ok(Some(found)),
        Some((_, Err(problems))) if !known.computing => Err(problems.clone().into()),
        _ => Ok(None),
    }
}

/// The ideas as they stand now; numbers of an earlier entry where the next are on their way.
fn at<'a>(p: &Page<'_>, known: &Known<u64, IdeasFound>, found: &'a IdeasFound) -> Cow<'a, IdeasView> {
    match &known.last {
        Some((of, _)) if *of == p.now.head => Cow::Borrowed(&found.view),
        _ => Cow::Owned(found.at(&p.now.document)),
    }
}

/// Whether what is shown is of the last entry.
fn standing(p: &Page<'_>, known: &Known<u64, IdeasFound>) -> Markup {
    html! {
        @if known.computing {
            p.note.waits data-waits="ideas" role="status" {
                @match &known.last {
                    Some((of, _)) => { "Of entry " (of) "; those of entry " (p.now.head) " are being computed and appear by themselves." },
                    None => { "Computing." },
                }
            }
        }
    }
}

fn safety(rows: &[SafetyRow]) -> Markup {
    html! {
        @if !rows.is_empty() {
            section.hazards.safety aria-labelledby="safety" {
                h2 id="safety" { "Safety findings (" (rows.len()) ")" }
                p { "For qualified people; never traded against cost. They have no gain, stand in no set and are not dropped here. Nothing below says that a change is safe." }
                ul.findings { @for row in rows { li {
                    details {
                        summary { strong dir="auto" { (row.place) } " " span dir="auto" { (row.name) } }
                        p dir="auto" { (row.says) }
                        p dir="auto" { strong { "To be settled: " } (row.advice) }
                        p.note dir="auto" { (row.source) }
                    }
                } } }
            }
        }
    }
}

/// The kinds of ideas there are, each with how many.
fn kinds(view: &IdeasView) -> BTreeMap<&str, usize> {
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for row in &view.ideas {
        *kinds.entry(kind_of(row)).or_default() += 1;
    }
    kinds
}

/// The kind of an idea; what people write down has none.
fn kind_of(row: &IdeaRow) -> &str {
    if row.kind.is_empty() { "own" } else { &row.kind }
}

fn table(p: &Page<'_>, view: &IdeasView) -> Markup {
    let asked = p.asked("kind").unwrap_or_default();
    let kinds = kinds(view);
    let shown: Vec<&IdeaRow> = view.ideas.iter().filter(|row| asked.is_empty() || kind_of(row) == asked).collect();
    let (open, stuck): (Vec<&IdeaRow>, Vec<&IdeaRow>) = shown.iter().partition(|row| row.worth.is_some());
    let worths = open.iter().filter_map(|row| row.worth.as_ref());
    let span = Span::of(worths.flat_map(|w| [w.net_saving.ends.0, w.net_saving.ends.1, w.net_saving.middle]));
    html! {
        section {
            h2 { "Ideas" small { " " (view.currency) " for each product, the most gain first" } }
            nav.kinds aria-label="Kinds of ideas" {
                a href=(p.at("ideas")) aria-current=[asked.is_empty().then_some("true")] { "all " small { (view.ideas.len()) } }
                @for (kind, many) in &kinds {
                    a href={ (p.at("ideas")) "?kind=" (encoded(kind)) } aria-current=[(asked == *kind).then_some("true")] { (kind) " " small { (many) } }
                }
            }
            @if open.is_empty() && stuck.is_empty() { p.none { "No idea is recorded, and no rule of the library finds one. Write one down below." } }
            form id="ideas" data-head=(p.now.head) {
                @if !open.is_empty() {
                    div.scroll tabindex="0" role="region" aria-label="Ideas" { table.grid.cards.ideas {
                        thead { tr {
                            th.pick scope="col" { span.hidden { "Choose" } }
                            th scope="col" { "Idea" }
                            th.k-num scope="col" { "Net saving" }
                            th.k-bar scope="col" { "With its range" }
                            th.k-num scope="col" { "A gain in" }
                            th.k-num scope="col" { "Laid out" }
                            th.k-num scope="col" { "Pays back in" }
                            th.k-num scope="col" { "Manual time" }
                            th.k-num scope="col" { "Opera\u{ad}tors" }
                            th.k-num scope="col" { "Pieces" }
                            th.k-num scope="col" { "Mass" }
                        } }
                        tbody { @for row in &open { @if let Some(worth) = &row.worth { (idea_row(p, row, worth, span)) } } }
                    } }
                    p.note {
                        "Net saving: middle of " (whole(view.draws as f64)) " draws, the one-off cost paid back over the life of the product, with the range that holds 95 % of them. A gain in: share of draws in which something is saved. "
                        "Laid out: one-off cost and change of the investment in tools, at the stated values as is payback. Seconds saved free nobody by themselves: operators stand apart. " strong { "Gains do not add up" } ": choose several and compute them together."
                    }
                }
                @if !stuck.is_empty() {
                    h3 { "Without numbers" }
                    ul.stuck { @for row in &stuck { li {
                        label { input type="checkbox" name="idea" value=(row.label) data-name=(row.name); " " }
                        a href=(of(p, row)) dir="auto" { (row.name) } " " small { (row.label) }
                        ": " span dir="auto" { (row.problems.join("; ")) }
                    } } }
                }
                (chosen(p))
            }
        }
    }
}

/// The address of an idea's page.
fn of(p: &Page<'_>, row: &IdeaRow) -> String {
    format!("{}?of={}", p.at("idea"), encoded(&row.label))
}

/// What an idea is about, by name.
fn place_name(document: &Document, p: &Page<'_>, place: &str) -> Option<String> {
    let first = place.strip_prefix("item ").unwrap_or(place).split(['/', ',']).next()?.trim();
    let addresses = p.study.addresses(&p.now);
    let record = addresses.find(first).ok().map(|record| record.id)?;
    let record = document.get(record)?;
    let named = |field| record.text(field).filter(|text| !text.is_empty()).map(str::to_owned);
    // the place of an item in the tree bears the item's name; a finding is called by its own already
    let name = named(tare_app::Field::Name).or_else(|| {
        let item = record.refers(tare_app::Field::Item).and_then(|id| document.get(id))?;
        item.text(tare_app::Field::Name).map(str::to_owned)
    });
    name.filter(|name| !place.contains(name.as_str()))
}

fn idea_row(p: &Page<'_>, row: &IdeaRow, worth: &WorthRow, span: Span) -> Markup {
    let net = &worth.net_saving;
    let range = (net.ends.0, net.ends.1);
    html! { tr {
        td.pick { input type="checkbox" name="idea" value=(row.label) data-name=(row.name) aria-label={ "choose " (row.name) ", " (row.place) }; }
        th scope="row" {
            a href=(of(p, row)) dir="auto" { (row.name) }
            small dir="auto" {
                (row.place.trim_start_matches("item ")) @if let Some(name) = place_name(&p.now.document, p, &row.place) { " " (name) }
                " \u{b7} " (kind_of(row)) @if !row.risk.is_empty() { " \u{b7} risk " (row.risk) }
                @if row.recorded { " \u{b7} " (row.label) }
            }
            @if row.state == "taken" { span.tag { "taken" } }
            @if !row.problems.is_empty() { small.said-with { "with it the study says: " (row.problems.len()) @if row.problems.len() == 1 { " message" } @else { " messages" } } }
        }
        td.k-num data-h="Net saving" { b { (fixed(net.middle, 2)) } small { (fixed(range.0, 2)) " to " (fixed(range.1, 2)) } span.bar-within { (span.bar(net.middle, Some(range))) } }
        td.k-bar { (span.bar(net.middle, Some(range))) }
        td.k-num data-h="A gain in" { (share(worth.chance)) }
        td.k-num data-h="Laid out" { (whole(worth.stake.value)) }
        td.k-num data-h="Pays back in" { (payback(worth)) }
        td.k-num data-h="Manual time" { @if let Some(seconds) = &worth.seconds { (changed(seconds, 1)) } }
        td.k-num data-h="Operators" { @match worth.operators { Some(n) => { (count(n)) }, None => "" } }
        td.k-num data-h="Pieces" { (count(worth.parts)) }
        td.k-num data-h="Mass" { @if let Some(mass) = &worth.mass { (changed(mass, 2)) } }
    } }
}

/// A change with its unit; one that rounds to nothing is nothing.
fn changed(row: &RangeRow, decimals: usize) -> String {
    let text = signed(row.middle, decimals);
    if text.starts_with(['+', '\u{2212}']) { format!("{text} {}", row.stated.unit) } else { "0".to_owned() }
}

/// A share of draws; what is nearly all is not called all.
fn share(share: f64) -> String {
    match share {
        s if s > 0.9995 => "100 %".to_owned(),
        s if s > 0.995 => "> 99 %".to_owned(),
        s if s < 0.0005 => "0 %".to_owned(),
        s if s < 0.005 => "< 1 %".to_owned(),
        s => format!("{:.0} %", s * 100.0),
    }
}

fn payback(worth: &WorthRow) -> String {
    match &worth.payback {
        None => "never".to_owned(),
        Some(_) if worth.stake.value <= 0.0 => "at once".to_owned(),
        Some(years) if years.value < 0.05 => "< 0.1 a".to_owned(),
        Some(years) if years.value > 100.0 => "> 100 a".to_owned(),
        Some(years) => format!("{:.1} a", years.value),
    }
}

fn count(change: f64) -> String {
    let rounded = (change * 10.0).round() / 10.0;
    signed(rounded, usize::from(rounded.fract() != 0.0))
}

/// The bar with what can be done with the ideas chosen.
fn chosen(p: &Page<'_>) -> Markup {
    html! {
        noscript { p.note { "To compute ideas together, take, keep or drop them, scripts have to be allowed for this address." } }
        div.chosen id="chosen" hidden data-study-page=(p.at("")) {
            div.chosen-bar role="group" aria-label="What to do with the ideas chosen" {
                span id="chosen-many" role="status" aria-live="polite" {}
                button.main type="button" data-do="together" data-test="together" { "Compute together" }
                @if p.state.only.is_none() { button type="button" data-do="take" data-test="take" { "Take into a variant" } }
                button type="button" data-do="keep" data-test="keep" { "Keep" }
                button type="button" data-do="drop" data-test="drop" { "Drop" }
                button type="button" data-do="none" { "Choose none" }
            }
            div id="chosen-panel" data-test="chosen-panel" {}
        }
    }
}

fn set(p: &Page<'_>, view: &IdeasView) -> Result<Markup, Wrong> {
    let most = crate::api::ideas::money(p.asked("most"))?;
    let asked = p.asked("set").is_some();
    let again = p.asked("again").and_then(|n| n.parse::<u64>().ok()) == Some(p.now.head);
    let known = asked.then(|| p.study.best_set(&p.now, most, again));
    let known_set = match known.as_ref().and_then(|known| known.last.as_ref()) {
        Some((_, Err(problems))) if known.as_ref().is_some_and(|known| !known.computing) => return Err(problems.clone().into()),
        Some((of, Ok(set))) => Some((*of, Arc::clone(set))),
        _ => None,
    };
    let address = |more: &str| format!("{}?set=1&most={}{more}#set", p.at("ideas"), p.asked("most").unwrap_or_default());
    Ok(html! {
        section id="set" {
            h2 { "Best set" }
            p.note { "The set of ideas that saves most in a year, within the money there is. Ideas that touch are computed together, not added up; ideas that exclude one another are not taken together. The search may take from seconds to some minutes; everything else goes on meanwhile." }
            form.row-form method="get" action={ (p.at("ideas")) "#set" } {
                input type="hidden" name="set" value="1";
                input type="hidden" name="again" value=(p.now.head);
                label { "Money to lay out at most, " (view.currency) " " input name="most" inputmode="decimal" autocomplete="off" placeholder="no limit" value=[p.asked("most")]; }
                button type="submit" data-test="set-go" { "Look for the best set" }
            }
            @if let Some(known) = &known {
                @if known.computing {
                    p.note.waits data-waits="set" role="status" { "Looking for the best set. " button type="button" data-stop-set=(p.asked("most").unwrap_or_default()) { "Stop" } }
                }
                @if let Some((of, set)) = &known_set {
                    @if *of != p.now.head { p.note { "Of entry " (of) ". " a href=(address(&format!("&again={}", p.now.head))) { "Look again at entry " (p.now.head) } "." } }
                    (best(p, view, set))
                }
            }
        }
    })
}

fn best(p: &Page<'_>, view: &IdeasView, set: &SetView) -> Markup {
    let known: BTreeMap<&str, &IdeaRow> = view.ideas.iter().map(|row| (row.label.as_str(), row)).collect();
    html! {
        @if set.ideas.is_empty() { p.none { "No idea saves anything within this limit." } }
        @if let Some(worth) = &set.worth { (headlines(worth)) }
        @if !set.ideas.is_empty() {
            h3 { (set.ideas.len()) " ideas, computed as one" }
            ul.due { @for label in &set.ideas { li { @match known.get(label.as_str()) {
                Some(row) => { a href=(of(p, row)) dir="auto" { (row.name) } " " small { (row.place.trim_start_matches("item ")) } },
                None => { (label) },
            } } } }
        }
        p.note {
            @if set.gap < 1e-9 { "Every set within its group was computed (" (whole(set.computed as f64)) " sets): no other saves more." }
            @else { (whole(set.computed as f64)) " sets were computed; by the gains met no set saves more than " (set.bound) " a year (" (format!("{:.1} %", set.gap * 100.0)) " more)." }
        }
        @if set.frontier.len() > 1 {
            h3 { "Saving against money laid out" }
            (frontier(set, &view.currency))
            details.behind { summary { "The same as a table" }
                div.scroll tabindex="0" role="region" aria-label="Saving against money laid out" { table.grid.slim {
                    thead { tr { th.k-num scope="col" { "Laid out" } th.k-num scope="col" { "Saved in a year" } th scope="col" { "Ideas" } } }
                    tbody { @for row in &set.frontier { tr {
                        td.k-num { (whole(row.stake)) " " (view.currency) } td.k-num { (whole(row.saving)) " " (view.currency) }
                        td { (row.ideas.len()) ": " small dir="auto" { (row.ideas.join(", ")) } }
                    } } }
                } }
            }
        }
    }
}

/// Saving of a year over money laid out: steps, since between two points nothing more can be had for the money.
fn frontier(set: &SetView, currency: &str) -> Markup {
    let stakes = || set.frontier.iter().map(|row| row.stake);
    let (low, high) = stakes().fold((0.0_f64, 0.0_f64), |(low, high), n| (low.min(n), high.max(n)));
    let top = set.frontier.iter().map(|row| row.saving).fold(0.0, f64::max);
    let (left, right, above, below) = (78.0, FRONTIER.0 - 14.0, 14.0, FRONTIER.1 - 40.0);
    let x = |stake: f64| left + (stake - low) / (high - low).max(1.0) * (right - left);
    let y = |saving: f64| below - saving / top.max(1.0) * (below - above);
    let mut path = String::new();
    for (at, row) in set.frontier.iter().enumerate() {
        let (x, y) = (x(row.stake), y(row.saving));
        path.push_str(&if at == 0 { format!("M{x:.1} {y:.1}") } else { format!("H{x:.1}V{y:.1}") });
    }
    let said = format!("Saving of a year over money laid out, {} points", set.frontier.len());
    html! { figure.chart-box.full {
        figcaption { "Saved in a year over money laid out, " (currency) }
        svg.chart.frontier viewBox={ "0 0 " (FRONTIER.0) " " (FRONTIER.1) } role="img" aria-label=(said) {
            @for tick in super::small::ticks(0.0, top, 4) {
                line.grid x1=(left) x2=(right) y1=(format!("{:.1}", y(tick))) y2=(format!("{:.1}", y(tick))) {}
                text.tick x=(left - 6.0) y=(format!("{:.1}", y(tick) + 4.0)) text-anchor="end" { (whole(tick)) }
            }
            @for tick in super::small::ticks(low, high, 5) {
                line.grid x1=(format!("{:.1}", x(tick))) x2=(format!("{:.1}", x(tick))) y1=(above) y2=(below) {}
                text.tick x=(format!("{:.1}", x(tick))) y=(below + 16.0) text-anchor="middle" { (whole(tick)) }
            }
            text.soft x=(right) y=(below + 33.0) text-anchor="end" { "laid out, " (currency) }
            path.sum d=(path) {}
            @for row in &set.frontier {
                @let chosen = row.ideas == set.ideas;
                circle class=(if chosen { "full" } else { "point" }) cx=(format!("{:.1}", x(row.stake))) cy=(format!("{:.1}", y(row.saving))) r=(if chosen { 5.5 } else { 4.0 }) {
                    title { (row.stake_text) " laid out, " (row.saving_text) " saved in a year: " (row.ideas.len()) " ideas" }
                }
            }
        }
    } }
}

fn dropped(view: &IdeasView) -> Markup {
    html! {
        @if !view.dropped.is_empty() {
            section { h2 { "Dropped" }
                p.note { "Each with its reason. Taking the entry back in the history brings it back." }
                ul.plain.dropped { @for [label, name, says] in &view.dropped { li { b dir="auto" { (name) } " " small { (label) } ": " span dir="auto" { (says) } } } }
            }
        }
    }
}

fn new_idea() -> Markup {
    html! {
        form.add-idea id="new-idea" {
            h2 { "Write an idea down" }
            div.row { label for="i-name" { "Name" } input id="i-name" name="name" required autocomplete="off" maxlength="200"; }
            div.row { label for="i-says" { "Reason" } input id="i-says" name="says" autocomplete="off"; }
            div.row.edits {
                label for="i-edits" { "Edits, one on each line, in the words of " code { "tare edit" } }
                div {
                    textarea id="i-edits" name="edits" rows="4" spellcheck="false" autocomplete="off" placeholder="set P12/wall_thickness \"0.7 mm\"" aria-describedby="i-said" {}
                    div.edits-said id="i-said" role="status" aria-live="polite" data-test="idea-said" {}
                }
            }
            div.row { label for="i-cost" { "One-off cost" } input id="i-cost" name="one_off" autocomplete="off" placeholder="15000 .. 25000 EUR"; }
            div.row { label for="i-risk" { "Risk" } select id="i-risk" name="risk" { option value="" { "nobody has said" } @for word in ["low", "medium", "high"] { option { (word) } } } }
            div.row { label for="i-source" { "Where it comes from" } input id="i-source" name="source" autocomplete="off"; }
            button.main type="submit" data-test="idea-add" { "Record" }
        }
    }
}

pub(super) fn idea(p: &Page<'_>) -> Result<Frame, Wrong> {
    let label = p.asked("of").unwrap_or_default();
    let known = p.study.ideas(&p.now);
    let view = last(&known)?.map(|found| at(p, &known, found));
    let row = view.as_ref().and_then(|view| view.ideas.iter().find(|row| row.label == label));
    let put_away = view.as_ref().and_then(|view| view.dropped.iter().find(|[known, _, _]| known == label));
    let body = match (row, put_away) {
        (Some(row), _) => one(p, &known, row),
        (None, Some([label, name, says])) => html! {
            p.above { a href=(p.at("ideas")) { "Ideas" } " / " (label) }
            h1 dir="auto" { (name) }
            p { span.tag { "dropped" } " " span dir="auto" { (says) } }
            p.note { "Taking the entry back in the " a href=(p.at("history")) { "history" } " brings it back." }
        },
        (None, None) if known.computing => html! {
            p.above { a href=(p.at("ideas")) { "Ideas" } " / " (label) }
            h1 dir="auto" { (label) }
            (standing(p, &known))
            p.none { "The ideas are being looked for and computed; this one appears by itself." }
        },
        (None, None) => return Err(tare_diag::Diag::error("address-unknown", format!("there is no idea `{label}`")).into()),
    };
    let title = row.map_or_else(|| label.to_owned(), |row| row.name.clone());
    let mut frame = Frame::new("ideas", title, body);
    (frame.styles, frame.modules) = (&["ideas.css"], &["waits.js", "ideas.js"]);
    Ok(frame)
}

fn one(p: &Page<'_>, known: &Known<u64, IdeasFound>, row: &IdeaRow) -> Markup {
    html! {
        p.above { a href=(p.at("ideas")) { "Ideas" } " / " (row.label) }
        h1 dir="auto" { (row.name) }
        (standing(p, known))
        p.idea-tags {
            span.tag { (kind_of(row)) } " " @if !row.risk.is_empty() { span.tag { "risk " (row.risk) } " " }
            span.tag { (row.state) } " " span.tag { @if row.recorded { "recorded in this study" } @else { "found by a rule" } }
        }
        dl.fields.idea {
            div { dt { "Where" } dd dir="auto" { (row.place.trim_start_matches("item ")) @if let Some(name) = place_name(&p.now.document, p, &row.place) { " " (name) } } }
            @if !row.says.is_empty() { div { dt { "Why" } dd dir="auto" { (row.says) } } }
            @if !row.source.is_empty() { div { dt { "Source" } dd dir="auto" { (row.source) } } }
        }
        @if !row.advice.is_empty() { p.caution dir="auto" { strong { "To settle first: " } (row.advice) } }
        form id="ideas" data-head=(p.now.head) data-one=(row.label) { input type="hidden" name="one" value=(row.label) data-name=(row.name); (chosen(p)) }
        section { h2 { "What it comes to" }
            @match &row.worth {
                Some(worth) => { (headlines(worth)) (more(worth)) },
                None => { p.none { "It cannot be carried out on the study as it is now." } },
            }
            @if !row.problems.is_empty() { h3 { "What stands against it, or what the study says of it" } ul.plain { @for problem in &row.problems { li dir="auto" { (problem) } } } }
        }
        section { h2 { "Edits" }
            @if row.edits.is_empty() { p.none { "No edits are stated yet." } }
            @else { div.scroll tabindex="0" role="region" aria-label="Edits" { table.grid.slim {
                thead { tr { th scope="col" { "Edit" } th scope="col" { "On the study as it is" } } }
                tbody { @for edit in &row.edits { tr {
                    th scope="row" dir="auto" { (edit.text) @if let Some(problem) = &edit.problem { small { (problem) } } }
                    td.k-word { span.tag { (edit.state) } }
                } } }
            } } }
        }
        @if row.worth.is_some() { (changes(p, row)) }
    }
}

fn range(row: &RangeRow) -> String {
    between(&row.low, &row.high).unwrap_or_else(|| minus(&row.low))
}

/// The middle of the draws with its unit.
fn middle(row: &RangeRow, decimals: usize) -> String {
    format!("{} {}", fixed(row.middle, decimals), row.stated.unit)
}

/// The few numbers that decide.
fn headlines(worth: &WorthRow) -> Markup {
    let card = |title: &str, big: String, beside: Markup| {
        html! { div.card { h3 { (title) } p.big { (big) } p.range { (beside) } } }
    };
    html! {
        div.headlines {
            (card("Net saving of a product, middle of draws", middle(&worth.net_saving, 2), html! {
                (range(&worth.net_saving)) "; a gain in " (share(worth.chance)) " of draws; at the stated values " (minus(&worth.net_saving.stated.text))
            }))
            (card("Net saving of a year", year(&worth.yearly), html! { "at the stated values, the one-off cost paid back" }))
            (card("Laid out", format!("{} {}", whole(worth.stake.value), worth.stake.unit), html! {
                "one-off " @match &worth.one_off { Some(cost) => { (whole(cost.value)) }, None => "not stated" } ", tools " (signed_whole(worth.investment.value))
            }))
            (card("Pays back in", payback(worth), html! {
                @match &worth.turning_volume { Some(volume) => { "from " (whole(volume.value)) " products a year within the life" }, None => "a product without its tools costs no less" }
            }))
        }
    }
}

fn signed_whole(number: f64) -> String {
    if number >= 0.5 { format!("+{}", whole(number)) } else { whole(number) }
}

/// An amount of a year in whole units.
fn year(figure: &Figure) -> String {
    format!("{} {}", whole(figure.value), figure.unit)
}

fn more(worth: &WorthRow) -> Markup {
    let ranged = |row: &RangeRow| html! { (minus(&row.stated.text)) " " small { (range(row)) } };
    html! {
        p.note { "Money laid out and payback are those of the stated values. Where the middle of the draws and the number at the stated values stand apart, a step is near, such as an operator more or less." }
        dl.fields.worth {
            div { dt { "Saving before the one-off cost" } dd { (ranged(&worth.saving)) } }
            @if let Some(seconds) = &worth.seconds { div { dt { "Manual time of a product" } dd { (ranged(seconds)) } } }
            @if let Some(operators) = worth.operators { div { dt { "Operators on all lines" } dd { (count(operators)) } } }
            div { dt { "Pieces, joints" } dd { (count(worth.parts)) ", " (count(worth.joints)) } }
            @if let Some(mass) = &worth.mass { div { dt { "Mass of a product" } dd { (ranged(mass)) } } }
            @if let Some((old, new)) = worth.ideal_share { div { dt { "Ideal-time share" } dd { (format!("{:.1} % to {:.1} %", old * 100.0, new * 100.0)) } } }
        }
    }
}

/// What changes line by line, each table adding up to the change of the total.
fn changes(p: &Page<'_>, row: &IdeaRow) -> Markup {
    let known = p.study.idea_changes(&p.now, &row.label);
    html! { section { h2 { "Line by line" }
        @if known.computing { p.note.waits data-waits="changes" role="status" { "Computing the lines; they appear by themselves." } }
        @match &known.last {
            Some((_, Ok(rows))) => { (lines(p, rows)) },
            Some((_, Err(problems))) if !known.computing => { ul.plain { @for problem in problems { li { (problem.message) } } } },
            _ => {},
        }
    } }
}

fn lines(p: &Page<'_>, rows: &ChangeRows) -> Markup {
    html! {
        p.note { "Lines that do not change are left out; each table adds up to the change of the total. Numbers as they stand lead to their reasons." }
        @for (title, rows) in [("By kind of cost", &rows.kinds), ("By process", &rows.processes), ("By item", &rows.items)] {
            @if !rows.is_empty() {
                @let span = Span::of(rows.iter().map(|row| row.change.value));
                @let least = rows.iter().map(|row| row.change.value.abs()).fold(0.0, f64::max) * LEAST;
                @let (rows, small): (Vec<&ChangeLine>, Vec<&ChangeLine>) = rows.iter().partition(|row| row.change.value.abs() >= least);
                h3 { (title) }
                div.fold-rows { div.scroll tabindex="0" role="region" aria-label=(title) { table.grid.slim.lines {
                    thead { tr { th scope="col" { "What" } th.k-num scope="col" { "As it is" } th.k-num scope="col" { "With the idea" } th.k-num scope="col" { "Change" } th.k-bar scope="col" { span.hidden { "Drawn" } } } }
                    tbody { @for row in rows.iter().take(LINES) { (line(p, row, span)) } }
                    @if rows.len() > LINES { tbody.rest { @for row in &rows[LINES..] { (line(p, row, span)) } } }
                } }
                @if rows.len() > LINES { label.more { input type="checkbox"; " show " (rows.len() - LINES) " more" } }
                @if !small.is_empty() { p.note { "and " (small.len()) @if small.len() == 1 { " line that changes" } @else { " lines that change" } " by less than a thousandth of the largest" } }
                }
            }
        }
    }
}

fn line(p: &Page<'_>, row: &ChangeLine, span: Span) -> Markup {
    html! { tr {
        th scope="row" dir="auto" { (row.name) }
        td.k-num { @match &row.line { Some(line) => { a.n href=(p.reason(line)) { (minus(&row.before)) } }, None => "\u{2013}" } }
        td.k-num { @if row.after == "-" { "\u{2013}" } @else { (minus(&row.after)) } }
        td.k-num { @if row.change.value > 0.0 { "+" } (minus(&row.change.text)) }
        td.k-bar { (span.bar(row.change.value, None)) }
    } }
}
