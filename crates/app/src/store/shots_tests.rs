#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use arcwright_model::target::Outcome;

use super::*;
use crate::project::{DEMOS, parse};
use crate::store::{SESSION_GAP_MS, open};

struct Log {
    store: Store,
    folder: std::path::PathBuf,
}

impl Log {
    fn new(name: &str) -> Log {
        let folder = std::env::temp_dir().join(format!("arcwright-shots-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Log {
            store: open(&folder.join("floor.db")).unwrap(),
            folder,
        }
    }

    fn add(&mut self, at_ms: i64, entry: Entry) -> (i64, i64) {
        let new = NewShot {
            thrown_utc_ms: at_ms,
            time_known: true,
            source: "typed".into(),
            words: String::new(),
            entry,
        };
        self.store.log(&new, at_ms).unwrap()
    }

    fn note(&self, shot: i64) -> (String, bool) {
        let all = self.store.current().unwrap();
        let found = all.iter().find(|l| l.id == shot).unwrap();
        (found.entry.note.clone(), found.entry.taken_back)
    }

    fn edit(&mut self, shot: i64, note: &str) {
        self.store
            .supersede(shot, "edited", note, 0, |was| {
                Ok(Entry {
                    note: note.into(),
                    ..was.entry.clone()
                })
            })
            .unwrap();
    }
}

impl Drop for Log {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

fn entry(note: &str) -> Entry {
    Entry {
        spot: "far".into(),
        distance_m: 3.6,
        setpoint_radps: 365.0,
        place: 1,
        note: note.into(),
        ..Entry::default()
    }
}

#[test]
fn every_value_comes_back_as_it_was_stored() {
    let mut log = Log::new("values");
    let full = Entry {
        taken_back: false,
        left_out_because: Some("wind".into()),
        spot: "fär".into(),
        distance_m: 3.6,
        offset_m: -0.1,
        turned_rad: 0.02,
        slide_m: 0.001,
        tilt_rad: 0.1396,
        reach_m: 0.06,
        setpoint_radps: 365.4719453676126,
        before_radps: Some(364.9),
        after_radps: Some(335.1),
        battery_v: Some(12.4),
        piece: Some(3),
        place: 2,
        volley_count: Some(4),
        landing_m: Some([4.21, 0.03, 0.056]),
        wall_m: Some([5.0, 1.35]),
        fall: Some((1.24, 1.14)),
        miss_m: Some([0.12, -0.05]),
        outcome: Some(Outcome::Rim),
        exit_speed_mps: Some(7.9),
        exit_angle_rad: Some(1.08),
        jammed: false,
        note: "it's; \"quoted\"\n".into(),
    };
    let (id, _) = log.add(1, full.clone());
    let all = log.store.current().unwrap();
    assert_eq!(all.iter().find(|l| l.id == id).unwrap().entry, full);
}

#[test]
fn a_session_begins_when_the_last_shot_is_over_four_hours_ago() {
    let mut log = Log::new("gap");
    let (_, first) = log.add(0, entry(""));
    let (_, same) = log.add(SESSION_GAP_MS, entry(""));
    let (_, later) = log.add(2 * SESSION_GAP_MS + 1, entry(""));
    assert_eq!((first, same), (1, 1));
    assert_eq!(later, 2);
    let named = log
        .store
        .begin_session("new wheel", 2 * SESSION_GAP_MS + 2)
        .unwrap();
    let (_, joins) = log.add(2 * SESSION_GAP_MS + 3, entry(""));
    assert_eq!(joins, named);
}

#[test]
fn an_edit_supersedes_and_undo_goes_back_act_by_act() {
    let mut log = Log::new("undo");
    let (first, _) = log.add(1, entry("one"));
    let (second, _) = log.add(2, entry("two"));
    log.edit(first, "one better");
    log.edit(first, "one best");
    assert_eq!(log.note(first).0, "one best");
    let mut back = || log.store.undo(9).unwrap();
    assert_eq!(back()[0].entry.note, "one better");
    assert_eq!(back()[0].entry.note, "one");
    let third = back();
    assert_eq!((third[0].id, third[0].entry.taken_back), (second, true));
    // A new act after an undo is the one that goes back next.
    log.edit(first, "one again");
    assert_eq!(log.store.undo(9).unwrap()[0].entry.note, "one");
    assert!(log.store.undo(9).unwrap()[0].entry.taken_back);
    assert!(log.store.undo(9).unwrap().is_empty());
    // Nothing was overwritten on the way.
    let words: Vec<String> = log
        .store
        .history(first)
        .unwrap()
        .into_iter()
        .map(|v| v.entry.note)
        .collect();
    assert_eq!(
        words,
        [
            "one",
            "one better",
            "one best",
            "one better",
            "one",
            "one again",
            "one",
            "one"
        ]
    );
}

#[test]
fn one_shot_is_taken_back_and_those_logged_after_it_stay() {
    let mut log = Log::new("undo-shot");
    let (mine, _) = log.add(1, entry("mine"));
    let (theirs, _) = log.add(2, entry("theirs"));
    let back = log.store.undo_shot(mine, 9).unwrap();
    assert_eq!(
        (back.len(), back[0].id, back[0].entry.taken_back),
        (1, mine, true)
    );
    let standing: Vec<i64> = log
        .store
        .current()
        .unwrap()
        .iter()
        .filter(|l| !l.entry.taken_back)
        .map(|l| l.id)
        .collect();
    assert_eq!(standing, [theirs]);
    let refused = |log: &mut Log, shot| log.store.undo_shot(shot, 9).unwrap_err().code;
    // Not twice, and not what somebody has changed meanwhile.
    assert_eq!(refused(&mut log, mine), "changed-since");
    log.edit(theirs, "theirs, looked at");
    assert_eq!(refused(&mut log, theirs), "changed-since");
    assert_eq!(refused(&mut log, 99), "no-such-shot");
    // The step back of the whole log goes on where it was.
    assert_eq!(log.store.undo(9).unwrap()[0].entry.note, "theirs");
    assert!(log.store.undo(9).unwrap()[0].entry.taken_back);
    assert!(log.store.undo(9).unwrap().is_empty());
}

#[test]
fn a_shot_taken_back_cannot_be_changed_and_one_that_is_not_there_is_named() {
    let mut log = Log::new("refuse");
    let (id, _) = log.add(1, entry(""));
    log.store.undo(2).unwrap();
    let change = |log: &mut Log, n| {
        log.store
            .supersede(n, "edited", "", 3, |was| Ok(was.entry.clone()))
            .unwrap_err()
            .code
    };
    assert_eq!(change(&mut log, id), "taken-back");
    assert_eq!(change(&mut log, 99), "no-such-shot");
    assert_eq!(log.store.history(id).unwrap().len(), 2);
}

#[test]
fn an_import_is_written_whole_and_undone_whole() {
    let mut log = Log::new("whole");
    let (kept, _) = log.add(1, entry("kept"));
    let shot = |at| NewShot {
        thrown_utc_ms: at,
        time_known: true,
        source: "table".into(),
        words: String::new(),
        entry: entry("brought"),
    };
    let batch = Batch {
        shots: vec![shot(10), shot(20), shot(30)],
        name: "table".into(),
        started_utc_ms: 10,
        session: None,
    };
    let act = log.store.last_act().unwrap();
    // One value that the table of the log does not allow: nothing of the batch may stay.
    let mut bad = batch.clone();
    bad.shots[2].entry.place = 0;
    assert!(log.store.bring_in(&[bad], act, 40).is_err());
    assert_eq!(log.store.current().unwrap().len(), 1);
    assert_eq!(log.store.sessions().unwrap().len(), 1);
    let taken = log
        .store
        .bring_in(std::slice::from_ref(&batch), act, 40)
        .unwrap()
        .unwrap();
    assert_eq!(taken.len(), 3);
    // Made from what the log was before: not written.
    assert_eq!(log.store.bring_in(&[batch], act, 50).unwrap(), None);
    assert_eq!(log.store.undo(60).unwrap().len(), 3);
    assert_eq!(log.note(kept), ("kept".into(), false));
}

#[test]
fn the_model_sees_sessions_without_gaps_places_from_zero_and_the_wall_a_radius_nearer() {
    let project = parse("lantern", DEMOS[0].text).unwrap().project;
    let mut log = Log::new("model");
    log.add(0, entry("taken back below"));
    log.store.undo(1).unwrap();
    log.store.begin_session("second", 10 * SESSION_GAP_MS).unwrap();
    log.add(
        10 * SESSION_GAP_MS,
        Entry {
            place: 2,
            volley_count: Some(2),
            wall_m: Some([5.0, 1.35]),
            left_out_because: Some("wind".into()),
            ..entry("")
        },
    );
    let seen = shots(&log.store, &project).unwrap();
    assert_eq!(seen.len(), 1);
    let s = &seen[0];
    assert_eq!((s.id, s.session, s.shot.session_index), (2, 2, 0));
    assert_eq!((s.shot.place, s.shot.last, s.shot.left_out), (1, true, true));
    let wall = s.shot.seen.wall.unwrap();
    assert!(
        (wall.distance_m - (5.0 - 0.056)).abs() < 1e-12,
        "{}",
        wall.distance_m
    );
}

#[test]
fn a_shot_of_which_nothing_was_said_was_thrown_alone_and_is_the_last() {
    let alone = entry("");
    assert!(alone.is_last(4));
    let second = Entry {
        place: 2,
        ..entry("")
    };
    assert!(!second.is_last(4));
    let fourth = Entry {
        place: 4,
        ..entry("")
    };
    assert!(fourth.is_last(4));
    let first_of_two = Entry {
        volley_count: Some(2),
        ..entry("")
    };
    assert!(!first_of_two.is_last(4));
}

#[test]
fn readings_for_many_shots_are_one_act_and_none_is_written_over_a_change() {
    let mut log = Log::new("amend");
    let (one, _) = log.add(1000, entry("a"));
    let (two, _) = log.add(2000, entry("b"));
    let change = |shot: i64, versions: u32| Amendment {
        shot,
        versions,
        words: "throw 1 of run.csv".into(),
        entry: entry("measured"),
    };
    log.edit(two, "edited meanwhile");
    let stale = log.store.amend(&[change(one, 1), change(two, 1)], "measured", 0);
    assert_eq!(stale, Ok(false));
    assert_eq!(log.note(one).0, "a", "nothing of it was written");
    assert_eq!(
        log.store.amend(&[change(one, 1), change(two, 2)], "measured", 0),
        Ok(true)
    );
    assert_eq!(log.note(two).0, "measured");
    assert!(log.store.amend(&[change(99, 1)], "measured", 0).is_err());
    let undone = log.store.undo(0).unwrap();
    assert_eq!(undone.len(), 2);
    assert_eq!(
        (log.note(one).0, log.note(two).0),
        ("a".into(), "edited meanwhile".into())
    );
}
