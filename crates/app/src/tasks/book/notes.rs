//! The team's own notes and photos: plain files in `notes/` beside the project, placed by the date in their names.
//!
//! ```text
//! notes/2026-02-14 wheels.txt        a note: paragraphs, `- ` lists, `photo.jpg: caption` on a line of its own
//! notes/2026-02-14 first wheel.jpg   a photo: its caption is the rest of its name
//! ```

use std::fs;
use std::path::{Path, PathBuf};

use arcwright_model::finding::Finding;
use jiff::civil::Date;

use super::photo::{kind_of, without_place};

/// Name of the folder.
pub const FOLDER: &str = "notes";

/// Physical: a phone's photo has 2 to 6 MB.
pub const LARGEST_PHOTO_COUNT: u64 = 12 << 20;
/// Physical: a page is 3 kB of text.
pub const LARGEST_NOTE_COUNT: u64 = 256 << 10;
/// Physical: mail and printers still take this.
pub const LARGEST_TOGETHER_COUNT: u64 = 120 << 20;
/// Endings of photos.
const PHOTOS: [&str; 4] = ["jpg", "jpeg", "png", "webp"];
/// Physical: nobody writes more notes.
pub(super) const MOST_FILES: usize = 2000;

/// A photo.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// Name of its file.
    pub name: String,
    /// Media type.
    pub kind: &'static str,
    /// The file as it is, without where it was taken.
    pub bytes: Vec<u8>,
    /// What it shows.
    pub caption: String,
}

/// A part of a note, in its order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Part {
    /// A paragraph.
    Text(String),
    /// A list.
    List(Vec<String>),
    /// A photo.
    Photo(Photo),
}

/// Everything of one file of text, or one photo that no text names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// Its day, `2026-02-14`.
    pub day: String,
    /// What it is about: the rest of the file's name; may be empty.
    pub title: String,
    /// Name of its file.
    pub name: String,
    /// What it says.
    pub parts: Vec<Part>,
}

impl Note {
    /// Is it a decision? Its name says so: `2026-02-14 decision wide wheel.txt`.
    pub fn is_decision(&self) -> bool {
        self.begins_with("decision")
    }

    /// Is it an open question? Its name says so.
    pub fn is_question(&self) -> bool {
        self.begins_with("question")
    }

    fn begins_with(&self, word: &str) -> bool {
        let first = self.title.split_whitespace().next().unwrap_or("");
        first.trim_end_matches([':', '-', ',']).eq_ignore_ascii_case(word)
    }
}

/// Day and the rest of a file's name without its ending; nothing where no day stands in front.
pub fn day_of(stem: &str) -> Option<(String, String)> {
    let (day, rest) = (stem.get(..10)?, stem.get(10..)?);
    let date: Date = day.parse().ok()?;
    if rest.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let rest = rest.trim_start_matches([' ', '_', '-', ',']).trim();
    Some((date.to_string(), rest.to_string()))
}

pub(super) fn refuse(path: &Path, code: &'static str, what: String, fix: &str) -> Finding {
    Finding::new(code, path.display().to_string(), what, fix)
}

pub(super) fn megabytes(count: u64) -> String {
    format!("{:.1} MB", count as f64 / 1e6)
}

/// The notes beside a project, by day, then by name; none where there is no folder.
///
/// # Errors
/// Everything that is wrong with them at once.
pub fn read(folder: &Path) -> Result<Vec<Note>, Vec<Finding>> {
    let there = match fs::read_dir(folder) {
        Ok(there) => there,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(e) => {
            return Err(vec![refuse(
                folder,
                "note-not-read",
                format!("the folder of notes cannot be read: {e}"),
                "make it readable",
            )]);
        }
    };
    let mut paths: Vec<PathBuf> = there.filter_map(|e| Some(e.ok()?.path())).collect();
    paths.retain(|p| {
        p.is_file()
            && !p
                .file_name()
                .is_some_and(|n| n.to_string_lossy().starts_with('.'))
    });
    paths.sort();
    let mut wrong = Vec::new();
    if paths.len() > MOST_FILES {
        return Err(vec![refuse(
            folder,
            "note-too-large",
            format!("{} files are more than {MOST_FILES}", paths.len()),
            "keep what does not belong in the notebook elsewhere",
        )]);
    }
    let mut texts = Vec::new();
    let mut photos = Vec::new();
    let mut together = 0;
    for path in &paths {
        match one(path) {
            Ok(Read::Text(text)) => texts.push((path.clone(), text)),
            Ok(Read::Photo(photo)) => {
                together += photo.bytes.len() as u64;
                photos.push((path.clone(), photo));
            }
            Err(f) => wrong.push(f),
        }
    }
    if together > LARGEST_TOGETHER_COUNT {
        wrong.push(refuse(
            folder,
            "note-too-large",
            format!(
                "the photos have {} together, and {} is the most that one file can hold",
                megabytes(together),
                megabytes(LARGEST_TOGETHER_COUNT)
            ),
            "make photos smaller, or keep some elsewhere",
        ));
    }
    let mut notes = Vec::new();
    for (path, text) in &texts {
        match note(path, text, &mut photos) {
            Ok(note) => notes.push(note),
            Err(f) => wrong.push(f),
        }
    }
    for (path, photo) in photos.into_iter().filter(|(_, p)| p.caption.is_empty()) {
        match day_of(&stem(&path)) {
            Some((day, title)) => {
                let caption = if title.is_empty() {
                    format!("Photo of {day}")
                } else {
                    title
                };
                notes.push(Note {
                    day,
                    title: String::new(),
                    name: photo.name.clone(),
                    parts: vec![Part::Photo(Photo { caption, ..photo })],
                });
            }
            None => wrong.push(refuse(
                &path,
                "note-without-day",
                "no day stands in front of its name, and no note names it".into(),
                "call it like `2026-02-14 first wheel.jpg`, or name it in a note: `NAME.jpg: what it shows`",
            )),
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    notes.sort_by(|a, b| (&a.day, &a.name).cmp(&(&b.day, &b.name)));
    Ok(notes)
}

enum Read {
    Text(String),
    Photo(Photo),
}

fn stem(path: &Path) -> String {
    path.file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}

pub(super) fn file_name(path: &Path) -> String {
    path.file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned()
}

fn one(path: &Path) -> Result<Read, Finding> {
    let ending = path
        .extension()
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    let is_text = matches!(ending.as_str(), "txt" | "md");
    let is_photo = PHOTOS.contains(&ending.as_str());
    if !is_text && !is_photo {
        return Err(refuse(
            path,
            "note-kind",
            format!("`.{ending}` is neither a text nor a photo that every browser shows"),
            "write notes as .txt or .md; save photos as JPEG, PNG or WebP (a phone's camera settings or its sharing menu offer that)",
        ));
    }
    let unread = |e: std::io::Error| {
        refuse(
            path,
            "note-not-read",
            format!("it cannot be read: {e}"),
            "make it readable",
        )
    };
    let size = fs::metadata(path).map_err(unread)?.len();
    let most = if is_text {
        LARGEST_NOTE_COUNT
    } else {
        LARGEST_PHOTO_COUNT
    };
    if size > most {
        return Err(refuse(
            path,
            "note-too-large",
            format!("it has {}, and {} is the most", megabytes(size), megabytes(most)),
            "save it smaller; 1600 pixels along the longer side are plenty for paper",
        ));
    }
    let bytes = fs::read(path).map_err(unread)?;
    if is_text {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").map_or(&bytes[..], |b| b);
        return match std::str::from_utf8(bytes) {
            Ok(text) => Ok(Read::Text(text.to_string())),
            Err(_) => Err(refuse(
                path,
                "note-not-read",
                "it is no plain text in UTF-8".into(),
                "save it as plain text, UTF-8",
            )),
        };
    }
    let kind = kind_of(&bytes).ok_or_else(|| {
        refuse(
            path,
            "note-kind",
            "it is called a photo, but its bytes are none that every browser shows".into(),
            "open it and save it as JPEG, PNG or WebP",
        )
    })?;
    let bytes = if kind == "image/jpeg" {
        without_place(&bytes)
    } else {
        bytes
    };
    Ok(Read::Photo(Photo {
        name: file_name(path),
        kind,
        bytes,
        caption: String::new(),
    }))
}

fn looks_like_photo(name: &str) -> bool {
    let ending = Path::new(name)
        .extension()
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    PHOTOS.contains(&ending.as_str())
}

fn note(path: &Path, text: &str, photos: &mut [(PathBuf, Photo)]) -> Result<Note, Finding> {
    let Some((day, title)) = day_of(&stem(path)) else {
        return Err(refuse(
            path,
            "note-without-day",
            "no day stands in front of its name".into(),
            "call it like `2026-02-14 wheels.txt`: year, month, day, then what it is about",
        ));
    };
    let mut parts: Vec<Part> = Vec::new();
    let mut open = false;
    for line in text.lines().map(str::trim) {
        if line.is_empty() {
            open = false;
            continue;
        }
        let named = line.split_once(':').and_then(|(name, caption)| {
            let photo = photos
                .iter_mut()
                .find(|(_, p)| p.name.eq_ignore_ascii_case(name.trim()))?;
            Some((photo, caption.trim().to_string()))
        });
        if let Some(name) = line.split_once(':').map(|l| l.0.trim())
            && named.is_none()
            && looks_like_photo(name)
        {
            return Err(refuse(
                path,
                "note-without-photo",
                format!("it names a photo `{name}`, and there is none called so in the folder"),
                "put the photo beside the note, or correct the name",
            ));
        }
        if let Some(((_, photo), caption)) = named {
            photo.caption = if caption.is_empty() {
                photo.name.clone()
            } else {
                caption
            };
            parts.push(Part::Photo(photo.clone()));
            open = false;
        } else if let Some(item) = line.strip_prefix("- ").or_else(|| line.strip_prefix("* ")) {
            match parts.last_mut() {
                Some(Part::List(items)) if open => items.push(item.to_string()),
                _ => parts.push(Part::List(vec![item.to_string()])),
            }
            open = true;
        } else {
            let line = line.trim_start_matches('#').trim();
            match parts.last_mut() {
                Some(Part::Text(before)) if open => {
                    before.push(' ');
                    before.push_str(line);
                }
                Some(Part::List(items)) if open => {
                    if let Some(last) = items.last_mut() {
                        last.push(' ');
                        last.push_str(line);
                    }
                }
                _ => parts.push(Part::Text(line.to_string())),
            }
            open = true;
        }
    }
    Ok(Note {
        day,
        title,
        name: file_name(path),
        parts,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_stands_in_front_or_there_is_none() {
        assert_eq!(
            day_of("2026-02-14 first wheel"),
            Some(("2026-02-14".into(), "first wheel".into()))
        );
        assert_eq!(day_of("2026-02-14"), Some(("2026-02-14".into(), String::new())));
        assert_eq!(
            day_of("2026-02-14_wheel"),
            Some(("2026-02-14".into(), "wheel".into()))
        );
        for none in ["IMG_1234", "2026-13-01 x", "2026-02-145", "ü2026-02-14", ""] {
            assert_eq!(day_of(none), None, "{none}");
        }
    }
}
