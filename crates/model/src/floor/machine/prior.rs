//! What the project says about the thrower before any shot, as standard deviations of a few parameters.

use crate::launcher::{Passage, Setting};
use crate::project::{self, Project};
use crate::shot::{Chain, Exit};

/// Standard deviations before the log, and the scatter assumed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Before {
    /// Of ln exit speed.
    pub ln_speed_sd_frac: f64,
    /// Of the exit angle.
    pub angle_sd_rad: f64,
    /// Of the direction.
    pub aside_sd_rad: f64,
    /// Of ln drag.
    pub ln_drag_sd_frac: f64,
    /// Of lift, as a share of that written.
    pub lift_sd_frac: f64,
    /// Scatter of exit speed from throw to throw, as a share.
    pub speed_scatter_frac: f64,
    /// Scatter of the exit angle.
    pub angle_scatter_rad: f64,
    /// Scatter of the direction.
    pub aside_scatter_rad: f64,
    /// Of the logarithm of each scatter.
    pub ln_scatter_sd_frac: f64,
    /// Of ln of what a throw costs the wheel.
    pub ln_dip_sd_frac: f64,
    /// Of the change of speed per place in the volley.
    pub place_sd_frac: f64,
    /// Of the change of speed of the last throw.
    pub last_sd_frac: f64,
    /// Of the change of speed per volt.
    pub battery_sd_frac: f64,
    /// Of the speed of one piece against the others.
    pub piece_sd_frac: f64,
    /// Of the speed of one session against the others.
    pub session_sd_frac: f64,
    /// Of the exit angle of one session.
    pub session_angle_sd_rad: f64,
}

/// What nobody writes into a project, common practice, no source: sizes seen on small throwers.
impl Default for Before {
    fn default() -> Before {
        Before {
            ln_speed_sd_frac: 0.10,
            angle_sd_rad: 0.035,
            aside_sd_rad: 0.020,
            ln_drag_sd_frac: 0.25,
            lift_sd_frac: 0.8,
            speed_scatter_frac: 0.015,
            angle_scatter_rad: 0.008,
            aside_scatter_rad: 0.010,
            ln_scatter_sd_frac: 0.4,
            ln_dip_sd_frac: 0.15,
            place_sd_frac: 0.01,
            last_sd_frac: 0.01,
            battery_sd_frac: 0.01,
            piece_sd_frac: 0.01,
            session_sd_frac: 0.01,
            session_angle_sd_rad: 0.005,
        }
    }
}

/// Quantities that the log meets only through the exit: what is not known of them is not known of exit speed
/// and angle.
pub(super) const THROUGH_THE_EXIT: [&str; 5] = [
    "piece.stiffness",
    "piece.bounce",
    "wheel.friction",
    "launcher.guide_friction",
    "launcher.rolling_loss",
];

impl Before {
    /// Reads a project: spreads of drag, lift and offsets as written; speed and angle also through what is not
    /// known of friction and stiffness, each by a step of one standard deviation at a setting and wheel speed.
    pub fn of(project: &Project, setting: &Setting, wheel_radps: f64) -> Before {
        let assumed = Before::default();
        let sd = |key: &str| project.spreads.get(key).map(|s| s.sd()).filter(|s| s.is_finite());
        let share = |key: &str| {
            let value = project::get(project, key)?.abs();
            sd(key).filter(|_| value > 0.0).map(|s| s / value)
        };
        let mut speed = share("launcher.speed_transfer").unwrap_or(0.0).powi(2);
        let mut angle = 0.0;
        let here = exit(project, setting, wheel_radps);
        for key in THROUGH_THE_EXIT {
            let (Some(sd), Some(value), Some(here)) = (sd(key), project::get(project, key), here) else {
                continue;
            };
            let mut moved = project.clone();
            let there = [sd, -sd].into_iter().find_map(|by| {
                let set = project::set(&mut moved, key, value + by);
                set.then(|| exit(&moved, setting, wheel_radps)).flatten()
            });
            if let Some(there) = there {
                speed += (there.speed_mps / here.speed_mps).ln().powi(2);
                angle += (there.angle_rad - here.angle_rad).powi(2);
            }
        }
        let lift = project::get(project, "piece.lift").unwrap_or(0.0);
        Before {
            ln_speed_sd_frac: if speed > 0.0 {
                speed.sqrt()
            } else {
                assumed.ln_speed_sd_frac
            },
            angle_sd_rad: sd("launcher.exit_offset")
                .unwrap_or(assumed.angle_sd_rad)
                .hypot(angle.sqrt()),
            aside_sd_rad: sd("launcher.aim_offset").unwrap_or(assumed.aside_sd_rad),
            ln_drag_sd_frac: share("piece.drag").unwrap_or(0.0),
            lift_sd_frac: if lift == 0.0 {
                0.0
            } else {
                share("piece.lift").unwrap_or(0.0)
            },
            aside_scatter_rad: lined_up(project).unwrap_or(assumed.aside_scatter_rad),
            ..assumed
        }
    }
}

/// Scatter of the direction where the project says how well the robot is lined up; the root mean square over the spots.
fn lined_up(project: &Project) -> Option<f64> {
    let said: Vec<f64> = (0..project.spots.len())
        .filter_map(|i| project.spreads.get(&format!("spot[{i}].heading")))
        .map(|s| s.sd().powi(2))
        .filter(|v| v.is_finite())
        .collect();
    let mean = said.iter().sum::<f64>() / said.len() as f64;
    (mean > 0.0).then(|| mean.sqrt().hypot(project.throws.entry_angle_rad))
}

fn exit(project: &Project, setting: &Setting, wheel_radps: f64) -> Option<Exit> {
    match Chain::of(project).release(setting, wheel_radps, false) {
        Passage::Thrown(release) => Some(Exit::of(&release)).filter(|e| e.speed_mps > 0.0),
        Passage::Refused { .. } => None,
    }
}
