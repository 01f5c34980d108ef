//! Motor lines of the running wheel from a log: V = Vs sgn ω + Kv ω + Ka dω/dt.

use super::motor::motor_constants;
use super::types::Drive;
use crate::finding::Finding;

/// Rounding: a column whose part outside the others is this small a share of it holds no information
/// beyond the rounding of the log's own digits.
const COLLINEAR_FRAC: f64 = 1e-10;

/// The three numbers of the motor line at the wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MotorLine {
    /// Voltage that only overcomes friction.
    pub static_v: f64,
    /// Voltage per wheel speed.
    pub speed_v_per_radps: f64,
    /// Voltage per wheel acceleration.
    pub accel_v_per_radps2: f64,
}

/// The motor line that a drive and an inertia should have.
///
/// ```text
/// Vs = R I0    Kv = kE G    Ka = J R/(Nm η G kT)
/// ```
///
/// Linear motor model \[fitzgerald-machines\]; wheel-side viscous friction left out.
pub fn expected_line(drive: &Drive, inertia_kgm2: f64) -> MotorLine {
    let m = motor_constants(&drive.motor);
    let torque_per_a =
        f64::from(drive.motor_count) * drive.gear_efficiency_frac * drive.gear_ratio * m.kt_nm_per_a;
    MotorLine {
        static_v: m.resistance_ohm * m.free_a,
        speed_v_per_radps: m.ke_v_per_radps * drive.gear_ratio,
        accel_v_per_radps2: inertia_kgm2 * m.resistance_ohm / torque_per_a,
    }
}

/// Three fitted coefficients and how far to trust them.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Fit3 {
    coefficients: [f64; 3],
    standard_errors: [f64; 3],
    rms: f64,
    condition: f64,
}

/// A motor line learned from a log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Identified {
    /// The line.
    pub line: MotorLine,
    /// Time constant Ka/Kv.
    pub tau_s: f64,
    /// Standard errors of the fitted coefficients: of the line for the continuous fit, of
    /// (a, b, c) for the discrete one. `NAN` when no row is left over to tell.
    pub standard_errors: [f64; 3],
    /// Root mean square of what the fit leaves: volts, or rad/s for the discrete fit.
    pub residual_rms: f64,
    /// How nearly the columns repeat each other: Frobenius condition number of the scaled columns, 3 at best.
    /// Above about 100 the log does not separate the coefficients: run at more speeds and both ways.
    pub condition_ratio: f64,
    /// Discrete fit only: share of speed kept over one period.
    pub keep_frac: Option<f64>,
}

fn refuse(code: &'static str, what: String, fix: &str) -> Finding {
    Finding {
        code,
        key: "log".to_string(),
        what,
        fix: fix.to_string(),
    }
}

/// Least squares with three columns: modified Gram-Schmidt on scaled columns, applied twice.
///
/// \[golub-vanloan\] section 5.2.8. Rows beyond the shortest slice are not read.
#[allow(clippy::needless_range_loop)] // Indices as in the text.
fn least_squares(columns: [&[f64]; 3], target: &[f64]) -> Result<Fit3, Finding> {
    let rows = target.len();
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let norms = columns.map(|c| dot(c, c).sqrt());
    if norms.iter().any(|n| !(n.is_finite() && *n > 0.0)) {
        return Err(refuse(
            "log-empty-column",
            "voltage, speed or acceleration is zero throughout the log".to_string(),
            "log a run that speeds up, holds and slows down",
        ));
    }
    let mut q: [Vec<f64>; 3] = [0, 1, 2].map(|i| columns[i].iter().map(|x| x / norms[i]).collect());
    let mut r = [[0.0_f64; 3]; 3];
    for i in 0..3 {
        for _ in 0..2 {
            for j in 0..i {
                let (done, rest) = q.split_at_mut(i);
                let share = dot(&done[j], &rest[0]);
                r[j][i] += share;
                for (x, y) in rest[0].iter_mut().zip(&done[j]) {
                    *x -= share * y;
                }
            }
        }
        r[i][i] = dot(&q[i], &q[i]).sqrt();
        if r[i][i].is_nan() || r[i][i] <= COLLINEAR_FRAC {
            return Err(refuse(
                "log-collinear",
                "the log does not separate friction, speed and acceleration: one is a multiple of the others"
                    .to_string(),
                "log several speeds with changes between them, in both directions if the machine allows it",
            ));
        }
        q[i].iter_mut().for_each(|x| *x /= r[i][i]);
    }
    // Inverse of the upper triangle, for the solution, the errors and the condition number alike.
    let mut inverse = [[0.0_f64; 3]; 3];
    for i in (0..3).rev() {
        inverse[i][i] = 1.0 / r[i][i];
        for j in i + 1..3 {
            let sum: f64 = (i + 1..=j).map(|k| r[i][k] * inverse[k][j]).sum();
            inverse[i][j] = -sum / r[i][i];
        }
    }
    let mut left = target.to_vec();
    let mut projected = [0.0; 3];
    for i in 0..3 {
        projected[i] = dot(&q[i], &left);
        for (x, y) in left.iter_mut().zip(&q[i]) {
            *x -= projected[i] * y;
        }
    }
    let squares = dot(&left, &left);
    let spare = rows.saturating_sub(3);
    let sigma = if spare > 0 {
        (squares / spare as f64).sqrt()
    } else {
        f64::NAN
    };
    let row = |i: usize| dot(&inverse[i], &projected) / norms[i];
    let error = |i: usize| sigma * dot(&inverse[i], &inverse[i]).sqrt() / norms[i];
    let frobenius = |m: &[[f64; 3]; 3]| m.iter().map(|row| dot(row, row)).sum::<f64>().sqrt();
    Ok(Fit3 {
        coefficients: [row(0), row(1), row(2)],
        standard_errors: [error(0), error(1), error(2)],
        rms: (squares / rows as f64).sqrt(),
        condition: frobenius(&r) * frobenius(&inverse),
    })
}

fn direction(speed: f64) -> f64 {
    if speed > 0.0 {
        1.0
    } else if speed < 0.0 {
        -1.0
    } else {
        0.0
    }
}

fn check_rows(lengths_agree: bool, rows: usize, all: &[&[f64]]) -> Result<(), Finding> {
    if !lengths_agree {
        return Err(refuse(
            "log-lengths",
            "the columns of the log have different lengths".to_string(),
            "export one value of every column per row",
        ));
    }
    if rows < 3 {
        return Err(refuse(
            "log-short",
            format!("the log has {rows} usable rows; three unknowns need at least 3"),
            "log a longer run; some seconds at 20 ms is good",
        ));
    }
    for column in all {
        if let Some(row) = column.iter().position(|x| !x.is_finite()) {
            return Err(refuse(
                "log-not-a-number",
                format!("row {} of the log holds a value that is not a number", row + 1),
                "remove the row or repair the value",
            ));
        }
    }
    Ok(())
}

/// Motor line from logged voltage, speed and acceleration.
///
/// ```text
/// V = Vs sgn ω + Kv ω + Ka dω/dt,    τ = Ka/Kv
/// ```
///
/// Linear least squares \[ljung-1999\]. Use measured duty times battery voltage; leave out rows near
/// standstill, in
/// saturation, in slip or inside a throw. Differencing noisy speed biases Ka low; with sampled data prefer
/// [`identify_sampled`].
///
/// # Errors
/// A finding when the columns differ in length, are too short, hold no number, or do not separate the
/// unknowns.
pub fn identify_continuous(
    voltage_v: &[f64],
    speed_radps: &[f64],
    accel_radps2: &[f64],
) -> Result<Identified, Finding> {
    let rows = voltage_v.len();
    let agree = speed_radps.len() == rows && accel_radps2.len() == rows;
    check_rows(agree, rows, &[voltage_v, speed_radps, accel_radps2])?;
    let signs: Vec<f64> = speed_radps.iter().map(|w| direction(*w)).collect();
    let fit = least_squares([&signs, speed_radps, accel_radps2], voltage_v)?;
    let [static_v, speed_v_per_radps, accel_v_per_radps2] = fit.coefficients;
    Ok(Identified {
        line: MotorLine {
            static_v,
            speed_v_per_radps,
            accel_v_per_radps2,
        },
        tau_s: accel_v_per_radps2 / speed_v_per_radps,
        standard_errors: fit.standard_errors,
        residual_rms: fit.rms,
        condition_ratio: fit.condition,
        keep_frac: None,
    })
}

/// Motor line from voltage held over each period and speed at its ends.
///
/// ```text
/// ω[k+1] = a ω[k] + b V[k] + c sgn ω[k]
/// τ = −T/ln a    Kv = (1 − a)/b    Ka = Kv τ    Vs = −c/b
/// ```
///
/// Exact for a held voltage \[astrom-wittenmark\]; least squares \[ljung-1999\]. `speed_radps` has one value
/// more than `voltage_v`.
/// At standstill the friction acts against the motion that starts, so the sign of the next speed is
/// used there.
///
/// # Errors
/// As [`identify_continuous`], and when the fit does not describe a wheel that settles (a outside 0..1, b not
/// positive).
pub fn identify_sampled(
    voltage_v: &[f64],
    speed_radps: &[f64],
    period_s: f64,
) -> Result<Identified, Finding> {
    let rows = voltage_v.len();
    check_rows(speed_radps.len() == rows + 1, rows, &[voltage_v, speed_radps])?;
    if !(period_s.is_finite() && period_s > 0.0) {
        return Err(refuse(
            "log-period",
            format!("the period of the log is {period_s} s; it must be above 0"),
            "state the time between two rows",
        ));
    }
    let (now, next) = (&speed_radps[..rows], &speed_radps[1..]);
    let signs: Vec<f64> = now
        .iter()
        .zip(next)
        .map(|(w, after)| {
            if *w == 0.0 {
                direction(*after)
            } else {
                direction(*w)
            }
        })
        .collect();
    let fit = least_squares([now, voltage_v, &signs], next)?;
    let [a, b, c] = fit.coefficients;
    if !(a > 0.0 && a < 1.0 && b > 0.0) {
        return Err(refuse(
            "log-no-lag",
            format!(
                "the fit keeps {a:.4} of the speed per row and gains {b:.4} rad/s per volt; a wheel keeps less than 1 and gains more than 0"
            ),
            "check that voltage and speed belong to the same rows, and leave out throws and saturation",
        ));
    }
    let tau_s = -period_s / a.ln();
    let speed_v_per_radps = (1.0 - a) / b;
    Ok(Identified {
        line: MotorLine {
            static_v: -c / b,
            speed_v_per_radps,
            accel_v_per_radps2: speed_v_per_radps * tau_s,
        },
        tau_s,
        standard_errors: fit.standard_errors,
        residual_rms: fit.rms,
        condition_ratio: fit.condition,
        keep_frac: Some(a),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::launcher::types::MotorSheet;

    const TRUE_LINE: MotorLine = MotorLine {
        static_v: 0.35,
        speed_v_per_radps: 0.0195,
        accel_v_per_radps2: 0.0112,
    };

    /// A log of the true line under held voltages, from rest, both ways.
    fn sampled_log(period_s: f64) -> (Vec<f64>, Vec<f64>) {
        let tau_s = TRUE_LINE.accel_v_per_radps2 / TRUE_LINE.speed_v_per_radps;
        let keep = (-period_s / tau_s).exp();
        let mut speed = vec![0.0_f64];
        let mut voltage = Vec::new();
        for step in 0..60 {
            let v = [6.0, 9.0, 12.0, 3.0, -7.0, -11.0][step / 10];
            let now = speed[step];
            let sign = if now == 0.0 { f64::signum(v) } else { now.signum() };
            let toward = (v - sign * TRUE_LINE.static_v) / TRUE_LINE.speed_v_per_radps;
            voltage.push(v);
            speed.push(toward + (now - toward) * keep);
        }
        (voltage, speed)
    }

    #[test]
    fn a_clean_sampled_log_gives_the_line_back() {
        let (voltage, speed) = sampled_log(0.02);
        let got = identify_sampled(&voltage, &speed, 0.02).unwrap();
        let close = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
        close(got.line.static_v, TRUE_LINE.static_v);
        close(got.line.speed_v_per_radps, TRUE_LINE.speed_v_per_radps);
        close(got.line.accel_v_per_radps2, TRUE_LINE.accel_v_per_radps2);
        close(got.tau_s, 0.0112 / 0.0195);
        assert!(got.condition_ratio > 3.0 && got.condition_ratio < 100.0);
    }

    /// Trap: acceleration by differencing the held-voltage log misses part of it; the sampled fit does not.
    #[test]
    fn differencing_the_log_misses_the_line_that_the_sampled_fit_finds() {
        let (voltage, speed) = sampled_log(0.05);
        let accel: Vec<f64> = speed.windows(2).map(|w| (w[1] - w[0]) / 0.05).collect();
        let rough = identify_continuous(&voltage, &speed[..voltage.len()], &accel).unwrap();
        assert!((rough.line.accel_v_per_radps2 / TRUE_LINE.accel_v_per_radps2 - 1.0).abs() > 0.02);
    }

    /// Exact data: the standard errors vanish; with noise they cover what the noise did.
    #[test]
    fn standard_errors_are_of_the_size_of_the_true_errors() {
        let speeds = [40.0, 120.0, 200.0, 280.0, 360.0, -80.0, -220.0, -300.0];
        let accels = [620.0, 540.0, 430.0, 300.0, 160.0, -300.0, -120.0, 10.0];
        let noise = [1.0, -1.0, 0.6, -0.4, 0.8, 0.5, -0.9, -0.6];
        let volts = |size: f64| -> Vec<f64> {
            (0..8)
                .map(|i| {
                    0.35 * f64::signum(speeds[i]) + 0.0195 * speeds[i] + 0.0112 * accels[i] + size * noise[i]
                })
                .collect()
        };
        let clean = identify_continuous(&volts(0.0), &speeds, &accels).unwrap();
        assert!(clean.standard_errors.iter().all(|e| *e < 1e-12));
        let noisy = identify_continuous(&volts(0.03), &speeds, &accels).unwrap();
        let misses = [
            noisy.line.static_v - 0.35,
            noisy.line.speed_v_per_radps - 0.0195,
            noisy.line.accel_v_per_radps2 - 0.0112,
        ];
        for (miss, error) in misses.iter().zip(noisy.standard_errors) {
            assert!(miss.abs() < 3.0 * error && error > 0.0, "{miss} {error}");
        }
        let louder = identify_continuous(&volts(0.06), &speeds, &accels).unwrap();
        assert!((louder.standard_errors[0] / noisy.standard_errors[0] - 2.0).abs() < 1e-9);
    }

    /// σ² = SSR/(n − 3), errors σ √((XᵀX)⁻¹)ᵢᵢ, worked by hand on eight rows \[ljung-1999\].
    #[test]
    fn standard_errors_are_those_of_the_textbook_formula_worked_by_hand() {
        let speeds = [1.0, 1.0, -1.0, -1.0, 3.0, 3.0, -3.0, -3.0];
        let accels = [1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0];
        // Orthogonal to sign, speed and acceleration alike, so it stays as residual: SSR = 8 · 0.01.
        let noise = [1.0, -1.0, -1.0, 1.0, 1.0, -1.0, -1.0, 1.0];
        let volts: Vec<f64> = (0..8)
            .map(|i| speeds[i] + 2.0 * accels[i] + 0.1 * noise[i])
            .collect();
        let got = identify_continuous(&volts, &speeds, &accels).unwrap();
        let sigma = (0.08_f64 / 5.0).sqrt();
        assert!((got.residual_rms - 0.1).abs() < 1e-12);
        assert!((got.standard_errors[2] - sigma / 8.0_f64.sqrt()).abs() < 1e-12);
        // Sign and speed correlate: Σsgn² = 8, Σsgn ω = 16, Σω² = 40, determinant 64.
        assert!((got.standard_errors[0] - sigma * (40.0_f64 / 64.0).sqrt()).abs() < 1e-12);
        assert!((got.standard_errors[1] - sigma * (8.0_f64 / 64.0).sqrt()).abs() < 1e-12);
    }

    /// At one speed, friction and speed cannot be told apart: refused, not guessed.
    #[test]
    fn a_log_at_one_speed_is_refused_and_a_second_speed_mends_it() {
        let accel = [10.0, -20.0, 5.0, 3.0];
        let volts = [8.0, 7.7, 8.1, 8.0];
        let at_one = identify_continuous(&volts, &[400.0; 4], &accel).unwrap_err();
        assert_eq!(at_one.code, "log-collinear");
        // A multiple that rounding hides from an exact test.
        let third: Vec<f64> = [0.1, 0.3, 0.7, 1.1].iter().map(|x| x / 3.0).collect();
        let rounded = identify_continuous(&volts, &[0.1, 0.3, 0.7, 1.1], &third).unwrap_err();
        assert_eq!(rounded.code, "log-collinear");
        assert!(identify_continuous(&volts, &[400.0, 300.0, 400.0, 350.0], &accel).is_ok());
        let near = identify_continuous(&volts, &[400.0, 400.1, 400.0, 400.2], &accel).unwrap();
        assert!(near.condition_ratio > 1000.0);
    }

    #[test]
    fn each_kind_of_unusable_log_is_refused_by_name() {
        let code = |r: Result<Identified, Finding>| {
            let finding = r.unwrap_err();
            assert!(!finding.fix.is_empty());
            finding.code
        };
        assert_eq!(
            code(identify_continuous(&[1.0; 4], &[1.0; 3], &[1.0; 4])),
            "log-lengths"
        );
        assert_eq!(
            code(identify_continuous(&[1.0; 2], &[1.0; 2], &[1.0; 2])),
            "log-short"
        );
        assert_eq!(
            code(identify_continuous(&[1.0; 4], &[f64::NAN; 4], &[1.0; 4])),
            "log-not-a-number"
        );
        assert_eq!(
            code(identify_continuous(&[1.0; 4], &[0.0; 4], &[1.0; 4])),
            "log-empty-column"
        );
        assert_eq!(code(identify_sampled(&[], &[], 0.02)), "log-lengths");
        let (mut voltage, speed) = sampled_log(0.02);
        assert_eq!(code(identify_sampled(&voltage, &speed, 0.0)), "log-period");
        voltage.iter_mut().for_each(|v| *v = -*v);
        assert_eq!(code(identify_sampled(&voltage, &speed, 0.02)), "log-no-lag");
    }

    /// The line that the sheet promises is the one that the wheel train then shows in a log.
    #[test]
    fn the_expected_line_is_the_motor_equation_at_the_wheel() {
        let drive = Drive {
            motor: MotorSheet {
                nominal_v: 12.0,
                free_radps: 600.0,
                free_a: 1.5,
                stall_nm: 1.1,
                stall_a: 60.0,
                rotor_kgm2: 0.0,
            },
            motor_count: 2,
            gear_ratio: 1.5,
            gear_efficiency_frac: 0.9,
            limit_a: f64::INFINITY,
        };
        let line = expected_line(&drive, 1e-3);
        let m = motor_constants(&drive.motor);
        let (speed, accel) = (300.0, 450.0);
        let motor_nm = 1e-3 * accel / (2.0 * 0.9 * 1.5);
        let current = motor_nm / m.kt_nm_per_a + m.free_a;
        let volts = current * m.resistance_ohm + m.ke_v_per_radps * 1.5 * speed;
        let by_line = line.static_v + line.speed_v_per_radps * speed + line.accel_v_per_radps2 * accel;
        assert!((volts - by_line).abs() < 1e-12);
    }
}
