//! Surfaces.

use super::{Curve, Frame, P, SplineSurface, V, least, unit};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// A surface, millimetres over its parameters u and v (ISO 10303-42 clause 4.5).
#[derive(Debug, Clone)]
pub(crate) enum Surface {
    Plane(Frame),
    Cylinder(Frame, f64),
    /// Radius at the frame's origin and the tangent of the half angle.
    Cone(Frame, f64, f64),
    Sphere(Frame, f64),
    /// Radius of the ring, radius of its section, and whether the outer sheet is meant where the
    /// second is the greater.
    Torus(Frame, f64, f64, bool),
    Spline(Box<SplineSurface>),
    /// u turns the curve about the frame's z, v runs along it.
    Revolution(Frame, Box<Curve>),
    /// u runs along the curve, v is the length along the direction.
    Extrusion(Box<Curve>, V),
    /// Away from the basis along its normal.
    Offset(Box<Surface>, f64),
}

/// Upper bounds over a rectangle of parameters.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Bound {
    /// Lengths of the derivatives by u and by v.
    pub(crate) first: [f64; 2],
    /// Of the second ones: by u twice, by both, by v twice.
    pub(crate) second: [f64; 3],
    /// What a plane piece errs besides, for each unit of its width in u and in v.
    pub(crate) rough: [f64; 2],
}

impl Bound {
    pub(crate) fn widen(&mut self, other: &Self) {
        let all = self.first.iter_mut().chain(&mut self.second).chain(&mut self.rough);
        for (a, b) in all.zip(other.first.iter().chain(&other.second).chain(&other.rough)) {
            *a = a.max(*b);
        }
    }

    /// With u for v.
    pub(crate) fn swapped(self) -> Self {
        let [u, v] = self.first;
        let [uu, uv, vv] = self.second;
        let [a, b] = self.rough;
        Self { first: [v, u], second: [vv, uv, uu], rough: [b, a] }
    }
}

/// A line of parameters that is one point.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pole {
    /// The parameter that is fixed: 0 for u, 1 for v.
    pub(crate) fixed: usize,
    /// Its value.
    pub(crate) value: f64,
    /// Whether the surface lies at lower values.
    pub(crate) above: bool,
    pub(crate) point: P,
}

type Range = (f64, f64);

impl Surface {
    /// Point and first derivatives.
    pub(crate) fn d1(&self, u: f64, v: f64) -> (P, V, V) {
        match self {
            Self::Plane(f) => (f.at(u, v, 0.0), f.x, f.y),
            Self::Cylinder(f, r) => {
                let (s, c) = u.sin_cos();
                (f.at(r * c, r * s, v), f.y * (r * c) - f.x * (r * s), f.z)
            }
            Self::Cone(f, r, t) => {
                let (s, c) = u.sin_cos();
                let q = r + v * t;
                let out = f.x * c + f.y * s;
                (f.at(q * c, q * s, v), (f.y * c - f.x * s) * q, out * *t + f.z)
            }
            Self::Sphere(f, r) => {
                let ((s, c), (sv, cv)) = (u.sin_cos(), v.sin_cos());
                let out = f.x * c + f.y * s;
                let p = f.origin + out * (r * cv) + f.z * (r * sv);
                (p, (f.y * c - f.x * s) * (r * cv), f.z * (r * cv) - out * (r * sv))
            }
            Self::Torus(f, a, b, _) => {
                let ((s, c), (sv, cv)) = (u.sin_cos(), v.sin_cos());
                let out = f.x * c + f.y * s;
                let q = a + b * cv;
                let p = f.origin + out * q + f.z * (b * sv);
                (p, (f.y * c - f.x * s) * q, f.z * (b * cv) - out * (b * sv))
            }
            Self::Spline(s) => s.d1(self.in_domain(0, u), self.in_domain(1, v)),
            Self::Revolution(f, curve) => {
                let (p, d) = curve.d1(self.in_domain(1, v));
                let turn = |w: V| {
                    let (s, c) = u.sin_cos();
                    let (x, y) = (w.dot(&f.x), w.dot(&f.y));
                    f.x * (x * c - y * s) + f.y * (x * s + y * c) + f.z * w.dot(&f.z)
                };
                let from_axis = turn(p - f.origin);
                (f.origin + from_axis, f.z.cross(&from_axis), turn(d))
            }
            Self::Extrusion(curve, along) => {
                let (p, d) = curve.d1(self.in_domain(0, u));
                (p + along * v, d, *along)
            }
            Self::Offset(basis, distance) => {
                let at = |u: f64, v: f64| basis.beside(u, v, *distance);
                let steps = self.steps();
                let (hu, hv) = (steps[0] * 1e-6, steps[1] * 1e-6);
                let su = (at(u + hu, v) - at(u - hu, v)) / (2.0 * hu);
                let sv = (at(u, v + hv) - at(u, v - hv)) / (2.0 * hv);
                (at(u, v), su, sv)
            }
        }
    }

    pub(crate) fn at(&self, u: f64, v: f64) -> P {
        match self {
            Self::Offset(basis, distance) => basis.beside(u, v, *distance),
            _ => self.d1(u, v).0,
        }
    }

    /// A place away from the surface along its normal.
    fn beside(&self, u: f64, v: f64, distance: f64) -> P {
        let (p, su, sv) = self.d1(u, v);
        p + normal_of(&su, &sv).unwrap_or_else(|| self.normal(u, v)) * distance
    }

    /// The direction of the normal, du cross dv; that of a place beside it where it has none.
    pub(crate) fn normal(&self, u: f64, v: f64) -> V {
        let (_, su, sv) = self.d1(u, v);
        if let Some(normal) = normal_of(&su, &sv) {
            return normal;
        }
        let ranges = self.ranges();
        let inward = |x: f64, (a, b): Range, step: f64| {
            if x + step > b || (x - a > b - x && b.is_finite()) { x - step } else { x + step }
        };
        let steps = self.steps();
        let (u, v) = (inward(u, ranges[0], 1e-5 * steps[0]), inward(v, ranges[1], 1e-5 * steps[1]));
        let (_, su, sv) = self.d1(u, v);
        unit(su.cross(&sv)).unwrap_or_else(V::zeros)
    }

    /// A length of each parameter over which the surface changes.
    fn steps(&self) -> [f64; 2] {
        self.ranges().map(|(a, b)| if (b - a).is_finite() && b > a { b - a } else { 1.0 })
    }

    /// The parameters within which the surface lies, infinite where it has no end.
    pub(crate) fn ranges(&self) -> [Range; 2] {
        let all = (f64::NEG_INFINITY, f64::INFINITY);
        let turn = (0.0, TAU);
        match self {
            Self::Plane(_) => [all, all],
            Self::Cylinder(..) => [turn, all],
            Self::Cone(_, r, t) => {
                let apex = -r / t;
                [turn, if *t > 0.0 { (apex, f64::INFINITY) } else { (f64::NEG_INFINITY, apex) }]
            }
            Self::Sphere(..) => [turn, (-FRAC_PI_2, FRAC_PI_2)],
            Self::Torus(_, a, b, outer) if b > a => {
                let pinch = (-a / b).acos();
                [turn, if *outer { (-pinch, pinch) } else { (pinch, TAU - pinch) }]
            }
            Self::Torus(..) => [turn, turn],
            Self::Spline(s) => [s.u.domain(), s.v.domain()],
            Self::Revolution(_, curve) => [turn, curve.domain().unwrap_or(all)],
            Self::Extrusion(curve, _) => [curve.domain().unwrap_or(all), all],
            Self::Offset(basis, _) => basis.ranges(),
        }
    }

    /// How far each parameter runs around where the surface is closed.
    pub(crate) fn periods(&self, tolerance: f64) -> [Option<f64>; 2] {
        match self {
            Self::Plane(_) => [None, None],
            Self::Cylinder(..) | Self::Cone(..) | Self::Sphere(..) => [Some(TAU), None],
            Self::Torus(_, a, b, _) => [Some(TAU), (b <= a).then_some(TAU)],
            Self::Spline(s) => {
                let length = |(a, b): Range| b - a;
                [
                    s.closed[0].then(|| length(s.u.domain())),
                    s.closed[1].then(|| length(s.v.domain())),
                ]
            }
            Self::Revolution(_, curve) => [Some(TAU), curve.period(tolerance)],
            Self::Extrusion(curve, _) => [curve.period(tolerance), None],
            Self::Offset(basis, _) => basis.periods(tolerance),
        }
    }

    /// A parameter of a closed surface brought between the ends.
    fn in_domain(&self, axis: usize, t: f64) -> f64 {
        let (curve, closed) = match self {
            Self::Spline(s) => {
                let (a, b) = if axis == 0 { s.u.domain() } else { s.v.domain() };
                let inside = t >= a && t <= b;
                return if inside || !s.closed[axis] { t } else { a + (t - a).rem_euclid(b - a) };
            }
            Self::Revolution(_, curve) | Self::Extrusion(curve, _) => {
                (curve, curve.domain().map(|(a, b)| b - a))
            }
            _ => return t,
        };
        curve.wrapped(t, closed)
    }

    /// Lines of parameters that are one point.
    pub(crate) fn poles(&self, tolerance: f64) -> Vec<Pole> {
        let fixed_v =
            |value: f64, above: bool| Pole { fixed: 1, value, above, point: self.at(0.0, value) };
        match self {
            Self::Sphere(..) => vec![fixed_v(-FRAC_PI_2, false), fixed_v(FRAC_PI_2, true)],
            Self::Cone(_, r, t) if *t != 0.0 => vec![fixed_v(-r / t, *t < 0.0)],
            Self::Torus(_, a, b, _) if b > a => {
                let [_, (low, high)] = self.ranges();
                vec![fixed_v(low, false), fixed_v(high, true)]
            }
            Self::Spline(s) => {
                let ((u0, u1), (v0, v1)) = (s.u.domain(), s.v.domain());
                let all = [
                    Pole { fixed: 0, value: u0, above: false, point: s.d1(u0, v0).0 },
                    Pole { fixed: 0, value: u1, above: true, point: s.d1(u1, v0).0 },
                    Pole { fixed: 1, value: v0, above: false, point: s.d1(u0, v0).0 },
                    Pole { fixed: 1, value: v1, above: true, point: s.d1(u0, v1).0 },
                ];
                all.into_iter().zip(s.collapsed).filter(|(_, c)| *c).map(|(p, _)| p).collect()
            }
            Self::Revolution(f, curve) => {
                let Some((low, high)) = curve.domain() else { return Vec::new() };
                let on_axis = |v: f64| {
                    let l = f.of(&curve.at(v));
                    l.x.hypot(l.y) <= tolerance
                };
                [(low, false), (high, true)]
                    .into_iter()
                    .filter(|(v, _)| on_axis(*v))
                    .map(|(v, above)| fixed_v(v, above))
                    .collect()
            }
            Self::Offset(basis, _) => basis
                .poles(tolerance)
                .into_iter()
                .map(|p| Pole {
                    point: if p.fixed == 0 { self.at(p.value, 0.0) } else { self.at(0.0, p.value) },
                    ..p
                })
                .collect(),
            _ => Vec::new(),
        }
    }

    /// Values of each parameter at which the surface is not smooth.
    pub(crate) fn creases(&self) -> [Vec<f64>; 2] {
        let of = |curve: &Curve| {
            curve.domain().map_or_else(Vec::new, |(a, b)| {
                let mut found = curve.creases(a, b);
                if curve.period(1e-6).is_some() && !matches!(curve, Curve::Ellipse { .. }) {
                    found.insert(0, a);
                    found.push(b);
                }
                found
            })
        };
        match self {
            Self::Spline(s) => s.creases.clone(),
            Self::Revolution(_, curve) => [Vec::new(), of(curve)],
            Self::Extrusion(curve, _) => [of(curve), Vec::new()],
            Self::Offset(basis, _) => basis.creases(),
            _ => [Vec::new(), Vec::new()],
        }
    }

    /// Bounds over a rectangle of parameters, on every smooth piece of it.
    pub(crate) fn bound(&self, u: Range, v: Range) -> Bound {
        let smooth = |first, second| Bound { first, second, rough: [0.0; 2] };
        let reach = |(a, b): Range, of: f64| (a - of).abs().max((b - of).abs());
        match self {
            Self::Plane(_) => smooth([1.0, 1.0], [0.0; 3]),
            Self::Cylinder(_, r) => smooth([*r, 1.0], [*r, 0.0, 0.0]),
            Self::Cone(_, r, t) => {
                let q = (r + v.0 * t).abs().max((r + v.1 * t).abs());
                smooth([q, t.hypot(1.0)], [q, t.abs(), 0.0])
            }
            Self::Sphere(_, r) => {
                let c = most_cos(v) * r;
                smooth([c, *r], [c, most_sin(v) * r, *r])
            }
            Self::Torus(_, a, b, _) => {
                // The ring's radius is greatest where the cosine is, and in magnitude also where it is
                // least.
                let (low, high) = cos_range(v);
                let q = (a + b * low).abs().max((a + b * high).abs());
                smooth([q, *b], [q, b * most_sin(v), *b])
            }
            Self::Spline(s) => {
                let mut bound = Bound::default();
                for u in pieces(u, s.u.domain(), s.closed[0]) {
                    for v in pieces(v, s.v.domain(), s.closed[1]) {
                        bound.widen(&s.bound(u, v));
                    }
                }
                bound
            }
            Self::Revolution(f, curve) => {
                let mut bound = Bound::default();
                let closed = curve.domain();
                for (a, b) in pieces(v, closed.unwrap_or(v), closed.is_some()) {
                    let (first, second) = curve.bounds(a, b);
                    let middle = f64::midpoint(a, b);
                    let l = f.of(&curve.at(middle));
                    let radius = l.x.hypot(l.y) + first * reach((a, b), middle);
                    bound.widen(&smooth([radius, first], [radius, first, second]));
                }
                bound
            }
            Self::Extrusion(curve, along) => {
                let mut bound = Bound::default();
                let closed = curve.domain();
                for (a, b) in pieces(u, closed.unwrap_or(u), closed.is_some()) {
                    let (first, second) = curve.bounds(a, b);
                    bound.widen(&smooth([first, along.norm()], [second, 0.0, 0.0]));
                }
                bound
            }
            Self::Offset(basis, distance) => {
                let b = basis.bound(u, v);
                let (_, su, sv) = basis.d1(f64::midpoint(u.0, u.1), f64::midpoint(v.0, v.1));
                let [du, dv] = b.first;
                let [uu, uv, vv] = b.second;
                // How fast du cross dv changes, and its least length over the rectangle.
                let (nu, nv) = (uu * dv + du * uv, uv * dv + du * vv);
                let middle = su.cross(&sv).norm();
                let least = middle - 0.5 * (nu * (u.1 - u.0) + nv * (v.1 - v.0));
                let turn = |n: f64| if least > 0.0 { n / least } else { f64::INFINITY };
                let rough = [turn(nu) * distance.abs(), turn(nv) * distance.abs()];
                Bound { first: [du + rough[0], dv + rough[1]], second: b.second, rough }
            }
        }
    }

    /// How far a plane triangle (or a segment, with a corner twice) with its corners on the surface
    /// lies from it, where that is known better than by `bound`.
    pub(crate) fn exact_error(&self, corners: &[P; 3]) -> Option<f64> {
        if let Self::Plane(_) = self {
            return Some(0.0);
        }
        // Seen from the middle the triangle covers its piece of the sphere once.
        let (middle, radius) = self.ball()?;
        Some((radius - from_triangle(&middle, corners)).abs())
    }

    /// Middle and radius of a surface that is part of a sphere.
    pub(crate) fn ball(&self) -> Option<(P, f64)> {
        match self {
            Self::Sphere(f, r) => Some((f.origin, *r)),
            Self::Spline(s) => s.ball,
            _ => None,
        }
    }

    /// Parameters of the nearest point and how far away it is. `hint` is a place to begin from.
    pub(crate) fn nearest(&self, p: &P, hint: Option<(f64, f64)>, accept: f64) -> (f64, f64, f64) {
        match self {
            Self::Plane(f) => {
                let l = f.of(p);
                (l.x, l.y, l.z.abs())
            }
            Self::Cylinder(f, r) => {
                let l = f.of(p);
                (l.y.atan2(l.x), l.z, (l.x.hypot(l.y) - r).abs())
            }
            Self::Cone(f, r, t) => {
                let l = f.of(p);
                // The file's cone is one sheet; along its generator the foot of the point.
                let out = l.x.hypot(l.y);
                let foot = (l.z + t * (out - r)) / (1.0 + t * t);
                let other = (l.z + t * (-out - r)) / (1.0 + t * t);
                let gap = |foot: f64, out: f64| (r + foot * t - out).hypot(foot - l.z);
                let [_, (low, high)] = self.ranges();
                let (near, far) = (gap(foot, out), gap(other, -out));
                if far < 0.5 * near && (other < low || other > high) {
                    // Beyond the apex, on the other sheet of the same equation.
                    return ((-l.y).atan2(-l.x), other, far);
                }
                let foot = foot.clamp(low, high);
                (l.y.atan2(l.x), foot, gap(foot, out))
            }
            Self::Sphere(f, r) => {
                let l = f.of(p);
                (l.y.atan2(l.x), l.z.atan2(l.x.hypot(l.y)), (l.norm() - r).abs())
            }
            Self::Torus(f, a, b, outer) => {
                let l = f.of(p);
                let out = l.x.hypot(l.y);
                let gap = |out: f64| ((out - a).hypot(l.z) - b).abs();
                if b > a && !outer {
                    return ((-l.y).atan2(-l.x), l.z.atan2(-out - a).rem_euclid(TAU), gap(-out));
                }
                (l.y.atan2(l.x), l.z.atan2(out - a), gap(out))
            }
            Self::Revolution(f, curve) => {
                let l = f.of(p);
                let out = l.x.hypot(l.y);
                let gap = |v: f64| {
                    let c = f.of(&curve.at(v));
                    (c.x.hypot(c.y) - out).hypot(c.z - l.z)
                };
                let v = along_profile(curve, hint.map(|h| h.1), gap, accept, |_| l.z);
                let c = f.of(&curve.at(v));
                let turned = if c.x.hypot(c.y) > 1e-9 * out { c.y.atan2(c.x) } else { 0.0 };
                (l.y.atan2(l.x) - turned, v, gap(v))
            }
            Self::Extrusion(curve, along) => {
                let square = along.norm_squared();
                let gap = |u: f64| {
                    let d = p - curve.at(u);
                    (d - along * (d.dot(along) / square)).norm()
                };
                let u = along_profile(curve, hint.map(|h| h.0), gap, accept, |_| 0.0);
                let v = (p - curve.at(u)).dot(along) / square;
                (u, v, gap(u))
            }
            Self::Spline(s) => {
                let mut best = (0.0, 0.0, f64::INFINITY);
                let starts = hint.into_iter().map(|h| (h, true));
                for (start, hinted) in starts.chain(s.starts(p).into_iter().map(|s| (s, false))) {
                    let found = self.descend(p, start);
                    if found.2 < best.2 * if hinted { 1.0 } else { 0.999 } - 1e-12 {
                        best = found;
                    }
                    if best.2 <= accept {
                        break;
                    }
                }
                best
            }
            Self::Offset(basis, distance) => {
                let mut best = (0.0, 0.0, f64::INFINITY);
                let (u, v, _) = basis.nearest(p, hint, accept);
                for start in hint.into_iter().chain([(u, v)]) {
                    let found = self.descend(p, start);
                    if found.2 < best.2 {
                        best = found;
                    }
                    if best.2 <= accept {
                        break;
                    }
                }
                // The foot on the basis may lie on its other side.
                if best.2 > accept {
                    let (u, v, _) =
                        basis.nearest(&(p - basis.normal(u, v) * *distance), None, accept);
                    let found = self.descend(p, (u, v));
                    if found.2 < best.2 {
                        best = found;
                    }
                }
                best
            }
        }
    }

    /// Newton's way to the nearest point.
    fn descend(&self, p: &P, (mut u, mut v): (f64, f64)) -> (f64, f64, f64) {
        let ranges = self.ranges();
        let periods = self.periods(0.0);
        let steps = self.steps();
        let limit = |x: f64, axis: usize| {
            let (a, b): Range = ranges[axis];
            if periods[axis].is_some() { x } else { x.clamp(a, b) }
        };
        let mut best = (u, v, f64::INFINITY);
        for _ in 0..40 {
            let (at, su, sv) = self.d1(u, v);
            let d = p - at;
            let distance = d.norm();
            if distance < best.2 {
                best = (u, v, distance);
            } else if distance > 4.0 * best.2 + 1e-9 {
                break;
            }
            let (a, b, c) = (su.norm_squared(), su.dot(&sv), sv.norm_squared());
            let (e, f) = (d.dot(&su), d.dot(&sv));
            let damp = 1e-13 * (a + c);
            let det = (a + damp) * (c + damp) - b * b;
            if det <= 0.0 || !det.is_finite() {
                break;
            }
            let mut du = (e * (c + damp) - f * b) / det;
            let mut dv = (f * (a + damp) - e * b) / det;
            // At an end only the other parameter is free.
            let stuck = |x: f64, dx: f64, axis: usize| {
                (limit(x + dx, axis) - x).abs() < 1e-15 * steps[axis] && dx != 0.0
            };
            if stuck(u, du, 0) && c > 0.0 {
                du = 0.0;
                dv = f / c;
            } else if stuck(v, dv, 1) && a > 0.0 {
                dv = 0.0;
                du = e / a;
            }
            let (du, dv) = (
                du.clamp(-0.25 * steps[0], 0.25 * steps[0]),
                dv.clamp(-0.25 * steps[1], 0.25 * steps[1]),
            );
            let (next_u, next_v) = (limit(u + du, 0), limit(v + dv, 1));
            if (next_u - u).abs() <= 1e-15 * steps[0] && (next_v - v).abs() <= 1e-15 * steps[1] {
                break;
            }
            (u, v) = (next_u, next_v);
        }
        best
    }
}

impl Surface {
    /// Whether what lies between these parameters of a turned or moved profile passes through itself, or
    /// the profile through its axis: a point there has several places, so that nobody can tell which piece
    /// of it a boundary bounds. Where a face is bounded by a line in which the profile crosses itself, and
    /// was taken to reach on to the other of its places, it is so as well.
    pub(crate) fn crosses_itself(
        &self,
        u: Range,
        v: Range,
        tolerance: f64,
    ) -> Option<&'static str> {
        let (curve, range, flat): (_, _, Box<dyn Fn(f64) -> [f64; 2]>) = match self {
            Self::Revolution(f, curve) => {
                let period = curve.period(tolerance);
                let flat = move |t: f64| {
                    let l = f.of(&curve.at(curve.wrapped(t, period)));
                    [l.x.hypot(l.y), l.z]
                };
                (curve, v, Box::new(flat))
            }
            Self::Extrusion(curve, along) => {
                let period = curve.period(tolerance);
                let across = Frame::new(P::origin(), Some(*along), None);
                let flat = move |t: f64| {
                    let l = across.of(&curve.at(curve.wrapped(t, period)));
                    [l.x, l.y]
                };
                (curve, u, Box::new(flat))
            }
            Self::Offset(basis, _) => return basis.crosses_itself(u, v, tolerance),
            _ => return None,
        };
        let (low, high) = range;
        if !(high - low).is_finite() || high <= low {
            return None;
        }
        let near = 1e-6 * (high - low);
        if let Self::Revolution(..) = self {
            let samples: Vec<f64> =
                (0..=200).map(|i| low + (high - low) * f64::from(i) / 200.0).collect();
            let (at, radius) = least(&samples, |t| flat(t)[0])?;
            let beside = |by: f64| flat((at + by).clamp(low, high))[0] > 10.0 * tolerance;
            let wide = 1e-2 * (high - low);
            if radius <= tolerance
                && at > low + near
                && at < high - near
                && beside(wide)
                && beside(-wide)
            {
                return Some("its profile passes through its axis");
            }
        }
        // A little beyond its ends, where they may be places that it passes twice.
        let beyond = 1e3 * near;
        let closed = curve.period(tolerance);
        let around = closed.filter(|period| high - low + 2.0 * beyond >= *period);
        let looked_at = match (around, closed, curve.domain()) {
            (Some(period), ..) => (low, low + period),
            (None, None, Some((a, b))) => ((low - beyond).max(a), (high + beyond).min(b)),
            _ => (low - beyond, high + beyond),
        };
        let inside = (low - near, high.min(looked_at.1) + near);
        passed_twice(&flat, looked_at, inside, around.is_some(), tolerance)
            .then_some("its profile crosses itself")
    }
}

/// Straight pieces that stand for a profile when it is looked at for crossings.
const SIGHTS: usize = 400;

/// Whether a plane curve passes a place twice, both times within `inside`. One that runs `around` ends where
/// it begins.
fn passed_twice(
    flat: &dyn Fn(f64) -> [f64; 2],
    (first, last): Range,
    inside: Range,
    around: bool,
    tolerance: f64,
) -> bool {
    let step = (last - first) / SIGHTS as f64;
    let at = |i: usize| first + step * i as f64;
    let points: Vec<[f64; 2]> = (0..=SIGHTS).map(|i| flat(at(i))).collect();
    let hand = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    for i in 0..SIGHTS {
        let (a, b) = (points[i], points[i + 1]);
        for j in i + 2..SIGHTS {
            if around && i == 0 && j + 1 == SIGHTS {
                continue;
            }
            let (c, d) = (points[j], points[j + 1]);
            let apart = |axis: usize| {
                a[axis].min(b[axis]) > c[axis].max(d[axis])
                    || a[axis].max(b[axis]) < c[axis].min(d[axis])
            };
            if apart(0)
                || apart(1)
                || hand(a, b, c) * hand(a, b, d) > 0.0
                || hand(c, d, a) * hand(c, d, b) > 0.0
            {
                continue;
            }
            // Straight pieces may cross where the curve does not: Newton's steps to where it does.
            let (mut s, mut t) = (at(i) + 0.5 * step, at(j) + 0.5 * step);
            for _ in 0..30 {
                let (p, q) = (flat(s), flat(t));
                let h = 1e-5 * step;
                let slope = |x: f64| {
                    let (m, n) = (flat(x - h), flat(x + h));
                    [(n[0] - m[0]) / (2.0 * h), (n[1] - m[1]) / (2.0 * h)]
                };
                let (ds, dt) = (slope(s), slope(t));
                let det = ds[1] * dt[0] - ds[0] * dt[1];
                let off = [q[0] - p[0], q[1] - p[1]];
                if det == 0.0 || det.is_nan() {
                    break;
                }
                s += ((off[1] * dt[0] - off[0] * dt[1]) / det).clamp(-step, step);
                t += ((off[1] * ds[0] - off[0] * ds[1]) / det).clamp(-step, step);
            }
            let (p, q) = (flat(s), flat(t));
            let meet = (p[0] - q[0]).hypot(p[1] - q[1]) <= tolerance;
            // Its two ends are one place.
            let seam = around && (s - t).abs() > last - first - 1.5 * step;
            let held = |x: f64| x >= inside.0 && x <= inside.1;
            if meet && !seam && (s - t).abs() > 1.5 * step && held(s) && held(t) {
                return true;
            }
        }
    }
    false
}

/// The parameter of a profile at which `gap` is least: by Newton's steps on the gap from the hint
/// where that ends near enough, else by looking everywhere.
fn along_profile(
    curve: &Curve,
    hint: Option<f64>,
    gap: impl Fn(f64) -> f64,
    accept: f64,
    about: impl Fn(f64) -> f64,
) -> f64 {
    let domain = curve.domain();
    // Around a closed curve the way leads on over its seam.
    let period = curve.period(accept);
    let gap = |t: f64| gap(curve.wrapped(t, period));
    let limit = |t: f64| match domain {
        Some((a, b)) if period.is_none() => t.clamp(a, b),
        _ => t,
    };
    if let Some(hint) = hint {
        // A narrow look around the hint first.
        let width = domain.map_or(1.0, |(a, b)| b - a) * 0.02;
        let near: Vec<f64> = (-2_i32..=2).map(|i| limit(hint + width * f64::from(i))).collect();
        if let Some((t, distance)) = least(&near, gap)
            && distance <= accept
        {
            return curve.wrapped(t, period);
        }
    }
    let samples = if domain.is_some() {
        let mut all = curve.samples();
        if let (Some(period), [_, second, .., before, _]) = (period, all.as_slice()) {
            let (first, last) = (before - period, second + period);
            all.insert(0, first);
            all.push(last);
        }
        all
    } else {
        // An endless profile: around where its own nearest point to the origin and the hint lie,
        // further and further out.
        let middle = match (hint, curve) {
            (Some(hint), _) => hint,
            // The parameters of these grow as a logarithm and a root of the length.
            (None, Curve::Hyperbola { .. } | Curve::Parabola { .. }) => 0.0,
            (None, _) => about(0.0),
        };
        let mut all: Vec<f64> = (-60_i32..=60)
            .map(|i| middle + f64::from(i.signum()) * (1.25_f64.powi(i.abs()) - 1.0) * 1e-2)
            .collect();
        all.sort_by(f64::total_cmp);
        all
    };
    least(&samples, gap).map_or(0.0, |(t, _)| curve.wrapped(t, period))
}

/// The direction square to two derivatives, where they say one.
fn normal_of(su: &V, sv: &V) -> Option<V> {
    let n = su.cross(sv);
    (n.norm() > 1e-9 * su.norm().max(sv.norm()).powi(2)).then(|| unit(n)).flatten()
}

/// The rectangle's side cut at the ends of a closed domain and brought into it.
fn pieces(range: Range, (a, b): Range, closed: bool) -> Vec<Range> {
    let (low, high) = range;
    if !closed || (low >= a && high <= b) || b <= a {
        let clamp = |x: f64| if closed { x.clamp(a, b) } else { x };
        return vec![(clamp(low), clamp(high))];
    }
    let period = b - a;
    if high - low >= period {
        return vec![(a, b)];
    }
    let from = a + (low - a).rem_euclid(period);
    let to = from + (high - low);
    if to <= b { vec![(from, to)] } else { vec![(from, b), (a, to - period)] }
}

fn cos_range((a, b): Range) -> Range {
    let (ca, cb) = (a.cos(), b.cos());
    let holds = |at: f64| ((a - at) / TAU).ceil() <= ((b - at) / TAU).floor();
    (if holds(PI) { -1.0 } else { ca.min(cb) }, if holds(0.0) { 1.0 } else { ca.max(cb) })
}

fn most_cos(range: Range) -> f64 {
    let (low, high) = cos_range(range);
    low.abs().max(high.abs())
}

fn most_sin((a, b): Range) -> f64 {
    most_cos((a - FRAC_PI_2, b - FRAC_PI_2))
}

/// Distance of a point from a triangle.
fn from_triangle(p: &P, [a, b, c]: &[P; 3]) -> f64 {
    let edges = super::from_segment(p, a, b)
        .min(super::from_segment(p, b, c))
        .min(super::from_segment(p, c, a));
    let (ab, ac) = (b - a, c - a);
    let Some(n) = unit(ab.cross(&ac)) else { return edges };
    let inside = |from: &P, to: &P| (to - from).cross(&(p - from)).dot(&n) >= 0.0;
    if inside(a, b) && inside(b, c) && inside(c, a) { (p - a).dot(&n).abs() } else { edges }
}
