//! What of the scene lies where on a picture, coarsely: so that notes stand beside it, and names point at
//! what is seen.

use crate::eye::Eye;
use crate::overlay::Busy;
use display::{DisplayList, Plane, Shown};
use nalgebra::Point3;

/// How coarse, pixels.
const CELL: f64 = 3.0;
/// Most points along an edge: what is larger is mostly beside the picture.
const MOST: f64 = 1024.0;
/// What is no farther behind the nearest is seen, mm: cells are coarse and surfaces lean.
const BEHIND: f64 = 6.0;

/// A picture in cells.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ground {
    size: [f64; 2],
    across: usize,
    cells: Vec<Cell>,
}

#[derive(Debug, Clone, Copy)]
struct Cell {
    is_busy: bool,
    /// From the eye to the nearest that hides what lies behind, along the view, mm.
    nearest: f64,
}

/// What lies on a plane is not cut away by it, mm.
const ON: f64 = 0.01;

/// Whether one of the planes cuts a point away.
pub(crate) fn is_cut_away(cuts: &[Plane], p: &Point3<f64>) -> bool {
    cuts.iter().any(|cut| cut.normal.dot(&(p - cut.point)) > ON)
}

impl Ground {
    /// Everything that is there at a time of the installation and not cut away, on a picture of this
    /// size, pixels.
    pub(crate) fn of(
        list: &DisplayList<'_>,
        (eye, size): (&Eye, [f64; 2]),
        at: f64,
        cuts: &[Plane],
    ) -> Self {
        let mut ground = Self::new(size);
        for item in list.items.iter().filter(|item| item.shown == Shown::Solid) {
            let Some((mesh, place)) = list.meshes.get(item.mesh).zip(item.place_at(at)) else {
                continue;
            };
            let hides = item.role.colour().opacity == u8::MAX;
            for index in 0..mesh.triangles.len() {
                let corners = mesh.corners(index).map(|p| place * p);
                ground.take(eye, corners, hides, |p| !is_cut_away(cuts, p));
            }
        }
        ground
    }

    /// An empty picture of this size, pixels.
    fn new(size: [f64; 2]) -> Self {
        let [across, down] = size.map(|long| whole(long / CELL) + 1);
        let cells = vec![Cell { is_busy: false, nearest: f64::INFINITY }; across * down];
        Self { size, across, cells }
    }

    /// Takes up a triangle, where its points are there at all.
    fn take(
        &mut self,
        eye: &Eye,
        [a, b, c]: [Point3<f64>; 3],
        hides: bool,
        is_there: impl Fn(&Point3<f64>) -> bool,
    ) {
        let seen = [a, b, c].map(|p| eye.onto(self.size, &p));
        let [Some(p), Some(q), Some(r)] = seen else { return };
        let long = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
        let longest = long(p, q).max(long(q, r)).max(long(r, p));
        let parts = whole((longest / CELL).ceil().clamp(1.0, MOST));
        let share = |part: usize| part as f64 / parts as f64;
        for u in 0..=parts {
            for v in 0..=parts - u {
                let point = a + (b - a) * share(u) + (c - a) * share(v);
                if !is_there(&point) {
                    continue;
                }
                let Some(index) = self.index(eye, &point) else { continue };
                let Some(cell) = self.cells.get_mut(index) else { continue };
                cell.is_busy = true;
                if hides {
                    cell.nearest = cell.nearest.min(eye.depth(&point));
                }
            }
        }
    }

    /// Whether nothing that was taken up hides a point; never of one beside the picture.
    pub(crate) fn is_seen(&self, eye: &Eye, point: &Point3<f64>) -> bool {
        let cell = self.index(eye, point).and_then(|index| self.cells.get(index));
        cell.is_some_and(|cell| eye.depth(point) <= cell.nearest + BEHIND)
    }

    /// In cells of another width, for notes.
    pub(crate) fn busy(&self, width: f64) -> Busy {
        let busy = self.cells.iter().enumerate().filter(|(_, cell)| cell.is_busy);
        let across = self.across.max(1);
        let middles = busy
            .map(|(index, _)| [index % across, index / across].map(|i| (i as f64 + 0.5) * CELL));
        Busy::of(middles, self.size, width)
    }

    fn index(&self, eye: &Eye, point: &Point3<f64>) -> Option<usize> {
        let [x, y] = eye.onto(self.size, point)?;
        let is_on = x >= 0.0 && y >= 0.0 && x < self.size[0] && y < self.size[1];
        is_on.then(|| whole(y / CELL) * self.across + whole(x / CELL))
    }
}

/// Rounded down.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float to an integer saturates"
)]
fn whole(x: f64) -> usize {
    x as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use display::Framing;
    use nalgebra::Vector3;

    #[test]
    fn what_lies_behind_something_is_not_seen() {
        let framing = Framing {
            eye: Point3::new(0.0, 0.0, 1000.0),
            target: Point3::origin(),
            up: Vector3::x_axis(),
            angle: 0.5,
            height: 500.0,
        };
        for is_parallel in [false, true] {
            let eye = Eye { framing, is_parallel };
            let mut ground = Ground::new([480.0, 300.0]);
            let at = |x: f64, y: f64, z: f64| Point3::new(x, y, z);
            let sheet = [at(-60.0, -60.0, 100.0), at(60.0, -60.0, 100.0), at(0.0, 90.0, 100.0)];
            // What does not hide, and what is not there.
            ground.take(&eye, sheet, false, |_| true);
            ground.take(&eye, sheet, true, |_| false);
            assert!(ground.is_seen(&eye, &at(0.0, 0.0, 0.0)));
            ground.take(&eye, sheet, true, |_| true);
            assert!(!ground.is_seen(&eye, &at(0.0, 0.0, 0.0)));
            assert!(ground.is_seen(&eye, &at(0.0, 0.0, 100.0)));
            assert!(ground.is_seen(&eye, &at(0.0, 0.0, 200.0)));
            assert!(ground.is_seen(&eye, &at(-100.0, 100.0, 0.0)));
            assert!(!ground.is_seen(&eye, &at(9000.0, 0.0, 0.0)), "beside the picture");
        }
    }
}
