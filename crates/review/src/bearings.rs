//! Where the outlet may point when everything else is placed as suits it best.

use crate::request::Request;
use crate::run::{Progress, Review};
use assembly::parts::PartError;
use assembly::{CarTop, Choice, Kit, Placement};
use fitup::Scene;
use fitup::search::{Bearings, TurnEffort, bearings_overall};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// The outlet bearings of each fitting reviewed that can be covered, by its index into
/// [`CarTop::fittings`]: with its best cup, its ports and its pieces off. `request` is what the review
/// was asked. On all threads of the current rayon pool; the result does not depend on how many there
/// are.
///
/// Fails when a part of the kit has dimensions from which no solid can be made.
///
/// `progress` is called after each fitting, from any thread.
pub fn bearings(
    car: &CarTop,
    kit: &Kit,
    (request, found): (&Request, &Review),
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<(usize, Bearings)>, PartError> {
    let scene = Scene::new(car, kit)?;
    let chosen =
        found.fittings.iter().filter(|found| found.verdict().is_fit()).filter_map(|found| {
            let study = &found.chosen()?.study;
            Some((found.fitting, study.choice.as_ref()?, study.placement.as_ref()?))
        });
    let chosen: Vec<(usize, &Choice, &Placement)> = chosen.collect();
    // Some arcs for one search.
    let most_cells = request.pieces.saturating_mul(2);
    let effort = TurnEffort { most_cells, ..TurnEffort::default() };
    let total = chosen.len();
    let done = AtomicUsize::new(0);
    let of_fitting = |&(fitting, choice, placement): &(usize, &Choice, &Placement)| {
        let found = bearings_overall(&scene, choice, placement, &effort);
        progress(Progress { done: done.fetch_add(1, Relaxed) + 1, total });
        (fitting, found)
    };
    Ok(chosen.par_iter().map(of_fitting).collect())
}
