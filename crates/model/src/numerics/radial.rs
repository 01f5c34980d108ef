//! How far hits scatter around a point: radii, the Rayleigh distribution, circles under an ellipse of scatter.

use std::f64::consts::FRAC_PI_2;

use super::control::c4;
use super::gamma::chi_square_quantile;
use super::normal;
use super::quadrature::integral;
use super::root::bracketed_newton;

/// Circular scatter estimated from points, in the units of the points. Intervals hold with the confidence asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CircularScatter {
    /// Points, n.
    pub count: usize,
    /// 2n about a known centre, 2(n − 1) about the mean of the points.
    pub degrees_of_freedom: usize,
    /// Of the distances from the centre, q.
    pub sum_of_squares: f64,
    /// Root mean square along one axis.
    pub sigma_rms: f64,
    /// Standard deviation along one axis, without bias.
    pub sigma: f64,
    /// Confidence interval of `sigma`.
    pub sigma_interval: [f64; 2],
    /// Radius that holds half of the hits.
    pub r50: f64,
    /// Confidence interval of `r50`.
    pub r50_interval: [f64; 2],
    /// Radius that holds 90 % of the hits.
    pub r90: f64,
    /// Radius that holds 95 % of the hits.
    pub r95: f64,
    /// Mean distance of the hits from the centre.
    pub mean_radius: f64,
}

/// Estimates circular scatter, about a known centre or about the mean of the points.
///
/// ```text
/// q = Σ|r_i − centre|²        σ = √(q/ν)/c4(ν + 1)        √(q/χ²_(1−α/2,ν)) … √(q/χ²_(α/2,ν))
/// R50 = σ √(2 ln 2)     R90 = σ √(2 ln 10)     R95 = σ √(2 ln 20)     mean radius = σ √(π/2)
/// ```
///
/// for hits with the same normal distribution along both axes [siddiqui-1964], ν degrees of freedom and α = 1 − confidence.
/// `None` for no points about a known centre or one point without, a coordinate that is not finite, or a
/// confidence not strictly between 0 and 1.
pub fn circular_scatter(
    points: &[[f64; 2]],
    centre: Option<[f64; 2]>,
    confidence: f64,
) -> Option<CircularScatter> {
    let finite = |p: &[f64; 2]| p[0].is_finite() && p[1].is_finite();
    let count = points.len();
    let degrees_of_freedom = 2 * if centre.is_some() {
        count
    } else {
        count.saturating_sub(1)
    };
    let usable = points.iter().all(finite) && centre.as_ref().is_none_or(finite);
    if degrees_of_freedom == 0 || !usable || !(confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let mean = |axis: usize| points.iter().map(|p| p[axis]).sum::<f64>() / count as f64;
    let [x, y] = centre.unwrap_or_else(|| [mean(0), mean(1)]);
    let sum_of_squares: f64 = points
        .iter()
        .map(|p| (p[0] - x).powi(2) + (p[1] - y).powi(2))
        .sum();
    let nu = degrees_of_freedom as f64;
    let sigma_rms = (sum_of_squares / nu).sqrt();
    let sigma = sigma_rms / c4(nu + 1.0);
    let tail = 0.5 * (1.0 - confidence);
    let sigma_interval = [1.0 - tail, tail].map(|p| (sum_of_squares / chi_square_quantile(nu, p)).sqrt());
    Some(CircularScatter {
        count,
        degrees_of_freedom,
        sum_of_squares,
        sigma_rms,
        sigma,
        sigma_interval,
        r50: rayleigh_quantile(sigma, 0.5),
        r50_interval: sigma_interval.map(|s| rayleigh_quantile(s, 0.5)),
        r90: rayleigh_quantile(sigma, 0.9),
        r95: rayleigh_quantile(sigma, 0.95),
        mean_radius: sigma * FRAC_PI_2.sqrt(),
    })
}

/// Radius that holds a share of circular scatter: σ √(−2 ln(1 − share)), the quantile of the Rayleigh distribution.
pub fn rayleigh_quantile(sigma: f64, share: f64) -> f64 {
    sigma * (-2.0 * libm::log1p(-share)).sqrt()
}

/// Share of hits within `radius` of the origin, for independent normal scatter about `mean` with `sd` along the axes.
///
/// ```text
/// P = ∫ φ((x − m_x)/s_x)/s_x (Φ((c − m_y)/s_y) − Φ((−c − m_y)/s_y)) dx      c = √(R² − x²), |x| < R
/// ```
///
/// Absolute error about 1e-12. For correlated scatter turn the axes to those of the ellipse. A spread of zero is
/// allowed: all hits on a line or in one point. Not a number for a negative spread or anything that is not a number.
pub fn hit_circle(radius: f64, mean: [f64; 2], sd: [f64; 2]) -> f64 {
    let all = [radius, mean[0], mean[1], sd[0], sd[1]];
    if all.iter().any(|x| x.is_nan()) || !mean.iter().all(|m| m.is_finite()) || sd.iter().any(|s| *s < 0.0) {
        return f64::NAN;
    }
    if radius <= 0.0 {
        return 0.0;
    }
    if radius == f64::INFINITY {
        return 1.0;
    }
    let least = ROUNDED_AWAY * (radius + mean[0].abs() + mean[1].abs());
    let sd = sd.map(|s| if s < least { 0.0 } else { s });
    // The axis of the larger spread is the smoother one to integrate along.
    let ([mx, my], [sx, sy]) = if sd[0] >= sd[1] {
        (mean, sd)
    } else {
        ([mean[1], mean[0]], [sd[1], sd[0]])
    };
    let across = |c: f64| between(-c, c, my, sy);
    let chord = |x: f64| ((radius - x) * (radius + x)).max(0.0).sqrt();
    if sx == 0.0 {
        return if mx.abs() <= radius {
            across(chord(mx))
        } else {
            0.0
        };
    }
    if sy == 0.0 {
        let c = chord(my);
        return if my.abs() <= radius {
            between(-c, c, mx, sx)
        } else {
            0.0
        };
    }
    // x = R sin θ, so that the ends of the chord are smooth.
    let inside = |theta: f64| {
        let (sin, cos) = (libm::sin(theta), libm::cos(theta));
        let c = radius * cos;
        normal::density((radius * sin - mx) / sx) * (c / sx) * across(c)
    };
    // Ends of pieces: where the density along x starts, peaks and stops, and where the chord ends near the mean across.
    let angle = |x: f64| libm::asin((x / radius).clamp(-1.0, 1.0));
    let (lo, hi) = (angle(mx - FARTHEST * sx), angle(mx + FARTHEST * sx));
    let edge = libm::acos((my.abs() / radius).min(1.0));
    let mut ends = [lo, angle(mx), hi, 0.0, edge, -edge].map(|theta| theta.clamp(lo, hi));
    ends.sort_by(f64::total_cmp);
    let pieces = ends.windows(2).filter(|piece| piece[1] > piece[0]);
    pieces
        .map(|piece| integral(inside, piece[0], piece[1], ACCURACY))
        .sum::<f64>()
        .clamp(0.0, 1.0)
}

/// Share of a normal distribution between two places.
fn between(lo: f64, hi: f64, mean: f64, sd: f64) -> f64 {
    if sd == 0.0 {
        return if lo <= mean && mean <= hi { 1.0 } else { 0.0 };
    }
    let (a, b) = ((lo - mean) / sd, (hi - mean) / sd);
    // From the tail that both ends are nearer to, so that little shares keep their digits.
    if a > 0.0 {
        normal::cdf(-a) - normal::cdf(-b)
    } else {
        normal::cdf(b) - normal::cdf(a)
    }
}

/// Rounding: a spread this part of the radius is too few steps of a double wide to integrate across.
const ROUNDED_AWAY: f64 = 1e-12;
/// Method: beyond nine sigma lies 1e-19 of the distribution.
const FARTHEST: f64 = 9.0;
/// Method: absolute error of the share in a circle.
const ACCURACY: f64 = 1e-13;

/// Radius of the circle about the mean that holds a share of scatter with spreads `sd_x` and `sd_y` along the axes: for
/// half of the hits the circular error probable.
///
/// `None` for a share not strictly between 0 and 1, a spread that is negative or not finite, or none along both axes.
/// Relative error about 1e-10.
pub fn circular_error(sd_x: f64, sd_y: f64, share: f64) -> Option<f64> {
    let (large, small) = (sd_x.max(sd_y), sd_x.min(sd_y));
    let spreads = small >= 0.0 && large > 0.0 && large.is_finite() && !sd_x.is_nan() && !sd_y.is_nan();
    if !spreads || !(share > 0.0 && share < 1.0) {
        return None;
    }
    let narrow = small / large;
    // A line and a round ellipse bound the radius on both sides.
    let line = -normal::quantile(0.5 * (1.0 - share));
    let round = rayleigh_quantile(1.0, share);
    let (lo, hi) = (line * (1.0 - MARGIN), round * (1.0 + MARGIN));
    let residual = |r: f64| {
        let density = |theta: f64| {
            let across = r * libm::sin(theta) / narrow;
            normal::density(r * libm::cos(theta)) * normal::density(across) / narrow
        };
        let slope = if narrow > 0.0 {
            4.0 * r * integral(density, 0.0, FRAC_PI_2, SLOPE_ACCURACY)
        } else {
            2.0 * normal::density(r)
        };
        (hit_circle(r, [0.0; 2], [1.0, narrow]) - share, slope)
    };
    let first = 0.5 * (line + (line * line + narrow * (round * round - line * line)).sqrt());
    let (r, _) = bracketed_newton(residual, (lo, -1.0), hi, first, CLOSE * first);
    Some(r * large)
}

/// Rounding: the bounds of the radius are met at the ends of the range of shapes.
const MARGIN: f64 = 1e-9;
/// Convergence: the slope only guides the steps.
const SLOPE_ACCURACY: f64 = 1e-6;
/// Convergence: the last step of Newton's method, whose error is about its square.
const CLOSE: f64 = 1e-8;

/// Radius below which a share of measured radii lies, interpolated between them.
///
/// ```text
/// place h = (n + 1/3) share + 1/3 in the sorted radii
/// ```
///
/// the estimate whose median is right whatever the distribution [hyndman-fan-1996] (their number 8). The smallest or
/// largest radius beyond the ends. `None` for no radii, one that is not a number, or a share outside [0, 1].
pub fn quantile_of_radii(radii: &[f64], share: f64) -> Option<f64> {
    if radii.is_empty() || radii.iter().any(|r| r.is_nan()) || !(0.0..=1.0).contains(&share) {
        return None;
    }
    let mut sorted = radii.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len() - 1;
    let place = ((sorted.len() as f64 + 1.0 / 3.0) * share - 2.0 / 3.0).clamp(0.0, last as f64);
    let below = place.floor();
    let (lo, hi) = (sorted[below as usize], sorted[(below as usize + 1).min(last)]);
    let part = place - below;
    Some(if part > 0.0 { lo + part * (hi - lo) } else { lo })
}

#[cfg(test)]
#[path = "radial_tests.rs"]
mod tests;
