//! Words, lines that come and go, spots, pieces and targets, changed in the text of the project file.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests are tests too

use arcwright::project::{Change, DEMOS, Edit, FILE_NAME, parse, render, with_edits};
use arcwright_model::project::{PieceKind, Project, get};
use proptest::prelude::*;

/// The first demo with remarks everywhere, and with line breaks of another system.
fn remarked(text: &str, breaks: &str) -> String {
    let mut out = Vec::new();
    for (i, line) in text.lines().enumerate() {
        out.push(line.to_string());
        if i % 7 == 3 && !line.trim().is_empty() {
            out.push(format!("# a remark of its own, number {i}"));
        }
    }
    out.join(breaks) + breaks
}

fn demo(i: usize) -> &'static str {
    DEMOS[i].text
}

fn done(text: &str, edits: &[Edit]) -> String {
    with_edits(text, edits)
        .unwrap_or_else(|r| panic!("{}", render(&r.problems)))
        .text
}

fn refused(text: &str, edit: Edit) -> String {
    match with_edits(text, &[edit]) {
        Err(r) => r.problems[0].finding.code.to_string(),
        Ok(e) => panic!("{:?}", e.rewritten),
    }
}

fn project(text: &str) -> Project {
    parse(FILE_NAME, text)
        .unwrap_or_else(|p| panic!("{}", render(&p)))
        .project
}

fn names(text: &str) -> Vec<String> {
    project(text).spots.iter().map(|s| s.name.clone()).collect()
}

fn unset(key: &str) -> Edit {
    Edit::Unset { key: key.into() }
}

fn word(key: &str, word: &str) -> Edit {
    Edit::Word {
        key: key.into(),
        word: word.into(),
    }
}

fn value(key: &str, value_si: f64) -> Edit {
    Edit::Value(Change {
        key: key.into(),
        value_si,
    })
}

fn add(like: usize, name: &str, distance_m: f64) -> Edit {
    Edit::AddSpot {
        like,
        name: Some(name.into()),
        distance_m: Some(distance_m),
    }
}

/// Remarks of a text, in order.
fn remarks(text: &str) -> Vec<String> {
    let mut out: Vec<String> = text
        .lines()
        .filter_map(|l| l.split_once('#').map(|(_, r)| r.trim().to_string()))
        .collect();
    out.sort();
    out
}

#[test]
fn a_spot_like_another_keeps_what_is_written_of_it() {
    let new = done(demo(0), &[add(1, "post", 2.9)]);
    let block = "\n\n[[spot]]\nname = \"post\"\ndistance = \"2.9 m\"\nheading = { value = \"0 deg\", sd = \"1 deg\" }";
    assert_eq!(new.replacen(block, "", 1), demo(0));
    assert_eq!(names(&new), ["near", "middle", "post", "far"]);
    let by_itself = Edit::AddSpot {
        like: 2,
        name: None,
        distance_m: None,
    };
    let p = project(&done(demo(0), &[by_itself]));
    assert_eq!(p.spots[3].name, "spot 4");
    assert!((p.spots[3].distance_m - 4.1).abs() < 1e-9);
}

#[test]
fn a_spot_goes_with_its_own_remarks_and_what_is_said_of_all_stays() {
    let text = demo(0).replace(
        "[[spot]]\nname = \"far\"",
        "# by the last lamp\n[[spot]]\nname = \"far\"  # chalk mark",
    );
    let last = done(&text, &[Edit::RemoveSpot { spot: 2 }]);
    assert_eq!(names(&last), ["near", "middle"]);
    assert!(!last.contains("lamp") && !last.contains("chalk"));
    let first = done(&text, &[Edit::RemoveSpot { spot: 0 }]);
    assert_eq!(names(&first), ["middle", "far"]);
    // The remark beside the first head is about the distances of all of them.
    assert!(
        first
            .contains("[[spot]]                      # distances: wheel axle to near rim\nname = \"middle\""),
        "{first}"
    );
    assert!(first.contains("# by the last lamp"));
    let gone = |old: &str, new: &str| old.lines().count() - new.lines().count();
    assert_eq!((gone(&text, &last), gone(&text, &first)), (6, 5));
    // The last one cannot go.
    let one = done(&first, &[Edit::RemoveSpot { spot: 0 }]);
    assert_eq!(names(&one), ["far"]);
    assert_eq!(refused(&one, Edit::RemoveSpot { spot: 0 }), "missing-table");
    assert_eq!(refused(&one, Edit::RemoveSpot { spot: 1 }), "not-here");
}

#[test]
fn a_name_changes_on_its_line_alone_and_must_be_a_name_of_its_own() {
    let new = done(demo(0), &[word("spot[1].name", "by the \"post\"")]);
    assert_eq!(new.replacen("\"by the \\\"post\\\"\"", "\"middle\"", 1), demo(0));
    assert_eq!(refused(demo(0), word("spot[1].name", "far")), "twin-spots");
    assert_eq!(refused(demo(0), word("spot[1].name", "  ")), "empty-text");
    assert_eq!(refused(demo(0), word("wheel.diameter", "large")), "wrong-type");
    assert_eq!(refused(demo(0), word("target.shape", "oval")), "not-a-choice");
    // A word that stood nowhere.
    let bare = demo(0).replacen(
        "units = \"metric\"              # results in mm, m, kg; \"us\" for in, ft, lb\n",
        "",
        1,
    );
    let us = done(&bare, &[word("units", "us")]);
    assert!(us.contains("name = \"Lantern Night\"\nunits = \"us\"\n"), "{us}");
}

#[test]
fn a_line_that_is_taken_out_stays_as_a_remark_and_comes_back_as_it_was() {
    let out = done(demo(0), &[unset("limits.volley")]);
    assert!(
        out.contains("\n# volley = 4                    # lanterns in one go\n"),
        "{out}"
    );
    assert_eq!(get(&project(&out), "limits.volley"), Some(1.0));
    assert_eq!(done(&out, &[value("limits.volley", 4.0)]), demo(0));
    let spread = done(demo(0), &[unset("piece.bounce"), value("piece.bounce", 0.7)]);
    assert_eq!(spread, demo(0).replacen("value = 0.6,", "value = 0.7,", 1));
    // What a project cannot do without stays.
    assert_eq!(refused(demo(0), unset("wheel.diameter")), "missing-key");
    assert_eq!(refused(demo(0), unset("limits.fuze")), "not-here");
    assert_eq!(refused(demo(1), unset("limits.entry_angle")), "not-here");
}

#[test]
fn a_file_laid_out_in_another_way_is_left_as_it_is() {
    let braces = demo(2).replacen(
        "[limits]\nlength = \"400 mm\"\nwidth = \"400 mm\"\nheight = \"500 mm\"\nmass = \"10 kg\"\nmotors = 6\nvolley = 6\nthrow_interval = \"0.6 s\"\nspin_up = \"2 s\"\nclearance = \"15 mm\"\nentry_angle = \"55 deg\"\nspeed_reserve = \"15 %\"\nfuse = \"30 A\"\nexit_speed = \"9 m/s\"\n",
        "",
        1,
    );
    let braces = braces.replacen(
        "format = 1\n",
        "format = 1\nlimits = { volley = 6, fuse = \"30 A\" }\n",
        1,
    );
    project(&braces);
    assert_eq!(refused(&braces, unset("limits.fuse")), "not-written");
    let spots = demo(2).find("[[spot]]").unwrap()..demo(2).find("[limits]").unwrap();
    let mut listed = demo(2).to_string();
    listed.replace_range(spots, "");
    let listed = listed.replacen(
        "format = 1\n",
        "format = 1\nspot = [{ name = \"a\", distance = \"1 m\" }, { name = \"b\", distance = \"1.5 m\" }]\n",
        1,
    );
    project(&listed);
    assert_eq!(refused(&listed, add(0, "c", 1.2)), "not-written");
    assert_eq!(refused(&listed, Edit::RemoveSpot { spot: 0 }), "not-written");
    // A name can be changed there too.
    assert_eq!(names(&done(&listed, &[word("spot[0].name", "c")])), ["c", "b"]);
}

#[test]
fn another_piece_comes_with_its_ranges_and_what_was_measured_stays_as_remarks() {
    let foam = Edit::Piece { kind: "foam".into() };
    let text = done(demo(0), std::slice::from_ref(&foam));
    let p = project(&text);
    assert_eq!(p.piece.kind, PieceKind::Foam);
    assert!(p.piece.holes.is_none());
    assert!(
        text.contains("kind = \"foam\"                 # foam, hollow, perforated or solid\n"),
        "{text}"
    );
    assert!(
        text.contains("# usual: 60 mm to 250 mm (common practice, no source); measure yours"),
        "{text}"
    );
    assert!(text.contains("# before: holes = 38"));
    assert!(text.contains(
        "# before: diameter = { value = \"112 mm\", sd = \"0.4 mm\" }     # calipers on ten of them"
    ));
    // Held as such a piece is held: a fifth of its diameter.
    assert!((p.squeeze_m() - 0.03).abs() < 1e-6, "{}", p.squeeze_m());
    assert!(text.contains("gap = \"120 mm\""), "the file writes the gap");
    // Each in turn, and no heap of remarks grows.
    let around: Vec<Edit> = ["hollow", "perforated", "solid", "foam"]
        .map(|kind| Edit::Piece { kind: kind.into() })
        .to_vec();
    assert_eq!(done(&text, &around), text);
    assert_eq!(
        refused(demo(0), Edit::Piece { kind: "foarm".into() }),
        "no-such-kind"
    );
    // A piece that does not fit through the opening is refused as the command line would.
    let narrow = demo(2).replacen("width = \"260 mm\"", "width = \"120 mm\"", 1);
    assert_eq!(refused(&narrow, foam), "opening-too-small");
}

#[test]
fn a_kind_of_target_and_back_again() {
    let to = |kind: &str| Edit::Target { kind: kind.into() };
    let hoop = done(demo(0), &[to("hoop")]);
    let p = project(&hoop);
    assert!((p.target.tilt_rad - std::f64::consts::FRAC_PI_2).abs() < 1e-9);
    assert_eq!(p.target.back_wall_m, 0.0);
    assert!((p.target.depth_m - p.target.width_m).abs() < 1e-12);
    assert_eq!(done(&hoop, &[to("box")]), demo(0));
    // An upright hoop that says so with a remark: it comes back with it.
    let well = done(demo(1), &[to("well")]);
    assert_eq!(project(&well).target.tilt_rad, 0.0);
    assert_eq!(done(&well, &[to("hoop")]), demo(1));
    assert_eq!(done(demo(2), &[to("well")]), demo(2));
}

#[test]
fn nothing_is_changed_where_one_of_several_is_refused() {
    let refusal = with_edits(demo(0), &[unset("limits.volley"), word("spot[0].name", "far")]);
    assert_eq!(refusal.unwrap_err().problems[0].finding.code, "twin-spots");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// What is added and taken out, renamed and named back, taken out and set again leaves the same bytes, remarks and
    /// line breaks among them.
    #[test]
    fn an_edit_and_its_inverse_leave_the_same_bytes(which in 0usize..3, rich in any::<bool>(), crlf in any::<bool>(), spot in 0usize..3, far in 0.3f64..5.0) {
        let breaks = if crlf { "\r\n" } else { "\n" };
        let text = if rich { remarked(demo(which), breaks) } else { demo(which).replace('\n', breaks) };
        let old = project(&text);
        prop_assert_eq!(done(&text, &[add(spot, "new one", far), Edit::RemoveSpot { spot: spot + 1 }]), text.clone());
        let name = &old.spots[spot].name;
        let there = word(&format!("spot[{spot}].name"), "another");
        prop_assert_eq!(done(&text, &[there, word(&format!("spot[{spot}].name"), name)]), text.clone());
        for key in ["limits.length", "limits.mass", "limits.fuse", "limits.clearance", "limits.spin_up"] {
            let back = value(key, get(&old, key).unwrap());
            prop_assert_eq!(done(&text, &[unset(key), back]), text.clone(), "{}", key);
        }
    }

    /// No remark is lost but those of a spot that is taken out.
    #[test]
    fn remarks_survive(which in 0usize..3, kind in 0usize..4, target in 0usize..3, like in 0usize..3) {
        let text = remarked(demo(which), "\n");
        let kinds = ["foam", "hollow", "perforated", "solid"];
        let mut edits = vec![add(like, "one more", 1.3), unset("limits.mass"), Edit::Target { kind: ["box", "hoop", "well"][target].into() }];
        if which != 2 {
            edits.push(Edit::Piece { kind: kinds[kind].into() });
        }
        let new = done(&text, &edits);
        let all = remarks(&new);
        for r in remarks(&text) {
            prop_assert!(all.iter().any(|n| n.ends_with(&r)), "lost: {}", r);
        }
        project(&new);
    }
}

/// A bushing brings what it asks for, the bearing's lines stay as remarks, and back again they are lines.
#[test]
fn a_word_of_the_frame_brings_its_lines_and_takes_others_out() {
    for breaks in ["\n", "\r\n"] {
        let text = remarked(demo(0), breaks);
        let plain = done(&text, &[word("frame.shaft.support", "bushing")]);
        assert_eq!(get(&project(&plain), "frame.shaft.bushing_length"), Some(0.008));
        assert!(plain.contains("# rating = \"3300 N\"") && plain.contains("bushing = \"acetal\""));
        let back = done(&plain, &[word("frame.shaft.support", "ball")]);
        assert_eq!(get(&project(&back), "frame.shaft.rating"), Some(3300.0));
        assert!(back.contains("# bushing = \"acetal\""));
        let again = done(
            &back,
            &[
                word("frame.shaft.support", "bushing"),
                value("frame.shaft.bushing_length", 0.012),
            ],
        );
        assert_eq!(get(&project(&again), "frame.shaft.bushing_length"), Some(0.012));
    }
}

/// Every table of the frame and the season can be added to every demo, alone where it may stand alone, and one more of a list.
#[test]
fn tables_are_added_with_what_they_must_have() {
    let table = |t: &str| Edit::Table { table: t.into() };
    let bare = DEMOS.iter().find(|d| !d.text.contains("[frame]")).unwrap().text;
    let mut text = bare.to_string();
    for t in ["frame", "frame.motor", "frame.shaft", "frame.power", "season"] {
        text = done(&text, &[table(t)]);
        assert_eq!(refused(&text, table(t)), "not-written", "{t}");
    }
    for t in ["frame.wire[]", "frame.link[]", "frame.part[]", "season.change[]"] {
        text = done(&text, &[table(t), table(t)]);
    }
    let p = project(&text);
    let f = p.frame.unwrap();
    assert_eq!(
        (
            f.wires.len(),
            f.links.len(),
            f.parts.len(),
            p.season.unwrap().changes.len()
        ),
        (2, 2, 2, 2)
    );
    // What stood there stands, in its order.
    let mut lines = text.lines();
    assert!(bare.lines().all(|old| lines.any(|new| new == old)));
    assert_eq!(
        project(&done(demo(0), &[table("frame.part[]")]))
            .frame
            .unwrap()
            .parts
            .len(),
        6
    );
    assert_eq!(refused(demo(0), table("frame.wheels")), "unknown-table");
    assert_eq!(refused(demo(0), table("spot[]")), "unknown-table");
}
