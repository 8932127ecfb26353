//! Single sections of a report for pages that have links of their own.

use super::setting::Setting;
use super::{SECTIONS, finish, summary};
use crate::{Report, anchor};
use maud::html;

/// Where a link of a section leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link<'a> {
    /// The reason of a number, by the address of its line.
    Reason(&'a str),
    /// A part, by the id its row has in the report.
    Part(&'a str),
    /// A photo, by the id it has in the report.
    Photo(&'a str),
    /// Another place of the report, by its element id.
    Place(&'a str),
}

/// Prints sections of a report, by their element ids in the order asked for, with `link` in place of links within the page.
///
/// All text is escaped; there is no script, and styles are those of [`crate::page_style`]. An id that no section has prints nothing.
pub fn sections(report: &Report, ids: &[&str], link: impl Fn(Link<'_>) -> String) -> String {
    let s = Setting::new(report);
    let printed = html! {
        @for id in ids {
            @if *id == "hazards" { (summary::hazards(&s)) }
            @for section in SECTIONS.iter().filter(|section| section.id == *id) { ((section.print)(&s)) }
        }
    };
    relinked(&finish::plain(&printed.into_string()), report, link)
}

/// Links within the page given their own targets. Element ids need no escaping, and `href="#` stands nowhere else: quotes in text are escaped.
fn relinked(html: &str, report: &Report, link: impl Fn(Link<'_>) -> String) -> String {
    const BEFORE: &str = "href=\"#";
    let reason = |id: &str| id.strip_prefix('R')?.parse::<usize>().ok()?.checked_sub(1).and_then(|n| report.reasons.get(n));
    let mut out = String::with_capacity(html.len() + html.len() / 4);
    let mut rest = html;
    while let Some((before, behind)) = rest.split_once(BEFORE) {
        let (id, after) = behind.split_once('"').unwrap_or((behind, ""));
        let (part, photo) = (anchor::address("part", id), anchor::address("photo", id));
        let target = match (reason(id), &part, &photo) {
            (Some(reason), _, _) => Link::Reason(&reason.anchor),
            (_, Some(part), _) => Link::Part(part),
            (_, _, Some(photo)) => Link::Photo(photo),
            _ => Link::Place(id),
        };
        out.push_str(before);
        out.push_str("href=\"");
        out.push_str(&html! { (link(target)) }.into_string());
        out.push('"');
        rest = after;
    }
    out.push_str(rest);
    out
}
