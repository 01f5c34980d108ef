//! Who may ask: this machine's own page only. And the headers that every answer carries.

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::{Shared, files};

/// Lets a request through that was made to this server by name, and by no foreign page. A page of another
/// site can make a browser send requests here; its own name, or a name that it has turned to this machine,
/// stands in `Origin` or `Host` then.
pub async fn guard(State(shared): State<Shared>, request: Request, next: Next) -> Response {
    let refusal = refuse(request.headers(), request.method(), shared.port);
    let mut response = match refusal {
        Some((status, why)) => (status, format!("{why}\n")).into_response(),
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    let mut set = |name: header::HeaderName, value: &str| {
        if let Ok(value) = HeaderValue::from_str(value) {
            headers.insert(name, value);
        }
    };
    set(header::CONTENT_SECURITY_POLICY, &files::policy());
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(header::REFERRER_POLICY, "no-referrer");
    set(header::X_FRAME_OPTIONS, "DENY");
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
    response
}

fn refuse(headers: &HeaderMap, method: &Method, port: u16) -> Option<(StatusCode, &'static str)> {
    let text = |name| headers.get(name).and_then(|v: &HeaderValue| v.to_str().ok());
    let ours = |host: &str| {
        ["127.0.0.1", "localhost", "[::1]"]
            .iter()
            .any(|name| host == format!("{name}:{port}"))
    };
    if !text(header::HOST).is_some_and(ours) {
        return Some((
            StatusCode::MISDIRECTED_REQUEST,
            "this page answers to 127.0.0.1 and localhost only",
        ));
    }
    if let Some(origin) = text(header::ORIGIN)
        && !origin.strip_prefix("http://").is_some_and(ours)
    {
        return Some((StatusCode::FORBIDDEN, "requests of other sites are not answered"));
    }
    let site = headers.get("sec-fetch-site").and_then(|v| v.to_str().ok());
    let changes = method != Method::GET && method != Method::HEAD;
    if changes && site.is_some_and(|s| s != "same-origin" && s != "none") {
        return Some((StatusCode::FORBIDDEN, "requests of other sites are not answered"));
    }
    // A form of another site can send text, but not this without being asked about first.
    let is_json = text(header::CONTENT_TYPE).is_some_and(|t| t.starts_with("application/json"));
    if changes && !is_json {
        return Some((StatusCode::UNSUPPORTED_MEDIA_TYPE, "send application/json"));
    }
    None
}
