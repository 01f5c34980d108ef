//! Ball and roller bearings: basic rating life, rating needed, life of a pair, speed factor.

/// Exponent of the life of ball bearings; 10/3 for rollers \[iso281\].
pub const BALL_EXPONENT: f64 = 3.0;
/// Weibull slope of ball bearings, for the life of several on a shaft \[lundberg-palmgren-1947\].
pub const BALL_WEIBULL_EXPONENT: f64 = 10.0 / 9.0;

/// Basic rating life.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BearingLife {
    /// Turns that nine bearings in ten outlast.
    pub turns_count: f64,
    /// The same as time at the speed; infinite at standstill.
    pub life_s: f64,
}

/// Basic rating life of a bearing under a steady equivalent load.
///
/// ```text
/// L10 = (C/P)^p · 10⁶ turns    t = L10/(ω/2π)
/// ```
///
/// \[iso281\]. Nine in ten outlast it. Says nothing of dirt, dents and rust, which decide on a small machine.
pub fn bearing_life(rating_n: f64, load_n: f64, life_exponent: f64, speed_radps: f64) -> BearingLife {
    let turns_count = 1e6 * (rating_n / load_n).powf(life_exponent);
    BearingLife {
        turns_count,
        life_s: turns_count * std::f64::consts::TAU / speed_radps,
    }
}

/// What a bearing must bear.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LifeDemand {
    /// Equivalent load.
    pub load_n: f64,
    /// Factor on it for shocks.
    pub shock_ratio: f64,
    /// Speed.
    pub speed_radps: f64,
    /// Time it must last.
    pub life_s: f64,
    /// Share of bearings that must outlast it.
    pub survive_frac: f64,
    /// Exponent of the life.
    pub life_exponent: f64,
    /// Weibull: least life over L10.
    pub least_ratio: f64,
    /// Weibull: characteristic life over L10.
    pub scale_ratio: f64,
    /// Weibull: slope.
    pub weibull_exponent: f64,
}

/// Rating that a demand asks for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatingNeeded {
    /// Turns asked for, over 10⁶.
    pub life_ratio: f64,
    /// Dynamic load rating.
    pub rating_n: f64,
}

/// Dynamic load rating for a life at a reliability.
///
/// ```text
/// C = a_f F (x_D/(x0 + (θ − x0) (ln 1/R)^(1/b)))^(1/a)    x_D = L/10⁶ turns
/// ```
///
/// \[shigley\] eq. 11-6, three-parameter Weibull.
pub fn rating_needed(d: &LifeDemand) -> RatingNeeded {
    let life_ratio = d.life_s * d.speed_radps / std::f64::consts::TAU / 1e6;
    let outlast = d.least_ratio
        + (d.scale_ratio - d.least_ratio) * (1.0 / d.survive_frac).ln().powf(1.0 / d.weibull_exponent);
    RatingNeeded {
        life_ratio,
        rating_n: d.shock_ratio * d.load_n * (life_ratio / outlast).powf(1.0 / d.life_exponent),
    }
}

/// Life of a shaft with several bearings: the first failure counts.
///
/// ```text
/// L = (Σ L_i^−e)^(−1/e)
/// ```
///
/// \[lundberg-palmgren-1947\]; lives in any one unit.
pub fn system_life_s(lives_s: &[f64], weibull_exponent: f64) -> f64 {
    lives_s
        .iter()
        .map(|l| l.powf(-weibull_exponent))
        .sum::<f64>()
        .powf(-1.0 / weibull_exponent)
}

/// Speed factor of a bearing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedFactor {
    /// Mean of bore and outer diameter.
    pub mean_m: f64,
    /// Turns a minute times mean diameter in millimetres, as makers print it.
    pub printed_ratio: f64,
}

/// Speed factor n·dm, as makers of grease and bearings print it.
///
/// ```text
/// n dm = n (rpm) · (d + D)/2 (mm)
/// ```
///
/// Definition of the trade \[bearing-handbooks\].
pub fn speed_factor(bore_m: f64, outer_m: f64, speed_radps: f64) -> SpeedFactor {
    let mean_m = 0.5 * (bore_m + outer_m);
    SpeedFactor {
        mean_m,
        printed_ratio: speed_radps * 30.0 / std::f64::consts::PI * mean_m * 1e3,
    }
}

/// Speed factor up to which ordinary grease does \[bearing-handbooks\]; the maker's own limit comes first.
pub const EASY_SPEED_RATIO: f64 = 150_000.0;
/// Speed factor up to which high-speed grease does \[bearing-handbooks\].
pub const GREASE_SPEED_RATIO: f64 = 400_000.0;

#[cfg(test)]
mod tests {
    use super::*;

    /// Trap: a worked example on the web prints 4^(10/3) as 91; it is 101.6.
    #[test]
    fn a_roller_bearing_at_a_quarter_of_its_rating_lasts_over_a_hundred_million_turns() {
        let life = bearing_life(4000.0, 1000.0, 10.0 / 3.0, 1.0);
        assert!(
            (life.turns_count / 1e6 - 101.593_667).abs() < 1e-5,
            "{}",
            life.turns_count
        );
    }

    #[test]
    fn two_equal_bearings_last_less_than_one_and_one_alone_as_long() {
        assert!((system_life_s(&[5000.0], 10.0 / 9.0) - 5000.0).abs() < 1e-9);
        let pair = system_life_s(&[5000.0, 5000.0], 10.0 / 9.0);
        assert!((pair / 5000.0 - 2f64.powf(-0.9)).abs() < 1e-12);
    }

    /// L10 is the life at nine in ten: with the standard's Weibull numbers the two formulas meet.
    #[test]
    fn the_rating_for_nine_in_ten_is_nearly_that_of_the_basic_life() {
        let demand = LifeDemand {
            load_n: 100.0,
            shock_ratio: 1.0,
            speed_radps: 500.0,
            life_s: 3.6e6,
            survive_frac: 0.9,
            life_exponent: 3.0,
            least_ratio: 0.02,
            scale_ratio: 4.459,
            weibull_exponent: 1.483,
        };
        let need = rating_needed(&demand);
        let life = bearing_life(need.rating_n, 100.0, 3.0, 500.0);
        assert!((life.life_s / 3.6e6 - 1.0).abs() < 0.02, "{}", life.life_s);
    }
}
