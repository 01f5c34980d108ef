//! Ways from a key to its place in a project.

use super::Access;
use crate::flight::{DragLaw, Lift, SpinDecay};
use crate::launcher::{GuideError, Layout, MOST_GAPS, PartShape};
use crate::project::{DriveBase, KnobTravel, Project, SeamGroove, gap_at_m, gap_m};

/// A key without a number.
pub(super) const NOWHERE: Access = Access {
    get: |_, _| None,
    set: |_, _, _| false,
};

/// A plain field.
macro_rules! at {
    ($($path:tt)+) => {
        Access { get: |p, _| Some(p.$($path)+), set: |p, _, v| { p.$($path)+ = v; true } }
    };
}
/// A field that may be absent.
macro_rules! maybe {
    ($($path:tt)+) => {
        Access { get: |p, _| p.$($path)+, set: |p, _, v| { p.$($path)+ = Some(v); true } }
    };
}
/// A whole number. `set` sees only whole numbers within the entry's range.
macro_rules! count {
    ($($path:tt)+) => {
        Access { get: |p, _| Some(f64::from(p.$($path)+)), set: |p, _, v| { p.$($path)+ = v as u32; true } }
    };
}
/// A whole number that may be absent.
macro_rules! maybe_count {
    ($($path:tt)+) => {
        Access { get: |p, _| p.$($path)+.map(f64::from), set: |p, _, v| { p.$($path)+ = Some(v as u32); true } }
    };
}
/// A field of one of a list.
macro_rules! each {
    ($list:ident $(. $more:ident)*, $field:ident) => {
        Access {
            get: |p, i| p.$list $(. $more)*.get(i).map(|s| s.$field),
            set: |p, i, v| p.$list $(. $more)*.get_mut(i).map(|s| s.$field = v).is_some(),
        }
    };
}
/// A field of one of the two layouts.
macro_rules! layout {
    ($layout:ident, $field:ident) => {
        Access {
            get: |p, _| match &p.machine.layout {
                Layout::$layout(l) => Some(l.$field),
                _ => None,
            },
            set: |p, _, v| match &mut p.machine.layout {
                Layout::$layout(l) => {
                    l.$field = v;
                    true
                }
                _ => false,
            },
        }
    };
}
/// A field of a knob's travel.
macro_rules! travel {
    ($knob:ident, $field:ident) => {
        Access {
            get: |p, _| p.machine.knobs.$knob.map(|k| k.$field),
            set: |p, _, v| p.machine.knobs.$knob.as_mut().map(|k| k.$field = v).is_some(),
        }
    };
}
pub(super) use {at, count, each, layout, maybe, maybe_count, travel};

/// Gap between wheel and guide, or between two wheels.
pub(super) const GAP: Access = Access {
    get: |p, _| Some(gap_m(p)),
    set: set_gap,
};

fn set_gap(p: &mut Project, _: usize, v: f64) -> bool {
    match &mut p.machine.layout {
        Layout::Guide(g) => g.gap_m = v,
        Layout::Pair(g) => g.gap_m = v,
    }
    true
}

/// Amplitude of the guide's waves; nothing where the gaps were measured instead.
pub(super) const GUIDE_ERROR: Access = Access {
    get: |p, _| match p.machine.guide_error {
        GuideError::Wave { amplitude_m, .. } => Some(amplitude_m),
        GuideError::None | GuideError::Gaps { .. } => Some(0.0),
    },
    set: |p, _, v| set_wave(p, Some(v), None),
};

/// Length of the guide's waves.
pub(super) const GUIDE_WAVELENGTH: Access = Access {
    get: |p, _| match p.machine.guide_error {
        GuideError::Wave { wavelength_m, .. } => Some(wavelength_m),
        GuideError::None | GuideError::Gaps { .. } => None,
    },
    set: |p, _, v| set_wave(p, None, Some(v)),
};

/// Sets one of the two numbers of a wave and keeps the other. A wave without amplitude or length is none yet;
/// measured gaps stay.
fn set_wave(p: &mut Project, amplitude: Option<f64>, wavelength: Option<f64>) -> bool {
    let (old_amplitude, old_wavelength, phase_rad) = match p.machine.guide_error {
        GuideError::None => (0.0, f64::NAN, 0.0),
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        } => (amplitude_m, wavelength_m, phase_rad),
        GuideError::Gaps { .. } => return false,
    };
    let amplitude_m = amplitude.unwrap_or(old_amplitude);
    let wavelength_m = wavelength.unwrap_or(old_wavelength);
    p.machine.guide_error = if amplitude_m == 0.0 && wavelength_m.is_nan() {
        GuideError::None
    } else {
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        }
    };
    true
}

/// Gaps measured along the guide; kept as what they have over the gap meant.
pub(super) fn set_gaps(p: &mut Project, gaps: &[f64]) {
    let mut added_m = [0.0; MOST_GAPS];
    let last = gaps.len().saturating_sub(1).max(1) as f64;
    for (i, (added, gap)) in added_m.iter_mut().zip(gaps).enumerate() {
        *added = gap - gap_at_m(p, i as f64 / last);
    }
    p.machine.guide_error = GuideError::Gaps {
        count: gaps.len().min(MOST_GAPS),
        added_m,
    };
}

/// Squeeze of a piece of the present diameter. Setting it moves the gap.
pub(super) const SQUEEZE: Access = Access {
    get: |p, _| Some(p.piece.diameter_m - gap_m(p)),
    set: |p, i, v| set_gap(p, i, p.piece.diameter_m - v),
};

/// Sideways velocity; a tank has none.
pub(super) const ACROSS: Access = Access {
    get: |p, _| (p.moving.drive == DriveBase::Sideways).then_some(p.moving.across_mps),
    set: |p, _, v| {
        let can = p.moving.drive == DriveBase::Sideways;
        if can {
            p.moving.across_mps = v;
        }
        can
    },
};

/// Direction of the launcher on a tank; where a robot drives any way it has no meaning.
pub(super) const LAUNCHER_HEADING: Access = Access {
    get: |p, _| (p.moving.drive == DriveBase::Tank).then_some(p.moving.launcher_heading_rad),
    set: |p, _, v| {
        let can = p.moving.drive == DriveBase::Tank;
        if can {
            p.moving.launcher_heading_rad = v;
        }
        can
    },
};

/// Width of the opening. One that is as deep as it is wide stays so: a file that says no depth means the width.
pub(super) const TARGET_WIDTH: Access = Access {
    get: |p, _| Some(p.target.width_m),
    set: |p, _, v| {
        if p.target.depth_m == p.target.width_m {
            p.target.depth_m = v;
        }
        p.target.width_m = v;
        true
    },
};

/// Height of the opening's centre. Setting it moves the rim.
pub(super) const CENTRE_HEIGHT: Access = Access {
    get: |p, _| Some(p.target.rim_height_m + centre_above_rim_m(p)),
    set: |p, _, v| {
        p.target.rim_height_m = v - centre_above_rim_m(p);
        true
    },
};

/// Height of the opening's centre above its lowest point: half the depth, turned up by the tilt.
fn centre_above_rim_m(p: &Project) -> f64 {
    0.5 * p.target.depth_m * p.target.tilt_rad.sin()
}

/// Altitude by the pressure of the standard atmosphere there [iso-2533].
pub(super) const ALTITUDE: Access = Access {
    get: |_, _| None,
    set: |p, _, v| {
        let level = crate::air::standard_atmosphere(crate::air::geopotential_altitude(v));
        p.site.pressure_pa = level.pressure_pa;
        true
    },
};

/// Inner over outer radius by way of the inertia coefficient.
pub(super) const SHELL: Access = Access {
    get: |p, _| shell_of(p.piece.inertia_coeff),
    set: |p, _, v| {
        p.piece.inertia_coeff = shell_inertia(v);
        true
    },
};

/// k in I = k m r² of a hollow sphere.
///
/// ```text
/// k = (2/5) (1 − x⁵)/(1 − x³),   x = inner radius / outer radius
/// ```
///
/// 2/5 for a solid sphere, → 2/3 for a thin shell. Difference of two solid spheres of one density,
/// common mechanics table entry [meriam-dynamics] (from memory).
pub fn shell_inertia(shell_ratio: f64) -> f64 {
    let x = shell_ratio;
    // (1−x⁵)/(1−x³) with the common factor (1−x) taken out, so that a thin shell is exact too.
    0.4 * (1.0 + x * (1.0 + x * (1.0 + x * (1.0 + x)))) / (1.0 + x * (1.0 + x))
}

/// Convergence: halvings of an interval of length 1 down to rounding.
const HALVINGS_COUNT: usize = 60;

/// Inverse of [`shell_inertia`], which rises from 2/5 to 2/3; `None` outside.
fn shell_of(inertia_coeff: f64) -> Option<f64> {
    if !(0.4..=2.0 / 3.0).contains(&inertia_coeff) {
        return None;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..HALVINGS_COUNT {
        let middle = 0.5 * (low + high);
        if shell_inertia(middle) < inertia_coeff {
            low = middle
        } else {
            high = middle
        }
    }
    Some(0.5 * (low + high))
}

/// Drag: the coefficient of a constant law, the multiplier of any other.
pub(super) const DRAG: Access = Access {
    get: |p, _| {
        Some(match p.piece.drag.law {
            DragLaw::Constant { drag_coeff } => drag_coeff * p.piece.drag.scale_ratio,
            _ => p.piece.drag.scale_ratio,
        })
    },
    set: |p, _, v| {
        match &mut p.piece.drag.law {
            DragLaw::Constant { drag_coeff } => {
                *drag_coeff = v;
                p.piece.drag.scale_ratio = 1.0;
            }
            _ => p.piece.drag.scale_ratio = v,
        }
        true
    },
};

/// Multiplier on the lift law.
pub(super) const LIFT: Access = Access {
    get: |p, _| match p.piece.lift {
        Lift::Saturating { scale_ratio, .. } => Some(scale_ratio),
        _ => None,
    },
    set: |p, _, v| match &mut p.piece.lift {
        Lift::Saturating { scale_ratio, .. } => {
            *scale_ratio = v;
            true
        }
        _ => false,
    },
};

/// Torque coefficient of the spin's decay.
pub(super) const SPIN_DECAY: Access = Access {
    get: |p, _| match p.piece.spin_decay {
        SpinDecay::Aero { torque_coeff } => Some(torque_coeff),
        _ => None,
    },
    set: |p, _, v| {
        p.piece.spin_decay = SpinDecay::Aero { torque_coeff: v };
        true
    },
};

/// Holes: how many.
pub(super) const HOLE_COUNT: Access = Access {
    get: |p, _| p.piece.holes.map(|h| f64::from(h.count)),
    set: |p, _, v| p.piece.holes.as_mut().map(|h| h.count = v as u32).is_some(),
};

/// Holes: diameter.
pub(super) const HOLE_DIAMETER: Access = Access {
    get: |p, _| p.piece.holes.map(|h| h.diameter_m),
    set: |p, _, v| p.piece.holes.as_mut().map(|h| h.diameter_m = v).is_some(),
};

/// Seam: width across.
pub(super) const SEAM_WIDTH: Access = Access {
    get: |p, _| p.piece.seam.map(|s| s.width_m),
    set: |p, _, v| {
        p.piece.seam.get_or_insert(NO_SEAM).width_m = v;
        true
    },
};

/// Seam: depth.
pub(super) const SEAM_DEPTH: Access = Access {
    get: |p, _| p.piece.seam.map(|s| s.depth_m),
    set: |p, _, v| {
        p.piece.seam.get_or_insert(NO_SEAM).depth_m = v;
        true
    },
};

/// A seam of which nothing is written yet.
const NO_SEAM: SeamGroove = SeamGroove {
    width_m: f64::NAN,
    depth_m: f64::NAN,
};

/// Sheet thickness.
pub(super) const SHEET_THICKNESS: Access = Access {
    get: |p, _| p.machine.sheet.map(|s| s.thickness_m),
    set: |p, _, v| p.machine.sheet.as_mut().map(|s| s.thickness_m = v).is_some(),
};

fn shape(p: &Project, i: usize) -> Option<PartShape> {
    p.machine.parts.get(i).map(|part| part.shape)
}

fn change_shape(p: &mut Project, i: usize, change: impl FnOnce(&mut PartShape) -> bool) -> bool {
    p.machine
        .parts
        .get_mut(i)
        .is_some_and(|part| change(&mut part.shape))
}

/// Mass of a part.
pub(super) const PART_MASS: Access = Access {
    get: |p, i| match shape(p, i)? {
        PartShape::Annulus { mass_kg, .. } | PartShape::Ring { mass_kg, .. } => Some(mass_kg),
        PartShape::Known { .. } => None,
    },
    set: |p, i, v| {
        change_shape(p, i, |s| match s {
            PartShape::Annulus { mass_kg, .. } | PartShape::Ring { mass_kg, .. } => {
                *mass_kg = v;
                true
            }
            PartShape::Known { .. } => false,
        })
    },
};

/// Diameter of a disc, ring or the outside of an annulus.
pub(super) const PART_DIAMETER: Access = Access {
    get: |p, i| match shape(p, i)? {
        PartShape::Annulus { outer_m, .. } => Some(2.0 * outer_m),
        PartShape::Ring { radius_m, .. } => Some(2.0 * radius_m),
        PartShape::Known { .. } => None,
    },
    set: |p, i, v| {
        change_shape(p, i, |s| match s {
            PartShape::Annulus { outer_m: r, .. } | PartShape::Ring { radius_m: r, .. } => {
                *r = 0.5 * v;
                true
            }
            PartShape::Known { .. } => false,
        })
    },
};

/// Inner diameter of an annulus.
pub(super) const PART_INNER: Access = Access {
    get: |p, i| match shape(p, i)? {
        PartShape::Annulus { inner_m, .. } => Some(2.0 * inner_m),
        _ => None,
    },
    set: |p, i, v| {
        change_shape(p, i, |s| match s {
            PartShape::Annulus { inner_m, .. } => {
                *inner_m = 0.5 * v;
                true
            }
            _ => false,
        })
    },
};

/// Known inertia.
pub(super) const PART_INERTIA: Access = Access {
    get: |p, i| match shape(p, i)? {
        PartShape::Known { inertia_kgm2 } => Some(inertia_kgm2),
        _ => None,
    },
    set: |p, i, v| {
        change_shape(p, i, |s| match s {
            PartShape::Known { inertia_kgm2 } => {
                *inertia_kgm2 = v;
                true
            }
            _ => false,
        })
    },
};

/// How many of a part.
pub(super) const PART_COUNT: Access = Access {
    get: |p, i| p.machine.parts.get(i).map(|s| f64::from(s.count)),
    set: |p, i, v| p.machine.parts.get_mut(i).map(|s| s.count = v as u32).is_some(),
};

/// Sets the travel of a knob.
pub(super) fn set_travel(knob: &mut Option<KnobTravel>, [low, high]: [f64; 2]) {
    if let Some(k) = knob {
        k.low = low;
        k.high = high;
    }
}
