//! Two goals against each other: the candidates that nothing beats in both.

use super::design::{Design, Score};

/// What is traded against the worst spot's hit chance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Goal {
    /// Time from standstill to the last throw of the volley; less is better.
    VolleyTime,
    /// How far the wheel speed may be off; more is better.
    Tolerance,
}

impl Goal {
    /// Value of the goal; `None` where a candidate has none.
    pub fn of(self, score: &Score) -> Option<f64> {
        match self {
            Goal::VolleyTime => score.volley_s,
            Goal::Tolerance => Some(score.tolerance_frac),
        }
        .filter(|v| v.is_finite())
    }
}

/// Places in a list of candidates of those that serve every spot and that no other beats in one goal without
/// losing in the other, the best in the second goal first.
///
/// The hit chance counts in whole steps of `grain_frac`: two designs nearer than that are equally sure.
pub fn front(tried: &[Design], goal: Goal, grain_frac: f64) -> Vec<usize> {
    let hit = |s: &Score| {
        let x = s.worst_hit_frac + 0.1 * s.hard_hit_frac;
        if grain_frac > 0.0 {
            (x / grain_frac).round() * grain_frac
        } else {
            x
        }
    };
    let mut all: Vec<(usize, f64, f64)> = tried
        .iter()
        .enumerate()
        .filter(|(_, d)| d.score.served)
        .filter_map(|(i, d)| Some((i, goal.of(&d.score)?, hit(&d.score))))
        .collect();
    all.sort_by(|a, b| {
        let by_goal = match goal {
            Goal::VolleyTime => a.1.total_cmp(&b.1),
            Goal::Tolerance => b.1.total_cmp(&a.1),
        };
        by_goal.then(b.2.total_cmp(&a.2)).then(a.0.cmp(&b.0))
    });
    let mut out = Vec::new();
    let mut best = f64::NEG_INFINITY;
    for (i, _, h) in all {
        if h > best {
            best = h;
            out.push(i);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn design(hit: f64, time: f64, served: bool) -> Design {
        Design {
            values: Vec::new(),
            score: Score {
                served,
                merit: 0.0,
                hits_frac: vec![hit],
                worst_hit_frac: hit,
                hard_hit_frac: 0.0,
                setpoints_radps: vec![1.0],
                along_sd_m: vec![0.0],
                volley_s: Some(time),
                ready_s: None,
                tolerance_frac: 0.1,
                refused: None,
            },
        }
    }

    #[test]
    fn only_candidates_that_nothing_beats_in_both_goals_are_on_the_front() {
        let tried = [
            design(0.9, 3.0, true),
            design(0.8, 2.0, true),
            design(0.7, 2.5, true),
            design(0.99, 1.0, false),
            design(0.9, 4.0, true),
            design(0.95, 5.0, true),
        ];
        assert_eq!(front(&tried, Goal::VolleyTime, 0.0), [1, 0, 5]);
    }
}
