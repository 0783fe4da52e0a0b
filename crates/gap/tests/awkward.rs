//! Input that is empty, broken, open or far away: always a defined answer.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use common::{Numbers, at, block, cylinder, solid, torus};
use gap::{
    Location, Proximity, Solid, Undecided, clears, crosses, gap, least_depth, locate,
    nearest_point, overlap, overlap_along, ray_hits, winding_number,
};
use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};
use solids::Mesh;

fn bad_solids() -> Vec<(Solid, Undecided)> {
    let mut missing = block(1.0, 1.0, 1.0);
    missing.triangles.push([0, 1, 99]);
    let mut nan = block(1.0, 1.0, 1.0);
    nan.vertices[3].y = f64::NAN;
    let mut endless = block(1.0, 1.0, 1.0);
    endless.vertices[3].y = f64::NEG_INFINITY;
    let mut far = block(1.0, 1.0, 1.0);
    far.vertices[3].y = 1e9;
    let points_only = Mesh { triangles: Vec::new(), ..block(1.0, 1.0, 1.0) };
    vec![
        (solid(&Mesh::default()), Undecided::Empty),
        (solid(&points_only), Undecided::Empty),
        (solid(&missing), Undecided::BadCorner),
        (solid(&nan), Undecided::BadCorner),
        (solid(&endless), Undecided::BadCorner),
        (solid(&far), Undecided::BadCorner),
    ]
}

#[test]
fn bodies_that_cannot_be_used_are_undecided() {
    let good = solid(&block(2.0, 2.0, 2.0));
    let here = Isometry3::identity();
    for (bad, why) in bad_solids() {
        for (a, b) in [(&bad, &good), (&good, &bad), (&bad, &bad)] {
            assert_eq!(gap(a, b, &here, 10.0), Proximity::CannotDecide(why));
            assert_eq!(clears(a, b, &here, 1.0), None);
            assert!(!crosses(a, b, &here));
            assert_eq!(overlap(a, b, &here), None);
            assert_eq!(overlap_along(a, b, &here, &[Vector3::z()]), None);
        }
        assert_eq!(bad.usable(), Err(why));
        assert_eq!(bad.bounds(), None);
        assert_eq!(locate(&bad, &Point3::origin()), Location::CannotDecide);
        assert_eq!(nearest_point(&bad, &Point3::origin(), 1.0), Err(why));
        assert_eq!(ray_hits(&bad, &Point3::origin(), &Vector3::z()), Err(why));
    }
}

#[test]
fn unused_corners_do_no_harm() {
    let mut mesh = block(1.0, 1.0, 1.0);
    mesh.vertices.push(Point3::new(f64::NAN, 0.0, 0.0));
    assert_eq!(solid(&mesh).usable(), Ok(()));
    assert!(solid(&mesh).is_closed());
}

#[test]
fn poses_that_cannot_be_used_are_undecided() {
    let body = solid(&block(1.0, 1.0, 1.0));
    let turned = |w, x| {
        Isometry3::from_parts(
            Translation3::identity(),
            UnitQuaternion::new_unchecked(Quaternion::new(w, x, 0.0, 0.0)),
        )
    };
    let bad = [
        at(f64::NAN, 0.0, 0.0),
        at(0.0, f64::INFINITY, 0.0),
        at(0.0, 0.0, 1e12),
        turned(f64::NAN, 0.0),
        turned(0.0, 0.0),
        turned(1.0, 1.0),
    ];
    for pose in bad {
        assert_eq!(gap(&body, &body, &pose, 1.0), Proximity::CannotDecide(Undecided::BadPose));
        assert_eq!(clears(&body, &body, &pose, 1.0), None);
        assert_eq!(overlap(&body, &body, &pose), None);
    }
}

#[test]
fn odd_caps_and_needs() {
    let body = solid(&block(1.0, 1.0, 1.0));
    let pose = at(5.0, 0.0, 0.0);
    assert!(matches!(gap(&body, &body, &pose, f64::NAN), Proximity::Apart(g) if g.distance == 3.0));
    assert_eq!(gap(&body, &body, &pose, -1.0), Proximity::AtLeast(0.0));
    assert_eq!(gap(&body, &body, &pose, 0.0), Proximity::AtLeast(0.0));
    assert_eq!(clears(&body, &body, &pose, f64::NAN), None);
    assert_eq!(clears(&body, &body, &pose, f64::INFINITY), Some(false));
    assert_eq!(clears(&body, &body, &pose, 3.0), Some(true));
    assert_eq!(clears(&body, &body, &pose, 3.0_f64.next_up()), Some(false));
}

/// Half sides of 5 and 15: the faces lie on each other at a height of 5.
#[test]
fn bodies_that_stand_on_each_other_have_a_place_and_no_depth() {
    let (low, high) = (solid(&block(25.0, 20.0, 5.0)), solid(&block(10.0, 30.0, 15.0)));
    let (depth, place) = least_depth(&low, &high, &at(15.0, -5.0, 20.0), 0.0).unwrap();
    assert_eq!((depth, place.z), (0.0, 5.0));
    assert!((5.0..=25.0).contains(&place.x) && (-20.0..=20.0).contains(&place.y), "{place}");
    assert_eq!(least_depth(&low, &high, &at(15.0, -5.0, 20.001), 0.0), None);
    // As deep as it has to be lifted, and in the lower one no deeper than half its thickness.
    let (depth, _) = least_depth(&low, &high, &at(15.0, -5.0, 12.0), f64::INFINITY).unwrap();
    assert!((depth - 8.0).abs() < 1e-9, "{depth}");
}

#[test]
fn a_need_whose_square_is_nothing_is_still_a_need() {
    // Two bars across one another, no corner of one in the other.
    let (a, b) = (solid(&block(5.0, 1.0, 1.0)), solid(&block(1.0, 5.0, 1.0)));
    for need in [1e-100, 1e-170, 5e-324] {
        assert_eq!(clears(&a, &b, &at(0.25, 0.5, 1.5), need), Some(false), "{need:e}");
        assert_eq!(clears(&a, &b, &at(0.25, 0.5, 2.5), need), Some(true), "{need:e}");
    }
}

#[test]
fn directions_of_any_length_and_of_none() {
    let body = solid(&block(1.0, 1.0, 1.0));
    let pose = at(1.5, 0.0, 0.0);
    for length in [1e-320, 1e-200, 1.0, 1e200, f64::MAX] {
        let found = overlap_along(&body, &body, &pose, &[Vector3::x() * length]).unwrap();
        assert!((found.depth_high - 0.5).abs() < 1e-3 && found.way_out == Vector3::x());
        let from = Point3::new(-4.0, 0.25, 0.5);
        let hits = ray_hits(&body, &from, &(Vector3::x() * length)).unwrap();
        assert_eq!(hits.iter().map(|hit| hit.distance).collect::<Vec<_>>(), [3.0, 5.0]);
    }
    for bad in [f64::NAN, f64::INFINITY, 0.0] {
        let way = Vector3::new(bad, 0.0, 0.0);
        assert_eq!(overlap_along(&body, &body, &pose, &[way]), None);
        assert_eq!(ray_hits(&body, &Point3::origin(), &way), Err(Undecided::BadPoint));
    }
}

#[test]
fn a_point_in_the_mouth_of_an_open_box_is_neither_in_nor_out() {
    for side in 0..6 {
        let mut open = block(3.0, 3.0, 3.0);
        // The faces along -z, z, -y, y, -x, x.
        open.triangles.drain(2 * side..2 * side + 2);
        let (axis, far) = (2 - side / 2, if side % 2 == 0 { -3.0 } else { 3.0 });
        let mut mouth = Point3::new(0.25, 0.125, -0.5);
        mouth[axis] = far;
        let body = solid(&open);
        let winding = winding_number(&body, &mouth).unwrap();
        assert!((winding - 0.5).abs() < 1e-12, "side {side}: {winding}");
        assert_eq!(locate(&body, &mouth), Location::CannotDecide, "side {side}");
        // On the line from a corner of the mouth to its middle the engine may not know either.
        let mut diagonal = Point3::new(1.5, 1.5, 1.5);
        diagonal[axis] = far;
        let told = winding_number(&body, &diagonal);
        assert!(told.is_err() || told.is_ok_and(|w| (w - 0.5).abs() < 1e-6), "{told:?}");
    }
}

#[test]
fn an_open_body_says_that_it_cannot_decide() {
    // A box without its top: near the opening the winding number is about one half.
    let mut tray = block(10.0, 10.0, 2.0);
    tray.triangles.drain(2..4);
    let tray = solid(&tray);
    assert!(!tray.is_closed());
    let pea = solid(&block(0.1, 0.1, 0.1));
    assert_eq!(gap(&tray, &pea, &at(0.0, 0.0, 1.8), 1.0), Proximity::CannotDecide(Undecided::Open));
    assert_eq!(clears(&tray, &pea, &at(0.0, 0.0, 1.8), 0.1), None);
    // A need that the surfaces themselves break needs no inside test.
    assert_eq!(clears(&tray, &pea, &at(0.0, 0.0, 1.8), 8.0), Some(false));
    assert_eq!(locate(&tray, &Point3::new(0.0, 0.0, 1.8)), Location::CannotDecide);
    // Deep in a nearly closed body it is certain.
    let mut pierced = torus(4.0, 1.5, 48, 24);
    pierced.triangles.drain(100..103);
    let pierced = solid(&pierced);
    assert_eq!(locate(&pierced, &Point3::new(0.0, -4.0, 0.0)), Location::Inside);
    assert_eq!(locate(&pierced, &Point3::new(0.0, 0.0, 0.0)), Location::Outside);
    assert_eq!(gap(&pierced, &pea, &at(0.0, -4.0, 0.0), 1.0), Proximity::Overlapping);
}

#[test]
fn triangles_that_face_both_ways_are_not_trusted() {
    let mut mesh = torus(4.0, 1.5, 48, 24);
    for t in mesh.triangles.iter_mut().skip(1_000) {
        t.swap(0, 1);
    }
    let body = solid(&mesh);
    assert_eq!(locate(&body, &Point3::new(-4.0, 0.1, 0.0)), Location::CannotDecide);
    assert_eq!(locate(&body, &Point3::new(40.0, 0.0, 0.0)), Location::Outside);
    let pea = solid(&block(0.1, 0.1, 0.1));
    assert_eq!(
        gap(&body, &pea, &at(-4.0, 0.1, 0.0), 0.5),
        Proximity::CannotDecide(Undecided::FacesBothWays)
    );
}

#[test]
fn a_body_wound_inward_still_has_an_inside() {
    let inward = solid(&common::flipped(&block(2.0, 2.0, 2.0)));
    assert_eq!(locate(&inward, &Point3::new(0.5, 0.25, 1.0)), Location::Inside);
}

#[test]
fn corners_at_one_place_need_not_be_shared() {
    // As read from STL without merging: three corners of its own for each triangle.
    let mesh = cylinder(3.0, 5.0, 20, 3);
    let mut soup = Mesh::default();
    for i in 0..mesh.triangles.len() {
        soup.append(&common::triangle(mesh.corners(i)));
    }
    let soup = solid(&soup);
    assert!(soup.is_closed());
    assert_eq!(soup.shell_count(), 1);
    assert_eq!(locate(&soup, &Point3::new(1.0, 1.0, 1.0)), Location::Inside);
}

#[test]
fn a_thousand_equal_triangles() {
    // No box of one can be told from another: the hierarchy cannot split them.
    let mut mesh = Mesh::default();
    for _ in 0..1_000 {
        mesh.append(&common::triangle([
            Point3::new(0.0, 0.0, 0.0),
            Point3::new(1.0, 0.0, 0.0),
            Point3::new(0.0, 1.0, 0.0),
        ]));
    }
    let body = solid(&mesh);
    let answer = gap(&body, &body, &at(0.0, 0.0, 2.0), f64::INFINITY);
    assert!(matches!(answer, Proximity::Apart(g) if g.distance == 2.0), "{answer:?}");
}

#[test]
fn rays_miss_nothing_and_say_which_way() {
    let mut numbers = Numbers::new(5);
    let bar = solid(&block(1.0, 2.0, 3.0));
    // Down the middle, where the diagonal of the top face runs: both triangles of each face.
    let hits = ray_hits(&bar, &Point3::new(0.0, 0.0, 10.0), &Vector3::new(0.0, 0.0, -2.0)).unwrap();
    let distances: Vec<f64> = hits.iter().map(|h| h.distance).collect();
    assert_eq!(distances, [7.0, 7.0, 13.0, 13.0]);
    assert!(hits[0].entering && hits[1].entering && !hits[2].entering);
    // Nothing behind the origin.
    assert!(ray_hits(&bar, &Point3::new(0.0, 0.0, 10.0), &Vector3::z()).unwrap().is_empty());
    assert_eq!(ray_hits(&bar, &Point3::origin(), &Vector3::zeros()), Err(Undecided::BadPoint));
    // Along a face: in its plane.
    let along = ray_hits(&bar, &Point3::new(-5.0, 2.0, 0.5), &Vector3::x()).unwrap();
    assert!(along.iter().any(|h| (h.distance - 4.0).abs() < 1e-9), "{along:?}");
    // Through corners and edges of a closed body every ray from inside must get out.
    let ring = torus(4.0, 1.5, 24, 12);
    let body = solid(&ring);
    for k in 0..2_000 {
        let target = ring.vertices[usize::try_from(numbers.below(288)).unwrap()];
        let other = ring.vertices[usize::try_from(numbers.below(288)).unwrap()];
        let target = if k % 2 == 0 { target } else { nalgebra::center(&target, &other) };
        let from = Point3::new(4.0, 0.0, 0.0);
        let Some(way) = (target - from).try_normalize(1e-6) else { continue };
        assert!(!ray_hits(&body, &from, &way).unwrap().is_empty());
        // Random rays: crossings with sign sum to the winding number of the origin.
        let origin = numbers.point(6.0);
        let hits = ray_hits(&body, &origin, &numbers.point(1.0).coords).unwrap();
        let sum: i32 = hits.iter().map(|h| if h.entering { -1 } else { 1 }).sum();
        let inside = locate(&body, &origin) == Location::Inside;
        assert_eq!(sum, i32::from(inside), "{origin}");
    }
}

#[test]
fn the_nearest_point_is_the_nearest() {
    let mut numbers = Numbers::new(6);
    let (mesh, bar) = (block(1.0, 2.0, 3.0), [1.0, 2.0, 3.0]);
    let body = solid(&mesh);
    for _ in 0..5_000 {
        let p = numbers.point(5.0);
        let found = nearest_point(&body, &p, f64::INFINITY).unwrap().unwrap();
        let out: Vec<f64> = (0..3).map(|i| p[i].abs() - bar[i]).collect();
        let beyond = out.iter().map(|c| c.max(0.0).powi(2)).sum::<f64>().sqrt();
        let expected = if beyond > 0.0 {
            beyond
        } else {
            -out.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        };
        assert!((found.distance - expected).abs() < 1e-12, "{p} {found:?} {expected}");
        assert!(((found.point - p).norm() - expected).abs() < 1e-12);
        assert_eq!(nearest_point(&body, &p, expected * 0.999).unwrap(), None);
    }
    assert_eq!(
        nearest_point(&body, &Point3::new(f64::NAN, 0.0, 0.0), 1.0),
        Err(Undecided::BadPoint)
    );
}
