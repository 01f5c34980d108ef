//! A flown path and the questions it answers.
//!
//! The path keeps the ends of its steps. A state between them is found by a shorter step of
//! the same method from the end before it, so it is as accurate as the ends are. Events are
//! isolated on the quintic through both ends of a step, then polished on the path itself.

use super::force::{Branch, Force, Moving, velocity};
use super::solve::Until;
use super::{Plane, State};
use crate::numerics::minimum::bracketed_minimum;
use crate::numerics::ode::{Step, dop853};
use crate::numerics::polynomial::{self, Quintic};
use crate::numerics::root::bracketed_newton;
use crate::numerics::vector::{dot, norm, sub};

/// Why a path ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// The centre fell below the floor.
    Floor,
    /// Time was up, or the 10 000 steps that a path may have.
    Time,
    /// The state, or an input, was not finite.
    NotFinite,
}

/// A flown path; made by [`super::fly`].
#[derive(Clone, Debug)]
pub struct Path {
    /// Why it ends.
    pub ended: Ended,
    force: Force,
    until: Until,
    nodes: Vec<Node>,
}

/// An end of a step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node {
    pub(super) time_s: f64,
    pub(super) position_m: [f64; 3],
    pub(super) y: Moving,
    pub(super) rate: Moving,
    /// In force after this node.
    branch: Branch,
}

impl Node {
    pub(super) fn new(force: &Force, time_s: f64, position_m: [f64; 3], y: Moving) -> Node {
        Node {
            time_s,
            position_m,
            y,
            rate: force.rate(&y),
            branch: force.branch(),
        }
    }

    pub(super) fn is_finite(&self) -> bool {
        self.time_s.is_finite()
            && self
                .position_m
                .iter()
                .chain(&self.y)
                .chain(&self.rate)
                .all(|x| x.is_finite())
    }

    /// The node with the other branch of the lift law in force after it.
    pub(super) fn on_branch(&self, force: &Force) -> Node {
        Node::new(force, self.time_s, self.position_m, self.y)
    }

    /// One step of the integrator from this node.
    #[inline(never)] // one copy of a long function
    pub(super) fn step(&self, force: &Force, h: f64) -> Step<4, 3> {
        dop853(&self.y, &(self.rate, velocity(&self.y)), h, |y| {
            (force.rate(y), velocity(y))
        })
    }

    /// The path a little after this node.
    pub(super) fn advance(&self, force: &Force, h: f64) -> Node {
        let force = force.with_branch(self.branch);
        let step = self.step(&force, h);
        let position_m = std::array::from_fn(|i| self.position_m[i] + step.gain[i]);
        Node::new(&force, self.time_s + h, position_m, step.y)
    }

    /// Quintic of one coordinate over the step to `next`, in the step's own unit of time.
    fn quintic(&self, next: &Node, axis: usize) -> Quintic {
        let h = next.time_s - self.time_s;
        let end = |n: &Node| [n.position_m[axis], h * n.y[axis], h * h * n.rate[axis]];
        polynomial::hermite(end(self), end(next))
    }
}

/// A function along the path whose rise from negative to positive is an event.
trait Event {
    /// Approximation over a step, on the unit interval.
    fn over(&self, from: &Node, to: &Node) -> Quintic;
    /// Value and rate of change with time.
    fn exact(&self, node: &Node) -> (f64, f64);
}

impl Event for Plane {
    fn over(&self, from: &Node, to: &Node) -> Quintic {
        let mut sum = [0.0; 6];
        for (axis, n) in self.normal.iter().enumerate() {
            if *n != 0.0 {
                for (sum, c) in sum.iter_mut().zip(from.quintic(to, axis)) {
                    *sum += n * c;
                }
            }
        }
        sum[0] -= dot(self.normal, self.point_m);
        sum
    }

    fn exact(&self, node: &Node) -> (f64, f64) {
        (
            dot(self.normal, sub(node.position_m, self.point_m)),
            dot(self.normal, velocity(&node.y)),
        )
    }
}

/// The vertical velocity turning from upward to downward.
struct Apex;

impl Event for Apex {
    fn over(&self, from: &Node, to: &Node) -> Quintic {
        let h = to.time_s - from.time_s;
        polynomial::derivative(&from.quintic(to, 2)).map(|c| -c / h)
    }

    fn exact(&self, node: &Node) -> (f64, f64) {
        (-node.y[2], -node.rate[2])
    }
}

impl Path {
    pub(super) fn begin(force: Force, until: Until, first: Node) -> Path {
        Path {
            ended: Ended::Time,
            force,
            until,
            nodes: vec![first],
        }
    }

    pub(super) fn push(&mut self, node: Node) {
        self.nodes.push(node);
    }

    pub(super) fn last(&self) -> &Node {
        // Holds because a path begins with one node and none is ever taken away.
        &self.nodes[self.nodes.len() - 1]
    }

    /// Whether the path has ended when it gets to a node.
    pub(super) fn is_below_floor(&self, node: &Node) -> bool {
        node.position_m[2] < self.until.floor_m && node.y[2] < 0.0
    }

    /// Shortens the last step to end where it falls below the floor, if it does.
    pub(super) fn cut_at_floor(&mut self) -> bool {
        let [.., from, to] = self.nodes.as_slice() else {
            return false;
        };
        let (from, to) = (*from, *to);
        let fall = level(self.until.floor_m);
        let (value, _) = fall.exact(&from);
        // Under the floor and still rising: the flight goes on to its highest point.
        let end = if value > 0.0 {
            self.rise_in_step(&Apex, &from, &to, Apex.exact(&from).0)
        } else {
            self.rise_in_step(&fall, &from, &to, value)
        };
        match end {
            Some(node) if node.position_m[2] <= self.until.floor_m + on_plane(&node) => {
                self.nodes.pop();
                self.nodes.push(node);
                true
            }
            _ => self.is_below_floor(&to),
        }
    }

    /// First state.
    pub fn start(&self) -> State {
        self.state(&self.nodes[0])
    }

    /// Last state.
    pub fn end(&self) -> State {
        self.state(self.last())
    }

    /// State at a time; before the start and after the end, the state there.
    pub fn at(&self, time_s: f64) -> State {
        self.state(&self.node_at(time_s))
    }

    /// First crossing of a plane from its negative to its positive side.
    ///
    /// A piece that starts on the plane leaves it, it does not cross it. A pair of crossings
    /// within one step (a piece that rises through a plane and falls back at once) is seen.
    pub fn crossing(&self, plane: &Plane) -> Option<State> {
        self.first_rise(plane, self.nodes[0].time_s)
    }

    /// First crossing of a plane from its negative to its positive side after a time.
    pub fn crossing_after(&self, plane: &Plane, time_s: f64) -> Option<State> {
        self.first_rise(plane, time_s)
    }

    /// First point at which the piece stops rising and starts to fall; `None` if it starts downward.
    pub fn apex(&self) -> Option<State> {
        self.first_rise(&Apex, self.nodes[0].time_s)
    }

    /// First downward crossing of a height.
    pub fn landing(&self, height_m: f64) -> Option<State> {
        self.first_rise(&level(height_m), self.nodes[0].time_s)
    }

    /// States evenly spaced in time from start to end; `count` is at least 2.
    pub fn sample(&self, count: usize) -> Vec<State> {
        let count = count.max(2);
        let (t0, t1) = (self.nodes[0].time_s, self.last().time_s);
        let last = (count - 1) as f64;
        (0..count)
            .map(|i| {
                if i == count - 1 {
                    self.end()
                } else {
                    self.at(t0 + (t1 - t0) * (i as f64 / last))
                }
            })
            .collect()
    }

    /// Least value of a smooth function of position between two times, and the state there.
    ///
    /// Every step is sampled, then each dip that could be the least is refined on the path
    /// to about 1e-9 of the value's own scale. Times outside the path are brought to its ends.
    pub fn nearest(&self, f: impl Fn([f64; 3]) -> f64, t0: f64, t1: f64) -> (f64, State) {
        let (first, last) = (self.nodes[0].time_s, self.last().time_s);
        let low = if t0.is_nan() { first } else { t0.clamp(first, last) };
        let high = if t1.is_nan() { last } else { t1.clamp(low, last) };
        let value_at = |t: f64| f(self.node_at(t).position_m);
        let samples = self.dense(low, high, &f);
        let mut best = (value_at(low), low);
        let consider = |found: (f64, f64), best: &mut (f64, f64)| {
            if found.0 < best.0 || best.0.is_nan() {
                *best = found;
            }
        };
        consider((value_at(high), high), &mut best);
        // A dip between an end and its neighbour shows only in the slope at the end.
        for (end, next) in [(0, 1), (samples.len() - 1, samples.len().saturating_sub(2))] {
            let (Some(&(te, fe)), Some(&(tn, fn_))) = (samples.get(end), samples.get(next)) else {
                continue;
            };
            let inside = te + END_SLOPE_SHARE * (tn - te);
            if te != tn && value_at(inside) < fe && fe <= fn_ {
                let (lo, hi) = (te.min(tn), te.max(tn));
                let (t, value) = bracketed_minimum(value_at, lo, inside, hi, NEAREST_CLOSE_S);
                consider((value, t), &mut best);
            }
        }
        for window in samples.windows(3) {
            let [(ta, fa), (tb, fb), (tc, fc)] = *window else {
                continue;
            };
            // The dip between three samples is at most about a drop of theirs deeper.
            let depth = (fa - fb).abs().max((fc - fb).abs());
            if fb <= fa && fb <= fc && fb - depth <= best.0 {
                let (t, value) = bracketed_minimum(value_at, ta, tb, tc, NEAREST_CLOSE_S);
                consider((value, t), &mut best);
            }
        }
        (best.0, self.at(best.1))
    }

    /// Times and values of a function of position on the interpolated path, ends included.
    fn dense(&self, low: f64, high: f64, f: &impl Fn([f64; 3]) -> f64) -> Vec<(f64, f64)> {
        let mut samples = Vec::new();
        for pair in self.nodes.windows(2) {
            let [from, to] = pair else { continue };
            if to.time_s < low || from.time_s > high {
                continue;
            }
            let h = to.time_s - from.time_s;
            let axes: [Quintic; 3] = std::array::from_fn(|axis| from.quintic(to, axis));
            for i in 0..SAMPLES_PER_STEP {
                let s = f64::from(i) / f64::from(SAMPLES_PER_STEP);
                let t = from.time_s + s * h;
                if t > low && t < high {
                    samples.push((t, f(axes.map(|c| polynomial::value(&c, s)))));
                }
            }
        }
        let end = |t: f64| (t, f(self.node_at(t).position_m));
        samples.insert(0, end(low));
        samples.push(end(high));
        samples
    }

    fn state(&self, node: &Node) -> State {
        State {
            time_s: node.time_s,
            position_m: node.position_m,
            velocity_mps: velocity(&node.y),
            spin_radps: self.force.spin(node.y[3]),
        }
    }

    /// Index of the step that holds a time.
    fn step_at(&self, time_s: f64) -> usize {
        self.nodes
            .partition_point(|n| n.time_s <= time_s)
            .saturating_sub(1)
    }

    fn node_at(&self, time_s: f64) -> Node {
        let index = self.step_at(time_s);
        let node = self.nodes[index];
        let inside = index + 1 < self.nodes.len() && time_s > node.time_s;
        if inside {
            node.advance(&self.force, time_s - node.time_s)
        } else {
            node
        }
    }

    fn first_rise(&self, event: &impl Event, after_s: f64) -> Option<State> {
        let index = self.step_at(after_s);
        let mut from = self.node_at(after_s);
        let (mut value, slope) = event.exact(&from);
        // On the plane and leaving it for the positive side: that crossing is not ahead.
        if value.abs() <= on_plane(&from) && slope > 0.0 {
            value = 0.0;
        }
        for to in self.nodes.get(index + 1..).unwrap_or(&[]) {
            if let Some(node) = self.rise_in_step(event, &from, to, value) {
                return Some(self.state(&node));
            }
            from = *to;
            value = event.exact(to).0;
        }
        // A path cut at the floor ends on it to rounding, on either side.
        let end = self.last();
        let (value, slope) = event.exact(end);
        let reached = self.nodes.len() > index + 1 && value < 0.0 && slope > 0.0 && -value <= on_plane(end);
        reached.then(|| self.state(end))
    }

    /// First rise through zero in one step that starts at a value.
    ///
    /// The step is divided at the extrema of the interpolated function, so that each part
    /// holds one root or none. Near zero an extremum is evaluated on the path itself.
    fn rise_in_step(&self, event: &impl Event, from: &Node, to: &Node, value: f64) -> Option<Node> {
        let h = to.time_s - from.time_s;
        let curve = event.over(from, to);
        let (low, high) = polynomial::hull(&curve);
        if low > GRAZE || high < -GRAZE {
            return None;
        }
        let slope = polynomial::derivative(&curve);
        let bend = polynomial::derivative(&slope);
        let (mut lo, mut value_lo) = (0.0, value);
        for &extremum in polynomial::roots(&slope)
            .as_slice()
            .iter()
            .chain(std::iter::once(&1.0))
        {
            let (mut hi, mut value_hi) = (extremum, polynomial::value(&curve, extremum));
            if hi == 1.0 {
                value_hi = event.exact(to).0;
            } else if value_hi.abs() < GRAZE {
                let exact_slope = event.exact(&from.advance(&self.force, hi * h)).1 * h;
                let polished = hi - exact_slope / polynomial::value(&bend, hi);
                if polished > lo && polished < 1.0 {
                    hi = polished;
                }
                value_hi = event.exact(&from.advance(&self.force, hi * h)).0;
            }
            if value_lo < 0.0 && value_hi >= 0.0 {
                let guess = |s: f64| (polynomial::value(&curve, s), polynomial::value(&slope, s));
                let first = bracketed_newton(guess, (lo, -1.0), hi, 0.5 * (lo + hi), GUESS_CLOSE).0;
                let mut node = *to;
                let exact = |t: f64| {
                    node = from.advance(&self.force, t);
                    event.exact(&node)
                };
                bracketed_newton(exact, (lo * h, value_lo), hi * h, first * h, EVENT_CLOSE_S);
                return Some(node);
            }
            (lo, value_lo) = (hi, value_hi);
        }
        None
    }
}

/// The plane of a height, crossed going down.
fn level(height_m: f64) -> Plane {
    Plane {
        point_m: [0.0, 0.0, height_m],
        normal: [0.0, 0.0, -1.0],
    }
}

/// Rounding: a polished event is on its plane this closely.
fn on_plane(node: &Node) -> f64 {
    1e-12 * (1.0 + norm(node.position_m))
}

/// Method: how far inside an end its slope is read, as a share of the sample spacing.
const END_SLOPE_SHARE: f64 = 1e-4;

/// Method: the quintic is right to 1e-5 m over the longest step; an extremum nearer to zero than ten
/// times that is looked at on the path itself.
const GRAZE: f64 = 1e-4;
/// Convergence: place of the first guess within a step; Newton's method on the path follows.
const GUESS_CLOSE: f64 = 1e-6;
/// Convergence: after a Newton step of 1e-7 s the next would be about its square, below rounding.
const EVENT_CLOSE_S: f64 = 1e-7;
/// Convergence: a minimum is flat; 1e-8 s beside it the value differs by 1e-14 m.
const NEAREST_CLOSE_S: f64 = 1e-8;
/// Method: a step turns the path by half a radian at most; sixteen samples show each dip of a distance to
/// something as small as a tenth of the step.
const SAMPLES_PER_STEP: u32 = 16;
