//! From results and refusals to answers.

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};

use super::desk::Refused;
use crate::project;

/// What a route gives back.
pub type Answer = Result<Json<Value>, Refused>;

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let (status, more) = match self {
            Refused::Wrong(problems) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                json!({ "why": "wrong", "problems": project::json(&problems) }),
            ),
            Refused::Changed(keys) => (StatusCode::CONFLICT, json!({ "why": "changed", "keys": keys })),
            Refused::Stale => (StatusCode::CONFLICT, json!({ "why": "stale" })),
        };
        let mut body = json!({ "schema": "arcwright/refused/1", "tool": env!("CARGO_PKG_VERSION") });
        if let (Some(a), Value::Object(b)) = (body.as_object_mut(), more) {
            a.extend(b);
        }
        (status, Json(body)).into_response()
    }
}

/// Runs work that blocks on a thread of its own.
pub async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Refused> + Send + 'static,
) -> Result<T, Refused> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        // A panic has been reported by the hook; the server goes on.
        Err(_) => Err(arcwright_model::finding::Finding::new(
            "our-fault",
            "page",
            "a fault in arcwright, not in your project; nothing of yours was changed",
            "report it with the project file that showed it",
        )
        .into()),
    }
}
