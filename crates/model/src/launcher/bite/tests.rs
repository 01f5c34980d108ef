use super::*;
use crate::launcher::BITE_COUNT;
use crate::numerics::vector::{dot, norm, sub};

const R: f64 = 0.048;
const BALL: f64 = 0.056;
const HOLE: f64 = 0.014;

fn one(width_m: f64) -> WheelSet {
    WheelSet {
        radius_m: R,
        width_m,
        count: 1,
        gap_m: 0.0,
    }
}

fn pair(width_m: f64, gap_m: f64) -> WheelSet {
    WheelSet {
        count: 2,
        gap_m,
        ..one(width_m)
    }
}

fn ball() -> Surface {
    Surface::with_even_holes(BALL, 38, HOLE)
}

/// A piece whose only hole lies where the wheel first touches.
fn one_hole() -> Surface {
    Surface {
        radius_m: BALL,
        holes: vec![[1.0, 0.0, 0.0]],
        hole_radius_m: 0.5 * HOLE,
        seam: None,
    }
}

const STRAIGHT: [f64; 4] = [0.0, 0.0, 0.0, 1.0];

fn some_orientations(count: u32) -> impl Iterator<Item = [f64; 4]> {
    // Square roots of primes are irrational and independent: an even sequence, not the study's own.
    (1..=count).map(|i| random_orientation([2f64, 3.0, 5.0].map(|p| (f64::from(i) * p.sqrt()).fract())))
}

/// q₂ after q₁.
fn after(q2: [f64; 4], q1: [f64; 4]) -> [f64; 4] {
    let ([a, b, c, w], [x, y, z, v]) = (q2, q1);
    [
        w * x + a * v + b * z - c * y,
        w * y - a * z + b * v + c * x,
        w * z + a * y - b * x + c * v,
        w * v - a * x - b * y - c * z,
    ]
}

/// Greatest difference between two profiles, the second turned on by some places.
fn differ(a: &[f64; BITE_COUNT], b: &[f64; BITE_COUNT], on: usize) -> f64 {
    let mut most = 0f64;
    for (a, b) in a.iter().zip(b.iter().cycle().skip(on)) {
        most = most.max((a - b).abs());
    }
    most
}

/// Rounding of a depth of millimetres.
const DUST_M: f64 = 1e-9;

#[test]
fn a_wheel_narrower_than_the_hole_sinks_by_two_sagittas() {
    // The edge of a hole is a plane circle, r − √(r² − h²/4) below the top. The rim meets it where the chord
    // at the wheel's side ends: the sagitta of the wheel over that chord comes on top. Elementary geometry.
    for width in [0.0001, 0.003, 0.006, 0.010, 0.0139] {
        let chord = (HOLE * HOLE - width * width).sqrt();
        let wheel = R - (R * R - chord * chord / 4.0).sqrt();
        let skin = BALL - (BALL * BALL - HOLE * HOLE / 4.0).sqrt();
        let found = bite(&one_hole(), &one(width), 0.0, STRAIGHT, 0.0).depth_m[0];
        assert!(
            (found - wheel - skin).abs() < DUST_M,
            "{width}: {found} {}",
            wheel + skin
        );
    }
}

#[test]
fn a_wheel_wider_than_the_holes_sinks_no_deeper_than_their_sagitta() {
    let skin = BALL - (BALL * BALL - HOLE * HOLE / 4.0).sqrt();
    let centred = bite(&one_hole(), &one(0.04), 0.0, STRAIGHT, 0.0).depth_m[0];
    assert!((centred - skin).abs() < DUST_M, "{centred} {skin}");
    for q in some_orientations(60) {
        let found = bite(&ball(), &one(0.04), 0.0, q, 0.0).depth_m;
        let (least, most) = found
            .iter()
            .fold((0f64, 0f64), |(a, b), d| (a.min(*d), b.max(*d)));
        assert!(least >= 0.0 && most <= skin + DUST_M, "{least} {most}");
    }
}

#[test]
fn unsqueezed_a_place_lies_over_a_hole_as_often_as_holes_take_of_the_area() {
    // A random point of a random great circle is a random point of the sphere: n caps of area 2π(1 − cos a)
    // out of 4π (Archimedes' hat box; the question is of Buffon's kind).
    let s = ball();
    let cap = 0.5 * (1.0 - (1.0 - (0.007f64 / 0.056).powi(2)).sqrt());
    assert!((s.open_frac() - 38.0 * cap).abs() < 1e-15);
    let places: Vec<f64> = some_orientations(400)
        .flat_map(|q| bite(&s, &one(0.04), 0.0, q, 0.0).depth_m)
        .collect();
    let over = places.iter().filter(|d| **d > DUST_M).count() as f64 / places.len() as f64;
    assert!((over - 38.0 * cap).abs() < 0.002, "{over} {}", 38.0 * cap);
}

#[test]
fn without_holes_nothing_bites_at_all() {
    let bare = Surface {
        holes: Vec::new(),
        ..ball()
    };
    for wheels in [one(0.006), pair(0.006, 0.02), pair(0.0, 0.0)] {
        for q in some_orientations(3) {
            for (squeeze, offset) in [(0.0, 0.0), (0.012, 0.0), (0.012, 0.03), (0.05, -0.2)] {
                assert_eq!(
                    bite(&bare, &wheels, squeeze, q, offset).depth_m,
                    [0.0; BITE_COUNT]
                );
            }
        }
    }
}

#[test]
fn overlapping_holes_are_not_counted_twice() {
    let twins = Surface {
        holes: vec![[1.0, 0.0, 0.0]; 2],
        ..one_hole()
    };
    assert!((twins.open_frac() - one_hole().open_frac()).abs() < 5e-4);
    let a = bite(&twins, &one(0.02), 0.012, STRAIGHT, 0.0).depth_m;
    let b = bite(&one_hole(), &one(0.02), 0.012, STRAIGHT, 0.0).depth_m;
    assert!(differ(&a, &b, 0) < 2e-5 && b[0] > 5e-4, "{}", b[0]);
}

/// The same depth and lean by brute force: a fine grid of skin points, each judged by itself.
fn brute(s: &Surface, wheels: &WheelSet, squeeze: f64, q: [f64; 4], offset: f64, k: usize) -> (f64, f64) {
    let n = 500;
    let azimuth = std::f64::consts::TAU * k as f64 / BITE_COUNT as f64;
    let (u, v) = (
        [azimuth.cos(), azimuth.sin(), 0.0],
        [-azimuth.sin(), azimuth.cos(), 0.0],
    );
    let centres: Vec<[f64; 3]> = s.holes.iter().map(|h| turned(*h, q)).collect();
    let edge = s.hole_rad().cos();
    let press = 0.5 * squeeze;
    let half = 0.035;
    let mut cells = Vec::new();
    let pitch = wheels.width_m + wheels.gap_m;
    let total = pitch * f64::from(wheels.count) - wheels.gap_m;
    for i in 0..n {
        for j in 0..n {
            let b = half * ((2 * i + 1) as f64 / n as f64 - 1.0);
            let t = offset + total * ((j as f64 + 0.5) / n as f64 - 0.5);
            let under = (t - offset + 0.5 * total).rem_euclid(pitch) < wheels.width_m;
            let up2 = s.radius_m * s.radius_m - b * b - t * t;
            if !under || up2 <= 0.0 {
                continue;
            }
            let up = up2.sqrt();
            let point = [up * u[0] + b * v[0], up * u[1] + b * v[1], t];
            let solid = centres.iter().all(|c| dot(*c, point) <= edge * s.radius_m);
            let lower = s
                .seam
                .is_some_and(|m| dot(turned(m.normal, q), point).abs() < 0.5 * m.width_m);
            let sunk = if lower { s.seam.unwrap().depth_m } else { 0.0 };
            let gap = wheels.radius_m + s.radius_m - (wheels.radius_m.powi(2) - b * b).sqrt() - up;
            cells.push((gap, solid, sunk, t));
        }
    }
    let whole = |p: f64| cells.iter().map(|c| (p - c.0).max(0.0)).sum::<f64>();
    let carried: f64 = cells
        .iter()
        .filter(|c| c.1)
        .map(|c| (press - c.0 - c.2).max(0.0))
        .sum();
    let seam_share = s.seam.map_or(0.0, |m| 0.5 * m.width_m / s.radius_m);
    let in_seam = s.seam.map_or(1.0, |m| whole(press - m.depth_m) / whole(press));
    let mean = 1.0 - s.open_frac() - seam_share * (1.0 - in_seam);
    let (mut low, mut high) = (0.0, 3.0 * press);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if mean * whole(middle) < carried {
            low = middle
        } else {
            high = middle
        }
    }
    let load = whole(press);
    let centre = cells.iter().map(|c| (press - c.0).max(0.0) * c.3).sum::<f64>() / load;
    let second: f64 = cells
        .iter()
        .filter(|c| c.0 < press)
        .map(|c| (c.3 - centre).powi(2))
        .sum();
    let lost = |c: &(f64, bool, f64, f64)| {
        (press - c.0).max(0.0) - if c.1 { (press - c.0 - c.2).max(0.0) } else { 0.0 }
    };
    let moment: f64 = cells.iter().map(|c| lost(c) * (c.3 - centre)).sum();
    (press - low, moment / second)
}

#[test]
fn depth_and_lean_are_those_of_a_brute_sum_over_the_skin() {
    let seamed = Surface {
        seam: Some(Seam {
            normal: [0.6, 0.0, 0.8],
            width_m: 0.006,
            depth_m: 0.0015,
        }),
        ..ball()
    };
    for (i, q) in some_orientations(4).enumerate() {
        let (wheels, squeeze, offset) = [
            (one(0.04), 0.012, 0.0),
            (one(0.006), 0.012, 0.004),
            (pair(0.008, 0.009), 0.009, -0.006),
            (one(0.02), 0.016, 0.0),
        ][i];
        for s in [&ball(), &seamed] {
            let found = Footprint::of(s, &wheels, squeeze, offset).imprint(s, q);
            let k = 11 * i + 2;
            let (depth, lean) = brute(s, &wheels, squeeze, q, offset, k);
            assert!(
                (found.depth_m[k] - depth).abs() < 2e-5,
                "{i}: {} {depth}",
                found.depth_m[k]
            );
            assert!(
                (found.lean_rad[k] - lean).abs() < 2e-3,
                "{i} {}: {} {lean}",
                s.seam.is_some(),
                found.lean_rad[k]
            );
        }
    }
}

#[test]
fn eight_times_as_many_rows_move_no_depth_by_half_a_percent_of_the_press() {
    for wheels in [one(0.04), one(0.006), pair(0.006, 0.01)] {
        let coarse = Footprint::of(&ball(), &wheels, 0.012, 0.0);
        let fine = Footprint::with_rows(&ball(), &wheels, [0.012, 0.0], 240.0);
        let mut most = 0f64;
        for q in some_orientations(30) {
            let (a, b) = (coarse.imprint(&ball(), q), fine.imprint(&ball(), q));
            most = most.max(differ(&a.depth_m, &b.depth_m, 0));
        }
        assert!(most < 0.005 * 0.006, "{wheels:?}: {most}");
    }
}

#[test]
fn the_mean_support_is_the_reference() {
    // Every place of the patch is a random place of the sphere, so the share of support lost is on average the
    // share of holes. Counted from a piece without holes the mean would be 0.4 mm here.
    let found = study(&ball(), &one(0.04), 0.012, 200);
    assert!(found.mean_depth_m.abs() < 1e-5, "{}", found.mean_depth_m);
}

#[test]
fn the_depth_falls_with_the_width_of_the_wheel() {
    // Common practice, no source: narrow wheels drop into the holes of a perforated piece, wide ones bridge them.
    for q in some_orientations(20) {
        let [a, b, c] = [0.004, 0.009, 0.03].map(|w| bite(&ball(), &one(w), 0.0, q, 0.0).depth_m);
        let rise = |a: [f64; BITE_COUNT], b: [f64; BITE_COUNT]| {
            b.iter().zip(a).map(|(b, a)| b - a).fold(0.0, f64::max)
        };
        let rise = rise(a, b).max(rise(b, c));
        assert!(rise < 1e-5, "{rise}");
    }
    let p95 = [0.004, 0.008, 0.014, 0.02, 0.03, 0.04].map(|w| study(&ball(), &one(w), 0.012, 100).p95_m);
    assert!(p95.is_sorted_by(|a, b| a > b), "{p95:?}");
    let spread = |w| study(&ball(), &one(w), 0.012, 100).sd_place_m;
    assert!(spread(0.006) > 4.0 * spread(0.04));
}

#[test]
fn a_close_pair_bridges_what_one_narrow_wheel_falls_into() {
    // Common practice, no source: two narrow wheels side by side serve as a wide one.
    let p95 = |wheels| study(&ball(), &wheels, 0.012, 100).p95_m;
    let alone = p95(one(0.006));
    let close = p95(pair(0.006, 0.008));
    assert!(close < 0.4 * alone, "{close} {alone}");
    assert!(close < p95(one(0.012)), "as much rim in one piece");
    assert!(
        p95(pair(0.006, 0.024)) > 1.5 * close,
        "far apart, each falls by itself"
    );
}

#[test]
fn turning_holes_and_orientation_against_each_other_changes_nothing() {
    let q = random_orientation([0.3, 0.7, 0.2]);
    let p = random_orientation([0.8, 0.15, 0.6]);
    let seam = Seam {
        normal: [0.0, 0.6, 0.8],
        width_m: 0.004,
        depth_m: 0.001,
    };
    let s = Surface {
        seam: Some(seam),
        ..ball()
    };
    let spun = Surface {
        holes: s.holes.iter().map(|h| turned(*h, p)).collect(),
        seam: Some(Seam {
            normal: turned(seam.normal, p),
            ..seam
        }),
        ..s.clone()
    };
    let back = [-p[0], -p[1], -p[2], p[3]];
    let a = bite(&s, &one(0.01), 0.012, q, 0.0).depth_m;
    let b = bite(&spun, &one(0.01), 0.012, after(q, back), 0.0).depth_m;
    assert!(differ(&a, &b, 0) < DUST_M);
    // A turn about the shaft by three places moves the profile by three places.
    let half = std::f64::consts::PI * 3.0 / BITE_COUNT as f64;
    let c = bite(
        &s,
        &one(0.01),
        0.012,
        after([0.0, 0.0, half.sin(), half.cos()], q),
        0.0,
    )
    .depth_m;
    assert!(differ(&a, &c, 3) < DUST_M);
    assert!(differ(&a, &[0.0; BITE_COUNT], 0) > 1e-4);
}

#[test]
fn orientations_send_a_direction_everywhere_alike() {
    // Isotropy: mean 0, covariance 1/3 of unity, fourth moment of a component 1/5.
    let n = 4000;
    for v in [[1.0, 0.0, 0.0], [0.0, 0.6, 0.8]] {
        let (mut mean, mut product, mut fourth) = ([0.0; 3], [[0.0; 3]; 3], [0.0; 3]);
        for q in some_orientations(n) {
            let t = turned(v, q);
            assert!((norm(t) - 1.0).abs() < 1e-14);
            for i in 0..3 {
                mean[i] += t[i] / f64::from(n);
                fourth[i] += t[i].powi(4) / f64::from(n);
                for j in 0..3 {
                    product[i][j] += t[i] * t[j] / f64::from(n);
                }
            }
        }
        for i in 0..3 {
            assert!(
                mean[i].abs() < 0.01 && (fourth[i] - 0.2).abs() < 0.01,
                "{mean:?} {fourth:?}"
            );
            for j in 0..3 {
                let expected = if i == j { 1.0 / 3.0 } else { 0.0 };
                assert!((product[i][j] - expected).abs() < 0.01, "{product:?}");
            }
        }
    }
}

#[test]
fn spread_directions_come_near_the_least_energy_of_equal_charges() {
    // Sum of 1/distance. 4: tetrahedron, 6: octahedron, 12: icosahedron from their edges; 32: the minimum known
    // for the problem of Thomson, 412.261 (from memory).
    for (count, least) in [
        (2, 0.5),
        (4, 3.674_234_6),
        (6, 9.985_281_4),
        (12, 49.165_253),
        (32, 412.261),
    ] {
        let points = even_directions(count);
        let mut energy = 0.0;
        for (i, p) in points.iter().enumerate() {
            for q in &points[i + 1..] {
                energy += 1.0 / norm(sub(*p, *q));
            }
        }
        assert!(
            energy > least * (1.0 - 1e-6) && energy < 1.01 * least,
            "{count}: {energy} {least}"
        );
    }
    assert_eq!(even_directions(1).len(), 1);
    assert_eq!(even_directions(0).len(), 0);
}

#[test]
fn a_narrow_wheel_in_a_seam_sinks_to_its_floor_and_a_wide_one_spans_it() {
    let s = Surface {
        holes: Vec::new(),
        hole_radius_m: 0.0,
        seam: Some(Seam {
            normal: [0.0, 0.0, 1.0],
            width_m: 0.008,
            depth_m: 0.002,
        }),
        radius_m: BALL,
    };
    let narrow = bite(&s, &one(0.004), 0.0, STRAIGHT, 0.0).depth_m;
    let wide = bite(&s, &one(0.03), 0.0, STRAIGHT, 0.0).depth_m;
    let span = BALL - (BALL * BALL - 0.004f64.powi(2)).sqrt();
    assert!(differ(&narrow, &[0.002; BITE_COUNT], 0) < DUST_M, "{narrow:?}");
    assert!(differ(&wide, &[span; BITE_COUNT], 0) < DUST_M, "{wide:?} {span}");
    let half = 0.5f64.sqrt();
    // Crossing it, the narrow wheel meets the groove twice in a turn and is level in between.
    let across = bite(&s, &one(0.004), 0.0, [half, 0.0, 0.0, half], 0.0).depth_m;
    let deep = across.iter().filter(|d| **d > 1e-5).count();
    assert!((2..=6).contains(&deep), "{across:?}");
}

#[test]
fn one_hole_beside_the_middle_leans_the_piece_to_its_side() {
    let tilted = |up: f64| Surface {
        holes: vec![[(1.0 - up * up).sqrt(), 0.0, up]],
        ..one_hole()
    };
    let lean = |up: f64| {
        let s = tilted(up);
        Footprint::of(&s, &one(0.03), 0.012, 0.0)
            .imprint(&s, STRAIGHT)
            .lean_rad[0]
    };
    assert!(lean(0.15) > 0.005, "{}", lean(0.15));
    assert!((lean(0.15) + lean(-0.15)).abs() < DUST_M && lean(0.0).abs() < DUST_M);
}

#[test]
fn a_hole_that_swallows_the_wheel_lets_it_fall_through() {
    let cup = Surface {
        hole_radius_m: 0.055,
        ..one_hole()
    };
    let found = bite(&cup, &one(0.01), 0.004, STRAIGHT, 0.0).depth_m[0];
    // The rim stands on the edge of the hole if it is large enough to reach, else falls in; here it falls in.
    assert!(found > 0.04 && found <= BALL, "{found}");
}

#[test]
fn no_number_panics() {
    let round = ball();
    let odd = [
        f64::NAN,
        f64::INFINITY,
        f64::NEG_INFINITY,
        0.0,
        -1.0,
        1e-300,
        1e300,
        0.03,
    ];
    for a in odd {
        for b in odd {
            let s = Surface {
                radius_m: a,
                hole_radius_m: b,
                seam: Some(Seam {
                    normal: [a, b, 0.0],
                    width_m: b,
                    depth_m: a,
                }),
                holes: vec![[1.0, 0.0, 0.0], [0.0, a, b]],
            };
            for c in odd {
                let wheels = WheelSet {
                    radius_m: c,
                    width_m: a,
                    count: 3,
                    gap_m: b,
                };
                bite(&s, &wheels, c, [a, b, c, 1.0], b);
                bite(&round, &wheels, b, [0.0, 0.0, 0.0, 1.0], c);
                bite(&round, &one(0.03), c, [a, b, c, 0.0], a);
                bite(&s, &one(0.03), c, STRAIGHT, a);
            }
        }
    }
}

#[test]
fn the_width_found_bridges_and_a_narrower_one_does_not() {
    let (limit, squeeze) = (0.0006, 0.012);
    let p95 = |w: f64| study(&ball(), &one(w), squeeze, 64).p95_m;
    let width = bridging_width_m(&ball(), &one(0.006), squeeze, limit, 64).unwrap();
    assert!(p95(width) <= limit && p95(width - 0.001) > limit, "{width}");
    let [least, most] = bridging_gap_m(&ball(), &one(0.008), squeeze, limit, 64, 2).unwrap();
    let of_gap = |g: f64| study(&ball(), &pair(0.008, g), squeeze, 64).p95_m;
    assert!(of_gap(least) <= limit && of_gap(most) <= limit, "{least} {most}");
    assert!(
        of_gap(least - 0.001) > limit && of_gap(most + 0.001) > limit,
        "{least} {most}"
    );
    assert_eq!(bridging_width_m(&ball(), &one(0.006), squeeze, 0.0, 16), None);
}
