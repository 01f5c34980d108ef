//! Where the unknown quantities may turn out to lie: one at a time, and all together.

use super::super::doubt::UNTESTED;
use super::{End, RoomCase, SpotRoom};
use crate::project::{self, Project, Spread, schema};

/// Standard deviations from the mean to the 5 % and 95 % points of a normal distribution (any table).
const Z95: f64 = 1.645;
/// Share of a range below its lower end point, and above its upper one.
const TAIL_FRAC: f64 = 0.05;

/// One end of one quantity.
pub(super) struct Single {
    pub key: &'static str,
    pub end: End,
    pub value: f64,
}

/// A quantity with a spread: its value, and the values it may take.
struct Unknown {
    key: &'static str,
    value: f64,
    sd: f64,
    /// 5 % and 95 % points.
    ends: [f64; 2],
    /// What the spread and the schema admit.
    limits: [f64; 2],
}

/// The quantities of [`UNTESTED`] that this project has and that carry a spread.
fn unknowns(project: &Project) -> Vec<Unknown> {
    let one = |key: &&'static str| {
        let value = project::get(project, key)?;
        let spread = project.spreads.get(*key)?;
        let entry = schema::entry(key)?;
        let sd = spread.sd();
        if !(sd > 0.0 && sd.is_finite()) {
            return None;
        }
        let (ends, limits) = match *spread {
            Spread::Normal { sd } => ([value - Z95 * sd, value + Z95 * sd], [entry.low, entry.high]),
            Spread::Range { low, high } => {
                let tail = TAIL_FRAC * (high - low);
                (
                    [low + tail, high - tail],
                    [low.max(entry.low), high.min(entry.high)],
                )
            }
        };
        Some(Unknown {
            key,
            value,
            sd,
            ends: ends.map(|v| v.max(limits[0]).min(limits[1])),
            limits,
        })
    };
    UNTESTED.iter().filter_map(one).collect()
}

/// Both ends of each quantity with a spread.
pub(super) fn single(project: &Project) -> Vec<Single> {
    unknowns(project)
        .into_iter()
        .flat_map(|u| {
            [(End::Low, u.ends[0]), (End::High, u.ends[1])].map(|(end, value)| Single {
                key: u.key,
                end,
                value,
            })
        })
        .collect()
}

/// Both ends of all quantities together.
///
/// To first order the crossing moves by Σ gᵢ zᵢ, with zᵢ the quantity's distance from its value in
/// standard deviations. Of all combinations that move it to its own 5 % (95 %) point, the likeliest is
/// the one along the gradient, where the ellipsoid of equal likelihood touches that level:
///
/// ```text
/// zᵢ = ± 1.645 gᵢ/√(Σ gᵢ²)          gᵢ = sdᵢ · ∂ω/∂qᵢ
/// ```
///
/// The gradient is read off the setpoint ω of the spot that needs the fastest wheel at the single ends,
/// which have been worked out anyway: a throw that comes out shorter needs a faster wheel.
/// First-order propagation [jcgm-100] 5.1.2, uncorrelated inputs.
pub(super) fn joint(
    project: &Project,
    base: &RoomCase,
    singles: &[&RoomCase],
) -> Vec<(End, Vec<(&'static str, f64)>)> {
    let speed = |s: &SpotRoom| s.setpoint_radps.or(s.needed_radps);
    let Some((spot, here)) = base
        .by_speed
        .iter()
        .enumerate()
        .filter_map(|(i, s)| Some((i, speed(s)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
    else {
        return Vec::new();
    };
    let unknowns = unknowns(project);
    let gradient: Vec<f64> = unknowns
        .iter()
        .map(|u| {
            let at = |end: End| {
                let case = singles.iter().find(|c| c.key == Some(u.key) && c.end == end)?;
                let value = case.values.first()?.1;
                Some((value, speed(case.by_speed.get(spot)?)?))
            };
            let (a, b) = match (at(End::Low), at(End::High)) {
                (Some(a), Some(b)) => (a, b),
                (Some(a), None) => (a, (u.value, here)),
                (None, Some(b)) => ((u.value, here), b),
                (None, None) => return 0.0,
            };
            let slope = (b.1 - a.1) / (b.0 - a.0);
            if slope.is_finite() { slope * u.sd } else { 0.0 }
        })
        .collect();
    let length = gradient.iter().map(|g| g * g).sum::<f64>().sqrt();
    if unknowns.len() < 2 || !(length > 0.0 && length.is_finite()) {
        return Vec::new();
    }
    [(End::Shorter, Z95), (End::Longer, -Z95)]
        .map(|(end, z)| {
            let values = unknowns.iter().zip(&gradient).map(|(u, g)| {
                let value = u.value + z * g / length * u.sd;
                (u.key, value.max(u.limits[0]).min(u.limits[1]))
            });
            (end, values.collect())
        })
        .to_vec()
}
