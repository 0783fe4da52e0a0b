//! The checks of a placed rig and the search for the best placement.
//!
//! A [`Scene`] holds a car top and a kit, prepared for proximity queries. A [`Situation`] is a rig
//! placed in a scene. [`assess`] runs the checks of a rig in its place and keeps what it measured;
//! [`search`](fn@search) looks for the placement with the greatest least margin;
//! [`assess_installation`] tells whether the parts get to it ([`path`]) and hands find room there.
//!
//! Margins are intervals in millimetres that hold the true value under the stated deviations. A
//! check that lacks the data it needs is undecided, never passed.

pub mod checks;
mod contacts;
pub mod land;
mod margin;
mod memory;
mod outlasts;
pub mod path;
pub mod plan;
mod scene;
pub mod search;
mod situation;
mod stack;
mod standing;
pub mod study;

pub use checks::{Assessment, CheckOutcome, Stand, assess, assess_installation, broken};
pub use land::{LandStrip, land_strip};
pub use margin::{Check, Margin, Part, Rule, Undecided};
pub use memory::Memory;
pub use outlasts::{holds_on, outlasts};
pub use plan::{PlanSpacing, plan_spacing};
pub use scene::{Scene, Shape};
pub use search::{Answer, Effort, Proof, Question, search};
pub use situation::{Measured, Meeting, Situation};
pub use standing::{Standing, studs_of_housing};
pub use study::{
    CupStudy, Doubt, Gain, Outlook, Reason, Verdict, can_be_installed, gains, outlook, port_pairs,
    study_cup,
};
