//! What the gasket asks of the screw: end load, contact load, and what a screw off the cup's axis
//! adds.
//!
//! Code factors and effective width: ASME Boiler and Pressure Vessel Code, Section VIII Division 1,
//! Appendix 2, tables 2-5.1 and 2-5.2 (read in secondary copies that agree). Uneven contact: a ring
//! that stays plane presses like a section under load and moment; its kern is that of an annulus.

use crate::Fault;
use crate::fault::Faults;
use crate::numbers::monotone;
use measure::{Area, Bounds, Force, Length, Moment, Pressure, Stress};

/// A ring on which contact is reckoned: a circle with a width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Diameter of the circle midway through the width.
    pub mean: Bounds<Length>,
    /// Radial width.
    pub width: Bounds<Length>,
}

impl Ring {
    /// Its area, `pi G w`.
    pub fn area(&self) -> Bounds<Area> {
        Bounds::PI * (self.mean * self.width)
    }

    /// How far off its axis a load may act before one side lifts: second moment over area and
    /// outside radius, `(Ro^2 + Ri^2) / (4 Ro)` for an annulus.
    pub fn kern(&self) -> Bounds<Length> {
        let slim = self.width / self.mean;
        let one = Bounds::exactly(1.0);
        // Ri / Ro, which falls with the width's share of the mean diameter.
        let ratio = monotone(slim, |s| (one - s) / (one + s));
        (self.mean + self.width) * (one + ratio * ratio) / 8.0
    }
}

/// An annulus on which a gasket bears or is pressed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Face {
    /// Inside diameter.
    pub inside: Bounds<Length>,
    /// Outside diameter.
    pub outside: Bounds<Length>,
}

impl Face {
    /// The whole face as a ring.
    pub fn whole(&self) -> Ring {
        Ring { mean: (self.outside + self.inside) / 2.0, width: (self.outside - self.inside) / 2.0 }
    }

    /// The ring on which the code reckons: the effective width `2 b` about the diameter `G` of the
    /// gasket's reaction. Narrow gaskets (`b0 = N / 2` up to 6 mm): the whole face. Wider ones:
    /// `b = 2.5 sqrt(b0)` in mm, at the outer edge, `G = OD - 2 b`.
    pub fn by_code(&self) -> Ring {
        let whole = self.whole();
        let basic = whole.width / 2.0;
        let effective = effective_width(basic);
        let edge = Ring { mean: self.outside - effective * 2.0, width: effective * 2.0 };
        if basic.high() <= NARROW {
            whole
        } else if basic.low() > NARROW {
            edge
        } else {
            Ring { mean: whole.mean.hull(edge.mean), width: whole.width.hull(edge.width) }
        }
    }
}

/// Up to this basic width the whole of it is effective (table 2-5.2, SI form).
const NARROW: Length = Length::from_mm(6.0);

/// The code's effective width `b` of a basic width `b0` (table 2-5.2, SI form): `b0` up to 6 mm,
/// `2.5 sqrt(b0)` above, both in mm.
pub fn effective_width(basic: Bounds<Length>) -> Bounds<Length> {
    monotone(basic, |b0| {
        if b0.high() <= NARROW {
            b0
        } else {
            // The code's 2.5 carries the unit: the square root of a millimetre.
            (b0 * Bounds::exactly(Length::from_mm(6.25))).sqrt()
        }
    })
}

/// End load: what the pressure pushes off within a circle, `pi / 4 G^2 p` (the code's `H`).
pub fn end_load(circle: Bounds<Length>, pressure: Bounds<Pressure>) -> Bounds<Force> {
    let (none, still) = (Force::from_newtons(0.0), Pressure::from_mpa(0.0));
    let pushed = pressure * (Bounds::PI * (circle * circle) / 4.0);
    // Nothing is pushed off by nothing, nor pulled on by any pressure, not even by rounding.
    if pressure.low() >= still && pressure.high() <= still {
        Bounds::exactly(none)
    } else if pressure.low() >= still {
        pushed.max(Bounds::exactly(none))
    } else {
        pushed
    }
}

/// The gasket factors of table 2-5.1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CodeFactors {
    /// Contact stress to keep up, as a multiple of the pressure: `m`.
    pub m: Bounds<f64>,
    /// Seating stress: `y`.
    pub y: Bounds<Stress>,
}

impl CodeFactors {
    /// Rubber without fabric, below 75 on the Shore A scale: `m = 0.5, y = 0`.
    pub fn soft_rubber() -> Self {
        Self { m: Bounds::exactly(0.5), y: Bounds::exactly(Stress::from_mpa(0.0)) }
    }

    /// Rubber without fabric, 75 or more on the Shore A scale: `m = 1, y = 200 psi` (1.38 N/mm2).
    pub fn hard_rubber() -> Self {
        Self { m: Bounds::exactly(1.0), y: Bounds::exactly(Stress::from_psi(200.0)) }
    }

    /// Rubber with cotton fabric: `m = 1.25, y = 400 psi` (2.76 N/mm2).
    pub fn cotton_rubber() -> Self {
        Self { m: Bounds::exactly(1.25), y: Bounds::exactly(Stress::from_psi(400.0)) }
    }
}

/// Load to keep the joint tight under pressure by the code: `Wm1 = H + 2 b pi G m p` (Appendix 2,
/// equation 1).
pub fn operating_load(
    ring: &Ring,
    factors: &CodeFactors,
    pressure: Bounds<Pressure>,
) -> Bounds<Force> {
    end_load(ring.mean, pressure) + pressure * factors.m * ring.area()
}

/// Load to seat the gasket by the code: `Wm2 = pi b G y` (Appendix 2, equation 2); half the
/// effective ring's area. Zero for soft rubber: the code alone asks for no seating load there.
pub fn seating_load(ring: &Ring, factors: &CodeFactors) -> Bounds<Force> {
    factors.y * ring.area() / 2.0
}

/// What a gasket's supplier states, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct SupplierStress {
    /// Contact stress that it needs at least, over its whole face and with pressure on; `None` where
    /// it is not stated.
    pub least: Option<Bounds<Stress>>,
    /// Contact stress that it bears at most; `None` where it is not stated.
    pub most: Option<Bounds<Stress>>,
    /// What the figures rest on.
    pub basis: String,
}

/// How the screw's load falls on the cup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aim {
    /// Distance between the screw's line and the cup's axis, `>= 0`.
    pub offset: Bounds<Length>,
    /// Moment about a level axis that does not come from the screw, `>= 0`: the outlet's weight.
    /// Taken to act the same way as the offset.
    pub side_moment: Bounds<Moment>,
}

/// The load with which the least contact stress on a ring is `stress`:
/// `(H + A s + M / k) / (1 - e / k)`, with the end load `H`, the ring's area `A` and kern `k`, the
/// screw's offset `e` and the side moment `M`.
///
/// From `(W - H) / A - (W e + M) / (A k) = s`: the ring stays plane and nothing pulls, the linear
/// distribution of contact under a rigid cup. A soft gasket under a stiff cup is close to it.
/// Fault: an offset at or beyond the kern, where one side lifts whatever the load is.
pub fn load_for_contact(
    ring: &Ring,
    stress: Bounds<Stress>,
    end_load: Bounds<Force>,
    aim: &Aim,
) -> Result<Bounds<Force>, Fault> {
    let kern = ring.kern();
    let left = Bounds::exactly(1.0) - aim.offset / kern;
    if left.low() <= 0.0 {
        return Err(Fault::out_of_range(
            "distance of the screw from the cup's axis",
            aim.offset,
            format!(
                "{:.2} mm from the axis one side lifts whatever the load: bring the screw nearer",
                (kern.low().mm() * 100.0).floor() / 100.0
            ),
        ));
    }
    Ok((end_load + stress * ring.area() + aim.side_moment / kern) / left)
}

/// Contact on a ring under a given load: least and greatest stress,
/// `(W - H) / A -+ (W e + M) / (A k)`. Below zero means that one side has lifted, and the figures
/// no longer hold.
pub fn contact(
    ring: &Ring,
    load: Bounds<Force>,
    end_load: Bounds<Force>,
    aim: &Aim,
) -> [Bounds<Stress>; 2] {
    let mean = (load - end_load) / ring.area();
    let swing = (load * aim.offset + aim.side_moment) / (ring.area() * ring.kern());
    [mean - swing, mean + swing]
}

/// A gasket: its face, and what it asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct Gasket {
    /// Its own face, as it lies on the plate. What it is asked for is asked for here, as its supplier and
    /// the code mean it: through a soft gasket's thickness the load spreads to all of it.
    pub face: Face,
    /// Where the cup's rim presses into it: its own face where nothing narrower does.
    pub rim: Face,
    /// The code's factors, where its table has the material.
    pub code: Option<CodeFactors>,
    /// The supplier's figures.
    pub supplier: Option<SupplierStress>,
}

impl Gasket {
    /// What is wrong with it: sizes, a hole wider than the ring, negative factors.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("gasket inside diameter", self.face.inside);
        faults.positive("gasket outside diameter", self.face.outside);
        let remedy = "the inside diameter lies below the outside diameter: check both";
        faults.below("gasket inside diameter", self.face.inside, self.face.outside, remedy);
        faults.positive("inside diameter of the rim on the gasket", self.rim.inside);
        let remedy = "the rim presses on the gasket: check cup and gasket";
        let (name, rim) = ("inside diameter of the rim on the gasket", self.rim);
        faults.below(name, rim.inside, rim.outside, remedy);
        if let Some(code) = &self.code {
            faults.not_negative("gasket factor m", code.m);
            faults.not_negative("gasket seating stress y", code.y);
        }
        if let Some(supplier) = &self.supplier {
            if let Some(least) = supplier.least {
                faults.positive("gasket minimum contact stress", least);
            }
            if let Some(most) = supplier.most {
                faults.positive("gasket maximum contact stress", most);
            }
            if let (Some(least), Some(most)) = (supplier.least, supplier.most) {
                let remedy = "the least stress lies below the most: check both";
                faults.below("gasket minimum contact stress", least, most, remedy);
            }
        }
        faults.gathered()
    }

    /// Whether it is given how hard it must be pressed without pressure: by its supplier, or by the
    /// code's seating stress. Fault: neither.
    pub fn seats(&self) -> Result<(), Fault> {
        let seats_by_code = self.code.is_some_and(|c| c.y.low() > Stress::from_mpa(0.0));
        if self.least().is_some() || seats_by_code {
            return Ok(());
        }
        Err(Fault::missing(
            "gasket minimum contact stress",
            "the code gives no seating stress for this gasket: ask its supplier, and say where the \
             figure stands",
        ))
    }

    /// Contact stress to keep up, as a multiple of the pressure: the code's `m`, and no less than 1.
    /// A seal is asked for no less contact than the pressure that it contains: what lies below it would
    /// be lifted (common practice for gaskets that the pressure does not press, no source). The code's
    /// 0.5 for soft rubber rests on flanges whose bolts are tightened far beyond it.
    pub fn multiple(&self) -> Bounds<f64> {
        let one = Bounds::exactly(1.0);
        self.code.map_or(one, |code| code.m.max(one))
    }

    /// Contact stress that the whole face is asked for under pressure: the supplier's, or the
    /// pressure's multiple where that is more; `None` without a supplier's figure.
    pub fn asked(&self, pressure: Bounds<Pressure>) -> Option<Bounds<Stress>> {
        self.least().map(|least| least.max(pressure * self.multiple()))
    }

    /// Contact stress that it needs at least, by its supplier.
    fn least(&self) -> Option<Bounds<Stress>> {
        self.supplier.as_ref().and_then(|supplier| supplier.least)
    }

    /// Its own face and the rim's.
    const fn faces(&self) -> [Face; 2] {
        [self.face, self.rim]
    }

    /// The end load: on the code's circle or the mean circle, of its own face or the rim's, whichever
    /// is largest.
    pub fn end_load(&self, pressure: Bounds<Pressure>) -> Bounds<Force> {
        let circle = |face: Face| face.by_code().mean.max(face.whole().mean);
        end_load(circle(self.face).max(circle(self.rim)), pressure)
    }

    /// How far off its axis a load may act before one side lifts, off its own face or the rim.
    pub fn kern(&self) -> Bounds<Length> {
        let [own, rim] = self.faces().map(|face| face.whole().kern());
        own.min(rim)
    }

    /// Greatest contact stress under a load, on its own face or under the rim.
    pub fn most_pressed(
        &self,
        load: Bounds<Force>,
        end_load: Bounds<Force>,
        aim: &Aim,
    ) -> Bounds<Stress> {
        let [own, rim] = self.faces().map(|face| contact(&face.whole(), load, end_load, aim)[1]);
        own.max(rim)
    }

    /// The screw's load below which the joint is not tight: the greatest of what the code asks for
    /// under pressure (`m p` everywhere on its ring), for seating (`y / 2` on its ring, no
    /// pressure), and of [`Gasket::asked`], at the least the pressure itself, over the whole face under
    /// pressure, on its own face or the
    /// rim's, whichever asks for more. The load is
    /// taken to stay as it was set while the pressure rises, which asks for most of what is set; what
    /// the parts then bear is another matter ([`crate::hold::risen`]). That rubber
    /// creeps, and that the load falls with it, is not in the figures: it wants tightening again.
    ///
    /// Faults: no supplier's stress where the code's table gives no seating stress, since the code
    /// alone would then accept a gasket that nothing presses; a screw beyond the kern.
    pub fn needed_load(
        &self,
        pressure: Bounds<Pressure>,
        aim: &Aim,
    ) -> Result<Bounds<Force>, Fault> {
        self.seats()?;
        let end = self.end_load(pressure);
        let mut needed = Bounds::exactly(Force::from_newtons(0.0));
        for face in self.faces() {
            if let Some(code) = &self.code {
                let ring = face.by_code();
                let none = Bounds::exactly(Force::from_newtons(0.0));
                needed = needed
                    .max(load_for_contact(&ring, pressure * code.m, end, aim)?)
                    .max(load_for_contact(&ring, code.y / 2.0, none, aim)?);
            }
            let asked = self.asked(pressure).unwrap_or(pressure);
            needed = needed.max(load_for_contact(&face.whole(), asked, end, aim)?);
        }
        Ok(needed)
    }
}
