//! Circles in level slices of a thing: its flange on the plate, and what stands on it.

use crate::fit::{self, Circle};
use nalgebra::{Point2, Point3, Vector2};
use std::f64::consts::TAU;

const BINS: usize = 72;
const TRIES: u32 = 500;
/// A flange is looked for up to this height, mm, and is this wide, from its middle.
const FLANGE: f64 = 14.0;
const SMALLEST: f64 = 18.0;
const LARGEST: f64 = 250.0;
/// A slice's thickness, mm.
const SLICE: f64 = 6.0;
const THIN: f64 = 3.0;
/// Points from which a slice tells, and the share of bearings from which a circle stands for itself.
const ENOUGH: usize = 8;
const HALF: f64 = 0.5;

/// A circle in a slice.
#[derive(Debug, Clone, Copy)]
pub(super) struct Round {
    pub(super) circle: Circle,
    /// Share of the bearings about its middle at which it was seen.
    pub(super) seen: f64,
    /// Share of the slice's points that lie outside it.
    pub(super) outside: f64,
}

/// A fitting's foot.
#[derive(Debug, Clone)]
pub(super) struct Foot {
    pub(super) round: Round,
    /// How high the circle goes, mm.
    pub(super) tall: f64,
    /// A second circle beside it in the same slice.
    pub(super) second: Option<Round>,
    /// The middle of what is round above it, and of how many slices.
    pub(super) above: Option<(Point2<f64>, usize)>,
}

/// Numbers that are the same each time: which triples are tried must not hang on chance.
struct Steps(u64);

impl Steps {
    fn below(&mut self, count: usize) -> usize {
        // Knuth's multiplier for 64 bits; the upper bits are the good ones.
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % count.max(1) as u64).unwrap_or(0)
    }
}

fn bin_of(out: &Vector2<f64>) -> usize {
    let share = out.y.atan2(out.x).rem_euclid(TAU) / TAU;
    fit::whole(share * BINS as f64).min(BINS - 1)
}

/// Share of the bearings about a circle's middle at which points lie on it.
fn seen(points: &[Point2<f64>], centre: &Point2<f64>, radius: f64, within: f64) -> f64 {
    let mut met = [false; BINS];
    for p in points {
        let out = p - centre;
        if (out.norm() - radius).abs() <= within {
            met[bin_of(&out)] = true;
        }
    }
    met.iter().filter(|m| **m).count() as f64 / BINS as f64
}

/// The circle through three points.
fn through(a: &Point2<f64>, b: &Point2<f64>, c: &Point2<f64>) -> Option<(Point2<f64>, f64)> {
    let (u, v) = (b - a, c - a);
    let double = 2.0 * u.perp(&v);
    if double.abs() < 1e-6 {
        return None;
    }
    let (uu, vv) = (u.norm_squared(), v.norm_squared());
    let off = Vector2::new(v.y * uu - u.y * vv, u.x * vv - v.x * uu) / double;
    Some((a + off, off.norm()))
}

/// The circle on which points are seen from most sides, nothing or little outside it.
fn round(points: &[Point2<f64>], sigma: f64, least: f64) -> Option<Round> {
    if points.len() < 12 {
        return None;
    }
    let within = 0.4 + 2.5 * sigma;
    let step = points.len().div_ceil(3000).max(1);
    let few: Vec<Point2<f64>> = points.iter().step_by(step).copied().collect();
    let mut steps = Steps(points.len() as u64);
    let mut best: Option<(f64, Point2<f64>, f64)> = None;
    for _ in 0..TRIES {
        let [a, b, c] = [(); 3].map(|()| few[steps.below(few.len())]);
        let Some((centre, radius)) = through(&a, &b, &c) else { continue };
        if !(least..=LARGEST).contains(&radius) {
            continue;
        }
        let outside = few.iter().filter(|p| (*p - centre).norm() > radius + 2.0 * within).count();
        let outside = outside as f64 / few.len() as f64;
        let worth = seen(&few, &centre, radius, within) * (1.0 - outside).powi(2);
        if best.is_none_or(|b| worth > b.0) {
            best = Some((worth, centre, radius));
        }
    }
    let (_, centre, radius) = best?;
    let near: Vec<(Point2<f64>, f64)> = points
        .iter()
        .filter(|p| ((*p - centre).norm() - radius).abs() <= 2.0 * within)
        .map(|p| (*p, 1.0))
        .collect();
    let circle = fit::circle(&near, within)?;
    if !(least..=LARGEST).contains(&circle.radius) || !circle.centre.coords.norm().is_finite() {
        return None;
    }
    let beyond =
        points.iter().filter(|p| (*p - circle.centre).norm() > circle.radius + 2.0 * within);
    let outside = beyond.count() as f64 / points.len() as f64;
    let seen = seen(points, &circle.centre, circle.radius, within);
    Some(Round { circle, seen, outside })
}

fn slice(points: &[Point3<f64>], low: f64, high: f64) -> Vec<Point2<f64>> {
    points.iter().filter(|p| p.z >= low && p.z < high).map(Point3::xy).collect()
}

/// The foot of a thing that stands on the plate at z = 0.
pub(super) fn foot(points: &[Point3<f64>], sigma: f64) -> Option<Foot> {
    let from = (5.0 * sigma).max(2.0);
    let low = slice(points, from, from + FLANGE);
    let first = widest(points, from, round(&low, sigma, SMALLEST)?, sigma);
    let within = 0.4 + 2.5 * sigma;
    let circle = first.circle;
    let mut tall = from;
    let mut missed = 0;
    let top = points.iter().map(|p| p.z).fold(0.0, f64::max);
    let mut z = from;
    while z < top && missed < 2 {
        let here = slice(points, z, z + 3.0);
        if seen(&here, &circle.centre, circle.radius, within) >= 0.4 * first.seen {
            tall = z + 3.0;
            missed = 0;
        } else {
            missed += 1;
        }
        z += 3.0;
    }
    let beside: Vec<Point2<f64>> = low
        .iter()
        .filter(|p| (*p - circle.centre).norm() > circle.radius + 2.0 * within)
        .copied()
        .collect();
    let second = round(&beside, sigma, SMALLEST).filter(|r| r.seen >= 0.25);
    Some(Foot { round: first, tall, second, above: above(points, &circle, tall, top, sigma) })
}

/// The same circle from those thin slices in which it is widest: higher ones show a flange's broken
/// edge and its upper face, which end within its side.
fn widest(points: &[Point3<f64>], from: f64, first: Round, sigma: f64) -> Round {
    let within = 0.4 + 2.5 * sigma;
    let circle = first.circle;
    let near: Vec<Vec<(Point2<f64>, f64)>> = (0..8)
        .map(|i| {
            let low = from + THIN * f64::from(i);
            slice(points, low, low + THIN)
                .into_iter()
                .filter(|p| ((p - circle.centre).norm() - circle.radius).abs() <= 3.0 + within)
                .map(|p| (p, 1.0))
                .collect()
        })
        .collect();
    // Seen from few sides a slice has no middle of its own, but the common one serves.
    let far = |near: &Vec<(Point2<f64>, f64)>| {
        let far = || near.iter().map(|(p, _)| (p - circle.centre).norm());
        (near.len() >= ENOUGH).then(|| fit::median(far()))
    };
    let radii: Vec<Option<f64>> = near.iter().map(far).collect();
    let mut sorted: Vec<f64> = radii.iter().flatten().copied().collect();
    sorted.sort_by(f64::total_cmp);
    // One slice alone may be a fluke.
    let Some(widest) = sorted.iter().rev().nth(1).copied() else { return first };
    let kept: Vec<(Point2<f64>, f64)> = radii
        .iter()
        .zip(&near)
        .filter(|(radius, _)| radius.is_some_and(|r| r >= widest - 0.2))
        .flat_map(|(_, near)| near.iter().copied())
        .collect();
    let all: Vec<Point2<f64>> = kept.iter().map(|k| k.0).collect();
    let alone = fit::circle(&kept, within)
        .filter(|c| (c.centre - circle.centre).norm() <= 1.0 + within)
        .map(|c| (c, seen(&all, &c.centre, c.radius, within)))
        .filter(|(_, seen)| *seen >= HALF);
    if let Some((circle, seen)) = alone {
        return Round { circle, seen, ..first };
    }
    let radius = fit::median(all.iter().map(|p| (p - circle.centre).norm()));
    let usual = fit::median(all.iter().map(|p| ((p - circle.centre).norm() - radius).abs()));
    Round { circle: Circle { radius, usual, ..circle }, ..first }
}

/// The middle of what is round above a flange and roughly over its middle.
fn above(
    points: &[Point3<f64>],
    flange: &Circle,
    tall: f64,
    top: f64,
    sigma: f64,
) -> Option<(Point2<f64>, usize)> {
    let mut middles: Vec<Point2<f64>> = Vec::new();
    let mut z = tall + 4.0;
    while z < top {
        let near: Vec<Point2<f64>> = slice(points, z, z + SLICE)
            .into_iter()
            .filter(|p| (p - flange.centre).norm() < flange.radius)
            .collect();
        if let Some(found) = round(&near, sigma, 8.0)
            && found.seen >= 0.5
            && found.circle.usual < 0.5 + sigma
            && (found.circle.centre - flange.centre).norm() < 0.5 * flange.radius
        {
            middles.push(found.circle.centre);
        }
        z += SLICE;
    }
    let count = middles.len();
    (count >= 3).then(|| {
        let of = |i: usize| fit::median(middles.iter().map(move |m| m[i]));
        (Point2::new(of(0), of(1)), count)
    })
}

/// A circle about everything low on a thing, for one whose flange's side was hardly seen.
pub(super) fn about(points: &[Point3<f64>], sigma: f64) -> Option<Circle> {
    let low: Vec<Point2<f64>> = slice(points, 0.0, 60.0);
    let hull = crate::fitting::hull(low);
    let even: Vec<(Point2<f64>, f64)> = hull.into_iter().map(|p| (p, 1.0)).collect();
    let circle = fit::circle(&even, 0.5 + 3.0 * sigma)?;
    (SMALLEST..=LARGEST).contains(&circle.radius).then_some(circle)
}
