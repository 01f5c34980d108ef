//! From results to pictures: which numbers each drawing gets.

use std::fs;
use std::path::{Path, PathBuf};

use arcwright_model::aim::{self, ExitCurve, Needed, SpotAim};
use arcwright_model::finding::Finding;
use arcwright_model::flight::{Accuracy, Until, fly_to_accuracy};
use arcwright_model::launcher::Passage;
use arcwright_model::launcher::bite::{self as biting, OVER_RATIO, Surface, WheelSet, study};
use arcwright_model::limits::{CURVE_POINTS, Report, THROWS_COUNT, fastest};
use arcwright_model::project::{DriveBase, Project};
use arcwright_model::shot::{Chain, Exit, Stance};
use arcwright_model::target::{Arrival, Outcome, Outline};
use arcwright_model::volley_run::{VolleyRun, run_from};
use arcwright_paper::drawings::{
    bite as bite_view, fan as fan_view, needed as needed_view, plan_view, setpoints as curve_view, side_view,
    volley as volley_view,
};

pub use super::launcher_pictures::{force, side, side_empty, side_input};
use super::launcher_pictures::{force_of, side_of};
pub use super::room_pictures::room;
pub use super::scatter_pictures::{
    MAP_PLACES, budget, front, hit_map, inertia, map_plan, of_hundred, scatter, within_frac,
};
use super::throw::Thrown;

/// Points along one drawn flight.
const FLIGHT_POINTS: usize = 80;

/// The drawn path: from the exit until the piece is well inside, or to the floor.
fn line(arrival: &Arrival, stance: &Stance) -> Vec<[f64; 2]> {
    /// Physical: how long after the crossing the path is still of interest.
    const INSIDE_S: f64 = 0.06;
    let inside_s = match (&arrival.crossing, arrival.outcome) {
        (Some(c), Outcome::In | Outcome::Rim) => c.state.time_s + INSIDE_S,
        _ => f64::INFINITY,
    };
    arrival
        .flights
        .iter()
        .flat_map(|f| {
            let (from, to) = (f.start().time_s, f.end().time_s.min(inside_s));
            (0..=FLIGHT_POINTS).map(move |i| f.at(from + (to - from) * i as f64 / FLIGHT_POINTS as f64))
        })
        .map(|s| [s.position_m[0] - stance.at.near_rim_m, s.position_m[2]])
        .collect()
}

/// The path of an exit with no wall in its way, down to the height of the rim: one edge of a band.
fn edge(chain: &Chain, exit: &Exit, stance: &Stance) -> Vec<[f64; 2]> {
    let until = Until {
        time_s: 6.0,
        floor_m: 0.0,
    };
    let path = fly_to_accuracy(
        &chain.ball,
        &chain.medium,
        &exit.state(stance),
        &until,
        Accuracy::Quick,
    );
    let to = if chain.target.upright() {
        path.crossing(&chain.target.plane(&stance.at)).map(|s| s.time_s)
    } else {
        path.landing(chain.target.rim_height_m).map(|s| s.time_s)
    };
    let (from, to) = (path.start().time_s, to.unwrap_or(path.end().time_s));
    (0..=FLIGHT_POINTS)
        .map(|i| path.at(from + (to - from) * i as f64 / FLIGHT_POINTS as f64))
        .map(|s| [s.position_m[0] - stance.at.near_rim_m, s.position_m[2]])
        .collect()
}

fn crossing(arrival: &Arrival, stance: &Stance) -> Option<fan_view::Crossing> {
    let c = arrival.crossing?;
    let [vx, vy, vz] = c.state.velocity_mps;
    Some(fan_view::Crossing {
        point_m: [
            c.state.position_m[0] - stance.at.near_rim_m,
            c.state.position_m[2],
        ],
        below_level_rad: (-vz).atan2(vx.hypot(vy)),
        entry_rad: c.entry_rad,
        clearance_m: arrival.clearance.map_or(f64::NAN, |k| k.least_m()),
    })
}

/// The flight at the setpoint, with a band of one standard deviation of what is not known yet.
fn fan_flight(chain: &Chain, a: &SpotAim) -> fan_view::Flight {
    let Some(s) = a.best() else {
        return fan_view::Flight {
            spot: a.spot.name.clone(),
            distance_m: a.spot.distance_m,
            setpoint_radps: None,
            line_m: Vec::new(),
            band: None,
            crossing: None,
            outcome: "out of reach".into(),
        };
    };
    // The doubt as a change of exit speed: the same share as of the setpoint.
    let share = s.doubt.setpoint_sd_radps / s.wheel_radps;
    let edge = |by: f64| {
        edge(
            chain,
            &Exit {
                speed_mps: s.exit.speed_mps * (1.0 + by),
                ..s.exit
            },
            &a.stance,
        )
    };
    fan_view::Flight {
        spot: a.spot.name.clone(),
        distance_m: a.spot.distance_m,
        setpoint_radps: Some(s.wheel_radps),
        line_m: line(&s.arrival, &a.stance),
        band: share.is_finite().then(|| fan_view::Band {
            low_m: edge(-share),
            high_m: edge(share),
        }),
        crossing: crossing(&s.arrival, &a.stance),
        outcome: s.arrival.outcome.word().into(),
    }
}

fn fan_of(project: &Project, chain: &Chain, flights: Vec<fan_view::Flight>) -> String {
    fan_view::draw(&fan_view::Fan {
        units: project.units,
        target: project.target,
        piece_diameter_m: project.piece.diameter_m,
        wheel_radius_m: chain.launcher.wheel_radius_m,
        axle_height_m: chain.launcher.axle_height_m,
        flights,
        after_shots: project.known.is_some(),
    })
}

/// Exit speed against exit angle, for every spot.
pub fn needed(project: &Project, spots: &[(String, Vec<Needed>)]) -> String {
    needed_view::draw(&needed_view::NeededChart {
        units: project.units,
        spots: spots.to_vec(),
        limit_mps: project.limits.exit_speed_mps,
    })
}

/// Flights from every spot over the target.
pub fn fan(project: &Project, report: &Report) -> String {
    let flights = report.aims.iter().map(|a| fan_flight(&report.chain, a)).collect();
    fan_of(project, &report.chain, flights)
}

/// The flight of one throw over the target.
pub fn flight(project: &Project, t: &Thrown) -> String {
    let one = fan_view::Flight {
        spot: t.stance_name.clone(),
        distance_m: t.spot.distance_m,
        setpoint_radps: Some(t.wheel_radps),
        line_m: line(&t.arrival, &t.stance),
        band: None,
        crossing: crossing(&t.arrival, &t.stance),
        outcome: t.arrival.outcome.word().into(),
    };
    fan_of(project, &t.chain, vec![one])
}

/// The throw on the move from the farthest spot that has one, from above; `None` for a robot that
/// stands or has no setpoint.
pub fn plan(project: &Project, report: &Report) -> Option<String> {
    let m = &project.moving;
    if !m.moves() {
        return None;
    }
    let a = fastest(&report.aims)?;
    let s = a.best()?;
    let (stance, target) = (&a.stance, &project.target);
    let centre = target.centre_m(&stance.at);
    let half = [0.5 * target.depth_m * target.tilt_rad.cos(), 0.5 * target.width_m];
    let corner = |u: f64, v: f64| [centre[0] + u * half[0], centre[1] + v * half[1]];
    let opening_m = match target.outline {
        Outline::Rectangle => [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(u, v)| corner(u, v))
            .to_vec(),
        Outline::Round => (0..48)
            .map(|i| f64::from(i) / 48.0 * std::f64::consts::TAU)
            .map(|t| corner(t.cos(), t.sin()))
            .collect(),
    };
    let forward_rad = match m.drive {
        DriveBase::Tank => stance.heading_rad - m.launcher_heading_rad,
        DriveBase::Sideways => stance.heading_rad,
    };
    let (sin, cos) = stance.heading_rad.sin_cos();
    let flight_s = s.arrival.crossing.map_or(0.0, |c| c.state.time_s);
    let path_m = plan_line(&s.arrival, flight_s);
    Some(plan_view::draw(&plan_view::PlanView {
        units: project.units,
        spot: a.spot.name.clone(),
        setpoint_radps: s.wheel_radps,
        opening_m,
        centre_m: [centre[0], centre[1]],
        robot_m: [
            project.machine.length_m.unwrap_or(USUAL_ROBOT_M),
            project.machine.width_m.unwrap_or(USUAL_ROBOT_M),
        ],
        turning_centre_m: [-m.ahead_of_centre_m * cos, -m.ahead_of_centre_m * sin],
        forward_rad,
        heading_rad: stance.heading_rad,
        lead_rad: s.lead_rad,
        velocity_mps: stance.platform_mps,
        turn_radps: m.turn_radps,
        flight_s,
        path_m,
        command_m: command_line(project, stance),
    }))
}

/// Physical: size of a robot drawn where the file does not say.
const USUAL_ROBOT_M: f64 = 0.45;

/// The path from above, up to the crossing.
fn plan_line(arrival: &Arrival, until_s: f64) -> Vec<[f64; 2]> {
    arrival
        .flights
        .iter()
        .flat_map(|f| {
            let (from, to) = (f.start().time_s, f.end().time_s.min(until_s));
            (0..=FLIGHT_POINTS).map(move |i| f.at(from + (to - from) * i as f64 / FLIGHT_POINTS as f64))
        })
        .map(|s| [s.position_m[0], s.position_m[1]])
        .collect()
}

/// The way of the axle from the command to the release. A tank drives along an arc; a robot that drives
/// any way goes straight.
fn command_line(project: &Project, stance: &Stance) -> Vec<[f64; 2]> {
    const POINTS: usize = 12;
    let m = &project.moving;
    if m.delay_s <= 0.0 {
        return Vec::new();
    }
    let [vx, vy] = stance.platform_mps;
    let bends = m.drive == DriveBase::Tank;
    let step_s = m.delay_s / POINTS as f64;
    let mut at = [0.0, 0.0];
    let mut line = vec![at];
    for i in 0..POINTS {
        // Backward in time, each step in the direction of its middle.
        let before_s = (i as f64 + 0.5) * step_s;
        let (s, c) = if bends {
            (-m.turn_radps * before_s).sin_cos()
        } else {
            (0.0, 1.0)
        };
        at = [
            at[0] - (vx * c - vy * s) * step_s,
            at[1] - (vx * s + vy * c) * step_s,
        ];
        line.push(at);
    }
    line.reverse();
    line
}

/// Setpoint against distance, spots marked; the curve of the design beside it where that is another.
pub fn setpoints(project: &Project, report: &Report, design: Option<&Project>) -> String {
    /// Points along the curve.
    const POINTS: f64 = 24.0;
    let (near, far) = project.spot_range().unwrap_or_default();
    let step = ((far - near) / POINTS).max(1e-3);
    let rows = aim::table(
        project,
        &report.chain,
        &report.curve,
        &project.machine.setting,
        step,
    );
    let design = design.map_or(Vec::new(), |p| {
        let chain = Chain::of(p);
        let setting = &p.machine.setting;
        let curve = ExitCurve::of(&chain, setting, CURVE_POINTS);
        aim::table(p, &chain, &curve, setting, step)
            .iter()
            .filter_map(|r| Some([r.distance_m, r.aim.best()?.wheel_radps]))
            .collect()
    });
    let curve = rows
        .iter()
        .map(|r| curve_view::CurvePoint {
            distance_m: r.distance_m,
            setpoint: r.aim.best().map(|s| curve_view::Speed {
                best_radps: s.wheel_radps,
                low_radps: s.wheel_radps - s.doubt.setpoint_sd_radps,
                high_radps: s.wheel_radps + s.doubt.setpoint_sd_radps,
            }),
        })
        .collect();
    let spots = report
        .aims
        .iter()
        .map(|a| curve_view::SpotMark {
            name: a.spot.name.clone(),
            distance_m: a.spot.distance_m,
            setpoint_radps: a.best().map(|s| s.wheel_radps),
        })
        .collect();
    curve_view::draw(&curve_view::Setpoints {
        units: project.units,
        curve,
        design,
        spots,
        top_radps: report.chain.top_radps,
        reserve_frac: project.limits.speed_reserve_frac,
    })
}

/// Wheel speed, voltage and current through a volley that was run with samples.
pub fn volley(project: &Project, run: &VolleyRun) -> String {
    volley_view::draw(&volley_view::VolleyChart {
        units: project.units,
        samples: run.train.samples.clone(),
        setpoint_radps: run.plan.setpoint_radps,
        ready_frac: project.machine.controller.ready_frac,
        ready_at_s: run.train.spin_up_s,
        throws: run
            .train
            .throws
            .iter()
            .map(|t| volley_view::Throw {
                time_s: t.time_s,
                before_radps: t.before_radps,
                low_radps: t.after_radps,
                recovery_s: t.recovery_s.map(|r| r + t.contact_s),
            })
            .collect(),
        brown_out_v: project.machine.battery.brown_out_v,
        fuse_a: project.limits.fuse_a,
    })
}

/// Depth of the wheel in the holes or the seam against its width; `None` for a piece without them.
pub fn bite(project: &Project) -> Option<String> {
    /// Widths along the curve.
    const WIDTHS: u32 = 20;
    /// Judgement: a close pair to compare with, where the machine has none, stands half a hole apart.
    const PAIR_GAP_RATIO: f64 = 0.5;
    let skin = project.skin()?;
    let (now, squeeze) = (project.wheel_set(), project.squeeze_m());
    let opening = match (project.piece.holes, project.piece.seam) {
        (Some(h), _) => bite_view::Opening::Hole {
            diameter_m: h.diameter_m,
        },
        (None, Some(s)) => bite_view::Opening::Seam {
            width_m: s.width_m,
            depth_m: s.depth_m,
        },
        (None, None) => return None,
    };
    let across_m = match opening {
        bite_view::Opening::Hole { diameter_m } => diameter_m,
        bite_view::Opening::Seam { width_m, .. } => width_m,
    };
    let at = |wheels: WheelSet| {
        let found = study(&skin, &wheels, squeeze, THROWS_COUNT);
        bite_view::WidthPoint {
            width_m: wheels.width_m,
            deepest_m: found.p95_m,
            swing_m: found.sd_place_m,
        }
    };
    let pair_gap_m = if now.count == 2 {
        now.gap_m
    } else {
        PAIR_GAP_RATIO * across_m
    };
    let widest = now.width_m.max(3.0 * across_m).min(project.piece.diameter_m);
    let curve = |count, gap_m| {
        (1..=WIDTHS)
            .map(|i| {
                at(WheelSet {
                    width_m: widest * f64::from(i) / f64::from(WIDTHS),
                    count,
                    gap_m,
                    ..now
                })
            })
            .collect()
    };
    Some(bite_view::draw(&bite_view::BiteChart {
        units: project.units,
        single: curve(1, 0.0),
        pair: curve(2, pair_gap_m),
        pair_gap_m,
        now: at(now),
        count: now.count,
        gap_m: now.gap_m,
        squeeze_m: squeeze,
        limit_m: OVER_RATIO * squeeze,
        piece_diameter_m: project.piece.diameter_m,
        opening,
        drop_m: drop_over_middle(&skin, &now),
    }))
}

/// How far an unpressed wheel drops when its middle stands over the middle of a hole, or along the seam.
fn drop_over_middle(skin: &Surface, wheels: &WheelSet) -> f64 {
    let one = Surface {
        holes: if skin.holes.is_empty() {
            Vec::new()
        } else {
            vec![[1.0, 0.0, 0.0]]
        },
        seam: skin.seam.filter(|_| skin.holes.is_empty()),
        ..skin.clone()
    };
    let straight = [0.0, 0.0, 0.0, 1.0];
    let found = biting::bite(&one, wheels, 0.0, straight, 0.0);
    found.depth_m.first().copied().unwrap_or(0.0)
}

/// Draws every picture into a folder; returns each path with what it shows. The design is given where the project is
/// another by what test shots taught.
pub fn write_all(
    project: &Project,
    design: Option<&Project>,
    report: &Report,
    folder: &Path,
) -> Result<Vec<(PathBuf, String)>, Finding> {
    let mut pictures: Vec<(&str, &str, String)> = vec![
        (
            "flights.svg",
            "flights from every spot over the target",
            fan(project, report),
        ),
        (
            "setpoints.svg",
            "wheel speed against distance",
            setpoints(project, report, design),
        ),
    ];
    if let Some(svg) = plan(project, report) {
        pictures.push(("plan.svg", "a throw on the move from above", svg));
    }
    if let Some(svg) = bite(project) {
        pictures.push(("bite.svg", "how deep the wheel drops into holes or seam", svg));
    }
    let chain = &report.chain;
    let setting = project.machine.setting;
    if let Some((a, s)) = fastest(&report.aims).and_then(|a| a.best().map(|s| (a, s))) {
        if let Passage::Thrown(r) = chain.release(&setting, s.wheel_radps, true) {
            let exit = Exit::of(&r);
            pictures.push((
                "launcher.svg",
                "the launcher to scale with the piece passing through",
                side_view::draw(&side_of(
                    project,
                    chain,
                    &setting,
                    s.wheel_radps,
                    Some((&exit, &r.trace)),
                )),
            ));
            pictures.push((
                "guide-force.svg",
                "force and slip along the guide",
                force_of(project, chain, &r),
            ));
        }
        if let Some(run) = run_from(project, chain, a, true) {
            pictures.push((
                "volley.svg",
                "wheel speed, voltage and current through a volley",
                volley(project, &run),
            ));
        }
    } else {
        pictures.push((
            "launcher.svg",
            "the launcher to scale",
            side_view::draw(&side_of(project, chain, &setting, chain.top_radps, None)),
        ));
    }
    if let Some(base) = report.frame.as_ref().and_then(|f| f.base.as_ref()) {
        let svg = super::frame::polar(project, std::iter::once(base));
        pictures.push(("base.svg", "speed and push of the drive base by direction", svg));
    }
    if let Some(svg) = super::frame::free_room(project) {
        pictures.push(("parts.svg", "parts and free room within the size limits", svg));
    }
    write_file_folder(folder)?;
    let mut written = Vec::new();
    for (name, what, svg) in pictures {
        let path = folder.join(name);
        write_file(&path, &svg)?;
        written.push((path, what.to_string()));
    }
    Ok(written)
}

/// Makes a folder with those above it.
pub fn write_file_folder(folder: &Path) -> Result<(), Finding> {
    fs::create_dir_all(folder).map_err(|e| Finding {
        code: "no-folder",
        key: folder.display().to_string(),
        what: format!("could not make the folder: {e}"),
        fix: "make it writable, or run from a folder that is".into(),
    })
}

/// Writes one file, or says what kept it from being written.
pub fn write_file(path: &Path, text: &str) -> Result<(), Finding> {
    write_bytes(path, text.as_bytes())
}

/// The same for what is no text.
pub fn write_bytes(path: &Path, bytes: &[u8]) -> Result<(), Finding> {
    fs::write(path, bytes).map_err(|e| Finding {
        code: "not-written",
        key: path.display().to_string(),
        what: format!("could not write it: {e}"),
        fix: "choose a file in a folder that exists and is writable, on a disk with room".into(),
    })
}
