//! Quantities with units, their parsing and printing, intervals and frames.
//!
//! Inside the program lengths are `f64` millimetres, angles radians, forces newtons, pressures
//! megapascals and torques newton millimetres. The newtypes here stand at public boundaries, where
//! a bare number could be mistaken for another unit; coordinates are plain nalgebra points in
//! millimetres.

mod error;
mod interval;
mod parse;
mod quantity;
mod stack;

pub use error::ParseError;
pub use interval::Interval;
pub use quantity::{Angle, Force, Length, LengthUnit, Pressure, Torque};
pub use stack::Stack;
