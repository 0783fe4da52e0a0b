//! A quantity's lower and upper end.

use crate::{Area, Interval, Length, Quantity};
use std::fmt;
use std::marker::PhantomData;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// What a quantity is at least and at most: an [`Interval`] with a unit.
///
/// Arithmetic rounds outward and exists only where the dimensions agree, as for the quantities
/// themselves. A quantity that enters a formula twice makes the result wider than it need be, never
/// narrower; where that matters evaluate the formula at the ends instead ([`Bounds::ends`]).
#[derive(Clone, Copy, PartialEq)]
pub struct Bounds<Q> {
    within: Interval,
    of: PhantomData<Q>,
}

impl<Q: Quantity> Bounds<Q> {
    /// The bounds of a value that is known.
    pub fn exactly(value: Q) -> Self {
        Self::from_interval(Interval::exactly(value.inside()))
    }

    /// Between two values, in either order; without bound if either is not a number.
    pub fn between(a: Q, b: Q) -> Self {
        Self::from_interval(Interval::between(a.inside(), b.inside()))
    }

    /// `nominal` give or take `by`, which may not be negative.
    pub fn about(nominal: Q, by: Q) -> Self {
        Self::from_interval(if by.inside() == 0.0 {
            Interval::exactly(nominal.inside())
        } else {
            Interval::exactly(nominal.inside()).widened(by.inside())
        })
    }

    /// `value` with both ends moved out by the ratio `by >= 0` of it: for a value known to a share
    /// of itself.
    pub fn within(value: Q, by: f64) -> Self {
        Self::from_interval(Interval::exactly(value.inside()) * Interval::exactly(1.0).widened(by))
    }

    /// From an interval of values in the unit in which the quantity is held.
    pub const fn from_interval(within: Interval) -> Self {
        Self { within, of: PhantomData }
    }

    /// As an interval of values in the unit in which the quantity is held.
    pub const fn interval(self) -> Interval {
        self.within
    }

    /// The lower end.
    pub fn low(self) -> Q {
        Q::from_inside(self.within.low)
    }

    /// The upper end.
    pub fn high(self) -> Q {
        Q::from_inside(self.within.high)
    }

    /// The midpoint.
    pub fn middle(self) -> Q {
        Q::from_inside(self.within.middle())
    }

    /// Both ends, each as a known value.
    pub fn ends(self) -> [Self; 2] {
        [Self::exactly(self.low()), Self::exactly(self.high())]
    }

    /// Whether both ends are finite.
    pub const fn is_finite(self) -> bool {
        self.within.low.is_finite() && self.within.high.is_finite()
    }

    /// The bounds of the smaller of two quantities.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self::from_interval(self.within.min(other.within))
    }

    /// The bounds of the greater of two quantities.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self::from_interval(self.within.max(other.within))
    }

    /// The least bounds that hold both.
    #[must_use]
    pub fn hull(self, other: Self) -> Self {
        Self::from_interval(self.within.hull(other.within))
    }

    /// How far from zero.
    #[must_use]
    pub fn abs(self) -> Self {
        Self::from_interval(self.within.abs())
    }
}

impl Bounds<f64> {
    /// The two doubles next to the ratio of a circle's circumference to its diameter.
    pub const PI: Self =
        Self::from_interval(Interval { low: std::f64::consts::PI, high: 3.141_592_653_589_793_6 });

    /// The square root.
    #[must_use]
    pub fn sqrt(self) -> Self {
        Self::from_interval(self.within.sqrt())
    }
}

impl Bounds<Area> {
    /// The side of the square of this area.
    #[must_use]
    pub fn sqrt(self) -> Bounds<Length> {
        Bounds::from_interval(self.within.sqrt())
    }
}

impl<Q: Quantity> From<Q> for Bounds<Q> {
    fn from(value: Q) -> Self {
        Self::exactly(value)
    }
}

impl<Q: Quantity + fmt::Display> fmt::Display for Bounds<Q> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.within.low.to_bits() == self.within.high.to_bits() {
            write!(f, "{}", self.low())
        } else {
            write!(f, "{} to {}", self.within.low, self.high())
        }
    }
}

impl<Q: Quantity> fmt::Debug for Bounds<Q> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "[{}, {}]", self.within.low, self.within.high)
    }
}

impl<Q: Quantity + Add<Output = Q>> Add for Bounds<Q> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::from_interval(self.within + other.within)
    }
}

impl<Q: Quantity + Sub<Output = Q>> Sub for Bounds<Q> {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::from_interval(self.within - other.within)
    }
}

impl<Q: Quantity + Neg<Output = Q>> Neg for Bounds<Q> {
    type Output = Self;
    fn neg(self) -> Self {
        Self::from_interval(-self.within)
    }
}

impl<A, B> Mul<Bounds<B>> for Bounds<A>
where
    A: Quantity + Mul<B>,
    B: Quantity,
    A::Output: Quantity,
{
    type Output = Bounds<A::Output>;
    fn mul(self, other: Bounds<B>) -> Self::Output {
        Bounds::from_interval(self.within * other.within)
    }
}

impl<A, B> Div<Bounds<B>> for Bounds<A>
where
    A: Quantity + Div<B>,
    B: Quantity,
    A::Output: Quantity,
{
    type Output = Bounds<A::Output>;
    fn div(self, other: Bounds<B>) -> Self::Output {
        Bounds::from_interval(self.within / other.within)
    }
}

impl<Q: Quantity> Mul<f64> for Bounds<Q> {
    type Output = Self;
    /// By a number that is exact as a double.
    fn mul(self, by: f64) -> Self {
        Self::from_interval(self.within.scale(by))
    }
}

impl<Q: Quantity> Mul<Bounds<Q>> for f64 {
    type Output = Bounds<Q>;
    /// By a number that is exact as a double.
    fn mul(self, of: Bounds<Q>) -> Bounds<Q> {
        of * self
    }
}

impl<Q: Quantity> Div<f64> for Bounds<Q> {
    type Output = Self;
    /// By a number that is exact as a double.
    fn div(self, by: f64) -> Self {
        Self::from_interval(self.within / Interval::exactly(by))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Force, Pressure, Torque};

    #[test]
    fn a_force_of_pressure_and_area_keeps_its_ends_and_its_unit() {
        let p = Bounds::between(Pressure::from_mpa(1.0), Pressure::from_mpa(2.0));
        let side = Bounds::exactly(Length::from_mm(3.0));
        let force: Bounds<Force> = p * (side * side);
        assert!(force.low().newtons() <= 9.0 && 18.0 <= force.high().newtons());
        assert!(force.low().newtons() > 9.0 - 1e-12 && force.high().newtons() < 18.0 + 1e-12);
        let torque: Bounds<Torque> = force * side;
        assert!((torque.middle().newton_mm() - 40.5).abs() < 1e-12);
        assert!((side * side).sqrt().interval().contains(3.0));
    }

    #[test]
    fn pi_lies_between_two_neighbouring_doubles() {
        // 3.141 592 653 589 793 238...: the double below it, and the next.
        let pi = Bounds::PI.interval();
        assert_eq!(pi.low.next_up().to_bits(), pi.high.to_bits());
        // sin(x) = pi - x to first order near pi: positive below it, negative above.
        assert!(pi.low.sin() > 0.0 && pi.high.sin() < 0.0);
    }

    #[test]
    fn what_is_about_a_value_holds_both_ends() {
        let d = Bounds::about(Length::from_mm(0.3), Length::from_mm(0.1));
        assert!(d.interval().contains(0.2) && d.interval().contains(0.4));
        assert_eq!(Bounds::about(1.0, 0.0), Bounds::exactly(1.0));
        assert_eq!(Bounds::exactly(Force::from_newtons(2.0)).to_string(), "2 N");
        assert_eq!(Bounds::between(1.0, 2.0).to_string(), "1 to 2");
        assert!(!Bounds::between(f64::NAN, 1.0).is_finite());
    }
}
