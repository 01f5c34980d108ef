fn main() {
    use arcwright_study::{hand::*, play::*, robot::*, tuner::*};
    let n: usize = std::env::args().nth(1).and_then(|x| x.parse().ok()).unwrap_or(20);
    let s = Scenario::usual();
    for h in [Hand::Bisect, Hand::Halving, Hand::OneOverT] {
        let t = std::time::Instant::now();
        let o = by_hand(&s, h, n, 1);
        println!(
            "{} {:?} perf {:.3} untuned {:.3} t {:?}",
            h.words(),
            o.hits
                .iter()
                .map(|x| (x * 1000.0).round() / 1000.0)
                .collect::<Vec<_>>(),
            o.perfect,
            o.untuned,
            t.elapsed()
        );
    }
    for d in [Data::Class, Data::Mixed, Data::Eye] {
        let t = std::time::Instant::now();
        for in_turn in [false, true] {
            let o = by_model(
                &s,
                &Manner {
                    data: d,
                    uneven_terms: false,
                    in_turn,
                },
                n,
                40,
                1,
            );
            println!(
                "{} {} {:.3?} par {:.3?} set {:.3?} stop {:?} {:?} lack {:.4?} mv {:.1} uns {} t {:?}",
                d.words(),
                in_turn,
                o.hits,
                o.parameters,
                o.setpoints,
                o.stopped_by(0.5),
                o.stopped_by(0.9),
                o.lacking,
                o.moves,
                o.unsettled,
                t.elapsed()
            );
        }
    }
}
