//! Shapes whose gap or depth has a formula. Round shapes are cut into chords with their corners
//! on the true surface, so that the mesh lies within the sagitta of it.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use std::f64::consts::FRAC_PI_2;

use common::{at, block, cylinder, flipped, pipe, pose, sagitta, solid, sphere, torus};
use gap::{Location, Proximity, Solid, gap, locate, overlap, overlap_along};
use nalgebra::{Isometry3, Point3, Vector3};

const ROUNDING: f64 = 1e-12;

fn apart(a: &Solid, b: &Solid, pose: &Isometry3<f64>) -> f64 {
    match gap(a, b, pose, f64::INFINITY) {
        Proximity::Apart(gap) => {
            assert!(((gap.on_a - gap.on_b).norm() - gap.distance).abs() < ROUNDING);
            gap.distance
        }
        other => panic!("{other:?}"),
    }
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found}, expected {expected} +- {tolerance}");
}

#[test]
fn boxes_face_to_face_edge_to_edge_corner_to_face() {
    let (a, b) = (solid(&block(5.0, 6.0, 7.0)), solid(&block(1.0, 2.0, 3.0)));
    near(apart(&a, &b, &at(10.0, 0.5, -0.25)), 4.0, ROUNDING);
    near(apart(&a, &b, &at(10.0, 12.0, 0.0)), 32.0_f64.sqrt(), ROUNDING);
    near(apart(&a, &b, &at(9.0, 12.0, 15.0)), 50.0_f64.sqrt(), ROUNDING);
    // A cube on its corner: the corner is sqrt(3) from the middle.
    let cube = solid(&block(1.0, 1.0, 1.0));
    let axis = Vector3::new(1.0, 1.0, 1.0).cross(&Vector3::x()).normalize();
    let stand = axis * (1.0_f64 / 3.0_f64.sqrt()).acos();
    let on_corner = pose([stand.x, stand.y, stand.z], [5.0 + 3.0_f64.sqrt() + 0.125, 0.3, 0.2]);
    near(apart(&a, &cube, &on_corner), 0.125, 1e-11);
    // Edge against edge, square to one another.
    let turned = pose([0.0, FRAC_PI_2 / 2.0, 0.0], [0.0, 0.0, 7.0 + 2.0_f64.sqrt() + 0.5]);
    near(apart(&a, &cube, &turned), 0.5, ROUNDING);
}

#[test]
fn cylinders_coaxial_and_parallel() {
    for n in [24, 96, 360] {
        let error = sagitta(12.0, n) + sagitta(10.0, n);
        let (tube, rod) = (solid(&pipe(12.0, 15.0, 40.0, n)), solid(&cylinder(10.0, 55.0, n, 3)));
        for turn in [0.0, 0.01, 0.4] {
            near(apart(&tube, &rod, &pose([0.0, 0.0, turn], [0.0, 0.0, 3.0])), 2.0, error);
        }
        // Off centre by 1.5: 0.5 is left.
        near(apart(&tube, &rod, &at(1.2, 0.9, 0.0)), 0.5, error);
        let rods = (solid(&cylinder(10.0, 30.0, n, 5)), solid(&cylinder(7.0, 30.0, n, 2)));
        let error = sagitta(10.0, n) + sagitta(7.0, n);
        near(apart(&rods.0, &rods.1, &at(12.0, 16.0, 9.0)), 3.0, error);
        // Crossed at right angles: the distance of the axes less both radii.
        let crossed = pose([FRAC_PI_2, 0.0, 0.0], [20.0, 3.0, 1.0]);
        near(apart(&rods.0, &rods.1, &crossed), 3.0, error);
    }
}

#[test]
fn tori_stacked_and_linked() {
    for (n, m) in [(48, 16), (128, 64)] {
        let body = solid(&torus(40.0, 6.0, n, m));
        let error = 2.0 * (sagitta(46.0, n) + sagitta(6.0, m));
        near(apart(&body, &body, &at(0.0, 0.0, 15.0)), 3.0, error);
        near(apart(&body, &body, &at(60.0, 80.0, 0.0)), 8.0, error);
        // Linked at right angles through the centre: every point of one ring's middle circle is
        // one radius from the other's.
        near(apart(&body, &body, &pose([FRAC_PI_2, 0.0, 0.0], [40.0, 0.0, 0.0])), 28.0, error);
    }
}

#[test]
fn a_body_inside_another_overlaps_and_in_a_cavity_does_not() {
    let outer = block(10.0, 10.0, 10.0);
    let pea = solid(&block(0.5, 0.5, 0.5));
    assert_eq!(gap(&solid(&outer), &pea, &at(3.0, 2.0, 1.0), 100.0), Proximity::Overlapping);
    assert_eq!(gap(&pea, &solid(&outer), &at(3.0, 2.0, 1.0), 0.1), Proximity::Overlapping);
    let mut hollow = outer.clone();
    hollow.append(&flipped(&block(6.0, 6.0, 6.0)));
    let hollow = solid(&hollow);
    near(apart(&hollow, &pea, &at(1.0, 2.0, 3.0)), 2.5, ROUNDING);
    assert_eq!(gap(&hollow, &pea, &at(8.0, 0.0, 0.0), 100.0), Proximity::Overlapping);
    // Two shells that run into each other stand for their union: inside both is inside.
    let mut union = outer.clone();
    union.append(&block(2.0, 2.0, 30.0));
    let union = solid(&union);
    assert_eq!(gap(&union, &pea, &at(0.0, 0.0, 5.0), 100.0), Proximity::Overlapping);
    assert_eq!(locate(&union, &Point3::new(0.1, 0.2, 0.3)), Location::Inside);
    // One of many shells inside is enough.
    let mut crumbs = block(0.5, 0.5, 0.5).transformed(&at(50.0, 0.0, 0.0));
    crumbs.append(&block(0.5, 0.5, 0.5));
    assert_eq!(
        gap(&solid(&outer), &solid(&crumbs), &at(0.0, 0.0, 0.0), 1.0),
        Proximity::Overlapping
    );
}

#[test]
fn touching_is_overlapping() {
    let cube = solid(&block(1.0, 1.0, 1.0));
    for shift in [[2.0, 0.0, 0.0], [2.0, 2.0, 0.0], [2.0, 2.0, 2.0], [2.0, 0.5, -0.25]] {
        let pose = pose([0.0; 3], shift);
        assert_eq!(gap(&cube, &cube, &pose, 10.0), Proximity::Overlapping, "{shift:?}");
    }
    // One rounding step away it is a gap again.
    let next = 2.0_f64.next_up();
    assert!(matches!(gap(&cube, &cube, &at(next, 0.0, 0.0), 10.0), Proximity::Apart(_)));
}

#[test]
fn depth_of_boxes() {
    let (a, b) = (solid(&block(5.0, 5.0, 5.0)), solid(&block(5.0, 5.0, 5.0)));
    let found = overlap(&a, &b, &at(9.0, 0.5, 0.3)).unwrap();
    near(found.depth_low, 1.0, 1e-9);
    near(found.depth_high, 1.0, 2e-4);
    assert!((found.way_out - Vector3::x()).norm() < 1e-6, "{found:?}");
    // A pea in a block must travel to the nearest face and its own width.
    let pea = solid(&block(0.5, 0.5, 0.5));
    let found = overlap(&a, &pea, &at(0.0, -3.0, 0.0)).unwrap();
    near(found.depth_low, 2.5, 1e-9);
    near(found.depth_high, 2.5, 1e-3);
    // Along an asked direction only.
    let up = overlap_along(&a, &pea, &at(0.0, -3.0, 0.0), &[Vector3::new(0.0, 0.0, 3.0)]).unwrap();
    near(up.depth_high, 5.5, 1e-3);
    assert!(overlap_along(&a, &pea, &at(0.0, 0.0, 0.0), &[Vector3::zeros()]).is_none());
    assert!(overlap(&a, &pea, &at(20.0, 0.0, 0.0)).is_none());
}

#[test]
fn depth_of_two_spheres() {
    let (n, rows) = (96, 48);
    let ball = solid(&sphere(10.0, n, rows));
    let error = 2.0 * (sagitta(10.0, n) + sagitta(10.0, 2 * rows));
    for shift in [[0.0, 0.0, 18.0], [18.0, 0.0, 0.0], [10.8, 14.4, 0.0], [6.0, 12.0, 12.0]] {
        let found = overlap(&ball, &ball, &pose([0.1, 0.2, 0.3], shift)).unwrap();
        let depth = 20.0 - Vector3::from(shift).norm();
        // The chords lie inside, so the mesh is never deeper than the true lens.
        assert!(found.depth_low <= depth + 1e-9 && found.depth_low >= depth - error, "{found:?}");
        assert!(found.depth_high >= depth - error, "{found:?}");
        assert!(found.depth_high <= depth * 1.05 + error, "{shift:?} {found:?}");
    }
}

#[test]
fn depth_of_a_rod_in_a_wall() {
    // A rod pressed 0.75 into the bore of a tube: it must move 0.75 back at least.
    let n = 180;
    let (tube, rod) = (solid(&pipe(12.0, 15.0, 40.0, n)), solid(&cylinder(10.0, 55.0, n, 40)));
    let error = sagitta(12.0, n) + sagitta(10.0, n);
    let found = overlap(&tube, &rod, &at(2.2, 1.65, 0.0)).unwrap();
    near(found.depth_low, 0.75, error);
    near(found.depth_high, 0.75, error + 0.02);
}
