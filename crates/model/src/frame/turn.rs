//! Turning on the spot and lining up.

/// A base that turns on the spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turner {
    /// Moment of inertia about the upright axis.
    pub inertia_kgm2: f64,
    /// Distance from the centre to the line on which the wheels push; half of the track, or (base + track)/2
    /// under rollers.
    pub arm_m: f64,
    /// Half of the distance over which the wheels are dragged sideways; 0 under rollers.
    pub half_drag_m: f64,
    /// Friction force of all wheels together.
    pub friction_n: f64,
    /// Most push of all wheels together along their own direction (traction or current limit).
    pub cap_n: f64,
    /// Push of all motors at standstill.
    pub stall_n: f64,
    /// Surface speed at which they have no push left.
    pub free_mps: f64,
}

impl Turner {
    /// Angular acceleration at a speed of turning.
    ///
    /// ```text
    /// J α = F b − √((μ W)² − F²) l        surface speed u = ω (b + l F/√((μ W)² − F²)),  F ≤ line(u)
    /// ```
    ///
    /// Sliding friction of the full size, against the direction in which each wheel slides; derived for equal loads.
    fn acceleration_radps2(&self, turn_radps: f64) -> f64 {
        let line = |u: f64| (self.stall_n * (1.0 - u / self.free_mps)).max(0.0);
        if self.half_drag_m == 0.0 {
            let push = line(turn_radps * self.arm_m).min(self.cap_n);
            return push * self.arm_m / self.inertia_kgm2;
        }
        let aside = |push: f64| (self.friction_n * self.friction_n - push * push).max(0.0).sqrt();
        let speed = |push: f64| {
            let aside = aside(push);
            if turn_radps == 0.0 {
                0.0
            } else {
                turn_radps * (self.arm_m + self.half_drag_m * push / aside.max(f64::MIN_POSITIVE))
            }
        };
        // The push that the motors can make at the speed it needs: it grows, the line falls.
        let most = self.cap_n.min(self.friction_n);
        let (mut low, mut high) = (0.0, most);
        if line(speed(most)) < most {
            for _ in 0..HALVINGS {
                let middle = 0.5 * (low + high);
                if line(speed(middle)) >= middle {
                    low = middle;
                } else {
                    high = middle;
                }
            }
        } else {
            low = most;
        }
        (low * self.arm_m - aside(low) * self.half_drag_m) / self.inertia_kgm2
    }

    /// Time to turn by an angle and stand again; `None` where the motors cannot turn it.
    ///
    /// Speeds up over half of the angle and brakes as fast over the other half; scrub brakes faster in truth.
    pub fn time_s(&self, angle_rad: f64) -> Option<f64> {
        let half_rad = 0.5 * angle_rad.abs();
        if half_rad == 0.0 {
            return Some(0.0);
        }
        let (mut turned_rad, mut turn_radps, mut time_s) = (0.0, 0.0, 0.0);
        while time_s < PATIENCE_S {
            let alpha = self.acceleration_radps2(turn_radps);
            if !alpha.is_finite() || (turn_radps == 0.0 && alpha <= 0.0) {
                return None;
            }
            let next = (turn_radps + alpha * STEP_S).max(0.0);
            let moved = 0.5 * (turn_radps + next) * STEP_S;
            if turned_rad + moved >= half_rad {
                return Some(2.0 * (time_s + STEP_S * (half_rad - turned_rad) / moved));
            }
            turned_rad += moved;
            turn_radps = next;
            time_s += STEP_S;
        }
        None
    }

    /// Steady speed of turning; 0 where the motors cannot turn it.
    pub fn top_radps(&self) -> f64 {
        if !(self.acceleration_radps2(0.0) > 0.0) {
            return 0.0;
        }
        let (mut low, mut high) = (0.0, self.free_mps / self.arm_m);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (low + high);
            if self.acceleration_radps2(middle) > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }
}

/// Method: halvings of a bracket, to rounding.
const HALVINGS: usize = 60;
/// Method: step of the turn; a turn takes tenths of seconds.
const STEP_S: f64 = 1e-3;
/// Physical: a turn that takes longer is none.
const PATIENCE_S: f64 = 20.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frame::base::scrub;

    const SKID: Turner = Turner {
        inertia_kgm2: 0.5,
        arm_m: 0.18,
        half_drag_m: 0.13,
        friction_n: 0.8 * 147.1,
        cap_n: f64::INFINITY,
        stall_n: 700.0,
        free_mps: 4.0,
    };

    /// In the steady turn the wheels push what the slow-pivot formula says, at its surface speed.
    #[test]
    fn the_steady_turn_is_that_of_the_scrub_formula() {
        let top = SKID.top_radps();
        let s = scrub(0.8, 147.1, 0.26, 0.36, top);
        let line_n = 700.0 * (1.0 - s.wheel_mps / 4.0);
        assert!(
            (line_n / (4.0 * s.wheel_n) - 1.0).abs() < 1e-6,
            "{line_n} {}",
            4.0 * s.wheel_n
        );
    }

    #[test]
    fn without_scrub_a_small_turn_takes_the_time_of_constant_torque() {
        let rollers = Turner {
            half_drag_m: 0.0,
            cap_n: 40.0,
            ..SKID
        };
        let alpha = 40.0 * 0.18 / 0.5;
        let expected = 2.0 * (0.05_f64 / alpha).sqrt();
        let got = rollers.time_s(0.05).unwrap();
        assert!((got / expected - 1.0).abs() < 0.01, "{got} {expected}");
        assert!(SKID.time_s(1.0).unwrap() > SKID.time_s(0.5).unwrap());
    }

    #[test]
    fn motors_weaker_than_the_scrub_do_not_turn_it() {
        let weak = Turner {
            stall_n: 0.5 * 4.0 * scrub(0.8, 147.1, 0.26, 0.36, 1.0).wheel_n,
            ..SKID
        };
        assert_eq!(weak.time_s(0.3), None);
        assert_eq!(weak.top_radps(), 0.0);
    }
}
