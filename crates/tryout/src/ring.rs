//! The bearing ring: where the outlet may point with everything else as it is set up.

use crate::tried::{Row, Setup};
use assembly::Placement;
use assembly::car_top::LidState;
use fitup::checks::least_or_in;
use fitup::search::{FreeArc, TURNING, free_arcs_as_placed};
use fitup::{Margin, Scene, Situation};
use measure::Angle;
use nalgebra::Point2;
use std::f64::consts::TAU;

/// Where the outlet may point with everything else as it is set up, the turn of the elbow too. It is
/// about side port, outlet and handle against everything else; what is short elsewhere does not show.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// The cup's axis, about which the outlet turns, plate frame, mm.
    pub axis: Point2<f64>,
    /// Where the outlet points.
    pub pointer: Angle,
    /// All round from the first on, counter-clockwise, each beginning where the one before ends.
    pub arcs: Vec<RingArc>,
}

/// A piece of the ring.
#[derive(Debug, Clone, PartialEq)]
pub struct RingArc {
    /// Where it begins and ends, counter-clockwise; the end is more than the beginning by at most a
    /// whole turn.
    pub ends: [Angle; 2],
    /// What is known of it.
    pub state: ArcState,
    /// What ends it at either end: for an arc that is free what has run out just beyond, otherwise the
    /// least margin within. `None` where nothing ends it.
    pub by: [Option<Row>; 2],
}

/// What is known of the bearings of an arc.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ArcState {
    /// Proven: a margin above zero is left all over it.
    Free,
    /// Proven as well, but at most [`TIGHT`] of what is asked for is left over, as sampled at every
    /// degree.
    Tight,
    /// Surely short, as sampled at every degree.
    Blocked,
    /// Neither.
    NotKnown,
}

impl ArcState {
    /// Its word, so that colour is not alone.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Free => "free",
            Self::Tight => "tight",
            Self::Blocked => "blocked",
            Self::NotKnown => "not known",
        }
    }
}

/// The share of the gap asked for that may be left over where a bearing is called tight. Our choice.
pub const TIGHT: f64 = 0.5;

/// Between two samples, at most.
const STEP: f64 = TAU / 360.0;

/// The ring around a cup. `None` where nothing can be placed so, or where `is_stale` says meanwhile that
/// nobody waits for it any more.
pub fn ring(scene: &Scene<'_>, setup: &Setup, is_stale: &dyn Fn() -> bool) -> Option<Ring> {
    let placement = &setup.placement;
    let situation = Situation::new(scene, &setup.choice, placement)?;
    let axis = Point2::from(situation.pose.plate_from_cup.translation.vector.xy());
    let free = free_arcs_as_placed(scene, &setup.choice, placement);
    let mut arcs: Vec<RingArc> = Vec::new();
    for stretch in stretches(&free) {
        for sampled in sampled(scene, setup, &stretch, is_stale)? {
            match arcs.last_mut() {
                Some(last) if last.state == sampled.state => {
                    last.ends[1] = sampled.ends[1];
                    let [_, end] = sampled.by;
                    last.by[1] = end;
                }
                _ => arcs.push(sampled),
            }
        }
    }
    close(&mut arcs);
    Some(Ring { axis, pointer: placement.outlet_bearing, arcs })
}

/// The arc that holds a bearing, by its index.
pub(crate) fn arc_at(arcs: &[RingArc], bearing: Angle) -> Option<usize> {
    let holds = |arc: &RingArc| {
        let [from, to] = arc.ends.map(Angle::radians);
        let on = (bearing.radians() - from).rem_euclid(TAU);
        on <= to - from
    };
    arcs.iter().position(holds)
}

impl Ring {
    /// The arc to which the outlet points.
    pub fn pointed_at(&self) -> Option<&RingArc> {
        self.at(self.pointer)
    }

    /// The arc that holds a bearing.
    pub fn at(&self, bearing: Angle) -> Option<&RingArc> {
        self.arcs.get(arc_at(&self.arcs, bearing)?)
    }
}

/// A piece of the ring that is free, with what ends it, or is not.
struct Stretch<'f> {
    ends: [f64; 2],
    free: Option<&'f FreeArc>,
}

/// The whole turn in pieces that are free and pieces that are not.
fn stretches(free: &[FreeArc]) -> Vec<Stretch<'_>> {
    let ends = |arc: &FreeArc| arc.ends.map(Angle::radians);
    let Some(first) = free.first().map(|arc| ends(arc)[0]) else {
        return vec![Stretch { ends: [0.0, TAU], free: None }];
    };
    let mut all = Vec::new();
    for (i, arc) in free.iter().enumerate() {
        let [from, to] = ends(arc);
        all.push(Stretch { ends: [from, to], free: Some(arc) });
        let next = free.get(i + 1).map_or(first + TAU, |next| ends(next)[0]);
        if next > to {
            all.push(Stretch { ends: [to, next], free: None });
        }
    }
    all
}

/// A stretch in steps of at most [`STEP`], each as it is in its middle.
fn sampled(
    scene: &Scene<'_>,
    setup: &Setup,
    stretch: &Stretch<'_>,
    is_stale: &dyn Fn() -> bool,
) -> Option<Vec<RingArc>> {
    let [from, to] = stretch.ends;
    let mut arcs: Vec<RingArc> = Vec::new();
    let count = ((to - from) / STEP).ceil().max(1.0);
    let mut done = 0.0;
    while done < count {
        if is_stale() {
            return None;
        }
        let ends = [done, done + 1.0].map(|part| from + (to - from) * (part / count));
        let least = least_at(scene, setup, 0.5 * (ends[0] + ends[1]));
        let state = state(scene, least.as_ref(), stretch.free.is_some());
        let row = least.map(|m| Row::of(scene, &setup.choice, &m));
        match arcs.last_mut() {
            Some(last) if last.state == state => {
                last.ends[1] = Angle::from_radians(ends[1]);
                last.by[1] = row;
            }
            _ => {
                let ends = ends.map(Angle::from_radians);
                arcs.push(RingArc { ends, state, by: [row.clone(), row] });
            }
        }
        done += 1.0;
    }
    // Of a free stretch what ends it is known better.
    if let Some(free) = stretch.free {
        let limit = |i: usize| free.limits[i].as_ref().map(|m| Row::of(scene, &setup.choice, m));
        if let Some(first) = arcs.first_mut() {
            first.by[0] = limit(0);
        }
        if let Some(last) = arcs.last_mut() {
            last.by[1] = limit(1);
        }
    }
    Some(arcs)
}

/// The least margin of what turns at a bearing, where it is less than what no arc is tight with.
fn least_at(scene: &Scene<'_>, setup: &Setup, bearing: f64) -> Option<Margin> {
    let rules = &scene.kit.rules;
    // No bearing is tight with more than this, mm.
    let most = rules.needs.iter().map(|need| need.gap).fold(rules.need_otherwise, f64::max);
    let outlet_bearing = Angle::from_radians(bearing);
    let placement = Placement { outlet_bearing, ..setup.placement.clone() };
    let situation = Situation::new(scene, &setup.choice, &placement)?;
    least_or_in(&situation, &TURNING, TIGHT * most)
}

/// What is known of a bearing, by the least margin there and whether it is proven to be free.
fn state(scene: &Scene<'_>, least: Option<&Margin>, is_free: bool) -> ArcState {
    let car = scene.car;
    let is_given = car.lid != LidState::Unknown && car.hinge.is_some() && car.studs.is_some();
    match least {
        Some(margin) if margin.margin.high < 0.0 => ArcState::Blocked,
        _ if !is_free || !is_given => ArcState::NotKnown,
        Some(margin) if margin.margin.low < TIGHT * margin.need => ArcState::Tight,
        _ => ArcState::Free,
    }
}

/// Joins the last arc to the first where they are alike.
fn close(arcs: &mut Vec<RingArc>) {
    if arcs.len() < 2 || arcs.first().map(|a| a.state) != arcs.last().map(|a| a.state) {
        return;
    }
    let Some(last) = arcs.pop() else { return };
    if let Some(first) = arcs.first_mut() {
        let [from, _] = last.ends.map(Angle::radians);
        first.ends[0] = Angle::from_radians(from - TAU);
        let [begins, _] = last.by;
        first.by[0] = begins;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(from: f64, to: f64, state: ArcState) -> RingArc {
        RingArc { ends: [from, to].map(Angle::from_degrees), state, by: [None, None] }
    }

    #[test]
    fn what_is_alike_across_the_beginning_is_one_arc() {
        let mut arcs = vec![
            arc(10.0, 90.0, ArcState::Free),
            arc(90.0, 300.0, ArcState::Blocked),
            arc(300.0, 370.0, ArcState::Free),
        ];
        close(&mut arcs);
        let ends: Vec<[f64; 2]> =
            arcs.iter().map(|a| a.ends.map(|e| e.degrees().round())).collect();
        assert_eq!(ends, [[-60.0, 90.0], [90.0, 300.0]]);
        let mut alone = vec![arc(0.0, 360.0, ArcState::Free)];
        close(&mut alone);
        assert_eq!(alone.len(), 1);
    }

    #[test]
    fn a_bearing_is_found_whichever_turn_it_is_written_with() {
        let arcs = vec![arc(-60.0, 90.0, ArcState::Free), arc(90.0, 300.0, ArcState::Blocked)];
        let at = |degrees| arc_at(&arcs, Angle::from_degrees(degrees));
        assert_eq!(
            [at(0.0), at(330.0), at(-350.0), at(180.0), at(-180.0)].map(Option::unwrap),
            [0, 0, 0, 1, 1]
        );
    }

    #[test]
    fn a_ring_without_a_free_arc_is_one_stretch() {
        let all = stretches(&[]);
        assert_eq!(all.len(), 1);
        assert!((all[0].ends[1] - TAU).abs() < 1e-12 && all[0].free.is_none());
    }
}
