//! What is wrong between values that are each right alone.
//!
//! Every check is quiet where a number it needs is NaN (not written yet): comparisons are phrased so
//! that NaN makes them false.

use super::{KnobTravel, Project, gap_at_m, gap_m};
use crate::finding::Finding;
use crate::launcher::motor::motor_constants;
use crate::launcher::planar::MOST_WAVES_COUNT;
use crate::launcher::{GuideError, Layout, MotorSheet, PartShape};
use crate::units::Dimension as D;
use crate::units::STANDARD_GRAVITY_MPS2;
use crate::units::show::{self, Scale};

/// Common practice, no source: a squeeze of a tenth of the diameter is a good first try.
const FIRST_SQUEEZE_RATIO: f64 = 0.1;
/// Judgement: a piece pressed to less than this share of itself is crushed, not thrown.
const DEEPEST_SQUEEZE_RATIO: f64 = 0.6;
/// Believable torque per ampere over volts per rad/s: 1 for an ideal sheet. Judgement.
const KAPPA: [f64; 2] = [0.85, 1.15];
/// Rounding: a setting this close to a step, as a share of the step, is on it.
const ON_STEP_RATIO: f64 = 1e-6;

/// Everything wrong with a project as a whole.
pub fn findings(project: &Project) -> Vec<Finding> {
    let mut out = Vec::new();
    for check in [
        squeeze,
        entry_squeeze,
        guide_wave,
        measured_gaps,
        holes,
        seam,
        opening,
        ceiling,
        reach,
        spots,
        parts,
        knobs,
        motor,
        battery,
        super::order::check,
    ] {
        check(project, &mut out);
    }
    out
}

impl Project {
    /// A length as it is written for parts.
    fn small(&self, value_m: f64) -> String {
        show::text(value_m, D::Length, Scale::Small, self.units)
    }

    fn large(&self, value_m: f64) -> String {
        show::text(value_m, D::Length, Scale::Large, self.units)
    }

    fn small_pair(&self, a: f64, b: f64) -> [String; 2] {
        show::pair(a, b, D::Length, Scale::Small, self.units)
    }

    fn large_pair(&self, a: f64, b: f64) -> [String; 2] {
        show::pair(a, b, D::Length, Scale::Large, self.units)
    }
}

pub(super) fn squeeze(p: &Project, out: &mut Vec<Finding>) {
    let (gap, piece) = (gap_m(p), p.piece.diameter_m);
    let first = FIRST_SQUEEZE_RATIO * piece;
    let fix = format!(
        "start with a squeeze of a tenth of the piece: `squeeze = \"{}\"` or `gap = \"{}\"`",
        p.small(first),
        p.small(piece - first)
    );
    let [gap_text, piece_text] = p.small_pair(gap, piece);
    if gap >= piece {
        out.push(Finding::new(
            "gap-too-wide",
            "launcher.gap",
            format!("the gap is {gap_text} and the piece {piece_text}: nothing presses it against the wheel"),
            fix,
        ));
    } else if piece - gap >= DEEPEST_SQUEEZE_RATIO * piece {
        let [found, most] = p.small_pair(piece - gap, DEEPEST_SQUEEZE_RATIO * piece);
        out.push(Finding::new(
            "squeeze-too-deep",
            "launcher.squeeze",
            format!(
                "the piece of {piece_text} is squeezed by {found} (gap {gap_text}); less than {most} can be thrown"
            ),
            fix,
        ));
    }
}

/// The squeeze where the piece comes in, where that is another than at the end.
fn entry_squeeze(p: &Project, out: &mut Vec<Finding>) {
    let Layout::Guide(guide) = p.machine.layout else {
        return;
    };
    let (gap, piece, relief) = (guide.gap_at_m(0.0), p.piece.diameter_m, guide.entry_relief_m);
    if relief == 0.0 || guide.gap_m >= piece {
        return;
    }
    let [squeeze_text, least] = p.small_pair(p.squeeze_m(), DEEPEST_SQUEEZE_RATIO * piece);
    if gap >= piece {
        let [relief_text, gap_text] = p.small_pair(relief, gap);
        out.push(Finding::new(
            "gap-too-wide",
            "launcher.entry_relief",
            format!(
                "with `launcher.entry_relief` of {relief_text} the gap is {gap_text} where the piece comes in: nothing presses it against the wheel there"
            ),
            format!("write less than the squeeze of {squeeze_text}; a third of it is a good first try"),
        ));
    } else if piece - gap >= DEEPEST_SQUEEZE_RATIO * piece {
        let [found, most] = p.small_pair(piece - gap, DEEPEST_SQUEEZE_RATIO * piece);
        out.push(Finding::new(
            "squeeze-too-deep",
            "launcher.entry_relief",
            format!(
                "with `launcher.entry_relief` the piece is squeezed by {found} where it comes in; less than {most} can be thrown"
            ),
            format!("write it nearer to 0: squeeze less relief must stay below {least}"),
        ));
    }
}

fn guide_wave(p: &Project, out: &mut Vec<Finding>) {
    let Layout::Guide(guide) = p.machine.layout else {
        return;
    };
    let (amplitude_m, wavelength_m) = match p.machine.guide_error {
        GuideError::None => (0.0, f64::NAN),
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            ..
        } => (amplitude_m, wavelength_m),
        GuideError::Gaps { .. } => return,
    };
    let strays = amplitude_m != 0.0 || p.spreads.contains_key("launcher.guide_error");
    if strays && wavelength_m.is_nan() {
        out.push(Finding::new(
            "missing-key",
            "launcher.guide_wavelength",
            "`launcher.guide_wavelength` is missing: where `guide_error` is written, the distance from one high \
             spot to the next is needed"
                .to_string(),
            "add `guide_wavelength = \"90 mm\"` with your own value under [launcher]: hold a template of the arc \
             against the guide and measure from hump to hump"
                .to_string(),
        ));
    }
    let arc_m = guide.arc_m(0.5 * p.machine.wheel.diameter_m);
    let least_m = arc_m / MOST_WAVES_COUNT;
    if wavelength_m < least_m {
        let [found, least] = p.small_pair(wavelength_m, least_m);
        out.push(Finding::new(
            "out-of-range",
            "launcher.guide_wavelength",
            format!(
                "`launcher.guide_wavelength` is {found}, below the {least} that makes sense on a guide of {}",
                p.small(arc_m)
            ),
            "measure from one high spot to the next; finer roughness belongs in `guide_friction`".to_string(),
        ));
    }
}

fn measured_gaps(p: &Project, out: &mut Vec<Finding>) {
    let GuideError::Gaps { count, added_m } = p.machine.guide_error else {
        return;
    };
    let piece = p.piece.diameter_m;
    let last = count.saturating_sub(1).max(1) as f64;
    for (i, added) in added_m.iter().take(count).enumerate() {
        let meant = gap_at_m(p, i as f64 / last);
        if meant + added >= piece {
            let [found, most] = p.small_pair(meant + added, piece);
            out.push(Finding::new(
                "gap-too-wide",
                "launcher.gaps",
                format!(
                    "`launcher.gaps[{i}]` is {found} and the piece {most}: nothing presses it against the wheel there"
                ),
                format!("measure that place again, or bend the guide in: the gap meant is {}", p.small(meant)),
            ));
        }
    }
}

fn holes(p: &Project, out: &mut Vec<Finding>) {
    let Some(holes) = p.piece.holes else { return };
    let piece = p.piece.diameter_m;
    if holes.diameter_m >= piece {
        let [found, most] = p.small_pair(holes.diameter_m, piece);
        out.push(Finding::new(
            "holes-too-large",
            "piece.hole_diameter",
            format!("the holes are {found} across, not below the {most} of the piece itself"),
            "measure one hole with calipers; the value is the diameter of a single hole".to_string(),
        ));
        return;
    }
    // Flat discs against the sphere's surface: n π d²/4 over π D².
    let share = f64::from(holes.count) * (holes.diameter_m / piece).powi(2) / 4.0;
    if share >= 1.0 {
        let most = (4.0 * (piece / holes.diameter_m).powi(2)).ceil() - 1.0;
        out.push(Finding::new(
            "holes-too-large",
            "piece.hole_diameter",
            format!(
                "{} holes of {} have {} of the area of the whole skin; it must be below 100 %",
                holes.count,
                p.small(holes.diameter_m),
                show::text(share, D::Ratio, Scale::Auto, p.units)
            ),
            format!("count the holes again (at most {most:.0} of this size) or measure one again"),
        ));
    }
}

fn seam(p: &Project, out: &mut Vec<Finding>) {
    let Some(seam) = p.piece.seam else { return };
    for (there, missing, example) in [
        (seam.width_m, "seam_depth", "0.5 mm"),
        (seam.depth_m, "seam_width", "2 mm"),
    ] {
        let other = if missing == "seam_depth" {
            seam.depth_m
        } else {
            seam.width_m
        };
        if !there.is_nan() && other.is_nan() {
            out.push(Finding::new(
                "half-a-seam",
                format!("piece.{missing}"),
                format!("the seam has no `{missing}`: width and depth are needed together"),
                format!(
                    "add `{missing} = \"{example}\"` with your own value under [piece], or take the other out"
                ),
            ));
        }
    }
    let piece = p.piece.diameter_m;
    for (key, name, size, most) in [
        ("piece.seam_width", "width", seam.width_m, piece),
        ("piece.seam_depth", "depth", seam.depth_m, 0.5 * piece),
    ] {
        if size >= most {
            let [found, most] = p.small_pair(size, most);
            out.push(Finding::new(
                "seam-too-large",
                key,
                format!("the seam's {name} is {found}, not below the {most} that the piece has"),
                "measure the groove with calipers; for a piece without one take both lines out".to_string(),
            ));
        }
    }
}

fn opening(p: &Project, out: &mut Vec<Finding>) {
    let piece = p.piece.diameter_m;
    let smaller = if p.target.depth_m < p.target.width_m {
        ("target.depth", "depth", p.target.depth_m)
    } else {
        ("target.width", "width", p.target.width_m)
    };
    let (key, side, size) = smaller;
    if size <= piece {
        let [found, least] = p.small_pair(size, piece);
        out.push(Finding::new(
            "opening-too-small",
            key,
            format!("the opening's {side} is {found}, and the piece of {least} does not pass"),
            format!("write a `{side}` above {least}, or check `diameter` under [piece]"),
        ));
    }
}

fn ceiling(p: &Project, out: &mut Vec<Finding>) {
    let top = p.target.rim_height_m + p.target.depth_m * p.target.tilt_rad.sin();
    if top >= p.target.ceiling_m {
        let [found, most] = p.large_pair(top, p.target.ceiling_m);
        out.push(Finding::new(
            "rim-above-ceiling",
            "target.ceiling",
            format!("the opening's highest point is {found} up, and the ceiling is at {most}"),
            format!("write a `ceiling` above {found}, lower the opening, or take `ceiling` out"),
        ));
    }
}

/// Top speed of the wheel on a full battery that does not sag: nothing turns faster.
///
/// ```text
/// w = (V − R I₀)/(k_E G)        R, k_E of [`motor_constants`]
/// ```
fn top_wheel_radps(p: &Project) -> f64 {
    let drive = &p.machine.drive;
    let m = motor_constants(&drive.motor);
    (p.machine.battery.open_v - m.resistance_ohm * m.free_a) / (m.ke_v_per_radps * drive.gear_ratio)
}

/// Height that no piece passes: energy of a piece that rolls out at the wheel's top speed without
/// loss, straight up from the highest place where it can leave.
struct Reach {
    /// Highest place where it can leave.
    from_m: f64,
    /// Exit speed over wheel speed, metres per radian.
    speed_per_turning_m: f64,
}

fn reach_of(p: &Project) -> Reach {
    let radius = 0.5 * p.machine.wheel.diameter_m;
    let share = match p.machine.layout {
        // Rolling between a moving and a fixed surface: half the speed of the moving one.
        Layout::Guide(_) => 0.5,
        Layout::Pair(pair) => 0.5 * (1.0 + pair.upper_speed_ratio),
    };
    Reach {
        from_m: p.machine.axle_height_m + radius + p.piece.diameter_m + p.machine.setting.reach_m.max(0.0),
        speed_per_turning_m: share * radius * p.machine.speed_transfer_ratio,
    }
}

fn reach(p: &Project, out: &mut Vec<Finding>) {
    let top = top_wheel_radps(p);
    let Reach {
        from_m,
        speed_per_turning_m,
    } = reach_of(p);
    let highest_m = from_m + (speed_per_turning_m * top).powi(2) / (2.0 * STANDARD_GRAVITY_MPS2);
    let rim_m = p.target.rim_height_m;
    if rim_m > highest_m {
        let [found, most] = p.large_pair(rim_m, highest_m);
        let needed = (2.0 * STANDARD_GRAVITY_MPS2 * (rim_m - from_m)).sqrt() / speed_per_turning_m;
        let [needed_text, top_text] = show::pair(needed, top, D::AngularSpeed, Scale::Auto, p.units);
        out.push(Finding::new(
            "rim-out-of-reach",
            "target.rim_height",
            format!("the rim is {found} up, and at the wheel's top speed of {top_text} no piece rises above {most}"),
            format!(
                "check the height and its unit first; if it is right, the wheel must reach far more than \
                 {needed_text}: a `ratio` under [motor] well below {}, a faster motor, or a larger wheel",
                show::text(p.machine.drive.gear_ratio * top / needed, D::Number, Scale::Auto, p.units)
            ),
        ));
    }
}

fn spots(p: &Project, out: &mut Vec<Finding>) {
    for (i, spot) in p.spots.iter().enumerate() {
        if spot.distance_m <= 0.0 {
            out.push(Finding::new(
                "spot-behind-target",
                format!("spot[{i}].distance"),
                format!(
                    "spot \"{}\" is {} from the rim; it must be above {}",
                    super::lower::clip(&spot.name),
                    p.large(spot.distance_m),
                    p.large(0.0)
                ),
                "measure from below the wheel axle forward to the near rim; the distance is positive"
                    .to_string(),
            ));
        }
        let twin = p.spots.iter().take(i).any(|s| s.name == spot.name);
        if twin && !spot.name.is_empty() {
            let name = super::lower::clip(&spot.name);
            out.push(Finding::new(
                "twin-spots",
                format!("spot[{i}].name"),
                format!("two spots are called \"{name}\""),
                format!("give each its own name, such as \"{}\"", free_name(p, &name)),
            ));
        }
    }
}

/// A name no spot has.
fn free_name(p: &Project, name: &str) -> String {
    let taken = |n: &String| p.spots.iter().any(|s| s.name == *n);
    (2..)
        .map(|i| format!("{name} {i}"))
        .find(|n| !taken(n))
        .unwrap_or_default()
}

fn parts(p: &Project, out: &mut Vec<Finding>) {
    for (i, part) in p.machine.parts.iter().enumerate() {
        let PartShape::Annulus { outer_m, inner_m, .. } = part.shape else {
            continue;
        };
        if inner_m >= outer_m {
            let [found, most] = p.small_pair(2.0 * inner_m, 2.0 * outer_m);
            out.push(Finding::new(
                "bore-too-large",
                format!("wheel.part[{i}].inner_diameter"),
                format!("the inner diameter is {found}, not below the outer {most}"),
                "swap the two, or measure again".to_string(),
            ));
        }
    }
}

pub(super) fn knobs(p: &Project, out: &mut Vec<Finding>) {
    let (k, s) = (&p.machine.knobs, &p.machine.setting);
    let all = [
        ("slide", k.slide, s.slide_m, D::Length),
        ("tilt", k.tilt, s.tilt_rad, D::Angle),
        ("reach", k.reach, s.reach_m, D::Length),
    ];
    for (name, travel, value, dimension) in all {
        if let Some(travel) = travel {
            knob(p, name, &travel, value, dimension, out);
        }
    }
}

fn knob(p: &Project, name: &str, travel: &KnobTravel, value: f64, dimension: D, out: &mut Vec<Finding>) {
    let pair = |a, b| show::pair(a, b, dimension, Scale::Small, p.units);
    let KnobTravel { low, high, step, .. } = *travel;
    if low >= high {
        let [l, h] = pair(high, low);
        let (what, fix) = if low > high {
            (
                "runs backwards".to_string(),
                format!("write the lower value first: `range = [\"{l}\", \"{h}\"]`"),
            )
        } else {
            (
                "has no length".to_string(),
                format!("write two different values, or take [knobs.{name}] out"),
            )
        };
        out.push(Finding::new(
            "travel-reversed",
            format!("knobs.{name}.range"),
            format!("the travel from {h} to {l} {what}"),
            fix,
        ));
        return;
    }
    if value < low || value > high {
        let end = if value < low { low } else { high };
        let [found, edge] = pair(value, end);
        let side = if value < low { "below" } else { "above" };
        out.push(Finding::new(
            "setting-outside-travel",
            format!("setting.{name}"),
            format!("`{name}` stands at {found}, {side} the {edge} where its travel ends"),
            format!("write `{name} = \"{edge}\"`, or widen `range` under [knobs.{name}]"),
        ));
        return;
    }
    let steps = (value - low) / step;
    if step > 0.0 && (steps - steps.round()).abs() > ON_STEP_RATIO {
        let (below, above) = (low + steps.floor() * step, low + steps.ceil() * step);
        let [found, near_below] = pair(value, below);
        let mut near = vec![format!("\"{near_below}\"")];
        if above <= high {
            let [_, near_above] = pair(value, above);
            near.push(format!("\"{near_above}\""));
        }
        out.push(Finding::new(
            "setting-off-step",
            format!("setting.{name}"),
            format!(
                "`{name}` stands at {found}, between two of its steps of {}",
                show::text(step, dimension, Scale::Small, p.units)
            ),
            format!("write `{name} = {}`", near.join(&format!("` or `{name} = "))),
        ));
    }
}

fn motor(p: &Project, out: &mut Vec<Finding>) {
    sheet(p, "motor", &p.machine.drive.motor, out);
    if let Some(m) = p.frame.as_ref().and_then(|f| f.motor.as_ref()) {
        sheet(p, "frame.motor", &m.sheet, out);
    }
}

/// A motor's sheet, in the table of that name.
fn sheet(p: &Project, table: &str, m: &MotorSheet, out: &mut Vec<Finding>) {
    let amps = |a, b| show::pair(a, b, D::Current, Scale::Auto, p.units);
    if m.free_a >= m.stall_a {
        let [found, most] = amps(m.free_a, m.stall_a);
        out.push(Finding::new(
            "free-above-stall",
            format!("{table}.free_current"),
            format!("the free current is {found}, not below the stall current of {most}"),
            format!("swap the two if they changed places: `free_current = \"{most}\"` and `stall_current = \"{found}\"`"),
        ));
        return;
    }
    let constants = motor_constants(m);
    let kappa = constants.kappa_ratio;
    let [low, high] = KAPPA;
    if kappa < low || kappa > high {
        let fitting_nm = constants.ke_v_per_radps * (m.stall_a - m.free_a);
        let torque = |v| show::text(v, D::Torque, Scale::Auto, p.units);
        let speed = show::text(
            m.free_radps * kappa.recip(),
            D::AngularSpeed,
            Scale::Auto,
            p.units,
        );
        out.push(Finding::new(
            "sheet-contradicts",
            format!("{table}.stall_torque"),
            format!(
                "the motor's sheet contradicts itself: a stall torque of {} is {} times what its voltage, \
                 speed and currents give; {low} to {high} times is believable",
                torque(m.stall_nm),
                show::text(kappa, D::Number, Scale::Auto, p.units)
            ),
            format!(
                "read all five values again, at one voltage; with the others right, the stall torque would be \
                 {} or the free speed {speed}",
                torque(fitting_nm)
            ),
        ));
    }
}

fn battery(p: &Project, out: &mut Vec<Finding>) {
    let b = &p.machine.battery;
    if b.open_v <= b.brown_out_v {
        let [found, least] = show::pair(b.open_v, b.brown_out_v, D::Voltage, Scale::Auto, p.units);
        out.push(Finding::new(
            "battery-below-reset",
            "battery.open_voltage",
            format!("the battery has {found} with nothing switched on, not above the {least} at which electronics reset"),
            format!("write the battery's own voltage, above {least}, or the right `brown_out`"),
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::project::blank::{Outfit, project};

    #[test]
    fn a_project_in_which_nothing_is_written_yet_has_nothing_that_contradicts() {
        let outfit = Outfit {
            spots: 2,
            parts: 2,
            sheet: true,
            knobs: [true; 3],
            ..Outfit::default()
        };
        assert_eq!(findings(&project(&outfit)), []);
    }
}
