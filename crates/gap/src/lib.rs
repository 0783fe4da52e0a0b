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
//! - [`crossing_lines`], [`shared_volume`], [`shared_body`]: where two surfaces cross, and which space
//!   two bodies share.
//! - [`locate`], [`nearest_point`], [`ray_hits`]: one body against a point or a ray.
//! - [`Follower`], [`gaps`]: the gap along a path, and at many poses at once.
//! - [`certified_clear`], [`certified_blocked`]: how far a body may move and still be so.
//! - [`sweep`](fn@sweep): a moving body's first contact, or a proof that it stays clear.
//! - [`least_gaps`]: which parts of two sets come near each other.
//! - [`motion`]: how far a part can move between two poses; turns a sample into a proof.
//!
//! A body of several closed shells stands for their union, and two bodies of which one lies
//! inside the other overlap although their surfaces are apart. Inside is decided by the winding
//! number; on an open surface it may be undecidable, and then the answer says so.
//!
//! Every answer is a function of its arguments alone, and of a [`Follower`] of the poses before:
//! the same queries give the same bits, whatever the machine's vectors and the number of threads.

#![expect(
    clippy::inline_always,
    reason = "only what is inlined is compiled for the machine's vectors; closures may not be"
)]
#![expect(
    clippy::needless_range_loop,
    reason = "lanes, corners and edges run together by index, plain for the vectoriser"
)]

mod batch;
mod best_first;
mod certify;
mod crossing;
mod deepest;
mod follow;
mod inscribed;
mod inside;
mod lanes;
pub mod motion;
mod overlap;
mod parts;
mod pose;
mod probe;
mod quad;
mod query;
mod solid;
mod soup;
mod sweep;
mod tree;
mod triangle;
mod volume;
mod walk;

pub use batch::gaps;
pub use certify::{certified_blocked, certified_clear};
pub use crossing::{CrossingLine, crossing_lines};
pub use follow::Follower;
pub use inscribed::{Sunk, sunk};
pub use inside::{Location, locate, winding_number};
pub use overlap::{Overlap, least_depth, overlap, overlap_along};
pub use parts::{Near, NearParts, Part, least_gaps};
pub use probe::{NearestPoint, RayHit, nearest_point, ray_hits};
pub use query::{Gap, Proximity, clears, crosses, gap, surface_gap};
pub use solid::{Bounds, Solid, Undecided};
pub use sweep::{Block, Course, MOST_QUERIES, Sweep, WhyUndecided, sweep};
pub use volume::{SharedVolume, shared_body, shared_volume};
