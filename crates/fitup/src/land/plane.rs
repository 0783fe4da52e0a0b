//! Planes through the land: that of least squares, and the least zone.

use super::polygon::{Plane, cross, edges, holds, reach};
use nalgebra::{Matrix3, Point2, Point3, Vector2, Vector3};
use std::cmp::Ordering;

/// What a surface is between two distances of the axis, for greatest and least heights over any
/// plane. A height is linear over each piece, so that its extremes lie at corners, where an edge
/// crosses one of the two circles, or where one of the circles runs along the height's contour.
pub(super) struct Ring<'p> {
    points: Vec<Point3<f64>>,
    /// Pieces that one of the circles runs through, each with its own plane and that radius.
    arcs: Vec<(&'p [Point3<f64>], Plane, f64)>,
}

/// The greatest and the least height over a plane, mm, each with its point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Extremes {
    pub(super) highest: (f64, Point3<f64>),
    pub(super) lowest: (f64, Point3<f64>),
}

impl Extremes {
    /// The greatest departure, mm, with its sign and its point.
    pub(super) fn farthest(&self) -> (f64, Point3<f64>) {
        if self.highest.0 >= -self.lowest.0 { self.highest } else { self.lowest }
    }

    /// The greatest departure, mm, without its sign.
    pub(super) fn departure(&self) -> f64 {
        self.farthest().0.abs()
    }
}

impl<'p> Ring<'p> {
    /// The part of convex pieces between two distances of the axis, mm.
    pub(super) fn of(pieces: &'p [Vec<Point3<f64>>], inner: f64, outer: f64) -> Self {
        let mut ring = Self { points: Vec::with_capacity(4 * pieces.len()), arcs: Vec::new() };
        if inner < outer {
            for piece in pieces {
                ring.add(piece, inner, outer);
            }
        }
        ring
    }

    fn add(&mut self, piece: &'p [Point3<f64>], inner: f64, outer: f64) {
        let far = |p: &Point3<f64>| p.xy().coords.norm();
        self.points.extend(piece.iter().filter(|p| inner <= far(p) && far(p) <= outer));
        let (nearest, farthest) = reach(piece);
        for radius in [inner, outer] {
            if radius <= nearest || radius >= farthest {
                continue;
            }
            for (p, q) in edges(piece) {
                let on = crossings(p.xy().coords, q.xy().coords, radius);
                self.points.extend(on.into_iter().flatten().map(|t| p + (q - p) * t));
            }
            if let Some(plane) = Plane::of(piece) {
                // A piece that holds the whole circle may have no other point between the two.
                if holds(piece, Point2::new(radius, 0.0)) {
                    let height = plane.at + plane.slope.x * radius;
                    self.points.push(Point3::new(radius, 0.0, height));
                }
                self.arcs.push((piece, plane, radius));
            }
        }
    }

    /// `None` where there is no surface.
    pub(super) fn extremes(&self, over: &Plane) -> Option<Extremes> {
        let first = *self.points.first().or_else(|| self.arcs.first().and_then(|a| a.0.first()))?;
        let mut highest = (f64::NEG_INFINITY, first);
        let mut lowest = (f64::INFINITY, first);
        let mut look = |p: Point3<f64>| {
            let height = over.height(&p);
            if height > highest.0 {
                highest = (height, p);
            }
            if height < lowest.0 {
                lowest = (height, p);
            }
        };
        for p in &self.points {
            look(*p);
        }
        for (piece, plane, radius) in &self.arcs {
            let Some(up) = (plane.slope - over.slope).try_normalize(0.0) else { continue };
            for at in [up * *radius, up * -*radius] {
                if holds(piece, at.into()) {
                    look(Point3::new(at.x, at.y, plane.at + plane.slope.dot(&at)));
                }
            }
        }
        (highest.0.is_finite() && lowest.0.is_finite()).then_some(Extremes { highest, lowest })
    }
}

/// Where a segment crosses a circle about the origin, as parts of its length inside it.
fn crossings(p: Vector2<f64>, q: Vector2<f64>, radius: f64) -> [Option<f64>; 2] {
    let way = q - p;
    let (a, b, c) = (way.norm_squared(), p.dot(&way), p.norm_squared() - radius * radius);
    let root = (b * b - a * c).sqrt();
    if a <= 0.0 || root.is_nan() {
        return [None; 2];
    }
    [(-b - root) / a, (-b + root) / a].map(|t| (t > 0.0 && t < 1.0).then_some(t))
}

/// Integrals over a plan region of 1, x, y, x^2, xy and y^2.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Moments([f64; 6]);

impl Moments {
    /// Over the part of a convex polygon within a circle about the origin: the sum over its edges
    /// of what lies between the edge and the origin, a triangle within the circle and a sector
    /// beyond it (Green's theorem).
    fn within(polygon: &[Point3<f64>], radius: f64) -> Self {
        let mut sum = Self::default();
        for (p, q) in edges(polygon) {
            let (p, q) = (p.xy().coords, q.xy().coords);
            let [first, second] = crossings(p, q, radius);
            let stops = [Some(0.0), first, second, Some(1.0)];
            let mut from = p;
            for stop in stops.into_iter().flatten().skip(1) {
                let to = p + (q - p) * stop;
                if (0.5 * (from + to)).norm() <= radius {
                    sum.add_triangle(from, to);
                } else {
                    sum.add_sector(from, to, radius);
                }
                from = to;
            }
        }
        sum
    }

    fn add_triangle(&mut self, p: Vector2<f64>, q: Vector2<f64>) {
        let area = 0.5 * cross(p, q);
        let square = |a: f64, b: f64| area / 6.0 * (a * a + a * b + b * b);
        let mixed = 2.0 * (p.x * p.y + q.x * q.y) + p.x * q.y + q.x * p.y;
        self.add([
            area,
            area * (p.x + q.x) / 3.0,
            area * (p.y + q.y) / 3.0,
            square(p.x, q.x),
            area / 12.0 * mixed,
            square(p.y, q.y),
        ]);
    }

    fn add_sector(&mut self, p: Vector2<f64>, q: Vector2<f64>, radius: f64) {
        let turn = cross(p, q).atan2(p.dot(&q));
        let (u, v) = (p.normalize(), q.normalize());
        let (square, cube) = (radius * radius, radius * radius * radius);
        // sin 2b - sin 2a over 4, and sin^2 b - sin^2 a over 2.
        let twice = 0.5 * (v.x * v.y - u.x * u.y);
        let mixed = 0.5 * (v.y * v.y - u.y * u.y);
        self.add([
            0.5 * square * turn,
            cube / 3.0 * (v.y - u.y),
            cube / 3.0 * (u.x - v.x),
            0.25 * square * square * (0.5 * turn + twice),
            0.25 * square * square * mixed,
            0.25 * square * square * (0.5 * turn - twice),
        ]);
    }

    fn add(&mut self, more: [f64; 6]) {
        for (sum, more) in self.0.iter_mut().zip(more) {
            if more.is_finite() {
                *sum += more;
            }
        }
    }
}

/// The plane of least squares through the part of convex pieces between two distances of the axis:
/// heights along the axis, each weighted by its area seen from above. Level, at the mean height,
/// where the pieces do not define a slope; `None` where there is no surface.
pub(super) fn least_squares(pieces: &[Vec<Point3<f64>>], inner: f64, outer: f64) -> Option<Plane> {
    let (mut left, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for piece in pieces {
        let Some(plane) = Plane::of(piece) else { continue };
        let mut over = Moments::within(piece, outer).0;
        if reach(piece).0 < inner {
            for (all, hole) in over.iter_mut().zip(Moments::within(piece, inner).0) {
                *all -= hole;
            }
        }
        let [one, x, y, xx, xy, yy] = over;
        let sums = Matrix3::new(one, x, y, x, xx, xy, y, xy, yy);
        left += sums;
        right += sums * Vector3::new(plane.at, plane.slope.x, plane.slope.y);
    }
    let area = left[(0, 0)];
    if area.is_nan() || area <= 0.0 {
        return None;
    }
    // Lengths in radii, so that the three equations are of one size.
    let scale = Matrix3::from_diagonal(&Vector3::new(1.0, 1.0 / outer, 1.0 / outer));
    let solved = (scale * left * scale / area)
        .cholesky()
        .map(|c| scale * c.solve(&(scale * right / area)))
        .filter(|s| s.iter().all(|c| c.is_finite()));
    let level = Vector3::new(right[0] / area, 0.0, 0.0);
    let [at, along_x, along_y] = solved.unwrap_or(level).into();
    Some(Plane { at, slope: Vector2::new(along_x, along_y) })
}

/// Bounds on the least zone of a surface: half the height, along the axis, of the thinnest space
/// between two parallel planes that holds it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Zone {
    /// No plane has a smaller greatest departure, mm.
    pub(super) low: f64,
    /// The greatest departure from `plane`, mm.
    pub(super) high: f64,
    pub(super) plane: Plane,
}

/// Finds the least zone by exchange (Remez), from a plane to begin with.
///
/// Any four points bound it from below: where weights `w` have `sum w = sum w x = sum w y = 0`, any
/// plane's heights over the points have `sum w h = sum w z`, so that one of them is at least
/// `|sum w z| / sum |w|`. The plane on which all four are equally far is tried, the surface's
/// farthest point from it taken in for that one of the four which leaves the greatest bound.
pub(super) fn least_zone(ring: &Ring<'_>, begin: Plane) -> Option<Zone> {
    /// Exchanges at most; a handful closes the bounds.
    const MOST: usize = 60;
    /// The bounds are close enough, mm.
    const CLOSE: f64 = 1e-4;
    let first = ring.extremes(&begin)?;
    let mut zone = Zone { low: 0.0, high: first.departure(), plane: begin };
    let by = |of: fn(&Point3<f64>) -> f64| {
        ring.points.iter().copied().max_by(|a, b| of(a).total_cmp(&of(b)))
    };
    let (Some(a), Some(b), Some(c)) = (by(|p| p.x), by(|p| -p.x - p.y), by(|p| p.y - p.x)) else {
        return Some(zone);
    };
    let Some(found) = Plane::through([a, b, c]).and_then(|p| ring.extremes(&p)) else {
        return Some(zone);
    };
    // The longest there first.
    let mut four = [a, b, c, a].map(|at| Reference { at, side: 1.0 });
    let mut far = Reference::of(found.farthest());
    for _ in 0..MOST {
        let exchanged = |out: usize| {
            let mut next = four;
            next.copy_within(out + 1.., out);
            next[3] = far;
            next
        };
        let bound = |four: &[Reference; 4]| levelled(four).0;
        // Of equals the one without that which was there longest.
        let Some(best) = [3, 2, 1, 0].map(exchanged).into_iter().max_by(|a, b| {
            let (a, b) = (bound(a), bound(b));
            if (a - b).abs() <= 1e-12 { Ordering::Equal } else { a.total_cmp(&b) }
        }) else {
            break;
        };
        four = best;
        let (error, plane) = levelled(&four);
        zone.low = zone.low.max(error);
        let Some((plane, extremes)) = plane.and_then(|p| Some((p, ring.extremes(&p)?))) else {
            break;
        };
        if extremes.departure() < zone.high {
            zone.high = extremes.departure();
            zone.plane = plane;
        }
        if zone.high - zone.low <= CLOSE {
            break;
        }
        far = Reference::of(extremes.farthest());
    }
    zone.low = zone.low.min(zone.high);
    Some(zone)
}

/// A point of the surface that was farthest from a plane.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Reference {
    at: Point3<f64>,
    /// 1 where it was above that plane, -1 where it was below.
    side: f64,
}

impl Reference {
    fn of((height, at): (f64, Point3<f64>)) -> Self {
        Self { at, side: height.signum() }
    }
}

/// The bound that four points give, and the plane on which all are that far. A point that has no
/// weight in the bound keeps its side.
fn levelled(four: &[Reference; 4]) -> (f64, Option<Plane>) {
    let [a, b, c, d] = four.map(|r| r.at);
    let double = |p: Point3<f64>, q: Point3<f64>, r: Point3<f64>| cross((q - p).xy(), (r - p).xy());
    let weights = [double(b, c, d), -double(a, c, d), double(a, b, d), -double(a, b, c)];
    let sum: f64 = weights.iter().map(|w| w.abs()).sum();
    let error: f64 = weights.iter().zip([a, b, c, d]).map(|(w, p)| w * p.z).sum::<f64>() / sum;
    // Four points almost in line bound nothing that rounding would not spoil, mm^2.
    if !error.is_finite() || sum < 1.0 {
        return (0.0, None);
    }
    let mut moved = [a, b, c, d];
    for ((p, weight), r) in moved.iter_mut().zip(weights).zip(four) {
        let weightless = weight.abs() <= 1e-9 * sum;
        p.z -= if weightless { error.abs() * r.side } else { error * weight.signum() };
    }
    let [a, b, c, d] = moved;
    let without = [[b, c, d], [a, c, d], [a, b, d], [a, b, c]];
    let widest = (0..4).max_by(|i, j| weights[*i].abs().total_cmp(&weights[*j].abs()));
    (error.abs(), widest.and_then(|i| Plane::through(without[i])))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rectangle(x: [f64; 2], y: [f64; 2], z: impl Fn(f64, f64) -> f64) -> Vec<Point3<f64>> {
        [(x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1])]
            .map(|(x, y)| Point3::new(x, y, z(x, y)))
            .to_vec()
    }

    #[test]
    fn moments_of_a_disc_and_of_a_square_are_the_formulas() {
        // Disc: area pi r^2, second moments pi r^4 / 4. Square of side 2: 4 and 4/3.
        let square = rectangle([-1.0, 1.0], [-1.0, 1.0], |_, _| 0.0);
        let pi = std::f64::consts::PI;
        let r: f64 = 0.7;
        let quarter = pi * r.powi(4) / 4.0;
        let disc = [pi * r * r, 0.0, 0.0, quarter, 0.0, quarter];
        let all = [4.0, 0.0, 0.0, 4.0 / 3.0, 0.0, 4.0 / 3.0];
        for (radius, expected) in [(r, disc), (2.0, all)] {
            let found = Moments::within(&square, radius).0;
            for (found, expected) in found.iter().zip(expected) {
                assert!((found - expected).abs() < 1e-12, "{found} {expected}");
            }
        }
    }

    #[test]
    fn moments_off_the_middle_add_up() {
        // A square cut in two has the moments of both parts; cut where a circle crosses it.
        let whole = rectangle([0.2, 1.4], [-0.3, 1.1], |_, _| 0.0);
        let parts = [
            rectangle([0.2, 0.9], [-0.3, 1.1], |_, _| 0.0),
            rectangle([0.9, 1.4], [-0.3, 1.1], |_, _| 0.0),
        ];
        let sum = |i: usize| -> f64 { parts.iter().map(|p| Moments::within(p, 1.0).0[i]).sum() };
        let all = Moments::within(&whole, 1.0).0;
        assert!((0..6).all(|i| (all[i] - sum(i)).abs() < 1e-12), "{all:?}");
        assert!(all[4] > 0.01);
    }

    #[test]
    fn a_tilted_plane_is_its_own_best_fit() {
        let tilt = |x: f64, y: f64| 3.0 + 0.01 * x - 0.02 * y;
        let pieces = vec![
            rectangle([-9.0, 0.0], [-9.0, 9.0], tilt),
            rectangle([0.0, 9.0], [-9.0, 9.0], tilt),
        ];
        let plane = least_squares(&pieces, 3.0, 7.0).unwrap();
        assert!((plane.at - 3.0).abs() < 1e-12);
        assert!((plane.slope - Vector2::new(0.01, -0.02)).norm() < 1e-13);
        let ring = Ring::of(&pieces, 3.0, 7.0);
        let zone = least_zone(&ring, plane).unwrap();
        assert!(zone.high < 1e-12 && zone.low >= 0.0);
    }

    #[test]
    fn heights_are_greatest_on_the_circle_where_it_runs_along_the_contour() {
        // One piece that holds both circles whole: a slope of 0.1 departs 0.1 r from level.
        let pieces = vec![rectangle([-9.0, 9.0], [-9.0, 9.0], |x, y| 0.06 * x + 0.08 * y)];
        let level = Plane { at: 0.0, slope: Vector2::zeros() };
        let found = Ring::of(&pieces, 3.0, 7.0).extremes(&level).unwrap();
        assert!((found.highest.0 - 0.7).abs() < 1e-12 && (found.lowest.0 + 0.7).abs() < 1e-12);
    }

    #[test]
    fn the_least_zone_of_a_fold_is_half_its_rise() {
        // A roof z = -s |x| over a ring of outer radius r: the least zone is level, s r / 2.
        let pieces = vec![
            rectangle([-9.0, 0.0], [-9.0, 9.0], |x, _| 0.1 * x),
            rectangle([0.0, 9.0], [-9.0, 9.0], |x, _| -0.1 * x),
        ];
        let ring = Ring::of(&pieces, 3.0, 7.0);
        let begin = least_squares(&pieces, 3.0, 7.0).unwrap();
        let zone = least_zone(&ring, begin).unwrap();
        assert!(zone.high - zone.low < 1e-4, "{zone:?}");
        assert!(zone.low <= 0.35 + 1e-9 && 0.35 <= zone.high + 1e-9, "{zone:?}");
        // That of least squares is never better.
        assert!(ring.extremes(&begin).unwrap().departure() >= zone.low);
    }

    #[test]
    fn points_in_line_bound_nothing() {
        let line = [0.0, 1.0, 2.0, 3.0].map(|x| Point3::new(x, x, x * x));
        assert_eq!(levelled(&line.map(|at| Reference { at, side: 1.0 })), (0.0, None));
    }
}
