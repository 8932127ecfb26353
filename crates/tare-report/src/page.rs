//! The report as one HTML file that needs nothing else.

mod compare;
mod cost;
mod cover;
mod evidence;
mod finish;
mod fragment;
mod ideas;
mod mass;
mod paper;
mod parts;
mod ranges;
mod reasons;
mod record;
mod setting;
mod summary;
mod table;
mod work;

use crate::chart::{STYLE, standalone};
use crate::{Comparison, Report};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use setting::Setting;

pub use fragment::{Link, sections};
pub(crate) use paper::bare as margins_of;
pub(crate) use parts::{is_picture, pin};

/// The style of the page, charts included; it names no element by a tag that another page would not have in the same role.
pub fn page_style() -> String {
    format!("{}{STYLE}", include_str!("page/style.css"))
}

/// A section of the report.
struct Section {
    /// Its element id, and its name where sections are chosen.
    id: &'static str,
    /// Its title in the contents.
    title: &'static str,
    print: fn(&Setting<'_>) -> Markup,
}

const fn section(id: &'static str, title: &'static str, print: fn(&Setting<'_>) -> Markup) -> Section {
    Section { id, title, print }
}

/// Sections in order.
const SECTIONS: [Section; 22] = [
    section("summary", "Summary", summary::section),
    section("drivers", "What drives the cost", summary::drivers),
    section("findings", "Findings", record::findings),
    section("holds", "Holds", record::holds),
    section("cost", "Should-cost", cost::section),
    section("tools", "Tools", cost::tools),
    section("routes", "Second routes", cost::routes),
    section("boundary", "Boundary", summary::boundary),
    section("mass", "Mass", mass::section),
    section("parts", "Parts", parts::section),
    section("joints", "Joints", work::joints),
    section("time", "Assembly time", work::time),
    section("photos", "Photos", parts::photos),
    section("evidence", "Evidence", evidence::section),
    section("ranges", "Ranges", ranges::section),
    section("ideas", "Ideas", ideas::section),
    section("compare", "Comparison", compare::section),
    section("differs", "Values that differ", record::differs),
    section("messages", "Messages", record::messages),
    section("methods", "Methods", evidence::methods),
    section("sources", "Sources", evidence::sources),
    section("reasons", "Reasons", reasons::section),
];

/// Names of the sections with their titles, in their order.
pub fn section_names() -> impl Iterator<Item = (&'static str, &'static str)> {
    SECTIONS.iter().map(|s| (s.id, s.title))
}

/// Whether the report has a section at all: some nobody asked for.
fn is_there(report: &Report, id: &str) -> bool {
    let on_its_way = report.printing.computing.contains(id);
    match id {
        "ideas" => report.ideas.is_some() || on_its_way,
        "compare" => report.comparison.is_some() || on_its_way,
        _ => true,
    }
}

/// Prints a report as one self-contained HTML page: the sections chosen, or all.
///
/// Figures and tables are numbered in the order in which they stand. The same report gives the same bytes. All text is escaped; the page
/// loads nothing from anywhere.
pub fn html(report: &Report) -> String {
    numbered_page(&Setting::new(report)).0
}

/// Every chart of the page that [`html()`] prints, as a drawing of its own, in the order of their numbers; `width` is that of a wide one.
pub fn figures(report: &Report, width: f64) -> Vec<FigureFile> {
    let s = Setting::collecting(report, width);
    let (_, places) = numbered_page(&s);
    let drawn = s.drawn();
    let title = |id: &str| SECTIONS.iter().find(|s| s.id == id).map_or_else(|| id.to_owned(), |s| s.title.to_owned());
    let file = |place: &finish::Place| {
        let one = drawn.get(place.key)?;
        let section = title(&place.section);
        let says = format!("Figure {} of the report on {}, section {section}. {}", place.number, report.title, one.says);
        let svg = standalone(&one.svg, &one.title, &says);
        Some(FigureFile { number: place.number, title: one.title.clone(), section, svg })
    };
    places.iter().filter_map(file).collect()
}

/// A chart as a file of its own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FigureFile {
    /// Its number in the report.
    pub number: usize,
    /// What it shows.
    pub title: String,
    /// The title of the section it stands in.
    pub section: String,
    /// The drawing; it needs nothing beside it.
    pub svg: String,
}

fn numbered_page(s: &Setting<'_>) -> (String, Vec<finish::Place>) {
    let report = s.report;
    let printed = |x: &&Section| report.printing.has(x.id) && is_there(report, x.id);
    let main = html! {
        @if report.printing.summary_alone { (cover::head(s)) } @else { (cover::cover(s)) }
        @for x in SECTIONS.iter().filter(printed) {
            @match (report.printing.computing.contains(x.id), x.id) {
                (false, _) => { ((x.print)(s)) },
                (true, "ideas" | "compare" | "ranges") => { (on_its_way(x)) },
                (true, _) => {
                    ((x.print)(s))
                    p.none { "More of this section is being computed; this file is written again when it is done." }
                },
            }
        }
    };
    let places = SECTIONS.iter().filter(printed).map(|x| (x.id, x.title));
    finish::numbered(&page(report, &contents(places), &main), &report.printing.pages)
}

/// What stands in place of a section whose numbers are not there yet.
fn on_its_way(section: &Section) -> Markup {
    html! {
        section id=(section.id) {
            h2 { (section.title) }
            p.none { "Being computed for this state of the study; this file is written again when it is done." }
        }
    }
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
    finish::numbered(&page(&report, &contents(compare::parts(comparison)), &main), &report.printing.pages).0
}

/// A page that needs nothing else.
fn page(report: &Report, contents: &Markup, main: &Markup) -> String {
    let brief = report.printing.summary_alone;
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
                style { (PreEscaped(include_str!("page/style.css"))) (PreEscaped(STYLE)) (PreEscaped(paper::margins(report))) }
            }
            body class=[brief.then_some("brief")] {
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
