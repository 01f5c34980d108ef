//! The page's server, asked as a browser asks it.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::Command;

use arcwright::web::{self, Desk, Options, Place};
use serde_json::{Value, json};

/// A server on a port of its own, for as long as the test runs.
struct Server {
    port: u16,
}

struct Reply {
    status: u16,
    head: String,
    body: String,
}

impl Reply {
    fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.body))
    }
}

impl Server {
    fn of(place: Place) -> Server {
        let ready = web::start(Desk::open(place).unwrap(), Options::default()).unwrap();
        let port = ready.address.port();
        std::thread::spawn(move || ready.serve());
        Server { port }
    }

    fn raw(&self, request: &str) -> Reply {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut text = String::new();
        stream.read_to_string(&mut text).unwrap();
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        Reply {
            status: head.split(' ').nth(1).unwrap().parse().unwrap(),
            head: head.to_lowercase(),
            body: body.to_string(),
        }
    }

    fn get(&self, path: &str) -> Reply {
        self.with(path, "GET", &[], "")
    }

    fn post(&self, path: &str, body: &Value) -> Reply {
        self.with(
            path,
            "POST",
            &[("content-type", "application/json")],
            &body.to_string(),
        )
    }

    fn with(&self, path: &str, method: &str, headers: &[(&str, &str)], body: &str) -> Reply {
        let host = headers.iter().find(|(k, _)| *k == "host");
        let ours = format!("127.0.0.1:{}", self.port);
        let mut request = format!(
            "{method} {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\ncontent-length: {}\r\n",
            host.map_or(ours.as_str(), |(_, v)| v),
            body.len()
        );
        for (k, v) in headers.iter().filter(|(k, _)| *k != "host") {
            request.push_str(&format!("{k}: {v}\r\n"));
        }
        self.raw(&format!("{request}\r\n{body}"))
    }
}

fn folder(name: &str) -> PathBuf {
    let path = std::env::temp_dir().join(format!("arcwright-page-{name}-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&path);
    std::fs::create_dir_all(&path).unwrap();
    path
}

/// A project folder from the first demo, and a server for it.
fn own(name: &str) -> (Server, PathBuf) {
    let at = folder(name);
    arcwright::tasks::new::make(&at.join("p"), "lantern").unwrap();
    let file = at.join("p/arcwright.toml");
    (Server::of(Place::File(file.clone())), file)
}

fn command(arguments: &[&str]) -> Value {
    let out = Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(arguments)
        .output()
        .unwrap();
    serde_json::from_slice(&out.stdout).unwrap()
}

fn edit(server: &Server, key: &str, text: &str, revision: &Value) -> Reply {
    server.post(
        "/api/v1/project/edit",
        &json!({ "changes": [{ "key": key, "text": text }], "revision": revision }),
    )
}

#[test]
fn the_page_and_the_terminal_give_the_same_json() {
    let server = Server::of(Place::Demo("lantern"));
    let ask = json!({ "want": ["check", "throw", "volley"], "spot": "near" });
    let parts = server.post("/api/v1/work", &ask).json()["parts"].clone();
    assert_eq!(parts["check"], command(&["check", "--demo", "lantern", "--json"]));
    assert_eq!(
        parts["throw"],
        command(&["throw", "--demo", "lantern", "--spot", "near", "--json"])
    );
    assert_eq!(
        parts["volley"],
        command(&["volley", "--demo", "lantern", "--spot", "near", "--json"])
    );
}

#[test]
fn a_changed_value_is_answered_as_a_file_with_that_value_and_nothing_is_written() {
    let (server, file) = own("asked");
    let before = std::fs::read_to_string(&file).unwrap();
    let ask = json!({ "want": ["check"], "changes": [{ "key": "wheel.diameter", "text": "100 mm" }] });
    let asked = server.post("/api/v1/work", &ask).json()["parts"]["check"].clone();
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    let other = file.with_file_name("other.toml");
    std::fs::write(
        &other,
        before.replacen(
            "[wheel]\ndiameter = \"96 mm\"",
            "[wheel]\ndiameter = \"100 mm\"",
            1,
        ),
    )
    .unwrap();
    assert_eq!(asked, command(&["check", other.to_str().unwrap(), "--json"]));
    assert_ne!(
        asked,
        command(&["check", file.to_str().unwrap(), "--json"]),
        "the change must show"
    );
}

#[test]
fn other_sites_and_other_names_of_this_machine_are_turned_away() {
    let server = Server::of(Place::Demo("pebble"));
    let json_type = ("content-type", "application/json");
    let undo = "/api/v1/project/undo";
    assert_eq!(
        server
            .with("/", "GET", &[("host", "elsewhere.example:80")], "")
            .status,
        421
    );
    let foreign = [json_type, ("origin", "http://elsewhere.example")];
    assert_eq!(server.with(undo, "POST", &foreign, "{}").status, 403);
    let crossed = [json_type, ("sec-fetch-site", "cross-site")];
    assert_eq!(server.with(undo, "POST", &crossed, "{}").status, 403);
    assert_eq!(
        server
            .with(undo, "POST", &[("content-type", "text/plain")], "{}")
            .status,
        415
    );
    // The page itself gets as far as the history, which is empty.
    let origin = format!("http://127.0.0.1:{}", server.port);
    let own = [
        json_type,
        ("origin", origin.as_str()),
        ("sec-fetch-site", "same-origin"),
    ];
    assert_eq!(server.with(undo, "POST", &own, "{}").status, 422);
}

#[test]
fn no_path_leads_out_of_the_page() {
    let server = Server::of(Place::Demo("pebble"));
    for path in [
        "/../Cargo.toml",
        "/..%2f..%2fCargo.toml",
        "/vendor/../../src/web/mod.rs",
        "/etc/passwd.txt",
        "/api/v1/nothing",
    ] {
        let reply = server.get(path);
        assert_eq!(reply.status, 404, "{path}");
    }
    // Rooms are deep links to the page.
    let room = server.get("/bench");
    assert!(room.status == 200 && room.body.contains("<div id=\"page\">"));
    assert!(room.head.contains("default-src 'none'"), "{}", room.head);
}

#[test]
fn a_body_that_is_too_large_or_no_json_is_refused() {
    let server = Server::of(Place::Demo("pebble"));
    let large = json!({ "text": "x".repeat(2 << 20), "revision": "" });
    assert_eq!(server.post("/api/v1/project/text", &large).status, 413);
    let reply = server.with(
        "/api/v1/work",
        "POST",
        &[("content-type", "application/json")],
        "{\"want\":",
    );
    assert_eq!(reply.status, 400);
    let odd = server.post("/api/v1/work", &json!({ "want": ["chek"] }));
    assert_eq!(odd.status, 422);
    assert!(odd.body.contains("did you mean `check`?"), "{}", odd.body);
}

#[test]
fn an_edit_keeps_remarks_and_can_be_undone_and_done_again() {
    let (server, file) = own("edit");
    let before = std::fs::read_to_string(&file).unwrap();
    let revision = server.get("/api/v1/project").json()["revision"].clone();
    let reply = edit(&server, "setting.tilt", "11 deg", &revision);
    assert_eq!(reply.status, 200, "{}", reply.body);
    let after = std::fs::read_to_string(&file).unwrap();
    assert_eq!(after, before.replacen("tilt = \"8 deg\"", "tilt = \"11 deg\"", 1));
    assert_eq!(server.post("/api/v1/project/undo", &json!({})).status, 200);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    assert_eq!(server.post("/api/v1/project/redo", &json!({})).status, 200);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), after);
}

#[test]
fn an_edit_that_makes_no_sense_is_refused_and_nothing_is_written() {
    let (server, file) = own("wrong");
    let before = std::fs::read_to_string(&file).unwrap();
    let revision = server.get("/api/v1/project").json()["revision"].clone();
    for (key, text, code) in [
        ("wheel.diameter", "96 kg", "wrong-unit"),
        ("wheel.diameter", "-1 mm", "out-of-range"),
        ("wheel.diametre", "96 mm", "unknown-key"),
    ] {
        let reply = edit(&server, key, text, &revision);
        assert_eq!(reply.status, 422);
        assert_eq!(reply.json()["problems"][0]["code"], code, "{}", reply.body);
        assert_ne!(reply.json()["problems"][0]["fix"], "");
    }
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
}

#[test]
fn a_file_changed_meanwhile_is_merged_where_it_can_be_and_refused_where_not() {
    let (server, file) = own("meanwhile");
    let revision = server.get("/api/v1/project").json()["revision"].clone();
    let other = std::fs::read_to_string(&file)
        .unwrap()
        .replacen("tilt = \"8 deg\"", "tilt = \"9 deg\"", 1);
    std::fs::write(&file, &other).unwrap();
    // The same key: whose is right, only a person knows.
    let reply = edit(&server, "setting.tilt", "11 deg", &revision);
    assert_eq!(reply.status, 409);
    assert_eq!(reply.json()["keys"], json!(["setting.tilt"]));
    assert_eq!(std::fs::read_to_string(&file).unwrap(), other);
    // Another key goes on top of it.
    let reply = edit(&server, "setting.reach", "65 mm", &revision);
    assert_eq!(reply.status, 200, "{}", reply.body);
    let both = std::fs::read_to_string(&file).unwrap();
    assert_eq!(both, other.replacen("reach = \"60 mm\"", "reach = \"65 mm\"", 1));
    // A whole text made from an older one never goes over a newer one.
    let text = json!({ "text": other, "revision": revision });
    assert_eq!(server.post("/api/v1/project/text", &text).status, 409);
    assert_eq!(std::fs::read_to_string(&file).unwrap(), both);
}

#[test]
fn a_file_that_is_broken_elsewhere_is_told_with_its_line_and_the_last_good_one_stays() {
    let (server, file) = own("broken");
    let good = server.get("/api/v1/project").json();
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(
        &file,
        text.replacen("diameter = \"96 mm\"", "diameter = \"96 kg\"", 1),
    )
    .unwrap();
    let view = server.get("/api/v1/project").json();
    assert_eq!(view["quantities"], good["quantities"]);
    assert_eq!(view["problems"][0]["code"], "wrong-unit");
    assert!(view["problems"][0]["place"]["line"].as_u64().unwrap() > 1);
}

#[test]
fn a_shot_sent_twice_is_logged_once() {
    let (server, file) = own("twice");
    let shot = json!({ "words": "far 3490 long 12cm", "key": "0001-abcd-0001" });
    let first = server.post("/api/v1/floor/shots", &shot);
    assert_eq!(first.status, 200, "{}", first.body);
    let second = server.post("/api/v1/floor/shots", &shot).json();
    assert_eq!(first.json()["shot"], second["shot"]);
    let other = json!({ "words": "far 3490 long 12cm", "key": "0001-abcd-0002" });
    assert_ne!(
        server.post("/api/v1/floor/shots", &other).json()["shot"],
        second["shot"]
    );
    let list = command(&["floor", "list", "--json", "--in", file.to_str().unwrap()]);
    assert_eq!(list["sessions"][0]["shots"].as_array().unwrap().len(), 2);
    // A device that threw it with another project is told so, and with this one is heard.
    let at = server.get("/api/v1/project").json()["at"].clone();
    let with = |at: &Value, key: &str| json!({ "words": "far 3490 in", "key": key, "at": at });
    let other = server.post(
        "/api/v1/floor/shots",
        &with(&json!("/elsewhere/arcwright.toml"), "0001-abcd-0004"),
    );
    assert_eq!((other.status, &other.json()["why"]), (409, &json!("elsewhere")));
    assert_eq!(
        server
            .post("/api/v1/floor/shots", &with(&at, "0001-abcd-0005"))
            .status,
        200
    );
    assert!(std::path::Path::new(at.as_str().unwrap()).is_absolute(), "{at}");
    let absurd = json!({ "words": "far 3490 land 400m", "key": "0001-abcd-0003" });
    assert_eq!(server.post("/api/v1/floor/shots", &absurd).status, 422);
}

#[test]
fn edits_that_are_no_numbers_are_undone_and_merged_as_numbers_are() {
    let (server, file) = own("edits");
    let before = std::fs::read_to_string(&file).unwrap();
    let text = || std::fs::read_to_string(&file).unwrap();
    let revision = server.get("/api/v1/project").json()["revision"].clone();
    let act = |edits: Value, revision: &Value| {
        server.post(
            "/api/v1/project/edit",
            &json!({ "edits": edits, "revision": revision }),
        )
    };
    let added = act(
        json!([{ "act": "add-spot", "like": 2, "name": "post" }]),
        &revision,
    );
    assert_eq!(added.status, 200, "{}", added.body);
    assert_eq!(added.json()["spots"][3]["name"], "post");
    let after = text();
    assert_eq!(server.post("/api/v1/project/undo", &json!({})).status, 200);
    assert_eq!(text(), before);
    assert_eq!(server.post("/api/v1/project/redo", &json!({})).status, 200);
    assert_eq!(text(), after);
    // Made on the text before: another spot of the list is in conflict, a limit is not.
    let late = act(json!([{ "act": "remove-spot", "spot": 2 }]), &revision);
    assert_eq!((late.status, &late.json()["keys"]), (409, &json!(["spot"])));
    let late = act(json!([{ "act": "unset", "key": "limits.fuse" }]), &revision);
    assert_eq!(late.status, 200, "{}", late.body);
    assert!(text().contains("name = \"post\"") && text().contains("# fuse = "));
    // What makes no sense is told with a way out, and nothing is written.
    let now = server.get("/api/v1/project").json()["revision"].clone();
    let kept = text();
    for edit in [
        json!({ "act": "piece", "kind": "foarm" }),
        json!({ "act": "word", "key": "spot[0].name", "word": "far" }),
        json!({ "act": "unset", "key": "wheel.diameter" }),
    ] {
        let reply = act(json!([edit]), &now);
        assert_eq!(reply.status, 422);
        assert_ne!(reply.json()["problems"][0]["fix"], "");
    }
    assert_eq!(text(), kept);
}

#[test]
fn a_project_of_someones_own_is_never_begun_over() {
    let (server, file) = own("begun");
    let before = std::fs::read_to_string(&file).unwrap();
    let answers = json!({ "name": "x", "piece": "foam", "target": "box", "rim_height": "1 m", "width": "600 mm",
        "wheels": 1, "spots": [{ "name": "a", "distance": "1 m" }] });
    let reply = server.post(
        "/api/v1/project/begin",
        &json!({ "folder": "y", "answers": answers }),
    );
    assert_eq!(reply.json()["problems"][0]["code"], "own-project");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
    let demo = Server::of(Place::Demo("lantern"));
    let out = demo.post(
        "/api/v1/project/begin",
        &json!({ "folder": "../y", "answers": answers }),
    );
    assert_eq!(out.json()["problems"][0]["code"], "bad-folder");
}

#[test]
fn a_verdict_that_fails_says_which_handle_alone_would_mend_it_and_it_does() {
    let server = Server::of(Place::Demo("lantern"));
    let tilted = json!([{ "key": "setting.tilt", "text": "24 deg" }]);
    let ask = json!({ "want": ["check", "helps"], "unsearched": true, "changes": tilted });
    let parts = server.post("/api/v1/work", &ask).json()["parts"].clone();
    let fails = |check: &Value| -> Vec<Value> {
        let all = check["verdicts"].as_array().unwrap().iter();
        all.filter(|v| v["status"] == "fails").cloned().collect()
    };
    let failing = fails(&parts["check"]);
    assert!(!failing.is_empty());
    assert_eq!(parts["helps"].as_array().unwrap().len(), failing.len());
    let mut tried = 0;
    for helped in parts["helps"].as_array().unwrap() {
        for help in helped["helps"].as_array().unwrap() {
            let mut changes = tilted.as_array().unwrap().clone();
            changes.retain(|c| c["key"] != help["key"]);
            changes.push(json!({ "key": help["key"], "value": help["to"] }));
            let ask = json!({ "want": ["check"], "unsearched": true, "changes": changes });
            let then = server.post("/api/v1/work", &ask).json()["parts"]["check"].clone();
            let still = fails(&then);
            assert!(
                !still
                    .iter()
                    .any(|v| v["check"] == helped["check"] && v["subject"] == helped["subject"]),
                "{help}"
            );
            assert_eq!(help["fails"], json!(still.len()), "{help}");
            tried += 1;
        }
    }
    assert!(tried > 0, "{}", parts["helps"]);
}

#[test]
fn a_demo_has_no_log_until_it_is_kept_as_a_project() {
    let server = Server::of(Place::Demo("bramble"));
    let reply = server.get("/api/v1/floor");
    assert_eq!(reply.status, 422);
    assert_eq!(reply.json()["problems"][0]["code"], "no-folder");
    for bad in ["../out", "/tmp/out", "a/b", ""] {
        let reply = server.post("/api/v1/project/keep", &json!({ "folder": bad }));
        assert_eq!(reply.json()["problems"][0]["code"], "bad-folder", "{bad}");
    }
}

#[test]
fn one_demo_is_shown_in_place_of_another_but_never_in_place_of_a_project() {
    let server = Server::of(Place::Demo("lantern"));
    let ask = json!({ "demo": "pebble" });
    let view = server.post("/api/v1/project/demo", &ask).json();
    assert_eq!(
        (&view["project"], &view["from"]),
        (&json!("Pebble Well"), &json!("demo"))
    );
    let odd = server.post("/api/v1/project/demo", &json!({ "demo": "pebbel" }));
    assert!(odd.body.contains("did you mean `pebble`?"), "{}", odd.body);
    let (own, file) = own("no-demo");
    let before = std::fs::read_to_string(&file).unwrap();
    let reply = own.post("/api/v1/project/demo", &ask).json();
    assert_eq!(reply["problems"][0]["code"], "own-project");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), before);
}

#[test]
fn everything_in_the_description_answers_and_everything_that_answers_is_described() {
    let server = Server::of(Place::Demo("pebble"));
    let document = server.get("/api/v1/openapi.json").json();
    let source =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/web/mod.rs")).unwrap();
    let routes: Vec<String> = source
        .split("\"/api/v1")
        .skip(1)
        .filter_map(|s| Some(s.split_once('"')?.0.to_string()))
        .collect();
    let paths = document["paths"].as_object().unwrap();
    let mut described: Vec<&String> = paths.keys().collect();
    described.sort();
    let mut sorted: Vec<&String> = routes.iter().collect();
    sorted.sort();
    assert_eq!(described, sorted);
    for (path, methods) in paths.iter().filter(|(p, _)| *p != "/news") {
        let reply = match methods.get("get") {
            Some(_) => server.get(&format!("/api/v1{path}")),
            None => server.post(&format!("/api/v1{path}"), &json!({})),
        };
        // 422 for a body that says nothing.
        assert!([200, 422].contains(&reply.status), "{path}: {}", reply.status);
    }
    // The names of the parts are those that can be asked for.
    let names = &document["paths"]["/work"]["post"]["requestBody"]["content"]["application/json"]["schema"]["properties"]
        ["want"]["items"]["enum"];
    let parts: Vec<&str> = arcwright::tasks::bench::PARTS.iter().map(|p| p.name).collect();
    assert_eq!(names, &json!(parts));
}

#[test]
fn the_program_carries_every_file_of_the_page_and_the_vendored_ones_as_they_were_published() {
    let server = Server::of(Place::Demo("pebble"));
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("page");
    let mut waiting = vec![page.clone()];
    let mut count = 0;
    while let Some(at) = waiting.pop() {
        for entry in std::fs::read_dir(at).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                waiting.push(path);
                continue;
            }
            let name = path.strip_prefix(&page).unwrap().to_str().unwrap().to_string();
            if name.ends_with(".md") || name.ends_with(".d.ts") || name == "tsconfig.json" {
                continue;
            }
            count += 1;
            let served = server.get(&format!("/{name}"));
            assert_eq!(served.status, 200, "{name} is not built in");
            assert_eq!(served.body, std::fs::read_to_string(&path).unwrap(), "{name}");
        }
    }
    assert!(count > 15);
    // All of it goes over the wire in the first load at most.
    let size: usize = server.get("/vendor/preact.mjs").body.len();
    assert!(size < 50_000);
}

/// A request as a device on the network makes it: by the machine's number.
fn device(server: &Server, method: &str, path: &str, cookie: &str, body: &Value) -> Reply {
    let host = format!("192.0.2.7:{}", server.port);
    let body = if method == "GET" {
        String::new()
    } else {
        body.to_string()
    };
    server.with(
        path,
        method,
        &[
            ("host", host.as_str()),
            ("content-type", "application/json"),
            ("cookie", cookie),
        ],
        &body,
    )
}

fn shared_server(place: Place) -> Server {
    let options = Options {
        share: true,
        ..Options::default()
    };
    let ready = web::start(Desk::open(place).unwrap(), options).unwrap();
    let port = ready.address.port();
    std::thread::spawn(move || ready.serve());
    Server { port }
}

/// Pairs a device; the cookie it keeps.
fn paired(server: &Server, role: &str) -> String {
    let code = server.post("/api/v1/share/code", &json!({ "role": role })).json()["code"].clone();
    let reply = device(
        server,
        "POST",
        "/api/v1/pair",
        "",
        &json!({ "code": code, "name": "phone" }),
    );
    assert_eq!(reply.status, 200, "{}", reply.body);
    let line = reply
        .head
        .lines()
        .find_map(|l| l.strip_prefix("set-cookie: "))
        .unwrap();
    assert!(line.contains("httponly") && line.contains("samesite=strict"));
    line.split(';').next().unwrap().to_string()
}

#[test]
fn a_page_that_is_not_shared_answers_to_no_other_device_and_makes_no_code() {
    let server = Server::of(Place::Demo("pebble"));
    for path in ["/", "/api/v1/project", "/api/v1/share/me"] {
        assert_eq!(device(&server, "GET", path, "", &json!({})).status, 421);
    }
    assert_eq!(
        server
            .post("/api/v1/share/code", &json!({ "role": "view" }))
            .status,
        422
    );
}

#[test]
fn a_device_does_what_its_code_allows_and_no_more() {
    let at = folder("roles");
    arcwright::tasks::new::make(&at.join("p"), "lantern").unwrap();
    let server = shared_server(Place::File(at.join("p/arcwright.toml")));
    // Before pairing: the page itself, and nothing of the project.
    assert_eq!(device(&server, "GET", "/bench", "", &json!({})).status, 200);
    assert_eq!(
        device(&server, "GET", "/api/v1/project", "", &json!({})).status,
        401
    );
    let forged = "arcwright-device=00000000000000000000000000000000";
    assert_eq!(
        device(&server, "GET", "/api/v1/project", forged, &json!({})).status,
        401
    );
    let shot = json!({ "words": "far 3490 in", "key": "0001-abcd-0009" });
    let change = json!({ "changes": [{ "key": "setting.tilt", "text": "9 deg" }],
        "revision": server.get("/api/v1/project").json()["revision"] });
    // What each role is answered: look, ask, log, edit, keep, begin, hand out codes.
    for (role, expected) in [
        ("view", [200, 200, 403, 403, 403, 403, 403]),
        ("log", [200, 200, 200, 403, 403, 403, 403]),
        ("edit", [200, 200, 200, 200, 403, 403, 403]),
    ] {
        let cookie = paired(&server, role);
        let got = [
            device(&server, "GET", "/api/v1/project", &cookie, &json!({})).status,
            device(
                &server,
                "POST",
                "/api/v1/work",
                &cookie,
                &json!({ "want": ["quantities"] }),
            )
            .status,
            device(&server, "POST", "/api/v1/floor/shots", &cookie, &shot).status,
            device(&server, "POST", "/api/v1/project/edit", &cookie, &change).status,
            device(
                &server,
                "POST",
                "/api/v1/project/keep",
                &cookie,
                &json!({ "folder": "x" }),
            )
            .status,
            device(&server, "POST", "/api/v1/project/begin", &cookie, &json!({})).status,
            device(
                &server,
                "POST",
                "/api/v1/share/code",
                &cookie,
                &json!({ "role": "edit" }),
            )
            .status,
        ];
        assert_eq!(got, expected, "{role}");
        let me = device(&server, "GET", "/api/v1/share/me", &cookie, &json!({})).json();
        assert_eq!(me["role"], role);
    }
    // The owner sees who is connected, and ends it.
    let devices = server.get("/api/v1/share").json()["devices"].clone();
    assert_eq!(devices.as_array().unwrap().len(), 3);
    let cookie = paired(&server, "view");
    let last = server.get("/api/v1/share").json()["devices"][3]["id"].clone();
    assert_eq!(
        server.post("/api/v1/share/end", &json!({ "id": last })).status,
        200
    );
    assert_eq!(
        device(&server, "GET", "/api/v1/project", &cookie, &json!({})).status,
        401
    );
    // The number of the machine does not open the door to other sites.
    let host = format!("192.0.2.7:{}", server.port);
    let foreign = [
        ("host", host.as_str()),
        ("content-type", "application/json"),
        ("origin", "http://elsewhere.example"),
        ("cookie", cookie.as_str()),
    ];
    assert_eq!(server.with("/api/v1/work", "POST", &foreign, "{}").status, 403);
    let name = [("host", "rebound.example:80")];
    assert_eq!(server.with("/api/v1/project", "GET", &name, "").status, 421);
    assert_eq!(server.get("/api/v1/share/me").json()["role"], "owner");
}

#[test]
fn a_code_works_once_and_is_void_after_five_wrong_guesses() {
    let server = shared_server(Place::Demo("pebble"));
    let made = server
        .post("/api/v1/share/code", &json!({ "role": "log" }))
        .json();
    let code = made["code"].as_str().unwrap().to_string();
    assert_eq!(code.len(), 6);
    assert!(made["picture"].is_null() || made["picture"].as_str().unwrap().starts_with("<svg"));
    let pair = |digits: &str| device(&server, "POST", "/api/v1/pair", "", &json!({ "code": digits })).status;
    assert_eq!(pair(&code), 200);
    assert_eq!(pair(&code), 422, "a code pairs one device");
    let code = server
        .post("/api/v1/share/code", &json!({ "role": "log" }))
        .json()["code"]
        .clone();
    let code = code.as_str().unwrap();
    let wrong = if code == "000000" { "000001" } else { "000000" };
    for _ in 0..5 {
        assert_eq!(pair(wrong), 422);
    }
    assert_eq!(pair(code), 422, "void after five wrong guesses");
}

#[test]
fn a_device_that_asks_too_often_is_told_to_wait() {
    let server = shared_server(Place::Demo("pebble"));
    let cookie = paired(&server, "view");
    let mut told = 0;
    for _ in 0..430 {
        let reply = device(&server, "GET", "/api/v1/openapi.json", &cookie, &json!({}));
        told += u32::from(reply.status == 429);
    }
    assert!(told > 0);
}

#[test]
fn a_device_reads_the_notebook_adds_notes_if_it_may_log_and_prints_nothing() {
    let at = folder("notes");
    arcwright::tasks::new::make(&at.join("p"), "pebble").unwrap();
    let server = shared_server(Place::File(at.join("p/arcwright.toml")));
    let brief = json!({ "sections": ["brief", "notes"] });
    let note = json!({ "day": "2026-02-14", "title": "../../wheel", "text": "wide" });
    let reason = json!({ "reason": "wide" });
    for (role, expected) in [
        ("view", [200, 200, 403, 403, 200, 403]),
        ("log", [200, 200, 200, 403, 200, 403]),
        ("edit", [200, 200, 200, 403, 200, 200]),
    ] {
        let cookie = paired(&server, role);
        let got = [
            device(&server, "POST", "/api/v1/book", &cookie, &brief).status,
            device(&server, "GET", "/api/v1/card", &cookie, &json!({})).status,
            device(&server, "POST", "/api/v1/book/notes", &cookie, &note).status,
            device(&server, "POST", "/api/v1/book/pdf", &cookie, &brief).status,
            device(&server, "GET", "/api/v1/history", &cookie, &json!({})).status,
            device(&server, "POST", "/api/v1/history", &cookie, &reason).status,
        ];
        assert_eq!(got, expected, "{role}");
    }
    // No title leads out of the folder, and nothing is written over.
    let mut names: Vec<String> = std::fs::read_dir(at.join("p/notes"))
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    assert_eq!(names, ["2026-02-14 wheel (2).txt", "2026-02-14 wheel.txt"]);
    let page = server.post("/api/v1/book", &brief).json();
    assert!(page["html"].as_str().unwrap().contains("<p>wide</p>"));
    for wrong in [
        json!({ "day": "14.2.", "text": "x" }),
        json!({ "day": "2026-02-14", "text": "  " }),
        json!({ "day": "2026-02-14", "text": "x", "photos": [{ "caption": "c", "bytes": "no photo" }] }),
    ] {
        assert_eq!(server.post("/api/v1/book/notes", &wrong).status, 422, "{wrong}");
    }
    assert_eq!(std::fs::read_dir(at.join("p/notes")).unwrap().count(), 2);
}
