//! What of the scene lies where on a picture, coarsely: so that notes stand beside it, and names point at
//! what is seen.

use crate::eye::{Eye, Sight, whole};
use crate::overlay::Busy;
use display::{DisplayList, Plane, Shown};
use nalgebra::Point3;

/// How coarse, pixels.
const CELL: f64 = 3.0;
/// A triangle is halved no more often: what is larger then reaches behind the eye.
const MOST_HALVED: u8 = 26;
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
        let sight = eye.sight(size);
        for item in list.items.iter().filter(|item| item.shown == Shown::Solid) {
            let Some((mesh, place)) = list.meshes.get(item.mesh).zip(item.place_at(at)) else {
                continue;
            };
            let hides = item.role.colour().opacity == u8::MAX;
            let look = sight.look * place;
            let seen: Vec<Point3<f64>> = mesh.vertices.iter().map(|p| look * p).collect();
            let back = sight.look.inverse();
            let is_there = |p: &Point3<f64>| cuts.is_empty() || !is_cut_away(cuts, &(back * p));
            for triangle in &mesh.triangles {
                let corners = triangle.map(|corner| seen.get(corner as usize).copied());
                let [Some(a), Some(b), Some(c)] = corners else { continue };
                ground.take(&sight, [a, b, c], hides, is_there);
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

    /// Takes up a triangle of the eye's frame, where its points are there at all: in halves, until each is no larger than a
    /// cell or lies beside the picture.
    fn take(
        &mut self,
        sight: &Sight,
        corners: [Point3<f64>; 3],
        hides: bool,
        is_there: impl Fn(&Point3<f64>) -> bool,
    ) {
        let mut left = vec![(corners, 0)];
        while let Some(([a, b, c], halved)) = left.pop() {
            let seen = [a, b, c].map(|p| sight.laid(&p));
            let (is_small, most) = match seen {
                // All of it lies behind the eye.
                [None, None, None] => continue,
                [Some(p), Some(q), Some(r)] => {
                    if self.is_beside([p, q, r]) {
                        continue;
                    }
                    let long = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
                    (long(p, q).max(long(q, r)).max(long(r, p)) <= CELL, MOST_HALVED)
                }
                // What reaches behind the eye is seen, if at all, beside it.
                _ => (false, MOST_HALVED / 3),
            };
            if !is_small && halved < most {
                // Its longest edge is at the front.
                let [a, b, c] = {
                    let long = [(b - a).norm(), (c - b).norm(), (a - c).norm()];
                    if long[0] >= long[1] && long[0] >= long[2] {
                        [a, b, c]
                    } else if long[1] >= long[2] {
                        [b, c, a]
                    } else {
                        [c, a, b]
                    }
                };
                let middle = nalgebra::center(&a, &b);
                left.extend([([a, middle, c], halved + 1), ([middle, b, c], halved + 1)]);
                continue;
            }
            let point = Point3::from((a.coords + b.coords + c.coords) / 3.0);
            if !is_there(&point) {
                continue;
            }
            let Some(index) = sight.laid(&point).and_then(|at| self.index(at)) else { continue };
            let Some(cell) = self.cells.get_mut(index) else { continue };
            cell.is_busy = true;
            if hides {
                cell.nearest = cell.nearest.min(-point.z);
            }
        }
    }

    /// Whether points lie all on one side of the picture.
    fn is_beside(&self, points: [[f64; 2]; 3]) -> bool {
        let is_off = |axis: usize| {
            points.iter().all(|p| p[axis] < 0.0)
                || points.iter().all(|p| p[axis] >= self.size[axis])
        };
        is_off(0) || is_off(1)
    }

    /// Whether nothing that was taken up hides a point; never of one beside the picture.
    pub(crate) fn is_seen(&self, eye: &Eye, point: &Point3<f64>) -> bool {
        let laid = eye.onto(self.size, point).and_then(|at| self.index(at));
        let cell = laid.and_then(|index| self.cells.get(index));
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

    fn index(&self, [x, y]: [f64; 2]) -> Option<usize> {
        let is_on = x >= 0.0 && y >= 0.0 && x < self.size[0] && y < self.size[1];
        is_on.then(|| whole(y / CELL) * self.across + whole(x / CELL))
    }
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
            let sight = eye.sight([480.0, 300.0]);
            let sheet = sheet.map(|p| sight.look * p);
            ground.take(&sight, sheet, false, |_| true);
            ground.take(&sight, sheet, true, |_| false);
            assert!(ground.is_seen(&eye, &at(0.0, 0.0, 0.0)));
            ground.take(&sight, sheet, true, |_| true);
            assert!(!ground.is_seen(&eye, &at(0.0, 0.0, 0.0)));
            assert!(ground.is_seen(&eye, &at(0.0, 0.0, 100.0)));
            assert!(ground.is_seen(&eye, &at(0.0, 0.0, 200.0)));
            assert!(ground.is_seen(&eye, &at(-100.0, 100.0, 0.0)));
            assert!(!ground.is_seen(&eye, &at(9000.0, 0.0, 0.0)), "beside the picture");
        }
    }
}
