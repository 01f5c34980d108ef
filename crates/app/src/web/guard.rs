//! Who may ask: this machine's own page, and devices that the owner has paired. And the headers that every answer carries.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::{Shared, files, share};

/// Lets a request through that was made to this server by its own name, by no foreign page, and either on this machine
/// or by a device that was paired. A page of another site can make a browser send requests here; its own name, or a
/// name that it has turned to this machine, stands in `Origin` or `Host` then.
pub async fn guard(State(shared): State<Shared>, request: Request, next: Next) -> Response {
    let mut response = match refuse(&shared, &request) {
        Some(refusal) => refusal,
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

fn text(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    headers.get(name).and_then(|v| v.to_str().ok())
}

/// This machine's own names.
fn is_own_name(host: &str, port: u16) -> bool {
    ["127.0.0.1", "localhost", "[::1]"]
        .iter()
        .any(|name| host == format!("{name}:{port}"))
}

/// An address in numbers: no name of another site can be turned to it.
fn is_number(host: &str, port: u16) -> bool {
    host.parse::<SocketAddr>().is_ok_and(|a| a.port() == port)
        || (port == 80 && host.parse::<IpAddr>().is_ok())
}

/// Does a request come from this machine, by its own name?
pub fn is_local(request: &Request, port: u16) -> bool {
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>();
    let is_here = peer.is_none_or(|p| p.0.ip().to_canonical().is_loopback());
    is_here && text(request.headers(), header::HOST).is_some_and(|h| is_own_name(h, port))
}

fn refuse(shared: &Shared, request: &Request) -> Option<Response> {
    let (headers, method, port) = (request.headers(), request.method(), shared.port);
    let plain = |status: StatusCode, why: &str| Some((status, format!("{why}\n")).into_response());
    let is_local = is_local(request, port);
    let host = text(headers, header::HOST).unwrap_or("");
    let is_guest = shared.is_shared && is_number(host, port);
    if !is_local && !is_guest {
        return plain(
            StatusCode::MISDIRECTED_REQUEST,
            "this page answers to 127.0.0.1 and localhost only, or by its number where it is shared",
        );
    }
    if let Some(origin) = text(headers, header::ORIGIN)
        && origin.strip_prefix("http://") != Some(host)
    {
        return plain(StatusCode::FORBIDDEN, "requests of other sites are not answered");
    }
    let site = headers.get("sec-fetch-site").and_then(|v| v.to_str().ok());
    let changes = method != Method::GET && method != Method::HEAD;
    if changes && site.is_some_and(|s| s != "same-origin" && s != "none") {
        return plain(StatusCode::FORBIDDEN, "requests of other sites are not answered");
    }
    // A form of another site can send text, but not this without being asked about first.
    let is_json = text(headers, header::CONTENT_TYPE).is_some_and(|t| t.starts_with("application/json"));
    if changes && !is_json {
        return plain(StatusCode::UNSUPPORTED_MEDIA_TYPE, "send application/json");
    }
    if is_local {
        return None;
    }
    share::turned_away(&shared.guests.admit(headers, method, request.uri().path()))
}
