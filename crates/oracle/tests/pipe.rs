//! The vertical pipe, in the model's engine.

use arcwright_oracle::pipe::{PIPE, Pipe, share};

/// Clogging in a pipe between two and three discs wide does not fall evenly with its width: it drops at 1 + √3 = 2.73 diameters
/// [zhou-2025]. Below, discs hang in nearly every run with this friction, little above in a third of them, and at 2.6 in none.
#[test]
fn clogging_of_a_pipe_drops_where_it_is_one_and_root_three_discs_wide() {
    let runs = 16;
    let at = |width_ratio| {
        let pipe = Pipe { width_ratio, ..PIPE };
        share(&pipe, 1, runs, 0.95)
    };
    let root = 1.0 + 3.0_f64.sqrt();
    let (narrow, below, above) = (at(2.6), at(root - 0.012), at(root + 0.018));
    assert!(narrow.1[1] < below.1[0], "no rise: {narrow:?} {below:?}");
    assert!(above.1[1] < below.1[0], "no drop: {below:?} {above:?}");
}

/// And once more near 2.9 [zhou-2025]: with more friction the drop at 2.73 is small, and a second one follows between 2.8 and 2.9.
#[test]
fn clogging_of_a_pipe_drops_once_more_near_two_point_nine_discs() {
    let runs = 30;
    let at = |width_ratio| {
        let pipe = Pipe {
            width_ratio,
            friction_coeff: 0.4,
            ..PIPE
        };
        share(&pipe, 1, runs, 0.95)
    };
    let (below, above) = (at(2.8), at(2.9));
    assert!(above.1[1] < below.1[0], "no drop: {below:?} {above:?}");
    // It does not fall to nothing: discs still hang there.
    assert!(above.0 > 0, "{above:?}");
}
