//! The first page on paper: what it is, under which conditions its totals hold, what to beware of, what is in it and what is not.

use super::setting::Setting;
use super::{SECTIONS, is_there, summary};
use crate::Contained;
use maud::{Markup, html};

/// The top of the page. On paper it fills the first page; on screen it is the head of the report.
pub(crate) fn cover(s: &Setting<'_>) -> Markup {
    html! {
        div.cover {
            (summary::masthead(s))
            p.paper.boundary { b { "Totals contain. " } (boundary_line(s)) }
            (summary::hazards(s))
            (left_out(s))
            (contents(s))
        }
    }
}

/// The head of a summary that stands alone: as much of the cover as a page with numbers has to say.
pub(crate) fn head(s: &Setting<'_>) -> Markup {
    html! { div.head { (summary::masthead(s)) (summary::hazards_in_short(s)) } }
}

/// The boundary in one line.
fn boundary_line(s: &Setting<'_>) -> String {
    let of = |state: Contained| -> Vec<&str> {
        s.report.boundary.iter().filter(|b| b.state == state).map(|b| b.topic.as_str()).collect()
    };
    let said: Vec<String> = [Contained::In, Contained::Out, Contained::Unknown]
        .into_iter()
        .map(|state| (state, of(state)))
        .filter(|(_, topics)| !topics.is_empty())
        .map(|(state, topics)| format!("{}: {}", super::setting::capital(state.word()), topics.join(", ")))
        .collect();
    if said.is_empty() { "Nobody has recorded what is in and what is out.".to_owned() } else { format!("{}.", said.join(". ")) }
}

/// What somebody chose to leave out, and what stays on screen.
fn left_out(s: &Setting<'_>) -> Markup {
    let r = s.report;
    let on_screen = r.reasons_off_paper && r.printing.has("reasons");
    let titles: Vec<&str> = SECTIONS.iter().filter(|x| is_there(r, x.id) && !r.printing.has(x.id)).map(|x| x.title).collect();
    html! {
        @if !titles.is_empty() { p.note.left-out { b { "Left out of this report: " } (titles.join(", ")) "." } }
        @if on_screen { p.note.paper { "How every number came about is in the HTML file of this report, not on paper." } }
    }
}

fn contents(s: &Setting<'_>) -> Markup {
    html! {
        nav.paper.toc aria-label="Contents on paper" {
            h2 { "Contents" }
            ol {
                @for x in SECTIONS.iter().filter(|x| s.report.printing.has(x.id) && is_there(s.report, x.id)) {
                    @if !(x.id == "reasons" && s.report.reasons_off_paper) { li { a.ref href={ "#" (x.id) } { (x.title) } } }
                }
            }
        }
    }
}
