//! Scatter and search through the whole chain, held to closed forms, to the true chain, and to common practice.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::{ExitCurve, aim_spot};
use arcwright_model::launcher::{GuideError, PartShape};
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::numerics::normal;
use arcwright_model::numerics::sobol::Sobol;
use arcwright_model::project::{Choices, Freed, Project, ShownScatter, Spread, get, set};
use arcwright_model::scatter::{
    Cause, Detail, Lever, MAP_THROWS, MapPlace, MapPlan, NoScatter, PlaceHit, SamplePlan, ScatterPlan, Scope,
    SpotScatter, Thrower, alone, budget, centred, hit_map, remedies, report, sample,
};
use arcwright_model::seek::{Goal, SeekPlan, front, inertia_trade, seek};
use arcwright_model::shot::Chain;
use arcwright_model::target::Outcome;

fn demo(name: &str) -> Project {
    let demo = DEMOS.iter().find(|d| d.name == name).unwrap();
    parse(demo.name, demo.text).ok().unwrap().project
}

fn setpoint(p: &Project, i: usize) -> f64 {
    let chain = Chain::of(p);
    let setting = p.machine.setting;
    let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
    let aim = aim_spot(p, &chain, &curve, &setting, &p.spots[i]);
    aim.best().unwrap().wheel_radps
}

fn thrower(p: &Project, i: usize) -> (Thrower, f64) {
    centred(p, i, setpoint(p, i), 0.0, Scope::Throws, Detail::Fine, 1).unwrap()
}

fn quick(p: &Project, i: usize) -> (Thrower, f64) {
    centred(p, i, setpoint(p, i), 0.0, Scope::Throws, Detail::Coarse, 1).unwrap()
}

fn few(count: usize) -> SamplePlan {
    SamplePlan {
        seed: 1,
        most_count: count,
        until_frac: 0.0,
    }
}

fn scatter(p: &Project, i: usize, count: usize) -> SpotScatter {
    let (t, ratio) = quick(p, i);
    sample(&t, ratio, &few(count))
}

/// Nothing varies but what is set afterwards.
fn still(name: &str) -> Project {
    let mut p = demo(name);
    p.spreads.clear();
    p.piece.holes = None;
    p.limits.volley_count = 1;
    let t = &mut p.throws;
    for x in [
        &mut t.stiffness_frac,
        &mut t.friction_frac,
        &mut t.drag_frac,
        &mut t.feed_speed_frac,
        &mut t.entry_m,
        &mut t.entry_angle_rad,
        &mut t.battery_v,
        &mut t.timing_s,
    ] {
        *x = 0.0;
    }
    p
}

fn spread(p: &mut Project, key: &str, sd: f64) {
    p.spreads
        .insert(key.into(), arcwright_model::project::Spread::Normal { sd });
}

/// First-order propagation of uncertainty, JCGM 100:2008 5.1.2 (from memory): where the chain is nearly linear the
/// scatter is the root sum of squares of the one-sigma shifts, each worked out with the true passage and flight.
#[test]
fn small_scatter_is_what_first_order_propagation_gives() {
    let mut p = still("lantern");
    let inputs = [
        ("piece.mass", 0.0006),
        ("piece.diameter", 0.0003),
        ("launcher.feed_speed", 0.05),
        ("air.wind_along", 0.2),
        ("spot[2].distance", 0.01),
        ("spot[2].heading", 0.004),
    ];
    for (key, sd) in inputs {
        spread(&mut p, key, sd);
    }
    let w = setpoint(&p, 2);
    let t = Thrower::of(&p, 2, w, 0.0, Scope::Throws, Detail::Fine, 1).unwrap();
    let (release, torque) = t.release.at(0, 0.0, 0.5);
    let crossing = |q: &Project| {
        let chain = Chain::of(q);
        let passage = chain.release_driven(&q.machine.setting, release, &torque, false);
        let arcwright_model::launcher::Passage::Thrown(r) = passage else {
            panic!("refused")
        };
        let exit = arcwright_model::shot::Exit::of(&r);
        let c = chain.crossing(&exit, &chain.stance(&q.spots[2])).unwrap();
        [c.along_m, c.across_m]
    };
    let mut variance = [0.0, 0.0];
    for (key, sd) in inputs {
        let moved = |by: f64| {
            let mut q = p.clone();
            let value = get(&q, key).unwrap();
            assert!(set(&mut q, key, value + by));
            crossing(&q)
        };
        let (up, down) = (moved(sd), moved(-sd));
        for k in 0..2 {
            variance[k] += (0.5 * (up[k] - down[k])).powi(2);
        }
    }
    let s = sample(&t, 1.0, &few(2048));
    let found = [s.along_sd_m.value, s.across_sd_m.value];
    for k in 0..2 {
        let wanted = f64::sqrt(variance[k]);
        assert!(
            (found[k] / wanted - 1.0).abs() < 0.03,
            "{k}: sampled {} propagated {wanted}",
            found[k]
        );
    }
    let at = crossing(&p);
    assert!(
        (s.along_m.value - at[0]).abs() < 0.003,
        "{} {}",
        s.along_m.value,
        at[0]
    );
}

/// With heading alone the crossing runs along a line: the hit chance is the normal integral between the places where
/// the piece touches a side, found by the true flight.
#[test]
fn the_hit_chance_of_heading_alone_is_the_normal_integral_between_the_touching_headings() {
    let mut p = still("lantern");
    let sd = 3.5f64.to_radians();
    spread(&mut p, "spot[2].heading", sd);
    let w = setpoint(&p, 2);
    let t = Thrower::of(&p, 2, w, 0.0, Scope::Throws, Detail::Fine, 1).unwrap();
    let s = sample(&t, 1.0, &few(32_768));
    let (release, torque) = t.release.at(0, 0.0, 0.5);
    let chain = Chain::of(&p);
    let arcwright_model::launcher::Passage::Thrown(r) =
        chain.release_driven(&p.machine.setting, release, &torque, false)
    else {
        panic!("refused")
    };
    let exit = arcwright_model::shot::Exit::of(&r);
    let inside = |heading: f64| {
        let mut spot = p.spots[2].clone();
        spot.heading_rad = heading;
        chain.fly(&exit, &chain.stance(&spot)).outcome == Outcome::In
    };
    let edge = |sign: f64| {
        let (mut low, mut high) = (0.0, 0.3);
        for _ in 0..40 {
            let m = 0.5 * (low + high);
            if inside(sign * m) { low = m } else { high = m }
        }
        sign * low
    };
    let wanted = normal::cdf(edge(1.0) / sd) - normal::cdf(edge(-1.0) / sd);
    assert!((0.5..0.95).contains(&wanted), "{wanted}");
    assert!(
        (s.hit.frac - wanted).abs() < 1e-3,
        "sampled {} integral {wanted}",
        s.hit.frac
    );
    assert!(s.hit.low_frac - 1e-3 < wanted && wanted < s.hit.high_frac + 1e-3);
    // What misses goes past the sides, equally often on both.
    let share = |o: Outcome| s.shares.iter().find(|x| x.0 == o).unwrap().1.value;
    assert!(share(Outcome::Short) < 1e-3 && share(Outcome::Long) < 1e-3);
    assert!((share(Outcome::Left) - share(Outcome::Right)).abs() < 5e-3);
}

/// The quick ways (fitted passage, path near the rim) give every throw the fate that the true chain gives it.
#[test]
fn every_throw_has_the_fate_of_the_true_chain() {
    let mut wrong = 0;
    let mut misses = 0;
    for (name, i) in [("bramble", 2), ("lantern", 2)] {
        let mut p = demo(name);
        // Wide enough that many throws meet the rim.
        spread(&mut p, &format!("spot[{i}].heading"), 3.0f64.to_radians());
        p.throws.feed_speed_frac = 0.2;
        let (t, ratio) = thrower(&p, i);
        let s = Sobol::new(t.dimension_count(), 9, 0).unwrap();
        let mut columns = vec![Vec::new(); t.dimension_count()];
        s.block(0, 128, &mut columns);
        let c = t.crossings(&columns, ratio);
        for k in 0..128 {
            let (fate, _) = t.fate(&columns, k, ratio, &c, t.guard_m);
            let truth = t.true_outcome(&columns, k, ratio);
            wrong += usize::from(fate != truth);
            misses += usize::from(truth != Outcome::In);
        }
    }
    assert!(misses > 40, "only {misses} misses: the test sees too little");
    assert_eq!(wrong, 0, "of 256 throws");
}

#[test]
fn the_same_seed_gives_the_same_bits_on_one_thread_and_on_three_and_another_seed_agrees_within_its_error() {
    let p = demo("bramble");
    let on = |threads: usize, seed: u64| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| {
                let (t, ratio) =
                    centred(&p, 1, setpoint(&p, 1), 0.0, Scope::Throws, Detail::Fine, seed).unwrap();
                sample(
                    &t,
                    ratio,
                    &SamplePlan {
                        seed,
                        most_count: 2048,
                        until_frac: 0.0,
                    },
                )
            })
    };
    let (one, three, other) = (on(1, 5), on(3, 5), on(2, 6));
    assert_eq!(one, three);
    assert_ne!(one.hit, other.hit);
    let gap = (one.hit.frac - other.hit.frac).abs();
    let error = one.hit.half_width_frac().hypot(other.hit.half_width_frac());
    assert!(gap < 2.0 * error, "{gap} {error}");
    assert!((one.along_sd_m.value / other.along_sd_m.value - 1.0).abs() < 0.05);
}

/// The cause that alone scatters most along, its share of the whole variance along, and the deviation.
fn leading(p: &Project, i: usize) -> (Cause, f64, f64) {
    let (t, ratio) = quick(p, i);
    let sd = sample(&t, ratio, &few(2048)).along_sd_m.value;
    let mut causes = t.causes();
    causes.sort_unstable();
    causes.dedup();
    let (cause, own) = causes
        .iter()
        .map(|c| (*c, alone(&t, *c, ratio, 1)[0]))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap();
    (cause, (own / sd).powi(2), sd)
}

/// The shares of the budget add up to the whole where nothing acts together, and each is what its cause makes alone.
#[test]
fn first_order_shares_are_the_variances_of_the_causes_alone() {
    let mut p = still("lantern");
    spread(&mut p, "piece.mass", 0.0006);
    spread(&mut p, "launcher.feed_speed", 0.05);
    spread(&mut p, "air.wind_along", 0.2);
    let (t, ratio) = quick(&p, 1);
    let sd = sample(&t, ratio, &few(2048)).along_sd_m.value;
    let b = budget(&t, ratio, 1);
    let sum: f64 = b.causes.iter().map(|c| c.along.first.value).sum();
    assert!((sum - 1.0).abs() < 0.02, "{sum}");
    for c in &b.causes {
        let own = (c.alone_along_m / sd).powi(2);
        assert!((c.along.first.value - own).abs() < 0.02, "{:?} {own}", c);
        assert!((c.along.total.value - own).abs() < 0.02, "{:?} {own}", c);
    }
}

/// Common practice, no source: a narrow wheel falls into the holes of a perforated piece and scatters its throws, a
/// wide one or a close pair bridges them.
#[test]
fn a_thin_wheel_is_worse_because_of_the_holes_and_a_close_pair_of_thin_ones_mends_it() {
    let good = scatter(&demo("lantern"), 2, 2048);
    let mut thin = demo("lantern");
    thin.machine.wheel.width_m = 0.006;
    let (cause, share, sd) = leading(&thin, 2);
    assert_eq!(cause, Cause::Bite);
    assert!(share > 0.6, "{share}");
    assert!(sd > 2.0 * good.along_sd_m.value, "{sd}");
    let bad = scatter(&thin, 2, 2048);
    assert!(
        bad.hit.frac < good.hit.frac - 0.1,
        "{} {}",
        bad.hit.frac,
        good.hit.frac
    );
    let mut pair = thin.clone();
    pair.machine.wheel.count = 3;
    pair.machine.wheel.gap_m = 0.004;
    let mended = scatter(&pair, 2, 2048);
    assert!(mended.along_sd_m.value < 0.6 * bad.along_sd_m.value);
    let helps = remedies(&thin, 2, setpoint(&thin, 2), 0.0, Cause::Bite, false, 1);
    let width = helps.iter().find(|r| r.lever == Lever::Width).unwrap();
    assert!(width.halves && width.alone_m[1][0] <= 0.5 * width.alone_m[0][0]);
}

#[test]
fn a_light_flywheel_is_worse_because_of_the_wheel_speed_at_release() {
    let mut light = demo("lantern");
    for part in &mut light.machine.parts {
        match &mut part.shape {
            PartShape::Annulus { mass_kg, .. } | PartShape::Ring { mass_kg, .. } => *mass_kg *= 0.15,
            PartShape::Known { inertia_kgm2 } => *inertia_kgm2 *= 0.15,
        }
    }
    let (cause, share, _) = leading(&light, 2);
    assert_eq!(cause, Cause::Wheel);
    assert!(share > 0.6, "{share}");
}

#[test]
fn a_lumpy_guide_is_worse_because_of_its_lumps_and_more_so_the_larger_they_are() {
    let with = |amplitude_m: f64| {
        let mut p = demo("lantern");
        p.machine.guide_error = GuideError::Wave {
            amplitude_m,
            wavelength_m: 0.12,
            phase_rad: 0.0,
        };
        leading(&p, 1)
    };
    let (small, large) = (with(0.0004), with(0.0015));
    assert_eq!(large.0, Cause::Guide);
    assert!(large.1 > 0.8 && large.2 > 2.0 * small.2, "{small:?} {large:?}");
}

#[test]
fn little_squeeze_is_worse_because_pieces_differ_and_more_squeeze_is_the_remedy() {
    let mut loose = demo("lantern");
    assert!(set(&mut loose, "launcher.squeeze", 0.006));
    let now = scatter(&demo("lantern"), 1, 2048);
    let worse = scatter(&loose, 1, 2048);
    assert!(worse.along_sd_m.value > 1.3 * now.along_sd_m.value);
    let helps = remedies(&loose, 1, setpoint(&loose, 1), 0.0, Cause::Stiffness, false, 1);
    assert!(helps.iter().any(|r| r.lever == Lever::Squeeze), "{helps:?}");
}

/// A remedy said to halve a cause does so when it is really made.
#[test]
fn sorting_pieces_by_size_halves_what_size_does() {
    let p = demo("lantern");
    let own = |p: &Project| {
        let (t, ratio) = quick(p, 0);
        alone(&t, Cause::Diameter, ratio, 1)[0]
    };
    let mut sorted = p.clone();
    let sd = p.spreads["piece.diameter"].sd();
    spread(&mut sorted, "piece.diameter", 0.5 * sd);
    let ratio = own(&sorted) / own(&p);
    assert!((ratio - 0.5).abs() < 0.03, "{ratio}");
}

/// More inertia dips less and takes longer to spin up: energy of a turning wheel, textbook mechanics.
#[test]
fn inertia_trades_spin_up_against_dip() {
    let t = inertia_trade(&demo("bramble"), 1);
    assert!(t.points.len() > 6);
    for w in t.points.windows(2) {
        assert!(w[1].inertia_kgm2 > w[0].inertia_kgm2);
        assert!(w[1].ready_s.unwrap() > w[0].ready_s.unwrap());
        assert!(w[1].dip_frac < w[0].dip_frac);
    }
    let (now, best) = (&t.points[t.present.unwrap()], &t.points[t.recommended.unwrap()]);
    assert!(best.in_time && best.score.value() >= now.score.value());
}

fn steps(key: &str, low: f64, high: f64, step: f64) -> Freed {
    Freed {
        key: key.into(),
        choices: Choices::Steps { low, high, step },
    }
}

/// The hardest spot of a demo, with a machine spoiled in two ways, and a search that may mend both.
fn spoiled(most_count: usize) -> (Project, SeekPlan) {
    let mut p = demo("lantern");
    p.spots.drain(..2);
    p.machine.wheel.width_m = 0.006;
    assert!(set(&mut p, "launcher.squeeze", 0.006));
    let plan = SeekPlan {
        freed: vec![
            steps("wheel.width", 0.006, 0.046, 0.01),
            steps("launcher.squeeze", 0.006, 0.016, 0.002),
        ],
        most_count,
        seed: 1,
    };
    (p, plan)
}

/// From a machine spoiled in two ways the search finds its way back and obeys the limits.
#[test]
fn a_spoiled_machine_is_mended_by_the_search() {
    let (p, plan) = spoiled(9);
    let found = seek(&p, &plan, &mut |_| true);
    assert!(
        found.best.score.served && found.best_fails.is_empty(),
        "{:?}",
        found.best_fails
    );
    assert!(found.best.values[0] > 0.02, "{:?}", found.best.values);
    assert!(found.best.score.value() > found.present.value() + 0.5);
    assert!(
        found
            .buys
            .iter()
            .any(|b| b.key == "wheel.width" && b.without.value() < found.best.score.value())
    );
}

#[test]
fn a_search_gives_the_same_answer_on_any_number_of_threads() {
    let (p, plan) = spoiled(4);
    let on = |threads: usize| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap()
            .install(|| seek(&p, &plan, &mut |_| true))
    };
    // Not-a-number stands for spots out of reach; as text it is equal to itself.
    let (one, two) = (on(1), on(2));
    assert_eq!(one.tried.len(), 4);
    assert!(format!("{one:?}") == format!("{two:?}"));
}

#[test]
fn a_stopped_search_gives_the_best_so_far_and_one_without_a_way_out_says_what_still_fails() {
    let mut p = demo("lantern");
    // The hardest spot is enough.
    p.spots.drain(..2);
    let mut plan = SeekPlan {
        freed: vec![steps("launcher.squeeze", 0.008, 0.016, 0.001)],
        most_count: 100,
        seed: 1,
    };
    let mut heard = 0;
    let found = seek(&p, &plan, &mut |_| {
        heard += 1;
        false
    });
    assert!(found.stopped && heard == 1 && !found.tried.is_empty() && found.tried.len() < 9);
    assert!(found.best.score.served);
    p.spots[0].distance_m = 9.0;
    plan.freed = vec![steps("launcher.squeeze", 0.008, 0.016, 0.004)];
    let hopeless = seek(&p, &plan, &mut |_| true);
    assert!(!hopeless.best.score.served);
    assert!(
        hopeless
            .best_fails
            .iter()
            .any(|(check, spot)| check == "reach" && spot == "far")
    );
}

#[test]
fn along_a_front_what_is_gained_in_one_goal_is_lost_in_the_other() {
    let p = demo("bramble");
    let plan = SeekPlan {
        freed: vec![
            steps("motor.ratio", 1.2, 3.0, 0.3),
            steps("launcher.squeeze", 0.03, 0.05, 0.005),
        ],
        most_count: 10,
        seed: 1,
    };
    let found = seek(&p, &plan, &mut |_| true);
    let line = front(&found.tried, Goal::VolleyTime, 0.0);
    assert!(!line.is_empty());
    for w in line.windows(2) {
        let (a, b) = (&found.tried[w[0]].score, &found.tried[w[1]].score);
        assert!(a.volley_s.unwrap() <= b.volley_s.unwrap());
        assert!(a.worst_hit_frac + 0.1 * a.hard_hit_frac < b.worst_hit_frac + 0.1 * b.hard_hit_frac);
    }
}

const SHOWN: ShownScatter = ShownScatter {
    speed_frac: 0.012,
    angle_rad: 0.006,
    aside_rad: 0.015,
    piece_frac: 0.005,
    place_frac: None,
    last_frac: None,
    wheel_measured: true,
};

/// What a project's one spot scatters by after test shots: along, across, and how the causes were matched.
fn after_shots(p: &Project, with_budget: bool) -> arcwright_model::scatter::SpotResult {
    let mut one = p.clone();
    one.spots.truncate(1);
    let plan = ScatterPlan {
        sample: few(4096),
        with_untested: true,
        with_budget,
        with_remedies: false,
    };
    report(&one, &plan).remove(0).result.unwrap()
}

/// Variances of independent causes add up, JCGM 100:2008 5.1.2 (from memory): whatever the file says of its causes,
/// more or less than the shots showed, the throws scatter as the shots did; slopes by the true chain.
#[test]
fn throws_scatter_as_the_test_shots_showed_whatever_the_file_says_of_its_causes() {
    for (mass_frac, entry_rad, more) in [(0.01, 0.004, true), (0.12, 0.06, false)] {
        let mut p = still("bramble");
        let mass = get(&p, "piece.mass").unwrap();
        spread(&mut p, "piece.mass", mass_frac * mass);
        p.throws.entry_angle_rad = entry_rad;
        p.throws.shown = Some(SHOWN);
        let r = after_shots(&p, more);
        let m = r.matched.unwrap();
        assert_eq!(m.along_ratio == 1.0 && m.across_ratio == 1.0, more, "{m:?}");
        assert_eq!(m.speed_frac > 0.0 && m.aside_rad > 0.0, more, "{m:?}");
        let chain = Chain::of(&p);
        let curve = ExitCurve::of(&chain, &p.machine.setting, CURVE_POINTS);
        let aim = aim_spot(&p, &chain, &curve, &p.machine.setting, &p.spots[0]);
        let exit = aim.best().unwrap().exit;
        let crossing = |ln_speed: f64, angle_rad: f64| {
            let mut e = exit;
            e.speed_mps *= ln_speed.exp();
            e.spin_radps *= ln_speed.exp();
            e.angle_rad += angle_rad;
            chain.crossing(&e, &aim.stance).unwrap()
        };
        let by_speed = (crossing(0.002, 0.0).along_m - crossing(-0.002, 0.0).along_m) / 0.004;
        let by_angle = (crossing(0.0, 0.002).along_m - crossing(0.0, -0.002).along_m) / 0.004;
        let [x, y, _] = crossing(0.0, 0.0).state.position_m;
        let along = (by_speed * SHOWN.speed_frac.hypot(SHOWN.piece_frac)).hypot(by_angle * SHOWN.angle_rad);
        let across = x.hypot(y) * SHOWN.aside_rad;
        let (found, sideways) = (r.centred.along_sd_m.value, r.centred.across_sd_m.value);
        assert!((found / along - 1.0).abs() < 0.05, "{found} {along}");
        assert!((sideways / across - 1.0).abs() < 0.05, "{sideways} {across}");
        let Some(budget) = &r.budget else { continue };
        let beyond = budget.causes.iter().find(|c| c.cause == Cause::Beyond).unwrap();
        let share = 1.0 - (entry_rad / SHOWN.aside_rad).powi(2);
        assert!(
            (beyond.across.total.value - share).abs() < 0.05,
            "{:?} {share}",
            beyond.across
        );
    }
}

#[test]
fn places_in_the_volley_go_as_the_shots_showed_on_top_of_the_wheel_where_it_was_measured() {
    let mut p = still("bramble");
    p.limits.volley_count = 3;
    let errors = |p: &Project| {
        let t = quick(p, 0).0;
        [0, 1, 2].map(|k| (1.0 + t.release.error_frac(k)).ln())
    };
    let plain = errors(&p);
    let shown = ShownScatter {
        place_frac: Some(-0.01),
        last_frac: Some(0.004),
        ..SHOWN
    };
    p.throws.shown = Some(shown);
    let measured = errors(&p);
    p.throws.shown = Some(ShownScatter {
        wheel_measured: false,
        ..shown
    });
    let instead = errors(&p);
    for (k, by) in [0.0, -0.01, -0.016].into_iter().enumerate() {
        assert!(
            (measured[k] - plain[k] - by).abs() < 1e-3,
            "{k} {measured:?} {plain:?}"
        );
        assert!((instead[k] - instead[0] - by).abs() < 1e-9, "{k} {instead:?}");
    }
}

// The map of the floor.

fn places(p: &Project, distances_m: &[f64], offsets_m: &[f64]) -> Vec<MapPlace> {
    let plan = MapPlan {
        distances_m: distances_m.to_vec(),
        offsets_m: offsets_m.to_vec(),
        throw_count: MAP_THROWS,
        seed: 1,
    };
    hit_map(p, &plan, &|| false).unwrap()
}

fn hit_frac(place: &MapPlace) -> f64 {
    place.result.as_ref().unwrap().hit.frac
}

/// A place on a spot is that spot: the map must say what the whole computation for the spot says.
#[test]
fn the_map_agrees_with_the_scatter_of_each_spot() {
    for name in ["lantern", "bramble"] {
        let p = demo(name);
        for (i, spot) in p.spots.iter().enumerate() {
            let whole = scatter(&p, i, 4096);
            let map = places(&p, &[spot.distance_m], &[spot.offset_m]);
            let [PlaceHit { hit, setpoint_radps }] = map
                .iter()
                .map(|m| *m.result.as_ref().unwrap())
                .collect::<Vec<_>>()[..]
            else {
                panic!("one place");
            };
            assert!(
                hit.low_frac - 0.01 < whole.hit.frac && whole.hit.frac < hit.high_frac + 0.01,
                "{name} {}: {hit:?} against {:?}",
                spot.name,
                whole.hit
            );
            assert!(
                (setpoint_radps / whole.setpoint_radps - 1.0).abs() < 1e-2,
                "{name} {}",
                spot.name
            );
        }
    }
}

/// Nothing varies: every throw goes in wherever a wheel speed serves; farther than top speed carries, none does.
#[test]
fn without_scatter_the_map_is_all_or_nothing() {
    let p = still("lantern");
    let map = places(&p, &[1.5, 3.0, 60.0], &[0.0]);
    assert_eq!(map.iter().take(2).map(hit_frac).collect::<Vec<_>>(), [1.0, 1.0]);
    assert!(
        matches!(map[2].result, Err(NoScatter::NoSetpoint { .. })),
        "{:?}",
        map[2]
    );
}

/// A robot and a target that are the same on both sides hit as often from the left as from the right; nearer the
/// axis of an upright hoop never less often than from far aside, where it shows less of its opening.
#[test]
fn the_map_of_a_hoop_is_even_on_both_sides_and_best_ahead() {
    let p = demo("bramble");
    let map = places(&p, &[2.0], &[-2.0, -1.0, 0.0, 1.0, 2.0]);
    let hits: Vec<f64> = map.iter().map(hit_frac).collect();
    assert!(
        (hits[0] - hits[4]).abs() < 0.03 && (hits[1] - hits[3]).abs() < 0.03,
        "{hits:?}"
    );
    assert!(hits[0] + 0.05 < hits[1] && hits[1] <= hits[2] + 0.01, "{hits:?}");
}

/// The range in which a robot stands goes with the robot: a range and a deviation of the same size ask for about
/// the same wheel speed a metre away from the spot.
#[test]
fn the_range_of_a_spot_moves_with_the_place() {
    let mut p = demo("lantern");
    let [d, sd] = [p.spots[0].distance_m, 0.1];
    let far = [d + 1.0];
    let key = "spot[0].distance".to_string();
    p.spots.truncate(1);
    p.spreads.insert(key.clone(), Spread::Normal { sd });
    let normal = places(&p, &far, &[0.0])[0]
        .result
        .as_ref()
        .unwrap()
        .setpoint_radps;
    let half = sd * 3f64.sqrt();
    p.spreads.insert(
        key,
        Spread::Range {
            low: d - half,
            high: d + half,
        },
    );
    let even = places(&p, &far, &[0.0])[0]
        .result
        .as_ref()
        .unwrap()
        .setpoint_radps;
    assert!((normal / even - 1.0).abs() < 0.02, "{normal} {even}");
}

#[test]
fn the_map_is_the_same_on_any_number_of_threads() {
    let p = demo("pebble");
    let on = |count: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(count)
            .build()
            .unwrap();
        pool.install(|| format!("{:?}", places(&p, &[0.8, 1.4], &[0.0, 0.4])))
    };
    assert_eq!(on(1), on(5));
}
