//! Questions about a study.

use super::{Asked, answered};
use crate::answer::{Outcome, Wrong, json, typed};
use crate::state::State;
use axum::body::Bytes;
use axum::extract::{Path, Query, State as Shared};
use axum::http::{HeaderMap, StatusCode};
use axum::response::Response;
use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};
use tare_app::live::{LiveStudy, Now};
use tare_app::{Id, Kind, view};

/// Lines of an explanation where nothing else is asked for, and at most.
const LINES: (usize, usize) = (200, 20_000);
/// Labels given out at once, at most.
const MOST_LABELS: u32 = 500;

pub(crate) async fn read(
    Shared(state): Shared<State>,
    Path((name, what)): Path<(String, String)>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
) -> Response {
    let device = super::who(&state, &headers).device;
    answered(move || {
        let study = state.study(&name)?;
        given(&study, &what, &asked, &device)
    })
    .await
}

fn given(study: &Arc<LiveStudy>, what: &str, asked: &Asked, device: &str) -> Outcome {
    let text = |name: &str| asked.get(name).map(String::as_str);
    let due = |name: &str| {
        text(name)
            .ok_or_else(|| Wrong::new(StatusCode::BAD_REQUEST, "query", format!("`{name}=` is missing behind the question mark")))
    };
    match what {
        "history" => return Ok(json(&serde_json::json!({ "rows": study.history() }))),
        "labels" => {
            let count = text("count").and_then(|n| n.parse().ok()).unwrap_or(50_u32).clamp(1, MOST_LABELS);
            let given = study.lease_labels(text("device").filter(|d| !d.is_empty()).unwrap_or(device), count)?;
            return Ok(json(&serde_json::json!({ "from": given.start, "to": given.end })));
        }
        _ => {}
    }
    let now = study.now();
    if let Some(answer) = super::ideas::read(study, &now, what, asked) {
        return answer;
    }
    let addresses = || study.addresses(&now);
    let answer = match what {
        "parts" => parts(study, &now),
        "record" => {
            let addresses = addresses();
            json(&view::record_view(&now.document, &addresses, addresses.find(due("of")?)?))
        }
        "list" => {
            let word = due("kind")?;
            let kind = Kind::from_word(word)
                .ok_or_else(|| Wrong::new(StatusCode::BAD_REQUEST, "kind-unknown", format!("`{word}` is no kind of record")))?;
            json(&serde_json::json!({ "head": now.head, "rows": view::records_of(&now.document, &addresses(), kind) }))
        }
        "choices" => json(&view::choices(&now.document, &now.library)),
        "explain" => {
            let limit = text("limit").and_then(|n| n.parse().ok()).unwrap_or(LINES.0).min(LINES.1);
            json(&view::explain(&now.study, due("line")?, limit)?)
        }
        "cost" => json(&view::cost(&now.document, &now.study)),
        "mass" => json(&view::mass(&now.study)),
        "time" => json(&view::time(&now.study)),
        "joints" => json(&view::joints(&now.study, &now.library)),
        "problems" => json(&serde_json::json!({ "head": now.computed, "rows": view::problem_rows(&now.study.problems) })),
        "spread" => match now.ranges.as_ref().filter(|(head, _)| *head == now.computed) {
            Some((head, ranges)) => {
                json(&serde_json::json!({ "head": head, "spread": view::spread_rows(&now.study, ranges, None) }))
            }
            None => json(&serde_json::json!({ "head": now.computed, "spread": null })),
        },
        _ => return Err(Wrong::new(StatusCode::NOT_FOUND, "address-unknown", format!("there is nothing called `{what}` here"))),
    };
    Ok(answer)
}

/// A table as it is sent, and the entries its records and its numbers are of.
type Table = ((u64, u64), Bytes);

/// The last table of each study: many look at the same one.
static TABLES: LazyLock<Mutex<BTreeMap<Id, Table>>> = LazyLock::new(Mutex::default);

fn parts(study: &LiveStudy, now: &Now) -> Response {
    let of = (now.head, now.computed);
    let kept = || TABLES.lock().unwrap_or_else(PoisonError::into_inner);
    let known = kept().get(&study.id).filter(|(known, _)| *known == of).map(|(_, bytes)| bytes.clone());
    let bytes = known.or_else(|| {
        let bytes = Bytes::from(serde_json::to_vec(&view::parts_table(now, &study.addresses(now))).ok()?);
        kept().insert(study.id, (of, bytes.clone()));
        Some(bytes)
    });
    match bytes {
        Some(bytes) => typed("application/json", bytes),
        None => Wrong::new(StatusCode::INTERNAL_SERVER_ERROR, "answer", "the table cannot be written").json(),
    }
}
