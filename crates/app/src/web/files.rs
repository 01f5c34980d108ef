//! The files of the page, built into the program.

use axum::extract::State;
use axum::http::{StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};

use super::Shared;

/// One file: its path, its kind, its text.
struct File {
    path: &'static str,
    kind: &'static str,
    text: &'static str,
}

const HTML: &str = "text/html; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";
const PICTURE: &str = "image/svg+xml";
const PLAIN: &str = "text/plain; charset=utf-8";
const JSON: &str = "application/json";

macro_rules! file {
    ($path:literal, $kind:expr) => {
        File {
            path: $path,
            kind: $kind,
            text: include_str!(concat!("../../page/", $path)),
        }
    };
}

/// Every file of the page; a new one is a line here.
const FILES: &[File] = &[
    file!("index.html", HTML),
    file!("icon.svg", PICTURE),
    file!("style.css", STYLE),
    file!("main.js", SCRIPT),
    file!("lib/server.js", SCRIPT),
    file!("lib/state.js", SCRIPT),
    file!("lib/say.js", SCRIPT),
    file!("lib/queue.js", SCRIPT),
    file!("lib/file.js", SCRIPT),
    file!("lib/floor.js", SCRIPT),
    file!("lib/rehearsal.js", SCRIPT),
    file!("lib/save.js", SCRIPT),
    file!("parts/drift.js", SCRIPT),
    file!("parts/incoming.js", SCRIPT),
    file!("parts/log.js", SCRIPT),
    file!("parts/opening.js", SCRIPT),
    file!("parts/rehearsal.js", SCRIPT),
    file!("parts/sign.js", SCRIPT),
    file!("parts/verdicts.js", SCRIPT),
    file!("parts/launcher.js", SCRIPT),
    file!("parts/picture.js", SCRIPT),
    file!("parts/quantity.js", SCRIPT),
    file!("rooms/brief.js", SCRIPT),
    file!("rooms/bench.js", SCRIPT),
    file!("rooms/frame.js", SCRIPT),
    file!("parts/choice.js", SCRIPT),
    file!("parts/season.js", SCRIPT),
    file!("parts/told.js", SCRIPT),
    file!("rooms/floor.js", SCRIPT),
    file!("rooms/pit.js", SCRIPT),
    file!("rooms/book.js", SCRIPT),
    file!("vendor/preact.mjs", SCRIPT),
    file!("vendor/hooks.mjs", SCRIPT),
    file!("vendor/htm.mjs", SCRIPT),
    file!("vendor/htm-preact.mjs", SCRIPT),
    file!("vendor/signals-core.mjs", SCRIPT),
    file!("vendor/signals.mjs", SCRIPT),
    file!("rooms/feed.js", SCRIPT),
    file!("parts/measure.js", SCRIPT),
    file!("parts/replay.js", SCRIPT),
    file!("lib/feed.js", SCRIPT),
    file!("lib/stage.js", SCRIPT),
    file!("vendor/three.module.min.js", SCRIPT),
    file!("vendor/three.core.min.js", SCRIPT),
    file!("vendor/LICENSES.txt", PLAIN),
    file!("parts/share.js", SCRIPT),
    file!("parts/begin.js", SCRIPT),
    file!("parts/spots.js", SCRIPT),
    file!("parts/kinds.js", SCRIPT),
    file!("parts/notebook.js", SCRIPT),
    file!("parts/history.js", SCRIPT),
    file!("parts/templates.js", SCRIPT),
    file!("openapi.json", JSON),
];

/// The content security policy: nothing but the page's own files. `IMPORTS` is the hash of the one inline element,
/// the map of module names.
pub fn policy() -> String {
    format!(
        "default-src 'none'; script-src 'self' '{IMPORTS}'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; \
         connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
}

/// Hash of the map of module names in `index.html`; a test holds it.
const IMPORTS: &str = "sha256-o/O64QUNSiy9dbGRVE3FSPDWr5qdtmf9eTfcXFwzhKs=";

/// A file of the page. A path that is a room (`/bench`, `/floor/...`) gives the page itself.
pub async fn file(State(shared): State<Shared>, uri: Uri) -> Response {
    let path = uri.path().trim_start_matches('/');
    if path.starts_with("api/") {
        return (StatusCode::NOT_FOUND, "there is no such thing\n").into_response();
    }
    let found = FILES.iter().find(|f| f.path == path);
    let is_room = found.is_none() && !path.contains('.');
    let Some(file) = found.or_else(|| is_room.then(|| &FILES[0])) else {
        return (StatusCode::NOT_FOUND, "there is no such file\n").into_response();
    };
    // For work on the page: only names that are in the list above are read.
    let fresh = shared
        .files_from
        .map(|from| std::fs::read_to_string(from.join(file.path)));
    let text = match fresh {
        Some(Ok(text)) => text,
        _ => file.text.to_string(),
    };
    ([(header::CONTENT_TYPE, file.kind)], text).into_response()
}

/// The description of everything below `/api/v1`.
pub async fn openapi(state: State<Shared>) -> Response {
    file(state, Uri::from_static("/openapi.json")).await
}
