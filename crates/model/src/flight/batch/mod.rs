//! Many flights to one plane at once.
//!
//! For scatter, searches and figures that need thousands of flights. Lanes of a vector carry
//! one flight each; results are those of [`super::fly`] to a micrometre.
//!
//! # Which bits a result has
//!
//! - [`Precision::Exact`], the default: the same bits on every machine and with every number of
//!   threads. Whatever is seeded, stored or compared uses it.
//! - [`Precision::Fast`], by choice: the same 1e-6 m, tested on the same references, but the last bits
//!   depend on the machine's instructions. For searches and previews whose end result is flown
//!   again exactly.

mod block;
mod cloud;
#[cfg(any(test, feature = "count"))]
mod count;
mod dispatch;
mod enter;
mod lanes;
mod load;
mod order;
mod pilots;
mod rule;
mod smooth;
mod stages;

#[cfg(test)]
mod alike_tests;
#[cfg(test)]
mod tests;

#[cfg(any(test, feature = "count"))]
pub use count::Operations;

use super::{Ball, DragLaw, Medium, Plane, Until};
use block::BLOCK;
use dispatch::widest;
use rayon::prelude::*;

/// One quantity of all throws: the same for each, or one number for each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Column<'a> {
    /// The same for every throw.
    Same(f64),
    /// One number for each throw.
    Each(&'a [f64]),
}

/// Which results a batch promises. Both are within 1e-6 m of the exact crossing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Precision {
    /// The same bits on every machine.
    #[default]
    Exact,
    /// More throws in the same time; the last bits depend on the machine. For searches and previews,
    /// never for a seeded result that is compared with another machine's.
    Fast,
}

/// What differs from throw to throw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Throws<'a> {
    /// Number of throws; every [`Column::Each`] has this length.
    pub count: usize,
    /// Position of the centre at the start, x y z.
    pub position_m: [Column<'a>; 3],
    /// Velocity at the start.
    pub velocity_mps: [Column<'a>; 3],
    /// Spin at the start.
    pub spin_radps: [Column<'a>; 3],
    /// Outer diameter.
    pub diameter_m: Column<'a>,
    /// Mass used in the equation of motion.
    pub mass_kg: Column<'a>,
    /// Multiplies the drag coefficient of the ball.
    pub drag_scale_ratio: Column<'a>,
    /// Multiplies the lift coefficient of the ball.
    pub lift_scale_ratio: Column<'a>,
    /// Density of the air.
    pub density_kgpm3: Column<'a>,
    /// Wind.
    pub wind_mps: [Column<'a>; 3],
}

impl Throws<'_> {
    /// Throws that are all the same ball in the same air from the same start; set the columns that differ.
    pub fn alike(count: usize, ball: &Ball, medium: &Medium, start: &super::State) -> Throws<'static> {
        Throws {
            count,
            position_m: start.position_m.map(Column::Same),
            velocity_mps: start.velocity_mps.map(Column::Same),
            spin_radps: start.spin_radps.map(Column::Same),
            diameter_m: Column::Same(ball.diameter_m),
            mass_kg: Column::Same(ball.mass_kg),
            drag_scale_ratio: Column::Same(1.0),
            lift_scale_ratio: Column::Same(1.0),
            density_kgpm3: Column::Same(medium.density_kgpm3),
            wind_mps: medium.wind_mps.map(Column::Same),
        }
    }
}

/// A batch of flights to one plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Batch<'a> {
    /// Laws and everything else of the ball that no column replaces.
    pub ball: Ball,
    /// Viscosity and gravity; density and wind are columns.
    pub medium: Medium,
    /// The plane; a crossing goes from its negative to its positive side.
    pub plane: Plane,
    /// When to give up; time counts from the start.
    pub until: Until,
    /// Whether the last bits may depend on the machine.
    pub precision: Precision,
    /// What differs.
    pub throws: Throws<'a>,
}

/// How a flight of a batch ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It crossed the plane.
    Crossed,
    /// It fell below the floor or time was up before.
    Missed,
    /// A state or an input was not finite.
    NotFinite,
}

/// End of one flight of a batch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrival {
    /// How it ended. The other fields are not a number unless it crossed.
    pub outcome: Outcome,
    /// Time of the crossing since the start.
    pub time_s: f64,
    /// Position of the centre there.
    pub position_m: [f64; 3],
    /// Velocity of the centre there.
    pub velocity_mps: [f64; 3],
}

impl Arrival {
    fn without(outcome: Outcome) -> Arrival {
        Arrival {
            outcome,
            time_s: f64::NAN,
            position_m: [f64::NAN; 3],
            velocity_mps: [f64::NAN; 3],
        }
    }
}

/// A column whose length is not the number of throws.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ColumnLength {
    /// Name of the column's field in [`Throws`], or `arrivals`.
    pub column: &'static str,
    /// Its length.
    pub found: usize,
    /// The number of throws.
    pub wanted: usize,
}

/// Flies every throw of a batch to the plane, on the threads of the present rayon pool.
///
/// Same equations and same events as [`super::fly`] with [`super::Path::crossing`]; positions
/// agree to 1e-6 m, but for a few throws with a wild spin and little drag beside its lift, where 1.4e-5 m was the worst
/// (docs/performance.md). The result of a throw depends on nothing but that throw: not on threads, not on its
/// neighbours, not on how wide the machine's vectors are.
///
/// Fast for constant and Clift-Gauvin drag with saturating, linear or no lift and no decay
/// or a time constant; every other law is flown one at a time. So are throws that graze the
/// plane, leave the range of the drag curve, or need very many steps.
pub fn fly_batch(batch: &Batch) -> Result<Vec<Arrival>, ColumnLength> {
    fly_new(batch, false)
}

/// As [`fly_batch`], into a slice as long as there are throws: a search that flies batch after batch
/// keeps its memory.
pub fn fly_batch_into(batch: &Batch, arrivals: &mut [Arrival]) -> Result<(), ColumnLength> {
    fly_into(batch, false, arrivals)
}

/// As [`fly_batch`], for throws that are alike: a scatter about one of them. Nearly twice as many in the same
/// time.
///
/// First a few hundred of them tell how the error of a flight in two long steps depends on the throw; then throws that are
/// like those take two steps, and the error is taken off. Throws unlike the rest fly as in [`fly_batch`], and so do
/// all when they are few, or too different, which is found out. Positions are good to 1e-6 m, as judged from a sample (of
/// thousands of random clouds one in 1500 held a throw that was not, the worst off by 1.7e-6 m), velocities to 1e-4 m/s.
///
/// So the result of a throw depends on the whole batch, within that; not on threads, and with [`Precision::Exact`] it
/// has the same bits on every machine.
pub fn fly_alike(batch: &Batch) -> Result<Vec<Arrival>, ColumnLength> {
    fly_new(batch, true)
}

/// As [`fly_alike`], into a slice as long as there are throws.
pub fn fly_alike_into(batch: &Batch, arrivals: &mut [Arrival]) -> Result<(), ColumnLength> {
    fly_into(batch, true, arrivals)
}

fn fly_new(batch: &Batch, alike: bool) -> Result<Vec<Arrival>, ColumnLength> {
    let mut arrivals = vec![Arrival::without(Outcome::NotFinite); batch.throws.count];
    fly_into(batch, alike, &mut arrivals)?;
    Ok(arrivals)
}

fn fly_into(batch: &Batch, alike: bool, arrivals: &mut [Arrival]) -> Result<(), ColumnLength> {
    load::check(&batch.throws)?;
    if arrivals.len() != batch.throws.count {
        return Err(ColumnLength {
            column: "arrivals",
            found: arrivals.len(),
            wanted: batch.throws.count,
        });
    }
    let prepared = load::prepare(batch);
    let width = widest();
    let cloud = match &prepared {
        Some(prepared) if alike => pilots::learn(batch, prepared, width),
        _ => None,
    };
    share(batch, prepared.as_ref(), cloud.as_ref(), width, arrivals);
    Ok(())
}

/// Flies the throws of a batch, shared out to the threads of the present pool.
fn share(
    batch: &Batch,
    prepared: Option<&load::Prepared>,
    cloud: Option<&cloud::Cloud>,
    width: dispatch::Width,
    arrivals: &mut [Arrival],
) {
    arrivals.par_chunks_mut(CHUNK).enumerate().for_each(|(i, part)| {
        load::fly_chunk(batch, prepared, cloud, width, i * CHUNK, part);
    });
}

/// The arithmetic that the lanes do for a batch, as by [`fly_alike`] if `alike`, without what is learnt before and
/// without flying those throws once more that are not like the rest.
/// Nothing for laws that are flown one at a time.
#[cfg(any(test, feature = "count"))]
pub fn operations(batch: &Batch, alike: bool) -> Result<Operations, ColumnLength> {
    load::check(&batch.throws)?;
    Ok(load::count(batch, alike))
}

/// Does `rounds` of independent fused multiply-adds with the widest vectors, on this thread: what the
/// machine's arithmetic can do at most. Returns their sum, for the compiler to believe in, and their number.
#[cfg(any(test, feature = "count"))]
pub fn fused_only(rounds: usize) -> (f64, u64) {
    dispatch::fused_only(widest(), rounds)
}

/// Method: throws handed to a thread at a time; enough to hide the hand-over, little enough to share out.
const CHUNK: usize = 16 * BLOCK;
