//! The lid and the pin about which it turns.

use crate::face::Face;
use crate::fit;
use crate::plate::flats;
use crate::wall::Wall;
use nalgebra::{Matrix3, Point2, Point3, Rotation3, SymmetricEigen, Unit, Vector2, Vector3};
use std::f64::consts::{PI, TAU};

/// A pin's radius is between these, mm.
const RADII: std::ops::RangeInclusive<f64> = 3.0..=40.0;
/// A pin is at least this long, mm.
const LONG: f64 = 20.0;
/// Facets looked at by pairs.
const PAIRED: usize = 48;

/// A level cylinder beside the rim.
#[derive(Debug, Clone)]
pub(crate) struct Pin {
    pub(crate) body: usize,
    /// The middle of its axis.
    pub(crate) point: Point3<f64>,
    /// Level within the fit; a right-hand turn about it lifts what lies toward the housing's axis.
    pub(crate) axis: Vector3<f64>,
    pub(crate) radius: f64,
    /// Area of its round face, mm2.
    pub(crate) area: f64,
    /// Whether it is a pin rather than the hole of one.
    pub(crate) solid: bool,
}

impl Pin {
    /// The level direction square to its axis, from the housing's axis toward it.
    pub(crate) fn toward(&self) -> Vector3<f64> {
        let way = self.axis.cross(&Vector3::z());
        way.try_normalize(0.0).unwrap_or_else(Vector3::x)
    }

    /// Whether another has the same axis.
    pub(crate) fn is_coaxial(&self, other: &Self) -> bool {
        let off = other.point - self.point;
        let across = off - self.axis * self.axis.dot(&off);
        across.norm() < 1.5 && self.axis.dot(&other.axis) > 0.999
    }
}

/// The pins of a body: `rim` is the housing's height.
pub(crate) fn pins(
    body: usize,
    faces: &[Face],
    deviation: f64,
    wall: &Wall,
    rim: f64,
) -> Option<Pin> {
    let centre = wall.centre();
    let near: Vec<&Face> = faces
        .iter()
        .filter(|f| {
            let p = f.middle();
            let out = p.xy() - centre;
            (0.6 * rim..=1.4 * rim).contains(&p.z)
                && wall.reach(&out).is_some_and(|reach| out.norm() >= 0.97 * reach)
        })
        .collect();
    let area: f64 = near.iter().map(|f| f.area).sum();
    let sum = near.iter().fold(Vector2::zeros(), |s, f| s + (f.middle().xy() - centre) * f.area);
    let usual: f64 = near.iter().map(|f| (f.middle().xy() - centre).norm() * f.area).sum();
    // All around the housing: a lid, not what carries it.
    if area <= 0.0 || sum.norm() < 0.8 * usual {
        return None;
    }
    let out = sum.normalize();
    let mut axis = Vector3::new(-out.y, out.x, 0.0);
    let mut best = None;
    for _ in 0..3 {
        let round = round_face(&near, &axis, &centre, deviation)?;
        axis = round.axis;
        best = Some(round);
    }
    let round = best?;
    let pin = round.pin(body);
    let out = pin.point.xy() - centre;
    let beyond = wall.reach(&out).is_some_and(|reach| out.norm() >= reach);
    (beyond && round.length >= LONG).then_some(pin)
}

/// The facets of one cylinder.
struct Round {
    point: Point3<f64>,
    axis: Vector3<f64>,
    radius: f64,
    area: f64,
    length: f64,
    solid: bool,
}

impl Round {
    fn pin(&self, body: usize) -> Pin {
        Pin {
            body,
            point: self.point,
            axis: self.axis,
            radius: self.radius,
            area: self.area,
            solid: self.solid,
        }
    }
}

/// A facet seen along the axis: the middle of its chord and its normal.
struct Chord<'f> {
    face: &'f Face,
    middle: Vector2<f64>,
    normal: Vector2<f64>,
}

fn round_face(
    near: &[&Face],
    axis: &Vector3<f64>,
    centre: &Point2<f64>,
    deviation: f64,
) -> Option<Round> {
    let up = (Vector3::z() - axis * axis.z).normalize();
    let out = axis.cross(&up);
    let origin = Point3::new(centre.x, centre.y, 0.0);
    let flat = |p: &Point3<f64>| {
        let d = p - origin;
        Vector2::new(out.dot(&d), up.dot(&d))
    };
    let chords: Vec<Chord<'_>> = near
        .iter()
        .filter(|f| f.normal.dot(axis).abs() < 0.1)
        .filter_map(|f| {
            let normal = Vector2::new(out.dot(&f.normal), up.dot(&f.normal)).try_normalize(0.0)?;
            let along = Vector2::new(-normal.y, normal.x);
            let corners = f.corners.map(|p| flat(&p));
            let least = corners.iter().min_by(|a, b| a.dot(&along).total_cmp(&b.dot(&along)))?;
            let most = corners.iter().max_by(|a, b| a.dot(&along).total_cmp(&b.dot(&along)))?;
            Some(Chord { face: f, middle: (least + most) * 0.5, normal })
        })
        .collect();
    let within = 0.1 + 0.5 * deviation;
    let (_, group) = best_centre(&chords, within)?;
    let points: Vec<(Point2<f64>, f64)> = group
        .iter()
        .flat_map(|c| c.face.corners.map(|p| (Point2::from(flat(&p)), c.face.area / 3.0)))
        .collect();
    let circle = fit::circle(&points, 0.02)?;
    if circle.usual > within || !RADII.contains(&circle.radius) {
        return None;
    }
    let moments = group
        .iter()
        .fold(Matrix3::zeros(), |m, c| m + c.face.normal * c.face.normal.transpose() * c.face.area);
    let eigen = SymmetricEigen::new(moments);
    let mut finer: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into_owned();
    if finer.dot(axis) < 0.0 {
        finer = -finer;
    }
    let spread = || group.iter().flat_map(|c| c.face.corners.map(|p| finer.dot(&(p - origin))));
    let (low, high) =
        (spread().fold(f64::INFINITY, f64::min), spread().fold(f64::NEG_INFINITY, f64::max));
    let at = origin + out * circle.centre.x + up * circle.centre.y;
    let along = 0.5 * (low + high) - finer.dot(&(at - origin));
    let outward = |c: &&Chord<'_>| (c.middle - circle.centre.coords).dot(&c.normal) > 0.0;
    let area: f64 = group.iter().map(|c| c.face.area).sum();
    let solid = group.iter().filter(|c| outward(c)).map(|c| c.face.area).sum::<f64>() > 0.5 * area;
    Some(Round {
        point: at + finer * along,
        axis: finer,
        radius: circle.radius,
        area,
        length: high - low,
        solid,
    })
}

/// The point about which most area of facets is round, with those facets.
fn best_centre<'c, 'f>(
    chords: &'c [Chord<'f>],
    within: f64,
) -> Option<(Vector2<f64>, Vec<&'c Chord<'f>>)> {
    // The largest facets of each way to look.
    let mut largest: Vec<&Chord<'_>> = chords.iter().collect();
    largest.sort_by(|a, b| b.face.area.total_cmp(&a.face.area));
    let mut picked: Vec<&Chord<'_>> = Vec::new();
    for chord in largest {
        let alike = |p: &&&Chord<'_>| p.normal.dot(&chord.normal) > 0.9986;
        if picked.iter().filter(alike).count() < 2 {
            picked.push(chord);
        }
        if picked.len() == PAIRED {
            break;
        }
    }
    let mut best: Option<(f64, Vector2<f64>, Vec<&Chord<'_>>)> = None;
    for (i, a) in picked.iter().enumerate() {
        for b in &picked[..i] {
            let cross = a.normal.perp(&b.normal);
            if cross.abs() < 0.2 {
                continue;
            }
            // Where the two normals' lines meet.
            let t = (b.middle - a.middle).perp(&b.normal) / cross;
            if !RADII.contains(&t.abs()) {
                continue;
            }
            let centre = a.middle + a.normal * t;
            let group: Vec<&Chord<'_>> = chords
                .iter()
                .filter(|c| {
                    let off = centre - c.middle;
                    off.perp(&c.normal).abs() <= within
                        && (off.dot(&c.normal).abs() - t.abs()).abs() <= within
                })
                .collect();
            let area: f64 = group.iter().map(|c| c.face.area).sum();
            if best.as_ref().is_none_or(|(most, ..)| area > *most) && goes_round(&group) {
                best = Some((area, centre, group));
            }
        }
    }
    best.map(|(_, centre, group)| (centre, group))
}

/// Whether the facets look in most directions.
fn goes_round(group: &[&Chord<'_>]) -> bool {
    const PARTS: f64 = 12.0;
    let mut seen = [false; 12];
    for chord in group {
        let turn = chord.normal.y.atan2(chord.normal.x).rem_euclid(TAU) / TAU * PARTS;
        let at = crate::around::whole(turn).min(11);
        seen[at] = true;
    }
    seen.iter().filter(|s| **s).count() >= 8
}

/// The share of the inside of the housing that a body covers, seen from above, once `pose` has moved
/// it; and its lowest point then.
fn cover(faces: &[Face], pose: &dyn Fn(&Point3<f64>) -> Point3<f64>, wall: &Wall) -> (f64, f64) {
    let centre = wall.centre();
    let mut points: Vec<(Point2<f64>, bool)> = Vec::new();
    for ring in 1..=8 {
        for i in 0..24 {
            let bearing = TAU * (f64::from(i) + 0.37) / 24.0;
            let way = Vector2::new(bearing.cos(), bearing.sin());
            let reach = wall.reach(&way).unwrap_or(0.0);
            points.push((centre + way * (0.1 * f64::from(ring) * reach), false));
        }
    }
    let mut low = f64::INFINITY;
    for face in faces {
        let corners = face.corners.map(|p| pose(&p));
        low = corners.iter().map(|p| p.z).fold(low, f64::min);
        let [a, b, c] = corners.map(|p| p.xy());
        let (least, most) = (a.inf(&b).inf(&c), a.sup(&b).sup(&c));
        for (p, covered) in points.iter_mut().filter(|(_, covered)| !covered) {
            let outside = p.x < least.x || p.x > most.x || p.y < least.y || p.y > most.y;
            if outside {
                continue;
            }
            let turns = [(a, b), (b, c), (c, a)].map(|(u, v)| (v - u).perp(&(*p - u)));
            *covered = turns.iter().all(|t| *t >= 0.0) || turns.iter().all(|t| *t <= 0.0);
        }
    }
    let share = points.iter().filter(|(_, covered)| *covered).count() as f64 / points.len() as f64;
    (share, low)
}

/// How far a body is open as a lid, as far as its shape tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Opening {
    /// By this about the pin, radians; zero is closed.
    By(f64),
    /// It lies over the housing, but not level, and not as if it were turned about a pin.
    Unclear,
}

/// The opening at which a body would be a lid that turns about `pin`; `None` where it neither lies over
/// the housing nor does once it is closed about the pin.
pub(crate) fn opening(
    faces: &[Face],
    deviation: f64,
    pin: Option<&Pin>,
    wall: &Wall,
    rim: f64,
) -> Option<Opening> {
    let lies = |pose: &dyn Fn(&Point3<f64>) -> Point3<f64>| {
        let (share, low) = cover(faces, pose, wall);
        share >= 0.7 && low >= 0.6 * rim
    };
    let over = lies(&|p| *p);
    let largest = flats(0, faces, 0.2 + 2.0 * deviation)
        .into_iter()
        .max_by(|a, b| a.area.total_cmp(&b.area))?;
    // What a face's plane may be turned by within the deviation, and a hair.
    let unsure = 2e-3 + 2.0 * deviation / largest.reach;
    let Some(pin) = pin else {
        let level = largest.up.xy().norm() <= unsure;
        return over.then_some(if level { Opening::By(0.0) } else { Opening::Unclear });
    };
    let across = largest.up - pin.axis * pin.axis.dot(&largest.up);
    if across.norm() >= 0.9 {
        let axis = Unit::new_normalize(pin.axis);
        // The turn about the axis that takes +z to the face's normal, whichever way that looks.
        let up = (Vector3::z() - pin.axis * pin.axis.z).normalize();
        let turn = pin.axis.dot(&up.cross(&across)).atan2(up.dot(&across));
        for angle in [turn, turn + PI].map(|t| (t + 1.0).rem_euclid(TAU) - 1.0) {
            let back = Rotation3::from_axis_angle(&axis, -angle);
            if (-unsure..4.0).contains(&angle) && lies(&|p| pin.point + back * (p - pin.point)) {
                return Some(Opening::By(if angle <= unsure { 0.0 } else { angle }));
            }
        }
    }
    over.then_some(Opening::Unclear)
}
