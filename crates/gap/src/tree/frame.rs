//! The frame of a node: in which of a few likely ones its boxes are smallest.

use nalgebra::{Matrix3, Vector3};

use crate::soup::Soup;

/// Triangles looked at per box to choose a frame.
const LOOKED_AT: usize = 64;

/// A rotation by its axes.
pub(super) type Axes = [Vector3<f64>; 3];

pub(super) const UPRIGHT: Axes =
    [Vector3::new(1.0, 0.0, 0.0), Vector3::new(0.0, 1.0, 0.0), Vector3::new(0.0, 0.0, 1.0)];

/// The axes, of a few likely ones, along which the boxes around the runs of slots
/// `starts[i]..starts[i + 1]` have the least surface.
pub(super) fn closest(soup: &Soup, starts: &[u32]) -> Axes {
    let (Some(first), Some(last)) = (starts.first(), starts.last()) else { return UPRIGHT };
    let likely = Likely::of(soup, *first as usize, *last as usize);
    let mut best = (f64::INFINITY, UPRIGHT);
    for axes in
        [Some(UPRIGHT), principal(&likely.normals), principal(&likely.edges), likely.along()]
            .into_iter()
            .flatten()
    {
        let surface: f64 = starts
            .windows(2)
            .map(|run| surface_in(soup, &axes, run[0] as usize, run[1] as usize))
            .sum();
        // Only for a gain beyond rounding.
        if surface < 0.999 * best.0 {
            best = (surface, axes);
        }
    }
    best.1
}

/// The axes along which the triangles of the whole body mostly face: the same for the body
/// however it is turned, and along its flats.
pub(super) fn of_body(soup: &Soup) -> Axes {
    principal(&Likely::of(soup, 0, soup.len()).normals).unwrap_or(UPRIGHT)
}

/// What a run of triangles suggests as axes.
struct Likely {
    normals: Matrix3<f64>,
    edges: Matrix3<f64>,
    /// The longest edge with its triangle's normal.
    longest: (f64, Vector3<f64>, Vector3<f64>),
}

impl Likely {
    fn of(soup: &Soup, first: usize, end: usize) -> Self {
        let mut normals = Matrix3::zeros();
        let mut edges = Matrix3::zeros();
        let mut longest = (0.0, Vector3::zeros(), Vector3::zeros());
        for slot in (first..end).step_by((end - first) / (8 * LOOKED_AT) + 1) {
            let t = soup.corners(slot);
            let sides = [t[1] - t[0], t[2] - t[1], t[0] - t[2]];
            let normal = sides[0].cross(&sides[1]);
            let area = normal.norm();
            if area > 0.0 {
                normals += normal * (normal / area).transpose();
            }
            for side in sides {
                let length = side.norm();
                if length > 0.0 {
                    edges += side * (side / length.sqrt()).transpose();
                }
                if length > longest.0 {
                    longest = (length, side, normal);
                }
            }
        }
        Self { normals, edges, longest }
    }

    /// The first axis along the longest edge and the third as near its triangle's normal as can
    /// be.
    fn along(&self) -> Option<Axes> {
        let x = self.longest.1.try_normalize(f64::MIN_POSITIVE)?;
        let y = self.longest.2.cross(&x).try_normalize(f64::MIN_POSITIVE)?;
        square([x, y, x.cross(&y)])
    }
}

/// The summed faces of the box around a run of triangles, with a little for its lengths so that
/// flat boxes compare.
fn surface_in(soup: &Soup, axes: &Axes, first: usize, end: usize) -> f64 {
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    for slot in (first..end).step_by((end - first) / LOOKED_AT + 1) {
        for corner in soup.corners(slot) {
            for k in 0..3 {
                let x = axes[k].dot(&corner.coords);
                low[k] = low[k].min(x);
                high[k] = high[k].max(x);
            }
        }
    }
    let side = [high[0] - low[0], high[1] - low[1], high[2] - low[2]];
    side[0] * side[1] + side[1] * side[2] + side[2] * side[0] + 1e-6 * (side[0] + side[1] + side[2])
}

/// The principal axes of a symmetric matrix as a rotation.
fn principal(matrix: &Matrix3<f64>) -> Option<Axes> {
    let vectors = matrix.try_symmetric_eigen(f64::EPSILON, 100)?.eigenvectors;
    let (x, y) = (vectors.column(0).into_owned(), vectors.column(1).into_owned());
    square([x, y, x.cross(&y)])
}

/// The axes, if they are at right angles and of unit length.
fn square(axes: Axes) -> Option<Axes> {
    let off = |x: f64, y: f64| (x - y).abs() < 1e-12;
    let right = off(axes[0].dot(&axes[1]), 0.0)
        && off(axes[0].norm_squared(), 1.0)
        && off(axes[1].norm_squared(), 1.0);
    right.then_some(axes)
}
