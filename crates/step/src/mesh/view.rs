//! A surface seen in a plane of parameters, with u and v in either order, and what a plane triangle
//! errs on it.

use crate::geometry::{Bound, P, Pole, Surface};

/// A surface over x and y: u and v, or v and u.
pub(super) struct View<'s> {
    pub(super) surface: &'s Surface,
    pub(super) swapped: bool,
    pub(super) periods: [Option<f64>; 2],
    pub(super) ranges: [(f64, f64); 2],
    pub(super) poles: Vec<Pole>,
    creases: [Vec<f64>; 2],
}

impl<'s> View<'s> {
    pub(super) fn new(surface: &'s Surface, tolerance: f64, swapped: bool) -> Self {
        let mut periods = surface.periods(tolerance);
        let mut ranges = surface.ranges();
        let mut creases = surface.creases();
        let mut poles = surface.poles(tolerance);
        if swapped {
            periods.reverse();
            ranges.reverse();
            creases.reverse();
            for pole in &mut poles {
                pole.fixed = 1 - pole.fixed;
            }
        }
        Self { surface, swapped, periods, ranges, poles, creases }
    }

    pub(super) fn is_plane(&self) -> bool {
        matches!(self.surface, Surface::Plane(_))
    }

    /// The radius by which triangles are to turn little, mm, of surfaces that are round both ways; others
    /// are kept by their edges.
    pub(super) fn roundness(&self) -> f64 {
        match self.surface {
            Surface::Torus(_, _, b, _) => *b,
            other => other.ball().map_or(f64::INFINITY, |b| b.1),
        }
    }

    /// The parameter that turns a profile about an axis, of an elementary surface.
    pub(super) fn turned_axis(&self) -> Option<usize> {
        match self.surface {
            Surface::Sphere(..)
            | Surface::Cylinder(..)
            | Surface::Cone(..)
            | Surface::Torus(..) => Some(usize::from(self.swapped)),
            _ => None,
        }
    }

    pub(super) fn at(&self, x: f64, y: f64) -> P {
        if self.swapped { self.surface.at(y, x) } else { self.surface.at(x, y) }
    }

    /// Parameters of the nearest point and how far away it is.
    pub(super) fn nearest(&self, p: &P, hint: Option<[f64; 2]>, accept: f64) -> ([f64; 2], f64) {
        let flip = |[x, y]: [f64; 2]| if self.swapped { [y, x] } else { [x, y] };
        let hint = hint.map(flip).map(|[u, v]| (u, v));
        let (u, v, distance) = self.surface.nearest(p, hint, accept);
        (flip([u, v]), distance)
    }

    pub(super) fn bound(&self, x: (f64, f64), y: (f64, f64)) -> Bound {
        if self.swapped { self.surface.bound(y, x).swapped() } else { self.surface.bound(x, y) }
    }

    /// Bounds as `bound` gives them, by which corners are spread: on a sphere by its curvature, which is
    /// the same everywhere and every way.
    pub(super) fn spread_bound(&self, x: (f64, f64), y: (f64, f64)) -> Bound {
        let mut bound = self.bound(x, y);
        if let Some((_, radius)) = self.surface.ball() {
            let [a, b] = bound.first;
            bound.second = [a * a / radius, 0.0, b * b / radius];
        }
        bound
    }

    /// A value between two of a parameter, not near them, at which the surface is not smooth.
    pub(super) fn crease(&self, axis: usize, (low, high): (f64, f64)) -> Option<f64> {
        let apart = 1e-9 * (high - low);
        let inside = |c: f64| (c > low + apart && c < high - apart).then_some(c);
        let Some(period) = self.periods[axis] else {
            return self.creases[axis].iter().find_map(|c| inside(*c));
        };
        self.creases[axis].iter().find_map(|c| {
            let first = c + period * ((low - c) / period).floor();
            (0..3).find_map(|k| inside(first + period * f64::from(k)))
        })
    }

    /// What a triangle over a rectangle errs on a cylinder or cone. At each height its points are means of
    /// directions that lie within half the turn of the middle one, weighted by radii that add up to the
    /// surface's there; seen from the axis it covers its piece once.
    fn ruled_error(&self, xs: (f64, f64), ys: (f64, f64)) -> Option<f64> {
        let (turn, along) = if self.swapped { (ys, xs) } else { (xs, ys) };
        let radius = match self.surface {
            Surface::Cylinder(_, r) => *r,
            Surface::Cone(_, r, t) => (r + along.0 * t).abs().max((r + along.1 * t).abs()),
            _ => return None,
        };
        let half = 0.5 * (turn.1 - turn.0);
        Some(if half < std::f64::consts::FRAC_PI_2 { radius * (1.0 - half.cos()) } else { radius })
    }

    /// How far the plane triangle over three places, or the segment where two of them are one, lies
    /// from the surface over the same places, and it from the triangle. `points` are where the corners
    /// lie.
    pub(super) fn error(&self, places: [[f64; 2]; 3], points: &[P; 3]) -> f64 {
        if let Some(exact) = self.surface.exact_error(points) {
            return exact;
        }
        let range = |axis: usize| {
            let all = places.map(|p| p[axis]);
            let low = all.iter().copied().fold(f64::INFINITY, f64::min);
            let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            (low, high)
        };
        let (xs, ys) = (range(0), range(1));
        let (dx, dy) = (xs.1 - xs.0, ys.1 - ys.0);
        if let Some(error) = self.ruled_error(xs, ys) {
            return error;
        }
        let bound = self.bound(xs, ys);
        // No point of it is farther from a corner than the way there is long.
        let rough = bound.first[0] * dx + bound.first[1] * dy;
        if self.crease(0, xs).is_some() || self.crease(1, ys).is_some() {
            return rough;
        }
        // The remainder of Taylor's series at a point, towards each corner, weighted by where the point
        // is: half the variance of the corners in the metric of the second derivatives, whose most is
        // half the square of the radius of the least circle around them.
        let [xx, xy, yy] = bound.second;
        let (a, b) =
            if dx > 0.0 && dy > 0.0 { (xx + xy * dy / dx, yy + xy * dx / dy) } else { (xx, yy) };
        let metric = places.map(|[x, y]| [x * a.sqrt(), y * b.sqrt()]);
        let smooth = 0.5 * least_circle(metric) + bound.rough[0] * dx + bound.rough[1] * dy;
        smooth.min(rough)
    }
}

/// Square of the radius of the least circle around three points.
fn least_circle([p, q, r]: [[f64; 2]; 3]) -> f64 {
    let square = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2);
    let mut sides = [square(p, q), square(q, r), square(r, p)];
    sides.sort_by(f64::total_cmp);
    let [a, b, c] = sides;
    if a + b <= c {
        return 0.25 * c;
    }
    let double = (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
    // Never more than that of an equilateral triangle of the longest side.
    (a * b * c / (4.0 * double * double)).min(c / 3.0).max(0.25 * c)
}
