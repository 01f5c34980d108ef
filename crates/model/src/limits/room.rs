//! Room to adjust as a verdict and in words.

use super::aiming::shortfall_words;
use super::{Amount, Evidence, Status, Verdict, Way};
use crate::aim::{End, FasterNeed, Knob, Room, RoomCase, TravelNeed};
use crate::launcher::Setting;
use crate::project::{Project, schema};
use crate::units::Dimension;
use crate::units::show;

pub(super) fn adjustability(e: &Evidence) -> Vec<Verdict> {
    if e.project.spots.is_empty() {
        return Vec::new();
    }
    e.room.map(|room| verdict(e.project, room)).into_iter().collect()
}

/// The verdict on a room to adjust, worked out to any depth.
pub fn verdict(project: &Project, room: &Room) -> Verdict {
    let new = |status, why| Verdict::new("adjustability", "", status, why);
    if !room.known() {
        let names: Vec<&str> = room.missing.iter().map(|k| unknown_name(k)).collect();
        return new(
            Status::Unknown,
            format!("no spread is given for {}", listed(&names)),
        )
        .mend(
            "write how well each is known, such as `drag = { value = 0.45, sd = 0.07 }`; without it there is no end to try"
                .into(),
        );
    }
    let open: Vec<&RoomCase> = room.unserved().collect();
    let together = room.cases.iter().find(|c| !c.end.single() && !c.served());
    let (status, why, mend) = if let Some(worst) = open
        .iter()
        .filter(|c| c.searched)
        .min_by(|a, b| a.merit().total_cmp(&b.merit()))
    {
        let more = match open.len() - 1 {
            _ if !room.works_as_written() => "; the ends are asked once this works".into(),
            0 => String::new(),
            1 => "; one other end is open too".into(),
            n => format!("; {n} other ends are open too"),
        };
        (
            Status::Fails,
            format!(
                "{}: {}; neither wheel speed nor the knobs within their travel mend it{more}",
                case_words(project, worst),
                lacks_words(project, worst)
            ),
            mend_words(project, room),
        )
    } else if let Some(k) = room.knobs.iter().find(|k| k.close()) {
        (
            Status::Tight,
            format!(
                "every single quantity can be answered, but {} then stands {}",
                k.knob.word(),
                if k.left_frac > 0.0 {
                    format!(
                        "{} of its travel from the end",
                        project.say(k.left_frac, Dimension::Ratio)
                    )
                } else {
                    "at the end of its travel".into()
                }
            ),
            tight_words(project, room),
        )
    } else if let Some(case) = together {
        (
            Status::Tight,
            format!(
                "each quantity alone can be answered, but {}: {}",
                case_words(project, case),
                lacks_words(project, case)
            ),
            "throw test shots early: they narrow what is not known; `arcwright aim --room` shows what each end needs".into(),
        )
    } else {
        let alone = room
            .cases
            .iter()
            .filter(|c| c.end.single())
            .all(RoomCase::by_speed_alone);
        let by = if alone {
            "wheel speed alone centres"
        } else {
            "wheel speed and the knobs centre"
        };
        let count = room.cases.iter().filter(|c| c.end == End::Low).count();
        let quantities = if count == 1 { "quantity" } else { "quantities" };
        (
            Status::Holds,
            format!("{by} every spot at both ends of {count} unknown {quantities}"),
            String::new(),
        )
    };
    let mut out = new(status, why).mend(mend);
    if let Some(s) = &room.speed {
        let amount = |value| {
            Some(Amount {
                value,
                dimension: Dimension::AngularSpeed,
            })
        };
        let highest = highest_single(room).unwrap_or(s.highest_radps);
        out.found = amount(highest);
        out.asked = amount(s.usable_radps);
        out.margin = amount(s.usable_radps - highest);
    }
    if status == Status::Fails {
        for (i, (spot, near)) in project.spots.iter().zip(&room.nearest_m).enumerate() {
            let Some(d) = *near else { continue };
            let way = if d > spot.distance_m { Way::Up } else { Way::Down };
            let value = project.written(d, Dimension::Length, way);
            out.nearest_brief.push((
                format!("spot[{i}].distance"),
                Amount {
                    value,
                    dimension: Dimension::Length,
                },
            ));
        }
    }
    out
}

/// The highest setpoint at a single end.
fn highest_single(room: &Room) -> Option<f64> {
    let spots = room
        .cases
        .iter()
        .filter(|c| c.end.single())
        .flat_map(|c| &c.by_speed);
    spots
        .filter_map(|s| s.needed_radps.or(s.setpoint_radps))
        .max_by(f64::total_cmp)
}

/// An unknown quantity as people speak of it.
pub fn unknown_name(key: &str) -> &str {
    match key {
        "wheel.friction" => "friction on the wheel",
        "launcher.guide_friction" => "friction on the guide",
        "launcher.rolling_loss" => "rolling loss",
        "launcher.speed_transfer" => "speed transfer",
        _ => key.rsplit_once('.').map_or(key, |k| k.1),
    }
}

/// A value of a key in the project's units.
fn say_key(project: &Project, key: &str, value: f64) -> String {
    match schema::entry(key).and_then(|e| e.measure()) {
        Some((dimension, scale)) => show::text(value, dimension, scale, project.units),
        None => project.say(value, Dimension::Number),
    }
}

/// `drag and lift`; `drag, lift and bounce`.
fn listed(words: &[&str]) -> String {
    match words {
        [] => "any quantity".into(),
        [one] => (*one).into(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Where a case stands: `drag at 0.57`.
pub fn case_words(project: &Project, case: &RoomCase) -> String {
    match (case.end, case.key, case.values.first()) {
        (End::Low | End::High, Some(key), Some((_, value))) => {
            format!("{} at {}", unknown_name(key), say_key(project, key, *value))
        }
        (End::Shorter, ..) => "all together so that throws come out short".into(),
        (End::Longer, ..) => "all together so that throws come out long".into(),
        _ => "as written".into(),
    }
}

/// What the spots of a case lack by wheel speed alone.
fn lacks_words(project: &Project, case: &RoomCase) -> String {
    let spots = project.spots.iter().zip(&case.by_speed);
    let lacking: Vec<String> = spots
        .filter(|(_, s)| !s.served())
        .map(|(spot, s)| {
            let words: Vec<String> = s.lacks.iter().map(|l| shortfall_words(project, l)).collect();
            format!("{} {}", spot.name, words.join(", "))
        })
        .collect();
    lacking.join("; ")
}

/// A travel in the words of the project file: `range = ["0 deg", "29 deg"]`, with what is added.
pub fn travel_words(project: &Project, need: &TravelNeed) -> String {
    let say = |v| project.say(v, need.knob.dimension());
    let [below, above] = need.extra();
    let mut added = Vec::new();
    if below > 0.0 {
        added.push(format!("{} below", say(below)));
    }
    if above > 0.0 {
        added.push(format!("{} above", say(above)));
    }
    format!(
        "{} needs {}: `range = [\"{}\", \"{}\"]` under [knobs.{}]",
        need.knob.word(),
        added.join(" and "),
        say(need.needed.low),
        say(need.needed.high),
        need.knob.word()
    )
}

/// A rise of the top speed in words: `gear ratio 0.85 or less instead of 1`.
fn faster_words(project: &Project, need: &FasterNeed) -> Vec<String> {
    let m = &project.machine;
    let ratio = need.gear_ratio.map(|r| {
        format!(
            "a gear ratio of {} or less instead of {}",
            project.say(r, Dimension::Number),
            project.say(m.drive.gear_ratio, Dimension::Number)
        )
    });
    let wheel = need.wheel_diameter_m.map(|d| {
        format!(
            "a wheel {} across instead of {}",
            project.say(d, Dimension::Length),
            project.say(m.wheel.diameter_m, Dimension::Length)
        )
    });
    ratio.into_iter().chain(wheel).collect()
}

/// What would serve every single end.
fn mend_words(project: &Project, room: &Room) -> String {
    let mut ways: Vec<String> = room.travel.iter().map(|n| travel_words(project, n)).collect();
    if let Some(f) = &room.faster {
        ways.extend(faster_words(project, f));
    }
    if ways.is_empty() {
        return "neither more travel of one knob nor a faster wheel mends it alone: change two at once, throw from a place nearer to what is served, or narrow the spread with test shots".into();
    }
    ways.join("; or ")
}

/// What gives the knobs room again where every single end is answered.
fn tight_words(project: &Project, room: &Room) -> String {
    let travel: Vec<String> = room.travel.iter().map(|n| travel_words(project, n)).collect();
    let mut ways = vec![travel.join(" and ")];
    if let Some(f) = &room.faster {
        ways.extend(faster_words(project, f));
    }
    ways.join("; or ")
}

/// The knobs that a setting moves from the present one: `tilt to 11 deg`.
fn moves(project: &Project, case: &RoomCase) -> String {
    let Some(best) = &case.by_knobs else {
        return String::new();
    };
    let here = &project.machine.setting;
    let moved: Vec<String> = Knob::ALL
        .into_iter()
        .filter(|k| k.of(&best.setting) != k.of(here))
        .map(|k| {
            format!(
                "{} to {}",
                k.word(),
                project.say(k.of(&best.setting), k.dimension())
            )
        })
        .collect();
    moved.join(" and ")
}

/// The whole answer in plain sentences, the verdict's question first.
pub fn room_words(project: &Project, room: &Room) -> Vec<String> {
    let mut out = Vec::new();
    let of = |key: &str, end: End| room.cases.iter().find(|c| c.key == Some(key) && c.end == end);
    let mut alone: Vec<(&str, String)> = Vec::new();
    let mut rest: Vec<String> = Vec::new();
    // Ends that one setting answers, each setting once.
    let mut by_setting: Vec<(Setting, Vec<&RoomCase>)> = Vec::new();
    if let Some(base) = room.cases.first().filter(|c| !c.by_speed_alone()) {
        rest.push(end_words(project, base));
        if !base.served() && base.searched {
            rest.push("What lies at the ends of the unknown quantities is asked once that works.".into());
            return rest;
        }
    }
    for low in room.cases.iter().filter(|c| c.end == End::Low) {
        let Some(key) = low.key else { continue };
        let Some(high) = of(key, End::High) else { continue };
        let value = |c: &RoomCase| c.values.first().map_or(f64::NAN, |v| v.1);
        if low.by_speed_alone() && high.by_speed_alone() {
            let [a, b] = [low, high].map(|c| say_key(project, key, value(c)));
            alone.push((unknown_name(key), format!("between {a} and {b}")));
        } else {
            for case in [low, high].into_iter().filter(|c| !c.by_speed_alone()) {
                match case.by_knobs.as_ref().filter(|b| b.serves()) {
                    Some(best) => match by_setting.iter_mut().find(|g| g.0 == best.setting) {
                        Some(group) => group.1.push(case),
                        None => by_setting.push((best.setting, vec![case])),
                    },
                    None => rest.push(end_words(project, case)),
                }
            }
        }
    }
    match alone.as_slice() {
        [] => {}
        [(what, range)] => out.push(format!(
            "Whatever {what} turns out to be {range}, wheel speed alone still centres every spot."
        )),
        many => {
            let each: Vec<String> = many.iter().map(|(w, r)| format!("{w} {r}")).collect();
            out.push(format!(
                "Whatever each of these turns out to be, wheel speed alone still centres every spot: {}.",
                each.join(", ")
            ));
        }
    }
    out.extend(by_setting.iter().map(|(_, cases)| group_words(project, cases)));
    out.extend(rest);
    for case in room.cases.iter().filter(|c| !c.end.single()) {
        out.push(if case.by_speed_alone() {
            format!(
                "With {}, wheel speed alone still centres every spot.",
                case_words(project, case)
            )
        } else {
            end_words(project, case)
        });
    }
    if !room.missing.is_empty() {
        let names: Vec<&str> = room.missing.iter().map(|k| unknown_name(k)).collect();
        out.push(format!(
            "Taken as exact, because no spread is written: {}.",
            listed(&names)
        ));
    }
    out
}

/// Ends that wheel speed alone does not serve and one setting does, with what the worst of them lacks.
fn group_words(project: &Project, cases: &[&RoomCase]) -> String {
    let Some(worst) = cases.iter().min_by(|a, b| a.merit().total_cmp(&b.merit())) else {
        return String::new();
    };
    let places: Vec<String> = cases.iter().map(|c| case_words(project, c)).collect();
    let places: Vec<&str> = places.iter().map(String::as_str).collect();
    let (any, at_worst) = match places.as_slice() {
        [_] => ("", ""),
        _ => ("any of ", "at worst "),
    };
    let start = with_words(worst, &format!("{any}{}", listed(&places)));
    format!(
        "{start}, wheel speed alone is not enough ({at_worst}{}); move {}, and it is.",
        lacks_words(project, worst),
        moves(project, worst)
    )
}

/// `With drag at 0.57`; `As written`.
fn with_words(case: &RoomCase, places: &str) -> String {
    if case.end == End::Written {
        "As written".into()
    } else {
        format!("With {places}")
    }
}

/// A case that wheel speed alone does not serve.
fn end_words(project: &Project, case: &RoomCase) -> String {
    let place = case_words(project, case);
    let lacks = lacks_words(project, case);
    if case.served() {
        return group_words(project, &[case]);
    }
    if !case.searched {
        return format!(
            "{}, wheel speed alone is not enough ({lacks}).",
            with_words(case, &place)
        );
    }
    let mut ways: Vec<String> = case.needs.iter().map(|n| travel_words(project, n)).collect();
    if let Some(f) = &case.faster {
        ways.extend(faster_words(project, f));
    }
    let would = if ways.is_empty() {
        "more travel of one knob or a faster wheel does not mend it alone".to_string()
    } else {
        format!("at least: {}", ways.join("; or "))
    };
    let start = with_words(case, &place);
    format!("{start}, no setting within the travel serves every spot ({lacks}); {would}.")
}
