//! How sound a mesh is, as findings. Nothing is repaired.

use crate::finding::Finding;
use crate::meshes::ModelBody;
use nalgebra::Point3;
use solids::{Contradiction, ContradictionKind, Mesh, Soundness};

/// Appends what is notable about the surface of a mesh; how sound it is.
pub(crate) fn report(
    about: &str,
    file: &str,
    mesh: &Mesh,
    findings: &mut Vec<Finding>,
) -> Soundness {
    let (found, all) = wrong(mesh);
    for wrong in all {
        findings.push(Finding {
            about: about.to_owned(),
            file: Some(file.to_owned()),
            what: wrong.what.to_owned(),
            count: Some(wrong.count),
            at: wrong.at,
            remedy: wrong.remedy.to_owned(),
        });
    }
    found
}

/// How far pieces of a mesh without a deviation of its own may reach into each other and only touch: this
/// share of its size, some single roundings of its coordinates.
const TOUCHING: f64 = 1e-6;

/// How closed pieces of a body contradict each other. Those of a mesh that run into each other are one:
/// bodies are written so. An exact solid has no such pieces.
pub(crate) fn contradiction(body: &ModelBody) -> Option<Contradiction> {
    let (low, high) = body.mesh.bounds()?;
    let known = body.deviation.as_ref().map_or(0.0, |d| 2.0 * d.bound);
    let found = solids::contradiction(&body.mesh, known.max(TOUCHING * (high - low).norm()))?;
    (body.deviation.is_some() || found.kind != ContradictionKind::Overlap).then_some(found)
}

/// What is wrong by it.
pub(crate) fn contradictory(found: &Contradiction) -> Wrong {
    let remedy = "make one solid of them, or voids of those that are, where the body was made and \
                  export it again";
    Wrong { count: found.pieces, what: found.kind.what(), at: Some(found.at), remedy, opens: true }
}

/// One thing that is wrong with a surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrong {
    /// How often.
    pub count: usize,
    /// What, in a short phrase.
    pub what: &'static str,
    /// One place where it is so.
    pub at: Option<Point3<f64>>,
    /// What to do about it.
    pub remedy: &'static str,
    /// Whether the body is not closed, or not the right way around, for it.
    pub opens: bool,
}

/// What is wrong with the surface of a mesh, in counts and in words.
pub(crate) fn wrong(mesh: &Mesh) -> (Soundness, Vec<Wrong>) {
    const CLOSE: &str = "close the surface where it was made and export it again";
    const REWIND: &str = "turn the triangles to face outward and export it again";
    const MANY: &str = "kept as they are; export the body again if there are many";
    let found = solids::soundness(mesh);
    let mut all = Vec::new();
    let mut tell = |count, what, at, remedy, opens| {
        if count > 0 {
            all.push(Wrong { count, what, at, remedy, opens });
        }
    };
    let middle = |ends: Option<[Point3<f64>; 2]>| ends.map(|[a, b]| nalgebra::center(&a, &b));
    let open = middle(found.first_open_edge);
    tell(
        found.open_edges,
        "edges with one triangle only: the surface has holes",
        open,
        CLOSE,
        true,
    );
    let overfull = middle(found.first_overfull_edge);
    tell(found.overfull_edges, "edges with more than two triangles", overfull, CLOSE, false);
    let turned = middle(found.first_inconsistent_edge);
    tell(
        found.inconsistent_edges,
        "edges whose triangles face opposite ways",
        turned,
        REWIND,
        true,
    );
    let twice = found.first_duplicate;
    tell(found.duplicate_triangles, "triangles that occur more than once", twice, CLOSE, false);
    let flat = found.first_degenerate;
    tell(found.degenerate_triangles, "triangles without area", flat, MANY, false);
    if found.is_closed() && solids::volume(mesh) < 0.0 {
        let at = mesh.vertices.first().copied();
        let what = "triangles facing inward: the body is inside out";
        tell(found.triangles, what, at, REWIND, true);
    }
    (found, all)
}
