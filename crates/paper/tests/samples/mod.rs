//! Invented data in the shape of real results, to draw pictures from. Proof of nothing but the
//! drawing: the numbers come from rough formulas that live here only.
#![allow(dead_code)]

use arcwright_model::launcher::{PassageSample, Setting, VolleySample};
use arcwright_model::project::UnitSystem;
use arcwright_model::target::{Outline, Target};
use arcwright_paper::drawings::bite::{BiteChart, Opening, WidthPoint};
use arcwright_paper::drawings::fan::{Band, Crossing, Fan, Flight};
use arcwright_paper::drawings::guide_force::{GuideForce, SteadySqueeze};
use arcwright_paper::drawings::setpoints::{CurvePoint, Setpoints, Speed, SpotMark};
use arcwright_paper::drawings::side_view::{Exit, Part, Role, SideView, Wheel};
use arcwright_paper::drawings::volley::{Throw, VolleyChart};

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

pub fn bite(units: UnitSystem, count: u32, opening: Opening) -> BiteChart {
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
        drop_m: if matches!(opening, Opening::Seam { .. }) {
            0.000_036
        } else {
            0.000_4
        },
    }
}
