//! B-spline curves and surfaces, rational or not, in homogeneous form. Whatever bounds them is taken
//! from the Bezier points of a piece, which are blossoms of the spline: the piece lies in their hull.

use super::{P, V};
use nalgebra::{Point3, Vector4};

/// A weighted point: `(w x, w y, w z, w)`.
pub(crate) type H = Vector4<f64>;

/// Higher degrees are refused by name.
pub(crate) const MOST_DEGREE: usize = 25;

pub(crate) fn point(h: &H) -> P {
    Point3::from(h.xyz() / h.w)
}

/// Knots along one parameter.
#[derive(Debug, Clone)]
pub(crate) struct Knots {
    pub(crate) degree: usize,
    /// Never descending; as many as control points and degree and one.
    pub(crate) knots: Vec<f64>,
}

/// Basis functions at one parameter: which span, and value and derivative of those that are not zero.
struct Basis {
    span: usize,
    value: [f64; MOST_DEGREE + 1],
    slope: [f64; MOST_DEGREE + 1],
}

impl Knots {
    /// Of knots that make a spline with so many control points.
    pub(crate) fn new(degree: usize, knots: Vec<f64>, count: usize) -> Result<Self, &'static str> {
        if degree == 0 || degree > MOST_DEGREE {
            return Err("the degree of a spline is not from 1 to 25");
        }
        if count <= degree || knots.len() != count + degree + 1 {
            return Err("the number of knots, degree and control points do not belong together");
        }
        if knots.windows(2).any(|w| w[0] > w[1]) {
            return Err("knots descend");
        }
        let made = Self { degree, knots };
        let (low, high) = made.domain();
        if high > low { Ok(made) } else { Err("all knots are equal") }
    }

    fn count(&self) -> usize {
        self.knots.len() - self.degree - 1
    }

    pub(crate) fn domain(&self) -> (f64, f64) {
        (self.knots[self.degree], self.knots[self.count()])
    }

    /// The span whose interval, which has a length, holds `t`.
    fn span(&self, t: f64) -> usize {
        let (first, last) = (self.degree, self.count());
        let inner = &self.knots[first..=last];
        let after = inner.partition_point(|k| *k <= t);
        let mut span = (first + after.max(1) - 1).min(last - 1);
        while span > first && self.knots[span] >= self.knots[span + 1] {
            span -= 1;
        }
        while span + 1 < last && self.knots[span] >= self.knots[span + 1] {
            span += 1;
        }
        span
    }

    /// The intervals that have a length, each with its span.
    pub(crate) fn spans(&self) -> Vec<(usize, f64, f64)> {
        (self.degree..self.count())
            .map(|i| (i, self.knots[i], self.knots[i + 1]))
            .filter(|(_, a, b)| b > a)
            .collect()
    }

    fn basis(&self, span: usize, t: f64) -> Basis {
        let p = self.degree;
        let k = &self.knots;
        let mut value = [0.0; MOST_DEGREE + 1];
        let mut before = [0.0; MOST_DEGREE + 1];
        let mut slope = [0.0; MOST_DEGREE + 1];
        value[0] = 1.0;
        for j in 1..=p {
            if j == p {
                before = value;
            }
            let mut saved = 0.0;
            for q in 0..j {
                let (low, high) = (k[span + 1 + q - j], k[span + 1 + q]);
                let share = if high > low { value[q] / (high - low) } else { 0.0 };
                value[q] = saved + (high - t) * share;
                saved = (t - low) * share;
            }
            value[j] = saved;
        }
        for (q, slope) in slope.iter_mut().enumerate().take(p + 1) {
            let part = |q: usize| {
                let width = k[span + 1 + q] - k[span + 1 + q - p];
                if width > 0.0 { before[q] / width } else { 0.0 }
            };
            let left = if q > 0 { part(q - 1) } else { 0.0 };
            let right = if q < p { part(q) } else { 0.0 };
            *slope = p as f64 * (left - right);
        }
        Basis { span, value, slope }
    }

    /// The Bezier points of the piece from `a` to `b` of a span, of the control points of that span.
    fn bezier(&self, span: usize, local: &[H], a: f64, b: f64) -> Vec<H> {
        let p = self.degree;
        (0..=p)
            .map(|i| {
                // The blossom at a, .., a, b, .., b.
                let mut d: Vec<H> = local.to_vec();
                for level in 1..=p {
                    let t = if level <= i { b } else { a };
                    for j in (level..=p).rev() {
                        let low = self.knots[span + j - p];
                        let high = self.knots[span + 1 + j - level];
                        let share = if high > low { (t - low) / (high - low) } else { 0.0 };
                        d[j] = d[j - 1] * (1.0 - share) + d[j] * share;
                    }
                }
                d[p]
            })
            .collect()
    }

    /// Interior knots at which the first derivative may jump.
    fn possible_creases(&self) -> Vec<f64> {
        let (low, high) = self.domain();
        let mut found: Vec<f64> = Vec::new();
        for window in self.knots.windows(self.degree) {
            let (a, b) = (window[0], window[window.len() - 1]);
            if a >= b && a > low && a < high && found.last().is_none_or(|last| *last < a) {
                found.push(a);
            }
        }
        found
    }
}

/// Knots of a uniform or quasi-uniform spline, ISO 10303-42 clause 4.4.33 and those after it: `ends`
/// is how often the first and last knot stand.
pub(crate) fn uniform_knots(degree: usize, count: usize, clamped: bool) -> Vec<f64> {
    let total = count + degree + 1;
    (0..total)
        .map(|i| {
            let t = i as f64 - degree as f64;
            if clamped { t.clamp(0.0, count.saturating_sub(degree) as f64) } else { t }
        })
        .collect()
}

/// Bounds over a piece with parameter from 0 to 1: of the first and the second derivative.
pub(crate) fn bezier_bounds(points: &[H]) -> (f64, f64) {
    let n = points.len() as f64 - 1.0;
    let first = points.first().map_or_else(P::origin, point);
    // About a point of the piece: the quotient rule's terms shrink with the piece.
    let about: Vec<H> = points.iter().map(|h| (h.xyz() - first.coords * h.w).push(h.w)).collect();
    let size = about.iter().map(|h| h.xyz().norm() / h.w).fold(0.0, f64::max);
    let least = about.iter().map(|h| h.w).fold(f64::INFINITY, f64::min);
    let (mut a1, mut w1, mut a2, mut w2) = (0.0_f64, 0.0_f64, 0.0_f64, 0.0_f64);
    for pair in about.windows(2) {
        let d = pair[1] - pair[0];
        a1 = a1.max(d.xyz().norm());
        w1 = w1.max(d.w.abs());
    }
    for triple in about.windows(3) {
        let d = triple[2] - triple[1] * 2.0 + triple[0];
        a2 = a2.max(d.xyz().norm());
        w2 = w2.max(d.w.abs());
    }
    let (a1, w1, a2, w2) = (a1 * n, w1 * n, a2 * n * (n - 1.0), w2 * n * (n - 1.0));
    let first = (a1 + w1 * size) / least;
    (first, (a2 + 2.0 * w1 * first + w2 * size) / least)
}

/// A B-spline curve.
#[derive(Debug, Clone)]
pub(crate) struct Spline {
    pub(crate) knots: Knots,
    pub(crate) points: Vec<H>,
}

impl Spline {
    pub(crate) fn new(
        degree: usize,
        knots: Vec<f64>,
        points: Vec<H>,
    ) -> Result<Self, &'static str> {
        let knots = Knots::new(degree, knots, points.len())?;
        if points.iter().any(|h| h.w <= 0.0) {
            return Err("a weight is not above zero");
        }
        Ok(Self { knots, points })
    }

    pub(crate) fn domain(&self) -> (f64, f64) {
        self.knots.domain()
    }

    /// Point and first derivative.
    pub(crate) fn d1(&self, t: f64) -> (P, V) {
        let (low, high) = self.domain();
        let t = t.clamp(low, high);
        self.d1_in(self.knots.span(t), t)
    }

    fn d1_in(&self, span: usize, t: f64) -> (P, V) {
        let basis = self.knots.basis(span, t);
        let local = &self.points[basis.span - self.knots.degree..=basis.span];
        let (mut h, mut d) = (H::zeros(), H::zeros());
        for (i, c) in local.iter().enumerate() {
            h += c * basis.value[i];
            d += c * basis.slope[i];
        }
        let p = h.xyz() / h.w;
        (P::from(p), (d.xyz() - p * d.w) / h.w)
    }

    /// The Bezier points of every piece between `a < b`, with its interval. A sliver beside a knot, which
    /// is there by rounding alone, is taken a little wider: over nearly nothing a slope is noise.
    pub(crate) fn pieces(&self, a: f64, b: f64) -> Vec<(f64, f64, Vec<H>)> {
        let mut pieces = Vec::new();
        let (first, last) = (self.knots.span(a), self.knots.span(b));
        for span in first..=last {
            let (low, high) = (self.knots.knots[span], self.knots.knots[span + 1]);
            let (mut from, mut to) = (low.max(a), high.min(b));
            if to <= from {
                continue;
            }
            let least = 1e-7 * (high - low);
            if to - from < least {
                (from, to) = if from > low { (to - least, to) } else { (from, from + least) };
                from = from.max(low);
                to = to.min(high);
            }
            let local = &self.points[span - self.knots.degree..=span];
            pieces.push((from, to, self.knots.bezier(span, local, from, to)));
        }
        pieces
    }

    /// Whether a parameter is a knot at which the direction may jump.
    pub(crate) fn creases(&self) -> Vec<f64> {
        self.knots.possible_creases()
    }

    /// Whether both ends are one point, within `tolerance`.
    pub(crate) fn is_closed(&self, tolerance: f64) -> bool {
        let (a, b) = self.domain();
        (self.d1(a).0 - self.d1(b).0).norm() <= tolerance
    }
}

/// Bounds over one piece of a surface.
#[derive(Debug, Clone, Copy)]
struct Cell {
    u: (f64, f64),
    v: (f64, f64),
    bound: super::Bound,
    /// Middle and radius of a ball that holds the piece.
    middle: P,
    radius: f64,
}

/// A B-spline surface.
#[derive(Debug, Clone)]
pub(crate) struct SplineSurface {
    pub(crate) u: Knots,
    pub(crate) v: Knots,
    /// Row by row: `points[i * count_v + j]`.
    points: Vec<H>,
    count_v: usize,
    /// Pieces, the row of one interval in u after the other, with the intervals' ends.
    cells: Vec<Cell>,
    cuts_u: Vec<f64>,
    cuts_v: Vec<f64>,
    pub(crate) creases: [Vec<f64>; 2],
    /// Closed along u or v.
    pub(crate) closed: [bool; 2],
    /// Whether each side is one point: u low, u high, v low, v high.
    pub(crate) collapsed: [bool; 4],
    pub(crate) size: f64,
    /// Middle and radius where the surface is part of a sphere.
    pub(crate) ball: Option<(P, f64)>,
}

/// Pieces along each parameter, at least, where the spline has few spans.
const PIECES: usize = 8;
/// And at most so many pieces in all beyond one a span.
const MOST_CELLS: usize = 40_000;

impl SplineSurface {
    pub(crate) fn new(
        (degree_u, knots_u): (usize, Vec<f64>),
        (degree_v, knots_v): (usize, Vec<f64>),
        rows: &[Vec<H>],
        tolerance: f64,
    ) -> Result<Self, &'static str> {
        let count_v = rows.first().map_or(0, Vec::len);
        if rows.iter().any(|r| r.len() != count_v) {
            return Err("rows of control points differ in length");
        }
        let u = Knots::new(degree_u, knots_u, rows.len())?;
        let v = Knots::new(degree_v, knots_v, count_v)?;
        let points: Vec<H> = rows.iter().flatten().copied().collect();
        if points.iter().any(|h| h.w <= 0.0) {
            return Err("a weight is not above zero");
        }
        let mut made = Self {
            u,
            v,
            points,
            count_v,
            cells: Vec::new(),
            cuts_u: Vec::new(),
            cuts_v: Vec::new(),
            creases: [Vec::new(), Vec::new()],
            closed: [false; 2],
            collapsed: [false; 4],
            size: 0.0,
            ball: None,
        };
        made.look(tolerance);
        made.cut_into_cells();
        made.ball = made.as_ball();
        Ok(made)
    }

    fn cut_into_cells(&mut self) {
        let (spans_u, spans_v) = (self.u.spans(), self.v.spans());
        let shares = |spans: usize, degree: usize| {
            if degree == 1 { 1 } else { PIECES.div_ceil(spans.max(1)).max(degree.div_ceil(2)) }
        };
        let (mut nu, mut nv) =
            (shares(spans_u.len(), self.u.degree), shares(spans_v.len(), self.v.degree));
        if spans_u.len() * nu * spans_v.len() * nv > MOST_CELLS {
            (nu, nv) = (1, 1);
        }
        let cuts = |spans: &[(usize, f64, f64)], n: usize| {
            let mut cuts: Vec<(usize, f64, f64)> = Vec::new();
            for (span, a, b) in spans {
                let at = |i: usize| if i == n { *b } else { a + (b - a) * i as f64 / n as f64 };
                cuts.extend((0..n).map(|i| (*span, at(i), at(i + 1))).filter(|(_, a, b)| b > a));
            }
            cuts
        };
        let (mut cuts_u, mut cuts_v) = (cuts(&spans_u, nu), cuts(&spans_v, nv));
        grade(&mut cuts_u, self.collapsed[0], self.collapsed[1]);
        grade(&mut cuts_v, self.collapsed[2], self.collapsed[3]);
        for &(span_u, u0, u1) in &cuts_u {
            // The columns' Bezier points along u, made once for all pieces of this row.
            let columns: Vec<Vec<H>> = (0..self.count_v)
                .map(|j| {
                    let column: Vec<H> = (span_u - self.u.degree..=span_u)
                        .map(|i| self.points[i * self.count_v + j])
                        .collect();
                    self.u.bezier(span_u, &column, u0, u1)
                })
                .collect();
            for &(span_v, v0, v1) in &cuts_v {
                let net: Vec<Vec<H>> = (0..=self.u.degree)
                    .map(|i| {
                        let row: Vec<H> =
                            columns[span_v - self.v.degree..=span_v].iter().map(|c| c[i]).collect();
                        self.v.bezier(span_v, &row, v0, v1)
                    })
                    .collect();
                self.cells.push(cell((u0, u1), (v0, v1), &net));
            }
        }
        self.cuts_u = cuts_u.iter().map(|c| c.1).chain(cuts_u.last().map(|c| c.2)).collect();
        self.cuts_v = cuts_v.iter().map(|c| c.1).chain(cuts_v.last().map(|c| c.2)).collect();
    }

    /// Finds closed and collapsed sides, and creases.
    fn look(&mut self, tolerance: f64) {
        let (lo, hi) = self.points.iter().map(point).fold(
            (P::from(V::repeat(f64::INFINITY)), P::from(V::repeat(f64::NEG_INFINITY))),
            |(lo, hi), p| (lo.inf(&p), hi.sup(&p)),
        );
        self.size = (hi - lo).norm();
        let within = tolerance.max(1e-9 * self.size);
        let ((u0, u1), (v0, v1)) = (self.u.domain(), self.v.domain());
        let samples = |(a, b): (f64, f64), knots: &Knots| -> Vec<f64> {
            let n = (2 * knots.spans().len()).clamp(12, 200);
            (0..=n).map(|i| a + (b - a) * i as f64 / n as f64).collect()
        };
        let (us, vs) = (samples((u0, u1), &self.u), samples((v0, v1), &self.v));
        let side_u = |u: f64| -> Vec<P> { vs.iter().map(|v| self.d1(u, *v).0).collect() };
        let side_v = |v: f64| -> Vec<P> { us.iter().map(|u| self.d1(*u, v).0).collect() };
        let sides = [side_u(u0), side_u(u1), side_v(v0), side_v(v1)];
        let alike = |a: &[P], b: &[P]| a.iter().zip(b).all(|(p, q)| (p - q).norm() <= within);
        let collapsed = [0, 1, 2, 3].map(|i: usize| {
            let side: &Vec<P> = &sides[i];
            side.iter().all(|p| (p - side[0]).norm() <= within)
        });
        let closed = [alike(&sides[0], &sides[1]), alike(&sides[2], &sides[3])];
        // A side that is one point closes nothing by meeting another.
        self.closed = [
            closed[0] && !(collapsed[0] && collapsed[1]),
            closed[1] && !(collapsed[2] && collapsed[3]),
        ];
        self.collapsed = collapsed;
        let jumps = |at: f64, knots: &Knots, others: &[f64], along_u: bool| {
            let before = knots.spans().into_iter().rfind(|s| s.2 <= at);
            let after = knots.spans().into_iter().find(|s| s.1 >= at);
            let (Some(before), Some(after)) = (before, after) else { return true };
            others.iter().any(|other| {
                let slope = |span: usize| {
                    if along_u {
                        self.d1_in(span, self.v.span(*other), at, *other).1
                    } else {
                        self.d1_in(self.u.span(*other), span, *other, at).2
                    }
                };
                let (a, b) = (slope(before.0), slope(after.0));
                (a - b).norm() > 1e-9 * (a.norm() + b.norm())
            })
        };
        let mut creases = [self.u.possible_creases(), self.v.possible_creases()];
        creases[0].retain(|at| jumps(*at, &self.u, &vs, true));
        creases[1].retain(|at| jumps(*at, &self.v, &us, false));
        // A seam over which the surface is not smooth is one as well.
        if self.closed[0]
            && vs.iter().any(|v| {
                let (a, b) = (self.d1(u0, *v).1, self.d1(u1, *v).1);
                (a - b).norm() > 1e-9 * (a.norm() + b.norm())
            })
        {
            creases[0].insert(0, u0);
            creases[0].push(u1);
        }
        if self.closed[1]
            && us.iter().any(|u| {
                let (a, b) = (self.d1(*u, v0).2, self.d1(*u, v1).2);
                (a - b).norm() > 1e-9 * (a.norm() + b.norm())
            })
        {
            creases[1].insert(0, v0);
            creases[1].push(v1);
        }
        self.creases = creases;
    }

    /// Whether this is part of a sphere. With `S = A / w` the square of the distance from its middle is
    /// the square of its radius where a polynomial of twice the degrees vanishes, so that a grid of one
    /// more place each way in every span decides; up to rounding.
    fn as_ball(&self) -> Option<(P, f64)> {
        let rational = self.points.iter().any(|h| (h.w - self.points[0].w).abs() > 1e-9);
        // A ball has degree two each way, and raised it is still small.
        if !rational || self.u.degree.max(self.v.degree) > 12 {
            return None;
        }
        let ((u0, u1), (v0, v1)) = (self.u.domain(), self.v.domain());
        let at = |a: f64, b: f64| self.d1(u0 + (u1 - u0) * a, v0 + (v1 - v0) * b).0;
        let corners = [at(0.5, 0.5), at(0.2, 0.3), at(0.8, 0.4), at(0.4, 0.8)];
        // Equally far from four of its points.
        let rows = [1, 2, 3].map(|i| corners[i] - corners[0]);
        let matrix = nalgebra::Matrix3::from_rows(&rows.map(|r| r.transpose()));
        let half = V::from_iterator(rows.iter().map(|r| 0.5 * r.norm_squared()));
        let middle = corners[0] + matrix.try_inverse()? * half;
        let radius = (corners[0] - middle).norm();
        let within = 1e-9 * radius;
        for (_, a, b) in self.u.spans() {
            for (_, c, d) in self.v.spans() {
                let (n, m) = (2 * self.u.degree, 2 * self.v.degree);
                for i in 0..=n {
                    for j in 0..=m {
                        let (u, v) = (i as f64 / n as f64, j as f64 / m as f64);
                        let p = self.d1(a + (b - a) * u, c + (d - c) * v).0;
                        let off = (p - middle).norm() - radius;
                        if off.is_nan() || off.abs() > within {
                            return None;
                        }
                    }
                }
            }
        }
        Some((middle, radius))
    }

    /// Point and first derivatives; parameters outside are brought to the nearest inside.
    pub(crate) fn d1(&self, u: f64, v: f64) -> (P, V, V) {
        let ((u0, u1), (v0, v1)) = (self.u.domain(), self.v.domain());
        let (u, v) = (u.clamp(u0, u1), v.clamp(v0, v1));
        self.d1_in(self.u.span(u), self.v.span(v), u, v)
    }

    fn d1_in(&self, span_u: usize, span_v: usize, u: f64, v: f64) -> (P, V, V) {
        let (bu, bv) = (self.u.basis(span_u, u), self.v.basis(span_v, v));
        let (mut h, mut hu, mut hv) = (H::zeros(), H::zeros(), H::zeros());
        for i in 0..=self.u.degree {
            let row = (span_u - self.u.degree + i) * self.count_v + span_v - self.v.degree;
            let (mut value, mut slope) = (H::zeros(), H::zeros());
            for (j, c) in self.points[row..=row + self.v.degree].iter().enumerate() {
                value += c * bv.value[j];
                slope += c * bv.slope[j];
            }
            h += value * bu.value[i];
            hu += value * bu.slope[i];
            hv += slope * bu.value[i];
        }
        let p = h.xyz() / h.w;
        (P::from(p), (hu.xyz() - p * hu.w) / h.w, (hv.xyz() - p * hv.w) / h.w)
    }

    /// Bounds over a rectangle within the domain, creases not looked at.
    pub(crate) fn bound(&self, u: (f64, f64), v: (f64, f64)) -> super::Bound {
        let range = |cuts: &[f64], (a, b): (f64, f64)| {
            let last = cuts.len().saturating_sub(2);
            // A rectangle that only touches a piece needs nothing of it.
            let low = cuts.partition_point(|c| *c <= a).saturating_sub(1).min(last);
            let high = cuts.partition_point(|c| *c < b).saturating_sub(1).min(last);
            (low, high.max(low))
        };
        let ((i0, i1), (j0, j1)) = (range(&self.cuts_u, u), range(&self.cuts_v, v));
        let row = self.cuts_v.len() - 1;
        let mut bound = super::Bound::default();
        for i in i0..=i1 {
            for cell in &self.cells[i * row + j0..=i * row + j1] {
                bound.widen(&cell.bound);
            }
        }
        bound
    }

    /// Starting points for the way to the nearest point, the likeliest first.
    pub(crate) fn starts(&self, p: &P) -> Vec<(f64, f64)> {
        let mut near: Vec<(f64, usize)> = self
            .cells
            .iter()
            .enumerate()
            .map(|(i, c)| {
                (((c.middle - p).norm() - c.radius).max(0.0) + 0.1 * (c.middle - p).norm(), i)
            })
            .collect();
        let few = 8.min(near.len());
        if few < near.len() {
            near.select_nth_unstable_by(few, |a, b| a.0.total_cmp(&b.0));
            near.truncate(few);
        }
        near.sort_by(|a, b| a.0.total_cmp(&b.0));
        near.iter()
            .map(|(_, i)| {
                let c = &self.cells[*i];
                (f64::midpoint(c.u.0, c.u.1), f64::midpoint(c.v.0, c.v.1))
            })
            .collect()
    }
}

/// Cuts the first and the last interval on towards a side that is one point: along it the derivatives
/// vanish, and bounds are to follow them.
fn grade(cuts: &mut Vec<(usize, f64, f64)>, first: bool, last: bool) {
    if let (true, Some(&(span, a, b))) = (first, cuts.first()) {
        let at = |i: i32| if i == 0 { a } else { a + (b - a) * 0.5_f64.powi(12 - i) };
        cuts.splice(0..1, (0..12).map(|i| (span, at(i), at(i + 1))));
    }
    if let (true, Some(&(span, a, b))) = (last, cuts.last()) {
        cuts.pop();
        let at = |i: i32| if i == 12 { b } else { b - (b - a) * 0.5_f64.powi(i) };
        cuts.extend((0..12).map(|i| (span, at(i), at(i + 1))));
    }
}

/// A net of control vectors of one derivative: its value in the middle of the piece, how far control
/// vectors are from that, and how long they are; each of the point and of the weight.
struct Net {
    middle: H,
    spread: (f64, f64),
    most: (f64, f64),
}

impl Net {
    fn of(rows: &[Vec<H>]) -> Self {
        let halves = |points: &mut Vec<H>| {
            // De Casteljau's at one half.
            for length in (1..points.len()).rev() {
                for i in 0..length {
                    points[i] = (points[i] + points[i + 1]) * 0.5;
                }
            }
            points.first().copied().unwrap_or_else(H::zeros)
        };
        let mut ends: Vec<H> = rows.iter().map(|row| halves(&mut row.clone())).collect();
        let middle = halves(&mut ends);
        let (mut spread, mut most) = ((0.0_f64, 0.0_f64), (0.0_f64, 0.0_f64));
        for h in rows.iter().flatten() {
            let d = h - middle;
            spread = (spread.0.max(d.xyz().norm()), spread.1.max(d.w.abs()));
            most = (most.0.max(h.xyz().norm()), most.1.max(h.w.abs()));
        }
        Self { middle, spread, most }
    }
}

/// Control vectors of a derivative: by the first parameter `rows` times, by the second `columns` times.
fn differences(net: &[Vec<H>], rows: usize, columns: usize, scale: f64) -> Vec<Vec<H>> {
    let mut net: Vec<Vec<H>> = net.to_vec();
    for _ in 0..rows {
        net =
            net.windows(2).map(|w| w[1].iter().zip(&w[0]).map(|(b, a)| b - a).collect()).collect();
    }
    for _ in 0..columns {
        for row in &mut net {
            *row = row.windows(2).map(|w| w[1] - w[0]).collect();
        }
    }
    net.iter_mut().flatten().for_each(|h| *h *= scale);
    net
}

/// Bounds over one Bezier piece with parameters from `u` and `v`.
fn cell(u: (f64, f64), v: (f64, f64), net: &[Vec<H>]) -> Cell {
    // About the piece's middle point, where the quotient rule's terms with the point vanish.
    let middle = point(&Net::of(net).middle);
    let about: Vec<Vec<H>> = net
        .iter()
        .map(|row| row.iter().map(|h| (h.xyz() - middle.coords * h.w).push(h.w)).collect())
        .collect();
    let size = about.iter().flatten().map(|h| h.xyz().norm() / h.w).fold(0.0, f64::max);
    let least = about.iter().flatten().map(|h| h.w).fold(f64::INFINITY, f64::min);
    let at_middle = Net::of(&about).middle.w;
    let (n, m) = (net.len() as f64 - 1.0, net[0].len() as f64 - 1.0);
    let (width_u, width_v) = (u.1 - u.0, v.1 - v.0);
    let (p, q) = (n / width_u, m / width_v);
    let (p2, q2) = (p * (n - 1.0) / width_u, q * (m - 1.0) / width_v);
    let of = |rows, columns, scale| Net::of(&differences(&about, rows, columns, scale));
    let (du, dv) = (of(1, 0, p), of(0, 1, q));
    let (duu, duv, dvv) = (of(2, 0, p2), of(1, 1, p * q), of(0, 2, q2));
    // S = A / w. First by the quotient rule with upper bounds alone.
    let slope = |d: &Net| (d.most.0 + d.most.1 * size) / least;
    let (mut su, mut sv) = (slope(&du), slope(&dv));
    let mut suu = (duu.most.0 + 2.0 * du.most.1 * su + duu.most.1 * size) / least;
    let mut svv = (dvv.most.0 + 2.0 * dv.most.1 * sv + dvv.most.1 * size) / least;
    let mut suv = (duv.most.0 + du.most.1 * sv + dv.most.1 * su + duv.most.1 * size) / least;
    // Then from the values in the middle and how far those elsewhere may be from them.
    let (u_middle, v_middle) = (du.middle.xyz() / at_middle, dv.middle.xyz() / at_middle);
    for _ in 0..2 {
        let from_u = 0.5 * (suu * width_u + suv * width_v);
        let from_v = 0.5 * (suv * width_u + svv * width_v);
        su = su.min(u_middle.norm() + from_u);
        sv = sv.min(v_middle.norm() + from_v);
        // A term of weight slope times surface slope: what it adds to the middle's value.
        let term = |w: &Net, slope: f64, from: f64| w.spread.1 * slope + w.middle.w.abs() * from;
        let second = |d: &Net, value: V, terms: f64| {
            (value.norm() + d.spread.0 + terms + d.most.1 * size) / least
        };
        let uu = duu.middle.xyz() - u_middle * (2.0 * du.middle.w);
        suu = suu.min(second(&duu, uu, 2.0 * term(&du, su, from_u)));
        let vv = dvv.middle.xyz() - v_middle * (2.0 * dv.middle.w);
        svv = svv.min(second(&dvv, vv, 2.0 * term(&dv, sv, from_v)));
        let uv = duv.middle.xyz() - v_middle * du.middle.w - u_middle * dv.middle.w;
        suv = suv.min(second(&duv, uv, term(&du, sv, from_v) + term(&dv, su, from_u)));
    }
    let bound = super::Bound { first: [su, sv], second: [suu, suv, svv], rough: [0.0; 2] };
    Cell { u, v, bound, middle, radius: size }
}
