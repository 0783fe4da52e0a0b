//! Columns: the load at which a pressed bar bows out.

use crate::Fault;
use crate::fault::Faults;
use measure::{Area, Bounds, Force, Length, Stress};

/// How a column's ends are held, and the effective length that follows.
///
/// Each factor reaches from the theoretical value to the one recommended for design where ends are
/// never perfect (AISC 360 commentary, table C-A-7.1, from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EndHold {
    /// Both ends held straight and in place: 0.5 to 0.65.
    FixedFixed,
    /// One end held straight, the other in place but free to turn: 0.7 to 0.8.
    FixedPinned,
    /// Both ends in place and free to turn: 1.
    PinnedPinned,
    /// One end held straight, the other free to move aside: 2 to 2.1.
    FixedFree,
}

impl EndHold {
    /// Effective length over length.
    pub fn factor(self) -> Bounds<f64> {
        match self {
            Self::FixedFixed => Bounds::between(0.5, 0.65),
            Self::FixedPinned => Bounds::between(0.7, 0.8),
            Self::PinnedPinned => Bounds::exactly(1.0),
            Self::FixedFree => Bounds::between(2.0, 2.1),
        }
    }
}

/// A straight column of one section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Effective length: the length times [`EndHold::factor`].
    pub effective_length: Bounds<Length>,
    /// Cross-section.
    pub area: Bounds<Area>,
    /// Second moment over area, about the axis about which it bows: the radius of gyration squared.
    pub gyration: Bounds<Area>,
}

impl Column {
    /// A round column.
    pub fn round(effective_length: Bounds<Length>, diameter: Bounds<Length>) -> Self {
        let square = diameter * diameter;
        Self { effective_length, area: Bounds::PI * square / 4.0, gyration: square / 16.0 }
    }

    /// A rectangular column that bows across its `depth`.
    pub fn rectangular(
        effective_length: Bounds<Length>,
        width: Bounds<Length>,
        depth: Bounds<Length>,
    ) -> Self {
        Self { effective_length, area: width * depth, gyration: depth * depth / 12.0 }
    }

    /// What is wrong with it.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.not_negative("column length", self.effective_length);
        faults.positive("column area", self.area);
        faults.positive("column radius of gyration squared", self.gyration);
        faults.gathered()
    }

    /// Slenderness squared: effective length over radius of gyration, squared.
    pub fn slenderness_squared(&self) -> Bounds<f64> {
        self.effective_length * self.effective_length / self.gyration
    }

    /// The load at which it bows out: Euler's `pi^2 E A / L^2` (with the slenderness `L`) where
    /// that leaves less than half the yield strength, Johnson's `A Sy (1 - Sy L^2 / (4 pi^2 E))`
    /// where the column is stouter. Both give `A Sy / 2` where they meet, at `L^2 = 2 pi^2 E / Sy`
    /// (both read on public pages, which name Shigley and Norton).
    ///
    /// For a load along the axis of a straight column: no bow, no load aside.
    pub fn critical_load(
        &self,
        modulus: Bounds<Stress>,
        yield_strength: Bounds<Stress>,
    ) -> Bounds<Force> {
        // It rises with area, gyration, modulus and strength and falls with length: the ends come
        // from the weakest and the strongest column.
        let weakest = Self {
            effective_length: self.effective_length.ends()[1],
            area: self.area.ends()[0],
            gyration: self.gyration.ends()[0],
        };
        let strongest = Self {
            effective_length: self.effective_length.ends()[0],
            area: self.area.ends()[1],
            gyration: self.gyration.ends()[1],
        };
        let [soft, stiff] = modulus.ends();
        let [weak, strong] = yield_strength.ends();
        weakest.load_of_one(soft, weak).hull(strongest.load_of_one(stiff, strong))
    }

    fn load_of_one(
        &self,
        modulus: Bounds<Stress>,
        yield_strength: Bounds<Stress>,
    ) -> Bounds<Force> {
        let euler = Bounds::PI * Bounds::PI * modulus / self.slenderness_squared();
        let half = yield_strength / 2.0;
        let stress = if self.slenderness_squared().high() > 0.0 && euler.high() < half.low() {
            euler
        } else {
            let loss = yield_strength / (Bounds::PI * Bounds::PI * modulus * 4.0)
                * self.slenderness_squared();
            yield_strength * (Bounds::exactly(1.0) - loss)
        };
        stress * self.area
    }
}
