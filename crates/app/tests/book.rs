//! The notebook and the card: the same bytes again, everything escaped, the terminal's numbers, the PDF by outside tools.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use sha2::{Digest, Sha256};

/// A folder that goes when the test ends.
struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn program(at: &Path, arguments: &[&str]) -> Output {
    program_with(at, arguments, &[])
}

fn program_with(at: &Path, arguments: &[&str], variables: &[(&str, &str)]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(arguments)
        .current_dir(at)
        .envs(variables.iter().copied())
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A project of a demo with a log of some throws on two days.
fn project(name: &str, from: &str, with_log: bool) -> Folder {
    let at = std::env::temp_dir().join(format!("arcwright-book-{name}-{}", std::process::id()));
    let _ = fs::remove_dir_all(&at);
    fs::create_dir_all(&at).unwrap();
    let folder = Folder(at);
    let made = program(&folder.0, &["new", "own", "--from", from]);
    assert!(made.status.success(), "{}", text(&made.stderr));
    if with_log {
        let mut table = String::from("time,spot,wheel speed (rpm),miss beyond (mm),miss left (mm),outcome\n");
        let days = ["2026-02-14 16:0", "2026-02-21 16:0"];
        for (d, day) in days.iter().enumerate() {
            for i in 0..6 {
                let along = 60 + 25 * (i % 3) + 10 * i32::try_from(d).unwrap();
                let outcome = if along < 100 { "in" } else { "long" };
                table.push_str(&format!(
                    "{day}{i}:00,far,3495,{along},{},{outcome}\n",
                    10 - 5 * (i % 4)
                ));
            }
        }
        fs::write(folder.0.join("shots.csv"), table).unwrap();
        let done = program(
            &folder.0,
            &["floor", "import", "shots.csv", "--apply", "--in", "own"],
        );
        assert!(
            done.status.success(),
            "{}{}",
            text(&done.stdout),
            text(&done.stderr)
        );
    }
    folder
}

fn html(at: &Path, more: &[&str]) -> String {
    let mut arguments = vec!["book", "own", "--no-pdf"];
    arguments.extend(more);
    let done = program(at, &arguments);
    assert!(
        done.status.success(),
        "{}{}",
        text(&done.stdout),
        text(&done.stderr)
    );
    fs::read_to_string(at.join("own/out/notebook.html")).unwrap()
}

/// The page as a tree of elements; HTML's own shorthands written out.
fn tree(page: &str) -> String {
    let start = page.find("<body>").unwrap();
    let end = page.find("</body>").unwrap() + "</body>".len();
    // The one element without an end.
    let mut out = String::new();
    for (i, part) in page[start..end].split("<img ").enumerate() {
        if i > 0 {
            out.push_str("<img ");
            out.push_str(&part.replacen("\">", "\"/>", 1));
        } else {
            out.push_str(part);
        }
    }
    out
}

/// Sections that cost little.
const QUICK: &str = "brief,verdicts,calculations,measured,log,drift,decisions,notes,safety,parts,open";

#[test]
fn the_same_project_gives_the_same_bytes_on_any_number_of_threads() {
    let at = project("same", "lantern", true);
    program(&at.0, &["history", "own", "--because", "the first idea"]);
    let sections = [
        "--sections",
        "design,pictures,season,measured,log,drift,history,open",
    ];
    let mut found = Vec::new();
    for threads in ["1", "3"] {
        let mut arguments = vec!["book", "own", "--no-pdf"];
        arguments.extend(sections);
        let done = program_with(&at.0, &arguments, &[("RAYON_NUM_THREADS", threads)]);
        assert!(done.status.success(), "{}", text(&done.stderr));
        found.push(fs::read(at.0.join("own/out/notebook.html")).unwrap());
    }
    assert!(found[0] == found[1]);
    assert!(text(&found[0]).contains("the first idea"));
}

#[test]
fn what_took_long_is_kept_for_the_next_notebook_of_the_same_project_only() {
    let folder = project("kept", "lantern", false);
    let file = folder.0.join("own/arcwright.toml");
    // A hopper that cannot be built is told without playing it.
    let long = fs::read_to_string(&file).unwrap().replace(
        "length = \"80 mm\"\nfrom_mouth",
        "length = \"150 mm\"\nfrom_mouth",
    );
    fs::write(&file, &long).unwrap();
    let feed = ["--sections", "feed"];
    let first = html(&folder.0, &feed);
    let kept = folder.0.join("own/out/kept/feed.json");
    let whole = fs::read_to_string(&kept).unwrap();
    assert_eq!(html(&folder.0, &feed), first);
    assert_eq!(fs::read_to_string(&kept).unwrap(), whole);
    // It is read: another text in it, sealed like the first, comes out. Damaged it is made anew.
    let (head, blocks) = whole.split_once('\n').unwrap();
    let other = blocks.replacen("What is wrong with the hopper", "What stands on the shelf", 1);
    assert_ne!(other, blocks);
    let seal: String = Sha256::digest(other.as_bytes())
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect();
    let key = head.split(' ').next().unwrap();
    fs::write(&kept, format!("{key} {seal}\n{other}")).unwrap();
    assert!(html(&folder.0, &feed).contains("What stands on the shelf"));
    fs::write(&kept, format!("{head}\n{other}")).unwrap();
    assert_eq!(html(&folder.0, &feed), first);
    fs::write(
        &file,
        long.replace(
            "length = \"150 mm\"\nfrom_mouth",
            "length = \"151 mm\"\nfrom_mouth",
        ),
    )
    .unwrap();
    let changed = html(&folder.0, &feed);
    assert!(changed.contains("What is wrong with the hopper") && changed != first);
}

#[test]
fn hostile_names_stay_text_and_the_page_is_sound() {
    let at = project("hostile", "lantern", true);
    let file = at.0.join("own/arcwright.toml");
    let evil = "<script>alert(1)</script>\\\"' & </style>";
    let toml = fs::read_to_string(&file).unwrap();
    let name = toml.lines().find(|l| l.starts_with("name = ")).unwrap();
    let toml = toml.replacen(name, &format!("name = \"{evil}\""), 1);
    let toml = toml.replacen("name = \"near\"", "name = \"<b onclick=x>near&amp;\"", 1);
    fs::write(&file, toml).unwrap();
    let notes = at.0.join("own/notes");
    fs::create_dir_all(&notes).unwrap();
    // Some systems have no such names.
    let name = if cfg!(unix) {
        "2026-02-14 <img src=x onerror=alert(1)>.txt"
    } else {
        "2026-02-14 wheels.txt"
    };
    fs::write(
        notes.join(name),
        "<script>alert(2)</script> `<i>`\n\n- <li>\n\np.png: \"><script>alert(3)</script>\n",
    )
    .unwrap();
    fs::write(notes.join("p.png"), b"\x89PNG\r\n\x1a\n").unwrap();
    let page = html(&at.0, &["--sections", QUICK]);
    assert!(!page.contains("<script") && !page.contains("<b onclick") && !page.contains("<img src=x"));
    assert_eq!(page.matches("</style>").count(), 1 + page.matches("<svg").count());
    assert!(page.contains("&lt;script&gt;alert(2)"), "the note is not there");
    let tree = tree(&page);
    let tree = roxmltree::Document::parse(&tree).unwrap_or_else(|e| panic!("{e}"));
    let mut ids = BTreeSet::new();
    for node in tree.descendants() {
        if let Some(id) = node.attribute("id") {
            assert!(ids.insert(id.to_string()), "the identifier {id} stands twice");
        }
        assert!(
            node.attributes().all(|a| !a.name().starts_with("on")),
            "{:?}",
            node.tag_name()
        );
    }
    for node in tree.descendants() {
        let aims = [node.attribute("aria-labelledby"), node.attribute("href")];
        for aim in aims.iter().flatten().flat_map(|t| t.split_whitespace()) {
            assert!(ids.contains(aim.trim_start_matches('#')), "{aim} leads nowhere");
        }
    }
    let card = program(&at.0, &["card", "own", "--no-pdf"]);
    assert!(card.status.success());
    let card = fs::read_to_string(at.0.join("own/out/card.html")).unwrap();
    assert!(!card.contains("<script") && !card.contains("<b onclick"));
}

#[test]
fn every_picture_has_words_and_every_table_a_caption_and_heads() {
    let at = project("words", "pebble", false);
    let page = html(&at.0, &["--without", "feed"]);
    let tree = tree(&page);
    let tree = roxmltree::Document::parse(&tree).unwrap();
    let named = |n: roxmltree::Node<'_, '_>, tag: &str| n.children().any(|c| c.has_tag_name(tag));
    let svg = "http://www.w3.org/2000/svg";
    let mut pictures = 0;
    for node in tree.descendants().filter(|n| n.is_element()) {
        match node.tag_name().name() {
            "svg" => {
                pictures += 1;
                assert!(node.children().any(|c| c.has_tag_name((svg, "title"))));
                assert!(node.children().any(|c| c.has_tag_name((svg, "desc"))));
            }
            "figure" => assert!(named(node, "figcaption")),
            "table" => assert!(named(node, "caption") && named(node, "thead")),
            _ => {}
        }
    }
    assert!(pictures >= 6, "{pictures}");
    assert!(page.contains("<html lang=\"en\"") && page.contains("<math "));
    // Headings never leave one out.
    let levels: Vec<u32> = tree
        .descendants()
        .filter_map(|n| n.tag_name().name().strip_prefix('h')?.parse().ok())
        .collect();
    assert!(levels.windows(2).all(|w| w[1] <= w[0] + 1), "{levels:?}");
}

/// What a reader of the page reads, without spaces.
fn words(page: &str) -> String {
    let page = tree(page);
    let page = roxmltree::Document::parse(&page).unwrap();
    let all: Vec<&str> = page
        .descendants()
        .filter_map(|n| n.text().filter(|_| n.is_text()))
        .collect();
    spaceless(&all.concat())
}

fn spaceless(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace() && *c != '`').collect()
}

#[test]
fn the_figures_are_those_of_the_terminal() {
    let at = project("figures", "lantern", true);
    let page = words(&html(&at.0, &["--sections", "design,verdicts,measured,log"]));
    let terminal = |arguments: &[&str]| text(&program(&at.0, arguments).stdout);
    let mut count = 0;
    // Every cell of the terminal's tables below a line that begins so, until the table ends.
    let mut cells = |said: &str, head: &str| {
        let lines = said.lines().skip_while(|l| !l.trim_start().starts_with(head));
        for line in lines
            .skip(1)
            .take_while(|l| l.starts_with("  ") && l.trim_start().contains("  "))
        {
            for cell in line.trim().split("  ").map(str::trim).filter(|c| !c.is_empty()) {
                assert!(
                    page.contains(&spaceless(cell)),
                    "`{cell}` of `{line}` is not in the notebook"
                );
                count += 1;
            }
        }
    };
    cells(&terminal(&["aim", "own"]), "spot ");
    cells(&terminal(&["volley", "own"]), "throw ");
    cells(&terminal(&["scatter", "own", "--no-remedies"]), "spot ");
    cells(&terminal(&["floor", "fit", "--look", "--in", "own"]), "spot ");
    cells(&terminal(&["floor", "list", "--in", "own"]), "shot ");
    assert!(count > 120, "{count}");
    let verdicts = terminal(&["check", "own", "--json"]);
    let verdicts: serde_json::Value = serde_json::from_str(&verdicts).unwrap();
    for v in verdicts["verdicts"].as_array().unwrap() {
        assert!(page.contains(&spaceless(v["why"].as_str().unwrap())), "{v}");
    }
}

#[test]
fn sections_are_chosen_and_an_unknown_one_is_refused() {
    let at = project("sections", "pebble", false);
    let page = html(&at.0, &["--sections", "brief,safety"]);
    let sections: Vec<&str> = page
        .split("<section id=\"")
        .skip(1)
        .filter_map(|s| s.split('"').next())
        .collect();
    assert_eq!(sections, ["brief", "safety"]);
    let page = html(&at.0, &["--sections", "brief,safety,parts", "--without", "parts"]);
    assert!(!page.contains("id=\"parts\""));
    let before = fs::read(at.0.join("own/out/notebook.html")).unwrap();
    let refused = program(&at.0, &["book", "own", "--sections", "saftey"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        text(&refused.stderr).contains("did you mean `safety`"),
        "{}",
        text(&refused.stderr)
    );
    assert_eq!(fs::read(at.0.join("own/out/notebook.html")).unwrap(), before);
}

#[test]
fn notes_and_photos_come_by_day_and_what_is_wrong_is_said_at_once() {
    let at = project("notes", "pebble", false);
    let notes = at.0.join("own/notes");
    fs::create_dir_all(&notes).unwrap();
    let png = b"\x89PNG\r\n\x1a\nrest";
    fs::write(
        notes.join("2026-02-20 decision wide wheel.txt"),
        "We took the wide one.\n",
    )
    .unwrap();
    fs::write(
        notes.join("2026-02-21 question drag.txt"),
        "How much drag has it?\n",
    )
    .unwrap();
    fs::write(
        notes.join("2026-02-14 wheels.txt"),
        "Narrow\nbites.\n\n- one\n- two\n\nIMG_1.png: Wheel on the bench\n",
    )
    .unwrap();
    fs::write(notes.join("IMG_1.png"), png).unwrap();
    fs::write(notes.join("2026-02-10 first frame.png"), png).unwrap();
    fs::write(notes.join(".hidden"), "x").unwrap();
    let page = html(&at.0, &["--sections", "decisions,notes,open"]);
    let place = |what: &str| page.find(what).unwrap_or_else(|| panic!("{what} is not there"));
    assert!(place("We took the wide one.") < place("id=\"notes\""));
    assert!(place("first frame") < place("2026-02-14: wheels"));
    assert!(place("<p>Narrow bites.</p>") < place("alt=\"Wheel on the bench\""));
    assert!(place("alt=\"Wheel on the bench\"") < place("How much drag has it?"));
    assert!(page.contains("data:image/png;base64,iVBORw0KGgpyZXN0"));

    fs::write(notes.join("IMG_2.jpg"), b"\xff\xd8\xff\xd9").unwrap();
    fs::write(notes.join("2026-02-15 x.heic"), b"x").unwrap();
    fs::write(notes.join("2026-02-16 no photo.png"), b"not one").unwrap();
    fs::write(notes.join("without day.txt"), "x").unwrap();
    fs::write(notes.join("2026-02-17 names.txt"), "gone.jpg: nowhere\n").unwrap();
    let refused = program(&at.0, &["book", "own", "--no-pdf", "--sections", "notes"]);
    assert_eq!(refused.status.code(), Some(2));
    let said = text(&refused.stderr);
    for part in [
        "IMG_2.jpg",
        "x.heic",
        "no photo.png",
        "without day.txt",
        "gone.jpg",
    ] {
        assert!(said.contains(part), "{part} is not in: {said}");
    }
    for code in ["note-without-day", "note-kind", "note-without-photo"] {
        assert!(said.contains(code), "{code}: {said}");
    }
}

#[test]
fn without_a_browser_the_html_is_there_and_the_message_says_how_to_print_it() {
    let at = project("browserless", "pebble", false);
    let arguments = ["book", "own", "--sections", "brief"];
    let nowhere = at.0.to_string_lossy().into_owned();
    let done = program_with(
        &at.0,
        &arguments,
        &[("PATH", &nowhere), ("ARCWRIGHT_BROWSER", "")],
    );
    // A browser outside PATH may be there on some systems.
    if done.status.code() == Some(1) {
        let said = text(&done.stdout);
        assert!(
            said.contains("No PDF") && said.contains("print it to PDF"),
            "{said}"
        );
    }
    assert!(at.0.join("own/out/notebook.html").exists());
    fs::remove_dir_all(at.0.join("own/out")).unwrap();
    let refused = program(
        &at.0,
        &[
            "book",
            "own",
            "--browser",
            "/no/such/program",
            "--sections",
            "brief",
        ],
    );
    assert_eq!(refused.status.code(), Some(2));
    assert!(!at.0.join("own/out").exists(), "nothing is written");
}

/// Said past the test harness, which keeps back what a passing test prints.
fn announce(text: &str) {
    let _ = std::io::stderr().write_all(format!("\nSKIPPED, the PDF: {text}\n").as_bytes());
}

fn tool(name: &str, arguments: &[&str]) -> Option<String> {
    let done = Command::new(name).args(arguments).output().ok()?;
    Some(text(&done.stdout))
}

/// Is a browser there, and are the outside tools? With CI set they must be.
fn may_print() -> bool {
    let has = ["pdfinfo", "pdffonts", "pdftotext"]
        .iter()
        .all(|t| tool(t, &["-v"]).is_some());
    let browser = arcwright::tasks::book::print::browser(None).unwrap();
    if has && browser.is_some() {
        return true;
    }
    let must = std::env::var_os("CI").is_some();
    assert!(
        !must,
        "a browser of the Chromium family and poppler-utils are needed"
    );
    announce("needs a browser of the Chromium family and poppler-utils");
    false
}

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_pdf_is_tagged_embeds_its_fonts_and_says_what_the_terminal_says() {
    if !may_print() {
        return;
    }
    let at = project("pdf", "lantern", true);
    let done = program(
        &at.0,
        &[
            "book",
            "own",
            "--sections",
            "brief,design,pictures,measured,log",
            "--paper",
            "letter",
        ],
    );
    assert!(
        done.status.success(),
        "{}{}",
        text(&done.stdout),
        text(&done.stderr)
    );
    let pdf = at.0.join("own/out/notebook.pdf");
    let pdf = pdf.to_str().unwrap();
    let about = tool("pdfinfo", &[pdf]).unwrap();
    let line = |key: &str| about.lines().find(|l| l.starts_with(key)).unwrap().to_string();
    assert!(line("Tagged:").contains("yes"), "{about}");
    // 8.5 in by 11 in.
    assert!(line("Page size:").contains("612 x 792"), "{about}");
    assert!(line("Title:").contains("engineering notebook"), "{about}");
    let pages: usize = line("Pages:").split_whitespace().last().unwrap().parse().unwrap();
    assert!(pages > 4, "{about}");
    let fonts = tool("pdffonts", &[pdf]).unwrap();
    for font in fonts.lines().skip(2) {
        // Columns from the right: object and generation, unicode, subset, embedded.
        let columns: Vec<&str> = font.split_whitespace().rev().collect();
        assert_eq!(columns.get(4), Some(&"yes"), "not embedded: {font}");
    }
    let said = squeezed(&tool("pdftotext", &["-layout", pdf, "-"]).unwrap());
    assert!(
        said.contains(&format!("page {pages} of {pages}")),
        "no page numbers"
    );
    assert!(
        said.matches("Engineering notebook").count() >= pages - 1,
        "no running heads"
    );
    let aim = text(&program(&at.0, &["aim", "own"]).stdout);
    let speeds: Vec<&str> = aim
        .lines()
        .filter(|l| l.contains("rpm"))
        .flat_map(|l| l.split("  "))
        .map(str::trim)
        .filter(|c| c.ends_with("rpm"))
        .take(6)
        .collect();
    assert!(speeds.len() > 5, "{aim}");
    for speed in speeds {
        assert!(said.contains(speed), "{speed} is not in the PDF");
    }
    // Nothing is blank: every page has words of its own beside head and foot.
    let each = tool("pdftotext", &["-layout", pdf, "-"]).unwrap();
    for (i, page) in each.split('\u{c}').take(pages).enumerate() {
        assert!(
            page.split_whitespace().count() > 20,
            "page {} is nearly blank: {page}",
            i + 1
        );
    }
}

#[test]
fn the_card_is_one_page_on_both_papers_with_the_figures_of_the_floor() {
    if !may_print() {
        return;
    }
    let at = project("card", "lantern", true);
    let fit = text(&program(&at.0, &["floor", "fit", "--look", "--json", "--in", "own"]).stdout);
    let fit: serde_json::Value = serde_json::from_str(&fit).unwrap();
    assert_eq!(fit["confident"], true, "{}", fit["notes"]);
    let many = "\n[[spot]]\nname = \"a place with a long name, where one can stand and throw N\"\ndistance = \"2 m\"\n";
    for (paper, size) in [("a4", "594.96 x 841.92"), ("letter", "612 x 792")] {
        let done = program(&at.0, &["card", "own", "--paper", paper]);
        assert!(done.status.success(), "{}", text(&done.stdout));
        let pdf = at.0.join("own/out/card.pdf");
        let pdf = pdf.to_str().unwrap();
        let about = tool("pdfinfo", &[pdf]).unwrap();
        let line = |key: &str| about.lines().find(|l| l.starts_with(key)).unwrap().to_string();
        assert!(line("Pages:").ends_with(" 1"), "{about}");
        assert!(line("Page size:").contains(size), "{about}");
        assert!(line("Tagged:").contains("yes"), "{about}");
        let said = squeezed(&tool("pdftotext", &["-layout", pdf, "-"]).unwrap());
        for s in fit["setpoints"].as_array().unwrap() {
            let rpm = s["setpoint_radps"].as_f64().unwrap() * 30.0 / std::f64::consts::PI;
            assert!(said.contains(&format!("{rpm:.0} rpm")), "{rpm} is not on: {said}");
        }
        // Long names: whole where there is room for them, cut where there are as many spots as there may be.
        let file = at.0.join("own/arcwright.toml");
        let own = fs::read_to_string(&file).unwrap();
        for (count, whole) in [(3, true), (40, false)] {
            let more: Vec<String> = (0..count).map(|i| many.replace('N', &i.to_string())).collect();
            fs::write(&file, format!("{own}{}", more.concat())).unwrap();
            let done = program(&at.0, &["card", "own", "--paper", paper]);
            assert!(
                done.status.success(),
                "{}{}",
                text(&done.stdout),
                text(&done.stderr)
            );
            let about = tool("pdfinfo", &[pdf]).unwrap();
            assert!(
                about
                    .lines()
                    .any(|l| l.starts_with("Pages:") && l.ends_with(" 1")),
                "{about}"
            );
            let html = fs::read_to_string(at.0.join("own/out/card.html")).unwrap();
            let name = "a place with a long name, where one can stand and throw";
            assert_eq!(html.replace('\u{a0}', " ").contains(name), whole, "{count}");
        }
        fs::write(&file, own).unwrap();
    }
}
