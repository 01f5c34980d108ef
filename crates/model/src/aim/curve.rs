//! Exit against wheel speed at one setting: worked out once, read many times.

use rayon::prelude::*;

use crate::launcher::{Passage, Setting};
use crate::shot::{Chain, Exit};

/// One wheel speed and what it throws.
#[derive(Clone, Debug, PartialEq)]
pub struct ExitPoint {
    /// Wheel speed at the start of the throw.
    pub wheel_radps: f64,
    /// The exit, or why the piece does not come through.
    pub exit: Result<Exit, &'static str>,
}

/// Exit against wheel speed at one setting, from the contact simulation.
#[derive(Clone, Debug, PartialEq)]
pub struct ExitCurve {
    /// Points in order of wheel speed.
    pub points: Vec<ExitPoint>,
}

/// Method: lowest wheel speed looked at, as a share of the top speed.
const LOWEST_SHARE: f64 = 0.08;

impl ExitCurve {
    /// Runs the contact simulation at `count` (at least 2) evenly spaced speeds up to the top speed.
    pub fn of(chain: &Chain, setting: &Setting, count: usize) -> ExitCurve {
        ExitCurve::over(chain, setting, [LOWEST_SHARE, 1.0], count)
    }

    /// The same between two shares of the top speed.
    pub(super) fn over(chain: &Chain, setting: &Setting, share: [f64; 2], count: usize) -> ExitCurve {
        let count = count.max(2);
        let step = (share[1] - share[0]) / (count - 1) as f64;
        let points = (0..count)
            .into_par_iter()
            .map(|i| {
                let wheel_radps = chain.top_radps * (share[0] + step * i as f64);
                ExitPoint {
                    wheel_radps,
                    exit: exit_at(chain, setting, wheel_radps),
                }
            })
            .collect();
        ExitCurve { points }
    }

    /// The exit between points, by cubic interpolation (Catmull-Rom slopes); `None` where a
    /// neighbouring point refuses the piece.
    pub fn at(&self, wheel_radps: f64) -> Option<Exit> {
        let last = self.points.len().checked_sub(1)?;
        let i = self
            .points
            .partition_point(|p| p.wheel_radps <= wheel_radps)
            .clamp(1, last.max(1))
            - 1;
        let (a, b) = (self.points.get(i)?, self.points.get(i + 1)?);
        let (ea, eb) = (a.exit.as_ref().ok()?, b.exit.as_ref().ok()?);
        let h = b.wheel_radps - a.wheel_radps;
        let t = ((wheel_radps - a.wheel_radps) / h).clamp(0.0, 1.0);
        let before = i
            .checked_sub(1)
            .and_then(|j| self.points.get(j))
            .and_then(|p| p.exit.as_ref().ok());
        let after = self.points.get(i + 2).and_then(|p| p.exit.as_ref().ok());
        let mix = |f: fn(&Exit) -> f64| {
            let (y0, y1) = (f(ea), f(eb));
            let m0 = before.map_or(y1 - y0, |e| 0.5 * (y1 - f(e)));
            let m1 = after.map_or(y1 - y0, |e| 0.5 * (f(e) - y0));
            let (t2, t3) = (t * t, t * t * t);
            y0 * (2.0 * t3 - 3.0 * t2 + 1.0)
                + m0 * (t3 - 2.0 * t2 + t)
                + y1 * (3.0 * t2 - 2.0 * t3)
                + m1 * (t3 - t2)
        };
        Some(Exit {
            speed_mps: mix(|e| e.speed_mps),
            angle_rad: mix(|e| e.angle_rad),
            spin_radps: mix(|e| e.spin_radps),
            forward_m: mix(|e| e.forward_m),
            height_m: mix(|e| e.height_m),
        })
    }

    /// Why the piece does not come through at the top speed, if it does not.
    pub fn refused_at_top(&self) -> Option<&'static str> {
        self.points.last().and_then(|p| p.exit.as_ref().err().copied())
    }
}

/// The exit from the contact simulation at a steadily held wheel speed.
pub(crate) fn exit_at(chain: &Chain, setting: &Setting, wheel_radps: f64) -> Result<Exit, &'static str> {
    match chain.release(setting, wheel_radps, false) {
        Passage::Thrown(release) => Ok(Exit::of(&release)),
        Passage::Refused { why, .. } => Err(why),
    }
}
