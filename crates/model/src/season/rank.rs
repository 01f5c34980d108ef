//! What to do next: changes ranked by points for each day of work, and what the answer depends on.

use super::play::{Tally, play};
use super::rates::{Ground, Rates};
use crate::numerics::normal::quantile;
use crate::numerics::random::Stream;

/// How many matches are played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeasonPlan {
    /// Seed: the same one gives the same season.
    pub seed: u64,
    /// Ways in which what is not known may turn out.
    pub world_count: usize,
    /// Matches in each.
    pub match_count: usize,
}

impl Default for SeasonPlan {
    fn default() -> Self {
        SeasonPlan {
            seed: 1,
            world_count: 200,
            match_count: 60,
        }
    }
}

/// Judgement: times written down before anyone took a stopwatch are off by this much.
const TIMES_OFF: f64 = 0.15;
/// Judgement: misses before test shots are off by this much.
const MISSES_OFF: f64 = 0.3;
/// Judgement: chances of wedges and penalties are off by this much.
const CHANCES_OFF: f64 = 0.4;
/// Each end of the ranges shown leaves out this share.
const TAIL: f64 = 0.05;

/// Points of many matches.
#[derive(Clone, Debug, PartialEq)]
pub struct Points {
    /// Mean.
    pub mean_count: f64,
    /// Standard deviation from match to match, what is not known with it.
    pub sd_count: f64,
    /// A bad, a middling and a good match: 10 %, 50 % and 90 % of matches score less.
    pub tenths_count: [f64; 3],
    /// Share of matches that beat the score asked for; `None` where none is.
    pub beats_frac: Option<f64>,
    /// Its range, nine times in ten, over what is not known.
    pub beats_range_frac: Option<[f64; 2]>,
    /// Share of matches by points: lower edge and share of each bar.
    pub bars: Vec<(f64, f64)>,
    /// Width of a bar.
    pub bar_count: f64,
}

/// One change in figures.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// Place in the file's list.
    pub index: usize,
    /// Name.
    pub name: String,
    /// Days.
    pub days_count: f64,
    /// Money.
    pub money_count: f64,
    /// Points gained in a match, on average.
    pub gain_count: f64,
    /// The range of that: what is not known may put it anywhere here, nine times in ten.
    pub gain_range_count: [f64; 2],
    /// Points gained for each day of work.
    pub per_day_count: f64,
    /// Its range, nine times in ten.
    pub per_day_range_count: [f64; 2],
    /// How often it is the best of all for each day of work.
    pub best_frac: f64,
    /// Chance to beat the score asked for with it; `None` where none is asked.
    pub beats_frac: Option<f64>,
    /// Its range, nine times in ten, over what is not known.
    pub beats_range_frac: Option<[f64; 2]>,
    /// Rounds in a match with it.
    pub rounds_count: f64,
    /// Mean length of a round with it.
    pub round_s: f64,
}

/// What one input is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Lean {
    /// Name of the input.
    pub what: &'static str,
    /// Mean points with it a fifth lower.
    pub lower_count: f64,
    /// Mean points with it a fifth higher.
    pub higher_count: f64,
    /// Change that gains most for each day with it a fifth lower, by its place in the file's list; `None` without one that gains.
    pub first_lower: Option<usize>,
    /// The same with it a fifth higher.
    pub first_higher: Option<usize>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct SeasonAnswer {
    /// As it is.
    pub now: Points,
    /// Rounds in a match.
    pub rounds_count: f64,
    /// Pieces thrown in a match.
    pub thrown_count: f64,
    /// Pieces in.
    pub in_count: f64,
    /// Changes, most points for each day first.
    pub ranked: Vec<Ranked>,
    /// Inputs, the one that moves the points most first.
    pub leans: Vec<Lean>,
    /// The first change stays first as long as it takes fewer days than this; `None` where no second one gains anything.
    pub first_until_days_count: Option<f64>,
}

impl SeasonAnswer {
    /// The changes by their chance to beat the score asked for, highest first; empty where none is asked.
    pub fn by_chance(&self) -> Vec<&Ranked> {
        let mut all: Vec<&Ranked> = self.ranked.iter().filter(|r| r.beats_frac.is_some()).collect();
        let chance = |r: &Ranked| r.beats_frac.unwrap_or(0.0);
        all.sort_by(|a, b| chance(b).total_cmp(&chance(a)).then(a.index.cmp(&b.index)));
        all
    }
}

/// How one world differs from what is written.
struct World {
    seed: u64,
    times: [f64; 3],
    misses: f64,
    chances: f64,
    effects: Vec<f64>,
}

impl World {
    /// World `number`; each change has a draw of its own.
    fn of(seed: u64, number: usize, ground: &Ground) -> World {
        let mut stream = Stream::new(seed, number as u64);
        let mut off =
            |by: f64| (by * quantile(stream.uniform().clamp(1e-9, 1.0 - 1e-9)) - 0.5 * by * by).exp();
        let times = [(); 3].map(|()| off(TIMES_OFF));
        let (misses, chances) = (off(MISSES_OFF), off(CHANCES_OFF));
        let effects = ground
            .aims
            .iter()
            .map(|(c, _)| 1.0 + c.unsure_frac * (2.0 * stream.uniform() - 1.0))
            .collect();
        World {
            seed: stream.next_u64(),
            times,
            misses,
            chances,
            effects,
        }
    }

    /// Rates in this world.
    fn rates(&self, written: &Rates) -> Rates {
        let [collect, travel, aim] = self.times;
        Rates {
            collect_s: collect * written.collect_s,
            travel_s: travel * written.travel_s,
            aim_s: aim * written.aim_s,
            jam_frac: (self.chances * written.jam_frac).clamp(0.0, 1.0),
            penalty_frac: (self.chances * written.penalty_frac).clamp(0.0, 1.0),
            hits_frac: written
                .hits_frac
                .iter()
                .map(|h| (1.0 - self.misses * (1.0 - h)).clamp(0.0, 1.0))
                .collect(),
            ..written.clone()
        }
    }
}

/// Rates on the way from one to another: an effect of 1 is all of it, 1.2 more than all.
fn toward(from: &Rates, to: &Rates, effect: f64) -> Rates {
    let go = |a: f64, b: f64| a + effect * (b - a);
    let time = |a: f64, b: f64| go(a, b).max(0.0);
    let chance = |a: f64, b: f64| go(a, b).clamp(0.0, 1.0);
    Rates {
        sorted_frac: chance(from.sorted_frac, to.sorted_frac),
        hits_frac: (0..from.hits_frac.len().max(to.hits_frac.len()))
            .map(|i| chance(from.hit_frac(i as u32), to.hit_frac(i as u32)))
            .collect(),
        interval_s: time(from.interval_s, to.interval_s),
        ready_s: time(from.ready_s, to.ready_s),
        travel_s: time(from.travel_s, to.travel_s),
        aim_s: time(from.aim_s, to.aim_s),
        collect_s: time(from.collect_s, to.collect_s),
        varies_frac: time(from.varies_frac, to.varies_frac),
        jam_frac: chance(from.jam_frac, to.jam_frac),
        ..from.clone()
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for v in values {
        sum += v;
        count += 1.0;
    }
    if count > 0.0 { sum / count } else { 0.0 }
}

/// The value below which a share of the sorted list lies.
fn below(sorted: &[f64], share: f64) -> f64 {
    let last = sorted.len().saturating_sub(1);
    let at = share * last as f64;
    let (i, part) = (at.floor() as usize, at.fract());
    let get = |i: usize| sorted.get(i.min(last)).copied().unwrap_or(0.0);
    get(i) + part * (get(i + 1) - get(i))
}

fn range(values: &[f64]) -> [f64; 2] {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    [below(&sorted, TAIL), below(&sorted, 1.0 - TAIL)]
}

/// Method: bars of the picture.
const BARS: usize = 24;

/// Share of a world's matches that beat a score.
fn beating(points: &[f64], beat: Option<f64>) -> Option<f64> {
    beat.map(|b| points.iter().filter(|v| **v > b).count() as f64 / points.len().max(1) as f64)
}

/// Points of all matches; each world's own are `each` of them in a row.
fn points(all: &[f64], each: usize, beat: Option<f64>) -> Points {
    let mut sorted = all.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mean_count = mean(all.iter().copied());
    let n = all.len().max(2) as f64;
    let low = below(&sorted, 0.0).floor();
    let bar_count = ((below(&sorted, 1.0) - low + 1.0) / BARS as f64).max(1.0).ceil();
    let bars = (0..BARS)
        .map(|i| {
            let edge = low + i as f64 * bar_count;
            let inside = all
                .iter()
                .filter(|v| **v >= edge && **v < edge + bar_count)
                .count();
            (edge, inside as f64 / all.len().max(1) as f64)
        })
        .collect();
    Points {
        mean_count,
        sd_count: (all.iter().map(|v| (v - mean_count).powi(2)).sum::<f64>() / (n - 1.0)).sqrt(),
        tenths_count: [0.1, 0.5, 0.9].map(|s| below(&sorted, s)),
        beats_frac: beating(all, beat),
        beats_range_frac: beats_range(all, each, beat),
        bars,
        bar_count,
    }
}

fn beats_range(all: &[f64], each: usize, beat: Option<f64>) -> Option<[f64; 2]> {
    let worlds: Option<Vec<f64>> = all.chunks(each.max(1)).map(|w| beating(w, beat)).collect();
    worlds.filter(|w| !w.is_empty()).map(|w| range(&w))
}

/// Plays the season: as it is and with each change, under the same luck. `go_on` is asked before each world with the number
/// that are done; `None` where it says no.
///
/// Each world draws what is not known (times, misses, chances, how well each change works) once and plays its matches with
/// it: the ranges are over worlds, the distribution of points over all matches. Common random numbers \[law-kelton\].
pub fn answer(
    ground: &Ground,
    beat_points_count: Option<f64>,
    plan: &SeasonPlan,
    go_on: &mut dyn FnMut(usize) -> bool,
) -> Option<SeasonAnswer> {
    let matches = |rates: &Rates, seed: u64| -> Vec<Tally> {
        (0..plan.match_count as u64)
            .map(|m| play(rates, seed, m))
            .collect()
    };
    let count = ground.aims.len();
    let (mut now, mut tallies) = (Vec::new(), Vec::new());
    let mut gains = vec![Vec::new(); count];
    let mut after_points = vec![Vec::new(); count];
    let mut after_rounds = vec![Vec::new(); count];
    for number in 0..plan.world_count {
        if !go_on(number) {
            return None;
        }
        let world = World::of(plan.seed, number, ground);
        let before = world.rates(&ground.rates);
        let played = matches(&before, world.seed);
        let base = mean(played.iter().map(|t| t.points_count));
        now.extend(played.iter().map(|t| t.points_count));
        tallies.extend(played);
        for (i, (_, aim)) in ground.aims.iter().enumerate() {
            let effect = world.effects.get(i).copied().unwrap_or(1.0);
            let after = toward(&before, &world.rates(aim), effect);
            let played = matches(&after, world.seed);
            gains[i].push(mean(played.iter().map(|t| t.points_count)) - base);
            after_points[i].extend(played.iter().map(|t| t.points_count));
            after_rounds[i].extend(played.iter().map(|t| f64::from(t.round_count)));
        }
    }
    let per_day = |i: usize| -> f64 { ground.aims.get(i).map_or(f64::NAN, |(c, _)| c.days_count) };
    // In how many worlds is each the best for its days?
    let mut best = vec![0usize; count];
    for w in 0..plan.world_count {
        let value = |i: &usize| gains[*i].get(w).map_or(f64::NEG_INFINITY, |g| g / per_day(*i));
        if let Some(i) = (0..count).max_by(|a, b| value(a).total_cmp(&value(b)))
            && value(&i) > 0.0
        {
            best[i] += 1;
        }
    }
    let mut ranked: Vec<Ranked> = ground
        .aims
        .iter()
        .enumerate()
        .map(|(i, (c, aim))| {
            let gain_count = mean(gains[i].iter().copied());
            let gain_range_count = range(&gains[i]);
            Ranked {
                index: i,
                name: c.name.clone(),
                days_count: c.days_count,
                money_count: c.money_count,
                gain_count,
                gain_range_count,
                per_day_count: gain_count / c.days_count,
                per_day_range_count: gain_range_count.map(|g| g / c.days_count),
                best_frac: best[i] as f64 / plan.world_count.max(1) as f64,
                beats_frac: beating(&after_points[i], beat_points_count),
                beats_range_frac: beats_range(&after_points[i], plan.match_count, beat_points_count),
                rounds_count: mean(after_rounds[i].iter().copied()),
                round_s: aim.round_s(),
            }
        })
        .collect();
    ranked.sort_by(|a, b| {
        b.per_day_count
            .total_cmp(&a.per_day_count)
            .then(a.index.cmp(&b.index))
    });
    let first_until_days_count = match ranked.as_slice() {
        [first, second, ..] if second.per_day_count > 0.0 => Some(first.gain_count / second.per_day_count),
        _ => None,
    };
    let leans = leans(ground, plan);
    Some(SeasonAnswer {
        now: points(&now, plan.match_count, beat_points_count),
        rounds_count: mean(tallies.iter().map(|t| f64::from(t.round_count))),
        thrown_count: mean(tallies.iter().map(|t| f64::from(t.thrown_count))),
        in_count: mean(tallies.iter().map(|t| f64::from(t.in_count))),
        ranked,
        leans,
        first_until_days_count,
    })
}

/// Share by which an input is moved to see what it is worth.
pub const LEAN_FRAC: f64 = 0.2;

/// Method: most matches behind the question which change is first with an input moved; the same luck for all, so few do.
const FIRST_MATCHES: u64 = 1500;

fn leans(ground: &Ground, plan: &SeasonPlan) -> Vec<Lean> {
    let rates = &ground.rates;
    let total = plan.world_count.saturating_mul(plan.match_count) as u64;
    let at = |rates: &Rates| mean((0..total).map(|m| play(rates, plan.seed, m).points_count));
    type Move = fn(&Rates, f64) -> Rates;
    let inputs: [(&'static str, Move); 8] = [
        ("misses", |r, k| Rates {
            hits_frac: r
                .hits_frac
                .iter()
                .map(|h| (1.0 - k * (1.0 - h)).clamp(0.0, 1.0))
                .collect(),
            ..r.clone()
        }),
        ("time to collect a piece", |r, k| Rates {
            collect_s: k * r.collect_s,
            ..r.clone()
        }),
        ("time to drive", |r, k| Rates {
            travel_s: k * r.travel_s,
            ..r.clone()
        }),
        ("time to line up and load", |r, k| Rates {
            aim_s: k * r.aim_s,
            ..r.clone()
        }),
        ("time between throws", |r, k| Rates {
            interval_s: k * r.interval_s,
            ..r.clone()
        }),
        ("wedges", |r, k| Rates {
            jam_frac: (k * r.jam_frac).clamp(0.0, 1.0),
            ..r.clone()
        }),
        ("penalties", |r, k| Rates {
            penalty_frac: (k * r.penalty_frac).clamp(0.0, 1.0),
            ..r.clone()
        }),
        ("chance of the end task", |r, k| Rates {
            end_frac: (k * r.end_frac).clamp(0.0, 1.0),
            ..r.clone()
        }),
    ];
    let few = total.min(FIRST_MATCHES);
    let roughly = |rates: &Rates| mean((0..few).map(|m| play(rates, plan.seed, m).points_count));
    let first = |moved: Move, by: f64| -> Option<usize> {
        let base = roughly(&moved(rates, by));
        let gains = ground
            .aims
            .iter()
            .map(|(c, aim)| (roughly(&moved(aim, by)) - base) / c.days_count);
        let best = gains
            .enumerate()
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        best.filter(|b| b.1 > 0.0).map(|b| b.0)
    };
    let (less, more) = (1.0 - LEAN_FRAC, 1.0 + LEAN_FRAC);
    let mut out: Vec<Lean> = inputs
        .into_iter()
        .map(|(what, moved)| Lean {
            what,
            lower_count: at(&moved(rates, less)),
            higher_count: at(&moved(rates, more)),
            first_lower: first(moved, less),
            first_higher: first(moved, more),
        })
        .collect();
    let width = |l: &Lean| (l.higher_count - l.lower_count).abs();
    out.sort_by(|a, b| width(b).total_cmp(&width(a)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::project::{Change, Rest};

    fn rates() -> Rates {
        Rates {
            match_s: 120.0,
            opening_s: 0.0,
            piece_points_count: 1.0,
            opening_points_count: 1.0,
            preload_count: 0,
            pattern_points_count: 0.0,
            colour_count: 1,
            sorted_frac: 0.0,
            volley_count: 2,
            hits_frac: vec![0.5],
            interval_s: 0.5,
            ready_s: 0.0,
            travel_s: 5.0,
            aim_s: 1.0,
            collect_s: 2.0,
            varies_frac: 0.2,
            jam_frac: 0.0,
            jam_s: 0.0,
            penalty_points_count: 0.0,
            penalty_frac: 0.0,
            end_points_count: 0.0,
            end_s: 0.0,
            end_frac: 1.0,
        }
    }

    fn change(name: &str, days_count: f64) -> Change {
        let rest = Rest {
            season: true,
            changes: 1,
            ..Rest::default()
        };
        Change {
            name: name.into(),
            days_count,
            money_count: 0.0,
            unsure_frac: 0.0,
            ..rest.season().unwrap().changes[0].clone()
        }
    }

    fn plan() -> SeasonPlan {
        SeasonPlan {
            seed: 3,
            world_count: 40,
            match_count: 30,
        }
    }

    /// All in instead of half in doubles the points; the same change at twice the days is half as good a day; and a
    /// change that changes nothing gains nothing at all, since the luck is the same.
    #[test]
    fn changes_rank_by_points_for_each_day() {
        let all_in = Rates {
            hits_frac: vec![1.0],
            ..rates()
        };
        let ground = Ground {
            rates: rates(),
            spot: "near".into(),
            spots: Vec::new(),
            aims: vec![
                (change("nothing", 1.0), rates()),
                (change("slow", 4.0), all_in.clone()),
                (change("quick", 2.0), all_in),
            ],
        };
        let a = answer(&ground, Some(5.0), &plan(), &mut |_| true).unwrap();
        let names: Vec<&str> = a.ranked.iter().map(|r| r.name.as_str()).collect();
        assert_eq!(names, ["quick", "slow", "nothing"]);
        assert_eq!(a.ranked[2].gain_count, 0.0);
        assert!((a.ranked[0].per_day_count / a.ranked[1].per_day_count - 2.0).abs() < 1e-9);
        assert_eq!(a.ranked[0].best_frac, 1.0);
        assert!(a.ranked[0].beats_frac > a.now.beats_frac);
        assert_eq!(
            Some(a.clone()),
            answer(&ground, Some(5.0), &plan(), &mut |_| true)
        );
        // A change that gains as much in half of the days stays first up to double its days.
        let until = a.first_until_days_count.unwrap();
        assert!((until - 4.0).abs() < 1e-9, "{until}");
        let [low, high] = a.now.beats_range_frac.unwrap();
        let beats = a.now.beats_frac.unwrap();
        assert_eq!(a.ranked[0].beats_range_frac, Some([1.0, 1.0]));
        assert!(
            low <= beats && beats <= high && low < high,
            "{low} {beats} {high}"
        );
        let order: Vec<usize> = a.by_chance().iter().map(|r| r.index).collect();
        assert_eq!(order, [1, 2, 0]);
        // "quick" is first whatever is a fifth lower or higher.
        assert!(
            a.leans
                .iter()
                .all(|l| l.first_lower == Some(2) && l.first_higher == Some(2))
        );
        assert_eq!(answer(&ground, None, &plan(), &mut |done| done < 3), None);
        assert!((a.now.bars.iter().map(|b| b.1).sum::<f64>() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn an_unsure_change_has_a_wider_range_about_the_same_gain() {
        let faster = Rates {
            collect_s: 1.0,
            ..rates()
        };
        let with = |unsure_frac: f64| {
            let ground = Ground {
                rates: rates(),
                spot: String::new(),
                spots: Vec::new(),
                aims: vec![(
                    Change {
                        unsure_frac,
                        ..change("intake", 1.0)
                    },
                    faster.clone(),
                )],
            };
            answer(&ground, None, &plan(), &mut |_| true).unwrap().ranked[0].clone()
        };
        let (sure, unsure) = (with(0.0), with(0.5));
        let width = |r: &Ranked| r.gain_range_count[1] - r.gain_range_count[0];
        assert!(
            width(&unsure) > 1.1 * width(&sure),
            "{} {}",
            width(&unsure),
            width(&sure)
        );
        assert!((unsure.gain_count / sure.gain_count - 1.0).abs() < 0.25);
    }

    /// More misses, fewer points; and what is not there moves nothing.
    #[test]
    fn leans_have_their_sign_and_are_sorted() {
        let ground = |aims| Ground {
            rates: rates(),
            spot: String::new(),
            spots: Vec::new(),
            aims,
        };
        let l = leans(&ground(Vec::new()), &plan());
        assert!(l.iter().all(|l| l.first_lower.is_none()));
        let of = |what: &str| l.iter().find(|l| l.what == what).unwrap();
        assert!(of("misses").lower_count > of("misses").higher_count);
        assert!(of("time to drive").lower_count > of("time to drive").higher_count);
        assert_eq!(of("wedges").lower_count, of("wedges").higher_count);
        let widths: Vec<f64> = l.iter().map(|l| (l.higher_count - l.lower_count).abs()).collect();
        assert!(widths.windows(2).all(|w| w[0] >= w[1]));
    }
}
