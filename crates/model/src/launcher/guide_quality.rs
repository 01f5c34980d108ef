//! How evenly a guide presses the piece against the wheel.
//!
//! Common practice, no source: the squeeze is the same all along the guide. Where it is less the piece may
//! slip or lose touch, where it is more it is pushed on or held back, and both reach the exit.

use super::planar::uneven::error_at;
use super::{Body, GuideError, GuideShape, Launcher, Layout, PassageSample};
use std::f64::consts::{FRAC_PI_2, TAU};

/// Method: least number of places along the arc at which the squeeze is told.
const LEAST_PLACES: f64 = 48.0;
/// Method: places per wave, so that its crests are met within 1 % of the amplitude.
const PLACES_PER_WAVE: f64 = 24.0;
/// Physical: more places than this tell nothing; shorter waves are roughness.
const MOST_PLACES: f64 = 1440.0;

/// Squeeze and force along the guide in one passage.
#[derive(Clone, Debug, PartialEq)]
pub struct GuideQuality {
    /// Angle from the start of the guide, and the piece's diameter less the gap there. Evenly spaced.
    pub squeeze_m: Vec<(f64, f64)>,
    /// Mean of the squeeze along the arc.
    pub squeeze_mean_m: f64,
    /// Squeeze meant at the end of the guide: diameter less the gap there.
    pub squeeze_meant_m: f64,
    /// Squeeze meant at its start; another only where the guide has an entry relief.
    pub squeeze_meant_start_m: f64,
    /// Where the squeeze is most out, as an angle from the start of the guide.
    pub worst_at_rad: f64,
    /// The same as a distance along the guide's surface.
    pub worst_along_m: f64,
    /// Squeeze there less the mean, and less what it is meant to differ from the mean there; negative where the piece is
    /// held too loosely.
    pub worst_by_m: f64,
    /// Normal force on the guide, mean along the arc.
    pub force_mean_n: f64,
    /// Greatest.
    pub force_peak_n: f64,
    /// Smallest.
    pub force_least_n: f64,
    /// Share of the arc over which the piece touches the guide or the wheel not at all.
    pub lost_frac: f64,
    /// Mean force over greatest force; 1 for a force that is the same all along.
    pub evenness_ratio: f64,
}

/// Squeeze and force over the guide from the samples of a passage.
///
/// ```text
/// squeeze(s) = D − gap(s) − e(s)     mean force = ∫ N dφ / ∫ dφ over the concentric arc
/// ```
///
/// e is the guide's error as [`super::GuideError`] says. Forces are means over the angle about the axle,
/// not over time, so that a slow entry does not count for more. `None` for a pair and for a passage with
/// fewer than two samples on the arc.
pub fn guide_quality(launcher: &Launcher, body: &Body, samples: &[PassageSample]) -> Option<GuideQuality> {
    let Layout::Guide(guide) = launcher.layout else {
        return None;
    };
    let squeeze = squeezes(launcher, &guide, body)?;
    let (mut sum, mut angle) = (0.0, 0.0);
    for p in squeeze.windows(2) {
        let step = p[1].0 - p[0].0;
        sum += 0.5 * (p[0].1 + p[1].1) * step;
        angle += step;
    }
    let mean = sum / angle;
    // What is meant to differ from the mean there; nothing on a concentric arc.
    let meant = |angle: f64| guide.entry_relief_m * (angle / guide.wrap_rad - 0.5);
    let (at, worst) = squeeze
        .iter()
        .map(|(a, s)| (*a, s - meant(*a) - mean))
        .fold((0.0, 0.0f64), |w, x| if x.1.abs() > w.1.abs() { x } else { w });
    let force = forces(launcher, &guide, samples)?;
    Some(GuideQuality {
        squeeze_meant_m: body.diameter_m - guide.gap_at_m(1.0),
        squeeze_meant_start_m: body.diameter_m - guide.gap_at_m(0.0),
        squeeze_mean_m: mean,
        worst_at_rad: at,
        worst_along_m: at * guide.radius_m(launcher.wheel_radius_m),
        worst_by_m: worst,
        force_mean_n: force.mean,
        force_peak_n: force.peak,
        force_least_n: force.least,
        lost_frac: force.lost,
        evenness_ratio: if force.peak > 0.0 {
            force.mean / force.peak
        } else {
            0.0
        },
        squeeze_m: squeeze,
    })
}

/// The launcher with another phase of its guide's waves; a launcher without waves as it is.
///
/// An amplitude says how large the lumps are, not where they lie: whoever draws throws draws the phase.
pub fn with_phase(launcher: &Launcher, phase_rad: f64) -> Launcher {
    let guide_error = match launcher.guide_error {
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            ..
        } => GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        },
        other => other,
    };
    Launcher {
        guide_error,
        ..*launcher
    }
}

fn squeezes(launcher: &Launcher, guide: &GuideShape, body: &Body) -> Option<Vec<(f64, f64)>> {
    let length = guide.arc_m(launcher.wheel_radius_m);
    let places = match launcher.guide_error {
        GuideError::None => LEAST_PLACES,
        GuideError::Wave { wavelength_m, .. } => PLACES_PER_WAVE * length / wavelength_m,
        // A whole number between two measured places, so that each of them is told.
        GuideError::Gaps { count, .. } => {
            let parts = count.saturating_sub(1).max(1) as f64;
            parts * (LEAST_PLACES / parts).ceil()
        }
    };
    if !(length > 0.0 && length.is_finite() && body.diameter_m.is_finite()) {
        return None;
    }
    // A wavelength that makes no sense leaves the least number.
    let places = if places.is_nan() { LEAST_PLACES } else { places };
    let count = places.clamp(LEAST_PLACES, MOST_PLACES).ceil() as usize;
    let all: Vec<(f64, f64)> = (0..=count)
        .map(|i| {
            let share = i as f64 / count as f64;
            let error = error_at(&launcher.guide_error, share * length, length);
            (
                share * guide.wrap_rad,
                body.diameter_m - guide.gap_at_m(share) - error,
            )
        })
        .collect();
    all.iter().all(|p| p.1.is_finite()).then_some(all)
}

struct Forces {
    mean: f64,
    peak: f64,
    least: f64,
    lost: f64,
}

fn forces(launcher: &Launcher, guide: &GuideShape, samples: &[PassageSample]) -> Option<Forces> {
    let start = FRAC_PI_2 + guide.end_angle_rad + guide.wrap_rad;
    let along = |p: &PassageSample| {
        let up = p.centre_m[1] - launcher.axle_height_m;
        let turned = (start - up.atan2(p.centre_m[0])).rem_euclid(TAU);
        // A little before the start is a little below nothing, not a whole turn.
        if turned > guide.wrap_rad + 0.5 * (TAU - guide.wrap_rad) {
            turned - TAU
        } else {
            turned
        }
    };
    let (mut sum, mut lost, mut angle) = (0.0, 0.0, 0.0);
    let (mut peak, mut least) = (0.0f64, f64::INFINITY);
    for pair in samples.windows(2) {
        let [a, b] = pair else { continue };
        let (from, to) = (along(a), along(b));
        if !(from >= 0.0 && to <= guide.wrap_rad && to > from) {
            continue;
        }
        let step = to - from;
        angle += step;
        sum += 0.5 * (a.guide_normal_n + b.guide_normal_n) * step;
        for p in [a, b] {
            peak = peak.max(p.guide_normal_n);
            least = least.min(p.guide_normal_n);
            if !(p.guide_normal_n > 0.0 && p.wheel_normal_n > 0.0) {
                lost += 0.5 * step;
            }
        }
    }
    (angle > 0.0).then(|| Forces {
        mean: sum / angle,
        peak,
        least,
        lost: lost / angle,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::launcher::MOST_GAPS;
    use crate::launcher::planar::{PassOptions, pass, tests};
    use crate::launcher::{Passage, Release, Setting, TorqueLine};

    fn body() -> Body {
        Body {
            diameter_m: 0.112,
            mass_kg: 0.061,
            inertia_coeff: 0.62,
            stiffness_npm: 3000.0,
            stiffness_exponent: 1.0,
            bounce_coeff: 0.6,
        }
    }

    fn launcher(guide_error: GuideError) -> Launcher {
        Launcher {
            rolling_coeff: 0.01,
            guide_error,
            ..tests::launcher(Layout::Guide(tests::guide()))
        }
    }

    fn gaps(values: &[f64]) -> GuideError {
        let mut added_m = [0.0; MOST_GAPS];
        added_m[..values.len()].copy_from_slice(values);
        GuideError::Gaps {
            count: values.len(),
            added_m,
        }
    }

    fn wave(amplitude_m: f64) -> GuideError {
        GuideError::Wave {
            amplitude_m,
            wavelength_m: 0.12,
            phase_rad: 0.0,
        }
    }

    fn thrown(l: &Launcher, trace: bool) -> Release {
        let setting = Setting {
            tilt_rad: 0.15,
            reach_m: 0.06,
            ..Setting::default()
        };
        let torque = TorqueLine {
            stall_nm: 0.0,
            slope_nms: 0.0,
        };
        let options = PassOptions {
            trace,
            ..PassOptions::default()
        };
        match pass(l, &body(), &setting, 314.0, &torque, 9.80665, &options) {
            Passage::Thrown(r) => r,
            Passage::Refused { why, .. } => panic!("{why}"),
        }
    }

    fn quality(error: GuideError) -> GuideQuality {
        let l = launcher(error);
        guide_quality(&l, &body(), &thrown(&l, true).trace).unwrap()
    }

    #[test]
    fn an_even_guide_is_nowhere_out_and_never_lets_go() {
        let q = quality(GuideError::None);
        assert_eq!((q.worst_by_m.abs() < 1e-12, q.lost_frac), (true, 0.0), "{q:?}");
        assert!((q.squeeze_mean_m - 0.012).abs() < 1e-12);
        assert!(q.force_least_n > 0.0 && q.force_mean_n < q.force_peak_n, "{q:?}");
    }

    #[test]
    fn the_worst_place_is_the_measured_one_that_is_out() {
        let q = quality(gaps(&[0.0, 0.0, 0.0, 3e-3, 0.0, 0.0]));
        let wrap = 110f64.to_radians();
        assert!((q.worst_at_rad - 0.6 * wrap).abs() < 1e-9, "{}", q.worst_at_rad);
        assert!((q.worst_along_m - 0.6 * wrap * 0.148).abs() < 1e-9);
        // One triangle of two parts of five has a fifth of its height as mean.
        assert!((q.worst_by_m + 3e-3 * 0.8).abs() < 1e-6, "{}", q.worst_by_m);
        assert!((q.squeeze_mean_m - (0.012 - 0.6e-3)).abs() < 1e-6);
    }

    #[test]
    fn a_gap_wider_than_the_piece_loses_touch_there() {
        let q = quality(gaps(&[0.0, 0.0, 0.0, 14e-3, 0.0, 0.0, 0.0]));
        assert!(q.lost_frac > 0.05, "{q:?}");
    }

    #[test]
    fn the_force_is_as_uneven_as_the_squeeze() {
        let (even, small, large) = (
            quality(GuideError::None),
            quality(wave(0.5e-3)),
            quality(wave(2e-3)),
        );
        assert!(even.evenness_ratio > small.evenness_ratio && small.evenness_ratio > large.evenness_ratio);
        assert!(small.force_least_n > large.force_least_n);
    }

    /// A phase drawn anew for each throw scatters the exit, and the more the higher the lumps.
    #[test]
    fn higher_lumps_scatter_the_exit_more() {
        const PHASES: usize = 32;
        let spread = |amplitude: f64| {
            let exits: Vec<[f64; 2]> = (0..PHASES)
                .map(|i| {
                    let phase = TAU * i as f64 / PHASES as f64;
                    let v = thrown(&with_phase(&launcher(wave(amplitude)), phase), false).velocity_mps;
                    [v[0].hypot(v[1]), v[1].atan2(v[0])]
                })
                .collect();
            [0, 1].map(|k| {
                let mean = exits.iter().map(|e| e[k]).sum::<f64>() / PHASES as f64;
                let squares: f64 = exits.iter().map(|e| (e[k] - mean).powi(2)).sum();
                (squares / (PHASES - 1) as f64).sqrt() / if k == 0 { mean } else { 1.0 }
            })
        };
        let s: Vec<[f64; 2]> = [0.0, 0.25e-3, 0.5e-3, 1e-3, 2e-3].map(spread).to_vec();
        assert!(s[0].iter().all(|x| *x < 1e-12), "{s:?}");
        assert!(
            s.windows(2)
                .all(|p| p[1][0] > 1.5 * p[0][0] && p[1][1] > 1.5 * p[0][1]),
            "{s:?}"
        );
        // Small lumps act in proportion: twice the height, twice the scatter.
        let doubled = [0, 1].map(|k| s[2][k] / s[1][k]);
        assert!(doubled.iter().all(|x| (x - 2.0).abs() < 0.2), "{s:?}");
    }

    #[test]
    fn only_a_wave_takes_a_phase_and_only_a_guide_has_a_quality() {
        let l = launcher(gaps(&[1e-3, 0.0]));
        assert_eq!(with_phase(&l, 2.0), l);
        assert_eq!(guide_quality(&l, &body(), &[]), None);
        let bad = launcher(GuideError::Wave {
            amplitude_m: f64::NAN,
            wavelength_m: 0.0,
            phase_rad: 0.0,
        });
        assert_eq!(guide_quality(&bad, &body(), &thrown(&l, true).trace), None);
    }
}
