//! Points of a film: read, brought to metres, fitted.

use std::path::Path;

use arcwright_model::finding::Finding;
use arcwright_model::flight::{Ball, Medium};
use arcwright_model::floor::film::{Film, PictureScale, Point, USUALLY_KNOWN, from_picture, learn_film};
use arcwright_model::floor::telemetry::Estimate;
use arcwright_model::project::{Project, UnitSystem};
use arcwright_model::shot::Chain;
use arcwright_model::units::show::{Scale, text as show};
use arcwright_model::units::{self, Dimension as D};
use arcwright_paper::drawings::film as view;

use super::record_columns::{Found, Ours, find};
use super::record_table::{self, Table};

const WHERE: &[Ours] = &[
    Ours {
        name: "x",
        dimension: D::Length,
        words: &[
            ("x", 5),
            ("along", 4),
            ("distance", 3),
            ("forward", 4),
            ("horizontal", 4),
            ("px", 1),
        ],
        usual_unit: None,
    },
    Ours {
        name: "y",
        dimension: D::Length,
        words: &[
            ("y", 5),
            ("z", 5),
            ("height", 4),
            ("up", 3),
            ("vertical", 4),
            ("px", 1),
        ],
        usual_unit: None,
    },
];
const TIME: Ours = Ours {
    name: "time",
    dimension: D::Time,
    words: &[
        ("time", 5),
        ("t", 5),
        ("timestamp", 5),
        ("seconds", 4),
        ("millis", 5),
        ("frame", -9),
    ],
    usual_unit: None,
};
const FRAME: Ours = Ours {
    name: "frame",
    dimension: D::Number,
    words: &[("frame", 5), ("frames", 5), ("index", 3), ("n", 2)],
    usual_unit: None,
};

/// How to read a film.
#[derive(Clone, Debug, Default)]
pub struct How {
    /// Columns told.
    pub maps: Vec<String>,
    /// A known length and its pixels, m and px.
    pub scale: Option<[f64; 2]>,
    /// Height of the first point, m.
    pub first_height_m: Option<f64>,
    /// Frames per second, for a file of frame numbers.
    pub frames_hz: Option<f64>,
    /// The second coordinate grows downward; pixels do, metres do not, unless said.
    pub y_down: Option<bool>,
}

/// What came of a film.
pub struct Filmed {
    /// Which column was taken for what.
    pub found: Vec<Found>,
    /// What was left out of the file.
    pub notes: Vec<String>,
    /// The fit.
    pub film: Film,
}

/// Reads a file of points and fits the flight.
///
/// # Errors
/// What cannot be read, guessed or fitted.
pub fn read(path: &Path, how: &How, ball: &Ball, medium: &Medium) -> Result<Filmed, Finding> {
    of_table(&record_table::read(path)?, how, ball, medium)
}

/// Our columns of a film: coordinates in pixels or as lengths, frames or times.
pub fn columns(pixels: bool, frames: bool) -> Vec<Ours> {
    let mut ours: Vec<Ours> = WHERE.to_vec();
    if pixels {
        // Pixels have no unit of ours.
        ours.iter_mut().for_each(|o| o.dimension = D::Number);
    }
    ours.push(if frames { FRAME } else { TIME });
    ours
}

/// The piece of a project and the air it flies through, at rest.
pub fn piece_of(project: &Project) -> (Ball, Medium) {
    let chain = Chain::of(project);
    let medium = Medium {
        wind_mps: [0.0; 3],
        ..chain.medium
    };
    (chain.ball, medium)
}

/// As [`read`], from a table.
///
/// # Errors
/// As [`read`].
pub fn of_table(table: &Table, how: &How, ball: &Ball, medium: &Medium) -> Result<Filmed, Finding> {
    let pixels = how.scale.is_some();
    let ours = columns(pixels, how.frames_hz.is_some());
    let found = find(table, &ours, &how.maps)?;
    let missing = |name: &str| {
        Finding::new(
            "column-no-time",
            "file",
            format!(
                "no column looks like `{name}`; the columns are: {}",
                table.names.join(", ")
            ),
            if name == "time" {
                "say which one it is: --map \"their name=time s\"; for frame numbers add --fps".to_string()
            } else {
                format!("say which one it is: --map \"their name={name}\"")
            },
        )
    };
    let column = |name: &'static str| {
        let own = found.iter().find(|f| f.name == name).map(|f| f.values.clone());
        own.ok_or_else(|| missing(name))
    };
    let time: Vec<f64> = match how.frames_hz {
        Some(hz) if hz.is_finite() && hz > 0.0 => column("frame")?.iter().map(|n| n / hz).collect(),
        Some(hz) => {
            return Err(Finding::new(
                "film-frames",
                "--fps",
                format!("a film of {hz} frames a second does not move"),
                "write the rate the camera recorded at, such as --fps 240",
            ));
        }
        None => column("time")?,
    };
    let (x, y) = (column("x")?, column("y")?);
    let rows: Vec<[f64; 3]> = time
        .iter()
        .zip(x.iter().zip(&y))
        .map(|(t, (x, y))| [*t, *x, *y])
        .collect();
    // A tracker leaves cells empty where it lost the piece; what was lost at all three is no row.
    let whole: Vec<[f64; 3]> = rows
        .iter()
        .copied()
        .filter(|r| r.iter().all(|v| v.is_finite()))
        .collect();
    let mut notes = table.notes.clone();
    if whole.len() < rows.len() {
        notes.push(format!(
            "{} rows without a point are left out",
            rows.len() - whole.len()
        ));
    }
    let scale = how.scale.unwrap_or([1.0, 1.0]);
    let first = whole.first().map_or(0.0, |r| r[2]);
    let y_down = how.y_down.unwrap_or(pixels);
    let picture = PictureScale {
        length_m: scale[0],
        length_px: scale[1],
        y_down,
        first_height_m: how.first_height_m.unwrap_or(if pixels { 0.0 } else { first }),
    };
    let points: Vec<Point> = from_picture(&whole, &picture)?;
    let film = learn_film(&points, ball, medium, &USUALLY_KNOWN)?;
    Ok(Filmed { found, notes, film })
}

/// `1 m = 412 px` as metres and pixels, either side first.
///
/// # Errors
/// `film-scale`, or what is wrong with the length.
pub fn scale(text: &str) -> Result<[f64; 2], Finding> {
    let wrong = |what: String| {
        Finding::new(
            "film-scale",
            format!("--scale \"{text}\""),
            format!("the scale `{text}`: {what}"),
            "measure a known length in the plane of flight and its pixels: --scale \"1 m = 412 px\"",
        )
    };
    let (a, b) = text
        .split_once('=')
        .ok_or_else(|| wrong("there is no `=` in it".into()))?;
    let is_px = |s: &str| s.trim().ends_with("px") || s.trim().ends_with("pixels");
    let (length, pixels) = if is_px(b) { (a, b) } else { (b, a) };
    let number = pixels
        .trim()
        .trim_end_matches("pixels")
        .trim_end_matches("px")
        .trim()
        .parse::<f64>()
        .map_err(|_| wrong("one side must be a number of px".into()))?;
    let length_m = units::parse(length.trim(), D::Length).map_err(|e| wrong(e.what))?;
    if !(number > 0.0 && number.is_finite() && length_m > 0.0) {
        return Err(wrong("both sides must be above zero".into()));
    }
    Ok([length_m, number])
}

/// How long and which way it flew, in a line.
pub fn flight_words(f: &Film, units: UnitSystem) -> String {
    format!(
        "Flight of {} points over {}, {}",
        f.points.len(),
        show(
            f.points.last().map_or(0.0, |p| p.time_s),
            D::Time,
            Scale::Auto,
            units
        ),
        if f.mirrored {
            "to the left in the picture"
        } else {
            "to the right in the picture"
        }
    )
}

/// Heads of [`found_rows`].
pub const FOUND_HEAD: [&str; 3] = ["", "found", "95 of 100 such films"];

/// What was found, with its interval.
pub fn found_rows(f: &Film, units: UnitSystem) -> Vec<Vec<String>> {
    let say = |v: f64, d: D| show(v, d, Scale::Auto, units);
    let line = |name: &str, e: &Estimate, d: D| {
        vec![
            name.to_string(),
            say(e.value, d),
            format!("{} to {}", say(e.low, d), say(e.high, d)),
        ]
    };
    let mut rows = vec![
        line("speed at the first point", &f.speed_mps, D::Speed),
        line("angle there above the level", &f.angle_rad, D::Angle),
        line("drag coefficient there", &f.drag_coeff, D::Number),
        line("lift coefficient there", &f.lift_coeff, D::Number),
    ];
    if let Some(g) = &f.gravity_mps2 {
        rows.push(vec![
            "gravity, as a test".to_string(),
            format!("{:.2} m/s²", g.value),
            format!("{:.2} to {:.2}", g.low, g.high),
        ]);
    }
    rows
}

/// The picture.
pub fn picture(f: &Film, units: UnitSystem) -> String {
    let each = || f.points.iter().zip(&f.residuals_m);
    let half = |e: &Estimate| [e.value, 0.5 * (e.high - e.low)];
    view::draw(&view::FilmChart {
        units,
        points_m: each()
            .filter(|(_, r)| r.is_some())
            .map(|(p, _)| [p.x_m, p.z_m])
            .collect(),
        left_out_m: each()
            .filter(|(_, r)| r.is_none())
            .map(|(p, _)| [p.x_m, p.z_m])
            .collect(),
        path_m: f.path_m.clone(),
        residuals: each()
            .filter_map(|(p, r)| r.map(|r| [p.time_s, r[0], r[1]]))
            .collect(),
        speed_mps: half(&f.speed_mps),
        angle_rad: half(&f.angle_rad),
        rms_m: f.residual_rms_m,
    })
}
