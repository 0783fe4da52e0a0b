//! Sums, products and quotients of quantities, where their dimensions agree.

use crate::{
    Angle, Area, Force, Length, Pressure, Rigidity, SecondMoment, SectionModulus, Stiffness,
    Temperature, Torque,
};
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A stress: force over area, as a pressure is.
pub type Stress = Pressure;
/// A bending moment: force times distance, as a torque is.
pub type Moment = Torque;

/// A scalar with a unit, or a plain number.
pub trait Quantity: Copy {
    /// Its dimension: how many newtons and how many millimetres are multiplied in its unit. Angles and
    /// temperatures count as numbers here.
    const DIMENSION: [i8; 2];
    /// From its value in the unit in which it is held.
    fn from_inside(value: f64) -> Self;
    /// Its value in the unit in which it is held: mm, rad, N, `MPa`, N mm, K and their products.
    fn inside(self) -> f64;
}

impl Quantity for f64 {
    const DIMENSION: [i8; 2] = [0, 0];
    fn from_inside(value: f64) -> Self {
        value
    }
    fn inside(self) -> f64 {
        self
    }
}

macro_rules! quantity {
    ($($name:ident $dimension:expr, $from:ident, $to:ident;)*) => {$(
        impl Quantity for $name {
            const DIMENSION: [i8; 2] = $dimension;
            fn from_inside(value: f64) -> Self {
                Self::$from(value)
            }
            fn inside(self) -> f64 {
                self.$to()
            }
        }
    )*};
}

quantity! {
    Length [0, 1], from_mm, mm;
    Angle [0, 0], from_radians, radians;
    Area [0, 2], from_mm2, mm2;
    SectionModulus [0, 3], from_mm3, mm3;
    SecondMoment [0, 4], from_mm4, mm4;
    Pressure [1, -2], from_mpa, mpa;
    Force [1, 0], from_newtons, newtons;
    Torque [1, 1], from_newton_mm, newton_mm;
    Rigidity [1, 2], from_newton_mm2, newton_mm2;
    Stiffness [1, -1], from_newtons_per_mm, newtons_per_mm;
    Temperature [0, 0], from_kelvins, kelvins;
}

/// Sums within one kind, scaling by a number, and the ratio of two.
macro_rules! linear {
    ($($name:ident)*) => {$(
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::from_inside(self.inside() + other.inside())
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self::from_inside(self.inside() - other.inside())
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self::from_inside(-self.inside())
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, by: f64) -> Self {
                Self::from_inside(self.inside() * by)
            }
        }
        impl Mul<$name> for f64 {
            type Output = $name;
            fn mul(self, of: $name) -> $name {
                of * self
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, by: f64) -> Self {
                Self::from_inside(self.inside() / by)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.inside() / other.inside()
            }
        }
    )*};
}

linear! {
    Length Angle Area SectionModulus SecondMoment Pressure Force Torque Rigidity Stiffness
}

/// A product and the quotient that undoes it; one whose dimensions do not add up does not compile.
macro_rules! product {
    ($a:ident * $b:ident = $c:ident) => {
        const _: () = {
            let (a, b, c) = ($a::DIMENSION, $b::DIMENSION, $c::DIMENSION);
            assert!(a[0] + b[0] == c[0] && a[1] + b[1] == c[1]);
        };
        impl Mul<$b> for $a {
            type Output = $c;
            fn mul(self, other: $b) -> $c {
                $c::from_inside(self.inside() * other.inside())
            }
        }
        impl Div<$a> for $c {
            type Output = $b;
            fn div(self, other: $a) -> $b {
                $b::from_inside(self.inside() / other.inside())
            }
        }
    };
}

macro_rules! squares {
    ($($a:ident * $a2:ident = $c:ident;)*) => {$(product!($a * $a2 = $c);)*};
}

macro_rules! products {
    ($($a:ident * $b:ident = $c:ident;)*) => {$(
        product!($a * $b = $c);
        product!($b * $a = $c);
    )*};
}

squares! {
    Length * Length = Area;
    Area * Area = SecondMoment;
}

products! {
    Length * Area = SectionModulus;
    Length * SectionModulus = SecondMoment;
    Pressure * Length = Stiffness;
    Pressure * Area = Force;
    Pressure * SectionModulus = Torque;
    Pressure * SecondMoment = Rigidity;
    Stiffness * Length = Force;
    Stiffness * Area = Torque;
    Stiffness * SectionModulus = Rigidity;
    Force * Length = Torque;
    Force * Area = Rigidity;
    Torque * Length = Rigidity;
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every product and quotient by hand, from 2, 3 and the units alone.
    #[test]
    fn products_and_quotients_have_the_dimension_of_their_units() {
        let l = Length::from_mm(2.0);
        let area = l * Length::from_mm(3.0);
        assert_eq!(area, Area::from_mm2(6.0));
        assert_eq!(area * l, SectionModulus::from_mm3(12.0));
        assert_eq!(area * area, SecondMoment::from_mm4(36.0));
        assert_eq!(area * area / l, SectionModulus::from_mm3(18.0));
        let stress = Stress::from_mpa(5.0);
        assert_eq!(stress * area, Force::from_newtons(30.0));
        assert_eq!(stress * (area * l), Moment::from_newton_mm(60.0));
        assert_eq!(stress * area * l / stress, SectionModulus::from_mm3(12.0));
        assert_eq!(stress * (area * area), Rigidity::from_newton_mm2(180.0));
        assert_eq!(stress * l, Stiffness::from_newtons_per_mm(10.0));
        assert_eq!(stress * l * l, Force::from_newtons(20.0));
        assert_eq!(stress * area / l, Stiffness::from_newtons_per_mm(15.0));
        assert_eq!(stress * area / area, stress);
    }

    #[test]
    fn ratios_are_plain_numbers() {
        let (a, b) = (Force::from_newtons(6.0), Force::from_newtons(4.0));
        let same = |x: f64, y: f64| assert_eq!(x.to_bits(), y.to_bits());
        same(a / b, 1.5);
        assert_eq!(a - b, 0.5 * b);
        assert_eq!(a + -b, b / 2.0);
    }
}
