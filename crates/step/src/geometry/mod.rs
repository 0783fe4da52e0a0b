//! Curves and surfaces of ISO 10303-42 in millimetres and radians, with bounds on their derivatives
//! that hold everywhere, so that a chord error is proven and not sampled.

mod curve;
mod spline;
mod surface;

pub(crate) use curve::{Curve, Link};
pub(crate) use spline::{Spline, SplineSurface, uniform_knots};
pub(crate) use surface::{Bound, Pole, Surface};

use nalgebra::{Point3, Vector3};

pub(crate) type P = Point3<f64>;
pub(crate) type V = Vector3<f64>;

/// A right-handed orthonormal frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) origin: P,
    pub(crate) x: V,
    pub(crate) y: V,
    pub(crate) z: V,
}

impl Frame {
    /// The frame of an `axis2_placement_3d`: `x` need not be square to `z`. Directions that are
    /// missing, without length or in line are replaced as ISO 10303-42 says.
    pub(crate) fn new(origin: P, z: Option<V>, x: Option<V>) -> Self {
        let z = z.and_then(unit).unwrap_or_else(V::z);
        let square = |x: V| {
            let x = unit(x)?;
            let square = x - z * x.dot(&z);
            (square.norm() > 1e-9).then(|| unit(square)).flatten()
        };
        let x = x
            .and_then(square)
            .or_else(|| square(V::x()))
            .or_else(|| square(V::y()))
            .unwrap_or_else(V::x);
        Self { origin, x, y: z.cross(&x), z }
    }

    /// The point at these coordinates of the frame.
    pub(crate) fn at(&self, x: f64, y: f64, z: f64) -> P {
        self.origin + self.x * x + self.y * y + self.z * z
    }

    /// The coordinates of a point in the frame.
    pub(crate) fn of(&self, p: &P) -> V {
        let d = p - self.origin;
        V::new(d.dot(&self.x), d.dot(&self.y), d.dot(&self.z))
    }
}

/// The direction of a vector that has one.
pub(crate) fn unit(v: V) -> Option<V> {
    let length = v.norm();
    (length > 1e-300 && length.is_finite()).then(|| v / length)
}

/// Distance of a point from a segment.
pub(crate) fn from_segment(p: &P, a: &P, b: &P) -> f64 {
    let along = b - a;
    let square = along.norm_squared();
    let share = if square > 0.0 { ((p - a).dot(&along) / square).clamp(0.0, 1.0) } else { 0.0 };
    (p - (a + along * share)).norm()
}

/// The least of `f` near the best of ascending `samples`: there by shrinking the two intervals
/// beside it. Gives the place and the value.
pub(crate) fn least(samples: &[f64], f: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    // Far out on an endless curve there may be no number.
    let f = |t: f64| {
        let value = f(t);
        if value.is_nan() { f64::INFINITY } else { value }
    };
    let values: Vec<f64> = samples.iter().map(|t| f(*t)).collect();
    let best = (0..values.len()).min_by(|a, b| values[*a].total_cmp(&values[*b]))?;
    let mut at = (samples[best], values[best]);
    let low = samples[best.saturating_sub(1)];
    let high = samples[(best + 1).min(samples.len() - 1)];
    let (mut a, mut b) = (low, high);
    let ratio = 0.381_966_011_250_105;
    for _ in 0..60 {
        let (x, y) = (a + (b - a) * ratio, b - (b - a) * ratio);
        if f(x) <= f(y) {
            b = y;
        } else {
            a = x;
        }
    }
    let middle = f64::midpoint(a, b);
    let value = f(middle);
    if value < at.1 {
        at = (middle, value);
    }
    Some(at)
}
