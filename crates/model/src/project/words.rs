//! The project in words, in the units its file asks for.

use crate::launcher::{Layout, Setting};
use crate::project::{PieceKind, Project};
use crate::target::Outline;
use crate::units::{Dimension, parse};

/// The way in which a number gives way to what is needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Up.
    Up,
    /// Down.
    Down,
}

impl Project {
    /// The number that a person reads and types for a value: rounded as shown, never to the wrong side.
    pub fn written(&self, value: f64, dimension: Dimension, way: Way) -> f64 {
        /// Rounding: shown numbers have three digits or more.
        const NUDGE: f64 = 1e-3;
        const MOST: usize = 20;
        let sign = if way == Way::Up { 1.0 } else { -1.0 };
        (0..MOST)
            .map(|k| value + sign * NUDGE * k as f64 * value.abs())
            .filter_map(|v| parse(&self.say(v, dimension), dimension).ok())
            .find(|said| sign * (said - value) >= 0.0)
            .unwrap_or(value)
    }

    /// Distances of the nearest and the farthest spot, metres; `None` without spots.
    pub fn spot_range(&self) -> Option<(f64, f64)> {
        let distances = || self.spots.iter().map(|s| s.distance_m);
        let near = distances().fold(f64::INFINITY, f64::min);
        near.is_finite().then(|| (near, distances().fold(0.0, f64::max)))
    }

    /// The mechanical setting: the knobs this machine has.
    pub fn setting_words(&self, setting: &Setting) -> String {
        let knobs = &self.machine.knobs;
        let pair = matches!(self.machine.layout, Layout::Pair(_));
        let mut parts = Vec::new();
        if knobs.slide.is_some() || setting.slide_m != 0.0 {
            parts.push(format!("slide {}", self.say(setting.slide_m, Dimension::Length)));
        }
        if knobs.tilt.is_some() || setting.tilt_rad != 0.0 {
            parts.push(format!("tilt {}", self.say(setting.tilt_rad, Dimension::Angle)));
        }
        if !pair && (knobs.reach.is_some() || setting.reach_m != 0.0) {
            parts.push(format!("reach {}", self.say(setting.reach_m, Dimension::Length)));
        }
        if parts.is_empty() {
            "the fixed setting".into()
        } else {
            parts.join(", ")
        }
    }

    /// One line on what the brief asks.
    pub fn brief_words(&self) -> String {
        let kind = match self.piece.kind {
            PieceKind::Foam => "foam",
            PieceKind::Hollow => "hollow",
            PieceKind::Perforated => "perforated",
            PieceKind::Solid => "solid",
        };
        let t = &self.target;
        let opening = match t.outline {
            Outline::Rectangle => {
                format!(
                    "an opening {} wide and {} deep",
                    self.say(t.width_m, Dimension::Length),
                    self.say(t.depth_m, Dimension::Length)
                )
            }
            Outline::Round => format!("a round opening of {}", self.say(t.width_m, Dimension::Length)),
        };
        let spots = self.spots.len();
        format!(
            "{kind} piece of {} and {}, from {spots} {} into {opening}, rim {} up",
            self.say(self.piece.diameter_m, Dimension::Length),
            self.say(self.piece.mass_kg, Dimension::Mass),
            if spots == 1 { "spot" } else { "spots" },
            self.say(t.rim_height_m, Dimension::Length)
        )
    }
}
