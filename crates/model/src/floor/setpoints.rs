//! Setpoints by distance after a fit, how sure they are, and the chance of a hit.

use rayon::prelude::*;

use super::machine::{Effect, Fitted};
use super::taught::{KEPT, Taught, turned_back};
use crate::aim::{ExitCurve, SpotAim, aim_spot, changed, slopes_m};
use crate::limits::CURVE_POINTS;
use crate::numerics::normal;
use crate::numerics::radial::hit_circle;
use crate::numerics::sobol::Sobol;
use crate::project::{Project, Spot};
use crate::shot::{Chain, Exit, Stance};
use crate::target::{Outcome, Outline};

/// One line of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Setpoint {
    /// Distance to the near rim.
    pub distance_m: f64,
    /// Wheel speed that centres the crossing; `None` where none does.
    pub wheel: Option<Learned>,
    /// What the design said before the log.
    pub design: Option<Design>,
    /// More than half a metre beyond the distances that were thrown from.
    pub beyond_the_log: bool,
}

/// A setpoint before any test shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Design {
    /// Wheel speed.
    pub wheel_radps: f64,
    /// How far off it may be, one standard deviation.
    pub wheel_sd_radps: f64,
}

/// A setpoint after the log.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learned {
    /// Wheel speed.
    pub wheel_radps: f64,
    /// Its standard deviation.
    pub wheel_sd_radps: f64,
    /// Standard deviation of the mean crossing at that wheel speed, along the opening.
    pub along_sd_m: f64,
    /// Standard deviation of the mean crossing across.
    pub across_sd_m: f64,
    /// Scatter from throw to throw along the opening.
    pub along_scatter_m: f64,
    /// Scatter across.
    pub across_scatter_m: f64,
    /// Movement of the crossing for each 1 % of wheel speed.
    pub along_per_percent_m: f64,
    /// Movement of the crossing for each degree at the exit.
    pub along_per_degree_m: f64,
    /// Chance of going in clean with what was learned taken as exact.
    pub hit_frac: f64,
    /// The same with what is not known of the setpoint on top: what to expect.
    pub expected_hit_frac: f64,
    /// Both chances are counted from flights, as straight lines do not do.
    pub by_flights: bool,
}

/// Method: how far beyond the log a table may reach without a word.
const BEYOND_M: f64 = 0.5;
/// Method: throws counted where straight lines do not do, evenly spread: within 1 point of many at 90 %.
const FLOWN: usize = 256;
/// Method: the highest point nearer to the plane than this many deviations of a shot spoils straight lines.
const NEAR_TOP_SDS: f64 = 3.0;

/// Mean crossing and its derivatives by ln speed, angle, ln drag and lift.
struct Slopes {
    along: [f64; 4],
    range_m: f64,
    /// Height of the highest point above the crossing, and the tangent of the angle down through it.
    top_m: f64,
    down_ratio: f64,
    shadow_m: f64,
}

/// Setpoints at distances, straight ahead of the target, for the first throw of a volley with an average piece.
///
/// ```text
/// sd(along) = √(gᵀΣg)      sd(ω) = ω sd(along)/(∂along/∂ln ω)     g = ∂along/∂(ln speed, angle, ln drag, lift)
/// sx² = (∂along/∂ln v)² σv² + (∂along/∂θ)² σθ²                    sy = r σψ
/// ```
///
/// The delta method with the whole covariance, as speed, angle and drag are known together far better than alone, times
/// the small-sample factor. Chances from the ellipse of scatter; where the path is still nearly level at the
/// opening, or a wall catches what goes too far, from flights with the accidents drawn.
pub fn setpoints(project: &Project, fitted: &Fitted, distances_m: &[f64]) -> Vec<Setpoint> {
    let spots: Vec<Spot> = distances_m
        .iter()
        .filter(|d| d.is_finite() && **d > 0.0)
        .map(|&distance_m| Spot {
            name: String::new(),
            distance_m,
            offset_m: 0.0,
            heading_rad: 0.0,
        })
        .collect();
    setpoints_at(project, &fitted.taught(), &spots)
}

/// The same for spots, which may lie beside the target's axis, with what a fit left.
pub fn setpoints_at(project: &Project, taught: &Taught, spots: &[Spot]) -> Vec<Setpoint> {
    let mut learned = taught.project(project);
    turned_back(&mut learned);
    let table = |p: &Project| {
        let chain = Chain::of(p).standing();
        let curve = ExitCurve::of(&chain, &p.machine.setting, CURVE_POINTS);
        (chain, curve)
    };
    let (after, before) = (table(&learned), table(project));
    let aim = |p: &Project, (chain, curve): &(Chain, ExitCurve), spot: &Spot| -> SpotAim {
        aim_spot(p, chain, curve, &p.machine.setting, spot)
    };
    spots
        .par_iter()
        .map(|spot| {
            let design = aim(project, &before, spot).best().map(|s| Design {
                wheel_radps: s.wheel_radps,
                wheel_sd_radps: s.doubt.setpoint_sd_radps,
            });
            let found = aim(&learned, &after, spot);
            Setpoint {
                distance_m: spot.distance_m,
                wheel: taught.expected(&after.0, &found),
                design,
                beyond_the_log: taught.is_beyond(spot.distance_m),
            }
        })
        .collect()
}

impl Taught {
    /// Does a distance lie more than half a metre beyond those that were thrown from?
    pub fn is_beyond(&self, distance_m: f64) -> bool {
        let [near, far] = self.distance_m;
        distance_m < near - BEYOND_M || distance_m > far + BEYOND_M
    }

    /// What to expect at the setpoint that aiming found with the learned project.
    pub fn expected(&self, chain: &Chain, aim: &SpotAim) -> Option<Learned> {
        wheel(chain, self, aim)
    }

    /// The same for many at once, in their order.
    pub fn expected_all(&self, chain: &Chain, aims: &[&SpotAim]) -> Vec<Option<Learned>> {
        aims.par_iter().map(|aim| wheel(chain, self, aim)).collect()
    }
}

fn wheel(chain: &Chain, taught: &Taught, aim: &SpotAim) -> Option<Learned> {
    let best = aim.best()?;
    let c = chances(chain, taught, &best.exit, &aim.stance, Counted::All)?;
    Some(Learned {
        wheel_radps: best.wheel_radps,
        wheel_sd_radps: best.doubt.setpoint_sd_radps,
        along_sd_m: best.doubt.along_sd_m,
        across_sd_m: c.doubt_m[1],
        along_scatter_m: c.scatter_m[0],
        across_scatter_m: c.scatter_m[1],
        along_per_percent_m: best.along_per_percent_m,
        along_per_degree_m: c.along_per_rad_m * std::f64::consts::PI / 180.0,
        hit_frac: c.hit_frac,
        expected_hit_frac: c.expected_hit_frac,
        by_flights: c.by_flights,
    })
}

/// How many throws are counted where straight lines do not do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Counted {
    /// As many as a table needs.
    All,
    /// So many, for a search, and only the chance to expect.
    Some(usize),
    /// So many by flights whatever straight lines would do: for an exit whose mean throw is not centred.
    Flown(usize),
}

/// Hits of a centred exit after a fit.
pub(super) struct Chances {
    /// What is not known of the mean crossing, along and across.
    pub(super) doubt_m: [f64; 2],
    /// Scatter from throw to throw.
    pub(super) scatter_m: [f64; 2],
    /// Movement of the crossing along by the exit angle.
    pub(super) along_per_rad_m: f64,
    /// With what was learned taken as exact; not a number in a search.
    pub(super) hit_frac: f64,
    /// With doubt.
    pub(super) expected_hit_frac: f64,
    /// Counted from flights.
    pub(super) by_flights: bool,
}

/// Scatter, doubt and hits of an exit whose mean throw is centred, or of any with [`Counted::Flown`]; `None` where it
/// does not cross.
pub(super) fn chances(
    chain: &Chain,
    taught: &Taught,
    exit: &Exit,
    stance: &Stance,
    counted: Counted,
) -> Option<Chances> {
    // The launcher is turned back by what it throws to the side.
    let straight = Stance {
        heading_rad: stance.heading_rad - chain.aim_offset_rad,
        ..*stance
    };
    let s = slopes(chain, exit, &straight)?;
    let doubt = [
        taught.known().variance_along(&s.along).max(0.0).sqrt(),
        s.range_m * taught.aside_sd_rad(),
    ];
    let [sv, sth, spsi] = taught.accidents();
    let scatter = [(s.along[0] * sv).hypot(s.along[1] * sth), s.range_m * spsi];
    let near_top = s.top_m < NEAR_TOP_SDS * scatter[0] * s.down_ratio;
    let caught = chain.target.back_wall_m > 0.0;
    let by_flights = near_top || caught || matches!(counted, Counted::Flown(_));
    let chance = |with_doubt: bool| {
        let more = |k: usize| if with_doubt { doubt[k] } else { 0.0 };
        match (by_flights, counted) {
            (false, _) => hit(
                chain,
                s.shadow_m,
                [scatter[0].hypot(more(0)), scatter[1].hypot(more(1))],
            ),
            (true, Counted::All) => flown(chain, taught, exit, &straight, with_doubt, FLOWN),
            (true, Counted::Some(n) | Counted::Flown(n)) => {
                flown(chain, taught, exit, &straight, with_doubt, n)
            }
        }
    };
    Some(Chances {
        doubt_m: doubt,
        scatter_m: scatter,
        along_per_rad_m: s.along[1],
        hit_frac: if counted == Counted::All {
            chance(false)
        } else {
            f64::NAN
        },
        expected_hit_frac: chance(true),
        by_flights,
    })
}

fn slopes(chain: &Chain, exit: &Exit, stance: &Stance) -> Option<Slopes> {
    let here = chain.crossing(exit, stance)?;
    let along = slopes_m(chain, exit, stance)?;
    let [x, y, z] = here.state.position_m;
    let [u, v, w] = here.state.velocity_mps;
    let arrival = chain.fly(exit, stance);
    let top = arrival.flights.first().and_then(|p| p.apex());
    let radius_m = 0.5 * chain.ball.diameter_m;
    Some(Slopes {
        along,
        range_m: x.hypot(y),
        top_m: top.map_or(f64::INFINITY, |s| s.position_m[2] - z),
        down_ratio: if chain.target.upright() {
            0.0
        } else {
            (-w / u.hypot(v)).max(0.0)
        },
        shadow_m: radius_m / here.entry_rad.sin().max(1e-3),
    })
}

/// Chance that the whole piece clears the rim, for scatter about the centre.
fn hit(chain: &Chain, shadow_m: f64, [sx, sy]: [f64; 2]) -> f64 {
    let t = &chain.target;
    let (a, b) = (
        0.5 * t.depth_m - shadow_m,
        0.5 * t.width_m - 0.5 * chain.ball.diameter_m,
    );
    if !(a > 0.0 && b > 0.0) {
        return 0.0;
    }
    let within = |half: f64, sd: f64| {
        if sd > 0.0 {
            1.0 - 2.0 * normal::cdf(-half / sd)
        } else {
            1.0
        }
    };
    match t.outline {
        Outline::Rectangle => within(a, sx) * within(b, sy),
        // Stretched to a circle.
        Outline::Round => hit_circle(1.0, [0.0; 2], [sx / a, sy / b]),
    }
}

/// Seed of the throws counted; the same for every line, so that lines compare.
const SEED: u64 = 0x5e7_9017;

/// The same counted from flights.
fn flown(
    chain: &Chain,
    taught: &Taught,
    exit: &Exit,
    stance: &Stance,
    with_doubt: bool,
    throw_count: usize,
) -> f64 {
    let scatter = taught.accidents();
    // Five for what is not known, three for the accidents.
    let mut columns = vec![Vec::new(); KEPT + scatter.len()];
    let Some(even) = Sobol::new(columns.len(), SEED, 0) else {
        return f64::NAN;
    };
    even.block(0, throw_count, &mut columns);
    let mut count = 0;
    for i in 0..throw_count {
        let z = |k: usize| {
            let share = columns.get(k).and_then(|c| c.get(i)).copied().unwrap_or(0.5);
            normal::quantile(share)
        };
        let doubt = if with_doubt {
            taught.deviation(&std::array::from_fn(z))
        } else {
            [0.0; 5]
        };
        let accident: [f64; 3] = std::array::from_fn(|k| scatter[k] * z(KEPT + k));
        let by = [doubt[0] + accident[0], doubt[1] + accident[1], doubt[2], doubt[3]];
        let (chain, exit) = changed(chain, exit, &by);
        let stance = Stance {
            heading_rad: stance.heading_rad + doubt[4] + accident[2],
            ..*stance
        };
        if chain.fly(&exit, &stance).outcome == Outcome::In {
            count += 1;
        }
    }
    f64::from(count) / throw_count.max(1) as f64
}

impl Taught {
    /// Scatter of ln speed, angle and direction of single throws; the pieces differ too.
    fn accidents(&self) -> [f64; 3] {
        let s = &self.scatter;
        [s.speed_frac.hypot(s.piece_frac), s.angle_rad, s.aside_rad]
    }
}

impl Fitted {
    /// Scatter of ln speed, angle and direction from throw to throw, as learned.
    pub fn scatter(&self) -> [f64; 3] {
        let b = self.before();
        [
            (b.speed_scatter_frac, Effect::SpeedScatter),
            (b.angle_scatter_rad, Effect::AngleScatter),
            (b.aside_scatter_rad, Effect::AsideScatter),
        ]
        .map(|(sd, e)| sd * self.deviation(e).exp())
    }

    /// Slopes of the crossing at the log's own throws, as fitted.
    pub(super) fn centring_slopes(&self) -> Vec<[f64; 4]> {
        self.throws()
            .iter()
            .filter_map(|(chain, exit, stance)| slopes_m(chain, exit, stance))
            .collect()
    }
}
