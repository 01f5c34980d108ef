//! One file with everything of a project: its file, the log, the history, notes and photos, what was generated. A zip with a
//! list of its members and their fingerprints, so that it opens without this program, too.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Component, Path, PathBuf};

use arcwright_model::finding::Finding;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use super::floor::time;
use super::history;
use crate::project::FILE_NAME as PROJECT_NAME;
use crate::store;

/// Name of the list inside.
const LIST_NAME: &str = "archive.json";
/// What the list means; rises when it comes to mean something else.
const FORMAT: u64 = 1;
/// Physical: more than this is no project, or a trap.
const MOST_BYTES: u64 = 4 << 30;
/// Physical: a project has not as many files.
const MOST_COUNT: usize = 20_000;
/// Folders that go in with all they hold: notes and photos, what was generated.
const FOLDERS: [&str; 2] = [super::book::NOTES_FOLDER, "out"];

/// A member of an archive.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Its path with slashes.
    pub path: String,
    /// Size.
    pub bytes_count: u64,
    /// Fingerprint.
    pub sha256: String,
}

/// What an archive holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contents {
    /// Name of the project.
    pub project: String,
    /// When it was made, UTC.
    pub utc: String,
    /// Version of the program that made it.
    pub tool: String,
    /// Its members, the list itself left out.
    pub members: Vec<Member>,
}

fn trouble(path: &Path, e: &dyn std::fmt::Display) -> Finding {
    Finding::new(
        "archive-unusable",
        path.display().to_string(),
        format!("it cannot be read or written: {e}"),
        "check that the file is there, that you may read and write there, and that the disk has room",
    )
}

fn broken(path: &Path, what: String) -> Finding {
    Finding::new(
        "archive-damaged",
        path.display().to_string(),
        what,
        "copy the archive again from where it came from; nothing was written",
    )
}

/// Fingerprint and size of what is read.
fn digest(mut from: impl Read, mut to: impl Write) -> io::Result<(u64, String)> {
    let mut hash = Sha256::new();
    let mut size = 0;
    let mut part = vec![0; 1 << 16];
    loop {
        let n = from.read(&mut part)?;
        let Some(read) = part.get(..n).filter(|r| !r.is_empty()) else {
            break;
        };
        hash.update(read);
        to.write_all(read)?;
        size += n as u64;
    }
    let text = hash.finalize().iter().map(|b| format!("{b:02x}")).collect();
    Ok((size, text))
}

/// A file that goes again when it is no longer needed.
struct Passing(PathBuf);

impl Drop for Passing {
    fn drop(&mut self) {
        // What is left behind is a copy.
        let _ = if self.0.is_dir() {
            fs::remove_dir_all(&self.0)
        } else {
            fs::remove_file(&self.0)
        };
    }
}

fn beside(path: &Path, what: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".{what}-{}", std::process::id()));
    path.with_file_name(name)
}

/// Every plain file below a folder, in the order of their paths; links are passed over.
fn below(folder: &Path, named: &str, out: &mut Vec<(String, PathBuf)>) -> io::Result<()> {
    let mut all: Vec<_> = fs::read_dir(folder)?.collect::<io::Result<_>>()?;
    all.sort_by_key(|e| e.file_name());
    for entry in all {
        let kind = entry.file_type()?;
        let Some(name) = entry.file_name().to_str().map(|n| format!("{named}/{n}")) else {
            continue;
        };
        if kind.is_dir() {
            below(&entry.path(), &name, out)?;
        } else if kind.is_file() {
            out.push((name, entry.path()));
        }
    }
    Ok(())
}

/// Packs the project with this file and name into a new archive. The log is copied as one moment of it, even while somebody
/// throws.
///
/// # Errors
/// `already-there`, `archive-unusable`, or what is wrong with the log.
pub fn pack(file: &Path, name: &str, to: &Path) -> Result<Contents, Finding> {
    if to.exists() {
        return Err(Finding::new(
            "already-there",
            to.display().to_string(),
            "there is a file with this name",
            "give another name with --to, or move that one away",
        ));
    }
    let mut members: Vec<(String, PathBuf)> = vec![(PROJECT_NAME.to_string(), file.to_path_buf())];
    let past = file.with_file_name(history::FILE_NAME);
    if past.is_file() {
        members.push((history::FILE_NAME.to_string(), past));
    }
    let mut passing = Vec::new();
    for log in [store::FILE_NAME, super::floor::rehearse::FILE_NAME] {
        let path = file.with_file_name(log);
        if let Some(open) = store::open_as_it_is(&path)? {
            let copy = beside(to, log);
            passing.push(Passing(copy.clone()));
            open.copy_to(&copy)?;
            members.push((log.to_string(), copy));
        }
    }
    for folder in FOLDERS {
        let path = file.with_file_name(folder);
        if path.is_dir() {
            below(&path, folder, &mut members).map_err(|e| trouble(&path, &e))?;
        }
    }
    // The archive itself may lie in a folder that goes in.
    let own = fs::canonicalize(
        to.parent()
            .filter(|p| !p.as_os_str().is_empty())
            .unwrap_or(Path::new(".")),
    );
    let half = beside(to, "half");
    let mut done = Passing(half.clone());
    members.retain(|(_, p)| {
        let there = own
            .as_ref()
            .ok()
            .map(|o| o.join(half.file_name().unwrap_or_default()));
        fs::canonicalize(p).ok() != there
    });
    let mut zip = ZipWriter::new(File::create_new(&half).map_err(|e| trouble(to, &e))?);
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .large_file(true);
    let mut listed = Vec::new();
    for (path, from) in &members {
        let source = File::open(from).map_err(|e| trouble(from, &e))?;
        zip.start_file(path, options).map_err(|e| trouble(to, &e))?;
        let (bytes_count, sha256) = digest(source, &mut zip).map_err(|e| trouble(from, &e))?;
        listed.push(Member {
            path: path.clone(),
            bytes_count,
            sha256,
        });
    }
    let contents = Contents {
        project: name.to_string(),
        utc: time::utc(time::now_ms()),
        tool: env!("CARGO_PKG_VERSION").to_string(),
        members: listed,
    };
    let list = format!("{:#}\n", list(&contents));
    let work = || -> zip::result::ZipResult<()> {
        let mut zip = zip;
        zip.start_file(LIST_NAME, options)?;
        zip.write_all(list.as_bytes())?;
        let file = zip.finish()?;
        file.sync_all()?;
        Ok(())
    };
    work().map_err(|e| trouble(to, &e))?;
    fs::rename(&half, to).map_err(|e| trouble(to, &e))?;
    done.0 = PathBuf::new();
    Ok(contents)
}

/// The list as it stands in the archive.
pub fn list(c: &Contents) -> Value {
    json!({
        "format": FORMAT, "project": c.project, "utc": c.utc, "tool": c.tool,
        "members": c.members.iter().map(|m| json!({
            "path": m.path, "bytes": m.bytes_count, "sha256": m.sha256,
        })).collect::<Vec<_>>(),
    })
}

/// May a member be written below a folder?
fn is_inside(path: &str) -> bool {
    !path.is_empty()
        && !path.contains(['\\', ':', '\0'])
        && Path::new(path)
            .components()
            .all(|c| matches!(c, Component::Normal(_)))
        && !path
            .split('/')
            .any(|part| part.is_empty() || part == "." || part == "..")
}

fn listed(path: &Path, zip: &mut ZipArchive<File>) -> Result<Contents, Finding> {
    /// Physical: a list of [`MOST_COUNT`] members is not longer.
    const LONGEST: u64 = 16 << 20;
    let none = || {
        Finding::new(
            "no-archive",
            path.display().to_string(),
            "it is not an archive of a project: its list is missing",
            "give a file that `arcwright archive` made",
        )
    };
    let mut text = String::new();
    zip.by_name(LIST_NAME)
        .map_err(|_| none())?
        .take(LONGEST)
        .read_to_string(&mut text)
        .map_err(|e| broken(path, format!("its list cannot be read: {e}")))?;
    let said: Value =
        serde_json::from_str(&text).map_err(|e| broken(path, format!("its list cannot be read: {e}")))?;
    if said["format"].as_u64().is_some_and(|f| f > FORMAT) {
        return Err(Finding::new(
            "newer-archive",
            path.display().to_string(),
            format!(
                "it was made by a newer program, {}",
                said["tool"].as_str().unwrap_or("of unknown version")
            ),
            "use that version of the program, or a newer one",
        ));
    }
    let word = |v: &Value| v.as_str().map(str::to_string);
    let members = said["members"].as_array().and_then(|all| {
        all.iter()
            .map(|m| {
                Some(Member {
                    path: word(&m["path"])?,
                    bytes_count: m["bytes"].as_u64()?,
                    sha256: word(&m["sha256"])?,
                })
            })
            .collect::<Option<Vec<_>>>()
    });
    match (
        word(&said["project"]),
        word(&said["utc"]),
        word(&said["tool"]),
        members,
    ) {
        (Some(project), Some(utc), Some(tool), Some(members)) => Ok(Contents {
            project,
            utc,
            tool,
            members,
        }),
        _ => Err(broken(path, "its list lacks something".to_string())),
    }
}

/// Reads an archive through, member by member, into `to` where a folder is given.
fn through(path: &Path, to: Option<&Path>) -> Result<Contents, Finding> {
    let file = File::open(path).map_err(|e| trouble(path, &e))?;
    let mut zip = ZipArchive::new(file).map_err(|e| match e {
        zip::result::ZipError::Io(e) => trouble(path, &e),
        e => broken(path, format!("it is no zip file, or is cut short: {e}")),
    })?;
    let contents = listed(path, &mut zip)?;
    let whole: u64 = contents
        .members
        .iter()
        .map(|m| m.bytes_count)
        .fold(0, u64::saturating_add);
    if whole > MOST_BYTES || contents.members.len() > MOST_COUNT {
        return Err(broken(path, "it is larger than any project".to_string()));
    }
    if !contents.members.iter().any(|m| m.path == PROJECT_NAME) {
        return Err(broken(path, format!("{PROJECT_NAME} is missing")));
    }
    let mut names: Vec<&str> = contents.members.iter().map(|m| m.path.as_str()).collect();
    names.sort_unstable();
    let doubled = names.windows(2).any(|w| w.first() == w.last());
    if doubled || names.iter().any(|n| !is_inside(n) || *n == LIST_NAME) {
        return Err(broken(
            path,
            "its list has a path that no project has".to_string(),
        ));
    }
    if zip.len() != contents.members.len() + 1 {
        return Err(broken(
            path,
            "it holds other files than its list says".to_string(),
        ));
    }
    for m in &contents.members {
        let from = zip
            .by_name(&m.path)
            .map_err(|_| broken(path, format!("{} is missing", m.path)))?;
        // One byte more than listed is enough to tell.
        let from = from.take(m.bytes_count + 1);
        let read = match to {
            None => digest(from, io::sink()),
            Some(folder) => {
                let at = folder.join(&m.path);
                let into = at
                    .parent()
                    .map_or(Ok(()), fs::create_dir_all)
                    .and_then(|()| File::create_new(&at));
                digest(from, into.map_err(|e| trouble(&at, &e))?)
            }
        };
        let (size, sha256) = read.map_err(|e| broken(path, format!("{} cannot be read: {e}", m.path)))?;
        if size != m.bytes_count || sha256 != m.sha256 {
            return Err(broken(path, format!("{} is not as it was packed", m.path)));
        }
    }
    Ok(contents)
}

/// Checks that every member of an archive is as it was packed.
///
/// # Errors
/// `no-archive`, `newer-archive`, `archive-damaged`, `archive-unusable`.
pub fn verify(path: &Path) -> Result<Contents, Finding> {
    through(path, None)
}

/// Unpacks an archive into a new folder, whole or not at all.
///
/// # Errors
/// `already-there`, and those of [`verify`].
pub fn unpack(path: &Path, folder: &Path) -> Result<Contents, Finding> {
    if folder.exists() {
        return Err(Finding::new(
            "already-there",
            folder.display().to_string(),
            "there is something with this name already",
            "give the name of a folder that is not there yet",
        ));
    }
    let half = beside(folder, "half");
    fs::create_dir_all(&half).map_err(|e| trouble(folder, &e))?;
    let mut done = Passing(half.clone());
    let contents = through(path, Some(&half))?;
    fs::rename(&half, folder).map_err(|e| trouble(folder, &e))?;
    done.0 = PathBuf::new();
    Ok(contents)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_paths_below_the_folder_are_written() {
        for fine in [
            "arcwright.toml",
            "notes/2026-01-02 wheel.jpg",
            "out/a/b.svg",
            "out/..x",
        ] {
            assert!(is_inside(fine), "{fine}");
        }
        for bad in [
            "",
            "/etc/passwd",
            "../x",
            "a/../../x",
            "a//b",
            "./a",
            "C:\\x",
            "a\\b",
            "c:x",
            "a/.",
            "x\0y",
        ] {
            assert!(!is_inside(bad), "{bad}");
        }
    }

    /// FIPS 180-4, the example of one block: the message "abc" [fips-180-4].
    #[test]
    fn the_fingerprint_is_that_of_the_standard() {
        let mut out = Vec::new();
        let (size, text) = digest(&b"abc"[..], &mut out).unwrap_or_default();
        assert_eq!((size, out.as_slice()), (3, &b"abc"[..]));
        assert_eq!(
            text,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
