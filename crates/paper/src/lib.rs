//! What is drawn and printed: results in, text out.
//!
//! No files, no clock, no printing. Inputs are SI, as everywhere; the units a person reads are
//! chosen in one place, [`units`]. Positions inside a picture are in its own drawing units and
//! named `_px`; one drawing unit is one CSS pixel at the picture's natural size.
//!
//! A picture is one file in [`drawings`], with an input struct, `draw` (the SVG) and `words`
//! (what the picture shows, in a sentence or two, for those who cannot see it). The same input
//! gives the same bytes. Values that are not finite are left out, never drawn and never a panic.
#![warn(missing_docs)]

pub mod axis;
pub mod drawings;
pub mod geometry;
pub mod marks;
pub mod place;
pub mod style;
pub mod svg;
pub mod templates;
pub mod units;
