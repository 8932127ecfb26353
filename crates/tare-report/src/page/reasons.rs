//! How each number came about.

use super::setting::Setting;
use crate::{Reason, anchor};
use maud::{Markup, html};

pub(crate) fn section(s: &Setting<'_>) -> Markup {
    let reasons = &s.report.reasons;
    let class = if s.report.reasons_off_paper { "off-paper" } else { "on-paper" };
    html! {
        section.(class) id="reasons" {
            h2 { "Reasons" @if !reasons.is_empty() { " " small { (reasons.len()) " numbers" } } }
            @if reasons.is_empty() { p.none { "No reasons are in this report." } }
            @if !reasons.is_empty() {
                p.note {
                    "Every number of this report with a dotted line under it leads here. A group opens when a number in it is \
                     followed."
                }
            }
            @for group in reasons.chunk_by(|a, b| a.group == b.group) {
                @let name = group.first().map(|g| g.group.as_str()).filter(|g| !g.is_empty()).unwrap_or("Further numbers");
                details.group {
                    summary { (name) " " small { (super::summary::count(group.len(), "number", "numbers")) } }
                    div.reasons { @for reason in group { (one(s, reason)) } }
                }
            }
        }
    }
}

fn one(s: &Setting<'_>, reason: &Reason) -> Markup {
    // what goes in is printed first, so that the link back knows whether anything links here
    let rows: Vec<Markup> = reason
        .rows
        .iter()
        .map(|row| {
            html! { li { code { (row.name) } @if !row.says.is_empty() { small { (row.says) } } span { (s.figure(&row.value)) } } }
        })
        .collect();
    let facts = [("", &reason.evidence), ("as", &reason.spread), ("from", &reason.source), ("", &reason.note)];
    let number = s.number(&reason.anchor);
    // of several reasons with one anchor the first has the number
    let id = number.map(anchor::reason).filter(|id| s.gives(id));
    html! {
        article.reason id=[id] {
            header {
                @if let Some(n) = number { span.tag { "R" (n) } " " }
                h4 { (reason.title) }
                p.result { (reason.result.text) @if let Some(range) = &reason.result.range { small.range { (range.text) } } }
            }
            @if !reason.formula.is_empty() { pre.formula tabindex="0" { code { (reason.formula) } } }
            @if !rows.is_empty() { ul.went-in { @for row in rows { (row) } } }
            p.facts {
                @for (n, (label, value)) in facts.iter().filter(|(_, v)| !v.is_empty()).enumerate() {
                    @if n > 0 { "; " }
                    @if !label.is_empty() { i { (label) " " } }
                    (value)
                }
            }
            footer {
                @if let Some(n) = number.filter(|_| s.is_linked(&reason.anchor)) {
                    a.ref href={ "#" (anchor::first_use(n)) } { "Back to its use" } " "
                }
                code.address { (reason.anchor) }
            }
        }
    }
}
