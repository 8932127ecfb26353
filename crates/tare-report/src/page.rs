//! The report as one HTML file that needs nothing else.

mod compare;
mod cost;
mod evidence;
mod fragment;
mod ideas;
mod mass;
mod parts;
mod ranges;
mod reasons;
mod record;
mod setting;
mod summary;
mod table;
mod work;

use crate::chart::STYLE;
use crate::{Comparison, Report};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use setting::Setting;

pub use fragment::{Link, sections};

/// The style of the page, charts included; it names no element by a tag that another page would not have in the same role.
pub fn page_style() -> String {
    format!("{}{STYLE}", include_str!("page/style.css"))
}

/// Sections in order: id, title in the contents.
const SECTIONS: [(&str, &str); 21] = [
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
    ("ideas", "Ideas"),
    ("compare", "Comparison"),
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
    let left_off = |id: &str| match id {
        "ideas" => report.ideas.is_none(),
        "compare" => report.comparison.is_none(),
        _ => false,
    };
    let places = SECTIONS.into_iter().filter(|(id, _)| !left_off(id)).chain([("reasons", "Reasons")]);
    let main = html! {
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
        @if report.ideas.is_some() { (ideas::section(&s)) }
        @if report.comparison.is_some() { (compare::section(&s)) }
        (record::differs(&s))
        (record::messages(&s))
        (evidence::methods(&s))
        (evidence::sources(&s))
        (reasons::section(&s))
    };
    page(&report.title, &contents(places), &main)
}

/// Prints a comparison as one self-contained HTML page in the look of the report; `invented` says so where its data is invented.
///
/// The same comparison gives the same bytes. All text is escaped; the page loads nothing from anywhere. Numbers link to nothing, as the
/// page holds no reasons.
pub fn comparison_html(title: &str, comparison: &Comparison, invented: Option<&str>) -> String {
    let report = Report {
        title: title.to_owned(),
        invented: invented.map(str::to_owned),
        comparison: Some(comparison.clone()),
        ..Report::default()
    };
    let s = Setting::new(&report);
    let main = html! {
        (summary::masthead(&s))
        aside.hazards aria-labelledby="hazards-title" {
            h2 id="hazards-title" { "Hazards" }
            p {
                "A comparison of cost, mass and time says nothing about hazards. High voltage, heat, gas, pressure and heavy parts can injure \
                 or kill; local codes and qualified persons decide whether, where and how products are taken apart, changed or combined."
            }
        }
        (compare::section(&s))
    };
    page(title, &contents(compare::parts(comparison)), &main)
}

/// A page that needs nothing else.
fn page(title: &str, contents: &Markup, main: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                title { (title) }
                style { (PreEscaped(include_str!("page/style.css"))) (PreEscaped(STYLE)) }
            }
            body {
                a.skip href="#main" { "Skip to the report" }
                div.frame {
                    (contents)
                    main id="main" { (main) }
                }
                script { (PreEscaped(include_str!("page/page.js"))) }
            }
        }
    };
    page.into_string()
}

fn contents(places: impl Iterator<Item = (&'static str, &'static str)>) -> Markup {
    html! {
        nav.contents aria-label="Contents" {
            p { a href="#top" { "Contents" } }
            ul { @for (id, title) in places { li { a href={ "#" (id) } { (title) } } } }
        }
    }
}
