//! One load: pieces dropped in one by one, then fed out until the hopper is empty or somebody would have to reach in.

use super::hopper::{Arrival, Hopper, Pieces, Scene, Side};
use super::replay::Film;
use super::world::{Ball, CONTACT_STEPS_COUNT, Contact, Other};
use crate::numerics::random::Stream;
use crate::numerics::vector::{norm, sub};

/// Waits that are looked at.
pub const WAITS_S: [f64; 4] = [2.0, 4.0, 8.0, 16.0];

/// How the hopper stood when a wait had lasted for one of [`WAITS_S`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stuck {
    /// Nothing moves, the stirrer is stalled or there is none.
    Locked,
    /// The stirrer is stalled, some pieces still move.
    Stalled,
    /// Pieces move, none comes out.
    Circulating,
    /// What is missing lies outside the hopper.
    ThrownOut,
}

/// What holds a wedge, by its loaded contacts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WedgeKind {
    /// Pieces that bridge between two walls.
    Bridge,
    /// A piece between the stirrer and a wall.
    StirrerPinch,
    /// A piece between the roller and the chute, or others held by it.
    RollerPinch,
    /// One piece in a corner.
    Corner,
    /// None of these.
    Loose,
}

/// A wedge at the moment it had lasted [`JUDGED_S`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wedge {
    /// Kind.
    pub kind: WedgeKind,
    /// Friction that its contacts use, as a share of what there is: 1 is about to slip.
    pub used_frac: f64,
}

/// Place, height and speed of a piece as it leaves the roller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// Sideways, left positive.
    pub aside_m: f64,
    /// Above where a piece rests in the chute.
    pub above_m: f64,
    /// Speed along the chute.
    pub along_mps: f64,
}

/// What became of one load.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Wait for each piece that came out, the first since the feed was switched on.
    pub gaps_s: Vec<f64>,
    /// Number of each piece in the order in which they came out.
    pub order: Vec<usize>,
    /// How each piece came out.
    pub entries: Vec<Entry>,
    /// Pieces loaded.
    pub loaded_count: usize,
    /// Pieces that left over the walls.
    pub thrown_out_count: usize,
    /// Pieces that were under the roller while the one before still was.
    pub double_count: usize,
    /// How it stood when the first wait as long as each of [`WAITS_S`] was reached.
    pub stuck: [Option<Stuck>; 4],
    /// What held it, if a wait lasted [`JUDGED_S`].
    pub wedge: Option<Wedge>,
    /// Where the pieces were then.
    pub wedged_at: Vec<Place>,
    /// How the stirrer stood then.
    pub wedged_rad: Option<f64>,
    /// Greatest normal force on any piece.
    pub peak_n: f64,
    /// Deepest that a piece was pressed in by anything but the roller and bands, over its diameter.
    pub pressed_frac: f64,
    /// A piece went through a wall, or numbers ran away: the load says nothing.
    pub invalid: bool,
}

/// A piece at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Number.
    pub number: usize,
    /// Centre.
    pub at_m: [f64; 3],
    /// Radius.
    pub radius_m: f64,
}

/// Method: the kind of a wedge is told when it has lasted this long.
pub const JUDGED_S: f64 = 4.0;
/// Method: looks at stillness, stall and lost pieces come this often.
const TICK_S: f64 = 0.01;
/// Method: time for the last piece to come to rest.
pub const SETTLE_S: f64 = 0.7;
/// Method: longest wait for room above the drop point.
const ROOM_S: f64 = 2.0;
/// Method: a piece slower than this share of √(g d) is still.
const STILL_RATIO: f64 = 1e-3;
/// Method: nothing happens before the next drop once all has been still for this long.
const REST_S: f64 = 0.1;
/// Method: still, or stalled, counts when it has lasted this long.
const STILL_S: f64 = 0.5;
/// Method: a stirrer slower than this share of its free speed is stalled.
pub const STALL_RATIO: f64 = 0.05;
/// Method: nothing that moves can end a lock that has lasted this long.
const FOR_GOOD_S: f64 = 1.0;
/// Judgement: a stirrer that may turn back does so after this stall.
pub const REVERSE_AFTER_S: f64 = 0.3;
/// Judgement: and turns back for this long.
pub const REVERSE_FOR_S: f64 = 0.6;
/// Method: a piece this far behind a wall, as a share of its radius, went through it.
const THROUGH_RATIO: f64 = 0.5;
/// Method: a piece has left when its centre is this share of its diameter past the roller.
pub const PAST_RATIO: f64 = 0.3;
/// Method: a piece that is this share of its diameter above the floor of the chute at its end flew over what should feed it.
const OVER_RATIO: f64 = 0.5;
/// Method: contacts with less than this share of a piece's weight carry nothing.
pub(super) const LOADED_RATIO: f64 = 0.03;
/// Judgement: a gap below this share of the time that a piece takes under the roller is a double feed.
const DOUBLE_RATIO: f64 = 0.75;
/// Method: no draw is farther from its mean than this many standard deviations.
const FARTHEST_SD: f64 = 3.0;

/// Method: no piece is drawn lighter or smaller than this share of the mean.
const LEAST_RATIO: f64 = 0.5;

/// A piece as it is drawn, before it is dropped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// Size and mass; its place is not known yet.
    pub ball: Ball,
    /// Places to try about the point over which pieces are dropped, in standard deviations.
    pub tries_ratio: [[f64; 2]; 8],
}

impl Draw {
    /// Where in plan it is dropped: at the first try inside the walls.
    pub fn place_m(&self, hopper: &Hopper) -> [f64; 2] {
        let spread = hopper.loading.spread_m;
        let middle = hopper.let_go_m(self.ball.radius_m, self.ball.number.is_multiple_of(2));
        self.tries_ratio
            .map(|t| [middle[0] + spread * t[0], middle[1] + spread * t[1]])
            .into_iter()
            .find(|p| hopper.clearance_m(p[0], p[1]) >= self.ball.radius_m)
            .unwrap_or(middle)
    }
}

/// The pieces of load `index` of a seed. They do not depend on the hopper: designs can be compared draw by draw.
pub fn draws(pieces: &Pieces, seed: u64, index: u64) -> Vec<Draw> {
    let mut stream = Stream::new(seed, index);
    let mut normal = || stream.normal().clamp(-FARTHEST_SD, FARTHEST_SD);
    (0..pieces.count as usize)
        .map(|number| {
            let diameter =
                (pieces.diameter_m + pieces.diameter_sd_m * normal()).max(LEAST_RATIO * pieces.diameter_m);
            let mass = (pieces.mass_kg + pieces.mass_sd_kg * normal()).max(LEAST_RATIO * pieces.mass_kg);
            let mut tries_ratio = [[0.0; 2]; 8];
            for t in &mut tries_ratio {
                *t = [normal(), normal()];
            }
            Draw {
                ball: Ball {
                    radius_m: 0.5 * diameter,
                    mass_kg: mass,
                    inertia_coeff: pieces.inertia_coeff,
                    at_m: [0.0; 3],
                    velocity_mps: [0.0; 3],
                    spin_radps: [0.0; 3],
                    number,
                },
                tries_ratio,
            }
        })
        .collect()
}

/// The least mass that [`draws`] gives.
pub fn lightest_kg(pieces: &Pieces) -> f64 {
    (pieces.mass_kg - FARTHEST_SD * pieces.mass_sd_kg).max(LEAST_RATIO * pieces.mass_kg)
}

/// Runs load `index` of a seed.
pub fn run(hopper: &Hopper, pieces: &Pieces, seed: u64, index: u64) -> Load {
    filmed(hopper, pieces, seed, index, None).0
}

/// Runs a load, and keeps what a camera sees of it if one is given.
pub(super) fn filmed(
    hopper: &Hopper,
    pieces: &Pieces,
    seed: u64,
    index: u64,
    film: Option<Film>,
) -> (Load, Option<Film>) {
    let drops = draws(pieces, seed, index);
    let scene = hopper.scene(pieces, lightest_kg(pieces), CONTACT_STEPS_COUNT);
    Play {
        hopper,
        pieces,
        steps_a_tick: (TICK_S / scene.world.step_s()).ceil().max(1.0) as usize,
        scene,
        film,
        load: Load {
            gaps_s: Vec::new(),
            order: Vec::new(),
            entries: Vec::new(),
            loaded_count: drops.len(),
            thrown_out_count: 0,
            double_count: 0,
            stuck: [None; 4],
            wedge: None,
            wedged_at: Vec::new(),
            wedged_rad: None,
            peak_n: 0.0,
            pressed_frac: 0.0,
            invalid: false,
        },
    }
    .play(drops)
}

struct Play<'a> {
    hopper: &'a Hopper,
    pieces: &'a Pieces,
    steps_a_tick: usize,
    scene: Scene,
    load: Load,
    film: Option<Film>,
}

impl Play<'_> {
    fn play(mut self, drops: Vec<Draw>) -> (Load, Option<Film>) {
        for drop in drops {
            self.drop_in(&drop);
            if self.hopper.loading.arrival != Arrival::Poured {
                self.pass(self.hopper.loading.every_s);
            }
        }
        self.pass(SETTLE_S);
        if !self.load.invalid {
            self.feed();
        }
        (self.load, self.film)
    }

    /// Time goes by; once all pieces lie still, without steps.
    fn pass(&mut self, time_s: f64) {
        let tick = self.steps_a_tick as f64 * self.scene.world.step_s();
        let mut still = 0.0;
        for _ in 0..(time_s / tick).ceil() as usize {
            self.tick(0.0);
            still = if self.scene.world.fastest_mps() < self.slow_mps() {
                still + tick
            } else {
                0.0
            };
            if still > REST_S {
                break;
            }
        }
    }

    /// Pieces slower than this are still.
    fn slow_mps(&self) -> f64 {
        STILL_RATIO * (crate::units::STANDARD_GRAVITY_MPS2 * self.pieces.diameter_m).sqrt()
    }

    /// Puts a piece where it touches nothing, waiting for room, at last from higher up. Out of a box they all come at
    /// once, one on top of the other.
    fn drop_in(&mut self, drop: &Draw) {
        let (l, radius) = (&self.hopper.loading, drop.ball.radius_m);
        let place = drop.place_m(self.hopper);
        let mut ball = drop.ball;
        // On a floor that leans to the sides it stands higher, by the slope and by its roundness.
        let lean = radius * (1.0 / libm::cos(self.hopper.side_slope_rad) - 1.0);
        let above = self.hopper.floor_m(place[1]) + lean;
        ball.at_m = [place[0], place[1], l.height_m + radius + above];
        if l.arrival == Arrival::Intake {
            ball.velocity_mps = [l.intake_mps, 0.0, 0.0];
        }
        let mut waited = 0.0;
        while !self.free(&ball) {
            if waited < ROOM_S && l.arrival != Arrival::Poured {
                self.pass(0.05);
                waited += 0.05;
            } else {
                ball.at_m[2] += 0.5 * radius;
            }
            if self.load.invalid {
                return;
            }
        }
        self.scene.world.add(ball);
    }

    fn free(&self, ball: &Ball) -> bool {
        let w = &self.scene.world;
        let (at, r) = (ball.at_m, ball.radius_m);
        w.balls.iter().all(|b| norm(sub(b.at_m, at)) > r + b.radius_m)
            && w.rods.iter().all(|rod| rod.meet(at, r).is_none())
            && w.walls
                .iter()
                .all(|wall| !wall.has_both_sides() || wall.meet(at, r).is_none())
            && w.stirrer.is_none_or(|a| a.rod().meet(at, r).is_none())
            && w.roller.is_none_or(|c| !c.touches(at, r))
    }

    fn feed(&mut self) {
        if let Some(film) = &mut self.film {
            film.switch_on();
        }
        let forward = self.hopper.stirrer.map_or(0.0, |s| s.speed_radps.signum());
        if let Some(arm) = &mut self.scene.world.stirrer {
            arm.rotor.command_ratio = forward;
        }
        if let Some(roller) = &mut self.scene.world.roller {
            roller.rotor.command_ratio = 1.0;
        }
        let tick = self.steps_a_tick as f64 * self.scene.world.step_s();
        let slow = self.slow_mps();
        let (mut wait, mut still, mut stall) = (0.0, 0.0, 0.0);
        let mut back = 0.0;
        while self.load.gaps_s.len() + self.load.thrown_out_count < self.load.loaded_count {
            let out = self.tick(wait);
            if self.load.invalid {
                return;
            }
            wait = out.unwrap_or(wait + tick);
            still = if self.scene.world.fastest_mps() < slow {
                still + tick
            } else {
                0.0
            };
            if let Some(arm) = &mut self.scene.world.stirrer {
                let r = &mut arm.rotor;
                let slow = r.speed_radps.abs() < STALL_RATIO * r.free_radps;
                stall = if slow { stall + tick } else { 0.0 };
                if let Some(spec) = &self.hopper.stirrer {
                    if spec.reverses && back <= 0.0 && stall > REVERSE_AFTER_S {
                        r.command_ratio = -r.command_ratio;
                        back = REVERSE_FOR_S;
                    } else if back > 0.0 {
                        back -= tick;
                        if back <= 0.0 {
                            stall = 0.0;
                            if spec.swing_rad == 0.0 {
                                r.command_ratio = forward;
                            }
                        }
                    }
                    let [low, high] = spec.sweep_rad();
                    if spec.swing_rad > 0.0 && r.angle_rad >= high {
                        r.command_ratio = -1.0;
                    } else if spec.swing_rad > 0.0 && r.angle_rad <= low {
                        r.command_ratio = 1.0;
                    }
                }
            } else {
                stall += tick;
            }
            let stuck = if stall < STILL_S {
                Stuck::Circulating
            } else if still < STILL_S {
                Stuck::Stalled
            } else {
                Stuck::Locked
            };
            // A lock without anything that could end it lasts.
            let for_good = stuck == Stuck::Locked
                && still.min(stall) > FOR_GOOD_S
                && self.hopper.stirrer.is_none_or(|s| !s.reverses);
            if wait >= JUDGED_S && self.load.wedge.is_none() || for_good && self.load.wedge.is_none() {
                self.judge();
            }
            for (slot, limit) in self.load.stuck.iter_mut().zip(WAITS_S) {
                if slot.is_none() && (wait >= limit || for_good) {
                    *slot = Some(stuck);
                }
            }
            if wait >= WAITS_S[3] || for_good {
                return;
            }
        }
        if self.load.thrown_out_count > 0 {
            for slot in &mut self.load.stuck {
                slot.get_or_insert(Stuck::ThrownOut);
            }
        }
    }

    /// Some steps, then a look for what is lost. The time since the last exit, if one happened.
    fn tick(&mut self, wait_s: f64) -> Option<f64> {
        let h = self.scene.world.step_s();
        let past = self.hopper.chute_m + PAST_RATIO * self.pieces.diameter_m;
        let (mut wait, mut out) = (wait_s, false);
        let (mut peak, mut deepest) = (self.load.peak_n, self.load.pressed_frac);
        let stiff = 2.0 * self.pieces.press_npm * self.pieces.diameter_m;
        for _ in 0..self.steps_a_tick {
            let mut touches = self.film.as_ref().is_some_and(|f| f.is_due(h)).then(Vec::new);
            self.scene.world.step_seen(|c| {
                if let Some(touches) = &mut touches {
                    touches.push(c);
                }
                peak = peak.max(c.normal_n);
                if !matches!(c.other, Other::Roller | Other::Band(_)) {
                    deepest = deepest.max(c.normal_n / stiff);
                }
            });
            wait += h;
            if let Some(film) = &mut self.film {
                film.step(&self.scene, h, wait, touches);
            }
            let hopper = self.hopper;
            let is_out = |b: &Ball| hopper.in_chute_m(b.at_m)[0] > past;
            while let Some(i) = self.scene.world.balls.iter().position(is_out) {
                let Some(ball) = self.scene.world.remove(i) else {
                    break;
                };
                let under_m = self.hopper.in_chute_m(ball.at_m)[2] - ball.radius_m;
                if under_m > OVER_RATIO * self.pieces.diameter_m {
                    self.load.thrown_out_count += 1;
                    continue;
                }
                self.leave(&ball, wait);
                wait = 0.0;
                out = true;
            }
        }
        self.load.peak_n = peak;
        self.load.pressed_frac = deepest.max(self.load.pressed_frac);
        self.lost();
        out.then_some(wait)
    }

    fn leave(&mut self, ball: &Ball, wait_s: f64) {
        let (s, c) = (libm::sin(self.hopper.bend_rad), libm::cos(self.hopper.bend_rad));
        let along = ball.velocity_mps[0] * c - ball.velocity_mps[2] * s;
        let at = self.hopper.in_chute_m(ball.at_m);
        // From the first touch of the roller to here; a whole piece where there is none.
        let way = self.hopper.roller.map_or(2.0 * ball.radius_m, |r| {
            let both = ball.radius_m + 0.5 * r.diameter_m;
            (2.0 * both * r.squeeze_m.max(0.0)).sqrt() + PAST_RATIO * self.pieces.diameter_m
        });
        let passage_s = way / along.max(f64::MIN_POSITIVE);
        if !self.load.gaps_s.is_empty() && wait_s < DOUBLE_RATIO * passage_s {
            self.load.double_count += 1;
        }
        self.load.gaps_s.push(wait_s);
        self.load.order.push(ball.number);
        self.load.entries.push(Entry {
            aside_m: at[1],
            above_m: at[2] - self.hopper.seat_m(ball.radius_m),
            along_mps: along,
        });
    }

    /// Pieces outside the walls: over them, or through them.
    fn lost(&mut self) {
        let mut i = 0;
        while let Some(b) = self.scene.world.balls.get(i).copied() {
            let finite = b.at_m.iter().chain(&b.velocity_mps).all(|v| v.is_finite());
            let depth = THROUGH_RATIO * b.radius_m;
            let at = self.hopper.in_chute_m(b.at_m);
            let half = self.hopper.half_width_m(at[0]);
            let outside =
                half.is_none_or(|h| at[1].abs() > h + depth) || at[0] < -self.hopper.length_m - depth;
            let through = self.scene.world.walls.iter().any(|w| {
                w.has_both_sides()
                    && w.ahead_m(b.at_m)
                        .is_some_and(|ahead| ahead.abs() < b.radius_m - depth)
            });
            if !finite || through || at[2] < b.radius_m - 2.0 * depth {
                self.load.invalid = true;
                return;
            }
            if outside {
                if at[2] < self.hopper.wall_m - depth {
                    self.load.invalid = true;
                    return;
                }
                self.scene.world.remove(i);
                self.load.thrown_out_count += 1;
            } else {
                i += 1;
            }
        }
    }

    /// Tells what holds the pieces now.
    fn judge(&mut self) {
        let weight = self.pieces.mass_kg * crate::units::STANDARD_GRAVITY_MPS2;
        let mut contacts: Vec<Contact> = Vec::new();
        self.scene.world.step_seen(|c| {
            if c.normal_n > LOADED_RATIO * weight {
                contacts.push(c);
            }
        });
        self.load.wedged_rad = self.scene.world.stirrer.map(|a| a.rotor.angle_rad);
        self.load.wedged_at = self
            .scene
            .world
            .balls
            .iter()
            .map(|b| Place {
                number: b.number,
                at_m: b.at_m,
                radius_m: b.radius_m,
            })
            .collect();
        let side = |c: &Contact| side_of(&self.scene, c.other);
        let kind = kind(&contacts, side);
        let used = contacts
            .iter()
            .filter(|c| side(c) != Some(Side::Under) && c.friction_coeff > 0.0)
            .map(|c| c.tangent_n / (c.friction_coeff * c.normal_n))
            .fold(0.0, f64::max);
        self.load.wedge = Some(Wedge {
            kind,
            used_frac: used.min(1.0),
        });
    }
}

/// The side on which a fixed part stands.
pub(super) fn side_of(scene: &Scene, other: Other) -> Option<Side> {
    match other {
        Other::Wall(i) => scene.walls.get(i).copied(),
        Other::Rod(i) => scene.rods.get(i).copied(),
        Other::Band(i) => Some(if i == 0 { Side::Left } else { Side::Right }),
        Other::Stirrer | Other::Roller | Other::Piece(_) => None,
    }
}

/// The kind of a wedge. Pieces that touch each other with force hold together; what else such a group touches tells.
fn kind(contacts: &[Contact], side: impl Fn(&Contact) -> Option<Side>) -> WedgeKind {
    let pieces = contacts.iter().map(|c| c.piece).max().map_or(0, |m| m + 1);
    let pieces = contacts.iter().fold(pieces, |n, c| match c.other {
        Other::Piece(j) => n.max(j + 1),
        _ => n,
    });
    let mut group: Vec<usize> = (0..pieces).collect();
    for c in contacts {
        if let Other::Piece(j) = c.other {
            let (from, to) = (group[j], group[c.piece]);
            for g in &mut group {
                if *g == from {
                    *g = to;
                }
            }
        }
    }
    let mut best = WedgeKind::Loose;
    for g in 0..pieces {
        let own: Vec<&Contact> = contacts.iter().filter(|c| group[c.piece] == g).collect();
        let touches = |s: Side| own.iter().any(|c| side(c) == Some(s));
        let walls = [Side::Left, Side::Right, Side::Back, Side::Hub, Side::Plate].map(touches);
        let wall_count = walls.iter().filter(|w| **w).count();
        let members = group.iter().filter(|x| **x == g).count();
        let found = if own.iter().any(|c| c.other == Other::Stirrer) && wall_count > 0 {
            WedgeKind::StirrerPinch
        } else if own.iter().any(|c| c.other == Other::Roller) {
            WedgeKind::RollerPinch
        } else if members > 1 && wall_count > 1 {
            WedgeKind::Bridge
        } else if members == 1 && wall_count > 1 {
            WedgeKind::Corner
        } else {
            WedgeKind::Loose
        };
        let rank = |k: WedgeKind| {
            [
                WedgeKind::StirrerPinch,
                WedgeKind::Bridge,
                WedgeKind::RollerPinch,
                WedgeKind::Corner,
                WedgeKind::Loose,
            ]
            .iter()
            .position(|x| *x == k)
        };
        if rank(found) < rank(best) {
            best = found;
        }
    }
    best
}
