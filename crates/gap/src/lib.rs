//! The proximity engine: gap, overlap and threshold queries between triangle bodies, each at a
//! pose against the other. It knows nothing of tank cars.
//!
//! Lengths are millimetres, angles radians. A pose `a_from_b` takes coordinates of body `b` into
//! the frame of body `a`; every point and direction in an answer is in the frame of `a`.
//!
//! - [`gap`](fn@gap): the shortest distance, exact over the triangles, with witness points.
//! - [`clears`]: whether the gap is at least a need; far cheaper than the distance.
//! - [`crosses`]: whether the surfaces cross or touch, decided by exact predicates.
//! - [`surface_gap`]: the distance of the surfaces alone, for open ones.
//! - [`overlap`](fn@overlap): how deep two bodies run into each other, as a lower and an upper
//!   bound.
//! - [`locate`], [`nearest_point`], [`ray_hits`]: one body against a point or a ray.
//! - [`motion`]: how far a part can move between two poses; turns a sample into a proof.
//!
//! A body of several closed shells stands for their union, and two bodies of which one lies
//! inside the other overlap although their surfaces are apart. Inside is decided by the winding
//! number; on an open surface it may be undecidable, and then the answer says so.
//!
//! Every answer is a function of its arguments alone: the same query gives the same bits.

mod inside;
pub mod motion;
mod overlap;
mod pose;
mod probe;
mod query;
mod solid;
mod tree;
mod triangle;

pub use inside::{Location, locate, winding_number};
pub use overlap::{Overlap, least_depth, overlap, overlap_along};
pub use probe::{NearestPoint, RayHit, nearest_point, ray_hits};
pub use query::{Gap, Proximity, clears, crosses, gap, surface_gap};
pub use solid::{Bounds, Solid, Undecided};
