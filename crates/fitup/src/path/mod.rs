//! How a part is carried to its place among what is there already.
//!
//! A [`Route`] is told from the place out, the other way round from how it is carried; a way is
//! clear in one direction where it is clear in the other. A [`Passage`] holds the pieces that are
//! carried together and what stands around them, and proves a route by [`gap::sweep`]:
//!
//! - The clearance asked for is kept between every piece and every obstacle, with the deviations of
//!   both meshes added, so that what is proven holds whatever the true surfaces are.
//! - Where a piece at its place stands nearer to an obstacle than twice that, half of what is left
//!   there is asked for all along the way: what is needed at the place is another check's business,
//!   and nowhere on the way is there less than half of it.
//! - Parts that touch by design guide each other into their place. Before it each piece stands off
//!   by a little, its retreat: the gasket, the cup, the bar upward, a foot downward, a link away from
//!   its foot. Up to there nothing touches, on the nominal model: the retreat is doubled until they are
//!   apart, but not far beyond the contact's tolerance, which holds the deviation of a rough mesh. The
//!   last stretch is straight and as long as the retreat `r`. A point that is clear at its beginning and
//!   at most the contact tolerance `c` deep at its end is at most `(r + c) / 2` deep in between: it moves
//!   no farther than the stretch. Everything that does not touch by design is proven over that stretch
//!   too. Of a turned screw it is as long as its seat is deep: the socket draws the ball in from as far
//!   aside as its own rule allows, and what the two do to each other there is not proven.
//! - Parts that touched are looked at with their deviations from the end of the first leg on, where
//!   there is another and they are apart there by more than the deviations; else by the nominal model
//!   all along, as a foot is that goes through its port.
//! - A thread, and a pin that a link swings about, hold each other all along; that pair is not looked
//!   at. Parts that are carried together were made up beforehand, and neither are they.
//!
//! Simple routes come first ([`simple`]); where none is clear, [`search`](mod@search) looks for one.

mod carried;
mod let_down;
pub mod order;
mod passage;
mod route;
pub mod search;
pub mod simple;
mod ways;

pub(crate) use carried::solid_of;
pub use let_down::{NoWay, let_down};
pub use passage::{Hindrance, Obstacle, Pair, Passage, Piece, Proven, Stop};
pub use route::{Leg, Route};
pub use ways::{Blocked, Clear, Stopped, Way, ways};
