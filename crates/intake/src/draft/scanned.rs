//! Drafting a case from scans: made ready, rebuilt as bodies, surveyed, written with the bodies.

use super::{DraftFile, DraftRequest, Part, document, whole};
use crate::fault::Faults;
use crate::meshes::{MeshUnit, written};
use crate::scans::{ScanFile, read_scans};
use measure::{Angle, LengthUnit};
use nalgebra::{Point3, Vector2};
use scan::{Given, Prepared, Rebuilt, ScanUnit, Settings as HowToRebuild};
use solids::{Body, Deviation, Mesh};
use std::path::PathBuf;
use survey::Settings;
use survey::scanned::{Scanned, survey_scan};

/// What to draft from scans, and how.
#[derive(Debug, Clone)]
pub struct ScanRequest {
    /// The scan document.
    pub document: PathBuf,
    /// What stands before the bodies' names for their files, as the case will name them: `case-bodies/`.
    pub bodies: String,
    /// Where the hinge stands, in the frame that is taken without this.
    pub hinge_at: Option<Angle>,
    /// The case's title; `None` for the scan document's.
    pub title: Option<String>,
}

/// A case drafted from scans.
#[derive(Debug, Clone)]
pub struct ScanDraft {
    /// The draft; its bodies are what was seen of each thing, in mm as the first scan has them.
    pub drafted: DraftFile,
    /// The unit in which its reader reads lengths.
    pub unit: LengthUnit,
    /// The bodies' files, by their names from the case's folder, to be written before the case is.
    pub files: Vec<(String, Vec<u8>)>,
    /// What was done with the scans, a sentence each.
    pub notes: Vec<String>,
}

/// How far beyond the space that was looked at nothing is said to be free, mm: farther than any part of
/// a rig reaches out of a housing.
const AROUND: f64 = 500.0;
/// From how far under the plate to how high above it, mm.
const UNDER: f64 = -50.0;
const OVER: f64 = 3000.0;

/// Reads scans, makes bodies of what was seen and of what was not, finds what is what, and writes the
/// document.
///
/// # Errors
/// Everything that is wrong with the document or its files; and when no plate or no housing is found in
/// them, or they cannot be laid on each other.
pub fn draft_scans(request: &ScanRequest) -> Result<ScanDraft, Faults> {
    let ScanFile { title, unit, scans, .. } = read_scans(&request.document)?;
    let refused = |why: String, remedy: &str| {
        whole(&request.document, format!("no case can be drafted: {why}"), remedy)
    };
    let doubts: Vec<String> = scans
        .iter()
        .filter_map(|s| {
            Some(format!("\"{}\" states no unit: {}", s.shot.name, s.unit_guessed.as_ref()?))
        })
        .collect();
    let given: Vec<Given> = scans
        .into_iter()
        .map(|s| Given { shot: s.shot, unit: Some(ScanUnit::Millimetre), start: s.start })
        .collect();
    let prepared =
        scan::prepare(&given, unit).map_err(|why| refused(why.to_string(), why.remedy()))?;
    drop(given);
    let mut rebuilt =
        scan::rebuild(&prepared.shots, prepared.sigma, prepared.spacing, &HowToRebuild::default())
            .map_err(|why| {
                refused(why.to_string(), "see that the scans show the plate from above")
            })?;
    // What has too few points for a body is all shadow.
    let is_body = |thing: &scan::Thing| !thing.seen.mesh.triangles.is_empty();
    let (things, bodiless): (Vec<_>, Vec<_>) = rebuilt.things.into_iter().partition(is_body);
    rebuilt.things = things;
    if !bodiless.is_empty() {
        rebuilt.notes.push(format!(
            "{} pieces have too few points for a body: where they are counts as unseen",
            bodiless.len()
        ));
    }
    let shadows: Vec<Body> = bodiless.into_iter().flat_map(|thing| thing.unseen).collect();
    let mut notes: Vec<String> = prepared.findings.iter().map(|j| j.because.clone()).collect();
    notes.extend(rebuilt.notes.iter().cloned());

    let settings = Settings { hinge_at: request.hinge_at, unit, ..Settings::default() };
    let mut scanned = Scanned::of(&prepared, &rebuilt);
    scanned.doubts.splice(0..0, doubts);
    let mut draft = survey_scan(&scanned, &settings)
        .map_err(|unfound| refused(unfound.to_string(), unfound.remedy()))?;
    drop(scanned);
    draft.plate_from_mesh *= prepared.plate.plate_from_scan;

    let (parts, files) = parts(request, &prepared, rebuilt, shadows);
    let bodies = parts.iter().map(|part| part.body.clone()).collect();
    let folder = request.document.parent().map(PathBuf::from).unwrap_or_default();
    let as_asked = DraftRequest {
        files: vec![request.document.clone()],
        folder,
        unit: None,
        deviations: Vec::new(),
        basis: None,
        words: None,
        hinge_at: request.hinge_at,
        units: unit,
        title: Some(request.title.clone().unwrap_or(title)),
    };
    let text = document::text(&as_asked, &parts, &draft);
    Ok(ScanDraft { drafted: DraftFile { draft, bodies, text }, unit, files, notes })
}

/// The document's meshes and their files.
fn parts(
    request: &ScanRequest,
    prepared: &Prepared,
    rebuilt: Rebuilt,
    mut shadows: Vec<Body>,
) -> (Vec<Part>, Vec<(String, Vec<u8>)>) {
    let scan_from_plate = prepared.plate.plate_from_scan.inverse();
    let wrong = prepared.registrations.iter().flatten().map(|r| r.worst).fold(0.0, f64::max);
    let besides = wrong + prepared.plate.at_edge;
    let placed = |body: Body| {
        let Deviation { bound, basis } = body.deviation;
        let deviation = Deviation {
            bound: bound + besides,
            basis: format!("{basis}; and {besides:.2} mm by which plane and scans may be off"),
        };
        Body { mesh: body.mesh.transformed(&scan_from_plate), deviation, ..body }
    };
    let region = rebuilt.region;
    // What lies around all hangs on the plate.
    let mut around = Some(Body {
        name: "around".to_owned(),
        mesh: around(region).transformed(&scan_from_plate),
        deviation: Deviation {
            bound: 0.0,
            basis: "the space that was looked at ends here, whatever is beyond".to_owned(),
        },
    });
    let mut files = Vec::new();
    let mut parts: Vec<Part> = Vec::new();
    let mut file = |body: &Body| {
        let name = format!("{}{}.ply", request.bodies, body.name.replace(' ', "-"));
        files.push((name.clone(), written(&body.mesh)));
        name
    };
    for thing in rebuilt.things {
        let body = placed(thing.seen);
        let is_plate = thing.kind == scan::Kind::Plate;
        let unseen: Vec<Body> = thing.unseen.into_iter().map(&placed).collect();
        let more: Vec<Body> = if is_plate {
            std::mem::take(&mut shadows).into_iter().map(&placed).collect()
        } else {
            Vec::new()
        };
        let behind = unseen.into_iter().chain(more).chain(around.take_if(|_| is_plate));
        let behind = behind.map(|behind| (file(&behind), behind)).collect();
        parts.push(Part {
            file: file(&body),
            inside: None,
            unit: Some(MeshUnit::Millimetre),
            stated: body.deviation.bound,
            body,
            missing: Vec::new(),
            behind,
            contradictory: None,
        });
    }
    (parts, files)
}

/// A frame of space around the one that was looked at, closed.
fn around([low, high]: [Point3<f64>; 2]) -> Mesh {
    let wide = Vector2::repeat(AROUND);
    let outer = [low.xy() - wide, high.xy() + wide];
    let corners = |[low, high]: [nalgebra::Point2<f64>; 2], z: f64| {
        [(low.x, low.y), (high.x, low.y), (high.x, high.y), (low.x, high.y)]
            .map(|(x, y)| Point3::new(x, y, z))
    };
    let inner = [low.xy(), high.xy()];
    let rings = [(outer, UNDER), (outer, OVER), (inner, UNDER), (inner, OVER)];
    let vertices: Vec<Point3<f64>> = rings.into_iter().flat_map(|(c, z)| corners(c, z)).collect();
    let mut triangles = Vec::new();
    let mut quad = |a: u32, b: u32, c: u32, d: u32| triangles.extend([[a, b, c], [a, c, d]]);
    for i in 0..4_u32 {
        let j = (i + 1) % 4;
        quad(i, j, 4 + j, 4 + i);
        quad(8 + j, 8 + i, 12 + i, 12 + j);
        quad(4 + i, 4 + j, 12 + j, 12 + i);
        quad(j, i, 8 + i, 8 + j);
    }
    Mesh { vertices, triangles }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_space_around_is_a_closed_frame() {
        let mesh = around([Point3::new(-100.0, -200.0, -30.0), Point3::new(300.0, 400.0, 700.0)]);
        assert!(solids::soundness(&mesh).is_sound());
        let height = OVER - UNDER;
        let expected = (1400.0 * 1600.0 - 400.0 * 600.0) * height;
        assert!((solids::volume(&mesh) - expected).abs() < 1e-6 * expected);
    }
}
