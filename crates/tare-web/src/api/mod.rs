//! JSON under the pages.

pub(crate) mod across;
pub(crate) mod command;
pub(crate) mod describe;
pub(crate) mod ideas;
pub(crate) mod live;
pub(crate) mod photos;
pub(crate) mod read;
pub(crate) mod write;

use crate::answer::{Outcome, json};
use crate::state::{State, Who};
use axum::extract::State as Shared;
use axum::http::HeaderMap;
use axum::response::Response;
use std::collections::HashMap;

/// What stands behind the question mark.
pub(crate) type Asked = HashMap<String, String>;

/// Runs a handler on a thread that may wait, and says what went wrong as JSON.
pub(crate) async fn answered(handler: impl FnOnce() -> Outcome + Send + 'static) -> Response {
    let done = tokio::task::spawn_blocking(handler).await;
    match done {
        Ok(outcome) => outcome.unwrap_or_else(|wrong| wrong.json()),
        Err(bug) => crate::answer::bug(&bug).json(),
    }
}

/// Who sends a request, as the page says.
pub(crate) fn who(state: &State, headers: &HeaderMap) -> Who {
    let text = |name: &str| {
        let value = headers.get(name)?.to_str().ok()?;
        Some(decoded(value).chars().filter(|c| !c.is_control()).take(80).collect::<String>()).filter(|t| !t.trim().is_empty())
    };
    Who {
        author: text("x-tare-author").unwrap_or_else(|| state.author.to_string()),
        device: text("x-tare-device").unwrap_or_default(),
    }
}

/// Percent signs with two digits as the bytes they stand for; headers carry no others.
pub(crate) fn decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let (mut out, mut at) = (Vec::with_capacity(bytes.len()), 0);
    while at < bytes.len() {
        let pair = bytes.get(at + 1..at + 3).filter(|_| bytes[at] == b'%').and_then(|pair| std::str::from_utf8(pair).ok());
        match pair.and_then(|pair| u8::from_str_radix(pair, 16).ok()) {
            Some(byte) => {
                out.push(byte);
                at += 3;
            }
            None => {
                out.push(bytes[at]);
                at += 1;
            }
        }
    }
    String::from_utf8_lossy(&out).into_owned()
}

/// Text as a part of an address.
pub(crate) fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-_.~/".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

pub(crate) async fn health() -> Response {
    json(&serde_json::json!({ "ok": true }))
}

pub(crate) async fn studies(Shared(state): Shared<State>) -> Response {
    answered(move || {
        let studies = state.studies()?;
        let rows: Vec<_> = studies.iter().map(|s| serde_json::json!({ "name": s.name, "head": s.head })).collect();
        Ok(json(&serde_json::json!({ "studies": rows })))
    })
    .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_goes_into_an_address_and_comes_back() {
        for text in ["Pack 1", "größer/50 %", "P12/op1/cycle", "日本", "a%2"] {
            assert_eq!(decoded(&encoded(text)), text);
        }
        assert_eq!(encoded("item P1/mass & more"), "item%20P1/mass%20%26%20more");
    }
}
