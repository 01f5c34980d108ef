use arcwright_model::aim::*;
use arcwright_model::shot::*;
use std::time::Instant;
fn main() {
    let p = arcwright::project::parse("x", arcwright::project::DEMOS[0].text)
        .unwrap()
        .project;
    let c = Chain::of(&p);
    let q = c.with_step(1e-4);
    let s = p.machine.setting;
    let t = Instant::now();
    for i in 0..20 {
        let _ = c.release(&s, 250.0 + i as f64, false);
    }
    println!("pass {:?}", t.elapsed() / 20);
    let t = Instant::now();
    for i in 0..20 {
        let _ = q.release(&s, 250.0 + i as f64, false);
    }
    println!("quick pass {:?}", t.elapsed() / 20);
    let t = Instant::now();
    for i in 0..20 {
        let _ = c.holding_line(250.0 + i as f64);
    }
    println!("line {:?}", t.elapsed() / 20);
    let arcwright_model::launcher::Passage::Thrown(r) = c.release(&s, 330.0, false) else {
        return;
    };
    let e = Exit::of(&r);
    let st = c.stance(&p.spots[2]);
    let t = Instant::now();
    for _ in 0..50 {
        let _ = c.crossing(&e, &st);
    }
    println!("crossing {:?}", t.elapsed() / 50);
    let t = Instant::now();
    for _ in 0..50 {
        let _ = c.fly(&e, &st);
    }
    println!("fly {:?}", t.elapsed() / 50);
    let t = Instant::now();
    let curve = ExitCurve::of(&c, &s, 24);
    println!("curve {:?}", t.elapsed());
    let t = Instant::now();
    let a = aim_all(&p, &c, &curve, &s);
    println!("aim {:?} {}", t.elapsed(), a.len());
    let t = Instant::now();
    let m = merit(&p, &q, &s);
    println!("merit {:?} {m}", t.elapsed());
    let t = Instant::now();
    let m = arcwright_model::limits::check(&p);
    println!("check {:?} {}", t.elapsed(), m.verdicts.len());
}
