//! The rest of the machine: drive base, power, shaft, bearings, transmission, mass and sheet.
//!
//! Body axes: x ahead, y left, z up; the origin on the floor, in the middle between the wheels.
//! Kernels only: plain numbers in, plain numbers out. `limits` turns them into verdicts.

pub mod base;
pub mod bearing;
pub mod brown_out;
pub mod bushing;
pub mod dash;
pub mod mass;
pub mod power;
pub mod shaft;
pub mod sheet_span;
pub mod transmission;
pub mod turn;
pub mod wire;
