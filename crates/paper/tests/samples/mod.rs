//! Invented data in the shape of real results, to draw pictures from. Proof of nothing but the
//! drawing: the numbers come from rough formulas that live here only.
#![allow(dead_code)]

use arcwright_model::feed::hopper::{BandSpec, Hopper, Loading, RollerSpec, StirrerSpec};
use arcwright_model::feed::load::Place;
use arcwright_model::feed::survey::{Share as Longer, WaitShare};
use arcwright_model::launcher::{PassageSample, Setting, VolleySample};
use arcwright_model::project::UnitSystem;
use arcwright_model::target::{Outcome, Outline, Target};
use arcwright_model::units::Dimension;
use arcwright_paper::drawings::Better;
use arcwright_paper::drawings::bite::{self, BiteChart, WidthPoint};
use arcwright_paper::drawings::budget::{BudgetCause, BudgetPicture, BudgetSpot, Share};
use arcwright_paper::drawings::drift::{DriftChart, DriftStrip};
use arcwright_paper::drawings::fan::{Band, Crossing, Fan, Flight};
use arcwright_paper::drawings::film::FilmChart;
use arcwright_paper::drawings::front::{FrontPicture, FrontPoint, Goal};
use arcwright_paper::drawings::guide_force::{GuideForce, SteadySqueeze};
use arcwright_paper::drawings::hit_map::{HitMap, MapSpot};
use arcwright_paper::drawings::hopper::{FaultMark, HopperPicture};
use arcwright_paper::drawings::plan_view::PlanView;
use arcwright_paper::drawings::scatter::{HitChance, Opening, ScatterCrossing, ScatterPanel, ScatterPicture};
use arcwright_paper::drawings::setpoints::{CurvePoint, Setpoints, Speed, SpotMark};
use arcwright_paper::drawings::side_view::{Exit, Part, Role, SideView, Wheel};
use arcwright_paper::drawings::stuck::StuckPicture;
use arcwright_paper::drawings::telemetry::{Found, TelemetryChart};
use arcwright_paper::drawings::trade::{TradePicture, TradeRow};
use arcwright_paper::drawings::volley::{Throw, VolleyChart};
use arcwright_paper::drawings::waits::WaitsPicture;
use arcwright_paper::drawings::wander::{WanderFinding, WanderPicture, WanderRow};
use arcwright_paper::units::Measure;

const WHEEL_M: f64 = 0.048;
const GAP_M: f64 = 0.096;
const PIECE_M: f64 = 0.112;
const AXLE: [f64; 2] = [0.0, 0.42];
const REACH_M: f64 = 0.07;

fn on_arc(radius_m: f64, angle_rad: f64) -> [f64; 2] {
    [
        AXLE[0] + radius_m * angle_rad.cos(),
        AXLE[1] + radius_m * angle_rad.sin(),
    ]
}

fn ahead(p: [f64; 2], angle_rad: f64, by_m: f64) -> [f64; 2] {
    [p[0] + by_m * angle_rad.cos(), p[1] + by_m * angle_rad.sin()]
}

/// A passage through a guide that wraps the wheel from `start` to `end` (angles about the axle).
fn passage(start: f64, end: f64, exit_mps: f64) -> Vec<PassageSample> {
    let radius = WHEEL_M + 0.5 * GAP_M;
    let (lead_m, arc_m) = (0.075, radius * (start - end));
    let total_m = lead_m + arc_m + REACH_M + 0.09;
    let (mut path_m, mut time_s, mut turned) = (0.0f64, 0.0, 0.0);
    let mut samples = Vec::new();
    while path_m < total_m {
        let along_arc = path_m - lead_m;
        let grip = (along_arc / 0.055).clamp(0.0, 1.0);
        let hood = along_arc - arc_m;
        let speed = 0.9 + (exit_mps - 0.9) * grip.sqrt() + 0.25 * (hood / REACH_M).clamp(0.0, 1.0);
        let (centre_m, heading) = if along_arc < 0.0 {
            let at = on_arc(radius, start);
            (
                ahead(at, start - std::f64::consts::FRAC_PI_2, along_arc),
                start - std::f64::consts::FRAC_PI_2,
            )
        } else if hood < 0.0 {
            let angle = start - along_arc / radius;
            (on_arc(radius, angle), angle - std::f64::consts::FRAC_PI_2)
        } else {
            let heading = end - std::f64::consts::FRAC_PI_2;
            (ahead(on_arc(radius, end), heading, hood), heading)
        };
        let rise = ((along_arc + 0.02) / 0.03).clamp(0.0, 1.0);
        let fall = (1.0 - hood / 0.045).clamp(0.0, 1.0);
        let on_hood = hood > 0.0 && hood < REACH_M;
        let force = 186.0 * rise * rise * fall * (1.0 + 0.12 * (3.0 * path_m / 0.06).sin() * (1.0 - grip));
        let spin = if hood > REACH_M {
            165.0
        } else {
            speed / (0.5 * GAP_M)
        };
        samples.push(PassageSample {
            time_s,
            centre_m,
            turned_rad: turned,
            velocity_mps: [speed * heading.cos(), speed * heading.sin()],
            spin_radps: spin,
            wheel_radps: 410.0 - 22.0 * grip,
            path_m,
            wheel_normal_n: force,
            guide_normal_n: if on_hood {
                (1.0 - hood / REACH_M).sqrt() * 70.0 + 0.65 * force
            } else {
                force * (1.0 - 0.1 * grip)
            },
            wheel_slip_mps: if force > 0.0 && grip < 1.0 {
                18.5 - 2.0 * speed
            } else {
                0.0
            },
            guide_slip_mps: if on_hood {
                1.2 * (1.0 - (hood / REACH_M))
            } else {
                0.0
            },
            on_hood,
        });
        let step_s = 1e-4;
        time_s += step_s;
        path_m += speed * step_s;
        turned += spin * step_s;
    }
    samples
}

pub fn side_view(units: UnitSystem) -> SideView {
    let (start, end) = (222f64.to_radians(), 143f64.to_radians());
    let tangent = start - std::f64::consts::FRAC_PI_2;
    let guide: Vec<[f64; 2]> = (0..=60)
        .map(|i| on_arc(WHEEL_M + GAP_M, start + (end - start) * f64::from(i) / 60.0))
        .collect();
    let ramp = vec![ahead(guide[0], tangent + 0.14, -0.13), guide[0]];
    let exit_rad = end - std::f64::consts::FRAC_PI_2;
    let root = ahead(guide[60], exit_rad, 0.004);
    let bend = |i: i32| {
        ahead(
            root,
            exit_rad - 0.05 * f64::from(i) / 8.0,
            REACH_M * f64::from(i) / 8.0,
        )
    };
    SideView {
        units,
        wheels: vec![Wheel {
            centre_m: AXLE,
            radius_m: WHEEL_M,
            turning_radps: 410.0,
        }],
        parts: vec![
            Part {
                role: Role::Ramp,
                line_m: ramp,
            },
            Part {
                role: Role::Guide,
                line_m: guide,
            },
            Part {
                role: Role::Hood,
                line_m: (0..=8).map(bend).collect(),
            },
        ],
        piece_diameter_m: PIECE_M,
        trace: passage(start, end, 9.1),
        setting: Setting {
            slide_m: 0.004,
            tilt_rad: 6f64.to_radians(),
            reach_m: REACH_M,
        },
        exit: Some(Exit {
            speed_mps: 9.35,
            angle_rad: exit_rad - 0.02,
            spin_radps: 165.0,
        }),
    }
}

pub fn pair_view(units: UnitSystem) -> SideView {
    let up = 50f64.to_radians();
    let (c, half) = ([0.0, 0.5], 0.05 + 0.07);
    let across = [-up.sin(), up.cos()];
    let wheel = |side: f64| [c[0] + side * half * across[0], c[1] + side * half * across[1]];
    let sample = |i: i32| {
        let s = -0.2 + 0.0045 * f64::from(i);
        let inside: f64 = if s.abs() < 0.06 { 1.0 } else { 0.0 };
        PassageSample {
            time_s: f64::from(i) * 5e-4,
            centre_m: ahead(c, up, s),
            turned_rad: 0.01 * f64::from(i),
            velocity_mps: [5.8, 6.9],
            spin_radps: 25.0,
            wheel_radps: 190.0,
            path_m: s + 0.2,
            wheel_normal_n: 60.0 * inside,
            guide_normal_n: 60.0 * inside,
            wheel_slip_mps: if s < -0.02 { 4.0 * inside } else { 0.0 },
            guide_slip_mps: 0.0,
            on_hood: false,
        }
    };
    SideView {
        units,
        wheels: vec![
            Wheel {
                centre_m: wheel(-1.0),
                radius_m: 0.05,
                turning_radps: 190.0,
            },
            Wheel {
                centre_m: wheel(1.0),
                radius_m: 0.05,
                turning_radps: -170.0,
            },
        ],
        parts: vec![Part {
            role: Role::Ramp,
            line_m: vec![
                ahead(ahead(c, up - std::f64::consts::FRAC_PI_2, 0.08), up, -0.26),
                ahead(ahead(c, up - std::f64::consts::FRAC_PI_2, 0.08), up, -0.08),
            ],
        }],
        piece_diameter_m: 0.16,
        trace: (0..90).map(sample).collect(),
        setting: Setting {
            tilt_rad: 0.08,
            ..Setting::default()
        },
        exit: Some(Exit {
            speed_mps: 9.0,
            angle_rad: up,
            spin_radps: 25.0,
        }),
    }
}

fn target() -> Target {
    Target {
        outline: Outline::Rectangle,
        rim_height_m: 1.14,
        width_m: 0.64,
        depth_m: 0.39,
        tilt_rad: 0.0,
        back_wall_m: 0.35,
        side_wall_m: 0.0,
        wall_bounce_coeff: 0.4,
        ceiling_m: f64::INFINITY,
    }
}

/// A throw through still air until it comes down through `height_m`, ends at the near rim's x.
fn fly(speed_mps: f64, angle_rad: f64, from: [f64; 2], height_m: f64, drag_pm: f64) -> Vec<[f64; 2]> {
    let (mut p, mut v) = (from, [speed_mps * angle_rad.cos(), speed_mps * angle_rad.sin()]);
    let mut line = vec![p];
    let step_s = 2e-3;
    while line.len() < 4000 && (v[1] > 0.0 || p[1] > height_m) {
        let fast = v[0].hypot(v[1]);
        v = [
            v[0] - drag_pm * fast * v[0] * step_s,
            v[1] - (9.81 + drag_pm * fast * v[1]) * step_s,
        ];
        p = [p[0] + v[0] * step_s, p[1] + v[1] * step_s];
        line.push(p);
    }
    line
}

/// The part of a flight up to the plane of an upright hoop at the near rim.
fn until_hoop(line: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    line.into_iter().take_while(|p| p[0] <= 0.0).collect()
}

fn reaching(from: [f64; 2], aim: [f64; 2], angle_rad: f64, drag_pm: f64) -> f64 {
    let (mut low, mut high) = (2.0, 25.0);
    for _ in 0..50 {
        let speed = 0.5 * (low + high);
        let line = fly(speed, angle_rad, from, aim[1], drag_pm);
        let end = line[line.len() - 1];
        if end[0] < aim[0] || end[1] < aim[1] - 0.1 {
            low = speed
        } else {
            high = speed
        }
    }
    0.5 * (low + high)
}

const NAMES: [&str; 8] = [
    "quay edge",
    "mooring",
    "crane foot",
    "net store",
    "far bollard",
    "slipway",
    "ice house",
    "outer mole",
];

/// Flights from spots at the given distances.
pub fn fan(units: UnitSystem, distances_m: &[f64], band: bool) -> Fan {
    let target = target();
    let drag = 0.06;
    let flights = distances_m.iter().enumerate().map(|(i, distance_m)| {
        let angle = (66.0 - 5.0 * distance_m.min(3.0)).to_radians();
        let from = [0.06 - distance_m, 0.52];
        let aim = [0.5 * target.depth_m - 0.02, target.rim_height_m];
        let speed = reaching(from, aim, angle, drag);
        let line_m = fly(speed, angle, from, aim[1], drag);
        let end = line_m[line_m.len() - 1];
        let before = line_m[line_m.len() - 3];
        let edge = |k: f64| fly(speed * (1.0 + k), angle + 0.3 * k, from, aim[1], drag);
        let near = line_m
            .iter()
            .map(|p| p[0].hypot(p[1] - target.rim_height_m))
            .fold(9.0, f64::min);
        Flight {
            spot: NAMES[i % NAMES.len()].to_string(),
            distance_m: *distance_m,
            setpoint_radps: Some(speed / 0.024 * 1.04),
            band: band.then(|| Band {
                low_m: edge(-0.02),
                high_m: edge(0.02),
            }),
            crossing: Some(Crossing {
                point_m: end,
                below_level_rad: (before[1] - end[1]).atan2(end[0] - before[0]),
                entry_rad: (before[1] - end[1]).atan2(end[0] - before[0]),
                clearance_m: near - 0.5 * PIECE_M,
            }),
            outcome: "in".to_string(),
            line_m,
        }
    });
    Fan {
        units,
        target,
        piece_diameter_m: PIECE_M,
        wheel_radius_m: WHEEL_M,
        axle_height_m: 0.42,
        flights: flights.collect(),
        after_shots: false,
    }
}

/// An upright hoop under a ceiling, one flight short.
pub fn hoop(units: UnitSystem) -> Fan {
    let mut fan = fan(units, &[1.4, 2.8, 4.2], false);
    fan.target.tilt_rad = std::f64::consts::FRAC_PI_2;
    fan.target.rim_height_m = 1.32;
    fan.target.depth_m = 0.56;
    fan.target.width_m = 0.56;
    fan.target.back_wall_m = 0.0;
    fan.target.outline = Outline::Round;
    fan.target.ceiling_m = 2.9;
    for f in &mut fan.flights {
        let from = f.line_m[0];
        let angle = 52f64.to_radians();
        let speed = reaching(from, [0.25, 1.5], angle, 0.06);
        f.line_m = until_hoop(fly(speed, angle, from, 1.2, 0.06));
        let end = f.line_m[f.line_m.len() - 1];
        let before = f.line_m[f.line_m.len() - 3];
        f.crossing = Some(Crossing {
            point_m: end,
            below_level_rad: (before[1] - end[1]).atan2(end[0] - before[0]),
            entry_rad: std::f64::consts::FRAC_PI_2 - (before[1] - end[1]).atan2(end[0] - before[0]).abs(),
            clearance_m: 0.18,
        });
    }
    if let Some(last) = fan.flights.last_mut() {
        last.setpoint_radps = None;
        last.crossing = None;
        last.outcome = "short".into();
        last.line_m.retain(|p| p[0] < -0.5);
    }
    fan
}

pub fn volley(units: UnitSystem, throws: usize) -> VolleyChart {
    let (setpoint, step_s) = (415.0, 1e-3);
    let (mut wheel, mut time_s) = (0.0f64, 0.0);
    let mut samples = Vec::new();
    let mut marks: Vec<Throw> = Vec::new();
    let (mut ready_at, mut waiting) = (None, 0.35);
    let mut dip = 0.0;
    while time_s < 1.3 + 0.62 * throws as f64 + 0.4 {
        let error = setpoint - wheel;
        let duty = (0.62 * wheel / setpoint + 0.02 * error).clamp(0.0, 1.0);
        let battery_a = 2.0 + duty * (86.0 * (duty - 0.62 * wheel / setpoint)).max(0.0) + 9.0 * duty;
        if dip > 0.0 {
            let take = f64::min(dip, 2.2);
            wheel -= take;
            dip -= take;
            if let Some(mark) = marks.last_mut() {
                mark.low_radps = mark.low_radps.min(wheel);
            }
        }
        wheel += 900.0 * (duty - 0.62 * wheel / setpoint) * step_s;
        let ready = error.abs() < 0.02 * setpoint;
        if ready && ready_at.is_none() {
            ready_at = Some(time_s);
        }
        if let Some(mark) = marks.last_mut()
            && mark.recovery_s.is_none()
            && ready
            && dip == 0.0
            && time_s > mark.time_s + 0.03
        {
            mark.recovery_s = Some(time_s - mark.time_s);
        }
        waiting -= if ready { step_s } else { 0.0 };
        if waiting <= 0.0 && marks.len() < throws {
            marks.push(Throw {
                time_s,
                before_radps: wheel,
                low_radps: wheel,
                recovery_s: None,
            });
            dip = 27.0 + 2.0 * marks.len() as f64;
            waiting = 0.3;
        }
        samples.push(VolleySample {
            time_s,
            wheel_radps: wheel,
            duty_frac: duty,
            battery_a,
            battery_v: 12.5 - 0.055 * battery_a,
        });
        time_s += step_s;
    }
    VolleyChart {
        units,
        samples,
        setpoint_radps: setpoint,
        ready_frac: 0.02,
        ready_at_s: ready_at,
        throws: marks,
        brown_out_v: 7.0,
        fuse_a: Some(40.0),
    }
}

pub fn guide_force(units: UnitSystem) -> GuideForce {
    GuideForce {
        units,
        trace: passage(222f64.to_radians(), 143f64.to_radians(), 9.1),
        peak_n: 0.0,
        pair: false,
        steady: Some(SteadySqueeze {
            squeeze_m: PIECE_M - GAP_M,
            force_n: 186.0,
        }),
        squeeze: None,
    }
}

pub fn setpoints(units: UnitSystem, distances_m: &[f64]) -> Setpoints {
    let speed = |d: f64| 255.0 + 46.0 * d + 3.5 * d * d;
    let point = |i: u32| {
        let distance_m = 0.7 + 0.05 * f64::from(i);
        let best_radps = speed(distance_m);
        let half = 5.0 + 5.0 * distance_m;
        CurvePoint {
            distance_m,
            setpoint: (best_radps < 520.0 && distance_m > 0.92).then_some(Speed {
                best_radps,
                low_radps: best_radps - half,
                high_radps: best_radps + half,
            }),
        }
    };
    Setpoints {
        units,
        curve: (0..90).map(point).collect(),
        design: Vec::new(),
        spots: distances_m
            .iter()
            .enumerate()
            .map(|(i, d)| SpotMark {
                name: NAMES[i % NAMES.len()].to_string(),
                distance_m: *d,
                setpoint_radps: (speed(*d) < 520.0).then(|| speed(*d)),
            })
            .collect(),
        top_radps: 520.0,
        reserve_frac: 0.1,
    }
}

/// Distances of 1 to 8 spots, some close together.
pub fn spots(count: usize) -> Vec<f64> {
    let all = [1.1, 2.2, 3.6, 1.3, 2.9, 2.3, 4.1, 3.7];
    let mut some: Vec<f64> = all.iter().take(count).copied().collect();
    some.sort_by(f64::total_cmp);
    some
}

/// Even numbers between 0 and 1 that fill the range without a pattern: the golden ratio's multiples.
fn even(i: usize, start: f64) -> f64 {
    (start + i as f64 * 0.618_033_988_749_894_9).fract()
}

fn opening(upright: bool) -> Opening {
    Opening {
        outline: if upright {
            Outline::Round
        } else {
            Outline::Rectangle
        },
        width_m: if upright { 0.46 } else { 0.62 },
        depth_m: if upright { 0.46 } else { 0.39 },
        upright,
        back_wall: !upright,
    }
}

fn panel(i: usize, throws: usize, upright: bool) -> ScatterPanel {
    let o = opening(upright);
    let far = i as f64;
    let (mean_m, sd_m, rho) = (
        [0.02 - 0.012 * far, 0.008 * far],
        [0.035 + 0.028 * far, 0.03 + 0.015 * far],
        0.35,
    );
    let radius_m = 0.5 * PIECE_M;
    let fate = |along_m: f64, across_m: f64| {
        let (a, b) = (along_m.abs() - 0.5 * o.depth_m, across_m.abs() - 0.5 * o.width_m);
        let out = match o.outline {
            Outline::Rectangle => a.max(b),
            Outline::Round => along_m.hypot(across_m) - 0.5 * o.width_m,
        };
        match (out + radius_m < 0.0, out < radius_m, a > b, upright) {
            (true, ..) => Outcome::In,
            (_, true, ..) => Outcome::Rim,
            (_, _, true, true) if along_m < 0.0 => Outcome::Under,
            (_, _, true, _) if along_m < 0.0 => Outcome::Short,
            (_, _, true, _) => Outcome::Long,
            _ if across_m > 0.0 => Outcome::Left,
            _ => Outcome::Right,
        }
    };
    let crossings: Vec<ScatterCrossing> = (0..throws)
        .map(|k| {
            let size = (-2.0 * even(k, 0.5).max(1e-9).ln()).sqrt();
            let turn = std::f64::consts::TAU * (k as f64 * 0.754_877_666).fract();
            let (u, v) = (size * turn.cos(), size * turn.sin());
            let along_m = mean_m[0] + sd_m[0] * u;
            let across_m = mean_m[1] + sd_m[1] * (rho * u + (1.0f64 - rho * rho).sqrt() * v);
            if k % 997 == 400 {
                return ScatterCrossing {
                    along_m: f64::NAN,
                    across_m: f64::NAN,
                    fate: Outcome::None,
                };
            }
            ScatterCrossing {
                along_m,
                across_m,
                fate: fate(along_m, across_m),
            }
        })
        .collect();
    let share = |f: Outcome| crossings.iter().filter(|c| c.fate == f).count() as f64 / throws.max(1) as f64;
    let fates: Vec<(Outcome, f64)> = [
        Outcome::In,
        Outcome::Rim,
        Outcome::Short,
        Outcome::Long,
        Outcome::Left,
        Outcome::Right,
        Outcome::Under,
        Outcome::None,
    ]
    .map(|f| (f, share(f)))
    .to_vec();
    let frac = share(Outcome::In);
    ScatterPanel {
        name: NAMES[i % NAMES.len()].to_string(),
        mean_m,
        sd_m,
        correlation_coeff: rho,
        r50_m: 1.18 * sd_m[0],
        r95_m: 2.5 * sd_m[0],
        hit: HitChance {
            frac,
            low_frac: (frac - 0.013).max(0.0),
            high_frac: (frac + 0.011).min(1.0),
        },
        fates,
        hit_untested_frac: (i % 2 == 1).then_some(0.8 * frac),
        after_shots: false,
        crossings,
    }
}

pub fn scatter(units: UnitSystem, spots: usize, upright: bool) -> ScatterPicture {
    ScatterPicture {
        title: "Scatter at the opening".to_string(),
        units,
        opening: opening(upright),
        piece_diameter_m: PIECE_M,
        panels: (0..spots).map(|i| panel(i, 2000, upright)).collect(),
    }
}

pub fn budget(units: UnitSystem, spots: usize) -> BudgetPicture {
    let share = |first_frac: f64, joint: f64| Share {
        first_frac,
        first_se_frac: 0.012 + 0.05 * first_frac,
        total_frac: first_frac + joint,
        total_se_frac: 0.01 + 0.06 * first_frac,
    };
    let causes = [
        ("piece diameter", share(0.21, 0.09), share(0.002, 0.004)),
        ("wheel speed at the throw", share(0.41, 0.07), share(0.01, 0.0)),
        ("friction of the guide", share(0.13, 0.05), share(0.0, 0.0)),
        ("piece mass", share(0.06, 0.003), share(0.0, 0.002)),
        ("aim across", share(0.0, 0.001), share(0.71, 0.004)),
        (
            "side of the piece on the wheel",
            share(-0.003, 0.012),
            share(0.16, 0.06),
        ),
        ("hood tilt", share(0.028, 0.0), share(0.0, 0.0)),
        ("air density", share(0.003, 0.0), share(0.0, 0.0)),
        ("battery voltage", share(0.004, 0.002), share(0.001, 0.0)),
        ("feed speed", share(0.002, 0.001), share(-0.001, 0.0)),
    ];
    BudgetPicture {
        title: "What makes the throws scatter".to_string(),
        units,
        spots: (0..spots)
            .map(|i| BudgetSpot {
                name: NAMES[i % NAMES.len()].to_string(),
                along_sd_m: 0.034 + 0.021 * i as f64,
                across_sd_m: 0.018 + 0.009 * i as f64,
                causes: causes
                    .map(|(name, along, across)| BudgetCause {
                        name: name.to_string(),
                        along,
                        across,
                    })
                    .to_vec(),
            })
            .collect(),
    }
}

pub fn trade(units: UnitSystem) -> TradePicture {
    let values: Vec<f64> = (0..12).map(|i| 1e-4 * (1.5 + 0.75 * f64::from(i))).collect();
    let row = |name: &str, dimension, asked, better, of: fn(f64) -> f64| TradeRow {
        name: name.to_string(),
        measure: Measure::of(dimension),
        values: values.iter().map(|v| of(1e4 * v)).collect(),
        asked,
        better,
    };
    TradePicture {
        title: "How much flywheel".to_string(),
        units,
        knob: "inertia at the wheel".to_string(),
        knob_measure: Measure::of(Dimension::Inertia),
        labels: Vec::new(),
        rows: vec![
            row("spin-up time", Dimension::Time, Some(1.5), Better::Lower, |x| 0.25 + 0.21 * x),
            row("dip", Dimension::Ratio, Some(0.06), Better::Lower, |x| 0.19 / (x + 0.8)),
            row("recovery", Dimension::Time, Some(0.25), Better::Lower, |x| 0.155 + 0.005 * (x - 4.0).powi(2)),
            row("volley of four", Dimension::Time, None, Better::Lower, |x| 1.1 + 0.06 * (x - 5.0).abs().powf(1.5)),
            row("scatter along, crane foot", Dimension::Length, Some(0.06), Better::Lower, |x| 0.045 + 0.04 / x),
            row("worst hit chance", Dimension::Ratio, Some(0.9), Better::Higher, |x| 0.97 - 0.3 / x / x),
        ],
        present: Some(2.1e-4),
        recommended: Some(5),
        why: "The recommended flywheel is the lightest that keeps the dip below its limit with a fifth to \
              spare. A heavier one would bring spin-up close to its limit and gain less than a hair of scatter; \
              with a lighter one the worst hit chance falls below what is asked."
            .to_string(),
        values,
    }
}

pub fn front(units: UnitSystem, count: usize) -> FrontPicture {
    let last = count.saturating_sub(1).max(1) as f64;
    let edge = |t: f64| [0.85 + 1.3 * t, 0.985 - 0.16 * (1.0 - t).powf(2.2)];
    // Each try is worse in both goals than a design of the front, so none lies beyond it.
    let mut state = 12345u32;
    let mut random = || {
        // Linear congruential, Numerical Recipes' constants; good enough for dots.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state >> 8) / f64::from(1u32 << 24)
    };
    let tried = (0..700)
        .map(|_| {
            let [x, y] = edge((random() * count.max(1) as f64).floor() / last);
            let (a, b) = (-random().max(1e-4).ln(), -random().max(1e-4).ln());
            [x + 0.22 * a, y - 0.035 * b]
        })
        .collect();
    FrontPicture {
        title: "Fast volleys against sure hits".to_string(),
        units,
        x: Goal {
            name: "volley time".to_string(),
            measure: Measure::of(Dimension::Time),
            better: Better::Lower,
        },
        y: Goal {
            name: "hit chance, worst spot".to_string(),
            measure: Measure::of(Dimension::Ratio),
            better: Better::Higher,
        },
        tried,
        front: (0..count)
            .map(|i| {
                let t = i as f64 / last;
                FrontPoint {
                    at: edge(t),
                    label: format!("gap {} mm, flywheel {:.1} kg cm²", 92 + i, 2.0 + 4.0 * t),
                }
            })
            .collect(),
        present: Some([1.55, 0.9]),
        chosen: (count > 3).then_some(3),
    }
}

/// A robot that drives past the target to the left and turns; a straight path from above.
pub fn plan_view(units: UnitSystem) -> PlanView {
    let (lead, flight_s) = (-0.17, 1.2);
    PlanView {
        units,
        spot: "far".into(),
        setpoint_radps: 322.0,
        opening_m: vec![[3.6, -0.32], [3.99, -0.32], [3.99, 0.32], [3.6, 0.32]],
        centre_m: [3.795, 0.0],
        robot_m: [0.52, 0.48],
        turning_centre_m: [-0.1, 0.02],
        forward_rad: lead,
        heading_rad: lead,
        lead_rad: lead,
        velocity_mps: [0.8, 0.5],
        turn_radps: 0.35,
        flight_s,
        path_m: (0..=40).map(|i| [3.795 * f64::from(i) / 40.0, 0.0]).collect(),
        command_m: vec![[-0.12, -0.075], [0.0, 0.0]],
    }
}

const LONG: &str =
    "the spot behind the second bollard, seen from the old net store on the northern quay <&> beyond ";

/// What is hard to draw: names without end, one wild spot, one without scatter.
pub fn hard_scatter(units: UnitSystem) -> ScatterPicture {
    let mut it = scatter(units, 20, false);
    it.title = LONG.to_string();
    for p in &mut it.panels {
        p.name = LONG.to_string();
    }
    if let [wild, still, bare, ..] = it.panels.as_mut_slice() {
        wild.sd_m = [40.0, 3.0];
        wild.mean_m = [1.2, -0.9];
        for (i, c) in wild.crossings.iter_mut().enumerate() {
            c.along_m *= if i % 3 == 0 { 1e4 } else { 10.0 };
            c.across_m *= 12.0;
        }
        still.sd_m = [0.0; 2];
        bare.crossings.clear();
        bare.fates.clear();
        bare.sd_m = [f64::NAN; 2];
    }
    it
}

pub fn hard_budget(units: UnitSystem) -> BudgetPicture {
    let mut it = budget(units, 15);
    it.title = LONG.to_string();
    for (i, spot) in it.spots.iter_mut().enumerate() {
        spot.name = LONG.to_string();
        for _ in 0..i % 3 {
            spot.causes.extend(spot.causes.clone());
        }
        for (k, c) in spot.causes.iter_mut().enumerate() {
            c.name = format!("{k} {LONG}");
            c.along.total_se_frac = 0.7;
            c.across.total_frac += 3.0;
        }
    }
    it
}

pub fn hard_trade(units: UnitSystem) -> TradePicture {
    let mut it = trade(units);
    it.title = LONG.to_string();
    it.knob = LONG.to_string();
    it.labels = vec![LONG.to_string(); it.values.len()];
    it.present = it.values.get(5).map(|v| v * 1.001);
    it.why = LONG.repeat(30);
    let rows = it.rows.clone();
    it.rows.extend(rows.iter().map(|r| TradeRow {
        name: LONG.to_string(),
        ..r.clone()
    }));
    it.rows.extend(rows.iter().map(|r| TradeRow {
        asked: r.asked.map(|v| 1e7 * v),
        ..r.clone()
    }));
    it
}

pub fn hard_front(units: UnitSystem) -> FrontPicture {
    let mut it = front(units, 30);
    it.title = LONG.to_string();
    it.x.name = LONG.to_string();
    it.y.name = LONG.to_string();
    for (i, p) in it.front.iter_mut().enumerate() {
        p.label = LONG.to_string();
        p.at[1] -= 1e-7 * i as f64;
        if i > 2 {
            p.at[0] = 2.0 + 1e-5 * i as f64;
        }
    }
    it.present = it.front.get(3).map(|p| p.at);
    it.tried.push([1e8, -1e8]);
    it
}
pub fn bite(units: UnitSystem, count: u32, opening: bite::Opening) -> BiteChart {
    let at = |width_m: f64, reach_m: f64| WidthPoint {
        width_m,
        deepest_m: 0.0022 * (-(width_m / reach_m).powi(2)).exp() + 0.0003,
        swing_m: 0.0009 * (-(width_m / reach_m).powi(2)).exp() + 0.0001,
    };
    let curve = |reach_m| (1..=20).map(|i| at(0.002 * f64::from(i), reach_m)).collect();
    BiteChart {
        units,
        single: curve(0.018),
        pair: curve(0.008),
        pair_gap_m: 0.007,
        now: at(if count > 1 { 0.008 } else { 0.03 }, 0.018),
        count,
        gap_m: 0.009,
        squeeze_m: 0.012,
        limit_m: 0.0006,
        piece_diameter_m: PIECE_M,
        opening,
        drop_m: if matches!(opening, bite::Opening::Seam { .. }) {
            0.000_036
        } else {
            0.000_4
        },
    }
}

/// A wheel that spins up and dips at each throw, one a second from the third second on.
pub fn telemetry(units: UnitSystem, count: usize, volts: bool) -> TelemetryChart {
    let speed = |t: f64| -> f64 {
        let since = (t - 3.0).rem_euclid(1.0);
        let thrown = t >= 3.0 && t < 3.0 + count as f64;
        let dip = if thrown { 28.0 * (-since / 0.2).exp() } else { 0.0 };
        (365.0 * (1.0 - (-t / 0.5).exp()) - dip).max(0.0)
    };
    let times = || {
        (0..)
            .map(|i| 0.02 * f64::from(i))
            .take_while(|t| *t < 4.0 + count as f64)
    };
    TelemetryChart {
        units,
        wheel: times().map(|t| [t, speed(t)]).collect(),
        battery: times()
            .filter(|_| volts)
            .map(|t| [t, 12.4 - 0.02 * (365.0 - speed(t)) / 8.0])
            .collect(),
        throws: (0..count)
            .map(|i| Found {
                time_s: 3.0 + i as f64,
                before_radps: 364.0,
                after_radps: 337.0,
            })
            .collect(),
    }
}

/// A flight of `count` points, with every ninth left out.
pub fn film(units: UnitSystem, count: usize) -> FilmChart {
    let at = |i: usize| {
        let t = i as f64 / 60.0;
        [4.1 * t, 0.6 + 6.9 * t - 4.9 * t * t]
    };
    FilmChart {
        units,
        points_m: (0..count).filter(|i| i % 9 != 8).map(at).collect(),
        left_out_m: (0..count)
            .filter(|i| i % 9 == 8)
            .map(|i| [at(i)[0], at(i)[1] + 0.2])
            .collect(),
        path_m: (0..count).map(at).collect(),
        residuals: (0..count)
            .map(|i| {
                [
                    i as f64 / 60.0,
                    0.004 * (i as f64 * 1.7).sin(),
                    0.003 * (i as f64 * 2.9).cos(),
                ]
            })
            .collect(),
        speed_mps: [8.03, 0.06],
        angle_rad: [1.035, 0.008],
        rms_m: 0.0035,
    }
}

/// Shots whose places along shift by `shift` standard deviations, those across stay.
pub fn drift(count: usize, shift: f64, first: usize) -> DriftChart {
    let strip = |name: &str, shift: f64, turn: f64| {
        let z: Vec<f64> = (0..count)
            .map(|i| 0.8 * (i as f64 * turn).sin() + shift)
            .collect();
        let (mut up, mut down) = (0.0f64, 0.0f64);
        let (mut upper, mut lower) = (Vec::new(), Vec::new());
        for z in &z {
            up = (up + z - 0.5).max(0.0);
            down = (down - z - 0.5).max(0.0);
            upper.push(up);
            lower.push(down);
        }
        DriftStrip {
            name: name.into(),
            places: (0..count).collect(),
            called_at: (0..count).find(|i| upper[*i] > 4.0 || lower[*i] > 4.0),
            z,
            upper,
            lower,
            limit: 4.0,
        }
    };
    DriftChart {
        says: "shots of the last session; something has changed".into(),
        shots: (0..count).map(|i| (first + i).to_string()).collect(),
        strips: if count == 0 {
            Vec::new()
        } else {
            vec![
                strip("place along, up: farther", shift, 1.9),
                strip("place across, up: left", 0.0, 2.3),
            ]
        },
    }
}

/// Suspects of every kind.
pub fn wander(units: UnitSystem, sideways: bool, count: usize) -> WanderPicture {
    let row = |name: &str, sd: f64, interval: Option<[f64; 2]>, finding| WanderRow {
        name: name.into(),
        sd,
        interval,
        finding,
    };
    let rows = vec![
        row("the pieces", 0.0142, Some([0.0071, 0.0311]), WanderFinding::Shown),
        row(
            "the session",
            0.0041,
            Some([0.0, 0.268]),
            WanderFinding::CannotTell,
        ),
        row(
            "the place in the volley",
            0.0012,
            Some([0.0, 0.0025]),
            WanderFinding::Small,
        ),
        row("the battery", 0.0, Some([0.0, 0.0062]), WanderFinding::CannotTell),
        row(
            "what is left from throw to throw, and nobody knows why",
            0.0128,
            None,
            WanderFinding::Rest,
        ),
    ];
    WanderPicture {
        units,
        sideways,
        says: "41 throws in 3 sessions, 6 marked pieces".into(),
        rows: rows.into_iter().take(count).collect(),
    }
}

/// A map with a far edge: the chance falls with the distance, and the last places are out of reach.
pub fn hit_map(units: UnitSystem) -> HitMap {
    let distances_m: Vec<f64> = (2..=8).map(|i| 0.5 * f64::from(i)).collect();
    let offsets_m: Vec<f64> = (-3..=3).map(|i| 0.5 * f64::from(i)).collect();
    let hit_frac = distances_m
        .iter()
        .flat_map(|d| offsets_m.iter().map(move |o| (d, o)))
        .map(|(d, o)| {
            let far = d.hypot(*o);
            (far < 4.1).then(|| (1.2 - 0.02 * far * far - 0.1 * o * o).clamp(0.0, 1.0))
        })
        .collect();
    HitMap {
        title: "Quay: hit chance from every place".into(),
        units,
        distances_m,
        offsets_m,
        hit_frac,
        within_frac: 0.031,
        opening_m: [0.64, 0.39],
        spots: vec![
            MapSpot {
                name: "near".into(),
                distance_m: 1.1,
                offset_m: 0.0,
            },
            MapSpot {
                name: "far, and with quite a long name < & >".into(),
                distance_m: 3.6,
                offset_m: -0.4,
            },
        ],
    }
}

/// A hopper with a wedge and a fault of each kind.
pub fn hopper(units: UnitSystem) -> HopperPicture {
    let place = |number, x, y| Place {
        number,
        at_m: [x, y, 0.056],
        radius_m: 0.056,
    };
    HopperPicture {
        title: "Lantern Night: the hopper".to_string(),
        units,
        hopper: Hopper {
            length_m: 0.34,
            width_m: 0.3,
            chute_width_m: 0.12,
            slope_rad: 0.2,
            wall_m: 0.168,
            funnel_rad: 0.785,
            fillet_m: 0.02,
            chute_m: 0.168,
            rail_gap_m: 0.028,
            friction_coeff: 0.3,
            piece_friction_coeff: 0.3,
            rolling_coeff: 0.01,
            loading: Loading {
                before_mouth_m: 0.17,
                spread_m: 0.028,
                height_m: 0.112,
                every_s: 0.5,
            },
            roller: Some(RollerSpec {
                diameter_m: 0.05,
                width_m: 0.096,
                rim_mps: 0.8,
                squeeze_m: 0.008,
                torque_nm: 0.8,
                friction_coeff: 0.8,
            }),
            stirrer: Some(StirrerSpec {
                length_m: 0.12,
                before_mouth_m: 0.16,
                offset_m: 0.04,
                height_m: 0.056,
                thickness_m: 0.012,
                speed_radps: 5.0,
                torque_nm: 1.0,
                reverses: false,
                swing_rad: 0.0,
                middle_rad: std::f64::consts::PI,
            }),
            bands: Some(BandSpec {
                tension_n: 6.0,
                stiffness_npm: 60.0,
            }),
        },
        piece_diameter_m: 0.112,
        pieces: vec![place(0, -0.07, -0.06), place(1, -0.06, 0.055)],
        stirrer_rad: Some(0.3),
        pieces_are: "load 7, the worst".to_string(),
        faults: vec![
            FaultMark {
                text: "the arm is 120 mm long and meets a wall at 110 mm".to_string(),
                refused: true,
                at_m: [[-0.16, 0.04], [-0.16, 0.15]],
            },
            FaultMark {
                text: "between the hub and a wall there are 98 mm: a piece of 112 mm does not pass there"
                    .to_string(),
                refused: false,
                at_m: [[-0.16, 0.04], [-0.16, 0.15]],
            },
        ],
    }
}

/// Waits for a piece.
pub fn waits(units: UnitSystem) -> WaitsPicture {
    let share = |frac: f64| Longer {
        frac,
        low_frac: 0.8 * frac,
        high_frac: 1.2 * frac,
    };
    let at = |wait_s, loads, gaps| WaitShare {
        wait_s,
        loads: share(loads),
        gaps: share(gaps),
        stuck_counts: [1, 2, 3, 0],
    };
    WaitsPicture {
        title: "Lantern Night: how long one waits for a piece".to_string(),
        units,
        load_count: 256,
        waits: vec![
            at(2.0, 0.5, 0.2),
            at(4.0, 0.3, 0.1),
            at(8.0, 0.1, 0.04),
            at(16.0, 0.0, 0.0),
        ],
        before: Vec::new(),
        why: "of what wedges, most often pieces bridge between two walls".to_string(),
    }
}

/// The same beside what was before a change.
pub fn waits_compared() -> WaitsPicture {
    let now = waits(UnitSystem::Metric);
    let mut before = now.waits.clone();
    for w in &mut before {
        for v in [&mut w.loads.frac, &mut w.loads.low_frac, &mut w.loads.high_frac] {
            *v = 0.4 + 0.5 * *v;
        }
    }
    WaitsPicture { before, ..now }
}

/// Two wedges: a bridge in the mouth, and one piece behind the stirrer.
pub fn stuck(units: UnitSystem) -> StuckPicture {
    let base = hopper(units);
    let place = |number, x, y| Place {
        number,
        at_m: [x, y, 0.056],
        radius_m: 0.056,
    };
    StuckPicture {
        title: "Lantern Night: where pieces get stuck".to_string(),
        units,
        hopper: base.hopper,
        piece_diameter_m: base.piece_diameter_m,
        load_count: 64,
        wedges: vec![
            vec![place(0, -0.05, 0.056), place(1, -0.05, -0.056)],
            vec![
                place(0, -0.05, 0.05),
                place(1, -0.06, -0.06),
                place(2, -0.25, 0.08),
            ],
        ],
    }
}
