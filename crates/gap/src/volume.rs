//! How much space two bodies share.
//!
//! The volume is that of a mesh boolean, by the library boolmesh. It is believed only where it
//! lies within bounds found in another way: boxes that are proven to lie in both bodies, and boxes
//! that may.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::panic::catch_unwind;

use boolmesh::prelude::{Manifold, OpType, compute_boolean};
use nalgebra::{Isometry3, Point3, Vector3};
use solids::Mesh;

use crate::query::Pair;
use crate::solid::{Ready, Solid, Undecided};

/// Boxes that the bounds may look at.
const EFFORT: usize = 4_000;
/// Relative width of the bounds at which they are good enough.
const CLOSE: f64 = 0.02;
/// Covers the rounding of sums and distances, as a part of them.
const ROUNDING: f64 = 1e-9;

/// The space that two bodies share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharedVolume {
    /// Cubic millimetres, to within rounding; zero when the bodies do not overlap. `None` when the
    /// mesh boolean fails, or its result is not within the bounds.
    pub volume: Option<f64>,
    /// Proven: no less than this, cubic millimetres.
    pub at_least: f64,
    /// Proven: no more than this, cubic millimetres.
    pub at_most: f64,
}

impl SharedVolume {
    const NONE: Self = Self { volume: Some(0.0), at_least: 0.0, at_most: 0.0 };
}

/// The volume that `a` and `b` share. Where shells of one body overlap, what they share counts
/// once, as everywhere in this crate.
///
/// Should the library panic, that is caught and told as a failure; the process's panic hook sees
/// it all the same.
///
/// # Errors
/// When a body or the pose cannot be used, [`Undecided::Open`] when a body is not closed, and
/// [`Undecided::FacesBothWays`] when a shell's triangles do.
pub fn shared_volume(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
) -> Result<SharedVolume, Undecided> {
    Ok(shared(a, b, a_from_b)?.0)
}

/// The body that `a` and `b` share, in the frame of `a`, millimetres: the one whose volume
/// [`shared_volume`] gives. `None` when they do not overlap, or that volume is not believed.
///
/// # Errors
/// As for [`shared_volume`].
pub fn shared_body(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
) -> Result<Option<Mesh>, Undecided> {
    Ok(shared(a, b, a_from_b)?.1)
}

fn shared(
    a: &Solid,
    b: &Solid,
    a_from_b: &Isometry3<f64>,
) -> Result<(SharedVolume, Option<Mesh>), Undecided> {
    let pair = Pair::new(a, b, a_from_b)?;
    for body in [pair.a, pair.b] {
        if !body.caps.is_empty() {
            return Err(Undecided::Open);
        }
        if !body.two_faced.is_empty() {
            return Err(Undecided::FacesBothWays);
        }
    }
    let meet = pair.first_crossing().is_some();
    if !meet && !pair.one_holds_other()? {
        return Ok((SharedVolume::NONE, None));
    }
    let Some(bounds) = Bounded::new(&pair) else { return Ok((SharedVolume::NONE, None)) };
    let [at_least, at_most] = bounds.bounds()?;
    let within = |volume: f64| {
        let room = ROUNDING * at_most;
        at_least - room <= volume && volume <= at_most + room
    };
    // About a point near both, so that no digits are lost far from the origin.
    let about = pair.a.bounds.low;
    let body = if meet {
        boolean(a.mesh(), b.mesh(), &pair, &about)
    } else {
        // The library knows only bodies that meet.
        held(a.mesh(), b.mesh(), &pair, &about)
    };
    let believed = body.map(|body| (solids::volume(&body), body)).filter(|(v, _)| within(*v));
    let (volume, body) = believed.unzip();
    let body = body.filter(|body| !body.triangles.is_empty()).map(|mut body| {
        for vertex in &mut body.vertices {
            *vertex += about.coords;
        }
        body
    });
    Ok((SharedVolume { volume, at_least, at_most }, body))
}

/// The body that is inside the other, about a point; `None` when only some of its shells are.
fn held(a: &Mesh, b: &Mesh, pair: &Pair<'_>, about: &Point3<f64>) -> Option<Mesh> {
    let place = |p: Point3<f64>| p - about.coords;
    let (body, vertices) = if pair.shells_of_b_inside().all(|inside| inside == Ok(true)) {
        (b, b.vertices.iter().map(|v| place(pair.a_from_b.apply(v))).collect())
    } else if pair.shells_of_a_inside().all(|inside| inside == Ok(true)) {
        (a, a.vertices.iter().map(|v| place(*v)).collect())
    } else {
        return None;
    };
    let mut held = Mesh { vertices, triangles: body.triangles.clone() };
    if solids::volume(&held) < 0.0 {
        for t in &mut held.triangles {
            t.swap(1, 2);
        }
    }
    Some(held)
}

/// The mesh boolean about a point, `None` when the library cannot do it.
fn boolean(a: &Mesh, b: &Mesh, pair: &Pair<'_>, about: &Point3<f64>) -> Option<Mesh> {
    let b = Mesh {
        vertices: b.vertices.iter().map(|v| pair.a_from_b.apply(v)).collect(),
        triangles: b.triangles.clone(),
    };
    // The library panics on some bodies: `tests/fuzz/found/boolean-that-panics` is one.
    let shared = catch_unwind(|| {
        let (p, q) = (manifold(a, about)?, manifold(&b, about)?);
        Some(compute_boolean(&p, &q, OpType::Intersect))
    });
    match shared.ok()?? {
        Ok(shared) => mesh_of(&shared).filter(|body| solids::volume(body).is_finite()),
        // Bodies that only touch share a body without corners, which it refuses.
        Err(why) => why.starts_with("empty").then(Mesh::default),
    }
}

fn mesh_of(shared: &Manifold) -> Option<Mesh> {
    let vertices = shared.ps.iter().map(|p| Point3::new(p.x, p.y, p.z)).collect();
    let corner = |tail: usize| u32::try_from(tail).ok();
    let triangles = shared
        .hs
        .chunks_exact(3)
        // Edges that went have no ends.
        .filter(|half| half.iter().all(|half| half.tail().is_some()))
        .map(|half| Some([corner(half[0].tail)?, corner(half[1].tail)?, corner(half[2].tail)?]));
    Some(Mesh { vertices, triangles: triangles.collect::<Option<_>>()? })
}

fn manifold(mesh: &Mesh, about: &Point3<f64>) -> Option<Manifold> {
    // Corners at one place are told by their bits: no negative zeros.
    let corners: Vec<f64> =
        mesh.vertices.iter().flat_map(|v| (v - about).data.0[0].map(|c| c + 0.0)).collect();
    let indices: Vec<usize> = mesh.triangles.iter().flatten().map(|v| *v as usize).collect();
    Manifold::new(&corners, &indices).ok()
}

/// A box, in the frame of `a`, of which it is not known how much both bodies fill.
struct Part {
    centre: Point3<f64>,
    half: Vector3<f64>,
}

impl Part {
    fn volume(&self) -> f64 {
        8.0 * self.half.product()
    }
}

impl Ord for Part {
    fn cmp(&self, other: &Self) -> Ordering {
        let place = |part: &Self| part.centre.coords;
        let (here, there) = (place(self), place(other));
        let order = (0..3).map(|i| here[i].total_cmp(&there[i])).find(|order| order.is_ne());
        self.volume().total_cmp(&other.volume()).then(order.unwrap_or(Ordering::Equal))
    }
}
impl PartialOrd for Part {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl PartialEq for Part {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Part {}

/// How a box lies of a body.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Lies {
    Inside,
    Outside,
    Perhaps,
}

/// Bounds of the shared volume: the box around what both bodies may share, cut into smaller ones,
/// the largest first.
struct Bounded<'p, 's> {
    pair: &'p Pair<'s>,
    open: BinaryHeap<Part>,
}

impl<'p, 's> Bounded<'p, 's> {
    /// `None` when the boxes around the bodies are apart.
    fn new(pair: &'p Pair<'s>) -> Option<Self> {
        let b = pair.b.tree.root().seen_from(&pair.a_from_b);
        let centre = Point3::from(b.centre);
        let low = pair.a.bounds.low.sup(&(centre - b.half));
        let high = pair.a.bounds.high.inf(&(centre + b.half));
        let half = (high - low) * 0.5;
        let part = Part { centre: nalgebra::center(&low, &high), half };
        half.iter().all(|side| *side >= 0.0).then(|| Self { pair, open: BinaryHeap::from([part]) })
    }

    fn bounds(mut self) -> Result<[f64; 2], Undecided> {
        let mut sure = 0.0;
        let mut unsure = self.open.iter().map(Part::volume).sum::<f64>();
        let mut left = EFFORT;
        while let Some(part) = self.open.pop() {
            let halves =
                part.half.map(|side| if side > 0.4 * part.half.amax() { 0.5 } else { 1.0 });
            for corner in 0..8 {
                let sign = |axis: usize| if corner >> axis & 1 == 0 { -1.0 } else { 1.0 };
                if (0..3).any(|axis| halves[axis] > 0.5 && sign(axis) > 0.0) {
                    continue;
                }
                let half = part.half.component_mul(&halves);
                let off = Vector3::from_fn(|axis, _| sign(axis) * (part.half[axis] - half[axis]));
                let part = Part { centre: part.centre + off, half };
                match self.lies(&part)? {
                    Lies::Inside => sure += part.volume(),
                    Lies::Outside => {}
                    Lies::Perhaps => {
                        self.open.push(part);
                        continue;
                    }
                }
                unsure -= part.volume();
            }
            left = left.saturating_sub(1);
            if left == 0 || unsure <= CLOSE * sure {
                break;
            }
        }
        // Summed anew: what is left after many subtractions is rounding.
        let unsure = self.open.iter().map(Part::volume).sum::<f64>();
        Ok([sure * (1.0 - ROUNDING), (sure + unsure) * (1.0 + ROUNDING)])
    }

    fn lies(&self, part: &Part) -> Result<Lies, Undecided> {
        let in_b = self.pair.b_from_a.apply(&part.centre);
        let radius = part.half.norm() * (1.0 + ROUNDING) + self.pair.slack();
        let of_a = lies(self.pair.a, &part.centre, radius)?;
        if of_a == Lies::Outside {
            return Ok(of_a);
        }
        let of_b = lies(self.pair.b, &in_b, radius)?;
        Ok(if of_a == Lies::Inside || of_b == Lies::Outside { of_b } else { Lies::Perhaps })
    }
}

fn lies(body: &Ready, centre: &Point3<f64>, radius: f64) -> Result<Lies, Undecided> {
    if body.nearest_slot(centre, radius).is_some() {
        return Ok(Lies::Perhaps);
    }
    Ok(if body.is_inside(centre)? { Lies::Inside } else { Lies::Outside })
}
