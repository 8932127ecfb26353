//! The description of the interface.
use axum::response::Response;
pub(crate) async fn openapi() -> Response {
    crate::answer::json(&serde_json::json!({}))
}
