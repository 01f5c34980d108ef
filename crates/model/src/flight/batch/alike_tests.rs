//! Throws that are alike: as good as those flown one by one, and flown one by one where they are not.

use super::tests::{AIR, Columns, Set, ball, bits, distance, planes, sets};
use super::*;
use crate::flight::{Lift, SpinDecay};
use crate::numerics::random::Stream;

/// A cloud: speed, elevation in degrees, spin, diameter, mass and the height of the start.
#[derive(Clone, Copy, Debug)]
struct About {
    speed_mps: f64,
    elevation_deg: f64,
    spin_radps: f64,
    diameter_m: f64,
    mass_kg: f64,
    height_m: f64,
}

/// The nominal throw of the reference set N.
const NOMINAL: About = About {
    speed_mps: 9.0,
    elevation_deg: 58.0,
    spin_radps: 40.0,
    diameter_m: 0.15,
    mass_kg: 0.12,
    height_m: 0.6,
};

/// Throws spread about one as those of the reference set N, `times` as widely.
fn about(a: About, count: usize, times: f64) -> Vec<[f64; 12]> {
    let mut random = Stream::new(11, 3);
    let degree = times * 1f64.to_radians();
    let one = |_| {
        let mut off = |sd: f64| times * sd * random.normal();
        let (speed, spin) = (a.speed_mps * (1.0 + off(0.02)), a.spin_radps * (1.0 + off(0.05)));
        let (up, round) = (
            a.elevation_deg.to_radians() + off(1.0) * degree / times,
            off(1.0) * degree / times,
        );
        let (tilt_x, tilt_z) = (off(2.0) * degree / times, off(2.0) * degree / times);
        [
            off(0.005),
            off(0.005),
            a.height_m,
            speed * up.cos() * round.cos(),
            speed * up.cos() * round.sin(),
            speed * up.sin(),
            spin * tilt_x.sin(),
            -spin * tilt_x.cos() * tilt_z.cos(),
            spin * tilt_z.sin(),
            a.diameter_m * (1.0 + off(0.005)),
            a.mass_kg * (1.0 + off(0.01)),
            1.0 + off(0.03),
        ]
    };
    (0..count).map(one).collect()
}

/// The reference set N with either law of drag.
fn narrow() -> impl Iterator<Item = Set> {
    sets().into_iter().filter(|set| set.name.starts_with('N'))
}

/// Whether a batch is found to be a cloud, and in how many steps.
fn steps(batch: &Batch) -> Option<usize> {
    let prepared = load::prepare(batch)?;
    let cloud = pilots::learn(batch, &prepared, dispatch::widest())?;
    Some(cloud.steps.len())
}

fn both<'a>(batch: &Batch<'a>) -> [Batch<'a>; 2] {
    [Precision::Exact, Precision::Fast].map(|precision| Batch { precision, ..*batch })
}

/// The reference set N among 16 384 throws like them.
#[test]
fn references_among_throws_like_them_are_met_within_their_tolerance() {
    let mut met = 0;
    for set in narrow() {
        let mut rows = about(NOMINAL, 1 << 14, 1.0);
        for (i, row) in set.inputs.iter().enumerate() {
            rows[160 * i + 7] = *row;
        }
        let columns = Columns::of(&rows);
        for batch in both(&columns.batch(&set)) {
            assert_eq!(steps(&batch), Some(2), "{}", set.name);
            let arrivals = fly_alike(&batch).unwrap();
            for (i, wanted) in set.wanted.iter().enumerate() {
                let arrival = arrivals[160 * i + 7];
                assert_eq!(arrival.outcome, Outcome::Crossed, "{} {i}", set.name);
                let error = distance(arrival.position_m, &wanted[1..4]);
                assert!(error <= set.tolerance_m, "{} {i}: {error:e} m", set.name);
                assert!(distance(arrival.velocity_mps, &wanted[4..7]) <= 1e-4);
                assert!((arrival.time_s - wanted[0]).abs() <= 1e-6);
                met += 1;
            }
        }
    }
    assert!(met >= 400, "{met}");
}

/// Compares with [`fly_batch`], every throw, and with the tight single flight, some of them.
fn agree(name: &str, batch: &Batch) {
    let usual = fly_batch(batch).unwrap();
    for batch in both(batch) {
        let arrivals = fly_alike(&batch).unwrap();
        for (i, (a, b)) in arrivals.iter().zip(&usual).enumerate() {
            assert_eq!(a.outcome, b.outcome, "{name} {i}");
            if a.outcome == Outcome::Crossed {
                let error = distance(a.position_m, &b.position_m);
                assert!(error <= 1e-6, "{name} {i}: {error:e} m");
                let error = distance(a.velocity_mps, &b.velocity_mps);
                assert!(error <= 1e-4, "{name} {i}: {error:e} m/s");
            }
            if i % 97 == 0 {
                let alone = load::tight(&batch, i);
                let error = distance(a.position_m, &alone.position_m);
                assert!(
                    error <= 1e-6 || alone.outcome != Outcome::Crossed,
                    "{name} {i}: {error:e} m"
                );
            }
        }
    }
}

fn whole(ball: Ball, plane: Plane) -> Set {
    Set {
        name: String::new(),
        inputs: Vec::new(),
        wanted: Vec::new(),
        ball,
        medium: AIR,
        plane,
        tolerance_m: 1e-6,
    }
}

/// The laws of the reference problem with constant drag, down through a height.
fn level(spin_decay: SpinDecay) -> Set {
    let lift = Lift::SaturatingWholeSpin {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    let law = DragLaw::Constant { drag_coeff: 0.5 };
    whole(ball(law, lift, spin_decay), planes()[0].1)
}

const COUNT: usize = 1 << 13;

/// Clouds about throws of many kinds, with every pair of laws that lanes have, to every kind of plane.
#[test]
fn clouds_of_every_kind_agree_with_throws_flown_one_by_one() {
    let (a_coeff, b_coeff, scale_ratio) = (0.4, 2.32, 0.8);
    let lifts = [
        Lift::None,
        Lift::Linear { slope_coeff: 0.3 },
        Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        },
        Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio,
        },
    ];
    let throws = [
        NOMINAL,
        About {
            speed_mps: 12.0,
            elevation_deg: 50.0,
            spin_radps: 20.0,
            diameter_m: 0.2,
            mass_kg: 0.25,
            height_m: 0.3,
        },
        About {
            speed_mps: 8.0,
            elevation_deg: 65.0,
            spin_radps: -60.0,
            diameter_m: 0.1,
            mass_kg: 0.05,
            height_m: 0.9,
        },
    ];
    let (mut tried, mut found) = (0, 0);
    for (i, lift) in lifts.into_iter().enumerate() {
        for (j, law) in [DragLaw::Constant { drag_coeff: 0.5 }, DragLaw::CliftGauvin]
            .into_iter()
            .enumerate()
        {
            for (k, (name, plane)) in planes().into_iter().enumerate() {
                let about_one = throws[(i + j + k) % throws.len()];
                let times = [0.3, 0.7, 1.0][(i + k) % 3];
                let decay = if j == 0 {
                    SpinDecay::TimeConstant { tau_s: 3.0 }
                } else {
                    SpinDecay::None
                };
                let rows = about(about_one, COUNT, times);
                let columns = Columns::of(&rows);
                let set = whole(ball(law, lift, decay), plane);
                let batch = columns.batch(&set);
                tried += 1;
                found += usize::from(steps(&batch).is_some());
                agree(
                    &format!("{name}, {law:?}, {lift:?}, {about_one:?} {times}"),
                    &batch,
                );
            }
        }
    }
    assert!(found >= tried / 2, "only {found} of {tried} are clouds");
}

/// Wind, density, lift and the height of the start differ as well.
#[test]
fn all_that_may_differ_from_throw_to_throw_is_seen() {
    let (_, plane) = planes()[3];
    let lift = Lift::Saturating {
        a_coeff: 0.4,
        b_coeff: 2.32,
        scale_ratio: 1.0,
    };
    let set = whole(
        ball(DragLaw::CliftGauvin, lift, SpinDecay::TimeConstant { tau_s: 3.0 }),
        plane,
    );
    let mut rows = about(NOMINAL, COUNT, 0.3);
    let mut random = Stream::new(5, 1);
    rows.iter_mut().for_each(|row| row[2] += 0.004 * random.normal());
    let mut more =
        |mean: f64, sd: f64| -> Vec<f64> { (0..COUNT).map(|_| mean + sd * random.normal()).collect() };
    let (wind, density, scale) = (
        [more(0.4, 0.05), more(-0.2, 0.05), more(0.0, 0.02)],
        more(1.2, 0.01),
        more(1.0, 0.03),
    );
    let columns = Columns::of(&rows);
    let mut batch = columns.batch(&set);
    batch.ball.buoyancy = true;
    batch.ball.added_mass_coeff = 0.5;
    batch.throws.wind_mps = [0, 1, 2].map(|i| Column::Each(&wind[i]));
    batch.throws.density_kgpm3 = Column::Each(&density);
    batch.throws.lift_scale_ratio = Column::Each(&scale);
    let prepared = load::prepare(&batch).unwrap();
    let cloud = pilots::learn(&batch, &prepared, dispatch::widest()).unwrap();
    assert!(cloud.terms.len() >= 9, "{:?}", cloud.terms);
    agree("all", &batch);
}

/// Throws that are not like the rest get what [`fly_batch`] gives them, to the bit.
#[test]
fn strays_fly_as_they_would_alone() {
    let set = level(SpinDecay::TimeConstant { tau_s: 3.0 });
    let mut rows = about(NOMINAL, COUNT, 1.0);
    type Change = fn(&mut [f64; 12]);
    let changes: [Change; 12] = [
        |row| row[5] *= 1.5,
        |row| row[5] = -row[5],
        |row| row[5] = 1.0,
        |row| row[3] = -row[3],
        |row| (row[3], row[4]) = (row[4], row[3]),
        |row| row[9] *= 1.3,
        |row| row[10] *= 0.5,
        |row| row[11] = 3.0,
        |row| (row[6], row[8]) = (row[7], 0.0),
        |row| row[2] = 1.9,
        |row| row[2] = 3.0,
        |row| row[4] = f64::NAN,
    ];
    for (i, change) in changes.iter().enumerate() {
        change(&mut rows[500 * i + 3]);
    }
    let columns = Columns::of(&rows);
    let batch = columns.batch(&set);
    assert_eq!(steps(&batch), Some(2));
    agree_but_for_strays(&batch, |i| i % 500 == 3 && i / 500 < changes.len());
}

fn agree_but_for_strays(batch: &Batch, stray: impl Fn(usize) -> bool) {
    let (usual, alike) = (fly_batch(batch).unwrap(), fly_alike(batch).unwrap());
    let mut as_usual = 0;
    for (i, (a, b)) in alike.iter().zip(&usual).enumerate() {
        let same = bits(&[*a]) == bits(&[*b]) && a.outcome == b.outcome;
        as_usual += usize::from(same);
        assert!(same || !stray(i), "{i}: {a:?}, not {b:?}");
        let error = distance(a.position_m, &b.position_m);
        assert!(same || error <= 1e-6, "{i}: {error:e} m");
    }
    assert!(
        as_usual < alike.len() / 20,
        "{as_usual} of {} flew as usual",
        alike.len()
    );
}

/// Throws of one trait that only strays have: in it the few that are looked at are all the same.
#[test]
fn strays_in_what_all_others_have_in_common_are_noticed() {
    let set = level(SpinDecay::TimeConstant { tau_s: 3.0 });
    let rows = about(NOMINAL, COUNT, 0.7);
    let columns = Columns::of(&rows);
    let (mut scale, mut density, mut wind) = (vec![1.0; COUNT], vec![1.2; COUNT], vec![0.0; COUNT]);
    let strays = [0.5, 0.9, 0.98, 1.003, 1.02, 1.1, 1.5];
    for (i, x) in strays.iter().enumerate() {
        scale[1000 * i + 5] = *x;
        density[1000 * i + 6] = 1.2 * x;
        wind[1000 * i + 7] = x - 1.0;
    }
    let mut batch = columns.batch(&set);
    batch.throws.lift_scale_ratio = Column::Each(&scale);
    batch.throws.density_kgpm3 = Column::Each(&density);
    batch.throws.wind_mps[2] = Column::Each(&wind);
    assert_eq!(steps(&batch), Some(2));
    agree_but_for_strays(&batch, |_| false);
}

#[test]
fn throws_that_differ_too_much_or_are_few_fly_as_usual() {
    let set = level(SpinDecay::None);
    let mut two = about(NOMINAL, COUNT, 1.0);
    let other = About {
        speed_mps: 12.0,
        elevation_deg: 70.0,
        ..NOMINAL
    };
    for (row, other) in two.iter_mut().step_by(2).zip(about(other, COUNT / 2, 1.0)) {
        *row = other;
    }
    let mut nothing = about(NOMINAL, COUNT, 1.0);
    nothing.iter_mut().for_each(|row| row[10] = f64::NAN);
    let same = vec![about(NOMINAL, 1, 1.0)[0]; COUNT];
    let cases = [
        ("two clouds", two),
        ("wide", about(NOMINAL, COUNT, 4.0)),
        ("few", about(NOMINAL, COUNT - 1, 1.0)),
        ("nothing", nothing),
        ("all the same", same),
        ("none", Vec::new()),
    ];
    for (name, rows) in cases {
        let columns = Columns::of(&rows);
        let batch = columns.batch(&set);
        assert_eq!(steps(&batch), None, "{name}");
        let (usual, alike) = (fly_batch(&batch).unwrap(), fly_alike(&batch).unwrap());
        assert!(bits(&usual) == bits(&alike), "{name}");
    }
}

#[test]
fn clouds_have_the_same_bits_on_every_width_and_number_of_threads() {
    for set in narrow() {
        let rows = about(NOMINAL, COUNT, 1.0);
        let columns = Columns::of(&rows);
        let batch = columns.batch(&set);
        let prepared = load::prepare(&batch).unwrap();
        let on = |width| {
            let cloud = pilots::learn(&batch, &prepared, width).unwrap();
            let mut arrivals = vec![Arrival::without(Outcome::NotFinite); batch.throws.count];
            share(&batch, Some(&prepared), Some(&cloud), width, &mut arrivals);
            bits(&arrivals)
        };
        let portable = on(dispatch::Width::Portable);
        for width in dispatch::available() {
            assert!(on(width) == portable, "{} {width:?}", set.name);
        }
        for threads in [1, 3] {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .unwrap();
            let flown = pool.install(|| fly_alike(&batch)).unwrap();
            assert!(bits(&flown) == portable, "{} {threads}", set.name);
        }
    }
}

#[test]
fn a_cloud_takes_about_half_the_arithmetic() {
    for set in narrow() {
        let rows = about(NOMINAL, COUNT, 1.0);
        let columns = Columns::of(&rows);
        let batch = columns.batch(&set);
        let (usual, alike) = (
            operations(&batch, false).unwrap(),
            operations(&batch, true).unwrap(),
        );
        let ratio = alike.flops() as f64 / usual.flops() as f64;
        assert!((0.4..0.6).contains(&ratio), "{}: {ratio}", set.name);
        // Two at the start, one for the first acceleration, two steps with eleven, and one for the crossing.
        assert_eq!(alike.roots / rows.len() as u64, 26, "{}", set.name);
    }
}

/// Throws that meet the plane slowly, just behind their top.
#[test]
fn clouds_that_pass_the_plane_slowly_agree() {
    let flat = About {
        speed_mps: 8.2,
        elevation_deg: 16.0,
        diameter_m: 0.068,
        mass_kg: 0.068,
        ..NOMINAL
    };
    let mut found = 0;
    for below_m in [0.02, 0.03, 0.05, 0.1] {
        let law = DragLaw::CliftGauvin;
        let normal = [0.0, 0.0, -1.0];
        let point_m = [0.0, 0.0, 0.84 - below_m];
        let set = whole(ball(law, Lift::None, SpinDecay::None), Plane { point_m, normal });
        let rows = about(flat, COUNT, 0.27);
        let columns = Columns::of(&rows);
        let batch = columns.batch(&set);
        found += usize::from(steps(&batch).is_some());
        agree(&format!("{below_m}"), &batch);
    }
    assert!(found >= 2, "{found}");
}

/// A light ball loses its speed so fast that two steps miss its velocity by more than is promised.
#[test]
fn velocity_is_as_good_as_promised() {
    let light = About {
        speed_mps: 11.2,
        elevation_deg: 53.0,
        diameter_m: 0.224,
        mass_kg: 0.065,
        ..NOMINAL
    };
    let (_, plane) = planes()[0];
    let set = whole(ball(DragLaw::CliftGauvin, Lift::None, SpinDecay::None), plane);
    let rows = about(light, COUNT, 0.1);
    let columns = Columns::of(&rows);
    agree("light", &columns.batch(&set));
}

/// Spin about an upright axis turns a throw aside and leaves the time of its crossing as it is.
#[test]
fn strays_that_are_on_time_are_noticed() {
    let (_, plane) = planes()[0];
    let lift = Lift::Linear { slope_coeff: 0.5 };
    let set = whole(
        ball(DragLaw::Constant { drag_coeff: 0.5 }, lift, SpinDecay::None),
        plane,
    );
    let mut rows = about(NOMINAL, COUNT, 0.3);
    rows.iter_mut()
        .for_each(|row| (row[6], row[7], row[8]) = (0.0, 0.0, 2.0));
    for (i, spin) in [30.0, 60.0, 100.0, 150.0].into_iter().enumerate() {
        rows[1000 * i + 5][8] = spin;
    }
    let columns = Columns::of(&rows);
    let batch = columns.batch(&set);
    assert!(steps(&batch).is_some());
    agree("upright", &batch);
}
