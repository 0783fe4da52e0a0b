//! Whether a rig that fits in its place can be brought there and held, and what more is taken off
//! for that.

use super::{Measured, Prospect, Tried, all_removables, assessed, with_before};
use crate::margin::{Part, Rule};
use crate::path::Way;
use crate::scene::Scene;
use crate::search::{Effort, free_bearings};
use assembly::placement::Removed;
use assembly::rig::RigPart;
use assembly::{Choice, Placement};
use measure::Angle;
use std::f64::consts::{PI, TAU};

/// Of trials that fit, leaves out those before the first whose parts get to their places and where
/// hands find room, if there is one; what was measured for the one in front. A trial may be turned to
/// another of its free outlet bearings for that, or be placed as the search found it to fit besides.
/// Among trials with as many pieces off the dear search for a way comes last.
pub(super) fn prefer(
    scene: &Scene<'_>,
    effort: &Effort,
    tried: &mut Vec<Tried>,
) -> Option<Measured> {
    let fitting = tried.iter().take_while(|t| t.prospect() == Prospect::Fits).count();
    let off = |index: usize| tried.get(index).map(|t: &Tried| t.choice.removed.len());
    let mut order: Vec<(bool, usize)> = Vec::with_capacity(2 * fitting);
    let mut from = 0;
    while from < fitting {
        let alike = (from..fitting).take_while(|index| off(*index) == off(from)).count();
        let last = effort.searches_ways.then_some(true);
        for may_search in std::iter::once(false).chain(last) {
            order.extend((from..from + alike).map(|index| (may_search, index)));
        }
        from += alike;
    }
    let mut front = None;
    for (may_search, index) in order {
        let Some(one) = tried.get(index) else { break };
        let Some(placement) = one.answer.placement.clone() else { continue };
        let mut is_first_past = false;
        let mut next = vec![placement];
        while let Some(placement) = next.pop() {
            let Some(found) = assessed(scene, &one.choice, &placement, may_search) else {
                continue;
            };
            if found.0.is_kept() {
                tried.drain(..index);
                if let Some(first) = tried.first_mut() {
                    let least = found.0.least().map_or(first.answer.least, |least| least.low);
                    first.answer.least = first.answer.least.min(least);
                    first.answer.placement = Some(placement);
                }
                return Some(found);
            }
            if !may_search && !std::mem::replace(&mut is_first_past, true) {
                if turning_may_help(&found.1) {
                    next = turned(scene, &one.choice, &placement);
                }
                next.extend(one.answer.others.iter().cloned());
                next.reverse();
            }
            if index == 0 && (may_search || front.is_none()) {
                front = Some(found);
            }
        }
    }
    front
}

/// Where the parts of a trial that fits do not get to their places, or hands find no room, for pieces
/// that can be taken off: the trial with those off as well, if that does. Also how many placements
/// were looked at for that.
pub(super) fn with_more_off(
    scene: &Scene<'_>,
    effort: &Effort,
    front: &Tried,
    measured: &Measured,
) -> Option<(Tried, Measured, usize)> {
    if front.prospect() != Prospect::Fits || measured.0.is_kept() {
        return None;
    }
    let mut looked_at = 0;
    let mut choice = front.choice.clone();
    let mut pieces = in_the_way(scene, &choice, measured);
    // Each turn takes off a piece at least.
    while !pieces.is_empty() {
        for piece in pieces {
            choice.removed = with_before(&choice.removed, piece);
        }
        let tried = Tried::new(scene, effort, choice.clone(), None);
        looked_at += tried.answer.looked_at;
        if tried.prospect() != Prospect::Fits {
            return None;
        }
        let mut only = vec![tried];
        let measured = prefer(scene, effort, &mut only)?;
        if measured.0.is_kept() {
            return Some((only.pop()?, measured, looked_at));
        }
        pieces = in_the_way(scene, &choice, &measured);
    }
    None
}

/// The pieces that are on the car and that a part met on its way, or a hand.
fn in_the_way(scene: &Scene<'_>, choice: &Choice, (assessment, ways): &Measured) -> Vec<Removed> {
    let met = ways.iter().filter_map(|way| Some(way.found.as_ref().err()?.stop.as_ref()?.still));
    let margins = assessment.outcomes.iter().flat_map(|outcome| &outcome.margins);
    let beside_hands = margins.filter(|m| m.rule == Rule::HandRoom && m.may_be_broken());
    let parts: Vec<Part> = met.chain(beside_hands.map(|m| m.b)).collect();
    all_removables(scene)
        .into_iter()
        .filter(|piece| !choice.removed.contains(piece))
        .filter(|piece| {
            let fitting = scene.car.fittings.get(piece.fitting);
            let removable = fitting.and_then(|f| f.removables.get(piece.removable));
            removable.is_some_and(|r| parts.contains(&Part::Car(r.body)))
        })
        .collect()
}

/// Whether the first way that was not found could be there with the outlet at another bearing: not
/// where the outlet is neither carried nor placed by then.
fn turning_may_help(ways: &[Way]) -> bool {
    let carries = |way: &Way| way.lift.parts.contains(&RigPart::Outlet);
    ways.iter().find(|way| way.found.is_err() || carries(way)).is_none_or(carries)
}

/// Placements with the outlet at other free bearings, the nearest first: some in every free arc,
/// however narrow it is.
fn turned(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<Placement> {
    /// Bearings tried are no farther apart, radians.
    const APART: f64 = TAU / 24.0;
    let here = placement.outlet_bearing.radians();
    let mut bearings: Vec<f64> = Vec::new();
    for arc in free_bearings(scene, choice, placement) {
        let [from, to] = arc.map(Angle::radians);
        let length = to - from;
        let mut parts = 1.0;
        while length > parts * APART {
            parts += 1.0;
        }
        let mut part = 0.5;
        while part < parts {
            bearings.push((from + length * part / parts - here + PI).rem_euclid(TAU) - PI);
            part += 1.0;
        }
    }
    bearings.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
    let mut others = Vec::new();
    for turn in bearings {
        let wound = (here + turn + PI).rem_euclid(TAU) - PI;
        for &elbow_turn in &scene.kit.outlet.elbow_turns {
            let outlet_bearing = Angle::from_radians(wound);
            others.push(Placement { outlet_bearing, elbow_turn, ..placement.clone() });
        }
    }
    others
}
