//! A column that is pressed beside its axis and twisted.

use crate::fault::Faults;
use crate::{Column, Fault};
use measure::{Bounds, Force, Length, SectionModulus, Stress, Torque};

/// A column that bows under a load beside its axis, and is twisted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressedColumn {
    /// The column.
    pub column: Column,
    /// From its axis to the outermost fibre on the side to which it bows.
    pub fibre: Bounds<Length>,
    /// Its torsional section modulus.
    pub torsion: Bounds<SectionModulus>,
    /// How far off its axis the load acts, `>= 0`.
    pub off: Bounds<Length>,
}

/// Numbers of one column in millimetres and newtons, every one known.
#[derive(Clone, Copy)]
struct Known {
    area: f64,
    gyration: f64,
    fibre: f64,
    torsion: f64,
    length: f64,
    off: f64,
    load: f64,
    torque: f64,
    modulus: f64,
    strength: f64,
}

impl PressedColumn {
    /// A round rod.
    pub fn round(
        effective_length: Bounds<Length>,
        diameter: Bounds<Length>,
        off: Bounds<Length>,
    ) -> Self {
        Self {
            column: Column::round(effective_length, diameter),
            fibre: diameter / 2.0,
            torsion: Bounds::PI * (diameter * (diameter * diameter)) / 16.0,
            off,
        }
    }

    /// What is wrong with it.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("distance of the column's outermost fibre", self.fibre);
        faults.positive("torsional section modulus of the column", self.torsion);
        faults.not_negative("distance of the load from the column's axis", self.off);
        let mut faults = faults.gathered();
        faults.extend(self.column.faults());
        faults
    }

    /// How many times the load and the torque may be until its outermost fibre yields: the secant
    /// formula, `W / A (1 + e c / r^2 sec(L / 2 sqrt(W / (E I))))`, with the torque's shear by Tresca
    /// (any handbook). Below Euler's load whatever the strength. Neither load nor torque negative.
    ///
    /// For ends that are free to turn and pressed equally far off, and with twice its length for one
    /// end held straight and the other free; between those the effective length stands in.
    pub fn yield_factor(
        &self,
        load: Bounds<Force>,
        torque: Bounds<Torque>,
        modulus: Bounds<Stress>,
        yield_strength: Bounds<Stress>,
    ) -> Bounds<f64> {
        // It falls with length, distances, load and torque and rises with the rest.
        let column = self.column;
        let worst = Known {
            area: column.area.low().mm2(),
            gyration: column.gyration.low().mm2(),
            fibre: self.fibre.high().mm(),
            torsion: self.torsion.low().mm3(),
            length: column.effective_length.high().mm(),
            off: self.off.high().mm(),
            load: load.high().newtons(),
            torque: torque.high().newton_mm(),
            modulus: modulus.low().mpa(),
            strength: yield_strength.low().mpa(),
        };
        let best = Known {
            area: column.area.high().mm2(),
            gyration: column.gyration.high().mm2(),
            fibre: self.fibre.low().mm(),
            torsion: self.torsion.high().mm3(),
            length: column.effective_length.low().mm(),
            off: self.off.low().mm(),
            load: load.low().newtons(),
            torque: torque.low().newton_mm(),
            modulus: modulus.high().mpa(),
            strength: yield_strength.high().mpa(),
        };
        Bounds::between(worst.factor().0, best.factor().1)
    }
}

/// No multiple above this is looked for, and none below one over it.
const BEYOND: f64 = 1e100;

impl Known {
    /// Stress by Tresca at `n` times load and torque; without bound from Euler's load on.
    fn stress(&self, n: f64) -> f64 {
        let direct = n * self.load / self.area;
        let bow = 0.5 * self.length * (direct / (self.modulus * self.gyration)).sqrt();
        if bow.is_nan() || bow >= std::f64::consts::FRAC_PI_2 {
            return f64::INFINITY;
        }
        let pressed = direct * (1.0 + self.off * self.fibre / self.gyration / bow.cos());
        pressed.hypot(2.0 * n * self.torque / self.torsion)
    }

    /// The multiple at which the strength is reached, between two numbers; from nothing to without bound
    /// where a number does not do.
    fn factor(&self) -> (f64, f64) {
        let Self { area, gyration, fibre, torsion, length, off, load, torque, modulus, strength } =
            *self;
        let all = [area, gyration, fibre, torsion, length, off, load, torque, modulus, strength];
        if all.into_iter().any(f64::is_nan) {
            return (0.0, f64::INFINITY);
        }
        let (mut low, mut high) = (0.0, 1.0);
        while self.stress(high) <= self.strength {
            (low, high) = (high, high * 2.0);
            if high > BEYOND {
                return (low, f64::INFINITY);
            }
        }
        while high - low > 1e-13 * high && high > 1.0 / BEYOND {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if self.stress(middle) <= self.strength {
                low = middle;
            } else {
                high = middle;
            }
        }
        // For the rounding of the stress itself.
        (low * (1.0 - 1e-12), high * (1.0 + 1e-12))
    }
}
