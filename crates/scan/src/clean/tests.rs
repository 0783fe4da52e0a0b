use super::*;
use crate::chance::Chance;
use proptest::prelude::*;

/// A level floor of 200 by 200 mm with a pillar on it, a point about each square millimetre.
fn scene(seed: u64, noise: f64) -> Vec<Point3<f64>> {
    let mut chance = Chance::new(seed);
    let mut points = Vec::new();
    for i in 0..200 {
        for j in 0..200 {
            points.push(Point3::new(f64::from(i), f64::from(j), 0.0));
        }
    }
    for i in 0..150 {
        for j in 0..60 {
            let turn = f64::from(i) / 150.0 * std::f64::consts::TAU;
            points.push(Point3::new(
                100.0 + 24.0 * turn.cos(),
                100.0 + 24.0 * turn.sin(),
                f64::from(j),
            ));
        }
    }
    for p in &mut points {
        for c in p.iter_mut() {
            *c += noise * chance.either_way();
        }
    }
    points
}

fn shot(points: Vec<Point3<f64>>) -> Shot {
    Shot { name: "s".to_owned(), points, ..Shot::default() }
}

#[test]
fn floaters_twins_and_what_is_no_number_go_and_the_scene_stays() {
    let mut points = scene(1, 0.3);
    let good = points.len();
    let mut chance = Chance::new(2);
    let floaters: Vec<Point3<f64>> = (0..200)
        .map(|_| {
            Point3::new(
                200.0 * chance.share(),
                200.0 * chance.share(),
                80.0 + 200.0 * chance.share(),
            )
        })
        .collect();
    points.extend(&floaters);
    // An island of twenty within 4 mm, 60 mm over the floor.
    points.extend((0..20).map(|i| Point3::new(20.0 + 0.2 * f64::from(i), 20.0, 60.0)));
    points.extend(vec![Point3::new(5.5, f64::NAN, 0.0), Point3::new(f64::INFINITY, 0.0, 0.0)]);
    points.extend_from_within(0..500);
    let cleaned = clean(&shot(points));
    let dropped = &cleaned.dropped;
    assert_eq!((dropped.not_numbers, dropped.twins), (2, 500));
    // Floaters are 20 mm or more from the floor; a point of the scene is never more than a few
    // spacings from another.
    let kept = cleaned.shot.points.iter().filter(|p| p.z > 70.0).count();
    assert_eq!(kept, 0);
    assert!(!cleaned.shot.points.iter().any(|p| p.z > 59.9 && p.x < 30.0));
    assert!(cleaned.shot.points.len() + 40 > good, "{dropped:?}");
    assert_eq!(cleaned.shot.astray.len(), dropped.lone + dropped.in_islands);
    assert!((0.8..1.2).contains(&cleaned.spacing), "{}", cleaned.spacing);
    assert_eq!(dropped.told().len(), 4, "{:?}", dropped.told());
}

#[test]
fn what_is_seen_sparsely_stays() {
    // The far half of the floor is seen with a point each 5 mm only.
    let mut points = scene(3, 0.1);
    for i in 0..40 {
        for j in 0..40 {
            points.push(Point3::new(203.0 + 5.0 * f64::from(i), 5.0 * f64::from(j), 0.0));
        }
    }
    let cleaned = clean(&shot(points));
    assert!(cleaned.dropped.lone < 10, "{:?}", cleaned.dropped.told());
}

#[test]
fn triangles_keep_their_corners() {
    // A soup: each triangle with corners of its own, one with a corner far away.
    let mut points = Vec::new();
    for i in 0..40 {
        for j in 0..40 {
            let (x, y) = (f64::from(i), f64::from(j));
            let [a, b, c, d] = [(x, y), (x + 1.0, y), (x + 1.0, y + 1.0), (x, y + 1.0)]
                .map(|(x, y)| Point3::new(x, y, 0.0));
            points.extend([a, b, c, a, c, d]);
        }
    }
    points.extend([
        Point3::new(3.0, 3.0, 0.0),
        Point3::new(4.0, 3.0, 0.0),
        Point3::new(3.0, 3.0, 90.0),
    ]);
    let count = u32::try_from(points.len()).unwrap();
    let triangles = (0..count / 3).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
    let cleaned = clean(&Shot { triangles, ..shot(points) });
    assert_eq!(cleaned.shot.points.len(), 41 * 41);
    assert_eq!(cleaned.shot.triangles.len(), 2 * 40 * 40);
    for [a, b, c] in &cleaned.shot.triangles {
        let [a, b, c] = [a, b, c].map(|v| cleaned.shot.points[*v as usize]);
        assert!(((b - a).cross(&(c - a)).z - 1.0).abs() < 1e-12);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Every point given is kept, or counted once as left out; the answer is the same each time.
    #[test]
    fn nothing_is_lost_unsaid(
        points in prop::collection::vec(
            (prop_oneof![-3.0..3.0, Just(0.0), Just(f64::NAN), Just(1e300)], -3.0..3.0, prop_oneof![Just(0.0), -1e9..1e9]),
            0..300,
        ),
        corners in prop::collection::vec((0_u32..320, 0_u32..320, 0_u32..320), 0..50),
    ) {
        let points: Vec<_> = points.into_iter().map(|(x, y, z)| Point3::new(x, y, z)).collect();
        let given = points.len();
        let triangles = corners.into_iter().map(|(a, b, c)| [a, b, c]).collect();
        let shot = Shot { triangles, ..shot(points) };
        let cleaned = clean(&shot);
        let d = &cleaned.dropped;
        prop_assert_eq!(cleaned.shot.points.len() + d.not_numbers + d.twins + d.lone + d.in_islands, given);
        prop_assert_eq!(cleaned.shot.astray.len(), d.lone + d.in_islands);
        let kept = cleaned.shot.points.len();
        prop_assert!(cleaned.shot.triangles.iter().flatten().all(|v| (*v as usize) < kept));
        prop_assert_eq!(&cleaned, &clean(&shot));
    }
}
