//! The housing: what surrounds the middle of the plate, and its axis.

use crate::around::Around;
use crate::face::Face;
use crate::fit::{self, Circle, Line};
use nalgebra::{Matrix2, Point2, Vector2};

/// The sidewall's inner face seen from above.
#[derive(Debug, Clone)]
pub(crate) enum Wall {
    /// Round, with the inner radius.
    Round(Circle),
    /// Straight sides: their inner faces, outward normals, `normal . p = offset`.
    Straight { centre: Point2<f64>, sides: Vec<Line> },
    /// Neither; the middle of its inner faces, and how far from it they are on the mean, mm.
    Unclear { centre: Point2<f64>, about: f64 },
}

impl Wall {
    /// Where the housing's axis meets the plate.
    pub(crate) fn centre(&self) -> Point2<f64> {
        match self {
            Self::Round(circle) => circle.centre,
            Self::Straight { centre, .. } | Self::Unclear { centre, .. } => *centre,
        }
    }

    /// How far the inner face is from the axis in a direction, mm; `None` where that is not known.
    pub(crate) fn reach(&self, way: &Vector2<f64>) -> Option<f64> {
        let way = way.try_normalize(0.0)?;
        match self {
            Self::Round(circle) => Some(circle.radius),
            Self::Straight { centre, sides } => sides
                .iter()
                .filter_map(|side| {
                    let toward = side.normal.dot(&way);
                    let off = side.offset - side.normal.dot(&centre.coords);
                    (toward > 1e-6).then(|| off / toward)
                })
                .reduce(f64::min),
            Self::Unclear { .. } => None,
        }
    }

    /// The same, roughly where it is not known: good enough to tell a port from a speck.
    pub(crate) fn roughly(&self, way: &Vector2<f64>) -> f64 {
        let about = if let Self::Unclear { about, .. } = self { *about } else { 0.0 };
        self.reach(way).unwrap_or(about)
    }

    /// Whether a point lies inside the inner face; not known, it does.
    pub(crate) fn holds(&self, p: &Point2<f64>) -> bool {
        let out = p - self.centre();
        self.reach(&out).is_none_or(|reach| out.norm() < reach)
    }
}

/// Bearings and height of rows when looking for what surrounds the middle.
const BEARINGS: usize = 180;
const STEP: f64 = 5.0;
/// The share of bearings at which a housing is met at the rows that count.
const SURROUNDS: f64 = 0.9;
/// A sidewall begins this low at least and is this tall at least, mm.
const LOWEST: f64 = 60.0;
const TALL: f64 = 60.0;

/// What surrounds the middle and nowhere reaches this share of the wall's distance is no housing.
const BESIDE_THE_WALL: f64 = 0.6;

/// Who makes up the sidewall, and who surrounds the middle without being tall.
#[derive(Debug, Clone, Default)]
pub(crate) struct Surround {
    pub(crate) walls: Vec<usize>,
    pub(crate) rings: Vec<usize>,
    /// Whether several bodies make the sidewall together, none of which does alone.
    pub(crate) in_pieces: bool,
    /// The height to which the sidewall stands nearly all around, mm.
    pub(crate) rim: f64,
}

/// Finds the sidewall among bodies in a frame whose z = 0 is the sealing face, about `axis`.
pub(crate) fn surround(bodies: &[(usize, &[Face])], axis: &Point2<f64>) -> Surround {
    let height = bodies
        .iter()
        .flat_map(|(_, faces)| faces.iter().map(|f| f.heights().1))
        .fold(0.0, f64::max)
        .min(2000.0);
    let all: Vec<(usize, Around)> = bodies
        .iter()
        .map(|(i, faces)| (*i, Around::of(faces, axis, BEARINGS, height, STEP)))
        .filter(|(_, a)| !a.holds_axis)
        .collect();
    // A fitting in the middle with an open bore surrounds it as well, tall or low.
    let least = BESIDE_THE_WALL * usual_reach(&all);
    let all: Vec<(usize, Around)> = all.into_iter().filter(|(_, a)| farthest(a) >= least).collect();
    let mut found = Surround::default();
    for (i, around) in &all {
        match covered(around) {
            Some((low, high)) if low <= LOWEST && high - low >= TALL => {
                found.walls.push(*i);
                found.rim = found.rim.max(high + 0.5 * STEP);
            }
            Some(_) => found.rings.push(*i),
            None => {}
        }
    }
    if found.walls.is_empty() {
        let pieces = outermost(&all);
        let mut joined: Option<Around> = None;
        for (_, around) in all.iter().filter(|(i, _)| pieces.contains(i)) {
            match &mut joined {
                Some(joined) => joined.join(around),
                None => joined = Some(around.clone()),
            }
        }
        let tall = joined.as_ref().and_then(covered);
        if let Some((low, high)) = tall
            && low <= LOWEST
            && high - low >= TALL
        {
            found.rim = high + 0.5 * STEP;
            found.walls = pieces;
            found.in_pieces = true;
        }
    }
    found
}

/// The farthest that a body is met from the axis, mm.
fn farthest(around: &Around) -> f64 {
    around.columns.iter().flatten().map(|c| c.far).fold(0.0, f64::max)
}

/// How far from the axis the outermost of what is tall and low enough for a wall is, at half of the
/// bearings, mm.
fn usual_reach(all: &[(usize, Around)]) -> f64 {
    let outermost = |column: usize| {
        let here = all.iter().filter_map(|(_, a)| a.columns[column]);
        let tall = here.filter(|c| c.low <= LOWEST && c.high - c.low >= TALL);
        tall.map(|c| c.far).reduce(f64::max)
    };
    let reaches: Vec<f64> = (0..BEARINGS).filter_map(outermost).collect();
    if reaches.is_empty() { 0.0 } else { fit::median(reaches) }
}

/// The lowest and highest row at which a body is met nearly all around.
fn covered(around: &Around) -> Option<(f64, f64)> {
    let mut rows = (0..around.rows).filter(|row| around.coverage(*row) >= SURROUNDS);
    let first = rows.next()?;
    Some((around.height(first), around.height(rows.next_back().unwrap_or(first))))
}

/// The bodies that are, at some bearing, the farthest of those about as tall as the tallest there.
fn outermost(all: &[(usize, Around)]) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for column in 0..BEARINGS {
        let here: Vec<(usize, f64, f64)> = all
            .iter()
            .filter_map(|(i, a)| a.columns[column].map(|c| (*i, c.high - c.low, c.far, c.low)))
            .filter(|(_, tall, _, low)| *tall >= TALL && *low <= LOWEST)
            .map(|(i, tall, far, _)| (i, tall, far))
            .collect();
        let tallest = here.iter().map(|(_, tall, _)| *tall).fold(0.0, f64::max);
        let farthest = here
            .iter()
            .filter(|(_, tall, _)| *tall >= 0.6 * tallest)
            .max_by(|a, b| a.2.total_cmp(&b.2));
        if let Some((i, ..)) = farthest
            && !found.contains(i)
        {
            found.push(*i);
        }
    }
    found.sort_unstable();
    found
}

/// Fits the sidewall's inner face. `about` is a point inside; `deviation` is the bodies' own.
pub(crate) fn inner(faces: &[&Face], about: &Point2<f64>, deviation: f64) -> Wall {
    let rim = faces.iter().map(|f| f.heights().1).fold(0.0, f64::max);
    let upright: Vec<&Face> = faces
        .iter()
        .filter(|f| f.is_upright(0.3))
        .filter(|f| {
            let middle = f.middle();
            let out = middle.xy() - about;
            let (low, high) = f.heights();
            high > 0.05 * rim && low < 0.95 * rim && f.normal.xy().dot(&out) < -0.5 * out.norm()
        })
        .copied()
        .collect();
    let corners: Vec<(Point2<f64>, f64)> =
        upright.iter().flat_map(|f| f.corners.map(|p| (p.xy(), f.area / 3.0))).collect();
    if let Some(circle) = fit::circle(&corners, 0.05)
        && circle.usual <= 0.25 + 0.5 * deviation
        && circle.share >= 0.6
    {
        return Wall::Round(circle);
    }
    let sides = sides(&upright, deviation);
    if let Some(centre) = middle_of(&sides) {
        return Wall::Straight { centre, sides };
    }
    let total: f64 = corners.iter().map(|(_, w)| w).sum();
    let sum = corners.iter().fold(Vector2::zeros(), |s, (p, w)| s + p.coords * *w);
    let centre = if total > 0.0 { Point2::from(sum / total) } else { *about };
    let far: f64 = corners.iter().map(|(p, w)| (p - centre).norm() * w).sum();
    Wall::Unclear { centre, about: if total > 0.0 { far / total } else { 0.0 } }
}

/// The straight sides of the inner face, each with a good part of its area, normals outward.
fn sides(upright: &[&Face], deviation: f64) -> Vec<Line> {
    let total: f64 = upright.iter().map(|f| f.area).sum();
    let window = 1.0 + 2.0 * deviation;
    let mut left: Vec<&Face> = upright.to_vec();
    let mut found = Vec::new();
    for _ in 0..16 {
        let Some(best) = fullest_side(&left, window) else { break };
        let (near, rest): (Vec<&Face>, Vec<&Face>) =
            left.iter().partition(|f| best.holds(f, window));
        let area: f64 = near.iter().map(|f| f.area).sum();
        if area < 0.06 * total {
            break;
        }
        left = rest;
        let points: Vec<(Point2<f64>, f64)> =
            near.iter().flat_map(|f| f.mids().map(|p| (p.xy(), f.area / 3.0))).collect();
        found.extend(fit::line(&points, &best.0.normal, 0.02));
    }
    found
}

/// A side as it is looked for.
struct Side(Line);

impl Side {
    fn holds(&self, face: &Face, window: f64) -> bool {
        -face.normal.xy().dot(&self.0.normal) >= 0.97
            && (self.0.normal.dot(&face.middle().coords.xy()) - self.0.offset).abs() <= window
    }
}

/// The side on which most area lies.
fn fullest_side(faces: &[&Face], window: f64) -> Option<Side> {
    let mut largest: Vec<&&Face> = faces.iter().collect();
    largest.sort_by(|a, b| b.area.total_cmp(&a.area));
    let mut best: Option<(f64, Side)> = None;
    for face in largest.into_iter().take(60) {
        let Some(mut normal) = (-face.normal.xy()).try_normalize(0.0) else { continue };
        let mut offset = normal.dot(&face.middle().coords.xy());
        for _ in 0..3 {
            let side = Side(Line { normal, offset });
            let near = faces.iter().filter(|f| side.holds(f, window));
            let (mut sum, mut at, mut area) = (Vector2::zeros(), Vector2::zeros(), 0.0);
            for f in near {
                sum -= f.normal.xy() * f.area;
                at += f.middle().coords.xy() * f.area;
                area += f.area;
            }
            let Some(mean) = sum.try_normalize(0.0) else { break };
            normal = mean;
            offset = normal.dot(&(at / area));
        }
        let side = Side(Line { normal, offset });
        let area: f64 = faces.iter().filter(|f| side.holds(f, window)).map(|f| f.area).sum();
        if best.as_ref().is_none_or(|(most, _)| area > *most) {
            best = Some((area, side));
        }
    }
    best.map(|(_, side)| side)
}

/// The point midway between every pair of opposite sides; `None` where a side has no opposite or all
/// are parallel.
pub(crate) fn middle_of(sides: &[Line]) -> Option<Point2<f64>> {
    let (mut m, mut right) = (Matrix2::zeros(), Vector2::zeros());
    let mut pairs = 0;
    for (i, side) in sides.iter().enumerate() {
        let opposite = sides.iter().position(|other| other.normal.dot(&side.normal) < -0.998)?;
        if opposite < i {
            continue;
        }
        let other = &sides[opposite];
        let across = (side.normal - other.normal).try_normalize(0.0)?;
        // Offsets along the common direction.
        let offset = 0.5 * (side.offset - other.offset);
        m += across * across.transpose();
        right += across * offset;
        pairs += 1;
    }
    if pairs < 2 || m.determinant() < 0.05 {
        return None;
    }
    Some(Point2::from(m.try_inverse()? * right))
}
