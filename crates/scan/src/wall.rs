//! The housing's sidewall: where its inner face runs, and where it has openings.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "bearings, rows and columns are few"
)]

use crate::carve::Space;
use crate::grid::bit;
use nalgebra::{Matrix3, Point2, Point3, Vector2, Vector3};
use std::f64::consts::{PI, TAU};

/// The sidewall as it was seen, in the frame of the points (plate frame with its origin anywhere),
/// mm.
#[derive(Debug, Clone, PartialEq)]
pub struct WallSeen {
    /// Where the housing's axis meets the plate: the circle's middle where the inner face is round,
    /// the middle between opposite sides where it is straight.
    pub axis: Point2<f64>,
    /// How the inner face runs.
    pub form: Form,
    /// The inner face seen from above, counter-clockwise from +x about `axis`, one point each half
    /// degree; where none was seen, as the form has it.
    pub outline: Vec<Point2<f64>>,
    /// Share of bearings at which points of the inner face were seen, 0 to 1.
    pub seen: f64,
    /// Root mean square of the inner face's points, averaged each half degree, about the form, mm.
    pub residual: f64,
    /// The height at which the wall ends at half of the bearings, mm.
    pub rim: f64,
    /// Openings by bearing.
    pub openings: Vec<Opening>,
}

/// How the inner face runs, seen from above.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// Round, with the inner radius, mm.
    Round {
        /// Mm.
        radius: f64,
    },
    /// Four straight sides.
    Straight {
        /// Each side's outward direction as a bearing, rad, counter-clockwise from +x, and its
        /// distance from the axis, mm.
        sides: [(f64, f64); 4],
    },
    /// Neither.
    Unclear,
}

/// A place in the wall at which no surface was seen, with seen wall all around it.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    /// Its middle on the inner face, mm.
    pub middle: Point3<f64>,
    /// The wall's outward direction there as a bearing, rad, counter-clockwise from +x.
    pub facing: f64,
    /// Its width along the wall, mm.
    pub width: f64,
    /// Its height, mm.
    pub height: f64,
    /// The height of its lower edge above the plate, mm.
    pub sill: f64,
    /// The wall's thickness about it; `None` where only one face was seen.
    pub thickness: Option<f64>,
    /// Whether a line of sight passed through it: then it is surely open. If not, a cover or another
    /// thing may be in it, or it may only be a shadow.
    pub seen_through: bool,
    /// How far its edges may be off, mm: how they wander, and the spacing of points.
    pub deviation: f64,
}

/// Bearings of an outline.
const BEARINGS: usize = 720;
/// Width of a ring when looking for what is tall, mm.
const RING: f64 = 4.0;
/// A wall begins this low at least, and is this tall at least, mm.
const LOWEST: f64 = 150.0;
const TALL: f64 = 60.0;
/// A wall is this share as tall as the tallest at its bearing, at least.
const OF_TALLEST: f64 = 0.5;
/// Faces of one wall are within this distance of one another, mm.
const FACES: f64 = 25.0;
/// Share of bearings at which a wall is met at least.
const SURROUNDS: f64 = 0.6;
/// Points within this distance of the form are of the inner face, mm.
const ON_FACE: f64 = 5.0;
/// Share of bearings that must agree with a form.
const AGREE: f64 = 0.75;
/// The wall's own points may be so far inside of its form, mm: a corner cut off.
const CORNER: f64 = 60.0;
/// Side of a cell of the wall's raster, mm.
const RASTER: f64 = 4.0;
/// Smaller openings are not told, mm.
const OPENING: f64 = 30.0;

/// The inner face, seen from above.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Inner {
    pub(crate) axis: Point2<f64>,
    pub(crate) form: Form,
    /// Distance from the axis by bearing, mm.
    reach: Vec<f64>,
    pub(crate) rim: f64,
    seen: f64,
    residual: f64,
}

impl Inner {
    /// How far inside of the inner face a place is, mm; beyond it negative.
    pub(crate) fn inside_by(&self, p: &Point2<f64>) -> f64 {
        let d = p - self.axis;
        match &self.form {
            Form::Round { radius } => radius - d.norm(),
            Form::Straight { sides } => {
                let by = |(bearing, off): &(f64, f64)| off - d.dot(&unit(*bearing));
                sides.iter().map(by).fold(f64::INFINITY, f64::min)
            }
            Form::Unclear => self.reach[bearing_of(&d)] - d.norm(),
        }
    }

    fn at(&self, n: usize) -> Point2<f64> {
        self.axis + unit((n as f64 + 0.5) * TAU / BEARINGS as f64) * self.reach[n]
    }
}

fn unit(bearing: f64) -> Vector2<f64> {
    Vector2::new(bearing.cos(), bearing.sin())
}

fn bearing_of(d: &Vector2<f64>) -> usize {
    let turn = d.y.atan2(d.x).rem_euclid(TAU) / TAU;
    ((turn * BEARINGS as f64) as usize).min(BEARINGS - 1)
}

fn median(mut of: Vec<f64>) -> Option<f64> {
    let middle = of.len() / 2;
    (!of.is_empty()).then(|| *of.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Finds what surrounds a place and is tall, among points above the plate.
pub(crate) fn inner(points: &[Point3<f64>], middle: &Point2<f64>) -> Option<Inner> {
    let top = points.iter().map(|p| p.z).fold(0.0, f64::max);
    let row = (top / 64.0).max(4.0);
    let far = points.iter().map(|p| (p.xy() - middle).norm()).fold(0.0, f64::max);
    let rings = (far / RING) as usize + 2;
    let mut rows = vec![0_u64; BEARINGS * rings];
    for p in points {
        let d = p.xy() - middle;
        let ring = (d.norm() / RING) as usize;
        rows[bearing_of(&d) * rings + ring] |= 1 << ((p.z / row).max(0.0) as u32).min(63);
    }
    // How tall what stands there is, if it begins low enough.
    let height = |bearing: usize, ring: usize| {
        let from = bearing * rings;
        if rows[from + ring] == 0 {
            return 0.0;
        }
        let near = from + ring.saturating_sub(1)..=from + (ring + 1).min(rings - 1);
        let all = rows[near].iter().fold(0, |all, r| all | r);
        let low = f64::from(all.trailing_zeros()) * row <= LOWEST;
        if low { f64::from(all.count_ones()) * row } else { 0.0 }
    };
    let tallest: Vec<f64> =
        (0..BEARINGS).map(|b| (0..rings).map(|r| height(b, r)).fold(0.0, f64::max)).collect();
    // Studs and flanges outside of a wall are lower than it.
    let is_tall = |bearing: usize, ring: usize| {
        height(bearing, ring) >= TALL.max(OF_TALLEST * tallest[bearing])
    };
    // The outermost that is tall, and inward from it as long as it may be one wall.
    let clusters: Vec<Option<(usize, usize)>> = (0..BEARINGS)
        .map(|b| {
            let out = (0..rings).rev().find(|r| is_tall(b, *r))?;
            let mut inward = out;
            for ring in (0..out).rev() {
                if (inward - ring) as f64 * RING > FACES {
                    break;
                }
                if is_tall(b, ring) && (out - ring) as f64 * RING <= FACES {
                    inward = ring;
                }
            }
            Some((inward, out))
        })
        .collect();
    let met = clusters.iter().flatten().count() as f64 / BEARINGS as f64;
    if met < SURROUNDS {
        return None;
    }
    let mut near: Vec<Vec<f64>> = vec![Vec::new(); BEARINGS];
    let mut tops: Vec<f64> = vec![0.0; BEARINGS];
    for p in points {
        let d = p.xy() - middle;
        let b = bearing_of(&d);
        if let Some((inward, out)) = clusters[b] {
            let ring = (d.norm() / RING) as usize;
            if ring >= inward && ring <= inward + 1 {
                near[b].push(d.norm());
            }
            if ring + 1 >= inward && ring <= out + 1 {
                tops[b] = tops[b].max(p.z);
            }
        }
    }
    let rough: Vec<Option<Point2<f64>>> = near
        .into_iter()
        .enumerate()
        .map(|(b, r)| {
            let r = median(r)?;
            Some(middle + unit((b as f64 + 0.5) * TAU / BEARINGS as f64) * r)
        })
        .collect();
    let known: Vec<Point2<f64>> = rough.iter().flatten().copied().collect();
    let rim = median(tops.into_iter().filter(|t| *t > 0.0).collect())?;

    let least = AGREE * known.len() as f64;
    let agree = |form: &(Point2<f64>, Form)| {
        let inner = shaped(form.clone(), rim);
        known.iter().filter(|p| inner.inside_by(p).abs() < 6.0).count() as f64
    };
    let round = circle(&known).map(|(c, radius)| (c, Form::Round { radius }));
    let straight = rectangle(&known);
    let best = [round, straight]
        .into_iter()
        .flatten()
        .map(|f| (agree(&f), f))
        .filter(|(n, _)| *n >= least)
        .max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((_, form)) = best else { return Some(unclear(&rough, middle, rim)) };
    Some(refined(points, form, rim))
}

fn shaped((axis, form): (Point2<f64>, Form), rim: f64) -> Inner {
    let mut inner = Inner { axis, form, reach: vec![0.0; BEARINGS], rim, seen: 0.0, residual: 0.0 };
    let reach = |n: usize| {
        let way = unit((n as f64 + 0.5) * TAU / BEARINGS as f64);
        match &inner.form {
            Form::Round { radius } => *radius,
            Form::Straight { sides } => sides
                .iter()
                .filter_map(|(bearing, off)| {
                    let toward = unit(*bearing).dot(&way);
                    (toward > 1e-6).then(|| off / toward)
                })
                .fold(f64::INFINITY, f64::min),
            Form::Unclear => 0.0,
        }
    };
    inner.reach = (0..BEARINGS).map(reach).collect();
    inner
}

/// The form with its inner face fitted to the points that lie on it.
fn refined(points: &[Point3<f64>], form: (Point2<f64>, Form), rim: f64) -> Inner {
    let mut inner = shaped(form, rim);
    let mut seen: Vec<(usize, Point2<f64>)> = Vec::new();
    for _ in 0..3 {
        let mut by: Vec<Vec<f64>> = vec![Vec::new(); BEARINGS];
        for p in points.iter().filter(|p| p.z > 20.0 && p.z < rim - 10.0) {
            let off = inner.inside_by(&p.xy());
            if off.abs() < ON_FACE {
                by[bearing_of(&(p.xy() - inner.axis))].push(off);
            }
        }
        seen = by
            .into_iter()
            .enumerate()
            .filter(|(_, off)| off.len() >= 3)
            .filter_map(|(n, off)| {
                let p = inner.at(n);
                let way = (p - inner.axis).normalize();
                // The offset is square to the face, the way along the bearing.
                let square = match &inner.form {
                    Form::Straight { sides } => sides
                        .iter()
                        .map(|(bearing, _)| unit(*bearing).dot(&way))
                        .fold(0.0, f64::max),
                    _ => 1.0,
                };
                Some((n, p - way * (median(off)? / square.max(0.3))))
            })
            .collect();
        let places: Vec<Point2<f64>> = seen.iter().map(|(_, p)| *p).collect();
        let next = match &inner.form {
            Form::Round { .. } => circle(&places).map(|(c, radius)| (c, Form::Round { radius })),
            Form::Straight { sides } => sides_through(&places, sides[0].0),
            Form::Unclear => None,
        };
        let Some(next) = next else { break };
        inner = shaped(next, rim);
    }
    let squares: Vec<f64> = seen.iter().map(|(_, p)| inner.inside_by(p).powi(2)).collect();
    inner.residual = (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt();
    inner.seen = seen.len() as f64 / BEARINGS as f64;
    for (_, p) in seen {
        let d = p - inner.axis;
        inner.reach[bearing_of(&d)] = d.norm();
    }
    inner
}

/// An outline without a form: by bearing, with what stands in front of it smoothed away.
fn unclear(rough: &[Option<Point2<f64>>], middle: &Point2<f64>, rim: f64) -> Inner {
    let around = |b: usize, by: usize| {
        let near = (0..=2 * by).filter_map(|n| rough[(b + BEARINGS + n - by) % BEARINGS]);
        median(near.map(|p| (p - middle).norm()).collect())
    };
    let reach = (0..BEARINGS)
        .map(|b| [8, 40, 120, 360].into_iter().find_map(|by| around(b, by)).unwrap_or(0.0))
        .collect();
    let seen = rough.iter().flatten().count() as f64 / BEARINGS as f64;
    Inner { axis: *middle, form: Form::Unclear, reach, rim, seen, residual: 0.0 }
}

/// The circle through points, those far off it left out.
fn circle(points: &[Point2<f64>]) -> Option<(Point2<f64>, f64)> {
    let mut of: Vec<Point2<f64>> = points.to_vec();
    let mut found = None;
    for _ in 0..8 {
        if of.len() < 12 {
            return found;
        }
        let mean = of.iter().fold(Vector2::zeros(), |s, p| s + p.coords) / of.len() as f64;
        let (mut a, mut b) = (Matrix3::zeros(), Vector3::zeros());
        for p in &of {
            let d = p.coords - mean;
            let row = Vector3::new(d.x, d.y, 1.0);
            a += row * row.transpose();
            b += row * d.norm_squared();
        }
        let x = a.try_inverse()? * b;
        let d = Vector2::new(x.x, x.y) / 2.0;
        let centre = Point2::from(mean + d);
        let radius = (x.z + d.norm_squared()).sqrt();
        if !radius.is_finite() {
            return found;
        }
        found = Some((centre, radius));
        let off = |p: &Point2<f64>| ((p - centre).norm() - radius).abs();
        let limit = 3.0 * median(of.iter().map(off).collect())?.max(0.05);
        of = points.iter().filter(|p| off(p) <= limit).copied().collect();
    }
    found
}

/// The four sides through points, by the direction in which most lie on sides.
fn rectangle(points: &[Point2<f64>]) -> Option<(Point2<f64>, Form)> {
    let mut best: Option<(usize, f64)> = None;
    for degree in 0..90_u32 {
        let turn = f64::from(degree).to_radians();
        let on = [0.0, 0.5 * PI].into_iter().map(|quarter| {
            let way = unit(turn + quarter);
            let (a, b) = most(points, &way);
            let on = |p: &&Point2<f64>| {
                let x = p.coords.dot(&way);
                (x - a).abs() < 4.0 || (x - b).abs() < 4.0
            };
            points.iter().filter(on).count()
        });
        let on = on.sum();
        if best.is_none_or(|b| on > b.0) {
            best = Some((on, turn));
        }
    }
    sides_through(points, best?.1)
}

/// The two offsets along a direction at which most points lie, one below the middle, one above.
fn most(points: &[Point2<f64>], way: &Vector2<f64>) -> (f64, f64) {
    let along: Vec<f64> = points.iter().map(|p| p.coords.dot(way)).collect();
    let (low, high) =
        along.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(*x), h.max(*x)));
    let bins = ((high - low) / 4.0) as usize + 1;
    let mut counts = vec![0_usize; bins];
    for x in &along {
        counts[(((x - low) / 4.0) as usize).min(bins - 1)] += 1;
    }
    let peak = |range: std::ops::Range<usize>| {
        let at = range.clone().max_by_key(|n| (counts[*n], bins - n)).unwrap_or(range.start);
        let here: Vec<f64> = along
            .iter()
            .filter(|x| (((**x - low) / 4.0) as usize).min(bins - 1).abs_diff(at) <= 1)
            .copied()
            .collect();
        median(here).unwrap_or(low)
    };
    (peak(0..bins.div_ceil(2)), peak(bins / 2..bins))
}

/// Four sides, turned about `turn`, fitted to the points near them; opposite sides are taken for
/// parallel and neighbours for square, each within what the points say together.
fn sides_through(points: &[Point2<f64>], turn: f64) -> Option<(Point2<f64>, Form)> {
    let mut turn = turn;
    let mut offsets = [0.0; 4];
    for _ in 0..6 {
        let (mut slope, mut weight) = (0.0, 0.0);
        for axis in 0..2 {
            let way = unit(turn + 0.5 * PI * f64::from(axis as u32));
            let along = Vector2::new(-way.y, way.x);
            let (low, high) = most(points, &way);
            for (n, off) in [(axis + 2, low), (axis, high)] {
                let near: Vec<(f64, f64)> = points
                    .iter()
                    .map(|p| (p.coords.dot(&along), p.coords.dot(&way)))
                    .filter(|(_, x)| (x - off).abs() < 4.0)
                    .collect();
                if near.len() < 8 {
                    return None;
                }
                let count = near.len() as f64;
                let mean =
                    near.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0 / count, s.1 + p.1 / count));
                offsets[n] = median(near.iter().map(|p| p.1).collect())?;
                for (u, x) in near {
                    slope += (u - mean.0) * (x - mean.1);
                    weight += (u - mean.0) * (u - mean.0);
                }
            }
        }
        if weight <= 0.0 {
            return None;
        }
        // A side that leans by this much along itself is turned the other way.
        turn -= (slope / weight).atan();
    }
    let (x, y) = (unit(turn), unit(turn + 0.5 * PI));
    let axis =
        Point2::from(x * (0.5 * (offsets[0] + offsets[2])) + y * (0.5 * (offsets[1] + offsets[3])));
    let (a, b) = (0.5 * (offsets[0] - offsets[2]), 0.5 * (offsets[1] - offsets[3]));
    let turned = |quarters: f64| (turn + quarters * 0.5 * PI).rem_euclid(TAU);
    let sides = [(turned(0.0), a), (turned(1.0), b), (turned(2.0), a), (turned(3.0), b)];
    Some((axis, Form::Straight { sides }))
}

/// The outline as a line of known length.
struct Unrolled {
    corners: Vec<Point2<f64>>,
    /// Length up to each corner, and of all.
    lengths: Vec<f64>,
}

impl Unrolled {
    fn new(inner: &Inner) -> Self {
        let smooth = match inner.form {
            Form::Unclear => inner.clone(),
            _ => shaped((inner.axis, inner.form.clone()), inner.rim),
        };
        let corners: Vec<_> = (0..BEARINGS).map(|n| smooth.at(n)).collect();
        let mut lengths = vec![0.0];
        for n in 0..BEARINGS {
            let side = (corners[(n + 1) % BEARINGS] - corners[n]).norm();
            lengths.push(lengths[n] + side);
        }
        Self { corners, lengths }
    }

    fn long(&self) -> f64 {
        self.lengths[BEARINGS]
    }

    /// The place along the outline nearest to a point, and how far outside of it the point is.
    fn project(&self, p: &Point2<f64>, axis: &Point2<f64>) -> (f64, f64) {
        let from = bearing_of(&(p - axis)) + BEARINGS;
        let mut best = (f64::INFINITY, 0.0, 0.0);
        for n in from - 12..=from + 12 {
            let n = n % BEARINGS;
            let (a, b) = (self.corners[n], self.corners[(n + 1) % BEARINGS]);
            let side = b - a;
            let square = side.norm_squared().max(1e-12);
            let share = ((p - a).dot(&side) / square).clamp(0.0, 1.0);
            let off = p - (a + side * share);
            if off.norm_squared() < best.0 {
                let out = side.x * off.y - side.y * off.x < 0.0;
                let far = off.norm();
                best = (
                    off.norm_squared(),
                    self.lengths[n] + share * square.sqrt(),
                    if out { far } else { -far },
                );
            }
        }
        (best.1, best.2)
    }

    /// The place at a length along the outline, and the outward direction there.
    fn at(&self, along: f64) -> (Point2<f64>, Vector2<f64>) {
        let along = along.rem_euclid(self.long());
        let n = self.lengths.partition_point(|l| *l <= along).clamp(1, BEARINGS) - 1;
        let (a, b) = (self.corners[n], self.corners[(n + 1) % BEARINGS]);
        let way = (b - a).try_normalize(0.0).unwrap_or_default();
        (a + way * (along - self.lengths[n]), Vector2::new(way.y, -way.x))
    }
}

/// The wall and its openings, from the points of the wall.
pub(crate) fn seen(
    inner: &Inner,
    wall: &[Point3<f64>],
    space: &Space,
    spacing: f64,
    notes: &mut Vec<String>,
) -> WallSeen {
    let line = Unrolled::new(inner);
    // Along the wall, height, and how far outside of the inner face.
    let marks: Vec<[f64; 3]> = wall
        .iter()
        .filter_map(|p| {
            let (along, out) = line.project(&p.xy(), &inner.axis);
            (out > -CORNER && out < 30.0 && p.z < inner.rim + 4.0).then_some([along, p.z, out])
        })
        .collect();
    let openings = openings(inner, &line, &marks, space, spacing, notes);
    WallSeen {
        axis: inner.axis,
        form: inner.form.clone(),
        outline: (0..BEARINGS).map(|n| inner.at(n)).collect(),
        seen: inner.seen,
        residual: inner.residual,
        rim: inner.rim,
        openings,
    }
}

fn openings(
    inner: &Inner,
    line: &Unrolled,
    marks: &[[f64; 3]],
    space: &Space,
    spacing: f64,
    notes: &mut Vec<String>,
) -> Vec<Opening> {
    let columns = (line.long() / RASTER).ceil().max(1.0) as usize;
    let rows = (inner.rim / RASTER).floor().max(1.0) as usize;
    let wide = line.long() / columns as f64;
    let mut surface = vec![false; columns * rows];
    for [along, z, _] in marks {
        let (c, r) = ((along / wide) as usize % columns, (z / RASTER).max(0.0) as usize);
        if r < rows {
            surface[r * columns + c] = true;
        }
    }
    let through = |r: usize, c: usize| {
        let (p, out) = line.at((c as f64 + 0.5) * wide);
        let z = (r as f64 + 0.5) * RASTER;
        [1.0, 4.0, 7.0].iter().all(|deep| {
            let q = p + out * *deep;
            let at = space.grid.at(&Point3::new(q.x, q.y, z));
            space.has(at, bit::FREE) && !space.has(at, bit::FULL)
        })
    };
    let mut found = Vec::new();
    let mut taken = surface.clone();
    for start in 0..taken.len() {
        if taken[start] {
            continue;
        }
        taken[start] = true;
        let mut cells = vec![start];
        let mut next = 0;
        while next < cells.len() {
            let (r, c) = (cells[next] / columns, cells[next] % columns);
            next += 1;
            let sides = [
                Some((r, (c + 1) % columns)),
                Some((r, (c + columns - 1) % columns)),
                (r + 1 < rows).then_some((r + 1, c)),
                r.checked_sub(1).map(|r| (r, c)),
            ];
            for (r, c) in sides.into_iter().flatten() {
                let n = r * columns + c;
                if !taken[n] {
                    taken[n] = true;
                    cells.push(n);
                }
            }
        }
        let passed = cells.iter().filter(|n| through(**n / columns, **n % columns)).count();
        let edge = cells.iter().any(|n| *n / columns == 0 || *n / columns + 1 == rows);
        if edge {
            if passed as f64 * RASTER * wide >= OPENING * OPENING {
                notes.push(format!(
                    "lines of sight pass the wall at bearing {:.0} deg, where no edge was seen all \
                     around: not taken for an opening",
                    (start % columns) as f64 / columns as f64 * 360.0
                ));
            }
            continue;
        }
        found.extend(measured(inner, line, marks, &cells, [columns, rows], wide, spacing).map(
            |mut o| {
                o.seen_through = 4 * passed >= cells.len().max(1);
                o
            },
        ));
    }
    found.sort_by(|a, b| {
        let bearing = |o: &Opening| {
            let d = o.middle.xy() - inner.axis;
            d.y.atan2(d.x).rem_euclid(TAU)
        };
        bearing(a).total_cmp(&bearing(b)).then(a.sill.total_cmp(&b.sill))
    });
    found
}

/// An opening's size from the points about it, or `None` where it is too small.
fn measured(
    inner: &Inner,
    line: &Unrolled,
    marks: &[[f64; 3]],
    cells: &[usize],
    [columns, _rows]: [usize; 2],
    wide: f64,
    spacing: f64,
) -> Option<Opening> {
    // Columns from the first one's, so that an opening across the seam is one.
    let zero = cells[0] % columns;
    let from_zero = |c: usize| {
        let d = (c + columns - zero) % columns;
        if d > columns / 2 { d as f64 - columns as f64 } else { d as f64 }
    };
    let span = |of: &dyn Fn(usize) -> f64| {
        cells
            .iter()
            .map(|n| of(*n))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)))
    };
    let (c0, c1) = span(&|n| from_zero(n % columns));
    let (r0, r1) = span(&|n| (n / columns) as f64);
    let (low, high) = (r0 * RASTER, (r1 + 1.0) * RASTER);
    let (left, right) = (c0 * wide, (c1 + 1.0) * wide);
    if right - left < OPENING || high - low < OPENING || right - left > 0.4 * line.long() {
        return None;
    }
    let origin = zero as f64 * wide;
    let near: Vec<[f64; 3]> = marks
        .iter()
        .map(|[along, z, out]| {
            let d = (along - origin).rem_euclid(line.long());
            [if d > 0.5 * line.long() { d - line.long() } else { d }, *z, *out]
        })
        .filter(|[x, z, _]| {
            *x > left - 30.0 && *x < right + 30.0 && *z > low - 30.0 && *z < high + 30.0
        })
        .collect();
    let middle = [0.5 * (left + right), 0.5 * (low + high)];
    let half = [0.3 * (right - left), 0.3 * (high - low)];
    // The edge on each side, line by line over the middle part of the opening.
    let edge = |axis: usize, sign: f64| -> Option<(f64, f64)> {
        let other = 1 - axis;
        let lines = (2.0 * half[other] / RASTER).ceil().max(1.0) as usize;
        let mut nearest = vec![f64::INFINITY; lines];
        for p in &near {
            let n = (p[other] - middle[other] + half[other]) / RASTER;
            let off = sign * (p[axis] - middle[axis]);
            if n >= 0.0 && (n as usize) < lines && off > 0.0 {
                let n = n as usize;
                nearest[n] = nearest[n].min(off);
            }
        }
        let known: Vec<f64> = nearest.into_iter().filter(|x| x.is_finite()).collect();
        let at = median(known.clone())?;
        let wander = known.iter().map(|x| (x - at).abs()).fold(0.0, f64::max);
        Some((middle[axis] + sign * at, wander))
    };
    let edges = [edge(0, -1.0)?, edge(0, 1.0)?, edge(1, -1.0)?, edge(1, 1.0)?];
    let wander = edges.iter().map(|e| e.1).fold(0.0, f64::max);
    let [left, right, low, high] = edges.map(|e| e.0);
    if right - left < OPENING || high - low < OPENING {
        return None;
    }
    let (p, out) = line.at(origin + 0.5 * (left + right));
    Some(Opening {
        middle: Point3::new(p.x, p.y, 0.5 * (low + high)),
        facing: facing(inner, &p, &out),
        width: right - left,
        height: high - low,
        sill: low,
        thickness: thickness(&near),
        seen_through: false,
        deviation: wander + spacing,
    })
}

fn facing(inner: &Inner, p: &Point2<f64>, out: &Vector2<f64>) -> f64 {
    let way = match &inner.form {
        Form::Round { .. } => p - inner.axis,
        _ => *out,
    };
    way.y.atan2(way.x).rem_euclid(TAU)
}

/// How far outside of the inner face most of the points beyond it lie, if they agree.
fn thickness(near: &[[f64; 3]]) -> Option<f64> {
    let beyond: Vec<f64> = near.iter().map(|p| p[2]).filter(|out| *out > 2.5).collect();
    let mut counts = [0_usize; 32];
    for out in &beyond {
        counts[(*out as usize).min(31)] += 1;
    }
    let (at, _) = counts.iter().enumerate().max_by_key(|(n, c)| (**c, 32 - n))?;
    let here: Vec<f64> =
        beyond.iter().filter(|o| (**o - at as f64 - 0.5).abs() < 1.5).copied().collect();
    let agree = here.len() >= 30 && 2 * here.len() > beyond.len();
    agree.then(|| median(here)).flatten()
}
