//! The land: the plate's surface under a gasket, between its inner and its outer radius.
//!
//! Everything is worked out on the plate's triangles; nothing is sampled. Heights are taken along
//! the cup's axis, which stands square to the sealing face.
//!
//! **Flatness** is that of ISO 1101 and ASME Y14.5: the thinnest space between two parallel planes
//! that holds the surface. Half its height is the surface's greatest departure from the plane for
//! which that is least. It is known between two bounds: any four points of the surface give a lower
//! one, any plane an upper one.
//!
//! *With a deviation d.* The true surface is within d of the mesh and the mesh within d of it. Take
//! a plane that leans by less than one in ten. A true point under the gasket has a point of the mesh
//! within d of it, which lies no more than d outside the two radii and whose height over the plane
//! differs by no more than d times the lean, `sqrt(1 + slope^2)`. So the true departure from that
//! plane is at most that of the mesh over radii grown by d, and d times the lean. The other way
//! round, each point of the mesh at least d inside the radii has a true point under the gasket near
//! it: no plane departs from the true surface by less than the least zone of the mesh over radii
//! shrunk by d, less d times the lean. Nothing is said of how the best-fit plane moves: each bound
//! holds for every plane or for one that is at hand.
//!
//! **The seal width** at a bearing is the longest radial run of plate within the flatness tolerance
//! of the best-fit plane, with nothing of the plate's own above it; the narrowest over all bearings
//! counts. The plane is that of least squares, heights weighted by area seen from above, fitted to
//! the mesh; but the least zone's where only that keeps all of the land within tolerance.
//!
//! *With a deviation d.* A true point more than the tolerance off the plane, at a plan place, has a
//! point of the mesh within d to the side that is off by more than the tolerance less d times the
//! lean; and a sheet of the mesh that runs on over a disc of radius d has a true sheet over its
//! middle. So what is within the narrower tolerance, and d away to the side from where that ends,
//! is certainly good; what is not even within d to the side of the mesh that keeps the tolerance
//! with d times the lean added is certainly not.
//!
//! Where the mesh is open and shows no surface, nothing is known: what is missing counts as bad in
//! the lower bound and as good in the upper, and the check cannot be told. A hole of which every
//! point is within the deviation of the surface around it is no hole.

mod plane;
mod polygon;
mod strip;
#[cfg(test)]
mod tests;
mod top;
mod width;

pub use strip::{LandStrip, Standing, land_strip};
pub(crate) use top::Top;

use measure::{Angle, Interval};
use nalgebra::{Point2, Point3, Vector3};
use plane::{Extremes, Ring, least_squares, least_zone};
use polygon::{Plane, clip};
use top::{Face, WINDOW, seen};
use width::{Asked, Borders, Kind, narrowest};

/// What only touches one of the radii is not under the gasket, mm.
const TOUCH: f64 = 1e-6;
/// What rounding may do to a height, mm.
const ROUNDING: f64 = 1e-9;
/// The lean of a plane out of level by one in ten.
const MOST_LEAN: f64 = 1.005;

/// A land to be measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Asking {
    /// The cup's axis seen from above, plate frame.
    pub(crate) axis: Point2<f64>,
    /// The gasket's inner and outer radius, mm.
    pub(crate) radii: [f64; 2],
    /// The greatest departure from flat that is allowed, mm.
    pub(crate) tolerance: f64,
    /// How far the plate's mesh may be from the truth, mm.
    pub(crate) deviation: f64,
}

/// How flat a land is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Flatness {
    /// Half the height of the least zone, mm.
    pub(crate) departure: Interval,
    /// The plane that heights are told from, over the plan from the cup's axis.
    pub(crate) plane: Plane,
    /// The highest and the lowest place of the mesh over that plane.
    extremes: Extremes,
}

impl Flatness {
    /// The place farthest from the plane, from the axis, and the plane below or above it.
    pub(crate) fn farthest(&self) -> [Point3<f64>; 2] {
        let (height, at) = self.extremes.farthest();
        [at - Vector3::z() * height, at]
    }
}

/// What was found of a land.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Land {
    /// `None` where no plate is seen.
    pub(crate) flatness: Option<Flatness>,
    /// The narrowest run of good land, mm.
    pub(crate) seal_width: Interval,
    /// Where it is, from the cup's axis; toward the hinge where all of the land is good.
    pub(crate) narrowest: Angle,
    /// Toward where the surface is not seen all the way, from the cup's axis.
    pub(crate) unseen: Option<Angle>,
}

impl Land {
    /// Measures a land.
    pub(crate) fn of(top: &Top, asking: &Asking) -> Self {
        let Asking { axis, radii: [inner, outer], tolerance, deviation: d } = *asking;
        let all = [inner, outer, tolerance, d, axis.x, axis.y];
        if all.iter().any(|c| !c.is_finite()) || inner < 0.0 || outer <= inner || d < 0.0 {
            let seal_width = Interval::between(0.0, (outer - inner).max(0.0));
            return Self {
                flatness: None,
                seal_width,
                narrowest: Angle::ZERO,
                unseen: Some(Angle::ZERO),
            };
        }
        let faces = top.about(axis, inner - 2.0 * d - TOUCH, outer + 2.0 * d + TOUCH);
        let pieces = seen(&faces);
        let flatness = flatness(&pieces, asking);
        let off = d * flatness.map_or(1.0, |f| f.plane.lean());
        let plane = flatness.map(|f| f.plane);
        let walk = |band: f64, asked: Asked| {
            let mut borders = Borders::default();
            let with_seen = asked != Asked::Sure && !top.closed;
            for face in &faces {
                add(&mut borders, face, plane.as_ref(), band, with_seen);
            }
            borders.settle(inner - 2.0 * d - TOUCH);
            narrowest(&borders, asked, (inner, outer), d)
        };
        let sure = walk(tolerance - off - ROUNDING, Asked::Sure);
        let most = if d > 0.0 || !top.closed {
            walk(tolerance + off + ROUNDING, Asked::Possible { unseen: !top.closed }).high
        } else {
            sure.high
        };
        let unseen = (!top.closed)
            .then(|| walk(tolerance, Asked::Seen))
            .filter(|seen| seen.low < outer - inner - TOUCH)
            .map(|seen| Angle::from_radians(seen.bearing));
        Self {
            flatness,
            seal_width: Interval::between(sure.low, most.max(sure.low)),
            narrowest: if sure.low < outer - inner {
                Angle::from_radians(sure.bearing)
            } else {
                Angle::ZERO
            },
            unseen,
        }
    }
}

fn flatness(pieces: &[Vec<Point3<f64>>], asking: &Asking) -> Option<Flatness> {
    let Asking { radii: [inner, outer], tolerance, deviation: d, .. } = *asking;
    let fitted = least_squares(pieces, inner, outer)?;
    let grown = Ring::of(pieces, inner - d + TOUCH, outer + d - TOUCH);
    let zone = least_zone(&grown, fitted)?;
    let low = if d > 0.0 {
        let shrunk = Ring::of(pieces, inner + d + TOUCH, outer - d - TOUCH);
        least_zone(&shrunk, fitted).map_or(0.0, |zone| zone.low)
    } else {
        zone.low
    };
    let of = |plane: &Plane, departure: f64| departure + d * plane.lean();
    let by_fitted = of(&fitted, grown.extremes(&fitted)?.departure());
    let by_zone = of(&zone.plane, zone.high);
    let plane = if by_fitted > tolerance && by_zone <= tolerance { zone.plane } else { fitted };
    let departure = Interval::between(
        (low - d * MOST_LEAN - ROUNDING).max(0.0),
        by_zone.min(by_fitted) + ROUNDING,
    );
    let nominal = Ring::of(pieces, inner + TOUCH, outer - TOUCH).extremes(&plane);
    let extremes = nominal.or_else(|| grown.extremes(&plane))?;
    Some(Flatness { departure, plane, extremes })
}

/// Adds what of a triangle is level, high or seen. Where no plane is known nothing is level.
fn add(borders: &mut Borders, face: &Face, plane: Option<&Plane>, band: f64, with_seen: bool) {
    if let Some(plane) = plane {
        let heights = face.corners.map(|p| plane.height(&p));
        if face.upper && band >= 0.0 {
            if heights.iter().all(|h| h.abs() <= band) {
                borders.add(Kind::Level, &face.corners);
            } else {
                let below = clip(&face.corners, |p| band - plane.height(p));
                borders.add(Kind::Level, &clip(&below, |p| plane.height(p) + band));
            }
        }
        if heights.iter().any(|h| *h > band) {
            let high = clip(&face.corners, |p| plane.height(p) - band);
            borders.add(Kind::High, &clip(&high, |p| WINDOW - p.z));
        }
    }
    if with_seen && face.upper {
        let above = clip(&face.corners, |p| p.z + WINDOW);
        borders.add(Kind::Seen, &clip(&above, |p| WINDOW - p.z));
    }
}
