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
    Effort, Outlook, Proof, Scene, Standing, holds_on, outlasts, outlook, port_pairs, study_cup,
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
                Self { cup, proven: proofs.len() == port_pairs(scene).len(), proofs }
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

/// Sizes tried, each a step farther, until the margin is more than nothing when it is printed.
const FARTHER: usize = 4;

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
            let signed = (way, sign);
            let Some(steps) = self.smallest(&signed, &cups, sizes, known, &mut found.tried) else {
                continue;
            };
            for steps in steps..steps + FARTHER {
                let change = Change { by: signed.1 * sizes.size(steps), way: signed.0.clone() };
                match self.conclude(change, &cups) {
                    None => continue,
                    Some(Ok(help)) if !self.shows(&help) => continue,
                    Some(Ok(help)) => best = Some((steps, help)),
                    Some(Err(spoils)) if spoiling.as_ref().is_none_or(|s| steps < s.0) => {
                        spoiling = Some((steps, spoils));
                    }
                    _ => {}
                }
                break;
            }
        }
        found.help = best.map(|b| b.1);
        // What spoils another is only worth telling where nothing better is known.
        found.spoiling = if found.help.is_none() { spoiling.map(|s| s.1) } else { None };
        found
    }

    /// Whether a margin is more than nothing when it is printed.
    fn shows(&self, help: &Help) -> bool {
        help.study.least().is_some_and(|least| least.low >= words::margin_step(self.unit))
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

    fn smallest(
        &self,
        (way, sign): &Signed,
        cups: &[usize],
        sizes: Sizes,
        known: Option<usize>,
        tried: &mut usize,
    ) -> Option<usize> {
        let car = self.scene.car;
        let standing = Standing::new(self.scene, way.bodies(car));
        let by = |steps: usize| sign * sizes.size(steps);
        let possible =
            |steps| way.made(car, by(steps)).is_some_and(|changed| standing.is_clear(&changed));
        let mut proofs = Proofs::of(self.of);
        // The cup that did last is likely to do again.
        let mut order = cups.to_vec();
        let does = |steps| {
            *tried += 1;
            let Some(changed) = way.made(car, by(steps)) else { return false };
            let scene = self.scene.with_changed(&changed);
            let fits = |cup: &usize| {
                let found = outlook(&scene, (self.of.fitting, *cup), &|choice| {
                    proofs.hold(choice, (way, car), by(steps), &scene)
                });
                match found {
                    Outlook::Fits => true,
                    Outlook::DoesNot(more) => {
                        proofs.add(more, by(steps));
                        false
                    }
                }
            };
            let found = order.iter().position(fits);
            if let Some(i) = found {
                order[..=i].rotate_right(1);
            }
            found.is_some()
        };
        let sizes = known.map_or(sizes, |known| sizes.below(known));
        sizes.smallest(possible, does)
    }

    /// The whole study of a change; the fittings that it spoils, as an error. `None` where it does
    /// not make the fitting fit after all, for what only the whole study sees.
    fn conclude(&self, change: Change, cups: &[usize]) -> Option<Result<Help, Spoiling>> {
        let car = change.way.made(self.scene.car, change.by)?;
        let scene = self.scene.with_changed(&car);
        let effort = Effort::default();
        let results: Vec<CupResult> = cups
            .iter()
            .filter(|cup| outlook(&scene, (self.of.fitting, **cup), &|_| false) == Outlook::Fits)
            .map(|&cup| CupResult { cup, study: study_cup(&scene, &effort, self.of.fitting, cup) })
            .filter(|result| result.study.verdict.is_fit())
            .collect();
        let best = results.get(best_cup(&results)?)?;
        let (still, spoils) = self.others.after(&scene, self.of.fitting);
        Some(if spoils.is_empty() {
            let (cup, study) = (best.cup, best.study.clone());
            Ok(Help { change, cup, study, others: still })
        } else {
            Err(Spoiling { change, spoils })
        })
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
