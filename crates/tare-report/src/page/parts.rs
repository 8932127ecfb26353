//! The indented parts list and the photos.

use super::setting::Setting;
use super::table::{Kind, Table, text};
use crate::{Callout, PartRow, Photo};
use maud::{Markup, html};

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let columns = [
        ("Part", Kind::Name),
        ("Count", Kind::Number),
        ("Mass", Kind::Number),
        ("Cost", Kind::Number),
        ("Material", Kind::Text),
        ("Process", Kind::Text),
        ("Photos", Kind::Word),
        ("Review", Kind::Word),
    ];
    let mut table = Table::new("Parts list", &columns).class("tree");
    let rows = &s.report.parts;
    for (n, part) in rows.iter().enumerate() {
        let parent = rows.get(n + 1).is_some_and(|next| next.level > part.level);
        let class = match (part.level, parent) {
            (0, _) => "product",
            (_, true) => "assembly",
            _ => "",
        };
        let process = match (part.source.is_empty(), part.process.is_empty()) {
            (true, _) => part.process.clone(),
            (false, true) => part.source.clone(),
            (false, false) => format!("{}: {}", part.source, part.process),
        };
        let cells = vec![
            name(part),
            text(&part.count),
            s.maybe(part.mass.as_ref()),
            s.maybe(part.cost.as_ref()),
            text(&part.material),
            text(process),
            s.photo_list(&part.photos),
            text(&part.review),
        ];
        table.branch(s.own_id("part", &part.id), class, part.level, cells);
    }
    html! {
        section id="parts" {
            h2 { "Parts" @if !rows.is_empty() { " " small { (rows.len()) " rows" } } }
            p.note { "Mass and cost of a row are for all its pieces in one parent. A row without a number has none recorded; it is not zero." }
            (table.or_words("No parts are recorded."))
        }
    }
}

fn name(part: &PartRow) -> Markup {
    html! {
        span.ind style={ "--l:" (part.level.min(12)) } {
            @if !part.label.is_empty() { span.tag { (part.label) } " " }
            span.name { (part.name) }
            @if !part.item.is_empty() && part.item != part.name { small { (part.item) } }
            @if !part.note.is_empty() { small { (part.note) } }
        }
    }
}

pub(crate) fn photos(s: &Setting<'_>) -> Markup {
    html! {
        section id="photos" {
            h2 { "Photos" }
            @if s.report.photos.is_empty() { p.none { "No photos are in this report." } }
            div.photos { @for photo in &s.report.photos { (one(s, photo)) } }
        }
    }
}

fn one(s: &Setting<'_>, photo: &Photo) -> Markup {
    let data = photo.data.as_deref().filter(|d| is_picture(d));
    html! {
        figure.photo id=[s.own_id("photo", &photo.id)] {
            @if let Some(data) = data {
                div.picture {
                    img src=(data) alt=(photo.caption) loading="lazy";
                    @for c in &photo.callouts { (pin(c)) }
                }
            } @else { div.no-picture { "The picture is not part of this file." } }
            figcaption {
                (super::finish::figure(None)) (photo.caption) @if !photo.taken.is_empty() { small { (photo.taken) } }
                @if !photo.callouts.is_empty() {
                    ol.callouts {
                        @for c in &photo.callouts { li value=(c.number) { (c.text) @if let Some(part) = &c.part { " " (s.part(part)) } } }
                    }
                }
            }
        }
    }
}

/// The mark of a call-out on its picture.
pub(crate) fn pin(c: &Callout) -> Markup {
    html! { span.pin style={ "left:" (percent(c.x)) "%;top:" (percent(c.y)) "%" } aria-hidden="true" { (c.number) } }
}

fn percent(share: f64) -> String {
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.5 };
    format!("{:.1}", share * 100.0)
}

/// Whether a text is an embedded picture of a kind that holds no script.
pub(crate) fn is_picture(data: &str) -> bool {
    let Some(rest) = data.strip_prefix("data:image/") else { return false };
    let Some((kind, body)) = rest.split_once(";base64,") else { return false };
    matches!(kind, "png" | "jpeg" | "webp" | "gif" | "avif")
        && body.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'+' | b'/' | b'='))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_pictures_are_embedded() {
        assert!(is_picture("data:image/png;base64,iVBORw0KGgo="));
        for bad in [
            "https://example.org/a.png",
            "data:image/svg+xml;base64,AAAA",
            "data:text/html;base64,AAAA",
            "data:image/png;base64,A\"><b",
        ] {
            assert!(!is_picture(bad), "{bad}");
        }
    }
}
