//! The bearings at which the outlet is free.

use super::bound::{Bounded, nearest};
use super::probe::View;
use super::space::{self, CHOICES, Cell, Options, VARIABLES, Values, var};
use super::witness::{self, At, Ground, Sense};
use super::{DEEPEST, Effort, Question, Search, Spot, begun};
use crate::checks::broken;
use crate::margin::{Margin, Part};
use crate::scene::Scene;
use crate::situation::Situation;
use assembly::car_top::BodyId;
use assembly::rig::RigPart;
use assembly::{Choice, Placement};
use measure::Angle;
use std::f64::consts::{PI, TAU};

/// The outlet bearings that surely leave a margin above zero with everything else as placed, the
/// elbow turned as suits best: arcs from first to last free bearing, counter-clockwise. The ends are
/// within [`FINEST_TURN`] of where the margin runs out.
///
/// No point of side port, outlet and handle is farther than some radius from the cup's axis: a margin
/// above the chord of half an arc at its middle keeps the arc free. A bound below zero over it shows
/// it blocked. What is neither is halved.
pub fn free_bearings(scene: &Scene<'_>, choice: &Choice, placement: &Placement) -> Vec<[Angle; 2]> {
    let question = Question { scene, choice };
    let arcs = begun(&question, &Effort::default(), |mut search| {
        let turns = &scene.kit.outlet.elbow_turns;
        let (values, options) = space::numbers(placement, turns);
        let mut free: Vec<[f64; 2]> = Vec::new();
        for elbow in 0..turns.len() {
            let mut options = options;
            options[space::ELBOW] = elbow;
            free.extend(search.free_arcs(([-PI, PI], FINEST_TURN), &values, &options));
        }
        round(joined(free))
    });
    let angle = |arc: [f64; 2]| arc.map(Angle::from_radians);
    arcs.unwrap_or_default().into_iter().map(angle).collect()
}

/// For each end of free arcs, with everything but bearing and elbow as placed, the least margin just
/// beyond it, where it has run out: of the elbow's turn with which it lasts longest. `None` for an arc
/// without ends, and where nothing runs out within a few [`FINEST_TURN`].
pub fn ends_of_free(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    arcs: &[[Angle; 2]],
) -> Vec<[Option<Margin>; 2]> {
    const STEPS: u32 = 4;
    let at = |bearing: f64, elbow_turn: Angle| {
        let outlet_bearing = Angle::from_radians(bearing);
        let placement = Placement { outlet_bearing, elbow_turn, ..placement.clone() };
        let situation = Situation::new(scene, choice, &placement)?;
        broken(&situation).0.into_iter().next()
    };
    let beyond = |end: f64, way: f64| {
        (1..=STEPS).find_map(|step| {
            let bearing = end + way * f64::from(step) * FINEST_TURN;
            let turns = scene.kit.outlet.elbow_turns.iter();
            let least: Option<Vec<Margin>> = turns.map(|turn| at(bearing, *turn)).collect();
            least?.into_iter().max_by(|a, b| a.margin.low.total_cmp(&b.margin.low))
        })
    };
    let ends = |arc: &[Angle; 2]| {
        let [from, to] = arc.map(Angle::radians);
        if to - from >= TAU { [None, None] } else { [beyond(from, -1.0), beyond(to, 1.0)] }
    };
    arcs.iter().map(ends).collect()
}

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
        use RigPart as P;
        let (scene, choice) = (self.bench.scene, self.bench.choice);
        let is_open = |id: &BodyId| !scene.car_solid(*id).is_closed();
        if !(0..scene.car.bodies.len()).map(BodyId).any(|id| is_open(&id)) {
            return false;
        }
        let placement =
            self.placement(&Spot { values: *at.values(), options: *options, least: 0.0 });
        let Some(situation) = Situation::new(scene, choice, &placement) else { return true };
        let meets = |part: P, id: BodyId| {
            let need = scene.kit.rules.need(part.kind(), situation.kind(id));
            let off = situation.deviation(Part::Rig(part)) + situation.deviation(Part::Car(id));
            situation.may_meet_hole(part, id, need + off + chord)
        };
        let turning = [P::SidePort, P::Outlet, P::OutletHandle];
        situation.present().filter(is_open).any(|id| turning.iter().any(|part| meets(*part, id)))
    }

    /// The greatest distance of any point of what turns with the bearing from the cup's axis, mm.
    fn reach_of_outlet(&self) -> f64 {
        use RigPart as P;
        let mechanism = &self.bench.mechanism;
        let turns = 0..self.space.options[space::ELBOW];
        let each = turns.flat_map(|elbow| {
            let mut options = [0; CHOICES];
            options[space::ELBOW] = elbow;
            let at = At::new(mechanism, [0.0; VARIABLES], options);
            [P::SidePort, P::Outlet, P::OutletHandle].map(|part| {
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
