//! One load to look at: where every piece is, moment by moment, and what presses on it.

use super::hopper::{Hopper, Pieces, Scene, Side};
use super::load::{LOADED_RATIO, Load, STALL_RATIO, filmed, side_of};
use super::world::{Contact, Other};
use crate::numerics::vector::{add_scaled, norm};

/// What a piece presses against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Against {
    /// Another piece, by its number.
    Piece(usize),
    /// A wall, the floor, a rail, the hub.
    Side(Side),
    /// The band on a side.
    Band(Side),
    /// The stirrer's arm.
    Stirrer,
    /// The roller.
    Roller,
}

/// A contact that carries force.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touch {
    /// The piece.
    pub piece: usize,
    /// What it presses against.
    pub against: Against,
    /// From there to the piece, a unit vector.
    pub toward_ratio: [f64; 3],
    /// Push.
    pub normal_n: f64,
    /// Friction.
    pub tangent_n: f64,
}

/// A piece at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pose {
    /// Number.
    pub piece: usize,
    /// Centre.
    pub at_m: [f64; 3],
    /// How it is turned since it was dropped: a unit quaternion, the real part last.
    pub turn_ratio: [f64; 4],
}

/// A moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// Since the feed was switched on; below zero while it is loaded.
    pub time_s: f64,
    /// Wait so far for the next piece; 0 while it is loaded.
    pub wait_s: f64,
    /// Pieces in the hopper.
    pub poses: Vec<Pose>,
    /// Angle of the stirrer.
    pub stirrer_rad: Option<f64>,
    /// The stirrer is driven and does not turn.
    pub stalled: bool,
    /// How far the roller has turned.
    pub roller_rad: Option<f64>,
    /// Contacts that carry force.
    pub touches: Vec<Touch>,
}

/// A load, to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Replay {
    /// What became of it.
    pub load: Load,
    /// Radius of each piece by number.
    pub radii_m: Vec<f64>,
    /// The moments, in order.
    pub frames: Vec<Frame>,
}

/// Runs load `index` of a seed again, with a moment kept every so often. Same draws, same steps, same load as
/// [`run`](super::load::run).
pub fn replay(hopper: &Hopper, pieces: &Pieces, seed: u64, index: u64, every_s: f64) -> Replay {
    let film = Film {
        every_s,
        least_n: LOADED_RATIO * pieces.mass_kg * crate::units::STANDARD_GRAVITY_MPS2,
        clock_s: 0.0,
        next_s: 0.0,
        on_s: None,
        turns: vec![[0.0, 0.0, 0.0, 1.0]; pieces.count as usize],
        radii_m: vec![0.0; pieces.count as usize],
        frames: Vec::new(),
    };
    let (load, film) = filmed(hopper, pieces, seed, index, Some(film));
    let (mut frames, mut radii_m) = (Vec::new(), Vec::new());
    if let Some(film) = film {
        let on = film.on_s.unwrap_or(film.clock_s);
        frames = film.frames;
        radii_m = film.radii_m;
        for f in &mut frames {
            f.time_s -= on;
        }
    }
    Replay {
        load,
        radii_m,
        frames,
    }
}

/// What keeps the moments while a load is run.
pub(super) struct Film {
    every_s: f64,
    least_n: f64,
    clock_s: f64,
    next_s: f64,
    on_s: Option<f64>,
    turns: Vec<[f64; 4]>,
    radii_m: Vec<f64>,
    frames: Vec<Frame>,
}

impl Film {
    /// The feed is switched on now.
    pub(super) fn switch_on(&mut self) {
        self.on_s = Some(self.clock_s);
    }

    /// Is the next step one to be kept?
    pub(super) fn is_due(&self, step_s: f64) -> bool {
        self.clock_s + step_s >= self.next_s
    }

    /// After a step; with the contacts of it where it is to be kept.
    pub(super) fn step(&mut self, scene: &Scene, step_s: f64, wait_s: f64, contacts: Option<Vec<Contact>>) {
        self.clock_s += step_s;
        let world = &scene.world;
        for ball in &world.balls {
            if let Some(turn) = self.turns.get_mut(ball.number) {
                *turn = turned(*turn, ball.spin_radps, step_s);
            }
            if let Some(r) = self.radii_m.get_mut(ball.number) {
                *r = ball.radius_m;
            }
        }
        let Some(contacts) = contacts else { return };
        self.next_s += self.every_s;
        let number = |i: usize| world.balls.get(i).map_or(i, |b| b.number);
        let touches = contacts
            .iter()
            .filter(|c| c.normal_n > self.least_n)
            .filter_map(|c| {
                let against = match (c.other, side_of(scene, c.other)) {
                    (Other::Piece(j), _) => Against::Piece(number(j)),
                    (Other::Stirrer, _) => Against::Stirrer,
                    (Other::Roller, _) => Against::Roller,
                    (Other::Band(_), Some(side)) => Against::Band(side),
                    (_, Some(side)) => Against::Side(side),
                    (_, None) => return None,
                };
                Some(Touch {
                    piece: number(c.piece),
                    against,
                    toward_ratio: c.normal,
                    normal_n: c.normal_n,
                    tangent_n: c.tangent_n,
                })
            })
            .collect();
        let arm = world.stirrer.map(|a| a.rotor);
        self.frames.push(Frame {
            time_s: self.clock_s,
            wait_s: if self.on_s.is_some() { wait_s } else { 0.0 },
            poses: world
                .balls
                .iter()
                .map(|b| Pose {
                    piece: b.number,
                    at_m: b.at_m,
                    turn_ratio: self.turns.get(b.number).copied().unwrap_or([0.0, 0.0, 0.0, 1.0]),
                })
                .collect(),
            stirrer_rad: arm.map(|r| r.angle_rad),
            stalled: arm
                .is_some_and(|r| r.command_ratio != 0.0 && r.speed_radps.abs() < STALL_RATIO * r.free_radps),
            roller_rad: world.roller.map(|r| r.rotor.angle_rad),
            touches,
        });
    }
}

/// A quaternion after turning with a speed for a step.
///
/// ```text
/// q' = ½ (ω, 0) q
/// ```
fn turned(q: [f64; 4], spin_radps: [f64; 3], step_s: f64) -> [f64; 4] {
    let [x, y, z, w] = q;
    let [a, b, c] = spin_radps;
    let v = [
        a * w + b * z - c * y,
        b * w + c * x - a * z,
        c * w + a * y - b * x,
    ];
    let h = 0.5 * step_s;
    let moved = add_scaled([x, y, z], h, v);
    let real = w - h * (a * x + b * y + c * z);
    let size = (norm(moved) * norm(moved) + real * real).sqrt();
    if size > 0.0 {
        [moved[0] / size, moved[1] / size, moved[2] / size, real / size]
    } else {
        [0.0, 0.0, 0.0, 1.0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A quarter turn about the upright axis takes x to y: half angle, sine and cosine of 45 degrees.
    #[test]
    fn a_quarter_turn_is_a_quarter_turn() {
        let mut q = [0.0, 0.0, 0.0, 1.0];
        let steps = 10_000;
        for _ in 0..steps {
            q = turned(q, [0.0, 0.0, std::f64::consts::FRAC_PI_2], 1.0 / f64::from(steps));
        }
        let half = std::f64::consts::FRAC_1_SQRT_2;
        for (a, b) in q.iter().zip([0.0, 0.0, half, half]) {
            assert!((a - b).abs() < 1e-6, "{q:?}");
        }
    }
}
