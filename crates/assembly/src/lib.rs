//! The car top, the kit and the rig: domain types, parametric kit parts, placement to poses.
//!
//! Frames and conventions: millimetres; the plate frame has its origin where the housing's axis
//! meets the sealing face, +z out of the plate, +x toward the hinge, right-handed. Bearings turn
//! counter-clockwise from +x seen from above.

pub mod as_built;
pub mod car_top;
pub mod change;
pub mod edit;
pub mod hold;
pub mod kit;
pub mod parts;
pub mod placement;
pub mod rig;

pub use car_top::CarTop;
pub use change::{Change, Way};
pub use edit::Edit;
pub use kit::Kit;
pub use placement::{Choice, Placement};
