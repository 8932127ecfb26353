//! One part: what is recorded of it, what it weighs and costs, what holds it, its photos.

use super::Page;
use super::layout::{Frame, changeable, choosable};
use crate::answer::Wrong;
use maud::{Markup, html};
use std::sync::Arc;
use tare_app::address::Addresses;
use tare_app::live::Now;
use tare_app::view::{self, RecordView};
use tare_app::{Field, Kind, Record};

pub(super) fn part(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let addresses = p.study.addresses(&now);
    let asked = p.asked("of").unwrap_or("P1");
    let part = addresses.find(asked)?;
    let part = match part.kind {
        Kind::Part => part,
        // an item stands for its first place
        Kind::Item => {
            now.document.records().find(|r| r.kind == Kind::Part && r.refers(Field::Item) == Some(part.id)).unwrap_or(part)
        }
        _ => part,
    };
    let item = part.refers(Field::Item).and_then(|id| now.document.get(id));
    let own = view::record_view(&now.document, &addresses, part);
    let title = item.and_then(|i| i.text(Field::Name)).or(part.text(Field::Name)).unwrap_or(&own.address).to_owned();
    let row = now.study.parts.iter().find(|row| row.id == part.id);
    let figure = |line: Option<tare_app::LineRef>| line.map(|line| tare_app::Figure::new(&now.study, line, 4));
    let (mass, cost) = (figure(row.and_then(|r| r.mass)), figure(row.and_then(|r| r.cost)));
    let body = html! {
        p.above { (above(p, &now, &addresses, part)) }
        h1 dir="auto" { span.label { (own.address) } " " (title) }
        div.headlines {
            (card(p, "Mass of one", mass.as_ref()))
            (card(p, "Cost of one", cost.as_ref()))
            @if let Some(row) = row { div.card { h2 { "In the product" } p.big { (tare_app::show_number(row.pieces, 6)) } p.range { (tare_app::show_number(row.count, 6)) " in the part above" } } }
        }
        section { h2 { "Record" } (fields(p, &own, part)) @if let Some(item) = item { @let item_view = view::record_view(&now.document, &addresses, item); h3 { "Item: what is made or bought, the same in every place" } (fields(p, &item_view, item)) } }
        section { h2 { "Values" } (values(p, &now, &addresses, part, item)) }
        (children(p, &now, &addresses, part))
        (work(p, &now, &addresses, item))
        (joints(p, &now, &addresses, part))
        (photos(p, &now, part))
    };
    Ok(Frame::new("parts", title, body))
}

fn card(p: &Page<'_>, name: &str, figure: Option<&tare_app::Figure>) -> Markup {
    html! { div.card { h2 { (name) } p.big { @match figure { Some(figure) => { a.n href=(p.reason(&figure.address)) { (figure.text) } }, None => "not known" } } } }
}

fn link(p: &Page<'_>, record: &Record) -> String {
    format!("{}?of=@{}", p.at("part"), record.id)
}

fn above(p: &Page<'_>, now: &Now, addresses: &Addresses<'_>, part: &Record) -> Markup {
    let mut way: Vec<&Record> = now.document.ancestors(part.id).filter_map(|id| now.document.get(id)).collect();
    way.reverse();
    html! { @for record in way { a href=(link(p, record)) { (addresses.of(record.id)) } " / " } }
}

/// Every field a record may hold, to be changed where it stands.
fn fields(p: &Page<'_>, view: &RecordView, record: &Record) -> Markup {
    let _ = p;
    let shown = record.kind.schema().fields.iter().filter(|(field, ..)| !matches!(field, Field::File | Field::Cell | Field::Raw));
    html! {
        dl.fields {
            @for (field, kind, _) in shown {
                @let text = view.fields.get(field.word()).map(String::as_str).unwrap_or_default();
                @let target = format!("@{}/{}", record.id, field.word());
                @let label = field.word().replace('_', " ");
                div {
                    dt { (label) }
                    dd { @match kind {
                        tare_app::FieldType::Word(words) => { (choosable(&target, text, &label, words)) },
                        tare_app::FieldType::Flag => { (choosable(&target, text, &label, &["yes", "no"])) },
                        _ => { (changeable(&target, text, &label)) },
                    } }
                }
            }
            @for field in [Field::File, Field::Cell, Field::Raw] {
                @if let Some(text) = view.fields.get(field.word()) { div { dt { (field.word()) } dd dir="auto" { (text) } } }
            }
        }
    }
}

fn values(p: &Page<'_>, now: &Now, addresses: &Addresses<'_>, part: &Record, item: Option<&Record>) -> Markup {
    let subjects: Vec<&Record> = [Some(part), item].into_iter().flatten().collect();
    let rows: Vec<_> = subjects
        .iter()
        .flat_map(|s| {
            let view = view::record_view(&now.document, addresses, s);
            view.values.into_iter().map(move |value| (s.id, value))
        })
        .collect();
    html! {
        @if rows.is_empty() { p.none { "No value is stated yet." } }
        @else { div.scroll tabindex="0" role="region" aria-label="Values" { table.grid {
            thead { tr { th scope="col" { "Quantity" } th scope="col" { "As stated" } th scope="col" { "Evidence" } th scope="col" { "Source" } th scope="col" { "Who and when" } } }
            tbody { @for (subject, value) in &rows { tr {
                th scope="row" { (value.quantity.replace('_', " ")) @if value.chosen { " " span.tag { "chosen" } } }
                td { (changeable(&format!("@{}/text", value.id), &value.text, &value.quantity)) @if !value.state.is_empty() { " " small { (value.state) } } @if let Some(n) = value.number { " " small { (n) " pieces together" } } }
                td { (choosable(&format!("@{}/evidence", value.id), &value.evidence, "evidence", &["measured", "derived", "handbook", "quoted", "assumed"])) }
                td { (changeable(&format!("@{}/source", value.id), &value.source, "source")) }
                td dir="auto" { (value.who) " " small { (value.when) } @let _ = subject; }
            } } }
        } } }
        form.add-value data-subject={ "@" (item.unwrap_or(part).id) } {
            label for="quantity" { "Another value" }
            input id="quantity" name="quantity" list="quantities" placeholder="mass" autocomplete="off" required;
            input name="text" aria-label="Value with unit" placeholder="7.5 kg +- 5 g" autocomplete="off" required;
            select name="evidence" aria-label="Evidence" { @for word in ["measured", "derived", "handbook", "quoted", "assumed"] { option { (word) } } }
            button type="submit" { "Add" }
            datalist id="quantities" { @for q in tare_app::calculations::quantities(&now.library) { option value=(q.name) {} } }
        }
        @let _ = p;
    }
}

fn children(p: &Page<'_>, now: &Now, addresses: &Addresses<'_>, part: &Record) -> Markup {
    let rows: Vec<&Record> = now.document.of_kind(Some(part.id), Kind::Part).collect();
    html! { @if !rows.is_empty() { section { h2 { "What is in it" } ul.due {
        @for child in rows {
            @let name = child.refers(Field::Item).and_then(|i| now.document.get(i)).and_then(|i| i.text(Field::Name)).unwrap_or_default();
            li { a href=(link(p, child)) dir="auto" { (addresses.of(child.id)) " " (name) } " " small { (child.number(Field::Count).unwrap_or(1.0)) " x" } }
        }
    } } } }
}

/// How it is made: operations and features with their calculations and inputs.
fn work(p: &Page<'_>, now: &Now, addresses: &Addresses<'_>, item: Option<&Record>) -> Markup {
    let Some(item) = item else { return html! {} };
    let steps: Vec<&Record> =
        [Kind::Operation, Kind::Feature].into_iter().flat_map(|kind| now.document.of_kind(Some(item.id), kind)).collect();
    html! { @if !steps.is_empty() { section { h2 { "How it is made" } @for step in steps {
        @let view = view::record_view(&now.document, addresses, step);
        @let key = step.text(Field::Calculation).unwrap_or_default();
        details.group open {
            summary { (step.text(Field::Name).unwrap_or(&view.address)) }
            p.of { a href={ (p.at("calculation")) "?key=" (crate::api::encoded(key)) } { (key) } }
            table.grid.slim { tbody { @for value in &view.values { tr {
                th scope="row" { (value.quantity.replace('_', " ")) }
                td { (changeable(&format!("@{}/text", value.id), &value.text, &value.quantity)) }
                td { (value.evidence) " " small { (value.source) } }
            } } } }
        }
    } } } }
}

fn joints(p: &Page<'_>, now: &Now, addresses: &Addresses<'_>, part: &Record) -> Markup {
    let held: Vec<&Record> =
        now.document.of_kind(None, Kind::Joint).filter(|j| j.all_refers(Field::Parts).contains(&part.id)).collect();
    html! { @if !held.is_empty() { section { h2 { "Joints" } ul.due { @for joint in held {
        @let others: Vec<String> = joint.all_refers(Field::Parts).iter().filter(|id| **id != part.id).map(|id| addresses.of(*id)).collect();
        li { a href={ (p.at("joints")) } { (addresses.of(joint.id)) } " " (joint.text(Field::Name).unwrap_or_default()) " " small { "with " (others.join(", ")) } }
    } } } } }
}

fn photos(p: &Page<'_>, now: &Now, part: &Record) -> Markup {
    let shown: Vec<&Record> =
        now.document.of_kind(None, Kind::Photo).filter(|photo| photo.all_refers(Field::Parts).contains(&part.id)).collect();
    html! { section {
        h2 { "Photos" }
        div.photos { @for photo in &shown { (super::record::tile(p, photo)) } }
        @if shown.is_empty() { p.none { "No photo shows it yet." } }
        (super::record::upload(Some(part)))
    } }
}
