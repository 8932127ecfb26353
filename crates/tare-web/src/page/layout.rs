//! The frame around every page.

use super::Page;
use maud::{DOCTYPE, Markup, html};

/// Pages of the desk by what one does there: heading, then path and title.
const PLACES: [(&str, &[(&str, &str)]); 5] = [
    (
        "Record",
        &[
            ("parts", "Parts"),
            ("joints", "Joints"),
            ("photos", "Photos"),
            ("findings", "Findings"),
            ("holds", "Holds"),
            ("labels", "Labels"),
        ],
    ),
    (
        "Results",
        &[
            ("cost", "Cost"),
            ("tools", "Tools"),
            ("mass", "Mass"),
            ("time", "Time"),
            ("ranges", "Ranges"),
            ("evidence", "Evidence"),
        ],
    ),
    ("Basis", &[("rates", "Rates"), ("quotes", "Quotes"), ("calculations", "Calculations"), ("boundary", "Boundary")]),
    (
        "Decide",
        &[
            ("ideas", "Ideas"),
            ("compare", "Compare"),
            ("ask", "Ask"),
            ("todo", "What to find out"),
            ("whatif", "What if"),
            ("reviews", "Reviews"),
        ],
    ),
    ("Log", &[("history", "History"), ("messages", "Messages"), ("report", "Report")]),
];

/// A page's own content and what it needs.
pub(super) struct Frame {
    pub(super) title: String,
    /// The path under the study, for the list of pages.
    pub(super) place: &'static str,
    pub(super) body: Markup,
    /// Further style sheets and modules, by name.
    pub(super) styles: &'static [&'static str],
    pub(super) modules: &'static [&'static str],
    /// Whether the page's content follows others' changes by itself.
    pub(super) follows: bool,
    /// Whether it takes the whole width.
    pub(super) wide: bool,
    /// Whether the list of pages is left out: at the bench every line of the screen counts.
    pub(super) slim: bool,
}

impl Frame {
    pub(super) fn new(place: &'static str, title: impl Into<String>, body: Markup) -> Self {
        Self { title: title.into(), place, body, styles: &[], modules: &[], follows: true, wide: false, slim: false }
    }

    pub(super) fn print(self, p: &Page<'_>) -> String {
        let (entry, computed) = (p.now.head, p.now.computed);
        let base = p.at("");
        let api = base.trim_end_matches('/').replacen("/s/", "/api/studies/", 1);
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                (head(&format!("{} - {}", self.title, p.study.name), self.styles, &[&["live.js", "edit.js"], self.modules].concat()))
                body data-study=(p.study.name) data-api=(api) data-base=(base.trim_end_matches('/')) data-head=(entry) data-computed=(computed) data-author=(p.state.author) {
                    a.skip href="#main" { "Skip to the page" }
                    header.top {
                        a.study href=(base.trim_end_matches('/')) dir="auto" { (p.study.name) }
                        @if !self.slim { nav aria-label="Pages" {
                            @for (heading, places) in PLACES {
                                div.places {
                                    span.heading { (heading) }
                                    ul {
                                        @for (path, title) in places {
                                            li { a href=(p.at(path)) aria-current=[(*path == self.place).then_some("page")] { (title) } }
                                        }
                                    }
                                }
                            }
                        } }
                        div.aside {
                            @if self.slim { a.bench-link href=(base.trim_end_matches('/')) { "Desk" } }
                            @else { a.bench-link href=(p.at("bench")) { "Bench" } }
                            @if !self.slim { p.as { "as " button id="me" type="button" title="Who records here" dir="auto" { (p.state.author) } } }
                            p id="live" role="status" aria-live="polite" { @if let Some(trouble) = &p.now.trouble { (trouble) } @else if computed < entry { "computing" } }
                        }
                    }
                    main id="main" class=[self.wide.then_some("wide")] data-live=[self.follows.then_some("reload")] tabindex="-1" { (self.body) }
                    footer.foot { p { "Measured, quoted and assumed values are marked as such. Local codes and qualified persons decide how work on high voltage, cells and heavy parts is done." } }
                }
            }
        };
        page.into_string()
    }
}

/// What the browser is told before the page: title, style sheets and modules by name.
fn head(title: &str, styles: &[&str], modules: &[&str]) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) }
            link rel="icon" href="/assets/icon.svg" type="image/svg+xml";
            @for style in ["report.css", "base.css"].iter().chain(styles) { link rel="stylesheet" href={ "/assets/" (style) }; }
            @for module in modules { script type="module" src={ "/assets/" (module) } {} }
        }
    }
}

/// Pages over all studies: path and title.
const ACROSS: [(&str, &str); 3] = [("", "Studies"), ("compare", "Compare"), ("ask", "Ask")];

/// A page over all studies of the workspace.
pub(super) fn across(title: &str, place: &str, body: &Markup, styles: &[&str], modules: &[&str]) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head(title, styles, modules))
            body data-api="/api" data-base="" {
                a.skip href="#main" { "Skip to the page" }
                header.top {
                    a.study href="/" { "All studies" }
                    nav aria-label="Pages" { div.places { ul { @for (path, title) in ACROSS {
                        li { a href={ "/" (path) } aria-current=[(path == place).then_some("page")] { (title) } }
                    } } } }
                }
                main id="main" data-live="reload" tabindex="-1" { (body) }
                footer.foot { p { "Measured, quoted and assumed values are marked as such. Local codes and qualified persons decide how work on high voltage, cells and heavy parts is done." } }
            }
        }
    };
    page.into_string()
}

/// A page outside any study.
pub(super) fn bare(title: &str, body: Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (head(title, &[], &[]))
            body { main id="main" { (body) } }
        }
    };
    page.into_string()
}

/// Something that can be changed where it stands: shown as text, a press or Enter makes a field of it.
pub(super) fn changeable(target: &str, text: &str, label: &str) -> Markup {
    html! {
        button.change type="button" data-target=(target) data-from=(text) aria-label={ (label) ": " @if text.is_empty() { "nothing yet" } @else { (text) } ", change" } dir="auto" {
            @if text.is_empty() { span.none { "nothing yet" } } @else { (text) }
        }
    }
}

/// The same for a word out of some.
pub(super) fn choosable(target: &str, text: &str, label: &str, words: &[&str]) -> Markup {
    html! {
        select.change data-target=(target) data-from=(text) aria-label=(label) {
            @if text.is_empty() { option value="" selected { "nothing yet" } }
            @for word in words { option value=(word) selected[*word == text] { (word) } }
        }
    }
}
