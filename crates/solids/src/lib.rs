//! Triangle bodies: building them, judging their soundness, cutting them.
//!
//! A body is a set of triangles in millimetres with the bound by which it may be away from the true
//! surface. Bodies of several closed shells stand for their union.

mod body;
pub mod build;
mod mass;
mod pieces;
mod section;
mod sets;
mod shells;
mod soundness;
mod straight;
mod winding;

pub use body::{Body, Deviation, Mesh};
pub use mass::{area, is_inside_out, volume};
pub use pieces::{Contradiction, ContradictionKind, contradiction};
pub use section::{Polyline, section};
pub use sets::Sets;
pub use shells::shells;
pub use soundness::{Soundness, soundness};
pub use straight::straight_ranges;
pub use winding::winding_number;
