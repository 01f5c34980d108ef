//! The feed: many loads of the project's hopper, and what would help.

pub mod apply;
pub mod measure;
pub mod replay;
pub mod words;

use arcwright_model::feed::hopper::{Hopper, Pieces};
use arcwright_model::feed::load::{Load, WedgeKind, run};
use arcwright_model::feed::survey::{Invalid, Survey, flowed, patience_s};
use arcwright_model::finding::Finding;
use arcwright_model::project::{HopperFault, Project};
use arcwright_paper::drawings::hopper::{self as hopper_view, FaultMark, HopperPicture};
use arcwright_paper::drawings::stuck::{self as stuck_view, StuckPicture};
use arcwright_paper::drawings::waits::{self as waits_view, WaitsPicture};

/// Hopper and pieces of a project, or what to write to have some.
pub fn parts(project: &Project) -> Result<(Hopper, Pieces), Finding> {
    match (project.feed, project.feed_pieces()) {
        (Some(feed), Some(pieces)) => Ok((feed.hopper, pieces)),
        _ => Err(Finding::new(
            "no-feed",
            "feed",
            "the project has no [feed] table: no hopper is described",
            "write [feed] with `length`, `width`, `chute_width` and `slope`; [feed.roller], [feed.stirrer] and \
             [feed.bands] where there are some (docs/feed.md)",
        )),
    }
}

/// A kind of wedge: its code and its words.
pub fn kind_words(kind: WedgeKind) -> (&'static str, &'static str) {
    match kind {
        WedgeKind::Bridge => ("bridge", "pieces bridge between two walls"),
        WedgeKind::StirrerPinch => ("stirrer-pinch", "a piece is held between the stirrer and a wall"),
        WedgeKind::RollerPinch => ("roller-pinch", "a piece is held at the roller"),
        WedgeKind::Corner => ("corner", "a piece lies in a corner"),
        WedgeKind::Loose => ("loose", "pieces lie or move about without coming out"),
    }
}

/// What holds most wedges, in words; empty where nothing wedged.
pub fn why(survey: &Survey) -> String {
    survey.kinds.first().map_or(String::new(), |k| {
        format!("of what wedges, most often {}", kind_words(k.kind).1)
    })
}

/// The survival curve of the wait, beside that of a design before a change where there is one.
pub fn waits_picture(project: &Project, survey: &Survey, before: Option<&Survey>) -> String {
    waits_view::draw(&WaitsPicture {
        title: format!("{}: how long one waits for a piece", project.name),
        units: project.units,
        load_count: survey.load_count,
        waits: survey.waits.to_vec(),
        before: before.map_or(Vec::new(), |b| b.waits.to_vec()),
        why: why(survey),
    })
}

/// Where the pieces of wedged loads lie.
pub fn stuck_picture(project: &Project, survey: &Survey) -> Option<String> {
    Some(stuck_view::draw(&stuck_input(project, survey)?))
}

/// The same in a table: part of the hopper, in how many of 100 wedged loads a piece lies there.
pub fn stuck_rows(project: &Project, survey: &Survey) -> Vec<[String; 2]> {
    stuck_input(project, survey).map_or(Vec::new(), |input| stuck_view::rows(&input))
}

fn stuck_input(project: &Project, survey: &Survey) -> Option<StuckPicture> {
    let feed = project.feed?;
    Some(StuckPicture {
        title: format!("{}: where pieces get stuck", project.name),
        units: project.units,
        hopper: feed.hopper,
        piece_diameter_m: project.piece.diameter_m,
        load_count: survey.load_count,
        wedges: survey.wedged_at.clone(),
    })
}

/// The hopper with what is wrong with it, and the worst load where there is one.
pub fn hopper_picture(project: &Project, faults: &[HopperFault], survey: Option<&Survey>) -> Option<String> {
    let feed = project.feed?;
    let worst = survey.and_then(|s| s.worst.as_ref());
    Some(hopper_view::draw(&HopperPicture {
        title: format!("{}: the hopper", project.name),
        units: project.units,
        hopper: feed.hopper,
        piece_diameter_m: project.piece.diameter_m,
        pieces: worst.map_or(Vec::new(), |w| w.load.wedged_at.clone()),
        stirrer_rad: worst.and_then(|w| w.load.wedged_rad),
        pieces_are: worst.map_or(String::new(), |w| {
            let kind = w.load.wedge.map_or("", |k| kind_words(k.kind).1);
            format!("load {}, the worst: {kind}", w.index)
        }),
        faults: faults
            .iter()
            .map(|f| FaultMark {
                text: f.finding.what.clone(),
                refused: f.lint.fault.refused(),
                at_m: f.lint.at_m,
            })
            .collect(),
    }))
}

/// What a remedy is, in words: what is done, and how much of it.
pub fn remedy_words(project: &Project, now: &Hopper, code: &str, then: &Hopper) -> String {
    use arcwright_model::units::Dimension as D;
    let length = |v: f64| project.say(v, D::Length);
    match code {
        "stirrer-reverses" => "let the stalled stirrer turn back (`reverse = true`)".to_string(),
        "stirrer-faster" => "turn the stirrer twice as fast".to_string(),
        "stirrer-stronger" => "give the stirrer twice the torque".to_string(),
        "stirrer-other-way" => "turn the stirrer the other way".to_string(),
        "stirrer-centred" => "put the stirrer in the middle".to_string(),
        "bands-for-stirrer" => "bands in place of the stirrer".to_string(),
        "no-stirrer" => "take the stirrer out, nothing in its place".to_string(),
        "stirrer" => "build in a stirrer that turns back when it stalls".to_string(),
        "stirrer-for-bands" => "a stirrer in place of the bands".to_string(),
        "bands" => "stretch a band across each front corner".to_string(),
        "bands-looser" => "halve the pull of the bands".to_string(),
        "no-bands" => "take the bands out".to_string(),
        "steeper" => format!("slope the floor {}", project.say(then.slope_rad, D::Angle)),
        "slimmer-funnel" => format!("slimmer funnel, {}", project.say(then.funnel_rad, D::Angle)),
        "rounded-mouth" => format!("round the mouth's edges to {}", length(then.fillet_m)),
        "wider-chute" => format!("widen the chute to {}", length(then.chute_width_m)),
        "rails" => format!("rails {} apart in the chute", length(then.rail_gap_m)),
        "roller-slower" => "run the roller at half the speed".to_string(),
        "drop-at-back" => format!(
            "drop pieces in {} from the mouth, not {}",
            length(then.loading.before_mouth_m),
            length(now.loading.before_mouth_m)
        ),
        other => other.to_string(),
    }
}

/// Why there is no result, in words.
pub fn invalid_words(why: &Invalid) -> String {
    format!(
        "No result: in {} of {} loads a piece went through a wall, so none of it can be believed (the first was load {}). \
         This is a fault of the model, not of the hopper: report it with the project file. Softer pieces or slower parts may get round it.",
        why.count, why.of_count, why.first_index
    )
}

/// How the feed hands pieces to the launcher while nothing wedges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// Time from piece to piece.
    pub interval_s: f64,
    /// Its standard deviation.
    pub timing_sd_s: f64,
    /// Sideways place at which pieces come, as a standard deviation about the middle.
    pub entry_m: f64,
    /// Loads played.
    pub load_count: usize,
    /// Loads left out, in which somebody waited for longer than a slow roller needs.
    pub stuck_count: usize,
}

/// Method: loads for the pace; it is known to a few per cent then.
const PACE_LOADS: u64 = 64;

/// The pace of a project's feed.
///
/// # Errors
/// No feed, an impossible one, one that never flows.
pub fn pace(project: &Project) -> Result<Pace, Finding> {
    let (hopper, pieces) = parts(project)?;
    if let Some(f) = project
        .hopper_faults()
        .into_iter()
        .find(|f| f.lint.fault.refused())
    {
        return Err(f.finding);
    }
    let loads: Vec<Load> = (0..PACE_LOADS).map(|i| run(&hopper, &pieces, 1, i)).collect();
    let patience = patience_s(&hopper, &pieces);
    let flows = |l: &&Load| flowed(l, patience);
    let gaps: Vec<f64> = loads
        .iter()
        .filter(flows)
        .flat_map(|l| l.gaps_s.iter().skip(1).copied())
        .collect();
    if gaps.len() < 2 || loads.iter().any(|l| l.invalid) {
        return Err(Finding::new(
            "feed-stuck",
            "feed",
            format!("in {PACE_LOADS} loads hardly two pieces followed each other: the feed has no pace"),
            "see what wedges with `arcwright feed`, or leave `--fed` out",
        ));
    }
    let n = gaps.len() as f64;
    let interval_s = gaps.iter().sum::<f64>() / n;
    let squares: f64 = gaps.iter().map(|g| (g - interval_s) * (g - interval_s)).sum();
    let aside: Vec<f64> = loads
        .iter()
        .flat_map(|l| l.entries.iter().map(|e| e.aside_m * e.aside_m))
        .collect();
    Ok(Pace {
        interval_s,
        timing_sd_s: (squares / (n - 1.0)).sqrt(),
        entry_m: (aside.iter().sum::<f64>() / aside.len().max(1) as f64).sqrt(),
        load_count: loads.len(),
        stuck_count: loads.iter().filter(|l| !flows(l)).count(),
    })
}

/// The project as its feed hands it pieces: the interval is the slower of the brief's and the feed's, and where the feed sets it
/// its scatter counts; pieces come as far aside as the feed lets them.
pub fn fed(project: &mut Project, pace: &Pace) {
    let asked = project.limits.throw_interval_s;
    if asked.is_none_or(|a| a < pace.interval_s) {
        project.limits.throw_interval_s = Some(pace.interval_s);
        project.throws.timing_s = pace.timing_sd_s;
    }
    project.throws.entry_m = pace.entry_m;
}

/// What `--fed` took, in words.
pub fn pace_words(project: &Project, pace: &Pace) -> String {
    use arcwright_model::units::Dimension as D;
    let round = |v: f64, grain: f64| (v / grain).round() * grain;
    let interval = project.limits.throw_interval_s.unwrap_or(pace.interval_s);
    format!(
        "By the feed: one piece every {} (± {}) while nothing wedges, {} aside; so one throw every {}. {} of {} loads wedged and are left out.",
        project.say(round(pace.interval_s, 0.01), D::Time),
        project.say(round(pace.timing_sd_s, 0.01), D::Time),
        project.say(round(pace.entry_m, 1e-4), D::Length),
        project.say(round(interval, 0.01), D::Time),
        pace.stuck_count,
        pace.load_count
    )
}
