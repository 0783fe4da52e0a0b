//! The bearings at which the outlet is free.

use super::bound::{Bounded, nearest};
use super::probe::View;
use super::space::{self, CHOICES, Cell, Options, VARIABLES, Values, var};
use super::witness::{self, At, Ground, Sense};
use super::{DEEPEST, Effort, Question, Search, Spot, begun};
use crate::checks::least_of;
use crate::margin::{Margin, Part};
use crate::scene::Scene;
use crate::situation::Situation;
use assembly::car_top::BodyId;
use assembly::rig::RigPart;
use assembly::{Choice, Placement};
use measure::Angle;
use std::f64::consts::{PI, TAU};
use std::ops::Range;

/// The outlet bearings that surely leave a margin above zero with everything else as placed, the
/// elbow turned as suits best: arcs from first to last free bearing, counter-clockwise. The ends are
/// within [`FINEST_TURN`] of where the margin falls below what such a turn may take of it.
///
/// No point of side port, outlet and handle is farther than some radius from the cup's axis: a margin
/// above the chord of half an arc at its middle keeps the arc free. A bound below zero over it shows
/// it blocked. What is neither is halved. An open body is kept clear of by its whole box.
pub fn free_bearings(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<[Angle; 2]> {
    let arcs = round(joined(by_elbow(scene, choice, placement).into_iter().flatten().collect()));
    arcs.into_iter().map(|arc| arc.map(Angle::from_radians)).collect()
}

/// An arc of free bearings, and what ends it.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeArc {
    /// From first to last free bearing, counter-clockwise.
    pub ends: [Angle; 2],
    /// The least margin of what turns, twice [`FINEST_TURN`] beyond either end, with the elbow turned so
    /// that it is free up to there: it has run out, or is about to. `None` for a whole turn, which has
    /// no ends, and where an open body is in the way.
    pub limits: [Option<Margin>; 2],
}

/// As [`free_bearings`], with what ends each arc.
pub fn free_arcs(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<FreeArc> {
    with_ends(scene, choice, placement, &by_elbow(scene, choice, placement))
}

/// As [`free_arcs`], with the elbow turned as it is placed. None for a turn that the kit does not allow.
pub fn free_arcs_as_placed(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
) -> Vec<FreeArc> {
    let turns = &scene.kit.outlet.elbow_turns;
    let Some(placed) = turns.iter().position(|turn| *turn == placement.elbow_turn) else {
        return Vec::new();
    };
    let arcs = by_elbows(scene, choice, placement, placed..placed + 1);
    let mut elbows = vec![Vec::new(); placed];
    elbows.extend(arcs);
    with_ends(scene, choice, placement, &elbows)
}

/// Free arcs for each turn of the elbow as arcs round the circle, with what ends each.
fn with_ends(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    elbows: &[Vec<[f64; 2]>],
) -> Vec<FreeArc> {
    /// Margins are followed up to here, mm: what turns moves by less on the way.
    const CEILING: f64 = 1.0;
    let least = |bearing: f64, elbow_turn: Angle| {
        let outlet_bearing = Angle::from_radians(bearing);
        let placement = Placement { outlet_bearing, elbow_turn, ..placement.clone() };
        let situation = Situation::new(scene, choice, &placement)?;
        least_of(&situation, &TURNING, CEILING)
    };
    let limit = |end: f64, way: f64| {
        let ends = |arcs: &[[f64; 2]]| arcs.iter().flatten().any(|e| is_same(*e, end));
        let turns = scene.kit.outlet.elbow_turns.iter().zip(elbows);
        let turn = turns.into_iter().find(|(_, arcs)| ends(arcs)).map(|(turn, _)| *turn)?;
        least(end + way * 2.0 * FINEST_TURN, turn)
    };
    let with_limits = |[from, to]: [f64; 2]| {
        let whole = to - from >= TAU;
        let limits = if whole { [None, None] } else { [limit(from, -1.0), limit(to, 1.0)] };
        FreeArc { ends: [from, to].map(Angle::from_radians), limits }
    };
    let arcs = round(joined(elbows.iter().flatten().copied().collect()));
    arcs.into_iter().map(with_limits).collect()
}

/// The free arcs from `-PI` to `PI` for each turn of the elbow.
fn by_elbow(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<Vec<[f64; 2]>> {
    by_elbows(scene, choice, placement, 0..scene.kit.outlet.elbow_turns.len())
}

/// The same for some turns.
fn by_elbows(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    elbows: Range<usize>,
) -> Vec<Vec<[f64; 2]>> {
    let question = Question { scene, choice };
    let arcs = begun(&question, &Effort::default(), |mut search| {
        let turns = &scene.kit.outlet.elbow_turns;
        let (values, mut options) = space::numbers(placement, turns);
        let arcs = elbows.map(|elbow| {
            options[space::ELBOW] = elbow;
            search.free_arcs(([-PI, PI], FINEST_TURN), &values, &options)
        });
        arcs.collect()
    });
    arcs.unwrap_or_default()
}

/// What turns with the outlet's bearing.
pub const TURNING: [RigPart; 3] = [RigPart::SidePort, RigPart::Outlet, RigPart::OutletHandle];

/// Arcs of bearings are no finer than this, radians.
pub const FINEST_TURN: f64 = 5e-4;

impl Search<'_> {
    /// The free arcs within an arc, as fine as given, with everything but the bearing as given.
    pub(super) fn free_arcs(
        &mut self,
        ([from, to], finest): ([f64; 2], f64),
        values: &Values,
        options: &Options,
    ) -> Vec<[f64; 2]> {
        let reach = self.reach_of_outlet();
        let whole = |from: f64, to: f64| {
            let (mut low, mut high) = (*values, *values);
            (low[var::BEARING], high[var::BEARING]) = (from, to);
            Cell { low, high, chosen: options.map(Some) }
        };
        let mut free: Vec<[f64; 2]> = Vec::new();
        let known = self.pool.len();
        let is_law =
            |i: &usize| matches!(self.pool[*i].ground, Ground::Rule(law) if !law.is_of_a_point());
        let laws: Vec<usize> = (0..known).filter(is_law).collect();
        let mut open = vec![(whole(from, to), laws)];
        let sense = Sense::Low;
        while let Some((cell, mut near)) = open.pop() {
            let (from, to) = (cell.low[var::BEARING], cell.high[var::BEARING]);
            let chord = gap::motion::turn_bound(reach, 0.5 * (to - from));
            let at = At::new(&self.bench.mechanism, cell.middle(), *options);
            let few = (chord, 1);
            let found =
                self.probe.look((&at, options), (sense, View::Turning), few, chord.min(DEEPEST));
            let is_free = found.short.is_empty();
            if is_free && !self.may_meet_hole(&at, options, chord) {
                free.push([from, to]);
                continue;
            }
            if to - from <= finest {
                continue;
            }
            if !is_free && found.least < 0.0 {
                near.extend(self.pool.len()..self.pool.len() + found.short.len());
                self.pool.extend(found.short.into_iter().map(|(w, _)| w));
                if self.bounded(&cell, &near, sense).value < 0.0 {
                    continue;
                }
            }
            // The lower half first, so that arcs come in order.
            let [lower, upper] = cell.halves(var::BEARING);
            for half in [upper, lower] {
                let none = Bounded::unknown(&half);
                let near = nearest(self.bench, &self.pool, (&none, &near), &half);
                open.push((half, near));
            }
        }
        self.pool.truncate(known);
        joined(free)
    }

    /// Whether what is missing of an open body may be in the way of what turns with the bearing, turned
    /// by no more than a chord to either side, mm.
    fn may_meet_hole(&self, at: &At<'_>, options: &Options, chord: f64) -> bool {
        let (scene, choice) = (self.bench.scene, self.bench.choice);
        let is_open = |id: &BodyId| !scene.car_solid(*id).is_closed();
        if !(0..scene.car.bodies.len()).map(BodyId).any(|id| is_open(&id)) {
            return false;
        }
        let placement =
            self.placement(&Spot { values: *at.values(), options: *options, least: 0.0 });
        let Some(situation) = Situation::new(scene, choice, &placement) else { return true };
        let meets = |part: RigPart, id: BodyId| {
            let need = scene.kit.rules.need(part.kind(), situation.kind(id));
            let off = situation.deviation(Part::Rig(part)) + situation.deviation(Part::Car(id));
            situation.may_meet_hole(part, id, need + off + chord)
        };
        situation.present().filter(is_open).any(|id| TURNING.iter().any(|part| meets(*part, id)))
    }

    /// The greatest distance of any point of what turns with the bearing from the cup's axis, mm.
    fn reach_of_outlet(&self) -> f64 {
        let mechanism = &self.bench.mechanism;
        let turns = 0..self.space.options[space::ELBOW];
        let each = turns.flat_map(|elbow| {
            let mut options = [0; CHOICES];
            options[space::ELBOW] = elbow;
            let at = At::new(mechanism, [0.0; VARIABLES], options);
            TURNING.map(|part| {
                let frame = at.place(self.bench.frame(Part::Rig(part)));
                let shape = witness::shape_of(part, self.bench.choice, &options);
                let shaped = self.bench.scene.shape(shape);
                let vertices = shaped.map_or(&[][..], |s| s.body.mesh.vertices.as_slice());
                let axis = mechanism.axis(at.values()).coords;
                let out = |p: &nalgebra::Point3<f64>| (frame.point(&p.coords).xy() - axis).norm();
                vertices.iter().map(out).fold(0.0, f64::max)
            })
        });
        each.fold(0.0, f64::max)
    }
}

/// Whether two bearings are the same but for rounding and whole turns.
pub(super) fn is_same(a: f64, b: f64) -> bool {
    const ROUNDING: f64 = 1e-9;
    let apart = (a - b).rem_euclid(TAU);
    apart.min(TAU - apart) < ROUNDING
}

/// The union of arcs between `-PI` and `PI`, in order.
pub(super) fn joined(mut arcs: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    arcs.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut union: Vec<[f64; 2]> = Vec::new();
    for arc in arcs {
        match union.last_mut() {
            Some(last) if arc[0] <= last[1] => last[1] = last[1].max(arc[1]),
            _ => union.push(arc),
        }
    }
    union
}

/// Arcs in order between `-PI` and `PI` as arcs round the circle: one that passes the half turn is
/// one arc, a whole turn is `0` to `TAU`.
pub(super) fn round(mut arcs: Vec<[f64; 2]>) -> Vec<[f64; 2]> {
    let (Some(&[first, first_end]), Some(&[last, last_end])) = (arcs.first(), arcs.last()) else {
        return arcs;
    };
    let passes = first <= -PI && last_end >= PI;
    if passes && arcs.len() == 1 {
        return vec![[0.0, TAU]];
    }
    if passes {
        arcs.pop();
        arcs.remove(0);
        arcs.push([last, first_end + TAU]);
    }
    arcs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arcs_that_meet_are_one() {
        let arcs = |arcs: Vec<[f64; 2]>| round(joined(arcs));
        assert_eq!(arcs(vec![[0.5, 1.0], [-1.0, 0.6]]), [[-1.0, 1.0]]);
        assert_eq!(arcs(vec![[0.0, PI], [-PI, 0.0]]), [[0.0, TAU]]);
        assert_eq!(arcs(vec![[2.0, PI], [-PI, -3.0]]), [[2.0, TAU - 3.0]]);
        assert_eq!(arcs(vec![]), Vec::<[f64; 2]>::new());
        assert_eq!(arcs(vec![[-PI, -1.0], [1.0, 2.0]]), [[-PI, -1.0], [1.0, 2.0]]);
    }
}
