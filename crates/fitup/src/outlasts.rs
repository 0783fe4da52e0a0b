//! Which changes of a car top a proof outlasts.
//!
//! A proof that nothing fits, or that nothing surely fits, rests on pairs of points and on placing rules. A change of the car top
//! that moves both points of every pair together, or neither, leaves every distance between them as
//! it was, at every placement of the changed car top with the same numbers: so the proof holds for
//! the changed car top too, whatever the change's size. Such a change cannot help, and no search
//! need show it. With the covered fitting the cup moves, and all that stands on it; with the housing
//! move its ports, and with them the clamp.
//!
//! A proof may also hold on up to some size: its pairs of points, taken where the change puts them,
//! still bound every cell. That is worked out again for each size, which is cheaper than a search.

use crate::margin::Part;
use crate::scene::Scene;
use crate::search::bound::{bound, ceiling, nearest};
use crate::search::space::{Cell, Space, VARIABLES, var};
use crate::search::witness::{Bench, Ground, Law, Points, Sense, Witness};
use crate::search::{Node, Proof};
use assembly::car_top::{BodyId, LidState};
use assembly::change::PortStretch;
use assembly::rig::RigPart;
use assembly::{CarTop, Choice, Way};
use nalgebra::{Point3, Vector3};

/// What a change does to a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Carried {
    /// Nothing.
    Not,
    /// It moves with all else that is carried.
    Along,
    /// Something else.
    Otherwise,
}

/// A way on a car top, and the choice that a proof is about.
struct Change<'c> {
    way: &'c Way,
    car: &'c CarTop,
    choice: &'c Choice,
    bodies: Vec<BodyId>,
}

/// Whether a proof of a choice that nothing (surely) fits holds on whatever a way's size is, so that the way
/// cannot help. True only where it is sure.
pub fn outlasts(proof: &Proof, car: &CarTop, choice: &Choice, way: &Way) -> bool {
    let change = Change { way, car, choice, bodies: way.bodies(car) };
    // Turned, the fitting may leave the cup other places to stand; a proof that does not ask where
    // the cup stands covers them as well.
    let others = change.turns_covered()
        && proof.witnesses.iter().any(|w| w.moved_by[var::X] || w.moved_by[var::Y]);
    !others && proof.witnesses.iter().all(|witness| change.leaves(witness))
}

/// Whether a proof that nothing (surely) fits on a car top changed by `from` proves the same for one changed by
/// `to`, of which `scene` is made: with its witnesses where the change puts them, all its cells are
/// closed. `car` is the car top before both. True only where it is sure.
pub fn holds_on(
    (proof, choice): (&Proof, &Choice),
    way: &Way,
    car: &CarTop,
    (from, to): (f64, f64),
    scene: &Scene<'_>,
) -> bool {
    let holds = || {
        let space = Space::of(scene, choice)?;
        let bench = Bench::new(scene, choice)?;
        let carry = |id: BodyId, p: &Point3<f64>| way.carried(car, id, p, (from, to));
        let witnesses: Option<Vec<Witness>> =
            proof.witnesses.iter().map(|w| again(w, &bench, &carry)).collect();
        let witnesses = witnesses?;
        let mut nodes = proof.nodes.iter();
        let mut cells = vec![space.whole()];
        let mut cells_left = MOST_CELLS;
        while let Some(cell) = cells.pop() {
            match nodes.next()? {
                Node::Halve(k) => {
                    let [lower, upper] = cell.halves(*k);
                    cells.extend([upper, lower]);
                }
                Node::Choose(d) => {
                    cells.extend((0..space.options[*d]).rev().map(|i| cell.with(*d, i)));
                }
                Node::Leaf(weights) => {
                    let most = ceiling(&bench, &witnesses, &cell, proof.sense, weights);
                    let closed = !weights.is_empty() && most < 0.0;
                    if !closed && !closes(&bench, &witnesses, (cell, proof.sense), &mut cells_left)
                    {
                        return None;
                    }
                }
            }
        }
        Some(())
    };
    holds().is_some()
}

/// Cells into which those that come open are cut, at most.
const MOST_CELLS: usize = 400;

/// Whether a cell is closed by other weights of the same witnesses, cut in halves where it must be.
fn closes(
    bench: &Bench<'_>,
    witnesses: &[Witness],
    (cell, sense): (Cell, Sense),
    cells_left: &mut usize,
) -> bool {
    /// A turn that counts as a move by one millimetre, radians.
    const TURN: f64 = 1.0 / 150.0;
    let all: Vec<usize> = (0..witnesses.len()).collect();
    let mut open = vec![(cell, all)];
    while let Some((cell, near)) = open.pop() {
        let found = bound(bench, witnesses, &near, &cell, sense);
        if found.value < 0.0 {
            continue;
        }
        if *cells_left == 0 || !found.value.is_finite() {
            return false;
        }
        *cells_left -= 1;
        let half = cell.half();
        let size = |k: usize| {
            if k == var::BEARING || k == var::LID { half[k] / TURN } else { half[k] }
        };
        let weighs = |k: &usize| found.weights.iter().any(|(i, _)| witnesses[*i].moved_by[*k]);
        let widest = (0..VARIABLES).filter(weighs).max_by(|a, b| size(*a).total_cmp(&size(*b)));
        let Some(k) = widest.filter(|k| half[*k] > 0.0) else { return false };
        let halves = cell.halves(k).map(|part| {
            let near = nearest(bench, witnesses, (&found, &near), &part);
            (part, near)
        });
        open.extend(halves);
    }
    true
}

/// Where a change puts a point of a body.
type Carry<'c> = dyn Fn(BodyId, &Point3<f64>) -> Option<Point3<f64>> + 'c;

/// A witness with its points where a change puts them.
fn again(witness: &Witness, bench: &Bench<'_>, carry: &Carry<'_>) -> Option<Witness> {
    let options = witness.given.map(|option| option.unwrap_or(0));
    match &witness.ground {
        Ground::Rule(law) => {
            let law = match *law {
                Law::CavitySide(id, point, toward) => {
                    Law::CavitySide(id, carry(id, &point)?, toward)
                }
                Law::CavityTop(id, top) => Law::CavityTop(id, carry(id, &top)?),
                other => other,
            };
            Some(bench.by_law(law, &options))
        }
        Ground::Points(points) => {
            let mut points = points.clone();
            if points.depth > 0.0 {
                // What lies around a deep point must be carried with it.
                for (part, on) in points.parts.iter().zip(&points.on) {
                    if let Part::Car(id) = part {
                        for axis in [Vector3::x(), Vector3::y(), Vector3::z()] {
                            side_again(*id, on, &(axis * points.depth), carry)?;
                        }
                    }
                }
            }
            if let (Part::Car(id), Some(half)) = (points.parts[1], &mut points.across) {
                for side in half {
                    *side = side_again(id, &points.on[1], side, carry)?;
                }
            }
            for (part, on) in points.parts.iter().zip(&mut points.on) {
                if let Part::Car(id) = part {
                    *on = carry(*id, &Point3::from(*on))?.coords;
                }
            }
            let mut witness = witness.clone();
            witness.ground = Ground::Points(points);
            Some(witness)
        }
    }
}

/// Half a side of a rectangle where a change puts it; `None` where the change bends it.
fn side_again(
    id: BodyId,
    middle: &Vector3<f64>,
    side: &Vector3<f64>,
    carry: &Carry<'_>,
) -> Option<Vector3<f64>> {
    const BENT: f64 = 1e-9;
    let [ahead, here, back] = [*side, Vector3::zeros(), -side]
        .map(|off| carry(id, &Point3::from(middle + off)).map(|p| p.coords));
    let (ahead, here, back) = (ahead?, here?, back?);
    let whole = (ahead - here).norm() - side.norm();
    let straight = (ahead + back - here * 2.0).norm();
    (whole.abs() < BENT && straight < BENT).then_some((ahead - back) * 0.5)
}

impl Change<'_> {
    fn turns_covered(&self) -> bool {
        matches!(self.way, Way::TurnFitting { fitting } if *fitting == self.choice.fitting)
    }

    fn leaves(&self, witness: &Witness) -> bool {
        let together = |a: Carried, b: Carried| a == b && a != Carried::Otherwise;
        match &witness.ground {
            Ground::Points(Points { parts, on, across, depth, .. }) => {
                if *depth > 0.0 && parts.iter().zip(on).any(|(p, on)| self.cuts(*p, on, *depth)) {
                    return false;
                }
                let first = self.carries(parts[0], &on[0]);
                let [u, v] = across.unwrap_or_default();
                let corners = [u + v, u - v, v - u, -u - v].map(|corner| on[1] + corner);
                corners.iter().all(|corner| together(first, self.carries(parts[1], corner)))
            }
            Ground::Rule(law) => match *law {
                Law::CavitySide(id, point, _) => {
                    // Seen from above nothing is stretched.
                    let stretches =
                        matches!(self.way, Way::StretchFitting { .. } | Way::StretchHousing { .. });
                    stretches || together(self.cup(), self.carries(Part::Car(id), &point.coords))
                }
                Law::CavityTop(id, point) => {
                    let same_height =
                        matches!(self.way, Way::MoveFitting { .. } | Way::TurnFitting { .. });
                    same_height || together(self.cup(), self.carries(Part::Car(id), &point.coords))
                }
                Law::FootHeight(_) | Law::Level | Law::Lean(_) => {
                    self.clamp() != Carried::Otherwise
                }
                // Among the ports, seen from above; of the gasket alone.
                Law::FootBeside(..)
                | Law::Skew(..)
                | Law::OverhangDifference(_)
                | Law::Slot(_)
                | Law::SealWidth => true,
                Law::ScrewOffset(_) => {
                    matches!(self.way, Way::StretchHousing { .. })
                        || together(self.cup(), self.clamp())
                }
                Law::Travel(_) => together(self.cup(), self.clamp()),
            },
        }
    }

    /// Whether a stretch may cut into what lies within `depth` of a point of a body.
    fn cuts(&self, part: Part, on: &Vector3<f64>, depth: f64) -> bool {
        match (part, self.way) {
            (Part::Car(id), Way::StretchFitting { range, .. } | Way::StretchHousing { range })
                if self.bodies.contains(&id) =>
            {
                on.z + depth > range[0] && on.z - depth < range[1]
            }
            _ => false,
        }
    }

    fn carries(&self, part: Part, on: &Vector3<f64>) -> Carried {
        match part {
            Part::Rig(RigPart::Screw | RigPart::ScrewHandle | RigPart::ScrewBlock)
                if self.cup() != self.clamp() =>
            {
                Carried::Otherwise
            }
            Part::Rig(rig) if rig.is_clamp() => self.clamp(),
            Part::Rig(_) => self.cup(),
            Part::Car(id) if !self.bodies.contains(&id) => Carried::Not,
            Part::Car(id) => match self.way {
                Way::TurnFitting { .. } | Way::MoveFitting { .. } | Way::TurnHousing { .. } => {
                    Carried::Along
                }
                // Each stud goes its own way; the lid turns alone.
                Way::SpreadStuds { .. } | Way::LidStop => Carried::Otherwise,
                Way::StretchHousing { .. } if self.is_lid(id) => Carried::Otherwise,
                Way::StretchFitting { range, .. } | Way::StretchHousing { range } => {
                    if on.z <= range[0] {
                        Carried::Not
                    } else if on.z >= range[1] {
                        Carried::Along
                    } else {
                        Carried::Otherwise
                    }
                }
            },
        }
    }

    fn is_lid(&self, id: BodyId) -> bool {
        matches!(&self.car.lid, LidState::Hinged(lid) if lid.body == id)
    }

    /// Cup, gasket and outlet.
    fn cup(&self) -> Carried {
        match self.way {
            Way::MoveFitting { fitting, .. } if *fitting == self.choice.fitting => Carried::Along,
            _ => Carried::Not,
        }
    }

    /// The feet in their ports and all that hangs on them.
    fn clamp(&self) -> Carried {
        match self.way {
            Way::TurnHousing { .. } => Carried::Along,
            Way::StretchHousing { range } => {
                let stretch = |p: &usize| PortStretch::of(self.car.ports.get(*p)?, *range);
                match self.choice.ports.each_ref().map(stretch) {
                    [Some(PortStretch::Stays), Some(PortStretch::Stays)] => Carried::Not,
                    [Some(PortStretch::Rises), Some(PortStretch::Rises)] => Carried::Along,
                    _ => Carried::Otherwise,
                }
            }
            _ => Carried::Not,
        }
    }
}
