//! What makes throws differ: for each suspect how much it may add, as a bar with its interval.

use arcwright_model::project::UnitSystem;
use arcwright_model::units::Dimension;

use super::WIDTH_PX;
use crate::axis::Axis;
use crate::geometry::{Rect, span, usable};
use crate::marks::{TEXT_PX, arrow_head, heading};
use crate::place::{fitted, text_width_px, wrapped};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::{Measure, Scale};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct WanderPicture {
    /// Units shown.
    pub units: UnitSystem,
    /// Angles sideways instead of shares of speed along.
    pub sideways: bool,
    /// What was looked at, below the title.
    pub says: String,
    /// The suspects, and what is left.
    pub rows: Vec<WanderRow>,
}

/// One suspect.
#[derive(Clone, Debug, PartialEq)]
pub struct WanderRow {
    /// Its name.
    pub name: String,
    /// Standard deviation that it adds.
    pub sd: f64,
    /// 95 % interval of that; empty where there is none.
    pub interval: Option<[f64; 2]>,
    /// What the log says of it.
    pub finding: WanderFinding,
}

/// What a log says of a suspect.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WanderFinding {
    /// It scatters the throws.
    Shown,
    /// It does not matter.
    Small,
    /// The log cannot tell.
    CannotTell,
    /// It is no suspect: what is left, or the reading.
    Rest,
}

impl WanderFinding {
    fn words(self) -> &'static str {
        match self {
            WanderFinding::Shown => "shown",
            WanderFinding::Small => "small",
            WanderFinding::CannotTell => "cannot tell",
            WanderFinding::Rest => "",
        }
    }
}

const LEFT_PX: f64 = 16.0;
const BARS_PX: f64 = 200.0;
const AXIS_PX: f64 = 290.0;
const TOP_PX: f64 = 88.0;
const ROW_PX: f64 = 32.0;
const BAR_PX: f64 = 12.0;
const TITLE: &str = "What makes the throws differ";
/// Method: the axis reaches no farther than so many times the largest bar.
const MOST_RATIO: f64 = 3.0;
/// Most suspects shown; there are seven.
const MOST_ROWS: usize = 12;

/// Draws the picture.
pub fn draw(input: &WanderPicture) -> String {
    let rows: Vec<&WanderRow> = input.rows.iter().take(MOST_ROWS).collect();
    let foot = TOP_PX + rows.len().max(1) as f64 * ROW_PX;
    let mut svg = Svg::new("wander", WIDTH_PX, foot + 92.0);
    heading(
        &mut svg,
        TITLE,
        &fitted(&input.says, TEXT_PX, WIDTH_PX - 2.0 * LEFT_PX),
    );
    let ends = rows.iter().flat_map(|r| r.interval.unwrap_or([r.sd; 2]));
    let widest = span(ends.map(f64::abs)).map_or(0.0, |(_, high)| high);
    // One interval that is wide open would leave no room to tell the bars apart.
    let largest = span(rows.iter().map(|r| r.sd.abs())).map_or(0.0, |(_, high)| high);
    let most = if largest > 0.0 {
        widest.min(MOST_RATIO * largest).max(largest)
    } else {
        widest
    };
    let scale = scale(input);
    let axis = Axis::new((0.0, most), (true, true), 5, &scale);
    let px = |v: f64| BARS_PX + AXIS_PX * axis.share(v).clamp(0.0, 1.0);
    for (v, text) in &axis.ticks {
        let x = px(*v);
        svg.line(if *v == 0.0 { "q" } else { "g" }, [x, TOP_PX - 6.0], [x, foot]);
        svg.text("m sm", [x, foot + 18.0], Anchor::Middle, text);
    }
    let unit = scale.named("standard deviation that it adds");
    svg.text("", [BARS_PX + AXIS_PX, foot + 40.0], Anchor::End, &unit);
    if rows.is_empty() {
        svg.text(
            "m",
            [LEFT_PX, TOP_PX + 14.0],
            Anchor::Start,
            "nothing was looked at",
        );
    }
    for (i, row) in rows.iter().enumerate() {
        draw_row(
            &mut svg,
            row,
            TOP_PX + i as f64 * ROW_PX,
            (&px, axis.high),
            &scale,
        );
    }
    legend(&mut svg, foot + 70.0);
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &WanderPicture) -> String {
    let scale = scale(input);
    let mut text = format!("{}: {}.", TITLE, input.says.trim().trim_end_matches('.'));
    if input.rows.is_empty() {
        text.push_str(" Nothing was looked at, so there is nothing to share out.");
    }
    for row in input.rows.iter().take(MOST_ROWS) {
        let between = row.interval.map_or(String::new(), |[low, high]| {
            format!(", between {} and {}", scale.show(low), scale.show(high))
        });
        let finding = match row.finding.words() {
            "" => String::new(),
            words => format!(" ({words})"),
        };
        text.push_str(&format!(
            " {}: {}{between}{finding}.",
            row.name,
            scale.show(row.sd)
        ));
    }
    text
}

fn scale(input: &WanderPicture) -> Scale {
    let dimension = if input.sideways {
        Dimension::Angle
    } else {
        Dimension::Ratio
    };
    let values = input.rows.iter().map(|r| r.sd);
    let scale = Measure::of(dimension).scale(input.units, values);
    Scale {
        decimals_count: scale.decimals_count.max(2),
        ..scale
    }
}

fn draw_row(svg: &mut Svg, row: &WanderRow, y: f64, (px, most): (&dyn Fn(f64) -> f64, f64), scale: &Scale) {
    let name_px = BARS_PX - LEFT_PX - 10.0;
    if text_width_px(&row.name, TEXT_PX) <= name_px {
        svg.text("", [LEFT_PX, y + 14.0], Anchor::Start, &row.name);
    } else {
        for (i, line) in wrapped(&row.name, 13.0, name_px, 2).iter().enumerate() {
            svg.text("sm", [LEFT_PX, y + 7.5 + 13.0 * i as f64], Anchor::Start, line);
        }
    }
    let end = if usable(row.sd) { px(row.sd) } else { BARS_PX };
    let (top, bottom) = (y + 3.0, y + 3.0 + BAR_PX);
    let corners = [[BARS_PX, top], [end, top], [end, bottom], [BARS_PX, bottom]];
    let bar = Rect {
        x_px: BARS_PX,
        y_px: top,
        width_px: end - BARS_PX,
        height_px: BAR_PX,
    };
    if end - BARS_PX > 0.3 {
        match row.finding {
            WanderFinding::Shown => svg.rect("f0", bar),
            WanderFinding::Rest => svg.rect("qf", bar),
            WanderFinding::Small | WanderFinding::CannotTell => {
                svg.hatched(Hatch::Up, &corners);
                svg.rect("s1 c0", bar);
            }
        }
    }
    let mut reach = end;
    let mut beyond = String::new();
    if let Some([low, high]) = row.interval.filter(|i| i.iter().all(|v| usable(*v))) {
        let (from, to) = (px(low), px(high));
        let middle = bottom + 5.0;
        svg.line("k", [from, middle], [to, middle]);
        svg.line("k", [from, middle - 3.0], [from, middle + 3.0]);
        if high > most {
            arrow_head(svg, "kf", [to + 6.0, middle], [1.0, 0.0], 8.0);
            beyond = format!(", to {}", scale.show(high));
        } else {
            svg.line("k", [to, middle - 3.0], [to, middle + 3.0]);
        }
        reach = reach.max(to);
    }
    let words = format!("{}{beyond}", row.finding.words());
    let x = (reach + 8.0).min(WIDTH_PX - LEFT_PX - text_width_px(&words, 13.0));
    if !words.is_empty() {
        svg.text("sm halo", [x, y + 14.0], Anchor::Start, &words);
    }
}

fn legend(svg: &mut Svg, y: f64) {
    let box_at = |x_px: f64| Rect {
        x_px,
        y_px: y,
        width_px: 22.0,
        height_px: BAR_PX,
    };
    svg.rect("f0", box_at(LEFT_PX));
    svg.text("m sm", [LEFT_PX + 28.0, y + 10.5], Anchor::Start, "shown");
    let r = box_at(LEFT_PX + 90.0);
    let (left, right, bottom) = (r.x_px, r.right_px(), r.bottom_px());
    svg.hatched(
        Hatch::Up,
        &[[left, y], [right, y], [right, bottom], [left, bottom]],
    );
    svg.rect("s1 c0", r);
    svg.text(
        "m sm",
        [right + 6.0, y + 10.5],
        Anchor::Start,
        "best guess, not shown",
    );
    let x = LEFT_PX + 290.0;
    svg.line("k", [x, y + 6.0], [x + 22.0, y + 6.0]);
    for end in [x, x + 22.0] {
        svg.line("k", [end, y + 3.0], [end, y + 9.0]);
    }
    svg.text(
        "m sm",
        [x + 28.0, y + 10.5],
        Anchor::Start,
        "true in 95 of 100 such logs",
    );
}
