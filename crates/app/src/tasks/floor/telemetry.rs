//! A robot's log: read, repaired, its throws found, its wheel train learned.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::floor::telemetry::{
    Dips, Likeness, Log, Repaired, TrainLearned, find_dips, learn_train, likenesses, repair,
};
use arcwright_model::project::{Project, UnitSystem};
use arcwright_model::shot::Chain;
use arcwright_model::units::Dimension as D;
use arcwright_model::units::show::{Scale, text as show};
use arcwright_paper::drawings::telemetry as view;

use super::record_columns::{Found, Ours, find};
use super::record_table::{self, Table};

/// Half width of the band that counts as recovered, where no project says it.
const USUAL_BAND_FRAC: f64 = 0.01;

/// Our columns of a log.
pub const COLUMNS: &[Ours] = &[
    Ours {
        name: "time",
        dimension: D::Time,
        words: &[
            ("time", 5),
            ("t", 4),
            ("timestamp", 5),
            ("clock", 4),
            ("seconds", 4),
            ("millis", 5),
            ("micros", 5),
            ("elapsed", 4),
            ("sec", 3),
            ("ms", 2),
            ("us", 2),
            ("loop", -4),
        ],
        usual_unit: None,
    },
    Ours {
        name: "setpoint",
        dimension: D::AngularSpeed,
        words: &[
            ("setpoint", 9),
            ("target", 8),
            ("goal", 8),
            ("desired", 8),
            ("reference", 7),
            ("ref", 7),
            ("asked", 7),
            ("commanded", 6),
            ("command", 4),
            ("cmd", 5),
            ("rpm", 1),
        ],
        usual_unit: None,
    },
    Ours {
        name: "wheel",
        dimension: D::AngularSpeed,
        words: &[
            ("wheel", 5),
            ("flywheel", 6),
            ("shooter", 4),
            ("launcher", 4),
            ("roller", 3),
            ("rpm", 3),
            ("speed", 4),
            ("spd", 4),
            ("velocity", 4),
            ("vel", 4),
            ("omega", 5),
            ("measured", 2),
            ("actual", 2),
            ("setpoint", -20),
            ("target", -20),
            ("goal", -20),
            ("desired", -20),
            ("error", -20),
            ("err", -20),
            ("commanded", -20),
            ("cmd", -20),
        ],
        usual_unit: None,
    },
    Ours {
        name: "motor voltage",
        dimension: D::Voltage,
        words: &[
            ("applied", 6),
            ("motor", 1),
            ("output", 1),
            ("vout", 6),
            ("voltage", 2),
            ("volts", 2),
        ],
        usual_unit: Some("V"),
    },
    Ours {
        name: "battery voltage",
        dimension: D::Voltage,
        words: &[
            ("battery", 4),
            ("batt", 4),
            ("bat", 4),
            ("vbat", 6),
            ("bus", 4),
            ("supply", 4),
            ("vin", 5),
            ("voltage", 3),
            ("volts", 3),
            ("v", 1),
            ("current", -9),
            ("motor", -9),
            ("applied", -9),
            ("output", -9),
        ],
        usual_unit: Some("V"),
    },
    Ours {
        name: "duty",
        dimension: D::Ratio,
        words: &[
            ("duty", 7),
            ("pwm", 6),
            ("throttle", 5),
            ("output", 4),
            ("power", 4),
            ("percent", 3),
            ("command", 3),
            ("cmd", 3),
            ("voltage", -9),
            ("rpm", -9),
        ],
        usual_unit: None,
    },
    Ours {
        name: "motor current",
        dimension: D::Current,
        words: &[
            ("motor", 4),
            ("stator", 5),
            ("phase", 4),
            ("current", 2),
            ("amps", 2),
            ("voltage", -9),
        ],
        usual_unit: Some("A"),
    },
    Ours {
        name: "battery current",
        dimension: D::Current,
        words: &[
            ("current", 4),
            ("amps", 4),
            ("battery", 3),
            ("batt", 3),
            ("supply", 3),
            ("total", 2),
            ("voltage", -9),
            ("motor", -9),
            ("stator", -9),
            ("v", -3),
        ],
        usual_unit: Some("A"),
    },
];

/// What came of a log.
pub struct Telemetry {
    /// Which column was taken for what.
    pub found: Vec<Found>,
    /// What was left out of the file.
    pub notes: Vec<String>,
    /// The log with its clock repaired.
    pub repaired: Repaired,
    /// The throws.
    pub dips: Dips,
    /// Band for recovery.
    pub band_frac: f64,
    /// The wheel train, or why it cannot be learned.
    pub train: Result<TrainLearned, Finding>,
    /// Beside the parts list; empty without a project.
    pub likenesses: Vec<Likeness>,
}

/// A throw as a shot log takes it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThrowReading {
    /// Time in the log.
    pub time_s: f64,
    /// Wheel speed before.
    pub before_radps: f64,
    /// Wheel speed after.
    pub after_radps: f64,
    /// Battery voltage before.
    pub battery_v: Option<f64>,
}

/// The throws of a log as [`super::attach`] brings them to logged shots.
pub fn throw_readings(telemetry: &Telemetry) -> Vec<ThrowReading> {
    let each = telemetry.dips.dips.iter();
    each.map(|d| ThrowReading {
        time_s: d.time_s,
        before_radps: d.before_radps,
        after_radps: d.after_radps,
        battery_v: d.battery_v,
    })
    .collect()
}

/// Reads a log file.
///
/// # Errors
/// What cannot be read, guessed or repaired.
pub fn read(
    path: &Path,
    maps: &[String],
    project: Option<&Project>,
    band_frac: Option<f64>,
) -> Result<Telemetry, Finding> {
    of_table(&record_table::read(path)?, maps, project, band_frac)
}

/// As [`read`], from a table.
///
/// # Errors
/// As [`read`].
pub fn of_table(
    table: &Table,
    maps: &[String],
    project: Option<&Project>,
    band_frac: Option<f64>,
) -> Result<Telemetry, Finding> {
    let found = find(table, COLUMNS, maps)?;
    let column = |name: &str| found.iter().find(|f| f.name == name).map(|f| f.values.clone());
    let missing = |name: &'static str, code: &'static str, example: &str| {
        Finding::new(
            code,
            "file",
            format!(
                "no column looks like `{name}`; the columns are: {}",
                table.names.join(", ")
            ),
            format!("say which one it is: --map \"their name={name} {example}\""),
        )
    };
    let log = Log {
        time_s: column("time").ok_or_else(|| missing("time", "column-no-time", "ms"))?,
        wheel_radps: column("wheel").ok_or_else(|| missing("wheel", "column-no-wheel", "rpm"))?,
        setpoint_radps: column("setpoint"),
        battery_v: column("battery voltage"),
        duty_frac: column("duty"),
        motor_v: column("motor voltage"),
        battery_a: column("battery current"),
        motor_a: column("motor current"),
    };
    let repaired = repair(&log)?;
    let band_frac = band_frac
        .or(project.map(|p| p.machine.controller.ready_frac))
        .unwrap_or(USUAL_BAND_FRAC);
    let dips = find_dips(&repaired, band_frac);
    let chain = project.map(Chain::of);
    let other_a = project.map_or(0.0, |p| p.machine.other_current_a);
    let train = learn_train(&repaired, &dips, chain.as_ref().map(|c| &c.train), other_a);
    let likenesses = match (&train, &chain, project) {
        (Ok(t), Some(c), Some(p)) => likenesses(t, &c.train, &p.machine.battery),
        _ => Vec::new(),
    };
    Ok(Telemetry {
        found,
        notes: table.notes.clone(),
        repaired,
        dips,
        band_frac,
        train,
        likenesses,
    })
}

/// Heads of [`throw_rows`].
pub const THROWS_HEAD: [&str; 8] = [
    "throw",
    "at",
    "before",
    "after",
    "dip",
    "back after",
    "battery",
    "lowest",
];

/// The throws, in the columns of [`THROWS_HEAD`].
pub fn throw_rows(t: &Telemetry, units: UnitSystem) -> Vec<Vec<String>> {
    let say = |v: f64, d: D| show(v, d, Scale::Auto, units);
    let speed = |v: f64, sd: f64| format!("{} ± {}", say(v, D::AngularSpeed), say(2.0 * sd, D::AngularSpeed));
    let each = t.dips.dips.iter().enumerate();
    each.map(|(i, p)| {
        vec![
            (i + 1).to_string(),
            format!("{:.3} s", p.time_s),
            speed(p.before_radps, p.before_sd_radps),
            speed(p.after_radps, p.after_sd_radps),
            say(p.dip_frac, D::Ratio),
            p.recovery_s.map_or("not in time".into(), |r| say(r, D::Time)),
            p.battery_v.map_or("-".into(), |v| say(v, D::Voltage)),
            p.lowest_v.map_or("-".into(), |v| say(v, D::Voltage)),
        ]
    })
    .collect()
}

/// What counts as a throw and as recovered, in words.
pub fn throw_means(t: &Telemetry, units: UnitSystem) -> String {
    let d = &t.dips;
    let say = |v: f64, d: D| show(v, d, Scale::Auto, units);
    format!(
        "A throw is a fall of more than {} within 0.15 s that does not go on (noise {}, a row every {}). Back means within {} of the setpoint.",
        say(d.smallest_radps, D::AngularSpeed),
        say(d.noise_radps, D::AngularSpeed),
        show(t.repaired.step_s, D::Time, Scale::Small, units),
        say(t.band_frac, D::Ratio)
    )
}

/// The picture.
pub fn picture(t: &Telemetry, units: UnitSystem) -> String {
    let log = &t.repaired.log;
    let along = |c: &[f64]| -> Vec<[f64; 2]> { log.time_s.iter().zip(c).map(|(t, v)| [*t, *v]).collect() };
    view::draw(&view::TelemetryChart {
        units,
        wheel: along(&log.wheel_radps),
        battery: log.battery_v.as_deref().map(along).unwrap_or_default(),
        throws: t
            .dips
            .dips
            .iter()
            .map(|d| view::Found {
                time_s: d.time_s,
                before_radps: d.before_radps,
                after_radps: d.after_radps,
            })
            .collect(),
    })
}
