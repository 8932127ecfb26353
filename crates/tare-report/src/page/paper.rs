//! Page size and what stands in the margins of each printed page.

use crate::{Paper, Report, SMALLEST};
use std::fmt::Write;

/// Size of text on paper, in pixels of a 96th of an inch.
const TEXT: f64 = 11.4;

/// The rules of the page: its size, and in the margins title, state and page number.
pub(crate) fn margins(report: &Report) -> String {
    let c = &report.scenario;
    let state: Vec<&str> =
        [&report.cover.release, &c.state, &report.cover.date].into_iter().map(String::as_str).filter(|t| !t.is_empty()).collect();
    let invented = if report.invented.is_some() { "invented or illustrative data" } else { "" };
    // a cover is as high as the page between its margins, less a little for rounding
    let sheet = match report.printing.paper {
        Paper::A4 => 258,
        Paper::Letter => 240,
    };
    let text_size = TEXT * (1.0 - 0.05 * f64::from(report.printing.smaller.min(SMALLEST)));
    format!(
        "@media print{{html{{font-size:{text_size:.2}px}}:root{{--sheet:{sheet}mm}}}}@page{{size:{};@top-left{{content:{}}}@top-right{{content:{}}}@bottom-left{{content:{}}}}}",
        report.printing.paper.word(),
        text(&report.title),
        text(invented),
        text(&state.join(", "))
    )
}

/// The rule of a page without margins of a size of paper.
pub(crate) fn bare(paper: Paper) -> String {
    format!("@page{{size:{};margin:0}}", paper.word())
}

/// A text as a string of a style sheet. Every character that could end it, or the element it stands in, is written by its number.
fn text(words: &str) -> String {
    let mut out = String::from("\"");
    for c in words.chars().take(120) {
        if c.is_alphanumeric() || matches!(c, ' ' | ',' | '.' | '-' | '(' | ')' | ':' | '/') {
            out.push(c);
        } else {
            let _ = write!(out, "\\{:x} ", u32::from(c));
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_title_leaves_its_string() {
        let bad = "a\"}</style><script>\n\\";
        let report = Report { title: bad.to_owned(), ..Report::default() };
        let style = margins(&report);
        assert!(!style.contains('<') && !style.contains('\n'), "{style}");
        assert_eq!(style.matches('"').count(), 6, "{style}");
        assert_eq!(style.matches('\\').count(), 8, "quote, brace, four pointed brackets, line end, backslash: {style}");
    }
}
