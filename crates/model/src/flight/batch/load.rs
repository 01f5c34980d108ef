//! From columns of throws to blocks of lanes and back.

use super::block::{Block, Course, GROUPS};
use super::cloud::Cloud;
use super::dispatch::{self, Ends, Kind, Task, Width};
use super::enter::{self, Ground, Raw};
use super::order::{AS_THEY_COME, WINDOW};
use super::smooth::GREATEST_X;
use super::stages::{Cells, GROUP};
use super::{Arrival, BLOCK, Batch, CHUNK, Column, ColumnLength, DragLaw, Outcome, Throws, order};
use crate::flight::{Accuracy, Ball, Ended, Lift, Medium, SpinDecay, State, fly_to_accuracy};

impl Column<'_> {
    /// The number of one throw; not a number past the end.
    #[inline]
    fn at(&self, i: usize) -> f64 {
        match self {
            Column::Same(x) => *x,
            Column::Each(all) => all.get(i).copied().unwrap_or(f64::NAN),
        }
    }
}

/// Checks that every column is as long as there are throws.
pub(super) fn check(throws: &Throws) -> Result<(), ColumnLength> {
    let named = [
        ("position_m", throws.position_m.as_slice()),
        ("velocity_mps", &throws.velocity_mps),
        ("spin_radps", &throws.spin_radps),
        ("diameter_m", &[throws.diameter_m]),
        ("mass_kg", &[throws.mass_kg]),
        ("drag_scale_ratio", &[throws.drag_scale_ratio]),
        ("lift_scale_ratio", &[throws.lift_scale_ratio]),
        ("density_kgpm3", &[throws.density_kgpm3]),
        ("wind_mps", &throws.wind_mps),
    ];
    for (column, list) in named {
        for entry in list {
            if let Column::Each(all) = entry
                && all.len() != throws.count
            {
                return Err(ColumnLength {
                    column,
                    found: all.len(),
                    wanted: throws.count,
                });
            }
        }
    }
    Ok(())
}

/// A batch whose laws the lanes can do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Prepared {
    kind: Kind,
    course: Course,
    ground: Ground,
}

impl Prepared {
    pub(super) fn ground(&self) -> &Ground {
        &self.ground
    }

    /// Whether the drag follows the curve.
    pub(super) fn has_curve(&self) -> bool {
        self.kind.curve
    }

    pub(super) fn longest_step_s(&self) -> f64 {
        self.course.longest_s
    }

    /// What to do with a block of a batch whose throws need not be alike.
    pub(super) fn task(&self, batch: &Batch) -> Task<'_> {
        Task {
            kind: self.kind,
            precision: batch.precision,
            ground: &self.ground,
            course: &self.course,
            cloud: None,
        }
    }
}

/// What the lanes need, or nothing when a law is not among theirs.
pub(super) fn prepare(batch: &Batch) -> Option<Prepared> {
    let drag = batch.ball.drag;
    let (curve, drag_coeff) = match drag.law {
        DragLaw::None => (false, 0.0),
        DragLaw::Constant { drag_coeff } => (false, drag_coeff * drag.scale_ratio),
        DragLaw::CliftGauvin => (true, drag.scale_ratio),
        _ => return None,
    };
    let (across, a_coeff, b_coeff, lift_ratio) = match batch.ball.lift {
        Lift::None => (false, 1.0, 0.0, 0.0),
        Lift::Linear { slope_coeff } => (false, 1.0, 0.0, slope_coeff),
        Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => (true, a_coeff, b_coeff, scale_ratio),
        Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => (false, a_coeff, b_coeff, scale_ratio),
        Lift::Bilinear => return None,
    };
    let decay_rate = match batch.ball.spin_decay {
        SpinDecay::None => 0.0,
        SpinDecay::TimeConstant { tau_s } if tau_s > 0.0 => 1.0 / tau_s,
        _ => return None,
    };
    // The lanes divide by a; a law that starts at full lift is flown one at a time.
    if a_coeff.is_nan() || a_coeff <= 0.0 {
        return None;
    }
    let course = Course {
        decay_rate,
        time_s: batch.until.time_s,
        floor_m: batch.until.floor_m,
        longest_s: LONGEST_STEP_S.min(1.0 / decay_rate),
    };
    let ground = Ground {
        drag_coeff,
        lift_ratio: lift_ratio / a_coeff,
        level_ratio: b_coeff / a_coeff,
        viscosity_pas: batch.medium.viscosity_pas,
        gravity_mps2: batch.medium.gravity_mps2,
        added_mass_coeff: batch.ball.added_mass_coeff,
        buoyancy_ratio: if batch.ball.buoyancy { 1.0 } else { 0.0 },
        normal: batch.plane.normal,
        point_m: batch.plane.point_m,
        floor_m: batch.until.floor_m,
        greatest_x: if curve { GREATEST_X } else { f64::INFINITY },
    };
    Some(Prepared {
        kind: Kind { curve, across },
        course,
        ground,
    })
}

/// Method: without drag and lift the step rule alone would leap over the plane.
const LONGEST_STEP_S: f64 = 1.0;

/// Flies the throws of a chunk, at most [`CHUNK`], which begins at throw `first`.
pub(super) fn fly_chunk(
    batch: &Batch,
    prepared: Option<&Prepared>,
    cloud: Option<&Cloud>,
    width: Width,
    first: usize,
    arrivals: &mut [Arrival],
) {
    let Some(prepared) = prepared else {
        for (i, arrival) in arrivals.iter_mut().enumerate() {
            *arrival = fly_alone(batch, first + i);
        }
        return;
    };
    let mut unlike: Vec<u32> = Vec::new();
    each_block(
        batch,
        prepared,
        cloud,
        width,
        first,
        arrivals,
        |task, raw, block, first, (some, arrivals)| {
            dispatch::fly(width, task, raw, block, (some, &mut *arrivals));
            for place in some {
                let throw = first + *place as usize;
                let Some(arrival) = arrivals.get_mut(*place as usize) else {
                    continue;
                };
                let left = || arrival.outcome == Outcome::NotFinite || dives(batch, throw, arrival);
                if cloud.is_some() && left() {
                    unlike.push(*place);
                } else {
                    settle(batch, throw, arrival);
                }
            }
        },
    );
    if unlike.is_empty() {
        return;
    }
    // Those that are not like the cloud fly together in the usual way.
    let (mut raw, mut block) = (Raw::empty(), Block::empty());
    for some in unlike.chunks(BLOCK) {
        gather(&mut raw, &batch.throws, some, |p| first + *p as usize, true);
        block.count = some.len();
        dispatch::fly(width, prepared.task(batch), &raw, &mut block, (some, arrivals));
        for place in some {
            if let Some(arrival) = arrivals.get_mut(*place as usize) {
                settle(batch, first + *place as usize, arrival);
            }
        }
    }
}

/// Puts the throws of a chunk into blocks and has each flown, with the throw that its places count from.
fn each_block(
    batch: &Batch,
    prepared: &Prepared,
    cloud: Option<&Cloud>,
    width: Width,
    first: usize,
    arrivals: &mut [Arrival],
    mut fly: impl FnMut(Task, &Raw, &mut Block, usize, Ends),
) {
    let (mut raw, mut block) = (Raw::empty(), Block::empty());
    let throws = &batch.throws;
    let task = Task {
        cloud,
        ..prepared.task(batch)
    };
    // Throws of a cloud take the same number of steps anyway.
    let window = if cloud.is_some() { CHUNK } else { WINDOW };
    for (w, arrivals) in arrivals.chunks_mut(window).enumerate() {
        let (first, count) = (first + w * window, arrivals.len());
        let order = match cloud {
            Some(_) => None,
            None => in_order(throws, prepared, width, &mut raw, first, count),
        };
        let places = order.as_ref().map_or(AS_THEY_COME.as_slice(), |order| order);
        for (i, some) in places.get(..count).unwrap_or_default().chunks(BLOCK).enumerate() {
            block.count = some.len();
            if order.is_some() {
                gather(&mut raw, throws, some, |p| first + *p as usize, false);
                // So that the next window can be put in order at once, and for the results of this block.
                fetch(throws, first + WINDOW + i * BLOCK);
                for place in some {
                    let place = *place as usize;
                    dispatch::fetch(arrivals.get(place..=place).unwrap_or_default());
                }
            } else {
                let begin = i * BLOCK;
                fill(&mut raw, throws, first + begin, some.len(), i == 0);
                // The numbers of the next block travel while this one flies, and so does room for its results.
                fetch(throws, first + begin + BLOCK);
                dispatch::fetch(arrivals.get(begin..begin + some.len()).unwrap_or_default());
            }
            fly(task, &raw, &mut block, first, (some, &mut *arrivals));
        }
    }
}

/// The order in which the throws of a window should fly, if that matters.
fn in_order(
    throws: &Throws,
    prepared: &Prepared,
    width: Width,
    raw: &mut Raw,
    first: usize,
    count: usize,
) -> Option<[u32; WINDOW]> {
    let mut sorts = [0; WINDOW];
    let (blocks, _) = sorts.as_chunks_mut::<BLOCK>();
    for (i, sorts) in blocks.iter_mut().enumerate().take(count.div_ceil(BLOCK)) {
        let begin = i * BLOCK;
        fill(raw, throws, first + begin, BLOCK.min(count - begin), i == 0);
        fetch(throws, first + begin + BLOCK);
        dispatch::foretell(width, prepared.kind, &prepared.ground, raw, sorts);
        if i == 0 && order::alike(sorts.get(..count.min(BLOCK)).unwrap_or_default()) {
            return None;
        }
    }
    Some(order::by_sort(sorts.get(..count).unwrap_or_default()))
}

/// Copies the columns of some throws, no more than a block; those that are the same for all only if `all`.
pub(super) fn gather<T>(raw: &mut Raw, throws: &Throws, some: &[T], throw: impl Fn(&T) -> usize, all: bool) {
    for (column, groups) in columns(throws, raw) {
        match column {
            Column::Same(x) if all => *groups = [Cells::all(*x); GROUPS],
            Column::Same(_) => {}
            Column::Each(all) => {
                for (to, some) in groups.iter_mut().zip(some.chunks(GROUP)) {
                    for (to, one) in to.0.iter_mut().zip(some) {
                        *to = all.get(throw(one)).copied().unwrap_or(f64::NAN);
                    }
                }
            }
        }
    }
}

/// Every column of the throws beside its place in a block.
fn columns<'a>(
    throws: &'a Throws,
    raw: &'a mut Raw,
) -> impl Iterator<Item = (&'a Column<'a>, &'a mut enter::Column)> {
    let vectors = [
        (&throws.position_m, &mut raw.position_m),
        (&throws.velocity_mps, &mut raw.velocity_mps),
        (&throws.spin_radps, &mut raw.spin_radps),
        (&throws.wind_mps, &mut raw.wind_mps),
    ];
    let numbers = [
        (&throws.diameter_m, &mut raw.diameter_m),
        (&throws.mass_kg, &mut raw.mass_kg),
        (&throws.drag_scale_ratio, &mut raw.drag_scale_ratio),
        (&throws.lift_scale_ratio, &mut raw.lift_scale_ratio),
        (&throws.density_kgpm3, &mut raw.density_kgpm3),
    ];
    let vectors = vectors
        .into_iter()
        .flat_map(|(columns, lanes)| columns.iter().zip(lanes));
    vectors.chain(numbers)
}

/// Copies the columns of a block of throws; those that are the same for all throws only for the
/// first block of a chunk.
fn fill(raw: &mut Raw, throws: &Throws, begin: usize, count: usize, first_block: bool) {
    for (column, groups) in columns(throws, raw) {
        match column {
            Column::Same(x) if first_block => *groups = [Cells::all(*x); GROUPS],
            Column::Same(_) => {}
            Column::Each(all) => {
                let from = all.get(begin..begin + count).unwrap_or_default();
                for (to, from) in groups.iter_mut().zip(from.chunks(GROUP)) {
                    // Whole groups by vector moves.
                    match from.first_chunk() {
                        Some(whole) => to.0 = *whole,
                        None => to.0.iter_mut().zip(from).for_each(|(to, from)| *to = *from),
                    }
                }
            }
        }
    }
}

/// Asks for the columns of the block that begins at a throw.
fn fetch(throws: &Throws, begin: usize) {
    let one = |column: &Column| {
        if let Column::Each(all) = column {
            let end = all.len().min(begin + BLOCK);
            dispatch::fetch(all.get(begin..end).unwrap_or_default());
        }
    };
    for columns in [
        &throws.position_m,
        &throws.velocity_mps,
        &throws.spin_radps,
        &throws.wind_mps,
    ] {
        columns.iter().for_each(one);
    }
    one(&throws.diameter_m);
    one(&throws.mass_kg);
    one(&throws.drag_scale_ratio);
    one(&throws.lift_scale_ratio);
    one(&throws.density_kgpm3);
}

/// Whether a throw goes down at the start and up at the end: it may have been below the floor in between.
pub(super) fn dives(batch: &Batch, throw: usize, end: &Arrival) -> bool {
    end.velocity_mps[2] > 0.0 && batch.throws.velocity_mps[2].at(throw) < 0.0
}

/// Gives a throw its final outcome: left to the careful path, too late, or below the floor.
#[inline]
fn settle(batch: &Batch, throw: usize, arrival: &mut Arrival) {
    match arrival.outcome {
        Outcome::Crossed => {
            let fallen = arrival.position_m[2] < batch.until.floor_m && arrival.velocity_mps[2] < 0.0;
            if fallen || arrival.time_s > batch.until.time_s {
                *arrival = Arrival::without(Outcome::Missed);
            }
        }
        Outcome::Missed => *arrival = Arrival::without(Outcome::Missed),
        Outcome::NotFinite => *arrival = fly_alone(batch, throw),
    }
}

/// One throw by the careful path.
fn fly_alone(batch: &Batch, i: usize) -> Arrival {
    alone(batch, i, Accuracy::Quick)
}

fn alone(batch: &Batch, i: usize, accuracy: Accuracy) -> Arrival {
    let throws = &batch.throws;
    let at = |columns: &[Column; 3]| columns.each_ref().map(|c| c.at(i));
    let mut ball = Ball {
        diameter_m: throws.diameter_m.at(i),
        mass_kg: throws.mass_kg.at(i),
        ..batch.ball
    };
    ball.drag.scale_ratio *= throws.drag_scale_ratio.at(i);
    ball.lift = scaled(ball.lift, throws.lift_scale_ratio.at(i));
    let medium = Medium {
        density_kgpm3: throws.density_kgpm3.at(i),
        wind_mps: at(&throws.wind_mps),
        ..batch.medium
    };
    let start = State {
        time_s: 0.0,
        position_m: at(&throws.position_m),
        velocity_mps: at(&throws.velocity_mps),
        spin_radps: at(&throws.spin_radps),
    };
    let path = fly_to_accuracy(&ball, &medium, &start, &batch.until, accuracy);
    match path.crossing(&batch.plane) {
        Some(state) => Arrival {
            outcome: Outcome::Crossed,
            time_s: state.time_s,
            position_m: state.position_m,
            velocity_mps: state.velocity_mps,
        },
        None if path.ended == Ended::NotFinite => Arrival::without(Outcome::NotFinite),
        None => Arrival::without(Outcome::Missed),
    }
}

/// A lift law with its coefficient multiplied.
fn scaled(lift: Lift, ratio: f64) -> Lift {
    match lift {
        Lift::None | Lift::Bilinear => lift,
        Lift::Linear { slope_coeff } => Lift::Linear {
            slope_coeff: ratio * slope_coeff,
        },
        Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => Lift::Saturating {
            a_coeff,
            b_coeff,
            scale_ratio: ratio * scale_ratio,
        },
        Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio,
        } => Lift::SaturatingWholeSpin {
            a_coeff,
            b_coeff,
            scale_ratio: ratio * scale_ratio,
        },
    }
}

/// One throw by the tight single flight, for comparison.
#[cfg(test)]
pub(super) fn tight(batch: &Batch, i: usize) -> Arrival {
    alone(batch, i, Accuracy::Tight)
}

/// Flies the blocks of a batch by a way of the caller's, without the careful path.
#[cfg(any(test, feature = "count"))]
fn each_block_of(batch: &Batch, alike: bool, mut fly: impl FnMut(Task, &Raw, &mut Block, usize, Ends)) {
    let Some(prepared) = prepare(batch) else { return };
    let width = dispatch::widest();
    let cloud = if alike {
        super::pilots::learn(batch, &prepared, width)
    } else {
        None
    };
    let mut arrivals = vec![Arrival::without(Outcome::NotFinite); batch.throws.count];
    for (i, part) in arrivals.chunks_mut(CHUNK).enumerate() {
        each_block(batch, &prepared, cloud.as_ref(), width, i * CHUNK, part, &mut fly);
    }
}

/// The arithmetic of a batch.
#[cfg(any(test, feature = "count"))]
pub(super) fn count(batch: &Batch, alike: bool) -> super::Operations {
    super::count::take();
    each_block_of(batch, alike, |task, raw, block, _, ends| {
        dispatch::fly_counted(task, raw, block, ends);
    });
    super::count::take()
}

/// How many throws of a batch the lanes cannot settle.
#[cfg(test)]
pub(super) fn left_to_the_careful_path(batch: &Batch) -> usize {
    if prepare(batch).is_none() {
        return batch.throws.count;
    }
    let mut left = 0;
    each_block_of(batch, false, |task, raw, block, _, (places, arrivals)| {
        dispatch::fly(dispatch::widest(), task, raw, block, (places, &mut *arrivals));
        let ends = places.iter().filter_map(|place| arrivals.get(*place as usize));
        left += ends.filter(|a| a.outcome == Outcome::NotFinite).count();
    });
    left
}
