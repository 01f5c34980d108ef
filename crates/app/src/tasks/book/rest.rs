//! Feed, frame, season; decisions, notes, safety, parts, open questions.

use arcwright_model::aim::Solution;
use arcwright_model::feed::survey::{SurveyPlan, survey};
use arcwright_model::limits::{BaseChoice, BaseFigures, Status, check_unsearched, frame_report};
use arcwright_model::project::{BaseKind, PieceKind, Project};
use arcwright_model::season::rank::SeasonPlan;
use arcwright_model::units::Dimension as D;
use arcwright_paper::templates::sheets;

use super::notes::{Note, Part};
use super::{Block, Given};
use crate::tasks::feed as feeding;
use crate::tasks::feed::words::{WAIT_HEADS, arrival, survey_lines, wait_rows};
use crate::tasks::frame::{base_table, figures, free_room, polar, sheet_table};
use crate::tasks::safety::{CAUTIONS, DEFERS, GUARDS, hazards};
use crate::tasks::season::{picture, points, ranking, season as play, verdict};
use crate::tasks::tables::{Table, verdict_row};

/// Method: loads for the feed, as `feed` takes them where nothing is said.
const FEED: SurveyPlan = SurveyPlan {
    seed: 1,
    most_count: 1024,
    least_count: 0,
    within_frac: 0.06,
};

/// Will the pieces queue or wedge: as `feed` says where nothing else is asked.
pub(super) fn feed(given: &Given<'_>) -> Vec<Block> {
    let project = &given.design;
    let Ok((hopper, pieces)) = feeding::parts(project) else {
        return Vec::new();
    };
    let faults = project.hopper_faults();
    let mut out: Vec<Block> = Vec::new();
    let rows = faults.iter().map(|f| {
        let kind = if f.lint.fault.refused() {
            "impossible"
        } else {
            "doubtful"
        };
        vec![kind.to_string(), f.finding.what.clone(), f.finding.fix.clone()]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    if !rows.is_empty() {
        out.push(Block::Table(
            "What is wrong with the hopper as it is written".into(),
            Table::of(&["", "what", "what would mend it"], rows),
        ));
    }
    let possible = !faults.iter().any(|f| f.lint.fault.refused());
    let found = possible.then(|| survey(&hopper, &pieces, &FEED, &mut |_| true));
    match &found {
        None => {}
        Some(Err(why)) => out.push(Block::Text(feeding::invalid_words(why))),
        Some(Ok(s)) => {
            out.push(Block::Table(
                format!(
                    "{} loads of {} pieces, {}, then fed out",
                    s.load_count,
                    pieces.count,
                    arrival(project)
                ),
                Table::of(&WAIT_HEADS, wait_rows(project, s)),
            ));
            out.push(Block::List(survey_lines(project, s)));
            out.push(Block::Figure(
                feeding::waits_picture(project, s, None),
                "How long one waits for a piece.".into(),
            ));
        }
    }
    let result = found.as_ref().and_then(|f| f.as_ref().ok());
    if let Some(svg) = feeding::hopper_picture(project, &faults, result) {
        out.push(Block::Figure(
            svg,
            "The hopper, with the worst load where one wedged.".into(),
        ));
    }
    out
}

/// Other bases beside the one of the file, with as many motors as each takes.
fn bases(project: &Project) -> Option<Vec<BaseFigures>> {
    let frame = project.frame.as_ref()?;
    let own = frame_report(project)?.base?;
    let others = [BaseKind::Four, BaseKind::Six, BaseKind::Sideways]
        .into_iter()
        .filter(|kind| *kind != own.kind)
        .filter_map(|kind| {
            BaseFigures::with(
                project,
                BaseChoice {
                    kind,
                    motor_count: frame.motor_count,
                },
            )
        });
    let others: Vec<BaseFigures> = others.collect();
    Some(std::iter::once(own).chain(others).collect())
}

/// The rest of the machine.
pub(super) fn frame(given: &Given<'_>) -> Vec<Block> {
    let project = &given.design;
    let whole = check_unsearched(project);
    let (Some(frame), Some(report)) = (&project.frame, &whole.frame) else {
        return Vec::new();
    };
    let rows = report.verdicts.iter().map(verdict_row);
    let mut out = vec![Block::Table(
        "Checks of the frame".into(),
        Table::of(&["check", "verdict", "why", "what would mend it"], rows.collect()),
    )];
    if let Some(base) = &report.base {
        out.push(Block::Table(
            format!("Drive base, {}", project.say(base.mass_kg, D::Mass)),
            base_table(project, frame, &[base]),
        ));
        out.push(Block::Figure(
            polar(project, std::iter::once(base)),
            "Speed and push of the base by direction.".into(),
        ));
    }
    if let Some((sheets, note)) = sheet_table(project, &whole) {
        out.push(Block::Table(
            "Guide sheet, materials by the same numbers".into(),
            sheets,
        ));
        out.push(Block::Text(format!("{note}.")));
    }
    let lines: Vec<String> = figures(project, &whole, report)
        .into_iter()
        .map(|(_, l)| format!("{l}."))
        .collect();
    if !lines.is_empty() {
        out.push(Block::List(lines));
    }
    if let Some(svg) = free_room(project) {
        out.push(Block::Figure(
            svg,
            "Listed parts, and what is free for later ones.".into(),
        ));
    }
    out
}

/// What a match pays and what to do next.
pub(super) fn season(given: &Given<'_>) -> Vec<Block> {
    let project = given.project();
    if project.season.is_none() {
        return Vec::new();
    }
    let plan = SeasonPlan {
        seed: 1,
        world_count: 200,
        ..SeasonPlan::default()
    };
    let result = match play(project, &plan, None, &mut |_| true) {
        Ok(Some(result)) => result,
        Ok(None) => return Vec::new(),
        Err(f) => return vec![Block::Text(format!("{}. {}.", f.what, f.fix))],
    };
    let a = &result.answer;
    let [low, middle, high] = a.now.tenths_count;
    let mut out = vec![Block::Text(format!(
        "A match from spot {}, as the machine is: {} points on average; {} on a bad day (one in ten is worse), {} on a middling one, {} on a good one.",
        result.ground.spot,
        points(a.now.mean_count),
        points(low),
        points(middle),
        points(high)
    ))];
    if let Some(o) = &result.opening {
        let rows = o.steps.iter().map(|s| {
            vec![
                format!("{:.2} s", s.start_s),
                s.state.to_string(),
                s.what.clone(),
                s.until.clone(),
            ]
        });
        out.push(Block::Table(
            "Opening routine".into(),
            Table::of(&["from", "state", "does", "until"], rows.collect()),
        ));
    }
    if !a.ranked.is_empty() {
        out.push(Block::Table(
            "What to do next, by points gained for each day of work".into(),
            ranking(project, &result),
        ));
        out.push(Block::Text(verdict(project, &result)));
    }
    out.push(Block::Figure(
        picture(&result),
        "Points, and what each change would gain.".into(),
    ));
    out
}

fn note_blocks(note: &Note) -> Vec<Block> {
    let mut out = vec![Block::Heading(if note.title.is_empty() {
        note.day.clone()
    } else {
        format!("{}: {}", note.day, note.title)
    })];
    out.extend(note.parts.iter().map(|part| match part {
        Part::Text(t) => Block::Text(t.clone()),
        Part::List(items) => Block::List(items.clone()),
        Part::Photo(p) => Block::Photo(p.clone()),
    }));
    out
}

/// What was decided, and what was weighed against it.
pub(super) fn decisions(given: &Given<'_>) -> Vec<Block> {
    let project = given.project();
    let mut out: Vec<Block> = given
        .notes
        .iter()
        .filter(|n| n.is_decision())
        .flat_map(note_blocks)
        .collect();
    let say = |v: f64, d| project.say(v, d);
    let arcs = given.aimed.report.aims.iter().filter_map(|a| {
        let s: &Solution = a.best()?;
        let entry = s
            .arrival
            .crossing
            .map_or("-".into(), |c| say(c.entry_rad, D::Angle));
        Some(vec![
            a.spot.name.clone(),
            format!(
                "{} arc, {} (enters {entry})",
                s.arc.word(),
                say(s.exit.angle_rad, D::Angle)
            ),
            s.companion.map_or("none at this speed".into(), |c| {
                format!(
                    "{} (enters {})",
                    say(c.angle_rad, D::Angle),
                    say(c.entry_rad, D::Angle)
                )
            }),
            a.solutions.len().saturating_sub(1).to_string(),
        ])
    });
    let arcs: Vec<Vec<String>> = arcs.collect();
    if !arcs.is_empty() {
        out.push(Block::Table(
            "Which arc: the one thrown, the other angle at the same exit speed, and further wheel speeds that would centre a throw at this setting".into(),
            Table::of(&["spot", "thrown", "other arc", "other speeds"], arcs),
        ));
    }
    if let Some(best) = &given.aimed.report.best {
        let words = project.setting_words(&best.setting);
        out.push(Block::Text(if best.serves() {
            format!("A setting that serves every spot, as `aim` found it: {words}.")
        } else {
            format!("The best setting within the knobs' travel, as `aim` found it: {words}; it does not serve every spot.")
        }));
    }
    if let (Some(frame), Some(all)) = (&given.design.frame, bases(&given.design))
        && all.len() > 1
    {
        out.push(Block::Table(
            "Which base: the one in the file first, then the others with as many motors".into(),
            base_table(&given.design, frame, &all.iter().collect::<Vec<_>>()),
        ));
    }
    if !given.notes.iter().any(Note::is_decision) {
        out.push(Block::Quiet(
            "No decision was written down. A note called like `2026-02-14 decision wide wheel.txt` in the folder `notes` comes here: what was decided, what else was possible, and why not."
                .into(),
        ));
    }
    out
}

/// The team's own notes and photos, by day.
pub(super) fn notes(given: &Given<'_>) -> Vec<Block> {
    given
        .notes
        .iter()
        .filter(|n| !n.is_decision() && !n.is_question())
        .flat_map(note_blocks)
        .collect()
}

/// What can hurt, and who governs.
pub(super) fn safety(given: &Given<'_>) -> Vec<Block> {
    vec![
        Block::Text(hazards(given.project(), &given.aimed.report)),
        Block::List(CAUTIONS.iter().chain(GUARDS).map(|c| (*c).to_string()).collect()),
        Block::Text(DEFERS.into()),
    ]
}

/// What the machine is made of: listed parts, turning parts, parts to cut.
pub(super) fn parts(given: &Given<'_>) -> Vec<Block> {
    let project = &given.design;
    let say = |v: f64, d| project.say(v, d);
    let m = &project.machine;
    let mut rows = vec![
        vec![
            "motor of the launcher".to_string(),
            m.drive.motor_count.to_string(),
        ],
        vec![
            "battery".to_string(),
            format!("1, {} at rest", say(m.battery.open_v, D::Voltage)),
        ],
    ];
    if let Some(f) = &project.frame {
        rows.push(vec!["motor of the drive base".into(), f.motor_count.to_string()]);
        rows.push(vec![
            "wheel of the drive base".into(),
            format!("{} across", say(f.wheel_m, D::Length)),
        ]);
    }
    let mut out = vec![Block::Table(
        "Motors and battery".into(),
        Table::of(&["part", "how many"], rows),
    )];
    let listed = project.frame.iter().flat_map(|f| &f.parts).map(|p| {
        let [a, b, c] = p.size_m.map(|v| say(v, D::Length));
        vec![
            p.name.clone(),
            say(p.mass_kg, D::Mass),
            format!("{a} x {b} x {c}"),
        ]
    });
    let listed: Vec<Vec<String>> = listed.collect();
    if !listed.is_empty() {
        out.push(Block::Table(
            "Parts as listed under [frame]".into(),
            Table::of(&["part", "mass", "size"], listed),
        ));
    }
    if let Ok(cut) = sheets(project, &given.aimed.report.chain.launcher) {
        let rows = cut.iter().map(|s| {
            let [low, high] = s.extent();
            let side = |i: usize| say((high[i] - low[i]) * 1e-3, D::Length);
            vec![
                s.name.to_string(),
                format!("{} x {}", side(0), side(1)),
                s.title.clone(),
            ]
        });
        out.push(Block::Table(
            "Parts to cut from sheet: `arcwright draw` writes them at full size".into(),
            Table::of(&["part", "size", "what"], rows.collect()),
        ));
    }
    out
}

/// What nobody knows yet.
pub(super) fn open(given: &Given<'_>) -> Vec<Block> {
    let project = given.project();
    let mut out: Vec<Block> = given
        .notes
        .iter()
        .filter(|n| n.is_question())
        .flat_map(note_blocks)
        .collect();
    let verdicts = given
        .aimed
        .report
        .verdicts
        .iter()
        .filter(|v| v.status != Status::Holds);
    let rows: Vec<Vec<String>> = verdicts.map(verdict_row).collect();
    if !rows.is_empty() {
        out.push(Block::Table(
            "Limits that do not hold with room to spare".into(),
            Table::of(&["limit", "verdict", "why", "what would mend it"], rows),
        ));
    }
    let assumed: Vec<String> = given
        .assumed
        .iter()
        .map(|p| format!("{}; {}.", p.finding.what, p.finding.fix))
        .collect();
    if !assumed.is_empty() {
        out.push(Block::Heading("Assumed, because the file does not say".into()));
        out.push(Block::List(assumed));
    }
    if let Some(learnt) = given.learnt() {
        let notes = learnt
            .fitted
            .diagnostics
            .iter()
            .map(|n| format!("{}; {}.", n.what, n.fix));
        let apart = learnt
            .fitted
            .apart
            .iter()
            .map(|a| format!("{}. To tell them apart: {}.", a.what, a.shots));
        let all: Vec<String> = notes.chain(apart).collect();
        if !all.is_empty() {
            out.push(Block::Heading("What the test shots leave open".into()));
            out.push(Block::List(all));
        }
    } else {
        out.push(Block::Text(format!(
            "Nobody has measured drag and lift of {}: no confident fit of test shots is there yet.",
            match project.piece.kind {
                PieceKind::Foam => "this foam ball",
                PieceKind::Hollow => "this hollow ball",
                PieceKind::Perforated => "this perforated ball",
                PieceKind::Solid => "this solid ball",
            }
        )));
    }
    out
}
