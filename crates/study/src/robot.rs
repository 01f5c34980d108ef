//! The machines: a plain thrower drawn from a prior, and how well a table of setpoints serves it.

use arcwright_model::floor::next::{Opening, hit_frac};
use arcwright_model::floor::rehearse::{Ask, HiddenSimple, Look, SimplePrior, SimpleRing, Trouble};
use arcwright_model::floor::{M1, M1Shot, Shot, Zone};
use arcwright_model::launcher::Setting;
use arcwright_model::numerics::random::{Stream, hash};
use arcwright_model::target::Outcome;

/// Distances to the middle of the ring from which is tuned.
pub const TUNED_M: [f64; 4] = [2.5, 3.5, 4.5, 5.5];
/// Distances at which the table is judged, five of them never thrown from.
pub const JUDGED_M: [f64; 9] = [2.5, 2.875, 3.25, 3.625, 4.0, 4.375, 4.75, 5.125, 5.5];
/// Exit angle that is set.
pub const ANGLE_RAD: f64 = 60.0 * std::f64::consts::PI / 180.0;
/// Throws to a volley.
pub const VOLLEY: u32 = 4;
/// Pieces in the box.
pub const PIECES: u32 = 6;

/// What kind of machines are played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scenario {
    /// The prior is wrong by two sigma in speed and one and a half in drag, to one side or the other.
    pub wrong_prior: bool,
    /// What goes wrong on the floor.
    pub trouble: Trouble,
}

impl Scenario {
    /// Machines from the prior, three throws in a hundred much wilder.
    pub fn usual() -> Scenario {
        Scenario {
            wrong_prior: false,
            trouble: Trouble {
                flyer_frac: 0.03,
                flyer_scale_ratio: 5.0,
                ..Trouble::default()
            },
        }
    }

    /// Pieces differ and the volley droops.
    pub fn uneven() -> Scenario {
        let usual = Scenario::usual();
        Scenario {
            trouble: Trouble {
                piece_frac: 0.006,
                per_place_frac: -0.004,
                last_frac: -0.01,
                ..usual.trouble
            },
            ..usual
        }
    }
}

/// Draws the machine of a seed.
pub fn machine(scenario: &Scenario, seed: u64) -> HiddenSimple {
    const STREAM: u64 = 0x726f_626f;
    let mut stream = Stream::new(seed, STREAM);
    let mut z = [0; 9].map(|_| stream.normal());
    if scenario.wrong_prior {
        let side = if seed.is_multiple_of(2) { 1.0 } else { -1.0 };
        (z[0], z[1]) = (2.0 * side, -1.5 * side);
    }
    let truth = SimplePrior::default().at(&z);
    HiddenSimple::of(hash(seed, STREAM), truth, SimpleRing::default(), scenario.trouble)
}

/// The model that everybody fits.
pub fn model(machine: &HiddenSimple) -> M1 {
    let (ring, reading) = (&machine.ring, &machine.reading);
    let area = std::f64::consts::FRAC_PI_4 * ring.diameter_m * ring.diameter_m;
    M1 {
        gravity_mps2: ring.gravity_mps2,
        air_pm: ring.density_kgpm3 * area / (2.0 * ring.mass_kg),
        wheel_radius_m: ring.wheel_radius_m,
        release_height_m: ring.exit_height_m,
        ring_height_m: ring.ring_height_m,
        inner_radius_m: ring.in_radius_m,
        outer_radius_m: ring.out_radius_m,
        tape_sd_m: reading.tape_m,
        time_sd_s: reading.clock_s,
        wall_sd_m: reading.wall_m,
        wheel_sd_radps: reading.wheel_radps,
        eye_sd_m: reading.eye_m,
    }
}

/// A throw at the ring from a distance to its middle.
pub fn ask(machine: &HiddenSimple, distance_m: f64, setpoint_radps: f64, turned_rad: f64) -> Ask {
    Ask {
        session_index: 0,
        distance_m: distance_m - machine.ring.rim_radius_m(),
        offset_m: 0.0,
        turned_rad,
        setting: Setting {
            slide_m: 0.0,
            tilt_rad: ANGLE_RAD,
            reach_m: 0.0,
        },
        setpoint_radps,
        piece: None,
        place: 0,
        last: false,
    }
}

/// The logged shot as the plain model reads it.
pub fn plain(shot: &Shot, machine: &HiddenSimple) -> M1Shot {
    M1Shot {
        wheel_radps: shot.setpoint_radps,
        angle_rad: shot.setting.tilt_rad,
        distance_m: shot.distance_m + machine.ring.rim_radius_m(),
        aim_rad: -shot.turned_rad,
        landing: shot.seen.landing,
        fall: shot.seen.fall,
        wall: shot.seen.wall,
        after_radps: shot.after_radps,
        miss_m: shot.seen.miss_m,
        zone: shot.seen.outcome.and_then(zone),
    }
}

/// The outcome as a call; under and none do not happen at a ring that lies level.
fn zone(outcome: Outcome) -> Option<Zone> {
    Some(match outcome {
        Outcome::In => Zone::In,
        Outcome::Rim => Zone::Rim,
        Outcome::Short => Zone::Short,
        Outcome::Long => Zone::Long,
        Outcome::Left => Zone::Left,
        Outcome::Right => Zone::Right,
        Outcome::Under | Outcome::None => return None,
    })
}

/// Where a throw with these accidents crosses, along and across from the middle; `None` where it never comes down
/// through the ring's height.
fn crossing(
    machine: &HiddenSimple,
    distance_m: f64,
    setpoint: f64,
    turned: f64,
    eps: [f64; 3],
) -> Option<[f64; 2]> {
    let happened = machine.happens(&ask(machine, distance_m, setpoint, turned), &Look::default(), eps);
    happened.crossing.map(|c| c.0)
}

/// Share of throws that go in from a distance at a setpoint and a turn: by the truth, flyers among them.
pub fn true_hits(machine: &HiddenSimple, distance_m: f64, setpoint: f64, turned: f64) -> f64 {
    /// Method: differences by the accidents.
    const STEP: f64 = 1e-3;
    let at = |eps| crossing(machine, distance_m, setpoint, turned, eps);
    let Some(middle) = at([0.0; 3]) else { return 0.0 };
    let t = &machine.truth;
    let sd = [t.ln_speed_sd, t.ln_angle_sd, t.ln_aim_sd].map(libm::exp);
    let mut variance = [0.0; 2];
    for (k, sd) in sd.iter().enumerate() {
        let mut eps = [0.0; 3];
        eps[k] = STEP;
        let Some(moved) = at(eps) else { return 0.0 };
        for axis in 0..2 {
            variance[axis] += ((moved[axis] - middle[axis]) / STEP * sd).powi(2);
        }
    }
    let opening = Opening::Round {
        along_m: machine.ring.in_radius_m,
        across_m: machine.ring.in_radius_m,
    };
    let hits = |wider: f64| hit_frac(&opening, middle, variance.map(|v| wider * v.sqrt()));
    let wild = machine.trouble.flyer_frac;
    (1.0 - wild) * hits(1.0) + wild * hits(machine.trouble.flyer_scale_ratio)
}

/// A setpoint and a turn for each judged distance.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Wheel speeds.
    pub setpoint_radps: Vec<f64>,
    /// Turn of the launcher.
    pub turned_rad: f64,
}

/// Share of throws that go in, mean over the judged distances.
pub fn served(machine: &HiddenSimple, table: &Table) -> f64 {
    let each = JUDGED_M.iter().zip(&table.setpoint_radps);
    each.map(|(d, w)| true_hits(machine, *d, *w, table.turned_rad))
        .sum::<f64>()
        / JUDGED_M.len() as f64
}

/// The wheel speed that truly centres the mean throw at a distance.
pub fn true_setpoint(machine: &HiddenSimple, distance_m: f64) -> f64 {
    /// Convergence: halvings of a range of e².
    const HALVINGS: usize = 40;
    let (mut low, mut high) = (libm::log(100.0), libm::log(4000.0));
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        let off = crossing(
            machine,
            distance_m,
            libm::exp(middle),
            -machine.truth.aim_error_rad,
            [0.0; 3],
        );
        if off.is_none_or(|c| c[0] < 0.0) {
            low = middle;
        } else {
            high = middle;
        }
    }
    libm::exp(0.5 * (low + high))
}

/// The table of somebody who knows the truth.
pub fn perfect(machine: &HiddenSimple) -> Table {
    Table {
        setpoint_radps: JUDGED_M.iter().map(|d| true_setpoint(machine, *d)).collect(),
        turned_rad: -machine.truth.aim_error_rad,
    }
}
