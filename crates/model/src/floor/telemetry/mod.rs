//! A robot's log: its clock repaired, the throws found in it, the wheel train learned from it.

mod between;
mod clock;
mod compare;
mod dips;
mod pairs;
mod train;

#[cfg(test)]
mod tests;

pub use between::{Shift, between};
pub use clock::{Repair, Repaired, repair};
pub use compare::{Likeness, likenesses};
pub use dips::{Dip, Dips, find_dips};
pub use pairs::{LoggedAt, Matched, Pairing, match_shots};
pub use train::{Estimate, TrainLearned, learn_train};

/// A log as columns of equal length, SI. A cell that holds no number is `NAN`.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Log {
    /// Time.
    pub time_s: Vec<f64>,
    /// Wheel speed.
    pub wheel_radps: Vec<f64>,
    /// Wheel speed asked for.
    pub setpoint_radps: Option<Vec<f64>>,
    /// Voltage at the battery terminals.
    pub battery_v: Option<Vec<f64>>,
    /// Motor duty, −1 to 1.
    pub duty_frac: Option<Vec<f64>>,
    /// Voltage at the motors, where it is logged itself.
    pub motor_v: Option<Vec<f64>>,
    /// Current drawn from the battery.
    pub battery_a: Option<Vec<f64>>,
    /// Current in each motor.
    pub motor_a: Option<Vec<f64>>,
}

impl Log {
    /// Voltage at the motors: as logged, or duty times battery voltage; `None` when neither is in the log.
    pub fn applied_v(&self) -> Option<Vec<f64>> {
        if let Some(v) = &self.motor_v {
            return Some(v.clone());
        }
        let (duty, battery) = (self.duty_frac.as_ref()?, self.battery_v.as_ref()?);
        Some(duty.iter().zip(battery).map(|(d, v)| d * v).collect())
    }

    fn optional(&self) -> [Option<&Vec<f64>>; 6] {
        [
            self.setpoint_radps.as_ref(),
            self.battery_v.as_ref(),
            self.duty_frac.as_ref(),
            self.motor_v.as_ref(),
            self.battery_a.as_ref(),
            self.motor_a.as_ref(),
        ]
    }

    /// The log with every column passed through `change`.
    fn mapped(&self, change: impl Fn(&[f64]) -> Vec<f64>) -> Log {
        let each = |c: &Option<Vec<f64>>| c.as_ref().map(|c| change(c));
        Log {
            time_s: change(&self.time_s),
            wheel_radps: change(&self.wheel_radps),
            setpoint_radps: each(&self.setpoint_radps),
            battery_v: each(&self.battery_v),
            duty_frac: each(&self.duty_frac),
            motor_v: each(&self.motor_v),
            battery_a: each(&self.battery_a),
            motor_a: each(&self.motor_a),
        }
    }
}

/// Middle value; `NAN` for none. Values that are not numbers must be out.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    match sorted.len() {
        0 => f64::NAN,
        n if n % 2 == 1 => sorted.get(n / 2).copied().unwrap_or(f64::NAN),
        n => 0.5 * sorted.iter().skip(n / 2 - 1).take(2).sum::<f64>(),
    }
}

/// A straight line through points by least squares, taken at a time: value and standard error; the scatter is
/// at least `noise`. With fewer than four points, or a slope that could be chance, the mean.
fn line_at(points: &[[f64; 2]], at: f64, noise: f64) -> (f64, f64) {
    let n = points.len() as f64;
    if points.is_empty() {
        return (f64::NAN, f64::NAN);
    }
    let mean_t = points.iter().map(|p| p[0]).sum::<f64>() / n;
    let mean_w = points.iter().map(|p| p[1]).sum::<f64>() / n;
    let sxx: f64 = points.iter().map(|p| (p[0] - mean_t).powi(2)).sum();
    let sxy: f64 = points.iter().map(|p| (p[0] - mean_t) * (p[1] - mean_w)).sum();
    if points.len() < 4 || !(sxx > 0.0) {
        return (mean_w, noise / n.sqrt());
    }
    let slope = sxy / sxx;
    let left: f64 = points
        .iter()
        .map(|p| (p[1] - mean_w - slope * (p[0] - mean_t)).powi(2))
        .sum();
    let sigma = (left / (n - 2.0)).sqrt().max(noise);
    // Two standard errors: below, the slope may as well be noise and the mean is nearer.
    if slope.abs() < 2.0 * sigma / sxx.sqrt() {
        return (mean_w, sigma / n.sqrt());
    }
    let value = mean_w + slope * (at - mean_t);
    (value, sigma * (1.0 / n + (at - mean_t).powi(2) / sxx).sqrt())
}
