//! Parts and free room within the size limits: from above, from the left and from the front, to one scale.

use arcwright_model::frame::mass::Block;
use arcwright_model::project::UnitSystem;

use super::{MOST_SHOWN, WIDTH_PX, counted};
use crate::geometry::{Point, Rect, distance, usable};
use crate::marks::{TEXT_PX, heading};
use crate::place::fitted;
use crate::svg::{Anchor, Svg};
use crate::units::Units;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct FreeRoomPicture {
    /// Units shown.
    pub units: UnitSystem,
    /// Room within the limits: x ahead, y left, z up.
    pub room: Block,
    /// Listed parts by name, stowed.
    pub parts: Vec<(String, Block)>,
    /// The same parts unfolded, those that move.
    pub unfolded: Vec<Block>,
    /// Free blocks, the greatest first.
    pub free: Vec<Block>,
    /// Centre of mass; a height that is not known is not a number.
    pub centre_m: Option<[f64; 3]>,
}

const TITLE: &str = "Parts and free room";
const TOP_PX: f64 = 84.0;
const GAP_PX: f64 = 40.0;
const ROW_PX: f64 = 21.0;
/// Room that a letter takes.
const LETTER_PX: f64 = 16.0;
/// Most free blocks with a letter.
const LETTERS: [&str; 6] = ["A", "B", "C", "D", "E", "F"];

/// A view: name, and which way of the room runs to the right and up, with its sign.
struct View {
    name: &'static str,
    across: (usize, f64),
    up: (usize, f64),
}

const VIEWS: [View; 3] = [
    View {
        name: "from above, ahead is up",
        across: (1, -1.0),
        up: (0, 1.0),
    },
    View {
        name: "from the left, ahead is left",
        across: (0, -1.0),
        up: (2, 1.0),
    },
    View {
        name: "from the front",
        across: (1, 1.0),
        up: (2, 1.0),
    },
];

fn sides(view: &View, b: &Block) -> [f64; 4] {
    let (i, s) = view.across;
    let (j, t) = view.up;
    let (x0, x1) = (s * b.low_m[i], s * b.high_m[i]);
    let (y0, y1) = (t * b.low_m[j], t * b.high_m[j]);
    [x0.min(x1), x0.max(x1), y0.min(y1), y0.max(y1)]
}

/// Draws the picture.
pub fn draw(input: &FreeRoomPicture) -> String {
    let all: Vec<&Block> = std::iter::once(&input.room)
        .chain(input.parts.iter().map(|p| &p.1))
        .chain(&input.unfolded)
        .filter(|b| b.low_m.iter().chain(&b.high_m).all(|v| usable(*v)))
        .collect();
    let extents = VIEWS.each_ref().map(|v| {
        all.iter().map(|b| sides(v, b)).fold(
            [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY],
            |e, s| [e[0].min(s[0]), e[1].max(s[1]), e[2].min(s[2]), e[3].max(s[3])],
        )
    });
    let wide: f64 = extents[0][1] - extents[0][0] + extents[1][1] - extents[1][0];
    let scale = (WIDTH_PX - 2.0 * 16.0 - GAP_PX) / wide.max(1e-6);
    let tall = |i: usize| scale * (extents[i][3] - extents[i][2]);
    let second = TOP_PX + tall(0).max(tall(1)) + 56.0;
    let rows = input.parts.len().min(MOST_SHOWN) + input.free.len().min(LETTERS.len()) + 2;
    let foot = second + tall(2).max(rows as f64 * ROW_PX) + 34.0;
    let mut svg = Svg::new("free-room", WIDTH_PX, foot);
    heading(
        &mut svg,
        TITLE,
        "filled: parts; dashed with a letter: the greatest free blocks; outline: the size limits",
    );
    let right = 16.0 + scale * (extents[0][1] - extents[0][0]) + GAP_PX;
    let corners: [Point; 3] = [[16.0, TOP_PX], [right, TOP_PX], [16.0, second]];
    for ((view, extent), corner) in VIEWS.iter().zip(extents).zip(corners) {
        one(input, &mut svg, view, extent, corner, scale);
    }
    let left = 16.0 + scale * (extents[2][1] - extents[2][0]) + GAP_PX;
    legend(input, &mut svg, [left, second + 4.0]);
    svg.finish(TITLE, &words(input))
}

fn one(input: &FreeRoomPicture, svg: &mut Svg, view: &View, extent: [f64; 4], corner: Point, scale: f64) {
    let rect = |b: &Block| {
        let [x0, x1, y0, y1] = sides(view, b);
        Rect {
            x_px: corner[0] + scale * (x0 - extent[0]),
            y_px: corner[1] + scale * (extent[3] - y1),
            width_px: scale * (x1 - x0),
            height_px: scale * (y1 - y0),
        }
    };
    for (_, b) in input.parts.iter().take(MOST_SHOWN) {
        svg.rect("w0", rect(b));
        svg.rect("s1 c0", rect(b));
    }
    for b in &input.unfolded {
        svg.rect("s1 c3 d4", rect(b));
    }
    for b in input.free.iter().take(LETTERS.len()) {
        svg.rect("w2", rect(b));
        svg.rect("s1 c2 d2", rect(b));
    }
    svg.rect("k", rect(&input.room));
    for ((_, b), i) in input.parts.iter().zip(1..=MOST_SHOWN) {
        let r = rect(b);
        let low = [r.x_px + 9.0, r.y_px + r.height_px - 4.0];
        svg.text("b halo", low, Anchor::Middle, &i.to_string());
    }
    let mut taken: Vec<Point> = Vec::new();
    for (b, letter) in input.free.iter().zip(LETTERS) {
        // In the other corner, beside letters that stand there already.
        let r = rect(b);
        let mut at = [r.x_px + 10.0, r.y_px + 17.0];
        while taken.iter().any(|t: &Point| distance(*t, at) < LETTER_PX) {
            at[0] += LETTER_PX;
        }
        taken.push(at);
        svg.text("b halo", at, Anchor::Middle, letter);
    }
    if let Some(c) = input.centre_m {
        let (i, s) = view.across;
        let (j, t) = view.up;
        let at = [
            corner[0] + scale * (s * c[i] - extent[0]),
            corner[1] + scale * (extent[3] - t * c[j]),
        ];
        if at.iter().all(|v| usable(*v)) {
            svg.circle("pf", at, 6.0);
            svg.circle("s c1", at, 6.0);
            svg.line("s c1", [at[0] - 6.0, at[1]], [at[0] + 6.0, at[1]]);
            svg.line("s c1", [at[0], at[1] - 6.0], [at[0], at[1] + 6.0]);
        }
    }
    let below = corner[1] + scale * (extent[3] - extent[2]) + 18.0;
    svg.text("m sm", [corner[0], below], Anchor::Start, view.name);
}

fn legend(input: &FreeRoomPicture, svg: &mut Svg, at: Point) {
    let units = Units::of(input.units);
    let room_px = WIDTH_PX - at[0] - 16.0;
    let mut y = at[1] + 10.0;
    let mut line = |class: &str, mark: &str, text: &str| {
        svg.text("b", [at[0], y], Anchor::Start, mark);
        svg.text(
            class,
            [at[0] + 22.0, y],
            Anchor::Start,
            &fitted(text, TEXT_PX, room_px - 22.0),
        );
        y += ROW_PX;
    };
    for ((name, _), i) in input.parts.iter().zip(1..=MOST_SHOWN) {
        line("", &i.to_string(), name);
    }
    let hidden = input.parts.len().saturating_sub(MOST_SHOWN);
    if hidden > 0 {
        line("m", "", &format!("and {hidden} more parts"));
    }
    for (b, letter) in input.free.iter().zip(LETTERS) {
        let [x, y, z] = b.size_m().map(|v| units.length.show(v));
        line("", letter, &format!("free {x} × {y} × {z}"));
    }
    if input.centre_m.is_some() {
        line("", "⊕", "centre of mass");
    }
}

/// The picture in words.
pub fn words(input: &FreeRoomPicture) -> String {
    let units = Units::of(input.units);
    let size = |b: &Block| {
        let [x, y, z] = b.size_m().map(|v| units.length.show(v));
        format!("{x} long, {y} wide, {z} high")
    };
    let mut text = format!(
        "{TITLE}: three views of a room {}, with {} in it.",
        size(&input.room),
        counted(input.parts.len(), "part", "parts")
    );
    for (b, letter) in input.free.iter().zip(LETTERS) {
        text.push_str(&format!(
            " {letter}: {}, from {} ahead, {} left, {} up.",
            size(b),
            units.length.show(b.low_m[0]),
            units.length.show(b.low_m[1]),
            units.length.show(b.low_m[2])
        ));
    }
    if input.free.is_empty() {
        text.push_str(" Nothing is free.");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picture() -> FreeRoomPicture {
        let block = |low_m, high_m| Block { low_m, high_m };
        FreeRoomPicture {
            units: UnitSystem::Metric,
            room: block([-0.26, -0.24, 0.0], [0.26, 0.24, 0.62]),
            parts: vec![(
                "base & wheels".into(),
                block([-0.24, -0.22, 0.0], [0.24, 0.22, 0.11]),
            )],
            unfolded: vec![block([0.0, -0.1, 0.3], [0.5, 0.1, 0.4])],
            free: vec![block([-0.26, -0.24, 0.13], [0.26, 0.24, 0.62])],
            centre_m: Some([0.0, 0.0, 0.2]),
        }
    }

    /// The free block reads with its size, its corner and in all three views; what unfolds beyond the limits is in the picture.
    #[test]
    fn parts_free_blocks_and_the_centre_stand_in_three_views() {
        let svg = draw(&picture());
        assert!(svg.contains("base &amp; wheels"));
        assert_eq!(svg.matches(">A</text>").count(), 4, "{svg}");
        let said = words(&picture()).replace('\u{a0}', " ");
        assert!(
            said.contains("A: 520 mm long, 480 mm wide, 490 mm high, from −260 mm ahead"),
            "{said}"
        );
    }

    #[test]
    fn a_room_that_is_full_says_so_and_numbers_that_are_none_still_draw() {
        let mut full = picture();
        full.free.clear();
        full.centre_m = Some([f64::NAN; 3]);
        full.parts[0].1.high_m[2] = f64::NAN;
        assert!(words(&full).contains("Nothing is free."));
        assert!(draw(&full).contains("</svg>"));
    }
}
