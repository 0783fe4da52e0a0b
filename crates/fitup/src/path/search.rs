//! A search for a way where no simple route is clear: two trees of displacements, one grown from the
//! place and one from above everything, each extended toward what the other reached (RRT-Connect,
//! Kuffner and `LaValle` 2000). Every edge is proven by a sweep before it is taken, and the whole
//! route again at the end. The draws are always the same, and the effort is bounded: finding none
//! proves nothing.
//!
//! Our own, because an edge here is a proof: the planners at hand (crates `rrt` and `oxmpl`) ask
//! whether single poses are free, and would have to be believed in between.

use super::passage::{Passage, Proven};
use super::route::{Leg, Route};
use super::simple::Room;
use nalgebra::{Isometry3, Point3, Translation3, Unit, UnitQuaternion, Vector3};

/// Edges that are tried in each plane, and in any way, before the search gives up.
const MOST_EDGES: usize = 1000;
/// Poses of pairs that may be looked at on all those edges together.
const MOST_POSES: usize = 10_000;
/// Part of the pieces' size by which a tree grows at once.
const STEP: f64 = 0.125;
/// Least step, mm.
const LEAST_STEP: f64 = 5.0;
/// Greatest turn that is drawn, radians.
const TURN: f64 = std::f64::consts::FRAC_PI_2;
/// Room to the sides that is drawn from, as part of the pieces' size.
const SIDEWAYS: f64 = 1.0;
/// Tries to leave out what a route does not need.
const SHORTER: usize = 60;

/// A displacement of the pieces from their place: turned about their middle and shifted.
#[derive(Debug, Clone, Copy)]
struct Stand {
    shift: Vector3<f64>,
    turn: UnitQuaternion<f64>,
}

impl Stand {
    fn over_the_place(up: f64) -> Self {
        Self { shift: Vector3::new(0.0, 0.0, up), turn: UnitQuaternion::identity() }
    }

    fn displacement(&self, middle: &Point3<f64>) -> Isometry3<f64> {
        let shift = middle.coords + self.shift - self.turn * middle.coords;
        Isometry3::from_parts(Translation3::from(shift), self.turn)
    }

    /// Millimetres that no point of pieces within `reach` of their middle goes farther.
    fn distance(&self, other: &Self, reach: f64) -> f64 {
        (other.shift - self.shift).norm() + reach * self.turn.angle_to(&other.turn)
    }

    /// A part of the way to another stand.
    fn toward(&self, other: &Self, part: f64) -> Self {
        let turned = self.turn.rotation_to(&other.turn).powf(part) * self.turn;
        Self { shift: self.shift.lerp(&other.shift, part), turn: turned }
    }

    /// Shifted first and then turned.
    fn legs_to(&self, other: &Self, middle: &Point3<f64>) -> Vec<Leg> {
        let mut legs = Vec::with_capacity(2);
        let by = other.shift - self.shift;
        if by.norm() > 0.0 {
            legs.push(Leg::Straight(by));
        }
        if let Some((axis, angle)) = self.turn.rotation_to(&other.turn).axis_angle() {
            let through = middle + other.shift;
            legs.push(Leg::Turn { through, axis, angle, advance: 0.0 });
        }
        legs
    }
}

struct Tree {
    /// Whether the tree grows from the place out.
    outward: bool,
    /// Each with the index of the one before it.
    nodes: Vec<(Stand, usize)>,
}

impl Tree {
    fn nearest(&self, to: &Stand, reach: f64) -> usize {
        let distance =
            |i: &usize| self.nodes.get(*i).map_or(f64::INFINITY, |(s, _)| s.distance(to, reach));
        (0..self.nodes.len()).min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or(0)
    }

    /// From a node back to the root.
    fn back(&self, from: usize) -> Vec<Stand> {
        let mut at = from;
        let mut way = Vec::new();
        while let Some((stand, before)) = self.nodes.get(at) {
            way.push(*stand);
            if *before == at {
                break;
            }
            at = *before;
        }
        way
    }
}

struct Search<'p, 's> {
    passage: &'p mut Passage<'s>,
    middle: Point3<f64>,
    reach: f64,
    step: f64,
    /// The level axis square to the plane in which is searched; `None` for everywhere.
    plane: Option<Unit<Vector3<f64>>>,
    /// Edges left.
    left: usize,
    /// Poses looked at by the passage at which the search ends.
    until: usize,
    draws: Draws,
}

/// Looks for a way from above everything to the place: first in the upright planes along and across
/// `forward`, then in any way. `room` is the room above.
pub fn search(
    passage: &mut Passage<'_>,
    room: &Room,
    forward: &Unit<Vector3<f64>>,
) -> Option<(Route, Proven)> {
    let bounds = passage.bounds()?;
    // What does not settle clear finds no way.
    passage.prove(&Route::default()).ok()?;
    let middle = nalgebra::center(&bounds.low, &bounds.high);
    let reach = 0.5 * (bounds.high - bounds.low).norm();
    let step = (2.0 * reach * STEP).max(LEAST_STEP);
    let across = Unit::try_new(Vector3::z().cross(forward), 1e-6)?;
    [Some(across), Some(*forward), None].into_iter().find_map(|plane| {
        let draws = Draws(0x9e37_79b9_7f4a_7c15);
        let left = MOST_EDGES;
        let until = passage.looked_at().saturating_add(MOST_POSES);
        Search { passage, middle, reach, step, plane, left, until, draws }.run(room)
    })
}

impl Search<'_, '_> {
    fn run(mut self, room: &Room) -> Option<(Route, Proven)> {
        let mut trees = [(true, 0.0), (false, room.top)]
            .map(|(outward, up)| Tree { outward, nodes: vec![(Stand::over_the_place(up), 0)] });
        while self.left > 0 && self.passage.looked_at() < self.until {
            let drawn = self.draw(room);
            let [tree, other] = &mut trees;
            if let Some(new) = self.extend(tree, &drawn) {
                let target = tree.nodes.get(new).map(|(stand, _)| *stand)?;
                if let Some(met) = self.connect(other, &target) {
                    let (mut here, mut there) = (tree.back(new), other.back(met));
                    if !tree.outward {
                        std::mem::swap(&mut here, &mut there);
                    }
                    here.reverse();
                    here.extend(there);
                    return self.route(here);
                }
            }
            trees.reverse();
        }
        None
    }

    fn draw(&mut self, room: &Room) -> Stand {
        let mut within = |low: f64, high: f64| low + (high - low) * self.draws.next();
        let wide = SIDEWAYS * 2.0 * self.reach;
        let mut shift = Vector3::new(
            within(-wide, wide),
            within(-wide, wide),
            within(-0.25 * wide, room.top.min(room.over + wide) + wide),
        );
        let mut axis = Vector3::new(within(-1.0, 1.0), within(-1.0, 1.0), within(-1.0, 1.0));
        if let Some(square) = &self.plane {
            shift -= square.scale(shift.dot(square));
            axis = square.into_inner();
        }
        let angle = within(-TURN, TURN);
        let turn = Unit::try_new(axis, 1e-6)
            .map_or_else(UnitQuaternion::identity, |a| UnitQuaternion::from_axis_angle(&a, angle));
        Stand { shift, turn }
    }

    /// Whether the pieces can be carried from one stand to another.
    fn edge(&mut self, from: &Stand, to: &Stand) -> bool {
        let legs = from.legs_to(to, &self.middle);
        if legs.is_empty() {
            return true;
        }
        if self.left == 0 {
            return false;
        }
        self.left -= 1;
        let at = from.displacement(&self.middle);
        self.passage.can_go_on(&at, &Route(legs))
    }

    /// A step from a tree's nearest stand toward another; the new one.
    fn extend(&mut self, tree: &mut Tree, to: &Stand) -> Option<usize> {
        let near = tree.nearest(to, self.reach);
        let (from, _) = *tree.nodes.get(near)?;
        let distance = from.distance(to, self.reach);
        let next = if distance > self.step { from.toward(to, self.step / distance) } else { *to };
        // What is proven is the edge as it will be run through on the way out.
        let free = if tree.outward { self.edge(&from, &next) } else { self.edge(&next, &from) };
        if !free {
            return None;
        }
        tree.nodes.push((next, near));
        Some(tree.nodes.len() - 1)
    }

    /// Steps toward another stand until it is reached; the node there.
    fn connect(&mut self, tree: &mut Tree, to: &Stand) -> Option<usize> {
        loop {
            let new = self.extend(tree, to)?;
            let (stand, _) = *tree.nodes.get(new)?;
            if stand.distance(to, self.reach) <= 1e-9 {
                return Some(new);
            }
        }
    }

    /// The route over some stands, without what it does not need, proven as a whole.
    fn route(&mut self, mut stands: Vec<Stand>) -> Option<(Route, Proven)> {
        self.left = SHORTER;
        let mut from = 0;
        while from + 2 < stands.len() {
            let later = (from + 2..stands.len()).rev().find(|&to| {
                let (Some(a), Some(b)) = (stands.get(from).copied(), stands.get(to).copied())
                else {
                    return false;
                };
                self.edge(&a, &b)
            });
            if let Some(to) = later {
                stands.drain(from + 1..to);
            }
            from += 1;
        }
        let pairs = stands.windows(2);
        let legs: Vec<Leg> = pairs
            .filter_map(|w| match w {
                [a, b] => Some(a.legs_to(b, &self.middle)),
                _ => None,
            })
            .flatten()
            .collect();
        let route = Route(legs);
        let proven = self.passage.prove(&route).ok()?;
        Some((route, proven))
    }
}

/// Numbers from 0 up to 1 that look drawn by chance, always the same (splitmix64, Steele, Lea and
/// Flood 2014).
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}
