//! The loop of [`super::volley`]: tick by tick, contact by contact.

use super::train::{Plant, Span};
use super::types::{Battery, Controller, VolleySample};
use super::volley::{
    FASTEST_RADPS, LONGEST_CONTACT_S, MAX_AVERAGE, MAX_DELAY, NotReady, Throw, ThrowRequest, ThrowResult,
    Trigger, Volley, VolleyEnd, VolleyPlan, within,
};
use std::f64::consts::TAU;

/// Method: pieces of the torque law within one step; the law has four and a step meets each at most once per
/// direction.
const MAX_SPANS: u32 = 16;
/// Physical: a throw takes the wheel down by some per cent, so the torque line handed to the
/// contact is the one in force this far below the present speed.
const LINE_BELOW_FRAC: f64 = 0.03;
/// Rounding: ticks are multiples of the period, so a wait of whole periods ends this share of a period early
/// at most.
const TICK_ROUNDING_SHARE: f64 = 1e-9;
/// Physical: a loop whose speed stays within this share of the ready band counts as settled.
const SETTLED_SHARE: f64 = 0.1;

/// A contact in progress: the wheel falls in a straight line.
#[derive(Clone, Copy)]
struct Contact {
    start_s: f64,
    end_s: f64,
    from_radps: f64,
    to_radps: f64,
}

impl Contact {
    fn speed_at(&self, time_s: f64) -> f64 {
        let long = self.end_s - self.start_s;
        let share = if long > 0.0 {
            ((time_s - self.start_s) / long).clamp(0.0, 1.0)
        } else {
            1.0
        };
        self.from_radps + (self.to_radps - self.from_radps) * share
    }
}

/// Lowest and highest speed since some time.
#[derive(Clone, Copy)]
struct Extent {
    low: f64,
    high: f64,
}

const NOTHING: Extent = Extent {
    low: f64::INFINITY,
    high: f64::NEG_INFINITY,
};

/// One volley being played.
pub(super) struct Run<'a> {
    plant: Plant,
    controller: &'a Controller,
    plan: &'a VolleyPlan,
    out: &'a mut Volley,
    band: [f64; 2],
    /// Delay in whole periods and the rest.
    whole_delay: usize,
    rest_delay_s: f64,
    time_s: f64,
    speed: f64,
    turn: f64,
    duty: f64,
    integral_v: f64,
    turns: [f64; MAX_AVERAGE + 1],
    duties: [f64; MAX_DELAY],
    contact: Option<Contact>,
    /// A recovery is being waited for since this time.
    recovering_since: Option<f64>,
    /// Speeds met in the later half of the present wait.
    late: Extent,
    late_from_s: f64,
}

impl<'a> Run<'a> {
    pub(super) fn new(
        plant: Plant,
        controller: &'a Controller,
        plan: &'a VolleyPlan,
        out: &'a mut Volley,
    ) -> Self {
        let half = controller.ready_frac * plan.setpoint_radps;
        let periods = (controller.delay_s / controller.period_s).floor();
        out.peak_radps = plan.start_radps;
        Run {
            plant,
            controller,
            plan,
            out,
            band: [plan.setpoint_radps - half, plan.setpoint_radps + half],
            whole_delay: periods as usize,
            rest_delay_s: (controller.delay_s - periods * controller.period_s).max(0.0),
            time_s: 0.0,
            speed: plan.start_radps,
            turn: 0.0,
            duty: 0.0,
            integral_v: 0.0,
            turns: [0.0; MAX_AVERAGE + 1],
            duties: [0.0; MAX_DELAY],
            contact: None,
            recovering_since: None,
            late: NOTHING,
            late_from_s: plan.earliest_s + 0.5 * plan.patience_s,
        }
    }

    fn in_band(&self, speed: f64) -> bool {
        self.band[0] <= speed && speed <= self.band[1]
    }

    pub(super) fn play(&mut self, throw: &mut impl FnMut(ThrowRequest) -> ThrowResult) {
        let period = self.controller.period_s;
        let mut next_throw = 0;
        let mut earliest = self.plan.earliest_s;
        let mut patience_end = earliest + self.plan.patience_s;
        if self.in_band(self.speed) {
            self.out.spin_up_s = Some(0.0);
        }
        let mut turn_of_loop: u64 = 0;
        loop {
            let tick_s = turn_of_loop as f64 * period;
            self.time_s = tick_s;
            let measured = self.measure(turn_of_loop);
            self.command(turn_of_loop, measured);
            // Until a delay that is no whole number of periods is over, the command before acts.
            let at_tick = self.whole_delay + usize::from(self.rest_delay_s > 0.0);
            self.duty = self.past_duty(turn_of_loop, at_tick);
            self.sample();
            if self.contact.is_none() {
                let ready = self.in_band(measured);
                let all_in = next_throw == self.plan.throw_count;
                if all_in {
                    let due = tick_s >= earliest - TICK_ROUNDING_SHARE * period;
                    let done = if next_throw == 0 {
                        ready && due
                    } else {
                        self.recovering_since.is_none()
                    };
                    if done || tick_s >= patience_end {
                        if next_throw == 0 && !done {
                            self.give_up(0);
                        } else {
                            self.out.end = VolleyEnd::Complete;
                        }
                        return;
                    }
                } else {
                    let waits_for_band = next_throw == 0 || self.plan.trigger == Trigger::WhenReady;
                    let due = tick_s >= earliest - TICK_ROUNDING_SHARE * period;
                    if due && (ready || !waits_for_band) {
                        let contact_end = self.let_in(next_throw, throw);
                        next_throw += 1;
                        earliest = tick_s + self.plan.interval_s;
                        patience_end = contact_end.max(earliest) + self.plan.patience_s;
                        if next_throw == self.plan.throw_count {
                            patience_end = contact_end + self.plan.patience_s;
                        }
                        self.late = NOTHING;
                        self.late_from_s = patience_end - 0.5 * self.plan.patience_s;
                    } else if tick_s >= patience_end {
                        self.give_up(next_throw);
                        return;
                    }
                }
            }
            if self.rest_delay_s > 0.0 {
                self.run_to(tick_s + self.rest_delay_s);
                self.duty = self.past_duty(turn_of_loop, self.whole_delay);
                self.sample();
            }
            self.run_to((turn_of_loop + 1) as f64 * period);
            turn_of_loop += 1;
        }
    }

    fn past_duty(&self, now: u64, back: usize) -> f64 {
        if (back as u64) > now {
            0.0
        } else {
            self.duties[((now - back as u64) % MAX_DELAY as u64) as usize]
        }
    }

    /// Speed as the loop sees it: turn over the last periods.
    fn measure(&mut self, now: u64) -> f64 {
        let slots = self.turns.len() as u64;
        let counts = f64::from(self.plan.counts_per_turn);
        let seen = if counts > 0.0 {
            (self.turn * counts / TAU).floor() * TAU / counts
        } else {
            self.turn
        };
        self.turns[(now % slots) as usize] = seen;
        let back = u64::from(self.controller.average_count).min(now);
        if back == 0 {
            return self.speed;
        }
        let old = self.turns[((now - back) % slots) as usize];
        (seen - old) / (back as f64 * self.controller.period_s)
    }

    fn command(&mut self, now: u64, measured: f64) {
        let here = self.plant.point(self.duty, self.speed);
        self.note_point(here.battery_a, here.battery_v);
        let error = self.plan.setpoint_radps - measured;
        let wanted_v = self.controller.feed_forward_ratio
            * self.plant.holding_voltage(self.plan.setpoint_radps)
            + self.controller.kp_vs * error
            + self.integral_v;
        let lowest = if self.controller.brakes { -1.0 } else { 0.0 };
        let raw = wanted_v / here.battery_v.max(f64::MIN_POSITIVE);
        let duty = if raw.is_nan() { 0.0 } else { raw.clamp(lowest, 1.0) };
        self.duties[(now % MAX_DELAY as u64) as usize] = duty;
        let full = raw >= 1.0 || (here.limited && here.motor_a > 0.0);
        let empty = raw <= lowest || (here.limited && here.motor_a < 0.0);
        if !(full && error > 0.0 || empty && error < 0.0) {
            let more = self.integral_v + self.controller.ki_v * error * self.controller.period_s;
            if more.is_finite() {
                self.integral_v = more;
            }
        }
    }

    /// Lets a piece in now; returns when its contact ends.
    fn let_in(&mut self, index: u32, throw: &mut impl FnMut(ThrowRequest) -> ThrowResult) -> f64 {
        let (duty, before) = (self.duty, self.speed);
        let battery_v = self.plant.point(duty, before).battery_v;
        let result = throw(ThrowRequest {
            index,
            wheel_radps: before,
            torque: self
                .plant
                .line_at(duty, before.max(0.0) * (1.0 - LINE_BELOW_FRAC)),
            time_s: self.time_s,
            battery_v,
        });
        let refused = !within(result.wheel_after_radps.abs(), FASTEST_RADPS);
        let after = if refused { before } else { result.wheel_after_radps };
        let contact_s = if result.duration_s.is_finite() {
            result.duration_s.clamp(0.0, LONGEST_CONTACT_S)
        } else {
            0.0
        };
        let error_frac = before / self.plan.setpoint_radps - 1.0;
        if let Some(last) = self.out.throws.last_mut() {
            last.next_error_frac = Some(error_frac);
        }
        self.out.throws.push(Throw {
            index,
            time_s: self.time_s,
            before_radps: before,
            error_frac,
            after_radps: after,
            dip_frac: if before == 0.0 { 0.0 } else { 1.0 - after / before },
            contact_s,
            recovery_s: None,
            next_error_frac: None,
            refused,
        });
        self.out.thrown_j += self.plant.kinetic_energy(before) - self.plant.kinetic_energy(after);
        let end_s = self.time_s + contact_s;
        self.contact = Some(Contact {
            start_s: self.time_s,
            end_s,
            from_radps: before,
            to_radps: after,
        });
        self.recovering_since = None;
        end_s
    }

    /// Moves on to a time, through the end of a contact if there is one.
    fn run_to(&mut self, until_s: f64) {
        if let Some(contact) = self.contact {
            let stop = until_s.min(contact.end_s);
            let speed = contact.speed_at(stop);
            if stop > self.time_s {
                self.turn += 0.5 * (self.speed + speed) * (stop - self.time_s);
                self.time_s = stop;
            }
            self.speed = speed;
            if until_s < contact.end_s {
                return;
            }
            self.speed = contact.to_radps;
            self.contact = None;
            self.recovering_since = Some(contact.end_s);
            self.note_recovery_if_in_band();
            self.sample();
        }
        let mut left = until_s - self.time_s;
        for _ in 0..MAX_SPANS {
            if left.is_nan() || left <= 0.0 {
                break;
            }
            let span = self.plant.span(self.duty, self.speed, left);
            self.watch(&span);
            self.turn += span.turn_rad;
            self.speed = span.end_radps;
            self.time_s += span.duration_s;
            left -= span.duration_s;
        }
        self.time_s = until_s;
    }

    fn note_recovery_if_in_band(&mut self) {
        if self.in_band(self.speed)
            && let (Some(_), Some(last)) = (self.recovering_since.take(), self.out.throws.last_mut())
        {
            last.recovery_s = Some(0.0);
        }
    }

    /// Band entries, extremes and energy of one span.
    fn watch(&mut self, span: &Span) {
        self.out.energy.add(&span.energy);
        self.out.peak_radps = self.out.peak_radps.max(span.end_radps);
        if self.time_s >= self.late_from_s {
            self.late.low = self.late.low.min(span.end_radps);
            self.late.high = self.late.high.max(span.end_radps);
        }
        if self.out.spin_up_s.is_none() || self.recovering_since.is_some() {
            let edge = if span.start_radps < self.band[0] {
                self.band[0]
            } else {
                self.band[1]
            };
            if !self.in_band(span.start_radps)
                && let Some(after) = span.time_to(edge)
            {
                let at = self.time_s + after;
                self.out.spin_up_s.get_or_insert(at);
                if let (Some(since), Some(last)) = (self.recovering_since.take(), self.out.throws.last_mut())
                {
                    last.recovery_s = Some(at - since);
                }
            }
        }
        for speed in [span.start_radps, span.end_radps] {
            let point = self.plant.point(self.duty, speed);
            self.note_point(point.battery_a, point.battery_v);
        }
    }

    fn note_point(&mut self, battery_a: f64, battery_v: f64) {
        self.out.peak_battery_a = self.out.peak_battery_a.max(battery_a + self.plan.other_current_a);
        self.out.lowest_battery_v = self.out.lowest_battery_v.min(battery_v);
    }

    fn sample(&mut self) {
        if !self.plan.with_samples {
            return;
        }
        let point = self.plant.point(self.duty, self.speed);
        self.out.samples.push(VolleySample {
            time_s: self.time_s,
            wheel_radps: self.speed,
            duty_frac: self.duty,
            battery_a: point.battery_a + self.plan.other_current_a,
            battery_v: point.battery_v,
        });
    }

    fn give_up(&mut self, index: u32) {
        let Extent { low, high } = self.late;
        let width = self.band[1] - self.band[0];
        let why = if self.out.top_radps < self.band[0] {
            NotReady::TooSlow {
                top_radps: self.out.top_radps,
            }
        } else if low > high {
            NotReady::OutOfTime {
                speed_radps: self.speed,
            }
        } else if self.in_band(low) && self.in_band(high) {
            NotReady::SensorTooCoarse {
                speed_radps: 0.5 * (low + high),
            }
        } else if high - low <= SETTLED_SHARE * width {
            NotReady::SettlesOff {
                speed_radps: 0.5 * (low + high),
            }
        } else if low < self.band[0] && high > self.band[1] {
            NotReady::Swings {
                low_radps: low,
                high_radps: high,
            }
        } else {
            NotReady::OutOfTime {
                speed_radps: self.speed,
            }
        };
        self.out.end = VolleyEnd::NotReady { index, why };
    }

    pub(super) fn finish(self, battery: &Battery) {
        self.out.time_s = self.time_s;
        self.out.end_radps = self.speed;
        self.out.browns_out = self.out.lowest_battery_v < battery.brown_out_v;
    }
}
