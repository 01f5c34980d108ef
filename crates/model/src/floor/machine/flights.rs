//! Flights of one shot near one throw: polynomials in what a fit changes, from a lattice of exact flights.

use crate::flight::{Accuracy, Ball, Lift, Medium, Path, Plane, State, Until, fly_to_accuracy};
use crate::numerics::linear_fit::Qr;
use crate::numerics::vector::{dot, sub};
use crate::shot::Exit;

/// What a flight is changed in: ln speed (with spin), elevation, ln drag, share of lift.
pub(super) const KNOBS: usize = 4;
/// Monomials of four variables up to the third degree.
const TERMS: usize = 35;
/// Time, place and velocity at a crossing.
const NUMBERS: usize = 7;
/// Method: flights go on far below the floor, so that a plane that is not level is met by a throw too short for it.
const DEEP_M: f64 = -20.0;
/// Method: a level plane is met by flights that go on this far below it.
const BELOW_M: f64 = 0.2;
/// Physical: no thrown ball flies longer.
const LONGEST_S: f64 = 8.0;
/// Method: how much shorter a throw counts for each metre that it stays below a plane.
const SHORTFALL_RATIO: f64 = 2.0;
/// Physical: drag and lift stay within these factors on the lattice.
const MOST_FACTOR: f64 = 4.0;

/// What a flight is asked: where it crosses a plane of the frame of the launcher, x along its heading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ask {
    pub(super) plane: Plane,
    /// A throw that never comes to the plane from outside is given a place short of it.
    pub(super) from_above: bool,
}

/// The throw in the middle and how far the lattice reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lattice {
    pub(super) centre: [f64; KNOBS],
    pub(super) unit: [f64; KNOBS],
}

/// A crossing as polynomials.
#[derive(Clone, Debug)]
pub(super) struct Answer {
    lattice: Lattice,
    coefficients: Vec<[f64; TERMS]>,
}

/// A crossing, with its derivatives by ln speed and elevation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Met {
    pub(super) time_s: [f64; 3],
    pub(super) place_m: [[f64; 3]; 3],
    pub(super) velocity_mps: [f64; 3],
}

/// Powers of the four variables in each term.
fn powers() -> Vec<[u8; KNOBS]> {
    let mut out = Vec::with_capacity(TERMS);
    for a in 0..=3u8 {
        for b in 0..=3 - a {
            for c in 0..=3 - a - b {
                for d in 0..=3 - a - b - c {
                    out.push([a, b, c, d]);
                }
            }
        }
    }
    out
}

/// Points of the lattice: the centre, one and two units along each axis, and the corners of each pair and triple.
fn points() -> Vec<[f64; KNOBS]> {
    let mut out = vec![[0.0; KNOBS]];
    let corners = |axes: &[usize], out: &mut Vec<[f64; KNOBS]>| {
        for signs in 0..1usize << axes.len() {
            let mut p = [0.0; KNOBS];
            for (bit, axis) in axes.iter().enumerate() {
                p[*axis] = if signs >> bit & 1 == 0 { 1.0 } else { -1.0 };
            }
            // Half of the corners of a triple are enough.
            if axes.len() < 3 || p.iter().filter(|x| **x < 0.0).count() % 2 == 0 {
                out.push(p);
            }
        }
    };
    for i in 0..KNOBS {
        for far in [1.0, -1.0, 2.0, -2.0] {
            let mut p = [0.0; KNOBS];
            p[i] = far;
            out.push(p);
        }
        for j in 0..i {
            corners(&[j, i], &mut out);
            for k in 0..j {
                corners(&[k, j, i], &mut out);
            }
        }
    }
    out
}

/// The lattice and its least-squares solver, the same for every shot.
pub(super) struct Plan {
    points: Vec<[f64; KNOBS]>,
    qr: Qr,
}

impl Plan {
    /// `None` never happens: the lattice decides every term.
    pub(super) fn new() -> Option<Plan> {
        let (points, powers) = (points(), powers());
        let design: Vec<f64> = points
            .iter()
            .flat_map(|p| powers.iter().map(move |w| monomial(p, w)))
            .collect();
        let qr = Qr::new(points.len(), TERMS, &design)?;
        Some(Plan { points, qr })
    }

    /// Flies the lattice about a throw; `None` when some flight gives no number.
    pub(super) fn answers(
        &self,
        exit: &Exit,
        ball: &Ball,
        medium: &Medium,
        asks: &[Ask],
        lattice: Lattice,
    ) -> Option<Vec<Answer>> {
        let floor_m = lowest_m(asks);
        let mut columns = vec![vec![[0.0; NUMBERS]; self.points.len()]; asks.len()];
        for (i, p) in self.points.iter().enumerate() {
            let at: [f64; KNOBS] = std::array::from_fn(|k| lattice.centre[k] + p[k] * lattice.unit[k]);
            let path = flight(exit, ball, medium, &at, floor_m);
            for (ask, column) in asks.iter().zip(&mut columns) {
                column[i] = crossing(&path, ask)?;
            }
        }
        columns
            .iter()
            .map(|column| {
                let coefficients = (0..NUMBERS)
                    .map(|k| {
                        let target: Vec<f64> = column.iter().map(|row| row[k]).collect();
                        self.qr.fit(&target)?.coefficients.try_into().ok()
                    })
                    .collect::<Option<Vec<[f64; TERMS]>>>()?;
                Some(Answer {
                    lattice,
                    coefficients,
                })
            })
            .collect()
    }
}

/// How far down flights have to go for these planes.
fn lowest_m(asks: &[Ask]) -> f64 {
    let each = asks.iter().map(|ask| {
        let [x, y, _] = ask.plane.normal;
        if x == 0.0 && y == 0.0 {
            ask.plane.point_m[2] - BELOW_M
        } else {
            DEEP_M
        }
    });
    each.fold(f64::INFINITY, f64::min)
}

fn monomial(p: &[f64; KNOBS], powers: &[u8; KNOBS]) -> f64 {
    p.iter().zip(powers).map(|(x, w)| x.powi(i32::from(*w))).product()
}

/// The flight of an exit with its speed and spin, elevation, drag and lift changed, in the frame of the launcher.
pub(super) fn flight(exit: &Exit, ball: &Ball, medium: &Medium, knobs: &[f64; KNOBS], floor_m: f64) -> Path {
    let faster = knobs[0].exp();
    let (s, c) = (exit.angle_rad + knobs[1]).sin_cos();
    let speed = exit.speed_mps * faster;
    let start = State {
        time_s: 0.0,
        position_m: [exit.forward_m, 0.0, exit.height_m],
        velocity_mps: [speed * c, 0.0, speed * s],
        spin_radps: [0.0, -exit.spin_radps * faster, 0.0],
    };
    let mut flown = *ball;
    flown.drag.scale_ratio *= knobs[2].exp().clamp(1.0 / MOST_FACTOR, MOST_FACTOR);
    let share = (1.0 + knobs[3]).clamp(-MOST_FACTOR, MOST_FACTOR);
    flown.lift = match flown.lift {
        Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio: scale_ratio * share,
        },
        Lift::Linear { slope_coeff } => Lift::Linear {
            slope_coeff: slope_coeff * share,
        },
        other => other,
    };
    let until = Until {
        time_s: LONGEST_S,
        floor_m,
    };
    fly_to_accuracy(&flown, medium, &start, &until, Accuracy::Quick)
}

/// Time, place and velocity at the crossing. A throw that stays below the plane is taken as crossing where
/// it comes nearest, moved back by twice what is missing, which keeps it comparable with others.
pub(super) fn crossing(path: &Path, ask: &Ask) -> Option<[f64; NUMBERS]> {
    let numbers = |s: &State, back_m: f64| {
        let ([x, y, z], [u, v, w]) = (s.position_m, s.velocity_mps);
        [s.time_s, x - back_m, y, z, u, v, w]
    };
    let found = match path.crossing(&ask.plane) {
        Some(state) => numbers(&state, 0.0),
        None if ask.from_above => {
            let outside = |p: [f64; 3]| dot(sub(p, ask.plane.point_m), ask.plane.normal);
            let (missing_m, state) = path.nearest(outside, f64::NAN, f64::NAN);
            numbers(&state, SHORTFALL_RATIO * missing_m.max(0.0))
        }
        None => return None,
    };
    found.iter().all(|x| x.is_finite()).then_some(found)
}

impl Answer {
    /// The crossing at these knobs.
    pub(super) fn at(&self, knobs: &[f64; KNOBS]) -> Met {
        let unit = self.lattice.unit;
        let x: [f64; KNOBS] = std::array::from_fn(|k| (knobs[k] - self.lattice.centre[k]) / unit[k]);
        let mut power = [[1.0; 4]; KNOBS];
        for (row, x) in power.iter_mut().zip(x) {
            for e in 1..4 {
                row[e] = row[e - 1] * x;
            }
        }
        // Value, slope by ln speed, slope by elevation of each monomial.
        let mut terms = [[0.0; 3]; TERMS];
        let mut index = 0;
        for a in 0..4 {
            for b in 0..4 - a {
                for c in 0..4 - a - b {
                    for d in 0..4 - a - b - c {
                        let rest = power[2][c] * power[3][d];
                        let slope =
                            |row: &[f64; 4], e: usize| if e == 0 { 0.0 } else { e as f64 * row[e - 1] };
                        terms[index] = [
                            power[0][a] * power[1][b] * rest,
                            slope(&power[0], a) * power[1][b] * rest / unit[0],
                            power[0][a] * slope(&power[1], b) * rest / unit[1],
                        ];
                        index += 1;
                    }
                }
            }
        }
        let number = |k: usize| {
            let mut sum = [0.0; 3];
            for (c, t) in self.coefficients[k].iter().zip(&terms) {
                for (s, t) in sum.iter_mut().zip(t) {
                    *s += c * t;
                }
            }
            sum
        };
        Met {
            time_s: number(0),
            place_m: [number(1), number(2), number(3)],
            velocity_mps: [number(4)[0], number(5)[0], number(6)[0]],
        }
    }
}

#[cfg(test)]
#[path = "flights_tests.rs"]
mod tests;
