//! One throw through the whole chain at a wheel speed and a setting.

use arcwright_model::aim::{self, ExitCurve, Moved, aim_spot};
use arcwright_model::finding::Finding;
use arcwright_model::flight::{Ball, Medium, State};
use arcwright_model::launcher::guide_quality::{GuideQuality, guide_quality};
use arcwright_model::launcher::plateau::Plateau;
use arcwright_model::launcher::{Layout, Passage, Release, Setting};
use arcwright_model::limits::CURVE_POINTS;
use arcwright_model::project::{Project, Spot};
use arcwright_model::shot::{Chain, Exit, Stance};
use arcwright_model::target::Arrival;

/// What to throw.
#[derive(Clone, Debug, Default)]
pub struct Plan {
    /// Spot by name; the last one in the file if not given.
    pub spot: Option<String>,
    /// Wheel speed; the spot's setpoint if not given.
    pub wheel_radps: Option<f64>,
    /// With it: the setpoint of a robot that stands, where the spot has been aimed from before.
    pub standing_radps: Option<f64>,
    /// Knobs moved away from the file's setting.
    pub slide_m: Option<f64>,
    /// Tilt.
    pub tilt_rad: Option<f64>,
    /// Reach.
    pub reach_m: Option<f64>,
}

/// A throw and all that was worked out on its way.
pub struct Thrown {
    /// Setting used.
    pub setting: Setting,
    /// Name of the spot.
    pub stance_name: String,
    /// Wheel speed at the start.
    pub wheel_radps: f64,
    /// The release from the contact simulation, with its trace.
    pub release: Release,
    /// Exit.
    pub exit: Exit,
    /// State at the start of the flight.
    pub start: State,
    /// Air.
    pub medium: Medium,
    /// Piece in the air.
    pub ball: Ball,
    /// Flight and outcome.
    pub arrival: Arrival,
    /// Place on the no-slip plateau.
    pub plateau: Option<Plateau>,
    /// How evenly the guide presses, where it is said how it strays.
    pub guide: Option<GuideQuality>,
    /// Kinetic energy of the piece at the exit, without its spin.
    pub energy_j: f64,
    /// The chain used.
    pub chain: Chain,
    /// The spot.
    pub spot: Spot,
    /// How the launcher stands to the target.
    pub stance: Stance,
    /// Angle from the line to the target to the launcher, left positive.
    pub lead_rad: f64,
    /// What the motion of the robot changes; `None` for one that stands.
    pub moved: Option<Moved>,
}

/// Finds a spot by name; the error names those that exist.
pub fn find_spot<'a>(project: &'a Project, name: Option<&str>) -> Result<&'a Spot, Finding> {
    let refuse = |what: String| Finding {
        code: "no-such-spot",
        key: "spot".into(),
        what,
        fix: format!(
            "use one of: {}",
            project
                .spots
                .iter()
                .map(|s| s.name.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        ),
    };
    match name {
        None => project
            .spots
            .last()
            .ok_or_else(|| refuse("the project has no spot".into())),
        Some(n) => project
            .spots
            .iter()
            .find(|s| s.name.eq_ignore_ascii_case(n))
            .ok_or_else(|| refuse(format!("there is no spot called `{n}`"))),
    }
}

/// What to say when a setpoint is wanted and there is none.
pub(super) fn no_setpoint(spot: &str) -> Finding {
    Finding {
        code: "no-setpoint",
        key: format!("spot `{spot}`"),
        what: "no wheel speed centres the crossing from this spot at this setting".into(),
        fix: "the verdict `reach` of `arcwright check` says what is missing; with --speed it is thrown at any wheel speed".into(),
    }
}

/// Throws once.
pub fn throw(project: &Project, plan: &Plan) -> Result<Thrown, Finding> {
    let mut setting = project.machine.setting;
    setting.slide_m = plan.slide_m.unwrap_or(setting.slide_m);
    setting.tilt_rad = plan.tilt_rad.unwrap_or(setting.tilt_rad);
    setting.reach_m = plan.reach_m.unwrap_or(setting.reach_m);
    let spot = find_spot(project, plan.spot.as_deref())?.clone();
    let chain = Chain::of(project);
    let (wheel_radps, standing_radps) = match plan.wheel_radps {
        Some(w) => (w, plan.standing_radps),
        None => {
            let curve = ExitCurve::of(&chain, &setting, CURVE_POINTS);
            let aim = aim_spot(project, &chain, &curve, &setting, &spot);
            aim.best()
                .map(|s| (s.wheel_radps, s.moved.and_then(|m| m.standing_radps)))
                .ok_or_else(|| no_setpoint(&spot.name))?
        }
    };
    let release = match chain.release(&setting, wheel_radps, true) {
        Passage::Thrown(r) => r,
        Passage::Refused { why, .. } => {
            return Err(Finding {
                code: "not-thrown",
                key: "launcher".into(),
                what: format!("the piece does not come through at this wheel speed: {why}"),
                fix: "raise the wheel speed, widen the gap (less squeeze) or push harder at the feed".into(),
            });
        }
    };
    let exit = Exit::of(&release);
    // An exit that does not come to the opening has no lead; it is shown thrown straight.
    let lead_rad = aim::lead(&chain, &spot, &exit).unwrap_or(0.0);
    let stance = chain.stance_led(&spot, lead_rad);
    let start = exit.state(&stance);
    // The energy of what flies, seen from the floor.
    let speed_mps = if stance.moves() {
        let [x, y, z] = start.velocity_mps;
        x.hypot(y).hypot(z)
    } else {
        exit.speed_mps
    };
    let plateau = chain.plateau(&setting, wheel_radps);
    let strays = match chain.launcher.layout {
        Layout::Guide(g) => g.entry_relief_m != 0.0 || chain.launcher.guide_error.is_stated(),
        Layout::Pair(_) => false,
    };
    let guide = if strays {
        guide_quality(&chain.launcher, &chain.body, &release.trace)
    } else {
        None
    };
    Ok(Thrown {
        setting,
        stance_name: spot.name.clone(),
        wheel_radps,
        exit,
        start,
        medium: chain.medium,
        ball: chain.ball,
        arrival: chain.fly(&exit, &stance),
        plateau,
        guide,
        energy_j: arcwright_model::launcher::hazard::piece_energy(
            chain.ball.mass_kg,
            chain.ball.diameter_m,
            speed_mps,
        )
        .kinetic_j,
        moved: aim::moved(&chain, &spot, &exit, lead_rad, standing_radps),
        stance,
        lead_rad,
        release,
        chain,
        spot,
    })
}
