//! Times: stored as UTC, shown in the local time of the machine.

use jiff::Timestamp;
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
