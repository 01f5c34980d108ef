//! Has anything changed since the machine last worked: later shots against what the earlier ones taught.

use arcwright_model::finding::Finding;
use arcwright_model::floor::drift::{
    Change, Chart, DriftCheck, Explanation, HitMissWatch, check_between, watch_misses,
};
use arcwright_model::floor::{FEWEST_SHOTS, Fitted, Later, MachineOptions, Shot, fit};
use arcwright_model::project::Project;
use arcwright_model::target::Outcome;
use arcwright_model::units::Dimension as D;
use arcwright_paper::drawings::drift as view;

use crate::store::LoggedShot;

/// Which shots are the later ones.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum From {
    /// Those of the last session, or the last few where there is only one.
    Usual,
    /// From this session on.
    Session(i64),
    /// From this shot on.
    Shot(i64),
    /// The last so many.
    Last(usize),
}

/// A check between matches.
pub struct Drift {
    /// Numbers of the earlier shots.
    pub earlier: Vec<i64>,
    /// Numbers of the later ones that were measured or called.
    pub later: Vec<i64>,
    /// Both share a session.
    pub one_session: bool,
    /// What the earlier ones taught.
    pub fitted: Fitted,
    /// What the later ones showed.
    pub seen: Later,
    /// Over what was measured; none where nothing was.
    pub check: Option<DriftCheck>,
    /// Over hits and misses, where nothing was measured.
    pub misses: Option<Misses>,
    /// Mean battery voltage of the earlier and the later shots.
    pub battery_v: [Option<f64>; 2],
    /// Marks of pieces that were not thrown before.
    pub new_pieces: Vec<u32>,
    /// The answer.
    pub verdict: Verdict,
}

/// A check over hits and misses alone.
pub struct Misses {
    /// Misses among the later shots.
    pub missed: usize,
    /// Misses to expect in one throw by what was learned, and the share that is watched for.
    pub rates_frac: [f64; 2],
    /// How many fell short, long, left and right.
    pub sides: [usize; 4],
    /// The watch.
    pub watch: HitMissWatch,
}

/// The answer in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Something has changed.
    Changed,
    /// Nothing that these shots could show.
    NotShown,
    /// Too little to say.
    TooLittle,
}

impl Verdict {
    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Changed => "changed",
            Verdict::NotShown => "not shown",
            Verdict::TooLittle => "too little",
        }
    }
}

/// Method: shots of a check where there is one session only; five are thrown while the robot warms up.
const USUAL_LAST: usize = 5;
/// Method: with fewer measured shots one flyer decides.
const FEWEST_LATER: usize = 3;
/// Method: with fewer hits and misses nothing is to be told.
const FEWEST_CALLED: usize = 5;
/// Method: misses watched for, times those to expect: 10 % against 25 %.
const FEARED_RATIO: f64 = 2.5;
/// Method: a few shots do not find less than a quarter of misses, however good the machine was.
const LEAST_FEARED_FRAC: f64 = 0.25;
/// Method: nobody is so good that fewer miss.
const LEAST_MISS_FRAC: f64 = 0.02;
/// Method: where more miss as it is, a watch over misses takes longer than anybody throws.
const MOST_MISS_FRAC: f64 = 0.6;
/// Method: limit of the chart over hits and misses; one false alarm in 460 shots at 10 %.
const MISS_LIMIT: f64 = 3.0;
/// Method: an explanation less likely than this is not worth a line.
pub const WORTH_FRAC: f64 = 0.1;

/// Did anybody see what became of it?
fn says_something(shot: &Shot) -> bool {
    let s = &shot.seen;
    let measured = s.landing.is_some()
        || s.wall.is_some()
        || s.fall.is_some()
        || s.miss_m.is_some()
        || s.exit_speed_mps.is_some()
        || s.exit_angle_rad.is_some()
        || shot.before_radps.is_some();
    let called = s.outcome.is_some_and(|o| o != Outcome::None);
    (measured || called) && !shot.jammed && !shot.left_out
}

/// Where the later shots begin.
fn split(all: &[LoggedShot], from: From) -> Result<usize, Finding> {
    let no_such = |what: String| {
        Finding::new(
            "no-such-split",
            "later shots",
            what,
            "see `arcwright floor list` for the numbers of sessions and shots",
        )
    };
    let place = match from {
        From::Session(n) => all
            .iter()
            .position(|l| l.session == n)
            .ok_or_else(|| no_such(format!("no shot that was measured or called is of session {n}")))?,
        From::Shot(n) => all.iter().position(|l| l.id == n).ok_or_else(|| {
            no_such(format!(
                "shot {n} is not in the log, or nobody saw what became of it"
            ))
        })?,
        From::Last(n) => all.len().saturating_sub(n),
        From::Usual => {
            let last = all.last().map(|l| l.session);
            let begin = all.iter().position(|l| Some(l.session) == last).unwrap_or(0);
            if begin >= FEWEST_SHOTS {
                begin
            } else {
                all.len() - USUAL_LAST.min(all.len() / 2)
            }
        }
    };
    let later = all.len() - place;
    if place < FEWEST_SHOTS || later == 0 {
        return Err(Finding::new(
            "too-few-shots",
            "the log",
            format!(
                "{place} of the shots that say anything are earlier ones and {later} later ones; three earlier ones and one later one are the least"
            ),
            "log more shots, or say which are the later ones: --from-session N, --from-shot N or --last N",
        ));
    }
    Ok(place)
}

/// Compares the later shots of a log with what the earlier ones taught.
///
/// # Errors
/// `too-few-shots`, `no-such-split`, and what the fit says of the earlier shots.
pub fn compare(project: &Project, logged: Vec<LoggedShot>, from: From) -> Result<Drift, Finding> {
    let all: Vec<LoggedShot> = logged.into_iter().filter(|l| says_something(&l.shot)).collect();
    let place = split(&all, from)?;
    let (before, after) = all.split_at(place);
    let shots = |part: &[LoggedShot]| -> Vec<Shot> { part.iter().map(|l| l.shot.clone()).collect() };
    let (earlier, later) = (shots(before), shots(after));
    let fitted = fit(project, &earlier, &MachineOptions::default())?;
    let seen = fitted.innovations(&later);
    let check = check_between(&seen.innovations, seen.shared_ratio);
    let misses = match &check {
        Some(_) => None,
        None => misses(&fitted, &later),
    };
    let verdict = match (&check, &misses) {
        _ if !fitted.confident => Verdict::TooLittle,
        (Some(c), _) if c.changed => Verdict::Changed,
        (Some(c), _) if c.shots < FEWEST_LATER => Verdict::TooLittle,
        (Some(_), _) => Verdict::NotShown,
        (None, Some(m)) if m.watch.alarm_at.is_some() => Verdict::Changed,
        (None, Some(_)) if later.len() >= FEWEST_CALLED => Verdict::NotShown,
        (None, _) => Verdict::TooLittle,
    };
    let mut new_pieces: Vec<u32> = later
        .iter()
        .filter_map(|s| s.piece)
        .filter(|p| earlier.iter().all(|s| s.piece != Some(*p)))
        .collect();
    new_pieces.sort_unstable();
    new_pieces.dedup();
    let volts = |part: &[Shot]| {
        let known: Vec<f64> = part.iter().filter_map(|s| s.battery_v).collect();
        (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
    };
    Ok(Drift {
        battery_v: [volts(&earlier), volts(&later)],
        one_session: before.last().map(|l| l.session) == after.first().map(|l| l.session),
        earlier: before.iter().map(|l| l.id).collect(),
        later: after.iter().map(|l| l.id).collect(),
        fitted,
        seen,
        check,
        misses,
        new_pieces,
        verdict,
    })
}

fn misses(fitted: &Fitted, later: &[Shot]) -> Option<Misses> {
    let called: Vec<(bool, Option<f64>, Outcome)> = fitted
        .hit_chances(later)
        .into_iter()
        .zip(later)
        .filter_map(|(chance, s)| s.seen.outcome.map(|o| (o != Outcome::In, chance, o)))
        .collect();
    let chances: Vec<f64> = called.iter().filter_map(|c| c.1).collect();
    if chances.is_empty() {
        return None;
    }
    let hit = chances.iter().sum::<f64>() / chances.len() as f64;
    let usual = (1.0 - hit).max(LEAST_MISS_FRAC);
    // Where hardly any throw should hit, misses say nothing.
    if usual > MOST_MISS_FRAC {
        return None;
    }
    let feared = (FEARED_RATIO * usual)
        .max(LEAST_FEARED_FRAC)
        .min(0.5 * (1.0 + usual));
    let missed: Vec<bool> = called.iter().map(|c| c.0).collect();
    let count = |of: &[Outcome]| called.iter().filter(|c| of.contains(&c.2)).count();
    Some(Misses {
        missed: missed.iter().filter(|m| **m).count(),
        rates_frac: [usual, feared],
        sides: [
            count(&[Outcome::Short, Outcome::Under]),
            count(&[Outcome::Long]),
            count(&[Outcome::Left]),
            count(&[Outcome::Right]),
        ],
        watch: watch_misses(&missed, usual, feared, MISS_LIMIT)?,
    })
}

/// `13 to 17`, `13, 15 and 18`.
pub fn numbers(ids: &[i64]) -> String {
    match ids {
        [] => "none".into(),
        [one] => one.to_string(),
        [first, .., last] if *last - *first + 1 == ids.len() as i64 => format!("{first} to {last}"),
        [first, .., last] => format!("{first} to {last} ({} of them)", ids.len()),
    }
}

/// What a chart follows.
pub fn chart_name(chart: Chart) -> &'static str {
    match chart {
        Chart::Along => "place along",
        Chart::Angle => "near against far spots",
        Chart::Across => "place across",
        Chart::Speed => "speed at the exit",
        Chart::Wheel => "wheel before the throw",
        Chart::Spread => "spread",
    }
}

/// Short stable name of a chart.
pub fn chart_code(chart: Chart) -> &'static str {
    match chart {
        Chart::Along => "along",
        Chart::Angle => "angle",
        Chart::Across => "across",
        Chart::Speed => "speed",
        Chart::Wheel => "wheel",
        Chart::Spread => "spread",
    }
}

fn up_means(chart: Chart) -> &'static str {
    match chart {
        Chart::Along => "up: as if faster",
        Chart::Angle => "up: as if steeper",
        Chart::Across => "up: to the left",
        Chart::Speed | Chart::Wheel => "up: faster",
        Chart::Spread => "",
    }
}

/// Short stable name of a change.
pub fn change_code(change: Change) -> &'static str {
    match change {
        Change::Speed => "speed",
        Change::Angle => "angle",
        Change::Heading => "heading",
        Change::Spread => "spread",
        Change::LaterThrows => "later-throws",
        Change::Voltage => "voltage",
        Change::WheelSpeed => "wheel-speed",
    }
}

/// A change and its size in words.
pub fn change_words(project: &Project, e: &Explanation) -> String {
    let amount = |d: D| {
        format!(
            "{} (± {})",
            project.say(e.value.abs(), d),
            project.say(2.0 * e.sd, d)
        )
    };
    let way = |up: &'static str, down: &'static str| if e.value > 0.0 { up } else { down };
    match e.change {
        Change::Speed => format!(
            "everything leaves {} {}",
            amount(D::Ratio),
            way("faster", "slower")
        ),
        Change::Angle => format!(
            "everything leaves {} {}",
            amount(D::Angle),
            way("steeper", "flatter")
        ),
        Change::Heading => format!(
            "everything goes {} farther to the {}",
            amount(D::Angle),
            way("left", "right")
        ),
        Change::Spread => format!("throws scatter {:.1} times as much", e.value),
        Change::LaterThrows => format!(
            "the later throws of a volley leave {} {}",
            amount(D::Ratio),
            way("faster", "slower")
        ),
        Change::Voltage => format!(
            "speed goes with the battery: {} {} for each volt more",
            amount(D::Ratio),
            way("faster", "slower")
        ),
        Change::WheelSpeed => format!(
            "the wheel turns {} {} before the throw than the same command gave",
            amount(D::Ratio),
            way("faster", "slower")
        ),
    }
}

/// "about 8 in 10".
pub fn in_ten(frac: f64) -> String {
    let tenths = (10.0 * frac).round();
    if tenths >= 10.0 {
        "more than 9 in 10".into()
    } else if tenths < 1.0 {
        "less than 1 in 10".into()
    } else {
        format!("about {tenths:.0} in 10")
    }
}

/// As large as sessions differ anyway?
pub fn ordinary(fitted: &Fitted, e: &Explanation) -> bool {
    let before = fitted.before();
    let usual = match e.change {
        Change::Speed => before.session_sd_frac,
        Change::Angle => before.session_angle_sd_rad,
        _ => return false,
    };
    e.value.abs() < 1.5 * usual
}

/// What to do about a change, the least work first.
pub fn to_do(d: &Drift, project: &Project) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut say = |text: &str| out.push(text.to_string());
    if let [Some(then), Some(now)] = d.battery_v
        && then - now > LOWER_V
    {
        say(&format!(
            "battery: {} now, {} then. Charge it or take a full one, and throw three again",
            project.say(now, D::Voltage),
            project.say(then, D::Voltage)
        ));
    }
    if !d.new_pieces.is_empty() {
        let marks: Vec<String> = d.new_pieces.iter().map(u32::to_string).collect();
        say(&format!(
            "pieces that were not thrown before: {}. Throw three of the old ones",
            marks.join(", ")
        ));
    }
    let ranked: &[Explanation] = d.check.as_ref().map_or(&[], |c| &c.ranked);
    let likely: Vec<Change> = ranked
        .iter()
        .filter(|e| e.share_frac >= WORTH_FRAC)
        .map(|e| e.change)
        .collect();
    let alike = likely.contains(&Change::Speed) && likely.contains(&Change::Angle);
    if alike {
        say("time three throws (`fall 1.24s`) or film one: places alone hardly tell speed from angle here");
    }
    let by_speed = likely
        .iter()
        .any(|c| matches!(c, Change::Speed | Change::LaterThrows));
    if by_speed && d.battery_v.iter().any(Option::is_none) {
        say("read the battery before each throw (`12.4V` in the line): nobody did for all of these shots");
    }
    for e in ranked.iter().filter(|e| likely.contains(&e.change)) {
        steps(e).iter().for_each(|step| say(step));
    }
    if let Some(m) = &d.misses {
        let [short, long, left, right] = m.sides;
        if short > long {
            say("most misses are short: charge the battery, wipe tread and pieces");
        } else if long > short {
            say("most misses are long: see whether other pieces or a new tread came in");
        }
        if left.max(right) > short.max(long) {
            say("most misses are sideways: see how the robot stands");
        }
        say(
            "throw five more and say how far each misses (`long 12cm`): that finds a change in a third of the shots",
        );
    }
    say(if d.one_session {
        "or keep the machine as it is and learn anew: begin a session (`arcwright floor session \"after the change\"`), throw six, then `arcwright floor next`"
    } else {
        "or keep the machine as it is: `arcwright floor next` takes these shots into account and gives new speeds"
    });
    out
}

/// Parts to look at first.
pub fn look_at(e: &Explanation) -> &'static [&'static str] {
    match e.change {
        // Wear makes nothing faster.
        Change::Speed if e.value > 0.0 => &["other pieces", "a new tread", "a fuller battery"],
        change => change.suspects(),
    }
}

/// What to do about one kind of change, the least work first.
fn steps(e: &Explanation) -> [&'static str; 2] {
    match e.change {
        Change::Speed if e.value < 0.0 => [
            "wipe tread and pieces; look for a shiny, torn or worn tread and for pieces that went soft",
            "battery off: measure wheel and gap; a worn wheel squeezes less",
        ],
        Change::Speed => [
            "see whether other pieces, a new tread or a fresh battery came in",
            "battery off: measure the gap; more squeeze throws faster",
        ],
        Change::Angle => [
            "compare tilt, slide and reach with arcwright.toml, and mark them with a pen line",
            "battery off: push at guide and hood; tighten what gives",
        ],
        Change::Heading => [
            "see how the robot stands: line it up by the same marks as before",
            "battery off: look whether rails or guide lean to one side",
        ],
        Change::Spread => [
            "mark the pieces and throw them in mixed order; `arcwright floor wander` says which differ",
            "battery off: look for a loose screw, a wheel with play, a torn tread",
        ],
        Change::LaterThrows => [
            "charge the battery; wait until the wheel is back before each throw",
            "`arcwright floor drift --telemetry NEW.csv --against OLD.csv` compares recovery",
        ],
        Change::Voltage => [
            "throw with the battery as full as when it was learned",
            "see whether the code holds the wheel's speed, or only its power",
        ],
        Change::WheelSpeed => [
            "see whether the code, its limits or the speed sensor were changed",
            "charge the battery: an empty one holds the wheel below its command",
        ],
    }
}

/// Method: a battery lower by this is worth a word.
const LOWER_V: f64 = 0.2;

/// The picture.
pub fn picture(d: &Drift) -> String {
    let strips = d.check.iter().flat_map(|c| {
        c.charts.iter().map(|run| view::DriftStrip {
            name: format!("{} ({})", chart_name(run.chart), up_means(run.chart)),
            places: run.places.clone(),
            z: run.z.clone(),
            upper: run.run.upper.clone(),
            lower: run.run.lower.clone(),
            limit: c.watch.limit_ratio,
            called_at: run.run.first_alarm,
        })
    });
    view::draw(&view::DriftChart {
        says: format!(
            "shots {} against the {} before, in standard deviations: {}",
            numbers(&d.later),
            d.earlier.len(),
            match d.verdict {
                Verdict::Changed => "something has changed",
                Verdict::NotShown => "no change shown",
                Verdict::TooLittle => "too little to say",
            }
        ),
        shots: d.later.iter().map(i64::to_string).collect(),
        strips: strips.collect(),
    })
}
