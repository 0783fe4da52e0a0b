//! Scalars with a unit.

use std::f64::consts::PI;

/// A length, held in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Length(f64);

/// The unit in which lengths are written for a reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LengthUnit {
    /// Decimal inches and fractions of an inch.
    Inch,
    /// Millimetres.
    #[default]
    Millimetre,
}

impl Length {
    /// Zero length.
    pub const ZERO: Self = Self(0.0);

    /// A length of `mm` millimetres.
    pub const fn from_mm(mm: f64) -> Self {
        Self(mm)
    }

    /// A length of `inches` international inches (25.4 mm exactly).
    pub const fn from_inches(inches: f64) -> Self {
        Self(inches * 25.4)
    }

    /// In millimetres.
    pub const fn mm(self) -> f64 {
        self.0
    }

    /// In international inches.
    pub const fn inches(self) -> f64 {
        self.0 / 25.4
    }
}

/// An angle, held in radians. Bearings are counter-clockwise from +x (toward the hinge), seen from
/// above.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle(f64);

impl Angle {
    /// No turn.
    pub const ZERO: Self = Self(0.0);

    /// An angle of `rad` radians.
    pub const fn from_radians(rad: f64) -> Self {
        Self(rad)
    }

    /// An angle of `deg` degrees.
    pub const fn from_degrees(deg: f64) -> Self {
        Self(deg * (PI / 180.0))
    }

    /// In radians.
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// In degrees.
    pub const fn degrees(self) -> f64 {
        self.0 * (180.0 / PI)
    }
}
