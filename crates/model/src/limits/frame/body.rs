//! Turning, tipping, size of the parts, and what holds them.

use super::{FrameEvidence, Verdict, allowed_block, blocks, weighed};
use crate::frame::mass::{Block, Stance, envelope, jolt_n, tipping};
use crate::limits::{Status, at_least, at_most};
use crate::project::{BaseKind, Frame};
use crate::units::Dimension as D;

/// Judgement: a collision of small robots on a practice floor stops them within a few centimetres.
const JOLT_RATIO: f64 = 10.0;
/// Judgement: parts lighter than this hurt nobody when they come loose.
const HEAVY_KG: f64 = 0.3;

pub(super) fn turn(e: &FrameEvidence) -> Vec<Verdict> {
    let Some(b) = e.base else { return Vec::new() };
    if b.kind == BaseKind::Sideways {
        return Vec::new();
    }
    let say = |v, d| e.project.say(v, d);
    let status = at_most(b.scrub_n, b.motor_n);
    let why = match b.quarter_s {
        Some(t) => format!(
            "turning on the spot drags the wheels sideways: it takes {} of push, {} are there; a quarter turn takes {}",
            say(b.scrub_n, D::Force),
            say(b.motor_n, D::Force),
            say(t, D::Time)
        ),
        None => format!(
            "turning on the spot drags the wheels sideways: it takes {} of push, and only {} are there",
            say(b.scrub_n, D::Force),
            say(b.motor_n, D::Force)
        ),
    };
    vec![
        Verdict::new("turn", "", status, why)
            .numbers(D::Force, b.motor_n, b.scrub_n, b.motor_n - b.scrub_n)
            .mend("a shorter base, a lower middle pair (`drive = \"six\"`), smoother end wheels, or more gearing".into()),
    ]
}

pub(super) fn tip_over(e: &FrameEvidence) -> Vec<Verdict> {
    let Some(w) = weighed(e.project, e.frame) else {
        return no_mass();
    };
    let h = w.centre_m[2];
    if !(h > 0.0) {
        return vec![Verdict::unknown(
            "tip-over",
            "frame.mass_height",
            "measure it: tilt the robot on two wheels until it balances and read the angle, or list the parts with their places",
        )];
    }
    let say = |v, d| e.project.say(v, d);
    let half = 0.5 * e.frame.base_m;
    let [ahead, left, _] = w.centre_m;
    let slope = e.frame.slope_rad.unwrap_or(0.0);
    let mu = e.frame.friction_coeff;
    let stance = Stance {
        mass_kg: w.mass_kg,
        height_m: h,
        front_m: half - ahead,
        rear_m: half + ahead,
    };
    let t = tipping(&stance, 0.0, h);
    // On a slope the edge that lies down the slope bears less before braking begins.
    let sides = [
        ("over the front", stance.front_m),
        ("over the rear", stance.rear_m),
        ("to the left", 0.5 * e.frame.track_m - left),
        ("to the right", 0.5 * e.frame.track_m + left),
    ];
    let Some((name, edge)) = sides.iter().min_by(|a, b| a.1.total_cmp(&b.1)).copied() else {
        return Vec::new();
    };
    // The floor holds no more than its friction, and on a slope weight pulls besides: the resultant leans by
    // atan(μ) from the upright of the floor at most, whatever the slope, as long as it does not slide.
    let lean = mu.atan();
    let bears = (edge / h).atan();
    let status = at_least(bears, lean);
    let slope_words = if slope > 0.0 {
        format!(
            "; standing on the slope of {} leans {} of that",
            say(slope, D::Angle),
            say(slope / bears, D::Ratio)
        )
    } else {
        String::new()
    };
    let braking = if status == Status::Fails {
        format!("braking or turning hard tips it {name} before the wheels slip")
    } else {
        format!("the wheels slip before it tips, {name} first")
    };
    vec![
        Verdict::new(
            "tip-over",
            "",
            if slope > bears { Status::Fails } else { status },
            format!(
                "centre of mass {} up: tips at {}, and the floor's grip leans it by {} at the most: {braking}{slope_words}; straight ahead it bears {:.1} m/s² of braking",
                say(h, D::Length),
                say(bears, D::Angle),
                say(lean, D::Angle),
                t.ahead_mps2
            ),
        )
        .numbers(D::Angle, bears, lean, bears - lean)
        .mend(format!(
            "bring heavy parts down (centre of mass below {}), spread the wheels, or ramp speed up and down in the code at {:.1} m/s² at the most",
            say(edge / mu, D::Length),
            0.8 * crate::units::STANDARD_GRAVITY_MPS2 * edge / h
        )),
    ]
}

fn no_mass() -> Vec<Verdict> {
    vec![Verdict::unknown(
        "tip-over",
        "robot.mass",
        "weigh the robot and write `mass` under [robot], or list its parts",
    )]
}

pub(super) fn parts_fit(e: &FrameEvidence) -> Vec<Verdict> {
    let (Some(room), Some(stowed)) = (allowed_block(e.project), envelope(&blocks(e.frame, false))) else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, D::Length);
    let [size, allowed] = [stowed.size_m(), room.size_m()];
    let over = |i: usize| size[i] - allowed[i];
    let worst = (0..3).max_by(|a, b| over(*a).total_cmp(&over(*b))).unwrap_or(0);
    let axis = ["length", "width", "height"][worst];
    let left_m = -over(worst);
    let status = if left_m < 0.0 {
        Status::Fails
    } else if left_m < 0.005 {
        Status::Tight
    } else {
        Status::Holds
    };
    let out = envelope(&blocks(e.frame, true)).map_or(String::new(), |b| {
        let s = b.size_m();
        if s == size {
            String::new()
        } else {
            format!("; unfolded {} x {} x {}", say(s[0]), say(s[1]), say(s[2]))
        }
    });
    vec![
        Verdict::new(
            "parts-fit",
            "",
            status,
            format!(
                "the listed parts are {} x {} x {} stowed, {axis} is the closest to its limit of {}{out}",
                say(size[0]),
                say(size[1]),
                say(size[2]),
                say(allowed[worst])
            ),
        )
        .numbers(D::Length, size[worst], allowed[worst], left_m)
        .mend("move or fold what sticks out; measure the built robot with the rule book's own method".into()),
    ]
}

pub(super) fn unfolded_fit(e: &FrameEvidence) -> Vec<Verdict> {
    let l = &e.project.limits;
    let asked = [l.unfolded_length_m, l.unfolded_width_m, l.unfolded_height_m];
    let Some(out) = envelope(&blocks(e.frame, true)) else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, D::Length);
    let size = out.size_m();
    ["length", "width", "height"]
        .into_iter()
        .zip(asked)
        .zip(size)
        .filter_map(|((axis, allowed), found)| {
            let allowed = allowed?;
            let left_m = allowed - found;
            let status = if left_m < 0.0 {
                Status::Fails
            } else if left_m < 0.005 {
                Status::Tight
            } else {
                Status::Holds
            };
            Some(
                Verdict::new(
                    "parts-unfolded",
                    axis,
                    status,
                    format!("unfolded the listed parts are {} in {axis}, {} allowed", say(found), say(allowed)),
                )
                .numbers(D::Length, found, allowed, left_m)
                .mend("let less come out (`out_ahead`, `out_left`, `out_up` of the part), or fold something else first; measure the built robot with the rule book's own method".into()),
            )
        })
        .collect()
}

/// How far a part lies inside the outline of all others, from above, at its nearest face; negative where it sticks out and would
/// be hit first. `None` without other parts.
pub fn inside_m(frame: &Frame, index: usize) -> Option<f64> {
    let all = blocks(frame, false);
    let own = all.get(index)?;
    let others: Vec<Block> = all
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != index)
        .map(|(_, b)| *b)
        .collect();
    let outline = envelope(&others)?;
    let gaps =
        [0, 1].map(|i: usize| (outline.high_m[i] - own.high_m[i]).min(own.low_m[i] - outline.low_m[i]));
    Some(gaps[0].min(gaps[1]))
}

pub(super) fn hold(e: &FrameEvidence) -> Vec<Verdict> {
    let say = |v, d| e.project.say(v, d);
    e.frame
        .parts
        .iter()
        .enumerate()
        .filter_map(|(i, p)| {
            let place = match inside_m(e.frame, i) {
                Some(m) if m < 0.0 => format!("; it sticks out of the other parts by {}: a bump hits it first", say(-m, D::Length)),
                Some(m) => format!("; it lies {} inside the outline of the other parts", say(m, D::Length)),
                None => String::new(),
            };
            let asked = jolt_n(p.mass_kg, JOLT_RATIO);
            let heavy = p.mass_kg >= HEAVY_KG;
            let Some(bears) = p.hold_n else {
                let battery = p.name.to_lowercase().contains("battery");
                return (heavy && battery).then(|| {
                    let mut v = Verdict::unknown(
                        "hold",
                        "frame.part.hold",
                        &format!("pull at its strap with a spring scale and write `hold`; {} are asked", say(asked, D::Force)),
                    );
                    v.subject = p.name.clone();
                    v
                });
            };
            Some(
                Verdict::new(
                    "hold",
                    &p.name,
                    at_least(bears, asked),
                    format!(
                        "{} in a collision of {JOLT_RATIO} times its weight pulls with {}, its fastening bears {}{place}",
                        say(p.mass_kg, D::Mass),
                        say(asked, D::Force),
                        say(bears, D::Force)
                    ),
                )
                .numbers(D::Force, bears, asked, bears - asked)
                .mend("a strap around it, a lip on the floor plate, bolts in place of hook and loop".into()),
            )
        })
        .collect()
}
