//! Sharing on the local network: who may look, log or edit. Off unless the owner turns it on.

use std::collections::VecDeque;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use arcwright_model::finding::Finding;
use axum::Json;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::response::{IntoResponse, Response};
use qrcodegen::{QrCode, QrCodeEcc};
use serde::Deserialize;
use serde_json::{Value, json};

use super::Shared;
use super::answer::{Answer, Body};

/// What a paired device may do; each may do what those before it may.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Look.
    View,
    /// Log shots and take them back.
    Log,
    /// Change the project.
    Edit,
}

impl Role {
    fn word(self) -> &'static str {
        match self {
            Role::View => "view",
            Role::Log => "log",
            Role::Edit => "edit",
        }
    }
}

/// A code is void after this long.
const CODE_LASTS: Duration = Duration::from_secs(300);
/// Wrong guesses after which a code is void: one in 200 000 is right by chance.
const MOST_GUESSES: u32 = 5;
/// Requests that one device may make in [`WINDOW`]; a drag makes some twenty a second.
const MOST_REQUESTS: usize = 400;
/// See [`MOST_REQUESTS`].
const WINDOW: Duration = Duration::from_secs(5);
/// Physical: more devices than this are no team.
const MOST_DEVICES: usize = 40;
/// Name of the cookie that a paired device keeps.
const COOKIE: &str = "arcwright-device";

struct Code {
    digits: String,
    role: Role,
    made: Instant,
    guesses: u32,
}

struct Device {
    id: u64,
    name: String,
    token: String,
    role: Role,
    seen: Instant,
    recent: VecDeque<Instant>,
}

#[derive(Default)]
struct Held {
    code: Option<Code>,
    devices: Vec<Device>,
    next_id: u64,
}

/// Codes and paired devices.
#[derive(Default)]
pub struct Guests {
    held: Mutex<Held>,
}

/// What a request of another device may do.
pub enum Entry {
    /// It may go on.
    Open,
    /// It must pair first.
    Unpaired,
    /// Its role does not allow it.
    NotAllowed(Role),
    /// It asks too often.
    TooOften,
}

fn random(bytes: &mut [u8]) -> Result<(), Finding> {
    getrandom::fill(bytes).map_err(|e| {
        Finding::new(
            "no-random",
            "share",
            format!("this system gives no random numbers: {e}"),
            "share from another computer",
        )
    })
}

impl Guests {
    fn held(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A fresh code of six digits; the one before is void.
    fn code(&self, role: Role) -> Result<String, Finding> {
        let mut bytes = [0; 8];
        random(&mut bytes)?;
        // The remainder favours no digit that anyone could tell: 2^64 over a million.
        let digits = format!("{:06}", u64::from_le_bytes(bytes) % 1_000_000);
        self.held().code = Some(Code {
            digits: digits.clone(),
            role,
            made: Instant::now(),
            guesses: 0,
        });
        Ok(digits)
    }

    /// The token for a right code, which is void then.
    fn pair(&self, digits: &str, name: &str) -> Result<(String, Role), Finding> {
        let wrong = |what: &str| Finding::new("wrong-code", "code", what, "ask the owner for a new code");
        let mut bytes = [0; 16];
        random(&mut bytes)?;
        let mut held = self.held();
        if held.devices.len() >= MOST_DEVICES {
            return Err(wrong("too many devices are paired already"));
        }
        let Some(code) = &mut held.code else {
            return Err(wrong("there is no code to pair with, or it was used"));
        };
        if code.made.elapsed() > CODE_LASTS {
            held.code = None;
            return Err(wrong("this code is too old"));
        }
        let given: String = digits.chars().filter(char::is_ascii_digit).collect();
        if given != code.digits {
            code.guesses += 1;
            if code.guesses >= MOST_GUESSES {
                held.code = None;
                return Err(wrong("wrong too often: the code is void"));
            }
            return Err(wrong("this is not the code"));
        }
        let role = code.role;
        held.code = None;
        held.next_id += 1;
        let token: String = bytes.iter().map(|b| format!("{b:02x}")).collect();
        let device = Device {
            id: held.next_id,
            name: name.trim().chars().take(40).collect(),
            token: token.clone(),
            role,
            seen: Instant::now(),
            recent: VecDeque::new(),
        };
        held.devices.push(device);
        Ok((token, role))
    }

    /// May a request of another device be answered?
    pub fn admit(&self, headers: &HeaderMap, method: &Method, path: &str) -> Entry {
        let Some(needed) = needed(method, path) else {
            return Entry::Open;
        };
        let mut held = self.held();
        let given = token(headers);
        let Some(device) = held
            .devices
            .iter_mut()
            .find(|d| given.as_deref() == Some(&d.token))
        else {
            return Entry::Unpaired;
        };
        let now = Instant::now();
        device.seen = now;
        while device.recent.front().is_some_and(|t| now - *t > WINDOW) {
            device.recent.pop_front();
        }
        if device.recent.len() >= MOST_REQUESTS {
            return Entry::TooOften;
        }
        device.recent.push_back(now);
        match needed {
            Some(role) if device.role >= role => Entry::Open,
            _ => Entry::NotAllowed(device.role),
        }
    }

    fn role(&self, headers: &HeaderMap) -> Option<Role> {
        let given = token(headers)?;
        self.held()
            .devices
            .iter()
            .find(|d| d.token == given)
            .map(|d| d.role)
    }
}

/// What a request asks of a device: `None` what anyone may see, `Some(None)` what only the owner may.
fn needed(method: &Method, path: &str) -> Option<Option<Role>> {
    let api = path.strip_prefix("/api/v1/")?;
    Some(match api {
        "pair" | "share/me" => return None,
        _ if api.starts_with("share") => None,
        // A folder is made on the owner's disk.
        "project/keep" | "project/begin" | "project/demo" => None,
        // Playing changes nothing of the project.
        "work" | "book" | "feed/play" | "feed/stop" | "feed/replay" | "feed/measure" => Some(Role::View),
        // A program is started on the owner's machine.
        "book/pdf" => None,
        _ if method == Method::GET => Some(Role::View),
        // Notes are added as shots are; nothing that is there is changed.
        "book/notes" => Some(Role::Log),
        _ if api.starts_with("floor/") => Some(Role::Log),
        _ => Some(Role::Edit),
    })
}

fn token(headers: &HeaderMap) -> Option<String> {
    let cookies = headers.get(header::COOKIE)?.to_str().ok()?;
    let mut each = cookies.split(';').map(str::trim);
    each.find_map(|c| c.strip_prefix(COOKIE)?.strip_prefix('='))
        .map(str::to_string)
}

/// The answer to a request that was not let in.
pub fn turned_away(entry: &Entry) -> Option<Response> {
    let (status, why, what) = match entry {
        Entry::Open => return None,
        Entry::Unpaired => (
            StatusCode::UNAUTHORIZED,
            "unpaired",
            "pair this device with a code of the owner first".to_string(),
        ),
        Entry::NotAllowed(role) => (
            StatusCode::FORBIDDEN,
            "not-allowed",
            format!(
                "this device may {}, and no more; the owner can give another code",
                role.word()
            ),
        ),
        Entry::TooOften => (
            StatusCode::TOO_MANY_REQUESTS,
            "too-often",
            "this device asks too often; wait a few seconds".to_string(),
        ),
    };
    let body = json!({
        "schema": "arcwright/refused/1",
        "tool": env!("CARGO_PKG_VERSION"),
        "why": why,
        "problems": [{ "code": why, "level": "wrong", "key": "", "what": what, "fix": "", "place": null }],
    });
    Some((status, Json(body)).into_response())
}

/// `GET share`: is it on, where, and who is connected.
pub async fn view(State(shared): State<Shared>) -> Answer {
    let held = shared.guests.held();
    let devices: Vec<Value> = held
        .devices
        .iter()
        .map(|d| {
            json!({ "id": d.id, "name": d.name, "role": d.role.word(), "seen_s": d.seen.elapsed().as_secs() })
        })
        .collect();
    Ok(Json(json!({
        "schema": "arcwright/share/1",
        "tool": env!("CARGO_PKG_VERSION"),
        "on": shared.is_shared,
        "address": shared.is_shared.then(|| address(shared.port)),
        "devices": devices,
    })))
}

/// Where other devices find the page: the address by which this machine reaches the local network.
fn address(port: u16) -> Option<String> {
    // No packet is sent: the system only says which of its addresses it would send from.
    let socket = std::net::UdpSocket::bind(("0.0.0.0", 0)).ok()?;
    socket.connect(("192.0.2.1", 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    Some(format!("http://{ip}:{port}/"))
}

/// Body of `POST share/code`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NewCode {
    role: Role,
}

/// `POST share/code`: a code for one device, with its picture.
pub async fn code(State(shared): State<Shared>, Body(body): Body<NewCode>) -> Answer {
    if !shared.is_shared {
        return Err(Finding::new(
            "not-shared",
            "share",
            "the page answers to this machine only",
            "start it again with `arcwright page --share`",
        )
        .into());
    }
    let digits = shared.guests.code(body.role)?;
    let at = address(shared.port);
    let link = at.as_ref().map(|a| format!("{a}pair#{digits}"));
    let picture = link.as_deref().and_then(qr);
    Ok(Json(json!({
        "schema": "arcwright/share-code/1",
        "tool": env!("CARGO_PKG_VERSION"),
        "code": digits,
        "lasts_s": CODE_LASTS.as_secs(),
        "address": at,
        "link": link,
        "picture": picture,
    })))
}

/// A QR code as SVG, with the quiet zone of four modules that ISO/IEC 18004 asks for.
fn qr(text: &str) -> Option<String> {
    const QUIET: i32 = 4;
    let code = QrCode::encode_text(text, QrCodeEcc::Medium).ok()?;
    let size = code.size();
    let mut path = String::new();
    for y in 0..size {
        for x in 0..size {
            if code.get_module(x, y) {
                path.push_str(&format!("M{} {}h1v1h-1z", x + QUIET, y + QUIET));
            }
        }
    }
    let side = size + 2 * QUIET;
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {side} {side}\" role=\"img\" aria-label=\"code to scan\" shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h{side}v{side}H0z\"/><path fill=\"#000\" d=\"{path}\"/></svg>"
    ))
}

/// Body of `POST share/end`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct End {
    id: u64,
}

/// `POST share/end`: a device is no longer paired.
pub async fn end(state: State<Shared>, Body(body): Body<End>) -> Answer {
    state.guests.held().devices.retain(|d| d.id != body.id);
    state.desk.tell();
    view(state).await
}

/// Body of `POST pair`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pair {
    code: String,
    #[serde(default)]
    name: String,
}

/// `POST pair`: pairs a device by its code.
pub async fn pair(State(shared): State<Shared>, Body(body): Body<Pair>) -> Response {
    match shared.guests.pair(&body.code, &body.name) {
        Ok((token, role)) => {
            // The owner sees who has come.
            shared.desk.tell();
            let cookie = format!("{COOKIE}={token}; HttpOnly; SameSite=Strict; Path=/");
            let mut response = Json(
                json!({ "schema": "arcwright/pair/1", "tool": env!("CARGO_PKG_VERSION"), "role": role.word() }),
            )
            .into_response();
            if let Ok(value) = HeaderValue::from_str(&cookie) {
                response.headers_mut().insert(header::SET_COOKIE, value);
            }
            response
        }
        Err(f) => super::desk::Refused::from(f).into_response(),
    }
}

/// `GET share/me`: what the asking device may do; `owner` on this machine.
pub async fn me(State(shared): State<Shared>, request: axum::extract::Request) -> Answer {
    let is_owner = super::guard::is_local(&request, shared.port);
    let role = if is_owner {
        Some("owner")
    } else {
        shared.guests.role(request.headers()).map(Role::word)
    };
    Ok(Json(
        json!({ "schema": "arcwright/me/1", "tool": env!("CARGO_PKG_VERSION"), "role": role }),
    ))
}
