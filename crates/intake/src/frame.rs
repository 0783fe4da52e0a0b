//! The plate frame in mesh coordinates.

use crate::fault::Pen;
use crate::finding::Finding;
use crate::table::Table;
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// Directions nearer to parallel than this have no use as a frame: 10 degrees.
const NEAR_PARALLEL: f64 = 10.0;
/// Directions farther from square than this are worth telling: 0.1 degrees.
const NOT_SQUARE: f64 = 0.1;

/// Reads `[frame]`: the motion that takes mesh coordinates (mm) into the plate frame. Without the
/// table the two are the same. `None` when the table is at fault.
pub(crate) fn read(
    root: &mut Table<'_>,
    pen: &mut Pen,
    findings: &mut Vec<Finding>,
) -> Option<Isometry3<f64>> {
    if root.get("frame").is_none() {
        return Some(Isometry3::identity());
    }
    let mut table = root.maybe_table(pen, "frame", "[frame]")?;
    let origin = table.lengths::<3>(pen, "origin");
    let up = table.direction(pen, "up");
    let toward = table.direction(pen, "toward-hinge");
    let place = table.place("toward-hinge");
    table.finish(pen);
    let z = Vector3::from(up?).normalize();
    let toward = Vector3::from(toward?).normalize();
    let angle = z.dot(&toward).clamp(-1.0, 1.0).acos().to_degrees();
    if !(NEAR_PARALLEL..=180.0 - NEAR_PARALLEL).contains(&angle) {
        pen.at(
            &place,
            "\"up\" and \"toward-hinge\" point along the same line",
            format!("{angle:.1} deg from \"up\""),
            "\"up\" points out of the plate, \"toward-hinge\" lies in it",
        );
        return None;
    }
    if (angle - 90.0).abs() > NOT_SQUARE {
        findings.push(Finding {
            about: "frame".to_owned(),
            file: None,
            what: format!(
                "\"toward-hinge\" stands at {angle:.1} deg to \"up\"; its part in the plate is used"
            ),
            count: None,
            at: None,
            remedy: "write directions that are square to each other".to_owned(),
        });
    }
    let x = (toward - z * z.dot(&toward)).normalize();
    let y = z.cross(&x);
    // The rows of plate_from_mesh are the plate's axes in mesh coordinates.
    let rows = Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()]);
    let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(rows));
    let origin = Point3::from(origin);
    origin
        .iter()
        .all(|c| c.is_finite())
        .then(|| Isometry3::from_parts(Translation3::from(-(turn * origin.coords)), turn))
}
