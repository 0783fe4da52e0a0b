//! Loads that leave the kit: what housing, studs and plate are asked to bear. They are stated for a
//! licensed engineer to check, and never judged here.

use crate::fault::Faults;
use crate::{Bar, End, Fault};
use measure::{Area, Bounds, Force, Length, Moment, Stress};

/// Loads on the car, in service.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CarLoads {
    /// Pull up on the port's upper edge at ends A and B.
    pub ports: [Bounds<Force>; 2],
    /// Pull up on the housing as a whole: the screw's load.
    pub uplift: Bounds<Force>,
    /// Moment of the two pulls about the line midway between the links, level and square to the
    /// bar.
    pub tilt: Bounds<Moment>,
    /// Push down on the plate through the gasket.
    pub gasket: Bounds<Force>,
    /// Push down on the plate of the pressure in the cup, within the gasket's circle. With the
    /// gasket's it adds up to the uplift: the rig holds itself, and asks nothing of the tank.
    pub end_load: Bounds<Force>,
}

impl CarLoads {
    /// Of a screw load on this bar, with the gasket's end load at the same pressure.
    pub fn of(load: Bounds<Force>, end_load: Bounds<Force>, bar: &Bar) -> Self {
        Self {
            ports: End::BOTH.map(|end| load * bar.end_share(end)),
            uplift: load,
            tilt: load * bar.along,
            gasket: load - end_load,
            end_load,
        }
    }
}

/// A circle of studs or bolts that are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bolting {
    /// How many.
    pub count: u16,
    /// Nominal diameter.
    pub diameter: Length,
    /// Pitch of the thread.
    pub pitch: Length,
    /// Shear strength of their material, or any figure in proportion to it.
    pub shear_strength: Bounds<Stress>,
}

impl Bolting {
    /// What is wrong with it.
    pub fn faults(&self) -> Vec<Fault> {
        let mut faults = Faults::default();
        faults.positive("bolt diameter", self.diameter.into());
        faults.positive("bolt pitch", self.pitch.into());
        faults.positive("bolt shear strength", self.shear_strength);
        let remedy = "the pitch leaves no root: check both";
        faults.below("bolt pitch", self.pitch.into(), self.diameter.into(), remedy);
        if self.count == 0 {
            faults.push(Fault::out_of_range("number of bolts", 0, "give the number of bolts"));
        }
        faults.gathered()
    }

    /// Root area of one: `pi / 4 (D - 1.299 038 p)^2`, the minor diameter of the 60 degree thread
    /// (ASME B1.1, from memory).
    pub fn root_area(&self) -> Bounds<Area> {
        let root = Bounds::exactly(self.diameter)
            - Bounds::exactly(self.pitch) * Bounds::within(1.299_038, 1e-6);
        Bounds::PI * (root * root) / 4.0
    }

    /// Pull in the most loaded one when they hold a part down against a pull `uplift` and a moment
    /// `tilt` about a diameter of their circle: `W / n + 4 M / (n D)`, a rigid part on bolts that
    /// are not tightened beforehand (any handbook). At least three, evenly round the circle.
    pub fn most_pull(
        &self,
        uplift: Bounds<Force>,
        tilt: Bounds<Moment>,
        circle: Bounds<Length>,
    ) -> Bounds<Force> {
        (uplift + tilt.abs() * 4.0 / circle) / f64::from(self.count)
    }

    /// Shear value of all of them.
    pub fn shear_value(&self) -> Bounds<Force> {
        self.shear_strength * self.root_area() * f64::from(self.count)
    }
}

/// The most that the shear value of the housing's bolts may be of that of the cover plate's bolts:
/// 70 % (49 CFR 179.100-12(c), 2015 edition).
pub const MOST_SHEAR_SHARE: f64 = 0.7;

/// Shear value of the housing's bolts over that of the bolts that hold the cover plate to the
/// nozzle, for the rule of 49 CFR 179.100-12(c): the housing is to shear off before the cover
/// leaves the tank. Compare its upper end with [`MOST_SHEAR_SHARE`]: strong bolts of the housing over weak
/// ones of the cover. Fault: a bolting without bolts, diameter,
/// pitch or strength.
pub fn shear_share(housing: &Bolting, cover: &Bolting) -> Result<Bounds<f64>, Fault> {
    match housing.faults().into_iter().chain(cover.faults()).next() {
        Some(fault) => Err(fault),
        None => Ok(housing.shear_value() / cover.shear_value()),
    }
}
