//! What was seen from one place.

use nalgebra::Point3;

/// What was seen from one place: points, with the triangles between them where the scanner's program
/// made some.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shot {
    /// Name for people: its file's.
    pub name: String,
    /// What was seen, mm.
    pub points: Vec<Point3<f64>>,
    /// Corners of triangles between the points; none for a cloud.
    pub triangles: Vec<[u32; 3]>,
    /// Places of points that were left out of it as astray, mm. Something was seen there, or nothing: what
    /// is about them is not free because another ray passes.
    pub astray: Vec<Point3<f64>>,
    /// Where it was seen from, in the same coordinates, mm; `None` where nobody said.
    pub seen_from: Option<Point3<f64>>,
}
