//! Brief, design, verdicts, pictures, calculations.

use arcwright_model::limits::Status;
use arcwright_model::units::Dimension as D;
use serde_json::Value;

use super::{Block, Equation, Given, math};
use crate::project::written;
use crate::tasks::explain::{WORDS, Word, source};
use crate::tasks::tables::{self, Table, aim_head, aim_row, compared, nearest_brief, turned_by, verdict_row};
use crate::tasks::throw::{Plan, Thrown, throw};
use crate::tasks::{pictures as draw, quantities};

/// Tables of the brief.
const BRIEF: [&str; 4] = ["piece", "target", "spot[]", "limits"];
/// Tables that have a section of their own.
const ELSEWHERE: [&str; 4] = ["feed", "frame", "season", "order"];

fn text<'a>(row: &'a Value, key: &str) -> &'a str {
    row.get(key).and_then(Value::as_str).unwrap_or("")
}

/// Quantities of the tables that `wanted` names: one table each, and one for all places of a list.
fn listed(given: &Given<'_>, wanted: &dyn Fn(&str) -> bool) -> Vec<Block> {
    let all = quantities::quantities(&given.design);
    let there = written(given.text).unwrap_or_default();
    let mut out: Vec<(String, Table)> = Vec::new();
    for row in all.as_array().into_iter().flatten() {
        let (table, name) = (text(row, "table"), text(row, "name").replace('_', " "));
        if !wanted(table) {
            continue;
        }
        let index = row
            .get("index")
            .and_then(Value::as_u64)
            .and_then(|i| usize::try_from(i).ok());
        let spread = text(row, "sd_text");
        if let Some(i) = index {
            let value = match spread {
                "" => text(row, "text").to_string(),
                sd => format!("{} ± {sd}", text(row, "text")),
            };
            place(given, &mut out, table, &name, i, value);
            continue;
        }
        let caption = match table {
            "" => "The project".to_string(),
            t => format!("[{t}]"),
        };
        let cells = vec![
            name,
            text(row, "text").to_string(),
            spread.to_string(),
            if there.contains_key(text(row, "key")) {
                "file"
            } else {
                "assumed"
            }
            .to_string(),
            text(row, "about").to_string(),
        ];
        match out.iter_mut().find(|(c, _)| *c == caption) {
            Some((_, t)) => t.rows.push(cells),
            None => out.push((
                caption,
                Table::of(&["quantity", "value", "sd", "from", "what it is"], vec![cells]),
            )),
        }
    }
    out.into_iter().map(|(c, t)| Block::Table(c, t)).collect()
}

/// A value of a list into the table of that list: a row for each place, a column for each quantity.
fn place(
    given: &Given<'_>,
    out: &mut Vec<(String, Table)>,
    table: &str,
    name: &str,
    index: usize,
    value: String,
) {
    let caption = match table {
        "spot[]" => "Spots".to_string(),
        t => format!("[[{}]]", t.trim_end_matches("[]")),
    };
    let at = out.iter().position(|(c, _)| *c == caption).unwrap_or_else(|| {
        out.push((caption, Table::of(&[""], Vec::new())));
        out.len() - 1
    });
    let Some((_, t)) = out.get_mut(at) else { return };
    let column = t.head.iter().position(|h| h == name).unwrap_or_else(|| {
        t.head.push(name.to_string());
        t.head.len() - 1
    });
    while t.rows.len() <= index {
        let number = t.rows.len();
        let spot = given.design.spots.get(number).filter(|_| table == "spot[]");
        t.rows
            .push(vec![spot.map_or((number + 1).to_string(), |s| s.name.clone())]);
    }
    let wide = t.head.len();
    for row in &mut t.rows {
        row.resize(wide, "-".into());
    }
    if let Some(cell) = t.rows.get_mut(index).and_then(|r| r.get_mut(column)) {
        *cell = value;
    }
}

/// What is asked.
pub(super) fn brief(given: &Given<'_>) -> Vec<Block> {
    let mut out = vec![Block::Text(given.design.brief_words())];
    out.extend(listed(given, &|t| BRIEF.contains(&t)));
    out
}

/// What was chosen, with the setpoints and the scatter that come of it.
pub(super) fn design(given: &Given<'_>) -> Vec<Block> {
    let project = given.project();
    let aimed = &given.aimed;
    let rows = aimed
        .report
        .aims
        .iter()
        .enumerate()
        .map(|(i, a)| aim_row(project, a, Some(&a.spot.name), compared(aimed, |b| &b.spots, i)));
    let mut out = vec![Block::Table(
        format!("Setpoints at {}", project.setting_words(&project.machine.setting)),
        Table::of(&aim_head(project, aimed), rows.collect()),
    )];
    if let Some(learned) = &given.standing.learned {
        let turned = turned_by(project, learned.turned_rad);
        if !turned.is_empty() {
            out.push(Block::Text(turned));
        }
    }
    if let Some(spots) = &given.scatter {
        out.push(Block::Table(
            "Scatter of a volley's throws, each spot at the setpoint that centres them".into(),
            tables::scatter(project, spots),
        ));
        out.push(Block::Quiet(
            "hit: share of throws that go in without touching the rim, once the setpoint is right. sd: two of three throws cross within it. \
             R50, R95: half of all throws, and 95 of 100, cross within it. These setpoints centre a whole volley; those for one throw differ a \
             little, since the wheel is not quite at its speed when a volley's next piece comes."
                .into(),
        ));
    }
    if let Some(run) = &given.volley {
        out.push(Block::Table(
            format!(
                "Volley of {} from {} at {}",
                run.plan.throw_count,
                run.spot,
                project.say(run.plan.setpoint_radps, D::AngularSpeed)
            ),
            tables::volley(project, run),
        ));
    }
    out.push(Block::Heading("Every dimension of the machine".into()));
    out.extend(listed(given, &|t| {
        let first = t.split(['.', '[']).next().unwrap_or("");
        !BRIEF.contains(&t) && !ELSEWHERE.contains(&first)
    }));
    out
}

/// Every verdict, worst first.
pub(super) fn verdicts(given: &Given<'_>) -> Vec<Block> {
    let report = &given.aimed.report;
    let count = |s: Status| report.verdicts.iter().filter(|v| v.status == s).count();
    let mut order: Vec<_> = report.verdicts.iter().collect();
    order.sort_by_key(|v| std::cmp::Reverse(v.status));
    let rows = order.iter().map(|v| verdict_row(v));
    let mut out = vec![
        Block::Text(format!(
            "{} hold, {} tight, {} fail, {} unknown.",
            count(Status::Holds),
            count(Status::Tight),
            count(Status::Fails),
            count(Status::Unknown)
        )),
        Block::Table(
            "Limits of the brief, worst first".into(),
            Table::of(&["limit", "verdict", "why", "what would mend it"], rows.collect()),
        ),
    ];
    let nearest = nearest_brief(given.project(), report);
    if !nearest.is_empty() {
        let rows = nearest
            .into_iter()
            .map(|r| r.into_iter().filter(|c| c != "=").collect());
        out.push(Block::Table(
            "Nearest brief that this machine meets, if the machine is not changed".into(),
            Table::of(&["key", "value"], rows.collect()),
        ));
    }
    out
}

/// The throw that the worked examples show: from the last spot that has a setpoint.
fn example(given: &Given<'_>) -> Option<Thrown> {
    let aim = given
        .aimed
        .report
        .aims
        .iter()
        .rev()
        .find(|a| a.best().is_some())?;
    let best = aim.best()?;
    let plan = Plan {
        spot: Some(aim.spot.name.clone()),
        wheel_radps: Some(best.wheel_radps),
        standing_radps: best.moved.and_then(|m| m.standing_radps),
        ..Plan::default()
    };
    throw(given.project(), &plan).ok()
}

/// The pictures.
pub(super) fn pictures(given: &Given<'_>) -> Vec<Block> {
    let (project, report) = (given.project(), &given.aimed.report);
    let design = given.standing.learned.as_ref().map(|l| &l.design);
    let mut out = Vec::new();
    let mut add = |svg: Option<String>, caption: &str| {
        out.extend(svg.map(|s| Block::Figure(s, caption.to_string())));
    };
    let thrown = example(given);
    add(
        Some(draw::fan(project, report)),
        "Flights from every spot over the target.",
    );
    add(
        Some(draw::setpoints(project, report, design)),
        "Wheel speed against distance.",
    );
    if let Some(t) = &thrown {
        let from = format!("A throw from {}: ", t.stance_name);
        add(
            Some(draw::side(project, t)),
            &format!("{from}the launcher to scale with the piece passing through."),
        );
        add(
            Some(draw::force(project, t)),
            &format!("{from}force and slip along the guide."),
        );
    }
    add(draw::plan(project, report), "A throw on the move from above.");
    if let Some(run) = &given.volley {
        add(
            Some(draw::volley(project, run)),
            "Wheel speed, voltage and current through a volley.",
        );
    }
    if let Some(spots) = &given.scatter {
        add(
            Some(draw::scatter(project, spots)),
            "Where throws cross the opening.",
        );
        add(
            Some(draw::budget(project, spots)),
            "Which cause makes how much of the scatter.",
        );
    }
    add(
        draw::bite(project),
        "How deep the wheel drops into holes or seam.",
    );
    out
}

/// An equation of the glossary.
fn equation(w: &Word) -> Block {
    let (_, legend) = math::parts(w.equation);
    Block::Equation(Equation {
        markup: math::mathml(w.equation),
        legend: math::greek(legend),
        sources: w.sources.iter().filter_map(|key| source(key)).collect(),
    })
}

/// The equations behind the numbers, each with what it gives here.
pub(super) fn calculations(given: &Given<'_>) -> Vec<Block> {
    let (project, report) = (given.project(), &given.aimed.report);
    let say = |v: f64, d| project.say(v, d);
    let chain = &report.chain;
    let thrown = example(given);
    let mut out = vec![Block::Text(
        "The program computes the whole chain from squeeze to rim by simulation; these are the laws it is made of, with what they give for this \
         machine. Where a number rests on the shots of the practice floor, it is the learned one."
            .into(),
    )];
    if let Some(t) = &thrown {
        out.push(Block::Text(format!(
            "Worked for a throw from {} at {}.",
            t.stance_name,
            say(t.wheel_radps, D::AngularSpeed)
        )));
    }
    let here = |name: &str| -> Vec<[String; 2]> {
        let pair = |a: &str, b: String| [a.to_string(), b];
        let of = |f: &dyn Fn(&Thrown) -> Vec<[String; 2]>| thrown.as_ref().map_or(Vec::new(), f);
        match name {
            "squeeze" => vec![pair("squeeze", say(project.squeeze_m(), D::Length))],
            "rolling" => of(&|t| {
                vec![
                    pair("wheel speed", say(t.wheel_radps, D::AngularSpeed)),
                    pair("exit speed, simulated", say(t.exit.speed_mps, D::Speed)),
                    pair("backspin, simulated", say(t.exit.spin_radps, D::AngularSpeed)),
                ]
            }),
            "contact force" => of(&|t| {
                vec![
                    pair(
                        "greatest force on the guide",
                        say(t.release.peak_guide_n, D::Force),
                    ),
                    pair("contact lasts", say(t.release.contact_s, D::Time)),
                ]
            }),
            "drag" | "lift" => of(&|t| {
                vec![
                    pair("speed at the exit", say(t.exit.speed_mps, D::Speed)),
                    pair("air density", say(t.medium.density_kgpm3, D::Density)),
                ]
            }),
            "dip" => given.volley.as_ref().map_or(Vec::new(), |run| {
                let deepest = run.train.throws.iter().map(|t| t.dip_frac).fold(0.0, f64::max);
                vec![pair("deepest dip of a volley", say(deepest, D::Ratio))]
            }),
            "inertia" => vec![pair(
                "everything that turns, at the wheel",
                say(chain.train.inertia_kgm2, D::Inertia),
            )],
            "stored energy" => vec![pair("at top speed", say(report.hazards.stored_j, D::Energy))],
            "motor line" => vec![pair("top wheel speed", say(chain.top_radps, D::AngularSpeed))],
            "sag" => given.volley.as_ref().map_or(Vec::new(), |run| {
                vec![
                    pair("peak current", say(run.train.peak_battery_a, D::Current)),
                    pair("lowest voltage", say(run.train.lowest_battery_v, D::Voltage)),
                ]
            }),
            _ => Vec::new(),
        }
    };
    for w in WORDS.iter().filter(|w| !w.equation.is_empty()) {
        let name = w.name;
        let mut one = vec![
            Block::Heading(capital(name)),
            Block::Text(w.says.to_string()),
            equation(w),
        ];
        let rows = here(name);
        if !rows.is_empty() {
            one.push(Block::Pairs(rows));
        }
        out.push(Block::Together(one));
    }
    out
}

/// With a large first letter.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    first + letters.as_str()
}
