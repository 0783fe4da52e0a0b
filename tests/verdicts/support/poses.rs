//! Where every part of a rig lies, by the re-check's poses, which share nothing with the program's.

use assembly::kit::{Cup, Gasket};
use assembly::{CarTop, Choice, Kit, Placement};
use nalgebra::Vector3;
use recheck::Setting;

pub(crate) use recheck::poses::{Lines, lid_place, off_line};

pub(crate) fn gasket_under<'k>(kit: &'k Kit, cup: &Cup) -> &'k Gasket {
    kit.gaskets.iter().find(|g| g.name == cup.gasket).unwrap()
}

/// Height of the rim's lower edge.
pub(crate) fn rim(gasket: &Gasket) -> f64 {
    gasket.thickness.nominal - gasket.groove_depth.nominal
}

/// A foot's lower pin: `shift` along the sidewall, counter-clockwise, from the port's middle.
pub(crate) fn lower_pin(kit: &Kit, car: &CarTop, port: usize, shift: f64) -> Vector3<f64> {
    recheck::poses::lower_pin(kit, &car.ports[port], shift)
}

pub(crate) fn lines(kit: &Kit, car: &CarTop, choice: &Choice, placement: &Placement) -> Lines {
    Setting::new(car, kit, choice).unwrap().lines(placement).unwrap()
}
