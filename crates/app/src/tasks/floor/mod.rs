//! What comes from the practice floor: logs and films.

pub mod columns;
pub mod film;
pub mod table;
pub mod telemetry;
