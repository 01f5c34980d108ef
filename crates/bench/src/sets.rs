//! The two sets of throws that the flight kernel is measured on.

use crate::random::SplitMix;
use arcwright_model::flight::batch::{Batch, Column, Precision, Throws};
use arcwright_model::flight::{
    Accuracy, Ball, Drag, DragLaw, Lift, Medium, Plane, SpinDecay, State, Until, fly_to_accuracy,
};
use std::f64::consts::PI;

/// Which drag law a set is flown with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Variant {
    /// Cd = 0.5 times the multiplier.
    Constant,
    /// Clift and Gauvin's curve times the multiplier.
    Curve,
}

/// Air and laws of the reference problem.
pub fn medium() -> Medium {
    Medium {
        density_kgpm3: 1.2,
        viscosity_pas: 1.81e-5,
        wind_mps: [0.0; 3],
        gravity_mps2: 9.80665,
    }
}

/// Time constant of the spin.
pub const TAU_S: f64 = 3.0;

/// Throws, one column for each quantity: x y z, velocity, spin, diameter, mass, multiplier of the drag.
#[derive(Clone, Debug)]
pub struct Set {
    /// Name.
    pub name: &'static str,
    /// Columns.
    pub columns: [Vec<f64>; 12],
    /// Height of the plane, crossed going down.
    pub plane_z_m: f64,
}

impl Set {
    fn empty(name: &'static str, plane_z_m: f64) -> Set {
        Set {
            name,
            columns: Default::default(),
            plane_z_m,
        }
    }

    fn push(&mut self, row: [f64; 12]) {
        for (column, x) in self.columns.iter_mut().zip(row) {
            column.push(x);
        }
    }

    /// Number of throws.
    pub fn len(&self) -> usize {
        self.columns[0].len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// One throw.
    pub fn row(&self, i: usize) -> [f64; 12] {
        std::array::from_fn(|c| self.columns[c][i])
    }

    /// The plane.
    pub fn plane(&self) -> Plane {
        Plane {
            point_m: [0.0, 0.0, self.plane_z_m],
            normal: [0.0, 0.0, -1.0],
        }
    }

    /// The whole set as a batch.
    pub fn batch(&self, variant: Variant) -> Batch<'_> {
        let (ball, start) = throw(&self.row(0), variant);
        let c = |i: usize| Column::Each(&self.columns[i]);
        let throws = Throws {
            position_m: [c(0), c(1), c(2)],
            velocity_mps: [c(3), c(4), c(5)],
            spin_radps: [c(6), c(7), c(8)],
            diameter_m: c(9),
            mass_kg: c(10),
            drag_scale_ratio: c(11),
            ..Throws::alike(self.len(), &ball, &medium(), &start)
        };
        let mut ball = ball;
        ball.drag.scale_ratio = 1.0;
        Batch {
            ball,
            medium: medium(),
            plane: self.plane(),
            until: UNTIL,
            precision: Precision::Exact,
            throws,
        }
    }
}

/// No throw of either set is longer or lower.
pub const UNTIL: Until = Until {
    time_s: 10.0,
    floor_m: 0.0,
};

/// One throw as the single-flight solver takes it.
pub fn throw(row: &[f64; 12], variant: Variant) -> (Ball, State) {
    let law = match variant {
        Variant::Constant => DragLaw::Constant { drag_coeff: 0.5 },
        Variant::Curve => DragLaw::CliftGauvin,
    };
    let ball = Ball {
        mass_kg: row[10],
        diameter_m: row[9],
        inertia_coeff: 0.4,
        drag: Drag {
            law,
            scale_ratio: row[11],
        },
        lift: Lift::SaturatingWholeSpin {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0,
        },
        spin_decay: SpinDecay::TimeConstant { tau_s: TAU_S },
        buoyancy: false,
        added_mass_coeff: 0.0,
    };
    let start = State {
        time_s: 0.0,
        position_m: [row[0], row[1], row[2]],
        velocity_mps: [row[3], row[4], row[5]],
        spin_radps: [row[6], row[7], row[8]],
    };
    (ball, start)
}

fn heading(speed: f64, elevation: f64, azimuth: f64) -> [f64; 3] {
    let level = speed * elevation.cos();
    [
        level * azimuth.cos(),
        level * azimuth.sin(),
        speed * elevation.sin(),
    ]
}

/// The nominal throw of set N.
pub const NOMINAL: [f64; 5] = [9.0, 58.0, 40.0, 0.15, 0.12];

/// Set N: a scatter about one throw.
pub fn scatter(count: usize, seed: u64) -> Set {
    let mut set = Set::empty("N", 2.0);
    let mut random = SplitMix::new(seed);
    let degree = PI / 180.0;
    let [speed, elevation, spin, diameter, mass] = NOMINAL;
    for _ in 0..count {
        let (speed, turn) = (speed * (1.0 + random.normal(0.02)), random.normal(degree));
        let [vx, vy, vz] = heading(speed, elevation * degree + random.normal(degree), turn);
        let spin = spin * (1.0 + random.normal(0.05));
        let (tilt_x, tilt_z) = (random.normal(2.0 * degree), random.normal(2.0 * degree));
        let [sx, sy, sz] = [
            spin * tilt_x.sin(),
            -spin * tilt_x.cos() * tilt_z.cos(),
            spin * tilt_z.sin(),
        ];
        let (x, y) = (random.normal(0.005), random.normal(0.005));
        let (diameter, mass) = (
            diameter * (1.0 + random.normal(0.005)),
            mass * (1.0 + random.normal(0.01)),
        );
        set.push([
            x,
            y,
            0.6,
            vx,
            vy,
            vz,
            sx,
            sy,
            sz,
            diameter,
            mass,
            1.0 + random.normal(0.03),
        ]);
    }
    set
}

/// Set W: a sweep over everything a design may be.
pub fn sweep(count: usize, seed: u64) -> Set {
    let mut set = Set::empty("W", 1.5);
    let mut random = SplitMix::new(seed);
    let degree = PI / 180.0;
    while set.len() < count {
        let diameter = random.uniform(0.075, 0.25);
        let mass = random.uniform(0.02_f64.ln(), 0.3_f64.ln()).exp();
        let speed = random.uniform(3.0, 15.0);
        let (elevation, azimuth) = (
            random.uniform(15.0, 80.0) * degree,
            random.uniform(-10.0, 10.0) * degree,
        );
        let [vx, vy, vz] = heading(speed, elevation, azimuth);
        let spin = random.uniform(0.0, 100.0) * if random.uniform(0.0, 1.0) < 0.8 { -1.0 } else { 1.0 };
        let (tilt_x, tilt_z) = (random.uniform(-0.3, 0.3), random.uniform(-0.3, 0.3));
        let [sx, sy, sz] = [
            spin * tilt_x.sin(),
            spin * tilt_x.cos() * tilt_z.cos(),
            spin * tilt_z.sin(),
        ];
        let (scale, z) = (random.uniform(0.9, 1.1), random.uniform(0.2, 1.0));
        let (x, y) = (random.uniform(-0.05, 0.05), random.uniform(-0.05, 0.05));
        let row = [x, y, z, vx, vy, vz, sx, sy, sz, diameter, mass, scale];
        let (ball, start) = throw(&row, Variant::Constant);
        let path = fly_to_accuracy(&ball, &medium(), &start, &UNTIL, Accuracy::Quick);
        let kept = path
            .crossing(&set.plane())
            .is_some_and(|s| s.time_s > 0.3 && s.time_s < 1.5 && s.velocity_mps[2] < -0.5);
        if kept {
            set.push(row);
        }
    }
    set
}
