//! A piece that gives way, between feed roller and chute: is it pressed as a kitchen scale says, does it leave as fast as it
//! rolls, and does it bounce as a drop says, all with the same settings?

use arcwright_model::feed::damping_for;
use arcwright_model::feed::hopper::Pieces;
use arcwright_model::feed::shape::{Cylinder, Wall};
use arcwright_model::feed::world::{
    Ball, CONTACT_STEPS_COUNT, Contact, Other, Roller, Rotor, Surfaces, World,
};

use crate::rig::{Rig, Solver, Unknown};

/// What one way of computing made of it, each over what it should be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nip {
    /// Push under the middle of the roller over K s.
    pub push_ratio: f64,
    /// Speed there over half the rim speed.
    pub speed_ratio: f64,
    /// Least and greatest rebound over [`DROPS`] of two speeds, each from its own height.
    pub bounce_coeff: [f64; 2],
    /// Speed at which a piece pressed against a wall by half the squeeze leaves when it is let go, over [`let_go_mps`].
    pub let_go_ratio: f64,
}

/// Speed at which a pressed piece leaves the wall.
///
/// ```text
/// m x″ + c x′ + k x = 0,  x(0) = s/2, x′(0) = 0;  force −m x″ = 0 at  tan ωt = ω/β
/// v = (s/2) ω₀ e^(−βt),   ω₀ = √(2K/m), β = ζ ω₀, ω = ω₀ √(1 − ζ²)
/// ```
///
/// with the ζ that the drop test gives: spring and dashpot in one contact.
pub fn let_go_mps() -> f64 {
    let zeta = damping_for(PIECE.bounce_coeff);
    let natural = (2.0 * PIECE.press_npm / PIECE.mass_kg).sqrt();
    let (beta, omega) = (zeta * natural, natural * (1.0 - zeta * zeta).sqrt());
    let time = omega.atan2(beta) / omega;
    0.5 * SQUEEZE_M * natural * (-beta * time).exp()
}

/// Drops at each speed.
pub const DROPS: usize = 24;

/// Diameter, mass, K and bounce of the piece.
pub const PIECE: Pieces = Pieces {
    count: 1,
    diameter_m: 0.112,
    diameter_sd_m: 0.0,
    mass_kg: 0.061,
    mass_sd_kg: 0.0,
    inertia_coeff: 0.4,
    press_npm: 3000.0,
    bounce_coeff: 0.6,
};
/// How much it is squeezed.
pub const SQUEEZE_M: f64 = 0.008;
const RIM_MPS: f64 = 0.8;
/// Large, so that the drive is even: a small one pushes a piece back as it enters and forward as it leaves.
const ROLLER_RADIUS_M: f64 = 1.0;
const START_M: f64 = -0.25;
const DROP_MPS: [f64; 2] = [0.4, 2.0];
/// Longest time for the way to under the roller.
const LONGEST_S: f64 = 3.0;

fn world(with_roller: bool, steps: f64) -> World {
    let surfaces = Surfaces {
        press_npm: PIECE.press_npm,
        bounce_coeff: PIECE.bounce_coeff,
        friction_coeff: 0.3,
        piece_friction_coeff: 0.3,
        roller_friction_coeff: 0.8,
        rolling_coeff: 0.0,
    };
    let mut w = World::new(surfaces, PIECE.mass_kg, steps);
    w.gravity_mps2 = [0.0, 0.0, -arcwright_model::units::STANDARD_GRAVITY_MPS2];
    let a = 2.0;
    w.walls.push(Wall::new(&[
        [-a, -a, 0.0],
        [a, -a, 0.0],
        [a, a, 0.0],
        [-a, a, 0.0],
    ]));
    if with_roller {
        let mut rotor = Rotor::new(500.0, RIM_MPS / ROLLER_RADIUS_M, 1e-2);
        rotor.command_ratio = 1.0;
        rotor.speed_radps = rotor.free_radps;
        let centre = [0.0, 0.0, PIECE.diameter_m - SQUEEZE_M + ROLLER_RADIUS_M];
        w.roller = Some(Roller {
            shape: Cylinder::new(centre, [0.0, -1.0, 0.0], 0.1, ROLLER_RADIUS_M),
            rotor,
            paddle_count: 0,
            paddle_m: 0.0,
        });
    }
    w
}

fn piece(at_m: [f64; 3], velocity_mps: [f64; 3]) -> Ball {
    let radius_m = 0.5 * PIECE.diameter_m;
    Ball {
        radius_m,
        mass_kg: PIECE.mass_kg,
        inertia_coeff: PIECE.inertia_coeff,
        at_m,
        velocity_mps,
        spin_radps: [0.0, velocity_mps[0] / radius_m, 0.0],
        number: 0,
    }
}

fn rolling() -> Ball {
    piece([START_M, 0.0, 0.5 * PIECE.diameter_m], [0.5 * RIM_MPS, 0.0, 0.0])
}

fn falling() -> impl Iterator<Item = Ball> {
    let way = 0.05 * PIECE.diameter_m;
    DROP_MPS.into_iter().flat_map(move |speed| {
        (0..DROPS).map(move |i| {
            let up = 0.6 * PIECE.diameter_m + way * i as f64 / DROPS as f64;
            piece([0.0, 0.0, up], [0.0, 0.0, -speed])
        })
    })
}

/// Least and greatest rebound of all drops; `rebound` is the speed upward after a time.
fn drops(mut rebound: impl FnMut(&Ball, f64) -> f64) -> [f64; 2] {
    let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
    for ball in falling() {
        let speed = -ball.velocity_mps[2];
        let e = rebound(&ball, 0.5 * PIECE.diameter_m / speed) / speed;
        ends = [ends[0].min(e), ends[1].max(e)];
    }
    ends
}

fn pressed() -> Ball {
    piece([0.0, 0.0, 0.5 * (PIECE.diameter_m - SQUEEZE_M)], [0.0; 3])
}

/// Long enough to leave the wall.
const LET_GO_S: f64 = 0.1;

fn ratios(push_n: f64, speed_mps: f64, bounce_coeff: [f64; 2], let_go: f64) -> Nip {
    Nip {
        push_ratio: push_n / (PIECE.press_npm * SQUEEZE_M),
        speed_ratio: speed_mps / (0.5 * RIM_MPS),
        bounce_coeff,
        let_go_ratio: let_go / let_go_mps(),
    }
}

/// Least and greatest rebound in the model's engine, by the steps in a contact.
pub fn bounces(steps: f64) -> [f64; 2] {
    drops(|ball, time_s| {
        let mut w = world(false, steps);
        w.gravity_mps2 = [0.0; 3];
        w.add(*ball);
        for _ in 0..(time_s / w.step_s()) as usize {
            w.step();
        }
        w.balls.first().map_or(f64::NAN, |b| b.velocity_mps[2])
    })
}

/// In the model's engine.
pub fn by_model() -> Nip {
    let mut w = world(true, CONTACT_STEPS_COUNT);
    w.add(rolling());
    let (mut push, mut time) = (f64::NAN, 0.0);
    while w.balls.first().is_some_and(|b| b.at_m[0] < 0.0) && time < LONGEST_S {
        w.step_seen(|c: Contact| {
            if c.other == Other::Roller {
                push = c.normal_n;
            }
        });
        time += w.step_s();
    }
    let speed = w.balls.first().map_or(f64::NAN, |b| b.velocity_mps[0]);
    let bounce = bounces(CONTACT_STEPS_COUNT);
    let mut w = world(false, CONTACT_STEPS_COUNT);
    w.gravity_mps2 = [0.0; 3];
    w.add(pressed());
    for _ in 0..(LET_GO_S / w.step_s()) as usize {
        w.step();
    }
    let let_go = w.balls.first().map_or(f64::NAN, |b| b.velocity_mps[2]);
    ratios(push, speed, bounce, let_go)
}

/// In the other engine.
pub fn by_other(solver: &Solver) -> Result<Nip, Unknown> {
    let mut rig = Rig::new(&world(true, CONTACT_STEPS_COUNT), &PIECE, solver)?;
    rig.add(&rolling());
    rig.command(0.0, 1.0);
    let (mut push, mut time) = (f64::NAN, 0.0);
    while rig.pieces().next().is_some_and(|(at, _)| at[0] < 0.0) && time < LONGEST_S {
        rig.step();
        push = rig.roller_push_n();
        time += solver.step_s;
    }
    let speed = rig.velocity_mps(0)[0];
    let mut still = world(false, CONTACT_STEPS_COUNT);
    still.gravity_mps2 = [0.0; 3];
    let mut rig = Rig::new(&still, &PIECE, solver)?;
    rig.add(&pressed());
    for _ in 0..(LET_GO_S / solver.step_s) as usize {
        rig.step();
    }
    let let_go = rig.velocity_mps(0)[2];
    let bounce = drops(|ball, time_s| {
        let Ok(mut rig) = Rig::new(&still, &PIECE, solver) else {
            return f64::NAN;
        };
        rig.add(ball);
        for _ in 0..(time_s / solver.step_s) as usize {
            rig.step();
        }
        rig.velocity_mps(0)[2]
    });
    Ok(ratios(push, speed, bounce, let_go))
}
