//! One load as the page plays it, and the same in sentences.

use arcwright_model::feed::hopper::{Hopper, Pieces, Side};
use arcwright_model::feed::load::Stuck;
use arcwright_model::feed::replay::{Against, Frame, Replay, replay};
use arcwright_model::feed::world::CONTACT_STEPS_COUNT;
use arcwright_model::project::Project;
use arcwright_model::units::Dimension as D;
use serde_json::{Value, json};

use crate::tasks::json::{head, num, with};

/// Method: moments in a second; a screen shows no more.
const FRAMES_PER_S: f64 = 60.0;
/// Method: every so many moments have a sentence of their own.
const TOLD_EVERY: usize = 6;
/// What is sent is rounded to a tenth of a millimetre, a thousandth of a turn or radian, a tenth of a newton.
const PLACES_PER_M: f64 = 1e4;
const TURNS: f64 = 1e3;
const FORCES_PER_N: f64 = 10.0;

/// What a piece presses against: its code (a piece has its number) and its words.
fn against(a: Against) -> (i64, String) {
    let (code, words) = match a {
        Against::Piece(n) => return (n as i64, format!("piece {}", n + 1)),
        Against::Side(Side::Under) => (-1, "the floor"),
        Against::Side(Side::Left) => (-2, "the left wall"),
        Against::Side(Side::Right) => (-3, "the right wall"),
        Against::Side(Side::Back) => (-4, "the back wall"),
        Against::Side(Side::Hub) => (-5, "the hub"),
        Against::Band(Side::Left) => (-6, "the left band"),
        Against::Band(_) => (-7, "the right band"),
        Against::Stirrer => (-8, "the stirrer"),
        Against::Roller => (-9, "the roller"),
    };
    (code, words.to_string())
}

/// All that is no piece.
const FIXED: [Against; 9] = [
    Against::Side(Side::Under),
    Against::Side(Side::Left),
    Against::Side(Side::Right),
    Against::Side(Side::Back),
    Against::Side(Side::Hub),
    Against::Band(Side::Left),
    Against::Band(Side::Right),
    Against::Stirrer,
    Against::Roller,
];

/// A list in words: `a`, `a and b`, `a, b and c`.
fn list(all: &[String]) -> String {
    match all {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A moment in words: which pieces press on each other and on what, what the stirrer does.
///
/// Pieces that press on each other are told together, the floor only where nothing else is touched.
pub fn moment_words(frame: &Frame) -> String {
    let numbers: Vec<usize> = frame.poses.iter().map(|p| p.piece).collect();
    let mut group: Vec<usize> = (0..numbers.len()).collect();
    let place = |n: usize| numbers.iter().position(|m| *m == n);
    for t in &frame.touches {
        if let Against::Piece(other) = t.against
            && let (Some(a), Some(b)) = (place(t.piece), place(other))
        {
            let (from, to) = (group[b], group[a]);
            for g in &mut group {
                if *g == from {
                    *g = to;
                }
            }
        }
    }
    let mut said = Vec::new();
    let mut idle = Vec::new();
    for g in 0..numbers.len() {
        let members: Vec<usize> = (0..numbers.len()).filter(|i| group[*i] == g).collect();
        if members.is_empty() {
            continue;
        }
        let mut names: Vec<usize> = members
            .iter()
            .filter_map(|i| numbers.get(*i))
            .map(|n| n + 1)
            .collect();
        names.sort_unstable();
        let touched = |a: Against| {
            let mut own = frame
                .touches
                .iter()
                .filter(|t| place(t.piece).is_some_and(|i| members.contains(&i)));
            own.any(|t| t.against == a)
        };
        let (left, right) = (Against::Side(Side::Left), Against::Side(Side::Right));
        let both = touched(left) && touched(right);
        let mut on: Vec<String> = Vec::new();
        if members.len() > 1 {
            on.push("each other".to_string());
        }
        if both {
            on.push("both side walls".to_string());
        }
        for a in FIXED {
            let is_side = a == left || a == right;
            if a != Against::Side(Side::Under) && !(both && is_side) && touched(a) {
                on.push(against(a).1);
            }
        }
        let named: Vec<String> = names.iter().map(ToString::to_string).collect();
        if on.is_empty() {
            idle.extend(named);
        } else {
            let (noun, verb) = if names.len() == 1 {
                ("piece", "presses")
            } else {
                ("pieces", "press")
            };
            said.push(format!("{noun} {} {verb} on {}", list(&named), list(&on)));
        }
    }
    if !idle.is_empty() {
        let (noun, verb) = if idle.len() == 1 {
            ("piece", "is")
        } else {
            ("pieces", "are")
        };
        said.push(format!(
            "{noun} {} {verb} held by nothing but the floor",
            list(&idle)
        ));
    }
    if numbers.is_empty() {
        said.push("the hopper is empty".to_string());
    }
    if frame.stirrer_rad.is_some() && frame.time_s >= 0.0 {
        said.push(
            if frame.stalled {
                "the stirrer stands"
            } else {
                "the stirrer turns"
            }
            .to_string(),
        );
    }
    said.join("; ")
}

/// What happens, a sentence for each change: time and words.
pub fn story(replay: &Replay) -> Vec<(f64, String)> {
    let mut all: Vec<(f64, String)> = Vec::new();
    let last = replay.frames.len().saturating_sub(1);
    for (i, frame) in replay.frames.iter().enumerate() {
        if i % TOLD_EVERY != 0 && i != last {
            continue;
        }
        let words = moment_words(frame);
        if all.last().is_none_or(|(_, w)| *w != words) {
            all.push((frame.time_s, words));
        }
    }
    all
}

/// How a load ended, in words.
pub fn end_words(project: &Project, replay: &Replay) -> String {
    let l = &replay.load;
    let waited = replay.frames.last().map_or(0.0, |f| f.wait_s);
    let waited = project.say((waited * 10.0).round() / 10.0, D::Time);
    let held = l
        .wedge
        .map_or(String::new(), |w| format!(" ({})", super::kind_words(w.kind).1));
    let all_out = l.gaps_s.len() + l.thrown_out_count >= l.loaded_count;
    match (all_out, l.thrown_out_count) {
        (true, 0) => format!("All {} came out{held}.", l.loaded_count),
        (true, n) => format!("{} came out, {n} went over the walls.", l.gaps_s.len()),
        (false, _) => {
            let (out, all) = (l.gaps_s.len(), l.loaded_count);
            if l.stuck[3] == Some(Stuck::Locked) {
                format!("{out} of {all} came out; then it is locked, and nothing ends that by itself{held}.")
            } else {
                format!("{out} of {all} came out; then nothing for {waited}{held}.")
            }
        }
    }
}

fn whole(x: f64, per: f64) -> i64 {
    (x * per).round() as i64
}

/// A load of a project as the page plays it: the parts that stand, the moments, the sentences.
pub fn played(project: &Project, hopper: &Hopper, pieces: &Pieces, seed: u64, index: u64) -> Value {
    let r = replay(hopper, pieces, seed, index, 1.0 / FRAMES_PER_S);
    let frames: Vec<Value> = r.frames.iter().map(frame).collect();
    let names: serde_json::Map<String, Value> = FIXED
        .iter()
        .map(|a| against(*a))
        .map(|(code, words)| (code.to_string(), json!(words)))
        .collect();
    with(
        head("feed-replay", project),
        json!({
            "load": index,
            "seed": seed,
            "radii_m": r.radii_m.iter().map(|v| num(*v)).collect::<Vec<_>>(),
            "ends": end_words(project, &r),
            "invalid": r.load.invalid,
            "scene": scene(hopper, pieces),
            "against": names,
            "frames": frames,
            "story": story(&r).iter().map(|(t, words)| json!([whole(*t, 1e3), words])).collect::<Vec<_>>(),
        }),
    )
}

/// `[ms, ms of wait, stirrer, roller, stands?, [piece, x, y, z, turn ×4 ...], [piece, against, toward ×3, push, friction ...]]`
fn frame(f: &Frame) -> Value {
    let poses: Vec<i64> = f
        .poses
        .iter()
        .flat_map(|p| {
            let at = p.at_m.map(|v| whole(v, PLACES_PER_M));
            let turn = p.turn_ratio.map(|v| whole(v, TURNS));
            std::iter::once(p.piece as i64).chain(at).chain(turn)
        })
        .collect();
    let touches: Vec<i64> = f
        .touches
        .iter()
        .flat_map(|t| {
            let toward = t.toward_ratio.map(|v| whole(v, TURNS));
            let forces = [t.normal_n, t.tangent_n].map(|v| whole(v, FORCES_PER_N));
            [t.piece as i64, against(t.against).0]
                .into_iter()
                .chain(toward)
                .chain(forces)
        })
        .collect();
    json!([
        whole(f.time_s, 1e3),
        whole(f.wait_s, 1e3),
        whole(f.stirrer_rad.unwrap_or(0.0), TURNS),
        whole(f.roller_rad.unwrap_or(0.0), TURNS),
        u8::from(f.stalled),
        poses,
        touches,
    ])
}

/// What stands still, to be drawn.
fn scene(hopper: &Hopper, pieces: &Pieces) -> Value {
    let s = hopper.scene(pieces, pieces.mass_kg, CONTACT_STEPS_COUNT);
    let w = &s.world;
    let ends = |e: [[f64; 3]; 2]| json!(e);
    let side = |s: Option<&Side>| against(Against::Side(s.copied().unwrap_or(Side::Under))).0;
    json!({
        "slope_rad": num(hopper.slope_rad),
        "wall_m": num(hopper.wall_m),
        "outline_m": hopper.outline_m(),
        "walls": w.walls.iter().enumerate()
            .map(|(i, wall)| json!({ "side": side(s.walls.get(i)), "corners_m": wall.corners_m() })).collect::<Vec<_>>(),
        "rods": w.rods.iter().enumerate()
            .map(|(i, rod)| json!({ "side": side(s.rods.get(i)), "ends_m": ends(rod.ends_m()), "radius_m": num(rod.radius_m()) })).collect::<Vec<_>>(),
        "bands": w.bands.iter().map(|b| ends([b.from_m, b.to_m])).collect::<Vec<_>>(),
        "stirrer": w.stirrer.as_ref().map(|a| json!({ "hub_m": a.hub_m, "length_m": num(a.length_m), "radius_m": num(a.radius_m) })),
        "roller": w.roller.as_ref().map(|r| json!({ "ends_m": ends(r.shape.ends_m()), "radius_m": num(r.shape.radius_m()) })),
    })
}
