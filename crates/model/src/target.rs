//! The target: an opening in space, and what became of a piece thrown at it.

/// Outline of the opening in its own plane.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outline {
    /// `width` across, `depth` along.
    Rectangle,
    /// A circle (or ellipse when width and depth differ) inscribed in width × depth.
    Round,
}

/// An opening in space, facing the thrower.
///
/// `tilt` turns its plane about the near rim: 0 is a level opening entered from above, 90° an
/// upright hoop entered from the front.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Target {
    /// Outline.
    pub outline: Outline,
    /// Height of the near (lowest) point of the rim.
    pub rim_height_m: f64,
    /// Size across.
    pub width_m: f64,
    /// Size along, in the plane of the opening.
    pub depth_m: f64,
    /// Tilt of the plane.
    pub tilt_rad: f64,
    /// Height of a back wall above the far rim; 0 for none.
    pub back_wall_m: f64,
    /// Height of side walls above the rim; 0 for none.
    pub side_wall_m: f64,
    /// Rebound of the walls: normal speed after over before.
    pub wall_bounce_coeff: f64,
    /// Height of a ceiling above the floor; infinite for none.
    pub ceiling_m: f64,
}
