//! Runs the checks over fittings and cups, chooses, compares with the plan check, and writes down
//! what was found.
//!
//! [`review`] gives the domain result, [`record::Record`] what goes to disk, [`words`] the sentences
//! that every output shares. A verdict is never made here: it comes from `fitup` and is passed on.

pub mod advise;
mod bearings;
pub mod guidance;
pub mod hold;
mod interference;
pub mod land;
mod measuring;
mod plan;
mod posed;
pub mod proof;
pub mod record;
mod request;
mod run;
pub mod sealing;
mod share;
mod vary;
pub mod words;

pub use advise::{Advice, advise};
pub use assembly::parts::PartError;
pub use bearings::bearings;
pub use fitup::Verdict;
pub use interference::{Interference, interference, interferences};
pub use measuring::{Apart, Spacing, apart, spacing};
pub use plan::{PlanAnswer, PlanReview};
pub use posed::{PosedFitting, PosedMargin, PosedPart, posed};
pub use record::{Inputs, Record};
pub use request::{PIECES, Request, UnknownName};
pub use run::{CupResult, FittingReview, Progress, Review, review};
pub use share::{CONFIDENCE, Share};
pub use vary::{DRAWS, Limit, Variations, Vary, vary};

/// Ends every output.
pub const CAUTION: &str = "\
Caution: this is a planning aid, not a procedure. Sealing figures are estimates that a licensed \
engineer must confirm. Before any work on a leaking car follow your company's procedures, the \
equipment maker's instructions and the safety data sheet, wear the protective equipment they ask \
for, keep to local codes, and leave engineering judgement to licensed practice.";
