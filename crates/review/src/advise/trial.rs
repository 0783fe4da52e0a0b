//! The changes of some bodies tried for one fitting.

use super::others::Others;
use super::sizes::Sizes;
use super::ways::{Signed, Topic};
use super::{Help, Spoiling};
use crate::run::{CupResult, FittingReview, best_cup};
use crate::words;
use assembly::change::with_loose;
use assembly::{CarTop, Change, Choice, Way};
use fitup::{
    Effort, Outlook, Proof, Scene, Standing, can_be_installed, holds_on, outlasts, outlook,
    port_pairs, study_cup,
};
use measure::LengthUnit;
use std::cell::OnceCell;

/// What was found.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Found {
    pub(super) help: Option<Help>,
    pub(super) spoiling: Option<Spoiling>,
    pub(super) ways: usize,
    pub(super) ruled_out: usize,
    pub(super) tried: usize,
}

/// A fitting that does not surely fit, as it is now.
pub(super) struct Now {
    pub(super) fitting: usize,
    cups: Vec<CupNow>,
}

/// What is known of one cup.
struct CupNow {
    cup: usize,
    /// Whether it is proven that nothing surely fits, for every pair of ports.
    proven: bool,
    proofs: Vec<(Choice, Proof)>,
}

impl Now {
    /// From its review; what that did not prove of every pair of ports is looked for again.
    pub(super) fn of(scene: &Scene<'_>, found: &FittingReview) -> Self {
        let of = |result: &CupResult| match &result.study {
            study if study.proven => {
                CupNow { cup: result.cup, proven: true, proofs: study.proofs.clone() }
            }
            _ => CupNow::of(scene, found.fitting, result.cup),
        };
        Self { fitting: found.fitting, cups: found.cups.iter().map(of).collect() }
    }
}

impl CupNow {
    fn of(scene: &Scene<'_>, fitting: usize, cup: usize) -> Self {
        match outlook(scene, (fitting, cup), &|_| false) {
            Outlook::Fits => Self { cup, proven: false, proofs: Vec::new() },
            Outlook::DoesNot(proofs) => {
                Self { cup, proven: proofs.len() == port_pairs(scene.car).len(), proofs }
            }
        }
    }
}

/// The changes of some bodies, one fitting.
pub(super) struct Trial<'t> {
    scene: &'t Scene<'t>,
    others: &'t Others<'t>,
    of: &'t Now,
    topics: &'t [Topic],
    unit: LengthUnit,
}

/// Less than a check's own effort: hundreds of car tops are studied. What is told holds all the same.
const EFFORT: Effort = Effort { tolerance: 0.1, most_cells: 600, searches_ways: true };

/// What a change does: it helps, or it helps and spoils another fitting.
type Outcome = Result<Help, Spoiling>;

impl<'t> Trial<'t> {
    pub(super) fn new(
        scene: &'t Scene<'t>,
        others: &'t Others<'t>,
        of: &'t Now,
        topics: &'t [Topic],
        unit: LengthUnit,
    ) -> Self {
        Self { scene, others, of, topics, unit }
    }

    /// Tries every kind of change.
    pub(super) fn run(&self) -> Vec<Found> {
        // What all these kinds leave is the same: asked once, when the first way is left.
        let left = OnceCell::new();
        self.topics.iter().map(|topic| self.one(topic, &left)).collect()
    }

    /// Tries the ways of one kind one after the other; a later one only for a smaller size.
    fn one(&self, topic: &Topic, left: &OnceCell<Vec<usize>>) -> Found {
        let mut found = Found::default();
        let mut best: Option<(usize, Help)> = None;
        let mut spoiling: Option<(usize, Spoiling)> = None;
        for (way, sign) in topic.ways(self.scene.car) {
            found.ways += 1;
            let mut cups = self.cups_left(&way);
            if topic.is_beside(self.of.fitting) && !cups.is_empty() {
                let left = left.get_or_init(|| self.cups_without(&way));
                cups.retain(|cup| left.contains(cup));
            }
            if cups.is_empty() {
                found.ruled_out += 1;
                continue;
            }
            let known = best.as_ref().map(|b| b.0);
            let sizes = if way.is_turn() { Sizes::angles() } else { Sizes::lengths(self.unit) };
            let sizes = known.map_or(sizes, |known| sizes.below(known));
            match self.smallest(&(way, sign), &cups, sizes, &mut found.tried) {
                Some((steps, Ok(help))) => best = Some((steps, help)),
                Some((steps, Err(spoils))) if spoiling.as_ref().is_none_or(|s| steps < s.0) => {
                    spoiling = Some((steps, spoils));
                }
                _ => {}
            }
        }
        found.help = best.map(|b| b.1);
        // What spoils another is only worth telling where nothing better is known.
        found.spoiling = if found.help.is_none() { spoiling.map(|s| s.1) } else { None };
        found
    }

    /// The cups for which the proof that nothing fits does not outlast a way.
    fn cups_left(&self, way: &Way) -> Vec<usize> {
        let car = self.scene.car;
        let holds = |(choice, proof): &(_, _)| outlasts(proof, car, choice, way);
        let is_left = |now: &&CupNow| !(now.proven && now.proofs.iter().all(holds));
        self.of.cups.iter().filter(is_left).map(|now| now.cup).collect()
    }

    /// The cups for which it is not proven that nothing fits even without the bodies that a way
    /// moves. Where it is, no place for them can help.
    fn cups_without(&self, way: &Way) -> Vec<usize> {
        let car = with_loose(self.scene.car, &way.bodies(self.scene.car));
        let scene = self.scene.with_changed(&car);
        let is_left = |cup: &usize| !CupNow::of(&scene, self.of.fitting, *cup).proven;
        self.of.cups.iter().map(|result| result.cup).filter(is_left).collect()
    }

    /// The smallest size found at which a whole study finds that the fitting fits, and what it is
    /// then.
    ///
    /// First that at which some placement fits, which is quick to tell. The rig's parts may need
    /// more on their ways in: where the whole study does not find that it fits there, growing sizes are
    /// asked whether the parts get in by simple motions, and the whole study again at the least of
    /// these.
    fn smallest(
        &self,
        (way, sign): &Signed,
        cups: &[usize],
        sizes: Sizes,
        tried: &mut usize,
    ) -> Option<(usize, Outcome)> {
        /// Sizes at which the whole study is asked, each a step farther.
        const FARTHER: usize = 2;
        let car = self.scene.car;
        let standing = Standing::new(self.scene, way.bodies(car));
        let by = |steps: usize| sign * sizes.size(steps);
        let possible =
            |steps| way.made(car, by(steps)).is_some_and(|changed| standing.is_clear(&changed));
        let mut placed = Placed { of: self.of, proofs: Proofs::of(self.of), order: cups.to_vec() };
        let from = sizes.smallest(possible, |steps| {
            *tried += 1;
            let Some(changed) = way.made(car, by(steps)) else { return false };
            placed.fits(&self.scene.with_changed(&changed), (way, car), by(steps))
        })?;
        let told = |steps: usize, tried: &mut usize| {
            *tried += 1;
            let change = Change { by: by(steps), way: way.clone() };
            Some((steps, self.conclude(change, cups)?))
        };
        if let Some(found) = told(from, tried) {
            return Some(found);
        }
        let beyond = sizes.beyond(from).smallest(possible, |steps| {
            *tried += 1;
            let Some(changed) = way.made(car, by(steps)) else { return false };
            let scene = self.scene.with_changed(&changed);
            cups.iter().any(|cup| can_be_installed(&scene, &EFFORT, (self.of.fitting, *cup)))
        })?;
        // A margin is to be more than nothing when it is printed: a step more may do for that.
        (beyond..beyond + FARTHER).filter(|s| possible(*s)).find_map(|steps| told(steps, tried))
    }

    /// The whole study of a change. `None` where it does not make the fitting fit, or with a margin
    /// that is nothing when it is printed.
    fn conclude(&self, change: Change, cups: &[usize]) -> Option<Outcome> {
        let car = change.way.made(self.scene.car, change.by)?;
        let scene = self.scene.with_changed(&car);
        let results: Vec<CupResult> = cups
            .iter()
            .filter(|cup| outlook(&scene, (self.of.fitting, **cup), &|_| false) == Outlook::Fits)
            .map(|&cup| CupResult { cup, study: study_cup(&scene, &EFFORT, self.of.fitting, cup) })
            .filter(|result| result.study.verdict.is_fit())
            .collect();
        let best = results.get(best_cup(&results)?)?;
        let least = best.study.least()?;
        let (still, spoils) = self.others.after(&scene, self.of.fitting);
        if !spoils.is_empty() {
            return Some(Err(Spoiling { change, spoils }));
        }
        let (cup, study) = (best.cup, best.study.clone());
        let shows = least.low >= words::margin_step(self.unit);
        shows.then_some(Ok(Help { change, cup, study, others: still }))
    }
}

/// Whether anything can be placed on a changed car top, with what was learnt from the sizes before.
struct Placed<'p> {
    of: &'p Now,
    proofs: Proofs,
    /// The cups, the one that did last ahead: it is likely to do again.
    order: Vec<usize>,
}

impl Placed<'_> {
    fn fits(&mut self, scene: &Scene<'_>, (way, car): (&Way, &CarTop), by: f64) -> bool {
        let proofs = &mut self.proofs;
        let found = self.order.iter().position(|cup| {
            let known = |choice: &Choice| proofs.hold(choice, (way, car), by, scene);
            match outlook(scene, (self.of.fitting, *cup), &known) {
                Outlook::Fits => true,
                Outlook::DoesNot(more) => {
                    proofs.add(more, by);
                    false
                }
            }
        });
        if let Some(i) = found {
            self.order[..=i].rotate_right(1);
        }
        found.is_some()
    }
}

/// Proofs that nothing fits, each with the size of the change for which it was found.
struct Proofs(Vec<(Choice, Proof, f64)>);

impl Proofs {
    /// Those of the car top as it is.
    fn of(now: &Now) -> Self {
        let all = now.cups.iter().flat_map(|c| &c.proofs);
        Self(all.map(|(choice, proof)| (choice.clone(), proof.clone(), 0.0)).collect())
    }

    /// Whether the latest of a choice hold on for another size.
    fn hold(
        &self,
        choice: &Choice,
        (way, car): (&Way, &CarTop),
        to: f64,
        scene: &Scene<'_>,
    ) -> bool {
        /// Proofs tried.
        const LATEST: usize = 2;
        let of_choice = self.0.iter().rev().filter(|(c, ..)| c == choice);
        of_choice
            .take(LATEST)
            .any(|(choice, proof, from)| holds_on((proof, choice), way, car, (*from, to), scene))
    }

    fn add(&mut self, more: Vec<(Choice, Proof)>, by: f64) {
        self.0.extend(more.into_iter().map(|(choice, proof)| (choice, proof, by)));
    }
}
