//! Writes every picture, drawn from invented data, into the folder named on the command line.
#![allow(clippy::print_stdout)]

#[path = "../tests/samples/mod.rs"]
mod samples;

use arcwright_model::project::UnitSystem::{Metric, Us};
use arcwright_paper::drawings::{
    budget, fan, front, guide_force, scatter, setpoints, side_view, trade, volley,
};
use samples as s;

fn main() -> std::io::Result<()> {
    let folder = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "out/gallery".to_string());
    let folder = std::path::Path::new(&folder);
    std::fs::create_dir_all(folder)?;
    for (name, text) in [
        ("side", side_view::draw(&s::side_view(Metric))),
        ("side-us", side_view::draw(&s::side_view(Us))),
        ("side-pair", side_view::draw(&s::pair_view(Metric))),
        ("fan", fan::draw(&s::fan(Metric, &s::spots(3), true))),
        ("fan-1", fan::draw(&s::fan(Metric, &s::spots(1), true))),
        ("fan-8", fan::draw(&s::fan(Us, &s::spots(8), false))),
        ("fan-hoop", fan::draw(&s::hoop(Metric))),
        ("volley", volley::draw(&s::volley(Metric, 4))),
        ("volley-12", volley::draw(&s::volley(Metric, 12))),
        ("force", guide_force::draw(&s::guide_force(Metric))),
        ("setpoints", setpoints::draw(&s::setpoints(Metric, &s::spots(3)))),
        ("setpoints-8", setpoints::draw(&s::setpoints(Us, &s::spots(8)))),
        ("scatter", scatter::draw(&s::scatter(Metric, 3, false))),
        ("scatter-1", scatter::draw(&s::scatter(Us, 1, false))),
        ("scatter-hoop", scatter::draw(&s::scatter(Metric, 2, true))),
        ("scatter-8", scatter::draw(&s::scatter(Us, 8, false))),
        ("budget", budget::draw(&s::budget(Metric, 2))),
        ("budget-8", budget::draw(&s::budget(Us, 8))),
        ("trade", trade::draw(&s::trade(Metric))),
        ("trade-us", trade::draw(&s::trade(Us))),
        ("front", front::draw(&s::front(Metric, 7))),
        ("front-40", front::draw(&s::front(Us, 40))),
    ] {
        std::fs::write(folder.join(format!("{name}.svg")), text)?;
        println!("{name}");
    }
    Ok(())
}
