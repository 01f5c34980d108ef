//! No input makes a picture panic, break, or put a number in it that is none.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod samples;

use arcwright_model::launcher::{PassageSample, Setting, VolleySample};
use arcwright_model::project::UnitSystem::{Metric, Us};
use arcwright_model::target::{Outcome, Outline, Target};
use arcwright_model::units::Dimension;
use arcwright_paper::drawings::Better;
use arcwright_paper::drawings::bite::{self, BiteChart, WidthPoint};
use arcwright_paper::drawings::budget::{self, BudgetCause, BudgetPicture, BudgetSpot, Share};
use arcwright_paper::drawings::drift::{self, DriftChart, DriftStrip};
use arcwright_paper::drawings::fan::{self, Band, Crossing, Fan, Flight};
use arcwright_paper::drawings::film::{self, FilmChart};
use arcwright_paper::drawings::front::{self, FrontPicture, FrontPoint, Goal};
use arcwright_paper::drawings::guide_force::{self, GuideForce, SqueezeAlong, SteadySqueeze};
use arcwright_paper::drawings::plan_view::{self, PlanView};
use arcwright_paper::drawings::scatter::{
    self, HitChance, Opening, ScatterCrossing, ScatterPanel, ScatterPicture,
};
use arcwright_paper::drawings::setpoints::{self, CurvePoint, Setpoints, Speed, SpotMark};
use arcwright_paper::drawings::side_view::{self, Exit, Part, Role, SideView, Wheel};
use arcwright_paper::drawings::telemetry::{self, Found, TelemetryChart};
use arcwright_paper::drawings::trade::{self, TradePicture, TradeRow};
use arcwright_paper::drawings::volley::{self, Throw, VolleyChart};
use arcwright_paper::drawings::wander::{self, WanderFinding, WanderPicture, WanderRow};
use arcwright_paper::units::Measure;
use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;

/// Parses, and every number in the geometry is finite and near the picture.
fn sound(svg: &str) {
    let doc = roxmltree::Document::parse(svg).expect("well formed");
    let root = doc.root_element();
    for side in ["width", "height"] {
        let v: f64 = root.attribute(side).unwrap().parse().unwrap();
        assert!((100.0..5000.0).contains(&v), "{side} {v}");
    }
    for node in doc.descendants().filter(|n| n.is_element()) {
        for name in [
            "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "width", "height",
        ] {
            if let Some(text) = node.attribute(name) {
                let v: f64 = text.parse().unwrap();
                assert!(v.abs() <= 1e5, "{name} {v}");
            }
        }
        if let Some(d) = node.attribute("d") {
            assert!(!d.contains("NaN") && !d.contains("inf"), "{d}");
        }
    }
}

fn any() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => -5.0..5.0f64,
        2 => 0.0..600.0f64,
        1 => prop::sample::select(vec![
            0.0, -0.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300, -1e300, f64::MAX, 1e9, -1e9, 1e-300,
            f64::MIN_POSITIVE, 1e6,
        ]),
    ]
}

fn point() -> impl Strategy<Value = [f64; 2]> {
    [any(), any()]
}

fn line() -> impl Strategy<Value = Vec<[f64; 2]>> {
    vec(point(), 0..12)
}

fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z ]{0,12}",
        "\\PC{0,40}",
        Just("<&\"'>\u{0}\u{1}\u{ffff}".to_string())
    ]
}

prop_compose! {
    fn passage_sample()(a in vec(any(), 12), on_hood: bool) -> PassageSample {
        PassageSample {
            time_s: a[0],
            centre_m: [a[1], a[2]],
            turned_rad: a[3],
            velocity_mps: [a[4], a[5]],
            spin_radps: a[6],
            wheel_radps: a[7],
            path_m: a[8],
            wheel_normal_n: a[9],
            guide_normal_n: a[10],
            wheel_slip_mps: a[11].max(0.0),
            guide_slip_mps: a[11],
            on_hood,
        }
    }
}

prop_compose! {
    fn side()(
        wheels in vec((point(), any(), any()), 0..4),
        parts in vec((0..3usize, line()), 0..5),
        trace in vec(passage_sample(), 0..10),
        a in vec(any(), 7),
        out: bool,
        us: bool,
    ) -> SideView {
        let roles = [Role::Ramp, Role::Guide, Role::Hood];
        SideView {
            units: if us { Us } else { Metric },
            wheels: wheels
                .into_iter()
                .map(|(centre_m, radius_m, turning_radps)| Wheel { centre_m, radius_m, turning_radps })
                .collect(),
            parts: parts.into_iter().map(|(r, line_m)| Part { role: roles[r], line_m }).collect(),
            piece_diameter_m: a[0],
            trace,
            setting: Setting { slide_m: a[1], tilt_rad: a[2], reach_m: a[3] },
            exit: out.then_some(Exit { speed_mps: a[4], angle_rad: a[5], spin_radps: a[6] }),
        }
    }
}

prop_compose! {
    fn flight()(
        spot in name(),
        a in vec(any(), 4),
        line_m in line(),
        band in option::of((line(), line())),
        crossing in option::of(point()),
        outcome in name(),
    ) -> Flight {
        Flight {
            spot,
            distance_m: a[0],
            setpoint_radps: (a[1] > 0.0).then_some(a[1]),
            line_m,
            band: band.map(|(low_m, high_m)| Band { low_m, high_m }),
            crossing: crossing.map(|point_m| Crossing { point_m, below_level_rad: a[2], entry_rad: a[1], clearance_m: a[3] }),
            outcome,
        }
    }
}

prop_compose! {
    fn any_fan()(flights in vec(flight(), 0..10), a in vec(any(), 11), us: bool, round: bool) -> Fan {
        Fan {
            units: if us { Us } else { Metric },
            target: Target {
                outline: if round { Outline::Round } else { Outline::Rectangle },
                rim_height_m: a[0],
                width_m: a[1],
                depth_m: a[2],
                tilt_rad: a[3],
                back_wall_m: a[4],
                side_wall_m: a[5],
                wall_bounce_coeff: a[6],
                ceiling_m: a[7],
            },
            piece_diameter_m: a[8],
            wheel_radius_m: a[9],
            axle_height_m: a[10],
            flights,
            after_shots: us,
        }
    }
}

prop_compose! {
    fn any_volley()(
        samples in vec(vec(any(), 5), 0..20),
        throws in vec((any(), any(), any(), option::of(any())), 0..40),
        a in vec(any(), 4),
        fuse_a in option::of(any()),
        us: bool,
    ) -> VolleyChart {
        VolleyChart {
            units: if us { Us } else { Metric },
            samples: samples
                .into_iter()
                .map(|s| VolleySample {
                    time_s: s[0],
                    wheel_radps: s[1],
                    duty_frac: s[2],
                    battery_a: s[3],
                    battery_v: s[4],
                })
                .collect(),
            setpoint_radps: a[0],
            ready_frac: a[1],
            ready_at_s: (a[2] > 0.0).then_some(a[2]),
            throws: throws
                .into_iter()
                .map(|(time_s, before_radps, low_radps, recovery_s)| Throw {
                    time_s,
                    before_radps,
                    low_radps,
                    recovery_s,
                })
                .collect(),
            brown_out_v: a[3],
            fuse_a,
        }
    }
}

prop_compose! {
    fn any_force()(
        trace in vec(passage_sample(), 0..20),
        steady in option::of(point()),
        along in option::of((vec(point(), 0..20), point(), point(), proptest::bool::ANY)),
        pair: bool,
        us: bool,
    ) -> GuideForce {
        GuideForce {
            units: if us { Us } else { Metric },
            trace,
            peak_n: steady.map_or(0.0, |p| p[0]),
            pair,
            steady: steady.map(|p| SteadySqueeze { squeeze_m: p[0], force_n: p[1] }),
            squeeze: along.map(|(found_m, levels, worst_m, one_of_many)| SqueezeAlong {
                found_m,
                meant_m: [levels[0], levels[1]],
                mean_m: levels[1],
                worst_m,
                one_of_many,
            }),
        }
    }
}

prop_compose! {
    fn any_setpoints()(
        curve in vec((any(), option::of([any(), any(), any()])), 0..20),
        design in vec(point(), 0..6),
        spots in vec((name(), any(), option::of(any())), 0..10),
        a in point(),
        us: bool,
    ) -> Setpoints {
        Setpoints {
            units: if us { Us } else { Metric },
            curve: curve
                .into_iter()
                .map(|(distance_m, s)| CurvePoint {
                    distance_m,
                    setpoint: s.map(|s| Speed { best_radps: s[0], low_radps: s[1], high_radps: s[2] }),
                })
                .collect(),
            design,
            spots: spots
                .into_iter()
                .map(|(name, distance_m, setpoint_radps)| SpotMark { name, distance_m, setpoint_radps })
                .collect(),
            top_radps: a[0],
            reserve_frac: a[1],
        }
    }
}

fn any_plan() -> impl Strategy<Value = PlanView> {
    (
        (line(), point(), point(), point(), point()),
        (any(), any(), any(), any(), any(), any()),
        (line(), line(), any()),
    )
        .prop_map(|(a, b, c)| PlanView {
            units: Us,
            spot: "far <&>".into(),
            setpoint_radps: b.0,
            opening_m: a.0,
            centre_m: a.1,
            robot_m: a.2,
            turning_centre_m: a.3,
            forward_rad: b.1,
            heading_rad: b.2,
            lead_rad: b.3,
            velocity_mps: a.4,
            turn_radps: b.4,
            flight_s: b.5,
            path_m: c.0,
            command_m: c.1,
        })
}

fn fate() -> impl Strategy<Value = Outcome> {
    prop::sample::select(vec![
        Outcome::In,
        Outcome::Rim,
        Outcome::Short,
        Outcome::Long,
        Outcome::Left,
        Outcome::Right,
        Outcome::Under,
        Outcome::None,
    ])
}

fn better() -> impl Strategy<Value = Better> {
    prop::sample::select(vec![Better::Lower, Better::Higher])
}

fn measure() -> impl Strategy<Value = Measure> {
    prop::sample::select(Dimension::ALL.to_vec()).prop_map(Measure::of)
}

prop_compose! {
    fn any_panel()(
        name in name(),
        crossings in vec((any(), any(), fate()), 0..30),
        a in vec(any(), 10),
        fates in vec((fate(), any()), 0..10),
        hit_untested_frac in option::of(any()),
    ) -> ScatterPanel {
        ScatterPanel {
            name,
            crossings: crossings
                .into_iter()
                .map(|(along_m, across_m, fate)| ScatterCrossing { along_m, across_m, fate })
                .collect(),
            mean_m: [a[0], a[1]],
            sd_m: [a[2], a[3]],
            correlation_coeff: a[4],
            r50_m: a[5],
            r95_m: a[6],
            hit: HitChance { frac: a[7], low_frac: a[8], high_frac: a[9] },
            fates,
            hit_untested_frac,
            after_shots: false,
        }
    }
}

prop_compose! {
    fn any_scatter()(
        title in name(),
        panels in vec(any_panel(), 0..5),
        a in vec(any(), 3),
        us: bool, round: bool, upright: bool, back_wall: bool,
    ) -> ScatterPicture {
        ScatterPicture {
            title,
            units: if us { Us } else { Metric },
            opening: Opening {
                outline: if round { Outline::Round } else { Outline::Rectangle },
                width_m: a[0],
                depth_m: a[1],
                upright,
                back_wall,
            },
            piece_diameter_m: a[2],
            panels,
        }
    }
}

fn share() -> impl Strategy<Value = Share> {
    [any(), any(), any(), any()].prop_map(|[a, b, c, d]| Share {
        first_frac: a,
        first_se_frac: b,
        total_frac: c,
        total_se_frac: d,
    })
}

prop_compose! {
    fn any_budget()(
        title in name(),
        spots in vec((name(), any(), any(), vec((name(), share(), share()), 0..20)), 0..4),
        us: bool,
    ) -> BudgetPicture {
        BudgetPicture {
            title,
            units: if us { Us } else { Metric },
            spots: spots
                .into_iter()
                .map(|(name, along_sd_m, across_sd_m, causes)| BudgetSpot {
                    name,
                    along_sd_m,
                    across_sd_m,
                    causes: causes
                        .into_iter()
                        .map(|(name, along, across)| BudgetCause { name, along, across })
                        .collect(),
                })
                .collect(),
        }
    }
}

prop_compose! {
    fn any_trade()(
        texts in (name(), name(), name()),
        knob_measure in measure(),
        values in vec(any(), 0..8),
        labels in vec(name(), 0..8),
        rows in vec((name(), measure(), vec(any(), 0..10), option::of(any()), better()), 0..6),
        present in option::of(any()),
        recommended in option::of(0..10usize),
        us: bool,
    ) -> TradePicture {
        TradePicture {
            title: texts.0,
            units: if us { Us } else { Metric },
            knob: texts.1,
            knob_measure,
            values,
            labels,
            rows: rows
                .into_iter()
                .map(|(name, measure, values, asked, better)| TradeRow { name, measure, values, asked, better })
                .collect(),
            present,
            recommended,
            why: texts.2,
        }
    }
}

prop_compose! {
    fn any_front()(
        title in name(),
        goals in [(name(), measure(), better()), (name(), measure(), better())],
        tried in line(),
        front in vec((point(), name()), 0..30),
        present in option::of(point()),
        chosen in option::of(0..40usize),
        us: bool,
    ) -> FrontPicture {
        let [x, y] = goals.map(|(name, measure, better)| Goal { name, measure, better });
        FrontPicture {
            title,
            units: if us { Us } else { Metric },
            x,
            y,
            tried,
            front: front.into_iter().map(|(at, label)| FrontPoint { at, label }).collect(),
            present,
            chosen,
        }
    }
}

prop_compose! {
    fn any_bite()(
        single in vec([any(), any(), any()], 0..20),
        pair in vec([any(), any(), any()], 0..20),
        a in vec(any(), 12),
        count: u32,
        seam: bool,
        us: bool,
    ) -> BiteChart {
        let at = |p: [f64; 3]| WidthPoint { width_m: p[0], deepest_m: p[1], swing_m: p[2] };
        BiteChart {
            units: if us { Us } else { Metric },
            single: single.into_iter().map(at).collect(),
            pair: pair.into_iter().map(at).collect(),
            pair_gap_m: a[0],
            now: at([a[1], a[2], a[3]]),
            count,
            gap_m: a[4],
            squeeze_m: a[5],
            limit_m: a[6],
            piece_diameter_m: a[7],
            opening: if seam {
                bite::Opening::Seam { width_m: a[8], depth_m: a[9] }
            } else {
                bite::Opening::Hole { diameter_m: a[8] }
            },
            drop_m: a[10],
        }
    }
}

prop_compose! {
    fn any_telemetry()(wheel in line(), battery in line(), throws in vec([any(), any(), any()], 0..40), us: bool)
        -> TelemetryChart
    {
        TelemetryChart {
            units: if us { Us } else { Metric },
            wheel,
            battery,
            throws: throws
                .into_iter()
                .map(|[time_s, before_radps, after_radps]| Found { time_s, before_radps, after_radps })
                .collect(),
        }
    }
}

prop_compose! {
    fn any_film()(
        points_m in line(),
        left_out_m in line(),
        path_m in line(),
        residuals in vec([any(), any(), any()], 0..12),
        a in vec(any(), 5),
        us: bool,
    ) -> FilmChart {
        FilmChart {
            units: if us { Us } else { Metric },
            points_m,
            left_out_m,
            path_m,
            residuals,
            speed_mps: [a[0], a[1]],
            angle_rad: [a[2], a[3]],
            rms_m: a[4],
        }
    }
}

prop_compose! {
    fn any_strip()(
        name in name(),
        places in vec(0..12usize, 0..8),
        z in vec(any(), 0..8),
        upper in vec(any(), 0..8),
        lower in vec(any(), 0..8),
        limit in any(),
        called_at in option::of(0..9usize),
    ) -> DriftStrip {
        DriftStrip { name, places, z, upper, lower, limit, called_at }
    }
}

prop_compose! {
    fn any_drift()(says in name(), shots in vec(name(), 0..40), strips in vec(any_strip(), 0..5)) -> DriftChart {
        DriftChart { says, shots, strips }
    }
}

prop_compose! {
    fn any_wander()(
        says in name(),
        rows in vec((name(), any(), option::of([any(), any()]), 0..4usize), 0..16),
        sideways: bool,
        us: bool,
    ) -> WanderPicture {
        let findings =
            [WanderFinding::Shown, WanderFinding::Small, WanderFinding::CannotTell, WanderFinding::Rest];
        WanderPicture {
            units: if us { Us } else { Metric },
            sideways,
            says,
            rows: rows
                .into_iter()
                .map(|(name, sd, interval, f)| WanderRow { name, sd, interval, finding: findings[f] })
                .collect(),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_launcher_draws(input in side()) {
        sound(&side_view::draw(&input));
    }

    #[test]
    fn any_flights_draw(input in any_fan()) {
        sound(&fan::draw(&input));
    }

    #[test]
    fn any_volley_draws(input in any_volley()) {
        sound(&volley::draw(&input));
    }

    #[test]
    fn any_forces_draw(input in any_force()) {
        sound(&guide_force::draw(&input));
    }

    #[test]
    fn any_plan_draws(input in any_plan()) {
        sound(&plan_view::draw(&input));
    }

    #[test]
    fn any_scatter_draws(input in any_scatter()) {
        sound(&scatter::draw(&input));
    }

    #[test]
    fn any_budget_draws(input in any_budget()) {
        sound(&budget::draw(&input));
    }

    #[test]
    fn any_trade_draws(input in any_trade()) {
        sound(&trade::draw(&input));
    }

    #[test]
    fn any_front_draws(input in any_front()) {
        sound(&front::draw(&input));
    }

    #[test]
    fn any_bite_draws(input in any_bite()) {
        sound(&bite::draw(&input));
    }

    #[test]
    fn any_telemetry_draws(input in any_telemetry()) {
        sound(&telemetry::draw(&input));
    }

    #[test]
    fn any_film_draws(input in any_film()) {
        sound(&film::draw(&input));
    }

    #[test]
    fn any_drift_draws(input in any_drift()) {
        sound(&drift::draw(&input));
    }

    #[test]
    fn any_wander_draws(input in any_wander()) {
        sound(&wander::draw(&input));
    }

    #[test]
    fn any_setpoints_draw(input in any_setpoints()) {
        sound(&setpoints::draw(&input));
    }
}

#[test]
fn nothing_at_all_still_draws_and_says_so() {
    let mut side = samples::side_view(Metric);
    side.trace.clear();
    side.exit = None;
    let svg = side_view::draw(&side);
    sound(&svg);
    assert!(svg.contains("no passage to show") && svg.contains("does not come through"));
    side.wheels.clear();
    side.parts.clear();
    sound(&side_view::draw(&side));

    let mut flights = samples::fan(Metric, &[], false);
    let svg = fan::draw(&flights);
    sound(&svg);
    assert!(svg.contains("0 flights"));
    flights.target.depth_m = 0.0;
    flights.target.width_m = 0.0;
    sound(&fan::draw(&flights));

    let mut chart = samples::volley(Metric, 0);
    chart.samples.clear();
    chart.ready_at_s = None;
    let svg = volley::draw(&chart);
    sound(&svg);
    assert!(svg.contains("never gets ready") && svg.contains("No piece is thrown"));

    let force = GuideForce {
        trace: Vec::new(),
        steady: None,
        ..samples::guide_force(Metric)
    };
    let svg = guide_force::draw(&force);
    sound(&svg);
    assert!(svg.contains("No passage to show"));

    let mut speeds = samples::setpoints(Metric, &[]);
    speeds.curve.clear();
    let svg = setpoints::draw(&speeds);
    sound(&svg);
    assert!(svg.contains("No distance is within reach"));

    let svg = telemetry::draw(&TelemetryChart {
        wheel: Vec::new(),
        ..samples::telemetry(Metric, 0, false)
    });
    sound(&svg);
    assert!(svg.contains("The log shows nothing"));
    let svg = drift::draw(&samples::drift(0, 0.0, 1));
    sound(&svg);
    assert!(svg.contains(">no shot was measured<"));
    let svg = wander::draw(&samples::wander(Metric, false, 0));
    sound(&svg);
    assert!(svg.contains(">nothing was looked at<"));

    let svg = scatter::draw(&samples::scatter(Metric, 0, false));
    sound(&svg);
    assert!(svg.contains(">no throws to show<") && svg.contains("no scatter to show"));
    let mut budget_of_none = samples::budget(Metric, 1);
    budget_of_none.spots[0].causes.clear();
    let svg = budget::draw(&budget_of_none);
    sound(&svg);
    assert!(svg.contains(">nothing varies<"));
    budget_of_none.spots.clear();
    assert!(budget::draw(&budget_of_none).contains("nothing to share out"));
    let mut results = samples::trade(Metric);
    results.values.clear();
    sound(&trade::draw(&results));
    results.rows.clear();
    let svg = trade::draw(&results);
    sound(&svg);
    assert!(svg.contains(">no result to show<"));
    let mut designs = samples::front(Metric, 0);
    designs.tried.clear();
    designs.present = None;
    let svg = front::draw(&designs);
    sound(&svg);
    assert!(svg.contains("0 designs tried, none on the front"));
}

#[test]
fn one_sample_draws_one_piece_and_one_dot() {
    let mut side = samples::side_view(Metric);
    side.trace.truncate(1);
    let svg = side_view::draw(&side);
    sound(&svg);
    let doc = roxmltree::Document::parse(&svg).unwrap();
    let pieces = doc
        .descendants()
        .find(|n| n.attribute("class") == Some("pieces"))
        .unwrap();
    assert_eq!(pieces.children().filter(|n| n.has_tag_name("path")).count(), 1);

    let mut chart = samples::volley(Metric, 0);
    chart.samples.truncate(1);
    sound(&volley::draw(&chart));
    let mut force = samples::guide_force(Metric);
    force.trace.truncate(1);
    sound(&guide_force::draw(&force));
    let mut speeds = samples::setpoints(Metric, &[2.0]);
    speeds.curve.retain(|p| p.setpoint.is_some());
    speeds.curve.truncate(1);
    let svg = setpoints::draw(&speeds);
    sound(&svg);
    assert!(
        svg.contains("class=\"f0\""),
        "the only point of the curve is a dot"
    );
}
