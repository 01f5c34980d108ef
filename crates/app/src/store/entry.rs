//! What is held about a shot, and its columns.

use arcwright_model::target::Outcome;
use rusqlite::Row;
use rusqlite::types::Value;

/// What one version of a shot says. SI.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Entry {
    /// Taken back: it counts for nothing any more.
    pub taken_back: bool,
    /// Why it is left out of the fit; `None` where it is not.
    pub left_out_because: Option<String>,
    /// Name of the spot; empty for a place without one.
    pub spot: String,
    /// From the axle's plumb line to the near rim.
    pub distance_m: f64,
    /// Sideways from the target's axis, left positive.
    pub offset_m: f64,
    /// Turned on purpose, left positive.
    pub turned_rad: f64,
    /// Knob.
    pub slide_m: f64,
    /// Knob.
    pub tilt_rad: f64,
    /// Knob.
    pub reach_m: f64,
    /// Wheel speed asked for.
    pub setpoint_radps: f64,
    /// Measured before.
    pub before_radps: Option<f64>,
    /// Measured after.
    pub after_radps: Option<f64>,
    /// Battery before the throw.
    pub battery_v: Option<f64>,
    /// Mark of the piece.
    pub piece: Option<u32>,
    /// Place in the volley, from 1.
    pub place: u32,
    /// Throws of the volley, where it was said.
    pub volley_count: Option<u32>,
    /// Landing along, across (left), and the height of the piece's centre there.
    pub landing_m: Option<[f64; 3]>,
    /// Distance of a wall from the axle, and the height of the piece's centre there.
    pub wall_m: Option<[f64; 2]>,
    /// Time until the piece came down through a height, and that height.
    pub fall: Option<(f64, f64)>,
    /// Miss by eye: beyond the centre of the opening, and to the left of it.
    pub miss_m: Option<[f64; 2]>,
    /// What became of it.
    pub outcome: Option<Outcome>,
    /// Exit speed from a film.
    pub exit_speed_mps: Option<f64>,
    /// Exit angle from a film.
    pub exit_angle_rad: Option<f64>,
    /// It jammed.
    pub jammed: bool,
    /// Remark.
    pub note: String,
}

/// The outcome with a word.
pub fn outcome_of(word: &str) -> Option<Outcome> {
    [
        Outcome::In,
        Outcome::Rim,
        Outcome::Short,
        Outcome::Long,
        Outcome::Left,
        Outcome::Right,
        Outcome::Under,
        Outcome::None,
    ]
    .into_iter()
    .find(|o| o.word() == word)
}

impl Entry {
    /// The last of its volley, as far as was said.
    pub fn is_last(&self, volley_of_project: u32) -> bool {
        match self.volley_count {
            Some(n) => self.place >= n,
            // A shot of which nothing was said was thrown alone.
            None => self.place == 1 || self.place >= volley_of_project,
        }
    }

    /// Columns and values.
    pub(super) fn columns(&self) -> Vec<(&'static str, Value)> {
        fn real(x: Option<f64>) -> Value {
            x.map_or(Value::Null, Value::Real)
        }
        fn whole(x: Option<u32>) -> Value {
            x.map_or(Value::Null, |n| Value::Integer(n.into()))
        }
        let part = |x: Option<&[f64]>, i: usize| real(x.and_then(|v| v.get(i)).copied());
        let landing = self.landing_m.as_ref().map(|x| &x[..]);
        let wall = self.wall_m.as_ref().map(|x| &x[..]);
        let miss = self.miss_m.as_ref().map(|x| &x[..]);
        vec![
            ("taken_back", Value::Integer(self.taken_back.into())),
            (
                "left_out_because",
                self.left_out_because.clone().map_or(Value::Null, Value::Text),
            ),
            ("spot", Value::Text(self.spot.clone())),
            ("distance_m", Value::Real(self.distance_m)),
            ("offset_m", Value::Real(self.offset_m)),
            ("turned_rad", Value::Real(self.turned_rad)),
            ("slide_m", Value::Real(self.slide_m)),
            ("tilt_rad", Value::Real(self.tilt_rad)),
            ("reach_m", Value::Real(self.reach_m)),
            ("setpoint_radps", Value::Real(self.setpoint_radps)),
            ("before_radps", real(self.before_radps)),
            ("after_radps", real(self.after_radps)),
            ("battery_v", real(self.battery_v)),
            ("piece", whole(self.piece)),
            ("place", Value::Integer(self.place.into())),
            ("volley_count", whole(self.volley_count)),
            ("landing_along_m", part(landing, 0)),
            ("landing_across_m", part(landing, 1)),
            ("landing_height_m", part(landing, 2)),
            ("wall_distance_m", part(wall, 0)),
            ("wall_height_m", part(wall, 1)),
            ("fall_s", real(self.fall.map(|f| f.0))),
            ("fall_height_m", real(self.fall.map(|f| f.1))),
            ("miss_along_m", part(miss, 0)),
            ("miss_across_m", part(miss, 1)),
            (
                "outcome",
                self.outcome
                    .map_or(Value::Null, |o| Value::Text(o.word().to_string())),
            ),
            ("exit_speed_mps", real(self.exit_speed_mps)),
            ("exit_angle_rad", real(self.exit_angle_rad)),
            ("jammed", Value::Integer(self.jammed.into())),
            ("note", Value::Text(self.note.clone())),
        ]
    }

    /// From a row that has all columns.
    pub(super) fn from_row(row: &Row) -> rusqlite::Result<Entry> {
        let landing: [Option<f64>; 3] = [
            row.get("landing_along_m")?,
            row.get("landing_across_m")?,
            row.get("landing_height_m")?,
        ];
        let wall: [Option<f64>; 2] = [row.get("wall_distance_m")?, row.get("wall_height_m")?];
        let fall: [Option<f64>; 2] = [row.get("fall_s")?, row.get("fall_height_m")?];
        let miss: [Option<f64>; 2] = [row.get("miss_along_m")?, row.get("miss_across_m")?];
        Ok(Entry {
            taken_back: row.get("taken_back")?,
            left_out_because: row.get("left_out_because")?,
            spot: row.get("spot")?,
            distance_m: row.get("distance_m")?,
            offset_m: row.get("offset_m")?,
            turned_rad: row.get("turned_rad")?,
            slide_m: row.get("slide_m")?,
            tilt_rad: row.get("tilt_rad")?,
            reach_m: row.get("reach_m")?,
            setpoint_radps: row.get("setpoint_radps")?,
            before_radps: row.get("before_radps")?,
            after_radps: row.get("after_radps")?,
            battery_v: row.get("battery_v")?,
            piece: row.get("piece")?,
            place: row.get("place")?,
            volley_count: row.get("volley_count")?,
            landing_m: match landing {
                [Some(a), Some(b), Some(c)] => Some([a, b, c]),
                _ => None,
            },
            wall_m: match wall {
                [Some(a), Some(b)] => Some([a, b]),
                _ => None,
            },
            fall: match fall {
                [Some(a), Some(b)] => Some((a, b)),
                _ => None,
            },
            miss_m: match miss {
                [Some(a), Some(b)] => Some([a, b]),
                _ => None,
            },
            outcome: row
                .get::<_, Option<String>>("outcome")?
                .and_then(|w| outcome_of(&w)),
            exit_speed_mps: row.get("exit_speed_mps")?,
            exit_angle_rad: row.get("exit_angle_rad")?,
            jammed: row.get("jammed")?,
            note: row.get("note")?,
        })
    }
}
