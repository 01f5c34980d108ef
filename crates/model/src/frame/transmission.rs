//! Gears, chains and synchronous belts: ratios, lengths, centre distances, engagement.

use std::f64::consts::{PI, TAU};

/// A gear train.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GearTrain {
    /// Speed in over speed out.
    pub gear_ratio: f64,
    /// Speed out.
    pub out_radps: f64,
    /// Torque out.
    pub out_nm: f64,
}

/// Ratio, speed and torque of pairs of gears in a row; `None` for a wheel without teeth or an odd list.
///
/// ```text
/// G = ∏ z_driven/z_driver    ω_out = ω_in/G    T_out = T_in G η^n
/// ```
///
/// Teeth as driver, driven, driver, driven ... Any textbook \[shigley\]. The loss turns around when the load drives.
pub fn gear_train(teeth_count: &[f64], stage_frac: f64, in_radps: f64, in_nm: f64) -> Option<GearTrain> {
    if teeth_count.len() % 2 == 1 || teeth_count.iter().any(|z| !(*z > 0.0)) {
        return None;
    }
    let gear_ratio: f64 = teeth_count.chunks(2).map(|pair| pair[1] / pair[0]).product();
    let stages = (teeth_count.len() / 2) as i32;
    Some(GearTrain {
        gear_ratio,
        out_radps: in_radps / gear_ratio,
        out_nm: in_nm * gear_ratio * stage_frac.powi(stages),
    })
}

/// Centre distance of a pair of spur gears.
///
/// ```text
/// a = m (z1 + z2)/2
/// ```
///
/// \[iso21771\]; no profile shift. A tenth of a millimetre more gives printed gears air.
pub fn gear_centre_m(module_m: f64, teeth_a_count: f64, teeth_b_count: f64) -> f64 {
    0.5 * module_m * (teeth_a_count + teeth_b_count)
}

/// Pitch diameter of a sprocket.
///
/// ```text
/// D = p/sin(π/z)
/// ```
///
/// \[iso606\]
pub fn sprocket_m(pitch_m: f64, teeth_count: f64) -> f64 {
    pitch_m / (PI / teeth_count).sin()
}

/// By how much a chain's speed pulses: 1 − cos(π/z) \[iso606\] geometry.
pub fn chain_ripple_frac(teeth_count: f64) -> f64 {
    1.0 - (PI / teeth_count).cos()
}

/// Two sprockets and a chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ChainPair {
    /// Pitch of the chain.
    pub pitch_m: f64,
    /// Teeth of one.
    pub teeth_a_count: f64,
    /// Teeth of the other.
    pub teeth_b_count: f64,
}

/// Links of a chain over a centre distance; cut to an even number.
///
/// ```text
/// X = 2 C/p + (z1 + z2)/2 + ((z2 − z1)/2π)² p/C
/// ```
///
/// \[iso10823\]
pub fn chain_links_count(pair: &ChainPair, centre_m: f64) -> f64 {
    let step = (pair.teeth_b_count - pair.teeth_a_count) / TAU;
    2.0 * centre_m / pair.pitch_m
        + 0.5 * (pair.teeth_a_count + pair.teeth_b_count)
        + step * step * pair.pitch_m / centre_m
}

/// Centre distance for a chain of so many links; `None` where it does not reach around.
///
/// ```text
/// C = p/4 (q + √(q² − 8 ((z2 − z1)/2π)²))    q = X − (z1 + z2)/2
/// ```
///
/// \[iso10823\]
pub fn chain_centre_m(pair: &ChainPair, links_count: f64) -> Option<f64> {
    let step = (pair.teeth_b_count - pair.teeth_a_count) / TAU;
    let q = links_count - 0.5 * (pair.teeth_a_count + pair.teeth_b_count);
    let under = q * q - 8.0 * step * step;
    (q > 0.0 && under >= 0.0).then(|| pair.pitch_m / 4.0 * (q + under.sqrt()))
}

/// Two pulleys of a synchronous belt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeltPair {
    /// Pitch of the belt.
    pub pitch_m: f64,
    /// Teeth of the smaller pulley.
    pub small_count: f64,
    /// Teeth of the greater pulley.
    pub large_count: f64,
}

/// A belt over a centre distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BeltRun {
    /// Length at the pitch line.
    pub length_m: f64,
    /// The same by the usual approximation.
    pub rough_m: f64,
    /// Angle over which the belt lies on the smaller pulley.
    pub wrap_rad: f64,
    /// Teeth of the smaller pulley in the belt; six or more are wanted.
    pub engaged_count: f64,
}

/// Common practice: fewer teeth than this in the belt, and they shear or jump (belt makers' guides).
pub const ENGAGED_COUNT: f64 = 6.0;

fn pitch_m(teeth_count: f64, pitch_m: f64) -> f64 {
    teeth_count * pitch_m / PI
}

/// Length, wrap and engagement of a synchronous belt; `None` where the pulleys overlap.
///
/// ```text
/// θ = 2 acos((d2 − d1)/2C)    L = 2 C sin(θ/2) + p/2 (z1 + z2 + (1 − θ/π)(z2 − z1))
/// rough  L = 2 C + p (z1 + z2)/2 + (d2 − d1)²/4C    engaged = z1 θ/2π    d = z p/π
/// ```
///
/// \[iso5296\], tangent geometry. d is at the pitch line, which lies outside of the pulley's own outer diameter.
pub fn belt_run(pair: &BeltPair, centre_m: f64) -> Option<BeltRun> {
    let (d1, d2) = (
        pitch_m(pair.small_count, pair.pitch_m),
        pitch_m(pair.large_count, pair.pitch_m),
    );
    let cosine = (d2 - d1) / (2.0 * centre_m);
    if !(centre_m > 0.0 && cosine.abs() <= 1.0) {
        return None;
    }
    let wrap_rad = 2.0 * cosine.acos();
    let (sum, step) = (
        pair.small_count + pair.large_count,
        pair.large_count - pair.small_count,
    );
    Some(BeltRun {
        length_m: 2.0 * centre_m * (0.5 * wrap_rad).sin()
            + 0.5 * pair.pitch_m * (sum + (1.0 - wrap_rad / PI) * step),
        rough_m: 2.0 * centre_m + 0.5 * pair.pitch_m * sum + (d2 - d1) * (d2 - d1) / (4.0 * centre_m),
        wrap_rad,
        engaged_count: pair.small_count * wrap_rad / TAU,
    })
}

/// Method: halvings of the bracket, to rounding.
const HALVINGS: usize = 100;

/// Centre distance for a belt of so many teeth; `None` where it does not reach around both pulleys.
pub fn belt_centre_m(pair: &BeltPair, belt_count: f64) -> Option<f64> {
    let length_m = belt_count * pair.pitch_m;
    let step = (pitch_m(pair.large_count, pair.pitch_m) - pitch_m(pair.small_count, pair.pitch_m)).abs();
    let (mut low, mut high) = (0.5 * step, 0.5 * length_m);
    // The length grows with the centre distance.
    let long_enough = |c: f64| belt_run(pair, c).is_some_and(|r| r.length_m >= length_m);
    if !(high > low) || long_enough(low.max(f64::MIN_POSITIVE)) || !long_enough(high) {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if long_enough(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    Some(0.5 * (low + high))
}

/// Pull of a belt or chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pull {
    /// What the torque asks for: tight side less slack side.
    pub working_n: f64,
    /// Tight side.
    pub tight_n: f64,
    /// Slack side.
    pub slack_n: f64,
    /// What the shaft's bearings feel, both sides together, for a wrap of half a turn.
    pub shaft_n: f64,
}

/// Pull of a belt or chain that carries a torque.
///
/// ```text
/// F = T/(d/2)    T1 − T2 = F    T2 = s F    shaft = T1 + T2
/// ```
///
/// Statics, derived. s is the slack side over the working pull: about 0.1 for a chain, 0.5 for a synchronous belt
/// that is set by feel (common practice, no source).
pub fn pull(torque_nm: f64, pitch_diameter_m: f64, slack_ratio: f64) -> Pull {
    let working_n = torque_nm / (0.5 * pitch_diameter_m);
    let slack_n = slack_ratio * working_n;
    Pull {
        working_n,
        tight_n: working_n + slack_n,
        slack_n,
        shaft_n: working_n + 2.0 * slack_n,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_and_centre_distance_are_inverse() {
        let pair = ChainPair {
            pitch_m: 0.00635,
            teeth_a_count: 12.0,
            teeth_b_count: 40.0,
        };
        let centre = chain_centre_m(&pair, 80.0).unwrap();
        assert!((chain_links_count(&pair, centre) - 80.0).abs() < 1e-9);
        assert_eq!(chain_centre_m(&pair, 20.0), None);
    }

    #[test]
    fn belt_length_and_centre_distance_are_inverse_and_a_short_belt_does_not_reach() {
        let pair = BeltPair {
            pitch_m: 0.005,
            small_count: 15.0,
            large_count: 60.0,
        };
        let centre = belt_centre_m(&pair, 100.0).unwrap();
        assert!((belt_run(&pair, centre).unwrap().length_m - 0.5).abs() < 1e-12);
        assert_eq!(belt_centre_m(&pair, 50.0), None);
        assert_eq!(belt_run(&pair, 0.001), None);
    }

    #[test]
    fn a_crooked_list_of_teeth_is_no_train() {
        assert_eq!(gear_train(&[12.0, 60.0, 15.0], 0.9, 1.0, 1.0), None);
        assert_eq!(gear_train(&[0.0, 60.0], 0.9, 1.0, 1.0), None);
        let p = pull(1.0, 0.05, 0.5);
        assert!((p.shaft_n - 80.0).abs() < 1e-12 && (p.tight_n - p.slack_n - 40.0).abs() < 1e-12);
    }
}
