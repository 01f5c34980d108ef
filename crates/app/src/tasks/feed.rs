//! The feed: many loads of the project's hopper, and what would help.

use arcwright_model::feed::hopper::{Hopper, Pieces};
use arcwright_model::feed::load::WedgeKind;
use arcwright_model::feed::survey::{Invalid, Survey};
use arcwright_model::finding::Finding;
use arcwright_model::project::{HopperFault, Project};
use arcwright_paper::drawings::hopper::{self as hopper_view, FaultMark, HopperPicture};
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

/// The survival curve of the wait.
pub fn waits_picture(project: &Project, survey: &Survey) -> String {
    waits_view::draw(&WaitsPicture {
        title: format!("{}: how long one waits for a piece", project.name),
        units: project.units,
        load_count: survey.load_count,
        waits: survey.waits.to_vec(),
        why: why(survey),
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
