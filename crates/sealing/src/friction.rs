//! Coefficients of friction as ranges.

use crate::Fault;
use measure::Bounds;

/// A coefficient of sliding friction, as the range in which it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Friction(Bounds<f64>);

impl Friction {
    /// A coefficient within `range`. Fault: not finite, negative, or above 1, which no pair of
    /// screw and nut reaches.
    pub fn new(range: Bounds<f64>) -> Result<Self, Fault> {
        const NAME: &str = "coefficient of friction";
        if !range.is_finite() {
            return Err(Fault::out_of_range(NAME, range, "give a finite range"));
        }
        if range.low() < 0.0 {
            return Err(Fault::out_of_range(NAME, range, "friction is never negative"));
        }
        if range.high() > 1.0 {
            return Err(Fault::out_of_range(NAME, range, "give the coefficient as a share of 1"));
        }
        Ok(Self(range))
    }

    /// The range.
    pub const fn range(self) -> Bounds<f64> {
        self.0
    }

    /// Sine of the angle of friction, `f / sqrt(1 + f^2)`: times a pin's radius, the radius of its
    /// friction circle (statics, any handbook).
    pub fn sine(self) -> Bounds<f64> {
        // Rises with the coefficient.
        crate::numbers::monotone(self.0, |f| {
            let one = Bounds::exactly(1.0);
            f / (one + f * f).sqrt()
        })
    }
}
