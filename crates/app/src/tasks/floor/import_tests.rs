#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::project::{DEMOS, parse};
use crate::store;
use crate::tasks::floor::{export, table};

struct Bench {
    project: Project,
    store: Store,
    folder: std::path::PathBuf,
}

impl Bench {
    fn new(name: &str) -> Bench {
        let folder = std::env::temp_dir().join(format!("arcwright-import-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Bench {
            project: parse("lantern", DEMOS[0].text).unwrap().project,
            store: store::open(&folder.join("floor.db")).unwrap(),
            folder,
        }
    }

    fn look(&self, text: &str, maps: &[&str]) -> Plan {
        let floor = Floor::of(&self.project);
        let table = table::read(text.as_bytes()).unwrap();
        let options = Options {
            maps: maps.iter().map(|m| m.to_string()).collect(),
            name: "t.csv".into(),
            anyway: false,
        };
        plan(&floor, Some(&self.store), &table, &options, 5_000_000).unwrap()
    }

    fn take(&mut self, text: &str) -> usize {
        let plan = self.look(text, &[]);
        let act = self.store.last_act().unwrap();
        self.store
            .bring_in(&plan.batches, act, 5_000_000)
            .unwrap()
            .unwrap()
            .len()
    }

    fn log(&mut self, line: &str, at_ms: i64) {
        log::log(&Floor::of(&self.project), &mut self.store, line, false, at_ms).unwrap();
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

fn codes(plan: &Plan) -> Vec<&str> {
    plan.rows
        .iter()
        .map(|r| match &r.fate {
            Fate::Take => "take",
            Fate::There(_) => "there",
            Fate::Twice(_) => "twice",
            Fate::Refuse(f) => f.code,
        })
        .collect()
}

const MIXED: [&str; 9] = [
    "far 3490 in",
    "far short",
    "far long 40cm left 5cm",
    "far land 4.21m 3cm left",
    "near 2100 wall 2.56m at 3m",
    "far fall 1.24s in before 3490 after 3200 12.4V piece 3 throw 2 of 4",
    "far jam",
    "far turned 2 left exit 7.9m/s exit 62deg note a, \"b\"",
    "far flyer because wind gust",
];

#[test]
fn our_own_table_is_taken_once_and_says_all_that_the_log_says() {
    let mut first = Bench::new("own");
    for (i, line) in MIXED.iter().enumerate() {
        // Two sessions.
        first.log(
            line,
            1_700_000_000_000 + i as i64 * 1234 + if i > 4 { 2 * SESSION_GAP_MS } else { 0 },
        );
    }
    let (text, count) = export::table(&first.project, &first.store).unwrap();
    assert_eq!(count, MIXED.len());
    assert_eq!(codes(&first.look(&text, &[])), ["there"; 9]);
    let mut second = Bench::new("own-again");
    assert_eq!(second.take(&text), MIXED.len());
    assert_eq!(second.take(&text), 0);
    let what = |b: &Bench| -> Vec<(i64, i64, Entry, String)> {
        let all = b.store.current().unwrap();
        all.into_iter()
            .map(|l| (l.session, l.thrown_utc_ms, l.entry, l.words))
            .collect()
    };
    assert_eq!(what(&first), what(&second));
    assert_eq!(export::table(&second.project, &second.store).unwrap().0, text);
    // One row lost from the log comes back into its session.
    second.store.undo(0).unwrap();
    assert_eq!(second.take(&text), MIXED.len());
}

#[test]
fn a_row_missing_from_the_log_joins_the_session_of_its_neighbours() {
    let mut bench = Bench::new("joins");
    bench.log("far 3490 in", 1_700_000_000_000);
    bench.log("far short", 1_700_000_001_000);
    let (text, _) = export::table(&bench.project, &bench.store).unwrap();
    bench.store.undo(0).unwrap();
    assert_eq!(bench.take(&text), 1);
    assert_eq!(bench.store.sessions().unwrap().len(), 1);
}

#[test]
fn a_landing_of_4200_metres_is_seen_to_be_millimetres() {
    let bench = Bench::new("units");
    let text = "spot,rpm,landing (m)\nfar,3490,4210\nfar,3490,4300\n";
    let plan = bench.look(text, &[]);
    assert_eq!(codes(&plan), ["wrong-unit", "wrong-unit"]);
    let wrong = plan.columns[2].wrong.as_ref().unwrap();
    assert!(wrong.what.contains("looks like mm"), "{}", wrong.what);
    assert!(wrong.fix.contains("landing along (mm)"), "{}", wrong.fix);
    let plan = bench.look(text, &["landing (m)=landing along (mm)"]);
    assert_eq!(codes(&plan), ["take", "take"]);
    assert_eq!(plan.rows[0].entry.as_ref().unwrap().landing_m.unwrap()[0], 4.21);
    // Speeds in rad/s under a head that says rpm, and volts in millivolts.
    let plan = bench.look("spot,wheel speed (rad/s)\nfar,3490\n", &[]);
    assert_eq!(codes(&plan), ["wrong-unit"]);
    assert!(
        plan.columns[1]
            .wrong
            .as_ref()
            .unwrap()
            .what
            .contains("looks like rpm")
    );
    assert_eq!(
        codes(&bench.look("spot,rpm,battery\nfar,3490,12400\n", &[])),
        ["wrong-unit"]
    );
}

#[test]
fn a_length_without_a_unit_asks_for_it_and_a_cell_may_bring_its_own() {
    let bench = Bench::new("no-unit");
    let plan = bench.look("spot,rpm,landed\nfar,3490,4.21\n", &[]);
    assert_eq!(codes(&plan), ["no-unit"]);
    let plan = bench.look("spot,rpm,landed\nfar,3490,4.21 m\nfar,3490,165 in\n", &[]);
    assert_eq!(codes(&plan), ["take", "take"]);
}

#[test]
fn rows_are_refused_one_by_one_with_their_reason() {
    let bench = Bench::new("rows");
    let text = "time,spot,rpm,outcome,volts,throw,of\n\
        2026-05-02T16:42:10Z,far,3490,in,12.4,1,4\n\
        2026-05-02T16:42:10Z,far,3490,in,12.4,1,4\n\
        2026-05-02T16:43:10Z,far,3490,miss,12.4,,\n\
        2026-05-02T16:44:10Z,nowhere,3490,in,12.4,,\n\
        2026-05-02T16:45:10Z,far,,in,12.4,,\n\
        2026-05-02T16:46:10Z,far,3490,in,124,,\n\
        2026-05-02T16:47:10Z,far,3490,in,12.4,5,4\n\
        yesterday,far,3490,in,12.4,,\n\
        2026-05-02T16:48:10Z,far,fast,in,12.4,,\n";
    assert_eq!(
        codes(&bench.look(text, &[])),
        [
            "take",
            "twice",
            "bad-outcome",
            "no-such-spot",
            "cell-empty",
            "impossible-shot",
            "impossible-shot",
            "bad-time",
            "bad-number"
        ]
    );
}

#[test]
fn a_table_without_times_is_taken_once_and_equal_throws_in_it_are_all_taken() {
    let mut bench = Bench::new("no-times");
    let text = "spot,rpm,outcome\nfar,3490,in\nfar,3490,in\nfar,3490,short\n";
    assert_eq!(bench.take(text), 3);
    assert_eq!(codes(&bench.look(text, &[])), ["there"; 3]);
    let more = format!("{text}far,3490,in\n");
    assert_eq!(
        codes(&bench.look(&more, &[])),
        ["there", "there", "there", "take"]
    );
}

#[test]
fn a_table_that_does_not_say_where_or_how_fast_is_refused_as_a_whole() {
    let bench = Bench::new("lacks");
    let floor = Floor::of(&bench.project);
    for text in ["spot,outcome\nfar,in\n", "rpm,outcome\n3490,in\n"] {
        let table = table::read(text.as_bytes()).unwrap();
        let refused = plan(&floor, None, &table, &Options::default(), 0).err().unwrap();
        assert_eq!(refused.code, "column-missing");
        assert!(refused.fix.contains("--map"));
    }
    let table = table::read(b"spot,rpm\nfar,3490\n").unwrap();
    for map in ["rpm", "speed=wheel speed", "rpm=colour"] {
        let options = Options {
            maps: vec![map.into()],
            ..Options::default()
        };
        assert_eq!(
            plan(&floor, None, &table, &options, 0).err().unwrap().code,
            "bad-map"
        );
    }
}

#[test]
fn two_columns_of_one_quantity_must_agree() {
    let bench = Bench::new("agree");
    let text = "spot,wheel speed (rad/s),wheel speed (rpm)\nfar,365.472,3490\nfar,365.472,3590\n";
    assert_eq!(codes(&bench.look(text, &[])), ["take", "two-values"]);
}

#[test]
fn days_are_read_where_only_one_reading_is_possible() {
    let read = |d: &str| {
        time::moment(Some(d), "12:00:00")
            .map(|m| m.to_ms)
            .map_err(|f| f.code)
    };
    assert_eq!(read("2026-05-02"), Ok(1000));
    assert_eq!(read("2.5.2026"), Ok(1000));
    assert_eq!(read("5/31/2026"), Ok(1000));
    assert_eq!(read("3/4/2026"), Err("bad-time"));
    assert_eq!(read("40.1.2026"), Err("bad-time"));
    let same = |a: &str, b: &str| {
        assert_eq!(
            time::moment(Some(a), "12:00").unwrap(),
            time::moment(Some(b), "12:00").unwrap()
        );
    };
    same("2.5.2026", "2026-05-02");
    same("31/5/2026", "5/31/2026");
    assert_eq!(time::moment(None, "2026-05-02T16:42:10.250Z").unwrap().to_ms, 1);
    assert!(time::moment(None, "18:42").is_err());
}
