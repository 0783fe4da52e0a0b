//! A whole rig: what it asks for, what it bears, what governs, and the highest pressure that it
//! still holds.

mod assess;
mod bodies;
mod gather;
mod highest;
mod levers;
mod mode;
mod needed;
mod rig;

pub use assess::{Hold, MOST_ROUNDED, assess, risen, torque_arm};
pub use bodies::{FreeBody, PlaneForce, free_bodies};
pub use highest::{Highest, highest_pressure};
pub use levers::{Lever, Raise, what_raises_it};
pub use mode::{Mode, ModeKind, Verdict};
pub use rig::{LinkShape, Material, Part, Rig, RigEnd, Screw};
