//! Templates: the files read back as their format says, and measured against the shape that the simulation uses.
//! `checks/outside/drawings.py` reads the same files with general-purpose libraries.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use std::f64::consts::PI;

use arcwright::project::{demo, parse};
use arcwright::tasks::draw::{Drawn, Paper, draw};
use arcwright_model::launcher::Layout;
use arcwright_model::launcher::outline::{ElementRole, Shape, outline};
use arcwright_model::project::Project;
use arcwright_model::shot::Chain;

fn project(name: &str, changes: &[(&str, &str)]) -> Project {
    let mut text = demo(name).unwrap().text.to_string();
    for (from, to) in changes {
        assert!(text.contains(from), "the demo no longer has {from:?}");
        text = text.replacen(from, to, 1);
    }
    parse(name, &text).unwrap_or_else(|p| panic!("{p:?}")).project
}

fn drawn(project: &Project) -> Vec<Drawn> {
    draw(project, Paper::A4, "test").unwrap()
}

fn file<'a>(parts: &'a [Drawn], name: &str) -> &'a [u8] {
    let found = parts.iter().flat_map(|p| &p.files).find(|(n, _)| n == name);
    &found.unwrap_or_else(|| panic!("no {name}")).1
}

/// An entity of a file: its kind, layer and groups; the corners of a line through many.
struct Entity {
    kind: String,
    layer: String,
    groups: Vec<(u32, String)>,
    corners: Vec<([f64; 2], f64)>,
}

impl Entity {
    fn text(&self, code: u32) -> &str {
        let found = self.groups.iter().find(|(c, _)| *c == code);
        found.map_or("", |(_, v)| v.as_str())
    }

    fn number(&self, code: u32) -> f64 {
        let text = self.text(code);
        text.parse()
            .unwrap_or_else(|e| panic!("{} group {code} `{text}`: {e}", self.kind))
    }

    fn at(&self) -> [f64; 2] {
        [self.number(10), self.number(20)]
    }
}

/// A file by its group codes: pairs of lines, entities from one group 0 to the next.
struct Drawing {
    release: String,
    unit: String,
    entities: Vec<Entity>,
}

fn read(bytes: &[u8]) -> Drawing {
    let text = std::str::from_utf8(bytes).unwrap();
    assert!(text.is_ascii());
    let lines: Vec<&str> = text.lines().collect();
    assert!(lines.len().is_multiple_of(2), "a group without its value");
    let pairs: Vec<(u32, &str)> = lines
        .chunks(2)
        .map(|p| (p[0].trim().parse().unwrap(), p[1]))
        .collect();
    assert_eq!(pairs.last(), Some(&(0, "EOF")));
    let header = |name: &str| {
        let i = pairs.iter().position(|p| *p == (9, name)).unwrap();
        pairs[i + 1].1.to_string()
    };
    let start = pairs.iter().position(|p| *p == (2, "ENTITIES")).unwrap() + 1;
    let mut entities: Vec<Entity> = Vec::new();
    let mut in_line = false;
    for block in pairs[start..].chunk_by(|_, next| next.0 != 0) {
        let (kind, groups) = (block[0].1, &block[1..]);
        let mut entity = Entity {
            kind: kind.to_string(),
            layer: String::new(),
            groups: groups.iter().map(|(c, v)| (*c, v.to_string())).collect(),
            corners: Vec::new(),
        };
        entity.layer = entity.text(8).to_string();
        match kind {
            "VERTEX" => {
                assert!(in_line, "a corner without its line");
                let bulge = if entity.text(42).is_empty() {
                    0.0
                } else {
                    entity.number(42)
                };
                entities.last_mut().unwrap().corners.push((entity.at(), bulge));
            }
            "SEQEND" => in_line = false,
            "ENDSEC" => break,
            _ => {
                assert!(!in_line, "a line without its end");
                in_line = kind == "POLYLINE";
                entities.push(entity);
            }
        }
    }
    Drawing {
        release: header("$ACADVER"),
        unit: header("$INSUNITS"),
        entities,
    }
}

/// Closed lines of a layer as points, arcs by the bulges of the file, a point every half degree.
fn closed(drawing: &Drawing, layer: &str) -> Vec<Vec<[f64; 2]>> {
    let mut out = Vec::new();
    for entity in drawing.entities.iter().filter(|e| e.layer == layer) {
        match entity.kind.as_str() {
            "POLYLINE" => {
                assert_eq!(entity.text(70), "1", "an open line on {layer}");
                let corners = &entity.corners;
                let mut line = Vec::new();
                for (i, (a, bulge)) in corners.iter().enumerate() {
                    line.push(*a);
                    let b = corners[(i + 1) % corners.len()].0;
                    if *bulge == 0.0 {
                        continue;
                    }
                    // Centre of the arc from chord and bulge.
                    let sweep = 4.0 * bulge.atan();
                    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                    let apothem = 0.5 / (0.5 * sweep).tan();
                    let c = [
                        0.5 * (a[0] + b[0]) - apothem * dy,
                        0.5 * (a[1] + b[1]) + apothem * dx,
                    ];
                    let r = (a[0] - c[0]).hypot(a[1] - c[1]);
                    let from = (a[1] - c[1]).atan2(a[0] - c[0]);
                    let count = (sweep.abs() / (0.5 * PI / 180.0)).ceil() as usize;
                    for k in 1..count {
                        let t = from + sweep * k as f64 / count as f64;
                        line.push([c[0] + r * t.cos(), c[1] + r * t.sin()]);
                    }
                }
                out.push(line);
            }
            "CIRCLE" => {
                let ([x, y], r) = (entity.at(), entity.number(40));
                let angles = (0..90).map(|k| PI / 45.0 * f64::from(k));
                out.push(angles.map(|t| [x + r * t.cos(), y + r * t.sin()]).collect());
            }
            "LINE" => panic!("an open line on {layer}"),
            _ => {}
        }
    }
    out
}

/// Nearest distance from the origin at which a ray meets a closed line, among those beyond a distance.
fn meets(line: &[[f64; 2]], angle: f64, beyond: f64) -> Option<f64> {
    let (c, s) = (angle.cos(), angle.sin());
    let mut best: Option<f64> = None;
    for i in 0..line.len() {
        let (a, b) = (line[i], line[(i + 1) % line.len()]);
        let side = |p: [f64; 2]| p[1] * c - p[0] * s;
        let (sa, sb) = (side(a), side(b));
        if sa * sb > 0.0 || sa == sb {
            continue;
        }
        let t = sa / (sa - sb);
        let r = (a[0] + t * (b[0] - a[0])) * c + (a[1] + t * (b[1] - a[1])) * s;
        if r > beyond && best.is_none_or(|x| r < x) {
            best = Some(r);
        }
    }
    best
}

/// The gap between wheel and guide after the cut, at every degree of the arc, against the model's.
fn gap_along_the_arc(project: &Project, kerf_mm: f64) -> f64 {
    let chain = Chain::of(project);
    let shape = outline(
        &chain.launcher,
        &project.machine.setting,
        project.piece.diameter_m,
    );
    let guide = shape
        .elements
        .iter()
        .find(|e| e.role == ElementRole::Guide)
        .unwrap();
    let Shape::Arc {
        centre_m,
        radius_m,
        from_rad,
        to_rad,
    } = guide.shape
    else {
        panic!("the guide is no arc");
    };
    let wheel = shape.wheels[0];
    assert_eq!(centre_m, wheel.centre_m);
    let wanted = (radius_m - wheel.radius_m) * 1e3;
    let parts = drawn(project);
    let drawing = read(file(&parts, "side-plate.dxf"));
    // The wheel is drawn where it turns, and as large.
    let circle = drawing
        .entities
        .iter()
        .find(|e| e.layer == "MARK" && e.kind == "CIRCLE")
        .unwrap();
    let wheel_mm = circle.number(40);
    assert!((wheel_mm - wheel.radius_m * 1e3).abs() < 1e-3, "{wheel_mm}");
    assert_eq!(circle.at(), [0.0; 2]);
    // The slot: the closed line that is met nearest beyond 0.9 of the guide's radius, in the middle of the arc.
    let middle = 0.5 * (from_rad + to_rad);
    let lines = closed(&drawing, "CUT");
    let slot = lines
        .iter()
        .filter_map(|l| Some((meets(l, middle, 0.9 * radius_m * 1e3)?, l)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap()
        .1;
    let mut worst = 0.0f64;
    let count = ((from_rad - to_rad) / (PI / 180.0)).floor() as i32;
    for i in 1..count {
        let angle = to_rad + PI / 180.0 * f64::from(i);
        let inner = meets(slot, angle, 10.0).unwrap();
        // The cutter takes half its width beyond the line: the sheet's inner face lies on the slot's inner side.
        let face = inner - 0.5 * kerf_mm;
        worst = worst.max((face - wheel_mm - wanted).abs());
        // And the slot holds the sheet.
        let width = meets(slot, angle, inner + 1e-6).unwrap() - inner + kerf_mm;
        let sheet = project.machine.sheet.map_or(1.0, |s| s.thickness_m * 1e3);
        assert!((width - sheet).abs() < 0.02, "{width} at {angle}");
    }
    assert!(count > 40, "{count}");
    worst
}

#[test]
fn the_gap_along_the_arc_is_the_models_within_a_twentieth_of_a_millimetre() {
    for (name, changes, kerf) in [
        ("lantern", &[][..], 0.0),
        (
            "lantern",
            &[("[robot]", "[cut]\nkerf = \"0.2 mm\"\n\n[robot]")][..],
            0.2,
        ),
        (
            "lantern",
            &[
                ("wrap = \"110 deg\"", "wrap = \"62 deg\""),
                ("end_angle = \"84 deg\"", "end_angle = \"50 deg\""),
            ][..],
            0.0,
        ),
        ("pebble", &[][..], 0.0),
    ] {
        let off = gap_along_the_arc(&project(name, changes), kerf);
        println!("{name} {changes:?}: gap off by at most {off:.4} mm");
        assert!(off < 0.05, "{name}: {off} mm");
    }
}

/// Line, place in it, its length, both ends.
type Piece = (usize, usize, usize, [f64; 2], [f64; 2]);

/// Does any piece of these closed lines cross another? Each against each, without the program's own test.
fn crossing(lines: &[Vec<[f64; 2]>]) -> Option<[f64; 2]> {
    let pieces: Vec<Piece> = lines
        .iter()
        .enumerate()
        .flat_map(|(l, line)| {
            (0..line.len()).map(move |i| (l, i, line.len(), line[i], line[(i + 1) % line.len()]))
        })
        .collect();
    let turn =
        |a: [f64; 2], b: [f64; 2], c: [f64; 2]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    for (n, p) in pieces.iter().enumerate() {
        for q in &pieces[n + 1..] {
            let neighbours = p.0 == q.0 && (q.1 == p.1 + 1 || (p.1 == 0 && q.1 + 1 == p.2));
            let off =
                |i: usize| p.3[i].max(p.4[i]) < q.3[i].min(q.4[i]) || q.3[i].max(q.4[i]) < p.3[i].min(p.4[i]);
            let far = off(0) || off(1);
            if !neighbours
                && !far
                && turn(p.3, p.4, q.3) * turn(p.3, p.4, q.4) < 0.0
                && turn(q.3, q.4, p.3) * turn(q.3, q.4, p.4) < 0.0
            {
                return Some(p.3);
            }
        }
    }
    None
}

#[test]
fn every_part_of_every_demo_is_closed_and_crosses_nothing() {
    for name in ["lantern", "bramble", "pebble"] {
        let project = project(name, &[]);
        let parts = drawn(&project);
        let wanted = match project.machine.layout {
            Layout::Guide(_) => 4,
            Layout::Pair(_) => 2,
        };
        assert!(parts.len() >= wanted, "{name}: {} parts", parts.len());
        for part in &parts {
            let drawing = read(file(&parts, &format!("{}.dxf", part.sheet.name)));
            assert_eq!((drawing.release.as_str(), drawing.unit.as_str()), ("AC1009", "4"));
            let lines = closed(&drawing, "CUT");
            assert!(!lines.is_empty(), "{name} {}", part.sheet.name);
            assert_eq!(crossing(&lines), None, "{name} {}", part.sheet.name);
            assert_eq!(part.sheet.faults(), Vec::<String>::new());
        }
    }
}

#[test]
fn scales_stand_where_the_knobs_are() {
    let project = project("lantern", &[]);
    let parts = drawn(&project);
    let text = |name: &str, wanted: &str| -> [f64; 2] {
        let drawing = read(file(&parts, name));
        let mut texts = drawing.entities.iter().filter(|e| e.kind == "TEXT");
        let found = texts.find(|e| e.text(1) == wanted).map(Entity::at);
        found.unwrap_or_else(|| panic!("no {wanted} in {name}"))
    };
    // Tilt, about the pivot at the origin of the cheek: 20 degrees on from 0.
    let angle = |p: [f64; 2]| (p[1] + 1.0).atan2(p[0]).to_degrees();
    let (zero, last) = (text("hood-cheek.dxf", "0"), text("hood-cheek.dxf", "20"));
    assert!(
        (angle(last) - angle(zero) - 20.0).abs() < 0.05,
        "{zero:?} {last:?}"
    );
    // Reach: the numbers lie as far apart as they say.
    let (a, b) = (text("hood-plate.dxf", "60"), text("hood-plate.dxf", "120"));
    assert!((b[0] - a[0] - 60.0).abs() < 1e-3, "{a:?} {b:?}");
    // Slide: level, in the launcher's own directions.
    let (a, b) = (text("side-plate.dxf", "-10"), text("side-plate.dxf", "10"));
    assert!(
        (b[0] - a[0] - 20.0).abs() < 1e-3 && (b[1] - a[1]).abs() < 1e-3,
        "{a:?} {b:?}"
    );
}

#[test]
fn the_flat_sheet_is_as_long_as_its_middle_when_rolled() {
    let project = project("lantern", &[]);
    let Layout::Guide(g) = project.machine.layout else {
        panic!()
    };
    let drawing = read(file(&drawn(&project), "guide-sheet.dxf"));
    let lines = closed(&drawing, "CUT");
    let high = lines.iter().flatten().map(|p| p[0]).fold(0.0, f64::max);
    // Bend line to the end: θ (R + t/2) with R = 48 + 100 mm, t = 1 mm.
    let bend = drawing
        .entities
        .iter()
        .find(|e| e.layer == "BEND" && e.kind == "LINE")
        .unwrap()
        .number(10);
    let rolled = g.wrap_rad * (148.0 + 0.5);
    assert!((high - bend - rolled).abs() < 1e-3, "{high} {bend} {rolled}");
}

#[test]
fn a_cutter_too_wide_for_the_slot_is_refused_with_a_way_out() {
    let project = project("lantern", &[("[robot]", "[cut]\nkerf = \"1.2 mm\"\n\n[robot]")]);
    let refused = draw(&project, Paper::A4, "").err().unwrap();
    assert_eq!(refused.code, "not-to-be-cut");
    assert!(
        refused.what.contains("1.2 mm") && !refused.fix.is_empty(),
        "{refused:?}"
    );
}
