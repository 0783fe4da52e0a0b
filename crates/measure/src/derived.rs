//! Scalars that only arise in formulas.

use std::fmt;

/// Declares a scalar that is held in one unit and never read from a document.
macro_rules! derived {
    ($(#[$doc:meta])* $name:ident, $inside:literal, $from:ident, $to:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("From ", $inside, ".")]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("In ", $inside, ".")]
            pub const fn $to(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!("{} ", $inside), self.0)
            }
        }
    };
}

derived!(
    /// An area, held in square millimetres.
    Area, "mm2", from_mm2, mm2
);

derived!(
    /// A section modulus, held in cubic millimetres: second moment over the outermost fibre's
    /// distance. A volume has the same dimension.
    SectionModulus, "mm3", from_mm3, mm3
);

derived!(
    /// A second moment of area, held in millimetres to the fourth.
    SecondMoment, "mm4", from_mm4, mm4
);

derived!(
    /// A bending rigidity, Young's modulus times second moment, held in newton square millimetres.
    Rigidity, "N mm2", from_newton_mm2, newton_mm2
);

derived!(
    /// A stiffness or a load along a line, held in newtons per millimetre.
    Stiffness, "N/mm", from_newtons_per_mm, newtons_per_mm
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_derived_scalar_is_written_with_its_unit() {
        assert_eq!(Area::from_mm2(2.5).to_string(), "2.5 mm2");
        assert_eq!(SecondMoment::from_mm4(1.0).to_string(), "1 mm4");
    }
}
