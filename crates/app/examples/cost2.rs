use arcwright_model::shot::*; use arcwright_model::launcher::*;
fn main() {
    let p = arcwright::project::parse("x", arcwright::project::DEMOS[0].text).unwrap().project;
    for h in [1e-4, 4e-5, 2e-5, 1e-5, 5e-6] {
    let c = Chain::of(&p).with_step(h);
    let s = p.machine.setting; let st = c.stance(&p.spots[1]);
    let mut prev = 0.0; let mut jumps = vec![]; 
    for i in 0..400 { let w = 270.0 + 0.02*i as f64;
      if let Passage::Thrown(r) = c.release(&s, w, false) { let x = c.crossing(&Exit::of(&r), &st).map_or(f64::NAN, |c| c.along_m); if i > 0 { jumps.push(x - prev);} prev = x; } }
    let mean = jumps.iter().sum::<f64>()/jumps.len() as f64; let max = jumps.iter().map(|j| (j-mean).abs()).fold(0.0, f64::max); let sd = (jumps.iter().map(|j| (j-mean).powi(2)).sum::<f64>()/jumps.len() as f64).sqrt();
    println!("{h} mean step {mean:.6} worst jump {max:.6} sd {sd:.6} last {prev}");
    }
}
