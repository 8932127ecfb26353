//! The report as one HTML file that needs nothing else.

mod cost;
mod evidence;
mod fragment;
mod mass;
mod parts;
mod ranges;
mod reasons;
mod record;
mod setting;
mod summary;
mod table;
mod work;

use crate::Report;
use crate::chart::STYLE;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use setting::Setting;

pub use fragment::{Link, sections};

/// The style of the page, charts included; it names no element by a tag that another page would not have in the same role.
pub fn page_style() -> String {
    format!("{}{STYLE}", include_str!("page/style.css"))
}

/// Sections in order: id, title in the contents.
const SECTIONS: [(&str, &str); 19] = [
    ("summary", "Summary"),
    ("drivers", "What drives the cost"),
    ("findings", "Findings"),
    ("holds", "Holds"),
    ("cost", "Should-cost"),
    ("tools", "Tools"),
    ("routes", "Second routes"),
    ("boundary", "Boundary"),
    ("mass", "Mass"),
    ("parts", "Parts"),
    ("joints", "Joints"),
    ("time", "Assembly time"),
    ("photos", "Photos"),
    ("evidence", "Evidence"),
    ("ranges", "Ranges"),
    ("differs", "Values that differ"),
    ("messages", "Messages"),
    ("methods", "Methods"),
    ("sources", "Sources"),
];

/// Prints a report as one self-contained HTML page.
///
/// The same report gives the same bytes. All text is escaped; the page loads nothing from anywhere.
pub fn html(report: &Report) -> String {
    let s = Setting::new(report);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                title { (report.title) }
                style { (PreEscaped(include_str!("page/style.css"))) (PreEscaped(STYLE)) }
            }
            body {
                a.skip href="#main" { "Skip to the report" }
                div.frame {
                    (contents())
                    main id="main" {
                        (summary::masthead(&s))
                        (summary::hazards(&s))
                        (summary::section(&s))
                        (summary::drivers(&s))
                        (record::findings(&s))
                        (record::holds(&s))
                        (cost::section(&s))
                        (cost::tools(&s))
                        (cost::routes(&s))
                        (summary::boundary(&s))
                        (mass::section(&s))
                        (parts::section(&s))
                        (work::joints(&s))
                        (work::time(&s))
                        (parts::photos(&s))
                        (evidence::section(&s))
                        (ranges::section(&s))
                        (record::differs(&s))
                        (record::messages(&s))
                        (evidence::methods(&s))
                        (evidence::sources(&s))
                        (reasons::section(&s))
                    }
                }
                script { (PreEscaped(include_str!("page/page.js"))) }
            }
        }
    };
    page.into_string()
}

fn contents() -> Markup {
    html! {
        nav.contents aria-label="Contents" {
            p { a href="#top" { "Contents" } }
            ul {
                @for (id, title) in SECTIONS { li { a href={ "#" (id) } { (title) } } }
                li { a href="#reasons" { "Reasons" } }
            }
        }
    }
}
