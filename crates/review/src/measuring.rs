//! What someone measures who looks at a scene: between two parts, and between two points.

use crate::record::{Bounds, Names};
use assembly::{Choice, Placement};
use fitup::{Measured, Part, Scene, Situation};
use nalgebra::{Isometry3, Point3, Vector3};

/// How far two parts are apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Spacing {
    /// The names of the two parts, as in the record.
    pub parts: [String; 2],
    /// The distance, mm, below zero for parts that run into each other: bounds that hold for the true
    /// surfaces within the stated deviations. The reason where the meshes do not let it be told.
    pub distance: Result<Bounds, String>,
    /// Where: a point on either part, or twice one where they overlap; plate frame, mm. `None` where
    /// they touch without depth.
    pub ends: Option<[Point3<f64>; 2]>,
}

/// Measures between two parts, each where the placement has it or where it was moved to (plate frame
/// from the part's own), as on its way to its place. The cup is hollow, and the outlet's handle stands
/// where its valve is open. `None` when the choice does not define a bar line.
pub fn spacing(
    scene: &Scene<'_>,
    choice: &Choice,
    placement: &Placement,
    parts: [(Part, Option<Isometry3<f64>>); 2],
) -> Option<Spacing> {
    let situation = Situation::new(scene, choice, placement)?;
    let names = Names { car: scene.car, choice: Some(choice) };
    let [a, b] = parts.map(|(part, _)| part);
    let deviation = (situation.stack(a) + situation.stack(b)).worst();
    let (distance, ends) = match situation.between_as_seen(parts) {
        Measured::Between(nominal, ends) => (Ok(nominal.widened(deviation).into()), ends),
        Measured::Beyond(least) => (Ok(Bounds { low: Some(least - deviation), high: None }), None),
        Measured::Undecided(why) => (Err(why), None),
    };
    Some(Spacing { parts: [a, b].map(|part| names.part(part)), distance, ends })
}

/// How far two points that were picked are apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Apart {
    /// Straight from one to the other, mm.
    pub distance: f64,
    /// From the first to the second along x, y and z of the plate frame, mm.
    pub along: Vector3<f64>,
}

/// Measures between two points of the plate frame, mm.
pub fn apart([a, b]: [Point3<f64>; 2]) -> Apart {
    let along = b - a;
    Apart { distance: along.norm(), along }
}
