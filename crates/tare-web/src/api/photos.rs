//! Photos in and out.
use crate::answer::Wrong;
use axum::http::StatusCode;
use axum::response::Response;
pub(crate) async fn add() -> Response {
    Wrong::new(StatusCode::NOT_IMPLEMENTED, "x", "x").json()
}
pub(crate) async fn show() -> Response {
    Wrong::new(StatusCode::NOT_IMPLEMENTED, "x", "x").json()
}
