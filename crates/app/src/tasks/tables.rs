//! Tables that more than one surface shows: the terminal, the notebook, the card.

use arcwright_model::aim::SpotAim;
use arcwright_model::floor::{Estimate, Fitted, Setpoint};
use arcwright_model::limits::{Amount, Report, Verdict};
use arcwright_model::project::{self, Project};
use arcwright_model::scatter::{SpotReport, SpotScatter};
use arcwright_model::target::Outcome;
use arcwright_model::units::Dimension as D;
use arcwright_model::volley_run::VolleyRun;

use super::aim::{Aimed, Beside, Compared};

/// A table in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// Names of the columns.
    pub head: Vec<String>,
    /// Cells, row by row.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with these columns.
    pub fn of(head: &[&str], rows: Vec<Vec<String>>) -> Table {
        Table {
            head: head.iter().map(|h| (*h).to_string()).collect(),
            rows,
        }
    }

    /// With the first column written otherwise.
    pub fn named(self, how: impl Fn(&str) -> String) -> Table {
        self.in_column(0, how)
    }

    /// With one column written otherwise.
    pub fn in_column(mut self, column: usize, how: impl Fn(&str) -> String) -> Table {
        for cell in self.rows.iter_mut().filter_map(|r| r.get_mut(column)) {
            *cell = how(cell);
        }
        self
    }
}

/// What was learned for one of a list of setpoints.
pub fn compared(aimed: &Aimed, list: impl Fn(&Beside) -> &Vec<Compared>, i: usize) -> Option<&Compared> {
    aimed.beside.as_ref().and_then(|b| list(b).get(i))
}

/// Columns of setpoints.
const AIM_HEAD: [&str; 9] = [
    "spot",
    "distance",
    "wheel",
    "± untested",
    "exit",
    "angle",
    "entry",
    "clearance",
    "arrives",
];

/// The head of a table of spots; a moving robot has a column for its lead.
pub fn aim_head(project: &Project, aimed: &Aimed) -> Vec<&'static str> {
    let mut head = AIM_HEAD.to_vec();
    if project.moving.moves() {
        head.insert(LEAD_COLUMN, "lead");
    }
    if aimed.beside.is_some() {
        head.splice(WHEEL_COLUMNS, LEARNED_HEAD);
    }
    head
}

/// Behind the wheel speed and its doubt.
const LEAD_COLUMN: usize = 4;
/// Wheel speed and its doubt.
const WHEEL_COLUMNS: std::ops::Range<usize> = 2..4;

/// Left and right in words: a sign alone is forgotten on the field.
fn lead(project: &Project, lead_rad: f64) -> String {
    match project.say(lead_rad.abs(), D::Angle) {
        none if none == project.say(0.0, D::Angle) => none,
        some => format!("{some} {}", if lead_rad > 0.0 { "left" } else { "right" }),
    }
}

pub fn aim_row(
    project: &Project,
    a: &SpotAim,
    named: Option<&str>,
    beside: Option<&Compared>,
) -> Vec<String> {
    let say = |v, d| project.say(v, d);
    let mut out: Vec<String> = named.map(str::to_string).into_iter().collect();
    out.push(say(a.spot.distance_m, D::Length));
    match a.best() {
        Some(s) => {
            match beside {
                Some(b) => out.extend(learned_cells(project, b)),
                None => {
                    out.push(say(s.wheel_radps, D::AngularSpeed));
                    out.push(say(s.doubt.setpoint_sd_radps, D::AngularSpeed));
                }
            }
            if s.moved.is_some() {
                out.push(lead(project, s.lead_rad));
            }
            out.push(say(s.exit.speed_mps, D::Speed));
            out.push(say(s.exit.angle_rad, D::Angle));
            out.push(
                s.arrival
                    .crossing
                    .map_or("-".into(), |c| say(c.entry_rad, D::Angle)),
            );
            let room = s.arrival.clearance.map(|c| c.least_m());
            out.push(room.map_or("-".into(), |c| {
                if c.is_finite() {
                    say(c, D::Length)
                } else {
                    "walls".into()
                }
            }));
            out.push(s.arrival.outcome.word().into());
        }
        None => {
            let blanks = match beside {
                Some(b) => {
                    out.extend(learned_cells(project, b));
                    4
                }
                None => 6,
            } + usize::from(project.moving.moves());
            out.extend(std::iter::repeat_n("-".to_string(), blanks));
            out.push("out of reach".into());
        }
    }
    out
}

/// Columns in place of the wheel speed and its doubt.
pub const LEARNED_HEAD: [&str; 4] = ["learned", "design", "change", "hits to expect"];

/// The cells of these columns.
pub fn learned_cells(project: &Project, c: &Compared) -> [String; 4] {
    let speed = |x: f64| project.say(x, D::AngularSpeed);
    let none = || "-".to_string();
    [
        c.learned.map_or_else(none, |l| {
            format!("{} ± {}", speed(l.wheel_radps), speed(l.wheel_sd_radps))
        }),
        c.design.map_or_else(none, |d| speed(d.wheel_radps)),
        c.change_radps().map_or_else(none, |by| signed(&speed(by))),
        c.learned.map_or_else(none, |l| {
            format!(
                "{}{}",
                project.say(l.expected_hit_frac, D::Ratio),
                if c.beyond_the_log { " *" } else { "" }
            )
        }),
    ]
}

/// With a plus where there is no minus.
pub fn signed(text: &str) -> String {
    if text.starts_with('-') {
        text.to_string()
    } else {
        format!("+{text}")
    }
}

/// Physical: less than this nobody can turn.
const STRAIGHT_RAD: f64 = 0.05 * std::f64::consts::PI / 180.0;

/// That the launcher throws to the side by an angle, left positive; empty where nobody could tell.
pub fn turned_by(project: &Project, by: f64) -> String {
    if by.abs() < STRAIGHT_RAD {
        return String::new();
    }
    let (turn, throws) = if by > 0.0 {
        ("left", "right")
    } else {
        ("right", "left")
    };
    format!(
        "It throws {amount} to the {throws} of where it points: turn it {amount} {turn} of the target's centre. The figures here take that as done.",
        amount = project.say(by.abs(), D::Angle)
    )
}

/// Setpoints of a fit, by spot.
pub fn fitted_setpoints(project: &Project, fitted: &Fitted, found: &[Setpoint]) -> Table {
    let rows = project
        .spots
        .iter()
        .zip(found)
        .map(|(spot, s)| {
            let mut row = vec![spot.name.clone(), project.say(s.distance_m, D::Length)];
            let mut cells = learned_cells(
                project,
                &Compared {
                    learned: s.wheel,
                    design: s.design,
                    beyond_the_log: s.beyond_the_log,
                },
            );
            if !fitted.confident {
                // No interval that nothing stands for.
                cells[0] = s
                    .wheel
                    .map_or("-".into(), |w| project.say(w.wheel_radps, D::AngularSpeed));
                cells[3] = "not known".into();
            }
            row.extend(cells);
            row
        })
        .collect();
    let mut head = vec!["spot", "distance"];
    head.extend(LEARNED_HEAD);
    Table::of(&head, rows)
}

/// What a fit says of each thing that is not known, before and now.
pub fn estimates(project: &Project, fitted: &Fitted) -> Table {
    let value = |x: f64, e: &Estimate| match e.unit {
        "rad" => project.say(x, D::Angle),
        _ => project.say(x, D::Ratio),
    };
    let rows = fitted.estimates.iter().map(|e| {
        let both = |mean: f64, sd: f64| format!("{} ± {}", value(mean, e), value(sd, e));
        vec![
            e.words.clone(),
            both(e.prior_mean, e.prior_sd),
            both(e.mean, e.sd),
            if e.is_learned() { "" } else { "as assumed" }.into(),
        ]
    });
    Table::of(&["", "before", "now", ""], rows.collect())
}

/// Rounded to what anyone could measure.
fn shown(value: f64, grain: f64) -> f64 {
    (value / grain).round() * grain
}

/// A volley, throw by throw.
pub fn volley(project: &Project, run: &VolleyRun) -> Table {
    let say = |v, d| project.say(v, d);
    let t = &run.train;
    let rows: Vec<Vec<String>> = t
        .throws
        .iter()
        .zip(&run.throws)
        .map(|(a, b)| {
            vec![
                format!("{}", a.index + 1),
                say(a.time_s, D::Time),
                say(a.before_radps, D::AngularSpeed),
                say(shown(a.error_frac, 1e-4), D::Ratio),
                say(a.dip_frac, D::Ratio),
                a.recovery_s
                    .map_or("not in time".into(), |r| say(r + a.contact_s, D::Time)),
                b.exit.map_or("-".into(), |e| say(e.speed_mps, D::Speed)),
                b.along_m.map_or("-".into(), |x| say(shown(x, 1e-4), D::Length)),
                b.outcome.word().into(),
            ]
        })
        .collect();
    Table::of(
        &[
            "throw",
            "at",
            "wheel",
            "off by",
            "dip",
            "back after",
            "exit",
            "from centre",
            "arrives",
        ],
        rows,
    )
}

/// A share in per cent. Only what never misses is "100 %", and only what never happens is "0 %".
pub fn percent(x: f64) -> String {
    /// Physical: shares nearer to none or all than this have no digit left in the tables.
    const LEAST: f64 = 5e-4;
    let p = 100.0 * x;
    if x > 0.0 && x < LEAST {
        "under 0.1 %".into()
    } else if x < 1.0 && x > 1.0 - LEAST {
        "over 99.9 %".into()
    } else if (0.95..1.0).contains(&x) || (0.0..0.05).contains(&x) && x > 0.0 {
        format!("{p:.1} %")
    } else {
        format!("{p:.0} %")
    }
}

fn interval(s: &SpotScatter) -> String {
    let digits = if s.hit.half_width_frac() < 0.005 { 1 } else { 0 };
    format!(
        "{:.*} % to {:.*} %",
        digits,
        100.0 * s.hit.low_frac,
        digits,
        100.0 * s.hit.high_frac
    )
}

/// How throws scatter, by spot.
pub fn scatter(project: &Project, spots: &[SpotReport]) -> Table {
    let say = |v, d| project.say(v, d);
    let mm = |v: f64| project.say((v * 1e4).round() / 1e4, D::Length);
    let rows: Vec<Vec<String>> = spots
        .iter()
        .map(|s| {
            let mut row = vec![s.spot.clone()];
            match &s.result {
                Ok(r) => {
                    let c = &r.centred;
                    row.extend([
                        say(c.setpoint_radps, D::AngularSpeed),
                        percent(c.hit.frac),
                        interval(c),
                        r.untested_hit.map_or("-".into(), |h| percent(h.frac)),
                        mm(c.along_sd_m.value),
                        mm(c.across_sd_m.value),
                        mm(c.r50_m.value),
                        mm(c.r95_m.value),
                        misses(c),
                    ]);
                }
                Err(_) => row.extend(std::iter::repeat_n("-".to_string(), 9)),
            }
            row
        })
        .collect();
    let untested = if project.throws.shown.is_some() {
        "after the shots"
    } else {
        "untested"
    };
    Table::of(
        &[
            "spot",
            "setpoint",
            "hit",
            "hit 95 % range",
            untested,
            "sd along",
            "sd across",
            "R50",
            "R95",
            "misses",
        ],
        rows,
    )
}

fn misses(s: &SpotScatter) -> String {
    /// Physical: fewer are not worth a word.
    const LEAST: f64 = 5e-4;
    let all: Vec<String> = s
        .shares
        .iter()
        .filter(|(o, f)| *o != Outcome::In && f.value >= LEAST)
        .map(|(o, f)| {
            let how = if *o == Outcome::None {
                "never arrive"
            } else {
                o.word()
            };
            format!("{} {how}", percent(f.value))
        })
        .collect();
    if all.is_empty() {
        "hardly any".into()
    } else {
        all.join(", ")
    }
}

/// What the brief would have to say for the machine to hold: key, `=`, value.
pub fn nearest_brief(project: &Project, report: &Report) -> Vec<Vec<String>> {
    // Two checks may ask for the same limit to give way: the one that gives most serves both.
    let mut changes: Vec<(String, Amount)> = Vec::new();
    for (key, a) in report.verdicts.iter().flat_map(|v| &v.nearest_brief) {
        match changes.iter_mut().find(|(k, _)| k == key) {
            Some((_, b))
                if ["limits.clearance", "limits.entry_angle", "limits.speed_reserve"]
                    .contains(&key.as_str()) =>
            {
                b.value = b.value.min(a.value);
            }
            Some((k, b)) if k.starts_with("spot[") => {
                let asked = project::get(project, key).unwrap_or(a.value);
                if (a.value - asked).abs() > (b.value - asked).abs() {
                    b.value = a.value;
                }
            }
            Some(_) => {}
            None => changes.push((key.clone(), *a)),
        }
    }
    changes
        .iter()
        .map(|(key, a)| vec![key.clone(), "=".into(), project.say(a.value, a.dimension)])
        .collect()
}

/// What is checked, how it ended, why, and what would mend it.
pub fn verdict_row(v: &Verdict) -> Vec<String> {
    let what = if v.subject.is_empty() {
        v.check.to_string()
    } else {
        format!("{}: {}", v.check, v.subject)
    };
    vec![what, v.status.word().to_string(), v.why.clone(), v.mend.clone()]
}
