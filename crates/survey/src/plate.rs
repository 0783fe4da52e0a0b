//! The cover plate: the body with a large flat face on which others stand.

use crate::face::Face;
use crate::fit;
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Triangles whose normals differ by less than this belong to one direction: 10 degrees, so that
/// scanned faces hold together.
const SAME_WAY: f64 = 0.985;
/// Directions looked at for each body, by area.
const DIRECTIONS: usize = 10;
/// Faces looked at along each direction.
const LEVELS: usize = 3;
/// A gasket may lie between the plate and what stands on it, mm.
pub(crate) const GASKET: f64 = 6.0;
/// What stands on the plate in a drawing may miss it by this much beyond the deviations, mm.
pub(crate) const DRAWN: f64 = 1.0;

/// A flat face of a body.
#[derive(Debug, Clone)]
pub(crate) struct Flat {
    pub(crate) body: usize,
    /// Out of the body.
    pub(crate) up: Vector3<f64>,
    /// The middle of its area.
    pub(crate) on: Point3<f64>,
    /// mm2.
    pub(crate) area: f64,
    /// Root mean square and most of how far its triangles lie off the plane, mm.
    pub(crate) rms: f64,
    pub(crate) most: f64,
    /// Farthest point of it from its middle, mm.
    pub(crate) reach: f64,
}

impl Flat {
    fn height(&self, p: &Point3<f64>) -> f64 {
        self.up.dot(&(p - self.on))
    }
}

/// The large flat faces of a body; triangles within `window` mm of each other's level make one face.
pub(crate) fn flats(body: usize, faces: &[Face], window: f64) -> Vec<Flat> {
    let mut found = Vec::new();
    for way in directions(faces) {
        let mut along: Vec<(f64, &Face)> = faces
            .iter()
            .filter(|f| f.normal.dot(&way) >= SAME_WAY)
            .map(|f| (way.dot(&f.middle().coords), f))
            .collect();
        along.sort_by(|a, b| a.0.total_cmp(&b.0));
        for _ in 0..LEVELS {
            let Some((first, past)) = fullest(&along, window) else { break };
            let level = 0.5 * (along[first].0 + along[past - 1].0);
            let near: Vec<&Face> = along
                .iter()
                .filter(|(at, _)| (at - level).abs() <= 2.0 * window)
                .map(|(_, f)| *f)
                .collect();
            found.extend(fitted(body, &near, &way, level, window));
            along.drain(first..past);
        }
    }
    found
}

/// The directions in which most of the area looks.
fn directions(faces: &[Face]) -> Vec<Vector3<f64>> {
    let mut bins: BTreeMap<[i32; 3], (f64, Vector3<f64>)> = BTreeMap::new();
    for face in faces {
        #[expect(clippy::cast_possible_truncation, reason = "a component of a unit vector")]
        let key = [0, 1, 2].map(|i| (face.normal[i] * 6.0).round() as i32);
        let bin = bins.entry(key).or_insert((0.0, Vector3::zeros()));
        bin.0 += face.area;
        bin.1 += face.normal * face.area;
    }
    let mut bins: Vec<(f64, Vector3<f64>)> = bins.into_values().collect();
    bins.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut ways: Vec<Vector3<f64>> = Vec::new();
    for (_, sum) in bins.into_iter().take(4 * DIRECTIONS) {
        let Some(mut way) = sum.try_normalize(0.0) else { continue };
        for _ in 0..4 {
            let near = faces.iter().filter(|f| f.normal.dot(&way) >= SAME_WAY);
            let sum = near.fold(Vector3::zeros(), |s, f| s + f.normal * f.area);
            way = sum.try_normalize(0.0).unwrap_or(way);
        }
        if !ways.iter().any(|other| other.dot(&way) > 0.999) {
            ways.push(way);
        }
        if ways.len() == DIRECTIONS {
            break;
        }
    }
    ways
}

/// The run of levels within `window` of each other that holds the most area: its first and the one
/// past its last.
fn fullest(along: &[(f64, &Face)], window: f64) -> Option<(usize, usize)> {
    let (mut first, mut area) = (0, 0.0);
    let (mut best, mut most) = (None, 0.0);
    for past in 1..=along.len() {
        area += along[past - 1].1.area;
        while along[past - 1].0 - along[first].0 > window {
            area -= along[first].1.area;
            first += 1;
        }
        if area > most {
            (best, most) = (Some((first, past)), area);
        }
    }
    best
}

/// The plane through the triangles near a level, those off it left out.
fn fitted(
    body: usize,
    near: &[&Face],
    way: &Vector3<f64>,
    level: f64,
    window: f64,
) -> Option<Flat> {
    let mut up = *way;
    let mut on = Point3::from(way * level);
    let mut within = window;
    let mut kept: Vec<&Face> = Vec::new();
    for _ in 0..5 {
        let off = |p: &Point3<f64>| up.dot(&(p - on)).abs();
        kept =
            near.iter().filter(|f| f.corners.iter().all(|p| off(p) <= within)).copied().collect();
        let points: Vec<(Point3<f64>, f64)> =
            kept.iter().flat_map(|f| f.mids().map(|p| (p, f.area / 3.0))).collect();
        let (middle, normal) = fit::plane(&points)?;
        on = middle;
        up = if normal.dot(way) < 0.0 { -normal } else { normal };
        let off = |p: &Point3<f64>| up.dot(&(p - on)).abs();
        let usual = fit::weighted_median(points.iter().map(|(p, w)| (off(p), *w)));
        // Never less than the rounding of single precision at a metre.
        within = (4.0 * 1.4826 * usual).clamp(0.01_f64.min(window), window);
    }
    let area: f64 = kept.iter().map(|f| f.area).sum();
    let corners = || kept.iter().flat_map(|f| f.corners);
    let mids = kept.iter().flat_map(|f| f.mids().map(|p| (p, f.area / 3.0)));
    let square: f64 = mids.map(|(p, w)| w * up.dot(&(p - on)).powi(2)).sum();
    Some(Flat {
        body,
        up,
        on,
        area,
        rms: (square / area).sqrt(),
        most: corners().map(|p| up.dot(&(p - on)).abs()).fold(0.0, f64::max),
        reach: corners().map(|p| (p - on).norm()).fold(0.0, f64::max),
    })
}

/// A body as the search for the plate sees it.
pub(crate) struct Seen<'b> {
    pub(crate) faces: &'b [Face],
    pub(crate) vertices: &'b [Point3<f64>],
    pub(crate) deviation: f64,
}

/// Whether a body stands on a face: its lowest part along the face's normal touches it, or it goes
/// through and has faces that rest on it, and most of it is above.
fn stands(body: &Seen<'_>, flat: &Flat, deviation: f64) -> bool {
    let tolerance = DRAWN + body.deviation + deviation;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut sum = Vector3::zeros();
    for p in body.vertices {
        let h = flat.height(p);
        low = low.min(h);
        high = high.max(h);
        sum += p.coords;
    }
    let middle = Point3::from(sum / body.vertices.len().max(1) as f64);
    let level = (middle - flat.on) - flat.up * flat.height(&middle);
    if level.norm() > flat.reach || high < tolerance {
        return false;
    }
    if (-tolerance..=tolerance + GASKET).contains(&low) {
        return true;
    }
    if low >= 0.0 || high < -low {
        return false;
    }
    let resting = |f: &&Face| {
        f.normal.dot(&flat.up) < -SAME_WAY && flat.height(&f.middle()).abs() <= tolerance
    };
    body.faces.iter().filter(resting).map(|f| f.area).sum::<f64>() > 50.0
}

/// A face with the bodies that stand on it.
#[derive(Debug, Clone)]
pub(crate) struct Candidate {
    pub(crate) flat: Flat,
    pub(crate) standing: Vec<usize>,
}

/// Every large flat face with what stands on it, those with most first, then the larger.
pub(crate) fn candidates(bodies: &[Seen<'_>]) -> Vec<Candidate> {
    let all: Vec<Flat> = bodies
        .iter()
        .enumerate()
        .flat_map(|(i, b)| flats(i, b.faces, 0.2 + 2.0 * b.deviation))
        .collect();
    let largest = all.iter().map(|f| f.area).fold(0.0, f64::max);
    let mut found: Vec<Candidate> = all
        .into_iter()
        .filter(|f| f.area >= 0.1 * largest)
        .map(|flat| {
            let deviation = bodies[flat.body].deviation;
            let standing = (0..bodies.len())
                .filter(|j| *j != flat.body && stands(&bodies[*j], &flat, deviation))
                .collect();
            Candidate { flat, standing }
        })
        .collect();
    found.sort_by(|a, b| {
        b.standing.len().cmp(&a.standing.len()).then(b.flat.area.total_cmp(&a.flat.area))
    });
    found
}
