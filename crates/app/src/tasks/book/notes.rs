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
const MOST_FILES: usize = 2000;

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

/// Which picture the bytes are, by their first bytes (PNG: ISO/IEC 15948; JPEG: ISO/IEC 10918; WebP: RFC 9649).
pub fn kind_of(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        Some("image/jpeg")
    } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        Some("image/webp")
    } else {
        None
    }
}

/// A JPEG without the place where it was taken and what else the camera wrote, but with the way up it is to be shown:
/// its segments APP1 go, and a new one with the orientation alone comes (Exif, tag 0x0112).
pub fn without_place(bytes: &[u8]) -> Vec<u8> {
    let mut out = vec![0xff, 0xd8];
    let mut at = 2;
    let mut orientation = None;
    let mut rest = Vec::new();
    while let (Some(0xff), Some(&mark)) = (bytes.get(at), bytes.get(at + 1)) {
        // From the start of the scan on, the picture itself.
        if mark == 0xda {
            break;
        }
        let (Some(&high), Some(&low)) = (bytes.get(at + 2), bytes.get(at + 3)) else {
            break;
        };
        let end = at + 2 + usize::from(u16::from_be_bytes([high, low]));
        let Some(segment) = bytes.get(at..end).filter(|s| s.len() >= 4) else {
            break;
        };
        match mark {
            0xe1 => orientation = orientation.or_else(|| way_up(segment.get(4..).unwrap_or(&[]))),
            // Remarks of the camera.
            0xfe | 0xed => {}
            _ => rest.extend_from_slice(segment),
        }
        at = end;
    }
    if let Some(way) = orientation.filter(|w| (2..=8).contains(w)) {
        // One entry, big-endian: tag, kind SHORT, one value, value; no further directory.
        out.extend_from_slice(&[0xff, 0xe1, 0x00, 0x22]);
        out.extend_from_slice(b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0");
        out.push(way);
        out.extend_from_slice(&[0, 0, 0, 0, 0, 0]);
    }
    out.extend_from_slice(&rest);
    out.extend_from_slice(bytes.get(at..).unwrap_or(&[]));
    out
}

/// The orientation in an Exif segment.
fn way_up(segment: &[u8]) -> Option<u8> {
    let tiff = segment.strip_prefix(b"Exif\0\0")?;
    let big = tiff.starts_with(b"MM");
    let two = |at: usize| -> Option<u16> {
        let pair = [*tiff.get(at)?, *tiff.get(at.checked_add(1)?)?];
        Some(if big {
            u16::from_be_bytes(pair)
        } else {
            u16::from_le_bytes(pair)
        })
    };
    let four = |at: usize| -> Option<usize> {
        let (a, b) = (usize::from(two(at)?), usize::from(two(at.checked_add(2)?)?));
        Some(if big { a << 16 | b } else { b << 16 | a })
    };
    let first = four(4)?;
    let count = usize::from(two(first)?);
    (0..count)
        .find_map(|i| {
            let entry = first.checked_add(2 + 12 * i)?;
            (two(entry)? == 0x0112).then(|| two(entry.checked_add(8)?))?
        })
        .and_then(|v| u8::try_from(v).ok())
}

fn refuse(path: &Path, code: &'static str, what: String, fix: &str) -> Finding {
    Finding::new(code, path.display().to_string(), what, fix)
}

fn megabytes(count: u64) -> String {
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

fn file_name(path: &Path) -> String {
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

    /// A JPEG as the standard lays it out: SOI, APP0, APP1 with orientation 6 and a place, a remark, SOS, data.
    fn photo() -> Vec<u8> {
        let mut exif = b"Exif\0\0II\x2a\0\x08\0\0\0\x02\0".to_vec();
        exif.extend_from_slice(&[0x12, 0x01, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0]);
        exif.extend_from_slice(&[0x25, 0x88, 4, 0, 1, 0, 0, 0, 99, 0, 0, 0, 0, 0, 0, 0]);
        exif.extend_from_slice(b"AT HOME");
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xe1];
        bytes.extend_from_slice(&u16::try_from(exif.len() + 2).unwrap().to_be_bytes());
        bytes.extend_from_slice(&exif);
        bytes.extend_from_slice(&[
            0xff, 0xfe, 0, 6, b'o', b'u', b'r', b's', 0xff, 0xda, 0, 2, 7, 8, 9, 0xff, 0xd9,
        ]);
        bytes
    }

    #[test]
    fn where_a_photo_was_taken_goes_and_the_way_up_stays() {
        let bytes = without_place(&photo());
        assert!(!bytes.windows(7).any(|w| w == b"AT HOME"));
        assert!(!bytes.windows(4).any(|w| w == b"ours"));
        assert!(bytes.ends_with(&[0xff, 0xda, 0, 2, 7, 8, 9, 0xff, 0xd9]));
        assert_eq!(bytes.get(2..6), Some(&[0xff, 0xe1, 0, 0x22][..]));
        // The new segment is as long as it says, and read back says the same.
        assert_eq!(bytes.get(2 + 2 + 0x22), Some(&0xff));
        assert_eq!(way_up(&bytes[6..2 + 2 + 0x22]), Some(6));
        assert_eq!(without_place(&bytes), bytes);
    }

    #[test]
    fn broken_bytes_are_no_trouble() {
        let whole = photo();
        for end in 3..whole.len() {
            without_place(&whole[..end]);
        }
        way_up(b"Exif\0\0MM\0\x2a\xff\xff\xff\xff");
    }
}
