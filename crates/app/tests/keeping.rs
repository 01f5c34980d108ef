//! What is kept of a project: its history, and the archive with everything in it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod folder;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use arcwright::tasks::history::{differences, note, read};
use folder::{Folder, Said, said};
use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");

impl Folder {
    fn new() -> Folder {
        let folder = Folder::empty();
        fs::create_dir_all(folder.0.join("own")).unwrap();
        fs::write(folder.0.join("own/arcwright.toml"), LANTERN).unwrap();
        folder
    }

    fn file(&self) -> PathBuf {
        self.0.join("own/arcwright.toml")
    }

    fn change(&self, from: &str, to: &str) {
        let text = fs::read_to_string(self.file()).unwrap();
        assert!(text.contains(from), "the demo no longer has {from:?}");
        fs::write(self.file(), text.replacen(from, to, 1)).unwrap();
    }

    fn run(&self, arguments: &[&str]) -> Said {
        let out = Command::new(env!("CARGO_BIN_EXE_arcwright"))
            .args(arguments)
            .current_dir(&self.0)
            .output()
            .unwrap();
        said(out)
    }

    fn json(&self, arguments: &[&str]) -> Value {
        let (out, err, _) = self.run(arguments);
        serde_json::from_str(&out).unwrap_or_else(|e| panic!("{e}: {out}{err}"))
    }
}

fn one_value(folder: &Folder, key: &str, before: &str, after: &str) {
    let v = folder.json(&["history", "own", "--json"]);
    let states = v["states"].as_array().unwrap();
    let last = &states[states.len() - 1]["change"]["differences"];
    assert_eq!(
        *last,
        serde_json::json!([{ "key": key, "before": before, "after": after }]),
        "{v:#}"
    );
}

#[test]
fn every_change_is_kept_with_its_reason_and_says_what_it_did_to_the_verdicts() {
    let f = Folder::new();
    let (out, _, code) = f.run(&["history", "own"]);
    assert!(code == 0 && out.contains("Nothing was kept yet"), "{out}");
    assert!(!f.0.join("own/history.jsonl").exists(), "looking writes nothing");
    let (out, _, _) = f.run(&["history", "own", "--because", "the  first\nidea"]);
    assert!(out.contains("State 1 is kept: the first idea"), "{out}");
    // A wheel that is too small to throw far.
    f.change("diameter = \"96 mm\"", "diameter = \"50 mm\"");
    let (out, _, _) = f.run(&["history", "own"]);
    assert!(
        out.contains("not kept yet") && out.contains("96 mm -> 50 mm"),
        "{out}"
    );
    f.run(&["history", "own", "--because", "a wheel from the shelf"]);
    let v = f.json(&["history", "own", "--json"]);
    assert_eq!(v["states"][1]["reason"], "a wheel from the shelf");
    assert_eq!(v["present"]["kept"], true);
    // What `check` says of both is what turned.
    let status = |text: &str| -> Value {
        f.change(&fs::read_to_string(f.file()).unwrap(), text);
        f.json(&["check", "own", "--json"])
    };
    let now = fs::read_to_string(f.file()).unwrap();
    let after = status(&now);
    let before = status(LANTERN);
    fs::write(f.file(), &now).unwrap();
    let find = |all: &Value, check: &str, subject: &str| -> String {
        all["verdicts"]
            .as_array()
            .unwrap()
            .iter()
            .find(|v| v["check"] == check && v["subject"] == subject)
            .unwrap()["status"]
            .as_str()
            .unwrap()
            .to_string()
    };
    let turned = v["states"][1]["change"]["turned"].as_array().unwrap();
    assert!(!turned.is_empty(), "{v:#}");
    for t in turned {
        let (check, subject) = (t["check"].as_str().unwrap(), t["subject"].as_str().unwrap());
        assert_eq!(t["before"]["status"], find(&before, check, subject), "{t}");
        assert_eq!(t["after"]["status"], find(&after, check, subject), "{t}");
        assert_ne!(t["before"]["status"], t["after"]["status"]);
    }
    // A reason given later takes the place of the first; the state stays.
    f.run(&["history", "own", "--because", "the only one there was"]);
    let v = f.json(&["history", "own", "--json"]);
    assert_eq!(v["states"].as_array().unwrap().len(), 2);
    assert_eq!(v["states"][1]["reason"], "the only one there was");
    let (out, _, _) = f.run(&["history", "own", "--show", "1"]);
    assert_eq!(out, LANTERN);
    let (out, _, _) = f.run(&["history", "own", "--compare", "1", "--with", "2"]);
    assert!(
        out.contains("State 1 and state 2") && out.contains("Setpoints"),
        "{out}"
    );
}

#[test]
fn what_the_program_writes_is_kept_by_itself_with_the_state_before() {
    let f = Folder::new();
    let old = LANTERN.to_string();
    let new = LANTERN.replacen("diameter = \"96 mm\"", "diameter = \"100 mm\"", 1);
    assert_ne!(old, new);
    fs::write(f.file(), &new).unwrap();
    note(&f.file(), &old, &new, "on the page");
    let all = read(&f.file()).unwrap();
    let kept: Vec<_> = all
        .states
        .iter()
        .map(|s| (s.text.as_str(), s.reason.as_str()))
        .collect();
    assert_eq!(
        kept,
        [(old.as_str(), "as it was before"), (new.as_str(), "on the page")]
    );
    // A measured value written by the command.
    let (out, err, code) = f.run(&[
        "measure", "bounce", "36 cm", "35 cm", "37 cm", "--over", "1 m", "--write", "--in", "own",
    ]);
    if code == 0 {
        let v = f.json(&["history", "own", "--json"]);
        let last = v["states"].as_array().unwrap().last().unwrap().clone();
        assert!(
            last["reason"]
                .as_str()
                .unwrap()
                .starts_with("measured: piece.bounce"),
            "{last}"
        );
    } else {
        panic!("{out}{err}");
    }
}

/// The text of a page without its marks.
fn words_of(page: &str) -> String {
    let mut out = String::new();
    for part in page.split('<') {
        out.push_str(part.split_once('>').map_or(part, |p| p.1));
    }
    out.replace("&gt;", ">")
        .replace("&lt;", "<")
        .replace("&amp;", "&")
}

#[test]
fn the_notebook_says_state_by_state_what_the_history_says_and_a_hostile_reason_stays_text() {
    let f = Folder::new();
    let page = || -> Option<String> {
        let (_, err, code) = f.run(&["book", "own", "--no-pdf", "--sections", "brief,history"]);
        assert_eq!(code, 0, "{err}");
        let page = fs::read_to_string(f.0.join("own/out/notebook.html")).unwrap();
        let start = page.find("<section id=\"history\"")?;
        Some(page[start..].to_string())
    };
    assert_eq!(page(), None, "nothing was kept, so there is nothing to say");
    f.run(&["history", "own", "--because", "the first idea"]);
    f.change("diameter = \"96 mm\"", "diameter = \"50 mm\"");
    let evil =
        "<script>alert(1)</script> & \u{1b}[31mred, because the shelf had no other wheel than this one";
    f.run(&["history", "own", "--because", evil]);
    f.change("diameter = \"50 mm\"", "diameter = \"51 mm\"");
    let raw = page().unwrap();
    assert!(!raw.contains("<script") && !raw.contains('\u{1b}'), "{raw}");
    let said = words_of(&raw);
    let v = f.json(&["history", "own", "--json"]);
    let change = &v["states"][1]["change"];
    for one in change["words"]["outcomes"].as_array().unwrap() {
        assert!(said.contains(one.as_str().unwrap()), "{one} is not in {said}");
    }
    assert!(!change["turned"].as_array().unwrap().is_empty());
    for one in [
        &v["states"][0]["reason"],
        &v["states"][1]["reason"],
        &change["words"]["values"],
        &v["present"]["words"],
    ] {
        assert!(said.contains(one.as_str().unwrap()), "{one} is not in {said}");
    }
    assert!(said.contains("wheel.diameter 96 mm -> 50 mm") && said.contains("not kept yet"));
    // The terminal gives the whole reason too.
    let (out, _, _) = f.run(&["history", "own"]);
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("no other wheel than this one") && !out.contains('\u{1b}'),
        "{out}"
    );
    // Only the newest are told; the others are counted.
    let v = f.json(&["history", "own", "--json", "--last", "1"]);
    assert_eq!(
        (&v["earlier_states"], v["states"].as_array().unwrap().len()),
        (&serde_json::json!(1), 1)
    );
    assert_eq!(v["states"][0]["change"], *change);
}

#[test]
fn a_line_that_was_torn_off_loses_nothing_of_the_others() {
    let f = Folder::new();
    f.run(&["history", "own", "--because", "one"]);
    let path = f.0.join("own/history.jsonl");
    let whole = fs::read_to_string(&path).unwrap();
    fs::write(&path, format!("{whole}{{\"format\":1,\"utc_ms\":17")).unwrap();
    f.change("diameter = \"96 mm\"", "diameter = \"97 mm\"");
    f.run(&["history", "own", "--because", "two"]);
    let v = f.json(&["history", "own", "--json"]);
    assert_eq!(v["states"].as_array().unwrap().len(), 2, "{v:#}");
    assert_eq!(v["damaged_lines"], serde_json::json!([2]));
    one_value(&f, "wheel.diameter", "96 mm", "97 mm");
    let (out, _, _) = f.run(&["history", "own"]);
    assert!(out.contains("Line 2 of history.jsonl"), "{out}");
    fs::write(&path, "{\"format\":2}\n").unwrap();
    let (out, err, code) = f.run(&["history", "own", "--because", "three"]);
    assert!(
        out.is_empty() && code == 2 && err.contains("newer-history"),
        "{err}"
    );
    let (_, err, code) = f.run(&["history", "own", "--because", " "]);
    assert!(code == 2 && err.contains("no-reason"), "{err}");
}

#[test]
fn a_spot_put_in_before_others_changes_only_itself() {
    let more = LANTERN.replacen(
        "[[spot]]",
        "[[spot]]\nname = \"new\"\ndistance = \"2 m\"\n[[spot]]",
        1,
    );
    let keys: Vec<String> = differences(LANTERN, &more).into_iter().map(|d| d.key).collect();
    assert!(
        !keys.is_empty() && keys.iter().all(|k| k.starts_with("spot \"new\"")),
        "{keys:?}"
    );
    assert!(differences(LANTERN, &format!("# a remark\n{LANTERN}")).is_empty());
}

/// Every file below a folder with its bytes.
fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut out = Vec::new();
    let mut rest = vec![folder.to_path_buf()];
    while let Some(next) = rest.pop() {
        for e in fs::read_dir(next).unwrap() {
            let path = e.unwrap().path();
            if path.is_dir() {
                rest.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_str().unwrap().to_string();
                out.push((name, fs::read(&path).unwrap()));
            }
        }
    }
    out.sort();
    out
}

#[test]
fn an_archive_opens_elsewhere_with_everything_as_it_was() {
    let f = Folder::new();
    let own = f.0.join("own");
    f.run(&["history", "own", "--because", "for next year"]);
    let (out, err, code) = f.run(&["floor", "log", "far 3400 rpm short 10cm", "--in", "own"]);
    assert_eq!(code, 0, "{out}{err}");
    fs::create_dir_all(own.join("notes")).unwrap();
    fs::write(own.join("notes/2026-02-14 wheels.txt"), "wide ones").unwrap();
    fs::create_dir_all(own.join("out/deep")).unwrap();
    fs::write(own.join("out/deep/a.svg"), "<svg/>").unwrap();
    fs::write(own.join("private.txt"), "stays here").unwrap();
    let (out, err, code) = f.run(&["archive", "own", "--to", "all.zip"]);
    assert!(code == 0 && out.contains("5 files"), "{out}{err}");
    let (_, err, code) = f.run(&["archive", "own", "--to", "all.zip"]);
    assert!(code == 2 && err.contains("already-there"), "{err}");
    let (out, _, code) = f.run(&["archive", "--check", "all.zip"]);
    assert!(code == 0 && out.contains("as it was packed"), "{out}");
    let (out, err, code) = f.run(&["archive", "--open", "all.zip", "--into", "next"]);
    assert_eq!(code, 0, "{out}{err}");
    let (here, there) = (files(&own), files(&f.0.join("next")));
    let plain = |all: &[(String, Vec<u8>)]| -> Vec<(String, Vec<u8>)> {
        all.iter()
            .filter(|(n, _)| !n.starts_with("floor.db") && n != "private.txt")
            .cloned()
            .collect()
    };
    assert_eq!(plain(&here), plain(&there));
    assert!(there.iter().any(|(n, _)| n == "floor.db") && !there.iter().any(|(n, _)| n == "private.txt"));
    let shots = |folder: &str| f.json(&["floor", "list", "--json", "--in", folder])["shots"].clone();
    assert_eq!(shots("own"), shots("next"));
    let (_, err, code) = f.run(&["archive", "--open", "all.zip", "--into", "next"]);
    assert!(code == 2 && err.contains("already-there"), "{err}");
}

#[test]
fn a_damaged_or_hostile_archive_writes_nothing() {
    use std::io::Write;
    let f = Folder::new();
    f.run(&["archive", "own", "--to", "all.zip"]);
    let good = fs::read(f.0.join("all.zip")).unwrap();
    let refused = |name: &str, code_word: &str| {
        let (out, err, code) = f.run(&["archive", "--open", name, "--into", "next"]);
        assert!(
            out.is_empty() && code == 2 && err.contains(code_word),
            "{name}: {err}"
        );
        let left: Vec<_> = files(&f.0)
            .into_iter()
            .map(|(n, _)| n)
            .filter(|n| n.starts_with("next") || n.contains("escaped"))
            .collect();
        assert!(left.is_empty(), "{left:?}");
    };
    let mut bad = good.clone();
    let middle = bad.len() / 3;
    bad[middle] ^= 0x20;
    fs::write(f.0.join("flipped.zip"), &bad).unwrap();
    refused("flipped.zip", "archive-damaged");
    fs::write(f.0.join("short.zip"), &good[..good.len() / 2]).unwrap();
    refused("short.zip", "archive-damaged");
    refused("nothing.zip", "archive-unusable");
    // A list and members made by somebody else.
    let make = |name: &str, members: &[(&str, &str)], listed: &[(&str, &str)]| {
        let mut zip = zip::ZipWriter::new(fs::File::create(f.0.join(name)).unwrap());
        let options = zip::write::SimpleFileOptions::default();
        for (path, text) in members {
            zip.start_file(*path, options).unwrap();
            zip.write_all(text.as_bytes()).unwrap();
        }
        let list: Vec<Value> = listed
            .iter()
            .map(|(path, text)| {
                use sha2::Digest;
                let hash: String = sha2::Sha256::digest(text.as_bytes())
                    .iter()
                    .map(|b| format!("{b:02x}"))
                    .collect();
                serde_json::json!({ "path": path, "bytes": text.len(), "sha256": hash })
            })
            .collect();
        zip.start_file("archive.json", options).unwrap();
        let list =
            serde_json::json!({ "format": 1, "project": "x", "utc": "", "tool": "0", "members": list });
        zip.write_all(list.to_string().as_bytes()).unwrap();
        zip.finish().unwrap();
    };
    let file = ("arcwright.toml", LANTERN);
    make("fine.zip", &[file], &[file]);
    assert_eq!(f.run(&["archive", "--check", "fine.zip"]).2, 0);
    let out = ("../escaped.txt", "x");
    make("out.zip", &[file, out], &[file, out]);
    refused("out.zip", "archive-damaged");
    make("more.zip", &[file, ("notes/escaped.txt", "x")], &[file]);
    refused("more.zip", "archive-damaged");
    make("less.zip", &[file], &[file, ("notes/escaped.txt", "x")]);
    refused("less.zip", "archive-damaged");
    make("without.zip", &[("notes/a", "x")], &[("notes/a", "x")]);
    refused("without.zip", "archive-damaged");
    fs::write(f.0.join("text.zip"), "hello").unwrap();
    refused("text.zip", "archive-damaged");
    let mut zip = zip::ZipWriter::new(fs::File::create(f.0.join("other.zip")).unwrap());
    zip.start_file("a", zip::write::SimpleFileOptions::default())
        .unwrap();
    zip.finish().unwrap();
    refused("other.zip", "no-archive");
}
