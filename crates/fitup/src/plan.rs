//! Plan check: the flat spacing rule, seen from above. Kept beside the result in 3D so that both
//! can be compared; it never decides a verdict.
//!
//! The distance from the fitting's flange edge to other flange edges, to stud nuts and to the
//! housing, all projected on the plate. It sees neither the lid nor the hinge nor anything above.

use crate::margin::Part;
use assembly::CarTop;
use assembly::car_top::BodyId;
use nalgebra::{Point2, Point3, Vector2};
use solids::Mesh;

/// One distance of the plan check.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanSpacing {
    /// What the fitting's flange edge is near to.
    pub to: Part,
    /// Name for people.
    pub name: String,
    /// Distance seen from above, mm; below zero when they overlap in plan.
    pub spacing: f64,
}

/// The plan check of one fitting: its spacings, least first. Empty when there is nothing else on
/// the plate. `None` when there is no such fitting.
pub fn plan_spacing(car: &CarTop, fitting: usize) -> Option<Vec<PlanSpacing>> {
    let this = car.fittings.get(fitting)?;
    let radius = 0.5 * this.flange;
    let mut all = Vec::new();
    for (i, other) in car.fittings.iter().enumerate() {
        if let (true, Some(&body)) = (i != fitting, other.bodies.first()) {
            let apart = (other.centre - this.centre).norm();
            all.push(PlanSpacing {
                to: Part::Car(body),
                name: format!("{} flange", other.name),
                spacing: apart - radius - 0.5 * other.flange,
            });
        }
    }
    let bodies: Vec<BodyId> = car.studs.iter().flatten().chain(&car.housing).copied().collect();
    for id in bodies {
        let body = &car.body(id).body;
        if let Some(distance) = plan_distance(&body.mesh, this.centre) {
            all.push(PlanSpacing {
                to: Part::Car(id),
                name: body.name.clone(),
                spacing: distance - radius,
            });
        }
    }
    all.sort_by(|a, b| a.spacing.total_cmp(&b.spacing));
    Some(all)
}

/// Distance in plan from a point to the shadow of a mesh, `None` for an empty mesh.
fn plan_distance(mesh: &Mesh, from: Point2<f64>) -> Option<f64> {
    (0..mesh.triangles.len())
        .map(|i| triangle_distance(mesh.corners(i), from))
        .min_by(f64::total_cmp)
}

fn triangle_distance(corners: [Point3<f64>; 3], from: Point2<f64>) -> f64 {
    let flat = corners.map(|c| c.xy());
    let turn = |a: Point2<f64>, b: Point2<f64>| {
        let (u, v): (Vector2<f64>, Vector2<f64>) = (b - a, from - a);
        u.x * v.y - u.y * v.x
    };
    let turns = [turn(flat[0], flat[1]), turn(flat[1], flat[2]), turn(flat[2], flat[0])];
    if turns.iter().all(|t| *t > 0.0) || turns.iter().all(|t| *t < 0.0) {
        return 0.0;
    }
    (0..3)
        .map(|i| {
            let (a, b) = (flat[i], flat[(i + 1) % 3]);
            let along = b - a;
            let length2 = along.norm_squared();
            let t = if length2 > 0.0 {
                ((from - a).dot(&along) / length2).clamp(0.0, 1.0)
            } else {
                0.0
            };
            (from - (a + along * t)).norm()
        })
        .fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_to_a_triangle_beside_over_and_through() {
        let t =
            [Point3::new(1.0, -1.0, 5.0), Point3::new(1.0, 1.0, 9.0), Point3::new(3.0, 0.0, 0.0)];
        assert!((triangle_distance(t, Point2::origin()) - 1.0).abs() < 1e-12);
        assert!(triangle_distance(t, Point2::new(1.5, 0.0)).abs() < 1e-12);
        let beyond = triangle_distance(t, Point2::new(4.0, 0.0));
        assert!((beyond - 1.0).abs() < 1e-12);
    }
}
