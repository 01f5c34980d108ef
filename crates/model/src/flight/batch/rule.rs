//! How long the steps of lanes are.

/// Method: how long a step may be.
///
/// ```text
/// h = theta v/√(a² + air a_air² + mixed a_air g) (s + v)/(slow s + v) sharp/√(1 + far t²),   s = b W e
/// ```
///
/// - a_air: the part of the acceleration that the air causes. Gravity bends the path but adds no error; the air
///   does both, and the two together do.
/// - s: the speed below which the lift no longer grows with the speed. There the air is the more linear. Where only the
///   spin across the motion counts, s times the speed across it takes the place of s, and v² that of v.
/// - sharp: where the plane is met at a shallow angle an error shows many times over; from 1 down to 1 − shallow.
/// - t: the time that the parabola leaves to the plane, 3 s at most: an error of the velocity grows with it.
///
/// Where the lift depends on the velocity across the spin alone, that is v in the first place.
///
/// The error of a flight grows with the eighth power of theta. The numbers were searched for, with this kernel, so that
/// set W takes the fewest steps with every throw of both reference problems within 9e-7 m (tested at
/// 1e-6 m), and nearly all wilder ones within 1e-6 m; see [`super::fly_batch`] for the others.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rule {
    pub(super) theta: f64,
    pub(super) air: f64,
    pub(super) mixed: f64,
    pub(super) slow: f64,
    pub(super) far: f64,
    pub(super) shallow: f64,
    /// Square of the sine of the angle at which half of `shallow` counts.
    pub(super) angle: f64,
    /// An aimed step may be this much longer than the rule allows, if it saves a step.
    pub(super) stretch: f64,
    /// Within this many steps of the plane the way there is halved.
    pub(super) halved: f64,
}

impl Rule {
    /// For lift by the whole spin, and for none.
    pub(super) const WHOLE: Rule = Rule {
        theta: 0.879,
        air: 3.37,
        mixed: 2.21,
        slow: 0.795,
        far: 0.361,
        shallow: 0.38,
        angle: 0.116,
        stretch: 1.09,
        halved: 1.61,
    };
    /// For lift by the spin across the motion.
    pub(super) const ACROSS: Rule = Rule {
        theta: 0.78,
        air: 8.0,
        mixed: 0.0,
        slow: 1.0,
        far: 0.0,
        shallow: 0.28,
        angle: 0.02,
        stretch: 1.1,
        halved: 2.0,
    };
}

/// Method: the time to the plane counts up to here in [`Rule`].
pub(super) const FAR_S: f64 = 3.0;
/// Rounding: keeps the root of nothing a number.
pub(super) const TINY: f64 = 1e-60;
