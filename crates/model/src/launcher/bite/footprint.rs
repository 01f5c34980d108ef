//! The patch in which a wheel set presses on a round piece, and what holes and seams take from it.

use std::f64::consts::{PI, TAU};

use super::skin::{Felt, Skin, Stretch, clear_of, inside, turn_between};
use super::surface::Surface;
use crate::launcher::BITE_COUNT;

/// Wheels side by side on one shaft: flat across, sharp edges.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelSet {
    /// Wheel radius.
    pub radius_m: f64,
    /// Width of one wheel.
    pub width_m: f64,
    /// How many.
    pub count: u32,
    /// Free space between neighbours.
    pub gap_m: f64,
}

/// One line around the piece at a fixed sideways place under a rim.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    /// Sideways place.
    at_m: f64,
    /// Width it stands for; 0 for one that only feels.
    width_m: f64,
    /// Radius of the piece here.
    radius_m: f64,
    /// Sine of its latitude on the piece, the shaft's direction being the pole.
    pub(super) sin_lat: f64,
    pub(super) cos_lat: f64,
    /// Half the length of the patch here.
    half_m: f64,
    /// The same as an angle about the piece.
    half_rad: f64,
    /// Half the length over which even the floor of the seam is pressed.
    seam_half_m: f64,
}

/// A row that only feels, and how far under the same rim the next ones are.
#[derive(Clone, Copy, Debug)]
struct Feeler {
    row: Row,
    low_m: f64,
    high_m: f64,
}

/// What one orientation of the piece does along one turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Imprint {
    /// Depth of the wheel at each direction around the piece.
    pub depth_m: [f64; BITE_COUNT],
    /// Sideways lean that would even out left and right, at each direction.
    pub lean_rad: [f64; BITE_COUNT],
}

/// The patch of a wheel set on a piece at a squeeze, ready for any orientation.
#[derive(Clone, Debug)]
pub struct Footprint {
    wheel_m: f64,
    piece_m: f64,
    /// How far this side of the piece is pressed in.
    press_m: f64,
    rows: Vec<Row>,
    /// Where the wheel may come to rest when nothing in the patch carries, in it and beyond.
    feelers: Vec<Feeler>,
    /// Support of the piece without holes against how far it is pressed in.
    support: Vec<(f64, f64)>,
    /// Nearest the whole piece comes to the axle line, as a press: 0 unless the rims straddle its middle.
    first_m: f64,
    /// Support that a random orientation has on average, over that without holes.
    mean_ratio: f64,
    full: f64,
    centre_m: f64,
    second_moment: f64,
}

/// Method: rows across the patch of one wheel set. Eight times as many move no depth of the first demo by more
/// than 0.5 % of the press (a test).
const ROWS_COUNT: f64 = 30.0;
/// Method: rows across a hole or a seam, at the least.
const ROWS_ACROSS_COUNT: f64 = 8.0;
/// Method: no more rows than this in all.
const MOST_ROWS_COUNT: f64 = 240.0;
/// Method: feeling rows under each rim; the one that touches first is then closed in on.
const FEELERS_COUNT: usize = 24;
/// Method: thirds cut off to close in on a touch: to (2/3)¹⁶, a six-hundredth of the spacing.
const THIRDS_COUNT: usize = 16;
/// Method: entries of the table of support; straight lines between square roots of it are within 0.1 % of the press.
const TABLE_COUNT: usize = 32;
/// Physical: a piece is never pressed in further than this share of the smaller radius; the file's checks
/// refuse more than 0.6 of the diameter, both sides together.
const DEEPEST_RATIO: f64 = 0.9;
/// Judgement: the table is wide enough for pieces that are mean this share solid; what is more open counts as this.
const LEAST_SOLID_FRAC: f64 = 0.05;
/// Rounding: a patch that carries less than this share of the whole carries nothing.
const NOTHING_RATIO: f64 = 1e-12;

/// How near the cylinder and a circle of the piece get at distance `b` from the line of centres.
fn reach_m(wheel_m: f64, row_m: f64, b: f64) -> f64 {
    (wheel_m * wheel_m - b * b).max(0.0).sqrt() + (row_m * row_m - b * b).max(0.0).sqrt()
}

/// Half the chord that two circles share whose centres are `apart` apart; 0 when they do not meet.
fn half_chord_m(wheel_m: f64, row_m: f64, apart_m: f64) -> f64 {
    if !(apart_m < wheel_m + row_m) {
        return 0.0;
    }
    let x = (apart_m * apart_m + wheel_m * wheel_m - row_m * row_m) / (2.0 * apart_m);
    let square = wheel_m * wheel_m - x * x;
    let most = wheel_m.min(row_m);
    // Past the widest place the smaller circle is pressed over its whole width.
    if x < 0.0 || apart_m - x < 0.0 {
        return most;
    }
    square.max(0.0).sqrt().min(most)
}

/// ∫ √(a² − b²) db from 0 to b.
fn under_circle(a: f64, b: f64) -> f64 {
    let inside = (a * a - b * b).max(0.0).sqrt();
    0.5 * (b * inside + a * a * (b / a).clamp(-1.0, 1.0).asin())
}

impl Footprint {
    /// The patch. `squeeze_m` is that of both sides together; `offset_m` is how far the middle of the wheel
    /// set lies beside the middle of the piece. Numbers that make no wheel and no piece give an empty patch,
    /// which bites nowhere.
    ///
    /// ```text
    /// press p = squeeze/2,    axle at distance c = R + r − p from the piece's centre
    /// overlap(b, s) = √(R² − b²) + √(r² − s² − b²) − c      b along, s across, s under a rim
    /// support S(p) = ∬ max(overlap, 0) db ds                 (elastic foundation [johnson-1985])
    /// ```
    /// The length of the patch at each s is the chord that two circles share; near the middle both half sizes
    /// are the known √(2 p R r/(R + r)) along and √(2 p r) across.
    pub fn of(surface: &Surface, wheels: &WheelSet, squeeze_m: f64, offset_m: f64) -> Footprint {
        Footprint::with_rows(surface, wheels, [squeeze_m, offset_m], ROWS_COUNT)
    }

    pub(super) fn with_rows(
        surface: &Surface,
        wheels: &WheelSet,
        [squeeze_m, offset_m]: [f64; 2],
        rows_count: f64,
    ) -> Footprint {
        let (wheel_m, piece_m) = (wheels.radius_m, surface.radius_m);
        let mut foot = Footprint {
            wheel_m,
            piece_m,
            press_m: 0.0,
            rows: Vec::new(),
            feelers: Vec::new(),
            support: Vec::new(),
            first_m: 0.0,
            mean_ratio: 1.0,
            full: 0.0,
            centre_m: 0.0,
            second_moment: 0.0,
        };
        let sane = [wheel_m, piece_m, wheels.width_m]
            .iter()
            .all(|v| v.is_finite() && *v > 0.0)
            && [wheels.gap_m, squeeze_m, offset_m, surface.hole_radius_m]
                .iter()
                .all(|v| v.is_finite());
        if !sane {
            return foot;
        }
        let most = DEEPEST_RATIO * wheel_m.min(piece_m);
        foot.press_m = (0.5 * squeeze_m).clamp(0.0, most);
        let open_frac = surface.open_frac();
        let solid = (1.0 - open_frac - surface.seam_frac()).max(LEAST_SOLID_FRAC);
        // Support grows at least as the press to the power 3/2, so this much press carries the whole load
        // on the mean share of skin.
        let table_m = (foot.press_m * solid.powf(-2.0 / 3.0)).min(most);
        foot.lay_rows(surface, wheels, offset_m, [table_m, rows_count]);
        if foot.rows.is_empty() {
            return foot;
        }
        foot.tabulate(surface, open_frac, table_m);
        foot
    }

    fn lay_rows(
        &mut self,
        surface: &Surface,
        wheels: &WheelSet,
        offset_m: f64,
        [table_m, rows_count]: [f64; 2],
    ) {
        let r = self.piece_m;
        let across_m = |press: f64| (press * (2.0 * r - press)).max(0.0).sqrt();
        let patch_m = across_m(table_m);
        let count = wheels.count.max(1);
        let pitch = wheels.width_m + wheels.gap_m.max(0.0);
        let first = offset_m - 0.5 * (f64::from(count - 1) * pitch + wheels.width_m);
        // Beyond the patch the wheel can only come to rest at the edge of a hole or seam that reaches there.
        let seam_m = surface.seam.map_or(0.0, |s| s.width_m.max(0.0));
        let beyond_m = (2.0 * surface.hole_radius_m).max(seam_m);
        let felt_m = (patch_m + beyond_m).min((1.0 - f64::EPSILON) * r);
        let feature_m = surface
            .seam
            .map_or(f64::INFINITY, |s| s.width_m)
            .min(if surface.holes.is_empty() {
                f64::INFINITY
            } else {
                2.0 * surface.hole_radius_m
            });
        let rims = |i: u32| {
            let low = first + f64::from(i) * pitch;
            (low, low + wheels.width_m)
        };
        let pressed: f64 = (0..count)
            .map(rims)
            .map(|(a, b)| (b.min(patch_m) - a.max(-patch_m)).max(0.0))
            .sum();
        let fine = (feature_m / ROWS_ACROSS_COUNT).max(pressed / MOST_ROWS_COUNT);
        let spacing = (pressed / rows_count).min(fine).max(f64::MIN_POSITIVE);
        for (low, high) in (0..count).map(rims) {
            let (a, b) = (low.max(-patch_m), high.min(patch_m));
            if b > a {
                let steps = ((b - a) / spacing).ceil().clamp(2.0, MOST_ROWS_COUNT);
                for k in 0..=steps as usize {
                    let end = k == 0 || k == steps as usize;
                    let width = (b - a) / steps * if end { 0.5 } else { 1.0 };
                    self.rows
                        .extend(self.row(a + (b - a) * k as f64 / steps, width, surface));
                }
            }
            let (a, b) = (low.max(-felt_m), high.min(felt_m));
            if b > a {
                let step = (b - a) / FEELERS_COUNT as f64;
                let places = (0..=FEELERS_COUNT).map(|k| a + step * k as f64);
                for at in places.chain([0f64.clamp(a, b)]) {
                    self.feelers.extend(self.row(at, 0.0, surface).map(|row| Feeler {
                        row,
                        low_m: (at - step).max(a),
                        high_m: (at + step).min(b),
                    }));
                }
            }
        }
    }

    fn row(&self, at_m: f64, width_m: f64, surface: &Surface) -> Option<Row> {
        let square = self.piece_m * self.piece_m - at_m * at_m;
        if !(square > 0.0) {
            return None;
        }
        let radius_m = square.sqrt();
        let apart = self.wheel_m + self.piece_m - self.press_m;
        let half_m = half_chord_m(self.wheel_m, radius_m, apart);
        let depth = surface.seam.map_or(0.0, |s| s.depth_m.max(0.0));
        Some(Row {
            at_m,
            width_m,
            radius_m,
            sin_lat: at_m / self.piece_m,
            cos_lat: radius_m / self.piece_m,
            half_m,
            half_rad: (half_m / radius_m).min(1.0).asin(),
            seam_half_m: half_chord_m(self.wheel_m, radius_m, apart + depth),
        })
    }

    /// Support of the piece without holes when pressed in by `press_m`.
    fn support_at(&self, press_m: f64) -> f64 {
        let apart = self.wheel_m + self.piece_m - press_m;
        self.rows
            .iter()
            .map(|row| {
                let half = half_chord_m(self.wheel_m, row.radius_m, apart);
                let both = under_circle(self.wheel_m, half) + under_circle(row.radius_m, half);
                2.0 * row.width_m * (both - apart * half).max(0.0)
            })
            .sum()
    }

    fn tabulate(&mut self, surface: &Surface, open_frac: f64, table_m: f64) {
        let apart = self.wheel_m + self.piece_m - self.press_m;
        let overlap_0 = |row: &Row| self.wheel_m + row.radius_m - apart;
        let nearest = self
            .rows
            .iter()
            .chain(self.feelers.iter().map(|f| &f.row))
            .map(overlap_0)
            .fold(f64::NEG_INFINITY, f64::max);
        self.first_m = self.press_m - nearest;
        self.full = self.support_at(self.press_m);
        let (mut load, mut load_at, mut area, mut area_2) = (0.0, 0.0, 0.0, 0.0);
        for row in &self.rows {
            let both = under_circle(self.wheel_m, row.half_m) + under_circle(row.radius_m, row.half_m);
            let here = 2.0 * row.width_m * (both - apart * row.half_m).max(0.0);
            load += here;
            load_at += here * row.at_m;
            area += 2.0 * row.width_m * row.half_m;
        }
        self.centre_m = if load > 0.0 { load_at / load } else { 0.0 };
        for row in &self.rows {
            area_2 += 2.0 * row.width_m * row.half_m * (row.at_m - self.centre_m).powi(2);
        }
        self.second_moment = if area > 0.0 { area_2 } else { 0.0 };
        let depth = surface.seam.map_or(0.0, |s| s.depth_m.max(0.0));
        let in_seam = if self.full > 0.0 {
            self.support_at(self.press_m - depth) / self.full
        } else {
            1.0
        };
        self.mean_ratio = (1.0 - open_frac - surface.seam_frac() * (1.0 - in_seam)).max(LEAST_SOLID_FRAC);
        let table = (0..=TABLE_COUNT)
            .map(|k| {
                let press = self.first_m + (table_m - self.first_m).max(0.0) * k as f64 / TABLE_COUNT as f64;
                (self.support_at(press).max(0.0).sqrt(), press)
            })
            .collect();
        self.support = table;
    }

    /// Press at which the piece without holes has this support.
    fn press_of(&self, support: f64) -> f64 {
        let root = support.max(0.0).sqrt();
        let above = self.support.partition_point(|(s, _)| *s < root);
        let (low, high) = (
            above.saturating_sub(1),
            above.min(self.support.len().saturating_sub(1)),
        );
        match (self.support.get(low), self.support.get(high)) {
            (Some(a), Some(b)) if b.0 > a.0 => a.1 + (b.1 - a.1) * (root - a.0) / (b.0 - a.0),
            (Some(a), _) => a.1,
            _ => self.press_m,
        }
    }

    /// ∫ overlap db along a row between two places, by Gauss's three points: the overlap is all but a parabola.
    fn overlap_between(&self, row: &Row, from_m: f64, to_m: f64) -> f64 {
        let apart = self.wheel_m + self.piece_m - self.press_m;
        let (middle, half) = (0.5 * (from_m + to_m), 0.5 * (to_m - from_m));
        let at = |x: f64| (reach_m(self.wheel_m, row.radius_m, middle + half * x) - apart).max(0.0);
        // Three-point Gauss-Legendre: nodes ±√(3/5), 0; weights 5/9, 8/9.
        const NODE: f64 = 0.774_596_669_241_483_4;
        half * (5.0 * (at(-NODE) + at(NODE)) + 8.0 * at(0.0)) / 9.0
    }

    /// Depth and lean around the piece in one orientation.
    pub fn imprint(&self, surface: &Surface, orientation: [f64; 4]) -> Imprint {
        let mut out = Imprint {
            depth_m: [0.0; BITE_COUNT],
            lean_rad: [0.0; BITE_COUNT],
        };
        let whole = surface.holes.is_empty() && surface.seam.is_none();
        if whole || (self.rows.is_empty() && self.feelers.is_empty()) {
            return out;
        }
        let skin = Skin::of(surface, orientation);
        let mut lost = [0.0; BITE_COUNT];
        let mut moment = [0.0; BITE_COUNT];
        let (mut open, mut groove) = (Vec::new(), Vec::new());
        for row in self.rows.iter().filter(|r| r.half_m > 0.0) {
            skin.openings(row, &mut open);
            for stretch in &open {
                self.take(row, *stretch, None, &mut lost, &mut moment);
            }
            if let Some(seam) = surface.seam {
                skin.grooves(row, &open, &mut groove);
                for stretch in &groove {
                    self.take(row, *stretch, Some(seam.depth_m.max(0.0)), &mut lost, &mut moment);
                }
            }
        }
        let mut felt: Option<Vec<Felt>> = None;
        for k in 0..BITE_COUNT {
            let (Some(lost), Some(moment)) = (lost.get(k), moment.get(k)) else {
                continue;
            };
            let left = self.full - lost;
            let depth = if left > NOTHING_RATIO * self.full {
                self.press_m - self.press_of(left / self.mean_ratio)
            } else {
                let felt =
                    felt.get_or_insert_with(|| self.feelers.iter().map(|f| skin.felt(&f.row)).collect());
                self.first_touch(felt, &skin, TAU * k as f64 / BITE_COUNT as f64, surface)
            };
            if let Some(d) = out.depth_m.get_mut(k) {
                *d = depth;
            }
            if let Some(l) = out.lean_rad.get_mut(k)
                && self.second_moment > 0.0
            {
                *l = moment / self.second_moment;
            }
        }
        out
    }

    /// Takes an open stretch of a row, or one that lies `floor` lower, off every direction whose patch it reaches.
    fn take(
        &self,
        row: &Row,
        (from, to): Stretch,
        floor: Option<f64>,
        lost: &mut [f64; BITE_COUNT],
        moment: &mut [f64; BITE_COUNT],
    ) {
        let step = TAU / BITE_COUNT as f64;
        let first = ((from - row.half_rad) / step).ceil() as i64;
        let last = ((to + row.half_rad) / step).floor() as i64;
        for k in first..=last {
            let at = k as f64 * step;
            let b = |azimuth: f64| row.radius_m * (azimuth - at).clamp(-row.half_rad, row.half_rad).sin();
            let (b0, b1) = (b(from), b(to));
            let support = row.width_m
                * match floor {
                    None => self.overlap_between(row, b0, b1),
                    Some(depth) => {
                        // The floor is pressed too near the middle: there only its depth is lost.
                        let (m0, m1) = (
                            b0.clamp(-row.seam_half_m, row.seam_half_m),
                            b1.clamp(-row.seam_half_m, row.seam_half_m),
                        );
                        self.overlap_between(row, b0, m0.min(b1).max(b0))
                            + depth * (m1 - m0).max(0.0)
                            + self.overlap_between(row, m1.max(b0).min(b1), b1)
                    }
                };
            let k = k.rem_euclid(BITE_COUNT as i64) as usize;
            if let (Some(l), Some(m)) = (lost.get_mut(k), moment.get_mut(k)) {
                *l += support;
                *m += support * (row.at_m - self.centre_m);
            }
        }
    }

    /// How much nearer than on the whole piece the wheel first meets solid skin.
    ///
    /// ```text
    /// depth = max over the whole skin of √(R² − b²) + √(r² − s² − b²), less the same over the solid skin
    /// ```
    /// Rows under each rim find the place, thirds close in on it: exact to rounding where one solid spot wins
    /// clearly, else within what a fraction of the row spacing makes of it.
    fn first_touch(&self, felt: &[Felt], skin: &Skin, at: f64, surface: &Surface) -> f64 {
        let groove_m = surface.seam.map_or(0.0, |s| s.depth_m.max(0.0));
        let mut best: Option<(f64, &Feeler)> = None;
        for (feeler, felt) in self.feelers.iter().zip(felt) {
            let reach = self.meets(&feeler.row, felt, at, groove_m);
            if best.is_none_or(|(most, _)| reach > most) {
                best = Some((reach, feeler));
            }
        }
        let Some((mut nearest, feeler)) = best else {
            return 0.0;
        };
        let (mut low, mut high) = (feeler.low_m, feeler.high_m);
        let reach_at = |s: f64| {
            self.row(s, 0.0, surface).map_or(f64::NEG_INFINITY, |row| {
                self.meets(&row, &skin.felt(&row), at, groove_m)
            })
        };
        for _ in 0..THIRDS_COUNT {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            let (fa, fb) = (reach_at(a), reach_at(b));
            nearest = nearest.max(fa).max(fb);
            if fa > fb { high = b } else { low = a }
        }
        let whole = self.wheel_m + self.piece_m - self.first_m;
        (whole - nearest).clamp(0.0, self.piece_m)
    }

    /// Distance of the axle from the piece's centre, in direction `at`, when a row touches.
    fn meets(&self, row: &Row, felt: &Felt, at: f64, groove_m: f64) -> f64 {
        let mut nearest = f64::NEG_INFINITY;
        let mut meet = |azimuth: f64, less: f64| {
            let away = turn_between(azimuth, at);
            let b = row.radius_m * away.sin();
            if away < 0.5 * PI && b < self.wheel_m {
                nearest = nearest.max(reach_m(self.wheel_m, row.radius_m, b) - less);
            }
        };
        if let Some(azimuth) = clear_of(at, &felt.taken) {
            meet(azimuth, 0.0);
        }
        if let Some(azimuth) = clear_of(at, &felt.open) {
            let low = felt.taken.iter().any(|s| inside(azimuth, *s));
            meet(azimuth, if low { groove_m } else { 0.0 });
        }
        nearest
    }
}
