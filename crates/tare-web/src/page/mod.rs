//! Pages, printed on the server.

mod ask;
mod calculations;
mod compare;
mod desk;
mod ideas;
mod layout;
mod log;
mod part;
mod reason;
mod record;
mod sections;
mod small;

use crate::answer::{Outcome, Wrong, html, lead_to};
use crate::api::Asked;
use crate::api::across::Pairs;
use crate::state::State;
use axum::Form;
use axum::extract::{ConnectInfo, Path, Query, State as Shared};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::Response;
use layout::{Frame, across, bare};
use maud::html as markup;
use std::net::SocketAddr;
use std::sync::Arc;
use tare_app::live::{LiveStudy, Now};

/// A page being made.
pub(crate) struct Page<'a> {
    pub(crate) state: &'a State,
    pub(crate) study: Arc<LiveStudy>,
    pub(crate) asked: &'a Asked,
    /// The same in order, with names that stand there several times.
    pub(crate) pairs: &'a Pairs,
    /// The study as everything on the page shows it.
    pub(crate) now: Arc<Now>,
    /// The host it was asked by.
    pub(crate) host: &'a str,
}

impl Page<'_> {
    pub(crate) fn asked(&self, name: &str) -> Option<&str> {
        self.asked.get(name).map(String::as_str).filter(|text| !text.is_empty())
    }

    /// The address of another page of the study.
    pub(crate) fn at(&self, page: &str) -> String {
        format!("{}/{page}", of_study(&self.study.name))
    }

    /// The address of a number's reason.
    pub(crate) fn reason(&self, line: &str) -> String {
        format!("{}?line={}", self.at("reason"), crate::api::encoded(line))
    }
}

/// The address of a study's first page; its name is one piece of it, whatever strokes it holds.
fn of_study(name: &str) -> String {
    format!("/s/{}", crate::api::encoded(name).replace('/', "%2F"))
}

/// Runs a page on a thread that may wait, and says what went wrong as a page.
async fn shown(make: impl FnOnce() -> Outcome + Send + 'static) -> Response {
    let wrong = match tokio::task::spawn_blocking(make).await {
        Ok(Ok(response)) => return response,
        Ok(Err(wrong)) => wrong,
        Err(bug) => crate::answer::bug(&bug),
    };
    let body = markup! {
        h1 { "Nothing to show" }
        @for problem in wrong.problems() {
            p { (problem.message) }
            @for hint in &problem.hints { p.note { (hint) } }
        }
        p { a href="/" { "All studies" } }
    };
    let mut response = html(bare("Nothing to show", body));
    *response.status_mut() = wrong.status();
    response
}

/// The studies of the workspace.
pub(crate) async fn studies(Shared(state): Shared<State>) -> Response {
    shown(move || {
        let studies = state.studies()?;
        if let [only] = studies.as_slice() {
            return Ok(lead_to(&of_study(&only.name)));
        }
        let body = markup! {
            h1 { "Studies" }
            @if studies.is_empty() { p { "The workspace holds no study yet: " code { "tare new NAME" } " begins one." } }
            ul.plain {
                @for study in &studies {
                    li { a href=(of_study(&study.name)) dir="auto" { (study.name) } " " small { (study.head) @if study.head == 1 { " entry" } @else { " entries" } } }
                }
            }
        };
        Ok(html(across("Studies", "", &body, &[], &[])))
    })
    .await
}

/// Studies side by side.
pub(crate) async fn compare(Shared(state): Shared<State>, Query(pairs): Query<Pairs>) -> Response {
    shown(move || {
        let body = compare::of_all(&state, &pairs)?;
        Ok(html(across("Compare", "compare", &body, &["ideas.css", "across.css"], &["waits.js"])))
    })
    .await
}

/// Questions to all studies.
pub(crate) async fn ask(Shared(state): Shared<State>, Query(pairs): Query<Pairs>) -> Response {
    shown(move || {
        let body = ask::of_all(&state, &pairs)?;
        Ok(html(across("Ask", "ask", &body, &["ideas.css", "across.css"], &["waits.js", "ask.js"])))
    })
    .await
}

/// The page of a part by its identifier alone, as the code of a label has it: short, so that the code stays large enough to read.
pub(crate) async fn labelled(Shared(state): Shared<State>, Path(id): Path<String>) -> Response {
    shown(move || {
        let id = crate::api::command::id(&id)?;
        for info in state.studies()? {
            // a study that does not open has its own page to say so
            let Ok(study) = state.study(&info.name) else { continue };
            if study.now().document.get(id).is_some() {
                return Ok(lead_to(&format!("{}/part?of=@{id}", of_study(&info.name))));
            }
        }
        Err(Wrong::new(StatusCode::NOT_FOUND, "address-unknown", "no study here has the part of this label"))
    })
    .await
}

/// The first page of a study.
pub(crate) async fn overview(
    Shared(state): Shared<State>,
    Path(name): Path<String>,
    Query(pairs): Query<Pairs>,
    headers: HeaderMap,
) -> Response {
    shown(move || one(&state, &name, "overview", &pairs, &headers)).await
}

/// A page of a study by its name.
pub(crate) async fn named(
    Shared(state): Shared<State>,
    Path((name, page)): Path<(String, String)>,
    Query(pairs): Query<Pairs>,
    headers: HeaderMap,
) -> Response {
    shown(move || one(&state, &name, &page, &pairs, &headers)).await
}

fn one(state: &State, name: &str, page: &str, pairs: &Pairs, headers: &HeaderMap) -> Outcome {
    let asked: &Asked = &pairs.iter().cloned().collect();
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let study = state.study(name)?;
    let page_of = Page { state, now: study.now(), study, asked, pairs, host };
    let p = &page_of;
    let frame: Frame = match page {
        "overview" => desk::overview(p)?,
        "parts" => desk::parts(p),
        "todo" => desk::todo(p)?,
        "whatif" => desk::what_if(p)?,
        "ideas" => ideas::ideas(p)?,
        "idea" => ideas::idea(p)?,
        "compare" => compare::of_a_study(p)?,
        "ask" => ask::of_a_study(p)?,
        "bench" => desk::bench(p),
        "part" => part::part(p)?,
        "photos" => record::photos(p),
        "photo" => record::photo(p)?,
        "labels" => record::labels(p)?,
        "rates" => record::rates(p)?,
        "quotes" => record::quotes(p)?,
        "reviews" => record::reviews(p),
        "findings" => record::findings(p)?,
        "holds" => record::holds(p)?,
        "calculations" => calculations::list(p),
        "calculation" => calculations::one(p)?,
        "history" => log::history(p)?,
        "reason" => reason::reason(p)?,
        "report" => return sections::report(p),
        other => match sections::section(p, other)? {
            Some(frame) => frame,
            None => return Err(Wrong::new(StatusCode::NOT_FOUND, "address-unknown", format!("there is no page `{other}`"))),
        },
    };
    Ok(html(frame.print(p)))
}

/// Where a device is paired.
pub(crate) async fn pair() -> Response {
    html(pairing(None))
}

#[derive(serde::Deserialize)]
pub(crate) struct Code {
    code: String,
}

/// Pairs a device that gives the code.
pub(crate) async fn paired(
    Shared(state): Shared<State>,
    ConnectInfo(peer): ConnectInfo<SocketAddr>,
    Form(code): Form<Code>,
) -> Response {
    match state.guard.pair(peer.ip().to_canonical(), &code.code) {
        Ok(cookie) => {
            let mut response = lead_to("/");
            response.headers_mut().insert(header::SET_COOKIE, cookie);
            response
        }
        Err(wrong) => {
            let says = wrong.problems().iter().map(|d| d.message.clone()).collect::<Vec<_>>().join("; ");
            let mut response = html(pairing(Some(&says)));
            *response.status_mut() = wrong.status();
            response
        }
    }
}

fn pairing(wrong: Option<&str>) -> String {
    let body = markup! {
        h1 { "Pair this device" }
        p { "The program that serves this workspace shows a code of eight digits. A paired device stays so for a week." }
        form.pair method="post" action="/pair" {
            label for="code" { "Code" }
            input id="code" name="code" inputmode="numeric" autocomplete="one-time-code" required maxlength="12";
            button.main type="submit" { "Pair" }
        }
        @if let Some(wrong) = wrong { p.wrong role="alert" { (wrong) } }
    };
    bare("Pair this device", body)
}
