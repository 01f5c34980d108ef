//! Templates: the files read back as their format says, and measured against the shape that the simulation uses.
//! `checks/outside/drawings.py` reads the same files with general-purpose libraries.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use std::f64::consts::PI;

use arcwright::project::{demo, parse};
use arcwright::tasks::draw::{Drawn, Paper, draw, left_out};
use arcwright_model::feed::hopper::{Hopper, Pieces, Side};
use arcwright_model::launcher::Layout;
use arcwright_model::launcher::outline::outline;
use arcwright_model::project::Project;
use arcwright_model::shot::Chain;
use arcwright_paper::templates::{Label, Layer, Sheet};

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
    let Layout::Guide(g) = project.machine.layout else {
        panic!("no guide");
    };
    let wheel = shape.wheels[0];
    let to_rad = 0.5 * PI + g.end_angle_rad;
    let from_rad = to_rad + g.wrap_rad;
    // Wider by the relief at the start, evenly less toward the end.
    let wanted = |angle: f64| (g.gap_m + g.entry_relief_m * (angle - to_rad) / g.wrap_rad) * 1e3;
    let radius_m = wheel.radius_m + g.gap_m;
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
        worst = worst.max((face - wheel_mm - wanted(angle)).abs());
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
        (
            "lantern",
            &[(
                "wrap = \"110 deg\"",
                "entry_relief = \"4 mm\"\nwrap = \"110 deg\"",
            )][..],
            0.0,
        ),
        (
            "lantern",
            &[
                (
                    "wrap = \"110 deg\"",
                    "entry_relief = \"-3 mm\"\nwrap = \"110 deg\"",
                ),
                ("[robot]", "[cut]\nkerf = \"0.2 mm\"\n\n[robot]"),
            ][..],
            0.2,
        ),
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
    let cut = ("[robot]", "[cut]\nkerf = \"0.3 mm\"\n\n[robot]");
    let slope = "slope = \"12 deg\"\n";
    let relief = (
        "wrap = \"110 deg\"",
        "entry_relief = \"4 mm\"\nwrap = \"110 deg\"",
    );
    let hopper = |more: &str| format!("{slope}{more}\n");
    let [sides, bent, square] = [
        hopper("side_slope = \"9 deg\"\nfillet = \"20 mm\"\nrail_gap = \"28 mm\""),
        hopper("chute_bend = \"15 deg\"\nfillet = \"15 mm\"\nrail_gap = \"10 mm\""),
        hopper("funnel = \"90 deg\"\nfillet = \"20 mm\"\nside_slope = \"5 deg\"\nchute_bend = \"-12 deg\""),
    ];
    for (name, changes) in [
        ("lantern", vec![]),
        ("bramble", vec![]),
        ("pebble", vec![]),
        ("lantern", vec![cut, relief, (slope, sides.as_str())]),
        ("lantern", vec![cut, (slope, bent.as_str())]),
        ("lantern", vec![(slope, square.as_str())]),
    ] {
        let project = project(name, &changes);
        let parts = drawn(&project);
        let wanted = match project.machine.layout {
            Layout::Guide(_) => 6,
            Layout::Pair(_) => 4,
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
fn a_relieved_guide_has_a_pair_of_gauges_for_each_of_three_stations() {
    let relief = (
        "wrap = \"110 deg\"",
        "entry_relief = \"4 mm\"\nwrap = \"110 deg\"",
    );
    let parts = drawn(&project("lantern", &[relief]));
    let drawing = read(file(&parts, "gauges.dxf"));
    let mut across: Vec<f64> = drawing
        .entities
        .iter()
        .filter(|e| e.kind == "CIRCLE" && e.layer == "CUT")
        .map(|e| 2.0 * e.number(40))
        .collect();
    across.sort_by(f64::total_cmp);
    let wanted = [99.5, 100.5, 101.5, 102.5, 103.5, 104.5];
    assert_eq!(across.len(), 6);
    for (found, wanted) in across.iter().zip(wanted) {
        assert!((found - wanted).abs() < 1e-3, "{across:?}");
    }
    // The flat sheet: (R₁ + R₂)/2 + t/2 times the angle, R₁ = 152 mm, R₂ = 148 mm, t = 1 mm.
    let sheet = read(file(&parts, "guide-sheet.dxf"));
    let ends = sheet
        .entities
        .iter()
        .filter(|e| e.layer == "CUT")
        .flat_map(|e| &e.corners);
    let high = ends.map(|c| c.0[0]).fold(0.0, f64::max);
    let bend = sheet
        .entities
        .iter()
        .find(|e| e.layer == "BEND")
        .unwrap()
        .number(10);
    assert!(
        (high - bend - 110f64.to_radians() * 150.5).abs() < 1e-3,
        "{high} {bend}"
    );
}

#[test]
fn the_plate_of_a_pair_holds_axles_ramp_guards_and_clamp_where_the_model_has_them() {
    let project = project("bramble", &[]);
    let parts = drawn(&project);
    let names: Vec<&str> = parts.iter().map(|p| p.sheet.name).collect();
    assert!(
        names.starts_with(&["side-plate", "ramp", "wheel-guard", "gauges"]),
        "{names:?}"
    );
    let drawing = read(file(&parts, "side-plate.dxf"));
    let wheels: Vec<&Entity> = drawing
        .entities
        .iter()
        .filter(|e| e.layer == "MARK" && e.kind == "CIRCLE")
        .collect();
    // Wheels of 127 mm, 160 - 40 mm apart.
    assert_eq!(wheels.len(), 2);
    let upper = wheels[1].at();
    assert!(
        upper[0].abs() < 1e-3 && (upper[1] - 247.0).abs() < 1e-3,
        "{upper:?}"
    );
    let lines = closed(&drawing, "CUT");
    let span = |l: &[[f64; 2]], i: usize| {
        let each = || l.iter().map(|p| p[i]);
        [each().fold(f64::MAX, f64::min), each().fold(f64::MIN, f64::max)]
    };
    // The ramp: its upper face a radius of the piece below the middle between the wheels, as long as in the model.
    let ramp = lines
        .iter()
        .find(|l| l.len() == 4 && span(l, 1)[1] < 100.0)
        .unwrap();
    assert!((span(ramp, 1)[1] - (123.5 - 80.0)).abs() < 1e-3, "{ramp:?}");
    let back = (143.5f64.powi(2) - 123.5f64.powi(2)).sqrt();
    assert!(
        (span(ramp, 0)[1] + back).abs() < 1e-3 && (span(ramp, 0)[0] + back + 160.0).abs() < 1e-3,
        "{ramp:?}"
    );
    // Guards: 6 mm off each wheel everywhere, beside the piece's way.
    for (axle, side) in [([0.0, 0.0], -1.0), (upper, 1.0)] {
        let far = |p: &[f64; 2]| (p[0] - axle[0]).hypot(p[1] - axle[1]);
        let guard = lines
            .iter()
            .find(|l| l.len() > 50 && l.iter().all(|p| (far(p) - 70.0).abs() < 0.51));
        let nearest = guard
            .unwrap()
            .iter()
            .map(|p| side * (p[1] - 123.5))
            .fold(f64::MAX, f64::min);
        assert!(nearest > 80.0 && nearest < 90.0, "{nearest}");
    }
    let text = |wanted: &str| {
        let mut texts = drawing.entities.iter().filter(|e| e.kind == "TEXT");
        texts.find(|e| e.text(1) == wanted).map(Entity::at).unwrap()
    };
    let angle = |p: [f64; 2]| (p[1] + 1.0).atan2(p[0]).to_degrees();
    let (least, most) = (text("0"), text("30"));
    assert!(
        (angle(most) - angle(least) - 30.0).abs() < 0.1,
        "{least:?} {most:?}"
    );
}

fn hopper_of(project: &Project) -> (Hopper, Pieces) {
    let piece = &project.piece;
    let pieces = Pieces {
        count: 1,
        diameter_m: piece.diameter_m,
        diameter_sd_m: 0.0,
        mass_kg: piece.mass_kg,
        mass_sd_kg: 0.0,
        inertia_coeff: 0.6,
        press_npm: 1e3,
        bounce_coeff: 0.5,
    };
    (project.feed.unwrap().hopper, pieces)
}

/// Middles of the pieces of the largest closed lines of a part.
fn middles(line: &[[f64; 2]]) -> Vec<[f64; 2]> {
    (0..line.len())
        .map(|i| {
            let (a, b) = (line[i], line[(i + 1) % line.len()]);
            [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]
        })
        .collect()
}

/// Every edge of the cut floor lies at the foot of a wall or of a post that pieces are dropped against.
#[test]
fn the_floor_is_cut_where_the_walls_of_the_simulation_stand() {
    let slope = "slope = \"12 deg\"\n";
    let long = |p: &[[f64; 2]]| {
        let ends = |i: usize, f: fn(f64, f64) -> f64, from: f64| p.iter().map(|q| q[i]).fold(from, f);
        (ends(0, f64::max, f64::MIN) - ends(0, f64::min, f64::MAX))
            * (ends(1, f64::max, f64::MIN) - ends(1, f64::min, f64::MAX))
    };
    for (name, more) in [
        ("lantern", ""),
        ("bramble", ""),
        ("pebble", ""),
        ("lantern", "fillet = \"25 mm\"\n"),
        ("lantern", "side_slope = \"9 deg\"\nfillet = \"25 mm\"\n"),
        ("lantern", "funnel = \"90 deg\"\n"),
    ] {
        let text = format!("{slope}{more}");
        let changes = [(slope, text.as_str())];
        let project = project(name, if more.is_empty() { &[] } else { &changes });
        let (hopper, pieces) = hopper_of(&project);
        let scene = hopper.scene(&pieces, pieces.mass_kg, 20.0);
        let parts = drawn(&project);
        let mut lines = closed(&read(file(&parts, "hopper-floor.dxf")), "CUT");
        lines.sort_by(|a, b| long(b).total_cmp(&long(a)));
        let flat = hopper.side_slope_rad.cos();
        let end = lines[0].iter().map(|p| p[0]).fold(f64::MIN, f64::max);
        let (mut worst, mut seen) = (0.0f64, 0);
        for [x, y] in middles(&lines[0]) {
            if x > end - 1e-6 {
                // Where it is cut off, or joined to the chute.
                continue;
            }
            let p = [x * 1e-3, y * flat * 1e-3, 0.05];
            let walls = scene.world.walls.iter().zip(&scene.walls);
            let walls = walls
                .filter(|(_, side)| **side != Side::Under)
                .filter_map(|(wall, _)| wall.ahead_m(p).map(f64::abs));
            let posts = scene.world.rods.iter().map(|rod| {
                let [foot, _] = rod.ends_m();
                ((p[0] - foot[0]).hypot(p[1] - foot[1]) - rod.radius_m()).abs()
            });
            let near = walls.chain(posts).fold(f64::INFINITY, f64::min);
            worst = worst.max(near * 1e3);
            seen += 1;
        }
        assert!(seen >= 5, "{name} {more:?}: {seen}");
        assert!(worst < 0.05, "{name} {more:?}: {worst} mm");
        // Half a piece past the roller.
        let chute = lines.iter().flatten().map(|p| p[0]).fold(f64::MIN, f64::max)
            - if hopper.side_slope_rad > 0.0 { 20.0 } else { 0.0 };
        let wanted = (hopper.chute_m + 0.5 * project.piece.diameter_m) * 1e3;
        assert!((chute - wanted).abs() < 1e-3, "{chute} {wanted}");
    }
}

#[test]
fn panels_of_the_walls_are_as_long_as_those_of_the_simulation() {
    let project = project("lantern", &[]);
    let (hopper, _) = hopper_of(&project);
    let lines = closed(&read(file(&drawn(&project), "hopper-walls.dxf")), "CUT");
    let mut found: Vec<[f64; 2]> = lines
        .iter()
        .map(|l| {
            [0, 1].map(|i| {
                l.iter().map(|p| p[i]).fold(f64::MIN, f64::max)
                    - l.iter().map(|p| p[i]).fold(f64::MAX, f64::min)
            })
        })
        .filter(|size| size[1] > 50.0)
        .collect();
    found.sort_by(|a, b| a[0].total_cmp(&b[0]));
    // Back wall with a plate's thickness at both ends; 45 degrees from 300 mm to 120 mm narrow over 90 mm.
    let mut wanted = [308.0, 250.0, 90.0 * 2f64.sqrt(), hopper.chute_m * 1e3 + 56.0];
    wanted.sort_by(f64::total_cmp);
    assert_eq!(found.len(), 4, "{found:?}");
    for (found, wanted) in found.iter().zip(wanted) {
        assert!((found[0] - wanted).abs() < 1e-3, "{found:?} {wanted}");
        assert!((found[1] - hopper.wall_m * 1e3 - 4.0).abs() < 1e-3, "{found:?}");
    }
}

#[test]
fn every_hole_of_the_floor_faces_one_of_a_wall() {
    let parts = drawn(&project("lantern", &[]));
    let holes = |name: &str| -> Vec<[f64; 2]> {
        let drawing = read(file(&parts, name));
        let cut = drawing
            .entities
            .iter()
            .filter(|e| e.layer == "CUT" && e.kind == "CIRCLE");
        cut.map(Entity::at).collect()
    };
    let (floor, walls) = (holes("hopper-floor.dxf"), holes("hopper-walls.dxf"));
    // The back wall is the lowest panel, 172 mm high; the others are cut twice.
    let back = walls.iter().filter(|p| p[1] < 172.0).count();
    assert!(back > 5, "{back}");
    assert_eq!(floor.len(), back + 2 * (walls.len() - back));
    // As far from the floor as the floor's are from the wall: half the margin of 25 mm above a plate of 4 mm.
    assert!(
        walls.iter().all(|p| ((p[1] % 192.0) - 16.5).abs() < 1e-3),
        "{walls:?}"
    );
}

#[test]
fn the_jig_holds_the_rails_where_the_simulation_has_them() {
    let slope = "slope = \"12 deg\"\n";
    let with = format!("{slope}rail_gap = \"28 mm\"\n");
    let railed = project("lantern", &[(slope, with.as_str())]);
    let (hopper, pieces) = hopper_of(&railed);
    let scene = hopper.scene(&pieces, pieces.mass_kg, 20.0);
    let rods = scene.world.rods.iter().zip(&scene.rods);
    let rods: Vec<_> = rods.filter(|(_, side)| **side == Side::Under).collect();
    assert_eq!(rods.len(), 2);
    let drawing = read(file(&drawn(&railed), "chute-rails.dxf"));
    let lines = closed(&drawing, "CUT");
    assert_eq!(lines.len(), 1);
    for (rod, _) in rods {
        let [[_, y, z], _] = rod.ends_m().map(|p| p.map(|x| x * 1e3));
        let r = rod.radius_m() * 1e3;
        let arch: Vec<f64> = lines[0]
            .iter()
            .filter(|p| (p[0] - y).abs() <= r + 1e-3 && p[1] >= z - 1e-3 && p[1] < z + 2.0 * r)
            .map(|p| (p[0] - y).hypot(p[1] - z))
            .collect();
        assert!(arch.len() > 100, "{}", arch.len());
        assert!(arch.iter().all(|d| (d - r).abs() < 1e-3), "{arch:?}");
    }
    // As wide as the chute less its play.
    let wide = lines[0].iter().map(|p| p[0]).fold(f64::MIN, f64::max);
    assert!(
        (2.0 * wide - hopper.chute_width_m * 1e3 + 1.0).abs() < 1e-3,
        "{wide}"
    );
    // Rails too far apart for the chute are left out and told.
    let far = format!("{slope}rail_gap = \"104 mm\"\n");
    let far = project("lantern", &[(slope, far.as_str())]);
    assert!(drawn(&far).iter().all(|p| p.sheet.name != "chute-rails"));
    assert!(
        left_out(&far).iter().any(|w| w.starts_with("no rails: 104 mm")),
        "{:?}",
        left_out(&far)
    );
}

#[test]
fn without_a_feed_the_launcher_is_drawn_and_the_hopper_is_told_to_be_missing() {
    let text = demo("lantern").unwrap().text;
    let from = text.find("[feed]").unwrap();
    let to = text[from..].find("[air]").map_or(text.len(), |i| from + i);
    let project = parse("lantern", &format!("{}{}", &text[..from], &text[to..]))
        .unwrap_or_else(|p| panic!("{p:?}"))
        .project;
    assert!(project.feed.is_none());
    let parts = drawn(&project);
    assert!(parts.iter().any(|p| p.sheet.name == "side-plate"));
    assert!(parts.iter().all(|p| !p.sheet.name.starts_with("hopper")));
    assert_eq!(
        left_out(&project),
        ["no hopper and no rails: [feed] is not in the file"]
    );
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

/// Box around a text: left, right, foot, head. Widths of Helvetica's letters, roughly; a capital is 0.72 of its size high (from memory).
fn room_of(text: &Label) -> [f64; 4] {
    let wide = |c: char| match c {
        c if c.is_ascii_uppercase() => 0.70,
        ' ' | '.' | ',' | '-' | '\'' | 'i' | 'l' | 't' | 'f' | 'r' => 0.28,
        _ => 0.556,
    };
    let half = 0.5 * text.height_mm / 0.72 * text.text.chars().map(wide).sum::<f64>();
    let [x, y] = text.at_mm;
    [x - half, x + half, y, y + text.height_mm]
}

/// Lines to cut and to bend, as points every quarter of a millimetre.
fn along(sheet: &Sheet) -> Vec<[f64; 2]> {
    let mut out = Vec::new();
    for contour in sheet.contours.iter().filter(|c| c.layer != Layer::Mark) {
        for pair in contour.points().windows(2) {
            let ([ax, ay], [bx, by]) = (pair[0], pair[1]);
            let count = ((bx - ax).hypot(by - ay) / 0.25).ceil().max(1.0) as usize;
            out.extend((0..=count).map(|i| {
                let t = i as f64 / count as f64;
                [ax + t * (bx - ax), ay + t * (by - ay)]
            }));
        }
    }
    for hole in sheet.circles.iter().filter(|c| c.layer == Layer::Cut) {
        let ([x, y], r) = (hole.centre_mm, hole.radius_mm);
        out.extend(
            (0..1440)
                .map(|i| PI / 720.0 * f64::from(i))
                .map(|a| [x + r * a.cos(), y + r * a.sin()]),
        );
    }
    out
}

#[test]
fn no_text_of_a_part_lies_on_a_line_on_another_text_or_off_the_part() {
    let us = ("units = \"metric\"", "units = \"us\"");
    let wrap = "wrap = \"110 deg\"";
    let end = "end_angle = \"84 deg\"";
    let relief = (wrap, "entry_relief = \"4 mm\"\nwrap = \"110 deg\"");
    let slope = "slope = \"12 deg\"\n";
    let railed = (
        slope,
        "slope = \"12 deg\"\nchute_bend = \"15 deg\"\nfillet = \"15 mm\"\nrail_gap = \"10 mm\"\n",
    );
    let plate = (
        "[air]",
        "[[feed.plate]]\nlength = \"20 mm\"\nwidth = \"15 mm\"\nfrom_mouth = \"160 mm\"\nheight = \"120 mm\"\ntilt = \"40 deg\"\n\n[air]",
    );
    let mut wrong = Vec::new();
    for (name, changes) in [
        ("lantern", vec![]),
        ("bramble", vec![]),
        ("pebble", vec![]),
        ("lantern", vec![us, relief, railed, plate]),
        ("bramble", vec![us]),
        ("pebble", vec![us]),
        (
            "lantern",
            vec![(wrap, "wrap = \"62 deg\""), (end, "end_angle = \"50 deg\"")],
        ),
        (
            "lantern",
            vec![(wrap, "wrap = \"60 deg\""), (end, "end_angle = \"-20 deg\"")],
        ),
        (
            "lantern",
            vec![(wrap, "wrap = \"60 deg\""), (end, "end_angle = \"120 deg\"")],
        ),
        ("lantern", vec![(wrap, "wrap = \"190 deg\"")]),
    ] {
        for part in drawn(&project(name, &changes)) {
            let lines = along(&part.sheet);
            let [low, high] = part.sheet.extent();
            for (i, text) in part
                .sheet
                .labels
                .iter()
                .enumerate()
                .filter(|(_, l)| !l.text.is_empty())
            {
                let [left, right, foot, head] = room_of(text);
                let what = format!("`{}` of {name} {changes:?} {}", text.text, part.sheet.name);
                if !(left > low[0] && right < high[0] && foot > low[1] && head < high[1]) {
                    wrong.push(format!("{what} is off the part"));
                }
                let on = |p: &&[f64; 2]| p[0] > left && p[0] < right && p[1] > foot && p[1] < head;
                if let Some(p) = lines.iter().find(on) {
                    wrong.push(format!("{what} lies on a line at {p:?}"));
                }
                for other in &part.sheet.labels[i + 1..] {
                    let [l, r, f, h] = room_of(other);
                    if !(r < left || l > right || h < foot || f > head) {
                        wrong.push(format!("{what} lies on `{}`", other.text));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn bolts_that_slide_stay_inside_the_side_plate() {
    for (wrap, end) in [("60 deg", "-20 deg"), ("100 deg", "0 deg"), ("60 deg", "120 deg")] {
        let changes = [
            ("wrap = \"110 deg\"", format!("wrap = \"{wrap}\"")),
            ("end_angle = \"84 deg\"", format!("end_angle = \"{end}\"")),
        ];
        let changes: Vec<(&str, &str)> = changes.iter().map(|(a, b)| (*a, b.as_str())).collect();
        let parts = drawn(&project("lantern", &changes));
        let lines = closed(&read(file(&parts, "side-plate.dxf")), "CUT");
        let wide = |l: &[[f64; 2]]| {
            let each = || l.iter().map(|p| p[0]);
            each().fold(f64::MIN, f64::max) - each().fold(f64::MAX, f64::min)
        };
        let body = lines.iter().max_by(|a, b| wide(a).total_cmp(&wide(b))).unwrap();
        // Slots for the kit's bolts of 5 mm, 20 mm of travel.
        let slots: Vec<_> = lines.iter().filter(|l| (wide(l) - 25.0).abs() < 0.01).collect();
        assert_eq!(slots.len(), 2, "{end}");
        for p in slots.into_iter().flatten() {
            let room = (0..body.len())
                .map(|i| {
                    let (a, b) = (body[i], body[(i + 1) % body.len()]);
                    let d = [b[0] - a[0], b[1] - a[1]];
                    let t = ((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / (d[0] * d[0] + d[1] * d[1]);
                    let t = t.clamp(0.0, 1.0);
                    (p[0] - a[0] - t * d[0]).hypot(p[1] - a[1] - t * d[1])
                })
                .fold(f64::MAX, f64::min);
            assert!(room > 1.9, "{end}: {room} mm of plate beside a slot");
        }
    }
}

#[test]
fn a_guide_that_goes_far_around_is_told_what_it_goes_without() {
    for (wrap, guard) in [("190 deg", true), ("310 deg", false)] {
        let change = format!("wrap = \"{wrap}\"");
        let project = project("lantern", &[("wrap = \"110 deg\"", change.as_str())]);
        let parts = drawn(&project);
        let has = |name: &str| parts.iter().any(|p| p.sheet.name == name);
        let told = left_out(&project).join("\n");
        // The bar of a hood would lie inside the rectangle that the side plate is.
        assert!(
            !has("hood-cheek") && !has("hood-plate") && told.contains("no hood: the side plates"),
            "{told}"
        );
        assert_eq!(has("wheel-guard"), guard);
        assert_eq!(told.contains("no wheel guard"), !guard, "{told}");
        let notes = parts[0].sheet.notes.join("\n");
        assert_eq!(notes.contains("holds its guard"), guard, "{notes}");
    }
}

#[test]
fn notes_speak_the_projects_units_and_of_what_is_there() {
    let notes = |name: &str, us: bool, part: &str| {
        let change = [("units = \"metric\"", "units = \"us\"")];
        let parts = drawn(&project(name, if us { &change } else { &[] }));
        let found = parts.iter().find(|p| p.sheet.name == part).unwrap();
        found.sheet.notes.join("\n")
    };
    // An inch is 25.4 mm.
    let plate = notes("lantern", true, "side-plate");
    assert!(plate.contains("100 mm = 3.937 in from the wheel"), "{plate}");
    assert!(plate.contains("read the slide in inches"), "{plate}");
    assert!(notes("lantern", true, "hood-plate").contains("the reach in inches:"));
    assert!(!notes("lantern", false, "side-plate").contains(" in,"));
    // No knob, no slide; two wheels, no guide.
    let still = notes("pebble", false, "side-plate");
    assert!(still.contains("bolt at P") && !still.contains("slide"), "{still}");
    for part in ["ramp", "wheel-guard"] {
        let of = notes("bramble", false, part);
        assert!(of.contains("From sheet, 1 mm") && !of.contains("guide's"), "{of}");
    }
    for name in ["lantern", "bramble", "pebble"] {
        let of = notes(name, false, "side-plate");
        assert!(
            of.contains("Before a wheel spins") && of.contains("eye protection"),
            "{of}"
        );
    }
}

#[test]
fn the_drawing_has_the_ruler_that_its_caution_speaks_of() {
    for part in drawn(&project("pebble", &[])) {
        let text = String::from_utf8(part.files[1].1.clone()).unwrap();
        let size = text.split("viewBox=\"0 0 ").nth(1).unwrap();
        let size: Vec<f64> = size
            .split('"')
            .next()
            .unwrap()
            .split(' ')
            .map(|n| n.parse().unwrap())
            .collect();
        // In millimetres, so that a unit of the drawing is one.
        assert!(text.contains(&format!("width=\"{}mm\"", size[0])), "{size:?}");
        let ruler = text.split("id=\"RULER\"").nth(1).unwrap();
        let line = ruler.split(" d=\"M").nth(1).unwrap();
        let (start, rest) = line.split_once('h').unwrap();
        let start: Vec<f64> = start.split(' ').map(|n| n.parse().unwrap()).collect();
        let long: f64 = rest.split('M').next().unwrap().parse().unwrap();
        assert_eq!(long, 100.0);
        assert!(
            start[0] + long < size[0] && start[1] < size[1],
            "{start:?} {size:?}"
        );
    }
}

#[test]
fn both_sides_of_a_part_are_said_in_one_unit() {
    let at = std::env::temp_dir().join(format!("arcwright-draw-{}", std::process::id()));
    std::fs::create_dir_all(&at).unwrap();
    let done = std::process::Command::new(env!("CARGO_BIN_EXE_arcwright"))
        .args(["draw", "--demo", "bramble"])
        .current_dir(&at)
        .output()
        .unwrap();
    std::fs::remove_dir_all(&at).unwrap();
    let said = String::from_utf8(done.stdout).unwrap();
    assert!(said.contains("428 mm x 1036 mm"), "{said}");
}
