//! The hand at the screw's handle.

use crate::cup;
use measure::{Bounds, Force, Length, Stress, Torque};

/// Force of one hand at a `lever` from the screw's axis: `T / r`.
pub fn hand_force(torque: Bounds<Torque>, lever: Bounds<Length>) -> Bounds<Force> {
    torque / lever
}

/// Bending stress in the handle's rod next to the screw when one hand gives the whole torque:
/// `32 T / (pi d^3)`. Two hands, one at each tip, halve it.
pub fn bending_stress(torque: Bounds<Torque>, rod: Bounds<Length>) -> Bounds<Stress> {
    cup::round_bending(torque, rod)
}
