//! Times: stored as UTC, shown in the local time of the machine.

use arcwright_model::finding::Finding;
use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;

/// Now, milliseconds UTC.
pub fn now_ms() -> i64 {
    Timestamp::now().as_millisecond()
}

fn shown(utc_ms: i64, how: &str) -> String {
    match Timestamp::from_millisecond(utc_ms) {
        Ok(t) => t.to_zoned_datetime(TimeZone::system()).strftime(how).to_string(),
        Err(_) => "unknown".to_string(),
    }
}

/// `2026-05-02 18:42`, local.
pub fn day_and_time(utc_ms: i64) -> String {
    shown(utc_ms, "%Y-%m-%d %H:%M")
}

/// `2026-05-02`, local.
pub fn day(utc_ms: i64) -> String {
    shown(utc_ms, "%Y-%m-%d")
}

/// `18:42:10`, local.
pub fn clock(utc_ms: i64) -> String {
    shown(utc_ms, "%H:%M:%S")
}

/// `2026-05-02T16:42:10.250Z`.
pub fn utc(utc_ms: i64) -> String {
    match Timestamp::from_millisecond(utc_ms) {
        Ok(t) => format!("{t:.3}"),
        Err(_) => String::new(),
    }
}

/// A moment as written in a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment {
    /// Milliseconds UTC.
    pub utc_ms: i64,
    /// How finely it was written: 1, 1000 or 60 000.
    pub to_ms: i64,
}

const HOW: &str = "write it as 2026-05-02 18:42:10";

fn no_time(text: &str, what: &str) -> Finding {
    Finding::new("bad-time", "time", format!("`{text}` is {what}"), HOW)
}

/// Reads a day, also as `2.5.2026`, and as `5/31/2026` where only one reading is possible.
fn read_day(text: &str) -> Result<Date, Finding> {
    if let Ok(date) = text.parse::<Date>() {
        return Ok(date);
    }
    let part = |mark: char| -> Option<[i16; 3]> {
        let parts: Vec<i16> = text
            .trim_end_matches('.')
            .split(mark)
            .filter_map(|p| p.trim().parse().ok())
            .collect();
        parts.try_into().ok()
    };
    let made = |y: i16, m: i16, d: i16| Date::new(y, i8::try_from(m).ok()?, i8::try_from(d).ok()?).ok();
    if let Some([d, m, y]) = part('.') {
        return made(y, m, d).ok_or_else(|| no_time(text, "no day"));
    }
    if let Some([a, b, y]) = part('/') {
        return match (made(y, a, b), made(y, b, a)) {
            (Some(one), Some(other)) if one == other => Ok(one),
            (Some(_), Some(_)) => Err(no_time(text, "two days, by where the month stands")),
            (Some(one), None) | (None, Some(one)) => Ok(one),
            (None, None) => Err(no_time(text, "no day")),
        };
    }
    Err(no_time(text, "no day and time"))
}

/// Reads a moment: `2026-05-02T16:42:10Z`, or a local `2026-05-02 18:42`; the day may stand in a
/// column of its own.
///
/// # Errors
/// `bad-time`.
pub fn moment(day_text: Option<&str>, text: &str) -> Result<Moment, Finding> {
    let text = text.trim();
    let seconds = text.matches(':').count() > 1;
    let to_ms = match (
        seconds,
        text.contains('.') && text.rsplit(':').next().is_some_and(|s| s.contains('.')),
    ) {
        (true, true) => 1,
        (true, false) => 1000,
        (false, _) => 60_000,
    };
    if let Ok(t) = text.parse::<Timestamp>() {
        return Ok(Moment {
            utc_ms: t.as_millisecond(),
            to_ms,
        });
    }
    let (day_part, clock_part) = match (day_text, text.split_once([' ', 'T'])) {
        (Some(d), _) => (d.trim(), text),
        (None, Some((d, c))) => (d, c.trim()),
        (None, None) if text.contains(':') => return Err(no_time(text, "a time without a day")),
        (None, None) => return Err(no_time(text, "a day without a time")),
    };
    let clock: Time = clock_part
        .parse()
        .map_err(|_| no_time(clock_part, "no time of day"))?;
    let local = DateTime::from_parts(read_day(day_part)?, clock);
    let zoned = local
        .to_zoned_datetime(TimeZone::system())
        .map_err(|_| no_time(text, "a time that the local clock never shows"))?;
    Ok(Moment {
        utc_ms: zoned.timestamp().as_millisecond(),
        to_ms,
    })
}
