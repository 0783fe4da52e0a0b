//! A pair of links on a pin: who carries what, and what the pin bears.

use crate::fault::Faults;
use crate::{Fault, cup};
use measure::{Bounds, Force, Length, Moment, Stress};

/// By how much links that bear unlike each other bring the shares of the pull nearer to even: a pin bowed in
/// a thick link bears at its inner face and in a thin one farther out. 0.038 is the most that 1500 pins on
/// springs of any stiffness came to, of which `tests/outside/bar_and_pin` keeps sixty.
const UNEVEN: f64 = 0.04;

/// A pair of links on one pin, one inside and one outside the sidewall.
///
/// A link bears on the pin somewhere between its inner face, where a pin that bows comes to bear, and
/// the middle of its thickness, as if the pin were straight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkPair {
    /// Thickness of the link inside.
    pub inside: Bounds<Length>,
    /// Thickness of the link outside.
    pub outside: Bounds<Length>,
    /// Distance between their inner faces: from what holds them apart to as far as they may be
    /// pushed out along the pin.
    pub apart: Bounds<Length>,
    /// Where what hangs between them pulls, from midway between their inner faces, positive toward the
    /// outside.
    pub off: Bounds<Length>,
}

impl LinkPair {
    /// What is wrong with it: sizes; links that stand within what lies `between` them along the pin;
    /// a pull beyond one of them.
    pub fn faults(&self, between: Bounds<Length>) -> Vec<Fault> {
        const APART: &str = "distance between the links";
        let mut faults = Faults::default();
        faults.positive("length of the pin's middle part", between);
        faults.positive("link thickness", self.inside);
        faults.positive("link thickness", self.outside);
        faults.positive(APART, self.apart);
        faults.finite("place of the pull between the links", self.off);
        let remedy = "the pull must act between the links: shorten the pin, or take up its play";
        faults.below(
            "place of the pull between the links",
            self.off.abs(),
            self.apart / 2.0,
            remedy,
        );
        if self.apart.is_finite() && between.is_finite() && self.apart.high() < between.low() {
            let remedy = "the links stand within what they hold: check both";
            faults.push(Fault::out_of_range(APART, self.apart, remedy));
        }
        faults.gathered()
    }

    /// Distance between the middles of their thicknesses.
    pub fn middles(&self) -> Bounds<Length> {
        self.apart + (self.inside + self.outside) / 2.0
    }

    /// Where the pull acts from midway between the middles of their thicknesses, positive toward the
    /// outside.
    pub fn lean(&self) -> Bounds<Length> {
        self.off - (self.outside - self.inside) / 4.0
    }

    /// Share of the pair's pull that the inside link carries, by levers: the outside link's distance
    /// from the pull over both, from where both links bear at their middles to where both bear at
    /// their inner faces, and for the less loaded of the two up to [`UNEVEN`] more, no more than half.
    /// Pins and links are statically determinate.
    pub fn inside_share(&self) -> Bounds<f64> {
        self.share(-1.0)
    }

    /// Share of the outside link.
    pub fn outside_share(&self) -> Bounds<f64> {
        self.share(1.0)
    }

    fn share(&self, toward: f64) -> Bounds<f64> {
        let at_middles = self.lean() / self.middles();
        let at_faces = self.off / self.apart;
        let half = Bounds::exactly(0.5);
        let by_levers = half + at_middles.hull(at_faces) * toward;
        let uneven = Bounds::exactly(UNEVEN);
        let [least, most] = by_levers.ends();
        let less = (least - uneven).max(half).min(least);
        let more = (most + uneven).min(half).max(most);
        Bounds::between(less.low(), more.high())
    }

    /// Greatest shear stress that a pin is checked for: the more loaded side's pull over the pin's
    /// section, `F s / (pi d^2 / 4)`. Even over the section, as handbooks and the example of
    /// `tests/worked/clamp.rs` take it; each pin is in double shear.
    pub fn pin_shear(&self, pull: Bounds<Force>, pin: Bounds<Length>) -> Bounds<Stress> {
        let share = self.inside_share().max(self.outside_share());
        pull * share / (Bounds::PI * (pin * pin) / 4.0)
    }

    /// Greatest moment in a pin: `F (a / 4 - e^2 / a) (1 - t / (2 a))` with the distance `a` between
    /// the links' middles, the pull's place `e` from midway, and the stretch `t` over which the pull
    /// is spread evenly: a simple beam with an even load over a part of it (any handbook), `i o / a`
    /// with the distances `i` and `o` of the links being `a / 4 - e^2 / a`. Links that bear nearer to
    /// the pull, as a bowed pin makes them, bend it less.
    pub fn pin_moment(&self, pull: Bounds<Force>, spread: Bounds<Length>) -> Bounds<Moment> {
        // It rises with the distance, and falls with the place off midway and the spread.
        let at = |a: Bounds<Length>, e: Bounds<Length>, t: Bounds<Length>| {
            (a / 4.0 - e * e / a) * (Bounds::exactly(1.0) - t / (a * 2.0))
        };
        let ([close, wide], [near, far]) = (self.middles().ends(), self.lean().abs().ends());
        let [short, long] = spread.ends();
        pull * at(wide, near, short).hull(at(close, far, long))
    }

    /// Bending stress in a pin, elastic.
    pub fn pin_bending(
        &self,
        pull: Bounds<Force>,
        spread: Bounds<Length>,
        pin: Bounds<Length>,
    ) -> Bounds<Stress> {
        cup::round_bending(self.pin_moment(pull, spread), pin)
    }
}

/// Greatest stress in a link `width` wide and `thickness` thick beside its `hole`, where the pin bears
/// anywhere from the middle of its thickness to its face: `F / A + 6 F e / (A t)` with `e` up to half
/// the thickness, so `F / A` to `4 F / A` on the section beside the hole (a bar pulled off its axis,
/// any handbook). Elastic; that the hole raises it locally is left out.
pub fn link_bending(
    pull: Bounds<Force>,
    width: Bounds<Length>,
    hole: Bounds<Length>,
    thickness: Bounds<Length>,
) -> Bounds<Stress> {
    pull / ((width - hole) * thickness) * Bounds::between(1.0, 4.0)
}
