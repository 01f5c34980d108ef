//! Setpoints for a robot's code: few rows, straight lines between them, and an honest end on both sides.

use super::solve::TableRow;

/// One row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LookupRow {
    /// Distance from the axle's plumb line to the near rim, straight ahead.
    pub distance_m: f64,
    /// Wheel speed.
    pub wheel_radps: f64,
    /// How far it may be off, one standard deviation.
    pub wheel_sd_radps: f64,
    /// Angle from the line to the target to the launcher's heading, left positive; 0 for a robot that stands.
    pub lead_rad: f64,
}

/// Where a distance lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Within {
    /// Between the first row and the last.
    Range,
    /// Nearer than the first row, which is used.
    TooNear,
    /// Farther than the last row, which is used.
    TooFar,
    /// No number.
    NoDistance,
}

/// A table to be read by straight lines between its rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Lookup {
    /// Rows by rising distance, at least one.
    pub rows: Vec<LookupRow>,
    /// How far a straight line was found off the setpoint aimed for at a distance between two rows.
    pub worst_between_radps: f64,
}

/// Physical: wheel speed jumps between neighbours (from one arc to the other) where their difference is this
/// many times that of the pairs beside them ...
const JUMP_RATIO: f64 = 3.0;
/// ... and by more than this share of the speed.
const JUMP_FRAC: f64 = 0.01;

impl Lookup {
    /// A table from closely spaced setpoints. Rows lie every `strides[i]` of them, for the first stride at
    /// which no straight line is off by more than `off_frac` of the setpoint, or else the last stride.
    /// Taken from the unbroken stretch that has most of the `wanted_m` distances in it (then the longest).
    /// `None` where nothing is reached.
    pub fn of(fine: &[TableRow], strides: &[usize], off_frac: f64, wanted_m: &[f64]) -> Option<Lookup> {
        let rows: Vec<Option<LookupRow>> = fine.iter().map(row).collect();
        let run = stretches(&rows)
            .into_iter()
            .max_by_key(|run| (wanted_m.iter().filter(|d| covers(run, **d)).count(), run.len()))?;
        let mut best = None;
        for stride in strides {
            let made = thinned(&run, (*stride).max(1), off_frac);
            let fits = made.1;
            best = Some(made.0);
            if fits {
                break;
            }
        }
        best
    }

    /// The row for a distance: the straight line between two rows; the first or the last row outside them.
    ///
    /// ```text
    /// n = n₀ + (n₁ − n₀) (d − d₀) / (d₁ − d₀)
    /// ```
    pub fn at(&self, distance_m: f64) -> Option<(LookupRow, Within)> {
        let (first, last) = (self.rows.first()?, self.rows.last()?);
        if distance_m.is_nan() {
            return Some((*first, Within::NoDistance));
        }
        if distance_m < first.distance_m {
            return Some((*first, Within::TooNear));
        }
        if distance_m > last.distance_m {
            return Some((*last, Within::TooFar));
        }
        Some((between(&self.rows, distance_m).unwrap_or(*last), Within::Range))
    }
}

fn row(from: &TableRow) -> Option<LookupRow> {
    let best = from.aim.best()?;
    Some(LookupRow {
        distance_m: from.distance_m,
        wheel_radps: best.wheel_radps,
        wheel_sd_radps: best.doubt.setpoint_sd_radps,
        lead_rad: best.lead_rad,
    })
}

fn covers(run: &[LookupRow], distance_m: f64) -> bool {
    let ends = run.first().zip(run.last());
    ends.is_some_and(|(a, b)| distance_m >= a.distance_m && distance_m <= b.distance_m)
}

/// Stretches without a row that is out of reach and without a jump.
fn stretches(rows: &[Option<LookupRow>]) -> Vec<Vec<LookupRow>> {
    let at = |i: Option<usize>| i.and_then(|i| rows.get(i).copied().flatten());
    let step = |a: Option<LookupRow>, b: Option<LookupRow>| Some((b?.wheel_radps - a?.wheel_radps).abs());
    let mut out: Vec<Vec<LookupRow>> = Vec::new();
    let mut goes_on = false;
    for (i, row) in rows.iter().enumerate() {
        let Some(row) = row else {
            goes_on = false;
            continue;
        };
        let before = at(i.checked_sub(1));
        if goes_on && let Some(here) = step(before, Some(*row)) {
            let beside = [
                step(at(i.checked_sub(2)), before),
                step(Some(*row), at(Some(i + 1))),
            ];
            let usual = beside.into_iter().flatten().reduce(f64::max);
            if usual.is_some_and(|u| here > JUMP_RATIO * u + JUMP_FRAC * row.wheel_radps.abs()) {
                goes_on = false;
            }
        }
        match out.last_mut().filter(|_| goes_on) {
            Some(run) => run.push(*row),
            None => out.push(vec![*row]),
        }
        goes_on = true;
    }
    out
}

/// Every so many rows and the last one; and whether the lines between them are near enough.
fn thinned(run: &[LookupRow], stride: usize, off_frac: f64) -> (Lookup, bool) {
    let mut rows: Vec<LookupRow> = run.iter().step_by(stride).copied().collect();
    if let (Some(last), Some(end)) = (rows.last(), run.last())
        && last.distance_m < end.distance_m
    {
        rows.push(*end);
    }
    let (mut worst_between_radps, mut fits) = (0.0f64, true);
    for row in run {
        let line = between(&rows, row.distance_m).unwrap_or(*row);
        let off = (line.wheel_radps - row.wheel_radps).abs();
        worst_between_radps = worst_between_radps.max(off);
        fits &= off <= off_frac * row.wheel_radps.abs();
    }
    let lookup = Lookup {
        rows,
        worst_between_radps,
    };
    (lookup, fits)
}

fn between(rows: &[LookupRow], distance_m: f64) -> Option<LookupRow> {
    let above = rows.partition_point(|r| r.distance_m < distance_m);
    let b = rows.get(above)?;
    let Some(a) = above.checked_sub(1).and_then(|i| rows.get(i)) else {
        return Some(*b);
    };
    let t = (distance_m - a.distance_m) / (b.distance_m - a.distance_m);
    let mix = |x: f64, y: f64| x + (y - x) * t;
    Some(LookupRow {
        distance_m,
        wheel_radps: mix(a.wheel_radps, b.wheel_radps),
        wheel_sd_radps: mix(a.wheel_sd_radps, b.wheel_sd_radps),
        lead_rad: mix(a.lead_rad, b.lead_rad),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(speeds: &[f64]) -> Vec<Option<LookupRow>> {
        let each = speeds.iter().enumerate();
        each.map(|(i, w)| {
            w.is_finite().then_some(LookupRow {
                distance_m: 1.0 + 0.1 * i as f64,
                wheel_radps: *w,
                wheel_sd_radps: 2.0,
                lead_rad: 0.0,
            })
        })
        .collect()
    }

    #[test]
    fn a_straight_line_needs_two_rows_and_is_read_exactly() {
        let run = stretches(&rows(&[100.0, 110.0, 120.0, 130.0, 140.0]));
        assert_eq!(run.len(), 1);
        let (lookup, fits) = thinned(&run[0], 4, 1e-9);
        assert!(fits, "{lookup:?}");
        assert_eq!(lookup.rows.len(), 2);
        let (row, within) = lookup.at(1.25).unwrap();
        assert!((row.wheel_radps - 125.0).abs() < 1e-9, "{row:?}");
        assert_eq!(within, Within::Range);
    }

    #[test]
    fn a_curve_is_off_between_rows_by_what_the_parabola_says() {
        // n = 100 + 50 d², rows 0.4 apart: the chord is off by 50 (0.4 / 2)² in the middle.
        let speeds: Vec<f64> = (0..9)
            .map(|i| 100.0 + 50.0 * (0.1 * f64::from(i)).powi(2))
            .collect();
        let run = stretches(&rows(&speeds));
        let (lookup, fits) = thinned(&run[0], 4, 1e-3);
        assert!(
            (lookup.worst_between_radps - 2.0).abs() < 1e-9,
            "{}",
            lookup.worst_between_radps
        );
        assert!(!fits);
        assert!(thinned(&run[0], 1, 1e-3).1);
    }

    #[test]
    fn the_ends_are_held_and_told() {
        let run = stretches(&rows(&[100.0, 110.0]));
        let (lookup, _) = thinned(&run[0], 1, 1.0);
        let said = |d: f64| lookup.at(d).map(|(r, w)| (r.wheel_radps, w)).unwrap();
        assert_eq!(said(0.2), (100.0, Within::TooNear));
        assert_eq!(said(9.0), (110.0, Within::TooFar));
        assert_eq!(said(f64::NAN).1, Within::NoDistance);
        assert_eq!(said(f64::INFINITY).1, Within::TooFar);
    }

    #[test]
    fn what_is_out_of_reach_or_jumps_to_the_other_arc_breaks_the_table() {
        let runs = stretches(&rows(&[
            100.0,
            102.0,
            104.0,
            f64::NAN,
            110.0,
            112.0,
            150.0,
            152.0,
            154.0,
        ]));
        let lengths: Vec<usize> = runs.iter().map(Vec::len).collect();
        assert_eq!(lengths, [3, 2, 3]);
    }
}
