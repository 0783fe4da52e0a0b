//! Finds what is what on a car top from its bodies: plate, frame, housing, ports, lid, hinge, studs,
//! fittings, each with its confidence and its reason.
//!
//! Bodies come as named meshes in millimetres, in any frame. Names are read first, by patterns
//! ([`Words`]), shapes measured second; where the two disagree, where there are two readings, or
//! where neither tells, the [`Draft`] holds a [`Question`]. Nothing uncertain is decided: whoever
//! reads the draft sees that a question stands open. Nothing is read from a file here, nothing
//! written.
//!
//! - The plate is the body with the large flat face on which most other bodies stand.
//! - The housing is what surrounds the middle of that face and is tall; its axis comes from the
//!   inner face of its wall, round or straight.
//! - A port is an opening in the wall, closed all around and large enough for a foot.
//! - The lid covers the housing, or does once it is turned about the hinge's pin, a level cylinder
//!   beside the rim.
//! - Studs are equal small shells on a circle about the axis.
//! - A fitting is what else stands on the plate inside the housing, with the pieces that hang on it.
//!
//! A scan has neither names nor whole bodies: [`scanned`] drafts from things that stand apart in one.

mod around;
mod draft;
mod face;
mod find;
mod fit;
mod fitting;
mod flange;
mod hinge;
pub mod picture;
mod plate;
mod port;
pub mod scanned;
mod scene;
mod stud;
mod wall;
mod words;

pub use draft::{
    Confidence, Draft, Fitting, Found, Lid, Port, Question, Reason, Removable, SealingFace, Unfound,
};
pub use find::{Settings, survey};
pub use words::{BadPattern, Meaning, Said, Words};
