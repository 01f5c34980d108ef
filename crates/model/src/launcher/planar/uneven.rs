//! The fixed side of a hand-formed guide: the arc with its error, eased out over ramp and hood.

use std::f64::consts::TAU;

use super::wall::Wall;
use crate::launcher::outline::{Element, ElementRole, Shape};
use crate::launcher::{GuideError, MOST_GAPS};

/// Method: spans per wave; a cubic through points and slopes is then within 2e-4 of the amplitude.
const SPANS_PER_WAVE: f64 = 12.0;
/// Method: longest span as a share of the radius of an arc; a cubic strays from the arc by less than 1e-8 of it.
const SPAN_RAD: f64 = 0.05;
/// Method: most waves along a guide; shorter ones are roughness and belong to the friction.
pub const MOST_WAVES_COUNT: f64 = 60.0;

/// The gap's error along one stretch: a cubic in the station.
#[derive(Clone, Copy)]
struct Stretch {
    from: f64,
    to: f64,
    error: [f64; 2],
    /// Per metre of station.
    slope: [f64; 2],
}

impl Stretch {
    fn at(&self, s: f64) -> (f64, f64) {
        let length = self.to - self.from;
        let t = ((s - self.from) / length).clamp(0.0, 1.0);
        let ([a, b], [c, d]) = (self.error, self.slope.map(|x| x * length));
        let value = a + t * (c + t * ((3.0 * (b - a) - 2.0 * c - d) + t * (2.0 * (a - b) + c + d)));
        let rate = c + t * (2.0 * (3.0 * (b - a) - 2.0 * c - d) + 3.0 * t * (2.0 * (a - b) + c + d));
        (value, rate / length)
    }
}

/// Does the error say anything?
pub(super) fn is_even(error: &GuideError) -> bool {
    match error {
        GuideError::None => true,
        GuideError::Wave { amplitude_m, .. } => *amplitude_m == 0.0,
        GuideError::Gaps { count, added_m } => added_m.iter().take(*count).all(|x| *x == 0.0),
    }
}

/// Can the error be followed on an arc of this length?
pub(super) fn makes_sense(error: &GuideError, length_m: f64, most_m: f64) -> bool {
    match error {
        GuideError::None => true,
        GuideError::Wave { amplitude_m: 0.0, .. } => true,
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        } => {
            amplitude_m.abs() < most_m
                && wavelength_m.is_finite()
                && *wavelength_m > 0.0
                && length_m.abs() <= MOST_WAVES_COUNT * wavelength_m
                && phase_rad.is_finite()
        }
        GuideError::Gaps { count, added_m } => {
            (2..=MOST_GAPS).contains(count) && added_m.iter().take(*count).all(|x| x.abs() < most_m)
        }
    }
}

/// The error along the guide in stretches that hold no kink inside; station 0 is its start.
fn stretches(error: &GuideError, length: f64) -> Vec<Stretch> {
    match *error {
        GuideError::None => Vec::new(),
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        } => {
            let count = (SPANS_PER_WAVE * length / wavelength_m).ceil().max(1.0) as usize;
            let rate = TAU / wavelength_m;
            let at = |i: usize| {
                let s = length * i as f64 / count as f64;
                let (sin, cos) = (rate * s + phase_rad).sin_cos();
                (s, amplitude_m * sin, amplitude_m * rate * cos)
            };
            (0..count)
                .map(|i| {
                    let (a, b) = (at(i), at(i + 1));
                    Stretch {
                        from: a.0,
                        to: b.0,
                        error: [a.1, b.1],
                        slope: [a.2, b.2],
                    }
                })
                .collect()
        }
        GuideError::Gaps { count, added_m } => {
            let given = added_m.get(..count).unwrap_or(&added_m);
            let part = length / given.len().saturating_sub(1).max(1) as f64;
            given
                .windows(2)
                .enumerate()
                .map(|(i, p)| Stretch {
                    from: part * i as f64,
                    to: part * (i + 1) as f64,
                    error: [p[0], p[1]],
                    slope: [(p[1] - p[0]) / part; 2],
                })
                .collect()
        }
    }
}

/// The error of the gap at a distance along the guide from its start.
pub(in crate::launcher) fn error_at(error: &GuideError, s_m: f64, length_m: f64) -> f64 {
    match *error {
        GuideError::None => 0.0,
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        } if amplitude_m != 0.0 => amplitude_m * (TAU * s_m / wavelength_m + phase_rad).sin(),
        GuideError::Wave { .. } => 0.0,
        GuideError::Gaps { .. } => stretches(error, length_m)
            .iter()
            .find(|p| s_m <= p.to)
            .map_or(0.0, |p| p.at(s_m).0),
    }
}

fn length(shape: &Shape) -> f64 {
    match *shape {
        Shape::Line { from_m, to_m } => (to_m[0] - from_m[0]).hypot(to_m[1] - from_m[1]),
        Shape::Arc {
            radius_m,
            from_rad,
            to_rad,
            ..
        } => radius_m * (from_rad - to_rad).abs(),
    }
}

/// Point, direction of travel and curvature at a distance from the start.
fn station(shape: &Shape, s: f64) -> ([f64; 2], [f64; 2], f64) {
    match *shape {
        Shape::Line { from_m, to_m } => {
            let whole = length(shape);
            let along = [(to_m[0] - from_m[0]) / whole, (to_m[1] - from_m[1]) / whole];
            ([from_m[0] + s * along[0], from_m[1] + s * along[1]], along, 0.0)
        }
        Shape::Arc {
            centre_m,
            radius_m,
            from_rad,
            ..
        } => {
            let (sin, cos) = (from_rad - s / radius_m).sin_cos();
            let at = [centre_m[0] + radius_m * cos, centre_m[1] + radius_m * sin];
            (at, [sin, -cos], 1.0 / radius_m)
        }
    }
}

/// The part of an element between two stations, with the error on it.
fn curve(shape: &Shape, parts: &[Stretch], offset: f64, from: f64, to: f64) -> Wall {
    let mut spans = Vec::new();
    let step = match shape {
        Shape::Line { .. } => f64::INFINITY,
        Shape::Arc { radius_m, .. } => SPAN_RAD * radius_m,
    };
    for part in parts {
        let (a, b) = ((part.from - offset).max(from), (part.to - offset).min(to));
        if !(b > a) {
            continue;
        }
        let count = ((b - a) / step).ceil().max(1.0) as usize;
        let place = |i: usize| {
            let s = a + (b - a) * i as f64 / count as f64;
            let (base, along, bend) = station(shape, s);
            let (error, slope) = part.at(s + offset);
            let out = [-along[1], along[0]];
            let stretch = (b - a) / count as f64;
            let point = [base[0] + error * out[0], base[1] + error * out[1]];
            let rate = [0, 1].map(|k| stretch * ((1.0 + error * bend) * along[k] + slope * out[k]));
            (point, rate)
        };
        spans.extend((0..count).map(|i| {
            let (p, q) = (place(i), place(i + 1));
            Span::through(p.0, q.0, p.1, q.1)
        }));
    }
    Wall::Curve(spans)
}

/// The walls of a fixed side whose guide strays from its arc. Beyond the guide's ends the error eases out to
/// nothing within `ease_m`, without a kink at the joint.
pub(super) fn walls(elements: &[Element], error: &GuideError, ease_m: f64) -> Vec<(Wall, ElementRole)> {
    let plain = || elements.iter().map(|e| (Wall::of(e), e.role)).collect();
    // Its pieces follow each other; one alone where it is concentric.
    let is_guide = |e: &Element| e.role == ElementRole::Guide;
    let Some(guide) = elements.iter().position(is_guide) else {
        return plain();
    };
    let pieces = elements.iter().filter(|e| is_guide(e));
    let whole: f64 = pieces.map(|e| length(&e.shape)).sum();
    if !(whole > 0.0) {
        return plain();
    }
    let along = stretches(error, whole);
    let (Some(first), Some(last)) = (along.first(), along.last()) else {
        return plain();
    };
    let before = Stretch {
        from: -ease_m,
        to: 0.0,
        error: [0.0, first.error[0]],
        slope: [0.0, first.slope[0]],
    };
    let after = Stretch {
        from: whole,
        to: whole + ease_m,
        error: [last.error[1], 0.0],
        slope: [last.slope[1], 0.0],
    };
    let mut out = Vec::with_capacity(elements.len() + 2);
    let (mut before_m, mut offset) = (0.0, whole);
    for (i, element) in elements.iter().enumerate() {
        let size = length(&element.shape);
        let role = element.role;
        if is_guide(element) {
            out.push((curve(&element.shape, &along, before_m, 0.0, size), role));
            before_m += size;
        } else if !(size > 0.0) {
            out.push((Wall::of(element), role));
        } else if i + 1 == guide {
            let eased = ease_m.min(size);
            out.push((plain_part(element, 0.0, size - eased), role));
            out.push((curve(&element.shape, &[before], -size, size - eased, size), role));
        } else if i > guide {
            let eased = (whole + ease_m - offset).clamp(0.0, size);
            if eased > 0.0 {
                out.push((curve(&element.shape, &[after], offset, 0.0, eased), role));
            }
            if eased < size {
                out.push((plain_part(element, eased, size), role));
            }
            offset += size;
        } else {
            out.push((Wall::of(element), role));
        }
    }
    // A stretch with nothing in it has no nearest point.
    out.retain(|(w, _)| !matches!(w, Wall::Curve(spans) if spans.is_empty()));
    out
}

fn plain_part(element: &Element, from: f64, to: f64) -> Wall {
    let shape = match element.shape {
        Shape::Line { .. } => Shape::Line {
            from_m: station(&element.shape, from).0,
            to_m: station(&element.shape, to).0,
        },
        Shape::Arc {
            centre_m,
            radius_m,
            from_rad,
            ..
        } => Shape::Arc {
            centre_m,
            radius_m,
            from_rad: from_rad - from / radius_m,
            to_rad: from_rad - to / radius_m,
        },
    };
    Wall::of(&Element {
        role: element.role,
        shape,
    })
}

/// A stretch of a curve as a cubic in a parameter from 0 to 1.
#[derive(Clone, Copy)]
pub(super) struct Span {
    power: [[f64; 2]; 4],
}

/// Convergence: Newton steps to the nearest point; from a span's end the fifth moves it by rounding only.
const NEAREST_STEPS: usize = 12;
/// Rounding: parameter of a span at which the nearest point no longer moves.
const NEAREST_SHARE: f64 = 1e-13;

impl Span {
    fn through(p: [f64; 2], q: [f64; 2], rate_p: [f64; 2], rate_q: [f64; 2]) -> Span {
        let each = [0, 1].map(|k| {
            let (a, b, c, d) = (p[k], q[k], rate_p[k], rate_q[k]);
            [a, c, 3.0 * (b - a) - 2.0 * c - d, 2.0 * (a - b) + c + d]
        });
        Span {
            power: [0, 1, 2, 3].map(|i| [each[0][i], each[1][i]]),
        }
    }

    fn start(&self) -> [f64; 2] {
        self.power[0]
    }

    fn at(&self, t: f64) -> [f64; 2] {
        let [a, b, c, d] = self.power;
        [0, 1].map(|k| a[k] + t * (b[k] + t * (c[k] + t * d[k])))
    }

    /// Half the rate of the squared distance to a place, and its rate.
    fn pull(&self, t: f64, p: [f64; 2]) -> (f64, f64) {
        let [_, b, c, d] = self.power;
        let x = self.at(t);
        let (mut first, mut second) = (0.0, 0.0);
        for k in 0..2 {
            let gap = x[k] - p[k];
            let v = b[k] + t * (2.0 * c[k] + 3.0 * t * d[k]);
            first += gap * v;
            second += v * v + gap * (2.0 * c[k] + 6.0 * t * d[k]);
        }
        (first, second)
    }

    /// A nearest point, searched from one end: Newton's method kept between brackets.
    fn nearest_from(&self, p: [f64; 2], from_end: bool) -> [f64; 2] {
        let (mut low, mut high) = (0.0, 1.0);
        let mut t = if from_end { 1.0 } else { 0.0 };
        for _ in 0..NEAREST_STEPS {
            let (first, second) = self.pull(t, p);
            if first > 0.0 {
                high = t;
            } else {
                low = t;
            }
            let newton = (t - first / second).clamp(0.0, 1.0);
            // Checked before the bracket: at the answer the next place is the end of the bracket itself.
            if second > 0.0 && (newton - t).abs() < NEAREST_SHARE {
                break;
            }
            t = if second > 0.0 && (low..=high).contains(&newton) {
                newton
            } else {
                0.5 * (low + high)
            };
        }
        self.at(t)
    }
}

fn squared(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)
}

/// Nearest point of a chain of spans and its distance: the nearest joint, then the spans on both sides of it.
pub(super) fn nearest(spans: &[Span], p: [f64; 2]) -> ([f64; 2], f64) {
    let mut best = (0, f64::INFINITY);
    for (i, span) in spans.iter().enumerate() {
        let far = squared(span.start(), p);
        if far < best.1 {
            best = (i, far);
        }
    }
    let mut found = ([f64::NAN; 2], f64::INFINITY);
    let mut offer = |q: [f64; 2]| {
        let far = squared(q, p);
        if far < found.1 {
            found = (q, far);
        }
    };
    if let Some(last) = spans.last() {
        let end = last.at(1.0);
        if squared(end, p) < best.1 {
            best.0 = spans.len();
        }
        offer(end);
    }
    if let Some(span) = spans.get(best.0) {
        offer(span.start());
        offer(span.nearest_from(p, false));
    }
    if let Some(span) = best.0.checked_sub(1).and_then(|i| spans.get(i)) {
        offer(span.nearest_from(p, true));
    }
    (found.0, found.1.sqrt())
}
