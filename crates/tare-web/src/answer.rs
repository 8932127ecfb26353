//! Answers: JSON, pages, and what went wrong as either.

use axum::body::Body;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::Response;
use serde::Serialize;
use tare_app::live::{Refused, of_the_store};
use tare_app::view::problem_rows;
use tare_diag::Diag;

/// What a handler comes to.
pub(crate) type Outcome = Result<Response, Wrong>;

/// Why there is no answer.
#[derive(Debug)]
pub(crate) enum Wrong {
    /// The request does not fit what there is.
    Said(StatusCode, Vec<Diag>),
    /// An entry was refused.
    Refused(Refused),
}

impl From<Vec<Diag>> for Wrong {
    fn from(problems: Vec<Diag>) -> Self {
        let missing = problems.iter().any(|d| matches!(d.code, "document-unknown" | "address-unknown" | "document-none"));
        let status = if problems.iter().any(of_the_store) {
            StatusCode::SERVICE_UNAVAILABLE
        } else if missing {
            StatusCode::NOT_FOUND
        } else {
            StatusCode::UNPROCESSABLE_ENTITY
        };
        Self::Said(status, problems)
    }
}

impl From<Diag> for Wrong {
    fn from(problem: Diag) -> Self {
        Self::from(vec![problem])
    }
}

impl From<Refused> for Wrong {
    fn from(refused: Refused) -> Self {
        Self::Refused(refused)
    }
}

impl Wrong {
    pub(crate) fn new(status: StatusCode, code: &'static str, says: impl Into<String>) -> Self {
        Self::Said(status, vec![Diag::error(code, says)])
    }

    pub(crate) fn status(&self) -> StatusCode {
        match self {
            Self::Said(status, _) => *status,
            Self::Refused(Refused::Conflict(..)) => StatusCode::CONFLICT,
            Self::Refused(Refused::Wrong(_)) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Refused(Refused::Failed(_)) => StatusCode::SERVICE_UNAVAILABLE,
        }
    }

    pub(crate) fn problems(&self) -> &[Diag] {
        match self {
            Self::Said(_, problems) => problems,
            Self::Refused(refused) => refused.problems(),
        }
    }

    /// The same for a program.
    pub(crate) fn json(&self) -> Response {
        let rows = problems(self.problems());
        let mut body = serde_json::json!({ "problems": rows });
        if let Self::Refused(Refused::Conflict(_, Some(conflict))) = self {
            body["conflict"] = serde_json::json!(conflict);
        }
        let mut response = json(&body);
        *response.status_mut() = self.status();
        response
    }
}

/// A value as JSON.
pub(crate) fn json(value: &impl Serialize) -> Response {
    match serde_json::to_vec(value) {
        Ok(bytes) => typed("application/json", bytes),
        Err(error) => {
            let mut response = typed("text/plain; charset=utf-8", format!("the answer cannot be written ({error})").into_bytes());
            *response.status_mut() = StatusCode::INTERNAL_SERVER_ERROR;
            response
        }
    }
}

/// Bytes of a type.
pub(crate) fn typed(kind: &'static str, bytes: impl Into<Body>) -> Response {
    let mut response = Response::new(bytes.into());
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

/// A page.
pub(crate) fn html(page: String) -> Response {
    typed("text/html; charset=utf-8", page)
}

/// Leads elsewhere.
pub(crate) fn lead_to(address: &str) -> Response {
    let mut response = Response::new(Body::empty());
    *response.status_mut() = StatusCode::SEE_OTHER;
    if let Ok(address) = HeaderValue::from_str(address) {
        response.headers_mut().insert(header::LOCATION, address);
    }
    response
}

/// Messages as pages read them.
pub(crate) fn problems(problems: &[Diag]) -> Vec<serde_json::Value> {
    let row = |row: tare_app::view::ProblemRow| {
        serde_json::json!({
            "severity": row.severity, "code": row.code, "says": row.message, "place": row.place, "hints": row.hints,
        })
    };
    problem_rows(problems).into_iter().map(row).collect()
}

/// What is said of a fault of the program; the whole of it goes to the error output, where whoever serves the workspace finds it.
#[expect(clippy::print_stderr, reason = "a server says there what went wrong in it")]
pub(crate) fn bug(fault: &dyn std::fmt::Display) -> Wrong {
    eprintln!("tare: a request failed: {fault}");
    Wrong::new(StatusCode::INTERNAL_SERVER_ERROR, "bug", "the program failed here; what it said stands where it was started")
}
