//! The cover plate: the one body whose size and place are known beforehand.

use super::meshes::{Entry, Meshes};
use crate::fault::Pen;
use crate::finding::Finding;
use crate::meshes::{MeshUnit, UnitBy};
use crate::table::{Table, Text};
use assembly::car_top::BodyId;
use assembly::kit::PartKind;
use measure::{Length, LengthUnit};
use solids::Mesh;

/// A cover plate's overall diameter is plausible between these, mm: what the design states for a
/// manway; common practice, no source.
const PLAUSIBLE: std::ops::RangeInclusive<f64> = 300.0..=1000.0;
/// A face counts as horizontal up to about 15 degrees of slope: scans and rough meshes are wavy.
const LEVEL: f64 = 0.966;
/// The sealing face must cover at least this share of the plate's outline.
const LEAST_FACE: f64 = 0.1;

/// The plate seen from above.
pub(super) struct Outline {
    /// Greatest distance of the plate from the housing's axis, mm.
    pub(super) radius: f64,
}

/// Reads `[plate]` and checks its size and that its sealing face lies at z = 0. The outline is
/// missing where the mesh, its unit or the frame is at fault.
pub(super) fn read(
    root: &mut Table<'_>,
    pen: &mut Pen,
    findings: &mut Vec<Finding>,
    meshes: &mut Meshes,
) -> Option<(BodyId, Option<Outline>)> {
    let mut table = root.table(pen, "plate")?;
    let name = table.text(pen, "mesh", "\"plate\"");
    table.finish(pen);
    let id = meshes.claim(pen, &name, PartKind::Plate, "[plate]")?;
    let entry = meshes.get(id)?;
    let Some((low, high)) = meshes.bounds(&[id]) else { return Some((id, None)) };
    let size = (high.x - low.x).max(high.y - low.y);
    let plausible = |scale| is_plausible(pen, findings, &name.text, entry, size, scale);
    if !entry.scale().is_some_and(plausible) {
        return Some((id, None));
    }
    note_sealing_face(pen, &name, entry, (high.x - low.x) * (high.y - low.y));
    let radius = entry.mesh.vertices.iter().map(|p| p.x.hypot(p.y)).fold(0.0, f64::max);
    Some((id, Some(Outline { radius })))
}

/// Notes when no large face of the plate lies at z = 0 and looks up. `outline` is the area of the
/// box around the plate seen from above, mm2.
fn note_sealing_face(pen: &mut Pen, name: &Text, entry: &Entry, outline: f64) {
    let within = 1.0 + 2.0 * entry.deviation.bound;
    let (up, down) = level_faces(&entry.mesh);
    let area_at_zero: f64 = up.iter().filter(|f| f.z.abs() <= within).map(|f| f.area).sum();
    if area_at_zero < LEAST_FACE * outline {
        let hanging: f64 = down.iter().filter(|f| f.z.abs() <= within).map(|f| f.area).sum();
        let (label, remedy) = if hanging >= LEAST_FACE * outline {
            (
                "a large face at z = 0 looks down".to_owned(),
                "turn \"up\" in [frame] around, or the mesh's triangles if it is inside out"
                    .to_owned(),
            )
        } else if let Some(z) = highest_level(up, LEAST_FACE * outline) {
            let z = Length::from_mm(z).show(LengthUnit::Millimetre);
            (
                format!("a large upward face lies at z = {z} instead"),
                "put the origin of [frame] on the sealing face, the plate's upper face, and let \"up\" \
                 point out of it"
                    .to_owned(),
            )
        } else {
            (
                "no large upward face anywhere".to_owned(),
                "check \"up\" in [frame]: it points out of the plate".to_owned(),
            )
        };
        pen.at(&name.span, "the plate's sealing face does not lie at z = 0", label, remedy);
    }
}

/// Whether the plate has the size of a plate; notes what is wrong with its unit otherwise.
fn is_plausible(
    pen: &mut Pen,
    findings: &mut Vec<Finding>,
    name: &str,
    entry: &Entry,
    size: f64,
    scale: f64,
) -> bool {
    if PLAUSIBLE.contains(&size) {
        return true;
    }
    let shown = Length::from_mm(size).show(LengthUnit::Millimetre);
    let what = format!("the plate would be {shown} wide; 300 to 1000 mm are plausible");
    let in_unit = |unit: &MeshUnit| size / scale * unit.mm();
    let fitting = MeshUnit::STATED.iter().find(|unit| PLAUSIBLE.contains(&in_unit(unit)));
    match fitting {
        Some(unit) => {
            let other = Length::from_mm(in_unit(unit)).show(LengthUnit::Millimetre);
            let word = unit.word();
            let remedy = if matches!(entry.unit, Some(UnitBy::File(_))) {
                format!(
                    "export it again in the unit that it is made in: in {word} it is {other} wide"
                )
            } else {
                format!("write unit = \"{word}\", which makes it {other} wide")
            };
            pen.at(&entry.unit_place, what, "the wrong unit, it seems", remedy);
        }
        None => findings.push(Finding {
            about: name.to_owned(),
            file: None,
            what,
            count: None,
            at: None,
            remedy: "check the mesh and its unit; no other unit makes it plausible".to_owned(),
        }),
    }
    fitting.is_none()
}

/// A nearly horizontal triangle.
struct Face {
    z: f64,
    /// Seen from above, mm2.
    area: f64,
}

/// The nearly horizontal triangles that look up, and those that look down.
fn level_faces(mesh: &Mesh) -> (Vec<Face>, Vec<Face>) {
    let (mut up, mut down) = (Vec::new(), Vec::new());
    for index in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.corners(index);
        let normal = (b - a).cross(&(c - a));
        let face = Face { z: (a.z + b.z + c.z) / 3.0, area: 0.5 * normal.z.abs() };
        if normal.z >= LEVEL * normal.norm() {
            up.push(face);
        } else if -normal.z >= LEVEL * normal.norm() {
            down.push(face);
        }
    }
    (up, down)
}

/// The height of the highest band of 2 mm in which faces add up to `enough`.
fn highest_level(mut faces: Vec<Face>, enough: f64) -> Option<f64> {
    faces.sort_by(|a, b| b.z.total_cmp(&a.z));
    let mut area = 0.0;
    let mut first = faces.iter();
    let mut top = first.next()?;
    for face in &faces {
        area += face.area;
        while top.z - face.z > 2.0 {
            area -= top.area;
            top = first.next()?;
        }
        if area >= enough {
            return Some(top.z);
        }
    }
    None
}
