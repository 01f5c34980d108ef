//! Error budget: which cause makes how much of the scatter, along and across, for each spot.

use arcwright_model::project::UnitSystem;

use super::{MOST_SHOWN, WIDTH_PX, counted};
use crate::geometry::{Rect, span, usable};
use crate::marks::{TEXT_PX, heading};
use crate::place::{fitted, text_width_px, wrapped};
use crate::svg::{Anchor, Hatch, Svg};
use crate::units::{Units, plain};

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetPicture {
    /// Heading.
    pub title: String,
    /// Units shown.
    pub units: UnitSystem,
    /// The spots.
    pub spots: Vec<BudgetSpot>,
}

/// The budget of one spot.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetSpot {
    /// The spot.
    pub name: String,
    /// Standard deviation of the crossings along.
    pub along_sd_m: f64,
    /// Standard deviation of the crossings across.
    pub across_sd_m: f64,
    /// What makes them vary, in any order.
    pub causes: Vec<BudgetCause>,
}

/// One cause of scatter.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetCause {
    /// What varies.
    pub name: String,
    /// Its share of the variance along.
    pub along: Share,
    /// Its share of the variance across.
    pub across: Share,
}

/// Shares of a variance, each with its standard error.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// Of the cause by itself (first order).
    pub first_frac: f64,
    /// Standard error of that.
    pub first_se_frac: f64,
    /// Of the cause with all that comes only together with others (total order).
    pub total_frac: f64,
    /// Standard error of that.
    pub total_se_frac: f64,
}

/// What fewer than this share of both variances comes from is gathered in one line. Physical: nobody
/// mends a machine for one part in a hundred.
const LEAST_FRAC: f64 = 0.01;
/// Method: most causes of a spot with a line of their own.
const MOST_CAUSES: usize = 14;
const LEFT_PX: f64 = 16.0;
/// Left end of the bars, along and across.
const BARS_PX: [f64; 2] = [192.0, 414.0];
/// Length of the bars' axis.
const AXIS_PX: f64 = 130.0;
/// Room for the numbers right of a bar.
const NUMBER_PX: f64 = 80.0;
const ROW_PX: f64 = 27.0;
const BAR_PX: f64 = 12.0;
const TOP_PX: f64 = 66.0;
/// Name of the spot and the heads of the columns.
const HEAD_PX: f64 = 50.0;

/// Draws the picture.
pub fn draw(input: &BudgetPicture) -> String {
    let units = Units::of(input.units);
    let spots: Vec<(&BudgetSpot, Vec<BudgetCause>)> = input
        .spots
        .iter()
        .take(MOST_SHOWN)
        .map(|s| (s, rows(s)))
        .collect();
    let height = |rows: usize| HEAD_PX + rows.max(1) as f64 * ROW_PX + 22.0;
    let foot = TOP_PX + spots.iter().map(|(_, r)| height(r.len())).sum::<f64>();
    let mut svg = Svg::new("budget", WIDTH_PX, foot + 56.0);
    let room = WIDTH_PX - 2.0 * LEFT_PX;
    heading(
        &mut svg,
        &fitted(&input.title, 1.1 * 17.0, room),
        &second_line(input),
    );
    let full_frac = full_frac(spots.iter().flat_map(|(_, rows)| rows));
    let mut y_px = TOP_PX;
    for (spot, rows) in &spots {
        draw_spot(&mut svg, y_px, (spot, rows), full_frac, &units);
        y_px += height(rows.len());
    }
    draw_legend(&mut svg, foot);
    svg.finish(&input.title, &words(input))
}

/// The picture in words.
pub fn words(input: &BudgetPicture) -> String {
    let units = Units::of(input.units);
    let mut text = format!("{}: {}.", input.title.trim(), second_line(input));
    if input.spots.is_empty() {
        text.push_str(" No spot was looked at, so there is nothing to share out.");
    }
    for spot in input.spots.iter().take(MOST_SHOWN) {
        text.push_str(&format!(" {}: {}.", spot.name, spread(spot, &units).join(", ")));
        for (name, pick) in SIDES {
            let mut rows = rows(spot);
            rows.sort_by(|a, b| order(pick(b).total_frac).total_cmp(&order(pick(a).total_frac)));
            let parts: Vec<String> = rows
                .iter()
                .filter(|c| pick(c).total_frac >= LEAST_FRAC)
                .map(|c| {
                    let share = pick(c);
                    format!(
                        "{} {} (±{})",
                        c.name,
                        percent(share).replace(" + ", " by itself and with others "),
                        units.share.show(share.total_se_frac)
                    )
                })
                .collect();
            if !parts.is_empty() {
                text.push_str(&format!(" Variance {name}: {}.", parts.join(", ")));
            }
        }
    }
    text
}

type Side = (&'static str, fn(&BudgetCause) -> &Share);
const SIDES: [Side; 2] = [("along", |c| &c.along), ("across", |c| &c.across)];

fn second_line(input: &BudgetPicture) -> String {
    let hidden = input.spots.len().saturating_sub(MOST_SHOWN);
    let more = if hidden > 0 {
        format!(", the first {MOST_SHOWN} shown")
    } else {
        String::new()
    };
    format!(
        "shares of the variance at {}{more}",
        counted(input.spots.len(), "spot", "spots")
    )
}

fn spread(spot: &BudgetSpot, units: &Units) -> [String; 2] {
    [("along", spot.along_sd_m), ("across", spot.across_sd_m)]
        .map(|(name, sd_m)| format!("{name} ±{}", units.length.show(sd_m)))
}

/// A share to sort by: one that is no number goes last.
fn order(frac: f64) -> f64 {
    if usable(frac) { frac } else { f64::NEG_INFINITY }
}

/// The causes in the order of their part in the whole variance, the small ones gathered at the end.
fn rows(spot: &BudgetSpot) -> Vec<BudgetCause> {
    let variance = |sd_m: f64| if usable(sd_m) { sd_m * sd_m } else { 0.0 };
    let (mut a, mut b) = (variance(spot.along_sd_m), variance(spot.across_sd_m));
    if a + b <= 0.0 {
        (a, b) = (1.0, 1.0);
    }
    let part = |c: &BudgetCause| {
        let of = |frac: f64| if usable(frac) { frac } else { 0.0 };
        a * of(c.along.total_frac) + b * of(c.across.total_frac)
    };
    let mut causes: Vec<&BudgetCause> = spot.causes.iter().collect();
    causes.sort_by(|x, y| part(y).total_cmp(&part(x)));
    let large = |c: &BudgetCause| c.along.total_frac >= LEAST_FRAC || c.across.total_frac >= LEAST_FRAC;
    let (shown, small): (Vec<&BudgetCause>, Vec<&BudgetCause>) = causes.into_iter().partition(|c| large(c));
    let (shown, over) = shown.split_at(shown.len().min(MOST_CAUSES));
    let rest: Vec<&BudgetCause> = over.iter().chain(&small).copied().collect();
    let mut rows: Vec<BudgetCause> = shown.iter().map(|c| (*c).clone()).collect();
    match rest.as_slice() {
        [] => {}
        [only] => rows.push((*only).clone()),
        _ => rows.push(BudgetCause {
            name: format!("{} others", rest.len()),
            along: together(rest.iter().map(|c| &c.along)),
            across: together(rest.iter().map(|c| &c.across)),
        }),
    }
    rows
}

/// Upper end of the axis: a fifth, two fifths ... of the variance, so that its half and quarters are
/// whole per cents.
fn full_frac<'a>(causes: impl Iterator<Item = &'a BudgetCause>) -> f64 {
    let ends = causes.flat_map(|c| [&c.along, &c.across]).map(|s| {
        let [alone, joint] = parts(s);
        alone + joint + s.total_se_frac.abs()
    });
    let (_, high) = span(ends).unwrap_or((0.0, 1.0));
    (5.0 * high).ceil().clamp(1.0, 5.0) / 5.0
}

/// Sum of shares; their errors as of independent estimates.
fn together<'a>(shares: impl Iterator<Item = &'a Share>) -> Share {
    let add = |sum: f64, v: f64| if usable(v) { sum + v } else { sum };
    let root = |sum: f64, v: f64| if usable(v) { sum.hypot(v) } else { sum };
    shares.fold(Share::default(), |sum, s| Share {
        first_frac: add(sum.first_frac, s.first_frac),
        first_se_frac: root(sum.first_se_frac, s.first_se_frac),
        total_frac: add(sum.total_frac, s.total_frac),
        total_se_frac: root(sum.total_se_frac, s.total_se_frac),
    })
}

/// By itself, and what it makes only together with others; neither below zero, as an estimate may be.
fn parts(share: &Share) -> [f64; 2] {
    let of = |v: f64| if usable(v) { v.max(0.0) } else { 0.0 };
    let total = of(share.total_frac).max(of(share.first_frac));
    [of(share.first_frac), total - of(share.first_frac)]
}

/// "55 %" or, where others have a hand in it, "55 + 7 %".
fn percent(share: &Share) -> String {
    if !usable(share.first_frac) && !usable(share.total_frac) {
        return "–".to_string();
    }
    let [alone, joint] = parts(share);
    // A tenth of a per cent counts only where there are few.
    let decimals = usize::from(alone + joint < 0.0995);
    let text = |frac: f64| {
        let text = plain(100.0 * frac, decimals);
        text.strip_suffix(".0")
            .filter(|t| *t == "0")
            .unwrap_or(&text)
            .to_string()
    };
    if joint >= LEAST_FRAC {
        format!("{} + {}\u{a0}%", text(alone), text(joint))
    } else {
        format!("{}\u{a0}%", text(alone + joint))
    }
}

fn draw_spot(
    svg: &mut Svg,
    top: f64,
    (spot, rows): (&BudgetSpot, &[BudgetCause]),
    full_frac: f64,
    units: &Units,
) {
    svg.line("g", [LEFT_PX, top - 6.0], [WIDTH_PX - LEFT_PX, top - 6.0]);
    let name_px = BARS_PX[0] - LEFT_PX - 10.0;
    svg.text(
        "b",
        [LEFT_PX, top + 14.0],
        Anchor::Start,
        &fitted(&spot.name, 1.1 * TEXT_PX, name_px),
    );
    let first = top + HEAD_PX;
    let foot = first + rows.len().max(1) as f64 * ROW_PX - 4.0;
    for (x, head) in BARS_PX.into_iter().zip(spread(spot, units)) {
        svg.text("b", [x, top + 14.0], Anchor::Start, &head);
        for quarter in 0..=4 {
            let at = x + AXIS_PX * f64::from(quarter) / 4.0;
            svg.line(
                if quarter == 0 { "q" } else { "g" },
                [at, first - 4.0],
                [at, foot],
            );
            if quarter % 2 == 0 {
                let text = format!("{}\u{a0}%", plain(25.0 * full_frac * f64::from(quarter), 0));
                svg.text("m sm", [at, first - 9.0], Anchor::Middle, &text);
            }
        }
    }
    if rows.is_empty() {
        svg.text("m", [LEFT_PX, first + 13.0], Anchor::Start, "nothing varies");
    }
    for (i, cause) in rows.iter().enumerate() {
        let y = first + i as f64 * ROW_PX;
        if text_width_px(&cause.name, TEXT_PX) <= name_px {
            svg.text("", [LEFT_PX, y + 13.0], Anchor::Start, &cause.name);
        } else {
            let lines = wrapped(&cause.name, 13.0, name_px, 2);
            let first_px = if lines.len() > 1 { 6.5 } else { 13.0 };
            for (i, line) in lines.iter().enumerate() {
                svg.text(
                    "sm",
                    [LEFT_PX, y + first_px + 13.0 * i as f64],
                    Anchor::Start,
                    line,
                );
            }
        }
        for (x, (_, pick)) in BARS_PX.into_iter().zip(SIDES) {
            draw_bar(svg, [x, y], pick(cause), full_frac);
        }
    }
}

fn draw_bar(svg: &mut Svg, at: [f64; 2], share: &Share, full_frac: f64) {
    let [x, y] = at;
    let [alone, joint] = parts(share);
    // A total over the whole is an error of the estimate, or much that comes only together.
    let px = |frac: f64| x + AXIS_PX * (frac / full_frac).clamp(0.0, 1.0);
    let (end, tip) = (px(alone), px(alone + joint));
    let bar = |from: f64, to: f64| Rect {
        x_px: from,
        y_px: y + 2.0,
        width_px: to - from,
        height_px: BAR_PX,
    };
    if end > x {
        svg.rect("f0", bar(x, end));
    }
    if tip - end > 0.3 {
        let r = bar(end, tip);
        let (top, foot) = (r.y_px, r.bottom_px());
        svg.hatched(Hatch::Up, &[[end, top], [tip, top], [tip, foot], [end, foot]]);
        svg.rect("s1 c0", r);
    }
    let mut reach = tip;
    let mut whisker = |middle: f64, se: f64, height: f64| {
        let (from, to) = (px(middle - se), px(middle + se));
        if !usable(se) || to - from < 2.0 {
            return;
        }
        svg.line("k", [from, height], [to, height]);
        for end in [from, to] {
            svg.line("k", [end, height - 3.0], [end, height + 3.0]);
        }
        reach = reach.max(to);
    };
    // Over the bar, so that it reads against both fills.
    if joint >= LEAST_FRAC {
        whisker(alone, share.first_se_frac.abs(), y - 1.0);
    }
    whisker(alone + joint, share.total_se_frac.abs(), y + 2.0 + BAR_PX + 3.0);
    svg.text(
        "sm",
        [reach + 6.0, y + 13.0],
        Anchor::Start,
        &fitted(&percent(share), 13.0, NUMBER_PX),
    );
}

fn draw_legend(svg: &mut Svg, foot: f64) {
    let y = foot + 6.0;
    let sample = |x_px: f64| Rect {
        x_px,
        y_px: y,
        width_px: 22.0,
        height_px: BAR_PX,
    };
    svg.rect("f0", sample(LEFT_PX));
    svg.text("m", [LEFT_PX + 30.0, y + 11.0], Anchor::Start, "by itself");
    let r = sample(LEFT_PX + 116.0);
    let (left, right) = (r.x_px, r.right_px());
    svg.hatched(
        Hatch::Up,
        &[
            [left, y],
            [right, y],
            [right, r.bottom_px()],
            [left, r.bottom_px()],
        ],
    );
    svg.rect("s1 c0", r);
    let text = "only together with others (second number)";
    svg.text("m", [right + 8.0, y + 11.0], Anchor::Start, text);
    let y = y + 28.0;
    svg.line("k", [LEFT_PX, y], [LEFT_PX + 22.0, y]);
    for x in [LEFT_PX, LEFT_PX + 22.0] {
        svg.line("k", [x, y - 3.0], [x, y + 3.0]);
    }
    let text = "± one standard error: over the bar of the part by itself, under it of the whole";
    svg.text("m", [LEFT_PX + 30.0, y + 5.0], Anchor::Start, text);
}
