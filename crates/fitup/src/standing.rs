//! Whether what a change moves still stands clear, and on the plate.

use crate::plan::plan_spacing;
use crate::scene::{Extent, Scene};
use assembly::car_top::{BodyId, LidState};
use assembly::kit::PartKind;
use assembly::{CarTop, rig};
use gap::{Proximity, Solid};
use nalgebra::{Isometry3, Point2};
use solids::Mesh;

/// The bodies of a car top of which a change moves something, and how near they stand to the others
/// before it.
pub struct Standing<'s> {
    scene: &'s Scene<'s>,
    bodies: Vec<BodyId>,
    /// The gap asked for between any two, mm.
    least: f64,
    /// The spacing asked for in plan, mm.
    spacing: f64,
    /// Plan spacings before, by fitting.
    spacings: Vec<f64>,
}

impl<'s> Standing<'s> {
    /// What stands where before changes that move these bodies. The least gap is the one that the
    /// kit asks for between parts that its table does not name, the least spacing in plan that of
    /// the plan check.
    pub fn new(scene: &'s Scene<'s>, bodies: Vec<BodyId>) -> Self {
        let rules = &scene.kit.rules;
        let (least, spacing) = (rules.need_otherwise, rules.plan_spacing);
        Self { scene, bodies, least, spacing, spacings: spacings(scene.car) }
    }

    /// Whether everything that a change moved stands clear: no body comes nearer to one that the
    /// change leaves than the least gap, or than it was; no spacing in plan falls below the one
    /// asked for, or what it was; fittings and studs stay on the plate. The lid is looked at at its
    /// stop. A body that touches one that the change leaves is not free to move, but on the plate.
    pub fn is_clear(&self, changed: &CarTop) -> bool {
        let car = self.scene.car;
        let kept = |(now, was): (&f64, &f64)| *now >= was.min(self.spacing) - CHORDS;
        if !spacings(changed).iter().zip(&self.spacings).all(kept) {
            return false;
        }
        let others: Vec<BodyId> =
            (0..car.bodies.len()).map(BodyId).filter(|id| !self.bodies.contains(id)).collect();
        self.bodies.iter().all(|&id| {
            let Some((before, after)) = moving(car, changed, id) else { return true };
            if !self.stays_on_plate(id, &before, &after) {
                return false;
            }
            let (before, after) = (Solid::new(&before), Solid::new(&after));
            others.iter().filter(|other| **other != car.plate).all(|&other| {
                let now = self.gap(&after, at_stop(changed, id), other);
                // Most are far enough away to need no second look.
                now.is_some_and(|now| now >= self.least)
                    || now
                        .zip(self.gap(&before, at_stop(car, id), other))
                        .is_some_and(|(now, was)| was > 0.0 && now >= was.min(self.least) - CHORDS)
            })
        })
    }

    /// The gap to a body that stays, as far as the least gap, mm; zero where they meet, `None` where
    /// it cannot be told.
    fn gap(&self, moved: &Solid, plate_from_moved: Isometry3<f64>, other: BodyId) -> Option<f64> {
        let other_from_moved = at_stop(self.scene.car, other).inv_mul(&plate_from_moved);
        let other = self.scene.car_solid(other);
        match gap::gap(other, moved, &other_from_moved, self.least) {
            Proximity::Apart(found) => Some(found.distance),
            Proximity::AtLeast(least) => Some(least),
            Proximity::Overlapping => Some(0.0),
            // What is moved of a body that is stretched is open below.
            Proximity::CannotDecide(_) => {
                let found = gap::surface_gap(other, moved, &other_from_moved, self.least).ok()?;
                Some(found.map_or(self.least, |found| found.distance))
            }
        }
    }

    /// Whether what stood over the plate still does, for fittings and studs.
    fn stays_on_plate(&self, id: BodyId, before: &Mesh, after: &Mesh) -> bool {
        let kind = self.scene.car.body(id).kind;
        let plate = &self.scene.extent(self.scene.car.plate).outline;
        let over = |mesh: &Mesh| Extent::of(mesh).outline.iter().all(|p| is_within(plate, p.xy()));
        !matches!(kind, PartKind::Fitting | PartKind::Stud) || !over(before) || over(after)
    }
}

/// Gaps that shrink by less than this have not shrunk: round bodies meshed in chords that turn
/// against each other, mm. Our choice.
const CHORDS: f64 = 0.1;

/// The least spacing in plan of each fitting, mm.
fn spacings(car: &CarTop) -> Vec<f64> {
    let least = |f| plan_spacing(car, f)?.first().map(|s| s.spacing);
    (0..car.fittings.len()).map(|f| least(f).unwrap_or(f64::INFINITY)).collect()
}

/// The triangles of a body of which a change moves a corner, before and after; `None` where it moves
/// none. A lid whose stop or hinge changes is moved.
fn moving(car: &CarTop, changed: &CarTop, id: BodyId) -> Option<(Mesh, Mesh)> {
    let (before, after) = (&car.body(id).body.mesh, &changed.body(id).body.mesh);
    let turned = at_stop(car, id) != at_stop(changed, id);
    let moved = |t: &&[u32; 3]| {
        turned || t.iter().any(|v| before.vertices[*v as usize] != after.vertices[*v as usize])
    };
    let triangles: Vec<[u32; 3]> = before.triangles.iter().filter(moved).copied().collect();
    let of = |mesh: &Mesh| part(mesh, &triangles);
    (!triangles.is_empty()).then(|| (of(before), of(after)))
}

/// Some triangles of a mesh with their corners alone.
fn part(mesh: &Mesh, triangles: &[[u32; 3]]) -> Mesh {
    let mut corners: Vec<u32> = triangles.iter().flatten().copied().collect();
    corners.sort_unstable();
    corners.dedup();
    let number = |v: u32| u32::try_from(corners.partition_point(|c| *c < v)).unwrap_or(u32::MAX);
    Mesh {
        vertices: corners.iter().map(|v| mesh.vertices[*v as usize]).collect(),
        triangles: triangles.iter().map(|t| t.map(number)).collect(),
    }
}

/// The pose of a body: the lid's at its stop, everything else as drawn.
fn at_stop(car: &CarTop, id: BodyId) -> Isometry3<f64> {
    match &car.lid {
        LidState::Hinged(lid) if lid.body == id => {
            rig::plate_from_lid(car, lid.stop).unwrap_or_else(Isometry3::identity)
        }
        _ => Isometry3::identity(),
    }
}

/// Whether a point lies in a convex outline that runs counter-clockwise.
fn is_within(outline: &[nalgebra::Point3<f64>], point: Point2<f64>) -> bool {
    (0..outline.len()).all(|i| {
        let (a, b) = (outline[i].xy(), outline[(i + 1) % outline.len()].xy());
        (b - a).perp(&(point - a)) >= 0.0
    })
}

/// The studs that touch the housing: they hold it, and go where it goes.
pub fn studs_of_housing(scene: &Scene<'_>) -> Vec<BodyId> {
    /// Nuts that stand no farther off than this touch, mm. Our choice.
    const TOUCHING: f64 = 0.5;
    let car = scene.car;
    let touches = |id: &BodyId| {
        car.housing.iter().any(|&part| {
            let (a, b) = (scene.car_solid(part), scene.car_solid(*id));
            gap::clears(a, b, &Isometry3::identity(), TOUCHING) != Some(true)
        })
    };
    car.studs.iter().flatten().copied().filter(touches).collect()
}
