//! A new text in place of a file, whole or not at all.

use std::fs::{self, File, OpenOptions, Permissions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;

use super::read::FILE_NAME;
use super::write::WriteRefusal;

/// Puts `new_text` in place of a project file that still holds `expected_old_text`.
///
/// The text before is kept beside it as `arcwright.toml.before`. A link stays a link: the file it
/// leads to is replaced. Where it fails, the file is as it was.
///
/// # Errors
/// `changed-meanwhile`, `read-only`, `disk-full`, or another refusal of the system.
pub fn replace_file(path: &Path, expected_old_text: &str, new_text: &str) -> Result<(), WriteRefusal> {
    put(path, expected_old_text, new_text).map_err(WriteRefusal::of)
}

fn put(path: &Path, expected_old_text: &str, new_text: &str) -> Result<(), Finding> {
    let named = if path.is_dir() {
        path.join(FILE_NAME)
    } else {
        path.to_path_buf()
    };
    let shown = named.display().to_string();
    let failed = |e: std::io::Error| trouble(&shown, &e);
    // Where a link leads: renaming onto the link itself would leave its file behind.
    let file = fs::canonicalize(&named).map_err(failed)?;
    let about = fs::metadata(&file).map_err(failed)?;
    if about.permissions().readonly() {
        return Err(read_only(&shown, "the file"));
    }
    let folder = file.parent().unwrap_or(Path::new("."));
    if cfg!(unix) && fs::metadata(folder).map_err(failed)?.permissions().readonly() {
        return Err(read_only(&shown, "its folder"));
    }
    let old = fs::read(&file).map_err(failed)?;
    let (mark, old_text) = without_mark(&old);
    if old_text != expected_old_text.trim_start_matches(MARK).as_bytes() {
        return Err(changed(&shown));
    }
    let mut backup = file.clone().into_os_string();
    backup.push(".before");
    let new = [mark, new_text.trim_start_matches(MARK).as_bytes()].concat();
    // Both are on the disk before either gets its name.
    let kept = Fresh::write(&file, &old, about.permissions()).map_err(failed)?;
    let fresh = Fresh::write(&file, &new, about.permissions()).map_err(failed)?;
    if fs::read(&file).map_err(failed)? != old {
        return Err(changed(&shown));
    }
    kept.rename(Path::new(&backup)).map_err(failed)?;
    fresh.rename(&file).map_err(failed)?;
    // The names are safe once the folder is on the disk; not every system lets one ask for it.
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// A mark that some editors put before UTF-8.
const MARK: char = '\u{feff}';

fn without_mark(bytes: &[u8]) -> (&[u8], &[u8]) {
    let mark = "\u{feff}".len();
    if bytes.starts_with("\u{feff}".as_bytes()) {
        bytes.split_at(mark)
    } else {
        (&[], bytes)
    }
}

/// A file beside another, gone again unless it is renamed.
struct Fresh {
    path: PathBuf,
    is_named: bool,
}

/// Names tried for a file beside the project. Physical: more are left over from no crash.
const NAMES_COUNT: usize = 100;

impl Fresh {
    fn write(beside: &Path, bytes: &[u8], permissions: Permissions) -> std::io::Result<Fresh> {
        let name = beside
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let own = std::process::id();
        let mut taken = std::io::Error::from(ErrorKind::AlreadyExists);
        for i in 0..NAMES_COUNT {
            let path = beside.with_file_name(format!(".{name}.{own}-{i}"));
            // A file or link of that name that is there already is somebody's.
            let mut file = match OpenOptions::new().write(true).create_new(true).open(&path) {
                Ok(file) => file,
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {
                    taken = e;
                    continue;
                }
                Err(e) => return Err(e),
            };
            let fresh = Fresh {
                path,
                is_named: false,
            };
            file.write_all(bytes)?;
            file.flush()?;
            file.set_permissions(permissions)?;
            file.sync_all()?;
            return Ok(fresh);
        }
        Err(taken)
    }

    fn rename(mut self, to: &Path) -> std::io::Result<()> {
        fs::rename(&self.path, to)?;
        self.is_named = true;
        Ok(())
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        if !self.is_named {
            let _ = fs::remove_file(&self.path);
        }
    }
}

fn changed(shown: &str) -> Finding {
    Finding::new(
        "changed-meanwhile",
        "",
        format!("`{shown}` was changed after it was read; it is left as it is now"),
        "save it in your editor, then do this again: it will start from the new text",
    )
}

fn read_only(shown: &str, which: &str) -> Finding {
    Finding::new(
        "read-only",
        "",
        format!("could not change `{shown}`: {which} may only be read; nothing was written"),
        format!("give yourself the right to write to {which}, or copy the project to a folder of your own"),
    )
}

/// Why the system would not, and what to do.
fn trouble(shown: &str, error: &std::io::Error) -> Finding {
    let (code, why, fix) = match error.kind() {
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            return read_only(shown, "the file or its folder");
        }
        ErrorKind::NotFound => (
            "no-file",
            "it is not there any more".to_string(),
            "check the path; if it was moved, give its new one",
        ),
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => (
            "disk-full",
            "the disk is full".to_string(),
            "make room on the disk and do this again; the file is as it was",
        ),
        _ => (
            "not-written",
            error.to_string(),
            "check that the disk is there and that no folder stands in the way; the file is as it was",
        ),
    };
    Finding::new(code, "", format!("could not change `{shown}`: {why}"), fix)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A full disk and a disk without writing are not at hand in a test.
    #[test]
    fn a_full_disk_and_a_missing_right_are_told_apart_and_both_say_what_to_do() {
        let said = |kind: ErrorKind| trouble("a/arcwright.toml", &kind.into());
        let full = said(ErrorKind::StorageFull);
        assert_eq!(full.code, "disk-full");
        assert!(full.fix.contains("the file is as it was"));
        assert_eq!(said(ErrorKind::ReadOnlyFilesystem).code, "read-only");
        assert_eq!(said(ErrorKind::PermissionDenied).code, "read-only");
        assert_eq!(said(ErrorKind::NotFound).code, "no-file");
        assert_eq!(said(ErrorKind::TimedOut).code, "not-written");
    }
}
