#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::PathBuf;

use super::*;
use crate::store::{Entry, NewShot, open};

struct Log(Store, PathBuf);

impl Log {
    fn new(name: &str) -> Log {
        let folder = std::env::temp_dir().join(format!("arcwright-fits-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Log(open(&folder.join("floor.db")).unwrap(), folder)
    }

    fn shot(&mut self) -> i64 {
        let new = NewShot {
            thrown_utc_ms: 5,
            time_known: true,
            source: "typed".into(),
            words: String::new(),
            entry: Entry {
                distance_m: 3.0,
                setpoint_radps: 300.0,
                place: 1,
                ..Entry::default()
            },
        };
        self.0.log(&new, 5).unwrap().0
    }
}

impl Drop for Log {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.1);
    }
}

fn fit() -> KeptFit {
    let covariance = std::array::from_fn(|i| std::array::from_fn(|j| 1.0 / (3.0 + (i + j) as f64)));
    KeptFit {
        made_utc_ms: 17,
        tool: "0.1.0".into(),
        seen_act: 3,
        last_thrown_utc_ms: 12,
        shot_count: 24,
        session_count: 2,
        confident: true,
        why_not: String::new(),
        taught: Taught {
            mean: [0.1 + 0.2, -1e-17, 0.3, -0.4, 0.5],
            covariance,
            speed_sd_frac: 0.0123,
            scatter: ShownScatter {
                speed_frac: 0.011,
                angle_rad: 0.007,
                aside_rad: 0.013,
                piece_frac: 0.0,
                place_frac: Some(-0.004),
                last_frac: None,
                wheel_measured: true,
            },
            scatter_learned: [true, false, true],
            distance_m: [1.1, 3.6],
        },
        project: BTreeMap::from([
            ("piece.kind".to_string(), ProjectValue::Word("foam".into())),
            ("wheel.diameter".to_string(), ProjectValue::Number(0.1 * 0.96)),
        ]),
        estimates: vec![KeptEstimate {
            name: "drag".into(),
            unit: "1".into(),
            before: [0.45, 0.07],
            now: [0.44, 0.05],
        }],
        setpoints: vec![KeptSetpoint {
            spot: "far".into(),
            distance_m: 3.6,
            learned: Some([366.0, 3.0, 0.9]),
            design_radps: None,
        }],
    }
}

#[test]
fn the_newest_fit_comes_back_to_the_last_digit() {
    let mut log = Log::new("back");
    assert_eq!(log.0.newest_fit().unwrap(), NewestFit::None);
    log.0
        .keep_fit(&KeptFit {
            shot_count: 3,
            ..fit()
        })
        .unwrap();
    log.0.keep_fit(&fit()).unwrap();
    let NewestFit::Kept(found) = log.0.newest_fit().unwrap() else {
        panic!()
    };
    // Estimates and setpoints are there for whoever looks, not read back.
    let expected = KeptFit {
        estimates: Vec::new(),
        setpoints: Vec::new(),
        ..fit()
    };
    assert_eq!(*found, expected);
    let count = |table: &str| -> i64 {
        let sql = format!("SELECT count(*) FROM {table}");
        log.0.db.query_row(&sql, [], |r| r.get(0)).unwrap()
    };
    assert_eq!(
        [count("fit"), count("fit_estimate"), count("fit_setpoint")],
        [2, 2, 2]
    );
}

#[test]
fn kept_fits_are_only_added_to() {
    let mut log = Log::new("kept");
    log.0.keep_fit(&fit()).unwrap();
    for sql in [
        "UPDATE fit SET confident = 0",
        "DELETE FROM fit",
        "UPDATE fit_project SET number = 1",
        "DELETE FROM fit_project",
        "UPDATE fit_deviation SET mean = 0",
        "DELETE FROM fit_deviation",
        "UPDATE fit_estimate SET now = 0",
        "DELETE FROM fit_estimate",
        "UPDATE fit_setpoint SET wheel_radps = 0",
        "DELETE FROM fit_setpoint",
    ] {
        let e = log.0.db.execute(sql, []).err().unwrap_or_else(|| panic!("{sql}"));
        assert!(e.to_string().contains("only added to"), "{sql}: {e}");
    }
}

#[test]
fn what_happened_since_counts_shots_that_stand_and_shots_that_changed() {
    let mut log = Log::new("since");
    let (first, _) = (log.shot(), log.shot());
    let act = log.0.last_act().unwrap();
    assert_eq!(log.0.since(act).unwrap(), Since::default());
    log.shot();
    log.0
        .supersede(first, "edited", "", 9, |was| Ok(was.entry.clone()))
        .unwrap();
    let since = log.0.since(act).unwrap();
    assert_eq!((since.new_count, since.changed_count), (1, 1));
    // Taking back the edit, then the new shot: the old one was touched all the same.
    log.0.undo(10).unwrap();
    log.0.undo(11).unwrap();
    let since = log.0.since(act).unwrap();
    assert_eq!((since.new_count, since.changed_count), (0, 1));
}

#[test]
fn a_fit_whose_numbers_mean_something_else_is_told_and_not_used() {
    let mut log = Log::new("newer");
    log.0.keep_fit(&fit()).unwrap();
    let columns = "made_utc_ms, seen_act, last_thrown_utc_ms, shot_count, session_count, confident, why_not,
        nearest_m, farthest_m, speed_sd_frac, speed_scatter_frac, speed_scatter_learned, angle_scatter_rad,
        angle_scatter_learned, aside_scatter_rad, aside_scatter_learned, piece_frac, place_frac, last_frac, wheel_measured";
    let sql = format!(
        "INSERT INTO fit (tool, meaning, {columns}) SELECT '9.0.0', {}, {columns} FROM fit",
        MEANING + 1
    );
    log.0.db.execute(&sql, []).unwrap();
    assert_eq!(
        log.0.newest_fit().unwrap(),
        NewestFit::Newer {
            made_utc_ms: 17,
            tool: "9.0.0".into()
        }
    );
}
