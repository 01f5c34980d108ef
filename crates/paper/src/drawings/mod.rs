//! The pictures, one file each: an input struct, `draw` (the SVG) and `words` (the same in words).

pub mod bite;
pub mod fan;
pub mod guide_force;
pub mod setpoints;
pub mod side_view;
pub mod volley;

/// Natural width of every picture. Small enough that 14-unit text reads on a 360-unit phone.
const WIDTH_PX: f64 = 640.0;

/// "1 throw", "2 throws".
fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
