//! Studs with their nuts: equal small shells on a circle about the housing's axis.

use crate::draft::{Confidence, Found};
use crate::fitting::LEAST;
use crate::plate::{DRAWN, GASKET};
use crate::scene::Scene;
use crate::words::Meaning;
use nalgebra::{Point2, Point3};
use std::f64::consts::TAU;

/// A circle has at least this many.
const FEW: usize = 4;
/// A stud with its nut is at most this far from its middle seen from above, and this high, mm.
const SMALL: f64 = 45.0;
const HIGH: f64 = 250.0;
/// Between neighbours on an even circle the way differs by less than this share.
const EVEN: f64 = 0.25;
/// A body of more shells than this holds no studs.
const MANY: usize = 1000;

/// A shell, or a body that is looked at as one.
#[derive(Debug, Clone)]
struct Piece {
    body: usize,
    middle: Point2<f64>,
    half: f64,
    low: f64,
    tall: f64,
}

impl Piece {
    fn of(body: usize, points: impl Iterator<Item = Point3<f64>>) -> Option<Self> {
        let mut all: Option<(Point3<f64>, Point3<f64>)> = None;
        let mut kept = Vec::new();
        for p in points {
            all = Some(all.map_or((p, p), |(l, h)| (l.inf(&p), h.sup(&p))));
            kept.push(p.xy());
        }
        let (low, high) = all?;
        let middle = nalgebra::center(&low.xy(), &high.xy());
        let half = kept.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max);
        Some(Self { body, middle, half, low: low.z, tall: high.z - low.z })
    }

    fn is_small(&self) -> bool {
        self.half <= SMALL && self.tall <= HIGH
    }

    /// Whether another has the same size and place on the circle, within what the meshes tell.
    fn is_like(&self, other: &Self, deviation: f64) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 0.2 + 0.02 * a.max(b) + 2.0 * deviation;
        near(self.half, other.half)
            && near(self.tall, other.tall)
            && near(self.low, other.low)
            && (self.middle.coords.norm() - other.middle.coords.norm()).abs()
                <= 1.0 + 2.0 * deviation
    }
}

/// Groups of pieces that are alike.
fn groups(pieces: &[Piece], deviation: f64) -> Vec<Vec<Piece>> {
    let mut groups: Vec<Vec<Piece>> = Vec::new();
    for piece in pieces {
        match groups.iter_mut().find(|g| g[0].is_like(piece, deviation)) {
            Some(group) => group.push(piece.clone()),
            None => groups.push(vec![piece.clone()]),
        }
    }
    groups
}

/// Whether a group may be studs: enough of them, small, standing on plate or housing; not what
/// belongs to a fitting in the middle.
fn may_be(scene: &Scene, group: &[Piece]) -> bool {
    let Some(first) = group.first() else { return false };
    let radius = first.middle.coords.norm();
    if group.len() < FEW || !group.iter().all(Piece::is_small) || radius < 2.0 * first.half {
        return false;
    }
    if !scene.wall.holds(&first.middle) {
        return first.low <= 40.0;
    }
    // What stands on the plate and is as wide as a fitting is one first, unless it is named otherwise.
    let wide = |p: &Piece| {
        let alone = group.iter().filter(|o| o.body == p.body).count() == 1;
        alone && p.half >= LEAST && !scene.said[p.body].says(&[Meaning::Stud])
    };
    if group.iter().any(wide) {
        return false;
    }
    let deviation = scene.deviations[first.body];
    let on_plate = first.low <= DRAWN + deviation + GASKET;
    let of_middle = scene.free().into_iter().any(|other| {
        other != first.body
            && scene.standing[other]
            && scene.middle(other).coords.norm() < 20.0
            && scene.half(other) >= radius - 1.0
    });
    on_plate && !of_middle
}

/// Bodies that are studs.
pub(crate) fn studs(scene: &mut Scene) -> Vec<Found> {
    let mut found = Vec::new();
    let mut single: Vec<Piece> = Vec::new();
    for body in scene.free() {
        let mesh = scene.solids[body].mesh();
        let shells = solids::shells(mesh);
        if shells.len() > MANY {
            continue;
        }
        let pieces: Vec<Piece> = shells
            .iter()
            .filter_map(|s| Piece::of(body, s.iter().map(|v| mesh.vertices[*v])))
            .collect();
        let groups = groups(&pieces, scene.deviations[body]);
        if !groups.is_empty() && groups.iter().all(|g| may_be(scene, g)) {
            let told: Vec<String> = groups.iter().map(|g| circle_of(scene, g)).collect();
            let shape = format!("it is {}", told.join(" and "));
            let doubts: Vec<&str> = groups.iter().filter_map(|g| doubt(scene, g)).collect();
            let mut studs = scene.take(body, &[Meaning::Stud], "studs", shape);
            question(scene, std::slice::from_mut(&mut studs), &doubts);
            found.push(studs);
        } else if shells.len() < FEW {
            single.extend(Piece::of(body, mesh.vertices.iter().copied()));
        }
    }
    let deviation = single.iter().map(|p| scene.deviations[p.body]).fold(0.0, f64::max);
    for group in groups(&single, deviation) {
        // Pieces of fittings may be alike and on a circle too; what hangs above is no stud.
        let low = group.iter().all(|p| scene.standing[p.body] || !scene.wall.holds(&p.middle));
        if low && may_be(scene, &group) {
            let doubts: Vec<&str> = doubt(scene, &group).into_iter().collect();
            let mut studs: Vec<Found> = Vec::new();
            for piece in &group {
                let shape = format!("it is one of {}", circle_of(scene, &group));
                studs.push(scene.take(piece.body, &[Meaning::Stud], "studs", shape));
            }
            question(scene, &mut studs, &doubts);
            found.append(&mut studs);
        }
    }
    found
}

/// Why a group that may be studs may be something else, or not all of them.
fn doubt(scene: &Scene, group: &[Piece]) -> Option<&'static str> {
    let inside = group.first().is_some_and(|p| scene.wall.holds(&p.middle));
    let named = group.iter().all(|p| scene.said[p.body].says(&[Meaning::Stud]));
    if inside && !named {
        return Some("they stand inside the wall, where they may be small fittings as well");
    }
    let mut turns: Vec<f64> = group.iter().map(|p| p.middle.y.atan2(p.middle.x)).collect();
    turns.sort_by(f64::total_cmp);
    let even = TAU / group.len().max(1) as f64;
    let next = turns.iter().skip(1).copied().chain(turns.first().map(|t| t + TAU));
    let uneven = turns.iter().zip(next).any(|(a, b)| ((b - a) / even - 1.0).abs() > EVEN);
    uneven.then_some(
        "they are not even around their circle: is one missing, or is one something else?",
    )
}

/// One question about all that are in doubt for the same reasons.
fn question(scene: &mut Scene, studs: &mut [Found], doubts: &[&str]) {
    let (Some(first), false) = (studs.first(), doubts.is_empty()) else { return };
    let others = match studs.len() - 1 {
        0 => String::new(),
        n => format!(" and {n} like it"),
    };
    let why = format!("{}: {}", first.reason.because, doubts.join("; "));
    let about = format!("body \"{}\"{others}", scene.names[first.body]);
    let at = Some(scene.middle(first.body));
    scene.ask(about, "studs".to_owned(), why, at);
    for found in studs {
        if found.reason.confidence != Confidence::Doubtful {
            found.reason.confidence = Confidence::Doubtful;
            found.reason.because = format!("{}; {}", found.reason.because, doubts.join("; "));
        }
    }
}

fn circle_of(scene: &Scene, group: &[Piece]) -> String {
    let across =
        2.0 * group.iter().map(|p| p.middle.coords.norm()).sum::<f64>() / group.len().max(1) as f64;
    let across = scene.told(across);
    format!(
        "{} equal small pieces on a circle {across} across around the housing's middle",
        group.len()
    )
}
