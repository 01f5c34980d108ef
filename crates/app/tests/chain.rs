//! The whole chain against closed forms and symmetries, on the demo machines.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::{Arc, ExitCurve, SpotAim, aim_spot};
use arcwright_model::flight::{DragLaw, Lift, SpinDecay};
use arcwright_model::limits::{self, CURVE_POINTS, Status};
use arcwright_model::project::{Project, Spot};
use arcwright_model::shot::Chain;
use arcwright_model::target::Outcome;
use arcwright_model::units::STANDARD_GRAVITY_MPS2;
use arcwright_model::volley_run::run_from;

fn demo(name: &str) -> Project {
    let d = DEMOS.iter().find(|d| d.name == name).unwrap();
    parse(d.name, d.text).unwrap().project
}

fn aim(project: &Project, spot: &Spot) -> SpotAim {
    let chain = Chain::of(project);
    let curve = ExitCurve::of(&chain, &project.machine.setting, CURVE_POINTS);
    aim_spot(project, &chain, &curve, &project.machine.setting, spot)
}

fn in_vacuum(mut p: Project) -> Project {
    p.piece.drag.law = DragLaw::None;
    p.piece.lift = Lift::None;
    p.piece.spin_decay = SpinDecay::None;
    p.piece.carried_air = false;
    p.target.back_wall_m = 0.0;
    p
}

/// v² = g d²/(2 cos²θ (d tan θ − h)): the textbook parabola through a point at (d, h).
#[test]
fn without_air_the_setpoint_throws_at_the_speed_of_the_parabola() {
    for name in ["lantern", "bramble", "pebble"] {
        let p = in_vacuum(demo(name));
        for spot in &p.spots {
            let a = aim(&p, spot);
            let s = a
                .best()
                .unwrap_or_else(|| panic!("{name} {} {:?}", spot.name, a.miss));
            let centre = p.target.centre_m(&a.stance.at);
            let (d, h) = (
                centre[0].hypot(centre[1]) - s.exit.forward_m,
                centre[2] - s.exit.height_m,
            );
            let t = s.exit.angle_rad;
            let v = (STANDARD_GRAVITY_MPS2 * d * d / (2.0 * t.cos().powi(2) * (d * t.tan() - h))).sqrt();
            assert!(
                (s.exit.speed_mps / v - 1.0).abs() < 1e-3,
                "{name} {}: {} {v}",
                spot.name,
                s.exit.speed_mps
            );
        }
    }
}

/// The two elevations through a point at one speed: θ₁ + θ₂ = 90° + atan(h/d), textbook.
#[test]
fn without_air_the_two_arcs_are_complementary_about_the_line_of_sight() {
    let p = in_vacuum(demo("lantern"));
    let a = aim(&p, &p.spots[2]);
    let s = a.best().unwrap();
    let centre = p.target.centre_m(&a.stance.at);
    let sight = (centre[2] - s.exit.height_m).atan2(centre[0] - s.exit.forward_m);
    let other = s.companion.expect("two arcs").angle_rad;
    let sum = (s.exit.angle_rad + other).to_degrees();
    assert!(
        (sum - 90.0 - sight.to_degrees()).abs() < 0.05,
        "{sum} {}",
        sight.to_degrees()
    );
    assert_eq!(
        s.arc,
        if s.exit.angle_rad > other {
            Arc::High
        } else {
            Arc::Low
        }
    );
}

#[test]
fn a_spot_to_the_left_mirrors_one_to_the_right() {
    let p = demo("lantern");
    let at = |offset_m: f64| {
        aim(
            &p,
            &Spot {
                offset_m,
                ..p.spots[1].clone()
            },
        )
    };
    let (left, right, middle) = (at(0.6), at(-0.6), at(0.0));
    let pick = |a: &SpotAim| (a.best().unwrap().wheel_radps, a.stance.heading_rad);
    let ((lw, lh), (rw, rh)) = (pick(&left), pick(&right));
    assert!(
        (lw - rw).abs() < 1e-6 * lw && (lh + rh).abs() < 1e-12 && lh < 0.0,
        "{lw} {rw} {lh} {rh}"
    );
    assert!(lw > pick(&middle).0, "the way is longer from the side");
    let clear = |a: &SpotAim| a.best().unwrap().arrival.clearance.unwrap();
    assert!((clear(&left).left_m - clear(&right).right_m).abs() < 1e-6);
}

#[test]
fn a_heading_error_moves_the_crossing_to_its_own_side() {
    let p = demo("lantern");
    let turned = Spot {
        heading_rad: 0.05,
        ..p.spots[2].clone()
    };
    let a = aim(&p, &turned);
    let across = a.best().unwrap().arrival.crossing.unwrap().across_m;
    // Left is positive; about distance times angle.
    assert!((across - 0.05 * 3.9).abs() < 0.03, "{across}");
}

#[test]
fn wind_and_thicker_air_change_the_setpoint_the_way_they_push() {
    let setpoint = |change: &dyn Fn(&mut Project)| {
        let mut p = demo("lantern");
        change(&mut p);
        aim(&p, &p.spots[2]).best().unwrap().wheel_radps
    };
    let calm = setpoint(&|_| {});
    assert!(setpoint(&|p| p.site.wind_along_mps = -1.5) > calm + 2.0);
    assert!(setpoint(&|p| p.site.wind_along_mps = 1.5) < calm - 2.0);
    assert!(setpoint(&|p| p.site.pressure_pa *= 1.1) > calm);
    assert!(
        setpoint(&|p| p.piece.mass_kg *= 1.1) < calm,
        "a heavier piece is slowed less"
    );
}

#[test]
fn what_is_not_known_moves_the_crossing_as_much_as_doubt_says() {
    let p = demo("lantern");
    let a = aim(&p, &p.spots[2]);
    let s = a.best().unwrap();
    assert!(s.doubt.along_sd_m > 0.02 && s.doubt.setpoint_sd_radps > 1.0);
    let shares: f64 = s.doubt.shares.iter().map(|x| x.1).sum();
    assert!((shares - 1.0).abs() < 1e-9);
    // By hand: one standard deviation more drag, at the same wheel speed.
    let mut more = p.clone();
    let sd = p.spreads["piece.drag"].sd();
    let value = arcwright_model::project::get(&p, "piece.drag").unwrap();
    assert!(arcwright_model::project::set(&mut more, "piece.drag", value + sd));
    let chain = Chain::of(&more);
    let passage = chain.release(&more.machine.setting, s.wheel_radps, false);
    let arcwright_model::launcher::Passage::Thrown(r) = passage else {
        panic!()
    };
    let moved = chain
        .crossing(&arcwright_model::shot::Exit::of(&r), &a.stance)
        .unwrap()
        .along_m
        - s.arrival.crossing.unwrap().along_m;
    let share = s.doubt.shares.iter().find(|x| x.0 == "piece.drag").unwrap().1;
    let told = s.doubt.along_sd_m * share.sqrt();
    assert!((moved.abs() / told - 1.0).abs() < 0.05, "{moved} {told}");
    assert!(moved < 0.0, "more drag comes down shorter");
}

#[test]
fn a_volley_starts_like_the_single_throw_and_later_throws_follow_the_wheel() {
    let p = demo("lantern");
    let chain = Chain::of(&p);
    let a = aim(&p, &p.spots[2]);
    let run = run_from(&p, &chain, &a, false).unwrap();
    let single = a.best().unwrap();
    for (t, r) in run.train.throws.iter().zip(&run.throws) {
        let exit = r.exit.unwrap();
        // Exit speed follows wheel speed in proportion, within what the torque of the moment adds.
        let expected = single.exit.speed_mps * t.before_radps / single.wheel_radps;
        assert!(
            (exit.speed_mps / expected - 1.0).abs() < 0.02,
            "{exit:?} {expected}"
        );
        assert_ne!(r.outcome, Outcome::None);
    }
    assert_eq!(run.train.throws.len(), 4);
}

#[test]
fn the_nearest_brief_is_met_when_it_is_written_into_the_file() {
    let mut p = demo("lantern");
    p.machine.knobs = Default::default();
    p.spots[2].distance_m = 12.0;
    p.limits.mass_kg = Some(13.0);
    let before = limits::check(&p);
    let change = |key: &str| {
        let mut all = before.verdicts.iter().flat_map(|v| &v.nearest_brief);
        // The last asks for most: the place must do with every unknown at its ends too.
        all.rfind(|c| c.0 == key)
            .map(|c| c.1)
            .unwrap_or_else(|| panic!("{key}"))
    };
    // What a person reads off the screen, typed into the file.
    let typed = |key: &str| {
        let a = change(key);
        arcwright_model::units::parse(&p.say(a.value, a.dimension), a.dimension).unwrap()
    };
    let mut after = p.clone();
    after.spots[2].distance_m = typed("spot[2].distance");
    after.limits.mass_kg = Some(typed("limits.mass"));
    let verdicts = limits::check(&after).verdicts;
    let failing: Vec<_> = verdicts
        .iter()
        .filter(|v| v.status == Status::Fails)
        .map(|v| (v.check, &v.why))
        .collect();
    assert!(failing.is_empty(), "{failing:?}");
}

#[test]
fn an_upright_hoop_is_met_more_squarely_when_the_entry_remedy_is_followed() {
    let mut p = demo("bramble");
    p.limits.entry_angle_rad = Some(80f64.to_radians());
    p.machine.knobs = Default::default();
    let entries = |p: &Project| -> Vec<(f64, String)> {
        let all = limits::check(p)
            .verdicts
            .into_iter()
            .filter(|v| v.check == "entry");
        all.map(|v| (v.found.unwrap().value, v.mend)).collect()
    };
    let now = entries(&p);
    let tilted = |by: f64| {
        let mut q = p.clone();
        q.machine.setting.tilt_rad += by;
        entries(&q)
    };
    let (up, down) = (tilted(-0.03), tilted(0.03));
    for (i, (found, mend)) in now.iter().enumerate() {
        let followed = if mend.contains("steeper") {
            up[i].0
        } else {
            down[i].0
        };
        assert!(followed > *found, "spot {i}: {mend}: {found} then {followed}");
    }
    assert!(
        now[0].1.contains("steeper") && now[2].1.contains("flatter"),
        "{now:?}"
    );
}

#[test]
fn a_faster_wheel_is_not_the_remedy_while_the_piece_slips() {
    let mut p = demo("lantern");
    p.machine.knobs = Default::default();
    let mend = |p: &Project| {
        let all = limits::check(p).verdicts;
        let reach = all.into_iter().find(|v| v.check == "reach" && v.subject == "far");
        reach.unwrap().mend
    };
    p.machine.drive.gear_ratio = 4.0;
    assert!(mend(&p).contains("raise the top wheel speed"), "{}", mend(&p));
    p.machine.drive.gear_ratio = 1.0;
    p.piece.mass_kg = 1.0;
    assert!(mend(&p).contains("more grip first"), "{}", mend(&p));
}

#[test]
fn the_better_setting_lies_within_the_travel_of_every_knob() {
    let mut p = demo("lantern");
    p.spots[2].distance_m = 12.0;
    let best = limits::check(&p).best.unwrap().setting;
    let k = p.machine.knobs;
    for (knob, x) in [
        (k.slide, best.slide_m),
        (k.tilt, best.tilt_rad),
        (k.reach, best.reach_m),
    ] {
        let knob = knob.unwrap();
        assert!(
            x >= knob.low - 1e-9 && x <= knob.high + 1e-9,
            "{x} outside {} to {}",
            knob.low,
            knob.high
        );
    }
}
