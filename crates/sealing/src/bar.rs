//! The clamp bar: two rails on two saddles, pressed up by the screw's block between them.
//!
//! Beam formulas for a load between two simple supports are in every handbook; they are written
//! here with the load's distance from the middle instead of from one end, so that bounds stay
//! narrow.

use crate::fault::Faults;
use crate::numbers::monotone;
use crate::{End, Fault};
use measure::{
    Area, Bounds, Force, Length, Moment, Rigidity, SecondMoment, SectionModulus, Stress,
};

/// The bar's sizes that carry load, and where the screw is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bar {
    /// Distance between the two saddles' middles: the supports.
    pub span: Bounds<Length>,
    /// Width of one rail.
    pub rail_width: Bounds<Length>,
    /// Height of the rails.
    pub rail_height: Bounds<Length>,
    /// Width of the slot between the rails.
    pub slot: Bounds<Length>,
    /// Where the screw is along the bar, from midway between the saddles, positive toward end A.
    pub along: Bounds<Length>,
    /// Where the screw is across the bar, from its centre line, either way.
    pub across: Bounds<Length>,
}

impl Bar {
    /// What is wrong with it: sizes, a screw outside the links, a screw outside the rails.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("span between the links", self.span);
        faults.positive("rail width", self.rail_width);
        faults.positive("rail height", self.rail_height);
        faults.positive("slot between the rails", self.slot);
        faults.finite("screw's place along the bar", self.along);
        faults.finite("screw's place across the bar", self.across);
        let remedy = "the screw must stand between the links: both pull only then";
        faults.below("screw's place along the bar", self.along.abs(), self.span / 2.0, remedy);
        let remedy = "the screw must stand between the rails: both carry only then";
        let half = self.rail_distance() / 2.0;
        faults.below("screw's place across the bar", self.across.abs(), half, remedy);
        faults.gathered()
    }

    /// Distance between the rails' middles.
    pub fn rail_distance(&self) -> Bounds<Length> {
        self.slot + self.rail_width
    }

    /// Share of the load that the saddle at an end carries: `1/2 +- e / L`, by levers. With it the
    /// two shares add up to 1 whatever the bar is made of.
    pub fn end_share(&self, end: End) -> Bounds<f64> {
        let lean = self.along / self.span;
        Bounds::exactly(0.5) + if end == End::A { lean } else { -lean }
    }

    /// Share of the load that the more loaded rail carries: `1/2 + |y| / s` with the distance `s`
    /// between the middles of the strips on which a part bears on both ([`Block::reach`],
    /// [`Saddle::reach`](crate::Saddle::reach)); of two parts the lesser asks for more. The part
    /// rests on both rails as on two supports; that the rails are joined at their ends evens it out,
    /// and is left out: in the frames of `tests/outside/bar_frame` the share is up to 5 % less.
    pub fn rail_share(&self, reach: Bounds<Length>) -> Bounds<f64> {
        Bounds::exactly(0.5) + self.across.abs() / reach
    }

    /// Distance between the middles of the strips on which a part `width` wide bears on both rails.
    pub(crate) fn reach(&self, width: Bounds<Length>) -> Bounds<Length> {
        ((self.slot + width) / 2.0).min(self.rail_distance())
    }

    /// Width of the strip on which a part `width` wide bears on one rail: from where it stands in the
    /// slot's middle to where it stands `off` toward the other rail.
    pub(crate) fn strip(&self, width: Bounds<Length>, off: Bounds<Length>) -> Bounds<Length> {
        let centred = (width - self.slot) / 2.0;
        centred.min(self.rail_width).hull((centred - off).min(self.rail_width))
    }

    /// Notes a screw beyond the strips: the part would bear on one rail alone.
    pub(crate) fn within_reach(&self, reach: Bounds<Length>, faults: &mut Faults) {
        let remedy = "the screw must stand between the strips that bear on the rails: both carry \
                      only then";
        faults.below("screw's place across the bar", self.across.abs(), reach / 2.0, remedy);
    }

    /// Section modulus of one rail, `w h^2 / 6`.
    pub fn rail_modulus(&self) -> Bounds<SectionModulus> {
        self.rail_width * (self.rail_height * self.rail_height) / 6.0
    }

    /// Second moment of both rails, `2 w h^3 / 12`.
    pub fn second_moment(&self) -> Bounds<SecondMoment> {
        self.rail_width * (self.rail_height * (self.rail_height * self.rail_height)) / 6.0
    }

    /// Cross-section of one rail.
    pub fn rail_area(&self) -> Bounds<Area> {
        self.rail_width * self.rail_height
    }

    /// Greatest moment, at the screw: `W a b / L = W (L / 4 - e^2 / L)`.
    pub fn moment(&self, load: Bounds<Force>) -> Bounds<Moment> {
        // It rises with the span and falls with the distance from the middle.
        let at = |span: Bounds<Length>, off: Bounds<Length>| span / 4.0 - off * off / span;
        let ([short, long], [near, far]) = (self.span.ends(), self.along.abs().ends());
        load * at(short, far).hull(at(long, near))
    }

    /// Bending stress in the more loaded rail, by [`Bar::rail_share`]: moment times its share over
    /// its section modulus. Plane bending of a slender bar; the load's spread over the block, which
    /// lowers it, is left out.
    pub fn bending_stress(&self, load: Bounds<Force>, reach: Bounds<Length>) -> Bounds<Stress> {
        self.moment(load) * self.rail_share(reach) / self.rail_modulus()
    }

    /// Greatest shear stress in the more loaded rail, by [`Bar::rail_share`]: `3/2 V / (w h)` at
    /// mid-height, with the larger support's force.
    pub fn shear_stress(&self, load: Bounds<Force>, reach: Bounds<Length>) -> Bounds<Stress> {
        let share = self.end_share(End::A).max(self.end_share(End::B));
        load * share * self.rail_share(reach) / self.rail_area() * 3.0 / 2.0
    }

    /// Greatest shear stress of twisting in the more loaded rail, where block and saddles bear on
    /// strips along the rails' inner edges, the narrower of which is `strip` wide: the torque
    /// `R (w - strip) / 2` of the larger support's force, on a rectangle ([`rectangle_torsion`]).
    ///
    /// An upper bound: saddle and block twist a rail opposite ways, and no stretch between them
    /// carries more than the one of the two that twists more.
    pub fn twist_stress(&self, load: Bounds<Force>, strip: Bounds<Length>) -> Bounds<Stress> {
        let none = Bounds::exactly(Length::from_mm(0.0));
        let arm = (self.rail_width - strip).max(none) / 2.0;
        let share = self.end_share(End::A).max(self.end_share(End::B));
        load * share * self.rail_share(self.slot + strip) * arm
            / rectangle_torsion(self.rail_width, self.rail_height)
    }

    /// Bending rigidity of both rails.
    pub fn rigidity(&self, modulus: Bounds<Stress>) -> Bounds<Rigidity> {
        modulus * self.second_moment()
    }

    /// How far the bar bends up at the screw: `W a^2 b^2 / (3 E I L)`, with `a b = L^2 / 4 - e^2`.
    /// Bending alone: shear adds [`Bar::shear_deflection`].
    pub fn deflection_at_screw(
        &self,
        load: Bounds<Force>,
        modulus: Bounds<Stress>,
    ) -> Bounds<Length> {
        let at = |span: Bounds<Length>, off: Bounds<Length>| {
            let ends = span * span / 4.0 - off * off;
            ends * ends / span
        };
        let ([short, long], [near, far]) = (self.span.ends(), self.along.abs().ends());
        let shape = at(short, far).hull(at(long, near));
        load / (self.rigidity(modulus) * 3.0 / shape)
    }

    /// How far the bar bends up where it bends most: `W b (L^2 - b^2)^(3/2) / (9 sqrt(3) E I L)`
    /// with the shorter end `b`, at `sqrt((L^2 - b^2) / 3)` from the farther saddle. Bending alone.
    pub fn deflection(&self, load: Bounds<Force>, modulus: Bounds<Stress>) -> Bounds<Length> {
        let at = |span: Bounds<Length>, off: Bounds<Length>| {
            let end = span / 2.0 - off;
            let square = span * span - end * end;
            square * square.sqrt() * (end / span)
        };
        let ([short, long], [near, far]) = (self.span.ends(), self.along.abs().ends());
        let shape = at(short, far).hull(at(long, near));
        load / (self.rigidity(modulus) * 9.0 * Bounds::exactly(3.0).sqrt() / shape)
    }

    /// How much the bar leans at the screw, as rise over run: `W a b (b - a) / (3 E I L)`, here
    /// `2 W e (L^2 / 4 - e^2) / (3 E I L)`; the screw leans with it. Bending alone: shear does not turn
    /// the section.
    pub fn slope_at_screw(&self, load: Bounds<Force>, modulus: Bounds<Stress>) -> Bounds<f64> {
        let at = |span: Bounds<Length>, off: Bounds<Length>| off * (span / 4.0 - off * off / span);
        let ([short, long], [near, far]) = (self.span.ends(), self.along.abs().ends());
        // It rises with the span; with the distance from the middle it rises up to L / (2 sqrt(3)) and
        // falls from there on.
        let peak = long / (Bounds::exactly(3.0).sqrt() * 2.0);
        let most = if near.low() < peak.high() && peak.low() < far.high() {
            at(long, peak)
        } else {
            at(long, near).hull(at(long, far))
        };
        let shape = at(short, near).hull(at(short, far)).hull(most);
        load * shape / (self.rigidity(modulus) * 1.5)
    }

    /// What shear adds at the screw: `6/5 W a b / (G A L)` with both rails' section `A` and the
    /// shear modulus `G` (Timoshenko's beam with the factor 6/5 of a rectangle, from memory). With
    /// [`Bar::deflection_at_screw`] it comes to no less than plates in plane stress do, and to at most 4 %
    /// more (`tests/outside/bar_and_pin`).
    pub fn shear_deflection(
        &self,
        load: Bounds<Force>,
        shear_modulus: Bounds<Stress>,
    ) -> Bounds<Length> {
        let force = shear_modulus * (self.rail_area() * 2.0);
        self.moment(load) / force * 6.0 / 5.0
    }
}

/// Torsional section modulus of a rectangle: the greatest shear stress, in the middle of the longer
/// sides, is the torque over it (Roark, from memory; the table's 0.208 and 0.246 for sides of 1:1
/// and 1:2 come out).
pub fn rectangle_torsion(width: Bounds<Length>, height: Bounds<Length>) -> Bounds<SectionModulus> {
    let (short, long) = (width.min(height), width.max(height));
    let series = monotone(short / long, |r| {
        let at = |figure: f64| Bounds::within(figure, f64::EPSILON);
        let tail = at(0.8865) - r * (at(1.8023) - r * at(0.91));
        Bounds::exactly(1.0) + r * (at(0.6095) + r * tail)
    });
    long * (short * short) / (series * 3.0)
}

/// The block that carries the screw, under both rails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Block {
    /// Length along the bar.
    pub length: Bounds<Length>,
    /// Width across the bar.
    pub width: Bounds<Length>,
    /// Height: the length of nut that holds the screw.
    pub height: Bounds<Length>,
}

impl Block {
    /// What is wrong with it: sizes, a screw wider than the block, a block narrower than the slot.
    pub fn faults(&self, bar: &Bar, screw: Bounds<Length>) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("screw block length", self.length);
        faults.positive("screw block width", self.width);
        faults.positive("screw block height", self.height);
        let remedy = "the screw's hole leaves no block: check both";
        faults.below("thread diameter", screw, self.length, remedy);
        let remedy = "the block reaches under both rails: check slot and block";
        faults.below("slot between the rails", bar.slot, self.width, remedy);
        bar.within_reach(self.reach(bar), &mut faults);
        faults.positive("strip of a rail on which the block bears", self.strip(bar));
        faults.gathered()
    }

    /// Width of the strip on which it bears on one rail: from where it stands in the slot's middle to
    /// where it stands off with the screw.
    pub fn strip(&self, bar: &Bar) -> Bounds<Length> {
        bar.strip(self.width, bar.across.abs())
    }

    /// Distance between the middles of the strips on which it bears.
    pub fn reach(&self, bar: &Bar) -> Bounds<Length> {
        bar.reach(self.width)
    }

    /// Bending stress where the screw's hole weakens it: as a beam across the slot between the
    /// strips' middles with the load in its middle, `M = W s / 4`, on the section left beside the
    /// hole. The load's spread round the hole, which lowers it, is left out.
    pub fn bending_stress(
        &self,
        load: Bounds<Force>,
        bar: &Bar,
        screw: Bounds<Length>,
    ) -> Bounds<Stress> {
        let modulus = (self.length - screw) * (self.height * self.height) / 6.0;
        load * self.reach(bar) / 4.0 / modulus
    }

    /// Bearing stress on the more loaded rail's strip.
    pub fn bearing_stress(&self, load: Bounds<Force>, bar: &Bar) -> Bounds<Stress> {
        load * bar.rail_share(self.reach(bar)) / (self.length * self.strip(bar))
    }
}
