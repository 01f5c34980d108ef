//! One load in the other engine, by the same rules as the model's.

use arcwright_model::feed::hopper::{Arrival, Hopper, Pieces};
use arcwright_model::feed::load::{
    Draw, PAST_RATIO, REVERSE_AFTER_S, REVERSE_FOR_S, SETTLE_S, STALL_RATIO, WAITS_S, draws, lightest_kg,
};
use arcwright_model::feed::world::CONTACT_STEPS_COUNT;

use crate::rig::{Rig, Solver, Unknown};

/// What became of a load.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// Wait for each piece that came out, the first since the feed was switched on.
    pub gaps_s: Vec<f64>,
    /// Which of [`WAITS_S`] a wait lasted.
    pub stuck: [bool; 4],
    /// Pieces that left over the walls.
    pub thrown_out_count: usize,
    /// A piece went through a wall, or numbers ran away.
    pub invalid: bool,
    /// Steps.
    pub step_count: usize,
}

/// Method: longest wait for room above the drop point.
const ROOM_S: f64 = 2.0;

/// Plays load `index` of a seed until it is empty or a wait lasts `longest_s`.
pub fn play(
    hopper: &Hopper,
    pieces: &Pieces,
    seed: u64,
    index: u64,
    longest_s: f64,
    solver: &Solver,
) -> Result<Played, Unknown> {
    if hopper.bend_rad != 0.0 || hopper.side_slope_rad != 0.0 || hopper.loading.arrival != Arrival::Dropped {
        return Err(Unknown::Hopper);
    }
    let scene = hopper.scene(pieces, lightest_kg(pieces), CONTACT_STEPS_COUNT);
    let rig = Rig::new(&scene.world, pieces, solver)?;
    let mut run = Run {
        hopper,
        pieces,
        rig,
        step_s: solver.step_s,
        played: Played {
            gaps_s: Vec::new(),
            stuck: [false; 4],
            thrown_out_count: 0,
            invalid: false,
            step_count: 0,
        },
    };
    let all = draws(pieces, seed, index);
    for draw in &all {
        run.drop_in(draw);
        run.pass(hopper.loading.every_s);
    }
    run.pass(SETTLE_S);
    run.feed(all.len(), longest_s);
    Ok(run.played)
}

struct Run<'a> {
    hopper: &'a Hopper,
    pieces: &'a Pieces,
    rig: Rig,
    step_s: f64,
    played: Played,
}

impl Run<'_> {
    fn pass(&mut self, time_s: f64) {
        for _ in 0..(time_s / self.step_s).ceil() as usize {
            self.step(0.0);
        }
    }

    /// Puts a piece where it touches nothing at all, walls and stirrer included.
    fn drop_in(&mut self, draw: &Draw) {
        let mut ball = draw.ball;
        let place = draw.place_m(self.hopper);
        ball.at_m = [place[0], place[1], self.hopper.loading.height_m + ball.radius_m];
        let mut waited = 0.0;
        while self.rig.touches(ball.at_m, ball.radius_m) {
            if waited < ROOM_S {
                self.pass(0.05);
                waited += 0.05;
            } else {
                ball.at_m[2] += 0.5 * ball.radius_m;
            }
            if self.played.invalid {
                return;
            }
        }
        self.rig.add(&ball);
    }

    fn feed(&mut self, loaded: usize, longest_s: f64) {
        let forward = self.hopper.stirrer.map_or(0.0, |s| s.speed_radps.signum());
        let mut command = forward;
        let (mut wait, mut stall, mut back) = (0.0, 0.0, 0.0);
        let mut angle = self
            .hopper
            .stirrer
            .map_or(0.0, |s| if s.swing_rad > 0.0 { s.sweep_rad()[0] } else { 0.0 });
        self.rig.command(command, 1.0);
        while self.played.gaps_s.len() + self.played.thrown_out_count < loaded {
            if self.played.invalid {
                return;
            }
            wait = if self.step(wait) { 0.0 } else { wait + self.step_s };
            if let (Some(spec), Some(speed)) = (&self.hopper.stirrer, self.rig.stirrer_radps()) {
                let before = command;
                angle += speed * self.step_s;
                let slow = speed.abs() < STALL_RATIO * spec.speed_radps.abs();
                stall = if slow { stall + self.step_s } else { 0.0 };
                if spec.reverses && back <= 0.0 && stall > REVERSE_AFTER_S {
                    command = -command;
                    back = REVERSE_FOR_S;
                } else if back > 0.0 {
                    back -= self.step_s;
                    if back <= 0.0 {
                        stall = 0.0;
                        if spec.swing_rad == 0.0 {
                            command = forward;
                        }
                    }
                }
                if spec.swing_rad > 0.0 {
                    let [low, high] = spec.sweep_rad();
                    if angle >= high {
                        command = -1.0;
                    } else if angle <= low {
                        command = 1.0;
                    }
                }
                if command != before {
                    self.rig.command(command, 1.0);
                }
            }
            for (stuck, limit) in self.played.stuck.iter_mut().zip(WAITS_S) {
                *stuck |= wait >= limit;
            }
            if wait >= longest_s {
                return;
            }
        }
        if self.played.thrown_out_count > 0 {
            self.played.stuck = [true; 4];
        }
    }

    /// One step; takes out what has left. Did a piece come out?
    fn step(&mut self, wait_s: f64) -> bool {
        self.rig.step();
        self.played.step_count += 1;
        let past = self.hopper.chute_m + PAST_RATIO * self.pieces.diameter_m;
        let (mut gone, mut out) = (Vec::new(), false);
        let placed: Vec<_> = self.rig.pieces().collect();
        for (i, (at, radius)) in placed.into_iter().enumerate() {
            let deep = 0.5 * radius;
            let outside = self
                .hopper
                .half_width_m(at[0])
                .is_none_or(|h| at[1].abs() > h + deep);
            if !at.iter().all(|v| v.is_finite()) || at[2] < 0.0 {
                self.played.invalid = true;
            } else if at[0] > past {
                self.played
                    .gaps_s
                    .push(if out { 0.0 } else { wait_s + self.step_s });
                out = true;
                gone.push(i);
            } else if outside {
                self.played.invalid |= at[2] < self.hopper.wall_m - deep;
                self.played.thrown_out_count += 1;
                gone.push(i);
            }
        }
        for i in gone.into_iter().rev() {
            self.rig.remove(i);
        }
        out
    }
}
