//! What is set up, how it came to be, and the best placements to go back to.

use crate::apply::{Refused, edited};
use crate::ranges::Ranges;
use crate::tried::Setup;
use assembly::{CarTop, Edit, Kit};
use review::{FittingReview, Review};
use std::mem::discriminant;
use std::sync::Arc;

/// The best placement that a review found for a fitting and a cup.
#[derive(Debug, Clone, PartialEq)]
pub struct Best {
    /// What was chosen and how it is placed.
    pub setup: Setup,
    /// Whether its cup is the best for the fitting.
    pub is_best_cup: bool,
}

/// Every best placement that a review found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Bests(Vec<Best>);

impl Bests {
    /// The best placements of a review: one for each fitting and cup for which it has one.
    pub fn of(review: &Review) -> Self {
        let of_fitting = |fitting: &FittingReview| -> Vec<Best> {
            let best = |(i, cup): (usize, &review::CupResult)| {
                let (choice, placement) = (cup.study.choice.clone()?, cup.study.placement.clone()?);
                let setup = Setup { choice, placement };
                Some(Best { setup, is_best_cup: fitting.best == Some(i) })
            };
            fitting.cups.iter().enumerate().filter_map(best).collect()
        };
        Self(review.fittings.iter().flat_map(of_fitting).collect())
    }

    /// The best placement for a fitting and a cup; with `None`, for the fitting's best cup.
    pub fn find(&self, fitting: usize, cup: Option<usize>) -> Option<&Setup> {
        let is_it = |best: &&Best| {
            let choice = &best.setup.choice;
            let is_cup = cup.map_or(best.is_best_cup, |cup| choice.cup == cup);
            choice.fitting == fitting && is_cup
        };
        self.0.iter().find(is_it).map(|best| &best.setup)
    }

    /// All of them, in the order of the review.
    pub fn iter(&self) -> impl Iterator<Item = &Best> {
        self.0.iter()
    }
}

/// What a person does.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// One change by itself.
    Edit(Edit),
    /// A change while something is dragged: one after the other of the same kind are undone together,
    /// until [`Act::Drop`] or another act.
    Drag(Edit),
    /// What was dragged is let go.
    Drop,
    /// Back to the best placement found for this fitting and cup.
    Best,
    /// One change back.
    Undo,
    /// One change forward again.
    Redo,
}

/// What is set up, with what was before. Plain data but for the car top and the kit, which it shares.
#[derive(Debug, Clone)]
pub struct Session {
    car: Arc<CarTop>,
    kit: Arc<Kit>,
    bests: Arc<Bests>,
    now: Setup,
    before: Vec<Setup>,
    after: Vec<Setup>,
    dragged: Option<std::mem::Discriminant<Edit>>,
}

impl Session {
    /// Begins with the best placement for a fitting and a cup; with `None`, for the fitting's best cup.
    pub fn new(
        (car, kit): (Arc<CarTop>, Arc<Kit>),
        bests: Arc<Bests>,
        fitting: usize,
        cup: Option<usize>,
    ) -> Result<Self, Refused> {
        let now = best(&car, &bests, fitting, cup)?;
        let (before, after) = (Vec::new(), Vec::new());
        Ok(Self { car, kit, bests, now, before, after, dragged: None })
    }

    /// What is set up.
    pub fn setup(&self) -> &Setup {
        &self.now
    }

    /// The car top.
    pub fn car(&self) -> &Arc<CarTop> {
        &self.car
    }

    /// The kit.
    pub fn kit(&self) -> &Arc<Kit> {
        &self.kit
    }

    /// How far each thing may be changed; `None` only where what is set up is not of this car top and
    /// kit.
    pub fn ranges(&self) -> Option<Ranges> {
        Ranges::of(&self.car, &self.kit, &self.now.choice)
    }

    /// Whether something can be undone, and done again.
    pub fn can_undo_redo(&self) -> [bool; 2] {
        [!self.before.is_empty(), !self.after.is_empty()]
    }

    /// Whether the best placement of the fitting and the cup is set up.
    pub fn is_best(&self) -> bool {
        self.best_here().is_ok_and(|best| best == self.now)
    }

    fn best_here(&self) -> Result<Setup, Refused> {
        best(&self.car, &self.bests, self.now.choice.fitting, Some(self.now.choice.cup))
    }

    /// What is set up after a change, without making it. Another fitting comes with the best placement
    /// for its best cup.
    pub fn after(&self, edit: &Edit) -> Result<Setup, Refused> {
        after((&self.car, &self.kit), &self.bests, &self.now, edit)
    }

    /// Does what a person did. What is refused changes nothing.
    pub fn act(&mut self, act: &Act) -> Result<(), Refused> {
        match act {
            Act::Edit(edit) => {
                let next = self.after(edit)?;
                self.dragged = None;
                self.go(next);
            }
            Act::Drag(edit) => {
                let next = self.after(edit)?;
                let kind = Some(discriminant(edit));
                if self.dragged == kind {
                    self.now = next;
                } else if next != self.now {
                    self.go(next);
                    self.dragged = kind;
                }
            }
            Act::Drop => self.dragged = None,
            Act::Best => {
                let next = self.best_here()?;
                self.dragged = None;
                self.go(next);
            }
            Act::Undo => {
                let before = self.before.pop().ok_or(Refused::Nothing("undo"))?;
                self.after.push(std::mem::replace(&mut self.now, before));
                self.dragged = None;
            }
            Act::Redo => {
                let after = self.after.pop().ok_or(Refused::Nothing("do again"))?;
                self.before.push(std::mem::replace(&mut self.now, after));
                self.dragged = None;
            }
        }
        Ok(())
    }

    /// Sets something up as if nothing had been before.
    pub(crate) fn begin(&mut self, now: Setup) {
        self.now = now;
        self.before.clear();
        self.after.clear();
        self.dragged = None;
    }

    /// Sets something up that can be undone.
    pub(crate) fn go(&mut self, next: Setup) {
        if next != self.now {
            self.before.push(std::mem::replace(&mut self.now, next));
            self.after.clear();
        }
    }
}

/// What is set up after a change; another fitting comes with the best placement for its best cup.
pub(crate) fn after(
    (car, kit): (&CarTop, &Kit),
    bests: &Bests,
    setup: &Setup,
    edit: &Edit,
) -> Result<Setup, Refused> {
    match edit {
        Edit::Fitting(fitting) => best(car, bests, *fitting, None),
        edit => edited(car, kit, setup, edit),
    }
}

/// The best placement for a fitting and a cup; with `None`, for the fitting's best cup.
pub(crate) fn best(
    car: &CarTop,
    bests: &Bests,
    fitting: usize,
    cup: Option<usize>,
) -> Result<Setup, Refused> {
    let name = &car.fittings.get(fitting).ok_or(Refused::NoSuch("fitting"))?.name;
    bests.find(fitting, cup).cloned().ok_or_else(|| Refused::NotReviewed(name.clone()))
}
