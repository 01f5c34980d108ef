//! Three discs across a pipe: exact statics.

use arcwright_oracle::arch::{Arch, least_widths};

/// Force and torque balance of a three-disc arch decide from which friction it holds [zhou-2025]: a thousandth less and it falls,
/// a thousandth more and it holds, over widths and loads.
#[test]
fn an_arch_of_three_holds_from_the_friction_that_exact_statics_asks_for() {
    for width_ratio in [2.3, 2.6, 2.72, 2.75, 2.9] {
        for load_ratio in [0.5, 1.0, 4.0] {
            let arch = Arch {
                width_ratio,
                load_ratio,
            };
            let exact = arch.least_friction();
            assert!(!arch.holds(exact - 0.001), "{arch:?} {exact}: holds too early");
            assert!(arch.holds(exact + 0.001), "{arch:?} {exact}: falls");
        }
    }
}

/// The closed forms of the least width are those of the least friction, turned round.
#[test]
fn the_least_width_for_a_friction_is_where_it_is_the_least_friction() {
    for mu in [0.2, 0.3, 0.5] {
        for (width_ratio, load_ratio) in least_widths(mu).into_iter().zip([1e9, 1.0, 0.0]) {
            let arch = Arch {
                width_ratio,
                load_ratio,
            };
            let asked = arch.least_friction();
            assert!((asked - mu).abs() < 1e-6, "{mu} {arch:?} {asked}");
        }
    }
}
