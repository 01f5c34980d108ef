//! Colour order: the chance to throw pieces in a wanted order of colours from a random load, and the time it takes.
//!
//! A load is drawn at random from what lies on the floor. The pieces come to a sensor one by one, as they queue. What
//! the machine can do about their order is its sorter:
//!
//! - without one, the queue is thrown as it comes;
//! - with pockets beside the queue, a piece that is not wanted yet is set aside and thrown when it is;
//! - with a carousel every piece of the load can be turned to the wheel.
//!
//! The machine goes by the colour that its sensor saw. With pockets it throws the wanted colour from a pocket, else
//! from the head of the queue, else it sets the head aside; no other rule serves an order that this one does not:
//! whatever a rule reaches by throwing the head while a pocket holds the same colour is also reached by emptying the
//! pocket and setting the head aside. Where it can do nothing, it throws the next piece and goes on.

use crate::finding::{Finding, nearest};
use crate::numerics::proportion::wilson;
use crate::numerics::random::Stream;

/// What the machine can do about the order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sorter {
    /// Nothing: the queue is thrown as it comes.
    Queue,
    /// So many pockets beside the queue, each for one piece.
    Pockets(usize),
    /// Every piece of the load can be turned to the wheel.
    Carousel,
}

/// The task.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderTask {
    /// Pieces of each colour from which a load is drawn.
    pub stock_count: Vec<usize>,
    /// Pieces in a load.
    pub load_count: usize,
    /// The wanted colours in order, by place in `stock_count`.
    pub wanted: Vec<usize>,
    /// Chance that the sensor takes a piece for another colour, each other colour as likely.
    pub sensor_error_frac: f64,
    /// Time to set a piece aside.
    pub aside_s: f64,
    /// Time to bring it back.
    pub back_s: f64,
    /// Time to turn the carousel by one place.
    pub turn_s: f64,
}

/// Physical: more colours than this nobody calls, and more cases nobody counts.
const MOST_COLOURS: usize = 8;
/// Physical: no hopper holds more of one colour.
const MOST_OF_A_COLOUR: usize = 200;

/// Stock and order as read.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// Names of the colours.
    pub names: Vec<String>,
    /// Pieces of each.
    pub stock_count: Vec<usize>,
    /// The order, by place in the names.
    pub wanted: Vec<usize>,
}

/// Reads stock (`8 amber, 8 teal`) and wanted order (`amber, teal, amber`): names of the colours, how many there are of
/// each, and the order.
///
/// # Errors
/// What cannot be read, with its key: `bad-stock`, `unknown-colour`.
pub fn read(stock: &str, wanted: &str) -> Result<Asked, Finding> {
    let (mut names, mut counts) = (Vec::new(), Vec::new());
    for part in stock.split(',').map(str::trim) {
        let (count, name) = part.split_once(char::is_whitespace).unwrap_or((part, ""));
        let (count, name) = (count.parse::<usize>().ok(), name.trim());
        match count {
            Some(n) if !name.is_empty() && n <= MOST_OF_A_COLOUR && !names.iter().any(|x| x == name) => {
                names.push(name.to_string());
                counts.push(n);
            }
            _ => {
                return Err(Finding::new(
                    "bad-stock",
                    "order.stock",
                    format!(
                        "`{part}` in `order.stock` is not a number of pieces (at most {MOST_OF_A_COLOUR}) and a colour not named before"
                    ),
                    "write for example `stock = \"8 amber, 8 teal, 8 plum\"`",
                ));
            }
        }
    }
    if names.len() > MOST_COLOURS {
        return Err(Finding::new(
            "bad-stock",
            "order.stock",
            format!(
                "`order.stock` has {} colours; {MOST_COLOURS} can be worked with",
                names.len()
            ),
            "put colours that count alike under one name",
        ));
    }
    let mut order = Vec::new();
    for name in wanted.split(',').map(str::trim) {
        match names.iter().position(|n| n == name) {
            Some(i) => order.push(i),
            None => {
                let near = nearest(name, names.iter().map(String::as_str))
                    .map_or(String::new(), |n| format!("did you mean `{n}`? "));
                return Err(Finding::new(
                    "unknown-colour",
                    "order.wanted",
                    format!("`{name}` in `order.wanted` is no colour of `order.stock`"),
                    format!("{near}the colours are {}", names.join(", ")),
                ));
            }
        }
    }
    Ok(Asked {
        names,
        stock_count: counts,
        wanted: order,
    })
}

/// What comes of it.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderChance {
    /// Chance that the whole order is right.
    pub whole_frac: f64,
    /// 95 % interval of it from the sampling; none where all cases were counted.
    pub interval_frac: Option<[f64; 2]>,
    /// Chance that the load holds the colours of the order at all: no sorter can do better.
    pub possible_frac: f64,
    /// Chance that the sensor saw the whole order go out and it was not so.
    pub mistaken_frac: f64,
    /// Mean number of places of the order with the right colour.
    pub right_count: f64,
    /// Mean time spent on sorting during the order.
    pub time_s: f64,
    /// Cases counted or loads drawn.
    pub case_count: usize,
}

/// Method: most cases counted one by one; a second of one core at most.
const MOST_CASES: f64 = 2e6;
/// Method: loads drawn where there are more; a chance to half a point.
const DRAWN_COUNT: usize = 40_000;

/// Chance and time by counting every case, or by drawing loads where there are too many.
pub fn order_chance(task: &OrderTask, sorter: Sorter, seed: u64) -> OrderChance {
    if case_count(task) <= MOST_CASES {
        counted(task, sorter)
    } else {
        drawn(task, sorter, seed, DRAWN_COUNT)
    }
}

/// Orders of colours in a load, times what a sensor may see of each.
fn case_count(task: &OrderTask) -> f64 {
    let colours = task.stock_count.len() as f64;
    let n = size(task) as i32;
    let seen = if task.sensor_error_frac > 0.0 { n } else { 0 };
    colours.powi(n + seen)
}

/// Pieces in a load: no more than there are.
fn size(task: &OrderTask) -> usize {
    task.load_count.min(task.stock_count.iter().sum())
}

/// Counts every order of colours and everything that the sensor may see of it.
///
/// ```text
/// P(load) = Π (pieces of the colour left) / (pieces left)        drawn without putting back
/// ```
pub fn counted(task: &OrderTask, sorter: Sorter) -> OrderChance {
    let mut sum = Sum::default();
    let mut load = Vec::with_capacity(size(task));
    each_load(
        task,
        &mut task.stock_count.clone(),
        &mut load,
        1.0,
        &mut |load, chance| {
            let mut seen = Vec::with_capacity(load.len());
            each_sight(task, load, &mut seen, chance, &mut |seen, chance| {
                sum.add(task, &play(task, sorter, load, seen), load, chance);
            });
        },
    );
    sum.chance(None)
}

fn each_load(
    task: &OrderTask,
    left: &mut Vec<usize>,
    load: &mut Vec<usize>,
    chance: f64,
    to: &mut dyn FnMut(&[usize], f64),
) {
    if load.len() == size(task) {
        to(load, chance);
        return;
    }
    let all: usize = left.iter().sum();
    for colour in 0..left.len() {
        let here = left[colour];
        if here == 0 {
            continue;
        }
        left[colour] -= 1;
        load.push(colour);
        each_load(task, left, load, chance * here as f64 / all as f64, to);
        load.pop();
        left[colour] += 1;
    }
}

fn each_sight(
    task: &OrderTask,
    load: &[usize],
    seen: &mut Vec<usize>,
    chance: f64,
    to: &mut dyn FnMut(&[usize], f64),
) {
    let Some(true_colour) = load.get(seen.len()) else {
        to(seen, chance);
        return;
    };
    let colours = task.stock_count.len();
    let wrong = error_frac(task);
    for colour in 0..colours {
        let share = if colour == *true_colour {
            1.0 - wrong
        } else {
            wrong / (colours - 1) as f64
        };
        if share > 0.0 {
            seen.push(colour);
            each_sight(task, load, seen, chance * share, to);
            seen.pop();
        }
    }
}

/// A sensor that knows one colour only makes no mistake.
fn error_frac(task: &OrderTask) -> f64 {
    if task.stock_count.len() < 2 {
        0.0
    } else {
        task.sensor_error_frac.clamp(0.0, 1.0)
    }
}

/// Draws loads; the same seed gives the same ones.
pub fn drawn(task: &OrderTask, sorter: Sorter, seed: u64, count: usize) -> OrderChance {
    /// Stream of random numbers for loads.
    const LOADS: u64 = 0x6f72_6465;
    let mut stream = Stream::new(seed, LOADS);
    let mut sum = Sum::default();
    let colours = task.stock_count.len();
    let wrong = error_frac(task);
    for _ in 0..count {
        let mut left = task.stock_count.clone();
        let load: Vec<usize> = (0..size(task))
            .map(|_| {
                let all: usize = left.iter().sum();
                let mut at = (stream.uniform() * all as f64) as usize;
                let colour = left
                    .iter()
                    .position(|n| {
                        let here = at < *n;
                        at = at.saturating_sub(*n);
                        here
                    })
                    .unwrap_or(0);
                left[colour] -= 1;
                colour
            })
            .collect();
        let seen: Vec<usize> = load
            .iter()
            .map(|c| {
                if stream.uniform() < wrong {
                    let other = (stream.uniform() * (colours - 1) as f64) as usize;
                    if other >= *c { other + 1 } else { other }
                } else {
                    *c
                }
            })
            .collect();
        sum.add(task, &play(task, sorter, &load, &seen), &load, 1.0);
    }
    sum.chance(Some(count))
}

/// One load thrown.
struct Played {
    /// Places in the load in the order thrown; may be fewer than wanted.
    thrown: Vec<usize>,
    /// Did the sensor see the whole order?
    seen_whole: bool,
    time_s: f64,
}

fn play(task: &OrderTask, sorter: Sorter, load: &[usize], seen: &[usize]) -> Played {
    match sorter {
        Sorter::Queue => in_pockets(task, 0, load.len(), seen),
        Sorter::Pockets(count) => in_pockets(task, count, load.len(), seen),
        Sorter::Carousel => turned(task, load.len(), seen),
    }
}

fn in_pockets(task: &OrderTask, pockets: usize, count: usize, seen: &[usize]) -> Played {
    let (mut head, mut aside) = (0, Vec::with_capacity(pockets));
    let mut out = Played {
        thrown: Vec::new(),
        seen_whole: true,
        time_s: 0.0,
    };
    for wanted in &task.wanted {
        loop {
            if let Some(k) = aside.iter().position(|i: &usize| seen[*i] == *wanted) {
                out.thrown.push(aside.remove(k));
                out.time_s += task.back_s;
                break;
            }
            if head < count && seen[head] != *wanted && aside.len() < pockets {
                aside.push(head);
                head += 1;
                out.time_s += task.aside_s;
                continue;
            }
            out.seen_whole &= head < count && seen[head] == *wanted;
            if head < count {
                out.thrown.push(head);
                head += 1;
            } else if !aside.is_empty() {
                out.thrown.push(aside.remove(0));
                out.time_s += task.back_s;
            } else {
                return out;
            }
            break;
        }
    }
    out
}

/// The carousel turns the short way round to the nearest piece that looks right; to the nearest one where none does.
fn turned(task: &OrderTask, count: usize, seen: &[usize]) -> Played {
    let mut left = vec![true; count];
    let mut at = 0;
    let mut out = Played {
        thrown: Vec::new(),
        seen_whole: true,
        time_s: 0.0,
    };
    for wanted in &task.wanted {
        let way = |i: usize| {
            let d = i.abs_diff(at);
            d.min(count - d)
        };
        let nearest = |right: bool| {
            (0..count)
                .filter(|i| left[*i] && (!right || seen[*i] == *wanted))
                .min_by_key(|i| way(*i))
        };
        let right = nearest(true);
        out.seen_whole &= right.is_some();
        let Some(i) = right.or_else(|| nearest(false)) else {
            return out;
        };
        out.time_s += task.turn_s * way(i) as f64;
        left[i] = false;
        at = i;
        out.thrown.push(i);
    }
    out
}

#[derive(Default)]
struct Sum {
    whole: f64,
    possible: f64,
    mistaken: f64,
    right: f64,
    time_s: f64,
    chance: f64,
    cases: usize,
}

impl Sum {
    fn add(&mut self, task: &OrderTask, played: &Played, load: &[usize], chance: f64) {
        let right = played
            .thrown
            .iter()
            .zip(&task.wanted)
            .filter(|(i, wanted)| load[**i] == **wanted)
            .count();
        let whole = right == task.wanted.len();
        let held = (0..task.stock_count.len()).all(|c| {
            let count = |list: &[usize]| list.iter().filter(|x| **x == c).count();
            count(load) >= count(&task.wanted)
        });
        self.whole += chance * f64::from(u8::from(whole));
        self.possible += chance * f64::from(u8::from(held));
        self.mistaken += chance * f64::from(u8::from(played.seen_whole && !whole));
        self.right += chance * right as f64;
        self.time_s += chance * played.time_s;
        self.chance += chance;
        self.cases += 1;
    }

    /// Confidence of the interval.
    const CONFIDENCE: f64 = 0.95;

    fn chance(&self, drawn_count: Option<usize>) -> OrderChance {
        let of = |x: f64| if self.chance > 0.0 { x / self.chance } else { 0.0 };
        OrderChance {
            whole_frac: of(self.whole),
            interval_frac: drawn_count.map(|n| wilson(self.whole as u64, n as u64, Sum::CONFIDENCE)),
            possible_frac: of(self.possible),
            mistaken_frac: of(self.mistaken),
            right_count: of(self.right),
            time_s: of(self.time_s),
            case_count: self.cases,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn task(stock: &[usize], load_count: usize, wanted: &[usize], sensor_error_frac: f64) -> OrderTask {
        OrderTask {
            stock_count: stock.to_vec(),
            load_count,
            wanted: wanted.to_vec(),
            sensor_error_frac,
            aside_s: 0.5,
            back_s: 0.4,
            turn_s: 0.3,
        }
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-12, "{a} {b}");
    }

    /// A queue that cannot sort: the product of the draws without putting back (combinatorics, any textbook;
    /// common practice, no source): amber 4/12, teal 4/11, plum 4/10, teal 3/9.
    #[test]
    fn a_plain_queue_is_a_draw_without_putting_back() {
        let t = task(&[4, 4, 4], 4, &[0, 1, 2, 1], 0.0);
        let found = counted(&t, Sorter::Queue);
        near(found.whole_frac, 4.0 / 12.0 * 4.0 / 11.0 * 4.0 / 10.0 * 3.0 / 9.0);
        near(found.time_s, 0.0);
        // Each place alone is right with chance a third.
        near(found.right_count, 4.0 / 3.0);
    }

    /// A carousel throws any order whose colours are there: the multivariate hypergeometric law, here
    /// C(4,1) C(4,2) C(4,1) / C(12,4) = 4·6·4/495.
    #[test]
    fn a_carousel_needs_the_colours_only() {
        let t = task(&[4, 4, 4], 4, &[0, 1, 2, 1], 0.0);
        let found = counted(&t, Sorter::Carousel);
        near(found.whole_frac, 96.0 / 495.0);
        near(found.possible_frac, 96.0 / 495.0);
    }

    /// The sensor right each time by chance: with only right sights a plain queue is as right as without errors, since
    /// it does nothing about what it sees; a carousel loses what it mistakes.
    #[test]
    fn a_sensor_that_errs_costs_only_who_goes_by_it() {
        let sure = task(&[4, 4, 4], 4, &[0, 1, 2, 1], 0.0);
        let errs = task(&[4, 4, 4], 4, &[0, 1, 2, 1], 0.05);
        near(
            counted(&sure, Sorter::Queue).whole_frac,
            counted(&errs, Sorter::Queue).whole_frac,
        );
        let (a, b) = (counted(&sure, Sorter::Carousel), counted(&errs, Sorter::Carousel));
        assert!(b.whole_frac < a.whole_frac && b.mistaken_frac > 0.0 && a.mistaken_frac == 0.0);
        // All four sights right keeps the order; a mistake can cancel another at most.
        assert!(b.whole_frac >= a.whole_frac * 0.95f64.powi(4));
    }

    /// Every order of decisions tried: can these pockets serve the order at all?
    fn served(wanted: &[usize], queue: &[usize], aside: &[usize], pockets: usize) -> bool {
        let Some((want, rest)) = wanted.split_first() else {
            return true;
        };
        let from_pocket = (0..aside.len()).filter(|k| aside[*k] == *want).any(|k| {
            let mut less = aside.to_vec();
            less.remove(k);
            served(rest, queue, &less, pockets)
        });
        let Some((head, tail)) = queue.split_first() else {
            return from_pocket;
        };
        let more: Vec<usize> = aside.iter().copied().chain([*head]).collect();
        from_pocket
            || head == want && served(rest, tail, aside, pockets)
            || aside.len() < pockets && served(wanted, tail, &more, pockets)
    }

    /// No rule beats the one used: every load of five in three colours against every way to decide.
    #[test]
    fn the_rule_for_pockets_serves_whatever_can_be_served() {
        let t = task(&[5, 5, 5], 5, &[2, 0, 1, 0, 2], 0.0);
        for pockets in 0..=3 {
            let mut load = Vec::new();
            let mut cases = 0;
            each_load(&t, &mut t.stock_count.clone(), &mut load, 1.0, &mut |load, _| {
                let played = in_pockets(&t, pockets, load.len(), load);
                let right = played.thrown.iter().zip(&t.wanted).all(|(i, w)| load[*i] == *w)
                    && played.thrown.len() == t.wanted.len();
                assert_eq!(right, served(&t.wanted, load, &[], pockets), "{load:?} {pockets}");
                cases += 1;
            });
            assert_eq!(cases, 243);
        }
    }

    #[test]
    fn more_pockets_never_serve_less_and_many_serve_as_a_carousel_does() {
        let t = task(&[6, 5, 4], 6, &[0, 1, 2, 0], 0.0);
        let whole: Vec<f64> = (0..6)
            .map(|n| counted(&t, Sorter::Pockets(n)).whole_frac)
            .collect();
        assert!(whole.windows(2).all(|w| w[0] <= w[1]), "{whole:?}");
        near(whole[5], counted(&t, Sorter::Carousel).whole_frac);
        near(whole[0], counted(&t, Sorter::Queue).whole_frac);
        assert!(whole[1] > 1.5 * whole[0]);
    }

    /// Counting and drawing check each other.
    #[test]
    fn drawn_loads_agree_with_counted_ones() {
        let t = task(&[5, 4, 3], 4, &[0, 1, 2], 0.1);
        for sorter in [
            Sorter::Queue,
            Sorter::Pockets(1),
            Sorter::Pockets(2),
            Sorter::Carousel,
        ] {
            let (all, some) = (counted(&t, sorter), drawn(&t, sorter, 3, 20_000));
            let [low, high] = some.interval_frac.unwrap();
            // 95 % intervals; four of them are widened by a third so that chance does not decide.
            let slack = 0.33 * (high - low);
            assert!(
                low - slack < all.whole_frac && all.whole_frac < high + slack,
                "{sorter:?} {all:?} {some:?}"
            );
            assert!(
                (all.time_s - some.time_s).abs() < 0.02 && (all.right_count - some.right_count).abs() < 0.03
            );
            assert!((all.mistaken_frac - some.mistaken_frac).abs() < 0.01);
        }
    }

    #[test]
    fn odd_tasks_have_answers() {
        let none = counted(&task(&[], 3, &[], 0.1), Sorter::Carousel);
        near(none.whole_frac, 1.0);
        let short = counted(&task(&[1, 1], 5, &[0, 1, 0], 0.0), Sorter::Pockets(1));
        near(short.whole_frac, 0.0);
        assert!(short.right_count > 0.9);
        let one = counted(&task(&[3], 2, &[0, 0], 0.5), Sorter::Queue);
        near(one.whole_frac, 1.0);
    }
}
