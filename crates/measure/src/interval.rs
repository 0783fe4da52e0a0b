//! Closed intervals with outward rounding.

use std::ops::{Add, Neg, Sub};

/// A closed interval `[low, high]` that holds the true value of a quantity.
///
/// Arithmetic rounds outward by one unit in the last place, so that a result never loses the true
/// value to rounding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end, not less than `low`.
    pub high: f64,
}

impl Interval {
    /// The interval that holds one number.
    pub const fn exactly(value: f64) -> Self {
        Self { low: value, high: value }
    }

    /// The interval between two numbers, in either order.
    pub fn between(a: f64, b: f64) -> Self {
        Self { low: a.min(b), high: a.max(b) }
    }

    /// This interval with `by >= 0` added on both sides, rounded outward.
    #[must_use]
    pub fn widened(self, by: f64) -> Self {
        Self { low: (self.low - by).next_down(), high: (self.high + by).next_up() }
    }

    /// The interval of the smaller of two quantities.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self { low: self.low.min(other.low), high: self.high.min(other.high) }
    }

    /// Midpoint.
    pub fn middle(self) -> f64 {
        0.5 * (self.low + self.high)
    }
}

impl Add for Interval {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { low: (self.low + other.low).next_down(), high: (self.high + other.high).next_up() }
    }
}

impl Sub for Interval {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { low: (self.low - other.high).next_down(), high: (self.high - other.low).next_up() }
    }
}

impl Neg for Interval {
    type Output = Self;
    fn neg(self) -> Self {
        Self { low: -self.high, high: -self.low }
    }
}
