//! The fittings that fit now, and whether a change spoils one.

use crate::run::{CupResult, Review};
use assembly::CarTop;
use assembly::car_top::LidState;
use fitup::{Effort, Scene, Situation, assess, assess_installation, study_cup};
use measure::Angle;
use std::sync::OnceLock;

/// Every fitting of a car top with a cup that covers it now, worked out once it is asked for.
pub(super) struct Others<'o> {
    scene: &'o Scene<'o>,
    cups: &'o [usize],
    now: Vec<OnceLock<Option<CupResult>>>,
}

/// Whether something fits is asked, not how well, mm.
const EFFORT: Effort = Effort { tolerance: 1.0, most_cells: 3_000, searches_ways: true };

impl<'o> Others<'o> {
    /// What is known of the fittings that were reviewed; `cups` are those asked for.
    pub(super) fn new(scene: &'o Scene<'o>, cups: &'o [usize], found: &Review) -> Self {
        let now: Vec<OnceLock<Option<CupResult>>> =
            scene.car.fittings.iter().map(|_| OnceLock::new()).collect();
        for fitting in &found.fittings {
            let fits = fitting.chosen().filter(|c| c.study.verdict.is_fit()).cloned();
            if let Some(known) = now.get(fitting.fitting) {
                known.get_or_init(|| fits);
            }
        }
        Self { scene, cups, now }
    }

    /// The fittings other than one that fit now, by whether they still do on a changed car top.
    pub(super) fn after(&self, scene: &Scene<'_>, except: usize) -> (Vec<usize>, Vec<usize>) {
        (0..self.now.len())
            .filter(|fitting| *fitting != except && self.now(*fitting).is_some())
            .partition(|fitting| self.still_fits(scene, *fitting))
    }

    fn now(&self, fitting: usize) -> Option<&CupResult> {
        let fits = |scene: &Scene<'_>| {
            let mut studies = self
                .cups
                .iter()
                .map(|&cup| CupResult { cup, study: study_cup(scene, &EFFORT, fitting, cup) });
            studies.find(|result| result.study.verdict.is_fit())
        };
        let known = self.now.get(fitting)?;
        // Nothing is held while it is worked out: a study waits for other threads, which may come
        // here. Worked out twice it comes out the same.
        if known.get().is_none() {
            let found = fits(self.scene);
            known.get_or_init(|| found);
        }
        known.get()?.as_ref()
    }

    /// At the same numbers, or else by a study with the same cup, or else with any other.
    fn still_fits(&self, scene: &Scene<'_>, fitting: usize) -> bool {
        let Some(now) = self.now(fitting) else { return false };
        if stands(scene, now) {
            return true;
        }
        let others = self.cups.iter().copied().filter(|cup| *cup != now.cup);
        std::iter::once(now.cup)
            .chain(others)
            .any(|cup| study_cup(scene, &EFFORT, fitting, cup).verdict.is_fit())
    }
}

/// Whether a placement keeps every margin on a changed car top, with the lid at its stop there.
fn stands(scene: &Scene<'_>, now: &CupResult) -> bool {
    let (Some(choice), Some(placement)) = (&now.study.choice, &now.study.placement) else {
        return false;
    };
    let mut placement = placement.clone();
    placement.lid_opening = stop(scene.car).unwrap_or(placement.lid_opening);
    Situation::new(scene, choice, &placement).is_some_and(|situation| {
        let mut found = assess(&situation);
        if !found.is_kept() {
            return false;
        }
        assess_installation(&situation, &mut found, false);
        found.is_kept()
    })
}

fn stop(car: &CarTop) -> Option<Angle> {
    match &car.lid {
        LidState::Hinged(lid) => Some(lid.stop),
        LidState::Unknown | LidState::None => None,
    }
}
