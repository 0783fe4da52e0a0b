//! Openings in the sidewall: found by level rays from the axis, measured by rays along their facing.

use crate::around::Around;
use crate::face::Face;
use crate::fit::{self, median};
use crate::wall::Wall;
use gap::{Solid, ray_hits};
use nalgebra::{Point2, Point3, Vector2, Vector3};
use std::f64::consts::TAU;

/// Bearings and heights of the rays that find openings.
const BEARINGS: usize = 720;
const STEP: f64 = 2.0;
/// An opening narrower or lower than this is no port: nothing of a foot goes in, mm.
pub(crate) const LEAST: f64 = 40.0;
/// An opening this small goes unmentioned: the rays step about as far, mm.
const SPECK: f64 = 4.0;
/// A wall, its weld and its flange are within this of the inner face, mm.
const THROUGH: f64 = 60.0;

/// An opening as the rays from the axis see it.
#[derive(Debug, Clone)]
pub(crate) struct Opening {
    /// Its middle, radians.
    pub(crate) bearing: f64,
    /// Its span, radians.
    pub(crate) span: f64,
    /// Lowest and highest ray through it, mm.
    pub(crate) low: f64,
    pub(crate) high: f64,
    /// Whether there is no wall above it, or none below it.
    pub(crate) open_above: bool,
    pub(crate) open_below: bool,
}

/// The openings of the sidewall's faces about the axis at the origin.
pub(crate) fn openings(faces: &[Face], rim: f64) -> Vec<Opening> {
    let around = Around::of(faces, &Point2::origin(), BEARINGS, rim, STEP);
    let rows = around.rows;
    let mut label = vec![usize::MAX; BEARINGS * rows];
    let mut found = Vec::new();
    for start in 0..BEARINGS * rows {
        let (column, row) = (start / rows, start % rows);
        if label[start] != usize::MAX || around.is_met(column, row) {
            continue;
        }
        let number = found.len();
        label[start] = number;
        let mut cells = vec![start];
        let mut next = 0;
        while next < cells.len() {
            let (column, row) = (cells[next] / rows, cells[next] % rows);
            next += 1;
            let sides = [
                Some(((column + 1) % BEARINGS, row)),
                Some(((column + BEARINGS - 1) % BEARINGS, row)),
                (row + 1 < rows).then_some((column, row + 1)),
                (row > 0).then(|| (column, row - 1)),
            ];
            for (c, r) in sides.into_iter().flatten() {
                let at = c * rows + r;
                if label[at] == usize::MAX && !around.is_met(c, r) {
                    label[at] = number;
                    cells.push(at);
                }
            }
        }
        found.push(cells);
    }
    found.into_iter().filter_map(|cells| opening(&around, &cells)).collect()
}

fn opening(around: &Around, cells: &[usize]) -> Option<Opening> {
    let rows = around.rows;
    let row_of = |cell: &usize| cell % rows;
    let (low, high) = (cells.iter().map(row_of).min()?, cells.iter().map(row_of).max()?);
    let mut columns: Vec<usize> = cells.iter().map(|c| c / rows).collect();
    columns.sort_unstable();
    columns.dedup();
    // The columns that are not part of it leave a gap; it begins after the widest.
    let count = columns.len();
    let after = (0..count).max_by_key(|i| {
        let next = columns[(i + 1) % count];
        (next + around.bearings - columns[*i] - 1) % around.bearings
    })?;
    let first = columns[(after + 1) % count];
    let wide = if count == around.bearings {
        count
    } else {
        (columns[after] + around.bearings - first) % around.bearings + 1
    };
    let step = TAU / around.bearings as f64;
    Some(Opening {
        bearing: (first as f64 + 0.5 * wide as f64) * step,
        span: wide as f64 * step,
        low: around.height(low),
        high: around.height(high),
        open_above: high + 1 == rows,
        open_below: low == 0,
    })
}

impl Opening {
    /// About how wide and high it is, mm.
    pub(crate) fn size(&self, wall: &Wall) -> (f64, f64) {
        let way = Vector2::new(self.bearing.cos(), self.bearing.sin());
        (self.span * wall.roughly(&way), self.high - self.low + STEP)
    }

    /// Whether it is too small to be told from what lies between two rays.
    pub(crate) fn is_speck(&self, wall: &Wall) -> bool {
        let (wide, high) = self.size(wall);
        wide.min(high) <= SPECK
    }
}

/// An opening measured.
#[derive(Debug, Clone)]
pub(crate) struct Measured {
    pub(crate) at: Point2<f64>,
    /// Outward, unit length.
    pub(crate) facing: Vector2<f64>,
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) sill: f64,
    pub(crate) wall: f64,
    /// How far the edges wander from straight, mm.
    pub(crate) wander: f64,
    /// Whether the edges are straight, and whether the corners are open too.
    pub(crate) straight: bool,
    pub(crate) square: bool,
    /// Whether the wall beside it has more than one thickness.
    pub(crate) uneven: bool,
}

/// Where rays through an opening begin and how far they go.
struct Gate<'s> {
    solid: &'s Solid,
    facing: Vector2<f64>,
    from: f64,
    to: f64,
}

impl Gate<'_> {
    fn left(&self) -> Vector2<f64> {
        Vector2::new(-self.facing.y, self.facing.x)
    }

    fn start(&self, u: f64, z: f64) -> Point3<f64> {
        let p = self.facing * self.from + self.left() * u;
        Point3::new(p.x, p.y, z)
    }

    /// Distances along the facing at which a ray meets the wall.
    fn hits(&self, u: f64, z: f64) -> Vec<(f64, u32)> {
        let way = Vector3::new(self.facing.x, self.facing.y, 0.0);
        ray_hits(self.solid, &self.start(u, z), &way)
            .unwrap_or_default()
            .into_iter()
            .map(|hit| (self.from + hit.distance, hit.triangle))
            .filter(|(at, _)| *at <= self.to)
            .collect()
    }

    /// How far from the axis the surface lies that a ray at `u` has met. On a round wall its triangle's
    /// corners lie `within` one circle, the rest of the triangle up to a chord's height inside; a flat
    /// one's do not, and what the ray has met counts.
    fn radius_of(&self, hit: &(f64, u32), u: f64, within: f64) -> f64 {
        let met = hit.0.hypot(u);
        let corners = self.solid.mesh().corners(hit.1 as usize).map(|p| p.xy().coords.norm());
        let alike = corners.iter().all(|r| (r - corners[0]).abs() <= within);
        if alike && corners.iter().all(|r| (r - met).abs() < 3.0) {
            corners.iter().sum::<f64>() / 3.0
        } else {
            met
        }
    }

    fn is_open(&self, u: f64, z: f64) -> bool {
        self.hits(u, z).is_empty()
    }

    /// The last open place from `from` on along `way`, of at most `most` mm; `None` where the way
    /// begins blocked or nothing ends it.
    fn edge(&self, from: Vector2<f64>, way: Vector2<f64>, most: f64) -> Option<f64> {
        let open = |t: f64| {
            let p = from + way * t;
            self.is_open(p.x, p.y)
        };
        if !open(0.0) {
            return None;
        }
        let step = 4.0;
        let (mut low, mut high) = (0.0, step);
        while open(high) {
            low = high;
            high += step;
            if high > most {
                return None;
            }
        }
        while high - low > 1e-6 {
            let middle = 0.5 * (low + high);
            if open(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(low)
    }
}

/// Places across the middle of an edge, as shares of half its length.
const ALONG: [f64; 9] = [-0.8, -0.6, -0.4, -0.2, 0.0, 0.2, 0.4, 0.6, 0.8];

/// Measures an opening of a sidewall about the axis at the origin.
pub(crate) fn measure(
    solid: &Solid,
    opening: &Opening,
    wall: &Wall,
    deviation: f64,
) -> Option<Measured> {
    let mut facing = Vector2::new(opening.bearing.cos(), opening.bearing.sin());
    let mut middle = facing * wall.reach(&facing)?;
    let side = match wall {
        Wall::Straight { sides, .. } => {
            let nearest = sides.iter().max_by(|a, b| {
                let over = |l: &fit::Line| l.normal.dot(&middle) - l.offset;
                over(a).total_cmp(&over(b))
            })?;
            Some(*nearest)
        }
        _ => flat_beside(solid, opening, wall, deviation),
    };
    if let Some(side) = &side {
        middle = facing * (side.offset / side.normal.dot(&facing).max(0.1));
        facing = side.normal;
    }
    let (_, tall) = opening.size(wall);
    let mut z = 0.5 * (opening.low + opening.high);
    let mut found: Option<Measured> = None;
    for _ in 0..6 {
        let near = facing.dot(&middle);
        let gate = Gate { solid, facing, from: near - 30.0, to: near + THROUGH };
        let u = gate.left().dot(&middle);
        let edges = edges(&gate, u, z, 0.5 * tall)?;
        let (at_u, at_z) = (edges.u(), edges.z());
        let wall = through(&gate, &edges, side.as_ref(), deviation)?;
        let at = gate.facing * (wall.inner + 0.5 * wall.thick) + gate.left() * at_u;
        found = Some(edges.measured(&gate, at, &wall));
        z = at_z;
        let turned = if side.is_some() { facing } else { at.normalize() };
        let moved = (turned - facing).norm() * near + (at_u - u).abs();
        facing = turned;
        let along = if side.is_some() { at_u } else { 0.0 };
        middle = facing * wall.inner + Vector2::new(-facing.y, facing.x) * along;
        if moved < 1e-6 {
            break;
        }
    }
    found
}

/// Bearings beside an opening at which its wall is looked at, radians from its ends, which are known as the
/// rays step.
const BESIDE: [f64; 5] = [0.02, 0.03, 0.045, 0.055, 0.07];

/// The flat piece of a wall that is round elsewhere, where the opening lies in one, as in a housing with a
/// flattened side: what is met on both sides of it lies in one line, and not where the wall is known to be.
fn flat_beside(solid: &Solid, opening: &Opening, wall: &Wall, deviation: f64) -> Option<fit::Line> {
    let within = 0.5 + deviation;
    let (low, high) = (opening.low, opening.high);
    let mut points: Vec<(Point2<f64>, f64)> = Vec::new();
    for side in [-1.0, 1.0] {
        let before = points.len();
        for z in [0.3, 0.5, 0.7].map(|share| low + (high - low) * share) {
            for beside in BESIDE {
                let bearing = opening.bearing + side * (0.5 * opening.span + beside);
                let way = Vector3::new(bearing.cos(), bearing.sin(), 0.0);
                let hits = ray_hits(solid, &Point3::new(0.0, 0.0, z), &way).unwrap_or_default();
                let first = hits.iter().map(|hit| hit.distance).reduce(f64::min);
                points.extend(first.map(|d| (Point2::from(way.xy() * d), 1.0)));
            }
        }
        // Both sides have to be seen.
        if points.len() < before + 2 * BESIDE.len() {
            return None;
        }
    }
    let way = Vector2::new(opening.bearing.cos(), opening.bearing.sin());
    let line = fit::line(&points, &way, 0.02)?;
    let off = |p: &Point2<f64>| (line.normal.dot(&p.coords) - line.offset).abs();
    let bent = |p: &Point2<f64>| {
        let reach = wall.reach(&p.coords).unwrap_or(f64::INFINITY);
        (p.coords.norm() - reach).abs() > 2.0 * within
    };
    let flat = points.iter().all(|(p, _)| off(p) <= within);
    let elsewhere = 2 * points.iter().filter(|(p, _)| bent(p)).count() > points.len();
    (flat && elsewhere && line.normal.dot(&way) > 0.5).then_some(line)
}

/// Left, right, lower and upper edge, each as it is met at several places.
struct Edges {
    sides: [Vec<f64>; 4],
}

impl Edges {
    fn middle(&self, i: usize) -> f64 {
        median(self.sides[i].iter().copied())
    }

    fn u(&self) -> f64 {
        0.5 * (self.middle(0) + self.middle(1))
    }

    fn z(&self) -> f64 {
        0.5 * (self.middle(2) + self.middle(3))
    }

    fn width(&self) -> f64 {
        self.middle(1) - self.middle(0)
    }

    fn height(&self) -> f64 {
        self.middle(3) - self.middle(2)
    }

    fn measured(&self, gate: &Gate<'_>, at: Vector2<f64>, wall: &Through) -> Measured {
        let wander = (0..4)
            .flat_map(|i| self.sides[i].iter().map(move |e| (e - self.middle(i)).abs()))
            .fold(0.0, f64::max);
        let (width, height) = (self.width(), self.height());
        let corner = |s: f64, t: f64| {
            gate.is_open(self.u() + s * 0.46 * width, self.z() + t * 0.46 * height)
        };
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        Measured {
            at: Point2::from(at),
            facing: gate.facing,
            width,
            height,
            sill: self.middle(2),
            wall: wall.thick,
            wander,
            straight: wander <= 0.05 * width.min(height),
            square: corners.iter().all(|(s, t)| corner(*s, *t)),
            uneven: wall.uneven,
        }
    }
}

fn edges(gate: &Gate<'_>, u: f64, z: f64, half_tall: f64) -> Option<Edges> {
    let most = 600.0;
    let across = |z: f64, way: f64| {
        gate.edge(Vector2::new(u, z), Vector2::new(way, 0.0), most).map(|t| u + way * t)
    };
    let collect = |places: &[f64], edge: &dyn Fn(f64) -> Option<f64>| {
        let met: Vec<f64> = places.iter().filter_map(|p| edge(*p)).collect();
        (2 * met.len() > places.len()).then_some(met)
    };
    let heights = ALONG.map(|s| z + 0.85 * s * half_tall);
    let left = collect(&heights, &|z| across(z, -1.0))?;
    let right = collect(&heights, &|z| across(z, 1.0))?;
    let (a, b) = (median(left.iter().copied()), median(right.iter().copied()));
    let places = ALONG.map(|s| 0.5 * (a + b) + 0.85 * s * 0.5 * (b - a));
    let upright = |u: f64, way: f64| {
        gate.edge(Vector2::new(u, z), Vector2::new(0.0, way), most).map(|t| z + way * t)
    };
    let lower = collect(&places, &|u| upright(u, -1.0))?;
    let upper = collect(&places, &|u| upright(u, 1.0))?;
    Some(Edges { sides: [left, right, lower, upper] })
}

/// The wall beside an opening.
struct Through {
    /// Its inner face along the facing, or from the axis where it is round, mm.
    inner: f64,
    thick: f64,
    uneven: bool,
}

/// Looks at the wall from beside the opening.
fn through(
    gate: &Gate<'_>,
    edges: &Edges,
    side: Option<&fit::Line>,
    deviation: f64,
) -> Option<Through> {
    let half = 0.5 * edges.width();
    let within = 0.5 + deviation;
    let mut inner: Vec<f64> = Vec::new();
    let mut outer: Vec<f64> = Vec::new();
    for beside in [6.0, 12.0, 20.0] {
        for way in [-1.0, 1.0] {
            for s in ALONG {
                let u = edges.u() + way * (half + beside);
                let hits = gate.hits(u, edges.z() + s * 0.5 * edges.height());
                let (Some(first), Some(last)) = (hits.first(), hits.last()) else { continue };
                // About a round wall's axis both are radii; along a straight one, ways.
                let far = |hit: &(f64, u32)| match side {
                    Some(_) => hit.0,
                    None => gate.radius_of(hit, u, within),
                };
                if last.0 - first.0 > 0.5 {
                    inner.push(far(first));
                    outer.push(far(last));
                }
            }
        }
    }
    if inner.len() < 9 {
        return None;
    }
    let (mut near, far) = (trimmed(&inner), trimmed(&outer));
    // A rib or pad, inside or outside, on one side of it or on both.
    let is_uneven = |all: &[f64], usual: f64| {
        5 * all.iter().filter(|v| (**v - usual).abs() > within).count() > all.len()
    };
    let uneven = is_uneven(&inner, near) || is_uneven(&outer, far);
    // The whole side is known better than what lies beside one opening.
    if let Some(side) = side
        && (side.offset - near).abs() <= 0.2 + deviation
    {
        near = side.offset;
    }
    Some(Through { inner: near, thick: far - near, uneven })
}

/// The mean of what lies near the median.
fn trimmed(values: &[f64]) -> f64 {
    let middle = median(values.iter().copied());
    let usual = median(values.iter().map(|v| (v - middle).abs()));
    let near: Vec<f64> =
        values.iter().copied().filter(|v| (v - middle).abs() <= (4.0 * usual).max(0.01)).collect();
    near.iter().sum::<f64>() / near.len().max(1) as f64
}

/// How much of an opening a body covers, looking along its facing: the share of rays that meet it
/// between the wall's inner face and some way outside.
pub(crate) fn covers(solid: &Solid, port: &Measured) -> f64 {
    let left = Vector2::new(-port.facing.y, port.facing.x);
    let near = port.facing.dot(&port.at.coords) - 0.5 * port.wall;
    let u = left.dot(&port.at.coords);
    let way = Vector3::new(port.facing.x, port.facing.y, 0.0);
    let (mut met, mut all) = (0_u32, 0_u32);
    for i in 0..7 {
        for j in 0..7 {
            let side = (f64::from(i) / 6.0 - 0.5) * 0.9 * port.width;
            let z = port.sill + (0.05 + 0.9 * f64::from(j) / 6.0) * port.height;
            let from = port.facing * near + left * (u + side);
            let hits = ray_hits(solid, &Point3::new(from.x, from.y, z), &way).unwrap_or_default();
            all += 1;
            met += u32::from(hits.iter().any(|hit| hit.distance <= port.wall + THROUGH));
        }
    }
    f64::from(met) / f64::from(all)
}

impl Opening {
    /// Whether something of a foot may go in.
    pub(crate) fn is_large(&self, wall: &Wall) -> bool {
        let (wide, high) = self.size(wall);
        wide >= LEAST && high >= LEAST
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of a wall that is neither round nor straight too: what is as large as a port is asked about.
    #[test]
    fn an_opening_in_a_wall_of_unclear_form_is_no_speck() {
        let opening = Opening {
            bearing: 1.0,
            span: 0.3,
            low: 45.0,
            high: 130.0,
            open_above: false,
            open_below: false,
        };
        let wall = Wall::Unclear { centre: Point2::origin(), about: 320.0 };
        let (wide, high) = opening.size(&wall);
        assert!((wide - 96.0).abs() < 1e-9 && (high - 85.0 - STEP).abs() < 1e-9);
        assert!(opening.is_large(&wall) && !opening.is_speck(&wall));
    }
}
