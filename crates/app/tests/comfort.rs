//! Comfort of the command line: words explained, completions, manual pages, no colour where none is wanted.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use std::process::Command;

fn run(arguments: &[&str]) -> (String, String, i32) {
    let done = Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(arguments)
        .current_dir(std::env::temp_dir())
        .env("CLICOLOR_FORCE", "1")
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    let text = |b: Vec<u8>| String::from_utf8(b).unwrap();
    (text(done.stdout), text(done.stderr), done.status.code().unwrap())
}

#[test]
fn a_word_is_explained_with_its_equation_and_source() {
    let (out, _, code) = run(&["explain", "contact", "force"]);
    assert_eq!(code, 0);
    for part in ["F = k d^n", "[hunt-crossley-1975]", "Hunt"] {
        assert!(out.contains(part), "{part}: {out}");
    }
    let (json, _, _) = run(&["explain", "--json", "wheel.diameter"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["schema"], "arcwright/explain/1");
    assert_eq!(json["meanings"][0]["kind"], "key");
    let (all, _, _) = run(&["explain"]);
    assert!(all.contains("squeeze") && all.contains("kerf"), "{all}");
}

#[test]
fn an_unknown_word_is_refused_with_the_nearest_known_one() {
    let (out, err, code) = run(&["explain", "squeez"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("did you mean `squeeze`"), "{err}");
}

#[test]
fn completions_know_every_command_and_are_sound_to_the_shell() {
    let (help, _, _) = run(&["--help"]);
    let commands: Vec<&str> = help
        .split("Commands:\n")
        .nth(1)
        .unwrap()
        .lines()
        .take_while(|l| !l.is_empty())
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    assert!(commands.len() > 12, "{commands:?}");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let (script, err, code) = run(&["completions", shell]);
        assert_eq!(code, 0, "{shell}: {err}");
        for command in &commands {
            assert!(script.contains(command), "{shell} does not know {command}");
        }
        if shell == "bash" && Command::new("bash").arg("--version").output().is_ok() {
            let file = std::env::temp_dir().join(format!("arcwright-completions-{}", std::process::id()));
            std::fs::write(&file, &script).unwrap();
            let checked = Command::new("bash").arg("-n").arg(&file).status().unwrap();
            let _ = std::fs::remove_file(&file);
            assert!(checked.success());
        }
    }
}

#[test]
fn there_is_a_manual_page_for_each_command() {
    let folder = std::env::temp_dir().join(format!("arcwright-man-{}", std::process::id()));
    let (out, err, code) = run(&["man", folder.to_str().unwrap()]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("arcwright.1"), "{out}");
    for page in ["arcwright.1", "arcwright-hand.1", "arcwright-floor-log.1"] {
        let text = std::fs::read_to_string(folder.join(page)).unwrap_or_else(|e| panic!("{page}: {e}"));
        assert!(text.contains(".TH "), "{page}");
    }
    let _ = std::fs::remove_dir_all(&folder);
}

#[test]
fn nothing_is_coloured() {
    for arguments in [
        &["explain", "squeeze"][..],
        &["--help"],
        &["explain", "zzz"],
        &["throw", "--nonsense"],
    ] {
        let (out, err, _) = run(arguments);
        assert!(!(out + &err).contains('\u{1b}'), "{arguments:?}");
    }
}

#[test]
fn quiet_leaves_files_and_codes_and_verbose_says_how_long_it_took() {
    let (out, err, code) = run(&["--quiet", "check", "--demo", "lantern"]);
    assert_eq!((out.as_str(), err.as_str(), code), ("", "", 0));
    let (out, err, code) = run(&["check", "--quiet", "--demo", "nowhere"]);
    assert_eq!((out.as_str(), code), ("", 2));
    assert!(err.contains("nowhere"), "what is wrong is said: {err}");
    let (out, _, _) = run(&["check", "--demo", "lantern", "--json", "--quiet"]);
    assert!(
        out.contains("arcwright/check/1"),
        "data that was asked for comes: {out}"
    );
    let (loud, err, code) = run(&["check", "--demo", "lantern", "--verbose"]);
    let (plain, none, _) = run(&["check", "--demo", "lantern"]);
    assert_eq!((loud, none.as_str(), code), (plain, "", 0));
    assert!(
        err.starts_with("took ") && err.contains("exit code 0: fine"),
        "{err}"
    );
    let (_, err, code) = run(&["check", "--quiet", "--verbose"]);
    assert_eq!(code, 2, "{err}");
}

#[test]
fn a_minus_is_an_amount_for_floor_also_behind_a_flag() {
    let (_, err, code) = run(&[
        "--verbose",
        "floor",
        "log",
        "far",
        "-2m",
        "--in",
        "/no/such/folder",
    ]);
    assert_eq!(code, 2);
    assert!(!err.contains("unexpected argument"), "{err}");
}

#[test]
fn every_word_that_the_summary_shows_is_explained() {
    let (out, err, code) = run(&["check", "--demo", "lantern", "--json"]);
    assert!(code < 2, "{err}");
    let checks: serde_json::Value = serde_json::from_str(&out).unwrap();
    let mut words: Vec<String> = checks["verdicts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|v| v["check"].as_str().unwrap().to_string())
        .collect();
    let heads = "spot distance wheel untested exit angle entry clearance arrives";
    let told = "holds tight fails unknown margin mend reserve rpm rim fuse outcome setpoint slide tilt reach wedge R50 R95";
    words.extend(heads.split(' ').chain(told.split(' ')).map(str::to_string));
    for word in words {
        let (_, err, code) = run(&["explain", &word]);
        assert_eq!(code, 0, "{word}: {err}");
    }
    let (out, _, _) = run(&["explain", "no-season"]);
    assert!(out.contains("[season]"), "{out}");
}
