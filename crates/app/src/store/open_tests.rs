#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::sync::atomic::{AtomicU32, Ordering};

use super::*;
use crate::store::{Entry, NewShot};

struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        static NEXT: AtomicU32 = AtomicU32::new(0);
        let n = NEXT.fetch_add(1, Ordering::Relaxed);
        let path = std::env::temp_dir().join(format!("arcwright-store-{}-{n}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Folder(path)
    }

    fn log(&self) -> PathBuf {
        self.0.join("floor.db")
    }

    fn names(&self) -> Vec<String> {
        let mut all: Vec<String> = fs::read_dir(&self.0)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        all.sort();
        all
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn shot(note: &str) -> NewShot {
    NewShot {
        thrown_utc_ms: 1_000,
        time_known: true,
        source: "typed".into(),
        words: "far in".into(),
        entry: Entry {
            spot: "far".into(),
            distance_m: 3.6,
            setpoint_radps: 365.0,
            place: 1,
            note: note.into(),
            ..Entry::default()
        },
    }
}

/// A log with so many shots.
fn with_shots(folder: &Folder, count: u32) {
    let mut store = open(&folder.log()).unwrap();
    for i in 0..count {
        store.log(&shot(&format!("shot {i}")), 1_000).unwrap();
    }
}

#[test]
fn a_log_of_a_newer_version_is_refused_and_not_a_byte_is_changed() {
    let folder = Folder::new();
    with_shots(&folder, 1);
    let db = Connection::open(folder.log()).unwrap();
    db.pragma_update(None, "user_version", 7).unwrap();
    drop(db);
    let (bytes, names) = (fs::read(folder.log()).unwrap(), folder.names());
    for refused in [
        open(&folder.log()).err().unwrap(),
        open_to_read(&folder.log()).err().unwrap(),
    ] {
        assert_eq!(refused.code, "newer-log");
        assert!(refused.what.contains("version 7"), "{}", refused.what);
    }
    assert_eq!(fs::read(folder.log()).unwrap(), bytes);
    assert_eq!(folder.names(), names);
}

#[test]
fn what_is_no_log_is_refused_and_left_as_it_is() {
    let folder = Folder::new();
    let other = folder.0.join("other.db");
    let db = Connection::open(&other).unwrap();
    db.execute_batch("CREATE TABLE recipes (name TEXT)").unwrap();
    drop(db);
    let cases: [(&[u8], &str); 3] = [
        (b"shopping: bread, milk", "not-a-log"),
        (&[0x89; 5000], "not-a-log"),
        (&fs::read(&other).unwrap(), "not-a-log"),
    ];
    for (bytes, code) in cases {
        fs::write(folder.log(), bytes).unwrap();
        assert_eq!(open(&folder.log()).err().unwrap().code, code);
        assert_eq!(open_to_read(&folder.log()).err().unwrap().code, code);
        assert_eq!(fs::read(folder.log()).unwrap(), bytes);
    }
    fs::remove_file(folder.log()).unwrap();
    fs::create_dir(folder.log()).unwrap();
    assert_eq!(open(&folder.log()).err().unwrap().code, "not-a-log");
}

#[test]
fn a_log_cut_short_anywhere_is_never_taken_for_a_whole_one_nor_written_to() {
    let folder = Folder::new();
    with_shots(&folder, 30);
    let whole = fs::read(folder.log()).unwrap();
    for cut in [1, 15, 50, 99, 100, 512, 4096, 8192, 20_000, whole.len() - 1] {
        let bytes = &whole[..cut];
        fs::write(folder.log(), bytes).unwrap();
        let refused = open(&folder.log())
            .err()
            .unwrap_or_else(|| panic!("cut at {cut}: opened"));
        assert!(
            ["log-damaged", "not-a-log"].contains(&refused.code),
            "cut at {cut}: {}",
            refused.code
        );
        assert!(open_to_read(&folder.log()).is_err(), "cut at {cut}");
        assert_eq!(fs::read(folder.log()).unwrap(), bytes, "cut at {cut}: written to");
    }
}

#[test]
fn a_page_of_rubbish_in_the_middle_is_found_before_anything_is_added() {
    let folder = Folder::new();
    with_shots(&folder, 60);
    let mut bytes = fs::read(folder.log()).unwrap();
    let middle = bytes.len() / 2 / 4096 * 4096;
    for byte in &mut bytes[middle..middle + 4096] {
        *byte = 0x5a;
    }
    fs::write(folder.log(), &bytes).unwrap();
    assert_eq!(open(&folder.log()).err().unwrap().code, "log-damaged");
    assert_eq!(fs::read(folder.log()).unwrap(), bytes);
}

#[test]
fn a_migration_keeps_a_copy_of_the_old_log_and_every_shot() {
    let folder = Folder::new();
    with_shots(&folder, 3);
    let newer = [MIGRATIONS, &["ALTER TABLE shot ADD COLUMN lane TEXT;"]].concat();
    let store = open_with(&folder.log(), &newer).unwrap();
    assert_eq!(identity(&store.db).unwrap().0, newer.len() as i64);
    assert_eq!(store.current().unwrap().len(), 3);
    let copy_name = format!("floor.db.before-{}", newer.len());
    let copy = folder.0.join(&copy_name);
    assert!(folder.names().contains(&copy_name), "{:?}", folder.names());
    assert_eq!(open_to_read(&copy).unwrap().unwrap().current().unwrap().len(), 3);
    drop(store);
    // The program of the version before now says that the log is newer.
    assert_eq!(open(&folder.log()).err().unwrap().code, "newer-log");
}

#[test]
fn a_migration_that_fails_half_way_leaves_the_log_as_it_was() {
    let folder = Folder::new();
    with_shots(&folder, 2);
    let broken = [
        MIGRATIONS,
        &[
            "ALTER TABLE shot ADD COLUMN lane TEXT;",
            "ALTER TABLE nowhere ADD COLUMN lane TEXT;",
        ],
    ]
    .concat();
    assert!(open_with(&folder.log(), &broken).is_err());
    let store = open(&folder.log()).unwrap();
    assert_eq!(identity(&store.db).unwrap().0, MIGRATIONS.len() as i64);
    assert_eq!(store.current().unwrap().len(), 2);
    assert!(
        store.db.prepare("SELECT lane FROM shot").is_err(),
        "half of it stayed"
    );
}

#[test]
fn nothing_can_be_overwritten_or_deleted() {
    let folder = Folder::new();
    with_shots(&folder, 1);
    let store = open(&folder.log()).unwrap();
    for sql in [
        "UPDATE shot_version SET note = 'other'",
        "DELETE FROM shot_version",
        "UPDATE shot SET thrown_utc_ms = 0",
        "DELETE FROM shot",
        "DELETE FROM session",
        "UPDATE session SET name = ''",
    ] {
        let e = store
            .db
            .execute(sql, [])
            .err()
            .unwrap_or_else(|| panic!("{sql} went through"));
        assert!(e.to_string().contains("only added to"), "{sql}: {e}");
    }
    assert_eq!(store.current().unwrap().len(), 1);
}

#[test]
fn a_full_disk_refuses_the_shot_and_keeps_the_others() {
    let folder = Folder::new();
    let mut store = open(&folder.log()).unwrap();
    let pages: i64 = store
        .db
        .pragma_query_value(None, "page_count", |r| r.get(0))
        .unwrap();
    store.db.pragma_update(None, "max_page_count", pages + 2).unwrap();
    let note = "a long note ".repeat(60);
    let mut taken = 0;
    let refused = loop {
        match store.log(&shot(&note), 1_000) {
            Ok(_) => taken += 1,
            Err(f) => break f,
        }
        assert!(taken < 1000, "the limit does not bite");
    };
    assert_eq!(refused.code, "disk-full");
    assert!(taken > 0);
    assert_eq!(store.current().unwrap().len(), taken);
    drop(store);
    let mut store = open(&folder.log()).unwrap();
    assert_eq!(store.current().unwrap().len(), taken);
    store.log(&shot("room again"), 1_000).unwrap();
}

#[test]
fn a_log_is_not_made_by_looking() {
    let folder = Folder::new();
    assert!(open_to_read(&folder.log()).unwrap().is_none());
    assert!(folder.names().is_empty());
}

#[test]
fn names_with_marks_of_addresses_are_read() {
    let folder = Folder::new();
    let odd = folder.0.join("50% off?#1");
    fs::create_dir(&odd).unwrap();
    let path = odd.join("floor.db");
    open(&path).unwrap().log(&shot(""), 1_000).unwrap();
    assert_eq!(open_to_read(&path).unwrap().unwrap().current().unwrap().len(), 1);
}

/// A log as the program of version 1 left it.
fn of_version_one(folder: &Folder) {
    let mut store = open_with(&folder.log(), &MIGRATIONS[..1]).unwrap();
    store.log(&shot("old"), 1_000).unwrap();
}

#[test]
fn a_log_without_the_tables_of_fits_is_read_as_it_is_and_brought_up_to_date_when_written() {
    let folder = Folder::new();
    of_version_one(&folder);
    let (bytes, names) = (fs::read(folder.log()).unwrap(), folder.names());
    let store = open_as_it_is(&folder.log()).unwrap().unwrap();
    assert_eq!(store.newest_fit().unwrap(), crate::store::NewestFit::None);
    assert_eq!(store.since(0).unwrap().new_count, 1);
    drop(store);
    assert_eq!(fs::read(folder.log()).unwrap(), bytes);
    assert!(
        !folder.names().iter().any(|n| n.contains("before")),
        "{names:?} {:?}",
        folder.names()
    );
    let store = open_to_read(&folder.log()).unwrap().unwrap();
    assert_eq!(identity(&store.db).unwrap().0, MIGRATIONS.len() as i64);
    assert!(folder.names().contains(&"floor.db.before-2".to_string()));
}

#[test]
fn a_log_that_is_just_being_made_is_never_taken_for_a_strangers() {
    for _ in 0..40 {
        let folder = Folder::new();
        let path = folder.log();
        let maker = std::thread::spawn({
            let path = path.clone();
            move || open(&path).map(drop)
        });
        // Asked again and again while the other makes it.
        let db = Connection::open(&path).unwrap();
        db.busy_timeout(PATIENCE).unwrap();
        while !maker.is_finished() {
            let (_, known) = patiently(|| identity(&db)).unwrap();
            assert!(known != Known::Stranger);
        }
        maker.join().unwrap().unwrap();
        assert!(identity(&db).unwrap().1 == Known::Ours);
    }
}
