//! Where throws cross the opening: the cloud, its ellipses, and the hit chance, for each spot.

mod plan;

use arcwright_model::project::UnitSystem;
use arcwright_model::target::{Outcome, Outline};

use self::plan::{Plan, symbol};
use super::{MOST_SHOWN, WIDTH_PX, chance, counted};
use crate::geometry::{Rect, usable};
use crate::marks::{TEXT_PX, heading, label_width_px};
use crate::place::{fitted, in_rows, text_width_px, wrapped};
use crate::style::CLOUD;
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
///
/// Places are in the target's frame: `along` from the near to the far rim (up, for an upright
/// opening), `across` to the left of the thrower, both from the centre of the opening.
#[derive(Clone, Debug, PartialEq)]
pub struct ScatterPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The opening.
    pub opening: Opening,
    /// Diameter of the piece.
    pub piece_diameter_m: f64,
    /// One for each spot.
    pub panels: Vec<ScatterPanel>,
}

/// The opening in its own plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Opening {
    /// Its outline.
    pub outline: Outline,
    /// Size across.
    pub width_m: f64,
    /// Size along.
    pub depth_m: f64,
    /// An upright opening is seen from the thrower, any other from above.
    pub upright: bool,
    /// There is a wall behind the far rim.
    pub back_wall: bool,
}

/// The throws from one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct ScatterPanel {
    /// The spot.
    pub name: String,
    /// The simulated throws.
    pub crossings: Vec<ScatterCrossing>,
    /// Mean of along and across.
    pub mean_m: [f64; 2],
    /// Standard deviation of along and across.
    pub sd_m: [f64; 2],
    /// Correlation of along with across.
    pub correlation_coeff: f64,
    /// Half of the crossings lie within this distance of their mean.
    pub r50_m: f64,
    /// 95 % of the crossings lie within this distance of their mean.
    pub r95_m: f64,
    /// Hit chance.
    pub hit: HitChance,
    /// Share of each fate.
    pub fates: Vec<(Outcome, f64)>,
    /// Hit chance when what has not been tested on the floor counts as well.
    pub hit_untested_frac: Option<f64>,
    /// Test shots have spoken: what counts as well is what they left open.
    pub after_shots: bool,
}

/// One throw that reached the plane of the opening; not finite where it never did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScatterCrossing {
    /// Along, from the centre.
    pub along_m: f64,
    /// Across, to the left of the thrower, from the centre.
    pub across_m: f64,
    /// What became of it.
    pub fate: Outcome,
}

/// A chance and the interval it lies in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HitChance {
    /// Best estimate.
    pub frac: f64,
    /// Lower end of its interval.
    pub low_frac: f64,
    /// Upper end of its interval.
    pub high_frac: f64,
}

const LEFT_PX: f64 = 16.0;
const GAP_PX: f64 = 24.0;
const CELL_PX: f64 = 0.5 * (WIDTH_PX - 2.0 * LEFT_PX - GAP_PX);
const TOP_PX: f64 = 66.0;
const LINE_PX: f64 = 19.0;
/// Size of the hit chance, as in [`CLOUD`].
const LARGE_PX: f64 = 28.0;
/// Fates in the order of the legend.
const FATES: [Outcome; 8] = [
    Outcome::In,
    Outcome::Rim,
    Outcome::Short,
    Outcome::Long,
    Outcome::Left,
    Outcome::Right,
    Outcome::Under,
    Outcome::None,
];

/// Draws the picture.
pub fn draw(input: &ScatterPicture) -> String {
    let units = Units::of(input.units);
    let shown: Vec<&ScatterPanel> = input.panels.iter().take(MOST_SHOWN).collect();
    let plan = Plan::of(input, &shown, CELL_PX);
    let texts: Vec<Texts> = shown.iter().map(|p| Texts::of(p, &units)).collect();
    let cells: Vec<(&ScatterPanel, &Texts)> = shown.iter().copied().zip(&texts).collect();
    // A panel alone in its row has its text beside it, two have theirs below.
    let heights: Vec<f64> = cells
        .chunks(2)
        .map(|row| match row {
            [(_, only)] => plan.height_px.max(only.height_px()),
            _ => row.iter().map(|(_, t)| t.height_px()).fold(0.0, f64::max) + plan.height_px + 10.0,
        })
        .map(|h| h + GAP_PX)
        .collect();
    let legend = legend_items(input, &shown, &plan);
    let widths: Vec<f64> = legend
        .iter()
        .map(|(_, text)| SYMBOL_PX + label_width_px(text))
        .collect();
    let places = in_rows(&widths, 18.0, WIDTH_PX - 2.0 * LEFT_PX);
    let foot = TOP_PX + heights.iter().sum::<f64>() + if cells.is_empty() { 48.0 } else { 0.0 };
    let rows = places.last().map_or(0, |p| p.1 + 1) as f64;
    let mut svg = Svg::new("scatter", WIDTH_PX, foot + rows * 22.0 + 12.0).with_rules(CLOUD);
    heading(
        &mut svg,
        &fitted(&input.title, 1.1 * 17.0, WIDTH_PX - 2.0 * LEFT_PX),
        &second_line(input, &units),
    );
    if cells.is_empty() {
        svg.text("m", [LEFT_PX, TOP_PX + 24.0], Anchor::Start, "no throws to show");
    }
    let mut y_px = TOP_PX;
    for (row, height) in cells.chunks(2).zip(&heights) {
        for (i, (panel, texts)) in row.iter().enumerate() {
            let x_px = LEFT_PX + i as f64 * (CELL_PX + GAP_PX);
            let window = Rect {
                x_px,
                y_px,
                width_px: CELL_PX,
                height_px: plan.height_px,
            };
            plan.draw(&mut svg, window, input, panel);
            let at = match row.len() {
                1 => [x_px + CELL_PX + GAP_PX, y_px],
                _ => [x_px, window.bottom_px() + 10.0],
            };
            texts.draw(&mut svg, at);
        }
        y_px += height;
    }
    for ((item, text), (x, row)) in legend.iter().zip(&places) {
        let at = [LEFT_PX + x, foot + *row as f64 * 22.0 + 8.0];
        draw_item(&mut svg, *item, at);
        svg.text("m", [at[0] + SYMBOL_PX - 6.0, at[1] + 5.0], Anchor::Start, text);
    }
    svg.finish(&input.title, &words(input))
}

/// The picture in words.
pub fn words(input: &ScatterPicture) -> String {
    let units = Units::of(input.units);
    let mut text = format!("{}: {}.", input.title.trim(), second_line(input, &units));
    if input.panels.is_empty() {
        text.push_str(" No spot was thrown from, so there is no scatter to show.");
    }
    for panel in input.panels.iter().take(MOST_SHOWN) {
        let t = Texts::of(panel, &units);
        text.push_str(&format!(
            " {}: hit chance {} ({}). {}.",
            panel.name,
            t.hit,
            t.interval,
            t.facts.join(". ")
        ));
    }
    text
}

fn second_line(input: &ScatterPicture, units: &Units) -> String {
    let o = &input.opening;
    let view = if o.upright {
        "seen from the thrower"
    } else {
        "from above, thrower below"
    };
    let hidden = if input.panels.len() > MOST_SHOWN {
        format!(", {MOST_SHOWN} shown")
    } else {
        String::new()
    };
    let size = |m: f64| units.length.value(m);
    let shape = match o.outline {
        Outline::Rectangle => "opening",
        Outline::Round => "round opening",
    };
    format!(
        "{}{hidden}; {shape} {} × {}, piece {}; {view}",
        counted(input.panels.len(), "spot", "spots"),
        size(o.width_m),
        units.length.show(o.depth_m),
        units.length.show(input.piece_diameter_m)
    )
}

/// What stands beside the plan of a panel.
struct Texts {
    name: String,
    hit: String,
    interval: String,
    facts: Vec<String>,
}

impl Texts {
    fn of(panel: &ScatterPanel, units: &Units) -> Texts {
        let chance = |frac: f64| chance(frac, &units.share);
        let mut facts: Vec<String> = misses(panel, units).into_iter().collect();
        if let Some(frac) = panel.hit_untested_frac.filter(|v| usable(*v)) {
            let what = if panel.after_shots {
                "what the shots left open"
            } else {
                "what is untested"
            };
            facts.push(format!("{} with {what} counted in", chance(frac)));
        }
        if usable(panel.r50_m) && usable(panel.r95_m) {
            facts.push(format!(
                "Half within {} of the mean, 95\u{a0}%\u{a0}within\u{a0}{}",
                units.length.show(panel.r50_m),
                units.length.show(panel.r95_m)
            ));
        }
        let [along_m, across_m] = panel.sd_m;
        if usable(along_m) && usable(across_m) {
            facts.push(format!(
                "Along ±{}, across ±{}",
                units.length.show(along_m),
                units.length.show(across_m)
            ));
        }
        facts.extend(thrown(panel));
        Texts {
            name: panel.name.clone(),
            hit: chance(panel.hit.frac),
            interval: format!(
                "{} to {}",
                chance(panel.hit.low_frac).trim_end_matches("\u{a0}%"),
                chance(panel.hit.high_frac)
            ),
            facts,
        }
    }

    fn lines(&self) -> Vec<String> {
        self.facts
            .iter()
            .flat_map(|f| wrapped(f, TEXT_PX, CELL_PX, 3))
            .collect()
    }

    fn height_px(&self) -> f64 {
        62.0 + LINE_PX * self.lines().len() as f64
    }

    fn draw(&self, svg: &mut Svg, at: [f64; 2]) {
        let [x, y] = at;
        svg.text(
            "b",
            [x, y + 13.0],
            Anchor::Start,
            &fitted(&self.name, 1.1 * TEXT_PX, CELL_PX),
        );
        svg.text("xl", [x, y + 46.0], Anchor::Start, &self.hit);
        let after = x + 1.05 * text_width_px(&self.hit, LARGE_PX) + 8.0;
        svg.text("m", [after, y + 33.0], Anchor::Start, "hit chance");
        svg.text("m", [after, y + 50.0], Anchor::Start, &self.interval);
        for (i, line) in self.lines().iter().enumerate() {
            svg.text("", [x, y + 72.0 + LINE_PX * i as f64], Anchor::Start, line);
        }
    }
}

/// "Misses: 1.2 % short, 0.4 % rim", the largest first.
fn misses(panel: &ScatterPanel, units: &Units) -> Option<String> {
    let mut missed: Vec<(Outcome, f64)> = panel
        .fates
        .iter()
        .copied()
        .filter(|(fate, frac)| *fate != Outcome::In && *frac > 0.0)
        .collect();
    missed.sort_by(|a, b| b.1.total_cmp(&a.1));
    let parts: Vec<String> = missed
        .iter()
        .take(FATES.len())
        .map(|(fate, frac)| {
            let word = match fate {
                Outcome::None => "never\u{a0}arrive",
                other => other.word(),
            };
            format!(
                "{}\u{a0}{word}",
                chance(*frac, &units.share).replace(' ', "\u{a0}")
            )
        })
        .collect();
    match parts.as_slice() {
        [] => (!panel.fates.is_empty()).then(|| "No misses".to_string()),
        parts => Some(format!("Misses: {}", parts.join(", "))),
    }
}

/// How many throws there are, and how many of them the plan does not show one by one.
fn thrown(panel: &ScatterPanel) -> Option<String> {
    let all = panel.crossings.len();
    let placed = panel.crossings.iter().filter(|c| plan::placed(c)).count();
    let mut parts = Vec::new();
    if placed > plan::MOST_DRAWN {
        parts.push(format!("{} drawn", plan::MOST_DRAWN));
    }
    if placed < all {
        parts.push(format!("{} never\u{a0}cross", all - placed));
    }
    let count = counted(all, "throw", "throws");
    (all > 0).then(|| match parts.as_slice() {
        [] => count,
        parts => format!("{count} ({})", parts.join(", ")),
    })
}

/// Width of a symbol of the legend with the room behind it.
const SYMBOL_PX: f64 = 34.0;

/// What the legend explains.
#[derive(Clone, Copy)]
enum Item {
    Fate(Outcome),
    Rim,
    Inside,
    Half,
    Most,
    Mean,
    Beyond,
}

fn legend_items(input: &ScatterPicture, shown: &[&ScatterPanel], plan: &Plan) -> Vec<(Item, String)> {
    let seen: Vec<([bool; 8], bool)> = shown.iter().map(|p| plan.shows(p)).collect();
    let marked = |i: usize| seen.iter().any(|(marks, _)| marks.get(i) == Some(&true));
    let mut items: Vec<(Item, String)> = Vec::new();
    if plan::drawable(&input.opening) {
        items.push((Item::Rim, "rim".to_string()));
    }
    if plan::inside_m(input).is_some() {
        let text = "centre inside: clears the rim";
        items.push((Item::Inside, text.to_string()));
    }
    for (_, fate) in FATES.into_iter().enumerate().filter(|(i, _)| marked(*i)) {
        let text = match fate {
            Outcome::None => "never arrives",
            Outcome::Rim => "touches the rim",
            other => other.word(),
        };
        items.push((Item::Fate(fate), text.to_string()));
    }
    if shown.iter().any(|p| plan::has_ellipse(p)) {
        items.push((Item::Half, "half of the throws".to_string()));
        items.push((Item::Most, "95\u{a0}% of the throws".to_string()));
    }
    if shown.iter().any(|p| p.mean_m.into_iter().all(usable)) {
        items.push((Item::Mean, "mean".to_string()));
    }
    if seen.iter().any(|(_, beyond)| *beyond) {
        items.push((Item::Beyond, "number beyond the edge".to_string()));
    }
    items
}

fn draw_item(svg: &mut Svg, item: Item, at: [f64; 2]) {
    let [x, y] = at;
    let (from, to, middle) = ([x, y], [x + 22.0, y], [x + 14.0, y]);
    match item {
        Item::Fate(Outcome::In) => {
            let around = [[-7.0, 2.0], [0.0, -3.0], [5.0, 3.0]].map(|d| [middle[0] + d[0], y + d[1]]);
            symbol(svg, Outcome::In, &around);
        }
        Item::Fate(fate) => symbol(svg, fate, &[middle]),
        Item::Rim => svg.line("kb", from, to),
        Item::Inside => svg.line("k qd", from, to),
        Item::Half => svg.line(plan::HALF, from, to),
        Item::Most => svg.line(plan::MOST, from, to),
        Item::Mean => plan::cross(svg, middle),
        Item::Beyond => plan::beyond_mark(svg, middle, [0.0, -1.0]),
    }
}
