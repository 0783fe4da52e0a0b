//! Land: the gasket's annulus lies on bare, flat plate all the way round.
//!
//! The plate is sampled along rays from above on circles and radii of the annulus. Flatness is the
//! greatest distance of a sample from the samples' best-fit plane. At each bearing the seal width
//! is the longest unbroken run of samples on flat plate; the narrowest over all bearings counts.
//! What stands on the land is found by the gaps between the gasket and the other bodies, which are
//! exact; sampling could miss it.

use super::Ledger;
use crate::margin::{Check, Margin, Part, Rule, departure};
use assembly::rig::{RigPart, gasket_of};
use measure::Interval;
use nalgebra::{Matrix3, Point3, Vector3};
use std::f64::consts::TAU;

/// Bearings and radii sampled by a complete run.
const FINE: (usize, usize) = (180, 9);

/// Height above the sealing face from which rays look down at the plate, mm.
const FROM_ABOVE: f64 = 40.0;

pub(super) fn run(ledger: &mut Ledger<'_, '_>) {
    surface(ledger);
    ledger.studs(Check::Land);
    ledger.pairs(Check::Land);
}

fn surface(ledger: &mut Ledger<'_, '_>) {
    let s = ledger.situation;
    let kit = s.scene.kit;
    let Some(gasket) = gasket_of(kit, &kit.cups[s.choice.cup]) else { return };
    let plate = s.scene.car.plate;
    let solid = s.scene.car_solid(plate);
    let deviation = s.deviation(Part::Car(plate));
    let axis = s.pose.plate_from_cup.translation.vector;
    let (inner, outer) =
        (0.5 * gasket.inside_diameter.nominal, 0.5 * gasket.outside_diameter.nominal);
    let (bearings, radii) = FINE;
    let pitch = (outer - inner) / (radii - 1) as f64;
    let mut samples: Vec<Option<Point3<f64>>> = Vec::with_capacity(bearings * radii);
    for i in 0..bearings {
        let (sin, cos) = (TAU * i as f64 / bearings as f64).sin_cos();
        for j in 0..radii {
            // Just inside the edges, so that an edge that just reaches the plate's counts.
            let r = (inner + pitch * j as f64).clamp(inner + 1e-6, outer - 1e-6);
            let origin = Point3::new(axis.x + r * cos, axis.y + r * sin, FROM_ABOVE);
            let hit = gap::ray_hits(solid, &origin, &-Vector3::z())
                .ok()
                .and_then(|hits| hits.first().map(|hit| hit.point))
                .filter(|p| p.z.abs() < FROM_ABOVE);
            samples.push(hit);
        }
    }
    let parts = (Part::Rig(RigPart::Gasket), Part::Car(plate));
    let hits: Vec<Point3<f64>> = samples.iter().flatten().copied().collect();
    let plane = BestFit::of(&hits);
    let limit = kit.rules.land_flatness;

    let worst = plane.as_ref().and_then(|plane| {
        hits.iter().max_by(|a, b| plane.height(a).abs().total_cmp(&plane.height(b).abs()))
    });
    let residual = |p: &Point3<f64>| plane.as_ref().map_or(f64::INFINITY, |f| f.height(p).abs());
    let flat = |p: &Option<Point3<f64>>| p.as_ref().is_some_and(|p| residual(p) <= limit);

    if let (Some(plane), Some(worst)) = (&plane, worst) {
        let high = plane.height(worst).abs();
        ledger.push(Margin::at_most(
            (Check::Land, Rule::Flatness),
            parts,
            limit,
            departure(high, deviation),
            Some([*worst - Vector3::z() * plane.height(worst), *worst]),
        ));
    }

    let mut narrowest = (f64::INFINITY, 0);
    for (i, ray) in samples.chunks(radii).enumerate() {
        let mut run = 0;
        let mut longest = 0;
        for sample in ray {
            run = if flat(sample) { run + 1 } else { 0 };
            longest = longest.max(run);
        }
        let width = if longest == radii {
            outer - inner
        } else {
            // Ends of the run lie somewhere within a pitch beyond its last good samples.
            pitch * (longest as f64 - 1.0).max(0.0)
        };
        if width < narrowest.0 {
            narrowest = (width, i);
        }
    }
    let (width, index) = narrowest;
    let whole = width >= outer - inner;
    let high = if whole { width } else { (width + 2.0 * pitch).min(outer - inner) };
    let (sin, cos) = (TAU * index as f64 / bearings as f64).sin_cos();
    let at = |r: f64| Point3::new(axis.x + r * cos, axis.y + r * sin, 0.0);
    ledger.push(Margin::at_least(
        (Check::Land, Rule::SealWidth),
        parts,
        kit.rules.land_seal_width,
        Interval { low: width, high }
            .widened(0.5 * (gasket.inside_diameter.tolerance + gasket.outside_diameter.tolerance)),
        Some([at(inner), at(outer)]),
    ));
}

/// The plane with the least sum of squared distances to a set of points.
struct BestFit {
    centroid: Point3<f64>,
    normal: Vector3<f64>,
}

impl BestFit {
    /// `None` for fewer than three points.
    fn of(points: &[Point3<f64>]) -> Option<Self> {
        if points.len() < 3 {
            return None;
        }
        let centroid = Point3::from(
            points.iter().map(|p| p.coords).sum::<Vector3<f64>>() / points.len() as f64,
        );
        let covariance = points.iter().fold(Matrix3::zeros(), |sum, p| {
            let d = p - centroid;
            sum + d * d.transpose()
        });
        let eigen = covariance.symmetric_eigen();
        let least = eigen.eigenvalues.imin();
        let normal: Vector3<f64> = eigen.eigenvectors.column(least).into_owned();
        let normal = if normal.z < 0.0 { -normal } else { normal };
        Some(Self { centroid, normal })
    }

    /// Signed distance of a point from the plane, positive above.
    fn height(&self, p: &Point3<f64>) -> f64 {
        self.normal.dot(&(p - self.centroid))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn best_fit_plane_of_a_tilted_plane_has_no_residual() {
        let points: Vec<_> = (0..50)
            .map(|i| {
                let (x, y) = (f64::from(i % 7), f64::from(i / 7));
                Point3::new(x, y, 0.1 * x - 0.2 * y + 3.0)
            })
            .collect();
        let plane = BestFit::of(&points).unwrap();
        assert!(points.iter().all(|p| plane.height(p).abs() < 1e-12));
        assert!(plane.normal.z > 0.0);
    }

    #[test]
    fn two_points_have_no_plane() {
        assert!(BestFit::of(&[Point3::origin(), Point3::new(1.0, 0.0, 0.0)]).is_none());
    }
}
