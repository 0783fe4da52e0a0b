//! A placement tried by hand: what may be changed, what is measured there at once, and lessons that are
//! run with it.
//!
//! [`Session`] holds what is set up and how it came to be; [`recheck`] measures it by
//! [`fitup::assess`], the very function on which a review rests; [`Worker`] does so in the background,
//! the newest request first; [`Ring`] and [`fitup::LandStrip`] are what is drawn around the cup;
//! [`Runner`] runs a lesson. [`words`] are the sentences about all that.
//!
//! Nothing here is a verdict: what is tried is one placement, and whether the parts get there and hands
//! find room is not looked at.

mod apply;
mod around;
mod ranges;
mod ring;
mod runner;
mod session;
mod tried;
pub mod words;
mod worker;

pub use apply::{Refused, edited};
pub use around::{Around, around};
pub use assembly::Edit;
pub use ranges::Ranges;
pub use ring::{ArcState, Ring, RingArc, TIGHT, ring};
pub use runner::{Feedback, Progress, Reply, Runner, Score, Untrue, untrue};
pub use session::{Act, Best, Bests, Session};
pub use tried::{Row, RowState, Setup, Tried, recheck, recheck_again};
pub use worker::{Answer, Worker};
