//! Opening a log: looking before touching, migrations, and what to say when it cannot be.

use std::fs;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use arcwright_model::finding::Finding;
use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use super::{Store, trouble};

/// One step each; step n leads to version n + 1 (`PRAGMA user_version`).
const MIGRATIONS: &[&str] = &[
    include_str!("schema/0001_start.sql"),
    include_str!("schema/0002_fit.sql"),
];
/// Marks the file as ours (`PRAGMA application_id`): "Arcw".
const APPLICATION: i64 = 0x4172_6377;
/// How long one program waits for another to finish its write; a write takes milliseconds.
const PATIENCE: Duration = Duration::from_secs(10);
/// Between two tries where the database itself does not wait.
const PAUSE: Duration = Duration::from_millis(15);

/// Opens the log to write, makes it where there is none, and brings an older one up to date
/// (with a copy beside it first).
///
/// # Errors
/// A finding about the file: of a newer version, no log, damaged, read-only, no room.
pub fn open(path: &Path) -> Result<Store, Finding> {
    open_with(path, MIGRATIONS)
}

/// Opens the log to read only; `None` where there is none. An older one is brought up to date first, unless it
/// lies on a read-only disk: then it is read as it is.
///
/// # Errors
/// As [`open()`].
pub fn open_to_read(path: &Path) -> Result<Option<Store>, Finding> {
    let Some(store) = open_as_it_is(path)? else {
        return Ok(None);
    };
    let version = identity(&store.db).map_err(|e| trouble::finding(path, &e))?.0;
    if version >= MIGRATIONS.len() as i64 {
        return Ok(Some(store));
    }
    match open(path) {
        Ok(newer) => Ok(Some(newer)),
        Err(f) if ["read-only", "not-opened"].contains(&f.code) => Ok(Some(store)),
        Err(f) => Err(f),
    }
}

/// Opens the log to read only and never writes to it, also where it is of an older version; `None` where there is none.
///
/// # Errors
/// As [`open()`].
pub fn open_as_it_is(path: &Path) -> Result<Option<Store>, Finding> {
    let newest = MIGRATIONS.len() as i64;
    if look(path, newest)? == Look::Nothing {
        return Ok(None);
    }
    let db = match read_only(path) {
        Ok(db) => db,
        Err(e) => return Err(trouble::finding(path, &e)),
    };
    let (version, known) = identity(&db).map_err(|e| trouble::finding(path, &e))?;
    refuse_newer(path, version, newest)?;
    if version == 0 && known == Known::Empty {
        return Ok(None);
    }
    refuse_stranger(path, known)?;
    Ok(Some(Store {
        db,
        path: path.to_path_buf(),
    }))
}

#[derive(PartialEq, Eq)]
enum Look {
    Nothing,
    Something,
}

/// Looks at the first bytes without opening the database, so that a refusal has touched nothing.
///
/// Another program may be tidying the log up between two of these looks: what seems cut short is looked at again.
fn look(path: &Path, newest: i64) -> Result<Look, Finding> {
    const LOOKS: usize = 4;
    for _ in 1..LOOKS {
        match look_once(path, newest) {
            Err(f) if f.code == "log-damaged" => std::thread::sleep(PAUSE),
            done => return done,
        }
    }
    look_once(path, newest)
}

fn look_once(path: &Path, newest: i64) -> Result<Look, Finding> {
    const HEAD: usize = 100;
    let key = || path.display().to_string();
    let about = match fs::metadata(path) {
        Ok(about) => about,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Look::Nothing),
        Err(e) => {
            return Err(Finding::new(
                "not-opened",
                key(),
                format!("the log cannot be looked at: {e}"),
                "choose a project folder that you may read",
            ));
        }
    };
    if about.is_dir() {
        return Err(trouble::not_a_log(path, "it is a folder"));
    }
    if about.len() == 0 {
        return Ok(Look::Nothing);
    }
    let mut head = Vec::new();
    let read = fs::File::open(path).and_then(|f| f.take(HEAD as u64).read_to_end(&mut head));
    if let Err(e) = read {
        return Err(Finding::new(
            "not-opened",
            key(),
            format!("the log cannot be read: {e}"),
            "make the file readable for you",
        ));
    }
    if !head.starts_with(b"SQLite format 3\0") {
        return Err(trouble::not_a_log(path, "it does not begin like a database"));
    }
    let number = |at: usize, long: usize| {
        head.get(at..at + long)
            .map_or(0, |b| b.iter().fold(0_u64, |n, byte| (n << 8) | u64::from(*byte)))
    };
    let waiting = fs::metadata(beside(path, "-wal")).is_ok_and(|w| w.len() > 0);
    let page = match number(16, 2) {
        1 => 65_536,
        n => n,
    };
    // Where nothing waits in the side file, the header says how long the file is.
    let short = head.len() < HEAD || (!waiting && about.len() < page * number(28, 4));
    if short {
        return Err(trouble::damaged(path, "it is cut short"));
    }
    refuse_newer(path, i64::try_from(number(60, 4)).unwrap_or(i64::MAX), newest)?;
    Ok(Look::Something)
}

/// The file beside a database with an ending added to its name.
fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_os_string();
    name.push(ending);
    PathBuf::from(name)
}

fn refuse_newer(path: &Path, version: i64, newest: i64) -> Result<(), Finding> {
    if version <= newest {
        return Ok(());
    }
    Err(Finding::new(
        "newer-log",
        path.display().to_string(),
        format!(
            "the log was written by a newer arcwright (version {version} of the log, this one knows {newest}); nothing was changed"
        ),
        "use the newer arcwright, or work on a copy of the folder without floor.db",
    ))
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Known {
    Ours,
    Empty,
    Stranger,
}

fn refuse_stranger(path: &Path, known: Known) -> Result<(), Finding> {
    match known {
        Known::Stranger => Err(trouble::not_a_log(path, "it is a database of another program")),
        _ => Ok(()),
    }
}

/// Version, and whether it is ours; all of one moment, as another program may just be making it.
fn identity(db: &Connection) -> rusqlite::Result<(i64, Known)> {
    let moment = db.unchecked_transaction()?;
    let version = moment.pragma_query_value(None, "user_version", |r| r.get(0))?;
    let application: i64 = moment.pragma_query_value(None, "application_id", |r| r.get(0))?;
    let tables: i64 = moment.query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0))?;
    let known = match (application, tables) {
        (APPLICATION, _) => Known::Ours,
        (0, 0) if version == 0 => Known::Empty,
        _ => Known::Stranger,
    };
    Ok((version, known))
}

fn is_busy(e: &rusqlite::Error) -> bool {
    matches!(
        e.sqlite_error_code(),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked)
    )
}

/// Some locks (the switch to write-ahead, a recovery) are refused at once instead of waited for.
fn patiently<T>(mut work: impl FnMut() -> rusqlite::Result<T>) -> rusqlite::Result<T> {
    let start = Instant::now();
    loop {
        match work() {
            Err(e) if is_busy(&e) && start.elapsed() < PATIENCE => std::thread::sleep(PAUSE),
            done => return done,
        }
    }
}

fn open_with(path: &Path, migrations: &[&str]) -> Result<Store, Finding> {
    let failed = |e: rusqlite::Error| trouble::finding(path, &e);
    let newest = migrations.len() as i64;
    look(path, newest)?;
    let mut db = Connection::open(path).map_err(failed)?;
    db.busy_timeout(PATIENCE).map_err(failed)?;
    let (version, known) = patiently(|| identity(&db)).map_err(failed)?;
    refuse_newer(path, version, newest)?;
    refuse_stranger(path, known)?;
    if db.is_readonly("main").map_err(failed)? {
        return Err(trouble::read_only(path));
    }
    patiently(|| db.pragma_update(None, "journal_mode", "WAL")).map_err(failed)?;
    // A commit is on the disk before it is acknowledged, whatever happens to the power.
    db.pragma_update(None, "synchronous", "FULL").map_err(failed)?;
    db.pragma_update(None, "foreign_keys", true).map_err(failed)?;
    let health: String =
        patiently(|| db.query_row("PRAGMA quick_check(1)", [], |r| r.get(0))).map_err(failed)?;
    if health != "ok" {
        return Err(trouble::damaged(path, &health));
    }
    if version < newest {
        patiently(|| migrate(&mut db, path, migrations)).map_err(failed)?;
    }
    Ok(Store {
        db,
        path: path.to_path_buf(),
    })
}

/// All missing steps in one transaction; a copy of what was there stands beside it first.
fn migrate(db: &mut Connection, path: &Path, migrations: &[&str]) -> rusqlite::Result<()> {
    let work = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another program may have been first.
    let version: i64 = work.pragma_query_value(None, "user_version", |r| r.get(0))?;
    let steps = migrations
        .get(usize::try_from(version).unwrap_or(usize::MAX)..)
        .unwrap_or(&[]);
    if steps.is_empty() {
        return Ok(());
    }
    if version > 0 {
        // The lock is held, so this is the last state of the old version.
        let copy = free_name(path, version);
        let reader = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        reader.busy_timeout(PATIENCE)?;
        reader.execute("VACUUM INTO ?1", [copy.to_string_lossy()])?;
    }
    for step in steps {
        work.execute_batch(step)?;
    }
    work.pragma_update(None, "application_id", APPLICATION)?;
    work.pragma_update(None, "user_version", migrations.len() as i64)?;
    work.commit()
}

/// `floor.db.before-2`, or with a number behind it where that stands already.
fn free_name(path: &Path, version: i64) -> PathBuf {
    let plain = beside(path, &format!(".before-{}", version + 1));
    if !plain.exists() {
        return plain;
    }
    (2_u32..)
        .map(|n| beside(path, &format!(".before-{}.{n}", version + 1)))
        .find(|p| !p.exists())
        .unwrap_or(plain)
}

/// Opens to read. On a read-only disk the side files cannot be made; where nothing waits in them
/// the file alone is the whole log.
fn read_only(path: &Path) -> rusqlite::Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
    let attempt = |ending: &str| -> rusqlite::Result<Connection> {
        let db = Connection::open_with_flags(address(path, ending), flags)?;
        db.busy_timeout(PATIENCE)?;
        patiently(|| identity(&db))?;
        Ok(db)
    };
    let first = attempt("");
    let waiting = fs::metadata(beside(path, "-wal")).is_ok_and(|w| w.len() > 0);
    match &first {
        Err(e)
            if !waiting
                && matches!(
                    e.sqlite_error_code(),
                    Some(ErrorCode::CannotOpen | ErrorCode::ReadOnly | ErrorCode::PermissionDenied)
                ) =>
        {
            attempt("?immutable=1")
        }
        _ => first,
    }
}

/// The path as a `file:` address.
fn address(path: &Path, ending: &str) -> String {
    let mut out = String::from("file:");
    for c in path.to_string_lossy().chars() {
        match c {
            '%' => out.push_str("%25"),
            '?' => out.push_str("%3f"),
            '#' => out.push_str("%23"),
            other => out.push(other),
        }
    }
    out + ending
}

#[cfg(test)]
#[path = "open_tests.rs"]
mod tests;
