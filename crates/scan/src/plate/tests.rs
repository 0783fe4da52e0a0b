use super::*;
use crate::synthetic::{self, Car};
use proptest::prelude::*;

/// How far a plane is off the true one at the plate's edge, mm: the worst over its rim.
fn off_at_edge(plate: &Plate, scan_from_truth: &Isometry3<f64>, radius: f64) -> f64 {
    let at = |i: i32| {
        let turn = f64::from(i) / 36.0 * TAU;
        let rim = Point3::new(radius * turn.cos(), radius * turn.sin(), 0.0);
        (plate.plate_from_scan * (scan_from_truth * rim)).z.abs()
    };
    (0..36).map(at).fold(0.0, f64::max)
}

#[test]
fn the_plane_is_met_within_a_tenth_at_the_edge() {
    for (seed, car) in [(1, Car::round()), (2, Car::straight()), (3, Car::round())] {
        let pose = synthetic::pose(seed);
        let (points, eyes) = synthetic::seen(car, 0.3, 200_000, seed, &pose);
        let plate = find_plate(&points, &eyes, 2.0).unwrap();
        let off = off_at_edge(&plate, &pose, 250.0);
        assert!(off < 0.1, "{off} {plate:?}");
        let up = plate.plate_from_scan * (pose * Vector3::z());
        assert!(up.z > 0.999_99, "{up} {plate:?}");
        // Points scatter along the ray, which is 20 to 30 degrees from upright.
        assert!((0.25..0.3).contains(&plate.sigma), "{plate:?}");
        assert!(plate.at_edge < 0.1 && off < plate.at_edge + 0.02, "{off} {plate:?}");
        assert_eq!(plate.up.confidence, Confidence::Sure, "{plate:?}");
        assert_eq!(plate.plane.confidence, Confidence::Likely, "{plate:?}");
        // Without eyes the same plane, less surely.
        let blind = find_plate(&points, &[], 2.0).unwrap();
        assert!(off_at_edge(&blind, &pose, 250.0) < 0.1, "{blind:?}");
        assert!(blind.up.confidence < Confidence::Sure);
        assert!((blind.plate_from_scan * (pose * Vector3::z())).z > 0.999_99);
    }
}

#[test]
fn an_open_lid_and_a_walkway_are_not_the_plate() {
    for seed in 0..4 {
        let car = Car { around: true, ..Car::straight() };
        let pose = synthetic::pose(100 + seed);
        let (points, eyes) = synthetic::seen(car, 0.3, 200_000, seed, &pose);
        let plate = find_plate(&points, &eyes, 2.5).unwrap();
        let off = off_at_edge(&plate, &pose, 250.0);
        assert!(off < 0.1, "{seed}: {off} {plate:?}");
    }
}

#[test]
fn a_bare_plane_a_ball_and_nothing_are_no_plate() {
    assert_eq!(find_plate(&[], &[], 1.0), Err(NoPlate::TooFew(0)));
    assert_eq!(find_plate(&vec![Point3::origin(); 500], &[], 1.0), Err(NoPlate::TooFew(1)));
    let mut chance = Chance::new(4);
    let flat: Vec<Point3<f64>> = (0..50_000)
        .map(|_| {
            Point3::new(
                300.0 * chance.either_way(),
                300.0 * chance.either_way(),
                0.3 * chance.either_way(),
            )
        })
        .collect();
    assert_eq!(find_plate(&flat, &[], 2.0), Err(NoPlate::NoWall));
    let ball: Vec<Point3<f64>> = (0..50_000)
        .map(|_| {
            let d = Vector3::from([(); 3].map(|()| chance.either_way()));
            Point3::from(d.normalize() * 300.0)
        })
        .collect();
    assert!(find_plate(&ball, &[], 2.0).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the points, there is an answer or a reason, the same each time.
    #[test]
    fn any_points_give_an_answer(
        seed in any::<u64>(),
        count in 0_usize..3000,
        squash in prop::array::uniform3(prop_oneof![Just(0.0), Just(1.0), Just(300.0), Just(1e8)]),
        eyes in prop::collection::vec((-1e3..1e3, -1e3..1e3, -1e3..1e3), 0..4),
        spacing in prop_oneof![Just(0.0), 0.1..50.0],
    ) {
        let mut chance = Chance::new(seed);
        let points: Vec<Point3<f64>> = (0..count)
            .map(|_| Point3::from([0, 1, 2].map(|i| squash[i] * chance.either_way())))
            .collect();
        let eyes: Vec<Point3<f64>> = eyes.into_iter().map(|(x, y, z)| Point3::new(x, y, z)).collect();
        let found = find_plate(&points, &eyes, spacing);
        prop_assert_eq!(&found, &find_plate(&points, &eyes, spacing));
        if let Ok(plate) = found {
            prop_assert!(plate.sigma.is_finite() && plate.radius.is_finite());
            prop_assert!(plate.plate_from_scan.to_homogeneous().iter().all(|v| v.is_finite()));
        }
    }
}
