//! What is wrong with a hopper before anything is run.

use super::hopper::{Hopper, Pieces, StirrerSpec};
use super::shape::Wall;

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The chute is narrower than a piece.
    ChuteNarrow,
    /// The chute is so wide that two pieces can wedge beside each other.
    ChuteWide,
    /// The chute is not narrower than the hopper.
    ChuteOverHopper,
    /// The walls that narrow need more length than the hopper has.
    FunnelLong,
    /// The rounding of the mouth does not fit on the walls beside it.
    FilletLarge,
    /// Walls so low that pieces jump out.
    WallLow,
    /// The stirrer hits a wall.
    SweepThroughWall,
    /// A piece fits, but does not pass, between the stirrer's tip and a wall.
    TipGap,
    /// A piece does not pass between the stirrer's hub and a wall.
    HubGap,
    /// The place where pieces are dropped is in a wall, or on the stirrer.
    DropBlocked,
    /// The roller does not touch the pieces.
    RollerMisses,
    /// The roller is wider than the chute.
    RollerWide,
    /// The rails are so far apart that the floor carries the pieces.
    RailsIdle,
    /// A plate stands in the chute so that no piece passes.
    PlateBlocks,
    /// More pieces than lie side by side.
    Piled,
}

impl Fault {
    /// Impossible, or only doubtful?
    pub fn refused(self) -> bool {
        match self {
            Fault::ChuteNarrow
            | Fault::ChuteOverHopper
            | Fault::FunnelLong
            | Fault::FilletLarge
            | Fault::SweepThroughWall
            | Fault::DropBlocked
            | Fault::PlateBlocks
            | Fault::RollerWide => true,
            Fault::ChuteWide
            | Fault::WallLow
            | Fault::TipGap
            | Fault::HubGap
            | Fault::RollerMisses
            | Fault::RailsIdle
            | Fault::Piled => false,
        }
    }
}

/// A fault with its numbers and its place in plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lint {
    /// What.
    pub fault: Fault,
    /// The length found.
    pub found_m: f64,
    /// The length that would do.
    pub allowed_m: f64,
    /// Where, as a line in plan.
    pub at_m: [[f64; 2]; 2],
    /// Which plate it is about; 0 for what is no plate.
    pub plate: usize,
}

/// Method: a chute needs this much play, as a share of the diameter.
const PLAY_RATIO: f64 = 0.01;
/// Physical: in a chute of w diameters two pieces side by side make an angle θ with cos θ = w − 1 across it. They lock when
/// θ is below twice the angle of friction; for a friction of 0.6 that is 62°, w = 1.47. Above 1.25 the order is lost, too.
const ONE_WIDE_RATIO: f64 = 1.25;
/// Judgement: share of the floor that pieces dropped in can fill before they lie on each other.
const FLOOR_FILL_RATIO: f64 = 0.6;
/// Convergence: halvings of the length of an arm, down to a micrometre.
const HALVINGS: usize = 20;
/// Method: places of the arm that are looked at.
const ANGLES_COUNT: usize = 144;

/// Everything wrong with a hopper, what is impossible first.
pub fn lints(hopper: &Hopper, pieces: &Pieces) -> Vec<Lint> {
    let mut out = Vec::new();
    let h = hopper;
    let d = pieces.diameter_m;
    let (c, w) = (h.chute_width_m, h.width_m);
    let mut say = |fault, found_m, allowed_m, at_m| {
        out.push(Lint {
            fault,
            found_m,
            allowed_m,
            at_m,
            plate: 0,
        });
    };
    let mouth = [[0.0, -0.5 * c], [0.0, 0.5 * c]];
    if c < (1.0 + PLAY_RATIO) * d {
        say(Fault::ChuteNarrow, c, (1.0 + PLAY_RATIO) * d, mouth);
    } else if c > ONE_WIDE_RATIO * d {
        say(Fault::ChuteWide, c, ONE_WIDE_RATIO * d, mouth);
    }
    if c > w {
        say(Fault::ChuteOverHopper, c, w, mouth);
    }
    let funnel = h.funnel_m();
    if funnel > h.length_m {
        say(
            Fault::FunnelLong,
            funnel,
            h.length_m,
            [[-funnel, 0.0], [0.0, 0.0]],
        );
    }
    let cut = h.fillet_m * libm::tan(0.5 * h.funnel_rad);
    let beside = 0.5 * (w - c) / libm::sin(h.funnel_rad);
    let room = beside.min(h.chute_m);
    if cut > room {
        say(Fault::FilletLarge, h.fillet_m, h.fillet_m * room / cut, mouth);
    }
    if h.wall_m < d {
        say(
            Fault::WallLow,
            h.wall_m,
            d,
            [[-h.length_m, -0.5 * w], [-h.length_m, 0.5 * w]],
        );
    }
    if let Some(s) = &h.stirrer {
        stirrer(h, s, d, &mut say);
    }
    let drop = h.let_go_m(0.5 * d, true);
    let space = h.clearance_m(drop[0], drop[1]);
    let sides = [[drop[0], drop[1] - 0.5 * d], [drop[0], drop[1] + 0.5 * d]];
    if space < 0.5 * d {
        say(Fault::DropBlocked, space.max(0.0), 0.5 * d, sides);
    } else if let Some(s) = &h.stirrer {
        let hub = s.hub_m();
        let away = [drop[0] - hub[0], drop[1] - hub[1]];
        let away = (away[0] * away[0] + away[1] * away[1]).sqrt();
        let [arm, post] = s.radii_m();
        if away < 0.5 * d + post && h.loading.height_m < s.height_m + arm {
            say(Fault::DropBlocked, away, 0.5 * d + post, sides);
        }
    }
    if let Some(r) = &h.roller {
        let at = [[h.chute_m, -0.5 * r.width_m], [h.chute_m, 0.5 * r.width_m]];
        let paddle = if r.paddle_count > 0 { r.paddle_m } else { 0.0 };
        if r.squeeze_m + paddle <= 0.0 {
            say(Fault::RollerMisses, r.squeeze_m, 0.02 * d, at);
        }
        if r.width_m > c {
            say(Fault::RollerWide, r.width_m, c, at);
        }
    }
    if h.rail_gap_m > 0.0 && h.seat_m(0.5 * d) <= 0.5 * d {
        let y = 0.5 * h.rail_gap_m;
        say(
            Fault::RailsIdle,
            h.rail_gap_m,
            0.3 * d,
            [[h.chute_m, -y], [h.chute_m, y]],
        );
    }
    let corners = funnel * 0.5 * (w - c);
    let needed = f64::from(pieces.count) * 0.25 * std::f64::consts::PI * d * d / FLOOR_FILL_RATIO;
    if pieces.count > 1 && needed > h.length_m * w - corners {
        let at = [[-h.length_m, 0.0], [-funnel, 0.0]];
        say(Fault::Piled, h.length_m, (needed + corners) / w, at);
    }
    for (index, plate) in h.plates.iter().enumerate().filter(|(_, p)| !p.lies_under()) {
        let wall = Wall::both_sides(&plate.corners_m());
        if let Some((room, x)) = narrowest(h, &wall, d).filter(|(room, _)| *room < (1.0 - SOFT_RATIO) * d) {
            out.push(Lint {
                fault: Fault::PlateBlocks,
                found_m: room,
                allowed_m: d,
                at_m: [[x, -0.5 * c], [x, 0.5 * c]],
                plate: index,
            });
        }
    }
    out.sort_by_key(|l| !l.fault.refused());
    out
}

/// Method: a soft piece is pressed through where this share of its diameter is missing.
const SOFT_RATIO: f64 = 0.1;
/// Method: places along the chute or the arm, and across the play of a piece in it, that are looked at.
const ALONG_COUNT: usize = 60;
const ACROSS_COUNT: usize = 8;

/// The least room that a plate leaves to a piece in the chute, and where: for each place along it the piece lies where there is
/// most.
fn narrowest(h: &Hopper, wall: &Wall, d: f64) -> Option<(f64, f64)> {
    let play = 0.5 * (h.chute_width_m - d).max(0.0);
    let r = 0.5 * d;
    (0..=ALONG_COUNT)
        .map(|i| {
            let along = (h.chute_m + r) * i as f64 / ALONG_COUNT as f64;
            let room = (0..=ACROSS_COUNT)
                .map(|j| {
                    let y = play * (2.0 * j as f64 / ACROSS_COUNT as f64 - 1.0);
                    let at = h.from_chute_m([along, y, h.seat_m(r)]);
                    d - wall.meet(at, r).map_or(0.0, |m| m.overlap_m)
                })
                .fold(0.0, f64::max);
            (room, along)
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

fn stirrer(h: &Hopper, s: &StirrerSpec, d: f64, say: &mut impl FnMut(Fault, f64, f64, [[f64; 2]; 2])) {
    let [arm, post] = s.radii_m();
    let hub = s.hub_m();
    let [low, high] = s.sweep_rad();
    let plates: Vec<Wall> = h
        .plates
        .iter()
        .map(|p| Wall::both_sides(&p.corners_m()))
        .collect();
    // To the nearest plate, looked for as far as a piece is wide.
    let to_plates = |tip: [f64; 2]| {
        (0..=ALONG_COUNT)
            .flat_map(|k| plates.iter().map(move |p| (k as f64 / ALONG_COUNT as f64, p)))
            .filter_map(|(f, p)| {
                let [x, y] = [hub[0] + f * (tip[0] - hub[0]), hub[1] + f * (tip[1] - hub[1])];
                let reach = d + arm;
                p.meet([x, y, s.height_m], reach)
                    .map(|m| reach - m.overlap_m - arm)
            })
            .fold(f64::INFINITY, f64::min)
    };
    let nearest = |length_m: f64| {
        let s = StirrerSpec { length_m, ..*s };
        (0..=ANGLES_COUNT)
            .map(|i| {
                let tip = s.tip_m(low + (high - low) * i as f64 / ANGLES_COUNT as f64);
                ((h.clearance_m(tip[0], tip[1]) - arm).min(to_plates(tip)), tip)
            })
            .fold(
                (f64::INFINITY, hub),
                |best, x| if x.0 < best.0 { x } else { best },
            )
    };
    let (gap, tip) = nearest(s.length_m);
    if gap < 0.0 {
        let (mut fits, mut too_long) = (0.0, s.length_m);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (fits + too_long);
            if nearest(middle).0 < 0.0 {
                too_long = middle;
            } else {
                fits = middle;
            }
        }
        say(Fault::SweepThroughWall, s.length_m, fits, [hub, tip]);
    } else if gap < d {
        say(Fault::TipGap, gap, d, [hub, tip]);
    }
    let gap = h.clearance_m(hub[0], hub[1]) - post;
    if gap < d {
        let wall = [
            hub[0],
            if hub[1] < 0.0 {
                -0.5 * h.width_m
            } else {
                0.5 * h.width_m
            },
        ];
        say(Fault::HubGap, gap.max(0.0), d, [hub, wall]);
    }
}
