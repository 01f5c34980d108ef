//! A piece filmed in flight: exit speed and angle, drag and lift from points of any tracker.

mod check;
mod solve;

#[cfg(test)]
mod tests;

use crate::finding::Finding;
use crate::flight::{Ball, Lift, Medium};
use crate::numerics::student::two_sided;

use super::telemetry::Estimate;
pub use check::Doubt;
use solve::{Fitted, Free, fit};

/// Method: share of the films in which an interval is to hold the truth.
const CONFIDENCE: f64 = 0.95;
/// Method: four numbers of the start take four coordinates; three points give six, less tells nothing.
const LEAST_POINTS: usize = 4;
/// Method: a point this many times the usual distance off the path is a slip of the tracker.
const SLIP_RATIO: f64 = 6.0;
/// Method: at most this share of the points may be left out as slips.
const MOST_SLIPS_FRAC: f64 = 0.2;
/// Method: something is learned from the film when its interval is this share narrower than what was known before.
const LEARNED_FRAC: f64 = 0.7;
/// Physical: a lift law for a piece that has none: CL = S, so that the spin parameter found is the coefficient.
const PLAIN_LIFT: Lift = Lift::Linear { slope_coeff: 1.0 };
/// Physical: points within a millimetre of each other all along show no flight.
const LEAST_TRAVEL_M: f64 = 0.01;

/// A point of the film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Time.
    pub time_s: f64,
    /// Along the level, either way.
    pub x_m: f64,
    /// Height, upward.
    pub z_m: f64,
}

/// How points of a picture become metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PictureScale {
    /// A length in the plane of flight.
    pub length_m: f64,
    /// The same in the picture.
    pub length_px: f64,
    /// The picture's second coordinate grows downward.
    pub y_down: bool,
    /// Height of the first point.
    pub first_height_m: f64,
}

/// Points of a picture, `[time, x, y]`, in metres.
///
/// # Errors
/// A scale that is not a positive number.
pub fn from_picture(points: &[[f64; 3]], scale: &PictureScale) -> Result<Vec<Point>, Finding> {
    let m_per_px = scale.length_m / scale.length_px;
    let sane = [scale.length_m, scale.length_px, m_per_px]
        .iter()
        .all(|x| x.is_finite() && *x > 0.0);
    if !sane || !scale.first_height_m.is_finite() {
        return Err(Finding::new(
            "film-scale",
            "scale",
            format!(
                "a scale of {} m = {} px gives no size",
                scale.length_m, scale.length_px
            ),
            "measure a known length in the picture, in the plane of flight: --scale \"1 m = 412 px\"",
        ));
    }
    let up = if scale.y_down { -m_per_px } else { m_per_px };
    let first_y = points.first().map_or(0.0, |p| p[2]);
    Ok(points
        .iter()
        .map(|[time_s, x, y]| Point {
            time_s: *time_s,
            x_m: x * m_per_px,
            z_m: scale.first_height_m + (y - first_y) * up,
        })
        .collect())
}

/// What is known before the film, mean and standard deviation; `None` if nothing is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// Multiplier on the piece's own drag.
    pub drag_ratio: Option<[f64; 2]>,
    /// Spin parameter S = r w/|V| at the first point, backspin positive.
    pub spin_ratio: Option<[f64; 2]>,
}

/// Physical: drag of a piece from a table is known to about a third; spin of a throw from one wheel and a fixed
/// guide is between none and rolling, from two wheels either way.
pub const USUALLY_KNOWN: Known = Known {
    drag_ratio: Some([1.0, 0.35]),
    spin_ratio: Some([0.2, 0.3]),
};

/// What a film says.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// Speed at the first point.
    pub speed_mps: Estimate,
    /// Direction there above the level.
    pub angle_rad: Estimate,
    /// Multiplier on the piece's own drag.
    pub drag_ratio: Estimate,
    /// The film says more about drag than was known before.
    pub drag_learned: bool,
    /// Drag coefficient at the first point.
    pub drag_coeff: Estimate,
    /// Lift coefficient at the first point, upward positive.
    pub lift_coeff: Estimate,
    /// The film says more about lift than was known before.
    pub lift_learned: bool,
    /// Gravity, when it is fitted as well: a test of scale and frame rate.
    pub gravity_mps2: Option<Estimate>,
    /// Root mean square distance of the points from the path.
    pub residual_rms_m: f64,
    /// Distance of each point from the path, along and up; empty rows are points that were left out.
    pub residuals_m: Vec<Option<[f64; 2]>>,
    /// The path fitted, at the times of the points and between.
    pub path_m: Vec<[f64; 2]>,
    /// The points used or not, in the order of time.
    pub points: Vec<Point>,
    /// The piece flies toward falling x.
    pub mirrored: bool,
    /// What to doubt, worst first.
    pub doubts: Vec<Doubt>,
}

/// Fits a flight to the points of a film.
///
/// ```text
/// minimise Σ |p_i − p(t_i; x0, z0, v, θ, d, S)|²/σ² + ((d − d0)/s_d)² + ((S − S0)/s_S)²
/// ```
///
/// with the flight of [`crate::flight::fly`] from the first point at speed v and angle θ, its drag times d, its spin
/// S v/r about the level axis. Levenberg-Marquardt \[marquardt-1963\] with central differences; σ from what the fit
/// leaves; intervals by Student's t at 95 %. A piece without a lift law gets CL = S. Points far off the path
/// (six times the usual distance) are left out, one in five at most.
///
/// The piece flies in one plane that the camera sees squarely; wind only along it.
///
/// # Errors
/// Fewer than four points, numbers that are not finite, times that are equal or go back, points that stand still,
/// a picture upside down, a piece without mass or size, or a fit that does not settle.
pub fn learn_film(points: &[Point], ball: &Ball, medium: &Medium, known: &Known) -> Result<Film, Finding> {
    let (points, mirrored) = sound(points, ball, medium)?;
    let mut ball = *ball;
    if matches!(ball.lift, Lift::None) {
        ball.lift = PLAIN_LIFT;
    }
    let mut used = vec![true; points.len()];
    let mut fitted = fit(&points, &used, &ball, medium, known, Free::Flight)?;
    for _ in 0..3 {
        if !drop_slips(&fitted, &mut used) {
            break;
        }
        fitted = fit(&points, &used, &ball, medium, known, Free::Flight)?;
    }
    let gravity = fit(&points, &used, &ball, medium, known, Free::Gravity).ok();
    let gravity_mps2 = gravity
        .as_ref()
        .map(|f| interval(f, 6))
        .filter(|g| g.value.is_finite() && g.high.is_finite());
    let [speed_mps, angle_rad, drag_ratio, spin_ratio] = [2, 3, 4, 5].map(|i| interval(&fitted, i));
    let own_drag = solve::drag_at(&ball, medium, speed_mps.value);
    let lift = |s: f64| crate::flight::lift_coeff(&ball.lift, s.abs()) * s.signum();
    let narrower = |known: Option<[f64; 2]>, i: usize| {
        known.is_none_or(|[_, sd]| fitted.sd.get(i).is_some_and(|own| *own < LEARNED_FRAC * sd))
    };
    let mut film = Film {
        speed_mps,
        angle_rad,
        drag_ratio,
        drag_learned: narrower(known.drag_ratio, 4),
        drag_coeff: Estimate {
            value: drag_ratio.value * own_drag,
            low: drag_ratio.low * own_drag,
            high: drag_ratio.high * own_drag,
        },
        lift_coeff: Estimate {
            value: lift(spin_ratio.value),
            low: lift(spin_ratio.low),
            high: lift(spin_ratio.high),
        },
        lift_learned: narrower(known.spin_ratio, 5),
        gravity_mps2,
        residual_rms_m: fitted.rms_m,
        residuals_m: fitted
            .residuals_m
            .iter()
            .zip(&used)
            .map(|(r, used)| used.then_some(*r))
            .collect(),
        path_m: fitted.path_m.clone(),
        points,
        mirrored,
        doubts: Vec::new(),
    };
    film.doubts = check::doubts(&film, medium);
    Ok(film)
}

fn interval(fitted: &Fitted, i: usize) -> Estimate {
    let value = fitted.values.get(i).copied().unwrap_or(f64::NAN);
    let half =
        two_sided(fitted.degrees_of_freedom, CONFIDENCE) * fitted.sd.get(i).copied().unwrap_or(f64::NAN);
    Estimate {
        value,
        low: value - half,
        high: value + half,
    }
}

/// Leaves out points far off; true when any went.
fn drop_slips(fitted: &Fitted, used: &mut [bool]) -> bool {
    let off = |r: &[f64; 2]| r[0].hypot(r[1]);
    let mut kept: Vec<f64> = fitted
        .residuals_m
        .iter()
        .zip(used.iter())
        .filter(|(_, used)| **used)
        .map(|(r, _)| off(r))
        .collect();
    kept.sort_by(f64::total_cmp);
    let usual = kept.get(kept.len() / 2).copied().unwrap_or(0.0);
    let spare = (MOST_SLIPS_FRAC * used.len() as f64) as usize;
    let out = used.iter().filter(|u| !**u).count();
    let mut worst: Vec<(usize, f64)> = fitted
        .residuals_m
        .iter()
        .enumerate()
        .filter(|(i, r)| used.get(*i) == Some(&true) && off(r) > SLIP_RATIO * usual && usual > 0.0)
        .map(|(i, r)| (i, off(r)))
        .collect();
    worst.sort_by(|a, b| b.1.total_cmp(&a.1));
    // The worst one bends the path toward itself, so one at a time near it looks bad as well.
    let mut any = false;
    for (i, _) in worst.into_iter().take(1.min(spare.saturating_sub(out))) {
        if let Some(u) = used.get_mut(i) {
            *u = false;
            any = true;
        }
    }
    any
}

fn refuse(code: &'static str, what: impl Into<String>, fix: &str) -> Finding {
    Finding::new(code, "film", what, fix)
}

/// The points when they can be a flight, turned so that it goes forward.
fn sound(points: &[Point], ball: &Ball, medium: &Medium) -> Result<(Vec<Point>, bool), Finding> {
    let positive = |x: f64| x.is_finite() && x > 0.0;
    if !(positive(ball.mass_kg) && positive(ball.diameter_m) && positive(medium.gravity_mps2)) {
        return Err(refuse(
            "film-piece",
            "mass and diameter of the piece, and gravity, must be above 0",
            "state the piece: --mass and --diameter, or a project",
        ));
    }
    if points.len() < LEAST_POINTS {
        return Err(refuse(
            "film-short",
            format!(
                "the film has {} points; {LEAST_POINTS} are the least, 15 or more are good",
                points.len()
            ),
            "track the piece in every frame from the exit on",
        ));
    }
    for (i, p) in points.iter().enumerate() {
        if !(p.time_s.is_finite() && p.x_m.is_finite() && p.z_m.is_finite()) {
            return Err(refuse(
                "film-not-a-number",
                format!("point {} holds a value that is not a number", i + 1),
                "remove the row or repair the value",
            ));
        }
    }
    for (i, pair) in points.windows(2).enumerate() {
        if let [a, b] = pair
            && b.time_s <= a.time_s
        {
            return Err(refuse(
                "film-goes-back",
                format!(
                    "point {} is at {} s and the one before at {} s",
                    i + 2,
                    b.time_s,
                    a.time_s
                ),
                "one film to a file, each frame once, in order of time",
            ));
        }
    }
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return Err(refuse(
            "film-short",
            "the film has no points",
            "track the piece in every frame",
        ));
    };
    let far = points
        .iter()
        .map(|p| (p.x_m - first.x_m).hypot(p.z_m - first.z_m))
        .fold(0.0, f64::max);
    if !(far > LEAST_TRAVEL_M) {
        return Err(refuse(
            "film-still",
            format!("all points lie within {:.1} mm: nothing flies", 1000.0 * far),
            "check the scale and that the tracker follows the piece and not something that stands still",
        ));
    }
    let mirrored = last.x_m < first.x_m;
    let turned: Vec<Point> = points
        .iter()
        .map(|p| Point {
            x_m: if mirrored {
                first.x_m - p.x_m
            } else {
                p.x_m - first.x_m
            },
            time_s: p.time_s - first.time_s,
            ..*p
        })
        .collect();
    Ok((turned, mirrored))
}
