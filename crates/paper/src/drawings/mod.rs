//! The pictures, one file each: an input struct, `draw` (the SVG) and `words` (the same in words).

pub mod bite;
pub mod budget;
pub mod drift;
pub mod fan;
pub mod film;
pub mod free_room;
pub mod front;
pub mod guide_force;
pub mod hit_map;
pub mod hopper;
pub mod needed;
pub mod plan_view;
pub mod polar;
pub mod room;
pub mod scatter;
pub mod season;
pub mod setpoints;
pub mod side_view;
pub mod stuck;
pub mod telemetry;
pub mod trade;
pub mod volley;
pub mod waits;
pub mod wander;

use crate::units::{Scale, plain};

/// Natural width of every picture. Small enough that 14-unit text reads on a 360-unit phone.
const WIDTH_PX: f64 = 640.0;

/// Which way a goal is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// Less is better; a limit is a most.
    Lower,
    /// More is better; a limit is a least.
    Higher,
}

/// Most spots, rows or points that one picture gives room; what is beyond is counted in words.
const MOST_SHOWN: usize = 12;

/// A chance in per cent, to a tenth. One that is not quite certain never reads 100 %, nor a small one
/// 0 %.
fn chance(frac: f64, share: &Scale) -> String {
    let text = |frac: f64| plain(share.of(frac), 1);
    let shown = text(frac);
    let (words, value) = if frac < 1.0 && shown == text(1.0) {
        ("over ", text(0.999))
    } else if frac > 0.0 && shown == text(0.0) {
        ("under ", text(0.001))
    } else {
        ("", shown)
    };
    format!(
        "{words}{}",
        share.with_unit(value.strip_suffix(".0").filter(|_| frac == 1.0).unwrap_or(&value))
    )
}

/// "1 throw", "2 throws".
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
