//! Quantities and comparisons for tests of the mechanics.

#![allow(dead_code, reason = "each test uses some of them")]

use measure::{Bounds, Force, Length, Stress};

/// A length that is known.
pub(crate) fn mm(value: f64) -> Bounds<Length> {
    Bounds::exactly(Length::from_mm(value))
}

/// A stress that is known.
pub(crate) fn mpa(value: f64) -> Bounds<Stress> {
    Bounds::exactly(Stress::from_mpa(value))
}

/// A force that is known.
pub(crate) fn newtons(value: f64) -> Bounds<Force> {
    Bounds::exactly(Force::from_newtons(value))
}

/// `got` rounds to `printed`, whose last digit is worth `digit`.
pub(crate) fn assert_printed(got: f64, printed: f64, digit: f64) {
    assert!((got - printed).abs() <= 0.5 * digit * (1.0 + 1e-9), "{got} is not {printed}");
}

/// `got` is `want` within a share of it.
pub(crate) fn assert_near(got: f64, want: f64, share: f64) {
    assert!((got / want - 1.0).abs() <= share, "{got} instead of {want}");
}
