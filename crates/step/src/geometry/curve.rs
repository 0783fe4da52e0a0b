//! Curves.

use super::spline::{Spline, bezier_bounds, point};
use super::{Frame, P, Surface, V, from_segment, least};
use std::f64::consts::TAU;

/// A curve, millimetres over its own parameter (ISO 10303-42 clause 4.4). Angles are radians.
#[derive(Debug, Clone)]
pub(crate) enum Curve {
    /// `origin + t * along`
    Line {
        origin: P,
        along: V,
    },
    /// Circle and ellipse.
    Ellipse {
        frame: Frame,
        a: f64,
        b: f64,
    },
    Hyperbola {
        frame: Frame,
        a: f64,
        b: f64,
    },
    Parabola {
        frame: Frame,
        focal: f64,
    },
    Spline(Spline),
    /// Pieces one after the other; piece `i` takes the parameters from `i` to `i + 1`.
    Chain(Vec<Link>),
    /// A curve in a surface's parameters, x for u and y for v.
    OnSurface(Box<(Surface, Curve)>),
}

/// A piece of a chain.
#[derive(Debug, Clone)]
pub(crate) struct Link {
    pub(crate) curve: Curve,
    /// Where it begins and ends on its curve, which may be backward.
    pub(crate) from: f64,
    pub(crate) to: f64,
}

impl Link {
    fn inner(&self, share: f64) -> f64 {
        self.from + (self.to - self.from) * share
    }
}

/// Which piece of a chain, and how far along it.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped before")]
fn piece(links: usize, t: f64) -> (usize, f64) {
    let i = t.floor().clamp(0.0, links.saturating_sub(1) as f64);
    (i as usize, (t - i).clamp(0.0, 1.0))
}

impl Curve {
    /// Point and first derivative.
    pub(crate) fn d1(&self, t: f64) -> (P, V) {
        match self {
            Self::Line { origin, along } => (origin + along * t, *along),
            Self::Ellipse { frame, a, b } => {
                let (s, c) = t.sin_cos();
                (frame.at(a * c, b * s, 0.0), frame.y * (b * c) - frame.x * (a * s))
            }
            Self::Hyperbola { frame, a, b } => {
                let (s, c) = (t.sinh(), t.cosh());
                (frame.at(a * c, b * s, 0.0), frame.x * (a * s) + frame.y * (b * c))
            }
            Self::Parabola { frame, focal } => {
                let p = frame.at(focal * t * t, 2.0 * focal * t, 0.0);
                (p, (frame.x * t + frame.y) * (2.0 * focal))
            }
            Self::Spline(spline) => spline.d1(t),
            Self::Chain(links) => {
                let (i, share) = piece(links.len(), t);
                let Some(link) = links.get(i) else { return (P::origin(), V::zeros()) };
                let (p, d) = link.curve.d1(link.inner(share));
                (p, d * (link.to - link.from))
            }
            Self::OnSurface(both) => {
                let (surface, curve) = &**both;
                let (uv, d) = curve.d1(t);
                let (p, su, sv) = surface.d1(uv.x, uv.y);
                (p, su * d.x + sv * d.y)
            }
        }
    }

    pub(crate) fn at(&self, t: f64) -> P {
        self.d1(t).0
    }

    /// The parameters at which it begins and ends, where it does.
    pub(crate) fn domain(&self) -> Option<(f64, f64)> {
        match self {
            Self::Line { .. } | Self::Hyperbola { .. } | Self::Parabola { .. } => None,
            Self::Ellipse { .. } => Some((0.0, TAU)),
            Self::Spline(spline) => Some(spline.domain()),
            Self::Chain(links) => Some((0.0, links.len() as f64)),
            Self::OnSurface(both) => both.1.domain(),
        }
    }

    /// How far the parameter runs around a closed curve.
    pub(crate) fn period(&self, tolerance: f64) -> Option<f64> {
        match self {
            Self::Ellipse { .. } => Some(TAU),
            Self::Spline(s) => {
                let (a, b) = s.domain();
                s.is_closed(tolerance).then_some(b - a)
            }
            Self::Chain(_) | Self::OnSurface(_) => {
                let (a, b) = self.domain()?;
                ((self.at(a) - self.at(b)).norm() <= tolerance).then_some(b - a)
            }
            _ => None,
        }
    }

    /// The parameter brought into the domain of a curve that is closed.
    pub(crate) fn wrapped(&self, t: f64, period: Option<f64>) -> f64 {
        match (period, self.domain(), self) {
            (_, _, Self::Ellipse { .. }) | (None, ..) | (_, None, _) => t,
            (Some(period), Some((a, b)), _) if t < a || t > b => a + (t - a).rem_euclid(period),
            _ => t,
        }
    }

    /// Parameters strictly between `a < b` at which the direction may jump or the form changes.
    pub(crate) fn breaks(&self, a: f64, b: f64) -> Vec<f64> {
        let all: Vec<f64> = match self {
            Self::Spline(s) => s.knots.spans().into_iter().map(|s| s.1).collect(),
            Self::Chain(links) => (0_u32..).take(links.len()).map(f64::from).collect(),
            Self::OnSurface(both) => both.1.breaks(a, b),
            _ => Vec::new(),
        };
        let apart = 1e-12 * (b - a);
        all.into_iter().filter(|t| *t > a + apart && *t < b - apart).collect()
    }

    /// Parameters between `a < b` at which the direction may jump.
    pub(crate) fn creases(&self, a: f64, b: f64) -> Vec<f64> {
        let all: Vec<f64> = match self {
            Self::Spline(s) => s.creases(),
            Self::Chain(_) => self.breaks(a, b),
            Self::OnSurface(both) => both.1.creases(a, b),
            _ => Vec::new(),
        };
        all.into_iter().filter(|t| *t > a && *t < b).collect()
    }

    /// Upper bounds of the lengths of the first and second derivative from `a` to `b`, on every
    /// smooth piece of it.
    pub(crate) fn bounds(&self, a: f64, b: f64) -> (f64, f64) {
        let (a, b) = (a.min(b), a.max(b));
        let far = a.abs().max(b.abs());
        match self {
            Self::Line { along, .. } => (along.norm(), 0.0),
            Self::Ellipse { a, b, .. } => (a.max(*b), a.max(*b)),
            Self::Hyperbola { a, b, .. } => {
                let most = a.hypot(*b) * far.cosh();
                (most, most)
            }
            Self::Parabola { focal, .. } => {
                let twice = 2.0 * focal.abs();
                (twice * far.hypot(1.0), twice)
            }
            Self::Spline(s) => {
                let mut most = (0.0_f64, 0.0_f64);
                for (from, to, points) in s.pieces(a, b) {
                    let (first, second) = bezier_bounds(&points);
                    let width = to - from;
                    most = (most.0.max(first / width), most.1.max(second / (width * width)));
                }
                most
            }
            Self::Chain(links) => {
                let mut most = (0.0_f64, 0.0_f64);
                let (first, last) = (piece(links.len(), a).0, piece(links.len(), b).0);
                for (i, link) in links.iter().enumerate().take(last + 1).skip(first) {
                    let at = i as f64;
                    let (low, high) = (a.max(at) - at, b.min(at + 1.0) - at);
                    if high > low {
                        let (first, second) = link.curve.bounds(link.inner(low), link.inner(high));
                        let width = (link.to - link.from).abs();
                        most = (most.0.max(first * width), most.1.max(second * width * width));
                    }
                }
                most
            }
            Self::OnSurface(both) => {
                let (surface, curve) = &**both;
                let (first, second) = curve.bounds(a, b);
                let middle = curve.at(f64::midpoint(a, b));
                let reach = 0.5 * first * (b - a);
                let bound = surface.bound(
                    (middle.x - reach, middle.x + reach),
                    (middle.y - reach, middle.y + reach),
                );
                let slope = bound.first[0] + bound.first[1];
                let bend = bound.second[0] + 2.0 * bound.second[1] + bound.second[2];
                (slope * first, bend * first * first + slope * second)
            }
        }
    }

    /// A bound on how far the curve from `a` to `b` lies from the chord between its ends, and the
    /// chord from it.
    pub(crate) fn chord_bound(&self, a: f64, b: f64) -> f64 {
        let width = (b - a).abs();
        if let Self::Ellipse { a: major, b: minor, .. } = self
            && (major - minor).abs() <= 1e-12 * major
            && width <= std::f64::consts::PI
        {
            return major * (1.0 - (0.5 * width).cos());
        }
        let (low, high) = (a.min(b), a.max(b));
        if let Self::Spline(s) = self {
            // The curve lies in the hull of its Bezier points, and the distance from the chord is a
            // convex function.
            let (start, end) = (s.d1(low).0, s.d1(high).0);
            let pieces = s.pieces(low, high);
            let hull = pieces
                .iter()
                .flat_map(|p| p.2.iter())
                .map(|h| from_segment(&point(h), &start, &end))
                .fold(0.0, f64::max);
            if let [(_, _, points)] = pieces.as_slice() {
                return hull.min(bezier_bounds(points).1 / 8.0);
            }
            return hull;
        }
        let (first, second) = self.bounds(low, high);
        let rough = 0.5 * first * width;
        if self.creases(low, high).is_empty() {
            rough.min(second * width * width / 8.0)
        } else {
            rough
        }
    }

    /// Parameters close enough to each other to find the nearest point from.
    pub(crate) fn samples(&self) -> Vec<f64> {
        let spread = |a: f64, b: f64, n: usize| -> Vec<f64> {
            (0..=n).map(|i| a + (b - a) * i as f64 / n as f64).collect()
        };
        match self {
            Self::Spline(s) => {
                let spans = s.knots.spans();
                let each = (2 * s.knots.degree).max(if spans.len() < 4 { 8 } else { 4 });
                let mut all: Vec<f64> = spans
                    .iter()
                    .flat_map(|(_, a, b)| spread(*a, *b, each).into_iter().take(each))
                    .collect();
                all.push(s.domain().1);
                all
            }
            Self::Chain(links) => {
                let mut all: Vec<f64> = Vec::new();
                for (i, link) in links.iter().enumerate() {
                    let inner = match &link.curve {
                        Self::Spline(s) => 4 * s.knots.spans().len(),
                        _ => 8,
                    };
                    all.extend(spread(i as f64, i as f64 + 1.0, inner).into_iter().take(inner));
                }
                all.push(links.len() as f64);
                all
            }
            Self::OnSurface(both) => {
                both.1.domain().map_or_else(|| both.1.samples(), |(a, b)| spread(a, b, 64))
            }
            _ => spread(0.0, TAU, 32),
        }
    }

    /// The parameter of the nearest point. Of several equally near the first, ends before others.
    pub(crate) fn nearest(&self, p: &P) -> f64 {
        match self {
            Self::Line { origin, along } => (p - origin).dot(along) / along.norm_squared(),
            Self::Ellipse { frame, a, b } => {
                let l = frame.of(p);
                (l.y / b).atan2(l.x / a)
            }
            Self::Hyperbola { frame, b, .. } => (frame.of(p).y / b).asinh(),
            Self::Parabola { frame, focal } => frame.of(p).y / (2.0 * focal),
            Self::Spline(_) | Self::Chain(_) | Self::OnSurface(_) => {
                let distance = |t: f64| (self.at(t) - p).norm_squared();
                let samples = self.samples();
                let Some((mut t, _)) = least(&samples, distance) else { return 0.0 };
                // The search ends at the root of rounding; a few steps of Newton's go on.
                for _ in 0..4 {
                    let (at, slope) = self.d1(t);
                    let square = slope.norm_squared();
                    if square <= 0.0 {
                        break;
                    }
                    let next = t + (p - at).dot(&slope) / square;
                    if distance(next) >= distance(t) {
                        break;
                    }
                    t = next;
                }
                if let Some((low, high)) = self.domain() {
                    t = t.clamp(low, high);
                    let found = distance(t).sqrt();
                    for end in [low, high] {
                        if distance(end).sqrt() <= found + 1e-9 {
                            return end;
                        }
                    }
                }
                t
            }
        }
    }
}
