//! The plate's plane among all that was seen, which side of it is up, and how much the points scatter.
//!
//! A car top has many planes: the lid, flats of the housing, a walkway. The plate is the large one that
//! stands inside the housing: walls rise around it, things stand on it, nothing is seen below it, and
//! it was looked at from its upper side. Each of these weighs; where a second plane comes near the
//! first, the answer is in doubt.

use crate::Confidence;
use crate::cells::{even, floor, median, whole};
use crate::chance::Chance;
use crate::near::Near;
use crate::plane::{Plane, Spread, Sums};
use measure::{Length, LengthUnit};
use nalgebra::{
    Isometry3, Matrix3, Point2, Point3, Rotation3, Translation3, UnitQuaternion, Vector3,
};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::f64::consts::{PI, TAU};

/// Points that are looked at to find planes.
const LOOKED_AT: usize = 40_000;
/// Fewer tell nothing.
const TOO_FEW: usize = 200;
/// Places from which a plane is grown.
const TRIES: usize = 400;
/// Planes that are weighed against each other.
const WEIGHED: usize = 8;
/// At first a point within this belongs to a plane, mm: more than scanners scatter as a rule.
const NEAR: f64 = 2.0;
/// A point's own neighbourhood may lean this far from a plane that it belongs to: cosine.
const LEAN: f64 = 0.9;
/// Edge of the squares in which a plane's area is counted, mm.
const SQUARE: f64 = 20.0;
/// The least area of the plate that must be seen, mm2.
const LEAST_AREA: f64 = 10_000.0;
/// What is seen of it must go at least this far from its middle, mm: it is 300 mm wide or more.
const LEAST_RADIUS: f64 = 100.0;
/// What rises this far above a plane is tall, mm: higher than nuts on a housing's base flange, lower
/// than any sidewall.
const TALL: f64 = 120.0;
const NO_WALL: f64 = 720.0;
const SECTORS: usize = 36;
/// What is nearer to the middle than this share of the way to the wall lies well within it: a base
/// flange, a floor around the manway and what lies outside do not.
const CORE: f64 = 0.55;
/// A second plane whose weight is this share of the first's makes a doubt.
const RIVAL: f64 = 0.4;
/// Beyond so many times the scatter a point has no weight (Tukey's biweight at 95 % efficiency).
const TUKEY: f64 = 4.685;
/// Points at most from which the final plane comes.
const FITTED: usize = 1_000_000;

/// What is said of a scan, with how far that can be relied on.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// How far.
    pub confidence: Confidence,
    /// Why, in one sentence without its full stop.
    pub because: String,
}

/// The plate as it was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Plate {
    /// Takes the scan's coordinates to a frame on the plate: z out of it, origin at the middle of what
    /// is seen of it, x as near the scan's own x as it goes. Not yet the plate frame of a case, whose
    /// origin is the housing's axis.
    pub plate_from_scan: Isometry3<f64>,
    /// Why this plane.
    pub plane: Judged,
    /// Why this side is up.
    pub up: Judged,
    /// How far points scatter about the plane, mm: one standard deviation, from the median of the
    /// residuals, so that what is no plate hardly counts. The plate's own unevenness is in it.
    pub sigma: f64,
    /// How far the plane may be wrong at the plate's edge by scatter alone, mm: three standard errors,
    /// as if points erred each by itself.
    pub at_edge: f64,
    /// How far what is seen of it goes from the middle, mm.
    pub radius: f64,
    /// How much of it is seen, mm2, in squares of 20 mm.
    pub area: f64,
    /// Points with weight in the plane.
    pub points: usize,
}

/// Why no plate is found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoPlate {
    /// Too few points.
    #[error("{0} points are too few to find a plate among")]
    TooFew(usize),
    /// No plane is large enough.
    #[error("no flat face as wide as a plate is seen")]
    NoPlane,
    /// No plane has walls around it.
    #[error("no flat face is seen within a wall that rises around it")]
    NoWall,
}

impl NoPlate {
    /// What to do about it.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::TooFew(_) => "give the whole scan",
            Self::NoPlane => {
                "check the unit; scan the plate from above, lid open, so that it is seen between the \
                 fittings"
            }
            Self::NoWall => {
                "scan with the lid open, and the housing too: its inner face must be seen around the plate"
            }
        }
    }
}

/// Finds the plate. `eyes` are the places from which the points were seen, `spacing` is how far apart
/// they lie; all mm, in the scan's coordinates.
pub fn find_plate(
    points: &[Point3<f64>],
    eyes: &[Point3<f64>],
    spacing: f64,
) -> Result<Plate, NoPlate> {
    let few: Vec<Point3<f64>> =
        even(points, spacing, LOOKED_AT).into_iter().map(|i| points[i as usize]).collect();
    if few.len() < TOO_FEW || !few.iter().all(|p| p.iter().all(|c| c.is_finite())) {
        return Err(NoPlate::TooFew(few.len()));
    }
    let normals = normals(&few);
    let mut weighed: Vec<Weighed> = planes(&few, &normals)
        .into_iter()
        .filter_map(|plane| weigh(plane, &few, &normals, eyes))
        .collect();
    weighed.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let best = weighed.first().ok_or(NoPlate::NoPlane)?;
    if best.walled < 0.5 || best.core < LEAST_AREA {
        return Err(NoPlate::NoWall);
    }
    let rival = weighed.get(1).filter(|w| w.weight >= RIVAL * best.weight);
    refined(points, best, rival).ok_or(NoPlate::NoPlane)
}

/// The direction of each point's neighbourhood; zero where it has none.
fn normals(points: &[Point3<f64>]) -> Vec<Vector3<f64>> {
    let near = Near::new(points);
    near.of_each(13, |index, nearest| {
        let mut sums = Sums::about(points[index as usize]);
        for (_, other) in &nearest.found {
            sums.add(&points[*other as usize], 1.0);
        }
        let flat = sums.spread().filter(|s| s.squares[0] < 0.2 * s.squares[1]);
        flat.map_or_else(Vector3::zeros, |s| s.axes[0])
    })
}

/// Different planes with many points, most first.
fn planes(points: &[Point3<f64>], normals: &[Vector3<f64>]) -> Vec<Plane> {
    let mut chance = Chance::new(7);
    let flat: Vec<usize> = (0..points.len()).filter(|i| normals[*i] != Vector3::zeros()).collect();
    if flat.is_empty() {
        return Vec::new();
    }
    let starts: Vec<usize> = (0..TRIES).map(|_| flat[chance.below(flat.len())]).collect();
    let mut grown: Vec<(usize, Plane)> =
        starts.par_iter().filter_map(|start| grow(points, normals, *start)).collect();
    grown.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.on.x.total_cmp(&b.1.on.x)));
    let mut kept: Vec<Plane> = Vec::new();
    for (_, plane) in grown {
        let same = |k: &Plane| {
            k.normal.dot(&plane.normal).abs() > 0.995 && k.off(&plane.on).abs() < 2.0 * NEAR
        };
        if kept.len() < WEIGHED && !kept.iter().any(same) {
            kept.push(plane);
        }
    }
    kept
}

/// A plane from a point's own neighbourhood to ever wider surroundings.
fn grow(points: &[Point3<f64>], normals: &[Vector3<f64>], start: usize) -> Option<(usize, Plane)> {
    let from = points[start];
    let mut plane = Plane { on: from, normal: normals[start] };
    let mut count = 0;
    for within in [40.0, 80.0, 160.0, 320.0, f64::INFINITY, f64::INFINITY] {
        let mut sums = Sums::about(from);
        for (p, normal) in points.iter().zip(normals) {
            if plane.off(p).abs() < NEAR
                && normal.dot(&plane.normal).abs() > LEAN
                && (p - from).norm_squared() < within * within
            {
                sums.add(p, 1.0);
            }
        }
        let spread = sums.spread().filter(|s| s.weight >= 6.0)?;
        plane = Plane { on: spread.middle, normal: spread.axes[0] };
        count = whole(spread.weight);
    }
    Some((count, plane))
}

/// A plane with what speaks for its being the plate.
struct Weighed {
    plane: Plane,
    weight: f64,
    /// Share of bearings at which something tall rises beyond it.
    walled: f64,
    /// How much of it lies well within what is tall around it, mm2.
    core: f64,
    /// Share of what lies over or under it that is above.
    above: f64,
    /// Whether eyes looked at it from above all, from below all, or `None`: both, or no eye is known.
    seen_from_above: Option<bool>,
    radius: f64,
    area: f64,
}

/// Squares of a plane in which points lie: their middles in the plane's own coordinates.
fn squares(points: &[Point3<f64>], frame: &Isometry3<f64>, within: f64) -> Vec<Point2<f64>> {
    let mut held: BTreeSet<(i32, i32)> = BTreeSet::new();
    for p in points {
        let p = frame * p;
        if p.z.abs() < within {
            held.insert((floor(p.x / SQUARE), floor(p.y / SQUARE)));
        }
    }
    let middle = |c: i32| (f64::from(c) + 0.5) * SQUARE;
    held.into_iter().map(|(x, y)| Point2::new(middle(x), middle(y))).collect()
}

fn weigh(
    mut plane: Plane,
    points: &[Point3<f64>],
    normals: &[Vector3<f64>],
    eyes: &[Point3<f64>],
) -> Option<Weighed> {
    let over = eyes.iter().filter(|e| plane.off(e) > 0.0).count();
    if 2 * over < eyes.len() {
        plane.normal = -plane.normal;
    }
    let of_plane: Vec<Point3<f64>> = points
        .iter()
        .zip(normals)
        .filter(|(p, n)| plane.off(p).abs() < NEAR && n.dot(&plane.normal).abs() > LEAN)
        .map(|(p, _)| *p)
        .collect();
    let first = framed(&plane, &plane.on);
    let held = squares(&of_plane, &first, NEAR);
    let area = held.len() as f64 * SQUARE * SQUARE;
    if area < LEAST_AREA {
        return None;
    }
    let sum = held.iter().fold(Point2::origin(), |s, p| s + p.coords);
    let middle = sum / held.len() as f64;
    let mut far: Vec<f64> = held.iter().map(|p| (p - middle).norm()).collect();
    let radius = crate::cells::quantile(&mut far, 0.98) + 0.5 * SQUARE;
    if radius < LEAST_RADIUS {
        return None;
    }
    // What lies over and under the part of the plane that is seen.
    let beside = |p: &Point3<f64>| (p.xy() - middle).norm() < radius && p.z.abs() > 3.0 * NEAR;
    let placed: Vec<Point3<f64>> = points.iter().map(|p| first * p).collect();
    let mut above = placed.iter().filter(|p| beside(p) && p.z > 0.0).count();
    let below = placed.iter().filter(|p| beside(p) && p.z < 0.0).count();
    let all = above + below;
    let turned = eyes.is_empty() && above < below;
    if turned {
        (plane.normal, above) = (-plane.normal, below);
    }
    let up = if turned { -1.0 } else { 1.0 };
    let above = if all == 0 { 0.0 } else { above as f64 / all as f64 };
    // How far out something tall is met, by bearing.
    let mut walls = [0.0_f64; SECTORS];
    let sector = |d: nalgebra::Vector2<f64>| {
        let turn = d.y.atan2(d.x).rem_euclid(TAU) / TAU * SECTORS as f64;
        whole(turn).min(SECTORS - 1)
    };
    for p in placed.iter().filter(|p| up * p.z > TALL && up * p.z < NO_WALL) {
        let out = p.xy() - middle;
        let wall = &mut walls[sector(out)];
        *wall = wall.max(out.norm());
    }
    // A wall stands beyond what is seen of the plane; a fitting within it is no wall.
    let beyond = walls.iter().filter(|w| **w > 0.6 * radius).count();
    let walled = beyond as f64 / SECTORS as f64;
    let inside = |p: &&Point2<f64>| {
        let out = *p - middle;
        out.norm() <= CORE * walls[sector(out)]
    };
    let core = held.iter().filter(inside).count() as f64 * SQUARE * SQUARE;
    let on = first.inverse_transform_point(&Point3::new(middle.x, middle.y, 0.0));
    plane.on = on;
    // Eyes over the plate look at it steeply, and past a wall.
    let steep = |e: &Point3<f64>| plane.off(e) / (e - on).norm().max(1e-9);
    let toward = if eyes.is_empty() {
        1.0
    } else {
        (eyes.iter().map(steep).sum::<f64>() / eyes.len() as f64).max(0.05)
    };
    let seen_from_above = match eyes.iter().filter(|e| plane.off(e) > 0.0).count() {
        _ if eyes.is_empty() => None,
        0 => Some(false),
        n if n == eyes.len() => Some(true),
        _ => None,
    };
    let weight = core * walled.powi(2) * above.powi(4) * toward.powi(2);
    Some(Weighed { plane, weight, walled, core, above, seen_from_above, radius, area })
}

/// A frame on a plane: z along its normal, origin at the point of it nearest to `at`.
fn framed(plane: &Plane, at: &Point3<f64>) -> Isometry3<f64> {
    let z = plane.normal;
    let along = if z.x.abs() < 0.9 { Vector3::x() } else { Vector3::y() };
    let x = (along - z * z.dot(&along)).normalize();
    let rows = Matrix3::from_rows(&[x.transpose(), z.cross(&x).transpose(), z.transpose()]);
    let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(rows));
    let origin = at - z * plane.off(at);
    Isometry3::from_parts(Translation3::from(-(turn * origin.coords)), turn)
}

/// The plane from all its points, with weights that fall to zero away from it.
fn refined(points: &[Point3<f64>], best: &Weighed, rival: Option<&Weighed>) -> Option<Plate> {
    let mut plane = best.plane;
    let about = plane.on;
    let reach = best.radius + SQUARE;
    let near: Vec<Point3<f64>> = points
        .par_iter()
        .filter(|p| plane.off(p).abs() < 2.0 * NEAR && (*p - about).norm_squared() < reach * reach)
        .copied()
        .collect();
    let step = near.len().div_ceil(FITTED).max(1);
    let near: Vec<Point3<f64>> = near.into_iter().step_by(step).collect();
    let mut sigma = NEAR / TUKEY;
    let mut last: Option<(Spread, f64)> = None;
    for _ in 0..20 {
        let weight = |p: &Point3<f64>| {
            let u = plane.off(p) / (TUKEY * sigma);
            if u.abs() < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 }
        };
        let sums: Vec<Sums> = near
            .par_chunks(1 << 14)
            .map(|chunk| {
                let mut sums = Sums::about(about);
                for p in chunk {
                    sums.add(p, weight(p));
                }
                sums
            })
            .collect();
        // Added in one order, whatever the threads did.
        let sums = sums.iter().fold(Sums::about(about), Sums::join);
        let spread = sums.spread().filter(|s| s.weight >= 50.0)?;
        let normal =
            if spread.axes[0].dot(&plane.normal) < 0.0 { -spread.axes[0] } else { spread.axes[0] };
        let turned = (normal - plane.normal).norm() * best.radius;
        let moved = plane.off(&spread.middle).abs();
        plane = Plane { on: spread.middle, normal };
        let mut off: Vec<f64> =
            near.iter().map(|p| plane.off(p).abs()).filter(|d| *d < 5.0 * sigma).collect();
        let next = (1.4826 * median(&mut off)).max(1e-6);
        let settled = turned + moved < 1e-6 && (next - sigma).abs() < 1e-6;
        sigma = next;
        last = Some((spread, sigma));
        if settled {
            break;
        }
    }
    let (spread, sigma) = last?;
    let frame = framed(&plane, &about);
    let within = 3.0 * sigma + 0.1;
    let held = squares(&near, &frame, within);
    let sum = held.iter().fold(Point2::origin(), |s, p| s + p.coords);
    let middle = if held.is_empty() { sum } else { sum / held.len() as f64 };
    let on = frame.inverse_transform_point(&Point3::new(middle.x, middle.y, 0.0));
    let radius = held.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
    let lean = radius * radius / spread.squares[1].max(1e-9);
    let at_edge = 3.0 * sigma * ((1.0 + lean) / spread.weight.max(1.0)).sqrt();
    Some(Plate {
        plate_from_scan: framed(&plane, &on),
        plane: judged_plane(best, rival),
        up: judged_up(best),
        sigma,
        at_edge,
        radius,
        area: held.len() as f64 * SQUARE * SQUARE,
        points: whole(spread.weight),
    })
}

fn judged_plane(best: &Weighed, rival: Option<&Weighed>) -> Judged {
    let because = format!(
        "a flat face of {:.0} cm2, {:.0} cm2 of it well within what is tall around it at {:.0} % of the \
         bearings, and {:.0} % of what lies over or under it above it",
        best.area / 100.0,
        best.core / 100.0,
        100.0 * best.walled,
        100.0 * best.above
    );
    if let Some(rival) = rival {
        let turned = best.plane.normal.dot(&rival.plane.normal).clamp(-1.0, 1.0).acos();
        let off = best.plane.off(&rival.plane.on);
        let because = format!(
            "{because}; but another of {:.0} cm2, turned by {:.0} degrees and {off:.0} mm off, is nearly as \
             good",
            rival.area / 100.0,
            turned.min(PI - turned).to_degrees()
        );
        return Judged { confidence: Confidence::Doubtful, because };
    }
    let plain = best.walled >= 0.8 && best.above >= 0.9;
    let confidence = if plain { Confidence::Likely } else { Confidence::Doubtful };
    Judged { confidence, because }
}

fn judged_up(best: &Weighed) -> Judged {
    let share = 100.0 * best.above;
    let (confidence, because) = match best.seen_from_above {
        Some(true) if best.above >= 0.5 => (
            Confidence::Sure,
            format!("it was seen from this side, and {share:.0} % of what lies off it is there"),
        ),
        Some(true) => (
            Confidence::Doubtful,
            format!(
                "it was seen from this side, but only {share:.0} % of what lies off it is there"
            ),
        ),
        _ if best.above >= 0.75 => (
            Confidence::Likely,
            format!("{share:.0} % of what lies off it is on this side; no eye tells"),
        ),
        _ => (
            Confidence::Doubtful,
            format!("only {share:.0} % of what lies off it is on this side, and no eye tells"),
        ),
    };
    Judged { confidence, because }
}

impl Plate {
    /// How it was met, for people.
    pub fn told(&self, unit: LengthUnit) -> String {
        let show = |mm: f64| Length::from_mm(mm).show_to(unit, unit.usual_places() + 1);
        format!(
            "the plate's plane is met by {} points that scatter by {} (one standard deviation); by \
             scatter alone it is within {} at {} from its middle",
            self.points,
            show(self.sigma),
            show(self.at_edge.max(0.001)),
            show(self.radius)
        )
    }
}

#[cfg(test)]
mod tests;
