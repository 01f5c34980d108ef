//! What would help against wedging: the design against others, load by load.

use std::cell::Cell;

use super::hopper::{BandSpec, Hopper, Pieces, StirrerSpec};
use super::lint::lints;
use super::load::Load;
use super::survey::{Invalid, LoadLine, Share, many_while, stuck_for, whole};
use crate::numerics::normal;
use crate::numerics::proportion::wilson;

/// A change to a hopper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Remedy {
    /// Short stable name.
    pub code: &'static str,
    /// The changed hopper.
    pub hopper: Hopper,
    /// The pieces it is loaded with.
    pub pieces: Pieces,
    /// How long it takes to do. Judgement.
    pub work_s: f64,
}

/// How a remedy compares with the design as it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compared {
    /// The remedy.
    pub remedy: Remedy,
    /// Loads that wait longer with it.
    pub stuck: Share,
    /// Chance of a wedge removed; negative where it does harm.
    pub removed: Share,
    /// Loads that only the design wedges, and loads that only the remedy does.
    pub differ_counts: [usize; 2],
    /// The interval leaves no doubt about the sign.
    pub established: bool,
    /// The difference to the next in the ranking is established.
    pub beats_next: bool,
    /// Chance removed for each hour of work.
    pub per_hour_frac: f64,
    /// How far to the side of the middle pieces leave, root mean square; `None` where none did.
    pub aside_m: Option<f64>,
}

/// The ranking.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranking {
    /// Loads of each design, the same for all.
    pub load_count: usize,
    /// Chance of a wedge as it is.
    pub now: Share,
    /// How far to the side of the middle pieces leave as it is, root mean square; `None` where none did.
    pub now_aside_m: Option<f64>,
    /// Confidence of each interval, so that all together are right 95 times of 100.
    pub confidence_frac: f64,
    /// Best first.
    pub compared: Vec<Compared>,
    /// The one that removes most, whatever its work; `None` where none is sure to help.
    pub most: Option<Most>,
    /// Remedies that lost pieces through a wall: no result.
    pub invalid: Vec<(&'static str, Invalid)>,
    /// Remedies not played, because it was broken off before.
    pub left: Vec<&'static str>,
}

/// The change that removes most of those that are sure to help.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Most {
    /// Its place in the ranking.
    pub index: usize,
    /// That it removes more than the first of the ranking is established.
    pub beats_first: bool,
}

/// How far a ranking has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ranked {
    /// Designs played, the present one among them.
    pub done_count: usize,
    /// Designs in all.
    pub of_count: usize,
}

/// An hour.
const HOUR_S: f64 = 3600.0;
/// Judgement: a stirrer for a hopper that has none.
const STIRRER_RADPS: f64 = 48.0 * std::f64::consts::PI / 30.0;
const STIRRER_NM: f64 = 0.6;
/// Judgement: an elastic cord pulled by hand.
const BAND_N: f64 = 6.0;
const BAND_NPM: f64 = 60.0;
/// Judgement: by how much a floor is easily raised.
const STEEPER_RAD: f64 = 8.0 * std::f64::consts::PI / 180.0;
/// Judgement: a slim funnel.
const SLIM_RAD: f64 = 30.0 * std::f64::consts::PI / 180.0;

/// A length as one cuts it: whole millimetres, so that what is played is what gets written down and built.
fn workshop(length_m: f64) -> f64 {
    const MM: f64 = 1e-3;
    if length_m.abs() < 5.0 * MM {
        length_m
    } else {
        (length_m / MM).round() * MM
    }
}

/// The remedies that fit a hopper; what is impossible is left out.
pub fn remedies(h: &Hopper, pieces: &Pieces) -> Vec<Remedy> {
    let d = pieces.diameter_m;
    let mut all: Vec<(&'static str, f64, Hopper)> = Vec::new();
    let with = |s: StirrerSpec| Hopper {
        stirrer: Some(s),
        ..*h
    };
    let bare = Hopper {
        stirrer: None,
        bands: None,
        ..*h
    };
    let bands = BandSpec {
        tension_n: BAND_N,
        stiffness_npm: BAND_NPM,
        reach_m: h.usual_reach_m(),
        height_m: 0.5 * d,
    };
    if let Some(s) = h.stirrer {
        if !s.reverses {
            all.push(("stirrer-reverses", 1.0, with(StirrerSpec { reverses: true, ..s })));
        }
        all.push((
            "stirrer-faster",
            0.3,
            with(StirrerSpec {
                speed_radps: 2.0 * s.speed_radps,
                ..s
            }),
        ));
        all.push((
            "stirrer-stronger",
            2.0,
            with(StirrerSpec {
                torque_nm: 2.0 * s.torque_nm,
                ..s
            }),
        ));
        if s.swing_rad == 0.0 {
            all.push((
                "stirrer-other-way",
                0.2,
                with(StirrerSpec {
                    speed_radps: -s.speed_radps,
                    ..s
                }),
            ));
        }
        all.push(("stirrer-centred", 1.5, with(StirrerSpec { offset_m: 0.0, ..s })));
        all.push((
            "bands-for-stirrer",
            1.0,
            Hopper {
                bands: Some(bands),
                ..bare
            },
        ));
        all.push(("no-stirrer", 0.5, Hopper { stirrer: None, ..*h }));
    } else {
        all.push(("stirrer", 6.0, with(new_stirrer(h, d))));
        if h.bands.is_some() {
            all.push((
                "stirrer-for-bands",
                6.0,
                Hopper {
                    stirrer: Some(new_stirrer(h, d)),
                    ..bare
                },
            ));
        }
    }
    match h.bands {
        None => all.push((
            "bands",
            1.0,
            Hopper {
                bands: Some(bands),
                ..*h
            },
        )),
        Some(b) => {
            all.push((
                "bands-looser",
                0.2,
                Hopper {
                    bands: Some(BandSpec {
                        tension_n: 0.5 * b.tension_n,
                        ..b
                    }),
                    ..*h
                },
            ));
            all.push(("no-bands", 0.2, Hopper { bands: None, ..*h }));
        }
    }
    all.push((
        "steeper",
        1.0,
        Hopper {
            slope_rad: h.slope_rad + STEEPER_RAD,
            ..*h
        },
    ));
    if h.funnel_rad > 1.2 * SLIM_RAD {
        all.push((
            "slimmer-funnel",
            3.0,
            Hopper {
                funnel_rad: SLIM_RAD,
                ..*h
            },
        ));
    }
    if h.fillet_m < 0.25 * d {
        all.push((
            "rounded-mouth",
            1.5,
            Hopper {
                fillet_m: workshop(0.25 * d),
                ..*h
            },
        ));
    }
    all.push((
        "wider-chute",
        2.0,
        Hopper {
            chute_width_m: workshop(h.chute_width_m + 0.08 * d),
            ..*h
        },
    ));
    if h.rail_gap_m == 0.0 {
        all.push((
            "rails",
            1.5,
            Hopper {
                rail_gap_m: workshop(0.25 * d),
                ..*h
            },
        ));
    }
    if let Some(r) = h.roller {
        all.push((
            "roller-slower",
            0.3,
            Hopper {
                roller: Some(super::hopper::RollerSpec {
                    rim_mps: 0.5 * r.rim_mps,
                    ..r
                }),
                ..*h
            },
        ));
    }
    let mut loading = h.loading;
    loading.before_mouth_m = workshop(h.length_m - 0.75 * d);
    all.push(("drop-at-back", 0.1, Hopper { loading, ..*h }));
    all.into_iter()
        .filter(|(_, _, changed)| changed != h && !lints(changed, pieces).iter().any(|l| l.fault.refused()))
        .map(|(code, effort, hopper)| Remedy {
            code,
            hopper,
            pieces: *pieces,
            work_s: HOUR_S * effort,
        })
        .collect()
}

/// The same hopper with what is hardest to know as it might be: to see whether a test of the own pieces is worth while.
pub fn doubts(h: &Hopper, pieces: &Pieces) -> Vec<Remedy> {
    let rubbed = |ratio: f64| Hopper {
        friction_coeff: ratio * h.friction_coeff,
        ..*h
    };
    let between = |ratio: f64| Hopper {
        piece_friction_coeff: ratio * h.piece_friction_coeff,
        ..*h
    };
    let bounced = |bounce_coeff: f64| Pieces {
        bounce_coeff,
        ..*pieces
    };
    let pressed = |ratio: f64| Pieces {
        press_npm: ratio * pieces.press_npm,
        ..*pieces
    };
    let e = pieces.bounce_coeff;
    [
        ("friction-low", rubbed(1.0 / DOUBT_RATIO), *pieces),
        ("friction-high", rubbed(DOUBT_RATIO), *pieces),
        ("piece-friction-low", between(1.0 / DOUBT_RATIO), *pieces),
        ("piece-friction-high", between(DOUBT_RATIO), *pieces),
        ("bounce-low", *h, bounced((e - DOUBT_BOUNCE).max(0.14))),
        ("bounce-high", *h, bounced((e + DOUBT_BOUNCE).min(0.95))),
        ("softer", *h, pressed(0.5)),
        ("stiffer", *h, pressed(2.0)),
    ]
    .into_iter()
    .map(|(code, hopper, pieces)| Remedy {
        code,
        hopper,
        pieces,
        work_s: HOUR_S,
    })
    .collect()
}

/// Judgement: friction that was not measured may be this much more or less.
const DOUBT_RATIO: f64 = 1.6;
/// Judgement: the same for the bounce.
const DOUBT_BOUNCE: f64 = 0.15;

/// A stirrer in the middle of the part that does not narrow, as long as the walls allow, that turns back when it stalls.
fn new_stirrer(h: &Hopper, d: f64) -> StirrerSpec {
    let before = workshop(h.funnel_m() + 0.5 * (h.length_m - h.funnel_m()));
    let clear = h.clearance_m(-before, 0.0);
    StirrerSpec {
        length_m: workshop((clear - 0.1 * d).min(1.2 * d).max(0.2 * d)),
        before_mouth_m: before,
        offset_m: 0.0,
        height_m: workshop(0.5 * d),
        thickness_m: workshop(0.1 * d),
        speed_radps: STIRRER_RADPS,
        torque_nm: STIRRER_NM,
        reverses: true,
        swing_rad: 0.0,
        middle_rad: std::f64::consts::PI,
    }
}

/// Difference of two shares of the same loads, with its interval.
///
/// ```text
/// p₁₂ = (n₁₂ + 1)/(n + 2),  p₂₁ = (n₂₁ + 1)/(n + 2)
/// p₁₂ − p₂₁ ± z √((p₁₂ + p₂₁ − (p₁₂ − p₂₁)²)/(n + 2))                   [bonett-price-2012]
/// ```
///
/// with the loads n₁₂ that only the first wedges and n₂₁ that only the second does. The share itself is (n₁₂ − n₂₁)/n.
pub fn paired(
    first_only_count: usize,
    second_only_count: usize,
    of_count: usize,
    confidence_frac: f64,
) -> Share {
    let n = of_count as f64;
    let (a, b) = (
        (first_only_count as f64 + 1.0) / (n + 2.0),
        (second_only_count as f64 + 1.0) / (n + 2.0),
    );
    let z = normal::quantile(0.5 + 0.5 * confidence_frac);
    let half = z * ((a + b - (a - b) * (a - b)) / (n + 2.0)).sqrt();
    let frac = (first_only_count as f64 - second_only_count as f64) / n.max(1.0);
    Share {
        frac,
        low_frac: (a - b - half).max(-1.0).min(frac),
        high_frac: (a - b + half).min(1.0).max(frac),
    }
}

/// Which loads waited too long, and how far aside pieces left.
type Seen = (Vec<bool>, Option<f64>);

/// How far to the side of the middle pieces left, root mean square; `None` where none did.
pub fn aside_m(loads: &[Load]) -> Option<f64> {
    let all = || loads.iter().flat_map(|l| &l.entries);
    let count = all().count();
    (count > 0).then(|| (all().map(|e| e.aside_m * e.aside_m).sum::<f64>() / count as f64).sqrt())
}

/// Place of [`super::load::JUDGED_S`] among the waits.
const JUDGED: usize = 1;
/// Confidence over all remedies together.
const CONFIDENCE: f64 = 0.95;

/// Runs the design and others on the same loads and ranks them, or those that `go_on` left time for; it hears how far it is
/// after every few loads.
///
/// # Errors
/// A piece went through a wall in the design as it is.
pub fn rank(
    hopper: &Hopper,
    pieces: &Pieces,
    all: &[Remedy],
    seed: u64,
    load_count: usize,
    go_on: &mut dyn FnMut(&Ranked) -> bool,
) -> Result<Ranking, Invalid> {
    let confidence = 1.0 - (1.0 - CONFIDENCE) / (2 * all.len()).max(1) as f64;
    let stopped = Cell::new(false);
    let mut stuck = |h: &Hopper, pieces: &Pieces, done_count: usize| -> Result<Seen, Invalid> {
        let of_count = all.len() + 1;
        let mut more = || {
            stopped.set(!go_on(&Ranked { done_count, of_count }));
            !stopped.get()
        };
        let loads = many_while(h, pieces, seed, load_count, &mut more);
        whole(&loads)?;
        let long = loads.iter().map(|l| stuck_for(l, JUDGED)).collect();
        Ok((long, aside_m(&loads)))
    };
    let (now, now_aside_m) = stuck(hopper, pieces, 0)?;
    // Broken off before that: what was played of the present design still says something about it.
    let load_count = now.len();
    let count = |s: &[bool]| s.iter().filter(|x| **x).count();
    let part = |hits: usize| {
        let [low_frac, high_frac] = wilson(hits as u64, load_count as u64, confidence);
        Share {
            frac: hits as f64 / load_count.max(1) as f64,
            low_frac,
            high_frac,
        }
    };
    let differ = |a: &[bool], b: &[bool]| {
        let only = |want: [bool; 2]| a.iter().zip(b).filter(|(x, y)| [**x, **y] == want).count();
        [only([true, false]), only([false, true])]
    };
    let mut rows: Vec<(Compared, Vec<bool>)> = Vec::new();
    let mut invalid = Vec::new();
    let mut left = Vec::new();
    for (i, remedy) in all.iter().enumerate() {
        if stopped.get() {
            left.push(remedy.code);
            continue;
        }
        match stuck(&remedy.hopper, &remedy.pieces, i + 1) {
            Err(why) => invalid.push((remedy.code, why)),
            Ok((then, _)) if then.len() < load_count => left.push(remedy.code),
            Ok((then, aside_m)) => {
                let differ_counts = differ(&now, &then);
                let removed = paired(differ_counts[0], differ_counts[1], load_count, confidence);
                rows.push((
                    Compared {
                        remedy: *remedy,
                        stuck: part(count(&then)),
                        removed,
                        differ_counts,
                        established: removed.low_frac > 0.0 || removed.high_frac < 0.0,
                        beats_next: false,
                        per_hour_frac: removed.frac / (remedy.work_s / HOUR_S),
                        aside_m,
                    },
                    then,
                ));
            }
        }
    }
    // What is sure to help, by chance removed for each hour of work; then the rest by chance removed.
    let helps = |c: &Compared| c.established && c.removed.frac > 0.0;
    rows.sort_by(|(a, _), (b, _)| {
        let by = |c: &Compared| if helps(c) { c.per_hour_frac } else { c.removed.frac };
        helps(b).cmp(&helps(a)).then(by(b).total_cmp(&by(a)))
    });
    for i in 1..rows.len() {
        let [worse_only, better_only] = differ(&rows[i].1, &rows[i - 1].1);
        let lead = paired(worse_only, better_only, load_count, confidence);
        rows[i - 1].0.beats_next = lead.low_frac > 0.0;
    }
    // Ties go to the first, which takes less work.
    let helping = rows.iter().enumerate().filter(|(_, (c, _))| helps(c));
    let most = helping
        .rev()
        .max_by(|(_, (a, _)), (_, (b, _))| a.removed.frac.total_cmp(&b.removed.frac))
        .map(|(index, (_, seen))| {
            let [first_only, most_only] = rows.first().map_or([0, 0], |(_, first)| differ(first, seen));
            Most {
                index,
                beats_first: paired(first_only, most_only, load_count, confidence).low_frac > 0.0,
            }
        });
    Ok(Ranking {
        load_count,
        now: part(count(&now)),
        now_aside_m,
        confidence_frac: confidence,
        compared: rows.into_iter().map(|r| r.0).collect(),
        most,
        invalid,
        left,
    })
}

/// What a change did, load by load: for each of the waits the chance that went, negative where it grew, over the loads that
/// both were played with. Right for all of the waits together 95 times of 100.
pub fn before_and_after(before: &[LoadLine], after: &[LoadLine]) -> Vec<Share> {
    let waits = super::load::WAITS_S.len();
    let confidence = 1.0 - (1.0 - CONFIDENCE) / waits as f64;
    let pairs: Vec<(&LoadLine, &LoadLine)> = before.iter().zip(after).collect();
    (0..waits)
        .map(|wait| {
            let long = |l: &LoadLine| l.stuck.get(wait).is_some_and(Option::is_some);
            let only = |want: [bool; 2]| {
                let is_it = |(b, a): &&(&LoadLine, &LoadLine)| [long(b), long(a)] == want;
                pairs.iter().filter(is_it).count()
            };
            paired(only([true, false]), only([false, true]), pairs.len(), confidence)
        })
        .collect()
}
