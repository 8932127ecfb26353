//! The last pass over a printed page: figures and tables get their numbers in the order in which they stand, links without a target lose it.
//!
//! Numbers are given here and not while sections are printed, because a section may print its table before the chart above it.

use std::collections::{BTreeMap, HashSet};
use std::fmt::Write;

/// What a thing with a number is called.
const WORDS: [&str; 2] = ["Figure", "Table"];
/// The mark a caption begins with. Text of people is escaped, so that none of it reads like this.
const MARK: &str = "<b class=\"no\"";

/// The mark before the caption of a figure; a chart that is kept for a file of its own has a key.
pub(crate) fn figure(key: Option<usize>) -> maud::Markup {
    maud::html! { b.no data-k=[key] { "Figure" } " " }
}

/// The mark before the caption of a table.
pub(crate) fn table() -> maud::Markup {
    maud::html! { b.no { "Table" } " " }
}

/// A chart of a finished page: its key, its number, and the section it stands in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Place {
    pub(crate) key: usize,
    pub(crate) number: usize,
    pub(crate) section: String,
}

/// The page with its numbers, and where charts with a key stand; links to places of which it is known say on which page of paper they are.
pub(crate) fn numbered(html: &str, pages: &BTreeMap<String, usize>) -> (String, Vec<Place>) {
    let ids: HashSet<&str> = html.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let mut out = String::with_capacity(html.len() + 4096);
    let (mut rest, mut counts, mut section, mut places) = (html, [0_usize; 2], "", Vec::new());
    while let Some(at) = rest.find(['<', ' ']) {
        // only the few places that matter are looked at: a mark, a section, a link within the page
        let (before, here) = rest.split_at(at);
        out.push_str(before);
        if let Some(after) = here.strip_prefix(MARK)
            && let Some((inside, after)) = after.split_once("</b>")
            && let Some((attributes, word)) = inside.split_once('>')
            && let Some(kind) = WORDS.iter().position(|w| *w == word)
        {
            counts[kind] += 1;
            let _ = write!(out, "{MARK}>{word} {}</b>", counts[kind]);
            let key = attributes.split('"').nth(1).and_then(|k| k.parse().ok());
            places.extend(key.map(|key| Place { key, number: counts[kind], section: section.to_owned() }));
            rest = after;
            continue;
        }
        if let Some(after) = here.strip_prefix(" href=\"#")
            && let Some((id, after)) = after.split_once('"')
        {
            if ids.contains(id) {
                let _ = write!(out, " href=\"#{id}\"");
                if let Some(page) = pages.get(id) {
                    let _ = write!(out, " data-p=\"{page}\"");
                }
            }
            rest = after;
            continue;
        }
        if here.starts_with("<section")
            && let Some(id) =
                here.split('>').next().and_then(|tag| tag.split(" id=\"").nth(1)).and_then(|id| id.split('"').next())
        {
            section = id;
        }
        let mut chars = here.chars();
        out.extend(chars.next());
        rest = chars.as_str();
    }
    out.push_str(rest);
    (out, places)
}

/// A piece of a page without its numbers: one that stands among others on a page of somebody else.
pub(crate) fn plain(html: &str) -> String {
    let mut out = String::with_capacity(html.len());
    let mut rest = html;
    while let Some((before, behind)) = rest.split_once(MARK) {
        out.push_str(before);
        let after = behind.split_once("</b>").map_or("", |(_, after)| after);
        rest = after.strip_prefix(' ').unwrap_or(after);
    }
    out.push_str(rest);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_and_tables_count_apart_in_the_order_they_stand() {
        let page = "<section id=\"a\"><b class=\"no\">Table</b> x<b class=\"no\" data-k=\"7\">Figure</b> y</section>\
                    <section class=\"z\" id=\"b\"><b class=\"no\" data-k=\"2\">Figure</b> z<b class=\"no\">Table</b></section>";
        let (html, places) = numbered(page, &BTreeMap::new());
        assert_eq!(
            html,
            "<section id=\"a\"><b class=\"no\">Table 1</b> x<b class=\"no\">Figure 1</b> y</section>\
             <section class=\"z\" id=\"b\"><b class=\"no\">Figure 2</b> z<b class=\"no\">Table 2</b></section>"
        );
        let found: Vec<_> = places.iter().map(|p| (p.key, p.number, p.section.as_str())).collect();
        assert_eq!(found, [(7, 1, "a"), (2, 2, "b")]);
        assert_eq!(plain("<b class=\"no\" data-k=\"2\">Figure</b> z"), "z");
    }

    #[test]
    fn a_link_to_nothing_is_no_link() {
        let page = "<p id=\"a\"><a class=\"ref\" href=\"#a\">in</a><a class=\"ref\" href=\"#b\">out</a></p>";
        let none = BTreeMap::new();
        assert_eq!(numbered(page, &none).0, "<p id=\"a\"><a class=\"ref\" href=\"#a\">in</a><a class=\"ref\">out</a></p>");
        let pages = [("a".to_owned(), 7), ("b".to_owned(), 8)].into_iter().collect();
        assert_eq!(
            numbered(page, &pages).0,
            "<p id=\"a\"><a class=\"ref\" href=\"#a\" data-p=\"7\">in</a><a class=\"ref\">out</a></p>"
        );
    }
}
