//! The engine against closed forms.

use super::band::Band;
use super::near::Near;
use super::shape::{Cylinder, Rod, Wall};
use super::world::{Arm, Ball, CONTACT_STEPS_COUNT, Contact, Other, Roller, Rotor, Surfaces, World};
use crate::numerics::vector::{norm, sub};

const G: f64 = 9.80665;

fn surfaces() -> Surfaces {
    Surfaces {
        press_npm: 3000.0,
        bounce_coeff: 0.6,
        friction_coeff: 0.3,
        piece_friction_coeff: 0.3,
        roller_friction_coeff: 0.8,
        rolling_coeff: 0.0,
    }
}

fn ball(at_m: [f64; 3]) -> Ball {
    Ball {
        radius_m: 0.056,
        mass_kg: 0.061,
        inertia_coeff: 0.4,
        at_m,
        velocity_mps: [0.0; 3],
        spin_radps: [0.0; 3],
        number: 0,
    }
}

fn floor() -> Wall {
    let a = 20.0;
    Wall::new(&[[-a, -a, 0.0], [a, -a, 0.0], [a, a, 0.0], [-a, a, 0.0]])
}

fn world(surfaces: Surfaces, gravity_mps2: [f64; 3]) -> World {
    let mut w = World::new(surfaces, 0.061, CONTACT_STEPS_COUNT);
    w.walls.push(floor());
    w.gravity_mps2 = gravity_mps2;
    w
}

fn run(w: &mut World, time_s: f64) {
    for _ in 0..(time_s / w.step_s()).round() as usize {
        w.step();
    }
}

/// The closed form of [`super::bounce_of`], stiff and soft, with the stiffness of the nip.
#[test]
fn a_dropped_piece_bounces_as_the_drop_test_says_whatever_its_stiffness() {
    for press_npm in [1000.0, 3000.0, 40_000.0] {
        for bounce_coeff in [0.3, 0.6, 0.85] {
            let s = Surfaces {
                press_npm,
                bounce_coeff,
                ..surfaces()
            };
            let mut w = world(s, [0.0; 3]);
            let mut b = ball([0.0, 0.0, 0.0561]);
            b.velocity_mps[2] = -2.0;
            w.add(b);
            run(&mut w, 0.2);
            let e = w.balls[0].velocity_mps[2] / 2.0;
            assert!((e - bounce_coeff).abs() < 0.02, "{press_npm} {bounce_coeff}: {e}");
        }
    }
}

/// The nip: a piece between a turning roller and the chute. Closed forms: the roller's push is that of the press test at
/// the same squeeze, k s, and the piece rolls on the chute at half the roller's rim speed. The same world bounces a piece
/// as the drop test says (above): stiffness and bounce together.
#[test]
fn a_piece_in_the_nip_is_pressed_as_in_the_press_test_and_rolls_at_half_the_rim_speed() {
    let (radius, squeeze, rim_mps) = (0.056, 0.008, 0.8);
    // A large roller for an even drive, a small one as it is built.
    for (roller_radius, tolerance) in [(3.0, 0.01), (0.03, 0.1)] {
        let mut w = world(surfaces(), [0.0, 0.0, -G]);
        let mut rotor = Rotor::new(200.0, rim_mps / roller_radius, 1e-4);
        rotor.command_ratio = 1.0;
        rotor.speed_radps = rotor.free_radps;
        let height = 2.0 * radius - squeeze + roller_radius;
        w.roller = Some(Roller {
            shape: Cylinder::new([0.0, 0.0, height], [0.0, -1.0, 0.0], 0.1, roller_radius),
            rotor,
            paddle_count: 0,
            paddle_m: 0.0,
        });
        let mut b = ball([-0.15, 0.0, radius]);
        b.velocity_mps = [0.4, 0.0, 0.0];
        b.spin_radps = [0.0, 0.4 / radius, 0.0];
        w.add(b);
        let (mut pressed, mut at_middle) = (0.0, f64::NAN);
        while w.balls[0].at_m[0] < 0.0 {
            w.step_seen(|c: Contact| {
                if c.other == Other::Roller {
                    pressed = c.normal_n;
                }
            });
            at_middle = w.balls[0].velocity_mps[0];
        }
        let expected = 3000.0 * squeeze;
        assert!((pressed / expected - 1.0).abs() < 0.02, "{pressed} {expected}");
        assert!(
            (at_middle / (0.5 * rim_mps) - 1.0).abs() < tolerance,
            "{at_middle}"
        );
        run(&mut w, 0.5);
        assert!(w.balls[0].at_m[0] > 0.1, "{:?}", w.balls[0]);
    }
}

/// A ball that rolls down a slope: a = g sin θ/(1 + k); one too steep for its friction slides: a = g (sin θ − μ cos θ).
/// Any textbook of mechanics [meriam-dynamics].
#[test]
fn a_ball_on_a_slope_rolls_or_slides_as_the_textbook_says() {
    for (slope, friction_coeff) in [(0.2_f64, 0.3), (0.9, 0.2)] {
        let s = Surfaces {
            friction_coeff,
            ..surfaces()
        };
        let (sin, cos) = slope.sin_cos();
        let mut w = world(s, [G * sin, 0.0, -G * cos]);
        let sink = 0.061 * G * cos / 6000.0;
        w.add(ball([-10.0, 0.0, 0.056 - sink]));
        run(&mut w, 0.5);
        let rolls = friction_coeff > slope.tan() * 0.4 / 1.4;
        let a = if rolls {
            G * sin / 1.4
        } else {
            G * (sin - friction_coeff * cos)
        };
        let v = w.balls[0].velocity_mps[0];
        assert!((v / (0.5 * a) - 1.0).abs() < 0.01, "{slope}: {v} {}", 0.5 * a);
    }
}

/// A ball thrown flat without spin slides, then rolls with 1/(1 + k) of its speed, 5/7 for a solid one, whatever the
/// friction [meriam-dynamics].
#[test]
fn a_ball_that_slides_ends_rolling_with_five_sevenths_of_its_speed() {
    let mut w = world(surfaces(), [0.0, 0.0, -G]);
    let mut b = ball([0.0, 0.0, 0.056 - 0.061 * G / 6000.0]);
    b.velocity_mps = [1.4, 0.0, 0.0];
    w.add(b);
    run(&mut w, 1.0);
    let b = w.balls[0];
    assert!((b.velocity_mps[0] - 1.0).abs() < 0.005, "{b:?}");
    assert!((b.spin_radps[1] * 0.056 - 1.0).abs() < 0.005, "{b:?}");
}

/// Newton's third law between pieces, and no energy out of nothing with full bounce and no friction.
#[test]
fn pieces_keep_momentum_and_elastic_ones_keep_energy() {
    let s = Surfaces {
        bounce_coeff: 1.0,
        ..surfaces()
    };
    let smooth = Surfaces {
        friction_coeff: 0.0,
        piece_friction_coeff: 0.0,
        ..s
    };
    let mut rough = world(surfaces(), [0.0; 3]);
    let mut elastic = world(smooth, [0.0; 3]);
    for w in [&mut rough, &mut elastic] {
        for i in 0..4 {
            let a = f64::from(i);
            let mut b = ball([0.13 * a, 0.05 * (a * 1.7).sin(), 1.0 + 0.04 * a.cos()]);
            b.velocity_mps = [1.0 - 0.7 * a, 0.2 * a, 0.0];
            w.add(b);
        }
    }
    let sum = |w: &World| {
        let p = |k: usize| w.balls.iter().map(|b| b.velocity_mps[k]).sum::<f64>();
        [p(0), p(1), p(2)]
    };
    let (before, energy, lossy) = (sum(&rough), elastic.energy_j(), rough.energy_j());
    run(&mut rough, 0.6);
    run(&mut elastic, 0.6);
    assert!(norm(sub(sum(&rough), before)) < 1e-9, "{:?}", sum(&rough));
    assert!(
        (elastic.energy_j() / energy - 1.0).abs() < 2e-3,
        "{energy} {}",
        elastic.energy_j()
    );
    assert!(rough.energy_j() < 0.95 * lossy, "{lossy} {}", rough.energy_j());
}

/// A weight on a taut band: F = T (δ/a + δ/b), the balance of a string [meriam-dynamics].
#[test]
fn a_piece_on_a_band_hangs_as_a_weight_on_a_string() {
    let mut w = world(surfaces(), [0.0, 0.0, -G]);
    w.bands.push(Band {
        from_m: [-0.2, 0.0, 0.5],
        to_m: [0.2, 0.0, 0.5],
        tension_n: 6.0,
        stiffness_npm: 0.0,
    });
    w.add(ball([0.0, 0.0, 0.555]));
    run(&mut w, 2.0);
    let sag = 0.556 - w.balls[0].at_m[2];
    let expected = 0.061 * G / (6.0 * 2.0 / 0.2);
    assert!((sag / expected - 1.0).abs() < 0.01, "{sag} {expected}");
}

/// An arm pressed against a held piece pushes with the stall torque over the lever.
#[test]
fn a_stalled_arm_pushes_with_its_stall_torque() {
    let mut w = world(surfaces(), [0.0, 0.0, -G]);
    w.walls.push(Wall::new(&[
        [-1.0, 0.156, 0.0],
        [1.0, 0.156, 0.0],
        [1.0, 0.156, 1.0],
        [-1.0, 0.156, 1.0],
    ]));
    let mut rotor = Rotor::new(0.6, 6.0, 0.002);
    rotor.command_ratio = 1.0;
    w.stirrer = Some(Arm {
        hub_m: [0.0, 0.0, 0.056],
        length_m: 0.15,
        radius_m: 0.006,
        rotor,
    });
    w.add(ball([0.12, 0.099, 0.056]));
    run(&mut w, 2.0);
    let mut moment = 0.0;
    let at = w.balls[0].at_m;
    w.step_seen(|c| {
        if c.other == Other::Stirrer {
            // From the hub to the point where it touches.
            let lever = [at[0] - 0.056 * c.normal[0], at[1] - 0.056 * c.normal[1]];
            moment += c.normal_n * (lever[0] * c.normal[1] - lever[1] * c.normal[0]);
        }
    });
    let speed = w.stirrer.unwrap().rotor.speed_radps;
    assert!(speed.abs() < 1e-3, "{speed}");
    // Friction adds the thickness of the arm as a lever, at most.
    assert!((moment / 0.6 - 1.0).abs() < 0.06, "{moment}");
}

/// Least friction of two equal discs that bridge a V, by exact statics.
///
/// ```text
/// disc A:  N₁ n₁ + T₁ t₁ − N₂ u − T₂ w = (0, mg)      moments: T₁ = T₃ = −T₂
/// disc B:  N₃ n₃ + T₃ t₃ + N₂ u + T₂ w = (0, mg)
/// μ = max |T|/N
/// ```
///
/// with the walls' normals n, the line of centres u at `tilt` from the level, and tangents t, w a quarter turn on.
fn least_friction(half_angle: f64, tilt: f64) -> f64 {
    let ((sb, cb), (sp, cp)) = (half_angle.sin_cos(), tilt.sin_cos());
    let (n1, t1) = ([cb, sb], [-sb, cb]);
    let (n3, t3) = ([-cb, sb], [-sb, -cb]);
    let (u, w) = ([cp, sp], [-sp, cp]);
    // Unknowns N1, N2, N3, T2.
    let mut m = [
        [n1[0], -u[0], 0.0, -t1[0] - w[0], 0.0],
        [n1[1], -u[1], 0.0, -t1[1] - w[1], 1.0],
        [0.0, u[0], n3[0], -t3[0] + w[0], 0.0],
        [0.0, u[1], n3[1], -t3[1] + w[1], 1.0],
    ];
    for i in 0..4 {
        let p = (i..4)
            .max_by(|a, b| m[*a][i].abs().total_cmp(&m[*b][i].abs()))
            .unwrap();
        m.swap(i, p);
        for r in 0..4 {
            if r != i {
                let f = m[r][i] / m[i][i];
                let row = m[i];
                for (x, y) in m[r].iter_mut().zip(row) {
                    *x -= f * y;
                }
            }
        }
    }
    let [a, b, c, t] = [0, 1, 2, 3].map(|i| m[i][4] / m[i][i]);
    t.abs() / a.min(b).min(c)
}

/// Do two discs bridge the V with this friction?
fn bridge_holds(half_angle: f64, tilt: f64, friction_coeff: f64, press_npm: f64, steps: f64) -> bool {
    let (radius, mass) = (0.05, 0.1);
    let ((sb, cb), (sp, cp)) = (half_angle.sin_cos(), tilt.sin_cos());
    let s = Surfaces {
        press_npm,
        bounce_coeff: 0.2,
        friction_coeff,
        piece_friction_coeff: friction_coeff,
        roller_friction_coeff: 0.0,
        rolling_coeff: 0.0,
    };
    let mut w = World::new(s, mass, steps);
    w.gravity_mps2 = [0.0, 0.0, -G];
    let far = 2.0;
    let (left, right) = ([-far * sb, far * cb], [far * sb, far * cb]);
    w.walls.push(Wall::new(&[
        [left[0], -1.0, left[1]],
        [0.0, -1.0, 0.0],
        [0.0, 1.0, 0.0],
        [left[0], 1.0, left[1]],
    ]));
    w.walls.push(Wall::new(&[
        [right[0], 1.0, right[1]],
        [0.0, 1.0, 0.0],
        [0.0, -1.0, 0.0],
        [right[0], -1.0, right[1]],
    ]));
    // c x + s z = R and −c x + s z = R + 2R cos(β + ψ)
    let other = radius + 2.0 * radius * (half_angle + tilt).cos();
    let (x, z) = (0.5 * (radius - other) / cb, 0.5 * (radius + other) / sb);
    for at in [[x, 0.0, z], [x + 2.0 * radius * cp, 0.0, z + 2.0 * radius * sp]] {
        w.add(Ball {
            radius_m: radius,
            mass_kg: mass,
            ..ball(at)
        });
    }
    // Settled with friction to spare; then held with what is asked.
    w.surfaces.friction_coeff = 3.0;
    w.surfaces.piece_friction_coeff = 3.0;
    run(&mut w, 0.3);
    w.surfaces = s;
    let starts: Vec<_> = w.balls.iter().map(|b| b.at_m).collect();
    for _ in 0..(1.0 / w.step_s()) as usize {
        w.step();
        let gone = w
            .balls
            .iter()
            .zip(&starts)
            .any(|(b, s)| norm(sub(b.at_m, *s)) > 0.02 * radius);
        if gone {
            return false;
        }
    }
    true
}

/// Half angles and tilts of 18 bridges, degrees.
const BRIDGES: [(f64, f64); 18] = [
    (20.0, 2.0),
    (20.0, 5.0),
    (20.0, 10.0),
    (20.0, 15.0),
    (20.0, 20.0),
    (20.0, 30.0),
    (30.0, 2.0),
    (30.0, 5.0),
    (30.0, 10.0),
    (30.0, 15.0),
    (30.0, 20.0),
    (30.0, 30.0),
    (45.0, 2.0),
    (45.0, 5.0),
    (45.0, 10.0),
    (45.0, 15.0),
    (45.0, 20.0),
    (45.0, 30.0),
];

/// Exact statics needs no literature: six unknown forces, six balances. A thousandth less friction and the bridge falls, a
/// thousandth more and it holds.
#[test]
fn two_discs_bridge_a_v_from_the_friction_that_exact_statics_asks_for() {
    for (half_angle, tilt) in BRIDGES {
        let (b, t) = (half_angle.to_radians(), tilt.to_radians());
        let exact = least_friction(b, t);
        let holds = |friction| bridge_holds(b, t, friction, 1e5, CONTACT_STEPS_COUNT);
        assert!(!holds(exact - 0.001), "{half_angle} {tilt}: holds too early");
        assert!(holds(exact + 0.001), "{half_angle} {tilt}: falls");
    }
}

/// The same with longer steps and with steps of half the length.
#[test]
fn what_a_bridge_needs_does_not_depend_on_the_step() {
    let (b, t) = (30f64.to_radians(), 20f64.to_radians());
    let exact = least_friction(b, t);
    for steps in [0.7 * CONTACT_STEPS_COUNT, 2.0 * CONTACT_STEPS_COUNT] {
        let holds = |friction| bridge_holds(b, t, friction, 1e5, steps);
        assert!(!holds(exact - 0.001) && holds(exact + 0.001), "{steps}");
    }
}

/// From outside: the least friction at tilt 2° and 30° spans 0.0145 to 0.268 over half angles of 20°, 30° and 45°.
#[test]
fn the_least_friction_of_a_bridge_spans_what_an_independent_solution_gave() {
    let all = BRIDGES.map(|(b, t)| least_friction(b.to_radians(), t.to_radians()));
    let low = all.iter().copied().fold(f64::INFINITY, f64::min);
    let high = all.iter().copied().fold(0.0, f64::max);
    assert!(
        (low - 0.0145).abs() < 1e-4 && (high - 0.268).abs() < 1e-3,
        "{low} {high}"
    );
}

/// Two walls with a common edge push a piece on that edge once.
#[test]
fn an_edge_that_two_walls_share_carries_a_piece_once() {
    let mut w = World::new(surfaces(), 0.061, CONTACT_STEPS_COUNT);
    let a = 5.0;
    // A roof with its ridge along y.
    w.walls.push(Wall::new(&[
        [0.0, -a, 0.0],
        [0.0, a, 0.0],
        [-a, a, -a],
        [-a, -a, -a],
    ]));
    w.walls.push(Wall::new(&[
        [0.0, a, 0.0],
        [0.0, -a, 0.0],
        [a, -a, -a],
        [a, a, -a],
    ]));
    w.add(ball([0.0, 0.0, 0.055]));
    let mut total = 0.0;
    w.step_seen(|c| total += c.normal_n);
    assert!((total - 6000.0 * 0.001).abs() < 1e-6, "{total}");
}

#[test]
fn a_rod_holds_a_piece_up_and_a_cylinder_shuts_its_ends() {
    let rod = Rod::new([0.0, -1.0, 0.0], [0.0, 1.0, 0.0], 0.01);
    let m = rod.meet([0.0, 0.3, 0.06], 0.056).unwrap();
    assert!(
        (m.overlap_m - 0.006).abs() < 1e-12 && (m.point[2] - 0.01).abs() < 1e-12,
        "{m:?}"
    );
    let roller = Cylinder::new([0.0; 3], [0.0, 1.0, 0.0], 0.1, 0.03);
    assert!(roller.meet([0.0, 0.12, 0.0], 0.056).is_none());
    let m = roller.meet([0.0, 0.0, 0.08], 0.056).unwrap();
    assert!((m.overlap_m - 0.006).abs() < 1e-12, "{m:?}");
}

#[test]
fn a_wall_without_an_area_is_no_wall() {
    let mut w = World::new(surfaces(), 0.061, CONTACT_STEPS_COUNT);
    w.walls
        .push(Wall::new(&[[0.0; 3], [0.0; 3], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]]));
    w.walls.push(Wall::new(&[]));
    w.add(ball([0.01, 0.0, 0.5]));
    let mut count = 0;
    w.step_seen(|_| count += 1);
    assert_eq!(count, 0);
}

/// A list of who is near changes nothing: a heap of thirty falls to the same bits as when all pairs are gone through.
#[test]
fn a_heap_falls_the_same_to_the_last_bit_with_a_list_of_who_is_near() {
    let heap = || {
        let mut w = world(surfaces(), [0.4 * G, 0.0, -0.9 * G]);
        w.walls.push(Wall::new(&[
            [0.5, 1.0, 0.0],
            [0.5, -1.0, 0.0],
            [0.5, -1.0, 3.0],
            [0.5, 1.0, 3.0],
        ]));
        for number in 0..30 {
            let i = f64::from(number);
            let at = [
                0.13 * (i % 5.0) - 0.3,
                0.01 * (i * 1.7).sin(),
                0.06 + 0.13 * (i / 5.0).floor(),
            ];
            w.add(ball(at));
        }
        w
    };
    let (mut listed, mut all) = (heap(), heap());
    all.near = Near::all(30);
    for w in [&mut listed, &mut all] {
        run(w, 0.4);
    }
    let far = listed.balls.iter().map(|b| b.at_m[0]).fold(0.0, f64::max);
    assert!(far > 0.4, "nothing has moved: {far}");
    assert_eq!(listed.balls, all.balls);
    assert!(listed.near.pairs().len() < 150, "{}", listed.near.pairs().len());
}
