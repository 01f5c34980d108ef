use arcwright_model::shot::*; 
fn main() {
    let p = arcwright::project::parse("x", arcwright::project::DEMOS[0].text).unwrap().project;
    let c = Chain::of(&p);
    let s = p.machine.setting;
    for i in 0..40 { let _ = std::hint::black_box(c.release(&s, 250.0 + i as f64, false)); }
}
