//! The pictures, one file each: an input struct, `draw` (the SVG) and `words` (the same in words).

pub mod budget;
pub mod fan;
pub mod front;
pub mod guide_force;
pub mod scatter;
pub mod setpoints;
pub mod side_view;
pub mod trade;
pub mod volley;

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

/// "1 throw", "2 throws".
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
