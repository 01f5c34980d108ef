//! Axes with round numbers, and the strip that a graph is drawn in.

use crate::geometry::{Point, Rect, stretches, thinned, usable};
use crate::place::text_width_px;
use crate::svg::{Anchor, Svg};
use crate::units::{Scale, plain};

/// One axis: a range in SI and its marks.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// Lower end, SI.
    pub low: f64,
    /// Upper end, SI.
    pub high: f64,
    /// Marks: SI value and text.
    pub ticks: Vec<(f64, String)>,
}

impl Axis {
    /// An axis that covers the range, ending on marks at the ends that are to be `rounded`
    /// (low, high), with about `count` marks at steps of 1, 2 or 5 times a power of ten in the
    /// unit shown.
    pub fn new(range: (f64, f64), rounded: (bool, bool), count: usize, scale: &Scale) -> Axis {
        let (low, high) = sane(scale.of(range.0), scale.of(range.1));
        let step = step_for(high - low, count);
        let (first, last) = ((low / step).floor(), (high / step).ceil());
        let low = if rounded.0 { first * step } else { low };
        let high = if rounded.1 { last * step } else { high };
        let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
        // Rounding: a mark a hair beyond an end belongs to it.
        let slack = 1e-9 * step;
        let ticks = (0..=(last - first).min(100.0) as u32)
            .map(|i| (first + f64::from(i)) * step)
            .filter(|v| *v >= low - slack && *v <= high + slack)
            .map(|v| (scale.si(v), plain(v, decimals)))
            .collect();
        Axis {
            low: scale.si(low),
            high: scale.si(high),
            ticks,
        }
    }

    /// Where a value lies between the ends, 0 to 1 and beyond.
    pub fn share(&self, v: f64) -> f64 {
        (v - self.low) / (self.high - self.low)
    }
}

/// A range that can be drawn: in order, finite, and not empty.
fn sane(a: f64, b: f64) -> (f64, f64) {
    let (low, high) = match (usable(a), usable(b)) {
        (true, true) => (a.min(b), a.max(b)),
        (true, false) | (false, true) => {
            let v = if usable(a) { a } else { b };
            (v, v)
        }
        (false, false) => (0.0, 1.0),
    };
    // Rounding: closer than this and the marks between would not differ.
    let least = 1e-6 * low.abs().max(high.abs());
    if high - low > least {
        (low, high)
    } else if low == 0.0 {
        (0.0, 1.0)
    } else {
        (low - 0.05 * low.abs(), high + 0.05 * high.abs())
    }
}

fn step_for(length: f64, count: usize) -> f64 {
    let raw = (length / count.max(1) as f64).max(f64::MIN_POSITIVE);
    let power = 10f64.powf(raw.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|m| m * power)
        .find(|s| *s >= 0.999 * raw)
        .unwrap_or(10.0 * power)
}

/// A rectangle with an axis along its foot and one up its left side.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// The rectangle of the graph itself.
    pub rect: Rect,
    /// Along the foot.
    pub x: Axis,
    /// Up the side.
    pub y: Axis,
}

impl Strip {
    /// Where a value pair is in the picture.
    pub fn px(&self, p: Point) -> Point {
        [
            self.rect.x_px + self.x.share(p[0]) * self.rect.width_px,
            self.rect.bottom_px() - self.y.share(p[1]) * self.rect.height_px,
        ]
    }

    /// Height of a value, kept inside the strip.
    pub fn y_px(&self, v: f64) -> f64 {
        self.px([self.x.low, v])[1].clamp(self.rect.y_px, self.rect.bottom_px())
    }

    /// Place of a value along the foot, kept inside the strip.
    pub fn x_px(&self, v: f64) -> f64 {
        self.px([v, self.y.low])[0].clamp(self.rect.x_px, self.rect.right_px())
    }

    /// Grid, frame and marks. An empty `y_title` is left out; `foot` writes the numbers along the foot.
    pub fn frame(&self, svg: &mut Svg, y_title: &str, foot: Option<&str>) {
        let r = &self.rect;
        for (v, text) in &self.y.ticks {
            let y = self.px([self.x.low, *v])[1];
            svg.line("g", [r.x_px, y], [r.right_px(), y]);
            svg.text("m sm", [r.x_px - 7.0, y + 4.5], Anchor::End, text);
        }
        for (v, text) in &self.x.ticks {
            let x = self.px([*v, self.y.low])[0];
            svg.line("g", [x, r.y_px], [x, r.bottom_px()]);
            if foot.is_some() {
                svg.line("q", [x, r.bottom_px()], [x, r.bottom_px() + 4.0]);
                svg.text("m sm", [x, r.bottom_px() + 18.0], Anchor::Middle, text);
            }
        }
        svg.line("q", [r.x_px, r.y_px], [r.x_px, r.bottom_px()]);
        svg.line("q", [r.x_px, r.bottom_px()], [r.right_px(), r.bottom_px()]);
        // Beside the numbers, centred, but never beyond the picture's top or foot.
        let half = 0.5 * text_width_px(y_title, 14.0);
        let area = svg.area();
        let low = area.height_px - half - 4.0;
        let y = (r.y_px + 0.5 * r.height_px).clamp((half + 4.0).min(low), low.max(half + 4.0));
        if !y_title.is_empty() {
            svg.text_upward("", [16.0, y], y_title);
        }
        if let Some(title) = foot {
            svg.text("", [r.right_px(), r.bottom_px() + 38.0], Anchor::End, title);
        }
    }

    /// A line of value pairs in the picture, broken where a value cannot be drawn.
    pub fn lines(&self, points: impl IntoIterator<Item = Point>) -> Vec<Vec<Point>> {
        stretches(points)
            .into_iter()
            .map(|part| thinned(&part.into_iter().map(|p| self.px(p)).collect::<Vec<_>>()))
            .collect()
    }

    /// Draws what [`Strip::lines`] gave, clipped to the strip; a stretch of one point becomes a dot.
    pub fn curve(&self, svg: &mut Svg, class: &str, dot: &str, lines: &[Vec<Point>]) {
        svg.open_clipped(self.rect.grown(2.0));
        for line in lines {
            match line.as_slice() {
                [only] => svg.circle(dot, *only, 3.0),
                _ => svg.polyline(class, line),
            }
        }
        svg.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Units;
    use arcwright_model::project::UnitSystem;

    fn texts(axis: &Axis) -> Vec<&str> {
        axis.ticks.iter().map(|t| t.1.as_str()).collect()
    }

    #[test]
    fn marks_are_round_in_the_unit_shown() {
        let us = Units::of(UnitSystem::Us);
        let axis = Axis::new((0.0, 1.0), (true, true), 4, &us.distance);
        assert_eq!(texts(&axis), ["0", "1", "2", "3", "4"]);
        assert!((axis.high - 4.0 * 0.3048).abs() < 1e-12);
        let axis = Axis::new((0.0, 0.37), (true, false), 4, &us.time);
        assert_eq!(texts(&axis), ["0.0", "0.1", "0.2", "0.3"]);
        assert!((axis.high - 0.37).abs() < 1e-12);
        let axis = Axis::new((-0.3, 0.3), (true, true), 3, &us.time);
        assert_eq!(texts(&axis), ["−0.4", "−0.2", "0.0", "0.2", "0.4"]);
    }

    #[test]
    fn any_range_gives_a_finite_axis_with_few_marks() {
        let scale = Units::of(UnitSystem::Us).turning;
        let odd = [
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            0.0,
            -0.0,
            1e-300,
            5.0,
            1e9,
            -1e300,
            1e300,
        ];
        for a in odd {
            for b in odd {
                let axis = Axis::new((a, b), (true, true), 5, &scale);
                assert!(
                    axis.high > axis.low && axis.share(1.0).is_finite(),
                    "{a} {b}: {axis:?}"
                );
                assert!(
                    axis.ticks.len() <= 12 && !axis.ticks.is_empty(),
                    "{a} {b}: {axis:?}"
                );
            }
        }
    }

    #[test]
    fn a_strip_puts_low_values_low() {
        let scale = Units::of(UnitSystem::Metric).time;
        let axis = || Axis::new((0.0, 10.0), (true, true), 5, &scale);
        let rect = Rect {
            x_px: 10.0,
            y_px: 20.0,
            width_px: 100.0,
            height_px: 50.0,
        };
        let strip = Strip {
            rect,
            x: axis(),
            y: axis(),
        };
        assert_eq!(strip.px([0.0, 0.0]), [10.0, 70.0]);
        assert_eq!(strip.px([10.0, 10.0]), [110.0, 20.0]);
        assert_eq!(strip.y_px(99.0), 20.0);
    }
}
