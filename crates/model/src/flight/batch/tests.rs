//! Accuracy of the batch against independently integrated reference crossings.

use super::*;
use crate::flight::{Drag, Lift, SpinDecay, State};
use crate::numerics::checks::files;
use crate::numerics::vector::dot;
use serde_json::Value;

pub(super) struct Set {
    pub(super) name: String,
    pub(super) inputs: Vec<[f64; 12]>,
    pub(super) wanted: Vec<[f64; 7]>,
    pub(super) ball: Ball,
    pub(super) medium: Medium,
    pub(super) plane: Plane,
    pub(super) tolerance_m: f64,
}

fn table<const N: usize>(value: &Value) -> Vec<[f64; N]> {
    let row = |row: &Value| std::array::from_fn(|i| row[i].as_f64().unwrap());
    value.as_array().unwrap().iter().map(row).collect()
}

pub(super) fn sets() -> Vec<Set> {
    let mut sets = Vec::new();
    for file in files("flight") {
        let (Some(groups), Some(constants)) =
            (file.get("sets").and_then(Value::as_object), file.get("constants"))
        else {
            continue;
        };
        let constant = |key: &str| constants[key].as_f64().unwrap();
        for (name, group) in groups {
            for (variant, law) in [
                ("const", DragLaw::Constant { drag_coeff: 0.5 }),
                ("cg", DragLaw::CliftGauvin),
            ] {
                if group.get(variant).is_none() {
                    continue;
                }
                sets.push(Set {
                    name: format!("{name} {variant}"),
                    inputs: table(&group["inputs"]),
                    wanted: table(&group[variant]),
                    ball: Ball {
                        mass_kg: 0.0,
                        diameter_m: 0.0,
                        inertia_coeff: 0.4,
                        drag: Drag {
                            law,
                            scale_ratio: 1.0,
                        },
                        lift: Lift::SaturatingWholeSpin {
                            a_coeff: 0.4,
                            b_coeff: 2.32,
                            scale_ratio: 1.0,
                        },
                        spin_decay: SpinDecay::TimeConstant {
                            tau_s: constant("tau"),
                        },
                        buoyancy: false,
                        added_mass_coeff: 0.0,
                    },
                    medium: Medium {
                        density_kgpm3: constant("rho"),
                        viscosity_pas: constant("mu"),
                        wind_mps: [0.0; 3],
                        gravity_mps2: constant("g"),
                    },
                    plane: Plane {
                        point_m: [0.0, 0.0, group["plane_z"].as_f64().unwrap()],
                        normal: [0.0, 0.0, -1.0],
                    },
                    tolerance_m: file["tolerance_m"].as_f64().unwrap(),
                });
            }
        }
    }
    assert!(!sets.is_empty(), "no batch sets were found");
    sets
}

/// Where every throw would start if no column said otherwise.
const NOWHERE: State = State {
    time_s: 0.0,
    position_m: [0.0; 3],
    velocity_mps: [0.0; 3],
    spin_radps: [0.0; 3],
};

/// The columns of a set, one vector each.
pub(super) struct Columns(Vec<Vec<f64>>);

impl Columns {
    pub(super) fn of(inputs: &[[f64; 12]]) -> Columns {
        Columns(
            (0..12)
                .map(|i| inputs.iter().map(|row| row[i]).collect())
                .collect(),
        )
    }

    pub(super) fn batch<'a>(&'a self, set: &Set) -> Batch<'a> {
        let c = |i: usize| Column::Each(&self.0[i]);
        let throws = Throws {
            position_m: [c(0), c(1), c(2)],
            velocity_mps: [c(3), c(4), c(5)],
            spin_radps: [c(6), c(7), c(8)],
            diameter_m: c(9),
            mass_kg: c(10),
            drag_scale_ratio: c(11),
            ..Throws::alike(self.0[0].len(), &set.ball, &set.medium, &NOWHERE)
        };
        let until = Until {
            time_s: 20.0,
            floor_m: -5.0,
        };
        Batch {
            ball: set.ball,
            medium: set.medium,
            plane: set.plane,
            until,
            precision: Precision::Exact,
            throws,
        }
    }
}

pub(super) fn distance(a: [f64; 3], b: &[f64]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b) * (a - b))
        .sum::<f64>()
        .sqrt()
}

#[test]
fn every_reference_crossing_is_met_within_its_tolerance() {
    for set in sets() {
        let columns = Columns::of(&set.inputs);
        let both = [Precision::Exact, Precision::Fast].map(|precision| {
            let batch = Batch {
                precision,
                ..columns.batch(&set)
            };
            fly_batch(&batch).unwrap()
        });
        assert!(both.iter().all(|a| a.len() == set.wanted.len()), "{}", set.name);
        for (arrivals, (i, wanted)) in both
            .iter()
            .flat_map(|a| a.iter().zip(set.wanted.iter().enumerate()))
        {
            let arrival = arrivals;
            assert_eq!(arrival.outcome, Outcome::Crossed, "{} {i}", set.name);
            let error = distance(arrival.position_m, &wanted[1..4]);
            assert!(error <= set.tolerance_m, "{} {i}: {error:e} m", set.name);
            assert!(
                distance(arrival.velocity_mps, &wanted[4..7]) <= 1e-5,
                "{} {i} velocity",
                set.name
            );
            assert!(
                (arrival.time_s - wanted[0]).abs() <= 1e-6,
                "{} {i} time",
                set.name
            );
        }
    }
}

/// The lanes themselves fly the reference sets: the careful path takes no more than one throw in fifty.
#[test]
fn the_lanes_leave_few_throws_to_the_careful_path() {
    for set in sets() {
        let columns = Columns::of(&set.inputs);
        let left = load::left_to_the_careful_path(&columns.batch(&set));
        assert!(
            left * 50 <= set.inputs.len(),
            "{}: {left} of {}",
            set.name,
            set.inputs.len()
        );
    }
}

/// The lanes that count fly as the others do, and a step more is more arithmetic.
#[test]
fn the_count_of_operations_grows_with_the_flight() {
    let law = DragLaw::Constant { drag_coeff: 0.5 };
    let lift = Lift::SaturatingWholeSpin {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    let set = scattered_set(ball(law, lift, SpinDecay::None), planes()[0].1);
    let columns = Columns::of(&vec![set.inputs[0]; BLOCK]);
    let counted = |point_z_m: f64| {
        let mut batch = columns.batch(&set);
        batch.plane.point_m[2] = point_z_m;
        operations(&batch, false).unwrap()
    };
    let (short, long) = (counted(0.5), counted(-4.9));
    // One step evaluates the motion eleven times, with a root each.
    assert!(long.roots >= short.roots + 11 * BLOCK as u64);
    let flops = short.additions + short.products + 2 * short.fused + short.quotients + short.roots;
    assert_eq!(short.flops(), flops);
    assert!(short.fused > short.additions && short.flops() / (BLOCK as u64) > 1000);
}

pub(super) fn bits(arrivals: &[Arrival]) -> Vec<[u64; 7]> {
    let all = |a: &Arrival| {
        let ([x, y, z], [vx, vy, vz]) = (a.position_m, a.velocity_mps);
        [a.time_s, x, y, z, vx, vy, vz].map(f64::to_bits)
    };
    arrivals.iter().map(all).collect()
}

#[test]
fn every_vector_width_gives_the_same_bits() {
    for set in sets() {
        let columns = Columns::of(&set.inputs);
        let batch = columns.batch(&set);
        let flown = |width| {
            let mut arrivals = vec![Arrival::without(Outcome::NotFinite); batch.throws.count];
            let prepared = load::prepare(&batch);
            share(&batch, prepared.as_ref(), None, width, &mut arrivals);
            bits(&arrivals)
        };
        let portable = flown(dispatch::Width::Portable);
        for width in dispatch::available() {
            assert!(flown(width) == portable, "{} {width:?}", set.name);
        }
    }
}

/// Throws about one nominal, from a fixed sequence that fills the unit cube.
fn scattered(count: usize) -> Vec<[f64; 12]> {
    const PRIMES: [f64; 12] = [2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0, 31.0, 37.0];
    let spread = |i: usize, k: usize| (i as f64 * PRIMES[k].sqrt()).fract() - 0.5;
    let throw = |i| {
        let s = |k| spread(i, k);
        let (speed, elevation) = (9.0 + 6.0 * s(0), (55.0 + 50.0 * s(1)).to_radians());
        [
            s(2),
            s(3),
            0.5 + 0.4 * s(4),
            speed * elevation.cos(),
            2.0 * s(5),
            speed * elevation.sin(),
            60.0 * s(6),
            160.0 * s(7),
            60.0 * s(8),
            0.16 + 0.16 * s(9),
            0.16 + 0.26 * s(10),
            1.0 + 0.2 * s(11),
        ]
    };
    (0..count).map(throw).collect()
}

pub(super) fn ball(law: DragLaw, lift: Lift, spin_decay: SpinDecay) -> Ball {
    let drag = Drag {
        law,
        scale_ratio: 0.97,
    };
    Ball {
        mass_kg: 0.1,
        diameter_m: 0.15,
        inertia_coeff: 0.4,
        drag,
        lift,
        spin_decay,
        buoyancy: false,
        added_mass_coeff: 0.0,
    }
}

pub(super) const AIR: Medium = Medium {
    density_kgpm3: 1.2,
    viscosity_pas: 1.81e-5,
    wind_mps: [0.0; 3],
    gravity_mps2: 9.80665,
};

/// Flies throws both ways and compares.
fn agree(name: &str, set: &Set, change: impl Fn(&mut Batch), least_crossings: usize) {
    let columns = Columns::of(&set.inputs);
    let mut batch = columns.batch(set);
    change(&mut batch);
    compare(name, &batch, least_crossings);
}

fn compare(name: &str, batch: &Batch, least_crossings: usize) {
    let errors = errors(name, batch);
    for (i, error_m) in &errors {
        assert!(*error_m <= 1e-6, "{name} {i}: {error_m:e} m");
    }
    assert!(
        errors.len() >= least_crossings,
        "{name}: only {} crossed",
        errors.len()
    );
}

/// How far each crossing of a batch, exact and fast, is from that of the tight single flight, behind the throw's
/// number. Where the plane is met at a grazing angle an error shows many times over along the path, and counts for less.
fn errors(name: &str, batch: &Batch) -> Vec<(usize, f64)> {
    let arrivals = fly_batch(batch).unwrap();
    let precision = Precision::Fast;
    let fast = fly_batch(&Batch { precision, ..*batch }).unwrap();
    let mut errors = Vec::new();
    for (i, arrival) in arrivals.iter().chain(&fast).enumerate() {
        let i = i % arrivals.len();
        let alone = load::tight(batch, i);
        assert_eq!(
            arrival.outcome, alone.outcome,
            "{name} {i}: {arrival:?}, not {alone:?}"
        );
        if alone.outcome == Outcome::Crossed {
            let error = distance(arrival.position_m, &alone.position_m);
            let speed = distance(alone.velocity_mps, &[0.0; 3]);
            let closing = dot(alone.velocity_mps, batch.plane.normal).abs();
            errors.push((i, error / (0.05 * speed / closing).max(1.0)));
        }
    }
    errors
}

fn scattered_set(ball: Ball, plane: Plane) -> Set {
    Set {
        name: String::new(),
        inputs: scattered(600),
        wanted: Vec::new(),
        ball,
        medium: AIR,
        plane,
        tolerance_m: 1e-6,
    }
}

pub(super) fn planes() -> [(&'static str, Plane); 4] {
    [
        (
            "down through a height",
            Plane {
                point_m: [0.0, 0.0, 2.0],
                normal: [0.0, 0.0, -1.0],
            },
        ),
        (
            "up through a height",
            Plane {
                point_m: [0.0, 0.0, 2.0],
                normal: [0.0, 0.0, 1.0],
            },
        ),
        (
            "a wall",
            Plane {
                point_m: [3.0, 0.0, 0.0],
                normal: [1.0, 0.0, 0.0],
            },
        ),
        (
            "a slanting plane",
            Plane {
                point_m: [3.0, 0.2, 2.0],
                normal: [0.64, 0.48, -0.6],
            },
        ),
    ]
}

#[test]
fn lanes_agree_with_single_flights_for_every_pair_of_their_laws_and_any_plane() {
    let saturating = |across| {
        let (a_coeff, b_coeff, scale_ratio) = (0.4, 2.32, 0.8);
        if across {
            Lift::Saturating {
                a_coeff,
                b_coeff,
                scale_ratio,
            }
        } else {
            Lift::SaturatingWholeSpin {
                a_coeff,
                b_coeff,
                scale_ratio,
            }
        }
    };
    let decay = SpinDecay::TimeConstant { tau_s: 3.0 };
    for (name, plane) in planes() {
        for law in [DragLaw::Constant { drag_coeff: 0.5 }, DragLaw::CliftGauvin] {
            for across in [true, false] {
                let set = scattered_set(ball(law, saturating(across), decay), plane);
                agree(&format!("{name}, {law:?}, {across}"), &set, |_| {}, 150);
            }
        }
    }
}

/// Where there is little drag beside the lift the rule of the steps is at its limit: docs/performance.md says how far.
#[test]
fn wild_spins_in_wind_err_by_more_than_a_micrometre_seldom_and_little() {
    let (a_coeff, b_coeff, scale_ratio) = (0.4, 2.32, 1.0);
    let lift = Lift::SaturatingWholeSpin {
        a_coeff,
        b_coeff,
        scale_ratio,
    };
    for (drag_coeff, one_in, most_m) in [
        (0.0, 100, 2.5e-5),
        (0.1, 400, 1e-5),
        (0.3, 2000, 5e-6),
        (0.5, 10_000, 2e-6),
    ] {
        let law = DragLaw::Constant { drag_coeff };
        let (mut beyond, mut crossings) = (0, 0);
        for (name, plane) in planes() {
            let mut set = scattered_set(ball(law, lift, SpinDecay::TimeConstant { tau_s: 3.0 }), plane);
            set.inputs = scattered(1500);
            let columns = Columns::of(&set.inputs);
            for wind_mps in [[0.0; 3], [-1.5, 2.0, 0.3]] {
                let mut batch = columns.batch(&set);
                batch.throws.wind_mps = wind_mps.map(Column::Same);
                for (i, error_m) in errors(name, &batch) {
                    crossings += 1;
                    beyond += usize::from(error_m > 1e-6);
                    assert!(error_m <= most_m, "{name}, {drag_coeff}, {i}: {error_m:e} m");
                }
            }
        }
        assert!(
            beyond * one_in <= crossings && crossings > 10_000,
            "{drag_coeff}: {beyond} of {crossings}"
        );
    }
}

#[test]
fn lanes_agree_with_single_flights_for_no_drag_no_lift_and_linear_lift() {
    let (_, plane) = planes()[0];
    for lift in [Lift::None, Lift::Linear { slope_coeff: 0.3 }] {
        for law in [DragLaw::None, DragLaw::Constant { drag_coeff: 0.45 }] {
            let set = scattered_set(ball(law, lift, SpinDecay::None), plane);
            agree(&format!("{law:?} {lift:?}"), &set, |_| {}, 300);
        }
    }
}

#[test]
fn wind_density_buoyancy_and_carried_air_reach_the_lanes() {
    let lift = Lift::Saturating {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    let set = scattered_set(ball(DragLaw::CliftGauvin, lift, SpinDecay::None), planes()[3].1);
    let winds: Vec<f64> = (0..600).map(|i| 3.0 * (f64::from(i) * 0.61).sin()).collect();
    let densities: Vec<f64> = (0..600)
        .map(|i| 1.1 + 0.1 * (f64::from(i) * 0.37).sin())
        .collect();
    let lifts: Vec<f64> = (0..600)
        .map(|i| 1.0 + 0.5 * (f64::from(i) * 0.23).sin())
        .collect();
    let columns = Columns::of(&set.inputs);
    let mut batch = columns.batch(&set);
    let plain = fly_batch(&batch).unwrap();
    batch.throws.wind_mps = [Column::Same(-1.0), Column::Each(&winds), Column::Same(0.3)];
    batch.throws.density_kgpm3 = Column::Each(&densities);
    batch.throws.lift_scale_ratio = Column::Each(&lifts);
    (batch.ball.buoyancy, batch.ball.added_mass_coeff) = (true, 0.5);
    compare("wind and the rest", &batch, 200);
    // Each of them moves the crossings.
    let moved = fly_batch(&batch).unwrap();
    let gap = |(a, b): (&Arrival, &Arrival)| distance(a.position_m, &b.position_m);
    assert!(
        moved
            .iter()
            .zip(&plain)
            .map(gap)
            .all(|gap| gap.is_nan() || gap > 1e-4)
    );
}

/// Spin along the motion, upright spin and no spin at all: the frames of lanes with no obvious axes.
#[test]
fn lanes_agree_with_single_flights_for_spins_in_every_direction() {
    for lift in [
        Lift::Saturating {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0,
        },
        Lift::SaturatingWholeSpin {
            a_coeff: 0.4,
            b_coeff: 2.32,
            scale_ratio: 1.0,
        },
    ] {
        let law = DragLaw::Constant { drag_coeff: 0.5 };
        let mut set = scattered_set(
            ball(law, lift, SpinDecay::TimeConstant { tau_s: 2.0 }),
            planes()[0].1,
        );
        set.inputs.truncate(120);
        for (i, row) in set.inputs.iter_mut().enumerate() {
            let along = [row[3], row[4], row[5]];
            let spins = [
                [0.0; 3],
                [0.0, 0.0, 50.0],
                [0.0, 0.0, -50.0],
                [1e-13, 0.0, 50.0],
                [40.0, 0.0, 0.0],
                along,
            ];
            row[6..9].copy_from_slice(&spins[i % spins.len()]);
        }
        agree(&format!("{lift:?}"), &set, |_| {}, 60);
    }
}

#[test]
fn laws_that_the_lanes_lack_are_flown_one_at_a_time() {
    for ball in [
        ball(DragLaw::Morrison, Lift::None, SpinDecay::None),
        ball(DragLaw::None, Lift::Bilinear, SpinDecay::None),
        ball(DragLaw::None, Lift::None, SpinDecay::Aero { torque_coeff: 0.02 }),
    ] {
        let mut set = scattered_set(ball, planes()[0].1);
        set.inputs.truncate(40);
        agree(&format!("{ball:?}"), &set, |_| {}, 20);
    }
}

/// Tops of throws at heights that step through the plane, from well below to well above it.
#[test]
fn throws_that_graze_the_plane_are_judged_as_single_flights_judge_them() {
    let lift = Lift::SaturatingWholeSpin {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    for normal_z in [-1.0, 1.0] {
        let plane = Plane {
            point_m: [0.0, 0.0, 2.0],
            normal: [0.0, 0.0, normal_z],
        };
        let law = DragLaw::Constant { drag_coeff: 0.5 };
        let mut set = scattered_set(ball(law, lift, SpinDecay::None), plane);
        set.inputs = (0..400)
            .map(|i| {
                let up = 5.5 + 1.2 * f64::from(i) / 400.0;
                [0.0, 0.0, 0.5, 4.0, 0.0, up, 0.0, -20.0, 0.0, 0.15, 0.12, 1.0]
            })
            .collect();
        let crossed = |a: &Arrival| a.outcome == Outcome::Crossed;
        let columns = Columns::of(&set.inputs);
        let arrivals = fly_batch(&columns.batch(&set)).unwrap();
        assert!(arrivals.iter().any(crossed) && !arrivals.iter().all(crossed));
        agree("graze", &set, |_| {}, 50);
    }
}

#[test]
fn the_floor_and_the_time_end_a_flight_before_its_crossing() {
    let law = DragLaw::Constant { drag_coeff: 0.5 };
    let set = scattered_set(ball(law, Lift::None, SpinDecay::None), planes()[2].1);
    agree("floor", &set, |b| b.until.floor_m = 1.2, 100);
    agree("time", &set, |b| b.until.time_s = 0.5, 50);
    let columns = Columns::of(&set.inputs);
    let mut batch = columns.batch(&set);
    batch.until.floor_m = 1.2;
    let missed = fly_batch(&batch)
        .unwrap()
        .iter()
        .filter(|a| a.outcome == Outcome::Missed)
        .count();
    assert!(missed > 50, "{missed}");
}

#[test]
fn the_number_of_threads_changes_no_bit() {
    let lift = Lift::Saturating {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    let law = DragLaw::Constant { drag_coeff: 0.5 };
    let mut set = scattered_set(ball(law, lift, SpinDecay::None), planes()[0].1);
    set.inputs = scattered(3 * CHUNK + 7);
    let columns = Columns::of(&set.inputs);
    let batch = columns.batch(&set);
    let on = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        bits(&pool.install(|| fly_batch(&batch)).unwrap())
    };
    assert!(on(1) == on(3));
}

/// A throw's result does not depend on the throws beside it.
#[test]
fn a_throw_alone_flies_as_it_does_among_others() {
    for set in sets() {
        let together = fly_batch(&Columns::of(&set.inputs).batch(&set)).unwrap();
        for i in [0, 17, 63, 99] {
            let Some(row) = set.inputs.get(i) else { continue };
            let alone = fly_batch(&Columns::of(&[*row]).batch(&set)).unwrap();
            assert!(bits(&alone)[0] == bits(&together)[i], "{} {i}", set.name);
        }
    }
}

/// Throws that fly for about as long go together, so that few lanes wait for the slowest beside them.
#[test]
fn many_different_throws_take_few_steps_more_than_each_alone() {
    let lift = Lift::SaturatingWholeSpin {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    let law = DragLaw::Constant { drag_coeff: 0.5 };
    let rows = scattered(2048);
    let (mut together, mut alone) = (0, 0);
    for (_, plane) in planes() {
        let set = scattered_set(ball(law, lift, SpinDecay::None), plane);
        // The start takes two roots of every lane of a block and one of those of a group; the others come of steps.
        let steps = |rows: &[[f64; 12]]| {
            let roots = operations(&Columns::of(rows).batch(&set), false).unwrap().roots;
            let [block, group] = [BLOCK, stages::GROUP].map(|some| rows.len().next_multiple_of(some));
            roots - (2 * block + group) as u64
        };
        together += steps(&rows);
        // One vector of lanes for one throw.
        alone += rows.chunks(1).map(steps).sum::<u64>() / <lanes::Plain as lanes::Vector>::LANES as u64;
    }
    let ratio = together as f64 / alone as f64;
    // 1.51 with the throws as they come.
    assert!(ratio > 1.0 && ratio < 1.3, "{ratio}");
}

#[test]
fn a_column_of_the_wrong_length_is_named() {
    let set = scattered_set(ball(DragLaw::None, Lift::None, SpinDecay::None), planes()[0].1);
    let columns = Columns::of(&set.inputs);
    let mut batch = columns.batch(&set);
    batch.throws.mass_kg = Column::Each(&[0.1, 0.2]);
    assert_eq!(
        fly_batch(&batch),
        Err(ColumnLength {
            column: "mass_kg",
            found: 2,
            wanted: 600
        })
    );
    batch.throws.mass_kg = Column::Same(0.1);
    let mut few = [Arrival::without(Outcome::Missed); 3];
    let refused = Err(ColumnLength {
        column: "arrivals",
        found: 3,
        wanted: 600,
    });
    assert_eq!(fly_batch_into(&batch, &mut few), refused);
    batch.throws = Throws::alike(0, &set.ball, &AIR, &NOWHERE);
    assert_eq!(fly_batch(&batch), Ok(Vec::new()));
}

#[test]
fn numbers_that_make_no_sense_spoil_their_own_throw_only() {
    let lift = Lift::Saturating {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    for law in [DragLaw::Constant { drag_coeff: 0.5 }, DragLaw::CliftGauvin] {
        let mut set = scattered_set(
            ball(law, lift, SpinDecay::TimeConstant { tau_s: 3.0 }),
            planes()[0].1,
        );
        let clean = fly_batch(&Columns::of(&set.inputs).batch(&set)).unwrap();
        let odd = [
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            0.0,
            -1.0,
            1e300,
            1e-300,
        ];
        for (i, x) in odd.iter().enumerate() {
            for column in 0..12 {
                set.inputs[40 * i + column][column] = *x;
            }
        }
        let arrivals = fly_batch(&Columns::of(&set.inputs).batch(&set)).unwrap();
        for (i, (found, clean)) in arrivals.iter().zip(&clean).enumerate() {
            let spoilt = i / 40 < odd.len() && i % 40 < 12;
            assert!(spoilt || bits(&[*found]) == bits(&[*clean]), "{i}");
            let finite = found.position_m.iter().all(|x| x.is_finite());
            assert_eq!(finite, found.outcome == Outcome::Crossed, "{i}: {found:?}");
        }
    }
}
