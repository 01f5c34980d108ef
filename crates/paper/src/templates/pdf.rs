//! A sheet as PDF at full size, over as many pages as it needs, to be laid over each other by crosses.

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::svg::{CAPITAL_RATIO, PAD_MM, Place, place, stroke};
use super::{Edge, Layer, Point, Sheet};

/// Paper to print on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 in.
    Letter,
}

impl Paper {
    /// Upright size.
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Paper::A4 => [210.0, 297.0],
            Paper::Letter => [215.9, 279.4],
        }
    }
}

/// Points of a millimetre.
const PT: f64 = 72.0 / 25.4;
/// Physical: printers leave this much white.
const EDGE_MM: f64 = 10.0;
/// Physical: foot of a page with the ruler.
const FOOT_MM: f64 = 15.0;
/// Physical: pages lie over each other by this much.
const OVERLAP_MM: f64 = 10.0;
/// The ruler that tells whether the printer kept the size.
pub const RULER_MM: f64 = 100.0;
/// What stands beside it.
pub(super) const RULER_WORDS: &str = "100 mm: measure it before you cut";

/// Lines of the ruler: how far from its start, how high.
pub(super) fn ruler() -> impl Iterator<Item = [f64; 2]> {
    (0..=10).map(|i| [RULER_MM / 10.0 * f64::from(i), if i % 5 == 0 { 5.0 } else { 2.5 }])
}

/// How a drawing is spread over pages.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Tiles {
    page: [f64; 2],
    window: [f64; 2],
    columns: usize,
    rows: usize,
}

impl Tiles {
    fn of(paper: Paper, size: [f64; 2]) -> Tiles {
        let [w, h] = paper.size_mm();
        let one = |page: [f64; 2]| {
            let window = [page[0] - 2.0 * EDGE_MM, page[1] - 2.0 * EDGE_MM - FOOT_MM];
            let count = |i: usize| {
                ((size[i] - OVERLAP_MM) / (window[i] - OVERLAP_MM))
                    .ceil()
                    .clamp(1.0, 50.0) as usize
            };
            Tiles {
                page,
                window,
                columns: count(0),
                rows: count(1),
            }
        };
        let (upright, lying) = (one([w, h]), one([h, w]));
        if lying.columns * lying.rows < upright.columns * upright.rows {
            lying
        } else {
            upright
        }
    }

    /// Distance from one page's window to the next.
    fn step(&self) -> [f64; 2] {
        self.window.map(|w| w - OVERLAP_MM)
    }
}

/// The file's bytes; `foot` stands on every page.
pub fn bytes(sheet: &Sheet, paper: Paper, foot: &str) -> Vec<u8> {
    let place = place(sheet);
    let tiles = Tiles::of(paper, place.size_mm);
    let mut pdf = Pdf::new();
    let id = |n: usize| Ref::new(i32::try_from(n).unwrap_or(i32::MAX));
    let (catalog, tree, font, info) = (id(1), id(2), id(3), id(4));
    let used: Vec<[usize; 2]> = (0..tiles.columns * tiles.rows)
        .map(|i| [i % tiles.columns, i / tiles.columns])
        .filter(|tile| has_ink(sheet, &place, &tiles, *tile))
        .collect();
    let count = used.len();
    let mut root = pdf.catalog(catalog);
    root.pages(tree);
    // Printed as large as it is.
    root.viewer_preferences()
        .insert(Name(b"PrintScaling"))
        .primitive(Name(b"None"));
    root.finish();
    pdf.document_info(info).title(TextStr(&sheet.title));
    pdf.pages(tree)
        .kids((0..count).map(|i| id(5 + 2 * i)))
        .count(i32::try_from(count).unwrap_or(i32::MAX));
    pdf.type1_font(font)
        .base_font(Name(b"Helvetica"))
        .encoding_predefined(Name(b"WinAnsiEncoding"));
    for (i, [column, row]) in used.into_iter().enumerate() {
        let mut page = pdf.page(id(5 + 2 * i));
        page.media_box(Rect::new(0.0, 0.0, f(tiles.page[0] * PT), f(tiles.page[1] * PT)));
        page.parent(tree);
        page.contents(id(6 + 2 * i));
        page.resources().fonts().pair(Name(b"F"), font);
        page.finish();
        let words = format!(
            "{}    page {} of {count}: column {} of {}, row {} of {}    {foot}",
            sheet.title,
            i + 1,
            column + 1,
            tiles.columns,
            row + 1,
            tiles.rows
        );
        let content = draw_page(sheet, &place, &tiles, [column, row], &words);
        pdf.stream(id(6 + 2 * i), &content.finish());
    }
    pdf.finish()
}

/// Does anything of the drawing fall on this page and on no page before it?
fn has_ink(sheet: &Sheet, place: &Place, tiles: &Tiles, [column, row]: [usize; 2]) -> bool {
    let [step_x, step_y] = tiles.step();
    // What lies in an overlap is on the page before, too.
    let low = |i: usize, step: f64| i as f64 * step + if i > 0 { OVERLAP_MM } else { 0.0 };
    let (x0, y0) = (low(column, step_x), low(row, step_y));
    let (x1, y1) = (
        column as f64 * step_x + tiles.window[0],
        row as f64 * step_y + tiles.window[1],
    );
    let inside = |x: [f64; 2], y: [f64; 2]| x[1] >= x0 && x[0] <= x1 && y[1] >= y0 && y[0] <= y1;
    let at = |p: Point| [p[0] - place.origin_mm[0], place.origin_mm[1] - p[1]];
    let near = |a: Point, b: Point| {
        let (a, b) = (at(a), at(b));
        inside([a[0].min(b[0]), a[0].max(b[0])], [a[1].min(b[1]), a[1].max(b[1])])
    };
    // The box around a long slanting line holds much that the line does not.
    let passes = |a: Point, b: Point| {
        /// Method: pieces this long.
        const PIECE_MM: f64 = 3.0;
        let count = ((b[0] - a[0]).hypot(b[1] - a[1]) / PIECE_MM)
            .ceil()
            .clamp(1.0, 2000.0) as usize;
        let on = |i: usize| {
            let t = i as f64 / count as f64;
            [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
        };
        (0..count).any(|i| near(on(i), on(i + 1)))
    };
    let round = |c: &super::Circle, by: f64| [c.centre_mm[0] + by, c.centre_mm[1] + by];
    let texts = place
        .lines
        .iter()
        .any(|(size, y, text)| inside([PAD_MM, PAD_MM + width(text, *size)], [y - size, *y]));
    texts
        || sheet
            .contours
            .iter()
            .any(|c| c.points().windows(2).any(|p| passes(p[0], p[1])))
        || sheet
            .circles
            .iter()
            .any(|c| near(round(c, -c.radius_mm), round(c, c.radius_mm)))
}

#[allow(clippy::cast_possible_truncation)]
fn f(x: f64) -> f32 {
    x as f32
}

fn draw_page(sheet: &Sheet, place: &Place, tiles: &Tiles, [column, row]: [usize; 2], words: &str) -> Content {
    let mut c = Content::new();
    // All in millimetres from here.
    c.transform([f(PT), 0.0, 0.0, f(PT), 0.0, 0.0]);
    foot(&mut c, words);
    let bottom = EDGE_MM + FOOT_MM;
    let [step_x, step_y] = tiles.step();
    c.save_state();
    c.rect(f(EDGE_MM), f(bottom), f(tiles.window[0]), f(tiles.window[1]));
    c.clip_nonzero();
    c.end_path();
    // From the drawing's left and upper corner to this page's window.
    let left = EDGE_MM - column as f64 * step_x;
    let top = bottom + tiles.window[1] + row as f64 * step_y;
    let at = |p: Point| {
        [
            left + p[0] - place.origin_mm[0],
            top - (place.origin_mm[1] - p[1]),
        ]
    };
    for layer in Layer::ALL {
        let (line, dashes) = stroke(layer);
        c.set_line_width(f(line));
        c.set_dash_pattern(dashes.iter().map(|d| f(*d)), 0.0);
        for contour in sheet.contours.iter().filter(|c| c.layer == layer) {
            let mut from = contour.start_mm;
            let p = at(from);
            c.move_to(f(p[0]), f(p[1]));
            for edge in &contour.edges {
                match *edge {
                    Edge::Line { to_mm } => {
                        let p = at(to_mm);
                        c.line_to(f(p[0]), f(p[1]));
                    }
                    Edge::Arc { centre_mm, sweep_rad } => arc(&mut c, &at, from, centre_mm, sweep_rad),
                }
                from = edge.end(from);
            }
            if contour.closed {
                c.close_path();
            }
            c.stroke();
        }
        for circle in sheet.circles.iter().filter(|c| c.layer == layer) {
            if layer == Layer::Mark {
                c.set_dash_pattern([3.0, 2.0], 0.0);
            }
            let from = [circle.centre_mm[0] + circle.radius_mm, circle.centre_mm[1]];
            let p = at(from);
            c.move_to(f(p[0]), f(p[1]));
            arc(&mut c, &at, from, circle.centre_mm, std::f64::consts::TAU);
            c.close_path();
            c.stroke();
        }
    }
    c.set_dash_pattern([], 0.0);
    for label in sheet.labels.iter().filter(|l| !l.text.is_empty()) {
        let size = label.height_mm / CAPITAL_RATIO;
        let p = at(label.at_mm);
        show(
            &mut c,
            [p[0] - 0.5 * width(&label.text, size), p[1]],
            size,
            &label.text,
        );
    }
    for (size, y, line) in &place.lines {
        show(&mut c, [left + PAD_MM, top - y], *size, line);
    }
    seams(&mut c, tiles, [column, row], [left, top]);
    c.restore_state();
    c
}

/// A round line as cubic curves of at most an eighth of a turn each; off by less than 5e-6 of the radius.
///
/// ```text
/// handle = 4/3 tan(part / 4) r
/// ```
fn arc(c: &mut Content, at: &impl Fn(Point) -> Point, from: Point, centre: Point, sweep_rad: f64) {
    let count = (sweep_rad.abs() / std::f64::consts::FRAC_PI_4)
        .ceil()
        .clamp(1.0, 16.0);
    let part = sweep_rad / count;
    let handle = 4.0 / 3.0 * (0.25 * part).tan();
    let mut p = from;
    for _ in 0..count as usize {
        let q = Edge::Arc {
            centre_mm: centre,
            sweep_rad: part,
        }
        .end(p);
        let beside = |p: Point, by: f64| at([p[0] - by * (p[1] - centre[1]), p[1] + by * (p[0] - centre[0])]);
        let (a, b, end) = (beside(p, handle), beside(q, -handle), at(q));
        c.cubic_to(f(a[0]), f(a[1]), f(b[0]), f(b[1]), f(end[0]), f(end[1]));
        p = q;
    }
}

/// About how wide a text of this size is in Helvetica.
fn width(text: &str, size: f64) -> f64 {
    let wide = |c: char| match c {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ' ' | 'I' | 't' | 'f' | '-' => 0.28,
        'm' | 'M' | 'W' | 'w' => 0.83,
        c if c.is_ascii_uppercase() => 0.7,
        _ => 0.556,
    };
    size * text.chars().map(wide).sum::<f64>()
}

fn show(c: &mut Content, at: Point, size: f64, text: &str) {
    // The font's own encoding agrees with the first 256 characters but for 32 of them, which no text here has.
    let bytes: Vec<u8> = text
        .chars()
        .map(|l| match u32::from(l) {
            code @ (0x20..=0x7e | 0xa0..=0xff) => u8::try_from(code).unwrap_or(b'?'),
            _ => b'?',
        })
        .collect();
    c.begin_text();
    c.set_font(Name(b"F"), f(size));
    c.set_text_matrix([1.0, 0.0, 0.0, 1.0, f(at[0]), f(at[1])]);
    c.show(Str(&bytes));
    c.end_text();
}

/// Ruler and page number.
fn foot(c: &mut Content, words: &str) {
    let y = EDGE_MM + 5.0;
    c.set_line_width(0.25);
    c.move_to(f(EDGE_MM), f(y));
    c.line_to(f(EDGE_MM + RULER_MM), f(y));
    c.stroke();
    for [along, high] in ruler() {
        c.move_to(f(EDGE_MM + along), f(y));
        c.line_to(f(EDGE_MM + along), f(y + high));
        c.stroke();
    }
    show(c, [EDGE_MM + RULER_MM + 3.0, y], 3.2, RULER_WORDS);
    show(c, [EDGE_MM, y - 4.5], 2.6, words);
}

/// Where the next page begins, and crosses to lay pages over each other by.
fn seams(c: &mut Content, tiles: &Tiles, [column, row]: [usize; 2], [left, top]: Point) {
    let [step_x, step_y] = tiles.step();
    c.set_line_width(0.1);
    let mut dashed = |a: Point, b: Point| {
        c.set_dash_pattern([1.0, 2.0], 0.0);
        c.move_to(f(a[0]), f(a[1]));
        c.line_to(f(b[0]), f(b[1]));
        c.stroke();
        c.set_dash_pattern([], 0.0);
    };
    let (x0, y1) = (left + column as f64 * step_x, top - row as f64 * step_y);
    let (x1, y0) = (x0 + tiles.window[0], y1 - tiles.window[1]);
    if column > 0 {
        dashed([x0 + OVERLAP_MM, y0], [x0 + OVERLAP_MM, y1]);
    }
    if column + 1 < tiles.columns {
        dashed([x1 - OVERLAP_MM, y0], [x1 - OVERLAP_MM, y1]);
    }
    if row > 0 {
        dashed([x0, y1 - OVERLAP_MM], [x1, y1 - OVERLAP_MM]);
    }
    if row + 1 < tiles.rows {
        dashed([x0, y0 + OVERLAP_MM], [x1, y0 + OVERLAP_MM]);
    }
    let mut cross = |x: f64, y: f64| {
        const HALF_MM: f64 = 4.0;
        c.move_to(f(x - HALF_MM), f(y));
        c.line_to(f(x + HALF_MM), f(y));
        c.stroke();
        c.move_to(f(x), f(y - HALF_MM));
        c.line_to(f(x), f(y + HALF_MM));
        c.stroke();
    };
    // In the middle of each overlap, twice for each page beside it.
    for i in 1..tiles.columns {
        for j in 0..2 * tiles.rows {
            cross(
                left + i as f64 * step_x + 0.5 * OVERLAP_MM,
                top - 0.5 * OVERLAP_MM - (0.25 + 0.5 * j as f64) * step_y,
            );
        }
    }
    for i in 1..tiles.rows {
        for j in 0..2 * tiles.columns {
            cross(
                left + 0.5 * OVERLAP_MM + (0.25 + 0.5 * j as f64) * step_x,
                top - i as f64 * step_y - 0.5 * OVERLAP_MM,
            );
        }
    }
}
