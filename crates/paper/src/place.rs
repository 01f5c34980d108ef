//! Where labels go: how wide a text is, and how to keep texts apart.

use crate::geometry::{Point, Rect};

/// Height of a line of text over its size.
pub const LINE_RATIO: f64 = 1.25;

/// Widths are those of a common sans face; system faces run up to this much wider.
const WIDER_RATIO: f64 = 1.13;

/// Width of a text in any system sans face, on the wide side.
pub fn text_width_px(text: &str, size_px: f64) -> f64 {
    WIDER_RATIO * size_px * text.chars().map(char_width_ratio).sum::<f64>()
}

/// Advance width over type size, by class of character; measured classes of a common sans face.
fn char_width_ratio(c: char) -> f64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' => 0.23,
        ' ' | '\u{a0}' | '.' | ',' | ':' | ';' | '/' | 'f' | 't' | 'I' | '!' | '·' => 0.28,
        'r' | '(' | ')' | '-' | '[' | ']' | '"' => 0.34,
        '°' => 0.4,
        'c' | 'k' | 's' | 'v' | 'x' | 'y' | 'z' | 'J' => 0.5,
        'm' | '%' | 'M' | 'W' | '@' | '…' => 0.9,
        'w' => 0.72,
        'A' | 'B' | 'E' | 'K' | 'P' | 'S' | 'V' | 'X' | 'Y' => 0.68,
        'C' | 'D' | 'G' | 'H' | 'N' | 'O' | 'Q' | 'R' | 'U' => 0.77,
        '−' | '±' | '+' | '=' | '<' | '>' | '×' => 0.6,
        c if (c as u32) < 0x250 => 0.57,
        c if (c as u32) < 0x1100 => 0.7,
        _ => 1.05,
    }
}

/// The text, or as much of its start as fits, with an ellipsis.
pub fn fitted(text: &str, size_px: f64, width_px: f64) -> String {
    if text_width_px(text, size_px) <= width_px {
        return text.to_string();
    }
    let room = width_px - text_width_px("…", size_px);
    let mut used = 0.0;
    let mut out = String::new();
    for c in text.chars() {
        used += WIDER_RATIO * size_px * char_width_ratio(c);
        if used > room {
            break;
        }
        out.push(c);
    }
    format!("{}…", out.trim_end())
}

/// The text in lines that fit the width, broken between words; a word that is too long is cut, and
/// what does not fit into `most` lines ends in an ellipsis.
pub fn wrapped(text: &str, size_px: f64, width_px: f64, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    if most == 0 {
        return lines;
    }
    // A break-proof space holds its words together, so only the plain ones count.
    for word in text.split([' ', '\n', '\t', '\r']).filter(|w| !w.is_empty()) {
        let full = lines.len() == most;
        match lines.last_mut() {
            Some(line) if full || text_width_px(&format!("{line} {word}"), size_px) <= width_px => {
                // No longer than what the ellipsis needs to show that more follows.
                if text_width_px(line, size_px) <= width_px {
                    line.push(' ');
                    line.push_str(word);
                }
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines.iter().map(|line| fitted(line, size_px, width_px)).collect()
}

/// Left ends of things of the given widths set in rows like words: x, and the row they are in.
pub fn in_rows(widths_px: &[f64], gap_px: f64, width_px: f64) -> Vec<(f64, usize)> {
    let (mut x, mut row) = (0.0, 0);
    widths_px
        .iter()
        .map(|w| {
            if x > 0.0 && x + w > width_px {
                (x, row) = (0.0, row + 1);
            }
            let at = (x, row);
            x += w + gap_px;
            at
        })
        .collect()
}

/// Finds free room for labels among labels and lines that are already there.
#[derive(Clone, Debug)]
pub struct Placer {
    /// Cost of being one further down the list of candidates, against a unit of crossed line.
    pub order_cost_ratio: f64,
    room: Rect,
    taken: Vec<Rect>,
    lines: Vec<(Point, Point)>,
    ties: Vec<(Point, Point)>,
}

/// A place for a label, and whether it is free of other labels and inside the room.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Where.
    pub rect: Rect,
    /// No label is covered, nothing is cut off.
    pub free: bool,
}

/// Cost of a square unit of covered label against a unit of crossed line.
const COVER_COST: f64 = 50.0;
/// For long lists along a line, whose places are all about as good.
const ORDER_COST: f64 = 0.05;
/// Rounding: less than this of a label may be covered.
const TOUCH_PX2: f64 = 0.01;

/// Places for a label above and below a level line of a strip, from right to left.
pub(crate) fn along_level(
    strip: &Rect,
    y_px: f64,
    size_px: [f64; 2],
    gap_px: f64,
) -> impl Iterator<Item = Rect> {
    let [width_px, height_px] = size_px;
    let (right, room) = (
        strip.right_px() - width_px - 6.0,
        strip.width_px - width_px - 12.0,
    );
    (0..12).flat_map(move |i| {
        let x_px = right - f64::from(i) * room / 11.0;
        [y_px - height_px - gap_px, y_px + gap_px].map(|y_px| Rect {
            x_px,
            y_px,
            width_px,
            height_px,
        })
    })
}

impl Placer {
    /// Labels must stay inside `room`.
    pub fn new(room: Rect) -> Placer {
        Placer {
            order_cost_ratio: ORDER_COST,
            room,
            taken: Vec::new(),
            lines: Vec::new(),
            ties: Vec::new(),
        }
    }

    /// Takes a rectangle.
    pub fn take(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// Notes a line that labels should rather not cross.
    pub fn avoid(&mut self, line: &[Point]) {
        self.lines.extend(line.windows(2).filter_map(|w| match w {
            [a, b] => Some((*a, *b)),
            _ => None,
        }));
    }

    /// The best of the candidates, preferred first. Takes it when it is free.
    pub fn place(&mut self, candidates: impl IntoIterator<Item = Rect>) -> Option<Place> {
        self.place_tied(None, candidates)
    }

    /// The same for a label that a thin line ties to a point: that line should not run through
    /// other labels either, and later labels stay off it.
    pub fn place_tied(
        &mut self,
        point: Option<Point>,
        candidates: impl IntoIterator<Item = Rect>,
    ) -> Option<Place> {
        let tie = |rect: &Rect| point.map(|p| (p, rect.nearest(p)));
        let mut best: Option<(f64, Place)> = None;
        for (order, rect) in candidates.into_iter().enumerate() {
            let outside = rect.width_px * rect.height_px - rect.shared_px2(&self.room);
            let covered: f64 = self.taken.iter().map(|t| t.shared_px2(&rect)).sum();
            let covered = covered + self.ties.iter().map(|(a, b)| rect.inside_px(*a, *b)).sum::<f64>();
            let crossed: f64 = self.lines.iter().map(|(a, b)| rect.inside_px(*a, *b)).sum();
            let struck: f64 =
                tie(&rect).map_or(0.0, |(a, b)| self.taken.iter().map(|t| t.inside_px(a, b)).sum());
            let cost =
                COVER_COST * (outside + covered + struck) + crossed + self.order_cost_ratio * order as f64;
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((
                    cost,
                    Place {
                        rect,
                        free: outside + covered < TOUCH_PX2,
                    },
                ));
            }
        }
        let place = best.map(|(_, place)| place)?;
        if place.free {
            self.taken.push(place.rect);
            self.ties.extend(tie(&place.rect));
        }
        Some(place)
    }
}

/// Moves centres apart along a line so that things of the given sizes do not overlap, as little
/// as possible in the sum of squares, in the order given; the centres must come in rising order.
/// Stays between `low` and `high` when all fit; otherwise starts at `low` and runs over.
pub fn spread(centres: &[f64], sizes: &[f64], low: f64, high: f64) -> Vec<f64> {
    // Pool adjacent violators: start each where it wants to be, merge neighbours that collide
    // into a block at the mean of what its members want.
    struct Block {
        first_centre: f64,
        total: f64,
        count: usize,
        length: f64,
    }
    let mut blocks: Vec<Block> = Vec::new();
    let total: f64 = sizes.iter().sum();
    for (centre, size) in centres.iter().zip(sizes) {
        let start = centre - 0.5 * size;
        let mut block = Block {
            first_centre: start,
            total: start,
            count: 1,
            length: *size,
        };
        while let Some(before) = blocks.last() {
            if before.first_centre + before.length <= block.first_centre {
                break;
            }
            // Each member of the later block wants the joint start less what stands before it.
            let joint = before.total + block.total - before.length * block.count as f64;
            let count = before.count + block.count;
            block = Block {
                first_centre: joint / count as f64,
                total: joint,
                count,
                length: before.length + block.length,
            };
            blocks.pop();
        }
        blocks.push(block);
    }
    let mut starts: Vec<f64> = Vec::with_capacity(sizes.len());
    let mut rest = sizes.iter();
    for block in &blocks {
        let mut at = block.first_centre;
        for size in rest.by_ref().take(block.count) {
            starts.push(at);
            at += size;
        }
    }
    // Into the limits: push up from the low end, then down from the high end.
    let mut floor = low;
    for (start, size) in starts.iter_mut().zip(sizes) {
        *start = start.max(floor);
        floor = *start + size;
    }
    if total <= high - low {
        let mut ceiling = high;
        for (start, size) in starts.iter_mut().zip(sizes).rev() {
            *start = start.min(ceiling - size);
            ceiling = *start;
        }
    }
    starts
        .iter()
        .zip(sizes)
        .map(|(start, size)| start + 0.5 * size)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_that_want_the_same_place_part_evenly() {
        assert_eq!(spread(&[10.0, 10.0], &[4.0, 4.0], 0.0, 100.0), vec![8.0, 12.0]);
    }

    #[test]
    fn those_with_room_stay_where_they_are() {
        assert_eq!(
            spread(&[5.0, 50.0, 52.0], &[4.0, 4.0, 4.0], 0.0, 100.0),
            vec![5.0, 49.0, 53.0]
        );
    }

    #[test]
    fn limits_hold_when_everything_fits() {
        let at = spread(&[99.0, 99.0, 99.0], &[10.0, 20.0, 10.0], 0.0, 100.0);
        assert_eq!(at, vec![65.0, 80.0, 95.0]);
        assert_eq!(spread(&[-9.0, -9.0], &[10.0, 10.0], 0.0, 100.0), vec![5.0, 15.0]);
        assert_eq!(spread(&[3.0, 3.0], &[10.0, 10.0], 0.0, 15.0), vec![5.0, 15.0]);
        assert!(spread(&[], &[], 0.0, 1.0).is_empty());
    }

    #[test]
    fn a_label_takes_the_first_free_place_that_no_line_crosses() {
        let at = |x| Rect {
            x_px: x,
            y_px: 0.0,
            width_px: 10.0,
            height_px: 10.0,
        };
        let mut placer = Placer::new(Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: 50.0,
            height_px: 10.0,
        });
        placer.take(at(0.0));
        placer.avoid(&[[15.0, 0.0], [15.0, 10.0]]);
        let found = placer.place([at(-5.0), at(5.0), at(12.0), at(20.0)]).unwrap();
        assert_eq!(
            found,
            Place {
                rect: at(20.0),
                free: true
            }
        );
        assert!(!placer.place([at(22.0)]).unwrap().free);
        assert_eq!(placer.place([]), None);
    }

    #[test]
    fn the_line_that_ties_a_label_runs_through_no_other_label() {
        let room = Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: 100.0,
            height_px: 100.0,
        };
        let at = |x, y| Rect {
            x_px: x,
            y_px: y,
            width_px: 10.0,
            height_px: 10.0,
        };
        let mut placer = Placer::new(room);
        placer.take(at(20.0, 0.0));
        let choice = [at(40.0, 0.0), at(0.0, 40.0)];
        assert_eq!(placer.clone().place(choice).unwrap().rect, choice[0]);
        assert_eq!(
            placer.place_tied(Some([5.0, 5.0]), choice).unwrap().rect,
            choice[1]
        );
        // The tie now runs down the left side; the next label gives way to it.
        assert!(!placer.place([at(0.0, 20.0)]).unwrap().free);
    }

    #[test]
    fn a_wrapped_text_keeps_every_word_and_every_line_fits() {
        let text = "spin-up is the only limit that binds, and every gram at the rim costs time";
        let lines = wrapped(text, 14.0, 160.0, 9);
        assert!(lines.len() > 3, "{lines:?}");
        assert_eq!(lines.join(" "), text);
        assert!(lines.iter().all(|l| text_width_px(l, 14.0) <= 160.0), "{lines:?}");
        let cut = wrapped(text, 14.0, 160.0, 2);
        assert_eq!(cut.len(), 2);
        assert_eq!(cut[0], lines[0]);
        assert!(
            cut[1].ends_with('…') && text_width_px(&cut[1], 14.0) <= 160.0,
            "{cut:?}"
        );
        let word = wrapped(&"long".repeat(60), 14.0, 160.0, 9);
        assert!(word.len() == 1 && word[0].ends_with('…'), "{word:?}");
        assert!(wrapped(" \n ", 14.0, 160.0, 9).is_empty());
        assert!(wrapped(text, 14.0, 160.0, 0).is_empty());
    }

    #[test]
    fn things_in_rows_start_a_row_when_the_last_is_full() {
        let at = in_rows(&[40.0, 50.0, 30.0, 200.0, 10.0], 10.0, 100.0);
        assert_eq!(at, [(0.0, 0), (50.0, 0), (0.0, 1), (0.0, 2), (0.0, 3)]);
    }

    #[test]
    fn a_long_name_is_cut_and_a_short_one_is_not() {
        assert_eq!(fitted("near", 14.0, 60.0), "near");
        let cut = fitted("the far corner behind the old net store", 14.0, 100.0);
        assert!(cut.ends_with('…') && cut.chars().count() > 8, "{cut}");
        assert!(text_width_px(&cut, 14.0) <= 100.0);
    }
}
