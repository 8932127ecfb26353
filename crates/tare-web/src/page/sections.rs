//! Pages that are sections of the report, with links to the desk's own pages.

use super::Page;
use super::layout::Frame;
use crate::answer::{Outcome, Wrong, typed};
use axum::http::{HeaderValue, header};
use maud::{PreEscaped, html};
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};
use tare_app::report::{Link, Report, fill, sections};
use tare_app::{Id, report};

/// Pages and the sections they show.
const PAGES: [(&str, &str, &[&str]); 10] = [
    ("cost", "Cost", &["cost", "routes"]),
    ("tools", "Tools", &["tools"]),
    ("mass", "Mass", &["mass"]),
    ("joints", "Joints", &["joints"]),
    ("time", "Time", &["time"]),
    ("ranges", "Ranges", &["ranges", "drivers"]),
    ("evidence", "Evidence", &["evidence", "differs"]),
    ("boundary", "Boundary", &["boundary"]),
    ("messages", "Messages", &["messages"]),
    ("sources", "Methods and sources", &["methods", "sources"]),
];

/// Where the places that sections name stand on the desk.
const PLACES: [(&str, &str); 9] = [
    ("boundary", "boundary"),
    ("holds", "holds"),
    ("messages", "messages"),
    ("mass", "mass"),
    ("differs", "evidence"),
    ("cost-items", "cost"),
    ("evidence", "evidence"),
    ("drivers", "ranges"),
    ("failed", "ranges"),
];

type Filled = (u64, Option<u64>, Arc<Report>);
/// The last report filled for each study: pages of one state share it.
static FILLED: LazyLock<Mutex<BTreeMap<Id, Filled>>> = LazyLock::new(Mutex::default);

/// The report of the study as it is computed now.
pub(super) fn filled(p: &Page<'_>) -> Arc<Report> {
    let (key, ranges_of) = {
        let now = p.study.now();
        (now.computed, now.ranges.as_ref().map(|(head, _)| *head).filter(|head| *head == now.computed))
    };
    let kept = FILLED.lock().unwrap_or_else(PoisonError::into_inner).get(&p.study.id).cloned();
    if let Some((head, ranges, report)) = kept
        && (head, ranges) == (key, ranges_of)
    {
        return report;
    }
    let (report, head, ranges) = {
        let now = p.study.now();
        let ranges = now.ranges.as_ref().filter(|(head, _)| *head == now.computed).map(|(_, ranges)| Arc::clone(ranges));
        let filled = fill(&now.document, &now.study, &now.library, now.head, ranges.as_deref());
        (Arc::new(filled), now.computed, ranges.map(|_| now.computed))
    };
    FILLED.lock().unwrap_or_else(PoisonError::into_inner).insert(p.study.id, (head, ranges, Arc::clone(&report)));
    report
}

/// Sections of the report with the desk's links.
pub(super) fn printed(p: &Page<'_>, ids: &[&str]) -> PreEscaped<String> {
    let link = |link: Link<'_>| match link {
        Link::Reason(address) => p.reason(address),
        Link::Part(label) => format!("{}?of={}", p.at("part"), crate::api::encoded(label)),
        Link::Photo(id) => format!("{}?of=@{id}", p.at("photo")),
        Link::Place(id) => match PLACES.iter().find(|(place, _)| *place == id) {
            Some((_, page)) => format!("{}#{id}", p.at(page)),
            None if id.starts_with("source") => format!("{}#{id}", p.at("sources")),
            None => format!("#{id}"),
        },
    };
    PreEscaped(sections(&filled(p), ids, link))
}

/// A page that is some sections.
pub(super) fn section(p: &Page<'_>, name: &str) -> Result<Option<Frame>, Wrong> {
    let Some((place, title, ids)) = PAGES.iter().find(|(place, _, _)| *place == name) else { return Ok(None) };
    let body = html! {
        h1 { (title) }
        div.report.same { (printed(p, ids)) }
    };
    Ok(Some(Frame::new(place, *title, body)))
}

/// The report as the file that is handed over. It brings its own style and script, and is kept from everything else.
pub(super) fn report(p: &Page<'_>) -> Outcome {
    let mut response = typed("text/html; charset=utf-8", report::html(&filled(p)));
    let policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; \
                  sandbox allow-scripts";
    response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    Ok(response)
}
