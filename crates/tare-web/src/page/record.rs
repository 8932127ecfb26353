//! Photos, labels, findings, holds, rates, quotes, reviews: records shown and changed where they stand.

use super::Page;
use super::layout::{Frame, changeable, choosable};
use super::sections::printed;
use crate::answer::Wrong;
use crate::labels::{Label, Layout, Paper, part_address, sheet};
use maud::{Markup, html};
use std::sync::Arc;
use tare_app::{Field, Kind, Record, calculations};

/// Labels on one page of the desk, at most.
const MOST_LABELS: usize = 600;

/// A photo as a link with its picture, where there is one.
pub(super) fn tile(p: &Page<'_>, photo: &Record) -> Markup {
    let name = photo.text(Field::Name).unwrap_or_default();
    html! {
        a.tile href={ (p.at("photo")) "?of=@" (photo.id) } {
            @match photo.text(Field::Digest).filter(|d| !d.is_empty()) {
                Some(digest) => { img src={ "/photos/" (digest) "?w=320" } alt="" loading="lazy" width="320" height="240"; },
                None => { span.no-picture { "picture not in this workspace" } },
            }
            span dir="auto" { (name) }
        }
    }
}

/// A field for a new photo.
pub(super) fn upload(part: Option<&Record>) -> Markup {
    html! {
        form.upload data-part=[part.map(|part| format!("@{}", part.id))] {
            label { "Add a photo " input type="file" name="photo" accept="image/jpeg,image/png,image/webp" data-test="photo-file"; }
            p.note role="status" {}
        }
    }
}

pub(super) fn photos(p: &Page<'_>) -> Frame {
    let now = Arc::clone(&p.now);
    let all: Vec<&Record> = now.document.of_kind(None, Kind::Photo).collect();
    let lost = all.iter().filter(|photo| photo.all_refers(Field::Parts).is_empty()).count();
    let body = html! {
        h1 { "Photos" }
        @if lost > 0 { p.note { (lost) " of " (all.len()) " show no part: open one and name the parts." } }
        (upload(None))
        div.photos { @for photo in &all { (tile(p, photo)) } }
        @if all.is_empty() { p.none { "No photo is recorded yet." } }
    };
    Frame::new("photos", "Photos", body)
}

pub(super) fn photo(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let addresses = p.study.addresses(&now);
    let asked = p.asked("of").unwrap_or_default();
    let photo = addresses.find(asked)?;
    let view = tare_app::view::record_view(&now.document, &addresses, photo);
    let text = |word: &str| view.fields.get(word).map(String::as_str).unwrap_or_default();
    let digest = text("digest");
    let body = html! {
        h1 dir="auto" { (text("name")) }
        figure id="photo" data-photo=(view.id) data-src=(if digest.is_empty() { String::new() } else { format!("/photos/{digest}?w=1280") }) data-callouts=(text("callouts")) {
            @if digest.is_empty() { p.none { "The picture is not in this workspace; call-outs are text until it is." } }
        }
        dl.fields {
            @for word in ["name", "parts", "who", "when"] { div { dt { (word) } dd { (changeable(&format!("@{}/{word}", view.id), text(word), word)) } } }
            @if !digest.is_empty() { div { dt { "original" } dd { a href={ "/photos/" (digest) } { "as it was taken" } " " a href={ "/photos/" (digest) "?without=location" } download { "without its location" } } } }
        }
    };
    let mut frame = Frame::new("photos", text("name"), body);
    (frame.styles, frame.modules, frame.follows) = (&["callouts.css"], &["callouts.js"], false);
    Ok(frame)
}

/// A sheet of labels to print: for the parts named, or for all.
pub(super) fn labels(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let addresses = p.study.addresses(&now);
    let rows = tare_app::view::parts_table(&now, &addresses).rows;
    let wanted: Option<Vec<String>> = p.asked("of").map(|of| {
        let named = of.split(',').filter_map(|one| addresses.find(one.trim()).ok());
        named.map(|record| record.id.to_string()).collect()
    });
    let paper = match p.asked("paper") {
        Some("letter") => Paper::Letter,
        Some("roll") => Paper::Roll,
        _ => Paper::A4,
    };
    let used = p.asked("used").and_then(|n| n.parse().ok()).unwrap_or(0);
    let today = tare_app::clock::today();
    // the code leads to the address this page was asked by: a tablet on the network asks by one it can reach
    let base = format!("http://{}", p.host);
    let label = |row: &tare_app::view::PartLine| Label {
        number: row.label.clone(),
        name: row.name.clone(),
        count: if row.count == 1.0 { "1 piece".to_owned() } else { format!("{} pieces", tare_app::show_number(row.count, 6)) },
        date: today.clone(),
        cautions: Vec::new(),
        address: part_address(&base, &row.id),
    };
    let shown = rows.iter().filter(|row| wanted.as_ref().is_none_or(|ids| ids.contains(&row.id))).take(MOST_LABELS);
    let labels: Vec<Label> = shown.map(label).collect();
    let sheet = sheet(&labels, &Layout { paper, used });
    let body = html! {
        div.no-print {
            h1 { "Labels" }
            form.row-form method="get" action=(p.at("labels")) {
                @if let Some(of) = p.asked("of") { input type="hidden" name="of" value=(of); }
                label { "Paper " select name="paper" { @for (key, words) in [("a4", "A4, 3 x 8"), ("letter", "Letter, 3 x 8"), ("roll", "Roll, 62 x 29 mm")] { option value=(key) selected[p.asked("paper") == Some(key)] { (words) } } } }
                label { "Places used up on the first sheet " input name="used" type="number" min="0" max="23" value=(used); }
                button type="submit" { "Lay out" }
            }
            @if p.host.starts_with("127.") || p.host.starts_with("localhost") || p.host.starts_with("[::1]") {
                p.caution { "The codes of these labels lead to this machine only. For codes that tablets can follow, start the program with " code { "--share" } " and print from the address it shows." }
            }
            p.note { (labels.len()) " labels. The number is the key between bag and record; the code leads to the part's page from any paired device. Print without margins added." }
            @for problem in &sheet.problems { p.note { (problem.message) } }
        }
        div.scroll.sheets tabindex="0" role="region" aria-label="Sheets" { (sheet.markup) }
    };
    let mut frame = Frame::new("labels", "Labels", body);
    (frame.styles, frame.follows) = (&["labels.css"], false);
    Ok(frame)
}

pub(super) fn findings(p: &Page<'_>) -> Result<Frame, Wrong> {
    let body = html! {
        h1 { "Findings" }
        div.report.same { (printed(p, &["findings"])) }
        form.add-record data-kind="finding" {
            h2 { "Another finding" }
            div.row { label for="f-name" { "What was seen" } input id="f-name" name="name" required autocomplete="off"; }
            div.row { label for="f-group" { "About" } select id="f-group" name="group" { @for w in ["safety", "quality", "design", "cost", "record"] { option { (w) } } } }
            div.row { label for="f-severity" { "How serious" } select id="f-severity" name="severity" { @for w in ["note", "look", "serious"] { option { (w) } } } }
            div.row { label for="f-parts" { "Parts, by label" } input id="f-parts" name="parts" autocomplete="off"; }
            div.row { label for="f-says" { "More" } textarea id="f-says" name="says" {} }
            button.main type="submit" { "Record" }
        }
    };
    Ok(Frame::new("findings", "Findings", body))
}

pub(super) fn holds(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let addresses = p.study.addresses(&now);
    let open: Vec<&Record> =
        now.document.of_kind(None, Kind::Hold).filter(|h| h.text(Field::State) != Some("recorded")).collect();
    let body = html! {
        h1 { "Holds" }
        p.caution { "A hold is a point at which work waits: isolation, absence of voltage, discharge, a lift, a burn test. Only qualified persons take these steps, by local codes. Recording one here says who took it and when, and nothing more." }
        @for hold in &open {
            form.record-hold data-hold=(hold.id) {
                h2 dir="auto" { (hold.text(Field::Name).unwrap_or_default()) }
                @if let Some(says) = hold.text(Field::Says) { p dir="auto" { (says) } }
                @let behind: Vec<String> = hold.all_refers(Field::Removals).iter().map(|id| addresses.of(*id)).collect();
                @if !behind.is_empty() { p.note { "Waiting behind it: " (behind.join(", ")) } }
                div.row { label { "Recorded by (full name) " input name="who" required autocomplete="name" data-test="hold-name"; } }
                button.main type="submit" data-test="hold-record" { "Record this hold" }
            }
        }
        div.report.same { (printed(p, &["holds"])) }
    };
    Ok(Frame::new("holds", "Holds", body))
}

pub(super) fn rates(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let addresses = p.study.addresses(&now);
    let head = now.document.of_kind(None, Kind::Study).next();
    let name = head.and_then(|h| h.text(Field::Book)).unwrap_or_default();
    let own: Vec<&Record> = now.document.records().filter(|r| r.kind == Kind::Rate).collect();
    let mut used: Vec<&tare_app::Leaf> =
        now.study.lines.leaves.iter().filter(|l| now.study.lines.subject_of(l).address.starts_with("rate")).collect();
    used.sort_by_key(|leaf| (&now.study.lines.subject_of(leaf).address, &leaf.name));
    let book = calculations::book(&now.library, name).ok();
    let body = html! {
        h1 { "Rates" }
        p.note { "Book " strong { (name) } @if let Some(book) = &book { ", " (book.place) ", " (book.date) } ". A rate of the study's own stands in front of the book's." }
        section { h2 { "Rates of this study" }
            @if own.is_empty() { p.none { "None: every rate is the book's." } }
            @else { div.scroll tabindex="0" role="region" aria-label="Own rates" { table.grid { thead { tr { th scope="col" { "Rate" } th scope="col" { "Stated" } th scope="col" { "Source" } th scope="col" { "Date" } } } tbody {
                @for rate in own { @let id = rate.id; tr {
                    th scope="row" { (addresses.of(id)) }
                    td { (changeable(&format!("@{id}/text"), rate.text(Field::Text).unwrap_or_default(), "rate")) }
                    td { (changeable(&format!("@{id}/source"), rate.text(Field::Source).unwrap_or_default(), "source")) }
                    td.k-word { (changeable(&format!("@{id}/date"), rate.text(Field::Date).unwrap_or_default(), "date")) }
                } }
            } } } }
        }
        section { h2 { "Rates in use" }
            div.scroll tabindex="0" role="region" aria-label="Rates in use" { table.grid { thead { tr { th scope="col" { "Rate" } th scope="col" { "As used" } th scope="col" { "Evidence" } th scope="col" { "Source" } th scope="col" { "Change for this study" } } } tbody {
                @for leaf in &used { @let address = &now.study.lines.subject_of(leaf).address; @let line = format!("{address}/{}", leaf.name); tr {
                    th scope="row" { a href=(p.reason(&line)) { (leaf.name) } }
                    td { (leaf.quantity.print()) }
                    td { (leaf.evidence.word()) }
                    td { (leaf.source) }
                    td { (changeable(&format!("rate/{}", leaf.name), "", &leaf.name)) }
                } }
            } } }
        }
    };
    Ok(Frame::new("rates", "Rates", body))
}

pub(super) fn quotes(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let addresses = p.study.addresses(&now);
    let quotes: Vec<&Record> = now.document.of_kind(None, Kind::Quote).collect();
    let body = html! {
        h1 { "Quotes" }
        section { h2 { "Quotes on record" }
            @if quotes.is_empty() { p.none { "No quote is recorded." } }
            @else { div.scroll tabindex="0" role="region" aria-label="Quotes" { table.grid { thead { tr { th scope="col" { "Item" } th scope="col" { "Price" } th scope="col" { "Supplier, place" } th scope="col" { "Date" } th scope="col" { "Contains" } th scope="col" { "State" } } } tbody {
                @for quote in &quotes { @let id = quote.id; tr {
                    th scope="row" { (quote.refers(Field::Item).map(|i| addresses.of(i)).unwrap_or_default()) }
                    td { @for value in now.document.of_kind(Some(id), Kind::Value) { (changeable(&format!("@{}/text", value.id), value.text(Field::Text).unwrap_or_default(), value.text(Field::Quantity).unwrap_or_default())) " " small { (value.text(Field::Quantity).unwrap_or_default()) } br; } }
                    td { (changeable(&format!("@{id}/supplier"), quote.text(Field::Supplier).unwrap_or_default(), "supplier")) " " (changeable(&format!("@{id}/place"), quote.text(Field::Place).unwrap_or_default(), "place")) }
                    td.k-word { (changeable(&format!("@{id}/date"), quote.text(Field::Date).unwrap_or_default(), "date")) }
                    td { (changeable(&format!("@{id}/contains"), quote.text(Field::Contains).unwrap_or_default(), "contains")) }
                    td { (choosable(&format!("@{id}/state"), quote.text(Field::State).unwrap_or_default(), "state", &["used", "beside"])) }
                } }
            } } } }
        }
        div.report { (printed(p, &["routes"])) }
    };
    Ok(Frame::new("quotes", "Quotes", body))
}

pub(super) fn reviews(p: &Page<'_>) -> Frame {
    let now = Arc::clone(&p.now);
    let reviews: Vec<&Record> = now.document.of_kind(None, Kind::Review).collect();
    let states = ["captured", "costed", "checked", "released"];
    let body = html! {
        h1 { "Reviews" }
        p.note { "How far a group of results has been checked, and by whom." }
        @if reviews.is_empty() { p.none { "No review is recorded yet." } }
        @else { div.scroll tabindex="0" role="region" aria-label="Reviews" { table.grid { thead { tr { th scope="col" { "Group" } th scope="col" { "State" } th scope="col" { "Who" } th scope="col" { "When" } th scope="col" { "Remark" } } } tbody {
            @for review in &reviews { @let id = review.id; tr {
                th scope="row" { (changeable(&format!("@{id}/group"), review.text(Field::Group).unwrap_or_default(), "group")) }
                td { (choosable(&format!("@{id}/state"), review.text(Field::State).unwrap_or_default(), "state", &states)) }
                @for (field, word) in [(Field::Who, "who"), (Field::When, "when"), (Field::Says, "says")] { td { (changeable(&format!("@{id}/{word}"), review.text(field).unwrap_or_default(), word)) } }
            } }
        } } } }
        form.add-record data-kind="review" {
            h2 { "Another review" }
            div.row { label for="r-group" { "Group of results" } input id="r-group" name="group" required autocomplete="off"; }
            div.row { label for="r-state" { "State" } select id="r-state" name="state" { @for w in states { option { (w) } } } }
            div.row { label for="r-who" { "Who" } input id="r-who" name="who" autocomplete="name"; }
            button.main type="submit" { "Record" }
        }
    };
    Frame::new("reviews", "Reviews", body)
}
