//! Points, rectangles, and the mapping from metres to the picture.

/// A point; metres in the world (right, up), drawing units in the picture (right, down).
pub type Point = [f64; 2];

/// An upright rectangle in the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left.
    pub x_px: f64,
    /// Top.
    pub y_px: f64,
    /// Width.
    pub width_px: f64,
    /// Height.
    pub height_px: f64,
}

impl Rect {
    /// Right side.
    pub fn right_px(&self) -> f64 {
        self.x_px + self.width_px
    }

    /// Lower side.
    pub fn bottom_px(&self) -> f64 {
        self.y_px + self.height_px
    }

    /// Grown by a margin on every side.
    pub fn grown(&self, by_px: f64) -> Rect {
        Rect {
            x_px: self.x_px - by_px,
            y_px: self.y_px - by_px,
            width_px: self.width_px + 2.0 * by_px,
            height_px: self.height_px + 2.0 * by_px,
        }
    }

    /// The point of the rectangle nearest to `p`.
    pub fn nearest(&self, p: Point) -> Point {
        [
            p[0].min(self.right_px()).max(self.x_px),
            p[1].min(self.bottom_px()).max(self.y_px),
        ]
    }

    /// Area shared with another rectangle.
    pub fn shared_px2(&self, other: &Rect) -> f64 {
        let w = self.right_px().min(other.right_px()) - self.x_px.max(other.x_px);
        let h = self.bottom_px().min(other.bottom_px()) - self.y_px.max(other.y_px);
        if w > 0.0 && h > 0.0 { w * h } else { 0.0 }
    }

    /// Length of the part of a straight line that lies inside (Liang and Barsky's clipping).
    pub fn inside_px(&self, a: Point, b: Point) -> f64 {
        let d = [b[0] - a[0], b[1] - a[1]];
        let (mut from, mut to) = (0.0f64, 1.0f64);
        let sides = [
            (-d[0], a[0] - self.x_px),
            (d[0], self.right_px() - a[0]),
            (-d[1], a[1] - self.y_px),
            (d[1], self.bottom_px() - a[1]),
        ];
        for (p, q) in sides {
            if p == 0.0 {
                if q < 0.0 {
                    return 0.0;
                }
            } else if p < 0.0 {
                from = from.max(q / p);
            } else {
                to = to.min(q / p);
            }
        }
        if to > from {
            (to - from) * d[0].hypot(d[1])
        } else {
            0.0
        }
    }
}

/// Values beyond this are left out of a picture like those that are not finite. Physical: a
/// million kilometres, or a billion of any other SI unit, is not a thrower.
pub const LARGEST: f64 = 1e9;

/// Can this value be drawn?
pub fn usable(v: f64) -> bool {
    v.is_finite() && v.abs() <= LARGEST
}

/// Can this point be drawn?
pub fn usable_point(p: &Point) -> bool {
    usable(p[0]) && usable(p[1])
}

/// The unbroken stretches of a line once points that cannot be drawn are taken out.
pub fn stretches(points: impl IntoIterator<Item = Point>) -> Vec<Vec<Point>> {
    let mut all = Vec::new();
    let mut now = Vec::new();
    for p in points {
        if usable_point(&p) {
            now.push(p);
        } else if !now.is_empty() {
            all.push(std::mem::take(&mut now));
        }
    }
    if !now.is_empty() {
        all.push(now);
    }
    all
}

/// Smallest and largest usable value; `None` when there is none.
pub fn span(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .into_iter()
        .filter(|v| usable(*v))
        .fold(None, |range, v| match range {
            None => Some((v, v)),
            Some((lo, hi)) => Some((lo.min(v), hi.max(v))),
        })
}

/// Metres to drawing units at one scale for both directions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// Drawing units per metre.
    pub px_per_m: f64,
    /// World point at the picture's `origin_px`.
    pub corner_m: Point,
    /// Where that point is in the picture.
    pub origin_px: Point,
}

/// Physical: no picture shows less than a millimetre across, so that a point can be drawn.
const LEAST_SPAN_M: f64 = 1e-3;

impl Fit {
    /// The largest scale at which the world range fits the rectangle, centred in it.
    pub fn new(x_m: (f64, f64), z_m: (f64, f64), into: Rect) -> Fit {
        let (w, h) = (
            (x_m.1 - x_m.0).max(LEAST_SPAN_M),
            (z_m.1 - z_m.0).max(LEAST_SPAN_M),
        );
        let px_per_m = (into.width_px / w).min(into.height_px / h);
        Fit {
            px_per_m,
            corner_m: [0.5 * (x_m.0 + x_m.1), 0.5 * (z_m.0 + z_m.1)],
            origin_px: [into.x_px + 0.5 * into.width_px, into.y_px + 0.5 * into.height_px],
        }
    }

    /// A world point in the picture.
    pub fn px(&self, p: Point) -> Point {
        [
            self.origin_px[0] + (p[0] - self.corner_m[0]) * self.px_per_m,
            self.origin_px[1] - (p[1] - self.corner_m[1]) * self.px_per_m,
        ]
    }

    /// A world line in the picture, without points that would not be seen.
    pub fn line(&self, points: &[Point]) -> Vec<Point> {
        let all: Vec<Point> = points.iter().map(|p| self.px(*p)).collect();
        thinned(&all)
    }
}

/// Method: a line may move by this much, a tenth of the thinnest line drawn.
const THIN_PX: f64 = 0.1;

/// A line without the points that do not bend it visibly (Ramer 1972, Douglas and Peucker 1973
/// \[douglas1973\]), after points that fall on the one before are dropped.
pub fn thinned(points: &[Point]) -> Vec<Point> {
    let mut line: Vec<Point> = Vec::with_capacity(points.len());
    for (i, p) in points.iter().enumerate() {
        let near = line.last().is_some_and(|q| distance(*q, *p) < THIN_PX);
        if !near {
            line.push(*p);
        } else if i + 1 == points.len() && line.len() > 1 {
            line.pop();
            line.push(*p);
        }
    }
    let mut keep = vec![false; line.len()];
    for end in [0, line.len().saturating_sub(1)] {
        if let Some(k) = keep.get_mut(end) {
            *k = true;
        }
    }
    let mut work = vec![(0, line.len().saturating_sub(1))];
    while let Some((from, to)) = work.pop() {
        let (Some(a), Some(b), Some(between)) =
            (line.get(from), line.get(to), line.get(from + 1..to.max(from + 1)))
        else {
            continue;
        };
        let far = between
            .iter()
            .enumerate()
            .map(|(i, p)| (from + 1 + i, off_segment_px2(*p, *a, *b)))
            .fold((0, 0.0), |best, it| if it.1 > best.1 { it } else { best });
        if far.1 > THIN_PX * THIN_PX {
            if let Some(k) = keep.get_mut(far.0) {
                *k = true;
            }
            work.push((from, far.0));
            work.push((far.0, to));
        }
    }
    line.iter()
        .zip(keep)
        .filter_map(|(p, k)| k.then_some(*p))
        .collect()
}

/// Distance between points.
pub fn distance(a: Point, b: Point) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// The point of a straight line nearest to `p`.
pub fn nearest_on(p: Point, a: Point, b: Point) -> Point {
    let d = [b[0] - a[0], b[1] - a[1]];
    let square = d[0] * d[0] + d[1] * d[1];
    if square <= 0.0 {
        return a;
    }
    let t = (((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / square).clamp(0.0, 1.0);
    [a[0] + t * d[0], a[1] + t * d[1]]
}

fn off_segment_px2(p: Point, a: Point, b: Point) -> f64 {
    let q = nearest_on(p, a, b);
    (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2)
}

/// The point of a line nearest to `p`; `None` for a line without points.
pub fn nearest_on_line(p: Point, line: &[Point]) -> Option<Point> {
    let single = line.first().copied();
    let best = line.windows(2).filter_map(|w| match w {
        [a, b] => Some(nearest_on(p, *a, *b)),
        _ => None,
    });
    best.chain(single)
        .min_by(|a, b| distance(p, *a).total_cmp(&distance(p, *b)))
}

/// The point of a line at a share of its length, 0 to 1.
pub fn along(line: &[Point], share: f64) -> Option<Point> {
    let total: f64 = line.windows(2).map(segment).sum();
    let mut left = total * share.clamp(0.0, 1.0);
    for w in line.windows(2) {
        let length = segment(w);
        if let [a, b] = w
            && left <= length
            && length > 0.0
        {
            let t = left / length;
            return Some([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
        }
        left -= length;
    }
    line.last().copied()
}

fn segment(w: &[Point]) -> f64 {
    match w {
        [a, b] => distance(*a, *b),
        _ => 0.0,
    }
}

/// `p` moved by `by` in direction `dir` (a unit vector).
pub fn moved(p: Point, dir: Point, by: f64) -> Point {
    [p[0] + by * dir[0], p[1] + by * dir[1]]
}

/// Unit vector from one point to another; to the right when they coincide.
pub fn direction(a: Point, b: Point) -> Point {
    let length = distance(a, b);
    if length > 0.0 && length.is_finite() {
        [(b[0] - a[0]) / length, (b[1] - a[1]) / length]
    } else {
        [1.0, 0.0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_of_a_thousand_points_needs_two() {
        let line: Vec<Point> = (0..1000).map(|i| [f64::from(i), 2.0 * f64::from(i)]).collect();
        assert_eq!(thinned(&line), vec![[0.0, 0.0], [999.0, 1998.0]]);
    }

    #[test]
    fn thinning_moves_no_point_of_a_circle_by_more_than_a_tenth() {
        let line: Vec<Point> = (0..5000)
            .map(|i| (f64::from(i) / 5000.0 * 6.0).sin_cos())
            .map(|(s, c)| [90.0 * c, 90.0 * s])
            .collect();
        let thin = thinned(&line);
        assert!(thin.len() < 120, "{}", thin.len());
        let worst = line
            .iter()
            .filter_map(|p| nearest_on_line(*p, &thin).map(|q| distance(*p, q)));
        assert!(worst.fold(0.0, f64::max) <= 2.0 * THIN_PX);
        assert_eq!(thin.last(), line.last());
    }

    #[test]
    fn a_gap_splits_a_line() {
        let parts = stretches([
            [0.0, 0.0],
            [1.0, f64::NAN],
            [2.0, 1.0],
            [3.0, 1.0],
            [4.0, f64::INFINITY],
        ]);
        assert_eq!(parts, vec![vec![[0.0, 0.0]], vec![[2.0, 1.0], [3.0, 1.0]]]);
    }

    #[test]
    fn a_line_through_a_square_is_inside_for_its_side() {
        let r = Rect {
            x_px: 0.0,
            y_px: 0.0,
            width_px: 10.0,
            height_px: 10.0,
        };
        assert!((r.inside_px([-5.0, 5.0], [15.0, 5.0]) - 10.0).abs() < 1e-12);
        assert_eq!(r.inside_px([-5.0, 11.0], [15.0, 11.0]), 0.0);
        assert!((r.inside_px([2.0, 2.0], [2.0, 4.0]) - 2.0).abs() < 1e-12);
        assert_eq!(r.inside_px([20.0, 5.0], [30.0, 5.0]), 0.0);
    }

    #[test]
    fn a_fit_keeps_the_scale_equal_both_ways_and_up_is_up() {
        let into = Rect {
            x_px: 10.0,
            y_px: 20.0,
            width_px: 200.0,
            height_px: 50.0,
        };
        let fit = Fit::new((0.0, 1.0), (0.0, 1.0), into);
        assert_eq!(fit.px_per_m, 50.0);
        let (a, b) = (fit.px([0.0, 0.0]), fit.px([1.0, 1.0]));
        assert!((b[0] - a[0] - 50.0).abs() < 1e-12 && (a[1] - b[1] - 50.0).abs() < 1e-12);
        assert!((a[1] - 70.0).abs() < 1e-12);
    }

    #[test]
    fn half_way_along_a_bent_line_is_at_half_its_length() {
        assert_eq!(
            along(&[[0.0, 0.0], [3.0, 0.0], [3.0, 1.0]], 0.5),
            Some([2.0, 0.0])
        );
        assert_eq!(along(&[], 0.5), None);
        assert_eq!(along(&[[1.0, 1.0], [1.0, 1.0]], 0.5), Some([1.0, 1.0]));
    }
}
