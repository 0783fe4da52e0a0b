use super::*;
use crate::chance::Chance;
use crate::synthetic::{self, Car};
use nalgebra::{Translation3, UnitQuaternion, Vector3};

fn nudge(seed: u64, shift: f64, turn: f64) -> Isometry3<f64> {
    let mut chance = Chance::new(seed);
    let mut some = |most: f64| Vector3::from([(); 3].map(|()| most * chance.either_way()));
    Isometry3::from_parts(Translation3::from(some(shift)), UnitQuaternion::new(some(turn)))
}

/// Shots from around the car top, each in a frame and a unit of its own, with floaters; and where each
/// frame lies in the truth.
fn shots(car: Car, seed: u64, unit: ScanUnit) -> (Vec<Given>, Isometry3<f64>) {
    let eyes = [(500.0, 300.0), (-200.0, 620.0), (-600.0, -100.0), (150.0, -650.0)];
    let first_from_truth = synthetic::pose(seed);
    let given = eyes.iter().zip(0..).map(|((x, y), i)| {
        let eye = Point3::new(*x, *y, 1250.0);
        let own_from_truth = if i == 0 { first_from_truth } else { synthetic::pose(seed + 10 * i) };
        let mut points = synthetic::from_eye(car, &eye, 0.3, 150_000, seed * 7 + i);
        let mut chance = Chance::new(i);
        points.extend((0..50).map(|_| {
            Point3::new(
                300.0 * chance.either_way(),
                300.0 * chance.either_way(),
                350.0 + 200.0 * chance.share(),
            )
        }));
        let shot = Shot {
            name: format!("view {i}"),
            points: points.iter().map(|p| (own_from_truth * p) / unit.mm()).collect(),
            seen_from: Some((own_from_truth * eye) / unit.mm()),
            ..Shot::default()
        };
        let truth = first_from_truth * own_from_truth.inverse();
        // The start is off about the car top's middle.
        let pivot = Translation3::from((first_from_truth * Point3::origin()).coords);
        let off = pivot * nudge(seed + i, 8.0, 0.015) * pivot.inverse();
        let start = (i > 0).then_some(Start { first_from_second: off * truth, within: 20.0 });
        Given { shot, unit: (i > 0).then_some(unit), start }
    });
    (given.collect(), first_from_truth)
}

#[test]
fn four_views_come_onto_the_plate() {
    for (seed, car, unit) in
        [(1, Car::round(), ScanUnit::Metre), (2, Car::straight(), ScanUnit::Millimetre)]
    {
        let (given, first_from_truth) = shots(car, seed, unit);
        let ready = prepare(&given, LengthUnit::Millimetre).unwrap();
        for f in &ready.findings {
            println!("{:?}: {}", f.confidence, f.because);
        }
        // The plate is level, at height 0, within 0.1 mm at its edge; the first shot's frame tells.
        let frame = ready.plate.plate_from_scan * first_from_truth;
        for i in 0..36 {
            let turn = f64::from(i) * 10.0_f64.to_radians();
            let p = frame * Point3::new(250.0 * turn.cos(), 250.0 * turn.sin(), 0.0);
            assert!(p.z.abs() < 0.1, "{p}");
        }
        assert!((0.28..0.32).contains(&ready.sigma), "{}", ready.sigma);
        assert!(ready.findings.iter().all(|f| f.confidence > Confidence::Doubtful));
        assert_eq!(ready.units, vec![unit; 4]);
        // Every point is a point of the car top's surface within the deviation, most of the time: the
        // level faces at known heights tell.
        let mut worst: Vec<f64> = Vec::new();
        for shot in &ready.shots {
            for p in &shot.points {
                let q = frame.inverse_transform_point(p);
                if (q.z - 28.0).abs() < 5.0
                    && (q - Point3::new(-150.0, 0.0, 28.0)).xy().norm() < 70.0
                    && (q - Point3::new(-150.0, 0.0, 28.0)).xy().norm() > 45.0
                {
                    worst.push((q.z - 28.0).abs());
                }
            }
        }
        let beyond = worst.iter().filter(|d| **d > ready.deviation).count();
        assert!(worst.len() > 1000 && 100 * beyond < worst.len(), "{beyond} of {}", worst.len());
        assert!(ready.dropped.iter().all(|d| d.lone + d.in_islands >= 45));
        if seed == 1 {
            assert_eq!(Ok(ready), prepare(&given, LengthUnit::Millimetre));
        }
    }
}

#[test]
fn what_is_said_to_be_in_one_frame_is_held_against_it() {
    let (mut given, _) = shots(Car::round(), 5, ScanUnit::Millimetre);
    given.truncate(2);
    // The second's true pose, as a scanner's program would have applied it; then off by 6 mm.
    let exact = prepare(&given, LengthUnit::Millimetre).unwrap();
    let pose = exact.registrations[1].as_ref().unwrap().first_from_second;
    for (off, doubt) in [(0.0, false), (6.0, true)] {
        let mut here = given.clone();
        let pose = Translation3::new(off, 0.0, 0.0) * pose;
        let second = &mut here[1];
        for p in second.shot.points.iter_mut().chain(&mut second.shot.seen_from) {
            *p = pose * *p;
        }
        second.start = None;
        let ready = prepare(&here, LengthUnit::Millimetre).unwrap();
        let doubts = ready.findings.iter().any(|f| f.confidence == Confidence::Doubtful);
        assert_eq!(doubts, doubt, "{:?}", ready.findings);
        assert!(ready.deviation > 0.9 + off, "{}", ready.deviation);
    }
}

#[test]
fn what_cannot_be_used_says_why() {
    let unit = LengthUnit::Millimetre;
    assert_eq!(prepare(&[], unit), Err(Unprepared::Nothing));
    let given = |points: Vec<Point3<f64>>, unit| Given {
        shot: Shot { name: "a".to_owned(), points, ..Shot::default() },
        unit,
        start: None,
    };
    let none = prepare(&[given(vec![], None)], unit);
    assert!(matches!(none, Err(Unprepared::NoUnit { .. })), "{none:?}");
    let empty = prepare(&[given(vec![], Some(ScanUnit::Millimetre))], unit);
    assert_eq!(empty, Err(Unprepared::Empty("a".to_owned())));
    let nan =
        prepare(&[given(vec![Point3::new(f64::NAN, 0.0, 0.0); 9], Some(ScanUnit::Metre))], unit);
    assert_eq!(nan, Err(Unprepared::Empty("a".to_owned())));
    let mut chance = Chance::new(1);
    let cloud: Vec<_> =
        (0..5000).map(|_| Point3::from([(); 3].map(|()| 400.0 * chance.either_way()))).collect();
    assert!(matches!(prepare(&[given(cloud, None)], unit), Err(Unprepared::NoPlate(_))));
    // A shot of another place.
    let (mut two, _) = shots(Car::round(), 3, ScanUnit::Millimetre);
    two.truncate(2);
    for p in &mut two[1].shot.points {
        *p += Vector3::new(900.0, 0.0, 0.0);
    }
    let found = prepare(&two, unit);
    assert!(
        matches!(found, Err(Unprepared::Unregistered { .. })),
        "{:?}",
        found.map(|r| r.findings)
    );
}
