//! Kept fits: what `floor fit` found, and what happened to the log since.

use std::collections::BTreeMap;

use arcwright_model::finding::Finding;
use arcwright_model::floor::{KEPT_NAMES, Taught};
use arcwright_model::project::ShownScatter;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, Row, TransactionBehavior, params};

use super::Store;

/// What the numbers of a kept fit mean; rises when they come to mean something else.
pub const MEANING: i64 = 1;

/// A value of the project file that a fit rests on.
#[derive(Clone, Debug, PartialEq)]
pub enum ProjectValue {
    /// A quantity, SI.
    Number(f64),
    /// A word.
    Word(String),
}

/// One estimate, as it stands in the table.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptEstimate {
    /// Short name.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Value and standard deviation before.
    pub before: [f64; 2],
    /// The same now.
    pub now: [f64; 2],
}

/// One setpoint, as it stands in the table.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptSetpoint {
    /// Name of the spot.
    pub spot: String,
    /// Distance to the near rim.
    pub distance_m: f64,
    /// Learned wheel speed, its standard deviation and the hits to expect.
    pub learned: Option<[f64; 3]>,
    /// Wheel speed of the design.
    pub design_radps: Option<f64>,
}

/// A fit.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptFit {
    /// When it was made, milliseconds UTC.
    pub made_utc_ms: i64,
    /// Version of the program that made it.
    pub tool: String,
    /// The last act of the log that it saw.
    pub seen_act: i64,
    /// When the last shot that took part was thrown, milliseconds UTC.
    pub last_thrown_utc_ms: i64,
    /// Shots that took part.
    pub shot_count: u32,
    /// Sessions that they are of.
    pub session_count: u32,
    /// It can be relied upon.
    pub confident: bool,
    /// Why not, in plain words; empty where it can.
    pub why_not: String,
    /// What it taught.
    pub taught: Taught,
    /// Values of the project that it rests on.
    pub project: BTreeMap<String, ProjectValue>,
    /// What was learned; for the record, not read back.
    pub estimates: Vec<KeptEstimate>,
    /// Setpoints of that time; for the record, not read back.
    pub setpoints: Vec<KeptSetpoint>,
}

/// The newest fit as this program can use it.
#[derive(Clone, Debug, PartialEq)]
pub enum NewestFit {
    /// None was ever kept.
    None,
    /// It was made by a program whose numbers mean something else.
    Newer {
        /// When, milliseconds UTC.
        made_utc_ms: i64,
        /// Version of that program.
        tool: String,
    },
    /// Here it is.
    Kept(Box<KeptFit>),
}

/// What was done to the log after an act.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Since {
    /// Shots that were not there before and stand now.
    pub new_count: u32,
    /// Shots that were there and say something else now, or are taken back.
    pub changed_count: u32,
}

fn has_fits(db: &Connection) -> rusqlite::Result<bool> {
    let n: i64 = db.query_row("SELECT count(*) FROM sqlite_schema WHERE name = 'fit'", [], |r| {
        r.get(0)
    })?;
    Ok(n > 0)
}

impl Store {
    /// Keeps a fit.
    ///
    /// # Errors
    /// A finding when it cannot be written; nothing is then.
    pub fn keep_fit(&mut self, fit: &KeptFit) -> Result<(), Finding> {
        let mut work = || -> rusqlite::Result<()> {
            let work = self
                .db
                .transaction_with_behavior(TransactionBehavior::Immediate)?;
            write(&work, fit)?;
            work.commit()
        };
        work().map_err(|e| self.trouble(&e))
    }

    /// The newest fit. A log of an older version has none.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn newest_fit(&self) -> Result<NewestFit, Finding> {
        read(&self.db).map_err(|e| self.trouble(&e))
    }

    /// Every fit that was ever kept, oldest first, with its setpoints; estimates and values of the project are left out, and
    /// so are fits of a program whose numbers mean something else.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn every_fit(&self) -> Result<Vec<KeptFit>, Finding> {
        every(&self.db).map_err(|e| self.trouble(&e))
    }

    /// What was done after an act.
    ///
    /// # Errors
    /// A finding when the log cannot be read.
    pub fn since(&self, act: i64) -> Result<Since, Finding> {
        let read = || -> rusqlite::Result<Since> {
            // By shot: the act of its first version and of its present one, and whether it stands.
            let mut all = self.db.prepare(
                "SELECT min(v.act), max(v.act),
                    (SELECT taken_back FROM shot_version WHERE shot_id = v.shot_id ORDER BY number DESC LIMIT 1)
                 FROM shot_version v GROUP BY v.shot_id",
            )?;
            let mut out = Since::default();
            let rows = all.query_map([], |r| {
                Ok((r.get::<_, i64>(0)?, r.get::<_, i64>(1)?, r.get::<_, bool>(2)?))
            })?;
            for row in rows {
                let (first, last, taken_back) = row?;
                if first > act {
                    out.new_count += u32::from(!taken_back);
                } else if last > act {
                    out.changed_count += 1;
                }
            }
            Ok(out)
        };
        read().map_err(|e| self.trouble(&e))
    }
}

fn write(db: &Connection, f: &KeptFit) -> rusqlite::Result<()> {
    let (t, s) = (&f.taught, &f.taught.scatter);
    let [speed_learned, angle_learned, aside_learned] = t.scatter_learned;
    let finite = |x: f64| {
        if x.is_finite() {
            Value::Real(x)
        } else {
            Value::Null
        }
    };
    db.execute(
        "INSERT INTO fit (made_utc_ms, tool, meaning, seen_act, last_thrown_utc_ms, shot_count, session_count,
            confident, why_not, nearest_m, farthest_m, speed_sd_frac, speed_scatter_frac, speed_scatter_learned,
            angle_scatter_rad, angle_scatter_learned, aside_scatter_rad, aside_scatter_learned, piece_frac,
            place_frac, last_frac, wheel_measured)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22)",
        params![
            f.made_utc_ms,
            f.tool,
            MEANING,
            f.seen_act,
            f.last_thrown_utc_ms,
            f.shot_count,
            f.session_count,
            f.confident,
            f.why_not,
            t.distance_m[0],
            t.distance_m[1],
            finite(t.speed_sd_frac),
            s.speed_frac,
            speed_learned,
            s.angle_rad,
            angle_learned,
            s.aside_rad,
            aside_learned,
            s.piece_frac,
            s.place_frac,
            s.last_frac,
            s.wheel_measured,
        ],
    )?;
    let id = db.last_insert_rowid();
    let mut values =
        db.prepare("INSERT INTO fit_project (fit_id, key, number, word) VALUES (?1, ?2, ?3, ?4)")?;
    for (key, value) in &f.project {
        let (number, word) = match value {
            ProjectValue::Number(x) => (Some(*x), None),
            ProjectValue::Word(w) => (None, Some(w.as_str())),
        };
        values.execute(params![id, key, number, word])?;
    }
    let mut deviations =
        db.prepare("INSERT INTO fit_deviation VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?;
    for (place, ((name, mean), row)) in KEPT_NAMES.iter().zip(t.mean).zip(&t.covariance).enumerate() {
        let place = place as i64;
        deviations.execute(params![
            id, place, name, mean, row[0], row[1], row[2], row[3], row[4]
        ])?;
    }
    let mut estimates = db.prepare("INSERT INTO fit_estimate VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)")?;
    for (place, e) in f.estimates.iter().enumerate() {
        let place = place as i64;
        if e.before.iter().chain(&e.now).all(|x| x.is_finite()) {
            estimates.execute(params![
                id,
                place,
                e.name,
                e.unit,
                e.before[0],
                e.before[1],
                e.now[0],
                e.now[1]
            ])?;
        }
    }
    let mut setpoints =
        db.prepare("INSERT OR IGNORE INTO fit_setpoint VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)")?;
    for p in &f.setpoints {
        let [speed, sd, hit] = p.learned.map_or([f64::NAN; 3], |l| l).map(finite);
        setpoints.execute(params![id, p.spot, p.distance_m, speed, sd, p.design_radps, hit])?;
    }
    Ok(())
}

fn read(db: &Connection) -> rusqlite::Result<NewestFit> {
    if !has_fits(db)? {
        return Ok(NewestFit::None);
    }
    let newest = db
        .query_row("SELECT * FROM fit ORDER BY id DESC LIMIT 1", [], |r| {
            let meaning: i64 = r.get("meaning")?;
            if meaning > MEANING {
                return Ok((
                    0,
                    NewestFit::Newer {
                        made_utc_ms: r.get("made_utc_ms")?,
                        tool: r.get("tool")?,
                    },
                ));
            }
            Ok((r.get("id")?, NewestFit::Kept(Box::new(kept(r)?))))
        })
        .optional()?;
    let Some((id, mut found)) = newest else {
        return Ok(NewestFit::None);
    };
    if let NewestFit::Kept(fit) = &mut found {
        let id: i64 = id;
        fit.project = db
            .prepare("SELECT key, number, word FROM fit_project WHERE fit_id = ?1")?
            .query_map([id], |r| {
                let word: Option<String> = r.get(2)?;
                let value = match word {
                    Some(word) => ProjectValue::Word(word),
                    None => ProjectValue::Number(r.get(1)?),
                };
                Ok((r.get(0)?, value))
            })?
            .collect::<rusqlite::Result<_>>()?;
        let mut rows = db.prepare(
            "SELECT mean, with_ln_speed, with_angle, with_ln_drag, with_lift, with_aside
             FROM fit_deviation WHERE fit_id = ?1 ORDER BY place",
        )?;
        let rows = rows.query_map([id], |r| {
            Ok((r.get(0)?, [r.get(1)?, r.get(2)?, r.get(3)?, r.get(4)?, r.get(5)?]))
        })?;
        let own = fit.taught.mean.iter_mut().zip(&mut fit.taught.covariance);
        for ((mean, covariance), row) in own.zip(rows) {
            (*mean, *covariance) = row?;
        }
    }
    Ok(found)
}

fn every(db: &Connection) -> rusqlite::Result<Vec<KeptFit>> {
    if !has_fits(db)? {
        return Ok(Vec::new());
    }
    let mut fits: Vec<(i64, KeptFit)> = db
        .prepare("SELECT * FROM fit WHERE meaning <= ?1 ORDER BY id")?
        .query_map([MEANING], |r| Ok((r.get("id")?, kept(r)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let mut setpoints = db.prepare(
        "SELECT spot, distance_m, wheel_radps, wheel_sd_radps, design_radps, hit_expected_frac
         FROM fit_setpoint WHERE fit_id = ?1 ORDER BY distance_m",
    )?;
    for (id, fit) in &mut fits {
        fit.setpoints = setpoints
            .query_map([*id], |r| {
                let learned: [Option<f64>; 3] = [r.get(2)?, r.get(3)?, r.get(5)?];
                Ok(KeptSetpoint {
                    spot: r.get(0)?,
                    distance_m: r.get(1)?,
                    learned: learned[0]
                        .map(|v| [v, learned[1].unwrap_or(f64::NAN), learned[2].unwrap_or(f64::NAN)]),
                    design_radps: r.get(4)?,
                })
            })?
            .collect::<rusqlite::Result<_>>()?;
    }
    Ok(fits.into_iter().map(|(_, f)| f).collect())
}

fn kept(r: &Row) -> rusqlite::Result<KeptFit> {
    Ok(KeptFit {
        made_utc_ms: r.get("made_utc_ms")?,
        tool: r.get("tool")?,
        seen_act: r.get("seen_act")?,
        last_thrown_utc_ms: r.get("last_thrown_utc_ms")?,
        shot_count: r.get("shot_count")?,
        session_count: r.get("session_count")?,
        confident: r.get("confident")?,
        why_not: r.get("why_not")?,
        taught: Taught {
            mean: [0.0; 5],
            covariance: [[0.0; 5]; 5],
            speed_sd_frac: r.get::<_, Option<f64>>("speed_sd_frac")?.unwrap_or(f64::NAN),
            scatter: ShownScatter {
                speed_frac: r.get("speed_scatter_frac")?,
                angle_rad: r.get("angle_scatter_rad")?,
                aside_rad: r.get("aside_scatter_rad")?,
                piece_frac: r.get("piece_frac")?,
                place_frac: r.get("place_frac")?,
                last_frac: r.get("last_frac")?,
                wheel_measured: r.get("wheel_measured")?,
            },
            scatter_learned: [
                r.get("speed_scatter_learned")?,
                r.get("angle_scatter_learned")?,
                r.get("aside_scatter_learned")?,
            ],
            distance_m: [r.get("nearest_m")?, r.get("farthest_m")?],
        },
        project: BTreeMap::new(),
        estimates: Vec::new(),
        setpoints: Vec::new(),
    })
}

#[cfg(test)]
#[path = "fits_tests.rs"]
mod tests;
