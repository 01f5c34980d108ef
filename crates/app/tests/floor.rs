//! The shot log as a person runs it, and what it withstands.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod folder;

use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use folder::Folder;
use rusqlite::Connection;
use serde_json::Value;

const LANTERN: &str = include_str!("../../../examples/lantern/arcwright.toml");
const BINARY: &str = env!("CARGO_BIN_EXE_arcwright");

/// A project folder of its own for one test, gone when the test is over.
impl Folder {
    fn new() -> Folder {
        let folder = Folder::empty();
        fs::write(folder.0.join("arcwright.toml"), LANTERN).unwrap();
        folder
    }

    fn command(&self, line: &str) -> Command {
        let mut command = Command::new(BINARY);
        command.arg("floor").args(line.split(' ')).current_dir(&self.0);
        command
    }

    fn run(&self, line: &str) -> Run {
        Run::of(self.command(line).stdin(Stdio::null()).output().unwrap())
    }

    /// Runs `floor log` with lines from a pipe.
    fn pipe(&self, lines: &str) -> Run {
        let mut child = self
            .command("log")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(lines.as_bytes()).unwrap();
        Run::of(child.wait_with_output().unwrap())
    }

    fn log(&self) -> PathBuf {
        self.0.join("floor.db")
    }

    fn notes(&self) -> Vec<String> {
        let db = Connection::open(self.log()).unwrap();
        let ok: String = db.query_row("PRAGMA integrity_check", [], |r| r.get(0)).unwrap();
        assert_eq!(ok, "ok");
        let mut all = db.prepare("SELECT note FROM shot_now ORDER BY shot_id").unwrap();
        all.query_map([], |r| r.get(0))
            .unwrap()
            .map(Result::unwrap)
            .collect()
    }
}

struct Run {
    out: String,
    err: String,
    code: Option<i32>,
}

impl Run {
    fn of(done: std::process::Output) -> Run {
        Run {
            out: String::from_utf8(done.stdout).unwrap(),
            err: String::from_utf8(done.stderr).unwrap(),
            code: done.status.code(),
        }
    }

    #[track_caller]
    fn ends(self, code: i32) -> Run {
        assert_eq!(self.code, Some(code), "out:\n{}\nerr:\n{}", self.out, self.err);
        self
    }

    #[track_caller]
    fn says(self, what: &str) -> Run {
        assert!(self.out.contains(what), "no {what:?} in\n{}", self.out);
        self
    }

    #[track_caller]
    fn complains(self, what: &str) -> Run {
        assert!(self.err.contains(what), "no {what:?} in\n{}", self.err);
        self
    }
}

/// The note in an answer, and that it is one of a logged shot.
fn acknowledged(line: &str) -> Option<String> {
    let (head, note) = line.split_once("note: ")?;
    head.starts_with("shot ").then(|| note.trim().to_string())
}

#[test]
fn a_shot_is_logged_listed_corrected_and_taken_back() {
    let folder = Folder::new();
    folder.run("list").ends(2).complains("no-log");
    folder
        .run("log far 3490 in")
        .ends(0)
        .says("session 1 begins")
        .says("shot 1: far, 3490 rpm: in");
    folder
        .run("log far long 12cm left 5cm")
        .ends(0)
        .says("shot 2: far, 3490 rpm as before")
        .says("120 mm beyond the centre, 50 mm left");
    folder.run("edit 2 long 40cm").ends(0).says("long; by eye 400 mm");
    folder
        .run("leave-out 2 because a gust")
        .ends(0)
        .says("left out: a gust");
    folder.run("take-in 2").ends(0);
    let list = folder.run("list").ends(0).says("Session 1").says("2*").out;
    assert!(!list.contains("gust"), "{list}");
    folder
        .run("list --history 2")
        .ends(0)
        .says("120 mm")
        .says("400 mm")
        .says("a gust")
        .says("taken in");
    folder.run("undo").ends(0).says("taken in: as it was before");
    for _ in 0..2 {
        folder.run("undo").ends(0);
    }
    folder.run("undo").ends(0).says("shot 2 taken back");
    let list: Value = serde_json::from_str(&folder.run("list --json").ends(0).out).unwrap();
    assert_eq!(list["schema"], "arcwright/floor-list/1");
    let shots = list["sessions"][0]["shots"].as_array().unwrap();
    assert_eq!(shots.len(), 1);
    assert_eq!(shots[0]["outcome"], "in");
    assert!((shots[0]["setpoint_radps"].as_f64().unwrap() - 365.472).abs() < 1e-3);
    let history: Value = serde_json::from_str(&folder.run("list --history 2 --json").ends(0).out).unwrap();
    assert_eq!(history["versions"].as_array().unwrap().len(), 8);
}

#[test]
fn refusals_end_with_2_and_write_nothing() {
    let folder = Folder::new();
    for (line, what) in [
        ("log far 12", "stray-number"),
        ("log far long 12cm left", "two-readings"),
        ("log far 9000 in", "impossible-shot"),
        ("log far 3490 120V in", "impossible-shot"),
        ("log far 3490 land 4200m", "impossible-shot"),
        ("log far land -2m", "behind the wheel axle"),
        ("log far exit 40m/s in", "impossible-shot"),
        ("log far fall 0.1s to rim", "free fall"),
        ("log far 3490 throw 6", "unlikely-shot"),
        ("edit 1 long 10cm", "no-log"),
        ("undo", "no-log"),
        ("export x.csv", "no-log"),
        ("import nowhere.csv", "not-read"),
    ] {
        let run = folder.run(line).ends(2).complains(what);
        assert!(run.out.is_empty(), "{line}: {}", run.out);
    }
    assert!(!folder.log().exists(), "a refusal made a log");
    folder.run("log far 3490 throw 6 --anyway").ends(0);
    folder.run("edit 7 long 10cm").ends(2).complains("no-such-shot");
    folder.run("leave-out 1 because").ends(2).complains("no-reason");
    let empty = folder.0.join("empty");
    fs::create_dir(&empty).unwrap();
    let run = Command::new(BINARY)
        .args(["floor", "log", "far", "in"])
        .current_dir(&empty)
        .output()
        .unwrap();
    Run::of(run).ends(2).complains("no-project");
    let elsewhere = Command::new(BINARY)
        .args(["floor", "log", "far", "in", "--in", ".."])
        .current_dir(&empty)
        .output()
        .unwrap();
    Run::of(elsewhere).ends(0).says("shot 2");
}

#[test]
fn lines_from_a_pipe_are_logged_one_by_one_until_an_empty_one() {
    let folder = Folder::new();
    let run = folder
        .pipe("# evening\nfar 3490 note a\nfar 12\nfar note b\nundo\nfar note c\n\nfar note d\n")
        .ends(2)
        .complains("line 3 not logged: far 12");
    let answers: Vec<&str> = run.out.lines().collect();
    assert_eq!(answers.len(), 5, "{}", run.out);
    assert_eq!(folder.notes(), ["a", "b", "c"]);
    folder.run("list").ends(0).says("note: c");
    folder.pipe("far note e").ends(0).says("note: e");
    folder.pipe("").ends(0);
    folder
        .pipe(&format!("far note {}\nfar note f\n", "x".repeat(5000)))
        .ends(2)
        .complains("too-long");
    assert_eq!(folder.notes().last().unwrap(), "f");
}

/// Kills the program at ever different moments while it logs from a pipe: whatever it acknowledged
/// must be there, in order, and at most one shot more.
#[test]
fn a_kill_at_any_moment_loses_at_most_the_shot_being_typed() {
    let folder = Folder::new();
    let mut held: Vec<String> = Vec::new();
    // A linear congruential sequence spreads the moments; which ones they are does not matter.
    let mut moment: u64 = 7;
    // More rounds where the machine is busy with other things.
    const SHOTS: usize = 30;
    for round in 0..80 {
        if round >= 14 && held.len() >= SHOTS {
            break;
        }
        let mut child = folder
            .command("log")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut input = child.stdin.take().unwrap();
        let writer = std::thread::spawn(move || {
            for i in 0..4000 {
                if input
                    .write_all(format!("far 3490 in note r{round}n{i}\n").as_bytes())
                    .is_err()
                {
                    break;
                }
            }
        });
        moment = (moment * 1_103_515_245 + 12_345) % (1 << 31);
        let wait = Duration::from_micros(moment % 60_000);
        let output = BufReader::new(child.stdout.take().unwrap());
        let reader = std::thread::spawn(move || {
            output
                .lines()
                .map_while(Result::ok)
                .filter_map(|l| acknowledged(&l))
                .collect::<Vec<String>>()
        });
        std::thread::sleep(wait);
        child.kill().unwrap(); // SIGKILL
        child.wait().unwrap();
        writer.join().unwrap();
        held.extend(reader.join().unwrap());
        if !folder.log().exists() {
            continue;
        }
        let Ok(db) = Connection::open(folder.log()) else {
            continue;
        };
        let made: i64 = db
            .query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0))
            .unwrap();
        if made == 0 {
            assert!(held.is_empty());
            continue;
        }
        let there = folder.notes();
        // One shot may have been written and its answer lost.
        if there.len() == held.len() + 1 {
            held.push(there.last().unwrap().clone());
        }
        assert_eq!(there, held, "round {round}");
    }
    assert!(
        held.len() >= SHOTS,
        "only {} shots were logged: nothing was tested",
        held.len()
    );
    folder.run("log far note last").ends(0);
}

#[test]
fn two_programs_that_log_at_once_both_succeed_and_lose_nothing() {
    let folder = Folder::new();
    const EACH: usize = 40;
    // The log is not there yet: both try to make it.
    let children: Vec<_> = ["a", "b"]
        .iter()
        .map(|name| {
            let mut child = folder
                .command("log")
                .stdin(Stdio::piped())
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .unwrap();
            let mut input = child.stdin.take().unwrap();
            for i in 0..EACH {
                input
                    .write_all(format!("far 3490 in note {name}{i}\n").as_bytes())
                    .unwrap();
            }
            child
        })
        .collect();
    for child in children {
        let run = Run::of(child.wait_with_output().unwrap()).ends(0);
        assert_eq!(
            run.out.lines().filter_map(acknowledged).count(),
            EACH,
            "{}",
            run.err
        );
    }
    let notes = folder.notes();
    assert_eq!(notes.len(), 2 * EACH);
    for name in ["a", "b"] {
        let own: Vec<&String> = notes.iter().filter(|n| n.starts_with(name)).collect();
        let wanted: Vec<String> = (0..EACH).map(|i| format!("{name}{i}")).collect();
        assert_eq!(own, wanted.iter().collect::<Vec<_>>());
    }
    let list: Value = serde_json::from_str(&folder.run("list --json").ends(0).out).unwrap();
    assert_eq!(
        list["sessions"].as_array().unwrap().len(),
        1,
        "both in one session"
    );
}

#[test]
fn a_log_that_another_program_holds_is_waited_for() {
    let folder = Folder::new();
    folder.run("log far 3490 note first").ends(0);
    let db = Connection::open(folder.log()).unwrap();
    db.execute_batch("BEGIN IMMEDIATE").unwrap();
    let child = folder
        .command("log far note second")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::thread::sleep(Duration::from_millis(300));
    db.execute_batch("COMMIT").unwrap();
    Run::of(child.wait_with_output().unwrap()).ends(0).says("shot 2");
    assert_eq!(folder.notes(), ["first", "second"]);
}

#[test]
fn files_that_are_no_log_are_refused_with_words_and_left() {
    let folder = Folder::new();
    for i in 0..3 {
        folder.run(&format!("log far 3490 note n{i}")).ends(0);
    }
    let whole = fs::read(folder.log()).unwrap();
    let mut newer = whole.clone();
    newer[60..64].copy_from_slice(&99_u32.to_be_bytes());
    let cases: [(Vec<u8>, &str); 4] = [
        (newer, "newer arcwright"),
        (whole[..whole.len() / 2].to_vec(), "cut short"),
        (whole[..50].to_vec(), "cut short"),
        (b"to do: log the shots".to_vec(), "no shot log"),
    ];
    for (bytes, what) in cases {
        fs::write(folder.log(), &bytes).unwrap();
        for line in [
            "log far in",
            "list",
            "undo",
            "edit 1 short",
            "export x.csv",
            "session evening",
        ] {
            let run = folder.run(line).ends(2).complains(what);
            assert!(run.out.is_empty(), "{}", run.out);
        }
        assert_eq!(fs::read(folder.log()).unwrap(), bytes, "{what}: changed");
    }
    fs::write(folder.log(), &whole).unwrap();
    assert_eq!(folder.notes(), ["n0", "n1", "n2"]);
}

#[cfg(unix)]
mod unix {
    use super::*;
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;

    fn allow(path: &Path, mode: u32) {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    }

    /// A user who may not write where the permissions say so. The administrator may write anywhere,
    /// so a test run as one hands over to `nobody`, with a copy of the program that nobody may run.
    fn ordinary(folder: &Folder, line: &str) -> Command {
        let probe = folder.0.join("probe");
        fs::create_dir(&probe).unwrap();
        allow(&probe, 0o555);
        let is_root = fs::write(probe.join("x"), "x").is_ok();
        let _ = fs::remove_dir_all(&probe);
        if !is_root {
            return folder.command(line);
        }
        const NOBODY: u32 = 65_534;
        let copy = std::env::temp_dir().join(format!("arcwright-copy-{}", std::process::id()));
        if !copy.exists() {
            let fresh = copy.with_extension(format!("{:?}", std::thread::current().id()));
            fs::copy(BINARY, &fresh).unwrap();
            allow(&fresh, 0o755);
            fs::rename(&fresh, &copy).unwrap();
        }
        let mut command = Command::new(&copy);
        command
            .arg("floor")
            .args(line.split(' '))
            .current_dir(&folder.0)
            .uid(NOBODY)
            .gid(NOBODY);
        command
    }

    #[test]
    fn what_may_not_be_written_can_still_be_read_and_is_not_changed() {
        let folder = Folder::new();
        folder.run("log far 3490 in note here").ends(0);
        let bytes = fs::read(folder.log()).unwrap();
        allow(&folder.0.join("arcwright.toml"), 0o644);
        let run = |line: &str| {
            let mut command = ordinary(&folder, line);
            // The folder only now: the probe needed it.
            allow(&folder.log(), 0o444);
            allow(&folder.0, 0o555);
            let run = Run::of(command.output().unwrap());
            allow(&folder.0, 0o755);
            run
        };
        run("list").ends(0).says("note: here");
        run("export -").ends(0).says("here");
        // A fit is shown, and said not to be kept.
        run("fit").ends(0).says("Not kept").says("may not be written");
        for line in ["log far in", "undo", "edit 1 short", "session evening"] {
            run(line).ends(2).complains("read-only");
        }
        assert_eq!(fs::read(folder.log()).unwrap(), bytes);
        assert_eq!(folder.notes(), ["here"]);
        // A folder in which no log can be made.
        let bare = Folder::new();
        let mut command = ordinary(&bare, "log far in");
        allow(&bare.0, 0o555);
        let run = Run::of(command.output().unwrap());
        allow(&bare.0, 0o755);
        run.ends(2)
            .complains("use a folder that exists and that you may write to");
        assert!(!bare.log().exists());
        let _ = fs::remove_file(std::env::temp_dir().join(format!("arcwright-copy-{}", std::process::id())));
    }

    /// The system refuses every write beyond a size of file, as a full disk does.
    #[test]
    fn a_disk_that_takes_no_more_keeps_everything_acknowledged() {
        let folder = Folder::new();
        folder.run("log far 3490 note n").ends(0);
        let long = "x".repeat(1500);
        let lines: String = (0..150).map(|i| format!("far in note m{i} {long}\n")).collect();
        let script = folder.0.join("lines");
        fs::write(&script, lines).unwrap();
        // Blocks of 512 bytes: 150 kB. The signal of the limit is ignored, so that the write fails instead.
        let run = Command::new("sh")
            .arg("-c")
            .arg(format!(
                "trap '' XFSZ; ulimit -f 300; exec '{BINARY}' floor log < lines"
            ))
            .current_dir(&folder.0)
            .output()
            .unwrap();
        let run = Run::of(run).ends(2).complains("what was logged before is safe");
        let told: Vec<String> = run.out.lines().filter_map(acknowledged).collect();
        assert!(
            !told.is_empty() && told.len() < 150,
            "{} of 150 acknowledged",
            told.len()
        );
        let there = folder.notes();
        assert_eq!(there.len(), told.len() + 1);
        assert_eq!(&there[1..], &told[..]);
        // Room again.
        folder.run("log far note after").ends(0);
        assert_eq!(folder.notes().last().unwrap(), "after");
    }
}

#[test]
fn a_table_is_looked_at_first_and_taken_when_asked() {
    let folder = Folder::new();
    let table = "time,Place,distance (ft),RPM,landing (mm),result\n\
                 2026-05-02T16:42:10Z,far,11.81,3490,4210,\n\
                 2026-05-02T16:43:10Z,far,11.81,3490,,in\n\
                 2026-05-02T16:44:10Z,far,11.81,3490,,lost\n";
    fs::write(folder.0.join("t.csv"), table).unwrap();
    folder
        .run("import t.csv")
        .ends(1)
        .says("distance (ft): distance in ft")
        .says("line 2: take far, 3490 rpm: landed at 4.21 m")
        .says("line 4: refused [bad-outcome]")
        .says("2 to take")
        .says("--apply");
    assert!(!folder.log().exists(), "a look makes no log");
    folder
        .run("import t.csv --apply")
        .ends(1)
        .says("2 taken as shots 1 to 2");
    folder
        .run("import t.csv --apply")
        .ends(1)
        .says("None to take, 2 there already");
    folder.run("export out.csv").ends(0).says("2 shots written");
    folder.run("export out.csv").ends(2).complains("already-there");
    folder.run("export out.csv --replace").ends(0);
    folder
        .run("import out.csv --apply")
        .ends(0)
        .says("None to take, 2 there already");
    let head = fs::read_to_string(folder.0.join("out.csv")).unwrap();
    assert!(head.contains("wheel speed (rad/s),wheel speed (rpm)"), "{head}");
    folder.run("undo").ends(0).says("2 shots of an import taken back");
    fs::write(folder.0.join("bad.csv"), "PK\u{3}\u{4}").unwrap();
    folder
        .run("import bad.csv")
        .ends(2)
        .complains("spreadsheet's own file");
}

#[test]
fn sessions_have_names_and_remarks() {
    let folder = Folder::new();
    folder.run("log far 3490 in").ends(0).says("session 1 begins");
    folder
        .run("session evening, new wheel")
        .ends(0)
        .says("session 2 begins: evening, new wheel");
    folder.run("session --remark damp").ends(0);
    folder.run("log far in").ends(0);
    folder
        .run("list --session 2")
        .ends(0)
        .says("Session 2: evening, new wheel")
        .says("damp")
        .says("1 shot\n");
    folder
        .run("list --session 9")
        .ends(2)
        .complains("no-such-session");
    folder.run("session").ends(0).says("evening, new wheel; damp");
}

#[test]
fn a_thousand_shots_are_listed_without_a_wait_for_each() {
    let folder = Folder::new();
    let mut table = String::from("time,spot,rpm,outcome\n");
    for i in 0..1000 {
        table.push_str(&format!(
            "2026-05-02T16:{:02}:{:02}Z,far,{},in\n",
            i / 60,
            i % 60,
            3000 + i / 2
        ));
    }
    fs::write(folder.0.join("t.csv"), table).unwrap();
    folder.run("import t.csv --apply").ends(0).says("1000 taken");
    let start = Instant::now();
    let list = folder.run("list").ends(0).out;
    assert_eq!(list.lines().count(), 1002);
    eprintln!("list of 1000: {:?}", start.elapsed());
}
