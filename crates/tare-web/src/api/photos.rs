//! Photos in and out.

use super::{Asked, answered, who};
use crate::answer::{Outcome, Wrong, json, typed};
use crate::state::{State, Who};
use axum::body::Bytes;
use axum::extract::{Path, Query, State as Shared};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::Response;
use std::collections::VecDeque;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};
use tare_app::edit_command::EditCommand;
use tare_app::live::{Command, Request};
use tare_app::photo::{Format, Limits, inspect, thumbnail, without_location};

/// Widths small pictures come in; another one is taken as the next of these.
const WIDTHS: [u32; 4] = [160, 320, 640, 1280];
/// Bytes of small pictures that are kept.
const KEPT: usize = 96 << 20;

/// Takes a photo in: the picture is on the disk before the entry that names it.
pub(crate) async fn add(
    Shared(state): Shared<State>,
    Path(name): Path<String>,
    Query(asked): Query<Asked>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let who = who(&state, &headers);
    answered(move || added(&state, &name, &asked, &body, &who)).await
}

fn added(state: &State, name: &str, asked: &Asked, body: &[u8], who: &Who) -> Outcome {
    let text = |word: &str| asked.get(word).map(|text| text.trim()).filter(|text| !text.is_empty());
    let limits = Limits::default();
    let picture = inspect(body, &limits).map_err(|diag| {
        let status = if diag.code == "photo-bytes" { StatusCode::PAYLOAD_TOO_LARGE } else { StatusCode::UNPROCESSABLE_ENTITY };
        Wrong::Said(status, vec![diag])
    })?;
    // one that does not decode is found out now, not when it is looked for
    small_of(body, WIDTHS[0])?;
    let study = state.study(name)?;
    let entry = text("entry").map(super::command::id).transpose()?.unwrap_or_else(tare_app::clock::new_id);
    let id = text("id").map(super::command::id).transpose()?.unwrap_or_else(tare_app::clock::new_id);
    let digest = study.put_photo(body)?;
    let taken = picture.taken.map(|taken| taken.to_string()).unwrap_or_else(tare_app::clock::now);
    let mut fields = vec![
        format!("name={}", text("name").unwrap_or("photo")),
        format!("digest={digest}"),
        format!("when={taken}"),
        format!("who={}", who.author),
    ];
    fields.extend(text("part").map(|part| format!("parts={part}")));
    let add = EditCommand::Add { kind: "photo".to_owned(), under: None, fields, about: Box::default(), id: Some(id) };
    let request = Request {
        id: entry,
        author: who.author.clone(),
        device: who.device.clone(),
        says: None,
        commands: vec![Command { edit: add, from: None }],
    };
    let done = study.edit(&request)?;
    let id = done.records.iter().find(|record| record.kind == "photo").map_or_else(|| id.to_string(), |record| record.id.clone());
    Ok(json(&serde_json::json!({
        "id": id, "digest": digest, "width": picture.width, "height": picture.height, "location": picture.location,
        "number": done.number, "says": done.says, "records": done.records,
    })))
}

/// Shows a photo: small where `w` asks for a width, without what says where it was taken where `without=location` does, else as it came in.
pub(crate) async fn show(Shared(state): Shared<State>, Path(digest): Path<String>, Query(asked): Query<Asked>) -> Response {
    answered(move || shown(&state, &digest, &asked)).await
}

fn shown(state: &State, digest: &str, asked: &Asked) -> Outcome {
    let width = asked.get("w").and_then(|w| w.parse::<u32>().ok());
    let width = width.map(|width| WIDTHS.into_iter().find(|known| *known >= width).unwrap_or(WIDTHS[3]));
    if !state.shows(digest)? {
        return Err(Wrong::new(StatusCode::NOT_FOUND, "photo-missing", "no study shown here has this picture"));
    }
    if let Some(small) = width.and_then(|width| small(digest, width)) {
        return Ok(picture("image/jpeg", small.to_vec()));
    }
    let missing = || Wrong::new(StatusCode::NOT_FOUND, "photo-missing", "this picture is not in the workspace");
    let bytes = state.live.reading().photo(digest)?.ok_or_else(missing)?;
    match width {
        Some(width) => {
            let small: Arc<[u8]> = small_of(&bytes, width)?.into();
            keep(digest, width, Arc::clone(&small));
            Ok(picture("image/jpeg", small.to_vec()))
        }
        None => {
            let kind = Format::of(&bytes)?.media_type();
            let without = asked.get("without").is_some_and(|what| what == "location");
            Ok(picture(kind, if without { without_location(&bytes)? } else { bytes }))
        }
    }
}

fn picture(kind: &'static str, bytes: Vec<u8>) -> Response {
    let mut response = typed(kind, bytes);
    // named by its content, it never changes
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("private, max-age=31536000, immutable"));
    response
}

/// Pictures are decoded one after the other: each takes up to four bytes for every pixel.
static DECODING: Mutex<()> = Mutex::new(());

fn small_of(bytes: &[u8], width: u32) -> Result<Vec<u8>, tare_diag::Diag> {
    let _one = DECODING.lock().unwrap_or_else(PoisonError::into_inner);
    thumbnail(bytes, width, &Limits::default())
}

type Small = (String, u32, Arc<[u8]>);
/// Small pictures, the last made or looked at in front.
static SMALL: LazyLock<Mutex<VecDeque<Small>>> = LazyLock::new(Mutex::default);

fn small(digest: &str, width: u32) -> Option<Arc<[u8]>> {
    let mut kept = SMALL.lock().unwrap_or_else(PoisonError::into_inner);
    let at = kept.iter().position(|(of, w, _)| of == digest && *w == width)?;
    let found = kept.remove(at)?;
    let bytes = Arc::clone(&found.2);
    kept.push_front(found);
    Some(bytes)
}

fn keep(digest: &str, width: u32, bytes: Arc<[u8]>) {
    let mut kept = SMALL.lock().unwrap_or_else(PoisonError::into_inner);
    kept.push_front((digest.to_owned(), width, bytes));
    while kept.iter().map(|(_, _, bytes)| bytes.len()).sum::<usize>() > KEPT && kept.len() > 1 {
        kept.pop_back();
    }
}
