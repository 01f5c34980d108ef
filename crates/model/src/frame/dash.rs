//! A dash from rest: constant force to a knee, then along the motors' line.

/// A base as a mass with a straight force line and a cap on it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Runner {
    /// Mass with everything that turns reckoned in.
    pub mass_kg: f64,
    /// Most force the floor or a current limit allows.
    pub cap_n: f64,
    /// Force of the line at standstill.
    pub stall_n: f64,
    /// Speed at which the line has no force left.
    pub free_mps: f64,
}

/// A dash over a distance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dash {
    /// Time.
    pub time_s: f64,
    /// Speed at the end.
    pub end_mps: f64,
    /// Time at which the cap no longer holds.
    pub knee_s: f64,
    /// Distance there.
    pub knee_m: f64,
    /// Speed there.
    pub knee_mps: f64,
    /// Time constant of the rest.
    pub tau_s: f64,
}

/// Method: halvings and Newton steps for the time; the bracket shrinks to rounding.
const STEPS: usize = 200;

/// Time over a distance from rest; `None` where the line has no force or a number is not usable.
///
/// ```text
/// v1 = vf (1 − F_cap/F_stall)    t1 = m v1/F_cap    x1 = v1 t1/2    τ = m vf/F_stall
/// x = x1 + vf s − (vf − v1) τ (1 − exp(−s/τ))    t = t1 + s
/// ```
///
/// Derived. v1 is 0 where the cap lies above the stall force. Leaves out slip of the tread below the cap.
pub fn dash(runner: &Runner, distance_m: f64) -> Option<Dash> {
    let Runner {
        mass_kg,
        cap_n,
        stall_n,
        free_mps,
    } = *runner;
    let usable = [mass_kg, cap_n, stall_n, free_mps].iter().all(|v| *v > 0.0)
        && [mass_kg, stall_n, free_mps].iter().all(|v| v.is_finite())
        && distance_m >= 0.0
        && distance_m.is_finite();
    if !usable {
        return None;
    }
    let knee_mps = (free_mps * (1.0 - cap_n / stall_n)).max(0.0);
    let knee_s = if knee_mps > 0.0 {
        mass_kg * knee_mps / cap_n
    } else {
        0.0
    };
    let knee_m = 0.5 * knee_mps * knee_s;
    let tau_s = mass_kg * free_mps / stall_n;
    let mut out = Dash {
        time_s: 0.0,
        end_mps: 0.0,
        knee_s,
        knee_m,
        knee_mps,
        tau_s,
    };
    if distance_m <= knee_m && knee_mps > 0.0 {
        out.time_s = (2.0 * distance_m * mass_kg / cap_n).sqrt();
        out.end_mps = cap_n / mass_kg * out.time_s;
        return Some(out);
    }
    let lag_mps = free_mps - knee_mps;
    let rest_m = distance_m - knee_m;
    let way = |s: f64| free_mps * s + lag_mps * tau_s * (-s / tau_s).exp_m1();
    // The way grows, and after this time it is longer than asked.
    let (mut low, mut high) = (0.0, rest_m / free_mps + lag_mps * tau_s / free_mps);
    for _ in 0..STEPS {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if way(middle) < rest_m {
            low = middle;
        } else {
            high = middle;
        }
    }
    let s = 0.5 * (low + high);
    out.time_s = knee_s + s;
    out.end_mps = free_mps - lag_mps * (-s / tau_s).exp();
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Small steps of m dv/dt = min(cap, line) as the second route.
    #[test]
    fn a_dash_meets_the_equation_of_motion_stepped_finely() {
        for cap_n in [60.0, 400.0] {
            let runner = Runner {
                mass_kg: 15.0,
                cap_n,
                stall_n: 250.0,
                free_mps: 3.0,
            };
            let got = dash(&runner, 2.5).unwrap();
            let (mut t, mut v, mut x) = (0.0, 0.0, 0.0);
            let h = 1e-5;
            while x < 2.5 {
                let force = |v: f64| (250.0 * (1.0 - v / 3.0)).min(cap_n);
                let middle = v + 0.5 * h * force(v) / 15.0;
                v += h * force(middle) / 15.0;
                x += h * middle;
                t += h;
            }
            assert!((got.time_s - t).abs() < 1e-4, "{} {t}", got.time_s);
            assert!((got.end_mps - v).abs() < 1e-4);
        }
    }

    #[test]
    fn no_force_no_dash_and_a_short_way_stays_below_the_knee() {
        let runner = Runner {
            mass_kg: 15.0,
            cap_n: 60.0,
            stall_n: 250.0,
            free_mps: 3.0,
        };
        assert_eq!(
            dash(
                &Runner {
                    stall_n: 0.0,
                    ..runner
                },
                1.0
            ),
            None
        );
        assert_eq!(dash(&runner, f64::NAN), None);
        let short = dash(&runner, 0.02).unwrap();
        assert!((short.time_s - (2.0 * 0.02 * 15.0 / 60.0_f64).sqrt()).abs() < 1e-12);
        assert!(short.time_s < short.knee_s);
    }
}
