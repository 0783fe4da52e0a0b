//! The sidewall's inner face out of points.

use crate::draft::Reason;
use crate::face::Face;
use crate::fit::{self, Line};
use crate::scanned::{doubtful, likely};
use crate::wall::{self, Wall};
use nalgebra::{Point2, Point3, Vector2, Vector3};
use std::f64::consts::TAU;

const BINS: usize = 720;
/// A wall is at least this tall, and met at this share of the bearings.
const TALL: f64 = 60.0;
const AROUND: f64 = 0.6;
/// Points this near a corner belong to neither side, mm.
const CORNER: f64 = 15.0;

/// The wall with what was seen of it.
#[derive(Debug, Clone)]
pub(super) struct Ring {
    pub(super) wall: Wall,
    /// Its inner face seen from above, in order.
    pub(super) outline: Vec<Point2<f64>>,
    /// Share of bearings at which it was seen.
    pub(super) seen: f64,
}

fn bin_of(out: &Vector2<f64>) -> usize {
    let share = out.y.atan2(out.x).rem_euclid(TAU) / TAU;
    fit::whole(share * BINS as f64).min(BINS - 1)
}

/// The inner face of a wall around the middle of its points; `None` where they surround nothing.
pub(super) fn of(points: &[Point3<f64>], sigma: f64) -> Option<Ring> {
    if points.len() < 100 {
        return None;
    }
    let sorted = |value: &dyn Fn(&Point3<f64>) -> f64| {
        let mut all: Vec<f64> = points.iter().map(value).collect();
        all.sort_by(f64::total_cmp);
        all
    };
    let share = |all: &[f64], share: f64| all[fit::whole(share * (all.len() - 1) as f64)];
    let heights = sorted(&|p| p.z);
    let rim = share(&heights, 0.98);
    if rim < TALL {
        return None;
    }
    let (x, y) = (sorted(&|p| p.x), sorted(&|p| p.y));
    let middle = |all: &[f64]| 0.5 * (share(all, 0.01) + share(all, 0.99));
    let mut centre = Point2::new(middle(&x), middle(&y));
    let band: Vec<Point3<f64>> =
        points.iter().filter(|p| p.z > 0.15 * rim && p.z < 0.9 * rim).copied().collect();
    let mut ring = once(&band, &centre, rim, sigma)?;
    for _ in 0..2 {
        centre = ring.wall.centre();
        ring = once(&band, &centre, rim, sigma)?;
    }
    Some(ring)
}

fn once(band: &[Point3<f64>], centre: &Point2<f64>, rim: f64, sigma: f64) -> Option<Ring> {
    let mut bins: Vec<Vec<(f64, usize)>> = vec![Vec::new(); BINS];
    for (index, p) in band.iter().enumerate() {
        let out = p.xy() - centre;
        bins[bin_of(&out)].push((out.norm(), index));
    }
    let mut inner: Vec<Point3<f64>> = Vec::new();
    let mut outline: Vec<Option<Point2<f64>>> = Vec::new();
    for bin in &mut bins {
        if bin.len() < 3 {
            outline.push(None);
            continue;
        }
        bin.sort_by(|a, b| a.0.total_cmp(&b.0));
        // A few points astray inside do not make the face.
        let near = bin[bin.len() / 20].0 + 3.0 + 6.0 * sigma;
        let face: Vec<Point3<f64>> =
            bin.iter().take_while(|b| b.0 <= near).map(|b| band[b.1]).collect();
        let sum = face.iter().fold(Vector2::zeros(), |s, p| s + p.xy().coords);
        outline.push(Some(Point2::from(sum / face.len() as f64)));
        inner.extend(face);
    }
    let seen = outline.iter().flatten().count() as f64 / BINS as f64;
    if seen < AROUND {
        return None;
    }
    let faces: Vec<Face> = (0..BINS).filter_map(|i| upright(&outline, i, centre, rim)).collect();
    let faces: Vec<&Face> = faces.iter().collect();
    let wall = refined(wall::inner(&faces, centre, 1.0 + 2.0 * sigma), &inner, sigma);
    let outline = outline.into_iter().flatten().collect();
    Some(Ring { wall, outline, seen })
}

/// An upright piece of the face at a bearing, from its neighbours' places.
fn upright(
    outline: &[Option<Point2<f64>>],
    at: usize,
    centre: &Point2<f64>,
    rim: f64,
) -> Option<Face> {
    let near = |step: usize| outline[(at + step) % BINS];
    let p = outline[at]?;
    let (a, b) = (near(BINS - 3)?, near(3)?);
    let along = (b - a).try_normalize(1e-9)?;
    if (b - a).norm() > 60.0 {
        return None;
    }
    let wide = (near(1).unwrap_or(p) - near(BINS - 1).unwrap_or(p)).norm() * 0.5;
    let mut normal = Vector3::new(along.y, -along.x, 0.0);
    if normal.xy().dot(&(p - centre)) > 0.0 {
        normal = -normal;
    }
    let corner = |side: f64, z: f64| {
        let q = p + along * (side * wide);
        Point3::new(q.x, q.y, z)
    };
    let (low, high) = (0.2 * rim, 0.8 * rim);
    let corners = [corner(-0.5, low), corner(0.5, low), corner(0.0, high)];
    Some(Face { corners, normal, area: (wide * 0.6 * rim).max(1e-6) })
}

/// The same wall once more from all points of its inner face.
fn refined(wall: Wall, inner: &[Point3<f64>], sigma: f64) -> Wall {
    let floor = 3.0 * sigma;
    match wall {
        Wall::Round(circle) => {
            let near: Vec<(Point2<f64>, f64)> = inner
                .iter()
                .map(Point3::xy)
                .filter(|p| ((p - circle.centre).norm() - circle.radius).abs() < 2.0 + 2.0 * floor)
                .map(|p| (p, 1.0))
                .collect();
            Wall::Round(fit::circle(&near, floor).unwrap_or(circle))
        }
        Wall::Straight { centre, sides } => {
            let off = |l: &Line, p: &Point2<f64>| l.normal.dot(&p.coords) - l.offset;
            let refined: Vec<Line> = sides
                .iter()
                .enumerate()
                .map(|(i, side)| {
                    let near: Vec<(Point2<f64>, f64)> = inner
                        .iter()
                        .map(Point3::xy)
                        .filter(|p| off(side, p).abs() < 2.0 + 2.0 * floor)
                        .filter(|p| {
                            let others = sides.iter().enumerate().filter(|(j, _)| *j != i);
                            others.into_iter().all(|(_, l)| off(l, p) < -CORNER)
                        })
                        .map(|p| (p, 1.0))
                        .collect();
                    fit::line(&near, &side.normal, floor).unwrap_or(*side)
                })
                .collect();
            match wall::middle_of(&refined) {
                Some(centre) => Wall::Straight { centre, sides: refined },
                None => Wall::Straight { centre, sides },
            }
        }
        unclear @ Wall::Unclear { .. } => unclear,
    }
}

impl Ring {
    /// The bearing of the side's normal that is nearest to +x, radians; 0 for a round wall.
    pub(super) fn square_x(&self) -> f64 {
        match &self.wall {
            Wall::Straight { sides, .. } => {
                let best = sides.iter().max_by(|a, b| a.normal.x.total_cmp(&b.normal.x));
                best.map_or(0.0, |side| side.normal.y.atan2(side.normal.x))
            }
            _ => 0.0,
        }
    }

    /// The inner radius, where it is round, mm.
    pub(super) fn across(&self) -> f64 {
        match &self.wall {
            Wall::Round(circle) => circle.radius,
            _ => 0.0,
        }
    }

    /// Why the origin lies where it does.
    pub(super) fn origin(&self, across: &str) -> Reason {
        let seen = format!("seen at {:.0} % of the bearings", 100.0 * self.seen);
        match &self.wall {
            Wall::Round(_) => {
                likely(format!("the housing's inner face is a circle, {across} across, {seen}"))
            }
            Wall::Straight { sides, .. } => likely(format!(
                "the housing's inner face has {} straight sides, {seen}; their middle is taken",
                sides.len()
            )),
            Wall::Unclear { .. } => doubtful(format!(
                "the housing's inner face, {seen}, is neither round nor of opposite straight sides; \
                 the middle of what was seen of it is taken"
            )),
        }
    }
}
