//! From results and refusals to answers.

use arcwright_model::finding::Finding;
use axum::Json;
use axum::extract::rejection::JsonRejection;
use axum::extract::{FromRequest, Request};
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
            Refused::Elsewhere => (StatusCode::CONFLICT, json!({ "why": "elsewhere" })),
            Refused::Stale => (StatusCode::CONFLICT, json!({ "why": "stale" })),
        };
        let mut body = json!({ "schema": "arcwright/refused/1", "tool": env!("CARGO_PKG_VERSION") });
        if let (Some(a), Value::Object(b)) = (body.as_object_mut(), more) {
            a.extend(b);
        }
        (status, Json(body)).into_response()
    }
}

/// The body of a request as JSON; what cannot be read is answered as everything that is refused.
pub struct Body<T>(pub T);

impl<T, S> FromRequest<S> for Body<T>
where
    Json<T>: FromRequest<S, Rejection = JsonRejection>,
    S: Send + Sync,
{
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Body<T>, Response> {
        match Json::<T>::from_request(request, state).await {
            Ok(Json(body)) => Ok(Body(body)),
            Err(rejection) => {
                let status = rejection.status();
                let refused: Refused = Finding::new(
                    "bad-body",
                    "body",
                    rejection.body_text(),
                    "see /api/v1/openapi.json for what is asked for",
                )
                .into();
                let mut response = refused.into_response();
                *response.status_mut() = status;
                Err(response)
            }
        }
    }
}

/// Runs work that blocks on a thread of its own.
pub async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Refused> + Send + 'static,
) -> Result<T, Refused> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        // A panic has been reported by the hook; the server goes on.
        Err(_) => Err(Finding::new(
            "our-fault",
            "page",
            "a fault in arcwright, not in your project; nothing of yours was changed",
            "report it with the project file that showed it",
        )
        .into()),
    }
}
