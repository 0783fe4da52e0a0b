//! A placed rig and the car top around it as triangles, with what was measured between them, for
//! outside checks and pictures.

use crate::record::{Margin, Names};
use crate::run::FittingReview;
use assembly::parts::PartError;
use assembly::{CarTop, Kit};
use fitup::{Rule, Scene, Situation};
use solids::Mesh;

/// A fitting with a placement, as triangles in the plate frame.
#[derive(Debug, Clone, PartialEq)]
pub struct PosedFitting {
    /// The fitting's name.
    pub name: String,
    /// The parts of the rig.
    pub rig: Vec<PosedPart>,
    /// The bodies of the car top that are there: what is taken off is left out, the lid stands at
    /// its opening.
    pub car: Vec<PosedPart>,
    /// Everything that was measured there.
    pub margins: Vec<PosedMargin>,
}

/// A part in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PosedPart {
    /// Its name, as in the record.
    pub name: String,
    /// Triangles, plate frame, mm.
    pub mesh: Mesh,
    /// Bound on how far they may be from the truth, mm.
    pub deviation: f64,
}

/// A figure with the distance between the two meshes as they stand.
#[derive(Debug, Clone, PartialEq)]
pub struct PosedMargin {
    /// The figure.
    pub margin: Margin,
    /// For gaps: the distance between the two meshes, before their deviations widen it, mm; `None`
    /// for other figures and for parts that run into each other.
    pub mesh_distance: Option<f64>,
}

/// Poses the best placement of each fitting that has one. Fails when a part of the kit has
/// dimensions from which no solid can be made.
pub fn posed(
    car: &CarTop,
    kit: &Kit,
    fittings: &[FittingReview],
) -> Result<Vec<PosedFitting>, PartError> {
    let scene = Scene::new(car, kit)?;
    Ok(fittings.iter().filter_map(|f| pose_one(&scene, f)).collect())
}

fn pose_one(scene: &Scene<'_>, found: &FittingReview) -> Option<PosedFitting> {
    let study = &found.chosen()?.study;
    let (choice, placement) = (study.choice.as_ref()?, study.placement.as_ref()?);
    let situation = Situation::new(scene, choice, placement)?;
    let names = Names { car: scene.car, choice: Some(choice) };
    let rig = situation
        .rig_parts()
        .into_iter()
        .filter_map(|part| {
            let shaped = situation.shaped(part)?;
            Some(PosedPart {
                name: names.rig_part(part),
                mesh: shaped.body.mesh.transformed(situation.pose.plate_from(part)),
                deviation: situation.deviation(fitup::Part::Rig(part)),
            })
        })
        .collect();
    let bodies = situation
        .present()
        .map(|id| {
            let body = &scene.car.body(id).body;
            PosedPart {
                name: body.name.clone(),
                mesh: body.mesh.transformed(&situation.plate_from_car(id)),
                deviation: body.deviation.bound,
            }
        })
        .collect();
    let outcomes = study.assessment.iter().flat_map(|a| &a.outcomes);
    let margins = outcomes.flat_map(|o| &o.margins).map(|margin| PosedMargin {
        margin: names.margin(margin),
        mesh_distance: (margin.rule == Rule::Gap)
            .then(|| margin.measured.middle())
            .filter(|middle| *middle > 0.0),
    });
    let margins = margins.collect();
    let name = scene.car.fittings.get(found.fitting)?.name.clone();
    Some(PosedFitting { name, rig, car: bodies, margins })
}
