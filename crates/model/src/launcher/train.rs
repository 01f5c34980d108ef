//! The wheel train at constant duty: motors, chopper, battery, friction; stepped exactly.
//!
//! At constant duty the torque falls in straight pieces with speed, so each piece has a closed
//! solution. A step is a chain of such pieces; no step size enters the result.

use super::motor::motor_constants;
use super::types::{Battery, Drive, TorqueLine};

/// Everything that turns with one wheel shaft, and how many such shafts share the battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelTrain {
    /// Motors and gearing of one shaft.
    pub drive: Drive,
    /// Inertia at one wheel, rotors included ([`super::inertia::train_inertia`]).
    pub inertia_kgm2: f64,
    /// Shafts on the same battery: 1 for a guide, 2 for a pair. All turn alike.
    pub shaft_count: u32,
}

/// Torque at one wheel at constant duty while the motors drive: a straight line in wheel speed.
///
/// ```text
/// T = Nm η G (kT (D V_oc − kE G ω)/(R + n D² R_b) − τf),    n = Nm · shafts
/// ```
///
/// | symbol | code | unit |
/// |---|---|---|
/// | D | `duty_frac` | – |
/// | G, η, Nm | `gear_ratio`, `gear_efficiency_frac`, `motor_count` of [`Drive`] | – |
///
/// Linear motor \[fitzgerald-machines\], averaged chopper and Thévenin battery, derived. Leaves out the
/// current limit and coasting, which cut the line; the volley hands out the piece in force.
pub fn torque_line(drive: &Drive, battery: &Battery, duty_frac: f64, shaft_count: u32) -> TorqueLine {
    let train = WheelTrain {
        drive: *drive,
        inertia_kgm2: 1.0,
        shaft_count,
    };
    Plant::new(&train, battery, true).driving_line(duty_frac)
}

/// Current, voltage and torque at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TrainPoint {
    /// Current in each motor.
    pub(super) motor_a: f64,
    /// Current drawn from the battery.
    pub(super) battery_a: f64,
    /// Voltage at the battery terminals.
    pub(super) battery_v: f64,
    /// The current limit holds the current.
    pub(super) limited: bool,
}

/// Where the energy of the wheel train went.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct TrainEnergy {
    /// Given up by the battery's chemistry for the wheels.
    pub source_j: f64,
    /// Heat in the battery's own resistance.
    pub battery_heat_j: f64,
    /// Heat in all windings.
    pub winding_heat_j: f64,
    /// Friction and gearing, and what the motor sheet's own contradiction (κ not 1) leaves over.
    pub drive_loss_j: f64,
}

impl TrainEnergy {
    pub(super) fn add(&mut self, more: &TrainEnergy) {
        self.source_j += more.source_j;
        self.battery_heat_j += more.battery_heat_j;
        self.winding_heat_j += more.winding_heat_j;
        self.drive_loss_j += more.drive_loss_j;
    }
}

/// How speed runs within a span.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Course {
    /// At constant torque or at rest: a straight line.
    Straight,
    /// Toward `toward_radps` at `rate_hz` per second.
    Decay { toward_radps: f64, rate_hz: f64 },
}

/// Voltage at one motor that holds a wheel speed: a straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Holding {
    /// At no speed: what friction takes.
    pub at_rest_v: f64,
    /// More for each rad/s of the wheel.
    pub rise_v_per_radps: f64,
}

impl WheelTrain {
    /// The voltage that the speed loop's feed-forward starts from.
    ///
    /// ```text
    /// V = R I₀ + k_E G ω
    /// ```
    pub fn holding(&self, battery: &Battery) -> Holding {
        let plant = Plant::new(self, battery, false);
        let at_rest_v = plant.holding_voltage(0.0);
        Holding {
            at_rest_v,
            rise_v_per_radps: plant.back_v_per_radps,
        }
    }
}

/// One piece of the motion, between two changes of the torque law.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    pub(super) duration_s: f64,
    pub(super) start_radps: f64,
    pub(super) end_radps: f64,
    /// Turn of the wheel.
    pub(super) turn_rad: f64,
    pub(super) energy: TrainEnergy,
    course: Course,
}

impl Span {
    /// When within the span the speed passes a level; `None` if it does not.
    pub(super) fn time_to(&self, level_radps: f64) -> Option<f64> {
        let (from, to) = (self.start_radps, self.end_radps);
        if (level_radps - from) * (to - level_radps) < 0.0 || from == to {
            return None;
        }
        let time_s = match self.course {
            Course::Straight => self.duration_s * (level_radps - from) / (to - from),
            Course::Decay {
                toward_radps,
                rate_hz,
            } => ((from - toward_radps) / (level_radps - toward_radps)).ln() / rate_hz,
        };
        Some(if time_s.is_finite() {
            time_s.clamp(0.0, self.duration_s)
        } else {
            self.duration_s
        })
    }
}

/// Abscissae and weights of three-point Gauss quadrature on 0..1 \[abramowitz-stegun\] table 25.4.
const GAUSS3: [(f64, f64); 3] = [
    (0.112_701_665_379_258_3, 5.0 / 18.0),
    (0.5, 8.0 / 18.0),
    (0.887_298_334_620_741_7, 5.0 / 18.0),
];

/// The train reduced to the numbers that the equation of motion uses.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plant {
    /// Torque at the wheel per ampere of one motor, without gear loss: Nm G kT.
    torque_nm_per_a: f64,
    /// Back voltage per wheel speed: kE G.
    back_v_per_radps: f64,
    resistance_ohm: f64,
    free_a: f64,
    efficiency_frac: f64,
    inertia_kgm2: f64,
    open_v: f64,
    battery_ohm: f64,
    /// Motors on the battery.
    motor_count: f64,
    shaft_count: f64,
    limit_a: f64,
    brakes: bool,
}

impl Plant {
    pub(super) fn new(train: &WheelTrain, battery: &Battery, brakes: bool) -> Plant {
        let m = motor_constants(&train.drive.motor);
        let per_shaft = f64::from(train.drive.motor_count);
        Plant {
            torque_nm_per_a: per_shaft * train.drive.gear_ratio * m.kt_nm_per_a,
            back_v_per_radps: m.ke_v_per_radps * train.drive.gear_ratio,
            resistance_ohm: m.resistance_ohm,
            free_a: m.free_a,
            efficiency_frac: train.drive.gear_efficiency_frac,
            inertia_kgm2: train.inertia_kgm2,
            open_v: battery.open_v,
            battery_ohm: battery.resistance_ohm,
            motor_count: per_shaft * f64::from(train.shaft_count),
            shaft_count: f64::from(train.shaft_count),
            limit_a: train.drive.limit_a,
            brakes,
        }
    }

    /// Why this train cannot be simulated, if it cannot.
    pub(super) fn refusal(&self) -> Option<&'static str> {
        let positive = |x: f64| x.is_finite() && x > 0.0;
        if !positive(self.motor_count) {
            return Some("there is no motor on the wheel shaft");
        }
        if !positive(self.inertia_kgm2) {
            return Some("the inertia of the wheel train must be above 0");
        }
        if !(positive(self.torque_nm_per_a)
            && positive(self.back_v_per_radps)
            && positive(self.resistance_ohm))
        {
            return Some("the motor's sheet or the gear ratio makes no sense: all must be above 0");
        }
        if !(self.free_a.is_finite() && self.free_a >= 0.0) {
            return Some("the motor's free current must be 0 or more");
        }
        if !(self.efficiency_frac > 0.0 && self.efficiency_frac <= 1.0) {
            return Some("the efficiency of the gearing must be above 0 and at most 1");
        }
        if !(positive(self.open_v) && self.battery_ohm.is_finite() && self.battery_ohm >= 0.0) {
            return Some("the battery's voltage must be above 0 and its resistance 0 or more");
        }
        if self.limit_a.is_nan() || self.limit_a <= 0.0 {
            return Some("the current limit must be above 0");
        }
        let rate_hz = self.rate_hz(0.0) / self.efficiency_frac;
        let start_radps2 = self.torque_nm_per_a * self.open_v / self.resistance_ohm / self.inertia_kgm2;
        let reach_radps = (self.open_v + self.free_a * self.drop_ohm(1.0)) / self.back_v_per_radps;
        if !(positive(rate_hz)
            && positive(self.rate_hz(1.0))
            && positive(start_radps2)
            && positive(reach_radps))
        {
            return Some("motor, gear ratio and inertia differ by so much that no speed can be computed");
        }
        None
    }

    /// Voltage at one motor that holds a speed.
    pub(super) fn holding_voltage(&self, speed_radps: f64) -> f64 {
        self.resistance_ohm * self.free_a + self.back_v_per_radps * speed_radps
    }

    /// Speed where full duty only balances friction.
    pub(super) fn top_speed(&self) -> f64 {
        (self.open_v - self.free_a * self.drop_ohm(1.0)) / self.back_v_per_radps
    }

    pub(super) fn kinetic_energy(&self, speed_radps: f64) -> f64 {
        0.5 * self.shaft_count * self.inertia_kgm2 * speed_radps * speed_radps
    }

    /// Resistance that a motor's current meets, battery included: R + n D² R_b.
    fn drop_ohm(&self, duty: f64) -> f64 {
        self.resistance_ohm + self.motor_count * duty * duty * self.battery_ohm
    }

    /// Torque lost per wheel speed without gear loss, over the inertia.
    fn rate_hz(&self, duty: f64) -> f64 {
        self.torque_nm_per_a * self.back_v_per_radps / self.drop_ohm(duty) / self.inertia_kgm2
    }

    /// Least and greatest current of a motor. At no duty a drive that does not brake opens the
    /// circuit; at any other duty the chopper passes current both ways.
    fn current_bounds(&self, duty: f64) -> (f64, f64) {
        let limit_a = if duty == 0.0 && !self.brakes {
            0.0
        } else {
            self.limit_a
        };
        (-limit_a, limit_a)
    }

    fn driving_line(&self, duty: f64) -> TorqueLine {
        let drop = self.drop_ohm(duty);
        let per_a = self.torque_nm_per_a * self.efficiency_frac;
        TorqueLine {
            stall_nm: per_a * (duty * self.open_v / drop - self.free_a),
            slope_nms: per_a * self.back_v_per_radps / drop,
        }
    }

    /// The piece of the torque law in force at a forward speed.
    pub(super) fn line_at(&self, duty: f64, speed_radps: f64) -> TorqueLine {
        let drop = self.drop_ohm(duty);
        let (low, high) = self.current_bounds(duty);
        let free_running = (duty * self.open_v - self.back_v_per_radps * speed_radps) / drop;
        let current = free_running.clamp(low, high);
        let gear = self.gear_factor(current);
        if current != free_running {
            return TorqueLine {
                stall_nm: gear * self.torque_nm_per_a * (current - self.free_a),
                slope_nms: 0.0,
            };
        }
        let driving = self.driving_line(duty);
        let scale = gear / self.efficiency_frac;
        TorqueLine {
            stall_nm: scale * driving.stall_nm,
            slope_nms: scale * driving.slope_nms,
        }
    }

    /// Gear loss lowers the torque that drives and raises the torque that slows.
    fn gear_factor(&self, current: f64) -> f64 {
        if current >= self.free_a {
            self.efficiency_frac
        } else {
            1.0 / self.efficiency_frac
        }
    }

    /// Duty behind the limiter that passes exactly this current: D V_b = kE G ω + I R with
    /// V_b = V_oc − R_b n D I, the smaller root.
    fn limited_duty(&self, current: f64, speed_radps: f64) -> f64 {
        let needed_v = self.back_v_per_radps * speed_radps + current * self.resistance_ohm;
        let inside =
            self.open_v * self.open_v - 4.0 * self.motor_count * self.battery_ohm * current * needed_v;
        2.0 * needed_v / (self.open_v + inside.max(0.0).sqrt())
    }

    pub(super) fn point(&self, duty: f64, speed_radps: f64) -> TrainPoint {
        let (low, high) = self.current_bounds(duty);
        let free_running = (duty * self.open_v - self.back_v_per_radps * speed_radps) / self.drop_ohm(duty);
        let motor_a = free_running.clamp(low, high);
        let held = motor_a != free_running;
        let acting = if motor_a == 0.0 {
            0.0
        } else if held {
            self.limited_duty(motor_a, speed_radps)
        } else {
            duty
        };
        let battery_a = self.motor_count * acting * motor_a;
        TrainPoint {
            motor_a,
            battery_a,
            battery_v: self.open_v - self.battery_ohm * battery_a,
            limited: held && motor_a != 0.0,
        }
    }

    /// The motion from `speed_radps` at constant duty until the torque law changes or `longest_s` is over.
    ///
    /// ```text
    /// J dω/dt = T(ω),  T = Nm G kT (I − I0) (η while driving, 1/η while driven)
    /// I = clamp((D V_oc − kE G ω)/(R + n D² R_b), −I_lim, I_lim); 0 when coasting
    /// between two corners of I(ω):  ω = ω∞ + (ω0 − ω∞) e^(−λ t)  or a straight line
    /// ```
    ///
    /// Backward turning is the mirror image. At rest the friction holds until the current exceeds I0.
    pub(super) fn span(&self, duty: f64, speed_radps: f64, longest_s: f64) -> Span {
        let (low, high) = self.current_bounds(duty);
        let drop = self.drop_ohm(duty);
        let sign = if speed_radps != 0.0 {
            speed_radps.signum()
        } else {
            let at_rest = (duty * self.open_v / drop).clamp(low, high);
            if at_rest.abs() <= self.free_a {
                return self.straight(duty, 0.0, 1.0, at_rest, 0.0, 0.0, longest_s);
            }
            at_rest.signum()
        };
        let speed = sign * speed_radps;
        let forward_v = sign * duty * self.open_v;
        let (low, high) = if sign > 0.0 { (low, high) } else { (-high, -low) };
        let corner = |current: f64| (forward_v - current * drop) / self.back_v_per_radps;
        let (high_below, low_above) = (corner(high), corner(low));
        let starved = high <= self.free_a;
        if speed < high_below || (starved && speed == high_below) {
            let torque = self.gear_factor(high) * self.torque_nm_per_a * (high - self.free_a);
            let corner_radps = if torque > 0.0 { high_below } else { 0.0 };
            return self.straight(duty, speed, sign, high, torque, corner_radps, longest_s);
        }
        if speed > low_above {
            let torque = self.gear_factor(low) * self.torque_nm_per_a * (low - self.free_a);
            return self.straight(duty, speed, sign, low, torque, low_above.max(0.0), longest_s);
        }
        let toward = corner(self.free_a);
        let gear = if speed <= toward {
            self.efficiency_frac
        } else {
            1.0 / self.efficiency_frac
        };
        let rate_hz = gear * self.rate_hz(duty);
        let corner_radps = if speed > toward {
            if starved { high_below.max(0.0) } else { 0.0 }
        } else {
            toward
        };
        let to_corner_s = if speed > toward && corner_radps > toward {
            ((speed - toward) / (corner_radps - toward)).ln() / rate_hz
        } else {
            f64::INFINITY
        };
        let reaches = to_corner_s <= longest_s;
        let duration_s = if reaches { to_corner_s } else { longest_s };
        let passed = -(-rate_hz * duration_s).exp_m1();
        let end = if reaches {
            corner_radps
        } else {
            speed + (toward - speed) * passed
        };
        // Integrals over the span of e^(−λt) and of its square.
        let once_s = passed / rate_hz;
        let twice_s = -(-2.0 * rate_hz * duration_s).exp_m1() / (2.0 * rate_hz);
        let (away, free) = (speed - toward, self.free_a);
        let extra = -away * self.back_v_per_radps / drop;
        let turn = toward * duration_s + away * once_s;
        let charge = free * duration_s + extra * once_s;
        let square = free * free * duration_s + 2.0 * free * extra * once_s + extra * extra * twice_s;
        let power =
            free * toward * duration_s + (free * away + toward * extra) * once_s + extra * away * twice_s;
        let through = self.motor_count * duty;
        let energy = TrainEnergy {
            source_j: self.motor_count * forward_v * charge,
            battery_heat_j: self.battery_ohm * through * through * square,
            winding_heat_j: self.motor_count * self.resistance_ohm * square,
            drive_loss_j: self.motor_count * self.back_v_per_radps * power
                - self.shaft_count * gear * self.torque_nm_per_a * (power - free * turn),
        };
        Span {
            duration_s,
            start_radps: speed_radps,
            end_radps: sign * end,
            turn_rad: sign * turn,
            energy,
            course: Course::Decay {
                toward_radps: sign * toward,
                rate_hz,
            },
        }
    }

    /// A span at constant current. `speed`, `current`, `torque` and `corner` are in the mirrored frame.
    #[allow(clippy::too_many_arguments)]
    fn straight(
        &self,
        duty: f64,
        speed: f64,
        sign: f64,
        current: f64,
        torque: f64,
        corner: f64,
        longest_s: f64,
    ) -> Span {
        let to_corner_s = if torque != 0.0 {
            (corner - speed) * self.inertia_kgm2 / torque
        } else {
            f64::INFINITY
        };
        let reaches = to_corner_s <= longest_s;
        let duration_s = if reaches { to_corner_s.max(0.0) } else { longest_s };
        let end = if reaches {
            corner
        } else {
            speed + torque / self.inertia_kgm2 * duration_s
        };
        let turn = 0.5 * (speed + end) * duration_s;
        let mut energy = TrainEnergy {
            winding_heat_j: self.motor_count * self.resistance_ohm * current * current * duration_s,
            drive_loss_j: self.motor_count * self.back_v_per_radps * current * turn
                - self.shaft_count * torque * turn,
            ..TrainEnergy::default()
        };
        if current != 0.0 {
            let unlimited = speed == 0.0 && torque == 0.0;
            for (place, weight) in GAUSS3 {
                let acting = if unlimited && current.abs() < self.limit_a {
                    sign * duty
                } else {
                    self.limited_duty(current, speed + place * (end - speed))
                };
                let drawn_a = self.motor_count * acting * current;
                energy.source_j += weight * duration_s * self.open_v * drawn_a;
                energy.battery_heat_j += weight * duration_s * self.battery_ohm * drawn_a * drawn_a;
            }
        }
        Span {
            duration_s,
            start_radps: sign * speed,
            end_radps: sign * end,
            turn_rad: sign * turn,
            energy,
            course: Course::Straight,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::launcher::types::MotorSheet;

    /// Rounding: closed solutions of one motion, cut differently, differ by rounding only.
    const CUT_ROUNDING: f64 = 1e-11;

    fn train(limit_a: f64) -> WheelTrain {
        WheelTrain {
            drive: Drive {
                motor: MotorSheet {
                    nominal_v: 12.0,
                    free_radps: 1832.6,
                    free_a: 1.8,
                    stall_nm: 0.42,
                    stall_a: 68.0,
                    rotor_kgm2: 0.0,
                },
                motor_count: 1,
                gear_ratio: 3.0,
                gear_efficiency_frac: 0.9,
                limit_a,
            },
            inertia_kgm2: 1.2e-3,
            shaft_count: 2,
        }
    }

    const BATTERY: Battery = Battery {
        open_v: 12.7,
        resistance_ohm: 0.018,
        brown_out_v: 6.8,
    };

    fn advance(plant: &Plant, duty: f64, mut speed: f64, time_s: f64) -> (f64, f64, TrainEnergy) {
        let (mut left, mut turn, mut energy) = (time_s, 0.0, TrainEnergy::default());
        for _ in 0..20 {
            if left <= 0.0 {
                return (speed, turn, energy);
            }
            let span = plant.span(duty, speed, left);
            speed = span.end_radps;
            turn += span.turn_rad;
            energy.add(&span.energy);
            left -= span.duration_s;
        }
        panic!("twenty spans did not cover {time_s} s");
    }

    /// The torque law written out again, without corners solved for: the second route.
    fn acceleration(train: &WheelTrain, duty: f64, speed: f64, brakes: bool) -> f64 {
        let m = motor_constants(&train.drive.motor);
        let n = f64::from(train.drive.motor_count * train.shaft_count);
        let drop = m.resistance_ohm + n * duty * duty * BATTERY.resistance_ohm;
        let limit_a = if brakes || duty != 0.0 {
            train.drive.limit_a
        } else {
            0.0
        };
        let back = m.ke_v_per_radps * train.drive.gear_ratio * speed;
        let current = ((duty * BATTERY.open_v - back) / drop).clamp(-limit_a, limit_a);
        let motor_nm = m.kt_nm_per_a * (current - m.free_a * speed.signum());
        let drives = motor_nm * speed > 0.0;
        let gear = if drives {
            train.drive.gear_efficiency_frac
        } else {
            1.0 / train.drive.gear_efficiency_frac
        };
        train.drive.gear_ratio * motor_nm * gear / train.inertia_kgm2
    }

    /// Limit, free part, braking, coasting, plugging through standstill: against fourth-order steps of 10 µs.
    #[test]
    fn closed_spans_follow_the_motion_that_small_steps_find() {
        let cases = [
            (f64::INFINITY, true, 1.0, 5.0, 0.4),
            (30.0, true, 1.0, 5.0, 1.3),
            (30.0, false, 0.6, 600.0, 0.9),
            (f64::INFINITY, false, 0.0, 500.0, 0.5),
            (f64::INFINITY, false, 0.0, -20.0, 1.0),
            (25.0, false, 0.3, 500.0, 0.5),
            (25.0, true, 0.3, 500.0, 0.4),
            (f64::INFINITY, true, -0.5, 300.0, 0.3),
            (25.0, true, -0.5, 300.0, 0.9),
            (1.0, false, 1.0, 20.0, 0.5),
            (1.0, true, 1.0, 700.0, 4.0),
        ];
        for (limit_a, brakes, duty, start, time_s) in cases {
            let train = train(limit_a);
            let (end, turn, _) = advance(&Plant::new(&train, &BATTERY, brakes), duty, start, time_s);
            let (mut speed, mut angle, h) = (start, 0.0, 1e-5);
            let rate = |w: f64| acceleration(&train, duty, w, brakes);
            for _ in 0..(time_s / h).round() as usize {
                let before = speed;
                let k1 = rate(speed);
                let k2 = rate(speed + h * k1 / 2.0);
                let k3 = rate(speed + h * k2 / 2.0);
                speed += h * (k1 + 2.0 * k2 + 2.0 * k3 + rate(speed + h * k3)) / 6.0;
                angle += 0.5 * (before + speed) * h;
            }
            // The steps smear each corner and the standstill over one step.
            assert!(
                (end - speed).abs() < 0.05,
                "limit {limit_a} duty {duty}: {end} {speed}"
            );
            assert!(
                (turn - angle).abs() < 0.05,
                "limit {limit_a} duty {duty}: {turn} {angle}"
            );
        }
    }

    /// No step size enters: a step in one piece, in two and in 64 gives the same to rounding.
    #[test]
    fn halving_the_step_changes_speed_turn_and_energy_by_rounding_only() {
        for (limit_a, brakes, duty, start) in [
            (f64::INFINITY, true, 0.9, 0.0),
            (30.0, false, 1.0, 0.0),
            (20.0, true, -0.4, 250.0),
        ] {
            let plant = Plant::new(&train(limit_a), &BATTERY, brakes);
            let (whole, turn, energy) = advance(&plant, duty, start, 0.64);
            for pieces in [2, 64] {
                let (mut speed, mut angle, mut spent) = (start, 0.0, TrainEnergy::default());
                for _ in 0..pieces {
                    let (to, by, used) = advance(&plant, duty, speed, 0.64 / f64::from(pieces));
                    speed = to;
                    angle += by;
                    spent.add(&used);
                }
                assert!((speed - whole).abs() < CUT_ROUNDING * 600.0, "{speed} {whole}");
                assert!((angle - turn).abs() < CUT_ROUNDING * 600.0);
                assert!((spent.winding_heat_j - energy.winding_heat_j).abs() < 1e-9 * energy.winding_heat_j);
                // The chopper's duty under the limit is integrated by quadrature, three points per piece.
                assert!((spent.source_j - energy.source_j).abs() < 1e-5 * energy.source_j.abs());
            }
        }
    }

    /// Battery energy = heats + drive loss + kinetic energy, in every branch of the law.
    #[test]
    fn energy_from_the_battery_is_all_accounted_for() {
        for (limit_a, brakes, duty, start) in [
            (f64::INFINITY, true, 1.0, 0.0),
            (30.0, false, 1.0, 0.0),
            (f64::INFINITY, true, 0.2, 500.0),
            (20.0, true, 0.2, 500.0),
            (f64::INFINITY, true, -0.6, 300.0),
            (20.0, true, -0.6, 300.0),
            (f64::INFINITY, false, 0.0, 500.0),
            (f64::INFINITY, true, 0.01, 0.0),
        ] {
            let plant = Plant::new(&train(limit_a), &BATTERY, brakes);
            let (mut speed, mut spent) = (start, TrainEnergy::default());
            for _ in 0..50 {
                let (to, _, used) = advance(&plant, duty, speed, 0.02);
                speed = to;
                spent.add(&used);
            }
            let gained = plant.kinetic_energy(speed) - plant.kinetic_energy(start);
            let out = spent.battery_heat_j + spent.winding_heat_j + spent.drive_loss_j + gained;
            let scale = spent.source_j.abs() + gained.abs() + spent.winding_heat_j;
            assert!(
                (spent.source_j - out).abs() < 1e-6 * scale,
                "limit {limit_a} duty {duty}: {spent:?}"
            );
        }
    }

    /// With a consistent sheet and no gear loss the drive loss is friction torque times turn, nothing else.
    #[test]
    fn drive_loss_of_a_consistent_motor_without_gear_loss_is_friction_times_turn() {
        let mut train = train(f64::INFINITY);
        let m = motor_constants(&train.drive.motor);
        train.drive.motor.stall_nm = m.ke_v_per_radps * (68.0 - 1.8);
        train.drive.gear_efficiency_frac = 1.0;
        let plant = Plant::new(&train, &BATTERY, true);
        let (_, turn, energy) = advance(&plant, 0.8, 0.0, 0.9);
        let friction = 2.0 * m.ke_v_per_radps * 1.8 * 3.0 * turn;
        assert!((energy.drive_loss_j / friction - 1.0).abs() < 1e-9);
    }

    /// Textbook fact: an ideal spin-up at constant voltage to nearly the top takes twice the energy it
    /// stores.
    #[test]
    fn spin_up_at_constant_voltage_draws_twice_what_it_stores() {
        let mut train = train(f64::INFINITY);
        train.drive.motor = MotorSheet {
            free_a: 0.0,
            ..train.drive.motor
        };
        train.drive.motor.stall_nm = 12.0 * 68.0 / 1832.6;
        train.drive.gear_efficiency_frac = 1.0;
        let stiff = Battery {
            resistance_ohm: 0.0,
            ..BATTERY
        };
        let plant = Plant::new(&train, &stiff, true);
        let (speed, _, energy) = advance(&plant, 1.0, 0.0, 20.0);
        assert!((energy.source_j / plant.kinetic_energy(speed) - 2.0).abs() < 1e-9);
        assert!((energy.winding_heat_j / plant.kinetic_energy(speed) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_span_knows_when_it_passes_a_level() {
        for (limit_a, duty, start) in [(f64::INFINITY, 1.0, 0.0), (20.0, 1.0, 0.0), (20.0, 0.0, 400.0)] {
            let plant = Plant::new(&train(limit_a), &BATTERY, true);
            let span = plant.span(duty, start, 0.2);
            let level = 0.3 * span.start_radps + 0.7 * span.end_radps;
            let at = span.time_to(level).unwrap();
            let there = plant.span(duty, start, at);
            assert!(
                (there.end_radps - level).abs() < 1e-9,
                "{} {level}",
                there.end_radps
            );
            assert_eq!(
                span.time_to(span.end_radps + (span.end_radps - span.start_radps)),
                None
            );
        }
    }

    /// The torque line handed to a contact is the acceleration of the train in each piece of the law.
    #[test]
    fn torque_lines_give_the_acceleration_of_the_train() {
        for (limit_a, brakes, duty, speed) in [
            (f64::INFINITY, true, 1.0, 300.0),
            (f64::INFINITY, true, 0.5, 450.0),
            (30.0, true, 1.0, 100.0),
            (f64::INFINITY, false, 0.0, 450.0),
        ] {
            let train = train(limit_a);
            let line = Plant::new(&train, &BATTERY, brakes).line_at(duty, speed);
            let torque = line.stall_nm - line.slope_nms * speed;
            let expected = acceleration(&train, duty, speed, brakes) * train.inertia_kgm2;
            assert!((torque - expected).abs() < 1e-12, "{torque} {expected}");
        }
        let open = torque_line(&train(1.0).drive, &BATTERY, 0.8, 2);
        let free = train(f64::INFINITY);
        let expected = acceleration(&free, 0.8, 200.0, true) * free.inertia_kgm2;
        assert!((open.stall_nm - 200.0 * open.slope_nms - expected).abs() < 1e-12);
        // A second shaft on the same battery costs this one torque.
        assert!(open.stall_nm < torque_line(&free.drive, &BATTERY, 0.8, 1).stall_nm);
    }

    /// Static friction: a current below the free current does not move the wheel, one above does.
    #[test]
    fn the_wheel_starts_only_above_the_free_current() {
        let plant = Plant::new(&train(f64::INFINITY), &BATTERY, true);
        let ohm = 12.0 / 68.0;
        let starting = 1.8 * ohm / 12.7;
        assert_eq!(plant.span(0.98 * starting, 0.0, 0.1).end_radps, 0.0);
        assert!(plant.span(1.02 * starting, 0.0, 0.1).end_radps > 0.0);
        assert!(plant.span(-1.02 * starting, 0.0, 0.1).end_radps < 0.0);
    }
}
