//! The wheel train learned from a log: motor line, friction, inertia, battery.

use super::{Dips, Repaired};
use crate::finding::Finding;
use crate::launcher::identify::{Identified, MotorLine, identify_continuous};
use crate::launcher::motor::motor_constants;
use crate::launcher::train::WheelTrain;
use crate::numerics::linear_fit::least_squares;
use crate::numerics::student::two_sided;

/// Method: share of the runs in which an interval is to hold the truth.
const CONFIDENCE: f64 = 0.95;
/// Method: rows are averaged over this long, or over [`WINDOW_ROWS`] steps if those are longer: the noise of
/// the speed difference falls with the length, and the motor line is linear, so it holds for averages.
const WINDOW_S: f64 = 0.16;
/// Method: see [`WINDOW_S`].
const WINDOW_ROWS: usize = 3;
/// Physical: below this share of the highest speed static friction and switching dead time bend the line.
const SLOW_FRAC: f64 = 0.08;
/// Method: fewer windows than this give no interval worth printing.
const LEAST_WINDOWS: usize = 12;
/// Physical: a current this near its limit may be held by it; then duty does not say the voltage.
const NEAR_LIMIT_FRAC: f64 = 0.9;
/// Method: windows farther from the line than this many times the usual distance hold something else.
const OUTLIER_RATIO: f64 = 5.0;
/// Method: no interval is narrower than this share: rows of one log are never taken at quite the same moment.
const LEAST_FRAC: f64 = 0.02;
/// Method: condition number above which the log does not separate the coefficients (see `identify`).
const POOR_CONDITION: f64 = 100.0;
/// Method: how late within a step a command may act, as a share of the step; quarters are as fine as rows tell.
const LATE_FRACS: [f64; 5] = [0.0, 0.25, 0.5, 0.75, 1.0];
/// Physical: below this duty the battery's current is too small a share of the motor's to tell it.
const LEAST_DUTY_FRAC: f64 = 0.15;

/// A value and the interval that holds the truth in 95 of 100 such logs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Best value, SI.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Estimate {
    fn around(value: f64, half: f64) -> Estimate {
        let half = half.max(LEAST_FRAC * value.abs());
        Estimate {
            value,
            low: value - half,
            high: value + half,
        }
    }

    fn half(&self) -> f64 {
        0.5 * (self.high - self.low)
    }

    /// Times a factor known without error.
    fn times(&self, factor: f64) -> Estimate {
        Estimate::around(self.value * factor, self.half() * factor.abs())
    }

    /// Product with a power of another; relative errors add as squares.
    fn with(&self, other: &Estimate, power: f64) -> Estimate {
        let value = self.value * other.value.powf(power);
        let share = (self.half() / self.value).hypot(power * other.half() / other.value);
        Estimate::around(value, share * value.abs())
    }
}

/// What a log says about the wheel train.
#[derive(Clone, Debug, PartialEq)]
pub struct TrainLearned {
    /// The motor line, as fitted.
    pub line: Identified,
    /// Voltage that only overcomes friction.
    pub static_v: Estimate,
    /// Voltage per wheel speed.
    pub speed_v_per_radps: Estimate,
    /// Voltage per wheel acceleration.
    pub accel_v_per_radps2: Estimate,
    /// Time constant of the wheel at a held voltage.
    pub tau_s: Estimate,
    /// Resistance that a motor's current meets; from the currents.
    pub resistance_ohm: Option<Estimate>,
    /// Current that friction takes in each motor.
    pub free_a: Option<Estimate>,
    /// Inertia at one wheel, as far as the gearing's efficiency and the torque constant of the parts list are right.
    pub inertia_kgm2: Option<Estimate>,
    /// Inertia is from currents (true) or from the motor line and the parts list's resistance (false).
    pub inertia_from_current: bool,
    /// Battery without load.
    pub open_v: Option<Estimate>,
    /// Battery and wiring.
    pub battery_ohm: Option<Estimate>,
    /// Averaged stretches of the log that were used.
    pub window_count: usize,
    /// Rows left out because their current was near its limit.
    pub held_count: usize,
    /// Usual step between rows.
    pub step_s: f64,
    /// What to know about it, in sentences.
    pub notes: Vec<String>,
}

/// Averages over one stretch.
#[derive(Clone, Copy, Debug)]
struct Window {
    applied_v: f64,
    /// Mean at the rows themselves.
    applied_at_rows_v: f64,
    wheel_radps: f64,
    /// Mean at the rows themselves, where voltage and current were read.
    wheel_at_rows_radps: f64,
    accel_radps2: f64,
    motor_a: f64,
    battery_a: f64,
    battery_v: f64,
}

/// Learns the wheel train from a log.
///
/// ```text
/// averages over windows:   Δω/T = V/Ka − Vs/Ka − (Kv/Ka) ω
/// with currents:           V = R I + kE G ω at the rows,   (V − kE G ω)/R = I0 + c Δω/T,   J = c Nm η G kT
/// without:                 J = Ka Nm η G kT/R of the parts list
/// battery:                 V_b = V_oc − R_b I_b
/// ```
///
/// Linear motor as in [`crate::launcher::identify`] \[ljung-1999\] \[fitzgerald-machines\]. The equation is linear,
/// so averages obey it. The noise sits in the difference of the speed, so that is what is explained; standard errors
/// and condition are those of `identify_continuous` on the same averages, with the scatter of this fit. Left out:
/// throws, gaps, near standstill, zero duty (a circuit that may be open), currents near the limit, a wheel that is
/// driven back. kT is that of `parts`, with currents scaled by the measured over its own kE. `other_a` is what the
/// rest of the machine draws from the battery.
///
/// # Errors
/// No voltage in the log, too few usable stretches, or a log that does not separate the coefficients.
pub fn learn_train(
    log: &Repaired,
    dips: &Dips,
    parts: Option<&WheelTrain>,
    other_a: f64,
) -> Result<TrainLearned, Finding> {
    let Some(applied) = log.log.applied_v() else {
        return Err(Finding::new(
            "log-no-voltage",
            "log",
            "the log says no voltage at the motors: it needs `motor voltage`, or both `duty` and `battery voltage`",
            "log the motor command (duty) and the battery voltage beside the wheel speed, then read it again",
        ));
    };
    let mut notes = Vec::new();
    let limit = parts.map(|p| (p, motor_constants(&p.drive.motor)));
    // When within a step a new command acts is not in the log: the share that leaves the least is taken.
    let mut best: Option<(f64, Vec<Window>, usize)> = None;
    let mut last_refusal = None;
    for late_frac in LATE_FRACS {
        let (tried, held) = windows(log, dips, &applied, parts, other_a, late_frac);
        match fit_line(&tried) {
            Ok(line) if best.as_ref().is_none_or(|b| line.residual_rms < b.0) => {
                best = Some((line.residual_rms, tried, held));
            }
            Ok(_) => {}
            Err(e) => last_refusal = last_refusal.or(Some(e)),
        }
    }
    let Some((_, mut used, held)) = best else {
        return Err(last_refusal.unwrap_or_else(|| too_short(0)));
    };
    if held > 0 {
        notes.push(format!(
            "{held} rows are left out: there the current is near its limit, and duty does not say the voltage"
        ));
    }
    let mut line = fit_line(&used)?;
    // Once more without a wheel that is driven back, where gear loss has the other sign, and without strangers.
    for _ in 0..2 {
        let kv = line.line.speed_v_per_radps;
        let kept: Vec<Window> = used
            .iter()
            .copied()
            .filter(|w| w.applied_v > kv * w.wheel_radps)
            .filter(|w| residual(&line, w).abs() <= OUTLIER_RATIO * line.residual_rms.max(f64::MIN_POSITIVE))
            .collect();
        if kept.len() < LEAST_WINDOWS || kept.len() == used.len() {
            break;
        }
        line = fit_line(&kept)?;
        used = kept;
    }
    if line.condition_ratio > POOR_CONDITION {
        notes.push(
            "speed, friction and acceleration hardly differ in this log; log a spin-up from rest and two or three speeds"
                .to_string(),
        );
    }
    let n = used.len() as f64;
    let t = two_sided(n - 3.0, CONFIDENCE);
    let accel = Estimate::around(line.line.accel_v_per_radps2, t * line.standard_errors[2]);
    let mut speed = Estimate::around(line.line.speed_v_per_radps, t * line.standard_errors[1]);
    let static_v = Estimate::around(line.line.static_v, t * line.standard_errors[0]);
    let tau_s = accel.with(&speed, -1.0);
    let currents = currents(&used);
    let (mut resistance_ohm, mut free_a, mut per_accel) = (None, None, None);
    if let Some(c) = currents {
        // Two unknowns instead of three, and the noise of the speed difference is not among them.
        speed = c.speed_v_per_radps;
        (resistance_ohm, free_a, per_accel) = (Some(c.resistance_ohm), Some(c.free_a), Some(c.a_per_radps2));
    }
    let mut inertia_kgm2 = None;
    if let Some((p, m)) = limit {
        let d = &p.drive;
        let kv = m.ke_v_per_radps * d.gear_ratio;
        let torque_per_a = f64::from(d.motor_count) * d.gear_efficiency_frac * d.gear_ratio * m.kt_nm_per_a;
        let stronger = speed.times(1.0 / kv);
        inertia_kgm2 = Some(match per_accel {
            Some(c) => c.times(torque_per_a).with(&stronger, 1.0),
            None => accel.times(torque_per_a / m.resistance_ohm),
        });
        if free_a.is_none() {
            free_a = Some(static_v.times(1.0 / m.resistance_ohm));
        }
    }
    let battery = battery(&used);
    Ok(TrainLearned {
        line,
        static_v,
        speed_v_per_radps: speed,
        accel_v_per_radps2: accel,
        tau_s,
        resistance_ohm,
        free_a,
        inertia_kgm2,
        inertia_from_current: per_accel.is_some(),
        open_v: battery.map(|b| b.0),
        battery_ohm: battery.map(|b| b.1),
        window_count: used.len(),
        held_count: held,
        step_s: log.step_s,
        notes,
    })
}

fn residual(line: &Identified, w: &Window) -> f64 {
    w.applied_v
        - line.line.static_v * w.wheel_radps.signum()
        - line.line.speed_v_per_radps * w.wheel_radps
        - line.line.accel_v_per_radps2 * w.accel_radps2
}

fn too_short(window_count: usize) -> Finding {
    Finding::new(
        "log-short",
        "log",
        format!(
            "{window_count} stretches of {WINDOW_S} s are usable; {LEAST_WINDOWS} are needed (throws, gaps, standstill, zero duty and currents at their limit are left out)"
        ),
        "log a spin-up from rest and some seconds at two or three speeds, with duty and battery voltage",
    )
}

fn fit_line(windows: &[Window]) -> Result<Identified, Finding> {
    if windows.len() < LEAST_WINDOWS {
        return Err(too_short(windows.len()));
    }
    let column = |f: fn(&Window) -> f64| windows.iter().map(f).collect::<Vec<f64>>();
    let accel = column(|w| w.accel_radps2);
    let mut line = identify_continuous(&column(|w| w.applied_v), &column(|w| w.wheel_radps), &accel)?;
    let design: Vec<f64> = windows
        .iter()
        .flat_map(|w| [w.applied_v, -1.0, -w.wheel_radps])
        .collect();
    let Some(turned) = least_squares(windows.len(), 3, &design, &accel) else {
        return Ok(line);
    };
    let per_v = turned.coefficients.first().copied().unwrap_or(f64::NAN);
    if !(per_v > 0.0) {
        return Err(Finding::new(
            "log-no-lag",
            "log",
            "in this log the wheel does not speed up when the voltage rises",
            "check that voltage and speed belong to the same rows, and that duty is not turned round",
        ));
    }
    let share = |i: usize| turned.coefficients.get(i).copied().unwrap_or(f64::NAN) / per_v;
    line.line = MotorLine {
        static_v: share(1),
        speed_v_per_radps: share(2),
        accel_v_per_radps2: 1.0 / per_v,
    };
    line.tau_s = line.line.accel_v_per_radps2 / line.line.speed_v_per_radps;
    let rms = turned.residual_sd / per_v;
    let louder = (rms / line.residual_rms).max(1.0);
    line.residual_rms = line.residual_rms.max(rms);
    line.standard_errors = line.standard_errors.map(|e| e * louder);
    Ok(line)
}

/// What the motors' current tells.
#[derive(Clone, Copy, Debug)]
struct Currents {
    resistance_ohm: Estimate,
    speed_v_per_radps: Estimate,
    free_a: Estimate,
    /// Current per wheel acceleration.
    a_per_radps2: Estimate,
}

fn currents(windows: &[Window]) -> Option<Currents> {
    let own: Vec<&Window> = windows.iter().filter(|w| w.motor_a.is_finite()).collect();
    let [resistance_ohm, speed_v_per_radps] = fit(
        &own,
        |w| [w.motor_a, w.wheel_at_rows_radps],
        |w| w.applied_at_rows_v,
    )?;
    // Between rows the current runs on; its mean follows from those of voltage and speed.
    let mean_a = |w: &Window| (w.applied_v - speed_v_per_radps.value * w.wheel_radps) / resistance_ohm.value;
    let [free_a, a_per_radps2] = fit(&own, |w| [1.0, w.accel_radps2], mean_a)?;
    // What R is off by, the mean current is off by.
    let share = resistance_ohm.half() / resistance_ohm.value;
    let a_per_radps2 = Estimate::around(
        a_per_radps2.value,
        a_per_radps2.half().hypot(share * a_per_radps2.value),
    );
    Some(Currents {
        resistance_ohm,
        speed_v_per_radps,
        free_a,
        a_per_radps2,
    })
}

/// Open voltage and resistance of the battery.
fn battery(windows: &[Window]) -> Option<(Estimate, Estimate)> {
    let own: Vec<&Window> = windows
        .iter()
        .filter(|w| w.battery_a.is_finite() && w.battery_v.is_finite())
        .collect();
    let [open, slope] = fit(&own, |w| [1.0, -w.battery_a], |w| w.battery_v)?;
    Some((open, slope))
}

/// Two coefficients by least squares, with intervals.
fn fit(
    windows: &[&Window],
    row: impl Fn(&Window) -> [f64; 2],
    target: impl Fn(&Window) -> f64,
) -> Option<[Estimate; 2]> {
    if windows.len() < LEAST_WINDOWS {
        return None;
    }
    let design: Vec<f64> = windows.iter().flat_map(|w| row(w)).collect();
    let targets: Vec<f64> = windows.iter().map(|w| target(w)).collect();
    let fit = least_squares(windows.len(), 2, &design, &targets)?;
    let t = two_sided(windows.len() as f64 - 2.0, CONFIDENCE);
    let one = |i: usize| {
        let (value, se) = (fit.coefficients.get(i)?, fit.standard_errors.get(i)?);
        Some(Estimate::around(*value, t * se))
    };
    Some([one(0)?, one(1)?])
}

/// Stretches between throws and gaps, cut into windows.
fn windows(
    log: &Repaired,
    dips: &Dips,
    applied: &[f64],
    parts: Option<&WheelTrain>,
    other_a: f64,
    late_frac: f64,
) -> (Vec<Window>, usize) {
    let (time, wheel) = (&log.log.time_s, &log.log.wheel_radps);
    let at = |c: &[f64], i: usize| c.get(i).copied().unwrap_or(f64::NAN);
    let optional = |c: &Option<Vec<f64>>, i: usize| c.as_deref().map_or(f64::NAN, |c| at(c, i));
    let top = wheel.iter().copied().fold(0.0, f64::max);
    let long_s = WINDOW_S.max(WINDOW_ROWS as f64 * log.step_s);
    let mut next_dip = dips.dips.iter().peekable();
    // Contact, and the row on each side of it that may still belong to it.
    let in_throw = |i: usize, dips: &mut std::iter::Peekable<std::slice::Iter<super::Dip>>| {
        while dips
            .peek()
            .is_some_and(|d| at(time, i) > d.time_s + THROW_S + 2.0 * log.step_s)
        {
            dips.next();
        }
        dips.peek()
            .is_some_and(|d| at(time, i) >= d.time_s - 1.5 * log.step_s)
    };
    let motors = parts.map(|p| f64::from(p.drive.motor_count * p.shaft_count));
    // Battery current behind a chopper: n D I.
    let motor_a = |i: usize| {
        let direct = optional(&log.log.motor_a, i);
        if direct.is_finite() {
            return direct;
        }
        match (motors, optional(&log.log.duty_frac, i)) {
            (Some(n), duty) if n > 0.0 && duty > LEAST_DUTY_FRAC => {
                (optional(&log.log.battery_a, i) - other_a) / (n * duty)
            }
            _ => f64::NAN,
        }
    };
    let limit = parts.map(|p| (p.drive, motor_constants(&p.drive.motor)));
    // A limit that held a row only partly would pass for resistance, so it is judged row by row.
    let is_held = |i: usize| {
        limit.is_some_and(|(d, m)| {
            let back_v = m.ke_v_per_radps * d.gear_ratio * at(wheel, i);
            (at(applied, i) - back_v) / m.resistance_ohm > NEAR_LIMIT_FRAC * d.limit_a
        })
    };
    let mut held = 0;
    let mut out = Vec::new();
    let mut first = 0;
    for i in 0..time.len() {
        let open = log.log.duty_frac.is_some() && optional(&log.log.duty_frac, i) == 0.0;
        let usable = at(wheel, i) > SLOW_FRAC * top
            && at(applied, i).is_finite()
            && !open
            && !is_held(i)
            && !in_throw(i, &mut next_dip);
        let gap_before = i > 0 && log.is_gap(i - 1);
        if !usable {
            held += usize::from(is_held(i));
            first = i + 1;
            continue;
        }
        if gap_before || first > i {
            first = i;
        }
        if at(time, i) - at(time, first) < long_s * (1.0 - 1e-9) || i - first < WINDOW_ROWS {
            continue;
        }
        let duration_s = at(time, i) - at(time, first);
        let mean = |late: f64, f: &dyn Fn(usize) -> f64| {
            let sum: f64 = (first..i)
                .map(|k| {
                    let next = if late > 0.0 { late * f(k + 1) } else { 0.0 };
                    ((1.0 - late) * f(k) + next) * (at(time, k + 1) - at(time, k))
                })
                .sum();
            sum / duration_s
        };
        // A command is held until the next row; what it drives runs on between.
        out.push(Window {
            applied_v: mean(late_frac, &|k| at(applied, k)),
            applied_at_rows_v: mean(0.0, &|k| at(applied, k)),
            wheel_radps: mean(0.5, &|k| at(wheel, k)),
            wheel_at_rows_radps: mean(0.0, &|k| at(wheel, k)),
            accel_radps2: (at(wheel, i) - at(wheel, first)) / duration_s,
            motor_a: mean(0.0, &motor_a),
            battery_a: mean(0.0, &|k| optional(&log.log.battery_a, k)),
            battery_v: mean(0.0, &|k| optional(&log.log.battery_v, k)),
        });
        first = i;
    }
    (out, held)
}

/// Physical: a contact is over by then.
const THROW_S: f64 = 0.1;
