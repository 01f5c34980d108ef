//! Flight of the reference model in its vertical plane, with exact derivatives by speed and elevation.

use std::ops::{Add, Mul, Neg, Sub};

/// A number with its derivatives by ln of the release speed and by the elevation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Jet {
    pub(super) value: f64,
    pub(super) by: [f64; 2],
}

impl Jet {
    fn new(value: f64) -> Jet {
        Jet { value, by: [0.0; 2] }
    }

    fn sqrt(self) -> Jet {
        let value = self.value.sqrt();
        let slope = if value > 0.0 { 0.5 / value } else { 0.0 };
        Jet {
            value,
            by: [slope * self.by[0], slope * self.by[1]],
        }
    }

    /// This number moved by `rate` times a time whose derivatives are given.
    fn shifted(self, rate: f64, time_by: [f64; 2]) -> Jet {
        Jet {
            value: self.value,
            by: [self.by[0] + rate * time_by[0], self.by[1] + rate * time_by[1]],
        }
    }
}

impl Add for Jet {
    type Output = Jet;
    fn add(self, o: Jet) -> Jet {
        Jet {
            value: self.value + o.value,
            by: [self.by[0] + o.by[0], self.by[1] + o.by[1]],
        }
    }
}

impl Sub for Jet {
    type Output = Jet;
    fn sub(self, o: Jet) -> Jet {
        self + -o
    }
}

impl Neg for Jet {
    type Output = Jet;
    fn neg(self) -> Jet {
        self * -1.0
    }
}

impl Mul for Jet {
    type Output = Jet;
    fn mul(self, o: Jet) -> Jet {
        let by = |i: usize| slope([self.value, self.by[i]], [o.value, o.by[i]]);
        Jet {
            value: self.value * o.value,
            by: [by(0), by(1)],
        }
    }
}

/// Derivative of a product of two numbers, each given with its own derivative.
fn slope([x, dx]: [f64; 2], [y, dy]: [f64; 2]) -> f64 {
    dx * y + x * dy
}

impl Mul<f64> for Jet {
    type Output = Jet;
    fn mul(self, k: f64) -> Jet {
        Jet {
            value: self.value * k,
            by: [self.by[0] * k, self.by[1] * k],
        }
    }
}

/// r, z, their rates.
type State = [Jet; 4];

/// What the flight depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Throw {
    pub(super) speed_mps: f64,
    pub(super) angle_rad: f64,
    pub(super) height_m: f64,
    pub(super) gravity_mps2: f64,
    /// ρ A/(2 m).
    pub(super) air_pm: f64,
    pub(super) drag_coeff: f64,
    pub(super) lift_coeff: f64,
}

/// Convergence: the classical Runge-Kutta method leaves 3·10⁻⁸ m at 8 m/s with this step.
const STEP_S: f64 = 0.04;
/// Physical: no thrown ball flies longer; ends a computation that would not.
const LONGEST_S: f64 = 8.0;
/// Convergence: Newton's method inside one step doubles its digits each time.
const NEWTONS: usize = 6;

/// Nodes of a flight, from the release down to a height.
#[derive(Clone, Debug)]
pub(super) struct Track {
    throw: Throw,
    nodes: Vec<State>,
    /// Node before the highest point.
    top: usize,
}

/// Where, when and how high.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Met {
    pub(super) along: Jet,
    pub(super) time: Jet,
}

impl Throw {
    /// ```text
    /// r' = vr   z' = vz   vr' = −K s (Cd vr + Cl vz)   vz' = −g − K s (Cd vz − Cl vr)   s = √(vr² + vz²)
    /// ```
    fn rates(&self, [_, _, vr, vz]: State) -> State {
        let s = (vr * vr + vz * vz).sqrt() * self.air_pm;
        let along = -(s * (vr * self.drag_coeff + vz * self.lift_coeff));
        let up = -(s * (vz * self.drag_coeff - vr * self.lift_coeff));
        [vr, vz, along, up - Jet::new(self.gravity_mps2)]
    }

    fn stepped(&self, from: State, h: f64) -> State {
        let moved = |k: State, h: f64| -> State { std::array::from_fn(|i| from[i] + k[i] * h) };
        let a = self.rates(from);
        let b = self.rates(moved(a, 0.5 * h));
        let c = self.rates(moved(b, 0.5 * h));
        let d = self.rates(moved(c, h));
        std::array::from_fn(|i| from[i] + (a[i] + (b[i] + c[i]) * 2.0 + d[i]) * (h / 6.0))
    }

    /// Flies until it falls below a height and passes a distance. `None` when it never does.
    pub(super) fn track(self, lowest_m: f64, farthest_m: f64) -> Option<Track> {
        let (sin, cos) = self.angle_rad.sin_cos();
        let (vr, vz) = (self.speed_mps * cos, self.speed_mps * sin);
        let start = [
            Jet::new(0.0),
            Jet::new(self.height_m),
            Jet {
                value: vr,
                by: [vr, -vz],
            },
            Jet {
                value: vz,
                by: [vz, vr],
            },
        ];
        let mut nodes = vec![start];
        let mut top = 0;
        let mut state = start;
        for i in 0..(LONGEST_S / STEP_S) as usize {
            let falling = state[3].value <= 0.0;
            if falling && state[1].value < lowest_m && state[0].value > farthest_m {
                break;
            }
            if !falling {
                top = i;
            }
            state = self.stepped(state, STEP_S);
            if !state.iter().all(|x| x.value.is_finite()) {
                return None;
            }
            nodes.push(state);
        }
        Some(Track {
            throw: self,
            nodes,
            top,
        })
    }
}

impl Track {
    /// A state inside the step after a node where `axis` has a value, and the time since that node.
    fn inside(&self, node: usize, axis: usize, value: f64) -> Option<(State, f64)> {
        let from = *self.nodes.get(node)?;
        let mut h = 0.5 * STEP_S;
        let mut at = from;
        for _ in 0..NEWTONS {
            at = self.throw.stepped(from, h);
            let rate = self.throw.rates(at)[axis].value;
            let change = (at[axis].value - value) / rate;
            if !change.is_finite() {
                return None;
            }
            h = (h - change).clamp(-STEP_S, 2.0 * STEP_S);
            if change.abs() < f64::EPSILON {
                break;
            }
        }
        at = if h.is_finite() {
            self.throw.stepped(from, h)
        } else {
            at
        };
        Some((at, h))
    }

    /// The time at which an axis of a state reaches a fixed value, as a jet.
    fn arrival(&self, at: State, axis: usize, time_s: f64) -> Jet {
        let rate = self.throw.rates(at)[axis].value;
        Jet {
            value: time_s,
            by: [-at[axis].by[0] / rate, -at[axis].by[1] / rate],
        }
    }

    /// Highest point: distance, height and time.
    fn apex(&self) -> Option<(Jet, Jet, Jet)> {
        let first = *self.nodes.first()?;
        if first[3].value <= 0.0 {
            return Some((first[0], first[1], Jet::new(0.0)));
        }
        let (at, h) = self.inside(self.top, 3, 0.0)?;
        let time = self.arrival(at, 3, self.top as f64 * STEP_S + h);
        let along = at[0].shifted(at[2].value, time.by);
        Some((along, at[1].shifted(at[3].value, time.by), time))
    }

    /// Where it comes down through a height. When it never gets there: `r_apex − 2 (z − z_apex)` at the time
    /// of the apex, which keeps a throw that is far too short comparable with others.
    pub(super) fn down_through(&self, height_m: f64) -> Option<Met> {
        let (along, high, time) = self.apex()?;
        if high.value < height_m {
            return Some(Met {
                along: along - (Jet::new(height_m) - high) * 2.0,
                time,
            });
        }
        let below = |s: &State| s[3].value <= 0.0 && s[1].value < height_m;
        let first_below = self.nodes.iter().skip(self.top + 1).position(below)? + self.top + 1;
        let node = first_below - 1;
        // The step that holds the apex is left by its far side.
        let (at, h) = self.inside_falling(node, height_m)?;
        let time = self.arrival(at, 1, node as f64 * STEP_S + h);
        Some(Met {
            along: at[0].shifted(at[2].value, time.by),
            time,
        })
    }

    /// As `inside` for the height, started from the end of the step, so that it finds the falling branch.
    fn inside_falling(&self, node: usize, height_m: f64) -> Option<(State, f64)> {
        let from = *self.nodes.get(node)?;
        let (mut low, mut high) = (0.0, STEP_S);
        if from[3].value > 0.0 {
            low = self.inside(node, 3, 0.0)?.1;
        }
        let mut h = high;
        let mut at = self.throw.stepped(from, h);
        for _ in 0..40 {
            let gap = at[1].value - height_m;
            if gap > 0.0 {
                low = h;
            } else {
                high = h;
            }
            let newton = h - gap / at[3].value;
            let next = if newton >= low && newton <= high {
                newton
            } else {
                0.5 * (low + high)
            };
            let change = (next - h).abs();
            h = next;
            at = self.throw.stepped(from, h);
            if !(change > 1e-15) {
                break;
            }
        }
        Some((at, h))
    }

    /// Height where it first is this far away.
    pub(super) fn height_at(&self, distance_m: f64) -> Option<Jet> {
        let beyond = self.nodes.iter().position(|s| s[0].value >= distance_m)?;
        let node = beyond.saturating_sub(1);
        let (at, _) = self.inside(node, 0, distance_m)?;
        let time = self.arrival(at, 0, 0.0);
        Some(at[1].shifted(at[3].value, time.by))
    }
}
