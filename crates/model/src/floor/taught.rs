//! What a fit leaves for later: the few numbers with which everything downstream works, without the log.

use super::machine::{Effect, Fitted};
use super::machine::{PRIOR_ONLY_RATIO, speed_sd_at_target};
use crate::numerics::symmetric::Cholesky;
use crate::project::{self, KnownTogether, Project, ShownScatter, Spread};
use crate::scatter::is_doubt;

/// How many deviations are kept.
pub const KEPT: usize = 5;
/// Names of what is kept, in order; for files.
pub const KEPT_NAMES: [&str; 5] = ["ln_speed", "angle_rad", "ln_drag", "lift", "aside_rad"];

/// Physical: lift below this share of that written has no share of its own.
const LEAST_LIFT: f64 = 0.05;

/// Covariance of what is kept.
pub type KeptCovariance = [[f64; 5]; 5];

/// What a fit leaves.
#[derive(Clone, Debug, PartialEq)]
pub struct Taught {
    /// Deviations from the project as written in the last session of the log: ln exit speed, exit angle, ln drag, share
    /// of lift, direction (left positive).
    pub mean: [f64; 5],
    /// Covariance of what further deviations there may be from these, with the small-sample factor in it; that of lift
    /// is a share of the learned lift.
    pub covariance: KeptCovariance,
    /// Standard deviation of ln speed that moves the crossing as much as all that is not known, over the log's distances.
    pub speed_sd_frac: f64,
    /// Scatter from throw to throw.
    pub scatter: ShownScatter,
    /// Whether the shots said anything of the scatter of speed, angle and direction, or the value is that assumed.
    pub scatter_learned: [bool; 3],
    /// Nearest and farthest distance thrown from.
    pub distance_m: [f64; 2],
}

impl Fitted {
    /// What this fit leaves.
    pub fn taught(&self) -> Taught {
        let session = self.session_index;
        let own = [
            [Some(Effect::Speed), Some(Effect::SessionSpeed(session))],
            [Some(Effect::Angle), Some(Effect::SessionAngle(session))],
            [Some(Effect::Drag), None],
            [Some(Effect::Lift), None],
            [Some(Effect::Aside), None],
        ];
        let places = own.map(|pair| {
            let found = pair.iter().flatten().filter_map(|e| self.index(*e));
            found.collect::<Vec<usize>>()
        });
        let factor = self.posterior.small_sample_ratio().powi(2);
        let entry = |i: usize, j: usize| {
            let row = self.posterior.covariance.get(i);
            row.and_then(|r| r.get(j)).copied().unwrap_or(0.0)
        };
        let mean: [f64; 5] =
            std::array::from_fn(|k| own[k].iter().flatten().map(|e| self.deviation(*e)).sum());
        let learned_lift = 1.0 + mean[3];
        let scale = |k: usize| match k {
            3 if learned_lift.abs() < LEAST_LIFT => 0.0,
            3 => 1.0 / learned_lift,
            _ => 1.0,
        };
        let covariance = std::array::from_fn(|a| {
            std::array::from_fn(|b| {
                let pairs = places[a].iter().flat_map(|i| places[b].iter().map(|j| (*i, *j)));
                factor * scale(a) * scale(b) * pairs.map(|(i, j)| entry(i, j)).sum::<f64>()
            })
        });
        let mut out = Taught {
            mean,
            covariance,
            speed_sd_frac: f64::NAN,
            scatter: self.shown_scatter(),
            scatter_learned: [Effect::SpeedScatter, Effect::AngleScatter, Effect::AsideScatter]
                .map(|e| self.is_learned(e)),
            distance_m: self.distance_m,
        };
        out.speed_sd_frac = speed_sd_at_target(self, &out);
        out
    }

    /// Did the log say anything of it?
    fn is_learned(&self, effect: Effect) -> bool {
        self.index(effect)
            .is_some_and(|j| self.posterior.sd_by_prior_ratio(j) <= PRIOR_ONLY_RATIO)
    }

    fn shown_scatter(&self) -> ShownScatter {
        let [speed_frac, angle_rad, aside_rad] = self.scatter();
        let pieces: Vec<f64> = self
            .estimates
            .iter()
            .filter(|e| matches!(e.effect, Effect::Piece(_)))
            .map(|e| e.mean * e.mean + e.sd * e.sd)
            .collect();
        let wheel_measured = 2 * self.measured_count() > self.used.len();
        let (place, last) = if wheel_measured {
            (Effect::PlaceBeyondWheel, Effect::LastBeyondWheel)
        } else {
            (Effect::Place, Effect::Last)
        };
        let said = |e: Effect| self.is_learned(e).then(|| self.deviation(e));
        ShownScatter {
            speed_frac,
            angle_rad,
            aside_rad,
            piece_frac: (pieces.iter().sum::<f64>() / pieces.len().max(1) as f64).sqrt(),
            place_frac: said(place),
            last_frac: said(last),
            wheel_measured,
        }
    }
}

impl Taught {
    /// What is known together of ln speed, angle, ln drag and lift.
    pub fn known(&self) -> KnownTogether {
        KnownTogether {
            covariance: std::array::from_fn(|i| std::array::from_fn(|j| self.covariance[i][j])),
        }
    }

    /// Standard deviation of the direction.
    pub fn aside_sd_rad(&self) -> f64 {
        self.covariance[4][4].max(0.0).sqrt()
    }

    /// The deviation about the result that standardised numbers stand for.
    pub fn deviation(&self, z: &[f64; 5]) -> [f64; 5] {
        // What is known exactly has no row; the factor is taken of the others.
        let free: Vec<usize> = (0..KEPT).filter(|k| self.covariance[*k][*k] > 0.0).collect();
        let normal: Vec<f64> = free.iter().map(|k| z[*k]).collect();
        let flat: Vec<f64> = free
            .iter()
            .flat_map(|i| free.iter().map(|j| self.covariance[*i][*j]))
            .collect();
        let by = Cholesky::new(free.len(), &flat).map_or(vec![0.0; free.len()], |c| c.times_lower(&normal));
        let mut out = [0.0; 5];
        for (k, b) in free.iter().zip(by) {
            out[*k] = b;
        }
        out
    }

    /// The project with what was learned put in: speed transfer, offsets, drag and lift, for the first throw of a
    /// volley with an average piece and a battery as written; and the scatter that the shots showed.
    ///
    /// Drag, lift, angle and speed are known together far better than one by one: aiming takes their doubt from the
    /// whole covariance. For what reads spreads one by one all of it is put on speed transfer, as large as it shows at
    /// the target from the distances that were thrown from; the other spreads of piece, launcher, wheel and motor that
    /// are the same for every throw are taken out, as the log has absorbed them.
    /// Fit the next log with the project as first written and all shots, not with this one.
    pub fn project(&self, project: &Project) -> Project {
        let mut out = project.clone();
        let [ln_speed, angle_rad, ln_drag, lift, aside_rad] = self.mean;
        let m = &mut out.machine;
        let transfer = m.speed_transfer_ratio * ln_speed.exp();
        m.speed_transfer_ratio = transfer;
        m.exit_offset_rad += angle_rad;
        m.aim_offset_rad += aside_rad;
        for (key, factor) in [("piece.drag", ln_drag.exp()), ("piece.lift", 1.0 + lift)] {
            if let Some(v) = project::get(project, key) {
                project::set(&mut out, key, v * factor);
            }
        }
        out.spreads
            .retain(|key, _| !(is_doubt(key) && LEARNED_TABLES.iter().any(|t| key.starts_with(t))));
        let mut put = |key: &str, sd: f64| {
            if sd > 0.0 && sd.is_finite() {
                out.spreads.insert(key.into(), Spread::Normal { sd });
            }
        };
        put("launcher.speed_transfer", transfer * self.speed_sd_frac);
        put("launcher.aim_offset", self.aside_sd_rad());
        out.known = Some(self.known());
        out.throws.shown = Some(self.scatter);
        out
    }
}

/// Tables of which test shots tell what is the same for every throw.
const LEARNED_TABLES: [&str; 4] = ["piece.", "launcher.", "wheel.", "motor."];

/// Turns the launcher back by what it throws to the side; how far it is turned, left positive.
pub fn turned_back(project: &mut Project) -> f64 {
    -std::mem::take(&mut project.machine.aim_offset_rad)
}
