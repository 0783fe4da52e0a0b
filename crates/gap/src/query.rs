//! Two bodies at a pose: gap, threshold and crossing.

use nalgebra::{Isometry3, Point3};

use crate::pose::Pose;
use crate::solid::{Ready, Solid, Undecided};
use crate::tree::{Cell, Child};
use crate::triangle::{self, Triangle};

/// How near two bodies are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Proximity {
    /// The bodies are apart, this far.
    Apart(Gap),
    /// The bodies are apart, at least the asked cap: millimetres.
    AtLeast(f64),
    /// The surfaces cross or touch, or one body holds a shell of the other.
    Overlapping,
    /// The surfaces are apart, but it cannot be told whether one body holds the other; or the
    /// input cannot be used.
    CannotDecide(Undecided),
}

/// The shortest way between two bodies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Millimetres, `> 0`; exact over the triangles but for rounding, a few units in the last
    /// place of the greatest coordinate.
    pub distance: f64,
    /// The nearest point of `a`, in the frame of `a`.
    pub on_a: Point3<f64>,
    /// The nearest point of `b`, in the frame of `a`.
    pub on_b: Point3<f64>,
    /// The triangles of `a` and `b` they lie on, as indices of their meshes.
    pub triangles: [u32; 2],
}

/// The gap between `a` and `b`. Only whether it is at least `cap` millimetres is told when it is;
/// a cap that is not a number is no cap, and one below zero is zero.
///
/// A touch is an overlap: [`Proximity::Apart`] always has a distance above zero.
pub fn gap(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>, cap: f64) -> Proximity {
    let pair = match Pair::new(a, b, a_from_b) {
        Ok(pair) => pair,
        Err(why) => return Proximity::CannotDecide(why),
    };
    let cap = if cap.is_nan() { f64::INFINITY } else { cap.max(0.0) };
    if pair.first_crossing().is_some() {
        return Proximity::Overlapping;
    }
    match pair.one_holds_other() {
        Ok(true) => return Proximity::Overlapping,
        Ok(false) => {}
        Err(why) => return Proximity::CannotDecide(why),
    }
    match pair.nearest(cap, 0.0) {
        None => Proximity::AtLeast(cap),
        Some(gap) if gap.distance > 0.0 => Proximity::Apart(gap),
        Some(_) => Proximity::Overlapping,
    }
}

/// The shortest way between the surfaces of `a` and `b` alone, as if they were sheets: a body
/// inside the other is as far from it as its surface. For open surfaces, where [`gap`] may not be
/// able to tell inside from outside. `None` when it is at least `cap` millimetres; the distance
/// is zero when the surfaces meet. A cap that is not a number is no cap.
pub fn surface_gap(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
    cap: f64,
) -> Result<Option<Gap>, Undecided> {
    let pair = Pair::new(a, b, a_from_b)?;
    let cap = if cap.is_nan() { f64::INFINITY } else { cap.max(0.0) };
    Ok(pair.nearest(cap, 0.0))
}

/// Whether the gap between `a` and `b` is at least `need` millimetres: `Some(false)` also when
/// they overlap or touch, whatever the need. `None` when it cannot be decided; a need that is not
/// a number cannot.
pub fn clears(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>, need: f64) -> Option<bool> {
    if need.is_nan() {
        return None;
    }
    Pair::new(a, b, a_from_b).ok()?.clears(need)
}

/// Whether the surfaces of `a` and `b` cross or touch, decided exactly for the corners of `b` as
/// rounded into the frame of `a`. A body inside the other does not cross it. Bodies or a pose that
/// cannot be used cross nothing; [`gap`] tells that case apart.
pub fn crosses(a: &Solid, b: &Solid, a_from_b: &Isometry3<f64>) -> bool {
    Pair::new(a, b, a_from_b).is_ok_and(|pair| pair.first_crossing().is_some())
}

/// Two usable bodies at a usable pose.
pub(crate) struct Pair<'s> {
    pub(crate) a: &'s Ready,
    pub(crate) b: &'s Ready,
    pub(crate) a_from_b: Pose,
    pub(crate) b_from_a: Pose,
    /// Covers the rounding of boxes and poses, millimetres.
    slack: f64,
}

/// Two branches still to compare.
#[derive(Clone, Copy)]
struct Branches {
    /// Squared lower bound on their distance.
    bound: f64,
    a: Child,
    b: Child,
    /// In the frame of the node above, or of the body at the top.
    cell_a: Cell,
    cell_b: Cell,
    above_a: Option<Child>,
    above_b: Option<Child>,
}

impl<'s> Pair<'s> {
    pub(crate) fn new(
        a: &'s Solid,
        b: &'s Solid,
        a_from_b: &Isometry3<f64>,
    ) -> Result<Self, Undecided> {
        let (a, b) = (a.ready()?, b.ready()?);
        Ok(Self::at(a, b, Pose::new(a_from_b)?))
    }

    pub(crate) fn at(a: &'s Ready, b: &'s Ready, a_from_b: Pose) -> Self {
        // Some thirty roundings, and frames square to within 1e-14, of values no greater than this.
        let scale = a.reach + 3.0 * b.reach + 2.0 * a_from_b.shift.amax();
        let b_from_a = a_from_b.inverse();
        Self { a, b, a_from_b, b_from_a, slack: 256.0 * f64::EPSILON * scale }
    }

    /// What rounding can make of a distance, millimetres.
    pub(crate) fn slack(&self) -> f64 {
        self.slack
    }

    /// See [`clears`].
    pub(crate) fn clears(&self, need: f64) -> Option<bool> {
        let near = if need > 0.0 {
            self.nearest(need, f64::INFINITY).is_some()
        } else {
            self.first_crossing().is_some()
        };
        if near { Some(false) } else { self.one_holds_other().ok().map(|holds| !holds) }
    }

    /// Whether a shell of one body lies inside the other, provided that the surfaces do not meet:
    /// then a shell is inside as a whole or not at all, and one of its corners tells.
    pub(crate) fn one_holds_other(&self) -> Result<bool, Undecided> {
        let mut undecided = None;
        for (holder, shells, pose) in
            [(self.a, &self.b.shells, &self.a_from_b), (self.b, &self.a.shells, &self.b_from_a)]
        {
            for corner in shells {
                match holder.is_inside(&pose.apply(corner)) {
                    Ok(true) => return Ok(true),
                    Ok(false) => {}
                    Err(why) => undecided = undecided.or(Some(why)),
                }
            }
        }
        undecided.map_or(Ok(false), Err)
    }

    /// The first pair of triangles found to meet, as slots of `a` and `b`.
    pub(crate) fn first_crossing(&self) -> Option<[usize; 2]> {
        let mut found = None;
        let limit = self.slack * self.slack;
        self.descend(false, limit, |slots, p, q| {
            if triangle::meet(p, q) {
                found = Some(slots);
                return None;
            }
            Some(limit)
        });
        found
    }

    /// The nearest two points nearer than `cap`, or the first two found nearer than `enough`.
    pub(crate) fn nearest(&self, cap: f64, enough: f64) -> Option<Gap> {
        let mut found = None;
        let mut best = cap * cap;
        let enough = enough * enough;
        let limit_for = |squared: f64| (squared.sqrt() + self.slack).powi(2);
        self.descend(true, limit_for(best), |slots, p, q| {
            if let Some(near) = triangle::nearest(p, q, best).filter(|near| near.squared < best) {
                best = near.squared;
                found = Some((slots, near));
                if best < enough || best <= 0.0 {
                    return None;
                }
            }
            Some(limit_for(best))
        });
        found.map(|(slots, near)| Gap {
            distance: near.squared.sqrt(),
            on_a: near.on_p,
            on_b: near.on_q,
            triangles: [self.a.slots[slots[0]], self.b.slots[slots[1]]],
        })
    }

    /// Walks both trees at once and hands every pair of triangles whose boxes are nearer than the
    /// limit to `visit`, with the triangle of `b` brought into the frame of `a`. `visit` returns
    /// the new limit, a squared distance, or `None` to stop. With `sorted` the nearer branches
    /// come first.
    fn descend(
        &self,
        sorted: bool,
        mut limit: f64,
        mut visit: impl FnMut([usize; 2], &Triangle, &Triangle) -> Option<f64>,
    ) {
        let (root_a, root_b) = (*self.a.tree.root(), *self.b.tree.root());
        let mut open = Vec::with_capacity(256);
        open.push(Branches {
            bound: 0.0,
            a: Child::ROOT,
            b: Child::ROOT,
            cell_a: root_a,
            cell_b: root_b,
            above_a: None,
            above_b: None,
        });
        let mut brought: Option<(usize, Triangle)> = None;
        // The frame above each branch brought into the other body, from the last time.
        let mut frame_a = (None, self.b_from_a);
        let mut frame_b = (None, self.a_from_b);
        while let Some(next) = open.pop() {
            let Branches { bound, a, b, cell_a, cell_b, above_a, above_b } = next;
            if bound > limit {
                continue;
            }
            let (slot_a, slot_b) = (a.triangle(), b.triangle());
            if let (Some(slot_a), Some(slot_b)) = (slot_a, slot_b) {
                let q = match brought {
                    Some((slot, q)) if slot == slot_b => q,
                    _ => self.a_from_b.apply_all(&self.b.corners[slot_b]),
                };
                brought = Some((slot_b, q));
                match visit([slot_a, slot_b], &self.a.corners[slot_a], &q) {
                    Some(next) => limit = next,
                    None => return,
                }
                continue;
            }
            let open_a = slot_a.is_none() && (slot_b.is_some() || cell_a.size() >= cell_b.size());
            let (node, bounds) = if open_a {
                if frame_b.0 != above_b {
                    frame_b = (above_b, brought_over(&self.a_from_b, self.b, above_b));
                }
                let node = self.a.tree.node(a);
                (node, node.bounds(&cell_b, &node.frame().back_after(&frame_b.1)))
            } else {
                if frame_a.0 != above_a {
                    frame_a = (above_a, brought_over(&self.b_from_a, self.a, above_a));
                }
                let node = self.b.tree.node(b);
                (node, node.bounds(&cell_a, &node.frame().back_after(&frame_a.1)))
            };
            let first = open.len();
            for (lane, bound) in bounds.into_iter().enumerate().take(node.count()) {
                if bound > limit {
                    continue;
                }
                let (child, cell) = (node.child(lane), node.cell(lane));
                open.push(if open_a {
                    Branches { bound, a: child, cell_a: cell, above_a: Some(a), ..next }
                } else {
                    Branches { bound, b: child, cell_b: cell, above_b: Some(b), ..next }
                });
                if sorted {
                    let mut place = open.len() - 1;
                    while place > first && open[place - 1].bound < bound {
                        open.swap(place - 1, place);
                        place -= 1;
                    }
                }
            }
        }
    }
}

/// The frame of a node of `body`, or of the body itself, brought into the other body.
fn brought_over(pose: &Pose, body: &Ready, node: Option<Child>) -> Pose {
    node.map_or(*pose, |node| pose.after(body.tree.node(node).frame()))
}
