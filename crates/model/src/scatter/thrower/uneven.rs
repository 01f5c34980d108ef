//! Holes under the wheel and high and low spots of the guide: rows of what they do in true passages.

use rayon::prelude::*;

use super::{Detail, Thrower, difference};
use crate::launcher::bite::{Footprint, random_orientation};
use crate::launcher::guide_quality::with_phase;
use crate::launcher::{Bite, GuideError, Launcher, Passage, TorqueLine};
use crate::numerics::random::Stream;
use crate::scatter::inputs::Cause;
use crate::scatter::response::{Parts, parts};
use crate::shot::Exit;

/// Method: ways in which holes and guide are met, each by a true passage.
const UNEVEN_COUNT: usize = 128;
/// Stream of random numbers for the orientations of pieces.
const UNEVEN_STREAM: u64 = 0x6269_7465;

/// Something that the wheel or the guide does to a throw in its own way each time: rows of what it did
/// in true passages, sorted by what it did to the speed.
#[derive(Clone, Debug)]
pub(super) struct Uneven {
    pub(super) cause: Cause,
    pub(super) rows: Vec<UnevenRow>,
}

/// One way in which a throw met the holes or the guide.
#[derive(Clone, Copy, Debug)]
pub(super) struct UnevenRow {
    bite: Option<Bite>,
    guide_error: GuideError,
    /// What it did to the exit.
    shift: Parts,
    /// How far it turned the throw sideways.
    turn_rad: f64,
}

impl UnevenRow {
    pub(super) fn lay(&self, cause: Cause, launcher: &mut Launcher) {
        match cause {
            Cause::Bite => launcher.bite = self.bite,
            _ => launcher.guide_error = self.guide_error,
        }
    }
}

impl Thrower {
    /// Holes under the wheel and high and low spots of the guide: what each does in true passages.
    pub(super) fn uneven_things(
        &mut self,
        base: &Exit,
        torque: &TorqueLine,
        detail: Detail,
        seed: u64,
    ) -> Vec<Uneven> {
        let count = match detail {
            Detail::Fine => UNEVEN_COUNT,
            Detail::Coarse => UNEVEN_COUNT / 4,
        };
        let guide_error = self.chain.launcher.guide_error;
        let plain = UnevenRow {
            bite: None,
            guide_error,
            shift: [0.0; 5],
            turn_rad: 0.0,
        };
        // Where test shots scattered less than the file says, so do these.
        let [along_ratio, across_ratio] = self
            .project
            .throws
            .matched
            .map_or([1.0; 2], |m| [m.along_ratio, m.across_ratio]);
        let mut kinds: Vec<(Cause, Vec<UnevenRow>)> = Vec::new();
        if let Some(skin) = self.project.skin() {
            let foot = Footprint::of(&skin, &self.project.wheel_set(), self.project.squeeze_m(), 0.0);
            let mut stream = Stream::new(seed, UNEVEN_STREAM);
            let turns: Vec<[f64; 3]> = (0..count)
                .map(|_| [stream.uniform(), stream.uniform(), stream.uniform()])
                .collect();
            let rows = turns
                .par_iter()
                .map(|u| {
                    let imprint = foot.imprint(&skin, random_orientation(*u));
                    UnevenRow {
                        bite: Some(Bite {
                            depth_m: imprint.depth_m.map(|d| along_ratio * d),
                        }),
                        turn_rad: across_ratio * imprint.lean_rad.iter().sum::<f64>()
                            / imprint.lean_rad.len() as f64,
                        ..plain
                    }
                })
                .collect();
            kinds.push((Cause::Bite, rows));
        }
        if matches!(guide_error, GuideError::Wave { amplitude_m, .. } if amplitude_m > 0.0) {
            let rows = (0..count)
                .map(|i| {
                    let phase = std::f64::consts::TAU * (i as f64 + 0.5) / count as f64;
                    UnevenRow {
                        guide_error: lessened(
                            with_phase(&self.chain.launcher, phase).guide_error,
                            along_ratio,
                        ),
                        ..plain
                    }
                })
                .collect();
            kinds.push((Cause::Guide, rows));
        }
        let setting = self.project.machine.setting;
        let wheel_radps = self.scales.wheel_radps;
        kinds
            .into_iter()
            .filter_map(|(cause, mut rows)| {
                rows.par_iter_mut().for_each(|row| {
                    let mut chain = self.chain.clone();
                    row.lay(cause, &mut chain.launcher);
                    row.shift = match chain.release_driven(&setting, wheel_radps, torque, false) {
                        Passage::Thrown(r) => difference(&parts(&Exit::of(&r)), &parts(base)),
                        Passage::Refused { .. } => [f64::NAN; 5],
                    };
                });
                self.pilot_count += rows.len();
                // A way in which the piece does not come through has no exit to shift; the others stand for it.
                rows.retain(|r| r.shift.iter().all(|x| x.is_finite()));
                rows.sort_by(|a, b| a.shift[0].total_cmp(&b.shift[0]));
                (!rows.is_empty()).then_some(Uneven { cause, rows })
            })
            .collect()
    }

    pub(super) fn uneven_shift(&self, rows: &[usize]) -> Parts {
        let mut sum = [0.0; 5];
        for (u, row) in self.uneven.iter().zip(rows) {
            if let Some(row) = u.rows.get(*row) {
                for (s, b) in sum.iter_mut().zip(&row.shift) {
                    *s += b;
                }
            }
        }
        sum
    }

    /// How far holes and guide turn a throw sideways.
    pub(super) fn uneven_turn_rad(&self, rows: &[usize]) -> f64 {
        self.uneven
            .iter()
            .zip(rows)
            .filter_map(|(u, row)| u.rows.get(*row))
            .map(|r| r.turn_rad)
            .sum()
    }
}

/// A guide that strays only a share as far.
fn lessened(error: GuideError, share_ratio: f64) -> GuideError {
    match error {
        GuideError::Wave {
            amplitude_m,
            wavelength_m,
            phase_rad,
        } => GuideError::Wave {
            amplitude_m: share_ratio * amplitude_m,
            wavelength_m,
            phase_rad,
        },
        other => other,
    }
}
