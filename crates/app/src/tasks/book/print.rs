//! From HTML to PDF by a browser of the Chromium family that is on this machine.

use std::env;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use arcwright_model::finding::Finding;

/// Names a path to a browser.
pub const VARIABLE: &str = "ARCWRIGHT_BROWSER";

/// Names by which such browsers are started.
const NAMES: [&str; 10] = [
    "chromium",
    "chromium-browser",
    "google-chrome-stable",
    "google-chrome",
    "chrome",
    "microsoft-edge-stable",
    "microsoft-edge",
    "msedge",
    "brave-browser",
    "vivaldi-stable",
];

/// Places where they lie on systems that do not list them in `PATH`, below a folder named by a variable.
const PLACES: [(&str, &str); 7] = [
    ("", "/Applications/Chromium.app/Contents/MacOS/Chromium"),
    ("", "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"),
    (
        "",
        "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    ),
    ("ProgramFiles", "Google/Chrome/Application/chrome.exe"),
    ("ProgramFiles(x86)", "Microsoft/Edge/Application/msedge.exe"),
    ("ProgramFiles", "Microsoft/Edge/Application/msedge.exe"),
    ("LOCALAPPDATA", "Chromium/Application/chrome.exe"),
];

/// Physical: a notebook of a hundred pages takes a few seconds; an old laptop ten times as long.
const LONGEST: Duration = Duration::from_secs(120);

/// What to do where there is no browser.
pub const BY_HAND: &str = "open the HTML in any browser and print it to PDF from there (background graphics on), or give one of the Chromium family with --browser PATH";

/// The browser to print with: the one asked for, the one the variable names, or one that is found.
///
/// # Errors
/// `no-browser` for one that was named and is not there.
pub fn browser(asked: Option<&Path>) -> Result<Option<PathBuf>, Finding> {
    let named = match asked {
        Some(path) => Some((path.to_path_buf(), "--browser")),
        None => env::var_os(VARIABLE)
            .filter(|v| !v.is_empty())
            .map(|v| (PathBuf::from(v), VARIABLE)),
    };
    let Some((path, by)) = named else {
        return Ok(found());
    };
    let there = if path.components().count() > 1 {
        path.is_file().then(|| path.clone())
    } else {
        in_path(path.as_os_str().to_os_string())
    };
    there.map(Some).ok_or_else(|| {
        Finding::new(
            "no-browser",
            by,
            format!("there is no program {}", path.display()),
            "name the browser's program itself, or leave it out to have one looked for",
        )
    })
}

fn in_path(name: OsString) -> Option<PathBuf> {
    let folders = env::var_os("PATH")?;
    let mut file = name;
    file.push(env::consts::EXE_SUFFIX);
    env::split_paths(&folders)
        .map(|f| f.join(&file))
        .find(|p| p.is_file())
}

fn found() -> Option<PathBuf> {
    let listed = NAMES.iter().find_map(|name| in_path(name.into()));
    listed.or_else(|| {
        PLACES.iter().find_map(|(variable, path)| {
            let path = match *variable {
                "" => PathBuf::from(path),
                variable => PathBuf::from(env::var_os(variable)?).join(path),
            };
            path.is_file().then_some(path)
        })
    })
}

/// Prints a file of ours to a PDF, tagged and with an outline. Whatever the browser keeps lies beside the PDF meanwhile.
///
/// # Errors
/// `not-printed`: why, and what to do instead.
pub fn print(browser: &Path, html: &Path, pdf: &Path) -> Result<(), Finding> {
    let refused = |what: String| Finding::new("not-printed", browser.display().to_string(), what, BY_HAND);
    let whole = |p: &Path| std::path::absolute(p).map_err(|e| refused(e.to_string()));
    let (html, pdf) = (whole(html)?, whole(pdf)?);
    let profile = pdf.with_file_name(format!(".printing-{}", std::process::id()));
    // A PDF of before would pass for the new one.
    if pdf.exists() {
        fs::remove_file(&pdf).map_err(|e| refused(format!("the PDF of before cannot be replaced: {e}")))?;
    }
    let done = [false, true].into_iter().find_map(|boxless| {
        let result = once(browser, &html, &pdf, &profile, boxless);
        // Some systems give a browser no box of its own; the file is ours and has no scripts.
        (result.is_ok() || boxless).then_some(result)
    });
    let _ = fs::remove_dir_all(&profile);
    match done {
        Some(Ok(())) => Ok(()),
        Some(Err(why)) => Err(refused(why)),
        None => Err(refused("it was not started".into())),
    }
}

fn once(browser: &Path, html: &Path, pdf: &Path, profile: &Path, boxless: bool) -> Result<(), String> {
    let mut to = OsString::from("--print-to-pdf=");
    to.push(pdf);
    let mut own = OsString::from("--user-data-dir=");
    own.push(profile);
    let mut command = Command::new(browser);
    command
        .args([
            "--headless",
            "--disable-gpu",
            "--no-first-run",
            "--disable-extensions",
        ])
        .args([
            "--no-pdf-header-footer",
            "--export-tagged-pdf",
            "--generate-pdf-document-outline",
        ])
        .arg(own)
        .arg(to);
    if boxless {
        command.arg("--no-sandbox");
    }
    command
        .arg(address(html))
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    let mut child = command
        .spawn()
        .map_err(|e| format!("it cannot be started: {e}"))?;
    let ended = wait(&mut child)?;
    let size = fs::metadata(pdf).map(|m| m.len()).unwrap_or(0);
    if ended && size > 0 {
        return Ok(());
    }
    Err(if ended {
        "it ended without a PDF".into()
    } else {
        format!("it did not end within {} seconds", LONGEST.as_secs())
    })
}

/// Waits for the end; a browser that takes too long is ended.
fn wait(child: &mut Child) -> Result<bool, String> {
    let began = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(_)) => return Ok(true),
            Ok(None) if began.elapsed() < LONGEST => thread::sleep(Duration::from_millis(50)),
            Ok(None) => {
                let _ = child.kill();
                let _ = child.wait();
                return Ok(false);
            }
            Err(e) => return Err(e.to_string()),
        }
    }
}

/// A path as an address (RFC 8089), everything but letters, digits and a few signs as per cent.
fn address(path: &Path) -> String {
    let mut out = String::from("file://");
    let text = path.to_string_lossy().replace('\\', "/");
    if !text.starts_with('/') {
        out.push('/');
    }
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"/-_.~:".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_becomes_an_address_whatever_it_is_called() {
        assert_eq!(
            address(Path::new("/a b/ü#?.html")),
            "file:///a%20b/%C3%BC%23%3F.html"
        );
    }

    #[test]
    fn a_browser_that_is_named_and_not_there_is_refused() {
        let refused = browser(Some(Path::new("/no/such/browser"))).unwrap_err();
        assert_eq!(refused.code, "no-browser");
        assert!(browser(Some(Path::new("no-such-browser-anywhere"))).is_err());
    }
}
