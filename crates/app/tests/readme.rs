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

/// Every line of the block that begins with a text stands in what was printed, in this order.
fn holds(shown: &str, printed: &str) {
    let mut rest = printed.lines();
    for line in block("text", shown)
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
fn the_output_shown_is_what_summary_prints() {
    holds("Verdicts:", &answer(&["summary"]));
}

/// The demo's file with a narrow wheel and the near spot alone, so that the test is quick.
fn narrow(demo: &str) -> String {
    let (head, rest) = demo.split_once("[[spot]]\nname = \"middle\"").unwrap();
    let (_, tail) = rest.split_once("[limits]").unwrap();
    let text = format!("{head}[limits]{tail}");
    let changed = text.replace("\nwidth = \"40 mm\"", "\nwidth = \"6 mm\"");
    assert_ne!(changed, text, "the demo's wheel is 40 mm wide");
    changed
}

#[test]
fn a_narrow_wheel_scatters_as_shown() {
    let demo = fs::read_to_string(repository().join("examples/lantern/arcwright.toml")).unwrap();
    let file = std::env::temp_dir().join(format!("arcwright-narrow-{}.toml", std::process::id()));
    fs::write(&file, narrow(&demo)).unwrap();
    let path = file.to_string_lossy();
    let printed = answer(&["scatter", &path, "--throws", "2048", "--within", "5 %"]);
    fs::remove_file(&file).unwrap();
    holds("holes under the wheel", &printed);
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

/// Draws the picture of scatter with the others.
const SCATTER_PICTURE: &[&str] = &[
    "scatter",
    "--demo",
    "lantern",
    "--no-remedies",
    "--throws",
    "2048",
    "--svg",
    "out/lantern/scatter.svg",
];

/// The pictures on the front page are what the program draws; `UPDATE=1 cargo test` renews them.
#[test]
fn the_pictures_shown_are_what_the_program_draws() {
    let folder = std::env::temp_dir().join(format!("arcwright-front-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    for arguments in [&["summary"][..], SCATTER_PICTURE] {
        Command::new(env!("CARGO_BIN_EXE_arcwright"))
            .args(arguments)
            .current_dir(&folder)
            .output()
            .unwrap();
    }
    for name in ["flights.svg", "scatter.svg"] {
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
