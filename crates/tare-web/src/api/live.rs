//! What happens to a study, as it happens.

use crate::answer::Wrong;
use crate::state::State;
use axum::extract::{Path, State as Shared};
use axum::response::sse::{Event as Sent, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use std::convert::Infallible;
use std::time::Duration;
use tare_app::live::Event;
use tokio_stream::StreamExt;
use tokio_stream::wrappers::BroadcastStream;

/// Sends events until the page goes.
pub(crate) async fn follow(Shared(state): Shared<State>, Path(name): Path<String>) -> Response {
    // before looking, so that nothing falls in between
    let events = state.events.subscribe();
    let found = {
        let state = state.clone();
        tokio::task::spawn_blocking(move || state.study(&name).map(|study| (study.id, study.now()))).await
    };
    let (id, now) = match found {
        Ok(Ok(study)) => study,
        Ok(Err(problems)) => return Wrong::from(problems).json(),
        Err(bug) => return Wrong::new(axum::http::StatusCode::INTERNAL_SERVER_ERROR, "bug", bug.to_string()).json(),
    };
    let events = BroadcastStream::new(events).filter_map(move |event| match event {
        Ok((of, event)) if of == id => Some(Ok::<_, Infallible>(sent(&event))),
        Ok(_) => None,
        // a page that fell behind looks at everything anew
        Err(_) => Some(Ok(Sent::default().event("behind").data("{}"))),
    });
    let first = tokio_stream::once(Ok(Sent::default()
        .event("open")
        .data(serde_json::json!({ "head": now.head, "computed": now.computed }).to_string())));
    Sse::new(first.chain(events)).keep_alive(KeepAlive::new().interval(Duration::from_secs(15))).into_response()
}

fn sent(event: &Event) -> Sent {
    let (name, data) = match event {
        Event::Entry { number, author, says, device, records } => {
            let records: Vec<String> = records.iter().map(ToString::to_string).collect();
            let data =
                serde_json::json!({ "number": number, "author": author, "says": says, "device": device, "records": records });
            ("entry", data)
        }
        Event::Computed { head } => ("computed", serde_json::json!({ "head": head })),
        Event::Ranges { head } => ("ranges", serde_json::json!({ "head": head })),
    };
    Sent::default().event(name).data(data.to_string())
}
