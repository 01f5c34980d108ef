//! Two goals against each other: every design tried, and those that no other beats in both.

use arcwright_model::project::UnitSystem;

use super::{Better, MOST_SHOWN, WIDTH_PX, counted};
use crate::axis::{Axis, Strip};
use crate::geometry::{Point, Rect, distance, span, thinned, usable_point};
use crate::marks::{TEXT_PX, bold_width_px, heading, label_width_px, point};
use crate::place::{Placer, fitted, in_rows, wrapped};
use crate::style::CLOUD;
use crate::svg::{Anchor, Path, Svg};
use crate::units::{Measure, Scale};

/// What the picture shows. All values are SI.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The goal along the foot.
    pub x: Goal,
    /// The goal up the side.
    pub y: Goal,
    /// Every design tried.
    pub tried: Vec<[f64; 2]>,
    /// Those that no other beats in both goals, in any order.
    pub front: Vec<FrontPoint>,
    /// The design as it is now.
    pub present: Option<[f64; 2]>,
    /// The chosen one of `front`, by index.
    pub chosen: Option<usize>,
}

/// One of the two goals.
#[derive(Clone, Debug, PartialEq)]
pub struct Goal {
    /// What it is, e.g. "volley time".
    pub name: String,
    /// What its values measure.
    pub measure: Measure,
    /// Which way is better.
    pub better: Better,
}

/// A design on the front.
#[derive(Clone, Debug, PartialEq)]
pub struct FrontPoint {
    /// Its two results.
    pub at: [f64; 2],
    /// What it is, e.g. "96 mm gap, 2.4 kg cm² flywheel".
    pub label: String,
}

const LEFT_PX: f64 = 72.0;
const MARGIN_PX: f64 = 16.0;
const TOP_PX: f64 = 92.0;
const PLOT_PX: f64 = 330.0;
const ROW_PX: f64 = 22.0;
/// Method: most dots of designs tried; more would only blacken the paper.
const MOST_TRIED: usize = 1500;

/// Draws the picture.
pub fn draw(input: &FrontPicture) -> String {
    let front = Front::of(input);
    let table = TOP_PX + PLOT_PX + 78.0;
    let rows = front.numbered.len();
    let more = usize::from(front.points.len() > rows);
    let lines = if rows > 0 { rows + 1 + more } else { 0 };
    let height = table + lines as f64 * ROW_PX + 4.0;
    let mut svg = Svg::new("front", WIDTH_PX, height).with_rules(CLOUD);
    heading(
        &mut svg,
        &fitted(&input.title, 1.1 * 17.0, WIDTH_PX - 2.0 * MARGIN_PX),
        &front.second_line(),
    );
    front.draw_legend(&mut svg);
    let strip = Strip {
        rect: Rect {
            x_px: LEFT_PX,
            y_px: TOP_PX,
            width_px: WIDTH_PX - LEFT_PX - MARGIN_PX,
            height_px: PLOT_PX,
        },
        x: Axis::new(front.range[0], (false, false), 7, &front.scales[0]),
        y: Axis::new(front.range[1], (false, false), 6, &front.scales[1]),
    };
    let [x_title, y_title] = front.titles();
    strip.frame(
        &mut svg,
        &fitted(&y_title, TEXT_PX, PLOT_PX + 60.0),
        Some(&fitted(&x_title, TEXT_PX, strip.rect.width_px)),
    );
    front.draw_plot(&mut svg, &strip);
    front.draw_table(&mut svg, table);
    svg.finish(&input.title, &words(input))
}

/// The picture in words.
pub fn words(input: &FrontPicture) -> String {
    let front = Front::of(input);
    let [x, y] = front.titles();
    let mut text = format!(
        "{}: {} against {}. {}.",
        input.title.trim(),
        y,
        x,
        front.second_line()
    );
    for (i, (index, p)) in front.numbered.iter().enumerate() {
        let [a, b] = front.shown(p.at);
        let chosen = if input.chosen == Some(*index) {
            ", chosen"
        } else {
            ""
        };
        text.push_str(&format!(" {}: {}, {a} and {b}{chosen}.", i + 1, p.label.trim()));
    }
    let hidden = front.points.len() - front.numbered.len();
    if hidden > 0 {
        text.push_str(&format!(" {hidden} more on the front are not numbered."));
    }
    if let Some(at) = front.present {
        let [a, b] = front.shown(at);
        text.push_str(&format!(" The present design: {a} and {b}."));
    }
    text
}

/// The input made ready: what is shown, with its scales.
struct Front<'a> {
    input: &'a FrontPicture,
    scales: [Scale; 2],
    range: [(f64, f64); 2],
    /// Points of the front that can be drawn with their index, from left to right.
    points: Vec<(usize, &'a FrontPoint)>,
    /// Those with a number and a line in the table: evenly along the front, its ends and the chosen
    /// one among them.
    numbered: Vec<(usize, &'a FrontPoint)>,
    present: Option<Point>,
    /// Designs that can be drawn, and how many of them lie outside the frame.
    tried: Vec<Point>,
    outside_count: usize,
}

impl<'a> Front<'a> {
    fn of(input: &'a FrontPicture) -> Front<'a> {
        let mut points: Vec<(usize, &FrontPoint)> = input
            .front
            .iter()
            .enumerate()
            .filter(|(_, p)| usable_point(&p.at))
            .collect();
        points.sort_by(|a, b| a.1.at[0].total_cmp(&b.1.at[0]));
        let present = input.present.filter(usable_point);
        let tried: Vec<Point> = input.tried.iter().copied().filter(usable_point).collect();
        let range = [0, 1].map(|i| {
            let of = |p: &Point| p.get(i).copied().unwrap_or(f64::NAN);
            let seen = points
                .iter()
                .map(|(_, p)| of(&p.at))
                .chain(present.as_ref().map(of));
            let all = span(tried.iter().map(of).chain(seen.clone())).unwrap_or((0.0, 1.0));
            // The front fills the frame; bad tries far off must not squeeze it.
            let (low, high) = span(seen).unwrap_or(all);
            let size = high - low;
            let (low, high) = if size > 0.0 {
                ((low - 0.7 * size).max(all.0), (high + 0.7 * size).min(all.1))
            } else {
                all
            };
            let pad = 0.06 * (high - low);
            (low - pad, high + pad)
        });
        let [across, up] = range;
        let inside = |p: &Point| p[0] >= across.0 && p[0] <= across.1 && p[1] >= up.0 && p[1] <= up.1;
        Front {
            input,
            scales: [
                input.x.measure.scale(input.units, [across.0, across.1]),
                input.y.measure.scale(input.units, [up.0, up.1]),
            ],
            range,
            numbered: numbered(&points, input.chosen),
            points,
            present,
            outside_count: tried.iter().filter(|p| !inside(p)).count(),
            tried,
        }
    }

    fn titles(&self) -> [String; 2] {
        let of = |goal: &Goal, scale: &Scale| {
            let better = match goal.better {
                Better::Lower => "lower is better",
                Better::Higher => "higher is better",
            };
            format!("{}, {better}", scale.named(goal.name.trim()))
        };
        let [x, y] = &self.scales;
        [of(&self.input.x, x), of(&self.input.y, y)]
    }

    fn shown(&self, at: Point) -> [String; 2] {
        let [x, y] = &self.scales;
        [x.show(at[0]), y.show(at[1])]
    }

    fn second_line(&self) -> String {
        let tried = counted(self.tried.len(), "design tried", "designs tried");
        let outside = match self.outside_count {
            0 => String::new(),
            n => format!(" ({n} outside the frame)"),
        };
        let front = match self.points.len() {
            0 => "none on the front".to_string(),
            n => format!("{n} that no other beats in both"),
        };
        format!("{tried}{outside}, {front}")
    }

    /// The edge of what is reached: between two points of the front only what is as bad as the
    /// worse of both in each goal is sure to be reached.
    fn edge(&self) -> Vec<Point> {
        let worse = |goal: &Goal, a: f64, b: f64| match goal.better {
            Better::Lower => a.max(b),
            Better::Higher => a.min(b),
        };
        let mut line: Vec<Point> = Vec::new();
        for (_, p) in &self.points {
            if let Some(last) = line.last().copied() {
                line.push([
                    worse(&self.input.x, last[0], p.at[0]),
                    worse(&self.input.y, last[1], p.at[1]),
                ]);
            }
            line.push(p.at);
        }
        line
    }

    fn draw_legend(&self, svg: &mut Svg) {
        let mut items = vec![(0, "tried"), (1, "front")];
        if self.present.is_some() {
            items.push((2, "now"));
        }
        if self.chosen().is_some() {
            items.push((3, "chosen"));
        }
        let widths: Vec<f64> = items.iter().map(|(_, t)| 30.0 + label_width_px(t)).collect();
        for ((item, text), (x, _)) in items.iter().zip(in_rows(&widths, 18.0, WIDTH_PX)) {
            let at = [LEFT_PX + x + 11.0, 72.0];
            match item {
                0 => {
                    for d in [[-7.0, 2.0], [0.0, -3.0], [6.0, 3.0]] {
                        dots(svg, &[[at[0] + d[0], at[1] + d[1]]]);
                    }
                }
                1 => {
                    let (left, right) = (at[0] - 11.0, at[0] + 11.0);
                    let (top, foot) = (at[1] - 4.0, at[1] + 4.0);
                    svg.polyline("s c0", &[[left, top], [at[0], top], [at[0], foot], [right, foot]]);
                }
                2 => point(svg, 3, "c1", at, 5.5),
                _ => ring(svg, at),
            }
            svg.text("m", [at[0] + 18.0, at[1] + 5.0], Anchor::Start, text);
        }
    }

    /// Where both goals get worse, as seen.
    fn worse(&self) -> Point {
        let sign = |goal: &Goal| match goal.better {
            Better::Lower => 1.0,
            Better::Higher => -1.0,
        };
        [sign(&self.input.x), -sign(&self.input.y)]
    }

    fn chosen(&self) -> Option<&(usize, &'a FrontPoint)> {
        self.points.iter().find(|(i, _)| Some(*i) == self.input.chosen)
    }

    fn draw_plot(&self, svg: &mut Svg, strip: &Strip) {
        svg.open_clipped(strip.rect.grown(2.0));
        let every = self.tried.len().div_ceil(MOST_TRIED).max(1);
        let seen: Vec<Point> = self.tried.iter().step_by(every).map(|p| strip.px(*p)).collect();
        let seen: Vec<Point> = seen
            .into_iter()
            .filter(|p| strip.rect.grown(2.0).nearest(*p) == *p)
            .collect();
        svg.open("tried");
        dots(svg, &seen);
        svg.close();
        let edge: Vec<Point> = self.edge().into_iter().map(|p| strip.px(p)).collect();
        svg.open("edge");
        svg.polyline("s c0", &thinned(&edge));
        svg.close();
        svg.close();
        let mut placer = Placer::new(strip.rect.grown(6.0));
        placer.avoid(&edge);
        let around = |p: Point, r: f64| Rect {
            x_px: p[0] - r,
            y_px: p[1] - r,
            width_px: 2.0 * r,
            height_px: 2.0 * r,
        };
        for (_, p) in &self.points {
            let at = strip.px(p.at);
            svg.circle("f0", at, 4.0);
            placer.take(around(at, 4.0));
        }
        if let Some((_, p)) = self.chosen() {
            ring(svg, strip.px(p.at));
            placer.take(around(strip.px(p.at), 8.5));
        }
        if let Some(at) = self.present.map(|p| strip.px(p)) {
            point(svg, 3, "c1", at, 6.0);
            placer.take(around(at, 8.0));
            label(svg, &mut placer, at, self.worse(), ("now", "halo b f1"));
        }
        for (i, (_, p)) in self.numbered.iter().enumerate() {
            let outward = self.worse().map(|v| -v);
            let number = (i + 1).to_string();
            label(svg, &mut placer, strip.px(p.at), outward, (&number, "halo b f0"));
        }
    }

    fn draw_table(&self, svg: &mut Svg, top: f64) {
        let rows = &self.numbered;
        if rows.is_empty() {
            return;
        }
        let columns = [0, 1].map(|i| {
            let values: Vec<Option<f64>> = rows.iter().map(|(_, p)| p.at.get(i).copied()).collect();
            self.scales.get(i).map_or(Vec::new(), |s| s.column(&values))
        });
        let heads = [&self.input.x, &self.input.y];
        let [x, y] = &self.scales;
        let heads = [x.named(heads[0].name.trim()), y.named(heads[1].name.trim())];
        // Right ends of the two columns of numbers, then the labels.
        let ends = [190.0, 340.0];
        let label_px = 364.0;
        for (head, end) in heads.iter().zip(ends) {
            let lines = wrapped(head, 13.0, 130.0, 2);
            for (i, line) in lines.iter().rev().enumerate() {
                svg.text("m sm", [end, top - 16.0 * i as f64], Anchor::End, line);
            }
        }
        svg.text("m sm", [label_px, top], Anchor::Start, "design");
        for (i, (index, p)) in rows.iter().enumerate() {
            let y = top + (i + 1) as f64 * ROW_PX;
            let chosen = self.input.chosen == Some(*index);
            let class = if chosen { "b" } else { "" };
            svg.line("g", [MARGIN_PX, y - 16.0], [WIDTH_PX - MARGIN_PX, y - 16.0]);
            svg.text("b f0", [MARGIN_PX + 16.0, y], Anchor::End, &(i + 1).to_string());
            if chosen {
                ring(svg, [MARGIN_PX + 30.0, y - 5.0]);
            }
            for (column, end) in columns.iter().zip(ends) {
                if let Some(text) = column.get(i) {
                    svg.text(class, [end, y], Anchor::End, text);
                }
            }
            let room = WIDTH_PX - MARGIN_PX - label_px;
            let text = fitted(p.label.trim(), if chosen { 1.1 } else { 1.0 } * TEXT_PX, room);
            svg.text(class, [label_px, y], Anchor::Start, &text);
        }
        let hidden = self.points.len() - rows.len();
        if hidden > 0 {
            let y = top + (rows.len() + 1) as f64 * ROW_PX;
            let text = format!("{hidden} more on the front are not numbered");
            svg.text("m", [MARGIN_PX, y], Anchor::Start, &text);
        }
    }
}

fn numbered<'a>(points: &[(usize, &'a FrontPoint)], chosen: Option<usize>) -> Vec<(usize, &'a FrontPoint)> {
    let (n, last) = (points.len(), MOST_SHOWN.saturating_sub(1).max(1));
    if n <= MOST_SHOWN {
        return points.to_vec();
    }
    let mut places: Vec<usize> = (0..=last).map(|i| i * (n - 1) / last).collect();
    // The chosen one takes the place of its nearest neighbour that is no end.
    if let Some(at) = points.iter().position(|(i, _)| Some(*i) == chosen)
        && let Some(place) = places
            .iter_mut()
            .filter(|p| at == 0 || at == n - 1 || (**p != 0 && **p != n - 1))
            .min_by_key(|p| p.abs_diff(at))
    {
        *place = at;
    }
    places.iter().filter_map(|i| points.get(*i).copied()).collect()
}

/// Many small dots as one path: lines of no length with round ends.
fn dots(svg: &mut Svg, at: &[Point]) {
    if at.is_empty() {
        return;
    }
    let mut path = Path::default();
    for p in at {
        // Tenths of a drawing unit are finer than the dot, and there may be hundreds.
        let q = p.map(|v| (10.0 * v).round() / 10.0);
        path.move_to(q);
        path.line_to(q);
    }
    svg.path("q dots", &path);
}

/// Mark of the chosen design.
fn ring(svg: &mut Svg, at: Point) {
    svg.circle("k", at, 8.5);
    svg.circle("f0", at, 4.0);
}

/// A short text (with its class) near its point, on the side of `dir` if there is room, tied to it
/// where it has to stand off.
fn label(svg: &mut Svg, placer: &mut Placer, at: Point, dir: Point, (text, class): (&str, &str)) {
    let (width, height) = (bold_width_px(text), 1.1 * TEXT_PX);
    let first = (-dir[1]).atan2(dir[0]);
    let candidates = [14.0, 20.0, 29.0, 40.0].into_iter().flat_map(|far| {
        [0, 1, -1, 2, -2, 3, -3, 4].map(|i| {
            let (s, c) = (first + std::f64::consts::FRAC_PI_4 * f64::from(i)).sin_cos();
            Rect {
                x_px: at[0] + (far + 0.4 * width) * c - 0.5 * width,
                y_px: at[1] - far * s - 0.5 * height,
                width_px: width,
                height_px: height,
            }
        })
    });
    let Some(place) = placer.place_tied(Some(at), candidates).filter(|p| p.free) else {
        return;
    };
    let r = place.rect;
    let near = r.nearest(at);
    if distance(at, near) > 15.0 {
        svg.line("q", at, near);
    }
    let middle = r.x_px + 0.5 * r.width_px;
    svg.text(class, [middle, r.bottom_px() - 3.0], Anchor::Middle, text);
}
