//! What the links hang between: saddles on the bar, feet in the ports.

use crate::fault::Faults;
use crate::{Bar, Fault, PinPlate};
use measure::{Bounds, Force, Length, Stress};

/// A saddle: a T that rides on both rails, its stem hanging through the slot with the upper pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Saddle {
    /// Length along the bar, and along the pin.
    pub length: Bounds<Length>,
    /// Width of the stem across the bar.
    pub stem_width: Bounds<Length>,
    /// Width of the top across the bar.
    pub top_width: Bounds<Length>,
    /// Height of the top above the rails.
    pub top_height: Bounds<Length>,
    /// From the pin's axis down to the stem's end.
    pub edge: Bounds<Length>,
    /// Hole for the upper pin.
    pub hole: Bounds<Length>,
}

impl Saddle {
    /// What is wrong with it, on this bar.
    pub fn faults(&self, bar: &Bar, pin: Bounds<Length>) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("saddle length", self.length);
        faults.positive("saddle top height", self.top_height);
        faults.positive("saddle top width", self.top_width);
        let remedy = "the stem hangs in the slot: check both";
        faults.below("saddle stem width", self.stem_width, bar.slot, remedy);
        let remedy = "the top reaches over both rails: check slot and saddle";
        faults.below("slot between the rails", bar.slot, self.top_width, remedy);
        bar.within_reach(self.reach(bar), &mut faults);
        faults.positive("strip of a rail on which the saddle bears", self.strip(bar));
        let mut faults = faults.gathered();
        faults.extend(self.stem(pin).faults());
        faults
    }

    /// The stem with its hole. The pull is away from its end: the pin hangs from the hole's lower
    /// half.
    pub fn stem(&self, pin: Bounds<Length>) -> PinPlate {
        PinPlate {
            width: self.stem_width,
            thickness: self.length,
            hole: self.hole,
            edge: self.edge,
            pin,
            next: None,
            round: false,
        }
    }

    /// How far its stem may stand off the slot's middle.
    pub fn play(&self, bar: &Bar) -> Bounds<Length> {
        (bar.slot - self.stem_width) / 2.0
    }

    /// Width of the strip on which its top bears on one rail: from where its stem stands in the slot's
    /// middle to where it lies against the other rail.
    pub fn strip(&self, bar: &Bar) -> Bounds<Length> {
        bar.strip(self.top_width, self.play(bar))
    }

    /// Distance between the middles of the strips on which its top bears.
    pub fn reach(&self, bar: &Bar) -> Bounds<Length> {
        bar.reach(self.top_width)
    }

    /// Bearing stress on the more loaded rail's strip.
    pub fn bearing_stress(&self, pull: Bounds<Force>, bar: &Bar) -> Bounds<Stress> {
        pull * bar.rail_share(self.reach(bar)) / (self.length * self.strip(bar))
    }

    /// Bending stress in the top next to the stem: the more loaded rail's force at the strip's
    /// middle, on a section of the saddle's length and the top's height.
    pub fn top_bending(&self, pull: Bounds<Force>, bar: &Bar) -> Bounds<Stress> {
        // With the stem in the slot's middle; against the other rail.
        let centred = (self.reach(bar) - self.stem_width) / 2.0;
        let play = self.play(bar);
        let far = ((self.top_width - bar.slot) / 2.0 - play).min(bar.rail_width);
        let arm = centred.hull(play * 2.0 + far / 2.0);
        let modulus = self.length * (self.top_height * self.top_height) / 6.0;
        pull * bar.rail_share(self.reach(bar)) * arm / modulus
    }

    /// Shear stress in the top next to the stem, even over the section.
    pub fn top_shear(&self, pull: Bounds<Force>, bar: &Bar) -> Bounds<Stress> {
        pull * bar.rail_share(self.reach(bar)) / (self.length * self.top_height)
    }
}

/// A foot: a block through a port that bears up against the port's upper edge, bored for the lower
/// pin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Foot {
    /// Depth through the sidewall, and along the pin.
    pub depth: Bounds<Length>,
    /// Width in the port, as far as it bears on the port's edge.
    pub width: Bounds<Length>,
    /// From the pin's axis up to the face that bears.
    pub seat: Bounds<Length>,
    /// Hole for the lower pin.
    pub hole: Bounds<Length>,
}

impl Foot {
    /// What is wrong with it, in a sidewall `wall` thick between links `apart` from each other.
    pub fn faults(
        &self,
        wall: Bounds<Length>,
        apart: Bounds<Length>,
        pin: Bounds<Length>,
    ) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("foot depth", self.depth);
        faults.positive("foot width", self.width);
        faults.positive("foot's hole", self.hole);
        faults.positive("foot seat above the pin", self.seat);
        faults.positive("sidewall thickness", wall);
        faults.positive("lower pin diameter", pin);
        let remedy = "the hole reaches the foot's seat: check both";
        faults.below("half the foot's hole", self.hole / 2.0, self.seat, remedy);
        let slips = self.bearing(wall, apart);
        if slips.is_finite() && slips.low() <= Length::from_mm(0.0) {
            let remedy =
                "the foot may slip off the sidewall: shorten the lower pin, or take up its play";
            faults.push(Fault::out_of_range("foot's bearing on the sidewall", slips, remedy));
        }
        faults.gathered()
    }

    /// How much of the sidewall's thickness it bears on, between links `apart` from each other: as
    /// much as there is of wall and foot, less what the foot may slide off while wall and foot stay
    /// between the links, `wall + depth - apart`.
    pub fn bearing(&self, wall: Bounds<Length>, apart: Bounds<Length>) -> Bounds<Length> {
        let most = wall.min(self.depth);
        most.hull(most.min(wall + self.depth - apart))
    }

    /// Bearing stress on the port's edge: the pull over the stretch of the sidewall's thickness on
    /// which it bears, [`Foot::bearing`], times the foot's width. Even: no tilt.
    pub fn edge_stress(&self, pull: Bounds<Force>, bearing: Bounds<Length>) -> Bounds<Stress> {
        pull / (bearing * self.width)
    }

    /// Bearing stress of the pin in the foot, `F / (d t)` on the projected area: from evenly over the
    /// foot's depth to over no more than the stretch on which the foot bears on the wall.
    pub fn pin_stress(
        &self,
        pull: Bounds<Force>,
        pin: Bounds<Length>,
        bearing: Bounds<Length>,
    ) -> Bounds<Stress> {
        pull / (pin * self.depth.hull(bearing))
    }

    /// Bending stress over the sidewall: the pin's pull spread evenly over the depth, on the section above
    /// the hole. From `F (depth - bearing) / 8`, where the foot reaches as far beyond either side of the
    /// stretch on which it bears and that carries evenly, to `F depth / 8`, where it is slid to one side
    /// and what carries, which must stand under the pull, is as narrow as a line; a stretch short of the
    /// depth's middle leaves `F (depth - bearing)^2 / (2 depth)` at its edge. Statics.
    pub fn bending_stress(&self, pull: Bounds<Force>, bearing: Bounds<Length>) -> Bounds<Stress> {
        let none = Bounds::exactly(Length::from_mm(0.0));
        let height = self.seat - self.hole / 2.0;
        let modulus = self.width * (height * height) / 6.0;
        let beyond = (self.depth - bearing).max(none);
        let aside = (self.depth / 8.0).max(beyond * beyond / (self.depth * 2.0));
        pull * (beyond / 8.0).hull(aside) / modulus
    }
}
