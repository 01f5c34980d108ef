//! The nip in both engines: the argument for an engine of our own.

use arcwright_oracle::nip::{by_model, by_other};
use arcwright_oracle::rig::Solver;

/// Press test, half the rim speed, drop test, and the closed form of spring and dashpot, in one engine with one setting.
#[test]
fn a_soft_piece_is_pressed_rolls_bounces_and_springs_back_as_it_should() {
    let n = by_model();
    assert!((n.push_ratio - 1.0).abs() < 0.02, "{n:?}");
    assert!((n.speed_ratio - 1.0).abs() < 0.01, "{n:?}");
    assert!(n.bounce_coeff[0] > 0.57 && n.bounce_coeff[1] < 0.63, "{n:?}");
    assert!((n.let_go_ratio - 1.0).abs() < 0.03, "{n:?}");
}

/// What the library's pieces cannot do as they come: hard contacts press too little and do not spring back at all.
#[test]
fn the_librarys_own_contacts_do_not_spring_back() {
    let n = by_other(&Solver {
        sprung: false,
        ..Solver::default()
    })
    .unwrap();
    assert!(n.push_ratio < 0.8 && n.let_go_ratio.abs() < 0.01, "{n:?}");
    assert!((n.bounce_coeff[0] - 0.6).abs() < 0.01, "{n:?}");
}

/// And what they can, when contacts get the stiffness of the press test, nothing is cut off and steps are short: the two engines
/// agree on all four figures.
#[test]
fn soft_contacts_with_short_steps_agree_with_the_model() {
    let (own, other) = (
        by_model(),
        by_other(&Solver {
            step_s: 1.0 / 3840.0,
            soft: true,
            sprung: false,
            ..Solver::default()
        })
        .unwrap(),
    );
    let close = |a: f64, b: f64| (a - b).abs() < 0.035;
    assert!(
        close(own.push_ratio, other.push_ratio)
            && close(own.speed_ratio, other.speed_ratio)
            && close(own.bounce_coeff[0], other.bounce_coeff[0])
            && close(own.bounce_coeff[1], other.bounce_coeff[1])
            && close(own.let_go_ratio, other.let_go_ratio),
        "{own:?} {other:?}"
    );
}
