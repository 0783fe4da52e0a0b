//! A pair of links on its two pins: who carries what, and what the pins bear.

use crate::fault::Faults;
use crate::{Fault, cup};
use measure::{Bounds, Force, Length, Moment, Stress};

/// One link of a pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkPlace {
    /// Distance from the line on which saddle and foot pull to the link's mid-thickness.
    pub distance: Bounds<Length>,
    /// Its thickness.
    pub thickness: Bounds<Length>,
}

/// A pair of links, one inside and one outside the sidewall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkPair {
    /// The link inside.
    pub inside: LinkPlace,
    /// The link outside.
    pub outside: LinkPlace,
}

impl LinkPair {
    /// What is wrong with it: sizes; links that stand within what lies between them, `middle` along
    /// the pin.
    pub fn faults(&self, middle: Bounds<Length>) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("length of the pin's middle part", middle);
        for link in [self.inside, self.outside] {
            faults.positive("link thickness", link.thickness);
            faults.positive("distance of the link from the line of pull", link.distance);
            let inner = link.distance - link.thickness / 2.0;
            if inner.is_finite() && middle.is_finite() && inner.high() < middle.low() / 2.0 {
                faults.push(Fault::out_of_range(
                    "distance of the link from the line of pull",
                    link.distance,
                    "the link stands within what it holds: check distance and thickness",
                ));
            }
        }
        faults.gathered()
    }

    /// Share of the pair's pull that the inside link carries, by levers: the outside link's
    /// distance over both. The links' thicknesses do not enter: pins and links are statically
    /// determinate.
    pub fn inside_share(&self) -> Bounds<f64> {
        let one = Bounds::exactly(1.0);
        one / (one + self.inside.distance / self.outside.distance)
    }

    /// Share of the outside link.
    pub fn outside_share(&self) -> Bounds<f64> {
        let one = Bounds::exactly(1.0);
        one / (one + self.outside.distance / self.inside.distance)
    }

    /// Greatest shear stress that a pin is checked for: the more loaded side's pull over the pin's
    /// section, `F s / (pi d^2 / 4)`. Even over the section, as handbooks and the example of
    /// `tests/worked/clamp.rs` take it; each pin is in double shear.
    pub fn pin_shear(&self, pull: Bounds<Force>, pin: Bounds<Length>) -> Bounds<Stress> {
        let share = self.inside_share().max(self.outside_share());
        pull * share / (Bounds::PI * (pin * pin) / 4.0)
    }

    /// Greatest moment in a pin: `F i o / (i + o) - F t / 8` with the distances `i` and `o` of the
    /// links and the length `t` of the part between them, over which the pull is spread evenly.
    /// With `i = o` it is a knuckle joint's `F / 2 (t1 / 2 + t / 4)` for evenly loaded forks `t1`.
    pub fn pin_moment(&self, pull: Bounds<Force>, middle: Bounds<Length>) -> Bounds<Moment> {
        // i o / (i + o) rises with both distances.
        let at = |i: Bounds<Length>, o: Bounds<Length>| i / (Bounds::exactly(1.0) + i / o);
        let ([near, far], [close, wide]) =
            (self.inside.distance.ends(), self.outside.distance.ends());
        let reach = at(near, close).hull(at(far, wide));
        pull * (reach - middle / 8.0)
    }

    /// Bending stress in a pin, elastic.
    pub fn pin_bending(
        &self,
        pull: Bounds<Force>,
        middle: Bounds<Length>,
        pin: Bounds<Length>,
    ) -> Bounds<Stress> {
        cup::round_bending(self.pin_moment(pull, middle), pin)
    }
}
