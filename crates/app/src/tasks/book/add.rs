//! Adding a note: new files only.

use std::fs;
use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;
use jiff::civil::Date;

use super::notes::{LARGEST_NOTE_COUNT, LARGEST_PHOTO_COUNT, MOST_FILES, file_name, megabytes, refuse};
use super::photo::{kind_of, without_place};

/// A photo that is added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewPhoto {
    /// What it shows.
    pub caption: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A note that is added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewNote {
    /// Its day, `2026-02-14`.
    pub day: String,
    /// What it is about.
    pub title: String,
    /// What it says.
    pub text: String,
    /// Its photos.
    pub photos: Vec<NewPhoto>,
}

/// Physical: names of this length are sound on every system.
const LONGEST_NAME_COUNT: usize = 60;

/// A text as part of a file's name that every system takes.
fn as_name(text: &str) -> String {
    let plain: String = text
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || "-_+()".contains(c) {
                c
            } else {
                ' '
            }
        })
        .collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    words
        .join(" ")
        .chars()
        .take(LONGEST_NAME_COUNT)
        .collect::<String>()
        .trim()
        .to_string()
}

/// Writes a note and its photos as new files; what is there already stays. Gives the name of the note's file.
///
/// # Errors
/// What is wrong with it, or why it could not be written; nothing is left then.
pub fn add(folder: &Path, new: &NewNote) -> Result<String, Finding> {
    let wrong = |key: &str, what: String, fix: &str| Finding::new("bad-note", key, what, fix);
    let day: Date = new.day.parse().map_err(|_| {
        wrong(
            "day",
            format!("`{}` is no day", new.day),
            "write it as 2026-02-14",
        )
    })?;
    if new.text.trim().is_empty() && new.photos.is_empty() {
        return Err(wrong(
            "text",
            "the note says nothing".into(),
            "write a line, or add a photo",
        ));
    }
    if new.text.len() as u64 > LARGEST_NOTE_COUNT {
        return Err(wrong("text", "the note is too long".into(), "make two of it"));
    }
    let mut photos = Vec::new();
    for p in &new.photos {
        let ending = match kind_of(&p.bytes) {
            Some("image/png") => "png",
            Some("image/webp") => "webp",
            Some(_) => "jpg",
            None => {
                return Err(wrong(
                    "photos",
                    format!("the photo `{}` is none that every browser shows", p.caption),
                    "save it as JPEG, PNG or WebP",
                ));
            }
        };
        if p.bytes.len() as u64 > LARGEST_PHOTO_COUNT {
            return Err(wrong(
                "photos",
                format!(
                    "the photo `{}` has {}",
                    p.caption,
                    megabytes(p.bytes.len() as u64)
                ),
                "save it smaller; 1600 pixels along the longer side are plenty",
            ));
        }
        photos.push((p, ending));
    }
    let unwritten = |path: &Path, e: std::io::Error| {
        refuse(
            path,
            "not-written",
            format!("it could not be written: {e}"),
            "make the folder writable, on a disk with room",
        )
    };
    fs::create_dir_all(folder).map_err(|e| unwritten(folder, e))?;
    let mut made: Vec<PathBuf> = Vec::new();
    let mut text = new.text.trim().to_string();
    let mut write = |name: &str, ending: &str, bytes: &[u8]| -> Result<String, Finding> {
        let path = fresh(folder, name, ending, bytes).map_err(|e| unwritten(folder, e))?;
        let name = file_name(&path);
        made.push(path);
        Ok(name)
    };
    let mut all = || -> Result<String, Finding> {
        for (p, ending) in &photos {
            let bytes = if *ending == "jpg" {
                without_place(&p.bytes)
            } else {
                p.bytes.clone()
            };
            let name = write(&format!("{day} {}", as_name(&p.caption)), ending, &bytes)?;
            let caption: Vec<&str> = p.caption.split_whitespace().collect();
            text.push_str(&format!("\n\n{name}: {}", caption.join(" ")));
        }
        write(
            &format!("{day} {}", as_name(&new.title)),
            "txt",
            format!("{}\n", text.trim()).as_bytes(),
        )
    };
    let done = all();
    if done.is_err() {
        for path in &made {
            let _ = fs::remove_file(path);
        }
    }
    done
}

/// A new file; where one of that name is there, with a number behind it.
fn fresh(folder: &Path, name: &str, ending: &str, bytes: &[u8]) -> std::io::Result<PathBuf> {
    use std::io::Write;
    for n in 1..=MOST_FILES {
        let number = if n == 1 { String::new() } else { format!(" ({n})") };
        let path = folder.join(format!("{}{number}.{ending}", name.trim()));
        match fs::OpenOptions::new().write(true).create_new(true).open(&path) {
            Ok(mut file) => {
                file.write_all(bytes)?;
                return Ok(path);
            }
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(e),
        }
    }
    Err(std::io::Error::from(std::io::ErrorKind::AlreadyExists))
}
