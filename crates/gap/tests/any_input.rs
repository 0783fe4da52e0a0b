//! Any bytes whatever as meshes, poses and questions: random ones, and those that the fuzzer in
//! `tests/fuzz` kept.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail")]

mod common;
mod input;
mod laws_for_any;
mod oracle;
mod pairs;

use std::path::Path;
use std::time::{Duration, Instant};

use common::Numbers;
use gap::{
    Bounds, Course, CrossingLine, Gap, Location, NearestPoint, Overlap, Proximity, RayHit,
    SharedVolume, Solid, Sweep, Undecided,
};
use laws_for_any::{Engine, LAWS, Real, look};
use nalgebra::{Isometry3, Point3, Vector3};

/// Longer than any input may take, in a slow build on a busy machine.
const LIMIT: Duration = Duration::from_secs(5);

fn kept() -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/fuzz");
    let mut all: Vec<(String, Vec<u8>)> = ["corpus", "found"]
        .iter()
        .flat_map(|kind| std::fs::read_dir(folder.join(kind)).unwrap())
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.display().to_string(), std::fs::read(&path).unwrap()))
        .collect();
    all.sort();
    all
}

fn random(count: u64, seed: u64) -> impl Iterator<Item = Vec<u8>> {
    let mut numbers = Numbers::new(seed);
    (0..count).map(move |k| {
        let length = 40 + numbers.below(200);
        let mut bytes: Vec<u8> =
            (0..length).map(|_| u8::try_from(numbers.below(256)).unwrap()).collect();
        bytes[0] = u8::try_from(k % LAWS.len() as u64).unwrap();
        bytes
    })
}

fn assert_kept(name: &str, data: &[u8]) {
    let began = Instant::now();
    let found = look(&Real, data);
    assert!(found.is_ok(), "{name}: {}", found.unwrap_err());
    assert!(began.elapsed() < LIMIT, "{name} took {:?}", began.elapsed());
}

#[test]
fn kept_inputs_keep_the_laws() {
    let kept = kept();
    assert!(kept.len() >= 20, "{} inputs kept", kept.len());
    for (name, data) in kept {
        assert_kept(&name, &data);
    }
}

#[test]
fn random_inputs_keep_the_laws() {
    for data in random(20_000, 10) {
        assert_kept(&format!("{data:?}"), &data);
    }
}

/// What a liar changes.
enum Lie {
    Refuses,
    Far,
    Clear,
    Crossing,
    Surfaces,
    Freed,
    Deeper,
    Along,
    Place,
    Winding,
    Nearest,
    Rays,
    Bounds,
    Followed,
    Together,
    Line,
    Volume,
    Safe,
    Stuck,
    Swept,
}

impl Engine for Lie {
    fn gap(&self, a: &Solid, b: &Solid, pose: &Isometry3<f64>, cap: f64) -> Proximity {
        match (self, gap::gap(a, b, pose, cap)) {
            (Self::Refuses, Proximity::Apart(_)) => Proximity::CannotDecide(Undecided::Open),
            (Self::Far, Proximity::Apart(found)) => {
                Proximity::Apart(Gap { distance: found.distance + 1e-3, ..found })
            }
            (_, told) => told,
        }
    }
    fn surface_gap(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
        cap: f64,
    ) -> Result<Option<Gap>, Undecided> {
        let told = gap::surface_gap(a, b, pose, cap);
        let farther = |found: Gap| Gap { distance: found.distance + 1e-3, ..found };
        // Of larger bodies only, as if a branch of the tree were missed.
        let lies = matches!(self, Self::Surfaces) && a.mesh().triangles.len() > 1;
        if lies { told.map(|found| found.map(farther)) } else { told }
    }
    fn clears(&self, a: &Solid, b: &Solid, pose: &Isometry3<f64>, need: f64) -> Option<bool> {
        let told = gap::clears(a, b, pose, need);
        if matches!(self, Self::Clear) { told.map(|_| true) } else { told }
    }
    fn crosses(&self, a: &Solid, b: &Solid, pose: &Isometry3<f64>) -> bool {
        gap::crosses(a, b, pose) && !matches!(self, Self::Crossing)
    }
    fn overlap(&self, a: &Solid, b: &Solid, pose: &Isometry3<f64>) -> Option<Overlap> {
        let told = gap::overlap(a, b, pose);
        let shorter = |found: Overlap| Overlap { depth_high: found.depth_high * 0.99, ..found };
        if matches!(self, Self::Freed) { told.map(shorter) } else { told }
    }
    fn overlap_along(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
        ways: &[Vector3<f64>],
    ) -> Option<Overlap> {
        let told = gap::overlap_along(a, b, pose, ways);
        let back = |found: Overlap| Overlap { way_out: -found.way_out, ..found };
        if matches!(self, Self::Along) { told.map(back) } else { told }
    }
    fn least_depth(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
        enough: f64,
    ) -> Option<(f64, Point3<f64>)> {
        let told = gap::least_depth(a, b, pose, enough);
        if matches!(self, Self::Deeper) { told.map(|(d, at)| (d * 1.01, at)) } else { told }
    }
    fn locate(&self, solid: &Solid, point: &Point3<f64>) -> Location {
        match (self, gap::locate(solid, point)) {
            (Self::Place, Location::Inside) => Location::Outside,
            (_, told) => told,
        }
    }
    fn winding_number(&self, solid: &Solid, point: &Point3<f64>) -> Result<f64, Undecided> {
        let told = gap::winding_number(solid, point);
        if matches!(self, Self::Winding) { told.map(|w| -w) } else { told }
    }
    fn nearest_point(
        &self,
        solid: &Solid,
        point: &Point3<f64>,
        cap: f64,
    ) -> Result<Option<NearestPoint>, Undecided> {
        let told = gap::nearest_point(solid, point, cap);
        let corner = |near: NearestPoint| {
            let point_there = solid.mesh().corners(near.triangle as usize)[0];
            NearestPoint { point: point_there, distance: (point_there - point).norm(), ..near }
        };
        let lies = matches!(self, Self::Nearest) && solid.mesh().triangles.len() > 1;
        if lies { told.map(|near| near.map(corner)) } else { told }
    }
    fn ray_hits(
        &self,
        solid: &Solid,
        origin: &Point3<f64>,
        way: &Vector3<f64>,
    ) -> Result<Vec<RayHit>, Undecided> {
        let mut told = gap::ray_hits(solid, origin, way);
        if let (Self::Rays, Ok(hits)) = (self, &mut told) {
            hits.reverse();
        }
        told
    }
    fn follow(&self, a: &Solid, b: &Solid, poses: &[Isometry3<f64>], cap: f64) -> Vec<Proximity> {
        let mut told = Real.follow(a, b, poses, cap);
        if matches!(self, Self::Followed) {
            // As if the last pair were never looked at again.
            told[2] = told[1];
        }
        told
    }
    fn gaps(&self, a: &Solid, b: &Solid, poses: &[Isometry3<f64>], cap: f64) -> Vec<Proximity> {
        let mut told = Real.gaps(a, b, poses, cap);
        if matches!(self, Self::Together) {
            told.swap(3, 5);
        }
        told
    }
    fn crossing_lines(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
    ) -> Result<Vec<CrossingLine>, Undecided> {
        let mut told = Real.crossing_lines(a, b, pose);
        if let (Self::Line, Ok(lines)) = (self, &mut told) {
            for line in lines {
                line.points[0].x += 9.0;
            }
        }
        told
    }
    fn shared_volume(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
    ) -> Result<SharedVolume, Undecided> {
        let more = |shared: SharedVolume| SharedVolume {
            at_least: shared.at_most,
            at_most: 1.5 * shared.at_most,
            ..shared
        };
        let told = Real.shared_volume(a, b, pose);
        if matches!(self, Self::Volume) { told.map(more) } else { told }
    }
    fn certified_clear(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
        need: f64,
    ) -> Result<Option<f64>, Undecided> {
        let told = Real.certified_clear(a, b, pose, need);
        if matches!(self, Self::Safe) { told.map(|r| r.map(|r| 1.01 * r)) } else { told }
    }
    fn certified_blocked(
        &self,
        a: &Solid,
        b: &Solid,
        pose: &Isometry3<f64>,
    ) -> Result<Option<f64>, Undecided> {
        let told = Real.certified_blocked(a, b, pose);
        if matches!(self, Self::Stuck) { told.map(|r| r.map(|r| 1.5 * r)) } else { told }
    }
    fn sweep(
        &self,
        a: &Solid,
        b: &Solid,
        start: &Isometry3<f64>,
        motion: &gap::motion::Motion,
        need: f64,
        tolerance: f64,
    ) -> Sweep {
        let mut told = Real.sweep(a, b, start, motion, need, tolerance);
        if let (Self::Swept, Course::Blocked { clear_until, .. }) = (self, &mut told.course) {
            *clear_until = (*clear_until * 1.1).min(1.0);
        }
        told
    }
    fn bounds(&self, solid: &Solid) -> Option<Bounds> {
        let mut told = solid.bounds();
        if let (Self::Bounds, Some(bounds)) = (self, &mut told) {
            bounds.high.z += 1.0;
        }
        told
    }
}

#[test]
fn a_lie_in_any_query_is_found() {
    let lies = [
        ("an answer refused", Lie::Refuses),
        ("a gap too wide", Lie::Far),
        ("always clear", Lie::Clear),
        ("never crossing", Lie::Crossing),
        ("surfaces too far apart", Lie::Surfaces),
        ("not freed", Lie::Freed),
        ("too deep", Lie::Deeper),
        ("the wrong way out", Lie::Along),
        ("inside told outside", Lie::Place),
        ("turned inside out", Lie::Winding),
        ("a corner for the nearest point", Lie::Nearest),
        ("hits in falling order", Lie::Rays),
        ("bounds too large", Lie::Bounds),
        ("followed one pose behind", Lie::Followed),
        ("answers of many poses mixed up", Lie::Together),
        ("a line off the bodies", Lie::Line),
        ("more volume than there is", Lie::Volume),
        ("clear farther than it is", Lie::Safe),
        ("blocked farther than it is", Lie::Stuck),
        ("contact told late", Lie::Swept),
    ];
    for (name, lie) in lies {
        let found = random(20_000, 10).any(|data| look(&lie, &data).is_err());
        assert!(found, "{name} was not found");
    }
}
