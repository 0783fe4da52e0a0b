//! Convex polygons seen from above, each with a height that is linear over it.
//!
//! Corners run counter-clockwise seen from above; the origin is the cup's axis.

use nalgebra::{Point2, Point3, Vector2};

/// The cross product of two vectors seen from above.
pub(super) fn cross(p: Vector2<f64>, q: Vector2<f64>) -> f64 {
    p.x * q.y - p.y * q.x
}

/// The part of a polygon where a linear function is not below zero. Where an edge is cut does not
/// depend on the way in which it is run, so that the polygons on its two sides are cut alike, to
/// the bit.
pub(super) fn clip(
    polygon: &[Point3<f64>],
    keep: impl Fn(&Point3<f64>) -> f64,
) -> Vec<Point3<f64>> {
    let mut kept = Vec::with_capacity(polygon.len() + 2);
    for (p, q) in edges(polygon) {
        let (at_p, at_q) = (keep(&p), keep(&q));
        if at_p >= 0.0 {
            kept.push(p);
        }
        if (at_p < 0.0 && at_q > 0.0) || (at_p > 0.0 && at_q < 0.0) {
            let forward = [p.x, p.y, p.z] < [q.x, q.y, q.z];
            let (from, to, start, end) =
                if forward { (p, q, at_p, at_q) } else { (q, p, at_q, at_p) };
            kept.push(from + (to - from) * (start / (start - end)));
        }
    }
    if kept.len() < 3 { Vec::new() } else { kept }
}

/// The edges of a polygon.
pub(super) fn edges(
    polygon: &[Point3<f64>],
) -> impl Iterator<Item = (Point3<f64>, Point3<f64>)> + '_ {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).map(|(p, q)| (*p, *q))
}

/// Area seen from above, mm^2.
pub(super) fn area(polygon: &[Point3<f64>]) -> f64 {
    0.5 * edges(polygon).map(|(p, q)| cross(p.xy().coords, q.xy().coords)).sum::<f64>()
}

/// Whether a polygon holds a point, within a hair of 1e-9 mm^2.
pub(super) fn holds(polygon: &[Point3<f64>], at: Point2<f64>) -> bool {
    edges(polygon).all(|(p, q)| cross(q.xy() - p.xy(), at - p.xy()) >= -1e-9)
}

/// Least and greatest distance of a polygon from the axis.
pub(super) fn reach(polygon: &[Point3<f64>]) -> (f64, f64) {
    let far = polygon.iter().map(|p| p.xy().coords.norm()).fold(0.0, f64::max);
    if holds(polygon, Point2::origin()) {
        return (0.0, far);
    }
    let near = edges(polygon).map(|(p, q)| {
        let (p, way) = (p.xy().coords, q.xy() - p.xy());
        let along = (-p.dot(&way) / way.norm_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        (p + way * along).norm()
    });
    (near.fold(f64::INFINITY, f64::min), far)
}

/// A height that is linear over the plan: `at + slope . p`, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Plane {
    /// Height on the axis.
    pub(crate) at: f64,
    /// Rise per mm toward +x and +y.
    pub(crate) slope: Vector2<f64>,
}

impl Plane {
    /// Through three points; `None` where they lie in line seen from above.
    pub(super) fn through([a, b, c]: [Point3<f64>; 3]) -> Option<Self> {
        let (u, v) = (b - a, c - a);
        let double = cross(u.xy(), v.xy());
        let slope = Vector2::new(u.z * v.y - v.z * u.y, v.z * u.x - u.z * v.x) / double;
        let plane = Self { at: a.z - slope.dot(&a.xy().coords), slope };
        (plane.at.is_finite() && slope.iter().all(|c| c.is_finite())).then_some(plane)
    }

    /// Of a polygon: through the three of its corners that span most.
    pub(super) fn of(polygon: &[Point3<f64>]) -> Option<Self> {
        let [first, rest @ ..] = polygon else { return None };
        let spans = |p: &[Point3<f64>]| area(&[*first, p[0], p[1]]);
        let best = rest.windows(2).max_by(|a, b| spans(a).total_cmp(&spans(b)))?;
        Self::through([*first, best[0], best[1]])
    }

    /// Height of a point above the plane along the axis, mm.
    pub(super) fn height(&self, p: &Point3<f64>) -> f64 {
        p.z - (self.at + self.slope.x * p.x + self.slope.y * p.y)
    }

    /// How much farther apart along the axis two surfaces on this slope are than square to it.
    pub(super) fn lean(&self) -> f64 {
        (1.0 + self.slope.norm_squared()).sqrt()
    }
}

/// Takes a convex region out of convex polygons; what is left, in convex pieces.
pub(super) fn without(
    pieces: Vec<Vec<Point3<f64>>>,
    region: &[Point3<f64>],
) -> Vec<Vec<Point3<f64>>> {
    /// Slivers below this are rounding, mm^2.
    const SLIVER: f64 = 1e-9;
    let mut left = Vec::with_capacity(pieces.len());
    for mut piece in pieces {
        for (p, q) in edges(region) {
            let way = q.xy() - p.xy();
            let inside = |at: &Point3<f64>| cross(way, at.xy() - p.xy());
            let beyond = clip(&piece, |at| -inside(at));
            if area(&beyond) > SLIVER {
                left.push(beyond);
            }
            piece = clip(&piece, inside);
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(half: f64) -> Vec<Point3<f64>> {
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(x, y)| Point3::new(x * half, y * half, x))
            .to_vec()
    }

    #[test]
    fn a_square_without_a_smaller_one_is_a_frame() {
        let left = without(vec![square(2.0)], &square(1.0));
        let sum: f64 = left.iter().map(|p| area(p)).sum();
        assert!((sum - 12.0).abs() < 1e-12 && left.iter().all(|p| area(p) > 0.0));
    }

    #[test]
    fn an_edge_is_cut_alike_from_both_sides() {
        let (p, q, r, s) = (
            Point3::new(0.1, 0.3, 0.7),
            Point3::new(5.3, 1.1, -0.9),
            Point3::new(2.0, 4.0, 0.2),
            Point3::new(2.0, -4.0, 0.1),
        );
        let level = |p: &Point3<f64>| p.z;
        let (one, other) = (clip(&[p, q, r], level), clip(&[q, p, s], level));
        let on_edge = |all: &[Point3<f64>]| {
            all.iter().find(|c| area(&[p, q, **c]).abs() < 1e-9 && c.z.abs() < 1e-9).copied()
        };
        assert!(on_edge(&one).is_some());
        assert_eq!(on_edge(&one), on_edge(&other));
    }

    #[test]
    fn reach_of_a_square_about_and_beside_the_axis() {
        assert_eq!(reach(&square(1.0)), (0.0, 2.0_f64.sqrt()));
        let beside: Vec<_> = square(1.0).iter().map(|p| Point3::new(p.x + 3.0, p.y, p.z)).collect();
        assert_eq!(reach(&beside), (2.0, 17.0_f64.sqrt()));
    }
}
