//! What each piece that is taken off gains.

use crate::checks::assess;
use crate::scene::Scene;
use crate::search::{Effort, Question, nearest_to_fitting};
use crate::situation::Situation;
use assembly::placement::Removed;
use assembly::{Choice, Placement};
use measure::Interval;

/// What becomes of the least margin when a piece of those taken off stays on.
#[derive(Debug, Clone, PartialEq)]
pub struct Gain {
    /// The piece.
    pub piece: Removed,
    /// The least margin in its place, mm, at the best placement found near the given one with the piece
    /// on, and with it what comes off its fitting after it. Above zero where it is only in the way of a
    /// part that is brought in, or of a hand. `None` where nothing could be measured.
    pub with_it_on: Option<Interval>,
}

/// What each of the pieces taken off gains at a placement that fits, in their order. What is found
/// with a piece on need not be the best there is.
pub fn gains(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<Gain> {
    let gain = |piece: &Removed| Gain {
        piece: *piece,
        with_it_on: with_on(scene, choice, placement, piece),
    };
    choice.removed.iter().map(gain).collect()
}

fn with_on(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    piece: &Removed,
) -> Option<Interval> {
    let comes_later = |r: &Removed| r.fitting == piece.fitting && r.removable >= piece.removable;
    let mut choice = choice.clone();
    choice.removed.retain(|r| !comes_later(r));
    let question = Question { scene, choice: &choice };
    let least_at =
        |placement: &Placement| assess(&Situation::new(scene, &choice, placement)?).least();
    let here = least_at(placement);
    let near = nearest_to_fitting(&question, &Effort::default(), placement);
    let there = near.as_ref().and_then(least_at);
    [here, there].into_iter().flatten().max_by(|a, b| a.low.total_cmp(&b.low))
}
