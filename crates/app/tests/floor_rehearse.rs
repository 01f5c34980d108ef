//! A rehearsed session as a person runs it.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");

struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let path = std::env::temp_dir().join(format!("arcwright-rehearse-{}-{name}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        fs::write(path.join("arcwright.toml"), LANTERN).unwrap();
        Folder(path)
    }

    fn run(&self, line: &str) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_arcwright"));
        command.arg("floor").args(line.split(' ')).current_dir(&self.0);
        command.output().unwrap()
    }

    fn text(&self, line: &str) -> String {
        String::from_utf8(self.run(line).stdout).unwrap()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

#[test]
fn a_seed_is_the_same_robot_in_every_folder_and_leaves_the_real_log_alone() {
    let (one, other) = (Folder::new("a"), Folder::new("b"));
    let play = |f: &Folder| {
        let mut all = f.text("rehearse --seed 7");
        for line in [
            "rehearse throw far 3490 rpm",
            "rehearse throw far",
            "rehearse throw near --see clock,eye",
        ] {
            all.push_str(&f.text(line));
        }
        all
    };
    let first = play(&one);
    assert_eq!(first, play(&other));
    assert!(first.contains("shot 3 from near"), "{first}");
    assert!(!one.0.join("floor.db").exists());
    let next: Value = serde_json::from_str(&one.text("next --rehearsal --json")).unwrap();
    assert_eq!(next["stop"], false);
    assert_eq!(next["schema"], "arcwright/floor-next/1");
    let fit: Value = serde_json::from_str(&one.text("fit --rehearsal --json")).unwrap();
    assert_eq!(fit["shots"], 3);
    assert!(fit["setpoints"][0]["design_radps"].is_number());
}

#[test]
fn without_a_machine_or_a_log_it_says_what_to_do() {
    let f = Folder::new("c");
    let refused = f.run("rehearse throw far");
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("floor rehearse --seed 7"));
    assert!(f.text("next").contains("Throw from middle"), "{}", f.text("next"));
}
