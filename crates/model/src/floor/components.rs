//! Where the scatter comes from: pieces, sessions, place in the volley, battery, and what is left.

use crate::numerics::gamma::chi_square_quantile;
use crate::numerics::mixed_model::{Block, MixedFit, MixedModel};
use crate::numerics::normal;
use crate::numerics::one_way::{f_quantile, one_way, power};

/// One throw: its deviation as a share of speed, and what may have caused it.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Throw {
    /// Deviation along divided by the change of the place for one unit of ln v; or sideways, in radians of heading.
    pub deviation_frac: f64,
    /// Mark of the piece.
    pub piece: Option<u32>,
    /// Session, counted from the first in the log.
    pub session: usize,
    /// Place in its volley, from 0.
    pub place: u32,
    /// Last of its volley.
    pub last: bool,
    /// Battery voltage before the throw.
    pub battery_v: Option<f64>,
    /// Logarithm of the wheel speed at release by that asked for; counts fully, as speed follows the wheel.
    pub release_frac: Option<f64>,
}

/// A possible cause of scatter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Pieces differ.
    Piece,
    /// Sessions differ.
    Session,
    /// Later throws of a volley differ, in proportion to their place.
    Place,
    /// The last throw of a volley differs.
    Last,
    /// The battery voltage.
    Voltage,
    /// The wheel speed at release.
    ReleaseSpeed,
}

/// What the log says of a cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judgement {
    /// It scatters the throws: the interval leaves zero out.
    Shown,
    /// It does not matter: even its upper end adds less than a twentieth to the spread.
    Small,
    /// This log cannot tell.
    CannotTell,
}

/// The throws that would convict or clear a cause.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trial {
    /// Throw these two pieces so many times each, alternating.
    TwoPieces {
        /// The piece that seems slowest.
        slow: u32,
        /// The piece that seems fastest.
        fast: u32,
        /// Throws of each.
        each: u32,
    },
    /// Mark so many pieces and throw each so many times, in mixed order.
    MarkPieces {
        /// Pieces.
        pieces: u32,
        /// Throws of each.
        each: u32,
    },
    /// Throw the same pieces in so many more sessions, so many times in each.
    MoreSessions {
        /// Sessions.
        sessions: u32,
        /// Throws in each.
        each: u32,
    },
    /// Throw so many volleys as in a match, and as many throws with a long rest before each, alternating.
    RestBetween {
        /// Volleys.
        volleys: u32,
    },
    /// Throw so many times with a full and as often with a used battery, alternating.
    TwoBatteries {
        /// Throws with each.
        each: u32,
    },
    /// Log the wheel speed before each throw, for so many throws.
    LogSpeed {
        /// Throws.
        throws: u32,
    },
}

/// A cause, how much it scatters, and how to find out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suspect {
    /// The cause.
    pub cause: Cause,
    /// Standard deviation that it adds.
    pub sd_frac: f64,
    /// 95 % interval of that.
    pub interval_frac: [f64; 2],
    /// Its share of the variance.
    pub share_frac: f64,
    /// What the log says.
    pub judgement: Judgement,
    /// Slope for the causes that are a trend: for one place, for the last, for one volt. None for pieces and sessions.
    pub slope_frac: Option<f64>,
    /// What would convict or clear it.
    pub trial: Trial,
}

/// A piece and how much it seems to differ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PieceEffect {
    /// Its mark.
    pub piece: u32,
    /// Throws of it.
    pub throws: u32,
    /// Best guess of its deviation, pulled towards zero as far as it is not known.
    pub effect_frac: f64,
    /// Its standard deviation.
    pub sd_frac: f64,
}

/// Where the scatter comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Components {
    /// Throws used.
    pub throws: usize,
    /// Marked pieces.
    pub pieces: usize,
    /// Sessions.
    pub sessions: usize,
    /// What is left from throw to throw.
    pub residual_sd_frac: f64,
    /// Share of the variance that is left.
    pub residual_share_frac: f64,
    /// Largest share first.
    pub suspects: Vec<Suspect>,
    /// Pieces, lowest first.
    pub piece_effects: Vec<PieceEffect>,
    /// Deviation between pieces to predict with: never a hard zero.
    pub piece_sd_to_predict_frac: f64,
    /// Chance that a log of this size shows pieces that differ by half the residual deviation.
    pub power_half_frac: f64,
    /// The same for pieces that differ by all of it.
    pub power_full_frac: f64,
    /// How far the place in the volley goes with the piece, 0 to 1: above a half their effects cannot be told apart. Throw
    /// in mixed order.
    pub order_tied_frac: f64,
    /// Fewer than six pieces with eight throws each: say "cannot tell", not "the pieces are fine".
    pub too_small: bool,
}

/// Fewest pieces and throws of each from which a log can clear the pieces: it shows τ = σ/2 half the time.
pub const FEWEST_PIECES: usize = 6;
/// See [`FEWEST_PIECES`].
pub const FEWEST_THROWS_COUNT: f64 = 8.0;

/// Splits the scatter of a log into its causes.
///
/// ```text
/// u − ln(ω_release/ω_set) = μ + a_piece + s_session + b₁ place + b₂ last + b₃ (V − V̄) + e
/// a ~ N(0, τ_a²)   s ~ N(0, τ_s²)   b₁, b₂ ~ N(0, (1 %)²)   b₃ ~ N(0, (1 %/V)²)   e ~ N(0, σ²)
/// ```
///
/// by restricted likelihood [patterson-thompson-1971], with profile intervals of τ. A trend adds the deviation |b| · sd of
/// what it multiplies. Throws without a voltage count at the mean one. `None` for fewer than four usable throws, or when all
/// are alike. A throw with a number that is not finite is left out.
pub fn components(throws: &[Throw]) -> Option<Components> {
    let used: Vec<Throw> = throws
        .iter()
        .filter(|t| {
            let finite = |x: Option<f64>| x.is_none_or(f64::is_finite);
            t.deviation_frac.is_finite() && finite(t.battery_v) && finite(t.release_frac)
        })
        .copied()
        .collect();
    if used.len() < 4 {
        return None;
    }
    let (pieces, piece_of) = marks(&used, |t| t.piece);
    let (sessions, session_of) = marks(&used, |t| Some(t.session));
    let volts: Vec<f64> = used.iter().filter_map(|t| t.battery_v).collect();
    let volt_mean = volts.iter().sum::<f64>() / volts.len().max(1) as f64;
    let trends: [(Cause, Vec<f64>); 3] = [
        (Cause::Place, used.iter().map(|t| f64::from(t.place)).collect()),
        (
            Cause::Last,
            used.iter().map(|t| f64::from(u8::from(t.last))).collect(),
        ),
        (
            Cause::Voltage,
            used.iter()
                .map(|t| t.battery_v.unwrap_or(volt_mean) - volt_mean)
                .collect(),
        ),
    ];
    let release: Vec<f64> = used.iter().map(|t| t.release_frac.unwrap_or(0.0)).collect();
    let target: Vec<f64> = used
        .iter()
        .zip(&release)
        .map(|(t, r)| t.deviation_frac - r)
        .collect();
    // One piece or one session is the constant itself.
    let levels = |count: usize| if count > 1 { count } else { 0 };
    let mut blocks = vec![
        Block::groups(levels(pieces.len()), &piece_of),
        Block::groups(levels(sessions.len()), &session_of),
    ];
    for (_, column) in &trends {
        let varies = sd(column) > 0.0;
        blocks.push(Block {
            columns: if varies { vec![column.clone()] } else { Vec::new() },
            known_sd: Some(TREND_PRIOR),
        });
    }
    let model = MixedModel::new(&target, &blocks)?;
    let best = model.reml(&[])?;
    let whole = whole_variance(&best, &trends, &release);
    let drop = chi_square_quantile(1.0, 0.95);
    let mut suspects = Vec::new();
    let mut judge = |cause, sd_frac: f64, interval_frac: [f64; 2], shown: bool, slope_frac, trial| {
        let judgement = if shown {
            Judgement::Shown
        } else if interval_frac[1] * interval_frac[1] < SMALL * whole {
            Judgement::Small
        } else {
            Judgement::CannotTell
        };
        suspects.push(Suspect {
            cause,
            sd_frac,
            interval_frac,
            share_frac: sd_frac * sd_frac / whole,
            judgement,
            slope_frac,
            trial,
        });
    };
    let piece_effects = effects_of(&pieces, &piece_of, &best);
    for (block, cause, count) in [
        (0, Cause::Piece, pieces.len()),
        (1, Cause::Session, sessions.len()),
    ] {
        if count < 2 {
            continue;
        }
        let tau = best.taus.get(block).copied().unwrap_or(0.0);
        let interval = model.profile_interval(&best, block, drop);
        let trial = match cause {
            Cause::Piece => piece_trial(&piece_effects, best.sigma),
            _ => Trial::MoreSessions {
                sessions: FEWEST_PIECES as u32,
                each: FEWEST_THROWS_COUNT as u32,
            },
        };
        judge(cause, tau, interval, interval[0] > 0.0, None, trial);
    }
    // Student's quantile with what the groups leave: small logs are less sure of their own σ.
    let spent = levels(pieces.len()) + levels(sessions.len()) + trends.len();
    let freedom = used.len().saturating_sub(spent).max(1) as f64;
    let quantile = f_quantile(1.0, freedom, 0.95).sqrt();
    for (i, (cause, column)) in trends.iter().enumerate() {
        let (Some(slope), Some(doubt)) = (first(&best.effects, i + 2), first(&best.effect_sds, i + 2)) else {
            continue;
        };
        let spread = sd(column);
        let half = quantile * doubt;
        let shown = slope.abs() > half;
        let interval = [
            (slope.abs() - half).max(0.0) * spread,
            (slope.abs() + half) * spread,
        ];
        let trial = match cause {
            Cause::Voltage => Trial::TwoBatteries {
                each: throws_each(VOLTAGE_STEP * slope.abs().max(doubt), best.sigma),
            },
            _ => Trial::RestBetween {
                volleys: throws_each(slope.abs().max(doubt), best.sigma),
            },
        };
        judge(*cause, slope.abs() * spread, interval, shown, Some(slope), trial);
    }
    let release_sd = sd(&release);
    if release_sd > 0.0 {
        // Its coefficient is known and its values are measured: what it adds is known up to the count of throws.
        let n = (used.len() - 1) as f64;
        let end = |share| release_sd * (n / chi_square_quantile(n, share)).sqrt();
        let trial = Trial::LogSpeed {
            throws: LOGGED_THROWS,
        };
        let matters = release_sd * release_sd >= SMALL * whole;
        judge(
            Cause::ReleaseSpeed,
            release_sd,
            [end(0.975), end(0.025)],
            matters,
            None,
            trial,
        );
    }
    if pieces.len() < 2 {
        let trial = Trial::MarkPieces {
            pieces: FEWEST_PIECES as u32,
            each: FEWEST_THROWS_COUNT as u32,
        };
        judge(Cause::Piece, 0.0, [0.0, whole.sqrt()], false, None, trial);
    }
    suspects.sort_by(|a, b| b.share_frac.total_cmp(&a.share_frac));
    let marked = piece_of.iter().flatten().count() as f64;
    let (groups, size) = (pieces.len() as f64, marked / pieces.len().max(1) as f64);
    let power_at = |ratio| {
        Some(power(groups, size, ratio, 0.05))
            .filter(|p| p.is_finite())
            .unwrap_or(0.0)
    };
    Some(Components {
        throws: used.len(),
        pieces: pieces.len(),
        sessions: sessions.len(),
        residual_sd_frac: best.sigma,
        residual_share_frac: best.sigma * best.sigma / whole,
        suspects,
        piece_effects,
        piece_sd_to_predict_frac: to_predict(&model, &best),
        power_half_frac: power_at(0.5),
        power_full_frac: power_at(1.0),
        order_tied_frac: tied(&used, pieces.len(), &piece_of),
        too_small: pieces.len() < FEWEST_PIECES || size < FEWEST_THROWS_COUNT,
    })
}

/// Prior deviation of a trend: one percent for one place, for the last, for one volt.
const TREND_PRIOR: f64 = 0.01;
/// Method: a share of the variance that adds a twentieth to the deviation.
const SMALL: f64 = 0.0975;
/// Quantile 0.975 of the normal distribution.
const TWO_SIDED_95: f64 = 1.959_963_984_540_054;
/// Method: volts between a full and a used battery (common practice, no source).
const VOLTAGE_STEP: f64 = 1.0;
/// Method: throws after which a deviation is known to a fifth.
const LOGGED_THROWS: u32 = 20;

fn first(lists: &[Vec<f64>], block: usize) -> Option<f64> {
    lists.get(block)?.first().copied()
}

fn sd(values: &[f64]) -> f64 {
    crate::numerics::moments::moments(values).map_or(0.0, |m| if m.sd.is_finite() { m.sd } else { 0.0 })
}

/// Share of the variance of the places that lies between pieces, less what chance gives.
fn tied(throws: &[Throw], pieces: usize, piece_of: &[Option<usize>]) -> f64 {
    let mut groups = vec![Vec::new(); pieces];
    for (throw, piece) in throws.iter().zip(piece_of) {
        if let Some(group) = piece.and_then(|p| groups.get_mut(p)) {
            group.push(f64::from(throw.place));
        }
    }
    let Some(anova) = one_way(&groups) else { return 0.0 };
    let whole = (anova.ss_between + anova.ss_within) / (anova.df_between + anova.df_within);
    let share = 1.0 - anova.ms_within / whole;
    if share.is_finite() { share.max(0.0) } else { 0.0 }
}

/// Method: more pieces or sessions than this would take seconds; those thrown most often are kept.
const MOST_MARKS: usize = 40;

/// Distinct marks in order, and the place of each throw's mark among them.
fn marks<M: Ord + Copy>(throws: &[Throw], of: impl Fn(&Throw) -> Option<M>) -> (Vec<M>, Vec<Option<usize>>) {
    let mut distinct: Vec<M> = throws.iter().filter_map(&of).collect();
    distinct.sort();
    let all = distinct.clone();
    distinct.dedup();
    if distinct.len() > MOST_MARKS {
        let count = |m: &M| all.partition_point(|x| x <= m) - all.partition_point(|x| x < m);
        distinct.sort_by_key(|m| std::cmp::Reverse(count(m)));
        distinct.truncate(MOST_MARKS);
        distinct.sort();
    }
    let place = |t: &Throw| of(t).and_then(|mark| distinct.binary_search(&mark).ok());
    let places = throws.iter().map(place).collect();
    (distinct, places)
}

fn whole_variance(best: &MixedFit, trends: &[(Cause, Vec<f64>)], release: &[f64]) -> f64 {
    let random: f64 = best.taus.iter().take(2).map(|t| t * t).sum();
    let trend: f64 = trends
        .iter()
        .enumerate()
        .map(|(i, (_, column))| (first(&best.effects, i + 2).unwrap_or(0.0) * sd(column)).powi(2))
        .sum();
    best.sigma * best.sigma + random + trend + sd(release).powi(2)
}

fn effects_of(pieces: &[u32], piece_of: &[Option<usize>], best: &MixedFit) -> Vec<PieceEffect> {
    let (Some(effects), Some(sds)) = (best.effects.first(), best.effect_sds.first()) else {
        return Vec::new();
    };
    let mut out: Vec<PieceEffect> = pieces
        .iter()
        .enumerate()
        .zip(effects.iter().zip(sds))
        .map(|((i, piece), (effect, sd))| PieceEffect {
            piece: *piece,
            throws: piece_of.iter().filter(|p| **p == Some(i)).count() as u32,
            effect_frac: *effect,
            sd_frac: *sd,
        })
        .collect();
    out.sort_by(|a, b| a.effect_frac.total_cmp(&b.effect_frac));
    out
}

/// The two pieces that seem to differ most, or marks on more of them when these do not differ at all.
fn piece_trial(effects: &[PieceEffect], sigma: f64) -> Trial {
    match (effects.first(), effects.last()) {
        (Some(slow), Some(fast)) if slow.effect_frac < fast.effect_frac => Trial::TwoPieces {
            slow: slow.piece,
            fast: fast.piece,
            each: throws_each(fast.effect_frac - slow.effect_frac, sigma),
        },
        _ => Trial::MarkPieces {
            pieces: FEWEST_PIECES.max(effects.len()) as u32,
            each: FEWEST_THROWS_COUNT as u32,
        },
    }
}

/// Throws of each of two kinds after which a difference shows four times out of five.
///
/// ```text
/// n = 2 (z₀.₉₇₅ + z₀.₈)² (σ/δ)²
/// ```
///
/// [montgomery-2013]; at least 5, at most 99.
pub fn throws_each(difference_frac: f64, sigma_frac: f64) -> u32 {
    let z = TWO_SIDED_95 + normal::quantile(0.8);
    let count = 2.0 * (z * sigma_frac / difference_frac).powi(2);
    if count.is_nan() {
        MOST_THROWS
    } else {
        (count.ceil() as u32).clamp(5, MOST_THROWS)
    }
}

/// Method: nobody throws more of a trial; ask for less doubt elsewhere first.
const MOST_THROWS: u32 = 99;

/// Mean of τ over the profile of the likelihood with a half-normal prior of 0.7 σ: a small log proves no zero.
fn to_predict(model: &MixedModel, best: &MixedFit) -> f64 {
    let prior = PREDICT_PRIOR * best.sigma;
    let (mut sum, mut square) = (0.0, 0.0);
    for i in 0..PREDICT_POINTS {
        let tau = (f64::from(i) + 0.5) * PREDICT_FARTHEST * prior / f64::from(PREDICT_POINTS);
        let mut taus = best.taus.clone();
        if let Some(t) = taus.first_mut() {
            *t = tau;
        }
        // What is left within pieces is known far better than what lies between them, so σ is held.
        let fit = -0.5 * model.minus_two_log_likelihood(best.sigma, &taus) - best.log_likelihood;
        let weight = libm::exp(fit - 0.5 * (tau / prior).powi(2));
        sum += weight;
        square += weight * tau * tau;
    }
    (square / sum).sqrt()
}

/// Method: deviation of the half-normal prior of τ, in units of σ (common practice, no source).
const PREDICT_PRIOR: f64 = 0.7;
const PREDICT_FARTHEST: f64 = 5.0;
const PREDICT_POINTS: u32 = 100;

#[cfg(test)]
#[path = "components_tests.rs"]
mod tests;
