//! Setpoints for every spot and by distance; where test shots taught something, beside those of the design.

use arcwright_model::aim::{self, ExitCurve, SpotAim, TableRow};
use arcwright_model::finding::Finding;
use arcwright_model::floor::{Design, Learned};
use arcwright_model::limits::{self, CURVE_POINTS, Report};
use arcwright_model::project::{Project, UnitSystem};
use arcwright_model::shot::Chain;

use super::floor::separated;
use super::floor::taught::Schooled;

/// Setpoints.
pub struct Aimed {
    /// The checks with the aims from every spot.
    pub report: Report,
    /// By distance, straight ahead.
    pub rows: Vec<TableRow>,
    /// Learned and designed beside them, where something was learned.
    pub beside: Option<Beside>,
}

/// What was learned for each spot and each row.
pub struct Beside {
    /// In the order of the spots.
    pub spots: Vec<Compared>,
    /// In the order of the rows.
    pub rows: Vec<Compared>,
}

/// One setpoint, learned and designed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// After the shots.
    pub learned: Option<Learned>,
    /// Before them.
    pub design: Option<Design>,
    /// Farther from the shots than they speak for.
    pub beyond_the_log: bool,
}

impl Compared {
    /// By how much the wheel speed changed.
    pub fn change_radps(&self) -> Option<f64> {
        Some(self.learned?.wheel_radps - self.design?.wheel_radps)
    }
}

/// Aims: the checks, the table if a step is given, and what was learned beside what was designed.
pub fn aimed(project: &Project, learned: Option<&Schooled>, step_m: Option<f64>) -> Aimed {
    let report = limits::check(project);
    let rows = step_m.map_or(Vec::new(), |step| {
        aim::table(
            project,
            &report.chain,
            &report.curve,
            &project.machine.setting,
            step,
        )
    });
    let beside = learned.map(|l| {
        let (spots, by_distance) = designed(&l.design, step_m);
        let chain = &report.chain;
        let of = |aims: &[&SpotAim], designs: Vec<SpotAim>| -> Vec<Compared> {
            let found = l.taught.expected_all(chain, aims);
            aims.iter()
                .zip(designs)
                .zip(found)
                .map(|((aim, design), expected)| compared(l, expected, aim, &design))
                .collect()
        };
        Beside {
            spots: of(&report.aims.iter().collect::<Vec<_>>(), spots),
            rows: of(&rows.iter().map(|r| &r.aim).collect::<Vec<_>>(), by_distance),
        }
    });
    Aimed { report, rows, beside }
}

fn designed(design: &Project, step_m: Option<f64>) -> (Vec<SpotAim>, Vec<SpotAim>) {
    let chain = Chain::of(design);
    let setting = &design.machine.setting;
    let curve = ExitCurve::of(&chain, setting, CURVE_POINTS);
    let rows = step_m.map_or(Vec::new(), |step| {
        aim::table(design, &chain, &curve, setting, step)
    });
    (
        aim::aim_all(design, &chain, &curve, setting),
        rows.into_iter().map(|r| r.aim).collect(),
    )
}

/// Both beside each other.
fn compared(learned: &Schooled, expected: Option<Learned>, aim: &SpotAim, design: &SpotAim) -> Compared {
    Compared {
        learned: expected,
        design: design.best().map(|s| Design {
            wheel_radps: s.wheel_radps,
            wheel_sd_radps: s.doubt.setpoint_sd_radps,
        }),
        beyond_the_log: learned.taught.is_beyond(aim.spot.distance_m),
    }
}

/// The table of setpoints for the robot's code (CSV): spots first, then by distance.
///
/// # Errors
/// A finding when it cannot be made.
pub fn table(project: &Project, source: &str, turned: &str, aimed: &Aimed) -> Result<String, Finding> {
    let plain = |text: &str| text.replace(|c: char| c.is_control(), " ");
    let mut text = format!(
        "# arcwright setpoints: {}, at {}\n# from: {}\n# units: m, rad/s, rpm, m/s, rad; shares from 0 to 1\n",
        plain(&project.name),
        plain(&project.setting_words(&project.machine.setting)),
        plain(source),
    );
    if !turned.is_empty() {
        text.push_str(&format!("# {}\n", plain(turned)));
    }
    let head = [
        "spot",
        "distance_m",
        "wheel_radps",
        "wheel_rpm",
        "wheel_sd_radps",
        "wheel_sd_rpm",
        "hit_expected_frac",
        "lead_rad",
        "exit_speed_mps",
        "exit_angle_rad",
        "entry_rad",
        "source",
        "design_radps",
        "beyond_the_log",
    ];
    let mut lines = vec![head.map(str::to_string).to_vec()];
    let mut write = |aim: &SpotAim, beside: Option<&Compared>| {
        /// Rounding: digits behind the point; a millionth of a radian per second is nothing.
        const DIGITS: usize = 6;
        const RPM: f64 = std::f64::consts::PI / 30.0;
        let number = |x: Option<f64>| {
            let x = x.filter(|x| x.is_finite());
            x.map_or(String::new(), |x| format!("{x:.DIGITS$}"))
        };
        let best = aim.best();
        let wheel = best.map(|s| s.wheel_radps);
        let sd = best.map(|s| s.doubt.setpoint_sd_radps);
        let record = [
            plain(&aim.spot.name),
            number(Some(aim.spot.distance_m)),
            number(wheel),
            number(wheel.map(|w| w / RPM)),
            number(sd),
            number(sd.map(|w| w / RPM)),
            number(beside.and_then(|b| b.learned).map(|l| l.expected_hit_frac)),
            number(best.map(|s| s.lead_rad)),
            number(best.map(|s| s.exit.speed_mps)),
            number(best.map(|s| s.exit.angle_rad)),
            number(best.and_then(|s| s.arrival.crossing).map(|c| c.entry_rad)),
            match (best, beside) {
                (None, _) => "out of reach",
                (_, Some(_)) => "learned",
                (_, None) => "design",
            }
            .to_string(),
            number(match beside {
                Some(b) => b.design.map(|d| d.wheel_radps),
                None => wheel,
            }),
            beside.map_or(String::new(), |b| b.beyond_the_log.to_string()),
        ];
        lines.push(record.to_vec());
    };
    let at = |list: Option<&Vec<Compared>>, i: usize| list.and_then(|l| l.get(i)).copied();
    let beside = aimed.beside.as_ref();
    for (i, a) in aimed.report.aims.iter().enumerate() {
        write(a, at(beside.map(|b| &b.spots), i).as_ref());
    }
    for (i, r) in aimed.rows.iter().enumerate() {
        write(&r.aim, at(beside.map(|b| &b.rows), i).as_ref());
    }
    text.push_str(&separated::written(&lines)?);
    Ok(text)
}

/// Method: rows of a table when no step is given, about this many.
const USUAL_ROWS: f64 = 10.0;

/// A round step that gives about ten rows.
pub fn usual_step_m(project: &Project) -> f64 {
    let (near, far) = project.spot_range().unwrap_or_default();
    let rough = ((far - near) / USUAL_ROWS).max(0.05);
    // Steps that come out round in the unit in which distances are shown.
    const FOOT_M: f64 = 0.3048;
    let steps: [f64; 7] = match project.units {
        UnitSystem::Metric => [0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0],
        UnitSystem::Us => [0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0].map(|k| k * FOOT_M),
    };
    steps.into_iter().find(|s| *s >= rough).unwrap_or(rough)
}
