//! One body against a point or a ray.

use nalgebra::{Point3, Vector3};
use pulp::{Arch, Simd, WithSimd};
use std::ops::ControlFlow;

use crate::inside::usable;
use crate::lanes::squared_to;
use crate::pose::unit;
use crate::solid::{Ready, Solid, Undecided};
use crate::tree::{Child, WIDTH, outward};
use crate::triangle::{nearest_to_point, segment_meets_triangle, side};

/// The point of a body's surface nearest to a given point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NearestPoint {
    /// On the surface, in the body's frame.
    pub point: Point3<f64>,
    /// Millimetres from the given point; unsigned.
    pub distance: f64,
    /// Index of the triangle in the mesh.
    pub triangle: u32,
}

/// The point of the surface of `solid` nearest to `point`, both in its frame; `None` if none is
/// nearer than `cap` millimetres. A cap that is not a number is no cap.
pub fn nearest_point(
    solid: &Solid,
    point: &Point3<f64>,
    cap: f64,
) -> Result<Option<NearestPoint>, Undecided> {
    let ready = solid.ready()?;
    if !usable(point) {
        return Err(Undecided::BadPoint);
    }
    Ok(ready.nearest_point(point, if cap.is_nan() { f64::INFINITY } else { cap }))
}

impl Ready {
    /// See [`nearest_point`].
    pub(crate) fn nearest_point(&self, point: &Point3<f64>, cap: f64) -> Option<NearestPoint> {
        let (slot, distance) = self.nearest_slot(point, cap)?;
        let on_surface = nearest_to_point(point, &self.soup.corners(slot));
        Some(NearestPoint { point: on_surface, distance, triangle: self.slots[slot] })
    }

    /// The slot of the triangle nearest to a point, if nearer than `cap`, and its distance.
    pub(crate) fn nearest_slot(&self, point: &Point3<f64>, cap: f64) -> Option<(usize, f64)> {
        if cap <= 0.0 {
            return None;
        }
        let mut found = None;
        self.approach(point, cap, |slot, distance, within| {
            if distance < *within {
                *within = distance;
                found = Some((slot, distance));
            }
            ControlFlow::Continue(())
        });
        found
    }

    /// The slot of some triangle that is no farther from a point than `reach`.
    pub(crate) fn any_within(&self, point: &Point3<f64>, reach: f64) -> Option<usize> {
        let mut found = None;
        self.approach(point, reach, |slot, distance, within| {
            if distance <= *within {
                found = Some(slot);
                return ControlFlow::Break(());
            }
            ControlFlow::Continue(())
        });
        found
    }

    /// Goes through the triangles that may lie within a distance of a point, the nearest boxes first.
    /// `meet` gets the slot and the distance of each and may draw the distance in, or end it.
    fn approach(
        &self,
        point: &Point3<f64>,
        within: f64,
        meet: impl FnMut(usize, f64, &mut f64) -> ControlFlow<()>,
    ) {
        Arch::new().dispatch(Approach { body: self, point, within, meet });
    }
}

/// See [`Ready::approach`].
struct Approach<'r, M> {
    body: &'r Ready,
    point: &'r Point3<f64>,
    within: f64,
    meet: M,
}

impl<M: FnMut(usize, f64, &mut f64) -> ControlFlow<()>> WithSimd for Approach<'_, M> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { body, point, mut within, mut meet } = self;
        let slack = 256.0 * f64::EPSILON * (body.reach + point.coords.amax());
        let mut limit = outward((within + slack).powi(2));
        let mut open: Vec<(f32, Child)> = Vec::with_capacity(DEEP);
        open.push((0.0, Child::ROOT));
        while let Some((bound, next)) = open.pop() {
            if bound >= limit {
                continue;
            }
            let node = body.tree.node(next);
            let bounds = node.bounds_to(point);
            if !node.is_last() {
                let first = open.len();
                for (lane, bound) in bounds.into_iter().enumerate().take(node.count()) {
                    if bound < limit {
                        insert_nearest_last(&mut open, first, (bound, node.child(lane)));
                    }
                }
                continue;
            }
            let (mut near, mut count) = ([(0.0_f32, 0_usize); WIDTH], 0);
            for (lane, bound) in bounds.into_iter().enumerate().take(node.count()) {
                if bound < limit {
                    let mut place = count;
                    while place > 0 && near[place - 1].0 >= bound {
                        near[place] = near[place - 1];
                        place -= 1;
                    }
                    near[place] = (bound, node.slot(lane));
                    count += 1;
                }
            }
            // As many at a time as a vector has lanes, whether or not the first draws the limit in.
            for some in near[..count].chunks(S::F64_LANES.min(WIDTH)) {
                if some[0].0 >= limit {
                    break;
                }
                let triangles = some.iter().map(|(_, slot)| body.soup.corners(*slot));
                let squared = squared_to(simd, triangles, point);
                for (lane, (bound, slot)) in some.iter().enumerate() {
                    if *bound >= limit {
                        break;
                    }
                    if meet(*slot, squared[lane].sqrt(), &mut within).is_break() {
                        return;
                    }
                    limit = outward((within + slack).powi(2));
                }
            }
        }
    }
}

/// Branches for which there is room from the start.
const DEEP: usize = 64;

/// Keeps the entries from `first` on in falling order, so that the nearest is taken next.
#[inline(always)]
fn insert_nearest_last(open: &mut Vec<(f32, Child)>, first: usize, entry: (f32, Child)) {
    let mut place = open.len();
    open.push(entry);
    while place > first && open[place - 1].0 < entry.0 {
        open.swap(place - 1, place);
        place -= 1;
    }
}

/// Where a ray meets a body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RayHit {
    /// Millimetres from the origin along the ray.
    pub distance: f64,
    /// In the body's frame.
    pub point: Point3<f64>,
    /// Whether the ray comes from the triangle's front; on a closed body it enters there. A ray
    /// that runs in the triangle's plane comes from neither side and counts as not entering.
    pub entering: bool,
    /// Index of the triangle in the mesh.
    pub triangle: u32,
}

/// Every triangle of `solid` met by the ray from `origin` along `direction` (any length), nearest
/// first; equal distances in the order of the triangles. No hit is lost in the crack between two
/// triangles: a ray through a shared edge or corner reports every triangle that has it.
pub fn ray_hits(
    solid: &Solid,
    origin: &Point3<f64>,
    direction: &Vector3<f64>,
) -> Result<Vec<RayHit>, Undecided> {
    let ready = solid.ready()?;
    let along = unit(direction).ok_or(Undecided::BadPoint)?;
    if !usable(origin) || !along.iter().all(|c| c.is_finite()) {
        return Err(Undecided::BadPoint);
    }
    // Past everything: the box's farthest corner is nearer.
    let farthest = 4.0 * (ready.reach + origin.coords.amax()) + 1.0;
    let end = origin + along * farthest;
    let mut hits = Vec::new();
    ready.tree.along_ray(origin, &along, farthest, |slot| {
        let corners = &ready.soup.corners(slot);
        if segment_meets_triangle(origin, &end, corners) {
            let (before, after) = (side(corners, origin), side(corners, &end));
            let in_plane = before == 0.0 && after == 0.0;
            let distance = if in_plane {
                // In the plane: the nearest point of the triangle on the ray.
                let at = crate::triangle::nearest(&[*origin, end, end], corners, f64::INFINITY);
                at.map_or(0.0, |at| along.dot(&(at.on_p - origin)).max(0.0))
            } else {
                farthest * (before / (before - after)).clamp(0.0, 1.0)
            };
            hits.push(RayHit {
                distance,
                point: origin + along * distance,
                entering: before > after,
                triangle: ready.slots[slot],
            });
        }
        true
    });
    hits.sort_by(|x, y| x.distance.total_cmp(&y.distance).then(x.triangle.cmp(&y.triangle)));
    Ok(hits)
}
