//! Rules that keep the house in order. Each says where it was broken.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
}

fn files(below: &str, ending: &str) -> Vec<(String, String)> {
    fn walk(dir: &Path, ending: &str, out: &mut Vec<PathBuf>) {
        let mut entries: Vec<PathBuf> = fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
        entries.sort();
        for path in entries {
            if path.is_dir() {
                walk(&path, ending, out);
            } else if path.to_string_lossy().ends_with(ending) {
                out.push(path);
            }
        }
    }
    let mut paths = Vec::new();
    walk(&root().join(below), ending, &mut paths);
    assert!(!paths.is_empty(), "no {ending} files below {below}");
    paths
        .into_iter()
        .map(|p| {
            let name = p.strip_prefix(root()).unwrap().to_string_lossy().into_owned();
            (name, fs::read_to_string(&p).unwrap())
        })
        .collect()
}

fn sources() -> Vec<(String, String)> {
    files("crates", ".rs")
        .into_iter()
        .filter(|(n, _)| n.contains("/src/"))
        .collect()
}

/// The part of a source file before its inline tests.
fn code_of(text: &str) -> &str {
    text.split("\n#[cfg(test)]\nmod ").next().unwrap_or(text)
}

fn assert_none(rule: &str, broken: Vec<String>) {
    assert!(broken.is_empty(), "{rule}:\n  {}", broken.join("\n  "));
}

#[test]
fn no_source_file_is_longer_than_600_lines_without_its_tests() {
    let long = sources()
        .iter()
        .filter(|(n, _)| !n.ends_with("/tests.rs") && !n.ends_with("/laws.rs") && !n.ends_with("/checks.rs"))
        .map(|(n, t)| (n, code_of(t).lines().count()))
        .filter(|(_, lines)| *lines > 600)
        .map(|(n, lines)| format!("{n}: {lines} lines"))
        .collect();
    assert_none("split these", long);
}

#[test]
fn model_and_paper_touch_no_file_clock_network_or_terminal() {
    let mut broken = Vec::new();
    for (name, text) in sources() {
        if !(name.starts_with("crates/model/") || name.starts_with("crates/paper/")) {
            continue;
        }
        // Test-only files read checks and golden texts.
        if name.ends_with("/checks.rs") || name.ends_with("/tests.rs") || name.ends_with("/laws.rs") {
            continue;
        }
        for word in [
            "std::fs",
            "std::net",
            "std::env",
            "std::time",
            "println!",
            "serde",
        ] {
            if code_of(&text).contains(word) {
                broken.push(format!("{name}: {word}"));
            }
        }
    }
    assert_none("pure crates use", broken);
}

/// Inside `model` each line sees only the lines above it.
#[test]
fn modules_of_the_model_look_only_upward() {
    const ORDER: &[&[&str]] = &[
        &["finding", "numerics", "units"],
        &["air", "flight", "launcher", "target", "project"],
        &["shot"],
        &["aim"],
        &["volley_run"],
        &["limits"],
    ];
    let level = |m: &str| ORDER.iter().position(|l| l.contains(&m));
    let mut broken = Vec::new();
    for (name, text) in sources() {
        let Some(inner) = name.strip_prefix("crates/model/src/") else {
            continue;
        };
        let own = inner.split('/').next().unwrap_or("").trim_end_matches(".rs");
        if own == "lib" {
            continue;
        }
        let Some(own_level) = level(own) else {
            broken.push(format!("{name}: `{own}` has no place in the order"));
            continue;
        };
        for line in code_of(&text).lines() {
            let line = line.trim_start();
            if line.starts_with("//") {
                continue;
            }
            for used in line.split("crate::").skip(1) {
                let module: String = used
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                if module != own && level(&module).is_some_and(|l| l > own_level) {
                    broken.push(format!("{name}: uses {module}"));
                }
            }
        }
    }
    assert_none("looks downward", broken);
}

#[test]
fn every_public_number_says_its_unit() {
    const SUFFIXES: &[&str] = &[
        "_m", "_m2", "_m3", "_mps", "_mps2", "_s", "_kg", "_kgm2", "_kgpm3", "_n", "_nm", "_nms", "_npm",
        "_rad", "_radps", "_radps2", "_v", "_a", "_ohm", "_w", "_j", "_jpm2", "_k", "_pa", "_pas", "_hz",
        "_coeff", "_ratio", "_frac", "_count", "_px",
    ];
    let mut broken = Vec::new();
    for (name, text) in sources() {
        if !name.starts_with("crates/model/") || name.contains("/numerics/") || name.contains("/units/") {
            continue;
        }
        for (i, line) in code_of(&text).lines().enumerate() {
            let line = line.trim();
            let Some(field) = line.strip_prefix("pub ") else {
                continue;
            };
            let Some((ident, kind)) = field.split_once(": ") else {
                continue;
            };
            if !(kind.starts_with("f64") || kind.starts_with("Option<f64>") || kind.starts_with("[f64;"))
                || ident.contains(' ')
                || ident.contains('(')
            {
                continue;
            }
            if !SUFFIXES.iter().any(|s| ident.ends_with(s))
                && !UNITLESS.contains(&ident)
                && !GAINS.iter().any(|g| ident.ends_with(g))
            {
                broken.push(format!("{name}:{}: {ident}", i + 1));
            }
        }
    }
    assert_none("name these with a unit from the closed list", broken);
}

/// Values whose unit belongs to the knob or key they describe, and unit vectors.
const UNITLESS: &[&str] = &[
    "value",
    "low",
    "high",
    "step",
    "repeat",
    "sd",
    "normal",
    "merit",
    "present_merit",
];
/// Compound units of gains and motor constants.
const GAINS: &[&str] = &[
    "_vs",
    "_nm_per_a",
    "_v_per_radps",
    "_v_per_radps2",
    "_k_per_w",
    "_j_per_k",
    "_per_k",
    "_pm",
    "_kgm",
];

#[test]
fn sources_are_cited_by_keys_that_exist_and_every_key_is_used() {
    let references = fs::read_to_string(root().join("REFERENCES.md")).unwrap();
    let listed: BTreeSet<String> = references
        .lines()
        .filter_map(|l| l.strip_prefix("- **["))
        .filter_map(|l| l.split(']').next())
        .map(str::to_string)
        .collect();
    assert!(listed.len() > 10, "REFERENCES.md lists {} keys", listed.len());
    let mut cited = BTreeSet::new();
    let mut all = sources();
    all.extend(files("docs", ".md"));
    all.extend(
        files("crates", ".rs")
            .into_iter()
            .filter(|(n, _)| n.contains("/tests/") && !n.ends_with("tidy.rs")),
    );
    for (_, text) in &all {
        for piece in text.split('[').skip(1) {
            let Some((key, _)) = piece.split_once(']') else {
                continue;
            };
            // Escaped brackets in doc comments.
            let key = key.trim_end_matches('\\');
            let shaped = key.contains('-')
                && key
                    .chars()
                    .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
                && key.starts_with(|c: char| c.is_ascii_lowercase());
            if shaped {
                cited.insert(key.to_string());
            }
        }
    }
    let missing: Vec<String> = cited.difference(&listed).cloned().collect();
    assert_none("cited but not in REFERENCES.md", missing);
    let unused: Vec<String> = listed.difference(&cited).cloned().collect();
    assert_none("in REFERENCES.md but cited nowhere", unused);
}

#[test]
fn every_check_has_a_heading_in_its_page() {
    let page = fs::read_to_string(root().join("docs/checks.md")).unwrap();
    let missing = arcwright_model::limits::CHECKS
        .iter()
        .filter(|c| !page.contains(&format!("\n## {}\n", c.id)))
        .map(|c| c.id.to_string())
        .collect();
    assert_none("docs/checks.md lacks", missing);
}

#[test]
fn architecture_names_only_what_exists_and_every_source_folder() {
    let map = fs::read_to_string(root().join("ARCHITECTURE.md")).unwrap();
    let mut broken = Vec::new();
    for piece in map.split('`').skip(1).step_by(2) {
        let is_path =
            piece.contains('/') && !piece.contains(' ') && !piece.contains('<') && !piece.contains("::");
        if is_path && !root().join(piece.trim_end_matches('/')).exists() {
            broken.push(format!("no such path: {piece}"));
        }
    }
    for krate in ["model", "paper", "app"] {
        for entry in fs::read_dir(root().join("crates").join(krate).join("src")).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() && !map.contains(&format!("crates/{krate}/src/{name}")) {
                broken.push(format!("not on the map: crates/{krate}/src/{name}"));
            }
        }
    }
    assert_none("ARCHITECTURE.md", broken);
}

#[test]
fn no_test_is_ignored_and_no_test_name_stands_twice_in_a_file() {
    let mut broken = Vec::new();
    for (name, text) in files("crates", ".rs") {
        if name.ends_with("tidy.rs") {
            continue;
        }
        if text.contains("#[ignore") {
            broken.push(format!("{name}: an ignored test"));
        }
        let mut seen = BTreeSet::new();
        let lines: Vec<&str> = text.lines().collect();
        for pair in lines.windows(2) {
            if pair[0].trim() == "#[test]"
                && let Some(f) = pair[1].trim().strip_prefix("fn ")
            {
                let f = f.split('(').next().unwrap_or(f);
                if !seen.insert(f.to_string()) {
                    broken.push(format!("{name}: {f} twice"));
                }
            }
        }
    }
    assert_none("tests", broken);
}
