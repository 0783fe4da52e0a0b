//! Guidance for designers: for a fitting that does not fit, the smallest single changes found that
//! make it fit, each re-checked as a whole.
//!
//! A way of changing the car top ([`assembly::Way`]) is tried at growing sizes until a placement
//! fits; then the size is narrowed down by halving. Whether something fits need not depend on the
//! size in one direction only, so what is told is the smallest size that was found, not the smallest
//! there is. Sizes are whole steps of what is printed, and the margin is that of a study at the very
//! size told. Ways that the proof outlasts ([`fitup::outlasts`]) are not tried: they cannot help.

mod others;
mod sizes;
mod trial;
mod ways;

use crate::request::Request;
use crate::run::{FittingReview, Progress, Review};
use assembly::parts::PartError;
use assembly::{CarTop, Change, Kit};
use fitup::{CupStudy, Scene, Verdict};
use measure::LengthUnit;
use others::Others;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use trial::{Found, Now, Trial};
use ways::Topic;
pub(crate) use ways::outward as outward_of;

/// The longest move tried, mm; the farthest turn, degrees. Our choice.
pub const FARTHEST: (f64, f64) = (100.0, 45.0);

/// What was found for one fitting that does not fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Index into [`CarTop::fittings`].
    pub fitting: usize,
    /// The changes that make it fit, by kind in the order of the effort that they cost (our order),
    /// and within a kind the smallest first.
    pub helps: Vec<Help>,
    /// Changes that would make it fit, but after which another fitting no longer does.
    pub spoiling: Vec<Spoiling>,
    /// Ways looked at.
    pub ways: usize,
    /// Those that cannot help, whatever the size: the proof outlasts them for every cup, or nothing
    /// fits even without the bodies that they move.
    pub ruled_out: usize,
    /// How many changed car tops were searched.
    pub tried: usize,
}

/// A change that makes a fitting fit.
#[derive(Debug, Clone, PartialEq)]
pub struct Help {
    /// The change.
    pub change: Change,
    /// Index into [`Kit::cups`].
    pub cup: usize,
    /// The study of the changed car top with that cup.
    pub study: CupStudy,
    /// The other fittings that fitted before, by index: they still do, each with one of the cups
    /// asked for.
    pub others: Vec<usize>,
}

/// A change that makes a fitting fit and another not.
#[derive(Debug, Clone, PartialEq)]
pub struct Spoiling {
    /// The change.
    pub change: Change,
    /// The fittings that no longer fit, by index.
    pub spoils: Vec<usize>,
}

/// Whether advice is looked for: where nothing fits, or where nothing surely fits and the nominal
/// figures of the nearest placement fall short. Where data are missing no change helps.
pub fn is_advised(found: &FittingReview) -> bool {
    let Some(study) = found.chosen().map(|c| &c.study) else { return false };
    match study.verdict {
        Verdict::DoesNotFit => true,
        Verdict::CannotTell => {
            let missing = study.assessment.iter().any(|a| a.undecided().next().is_some());
            let short = study.least().is_some_and(|least| least.middle() < 0.0);
            !missing && short && study.upper_bound <= 0.0
        }
        Verdict::Fits | Verdict::FitsAfterRemoval => false,
    }
}

/// Looks for changes for each fitting of a review that [`is_advised`], on all threads of the current
/// rayon pool; the result does not depend on how many there are. `request` is what the review was
/// asked. Sizes are whole steps of what lengths in `unit` are printed to.
///
/// Fails when a part of the kit has dimensions from which no solid can be made.
///
/// `progress` is called after each part of the car top that is changed for each fitting, from any
/// thread.
pub fn advise(
    car: &CarTop,
    kit: &Kit,
    (request, found): (&Request, &Review),
    unit: LengthUnit,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Advice>, PartError> {
    let scene = Scene::new(car, kit)?;
    let advised: Vec<&FittingReview> = found.fittings.iter().filter(|f| is_advised(f)).collect();
    if advised.is_empty() {
        return Ok(Vec::new());
    }
    // What fits now must go on to fit, whether it was asked for or not.
    let others = Others::new(&scene, &request.cups, found);
    let topics = Topic::all(&scene);
    let now: Vec<Now> = advised.par_iter().map(|f| Now::of(&scene, f)).collect();
    let tasks: Vec<(&Now, &Vec<Topic>)> =
        now.iter().flat_map(|f| topics.iter().map(move |t| (f, t))).collect();
    let done = AtomicUsize::new(0);
    let total = tasks.len();
    let results: Vec<Vec<Found>> = tasks
        .par_iter()
        .map(|(fitting, topics)| {
            let trial = Trial::new(&scene, &others, fitting, topics, unit);
            let result = trial.run();
            progress(Progress { done: done.fetch_add(1, Relaxed) + 1, total });
            result
        })
        .collect();
    let of = |(i, f): (usize, &&FittingReview)| {
        let from = i * topics.len();
        collect(f.fitting, results.get(from..from + topics.len()).unwrap_or_default())
    };
    Ok(advised.iter().enumerate().map(of).collect())
}

fn collect(fitting: usize, results: &[Vec<Found>]) -> Advice {
    let mut advice = Advice {
        fitting,
        helps: Vec::new(),
        spoiling: Vec::new(),
        ways: 0,
        ruled_out: 0,
        tried: 0,
    };
    for result in results.iter().flatten() {
        advice.helps.extend(result.help.clone());
        advice.spoiling.extend(result.spoiling.clone());
        advice.ways += result.ways;
        advice.ruled_out += result.ruled_out;
        advice.tried += result.tried;
    }
    let order = |change: &Change| (ways::effort(&change.way), change.by.abs());
    let by = |a: &Change, b: &Change| {
        let (a, b) = (order(a), order(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
    };
    advice.helps.sort_by(|a, b| by(&a.change, &b.change));
    advice.spoiling.sort_by(|a, b| by(&a.change, &b.change));
    advice
}
