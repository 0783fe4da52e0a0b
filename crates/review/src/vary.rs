//! As-built variations: whether the car tops and kits that the documents may stand for can be capped.

use crate::run::{Progress, Review};
use crate::share::Share;
use assembly::as_built::as_built;
use assembly::parts::PartError;
use assembly::{CarTop, Choice, Kit, Placement, rig};
use fitup::search::nearest_to_fitting;
use fitup::{Effort, Margin, Part, Question, Rule, Scene, Situation, broken};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::RangeInclusive;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// How many variations may be asked for.
pub const DRAWS: RangeInclusive<usize> = 1..=100_000;

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Vary {
    /// How many variations to draw for each fitting, within [`DRAWS`].
    pub draws: usize,
    /// Where the numbers begin: the same seed gives the same variations.
    pub seed: u64,
}

/// What as-built variations of one fitting's best choice came to.
#[derive(Debug, Clone, PartialEq)]
pub struct Variations {
    /// Index into [`CarTop::fittings`].
    pub fitting: usize,
    /// Those that can be capped at the planned placement, the screw turned until it sits. What cannot
    /// be told counts as not capped.
    pub as_planned: Share,
    /// Those that can be capped there or at a placement near it, as far as a climb finds one.
    pub placed_anew: Share,
    /// How many cannot be told: the kit contradicts itself, or data are missing.
    pub undecided: usize,
    /// What limits those that cannot be capped, the commonest first, with how often.
    pub limits: Vec<(Limit, usize)>,
}

/// A figure that a variation falls short of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// What is measured.
    pub rule: Rule,
    /// The first part.
    pub a: Part,
    /// What it is measured against.
    pub b: Part,
}

/// How one variation came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    AsPlanned,
    PlacedAnew,
    Limited(Limit),
    Undecided,
}

/// Draws variations of the best choice of each fitting reviewed, on all threads of the current rayon
/// pool; the result does not depend on how many there are. A fitting without a placement is left out.
///
/// Each dimension of the kit, each body of the car top and each figure of a port is drawn evenly
/// within its bounds, for nothing more is known of it.
///
/// Fails when a part of the kit has dimensions from which no solid can be made.
///
/// `progress` is called after each variation, from any thread.
pub fn vary(
    car: &CarTop,
    kit: &Kit,
    review: &Review,
    asked: Vary,
    progress: &(dyn Fn(Progress) + Sync),
) -> Result<Vec<Variations>, PartError> {
    let chosen = review.fittings.iter().filter_map(|found| {
        let study = &found.chosen()?.study;
        Some((found.fitting, study.choice.as_ref()?, study.placement.as_ref()?))
    });
    let chosen: Vec<(usize, &Choice, &Placement)> = chosen.collect();
    let draws = asked.draws.clamp(*DRAWS.start(), *DRAWS.end());
    let total = chosen.len() * draws;
    let done = AtomicUsize::new(0);
    let scene = Scene::new(car, kit)?;
    let of_fitting = |&(fitting, choice, placement): &(usize, &Choice, &Placement)| {
        let mut one_cup = kit.clone();
        one_cup.cups = kit.cups.get(choice.cup).cloned().into_iter().collect();
        let choice = Choice { cup: 0, ..choice.clone() };
        let planned = Planned { scene: &scene, car, kit: one_cup, choice, placement };
        let outcomes: Vec<Outcome> = (0..draws)
            .into_par_iter()
            .map(|draw| {
                let outcome = planned.built(asked.seed, draw);
                progress(Progress { done: done.fetch_add(1, Relaxed) + 1, total });
                outcome
            })
            .collect();
        Variations::of(fitting, &outcomes)
    };
    Ok(chosen.iter().map(of_fitting).collect())
}

impl Variations {
    fn of(fitting: usize, outcomes: &[Outcome]) -> Self {
        let count = |of: &dyn Fn(&Outcome) -> bool| outcomes.iter().filter(|o| of(o)).count();
        let as_planned = count(&|o| *o == Outcome::AsPlanned);
        let placed_anew = as_planned + count(&|o| *o == Outcome::PlacedAnew);
        let mut limits: BTreeMap<(&str, Part, Part), (Limit, usize)> = BTreeMap::new();
        for outcome in outcomes {
            if let Outcome::Limited(limit) = outcome {
                let key = (limit.rule.word(), limit.a, limit.b);
                limits.entry(key).or_insert((*limit, 0)).1 += 1;
            }
        }
        let mut limits: Vec<(Limit, usize)> = limits.into_values().collect();
        limits.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        Self {
            fitting,
            as_planned: Share::of(as_planned, outcomes.len()),
            placed_anew: Share::of(placed_anew, outcomes.len()),
            undecided: count(&|o| *o == Outcome::Undecided),
            limits,
        }
    }
}

/// A planned placement and what it rests on.
struct Planned<'p> {
    scene: &'p Scene<'p>,
    car: &'p CarTop,
    /// The kit with no cup but the chosen one.
    kit: Kit,
    /// The choice in that kit.
    choice: Choice,
    placement: &'p Placement,
}

impl Planned<'_> {
    /// Whether the variation of this number can be capped.
    fn built(&self, seed: u64, draw: usize) -> Outcome {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(draw as u64);
        // 53 bits, evenly from -1 to 1.
        let mut even = || 2.0 * (random.next_u64() >> 11) as f64 / (1_u64 << 53) as f64 - 1.0;
        let built = as_built(self.car, &self.kit, &mut even);
        let Ok(scene) = self.scene.built(&built) else { return Outcome::Undecided };
        let planned = match self.short(&scene, self.placement) {
            Short::Nothing => return Outcome::AsPlanned,
            Short::Unknown => return Outcome::Undecided,
            Short::Of(limit) => limit,
        };
        let question = Question { scene: &scene, choice: &self.choice };
        let Some(anew) = nearest_to_fitting(&question, &Effort::default(), self.placement) else {
            return Outcome::Limited(planned);
        };
        match self.short(&scene, &anew) {
            Short::Nothing => Outcome::PlacedAnew,
            Short::Unknown => Outcome::Undecided,
            Short::Of(limit) => Outcome::Limited(limit),
        }
    }

    /// What a placement falls short of, the screw turned until it sits.
    fn short(&self, scene: &Scene<'_>, placement: &Placement) -> Short {
        let Some(pose) = rig::pose(scene.kit, scene.car, &self.choice, placement) else {
            return Short::Unknown;
        };
        let seated = Placement { screw_extension: pose.extension_to_seat, ..placement.clone() };
        let Some(situation) = Situation::new(scene, &self.choice, &seated) else {
            return Short::Unknown;
        };
        let (broken, undecided) = broken(&situation);
        match broken.first() {
            Some(Margin { rule, a, b, .. }) => Short::Of(Limit { rule: *rule, a: *a, b: *b }),
            None if undecided.is_empty() => Short::Nothing,
            None => Short::Unknown,
        }
    }
}

/// What a placement falls short of.
enum Short {
    Nothing,
    Of(Limit),
    Unknown,
}
