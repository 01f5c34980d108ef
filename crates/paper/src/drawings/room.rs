//! Room to adjust: what the unknown quantities use of each travel, and what is missing beyond its end.

use arcwright_model::project::UnitSystem;

use super::{WIDTH_PX, counted};
use crate::axis::Axis;
use crate::geometry::{Rect, span, usable};
use crate::marks::{TEXT_PX, heading, label_width_px};
use crate::place::{fitted, text_width_px};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::{Scale, Units};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct RoomToAdjust {
    /// Units shown.
    pub units: UnitSystem,
    /// The verdict's word.
    pub verdict: String,
    /// One scale for wheel speed and one for each knob.
    pub scales: Vec<TravelScale>,
}

/// What a scale measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Speed of the wheel.
    Turning,
    /// An angle.
    Angle,
    /// A length of a part.
    Length,
}

/// One travel.
#[derive(Clone, Debug, PartialEq)]
pub struct TravelScale {
    /// Name: `wheel speed`, `tilt`.
    pub name: String,
    /// What its values are.
    pub measure: Measure,
    /// Lowest value of the travel, SI.
    pub low: f64,
    /// Highest value of the travel, SI.
    pub high: f64,
    /// Highest value that may be used, where less than the whole travel may be.
    pub usable: Option<f64>,
    /// The travel that is needed, low and high, where it is longer.
    pub needed: Option<[f64; 2]>,
    /// One row for each spot, or one for all.
    pub rows: Vec<Row>,
}

/// One row of marks.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Name; empty where there is only one.
    pub name: String,
    /// One mark for each case.
    pub marks: Vec<Mark>,
}

/// One case.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Where it stands on the scale, SI.
    pub value: f64,
    /// What case it is: `drag at 0.56`.
    pub case: String,
    /// What kind of case.
    pub kind: Kind,
    /// Is it answered there?
    pub answered: bool,
}

/// Kinds of cases, each with its own shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// All as written: a disc.
    Written,
    /// One quantity at an end: a stroke.
    Single,
    /// All together: a diamond.
    Together,
}

const TITLE: &str = "Room to adjust";
const LEFT_PX: f64 = 96.0;
const RIGHT_PX: f64 = 20.0;
/// Height of a row and of the bar at its foot; the names of the ends stand above the bar.
const ROW_PX: f64 = 44.0;
const BAR_PX: f64 = 16.0;
/// More rows than this are not drawn one by one.
const MOST_ROWS: usize = 12;
/// Size of the small text.
const SMALL_PX: f64 = 13.0;

fn rows(scale: &TravelScale) -> &[Row] {
    scale.rows.get(..MOST_ROWS).unwrap_or(&scale.rows)
}

fn block_px(scale: &TravelScale) -> f64 {
    22.0 + ROW_PX * rows(scale).len() as f64 + 46.0
}

/// Draws the picture.
pub fn draw(input: &RoomToAdjust) -> String {
    let units = Units::of(input.units);
    let blocks: f64 = input.scales.iter().map(block_px).sum();
    let mut svg = Svg::new("room", WIDTH_PX, 64.0 + blocks.max(40.0) + 78.0);
    heading(&mut svg, TITLE, &second_line(input));
    let mut top = 64.0;
    for scale in &input.scales {
        block(&mut svg, scale, measure(scale.measure, &units), top);
        top += block_px(scale);
    }
    if input.scales.is_empty() {
        svg.text("m", [16.0, top + 20.0], Anchor::Start, "nothing to adjust");
        top += 40.0;
    }
    legend(&mut svg, top + 14.0);
    svg.finish(TITLE, &words(input))
}

/// The picture in words.
pub fn words(input: &RoomToAdjust) -> String {
    let units = Units::of(input.units);
    let mut text = format!("Room to adjust: {}.", input.verdict);
    for scale in &input.scales {
        let show = |v| measure(scale.measure, &units).show(v);
        let most = scale.usable.unwrap_or(scale.high);
        text.push_str(&format!(
            " {} from {} to {}",
            scale.name,
            show(scale.low),
            show(most)
        ));
        let used = used(scale);
        match used {
            Some((a, b)) if a < b => text.push_str(&format!(", used from {} to {}", show(a), show(b))),
            Some((a, _)) => text.push_str(&format!(", used at {} only", show(a))),
            None => text.push_str(", no value found"),
        }
        for side in missing(scale).into_iter().flatten() {
            text.push_str(&format!("; {} missing {}", show(side.amount), side.place));
        }
        let open: Vec<String> = scale
            .rows
            .iter()
            .flat_map(|r| r.marks.iter().map(move |m| (r, m)))
            .filter(|(_, m)| !m.answered)
            .map(|(r, m)| {
                if r.name.is_empty() {
                    m.case.clone()
                } else {
                    format!("{} with {}", r.name, m.case)
                }
            })
            .collect();
        if !open.is_empty() {
            text.push_str(&format!("; not answered: {}", open.join(", ")));
        }
        text.push('.');
    }
    text
}

fn second_line(input: &RoomToAdjust) -> String {
    let cases = input
        .scales
        .iter()
        .flat_map(|s| &s.rows)
        .map(|r| r.marks.len())
        .max()
        .unwrap_or(0);
    format!(
        "{} · {} for what is not known yet",
        input.verdict,
        counted(cases, "case", "cases")
    )
}

fn measure(of: Measure, units: &Units) -> &Scale {
    match of {
        Measure::Turning => &units.turning,
        Measure::Angle => &units.angle,
        Measure::Length => &units.length,
    }
}

fn values(scale: &TravelScale) -> impl Iterator<Item = f64> {
    let marks = scale.rows.iter().flat_map(|r| &r.marks);
    marks.map(|m| m.value).filter(|v| usable(*v))
}

fn used(scale: &TravelScale) -> Option<(f64, f64)> {
    span(values(scale))
}

/// What is missing beyond an end.
struct Missing {
    from: f64,
    to: f64,
    amount: f64,
    place: &'static str,
}

/// Missing below and above.
fn missing(scale: &TravelScale) -> [Option<Missing>; 2] {
    let most = scale.usable.unwrap_or(scale.high);
    let wanted = scale.needed.map(|n| (n[0], n[1])).or(used(scale));
    let Some((low, high)) = wanted else {
        return [None, None];
    };
    let side = |from: f64, to: f64, place| {
        let found = usable(from) && usable(to) && from != to;
        found.then(|| Missing {
            from,
            to,
            amount: (to - from).abs(),
            place,
        })
    };
    [
        side(scale.low, low, "below the low end").filter(|m| m.to < m.from),
        side(most, high, "beyond the high end").filter(|m| m.to > m.from),
    ]
}

fn block(svg: &mut Svg, scale: &TravelScale, unit: &Scale, top: f64) {
    let ends = [scale.low, scale.high].into_iter();
    let needed = scale.needed.into_iter().flatten();
    let (low, high) = span(ends.chain(needed).chain(values(scale))).unwrap_or((0.0, 1.0));
    let pad = 0.02 * (high - low);
    let axis = Axis::new((low - pad, high + pad), (false, false), 7, unit);
    let width = WIDTH_PX - LEFT_PX - RIGHT_PX;
    let x = |v: f64| LEFT_PX + (axis.share(v) * width).clamp(0.0, width);
    svg.text("b", [16.0, top + 14.0], Anchor::Start, &scale.name);
    let said = summary(scale, unit);
    let room = WIDTH_PX - RIGHT_PX - LEFT_PX - 30.0;
    let said = fitted(&said, TEXT_PX, room);
    svg.text("m", [WIDTH_PX - RIGHT_PX, top + 14.0], Anchor::End, &said);
    let first = top + 22.0;
    let foot = first + ROW_PX * rows(scale).len() as f64;
    for (v, text) in &axis.ticks {
        svg.line("g", [x(*v), first], [x(*v), foot]);
        svg.line("q", [x(*v), foot], [x(*v), foot + 4.0]);
        svg.text("m sm", [x(*v), foot + 18.0], Anchor::Middle, text);
    }
    svg.line("q", [LEFT_PX, foot], [LEFT_PX + width, foot]);
    svg.text("sm", [LEFT_PX - 12.0, foot + 18.0], Anchor::End, unit.symbol);
    for (i, row) in rows(scale).iter().enumerate() {
        draw_row(svg, scale, row, first + ROW_PX * i as f64, &x);
    }
}

fn summary(scale: &TravelScale, unit: &Scale) -> String {
    let gaps: Vec<String> = missing(scale)
        .into_iter()
        .flatten()
        .map(|m| format!("{} missing {}", unit.show(m.amount), m.place))
        .collect();
    if !gaps.is_empty() {
        return gaps.join(", ");
    }
    match used(scale) {
        Some((a, b)) if a < b => format!("uses {} to {}", unit.show(a), unit.show(b)),
        Some((a, _)) => format!("stays at {}", unit.show(a)),
        None => "no value found".into(),
    }
}

fn draw_row(svg: &mut Svg, scale: &TravelScale, row: &Row, top: f64, x: &impl Fn(f64) -> f64) {
    let middle = top + ROW_PX - 6.0 - 0.5 * BAR_PX;
    let (y, bottom) = (middle - 0.5 * BAR_PX, middle + 0.5 * BAR_PX);
    let bar = |a: f64, b: f64| Rect {
        x_px: x(a).min(x(b)),
        y_px: y,
        width_px: (x(b) - x(a)).abs(),
        height_px: BAR_PX,
    };
    let ring = |r: Rect| {
        [
            [r.x_px, r.y_px],
            [r.right_px(), r.y_px],
            [r.right_px(), r.bottom_px()],
            [r.x_px, r.bottom_px()],
        ]
    };
    if !row.name.is_empty() {
        let name = fitted(&row.name, TEXT_PX, LEFT_PX - 28.0);
        svg.text("", [LEFT_PX - 12.0, middle + 5.0], Anchor::End, &name);
    }
    if usable(scale.low) && usable(scale.high) {
        svg.rect("bf", bar(scale.low, scale.high));
        if let Some(most) = scale.usable.filter(|v| usable(*v) && *v < scale.high) {
            let kept = bar(most, scale.high);
            svg.hatched(Hatch::Down, &ring(kept));
            svg.line("k", [x(most), y], [x(most), bottom]);
        }
        svg.rect("q", bar(scale.low, scale.high));
    }
    let marks = || row.marks.iter().filter(|m| usable(m.value));
    if let Some((a, b)) = span(marks().map(|m| m.value)) {
        svg.rect("w0 s1 c0", bar(a, b));
    }
    // What is missing lies beyond the end: rust, dashed outline, hatched.
    let most = scale.usable.unwrap_or(scale.high);
    let own = span(marks().map(|m| m.value));
    let gaps = match scale.needed {
        Some([low, high]) => [(low, scale.low), (most, high)],
        None => own.map_or([(0.0, 0.0); 2], |(a, b)| [(a, scale.low), (most, b)]),
    };
    for (a, b) in gaps {
        if usable(a) && usable(b) && b > a {
            let r = bar(a, b);
            svg.hatched(Hatch::Up, &ring(r));
            svg.rect("s1 c1 d2", r);
        }
    }
    // What stands first in the list lies on top.
    for m in row.marks.iter().rev().filter(|m| usable(m.value)) {
        draw_mark(svg, m, [x(m.value), middle]);
    }
    label_ends(svg, row, y - 5.0, x);
}

/// Names the lowest and the highest case above the bar.
fn label_ends(svg: &mut Svg, row: &Row, base: f64, x: &impl Fn(f64) -> f64) {
    const AWAY_PX: f64 = -2.0;
    /// Less room than this holds no name that says something.
    const LEAST_PX: f64 = 60.0;
    let marks = || row.marks.iter().filter(|m| usable(m.value));
    // The first of equals, from both ends.
    let low = marks().min_by(|a, b| a.value.total_cmp(&b.value));
    let high = marks().rev().max_by(|a, b| a.value.total_cmp(&b.value));
    let (Some(low), Some(high)) = (low, high) else {
        return;
    };
    if low.value == high.value {
        return;
    }
    let (mut a, mut b) = (x(low.value), x(high.value));
    // Never closer together than a gap that keeps the two names apart.
    let apart = (0.5 * (12.0 - (b - a))).max(0.0);
    (a, b) = (a - apart, b + apart);
    let right = WIDTH_PX - RIGHT_PX;
    let (from, to) = (a - AWAY_PX, b + AWAY_PX);
    let width = |m: &Mark| text_width_px(&m.case, SMALL_PX);
    // Outward from the end of the span; where that leaves too little room, flush with the scale's end as
    // long as the two names keep apart.
    if width(low) <= from - LEFT_PX {
        svg.text("sm", [from, base], Anchor::End, &low.case);
    } else if LEFT_PX + width(low) < to - 8.0 {
        svg.text("sm", [LEFT_PX, base], Anchor::Start, &low.case);
    } else if from - LEFT_PX > LEAST_PX {
        let text = fitted(&low.case, SMALL_PX, from - LEFT_PX);
        svg.text("sm", [from, base], Anchor::End, &text);
    }
    let taken = from.max(LEFT_PX + width(low));
    if width(high) <= right - to {
        svg.text("sm", [to, base], Anchor::Start, &high.case);
    } else if right - width(high) > taken + 8.0 {
        svg.text("sm", [right, base], Anchor::End, &high.case);
    } else if right - to > LEAST_PX {
        let text = fitted(&high.case, SMALL_PX, right - to);
        svg.text("sm", [to, base], Anchor::Start, &text);
    }
}

fn draw_mark(svg: &mut Svg, mark: &Mark, at: [f64; 2]) {
    let [x, y] = at;
    if !mark.answered {
        for d in [6.0, -6.0] {
            svg.line("s c1", [x - 6.0, y - d], [x + 6.0, y + d]);
        }
        return;
    }
    match mark.kind {
        Kind::Written => svg.circle("kf", at, 4.0),
        Kind::Single => svg.line("s c0", [x, y - 8.0], [x, y + 8.0]),
        Kind::Together => svg.polygon(
            "pf s1 c3",
            &[[x, y - 7.0], [x + 5.0, y], [x, y + 7.0], [x - 5.0, y]],
        ),
    }
}

/// The shapes in words, two lines at the foot.
fn legend(svg: &mut Svg, top: f64) {
    let sample = |kind, answered| Mark {
        value: 0.0,
        case: String::new(),
        kind,
        answered,
    };
    let lines: [&[(Option<Mark>, &str)]; 2] = [
        &[
            (Some(sample(Kind::Written, true)), "as written"),
            (Some(sample(Kind::Single, true)), "one at its 5 % or 95 % end"),
            (Some(sample(Kind::Together, true)), "all together"),
            (Some(sample(Kind::Single, false)), "not answered"),
        ],
        &[
            (None, "hatched rising: missing"),
            (None, "hatched falling: top speed kept free"),
        ],
    ];
    for (i, line) in lines.iter().enumerate() {
        let y = top + 26.0 * i as f64;
        let mut x = 24.0;
        for (j, (mark, text)) in line.iter().enumerate() {
            match mark {
                Some(m) => draw_mark(svg, m, [x, y]),
                None => {
                    let hatch = if j == 0 { Hatch::Up } else { Hatch::Down };
                    let (a, b) = (x - 8.0, x + 8.0);
                    svg.hatched(hatch, &[[a, y - 7.0], [b, y - 7.0], [b, y + 7.0], [a, y + 7.0]]);
                    let class = if j == 0 { "s1 c1 d2" } else { "q" };
                    svg.polygon(class, &[[a, y - 7.0], [b, y - 7.0], [b, y + 7.0], [a, y + 7.0]]);
                }
            }
            svg.text("m sm", [x + 13.0, y + 4.5], Anchor::Start, text);
            x += 13.0 + label_width_px(text) + 24.0;
        }
    }
}
