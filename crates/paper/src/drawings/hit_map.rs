//! The floor in front of the target from above: the hit chance from every place.

use arcwright_model::project::UnitSystem;

use super::WIDTH_PX;
use crate::geometry::{Fit, Point, Rect, span, usable};
use crate::marks::{TEXT_PX, bold_width_px, heading, label_width_px};
use crate::place::{Placer, fitted};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::{Scale, Units};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct HitMap {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// Distances to the near rim, evenly spaced, nearest first.
    pub distances_m: Vec<f64>,
    /// Distances aside of the target's axis, left positive, evenly spaced, from right to left.
    pub offsets_m: Vec<f64>,
    /// Hit chance, all offsets at the nearest distance first; none where no wheel speed serves.
    pub hit_frac: Vec<Option<f64>>,
    /// How far a chance may be off at most, either way.
    pub within_frac: f64,
    /// Width and depth of the opening as seen from above.
    pub opening_m: [f64; 2],
    /// The spots of the brief.
    pub spots: Vec<MapSpot>,
}

/// One spot.
#[derive(Clone, Debug, PartialEq)]
pub struct MapSpot {
    /// Name.
    pub name: String,
    /// Distance to the near rim.
    pub distance_m: f64,
    /// Distance aside, left positive.
    pub offset_m: f64,
}

/// The line drawn about the good places.
const GOOD_FRAC: f64 = 0.9;
/// Lower ends of the shades, darkest first, with their words; what is below the last has the ground's colour.
const SHADES: [(f64, &str, &str); 5] = [
    (0.95, "f2 v0", "95 or more of 100"),
    (GOOD_FRAC, "f2 v1", "90 to 95"),
    (0.7, "f2 v2", "70 to 90"),
    (0.5, "f2 v3", "50 to 70"),
    (0.0, "f2 v4", "under 50"),
];
const RULES: &str = ".arcw .v0{fill-opacity:.5}.arcw .v1{fill-opacity:.36}.arcw .v2{fill-opacity:.22}\
    .arcw .v3{fill-opacity:.12}.arcw .v4{fill-opacity:.04}";
const LEFT_PX: f64 = 64.0;
const RIGHT_PX: f64 = 16.0;
const TOP_PX: f64 = 72.0;
const TALLEST_PX: f64 = 720.0;
const ROW_PX: f64 = 24.0;
/// A number needs this much room in its cell.
const NUMBER_PX: f64 = 26.0;

/// Draws the picture.
pub fn draw(input: &HitMap) -> String {
    let grid = Grid::of(input);
    let foot = grid.rect.bottom_px();
    let mut svg = Svg::new(
        "hit-map",
        WIDTH_PX,
        foot + 62.0 + ROW_PX * (SHADES.len() as f64 + 2.0),
    )
    .with_rules(RULES);
    let room = WIDTH_PX - 32.0;
    heading(
        &mut svg,
        &fitted(&input.title, 1.1 * 17.0, room),
        &second_line(input),
    );
    if input.hit_frac.is_empty() {
        svg.text("m", [LEFT_PX, TOP_PX + 80.0], Anchor::Start, "no place to show");
    }
    grid.target(&mut svg);
    svg.open("places");
    grid.cells(&mut svg);
    svg.close();
    grid.border(&mut svg);
    grid.scales(&mut svg);
    grid.spots(&mut svg);
    legend(&mut svg, foot + 66.0);
    svg.finish(&input.title, &words(input))
}

/// The picture in words.
pub fn words(input: &HitMap) -> String {
    let units = Units::of(input.units);
    let show = |v: f64| units.distance.show(v);
    let count = input.hit_frac.len();
    let good = input
        .hit_frac
        .iter()
        .filter(|h| h.is_some_and(|h| h >= GOOD_FRAC))
        .count();
    let mut text = format!(
        "{}: 90 of 100 or more go in from {good} of {count} places.",
        input.title.trim()
    );
    let ahead: Vec<f64> = (0..input.distances_m.len())
        .filter(|r| at(input, *r, middle(input)).is_some_and(|h| h >= GOOD_FRAC))
        .filter_map(|r| input.distances_m.get(r).copied())
        .collect();
    match span(ahead.iter().copied()) {
        Some((a, b)) if a < b => text.push_str(&format!(
            " Straight ahead of the target they lie between {} and {}.",
            show(a),
            show(b)
        )),
        Some((a, _)) => text.push_str(&format!(
            " Straight ahead of the target only {} is one of them.",
            show(a)
        )),
        None => text.push_str(" Straight ahead of the target there is none."),
    }
    for (r, distance_m) in input.distances_m.iter().enumerate() {
        let row: Vec<String> = (0..input.offsets_m.len())
            .map(|c| at(input, r, c).map_or("none".to_string(), of_hundred))
            .collect();
        text.push_str(&format!(
            " At {}, from right to left: {}.",
            show(*distance_m),
            row.join(", ")
        ));
    }
    text
}

fn second_line(input: &HitMap) -> String {
    format!(
        "throws that go in, of 100, each place at its own wheel speed · within {} either way",
        of_hundred(input.within_frac)
    )
}

/// A share as throws of a hundred; one that is not quite certain never reads 100, nor a small one 0.
pub fn of_hundred(frac: f64) -> String {
    let whole = (100.0 * frac).round();
    if frac < 1.0 && whole == 100.0 {
        "99".into()
    } else if frac > 0.0 && whole == 0.0 {
        "1".into()
    } else {
        format!("{whole:.0}")
    }
}

fn at(input: &HitMap, row: usize, column: usize) -> Option<f64> {
    let hit = *input.hit_frac.get(row * input.offsets_m.len() + column)?;
    hit.filter(|h| usable(*h))
}

/// The column nearest to the target's axis.
fn middle(input: &HitMap) -> usize {
    let away = |i: &usize| input.offsets_m.get(*i).map_or(f64::INFINITY, |o| o.abs());
    (0..input.offsets_m.len())
        .min_by(|a, b| away(a).total_cmp(&away(b)))
        .unwrap_or(0)
}

fn step_m(values: &[f64]) -> f64 {
    match values {
        [a, b, ..] if b > a => b - a,
        _ => 1.0,
    }
}

struct Grid<'a> {
    input: &'a HitMap,
    fit: Fit,
    rect: Rect,
    /// Half a step along and aside.
    half_m: [f64; 2],
    scale: Scale,
}

impl Grid<'_> {
    fn of(input: &HitMap) -> Grid<'_> {
        let half_m = [0.5 * step_m(&input.distances_m), 0.5 * step_m(&input.offsets_m)];
        let x = span(input.offsets_m.iter().map(|o| -o))
            .map_or((-1.0, 1.0), |(a, b)| (a - half_m[1], b + half_m[1]));
        let far = span(input.distances_m.iter().copied()).map_or(1.0, |(_, b)| b + half_m[0]);
        let z = (-far, input.opening_m[1]);
        let width_px = WIDTH_PX - LEFT_PX - RIGHT_PX;
        let height_px = (width_px * (z.1 - z.0) / (x.1 - x.0).max(1e-3)).min(TALLEST_PX);
        let rect = Rect {
            x_px: LEFT_PX,
            y_px: TOP_PX,
            width_px,
            height_px,
        };
        Grid {
            input,
            fit: Fit::new(x, z, rect),
            rect,
            half_m,
            scale: Units::of(input.units).distance,
        }
    }

    fn px(&self, distance_m: f64, offset_m: f64) -> Point {
        self.fit.px([-offset_m, -distance_m])
    }

    fn cell(&self, row: usize, column: usize) -> Option<Rect> {
        let (d, o) = (
            self.input.distances_m.get(row)?,
            self.input.offsets_m.get(column)?,
        );
        let a = self.px(d - self.half_m[0], o + self.half_m[1]);
        let b = self.px(d + self.half_m[0], o - self.half_m[1]);
        Some(Rect {
            x_px: a[0],
            y_px: a[1],
            width_px: b[0] - a[0],
            height_px: b[1] - a[1],
        })
    }

    fn target(&self, svg: &mut Svg) {
        let [width_m, depth_m] = self.input.opening_m;
        let (a, b) = (self.px(-depth_m, 0.5 * width_m), self.px(0.0, -0.5 * width_m));
        let rect = Rect {
            x_px: a[0],
            y_px: a[1],
            width_px: b[0] - a[0],
            height_px: (b[1] - a[1]).max(2.0),
        };
        svg.rect("bf k", rect);
        svg.text(
            "b halo",
            [rect.right_px() + 8.0, rect.y_px + 0.5 * rect.height_px + 5.0],
            Anchor::Start,
            "target",
        );
    }

    fn cells(&self, svg: &mut Svg) {
        let columns = self.input.offsets_m.len();
        for k in 0..self.input.hit_frac.len() {
            let (row, column) = (k / columns.max(1), k % columns.max(1));
            let Some(r) = self.cell(row, column) else {
                continue;
            };
            match at(self.input, row, column) {
                Some(hit) => {
                    svg.rect(shade(hit), r);
                    if r.width_px >= NUMBER_PX {
                        let centre = [r.x_px + 0.5 * r.width_px, r.y_px + 0.5 * r.height_px + 4.5];
                        svg.text("sm", centre, Anchor::Middle, &of_hundred(hit));
                    }
                }
                None => svg.hatched(
                    Hatch::Up,
                    &[
                        [r.x_px, r.y_px],
                        [r.right_px(), r.y_px],
                        [r.right_px(), r.bottom_px()],
                        [r.x_px, r.bottom_px()],
                    ],
                ),
            }
        }
    }

    /// The line between places with 90 of 100 and others.
    fn border(&self, svg: &mut Svg) {
        let good = |row: Option<usize>, column: Option<usize>| {
            row.zip(column)
                .and_then(|(r, c)| (c < self.input.offsets_m.len()).then(|| at(self.input, r, c))?)
                .is_some_and(|h| h >= GOOD_FRAC)
        };
        svg.open("good");
        for row in 0..self.input.distances_m.len() {
            for column in 0..self.input.offsets_m.len() {
                let (r, c) = (Some(row), Some(column));
                let Some(cell) = self.cell(row, column).filter(|_| good(r, c)) else {
                    continue;
                };
                let (left, right, top, foot) = (cell.x_px, cell.right_px(), cell.y_px, cell.bottom_px());
                // Offsets count from right to left.
                let sides = [
                    (good(r, column.checked_add(1)), [left, top], [left, foot]),
                    (good(r, column.checked_sub(1)), [right, top], [right, foot]),
                    (good(row.checked_sub(1), c), [left, top], [right, top]),
                    (good(row.checked_add(1), c), [left, foot], [right, foot]),
                ];
                for (same, a, b) in sides {
                    if !same {
                        svg.line("kb", a, b);
                    }
                }
            }
        }
        svg.close();
    }

    fn scales(&self, svg: &mut Svg) {
        let every = |count: usize, room_px: f64, each_px: f64| {
            let most = (room_px / each_px).floor().max(1.0) as usize;
            count.div_ceil(most).max(1)
        };
        let d = &self.input.distances_m;
        let skip = every(d.len(), self.rect.height_px, 26.0);
        for (i, distance_m) in d.iter().enumerate() {
            if i % skip == 0 {
                let y = self.px(*distance_m, 0.0)[1] + 4.5;
                let left = self.px(
                    0.0,
                    self.input.offsets_m.last().copied().unwrap_or(0.0) + self.half_m[1],
                )[0];
                svg.text(
                    "m sm",
                    [left - 8.0, y],
                    Anchor::End,
                    &self.scale.value(*distance_m),
                );
            }
        }
        let o = &self.input.offsets_m;
        let skip = every(o.len(), self.rect.width_px, 46.0);
        let zero = middle(self.input);
        let foot = self.rect.bottom_px() + 18.0;
        for (i, offset_m) in o.iter().enumerate() {
            if i.abs_diff(zero) % skip == 0 {
                let x = self.px(0.0, *offset_m)[0];
                svg.text(
                    "m sm",
                    [x, foot],
                    Anchor::Middle,
                    &self.scale.value(offset_m.abs()),
                );
            }
        }
        svg.text_upward(
            "",
            [18.0, self.rect.y_px + 0.5 * self.rect.height_px],
            &self.scale.named("distance to the near rim"),
        );
        svg.text(
            "",
            [self.rect.x_px + 0.5 * self.rect.width_px, foot + 22.0],
            Anchor::Middle,
            &self.scale.named("← left of the target's axis · right →"),
        );
    }

    fn spots(&self, svg: &mut Svg) {
        let mut placer = Placer::new(self.rect.grown(8.0));
        svg.open("spots");
        for spot in &self.input.spots {
            let p = self.px(spot.distance_m, spot.offset_m);
            let room = self.rect;
            if p[0] < room.x_px || p[0] > room.right_px() || p[1] < room.y_px || p[1] > room.bottom_px() {
                continue;
            }
            svg.circle("pf k", p, 6.0);
            svg.circle("kf", p, 2.5);
            let name = fitted(&spot.name, TEXT_PX, 180.0);
            let width_px = bold_width_px(&name).max(label_width_px(&name));
            let box_at = |x_px: f64, y_px: f64| Rect {
                x_px,
                y_px,
                width_px,
                height_px: 18.0,
            };
            let candidates = [
                box_at(p[0] + 10.0, p[1] - 9.0),
                box_at(p[0] - 10.0 - width_px, p[1] - 9.0),
                box_at(p[0] - 0.5 * width_px, p[1] - 27.0),
                box_at(p[0] - 0.5 * width_px, p[1] + 9.0),
            ];
            if let Some(place) = placer.place(candidates) {
                let r = place.rect;
                svg.text("b halo", [r.x_px, r.y_px + 14.0], Anchor::Start, &name);
            }
        }
        svg.close();
    }
}

fn shade(hit_frac: f64) -> &'static str {
    SHADES
        .iter()
        .find(|(low, _, _)| hit_frac >= *low)
        .map_or("f2 v4", |(_, class, _)| class)
}

fn legend(svg: &mut Svg, top_px: f64) {
    svg.open("legend");
    let mark = |i: usize| {
        let y = top_px + ROW_PX * i as f64;
        (
            Rect {
                x_px: LEFT_PX,
                y_px: y - 12.0,
                width_px: 34.0,
                height_px: 16.0,
            },
            [LEFT_PX + 44.0, y + 1.0],
        )
    };
    for (i, (_, class, words)) in SHADES.iter().enumerate() {
        let (r, at) = mark(i);
        svg.rect("pf k", r);
        svg.rect(class, r);
        svg.text("", at, Anchor::Start, words);
    }
    let (r, at) = mark(SHADES.len());
    svg.hatched(
        Hatch::Up,
        &[
            [r.x_px, r.y_px],
            [r.right_px(), r.y_px],
            [r.right_px(), r.bottom_px()],
            [r.x_px, r.bottom_px()],
        ],
    );
    svg.text(
        "",
        at,
        Anchor::Start,
        "no wheel speed of this machine brings a throw to the opening",
    );
    let (r, at) = mark(SHADES.len() + 1);
    let y = r.y_px + 8.0;
    svg.line("kb", [r.x_px, y], [r.right_px(), y]);
    svg.text(
        "",
        at,
        Anchor::Start,
        "edge of the places from which 90 of 100 or more go in",
    );
    svg.close();
}
