//! What a film itself gives reason to doubt.

use super::Film;
use crate::flight::Medium;

/// Method: gravity is called wrong when its interval leaves the true one out and it is off by this share.
const WRONG_GRAVITY_FRAC: f64 = 0.03;
/// Method: beyond this half width of the interval the film is too short to test gravity.
const VAGUE_GRAVITY_FRAC: f64 = 0.25;
/// Method: steps that differ from the usual one by this share are not one frame apart.
const UNEVEN_FRAC: f64 = 0.2;
/// Method: the residuals' ratio of neighbours is called a pattern from this many standard deviations.
const PATTERN_SIGMAS: f64 = 3.0;
/// Method: fewer points than this show no pattern.
const PATTERN_POINTS: usize = 10;

/// One doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// Short stable name: `scale`, `frames`, `repeats`, `pattern`, `slips`, `drag`, `lift`, `gravity`.
    pub name: &'static str,
    /// It makes speed and angle wrong, rather than only less sure.
    pub serious: bool,
    /// In words.
    pub words: String,
}

pub(super) fn doubts(film: &Film, medium: &Medium) -> Vec<Doubt> {
    let mut out = Vec::new();
    let mut add = |name, serious, words: String| out.push(Doubt { name, serious, words });
    gravity(film, medium, &mut add);
    frames(film, &mut add);
    pattern(film, &mut add);
    let slips = film.residuals_m.iter().filter(|r| r.is_none()).count();
    if slips > 0 {
        add(
            "slips",
            false,
            format!(
                "{slips} {} far off the path and left out: the tracker slipped there",
                if slips == 1 { "point lies" } else { "points lie" }
            ),
        );
    }
    if !film.drag_learned {
        add(
            "drag",
            false,
            "the arc is too short to know drag: what is shown is mostly what was assumed; film a longer stretch"
                .to_string(),
        );
    }
    if !film.lift_learned {
        add(
            "lift",
            false,
            "the arc is too short to know lift: what is shown is mostly what was assumed".to_string(),
        );
    }
    out.sort_by_key(|d| !d.serious);
    out
}

fn gravity(film: &Film, medium: &Medium, add: &mut impl FnMut(&'static str, bool, String)) {
    let g = medium.gravity_mps2;
    let Some(found) = film.gravity_mps2 else { return };
    let half = 0.5 * (found.high - found.low);
    if !(half < VAGUE_GRAVITY_FRAC * g) {
        add(
            "gravity",
            false,
            format!(
                "the arc is too short to test scale and frame rate by gravity ({:.1} ± {half:.1} m/s²)",
                found.value
            ),
        );
        return;
    }
    let off = found.value / g - 1.0;
    if (found.low..=found.high).contains(&g) || off.abs() < WRONG_GRAVITY_FRAC || !(found.value > 0.0) {
        return;
    }
    let percent = |share: f64| format!("{:.0} %", 100.0 * share.abs());
    let way = |share: f64, up: &'static str, down: &'static str| if share > 0.0 { up } else { down };
    // Lengths enter once, times as a square.
    let rate = (found.value / g).sqrt() - 1.0;
    add(
        "scale",
        true,
        format!(
            "the film says g = {:.1} m/s² ({:.1} to {:.1}), and it is {g:.1}: either lengths come out {} too {} \
             (scale), or the stated frame rate is {} too {}. Speed is wrong by as much: mend it before you use it",
            found.value,
            found.low,
            found.high,
            percent(off),
            way(off, "long", "short"),
            percent(rate),
            way(rate, "high", "low"),
        ),
    );
}

fn frames(film: &Film, add: &mut impl FnMut(&'static str, bool, String)) {
    let steps: Vec<f64> = film
        .points
        .iter()
        .zip(film.points.iter().skip(1))
        .map(|(a, b)| b.time_s - a.time_s)
        .collect();
    let mut sorted = steps.clone();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN);
    let whole = |s: f64| (s / usual).round().max(1.0);
    let uneven = steps
        .iter()
        .filter(|s| ((*s / usual) - whole(**s)).abs() > UNEVEN_FRAC)
        .count();
    let missed: f64 = steps.iter().map(|s| whole(*s) - 1.0).sum();
    if uneven * 5 > steps.len() {
        add(
            "frames",
            true,
            format!(
                "{uneven} of {} steps are not whole frames of {:.1} ms: the frame rate wanders; film at a fixed rate and export times, not frame numbers",
                steps.len(),
                1000.0 * usual
            ),
        );
    } else if missed > 0.0 {
        add(
            "frames",
            false,
            format!("{missed:.0} frames between are not in the film; that does no harm"),
        );
    }
    let repeats = film
        .points
        .iter()
        .zip(film.points.iter().skip(1))
        .filter(|(a, b)| a.x_m == b.x_m && a.z_m == b.z_m)
        .count();
    if repeats > 0 {
        add(
            "repeats",
            true,
            format!(
                "{repeats} points repeat the one before: the camera took fewer frames than the file has; leave the copies out"
            ),
        );
    }
}

/// Residuals that follow their neighbours: ratio of the mean squared successive difference to the variance
/// \[von-neumann-1941\], 2 for chance, with variance 4 (n − 2)/(n² − 1).
fn pattern(film: &Film, add: &mut impl FnMut(&'static str, bool, String)) {
    let own: Vec<[f64; 2]> = film.residuals_m.iter().flatten().copied().collect();
    let n = own.len() as f64;
    if own.len() < PATTERN_POINTS {
        return;
    }
    let ratio = |side: fn(&[f64; 2]) -> f64| {
        let mean = own.iter().map(side).sum::<f64>() / n;
        let all: f64 = own.iter().map(|r| (side(r) - mean).powi(2)).sum();
        let steps: f64 = own
            .iter()
            .zip(own.iter().skip(1))
            .map(|(a, b)| (side(b) - side(a)).powi(2))
            .sum();
        (steps / (n - 1.0)) / (all / n)
    };
    let sd = (4.0 * (n - 2.0) / (n * n - 1.0)).sqrt();
    let (along, up) = (ratio(|r| r[0]), ratio(|r| r[1]));
    if along.min(up) < 2.0 - PATTERN_SIGMAS * sd {
        add(
            "pattern",
            true,
            format!(
                "the points leave the path in waves ({:.0} mm rms): a lens that bends, a camera not square to the flight or not still, \
                 or a time column that is not the film's; film from farther away, square to the flight, on a stand",
                1000.0 * film.residual_rms_m
            ),
        );
    }
}
