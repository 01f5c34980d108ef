//! A trade: what one knob does to several results, with the limits asked for.

use arcwright_model::project::UnitSystem;

use super::{Better, MOST_SHOWN, WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Rect, span, usable};
use crate::marks::{TEXT_PX, bold_width_px, heading, label_width_px, point};
use crate::place::{fitted, spread, wrapped};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::{Measure, Scale};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct TradePicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// What is varied, e.g. "inertia at the wheel".
    pub knob: String,
    /// What its values measure.
    pub knob_measure: Measure,
    /// Its values, SI, in any order.
    pub values: Vec<f64>,
    /// A text for each value, where the value with its unit would not do; may be shorter than `values`.
    pub labels: Vec<String>,
    /// The results, top to bottom.
    pub rows: Vec<TradeRow>,
    /// Value of the knob now, SI.
    pub present: Option<f64>,
    /// The recommended one of `values`, by index.
    pub recommended: Option<usize>,
    /// Why that one; wrapped under the picture.
    pub why: String,
}

/// One result.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeRow {
    /// What it is, e.g. "spin-up time".
    pub name: String,
    /// What its values measure.
    pub measure: Measure,
    /// One for each value of the knob, SI; not finite where there is none.
    pub values: Vec<f64>,
    /// The limit asked for, SI.
    pub asked: Option<f64>,
    /// Which way is better, and so which side of the limit is forbidden.
    pub better: Better,
}

const LEFT_PX: f64 = 64.0;
const RIGHT_PX: f64 = 20.0;
const MARGIN_PX: f64 = 16.0;
/// Heading and the labels of the two vertical lines.
const TOP_PX: f64 = 96.0;
const STRIP_PX: f64 = 84.0;
/// Name of a strip, above it.
const NAME_PX: f64 = 24.0;
const GAP_PX: f64 = 14.0;
const LINE_PX: f64 = 20.0;
/// Method: lines of the reason before it is cut.
const MOST_LINES: usize = 12;

/// Draws the picture.
pub fn draw(input: &TradePicture) -> String {
    let trade = Trade::of(input);
    let why = wrapped(&input.why, TEXT_PX, WIDTH_PX - 2.0 * MARGIN_PX, MOST_LINES);
    let step = NAME_PX + STRIP_PX + GAP_PX;
    let foot = TOP_PX + step * trade.rows.len().max(1) as f64 - GAP_PX;
    let height = foot + 58.0 + LINE_PX * why.len() as f64 + if why.is_empty() { 0.0 } else { 12.0 };
    let mut svg = Svg::new("trade", WIDTH_PX, height);
    let room = WIDTH_PX - 2.0 * MARGIN_PX;
    heading(
        &mut svg,
        &fitted(&input.title, 1.1 * 17.0, room),
        &second_line(input),
    );
    let strips: Vec<Strip> = trade
        .rows
        .iter()
        .enumerate()
        .map(|(i, (row, scale))| Strip {
            rect: Rect {
                x_px: LEFT_PX,
                y_px: TOP_PX + step * i as f64 + NAME_PX,
                width_px: WIDTH_PX - LEFT_PX - RIGHT_PX,
                height_px: STRIP_PX,
            },
            x: trade.x.clone(),
            y: y_axis(row, scale),
        })
        .collect();
    if strips.is_empty() {
        svg.text(
            "m",
            [MARGIN_PX, TOP_PX + 24.0],
            Anchor::Start,
            "no result to show",
        );
    }
    let last = strips.len().saturating_sub(1);
    let foot_title = fitted(
        &trade.knob.named(&input.knob),
        TEXT_PX,
        WIDTH_PX - LEFT_PX - RIGHT_PX,
    );
    for (i, (strip, (row, _))) in strips.iter().zip(&trade.rows).enumerate() {
        let limit = forbid(&mut svg, strip, row);
        strip.frame(&mut svg, "", (i == last).then_some(foot_title.as_str()));
        if let Some(y) = limit {
            svg.line("s c1 d1", [strip.rect.x_px, y], [strip.rect.right_px(), y]);
        }
    }
    trade.draw_marks(&mut svg, &strips);
    for (strip, (row, scale)) in strips.iter().zip(&trade.rows) {
        trade.draw_row(&mut svg, strip, row, scale);
    }
    for (i, line) in why.iter().enumerate() {
        let y = foot + 68.0 + LINE_PX * i as f64;
        svg.text("", [MARGIN_PX, y], Anchor::Start, line);
    }
    svg.finish(&input.title, &words(input))
}

/// The picture in words.
pub fn words(input: &TradePicture) -> String {
    let trade = Trade::of(input);
    let mut text = format!("{}: {}.", input.title.trim(), second_line(input));
    for mark in &trade.marks {
        text.push_str(&format!(" {}: {}.", upper(mark.word()), mark.text));
    }
    if input.rows.is_empty() {
        text.push_str(" There is no result to show.");
    }
    for (row, scale) in &trade.rows {
        let course = span(row.values.iter().copied());
        let range = course.map_or("no values".to_string(), |(low, high)| {
            format!("{} to {}", scale.value(low), scale.show(high))
        });
        let facts = trade.facts(row, scale);
        let facts = if facts.is_empty() {
            facts
        } else {
            format!("; {facts}")
        };
        text.push_str(&format!(" {}: {range}{facts}.", upper(&row.name)));
    }
    let why = input.why.trim();
    if !why.is_empty() {
        text.push_str(&format!(" {}", why.trim_end_matches('.')));
        text.push('.');
    }
    text
}

fn upper(text: &str) -> String {
    let mut chars = text.trim().chars();
    chars
        .next()
        .map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}

fn second_line(input: &TradePicture) -> String {
    let hidden = if input.rows.len() > MOST_SHOWN {
        format!(", the first {MOST_SHOWN} shown")
    } else {
        String::new()
    };
    format!(
        "what {} does to {}{hidden}; hatched: worse than asked",
        input.knob.trim(),
        counted(input.rows.len(), "result", "results")
    )
}

/// A value of the knob with a line of its own.
struct Mark {
    value: f64,
    /// The value as text.
    text: String,
    now: bool,
    recommended: bool,
}

impl Mark {
    fn word(&self) -> &'static str {
        match (self.now, self.recommended) {
            (true, true) => "now and recommended",
            (true, false) => "now",
            _ => "recommended",
        }
    }
}

/// The input made ready: what is shown, with its scales.
struct Trade<'a> {
    knob: Scale,
    x: Axis,
    /// Index of each value that can be drawn, in rising order of the value.
    order: Vec<(usize, f64)>,
    rows: Vec<(&'a TradeRow, Scale)>,
    marks: Vec<Mark>,
}

impl<'a> Trade<'a> {
    fn of(input: &'a TradePicture) -> Trade<'a> {
        let present = input.present.filter(|v| usable(*v));
        let all = input.values.iter().copied().chain(present);
        let knob = input.knob_measure.scale(input.units, all.clone());
        let (low, high) = span(all).unwrap_or((0.0, 1.0));
        let pad = 0.03 * (high - low);
        let mut order: Vec<(usize, f64)> = input.values.iter().copied().enumerate().collect();
        order.retain(|(_, v)| usable(*v));
        order.sort_by(|a, b| a.1.total_cmp(&b.1));
        let rows = input
            .rows
            .iter()
            .take(MOST_SHOWN)
            .map(|row| {
                let values = row.values.iter().copied().chain(row.asked);
                (row, row.measure.scale(input.units, values))
            })
            .collect();
        let named = |value: f64| {
            let index = input.values.iter().position(|v| *v == value);
            let label = index
                .and_then(|i| input.labels.get(i))
                .filter(|l| !l.trim().is_empty());
            label.cloned().unwrap_or_else(|| knob.show(value))
        };
        let recommended = input
            .recommended
            .and_then(|i| input.values.get(i).copied())
            .filter(|v| usable(*v));
        // One line when the recommendation is to leave it.
        let mut marks: Vec<Mark> = Vec::new();
        if let Some(value) = present {
            marks.push(Mark {
                value,
                text: named(value),
                now: true,
                recommended: recommended == present,
            });
        }
        if let Some(value) = recommended.filter(|v| Some(*v) != present) {
            marks.push(Mark {
                value,
                text: named(value),
                now: false,
                recommended: true,
            });
        }
        Trade {
            knob,
            x: Axis::new((low - pad, high + pad), (false, false), 8, &knob),
            order,
            rows,
            marks,
        }
    }

    /// The result at a value of the knob, straight between the neighbours.
    fn at(&self, row: &TradeRow, value: f64) -> Option<f64> {
        let of = |i: usize| row.values.get(i).copied().filter(|v| usable(*v));
        if let Some((i, _)) = self.order.iter().find(|(_, v)| *v == value) {
            return of(*i);
        }
        self.order.windows(2).find_map(|pair| match pair {
            [(i, a), (j, b)] if *a < value && value < *b => {
                let (from, to) = (of(*i)?, of(*j)?);
                Some(from + (to - from) * (value - a) / (b - a))
            }
            _ => None,
        })
    }

    /// "now 1.2, recommended 0.95, at most 1.5", in the unit of the scale.
    fn facts(&self, row: &TradeRow, scale: &Scale) -> String {
        let mut parts: Vec<String> = self
            .marks
            .iter()
            .filter_map(|m| Some(format!("{} {}", m.word(), scale.value(self.at(row, m.value)?))))
            .collect();
        if let Some(asked) = row.asked.filter(|v| usable(*v)) {
            let which = match row.better {
                Better::Lower => "at most",
                Better::Higher => "at least",
            };
            parts.push(format!("{which} {}", scale.value(asked)));
        }
        parts.join(", ")
    }

    /// Vertical lines through all strips, with their labels side by side at the top.
    fn draw_marks(&self, svg: &mut Svg, strips: &[Strip]) {
        let Some(first) = strips.first() else { return };
        let room = WIDTH_PX - 2.0 * MARGIN_PX;
        let mut marks: Vec<(&Mark, String)> = self
            .marks
            .iter()
            .map(|m| {
                (
                    m,
                    fitted(
                        &format!("{}: {}", m.word(), m.text),
                        1.1 * TEXT_PX,
                        0.5 * room - 10.0,
                    ),
                )
            })
            .collect();
        marks.sort_by(|a, b| a.0.value.total_cmp(&b.0.value));
        let wanted: Vec<f64> = marks.iter().map(|(m, _)| first.x_px(m.value)).collect();
        let sizes: Vec<f64> = marks.iter().map(|(_, t)| bold_width_px(t) + 14.0).collect();
        let places = spread(&wanted, &sizes, MARGIN_PX - 7.0, WIDTH_PX - MARGIN_PX + 7.0);
        for (((mark, text), x), centre) in marks.iter().zip(&wanted).zip(places) {
            // From the label past the name of the first strip, then through each strip.
            let (line, label) = if mark.recommended {
                ("s c0", "b f0")
            } else {
                ("k d2", "b")
            };
            let top = first.rect.y_px - NAME_PX;
            svg.polyline(
                line,
                &[
                    [centre, top - 10.0],
                    [*x, top - 2.0],
                    [*x, first.rect.bottom_px()],
                ],
            );
            for strip in strips.iter().skip(1) {
                svg.line(line, [*x, strip.rect.y_px], [*x, strip.rect.bottom_px()]);
            }
            svg.text(label, [centre, top - 15.0], Anchor::Middle, text);
        }
    }

    fn draw_row(&self, svg: &mut Svg, strip: &Strip, row: &TradeRow, scale: &Scale) {
        let r = strip.rect;
        let facts = self.facts(row, scale);
        let facts_px = label_width_px(&facts).min(0.6 * (r.width_px + LEFT_PX - MARGIN_PX));
        let name_px = WIDTH_PX - MARGIN_PX - RIGHT_PX - facts_px - 14.0;
        // The lines of the marks run through the first: a ground of paper under each text.
        let name = fitted(&scale.named(&row.name), 1.1 * TEXT_PX, name_px);
        svg.text("halo b", [MARGIN_PX, r.y_px - 7.0], Anchor::Start, &name);
        let facts = fitted(&facts, TEXT_PX, facts_px + 0.1);
        svg.text("halo m", [r.right_px(), r.y_px - 7.0], Anchor::End, &facts);
        let value = |i: usize| row.values.get(i).copied().unwrap_or(f64::NAN);
        let lines = strip.lines(self.order.iter().map(|(i, x)| [*x, value(*i)]));
        strip.curve(svg, "s c2", "f2", &lines);
        // A dot where it was worked out, as long as the dots stay apart.
        if self.order.len() <= 40 {
            for (i, x) in &self.order {
                let p = strip.px([*x, value(*i)]);
                if p.into_iter().all(usable) {
                    svg.circle("f2", p, 2.6);
                }
            }
        }
        for mark in &self.marks {
            if let Some(y) = self.at(row, mark.value) {
                let p = strip.px([mark.value, y]);
                let (shape, line) = if mark.recommended { (0, "c0") } else { (3, "k") };
                point(svg, shape, line, p, 5.0);
            }
        }
    }
}

/// Holds the values and the limit, with room around them.
fn y_axis(row: &TradeRow, scale: &Scale) -> Axis {
    let asked = row.asked.filter(|v| usable(*v));
    let (low, high) = span(row.values.iter().copied().chain(asked)).unwrap_or((0.0, 1.0));
    let pad = 0.14 * (high - low);
    Axis::new((low - pad, high + pad), (false, false), 5, scale)
}

/// Hatches the side of the limit that is worse than asked; gives the height of the limit.
fn forbid(svg: &mut Svg, strip: &Strip, row: &TradeRow) -> Option<f64> {
    let asked = row.asked.filter(|v| usable(*v))?;
    let (r, y) = (strip.rect, strip.y_px(asked));
    let edge = match row.better {
        Better::Lower => r.y_px,
        Better::Higher => r.bottom_px(),
    };
    let (left, right) = (r.x_px, r.right_px());
    svg.hatched(Hatch::Up, &[[left, y], [right, y], [right, edge], [left, edge]]);
    Some(y)
}
