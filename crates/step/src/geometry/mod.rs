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
/// beside it. Valleys that look nearly as good are tried as well: around a closed curve both ends are
/// one place, and what lies just before it is beside the last sample alone. Gives the place and the
/// value.
pub(crate) fn least(samples: &[f64], f: impl Fn(f64) -> f64) -> Option<(f64, f64)> {
    // Far out on an endless curve there may be no number.
    let f = |t: f64| {
        let value = f(t);
        if value.is_nan() { f64::INFINITY } else { value }
    };
    let values: Vec<f64> = samples.iter().map(|t| f(*t)).collect();
    let of = |i: usize| values.get(i).copied().unwrap_or(f64::INFINITY);
    let mut valleys: Vec<usize> = (0..values.len())
        .filter(|i| {
            of(*i) <= of(i + 1) && i.checked_sub(1).is_none_or(|before| of(*i) <= of(before))
        })
        .collect();
    valleys.sort_by(|a, b| of(*a).total_cmp(&of(*b)));
    let best = *valleys.first()?;
    let mut at = (samples[best], values[best]);
    // In squares and in lengths: a valley's bottom lies below its best sample, how far is unknown.
    let near = 4.0 * at.1 + f64::MIN_POSITIVE;
    for valley in valleys.into_iter().take(3).filter(|i| of(*i) <= near) {
        let found = shrink(samples, valley, &f);
        if found.1 < at.1 {
            at = found;
        }
    }
    Some(at)
}

/// The least of `f` in the two intervals beside a sample, taken as one valley.
fn shrink(samples: &[f64], at: usize, f: &impl Fn(f64) -> f64) -> (f64, f64) {
    let mut a = samples[at.saturating_sub(1)];
    let mut b = samples[(at + 1).min(samples.len() - 1)];
    let ratio = 0.381_966_011_250_105;
    let (mut x, mut y) = (a + (b - a) * ratio, b - (b - a) * ratio);
    let (mut of_x, mut of_y) = (f(x), f(y));
    for _ in 0..60 {
        if of_x <= of_y {
            (b, y, of_y) = (y, x, of_x);
            x = a + (b - a) * ratio;
            of_x = f(x);
        } else {
            (a, x, of_x) = (x, y, of_y);
            y = b - (b - a) * ratio;
            of_y = f(y);
        }
    }
    let middle = f64::midpoint(a, b);
    (middle, f(middle))
}
