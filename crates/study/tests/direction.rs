//! Which way the study points, and that it does not depend on the threads.

use arcwright_study::hand::Hand;
use arcwright_study::play::{by_hand, by_model};
use arcwright_study::robot::Scenario;
use arcwright_study::tuner::{Data, Manner};

fn eye() -> Manner {
    Manner {
        data: Data::Eye,
        uneven_terms: false,
        in_turn: false,
    }
}

#[test]
fn eight_shots_with_the_model_hit_more_often_than_eight_bisected_ones() {
    let usual = Scenario::usual();
    let model = by_model(&usual, &eye(), 6, 8, 3);
    let hand = by_hand(&usual, Hand::Bisect, 6, 3);
    assert!(
        model.hits[1] > hand.hits[1] + 0.05,
        "{:?} {:?}",
        model.hits,
        hand.hits
    );
    assert!(model.hits[1] > model.untuned && model.hits[1] <= model.perfect);
}

#[test]
fn the_figures_do_not_depend_on_the_number_of_threads() {
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| by_model(&Scenario::usual(), &eye(), 3, 4, 9))
    };
    let (one, three) = (on(1), on(3));
    assert_eq!(one.hits, three.hits);
    assert_eq!(one.setpoints, three.setpoints);
}
