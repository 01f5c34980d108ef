//! Spin-up, recovery, current and brown-out, read off the simulated volley.

use super::{Evidence, Status, Verdict, Way, at_most};
use crate::launcher::controller::{averaged_gain_limit, speed_plant};
use crate::launcher::volley::{NotReady, VolleyEnd};
use crate::project::Project;
use crate::units::Dimension;

/// Why the wheel is not ready, in words.
pub fn not_ready_words(project: &Project, why: &NotReady) -> String {
    let rpm = |v| project.say(v, Dimension::AngularSpeed);
    match *why {
        NotReady::TooSlow { top_radps } => format!("full power only reaches {}", rpm(top_radps)),
        NotReady::SettlesOff { speed_radps } => {
            format!(
                "the controller settles at {}, outside the ready band",
                rpm(speed_radps)
            )
        }
        NotReady::Swings {
            low_radps,
            high_radps,
        } => {
            format!(
                "the controller swings between {} and {}",
                rpm(low_radps),
                rpm(high_radps)
            )
        }
        NotReady::SensorTooCoarse { speed_radps } => {
            format!(
                "the speed sensor is too coarse to tell the ready band at {}",
                rpm(speed_radps)
            )
        }
        NotReady::OutOfTime { speed_radps } => format!("still at {} when patience ran out", rpm(speed_radps)),
    }
}

fn not_ready_mend(why: &NotReady) -> &'static str {
    match why {
        NotReady::TooSlow { .. } => "raise the top speed: smaller gear ratio, fresher battery, less friction",
        NotReady::SettlesOff { .. } => "add integral gain (`ki`), or correct the feed-forward",
        NotReady::Swings { .. } => {
            "lower the gain (`kp`), or shorten the delay and averaging of the measurement"
        }
        NotReady::SensorTooCoarse { .. } => "average over more samples, or fit a finer encoder",
        NotReady::OutOfTime { .. } => "less inertia, more motor, or a smaller gear ratio",
    }
}

pub(super) fn spin_up(e: &Evidence) -> Vec<Verdict> {
    let Some(run) = e.volley else { return Vec::new() };
    let say = |v, d| e.project.say(v, d);
    let setpoint = say(run.plan.setpoint_radps, Dimension::AngularSpeed);
    let Some(found) = run.train.spin_up_s else {
        let (why, mend) = match &run.train.end {
            VolleyEnd::NotReady { why, .. } => {
                (not_ready_words(e.project, why), not_ready_mend(why).to_string())
            }
            VolleyEnd::Unusable(why) => ((*why).to_string(), "check motor, battery and controller".into()),
            VolleyEnd::Complete => ("it never settles".into(), "lower the gain (`kp`)".into()),
        };
        return vec![
            Verdict::new(
                "spin-up",
                "",
                Status::Fails,
                format!("never ready at {setpoint}: {why}"),
            )
            .mend(mend),
        ];
    };
    let Some(asked) = e.project.limits.spin_up_s else {
        return Vec::new();
    };
    let status = at_most(found, asked);
    vec![
        Verdict::new(
            "spin-up",
            "",
            status,
            format!(
                "ready at {setpoint} after {}, {} allowed",
                say(found, Dimension::Time),
                say(asked, Dimension::Time)
            ),
        )
        .numbers(Dimension::Time, found, asked, asked - found)
        .mend(format!(
            "inertia {} lower (dips grow), or that much more motor torque at speed",
            say((1.0 - asked / found).max(0.05), Dimension::Ratio)
        ))
        .brief(e, "limits.spin_up", found, Dimension::Time, Way::Up),
    ]
}

pub(super) fn recovery(e: &Evidence) -> Vec<Verdict> {
    let (Some(run), Some(asked)) = (e.volley, e.project.limits.throw_interval_s) else {
        return Vec::new();
    };
    if run.train.spin_up_s.is_none() || run.train.throws.is_empty() {
        return Vec::new();
    }
    let say = |v, d| e.project.say(v, d);
    let throws = &run.train.throws;
    if let Some(i) = throws.iter().position(|t| t.refused) {
        return vec![
            Verdict::new(
                "recovery",
                "",
                Status::Fails,
                format!("throw {} does not come through", i + 1),
            )
            .mend("see grip; a slower wheel may not pull the piece in".into()),
        ];
    }
    let dip = throws.iter().map(|t| t.dip_frac).fold(0.0, f64::max);
    // The last throw of a volley has nothing to be ready for.
    let counted = &throws[..throws.len().saturating_sub(1)];
    if counted.is_empty() {
        return Vec::new();
    }
    let late = counted.iter().position(|t| t.recovery_s.is_none());
    let slowest = counted
        .iter()
        .map(|t| t.recovery_s.unwrap_or(f64::INFINITY) + t.contact_s)
        .fold(0.0, f64::max);
    let error = counted
        .iter()
        .filter_map(|t| t.next_error_frac)
        .map(f64::abs)
        .fold(0.0, f64::max);
    let dips = format!("each throw takes {} of wheel speed", say(dip, Dimension::Ratio));
    if let Some(i) = late {
        return vec![
            Verdict::new(
                "recovery",
                "",
                Status::Fails,
                format!(
                    "{dips}; after throw {} the wheel is not back within {} when the next is due {} later: {} off",
                    i + 1,
                    say(e.project.machine.controller.ready_frac, Dimension::Ratio),
                    say(asked, Dimension::Time),
                    say(error, Dimension::Ratio)
                ),
            )
            .mend("more time between throws, more inertia (smaller dips), more motor, or a higher controller gain".into()),
        ];
    }
    vec![
        Verdict::new(
            "recovery",
            "",
            at_most(slowest, asked),
            format!(
                "{dips}; back after {} at most, {} between throws",
                say(slowest, Dimension::Time),
                say(asked, Dimension::Time)
            ),
        )
        .numbers(Dimension::Time, slowest, asked, asked - slowest)
        .mend("more inertia (smaller dips), more motor, or a higher controller gain".into())
        .brief(e, "limits.throw_interval", slowest, Dimension::Time, Way::Up),
    ]
}

pub(super) fn current(e: &Evidence) -> Vec<Verdict> {
    let (Some(run), Some(fuse)) = (e.volley, e.project.limits.fuse_a) else {
        return Vec::new();
    };
    let found = run.train.peak_battery_a;
    let say = |v| e.project.say(v, Dimension::Current);
    vec![
        Verdict::new(
            "current",
            "",
            at_most(found, fuse),
            format!("peak {} with {} for the rest of the machine, fuse {}", say(found), say(e.project.machine.other_current_a), say(fuse)),
        )
        .numbers(Dimension::Current, found, fuse, fuse - found)
        .mend(format!(
            "limit the motor current to {} or ramp the wheel up more slowly; ask the rules before fitting a larger fuse, and never one above what the wire carries",
            say(((fuse - e.project.machine.other_current_a)
                / f64::from(e.project.machine.drive.motor_count.saturating_mul(e.chain.train.shaft_count).max(1)))
            .max(0.0))
        ))
        .brief(e, "limits.fuse", found, Dimension::Current, Way::Up),
    ]
}

pub(super) fn brown_out(e: &Evidence) -> Vec<Verdict> {
    let Some(run) = e.volley else { return Vec::new() };
    let (found, limit) = (run.train.lowest_battery_v, e.project.machine.battery.brown_out_v);
    if !found.is_finite() {
        return Vec::new();
    }
    let say = |v| e.project.say(v, Dimension::Voltage);
    let status = if found < limit {
        Status::Fails
    } else if found < limit + 1.0 {
        // A volt is what an aged or cold battery loses more. Common practice, no source.
        Status::Tight
    } else {
        Status::Holds
    };
    vec![
        Verdict::new("brown-out", "", status, format!("lowest battery voltage {}, electronics reset at {}", say(found), say(limit)))
            .numbers(Dimension::Voltage, found, limit, found - limit)
            .mend("limit the motor current, ramp the wheel up more slowly, do not drive hard while it spins up, shorten and thicken the battery wires".into()),
    ]
}

/// A gain above this share of the limit rings long after each throw. Common practice, no source.
const RINGING_SHARE: f64 = 0.5;

pub(super) fn speed_loop(e: &Evidence) -> Vec<Verdict> {
    let c = &e.project.machine.controller;
    if c.kp_vs <= 0.0 {
        return Vec::new();
    }
    let plant = speed_plant(&e.chain.train);
    let Some(limit) = averaged_gain_limit(&plant, c.period_s, c.average_count, c.delay_s / c.period_s) else {
        return Vec::new();
    };
    let say = |v| e.project.say(v, Dimension::ProportionalGain);
    let status = if c.kp_vs >= limit {
        Status::Fails
    } else if c.kp_vs > RINGING_SHARE * limit {
        Status::Tight
    } else {
        Status::Holds
    };
    vec![
        Verdict::new(
            "speed-loop",
            "",
            status,
            format!(
                "`kp` is {}; with this period, delay and averaging the wheel speed swings from {} on",
                say(c.kp_vs),
                say(limit)
            ),
        )
        .numbers(Dimension::ProportionalGain, c.kp_vs, limit, limit - c.kp_vs)
        .mend(format!(
            "lower `kp` to {}, or measure and act faster (shorter period, less averaging)",
            say(0.9 * RINGING_SHARE * limit)
        )),
    ]
}
