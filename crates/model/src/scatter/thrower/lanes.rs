//! Throws as columns of flights.

use super::{Crossings, Draw, Thrower};
use crate::flight::batch::{
    Arrival as Flown, Batch, Column, Outcome as Ended, Precision, Throws, fly_batch_into,
};
use crate::flight::{Drag, DragLaw, Lift, SpinDecay, State, Until};
use crate::numerics::vector::dot;
use crate::project::Project;
use crate::scatter::inputs::{Input, sideways, varied};
use crate::shot::{Chain, Exit, Stance};

/// The start of a flight: the exit turned and shifted sideways.
pub(super) fn start_state(exit: &Exit, stance: &Stance, shift_m: f64, turn_rad: f64) -> State {
    let mut state = exit.state(&Stance {
        heading_rad: stance.heading_rad + turn_rad,
        ..*stance
    });
    let (s, c) = (libm::sin(stance.heading_rad), libm::cos(stance.heading_rad));
    state.position_m = [
        exit.forward_m * c - shift_m * s,
        exit.forward_m * s + shift_m * c,
        exit.height_m,
    ];
    state
}

/// What the flight needs of a project, as numbers that inputs move: diameter, mass, drag, lift, density, wind
/// along and across, near rim, centre line, rim height, heading, platform along and across, turning.
const SIDES: usize = 14;

/// How each input moves the flight's numbers: straight and square response.
#[derive(Clone, Debug)]
pub(super) struct FlightSide {
    base: [f64; SIDES],
    responses: Vec<Option<[[f64; 2]; SIDES]>>,
}

impl FlightSide {
    pub(super) fn of(project: &Project, spot_index: usize, lead_rad: f64, inputs: &[Input]) -> FlightSide {
        let at = |j: usize, by: f64| {
            let mut z = vec![0.0; inputs.len()];
            z[j] = by;
            sides(&varied(project, inputs, &z), spot_index, lead_rad)
        };
        let centre = sides(
            &varied(project, inputs, &vec![0.0; inputs.len()]),
            spot_index,
            lead_rad,
        );
        let responses = (0..inputs.len())
            .map(|j| {
                let (up, down) = (at(j, 1.0), at(j, -1.0));
                if up == centre && down == centre {
                    return None;
                }
                Some(std::array::from_fn(|k| {
                    [0.5 * (up[k] - down[k]), 0.5 * (up[k] + down[k]) - centre[k]]
                }))
            })
            .collect();
        FlightSide {
            base: centre,
            responses,
        }
    }

    pub(super) fn at(&self, z: &[f64]) -> [f64; SIDES] {
        let mut out = self.base;
        for (r, z) in self.responses.iter().zip(z) {
            if let Some(r) = r {
                for (o, [a, b]) in out.iter_mut().zip(r) {
                    *o += (a + b * z) * z;
                }
            }
        }
        out
    }
}

fn sides(project: &Project, spot_index: usize, lead_rad: f64) -> [f64; SIDES] {
    let chain = Chain::of(project);
    let stance = project
        .spots
        .get(spot_index)
        .map(|s| chain.stance_led(s, lead_rad));
    let of = |f: &dyn Fn(&Stance) -> f64| stance.as_ref().map_or(0.0, f);
    [
        chain.ball.diameter_m,
        chain.ball.mass_kg,
        drag_level(&chain.ball.drag),
        lift_level(&chain.ball.lift),
        chain.medium.density_kgpm3,
        chain.medium.wind_mps[0],
        chain.medium.wind_mps[1],
        of(&|s| s.at.near_rim_m),
        of(&|s| s.at.centre_line_m),
        chain.target.rim_height_m,
        of(&|s| s.heading_rad),
        of(&|s| s.platform_mps[0]),
        of(&|s| s.platform_mps[1]),
        of(&|s| s.turn_radps),
    ]
}

fn drag_level(d: &Drag) -> f64 {
    match d.law {
        DragLaw::None => 0.0,
        DragLaw::Constant { drag_coeff } => drag_coeff * d.scale_ratio,
        _ => d.scale_ratio,
    }
}

fn lift_level(l: &Lift) -> f64 {
    match *l {
        Lift::None => 0.0,
        Lift::Linear { slope_coeff } => slope_coeff,
        Lift::Bilinear => 1.0,
        Lift::Saturating { scale_ratio, .. } | Lift::SaturatingWholeSpin { scale_ratio, .. } => scale_ratio,
    }
}

/// Columns of flights for the batch.
pub(super) struct Lanes {
    position_m: [Vec<f64>; 3],
    velocity_mps: [Vec<f64>; 3],
    spin_radps: [Vec<f64>; 3],
    diameter_m: Vec<f64>,
    mass_kg: Vec<f64>,
    drag: Vec<f64>,
    lift: Vec<f64>,
    density: Vec<f64>,
    wind: [Vec<f64>; 3],
}

impl Lanes {
    pub(super) fn new(count: usize) -> Lanes {
        let v = || Vec::with_capacity(count);
        Lanes {
            position_m: [v(), v(), v()],
            velocity_mps: [v(), v(), v()],
            spin_radps: [v(), v(), v()],
            diameter_m: v(),
            mass_kg: v(),
            drag: v(),
            lift: v(),
            density: v(),
            wind: [v(), v(), v()],
        }
    }

    pub(super) fn push(&mut self, of: &Thrower, t: &Draw, exit: &Exit) {
        let exit = of.refined(exit);
        let f = of.flight.at(&t.z);
        let base = &of.flight.base;
        let (shift_m, turn_rad) = sideways(&of.inputs, &t.z);
        let turn_rad = turn_rad + of.uneven_turn_rad(&t.rows);
        let stance = Stance {
            heading_rad: f[10],
            platform_mps: [f[11], f[12]],
            turn_radps: f[13],
            ..of.stance
        };
        let mut start = start_state(&exit, &stance, shift_m, turn_rad);
        // The plane stays where it is; a target that moves is a start that moves the other way.
        start.position_m[0] -= f[7] - base[7];
        start.position_m[1] -= f[8] - base[8];
        start.position_m[2] -= f[9] - base[9];
        let ratio = |now: f64, then: f64| if then != 0.0 { now / then } else { 1.0 };
        for k in 0..3 {
            self.position_m[k].push(start.position_m[k]);
            self.velocity_mps[k].push(start.velocity_mps[k]);
            self.spin_radps[k].push(start.spin_radps[k]);
        }
        self.diameter_m.push(f[0]);
        self.mass_kg.push(f[1]);
        self.drag.push(ratio(f[2], base[2]).max(0.0));
        self.lift.push(ratio(f[3], base[3]));
        self.density.push(f[4]);
        self.wind[0].push(f[5]);
        self.wind[1].push(f[6]);
        self.wind[2].push(0.0);
    }

    pub(super) fn push_nothing(&mut self) {
        let lists = self
            .position_m
            .iter_mut()
            .chain(&mut self.velocity_mps)
            .chain(&mut self.spin_radps)
            .chain(&mut self.wind)
            .chain([
                &mut self.diameter_m,
                &mut self.mass_kg,
                &mut self.drag,
                &mut self.lift,
                &mut self.density,
            ]);
        for list in lists {
            list.push(f64::NAN);
        }
    }

    pub(super) fn fly(&self, of: &Thrower, out: &mut Crossings) {
        let count = self.mass_kg.len();
        let target = &of.chain.target;
        let plane = target.plane(&of.stance.at);
        let mut ball = of.chain.ball;
        // The spin dies away at the rate it has at the exit's speed; what that leaves is in the flight shift.
        if let SpinDecay::Aero { torque_coeff } = ball.spin_decay {
            let area = 0.25 * std::f64::consts::PI * ball.diameter_m.powi(2);
            let rate = torque_coeff
                * of.chain.medium.density_kgpm3
                * area
                * MEAN_OVER_EXIT_SPEED
                * of.exit_speed_mps
                / (2.0 * ball.inertia_coeff * ball.mass_kg);
            ball.spin_decay = if rate > 0.0 {
                SpinDecay::TimeConstant { tau_s: 1.0 / rate }
            } else {
                SpinDecay::None
            };
        }
        fn each<'a>(v: &'a [Vec<f64>; 3]) -> [Column<'a>; 3] {
            [Column::Each(&v[0]), Column::Each(&v[1]), Column::Each(&v[2])]
        }
        let batch = Batch {
            precision: Precision::Exact,
            ball,
            medium: of.chain.medium,
            plane,
            until: Until {
                time_s: LONGEST_S,
                floor_m: 0.0,
            },
            throws: Throws {
                count,
                position_m: each(&self.position_m),
                velocity_mps: each(&self.velocity_mps),
                spin_radps: each(&self.spin_radps),
                diameter_m: Column::Each(&self.diameter_m),
                mass_kg: Column::Each(&self.mass_kg),
                drag_scale_ratio: Column::Each(&self.drag),
                lift_scale_ratio: Column::Each(&self.lift),
                density_kgpm3: Column::Each(&self.density),
                wind_mps: each(&self.wind),
            },
        };
        let mut flown = vec![NOWHERE; count];
        let known = fly_batch_into(&batch, &mut flown).is_ok();
        let centre = target.centre_m(&of.stance.at);
        let (along, inward) = (target.along_axis(), target.inward());
        for a in &flown {
            let crossed = known && a.outcome == Ended::Crossed;
            let d = [
                a.position_m[0] - centre[0],
                a.position_m[1] - centre[1],
                a.position_m[2] - centre[2],
            ];
            let or_nan = |x: f64| if crossed { x } else { f64::NAN };
            out.along_m.push(or_nan(dot(d, along) + of.flight_shift_m[0]));
            out.across_m.push(or_nan(d[1] + of.flight_shift_m[1]));
            let v = a.velocity_mps;
            for (list, x) in out
                .velocity_mps
                .iter_mut()
                .zip([dot(v, along), v[1], -dot(v, inward)])
            {
                list.push(or_nan(x));
            }
        }
    }
}

/// Physical: mean speed of a lobbed flight over its exit speed.
const MEAN_OVER_EXIT_SPEED: f64 = 0.8;

const NOWHERE: Flown = Flown {
    outcome: Ended::NotFinite,
    time_s: f64::NAN,
    position_m: [f64::NAN; 3],
    velocity_mps: [f64::NAN; 3],
};

/// Longest flight followed, as in the target's own.
const LONGEST_S: f64 = 12.0;
