//! What a few throws of a cloud tell about all: see [`super::cloud`].
//!
//! Everything here is done exactly, whatever the precision of the batch, so that the same batch always
//! learns the same.

use super::block::{BLOCK, Block, fate};
use super::cloud::{Cloud, GIVEN, Measure, Term, Trait};
use super::dispatch::{self, Task, Width};
use super::enter::{Raw, enter};
use super::lanes::Plain;
use super::load::{self, Prepared};
use super::order::AS_THEY_COME;
use super::stages::GROUP;
use super::{Arrival, Batch, Column, Outcome, Precision};
use crate::flight::Lift;
use crate::numerics::random::hash;
use crate::numerics::symmetric::Cholesky;
use crate::numerics::vector::{cross, dot, norm, sub};
use std::collections::HashSet;

/// Method: with fewer throws, learning takes longer than it saves.
const LEAST_THROWS: usize = 8192;
/// Method: no more throws are looked at for each that is wanted.
const LOOKED_AT: usize = 2;
/// Method: fitted throws for each number of a polynomial.
const FOR_EACH: usize = 7;
/// Method: a trait that differs by less than this part of its size, once those chosen before have said what they
/// know of it, moves the time of a crossing by less than a millisecond and no error that counts.
const SAME: f64 = 1.5e-3;
/// Method: most that a throw may differ in a trait the polynomials do without, as a part of its size.
const MOST_REST: f64 = 3.0 * SAME;
/// Method: shares of the time that the first of two steps may take; the best is about 0.55.
const FIRST: [f64; 5] = [0.5, 0.525, 0.55, 0.575, 0.6];
/// Method: the longest flight takes at most this many times the shortest: what is fitted goes by the sixth power.
const WIDEST: f64 = 3.0;
/// Method: three steps, for a cloud too wide for two.
const THREE: [f64; 3] = [0.42, 0.25, 0.33];
/// Method: throws that choose among the two steps.
const FEW: usize = 32;
/// Method: steps of the flights that show the error of the two.
const TRUE_STEPS: usize = 6;
/// Method: the polynomials are fitted to throws within about 3.5 to 5.5 spreads in as many directions as there are
/// traits; the square of what is allowed is at most this much for each trait and the same for all.
const FARTHEST2: [f64; 2] = [16.0, 2.0];
/// Method: root mean square of what the polynomials leave of the error, over throws that were not fitted.
const LEFT_M: f64 = 4e-8;
/// Method: most that they may leave of any throw, if what is left grows as the cube of the distance, at the rate of that throw
/// among those not fitted where it grows fastest. Throws beyond are too far.
const MOST_LEFT_M: f64 = 3.5e-7;
/// Method: of that, the part allowed after three steps: in so wide a cloud more is left far from the middle.
const WIDE: f64 = 0.3;
/// Method: a time may be this many times farther from what was foretold than any of those that were not fitted.
const LATEST: f64 = 2.5;
/// Method: never farther than this, and halved as often as this until the parabola leads onto the plane from there.
const LATEST_S: f64 = 4e-3;
const HALVES: usize = 8;
/// Method: how far the parabola may lead a pilot astray, in place and in velocity.
const ASTRAY_M: f64 = 1e-7;
const ASTRAY_MPS: f64 = 2e-5;
/// Method: error of the velocity, of which nothing is taken off, among all pilots.
const FASTER_MPS: f64 = 4e-5;
/// Method: a passage through the plane this much slower than the slowest pilot's is not like them.
const SLOWEST: f64 = 0.7;
/// Method: of the throws not fitted at least this part has to be like the others.
const LIKE: f64 = 0.97;

/// Learns a cloud from a batch; nothing when its throws are too few, or too different for what a
/// polynomial of degree two can tell.
pub(super) fn learn(batch: &Batch, prepared: &Prepared, width: Width) -> Option<Cloud> {
    if batch.throws.count < LEAST_THROWS {
        return None;
    }
    let mut pilots = Pilots {
        batch,
        prepared,
        width,
        tried: 0,
        seen: HashSet::new(),
        throws: Vec::new(),
        traits: Vec::new(),
        axes: Vec::new(),
    };
    pilots.choose(BLOCK)?;
    let (terms, rest) = pilots.terms()?;
    let numbers = (terms.len() + 1) * (terms.len() + 2) / 2;
    let fitted = FOR_EACH * numbers;
    // One more block is not fitted and says how good the fit is.
    pilots.choose(fitted + BLOCK)?;
    let all = pilots.throws.len();
    let usual = pilots.fly(all, None)?;
    let times: Vec<f64> = usual.iter().map(|a| a.time_s).collect();
    let longest_s = times.iter().copied().fold(0.0, f64::max);
    let shortest_s = times.iter().copied().fold(f64::INFINITY, f64::min);
    let mut each = pilots.throws.iter().zip(&usual);
    if each.any(|(throw, end)| load::dives(batch, *throw, end))
        || longest_s > WIDEST * shortest_s
        || longest_s * FIRST.iter().copied().fold(0.0, f64::max) > prepared.longest_step_s()
    {
        return None;
    }
    let places = pilots.places(&terms);
    let far2: Vec<f64> = places.iter().map(|z| z.iter().map(|z| z * z).sum()).collect();
    let fit = Fit::of(numbers, fitted, rows(&places))?;
    let time = fit.to(&times)?;
    let foretold = fit.values(&time);
    let mean_s = *time.first()?;
    let mut cloud = Cloud {
        terms,
        rest,
        most_rest: f64::INFINITY,
        middle: [0.0; GIVEN],
        per_time: 1.0 / mean_s,
        steps: vec![1.0 / TRUE_STEPS as f64; TRUE_STEPS],
        farthest2: f64::INFINITY,
        latest_s: f64::INFINITY,
        slowest_mps: 0.0,
    };
    cloud.set(0, &time);
    let exact = pilots.fly(all, Some(&cloud))?;
    let late = times.iter().zip(&foretold).skip(fitted);
    let late = late.map(|(t, foretold)| (t - foretold).abs()).fold(0.0, f64::max);
    let rate = |a: &Arrival| dot(batch.plane.normal, a.velocity_mps);
    let slowest_mps = SLOWEST * usual.iter().map(rate).fold(f64::INFINITY, f64::min);
    let farthest2 = FARTHEST2[0] + FARTHEST2[1] * cloud.terms.len() as f64;
    for (steps, part) in [
        (pilots.two_steps(&mut cloud, &exact)?, 1.0),
        (THREE.to_vec(), WIDE),
    ] {
        cloud.steps = steps;
        let errors = pilots.differences(&exact, &pilots.fly(all, Some(&cloud))?);
        let mut guarded = cloud.clone();
        for axis in 0..3 {
            let each = errors.iter().zip(&foretold);
            let target: Vec<f64> = each.map(|(e, t)| e[axis] / sixth(t / mean_s)).collect();
            guarded.set(1 + axis, &fit.to(&target)?);
        }
        guarded.latest_s = pilots.latest_s(&guarded, (LATEST * late).min(LATEST_S))?;
        guarded.farthest2 = farthest2;
        guarded.most_rest = MOST_REST;
        guarded.slowest_mps = slowest_mps;
        // What the throws that were not fitted say.
        let ends = pilots.flown(all, Some(&guarded));
        let each = ends.iter().zip(&exact).enumerate().skip(fitted);
        let like = each.filter(|(_, (end, _))| end.outcome == Outcome::Crossed);
        let left: Vec<(f64, [f64; 3])> = like
            .map(|(i, (end, exact))| (far2[i], pilots.difference(i, exact, end)))
            .collect();
        let usual2 = guarded.terms.len() as f64;
        let rates = left
            .iter()
            .map(|(far2, d)| norm(*d) / cube(far2.max(usual2).sqrt()));
        let near = libm::cbrt(part * MOST_LEFT_M / rates.fold(0.0, f64::max));
        guarded.farthest2 = guarded.farthest2.min(near * near);
        let left: Vec<[f64; 3]> = left
            .into_iter()
            .filter_map(|(far2, d)| (far2 <= guarded.farthest2).then_some(d))
            .collect();
        let each = ends.iter().zip(&exact);
        let each = each.filter(|(end, _)| end.outcome == Outcome::Crossed);
        let faster_mps = each.map(|(end, exact)| norm(sub(end.velocity_mps, exact.velocity_mps)));
        if left.len() as f64 >= LIKE * BLOCK as f64
            && mean_square(&left).sqrt() <= part * LEFT_M
            && faster_mps.fold(0.0, f64::max) <= FASTER_MPS
        {
            return Some(guarded);
        }
    }
    None
}

/// Throws of a batch that are flown to learn from.
struct Pilots<'a> {
    batch: &'a Batch<'a>,
    prepared: &'a Prepared,
    width: Width,
    /// Numbers drawn so far, and the throws they named.
    tried: u64,
    seen: HashSet<usize>,
    throws: Vec<usize>,
    traits: Vec<[f64; Trait::ALL.len()]>,
    /// Axes of each lane, field frame.
    axes: Vec<[[f64; 3]; 3]>,
}

impl Pilots<'_> {
    /// Chooses throws without regard to their order until there are as many; nothing when too few of them
    /// are such as lanes can fly.
    fn choose(&mut self, wanted: usize) -> Option<()> {
        let (mut raw, mut block) = (Raw::empty(), Block::empty());
        let count = self.batch.throws.count;
        while self.throws.len() < wanted {
            // Some are not such as lanes can fly. This also ends where throws come to none.
            if self.seen.len() > LOOKED_AT * wanted {
                return None;
            }
            let mut some = Vec::new();
            while some.len() < BLOCK {
                let throw = (hash(self.tried, count as u64) % count as u64) as usize;
                self.tried += 1;
                if self.seen.insert(throw) {
                    some.push(throw);
                }
            }
            load::gather(&mut raw, &self.batch.throws, &some, |throw| *throw, true);
            block.count = some.len();
            enter::<Plain>(&raw, &mut block, self.prepared.ground());
            let lanes = block.groups.iter().flat_map(|g| (0..GROUP).map(move |l| (g, l)));
            for ((group, l), throw) in lanes.zip(some) {
                if group.fate[l] != fate::FLIES || self.throws.len() == wanted {
                    continue;
                }
                self.throws.push(throw);
                self.traits.push(Trait::ALL.map(|of| of.of(group)[l]));
                let y = [group.yx[l], group.yy[l], group.yz[l]];
                let z = [group.zx[l], group.zy[l], group.zz[l]];
                self.axes.push([cross(y, z), y, z]);
            }
        }
        Some(())
    }

    /// The traits that differ, each with its mean and spread; nothing when there are none.
    ///
    /// The one that differs most comes first, then the one that differs most beyond what those before say
    /// of it (Gram and Schmidt with pivots [golub-van-loan-2013]).
    fn terms(&self) -> Option<(Vec<Term>, Vec<Measure>)> {
        let count = self.traits.len() as f64;
        let mean =
            |f: &dyn Fn(&[f64; Trait::ALL.len()]) -> f64| self.traits.iter().map(f).sum::<f64>() / count;
        let speed = mean(&|t| dot([t[0], t[1], t[2]], [t[0], t[1], t[2]])).sqrt();
        let gravity = mean(&|t| t[3] * t[3] + t[4] * t[4]).sqrt();
        let mut columns: Vec<(Measure, Vec<f64>)> = Vec::new();
        for (i, of) in Trait::ALL.into_iter().enumerate() {
            if !self.may_differ(of) {
                continue;
            }
            let middle = mean(&|t| t[i]);
            let size = match of {
                Trait::VelocityX | Trait::VelocityY | Trait::VelocityZ | Trait::WindAlongNormal => speed,
                Trait::GravityY | Trait::GravityZ => gravity,
                Trait::NormalX | Trait::NormalY | Trait::NormalZ => 1.0,
                Trait::Distance | Trait::Drag | Trait::Lift | Trait::Level | Trait::Reynolds => middle.abs(),
            };
            let measure = Measure {
                of,
                mean: middle,
                per_unit: 1.0 / size.max(f64::MIN_POSITIVE),
                known: Vec::new(),
            };
            let column = self
                .traits
                .iter()
                .map(|t| (t[i] - middle) * measure.per_unit)
                .collect();
            columns.push((measure, column));
        }
        let mut terms: Vec<Term> = Vec::new();
        let mean_square = |column: &[f64]| column.iter().map(|x| x * x).sum::<f64>() / count;
        loop {
            let sizes: Vec<f64> = columns.iter().map(|(_, c)| mean_square(c)).collect();
            let Some(most) = (0..sizes.len()).max_by(|a, b| sizes[*a].total_cmp(&sizes[*b])) else {
                break;
            };
            if sizes[most] < SAME * SAME {
                break;
            }
            let (mut measure, mut by) = columns.swap_remove(most);
            let per_sd = 1.0 / sizes[most].sqrt();
            measure.per_unit *= per_sd;
            measure.known.iter_mut().for_each(|known| *known *= per_sd);
            by.iter_mut().for_each(|b| *b *= per_sd);
            for (measure, column) in &mut columns {
                let share = by.iter().zip(column.iter()).map(|(a, b)| a * b).sum::<f64>() / count;
                column.iter_mut().zip(&by).for_each(|(c, b)| *c -= share * b);
                measure.known.push(-share);
            }
            let (straight, square) = ([0.0; GIVEN], Vec::new());
            terms.push(Term {
                measure,
                straight,
                square,
            });
        }
        let rest = columns.into_iter().map(|(measure, _)| measure).collect();
        (!terms.is_empty()).then_some((terms, rest))
    }

    /// Whether the columns of the batch let throws differ in a trait.
    fn may_differ(&self, of: Trait) -> bool {
        let throws = &self.batch.throws;
        let each = |column: &Column| matches!(column, Column::Each(_));
        match of {
            // A level plane's normal is along gravity.
            Trait::NormalX | Trait::NormalY | Trait::NormalZ => {
                let [x, y, _] = self.batch.plane.normal;
                (x != 0.0 || y != 0.0) && throws.spin_radps.iter().any(each)
            }
            Trait::Distance => throws
                .position_m
                .iter()
                .zip(self.batch.plane.normal)
                .any(|(c, n)| n != 0.0 && each(c)),
            Trait::WindAlongNormal => throws.wind_mps.iter().any(each),
            Trait::Lift | Trait::Level => self.batch.ball.lift != Lift::None,
            Trait::Reynolds => self.prepared.has_curve(),
            _ => true,
        }
    }

    /// Where each pilot is in the cloud, in spreads of the terms.
    fn places(&self, terms: &[Term]) -> Vec<Vec<f64>> {
        let place = |traits: &[f64; Trait::ALL.len()]| {
            let mut z: Vec<f64> = Vec::new();
            for term in terms {
                let measure = &term.measure;
                let own = (traits[measure.of as usize] - measure.mean) * measure.per_unit;
                let known = z.iter().zip(&measure.known).map(|(z, c)| z * c);
                z.push(own + known.sum::<f64>());
            }
            z
        };
        self.traits.iter().map(place).collect()
    }

    /// Flies the first `count` pilots in a cloud or as usual, by the lanes alone.
    fn flown(&self, count: usize, cloud: Option<&Cloud>) -> Vec<Arrival> {
        let (mut raw, mut block) = (Raw::empty(), Block::empty());
        let mut ends = vec![Arrival::without(Outcome::NotFinite); count.min(self.throws.len())];
        for (ends, throws) in ends.chunks_mut(BLOCK).zip(self.throws.chunks(BLOCK)) {
            let throws = throws.get(..ends.len()).unwrap_or_default();
            load::gather(&mut raw, &self.batch.throws, throws, |throw| *throw, true);
            block.count = throws.len();
            let task = Task {
                precision: Precision::Exact,
                cloud,
                ..self.prepared.task(self.batch)
            };
            dispatch::fly(self.width, task, &raw, &mut block, (&AS_THEY_COME, ends));
        }
        ends
    }

    /// As [`Pilots::flown`]; nothing unless all cross.
    fn fly(&self, count: usize, cloud: Option<&Cloud>) -> Option<Vec<Arrival>> {
        let ends = self.flown(count, cloud);
        ends.iter().all(|a| a.outcome == Outcome::Crossed).then_some(ends)
    }

    /// The two steps that err least over a few pilots.
    fn two_steps(&self, cloud: &mut Cloud, exact: &[Arrival]) -> Option<Vec<f64>> {
        let mut best: Option<(f64, Vec<f64>)> = None;
        for first in FIRST {
            cloud.steps = vec![first, 1.0 - first];
            let size = mean_square(&self.differences(exact, &self.fly(FEW, Some(cloud))?));
            if best.as_ref().is_none_or(|(least, _)| size < *least) {
                best = Some((size, cloud.steps.clone()));
            }
        }
        best.map(|(_, steps)| steps)
    }

    /// The greatest lateness up to `most_s` from which the parabola still leads onto the plane: found by
    /// telling a block of pilots a time that is wrong by that much.
    fn latest_s(&self, cloud: &Cloud, most_s: f64) -> Option<f64> {
        let right = self.fly(BLOCK, Some(cloud))?;
        let mut latest_s = most_s;
        for _ in 0..HALVES {
            let astray = [-latest_s, latest_s].iter().any(|late_s| {
                let mut wrong = cloud.clone();
                wrong.middle[0] += late_s;
                let ends = self.flown(BLOCK, Some(&wrong));
                let each = ends.iter().zip(&right).enumerate();
                let mut each = each.map(|(i, (end, right))| {
                    let d = self.difference(i, end, right);
                    dot(d, d) <= ASTRAY_M * ASTRAY_M
                        && norm(sub(end.velocity_mps, right.velocity_mps)) <= ASTRAY_MPS
                });
                !each.all(|well| well)
            });
            if !astray {
                return Some(latest_s);
            }
            latest_s *= 0.5;
        }
        None
    }

    /// Position in one flight of a pilot less that in another at the same time, along the axes of its lane.
    fn difference(&self, pilot: usize, of: &Arrival, from: &Arrival) -> [f64; 3] {
        let later_s = of.time_s - from.time_s;
        let d: [f64; 3] =
            std::array::from_fn(|i| of.position_m[i] - from.position_m[i] - later_s * of.velocity_mps[i]);
        self.axes
            .get(pilot)
            .map_or([f64::NAN; 3], |axes| axes.map(|axis| dot(axis, d)))
    }

    fn differences(&self, of: &[Arrival], from: &[Arrival]) -> Vec<[f64; 3]> {
        let each = of.iter().zip(from).enumerate();
        each.map(|(i, (of, from))| self.difference(i, of, from)).collect()
    }
}

impl Cloud {
    /// Takes the numbers of one of the polynomials: that of the middle, then for each trait the straight one and
    /// those with itself and each trait after it.
    fn set(&mut self, which: usize, numbers: &[f64]) {
        let mut numbers = numbers.iter().copied();
        let mut next = || numbers.next().unwrap_or(0.0);
        self.middle[which] = next();
        let count = self.terms.len();
        for (i, term) in self.terms.iter_mut().enumerate() {
            term.straight[which] = next();
            term.square.resize(count - i, [0.0; GIVEN]);
            term.square.iter_mut().for_each(|square| square[which] = next());
        }
    }
}

/// Least squares by the normal equations, factored once for several targets [golub-van-loan-2013] (5.3). The traits are
/// brought to their spreads and are far enough from telling the same for that to be good to 1e-9.
struct Fit {
    rows: Vec<f64>,
    numbers: usize,
    fitted: usize,
    factor: Cholesky,
}

impl Fit {
    /// Of rows of as many numbers, the first `fitted` of them.
    fn of(numbers: usize, fitted: usize, rows: Vec<f64>) -> Option<Fit> {
        let mut squares = vec![0.0; numbers * numbers];
        for row in rows.chunks_exact(numbers).take(fitted) {
            // The lower triangle, which is all that is read.
            for (i, (a, sums)) in row.iter().zip(squares.chunks_exact_mut(numbers)).enumerate() {
                let sums = sums.iter_mut().zip(row).take(i + 1);
                sums.for_each(|(sum, b)| *sum += a * b);
            }
        }
        let factor = Cholesky::new(numbers, &squares)?;
        Some(Fit {
            rows,
            numbers,
            fitted,
            factor,
        })
    }

    fn to(&self, target: &[f64]) -> Option<Vec<f64>> {
        let mut sums = vec![0.0; self.numbers];
        for (row, y) in self.rows.chunks_exact(self.numbers).zip(target).take(self.fitted) {
            sums.iter_mut().zip(row).for_each(|(sum, x)| *sum += x * y);
        }
        let numbers = self.factor.solve(&sums);
        numbers.iter().all(|x| x.is_finite()).then_some(numbers)
    }

    /// What the numbers say of each row.
    fn values(&self, numbers: &[f64]) -> Vec<f64> {
        let along = |row: &[f64]| row.iter().zip(numbers).map(|(a, b)| a * b).sum();
        self.rows.chunks_exact(self.numbers).map(along).collect()
    }
}

/// What the numbers of a polynomial multiply, a row for each place: see [`Cloud::set`].
fn rows(places: &[Vec<f64>]) -> Vec<f64> {
    let mut rows = Vec::new();
    for z in places {
        rows.push(1.0);
        for (i, a) in z.iter().enumerate() {
            rows.push(*a);
            rows.extend(z.iter().skip(i).map(|b| a * b));
        }
    }
    rows
}

fn cube(x: f64) -> f64 {
    x * x * x
}

/// As the lanes have it: products in this order.
fn sixth(x: f64) -> f64 {
    let square = x * x;
    square * square * square
}

/// Mean of the squares of lengths; infinite of none.
fn mean_square(all: &[[f64; 3]]) -> f64 {
    let sum: f64 = all.iter().map(|e| dot(*e, *e)).sum();
    if all.is_empty() {
        f64::INFINITY
    } else {
        sum / all.len() as f64
    }
}
