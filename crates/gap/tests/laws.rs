//! Laws that hold for any bodies.

#![allow(
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "a test may fail; exact values are meant"
)]

mod common;

use common::{Numbers, block, cylinder, solid, torus, triangle};
use gap::{
    Location, Proximity, clears, crosses, gap, locate, motion, nearest_point, overlap,
    winding_number,
};
use nalgebra::{Isometry3, Point3, Vector3};
use proptest::prelude::*;
use solids::Mesh;

fn any_pose(shift: f64) -> impl Strategy<Value = Isometry3<f64>> {
    (proptest::array::uniform3(-3.0..3.0_f64), proptest::array::uniform3(-shift..shift))
        .prop_map(|(turn, shift)| common::pose(turn, shift))
}

/// Closed bodies, of one shell or more.
fn closed() -> impl Strategy<Value = Mesh> {
    prop_oneof![
        Just(block(3.0, 2.0, 1.0)),
        Just(torus(4.0, 1.0, 24, 10)),
        Just(cylinder(1.5, 4.0, 16, 4)),
        Just({
            let mut two = block(1.0, 1.0, 4.0);
            two.append(&torus(3.0, 0.8, 20, 8));
            two
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn swapping_the_bodies_changes_nothing(a in closed(), b in closed(), pose in any_pose(7.0)) {
        let (a, b, back) = (solid(&a), solid(&b), pose.inverse());
        match (gap(&a, &b, &pose, f64::INFINITY), gap(&b, &a, &back, f64::INFINITY)) {
            (Proximity::Apart(x), Proximity::Apart(y)) => {
                prop_assert!((x.distance - y.distance).abs() < 1e-12);
            }
            (x, y) => prop_assert_eq!(x, y),
        }
        let need = 0.7;
        prop_assert_eq!(clears(&a, &b, &pose, need), clears(&b, &a, &back, need));
        prop_assert_eq!(overlap(&a, &b, &pose).is_some(), overlap(&b, &a, &back).is_some());
    }

    #[test]
    fn moving_both_changes_nothing(
        a in closed(), b in closed(), pose in any_pose(7.0), m in any_pose(300.0), n in any_pose(300.0),
    ) {
        let moved = (solid(&a.transformed(&m)), solid(&b.transformed(&n)));
        let there = m * pose * n.inverse();
        let here = gap(&solid(&a), &solid(&b), &pose, f64::INFINITY);
        match (here, gap(&moved.0, &moved.1, &there, f64::INFINITY)) {
            (Proximity::Apart(x), Proximity::Apart(y)) => {
                prop_assert!((x.distance - y.distance).abs() < 1e-10, "{} {}", x.distance, y.distance);
            }
            (x, y) => prop_assert_eq!(x, y),
        }
    }

    #[test]
    fn thresholds_agree_with_the_gap(a in closed(), b in closed(), pose in any_pose(7.0), need in 0.0..4.0_f64) {
        let (a, b) = (solid(&a), solid(&b));
        let answer = gap(&a, &b, &pose, f64::INFINITY);
        match answer {
            Proximity::Apart(found) => {
                prop_assert_eq!(clears(&a, &b, &pose, need), Some(found.distance >= need));
                for below in [0.0, need * 0.3, need * 0.9] {
                    prop_assert!(found.distance < need || clears(&a, &b, &pose, below) == Some(true));
                }
                let capped = gap(&a, &b, &pose, need);
                if found.distance >= need {
                    prop_assert_eq!(capped, Proximity::AtLeast(need));
                } else {
                    prop_assert!(matches!(capped, Proximity::Apart(c) if c.distance == found.distance));
                }
                prop_assert!(!crosses(&a, &b, &pose));
                prop_assert_eq!(overlap(&a, &b, &pose), None);
            }
            Proximity::Overlapping => {
                for need in [-1.0, 0.0, need] {
                    prop_assert_eq!(clears(&a, &b, &pose, need), Some(false));
                }
                prop_assert_eq!(gap(&a, &b, &pose, need), Proximity::Overlapping);
            }
            other => prop_assert!(false, "{:?}", other),
        }
    }

    #[test]
    fn an_overlap_is_bracketed(
        a in closed(), b in closed(), pose in any_pose(4.0), way in proptest::array::uniform3(-1.0..1.0_f64),
    ) {
        let (a, b) = (solid(&a), solid(&b));
        if let Some(found) = overlap(&a, &b, &pose) {
            prop_assert!(found.depth_low >= 0.0 && found.depth_low <= found.depth_high);
            prop_assert!((found.way_out.norm() - 1.0).abs() < 1e-12);
            let moved = |by: Vector3<f64>| nalgebra::Translation3::from(by) * pose;
            let free = gap(&a, &b, &moved(found.way_out * found.depth_high), f64::INFINITY);
            prop_assert!(matches!(free, Proximity::Apart(_)), "{:?}", found);
            // No shorter way than the lower bound, in a direction of chance.
            if let Some(way) = Vector3::from(way).try_normalize(1e-3) {
                let short = moved(way * found.depth_low * 0.999_999);
                prop_assert_eq!(gap(&a, &b, &short, f64::INFINITY), Proximity::Overlapping);
            }
            prop_assert_eq!(overlap(&a, &b, &pose), Some(found));
        }
    }

    #[test]
    fn the_gap_changes_no_more_than_the_motion(
        a in closed(), b in closed(), pose in any_pose(9.0), turn in -0.5..0.5_f64,
    ) {
        let (a, b) = (solid(&a), solid(&b));
        // A turn of b about its own z axis.
        let radius = motion::radius_about(&b, &Point3::origin(), &Vector3::z()).unwrap();
        let bound = motion::turn_bound(radius, turn);
        let turned = pose * common::pose([0.0, 0.0, turn], [0.0; 3]);
        if let (Proximity::Apart(x), Proximity::Apart(y)) =
            (gap(&a, &b, &pose, f64::INFINITY), gap(&a, &b, &turned, f64::INFINITY))
        {
            prop_assert!((x.distance - y.distance).abs() <= bound + 1e-12);
        }
    }
}

/// Van Oosterom and Strackee's solid angle summed over every triangle.
fn summed(mesh: &Mesh, point: &Point3<f64>) -> f64 {
    let of = |i: usize| {
        let [a, b, c] = mesh.corners(i).map(|corner| corner - point);
        let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
        let below = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
        a.dot(&b.cross(&c)).atan2(below)
    };
    (0..mesh.triangles.len()).map(of).sum::<f64>() / std::f64::consts::TAU
}

#[test]
fn the_winding_number_is_the_summed_solid_angle() {
    let mut numbers = Numbers::new(3);
    let mut open = torus(4.0, 1.5, 24, 12);
    open.triangles.drain(40..75);
    let mut bowl = block(3.0, 3.0, 3.0);
    bowl.triangles.drain(2..4);
    let mut both = torus(4.0, 1.5, 24, 12);
    both.append(&bowl);
    let mut soup = Mesh::default();
    for _ in 0..40 {
        soup.append(&triangle(std::array::from_fn(|_| numbers.point(5.0))));
    }
    let closed = torus(4.0, 1.5, 24, 12);
    let mut spoilt = 0;
    for mesh in [&open, &bowl, &both, &soup, &closed] {
        let body = solid(mesh);
        for k in 0..4_000 {
            let mut point = numbers.point(6.0);
            if k % 4 == 0 {
                // On planes of symmetry, in line with corners and edges.
                point = point.map(|c| c.round() / 2.0);
            }
            if nearest_point(&body, &point, 1e-6).unwrap().is_some() {
                continue;
            }
            let Ok(found) = winding_number(&body, &point) else {
                spoilt += 1;
                continue;
            };
            let expected = summed(mesh, &point);
            assert!((found - expected).abs() < 1e-9, "{point}: {found} {expected}");
        }
    }
    assert!(spoilt < 100, "{spoilt} of 20,000 points next to a border");
}

#[test]
fn the_inside_test_agrees_with_formulas() {
    let mut numbers = Numbers::new(4);
    let (ring, bar) = (solid(&torus(4.0, 1.5, 200, 100)), solid(&block(1.0, 2.0, 3.0)));
    for _ in 0..20_000 {
        let p = numbers.point(6.0);
        let tube = (p.x.hypot(p.y) - 4.0).hypot(p.z);
        // The chords cut at most 0.002 off.
        if (tube - 1.5).abs() > 0.003 {
            let expected = if tube < 1.5 { Location::Inside } else { Location::Outside };
            assert_eq!(locate(&ring, &p), expected, "{p}");
        }
        let p = p.map(|c| (c * 2.0).round() / 2.0);
        let (x, y, z) = (p.x.abs(), p.y.abs(), p.z.abs());
        let expected = if x > 1.0 || y > 2.0 || z > 3.0 {
            Location::Outside
        } else if x < 1.0 && y < 2.0 && z < 3.0 {
            Location::Inside
        } else {
            Location::OnSurface
        };
        assert_eq!(locate(&bar, &p), expected, "{p}");
    }
}
