//! Which pieces may touch each other, so that many need not all be asked.

use super::touch::V;
use super::world::Ball;
use crate::numerics::vector::{dot, sub};

/// Method: up to so many pieces all pairs are gone through; a list would cost more than it saves.
const FEW_COUNT: usize = 12;
/// Method: a pair is near when less than this share of the two radii is between them; the list is made anew when a piece has moved
/// by a half of it, the smaller radius taken.
const MARGIN_RATIO: f64 = 0.3;

/// Pairs that may touch, in the order of the pieces. What is not in it does not touch: results are those of all pairs, bit for bit.
#[derive(Clone, Debug, Default)]
pub(super) struct Near {
    pairs: Vec<(usize, usize)>,
    /// Where the pieces were when it was made.
    seen: Vec<V>,
    /// Square of the way that a piece may go before it is made anew; 0 before the first time, infinite with few.
    free_m2: f64,
}

impl Near {
    /// After a change of the pieces.
    pub(super) fn forget(&mut self) {
        self.free_m2 = 0.0;
        self.seen.clear();
    }

    /// All pairs of so many, for good.
    #[cfg(test)]
    pub(super) fn all(count: usize) -> Near {
        Near {
            pairs: (0..count)
                .flat_map(|i| (i + 1..count).map(move |j| (i, j)))
                .collect(),
            seen: Vec::new(),
            free_m2: f64::INFINITY,
        }
    }

    /// The pairs, as they were last looked at.
    pub(super) fn pairs(&self) -> &[(usize, usize)] {
        &self.pairs
    }

    /// Makes the list anew where it may no longer be whole.
    pub(super) fn look(&mut self, balls: &[Ball]) {
        let fresh = self.free_m2 > 0.0
            && (self.free_m2 == f64::INFINITY
                || balls.iter().zip(&self.seen).all(|(b, s)| {
                    let d = sub(b.at_m, *s);
                    dot(d, d) < self.free_m2
                }));
        if fresh {
            return;
        }
        let n = balls.len();
        self.pairs.clear();
        self.seen.clear();
        self.seen.extend(balls.iter().map(|b| b.at_m));
        let all = n <= FEW_COUNT;
        for (i, a) in balls.iter().enumerate() {
            for (j, b) in balls.iter().enumerate().skip(i + 1) {
                let d = sub(a.at_m, b.at_m);
                let reach = (1.0 + MARGIN_RATIO) * (a.radius_m + b.radius_m);
                if all || dot(d, d) < reach * reach {
                    self.pairs.push((i, j));
                }
            }
        }
        // Each of two may go half of the margin between the two smallest.
        let least = balls.iter().map(|b| b.radius_m).fold(f64::INFINITY, f64::min);
        let free = MARGIN_RATIO * least;
        self.free_m2 = if all { f64::INFINITY } else { free * free };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two of 5 are always looked at; of 40 in a row only neighbours are, and still when one has moved.
    #[test]
    fn what_may_touch_is_in_the_list_and_what_is_far_is_not() {
        let ball = |x: f64| Ball {
            radius_m: 0.5,
            mass_kg: 1.0,
            inertia_coeff: 0.4,
            at_m: [x, 0.0, 0.0],
            velocity_mps: [0.0; 3],
            spin_radps: [0.0; 3],
            number: 0,
        };
        let mut near = Near::default();
        near.look(&(0..5).map(|i| ball(10.0 * f64::from(i))).collect::<Vec<_>>());
        assert_eq!(near.pairs().len(), 10);
        near.forget();
        let mut row: Vec<Ball> = (0..40).map(|i| ball(1.2 * f64::from(i))).collect();
        near.look(&row);
        assert_eq!(near.pairs().len(), 39);
        assert_eq!(near.pairs().first(), Some(&(0, 1)));
        // Little by little the last goes to the first.
        while row[39].at_m[0] > 0.9 {
            row[39].at_m[0] -= 0.05;
            near.look(&row);
            for (i, a) in row.iter().enumerate().take(39) {
                if (a.at_m[0] - row[39].at_m[0]).abs() < 1.0 {
                    assert!(near.pairs().contains(&(i, 39)), "{i} {}", row[39].at_m[0]);
                }
            }
        }
    }
}
