//! Hand-over to the robot's code: the setpoints of `aim` as a table with its rule, the gains and the tolerance.

mod code;
mod note;
mod stamp;
mod verify;

use arcwright_model::aim::{Lookup, LookupRow};
use arcwright_model::finding::Finding;
use arcwright_model::launcher::Layout;
use arcwright_model::launcher::train::Holding;
use arcwright_model::project::Project;
use arcwright_model::season::opening::Opening;

use super::aim::{Aimed, aimed, usual_step_m};
use super::floor::taught::{Basis, Schooled};
use super::season;

pub use code::{Form, text};
pub use note::{FILE as NOTE_FILE, note, warnings};
pub use stamp::{Stamp, fingerprint};
pub use verify::{Changed, Checked, MostOff, verify};

/// Method: straight lines between rows may be off by this share of the band that counts as ready.
const LINE_OF_READY: f64 = 0.1;
/// Method: setpoints are worked out so many times closer than rows usually lie, to see what lies between rows.
const FINER: f64 = 5.0;
/// Rows are tried this far apart, in the finer step, widest first; never so near that nothing lies between them.
const STRIDES: [usize; 3] = [10, 5, 2];

/// Method: the seed of `season`; no time of the opening depends on it.
const SEED: u64 = 1;

/// A constant that the code needs.
#[derive(Clone, Debug, PartialEq)]
pub struct Constant {
    /// Name in capitals, with its unit.
    pub name: &'static str,
    /// Value, SI.
    pub value: f64,
    /// What it is.
    pub doc: &'static str,
}

/// Everything that is handed over.
pub struct Hand {
    /// Table and rule.
    pub lookup: Lookup,
    /// Gains, tolerance, delay.
    pub constants: Vec<Constant>,
    /// Spots whose distance is outside the table.
    pub left_out: Vec<String>,
    /// Spots without a setpoint that serves them.
    pub not_served: Vec<String>,
    /// Distances that the shots speak for, where something was learned.
    pub shots_speak_m: Option<[f64; 2]>,
    /// The setpoints as aimed.
    pub aimed: Aimed,
    /// The opening routine, where the season has one that can be worked out.
    pub opening: Option<Opening>,
    /// Which project, fit and program.
    pub stamp: Stamp,
}

/// Where a hand-over comes from.
pub struct From<'a> {
    /// The project, with what was learned in it.
    pub project: &'a Project,
    /// The design beside it.
    pub learned: Option<&'a Schooled>,
    /// What the shots are to it.
    pub basis: &'a Basis,
    /// That in a line.
    pub line: &'a str,
    /// That the launcher is turned back by what it throws to the side; may be empty.
    pub turned: &'a str,
    /// The project file's text.
    pub text: &'a str,
}

/// Works out what is handed over; rows every `step_m`, or as far apart as straight lines allow.
///
/// # Errors
/// `out-of-reach` when no distance is reached.
pub fn hand(from: &From<'_>, step_m: Option<f64>) -> Result<Hand, Finding> {
    let project = from.project;
    let fine_m = step_m.unwrap_or_else(|| usual_step_m(project)) / FINER;
    let aimed = aimed(project, from.learned, Some(fine_m));
    let strides: &[usize] = match step_m {
        Some(_) => &[FINER as usize],
        None => &STRIDES,
    };
    let wanted: Vec<f64> = project.spots.iter().map(|s| s.distance_m).collect();
    let off_frac = LINE_OF_READY * project.machine.controller.ready_frac;
    let lookup = Lookup::of(&aimed.rows, strides, off_frac, &wanted).ok_or_else(|| {
        Finding::new(
            "out-of-reach",
            "spot",
            "no wheel speed brings a throw to the opening from any distance between the spots: there is nothing to hand over",
            "run `arcwright check` and mend what fails first",
        )
    })?;
    let ends = lookup.rows.first().zip(lookup.rows.last());
    let outside = |d: f64| ends.is_none_or(|(a, b)| d < a.distance_m || d > b.distance_m);
    let named = |hit: &dyn Fn(usize) -> bool| -> Vec<String> {
        let each = project.spots.iter().enumerate();
        each.filter(|(i, _)| hit(*i))
            .map(|(_, s)| s.name.clone())
            .collect()
    };
    let left_out = named(&|i| project.spots.get(i).is_some_and(|s| outside(s.distance_m)));
    let not_served = named(&|i| {
        let aim = aimed.report.aims.get(i);
        aim.is_none_or(|a| !arcwright_model::aim::shortfall(project, a).is_empty())
    });
    let shots_speak_m = aimed.beside.as_ref().and_then(|beside| {
        let known = aimed.rows.iter().zip(&beside.rows);
        let mut near = known
            .filter(|(_, b)| !b.beyond_the_log)
            .map(|(r, _)| r.distance_m);
        let first = near.next()?;
        Some([first, near.next_back().unwrap_or(first)])
    });
    // What a season lacks is told by `season`; the setpoints are handed over all the same.
    let opening = season::routine(project, SEED).ok().flatten();
    let mut constants = constants(project, &aimed, &lookup);
    constants.extend(opening.iter().flat_map(|o| opening_constants(project, o)));
    Ok(Hand {
        constants,
        opening,
        lookup,
        left_out,
        not_served,
        shots_speak_m,
        stamp: Stamp::of(from),
        aimed,
    })
}

fn constants(project: &Project, aimed: &Aimed, lookup: &Lookup) -> Vec<Constant> {
    let m = &project.machine;
    let c = &m.controller;
    let chain = &aimed.report.chain;
    let Holding {
        at_rest_v,
        rise_v_per_radps,
    } = chain.train.holding(&m.battery);
    let end = |row: Option<&LookupRow>| row.map_or(0.0, |r| r.distance_m);
    let row = |name, value, doc| Constant { name, value, doc };
    let mut out = vec![
        row(
            "NEAREST_M",
            end(lookup.rows.first()),
            "Nearest distance of the table.",
        ),
        row(
            "FARTHEST_M",
            end(lookup.rows.last()),
            "Farthest distance of the table.",
        ),
        row(
            "BETWEEN_ROWS_RADPS",
            lookup.worst_between_radps,
            "Most that a straight line between rows was found off.",
        ),
        row(
            "READY_RATIO",
            c.ready_frac,
            "Ready to throw when the measured speed is this near, as a share of the setpoint.",
        ),
        row(
            "FEED_DELAY_S",
            project.moving.delay_s,
            "From the command to the moment the piece leaves; 0 where nobody has measured it.",
        ),
        row(
            "HOLD_AT_REST_V",
            at_rest_v,
            "Voltage at the motor that friction takes.",
        ),
        row(
            "HOLD_V_PER_RADPS",
            rise_v_per_radps,
            "More voltage for each rad/s of the wheel.",
        ),
        row(
            "FEED_FORWARD_RATIO",
            c.feed_forward_ratio,
            "Share of the holding voltage that is applied at once.",
        ),
        row("KP_VS", c.kp_vs, "Volts for each rad/s that the wheel is slow."),
        row(
            "KI_V",
            c.ki_v,
            "Volts for each rad/s that the wheel is slow for one second.",
        ),
        row(
            "PERIOD_S",
            c.period_s,
            "Time between two steps of the speed loop.",
        ),
        row(
            "MOTOR_TURNS_RATIO",
            m.drive.gear_ratio,
            "Turns of the motor for one turn of the wheel.",
        ),
        row(
            "TOP_SPEED_RADPS",
            chain.top_radps,
            "Wheel speed at full duty on a charged battery.",
        ),
    ];
    if let Layout::Pair(p) = m.layout {
        out.push(row(
            "UPPER_WHEEL_RATIO",
            p.upper_speed_ratio,
            "Speed of the upper wheel for one of the lower, whose speed the rows give.",
        ));
    }
    out
}

/// Times of the opening routine, for a timer beside each state's own end.
fn opening_constants(project: &Project, o: &Opening) -> Vec<Constant> {
    let row = |name, value, doc| Constant { name, value, doc };
    let time = |state: &str| {
        o.steps
            .iter()
            .find(|s| s.state == state)
            .map_or(0.0, |s| s.time_s)
    };
    vec![
        row(
            "OPENING_S",
            project.season.as_ref().map_or(0.0, |s| s.opening_s),
            "Length of the opening without drivers.",
        ),
        row(
            "OPENING_SPIN_UP_S",
            time("SPIN_UP"),
            "State SPIN_UP of the opening is expected to last so long.",
        ),
        row(
            "OPENING_THROWS_COUNT",
            f64::from(o.fits_count),
            "Throws that fit into the opening with the drive-off.",
        ),
        row(
            "OPENING_BETWEEN_THROWS_S",
            time("THROW"),
            "State THROW of the opening: from one throw to the next.",
        ),
        row(
            "OPENING_DRIVE_OFF_S",
            time("DRIVE_OFF"),
            "State DRIVE_OFF of the opening is expected to last so long.",
        ),
        row(
            "OPENING_LEFT_S",
            o.left_s,
            "What is left of the opening with every throw; negative where not all fit.",
        ),
    ]
}
