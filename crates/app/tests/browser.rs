//! The page in a real browser: runs `page-tests`, which CONTRIBUTING.md says how to prepare.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::io::Write;
use std::path::Path;
use std::process::Command;

/// Said past the test harness, which keeps back what a passing test prints.
fn announce(text: &str) {
    let _ = std::io::stderr().write_all(format!("\nSKIPPED, the page in a browser: {text}\n").as_bytes());
}

#[test]
fn the_rooms_work_in_a_browser() {
    let tests = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../page-tests");
    let is_ready = tests.join("node_modules/playwright-core").exists();
    let has_node = Command::new("node").arg("--version").output().is_ok();
    let is_checked = std::env::var_os("CI").is_some();
    if !is_ready || !has_node {
        assert!(!is_checked, "node and `npm ci --prefix page-tests` are needed");
        announce("needs node and `npm ci --prefix page-tests`");
        return;
    }
    let done = Command::new("node")
        .args(["--test", "--test-concurrency=1", "--test-reporter=tap", "."])
        .current_dir(&tests)
        .env("ARCWRIGHT", env!("CARGO_BIN_EXE_arcwright"))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stdout);
    assert!(
        done.status.success(),
        "{said}\n{}",
        String::from_utf8_lossy(&done.stderr)
    );
    if said.contains("skipped: no browser") {
        announce("no browser of the Chromium family was found");
        return;
    }
    assert!(said.contains("ok 1 - "), "no test ran:\n{said}");
}
