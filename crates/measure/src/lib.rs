//! Quantities with units, their parsing and printing, intervals and frames.
//!
//! Inside the program lengths are `f64` millimetres, angles radians, forces newtons, pressures
//! megapascals and torques newton millimetres. The newtypes here stand at public boundaries, where
//! a bare number could be mistaken for another unit; coordinates are plain nalgebra points in
//! millimetres. Products and quotients of quantities exist only where their dimensions agree, so
//! that a formula that mixes them up does not compile; [`Bounds`] carries a quantity's lower and
//! upper end through a formula with outward rounding.
//!
//! ```
//! use measure::{Area, Bounds, Force, Pressure};
//! let pressure = Bounds::exactly(Pressure::from_mpa(2.0));
//! let area = Bounds::exactly(Area::from_mm2(100.0));
//! let force: Bounds<Force> = pressure * area;
//! assert!(force.interval().contains(200.0));
//! ```
//!
//! A pressure and an area do not add:
//!
//! ```compile_fail
//! use measure::{Area, Pressure};
//! let sum = Pressure::from_mpa(2.0) + Area::from_mm2(100.0);
//! ```
//!
//! nor is their product a torque:
//!
//! ```compile_fail
//! use measure::{Area, Pressure, Torque};
//! let torque: Torque = Pressure::from_mpa(2.0) * Area::from_mm2(100.0);
//! ```

mod bounds;
mod derived;
mod error;
mod interval;
mod parse;
mod products;
mod quantity;
mod stack;
mod temperature;

pub use bounds::Bounds;
pub use derived::{Area, Rigidity, SecondMoment, SectionModulus, Stiffness};
pub use error::ParseError;
pub use interval::Interval;
pub use products::{Moment, Quantity, Stress};
pub use quantity::{Angle, Force, Length, LengthUnit, Pressure, Torque, bound_above};
pub use stack::Stack;
pub use temperature::Temperature;
