//! `floor film`: a flight fitted to points of a film.

use std::path::PathBuf;

use arcwright_model::flight::{Ball, Drag, DragLaw, Lift, Medium, SpinDecay};
use arcwright_model::project::UnitSystem;
use arcwright_model::units::{Dimension as D, STANDARD_GRAVITY_MPS2};
use clap::{Args, ValueEnum};

use super::super::say::{columns, wrap};
use super::super::{Answer, FAILS, FINE, Refusal, source};
use super::{Beside, attach, columns_words};
use crate::tasks::floor::film::{FOUND_HEAD, How, flight_words, found_rows, picture, piece_of, read, scale};
use crate::tasks::json;

/// Physical: drag coefficient of a ball between smooth and perforated, where nothing is known of it; the fit takes it
/// as known to a third.
const USUAL_DRAG_COEFF: f64 = 0.5;
/// Physical: air of a hall, kg/m³ and Pa s.
const HALL_AIR: (f64, f64) = (1.2, 1.81e-5);

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Way {
    Up,
    Down,
}

#[derive(Args)]
pub struct FilmArgs {
    /// The points: CSV with columns time (or frame), x, y
    #[arg(value_name = "FILE.csv")]
    file: PathBuf,
    #[command(flatten)]
    beside: Beside,
    #[command(flatten)]
    filmed: attach::FilmedArgs,
    /// A known length in the plane of flight and its pixels, such as "1 m = 412 px"; leave out if x and y are lengths
    #[arg(long, value_name = "LENGTH = PIXELS")]
    scale: Option<String>,
    /// Height of the first point above the floor, such as "0.62 m"
    #[arg(long, value_name = "LENGTH")]
    height: Option<String>,
    /// Frames per second, if the file counts frames
    #[arg(long, value_name = "N")]
    fps: Option<f64>,
    /// Which way the second coordinate grows [default: down for pixels, up for lengths]
    #[arg(long, value_name = "WAY")]
    y: Option<Way>,
    /// Mass of the piece [default: the project's]
    #[arg(long, value_name = "MASS")]
    mass: Option<String>,
    /// Diameter of the piece [default: the project's]
    #[arg(long, value_name = "LENGTH")]
    diameter: Option<String>,
}

pub fn run(args: &FilmArgs) -> Result<Answer, Refusal> {
    let project = args.beside.project()?;
    let mass = source::positive("--mass", &args.mass, D::Mass)?;
    let diameter = source::positive("--diameter", &args.diameter, D::Length)?;
    let (mut ball, medium) = match (project.as_ref(), mass, diameter) {
        (Some(p), _, _) => piece_of(p),
        (None, Some(mass_kg), Some(diameter_m)) => (plain_ball(mass_kg, diameter_m), hall()),
        _ => {
            return Err(Refusal::input(
                "wrong input [film-piece]: nothing says which piece flies\n  fix name the project with --project, or give --mass \"61 g\" --diameter \"112 mm\"\n",
            ));
        }
    };
    ball.mass_kg = mass.unwrap_or(ball.mass_kg);
    ball.diameter_m = diameter.unwrap_or(ball.diameter_m);
    let how = How {
        maps: args.beside.map.clone(),
        scale: match args.scale.as_deref() {
            Some(text) => Some(scale(text).map_err(|f| Refusal::finding(&f))?),
            None => None,
        },
        first_height_m: match &args.height {
            Some(h) => Some(source::quantity("--height", h, D::Length)?),
            None => None,
        },
        frames_hz: args.fps,
        y_down: args.y.map(|w| w == Way::Down),
    };
    let filmed = read(&args.file, &how, &ball, &medium).map_err(|f| Refusal::finding(&f))?;
    let f = &filmed.film;
    let system = project.as_ref().map_or(UnitSystem::Metric, |p| p.units);
    source::write_picture(&args.beside.common(), || picture(f, system))?;
    let brought = attach::film(&args.filmed, &args.beside, &args.file, f)?;
    let serious = f.doubts.iter().any(|d| d.serious);
    let code = if serious { FAILS } else { FINE };
    if args.beside.json {
        return Ok(Answer {
            text: format!("{:#}\n", json::film(&filmed)),
            code,
        });
    }
    let mut text = columns_words(&filmed.found, &filmed.notes);
    text.push_str(&format!("\n{}\n", flight_words(f, system)));
    text.push_str(&columns(&FOUND_HEAD, &found_rows(f, system)));
    text.push_str(&format!(
        "  The points lie {:.1} mm off the path (root mean square).\n",
        1000.0 * f.residual_rms_m
    ));
    for d in &f.doubts {
        let mark = if d.serious { "doubt" } else { "note" };
        text.push_str(&format!("  {mark}: {}\n", wrap(&d.words, 100, "    ")));
    }
    if !serious {
        text.push_str("  Nothing in the film speaks against its scale or frame rate.\n");
    }
    text.push_str(
        "  Nobody stands in the lane to film: camera on a stand at the side, behind a net or screen, eye protection on.\n",
    );
    text.push_str(&brought);
    Ok(Answer { text, code })
}

fn plain_ball(mass_kg: f64, diameter_m: f64) -> Ball {
    Ball {
        mass_kg,
        diameter_m,
        inertia_coeff: 0.5,
        drag: Drag {
            law: DragLaw::Constant {
                drag_coeff: USUAL_DRAG_COEFF,
            },
            scale_ratio: 1.0,
        },
        lift: Lift::None,
        spin_decay: SpinDecay::None,
        buoyancy: false,
        added_mass_coeff: 0.0,
    }
}

fn hall() -> Medium {
    Medium {
        density_kgpm3: HALL_AIR.0,
        viscosity_pas: HALL_AIR.1,
        wind_mps: [0.0; 3],
        gravity_mps2: STANDARD_GRAVITY_MPS2,
    }
}
