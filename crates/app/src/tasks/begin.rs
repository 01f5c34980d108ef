//! A new project from a few answers: the brief as asked, and a machine to begin with, as a file with remarks.

use std::fmt::Write;

use arcwright_model::aim::needed;
use arcwright_model::finding::Finding;
use arcwright_model::launcher::Layout;
use arcwright_model::project::usual::{UsualPiece, UsualTarget, UsualValue};
use arcwright_model::project::{Project, UnitSystem};
use arcwright_model::units::{self, Dimension, show};

use super::throw::{Plan, throw};
use crate::project::{FILE_NAME, Level, Problem, parse, usual_line, usual_piece, usual_target};

/// A place to throw from.
#[derive(Clone, Debug, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StartSpot {
    /// Its name.
    pub name: String,
    /// How far, with its unit.
    pub distance: String,
}

/// What is asked; sizes with their units, as one writes them. An empty text is no answer.
#[derive(Clone, Debug, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// Name of the project.
    pub name: String,
    /// `metric` or `us`.
    #[serde(default)]
    pub units: String,
    /// Kind of piece.
    pub piece: String,
    /// Its diameter; the usual one if not given.
    #[serde(default)]
    pub diameter: String,
    /// Its mass; the usual one if not given.
    #[serde(default)]
    pub mass: String,
    /// Kind of target.
    pub target: String,
    /// Height of the lowest point of the rim.
    pub rim_height: String,
    /// Width of the opening.
    pub width: String,
    /// Depth of a box; as its width if not given.
    #[serde(default)]
    pub depth: String,
    /// Where to throw from.
    pub spots: Vec<StartSpot>,
    /// One wheel with a guide, or two.
    pub wheels: u8,
    /// Greatest length of the robot.
    #[serde(default)]
    pub longest: String,
    /// Greatest width.
    #[serde(default)]
    pub widest: String,
    /// Greatest height.
    #[serde(default)]
    pub highest: String,
    /// Greatest mass.
    #[serde(default)]
    pub heaviest: String,
}

/// The answers as numbers.
struct Answers<'a> {
    start: &'a Start,
    units: UnitSystem,
    piece: &'static UsualPiece,
    target: &'static UsualTarget,
    diameter_m: f64,
    highest_m: Option<f64>,
    rim_m: f64,
}

/// The machine to begin with.
struct Guess {
    axle_m: f64,
    wheel_m: f64,
    /// Where the guide's end points, or the pair throws at tilt 0.
    direction_rad: f64,
    tilt_rad: f64,
    ratio: f64,
}

/// Common practice, no source: a wheel of four inches or so for small pieces, five for large ones.
const WHEEL_M: [f64; 2] = [0.1, 0.127];
/// Pieces above this get the larger wheel. Judgement.
const LARGE_PIECE_M: f64 = 0.13;
/// Common practice, no source: an axle at hand height of the robot, below half of what the rules allow.
const AXLE_M: f64 = 0.3;
/// The tilt to begin with, so that there is room to both sides. Judgement.
const TILT_DEG: f64 = 10.0;
/// Free speed of the motor that is assumed, rad/s; the text below says the same.
const FREE_RADPS: f64 = 6000.0 * std::f64::consts::PI / 30.0;
/// Common practice, no source: the fastest setpoint a little above half of the free speed leaves torque to recover.
const SPEED_SHARE: f64 = 0.58;
/// Convergence: the guide turns the piece nearly as it is turned itself, so a few rounds are enough.
const ROUNDS: usize = 4;

fn problem(finding: Finding) -> Problem {
    Problem {
        finding,
        place: None,
        level: Level::Wrong,
    }
}

/// A length or mass as it was answered; `None` for no answer.
fn amount(key: &str, text: &str, dimension: Dimension, problems: &mut Vec<Problem>) -> Option<f64> {
    if text.trim().is_empty() {
        return None;
    }
    match units::parse(text, dimension) {
        Ok(v) if v > 0.0 => Some(v),
        Ok(_) => {
            problems.push(problem(Finding::new(
                "out-of-range",
                key,
                format!("`{}` is not above zero", text.trim()),
                "give the size with its unit",
            )));
            None
        }
        Err(e) => {
            problems.push(problem(Finding::new(e.code, key, e.what, e.fix)));
            None
        }
    }
}

/// The text of the project file, with a machine that begins near what the spots ask.
///
/// # Errors
/// Every answer that makes no sense, at once.
pub fn begin(start: &Start) -> Result<String, Vec<Problem>> {
    let mut problems = Vec::new();
    let piece = usual_piece(&start.piece)
        .map_err(|f| problems.push(problem(f)))
        .ok();
    let target = usual_target(&start.target)
        .map_err(|f| problems.push(problem(f)))
        .ok();
    let (length, mass) = (Dimension::Length, Dimension::Mass);
    let mut ask = |key: &str, text: &str, dimension| amount(key, text, dimension, &mut problems);
    let diameter_m = ask("diameter", &start.diameter, length);
    ask("mass", &start.mass, mass);
    let rim_m = ask("rim_height", &start.rim_height, length);
    let width_m = ask("width", &start.width, length);
    ask("depth", &start.depth, length);
    for (i, spot) in start.spots.iter().enumerate() {
        ask(&format!("spots[{i}].distance"), &spot.distance, length);
    }
    ask("longest", &start.longest, length);
    ask("widest", &start.widest, length);
    let highest_m = ask("highest", &start.highest, length);
    ask("heaviest", &start.heaviest, mass);
    for (key, what, is_there) in [
        (
            "rim_height",
            "the height of the rim",
            !start.rim_height.trim().is_empty(),
        ),
        (
            "width",
            "the width of the opening",
            !start.width.trim().is_empty(),
        ),
        (
            "spots",
            "a spot to throw from, with its distance",
            !start.spots.is_empty() && start.spots.iter().all(|s| !s.distance.trim().is_empty()),
        ),
    ] {
        if !is_there {
            problems.push(problem(Finding::new(
                "missing-key",
                key,
                format!("{what} is missing"),
                "measure it, or guess: everything can be changed later",
            )));
        }
    }
    let units = match start.units.as_str() {
        "" | "metric" => UnitSystem::Metric,
        "us" => UnitSystem::Us,
        other => {
            problems.push(problem(Finding::new(
                "not-a-choice",
                "units",
                format!("there are no units called `{other}`"),
                "choose metric or us",
            )));
            UnitSystem::Metric
        }
    };
    let pair = match start.wheels {
        1 => false,
        2 => true,
        n => {
            problems.push(problem(Finding::new(
                "not-a-choice",
                "wheels",
                format!("{n} wheels are asked for"),
                "choose one wheel with a curved guide, or two wheels",
            )));
            false
        }
    };
    let (Some(piece), Some(target), Some(rim_m), Some(_), true) =
        (piece, target, rim_m, width_m, problems.is_empty())
    else {
        return Err(problems);
    };
    let answers = Answers {
        start,
        units,
        piece,
        target,
        diameter_m: diameter_m.unwrap_or_else(|| usual(piece, "piece.diameter")),
        highest_m,
        rim_m,
    };
    let text = settled(&answers, pair)?;
    Ok(text)
}

fn usual(piece: &UsualPiece, key: &str) -> f64 {
    piece.rows.iter().find(|r| r.key == key).map_or(0.0, |r| r.value)
}

/// The text with the launcher turned and geared to what the spots ask.
fn settled(a: &Answers, pair: bool) -> Result<String, Vec<Problem>> {
    let mut guess = Guess {
        axle_m: a
            .highest_m
            .map_or(AXLE_M, |h| AXLE_M.min(0.45 * h))
            .min(a.rim_m.max(0.15)),
        wheel_m: WHEEL_M[usize::from(a.diameter_m > LARGE_PIECE_M)],
        direction_rad: 60f64.to_radians(),
        tilt_rad: TILT_DEG.to_radians(),
        // Fast, so that no brief is refused before it has been looked at.
        ratio: 0.5,
    };
    let first = parse(FILE_NAME, &text(a, &guess, pair))?.project;
    let (angle_rad, speed_mps) = wanted_exit(&first);
    for _ in 0..ROUNDS {
        let project = parse(FILE_NAME, &text(a, &guess, pair))?.project;
        let per_turn_m = match project.machine.layout {
            Layout::Guide(_) => 0.25 * guess.wheel_m,
            Layout::Pair(_) => 0.45 * guess.wheel_m,
        };
        let mut wheel_radps = speed_mps / per_turn_m;
        // A second throw at the speed that the first one asks for.
        for _ in 0..2 {
            let plan = Plan {
                wheel_radps: Some(wheel_radps),
                ..Plan::default()
            };
            let Ok(thrown) = throw(&project, &plan) else { break };
            if !(thrown.exit.speed_mps > 0.1) {
                break;
            }
            guess.direction_rad += 0.5 * (angle_rad - thrown.exit.angle_rad);
            wheel_radps *= (speed_mps / thrown.exit.speed_mps).clamp(0.5, 2.0);
        }
        guess.direction_rad = guess
            .direction_rad
            .to_degrees()
            .clamp(5.0, 118.0)
            .round()
            .to_radians();
        // In tenths, as pulleys come.
        guess.ratio = (10.0 * SPEED_SHARE * FREE_RADPS / wheel_radps)
            .floor()
            .clamp(3.0, 60.0)
            / 10.0;
    }
    let done = text(a, &guess, pair);
    parse(FILE_NAME, &done)?;
    Ok(done)
}

/// The exit that serves most spots, and the fastest of its speeds: of those that are hardly faster than need be the one
/// with the widest band of speeds at its narrowest.
fn wanted_exit(project: &Project) -> (f64, f64) {
    /// Judgement: a little more speed is a fair price for a steeper way in.
    const FASTER_RATIO: f64 = 1.12;
    let mut exits: Vec<(usize, f64, f64, f64)> = Vec::new();
    let by_spot: Vec<_> = project.spots.iter().map(|s| needed(project, s)).collect();
    for angle in by_spot.iter().flatten().map(|n| n.angle_rad) {
        let same = by_spot
            .iter()
            .filter_map(|exits| exits.iter().find(|n| n.angle_rad == angle && n.serves));
        let (mut count, mut band, mut fastest) = (0, f64::INFINITY, 0f64);
        for n in same {
            count += 1;
            band = band.min((n.window_mps[1] - n.window_mps[0]) / n.speed_mps);
            fastest = fastest.max(n.speed_mps);
        }
        exits.push((count, band, angle, fastest));
    }
    let most = exits.iter().map(|e| e.0).max().unwrap_or(0);
    exits.retain(|e| e.0 == most && most > 0);
    let slowest = exits.iter().map(|e| e.3).fold(f64::INFINITY, f64::min);
    exits
        .iter()
        .filter(|e| e.3 <= FASTER_RATIO * slowest)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map_or((55f64.to_radians(), 8.0), |e| (e.2, e.3))
}

/// A text in quotation marks.
fn quoted(text: &str) -> String {
    let plain: String = text
        .trim()
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    format!("\"{}\"", plain.replace('\\', "\\\\").replace('"', "\\\""))
}

impl Answers<'_> {
    fn small(&self, value_m: f64) -> String {
        quoted(&show::text(
            value_m,
            Dimension::Length,
            show::Scale::Small,
            self.units,
        ))
    }

    /// A line of the piece: as answered, or the usual one.
    fn piece_line(&self, row: &UsualValue) -> String {
        let answer = match row.key {
            "piece.diameter" => self.start.diameter.trim(),
            "piece.mass" => self.start.mass.trim(),
            _ => "",
        };
        if answer.is_empty() {
            usual_line(row, self.units)
        } else {
            let name = row.entry().map_or("", |e| e.name());
            let line = format!("{name} = {{ value = {}, sd = \"1 %\" }}", quoted(answer));
            format!("{line:<50}  # measure ten of them: how much do they differ?")
        }
    }
}

fn text(a: &Answers, guess: &Guess, pair: bool) -> String {
    let s = a.start;
    let mut out = String::new();
    let mut put = |line: &str| {
        out.push_str(line);
        out.push('\n');
    };
    let name = if s.name.trim().is_empty() {
        "My thrower"
    } else {
        s.name.trim()
    };
    put(&format!(
        "# {}: a brief (piece, target, spots, limits) and a machine to begin with.",
        clean(name)
    ));
    put("#");
    put(
        "# Quantities have their unit: \"96 mm\" or \"3.8 in\", \"6000 rpm\", \"55 deg\". How much one varies goes beside",
    );
    put(
        "# it: { value = \"60 g\", sd = \"1 g\" }, or sd = \"2 %\". Lines that begin with # are remarks; take the # away",
    );
    put("# and the line counts. Every key is explained in docs/project-file.md.");
    put("#");
    put(
        "# Spinning wheels and thrown balls hurt: eye protection, a clear lane, nobody in line with the wheel. Local",
    );
    put("# rules, those of your event, and the adults in charge come first.");
    put("format = 1");
    put(&format!("name = {}", quoted(name)));
    put(&format!(
        "units = \"{}\"",
        if a.units == UnitSystem::Us { "us" } else { "metric" }
    ));
    put("");
    put("# ---- The brief -------------------------------------------------------------------------------");
    put("");
    put("[piece]                       # the ball");
    put(&format!("kind = \"{}\"", a.piece.kind));
    for row in a.piece.rows {
        put(&a.piece_line(row));
    }
    put("# Drag, lift and bounce are assumed for this kind until you measure or test shots tell.");
    put("");
    put(&format!("[target]                      # {}", a.target.about));
    put(&format!("shape = \"{}\"", a.target.shape));
    put(&format!(
        "rim_height = {:<17}# the lowest point of the rim above the floor",
        quoted(&s.rim_height)
    ));
    put(&format!("width = {}", quoted(&s.width)));
    if !s.depth.trim().is_empty() && a.target.shape == "rectangle" {
        put(&format!("depth = {}", quoted(&s.depth)));
    }
    if a.target.is_upright {
        put("tilt = \"90 deg\"");
    }
    put("");
    for (i, spot) in s.spots.iter().enumerate() {
        put(if i == 0 {
            "[[spot]]                      # distances: wheel axle to near rim"
        } else {
            "[[spot]]"
        });
        put(&format!("name = {}", quoted(&spot.name)));
        put(&format!("distance = {}", quoted(&spot.distance)));
        put("heading = { value = \"0 deg\", sd = \"1 deg\" }        # how well the drivers line up: a guess");
        put("");
    }
    put("[limits]                      # what your rules and your team ask for");
    for (name, answer, example, what) in [
        (
            "length",
            &s.longest,
            "\"500 mm\"",
            "greatest length of the robot, stowed",
        ),
        ("width", &s.widest, "\"500 mm\"", "greatest width"),
        ("height", &s.highest, "\"600 mm\"", "greatest height"),
        ("mass", &s.heaviest, "\"15 kg\"", "greatest mass, ready to run"),
    ] {
        let (mark, value) = if answer.trim().is_empty() {
            ("# ", example.to_string())
        } else {
            ("", quoted(answer))
        };
        put(&format!("{:<30}# {what}", format!("{mark}{name} = {value}")));
    }
    put("# volley = 3                  # pieces thrown in one go");
    put("# throw_interval = \"1 s\"      # longest time between two of them");
    put("# clearance = \"20 mm\"         # least distance between piece and rim");
    put("# exit_speed = \"12 m/s\"       # greatest speed at which your rules let a piece leave");
    put("# fuse = \"40 A\"               # fuse or breaker of the launcher's circuit");
    put("");
    put("# ---- The machine: a first guess, turned and geared to what the spots ask -----------------------");
    put("");
    let squeeze = a.piece.squeeze_m(a.diameter_m, pair);
    let degrees = |rad: f64| format!("\"{:.0} deg\"", rad.to_degrees());
    put("[launcher]");
    put(&format!("layout = \"{}\"", if pair { "pair" } else { "guide" }));
    put(&format!("axle_height = {}", a.small(guess.axle_m)));
    put(&format!(
        "squeeze = {:<20}# how much the piece is pressed together",
        a.small(squeeze)
    ));
    if pair {
        put(&format!(
            "direction = {:<18}# of the throw at tilt 0",
            degrees(guess.direction_rad)
        ));
        put("upper_speed = \"85 %\"          # slower on top: backspin");
    } else {
        put("wrap = \"110 deg\"              # how far the guide runs around the wheel");
        put(&format!(
            "end_angle = {:<18}# where the end of the guide points, above the level",
            degrees(guess.direction_rad)
        ));
    }
    put("feed_speed = \"1.0 m/s\"");
    put("feed_push = \"15 N\"");
    put("");
    if !pair {
        put("[launcher.sheet]              # what the guide is bent from");
        put("material = \"polycarbonate\"");
        put("thickness = \"0.75 mm\"");
        put("");
    }
    put("[wheel]");
    put(&format!("diameter = {}", a.small(guess.wheel_m)));
    put("width = \"50 mm\"");
    put(
        "friction = { value = 0.8, sd = 0.1 }             # tilt a board with the wheel's tread: tangent of the slope at which the piece slips",
    );
    put("# rim_limit = \"35 m/s\"        # printed on the wheel, or ask its maker");
    put("");
    put("[[wheel.part]]                # everything that turns with one wheel shaft");
    put("kind = \"disc\"");
    put("mass = \"350 g\"");
    put(&format!("diameter = {}", a.small(guess.wheel_m)));
    put("");
    put("[[wheel.part]]");
    put(
        "kind = \"ring\"                 # extra mass at the rim: the more, the less each throw slows the wheel",
    );
    put("mass = \"200 g\"");
    put(&format!("diameter = {}", a.small(0.85 * guess.wheel_m)));
    put("");
    put("[setting]                     # where the knobs stand");
    put(&format!("tilt = {}", degrees(guess.tilt_rad)));
    if !pair {
        put("reach = \"60 mm\"");
    }
    put("");
    put("[knobs.tilt]");
    put("range = [\"0 deg\", \"25 deg\"]");
    put("step = \"1 deg\"");
    put("repeat = \"0.3 deg\"");
    put("");
    if !pair {
        put("[knobs.reach]");
        put("range = [\"20 mm\", \"120 mm\"]");
        put("step = \"5 mm\"");
        put("repeat = \"0.5 mm\"");
        put("");
    }
    put(
        "[motor]                       # no real one: write what the sheet of yours says, all at the nominal voltage",
    );
    put("nominal = \"12 V\"");
    put("free_speed = \"6000 rpm\"");
    put("free_current = \"1.2 A\"");
    put("stall_torque = \"1.1 N m\"");
    put("stall_current = \"60 A\"");
    put("rotor_inertia = \"0.2 kg cm^2\"");
    put(&format!(
        "{:<30}# motor speed over wheel speed",
        format!("ratio = {:.1}", guess.ratio)
    ));
    put("current_limit = \"30 A\"");
    put("");
    put("[battery]");
    put("open_voltage = \"12.7 V\"");
    let _ = writeln!(
        out,
        "{:<30}# with wires, connectors and switch",
        "resistance = \"20 mohm\""
    );
    out
}

/// A name for a remark: one line.
fn clean(name: &str) -> String {
    name.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
