//! A flat bar pulled by a pin through its hole: a link's end, a saddle's stem.
//!
//! Nominal strengths: AISC 360, section D5 with J7 (read in a secondary copy with the example of
//! `tests/worked/clamp.rs`). They are what breaks or yields the part; no resistance factor is taken
//! off, as the safety factor is told beside the owner's own.

use crate::Fault;
use crate::fault::Faults;
use measure::{Bounds, Force, Length, Stress};

/// A plate with a pin's hole near its end.
///
/// The code's rule that the hole be at most 1/32 in wider than the pin is for parts that turn under
/// full load (read in a public copy of the 1999 edition, D3.1b); links hang still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PinPlate {
    /// Width across the pull.
    pub width: Bounds<Length>,
    /// Thickness along the pin.
    pub thickness: Bounds<Length>,
    /// Diameter of the hole.
    pub hole: Bounds<Length>,
    /// From the hole's centre to the plate's end.
    pub edge: Bounds<Length>,
    /// Diameter of the pin.
    pub pin: Bounds<Length>,
    /// From the hole's centre to that of the next hole on the pull's way to the end, where there is
    /// one, as wide.
    pub next: Option<Bounds<Length>>,
    /// Whether the end is round, of half the width; else it is square.
    pub round: bool,
}

/// What the code adds to twice the thickness for the width that rupture uses: 5/8 in (AISC D5.1;
/// 0.63 in in earlier editions).
const ADDED: Length = Length::from_mm(15.875);

impl PinPlate {
    /// What is wrong with it: sizes, a hole wider than the plate or beyond its end, a pin wider
    /// than the hole.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("pin plate width", self.width);
        faults.positive("pin plate thickness", self.thickness);
        faults.positive("pin hole", self.hole);
        faults.positive("pin plate edge", self.edge);
        faults.positive("pin diameter", self.pin);
        let remedy = "the hole leaves no plate beside it: check both";
        faults.below("pin hole", self.hole, self.width, remedy);
        let remedy = "the hole reaches the plate's end: check both";
        faults.below("half the pin hole", self.hole / 2.0, self.edge, remedy);
        if let Some(next) = self.next {
            let remedy = "the next hole runs into this one: check both";
            faults.below("pin hole", self.hole, next, remedy);
        }
        if self.pin.is_finite() && self.hole.is_finite() && self.pin.low() > self.hole.high() {
            let remedy = "the pin does not go into its hole: check both";
            faults.push(Fault::out_of_range("pin diameter", self.pin, remedy));
        }
        faults.gathered()
    }

    /// Plate from the hole's edge to the end or to the next hole's edge, along the pull.
    fn beyond(&self) -> Bounds<Length> {
        let to_end = self.edge - self.hole / 2.0;
        self.next.map_or(to_end, |next| to_end.min(next - self.hole))
    }

    /// What a round end cuts off beside the pin: `(w - sqrt(w^2 - d^2)) / 2`.
    fn cut_off(&self) -> Bounds<Length> {
        // It falls with the width and rises with the pin.
        let at = |w: Bounds<Length>, d: Bounds<Length>| (w - ((w + d) * (w - d)).sqrt()) / 2.0;
        let ([narrow, wide], [thin, thick]) = (self.width.ends(), self.pin.ends());
        at(wide, thin).hull(at(narrow, thick))
    }

    /// Width on each side that counts for rupture: what is there, `2 t + 5/8 in`, and what the
    /// plate beyond the hole allows by the code's rule `a >= 1.33 be`, whichever is least. A plate
    /// that breaks the rule is taken as the narrower one that keeps it.
    pub fn rupture_width(&self) -> Bounds<Length> {
        let there = (self.width - self.hole) / 2.0;
        let by_thickness = self.thickness * 2.0 + Bounds::exactly(ADDED);
        let by_end = self.beyond() / Bounds::within(1.33, f64::EPSILON);
        there.min(by_thickness).min(by_end)
    }

    /// Rupture on the net section: `Fu 2 t be` (D5-1).
    pub fn rupture(&self, tensile_strength: Bounds<Stress>) -> Bounds<Force> {
        tensile_strength * (self.thickness * self.rupture_width() * 2.0)
    }

    /// Shear out of the end: `0.6 Fu 2 t (a + d / 2)` (D5-2). The code's planes run along the pin's
    /// sides from its middle on; a round end makes them shorter.
    pub fn tear_out(&self, tensile_strength: Bounds<Stress>) -> Bounds<Force> {
        let square = self.beyond() + self.pin / 2.0;
        let length = if self.round { square - self.cut_off() } else { square };
        tensile_strength * Bounds::within(0.6, f64::EPSILON) * (self.thickness * length * 2.0)
    }

    /// Bearing of the pin in its hole: `1.8 Fy d t` (J7-1).
    pub fn bearing(&self, yield_strength: Bounds<Stress>) -> Bounds<Force> {
        yield_strength * Bounds::within(1.8, f64::EPSILON) * (self.pin * self.thickness)
    }

    /// Yield away from the hole: `Fy w t` (D2-1).
    pub fn yielding(&self, yield_strength: Bounds<Stress>) -> Bounds<Force> {
        yield_strength * (self.width * self.thickness)
    }
}
