//! What a spot asks of any launcher.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::needed;
use arcwright_model::flight::{Drag, DragLaw};
use arcwright_model::project::Project;
use arcwright_model::shot::Chain;

/// The first demo.
fn project() -> Project {
    parse("demo", DEMOS[0].text).unwrap().project
}

/// The parabola of every textbook of mechanics: v² = g d² / (2 cos²θ (d tan θ − h)).
#[test]
fn without_air_it_is_the_parabola() {
    let mut p = project();
    p.piece.drag = Drag {
        law: DragLaw::Constant { drag_coeff: 0.0 },
        scale_ratio: 1.0,
    };
    p.piece.carried_air = false;
    let chain = Chain::of(&p);
    let g = chain.medium.gravity_mps2;
    for spot in &p.spots {
        let d = spot.distance_m + 0.5 * p.target.depth_m;
        let h = p.target.rim_height_m - chain.launcher.axle_height_m;
        let all = needed(&p, spot);
        assert!(all.len() > 15);
        for n in &all {
            let (s, c) = n.angle_rad.sin_cos();
            let v = (g * d * d / (2.0 * c * c * (d * s / c - h))).sqrt();
            assert!(
                (n.speed_mps - v).abs() < 1e-4 * v,
                "{} deg: {} for {v}",
                n.angle_rad.to_degrees(),
                n.speed_mps
            );
            assert!(n.window_mps[0] <= n.speed_mps && n.speed_mps < n.window_mps[1]);
        }
    }
}

#[test]
fn air_asks_for_more_speed_and_a_steeper_limit_leaves_fewer_exits() {
    let mut p = project();
    let far = p.spots[2].clone();
    let serving = |p: &Project| needed(p, &far).iter().filter(|n| n.serves).count();
    let free = serving(&p);
    let thick: Vec<f64> = needed(&p, &far).iter().map(|n| n.speed_mps).collect();
    p.limits.entry_angle_rad = Some(1.1);
    let steep = serving(&p);
    assert!(0 < steep && steep < free, "{steep} of {free}");
    p.piece.drag.scale_ratio = 0.5;
    let thin = needed(&p, &far);
    assert!(thin.iter().zip(&thick).all(|(n, v)| n.speed_mps < *v));
}

#[test]
fn a_rim_above_any_throw_leaves_none() {
    let mut p = project();
    p.target.rim_height_m = 200.0;
    assert!(p.spots.iter().all(|s| needed(&p, s).is_empty()));
}
