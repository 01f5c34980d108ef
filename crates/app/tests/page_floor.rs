//! Floor and Pit as the page asks for them: rehearsal, files from outside, the check between matches.

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

impl Server {
    fn of(place: Place) -> Server {
        let ready = web::start(Desk::open(place).unwrap(), Options::default()).unwrap();
        let port = ready.address.port();
        std::thread::spawn(move || ready.serve());
        Server { port }
    }

    fn ask(&self, method: &str, path: &str, body: &str) -> (u16, Value) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let head = format!(
            "{method} /api/v1/{path} HTTP/1.1\r\nhost: 127.0.0.1:{}\r\nconnection: close\r\n\
             content-type: application/json\r\ncontent-length: {}\r\n\r\n",
            self.port,
            body.len()
        );
        stream.write_all(head.as_bytes()).unwrap();
        stream.write_all(body.as_bytes()).unwrap();
        let mut text = String::new();
        stream.read_to_string(&mut text).unwrap();
        let (head, body) = text.split_once("\r\n\r\n").unwrap();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        (status, serde_json::from_str(body).unwrap_or(Value::Null))
    }

    fn get(&self, path: &str) -> Value {
        let (status, body) = self.ask("GET", path, "");
        assert_eq!(status, 200, "{path}: {body}");
        body
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        let (status, reply) = self.ask("POST", path, &body.to_string());
        assert_eq!(status, 200, "{path}: {reply}");
        reply
    }

    /// The code of a refusal.
    fn refused(&self, path: &str, body: &Value) -> String {
        let (status, reply) = self.ask("POST", path, &body.to_string());
        assert_eq!(status, 422, "{path}: {reply}");
        reply["problems"][0]["code"].as_str().unwrap().to_string()
    }

    fn log(&self, words: &str, number: usize) {
        let shot = json!({ "words": words, "key": format!("key-of-shot-{number}"), "anyway": true });
        self.post("floor/shots", &shot);
    }
}

/// A folder that goes with the test, and the project file in it.
struct Own(PathBuf);

impl Own {
    fn new(name: &str) -> Own {
        let at = std::env::temp_dir().join(format!("arcwright-page-floor-{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&at);
        std::fs::create_dir_all(&at).unwrap();
        arcwright::tasks::new::make(&at.join("p"), "lantern").unwrap();
        Own(at)
    }

    fn file(&self) -> PathBuf {
        self.0.join("p/arcwright.toml")
    }

    fn serve(&self) -> Server {
        Server::of(Place::File(self.file()))
    }

    fn run(&self, line: &[&str]) -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_arcwright"));
        command.args(line).arg("--in").arg(self.file());
        String::from_utf8(command.output().unwrap().stdout).unwrap()
    }
}

impl Drop for Own {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn names(list: &Value) -> Vec<String> {
    let all = list["says"].as_array().unwrap();
    all.iter()
        .map(|s| format!("{} {}", s["place"].as_str().unwrap(), s["seen"].as_str().unwrap()))
        .collect()
}

#[test]
fn a_rehearsal_on_the_page_throws_the_machine_of_the_terminal_and_leaves_the_real_log_alone() {
    let (page, terminal) = (Own::new("rehearse"), Own::new("rehearse-terminal"));
    let server = page.serve();
    assert_eq!(server.get("floor/rehearsal")["going"], false);
    assert_eq!(server.refused("floor/rehearsal/step", &json!({})), "no-rehearsal");
    let start = json!({ "seed": 7, "see": ["eye", "clock"] });
    let state = server.post("floor/rehearsal", &start);
    assert_eq!((&state["thrown"], &state["seed"]), (&json!(0), &json!(7)));
    terminal.run(&["floor", "rehearse", "--seed", "7"]);
    for words in ["far 3490 rpm", "near 2900 rpm"] {
        let did = server.post("floor/rehearsal/step", &json!({ "words": words }))["did"].clone();
        let mut line = vec!["floor", "rehearse", "throw"];
        line.extend(words.split(' '));
        line.extend(["--see", "eye,clock"]);
        assert_eq!(did.as_str().unwrap(), terminal.run(&line).trim());
    }
    // What comes next is what the terminal says of the log of rehearsals, and that is thrown.
    let next = server.get("floor/next?rehearsal=true");
    let said: Value =
        serde_json::from_str(&page.run(&["floor", "next", "--rehearsal", "--json", "--see", "eye,clock"]))
            .unwrap();
    assert_eq!(next, said);
    let state = server.post("floor/rehearsal/step", &json!({}));
    let from = format!("from {} ", next["shot"]["spot"].as_str().unwrap());
    assert!(state["did"].as_str().unwrap().contains(&from), "{state}");
    // What the terminal throws meanwhile is seen.
    page.run(&["floor", "rehearse", "throw", "near", "2900", "rpm"]);
    assert_eq!(server.get("floor/rehearsal")["thrown"], 4);
    page.run(&["floor", "undo", "--rehearsal"]);
    // Nothing of it is in the real log, and a real shot is not in the rehearsal.
    assert!(!page.0.join("p/floor.db").exists());
    assert_eq!(server.get("floor")["says"], json!([]));
    server.log("far 3490 rpm in", 1);
    assert_eq!(names(&server.get("floor")).len(), 1);
    assert_eq!(names(&server.get("floor?rehearsal=true")).len(), 3);
    assert_eq!(server.get("floor/rehearsal")["thrown"], 3);
    // The program ended and was started again: it goes on where it was.
    let again = page.serve();
    let state = again.get("floor/rehearsal");
    assert_eq!(
        (&state["seed"], &state["thrown"], &state["see"]),
        (&json!(7), &json!(3), &json!(["eye", "clock"]))
    );
    // Another machine begins with nothing; what the first one threw is still there.
    again.post("floor/rehearsal", &json!({ "seed": 8, "see": ["outcome"] }));
    assert_eq!(names(&again.get("floor?rehearsal=true")).len(), 0);
    let sessions = again.get("floor?rehearsal=true")["sessions"].clone();
    assert_eq!(sessions[0]["shots"].as_array().unwrap().len(), 3);
    assert_eq!(
        sessions[0]["shots"][0]["left_out_because"],
        "another machine threw it"
    );
}

#[test]
fn a_demo_is_rehearsed_without_a_folder_and_nonsense_is_refused() {
    let server = Server::of(Place::Demo("pebble"));
    assert_eq!(
        server.refused("floor/rehearsal", &json!({ "see": [] })),
        "nothing-seen"
    );
    assert_eq!(
        server.refused("floor/rehearsal", &json!({ "see": ["ear"] })),
        "bad-body"
    );
    let state = server.post("floor/rehearsal", &json!({ "see": ["eye"] }));
    assert!(state["seed"].as_u64().unwrap() < 10_000);
    assert_eq!(server.post("floor/rehearsal/step", &json!({}))["thrown"], 1);
    assert_eq!(
        server.refused("floor/rehearsal/step", &json!({ "words": "nowhere fast" })),
        "not-understood"
    );
    assert!(!Path::new("rehearsal.db").exists());
}

const TABLE: &str = "spot,rpm,result,missed\nfar,3490,in,\nnear,2900,long,25\nfar,banana,in,\n";

#[test]
fn a_table_of_shots_is_shown_then_taken_as_the_terminal_would() {
    let own = Own::new("table");
    let server = own.serve();
    let mut ask = json!({ "name": "shots.csv", "bytes": TABLE });
    let look = server.post("floor/incoming", &ask);
    assert_eq!(look["kind"], "shots");
    assert_eq!(
        (&look["take"], &look["refused_count"], &look["taken"]),
        (&json!(2), &json!(1), &json!(0)),
        "{look}"
    );
    assert!(!own.0.join("p/floor.db").exists(), "a look writes nothing");
    let third = &look["rows"]["rows"][2];
    assert_eq!(
        (&third["fate"], &third["cells"][0]),
        (&json!("refused"), &json!("4"))
    );
    assert!(third["why"]["what"].as_str().unwrap().contains("banana"));
    // A column that the program does not know is told, and asked for its unit.
    assert_eq!(look["columns"][3]["ours"], Value::Null);
    ask["maps"] = json!([{ "theirs": "missed", "ours": "miss along" }]);
    let look = server.post("floor/incoming", &ask);
    let wrong = &look["columns"][3]["wrong"];
    assert_eq!(wrong["code"], "no-unit");
    assert!(!wrong["fix"].as_str().unwrap().contains("--map"), "{wrong}");
    ask["maps"] = json!([{ "theirs": "missed", "ours": "miss along", "unit": "cm" }]);
    let look = server.post("floor/incoming", &ask);
    assert_eq!(look["columns"][3]["wrong"], Value::Null);
    std::fs::write(own.0.join("shots.csv"), TABLE).unwrap();
    let path = own.0.join("shots.csv");
    let said = own.run(&[
        "floor",
        "import",
        path.to_str().unwrap(),
        "--map",
        "missed=miss along (cm)",
    ]);
    for row in look["rows"]["rows"].as_array().unwrap() {
        if row["fate"] == "take" {
            let line = format!(
                "line {}: take {}",
                row["cells"][0].as_str().unwrap(),
                row["cells"][1].as_str().unwrap()
            );
            assert!(said.contains(&line), "{line}\n{said}");
        }
    }
    ask["take"] = json!(true);
    assert_eq!(server.post("floor/incoming", &ask)["taken"], 2);
    assert_eq!(names(&server.get("floor")).len(), 2);
    // Sent again it is there already.
    let again = server.post("floor/incoming", &ask);
    assert_eq!((&again["there"], &again["taken"]), (&json!(2), &json!(0)));
    server.post("floor/undo", &json!({}));
    assert_eq!(names(&server.get("floor")).len(), 0);
}

/// A log of a wheel at 3400 rpm, then as many falls to 3200 rpm, two seconds apart.
fn record(throws: usize, fall_rpm: f64) -> String {
    let mut text = String::from("t (s),flywheel,goal (rpm)\n");
    for i in 0..(100 * (throws + 1)) {
        let t = 0.02 * i as f64;
        let since = (t + 1e-9) % 2.0;
        let fell = t >= 2.0 && since < 1.0;
        let rpm = 3400.0
            - if fell {
                fall_rpm * (-since / 0.25).exp()
            } else {
                0.0
            };
        text.push_str(&format!("{t:.2},{rpm:.1},3400\n"));
    }
    text
}

#[test]
fn a_robots_log_is_mended_by_its_columns_and_brought_to_the_shots() {
    let own = Own::new("record");
    let server = own.serve();
    for n in 0..3 {
        server.log("far 3400 in", n);
    }
    let mut ask = json!({ "name": "robot.csv", "bytes": record(3, 200.0), "in_order": true });
    let look = server.post("floor/incoming", &ask);
    assert_eq!(look["kind"], "telemetry", "{look}");
    assert_eq!(look["refused"]["code"], "column-no-unit");
    assert_eq!(look["columns"][1]["ours"], "wheel", "{look}");
    ask["maps"] = json!([{ "theirs": "flywheel", "ours": "wheel", "unit": "rpm" }]);
    let look = server.post("floor/incoming", &ask);
    assert_eq!(look["refused"], Value::Null, "{look}");
    assert_eq!(look["found"]["rows"].as_array().unwrap().len(), 3, "{look}");
    assert_eq!(look["take"], 3);
    assert!(look["picture"].as_str().unwrap().starts_with("<svg"));
    ask["take"] = json!(true);
    assert_eq!(server.post("floor/incoming", &ask)["taken"], 3);
    let shot = server.get("floor")["sessions"][0]["shots"][0].clone();
    let before = shot["before_radps"].as_f64().unwrap() * 30.0 / std::f64::consts::PI;
    assert!((before - 3400.0).abs() < 5.0, "{before}");
    // Left out, a column says nothing.
    ask["maps"] = json!([{ "theirs": "flywheel", "ours": "-" }]);
    let look = server.post("floor/incoming", &ask);
    assert_eq!(look["refused"]["code"], "column-no-wheel", "{look}");
}

#[test]
fn a_spreadsheet_and_bytes_that_are_none_are_refused_with_a_word() {
    let own = Own::new("sheet");
    let server = own.serve();
    let sheet = json!({ "name": "shots.xlsx", "bytes": "PK\u{3}\u{4}abc" });
    assert_eq!(server.refused("floor/incoming", &sheet), "bad-table");
    let none = json!({ "name": "x.csv", "bytes": "spot,rpm\nfar,3490€\n" });
    assert_eq!(server.refused("floor/incoming", &none), "bad-body");
}

#[test]
fn the_check_between_matches_calls_what_five_throws_show() {
    let own = Own::new("drift");
    let server = own.serve();
    let (status, early) = server.ask("GET", "floor/drift", "");
    assert_eq!(
        (status, &early["problems"][0]["code"]),
        (422, &json!("too-few-shots"))
    );
    let mut n = 0;
    for k in 0..4 {
        for spot in ["near 2900", "middle 3150", "far 3490"] {
            server.log(&format!("{spot} long {}cm left {}cm", 1 + 3 * (k % 2), k % 3), n);
            n += 1;
        }
    }
    for k in 0..5 {
        server.log(&format!("far 3490 long {}cm", 38 + k), 100 + k);
    }
    let found = server.get("floor/drift?from_shot=13");
    assert_eq!(found["later"], json!([13, 14, 15, 16, 17]), "{found}");
    let said = own.run(&["floor", "drift", "--from-shot", "13"]);
    for line in found["says"].as_array().unwrap() {
        assert!(said.contains(line.as_str().unwrap()), "{line}\n{said}");
    }
    assert_eq!(found["verdict"], "changed", "{said}");
    // Two logs of the robot: throws that take more out of the wheel.
    let named = |name: &str, fall| json!({ "name": name, "bytes": record(8, fall).replace("flywheel", "flywheel (rpm)") });
    let pair = json!({ "now": named("now.csv", 420.0), "then": named("then.csv", 200.0) });
    let found = server.post("floor/drift", &pair);
    assert!(
        found["says"][0]
            .as_str()
            .unwrap()
            .contains("now.csv against then.csv"),
        "{found}"
    );
    assert_eq!(found["verdict"], "changed", "{found}");
}
