//! `new`: a project folder to start from.

use std::path::PathBuf;

use clap::Args;

use super::{Answer, FINE, Refusal};
use crate::project::{DEMOS, render};
use crate::tasks::begin::{Start, StartSpot, begin};
use crate::tasks::{self, json};

#[derive(Args)]
pub struct NewArgs {
    /// Folder to make
    #[arg(value_name = "NAME")]
    name: PathBuf,
    /// Start from this demo: lantern, bramble or pebble [default: lantern]
    #[arg(long, value_name = "DEMO", conflicts_with_all = ["piece", "target", "rim", "width", "spot", "wheels"])]
    from: Option<String>,
    /// Start from a usual piece instead: foam, hollow, perforated or solid; the file says in which range such pieces lie
    #[arg(long, value_name = "KIND")]
    piece: Option<String>,
    /// With --piece: what it is thrown into: box, hoop or well
    #[arg(long, value_name = "KIND", requires = "piece", default_value = "box")]
    target: String,
    /// With --piece: height of the lowest point of the rim
    #[arg(long, value_name = "HEIGHT", requires = "piece", default_value = "1.2 m")]
    rim: String,
    /// With --piece: width of the opening
    #[arg(long, value_name = "WIDTH", requires = "piece", default_value = "600 mm")]
    width: String,
    /// With --piece: a distance to throw from; once for each spot [default: 1 m, 2 m and 3 m]
    #[arg(long, value_name = "DISTANCE", requires = "piece")]
    spot: Vec<String>,
    /// With --piece: one wheel with a curved guide, or two wheels
    #[arg(long, value_name = "COUNT", requires = "piece", default_value_t = 1)]
    wheels: u8,
    /// Print JSON instead of text
    #[arg(long)]
    json: bool,
}

pub fn run(args: &NewArgs) -> Result<Answer, Refusal> {
    let refuse = |f| Refusal::finding(&f);
    let (file, from) = match &args.piece {
        Some(piece) => {
            let text = begin(&answers(args, piece)).map_err(|p| Refusal::input(render(&p)))?;
            let file = tasks::new::make_of(&args.name, &text).map_err(refuse)?;
            (file, format!("usual {piece} piece"))
        }
        None => {
            let from = args.from.as_deref().unwrap_or(DEMOS[0].name);
            let file = tasks::new::make(&args.name, from).map_err(refuse)?;
            (file, from.to_string())
        }
    };
    if args.json {
        let made = json::made(&args.name, &file, &from);
        return Ok(Answer {
            text: format!("{made:#}\n"),
            code: FINE,
        });
    }
    let folder = args.name.display();
    Ok(Answer {
        text: format!(
            "Made {}.\nNext: change the numbers in it to your own, then\n  cd {folder}\n  arcwright\n",
            file.display()
        ),
        code: FINE,
    })
}

/// The answers of the guided start, as far as the command line asks for them.
fn answers(args: &NewArgs, piece: &str) -> Start {
    let usual = ["1 m", "2 m", "3 m"].map(str::to_string);
    let distances = if args.spot.is_empty() {
        &usual[..]
    } else {
        &args.spot
    };
    let spots = distances.iter().enumerate().map(|(i, distance)| StartSpot {
        name: format!("spot {}", i + 1),
        distance: distance.clone(),
    });
    let name = args
        .name
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    Start {
        name,
        units: String::new(),
        piece: piece.to_string(),
        diameter: String::new(),
        mass: String::new(),
        target: args.target.clone(),
        rim_height: args.rim.clone(),
        width: args.width.clone(),
        depth: String::new(),
        spots: spots.collect(),
        wheels: args.wheels,
        longest: String::new(),
        widest: String::new(),
        highest: String::new(),
        heaviest: String::new(),
    }
}
