use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::*;
use arcwright_model::launcher::Passage;
use arcwright_model::launcher::planar::*;
use arcwright_model::limits::*;
use arcwright_model::shot::*;
use arcwright_model::volley_run::*;
use std::time::Instant;
fn t(name: &str, n: usize, mut f: impl FnMut()) {
    let s = Instant::now();
    for _ in 0..n {
        f()
    }
    println!("{name:30} {:.1} us", s.elapsed().as_secs_f64() * 1e6 / n as f64);
}
fn main() {
    for d in DEMOS {
        let p = parse(d.name, d.text).ok().unwrap().project;
        println!("{}", p.name);
        let chain = Chain::of(&p);
        let st = p.machine.setting;
        let curve = ExitCurve::of(&chain, &st, CURVE_POINTS);
        let aims = aim_all(&p, &chain, &curve, &st);
        let a = aims.last().unwrap();
        let w = a.best().unwrap().wheel_radps;
        let e = a.best().unwrap().exit;
        t("chain", 200, || {
            std::hint::black_box(Chain::of(&p));
        });
        t("holding_line", 200, || {
            std::hint::black_box(chain.holding_line(w));
        });
        let q = chain.with_step(SEARCH_STEP_S);
        t("release 1e-4", 200, || {
            std::hint::black_box(chain.release(&st, w, false));
        });
        t("release 3e-4", 200, || {
            std::hint::black_box(q.release(&st, w, false));
        });
        t("crossing", 500, || {
            std::hint::black_box(chain.crossing(&e, &a.stance));
        });
        t("arrive", 500, || {
            std::hint::black_box(chain.fly(&e, &a.stance));
        });
        t("volley", 50, || {
            std::hint::black_box(run_from(&p, &q, a, false));
        });
        let v = run_from(&p, &chain, a, false).unwrap();
        for (x, y) in v.train.throws.iter().zip(&v.throws) {
            println!(
                "  {:.3}s err {:.5} dip {:.3} along {:?} {:?}",
                x.time_s, x.error_frac, x.dip_frac, y.along_m, y.outcome
            );
        }
        t("project clone", 500, || {
            std::hint::black_box(p.clone());
        });
        if let Passage::Thrown(r) = q.release(&st, w, false) {
            println!("q speed {:?}", r.velocity_mps)
        }
        if let Passage::Thrown(r) = chain.release(&st, w, false) {
            println!("f speed {:?}", r.velocity_mps)
        }
        for (k, s) in &p.spreads {
            println!("  {k} {s:?}");
        }
    }
}
