//! Stress in the cup's wall and crown.

use crate::Fault;
use crate::fault::Faults;
use crate::numbers::ln;
use measure::{Area, Bounds, Force, Length, Moment, Pressure, Stress};

/// Poisson's ratio of the metals of which cups are made: steel 0.29, aluminium 0.33, brass 0.34
/// (handbook values, from memory).
pub fn metal_poisson() -> Bounds<f64> {
    Bounds::between(0.27, 0.35)
}

/// The cup's sizes that carry load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cup {
    /// Inside diameter.
    pub inside: Bounds<Length>,
    /// Thickness of the wall.
    pub wall: Bounds<Length>,
    /// Thickness of the crown.
    pub crown: Bounds<Length>,
    /// Diameter on which the screw's load enters the crown: the seat's boss.
    pub seat: Bounds<Length>,
}

impl Cup {
    /// What is wrong with it.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("cup inside diameter", self.inside);
        faults.positive("cup wall", self.wall);
        faults.positive("cup crown", self.crown);
        faults.positive("cup seat diameter", self.seat);
        let remedy = "the seat is narrower than the cup: check both";
        faults.below("cup seat diameter", self.seat, self.inside, remedy);
        faults.gathered()
    }

    /// Bore over outside diameter, squared.
    fn ratio_squared(&self) -> Bounds<f64> {
        let ratio = Bounds::exactly(1.0) / (Bounds::exactly(1.0) + self.wall * 2.0 / self.inside);
        ratio * ratio
    }

    /// Hoop stress at the bore by Lame: `p (ro^2 + ri^2) / (ro^2 - ri^2)`. For any thickness, away
    /// from the rim, the crown and the side port.
    pub fn hoop(&self, pressure: Bounds<Pressure>) -> Bounds<Stress> {
        let twice = Bounds::exactly(2.0) / (Bounds::exactly(1.0) - self.ratio_squared());
        pressure * (twice - Bounds::exactly(1.0))
    }

    /// Hoop stress of a thin shell, `p D / (2 t)` on the mean diameter. Fault: a wall thicker than
    /// a twentieth of the mean diameter, where it falls short of the bore's stress by over 5 %.
    pub fn thin_hoop(&self, pressure: Bounds<Pressure>) -> Result<Bounds<Stress>, Fault> {
        let slenderness = self.inside / self.wall + Bounds::exactly(1.0);
        if slenderness.low() < 20.0 {
            return Err(Fault::out_of_range(
                "cup mean diameter over wall",
                slenderness,
                "a shell is thin from 20 on: use the thick wall's formula",
            ));
        }
        Ok(pressure * slenderness / 2.0)
    }

    /// Cross-section of the wall.
    pub fn wall_area(&self) -> Bounds<Area> {
        Bounds::PI * ((self.inside + self.wall) * self.wall)
    }

    /// Greatest difference of two principal stresses at the bore (Tresca): hoop against the
    /// pressure itself, and hoop against the axial pressing of a screw load `load`, of which the
    /// pressure under the crown takes its share off; without pressure the pressing alone.
    ///
    /// The side port's opening is [`crate::SidePort`]'s; the bending next to rim and crown is left
    /// out.
    pub fn wall_stress(&self, pressure: Bounds<Pressure>, load: Bounds<Force>) -> Bounds<Stress> {
        let hoop = self.hoop(pressure);
        let under_crown = pressure * (Bounds::PI * (self.inside * self.inside) / 4.0);
        let none = Bounds::exactly(Force::from_newtons(0.0));
        let pressed = (load - under_crown).max(none) / self.wall_area();
        let alone = load / self.wall_area();
        (hoop + pressure).max(hoop + pressed).max(alone)
    }

    /// Greatest bending stress in the crown under a screw load `load` alone, what pressure pushes back
    /// left out: `6 M / t^2`, with the greater of the moments of [`plate_moment`], at the middle under a
    /// seat that gives way with the plate, and [`boss_moment`], at the edge of a seat that does not, for a
    /// plate held simply on the wall's mean circle. A boss on a plate lies between. A wall that holds the crown's edge lowers it, and the edge's own moment is then
    /// the smaller. Fault: a crown thicker than a quarter of the inside diameter, which is no plate
    /// (Roark, chapter on flat plates, from memory).
    pub fn crown_stress(
        &self,
        load: Bounds<Force>,
        poisson: Bounds<f64>,
    ) -> Result<Bounds<Stress>, Fault> {
        let share = self.crown / self.inside;
        if share.high() > 0.25 {
            return Err(Fault::out_of_range(
                "cup crown over inside diameter",
                share,
                "plate formulas hold up to 0.25: this crown wants a closer calculation",
            ));
        }
        let radius = (self.inside + self.wall) / 2.0;
        let seat = self.seat / 2.0;
        let moment = plate_moment(load, radius, seat, self.crown, poisson)
            .max(boss_moment(load, radius, seat, poisson));
        Ok(moment * 6.0 / (self.crown * self.crown))
    }
}

/// Moment for each unit of width, in newtons (N mm / mm), at the middle of a round plate held
/// simply on a circle of radius `edge`, under a load spread over a middle circle of radius `patch`:
/// `W / (4 pi) ((1 + v) ln(a / c) + 1 - (1 - v) c^2 / (4 a^2))`.
///
/// Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, chapter 3, from memory;
/// `tests/worked/gasket_and_cup.rs` holds it against the plate's differential equation. With `c = a` it is
/// the even load's `(3 + v) p a^2 / 16`. Roark leaves the last term out (read in public copies),
/// which asks for a little more. A patch narrower than half the `thickness` acts as one of
/// `sqrt(1.6 c^2 + t^2) - 0.675 t` (Roark, read there too). Thin plates, small deflections.
pub fn plate_moment(
    load: Bounds<Force>,
    edge: Bounds<Length>,
    patch: Bounds<Length>,
    thickness: Bounds<Length>,
    poisson: Bounds<f64>,
) -> Bounds<Force> {
    let narrow = (patch * patch * Bounds::within(1.6, f64::EPSILON) + thickness * thickness).sqrt()
        - thickness * Bounds::within(0.675, f64::EPSILON);
    let half = thickness / 2.0;
    let acting = if patch.low() >= half.high() {
        patch
    } else if patch.high() < half.low() {
        narrow
    } else {
        patch.hull(narrow)
    };
    let one = Bounds::exactly(1.0);
    let share = acting / edge;
    // It falls with the patch's share of the plate and rises with Poisson's ratio.
    let at = |share: Bounds<f64>| {
        (one + poisson) * ln(one / share) + one - (one - poisson) * (share * share) / 4.0
    };
    let [small, large] = share.ends();
    load * (at(small).hull(at(large)) / (Bounds::PI * 4.0))
}

/// Moment for each unit of width, in newtons, in a round plate held simply on a circle of radius `edge`,
/// at the edge of a rigid boss of radius `boss` in its middle on which the load acts:
/// `W / (4 pi) (2 (1 + (1 + v) ln(a / c)) / (1 + v + (1 - v) c^2 / a^2) - 1)`.
///
/// By integration of the plate's differential equation for the shear `W / (2 pi r)` with no slope at the boss
/// and no moment at the edge; `tests/worked/gasket_and_cup.rs` holds it against that equation. Thin plates, small
/// deflections.
pub fn boss_moment(
    load: Bounds<Force>,
    edge: Bounds<Length>,
    boss: Bounds<Length>,
    poisson: Bounds<f64>,
) -> Bounds<Force> {
    let one = Bounds::exactly(1.0);
    // It falls with the boss's share of the plate and with Poisson's ratio.
    let at = |share: Bounds<f64>, v: Bounds<f64>| {
        let bends = one + (one + v) * ln(one / share);
        bends * 2.0 / (one + v + (one - v) * (share * share)) - one
    };
    let ([small, large], [least, most]) = ((boss / edge).ends(), poisson.ends());
    load * (at(small, least).hull(at(large, most)) / (Bounds::PI * 4.0))
}

/// Moment for each unit of width at the middle of a round plate held simply on a circle of radius
/// `edge` under even pressure: `(3 + v) p a^2 / 16`, in newtons (Timoshenko, as [`plate_moment`]).
pub fn even_plate_moment(
    pressure: Bounds<Pressure>,
    edge: Bounds<Length>,
    poisson: Bounds<f64>,
) -> Bounds<Force> {
    pressure * (edge * edge) * ((Bounds::exactly(3.0) + poisson) / 16.0)
}

/// A handle's, rail's or pin's bending stress in a round section: `32 M / (pi d^3)`.
pub fn round_bending(moment: Bounds<Moment>, diameter: Bounds<Length>) -> Bounds<Stress> {
    moment / (Bounds::PI * (diameter * (diameter * diameter)) / 32.0)
}
