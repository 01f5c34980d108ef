//! A property of the own pieces from a few readings with what a kitchen and a workshop have.

use super::hopper::{Hopper, Pieces};
use super::remedy::Remedy;
use crate::numerics::student;

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Property {
    /// Friction of a piece on the hopper: taped pieces slide on a tilted board.
    Friction,
    /// Friction of a piece on another: the same on a board covered with shells.
    PieceFriction,
    /// Rolling resistance: one piece keeps rolling on a tilted board.
    Rolling,
    /// Bounce: dropped from a height, the rebound read.
    Bounce,
    /// Stiffness: pressed together by a length on a scale, the mass read.
    Stiffness,
}

/// All of them.
pub const PROPERTIES: [Property; 5] = [
    Property::Friction,
    Property::PieceFriction,
    Property::Rolling,
    Property::Bounce,
    Property::Stiffness,
];

/// The value that readings give, with its interval.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// What was measured.
    pub property: Property,
    /// The value of each reading, SI as all values here.
    pub values: Vec<f64>,
    /// Their mean.
    pub value: f64,
    /// Standard deviation of one reading.
    pub sd: f64,
    /// Interval of the mean at [`CONFIDENCE_FRAC`].
    pub range: [f64; 2],
    /// Half of it that comes from the readings differing, over the value.
    pub scatter_ratio: f64,
    /// Half of it that comes from the marks of the instruments, the same in each reading, over the value.
    pub marks_ratio: f64,
    /// Student's t that was used.
    pub t_ratio: f64,
}

/// Why readings give no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unusable {
    /// Fewer than [`FEWEST`] or more than [`MOST`] readings.
    Count(usize),
    /// A reading that cannot be, by its place from 0.
    Reading(usize),
    /// The drop height or the squeeze is missing or cannot be.
    Base,
}

/// Two readings have hardly an interval.
pub const FEWEST: usize = 3;
/// More than ten are worth less than another evening's.
pub const MOST: usize = 30;
/// Confidence of the interval.
pub const CONFIDENCE_FRAC: f64 = 0.95;
/// Judgement: marks of a phone's inclinometer or a protractor.
const ANGLE_MARKS_RAD: f64 = 0.5 * std::f64::consts::PI / 180.0;
/// Judgement: a rebound is read off a film to a centimetre.
const REBOUND_MARKS_M: f64 = 0.01;
/// Judgement: marks of a tape.
const TAPE_MARKS_M: f64 = 1e-3;
/// Judgement: marks of a kitchen scale.
const SCALE_MARKS_KG: f64 = 0.005;

impl Property {
    /// Does it need a length besides the readings: the height of the drop, the squeeze?
    pub fn has_base(self) -> bool {
        matches!(self, Property::Bounce | Property::Stiffness)
    }

    /// The value of one reading, and how much it changes with the reading and with the base.
    ///
    /// ```text
    /// μ = tan α                 ∂μ/∂α = 1 + μ²
    /// e = √(r/h)                ∂e/∂r = e/2r,  ∂e/∂h = −e/2h
    /// K = g M/s                 ∂K/∂M = K/M,   ∂K/∂s = −K/s
    /// ```
    fn of(self, reading: f64, base_m: f64) -> (f64, f64, f64) {
        match self {
            Property::Friction | Property::PieceFriction | Property::Rolling => {
                let mu = libm::tan(reading);
                (mu, 1.0 + mu * mu, 0.0)
            }
            Property::Bounce => {
                let e = (reading / base_m).sqrt();
                (e, 0.5 * e / reading, 0.5 * e / base_m)
            }
            Property::Stiffness => {
                let k = crate::units::STANDARD_GRAVITY_MPS2 * reading / base_m;
                (k, k / reading, k / base_m)
            }
        }
    }

    fn makes_sense(self, reading: f64, base_m: f64) -> bool {
        let steepest = 80.0 * std::f64::consts::PI / 180.0;
        reading > 0.0
            && reading.is_finite()
            && match self {
                Property::Friction | Property::PieceFriction | Property::Rolling => reading < steepest,
                // A piece does not come back higher than it was dropped from.
                Property::Bounce => reading < base_m,
                Property::Stiffness => true,
            }
    }

    fn marks(self) -> f64 {
        match self {
            Property::Friction | Property::PieceFriction | Property::Rolling => ANGLE_MARKS_RAD,
            Property::Bounce => REBOUND_MARKS_M,
            Property::Stiffness => SCALE_MARKS_KG,
        }
    }

    /// Hopper and pieces with another value of it.
    pub fn put(self, hopper: &Hopper, pieces: &Pieces, value: f64) -> (Hopper, Pieces) {
        let (mut h, mut p) = (*hopper, *pieces);
        match self {
            Property::Friction => h.friction_coeff = value,
            Property::PieceFriction => h.piece_friction_coeff = value,
            Property::Rolling => h.rolling_coeff = value,
            Property::Bounce => p.bounce_coeff = value,
            Property::Stiffness => p.press_npm = value,
        }
        (h, p)
    }
}

/// Value and interval from readings: angles for what is tilted, rebound heights for a drop from `base_m`, masses for a squeeze of
/// `base_m`.
///
/// ```text
/// v̄ ± √((t s/√n)² + (2 u)²),   u² = (d/√12)² ((∂v/∂x)² d_x² + (∂v/∂b)² d_b²)/d²
/// ```
///
/// Student's t of n − 1 at 95 % for the mean [student-1908]; marks d of the instruments are even within themselves, and not less for
/// being read often; the parts add in squares [jcgm-100].
///
/// # Errors
/// Too few readings, one that cannot be, a base that cannot be.
pub fn measured(property: Property, values: &[f64], base_m: f64) -> Result<Measured, Unusable> {
    if !(FEWEST..=MOST).contains(&values.len()) {
        return Err(Unusable::Count(values.len()));
    }
    if property.has_base() && !(base_m > 0.0 && base_m.is_finite()) {
        return Err(Unusable::Base);
    }
    if let Some(i) = values.iter().position(|r| !property.makes_sense(*r, base_m)) {
        return Err(Unusable::Reading(i));
    }
    let all: Vec<(f64, f64, f64)> = values.iter().map(|r| property.of(*r, base_m)).collect();
    let n = all.len() as f64;
    let mean = |pick: fn(&(f64, f64, f64)) -> f64| all.iter().map(pick).sum::<f64>() / n;
    let value = mean(|v| v.0);
    let squares: f64 = all.iter().map(|v| (v.0 - value) * (v.0 - value)).sum();
    let sd = (squares / (n - 1.0)).sqrt();
    let t_ratio = student::two_sided(n - 1.0, CONFIDENCE_FRAC);
    let scatter_half = t_ratio * sd / n.sqrt();
    let (by_reading, by_base) = (mean(|v| v.1) * property.marks(), mean(|v| v.2) * TAPE_MARKS_M);
    let marks_half = 2.0 * ((by_reading * by_reading + by_base * by_base) / 12.0).sqrt();
    let half = (scatter_half * scatter_half + marks_half * marks_half).sqrt();
    let most = if property == Property::Bounce {
        1.0
    } else {
        f64::INFINITY
    };
    Ok(Measured {
        property,
        values: all.iter().map(|v| v.0).collect(),
        value,
        sd,
        range: [(value - half).max(0.0), (value + half).min(most)],
        scatter_ratio: scatter_half / value,
        marks_ratio: marks_half / value,
        t_ratio,
    })
}

/// The hopper as measured, and its two ends to be compared with it: `low`, `high`.
pub fn ends(m: &Measured, hopper: &Hopper, pieces: &Pieces) -> ((Hopper, Pieces), [Remedy; 2]) {
    let at = |code, value| {
        let (hopper, pieces) = m.property.put(hopper, pieces, value);
        Remedy {
            code,
            hopper,
            pieces,
            work_s: 3600.0,
        }
    };
    // What has no stiffness or friction at all is no piece.
    let least = 0.05 * m.value;
    (
        m.property.put(hopper, pieces, m.value),
        [at("low", m.range[0].max(least)), at("high", m.range[1])],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const DEG: f64 = std::f64::consts::PI / 180.0;

    /// t of n − 1 = 4 at 95 %, two-sided, is 2.776 in the printed table [nist-handbook] 1.3.6.7.2 (from memory). Five angles about
    /// 17 degrees: mean and standard deviation worked by hand, tan 17° = 0.3057.
    #[test]
    fn friction_by_a_tilted_board_has_the_interval_of_the_mean() {
        let m = measured(
            Property::Friction,
            &[16.0, 17.0, 17.0, 17.0, 18.0].map(|a| a * DEG),
            0.0,
        )
        .unwrap();
        let by_hand = [0.286745, 0.305731, 0.305731, 0.305731, 0.324920];
        let mean: f64 = by_hand.iter().sum::<f64>() / 5.0;
        let sd = (by_hand.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / 4.0).sqrt();
        assert!((m.value - mean).abs() < 1e-5 && (m.sd - sd).abs() < 1e-5, "{m:?}");
        assert!((m.t_ratio - 2.776).abs() < 5e-4, "{}", m.t_ratio);
        assert!((m.scatter_ratio * m.value - 2.776 * sd / 5f64.sqrt()).abs() < 1e-5);
    }

    /// e = √(r/h): 36 cm from 1 m is 0.6, and a small change of r changes it by e/2r of that: closed form against a difference. The
    /// docs tell that 2 cm of rebound are 0.017.
    #[test]
    fn bounce_by_a_drop_is_the_root_and_its_doubt_that_of_the_closed_form() {
        let m = measured(Property::Bounce, &[0.36; 4], 1.0).unwrap();
        assert!((m.value - 0.6).abs() < 1e-12 && m.sd == 0.0);
        let (e, by_rebound, by_height) = Property::Bounce.of(0.36, 1.0);
        let step = 1e-6;
        let rise = ((0.36f64 + step).sqrt() - (0.36f64 - step).sqrt()) / (2.0 * step);
        let fall = ((0.36f64 / (1.0 + step)).sqrt() - (0.36f64 / (1.0 - step)).sqrt()) / (2.0 * step);
        assert!((by_rebound - rise).abs() < 1e-6 && (by_height + fall).abs() < 1e-6 && e == m.value);
        assert!((0.02 * by_rebound - 0.017).abs() < 5e-4);
        // Four equal readings are not known exactly: the film has its marks.
        let marks = 2.0 * 0.01 * by_rebound / 12f64.sqrt();
        assert!(
            (m.marks_ratio * m.value / marks - 1.0).abs() < 0.01,
            "{} {marks}",
            m.marks_ratio
        );
    }

    /// 3 kg that press 10 mm are 9.80665 · 3/0.01 N/m.
    #[test]
    fn stiffness_by_a_scale_is_weight_over_squeeze() {
        let m = measured(Property::Stiffness, &[3.0, 3.1, 2.9], 0.01).unwrap();
        assert!((m.value - 2941.995).abs() < 1e-9, "{}", m.value);
        assert!(m.range[0] < m.value && m.value < m.range[1]);
    }

    #[test]
    fn what_cannot_be_is_refused_by_its_place() {
        let ok = [17.0 * DEG; 3];
        assert_eq!(
            measured(Property::Friction, &ok[..2], 0.0),
            Err(Unusable::Count(2))
        );
        assert_eq!(
            measured(Property::Friction, &[0.3, 0.3, 1.5], 0.0),
            Err(Unusable::Reading(2))
        );
        assert_eq!(
            measured(Property::Bounce, &[0.4, 1.2, 0.4], 1.0),
            Err(Unusable::Reading(1))
        );
        assert_eq!(measured(Property::Bounce, &[0.4; 3], 0.0), Err(Unusable::Base));
        assert_eq!(
            measured(Property::Rolling, &[f64::NAN; 3], 0.0),
            Err(Unusable::Reading(0))
        );
    }
}
