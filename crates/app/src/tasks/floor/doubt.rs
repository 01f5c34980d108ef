//! Shots that cannot be, and shots that hardly can.
//!
//! The bounds are those of bodies in free flight at the speed of the wheel's rim, with a margin for
//! what the air does: whatever lies beyond them is a slip of the pen, the tape or the unit.

use arcwright_model::finding::Finding;
use arcwright_model::launcher::Layout;
use arcwright_model::target::Outcome;
use arcwright_model::units::{Dimension as D, STANDARD_GRAVITY_MPS2};

use super::{Floor, log, tell};
use crate::store::Entry;

/// Something that speaks against a shot.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// What and how to mend it.
    pub finding: Finding,
    /// It cannot be; otherwise it is only unlikely.
    pub impossible: bool,
}

/// Physical: lift and wind carry a piece farther than free fall; not by more than this.
const AIR_RATIO: f64 = 1.3;
/// Physical: times of flight shorter than free fall by more than this share have another cause
/// than the air's drag on the way up or a thumb on a stopwatch.
const FALL_RATIO: f64 = 0.8;
/// Physical: a battery fresh from the charger is above its written voltage, not by more than this.
const FRESH_RATIO: f64 = 1.15;
/// Physical: beyond this a voltage belongs to another battery, or has its point in the wrong place.
const OTHER_BATTERY_RATIO: f64 = 1.35;
/// Physical: a wheel without load may be a little faster than its numbers say.
const FAST_RATIO: f64 = 1.05;
/// Physical: beyond this a speed belongs to another machine, or to another unit.
const OTHER_WHEEL_RATIO: f64 = 1.2;
/// Physical: a loop that holds its setpoint so badly is more likely a slip of the pen.
const OFF_SETPOINT_RATIO: f64 = 0.25;
/// Physical: an eye does not judge a miss of this many openings.
const EYE_COUNT: f64 = 6.0;
/// Rounding: knobs are written in round numbers.
const KNOB_SLACK: f64 = 1e-6;

/// Refuses an impossible shot, and an unlikely one unless it is meant.
///
/// # Errors
/// The first doubt that counts.
pub fn refuse(floor: &Floor, e: &Entry, anyway: bool) -> Result<(), Finding> {
    let mut all = doubts(floor, e);
    all.sort_by_key(|d| !d.impossible);
    match all.into_iter().find(|d| d.impossible || !anyway) {
        None => Ok(()),
        Some(d) if d.impossible => Err(d.finding),
        Some(d) => Err(Finding {
            fix: format!("{}; if it is right, say it again with --anyway", d.finding.fix),
            ..d.finding
        }),
    }
}

struct List(Vec<Doubt>);

impl List {
    fn add(&mut self, impossible: bool, key: &str, what: String, fix: &str) {
        let code = if impossible {
            "impossible-shot"
        } else {
            "unlikely-shot"
        };
        self.0.push(Doubt {
            finding: Finding::new(code, key, what, fix),
            impossible,
        });
    }
}

/// Everything that speaks against a shot.
pub fn doubts(floor: &Floor, e: &Entry) -> Vec<Doubt> {
    let mut out = List(Vec::new());
    numbers(e, &mut out);
    if !out.0.is_empty() {
        return out.0;
    }
    wheel(floor, e, &mut out);
    battery(floor, e, &mut out);
    place(floor, e, &mut out);
    flight(floor, e, &mut out);
    story(floor, e, &mut out);
    out.0
}

/// Numbers that are none, before anything is computed from them.
fn numbers(e: &Entry, out: &mut List) {
    let whole = [
        e.distance_m,
        e.offset_m,
        e.turned_rad,
        e.slide_m,
        e.tilt_rad,
        e.reach_m,
        e.setpoint_radps,
    ];
    let parts = [
        e.landing_m.map(|x| x.iter().sum::<f64>()),
        e.wall_m.map(|x| x.iter().sum()),
        e.fall.map(|(t, h)| t + h),
        e.miss_m.map(|x| x.iter().sum()),
        e.before_radps,
        e.after_radps,
        e.battery_v,
        e.exit_speed_mps,
        e.exit_angle_rad,
    ];
    if whole
        .iter()
        .copied()
        .chain(parts.into_iter().flatten())
        .any(|x| !x.is_finite())
    {
        out.add(
            true,
            "shot",
            "one of the numbers is not finite".into(),
            "write a number that was measured",
        );
    }
    let above_zero = [
        ("the distance", Some(e.distance_m)),
        ("the wheel speed", Some(e.setpoint_radps)),
        ("the time of flight", e.fall.map(|f| f.0)),
        ("the exit speed", e.exit_speed_mps),
        ("the battery voltage", e.battery_v),
        ("the speed before", e.before_radps),
    ];
    for (name, value) in above_zero {
        if value.is_some_and(|v| v <= 0.0) {
            out.add(
                true,
                name,
                format!("{name} is not above zero"),
                "write what was measured, or leave it out",
            );
        }
    }
}

/// The most that the rim can give, m/s.
fn fastest_mps(floor: &Floor, e: &Entry) -> f64 {
    let m = &floor.project.machine;
    let ratio = match m.layout {
        Layout::Guide(_) => 1.0,
        Layout::Pair(p) => p.upper_speed_ratio.max(1.0),
    };
    let speed = e.before_radps.unwrap_or(0.0).max(e.setpoint_radps);
    0.5 * m.wheel.diameter_m * speed * ratio + m.feed_speed_mps.max(0.0)
}

fn wheel(floor: &Floor, e: &Entry, out: &mut List) {
    let p = floor.project;
    let top = floor.chain().top_radps;
    let rim = |w: f64| p.say(0.5 * p.machine.wheel.diameter_m * w, D::Speed);
    let speeds = [
        ("the wheel speed", Some(e.setpoint_radps)),
        ("the speed before", e.before_radps),
        ("the speed after", e.after_radps),
    ];
    for (name, w) in speeds.into_iter().filter_map(|(n, w)| Some((n, w?))) {
        let (said, most) = (p.say(w, D::AngularSpeed), p.say(top, D::AngularSpeed));
        if w > top * OTHER_WHEEL_RATIO {
            out.add(
                true,
                name,
                format!("{name} is {said}, a rim speed of {}: this machine's wheel reaches {most} ({}) at most", rim(w), rim(top)),
                "check the number and its unit; if the machine is another now, change motor, ratio or battery in arcwright.toml",
            );
        } else if w > top * FAST_RATIO {
            out.add(
                false,
                name,
                format!("{name} is {said}, and by its numbers this machine's wheel reaches {most}"),
                "check the number",
            );
        }
        let limit = p.machine.wheel.rim_limit_mps;
        if 0.5 * p.machine.wheel.diameter_m * w > limit {
            out.add(
                false,
                name,
                format!(
                    "{name} is {said}, a rim speed of {}: the wheel is limited to {}",
                    rim(w),
                    p.say(limit, D::Speed)
                ),
                "stop and check the wheel: beyond its limit it can burst",
            );
        }
    }
    if let (Some(b), Some(a)) = (e.before_radps, e.after_radps)
        && a > b
    {
        out.add(
            true,
            "after",
            format!(
                "the wheel is faster after the throw ({}) than before it ({}): a throw takes speed from the wheel",
                p.say(a, D::AngularSpeed),
                p.say(b, D::AngularSpeed)
            ),
            "swap the two if they were called out the wrong way round; read the speed just after the throw, before it recovers",
        );
    }
    if let Some(b) = e.before_radps
        && (b / e.setpoint_radps - 1.0).abs() > OFF_SETPOINT_RATIO
    {
        out.add(
            false,
            "before",
            format!(
                "the wheel turned at {} before the throw and {} was asked for",
                p.say(b, D::AngularSpeed),
                p.say(e.setpoint_radps, D::AngularSpeed)
            ),
            "check both numbers",
        );
    }
}

fn battery(floor: &Floor, e: &Entry, out: &mut List) {
    let (p, b) = (floor.project, &floor.project.machine.battery);
    let Some(v) = e.battery_v else { return };
    let (said, open) = (p.say(v, D::Voltage), p.say(b.open_v, D::Voltage));
    if v > b.open_v * OTHER_BATTERY_RATIO {
        out.add(
            true,
            "battery",
            format!("the battery is at {said}, and this project's battery has {open}"),
            "check the decimal point (12.4 V, not 124 V) and that no other unit was meant",
        );
    } else if v > b.open_v * FRESH_RATIO || v < b.brown_out_v {
        out.add(
            false,
            "battery",
            format!(
                "the battery is at {said}; {open} is written for it, and the electronics reset at {}",
                p.say(b.brown_out_v, D::Voltage)
            ),
            "check the number",
        );
    }
}

fn place(floor: &Floor, e: &Entry, out: &mut List) {
    let p = floor.project;
    if e.place == 0 || e.volley_count.is_some_and(|n| e.place > n) {
        out.add(
            true,
            "throw",
            match e.volley_count {
                Some(n) => format!("there is no throw {} in a volley of {n}", e.place),
                None => "throws of a volley count from 1".into(),
            },
            "write the place in the volley and how many there are, such as `throw 2 of 4`",
        );
    }
    let most = p.limits.volley_count;
    let thrown = e.volley_count.unwrap_or(e.place);
    if thrown > most {
        out.add(
            false,
            "throw",
            format!("a volley of {thrown}, and the brief allows {most} pieces in one go"),
            "check the number",
        );
    }
    let knobs = [
        ("slide", e.slide_m, p.machine.knobs.slide, D::Length),
        ("tilt", e.tilt_rad, p.machine.knobs.tilt, D::Angle),
        ("reach", e.reach_m, p.machine.knobs.reach, D::Length),
    ];
    for (name, value, travel, d) in knobs {
        let Some(t) = travel else { continue };
        if value < t.low - KNOB_SLACK || value > t.high + KNOB_SLACK {
            out.add(
                false,
                name,
                format!(
                    "{name} is {}, and its travel is {} to {}",
                    p.say(value, d),
                    p.say(t.low, d),
                    p.say(t.high, d)
                ),
                "check the number, or write the true travel into arcwright.toml",
            );
        }
    }
}

fn flight(floor: &Floor, e: &Entry, out: &mut List) {
    let p = floor.project;
    let m = &p.machine;
    let g = STANDARD_GRAVITY_MPS2;
    let v = fastest_mps(floor, e);
    // The piece leaves somewhere around the wheel.
    let gap_m = match m.layout {
        Layout::Guide(s) => s.gap_m,
        Layout::Pair(s) => 2.0 * s.gap_m + m.wheel.diameter_m,
    };
    let around_m = m.wheel.diameter_m + gap_m.abs() + e.reach_m.abs();
    let (low_m, high_m) = ((m.axle_height_m - around_m).max(0.0), m.axle_height_m + around_m);
    let say = |x, d| p.say(x, d);
    let at = format!("at {}", say(e.setpoint_radps, D::AngularSpeed));
    if let Some([along, across, height]) = e.landing_m {
        if along <= 0.0 {
            out.add(
                true,
                "land",
                format!("it landed {} behind the wheel axle", say(-along, D::Length)),
                "measure from the plumb line of the wheel axle forward, along the target's axis",
            );
        }
        // Greatest range in free flight from a height.
        let range_m = v / g * (v * v + 2.0 * g * (high_m - height).max(0.0)).sqrt() * AIR_RATIO + around_m;
        if along.hypot(across) > range_m {
            out.add(
                true,
                "land",
                format!(
                    "it landed {} away; {at} no piece flies farther than {}",
                    say(along.hypot(across), D::Length),
                    say(range_m, D::Length)
                ),
                "check the number and its unit (mm, cm or m), and the wheel speed",
            );
        }
        if across.abs() > along.abs() {
            out.add(
                false,
                "land",
                "it landed more to the side than forward".into(),
                "check the sideways amount and its unit",
            );
        }
    }
    if let Some([to_wall, height]) = e.wall_m {
        let top_m = high_m + v * v / (2.0 * g) * AIR_RATIO;
        if height < 0.5 * p.piece.diameter_m {
            out.add(
                true,
                "wall",
                format!(
                    "its centre met the wall {} up, and half a piece is {}",
                    say(height, D::Length),
                    say(0.5 * p.piece.diameter_m, D::Length)
                ),
                "write the height of the piece's centre above the floor",
            );
        }
        if height > top_m || height > p.target.ceiling_m {
            let most = say(top_m.min(p.target.ceiling_m), D::Length);
            out.add(
                true,
                "wall",
                format!(
                    "it met the wall {} up; {at} no piece rises above {most}",
                    say(height, D::Length)
                ),
                "check the number and its unit, and the wheel speed",
            );
        }
        if to_wall <= 0.0 {
            out.add(
                true,
                "wall",
                "the wall is not in front of the wheel axle".into(),
                "write the distance from the wheel axle to the wall, such as `wall 1.35m at 4.1m`",
            );
        }
    }
    if let Some((time, height)) = e.fall {
        // To come down through a height it must first have risen to it, or fall from the exit to it.
        let fall_m = (low_m - height).max(height - high_m).max(0.0);
        let target = &p.target;
        let through = target.upright() && (height - target.centre_height_m()).abs() < 1e-4;
        let least_s = FALL_RATIO
            * if through {
                // It may go straight through an upright opening, but not faster than it leaves.
                (e.distance_m - around_m).max(0.0) / v
            } else {
                (2.0 * fall_m / g).sqrt()
            };
        let rise_m = (high_m - height).max(0.0);
        let most_s = (v + (v * v + 2.0 * g * rise_m).sqrt()) / g * AIR_RATIO;
        let rises = if height > high_m {
            "rises that high and comes down through it"
        } else {
            "falls from the launcher to it"
        };
        if time < least_s {
            out.add(
                true,
                "fall",
                if through {
                    format!(
                        "a time of {} to the opening: {at} no piece is there in less than {}",
                        say(time, D::Time),
                        say(least_s / FALL_RATIO, D::Time)
                    )
                } else {
                    format!(
                        "a time of {} down to {}: in free fall nothing {rises} in less than {}",
                        say(time, D::Time),
                        say(height, D::Length),
                        say(least_s / FALL_RATIO, D::Time)
                    )
                },
                "check the number, and where the time ended (`to rim`, `to floor`)",
            );
        } else if time > most_s {
            out.add(
                true,
                "fall",
                format!(
                    "a time of {}: {at} no piece stays up longer than {}",
                    say(time, D::Time),
                    say(most_s, D::Time)
                ),
                "check the number and its unit (s or ms)",
            );
        }
        if height < 0.0 || height > high_m + v * v / (2.0 * g) * AIR_RATIO {
            out.add(
                true,
                "fall",
                format!(
                    "the time ended {} up, where no piece comes",
                    say(height, D::Length)
                ),
                "check the height and its unit",
            );
        }
    }
    if let Some(speed) = e.exit_speed_mps
        && speed > v * FAST_RATIO
    {
        out.add(
            true,
            "exit",
            format!(
                "it left at {}, and the rim of the wheel itself does not go faster than {}",
                say(speed, D::Speed),
                say(v, D::Speed)
            ),
            "check the scale of the film and its frames per second",
        );
    }
    if e.exit_angle_rad
        .is_some_and(|a| a.abs() > std::f64::consts::FRAC_PI_2)
    {
        out.add(
            true,
            "exit",
            "the exit angle is beyond straight up or straight down".into(),
            "write the angle above the level, -90 to 90 deg",
        );
    }
}

/// What was seen must fit together.
fn story(floor: &Floor, e: &Entry, out: &mut List) {
    let p = floor.project;
    if e.jammed && (e.outcome.is_some() || e.landing_m.is_some() || e.miss_m.is_some() || e.fall.is_some()) {
        out.add(
            true,
            "jam",
            format!("it jammed and was thrown as well ({})", tell::seen(p, e)),
            "log the jam and the throw as two shots",
        );
    }
    if let Some([along, across]) = e.miss_m {
        if along < -(e.distance_m + 0.5 * p.target.depth_m) {
            out.add(
                true,
                "short",
                format!(
                    "{} before the centre is behind the robot",
                    p.say(-along, D::Length)
                ),
                "check the number and its unit",
            );
        } else if along.abs() > EYE_COUNT * p.target.depth_m.max(0.5)
            || across.abs() > EYE_COUNT * p.target.width_m.max(0.5)
        {
            out.add(
                false,
                "miss",
                format!("a miss of {} by eye", p.say(along.hypot(across), D::Length)),
                "check the number and its unit; far away, a tape says more: `land 4.2m`",
            );
        }
        let against = match e.outcome {
            Some(Outcome::In) => log::outcome_of_miss(p, [along, across]).is_some(),
            Some(Outcome::Short) => along > 0.0,
            Some(Outcome::Long) => along < 0.0,
            Some(Outcome::Left) => across < 0.0,
            Some(Outcome::Right) => across > 0.0,
            _ => false,
        };
        if against {
            out.add(
                true,
                "outcome",
                format!("what became of it and the miss by eye contradict each other ({})", tell::seen(p, e)),
                "amounts are from the centre of the opening; take one of them out (`without miss`, `without outcome`) or correct it",
            );
        }
    }
    if let Some([along, _, _]) = e.landing_m {
        let near = along < e.distance_m;
        if e.outcome == Some(Outcome::In) && p.target.rim_height_m > p.piece.diameter_m {
            out.add(
                false,
                "land",
                "it went in and landed on the floor as well".into(),
                "a landing is where a piece came down that did not go in",
            );
        } else if e.outcome == Some(Outcome::Long) && near {
            out.add(
                false,
                "land",
                "it went long and landed before the near rim".into(),
                "check the landing and the spot; a piece that bounced back has no landing",
            );
        }
    }
}

#[cfg(test)]
#[path = "doubt_tests.rs"]
mod tests;
