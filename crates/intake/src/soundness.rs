//! How sound a mesh is, as findings. Nothing is repaired.

use crate::finding::Finding;
use nalgebra::Point3;
use solids::Mesh;

/// Appends what is notable about the surface of a mesh.
pub(crate) fn report(about: &str, file: &str, mesh: &Mesh, findings: &mut Vec<Finding>) {
    let found = solids::soundness(mesh);
    let mut tell = |count: usize, what: &str, at: Option<Point3<f64>>, remedy: &str| {
        if count > 0 {
            findings.push(Finding {
                about: about.to_owned(),
                file: Some(file.to_owned()),
                what: what.to_owned(),
                count: Some(count),
                at,
                remedy: remedy.to_owned(),
            });
        }
    };
    let close = "close the surface where it was made and export it again";
    let rewind = "turn the triangles to face outward and export it again";
    let open = found.first_open_edge.map(|[a, b]| nalgebra::center(&a, &b));
    tell(found.open_edges, "edges with one triangle only: the surface has holes", open, close);
    tell(found.overfull_edges, "edges with more than two triangles", None, close);
    tell(found.inconsistent_edges, "edges whose triangles face opposite ways", None, rewind);
    tell(found.duplicate_triangles, "triangles that occur more than once", None, close);
    tell(
        found.degenerate_triangles,
        "triangles without area",
        None,
        "kept as they are; export the body again if there are many",
    );
    if found.is_closed() && solids::volume(mesh) < 0.0 {
        let at = mesh.vertices.first().copied();
        let what = "triangles facing inward: the body is inside out";
        tell(found.triangles, what, at, rewind);
    }
}
