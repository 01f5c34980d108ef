//! Rules that keep the house in order. Each says where it was broken.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

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

/// Source files without those that only exist in tests, each cut before its inline tests.
fn code() -> Vec<(String, String)> {
    let all = sources();
    let tests = test_files(&all);
    assert!(
        !tests.is_empty(),
        "no file is declared under #[cfg(test)]: the search for them is broken"
    );
    all.into_iter()
        .filter(|(name, _)| !tests.contains(name))
        .map(|(name, text)| {
            let end = text
                .find("\n#[cfg(test)]\nmod ")
                .or_else(|| text.find("\n#[cfg(test)]\n#[path"));
            (name, text[..end.unwrap_or(text.len())].to_string())
        })
        .collect()
}

/// Files that a parent declares under `#[cfg(test)]`, by `mod name;` or by `#[path = "..."]`.
fn test_files(all: &[(String, String)]) -> BTreeSet<String> {
    let mut out = BTreeSet::new();
    for (name, text) in all {
        let (folder, file) = name.rsplit_once('/').unwrap_or(("", name));
        let stem = file.trim_end_matches(".rs");
        let below = if ["mod", "lib", "main"].contains(&stem) {
            folder.to_string()
        } else {
            format!("{folder}/{stem}")
        };
        for after in text.split("#[cfg(test)]\n").skip(1) {
            let mut lines = after.lines().map(str::trim);
            let mut line = lines.next().unwrap_or("");
            if let Some(path) = line
                .strip_prefix("#[path = \"")
                .and_then(|l| l.strip_suffix("\"]"))
            {
                out.insert(format!("{folder}/{path}"));
                line = lines.next().unwrap_or("");
            }
            let word = line
                .trim_start_matches("pub(crate) ")
                .trim_start_matches("pub(super) ");
            if let Some(module) = word.strip_prefix("mod ").and_then(|l| l.strip_suffix(';')) {
                out.insert(format!("{below}/{module}.rs"));
            }
        }
    }
    out
}

fn assert_none(rule: &str, broken: Vec<String>) {
    assert!(broken.is_empty(), "{rule}:\n  {}", broken.join("\n  "));
}

#[test]
fn no_source_file_is_longer_than_600_lines_without_its_tests() {
    let long = code()
        .iter()
        .map(|(n, t)| (n, t.lines().count()))
        .filter(|(_, lines)| *lines > 600)
        .map(|(n, lines)| format!("{n}: {lines} lines"))
        .collect();
    assert_none("split these", long);
}

#[test]
fn documents_that_are_read_first_stay_short() {
    let long = [("README.md", 150), ("ARCHITECTURE.md", 200)]
        .into_iter()
        .filter_map(|(name, most)| {
            let lines = fs::read_to_string(root().join(name)).unwrap().lines().count();
            (lines > most).then(|| format!("{name}: {lines} lines, {most} allowed"))
        })
        .collect();
    assert_none("shorten these", long);
}

#[test]
fn model_and_paper_touch_no_file_clock_network_or_terminal() {
    let mut broken = Vec::new();
    for (name, text) in code() {
        if !(name.starts_with("crates/model/") || name.starts_with("crates/paper/")) {
            continue;
        }
        for word in [
            "std::fs",
            "std::net",
            "std::env",
            "std::time",
            "std::io",
            "std::process",
            "println!",
            "print!",
            "serde",
        ] {
            if text.contains(word) {
                broken.push(format!("{name}: {word}"));
            }
        }
    }
    assert_none("pure crates use", broken);
}

/// The one place that may call code compiled for wider vectors; argued in DESIGN.md.
const UNSAFE_PLACES: [&str; 2] = [
    "crates/model/src/flight/batch/dispatch.rs",
    "crates/model/src/flight/batch/dispatch/registers.rs",
];

#[test]
fn unsafe_code_stands_behind_the_question_for_the_registers_only() {
    let broken = code()
        .iter()
        .filter(|(name, _)| !UNSAFE_PLACES.contains(&name.as_str()))
        .flat_map(|(name, text)| {
            text.lines()
                .enumerate()
                .filter(|(_, l)| !l.trim_start().starts_with("//"))
                .filter(|(_, l)| {
                    l.contains("unsafe {") || l.contains("unsafe fn") || l.contains("allow(unsafe_code)")
                })
                .map(|(i, _)| format!("{name}:{}", i + 1))
                .collect::<Vec<_>>()
        })
        .collect();
    assert_none("unsafe code", broken);
}

/// Inside `model` each line sees only the lines above it, never a neighbour; the first line's members
/// may see each other.
#[test]
fn modules_of_the_model_look_only_upward() {
    const ORDER: &[&[&str]] = &[
        &["finding", "numerics", "units"],
        &["air", "feed", "flight", "launcher"],
        &["frame", "target"],
        &["project"],
        &["shot"],
        &["aim"],
        &["volley_run"],
        &["limits"],
        &["scatter"],
        &["seek"],
        &["floor"],
        &["season"],
    ];
    /// What still looks the wrong way; a line that is no longer needed must go.
    const TO_MEND: &[(&str, &str)] = &[];
    let level = |m: &str| ORDER.iter().position(|l| l.contains(&m));
    let (mut broken, mut known) = (Vec::new(), BTreeSet::new());
    for (name, text) in code() {
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
        for line in text.lines().map(str::trim_start).filter(|l| !l.starts_with("//")) {
            for used in line.split("crate::").skip(1).flat_map(named) {
                let Some(used_level) = level(&used) else { continue };
                let neighbour = used_level == own_level && own_level > 0;
                if used == own || (used_level <= own_level && !neighbour) {
                    continue;
                }
                if TO_MEND.contains(&(name.as_str(), used.as_str())) {
                    known.insert((name.clone(), used));
                } else {
                    broken.push(format!("{name}: uses {used}"));
                }
            }
        }
    }
    assert_none("looks downward or sideways", broken);
    assert_eq!(
        known.len(),
        TO_MEND.len(),
        "a line of TO_MEND is no longer needed: take it out"
    );
}

/// Modules named after `crate::`: one, or each of a list in braces.
fn named(after: &str) -> Vec<String> {
    let word = |s: &str| -> String {
        s.trim_start()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    match after.strip_prefix('{') {
        Some(list) => list.split(',').map(word).collect(),
        None => vec![word(after)],
    }
}

/// Suffixes of the closed list (ARCHITECTURE.md), one unit for each kind of quantity.
const SUFFIXES: &[&str] = &[
    "_m",
    "_m2",
    "_m3",
    "_m4",
    "_mps",
    "_mps2",
    "_s",
    "_kg",
    "_kgm2",
    "_kgpm3",
    "_n",
    "_nm",
    "_nms",
    "_npm",
    "_rad",
    "_radps",
    "_radps2",
    "_radpm",
    "_pm",
    "_v",
    "_a",
    "_ohm",
    "_w",
    "_j",
    "_jpm2",
    "_k",
    "_pa",
    "_pas",
    "_hz",
    "_px",
    "_coeff",
    "_ratio",
    "_frac",
    "_count",
    "_exponent",
];
/// Compound units of gains, motor constants and heat.
const COMPOUND: &[&str] = &[
    "_vs",
    "_nm_per_a",
    "_v_per_radps",
    "_v_per_radps2",
    "_radps_per_v",
    "_k_per_w",
    "_j_per_k",
    "_per_k",
    "_kg_m",
    "_pa_mps",
    "_m_per_n",
    "_a_s",
    "_a2s",
];
/// Names whose unit belongs to something else: the key, knob or fit they describe, a dimension that
/// stands beside them, a unit vector, or the scale of a search.
const UNITLESS: &[&str] = &[
    // Text, project keys and knobs: the unit is that of the key.
    "value",
    "low",
    "high",
    "step",
    "repeat",
    "sd",
    "range",
    "values",
    "from",
    "to",
    "centre",
    "admitted",
    "amount",
    "by",
    // Parameters of a fit, each in its own unit or a logarithm; `M1_NAMES` and the docs beside them say which.
    "information",
    "per_place",
    "at_last",
    "ln_speed_sd",
    "ln_angle_sd",
    "ln_aim_sd",
    "ln_kappa",
    "eps",
    // Standardised numbers and shares of a distribution.
    "z",
    "x",
    "share",
    // A share with the ends of its interval, and any figure's own error.
    "frac",
    "standard_error",
    // Fits of two kinds in one struct, each documented there.
    "standard_errors",
    "residual_rms",
    // Unit vectors.
    "normal",
    "feed_direction",
    "exit_direction",
    // Unit quaternions and shares drawn at random.
    "orientation",
    "uniform",
    "vector",
    // Vectors of a fit, whose parts have units of their own.
    "observed",
    "predicted",
    "sensitivity",
    "variance",
    "accident_variance",
    "inputs",
    "parameters",
    "gradient",
    "mean",
    "prior_mean",
    "prior_sd",
    // Logarithms of probabilities and of determinants.
    "neg_log",
    "call_neg_log",
    "neg_log_posterior",
    "ln_covariance",
    // Scores.
    "merit",
    "present_merit",
    // Pure numbers whose name says what they count.
    "spin_parameter",
    "ratio",
    "delay_periods",
    "counts_per_turn",
    "newest_format",
];

fn says_its_unit(ident: &str) -> bool {
    SUFFIXES.iter().chain(COMPOUND).any(|s| ident.ends_with(s)) || UNITLESS.contains(&ident)
}

fn is_number(kind: &str) -> bool {
    ["f64", "Option<f64>", "[f64;", "[[f64;", "&[f64]", "Vec<f64>"]
        .iter()
        .any(|k| kind.trim().starts_with(k))
}

/// `name: kind` of a field or parameter, if it is one.
fn field(text: &str) -> Option<(&str, &str)> {
    let (ident, kind) = text.trim().trim_end_matches(',').split_once(": ")?;
    let plain = !ident.is_empty()
        && ident
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
    plain.then_some((ident, kind))
}

#[test]
fn every_public_number_says_its_unit() {
    let (mut broken, mut seen) = (Vec::new(), 0);
    for (name, text) in code() {
        // Mathematics has no units, and `units` is about all of them.
        if !name.starts_with("crates/model/") || name.contains("/numerics/") || name.contains("/units/") {
            continue;
        }
        let mut check = |place: usize, ident: &str, kind: &str| {
            if is_number(kind) {
                seen += 1;
                if !says_its_unit(ident) {
                    broken.push(format!("{name}:{}: {ident}", place + 1));
                }
            }
        };
        let lines: Vec<&str> = text.lines().collect();
        let mut in_enum = false;
        for (i, line) in lines.iter().enumerate() {
            in_enum = line.starts_with("pub enum ") || (in_enum && *line != "}");
            let trimmed = line.trim();
            let public = trimmed
                .strip_prefix("pub ")
                .or(if in_enum { Some(trimmed) } else { None });
            if let Some((ident, kind)) = public.and_then(field) {
                check(i, ident, kind);
            }
            if let Some(constant) = trimmed.strip_prefix("pub const ")
                && let Some((ident, kind)) = constant.split_once(": ")
                && is_number(kind)
            {
                check(i, &ident.to_lowercase(), kind);
            }
            // Parameters of a public function, on one line or on many.
            if trimmed.starts_with("pub fn ") || trimmed.starts_with("pub const fn ") {
                let head = lines[i..]
                    .iter()
                    .take_while(|l| !l.starts_with('}'))
                    .copied()
                    .collect::<Vec<_>>()
                    .join(" ");
                let head = head.split('{').next().unwrap_or("");
                let inside = head
                    .split_once('(')
                    .map_or("", |(_, rest)| rest.split(") ->").next().unwrap_or(rest));
                for parameter in inside.split(", ").flat_map(|p| p.split("  ")) {
                    if let Some((ident, kind)) = field(parameter.trim_end_matches([')', ' ', ','])) {
                        check(i, ident, kind);
                    }
                }
            }
        }
    }
    assert!(seen > 300, "only {seen} numbers found: the search is broken");
    assert_none("name these with a unit from the closed list", broken);
}

/// A word in brackets that has the shape of a source key: lower case, with a hyphen or a digit in it.
fn key_shaped(word: &str) -> bool {
    word.len() > 4
        && word.starts_with(|c: char| c.is_ascii_lowercase())
        && word.ends_with(|c: char| c.is_ascii_lowercase() || c.is_ascii_digit())
        && word
            .chars()
            .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
        && word.contains(|c: char| c == '-' || c.is_ascii_digit())
}

/// Words in brackets, links left out; a doc comment may escape the closing bracket.
fn bracketed(text: &str) -> Vec<&str> {
    text.split('[')
        .skip(1)
        .filter_map(|piece| piece.split_once(']'))
        .filter(|(_, after)| !after.starts_with('('))
        .map(|(word, _)| word.trim_end_matches('\\'))
        .collect()
}

#[test]
fn sources_are_cited_by_keys_that_exist_and_every_key_is_used() {
    let references = fs::read_to_string(root().join("REFERENCES.md")).unwrap();
    let mut listed = BTreeSet::new();
    let mut broken = Vec::new();
    for line in references.lines().filter(|l| l.starts_with("- **")) {
        let Some(key) = line
            .strip_prefix("- **[")
            .and_then(|l| l.split_once("]**"))
            .map(|(k, _)| k)
        else {
            broken.push(format!("no key in `{line}`"));
            continue;
        };
        if !listed.insert(key.to_string()) {
            broken.push(format!("`{key}` stands twice"));
        }
        if !["*read*", "*seen in part*", "*from memory*"]
            .iter()
            .any(|how| line.contains(how))
        {
            broken.push(format!("`{key}` does not say whether it was read"));
        }
    }
    assert_none("REFERENCES.md", broken);
    assert!(listed.len() > 10, "REFERENCES.md lists {} keys", listed.len());
    let mut all: Vec<(String, String)> = files("crates", ".rs")
        .into_iter()
        .filter(|(n, _)| !n.ends_with("tidy.rs"))
        .collect();
    all.extend(files("docs", ".md"));
    for page in ["DESIGN.md", "ARCHITECTURE.md", "README.md"] {
        all.push((page.to_string(), fs::read_to_string(root().join(page)).unwrap()));
    }
    let mut cited = BTreeSet::new();
    for (name, text) in &all {
        for line in text.lines() {
            // In code, brackets are indices and types; a citation stands in a comment.
            let comment = if name.ends_with(".rs") {
                line.split_once("//").map_or("", |(_, c)| c)
            } else {
                line
            };
            for word in bracketed(comment) {
                // A key without hyphen or digit is known only by being listed.
                if key_shaped(word) || listed.contains(word) {
                    cited.insert(word.to_string());
                }
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
    let headings: Vec<&str> = page.lines().filter_map(|l| l.strip_prefix("## ")).collect();
    let ids: Vec<&str> = arcwright_model::limits::CHECKS.iter().map(|c| c.id).collect();
    assert_eq!(
        headings, ids,
        "docs/checks.md has one heading for each check, in their order"
    );
}

#[test]
fn every_check_of_the_frame_has_a_heading_in_its_page() {
    let page = fs::read_to_string(root().join("docs/frame.md")).unwrap();
    let headings: Vec<&str> = page.lines().filter_map(|l| l.strip_prefix("## ")).collect();
    for check in arcwright_model::limits::FRAME_CHECKS {
        assert!(
            headings.contains(&check.id),
            "docs/frame.md has no heading `{}`",
            check.id
        );
    }
}

#[test]
fn architecture_names_only_what_exists_and_every_source_folder() {
    let map = fs::read_to_string(root().join("ARCHITECTURE.md")).unwrap();
    let mut broken = Vec::new();
    let mut paths = 0;
    for piece in map.split('`').skip(1).step_by(2) {
        let is_path = piece.contains('/') && !piece.contains([' ', '<', '*']) && !piece.contains("::");
        if is_path {
            paths += 1;
            if !root().join(piece.trim_end_matches('/')).exists() {
                broken.push(format!("no such path: {piece}"));
            }
        }
    }
    assert!(paths > 30, "only {paths} paths found on the map");
    let mut folders = BTreeSet::new();
    for (name, _) in sources() {
        let mut folder = name.as_str();
        while let Some((above, _)) = folder.rsplit_once('/') {
            folder = above;
            if folder.contains("/src/") {
                folders.insert(folder.to_string());
            }
        }
    }
    broken.extend(
        folders
            .iter()
            .filter(|f| !map.contains(f.as_str()))
            .map(|f| format!("not on the map: {f}")),
    );
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
