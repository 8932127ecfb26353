//! Files of the pages, carried in the program.

use crate::answer::typed;
use axum::extract::Path;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use include_dir::{Dir, include_dir};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::sync::LazyLock;

static FILES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/assets");

/// Types by the ending of a name.
fn kind(name: &str) -> Option<&'static str> {
    match name.rsplit_once('.')?.1 {
        "js" => Some("text/javascript; charset=utf-8"),
        "css" => Some("text/css; charset=utf-8"),
        "svg" => Some("image/svg+xml"),
        _ => None,
    }
}

struct File {
    kind: &'static str,
    text: String,
    tag: String,
}

static ASSETS: LazyLock<BTreeMap<&'static str, File>> = LazyLock::new(|| {
    let report = ("report.css", "text/css; charset=utf-8", tare_app::report::style());
    let own = FILES.files().filter_map(|file| {
        let name = file.path().to_str()?;
        Some((name, kind(name)?, file.contents_utf8()?.to_owned()))
    });
    own.chain([report])
        .map(|(name, kind, text)| {
            let tag = format!("\"{}\"", &hex(&Sha256::digest(text.as_bytes()))[..20]);
            (name, File { kind, text, tag })
        })
        .collect()
});

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Gives a file; one that the browser has already is not sent again.
pub(crate) async fn asset(Path(name): Path<String>, headers: HeaderMap) -> Response {
    let Some(file) = ASSETS.get(name.as_str()) else { return StatusCode::NOT_FOUND.into_response() };
    let known = headers.get(header::IF_NONE_MATCH).and_then(|tag| tag.to_str().ok()).is_some_and(|tag| tag == file.tag);
    let mut response = if known { StatusCode::NOT_MODIFIED.into_response() } else { typed(file.kind, file.text.as_str()) };
    let headers = response.headers_mut();
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
    if let Ok(tag) = HeaderValue::from_str(&file.tag) {
        headers.insert(header::ETAG, tag);
    }
    response
}

/// The sign of the pages, for browsers that look for it by its old name.
pub(crate) async fn icon(headers: HeaderMap) -> Response {
    asset(Path("icon.svg".to_owned()), headers).await
}
