use arcwright::project::{DEMOS, parse};
use arcwright_model::aim::*;
use arcwright_model::limits::*;
use arcwright_model::scatter::*;
use arcwright_model::shot::*;
use std::time::Instant;
fn main() {
    for d in DEMOS {
        let p = parse(d.name, d.text).ok().unwrap().project;
        println!("{}", p.name);
        let chain = Chain::of(&p);
        let st = p.machine.setting;
        let curve = ExitCurve::of(&chain, &st, CURVE_POINTS);
        let aims = aim_all(&p, &chain, &curve, &st);
        for (i, a) in aims.iter().enumerate() {
            let w = a.best().unwrap().wheel_radps;
            for detail in [Detail::Fine, Detail::Coarse] {
                let s = Instant::now();
                let t = Thrower::of(&p, i, w, 0.0, inputs::Scope::Throws, detail, 1).unwrap();
                let prep = s.elapsed();
                let s = Instant::now();
                let ratio = centring_ratio(&t, 1);
                let cen = s.elapsed();
                println!(
                    "{} guard {:.2} mm pilots {} prep {:?} centring {:?} ratio {:.5}",
                    a.spot.name,
                    t.guard_m * 1e3,
                    t.pilot_count,
                    prep,
                    cen,
                    ratio
                );
                for r in [1.0, ratio] {
                    let s = Instant::now();
                    let f = sample(
                        &t,
                        r,
                        &SamplePlan {
                            most_count: if detail == Detail::Fine { 1 << 16 } else { 1024 },
                            ..SamplePlan::default()
                        },
                    );
                    println!(
                        "   hit {:.4} [{:.4} {:.4}] n {} true {} checked {:?} along {:.1}±{:.2} sd {:.2}±{:.2} across {:.1} sd {:.2} corr {:.2} r50 {:.1} r95 {:.1} mm {:?}",
                        f.hit.frac,
                        f.hit.low_frac,
                        f.hit.high_frac,
                        f.count,
                        f.true_count,
                        f.checked,
                        f.along_m.value * 1e3,
                        f.along_m.error * 1e3,
                        f.along_sd_m.value * 1e3,
                        f.along_sd_m.error * 1e3,
                        f.across_m.value * 1e3,
                        f.across_sd_m.value * 1e3,
                        f.correlation.value,
                        f.r50_m.value * 1e3,
                        f.r95_m.value * 1e3,
                        s.elapsed()
                    );
                    if r == 1.0 {
                        for p in &f.places {
                            println!(
                                "      place err {:.5} along {:.1} sd {:.1} hit {:.4}",
                                p.speed_error_frac,
                                p.along_m * 1e3,
                                p.along_sd_m * 1e3,
                                p.hit_frac
                            );
                        }
                        println!(
                            "      {:?}",
                            f.shares
                                .iter()
                                .filter(|s| s.1.value > 0.0)
                                .map(|s| format!("{:?} {:.4}", s.0, s.1.value))
                                .collect::<Vec<_>>()
                        );
                    }
                }
            }
        }
    }
}
