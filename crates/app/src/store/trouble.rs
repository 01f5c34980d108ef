//! What the database reports, in words.

use std::path::Path;

use arcwright_model::finding::Finding;
use rusqlite::{Error, ErrorCode};

/// A fault of the database as a finding about its file.
pub(super) fn finding(path: &Path, e: &Error) -> Finding {
    let key = path.display().to_string();
    let code = e.sqlite_error_code();
    let (code, what, fix) = match code {
        Some(ErrorCode::DiskFull) => (
            "disk-full",
            "there is no room left on the disk; what was logged before is safe, this was not written"
                .to_string(),
            "make room on the disk, then log it again",
        ),
        Some(ErrorCode::SystemIoFailure) => (
            "not-written",
            format!("the disk did not take it ({e}); what was logged before is safe"),
            "make sure that the disk is there and has room, then do it again",
        ),
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => return read_only(path),
        Some(ErrorCode::CannotOpen) => (
            "not-opened",
            format!("the log cannot be opened or made here ({e})"),
            "use a folder that exists and that you may write to",
        ),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => (
            "log-busy",
            "another program kept the log locked for too long; nothing was written".to_string(),
            "close the other program, then do it again",
        ),
        Some(ErrorCode::NotADatabase) => return not_a_log(path, "it is not a database"),
        Some(ErrorCode::DatabaseCorrupt) => return damaged(path, &e.to_string()),
        _ => (
            "log-trouble",
            format!("the log did not answer: {e}"),
            "do it again; if it stays so, copy floor.db and the files beside it before anything else",
        ),
    };
    Finding::new(code, key, what, fix)
}

/// The file, or its folder, may not be written.
pub(super) fn read_only(path: &Path) -> Finding {
    Finding::new(
        "read-only",
        path.display().to_string(),
        "the log or its folder may not be written; nothing was changed",
        "make the file and its folder writable, or copy the project folder to where you may write",
    )
}

/// Some other file has the name of the log.
pub(super) fn not_a_log(path: &Path, what: &str) -> Finding {
    Finding::new(
        "not-a-log",
        path.display().to_string(),
        format!("this is no shot log: {what}; nothing was changed"),
        "move this file away if something else put it there; a new log is made with the next shot",
    )
}

/// The file is cut short or damaged.
pub(super) fn damaged(path: &Path, what: &str) -> Finding {
    let backups = backups_beside(path);
    let fix = if backups.is_empty() {
        "copy the file first; then put back your last copy of it, or move it away and bring in your last export with `arcwright floor import`"
            .to_string()
    } else {
        format!(
            "copy the file first; then put back your last copy of it (beside it stands {}), or move it away and bring in your last export with `arcwright floor import`",
            backups.join(", ")
        )
    };
    Finding::new(
        "log-damaged",
        path.display().to_string(),
        format!("the log is damaged ({what}); nothing was changed"),
        fix,
    )
}

fn backups_beside(path: &Path) -> Vec<String> {
    let Some(name) = path
        .file_name()
        .map(|n| format!("{}.before-", n.to_string_lossy()))
    else {
        return Vec::new();
    };
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    let mut out: Vec<String> = std::fs::read_dir(folder.unwrap_or(Path::new(".")))
        .map(|all| {
            all.filter_map(|e| Some(e.ok()?.file_name().to_string_lossy().into_owned()))
                .filter(|n| n.starts_with(&name))
                .collect()
        })
        .unwrap_or_default();
    out.sort();
    out
}
