//! Quantities with units, their parsing and printing, intervals and frames.
//!
//! Inside the program lengths are `f64` millimetres, angles radians, forces newtons, pressures
//! megapascals and torques newton millimetres. The newtypes here stand at public boundaries, where
//! a bare number could be mistaken for another unit; coordinates are plain nalgebra points in
//! millimetres.

mod interval;
mod quantity;

pub use interval::Interval;
pub use quantity::{Angle, Length, LengthUnit};
