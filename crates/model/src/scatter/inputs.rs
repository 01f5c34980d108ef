//! What varies: every quantity that differs from throw to throw, and what is not known before test shots.

use crate::project::{self, MatchedScatter, Project, Spread, schema};

/// What a difference between throws comes from, in the words of a person at the bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// Speed of the wheel at the moment of release, against the first throw of a fresh battery.
    Wheel,
    /// Mass of the piece.
    Mass,
    /// Diameter of the piece.
    Diameter,
    /// Stiffness of the piece.
    Stiffness,
    /// Friction on wheel and guide.
    Friction,
    /// Drag from piece to piece.
    Drag,
    /// Holes or seams under the wheel's rim.
    Bite,
    /// High and low spots of the guide.
    Guide,
    /// Speed of the feed.
    Feed,
    /// Sideways place and direction at the wheel.
    Entry,
    /// How well the robot faces the target.
    Heading,
    /// How well the robot stands on its spot.
    Place,
    /// Wind.
    Wind,
    /// Speed of a robot that throws while driving.
    Moving,
    /// Scatter that test shots showed and that the other causes do not explain.
    Beyond,
    /// What is the same for every throw but not known before test shots.
    Untested,
}

impl Cause {
    /// The words shown to people.
    pub fn words(self) -> &'static str {
        match self {
            Cause::Wheel => "wheel speed at release",
            Cause::Mass => "mass of the piece",
            Cause::Diameter => "diameter of the piece",
            Cause::Stiffness => "stiffness of the piece",
            Cause::Friction => "friction",
            Cause::Drag => "drag from piece to piece",
            Cause::Bite => "holes under the wheel",
            Cause::Guide => "high and low spots of the guide",
            Cause::Feed => "feed speed",
            Cause::Entry => "sideways entry",
            Cause::Heading => "heading",
            Cause::Place => "place on the floor",
            Cause::Wind => "wind",
            Cause::Moving => "speed while driving",
            Cause::Beyond => "what test shots showed beyond the model",
            Cause::Untested => "what is not known yet",
        }
    }

    /// One word, for files.
    pub fn code(self) -> &'static str {
        match self {
            Cause::Wheel => "wheel",
            Cause::Mass => "mass",
            Cause::Diameter => "diameter",
            Cause::Stiffness => "stiffness",
            Cause::Friction => "friction",
            Cause::Drag => "drag",
            Cause::Bite => "bite",
            Cause::Guide => "guide",
            Cause::Feed => "feed",
            Cause::Entry => "entry",
            Cause::Heading => "heading",
            Cause::Place => "place",
            Cause::Wind => "wind",
            Cause::Moving => "moving",
            Cause::Beyond => "beyond",
            Cause::Untested => "untested",
        }
    }
}

/// What an input does to the project of one throw.
#[derive(Clone, Debug, PartialEq)]
pub enum Acts {
    /// Adds to the quantity with this key.
    Adds(String),
    /// Multiplies the quantities with these keys.
    Scales(Vec<&'static str>),
    /// Shifts the release sideways, left positive.
    Shifts,
    /// Turns the throw sideways, left positive.
    Turns,
}

/// One quantity that varies, as a standardised number z with mean 0 and deviation 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// What it stands for.
    pub cause: Cause,
    /// What it does.
    pub acts: Acts,
    /// Centre of the deviation: 0 except for a range that does not lie evenly about the value.
    pub centre: f64,
    /// Standard deviation, in the unit of what it acts on.
    pub sd: f64,
    /// Equally likely between ±√3 instead of normal.
    pub even: bool,
    /// Quantity stays within these, whatever the deviation.
    pub admitted: [f64; 2],
}

/// Physical: a share that multiplies never falls below this.
const LEAST_SHARE: f64 = 0.05;

impl Input {
    /// The standardised number at a share of the distribution in (0, 1).
    pub fn deviate(&self, share: f64) -> f64 {
        if self.even {
            (2.0 * share - 1.0) * 3f64.sqrt()
        } else {
            crate::numerics::normal::quantile(share)
        }
    }

    fn apply(&self, project: &mut Project, z: f64) {
        let by = self.centre + self.sd * z;
        match &self.acts {
            Acts::Adds(key) => {
                if let Some(value) = project::get(project, key) {
                    let [low, high] = self.admitted;
                    project::set(project, key, (value + by).clamp(low, high));
                }
            }
            Acts::Scales(keys) => {
                let share = (1.0 + by).max(LEAST_SHARE);
                for key in keys {
                    if let Some(value) = project::get(project, key) {
                        project::set(project, key, value * share);
                    }
                }
            }
            Acts::Shifts | Acts::Turns => {}
        }
    }
}

/// The project of one throw: every input at its deviate.
pub fn varied(project: &Project, inputs: &[Input], z: &[f64]) -> Project {
    let mut out = project.clone();
    for (input, z) in inputs.iter().zip(z) {
        input.apply(&mut out, *z);
    }
    out
}

/// Sideways shift and turn of one throw.
pub fn sideways(inputs: &[Input], z: &[f64]) -> (f64, f64) {
    let (mut shift_m, mut turn_rad) = (0.0, 0.0);
    for (input, z) in inputs.iter().zip(z) {
        match input.acts {
            Acts::Shifts => shift_m += input.sd * z,
            Acts::Turns => turn_rad += input.sd * z,
            Acts::Adds(_) | Acts::Scales(_) => {}
        }
    }
    (shift_m, turn_rad)
}

/// Spreads in the file that differ from throw to throw. Every other spread is about what is the same
/// for every throw but not known exactly.
fn cause_of(pattern: &str) -> Option<Cause> {
    Some(match pattern {
        "piece.mass" => Cause::Mass,
        "piece.diameter" => Cause::Diameter,
        "spot[].heading" => Cause::Heading,
        "spot[].distance" | "spot[].offset" => Cause::Place,
        "air.wind_along" | "air.wind_across" => Cause::Wind,
        "launcher.feed_speed" | "launcher.feed_push" => Cause::Feed,
        p if p.starts_with("moving.") => Cause::Moving,
        _ => return None,
    })
}

/// Is the quantity of a key the same for every throw, so that test shots tell about its spread?
pub fn is_doubt(key: &str) -> bool {
    schema::Key::parse(key).is_some_and(|k| cause_of(&k.pattern).is_none()) && !TRAIN_KEYS.contains(&key)
}

/// What acts on the wheel train; the volley brings it in by way of the wheel's speed at release.
pub const TRAIN_KEYS: &[&str] = &["battery.open_voltage", "robot.other_current"];

/// Whether what is not known before test shots varies too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// From throw to throw, once the setpoint has been corrected on the floor.
    Throws,
    /// As well what nobody knows before the first test shot.
    Untested,
}

/// Everything that varies at a spot, in an order that depends on the project alone.
pub fn inputs(project: &Project, spot_index: usize, scope: Scope) -> Vec<Input> {
    let mut out = Vec::new();
    let here = format!("spot[{spot_index}].");
    for (key, spread) in &project.spreads {
        let Some(parsed) = schema::Key::parse(key) else {
            continue;
        };
        let Some(entry) = schema::entry(&parsed.pattern) else {
            continue;
        };
        if key.starts_with("spot[") && !key.starts_with(&here) || TRAIN_KEYS.contains(&key.as_str()) {
            continue;
        }
        let cause = match cause_of(&parsed.pattern) {
            Some(cause) => cause,
            None if scope == Scope::Untested => Cause::Untested,
            None => continue,
        };
        let Some(value) = project::get(project, key) else {
            continue;
        };
        if spread.sd() > 0.0 {
            out.push(Input {
                cause,
                acts: Acts::Adds(key.clone()),
                centre: match *spread {
                    Spread::Normal { .. } => 0.0,
                    Spread::Range { low, high } => 0.5 * (low + high) - value,
                },
                sd: spread.sd(),
                even: matches!(spread, Spread::Range { .. }),
                admitted: [entry.low, entry.high],
            });
        }
    }
    // After test shots the knobs are where the shots were thrown.
    if scope == Scope::Untested && project.throws.shown.is_none() {
        let k = &project.machine.knobs;
        for (key, knob) in [
            ("setting.slide", k.slide),
            ("setting.tilt", k.tilt),
            ("setting.reach", k.reach),
        ] {
            if let Some(sd) = knob.map(|k| k.repeat).filter(|sd| *sd > 0.0) {
                out.push(Input {
                    cause: Cause::Untested,
                    acts: Acts::Adds(key.to_string()),
                    centre: 0.0,
                    sd,
                    even: false,
                    admitted: schema::entry(key)
                        .map_or([f64::NEG_INFINITY, f64::INFINITY], |e| [e.low, e.high]),
                });
            }
        }
    }
    let t = &project.throws;
    let scales = |cause, keys: &[&'static str], sd| (cause, Acts::Scales(keys.to_vec()), sd);
    let more = [
        scales(Cause::Stiffness, &["piece.stiffness"], t.stiffness_frac),
        scales(
            Cause::Friction,
            &["wheel.friction", "launcher.guide_friction"],
            t.friction_frac,
        ),
        scales(Cause::Drag, &["piece.drag"], t.drag_frac),
        scales(Cause::Feed, &["launcher.feed_speed"], t.feed_speed_frac),
        (Cause::Entry, Acts::Shifts, t.entry_m),
        (Cause::Entry, Acts::Turns, t.entry_angle_rad),
    ];
    for (cause, acts, sd) in more {
        if sd > 0.0 {
            out.push(Input {
                cause,
                acts,
                centre: 0.0,
                sd,
                even: false,
                admitted: [f64::NEG_INFINITY, f64::INFINITY],
            });
        }
    }
    if let Some(matched) = &t.matched {
        brought_to(&mut out, matched);
    }
    out
}

/// The inputs with what test shots showed beyond them, or less of them.
fn brought_to(inputs: &mut Vec<Input>, matched: &MatchedScatter) {
    for input in inputs.iter_mut().filter(|i| i.cause != Cause::Untested) {
        input.sd *= if acts_across(&input.acts) {
            matched.across_ratio
        } else {
            matched.along_ratio
        };
    }
    let more = [
        (Acts::Scales(vec!["launcher.speed_transfer"]), matched.speed_frac),
        (Acts::Adds("launcher.exit_offset".into()), matched.angle_rad),
        (Acts::Turns, matched.aside_rad),
    ];
    inputs.extend(
        more.into_iter()
            .filter(|(_, sd)| *sd > 0.0)
            .map(|(acts, sd)| Input {
                cause: Cause::Beyond,
                acts,
                centre: 0.0,
                sd,
                even: false,
                admitted: [f64::NEG_INFINITY, f64::INFINITY],
            }),
    );
}

/// Does it move the crossing across the opening rather than along?
fn acts_across(acts: &Acts) -> bool {
    match acts {
        Acts::Shifts | Acts::Turns => true,
        Acts::Scales(_) => false,
        Acts::Adds(key) => [".heading", ".offset", ".wind_across", ".across", ".turn_rate"]
            .iter()
            .any(|end| key.ends_with(end)),
    }
}
