//! What to do next: points for each day of work with their range, how matches score, and what the points depend on.

use arcwright_model::season::rank::{Ranked, SeasonAnswer};

use super::WIDTH_PX;
use crate::geometry::{Rect, span};
use crate::marks::{TEXT_PX, heading, point};
use crate::place::fitted;
use crate::svg::{Anchor, Svg};
use crate::units::plain;

/// What the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonPicture {
    /// The answer.
    pub answer: SeasonAnswer,
    /// Score to beat.
    pub beat_count: Option<f64>,
}

const TITLE: &str = "What to do next";
const NAME_PX: f64 = 190.0;
const ROW_PX: f64 = 30.0;
const TOP_PX: f64 = 84.0;
const BARS_PX: f64 = 110.0;
const LEAN_PX: f64 = 24.0;
/// Most rows; more changes are counted in words.
const MOST_ROWS: usize = 12;

fn shown(input: &SeasonPicture) -> &[Ranked] {
    let all = &input.answer.ranked;
    all.get(..MOST_ROWS.min(all.len())).unwrap_or(&[])
}

fn second(input: &SeasonPicture) -> String {
    let hidden = input.answer.ranked.len().saturating_sub(MOST_ROWS);
    let more = if hidden > 0 {
        format!("; {hidden} more below these")
    } else {
        String::new()
    };
    format!("points gained in a match for each day of work; the line holds it nine times in ten{more}")
}

/// Draws the picture.
pub fn draw(input: &SeasonPicture) -> String {
    let rows = shown(input);
    let foot = TOP_PX + rows.len() as f64 * ROW_PX;
    let second_foot = foot + 60.0 + BARS_PX + 50.0;
    let leans = input.answer.leans.len() as f64;
    let height = second_foot
        + if leans > 0.0 {
            56.0 + leans * LEAN_PX + 26.0
        } else {
            0.0
        };
    let mut svg = Svg::new("season", WIDTH_PX, height);
    heading(&mut svg, TITLE, &second(input));
    let ends = rows.iter().flat_map(|r| r.per_day_range_count).chain([0.0]);
    let (low, high) = span(ends).unwrap_or((0.0, 1.0));
    let pad = 0.08 * (high - low).max(1e-6);
    let (low, high) = (low - pad, high + pad);
    let (left, right) = (NAME_PX + 16.0, WIDTH_PX - 24.0);
    let x = |v: f64| left + (v - low) / (high - low) * (right - left);
    svg.line("q qd", [x(0.0), TOP_PX - 12.0], [x(0.0), foot]);
    svg.text("m sm", [x(0.0), foot + 16.0], Anchor::Middle, "0");
    for (i, r) in rows.iter().enumerate() {
        let y = TOP_PX + (i as f64 + 0.5) * ROW_PX;
        let name = fitted(&r.name, TEXT_PX, NAME_PX - 8.0);
        svg.text("", [16.0, y + 5.0], Anchor::Start, &name);
        let [a, b] = r.per_day_range_count;
        svg.line("s c0", [x(a), y], [x(b), y]);
        for end in [a, b] {
            svg.line("s1 c0", [x(end), y - 5.0], [x(end), y + 5.0]);
        }
        point(&mut svg, 0, "s c0", [x(r.per_day_count), y], 5.0);
        svg.text(
            "halo sm",
            [x(r.per_day_count), y - 9.0],
            Anchor::Middle,
            &plain(r.per_day_count, 1),
        );
    }
    bars(input, &mut svg, foot + 60.0, [left, right]);
    depends(input, &mut svg, second_foot, [left, right]);
    svg.finish(TITLE, &words(input))
}

fn bars(input: &SeasonPicture, svg: &mut Svg, top: f64, [left, right]: [f64; 2]) {
    let p = &input.answer.now;
    let most = p.bars.iter().map(|b| b.1).fold(0.0, f64::max);
    svg.text("b", [16.0, top + 14.0], Anchor::Start, "Points of a match");
    svg.text(
        "m",
        [16.0, top + 33.0],
        Anchor::Start,
        &format!("mean {}", plain(p.mean_count, 0)),
    );
    let (Some(first), true) = (p.bars.first(), most > 0.0) else {
        return;
    };
    let n = p.bars.len() as f64;
    let width = (right - left) / n;
    let foot = top + BARS_PX;
    for (i, (_, share)) in p.bars.iter().enumerate() {
        let height = share / most * BARS_PX;
        let rect = Rect {
            x_px: left + i as f64 * width,
            y_px: foot - height,
            width_px: (width - 2.0).max(1.0),
            height_px: height,
        };
        svg.rect("f2", rect);
    }
    svg.line("k", [left, foot], [right, foot]);
    let end = first.0 + n * p.bar_count;
    svg.text("m sm", [left, foot + 18.0], Anchor::Start, &plain(first.0, 0));
    svg.text("m sm", [right, foot + 18.0], Anchor::End, &plain(end, 0));
    if let Some(beat) = input.beat_count.filter(|b| *b > first.0 && *b < end) {
        let at = left + (beat - first.0) / (end - first.0) * (right - left);
        svg.line("k qd", [at, top - 6.0], [at, foot]);
        svg.text(
            "halo sm",
            [at, top - 10.0],
            Anchor::Middle,
            &format!("{} to beat", plain(beat, 0)),
        );
    }
}

/// What the points depend on: each input a fifth lower (ring) and higher (filled).
fn depends(input: &SeasonPicture, svg: &mut Svg, top: f64, [left, right]: [f64; 2]) {
    let all = &input.answer.leans;
    let ends = all.iter().flat_map(|l| [l.lower_count, l.higher_count]);
    let Some((low, high)) = span(ends.chain([input.answer.now.mean_count])) else {
        return;
    };
    svg.text(
        "b",
        [16.0, top + 14.0],
        Anchor::Start,
        "What the points depend on",
    );
    svg.text(
        "m sm",
        [16.0, top + 33.0],
        Anchor::Start,
        "points of a match with each input a fifth lower (ring) and higher (filled)",
    );
    let pad = 0.1 * (high - low).max(1e-6);
    let (low, high) = (low - pad, high + pad);
    let (left, right) = (left + 30.0, right - 14.0);
    let x = |v: f64| left + (v - low) / (high - low) * (right - left);
    let first = top + 50.0;
    let foot = first + all.len() as f64 * LEAN_PX;
    let now = x(input.answer.now.mean_count);
    svg.line("q qd", [now, first], [now, foot]);
    let mean = format!("now {}", plain(input.answer.now.mean_count, 0));
    svg.text("m sm", [now, foot + 16.0], Anchor::Middle, &mean);
    for (i, l) in all.iter().enumerate() {
        let y = first + (i as f64 + 0.5) * LEAN_PX;
        svg.text(
            "",
            [16.0, y + 5.0],
            Anchor::Start,
            &fitted(l.what, TEXT_PX, NAME_PX + 20.0),
        );
        let (a, b) = (x(l.lower_count), x(l.higher_count));
        svg.line("s c1", [a, y], [b, y]);
        svg.circle("pf", [a, y], 4.5);
        svg.circle("s c1", [a, y], 4.5);
        svg.circle("f1", [b, y], 5.0);
        let (l_at, r_at) = if a < b { (a, b) } else { (b, a) };
        let least = l.lower_count.min(l.higher_count);
        let most = l.lower_count.max(l.higher_count);
        svg.text("sm", [l_at - 9.0, y + 5.0], Anchor::End, &plain(least, 0));
        svg.text("sm", [r_at + 9.0, y + 5.0], Anchor::Start, &plain(most, 0));
    }
}

/// The picture in words.
pub fn words(input: &SeasonPicture) -> String {
    let mut text = format!("{TITLE}: {}.", second(input));
    for (i, r) in shown(input).iter().enumerate() {
        let [a, b] = r.per_day_range_count;
        text.push_str(&format!(
            " {}: {}, {} a day, {} to {}.",
            i + 1,
            r.name.trim(),
            plain(r.per_day_count, 1),
            plain(a, 1),
            plain(b, 1)
        ));
    }
    let p = &input.answer.now;
    let [low, middle, high] = p.tenths_count;
    text.push_str(&format!(
        " A match now scores {} on average, {} on a bad day, {} on a middling one, {} on a good one.",
        plain(p.mean_count, 0),
        plain(low, 0),
        plain(middle, 0),
        plain(high, 0)
    ));
    for l in &input.answer.leans {
        text.push_str(&format!(
            " With {} a fifth lower {}, higher {}.",
            l.what,
            plain(l.lower_count, 0),
            plain(l.higher_count, 0)
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use arcwright_model::season::rank::{Lean, Points};

    fn picture() -> SeasonPicture {
        let ranked = |index: usize, name: &str, per_day: f64| Ranked {
            index,
            name: name.into(),
            days_count: 2.0,
            money_count: 0.0,
            gain_count: 2.0 * per_day,
            gain_range_count: [per_day, 3.0 * per_day],
            per_day_count: per_day,
            per_day_range_count: [0.5 * per_day, 1.5 * per_day],
            best_frac: 0.5,
            beats_frac: None,
            beats_range_frac: None,
            rounds_count: 8.0,
            round_s: 14.0,
        };
        SeasonPicture {
            answer: SeasonAnswer {
                now: Points {
                    mean_count: 60.0,
                    sd_count: 8.0,
                    tenths_count: [50.0, 60.0, 70.0],
                    beats_frac: Some(0.4),
                    beats_range_frac: Some([0.2, 0.6]),
                    bars: vec![(40.0, 0.25), (50.0, 0.5), (60.0, 0.25)],
                    bar_count: 10.0,
                },
                rounds_count: 8.0,
                thrown_count: 34.0,
                in_count: 20.0,
                ranked: vec![ranked(1, "floor <intake>", 4.0), ranked(0, "sideways drive", 1.0)],
                leans: vec![Lean {
                    what: "misses",
                    lower_count: 64.0,
                    higher_count: 55.0,
                    first_lower: Some(1),
                    first_higher: Some(1),
                }],
                first_until_days_count: Some(8.0),
            },
            beat_count: Some(62.0),
        }
    }

    #[test]
    fn every_change_has_its_line_and_the_score_to_beat_is_marked() {
        let svg = draw(&picture());
        assert!(svg.contains("floor &lt;intake&gt;") && svg.contains("62 to beat"));
        assert!(
            words(&picture()).contains("1: floor <intake>, 4.0 a day, 2.0 to 6.0."),
            "{}",
            words(&picture())
        );
        assert!(words(&picture()).contains("50 on a bad day"));
        assert!(words(&picture()).contains("With misses a fifth lower 64, higher 55."));
        assert!(svg.contains(">misses</text>") && svg.contains(">55</text>") && svg.contains(">64</text>"));
    }

    #[test]
    fn no_changes_and_no_matches_still_draw() {
        let mut empty = picture();
        empty.answer.ranked.clear();
        empty.answer.now.bars.clear();
        assert!(draw(&empty).ends_with("</svg>\n") || draw(&empty).contains("</svg>"));
    }
}
