//! Pages that are sections of the report, with links to the desk's own pages.

use super::Page;
use super::layout::Frame;
use crate::answer::{Outcome, Wrong, typed};
use axum::http::{HeaderValue, header};
use maud::{PreEscaped, html};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, LazyLock, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tare_app::live::{Event, LiveStudy, Now};
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

/// A report as it was filled.
#[derive(Clone)]
struct Filled {
    /// The entry its numbers are of, and that of its ranges.
    of: (u64, Option<u64>),
    report: Arc<Report>,
    took: Duration,
}

/// Reports that take longer than this to fill are filled beside: a page shows the last one until then.
const AT_ONCE: Duration = Duration::from_millis(40);

/// Parts of a study whose first report is filled at once.
const FEW: usize = 1_000;

/// The last report filled for each study: pages of one state share it.
static FILLED: LazyLock<Mutex<BTreeMap<Id, Filled>>> = LazyLock::new(Mutex::default);
/// Studies whose report is being filled.
static FILLING: LazyLock<Mutex<BTreeSet<Id>>> = LazyLock::new(Mutex::default);

fn kept<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The report of the study as it is computed now. Of a large one as it was computed last, while the next is on its way; nothing while the first is.
fn filled(p: &Page<'_>) -> Option<Filled> {
    let now = Arc::clone(&p.now);
    let last = kept(&FILLED).get(&p.study.id).cloned();
    match last {
        Some(last) if last.of == of(&now) => return Some(last),
        Some(last) if last.took <= AT_ONCE => return Some(fill_now(&p.study)),
        None if now.study.parts.len() <= FEW => return Some(fill_now(&p.study)),
        _ => {}
    }
    if kept(&FILLING).insert(p.study.id) {
        let (study, events) = (Arc::clone(&p.study), p.state.events.clone());
        std::thread::spawn(move || {
            let filling = Filling(study.id);
            let (head, _) = fill_now(&study).of;
            drop(filling);
            // pages look again; nobody listening is no harm
            let _ = events.send((study.id, Event::Computed { head }));
        });
    }
    last
}

/// A report being filled; whatever becomes of it, the next may begin.
struct Filling(Id);

impl Drop for Filling {
    fn drop(&mut self) {
        kept(&FILLING).remove(&self.0);
    }
}

fn of(now: &Now) -> (u64, Option<u64>) {
    (now.computed, now.ranges.as_ref().map(|(head, _)| *head).filter(|head| *head == now.computed))
}

fn fill_now(study: &LiveStudy) -> Filled {
    let (started, now) = (Instant::now(), study.now());
    let ranges = now.ranges.as_ref().filter(|(head, _)| *head == now.computed).map(|(_, ranges)| ranges);
    let report = Arc::new(fill(&now.document, &now.study, &now.library, now.head, ranges.map(Arc::as_ref)));
    let filled = Filled { of: of(&now), report, took: started.elapsed() };
    kept(&FILLED).insert(study.id, filled.clone());
    filled
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
    match filled(p) {
        Some(filled) if filled.of.0 < p.now.head => html! {
            p.note { "These tables are of entry " (filled.of.0) "; those of entry " (p.now.head) " appear by themselves." }
            (PreEscaped(sections(&filled.report, ids, link)))
        },
        Some(filled) => PreEscaped(sections(&filled.report, ids, link)),
        None => html! { p.none { "These tables are being laid out; they appear by themselves." } },
    }
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

fn with_pictures(p: &Page<'_>) -> String {
    let mut filled = Report::clone(&fill_now(&p.study).report);
    let bytes = |digest: &str| p.state.live.reading().photo(digest).ok().flatten();
    report::put_pictures(&mut filled, &p.now.document, bytes);
    report::html(&filled)
}

/// The report as the file that is handed over. It brings its own style and script, and is kept from everything else.
pub(super) fn report(p: &Page<'_>) -> Outcome {
    let mut response = typed("text/html; charset=utf-8", with_pictures(p));
    let policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; \
                  sandbox allow-scripts; frame-ancestors 'none'";
    response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    Ok(response)
}
