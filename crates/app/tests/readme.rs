//! The README shows what the program does: its output, its commands, its piece of a project file.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::PathBuf;
use std::process::Command;

fn repository() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

fn readme() -> String {
    fs::read_to_string(repository().join("README.md")).unwrap()
}

/// Lines of the fenced block that begins with a language word and holds a text.
fn block(language: &str, holds: &str) -> Vec<String> {
    let text = readme();
    let found = text
        .split(&format!("```{language}\n"))
        .skip(1)
        .filter_map(|b| b.split("```").next())
        .find(|b| b.contains(holds))
        .unwrap_or_else(|| panic!("README.md has no {language} block with `{holds}`"));
    found.lines().map(str::to_string).collect()
}

/// Standard output of the program in an empty folder.
fn answer(arguments: &[&str]) -> String {
    let folder = std::env::temp_dir().join(format!(
        "arcwright-readme-{}-{}",
        std::process::id(),
        arguments.len()
    ));
    fs::create_dir_all(&folder).unwrap();
    let done = Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(arguments)
        .current_dir(&folder)
        .output()
        .unwrap();
    fs::remove_dir_all(&folder).unwrap();
    String::from_utf8(done.stdout).unwrap()
}

#[test]
fn the_output_shown_is_what_the_first_command_prints() {
    let printed = answer(&[]);
    let mut rest = printed.lines();
    for line in block("text", "Verdicts:")
        .iter()
        .filter(|l| l.trim() != "..." && !l.is_empty())
    {
        assert!(
            rest.any(|l| l == line),
            "the program does not print, in this place:\n{line}\nIt prints:\n{printed}"
        );
    }
}

#[test]
fn every_command_has_its_row_and_no_row_names_another() {
    let help = answer(&["--help"]);
    let commands = help
        .split("Commands:\n")
        .nth(1)
        .and_then(|h| h.split("\n\n").next())
        .unwrap();
    let mut commands: Vec<&str> = commands
        .lines()
        .filter_map(|l| l.split_whitespace().next())
        .collect();
    commands.retain(|c| *c != "help");
    let text = readme();
    let mut rows: Vec<&str> = text
        .lines()
        .filter_map(|l| l.strip_prefix("| `arcwright "))
        .filter_map(|l| l.split([' ', '`']).next())
        .collect();
    commands.sort_unstable();
    rows.sort_unstable();
    assert_eq!(rows, commands);
}

#[test]
fn the_piece_of_a_project_file_stands_so_in_the_demo() {
    let strip = |l: &str| l.split('#').next().unwrap_or("").trim().to_string();
    let demo = fs::read_to_string(repository().join("examples/lantern/arcwright.toml")).unwrap();
    let lines: Vec<String> = demo.lines().map(strip).collect();
    let shown: Vec<String> = block("toml", "[piece]")
        .iter()
        .map(|l| strip(l))
        .filter(|l| !l.is_empty())
        .collect();
    assert!(shown.len() > 8);
    for line in shown {
        assert!(lines.contains(&line), "not in the demo: {line}");
    }
}

/// The pictures on the front page are what the first command draws; `UPDATE=1 cargo test` renews them.
#[test]
fn the_pictures_shown_are_what_the_first_command_draws() {
    let folder = std::env::temp_dir().join(format!("arcwright-front-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .current_dir(&folder)
        .output()
        .unwrap();
    for name in ["flights.svg", "launcher.svg"] {
        let drawn = fs::read_to_string(folder.join("out/lantern").join(name)).unwrap();
        let shown = repository().join("docs/pictures").join(name);
        if std::env::var_os("UPDATE").is_some() {
            fs::write(&shown, &drawn).unwrap();
        }
        assert!(
            fs::read_to_string(&shown).unwrap() == drawn,
            "{name} is out of date: run UPDATE=1 cargo test"
        );
        assert!(readme().contains(&format!("docs/pictures/{name}")));
    }
    fs::remove_dir_all(&folder).unwrap();
}
